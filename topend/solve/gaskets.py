"""Which head, base gaskets and head gaskets bring a build to its targets: every combination decided, none dropped.

How: a head and a head stack leave one unknown, the sum of the base gaskets. Every output that the base sum moves steadily
turns its target into an interval of base sums, looked up in the sorted distinct sums the drawer can make; what the deck
clearance alone decides (port timing) is worked out once for every sum; what is not shown to be monotone (squish velocity)
is evaluated for every sum that is left. Counts are exact, since each distinct sum knows how many stacks make it. The
answers and their scores come from the same evaluation as everything else.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import Row, TopEnd, lowered
from topend.errors import FitError, must_be
from topend.evaluation import Result, evaluate, evaluate_columns, needs_message
from topend.parts import Gasket, GasketSet, Head
from topend.physics import volumes, wiring
from topend.physics.wiring import NOTHING, Structure
from topend.quantities import OUTPUTS, output
from topend.solve.stacks import FEMTOMETRES, Kinds, Stacks, first_members, stacks_of
from topend.units import KINDS, Quantity, StatedQuantity, StatedValueError, figure_si, from_si, quantity, stated

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Combination", "Fit", "Miss", "fit_gaskets"]

#: A tolerance or limit is met within this of itself, and scores compare rounded to it.
SLACK: Final = 1e-9
_DIGITS: Final = 9

# How each output answers to the base sum b, at a given head and head stack (docs/datum-and-signs.md). What is not named is
# evaluated sum by sum.
_DECK: Final = frozenset(
    {
        "deck_clearance",
        "exhaust_opens",
        "exhaust_closes",
        "exhaust_duration",
        "transfer_opens",
        "transfer_closes",
        "transfer_duration",
        "blowdown",
    }
)  # the deck clearance alone decides
_GAP: Final = frozenset({"squish_edge", "squish_inner", "squish_min", "squish_mean", "contact_min"})  # grow by b
_VOLUME: Final = frozenset({"clearance_volume", "compression_ratio", "trapped_compression_ratio"})  # monotone, bend at the deck
_FIXED: Final = frozenset(
    {"piston_travel", "swept_volume", "crown_volume", "crevice_volume", "squish_area_ratio", "mean_piston_speed", "tdc_acceleration"}
)

#: Points (head, head stack, base sum) worked on at a time.
_CHUNK: Final = 1_000_000
#: How far an extra gasket is looked for [m], and how finely before its ends are narrowed.
_EXTRA_MOST: Final = 5e-3
_EXTRA_STEP: Final = 2e-6


@dataclass(frozen=True)
class Combination:
    """One answer: a head (None: the top end has none), its base and head gaskets, and its score."""

    head: Head | None
    head_index: int
    base: tuple[Gasket, ...]
    head_gaskets: tuple[Gasket, ...]
    score: float
    _top: TopEnd = field(repr=False)

    @functools.cached_property
    def top(self) -> TopEnd:
        """The top end with this head and these gaskets."""
        changes: dict[str, Any] = {"base_gaskets": self.base, "head_gaskets": self.head_gaskets}
        if self.head is not None and self.head != self._top.head:
            changes.update(head=self.head, assembled=None)
        return self._top.replace(changes)

    @functools.cached_property
    def result(self) -> Result:
        """Everything that top end comes to."""
        return evaluate(self.top)


@dataclass(frozen=True, slots=True)
class Miss:
    """A target or limit that the nearest combination does not meet: by how much it is outside, in the output's unit."""

    name: str
    value: float
    wanted: str
    by: float
    unit: str

    def __str__(self) -> str:
        unit = "" if self.unit == "–" else f" {self.unit}"
        digits = OUTPUTS[self.name].decimals
        side = "too much" if self.by > 0 else "too little"
        return f"{self.name} {self.value:.{digits}f}{unit}, wanted {self.wanted}: {abs(self.by):.{digits}f}{unit} {side}"


@dataclass(frozen=True)
class Fit:
    """The answer of `fit_gaskets`.

    `best` the combinations that meet every target, best first; `considered` how many combinations there are, `feasible` how
    many of them meet every target; `complete` says that every one was decided. When nothing fits: `nearest` (least score),
    `misses` (what it does not meet), and `extra_gasket`: for each role (base, head) in which one more gasket in the nearest
    stack would bring it in, the interval of its fitted thickness, a head gasket with the opening (by mean area) of those
    already there. `notes` are sentences to print with the answer.
    """

    best: tuple[Combination, ...]
    considered: int
    feasible: int
    complete: bool
    nearest: Combination | None
    misses: tuple[Miss, ...]
    extra_gasket: Mapping[str, tuple[Quantity, Quantity]]
    notes: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.best)

    def __str__(self) -> str:
        lines = [f"{self.considered:,} combinations considered, all decided; {self.feasible:,} meet every target"]
        for rank, one in enumerate(self.best, 1):
            lines.append(f"{rank:2d}  score {one.score:.4f}  {_stack_text(one)}")
        if self.nearest is not None:
            lines.append(f"nearest  score {self.nearest.score:.4f}  {_stack_text(self.nearest)}")
            lines += [f"  {miss}" for miss in self.misses]
            for role, (low, high) in self.extra_gasket.items():
                lines.append(f"  one more {role} gasket, fitted {low.m_as('mm'):.3f} to {high.m_as('mm'):.3f} mm, would bring it in")
        return "\n".join([*lines, *self.notes])


def _stack_text(one: Combination) -> str:
    head = (one.head.name if one.head is not None and one.head.name else f"head {one.head_index}") if one.head is not None else "no head"

    def thick(gaskets: tuple[Gasket, ...]) -> str:
        return " + ".join(gasket.fitted.text for gasket in gaskets) or "none"

    return f"{head}: base {thick(one.base)}; head {thick(one.head_gaskets)}"


