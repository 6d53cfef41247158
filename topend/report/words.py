"""Parts and signs in words: "1.65 mm below deck", "drops in 1.0 mm". A bare sign is never left for people to guess."""

from __future__ import annotations

from topend.assembly import TopEnd
from topend.parts import (
    ConeCrown,
    Crank,
    Cylinder,
    DeckReading,
    DishCrown,
    FlatCrown,
    Gasket,
    Head,
    Location,
    MeasuredCrown,
    Part,
    PinLocation,
    Piston,
    PistonRing,
    SphereCrown,
    SpigotHead,
    StudSet,
)
from topend.parts.piston import Crown
from topend.units import Limits, StatedQuantity

__all__ = [
    "crank_words",
    "crown_words",
    "cylinder_words",
    "deck_words",
    "gasket_name",
    "head_words",
    "location_words",
    "offset_words",
    "part_rows",
    "piston_words",
    "ring_words",
    "seal_words",
    "signed",
    "stud_words",
]


def size(value: StatedQuantity) -> str:
    """As stated, without its sign.

    >>> from topend.parts import SpigotHead
    >>> size(SpigotHead(recess_offset="-1.0 mm +0.02/-0.05 mm").recess_offset)
    '1.0 mm +0.05/-0.02 mm'
    """
    if float(value._magnitude) >= 0.0:
        return value.text
    limits = value.stated_limits
    turned = None if limits is None else Limits(-limits.high, -limits.low)
    return StatedQuantity._state(-float(value._magnitude), value.stated_unit, turned, value.decimals).text


def signed(value: StatedQuantity, *, positive: str, negative: str, zero: str) -> str:
    """A stated value in words by its sign; ``{}`` in them stands for its size.

    >>> from topend.parts import DeckReading
    >>> signed(DeckReading(clearance="-0.30 mm").clearance, positive="{} below deck", negative="{} above the deck", zero="level")
    '0.30 mm above the deck'
    """
    number = float(value._magnitude)
    words = positive if number > 0.0 else negative if number < 0.0 else zero
    # a zero with limits may lie on either side
    if number == 0.0 and value.stated_limits is not None:
        return f"{words} ({value.text})"
    return words.format(size(value))


def offset_words(value: StatedQuantity) -> str:
    """Where the band's outer edge lies against the head's gasket face.

    >>> from topend.parts import SpigotHead
    >>> offset_words(SpigotHead(recess_offset="-1.0 mm").recess_offset)
    'drops in 1.0 mm'
    """
    return signed(value, positive="recessed {}", negative="drops in {}", zero="flush")


def displaced(value: StatedQuantity) -> str:
    """A cylinder or pin offset: toward which side."""
    side = "the side of the crankpin on the downstroke"
    return signed(value, positive=f"{{}} toward {side}", negative=f"{{}} away from {side}", zero="none")


def slope(value: StatedQuantity) -> str:
    """A band or crown angle: which way it goes toward the centre."""
    return signed(value, positive="rises {} toward the centre", negative="falls {} toward the centre", zero="flat (0 deg)")


def crown_words(crown: Crown | None) -> str:
    """The crown's shape in words.

    >>> crown_words(SphereCrown(rise="2.2 mm"))
    'sphere cap, domed 2.2 mm'
    """
    if crown is None:
        return "crown not given: unknown, not taken as flat"
    if isinstance(crown, FlatCrown):
        return "flat crown"
    if isinstance(crown, DishCrown):
        return f"dish {crown.depth.text} deep, {crown.diameter.text} across"
    if isinstance(crown, MeasuredCrown):
        volume = signed(crown.volume, positive="{} above its edge", negative="{} hollow below its edge", zero="no volume above its edge")
        edge = "slope at its edge not given" if crown.edge_slope is None else f"{slope(crown.edge_slope)} at its edge"
        return f"crown measured: {volume}; {edge}"
    assert isinstance(crown, ConeCrown | SphereCrown)
    name = "sphere cap" if isinstance(crown, SphereCrown) else "cone"
    return f"{name}, " + signed(crown.rise, positive="domed {}", negative="hollow {}", zero="flat")


