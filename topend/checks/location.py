"""Findings about how the head is located: side room of a piston that comes out, pins and their holes, a spigot that fights them."""

from __future__ import annotations

from typing import Final

from topend.checks.gap import LEAST_GAP_MM
from topend.evaluation import Result, evaluate
from topend.extremes import Extremes, ends_of, extremes
from topend.parts import LocatingPin, Location, PinLocation
from topend.physics import wiring
from topend.physics.spring_pins import HOLE_LIMITS, STANDING
from topend.quantities import Finding
from topend.units import from_si

__all__ = ["OFF_CENTRE_MM", "SLOTTED_GIVE_MM", "findings"]

#: How far off the likely head may lie before it is said.
OFF_CENTRE_MM: Final = 0.10
#: What two slotted pins give along their line before they are forced.
SLOTTED_GIVE_MM: Final = 0.10
_NOTHING: Final = 1e-9
#: What is left between spigot and bore hot.
_GAP_HOT: Final = "location.spigot_gap_hot"


def findings(result: Result) -> list[Finding]:
    """What follows from the head's location, every size at its worst limit; nothing where no location is stated.

    >>> from topend.assembly import TopEnd
    >>> from topend.parts import Cylinder, FlushHead, StudLocation, StudPattern
    >>> studs, holes = (StudPattern(count=4, circle_diameter="56 mm", diameter=size) for size in ("6 mm", "6.6 mm"))
    >>> loose = TopEnd(cylinder=Cylinder(studs=studs), head=FlushHead(studs=holes), location=StudLocation())
    >>> [finding.code for finding in findings(evaluate(loose))]
    ['off_centre']
    """
    if result.top.location is None:
        return []
    return [*_unknown(result), *_off_centre(result), *_low_side(result), *_side_room(result), *_spigot(result), *_pins(result)]


def _worst(result: Result, *names: str) -> dict[str, Extremes] | None:
    """The outputs at their worst, or None where one cannot be had."""
    return None if wiring.plan(result.top.row.structure, names).missing else extremes(result.top, names)


def _by(location: Location) -> str:
    return {"spigot": "its spigot", "register": "its register", "pins": "two pins", "studs": "the studs alone"}[location.kind]


def _unknown(result: Result) -> list[Finding]:
    """What locates the head is stated, but not what it takes to say how far off it lies."""
    missing = wiring.plan(result.top.row.structure, ("eccentricity_worst",)).missing
    location = result.top.location
    if location is None or not missing:
        return []
    return [
        Finding(
            code="off_centre_unknown",
            severity="note",
            message=f"the head is located by {_by(location)}; how far off the bore's axis it may lie is not known, "
            "and nothing is judged by it",
            do=f"give {', '.join(missing['eccentricity_worst'].needs)}",
            standing="geometry",
            effect="a head off centre squeezes more on one side, and a piston that comes out of the bore may touch its recess",
        )
    ]


def _off_centre(result: Result) -> list[Finding]:
    worst = _worst(result, "eccentricity_worst", "eccentricity_likely")
    location = result.top.location
    if worst is None or location is None:
        return []
    likely, most, when = worst["eccentricity_likely"].high, worst["eccentricity_worst"].high, ""
    hot = _worst(result, "eccentricity_worst_hot", "eccentricity_likely_hot")
    if hot is not None and hot["eccentricity_likely_hot"].high > max(likely, OFF_CENTRE_MM) + _NOTHING:
        when = f" hot (cold {likely:.3f})"
        likely, most = hot["eccentricity_likely_hot"].high, hot["eccentricity_worst_hot"].high
    if likely <= OFF_CENTRE_MM + _NOTHING:
        return []
    studs = "; studs clamp, they do not centre" if location.kind == "studs" else ""
    return [
        Finding(
            code="off_centre",
            severity="note",
            message=f"the head, located by {_by(location)}, may lie {likely:.3f} mm off the bore's axis{when}, {most:.3f} mm at "
            f"worst{studs}",
            do="closer fits, or locate it by spigot, register, or two pins drilled through a plate; state what was measured of the fits",
            standing="memory",
            source="0.10 mm is our own limit for saying so",
            figure=likely,
            limit=OFF_CENTRE_MM,
            unit="mm",
            effect="the band squeezes more on one side than on the other, and its edge hangs over bore or gasket",
        )
    ]