# --- the question ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Wish:
    """One target or limit: low ≤ output ≤ high in SI with slack; a target also has its value and tolerance."""

    name: str
    low: float
    high: float
    text: str
    value: float | None = None
    tolerance: float | None = None


def _number(name: str, given: Any, what: str) -> float:
    """A target's, tolerance's or limit's value in SI: a bare number for a ratio, else a quantity of the output's kind."""
    try:
        return figure_si(given, output(name).unit)
    except StatedValueError as error:
        raise FitError(f"{what} of {name} {error}") from None


def _target(name: str, given: Any) -> _Wish:
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence) or len(given) != 2:
        unit = output(name).unit
        example = "(12.5, 0.4)" if unit == "–" else f'("0.90 {unit}", "0.05 {unit}")'
        raise FitError(f"target {name} must be a value and a tolerance, such as {example}; got {given!r}")
    value, tolerance = _number(name, given[0], "the value"), _number(name, given[1], "the tolerance")
    if not tolerance > 0.0:
        raise FitError(f"the tolerance of {name} must be more than zero; got {given[1]!r}")
    span = tolerance * (1.0 + SLACK)
    return _Wish(name, value - span, value + span, f"{_shown(name, value)} ± {_shown(name, tolerance)}", value, tolerance)


def _shown(name: str, value: float) -> str:
    unit = OUTPUTS[name].unit
    number = f"{from_si(value, unit):.10g}"
    return number if unit == "–" else f"{number} {unit}"


def _limit(name: str, given: Any, *, least: bool, why: str = "") -> _Wish:
    value = _number(name, given, "the limit")
    slack = SLACK * abs(value)
    if least:
        return _Wish(name, value - slack, math.inf, f"at least {_shown(name, value)}{why}")
    return _Wish(name, -math.inf, value + slack, f"at most {_shown(name, value)}")


def _refuse_contradictions(wishes: Sequence[_Wish]) -> None:
    by_name: dict[str, list[_Wish]] = {}
    for wish in wishes:
        same = by_name.setdefault(wish.name, [])
        for other in same:
            if wish.low > other.high or other.low > wish.high:
                raise FitError(f"no value of {wish.name} can be {other.text} and {wish.text}")
        same.append(wish)
    # the least gap in the band is never more than the gap at its edge, nor contact more than the least gap
    for smaller, greater in (("squish_min", "squish_edge"), ("squish_min", "squish_inner"), ("squish_min", "squish_mean")):
        low = max((wish.low for wish in by_name.get(smaller, [])), default=-math.inf)
        for wish in by_name.get(greater, []):
            if low > wish.high:
                owner = max(by_name[smaller], key=lambda one: one.low)
                raise FitError(
                    f"{smaller} is never more than {greater}: {smaller} {owner.text} and {greater} {wish.text} exclude each other"
                )


def _range(name: str, given: Any) -> tuple[int, int]:
    pair = (given, given) if isinstance(given, int) and not isinstance(given, bool) else given
    if (
        isinstance(pair, (str, bytes))
        or not isinstance(pair, Sequence)
        or len(pair) != 2
        or not all(isinstance(end, int) and not isinstance(end, bool) for end in pair)
        or not 0 <= pair[0] <= pair[1]
    ):
        raise FitError(f"{name} must be least and most, whole numbers with 0 ≤ least ≤ most, such as (1, 3); got {given!r}")
    return int(pair[0]), int(pair[1])


def _kinds(stock: GasketSet, role: str, classes: bool) -> Kinds:
    merged: dict[Any, list[Any]] = {}
    for item in stock.items:
        if item.gasket.role == role and item.count > 0:
            merged.setdefault(_likeness(item.gasket), [item.gasket, 0])[1] += item.count
    gaskets = tuple(gasket for gasket, _ in merged.values())
    openings: dict[float | None, int] = {}
    for gasket in gaskets:
        openings.setdefault(_opening(gasket) if classes else None, len(openings))
    return Kinds(
        gaskets,
        tuple(round(gasket.fitted.si * FEMTOMETRES) for gasket in gaskets),
        tuple(openings[_opening(gasket) if classes else None] for gasket in gaskets),
        tuple(count for _, count in merged.values()),
    )


def _opening(gasket: Gasket) -> float | None:
    return None if gasket.opening is None else gasket.opening.si


def _likeness(gasket: Gasket) -> tuple[Any, ...]:
    """What two equal gaskets have in common, in a form that is quick to compare."""
    return tuple((value.si, value.si_limits) if isinstance(value, StatedQuantity) else value for value in gasket.__dict__.values())


