"""Columns in, columns out. One row is a batch of one: `evaluate` of a top end runs the same array code on shape (1,)."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import GAP_AT, Row, TopEnd, crushed_limits
from topend.errors import MissingInputError, PartError, Problem, UnknownNameError, listed, must_be
from topend.notebook import html_table
from topend.parts import Provenance
from topend.physics import squish, wiring
from topend.physics.tape import Program, Replay, block_length, empty_columns
from topend.physics.wiring import Structure
from topend.quantities import CODES, INPUTS, OUTPUTS, ExtraOutput, Input, Output, always, output
from topend.units import KINDS, Limits, Quantity, StatedValueError, from_si, quantity, stated
from topend.wires import off_the_band

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "BLOCK",
    "SHARED_BLOCK",
    "SLACK",
    "Assumed",
    "Evaluator",
    "Result",
    "assumed_in",
    "evaluate",
    "evaluate_columns",
    "input_unit",
    "needs_message",
]

#: A limit or tolerance is met within this of itself: sums of decimals end beside the decimal that is meant.
SLACK: Final = 1e-9
#: Rows evaluated at a time: what fits a core's cache (measured; see benchmarks).
BLOCK: Final = 16_384
#: The same where threads work side by side: each is longer at its loops before it wants the interpreter, which they share.
SHARED_BLOCK: Final = 4 * BLOCK


@dataclass(frozen=True, slots=True)
class Assumed:
    """An input that nobody stated: its path, the value taken, the limits it is taken to lie in, and why.

    `value` is None where nothing had to be put in numbers (a stack taken as it was under a reading).
    """

    path: str
    value: Quantity | None
    limits: tuple[Quantity, Quantity] | None
    why: str


#: How many figures the short form of a result shows; `print` shows all.
_SHOWN: Final = 4


@dataclass(frozen=True, repr=False)
class Result:
    """What a top end comes to: every output that can be had, by name, as attribute or key.

    Lengths, volumes, angles and speeds are pint quantities in the trade's unit; ratios are floats. An output that cannot
    be had raises `MissingInputError`, which names the paths it needs; `missing` lists them all. `assumed` lists what was
    taken as its default.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.7 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> print(te.evaluate(top).squish_edge)
    1.0 mm
    """

    top: TopEnd
    missing: Mapping[str, tuple[str, ...]]
    si: Mapping[str, float]
    _plan: wiring.Plan = field(compare=False)
    _values: Mapping[str, Any] = field(compare=False)

    def __reduce__(self) -> tuple[Any, ...]:
        # kernels are no data: the plan is made anew where the result arrives
        return _arrived, (self.top, self.missing, self.si, self._plan.wanted, dict(self._values))

    @property
    def provenance(self) -> tuple[Provenance, ...]:
        """The data packs that the parts are from: id, version and digest of each."""
        return self.top.provenance

    def _output(self, name: str) -> Output:
        return OUTPUTS[name] if name in OUTPUTS else self.top.outputs[name]

    @functools.cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """The inputs that nobody stated and that were taken as their default."""
        return assumed_in(self.top.row, self._plan, self._values)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return self[name]

    def __getitem__(self, name: str) -> Any:
        try:
            value = self.si[name]
        except KeyError:
            raise self._absent(name) from None
        unit = self._output(name).unit
        return value if unit == "–" else quantity(from_si(value, unit), unit)

    def __contains__(self, name: object) -> bool:
        return name in self.si

    def __iter__(self) -> Iterator[str]:
        return iter(self.si)

    def __len__(self) -> int:
        return len(self.si)

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self.si]

    def keys(self) -> list[str]:
        """Names of the outputs that were had, in the order of the outputs table."""
        return list(self.si)

    def shown(self, name: str) -> float:
        """The value of an output as a float in the unit of the outputs table."""
        if name not in self.si:
            raise self._absent(name)
        return from_si(self.si[name], self._output(name).unit)

    def _absent(self, name: str) -> MissingInputError | UnknownNameError:
        if name in self.missing:
            return MissingInputError(name, self.missing[name], needs_message(name, self.missing[name]))
        try:
            known = output(name, self.top.outputs)
        except UnknownNameError as error:
            return error
        how = f'ask for it by name: evaluate(top, ["{name}"])' if known.when_named else "evaluate it with outputs=None or name it"
        return MissingInputError(name, (), f"{name} was not asked for; {how}")

    @property
    def squish_direction(self) -> str:
        """``inward`` or ``outward``: which way the squish flows on the upstroke at its peak."""
        self.shown("squish_velocity_peak")
        return "outward" if float(self._values["squish_velocity.signed"][0]) < 0.0 else "inward"

    def gap_at(self, radius: Any = None) -> Quantity:
        """Axial gap at TDC at `radius` from the bore's axis: what a wire or solder laid there reads.

        `radius` is a length ("22.6 mm"); not given: 1 mm inside the band's outer edge as it counts. Under the band it is
        the band's gap, beyond it that of the band-edge plane, beyond the spigot or recess that of the gasket face. Raises
        `MissingInputError` where the shape is not known, `PartError` for a radius inside the band, where the bowl's shape
        is not known, or beyond the crown.
        """
        planned = wiring.plan(self.top.row.structure, (*GAP_AT.values(), "head.band.outer_radius"))
        lacking = list(dict.fromkeys(path for missing in planned.missing.values() for path in missing.needs))
        if lacking:
            raise MissingInputError("gap_at", lacking, needs_message("gap_at", lacking))
        values = wiring.run(planned, self.top.values)
        if radius is None:
            at = float(values["head.band.outer_radius"][0]) - 1e-3
        else:
            try:
                at = stated(radius, KINDS["length"]).si
            except StatedValueError as error:
                raise PartError("gap_at", [Problem("radius", str(error))]) from None
        if problem := off_the_band(at, values):
            raise PartError("gap_at", [problem])
        gap = float(squish.gap_at(radius=np.array([at]), **{name: values[path] for name, path in GAP_AT.items()})[0])
        return quantity(from_si(gap, "mm"), "mm")

    def to_dict(self) -> dict[str, dict[str, Any]]:
        """`{name: {"value": ..., "unit": ...}}` for every output had, in the table's units."""
        return {name: {"value": self.shown(name), "unit": self._output(name).unit} for name in self.si}

    def _repr_html_(self) -> str:
        """The outputs as a table, for notebooks: value, unit and meaning; below it how much was assumed, and what cannot be had."""
        rows = []
        for name in self.si:
            known = self._output(name)
            rows.append((name, f"{self.shown(name):.{known.decimals}f}", known.unit.replace("–", ""), known.meaning))
        notes = [f"assumed: {', '.join(one.path for one in self.assumed)}"] if self.assumed else []
        notes += [f"cannot be had yet: {', '.join(self.missing)}"] if self.missing else []
        return html_table("result", ("output", "value", "unit", "meaning"), rows, notes)

    def __repr__(self) -> str:
        count = f"{len(self.si)} output{'' if len(self.si) == 1 else 's'}" + (f", {len(self.missing)} missing" if self.missing else "")
        figures = [" ".join(line.split()) for line in str(self).splitlines()]
        shown = ", ".join([*figures[:_SHOWN], *(["..."] if len(figures) > _SHOWN else [])])
        return f"Result({count}: {shown})" if figures else f"Result({count})"

    def __str__(self) -> str:
        width = max((len(name) for name in self.si), default=0)
        lines = [f"{name:<{width}}  {self.shown(name):.{self._output(name).decimals}f} {self._output(name).unit}" for name in self.si]
        return "\n".join(line.removesuffix(" –") for line in lines)


