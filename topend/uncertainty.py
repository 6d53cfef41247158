"""Limits and standard uncertainty carried through evaluated rows.

First order (JCGM 100:2008, 5.1): every input that carries limits is moved down and up by its standard uncertainty, in one
evaluated block of 2n + 1 rows; half the change is its share of the output's standard uncertainty, and the shares add as
squares. Limits are a rectangular distribution, u = half-width/√3 (4.3.7).

Monte Carlo (JCGM 101:2008): the same inputs drawn between their limits, as rows; no straightness is assumed then. Where both
were worked out, `validation` tells whether first order is enough (clause 8).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from topend.assembly import READ_WITH, Row, TopEnd
from topend.coverage import DIVISORS, LEVEL, Validation, coverage_factor, excess_kurtosis, validated
from topend.errors import ArgumentError, MissingInputError, listed, must_be, must_count
from topend.evaluation import BLOCK, Evaluator, default_limits, input_unit, needs_message
from topend.physics import wiring
from topend.quantities import always, output
from topend.units import Limits, Quantity, from_si, quantity, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Drawn", "Moved", "Share", "Uncertain", "moved_inputs", "moving_together", "placed", "sensitivities", "uncertainty"]

#: Coverage factor of the interval that is shown: about 95 % for a normal distribution (JCGM 100:2008, 6.3.3).
COVERAGE: Final = 2.0


@dataclass(frozen=True, slots=True)
class Share:
    """What one input brings to an output's standard uncertainty: `u` in the output's unit, signed by its sensitivity.

    `basis` is ``limits`` (stated), ``assumed`` (limits of a default), or ``written`` (half of the last written decimal). `tied` names the
    inputs that go with `path` from limit to limit, and whose share is in `u`.
    """

    path: str
    u: float
    basis: str
    tied: tuple[str, ...] = ()

    @property
    def paths(self) -> tuple[str, ...]:
        """All inputs whose share this is."""
        return (self.path, *self.tied)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What Monte Carlo found of one output, in its unit.

    `mean` of the draws; `low` and `high`, between which 95 % of them lie, as many below as above (JCGM 101:2008, 7.7);
    `error` the standard error of those two, the greater, from eight independent parts of the draws; `draws` how many there
    were, `refused` how many of them were no top end and are left out.
    """

    mean: float
    low: float
    high: float
    error: float
    draws: int
    refused: int


@dataclass(frozen=True)
class Uncertain:
    """An output with its standard uncertainty, in the unit of the outputs table.

    `u` counts limits, stated or assumed. `u_written` counts besides, for inputs without limits, half of their last written
    decimal: no digit beyond it is worth showing. `shares` is the budget, greatest first, those that count in `u` before those that
    count in `u_written` alone. `validation` tells whether first order is enough beside Monte Carlo (JCGM 101:2008, clause 8); None
    where nothing was drawn.
    """

    name: str
    value: float
    u: float
    u_written: float
    unit: str
    shares: tuple[Share, ...]
    drawn: Drawn | None = None
    validation: Validation | None = None
    #: decimals beyond which nobody in the trade reads it
    most_decimals: int = 3

    @property
    def interval(self) -> tuple[float, float]:
        """First order: the value with twice its standard uncertainty on either side. Drawn: what holds 95 % of the draws."""
        if self.drawn is not None:
            return self.drawn.low, self.drawn.high
        return self.value - COVERAGE * self.u, self.value + COVERAGE * self.u

    @property
    def quantity(self) -> Quantity | float:
        """The value as a pint quantity; a float for a ratio."""
        return self.value if self.unit == "–" else quantity(self.value, self.unit)

    @property
    def decimals(self) -> int:
        """Decimals worth showing: none finer than two digits of `u_written`, none finer than the trade reads."""
        most = self.most_decimals
        if not self.u_written > 0.0:
            return most
        return max(0, min(most, 1 - math.floor(math.log10(self.u_written))))

    @property
    def text(self) -> str:
        """The value with as many decimals as are worth showing, and its unit."""
        unit = "" if self.unit == "–" else f" {self.unit}"
        return f"{self.value:.{self.decimals}f}{unit}"