def fit_gaskets(
    top: TopEnd,
    stock: GasketSet,
    heads: Sequence[Head] | None = None,
    base_count: tuple[int, int] | int = (1, 3),
    head_count: tuple[int, int] | int | None = None,
    best: int = 10,
    least_gap: str | Quantity | None = "0.6 mm",
    at_least: Mapping[str, Any] | None = None,
    at_most: Mapping[str, Any] | None = None,
    **targets: Any,
) -> Fit:
    """Which head, base gaskets and head gaskets bring `top` to its targets, from what is in the drawer.

    Parameters
    ----------
    top : the build; its own gaskets do not matter, its deck reading stays bound to the base stack it was taken with.
    stock : the drawer. Equal gaskets merge.
    heads : candidates; None: the head of `top`. An assembled volume counts for the head it was read with alone.
    base_count, head_count : least and most gaskets of each role. `head_count` None: none under a head that seals by O-ring,
        one to three under the others.
    best : how many answers to give.
    least_gap : floor on `squish_min` (common practice), met like a limit; None lifts it, and the answer says so. Where the
        least gap cannot be had it holds for `squish_edge`, and the answer says so.
    at_least, at_most : limits by output name.
    targets : `name=(value, tolerance)` for any output. Met when |value - target| ≤ tolerance.

    A combination is a head, a multiset of base gaskets and a multiset of head gaskets. Score: Σ((value - target)/tolerance)².
    Order: score (rounded to 1e-9), fewest gaskets, least fitted thickness, head order, drawer order (positions of base, then
    of head gaskets). A combination that cannot be assembled is considered and not feasible.

    Raises `FitError` for a question that cannot be asked (empty drawer, targets that exclude each other, a stack range the
    drawer cannot fill, a target whose output cannot be had), `UnknownNameError` for an output nobody has.

    >>> from topend.parts import DeckReading, FlushHead
    >>> top = TopEnd(deck=DeckReading(clearance="0.50 mm", base_thickness="0.30 mm"), head=FlushHead(), base_gaskets=[])
    >>> drawer = GasketSet(items=[{"gasket": Gasket(role="base", thickness="0.3 mm"), "count": 2},
    ...                           {"gasket": Gasket(role="head", thickness="0.2 mm"), "count": 2}])
    >>> fit = fit_gaskets(top, drawer, squish_edge=("0.95 mm", "0.10 mm"))
    >>> fit.considered, fit.feasible, [gasket.thickness.text for gasket in fit.best[0].head_gaskets]
    (4, 2, ['0.2 mm', '0.2 mm'])
    """
    must_be("fit_gaskets", "top", top, TopEnd)
    must_be("fit_gaskets", "stock", stock, GasketSet)
    wishes = [_target(name, given) for name, given in targets.items()]
    wishes += [_limit(name, given, least=True) for name, given in (at_least or {}).items()]
    wishes += [_limit(name, given, least=False) for name, given in (at_most or {}).items()]
    if not wishes:
        raise FitError("nothing is asked: give a target, such as squish_min=('0.90 mm', '0.05 mm'), or a limit in at_least or at_most")
    if isinstance(best, bool) or not isinstance(best, int) or best < 1:
        raise FitError(f"best must be a whole number of at least 1; got {best!r}")
    if least_gap is not None:
        try:
            floor = stated(least_gap, KINDS["length"])
        except StatedValueError as error:
            raise FitError(f"least_gap {error}; None (in a file and on the command line: none) lifts the floor") from None
        if floor.si <= 0.0:
            raise FitError(
                f"least_gap must be more than 0 mm; got {floor.text!r}; "
                "None (in a file and on the command line: none) lifts the floor on purpose"
            )
    if not any(item.count for item in stock.items):
        raise FitError("the drawer is empty: stock has no gasket of any kind")
    question = _Question.ask(top, stock, heads, _range("base_count", base_count), head_count, wishes, least_gap)
    return question.answer(best)


# --- the work --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Candidate:
    """One head with its stacks: all of them for the count, those that may be assembled for the search."""

    index: int
    head: Head | None
    row: Row
    considered: int
    stacks: Stacks


