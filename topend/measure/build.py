"""A top end as a measurement model: what its unknown dimensions make of everything that can be read of it.

The formulas are those of the wiring; one block of rows evaluates many builds with every dimension moved down and up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.assembly import GAP_AT, TopEnd
from topend.errors import MissingInputError, PartError, UnknownNameError
from topend.evaluation import needs_message
from topend.extra_outputs import of_the_table
from topend.measure.measured import Measured, unit_of
from topend.physics import squish, wiring
from topend.quantities import INPUTS, OUTPUTS
from topend.uncertainty import Moved, moved_inputs, moving_together, placed
from topend.units import to_si
from topend.wires import off_the_band

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Build", "Seen", "seen_of", "tables_alone"]

_GAP: Final = "gap_at"


@dataclass(frozen=True, slots=True)
class Seen:
    """What a reading looks at: an input path, an output, or the gap at a radius [m]."""

    of: str
    radius: float | None = None

    @property
    def label(self) -> str:
        """The name, with the radius where it has one."""
        return self.of if self.radius is None else f"{self.of} {self.radius * 1e3:g} mm"


def seen_of(one: Measured) -> Seen:
    """What a measured value looks at."""
    return Seen(one.of, None if one.radius is None else one.radius * 1e-3)


def tables_alone(what: str, names: Iterable[str], top: TopEnd) -> None:
    """Refuse `names` that are outputs of packs: readings, and what is worked out of them, are of the tables alone."""
    of_the_table(what, names, top.extra_outputs, "units, readings and verdicts go by the tables of inputs and outputs alone")


class Build:
    """A top end with some of its dimensions unknown.

    Parameters: `top` the top end; `seen` what is read or wanted of it; `free` paths of which readings tell more than limits do. Unknown
    are the dimensions that bear on `seen` and carry limits, stated or assumed, and those in `free`; with `written`, besides, those without
    limits, to half of their last decimal. A default goes with what it was made from, and its dimension is what is added to it
    (`Moved.follows`). Raises `MissingInputError` where something in `seen` cannot be worked out of the top end.

    `dimensions` are `Moved`, of basis ``limits`` (stated), ``assumed`` (limits of a default), ``written``, or ``free``: nothing is known
    then, `u` is infinite, and a reading must say. Raises `PartError` for a wire that lay off the band.
    """

    def __init__(self, top: TopEnd, seen: Sequence[Seen], free: Sequence[str] = (), *, written: bool = False) -> None:
        self.top = top
        self._written = written
        tables_alone("a reading", [look.of for look in seen], top)
        for one in (look.of for look in seen):
            if not (one in OUTPUTS or one == _GAP or ".".join("N" if step.isdigit() else step for step in one.split(".")) in INPUTS):
                raise UnknownNameError(one, [*OUTPUTS, *INPUTS, _GAP], what="output or input", searched="their tables")
        self.seen = tuple(seen)
        row = top.row
        # what is read of an input that the top end does not hold yet starts from the reading
        structure = row.structure.with_given(free)
        names = [name for one in self.seen for name in _names(one)]
        self._names = tuple(dict.fromkeys(names))
        planned = wiring.plan(structure, self._names)
        if planned.missing:
            name, lack = next(iter(planned.missing.items()))
            raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))
        self._on_the_band()
        self.dimensions = tuple(self._found(planned, tuple(free)))
        given = [path for one in self.dimensions for path in one.paths]
        self._planned = wiring.plan(structure.with_given(given), self._names)

    @property
    def paths(self) -> tuple[str, ...]:
        """Paths of the unknown dimensions."""
        return tuple(one.path for one in self.dimensions)

    def _on_the_band(self) -> None:
        """Refuse a wire that lay where no gap is known, on the build as it is stated."""
        radii = [one.radius for one in self.seen if one.of == _GAP and one.radius is not None]
        planned = wiring.plan(self.top.row.structure, (GAP_AT["inner_radius"], GAP_AT["crown_radius"]))
        if not radii or planned.missing:
            return
        values = wiring.run(planned, self.top.values)
        for radius in radii:
            if problem := off_the_band(radius, values):
                raise PartError(_GAP, [problem])

    def _found(self, planned: wiring.Plan, free: tuple[str, ...]) -> list[Moved]:
        row = self.top.row
        known = {**row.columns(), **{path: np.array([np.nan]) for path in free if path not in row.values}}
        moved = moved_inputs(row, planned, known, seen={one.of for one in self.seen}, read=free)
        found = {one.path: one for one in moved if one.basis != "written" or self._written}
        for path in free:
            if path not in found or found[path].basis == "written":
                value = row.values.get(path, math.nan)
                found[path] = Moved(path, moving_together(row, path) if path in row.values else (path,), value, math.inf, "free")
        return list(found.values())

    @property
    def start(self) -> NDArray[np.float64]:
        """Where the dimensions stand as stated, shape (len(paths),), SI."""
        return np.array([one.place for one in self.dimensions])

    def evaluate(self, dimensions: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values [SI] of what is seen, shape (rows, len(seen)), for dimensions [SI] of shape (rows, len(paths))."""
        rows = dimensions.shape[0]
        columns = placed(self.top.row, self.dimensions, np.ascontiguousarray(dimensions.T))
        values = wiring.run(self._planned, columns)
        made = np.empty((rows, len(self.seen)))
        for index, look in enumerate(self.seen):
            if look.of == _GAP:
                assert look.radius is not None
                at = {name: values[path] for name, path in GAP_AT.items()}
                # a wire at the band's edge lay on the band: it does not come off it where an edge is moved within its limits
                at["inner_radius"] = np.minimum(at["inner_radius"], look.radius)
                at["crown_radius"] = np.maximum(at["crown_radius"], look.radius)
                with np.errstate(all="ignore"):
                    gap = squish.gap_at.raw(radius=np.array([look.radius]), **at)
                made[:, index] = gap
            else:
                made[:, index] = values[look.of]
        return made

    def linear(self, at: NDArray[np.float64], steps: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Values and Jacobian of many builds by central differences over one block.

        Parameters: `at` of shape (builds, n), `steps` of shape (n,), both SI. Returns shapes (builds, m) and (builds, m, n).
        """
        return _linear(self.evaluate, at, steps)

    def themselves(self, at: NDArray[np.float64], known: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Values and u [SI] of the dimensions themselves, a default as it then is, not what is added to it.

        Parameters: `at` of shape (n,), `known` their covariance matrix (n, n).
        """
        u = np.sqrt(np.diag(known))
        follows = [index for index, one in enumerate(self.dimensions) if one.follows]
        if not follows:
            return at, u

        def values(block: NDArray[np.float64]) -> NDArray[np.float64]:
            columns = placed(self.top.row, self.dimensions, np.ascontiguousarray(block.T))
            return np.column_stack([np.broadcast_to(columns[self.paths[index]], len(block)) for index in follows])

        made, slopes = _linear(values, at[None], np.where(u > 0.0, u, 1e-9))
        whole, spread = at.copy(), u.copy()
        whole[follows] = made[0]
        spread[follows] = np.sqrt(np.einsum("ki,ij,kj->k", slopes[0], known, slopes[0]))
        return whole, spread

    def steps(self, start: NDArray[np.float64], scale: NDArray[np.float64]) -> NDArray[np.float64]:
        """By how much each dimension is moved: its u, or for a free one `scale`, the u of what reads it; never nothing."""
        u = np.array([one.u for one in self.dimensions])
        made = np.where(np.isfinite(u), u, scale)
        return np.where(made > 0.0, made, np.maximum(np.abs(start), 1e-6) * 1e-4)


def _linear(
    function: Callable[[NDArray[np.float64]], NDArray[np.float64]], at: NDArray[np.float64], steps: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    builds, count = at.shape
    block = np.repeat(at[:, None, :], 2 * count + 1, axis=1)
    for index in range(count):
        block[:, 2 * index + 1, index] -= steps[index]
        block[:, 2 * index + 2, index] += steps[index]
    made = function(block.reshape(-1, count)).reshape(builds, 2 * count + 1, -1)
    slopes = (made[:, 2::2] - made[:, 1::2]) / (2.0 * steps)[None, :, None]
    return made[:, 0], np.swapaxes(slopes, 1, 2)


def _names(one: Seen) -> tuple[str, ...]:
    return tuple(GAP_AT.values()) if one.of == _GAP else (one.of,)


def shown_si(one: Measured) -> tuple[float, float]:
    """Value and u of a measured value in SI."""
    return to_si(one.value, one.unit), to_si(one.u, one.unit)


def unit_of_seen(one: Seen) -> str:
    """The unit that what is seen is shown in."""
    return "mm" if one.of == _GAP else unit_of(one.of)
