"""Stacks that a drawer can make: every multiset of its gaskets, counted and told apart by what the solver needs of them.

Thicknesses are whole femtometres here, so that 0.0125 in, 0.3 mm and 0.8 - 0.5 mm compare as they should; sums are exact.
A stack is told apart by how many gaskets it has and by the thickness it has in each class (head gaskets of one opening are
a class). The distinct sums are far fewer than the stacks, and their counts are exact.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.errors import FitError
from topend.parts import Gasket

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["FEMTOMETRES", "Kinds", "Stacks", "stacks_of"]

FEMTOMETRES: Final = 1e15
#: Cells of the counting grid beyond which sums are kept in a sorted list instead.
_GRID: Final = 400_000
#: Distinct sums beyond which a drawer is refused: memory, not time, would end it.
_MOST_SUMS: Final = 20_000_000


@dataclass(frozen=True)
class Kinds:
    """The distinct gaskets of one role in a drawer, in drawer order: equal ones are merged.

    `thickness` in whole femtometres, `classes` the class of each kind, `most` how many of each there are.
    """

    gaskets: tuple[Gasket, ...]
    thickness: tuple[int, ...]
    classes: tuple[int, ...]
    most: tuple[int, ...]

    def only(self, keep: Sequence[bool]) -> Kinds:
        """The same without any of the kinds that are not kept; positions stay as they are."""
        return Kinds(self.gaskets, self.thickness, self.classes, tuple(n if k else 0 for n, k in zip(self.most, keep, strict=True)))


@dataclass(frozen=True)
class Stacks:
    """Every stack of `count` gaskets from `kinds`, by distinct (number of gaskets, thickness by class).

    `numbers` (m,) how many gaskets, `sums` (m, classes) femtometres, `ways` (m,) how many stacks are like that, rows in
    ascending order of total thickness, then number.
    """

    kinds: Kinds
    numbers: NDArray[np.int64]
    sums: NDArray[np.int64]
    ways: NDArray[Any]

    @property
    def total(self) -> int:
        """How many stacks there are."""
        return sum(int(way) for way in self.ways) if self.ways.dtype == object else int(self.ways.sum())

    def members(self, number: int, sums: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """The stacks of `number` gaskets with these `sums`, each as ascending positions in the drawer, in drawer order."""
        most = self.kinds.most
        for found in self._walk(0, number, sums):
            if all(found.count(at) <= most[at] for at in set(found)):
                yield found

    def _walk(self, start: int, left: int, rest: tuple[int, ...]) -> Iterator[tuple[int, ...]]:
        """The same from position `start` on, as if there were enough of each kind."""
        if left <= 2:
            yield from (found for found in self._short[left].get(rest, ()) if not found or found[0] >= start)
            return
        for at in range(start, len(self.kinds.thickness)):
            if self.kinds.most[at]:
                remains = self._less(rest, at)
                if remains is not None:
                    for tail in self._walk(at, left - 1, remains):
                        yield (at, *tail)

    def _less(self, rest: tuple[int, ...], at: int) -> tuple[int, ...] | None:
        own = self.kinds.classes[at]
        left = rest[own] - self.kinds.thickness[at]
        return None if left < 0 else (*rest[:own], left, *rest[own + 1 :])

    @functools.cached_property
    def _short(self) -> tuple[dict[tuple[int, ...], list[tuple[int, ...]]], ...]:
        """Stacks of no, one and two gaskets by their sums, each list in drawer order."""
        kinds = self.kinds
        none = (0,) * self.sums.shape[1]
        short: tuple[dict[tuple[int, ...], list[tuple[int, ...]]], ...] = ({none: [()]}, {}, {})
        held = [at for at, count in enumerate(kinds.most) if count]
        for number in (1, 2):
            for found in itertools.combinations_with_replacement(held, number):
                total = list(none)
                for at in found:
                    total[kinds.classes[at]] += kinds.thickness[at]
                short[number].setdefault(tuple(total), []).append(found)
        return short


def stacks_of(kinds: Kinds, count: tuple[int, int]) -> Stacks:
    """Every stack of `count` = (least, most) gaskets that `kinds` can make; none where the drawer does not hold as many."""
    least, most = count
    most = min(most, sum(kinds.most))
    classes = max(kinds.classes, default=0) + 1
    if least > most:
        empty = np.empty(0, dtype=np.int64)
        return Stacks(kinds, empty, np.empty((0, classes), dtype=np.int64), empty)
    dtype: Any = np.int64 if _bound(kinds, most) < 2**62 else object
    steps = [
        math.gcd(*(t for t, own, n in zip(kinds.thickness, kinds.classes, kinds.most, strict=True) if own == at and n)) or 1
        for at in range(classes)
    ]
    tops = [
        sum(sorted((t // steps[at] for t, own, n in _each(kinds) if own == at for _ in range(min(n, most))), reverse=True)[:most])
        for at in range(classes)
    ]
    shape = (most + 1, *(top + 1 for top in tops))
    numbers, cells, ways = _on_grid(kinds, steps, shape, dtype) if math.prod(shape) <= _GRID else _listed(kinds, steps, shape, dtype)
    keep = numbers >= least
    numbers, cells, ways = numbers[keep], cells[keep], ways[keep]
    sums = cells * np.array(steps, dtype=np.int64)
    order = np.lexsort((numbers, sums.sum(axis=1)))
    return Stacks(kinds, numbers[order], sums[order], ways[order])


def _each(kinds: Kinds) -> Iterator[tuple[int, int, int]]:
    return zip(kinds.thickness, kinds.classes, kinds.most, strict=True)


def _bound(kinds: Kinds, most: int) -> int:
    return math.comb(len(kinds.most) + most, most)


def _on_grid(kinds: Kinds, steps: list[int], shape: tuple[int, ...], dtype: Any) -> tuple[Any, Any, Any]:
    """Counts on a grid of (number, sum in each class): one shifted addition for each kind and each number of it."""
    grid = np.zeros(shape, dtype=dtype)
    grid[(0,) * len(shape)] = 1
    for thickness, own, number in _each(kinds):
        if number == 0:
            continue
        step = thickness // steps[own]
        grown = grid.copy()
        for taken in range(1, min(number, shape[0] - 1) + 1):
            shift = taken * step
            if shift >= shape[own + 1]:
                break
            source = [slice(0, shape[0] - taken), *(slice(None) for _ in shape[1:])]
            target = [slice(taken, None), *(slice(None) for _ in shape[1:])]
            source[own + 1], target[own + 1] = slice(0, shape[own + 1] - shift), slice(shift, None)
            grown[tuple(target)] += grid[tuple(source)]
        grid = grown
    found = np.nonzero(grid)
    return found[0].astype(np.int64), np.stack(found[1:], axis=1).astype(np.int64), grid[found]


def _listed(kinds: Kinds, steps: list[int], shape: tuple[int, ...], dtype: Any) -> tuple[Any, Any, Any]:
    """The same for sums too sparse for a grid: a sorted list of the distinct ones, merged kind by kind."""
    width = len(shape)
    rows = np.zeros((1, width), dtype=np.int64)
    ways = np.ones(1, dtype=dtype)
    for thickness, own, number in _each(kinds):
        if number == 0:
            continue
        shift = np.zeros(width, dtype=np.int64)
        shift[0], shift[own + 1] = 1, thickness // steps[own]
        parts, counts = [rows], [ways]
        for taken in range(1, min(number, shape[0] - 1) + 1):
            fits = rows[:, 0] + taken < shape[0]
            parts.append(rows[fits] + taken * shift)
            counts.append(ways[fits])
        rows, place = np.unique(np.concatenate(parts), axis=0, return_inverse=True)
        if len(rows) > _MOST_SUMS:
            raise FitError(f"the drawer makes more than {_MOST_SUMS:,} distinct stacks; narrow base_count or head_count")
        added = np.zeros(len(rows), dtype=dtype)
        np.add.at(added, place.ravel(), np.concatenate(counts))
        ways = added
    return rows[:, 0], rows[:, 1:], ways


def first_members(stacks: Stacks, number: int, sums: tuple[int, ...], most: int) -> list[tuple[int, ...]]:
    """The first `most` of `stacks.members`."""
    return list(itertools.islice(stacks.members(number, sums), most))
