"""Every place on a range where many functions, one a row, take a value: a scan, its gaps and turns looked into, and brackets closed."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.optimize.elementwise import find_root

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Rows = NDArray[np.intp]
    Column = NDArray[np.float64]

__all__ = ["Scan", "edges", "roots", "scan"]

#: Halvings of an interval between a place that can be and one that cannot: to 1e-10 of a step of the scan.
_HALVINGS: Final = 33
#: Thirds of an interval around a turn that does not reach 0: to 1e-8 of a step, where a turn is flat.
_THIRDS: Final = 40


class Scan:
    """What a function came to at the places of a range: `places` and `values` of shape (rows, n), NaN where it cannot be."""

    def __init__(self, places: Column, values: Column) -> None:
        self.places = places
        self.values = values


def scan(work: Callable[[Column, Rows], Column], places: Column) -> Scan:
    """`work` at `places`, of shape (rows, n) ascending in each row. `work` takes places and the rows they belong to, flat."""
    rows, count = places.shape
    values = work(places.ravel(), np.repeat(np.arange(rows), count)).reshape(rows, count)
    return Scan(places, values)


def roots(work: Callable[[Column, Rows], Column], seen: Scan, *, every: bool) -> tuple[Rows, Column]:
    """The rows and places where `work` is 0, ascending; with `every` False, looked for in gaps and turns only in rows that have none yet.

    A jump over 0 is no root: a place counts where the function comes to 0 within rounding.
    """
    places, values = seen.places, seen.values
    rows_at, low, high = _crossings(values, places)
    exact_rows, exact_column = np.nonzero(values == 0.0)
    exact = places[exact_rows, exact_column]
    have = np.zeros(len(places), dtype=bool)
    have[rows_at] = True
    have[exact_rows] = True
    open_rows = np.ones(len(places), dtype=bool) if every else ~have
    if open_rows.any():
        for more in (_at_edges(work, seen, open_rows), _at_turns(work, seen, open_rows)):
            rows_at, low, high = (np.concatenate(pair) for pair in zip((rows_at, low, high), more, strict=True))
    if not len(rows_at):
        order = np.lexsort((exact, exact_rows))
        return exact_rows[order], exact[order]
    # the row goes along as a number: rows that are done with fall out of the work
    finder: Any = find_root
    found = finder(lambda at, row: work(at, row.astype(np.intp)), (low, high), args=(rows_at.astype(float),))
    good = np.isfinite(found.f_x)
    rows_all = np.concatenate([rows_at[good], exact_rows])
    at_all = np.concatenate([found.x[good], exact])
    order = np.lexsort((at_all, rows_all))
    rows_all, at_all = rows_all[order], at_all[order]
    # a crossing at a place of the scan is found from either side
    again = np.zeros(len(at_all), dtype=bool)
    again[1:] = (rows_all[1:] == rows_all[:-1]) & (np.abs(at_all[1:] - at_all[:-1]) <= 1e-12 + 1e-9 * np.abs(at_all[1:]))
    return rows_all[~again], at_all[~again]


def _crossings(values: Column, places: Column) -> tuple[Rows, Column, Column]:
    row, column = np.nonzero(values[:, :-1] * values[:, 1:] < 0.0)
    return row, places[row, column], places[row, column + 1]


def edges(work: Callable[[Column, Rows], Column], seen: Scan, open_rows: NDArray[np.bool_]) -> tuple[Rows, Column, Column, Column, Column]:
    """The very edges of what can be, in the rows that are open: row, the scan's last place that can be, the edge, `work` at both."""
    good = np.isfinite(seen.values)
    row, column = np.nonzero((good[:, :-1] != good[:, 1:]) & open_rows[:, None])
    left = good[row, column]
    inside = np.where(left, seen.places[row, column], seen.places[row, column + 1])
    outside = np.where(left, seen.places[row, column + 1], seen.places[row, column])
    start = np.where(left, seen.values[row, column], seen.values[row, column + 1])
    reached, value = inside.copy(), start.copy()
    for _ in range(_HALVINGS if len(row) else 0):
        middle = 0.5 * (reached + outside)
        made = work(middle, row)
        can = np.isfinite(made)
        reached, value = np.where(can, middle, reached), np.where(can, made, value)
        outside = np.where(can, outside, middle)
    return row, inside, reached, start, value


def _at_edges(work: Callable[[Column, Rows], Column], seen: Scan, open_rows: NDArray[np.bool_]) -> tuple[Rows, Column, Column]:
    """Brackets between the last place of the scan that can be and the very edge of what can be."""
    row, inside, reached, start, value = edges(work, seen, open_rows)
    crosses = (start * value < 0.0) | (value == 0.0)
    return row[crosses], np.minimum(inside, reached)[crosses], np.maximum(inside, reached)[crosses]


def _at_turns(work: Callable[[Column, Rows], Column], seen: Scan, open_rows: NDArray[np.bool_]) -> tuple[Rows, Column, Column]:
    """Brackets on either side of a turn that reaches over 0 between the places of the scan."""
    size = np.abs(seen.values)
    same = (seen.values[:, 1:-1] * seen.values[:, :-2] > 0.0) & (seen.values[:, 1:-1] * seen.values[:, 2:] > 0.0)
    row, column = np.nonzero(same & (size[:, 1:-1] <= size[:, :-2]) & (size[:, 1:-1] <= size[:, 2:]) & open_rows[:, None])
    if not len(row):
        none = np.empty(0)
        return row, none, none
    low, high = seen.places[row, column], seen.places[row, column + 2]
    sign = np.sign(seen.values[row, column + 1])
    left, right = low.copy(), high.copy()
    best, deepest = seen.places[row, column + 1].copy(), size[row, column + 1].copy()
    for _ in range(_THIRDS):
        one, two = left + (right - left) / 3.0, right - (right - left) / 3.0
        at_one, at_two = work(one, row) * sign, work(two, row) * sign
        for at, value in ((one, at_one), (two, at_two)):
            better = value < deepest
            best, deepest = np.where(better, at, best), np.where(better, value, deepest)
        keep = at_one < at_two
        left, right = np.where(keep, left, one), np.where(keep, two, right)
    over = deepest <= 0.0
    rows = np.concatenate([row[over], row[over]])
    return rows, np.concatenate([low[over], best[over]]), np.concatenate([best[over], high[over]])
