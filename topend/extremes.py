"""Worst case over limits: how far an output can go with every input at one of its limits, stated or assumed.

Limits here are walls, not a spread: what they enclose may all happen at once. `topend.uncertainty` tells what is likely.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import MissingInputError, listed, must_be
from topend.evaluation import input_unit, needs_message
from topend.physics import wiring
from topend.quantities import output
from topend.uncertainty import Moved, moved_inputs, placed
from topend.units import from_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Extremes", "ends_of", "extremes"]

#: What sums of sizes in SI differ by for rounding.
_ROUNDING: Final = 1e-15


@dataclass(frozen=True)
class Extremes:
    """An output as stated and at its worst, in the unit of the outputs table, and at which limits of the inputs that is.

    `at_low` and `at_high` hold the inputs that matter, by path, each in the unit of the inputs table.

    Made by `te.extremes`, whose example shows one.
    """

    name: str
    value: float
    low: float
    high: float
    unit: str
    at_low: dict[str, float]
    at_high: dict[str, float]


def extremes(top: TopEnd, outputs: Iterable[str]) -> dict[str, Extremes]:
    """Least and greatest value of each of `outputs`, every input that carries limits at one of them.

    An input is put at the limit that takes the output that way while all others are as stated; that is the worst case where an output
    goes one way with each input over its limits, as sums and differences of sizes do. Inputs that do nothing alone, or the same either
    way, are tried together with all others, one after another: two sizes of a fit that has play at their far limits only, or a
    difference that may go to either side. An end that lies inside the limits and not at them, such as parts that might grow exactly
    alike, is not searched for: that end is the nearest of those tried. Raises as `evaluate`.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.01 mm")])
    >>> edge = te.extremes(top, ["squish_edge"])["squish_edge"]
    >>> round(edge.low, 9), round(edge.high, 9)
    (0.96, 1.04)
    """
    must_be("extremes", "top", top, TopEnd)
    listed("outputs", outputs, "side_room")
    known = top.outputs
    names = [output(name, known).name for name in outputs]
    planned = wiring.plan(top.row.structure, tuple(names))
    if planned.missing:
        name, lack = next(iter(planned.missing.items()))
        raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))
    made = {}
    for name, (value, low, high, at_low, at_high) in ends_of(top, names).items():
        unit = known[name].unit
        made[name] = Extremes(name, from_si(value, unit), from_si(low, unit), from_si(high, unit), unit, at_low, at_high)
    return made


def ends_of(top: TopEnd, names: Iterable[str]) -> dict[str, tuple[float, float, float, dict[str, float], dict[str, float]]]:
    """As `extremes` for any quantities of the wiring that can be had, in SI: value, least, greatest, and the inputs' places there."""
    names = list(names)
    row = top.row
    planned = wiring.plan(row.structure, tuple(names))
    moved = [one for one in moved_inputs(row, planned, top.values, seen=names) if one.basis != "written"]
    # one block: as stated, then each input alone at its lower and at its upper limit
    count = len(moved)
    alone = np.zeros((count, 2 * count + 1))
    for index, one in enumerate(moved):
        alone[index, 2 * index + 1], alone[index, 2 * index + 2] = one.low, one.high
    values = _run(top, moved, alone, names)
    made = {}
    for name in names:
        of = np.broadcast_to(values[name], (2 * count + 1,))
        down, up = of[1::2], of[2::2]
        ends = np.zeros((count, 2))
        for index, one in enumerate(moved):
            # where both limits take it the same way, the one that takes it further; where neither moves it, as stated
            ends[index, 0] = one.low if down[index] < min(up[index], of[0]) else one.high if up[index] < of[0] else 0.0
            ends[index, 1] = one.low if down[index] > max(up[index], of[0]) else one.high if up[index] > of[0] else 0.0
        # what alone does nothing (a fit that is tight as stated), or the same either way (a difference in growth of nothing), may do
        # otherwise together with others
        doubtful = [index for index in range(count) if (down[index] - of[0]) * (up[index] - of[0]) >= 0.0]
        if doubtful:
            for side, sign in enumerate((-1.0, 1.0)):
                ends[:, side] = _furthest(top, moved, name, ends[:, side], doubtful, sign)
        low, high = np.broadcast_to(_run(top, moved, ends, [name])[name], (2,))
        made[name] = float(of[0]), float(low), float(high), _at(moved, ends[:, 0]), _at(moved, ends[:, 1])
    return made


def _furthest(
    top: TopEnd, moved: list[Moved], name: str, start: NDArray[np.float64], doubtful: list[int], sign: float
) -> NDArray[np.float64]:
    """Moves that take `name` furthest (down for a `sign` of -1, up for +1), one input at a time to either limit or back, from `start`
    and from it with each of the `doubtful` inputs at either limit; `start` itself where nothing goes further than by rounding."""
    count = len(moved)
    places = np.array([(one.low, 0.0, one.high) for one in moved])
    begun = [start]
    for index in doubtful:
        for place in places[index]:
            if place != start[index]:
                begun.append(np.where(np.arange(count) == index, place, start))
    at = np.array(begun).T

    def reached(by: NDArray[np.float64]) -> NDArray[np.float64]:
        found = sign * np.broadcast_to(_run(top, moved, by, [name])[name], (by.shape[1],))
        return np.where(np.isnan(found), -np.inf, found)

    own = np.broadcast_to(reached(at), (at.shape[1],)).copy()
    first = own[0]
    # every round moves one input a start; a sum of clipped terms is at its end after a few
    for _ in range(2 * count):
        tried = np.repeat(at[:, :, None], 3 * count, axis=2)
        for index in range(count):
            tried[index, :, 3 * index : 3 * index + 3] = places[index]
        all_reached = reached(tried.reshape(count, -1)).reshape(at.shape[1], 3 * count)
        best = all_reached.argmax(axis=1)
        further = all_reached[np.arange(len(best)), best]
        better = further > own + 1e-12 * np.abs(own) + _ROUNDING
        if not better.any():
            break
        at = np.where(better, tried[:, np.arange(len(best)), best], at)
        own = np.where(better, further, own)
    most = int(own.argmax())
    return at[:, most] if own[most] > first + 1e-12 * abs(first) + _ROUNDING else start


def _at(moved: list[Moved], by: NDArray[np.float64]) -> dict[str, float]:
    made = {}
    for one, move in zip(moved, by, strict=True):
        if not move:
            continue
        made[one.path] = float(from_si(one.value + move, input_unit(one.path)))
        for other in one.tied:
            stands = float(other.at(one, np.array([one.place + move]))[0]) + (other.value if other.follows else 0.0)
            made[other.path] = float(from_si(stands, input_unit(other.path)))
    return made


def _run(top: TopEnd, moved: list[Moved], by: NDArray[np.float64], names: list[str]) -> dict[str, NDArray[np.float64]]:
    """The values of `names` with each of `moved` moved `by`, a row an input and a column a case."""
    row = top.row
    columns = placed(row, moved, [one.place + move for one, move in zip(moved, by, strict=True)])
    return wiring.run(wiring.plan(row.structure.with_given(columns), tuple(names)), columns)