@dataclass(frozen=True)
class _Group:
    """Heads of one structure, worked on together: one row a (head, head stack) pair."""

    structure: Structure
    rows: tuple[Row, ...]
    candidates: tuple[_Candidate, ...]
    wishes: tuple[_Wish, ...]
    #: per pair: position of its head in `candidates`, and of its head stack there
    at_head: NDArray[np.int64]
    at_stack: NDArray[np.int64]
    #: per pair: whole thickness [m], volume in the openings [m³] or None, mean opening area [m²] or None
    thickness: Floats
    volume: Floats | None

    @functools.cached_property
    def by_head(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """The heads' rows as columns: what all have in common, and what differs from head to head."""
        first = self.rows[0].values
        if len(self.rows) == 1:
            return {path: np.array([value]) for path, value in first.items()}, {}
        every = {path: np.array([row.values[path] for row in self.rows]) for path in first}
        same = {path: column[:1] for path, column in every.items() if (column == column[0]).all()}
        return same, {path: column for path, column in every.items() if path not in same}

    def columns(self, pairs: Any, base: Floats) -> dict[str, Any]:
        """Columns of rows (pair, base sum), as `evaluate_columns` takes them."""
        same, differing = self.by_head
        made: dict[str, Any] = dict(same)
        if differing:
            heads = self.at_head[pairs]
            made.update({path: column[heads] for path, column in differing.items()})
        made["base.thickness"] = base
        made["head_gasket.thickness"] = self.thickness[pairs]
        if self.volume is not None:
            made["head_gasket.volume"] = self.volume[pairs]
            if "assembled.volume" in made:
                with np.errstate(all="ignore"):
                    area = made["head_gasket.volume"] / made["head_gasket.thickness"]
                bore_area = volumes.circle_area(diameter=made["cylinder.bore"])
                made["head_gasket.opening_area"] = np.where(made["head_gasket.thickness"] > 0.0, area, bore_area)
        return made


@dataclass(frozen=True)
class _Points:
    """Rows that are left: pair and base sum by position, and the score of each."""

    pairs: NDArray[np.int64]
    sums: NDArray[np.int64]
    score: Floats

    def at(self, keep: Any) -> _Points:
        return _Points(self.pairs[keep], self.sums[keep], self.score[keep])


@dataclass(frozen=True)
class _Cells:
    """Points told apart by the number of base gaskets too, as columns: what the order of answers is made of."""

    score: Floats
    count: NDArray[np.int64]
    thick: NDArray[np.int64]
    head: NDArray[np.int64]
    group: NDArray[np.int64]
    pair: NDArray[np.int64]
    base_sum: NDArray[np.int64]
    base_number: NDArray[np.int64]

    @classmethod
    def of(cls, question: _Question, found: list[tuple[_Group, _Points]]) -> _Cells:
        parts = []
        totals = question.base.sums[:, 0]
        for number, (group, points) in enumerate(found):
            stack_numbers = np.concatenate([one.stacks.numbers for one in group.candidates])
            stack_thick = np.concatenate([one.stacks.sums.sum(axis=1) for one in group.candidates])
            heads = np.array([one.index for one in group.candidates], dtype=np.int64)
            sums = question.sums[points.sums]
            first, last = np.searchsorted(totals, sums, side="left"), np.searchsorted(totals, sums, side="right")
            times = last - first
            ends = np.cumsum(times)
            rows = np.arange(ends[-1] if len(ends) else 0) - np.repeat(ends - times, times) + np.repeat(first, times)
            pair = np.repeat(points.pairs, times)
            parts.append(
                (
                    np.repeat(np.round(points.score, _DIGITS), times),
                    question.base.numbers[rows] + stack_numbers[pair],
                    totals[rows] + stack_thick[pair],
                    heads[group.at_head[pair]],
                    np.full(len(pair), number, dtype=np.int64),
                    pair,
                    totals[rows],
                    question.base.numbers[rows],
                )
            )
        return cls(*[np.concatenate(column) for column in zip(*parts, strict=True)])

    def order(self) -> NDArray[np.intp]:
        return np.lexsort((self.head, self.thick, self.count, self.score))

    def tie(self, one: Any, other: Any) -> bool:
        return all(bool(column[one] == column[other]) for column in (self.score, self.count, self.thick, self.head))


@dataclass(frozen=True)
class _Question:
    top: TopEnd
    base: Stacks
    #: distinct base sums, ascending [fm] and [m], and how many stacks make each
    sums: NDArray[np.int64]
    thickness: Floats
    ways: NDArray[Any]
    groups: tuple[_Group, ...]
    considered: int
    notes: tuple[str, ...]

    @classmethod
    def ask(
        cls,
        top: TopEnd,
        stock: GasketSet,
        heads: Sequence[Head] | None,
        base_count: tuple[int, int],
        head_count: Any,
        wishes: list[_Wish],
        least_gap: Any,
    ) -> _Question:
        chosen: list[Head | None] = [top.head] if heads is None else list(heads)
        if not chosen:
            raise FitError("heads is empty: give candidates, or None for the head of the top end")
        asked = None if head_count is None else _range("head_count", head_count)
        base = stacks_of(_kinds(stock, "base", classes=False), base_count)
        if not len(base.numbers):
            raise _unfilled("base", base_count, base.kinds)
        head_kinds = _kinds(stock, "head", classes=True)
        notes: list[str] = []
        stacks = _HeadStacks(head_kinds, asked)
        rows = lowered(top, chosen)
        candidates = [stacks.candidate(index, head, row) for index, (head, row) in enumerate(zip(chosen, rows, strict=True))]
        unfilled = [one for one in candidates if one.considered == 0]
        if len(unfilled) == len(candidates):
            raise _unfilled("head", asked or _default_count(chosen[0]), head_kinds)
        notes += [f"{_head_name(one)}: the drawer holds no head stack for it, so it has no combination" for one in unfilled]
        candidates = [one for one in candidates if one.considered]
        if top.assembled is not None and any(one.head is not None and one.head != top.head for one in candidates):
            notes.append("the assembled volume counts for the head it was read with; other heads go by their chamber volume")
        groups = _grouped(top, candidates, wishes, least_gap, notes)
        totals, place = np.unique(base.sums[:, 0], return_inverse=True)
        ways = np.zeros(len(totals), dtype=base.ways.dtype)
        np.add.at(ways, place, base.ways)
        considered = base.total * sum(one.considered for one in candidates)
        return cls(top, base, totals, totals / FEMTOMETRES, ways, groups, considered, tuple(notes))

    def answer(self, most: int) -> Fit:
        found = [self._feasible(group, most) for group in self.groups]
        feasible = sum(count for count, _ in found)
        best = self._ranked([(group, points) for group, (_, points) in zip(self.groups, found, strict=True)], most)
        if best:
            return Fit(tuple(best), self.considered, feasible, True, None, (), {}, self.notes)
        return self._nearest()

    # --- meeting every wish ---

    def _feasible(self, group: _Group, most: int) -> tuple[int, _Points]:
        """How many combinations of this group meet every wish, and the points among which its best lie."""
        low, high, allowed = self._windows(group, group.wishes)
        total, kept = 0, _none()
        rest = [wish for wish in group.wishes if _answers(wish.name) == "other"]
        per_pair = _ways_of_pairs(group)
        running = np.concatenate([[0], np.cumsum(self.ways[allowed])])
        if not rest:
            total = _exact_sum((running[high] - running[low]) * per_pair)
        for pairs, sums in _chunks(low, high):
            points = _Points(pairs, allowed[sums], np.zeros(len(pairs)))
            score, meets = self._scores(group, points, check=rest)
            points = _Points(points.pairs, points.sums, score)
            if rest:
                points = points.at(meets)
                total += _exact_sum(self.ways[points.sums] * per_pair[points.pairs])
            kept = _least(kept, points, most)
        return total, kept

    def _windows(self, group: _Group, wishes: Iterable[_Wish]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """For each pair the range of allowed base sums, as positions in `allowed`; `allowed` as positions in `sums`."""
        wishes = tuple(wishes)
        known = _known(group.structure)
        pairs = len(group.thickness)
        allowed = np.arange(len(self.sums))
        if not pairs:  # every head stack of this group collides whatever lies under the cylinder
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), allowed
        if "deck_clearance" in known:
            allowed = self._deck_allowed(group, wishes)
        reference = self.thickness[0]
        names = [name for name in (*_GAP, "clearance_volume") if name in known]
        names += [wish.name for wish in wishes if _answers(wish.name) == "fixed"]
        extra = [name for name in ("deck_clearance", "cylinder.bore_area", "piston.area", "exhaust.top", "swept_volume") if name in known]
        static = _static_names(group.structure)
        values = self._raw(group, slice(None), np.array([reference]), (*names, *extra, *static))
        low = np.full(pairs, -np.inf)
        high = np.full(pairs, np.inf)

        def narrow(from_: Any, to: Any) -> None:
            np.maximum(low, from_, out=low)
            np.minimum(high, to, out=high)

        for name in ("squish_edge", "squish_min", "contact_min"):  # touching is no top end
            if name in known:
                narrow(reference + NOTHING - values[name], np.inf)
        if "clearance_volume" in known:
            narrow(reference + _deck_change(values, np.finfo(float).tiny - values["clearance_volume"]), np.inf)
        with np.errstate(all="ignore"):
            for wish in wishes:
                answers = _answers(wish.name)
                if answers == "gap":
                    narrow(wish.low - values[wish.name] + reference, wish.high - values[wish.name] + reference)
                elif answers == "volume":
                    narrow(*(reference + end for end in _volume_ends(wish, values)))
                elif answers == "fixed":
                    outside = (values[wish.name] < wish.low) | (values[wish.name] > wish.high)
                    narrow(np.where(outside, np.inf, -np.inf), np.inf)
        bad = _cannot(group, values)
        if bad.any():
            narrow(np.where(bad, np.inf, -np.inf), np.inf)
        usable = self.thickness[allowed]
        first = np.searchsorted(usable, low, side="left")
        last = np.maximum(np.searchsorted(usable, high, side="right"), first)
        return first, last, allowed

    def _deck_allowed(self, group: _Group, wishes: tuple[_Wish, ...]) -> NDArray[np.int64]:
        """Positions of the base sums that every wish on timing and every port allows; no head has a say in it."""
        judged = [check for check in wiring.checks(group.structure, sizes=False)[0] if check.reason.startswith("port_")]
        names = [wish.name for wish in wishes if wish.name in _DECK]
        takes = [name for check in judged for name in check.takes]
        values = self._raw(group, np.zeros(1, dtype=np.int64), self.thickness, (*names, *takes))
        keep = np.ones(len(self.sums), dtype=bool)
        with np.errstate(all="ignore"):
            for check in judged:
                keep &= ~check.applies(*[values[name] for name in check.takes])
            for wish in wishes:
                if wish.name in _DECK:
                    keep &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
        return np.nonzero(keep)[0]

    def _raw(self, group: _Group, pairs: Any, base: Floats, names: Iterable[str]) -> dict[str, Any]:
        """Values by name, without asking whether the rows can be assembled."""
        planned = wiring.plan(group.structure, tuple(dict.fromkeys(names)))
        return wiring.run(planned, group.columns(pairs, base))

    def _scores(self, group: _Group, points: _Points, *, check: Iterable[_Wish] = ()) -> tuple[Floats, NDArray[np.bool_]]:
        """Score of each point, and whether it meets the wishes of `check`: evaluated, each point as a row."""
        checked = list(check)
        scored = [wish for wish in group.wishes if wish.value is not None]
        names = tuple(dict.fromkeys(wish.name for wish in (*scored, *checked)))
        score = np.zeros(len(points.pairs))
        meets = np.ones(len(points.pairs), dtype=bool)
        if not names or not len(points.pairs):
            return score, meets
        columns = group.columns(points.pairs, self.thickness[points.sums])
        values, _ = evaluate_columns(group.structure, columns, names, judge=False)
        for wish in scored:
            assert wish.value is not None
            assert wish.tolerance is not None
            score += ((values[wish.name] - wish.value) / wish.tolerance) ** 2
        with np.errstate(invalid="ignore"):
            for wish in checked:
                meets &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
        return score, meets

    # --- putting answers in order ---

    def _ranked(self, found: list[tuple[_Group, _Points]], most: int) -> list[Combination]:
        """The first `most` combinations of the points found, in the order of the docstring of `fit_gaskets`."""
        cells = _Cells.of(self, found)
        order = cells.order()
        ranked: list[Combination] = []
        start = 0
        while start < len(order) and len(ranked) < most:
            stop = start + 1
            while stop < len(order) and cells.tie(order[start], order[stop]):
                stop += 1
            ranked += self._in_drawer_order(found, cells, order[start:stop], most - len(ranked))
            start = stop
        return ranked

    def _in_drawer_order(self, found: list[tuple[_Group, _Points]], cells: _Cells, rows: Any, most: int) -> list[Combination]:
        """The first `most` combinations of cells that tie in everything but the drawer's order."""
        listed = []
        for row in rows:
            group = found[cells.group[row]][0]
            pair = cells.pair[row]
            candidate, at = group.candidates[group.at_head[pair]], int(group.at_stack[pair])
            stacks = candidate.stacks
            bases = first_members(self.base, int(cells.base_number[row]), (int(cells.base_sum[row]),), most)
            heads = first_members(stacks, int(stacks.numbers[at]), tuple(int(part) for part in stacks.sums[at]), most)
            listed += [(base, head, float(cells.score[row]), candidate) for base in bases for head in heads][:most]
        listed.sort(key=lambda one: one[:2])
        return [self._combination(base, head, score, candidate) for base, head, score, candidate in listed[:most]]

    def _combination(self, base: tuple[int, ...], head: tuple[int, ...], score: float, candidate: _Candidate) -> Combination:
        return Combination(
            head=candidate.head,
            head_index=candidate.index,
            base=tuple(self.base.kinds.gaskets[at] for at in base),
            head_gaskets=tuple(candidate.stacks.kinds.gaskets[at] for at in head),
            score=score,
            _top=self.top,
        )

    # --- when nothing fits ---

    def _nearest(self) -> Fit:
        """What comes nearest: least score within the limits, or, where no combination keeps them, least score of all."""
        for only in (True, False):
            found = []
            for group in self.groups:
                limits = [wish for wish in group.wishes if wish.value is None] if only else []
                found.append((group, self._nearest_points(group, limits)))
            best = self._ranked(found, 1)
            if best:
                return self._missed(best[0])
        note = "no combination can be assembled: each of them collides"
        return Fit((), self.considered, 0, True, None, (), {}, (*self.notes, note))

    def _nearest_points(self, group: _Group, limits: list[_Wish]) -> _Points:
        low, high, allowed = self._windows(group, limits)
        rest = [wish for wish in limits if _answers(wish.name) == "other"]
        kept = _none()
        for pairs, sums in _chunks(low, high):
            points = _Points(pairs, allowed[sums], np.zeros(len(pairs)))
            score, meets = self._scores(group, points, check=rest)
            points = _Points(points.pairs, points.sums, score).at(meets & np.isfinite(score))
            kept = _least(kept, points, 1)
        return kept

    def _missed(self, nearest: Combination) -> Fit:
        group = next(group for group in self.groups if any(one.index == nearest.head_index for one in group.candidates))
        result = nearest.result
        misses = []
        for wish in group.wishes:
            value = result.si[wish.name]
            edge = wish.low if value < wish.low else wish.high if value > wish.high else None
            if edge is not None:
                unit = OUTPUTS[wish.name].unit
                misses.append(Miss(wish.name, from_si(value, unit), wish.text, from_si(value - edge, unit), unit))
        extra = {}
        for role in ("base", "head"):
            ends = self._extra(nearest, group, role)
            if ends is not None:
                extra[role] = (quantity(from_si(ends[0], "mm"), "mm"), quantity(from_si(ends[1], "mm"), "mm"))
        return Fit((), self.considered, 0, True, nearest, tuple(misses), extra, self.notes)

    def _extra(self, nearest: Combination, group: _Group, role: str) -> tuple[float, float] | None:
        """The fitted thickness of one more gasket of `role` with which the nearest combination meets every wish."""
        if role == "head" and nearest.head is not None and nearest.head.seal == "o-ring":
            return None
        row = nearest.top.row
        structure = row.structure.with_given(["base.thickness", "head_gasket.thickness", "head_gasket.volume"])
        names = tuple(dict.fromkeys(wish.name for wish in group.wishes))
        known = nearest.result._values
        plan = wiring.plan(row.structure, ("base.thickness", "head_gasket.thickness", "head_gasket.volume", "head_gasket.opening_area"))
        stack = wiring.run(plan, known)
        if "head_gasket.volume" in plan.missing:
            structure = row.structure.with_given(["base.thickness", "head_gasket.thickness"])

        def meets(extra: Floats) -> NDArray[np.bool_]:
            columns: dict[str, Any] = dict(row.columns())
            columns["base.thickness"] = stack["base.thickness"] + (extra if role == "base" else 0.0)
            columns["head_gasket.thickness"] = stack["head_gasket.thickness"] + (extra if role == "head" else 0.0)
            if "head_gasket.volume" in structure.given:
                more = extra * stack["head_gasket.opening_area"] if role == "head" else 0.0
                columns["head_gasket.volume"] = stack["head_gasket.volume"] + more
            values, _ = evaluate_columns(structure, columns, names)
            good = np.ones(len(extra), dtype=bool)
            for wish in group.wishes:
                with np.errstate(invalid="ignore"):
                    good &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
            return good

        steps = np.arange(_EXTRA_STEP, _EXTRA_MOST, _EXTRA_STEP)
        good = meets(steps)
        if not good.any():
            return None
        first = int(np.argmax(good))
        last = first + int(np.argmin(np.append(good[first:], False))) - 1
        outer = steps[last] + _EXTRA_STEP
        return _edge(meets, steps[first] - _EXTRA_STEP, steps[first]), _edge(meets, outer, steps[last])


def _edge(meets: Any, outside: float, inside: float) -> float:
    """The thickness between `outside` and `inside` at which `meets` turns, to a nanometre."""
    while abs(inside - outside) > 1e-9:
        middle = 0.5 * (inside + outside)
        if meets(np.array([middle]))[0]:
            inside = middle
        else:
            outside = middle
    return float(inside)


def _answers(name: str) -> str:
    """How an output answers to the base sum: deck, gap, volume, fixed, or other (not shown to be monotone)."""
    if name in _DECK:
        return "deck"
    if name in _GAP:
        return "gap"
    if name in _VOLUME:
        return "volume"
    return "fixed" if name in _FIXED else "other"


_KNOWN: Final = (*_GAP, "clearance_volume", "deck_clearance", "cylinder.bore_area", "piston.area", "exhaust.top", "swept_volume")


@functools.lru_cache(maxsize=256)
def _known(structure: Structure) -> frozenset[str]:
    return frozenset(name for name in _KNOWN if not wiring.plan(structure, (name,)).missing)


def _deck_change(values: Mapping[str, Any], volume_change: Any) -> Any:
    """Change of the base sum that changes the clearance volume by `volume_change`."""
    bore = values["cylinder.bore_area"]
    if "deck_clearance" not in values or "assembled.volume" in values:
        return volume_change / bore
    return volumes.deck_clearance_change.raw(
        volume_change=volume_change, deck_clearance=values["deck_clearance"], bore_area=bore, piston_area=values.get("piston.area", bore)
    )


def _volume_ends(wish: _Wish, values: Mapping[str, Any]) -> tuple[Any, Any]:
    """Changes of the base sum between which a wish on volume or ratio is met; both ratios fall as the base grows."""
    volume = values["clearance_volume"]
    if wish.name == "clearance_volume":
        return _deck_change(values, wish.low - volume), _deck_change(values, wish.high - volume)
    if wish.name == "compression_ratio":
        swept = values["swept_volume"]
        wanted = [
            volumes.clearance_volume_from_compression_ratio.raw(swept_volume=swept, compression_ratio=np.maximum(ratio, 1.0))
            for ratio in (wish.high, wish.low)
        ]
        return _deck_change(values, wanted[0] - volume), _deck_change(values, wanted[1] - volume)
    deck, bore = values["deck_clearance"], values["cylinder.bore_area"]
    piston = bore if "assembled.volume" in values else values.get("piston.area", bore)
    at_deck = volume - deck * np.where(deck > 0.0, bore, piston)
    ends = [
        volumes.deck_clearance_from_trapped_ratio.raw(
            trapped_compression_ratio=np.maximum(ratio, 1.0),
            volume_at_deck=at_deck,
            exhaust_top=values["exhaust.top"],
            bore_area=bore,
            piston_area=piston,
        )
        - deck
        for ratio in (wish.high, wish.low)
    ]
    return (-np.inf if wish.high == math.inf else ends[0]), ends[1]


@functools.lru_cache(maxsize=256)
def _static_checks(structure: Structure) -> tuple[wiring.Check, ...]:
    """The refusals that no base gasket changes."""
    moving = {"contact", "no_clearance_volume", "port_above_crown", "port_never_opens"}
    return tuple(check for check in wiring.checks(structure, sizes=False)[0] if check.reason not in moving)


def _static_names(structure: Structure) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for check in _static_checks(structure) for name in check.takes))


