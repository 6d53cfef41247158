"""The answer of a correction: ways to bring a build to its targets, or what comes nearest and what is missed."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from topend.assembly import TopEnd
from topend.evaluation import Result, evaluate
from topend.parts import Gasket
from topend.solve.answers import Miss
from topend.solve.cuts import CUTS, moved
from topend.units import Quantity, StatedQuantity

__all__ = ["Correction", "Corrections", "correction_text", "spacer_gasket", "unit_of"]


@dataclass(frozen=True)
class Correction:
    """One way to correct a build: its cuts (those of 0 left out), a spacer under the barrel or None, and its gaskets.

    `metal` is what the cuts take, in cc over the bore (in mm of depth where no volume can be had). `score` as of `fit_gaskets`.

    Made by `te.correct`, whose example shows one.
    """

    cuts: Mapping[str, Quantity]
    spacer: StatedQuantity | None
    base: tuple[Gasket, ...] | None
    head_gaskets: tuple[Gasket, ...] | None
    metal: float
    score: float
    _top: TopEnd = field(repr=False)
    _amounts: Mapping[str, float] = field(repr=False)

    @functools.cached_property
    def top(self) -> TopEnd:
        """The top end as corrected; a spacer lies among its base gaskets."""
        changes: dict[str, Any] = {}
        if self.base is not None:
            plate = () if self.spacer is None else (spacer_gasket(self.spacer),)
            changes["base_gaskets"] = (*self.base, *plate)
        if self.head_gaskets is not None:
            changes["head_gaskets"] = self.head_gaskets
        return moved(self._top.replace(changes), self._amounts)

    @functools.cached_property
    def result(self) -> Result:
        """Everything that top end comes to."""
        return evaluate(self.top)


@dataclass(frozen=True)
class Corrections:
    """The answer of `correct`.

    `best` the ways that meet every target, least metal first, then least score; `considered` how many stacks of gaskets and spacer
    there are. `proven` says that no way takes less metal than the first of `best` (not where a target is followed by repeated
    linearisation). When nothing does: `nearest` the way that misses least, in tolerances together, `misses` what it misses, and
    `alone` for each target or limit by how much it alone would have to give, all others held; a name that is not there would have to
    give together with others.

    Made by `te.correct`, whose example shows one.
    """

    best: tuple[Correction, ...]
    considered: int
    proven: bool
    nearest: Correction | None
    misses: tuple[Miss, ...]
    alone: Mapping[str, Miss]
    metal_unit: str
    notes: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.best)

    def __str__(self) -> str:
        lines = [f"{self.considered:,} stacks considered"]
        for rank, one in enumerate(self.best, 1):
            lines.append(f"{rank:2d}  metal {one.metal:.3f} {self.metal_unit}  {correction_text(one)}")
        if self.nearest is not None:
            lines.append(f"nothing meets every target; nearest: {correction_text(self.nearest)}")
            lines += [f"  {miss}" for miss in self.misses]
            lines += [f"  with all else held: {miss}" for miss in self.alone.values()]
        return "\n".join([*lines, *self.notes])


def correction_text(one: Correction) -> str:
    """What is to be done, in one line."""
    parts = [f"{name.replace('_', ' ')} {amount.magnitude:.3f} {unit_of(name)}" for name, amount in one.cuts.items()]
    if one.spacer is not None:
        parts.append(f"spacer {one.spacer.text}")
    if one.base is not None:
        parts.append("base " + (" + ".join(gasket.fitted.text for gasket in one.base) or "none"))
    if one.head_gaskets is not None:
        parts.append("head " + (" + ".join(gasket.fitted.text for gasket in one.head_gaskets) or "none"))
    return "; ".join(parts) or "nothing to be done"


def unit_of(name: str) -> str:
    """The unit a cut is shown in."""
    return "cc" if CUTS[name] == "volume" else "mm"


def spacer_gasket(thickness: StatedQuantity) -> Gasket:
    """A spacer, which lies under the barrel as a gasket does and does not crush."""
    return Gasket(role="base", name="spacer", thickness=thickness, fitted_thickness=thickness)
