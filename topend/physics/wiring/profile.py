"""A head's half-section: corners and steps of each family, what they sweep, and where a section cannot be."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from topend.physics import crown, profile
from topend.physics.wiring.geometry import crown_inputs
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, difference, first, greatest, half, least, quotient, same, second, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "AGREE",
    "PROFILE",
    "Fault",
    "bulge",
    "corner",
    "corner_count",
    "fault_words",
    "profile_faults",
    "profile_nodes",
    "volumes_agree",
]

PROFILE = "head.profile"
_OPENING, _OPENING_HEIGHT, _FLAT = "head.band.inner_radius", f"{PROFILE}.opening_height", f"{PROFILE}.flat_radius"


def corner(index: int) -> tuple[str, str]:
    """Names of a corner's radius and height."""
    return f"{PROFILE}.corner.{index}.radius", f"{PROFILE}.corner.{index}.height"


def bulge(index: int) -> str:
    """Name of the bulge of the step that leaves a corner."""
    return f"{PROFILE}.step.{index}.bulge"


def corner_count(structure: Structure) -> int:
    """How many corners the half-section has, from the band's outer edge to the axis; 0 without a profile."""
    shape = structure.choice(PROFILE)
    if shape is None:
        return 0
    if shape == "contour":
        return int(structure.choice(f"{PROFILE}.points") or 0) + 1
    return {"bowl": 4, "hemisphere": 5, "bathtub": 5, "truncated-cone": 5, "toroidal-rim": 6}[shape]


def _at(index: int, radius: str | None, height: str | None) -> list[Node]:
    """A corner at two quantities; None for the axis, or for the band-edge plane."""
    names = corner(index)
    return [
        node(name, zero) if value is None else node(name, same, value=value) for name, value in zip(names, (radius, height), strict=True)
    ]


def step_inputs(index: int) -> dict[str, str]:
    """What a kernel of `profile` takes of a step, by its argument names."""
    (start_radius, start_height), (end_radius, end_height) = corner(index), corner(index + 1)
    return {
        "start_radius": start_radius,
        "start_height": start_height,
        "end_radius": end_radius,
        "end_height": end_height,
        "bulge": bulge(index),
    }


def _arc(index: int, arc_radius: str) -> Node:
    ends = {name: value for name, value in step_inputs(index).items() if name != "bulge"}
    return node(bulge(index), profile.arc_bulge, arc_radius=arc_radius, **ends)