def _cannot(group: _Group, values: Mapping[str, Any]) -> Any:
    bad = np.zeros(1, dtype=bool)
    with np.errstate(all="ignore"):
        for check in _static_checks(group.structure):
            bad = bad | check.applies(*[values[name] for name in check.takes])
    return bad


def _ways_of_pairs(group: _Group) -> NDArray[Any]:
    parts = [one.stacks.ways for one in group.candidates]
    return np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)


def _exact_sum(counts: NDArray[Any]) -> int:
    if counts.dtype == object or counts.size == 0:
        return int(sum(counts.tolist()))
    # int64 would wrap silently; where that could be, add as Python numbers
    return int(counts.sum()) if float(np.abs(counts).astype(float).sum()) < 2**62 else int(sum(counts.tolist()))


def _none() -> _Points:
    empty = np.empty(0, dtype=np.int64)
    return _Points(empty, empty, np.empty(0))


def _chunks(low: NDArray[np.int64], high: NDArray[np.int64]) -> Iterable[tuple[NDArray[np.int64], NDArray[np.int64]]]:
    """(pair, position) for every position from low to high of each pair, in pieces of about `_CHUNK` rows."""
    width = high - low
    live = np.nonzero(width > 0)[0]
    start = 0
    total = np.cumsum(width[live])
    while start < len(live):
        done = total[start - 1] if start else 0
        stop = max(start + 1, int(np.searchsorted(total, done + _CHUNK, side="right")))
        part = live[start:stop]
        lengths = width[part]
        pairs = np.repeat(part, lengths)
        ends = np.cumsum(lengths)
        positions = np.arange(ends[-1]) - np.repeat(ends - lengths, lengths) + np.repeat(low[part], lengths)
        yield pairs, positions
        start = stop


