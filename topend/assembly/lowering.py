"""Parts to a row: every stated value by its path, tags for what they are, and what is assumed on the way."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from topend.assembly.row import Row
from topend.assembly.stacks import READ_WITH, STACKS, identity_field, stack_thickness
from topend.extra_outputs import nodes_of
from topend.parts import Head, Location, ORing, Part, PinLocation, Piston, SpigotHead
from topend.physics import sealing
from topend.physics.wiring import Structure
from topend.quantities import ExtraOutput
from topend.units import Limits, StatedQuantity

if TYPE_CHECKING:
    from topend.assembly.top_end import TopEnd

__all__ = ["lower", "lower_stated", "tag_head"]

#: An engraved chamber volume without limits of its own (docs/sources.md).
ENGRAVED_LIMITS: Final = 0.3e-6
#: Fields that say how a part grows, and what it grows into.
_GROWTH: Final = ("material", "expansion", "skirt_diameter", "clearance", "rings")
#: Fields that say which edge of a piston opens a port.
_SKIRT: Final = ("rocking", "skirt_top", "edge_chamfer", "timing_edge", "skirt_length", "inlet_skirt_length")
#: Fields of a cylinder that other parts have to fit.
_CYLINDER_FITS: Final = (
    *("studs", "register_diameter", "skirt_diameter", "window_diameter", "pin_height", "pin_diameter"),
    *("deck_diameter", "coolant_diameter", "base_diameter", "base_studs", "cutouts", "bore_wear", "edges"),
    *("deck_notches", "base_notches"),
)


def lower(top: TopEnd, extra: tuple[ExtraOutput, ...] = ()) -> Row:
    """The row of a top end, with nodes for the outputs that packs add; whether its parts go together is not asked."""
    values: dict[str, float] = {"piston.pin_offset": 0.0, "crank.offset": 0.0}
    limits: dict[str, Limits] = {}
    resolutions: dict[str, float] = {}
    noted: dict[str, str] = {}
    lower_stated("", top, values, limits, resolutions)
    tags = {f"crevice:{top.crevice}"}
    _tag_crown(tags, "piston", top.piston)
    for name in ("cylinder", "piston", "head"):
        metal = getattr(getattr(top, name), "material", None)
        if metal is not None:
            tags.add(f"{name}.material:{metal}")
    if top.burn is not None:
        tags.add("burn:stated")
    if top.charge is not None and top.charge.fuel is not None:
        tags.add(f"charge.fuel:{top.charge.fuel}")
    if top.losses is not None and top.losses.relation is not None:
        tags.add(f"losses.relation:{top.losses.relation}")
    if top.piston is not None and top.piston.timing_edge == "ring":
        tags.add("piston.timing_edge:ring")
    if top.piston is not None and top.piston.rings:
        tags.add(f"piston.rings:{len(top.piston.rings)}")
        tags.update(f"piston.rings.{index}.material:{ring.material}" for index, ring in enumerate(top.piston.rings) if ring.material)
    head = top.head
    if head is not None:
        tag_head(tags, head, values, limits, noted)
    head_gaskets = top.head_gaskets
    if head_gaskets is None and head is not None and head.seal == "o-ring":
        head_gaskets = ()
    for stack, gaskets in (("base_gaskets", top.base_gaskets), ("head_gaskets", head_gaskets)):
        if gaskets is not None:
            tags.add(f"{stack}:{len(gaskets)}")
            tags.update(f"{stack}.{index}:{gasket.crush_class}" for index, gasket in enumerate(gaskets))
            tags.update(f"{stack}.{index}.material:{gasket.material}" for index, gasket in enumerate(gaskets) if gasket.material)
            tags.update(f"{stack}.{index}.studs:{gasket.studs.count}" for index, gasket in enumerate(gaskets) if gasket.studs)
    if top.cylinder is not None:
        tags.update(f"cylinder.ports.{index}:{port.kind}" for index, port in enumerate(top.cylinder.ports))
        for index, port in enumerate(top.cylinder.ports):
            at = f"cylinder.ports.{index}"
            said = (
                (port.width_along == "arc", "width:arc"),
                (bool(port.auxiliary), "auxiliary:yes"),
                ((port.count or 1) > 1, f"count:{port.count}"),
            )
            tags.update(f"{at}.{tag}" for applies, tag in said if applies)
    if top.cylinder is not None and top.cylinder.studs is not None:
        tags.add(f"cylinder.studs:{top.cylinder.studs.count}")
    if top.cylinder is not None and top.cylinder.base_studs is not None:
        tags.add(f"cylinder.base_studs:{top.cylinder.base_studs.count}")
    if top.studs is not None:
        said_of = (
            ("root", top.studs.root),
            ("property_class", top.studs.property_class),
            ("lubrication", top.studs.lubrication),
            ("frictions", top.studs.frictions),
        )
        tags.update(f"studs.{what}:{which}" for what, which in said_of if which is not None)
    if top.location is not None:
        _tag_location(tags, top.location, values, limits, noted)
    if top.deck is not None:
        _tag_deck(tags, top, values)
    for path in READ_WITH:
        _tag_stack(tags, top, path, limits, noted)
    return Row(Structure(frozenset(values), frozenset(tags), nodes_of(extra)), values, limits, resolutions, noted)


def lower_stated(prefix: str, part: Part, values: dict[str, float], limits: dict[str, Limits], resolutions: dict[str, float]) -> None:
    """Put what is stated of `part` where it belongs, under its path after `prefix`."""
    for path, quantity in part.stated():
        path = prefix + path
        values[path] = quantity.si
        ends, resolution = quantity.si_limits, quantity.si_resolution
        if ends is not None:
            limits[path] = ends
        elif resolution is not None and quantity.si != 0.0:
            resolutions[path] = resolution


def tag_head(tags: set[str], head: Head, values: dict[str, float], limits: dict[str, Limits], noted: dict[str, str]) -> None:
    """What a row says of its head beyond the figures, and the limits that are assumed of it."""
    tags.add(f"head:{head.kind}")
    if not isinstance(head, SpigotHead):
        tags.add(f"head.volume_datum:{head.volume_datum}")
        if head.recess_diameter is not None:
            tags.add("head.recess:stated")
    tags.add(f"head.seal:{head.seal}")
    if head.groove is not None:
        tags |= {f"head.groove:{head.groove.seals}", f"head.groove.pressure:{head.groove.pressure}"}
    if head.o_ring is not None:
        _tag_o_ring(tags, head.o_ring, values, limits, noted)
    if head.profile is not None:
        tags |= head.profile.tags()
    if head.volume_basis == "engraved" and head.chamber_volume is not None and head.chamber_volume.stated_limits is None:
        value = values["head.chamber_volume"]
        limits["head.chamber_volume"] = Limits(value - ENGRAVED_LIMITS, value + ENGRAVED_LIMITS)
        noted["head.chamber_volume"] = "chamber volume engraved, not measured: ± 0.3 cc"
    if head.profile is not None and head.chamber_volume is not None:
        tags.add(f"head.chamber_slack:{_slack(head.chamber_volume, limits.get('head.chamber_volume'))!r}")


def _tag_o_ring(tags: set[str], ring: ORing, values: dict[str, float], limits: dict[str, Limits], noted: dict[str, str]) -> None:
    if ring.material is not None:
        tags.add(f"head.o_ring.material:{ring.material}")
    for name, half in (
        ("inner_diameter", sealing.iso_inner_tolerance(ring_diameter=values["head.o_ring.inner_diameter"])),
        ("section", sealing.iso_section_tolerance(section=values["head.o_ring.section"])),
    ):
        path, width = f"head.o_ring.{name}", float(half)
        if path not in limits and np.isfinite(width):
            limits[path] = Limits(values[path] - width, values[path] + width)
            noted[path] = "size of an O-ring without limits: those of ISO 3601-1, class B (from memory)"


def _slack(volume: StatedQuantity, ends: Limits | None) -> float:
    """How far a chamber volume may lie from its half-section's: to its limits, else half of its last written decimal."""
    if ends is not None:
        return max(ends.high - volume.si, volume.si - ends.low)
    return volume.si_resolution or 1e-9 * volume.si


