"""A study on a page: what was varied, how many rows there are and were kept, the spread of each figure, and the best rows."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from topend.report.cautions import CAUTIONS
from topend.report.layout import WIDTH, columns, heading, labelled, paragraph

if TYPE_CHECKING:
    from topend.study import Study
    from topend.study.folder import StudyFolder
    from topend.study.table import Summary

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
        outputs = {
            name: {
                "least": spread.least,
                "greatest": spread.greatest,
                "mean": spread.mean,
                "count": spread.count,
                "unit": told.units[name],
                "decimals": told.decimals[name],
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
            new = f"{self.folder.written} of {self.folder.files} files written now, the others were there"
            lines += labelled([("in", f"{self.folder.folder}"), ("", new)])
        lines += heading("Figures over the rows kept" if self.study.limits else "Figures over the rows in order")
        if told.kept:
            rows: list[tuple[str, ...]] = [("", "least", "greatest", "mean", "")]
            for name, spread in told.outputs.items():
                ends = [_number(end, told.decimals[name]) for end in (spread.least, spread.greatest, spread.mean)]
                rows.append((name, *ends, "" if told.units[name] == "–" else told.units[name]))
            lines += columns(rows, right=[1, 2, 3])
        else:
            lines += ["  none: no row was kept"]
        if told.best is not None and len(told.best):
            lines += [*heading("Best rows"), f"  by {told.aim}:", ""]
            lines += [f"  {line}".rstrip() for line in told.best.lines(shown=len(told.best), width=WIDTH - 2)]
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)


def _number(value: float | None, decimals: int) -> str:
    return "-" if value is None else f"{value:.{decimals}f}"
