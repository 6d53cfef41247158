"""Which heads to make and which gaskets to put in their boxes: fewest variants, then fewest gaskets, proven.

How: builds are drawn from the families, and every stack of the offering under every head is judged in every build
(`families`). The fewest variants are a covering problem for HiGHS (`coverings`). Families that share no variant are then independent but
for the number of builds left out altogether: for each of them the most builds that so many variants with so many gaskets can cover
is worked out exactly (`kits`), only as far as it matters, and HiGHS puts the levels together. What is not worked out yet counts as if
it covered all that its heads can, so that the bound it gives is a bound.
"""

from __future__ import annotations

import functools
import math
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd, lowered
from topend.errors import FitError, must_be, some
from topend.parts import FlushHead, Gasket, GasketSet, Head, SpigotHead
from topend.solve.answers import Miss
from topend.solve.coverings import fewest_variants, put_together
from topend.solve.families import Drawn, Family, Judge, Stack, draw, head_counts, judged_wishes, wishes_of
from topend.solve.kits import BoxedGaskets, Component, Offer, counted, packed, unpacked
from topend.solve.wishes import Wish, count_range
from topend.units import from_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["LeftOut", "PlannedVariant", "RangePlan", "plan_range"]

#: Builds left out that are told of each family.
MOST_TOLD: Final = 100
#: Chance that the interval of the confirmed coverage holds the true one.
CONFIDENCE: Final = 0.95


@dataclass(frozen=True)
class PlannedVariant:
    """A head to be made, and the gaskets in its box.

    `families` it is for; `builds` of the drawn builds it brings inside (a build that two variants bring inside counts for both).
    """

    head: Head
    name: str
    base: tuple[Gasket, ...]
    head_gaskets: tuple[Gasket, ...]
    families: tuple[str, ...]
    builds: int


@dataclass(frozen=True)
class LeftOut:
    """A drawn build that the plan does not bring inside, and why.

    `build` its number in its family, from 1; `values` what is particular of it, by path, in the unit of the inputs table;
    `nearest` the planned variant that comes nearest, `misses` what it then misses, worst first; `others` names of offered
    variants that could bring it inside with offered gaskets, empty where none could.
    """

    family: str
    build: int
    values: Mapping[str, float]
    nearest: str
    misses: tuple[Miss, ...]
    others: tuple[str, ...]

    def __str__(self) -> str:
        missed = "; ".join(str(miss) for miss in self.misses) or "no stack of its kit can be assembled"
        other = f"could be had with {', '.join(self.others)}" if self.others else "no head and gasket of the offering brings it inside"
        return f"{self.family}, build {self.build}: {missed} ({self.nearest}); {other}"


@dataclass(frozen=True)
class RangePlan:
    """The answer of `plan_range`.

    `variants` what to make, empty where the wanted coverage cannot be had; `builds` how many were drawn, `covered` how many
    of them the plan brings inside, `reachable` how many all heads and gaskets of the offering together could. `gaskets` how many
    lie in the boxes altogether; `gap` how far that may lie above the optimum on the drawn builds, as a share (0: proven optimal;
    the number of variants always is). `fresh` builds were drawn anew, `confirmed` of them were inside, `interval` is the exact
    (Clopper-Pearson) 95 % interval of the coverage from them. `left_out` the drawn builds that are not inside, the first hundred
    of each family.

    Made by `te.plan_range`, whose example shows one.
    """

    variants: tuple[PlannedVariant, ...]
    wanted: float
    builds: int
    covered: int
    reachable: int
    gaskets: int
    gap: float
    fresh: int
    confirmed: int
    interval: tuple[float, float]
    left_out: tuple[LeftOut, ...]
    by_family: Mapping[str, tuple[int, int]]
    seconds: float
    notes: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.variants)

    @property
    def coverage(self) -> float:
        """Share of the drawn builds that are inside."""
        return self.covered / self.builds

    def __str__(self) -> str:
        if not self.variants:
            return (
                f"no plan: {self.reachable:,} of {self.builds:,} builds could be brought inside by all heads and gaskets together, "
                f"{self.reachable / self.builds:.2%}, wanted {self.wanted:.2%}"
            )
        lines = [
            f"{len(self.variants)} variants, {self.gaskets} gaskets in their boxes; {self.covered:,} of {self.builds:,} builds inside "
            f"({self.coverage:.2%}), gap to the optimum {self.gap:.1%}"
        ]
        for one in self.variants:
            base = " + ".join(gasket.thickness.text for gasket in one.base) or "none"
            under = " + ".join(gasket.thickness.text for gasket in one.head_gaskets) or "none"
            lines.append(f"  {one.name} for {', '.join(one.families)}: base {base}; head {under}")
        low, high = self.interval
        lines.append(f"{self.confirmed:,} of {self.fresh:,} fresh builds inside: coverage {low:.2%} to {high:.2%}")
        return "\n".join(lines)


