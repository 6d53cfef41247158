"""The answer of a gasket fit on a page: what was asked, the best stacks, how many there are; or the nearest and what fails."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from topend.checks import findings
from topend.parts import Gasket
from topend.quantities import Finding
from topend.report import words
from topend.report.answer import Answer
from topend.report.cautions import CAUTIONS
from topend.report.figures import Figure
from topend.report.finding_words import finding_dict, finding_lines
from topend.report.layout import WIDTH, columns, heading, labelled, paragraph
from topend.report.wanted import asked_dict, asked_rows, miss_dict, miss_lines
from topend.uncertainty import uncertainty

if TYPE_CHECKING:
    from topend.solve import Combination, Fit

__all__ = ["FitReport", "gasket_dict", "gaskets_words", "labels_of"]

#: Before the figures of a stack, where its number goes.
_INDENT: Final = "      "


@dataclass(frozen=True)
class FitReport(Answer):
    """A `Fit` as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `fit` the answer of `fit_gaskets`; `targets` {output: (value, tolerance)}, `at_least` and `at_most`
    {output: value} as they were asked, `least_gap` the floor (None: lifted); `title`, `file` and `packs` as on a card.
    """

    fit: Fit = field(repr=False)
    targets: Mapping[str, tuple[Any, Any]]
    at_least: Mapping[str, Any] = field(default_factory=dict)
    at_most: Mapping[str, Any] = field(default_factory=dict)
    least_gap: Any = None
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    @functools.cached_property
    def names(self) -> tuple[str, ...]:
        """The outputs shown of each stack: targets, limits, and the gap that the floor is held on."""
        shown = [*self.targets, *self.at_least, *self.at_most]
        records = [*self.fit.best, *([self.fit.nearest] if self.fit.nearest is not None else [])]
        if records and "squish_min" in records[0].result:
            shown.append("squish_min")
        elif records and "squish_edge" in records[0].result:
            shown.append("squish_edge")
        return tuple(dict.fromkeys(shown))

    @functools.cached_property
    def figures(self) -> tuple[dict[str, Figure], ...]:
        """The shown figures of each of the best, in order."""
        return tuple(self._figures(one) for one in self.fit.best)

    @functools.cached_property
    def findings(self) -> tuple[tuple[Finding, ...], ...]:
        """What is wrong or risky in each of the best, in order."""
        return tuple(tuple(findings(one.result)) for one in self.fit.best)

    def _figures(self, one: Combination) -> dict[str, Figure]:
        names = [name for name in self.names if name in one.result or one.top.outputs[name].when_named]
        return {name: Figure.of(made) for name, made in uncertainty(one.top, names).items()}

    # --- JSON ---

    def to_dict(self) -> dict[str, Any]:
        """The answer as plain data: `asked`, `best`, `considered`, `feasible`, `complete`, `nearest`, `misses`, `extra_gasket`,
        `notes`, `cautions`. Each of `best` has `head`, `base`, `head_gaskets`, `score`, `outputs`, `findings`."""
        fit = self.fit
        return {
            **self.whose(),
            "asked": asked_dict(self.targets, self.at_least, self.at_most, self.least_gap),
            "considered": fit.considered,
            "feasible": fit.feasible,
            "complete": fit.complete,
            "best": [
                {**self._stack_dict(one, figures), "findings": [finding_dict(told) for told in found]}
                for one, figures, found in zip(fit.best, self.figures, self.findings, strict=True)
            ],
            "nearest": None if fit.nearest is None else self._stack_dict(fit.nearest, self._figures(fit.nearest)),
            "misses": [miss_dict(one) for one in fit.misses],
            "extra_gasket": {role: {"interval": [_mm(end) for end in ends], "unit": "mm"} for role, ends in fit.extra_gasket.items()},
            "notes": list(fit.notes),
            "cautions": list(CAUTIONS),
        }

    def _stack_dict(self, one: Combination, figures: Mapping[str, Figure]) -> dict[str, Any]:
        return {
            "head": {"index": one.head_index, "name": None if one.head is None else one.head.name},
            "base": [gasket_dict(gasket) for gasket in one.base],
            "head_gaskets": [gasket_dict(gasket) for gasket in one.head_gaskets],
            "score": one.score,
            "outputs": {name: figure.to_dict() for name, figure in figures.items()},
        }

    # --- text ---

    @functools.cached_property
    def text(self) -> str:
        """The answer in plain text for 80 columns."""
        fit = self.fit
        lines = self.title_lines("GASKET FIT")
        lines += self._warning_lines()
        lines += heading("Asked") + self._asked_lines()
        lines += self._best_lines() if fit.best else self._nearest_lines()
        lines += _legend(fit.best or ([fit.nearest] if fit.nearest is not None else []))
        lines += heading("How sure") + self._count_lines()
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)

    def _asked_lines(self) -> list[str]:
        rows = asked_rows(self.targets, self.at_least, self.at_most, self.least_gap)
        return labelled(rows) + [line for note in self.fit.notes for line in paragraph(note, first="  note: ")]

    def _best_lines(self) -> list[str]:
        fit = self.fit
        many = len(fit.best)
        which = f"The {many} best of {fit.feasible} that fit" if many < fit.feasible else f"{_counted(many, 'stack')} that fit, best first"
        if many == fit.feasible == 1:
            which = "The one stack that fits"
        return heading(which) + self._table(list(zip(range(1, many + 1), fit.best, self.figures, strict=True)))

    def _nearest_lines(self) -> list[str]:
        fit = self.fit
        lines = heading("Nothing fits")
        if fit.nearest is None:
            lines += paragraph("No stack from this drawer can be assembled with these heads.", first="  ")
        else:
            lines += ["  The nearest is", *self._table([(1, fit.nearest, self._figures(fit.nearest))])]
        if fit.misses:
            lines.append("  What fails:")
            lines += miss_lines(fit.misses)
        for role, ends in fit.extra_gasket.items():
            low, high = (_mm(end) for end in ends)
            told = f"One more {role} gasket, {low:.3f} to {high:.3f} mm thick as fitted, would bring it in."
            lines += paragraph(told, first="  ")
        if fit.nearest is not None and not fit.extra_gasket:
            lines.append("  No single extra gasket would bring it in.")
        return lines

    def _count_lines(self) -> list[str]:
        fit = self.fit
        decided = "every one was decided, none skipped by guess" if fit.complete else "not all could be decided"
        told = f"{_counted(fit.considered, 'combination')} of head and gaskets considered: {decided}. {fit.feasible} fit."
        return paragraph(told, first="  ") + paragraph(
            "Score: the sum of (distance from target / tolerance) squared; 0 is on target.", first="  "
        )

    def _warning_lines(self) -> list[str]:
        """Findings of the best by kind: the worst of each in full, with the numbers of all that have it."""
        kinds: dict[tuple[str | None, str], list[tuple[int, Finding]]] = {}
        for number, found in enumerate(self.findings, start=1):
            for one in found:
                kinds.setdefault((one.pack, one.code), []).append((number, one))
        told = []
        for same in kinds.values():
            # what is worst lies farthest beyond its limit
            worst, finding = max(same, key=lambda one: abs((one[1].figure or 0.0) - (one[1].limit or 0.0)))
            who = f"no. {', '.join(str(number) for number, _ in same)}" if len(same) < len(self.fit.best) else "every stack here"
            if any(other.message != finding.message for _, other in same):
                who += f"; the worst, no. {worst}"
            told.append(dataclasses.replace(finding, message=f"{who}: {finding.message}" if len(self.fit.best) > 1 else finding.message))
        return finding_lines(told)

    def _table(self, records: Sequence[tuple[int, Combination, Mapping[str, Figure]]]) -> list[str]:
        """Under the column heads, a stack's figures, and on the line below them its head and gaskets; then which gasket is which."""
        heads = [*self.names, "score"]
        known = records[0][1].top.outputs
        units = [f"[{known[name].unit}]" if known[name].unit != "–" else "" for name in self.names] + [""]
        cells = [
            [figures[name].number if name in figures else "unknown" for name in self.names] + [f"{one.score:.3f}"]
            for _, one, figures in records
        ]
        widths = [max(len(text) for text in column) for column in zip(heads, units, *cells, strict=True)]
        rows = list(_broken(widths, WIDTH - len(_INDENT)))

        def laid(texts: Sequence[str], first: str = _INDENT) -> list[str]:
            made = [" " * len(_INDENT) + "  ".join(texts[at].rjust(widths[at]) for at in row).rstrip() for row in rows]
            return [first + line[len(first) :] if at == 0 else line for at, line in enumerate(made)]

        labels = labels_of(_gaskets([one for _, one, _ in records]))
        lines = [line for pair in zip(laid(heads), laid(units), strict=True) for line in pair if line.strip()]
        described: set[int] = set()
        for (number, one, _), texts in zip(records, cells, strict=True):
            lines += laid(texts, f"  {number:>2}. ")
            lines += paragraph(_stack_words(one, labels, again=one.head_index in described), first=_INDENT, rest=_INDENT + "  ")
            described.add(one.head_index)
        return lines


