"""The rows of a study: axes and draws in, any range of rows out, each from the description alone.

Variants (combinations of parts) are lowered once, and those of one structure become one set of columns, so that a thousand
heads of one kind are evaluated together. Where every number of a row comes from is a `Source`: fixed, along an axis, drawn
between limits, or the sum of a stack that a reading was bound to.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
import re
import typing
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, TypeVar

import numpy as np

from topend.assembly import Row, TopEnd, lowered_changed, with_values
from topend.errors import MissingInputError, StudyError, UnknownNameError
from topend.evaluation import BLOCK, evaluate_columns, needs_message
from topend.parts import Part
from topend.physics import wiring
from topend.quantities import ALWAYS, INPUTS, OUTPUTS, STATUS, output
from topend.study_table import PartColumn, Table, joined
from topend.units import Limits, QuantityField, StatedValueError, from_si, kind_of_unit, put_from_si, quantity, stated_column, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["CHUNK", "Axis", "Block", "Compiled", "Limit", "Variants", "checked_input", "description", "read_values", "study_digest"]

#: Rows made, evaluated and handed on at a time: several blocks, so that what is done once a call costs nothing.
CHUNK: Final = 8 * BLOCK
#: Values that one axis may have. More rows come from more axes, or from draws.
MOST_VALUES: Final = 10_000_000
_CODES: Final = {reason: entry.code for reason, entry in STATUS.items()}
#: What may be an axis of whole parts.
KINDS: Final = ("crank", "cylinder", "piston", "head")
_STACKS: Final = {"base.thickness": "base_gaskets", "head_gasket.thickness": "head_gaskets"}


# --- axes ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Values:
    """The values of one path along an axis, in the unit they were given in."""

    path: str
    values: NDArray[np.float64]
    unit: str

    @property
    def shown(self) -> NDArray[np.float64]:
        """In the unit of the inputs table; as given where that is the same."""
        unit = _shown_unit(self.path)
        return self.values if self.unit == unit else from_si(to_si(self.values, self.unit), unit)


@dataclass(frozen=True, eq=False)
class Axis:
    """One axis of the product: paths that move together, or the parts of one kind."""

    together: tuple[_Values, ...] = ()
    kind: str | None = None
    parts: tuple[Part, ...] = ()
    names: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.parts) if self.kind is not None else len(self.together[0].values)

    @property
    def text(self) -> str:
        if self.kind is not None:
            return f"{self.kind}: {len(self.parts)} parts"
        made = []
        for one in self.together:
            shown, unit = one.shown, _shown_unit(one.path)
            made.append(f"{one.path} {shown.min():.6g} to {shown.max():.6g} {unit}")
        return f"{', '.join(made)}: {len(self)} values"


@dataclass(frozen=True, slots=True)
class Limit:
    """Rows are kept where low ≤ output ≤ high, in SI, with slack."""

    name: str
    low: float
    high: float


def _pattern(path: str) -> str:
    return re.sub(r"\.\d+(?=\.|$)", ".N", path)


def checked_input(path: str) -> str:
    """The entry of the inputs table that `path` falls under; `UnknownNameError` where there is none."""
    pattern = _pattern(path)
    if pattern in INPUTS:
        return pattern
    # a part that the deck was read with has its own paths below deck
    inner = pattern.removeprefix("deck.")
    if inner != pattern and inner in INPUTS and inner.split(".")[0] in ("crank", "piston", "cylinder"):
        return inner
    if path in KINDS:
        raise StudyError(f"{path} is a whole part; an axis of parts is .parts({path!r}, [...])")
    raise UnknownNameError(path, INPUTS, what="input", searched="the inputs table")


def _shown_unit(path: str) -> str:
    return INPUTS[checked_input(path)].unit


def _field(path: str) -> QuantityField:
    """The annotation of the part's field at `path`, which knows its range."""
    steps = checked_input(path).split(".")
    if path in _STACKS:
        steps = [_STACKS[path], "N", "thickness"]
    classes: list[Any] = [TopEnd]
    for step in steps:
        if step == "N":
            continue
        annotations = [cls.model_fields[step] for cls in classes if step in cls.model_fields]
        found = next((one for one in _inside(annotations) if isinstance(one, QuantityField)), None)
        if found is not None:
            return found
        classes = [one for one in _inside(annotations) if isinstance(one, type) and issubclass(one, Part)]
    raise AssertionError(f"no field at {path}")  # pragma: no cover - every input has one; a test walks them


