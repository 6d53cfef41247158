"""Which head, base gaskets and head gaskets bring a build to its targets: every combination decided, none dropped.

How: a head and a head stack leave one unknown, the sum of the base gaskets. Every output that the base sum moves steadily
turns its target into an interval of base sums, looked up in the sorted distinct sums the drawer can make; what the deck
clearance alone decides (port timing) is worked out once for every sum; what is not shown to be monotone (squish velocity)
is evaluated for every sum that is left. Counts are exact, since each distinct sum knows how many stacks make it. The
answers and their scores come from the same evaluation as everything else.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd, lowered
from topend.errors import FitError, must_be, some
from topend.evaluation import evaluate, evaluate_columns
from topend.parts import FlushHead, GasketSet, Head, SpigotHead
from topend.physics import wiring
from topend.solve.answers import Combination, Fit, Miss
from topend.solve.candidates import Candidate, Group, HeadStacks, default_count, grouped, head_name, kinds_of, nothing_fills, ways_of_pairs
from topend.solve.responses import DECK, base_window, known_in, response, window_names
from topend.solve.stacks import FEMTOMETRES, Stacks, first_members, stacks_of
from topend.solve.wishes import Wish, count_range, limit, target
from topend.units import KINDS, Quantity, StatedValueError, from_si, quantity, stated

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["fit_gaskets"]

#: Decimals to which scores compare.
_DIGITS: Final = 9
#: Points (head, head stack, base sum) worked on at a time.
_CHUNK: Final = 1_000_000
#: How far an extra gasket is looked for [m], and how finely before its ends are narrowed.
_EXTRA_MOST: Final = 5e-3
_EXTRA_STEP: Final = 2e-6


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

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.50 mm", base_thickness="0.30 mm"), head=te.FlushHead(), base_gaskets=[])
    >>> drawer = te.GasketSet(items=[{"gasket": te.Gasket(role="base", thickness="0.3 mm"), "count": 2},
    ...                              {"gasket": te.Gasket(role="head", thickness="0.2 mm"), "count": 2}])
    >>> fit = te.fit_gaskets(top, drawer, squish_edge=("0.95 mm", "0.10 mm"))
    >>> fit.considered, fit.feasible, [gasket.thickness.text for gasket in fit.best[0].head_gaskets]
    (4, 2, ['0.2 mm', '0.2 mm'])
    """
    must_be("fit_gaskets", "top", top, TopEnd)
    must_be("fit_gaskets", "stock", stock, GasketSet)
    known = top.outputs
    wishes = [target(name, given, known) for name, given in targets.items()]
    wishes += [limit(name, given, known, least=True) for name, given in (at_least or {}).items()]
    wishes += [limit(name, given, known, least=False) for name, given in (at_most or {}).items()]
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
    question = _Question.ask(top, stock, heads, count_range("base_count", base_count), head_count, wishes, least_gap)
    return question.answer(best)


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
    def of(cls, question: _Question, found: list[tuple[Group, _Points]]) -> _Cells:
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
    groups: tuple[Group, ...]
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
        wishes: list[Wish],
        least_gap: Any,
    ) -> _Question:
        if heads is not None and (said := some(heads, "heads")) is not None:
            raise FitError(f"heads {said}")
        for number, one in enumerate(heads or ()):
            if not isinstance(one, FlushHead | SpigotHead):
                raise FitError(f"heads.{number} must be a head, such as a FlushHead; got {one!r:.60}")
        chosen: list[Head | None] = [top.head] if heads is None else list(heads)
        if not chosen:
            raise FitError("heads is empty: give candidates, or None for the head of the top end")
        asked = None if head_count is None else count_range("head_count", head_count)
        base = stacks_of(kinds_of(stock, "base", classes=False), base_count)
        if not len(base.numbers):
            raise nothing_fills("base", base_count, base.kinds)
        head_kinds = kinds_of(stock, "head", classes=True)
        notes: list[str] = []
        stacks = HeadStacks(head_kinds, asked)
        rows = lowered(top, chosen)
        candidates = [stacks.candidate(index, head, row) for index, (head, row) in enumerate(zip(chosen, rows, strict=True))]
        unfilled = [one for one in candidates if one.considered == 0]
        if len(unfilled) == len(candidates):
            raise nothing_fills("head", asked or default_count(chosen[0]), head_kinds)
        notes += [f"{head_name(one)}: the drawer holds no head stack for it, so it has no combination" for one in unfilled]
        candidates = [one for one in candidates if one.considered]
        if top.assembled is not None and any(one.head is not None and one.head != top.head for one in candidates):
            notes.append("the assembled volume counts for the head it was read with; other heads go by their chamber volume")
        groups = grouped(top, candidates, wishes, least_gap, notes)
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

    def _feasible(self, group: Group, most: int) -> tuple[int, _Points]:
        """How many combinations of this group meet every wish, and the points among which its best lie."""
        low, high, allowed = self._windows(group, group.wishes)
        total, kept = 0, _none()
        rest = [wish for wish in group.wishes if response(wish.name) == "other"]
        per_pair = ways_of_pairs(group)
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

    def _windows(self, group: Group, wishes: Iterable[Wish]) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
        """For each pair the range of allowed base sums, as positions in `allowed`; `allowed` as positions in `sums`."""
        wishes = tuple(wishes)
        known = known_in(group.structure)
        pairs = len(group.thickness)
        allowed = np.arange(len(self.sums))
        if not pairs:  # every head stack of this group collides whatever lies under the cylinder
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), allowed
        if "deck_clearance" in known:
            allowed = self._deck_allowed(group, wishes)
        reference = self.thickness[0]
        values = self._raw(group, slice(None), np.array([reference]), window_names(group.structure, wishes))
        low, high = base_window(group.structure, values, wishes, reference, pairs)
        usable = self.thickness[allowed]
        first = np.searchsorted(usable, low, side="left")
        last = np.maximum(np.searchsorted(usable, high, side="right"), first)
        return first, last, allowed

    def _deck_allowed(self, group: Group, wishes: tuple[Wish, ...]) -> NDArray[np.int64]:
        """Positions of the base sums that every wish on timing and every port allows; no head has a say in it."""
        judged = [check for check in wiring.checks(group.structure, sizes=False)[0] if check.reason.startswith("port_")]
        names = [wish.name for wish in wishes if wish.name in DECK]
        takes = [name for check in judged for name in check.takes]
        values = self._raw(group, np.zeros(1, dtype=np.int64), self.thickness, (*names, *takes))
        keep = np.ones(len(self.sums), dtype=bool)
        with np.errstate(all="ignore"):
            for check in judged:
                keep &= ~check.applies(*[values[name] for name in check.takes])
            for wish in wishes:
                if wish.name in DECK:
                    keep &= (values[wish.name] >= wish.low) & (values[wish.name] <= wish.high)
        return np.nonzero(keep)[0]

    def _raw(self, group: Group, pairs: Any, base: Floats, names: Iterable[str]) -> dict[str, Any]:
        """Values by name, without asking whether the rows can be assembled."""
        planned = wiring.plan(group.structure, tuple(dict.fromkeys(names)))
        return wiring.run(planned, group.columns(pairs, base))

    def _scores(self, group: Group, points: _Points, *, check: Iterable[Wish] = ()) -> tuple[Floats, NDArray[np.bool_]]:
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

    def _ranked(self, found: list[tuple[Group, _Points]], most: int) -> list[Combination]:
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

    def _in_drawer_order(self, found: list[tuple[Group, _Points]], cells: _Cells, rows: Any, most: int) -> list[Combination]:
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

    def _combination(self, base: tuple[int, ...], head: tuple[int, ...], score: float, candidate: Candidate) -> Combination:
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

    def _nearest_points(self, group: Group, limits: list[Wish]) -> _Points:
        low, high, allowed = self._windows(group, limits)
        rest = [wish for wish in limits if response(wish.name) == "other"]
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
            value = result.si[wish.name] if wish.name in result else evaluate(nearest.top, [wish.name]).si[wish.name]
            edge = wish.low if value < wish.low else wish.high if value > wish.high else None
            if edge is not None:
                misses.append(
                    Miss(wish.name, from_si(value, wish.unit), wish.text, from_si(value - edge, wish.unit), wish.unit, wish.decimals)
                )
        extra = {}
        for role in ("base", "head"):
            ends = self._extra(nearest, group, role)
            if ends is not None:
                extra[role] = (quantity(from_si(ends[0], "mm"), "mm"), quantity(from_si(ends[1], "mm"), "mm"))
        return Fit((), self.considered, 0, True, nearest, tuple(misses), extra, self.notes)

    def _extra(self, nearest: Combination, group: Group, role: str) -> tuple[float, float] | None:
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
