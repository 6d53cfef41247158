"""What a correction asks, in numbers: the stacks that the drawer makes, and what each target asks of the cuts, as lines of a programme."""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import Row, TopEnd, lowered
from topend.errors import FitError
from topend.parts import GasketSet, Head, StockItem
from topend.physics import volumes, wiring
from topend.physics.wiring import NOTHING
from topend.solve.candidates import Group, HeadStacks, default_count, grouped, kinds_of, nothing_fills
from topend.solve.cuts import CUTS, cut_moves, moved_columns
from topend.solve.programme import INSIDE, Line, Programme
from topend.solve.responses import DECK, GAP, response
from topend.solve.stacks import FEMTOMETRES, Stacks, stacks_of
from topend.solve.wishes import Wish, count_range
from topend.units import StatedQuantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Bools = NDArray[np.bool_]

__all__ = ["Question"]

#: Scales of the programme: lengths in mm, volumes in cc.
_SCALE: Final = {"length": 1e-3, "volume": 1e-6}
#: Points at which what the deck decides is looked at, before the ends are narrowed, and how far beyond what can be had [m].
_POINTS: Final = 1001
_BEYOND: Final = 4e-3
#: Distances between crown and head that move with the gap wherever it is least, as long as the band stays where it is in the head.
_WITH_GAP: Final = frozenset({"contact_min", "running_clearance", "pulling_clearance"})
#: Stacks of a drawer (base, spacer and head) beyond which the question is refused.
_MOST_STACKS: Final = 2_000_000


@dataclass(frozen=True)
class Question:
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
    ) -> Question:
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