def _inside(annotations: Iterable[Any]) -> Iterator[Any]:
    for one in annotations:
        if hasattr(one, "annotation"):
            yield from one.metadata
            yield from _inside([one.annotation])
        elif typing.get_origin(one) is not None:
            yield from _inside(typing.get_args(one))
        else:
            yield one


_RANGE: Final = re.compile(
    r"\s*(?P<start>[+-]?\d*\.?\d+)\s*:\s*(?P<stop>[+-]?\d*\.?\d+)\s*:\s*(?P<step>[+-]?\d*\.?\d+)\s+(?P<unit>\S+)\s*", re.ASCII
)


def read_values(path: str, values: Any) -> _Values:
    """The values of an axis as somebody gave them: an array quantity, a list, or a range as text; `StudyError` for anything else."""
    kind = kind_of_unit(_shown_unit(path))
    assert kind is not None
    if isinstance(values, str) and ":" in values:
        return _read_range(path, values)
    try:
        made, unit = stated_column(values, kind)
    except StatedValueError as error:
        example = f'. A range is written as text: "0.5:1.5:0.05 {kind.shown}" (start:stop:step)' if isinstance(values, str) else ""
        raise StudyError(f"{path} {error}{example}") from None
    if not len(made):
        raise StudyError(f"{path} has no values: an axis needs at least one")
    if len(made) > MOST_VALUES:
        raise StudyError(f"{path} has {len(made)} values; one axis takes {MOST_VALUES}")
    made.flags.writeable = False
    return _Values(path, made, unit)


def _read_range(path: str, text: str) -> _Values:
    """``start:stop:step unit``: start, start + step, ... up to stop, which is among them where a step ends there.

    Every value is the float nearest to the decimal that it would be written as.
    """
    kind = kind_of_unit(_shown_unit(path))
    assert kind is not None
    found = _RANGE.fullmatch(text)
    if found is None or found["unit"] not in kind.units:
        units = ", ".join(kind.units)
        example = f'"0.5:1.5:0.05 {kind.shown}"'
        raise StudyError(f"{path} needs a range as start:stop:step, a space and its unit, such as {example}; got {text!r}. Units: {units}")
    numbers = [found[name] for name in ("start", "stop", "step")]
    decimals = max(len(number.partition(".")[2]) for number in numbers)
    if decimals > 15 or any(len(number) > 20 for number in numbers):
        raise StudyError(f"{path} {text!r} has more digits than a range is made with; give the values as an array")
    start, stop, step = (int(f"{whole}{fraction:0<{decimals}}") for whole, _, fraction in (number.partition(".") for number in numbers))
    if step == 0 or (stop - start) * step < 0:
        raise StudyError(f"{path} {text!r} has a step that does not lead from start to stop; a falling range has a negative step")
    count = (stop - start) // step + 1
    if count > MOST_VALUES:
        raise StudyError(f"{path} {text!r} has {count} values; one axis takes {MOST_VALUES}")
    # whole numbers over a power of ten: one rounding, as in reading the decimal
    made = (start + step * np.arange(count, dtype=np.int64)) / float(10**decimals)
    made.flags.writeable = False
    return _Values(path, made, found["unit"])


# --- draws -----------------------------------------------------------------------------------------------------------