def _legend(records: Sequence[Combination]) -> list[str]:
    """Which gasket is which, and what each comes to when fitted."""
    rows = [
        (gasket.role, label if label.endswith(")") else _nominal(gasket), gasket.fitted.text, gasket.name or gasket.material or "")
        for gasket, label in labels_of(_gaskets(records)).items()
    ]
    if not rows:
        return []
    return heading("Gaskets in these stacks") + columns([("", "nominal", "fitted", ""), *sorted(rows)])


def _broken(widths: Sequence[int], room: int) -> Iterable[list[int]]:
    """Column numbers in rows that fit the page."""
    row: list[int] = []
    used = 0
    for at, width in enumerate(widths):
        if row and used + 2 + width > room:
            yield row
            row, used = [], 0
        used += width + (2 if row else 0)
        row.append(at)
    if row:
        yield row


def _gaskets(records: Iterable[Combination]) -> list[Gasket]:
    return [gasket for one in records for gasket in (*one.base, *one.head_gaskets)]


def labels_of(gaskets: Iterable[Gasket]) -> dict[Gasket, str]:
    """What each of these gaskets is called: its nominal thickness, and its name or place where two would be called alike."""
    used = list(dict.fromkeys(gaskets))
    made: dict[Gasket, str] = {}
    for gasket in used:
        alike = [other for other in used if other.role == gasket.role and _nominal(other) == _nominal(gasket)]
        more = gasket.name or gasket.material or f"no. {alike.index(gasket) + 1}"
        # millimetres are told once a stack
        made[gasket] = _nominal(gasket).removesuffix(" mm") if len(alike) == 1 else f"{_nominal(gasket)} ({more})"
    return made