def crank_words(crank: Crank) -> str:
    """A crank in words.

    >>> crank_words(Crank(stroke="39.3 mm", rod_length="85 mm"))
    'stroke 39.3 mm; rod 85 mm'
    """
    told = [f"stroke {crank.stroke.text}", f"rod {crank.rod_length.text}" if crank.rod_length is not None else "rod not given"]
    if crank.offset.si != 0.0 or crank.offset.stated_limits is not None:
        told.append(f"offset {displaced(crank.offset)}")
    if crank.seat_height is not None:
        told.append(f"seat height {crank.seat_height.text}")
    return "; ".join(told)


def piston_words(piston: Piston) -> str:
    """A piston in words."""
    parts = [crown_words(piston.crown)]
    if piston.diameter is not None:
        parts.append(f"diameter {piston.diameter.text}")
    if piston.compression_height is not None:
        parts.append(f"compression height {piston.compression_height.text}")
    if float(piston.pin_offset._magnitude) != 0.0 or piston.pin_offset.stated_limits is not None:
        parts.append(f"pin offset {displaced(piston.pin_offset)}")
    if piston.top_land is not None:
        parts.append(f"top land {piston.top_land.text}")
    return "; ".join(parts)


def cylinder_words(cylinder: Cylinder) -> str:
    """A cylinder and its ports in words."""
    parts = [f"bore {cylinder.bore.text}" if cylinder.bore is not None else "bore not given"]
    if cylinder.height is not None:
        parts.append(f"height {cylinder.height.text}")
    parts += [f"{port.kind} port top {port.top.text} below deck" for port in cylinder.ports]
    return "; ".join(parts)


def head_words(head: Head) -> str:
    """A head in words, without its band."""
    if isinstance(head, SpigotHead):
        parts = ["spigot head, " + ("offset not given" if head.recess_offset is None else offset_words(head.recess_offset))]
        if head.spigot_diameter is not None:
            parts.append(f"spigot diameter {head.spigot_diameter.text}")
    else:
        offset = offset_words(head.recess_offset)
        parts = ["flush head" if offset == "flush" else f"head with its band {offset}"]
        if head.recess_diameter is not None:
            parts.append(f"recess diameter {head.recess_diameter.text}")
    if head.chamber_volume is None:
        parts.append("chamber volume not given")
    else:
        datum = "" if isinstance(head, SpigotHead) or head.volume_datum == "band" else ", from the gasket face"
        parts.append(f"chamber {head.chamber_volume.text} {head.volume_basis}{datum}")
    seals = {"gasket": "a gasket", "o-ring": "an O-ring", "both": "gasket and O-ring"}
    parts.append(f"seals by {seals[head.seal]}")
    return "; ".join(parts)


def band_words(head: Head) -> str:
    """The squish band of a head in words."""
    band = head.band
    if band is None:
        return "not given"
    outer = "outer diameter not given" if band.outer_diameter is None else f"{band.outer_diameter.text} across outside"
    inner = "inner diameter not given" if band.inner_diameter is None else f"{band.inner_diameter.text} inside"
    angle = "angle not given" if band.angle is None else slope(band.angle)
    return f"{outer}; {inner}; {angle}"


def deck_words(deck: DeckReading) -> str:
    """A deck reading in words: what was read, where, and over what."""
    read = signed(deck.clearance, positive="{} below deck", negative="{} above the deck", zero="level with the deck")
    where = f"the crown's {deck.at}" if isinstance(deck.at, str) else f"radius {deck.at.text}"
    under = "base gaskets not stated" if deck.base_thickness is None else f"{deck.base_thickness.text} of base gaskets"
    others = [part for part in ("crank", "piston", "cylinder") if getattr(deck, part) is not None]
    with_others = f", with another {' and '.join(others)}" if others else ""
    return f"read {read} at {where}, over {under}{with_others}"


def gasket_name(gasket: Gasket) -> str:
    """What to call a gasket: its name, else its material, else that it is one."""
    return gasket.name or (f"{gasket.material} gasket" if gasket.material else "gasket")


def part_name(part: Part | None) -> str:
    """The name in front of a part's words, where it has one."""
    return f"{part.name}: " if part is not None and part.name else ""


