"""A study with the outputs asked for, made ready to give any range of its rows.

Variants (combinations of parts) are lowered once, and those of one structure become one set of columns, so that a thousand
heads of one kind are evaluated together.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import READ_WITH, Row, TopEnd, bound, lowered_changed
from topend.errors import MissingInputError, PartError, StudyError
from topend.evaluation import BLOCK, SHARED_BLOCK, Evaluator, needs_message
from topend.physics import wiring
from topend.physics.tape import empty_columns
from topend.quantities import CODES, always, output
from topend.study.axes import KINDS, STACKS, field_of, shown_unit
from topend.study.blocks import Block, GroupRows
from topend.study.description import study_digest, version
from topend.study.sources import Along, Drawn, Fixed, Group, Source, Stack, is_drawn, signature
from topend.study.table import PartColumn, Table, joined
from topend.study.variants import Variants, stream_of, unit_draws
from topend.units import from_si, quantity, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["CHUNK", "Compiled"]

#: Rows made, evaluated and handed on at a time: several blocks, so that what is done once a call costs nothing.
CHUNK: Final = 8 * BLOCK


class Compiled:
    """A study with the outputs asked for, ready to give any range of its rows; `threads` may ask for ranges side by side."""

    def __init__(self, study: Variants, outputs: Iterable[str] | None, *, threads: int = 1) -> None:
        self.study = study
        self._block = BLOCK if threads == 1 else SHARED_BLOCK
        self.version = version()
        self.known = study.top.outputs
        self.axes = study.axes
        self.lengths = tuple(len(axis) for axis in self.axes)
        self.draws = study.draws
        self.rows = len(study)
        strides = [1 if self.draws is None else self.draws[0]]
        for length in reversed(self.lengths[1:]):
            strides.insert(0, strides[0] * length)
        self.strides = tuple(strides[: len(self.lengths)])
        self.choices = [place for place, axis in enumerate(self.axes) if axis.kind is not None]
        self._find_groups()
        limited = tuple(limit.name for limit in study.limits)
        if outputs is None:
            self.outputs = self._all_outputs()
        else:
            asked = [outputs] if isinstance(outputs, str) else outputs
            self.outputs = tuple(dict.fromkeys(output(name, self.known).name for name in asked))
        if not self.outputs:
            raise StudyError("run needs at least one output; topend.glossary() lists them")
        self.computed = tuple(dict.fromkeys((*self.outputs, *limited)))
        self._refuse_missing()
        self._refuse_idle_axes()
        #: in SI, of axes that are short; a long one is converted a block at a time, which takes no memory
        self.si = [[to_si(one.values, one.unit) if len(axis) <= CHUNK else None for one in axis.together] for axis in self.axes]
        self.shown: list[list[NDArray[np.float64]]] = [[one.shown for one in axis.together] for axis in self.axes]
        outside = [[field_of(one.path).outside(one.values, one.unit) for one in axis.together] for axis in self.axes]
        self.outside = [np.logical_or.reduce(masks) if masks else np.zeros(0, dtype=np.bool_) for masks in outside]
        self.inputs = self._inputs()
        self.units = {name: shown_unit(path) for name, path in self.inputs.items()} | {name: self.known[name].unit for name in self.outputs}
        self._drawn: dict[str, NDArray[np.float64]] = {}
        self._needs: dict[Group, frozenset[str]] = {}
        self._evaluators: dict[tuple[Group, bool], Evaluator] = {}

    # --- variants ----------------------------------------------------------------------------------------------------

    def _find_groups(self) -> None:
        study = self.study
        ready: dict[Any, list[tuple[int, dict[str, Source]]]] = {}
        refusals: dict[int, str] = {}
        for number, chosen in enumerate(itertools.product(*(range(self.lengths[place]) for place in self.choices))):
            changes: dict[str, Any] = {}
            for place, index in zip(self.choices, chosen, strict=True):
                kind = self.axes[place].kind
                assert kind is not None
                changes[kind] = self.axes[place].parts[index]
            changes |= {one.path: stand_in(study.top, one.path) for axis in self.axes for one in axis.together}
            try:
                row, refusal = lowered_changed(study.top, changes)
            except PartError as error:
                if not self.choices:
                    raise
                raise PartError(f"{error.title} with {self._variant_text(number)}", error.problems) from None
            sources = self._sources(row, changes)
            code = 0 if refusal is None else CODES[refusal.reason]
            if refusal is not None:
                refusals[code] = str(refusal)
            alike = tuple(sorted((path, signature(source)) for path, source in sources.items() if not isinstance(source, Fixed)))
            ready.setdefault((row.structure, code, alike), []).append((number, sources))
        count = math.prod(self.lengths[place] for place in self.choices)
        self.group_of = np.empty(count, dtype=np.int64)
        self.place_in = np.empty(count, dtype=np.int64)
        self.groups: list[Group] = []
        for (structure, code, _), variants in ready.items():
            for place, (number, _) in enumerate(variants):
                self.group_of[number], self.place_in[number] = len(self.groups), place
            sources_of = {path: tuple(sources[path] for _, sources in variants) for path in variants[0][1]}
            once = {path: many[:1] if all(one == many[0] for one in many) else many for path, many in sources_of.items()}
            self.groups.append(Group(structure, once, code))
        if len(refusals) and all(group.refused for group in self.groups):
            raise StudyError(f"no row of this study goes together: {next(iter(refusals.values()))}")

    def _sources(self, row: Row, changes: Mapping[str, Any]) -> dict[str, Source]:
        """Where each value of a variant's row comes from."""
        top = self.study.top
        along: dict[str, Source] = {}
        # in the order in which `replace` sets them, so that what is set later holds
        set_by = [(one.path, Along(axis, which)) for axis, made in enumerate(self.axes) for which, one in enumerate(made.together)]
        for path, source in sorted(set_by, key=lambda item: item[0].count(".")):
            if path in STACKS:
                stack = f"{STACKS[path]}.0"
                along[f"{stack}.thickness"] = along[f"{stack}.fitted_thickness"] = source
            else:
                along[path] = source
        whole = {kind for kind in KINDS if kind in changes}
        binds = bound(top, changes)
        taken: dict[str, tuple[str, ...]] = {}
        for reading, own in (("deck", top.deck), ("assembled", top.assembled)):
            if own is not None and reading in binds:
                taken[reading] = tuple(name for name in type(own).model_fields if getattr(own, name) != getattr(binds[reading], name))
        made: dict[str, Source] = {}
        for path, value in row.values.items():
            reading, _, inner = path.partition(".")
            if path in along:
                made[path] = along[path]
            elif reading in whole:
                made[path] = self._drawn_or_fixed(path, value, row, f"part {path}")
            elif inner.split(".")[0] not in taken.get(reading, ()) and not top.row.same_stack(path):
                made[path] = self._of_base(path, value)
            elif path in READ_WITH:
                made[path] = self._bound_stack(f"{inner.removesuffix('_thickness')}_gaskets", value)
            else:
                made[path] = self._of_base(inner, value)
        return made

    def _of_base(self, path: str, value: float) -> Source:
        """A value of the study's own top end; one that stands under the deck reading too is drawn once, as the one it is."""
        base = self.study.top.row
        return self._drawn_or_fixed(path, value, base, stream_of(base, path))

    def _drawn_or_fixed(self, path: str, value: float, row: Row, stream: str) -> Fixed | Drawn:
        ends = row.limits.get(path)
        if self.draws is None or ends is None or not ends.low < ends.high:
            return Fixed(value)
        unit = shown_unit(path)
        return Drawn(stream, unit, from_si(ends.low, unit), from_si(ends.high, unit))

    def _bound_stack(self, stack: str, value: float) -> Source:
        values = self.study.top.row.values
        gaskets: list[Fixed | Drawn] = []
        for index in itertools.count():
            path = next((p for p in (f"{stack}.{index}.fitted_thickness", f"{stack}.{index}.thickness") if p in values), None)
            if path is None:
                break
            source = self._of_base(path, values[path])
            assert isinstance(source, (Fixed, Drawn))
            gaskets.append(source)
        return Stack(tuple(gaskets)) if any(isinstance(one, Drawn) for one in gaskets) else Fixed(value)

    # --- what may be asked -------------------------------------------------------------------------------------------

    def _live(self) -> list[Group]:
        return [group for group in self.groups if not group.refused]

    def _all_outputs(self) -> tuple[str, ...]:
        names = always(self.known)
        plans = [wiring.plan(group.structure, names) for group in self._live()]
        return tuple(name for name in names if not any(name in planned.missing for planned in plans))

    def _refuse_missing(self) -> None:
        for number, group in enumerate(self.groups):
            if group.refused:
                continue
            missing = wiring.plan(group.structure, self.computed).missing
            if missing:
                name, lack = next(iter(missing.items()))
                first = int(np.argmax(self.group_of == number))
                which = self._variant_text(first)
                message = needs_message(name, lack.needs)
                raise MissingInputError(name, lack.needs, f"{message}, which {which} does not give" if which else message)

    def _variant_text(self, variant: int) -> str:
        names = []
        for place in reversed(self.choices):
            axis = self.axes[place]
            variant, index = divmod(variant, len(axis))
            names.append(f"{axis.kind} {axis.names[index]!r}")
        return " with ".join(reversed(names))

    def _refuse_idle_axes(self) -> None:
        live = self._live()
        used: list[set[str]] = []
        for group in live:
            planned = wiring.plan(group.structure, self.computed)
            used.append({name for step in planned.steps for name in step.takes} | set(self.computed))
        shown = ", ".join(self.computed)
        for place, axis in enumerate(self.axes):
            if axis.kind is not None:
                if not any(path.split(".")[0] == axis.kind for paths in used for path in paths):
                    raise StudyError(f"the {axis.kind} never changes anything here: none of {shown} depends on it")
                continue
            moved = [
                path
                for group, paths in zip(live, used, strict=True)
                for path, sources in group.sources.items()
                if path in paths and any(isinstance(one, Along) and one.axis == place for one in sources)
            ]
            if not moved:
                names = " and ".join(one.path for one in axis.together)
                raise StudyError(f"{names} never changes anything here: none of {shown} depends on it, with these parts")
        if self.draws is not None:
            drawn = [(group, paths) for group, paths in zip(live, used, strict=True)]
            carried = {path for group, _ in drawn for path, sources in group.sources.items() if any(map(is_drawn, sources))}
            if not carried:
                raise StudyError('sample draws values that carry limits, and none here does; write them as "0.50 mm ± 0.03 mm"')
            if not any(path in paths and any(map(is_drawn, sources)) for group, paths in drawn for path, sources in group.sources.items()):
                raise StudyError(f"sample never changes anything here: none of {shown} depends on {', '.join(sorted(carried))}")

    def _inputs(self) -> dict[str, str]:
        """The columns of what the study set, by name, each with its path: values along axes, then those drawn that an output takes."""
        made = {one.path: one.path for axis in self.axes for one in axis.together}
        streams: set[str] = set()
        for group in self._live():
            taken = {name for step in wiring.plan(group.structure, self.computed).steps for name in step.takes}
            for path, sources in group.sources.items():
                if path not in taken:
                    continue
                stream = path if isinstance(sources[0], Stack) else sources[0].stream if isinstance(sources[0], Drawn) else None
                if stream is not None and stream not in streams and path not in made:
                    made[path] = path
                    streams.add(stream)
        return made

    # --- rows --------------------------------------------------------------------------------------------------------

    def along(self, axis: int, start: int, stop: int, row: NDArray[np.int64]) -> NDArray[np.int64] | slice:
        """Index along an axis of each row; one index for all of them where it is the same, a slice where they follow each other."""
        stride, length = self.strides[axis], self.lengths[axis]
        if start // stride == (stop - 1) // stride:
            return np.array([start // stride % length])
        first = start % length
        if stride == 1 and first + stop - start <= length and self.axes[axis].kind is None:
            return slice(first, first + stop - start)
        passed = row // stride
        passed -= passed // length * length
        return passed

    def draw(self, stream: str, row: NDArray[np.int64]) -> NDArray[np.float64]:
        assert self.draws is not None
        count, seed = self.draws
        if count <= CHUNK:
            known = self._drawn.get(stream)
            if known is None:
                known = self._drawn[stream] = unit_draws(seed, stream, 0, count)
            return known[row % count]
        made = np.empty(len(row))
        first, last = int(row[0]), int(row[-1]) + 1
        done = 0
        while first < last:
            start = first % count
            here = min(last - first, count - start)
            made[done : done + here] = unit_draws(seed, stream, start, here)
            first, done = first + here, done + here
        return made

    def block(self, start: int, stop: int) -> Block:
        """Rows `start` to `stop`, evaluated."""
        return Block(self, start, stop)

    def empty(self, rows: int) -> Table:
        """A table of so many rows to be filled."""
        columns = empty_columns(self.units, rows)
        parts = {str(self.axes[place].kind): PartColumn(np.empty(rows, dtype=np.int32), self.axes[place].names) for place in self.choices}
        return Table(columns, self.units, np.empty(rows, np.int8), np.empty(rows, np.int64), parts, self.version, self)

    def at(self, rows: Iterable[int]) -> Table:
        """Single rows by their number, as a table."""
        tables = [self.block(row, row + 1).table() for row in rows]
        return joined(tables) if tables else self.block(0, 1).table(np.zeros(1, dtype=np.bool_))

    def evaluated(self, group: Group, part: GroupRows) -> tuple[dict[str, NDArray[np.float64]], NDArray[np.int8]]:
        """Outputs in SI and status codes of the rows of one group."""
        columns = {path: part.si(path) for path in group.sources if path in self._needed(group)}
        made, code = self._evaluator(group, judge=True).rows(columns, block=self._block)
        if len(code) != part.count:
            made = {name: np.array(np.broadcast_to(values, (part.count,))) for name, values in made.items()}
            code = np.array(np.broadcast_to(code, (part.count,)))
        suspect = np.flatnonzero(code == CODES["not_a_size"])
        if len(suspect):
            # a part judges a size where it is written, as `outside` does here; what is not a size only as a result of others
            # (a deck beyond the rod's reach) has the reason that the assembly gives for it
            few = {path: column if len(column) == 1 else column[suspect] for path, column in columns.items()}
            code[suspect] = _collisions(group.structure, few, len(suspect))
            plain, _ = self._evaluator(group, judge=False).rows(few)
            good = code[suspect] == 0
            for name in self.computed:
                made[name][suspect[good]] = np.broadcast_to(plain[name], (len(suspect),))[good]
        return made, code

    def _evaluator(self, group: Group, judge: bool) -> Evaluator:
        """One for all chunks of a group: what is recorded once serves the next chunk."""
        known = self._evaluators.get((group, judge))
        if known is None:
            known = self._evaluators[group, judge] = Evaluator(group.structure, self.computed, judge=judge)
        return known

    def _needed(self, group: Group) -> frozenset[str]:
        """The inputs that the outputs or the checks of a group take; no other column is made."""
        known = self._needs.get(group)
        if known is None:
            judged, checking = wiring.checks(group.structure, sizes=True)
            planned = wiring.plan(group.structure, (*self.computed, *checking.wanted))
            taken = {name for step in (*planned.steps, *checking.steps) for name in step.takes}
            taken |= {name for check in judged for name in check.takes}
            known = self._needs[group] = frozenset((*taken, *self.computed))
        return known

    def __reduce__(self) -> Any:
        # to another process goes the description alone
        return Compiled, (self.study, self.outputs)

    @property
    def digest(self) -> str:
        known: str | None = self.__dict__.get("_digest")
        if known is None:
            known = self.__dict__["_digest"] = study_digest(self)
        return known


def _collisions(structure: wiring.Structure, columns: Mapping[str, NDArray[np.float64]], count: int) -> NDArray[np.int8]:
    """Status codes of rows by what an assembly judges, sizes left out."""
    judged, planned = wiring.checks(structure, sizes=False)
    masks = wiring.masks(judged, wiring.run(planned, columns))
    return np.array(np.broadcast_to(wiring.status(judged, masks, CODES), (count,)))


def stand_in(top: TopEnd, path: str) -> Any:
    """A value that any field takes and that is not the top end's own: what a study's structure is found with."""
    unit = shown_unit(path)
    own = top.row.values.get(path)
    return quantity(2.0 if own == to_si(1.0, unit) else 1.0, unit)
