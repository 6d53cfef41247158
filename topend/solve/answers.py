"""What `fit_gaskets` answers: combinations, what the nearest misses, and the whole answer."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from topend.assembly import TopEnd
from topend.evaluation import Result, evaluate
from topend.notebook import html_table
from topend.parts import Gasket, Head
from topend.quantities import OUTPUTS
from topend.units import Quantity


@dataclass(frozen=True)
class Combination:
    """One answer: a head (None: the top end has none), its base and head gaskets, and its score."""

    head: Head | None
    head_index: int
    base: tuple[Gasket, ...]
    head_gaskets: tuple[Gasket, ...]
    score: float
    _top: TopEnd = field(repr=False)

    @functools.cached_property
    def top(self) -> TopEnd:
        """The top end with this head and these gaskets."""
        changes: dict[str, Any] = {"base_gaskets": self.base, "head_gaskets": self.head_gaskets}
        if self.head is not None and self.head != self._top.head:
            changes.update(head=self.head, assembled=None)
        return self._top.replace(changes)

    @functools.cached_property
    def result(self) -> Result:
        """Everything that top end comes to."""
        return evaluate(self.top)


@dataclass(frozen=True, slots=True)
class Miss:
    """A target or limit that the nearest combination does not meet: by how much it is outside, in the output's unit."""

    name: str
    value: float
    wanted: str
    by: float
    unit: str
    decimals: int = 3

    def __str__(self) -> str:
        unit = "" if self.unit == "–" else f" {self.unit}"
        digits = self.decimals
        side = "too much" if self.by > 0 else "too little"
        by = f"{abs(self.by):.{digits}f}"
        if not float(by):  # a miss that is too small for the digits shown is still one
            by = f"{abs(self.by):.1g}"
        return f"{self.name} {self.value:.{digits}f}{unit}, wanted {self.wanted}: {by}{unit} {side}"


@dataclass(frozen=True)
class Fit:
    """The answer of `fit_gaskets`.

    `best` the combinations that meet every target, best first; `considered` how many combinations there are, `feasible` how
    many of them meet every target; `complete` says that every one was decided. When nothing fits: `nearest` (least score),
    `misses` (what it does not meet), and `extra_gasket`: for each role (base, head) in which one more gasket in the nearest
    stack would bring it in, the interval of its fitted thickness, a head gasket with the opening (by mean area) of those
    already there. `notes` are sentences to print with the answer.

    Made by `te.fit_gaskets`, whose example shows one.
    """

    best: tuple[Combination, ...]
    considered: int
    feasible: int
    complete: bool
    nearest: Combination | None
    misses: tuple[Miss, ...]
    extra_gasket: Mapping[str, tuple[Quantity, Quantity]]
    notes: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.best)

    def _repr_html_(self) -> str:
        """The best stacks as a table, for notebooks; the nearest and what it misses, where nothing fits."""
        shown = self.best or ((self.nearest,) if self.nearest is not None else ())
        rows = []
        for rank, one in enumerate(shown, 1):
            figures = [f"{one.result.shown(name):.{OUTPUTS[name].decimals}f}" if name in one.result else "" for name in _IN_TABLE]
            rows.append([str(rank) if self.best else "nearest", _stack_text(one), f"{one.score:.4f}", *figures])
        units = [OUTPUTS[name].unit for name in _IN_TABLE]
        headings = [name if unit == "–" else f"{name} [{unit}]" for name, unit in zip(_IN_TABLE, units, strict=True)]
        notes = [*(str(miss) for miss in self.misses), *self.notes]
        return html_table(str(self).splitlines()[0], ("", "stack", "score", *headings), rows, notes)

    def __str__(self) -> str:
        lines = [f"{self.considered:,} combinations considered, all decided; {self.feasible:,} meet every target"]
        for rank, one in enumerate(self.best, 1):
            lines.append(f"{rank:2d}  score {one.score:.4f}  {_stack_text(one)}")
        if self.nearest is not None:
            lines.append(f"nearest  score {self.nearest.score:.4f}  {_stack_text(self.nearest)}")
            lines += [f"  {miss}" for miss in self.misses]
            for role, (low, high) in self.extra_gasket.items():
                lines.append(f"  one more {role} gasket, fitted {low.m_as('mm'):.3f} to {high.m_as('mm'):.3f} mm, would bring it in")
        return "\n".join([*lines, *self.notes])


#: Outputs that stand beside each stack in a notebook: what gaskets are chosen for.
_IN_TABLE: Final = ("squish_edge", "squish_min", "compression_ratio", "exhaust_duration")


def _stack_text(one: Combination) -> str:
    head = (one.head.name if one.head is not None and one.head.name else f"head {one.head_index}") if one.head is not None else "no head"

    def thick(gaskets: tuple[Gasket, ...]) -> str:
        return " + ".join(gasket.fitted.text for gasket in gaskets) or "none"

    return f"{head}: base {thick(one.base)}; head {thick(one.head_gaskets)}"