def uncertainty(
    top: TopEnd,
    outputs: Iterable[str] | None = None,
    method: Literal["first-order", "monte-carlo"] = "first-order",
    *,
    validate: bool = False,
    draws: int = 100_000,
    seed: int = 0,
    sampler: Literal["pseudo", "sobol"] = "pseudo",
    threads: int = 1,
) -> dict[str, Uncertain]:
    """Value, standard uncertainty and budget of outputs of `top`.

    Parameters: `outputs` names from the outputs table, and those that `top` knows of packs; None for all that can be had. `method`
    first-order, or monte-carlo with `draws` rows (rounded up to a multiple of eight, 16 at the least; to eight powers of two for
    `sampler` sobol, the scrambled sequence) from `seed`: then `u` is the standard deviation of the draws, and `drawn` tells the rest.
    The budget in `shares` is of first order in both. With `validate` first order is held against the draws of Monte Carlo, which takes
    as long as they do, and stays what it is but for its `validation`; monte-carlo always has one. It compares the 95 % intervals of
    both, that of first order with the factor that its limits have (`topend.coverage`), not with the plain 2 of `interval`. Raises as
    `evaluate`, and `ArgumentError` for a method or sampler nobody has, and for draws, a seed or threads that are no number of them.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.01 mm")])
    >>> edge = te.uncertainty(top, ["squish_edge"])["squish_edge"]
    >>> round(edge.u, 5), [share.path for share in edge.shares]
    (0.01826, ['deck.clearance', 'head_gaskets.0.fitted_thickness'])
    >>> drawn = te.uncertainty(top, ["squish_edge"], method="monte-carlo", draws=80_000)["squish_edge"]
    >>> round(drawn.u, 3), [round(end, 2) for end in drawn.interval]
    (0.018, [0.97, 1.03])
    >>> te.uncertainty(top, ["squish_edge"], validate=True, draws=80_000)["squish_edge"].validation.agrees
    True
    """
    _one_of("method", method, ("first-order", "monte-carlo"))
    _one_of("sampler", sampler, ("pseudo", "sobol"))
    must_count("uncertainty", "draws", draws)
    must_count("uncertainty", "seed", seed, 0)
    must_count("uncertainty", "threads", threads)
    names, planned = _wanted(top, outputs)
    row = top.row
    moved = moved_inputs(row, planned, top.values)
    columns = _down_and_up(row, moved)
    values = wiring.run(wiring.plan(row.structure.with_given(columns), tuple(names)), columns)
    rows = 2 * len(moved) + 1
    known = top.outputs
    made = {}
    for name in names:
        unit = known[name].unit
        shown = np.broadcast_to(from_si(np.asarray(values[name], dtype=np.float64), unit), (rows,))
        halves = (shown[2::2] - shown[1::2]) / 2.0
        shares = [
            Share(one.path, float(half), one.basis, tuple(other.path for other in one.tied))
            for one, half in zip(moved, halves, strict=True)
            # a size that only stands in a row of a standard (a thread) is nothing between it and the next: as written it is what it is
            if half != 0.0 and not (one.basis == "written" and math.isnan(half))
        ]
        shares.sort(key=lambda share: (share.basis == "written", -abs(share.u)))
        square = math.fsum(share.u**2 for share in shares if share.basis != "written")
        written = math.fsum(share.u**2 for share in shares)
        most = known[name].decimals
        made[name] = Uncertain(name, float(shown[0]), math.sqrt(square), math.sqrt(written), unit, tuple(shares), most_decimals=most)
    if method == "first-order" and not validate:
        return made
    units = {name: known[name].unit for name in names}
    drawn_of = _drawn(row, [one for one in moved if one.basis != "written"], units, draws, seed, sampler, threads)
    made = {name: replace(one, validation=_validation(one, drawn_of[name][1])) for name, one in made.items()}
    if method == "first-order":
        return made
    return {name: replace(one, u=drawn_of[name][0], drawn=drawn_of[name][1]) for name, one in made.items()}


