"""Fewest variants, then fewest gaskets, by HiGHS: a covering problem, and levels of components put together.

What is not worked out yet counts as if it covered all that its heads can, so that the bound it gives is a bound.
"""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from topend.errors import FitError
from topend.solve.kits import MOST_SUBSETS, Component, Level, TooLateError, counted, unpacked

__all__ = ["fewest_variants", "put_together"]


def _solved(cost: Any, rows: Any, low: Any, high: Any, integer: Any, upper: Any) -> Any:
    """`scipy.optimize.milp` on these rows, to the optimum."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # slow to import

    found = milp(
        cost, constraints=LinearConstraint(rows, low, high), integrality=integer, bounds=Bounds(0.0, upper), options={"mip_rel_gap": 0.0}
    )
    return found if found.status == 0 else None


def fewest_variants(components: Sequence[Component], needed: int) -> int:
    """The fewest variants that cover `needed` builds with every gasket there is in their boxes."""
    from scipy.sparse import coo_array, csr_array, hstack, vstack

    owners = [number for component in components for number in component.offers]
    place = {number: at for at, number in enumerate(owners)}
    patterns: list[list[int]] = []
    weights: list[int] = []
    for component in components:
        bits = np.array([unpacked(offer.full, (0, component.builds)) for offer in component.offers.values()])
        # builds that the same variants cover are one row
        kinds, times = np.unique(bits.T, axis=0, return_counts=True)
        numbers = list(component.offers)
        for kind, count in zip(kinds, times, strict=True):
            if kind.any():
                patterns.append([place[numbers[at]] for at in np.flatnonzero(kind)])
                weights.append(int(count))
    rows, variants = len(patterns), len(owners)
    at_row = [row for row, pattern in enumerate(patterns) for _ in pattern]
    at_column = [column for pattern in patterns for column in pattern]
    covers = coo_array((np.ones(len(at_row)), (at_row, at_column)), shape=(rows, variants))
    # covered ≤ sum of the variants that do; the covered builds together are enough
    top = hstack([covers, -coo_array((np.ones(rows), (range(rows), range(rows))), shape=(rows, rows))])
    total = csr_array(np.concatenate([np.zeros(variants), np.array(weights, dtype=float)])[None, :])
    found = _solved(
        np.concatenate([np.ones(variants), np.zeros(rows)]),
        vstack([top, total]),
        np.concatenate([np.zeros(rows), [needed]]),
        np.inf,
        np.concatenate([np.ones(variants), np.zeros(rows)]),
        1.0,
    )
    assert found is not None  # all variants together cover enough
    return round(float(found.fun))


@dataclass
class _Ladder:
    """Levels of one component that are known, and the next of each number of variants, which counts as the best it could be."""

    component: Component
    full: dict[int, int]
    known: list[Level] = field(default_factory=list)
    next: dict[int, int] = field(default_factory=dict)

    def options(self, hopeful: bool) -> list[tuple[int, int, int, Level | None]]:
        """(variants, gaskets, covered, level) of each way that is open; level None: only hoped for."""
        made: list[tuple[int, int, int, Level | None]] = [(one.variants, one.gaskets, one.covered, one) for one in self.known]
        if hopeful:
            made += [(number, gaskets, self.full[number], None) for number, gaskets in self.next.items()]
        return made

    def climb(self, number: int, deadline: float) -> None:
        """Work out the next level with so many variants."""
        gaskets = self.next[number]
        found = self.component.level(number, gaskets, deadline)
        if found is not None:
            self.known.append(found)
        if found is not None and found.covered == self.full[number]:
            del self.next[number]
        else:
            self.next[number] = gaskets + 1


def put_together(components: Sequence[Component], needed: int, fewest: int, deadline: float) -> tuple[list[Level], float]:
    """The levels of all components that cover `needed` builds with `fewest` variants and the fewest gaskets, and the gap."""
    ladders = [_ladder(component, fewest) for component in components]
    best_of = [max(ladder.full.values()) for ladder in ladders]
    for ladder, own in zip(ladders, best_of, strict=True):
        ladder.component.need = need = needed - (sum(best_of) - own)
        least = min((offer.least for offer in ladder.component.offers.values()), default=0)
        ladder.full = {number: most for number, most in ladder.full.items() if most >= need}
        ladder.next = {number: number * least for number in ladder.full if number}
        if 0 in ladder.full:
            ladder.known.append(Level(0, 0, 0, ()))
    bound, late = 0.0, False
    while True:
        hoped = _levels(ladders, needed, fewest, hopeful=not late)
        if hoped is None:
            # out of time before any whole plan was known: go on until there is one
            late, deadline = False, math.inf
            continue
        gaskets = sum(one[1] for one in hoped)
        if not late:
            bound = gaskets
        if all(one[3] is not None for one in hoped):
            return [one[3] for one in hoped if one[3] is not None], (gaskets - bound) / gaskets if gaskets else 0.0
        try:
            for ladder, one in zip(ladders, hoped, strict=True):
                if one[3] is None:
                    ladder.climb(one[0], deadline)
                    if time.monotonic() > deadline:
                        raise TooLateError
        except TooLateError:
            late = True


def _ladder(component: Component, fewest: int) -> _Ladder:
    """For each number of variants the most builds that so many cover, with every gasket there is."""
    full: dict[int, int] = {}
    every = int(counted(np.bitwise_or.reduce([offer.full for offer in component.offers.values()], axis=0)))
    for number in range(min(fewest, len(component.offers)) + 1):
        if math.comb(len(component.offers), number) > MOST_SUBSETS:
            raise FitError(
                f"{len(component.offers)} variants that share families, {number} of them to be made, can be chosen in more ways than "
                "are looked through; offer fewer, or plan families that share no head by themselves"
            )
        full[number] = max(most for _, most in component.subsets(number))
        if full[number] == every:
            # more variants cover no more; they could save gaskets, but fewer variants come first
            break
    return _Ladder(component, full)


def _levels(ladders: Sequence[_Ladder], needed: int, fewest: int, *, hopeful: bool) -> list[tuple[int, int, int, Level | None]] | None:
    """One option of each component: fewest gaskets, with `fewest` variants in all and `needed` builds covered."""
    options = [(at, one) for at, ladder in enumerate(ladders) for one in ladder.options(hopeful)]
    if not options:
        return None
    rows = np.zeros((len(ladders) + 2, len(options)))
    for column, (at, one) in enumerate(options):
        rows[at, column] = 1.0
        rows[-2, column] = one[0]
        rows[-1, column] = one[2]
    low = np.array([1.0] * len(ladders) + [0.0, needed])
    high = np.array([1.0] * len(ladders) + [fewest, math.inf])
    found = _solved(np.array([float(one[1]) for _, one in options]), rows, low, high, np.ones(len(options)), 1.0)
    if found is None:
        return None
    picked = {options[column][0]: options[column][1] for column in np.flatnonzero(found.x > 0.5)}
    return [picked[at] for at in range(len(ladders))]
