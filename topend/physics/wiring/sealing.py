"""O-ring and groove, and the lands that head and base joint seal on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics import sealing
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node
from topend.physics.wiring.operations import added, difference, greatest, half, least, same

if TYPE_CHECKING:
    from topend.physics.kernel import Column

RING = {"ring_diameter": "head.o_ring.inner_diameter", "section": "head.o_ring.section"}


def sealing_nodes(structure: Structure) -> list[Node]:
    """O-ring cold and hot; lands of both joints."""
    return [*_o_ring(structure), *_grooves(structure), *_head_land(structure), *_base_land(structure)]


def doubled(value: Column) -> Column:
    return value * 2.0


def _o_ring(structure: Structure) -> list[Node]:
    rubber = sealing.RUBBERS[structure.choice("head.o_ring.material") or "rubber"]
    made = np.array([rubber.mean])
    why = f"expansion of {rubber.name}, from memory" + ("" if rubber.name != "rubber" else ", its material not given")
    nodes = [
        node("head.o_ring.expansion", lambda: made, Assumption(why, between(rubber.low, rubber.high))),
        node("head.o_ring.thickness2", doubled, value="head.o_ring.section"),
        many("head.o_ring.outer_diameter", added, ("head.o_ring.inner_diameter", "head.o_ring.thickness2")),
    ]
    on_spigot = structure.choice("head.groove") == "bore"
    outside = structure.choice("head.groove.pressure") == "outside"
    # walls: those stated, and what width or depth gives
    nodes.append(node("head.groove.twice_width", doubled, value="head.groove.width"))
    if on_spigot:
        nodes += [
            node("head.groove.twice_depth", doubled, value="head.groove.depth"),
            node("head.groove.inner_diameter", difference, now="head.spigot_diameter", then="head.groove.twice_depth"),
            node("head.groove.gap", difference, now="cylinder.bore", then="head.groove.inner_diameter"),
            node("head.groove.space", half, value="head.groove.gap"),
            node("o_ring_play", difference, now="head.groove.width", then="head.o_ring.section"),
            # all on one side, which is the worst
            node("o_ring_extrusion_gap", difference, now="cylinder.bore", then="head.spigot_diameter"),
        ]
        closed = {"outer_diameter": "cylinder.bore", "inner_diameter": "head.groove.inner_diameter", "height": "head.groove.width"}
        metal = {"outer_diameter": "cylinder"}
    else:
        nodes += [
            node("head.groove.inner_diameter", difference, now="head.groove.outer_diameter", then="head.groove.twice_width"),
            many("head.groove.outer_diameter", added, ("head.groove.inner_diameter", "head.groove.twice_width")),
            many("head.groove.space", added, ("head.groove.depth", "head_gasket.thickness")),
            node("o_ring_extrusion_gap", same, value="head_gasket.thickness" if structure.choice("head.groove") else "head.groove.depth"),
            node("o_ring.play_across", difference, now="head.o_ring.inner_diameter", then="head.groove.inner_diameter")
            if outside
            else node("o_ring.play_across", difference, now="head.groove.outer_diameter", then="head.o_ring.outer_diameter"),
            node("o_ring_play", half, value="o_ring.play_across"),
        ]
        closed = {
            "outer_diameter": "head.groove.outer_diameter",
            "inner_diameter": "head.groove.inner_diameter",
            "height": "head.groove.space",
        }
        metal = {}
    nodes += _pressed("", dict(RING), closed, "head.groove.space")
    if on_spigot:
        # the spigot lies against the bore: over there it is further away by half of what they differ in diameter, nearer on the other
        nodes += [
            many("head.groove.space_off", added, ("head.groove.space", "location.spigot_play")),
            node("o_ring_squeeze_off_centre", sealing.o_ring_squeeze_ratio, section="head.o_ring.lies", space="head.groove.space_off"),
            # hot the bore may outgrow the spigot by more than the rubber swells; one that has grown tight is centred
            node(
                "head.groove.space_off@hot",
                lambda space, play: space + np.maximum(play, 0.0),
                space="head.groove.space@hot",
                play="location.spigot_play_hot",
            ),
            node(
                "o_ring.squeeze_loose@hot", sealing.o_ring_squeeze_ratio, section="head.o_ring.lies_hot", space="head.groove.space_off@hot"
            ),
            *_tight("", "location.spigot_play"),
            *_tight("_hot", "location.spigot_play_hot"),
        ]
    else:
        nodes += [
            node(name, same, value=of)
            for name, of in (
                ("o_ring_squeeze_off_centre", "o_ring_squeeze"),
                ("o_ring_squeeze_tight", "o_ring_squeeze"),
                ("o_ring_squeeze_tight_hot", "o_ring_squeeze_hot"),
                ("o_ring.squeeze_loose@hot", "o_ring_squeeze_hot"),
            )
        ]
    nodes.append(
        node("o_ring_stretch", sealing.o_ring_stretch_ratio, ring_diameter=RING["ring_diameter"], seat_diameter=closed["inner_diameter"])
    )
    hot_ring = {argument: f"{path}@hot" for argument, path in RING.items()}
    hot_closed = {argument: f"{path}@hot" for argument, path in closed.items()}
    rubber_grows = {"expansion": "head.o_ring.expansion", "rise": "running.head_rise"}
    nodes += [node(f"{path}@hot", sealing.grown, length=path, **rubber_grows) for path in RING.values()]
    walls = {**closed, "space": "head.groove.space"}
    for argument, path in walls.items():
        of = metal.get(argument, "head")
        if path != "head.groove.space" or not on_spigot:
            nodes.append(node(f"{path}@hot", sealing.grown, length=path, expansion=f"{of}.expansion", rise=f"running.{of}_rise"))
    if on_spigot:
        nodes += [
            node("head.groove.gap@hot", difference, now="cylinder.bore@hot", then="head.groove.inner_diameter@hot"),
            node("head.groove.space@hot", half, value="head.groove.gap@hot"),
        ]
    return nodes + _pressed("_hot", hot_ring, hot_closed, "head.groove.space@hot")


def _tight(when: str, play: str) -> list[Node]:
    """Squeeze where a spigot that lies against the bore touches it, cold or hot."""
    space, tight = f"head.groove.space{when.replace('_', '@')}", f"head.groove.space_tight{when}"
    return [
        node(tight, difference, now=space, then=play),
        node(f"o_ring_squeeze_tight{when}", sealing.o_ring_squeeze_ratio, section=f"head.o_ring.lies{when}", space=tight),
    ]


def _pressed(when: str, ring: dict[str, str], closed: dict[str, str], space: str) -> list[Node]:
    """Squeeze and fill, from the sizes cold or hot."""
    lies = f"head.o_ring.lies{when}"
    return [
        node(lies, sealing.stretched_section, seat_diameter=closed["inner_diameter"], **ring),
        node(f"o_ring_squeeze{when}", sealing.o_ring_squeeze_ratio, section=lies, space=space),
        node(f"o_ring_fill{when}", sealing.o_ring_fill_ratio, **ring, **closed),
    ]


def stacked(structure: Structure, stack: str, field: str) -> list[str]:
    """Paths of a field of each gasket of a stack that states it."""
    count = int(structure.choice(stack) or 0)
    return [path for index in range(count) if (path := f"{stack}.{index}.{field}") in structure.given]


def _inner(structure: Structure) -> list[str]:
    """What opens the head joint toward the chamber: the bore, a recess, a gasket's opening."""
    recess = ["head.recess_diameter"] if "head.recess_diameter" in structure.given else []
    return ["cylinder.bore", *recess, *stacked(structure, "head_gaskets", "opening")]