def _family(shape: str, structure: Structure) -> list[Node]:
    """Corners from the band's inner edge on, bulges that are not 0, and the tightest arc a tool must cut."""
    at = PROFILE
    made = [*_at(0, "head.band.radius", None), *_at(1, _OPENING, _OPENING_HEIGHT)]
    made.append(
        node(
            _OPENING_HEIGHT, profile.opening_height, outer_radius="head.band.radius", opening_radius=_OPENING, band_slope="head.band.slope"
        )
    )
    if shape == "bowl":
        # each follows from the other; where neither is known it is the depth that is asked for
        made += [
            node(f"{at}.depth", profile.bowl_depth, bowl_radius=f"{at}.bowl_radius", opening_radius=_OPENING)
            if f"{at}.bowl_radius" in structure.given
            else node(f"{at}.bowl_radius", profile.bowl_radius, depth=f"{at}.depth", opening_radius=_OPENING),
            node(f"{at}.face_drop", crown.cap_sagitta, radius=_FLAT, cap_height=f"{at}.depth", cap_radius=_OPENING),
            many(f"{at}.crest_height", added, (_OPENING_HEIGHT, f"{at}.depth")),
            node(f"{at}.face_height", difference, now=f"{at}.crest_height", then=f"{at}.face_drop"),
            *_at(2, _FLAT, f"{at}.face_height"),
            *_at(3, None, f"{at}.face_height"),
            _arc(1, f"{at}.bowl_radius"),
            node(f"{at}.tightest_arc", same, value=f"{at}.bowl_radius"),
        ]
    elif shape == "hemisphere":
        made += [
            node(f"{at}.face_drop", crown.cap_sagitta, radius=_FLAT, cap_height=_OPENING, cap_radius=_OPENING),
            many(f"{at}.wall_top", added, (_OPENING_HEIGHT, f"{at}.wall_height")),
            many(f"{at}.crest_height", added, (f"{at}.wall_top", _OPENING)),
            node(f"{at}.face_height", difference, now=f"{at}.crest_height", then=f"{at}.face_drop"),
            *_at(2, _OPENING, f"{at}.wall_top"),
            *_at(3, _FLAT, f"{at}.face_height"),
            *_at(4, None, f"{at}.face_height"),
            _arc(2, _OPENING),
            node(f"{at}.tightest_arc", same, value=_OPENING),
        ]
    elif shape in ("bathtub", "truncated-cone"):
        lean = f"{at}.wall_lean"
        made += [
            node(f"{at}.roof_radius", same, value=_OPENING)
            if shape == "bathtub"
            else node(f"{at}.roof_radius", half, value=f"{at}.roof_diameter"),
            node(lean, profile.wall_lean, opening_radius=_OPENING, roof_radius=f"{at}.roof_radius", depth=f"{at}.depth"),
            node(f"{at}.corner_length", profile.corner_length, corner_radius=f"{at}.corner_radius", wall_lean=lean),
            node(f"{at}.corner_along", lambda length, lean: length * np.sin(lean), length=f"{at}.corner_length", lean=lean),
            node(f"{at}.corner_up", lambda length, lean: length * np.cos(lean), length=f"{at}.corner_length", lean=lean),
            many(f"{at}.face_height", added, (_OPENING_HEIGHT, f"{at}.depth")),
            many(f"{at}.wall_radius", added, (f"{at}.roof_radius", f"{at}.corner_along")),
            node(f"{at}.wall_top", difference, now=f"{at}.face_height", then=f"{at}.corner_up"),
            node(f"{at}.roof_edge", difference, now=f"{at}.roof_radius", then=f"{at}.corner_length"),
            *_at(2, f"{at}.wall_radius", f"{at}.wall_top"),
            *_at(3, f"{at}.roof_edge", f"{at}.face_height"),
            *_at(4, None, f"{at}.face_height"),
            node(bulge(2), profile.corner_bulge, wall_lean=lean),
            node(f"{at}.tightest_arc", same, value=f"{at}.corner_radius"),
        ]
    else:
        made += [
            node(f"{at}.boss_radius", lambda opening, rim: opening - 2.0 * rim, opening=_OPENING, rim=f"{at}.rim_radius"),
            many(f"{at}.crest_height", added, (_OPENING_HEIGHT, f"{at}.depth")),
            node(f"{at}.wall_top", difference, now=f"{at}.crest_height", then=f"{at}.rim_radius"),
            many(f"{at}.face_height", added, (_OPENING_HEIGHT, f"{at}.boss_height")),
            *_at(2, _OPENING, f"{at}.wall_top"),
            *_at(3, f"{at}.boss_radius", f"{at}.wall_top"),
            *_at(4, f"{at}.boss_radius", f"{at}.face_height"),
            *_at(5, None, f"{at}.face_height"),
            node(bulge(2), lambda rim: np.ones(1) + 0.0 * rim, rim=f"{at}.rim_radius"),
            node(f"{at}.tightest_arc", same, value=f"{at}.rim_radius"),
        ]
    if shape != "toroidal-rim":
        # nothing of these rises above the plug's face
        made.append(node(f"{at}.boss_radius", lambda opening: np.inf + 0.0 * opening, opening=_OPENING))
    return made


