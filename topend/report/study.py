"""A study on a page: what was varied, how many rows there are and were kept, the spread of each figure, and the best rows."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from topend.report.cautions import CAUTIONS
from topend.report.finding_words import code_of
from topend.report.layout import WIDTH, columns, heading, labelled, paragraph

if TYPE_CHECKING:
    from topend.study import Study
    from topend.study.folder import StudyFolder
    from topend.study.table import Summary, Table

__all__ = ["StudyReport"]


@dataclass(frozen=True)
class StudyReport:
    """A `Summary` as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `study` and its `summary`; `folder` where its rows were written, if they were; `title`, `file` and `packs` as
    on a card.
    """

    study: Study
    summary: Summary
    folder: StudyFolder | None = None
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """`axes`, `rows`, `kept`, `reasons`, `outputs`, `best_by`, `best`, `folder`, `cautions`, and where the job is from."""
        told = self.summary
        packs = {one.output.name: one.pack for one in self.study.top.extra_outputs}
        outputs = {
            name: {
                "least": spread.least,
                "greatest": spread.greatest,
                "mean": spread.mean,
                "count": spread.count,
                "unit": told.units[name],
                "decimals": told.decimals[name],
                **({"pack": packs[name]} if name in packs else {}),
            }
            for name, spread in told.outputs.items()
        }
        folder = self.folder
        return {
            "title": self.title,
            "file": self.file,
            "packs": list(self.packs),
            "axes": [axis.text for axis in self.study.axes],
            "sample": None if self.study.draws is None else {"draws": self.study.draws[0], "seed": self.study.draws[1]},
            "rows": told.rows,
            "kept": told.kept,
            "reasons": dict(told.reasons),
            "outputs": outputs,
            "best_by": told.aim,
            "best": self._best(),
            "folder": None if folder is None else {"path": str(folder.folder), "files": folder.files, "written": folder.written},
            "cautions": list(CAUTIONS),
        }

    def _best(self) -> list[dict[str, Any]]:
        best = self.summary.best
        if best is None:
            return []
        rows = []
        for place in range(len(best)):
            values: dict[str, Any] = {kind: column[place] for kind, column in best.parts.items()}
            for name, column in best.columns.items():
                number = float(column[place])
                values[name] = {"value": None if math.isnan(number) else number, "unit": best.units[name]}
            rows.append({"row": int(best.row[place]), **values})
        return rows

    def _first(self) -> list[str]:
        """What stands first: what was varied, the figure that rows are the best by, those that have limits, the other outputs."""
        aimed = [name for name in self.summary.outputs if name in (self.summary.aim or "").split()]
        varied = [name for axis in self.study.axes for name in (axis.kind, *(one.path for one in axis.together)) if name is not None]
        limited = [limit.name for limit in self.study.limits]
        return list(dict.fromkeys([*varied, *aimed, *limited, *self.summary.outputs]))

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)

    @property
    def text(self) -> str:
        """The page, for 80 columns."""
        told = self.summary
        lines = paragraph(self.title or "Study")
        if self.packs:
            lines += paragraph(f"parts from {', '.join(self.packs)}")
        lines += heading("Varied")
        varied = [(label, rest) for label, _, rest in (axis.text.rpartition(": ") for axis in self.study.axes)]
        if self.study.draws is not None:
            varied.append(("limits", f"{self.study.draws[0]} draws of every value that carries them, seed {self.study.draws[1]}"))
        lines += columns(varied) or ["  nothing: the one row of the job itself"]
        lines += heading("Rows")
        counts = [("in all", f"{told.rows}"), ("in order", f"{told.reasons.get('ok', 0)}")]
        counts += [(f"refused, {reason}", f"{count}") for reason, count in told.reasons.items() if reason != "ok"]
        if self.study.limits:
            counts.append(("kept, inside the limits", f"{told.kept}"))
        lines += columns(counts, right=[1])
        if self.folder is not None:
            lines += labelled([("in", f"{self.folder.folder}"), ("", _written(self.folder.files, self.folder.written))])
        same: list[tuple[str, str]] = []
        lines += heading("Figures over the rows kept" if self.study.limits else "Figures over the rows in order")
        if told.kept:
            rows: list[tuple[str, ...]] = [("", "least", "greatest", "mean", "")]
            for name, spread in told.outputs.items():
                ends = [_number(end, told.decimals[name]) for end in (spread.least, spread.greatest, spread.mean)]
                unit = "" if told.units[name] == "–" else told.units[name]
                if told.kept > 1 and len(set(ends)) == 1 and ends[0] != "-":
                    same.append((name, f"{ends[0]} {unit}".rstrip()))
                else:
                    rows.append((name, *ends, unit))
            if len(rows) > 1:
                lines += columns(rows, right=[1, 2, 3])
            lines += _same(same, "in every row")
            for one in self.study.top.extra_outputs:
                if one.output.name in told.outputs:
                    note = f"{one.output.name} is worked out by {code_of(one.pack, one.digest)}; not by topend itself."
                    lines += paragraph(note, first="  ")
        else:
            lines += ["  none: no row was kept"]
        if told.best is not None and len(told.best):
            known = [name for name, _ in same]
            lines += [*heading("Best rows"), f"  by {told.aim}:", "", *_best_lines(told.best, self._first(), known)]
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)


def _number(value: float | None, decimals: int) -> str:
    return "-" if value is None else f"{value:.{decimals}f}"


def _written(files: int, written: int) -> str:
    """How many files there are and how many of them are new.

    >>> _written(3, 1), _written(1, 1), _written(2, 0)
    ('3 files: 1 written now, the others were there', '1 file, written now', '2 files, there already')
    """
    many = f"{files} file{'' if files == 1 else 's'}"
    if written == files:
        return f"{many}, written now"
    return f"{many}: {written} written now, the others were there" if written else f"{many}, there already"


# --- the best rows, in columns that fit the page ---------------------------------------------------------------------

#: Letters of a heading's line: a longer name goes over to the next line after one of its points or underscores.
_HEADING: Final = 13


def _best_lines(best: Table, first: Sequence[str], told: Sequence[str]) -> list[str]:
    """The best rows: what stands `first`, then what else there is, such as what was drawn.

    What is the same in all of them is said once, and not again where it was `told` of every row.
    """
    number, *blocks = best.as_text()
    if len(best) == 1:
        return columns([(name, cell, unit) for name, unit, cell in (number, *blocks)], right=[1])
    held = {block[0]: block for block in blocks}
    order = dict.fromkeys(name for name in (*first, *held) if name in held)
    ordered = [held[name] for name in order]
    differ = [block for block in ordered if len(set(block[2:])) > 1]
    same = [(name, f"{cells[0]} {unit}".rstrip()) for name, unit, *cells in ordered if len(set(cells)) == 1 and name not in told]
    lines: list[str] = []
    for page in _pages([number, *differ]):
        lines += [*([""] if lines else []), *_page_lines(page)]
    return lines + _same(same, "in all of these rows")


def _same(same: Sequence[tuple[str, str]], where: str) -> list[str]:
    if not same:
        return []
    lines = [f"  The same {where}:"]
    for at, (name, value) in enumerate(same):
        # a name stays with its value
        told = f" {name} {value}{'.' if at == len(same) - 1 else ','}"
        if len(lines[-1]) + len(told) > WIDTH:
            lines.append("   ")
        lines[-1] += told
    return ["", *lines]


def _heading(name: str) -> list[str]:
    """A name in lines of at most `_HEADING` letters, as far as its points and underscores allow.

    >>> _heading("trapped_compression_ratio"), _heading("head.recess_offset"), _heading("blowdown")
    (['trapped_', 'compression_', 'ratio'], ['head.recess_', 'offset'], ['blowdown'])
    """
    made = [""]
    for piece in re.findall(r"[^._]+[._]?", name):
        if made[-1] and len(made[-1]) + len(piece) > _HEADING:
            made.append("")
        made[-1] += piece
    return made


def _width(block: Sequence[str]) -> int:
    name, *cells = block
    return max(map(len, [*_heading(name), *cells]))


def _pages(blocks: Sequence[list[str]]) -> list[list[list[str]]]:
    """Columns in groups that fit the page, each with the row numbers first."""
    number, *others = blocks
    pages = [[number]]
    used = begun = 2 + _width(number)
    for block in others:
        need = 2 + _width(block)
        if used + need > WIDTH and len(pages[-1]) > 1:
            pages.append([number])
            used = begun
        pages[-1].append(block)
        used += need
    return pages


def _page_lines(page: Sequence[list[str]]) -> list[str]:
    headings = [_heading(block[0]) for block in page]
    deep = max(map(len, headings))
    made = [[*([""] * (deep - len(head))), *head, *block[1:]] for head, block in zip(headings, page, strict=True)]
    widths = [_width(block) for block in page]
    lines = ["  " + "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in zip(*made, strict=True)]
    return [line.rstrip() for at, line in enumerate(lines) if at != deep or line.strip()]