def _arrived(
    top: TopEnd,
    missing: Mapping[str, tuple[str, ...]],
    si: Mapping[str, float],
    wanted: tuple[str, ...],
    values: Mapping[str, Any],
) -> Result:
    """A result as it was when it was pickled."""
    return Result(top, missing, si, wiring.plan(top.row.structure, wanted), values)


def needs_message(name: str, needs: Iterable[str]) -> str:
    """What to say of an output that cannot be had.

    >>> needs_message("blowdown", ["crank.stroke"])
    'blowdown cannot be had: it needs crank.stroke'
    """
    return f"{name} cannot be had: it needs {', '.join(needs)}"


def evaluate(top: TopEnd, outputs: Iterable[str] | None = None, *, extra: Iterable[ExtraOutput] = ()) -> Result:
    """The outputs of one top end; those named, or all that can be had but those that are worked out only when named (`ALWAYS`).

    Parameters: `top` a `TopEnd`; `outputs` names from the outputs table, or None for all; `extra` outputs that data packs add
    (``catalogue.extra_outputs``), beside those that `top` knows: the same as ``evaluate(top.with_outputs(extra))``. Raises
    `UnknownNameError` for a name nobody has and `MissingInputError` for a named output that cannot be had; with None such outputs are
    listed in `Result.missing`. Raises `PackError` where the code of an extra output fails.

    >>> import topend as te
    >>> travel = te.evaluate(te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"))).piston_travel
    >>> print(f"{travel:.3f~P}")
    54.500 mm
    """
    must_be("evaluate", "top", top, TopEnd)
    listed("outputs", outputs, "squish_edge")
    extra = tuple(extra)
    if extra:
        top = top.with_outputs(extra)
    known = top.outputs
    names = always(known) if outputs is None else tuple(output(name, known).name for name in outputs)
    planned = wiring.plan(top.row.structure, names)
    missing = {name: lack.needs for name, lack in planned.missing.items()}
    if outputs is not None and missing:
        name, needs = next(iter(missing.items()))
        raise MissingInputError(name, needs, needs_message(name, needs))
    values = wiring.run(planned, top.values)
    si = {name: float(values[name][0]) for name in names if name not in missing}
    return Result(top, missing, si, planned, values)