def _head_outlines(structure: Structure) -> list[str]:
    found = [path for path in ("cylinder.deck_diameter", "head.face_diameter", "cylinder.coolant_diameter") if path in structure.given]
    return found + stacked(structure, "head_gaskets", "outer_diameter")


def _patterns(structure: Structure, *patterns: str) -> list[str]:
    """Stud patterns whose circle and size are stated."""
    return [at for at in patterns if {f"{at}.circle_diameter", f"{at}.diameter"} <= structure.given]


def _head_patterns(structure: Structure) -> list[str]:
    count = int(structure.choice("head_gaskets") or 0)
    return _patterns(structure, "cylinder.studs", "head.studs", *(f"head_gaskets.{index}.studs" for index in range(count)))


def _head_land(structure: Structure) -> list[Node]:
    nodes = [many("head_land.opening", greatest, _inner(structure))]
    lands: list[tuple[str, str | None]] = []
    ends: list[tuple[str, str, str | None]] = [(path, path, None) for path in _head_outlines(structure)]
    ends += [(notch, f"{notch}.inner_diameter", f"{notch}.angle") for notch in _notches(structure, "cylinder.deck_notches")]
    for end, path, where in ends:
        name = f"head_land:{end}"
        nodes += [node(f"{name}.across", difference, now=path, then="head_land.opening"), node(name, half, value=f"{name}.across")]
        lands.append((name, where))
    for at in _head_patterns(structure):
        name = f"head_land:{at}"
        nodes.append(_holes(name, at, "head_land.opening"))
        lands.append((name, f"{at}.angle" if f"{at}.angle" in structure.given else None))
    return [
        *nodes,
        many("head_land", least, [name for name, _ in lands] or ["cylinder.deck_diameter", "head_land.opening"]),
        _where("head_land", lands, "cylinder.studs.angle"),
        node("head_land_off_centre", difference, now="head_land", then="eccentricity_worst"),
    ]