def plan_range(
    families: Sequence[Family],
    gaskets: Sequence[Gasket] | GasketSet,
    *,
    coverage: float = 0.99,
    builds: int = 5000,
    base_count: tuple[int, int] | int = (1, 2),
    head_count: tuple[int, int] | int | None = None,
    least_gap: Any = "0.6 mm",
    at_least: Mapping[str, Any] | None = None,
    at_most: Mapping[str, Any] | None = None,
    fresh: int = 10_000,
    seed: int = 1,
    time_limit: float = 60.0,
    **targets: Any,
) -> RangePlan:
    """Which head variants to make, and which gaskets to put in the box of each, so that builds can be brought inside a window.

    Parameters
    ----------
    families : the barrels, how far builds of each differ, and the heads that may be made for it.
    gaskets : kinds that may be put in a box, each as often as it is wanted; of a drawer, its kinds.
    coverage : share of the builds that must come inside with gaskets from the box of their own head.
    builds, fresh, seed : how many builds are drawn to plan with, and how many anew to confirm the plan; the same seed draws the same.
    base_count, head_count : gaskets in one stack, least and most. `head_count` None: none under an O-ring head, else one.
    least_gap : floor on the least gap, as in `fit_gaskets`; None lifts it.
    at_least, at_most, targets : the window, as in `fit_gaskets`; a family's own come in their place.
    time_limit : seconds after which the best plan so far is given, with its gap.

    Fewest variants come first, then fewest gaskets in the boxes together, each box counted once. Builds go to families by their
    shares. Raises `FitError` for a question that cannot be asked.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.2 mm ± 0.1 mm", base_thickness="0 mm"))
    >>> thin, thick = (te.Gasket(role="base", thickness=size, fitted_thickness=size) for size in ("0.3 mm", "0.5 mm"))
    >>> sheet = te.Gasket(role="head", thickness="0.2 mm", fitted_thickness="0.2 mm")
    >>> heads = [te.FlushHead(name="flush"), te.FlushHead(name="deep", recess_offset="0.6 mm")]
    >>> plan = te.plan_range([te.Family("a", top, heads)], [thin, thick, sheet], builds=200, fresh=1000, squish_edge=("0.8 mm", "0.1 mm"))
    >>> [variant.name for variant in plan.variants], plan.gaskets, plan.covered
    (['flush'], 3, 200)
    """
    began = time.monotonic()
    if not _number(time_limit) or not time_limit >= 0.0:
        raise FitError(f"time_limit must be a number of seconds, 0 or more; got {time_limit!r}")
    question = _Question.ask(
        families, gaskets, coverage, builds, base_count, head_count, least_gap, targets, at_least or {}, at_most or {}, fresh, seed
    )
    return question.answer(began, began + time_limit)