@functools.lru_cache(maxsize=4096)
def input_unit(path: str) -> str:
    """The unit an input is shown in, by its path; stacks and indices included.

    >>> input_unit("head.band.angle"), input_unit("base_gaskets.0.thickness")
    ('deg', 'mm')
    """
    if known := _in_table(path):
        return known.unit
    return "cc" if path.endswith("volume") else "deg" if path.endswith(("angle", "slope")) else "rpm" if path.endswith("speed") else "mm"


def _in_table(path: str) -> Input | None:
    """The line of the inputs table for a path, with or without indices."""
    return INPUTS.get(re.sub(r"\.\d+(?=\.|$)", ".N", path.removeprefix("deck.") if path not in INPUTS else path))


def assumed_in(row: Row, planned: wiring.Plan, values: Mapping[str, Any]) -> tuple[Assumed, ...]:
    """What `planned` takes as default on `row`, and what lowering assumed of the inputs that it uses."""
    used = {name for step in planned.steps for name in step.takes}
    found = [
        Assumed(path, _shown(row.values[path], path), _shown_limits(row.limits.get(path), path), why)
        for path, why in row.noted.items()
        if path in used
    ]
    for step in planned.assumptions:
        assert step.assumption is not None
        if _idle(step.name, values):
            continue
        if not step.inputs and step.assumption.limits is None:
            path = step.name.removesuffix("-change").removesuffix(".cap_height")
            path = path.replace("base_change", "base_thickness").replace("head_change", "head_thickness")
            # what stands for another input than the one that is named has no value of that one's
            value = _shown(float(values[path][0]), path) if path == step.name and _in_table(path) else None
            found.append(Assumed(path, value, None, step.assumption.why))
            continue
        ends = default_limits(row, step, values)
        found.append(
            Assumed(step.name, _shown(float(values[step.name][0]), step.name), _shown_limits(ends, step.name), step.assumption.why)
        )
    return tuple(found)