def _unit_draws(seed: int, stream: str, start: int, count: int) -> NDArray[np.float64]:
    """Draws `start` to `start + count` of a stream of numbers from 0 to 1: a counter and a key, so any stretch comes alone."""
    key = int.from_bytes(hashlib.sha256(f"{seed} {stream}".encode()).digest()[:16], "little")
    bits = np.random.Philox(key=key)
    # a step of the counter gives four numbers
    bits.advance(start // 4)
    return np.random.Generator(bits).random(start % 4 + count)[start % 4 :]


# --- the description -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class Variants:
    """The rows of a study as it describes them: what `Study` holds."""

    top: TopEnd
    axes: tuple[Axis, ...] = field(default=())
    #: how many draws, and their seed
    draws: tuple[int, int] | None = field(default=None)
    limits: tuple[Limit, ...] = field(default=())

    def _rows(self) -> int:
        return math.prod(len(axis) for axis in self.axes) * (1 if self.draws is None else self.draws[0])

    def __len__(self) -> int:
        return self._rows()

    def changes(self, row: int) -> dict[str, Any]:
        """What the axes set in row number `row`: parts by kind, values by path, as `TopEnd.replace` takes them."""
        made: dict[str, Any] = {}
        for axis, index in zip(self.axes, self._places(row), strict=False):
            if axis.kind is not None:
                made[axis.kind] = axis.parts[index]
            for one in axis.together:
                made[one.path] = quantity(float(one.values[index]), one.unit)
        return made

    def drawn(self, row: int) -> dict[str, Any]:
        """What `sample` draws in row number `row`, by path: values of the study's own top end, and of its parts along axes.

        A part that another takes the place of is drawn all the same where the deck was read with it: its paths then begin
        with ``deck.``.
        """
        own, parts = self._drawn(row)
        made: dict[str, Any] = {}
        for path, (value, _) in own.items():
            kind = path.partition(".")[0]
            if kind not in parts:
                made[path] = value
            elif kind != "head" and self.top.deck is not None:
                made[f"deck.{path}"] = value
        return made | {path: value for drawn in parts.values() for path, value in drawn.items()}

    def top_end(self, row: int) -> TopEnd:
        """Row number `row` as a `TopEnd`, whose evaluation gives that row to the bit.

        Raises `AssemblyError` where it cannot be assembled, with the reason of the row's status; `PartError` where a value is
        no size (status `not_a_size`).
        """
        changes = self.changes(row)
        own, parts = self._drawn(row)
        for kind, values in parts.items():
            changes[kind] = getattr(with_values(TopEnd.model_construct(**{kind: changes[kind]}), values), kind)
        true = with_values(self.top, {at: value for path, (value, copies) in own.items() for at in (path, *copies)})
        return TopEnd(**true._replaced(changes))

    def _places(self, row: int) -> list[int]:
        """The index along every axis of a row, that of the draw last."""
        if isinstance(row, bool) or not isinstance(row, (int, np.integer)) or not 0 <= row < len(self):
            raise StudyError(f"row must be a whole number from 0 to {len(self) - 1}; got {row!r}")
        lengths = [len(axis) for axis in self.axes] + ([] if self.draws is None else [self.draws[0]])
        places: list[int] = []
        rest = int(row)
        for length in reversed(lengths):
            rest, index = divmod(rest, length)
            places.insert(0, index)
        return places

    def _drawn(self, row: int) -> tuple[dict[str, tuple[Any, tuple[str, ...]]], dict[str, dict[str, Any]]]:
        """Draws of the study's own top end, by path, each with the other paths where that value stands; those of parts, by kind."""
        if self.draws is None:
            return {}, {}
        draw, seed, base = self._places(row)[-1], self.draws[1], self.top.row

        def value(stream: str, path: str, ends: Limits) -> Any:
            unit = _shown_unit(path)
            low, high = from_si(ends.low, unit), from_si(ends.high, unit)
            return quantity(low + (high - low) * float(_unit_draws(seed, stream, draw, 1)[0]), unit)

        own: dict[str, tuple[Any, tuple[str, ...]]] = {}
        for path, ends in base.limits.items():
            if ends.low < ends.high and _stream(base, path) == path:
                copies = tuple(other for other in base.limits if other != path and _stream(base, other) == path)
                own[path] = value(path, path, ends), copies
        parts = {}
        for kind, part in self.changes(row).items():
            if isinstance(part, Part):
                limits = lowered_changed(TopEnd(), {kind: part})[0].limits
                parts[kind] = {path: value(f"part {path}", path, ends) for path, ends in limits.items() if ends.low < ends.high}
        return own, parts


def _stream(base: Row, path: str) -> str:
    """The path whose draw this value has: its own, or, under the deck reading, that of the part which is the very same."""
    own = path.removeprefix("deck.")
    same = own != path and base.values.get(own) == base.values[path] and base.limits.get(own) == base.limits.get(path)
    return own if same else path


def _stand_in(top: TopEnd, path: str) -> Any:
    """A value that any field takes and that is not the top end's own: what a study's structure is found with."""
    unit = _shown_unit(path)
    own = top.row.values.get(path)
    return quantity(2.0 if own == to_si(1.0, unit) else 1.0, unit)


# --- where the numbers of a row come from ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Fixed:
    """A value that is one for the whole of a variant."""

    si: float


@dataclass(frozen=True, slots=True)
class _Along:
    """A value that an axis sets."""

    axis: int
    which: int


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A value drawn between its limits, in the unit of the inputs table."""

    stream: str
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class _Stack:
    """The thickness of a stack under a reading that was bound to it, summed as the assembly does it."""

    gaskets: tuple[_Fixed | _Drawn, ...]


_Source = _Fixed | _Along | _Drawn | _Stack


def _signature(source: _Source) -> Any:
    """What must be the same for variants to be worked out as one set of columns."""
    if isinstance(source, _Drawn):
        return "drawn", source.stream, source.unit
    return "fixed" if isinstance(source, _Fixed) else source


@dataclass(frozen=True, eq=False)
class _Group:
    """Variants that differ in numbers only: one structure, one set of columns."""

    structure: wiring.Structure
    #: by path, the source in each variant; equal ones stand once
    sources: Mapping[str, tuple[_Source, ...]]
    refused: int = 0


class Compiled:
    """A study with the outputs asked for, ready to give any range of its rows."""

    def __init__(self, study: Variants, outputs: Iterable[str] | None) -> None:
        self.study = study
        self.version = _version()
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
            self.outputs = tuple(dict.fromkeys(output(name).name for name in asked))
        if not self.outputs:
            raise StudyError("run needs at least one output; topend.glossary() lists them")
        self.computed = tuple(dict.fromkeys((*self.outputs, *limited)))
        self._refuse_missing()
        self._refuse_idle_axes()
        #: in SI, of axes that are short; a long one is converted a block at a time, which takes no memory
        self.si = [[to_si(one.values, one.unit) if len(axis) <= CHUNK else None for one in axis.together] for axis in self.axes]
        self.shown: list[list[NDArray[np.float64]]] = [[one.shown for one in axis.together] for axis in self.axes]
        outside = [[_field(one.path).outside(one.values, one.unit) for one in axis.together] for axis in self.axes]
        self.outside = [np.logical_or.reduce(masks) if masks else np.zeros(0, dtype=np.bool_) for masks in outside]
        self.inputs = self._inputs()
        self.units = {name: _shown_unit(path) for name, path in self.inputs.items()} | {name: OUTPUTS[name].unit for name in self.outputs}
        self._drawn: dict[str, NDArray[np.float64]] = {}
        self._needs: dict[_Group, frozenset[str]] = {}

    # --- variants ----------------------------------------------------------------------------------------------------

    def _find_groups(self) -> None:
        study = self.study
        ready: dict[Any, list[tuple[int, dict[str, _Source]]]] = {}
        refusals: dict[int, str] = {}
        for number, chosen in enumerate(itertools.product(*(range(self.lengths[place]) for place in self.choices))):
            changes: dict[str, Any] = {}
            for place, index in zip(self.choices, chosen, strict=True):
                kind = self.axes[place].kind
                assert kind is not None
                changes[kind] = self.axes[place].parts[index]
            changes |= {one.path: _stand_in(study.top, one.path) for axis in self.axes for one in axis.together}
            row, refusal = lowered_changed(study.top, changes)
            sources = self._sources(row, changes)
            code = 0 if refusal is None else _CODES[refusal.reason]
            if refusal is not None:
                refusals[code] = str(refusal)
            signature = tuple(sorted((path, _signature(source)) for path, source in sources.items() if not isinstance(source, _Fixed)))
            ready.setdefault((row.structure, code, signature), []).append((number, sources))
        count = math.prod(self.lengths[place] for place in self.choices)
        self.group_of = np.empty(count, dtype=np.int64)
        self.place_in = np.empty(count, dtype=np.int64)
        self.groups: list[_Group] = []
        for (structure, code, _), variants in ready.items():
            for place, (number, _) in enumerate(variants):
                self.group_of[number], self.place_in[number] = len(self.groups), place
            sources_of = {path: tuple(sources[path] for _, sources in variants) for path in variants[0][1]}
            once = {path: many[:1] if all(one == many[0] for one in many) else many for path, many in sources_of.items()}
            self.groups.append(_Group(structure, once, code))
        if len(refusals) and all(group.refused for group in self.groups):
            raise StudyError(f"no row of this study goes together: {next(iter(refusals.values()))}")

    def _sources(self, row: Row, changes: Mapping[str, Any]) -> dict[str, _Source]:
        """Where each value of a variant's row comes from."""
        top = self.study.top
        along: dict[str, _Source] = {}
        # in the order in which `replace` sets them, so that what is set later holds
        set_by = [(one.path, _Along(axis, which)) for axis, made in enumerate(self.axes) for which, one in enumerate(made.together)]
        for path, source in sorted(set_by, key=lambda item: item[0].count(".")):
            if path in _STACKS:
                stack = f"{_STACKS[path]}.0"
                along[f"{stack}.thickness"] = along[f"{stack}.fitted_thickness"] = source
            else:
                along[path] = source
        whole = {kind for kind in KINDS if kind in changes}
        bound = top._bound(changes)
        taken: dict[str, tuple[str, ...]] = {}
        for reading, own in (("deck", top.deck), ("assembled", top.assembled)):
            if own is not None and reading in bound:
                taken[reading] = tuple(name for name in type(own).model_fields if getattr(own, name) != getattr(bound[reading], name))
        made: dict[str, _Source] = {}
        for path, value in row.values.items():
            reading, _, inner = path.partition(".")
            if path in along:
                made[path] = along[path]
            elif reading in whole:
                made[path] = self._drawn_or_fixed(path, value, row, f"part {path}")
            elif inner.split(".")[0] not in taken.get(reading, ()):
                made[path] = self._of_base(path, value)
            elif inner in ("base_thickness", "head_thickness"):
                made[path] = self._bound_stack(f"{inner.removesuffix('_thickness')}_gaskets", value)
            else:
                made[path] = self._of_base(inner, value)
        return made

    def _of_base(self, path: str, value: float) -> _Source:
        """A value of the study's own top end; one that stands under the deck reading too is drawn once, as the one it is."""
        base = self.study.top.row
        return self._drawn_or_fixed(path, value, base, _stream(base, path))

    def _drawn_or_fixed(self, path: str, value: float, row: Row, stream: str) -> _Fixed | _Drawn:
        ends = row.limits.get(path)
        if self.draws is None or ends is None or not ends.low < ends.high:
            return _Fixed(value)
        unit = _shown_unit(path)
        return _Drawn(stream, unit, from_si(ends.low, unit), from_si(ends.high, unit))

    def _bound_stack(self, stack: str, value: float) -> _Source:
        values = self.study.top.row.values
        gaskets: list[_Fixed | _Drawn] = []
        for index in itertools.count():
            path = next((p for p in (f"{stack}.{index}.fitted_thickness", f"{stack}.{index}.thickness") if p in values), None)
            if path is None:
                break
            source = self._of_base(path, values[path])
            assert isinstance(source, (_Fixed, _Drawn))
            gaskets.append(source)
        return _Stack(tuple(gaskets)) if any(isinstance(one, _Drawn) for one in gaskets) else _Fixed(value)

    # --- what may be asked -------------------------------------------------------------------------------------------

    def _live(self) -> list[_Group]:
        return [group for group in self.groups if not group.refused]

    def _all_outputs(self) -> tuple[str, ...]:
        plans = [wiring.plan(group.structure, ALWAYS) for group in self._live()]
        return tuple(name for name in ALWAYS if not any(name in planned.missing for planned in plans))

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
                if path in paths and any(isinstance(one, _Along) and one.axis == place for one in sources)
            ]
            if not moved:
                names = " and ".join(one.path for one in axis.together)
                raise StudyError(f"{names} never changes anything here: none of {shown} depends on it, with these parts")
        if self.draws is not None:
            drawn = [(group, paths) for group, paths in zip(live, used, strict=True)]
            carried = {path for group, _ in drawn for path, sources in group.sources.items() if any(map(_is_drawn, sources))}
            if not carried:
                raise StudyError('sample draws values that carry limits, and none here does; write them as "0.50 mm ± 0.03 mm"')
            if not any(path in paths and any(map(_is_drawn, sources)) for group, paths in drawn for path, sources in group.sources.items()):
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
                stream = path if isinstance(sources[0], _Stack) else sources[0].stream if isinstance(sources[0], _Drawn) else None
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
                known = self._drawn[stream] = _unit_draws(seed, stream, 0, count)
            return known[row % count]
        made = np.empty(len(row))
        first, last = int(row[0]), int(row[-1]) + 1
        done = 0
        while first < last:
            start = first % count
            here = min(last - first, count - start)
            made[done : done + here] = _unit_draws(seed, stream, start, here)
            first, done = first + here, done + here
        return made

    def block(self, start: int, stop: int) -> Block:
        """Rows `start` to `stop`, evaluated."""
        return Block(self, start, stop)

    def empty(self, rows: int) -> Table:
        """A table of so many rows to be filled."""
        columns = {name: np.empty(rows) for name in self.units}
        parts = {str(self.axes[place].kind): PartColumn(np.empty(rows, dtype=np.int32), self.axes[place].names) for place in self.choices}
        return Table(columns, self.units, np.empty(rows, np.int8), np.empty(rows, np.int64), parts, self.version, self)

    def at(self, rows: Iterable[int]) -> Table:
        """Single rows by their number, as a table."""
        tables = [self.block(row, row + 1).table() for row in rows]
        return joined(tables) if tables else self.block(0, 1).table(np.zeros(1, dtype=np.bool_))

    def evaluated(self, group: _Group, part: _Part) -> tuple[dict[str, NDArray[np.float64]], NDArray[np.int8]]:
        """Outputs in SI and status codes of the rows of one group."""
        columns = {path: part.si(path) for path in group.sources if path in self._needed(group)}
        made, code = evaluate_columns(group.structure, columns, self.computed)
        if len(code) != part.count:
            made = {name: np.array(np.broadcast_to(values, (part.count,))) for name, values in made.items()}
            code = np.array(np.broadcast_to(code, (part.count,)))
        suspect = np.flatnonzero(code == _CODES["not_a_size"])
        if len(suspect):
            # a part judges a size where it is written, as `outside` does here; what is not a size only as a result of others
            # (a deck beyond the rod's reach) has the reason that the assembly gives for it
            few = {path: column if len(column) == 1 else column[suspect] for path, column in columns.items()}
            code[suspect] = _collisions(group.structure, few, len(suspect))
            plain, _ = evaluate_columns(group.structure, few, self.computed, judge=False)
            good = code[suspect] == 0
            for name in self.computed:
                made[name][suspect[good]] = np.broadcast_to(plain[name], (len(suspect),))[good]
        return made, code

    def _needed(self, group: _Group) -> frozenset[str]:
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
    return np.array(np.broadcast_to(wiring.status(judged, masks, _CODES), (count,)))


