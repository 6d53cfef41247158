"""How the head is located: the links that put its axis off the bore's, their sums, and what follows for gaps and side room."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics import location, sealing, squish, thermal
from topend.physics.wiring.geometry import crown_inputs
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node
from topend.physics.wiring.operations import added, difference, greatest, half, least, magnitude, same, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column


@dataclass(frozen=True, slots=True)
class Acts:
    """How errors of radius r at a link move the head: factors of r in the worst case, of the mean squares and of the fourth cumulant."""

    worst: float
    along: float
    across: float
    excess: float


#: One disc; a disc at each of two pin holes, with two round pins or with a slot; both holes of a plate that mirrors.
DISC: Final = Acts(1.0, 1.0, 1.0, 1.0)
PAIR: Final = Acts(1.0, 0.5, 0.5, 0.125)
SLOT: Final = Acts(float(location.SLOT_WORST), 1.0, 0.5, 31.0 / 64.0)
MIRROR: Final = Acts(2.0, 2.0, 0.0, 0.75)


def studs(count: int) -> Acts:
    """A disc at each of `count` studs, of which the head takes the middle; in the worst case all lie one way.

    >>> studs(4).along
    0.25
    """
    return Acts(1.0, 1.0 / count, 1.0 / count, 1.0 / count**3)


@dataclass(frozen=True, slots=True)
class Link:
    """One link of a location: the quantity of its radius, how it acts, and what it is in words."""

    name: str
    acts: Acts
    meaning: str


_HEAD_AXIS: Final = ("location.head_axis", "band and bowl against what locates the head")


def links(structure: Structure) -> tuple[Link, ...]:
    """The links by which the head is located, by the kind of its location; none where that is not given.

    >>> [link.name for link in links(Structure(frozenset(), frozenset({"location:spigot"})))]
    ['location.spigot_in_bore', 'location.head_axis']
    """
    kind = structure.choice("location")
    own = Link(_HEAD_AXIS[0], DISC, _HEAD_AXIS[1])
    if kind == "spigot":
        return Link("location.spigot_in_bore", DISC, "spigot in the bore"), own
    if kind == "register":
        return (
            Link("location.register_play", DISC, "head's register in the cylinder's"),
            Link("location.cylinder_axis", DISC, "cylinder's register against the bore"),
            own,
        )
    if kind == "studs":
        count = studs(int(structure.choice("cylinder.studs") or 4))
        return (
            Link("location.stud_play", DISC, "studs in the head's holes"),
            Link("location.studs_off", count, "studs off their places"),
            Link("location.stud_holes_off", count, "stud holes off their places"),
            own,
        )
    if kind != "pins":
        return ()
    pair = SLOT if "location.slot_length" in structure.given else PAIR
    pins = [Link(f"location.pin_in_{part}", pair, f"pins in the {part}'s holes") for part in ("cylinder", "head")]
    if structure.choice("location.fixture") is None:
        holes = [Link(f"location.{part}_holes_off", pair, f"{part}'s pin holes off their places") for part in ("cylinder", "head")]
        return (*holes, *pins, own)
    if structure.choice("location.fixture") == "one":
        plate = Link("location.plate_holes_off", MIRROR, "holes of the plate off their places, mirrored on the head")
    else:
        plate = Link("location.lips_apart", DISC, "the plate's two lips against each other")
    drilled = [Link(f"location.drill_in_{part}", pair, f"drill in its bush, on the {part}") for part in ("cylinder", "head")]
    return (
        Link("location.lip_in_bore", DISC, "the plate's lip in the bore"),
        Link("location.lip_on_head", DISC, "the plate's lip in, or ring around, the head"),
        plate,
        *drilled,
        *pins,
        own,
    )


#: Links whose play changes with heat: the hole and what is in it, each with the part it grows with.
_PLAYS: Final[dict[str, dict[str, tuple[str, str]]]] = {
    "location.spigot_in_bore": {"hole": ("cylinder.bore", "cylinder"), "shaft": ("head.spigot_diameter", "head")},
    "location.register_play": {"hole": ("cylinder.register_diameter", "cylinder"), "shaft": ("head.register_diameter", "head")},
    "location.stud_play": {"hole": ("head.studs.diameter", "head"), "shaft": ("cylinder.studs.diameter", "studs")},
}


def hot_links(structure: Structure) -> tuple[Link, ...]:
    """The links hot: plays of spigot, register and studs as they have grown.

    Errors of place and the plays that a plate was used with stay as they were; so do those of pins in their holes, which are too small for
    heat to matter.

    >>> [link.name for link in hot_links(Structure(frozenset(), frozenset({"location:spigot"})))]
    ['location.spigot_in_bore@hot', 'location.head_axis']
    """
    return tuple(Link(f"{link.name}@hot", link.acts, link.meaning) if link.name in _PLAYS else link for link in links(structure))


def _hot_nodes(structure: Structure) -> list[Node]:
    """Plays of fits as they have grown, and what they come to."""
    chain = hot_links(structure)
    if not chain:
        return [node(name, same, value="location") for name in ("eccentricity_worst_hot", "eccentricity_likely_hot", "location.off_hot")]
    nodes = []
    for name, fit in _PLAYS.items():
        for path, part in fit.values():
            rise = f"running.{part.removesuffix('s')}_rise"
            nodes.append(node(f"{path}@hot", sealing.grown, length=path, expansion=f"{part}.expansion", rise=rise))
        nodes.append(node(f"{name}@hot", location.play, **{side: f"{path}@hot" for side, (path, _) in fit.items()}))
    if structure.choice("location") == "pins":
        # two round pins grow apart to either side alike; beside a slot the one pin holds the head along their line, and its axis moves by
        # half of what their distance grows apart: the same in every assembly, so that it adds to what is likely as to what is worst
        moves = 0.5 if "location.slot_length" in structure.given else 0.0
        nodes += [
            many(f"{name}_hot", _weighted([1.0, moves]), (name, "location.pins_grown"))
            for name in ("eccentricity_worst", "eccentricity_likely")
        ]
    else:
        nodes += _chain_nodes(chain, "_hot")
    return [
        *nodes,
        node("location.off_hot", same, value="eccentricity_worst_hot"),
        node(
            "location.off_hot",
            same,
            Assumption("growth of what locates the head not known: off centre as cold"),
            value="eccentricity_worst",
        ),
        node("location.spigot_gap_hot", difference, now="location.spigot_play_hot", then="eccentricity_worst_hot"),
    ]


def _fixed(name: str, why: str, low: float, value: float, high: float) -> Node:
    made = np.array([value])
    return node(name, lambda: made, Assumption(f"{why}, from memory", between(low, high)))


def _weighted(factors: Sequence[float]) -> Callable[..., Column]:
    """Sum of columns, each by its factor."""

    def total(*values: Column) -> Column:
        return added(*[value if factor == 1.0 else value * factor for value, factor in zip(values, factors, strict=True)])

    return total


#: What is taken where nobody stated it; all wide, all from memory.
_DEFAULTS: Final = (
    _fixed("location.head_coaxiality", "turned in one setting with what locates it: 0.01 mm, 0 to 0.02 mm", 0.0, 1e-5, 2e-5),
    _fixed("location.cylinder_coaxiality", "register and bore not measured against each other: 0.02 mm, 0 to 0.04 mm", 0.0, 2e-5, 4e-5),
    _fixed("location.stud_position", "studs not measured: off by 0.2 mm, 0 to 0.4 mm", 0.0, 2e-4, 4e-4),
    _fixed("location.hole_position", "stud holes not measured: off by 0.1 mm, 0 to 0.2 mm", 0.0, 1e-4, 2e-4),
    _fixed("location.fixture.hole_position", "the plate's holes not measured: off by 0.03 mm, 0 to 0.06 mm", 0.0, 3e-5, 6e-5),
    _fixed("location.fixture.lip_coaxiality", "the plate's lips not measured: 0.01 mm, 0 to 0.02 mm", 0.0, 1e-5, 2e-5),
    _fixed("piston.rocking", "rocking not measured: 0.06 mm, 0.02 to 0.12 mm", 2e-5, 6e-5, 1.2e-4),
)


def _link_nodes(structure: Structure) -> list[Node]:
    """The radius of every link, whichever of them the location has."""
    holes = {"cylinder": "location.pin_hole_diameter", "head": "location.head_pin_hole_diameter"}
    drill = {"hole": "location.fixture.bush_diameter", "shaft": "location.fixture.drill_diameter"}
    nodes = [
        node("location.spigot_in_bore", location.play, hole="cylinder.bore", shaft="head.spigot_diameter"),
        node("location.register_play", location.play, hole="cylinder.register_diameter", shaft="head.register_diameter"),
        node("location.stud_play", location.play, hole="head.studs.diameter", shaft="cylinder.studs.diameter"),
        node("location.lip_in_bore", location.play, hole="cylinder.bore", shaft="location.fixture.lip_diameter"),
        *(node(f"location.drill_in_{part}", location.play, **drill) for part in ("cylinder", "head")),
        node("location.head_pin_hole_diameter", same, value="location.pin_hole_diameter"),
        *(node(f"location.pin_in_{part}", location.play, hole=hole, shaft="location.pin.free_diameter") for part, hole in holes.items()),
        # zones of position and coaxiality are diameters
        node("location.head_axis", half, value="location.head_coaxiality"),
        node("location.cylinder_axis", half, value="location.cylinder_coaxiality"),
        node("location.studs_off", half, value="location.stud_position"),
        node("location.stud_holes_off", half, value="location.hole_position"),
        node("location.cylinder_holes_off", half, value="location.cylinder_pin_position"),
        node("location.head_holes_off", half, value="location.head_pin_position"),
        node("location.plate_holes_off", half, value="location.fixture.hole_position"),
        node("location.lips_apart", half, value="location.fixture.lip_coaxiality"),
    ]
    if structure.choice("location.fixture") is None:
        return nodes
    over = Assumption("hole not measured: as the drill, which may cut 0.05 mm over, from memory", lambda value, **_: (value, value + 5e-5))
    lip = Assumption("lip for the head not given: as the lip for the bore")
    nodes += [
        node("location.pin_distance", same, value="location.fixture.pin_distance"),
        node("location.pin_hole_diameter", same, over, value="location.fixture.drill_diameter"),
        node("location.fixture.head_lip_diameter", same, lip, value="location.fixture.lip_diameter"),
    ]
    if "location.fixture.head_ring_diameter" in structure.given:
        nodes.append(node("location.lip_on_head", location.play, hole="location.fixture.head_ring_diameter", shaft="head.spigot_diameter"))
    else:
        nodes.append(node("location.lip_on_head", location.play, hole="head.recess_diameter", shaft="location.fixture.head_lip_diameter"))
    return nodes


def _chain_nodes(chain: tuple[Link, ...], when: str = "") -> list[Node]:
    """Eccentricity of the links together, cold or hot."""
    nodes = []
    for link in chain:
        nodes.append(node(f"{link.name}.square", location.disc_square, radius=link.name))
        nodes.append(node(f"{link.name}.excess", location.disc_excess, radius=link.name))
    radii, squares, excesses = ([f"{link.name}{what}" for link in chain] for what in ("", ".square", ".excess"))
    sums = {way: f"location.{way}{when}" for way in ("along", "across", "excess")}
    return [
        *nodes,
        many(f"eccentricity_worst{when}", _weighted([link.acts.worst for link in chain]), radii),
        many(sums["along"], _weighted([link.acts.along for link in chain]), squares),
        many(sums["across"], _weighted([link.acts.across for link in chain]), squares),
        many(sums["excess"], _weighted([link.acts.excess for link in chain]), excesses),
        node(f"eccentricity_likely{when}", location.likely_eccentricity, **sums),
    ]


def _sum_nodes(structure: Structure) -> list[Node]:
    """The links together, and how far the head may be turned."""
    chain = links(structure)
    if not chain:
        # the part that is missing
        lacking = ("eccentricity_worst", "eccentricity_likely", "rotation_worst", "pin_interference", "pin_margin", "pin_margin_hot")
        return [node(name, same, value="location") for name in lacking]
    return _chain_nodes(chain) + (_pin_nodes(structure, chain) if structure.choice("location") == "pins" else _stud_nodes())


def _stud_nodes() -> list[Node]:
    return [
        many("location.stud_room", added, ("location.stud_play", "location.studs_off", "location.stud_holes_off")),
        node("rotation_worst", location.rotation_by_studs, room="location.stud_room", circle_diameter="cylinder.studs.circle_diameter"),
        *(node(name, same, value="location.pin.diameter") for name in ("pin_interference", "pin_margin", "pin_margin_hot")),
    ]


def _pin_nodes(structure: Structure, chain: tuple[Link, ...]) -> list[Node]:
    at_holes = [link.name for link in chain if link.acts in (PAIR, SLOT)]
    plays = [name for name in at_holes if ".pin_in_" in name]
    errors = [name for name in at_holes if name not in plays]
    mirrored = [link.name for link in chain if link.acts is MIRROR]
    # either hole of both parts may be off along the line; either pin has its play at both ends
    margin: list[Node] = [
        many("location.pin_errors", _weighted([2.0] * len(errors)), errors),
        many("location.pin_plays", _weighted([2.0] * len(plays)), plays),
        node("pin_margin", difference, now="location.pin_room", then="location.pin_errors"),
        # hot the pins' distance grows in head and cylinder by what each is of and how hot it is
        node(
            "location.pins_apart",
            thermal.diametral_clearance_hot,
            outer_diameter="location.pin_distance",
            inner_diameter="location.pin_distance",
            outer_expansion="head.expansion",
            inner_expansion="cylinder.expansion",
            outer_rise="running.head_rise",
            inner_rise="running.cylinder_rise",
        ),
        node("location.pins_grown", magnitude, value="location.pins_apart"),
        node("pin_margin_hot", difference, now="pin_margin", then="location.pins_grown"),
    ]
    if "location.slot_length" in structure.given:
        margin += [
            node("location.slot_room", half, value="location.slot_length"),
            many("location.pin_room", added, ("location.pin_plays", "location.slot_room")),
        ]
    else:
        margin.append(node("location.pin_room", same, value="location.pin_plays"))
    return [
        *margin,
        many("location.at_holes", added, at_holes),
        node("location.mirrored", same, value=mirrored[0]) if mirrored else node("location.mirrored", zero),
        node(
            "rotation_worst",
            location.rotation_by_pins,
            at_holes="location.at_holes",
            mirrored="location.mirrored",
            pin_distance="location.pin_distance",
        ),
        # a pin holds no better than in the wider of its holes, and is held at all where the tighter one holds it
        many("location.pin_holes.widest", greatest, _PIN_HOLES),
        many("location.pin_holes.tightest", least, _PIN_HOLES),
        node("pin_interference", difference, now="location.pin.free_diameter", then="location.pin_holes.widest"),
        node("location.pin_held", difference, now="location.pin.free_diameter", then="location.pin_holes.tightest"),
    ]


_PIN_HOLES: Final = ("location.pin_hole_diameter", "location.head_pin_hole_diameter")


def _leaning(eccentricity: Column, slope: Column) -> Column:
    return eccentricity * np.abs(slope)


def _band_nodes() -> list[Node]:
    """The gap around the band with the head off centre: the band's radii shifted toward the high side and toward the low side."""
    shape = crown_inputs()
    nodes = [
        node("location.lean", _leaning, eccentricity="eccentricity_worst", slope="head.band.slope"),
        node("squish_edge_low", difference, now="squish_edge", then="location.lean"),
        many("squish_edge_high", added, ("squish_edge", "location.lean")),
    ]
    for side, moved in (("away", difference), ("toward", lambda now, then: now + then)):
        at = f"location.{side}"
        nodes += [node(f"{at}.{what}", moved, now=f"head.band.{what}", then="eccentricity_worst") for what in ("radius", "inner_radius")]
        band = {"band_radius": f"{at}.radius", "band_slope": "head.band.slope"}
        nodes += [
            node(f"{at}.outer_radius", lambda radius, bore: np.minimum(radius, bore * 0.5), radius=f"{at}.radius", bore="cylinder.bore"),
            node(f"{at}.inner", squish.squish_gap, radius=f"{at}.inner_radius", squish_edge="squish_edge", **band, **shape),
            node(
                f"{at}.on_crown",
                squish.squish_least_on_crown,
                squish_edge="squish_edge",
                squish_inner=f"{at}.inner",
                inner_radius=f"{at}.inner_radius",
                **band,
                **shape,
            ),
            node(
                f"{at}.least",
                squish.squish_min,
                least_on_crown=f"{at}.on_crown",
                squish_edge="squish_edge",
                outer_radius=f"{at}.outer_radius",
                crown_radius="piston.crown.radius",
                **band,
            ),
        ]
    nodes.append(many("squish_min_off_centre", least, ("location.away.least", "location.toward.least")))
    return nodes