def _validation(first: Uncertain, drawn: Drawn) -> Validation:
    kurtosis = excess_kurtosis([(share.u, "rectangular") for share in first.shares if share.basis != "written"], first.u)
    half = coverage_factor(math.inf, LEVEL, kurtosis) * first.u
    return validated((first.value - half, first.value + half), (drawn.low, drawn.high), first.u)


def _one_of(what: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise ArgumentError(f"uncertainty: {what} must be {' or '.join(allowed)}; got {value!r}")


def _wanted(top: TopEnd, outputs: Iterable[str] | None) -> tuple[list[str], wiring.Plan]:
    must_be("uncertainty", "top", top, TopEnd)
    listed("outputs", outputs, "squish_edge")
    known = top.outputs
    names = list(always(known)) if outputs is None else [output(name, known).name for name in outputs]
    planned = wiring.plan(top.row.structure, tuple(names))
    if outputs is not None and planned.missing:
        name, lack = next(iter(planned.missing.items()))
        raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))
    return [name for name in names if name not in planned.missing], planned


def sensitivities(top: TopEnd, outputs: Iterable[str] | None = None) -> dict[str, dict[str, float]]:
    """How much each output changes for each input, ``{output: {path: change}}``: of the output's unit per unit of the input.

    Units are those of the tables: squish_edge mm per mm, compression_ratio per mm, exhaust_duration deg per mm. Inputs
    without influence are left out. Central differences over one evaluated block of 2n + 1 rows, whose steps are 1e-5 of each
    value (of 1 mm, 1 cc or 1 deg where it is smaller); good to about 1e-8 of the greatest. Raises as `evaluate`.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> {path: round(change, 6) for path, change in te.sensitivities(top, ["squish_edge"])["squish_edge"].items()}
    {'head.recess_offset': 1.0, 'deck.clearance': 1.0, 'head_gaskets.0.fitted_thickness': 1.0}
    """
    names, planned = _wanted(top, outputs)
    row = top.row
    used = {name for step in planned.steps for name in step.takes} | set(planned.wanted)
    defaults = {node.name for node in planned.assumptions if node.inputs or (node.assumption and node.assumption.limits)}
    known = wiring.run(planned, top.values)
    moved = []
    for path in (*row.values, *sorted(defaults)):
        # a default is moved by itself, not by what it was made from
        if path not in used or _is_copy(row, path) or _makes_only_defaults(path, planned, defaults):
            continue
        value = float(known[path][0])
        scale = to_si(1.0, input_unit(path))
        moved.append(Moved(path, moving_together(row, path), value, 1e-5 * max(abs(value), scale), "sensitivity"))
    columns = _down_and_up(row, moved)
    values = wiring.run(wiring.plan(row.structure.with_given(columns), tuple(names)), columns)
    rows = 2 * len(moved) + 1
    listed_outputs = top.outputs
    made: dict[str, dict[str, float]] = {}
    for name in names:
        shown = np.broadcast_to(from_si(np.asarray(values[name], dtype=np.float64), listed_outputs[name].unit), (rows,))
        halves = (shown[2::2] - shown[1::2]) / 2.0
        steps = [from_si(one.u, input_unit(one.path)) for one in moved]
        changes = [float(half / step) for half, step in zip(halves, steps, strict=True)]
        made[name] = {one.path: change for one, change in zip(moved, changes, strict=True) if change != 0.0}
    return made


def _makes_only_defaults(path: str, planned: wiring.Plan, defaults: set[str]) -> bool:
    users = {step.name for step in planned.steps if path in step.takes}
    return bool(users) and users <= defaults


@dataclass(frozen=True, slots=True)
class Tied:
    """An input that goes with another from limit to limit: value and limits as of `Moved`, and whether it follows as that does."""

    path: str
    value: float
    low: float
    high: float
    follows: bool

    def at(self, one: Moved, places: NDArray[np.float64], *, steps: bool = False) -> NDArray[np.float64]:
        """Where it stands while `one` stands at `places` between its limits: as far between its own, so that it is as evenly spread;
        where `one` is not moved, where it is stated. With `steps` instead moved from there, by as much of its width as `one`."""
        move = places - one.place
        wide = (self.high - self.low) / (one.high - one.low)
        at = move * wide if steps else np.where(move == 0.0, 0.0, self.low + (move - one.low) * wide)
        return (0.0 if self.follows else self.value) + at