def _is_drawn(source: _Source) -> bool:
    return isinstance(source, _Drawn) or (isinstance(source, _Stack) and any(map(_is_drawn, source.gaskets)))


def _version() -> str:
    from topend import __version__

    return __version__


Number = TypeVar("Number", bound=np.generic)


class Block:
    """A range of rows, evaluated: status, and outputs in SI. Everything shown is made when it is asked for."""

    def __init__(self, compiled: Compiled, start: int, stop: int) -> None:
        count = stop - start
        self._compiled = compiled
        self.row = np.arange(start, stop, dtype=np.int64)
        self._along = [compiled.along(axis, start, stop, self.row) for axis in range(len(compiled.axes))]
        variant: NDArray[np.int64] = np.zeros(1, dtype=np.int64)
        for place in compiled.choices:
            variant = variant * compiled.lengths[place] + self._index(place)
        group_of, place_in = compiled.group_of[variant], compiled.place_in[variant]
        numbers = np.unique(group_of).tolist()
        draws: dict[str, NDArray[np.float64]] = {}
        self._parts = []
        for number in numbers:
            chosen = None if len(numbers) == 1 else np.flatnonzero(group_of == number)
            self._parts.append(_Part(compiled, compiled.groups[number], self.row, self._along, place_in, chosen, draws))
        self.si: dict[str, NDArray[np.float64]] = {}
        self.status = np.empty(count, dtype=np.int8)
        self._evaluate(count)
        self.kept = self.status == 0
        for limit in compiled.study.limits:
            # NaN is inside no limits
            self.kept &= (self.si[limit.name] >= limit.low) & (self.si[limit.name] <= limit.high)

    def _index(self, place: int) -> NDArray[np.int64]:
        index = self._along[place]
        assert not isinstance(index, slice)
        return index

    def _evaluate(self, count: int) -> None:
        compiled = self._compiled
        for part in self._parts:
            if part.group.refused:
                code = np.full(part.count, part.group.refused, dtype=np.int8)
                made = {name: np.full(part.count, np.nan) for name in compiled.computed}
            else:
                made, code = compiled.evaluated(part.group, part)
            if part.chosen is None:
                self.si, self.status = made, code
                break
            self.status[part.chosen] = code
            for name in compiled.computed:
                self.si.setdefault(name, np.empty(count))[part.chosen] = made[name]
        for along, outside in zip(self._along, compiled.outside, strict=True):
            if outside.any():
                refused = np.broadcast_to(outside[along], (count,))
                self.status[refused] = _CODES["not_a_size"]
                for values in self.si.values():
                    values[refused] = np.nan

    def put(self, table: Table) -> None:
        """The rows into their place in the table of the whole study."""
        compiled, here = self._compiled, slice(int(self.row[0]), int(self.row[-1]) + 1)
        for name, path in compiled.inputs.items():
            column = table.columns[name][here]
            for part in self._parts:
                column[slice(None) if part.chosen is None else part.chosen] = part.shown(path)
        for name in compiled.outputs:
            put_from_si(table.columns[name][here], self.si[name], OUTPUTS[name].unit)
        table.status[here], table.row[here] = self.status, self.row
        for place in compiled.choices:
            table.parts[str(compiled.axes[place].kind)].index[here] = self._index(place)

    def table(self, kept: NDArray[np.bool_] | None = None) -> Table:
        """The rows, or those of them that are `kept`, in shown units."""
        compiled, count = self._compiled, len(self.row)
        some = kept is not None and not kept.all()

        def of(column: NDArray[Any]) -> NDArray[Any]:
            full = np.broadcast_to(column, (count,))
            # what is a view of the study's own values is copied: a table is its owner's
            return full[kept] if some else np.array(full)

        columns: dict[str, NDArray[np.float64]] = {}
        for name, path in compiled.inputs.items():
            if len(self._parts) == 1:
                columns[name] = of(self._parts[0].shown(path))
                continue
            column = np.empty(count)
            for part in self._parts:
                column[part.chosen] = part.shown(path)
            columns[name] = of(column)
        for name in compiled.outputs:
            columns[name] = from_si(of(self.si[name]), OUTPUTS[name].unit)
        parts = {
            str(compiled.axes[place].kind): PartColumn(of(self._index(place)).astype(np.int32), compiled.axes[place].names)
            for place in compiled.choices
        }
        return Table(columns, compiled.units, of(self.status), of(self.row), parts, compiled.version, compiled)


