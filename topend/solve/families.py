"""Barrel families as they are met in practice: builds drawn from them, and which stacks bring each build inside its window.

A family is a top end whose limits say how far builds of it differ; or a table of past builds takes the place of some of
them. A build is one draw: its own deck, crank and so on, the same whichever head goes on; each head and each kind of gasket
comes out of its limits anew for each build.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import Row, TopEnd, lowered
from topend.errors import FitError
from topend.evaluation import default_limits, evaluate_columns, input_unit, needs_message
from topend.extra_outputs import of_the_table
from topend.parts import Gasket, Head
from topend.parts.examples import fitting_path
from topend.physics import volumes, wiring
from topend.physics.wiring import Structure
from topend.solve.candidates import default_count
from topend.solve.responses import DECK, base_window, response, window_names
from topend.solve.wishes import Wish, limit, refuse_contradictions, target
from topend.units import StatedValueError, kind_of_unit, stated_column, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["Family"]

#: Rows evaluated at a time where wishes have to be tried stack by stack.
_CHUNK: Final = 1_000_000
#: Cells (build, base stack, head stack) of one head beyond which the question is refused: memory would end it.
_MOST_CELLS: Final = 400_000_000


@dataclass(frozen=True, eq=False)
class Family:
    """A family of barrels that heads are made for.

    Parameters: `name`; `top` the top end that all its builds have in common, without head and gaskets, whose limits say how far
    builds differ ("1.65 mm ± 0.25 mm"; a rectangle, as everywhere); `heads` the variants that may be made for it, the same head
    in two families being one variant; `share` of all builds, by weight against the other families; `past` a table of past
    builds, ``{path: values}``, a row a build, which takes the place of what `top` says at these paths; `gaskets` positions of those
    of the offering that fit it, None: all. `targets` {output: (value, tolerance)}, `at_least`, `at_most` {output: value} are its
    own, added to those of the whole plan, and in their place where both name an output.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.7 mm ± 0.1 mm", base_thickness="0.3 mm"))
    >>> te.Family("fell 50", top, heads=[te.FlushHead()]).share
    1.0
    """

    name: str
    top: TopEnd
    heads: Sequence[Head]
    share: float = 1.0
    past: Mapping[str, Any] | None = None
    gaskets: Sequence[int] | None = None
    targets: Mapping[str, tuple[Any, Any]] = field(default_factory=dict)
    at_least: Mapping[str, Any] = field(default_factory=dict)
    at_most: Mapping[str, Any] = field(default_factory=dict)


def wishes_of(family: Family, targets: Mapping[str, Any], at_least: Mapping[str, Any], at_most: Mapping[str, Any]) -> list[Wish]:
    """The window of a family: the plan's targets and limits, with the family's own in their place."""
    names = [*targets, *at_least, *at_most, *family.targets, *family.at_least, *family.at_most]
    of_the_table("plan_range", names, family.top.extra_outputs, "how they answer to a gasket is not known beforehand")
    made = [target(name, given) for name, given in {**targets, **family.targets}.items()]
    made += [limit(name, given, least=True) for name, given in {**at_least, **family.at_least}.items()]
    made += [limit(name, given, least=False) for name, given in {**at_most, **family.at_most}.items()]
    if not made:
        raise FitError(f"family {family.name}: no target and no limit is given; without a window every build is inside")
    return made


@dataclass(frozen=True)
class Drawn:
    """Builds of one family: columns [SI] by path, one row a build, and the share of their limits at which gaskets and heads lie."""

    family: Family
    count: int
    columns: Mapping[str, Floats]
    #: per head of the family: columns of its own paths
    heads: tuple[Mapping[str, Floats], ...]
    #: fitted thickness of each gasket of the offering in each build [m], (gaskets, builds)
    fitted: Floats
    structures: tuple[Structure, ...]
    #: what was judged by the deck alone, which no head has a say in
    _timed: dict[Any, Bools] = field(default_factory=dict, repr=False)


def draw(family: Family, gaskets: Sequence[Gasket], count: int, seed: Sequence[int], *, random_past: bool) -> Drawn:
    """`count` builds of `family`. Past builds are taken in turn, or at random where `random_past`; the same seed draws the same."""
    rows = lowered(family.top, [None, *family.heads])
    own, with_head = rows[0], rows[1:]
    columns: dict[str, Floats] = {}
    moved = {path: ends for path, ends in own.limits.items() if ends.high > ends.low}
    generator = np.random.default_rng([*seed, 0])
    for path in sorted(moved):
        columns[path] = generator.uniform(moved[path].low, moved[path].high, count)
    columns.update(_past(family, own, count, generator if random_past else None))
    heads = []
    for index, row in enumerate(with_head):
        generator = np.random.default_rng([*seed, 1, index])
        varied = sorted(path for path, ends in row.limits.items() if path.startswith("head.") and ends.high > ends.low)
        heads.append({path: generator.uniform(row.limits[path].low, row.limits[path].high, count) for path in varied})
    generator = np.random.default_rng([*seed, 2])
    fitted = np.empty((len(gaskets), count))
    for at, gasket in enumerate(gaskets):
        low, high = fitted_limits(gasket)
        fitted[at] = generator.uniform(low, high, count) if high > low else low
    given = ["base.thickness", "head_gasket.thickness"]
    if "cylinder.bore" in own.values or all(gasket.opening is not None for gasket in gaskets if gasket.role == "head"):
        given.append("head_gasket.volume")
    structures = tuple(row.structure.with_given(given) for row in with_head)
    return Drawn(family, count, {**{p: np.full(1, v) for p, v in own.values.items()}, **columns}, tuple(heads), fitted, structures)


def fitted_limits(gasket: Gasket) -> tuple[float, float]:
    """Between which thicknesses [m] a gasket comes out when fitted: as stated, else as is assumed of its material."""
    if gasket.fitted_thickness is not None:
        ends = gasket.fitted_thickness.si_limits
        return (gasket.fitted_thickness.si,) * 2 if ends is None else (ends.low, ends.high)
    row = TopEnd(**{f"{gasket.role}_gaskets": (gasket,)}).row
    whole = "base.thickness" if gasket.role == "base" else "head_gasket.thickness"
    planned = wiring.plan(row.structure, (whole,))
    known = wiring.run(planned, row.columns())
    ends = default_limits(row, planned.assumptions[0], known)
    assert ends is not None
    return ends.low, ends.high


def _past(family: Family, row: Row, count: int, generator: Any) -> dict[str, Floats]:
    if not family.past:
        return {}
    made: dict[str, Floats] = {}
    for path, values in family.past.items():
        if path not in row.values:
            raise FitError(
                f"family {family.name}: past builds give {path}, but the family's top end does not state it; "
                f"state it there too, so that it is known what is meant. It states {', '.join(sorted(row.values))}"
            )
        kind = kind_of_unit(input_unit(path))
        assert kind is not None
        try:
            made[path] = to_si(*stated_column(values, kind))
        except StatedValueError as error:
            raise FitError(f"family {family.name}: past builds, {path}: {fitting_path(error, path)}") from None
    lengths = {path: len(column) for path, column in made.items()}
    if len(set(lengths.values())) > 1 or not all(lengths.values()):
        told = ", ".join(f"{path} {length}" for path, length in lengths.items())
        raise FitError(f"family {family.name}: past builds must give as many values at each path, a row a build; got {told}")
    rows = next(iter(lengths.values()))
    at = np.arange(count) % rows if generator is None else generator.integers(0, rows, count)
    return {path: column[at] for path, column in made.items()}


@dataclass(frozen=True)
class Stack:
    """Stacks of one role under the heads of a family: positions in the offering, ascending, one tuple a stack."""

    members: tuple[tuple[int, ...], ...]

    def thickness(self, fitted: Floats) -> Floats:
        """Whole fitted thickness (stacks, builds) [m]."""
        made = np.zeros((len(self.members), fitted.shape[1]))
        for at, stack in enumerate(self.members):
            for gasket in stack:
                made[at] += fitted[gasket]
        return made

    def volume(self, fitted: Floats, areas: Sequence[float | None], bore_area: Floats) -> Floats:
        """Volume in the openings (stacks, builds) [m³]; a gasket without opening counts as the bore."""
        made = np.zeros((len(self.members), fitted.shape[1]))
        for at, stack in enumerate(self.members):
            for gasket in stack:
                area = areas[gasket]
                made[at] += fitted[gasket] * (bore_area if area is None else area)
        return made


def head_counts(head: Head, asked: tuple[int, int] | None) -> tuple[int, int]:
    """How many gaskets go under a head: as asked; none under an O-ring head, else one."""
    if head.seal == "o-ring":
        return (0, 0)
    if asked is not None:
        return asked
    return (0, 0) if default_count(head) == (0, 0) else (1, 1)


@dataclass(frozen=True)
class Judge:
    """Which stacks bring each build of one family, under one head, inside the window."""

    drawn: Drawn
    at_head: int
    gaskets: Sequence[Gasket]
    wishes: tuple[Wish, ...]

    @property
    def structure(self) -> Structure:
        return self.drawn.structures[self.at_head]

    @functools.cached_property
    def _areas(self) -> tuple[float | None, ...]:
        return tuple(
            None if gasket.opening is None else float(volumes.circle_area(diameter=gasket.opening.si)) if gasket.role == "head" else None
            for gasket in self.gaskets
        )

    def fixed_columns(self, builds: Any) -> dict[str, Any]:
        """Columns of these builds with this head, its stacks left open."""
        head = self.drawn.family.heads[self.at_head]
        row = lowered(self.drawn.family.top, [head])[0]
        made: dict[str, Any] = {path: np.array([value]) for path, value in row.values.items()}
        for source in (self.drawn.columns, self.drawn.heads[self.at_head]):
            made.update({path: column if len(column) == 1 else column[builds] for path, column in source.items()})
        return made

    def stacked(self, builds: Any, base: Floats, thickness: Floats, volume: Floats) -> dict[str, Any]:
        """Columns of rows: these builds, each with its whole base stack, head stack and volume in the openings."""
        made = self.fixed_columns(builds)
        made["base.thickness"], made["head_gasket.thickness"] = base, thickness
        if "head_gasket.volume" in self.structure.given:
            made["head_gasket.volume"] = volume
        return made

    def head_volume(self, stacks: Stack) -> Floats:
        bore = self.drawn.columns.get("cylinder.bore")
        area = np.zeros(1) if bore is None else volumes.circle_area(diameter=bore)
        return stacks.volume(self.drawn.fitted, self._areas, area)

    def inside(self, base: Stack, heads: Stack) -> Bools:
        """(base stacks, head stacks, builds): whether that build with these stacks is a top end inside the window."""
        count = self.drawn.count
        if count * len(base.members) * len(heads.members) > _MOST_CELLS:
            raise FitError(
                f"family {self.drawn.family.name}: {len(base.members)} base stacks and {len(heads.members)} head stacks over {count} "
                "builds are more than can be held; narrow base_count or head_count, offer fewer gaskets, or draw fewer builds"
            )
        sums = base.thickness(self.drawn.fitted)
        thick, volume = heads.thickness(self.drawn.fitted), self.head_volume(heads)
        rows = np.tile(np.arange(count), len(heads.members))
        columns = self.stacked(rows, np.zeros(1), thick.ravel(), volume.ravel())
        structure = self.structure
        planned = wiring.plan(structure, window_names(structure, self.wishes))
        columns["base.thickness"] = reference = np.full(1, float(sums.min()))
        values = wiring.run(planned, columns)
        low, high = base_window(structure, values, self.wishes, float(reference[0]), len(rows))
        low, high = low.reshape(len(heads.members), count), high.reshape(len(heads.members), count)
        alike = (base.members, structure, self.wishes)
        if alike not in self.drawn._timed:
            self.drawn._timed[alike] = self._on_time(sums)
        timed = self.drawn._timed[alike]
        made = np.empty((len(base.members), len(heads.members), count), dtype=np.bool_)
        for at in range(len(base.members)):
            made[at] = (sums[at] >= low) & (sums[at] <= high) & timed[at]
        tight = self._tight(heads)
        if tight.any():
            made[:, tight] = False
        rest = [wish for wish in self.wishes if response(wish.name) == "other"]
        if rest:
            self._try(made, sums, thick, volume, rest)
        return made

    def _tight(self, heads: Stack) -> Bools:
        """Head stacks with an opening inside the bore, which cannot be assembled."""
        bore = self.drawn.columns.get("cylinder.bore")
        widest = -math.inf if bore is None else float(np.max(bore))

        def hangs(at: int) -> bool:
            opening = self.gaskets[at].opening
            return opening is not None and opening.si < widest

        return np.array([any(hangs(at) for at in stack) for stack in heads.members], dtype=np.bool_)

    def _on_time(self, sums: Floats) -> Bools:
        """(base stacks, builds): what the deck clearance alone decides, evaluated."""
        structure, shape = self.structure, sums.shape
        judged = [check for check in wiring.checks(structure, sizes=False)[0] if check.reason.startswith("port_")]
        wanted = [wish for wish in self.wishes if wish.name in DECK]
        takes = [name for check in judged for name in check.takes]
        keep = np.ones(sums.size, dtype=np.bool_)
        names = tuple(dict.fromkeys([*takes, *(wish.name for wish in wanted)]))
        if not names:
            return keep.reshape(shape)
        rows = np.tile(np.arange(shape[1]), shape[0])
        columns = self.stacked(rows, sums.ravel(), np.zeros(1), np.zeros(1))
        values = wiring.run(wiring.plan(structure, names), columns)
        with np.errstate(all="ignore"):
            for check in judged:
                keep &= ~check.applies(*[values[name] for name in check.takes])
            for wish in wanted:
                keep &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
        return keep.reshape(shape)

    def _try(self, made: Bools, sums: Floats, thick: Floats, volume: Floats, rest: list[Wish]) -> None:
        """Hold what is left in `made` against wishes that are not shown to be monotone."""
        left = np.flatnonzero(made)
        names = [wish.name for wish in rest]
        for start in range(0, len(left), _CHUNK):
            cells = left[start : start + _CHUNK]
            at_base, at_head, builds = np.unravel_index(cells, made.shape)
            columns = self.stacked(builds, sums[at_base, builds], thick[at_head, builds], volume[at_head, builds])
            values, _ = evaluate_columns(self.structure, columns, names, judge=False)
            good = np.ones(len(cells), dtype=np.bool_)
            with np.errstate(invalid="ignore"):
                for wish in rest:
                    good &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
            made.ravel()[cells] = good

    def tried(self, base: Stack, heads: Stack) -> tuple[Bools, dict[str, Floats]]:
        """The same by evaluating every row whole, nothing skipped, and the values of all wishes; (base, heads, builds) each."""
        count = self.drawn.count
        sums, thick, volume = base.thickness(self.drawn.fitted), heads.thickness(self.drawn.fitted), self.head_volume(heads)
        shape = (len(base.members), len(heads.members), count)
        at_base, at_head, builds = (part.ravel() for part in np.indices(shape))
        names = tuple(dict.fromkeys(wish.name for wish in self.wishes))
        columns = self.stacked(builds, sums[at_base, builds], thick[at_head, builds], volume[at_head, builds])
        values, codes = evaluate_columns(self.structure, columns, names)
        good = np.broadcast_to(codes == 0, (len(builds),)).copy()
        with np.errstate(invalid="ignore"):
            for wish in self.wishes:
                good &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
        made = good.reshape(shape)
        made[:, self._tight(heads)] = False
        return made, {name: np.broadcast_to(values[name], (len(builds),)).reshape(shape) for name in names}


def judged_wishes(family: Family, structure: Structure, wishes: list[Wish], least_gap: Any, head: str) -> tuple[Wish, ...]:
    """The wishes with the floor on the gap, for heads of one structure. Raises `FitError` for what cannot be had."""
    if "deck.clearance" in structure.given and "deck.base_thickness" not in structure.given:
        raise FitError(f"family {family.name}: its deck does not say which base stack it was read with: give deck.base_thickness")
    own = list(wishes)
    for wish in wishes:
        lack = wiring.plan(structure, (wish.name,)).missing.get(wish.name)
        if lack is not None:
            raise FitError(f"family {family.name}, {head}: {needs_message(wish.name, lack.needs)}")
    if least_gap is not None:
        name = next((name for name in ("squish_min", "squish_edge") if not wiring.plan(structure, (name,)).missing), None)
        if name is not None:
            own.append(limit(name, least_gap, least=True, why=" (the floor least_gap)"))
    refuse_contradictions(own)
    return tuple(own)