def location_nodes(structure: Structure) -> list[Node]:
    """Every way to how far the head lies off, and to what follows."""
    located_by = "location.spigot_in_bore" if structure.choice("location") == "spigot" else "eccentricity_worst"
    return [
        *_DEFAULTS[:-1],
        *_link_nodes(structure),
        *_sum_nodes(structure),
        *_hot_nodes(structure),
        *_band_nodes(),
        # the spigot that locates the head touches on one side
        node("location.spigot_play", half, value="spigot_clearance"),
        node("location.spigot_play_hot", half, value="spigot_clearance_hot"),
        node("spigot_gap_least", difference, now="location.spigot_play", then=located_by),
        many("spigot_gap_most", added, ("location.spigot_play", located_by)),
        node(
            "piston.rocking",
            location.piston_rocking,
            skirt_clearance="skirt_clearance",
            skirt_top="piston.skirt_top",
            skirt_length="piston.skirt_length",
        ),
        _DEFAULTS[-1],
        node("recess_clearance", difference, now="head.recess_diameter", then="piston.diameter"),
        node(
            "recess_clearance_hot",
            thermal.diametral_clearance_hot,
            outer_diameter="head.recess_diameter",
            inner_diameter="piston.diameter",
            outer_expansion="head.expansion",
            inner_expansion="piston.expansion",
            outer_rise="running.head_rise",
            inner_rise="running.piston_rise",
        ),
        *(
            node(
                f"side_room{hot}",
                location.side_room,
                clearance=f"recess_clearance{hot}",
                eccentricity=eccentricity,
                rocking="piston.rocking",
            )
            for hot, eccentricity in (("", "eccentricity_worst"), ("_hot", "location.off_hot"))
        ),
    ]