def _counted(index: NDArray[np.int64] | slice) -> NDArray[np.int64]:
    return np.arange(index.start, index.stop) if isinstance(index, slice) else index


class _Part:
    """The rows of a chunk that belong to one group: its columns, as they are asked for."""

    def __init__(
        self,
        compiled: Compiled,
        group: _Group,
        row: NDArray[np.int64],
        along: list[NDArray[np.int64] | slice],
        place_in: NDArray[np.int64],
        chosen: NDArray[np.intp] | None,
        draws: dict[str, NDArray[np.float64]],
    ) -> None:
        self._compiled, self.group, self._row, self._draws = compiled, group, row, draws
        self.chosen = chosen
        self._along = [index if isinstance(index, slice) and chosen is None else self._of(_counted(index)) for index in along]
        self._place = self._of(place_in)
        self.count = len(row) if chosen is None else len(chosen)

    def _of(self, column: NDArray[Number]) -> NDArray[Number]:
        return column if self.chosen is None or len(column) == 1 else column[self.chosen]

    def si(self, path: str) -> NDArray[np.float64]:
        """A column in SI: as many values as rows, or one where all rows have the same."""
        sources = self.group.sources[path]
        first = sources[0]
        if isinstance(first, _Along):
            known, places = self._compiled.si[first.axis][first.which], self._along[first.axis]
            if known is not None:
                return known[places]
            one = self._compiled.axes[first.axis].together[first.which]
            return to_si(one.values[places], one.unit)
        if isinstance(first, _Drawn):
            return to_si(self._drawn(typing.cast("tuple[_Drawn, ...]", sources)), first.unit)
        if isinstance(first, _Stack):
            return self._stack(first)
        if len(sources) == 1:
            return np.array([first.si])
        return np.array([one.si for one in sources if isinstance(one, _Fixed)])[self._place]

    def shown(self, path: str) -> NDArray[np.float64]:
        """The same in the unit of the inputs table; NaN where this group has no such value."""
        for number, axis in enumerate(self._compiled.axes):
            for which, one in enumerate(axis.together):
                if one.path == path:
                    return self._compiled.shown[number][which][self._along[number]]
        sources = self.group.sources.get(path)
        if sources is None:
            return np.array([np.nan])
        if isinstance(sources[0], _Drawn):
            return self._drawn(typing.cast("tuple[_Drawn, ...]", sources))
        return from_si(self.si(path), _shown_unit(path))

    def _drawn(self, sources: tuple[_Drawn, ...]) -> NDArray[np.float64]:
        stream = sources[0].stream
        known = self._draws.get(stream)
        if known is None:
            known = self._draws[stream] = self._compiled.draw(stream, self._row)
        low: NDArray[np.float64]
        high: NDArray[np.float64]
        if len(sources) == 1:
            low, high = np.array([sources[0].low]), np.array([sources[0].high])
        else:
            low = np.array([one.low for one in sources])[self._place]
            high = np.array([one.high for one in sources])[self._place]
        return low + (high - low) * self._of(known)

    def _stack(self, source: _Stack) -> NDArray[np.float64]:
        total = np.zeros(1)
        for one in source.gaskets:
            total = total + (np.array([one.si]) if isinstance(one, _Fixed) else to_si(self._drawn((one,)), one.unit))
        # through millimetres and back, as the assembly states it
        return to_si(from_si(total, "mm"), "mm")