def default_limits(row: Row, step: wiring.Node, values: Mapping[str, Any]) -> Limits | None:
    """The limits of a defaulted value: those of the assumption, widened by those stated of what it was made from."""
    assert step.assumption is not None
    if step.assumption.limits is None:
        return None
    taken = {argument: values[name] for argument, name in step.inputs}
    stated_ends = row.limits.get(step.takes[0]) if taken else None
    if stated_ends is not None and step.name.endswith("fitted_thickness"):
        crush = row.structure.choice(step.name.removesuffix(".fitted_thickness")) or "unknown"
        return crushed_limits(crush, row.values[step.takes[0]], stated_ends)
    return Limits(*_ends(step, taken, float(values[step.name][0])))


def _ends(step: wiring.Node, taken: dict[str, Any], value: float) -> tuple[float, float]:
    assert step.assumption is not None
    assert step.assumption.limits is not None
    others = {argument: column for argument, column in taken.items() if argument != "value"}
    low, high = step.assumption.limits(np.array([value]), **others)
    return float(np.atleast_1d(low)[0]), float(np.atleast_1d(high)[0])


def _idle(path: str, values: Mapping[str, Any]) -> bool:
    """A default that changes nothing: a recess of no depth has no diameter."""
    return path == "head.recess_diameter" and float(values.get("head.recess_offset", np.ones(1))[0]) == 0.0


def _shown(value: float, path: str) -> Quantity:
    unit = input_unit(path)
    return quantity(from_si(value, unit), unit)


def _shown_limits(ends: Limits | None, path: str) -> tuple[Quantity, Quantity] | None:
    return None if ends is None else (_shown(ends.low, path), _shown(ends.high, path))


def evaluate_columns(
    structure: Structure,
    columns: Mapping[str, NDArray[np.float64]],
    outputs: Iterable[str],
    *,
    block: int | None = None,
    threads: int = 1,
    judge: bool = True,
) -> tuple[dict[str, NDArray[np.float64]], NDArray[np.int8]]:
    """Outputs (SI) and status codes of rows given as SI columns by input path, in blocks that fit the cache.

    Parameters: `structure` as of `TopEnd.row`; `columns` arrays of one length n, or of length 1 for what does not vary;
    `block` rows at a time at most, 16 384 where it is not given, 65 536 with threads; `threads` work on blocks side by side
    (each wants 8 000 rows a block or more, since NumPy holds the interpreter between its loops). Returns arrays of shape (n,).
    A row that is no top end has NaN in every output and its reason's code in the status; one that goes together, and whose closed cycle
    cannot be followed, has NaN in what comes of that and its code too. `judge=False` leaves that out, for
    rows known to go together. Only what `outputs` need is computed. Raises `MissingInputError` for an output
    that `structure` does not determine.
    """
    return Evaluator(structure, outputs, judge=judge).rows(columns, block=block, threads=threads)