def _least(kept: _Points, more: _Points, most: int) -> _Points:
    """Of both, the points of least score that hold the first `most` combinations, with all that tie with the last of them."""
    joined = _Points(
        np.concatenate([kept.pairs, more.pairs]), np.concatenate([kept.sums, more.sums]), np.concatenate([kept.score, more.score])
    )
    if len(joined.score) <= 1:
        return joined
    rounded = np.round(joined.score, _DIGITS)
    # every point holds at least one combination, so the `most`-th least score bounds what is needed
    bound = np.partition(rounded, min(most, len(rounded)) - 1)[min(most, len(rounded)) - 1]
    return joined.at(rounded <= bound)


# --- heads and their stacks ------------------------------------------------------------------------------------------


def _default_count(head: Head | None) -> tuple[int, int]:
    return (0, 0) if head is None or head.seal == "o-ring" else (1, 3)


@dataclass
class _HeadStacks:
    """The head stacks of a drawer, made once for each range and bore that comes up."""

    kinds: Kinds
    asked: tuple[int, int] | None
    made: dict[Any, Stacks] = field(default_factory=dict)

    def candidate(self, index: int, head: Head | None, row: Row) -> _Candidate:
        count = self.asked if self.asked is not None else _default_count(head)
        bore = row.values.get("cylinder.bore")
        every = self.of(count, None)
        if head is not None and head.seal == "o-ring":  # a gasket under it cannot be assembled
            return _Candidate(index, head, row, every.total, self.of((0, 0) if count[0] == 0 else (1, 0), None))
        return _Candidate(index, head, row, every.total, self.of(count, bore))

    def of(self, count: tuple[int, int], bore: float | None) -> Stacks:
        """The stacks of `count` gaskets, without those whose opening lies inside `bore`."""
        good = tuple(bore is None or gasket.opening is None or not gasket.opening.si < bore for gasket in self.kinds.gaskets)
        if (count, good) not in self.made:
            self.made[count, good] = stacks_of(self.kinds if all(good) else self.kinds.only(good), count)
        return self.made[count, good]


