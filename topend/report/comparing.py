"""Heads side by side: the ranking, each head over gap and speed, and the front of squish velocity against running clearance."""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from topend.errors import AssemblyError, FitError, MissingInputError
from topend.evaluation import evaluate
from topend.quantities import Output
from topend.report.answer import Answer
from topend.report.cautions import CAUTIONS
from topend.report.layout import columns, heading, labelled, paragraph
from topend.report.sections import COMPARED
from topend.report.wanted import said, with_unit
from topend.solve.compare import FRONT, SHOWN, Comparison
from topend.solve.knock_ranking import Ranked as Knock
from topend.solve.knock_ranking import rank_by_knock

__all__ = ["CompareReport"]

#: Draws of what the closed cycle is not told; they settle the ends of a margin to about a hundredth.
KNOCK_DRAWS: Final = 200
#: Heads of columns that are too long for a page.
_SHORT: Final = {
    "squish_velocity_peak": "velocity",
    "running_clearance": "clearance",
    "compression_ratio": "ratio",
    "trapped_compression_ratio": "trapped ratio",
}


@dataclass(frozen=True)
class CompareReport(Answer):
    """A `Comparison` as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `found` the answer of `compare`; `at_least` and `at_most` as asked; `title`, `file` and `packs` as on a card.
    """

    found: Comparison = field(repr=False)
    at_least: Mapping[str, Any] = field(default_factory=dict)
    at_most: Mapping[str, Any] = field(default_factory=dict)
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    @property
    def knock(self) -> tuple[Knock, ...]:
        """The heads by knock margin at equal work, each at the gap of its rank, at the lowest speed, where knock has most time.

        Empty where no burn is stated. A head that cannot be put together at that gap, or whose cycle cannot be had, is left out.
        """
        return self._by_knock[0]

    @functools.cached_property
    def _by_knock(self) -> tuple[tuple[Knock, ...], dict[str, str]]:
        """The heads in order, and why others are left out, by name."""
        found = self.found
        if found.top is None or found.top.burn is None:
            return (), {}
        tops, left = {}, {}
        for one in found.ranked:
            name = found.names[one.head]
            try:
                top = found.top_end(one.head, one.gap, _slowest(found))
                evaluate(top, ["knock_margin"])
            except (AssemblyError, FitError, MissingInputError) as error:
                left[name] = str(error).removeprefix(f"{name}: ")
            else:
                tops[name] = top
        return tuple(rank_by_knock(tops, draws=KNOCK_DRAWS)) if tops else (), left

    def to_dict(self) -> dict[str, Any]:
        """The comparison as plain data: `heads`, `gaps` and `speeds`, `values[name][head][gap][speed]`, `ranked`, `front`, `knock`."""
        found = self.found
        known = found.known
        return {
            **self.whose(),
            "asked": {
                "aims": {name: [said(one) for one in aim] if not isinstance(aim, str) else aim for name, aim in found.aims.items()},
                "at_least": {name: said(value) for name, value in self.at_least.items()},
                "at_most": {name: said(value) for name, value in self.at_most.items()},
                "gaps_set_by": found.by,
            },
            "heads": list(found.names),
            "gaps": {"values": [_number(gap) for gap in found.gaps], "unit": "mm"},
            "speeds": {"values": [_number(speed) for speed in found.speeds], "unit": "rpm"},
            "values": {
                name: {"unit": known[name].unit, "values": [[[_number(one) for one in row] for row in head] for head in column.tolist()]}
                for name, column in found.values.items()
            },
            "ranked": [
                {
                    "rank": one.rank,
                    "head": one.head,
                    "name": found.names[one.head],
                    "gap": _number(found.gaps[one.gap]),
                    "score": _number(one.score),
                    "values": {name: [_number(value) for value in values] for name, values in one.values.items()},
                    "why": one.why,
                }
                for one in found.ranked
            ],
            "front": [{"head": head, "name": found.names[head], "gap": _number(found.gaps[gap])} for head, gap in found.front],
            "knock": [
                {
                    "name": one.name,
                    "spark": {"value": one.spark, "unit": "deg"},
                    "knock_margin": _number(one.knock_margin),
                    "low": _number(one.low),
                    "high": _number(one.high),
                    "best": one.best,
                    "peak_pressure": {"value": _number(one.peak_pressure), "unit": "bar"},
                    "trapped_compression_ratio": _number(one.trapped_compression_ratio),
                    "octane": one.octane,
                    "findings": [finding.code for finding in one.findings],
                }
                for one in self.knock
            ],
            "notes": list(found.notes),
            "cautions": list(CAUTIONS),
        }

    @functools.cached_property
    def text(self) -> str:
        """The comparison in plain text for 80 columns."""
        found = self.found
        lines = self.title_lines("HEADS COMPARED")
        lines += heading("Asked") + labelled(self._asked_rows())
        lines += [line for note in found.notes for line in paragraph(note, first="  note: ")]
        where = "each at the gap that serves it best" if len(found.gaps) > 1 else "each at the gap that its gaskets leave"
        if len(found.gaps) == 1 and not math.isnan(found.gaps[0]):
            where = "at the gap that is asked"
        lines += heading(f"Ranked, {where}") + self._ranked_lines()
        if len(found.gaps) > 1 or len(found.speeds) > 1:
            for number, name in enumerate(found.names):
                lines += heading(f"{name}") + self._head_lines(number)
        if found.front:
            lines += heading("Front of squish velocity against running clearance") + self._front_lines()
        if any(self._by_knock):
            lines += heading("By knock margin, at equal work") + self._knock_lines()
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)

    def _asked_rows(self) -> list[tuple[str, str]]:
        rows = []
        for name, aim in self.found.aims.items():
            rows.append((name, aim if isinstance(aim, str) else f"{with_unit(name, aim[0])} ± {said(aim[1])}"))
        rows += [(name, f"at least {with_unit(name, value)}") for name, value in self.at_least.items()]
        rows += [(name, f"at most {with_unit(name, value)}") for name, value in self.at_most.items()]
        if not math.isnan(self.found.gaps[0]):
            stack = "base stack" if self.found.by == "base" else "head gaskets"
            rows.append(("gaps", f"{', '.join(f'{gap:.2f}' for gap in self.found.gaps)} mm at the band's edge, set with the {stack}"))
        if not math.isnan(self.found.speeds[0]):
            rows.append(("speeds", f"{', '.join(f'{speed:.0f}' for speed in self.found.speeds)} rpm; the worst counts"))
        return rows

    def _ranked_lines(self) -> list[str]:
        found = self.found
        wanted = [name for name in (*found.aims, *self.at_least, *self.at_most) if name in found.values]
        names = list(dict.fromkeys([*wanted, *(name for name in SHOWN if name in found.values)]))
        lines = []
        for one in found.ranked:
            gap = found.gaps[one.gap]
            at = "" if math.isnan(gap) else f", gap {gap:.2f} mm"
            lines += paragraph(f"{found.names[one.head]}{at}", first=f"  {'–' if one.rank is None else one.rank:>2}. ")
            if one.why:
                lines += paragraph(f"keeps not every limit: {one.why}", first="      ")
            rows = [
                (f"      {name}", _span(one.values[name], found.known[name]))
                for name in names
                if not all(map(math.isnan, one.values[name]))
            ]
            lines += columns(rows, indent="")
        return lines

    def _head_lines(self, head: int) -> list[str]:
        """One row a gap and speed."""
        found = self.found
        names = [name for name in SHOWN if name in found.values and name != "squish_area_ratio"][:5]
        short = [_SHORT.get(name, name.replace("_", " ")) for name in names]
        units = [found.known[name].unit.replace("–", "") for name in names]
        rows = [["gap", "speed", *short], ["mm", "rpm", *units]]
        for gap, speed in ((g, s) for g in range(len(found.gaps)) for s in range(len(found.speeds))):
            told = [f"{found.gaps[gap]:.2f}" if not math.isnan(found.gaps[gap]) else "", f"{found.speeds[speed]:.0f}"]
            why = found.reason(head, gap, speed)
            if why:
                rows.append([*told, "–", *["" for _ in names[1:]]])
            else:
                rows.append([*told, *(f"{found.values[name][head, gap, speed]:.{found.known[name].decimals}f}" for name in names)])
        lines = columns(rows, right=range(len(rows[0])), last=False)
        whys = dict.fromkeys(found.reason(head, g, s) for g in range(len(found.gaps)) for s in range(len(found.speeds)))
        return lines + [line for why in whys if why for line in paragraph(f"–  {why}", first="  ")]

    def _front_lines(self) -> list[str]:
        found = self.found
        at = _fastest(found)
        rows = [["head", "gap", *FRONT]]
        for head, gap in found.front:
            shown = "" if math.isnan(found.gaps[gap]) else f"{found.gaps[gap]:.2f}"
            rows.append(
                [found.names[head], shown, *(f"{found.values[name][head, gap, at]:.{found.known[name].decimals}f}" for name in FRONT)]
            )
        what = f"At {found.speeds[at]:.0f} rpm: no other point has both more squish velocity and more clearance."
        return paragraph(what, first="  ") + columns(rows, right=[1, 2, 3], last=False)

    def _knock_lines(self) -> list[str]:
        left = [line for name, why in self._by_knock[1].items() for line in paragraph(f"{name} is left out: {why}", first="  ")]
        if not self.knock:
            return left
        speed = self.found.speeds[_slowest(self.found)]
        what = (
            f"At {speed:.0f} rpm and the gap of its rank, each head with the spark that gives all of them the same work; 95 of 100 "
            "draws of what is not known lie between low and high; best: share of the draws in which it is furthest from knock."
        )
        rows = [["head", "spark", "margin", "low", "high", "best", "peak", "trapped ratio"]]
        for one in self.knock:
            if one.spark is None:
                rows.append([one.name, "–", *["" for _ in rows[0][2:]]])
                continue
            figures = [f"{value:.2f}" for value in (one.knock_margin, one.low, one.high)]
            more = [f"{one.best:.0%}", f"{one.peak_pressure:.1f} bar", f"{one.trapped_compression_ratio:.2f}"]
            rows.append([one.name, f"{one.spark:.1f} deg", *figures, *more])
        lines = paragraph(what, first="  ") + columns(rows, right=range(1, 8), last=False)
        for told in dict.fromkeys(finding.message for one in self.knock for finding in one.findings):
            lines += paragraph(f"! {told}: the margins are extrapolations", first="  ")
        if any(one.spark is None for one in self.knock):
            lines += paragraph("–  no spark within 25 deg of the stated one gives that work", first="  ")
        return lines + left + paragraph(COMPARED, first="  ")


def _slowest(found: Comparison) -> int:
    return min(range(len(found.speeds)), key=lambda at: found.speeds[at])


def _fastest(found: Comparison) -> int:
    return max(range(len(found.speeds)), key=lambda at: found.speeds[at])


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def _span(values: tuple[float, ...], made: Output) -> str:
    known = [value for value in values if not math.isnan(value)]
    unit = made.unit
    low, high = f"{min(known):.{made.decimals}f}", f"{max(known):.{made.decimals}f}"
    return (low if low == high else f"{low} to {high}") + ("" if unit == "–" else f" {unit}")