def _tag_location(tags: set[str], location: Location, values: dict[str, float], limits: dict[str, Limits], noted: dict[str, str]) -> None:
    tags.add(f"location:{location.kind}")
    if not isinstance(location, PinLocation):
        return
    if location.fixture is not None:
        tags.add(f"location.fixture:{location.fixture.lips}")
    pin = location.pin
    if pin is not None and pin.free_diameter is None:
        ends, path = pin.free, "location.pin.free_diameter"
        # of a solid pin its own size, in the middle of its limits as everywhere
        values[path] = (ends.low + ends.high) / 2.0 if pin.standard != "solid" else pin.diameter.si
        limits[path] = ends
        noted[path] = f"diameter before it is driven in by {pin.standard}" if pin.standard != "solid" else "a solid pin: as its diameter"


def _tag_stack(tags: set[str], top: TopEnd, path: str, limits: dict[str, Limits], noted: dict[str, str]) -> None:
    """Whether the gaskets under a reading are those now fitted: as it is said, else by whether both are stated alike."""
    reading, _, thickness = path.partition(".")
    part, identity = getattr(top, reading), identity_field(path)
    if part is None:
        return
    said, then = getattr(part, identity), getattr(part, thickness)
    gaskets = getattr(top, STACKS[READ_WITH[path]][0])
    if said is None and then is not None and gaskets and all(gasket.fitted_thickness is not None for gasket in gaskets):
        now = stack_thickness(gaskets)
        assert now is not None
        if _as_far(then, now):
            said = "alike"
            if then.si_limits is not None:
                noted[path] = (
                    f'stated as those now fitted are: taken as the same gaskets, whose limits cancel; of others say {identity} = "other"'
                )
    if said is not None:
        tags.add(f"{reading}.{identity}:{said}")