def _head_name(one: _Candidate) -> str:
    name = one.head.name if one.head is not None else None
    return f"head {one.index}" + (f" ({name})" if name else "")


def _unfilled(role: str, count: tuple[int, int], kinds: Kinds) -> FitError:
    held = sum(kinds.most)
    return FitError(
        f"no drawer stack has {count[0]} to {count[1]} {role} gaskets: the drawer holds {held} of role {role}; "
        f"add some, or lower the least of {role}_count"
    )


def _grouped(top: TopEnd, candidates: list[_Candidate], wishes: list[_Wish], least_gap: Any, notes: list[str]) -> tuple[_Group, ...]:
    by_structure: dict[tuple[Structure, tuple[str, ...]], list[_Candidate]] = {}
    for one in candidates:
        given = ["base.thickness", "head_gasket.thickness"]
        structure = one.row.structure
        bore_known = "cylinder.bore" in one.row.values
        if bore_known or all(gasket.opening is not None for gasket in one.stacks.kinds.gaskets):
            given.append("head_gasket.volume")
            if "assembled.volume" in one.row.values and bore_known:
                given.append("head_gasket.opening_area")
        by_structure.setdefault((structure.with_given(given), tuple(given)), []).append(one)
    floor_on: dict[str, list[_Candidate]] = {}
    made = []
    for (structure, taken), members in by_structure.items():
        _need_bound(members[0], structure, wishes)
        own = list(wishes)
        for wish in wishes:
            lack = wiring.plan(structure, (wish.name,)).missing.get(wish.name)
            if lack is not None:
                who = f" with {', '.join(_head_name(one) for one in members)}" if len(candidates) > 1 else ""
                raise FitError(f"{needs_message(wish.name, lack.needs)}{who}")
        if least_gap is not None:
            name = next((name for name in ("squish_min", "squish_edge") if not wiring.plan(structure, (name,)).missing), None)
            floor_on.setdefault(name or "", []).extend(members)
            if name is not None:
                own.append(_limit(name, least_gap, least=True, why=" (the floor least_gap; None lifts it on purpose)"))
        _refuse_contradictions(own)
        made.append(_group(structure, taken, members, tuple(own)))
    if least_gap is None:
        notes.append("the floor on the least gap was lifted: a gap under 0.6 mm may close to nearly nothing at speed (common practice)")
    for name, members in floor_on.items():
        who = "" if len(members) == len(candidates) else f" for {', '.join(_head_name(one) for one in members)}"
        if name == "squish_edge":
            needs = ", ".join(wiring.plan(_group_structure(made, members[0]), ("squish_min",)).missing["squish_min"].needs)
            notes.append(f"the least gap cannot be had{who} (it needs {needs}): the floor of {least_gap} holds for the edge gap alone")
        elif not name:
            notes.append(f"neither least gap nor edge gap can be had{who}: no floor of {least_gap} is held")
    return tuple(made)