def _contour(structure: Structure) -> list[Node]:
    """Corners as they were written, closed to the axis; the band is its first step."""
    count = corner_count(structure) - 1
    made = []
    for index in range(count):
        point = f"{PROFILE}.points.{index}"
        made += _at(index, f"{point}.radius", f"{point}.height")
        if f"{point}.arc_radius" in structure.given:
            made.append(_arc(index - 1, f"{point}.arc_radius"))
    made += _at(count, None, f"{PROFILE}.points.{count - 1}.height")
    made.append(node(f"{PROFILE}.face_height", same, value=f"{PROFILE}.points.{count - 1}.height"))
    inner, outer = corner(1), corner(0)
    made += [
        node("head.band.outer_diameter", lambda radius: 2.0 * radius, radius=outer[0]),
        node("head.band.inner_diameter", lambda radius: 2.0 * radius, radius=inner[0]),
        node("head.band.angle", lambda out, into, up: np.arctan(up / (out - into)), out=outer[0], into=inner[0], up=inner[1]),
    ]
    tight = []
    for index in range(1, count):
        radius, turn = f"{PROFILE}.step.{index}.arc_radius", f"{PROFILE}.corner.{index}.turn"
        stated = f"{PROFILE}.points.{index + 1}.arc_radius"
        if stated in structure.given:
            made.append(node(radius, lambda arc: np.where(arc > 0.0, arc, np.inf), arc=stated))
            tight.append(radius)
        made.append(_turn(index, turn))
        # a corner that a tool must reach, and that has no radius; beside the plug's face a drill makes it
        beside = {"turn": turn, "at": corner(index)[0], "flat": _FLAT}
        made.append(
            node(f"{turn}.sharp", lambda turn, at, flat: np.where((turn > 1e-6) & (at > flat * (1.0 + 1e-9)), 0.0, np.inf), **beside)
        )
        tight.append(f"{turn}.sharp")
    made.append(many(f"{PROFILE}.tightest_arc", least, tight))
    return made


def _turn(index: int, name: str) -> Node:
    before, here, after = corner(index - 1), corner(index), corner(index + 1)
    return node(
        name,
        profile.corner_turn,
        start_radius=before[0],
        start_height=before[1],
        corner_radius=here[0],
        corner_height=here[1],
        end_radius=after[0],
        end_height=after[1],
        bulge_before=bulge(index - 1),
        bulge_after=bulge(index),
    )


def _plug(structure: Structure) -> list[Node]:
    at = f"{PROFILE}.plug"
    if structure.choice(at) is None:
        return [node(_FLAT, zero), node(f"{at}.volume", zero)]
    flush = Assumption("thread length or reach not given: the plug's thread taken as ending in the chamber's surface")
    nose = Assumption("volume in the plug's nose not given: taken as flat across the end of its thread")
    return [
        node(f"{at}.face_diameter", same, value=f"{at}.thread_diameter"),
        node(_FLAT, half, value=f"{at}.face_diameter"),
        node(f"{at}.thread_length", difference, now=f"{at}.seat_height", then=f"{PROFILE}.face_height"),
        node(f"{at}.thread_area", profile.thread_area, thread_diameter=f"{at}.thread_diameter", thread_pitch=f"{at}.thread_pitch"),
        node(
            f"{at}.recess_volume",
            profile.recess_volume,
            thread_length=f"{at}.thread_length",
            reach=f"{at}.reach",
            thread_area=f"{at}.thread_area",
        ),
        node(f"{at}.recess_volume", zero, flush),
        node(f"{at}.nose_volume", zero, nose),
        many(f"{at}.volume", added, (f"{at}.recess_volume", f"{at}.nose_volume")),
    ]


