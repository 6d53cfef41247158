"""Outputs along one input, as columns: the value, the band that its limits leave, and how often it is below nothing.

Draws are the same for every point of a curve, so that it is smooth and only the input along it moves.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import Row, TopEnd, lowered_changed
from topend.errors import ArgumentError, MissingInputError, UnknownNameError, must_be, must_count
from topend.evaluation import evaluate_columns, input_unit, needs_message
from topend.physics import wiring
from topend.quantities import INPUTS, OUTPUTS, output
from topend.study.axes import checked_input, read_values
from topend.uncertainty import Moved, moved_inputs, placed
from topend.units import from_si, quantity, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Curve", "contact_probability", "curve"]


@dataclass(frozen=True, eq=False)
class Curve:
    """Outputs along one input: `path`, its values `at` in `unit`, and by output arrays of the same length in the outputs' units.

    `value` as stated. `low` and `high`, between which 95 % of the draws lie, and `below` the share of the draws whose value is 0 or
    less: for a clearance, the probability that it touches; all three empty without draws. NaN where a point is no top end.

    Made by `te.curve`, whose example shows one.
    """

    path: str
    unit: str
    at: NDArray[np.float64]
    value: dict[str, NDArray[np.float64]]
    low: dict[str, NDArray[np.float64]]
    high: dict[str, NDArray[np.float64]]
    below: dict[str, NDArray[np.float64]]
    #: the outputs' units, by name
    units: dict[str, str] = dataclasses.field(default_factory=dict)

    @property
    def columns(self) -> dict[str, NDArray[np.float64]]:
        """The whole as columns by heading: the input, then each output with its unit, its ends and its share below 0."""
        made = {f"{self.path} [{self.unit}]": self.at}
        for name, value in self.value.items():
            unit = self.units[name] if name in self.units else OUTPUTS[name].unit
            head = name if unit == "–" else f"{name} [{unit}]"
            made[head] = value
            if name in self.low:
                made |= {f"{head} low": self.low[name], f"{head} high": self.high[name], f"{name} share below 0": self.below[name]}
        return made

    def __len__(self) -> int:
        return len(self.at)


def curve(top: TopEnd, outputs: str | Iterable[str], *, draws: int = 0, seed: int = 0, threads: int = 1, **along: Any) -> Curve:
    """`outputs` of `top` along one input, as a `Curve`.

    Parameters: `outputs` one name of the outputs table, or of an output that `top` knows of packs, or several. `draws` from `seed`
    between the limits of all other inputs, stated or assumed, for the band; 0 for none. `along` is the input and its values, by the
    last name of its path (``crank_speed=``) or by the whole path in a mapping (``**{"head.recess_offset": ...}``): a range as text
    ("2000:14000:500 rpm"), a list, or an array quantity. A deck reading stays bound to its parts, as in `TopEnd.replace`. Raises
    `UnknownNameError`, `StudyError` for values that do not fit, `MissingInputError` for an output that cannot be had.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm"), cylinder=te.Cylinder(bore="54 mm"), running=te.Running(crank_speed="12000 rpm"))
    >>> made = te.curve(top, "closure_total", crank_speed="3000:15000:6000 rpm", draws=2000)
    >>> made.at.tolist(), bool((made.low["closure_total"] < made.value["closure_total"]).all())
    ([3000.0, 9000.0, 15000.0], True)

    Along the turn or across the bore it goes by the probe: ``crank_angle=`` for outputs ``..._at_angle``, ``radius=`` for those
    ``..._at_radius``.
    """
    known = top.outputs
    names = [output(name, known).name for name in ([outputs] if isinstance(outputs, str) else outputs)]
    if len(along) != 1:
        raise ArgumentError(f'curve takes one input to go along, such as crank_speed="2000:14000:500 rpm"; got {sorted(along) or "none"}')
    ((given, values),) = along.items()
    path = _path(given)
    units = {name: known[name].unit for name in names}
    read = read_values(path, values)
    at = np.asarray(read.shown, dtype=np.float64)
    unit = input_unit(path)
    running = (path.startswith("running.") and path in top.row.values) or path.startswith("probe.")
    rows = _rows_running(top, path, at, unit) if running else [_row(top, path, float(value), unit) for value in at]
    value: dict[str, list[float]] = {name: [] for name in names}
    low: dict[str, list[float]] = {name: [] for name in names if draws}
    high: dict[str, list[float]] = {name: [] for name in names if draws}
    below: dict[str, list[float]] = {name: [] for name in names if draws}
    drawn = _Draws(names, draws, seed, threads, path if running else None)
    moved: list[Moved] = []
    together: dict[str, NDArray[np.float64]] = {}
    for index, row in enumerate(rows):
        planned = wiring.plan(row.structure, tuple(names))
        if planned.missing:
            name, lack = next(iter(planned.missing.items()))
            raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))
        if running:
            # they differ in one column: all points are the rows of one evaluation
            if not together:
                column = {path: np.array([one.values[path] for one in rows])}
                together, _ = evaluate_columns(row.structure, row.columns() | column, names)
            stated = {name: found[index : index + 1] for name, found in together.items()}
        else:
            stated, _ = evaluate_columns(row.structure, row.columns(), names)
        for name in names:
            value[name].append(float(from_si(stated[name], units[name])[0]))
        if not draws:
            continue
        # what is drawn does not depend on how it runs
        moved = moved if running and moved else [one for one in _moved(row, planned) if path not in one.together]
        drawn.add(row, moved)
    for values_of in drawn.points():
        for name in names:
            shown = from_si(values_of[name], units[name])
            shown = shown[np.isfinite(shown)]
            ends = _ends(shown)
            low[name].append(ends[0])
            high[name].append(ends[1])
            below[name].append(float(np.mean(shown <= 0.0)) if len(shown) else math.nan)
    made = [{name: np.array(column) for name, column in table.items()} for table in (value, low, high, below)]
    return Curve(path, unit, at, made[0], made[1], made[2], made[3], units)


def contact_probability(top: TopEnd, *, draws: int = 100_000, seed: int = 0, threads: int = 1) -> float:
    """Share of `draws` between the limits of every input, stated or assumed, in which crown and head touch at the stated speed.

    Throttle shut; what is not modelled is not in it, so a share of 0 is no proof that they do not. Its standard error is
    √(p(1 - p)/draws). Raises `MissingInputError` where `running_clearance` cannot be had.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm"), cylinder=te.Cylinder(bore="54 mm"), running=te.Running(crank_speed="12000 rpm"))
    >>> te.contact_probability(top)  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    topend.errors.MissingInputError: running_clearance cannot be had: it needs ...
    """
    must_be("contact_probability", "top", top, TopEnd)
    must_count("contact_probability", "draws", draws)
    names = ["running_clearance"]
    row = top.row
    planned = wiring.plan(row.structure, tuple(names))
    if planned.missing:
        needs = planned.missing[names[0]].needs
        raise MissingInputError(names[0], needs, needs_message(names[0], needs))
    drawn = _Draws(names, draws, seed, threads)
    drawn.add(row, _moved(row, planned))
    (values,) = drawn.points()
    return float(np.mean(values[names[0]] <= 0.0))


def _path(given: str) -> str:
    """The input that is meant: a whole path, or the last name of just one."""
    if "." in given:
        checked_input(given)
        return given
    found = [path for path in INPUTS if path.rpartition(".")[2] == given]
    # how it runs and where is looked are what curves go along: of several inputs of a name theirs is meant
    found = [path for path in found if path.startswith(("running.", "probe."))] or found
    if len(found) != 1:
        more = f": {', '.join(found)}" if found else ""
        if found:
            raise ArgumentError(
                f'{given} is the last name of {len(found)} inputs{more}; give the whole path: curve(..., **{{"path": values}})'
            )
        raise UnknownNameError(given, INPUTS, what="input", searched="the inputs table")
    return found[0]


def _rows_running(top: TopEnd, path: str, at: NDArray[np.float64], unit: str) -> list[Row]:
    """Rows that differ in how they run, or in where is looked, alone: to that nothing is bound."""
    row = top.row
    limits = {one: ends for one, ends in row.limits.items() if one != path}
    known = row.structure.with_given([path])
    return [
        dataclasses.replace(row, structure=known, values={**row.values, path: to_si(float(value), unit)}, limits=limits) for value in at
    ]


def _row(top: TopEnd, path: str, value: float, unit: str) -> Row:
    row, refused = lowered_changed(top, {path: quantity(value, unit)})
    if refused is not None:
        raise refused
    return row


def _moved(row: Row, planned: wiring.Plan) -> list[Moved]:
    return [one for one in moved_inputs(row, planned, row.columns()) if one.basis != "written"]


class _Draws:
    """Draws between limits for many points, evaluated several points at a time, so that columns are worth replaying."""

    def __init__(self, names: list[str], draws: int, seed: int, threads: int, running: str | None = None) -> None:
        self.names, self.draws, self.seed, self.threads = names, draws, seed, threads
        #: the one input that differs between the points, where it is one of how it runs
        self.running = running
        self.waiting: list[tuple[Row, list[Moved]]] = []
        #: for points that differ in that alone: columns of a full stretch without it, what does not depend on it worked out in them
        self.tiled: dict[str, Any] | None = None

    def add(self, row: Row, moved: list[Moved]) -> None:
        """One more point: its row, and what is drawn in it."""
        self.waiting.append((row, moved))

    def points(self) -> Iterator[dict[str, NDArray[np.float64]]]:
        """SI outputs of the draws of each point, in order. Rows are not judged, so that a gap that is gone is a number below 0."""
        at_once = max(1, _ROWS_AT_ONCE // max(1, self.draws))
        unit: NDArray[np.float64] = np.empty((0, 0))
        for start in range(0, len(self.waiting), at_once):
            part = self.waiting[start : start + at_once]
            for alike in _alike(part):
                whole = self.running is not None and len(alike) == at_once
                made = []
                for row, moved in alike[: 1 if whole else None] if self.tiled is None or not whole else []:
                    if len(unit) != len(moved):
                        unit = np.random.default_rng(self.seed).random((len(moved), self.draws))
                    at = (one.place + one.low + (one.high - one.low) * draw for one, draw in zip(moved, unit, strict=True))
                    made.append(placed(row, moved, at))
                if self.running is None or not whole:
                    columns = {path: self._joined([one[path] for one in made]) for path in made[0]}
                    yield from self._evaluated(alike[0][0], columns, len(alike))
                    continue
                if self.tiled is None:
                    fixed = self._fixed(alike[0][0], made[0], self.running)
                    self.tiled = {path: np.tile(one, at_once) if len(one) != 1 else one for path, one in fixed.items()}
                columns = self.tiled | {self.running: np.repeat([row.values[self.running] for row, _ in alike], self.draws)}
                yield from self._evaluated(alike[0][0], columns, len(alike))

    def _fixed(self, row: Row, columns: dict[str, Any], path: str) -> dict[str, Any]:
        """What the outputs take that does not depend on `path`: inputs, and values worked out once instead of for every point."""
        planned = wiring.plan(row.structure.with_given(columns), tuple(self.names))
        moving, taken = {path}, set(self.names)
        for step in planned.steps:
            if moving.intersection(step.takes):
                moving.add(step.name)
                taken.update(step.takes)
        values = wiring.run(planned, columns)
        # a pair of angles is no column: it is worked out anew of what it takes, from the last step back
        for step in reversed(planned.steps):
            if step.name in taken - moving and not isinstance(values[step.name], np.ndarray):
                moving.add(step.name)
                taken.update(step.takes)
        return {name: values[name] for name in taken - moving}

    def _evaluated(self, row: Row, columns: dict[str, Any], points: int) -> Iterator[dict[str, NDArray[np.float64]]]:
        values, _ = evaluate_columns(row.structure.with_given(columns), columns, self.names, judge=False, threads=self.threads)
        for index in range(points):
            here = slice(index * self.draws, (index + 1) * self.draws)
            yield {name: value[here] if len(value) != 1 else value for name, value in values.items()}

    def _joined(self, columns: list[NDArray[np.float64]]) -> NDArray[np.float64]:
        """Columns of the points one after the other; as one value where all of them have the same."""
        if all(len(one) == 1 and one[0] == columns[0][0] for one in columns):
            return columns[0]
        return np.concatenate([np.broadcast_to(one, (self.draws,)) for one in columns])


def _alike(points: list[tuple[Row, list[Moved]]]) -> Iterator[list[tuple[Row, list[Moved]]]]:
    """Stretches of points whose rows have one structure and move the same inputs."""
    for _, stretch in itertools.groupby(points, key=lambda one: (one[0].structure, tuple(moved.path for moved in one[1]))):
        yield list(stretch)


#: Rows that are evaluated together: enough to be replayed in blocks, few enough to stay small.
_ROWS_AT_ONCE: Final = 262_144


def _ends(draws: NDArray[np.float64]) -> tuple[float, float]:
    count = len(draws)
    if not count:
        return math.nan, math.nan
    first, last = int(0.025 * count), min(count - 1, int(0.975 * count))
    ordered = np.partition(draws, (first, last))
    return float(ordered[first]), float(ordered[last])
