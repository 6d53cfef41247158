"""Findings about what seals: the O-ring in its groove, the lands of both joints, and the rings' ends."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from topend.evaluation import Result
from topend.extremes import Extremes, ends_of, extremes
from topend.joints import lands
from topend.physics import wiring
from topend.physics.sealing import RUBBERS
from topend.quantities import Finding, Standing
from topend.uncertainty import COVERAGE, uncertainty
from topend.units import from_si

__all__ = [
    "BUCKLING_SHARE",
    "EXTRUSION_MM",
    "LAND_MM",
    "LEAST_SQUEEZE",
    "MOST_FILL",
    "MOST_SQUEEZE",
    "MOST_STRETCH",
    "PEG_LAND_MM",
    "PLAY_MM",
    "RING_GAP",
    "WORN_GAP",
    "findings",
]

#: Squeeze [%] at the limits of all sizes. Handbooks design static seals to 15 to 30 %.
LEAST_SQUEEZE: Final = 10.0
MOST_SQUEEZE: Final = 35.0
#: Fill [%] at those limits, hot where that is known. Handbooks design to 85 % and leave the rest to heat and swelling.
MOST_FILL: Final = 95.0
MOST_STRETCH: Final = 5.0
#: How far pressure may push the ring before it comes to its wall.
PLAY_MM: Final = 0.50
#: Share of its outer diameter by which a ring may be too large for its groove before it buckles.
BUCKLING_SHARE: Final = 0.03
EXTRUSION_MM: Final = 0.20
#: Least land of each joint, and least wall beside a groove.
LAND_MM: Final = {"head": 3.0, "base": 3.0, "groove": 1.0}
#: Wall between a ring's end and a window.
PEG_LAND_MM: Final = 2.0
#: Gap of a ring as new, and as worn, as shares of the bore.
RING_GAP: Final = (0.002, 0.004)
WORN_GAP: Final = 0.010
#: Where cold readings are taken [°C].
_COLD: Final = 20.0
_NOTHING: Final = 1e-9
#: Wall between a ring's end and a window; half way round where its ends pass none.
_PEG_LAND: Final = "piston.peg_land"
_HANDBOOKS: Final = "static seals in published O-ring handbooks, from memory"


def findings(result: Result) -> list[Finding]:
    """What is to be said of O-ring, lands and rings, each at the limits of every size that is stated or assumed.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import FlushHead, ORing, ORingGroove
    >>> deep = ORingGroove(seals="face", outer_diameter="63.4 mm", width="3.5 mm", depth="2.4 mm")
    >>> head = FlushHead(seal="o-ring", o_ring=ORing(inner_diameter="58 mm", section="2.62 mm"), groove=deep)
    >>> [finding.code for finding in findings(evaluate(TopEnd(head=head)))]
    ['o_ring_loose']
    """
    return [*_o_ring(result), *_lands(result), *_rings(result), *_pair(result)]


#: Squeeze hot, of a ring round a spigot where that lies furthest from the bore.
_LOOSE_HOT: Final = "o_ring.squeeze_loose@hot"


def _ends(result: Result, *names: str) -> dict[str, Extremes]:
    """Those of the outputs that can be had, at their worst."""
    had = [name for name in names if not wiring.plan(result.top.row.structure, (name,)).missing]
    return extremes(result.top, had) if had else {}


def _found(
    code: str, message: str, do: str, effect: str, figure: float, limit: float, unit: str, *, note: bool = False,
    standing: Standing = "memory", source: str = _HANDBOOKS,
) -> Finding:  # fmt: skip
    return Finding(
        code=code,
        severity="note" if note else "warning",
        message=message,
        do=do,
        standing=standing,
        source=source,
        figure=figure,
        limit=limit,
        unit=unit,
        effect=effect,
    )


def _o_ring(result: Result) -> Iterator[Finding]:
    head = result.top.head
    if head is None or (head.groove is None and head.o_ring is None):
        return
    if head.seal == "gasket":
        had = [word for word, part in (("an O-ring", head.o_ring), ("a groove for one", head.groove)) if part is not None]
        yield Finding(
            code="o_ring_unused",
            severity="note",
            message=f"the head has {' and '.join(had)}, and by its seal the gasket alone seals: how an O-ring sits there is not judged",
            do='state head.seal as "o-ring" or "both" where the ring seals',
            standing="geometry",
            effect="silence is no proof that it seals",
        )
        return
    if head.groove is None or head.o_ring is None:
        lacking = "groove" if head.groove is None else "o_ring"
        yield Finding(
            code="o_ring_unknown",
            severity="note",
            message=f"whether the O-ring seals cannot be judged: head.{lacking} is not given",
            do=f"state head.{lacking}",
            standing="geometry",
            effect="silence is no proof that it seals",
        )
        return
    yield from _squeeze(result)
    yield from _seat(result)
    rise = None if result.top.running is None else result.top.running.head_rise
    if head.o_ring.material is not None and rise is not None:
        hottest, hot = RUBBERS[head.o_ring.material].hottest, _COLD + rise.m_as("K")
        if hot > hottest + _NOTHING:
            yield _found(
                "o_ring_hot",
                f"the head comes to {hot:.0f} °C (its rise over {_COLD:.0f} °C), and {head.o_ring.material} bears {hottest:.0f} for long",
                "a rubber for more heat, or a groove further from the chamber",
                "the ring hardens and sets, and no longer springs after the lid when it cools",
                hot,
                hottest,
                "°C",
                source="usual ranges of rubbers, from memory",
            )


def _squeeze(result: Result) -> Iterator[Finding]:
    found = _ends(
        result,
        *("o_ring_squeeze", "o_ring_squeeze_hot", "o_ring_squeeze_off_centre", "o_ring_squeeze_tight", "o_ring_squeeze_tight_hot"),
        *("o_ring_fill", "o_ring_fill_hot"),
    )
    squeeze = found.get("o_ring_squeeze_off_centre")
    head = result.top.head
    side = " on the loose side of its spigot" if head is not None and head.groove is not None and head.groove.seals == "bore" else ""
    pressed, least, when = (squeeze.value, squeeze.low, "") if squeeze is not None else (math.nan, math.inf, "")
    if not wiring.plan(result.top.row.structure, (_LOOSE_HOT,)).missing:
        loose = ends_of(result.top, (_LOOSE_HOT,))[_LOOSE_HOT]
        if 100.0 * loose[1] < least - _NOTHING:
            pressed, least, when = 100.0 * loose[0], 100.0 * loose[1], " hot"
    if least < LEAST_SQUEEZE - _NOTHING:
        yield _found(
            "o_ring_loose",
            f"the O-ring is squeezed by {pressed:.1f} %{when}{side}, and by {least:.1f} % at the limits of all sizes",
            "a shallower groove, or a thicker ring; measure both to narrow their limits",
            "gas blows past it" + ("" if when else ", first cold"),
            least,
            LEAST_SQUEEZE,
            "%",
        )
    most = max((one for name, one in found.items() if "squeeze" in name), key=lambda one: one.high, default=None)
    if most is not None and most.high > MOST_SQUEEZE + _NOTHING:
        when = " hot" if most.name.endswith("hot") else ""
        if side and "tight" in most.name:
            when += " on the tight side of its spigot"
        yield _found(
            "o_ring_crushed",
            f"the O-ring may be squeezed by {most.high:.1f} %{when} at the limits of all sizes",
            "a deeper groove, or a thinner ring",
            "it takes a set, is cut at the groove's edge, or keeps the faces apart",
            most.high,
            MOST_SQUEEZE,
            "%",
        )
    fill = max((one for name, one in found.items() if "fill" in name), key=lambda one: one.high, default=None)
    if fill is not None and fill.high > MOST_FILL + _NOTHING:
        when = " hot" if fill.name.endswith("hot") else ""
        yield _found(
            "o_ring_overfills",
            f"the O-ring may fill {fill.high:.0f} % of its groove{when} at the limits of all sizes",
            "a wider groove; rubber is not compressible, and fuel makes it swell",
            "it lifts the head, or is pressed out between the faces",
            fill.high,
            MOST_FILL,
            "%",
        )


def _seat(result: Result) -> Iterator[Finding]:
    head = result.top.head
    assert head is not None
    assert head.groove is not None
    found = _ends(result, "o_ring_stretch", "o_ring_play", "o_ring_extrusion_gap")
    stretch, play, behind = (found.get(name) for name in ("o_ring_stretch", "o_ring_play", "o_ring_extrusion_gap"))
    if stretch is not None and stretch.high > MOST_STRETCH + _NOTHING:
        yield _found(
            "o_ring_stretched",
            f"the O-ring may be stretched by {stretch.high:.1f} % at the limits of all sizes",
            "a larger ring, or a smaller groove",
            "it gets thinner than its squeeze allows for, and cracks with heat",
            stretch.high,
            MOST_STRETCH,
            "%",
            note=True,
        )
    if stretch is not None and head.groove.seals == "bore" and stretch.low < -_NOTHING:
        yield _found(
            "o_ring_slack",
            f"the O-ring may lie loose on its spigot, by {-stretch.low:.1f} % of its own size",
            "a smaller ring: it wants to be stretched a little",
            "it hangs out of its groove and is cut when the head goes in",
            stretch.low,
            0.0,
            "%",
            standing="geometry",
        )
    if head.groove.seals == "face" and play is not None:
        yield from _wall(result, play)
    if behind is not None and behind.high > EXTRUSION_MM + _NOTHING:
        yield _found(
            "o_ring_extrudes",
            f"the gap behind the O-ring may be {behind.high:.3f} mm",
            "a groove deep enough to do without the gasket, or a closer spigot; or a harder ring",
            "pressure presses the ring into that gap and nibbles it away",
            behind.high,
            EXTRUSION_MM,
            "mm",
            note=True,
        )


def _wall(result: Result, play: Extremes) -> Iterator[Finding]:
    head = result.top.head
    assert head is not None
    assert head.groove is not None
    assert head.o_ring is not None
    side = "outer" if head.groove.pressure == "inside" else "inner"
    if play.high > PLAY_MM + _NOTHING:
        yield _found(
            "o_ring_moves",
            f"pressure from {head.groove.pressure} can push the O-ring by up to {play.high:.2f} mm, to the groove's {side} wall",
            f"a ring that lies against the {side} wall: pressure should find it there",
            "it is blown across with every stroke, and wears through",
            play.high,
            PLAY_MM,
            "mm",
            note=True,
        )
    most = -BUCKLING_SHARE * (head.o_ring.inner_diameter.m_as("mm") + 2.0 * head.o_ring.section.m_as("mm")) / 2.0
    if side == "outer" and play.low < most - _NOTHING:
        yield _found(
            "o_ring_buckles",
            f"the O-ring may be {-2.0 * play.low:.2f} mm too large across for the groove's outer wall, "
            f"{100.0 * play.low / most * BUCKLING_SHARE:.1f} % of its size",
            "a smaller ring, or a larger groove",
            "it stands up out of the groove and is pinched",
            play.low,
            most,
            "mm",
        )


_NARROW: Final = {
    "head": ("head_land_narrow", "gas blows out there, and burns a channel through gasket and metal"),
    "base": ("base_land_narrow", "the crankcase breathes there: it runs lean, and seizes"),
    "groove": ("groove_land_narrow", "the wall breaks out, or the ring loses what holds it"),
}


def _lands(result: Result) -> Iterator[Finding]:
    """Of each joint its least width, where that is too little."""
    told: set[str] = set()
    for land in sorted(lands(result.top), key=lambda one: one.least):
        limit = LAND_MM[land.joint]
        if land.joint in told or land.least >= limit - _NOTHING:
            continue
        told.add(land.joint)
        code, effect = _NARROW[land.joint]
        least = f", {land.least:.2f} mm at the limits of all sizes" if land.least < land.width - _NOTHING else ""
        yield _found(
            code,
            f"{land}{least}",
            "sealant and a gasket cut to what is left; state where passages lie (cutouts), between two studs there is more"
            if land.joint == "base"
            else "another opening or outline, fewer or smaller holes there; measure what its limits come from",
            effect,
            land.least,
            limit,
            "mm",
            standing="geometry" if land.least <= _NOTHING else "memory",
            source="our own limit for saying so",
        )
    if "head" not in told:
        yield from _off_centre(result)


def _off_centre(result: Result) -> Iterator[Finding]:
    """A land that is wide enough as it is, and is not with the head worst off centre."""
    found = _ends(result, "head_land", "head_land_off_centre")
    land, left = found.get("head_land"), found.get("head_land_off_centre")
    if land is None or left is None or left.low >= (limit := LAND_MM["head"]) - _NOTHING:
        return
    code, effect = _NARROW["head"]
    yield _found(
        code,
        f"head: its least land, {land.value:.2f} mm, may be {left.low:.2f} mm on one side, the head worst off centre, at the limits of all "
        "sizes",
        "a closer location, or another opening or outline",
        effect,
        left.low,
        limit,
        "mm",
        standing="geometry" if left.low <= _NOTHING else "memory",
        source="our own limit for saying so",
    )


def _rings(result: Result) -> Iterator[Finding]:
    bore = None if result.top.cylinder is None else result.top.cylinder.bore
    found = _ends(result, "ring_gap_ratio", "ring_gap_worn")
    gap, worn = (found.get(name) for name in ("ring_gap_ratio", "ring_gap_worn"))
    if gap is not None and bore is not None and gap.low < RING_GAP[0] - _NOTHING:
        size = bore.m_as("mm")
        yield _found(
            "ring_gap_small",
            f"a ring's gap may be {gap.low * size:.3f} mm in a bore of {size:.2f} mm, {gap.low:.4f} of it",
            f"file it to {RING_GAP[0] * size:.2f} to {RING_GAP[1] * size:.2f} mm, or state ring and bore hot to be sure",
            "its ends may butt when it is hot: it scores the bore, and breaks",
            gap.low,
            RING_GAP[0],
            "–",
            note=True,
            standing="common practice",
            source="0.002 to 0.004 of the bore is usual, cold",
        )
    if worn is not None and bore is not None and worn.high > (most := WORN_GAP * bore.m_as("mm")) + _NOTHING:
        yield _found(
            "ring_gap_wide",
            f"a ring's gap is {worn.high:.2f} mm in the bore as it is now, over {WORN_GAP:g} of it",
            "a new ring; where the bore has worn, a bore and a piston of the next size",
            "gas blows by and takes the oil with it; the ring flutters",
            worn.high,
            most,
            "mm",
            note=True,
            source="our own limit for saying so",
        )
    yield from _pegs(result)


def _pegs(result: Result) -> Iterator[Finding]:
    """A ring's end beside or over a window that it passes."""
    structure = result.top.row.structure
    if wiring.plan(structure, (_PEG_LAND,)).missing:
        return
    least = from_si(ends_of(result.top, (_PEG_LAND,))[_PEG_LAND][1], "mm")
    if least < PEG_LAND_MM - _NOTHING:
        over = least <= _NOTHING
        # a step of the plan that says how low a ring gets
        known = any(step.name.endswith(".lowest") for step in wiring.plan(structure, (_PEG_LAND,)).steps)
        place = "" if known else ", if it gets that far down, which is not known (deck, crank and piston.top_land)"
        yield _found(
            "ring_end_at_window",
            (f"a ring's end comes within {max(least, 0.0):.2f} mm of a port window" if not over else "a ring's end runs over a port window")
            + place,
            "another place for the peg, or a piston that is made for this cylinder",
            "the end springs out into the window and catches: the ring breaks",
            least,
            PEG_LAND_MM,
            "mm",
            standing="geometry" if over else "memory",
            source="our own limit for saying so",
        )


def _pair(result: Result) -> Iterator[Finding]:
    """A piston and a bore by their sizes alone, whose worst pair binds hot though the pair as stated does not."""
    piston = result.top.piston
    if piston is None or piston.clearance is not None:
        return
    found = _ends(result, "skirt_clearance", "skirt_clearance_hot")
    hot, cold = found.get("skirt_clearance_hot"), found.get("skirt_clearance")
    if hot is None or cold is None or hot.low > _NOTHING or hot.value <= _NOTHING or math.isclose(cold.low, cold.value):
        return
    likely = uncertainty(result.top, ["skirt_clearance_hot"])["skirt_clearance_hot"]
    if likely.value - COVERAGE * likely.u <= _NOTHING:
        # that it may bind is told already, among what is hot
        return
    yield _found(
        "skirt_unmatched",
        f"bore and skirt leave {cold.low:.3f} to {cold.high:.3f} mm by the limits of their sizes; the closest pair binds hot, by "
        f"{-hot.low:.3f} mm",
        "match piston to bore and state what the pair has as piston.clearance, or narrow the limits",
        "one engine in a series seizes",
        hot.low,
        0.0,
        "mm",
        note=True,
        standing="geometry",
        source="all sizes at their worst limits at once",
    )