def profile_nodes(structure: Structure) -> list[Node]:
    """What follows from a half-section: chamber, band, surface, and the bowl's distance to the crown."""
    shape = structure.choice(PROFILE)
    count = corner_count(structure)
    made = [node("contact_min", same, value="contact.beside_bowl"), node("chamber_volume", same, value="head.band_volume")]
    if not count:
        missing = ("chamber_area", "chamber_surface", "chamber_depth", "chamber_centroid_radius", "chamber_centroid_height")
        return [*made, *(node(name, same, value=PROFILE) for name in missing)]
    made += [node(f"head.band.{what}", same, value=f"{PROFILE}.band.{what}") for what in ("outer_diameter", "inner_diameter", "angle")]
    made += _contour(structure) if shape == "contour" else _family(str(shape), structure)
    made += _plug(structure)
    own = {one.name for one in made}
    steps = range(count - 1)
    made += [node(bulge(index), zero) for index in steps if bulge(index) not in own]
    sums: dict[str, Callable[..., Any]] = {
        "area": profile.step_area,
        "volume": profile.step_volume,
        "height_moment": profile.step_height_moment,
        "surface": profile.step_surface,
        "top": profile.step_top,
    }
    made += [node(f"{PROFILE}.step.{index}.{what}", kernel, **step_inputs(index)) for what, kernel in sums.items() for index in steps]
    whole = {what: [f"{PROFILE}.step.{index}.{what}" for index in steps] for what in sums}
    made += [
        many("chamber_area", added, whole["area"]),
        many(f"{PROFILE}.section_volume", added, whole["volume"]),
        many(f"{PROFILE}.height_moment", added, whole["height_moment"]),
        many("chamber_surface", added, whole["surface"]),
        many("chamber_depth", greatest, whole["top"]),
        many(f"{PROFILE}.volume", added, (f"{PROFILE}.section_volume", f"{PROFILE}.plug.volume")),
        node(
            "chamber_centroid_radius",
            lambda volume, area: volume / (2.0 * np.pi * area),
            volume=f"{PROFILE}.section_volume",
            area="chamber_area",
        ),
        node("chamber_centroid_height", quotient, volume=f"{PROFILE}.height_moment", thickness="chamber_area"),
        # after the stated chamber volume, which comes first where it is given
        node("head.band_volume", same, value=f"{PROFILE}.volume"),
    ]
    gaps = []
    for index in steps[1:]:
        gaps.append(f"{PROFILE}.step.{index}.gap")
        shape_inputs = crown_inputs()
        made.append(node(gaps[-1], profile.step_gap, squish_edge="squish_edge", **step_inputs(index), **shape_inputs))
    made.insert(0, many("contact_min", least, ("contact.beside_bowl", *gaps)))
    if shape == "contour":
        made += _meetings(count)
    return made


def _pairs(count: int) -> Iterator[tuple[int, int]]:
    """The steps of a contour, the axis after them, two by two."""
    return itertools.combinations(range(count), 2)


def _meetings(count: int) -> list[Node]:
    """Where steps of a contour meet, and how low each comes; step `count` - 1 runs down the axis."""
    origin = f"{PROFILE}.origin"
    names = [*(corner(index) for index in range(count)), (origin, origin)]
    made = [node(origin, zero), node(bulge(count - 1), zero)]
    for index in range(count - 1):
        # the top of its mirror image
        (start_radius, start_height), (end_radius, end_height) = names[index], names[index + 1]
        taken = {"start_radius": start_radius, "start": start_height, "end_radius": end_radius, "end": end_height, "bulge": bulge(index)}
        made.append(node(f"{PROFILE}.step.{index}.bottom", _bottom, **taken))
    for one, two in _pairs(count):
        taken = {}
        for start, index in (("", one), ("other_", two)):
            (start_radius, start_height), (end_radius, end_height) = names[index], names[index + 1]
            taken |= {
                f"{start}start_radius": start_radius,
                f"{start}start_height": start_height,
                f"{start}end_radius": end_radius,
                f"{start}end_height": end_height,
                f"{start}bulge": bulge(index),
            }
        pair = f"{PROFILE}.meeting.{one}.{two}"
        made.append(node(pair, profile.steps_meeting, **taken))
        made += [node(f"{pair}.radius", first, pair=pair), node(f"{pair}.height", second, pair=pair)]
    return made


def _bottom(start_radius: Column, start: Column, end_radius: Column, end: Column, bulge: Column) -> Column:
    mirrored = {"start_radius": start_radius, "start_height": -start, "end_radius": end_radius, "end_height": -end, "bulge": -bulge}
    return -profile.step_top.raw(**mirrored)


@dataclass(frozen=True, slots=True)
class Fault:
    """One way in which a half-section cannot be: judged when all of `takes` are known, and told in `words`, their values in mm."""

    takes: tuple[str, ...]
    applies: Callable[..., Any]
    words: str
    shapes: tuple[str, ...] = ()