@dataclass(frozen=True, slots=True)
class Moved:
    """An input that may be otherwise than it is stated or assumed, SI: its value, standard uncertainty, and what that rests on.

    `together` are the paths that move as one. `follows` marks a default, which goes with what it was made from: its place is then
    what is added to it, not the value itself. `basis` as of `Share`; `low` and `high` are limits, less the value. `tied` are inputs of
    another value that go with it.
    """

    path: str
    together: tuple[str, ...]
    value: float
    u: float
    basis: str
    low: float = 0.0
    high: float = 0.0
    follows: bool = False
    tied: tuple[Tied, ...] = ()

    @property
    def paths(self) -> tuple[str, ...]:
        """All paths that move with it."""
        return (*self.together, *(other.path for other in self.tied))

    @property
    def place(self) -> float:
        """Where it stands when it is not moved."""
        return 0.0 if self.follows else self.value


def moved_inputs(
    row: Row, planned: wiring.Plan, known: Mapping[str, Any], *, seen: Collection[str] = (), read: Collection[str] = ()
) -> list[Moved]:
    """The inputs that `planned` uses and that may be otherwise: those with limits, then, of the rest, those with a last decimal;
    then the defaults.

    Parameters: `known` columns of what is stated (`TopEnd.values`); `seen` paths that count as used; `read` paths whose reading takes the
    place of what is stated: a default made from one has only what it adds of its own.
    """
    used = {name for step in planned.steps for name in step.takes} | set(seen)
    found = []
    for path, value in row.values.items():
        if path not in used or _is_copy(row, path):
            continue
        ends, written = row.limits.get(path), row.resolutions.get(path)
        together = moving_together(row, path)
        if ends is not None and ends.high > ends.low:
            basis = "assumed" if path in row.noted else "limits"
            found.append(_between(path, together, value, ends, basis))
        elif written is not None and value != 0.0:
            found.append(Moved(path, together, value, written / DIVISORS["rectangular"], "written"))
    values = wiring.run(planned, known)
    for node in planned.assumptions:
        ends = _own_limits(row, node, values, read)
        if ends is not None and ends.high > ends.low:
            found.append(_between(node.name, (node.name,), float(values[node.name][0]), ends, "assumed", follows=True))
    for group in wiring.tied(row.structure):
        found = _tied(found, [path for path in group if path not in read])
    return found


def _tied(found: list[Moved], group: Sequence[str]) -> list[Moved]:
    """`found` with those of `group` as one: a common cause is one input (JCGM 100:2008, 5.2.4)."""
    members = [one for path in group for one in found if one.path == path and one.basis != "written"]
    if len(members) < 2:
        return found
    # "not moved" must not be the limit of one and the middle of another: led by what has room to either side where another has
    first = max(members, key=lambda one: (one.low < 0.0) + (one.high > 0.0))
    others = [one for one in members if one is not first]
    if any((one.low < 0.0 and not first.low < 0.0) or (one.high > 0.0 and not first.high > 0.0) for one in others):
        # one is at its lower limit as stated and another at its upper one: nothing is known that goes with both
        return found
    tied = tuple(Tied(one.path, one.value, one.low, one.high, one.follows) for one in others)
    basis = "assumed" if any(one.basis == "assumed" for one in members) else first.basis
    return [replace(first, basis=basis, tied=tied) if one is first else one for one in found if one not in others]


def _between(path: str, together: tuple[str, ...], value: float, ends: Limits, basis: str, *, follows: bool = False) -> Moved:
    """Limits are a rectangle: u = half-width/√3 (JCGM 100:2008, 4.3.7)."""
    u = (ends.high - ends.low) / 2.0 / DIVISORS["rectangular"]
    return Moved(path, together, value, u, basis, ends.low - value, ends.high - value, follows)


