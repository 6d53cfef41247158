"""The search for a correction: the least metal over all stacks, what is not linear brought in step by step, or what comes nearest."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.errors import AssemblyError
from topend.evaluation import evaluate, evaluate_columns
from topend.physics.wiring import NOTHING
from topend.solve.answers import Miss
from topend.solve.correct_answers import Correction, Corrections, unit_of
from topend.solve.correct_question import Question
from topend.solve.programme import Programme
from topend.solve.stacks import first_members
from topend.units import from_si, quantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["Search"]

#: What counts as met all the same, as a share of the limit: no more than rounding.
_MET: Final = 1e-6


@dataclass(frozen=True)
class Search:
    """The search for the answer to a question."""

    asked: Question

    def answer(self, most: int) -> Corrections:
        """At most so many ways, least metal first; or what comes nearest."""
        # cuts that take as much are told apart by their order
        preferred = 1.0 + 1e-7 * np.arange(len(self.asked.names))
        found: list[Correction] = []
        proven = not self.asked.followed
        seen: set[int] = set()
        for programme in self.asked.programmes():
            got: list[Correction] = []
            self._without_cuts(programme, most, got, seen)

            def take(stack: int, cuts: Floats, _: float, got: list[Correction] = got, programme: Programme = programme) -> bool:
                if stack in seen:
                    return False
                made = self._made(stack, cuts, programme)
                if made is not None:
                    got.append(made)
                    seen.add(stack)
                return made is not None

            if len(got) < most:
                allowed = np.ones(self.asked.stacks, dtype=np.bool_)
                allowed[list(seen)] = False
                whole, _ = programme.least(programme.metal * preferred, np.zeros(len(programme.slope)), allowed, most - len(got), take)
                proven = proven and whole
            found += got
        found.sort(key=lambda one: (round(one.metal, 6), round(one.score, 9)))
        unit = "cc" if self.asked.had("clearance_volume") else "mm"
        notes = list(self.asked.notes)
        if found and self.asked.at_edge:
            notes.append("a limit is met to its last digit, with nothing to spare")
        if self.asked.followed:
            names = ", ".join(dict.fromkeys(self.asked.wishes[at].name for at in self.asked.followed))
            notes.append(f"{names}: followed step by step, so that a way with less metal is not ruled out")
        if found:
            proven = proven or found[0].metal == 0.0  # less than none there is not
            return Corrections(tuple(found[:most]), self.asked.considered, proven, None, (), {}, unit, tuple(notes))
        return self._nothing(unit, notes)

    def _without_cuts(self, programme: Programme, most: int, got: list[Correction], seen: set[int]) -> None:
        """Stacks that need no cut, the best scores first."""
        if (programme.low > 0.0).any():
            return
        good = np.flatnonzero((programme.rest <= 0.0).all(axis=0))
        good = np.array([at for at in good if int(at) not in seen], dtype=np.int64)
        none = np.zeros((len(good), len(self.asked.names)))
        if not len(good):
            return
        score, fine = self._judged(good, none)
        order = np.lexsort((good, np.round(score, 9)))
        for at in order[fine[order]][:most]:
            made = self._correction(int(good[at]), none[0], float(score[at]))
            got.append(made)
            seen.add(int(good[at]))

    def _judged(self, stacks: NDArray[np.int64], cuts: Floats) -> tuple[Floats, Bools]:
        """Score of each, and whether it is a top end that meets every wish: evaluated."""
        names = tuple(dict.fromkeys(wish.name for wish in self.asked.wishes))
        values, codes = evaluate_columns(self.asked.group.structure, self.asked.columns(stacks, cuts), names)
        score = np.zeros(len(stacks))
        fine = np.broadcast_to(codes == 0, (len(stacks),)).copy()
        with np.errstate(invalid="ignore"):
            for wish in self.asked.wishes:
                value = np.broadcast_to(values[wish.name], (len(stacks),))
                low, high = (
                    end - way * (_MET * abs(end) if self.asked.at_edge and math.isfinite(end) else 0.0)
                    for way, end in ((1, wish.low), (-1, wish.high))
                )
                fine &= (value >= low) & (value <= high)
                if wish.value is not None and wish.tolerance is not None:
                    score += ((value - wish.value) / wish.tolerance) ** 2
        return score, fine

    def _made(self, stack: int, cuts: Floats, programme: Programme) -> Correction | None:
        """The correction at a stack, brought inside what the programme does not know; None: not to be had."""
        at = np.array([stack])
        score, fine = self._judged(at, cuts[None, :])
        if not fine[0]:
            cuts, far = self._follow(stack, cuts, programme)
            if far > 0.0:
                return None
            score, fine = self._judged(at, cuts[None, :])
            if not fine[0]:
                return None
        return self._correction(stack, cuts, float(score[0]))

    def _correction(self, stack: int, cuts: Floats, score: float) -> Correction:
        amounts = {name: float(cuts[at] * self.asked.scale[at]) for at, name in enumerate(self.asked.names) if cuts[at] > 1e-9}
        shown = {name: quantity(from_si(amount, unit_of(name)), unit_of(name)) for name, amount in amounts.items()}
        place = int(self.asked.at_sum[stack])
        spacer = int(self.asked.spacer_at[place])
        pair = int(self.asked.pairs[stack])
        under = self.asked.group.candidates[0].stacks
        base = heads = None
        if not self.asked.keep or spacer >= 0:
            total = int(self.asked.gasket_sums[place])
            number = int(self.asked.base.numbers[int(np.argmax(self.asked.base.sums[:, 0] == total))])
            base = tuple(self.asked.base.kinds.gaskets[one] for one in first_members(self.asked.base, number, (total,), 1)[0])
        if not self.asked.keep:
            sums = tuple(int(part) for part in under.sums[pair])
            heads = tuple(under.kinds.gaskets[one] for one in first_members(under, int(under.numbers[pair]), sums, 1)[0])
        metal = float(self.asked.metal @ np.where(cuts > 1e-9, cuts, 0.0)) if len(self.asked.names) else 0.0
        return Correction(shown, None if spacer < 0 else self.asked.spacers[spacer], base, heads, metal, score, self.asked.top, amounts)

    # --- what is not linear ---

    def _follow(self, stack: int, cuts: Floats, programme: Programme) -> tuple[Floats, float]:
        """Cuts that meet the other wishes as well, by linearising them where one stands, in steps that get shorter.

        Where it comes to in the end, and how far outside that is, in tolerances: 0 for inside.
        """
        from scipy.optimize import linprog

        others = [self.asked.wishes[at] for at in self.asked.followed]
        names = tuple(dict.fromkeys([*(wish.name for wish in others), *(["contact_min"] if self.asked.had("contact_min") else [])]))
        bounds_of = [(wish.name, wish.low, wish.high, abs(wish.tolerance or wish.low or wish.high)) for wish in others]
        if self.asked.had("contact_min"):
            bounds_of.append(("contact_min", NOTHING, math.inf, 1e-4))
        if not bounds_of or not len(self.asked.names):
            return cuts, math.inf
        count, reach = len(self.asked.names), np.maximum(0.25 * (programme.high - programme.low), 1e-3)
        at = np.full(count + 1, stack)
        step = 1e-4

        def values_at(where: Floats) -> tuple[Floats, Floats]:
            rows = np.concatenate([where[None, :], where[None, :] + step * np.eye(count)])
            found = self.asked.raw(at, rows, names)
            every = np.array([np.broadcast_to(found[name], (count + 1,)) for name, *_ in bounds_of])
            return every[:, 0], (every[:, 1:] - every[:, :1]) / step

        def out(values: Floats) -> float:
            far = [max(low - one, one - high, 0.0) / unit for one, (_, low, high, unit) in zip(values, bounds_of, strict=True)]
            return math.inf if any(math.isnan(one) for one in values) else sum(far)

        now, slope = values_at(cuts)
        best: Floats | None = None
        for _ in range(60):
            rows, rest = [-programme.slope], [-(programme.rest[:, stack] + programme.inside)]
            slack = []
            for (_, low, high, unit), value, rate in zip(bounds_of, now, slope, strict=True):
                for sign, end in ((1.0, low), (-1.0, high)):
                    if math.isfinite(end):
                        rows.append((-sign * rate / unit)[None, :])
                        rest.append(np.array([sign * (value - end) / unit - sign * float(rate @ cuts) / unit - 1e-8]))
                        slack.append(sum(len(one) for one in rest) - 1)
            matrix, right = np.concatenate(rows), np.concatenate(rest)
            if not np.isfinite(matrix).all() or not np.isfinite(right).all():
                break
            wide = np.concatenate([matrix, np.zeros((len(matrix), len(slack)))], axis=1)
            wide[slack, count + np.arange(len(slack))] = -1.0
            low_, high_ = np.maximum(programme.low, cuts - reach), np.minimum(programme.high, cuts + reach)
            found: Any = linprog(
                np.concatenate([programme.metal, np.full(len(slack), 1e4)]),
                A_ub=wide,
                b_ub=right,
                bounds=[*zip(low_, high_, strict=True), *[(0.0, None)] * len(slack)],
                method="highs",
            )
            if found.status != 0:
                break
            tried = np.asarray(found.x[:count])
            then, rate = values_at(tried)
            gained = out(now) - out(then)
            if gained >= -1e-9:
                moved_by = float(np.max(np.abs(tried - cuts)))
                cuts, now, slope = tried, then, rate
                if out(now) == 0.0 and (best is None or programme.metal @ cuts < programme.metal @ best - 1e-12):
                    best = cuts
                if moved_by < 1e-9:
                    break
            else:
                reach = reach * 0.5
                if float(np.max(reach)) < 1e-7:
                    break
        return (cuts, out(now)) if best is None else (best, 0.0)

    # --- when nothing does ---

    def _nothing(self, unit: str, notes: list[str]) -> Corrections:
        """What comes nearest, and what each wish alone would have to give."""
        best: tuple[float, Correction, tuple[Miss, ...]] | None = None
        stood: tuple[int, Floats, Programme] | None = None
        alone: dict[str, tuple[float, Miss]] = {}
        none = np.zeros(len(self.asked.names))
        allowed = np.ones(self.asked.stacks, dtype=np.bool_)
        for programme in self.asked.programmes():
            # limits and the floor are kept where that can be; else what misses least of all
            for number in ("targets", "all", *range(len(self.asked.wishes))):
                if number not in ("targets", "all", *programme.wish) or (number == "all" and best is not None):
                    continue
                give = np.array([1.0 if self._gives(own, number) else 0.0 for own in programme.wish])
                kept: list[tuple[int, Floats, float, Correction, tuple[Miss, ...]]] = []

                def take(stack: int, cuts: Floats, value: float, kept: list[Any] = kept) -> bool:
                    made = self._missed(stack, cuts)
                    if made is not None:
                        kept.append((stack, cuts, value, *made))
                    return made is not None

                programme.least(none, give, allowed, 1, take)
                for stack, cuts, value, correction, misses in kept:
                    if isinstance(number, str):
                        if best is None or value < best[0]:
                            best, stood = (value, correction, misses), (stack, cuts, programme)
                    elif [miss.name for miss in misses] == [self.asked.wishes[number].name]:
                        name = self.asked.wishes[number].name
                        if name not in alone or value < alone[name][0]:
                            alone[name] = value, misses[0]
        if best is not None and stood is not None and self.asked.followed and best[0] <= 1e-9:
            # only what is followed is missed: as near to that as steps from the likeliest stack lead
            stack, cuts, programme = stood
            likeliest = self._least_followed(programme)
            if likeliest is not None:
                stack, cuts = likeliest, programme.low
            nearer = self._missed(stack, self._follow(stack, cuts, programme)[0])
            best = best if nearer is None else (0.0, *nearer)
        if best is None:
            notes.append("no stack of these gaskets can be assembled with these cuts")
            return Corrections((), self.asked.considered, True, None, (), {}, unit, tuple(notes))
        return Corrections(
            (),
            self.asked.considered,
            not self.asked.followed,
            best[1],
            best[2],
            {n: m for n, (_, m) in alone.items()},
            unit,
            tuple(notes),
        )

    def _least_followed(self, programme: Programme) -> int | None:
        """Of the stacks that meet all else without a cut, the one that misses least of what is followed; None: there is none."""
        good = np.flatnonzero((programme.slope @ programme.low[:, None] >= programme.rest).all(axis=0))
        if not len(good):
            return None
        wishes = [self.asked.wishes[at] for at in self.asked.followed]
        values = self.asked.raw(good, np.tile(programme.low, (len(good), 1)), [wish.name for wish in wishes])
        far = np.zeros(len(good))
        for wish in wishes:
            value = np.broadcast_to(values[wish.name], (len(good),))
            outside = np.maximum(wish.low - value, 0.0) + np.maximum(value - wish.high, 0.0)
            far += np.where(np.isnan(outside), np.inf, outside / abs(wish.tolerance or wish.low or wish.high))
        return int(good[int(np.argmin(far))])

    def _gives(self, wish: int | None, number: int | str) -> bool:
        if wish is None or isinstance(number, int):
            return wish == number
        return number == "all" or self.asked.wishes[wish].value is not None

    def _missed(self, stack: int, cuts: Floats) -> tuple[Correction, tuple[Miss, ...]] | None:
        made = self._correction(stack, cuts, math.nan)
        try:
            result = made.result
        except AssemblyError:
            return None
        misses = []
        for wish in self.asked.wishes:
            value = result.si[wish.name] if wish.name in result.si else evaluate(made.top, [wish.name]).si[wish.name]
            edge = wish.low if value < wish.low else wish.high if value > wish.high else None
            # within what the programme keeps inside of, it is met
            if edge is not None and abs(value - edge) > _MET * abs(edge):
                shown = wish.unit
                misses.append(Miss(wish.name, from_si(value, shown), wish.text, from_si(value - edge, shown), shown, wish.decimals))
        score = sum(
            ((result.si[w.name] - w.value) / (w.tolerance or 1.0)) ** 2
            for w in self.asked.wishes
            if w.value is not None and w.name in result.si
        )
        return replace(made, score=float(score)), tuple(misses)