_ROOFED = ("bathtub", "truncated-cone")
#: Lengths that should be equal come out apart by a rounding [m].
_ROUNDING = 1e-12


def _more(one: Any, other: Any) -> Any:
    return ~(one <= other + _ROUNDING)


_FAULTS: tuple[Fault, ...] = (
    Fault(
        (_OPENING, "head.band.radius"),
        lambda inner, outer: ~(inner < outer),
        "its band's inner edge (radius {0:.3f} mm) does not lie inside its outer edge (radius {1:.3f} mm)",
    ),
    Fault(
        ("head.band.slope",), lambda slope: ~(slope >= 0.0), "its band falls toward the centre, below the plane through its own outer edge"
    ),
    Fault(
        (_OPENING, f"{PROFILE}.bowl_radius"),
        _more,
        "the bowl's radius ({1:.3f} mm) is less than that of its opening ({0:.3f} mm): it does not reach the band's inner edge",
        ("bowl",),
    ),
    Fault(
        (f"{PROFILE}.depth", _OPENING),
        _more,
        "the bowl's depth ({0:.3f} mm) is more than the radius of its opening ({1:.3f} mm): past half a ball it would undercut the band",
        ("bowl",),
    ),
    Fault((f"{PROFILE}.depth",), lambda depth: ~(depth > 0.0), "its depth ({0:.3f} mm) is not more than 0"),
    Fault((f"{PROFILE}.wall_height",), lambda height: ~(height >= 0.0), "its wall height ({0:.3f} mm) is negative", ("hemisphere",)),
    Fault((f"{PROFILE}.corner_radius",), lambda radius: ~(radius >= 0.0), "its corner radius ({0:.3f} mm) is negative", _ROOFED),
    Fault(
        (f"{PROFILE}.roof_radius", _OPENING),
        _more,
        "the roof (radius {0:.3f} mm) is wider than the opening (radius {1:.3f} mm): the wall would undercut the band",
        ("truncated-cone",),
    ),
    Fault(
        (f"{PROFILE}.corner_up", f"{PROFILE}.depth"),
        _more,
        "the rounding between wall and roof takes {0:.3f} mm of height, more than the depth ({1:.3f} mm): it crosses the band",
        _ROOFED,
    ),
    Fault(
        (_FLAT, f"{PROFILE}.roof_edge"),
        _more,
        "the rounding between wall and roof ends at radius {1:.3f} mm, inside the plug's face or past the axis (radius {0:.3f} mm)",
        _ROOFED,
    ),
    Fault(
        (_FLAT, _OPENING),
        _more,
        "the plug's face (radius {0:.3f} mm) is wider than the opening of the bowl (radius {1:.3f} mm)",
        ("bowl", "hemisphere"),
    ),
    Fault(
        (_FLAT, f"{PROFILE}.boss_radius"),
        _more,
        "the boss inside the rim has a radius of {1:.3f} mm, less than the plug's face ({0:.3f} mm), or it crosses the axis",
        ("toroidal-rim",),
    ),
    Fault((f"{PROFILE}.rim_radius",), lambda radius: ~(radius > 0.0), "its rim radius ({0:.3f} mm) is not more than 0", ("toroidal-rim",)),
    Fault(
        (_OPENING_HEIGHT, f"{PROFILE}.wall_top"),
        _more,
        "the rim's arc begins at height {1:.3f} mm, below the band's inner edge ({0:.3f} mm): depth must be at least the rim radius",
        ("toroidal-rim",),
    ),
    Fault(
        (f"{PROFILE}.face_height", f"{PROFILE}.wall_top"),
        _more,
        "the boss's face (height {0:.3f} mm) lies above where the rim's arc ends ({1:.3f} mm): boss height is at most depth - rim radius",
        ("toroidal-rim",),
    ),
    Fault((f"{PROFILE}.boss_height",), lambda height: ~(height >= 0.0), "its boss height ({0:.3f} mm) is negative", ("toroidal-rim",)),
)