@dataclass(frozen=True)
class _Variant:
    """One head, and where it stands: (family, position among its heads)."""

    head: Head
    name: str
    places: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class _Question:
    families: tuple[Family, ...]
    gaskets: tuple[Gasket, ...]
    coverage: float
    builds: int
    base_count: tuple[int, int]
    head_count: tuple[int, int] | None
    wishes: tuple[tuple[Wish, ...], ...]
    least_gap: Any
    fresh: int
    seed: int
    variants: tuple[_Variant, ...]

    @classmethod
    def ask(
        cls,
        families: Sequence[Family],
        gaskets: Sequence[Gasket] | GasketSet,
        coverage: float,
        builds: int,
        base_count: Any,
        head_count: Any,
        least_gap: Any,
        targets: Mapping[str, Any],
        at_least: Mapping[str, Any],
        at_most: Mapping[str, Any],
        fresh: int,
        seed: int,
    ) -> _Question:
        families = tuple(families)
        offered = tuple(item.gasket for item in gaskets.items) if isinstance(gaskets, GasketSet) else tuple(gaskets)
        if not families:
            raise FitError("families is empty: give at least one")
        for at, one in enumerate(families):
            must_be("plan_range", f"families.{at}", one, Family)
            must_be("plan_range", f"families.{at}.top", one.top, TopEnd)
            if (said := some(one.heads, "heads")) is not None:
                raise FitError(f"family {one.name}: heads {said}")
            for place, head in enumerate(one.heads):
                if not isinstance(head, FlushHead | SpigotHead):
                    raise FitError(f"family {one.name}: heads.{place} must be a head, such as a FlushHead; got {head!r}")
            if not one.heads:
                raise FitError(f"family {one.name}: no head is offered for it")
            if one.top.assembled is not None:
                raise FitError(
                    f"family {one.name}: an assembled volume holds for the head it was read with; a range is of heads: leave it out"
                )
            if not _number(one.share) or not one.share > 0.0 or not math.isfinite(one.share):
                raise FitError(f"family {one.name}: its share must be a number of more than 0; got {one.share!r}")
            for number in one.gaskets or ():
                if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < len(offered):
                    raise FitError(
                        f"family {one.name}: gaskets names those of the offering that fit it, by position from 0 to {len(offered) - 1}; "
                        f"got {number!r}"
                    )
        names = [one.name for one in families]
        if len(set(names)) < len(names):
            raise FitError(f"families must have names of their own; got {', '.join(names)}")
        for at, gasket in enumerate(offered):
            must_be("plan_range", f"gaskets.{at}", gasket, Gasket)
        if not _number(coverage) or not 0.0 < coverage <= 1.0:
            raise FitError(f"coverage must be more than 0 and at most 1, such as 0.99; got {coverage!r}")
        for name, number in (("builds", builds), ("fresh", fresh)):
            if isinstance(number, bool) or not isinstance(number, int) or not len(families) <= number <= 10_000_000:
                raise FitError(f"{name} must be a whole number from {len(families)}, one a family, to 10 000 000; got {number!r}")
        if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
            raise FitError(f"seed must be a whole number from 0; got {seed!r}")
        asked = None if head_count is None else count_range("head_count", head_count)
        wishes = tuple(tuple(wishes_of(one, targets, at_least, at_most)) for one in families)
        return cls(
            families,
            offered,
            coverage,
            builds,
            count_range("base_count", base_count),
            asked,
            wishes,
            least_gap,
            fresh,
            seed,
            tuple(_variants(families)),
        )

    # --- drawing and judging ---

    def drawn(self, builds: int, part: int) -> tuple[Drawn, ...]:
        """Builds of each family, by shares; `part` 0 to plan with, 1 to confirm with."""
        counts = _by_share([one.share for one in self.families], builds)
        return tuple(
            draw(family, self.gaskets, count, [self.seed, part, at], random_past=part > 0)
            for at, (family, count) in enumerate(zip(self.families, counts, strict=True))
        )

    @functools.cached_property
    def _judged(self) -> dict[tuple[int, int], tuple[Wish, ...]]:
        made = {}
        for variant in self.variants:
            for at, place in variant.places:
                row = lowered(self.families[at].top, [variant.head])[0]
                given = ["base.thickness", "head_gasket.thickness", "head_gasket.volume"]
                wishes = judged_wishes(
                    self.families[at], row.structure.with_given(given), list(self.wishes[at]), self.least_gap, variant.name
                )
                made[at, place] = wishes
        return made

    def judge(self, drawn: Sequence[Drawn], at: int, place: int) -> Judge:
        return Judge(drawn[at], place, self.gaskets, self._judged[at, place])

    def _stacks(self, at: int, head: Head, role: str) -> Stack:
        """Every stack of the offering that may lie under a head of family `at`."""
        count = self.base_count if role == "base" else head_counts(head, self.head_count)
        fits = self.families[at].gaskets
        held = tuple(n for n, gasket in enumerate(self.gaskets) if gasket.role == role and (fits is None or n in fits))
        members = BoxedGaskets(tuple(n for n in held for _ in range(count[1])), ()).stacks("base", count)
        if not members:
            raise FitError(
                f"family {self.families[at].name}: no {role} gasket of the offering fits, and a stack needs {count[0]}; offer one"
            )
        return Stack(members)

    def answer(self, began: float, deadline: float) -> RangePlan:
        drawn = self.drawn(self.builds, 0)
        components = self._components(drawn)
        needed = math.ceil(self.coverage * self.builds - 1e-9)
        reachable = sum(int(counted(np.bitwise_or.reduce([offer.full for offer in one.offers.values()], axis=0))) for one in components)
        if reachable < needed:
            return self._no_plan(drawn, components, reachable, began)
        fewest = fewest_variants(components, needed)
        levels, gap = put_together(components, needed, fewest, deadline)
        chosen = {one: kit for level in levels for one, kit in level.chosen}
        return self._told(drawn, components, chosen, reachable, gap, began)

    def _components(self, drawn: Sequence[Drawn]) -> list[Component]:
        """Families that share variants, together, with what each of their variants can do."""
        owner = list(range(len(self.families)))
        for variant in self.variants:
            at = [owner[family] for family, _ in variant.places]
            owner = [at[0] if one in at else one for one in owner]
        made = []
        for root in dict.fromkeys(owner):
            members = [at for at, one in enumerate(owner) if one == root]
            offers = {}
            for number, variant in enumerate(self.variants):
                if variant.places[0][0] in members:
                    offers[number] = self._offer(drawn, members, variant)
            made.append(Component(sum(drawn[at].count for at in members), offers, 0))
        return made

    def _offer(self, drawn: Sequence[Drawn], members: Sequence[int], variant: _Variant) -> Offer:
        places = dict(variant.places)
        head_count = head_counts(variant.head, self.head_count)
        base: dict[tuple[int, ...], None] = {}
        under: dict[tuple[int, ...], None] = {}
        for at in places:
            base.update(dict.fromkeys(self._stacks(at, variant.head, "base").members))
            under.update(dict.fromkeys(self._stacks(at, variant.head, "head").members))
        parts = []
        for at in members:
            inside = np.zeros((len(base), len(under), drawn[at].count), dtype=np.bool_)
            if at in places:
                own_base, own_head = self._stacks(at, variant.head, "base"), self._stacks(at, variant.head, "head")
                found = self.judge(drawn, at, places[at]).inside(own_base, own_head)
                rows = [n for n, stack in enumerate(base) if stack in own_base.members]
                columns = [n for n, stack in enumerate(under) if stack in own_head.members]
                inside[np.ix_(rows, columns)] = found
            parts.append(inside)
        return Offer(tuple(base), tuple(under), self.base_count, head_count, packed(np.concatenate(parts, axis=2)))

    # --- telling ---

    def _told(
        self,
        drawn: Sequence[Drawn],
        components: Sequence[Component],
        chosen: Mapping[int, BoxedGaskets],
        reachable: int,
        gap: float,
        began: float,
    ) -> RangePlan:
        inside, options = self._tried(drawn, chosen)
        fresh = self.drawn(self.fresh, 1)
        confirmed = sum(int(part.sum()) for part in self._tried(fresh, chosen)[0])
        variants = []
        for number, kit in sorted(chosen.items()):
            variant = self.variants[number]
            found = [options[number, at] for at, _ in variant.places]
            variants.append(
                PlannedVariant(
                    variant.head,
                    variant.name,
                    tuple(self.gaskets[at] for at in kit.base),
                    tuple(self.gaskets[at] for at in kit.head),
                    tuple(self.families[at].name for (at, _), good in zip(variant.places, found, strict=True) if good.any()),
                    int(sum(good.any(axis=(0, 1)).sum() for good in found)),
                )
            )
        return RangePlan(
            tuple(variants),
            self.coverage,
            self.builds,
            int(sum(part.sum() for part in inside)),
            reachable,
            sum(len(kit) for kit in chosen.values()),
            gap,
            self.fresh,
            confirmed,
            exact_interval(confirmed, self.fresh),
            tuple(self._left_out(drawn, components, chosen, inside)),
            {one.name: (int(part.sum()), len(part)) for one, part in zip(self.families, inside, strict=True)},
            time.monotonic() - began,
        )

    def _no_plan(self, drawn: Sequence[Drawn], components: Sequence[Component], reachable: int, began: float) -> RangePlan:
        """Builds that no head and gasket of the offering reaches: held against every head with every gasket."""
        within = [_bools(components, self, at, drawn[at].count) for at in range(len(self.families))]
        note = "the window, the heads or the gaskets have to change before the wanted coverage can be had"
        return RangePlan(
            (),
            self.coverage,
            self.builds,
            0,
            reachable,
            0,
            0.0,
            0,
            0,
            (0.0, 1.0),
            tuple(self._left_out(drawn, components, None, within)),
            {one.name: (int(part.sum()), len(part)) for one, part in zip(self.families, within, strict=True)},
            time.monotonic() - began,
            (note,),
        )

    def _tried(self, drawn: Sequence[Drawn], chosen: Mapping[int, BoxedGaskets]) -> tuple[list[Bools], dict[tuple[int, int], Bools]]:
        """For each family which builds are inside with a planned variant and its kit, every one evaluated; and by variant and stack."""
        inside = [np.zeros(one.count, dtype=np.bool_) for one in drawn]
        options = {}
        for number, kit in chosen.items():
            for at, place in self.variants[number].places:
                good, _ = self.judge(drawn, at, place).tried(*self._kit_stacks(at, number, kit))
                options[number, at] = good
                inside[at] |= good.any(axis=(0, 1))
        return inside, options

    def _kit_stacks(self, at: int, number: int, kit: BoxedGaskets | None) -> tuple[Stack, Stack]:
        """Stacks that a kit makes and that fit family `at`; None: every gasket of the offering."""
        head = self.variants[number].head
        every = self._stacks(at, head, "base"), self._stacks(at, head, "head")
        if kit is None:
            return every
        counts = self.base_count, head_counts(head, self.head_count)
        made = (kit.stacks("base", counts[0]), kit.stacks("head", counts[1]))
        return tuple(Stack(tuple(one for one in own if one in all_.members)) for own, all_ in zip(made, every, strict=True))  # type: ignore[return-value]

    def _left_out(
        self, drawn: Sequence[Drawn], components: Sequence[Component], chosen: Mapping[int, BoxedGaskets] | None, inside: Sequence[Bools]
    ) -> Iterable[LeftOut]:
        kits: Mapping[int, BoxedGaskets | None] = dict.fromkeys(range(len(self.variants))) if chosen is None else dict(chosen)
        for at, family in enumerate(self.families):
            out = np.flatnonzero(~inside[at])[:MOST_TOLD]
            if not len(out):
                continue
            part = _only(drawn[at], out)
            able = {}
            for component in components:
                able.update(_who_can(component, self, at, out))
            nearest: list[tuple[float, str, tuple[Miss, ...]]] = [(math.inf, "", ())] * len(out)
            for number, kit in kits.items():
                place = dict(self.variants[number].places).get(at)
                if place is None:
                    continue
                judge = Judge(part, place, self.gaskets, self._judged[at, place])
                for build, (far, misses) in enumerate(_misses(judge, *self._kit_stacks(at, number, kit))):
                    if far < nearest[build][0]:
                        nearest[build] = far, self.variants[number].name, misses
            for build, index in enumerate(out):
                _, name, misses = nearest[build]
                values = {path: _shown(path, column[index]) for path, column in drawn[at].columns.items() if len(column) > 1}
                who = tuple(self.variants[n].name for n, can in able.items() if can[build])
                yield LeftOut(family.name, int(index) + 1, values, name or "no variant for it is in the plan", misses, who)