def _group_structure(groups: list[_Group], one: _Candidate) -> Structure:
    return next(group.structure for group in groups if one in group.candidates)


def _need_bound(one: _Candidate, structure: Structure, wishes: list[_Wish]) -> None:
    """A reading whose stack nobody stated cannot be moved to another stack."""
    if "deck.clearance" in structure.given and "deck.base_thickness" not in structure.given:
        raise FitError(
            "the deck reading does not say which base stack it was taken with: give deck.base_thickness, or the base_gaskets then fitted"
        )
    if "assembled.volume" in structure.given and any(_answers(wish.name) in ("volume", "other") for wish in wishes):
        for path, gaskets in (("assembled.base_thickness", "base_gaskets"), ("assembled.head_thickness", "head_gaskets")):
            if path not in structure.given and not (path.endswith("head_thickness") and one.head is not None and one.head.seal == "o-ring"):
                raise FitError(f"the assembled volume does not say which stack it was read with: give {path}, or the {gaskets} then fitted")


def _group(structure: Structure, given: tuple[str, ...], members: list[_Candidate], wishes: tuple[_Wish, ...]) -> _Group:
    at_head = np.concatenate([np.full(len(one.stacks.numbers), index) for index, one in enumerate(members)])
    at_stack = np.concatenate([np.arange(len(one.stacks.numbers)) for one in members])
    totals = {id(one.stacks): one.stacks.sums.sum(axis=1) / FEMTOMETRES for one in members}
    thickness = np.concatenate([totals[id(one.stacks)] for one in members])
    volume = None
    if "head_gasket.volume" in given:
        known: dict[Any, Floats] = {}
        for one in members:
            at = id(one.stacks), one.row.values.get("cylinder.bore")
            if at not in known:
                known[at] = one.stacks.sums @ _opening_areas(one) / FEMTOMETRES
        volume = np.concatenate([known[id(one.stacks), one.row.values.get("cylinder.bore")] for one in members])
    return _Group(
        structure=structure,
        rows=tuple(one.row for one in members),
        candidates=tuple(members),
        wishes=wishes,
        at_head=at_head.astype(np.int64),
        at_stack=at_stack.astype(np.int64),
        thickness=thickness,
        volume=volume,
    )


def _opening_areas(one: _Candidate) -> Floats:
    """Opening area of each class of head gasket [m²]; an opening that is not given is the bore."""
    kinds = one.stacks.kinds
    areas = np.zeros(max(kinds.classes, default=0) + 1)
    diameters = [one.row.values["cylinder.bore"] if gasket.opening is None else gasket.opening.si for gasket in kinds.gaskets]
    areas[list(kinds.classes)] = volumes.circle_area(diameter=np.array(diameters))
    return areas