def _own_limits(row: Row, node: wiring.Node, values: Mapping[str, Any], read: Collection[str]) -> Limits | None:
    """What a default adds to the limits of what it was made from, which moves by itself and takes the default along."""
    nominal = node.takes[0] if node.inputs else ""
    if node.name.endswith("fitted_thickness") and nominal in row.values and (nominal in row.limits or nominal in read):
        # what is stated or read of a nominal thickness stands for ± 0.02 mm; crush alone is left
        exact = Limits(row.values[nominal], row.values[nominal])
        row = replace(row, limits={**row.limits, nominal: exact})
    return default_limits(row, node, values)


def moving_together(row: Row, path: str) -> tuple[str, ...]:
    """`path`, and its copy under the deck reading where that is the same part: one value, not two."""
    copy = f"deck.{path}"
    return (path, copy) if copy in row.values and _is_copy(row, copy) else (path,)


def _is_copy(row: Row, path: str) -> bool:
    """Whether `path` is a part under the deck reading, or the stack under a reading, that is still the top end's own."""
    if row.same_stack(path):
        return True
    own = path.removeprefix("deck.")
    return own != path and own in row.values and row.values[own] == row.values[path] and row.limits.get(own) == row.limits.get(path)


def placed(row: Row, moved: Sequence[Moved], at: Iterable[NDArray[np.float64]], *, steps: bool = False) -> dict[str, Any]:
    """Columns of `row` [SI] with each of `moved` at the places `at`, one array each; for a plan that has their paths given.

    Places are between limits, or with `steps` so far from where an input stands: what is tied to it goes along as `Tied.at` says.
    """
    columns: dict[str, Any] = row.columns()
    added = {}
    for one, places in zip(moved, at, strict=True):
        if one.follows:
            added[one.path] = places
        else:
            columns |= dict.fromkeys(one.together, places)
        for other in one.tied:
            (added if other.follows else columns)[other.path] = other.at(one, places, steps=steps)
    if added:
        given = wiring.run(wiring.plan(row.structure.with_given(columns), tuple(added)), columns)
        columns |= {path: given[path] + places for path, places in added.items()}
    same = [path for path in READ_WITH if path in columns and row.same_stack(path) and not any(path in one.together for one in moved)]
    if same:
        # the gaskets under a reading are those now fitted, whatever they measure
        planned = wiring.plan(row.structure.with_given(columns), tuple(READ_WITH[path] for path in same))
        stacks = wiring.run(planned, columns)
        # where nobody says what is fitted now, it is what was read with, and cancels all the same
        columns |= {path: stacks[READ_WITH[path]] for path in same if READ_WITH[path] not in planned.missing}
    return columns


def _down_and_up(row: Row, moved: Sequence[Moved]) -> dict[str, Any]:
    """Columns of 2n + 1 rows: the stated row, then each moved input down and up by its u."""
    at = np.repeat(np.array([[one.place] for one in moved]).reshape(-1, 1), 2 * len(moved) + 1, axis=1)
    for index, one in enumerate(moved):
        at[index, 2 * index + 1] -= one.u
        at[index, 2 * index + 2] += one.u
    return placed(row, moved, at, steps=True)


#: Independent parts of the draws, from whose spread the error is told.
PARTS: Final = 8