def _notches(structure: Structure, face: str) -> list[str]:
    """Paths of what cuts a face of the cylinder from outside."""
    return sorted(path.removesuffix(".angle") for path in structure.given if path.startswith(f"{face}.") and path.endswith(".angle"))


def _where(land: str, lands: list[tuple[str, str | None]], lacking: str) -> Node:
    """Node of the angle of the least land; `lacking` is what gives one where none has a place."""
    placed = [pair for pair in lands if pair[1] is not None]
    if not placed:
        return node(f"{land}_angle", same, value=lacking)
    return many(f"{land}_angle", _place, [land, *(path for pair in placed for path in pair if path is not None)])


def _holes(name: str, at: str, inner: str) -> Node:
    return node(name, sealing.hole_land, circle_diameter=f"{at}.circle_diameter", hole_diameter=f"{at}.diameter", inner_diameter=inner)


def _grooves(structure: Structure) -> list[Node]:
    """Walls left beside a groove in a face."""
    if structure.choice("head.groove") == "bore":
        return [many("groove_land", least, ["head.groove.outer_diameter"])]
    groove = ("head.groove.inner_diameter", "head.groove.outer_diameter")
    nodes = [
        node("groove_land.inner_across", difference, now=groove[0], then="head_land.opening"),
        node("groove_land:opening", half, value="groove_land.inner_across"),
    ]
    lands = ["groove_land:opening"]
    for path in (*(one for one in _head_outlines(structure) if not one.startswith("head_gaskets")),):
        name = f"groove_land:{path}"
        nodes += [node(f"{name}.across", difference, now=path, then=groove[1]), node(name, half, value=f"{name}.across")]
        lands.append(name)
    for notch in _notches(structure, "cylinder.deck_notches"):
        name = f"groove_land:{notch}"
        nodes += [
            node(f"{name}.across", difference, now=f"{notch}.inner_diameter", then=groove[1]),
            node(name, half, value=f"{name}.across"),
        ]
        lands.append(name)
    for at in _patterns(structure, "cylinder.studs", "head.studs"):
        nodes.append(_holes(f"groove_land:{at}", at, groove[1]))
        lands.append(f"groove_land:{at}")
    return [*nodes, many("groove_land", least, lands)]


def _cutouts(structure: Structure) -> list[str]:
    """Paths of the cut-outs in the base face and in the gaskets under it."""
    found = {path.rsplit(".", 1)[0] for path in structure.given if ".cutouts." in path and path.startswith(("cylinder.", "base_gaskets."))}
    return sorted(found)


def _unplaced(structure: Structure, cutouts: list[str]) -> list[str]:
    """Circles of the passages of cylinder and base gaskets of which no place is stated."""
    circles = [path for path in ("cylinder.window_diameter",) if path in structure.given] + stacked(
        structure, "base_gaskets", "window_diameter"
    )
    placed = {cut.partition(".cutouts.")[0] for cut in cutouts}
    return [path for path in circles if path.removesuffix(".window_diameter") not in placed]


def base_pattern(structure: Structure) -> list[str]:
    """The patterns of studs or holes that end the base joint's land."""
    own = _patterns(structure, "cylinder.base_studs")
    # nobody said that they stand in the cylinder: taken as going through
    if not own and structure.choice("studs.root") != "cylinder":
        own = _patterns(structure, "cylinder.studs")
    count = int(structure.choice("base_gaskets") or 0)
    return own + _patterns(structure, *(f"base_gaskets.{index}.studs" for index in range(count)))


def _turned_by(share: float) -> object:
    return lambda value: value + 2.0 * np.pi * share


