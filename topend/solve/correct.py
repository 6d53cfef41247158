"""Cuts and gaskets together that bring a build to its targets, with the least metal removed, or what cannot be had and by how much.

How: at given gaskets the gaps, the volume and the distance of crown and ports change in proportion to the cuts, and each target
becomes limits on one of these: a linear programme in a few cuts, whose coefficients are evaluated, not written down a second
time. All stacks of a drawer have the same coefficients and differ in their limits alone, so that the prices of one solved
stack bound the metal of every other (weak duality), and few are solved before the rest is known to take more. What is not
shown to be linear or monotone (squish velocity) is brought in by repeated linearisation, and every answer is evaluated.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import Row, TopEnd, lowered
from topend.errors import AssemblyError, FitError, must_be
from topend.evaluation import Result, evaluate, evaluate_columns
from topend.parts import Gasket, GasketSet, Head, StockItem
from topend.physics import volumes, wiring
from topend.physics.wiring import NOTHING
from topend.solve.answers import Miss
from topend.solve.candidates import Group, HeadStacks, default_count, grouped, kinds_of, nothing_fills
from topend.solve.cuts import CUTS, cut_amount, cut_moves, moved, moved_columns
from topend.solve.programme import INSIDE, Line, Programme
from topend.solve.responses import DECK, GAP, response
from topend.solve.stacks import FEMTOMETRES, Stacks, first_members, stacks_of
from topend.solve.wishes import Wish, count_range, limit, target
from topend.units import KINDS, Quantity, StatedQuantity, StatedValueError, from_si, quantity, stated

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["Correction", "Corrections", "correct"]

#: Scales of the programme: lengths in mm, volumes in cc.
_SCALE: Final = {"length": 1e-3, "volume": 1e-6}
#: What counts as met all the same, as a share of the limit: no more than rounding.
_MET: Final = 1e-6
#: Points at which what the deck decides is looked at, before the ends are narrowed, and how far beyond what can be had [m].
_POINTS: Final = 1001
_BEYOND: Final = 4e-3
#: Distances between crown and head that move with the gap wherever it is least, as long as the band stays where it is in the head.
_WITH_GAP: Final = frozenset({"contact_min", "running_clearance", "pulling_clearance"})
#: Stacks of a drawer (base, spacer and head) beyond which the question is refused.
_MOST_STACKS: Final = 2_000_000


@dataclass(frozen=True)
class Correction:
    """One way to correct a build: its cuts (those of 0 left out), a spacer under the barrel or None, and its gaskets.

    `metal` is what the cuts take, in cc over the bore (in mm of depth where no volume can be had). `score` as of `fit_gaskets`.

    Made by `te.correct`, whose example shows one.
    """

    cuts: Mapping[str, Quantity]
    spacer: StatedQuantity | None
    base: tuple[Gasket, ...] | None
    head_gaskets: tuple[Gasket, ...] | None
    metal: float
    score: float
    _top: TopEnd = field(repr=False)
    _amounts: Mapping[str, float] = field(repr=False)

    @functools.cached_property
    def top(self) -> TopEnd:
        """The top end as corrected; a spacer lies among its base gaskets."""
        changes: dict[str, Any] = {}
        if self.base is not None:
            plate = () if self.spacer is None else (spacer_gasket(self.spacer),)
            changes["base_gaskets"] = (*self.base, *plate)
        if self.head_gaskets is not None:
            changes["head_gaskets"] = self.head_gaskets
        return moved(self._top.replace(changes), self._amounts)

    @functools.cached_property
    def result(self) -> Result:
        """Everything that top end comes to."""
        return evaluate(self.top)


@dataclass(frozen=True)
class Corrections:
    """The answer of `correct`.

    `best` the ways that meet every target, least metal first, then least score; `considered` how many stacks of gaskets and spacer
    there are. `proven` says that no way takes less metal than the first of `best` (not where a target is followed by repeated
    linearisation). When nothing does: `nearest` the way that misses least, in tolerances together, `misses` what it misses, and
    `alone` for each target or limit by how much it alone would have to give, all others held; a name that is not there would have to
    give together with others.

    Made by `te.correct`, whose example shows one.
    """

    best: tuple[Correction, ...]
    considered: int
    proven: bool
    nearest: Correction | None
    misses: tuple[Miss, ...]
    alone: Mapping[str, Miss]
    metal_unit: str
    notes: tuple[str, ...]

    def __bool__(self) -> bool:
        return bool(self.best)

    def __str__(self) -> str:
        lines = [f"{self.considered:,} stacks considered"]
        for rank, one in enumerate(self.best, 1):
            lines.append(f"{rank:2d}  metal {one.metal:.3f} {self.metal_unit}  {correction_text(one)}")
        if self.nearest is not None:
            lines.append(f"nothing meets every target; nearest: {correction_text(self.nearest)}")
            lines += [f"  {miss}" for miss in self.misses]
            lines += [f"  with all else held: {miss}" for miss in self.alone.values()]
        return "\n".join([*lines, *self.notes])


def correction_text(one: Correction) -> str:
    """What is to be done, in one line."""
    parts = [f"{name.replace('_', ' ')} {amount.magnitude:.3f} {unit_of(name)}" for name, amount in one.cuts.items()]
    if one.spacer is not None:
        parts.append(f"spacer {one.spacer.text}")
    if one.base is not None:
        parts.append("base " + (" + ".join(gasket.fitted.text for gasket in one.base) or "none"))
    if one.head_gaskets is not None:
        parts.append("head " + (" + ".join(gasket.fitted.text for gasket in one.head_gaskets) or "none"))
    return "; ".join(parts) or "nothing to be done"


def unit_of(name: str) -> str:
    """The unit a cut is shown in."""
    return "cc" if CUTS[name] == "volume" else "mm"


def spacer_gasket(thickness: StatedQuantity) -> Gasket:
    """A spacer, which lies under the barrel as a gasket does and does not crush."""
    return Gasket(role="base", name="spacer", thickness=thickness, fitted_thickness=thickness)


def correct(
    top: TopEnd,
    targets: Mapping[str, Any] | None = None,
    *,
    allow: Mapping[str, Any],
    stock: GasketSet | None = None,
    base_count: tuple[int, int] | int = (1, 3),
    head_count: tuple[int, int] | int | None = None,
    least_gap: str | Quantity | None = "0.6 mm",
    at_least: Mapping[str, Any] | None = None,
    at_most: Mapping[str, Any] | None = None,
    best: int = 5,
) -> Corrections:
    """Cuts within limits, a spacer and gaskets that bring `top` to all its targets, least metal removed first.

    Parameters
    ----------
    top : the build as it is.
    targets, at_least, at_most : by output name, `(value, tolerance)` or a value, as in `fit_gaskets`.
    allow : what may be done: ``{"deck_cut": (0, "0.8 mm"), "base_cut": ..., "band_cut": ..., "bowl_cut": (0, "0.5 cc"),
        "spacer": ["0.5 mm", "1.0 mm"]}``; least and most of each cut, and spacers of which one or none goes under the barrel.
    stock : the drawer of gaskets; None: those fitted stay. `base_count`, `head_count` as in `fit_gaskets`.
    least_gap : floor on the least gap, as in `fit_gaskets`.
    best : how many ways to give, each with other gaskets or another spacer.

    A deck cut lowers the deck and every port with it, a base cut lowers the barrel, a band cut takes the band up into the head, a
    bowl cut adds to the chamber (`topend.solve.cuts`). Metal is counted as what each cut takes over the bore [cc]. Cuts that take as
    much are preferred in that order. Raises `FitError` for a question that cannot be asked.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.9 mm"), head=te.FlushHead(), base_gaskets=[],
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.4 mm", fitted_thickness="0.4 mm")])
    >>> found = te.correct(top, {"squish_edge": ("0.95 mm", "0.05 mm")}, allow={"deck_cut": (0, "0.8 mm")})
    >>> print(f"{found.best[0].cuts['deck_cut']:.3f~P}")
    0.300 mm
    """
    must_be("correct", "top", top, TopEnd)
    if stock is not None:
        must_be("correct", "stock", stock, GasketSet)
    must_be("correct", "allow", allow, Mapping, '; give what may be done, such as {"deck_cut": (0, "0.8 mm")}')
    for asked, given in (("targets", targets), ("at_least", at_least), ("at_most", at_most)):
        if given is not None:
            must_be("correct", asked, given, Mapping, '; give by output name, such as {"squish_min": ("0.90 mm", "0.05 mm")}')
    known = top.outputs
    wishes = [target(name, given, known) for name, given in (targets or {}).items()]
    wishes += [limit(name, given, known, least=True) for name, given in (at_least or {}).items()]
    wishes += [limit(name, given, known, least=False) for name, given in (at_most or {}).items()]
    if not wishes:
        raise FitError("nothing is asked: give a target, such as {'squish_min': ('0.90 mm', '0.05 mm')}, or a limit in at_least or at_most")
    if isinstance(best, bool) or not isinstance(best, int) or best < 1:
        raise FitError(f"best must be a whole number of at least 1; got {best!r}")
    spacers = _spacers(allow.get("spacer", ()))
    limits = {name: _range(name, allow[name]) for name in sorted(set(allow) - {"spacer"}, key=_preference)}
    question = _Question.ask(top, wishes, limits, spacers, stock, base_count, head_count, least_gap)
    answer = question.answer(best)
    if not answer and answer.nearest is not None and not answer.misses:
        # a limit that is met to the last digit lies within what the programme keeps inside of
        answer = replace(question, at_edge=True).answer(best) or answer
    return answer


def _preference(name: str) -> int:
    return list(CUTS).index(name) if name in CUTS else -1


def _range(name: str, given: Any) -> tuple[float, float]:
    if name not in CUTS:
        cut_amount(name, given)  # says what there is
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence) or len(given) != 2:
        unit = unit_of(name)
        raise FitError(f'allow: {name} must be the least and the most, such as (0, "0.5 {unit}"); got {given!r}')
    low, high = (0.0 if type(end) in (int, float) and end == 0 else cut_amount(name, end, "allow: ").si for end in given)
    if high < low:
        raise FitError(f"allow: {name} must be the least and the most; got {given[0]!r} to {given[1]!r}")
    return low, high


def _spacers(given: Any) -> tuple[StatedQuantity, ...]:
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence):
        raise FitError(f'allow: spacer must be a list of thicknesses, such as ["0.5 mm", "1.0 mm"]; got {given!r}')
    made: list[StatedQuantity] = []
    for one in given:
        try:
            thickness = stated(one, KINDS["length"])
        except StatedValueError as error:
            raise FitError(f"allow: spacer {error}") from None
        if thickness.si <= 0.0:
            raise FitError(f"allow: spacer must be thicker than 0 mm; got {thickness.text!r}")
        if all(thickness.si != other.si for other in made):
            made.append(thickness)
    return tuple(made)


@dataclass(frozen=True)
class _Question:
    top: TopEnd
    row: Row
    head: Head | None
    wishes: tuple[Wish, ...]
    #: targets and limits that were asked; the floor on the gap may follow
    group: Group
    base: Stacks
    #: distinct base sums with spacer [m]: the sum of gaskets [fm], the spacer's number (-1: none)
    sums: Floats
    gasket_sums: NDArray[np.int64]
    spacer_at: NDArray[np.int64]
    spacers: tuple[StatedQuantity, ...]
    limits: Mapping[str, tuple[float, float]]
    keep: bool
    considered: int
    notes: tuple[str, ...]
    #: whether limits may be met to the last digit, and no more than rounding beyond
    at_edge: bool = False

    @classmethod
    def ask(
        cls,
        top: TopEnd,
        wishes: list[Wish],
        limits: Mapping[str, tuple[float, float]],
        spacers: tuple[StatedQuantity, ...],
        stock: GasketSet | None,
        base_count: Any,
        head_count: Any,
        least_gap: Any,
    ) -> _Question:
        keep = stock is None
        if stock is None:
            stock, base_count, head_count = _as_fitted(top)
        counts = count_range("base_count", base_count)
        base = stacks_of(kinds_of(stock, "base", classes=False), counts)
        if not len(base.numbers):
            raise nothing_fills("base", counts, base.kinds)
        asked = None if head_count is None else count_range("head_count", head_count)
        row = lowered(top, [top.head])[0]
        under = HeadStacks(kinds_of(stock, "head", classes=True), asked)
        candidate = under.candidate(0, top.head, row)
        if not candidate.considered:
            raise nothing_fills("head", asked or default_count(top.head), under.kinds)
        notes: list[str] = []
        (group,) = grouped(top, [candidate], wishes, least_gap, notes)
        for name in limits:
            cut_moves(row, name)
        totals = np.unique(base.sums[:, 0])
        choices = [(-1, 0.0), *((at, one.si) for at, one in enumerate(spacers))]
        sums = np.concatenate([totals / FEMTOMETRES + thickness for _, thickness in choices])
        if len(sums) * max(1, len(group.thickness)) > _MOST_STACKS:
            raise FitError(f"the drawer makes more than {_MOST_STACKS:,} distinct stacks; narrow base_count or head_count")
        if not len(group.thickness):
            raise FitError("no head stack of the drawer can be assembled: each has an opening inside the bore")
        return cls(
            top,
            row,
            top.head,
            group.wishes,
            group,
            base,
            sums,
            np.tile(totals, len(choices)),
            np.repeat(np.array([at for at, _ in choices], dtype=np.int64), len(totals)),
            spacers,
            limits,
            keep,
            base.total * candidate.considered * len(choices),
            tuple(notes),
        )

    # --- numbers ---

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(self.limits)

    @property
    def scale(self) -> Floats:
        return np.array([_SCALE[CUTS[name]] for name in self.names])

    @functools.cached_property
    def pairs(self) -> NDArray[np.int64]:
        """Of each stack its head stack; stacks run over base sums first."""
        return np.repeat(np.arange(len(self.group.thickness)), len(self.sums))

    @functools.cached_property
    def at_sum(self) -> NDArray[np.int64]:
        return np.tile(np.arange(len(self.sums)), len(self.group.thickness))

    @property
    def stacks(self) -> int:
        return len(self.pairs)

    def columns(self, stacks: Any, cuts: Floats) -> dict[str, Any]:
        """Columns of stacks after cuts (stacks, cuts) in the programme's scale."""
        made = self.group.columns(self.pairs[stacks], self.sums[self.at_sum[stacks]])
        return moved_columns(self.row, made, {name: cuts[:, at] * self.scale[at] for at, name in enumerate(self.names)})

    def raw(self, stacks: Any, cuts: Floats, names: Sequence[str]) -> dict[str, Any]:
        planned = wiring.plan(self.group.structure, tuple(dict.fromkeys(names)))
        return wiring.run(planned, self.columns(stacks, cuts))

    def had(self, name: str) -> bool:
        return not wiring.plan(self.group.structure, (name,)).missing

    # --- the programme ---

    def start_and_slope(self, work: Callable[[dict[str, Any]], Any], names: Sequence[str], scale: float) -> tuple[Floats, Floats]:
        """A quantity of every stack before any cut, and its change for each cut, both evaluated; in the programme's scale."""
        none = np.zeros((1, len(self.names)))
        start = np.broadcast_to(work(self.raw(slice(None), np.zeros((self.stacks, len(self.names))), names)), (self.stacks,)) / scale
        probe = np.concatenate([none, np.eye(len(self.names))])
        rows = np.zeros(len(probe), dtype=np.int64)
        tried = np.broadcast_to(work(self.raw(rows, probe, names)), (len(probe),)) / scale
        return np.asarray(start, dtype=np.float64), np.asarray(tried[1:] - tried[0], dtype=np.float64)

    @functools.cached_property
    def bend(self) -> bool:
        """Whether the volume over a piston that stands out of the bore changes otherwise than below the deck."""
        if "assembled.volume" in self.row.values or not (self.had("clearance_volume") and self.had("deck_clearance")):
            return False
        known = self.raw(np.zeros(1, dtype=np.int64), np.zeros((1, len(self.names))), ("cylinder.bore_area", "piston.area"))
        return float(known["cylinder.bore_area"][0]) != float(known["piston.area"][0])

    @functools.cached_property
    def followed(self) -> tuple[int, ...]:
        """Wishes that are brought in by linearising again and again."""
        made = []
        for at, wish in enumerate(self.wishes):
            if wish.name in _WITH_GAP:
                apart = "band_cut" in self.limits
            elif wish.name in DECK and wish.name != "deck_clearance":
                apart = len(self._spans(wish)) != 1
            else:
                apart = response(wish.name) == "other"
            if apart:
                made.append(at)
        return tuple(made)

    def _spans(self, wish: Wish | None) -> list[tuple[float, float]]:
        """Intervals of what the barrel is raised by (base stack less base cut) [mm] where a wish on timing is met; None: the ports."""
        key = wish
        if key in self._known_spans:
            return self._known_spans[key]
        structure = self.group.structure
        checks = [check for check in wiring.checks(structure, sizes=False)[0] if check.reason.startswith("port_")]
        names = [wish.name] if wish is not None else [name for check in checks for name in check.takes]
        base_cut = self.limits.get("base_cut", (0.0, 0.0))[1]
        low, high = float(self.sums.min()) - base_cut, float(self.sums.max())

        def masks(raised: Floats) -> list[Bools]:
            """Whether each condition holds by itself."""
            columns = self.group.columns(np.zeros(1, dtype=np.int64), raised)
            values = wiring.run(wiring.plan(structure, tuple(dict.fromkeys(names))), columns)
            with np.errstate(all="ignore"):
                if wish is not None:
                    value = np.broadcast_to(values[wish.name], raised.shape)
                    return [value >= wish.low, value <= wish.high]
                return [~np.broadcast_to(check.applies(*[values[name] for name in check.takes]), raised.shape) for check in checks]

        # finely where the barrel can be, coarsely beyond, so that a distance can be told; a span between two points shows as
        # two conditions that change between them
        beyond = np.linspace(low - _BEYOND, high + _BEYOND, _POINTS)
        points = np.unique(np.concatenate([np.linspace(low, high, _POINTS), beyond]))
        edges = [points[:1], points[-1:]]
        for number, mask in enumerate(masks(points)):
            turns = np.flatnonzero(mask[1:] != mask[:-1])
            left, right, kept = points[turns].copy(), points[turns + 1].copy(), mask[turns]
            for _ in range(60 if len(turns) else 0):  # narrowed to the last bit
                middle = 0.5 * (left + right)
                same = masks(middle)[number] == kept
                left, right = np.where(same, middle, left), np.where(same, right, middle)
            edges.append(np.where(kept, left, right))
        ends = np.unique(np.concatenate(edges))
        inside = np.all(masks(0.5 * (ends[1:] + ends[:-1])) or [np.ones(len(ends) - 1, dtype=np.bool_)], axis=0)
        spans: list[tuple[float, float]] = []
        for start, stop in ((ends[at], ends[at + 1]) for at in np.flatnonzero(inside)):
            if spans and spans[-1][1] == start:
                spans[-1] = (spans[-1][0], stop)
            else:
                spans.append((start, stop))
        first, last = float(points[0]), float(points[-1])
        self._known_spans[key] = [
            (-math.inf if one <= first else one * 1e3, math.inf if other >= last else other * 1e3) for one, other in spans
        ]
        return self._known_spans[key]

    @functools.cached_property
    def _known_spans(self) -> dict[Wish | None, list[tuple[float, float]]]:
        return {}

    def programmes(self) -> list[Programme]:
        """One programme, or one on each side of the bend at the deck."""
        low = np.array([self.limits[name][0] for name in self.names]) / self.scale
        high = np.array([self.limits[name][1] for name in self.names]) / self.scale
        lines = self._common()
        sides: list[list[Line]] = [[]]
        if self.bend:
            deck, slope = self.start_and_slope(lambda values: values["deck_clearance"], ["deck_clearance"], 1e-3)
            sides = [[Line(deck, slope, 0.0, math.inf, None)], [Line(deck, slope, -math.inf, 0.0, None)]]
        made = []
        for number, side in enumerate(sides):
            own = [*lines, *side, *self._volumes(below=number == 0)]
            made.append(Programme.of(own, low, high, self.metal, self.stacks, 0.0 if self.at_edge else INSIDE))
        return made

    def _common(self) -> list[Line]:
        """Gaps, deck and timing: the same on either side of the deck."""
        lines: list[Line] = []
        for name in ("squish_edge", "squish_min"):  # touching is no top end
            if self.had(name):
                lines.append(self._line(name, NOTHING, math.inf, None))
        if "band_cut" in self.names and self.row.structure.choice("head") == "spigot":
            start, slope = self.start_and_slope(lambda values: values["head.recess_offset"], ["head.recess_offset"], 1e-3)
            lines.append(Line(start, slope, -math.inf, 0.0, None))
        raised = self.sums[self.at_sum] * 1e3
        less = np.array([-1.0 if name == "base_cut" else 0.0 for name in self.names])
        if self.had("deck_clearance"):
            spans = self._spans(None)
            if len(spans) == 1:
                lines.append(Line(raised, less, *spans[0], None))
        for at, wish in enumerate(self.wishes):
            if at in self.followed:
                continue
            if wish.name in GAP | _WITH_GAP or wish.name == "deck_clearance" or response(wish.name) == "fixed":
                lines.append(self._line(wish.name, wish.low, wish.high, at))
            elif wish.name in DECK:
                (span,) = self._spans(wish)
                lines.append(Line(raised, less, *span, at, 0.1))
        return lines

    def _line(self, name: str, low: float, high: float, wish: int | None) -> Line:
        start, slope = self.start_and_slope(lambda values: values[name], [name], 1e-3)
        tolerance = None if wish is None else self.wishes[wish].tolerance
        return Line(start, slope, low / 1e-3, high / 1e-3, wish, 1.0 if tolerance is None else tolerance / 1e-3)

    def _volumes(self, *, below: bool) -> list[Line]:
        """Wishes on volume and ratios, as limits on the clearance volume with the crown below the deck, or above it."""
        if not self.had("clearance_volume"):
            return []
        volume, slope = self._volume(below)
        lines = [Line(volume, slope, 1e-9, math.inf, None)]
        for at, wish in enumerate(self.wishes):
            if response(wish.name) != "volume" or at in self.followed:
                continue
            if wish.name == "clearance_volume":
                lines.append(Line(volume, slope, wish.low / 1e-6, wish.high / 1e-6, at, (wish.tolerance or 1e-7) / 1e-6))
                continue
            # (ratio - 1) · volume = volume swept, which the barrel's height alone decides
            drop = "piston_travel" if wish.name == "compression_ratio" else "exhaust.drop"

            def swept_by(values: Mapping[str, Any], drop: str = drop) -> Any:
                return volumes.swept_volume.raw(bore_area=values["cylinder.bore_area"], piston_travel=values[drop])

            swept, change = self.start_and_slope(swept_by, ["cylinder.bore_area", drop], 1e-6)
            middle = wish.value if wish.value is not None else wish.low if math.isfinite(wish.low) else wish.high
            per = float(np.nanmedian(np.abs(swept))) / max(middle - 1.0, 1e-9) ** 2 * (wish.tolerance or 0.1)
            for low, ratio in ((True, wish.low), (False, wish.high)):
                if math.isfinite(ratio) and ratio > 1.0:
                    start, rate = swept - (ratio - 1.0) * volume, change - (ratio - 1.0) * slope
                    scale = ratio - 1.0
                    limits = (0.0, math.inf) if low else (-math.inf, 0.0)
                    lines.append(Line(start / scale, rate / scale, *limits, at, per))
        return lines

    def _volume(self, below: bool) -> tuple[Floats, Floats]:
        start, slope = self.start_and_slope(lambda values: values["clearance_volume"], ["clearance_volume"], 1e-6)
        if not self.bend:
            return start, slope
        names = ("deck_clearance", "cylinder.bore_area", "piston.area")
        known = self.raw(slice(None), np.zeros((self.stacks, len(self.names))), names)
        deck = np.broadcast_to(known["deck_clearance"], (self.stacks,))
        bore, piston = known["cylinder.bore_area"], known["piston.area"]
        own, other = np.where(deck > 0.0, bore, piston), bore if below else piston
        # as if the area of this side held beyond the deck as well
        start = start + deck * (other - own) / 1e-6
        fall = -float((bore if below else piston)[0]) * 1e-3 / 1e-6
        lowers = np.array([name in ("deck_cut", "base_cut") for name in self.names], dtype=np.bool_)
        return start, np.where(lowers, fall, slope)

    @functools.cached_property
    def metal(self) -> Floats:
        """What a millimetre (a bowl cut: a cc) of each cut takes: over the bore [cc], where volumes can be had, else in depth."""
        if not self.had("clearance_volume"):
            return np.ones(len(self.names))
        _, slope = self._volume(below=True)
        made: Floats = np.abs(slope)
        return np.where(made > 0.0, made, 1e-6)

    # --- answers ---

    def answer(self, most: int) -> Corrections:
        # cuts that take as much are told apart by their order
        preferred = 1.0 + 1e-7 * np.arange(len(self.names))
        found: list[Correction] = []
        proven = not self.followed
        seen: set[int] = set()
        for programme in self.programmes():
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
                allowed = np.ones(self.stacks, dtype=np.bool_)
                allowed[list(seen)] = False
                whole, _ = programme.least(programme.metal * preferred, np.zeros(len(programme.slope)), allowed, most - len(got), take)
                proven = proven and whole
            found += got
        found.sort(key=lambda one: (round(one.metal, 6), round(one.score, 9)))
        unit = "cc" if self.had("clearance_volume") else "mm"
        notes = list(self.notes)
        if found and self.at_edge:
            notes.append("a limit is met to its last digit, with nothing to spare")
        if self.followed:
            names = ", ".join(dict.fromkeys(self.wishes[at].name for at in self.followed))
            notes.append(f"{names}: followed step by step, so that a way with less metal is not ruled out")
        if found:
            proven = proven or found[0].metal == 0.0  # less than none there is not
            return Corrections(tuple(found[:most]), self.considered, proven, None, (), {}, unit, tuple(notes))
        return self._nothing(unit, notes)

    def _without_cuts(self, programme: Programme, most: int, got: list[Correction], seen: set[int]) -> None:
        """Stacks that need no cut, the best scores first."""
        if (programme.low > 0.0).any():
            return
        good = np.flatnonzero((programme.rest <= 0.0).all(axis=0))
        good = np.array([at for at in good if int(at) not in seen], dtype=np.int64)
        none = np.zeros((len(good), len(self.names)))
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
        names = tuple(dict.fromkeys(wish.name for wish in self.wishes))
        values, codes = evaluate_columns(self.group.structure, self.columns(stacks, cuts), names)
        score = np.zeros(len(stacks))
        fine = np.broadcast_to(codes == 0, (len(stacks),)).copy()
        with np.errstate(invalid="ignore"):
            for wish in self.wishes:
                value = np.broadcast_to(values[wish.name], (len(stacks),))
                low, high = (
                    end - way * (_MET * abs(end) if self.at_edge and math.isfinite(end) else 0.0)
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
        amounts = {name: float(cuts[at] * self.scale[at]) for at, name in enumerate(self.names) if cuts[at] > 1e-9}
        shown = {name: quantity(from_si(amount, unit_of(name)), unit_of(name)) for name, amount in amounts.items()}
        place = int(self.at_sum[stack])
        spacer = int(self.spacer_at[place])
        pair = int(self.pairs[stack])
        under = self.group.candidates[0].stacks
        base = heads = None
        if not self.keep or spacer >= 0:
            total = int(self.gasket_sums[place])
            number = int(self.base.numbers[int(np.argmax(self.base.sums[:, 0] == total))])
            base = tuple(self.base.kinds.gaskets[one] for one in first_members(self.base, number, (total,), 1)[0])
        if not self.keep:
            sums = tuple(int(part) for part in under.sums[pair])
            heads = tuple(under.kinds.gaskets[one] for one in first_members(under, int(under.numbers[pair]), sums, 1)[0])
        metal = float(self.metal @ np.where(cuts > 1e-9, cuts, 0.0)) if len(self.names) else 0.0
        return Correction(shown, None if spacer < 0 else self.spacers[spacer], base, heads, metal, score, self.top, amounts)

    # --- what is not linear ---

    def _follow(self, stack: int, cuts: Floats, programme: Programme) -> tuple[Floats, float]:
        """Cuts that meet the other wishes as well, by linearising them where one stands, in steps that get shorter.

        Where it comes to in the end, and how far outside that is, in tolerances: 0 for inside.
        """
        from scipy.optimize import linprog

        others = [self.wishes[at] for at in self.followed]
        names = tuple(dict.fromkeys([*(wish.name for wish in others), *(["contact_min"] if self.had("contact_min") else [])]))
        bounds_of = [(wish.name, wish.low, wish.high, abs(wish.tolerance or wish.low or wish.high)) for wish in others]
        if self.had("contact_min"):
            bounds_of.append(("contact_min", NOTHING, math.inf, 1e-4))
        if not bounds_of or not len(self.names):
            return cuts, math.inf
        count, reach = len(self.names), np.maximum(0.25 * (programme.high - programme.low), 1e-3)
        at = np.full(count + 1, stack)
        step = 1e-4

        def values_at(where: Floats) -> tuple[Floats, Floats]:
            rows = np.concatenate([where[None, :], where[None, :] + step * np.eye(count)])
            found = self.raw(at, rows, names)
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
        none = np.zeros(len(self.names))
        allowed = np.ones(self.stacks, dtype=np.bool_)
        for programme in self.programmes():
            # limits and the floor are kept where that can be; else what misses least of all
            for number in ("targets", "all", *range(len(self.wishes))):
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
                    elif [miss.name for miss in misses] == [self.wishes[number].name]:
                        name = self.wishes[number].name
                        if name not in alone or value < alone[name][0]:
                            alone[name] = value, misses[0]
        if best is not None and stood is not None and self.followed and best[0] <= 1e-9:
            # only what is followed is missed: as near to that as steps from the likeliest stack lead
            stack, cuts, programme = stood
            likeliest = self._least_followed(programme)
            if likeliest is not None:
                stack, cuts = likeliest, programme.low
            nearer = self._missed(stack, self._follow(stack, cuts, programme)[0])
            best = best if nearer is None else (0.0, *nearer)
        if best is None:
            notes.append("no stack of these gaskets can be assembled with these cuts")
            return Corrections((), self.considered, True, None, (), {}, unit, tuple(notes))
        return Corrections(
            (), self.considered, not self.followed, best[1], best[2], {n: m for n, (_, m) in alone.items()}, unit, tuple(notes)
        )

    def _least_followed(self, programme: Programme) -> int | None:
        """Of the stacks that meet all else without a cut, the one that misses least of what is followed; None: there is none."""
        good = np.flatnonzero((programme.slope @ programme.low[:, None] >= programme.rest).all(axis=0))
        if not len(good):
            return None
        wishes = [self.wishes[at] for at in self.followed]
        values = self.raw(good, np.tile(programme.low, (len(good), 1)), [wish.name for wish in wishes])
        far = np.zeros(len(good))
        for wish in wishes:
            value = np.broadcast_to(values[wish.name], (len(good),))
            outside = np.maximum(wish.low - value, 0.0) + np.maximum(value - wish.high, 0.0)
            far += np.where(np.isnan(outside), np.inf, outside / abs(wish.tolerance or wish.low or wish.high))
        return int(good[int(np.argmin(far))])

    def _gives(self, wish: int | None, number: int | str) -> bool:
        if wish is None or isinstance(number, int):
            return wish == number
        return number == "all" or self.wishes[wish].value is not None

    def _missed(self, stack: int, cuts: Floats) -> tuple[Correction, tuple[Miss, ...]] | None:
        made = self._correction(stack, cuts, math.nan)
        try:
            result = made.result
        except AssemblyError:
            return None
        misses = []
        for wish in self.wishes:
            value = result.si[wish.name] if wish.name in result.si else evaluate(made.top, [wish.name]).si[wish.name]
            edge = wish.low if value < wish.low else wish.high if value > wish.high else None
            # within what the programme keeps inside of, it is met
            if edge is not None and abs(value - edge) > _MET * abs(edge):
                shown = wish.unit
                misses.append(Miss(wish.name, from_si(value, shown), wish.text, from_si(value - edge, shown), shown, wish.decimals))
        score = sum(
            ((result.si[w.name] - w.value) / (w.tolerance or 1.0)) ** 2 for w in self.wishes if w.value is not None and w.name in result.si
        )
        return replace(made, score=float(score)), tuple(misses)


def _as_fitted(top: TopEnd) -> tuple[GasketSet, tuple[int, int], tuple[int, int]]:
    """The gaskets now fitted as a drawer that makes this one stack."""
    head = top.head_gaskets
    if head is None and top.head is not None and top.head.seal == "o-ring":
        head = ()
    for name, stack in (("base_gaskets", top.base_gaskets), ("head_gaskets", head)):
        if stack is None:
            raise FitError(f"it is not known which gaskets are fitted: give {name} (an empty list: none), or a stock to choose from")
    fitted = [*(top.base_gaskets or ()), *(head or ())]
    items = [StockItem(gasket=gasket, count=fitted.count(gasket)) for gasket in dict.fromkeys(fitted)]
    bases, heads = len(top.base_gaskets or ()), len(head or ())
    return GasketSet(items=items), (bases, bases), (heads, heads)