def exact_interval(inside: int, builds: int) -> tuple[float, float]:
    """The Clopper-Pearson interval of a coverage of which `inside` of `builds` were found: exact for a binomial count.

    Clopper and Pearson, Biometrika 26 (1934), 404-413.

    >>> [round(end, 4) for end in exact_interval(990, 1000)]
    [0.9817, 0.9952]
    """
    from scipy.stats import binomtest  # slow to import

    found = binomtest(inside, builds).proportion_ci(confidence_level=CONFIDENCE, method="exact")
    return float(found.low), float(found.high)


def _number(given: Any) -> bool:
    return isinstance(given, (int, float)) and not isinstance(given, bool)


def _variants(families: Sequence[Family]) -> Iterable[_Variant]:
    """The distinct heads of all families, in order; each with a name of its own."""
    found: dict[Head, list[tuple[int, int]]] = {}
    for at, family in enumerate(families):
        for place, head in enumerate(family.heads):
            places = found.setdefault(head, [])
            if all(one != at for one, _ in places):
                places.append((at, place))
    used: dict[str, int] = {}
    for number, (head, places) in enumerate(found.items(), 1):
        name = head.name or f"head {number}"
        used[name] = used.get(name, 0) + 1
        yield _Variant(head, name if used[name] == 1 else f"{name} ({used[name]})", tuple(places))


