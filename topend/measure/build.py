"""A top end as a measurement model: what its unknown dimensions make of everything that can be read of it.

The formulas are those of the wiring; one block of rows evaluates many builds with every dimension moved down and up.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import GAP_AT, TopEnd
from topend.errors import MissingInputError, UnknownNameError
from topend.evaluation import default_limits, needs_message
from topend.measure.budget import DIVISORS, Shape
from topend.measure.measured import Measured, unit_of
from topend.physics import squish, wiring
from topend.quantities import INPUTS, OUTPUTS
from topend.units import to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Build", "Dimension", "Seen", "seen_of"]

_GAP: Final = "gap_at"


@dataclass(frozen=True, slots=True)
class Dimension:
    """An unknown of the build: its path, the value it starts from, what is known of it beforehand (`u`, and how), all SI.

    `basis` is ``limits`` (stated), ``assumed`` (limits of a default), ``written`` (no limits: half of the last written decimal), or
    ``free`` (nothing is known; a reading must say).
    """

    path: str
    value: float
    u: float
    basis: str
    shape: Shape = "rectangular"


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


class Build:
    """A top end with some of its dimensions unknown.

    Parameters: `top` the top end; `seen` what is read or wanted of it; `free` paths of which readings tell more than limits do. Unknown
    are the dimensions that bear on `seen` and carry limits, stated or assumed, and those in `free`; with `written`, besides, those without
    limits, to half of their last decimal. Raises `MissingInputError` where something in `seen` cannot be worked out of the top end.
    """

    def __init__(self, top: TopEnd, seen: Sequence[Seen], free: Sequence[str] = (), *, written: bool = False) -> None:
        self.top = top
        self._written = written
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
        self._columns = {path: np.array([value]) for path, value in row.values.items()}
        self.dimensions = tuple(self._found(planned, tuple(free)))
        self._together = {one.path: _together(row.values, row.limits, one.path) for one in self.dimensions}
        given = [path for one in self.dimensions for path in self._together[one.path]]
        self._planned = wiring.plan(structure.with_given(given), self._names)

    @property
    def paths(self) -> tuple[str, ...]:
        """Paths of the unknown dimensions."""
        return tuple(one.path for one in self.dimensions)

    def _found(self, planned: wiring.Plan, free: tuple[str, ...]) -> list[Dimension]:
        row = self.top.row
        known: dict[str, Any] = {**self._columns, **{path: np.array([np.nan]) for path in free if path not in row.values}}
        values = wiring.run(planned, known)
        used = {name for step in planned.steps for name in step.takes} | {one.of for one in self.seen}
        found: dict[str, Dimension] = {}
        for path, value in row.values.items():
            ends = row.limits.get(path)
            if path not in used or _is_copy(row.values, row.limits, path):
                continue
            if ends is not None and ends.high > ends.low:
                u = (ends.high - ends.low) / 2.0 / DIVISORS["rectangular"]
                found[path] = Dimension(path, value, u, "assumed" if path in row.noted else "limits")
            elif path in free:
                found[path] = Dimension(path, value, math.inf, "free")
            elif self._written and path in row.resolutions:
                found[path] = Dimension(path, value, row.resolutions[path] / DIVISORS["rectangular"], "written")
        for node in planned.assumptions:
            ends = default_limits(row, node, values) if node.inputs and node.name not in free else None
            if ends is not None and ends.high > ends.low:
                # the nominal's own limits are in those of the default
                u = (ends.high - ends.low) / 2.0 / DIVISORS["rectangular"]
                found.pop(node.takes[0], None) if node.name.endswith("fitted_thickness") else None
                found[node.name] = Dimension(node.name, float(values[node.name][0]), u, "assumed")
        for path in free:
            if path not in found:
                found[path] = Dimension(path, float(row.values.get(path, math.nan)), math.inf, "free")
        return list(found.values())

    def evaluate(self, dimensions: NDArray[np.float64]) -> NDArray[np.float64]:
        """Values [SI] of what is seen, shape (rows, len(seen)), for dimensions [SI] of shape (rows, len(paths))."""
        rows = dimensions.shape[0]
        columns = dict(self._columns)
        for index, one in enumerate(self.dimensions):
            for path in self._together[one.path]:
                columns[path] = np.ascontiguousarray(dimensions[:, index])
        values = wiring.run(self._planned, columns)
        made = np.empty((rows, len(self.seen)))
        for index, look in enumerate(self.seen):
            if look.of == _GAP:
                assert look.radius is not None
                with np.errstate(all="ignore"):
                    gap = squish.gap_at.raw(radius=np.array([look.radius]), **{name: values[path] for name, path in GAP_AT.items()})
                made[:, index] = gap
            else:
                made[:, index] = values[look.of]
        return made

    def linear(self, at: NDArray[np.float64], steps: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Values and Jacobian of many builds by central differences over one block.

        Parameters: `at` of shape (builds, n), `steps` of shape (n,), both SI. Returns shapes (builds, m) and (builds, m, n).
        """
        builds, count = at.shape
        block = np.repeat(at[:, None, :], 2 * count + 1, axis=1)
        for index in range(count):
            block[:, 2 * index + 1, index] -= steps[index]
            block[:, 2 * index + 2, index] += steps[index]
        made = self.evaluate(block.reshape(-1, count)).reshape(builds, 2 * count + 1, len(self.seen))
        slopes = (made[:, 2::2] - made[:, 1::2]) / (2.0 * steps)[None, :, None]
        return made[:, 0], np.swapaxes(slopes, 1, 2)

    def steps(self, start: NDArray[np.float64], scale: NDArray[np.float64]) -> NDArray[np.float64]:
        """By how much each dimension is moved: its u, or for a free one `scale`, the u of what reads it; never nothing."""
        u = np.array([one.u for one in self.dimensions])
        made = np.where(np.isfinite(u), u, scale)
        return np.where(made > 0.0, made, np.maximum(np.abs(start), 1e-6) * 1e-4)


def _names(one: Seen) -> tuple[str, ...]:
    return tuple(GAP_AT.values()) if one.of == _GAP else (one.of,)


def _is_copy(values: Mapping[str, float], limits: Mapping[str, Any], path: str) -> bool:
    """Whether `path` is a part under the deck reading that is still the top end's own: one value, not two."""
    own = path.removeprefix("deck.")
    return own != path and own in values and values[own] == values[path] and limits.get(own) == limits.get(path)


def _together(values: Mapping[str, float], limits: Mapping[str, Any], path: str) -> tuple[str, ...]:
    copy = f"deck.{path}"
    return (path, copy) if copy in values and _is_copy(values, limits, copy) else (path,)


def shown_si(one: Measured) -> tuple[float, float]:
    """Value and u of a measured value in SI."""
    return to_si(one.value, one.unit), to_si(one.u, one.unit)


def unit_of_seen(one: Seen) -> str:
    """The unit that what is seen is shown in."""
    return "mm" if one.of == _GAP else unit_of(one.of)