def _nominal(gasket: Gasket) -> str:
    thickness = gasket.thickness
    decimals = thickness.decimals if thickness.decimals is not None else 3
    return f"{float(thickness.m_as(thickness.stated_unit)):.{decimals}f} {thickness.stated_unit}"


def _stack_words(one: Combination, labels: Mapping[Gasket, str], *, again: bool = False) -> str:
    """Head, base gaskets and head gaskets on a line, each stack with what it comes to; a head without a name is described once."""
    if one.head is None:
        head = "head as given"
    elif one.head.name:
        head = one.head.name
    else:
        head = f"head {one.head_index + 1}" + ("" if again else f" ({words.head_words(one.head)})")
    return f"{head}; base {gaskets_words(one.base, labels)}; head gasket {gaskets_words(one.head_gaskets, labels)}"


def gaskets_words(gaskets: Sequence[Gasket], labels: Mapping[Gasket, str], *, fitted: bool = True) -> str:
    """``2 x 0.30 + 0.50 mm (1.08 fitted)``: nominal as it is written on the drawer, and what they come to fitted, if that is asked."""
    if not gaskets:
        return "none"
    counted: dict[str, int] = {}
    for gasket in gaskets:
        counted[labels[gasket]] = counted.get(labels[gasket], 0) + 1
    told = " + ".join(label if count == 1 else f"{count} x {label}" for label, count in counted.items())
    if told[-1].isdigit():
        told += " mm"
    if not fitted:
        return told
    thickness = sum(gasket.fitted.si for gasket in gaskets) * 1e3
    same = len(gaskets) == 1 and gaskets[0].fitted.si == gaskets[0].thickness.si
    return told if same else f"{told} ({thickness:.2f} fitted)"


def gasket_dict(gasket: Gasket) -> dict[str, Any]:
    """A gasket as plain data: its name, nominal and fitted thickness."""
    return {
        "name": gasket.name,
        "thickness": {"value": gasket.thickness.m_as("mm"), "unit": "mm"},
        "fitted": {"value": gasket.fitted.m_as("mm"), "unit": "mm", "assumed": gasket.fitted_thickness is None},
    }


def _mm(value: Any) -> float:
    return float(value.m_as("mm")) if hasattr(value, "m_as") else float(value)


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" + ("" if count == 1 else "s")