def _by_share(shares: Sequence[float], builds: int) -> list[int]:
    """Whole builds by share, at least one each; what is left over goes where most of a build is lacking."""
    exact = np.array(shares) / sum(shares) * builds
    made = np.maximum(1, np.floor(exact).astype(int))
    while made.sum() != builds:
        step = 1 if made.sum() < builds else -1
        at = int(np.argmax(step * (exact - made) - np.where(made + step < 1, np.inf, 0.0)))
        made[at] += step
    return [int(number) for number in made]


def _only(drawn: Drawn, builds: NDArray[np.intp]) -> Drawn:
    """The same with these builds alone."""

    def taken(columns: Mapping[str, Floats]) -> dict[str, Floats]:
        return {path: column if len(column) == 1 else column[builds] for path, column in columns.items()}

    heads = tuple(taken(columns) for columns in drawn.heads)
    return Drawn(drawn.family, len(builds), taken(drawn.columns), heads, drawn.fitted[:, builds], drawn.structures)


def _shown(path: str, value: float) -> float:
    from topend.evaluation import input_unit

    return float(from_si(float(value), input_unit(path)))


def _span(question: _Question, component: Component, at: int) -> tuple[int, int] | None:
    """Where the builds of family `at` lie among the bits of a component."""
    members = sorted({family for number in component.offers for family, _ in question.variants[number].places})
    if at not in members:
        return None
    counts = _by_share([one.share for one in question.families], question.builds)
    start = sum(counts[one] for one in members if one < at)
    return start, start + counts[at]


