"""Heads side by side on one barrel, over gap and speed, ranked on stated aims; the front of squish velocity against clearance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd, lowered_changed
from topend.errors import FitError, must_be, some
from topend.evaluation import evaluate_columns, needs_message
from topend.parts import FlushHead, Head, SpigotHead
from topend.physics import wiring
from topend.quantities import OUTPUTS, STATUS, Output, output
from topend.solve.wishes import Wish, limit, refuse_contradictions, target
from topend.units import KINDS, StatedQuantity, StatedValueError, from_si, quantity, stated, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Comparison", "Ranked", "compare"]

#: The two ends between which a squish gap is chosen.
FRONT: Final = ("squish_velocity_peak", "running_clearance")
#: What is shown of each head, where it can be had.
SHOWN: Final = (
    "squish_min",
    "squish_area_ratio",
    "squish_velocity_peak",
    "running_clearance",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_duration",
)
_WAYS: Final = ("largest", "smallest")
_REASON: Final = {entry.code: entry.meaning for entry in STATUS.values()}
#: Status of a gap that no stack of that role gives: it would have to be thinner than nothing.
_NO_STACK: Final = -1
#: The stack that a gap is set with.
_STACK: Final = {"base": "base.thickness", "head": "head_gasket.thickness"}


@dataclass(frozen=True)
class Ranked:
    """One head at the gap where it serves the aims best: `rank` from 1, None where no gap keeps every limit, with `why` then.

    `values` of each output at that gap, by speed, in the unit of the outputs table.
    """

    rank: int | None
    head: int
    gap: int
    score: float
    values: Mapping[str, tuple[float, ...]]
    why: str


@dataclass(frozen=True)
class Comparison:
    """The answer of `compare`.

    `names` of the heads, `gaps` [mm] the squish gaps at the band's edge (of each head its own where none was asked for: NaN then), `speeds`
    [rpm], NaN where none is known. `values[name]` are arrays (heads, gaps, speeds) in the unit of the outputs table, NaN where `status`
    is not 0. `ranked` the heads, best first. `front` the points (head, gap) of which no other has both more squish velocity and more
    running clearance, at the highest speed, in order of the velocity; empty where either cannot be had.

    Made by `te.compare`, whose example shows one.
    """

    names: tuple[str, ...]
    heads: tuple[Head, ...]
    gaps: tuple[float, ...]
    speeds: tuple[float, ...]
    values: Mapping[str, Floats]
    status: NDArray[np.int64]
    ranked: tuple[Ranked, ...]
    front: tuple[tuple[int, int], ...]
    aims: Mapping[str, Any]
    limits: tuple[Wish, ...]
    by: str
    notes: tuple[str, ...] = ()
    top: TopEnd | None = field(default=None, repr=False)

    @property
    def known(self) -> Mapping[str, Output]:
        """The outputs that may stand in `values`: the outputs table, and what packs add to it."""
        return OUTPUTS if self.top is None else self.top.outputs

    def reason(self, head: int, gap: int, speed: int) -> str:
        """Why a point is no top end; nothing where it is one."""
        code = int(self.status[head, gap, speed])
        if code == _NO_STACK:
            return f"no {self.by} stack is thin enough for that gap"
        return "" if code == 0 else _REASON[code]

    def top_end(self, head: int, gap: int = 0, speed: int = 0) -> TopEnd:
        """One point as a `TopEnd`: head number `head`, at that gap and speed, each counted from 0.

        Raises `FitError` where no stack is thin enough for the gap, `AssemblyError` where it cannot be put together.
        """
        assert self.top is not None
        changes = _changes(self.top, self.heads[head])
        if not math.isnan(self.speeds[speed]):
            changes["running.crank_speed"] = quantity(self.speeds[speed], "rpm")
        if not math.isnan(self.gaps[gap]):
            if int(self.status[head, gap, speed]) == _NO_STACK:
                raise FitError(f"{self.names[head]}: {self.reason(head, gap, speed)}")
            stack = _STACK[self.by]
            row, _ = lowered_changed(self.top, changes)
            known = wiring.run(wiring.plan(row.structure, ("squish_edge", stack)), row.columns())
            thick = float((known[stack] - known["squish_edge"])[0]) + to_si(self.gaps[gap], "mm")
            changes[stack] = quantity(from_si(max(thick, 0.0), "mm"), "mm")
        return self.top.replace(changes)

    def __str__(self) -> str:
        lines = []
        for one in self.ranked:
            place = "–" if one.rank is None else str(one.rank)
            gap = self.gaps[one.gap]
            at = "" if math.isnan(gap) else f" at {gap:.2f} mm"
            shown = ", ".join(f"{name} {_span(values, self.known[name].decimals)}" for name, values in one.values.items())
            lines.append(f"{place:>2}  {self.names[one.head]}{at}: {shown}" + (f"; {one.why}" if one.why else ""))
        return "\n".join([*lines, *self.notes])


def _span(values: Sequence[float], decimals: int) -> str:
    known = [value for value in values if not math.isnan(value)]
    if not known:
        return "unknown"
    low, high = f"{min(known):.{decimals}f}", f"{max(known):.{decimals}f}"
    return low if low == high else f"{low} to {high}"


def compare(
    top: TopEnd,
    heads: Sequence[Head],
    *,
    aims: Mapping[str, Any],
    gaps: Sequence[Any] | None = None,
    speeds: Sequence[Any] | None = None,
    by: str = "base",
    at_least: Mapping[str, Any] | None = None,
    at_most: Mapping[str, Any] | None = None,
    outputs: Sequence[str] | None = None,
) -> Comparison:
    """Heads on one barrel over squish gap and speed, ranked on stated aims.

    Parameters
    ----------
    top : the barrel with crank, piston and gaskets; its own head does not matter.
    heads : those to compare.
    aims : output name to ``(value, tolerance)``, ``"largest"`` or ``"smallest"``. Values count first, by Σ((value - target)/tolerance)²,
        then the others in the order given.
    gaps : gaps at the band's edge (``squish_edge``) to be set with the base stack (`by` = "base", which moves the timing) or with the
        head gaskets (`by` = "head"); None: as the gaskets of `top` leave it.
    speeds : crank speeds; None: that of `top`.
    at_least, at_most : limits by output name.
    outputs : what to work out besides; None: squish, running clearance, ratios and timing, where they can be had.

    Of several speeds the worst counts for each aim, and limits hold at all of them. Each head is ranked at the gap that serves it best.
    Raises `FitError` for a question that cannot be asked, `UnknownNameError` for an output nobody has.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.5 mm"), base_gaskets=[], head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> heads = [te.FlushHead(name="flush"), te.FlushHead(name="deep", recess_offset="0.2 mm")]
    >>> [found.head for found in te.compare(top, heads, aims={"squish_edge": ("1.0 mm", "0.1 mm")}).ranked]
    [1, 0]
    """
    must_be("compare", "top", top, TopEnd)
    if (said := some(heads, "heads")) is not None:
        raise FitError(f"heads {said}")
    heads = tuple(heads)
    for place, head in enumerate(heads):
        if not isinstance(head, FlushHead | SpigotHead):
            raise FitError(f"heads.{place} must be a head, such as a FlushHead; got {head!r}")
    must_be("compare", "aims", aims, Mapping, '; give by output name, such as {"running_clearance": "largest"}')
    for asked, given in (("at_least", at_least), ("at_most", at_most)):
        if given is not None:
            must_be("compare", asked, given, Mapping, '; give by output name, such as {"running_clearance": "0.25 mm"}')
    if not heads:
        raise FitError("heads is empty: give at least one to compare")
    if by not in ("base", "head"):
        raise FitError(f"by must be base or head, the stack that sets the gap; got {by!r}")
    if not aims:
        raise FitError(
            'aims is empty: say what is wanted, such as {"squish_velocity_peak": ("20 m/s", "2 m/s"), "running_clearance": "largest"}'
        )
    known = top.outputs
    targets = [target(name, given, known) for name, given in aims.items() if not isinstance(given, str)]
    for name, given in aims.items():
        output(name, known)
        if isinstance(given, str) and given not in _WAYS:
            raise FitError(f"aims: {name} must be a value and a tolerance, or largest, or smallest; got {given!r}")
    limits = [limit(name, given, known, least=True) for name, given in (at_least or {}).items()]
    limits += [limit(name, given, known, least=False) for name, given in (at_most or {}).items()]
    refuse_contradictions(limits)
    wanted_gaps = None if gaps is None else _listed("gaps", gaps, "length")
    wanted_speeds = None if speeds is None else _listed("speeds", speeds, "crank speed")
    needed = tuple(dict.fromkeys([*aims, *(wish.name for wish in limits), *(outputs or ())]))
    for name in needed:
        output(name, known)
    tables, codes, notes = [], [], []
    names = _names(heads)
    for name, head in zip(names, heads, strict=True):
        values, code = _evaluated(top, head, name, needed, wanted_gaps, wanted_speeds, by, outputs is None)
        tables.append(values)
        codes.append(code)
    if top.assembled is not None:
        notes.append("the assembled volume holds for the head it was read with: every head here goes by its chamber volume")
    shape = codes[0].shape
    every = [name for name in known if any(name in table for table in tables)]
    values = {name: np.stack([table.get(name, np.full(shape, math.nan)) for table in tables]) for name in every}
    status = np.stack(codes)
    ordered = sorted(every, key=lambda name: (SHOWN.index(name) if name in SHOWN else len(SHOWN), every.index(name)))
    values = {name: values[name] for name in ordered}
    running = top.running.crank_speed.si if top.running is not None else math.nan
    return Comparison(
        names,
        heads,
        (math.nan,) if wanted_gaps is None else tuple(one.m_as("mm") for one in wanted_gaps),
        (float(from_si(running, "rpm")),) if wanted_speeds is None else tuple(one.m_as("rpm") for one in wanted_speeds),
        values,
        status,
        tuple(_ranked(values, status, aims, targets, limits)),
        _front(values),
        dict(aims),
        tuple(limits),
        by,
        tuple(notes),
        top,
    )


def _names(heads: Sequence[Head]) -> tuple[str, ...]:
    """A name for each, those that are called alike told apart."""
    made: list[str] = []
    for number, head in enumerate(heads, 1):
        name = head.name or f"head {number}"
        made.append(name if name not in made else f"{name} ({number})")
    return tuple(made)


def _listed(what: str, given: Sequence[Any], kind: str) -> tuple[StatedQuantity, ...]:
    example = '["0.8 mm", "0.9 mm"]' if kind == "length" else '["9000 rpm", "11000 rpm"]'
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence) or not len(given):
        raise FitError(f"{what} must be a list, such as {example}; got {given!r}")
    made = []
    for place, one in enumerate(given):
        try:
            made.append(stated(one, KINDS[kind]))
        except StatedValueError as error:
            raise FitError(f"{what}.{place} {error}") from None
        if made[-1].si <= 0.0:
            raise FitError(f"{what}.{place} must be more than 0; got {made[-1].text!r}")
    return tuple(made)


def _changes(top: TopEnd, head: Head) -> dict[str, Any]:
    """What takes the place of what `top` has, when `head` is put on it."""
    changes: dict[str, Any] = {"head": head}
    if top.assembled is not None:
        changes["assembled"] = None
    if head.seal == "o-ring":
        changes["head_gaskets"] = ()
    return changes


def _evaluated(
    top: TopEnd,
    head: Head,
    name: str,
    needed: Sequence[str],
    gaps: Sequence[StatedQuantity] | None,
    speeds: Sequence[StatedQuantity] | None,
    by: str,
    usual: bool,
) -> tuple[dict[str, Floats], NDArray[np.int64]]:
    """What one head comes to at each gap and speed, and the status of each, arrays (gaps, speeds)."""
    row, refused = lowered_changed(top, _changes(top, head))
    if refused is not None:
        raise FitError(f"{name}: {refused}")
    shape = (1 if gaps is None else len(gaps), 1 if speeds is None else len(speeds))
    columns: dict[str, Any] = row.columns()
    structure = row.structure
    code = np.zeros(shape, dtype=np.int64)
    if gaps is not None:
        if by == "head" and head.seal == "o-ring":
            raise FitError(f"{name}: seals by O-ring, so that no head gasket sets its gap; set gaps with the base stack")
        stack = _STACK[by]
        planned = wiring.plan(structure, ("squish_edge", stack))
        for lacking, lack in planned.missing.items():
            raise FitError(f"{name}: {needs_message(lacking, lack.needs)}")
        if by == "base" and "deck.clearance" in structure.given and top.base_gaskets is None:
            raise FitError(f"{name}: gaps are set with a base stack that is not known: give base_gaskets (an empty list: none)")
        known = wiring.run(planned, columns)
        if by == "base" and "deck.clearance" in structure.given and "deck.base_thickness" not in structure.given:
            # the reading holds for the stack now fitted
            columns["deck.base_thickness"] = known["base.thickness"]
            structure = structure.with_given(["deck.base_thickness"])
        thick = known[stack] + np.array([gap.si for gap in gaps]) - known["squish_edge"]
        code[thick < -1e-9, :] = _NO_STACK
        columns[stack] = np.repeat(np.maximum(thick, 0.0), shape[1])
        structure = structure.with_given([stack])
    if speeds is not None:
        columns["running.crank_speed"] = np.tile(np.array([speed.si for speed in speeds]), shape[0])
        structure = structure.with_given(["running.crank_speed"])
    for wanted in needed:
        absent = wiring.plan(structure, (wanted,)).missing.get(wanted)
        if absent is not None:
            raise FitError(f"{name}: {needs_message(wanted, absent.needs)}")
    every = top.outputs
    names = [one for one in every if one in needed or (usual and one in SHOWN and not wiring.plan(structure, (one,)).missing)]
    made, codes = evaluate_columns(structure, columns, names)
    rows = shape[0] * shape[1]
    codes = np.broadcast_to(codes, (rows,)).reshape(shape).astype(np.int64)
    code = np.where(code == _NO_STACK, _NO_STACK, codes)
    values = {}
    for one in names:
        shown = np.broadcast_to(from_si(made[one], every[one].unit), (rows,)).reshape(shape)
        values[one] = np.where(code == 0, shown, math.nan)
    return values, code


def _ranked(
    values: Mapping[str, Floats], status: NDArray[np.int64], aims: Mapping[str, Any], targets: Sequence[Wish], limits: Sequence[Wish]
) -> list[Ranked]:
    """The heads, each at its best gap, best first; those that keep no limit at any gap last, with what is against them."""
    heads, gaps, _ = status.shape
    good = (status == 0).all(axis=2)
    kept = good.copy()
    for wish in limits:
        kept &= _inside(values[wish.name], wish).all(axis=2)
    score = np.zeros((heads, gaps))
    for wish in targets:
        value, span = from_si(float(wish.value or 0.0), wish.unit), from_si(float(wish.tolerance or 1.0), wish.unit)
        score += (((values[wish.name] - value) / span) ** 2).max(axis=2)
    keys: list[Floats] = [np.round(score, 9)]
    for name, way in aims.items():
        if isinstance(way, str):
            worst = -values[name].min(axis=2) if way == "largest" else values[name].max(axis=2)
            keys.append(np.round(worst, 9))
    found = []
    for head in range(heads):
        usable = kept[head] if kept[head].any() else good[head]
        order = sorted(np.flatnonzero(usable), key=lambda gap: tuple(float(key[head, gap]) for key in keys))
        at = int(order[0]) if order else 0
        held = bool(kept[head].any())
        why = "" if held else _against(values, status, head, at, limits)
        place = tuple(float(key[head, at]) for key in keys)
        shown = {name: tuple(float(value) for value in column[head, at]) for name, column in values.items()}
        found.append((not held, tuple(math.inf if math.isnan(one) else one for one in place), head, at, why, shown))
    found.sort(key=lambda one: one[:3])
    return [
        Ranked(None if out else rank, head, at, math.nan if out else place[0], shown, why)
        for rank, (out, place, head, at, why, shown) in enumerate(found, 1)
    ]


def _inside(column: Floats, wish: Wish) -> Any:
    unit = wish.unit
    low = -math.inf if wish.low == -math.inf else from_si(wish.low, unit)
    high = math.inf if wish.high == math.inf else from_si(wish.high, unit)
    with np.errstate(invalid="ignore"):
        return (column >= low) & (column <= high)


def _against(values: Mapping[str, Floats], status: NDArray[np.int64], head: int, gap: int, limits: Sequence[Wish]) -> str:
    """What keeps a head out, at the gap where it is shown."""
    if not (status[head] == 0).all(axis=1).any():
        code = int(status[head, gap][status[head, gap] != 0][0])
        return "no stack is thin enough for these gaps" if code == _NO_STACK else f"cannot be assembled: {_REASON[code]}"
    told = []
    for wish in limits:
        column = values[wish.name][head, gap]
        if not _inside(column, wish).all():
            told.append(f"{wish.name} {_span(tuple(column), wish.decimals)}, wanted {wish.text}")
    return "; ".join(told)


def _front(values: Mapping[str, Floats]) -> tuple[tuple[int, int], ...]:
    """Points (head, gap) that no other beats in both, at the last of the speeds in which either is worst: the highest."""
    if not all(name in values for name in FRONT):
        return ()
    velocity, clearance = (values[name] for name in FRONT)
    # the highest speed is where the squish is quickest
    flat = np.where(np.isnan(velocity), -math.inf, velocity)
    at = int(np.argmax(flat.reshape(-1, flat.shape[2]).max(axis=0)))
    points = [
        (float(velocity[head, gap, at]), float(clearance[head, gap, at]), head, gap)
        for head, gap in np.ndindex(*velocity.shape[:2])
        if not math.isnan(velocity[head, gap, at]) and not math.isnan(clearance[head, gap, at])
    ]
    kept, best = [], -math.inf
    for quick, room, head, gap in sorted(points, key=lambda one: (-one[0], -one[1])):
        if room > best:
            kept.append((head, gap))
            best = room
        del quick
    return tuple(reversed(kept))
