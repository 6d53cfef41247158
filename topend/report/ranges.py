"""The answer of a range plan: what to make, what to put in each box, how sure that is, and which builds are left out and why."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from topend.evaluation import input_unit
from topend.report.answer import Answer
from topend.report.cautions import CAUTIONS
from topend.report.fitting import gasket_dict, gaskets_words, labels_of
from topend.report.layout import columns, heading, labelled, paragraph
from topend.report.wanted import asked_dict, asked_rows, miss_dict, miss_lines
from topend.solve.plan_range import LeftOut, RangePlan

__all__ = ["RangeReport"]

#: Builds left out that are told one by one in the text; JSON has all that the plan names.
_TOLD: Final = 8


@dataclass(frozen=True)
class RangeReport(Answer):
    """A `RangePlan` as `text` for people, `to_dict` and `json` for programs.

    Parameters: `plan` the answer of `plan_range`; `targets`, `at_least`, `at_most`, `least_gap` as asked of all families; `title`,
    `file` and `packs` as on a card.
    """

    plan: RangePlan = field(repr=False)
    targets: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    at_least: Mapping[str, Any] = field(default_factory=dict)
    at_most: Mapping[str, Any] = field(default_factory=dict)
    least_gap: Any = None
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The plan as plain data."""
        plan = self.plan
        return {
            **self.whose(),
            "asked": {**asked_dict(self.targets, self.at_least, self.at_most, self.least_gap), "coverage": plan.wanted},
            "variants": [
                {
                    "name": one.name,
                    "families": list(one.families),
                    "base": [gasket_dict(gasket) for gasket in one.base],
                    "head_gaskets": [gasket_dict(gasket) for gasket in one.head_gaskets],
                    "builds": one.builds,
                }
                for one in plan.variants
            ],
            "gaskets": plan.gaskets,
            "gap": plan.gap,
            "builds": plan.builds,
            "covered": plan.covered,
            "reachable": plan.reachable,
            "by_family": {name: {"covered": inside, "builds": all_} for name, (inside, all_) in plan.by_family.items()},
            "confirmed": {"builds": plan.fresh, "inside": plan.confirmed, "interval": list(plan.interval), "confidence": 0.95},
            "left_out": [_left_dict(one) for one in plan.left_out],
            "seconds": round(plan.seconds, 1),
            "notes": list(plan.notes),
            "cautions": list(CAUTIONS),
        }

    @functools.cached_property
    def text(self) -> str:
        """The plan in plain text for 80 columns."""
        plan = self.plan
        lines = self.title_lines("RANGE PLAN")
        asked = asked_rows(self.targets, self.at_least, self.at_most, self.least_gap)
        lines += heading("Asked") + labelled(
            [*asked, ("coverage", f"at least {_share(plan.wanted)} of builds, from the box of their own head")]
        )
        lines += self._made_lines() if plan else self._none_lines()
        lines += heading("Builds inside")
        rows = [(name, f"{inside} of {all_}", _share(inside / all_)) for name, (inside, all_) in plan.by_family.items()]
        lines += columns([*rows, ("together", f"{sum(a for a, _ in plan.by_family.values())} of {plan.builds}", "")], right=[1, 2])
        lines += heading("How sure") + self._sure_lines()
        if plan.left_out:
            lines += heading("Left out") + self._left_lines()
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)

    def _made_lines(self) -> list[str]:
        plan = self.plan
        labels = labels_of([gasket for one in plan.variants for gasket in (*one.base, *one.head_gaskets)])
        many = f"{len(plan.variants)} head{'s' if len(plan.variants) != 1 else ''}, {plan.gaskets} gaskets in the boxes together"
        lines = heading(f"Make {many}")
        for number, one in enumerate(plan.variants, 1):
            lines += paragraph(f"{one.name}, for {', '.join(one.families)}: {one.builds} of the builds drawn", first=f"  {number:>2}. ")
            lines += paragraph(f"base {gaskets_words(one.base, labels, fitted=False)}", first="      ")
            lines += paragraph(f"head gasket {gaskets_words(one.head_gaskets, labels, fitted=False)}", first="      ")
        return lines

    def _none_lines(self) -> list[str]:
        plan = self.plan
        reached = f"{plan.reachable} of {plan.builds} builds inside ({_share(plan.reachable / plan.builds)})"
        told = f"All heads and gaskets on offer together bring {reached}; {_share(plan.wanted)} was asked."
        return (
            heading("No plan") + paragraph(told, first="  ") + [line for note in plan.notes for line in paragraph(note, first="  note: ")]
        )

    def _sure_lines(self) -> list[str]:
        plan = self.plan
        if not plan:
            return paragraph("Every head with every stack of the gaskets on offer was judged in every build drawn.", first="  ")
        low, high = plan.interval
        gap = "fewest gaskets proven too" if plan.gap == 0.0 else f"at most {_share(plan.gap)} more gaskets than the fewest there could be"
        told = f"Fewest heads proven for the {plan.builds} builds drawn, {gap}."
        fresh = (
            f"{plan.confirmed} of {plan.fresh} builds drawn anew are inside: the coverage lies between {_share(low)} and {_share(high)} "
            "(95 % confidence, Clopper-Pearson)."
        )
        lines = paragraph(told, first="  ") + paragraph(fresh, first="  ")
        if low < plan.wanted:
            less = "The coverage of builds to come may lie below what was asked: a plan is fitted to the builds it was made from. "
            lines += paragraph(f"{less}Draw more builds, or ask for a little more.", first="  ")
        return lines

    def _left_lines(self) -> list[str]:
        plan = self.plan
        lines: list[str] = []
        for one in plan.left_out[:_TOLD]:
            lines += paragraph(f"{one.family}, build {one.build}: {_values(one)}", first="  ")
            lines += paragraph(f"nearest with {one.nearest}:" if one.misses else f"{one.nearest}: no stack can be assembled", first="    ")
            lines += miss_lines(one.misses, "      - ")
            who = (
                f"could be had with {', '.join(one.others)} and other gaskets of the offer"
                if one.others
                else "no head and gasket on offer does it"
            )
            lines += paragraph(who, first="    ")
        more = len(plan.left_out) - _TOLD
        if more > 0:
            lines.append(f"  and {more} more, all of them with --json")
        return lines


def _share(value: float) -> str:
    return f"{100.0 * value:.2f} %".replace(".00 %", " %")


def _values(one: LeftOut) -> str:
    return ", ".join(f"{path} {value:.3f} {input_unit(path)}" for path, value in one.values.items())


def _left_dict(one: LeftOut) -> dict[str, Any]:
    return {
        "family": one.family,
        "build": one.build,
        "values": {path: {"value": value, "unit": input_unit(path)} for path, value in one.values.items()},
        "nearest": one.nearest,
        "misses": [miss_dict(miss) for miss in one.misses],
        "others": list(one.others),
    }