class Evaluator:
    """Outputs of rows of one structure, made ready once for many columns. Several threads may use one.

    Parameters as of `evaluate_columns`; raises as it does.
    """

    def __init__(self, structure: Structure, outputs: Iterable[str], *, judge: bool = True) -> None:
        added = {node.name for node in structure.added}
        self.outputs = tuple(name if name in added else output(name).name for name in outputs)
        planned = wiring.plan(structure, self.outputs)
        if planned.missing:
            name, missing = next(iter(planned.missing.items()))
            raise MissingInputError(name, missing.needs, needs_message(name, missing.needs))
        self._judged: tuple[wiring.Check, ...] = ()
        if judge:
            self._judged, checking = wiring.checks(structure, sizes=True, outputs=self.outputs)
            planned = wiring.plan(structure, (*self.outputs, *checking.wanted))
        self._planned = planned
        self._last: tuple[Any, Recording] | None = None

    def rows(
        self, columns: Mapping[str, NDArray[np.float64]], *, block: int | None = None, threads: int = 1
    ) -> tuple[dict[str, NDArray[np.float64]], NDArray[np.int8]]:
        """Outputs and status codes of `columns`, as `evaluate_columns`."""
        lengths = {len(column) for column in columns.values()} - {1}
        if len(lengths) > 1:
            raise ValueError(f"columns must have one length, or one row where nothing varies; got {sorted(lengths)}")
        rows = next(iter(lengths), 1)
        made = empty_columns(self.outputs, rows)
        code = np.zeros(rows, dtype=np.int8)
        step = block_length(rows, block or (BLOCK if threads == 1 else SHARED_BLOCK), threads)
        run = self.run if rows <= step else self.recorded(columns).run

        def work(start: int) -> None:
            part = slice(start, min(start + step, rows))
            some = {path: column if len(column) == 1 else column[part] for path, column in columns.items()}
            run(some, {name: column[part] for name, column in made.items()}, code[part])

        starts = range(0, rows, step)
        if len(starts) > 1 and threads > 1:
            with ThreadPoolExecutor(threads) as pool:
                for _ in pool.map(work, starts):
                    pass
        else:
            for start in starts:
                work(start)
        return made, code

    def run(self, columns: Mapping[str, NDArray[np.float64]], made: Mapping[str, NDArray[np.float64]], code: NDArray[np.int8]) -> None:
        """A few rows, worked out as they come: outputs (SI) into the arrays of `made`, status codes into `code`, which comes as zeros."""
        values = wiring.run(self._planned, columns)
        for name in self.outputs:
            made[name][...] = values[name]
        _refuse(self._judged, wiring.masks(self._judged, values), code, made.values())

    def recorded(self, columns: Mapping[str, NDArray[np.float64]]) -> Recording:
        """The operations for blocks in which those of `columns` with more than one row vary; the others are worked in as they are.

        Worth its few milliseconds for many rows, and kept for columns that come again with the same others.
        """
        key = [(path, column.item() if len(column) == 1 else None) for path, column in columns.items()]
        last = self._last
        if last is None or last[0] != key:
            last = self._last = key, Recording(*wiring.record(self._planned, self.outputs, self._judged, columns))
        return last[1]


#: Lengths of blocks that buffers are kept for: where groups of rows alternate, every chunk of a study brings new ones.
_MOST_LENGTHS: Final = 4


class Recording:
    """Operations replayed block by block in buffers that stay in the cache. Several threads may run blocks side by side."""

    def __init__(self, program: Program, judged: tuple[wiring.Check, ...]) -> None:
        self._program, self._judged = program, judged
        self._spare: dict[int, list[tuple[Replay, list[Any]]]] = {}

    def run(self, columns: Mapping[str, NDArray[np.float64]], made: Mapping[str, NDArray[np.float64]], code: NDArray[np.int8]) -> None:
        """One block, as `Evaluator.run`."""
        length = len(code)
        try:
            # another thread may take the last one between a look and a grasp
            fresh = self._spare.setdefault(length, []).pop()
        except IndexError:
            fresh = self._program.replay(length), [np.empty(length, dtype=np.bool_) for _ in self._judged]
        replay, masks = fresh
        varied = {path: columns[path] for path in self._program.inputs}
        replay.run(varied, {**made, **{f"check:{index}": mask for index, mask in enumerate(masks)}})
        _refuse(self._judged, masks, code, made.values())
        if len(self._spare) > _MOST_LENGTHS:
            self._spare = {}
        self._spare.setdefault(length, []).append(fresh)


#: Codes of rows that go together, whether or not all that was asked of them has an answer.
_STANDS: Final = (CODES["ok"], *(CODES[check.reason] for check in wiring.UNANSWERED))


def _refuse(judged: tuple[wiring.Check, ...], where: Iterable[Any], code: NDArray[np.int8], made: Iterable[NDArray[np.float64]]) -> None:
    """Write the status of rows into `code`, and NaN into what was `made` of those that are no top end."""
    status = wiring.status(judged, where, CODES)
    if status.any():
        code[...] = status
        bad = ~np.isin(code, _STANDS)
        for column in made:
            column[bad] = np.nan