def _low_side(result: Result) -> list[Finding]:
    names = ("squish_min", "squish_min_off_centre", "eccentricity_worst")
    if wiring.plan(result.top.row.structure, names).missing:
        return []
    at = evaluate(result.top, names)
    centred, low, off = (at.shown(name) for name in names)
    if centred < LEAST_GAP_MM - _NOTHING or low >= LEAST_GAP_MM - _NOTHING:
        return []
    return [
        Finding(
            code="gap_small_off_centre",
            severity="warning",
            message=f"the least gap, {centred:.3f} mm with the head centred, is {low:.3f} mm on the low side with the head "
            f"{off:.3f} mm off, its worst: under {LEAST_GAP_MM} mm it may close to nearly nothing at speed",
            do="locate the head closer, or thicker gaskets",
            standing="common practice",
            figure=low,
            limit=LEAST_GAP_MM,
            unit="mm",
            effect="the crown knocks on one side of the head at speed",
        )
    ]


def _side_room(result: Result) -> list[Finding]:
    """Room beside a piston that enters the recess: less eccentricity, rocking and, where rises are stated, growth."""
    structure = result.top.row.structure
    if "head.recess:stated" not in structure.tags or wiring.plan(structure, ("face_gap", "deck_clearance")).missing:
        return []
    # into the recess, at its worst
    ends = ends_of(result.top, ("face_gap", "deck_clearance"))
    if ends["face_gap"][1] >= -_NOTHING * 1e-3:
        return []
    above = -from_si(ends["deck_clearance"][0], "mm")
    hot = not wiring.plan(structure, ("side_room_hot",)).missing
    name = "side_room_hot" if hot else "side_room"
    worst = _worst(result, name, "recess_clearance", "eccentricity_worst")
    if worst is None:
        return []
    room = worst[name]
    if room.low > _NOTHING:
        return []
    at = evaluate(result.top, [name, "recess_clearance", "eccentricity_worst"])
    half, off = at.shown("recess_clearance") / 2.0, at.shown("eccentricity_worst")
    rocking = from_si(ends_of(result.top, ("piston.rocking",))["piston.rocking"][0], "mm")
    sums = f"{half:.3f} mm beside it in the recess, less {off:.3f} off centre, less {rocking:.3f} rocking"
    if hot:
        sums += f", less {half - off - rocking - room.value:.3f} hot growth"
    gone = room.value <= _NOTHING
    left = (
        "so placed it touches"
        if gone
        else f"{room.value:.3f} mm is left, and {room.low:.3f} at the limits: that it does not touch is not proven"
    )
    return [
        Finding(
            code="touches_at_side" if gone else "may_touch_at_side",
            severity="warning",
            message=f"the piston stands {above:.3f} mm above the deck at TDC, with {sums}: {left}",
            do="a wider recess, a head located closer, or a thicker base gasket that brings the piston below the deck",
            standing="geometry",
            source="every link and size at its worst limit, all one way" + ("" if hot else "; cold, since no rises are stated"),
            figure=room.value if gone else room.low,
            limit=0.0,
            unit="mm",
            effect="the recess hammers the crown's edge: the ring groove closes over the top ring, which sticks, and the piston scuffs",
        )
    ]


def _spigot(result: Result) -> list[Finding]:
    """A spigot in the bore beside another thing that locates: both want to say where the head is."""
    location = result.top.location
    if location is None or location.kind == "spigot":
        return []
    worst = _worst(result, "spigot_gap_least", "eccentricity_worst")
    if worst is None:
        return []
    left, off, hot = worst["spigot_gap_least"].low, worst["eccentricity_worst"].high, ""
    if not wiring.plan(result.top.row.structure, (_GAP_HOT,)).missing:
        ends = ends_of(result.top, (_GAP_HOT, "eccentricity_worst_hot"))
        least = from_si(ends[_GAP_HOT][1], "mm")
        if least < left:
            left, off, hot = least, from_si(ends["eccentricity_worst_hot"][2], "mm"), ", hot"
    if left > _NOTHING:
        return []
    return [
        Finding(
            code="spigot_against_location",
            severity="warning",
            message=f"the head is located by {_by(location)} up to {off:.3f} mm off the bore's axis{hot}, and its spigot has no more "
            f"room than that: {left:.3f} mm are left between spigot and bore at worst{hot}",
            do="a spigot turned smaller, or let the spigot alone locate the head",
            standing="geometry",
            source="two things that locate over-constrain",
            figure=left,
            limit=0.0,
            unit="mm",
            effect="the spigot bears on one side of the bore: the head cannot be drawn down evenly, and the bore is pushed out of round",
        )
    ]


