"""What a design comes to: heads that meet the targets, heads that the cutter cannot make, and reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from topend.assembly import TopEnd
from topend.errors import DesignError
from topend.evaluation import Result, evaluate
from topend.solve.cut_sheet import CutSheet, made_cut_sheet
from topend.solve.design_request import example_figure, positive_figure
from topend.uncertainty import sensitivities
from topend.units import Quantity, from_si, quantity

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Design", "DesignedHead", "Designs", "RefusedHead", "digits_apart"]


def digits_apart(one: float, other: float) -> int:
    """Decimals that show two figures apart: 3, or as many more as it takes.

    >>> digits_apart(12.5, 12.501), digits_apart(12.5, 12.50001)
    (3, 6)
    """
    return next((digits for digits in (3, 6, 9) if f"{one:.{digits}f}" != f"{other:.{digits}f}"), 12)


@dataclass(frozen=True)
class DesignedHead:
    """One head that meets the targets: the dimension that moved for the ratio, the top end with it, and its result.

    `dimensions` are all that were moved, by path. `breaks` says what of the cutter's limits it does not keep; empty for a solution.
    """

    free: str
    dimensions: Mapping[str, Quantity]
    top: TopEnd = field(repr=False)
    target: str = field(repr=False)
    value: float = field(repr=False)
    breaks: tuple[str, ...] = ()
    spread: float | None = field(default=None, repr=False)
    before: float | None = field(default=None, repr=False)

    @cached_property
    def result(self) -> Result:
        """What the top end with this head comes to."""
        return evaluate(self.top)

    @cached_property
    def chamber_volume(self) -> Quantity:
        """Chamber volume above the band-edge plane."""
        found: Quantity = evaluate(self.top, ["chamber_volume"]).chamber_volume
        return found

    @property
    def volume_to_remove(self) -> Quantity | None:
        """Metal to take from the head that the top end had, by its chamber volume, negative to add; None where it had none."""
        return None if self.before is None else quantity(self.chamber_volume.m_as("cc") - from_si(self.before, "cc"), "cc")

    @cached_property
    def sensitivities(self) -> dict[str, float]:
        """Change of the target for each input: of the target's unit per unit of the input, as `te.sensitivities`."""
        return sensitivities(self.top, [self.target])[self.target]

    def cut_sheet(self, spread: Any = None) -> CutSheet:
        """Nominal sizes and limits that keep the target within ± `spread` of its value, whatever corner of them is cut.

        `spread` as a target is written; not given: the one that `design_head` was given.
        """
        given = self.spread if spread is None else positive_figure(self.target, spread, "the spread")
        if given is None:
            raise DesignError(f"the cut sheet needs the spread that {self.target} may have, such as {example_figure(self.target)}")
        return made_cut_sheet(self.top, self.target, self.value, given)


@dataclass(frozen=True)
class RefusedHead:
    """Why nothing was found for a dimension: its path, and the reason in words."""

    free: str
    reason: str


@dataclass(frozen=True)
class Design:
    """What was found: every head that meets the targets, least of each dimension first; those that the cutter cannot make; reasons.

    `solutions` keep all limits; `beyond_cutter` meet the targets and break a limit of the cutter, as their `breaks` say;
    `refused` are the dimensions that cannot bring the targets, with the reason. `not_judged` are limits of the cutter that the
    half-section's kind does not let be judged.

    Made by `te.design_head`, whose example shows one.
    """

    targets: Mapping[str, float]
    solutions: tuple[DesignedHead, ...]
    beyond_cutter: tuple[DesignedHead, ...] = ()
    refused: tuple[RefusedHead, ...] = ()
    not_judged: tuple[str, ...] = ()

    @property
    def reason(self) -> str | None:
        """Why there is no solution, in words; None where there is one."""
        if self.solutions:
            return None
        told = [*(f"{one.free}: {'; '.join(one.breaks)}" for one in self.beyond_cutter), *(one.reason for one in self.refused)]
        return "; ".join(told)


@dataclass(frozen=True, eq=False)
class Designs:
    """Designs as columns: `dimensions` by path [arrays in the unit of the inputs table], NaN in rows without one.

    `status` is 0 where a row has a design, 1 where no place of the range brings the target, 2 where nothing of the range can be built.
    Of several designs the one with the least dimension is given; `count` says how many were seen.
    """

    dimensions: Mapping[str, Quantity]
    status: NDArray[np.int8]
    count: NDArray[np.intp]