# --- what tells one study from another -------------------------------------------------------------------------------


def description(compiled: Compiled) -> dict[str, Any]:
    """All that decides the figures of a study, as JSON takes it: parts as in files, long columns by their digest."""
    study = compiled.study

    def parts_text(axis: Axis) -> list[Any]:
        return [part.model_dump(mode="json", exclude_none=True) for part in axis.parts]

    axes: list[Any] = []
    for axis in study.axes:
        if axis.kind is not None:
            axes.append({"parts": axis.kind, "names": list(axis.names), "are": parts_text(axis)})
            continue
        axes.append(
            [
                {
                    "path": one.path,
                    "unit": one.unit,
                    "count": len(one.values),
                    "first": float(one.values[0]),
                    "last": float(one.values[-1]),
                    "sha256": hashlib.sha256(np.ascontiguousarray(one.values, dtype="<f8").data).hexdigest(),
                }
                for one in axis.together
            ]
        )
    return {
        "topend": _version(),
        "top": study.top.model_dump(mode="json", exclude_none=True),
        "axes": axes,
        "sample": None if study.draws is None else {"draws": study.draws[0], "seed": study.draws[1]},
        "where": [[limit.name, repr(limit.low), repr(limit.high)] for limit in study.limits],
        "outputs": list(compiled.outputs),
    }


def study_digest(compiled: Compiled) -> str:
    """A short name of a study: two that differ in anything that moves a figure have different ones."""
    text = json.dumps(description(compiled), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]