def _drawn(
    row: Row, moved: list[Moved], units: Mapping[str, str], draws: int, seed: int, sampler: str, threads: int
) -> dict[str, tuple[float, Drawn]]:
    """Standard deviation and what else Monte Carlo finds, by output in its unit; parts are drawn, evaluated and read one by one."""
    names = list(units)
    size = max(2, -(-draws // PARTS))
    if sampler == "sobol":
        size = 1 << (size - 1).bit_length()
    evaluator = Evaluator(row.structure.with_given(one.path for one in moved), names)
    few = not moved or size <= BLOCK // PARTS
    run = evaluator.run if few else evaluator.recorded(placed(row, moved, np.zeros((len(moved), 2)))).run

    def work(part: int) -> tuple[dict[str, NDArray[np.float64]], int]:
        # drawn, placed and evaluated block by block, so that nothing leaves the cache but the outputs
        unit = _unit_draws(len(moved), seed, part, sampler)
        made = {name: np.empty(size) for name in names}
        code = np.zeros(size, dtype=np.int8)
        for start in range(0, size, BLOCK):
            block = slice(start, min(start + BLOCK, size))
            at = unit(block.stop - block.start)
            for one, place in zip(moved, at, strict=True):
                place *= one.high - one.low
                place += one.place + one.low
            run(placed(row, moved, at), {name: column[block] for name, column in made.items()}, code[block])
        shown = {name: from_si(column, units[name]) for name, column in made.items()}
        good = code == 0
        return shown if good.all() else {name: column[good] for name, column in shown.items()}, int(size - good.sum())

    if threads > 1:
        with ThreadPoolExecutor(threads) as pool:
            parts = list(pool.map(work, range(PARTS)))
    else:
        parts = [work(part) for part in range(PARTS)]
    refused = sum(count for _, count in parts)
    return {name: _read([shown[name] for shown, _ in parts], refused) for name in names}


def _unit_draws(inputs: int, seed: int, part: int, sampler: str) -> Callable[[int], NDArray[np.float64]]:
    """Gives so many draws from 0 to 1 at a time, one row an input; each part has its own, and the same for the same seed."""
    generator = np.random.default_rng([seed, part])
    if sampler == "sobol" and inputs:
        from scipy.stats import qmc  # slow to import, and wanted by few

        sequence = qmc.Sobol(inputs, scramble=True, rng=generator)
        return lambda count: np.ascontiguousarray(sequence.random(count).T)
    space = np.empty((inputs, BLOCK))
    return lambda count: generator.random(out=space[:, :count]) if count == BLOCK else generator.random((inputs, count))


def _read(parts: list[NDArray[np.float64]], refused: int) -> tuple[float, Drawn]:
    parts = [part for part in parts if len(part)]
    count = sum(len(part) for part in parts)
    if not count:
        return math.nan, Drawn(math.nan, math.nan, math.nan, math.nan, 0, refused)
    # ends as the mean of those of the parts: one pass gives them and their error
    weights = np.array([len(part) for part in parts]) / count
    ends = np.array([_ends(part) for part in parts])
    low, high = (float(end) for end in weights @ ends)
    error = float(ends.std(axis=0, ddof=1).max() / math.sqrt(len(ends))) if len(ends) > 1 else math.nan
    means = np.array([part.mean() for part in parts])
    mean = float(weights @ means)
    square = math.fsum(float(off @ off) for off in (part - mean for part in parts))
    spread = math.sqrt(square / (count - 1)) if count > 1 else 0.0
    return spread, Drawn(mean, low, high, error, count, refused)


def _ends(draws: NDArray[np.float64]) -> tuple[float, float]:
    """The draws with 2.5 % and with 97.5 % of them below."""
    count = len(draws)
    # some of them in order show between which values an end lies
    some = np.sort(draws[:: 1 + count // _SAMPLED])
    return _in_order(draws, some, int(0.025 * count)), _in_order(draws, some, min(count - 1, int(0.975 * count)))


#: Draws that are put in order to find where among all of them to look.
_SAMPLED: Final = 2048


def _in_order(draws: NDArray[np.float64], some: NDArray[np.float64], place: int) -> float:
    """The value at `place` among `draws` in order; `some` of them come in order."""
    count, shown = len(draws), len(some)
    share = place / count
    # the number of `some` below it scatters by the root of n p (1 - p)
    reach = 6.0 * math.sqrt(shown * share * (1.0 - share)) + 2.0
    if share < 0.5:
        near, before = draws[draws <= some[min(shown - 1, int(share * shown + reach))]], 0
    else:
        # NaN counts as the greatest, as it does where all are put in order
        near = draws[~(draws < some[max(0, int(share * shown - reach))])]
        before = count - len(near)
    if not 0 <= place - before < len(near):
        near, before = draws, 0
    return float(np.partition(near, place - before)[place - before])