def location_words(location: Location) -> str:
    """What locates the head, in words.

    >>> from topend.parts import StudLocation
    >>> location_words(StudLocation())
    'the studs alone'
    """
    if not isinstance(location, PinLocation):
        return {"spigot": "its spigot in the bore", "register": "its register in the cylinder's"}.get(location.kind, "the studs alone")
    told = ["two pins" if location.pin is None else f"two pins of {location.pin.diameter.text}, {location.pin.standard}"]
    if location.fixture is not None:
        faces = "one of its faces" if location.fixture.lips == "one" else "both its faces"
        told.append(f"drilled through a plate with a lip on {faces}")
    if location.slot_length is not None:
        told.append("one of them in a slot")
    return "; ".join(told)


def stud_words(studs: StudSet) -> str:
    """Studs in words: thread, strength, torque and what is on them, and what they stand in.

    >>> from topend.parts import StudSet
    >>> stud_words(StudSet(thread_diameter="8 mm", root="case", torque="20 N·m", lubrication="oiled"))
    'thread 8 mm; torque 20 N·m, oiled; they stand in the case'
    """
    told = [f"thread {studs.thread_diameter.text}" + (f", pitch {studs.pitch.text}" if studs.pitch is not None else "")]
    if studs.property_class is not None:
        told.append(f"property class {studs.property_class}")
    oil = "" if studs.lubrication is None else f", {'with paste' if studs.lubrication == 'paste' else studs.lubrication}"
    told.append("torque not given" if studs.torque is None else f"torque {studs.torque.text}{oil}")
    return "; ".join([*told, f"they stand in the {studs.root}"])


def ring_words(rings: tuple[PistonRing, ...]) -> str:
    """Piston rings in words, the top one first."""
    told = []
    for ring in rings:
        gap = "gap not given" if ring.gap is None else f"gap {ring.gap.text}"
        told.append(part_name(ring) + gap + ("" if ring.angle is None else f", peg at {ring.angle.text}"))
    return "; ".join(told)


def seal_words(head: Head) -> str:
    """An O-ring and its groove in words."""
    ring, groove = head.o_ring, head.groove
    told = [
        "not given"
        if ring is None
        else f"{ring.inner_diameter.text} x {ring.section.text}" + (f" {ring.material}" if ring.material else "")
    ]
    if groove is None:
        return "; ".join([*told, "groove not given"])
    size = "" if groove.depth is None else f" {groove.depth.text} deep"
    return "; ".join([*told, f"groove in the {'face' if groove.seals == 'face' else 'spigot'}{size}, pressure from {groove.pressure}"])


def part_rows(top: TopEnd) -> list[tuple[str, str]]:
    """Each part of a top end with what was stated of it."""
    rows = []
    if top.crank is not None:
        rows.append(("crank", part_name(top.crank) + crank_words(top.crank)))
    if top.cylinder is not None:
        rows.append(("cylinder", part_name(top.cylinder) + cylinder_words(top.cylinder)))
    if top.piston is not None:
        rows.append(("piston", part_name(top.piston) + piston_words(top.piston)))
        if top.piston.rings:
            rows.append(("rings", ring_words(top.piston.rings)))
    if top.head is not None:
        rows.append(("head", part_name(top.head) + head_words(top.head)))
        rows.append(("squish band", part_name(top.head.band) + band_words(top.head)))
        if top.head.o_ring is not None or top.head.groove is not None:
            rows.append(("O-ring", part_name(top.head.o_ring) + seal_words(top.head)))
    if top.studs is not None:
        rows.append(("studs", part_name(top.studs) + stud_words(top.studs)))
    if top.deck is not None:
        rows.append(("deck", part_name(top.deck) + deck_words(top.deck)))
    if top.assembled is not None:
        base, head = top.assembled.base_thickness, top.assembled.head_thickness
        told = [f"{top.assembled.volume.text} read through the plug hole at TDC"]
        told.append(f"over {base.text} of base gaskets" if base is not None else "over the base stack now fitted")
        told.append(f"{head.text} of head gaskets" if head is not None else "the head gaskets now fitted")
        rows.append(("assembled", part_name(top.assembled) + ", ".join(told)))
    if top.location is not None:
        rows.append(("located by", part_name(top.location) + location_words(top.location)))
    if top.running is not None:
        told = [top.running.crank_speed.text, *(one for one in (top.running.fuel, top.running.use) if one is not None)]
        rows.append(("running", part_name(top.running) + ", ".join(told)))
    return rows or [("nothing", "no part is given")]