def _pins(result: Result) -> list[Finding]:
    location = result.top.location
    if not isinstance(location, PinLocation) or location.pin is None:
        return []
    found = []
    slotted = location.pin.standard != "solid"
    worst = _worst(result, "pin_interference")
    if slotted and worst is not None:
        found += _hole(result, location.pin, worst["pin_interference"])
    elif worst is not None:
        found += _held(result)
    hot = not wiring.plan(result.top.row.structure, ("pin_margin_hot",)).missing
    name = "pin_margin_hot" if hot else "pin_margin"
    margin = _worst(result, name)
    gives = SLOTTED_GIVE_MM if slotted else 0.0
    if margin is not None and margin[name].low < -gives - _NOTHING:
        lacks = -margin[name].low
        found.append(
            Finding(
                code="pins_over_constrain",
                severity="note" if slotted else "warning",
                message=f"the two pins lack up to {lacks:.3f} mm along the line through them{', hot' if hot else ''}: "
                + ("slotted pins bend by that" if slotted else "solid pins do not enter both parts")
                + ("" if location.slot_length is None else "; the slot is too short"),
                do="a hole made longer than wide for one of the pins (slot_length), closer bushes, or one drilling through both parts",
                standing="published",
                source="ASME Y14.5, fixed fasteners: clearances of both pins less the zones of position"
                + (f"; that slotted pins give by {SLOTTED_GIVE_MM:.2f} mm is from memory" if slotted else ""),
                figure=-lacks,
                limit=-gives,
                unit="mm",
                effect="the head hangs on its pins and does not lie flat until it is drawn down; pins and holes wear",
            )
        )
    return found


def _held(result: Result) -> list[Finding]:
    """A solid pin needs one hole that is tighter than it is thick."""
    worst = from_si(ends_of(result.top, ("location.pin_held",))["location.pin_held"][1], "mm")
    if worst >= -_NOTHING:
        return []
    return [
        Finding(
            code="pin_held_by_neither",
            severity="warning",
            message=f"a solid pin may have play in both parts, {-worst:.3f} mm in the tighter of its holes: nothing holds it",
            do="a hole tighter than the pin in one of the parts (a reamed H7 for an m6 pin), or slotted pins",
            standing="common practice",
            source="a solid pin is pressed into one part and slides in the other",
            figure=worst,
            limit=0.0,
            unit="mm",
            effect="the pin falls out when the head is lifted, into the bore or the case, and the head is located no better than its play",
        )
    ]


def _hole(result: Result, pin: LocatingPin, interference: Extremes) -> list[Finding]:
    if interference.low <= _NOTHING:
        return [
            Finding(
                code="pin_loose",
                severity="warning",
                message=f"a hole may be as wide as the pin before it is driven in, or wider ({-interference.low:.3f} mm): it has play",
                do="a smaller drill, or a larger pin",
                standing="geometry",
                source=STANDING,
                figure=interference.low,
                limit=0.0,
                unit="mm",
                effect="the pin falls out when the head is lifted, into the bore or the case, and locates nothing",
            )
        ]
    over = HOLE_LIMITS.get(round(pin.diameter.m_as("mm"), 6))
    if over is None:
        return []
    ends = ends_of(result.top, ("location.pin_holes.tightest", "location.pin_holes.widest"))
    low, high = ends["location.pin_holes.tightest"][1], ends["location.pin_holes.widest"][2]
    nominal = pin.diameter.si
    figure, limit = (low, nominal) if low < nominal - _NOTHING * 1e-3 else (high, nominal + over)
    if nominal - _NOTHING * 1e-3 <= figure <= limit + _NOTHING * 1e-3:
        return []
    shown, least, most = (from_si(one, "mm") for one in (figure, nominal, nominal + over))
    tight = figure < nominal
    return [
        Finding(
            code="pin_hole_off",
            severity="note",
            message=f"a hole may be {shown:.3f} mm, where {pin.standard} has {least:.2f} to {most:.2f} mm for this pin",
            do="a reamer of the nominal size" if tight else "a drill that cuts less over, or a reamer of the nominal size",
            standing="published",
            source=f"{pin.standard}; {STANDING}",
            figure=shown,
            limit=least if tight else most,
            unit="mm",
            effect="the pin has to be forced, and tears the edge of the hole up" if tight else "the pin holds less than its standard says",
        )
    ]
