"""The answer of a correction: what to cut and what to fit, least metal first, or which target cannot be had and by how much."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from topend.checks import findings
from topend.quantities import Finding
from topend.report.answer import Answer
from topend.report.cautions import CAUTIONS
from topend.report.figures import Figure
from topend.report.finding_words import finding_dict, finding_lines
from topend.report.fitting import gasket_dict, gaskets_words, labels_of
from topend.report.layout import columns, heading, labelled, paragraph
from topend.report.wanted import asked_dict, asked_rows, miss_dict, miss_lines, said
from topend.solve.correct_answers import Correction, Corrections, unit_of
from topend.uncertainty import uncertainty

__all__ = ["CorrectReport"]


@dataclass(frozen=True)
class CorrectReport(Answer):
    """`Corrections` as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `answer` of `correct`; `allow`, `targets`, `at_least`, `at_most` and `least_gap` as they were asked; `title`, `file`
    and `packs` as on a card.
    """

    answer: Corrections = field(repr=False)
    allow: Mapping[str, Any]
    targets: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    at_least: Mapping[str, Any] = field(default_factory=dict)
    at_most: Mapping[str, Any] = field(default_factory=dict)
    least_gap: Any = None
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    @functools.cached_property
    def names(self) -> tuple[str, ...]:
        """The outputs shown of each way: targets, limits, and the gap that the floor is held on."""
        shown = [*self.targets, *self.at_least, *self.at_most]
        ways = [*self.answer.best, *([self.answer.nearest] if self.answer.nearest is not None else [])]
        gap = next((name for name in ("squish_min", "squish_edge") if ways and name in ways[0].result), None)
        return tuple(dict.fromkeys([*shown, *([gap] if gap else [])]))

    @functools.cached_property
    def findings(self) -> tuple[tuple[Finding, ...], ...]:
        """What is wrong or risky in each of the best, in order."""
        return tuple(tuple(findings(one.result)) for one in self.answer.best)

    def figures(self, one: Correction) -> dict[str, Figure]:
        """The shown figures of a way."""
        names = [name for name in self.names if name in one.result or one.top.outputs[name].when_named]
        return {name: Figure.of(made) for name, made in uncertainty(one.top, names).items()}

    # --- JSON ---

    def to_dict(self) -> dict[str, Any]:
        """The answer as plain data."""
        answer = self.answer
        return {
            **self.whose(),
            "asked": {**asked_dict(self.targets, self.at_least, self.at_most, self.least_gap), "allow": _plain(self.allow)},
            "best": [
                {**self._way_dict(one), "findings": [finding_dict(told) for told in found]}
                for one, found in zip(answer.best, self.findings, strict=True)
            ],
            "considered": answer.considered,
            "proven": answer.proven,
            "metal_unit": answer.metal_unit,
            "nearest": None if answer.nearest is None else self._way_dict(answer.nearest),
            "misses": [miss_dict(one) for one in answer.misses],
            "alone": {name: miss_dict(one) for name, one in answer.alone.items()},
            "notes": list(answer.notes),
            "cautions": list(CAUTIONS),
        }

    def _way_dict(self, one: Correction) -> dict[str, Any]:
        return {
            "cuts": {name: {"value": float(amount.m_as(unit_of(name))), "unit": unit_of(name)} for name, amount in one.cuts.items()},
            "spacer": None if one.spacer is None else {"value": float(one.spacer.m_as("mm")), "unit": "mm"},
            "base": None if one.base is None else [gasket_dict(gasket) for gasket in one.base],
            "head_gaskets": None if one.head_gaskets is None else [gasket_dict(gasket) for gasket in one.head_gaskets],
            "metal": one.metal,
            "score": one.score,
            "outputs": {name: figure.to_dict() for name, figure in self.figures(one).items()},
        }

    # --- text ---

    @functools.cached_property
    def text(self) -> str:
        """The answer in plain text for 80 columns."""
        answer = self.answer
        lines = self.title_lines("CORRECTION")
        if answer.best:
            lines += finding_lines(self.findings[0])
        lines += heading("Asked") + labelled(asked_rows(self.targets, self.at_least, self.at_most, self.least_gap))
        lines += heading("May be done") + labelled([(_words(name), _allowed(name, given)) for name, given in self.allow.items()])
        lines += [line for note in answer.notes for line in paragraph(note, first="  note: ")]
        if answer.best:
            many = len(answer.best)
            lines += heading(f"The {many} that take least metal" if many > 1 else "What to do")
            for number, one in enumerate(answer.best, 1):
                lines += self._way_lines(f"  {number:>2}. ", one)
            if any(found != self.findings[0] for found in self.findings):
                lines += paragraph("What is told before the list is of no. 1; the others' is told with --json.", first="  ")
        else:
            lines += self._nothing_lines()
        lines += heading("How sure") + self._sure_lines()
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)

    def _way_lines(self, first: str, one: Correction) -> list[str]:
        blank = " " * len(first)
        labels = labels_of([*(one.base or ()), *(one.head_gaskets or ())])
        done = [f"{_words(name)} {amount.m_as(unit_of(name)):.3f} {unit_of(name)}" for name, amount in one.cuts.items()]
        if one.spacer is not None:
            done.append(f"spacer {one.spacer.text} under the barrel")
        if one.base is not None:
            done.append(f"base {gaskets_words(one.base, labels)}")
        if one.head_gaskets is not None:
            done.append(f"head gasket {gaskets_words(one.head_gaskets, labels)}")
        took = f" (metal {one.metal:.3f} {self.answer.metal_unit})" if one.cuts else " (no metal)"
        lines = paragraph(("; ".join(done) or "nothing: it is there already") + took, first=first)
        rows = [(f"{blank}{name}", figure.text) for name, figure in self.figures(one).items()]
        return lines + columns(rows, indent="")

    def _nothing_lines(self) -> list[str]:
        answer = self.answer
        lines = heading("Nothing meets every target")
        if answer.nearest is None:
            return lines + paragraph("No stack can be assembled with these cuts.", first="  ")
        lines += (
            paragraph("The nearest is", first="  ")
            + self._way_lines("      ", answer.nearest)
            + ["  What it misses:"]
            + miss_lines(answer.misses)
        )
        if answer.alone:
            lines.append("  With everything else held, this alone would have to give:")
            lines += miss_lines(answer.alone.values())
        elif answer.misses and answer.proven:
            lines += paragraph("No single one of them would do: two or more exclude each other here.", first="  ")
        return lines

    def _sure_lines(self) -> list[str]:
        answer = self.answer
        stacks = f"{answer.considered} stack{'s' if answer.considered != 1 else ''} of gaskets and spacer"
        if answer.best and answer.best[0].metal == 0.0:
            told = f"{stacks}: no. 1 needs no cut."
        elif answer.proven and answer.best:
            told = f"{stacks}: proven that none takes less metal than no. 1."
        elif answer.proven:
            told = f"{stacks}: proven that none meets every target within these cuts."
        else:
            told = f"{stacks}: the least metal was looked for, not proven."
        what = (
            "Metal is what each cut takes over the bore; faces are wider. The least cut brings a target just inside its tolerance, not to "
            "its middle. Leave a little, and measure again before the last of it."
        )
        return paragraph(told, first="  ") + paragraph(what, first="  ")


def _words(name: str) -> str:
    return name.replace("_", " ")


def _allowed(name: str, given: Any) -> str:
    if not isinstance(given, (list, tuple)):
        return str(said(given))
    shown = [str(said(one)) for one in given]
    return ", ".join(shown) or "none" if name == "spacer" else " to ".join(shown)


def _plain(allow: Mapping[str, Any]) -> dict[str, Any]:
    return {name: [said(one) for one in given] if isinstance(given, (list, tuple)) else said(given) for name, given in allow.items()}