def _who_can(component: Component, question: _Question, at: int, builds: NDArray[np.intp]) -> dict[int, Bools]:
    """By variant, which of these builds of family `at` it could bring inside with the gaskets of the offering."""
    span = _span(question, component, at)
    if span is None:
        return {}
    return {number: unpacked(offer.full, span)[builds] for number, offer in component.offers.items()}


def _bools(components: Sequence[Component], question: _Question, at: int, count: int) -> Bools:
    made = np.zeros(count, dtype=np.bool_)
    for component in components:
        for can in _who_can(component, question, at, np.arange(count)).values():
            made |= can
    return made


def _misses(judge: Judge, base: Stack, heads: Stack) -> Iterable[tuple[float, tuple[Miss, ...]]]:
    """Of each build the stack that comes nearest: how far it is out, in tolerances, and what it misses."""
    _, values = judge.tried(base, heads)
    shape = (len(base.members) * len(heads.members), judge.drawn.count)
    far = np.zeros(shape)
    for wish in judge.wishes:
        value = values[wish.name].reshape(shape)
        scale = wish.tolerance or abs(wish.low if math.isfinite(wish.low) else wish.high) or 1.0
        with np.errstate(invalid="ignore"):
            far += (np.maximum(wish.low - value, 0.0) + np.maximum(value - wish.high, 0.0)) / scale
    far = np.where(np.isnan(far), np.inf, far)
    for build in range(shape[1]):
        at = int(np.argmin(far[:, build]))
        found = []
        for wish in judge.wishes:
            got = float(values[wish.name].reshape(shape)[at, build])
            edge = wish.low if got < wish.low else wish.high if got > wish.high else None
            if edge is not None and math.isfinite(got):
                unit = wish.unit
                miss = Miss(wish.name, from_si(got, unit), wish.text, from_si(got - edge, unit), unit, wish.decimals)
                found.append((abs(got - edge) / (wish.tolerance or abs(edge) or 1.0), miss))
        yield float(far[at, build]), tuple(miss for _, miss in sorted(found, key=lambda one: -one[0]))