def profile_faults(structure: Structure) -> list[Fault]:
    """The faults that a half-section of this structure can have."""
    shape = structure.choice(PROFILE)
    if shape is None:
        return []
    made = [fault for fault in _FAULTS if not fault.shapes or shape in fault.shapes]
    if shape != "contour":
        return made
    count = corner_count(structure)
    for index in range(count - 1):
        radius, height = corner(index)
        made.append(Fault((radius,), lambda radius: ~(radius >= 0.0), f"point {index} has a negative radius ({{0:.3f}} mm)"))
        made.append(Fault((height,), lambda height: ~(height >= 0.0), f"point {index} lies below the band-edge plane ({{0:.3f}} mm)"))
        if f"{PROFILE}.points.{index}.arc_radius" in structure.given:
            words = f"the arc of radius {{0:.3f}} mm is too small to reach from point {index - 1} to point {index}"
            made.append(Fault((f"{PROFILE}.points.{index}.arc_radius", bulge(index - 1)), lambda _, made: np.isnan(made), words))
    made.append(
        Fault(
            (corner(0)[1],),
            lambda height: ~(np.abs(height) <= _ROUNDING),
            "point 0, the band's outer edge, lies at height {0:.3f} mm; heights count from there",
        )
    )
    last = corner(count - 2)[0]
    made.append(
        Fault((last, _FLAT), _more, "the last point (radius {0:.3f} mm) must lie on the axis or at the plug's face (radius {1:.3f} mm)")
    )
    for index in range(1, count - 2):
        turn = f"{PROFILE}.corner.{index}.turn"
        words = f"the walk turns back on itself at point {index} (radius {{1:.3f}} mm, height {{2:.3f}} mm)"
        made.append(Fault((turn, *corner(index)), lambda turn, *_: ~(np.abs(turn) < np.pi - 1e-9), words))
    for index in range(count - 1):
        words = f"{_step_name(index, count)} comes down to height {{0:.3f}} mm, below the band-edge plane"
        made.append(Fault((f"{PROFILE}.step.{index}.bottom",), lambda bottom: ~(bottom >= -_ROUNDING), words))
    made.append(Fault(("chamber_area",), lambda area: ~(area > 0.0), "it has no area: nothing of it lies above the band-edge plane"))
    for one, two in _pairs(count):
        pair = f"{PROFILE}.meeting.{one}.{two}"
        names = [_step_name(index, count) for index in (one, two)]
        words = f"{names[0]} and {names[1]} cross at radius {{0:.3f}} mm, height {{1:.3f}} mm"
        made.append(Fault((f"{pair}.radius", f"{pair}.height"), lambda radius, _: ~np.isnan(radius), words))
    return made


def _step_name(index: int, count: int) -> str:
    if index == count - 1:
        return "the axis"
    return "the flat at the axis" if index == count - 2 else f"the step from point {index} to point {index + 1}"


#: What a head may state beside its half-section, and what the section makes of it.
AGREE: tuple[tuple[str, str], ...] = (
    ("head.band.outer_diameter", f"{PROFILE}.band.outer_diameter"),
    ("head.band.inner_diameter", f"{PROFILE}.band.inner_diameter"),
    ("head.band.angle", f"{PROFILE}.band.angle"),
)


def volumes_agree(structure: Structure) -> tuple[str, str] | None:
    """The stated and the swept chamber volume where a head has both."""
    if structure.choice(PROFILE) is None or "head.chamber_volume" not in structure.given:
        return None
    return "head.band_volume", f"{PROFILE}.volume"


def fault_words(structure: Structure, values: Mapping[str, Any]) -> str | None:
    """What is wrong with the one half-section that `values` (of shape (1,)) are of, as far as they tell; None: nothing.

    Lengths in millimetres.
    """
    with np.errstate(all="ignore"):
        for fault in profile_faults(structure):
            if all(name in values for name in fault.takes) and np.any(fault.applies(*(values[name] for name in fault.takes))):
                return fault.words.format(*(float(np.ravel(values[name])[0]) * 1e3 for name in fault.takes))
    return None
