"""A linear programme in a few cuts for every stack of a drawer at once, solved stack by stack as far as prices leave it open.

All stacks have the same coefficients and differ in their limits alone, so that the prices of one solved stack bound the cost of every
other (weak duality).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["INSIDE", "Line", "Programme"]

#: How far inside its limits the programme keeps [mm or cc], so that its own tolerance does not put an answer outside.
INSIDE: Final = 2e-7
#: Programmes solved, and stacks followed step by step, before the answer says that it did not look at all of them.
_MOST_SOLVED: Final = 3000
_MOST_FOLLOWED: Final = 100


@dataclass(frozen=True)
class Line:
    """A quantity that changes in proportion to the cuts, and the limits on it: low ≤ start + slope · cuts ≤ high.

    `start` (stacks,) in the programme's scale; `wish` the number of the wish it is for, None for what makes a top end.
    """

    start: Floats
    slope: Floats
    low: float
    high: float
    wish: int | None
    #: distance outside that counts as one tolerance
    tolerance: float = 1.0


@dataclass(frozen=True)
class Programme:
    """Rows G x ≥ r(stack) with bounds on x, and which wish each is for."""

    slope: Floats
    rest: Floats
    wish: tuple[int | None, ...]
    tolerance: Floats
    low: Floats
    high: Floats
    metal: Floats
    #: how far inside its limits it keeps
    inside: float = INSIDE

    @classmethod
    def of(cls, lines: Sequence[Line], low: Floats, high: Floats, metal: Floats, stacks: int, inside: float) -> Programme:
        slopes, rests, wishes, tolerances = [], [], [], []
        for line in lines:
            for sign, end in ((1.0, line.low), (-1.0, line.high)):
                if math.isfinite(end):
                    slopes.append(sign * line.slope)
                    rests.append(sign * (end - np.broadcast_to(line.start, (stacks,))))
                    wishes.append(line.wish)
                    tolerances.append(line.tolerance)
        return cls(
            np.array(slopes).reshape(len(slopes), len(low)),
            np.array(rests).reshape(len(rests), stacks),
            tuple(wishes),
            np.array(tolerances),
            low,
            high,
            metal,
            inside,
        )

    def _rows(self, keep: Bools) -> Programme:
        wish = tuple(one for one, kept in zip(self.wish, keep, strict=True) if kept)
        return replace(self, slope=self.slope[keep], rest=self.rest[keep], wish=wish, tolerance=self.tolerance[keep])

    def solve(self, stack: int, cost: Floats, give: Floats) -> tuple[float, Floats, Floats] | None:
        """Least cost · x + Σ slack in tolerances at one stack, rows of `give` = 1 having slack; with x and the prices. None: none."""
        from scipy.optimize import linprog  # slow to import

        cuts, slack = len(self.low), np.flatnonzero(give)
        if not cuts and not len(slack):  # a spacer alone: it fits or it does not
            fits = bool((self.rest[:, stack] + self.inside <= 0.0).all())
            return (0.0, np.empty(0), np.zeros(len(self.rest))) if fits else None
        rows = np.concatenate([-self.slope, np.zeros((len(self.slope), len(slack)))], axis=1)
        rows[slack, cuts + np.arange(len(slack))] = -self.tolerance[slack]
        found: Any = linprog(
            np.concatenate([cost, np.ones(len(slack))]),
            A_ub=rows,
            b_ub=-(self.rest[:, stack] + self.inside),
            bounds=[*zip(self.low, self.high, strict=True), *[(0.0, None)] * len(slack)],
            method="highs",
        )
        if found.status != 0:
            return None
        return float(found.fun), np.asarray(found.x[:cuts]), np.maximum(-np.asarray(found.ineqlin.marginals), 0.0)

    def bound(self, cost: Floats, prices: Floats) -> Floats:
        """What every stack costs at least, by the prices of one (weak duality)."""
        left = cost - prices @ self.slope
        own = float(np.minimum(left * self.low, left * self.high).sum())
        made: Floats = prices @ (self.rest + self.inside) + own
        return made

    def least(
        self, cost: Floats, give: Floats, allowed: Bools, most: int, take: Callable[[int, Floats, float], bool]
    ) -> tuple[bool, float]:
        """Offer stacks to `take` in order of their cost until it has taken `most`; whether that was all, and the bound of what is left."""
        none, hard = np.zeros(len(self.low)), self._rows(give == 0.0)
        bounds = np.where(allowed, 0.0, np.inf)
        with np.errstate(invalid="ignore"):
            np.maximum(bounds, self.bound(cost, np.zeros(len(self.slope))), out=bounds)
        waiting: list[tuple[float, int, Floats]] = []
        taken = solved = offered = 0
        while taken < most:
            at = int(np.argmin(bounds))
            open_bound = float(bounds[at])
            waiting.sort(key=lambda one: (one[0], one[1]))
            while waiting and waiting[0][0] <= open_bound + 1e-9 and taken < most:
                value, stack, x = waiting.pop(0)
                offered += 1
                taken += take(stack, x, value)
            if taken >= most or not math.isfinite(open_bound):
                break
            if solved >= _MOST_SOLVED or offered - taken >= _MOST_FOLLOWED:
                return False, open_bound
            solved += 1
            bounds[at] = np.inf
            found = self.solve(at, cost, give)
            if found is not None:
                value, x, prices = found
                waiting.append((value, at, x))
                np.maximum(bounds, self.bound(cost, prices), out=bounds)
                continue
            # not to be had: the prices of what it lacks rule out all others that lack it too
            lack = hard.solve(at, none, np.ones(len(hard.slope)))
            if lack is not None:
                bounds[hard.bound(none, lack[2]) > 1e-9] = np.inf
        return True, math.inf