def _as_far(one: StatedQuantity, other: StatedQuantity) -> bool:
    """Whether both are stated with the same value and the same limits, to the rounding of their sums."""
    ends = [known.si_limits or Limits(known.si, known.si) for known in (one, other)]
    pairs = ((one.si, other.si), (ends[0].low, ends[1].low), (ends[0].high, ends[1].high))
    return all(abs(first - second) < 1e-12 for first, second in pairs)


def _tag_crown(tags: set[str], path: str, piston: Piston | None) -> None:
    if piston is not None and piston.crown is not None:
        tags.add(f"{path}.crown:{piston.crown.shape}")


def _tag_deck(tags: set[str], top: TopEnd, values: dict[str, float]) -> None:
    deck = top.deck
    assert deck is not None
    tags.add(f"deck.at:{deck.at if isinstance(deck.at, str) else 'radius'}")
    for part in ("crank", "piston", "cylinder"):
        if getattr(deck, part) is not None:
            tags.add(f"deck.{part}:named")
    _tag_crown(tags, "deck.piston", deck.piston)
    # Heights that nobody stated: the seat belongs to the case, which stays; a piston or cylinder that differs only in
    # what does not move the deck is taken as equal there, and that is listed. Otherwise the path is asked for.
    if deck.crank is not None and not {"crank.seat_height", "deck.crank.seat_height"} & set(values):
        tags.add("same:crank.seat_height")
    if deck.crank is not None and not {"crank.rod_length", "deck.crank.rod_length"} & set(values):
        tags.add("same:crank.rod_length")
    for part, path, beside in (
        (
            "piston",
            "piston.compression_height",
            ("crown", "diameter", "top_land", "pin_diameter", "assembly_mass", "edges", *_SKIRT, *_GROWTH),
        ),
        ("cylinder", "cylinder.height", ("bore", "ports", "cooling", "bore_chamfer", *_CYLINDER_FITS, *_GROWTH)),
    ):
        then, now = getattr(deck, part), getattr(top, part)
        if then is None or {path, f"deck.{path}"} & set(values):
            continue
        if now is None or _alike(then, now, beside):
            tags.update((f"same:{path}", f"unsaid:{path}"))


def _alike(one: Part, other: Part, beside: tuple[str, ...]) -> bool:
    skip = {*beside, "source", "basis"}
    return all(getattr(one, name) == getattr(other, name) for name in type(one).model_fields if name not in skip)
