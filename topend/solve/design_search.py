"""One dimension of a half-section moving for the ratio: every place on its range that brings the target, for one row or for many."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import lowered_changed
from topend.errors import AssemblyError, MissingInputError, PartError
from topend.evaluation import evaluate_columns, input_unit, needs_message
from topend.parts import BowlProfile, FlushHead
from topend.physics import wiring
from topend.physics.wiring import Structure
from topend.quantities import OUTPUTS, STATUS
from topend.solve.cutter_limits import judged
from topend.solve.design_answers import DesignedHead, Designs, digits_apart
from topend.solve.design_request import ANGLE, OFFSET, RANGES, Asked
from topend.solve.roots import Scan, edges, roots, scan
from topend.units import Quantity, from_si, quantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Question"]

#: A target is met within this of itself.
_MET: Final = 1e-9
_GREATEST_ANGLE: Final = math.radians(60.0)


class Question:
    """One dimension moving for the ratio: rows of the top end in which it, offset and band angle are columns."""

    #: Places of the first scan, of one design and of each row of many.
    _PLACES: Final = 513
    _PLACES_OF_MANY: Final = 17

    def __init__(self, asked: Asked, path: str, columns: Mapping[str, NDArray[np.float64]], rows: int = 1) -> None:
        self.asked, self.path, self.rows = asked, path, rows
        head = asked.head
        self.twin = {"head.profile.depth": "head.profile.bowl_radius", "head.profile.bowl_radius": "head.profile.depth"}.get(path)
        if self.twin is not None and isinstance(asked.profile, BowlProfile):
            # depth and radius say the same thing
            head = head.replace(profile=asked.profile.replace(**{self.twin.rsplit(".", 1)[1]: None}))
        self.head = head
        # a reading of the assembled volume was taken with another head
        self.changes: dict[str, Any] = {"head": head, **({"assembled": None} if asked.top.assembled is not None else {})}
        first = {one: quantity(from_si(float(column[0]), input_unit(one)), input_unit(one)) for one, column in columns.items()}
        # what is to be designed need not go together as it stands
        row, _ = lowered_changed(asked.top, {**self.changes, **first})
        self.row = row
        moved = {path, *((OFFSET,) if asked.gap else ()), *((ANGLE,) if "squish_inner" in asked.targets else ())}
        self.base = {name: column for name, column in row.columns().items() if name not in moved} | dict(columns)
        self.offset = row.values.get(OFFSET, 0.0)
        self.angle = row.values.get(ANGLE, 0.0)
        self.moved = moved
        self.structure: Structure = row.structure.with_given({*moved, *columns})
        self.not_judged: list[str] = []
        self._refuse_missing()

    def _refuse_missing(self) -> None:
        # the half-section first: what it lacks is asked for, and not a chamber volume in its place
        wanted = ("head.profile.volume", self.asked.target, *(name for name in self.asked.targets if name != self.asked.target))
        planned = wiring.plan(self.structure, wanted)
        if planned.missing:
            name, lack = next(iter(planned.missing.items()))
            name = self.asked.target if name == "head.profile.volume" else name
            raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))

    # --- rows ---

    def placed(self, at: NDArray[np.float64], row: NDArray[np.intp]) -> dict[str, NDArray[np.float64]]:
        """The columns with the dimension at places `at` of rows `row`, and with offset and band angle moved for their targets."""
        columns = {name: column if len(column) == 1 else column[row] for name, column in self.base.items()}
        columns[self.path] = at
        asked = self.asked
        edge = self._target(asked.gap, row) if asked.gap == "squish_edge" else None
        if "squish_inner" in asked.targets:
            columns[ANGLE] = np.full(len(at), self.angle)
            if asked.gap:
                columns[OFFSET] = np.full(len(at), self.offset)
            names = ("squish_inner", "squish_edge", "head.band.radius", "head.band.inner_radius", "head.band.slope")
            known = wiring.run(wiring.plan(self.structure, names), columns)
            now = known["squish_edge"]
            rise = self._target("squish_inner", row) - (now if edge is None else edge) - (known["squish_inner"] - now)
            columns[ANGLE] = np.arctan(known["head.band.slope"] + rise / (known["head.band.radius"] - known["head.band.inner_radius"]))
        if asked.gap:
            columns[OFFSET] = np.full(len(at), self.offset)
            now = wiring.run(wiring.plan(self.structure, (asked.gap,)), columns)[asked.gap]
            columns[OFFSET] = columns[OFFSET] + (self._target(asked.gap, row) - now)
        return columns

    def _target(self, name: str, row: NDArray[np.intp]) -> Any:
        value = self.asked.targets[name]
        chosen: Any = value if np.ndim(value) == 0 or len(value) == 1 else value[row]
        return chosen

    def reached(self, at: NDArray[np.float64], row: NDArray[np.intp]) -> tuple[NDArray[np.float64], NDArray[np.int8]]:
        """What the target comes to, and the status, of each place."""
        if not len(at):
            return np.empty(0), np.empty(0, dtype=np.int8)
        made, code = evaluate_columns(self.structure, self.placed(at, row), [self.asked.target])
        return made[self.asked.target], code

    def off(self, at: NDArray[np.float64], row: NDArray[np.intp]) -> NDArray[np.float64]:
        """How far the target is off at each place; NaN where it cannot be built."""
        short: NDArray[np.float64] = self.reached(at, row)[0] - self._target(self.asked.target, row)
        return short

    def places(self, count: int) -> NDArray[np.float64]:
        """The range of the dimension, of shape (rows, count)."""
        ends = self.asked.limits.get(self.path)
        last = self.path.rsplit(".", 1)[1]
        bore = self.base.get("cylinder.bore", np.array([0.05]))
        if last == "angle":
            low, high = np.zeros(1), np.full(1, _GREATEST_ANGLE)
        elif last == "arc_radius":
            sign = 1.0 if self.row.values[self.path] > 0.0 else -1.0
            low, high = (np.sort(sign * np.array([0.01, 20.0])) * bore[:, None]).T
        else:
            low, high = (end * bore for end in RANGES[last])
        if last == "recess_offset":
            flush = isinstance(self.head, FlushHead)
            low, high = (np.zeros_like(high), high) if flush else (low, np.zeros_like(low))
        if ends is not None:
            low, high = np.full(1, ends[0]), np.full(1, ends[1])
        low, high = (np.broadcast_to(end, (self.rows,))[:, None] for end in (low, high))
        share = np.linspace(0.0, 1.0, count)[None]
        if last == "bowl_radius" and (low > 0.0).all():
            return np.asarray(low * (high / low) ** share)
        return np.asarray(low + (high - low) * share)

    # --- answers ---

    def answers(self, spread: float | None) -> tuple[list[DesignedHead], str | None]:
        """Every head of this one question, and the reason where there is none that meets the targets."""
        seen = scan(self.off, self.places(self._PLACES))
        _, found = roots(self.off, seen, every=True)
        target = float(self.asked.targets[self.asked.target])
        made: list[DesignedHead] = []
        outside: list[str] = []
        none = np.zeros(1, dtype=np.intp)
        for at in found.tolist():
            value, _ = self.reached(np.array([at]), none)
            if not abs(float(value[0]) - target) <= _MET * abs(target):
                continue
            columns = self.placed(np.array([at]), none)
            beyond = self._outside(columns)
            if beyond:
                outside.append(beyond)
                continue
            head = self._head(columns, spread)
            if head is not None:
                made.append(head)
        if made:
            return made, None
        if outside:
            return [], f"{self.path}: {outside[0]}"
        return [], self._why(seen, target)

    def _outside(self, columns: Mapping[str, NDArray[np.float64]]) -> str | None:
        for path in sorted(self.moved - {self.path}):
            ends = self.asked.limits.get(path)
            value = float(columns[path][0])
            if ends is not None and not ends[0] <= value <= ends[1]:
                return (
                    f"{path} would have to be {_shown(path, value)}, outside its limits {_shown(path, ends[0])} to {_shown(path, ends[1])}"
                )
        return None

    def _head(self, columns: Mapping[str, NDArray[np.float64]], spread: float | None) -> DesignedHead | None:
        order = [self.path, *sorted(self.moved - {self.path})]
        dimensions = {path: quantity(from_si(float(columns[path][0]), input_unit(path)), input_unit(path)) for path in order}
        try:
            top = self.asked.top.replace({**self.changes, **dimensions})
        except (AssemblyError, PartError):
            # on the very edge of what can be, rounding may fall outside
            return None
        target = float(self.asked.targets[self.asked.target])
        breaks, not_judged = judged(top, self.asked.cutter)
        self.not_judged += not_judged
        return DesignedHead(self.path, dimensions, top, self.asked.target, target, breaks, spread, self.asked.before)

    def _why(self, seen: Scan, target: float) -> str:
        # what it comes to on the very edges of what can be built counts too
        _, _, reached, _, last = edges(self.off, seen, np.ones(1, dtype=bool))
        places = np.concatenate([seen.places[0], reached])
        values = np.concatenate([seen.values[0], last]) + target
        order = np.argsort(places, kind="stable")
        places, values = places[order], values[order]
        good = np.isfinite(values)
        name = self.asked.target
        span = f"from {_shown(self.path, float(places[0]))} to {_shown(self.path, float(places[-1]))}"
        if not good.any():
            _, code = self.reached(places, np.zeros(len(places), dtype=np.intp))
            codes, counts = np.unique(code, return_counts=True)
            worst = next(status for status in STATUS.values() if status.code == codes[np.argmax(counts)])
            return f"{self.path}: nothing {span} can be built: {worst.meaning}{self._offset_words(places)}"
        low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
        # a target just out of reach is told with as many digits as show it
        digits = max(
            digits_apart(from_si(float(values[at]), OUTPUTS[name].unit), from_si(target, OUTPUTS[name].unit)) for at in (low, high)
        )
        ends = (f"{_output_shown(name, float(values[at]), digits)} at {_shown(self.path, float(places[at]))}" for at in (low, high))
        wanted = _output_shown(name, target, digits)
        return f"{self.path}: {name} {wanted} cannot be had: where it can be built it runs from {' to '.join(ends)}"

    def _offset_words(self, places: NDArray[np.float64]) -> str:
        if not self.asked.gap:
            return ""
        none = np.zeros(1, dtype=np.intp)
        value = float(self.placed(places[len(places) // 2 :][:1], none)[OFFSET][0])
        return f" {self.asked.gap} would take {OFFSET} {_shown(OFFSET, value)}."

    def columns(self) -> Designs:
        """Every row's design, as columns."""
        seen = scan(self.off, self.places(self._PLACES_OF_MANY))
        row, at = roots(self.off, seen, every=False)
        value = self.reached(at, row)[0]
        target = np.broadcast_to(np.asarray(self.asked.targets[self.asked.target]), (self.rows,))
        met = np.abs(value - target[row]) <= _MET * np.abs(target[row])
        row, at = row[met], at[met]
        columns = self.placed(at, row)
        inside = np.ones(len(at), dtype=bool)
        for path in self.moved - {self.path}:
            ends = self.asked.limits.get(path)
            if ends is not None:
                inside &= (columns[path] >= ends[0]) & (columns[path] <= ends[1])
        row, columns = row[inside], {path: columns[path][inside] for path in self.moved}
        count = np.bincount(row, minlength=self.rows)
        first = np.unique(row, return_index=True)[1]
        dimensions = {}
        for path in (self.path, *sorted(self.moved - {self.path})):
            made = np.full(self.rows, np.nan)
            made[row[first]] = columns[path][first]
            dimensions[path] = _quantities(from_si(made, input_unit(path)), input_unit(path))
        built = np.isfinite(seen.values).any(axis=1)
        status = np.where(count > 0, 0, np.where(built, 1, 2)).astype(np.int8)
        return Designs(dimensions, status, count)


def _quantities(values: NDArray[np.float64], unit: str) -> Quantity:
    one: Any = quantity(1.0, unit)
    made: Quantity = values * one
    return made


def _shown(path: str, value: float) -> str:
    unit = input_unit(path)
    return f"{from_si(value, unit):.3f} {unit}"


def _output_shown(name: str, value: float, digits: int) -> str:
    unit = OUTPUTS[name].unit
    return f"{from_si(value, unit):.{digits}f}" + ("" if unit == "–" else f" {unit}")