def _base_land(structure: Structure) -> list[Node]:
    nodes: list[Node] = []
    lands: list[tuple[str, str | None]] = []
    cutouts = _cutouts(structure)
    round_ones: list[str] = [path for path in ("cylinder.skirt_diameter", "cylinder.bore") if path in structure.given]
    openings = [*round_ones[:1], *stacked(structure, "base_gaskets", "opening")]
    unplaced = _unplaced(structure, cutouts)
    if cutouts:
        # those of which only the circle is stated lie where the others do
        nodes += [many(f"{cut}.reach", greatest, [f"{cut}.outer_diameter", *unplaced]) for cut in cutouts]
    else:
        # passages of unknown place may be anywhere round
        openings += unplaced
    outlines = [path for path in ("cylinder.base_diameter",) if path in structure.given] + stacked(
        structure, "base_gaskets", "outer_diameter"
    )

    def radial(name: str, outer: str, inner: str, where: str | None) -> None:
        nodes.extend([node(f"{name}.across", difference, now=outer, then=inner), node(name, half, value=f"{name}.across")])
        lands.append((name, where))

    for path in outlines:
        for opening in openings:
            radial(f"base_land:{path}:{opening}", path, opening, None)
        for cut in cutouts:
            radial(f"base_land:{path}:{cut}", path, f"{cut}.reach", f"{cut}.angle")
    for notch in _notches(structure, "cylinder.base_notches"):
        for opening in openings:
            radial(f"base_land:{notch}:{opening}", f"{notch}.inner_diameter", opening, f"{notch}.angle")
        nodes.append(node(f"{notch}.radius", half, value=f"{notch}.inner_diameter"))
        for cut in cutouts:
            lands.append(_notch_beside(nodes, notch, cut))
    for at in base_pattern(structure):
        for opening in openings:
            nodes.append(_holes(f"base_land:{at}:{opening}", at, opening))
            lands.append((f"base_land:{at}:{opening}", f"{at}.angle" if f"{at}.angle" in structure.given else None))
        if cutouts and f"{at}.angle" in structure.given:
            lands += _holes_beside(structure, nodes, at, cutouts)
    if not lands:
        return [many("base_land", least, ["cylinder.base_diameter"]), many("base_land_angle", least, ["cylinder.base_diameter"])]
    nodes.append(many("base_land", least, [name for name, _ in lands]))
    return [*nodes, _where("base_land", lands, "cylinder.base_studs.angle")]


def _notch_beside(nodes: list[Node], notch: str, cut: str) -> tuple[str, str]:
    """A cut from outside against one from inside: of the notch its inner corner is nearest, so that the two spans add up."""
    name = f"base_land:{notch}:{cut}"
    nodes += [
        node(f"{cut}.radius", half, value=f"{cut}.reach"),
        many(f"{name}.span", added, (f"{cut}.span", f"{notch}.span")),
        node(
            name,
            sealing.sector_distance,
            radius=f"{notch}.radius",
            angle=f"{notch}.angle",
            outer_radius=f"{cut}.radius",
            middle=f"{cut}.angle",
            span=f"{name}.span",
        ),
    ]
    return name, f"{notch}.angle"


def _place(smallest: Column, *pairs: Column) -> Column:
    """The angle of the land that is least; NaN where that has no place of its own."""
    where = np.nan * smallest
    for width, angle in zip(pairs[::2], pairs[1::2], strict=True):
        turned = np.where(angle < 0.0, angle + 2.0 * np.pi, angle)
        where = np.where(width == smallest, np.where(turned >= 2.0 * np.pi, turned - 2.0 * np.pi, turned), where)
    return where


def _holes_beside(structure: Structure, nodes: list[Node], at: str, cutouts: list[str]) -> list[tuple[str, str | None]]:
    """Every hole of a pattern against every cut-out."""
    made: list[tuple[str, str | None]] = []
    count = int(structure.choice(at) or 0)
    nodes += [node(f"{at}.radius", half, value=f"{at}.circle_diameter"), node(f"{at}.hole_radius", half, value=f"{at}.diameter")]
    for hole in range(count):
        place = f"{at}.angle@{hole}"
        nodes.append(node(place, _turned_by(hole / count), value=f"{at}.angle"))  # type: ignore[arg-type]
        for cut in cutouts:
            name = f"base_land:{at}@{hole}:{cut}"
            nodes += [
                node(f"{cut}.radius", half, value=f"{cut}.reach"),
                node(
                    f"{name}.distance",
                    sealing.sector_distance,
                    radius=f"{at}.radius",
                    angle=place,
                    outer_radius=f"{cut}.radius",
                    middle=f"{cut}.angle",
                    span=f"{cut}.span",
                ),
                node(name, difference, now=f"{name}.distance", then=f"{at}.hole_radius"),
            ]
            made.append((name, place))
    return made
