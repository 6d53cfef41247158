"""Half-section of a combustion chamber as lines and arcs, and the solid that it sweeps about the cylinder axis.

The half-section is walked from the squish band's outer edge inward and up to the axis: corners at `radius` ρ from the axis and
`height` z above the plane through the band's outer edge, positive into the head. Each step from one corner to the next is a line,
or an arc given by its bulge, the tangent of a quarter of the angle it spans: 0 for a line, positive where the chamber bulges
outward (a bowl), negative where metal bulges into it, 1 for half a circle. Sums over the steps give area, first moments and, by
Pappus, volume and surface; the band-edge plane and the axis close the section and add nothing to them.

Arguments mean the same in every kernel here, and broadcast together. Steps: `start_radius`, `start_height`, `end_radius`,
`end_height` of its two corners [m] and `bulge` [-]. Families, lengths in [m]: `opening_radius`, half of the band's inner
diameter, and `opening_height`, the height of that edge; `depth`, above that edge; `flat_radius`, half of what is flat at the axis
(the plug's face), 0 for none.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.crown import cap_curvature, crown_rise
from topend.physics.kernel import choose, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column, Mask

__all__ = [
    "arc_bulge",
    "bowl_depth",
    "bowl_radius",
    "corner_bulge",
    "corner_length",
    "corner_turn",
    "opening_height",
    "recess_volume",
    "step_area",
    "step_gap",
    "step_height_moment",
    "step_surface",
    "step_top",
    "step_volume",
    "steps_meeting",
    "thread_area",
    "wall_lean",
]

# The circular segment between a chord c and an arc that spans 2u, with R = c / (2 sin u): area, first moment about the chord, and
# first moment of the arc itself about the chord. Closed forms cancel where the arc is flat; there their Taylor series are used.
_TERMS: Final = 14
_AREA: Final = tuple((-1) ** n * 2.0 ** (2 * n + 3) / math.factorial(2 * n + 3) for n in range(_TERMS))
_MOMENT: Final = tuple(
    (-1) ** n * (0.75 / math.factorial(2 * n + 1) + 3.0 ** (2 * n + 1) / (12.0 * math.factorial(2 * n + 1)) - 1.0 / math.factorial(2 * n))
    for n in range(2, _TERMS + 2)
)
_ARC: Final = tuple((-1) ** n * (1.0 / math.factorial(2 * n + 2) - 1.0 / math.factorial(2 * n + 3)) for n in range(_TERMS))
_SINE: Final = tuple((-1) ** n / math.factorial(2 * n + 1) for n in range(_TERMS))


def _series(coefficients: tuple[float, ...], square: Column) -> Column:
    total: Column = 0.0 * square + coefficients[-1]
    for coefficient in reversed(coefficients[:-1]):
        total = total * square + coefficient
    return total


def _half_angle(bulge: Column) -> tuple[Column, Column, Column]:
    """u, half of what the arc spans, its square, and sin u / u."""
    half = 2.0 * np.arctan(bulge)
    square = half * half
    return half, square, choose(square < 1.0, _series(_SINE, square), np.sin(half) / half)


def _segment_area(square_chord: Column, bulge: Column) -> Column:
    """Area between chord and arc: R²(u - sin u cos u), of the bulge's sign."""
    half, square, sinc = _half_angle(bulge)
    shape = choose(square < 1.0, _series(_AREA, square), (2.0 * half - np.sin(2.0 * half)) / (half * square))
    return square_chord * (0.125 * half) * shape / (sinc * sinc)


def _segment_moment(square_chord: Column, bulge: Column) -> Column:
    """First moment of that area about the chord, over the chord: R³(sin u - sin³u/3 - u cos u)/c."""
    half, square, sinc = _half_angle(bulge)
    sine = np.sin(half)
    shape = choose(
        square < 1.0, _series(_MOMENT, square), (sine - sine * sine * sine / 3.0 - half * np.cos(half)) / (half * square * square)
    )
    return square_chord * (0.125 * square) * shape / (sinc * sinc * sinc)


@kernel
def step_area(*, start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column) -> Column:
    """What a step adds to the area of the half-section [m²]: ∫ ρ dz, by Green.

    Parameters as the module says. Line: (ρ₀ + ρ₁)(z₁ - z₀)/2; an arc adds the segment between it and its chord.

    >>> round(float(step_area(start_radius=0.02, start_height=0.0, end_radius=0.0, end_height=0.02, bulge=np.tan(np.pi / 8))) * 1e6, 6)
    314.159265
    """
    along, up = end_radius - start_radius, end_height - start_height
    return 0.5 * (start_radius + end_radius) * up + _segment_area(along * along + up * up, bulge)


@kernel
def step_volume(*, start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column) -> Column:
    """What a step adds to the volume [m³]: π ∫ ρ² dz, which is 2π times the first moment of the area about the axis (Pappus).

    Parameters as the module says. Line: the frustum π(ρ₀² + ρ₀ρ₁ + ρ₁²)(z₁ - z₀)/3; an arc adds 2π times the first moment of
    the segment between it and its chord.

    >>> v = step_volume(start_radius=0.02, start_height=0.0, end_radius=0.0, end_height=0.02, bulge=np.tan(np.pi / 8))
    >>> round(float(v) * 1e6, 6)  # half a ball
    16.755161
    """
    along, up = end_radius - start_radius, end_height - start_height
    square = along * along + up * up
    line = up * (start_radius * start_radius + start_radius * end_radius + end_radius * end_radius) * (1.0 / 3.0)
    arc = _segment_area(square, bulge) * (start_radius + end_radius) + 2.0 * _segment_moment(square, bulge) * up
    return np.pi * (line + arc)


@kernel
def step_height_moment(*, start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column) -> Column:
    """What a step adds to the first moment of the area about the band-edge plane [m³]: ∫ ρ z dz.

    Parameters as the module says. Over the area it gives the height of the centroid.

    >>> m = step_height_moment(start_radius=0.02, start_height=0.0, end_radius=0.0, end_height=0.02, bulge=np.tan(np.pi / 8))
    >>> round(float(m) / (np.pi / 4 * 0.02**2) * 1e3, 6)  # 4r/3π
    8.488264
    """
    along, up = end_radius - start_radius, end_height - start_height
    square = along * along + up * up
    line = up * (2.0 * (start_radius * start_height + end_radius * end_height) + start_radius * end_height + end_radius * start_height)
    arc = _segment_area(square, bulge) * (0.5 * (start_height + end_height)) - _segment_moment(square, bulge) * along
    return line * (1.0 / 6.0) + arc


@kernel
def step_surface(*, start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column) -> Column:
    """Surface that a step sweeps about the axis [m²]: 2π ∫ ρ ds (Pappus).

    Parameters as the module says.

    >>> a = step_surface(start_radius=0.02, start_height=0.0, end_radius=0.0, end_height=0.02, bulge=np.tan(np.pi / 8))
    >>> round(float(a) * 1e6, 6)  # half of a ball's
    2513.274123
    """
    along, up = end_radius - start_radius, end_height - start_height
    square_chord = along * along + up * up
    half, square, sinc = _half_angle(bulge)
    # 2(sin u - u cos u)/u³ = 2 (sinc - cos)/u²
    bow = 2.0 * choose(square < 1.0, _series(_ARC, square), (sinc - np.cos(half)) / square)
    length = np.sqrt(square_chord) / sinc
    # the arc's own first moment about its chord, R² u³ bow, over the chord
    lean = np.sqrt(square_chord) * half * bow / (4.0 * sinc * sinc)
    return 2.0 * np.pi * (length * (0.5 * (start_radius + end_radius)) + lean * up)


@kernel
def arc_bulge(*, start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, arc_radius: Column) -> Column:
    """Bulge [-] of the shorter arc of `arc_radius` between two corners.

    Parameters: corners as the module says; `arc_radius` [m] of the sign of the bulge, at least half the chord in size. Equation:
    s/(1 + √(1 - s²)) with s = chord/(2 · arc radius). NaN where the arc does not reach from corner to corner.

    >>> b = arc_bulge(start_radius=0.02, start_height=0.0, end_radius=0.0, end_height=0.02, arc_radius=0.02)
    >>> round(float(b), 9)
    0.414213562
    """
    along, up = end_radius - start_radius, end_height - start_height
    sine = np.sqrt(along * along + up * up) / (2.0 * arc_radius)
    # the ends of a half circle may lie apart by its diameter and a rounding
    rest = 1.0 - sine * sine
    return sine / (1.0 + np.sqrt(np.maximum(only(rest, rest > -1e-12), 0.0)))


def _circle(
    start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column
) -> tuple[Column, Column, Column]:
    """Centre of a step's circle, by radius and height, and its radius, of the sign of the bulge; infinite for a line."""
    along, up = end_radius - start_radius, end_height - start_height
    # R = c(1 + b²)/4b, and the centre lies R cos u = c(1 - b²)/4b to the left of the chord
    lean = (1.0 - bulge * bulge) / (4.0 * bulge)
    radius = np.sqrt(along * along + up * up) * (1.0 + bulge * bulge) / (4.0 * bulge)
    return 0.5 * (start_radius + end_radius) - lean * up, 0.5 * (start_height + end_height) + lean * along, radius


@kernel
def step_top(*, start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column) -> Column:
    """Greatest height of a step above the band-edge plane [m]: that of a corner, or of an arc's crest between them.

    Parameters as the module says, the bulge from -1 to 1.

    >>> z = step_top(start_radius=0.012, start_height=0.0, end_radius=0.004, end_height=0.0, bulge=1.0)
    >>> round(float(z) * 1e3, 6)
    4.0
    """
    # a corner that is not there has no height either
    ends = np.maximum(start_height, end_height) + 0.0 * (start_radius + end_radius + bulge)
    middle, centre, radius = _circle(start_radius, start_height, end_radius, end_height, bulge)
    # a bulge of either sign has its crest between the corners when it turns over the centre: inward for +, outward for -
    over = ((start_radius - middle) * (middle - end_radius) >= 0.0) & ((start_radius - end_radius) * bulge > 0.0)
    # R less the height h of the higher corner over the centre, as (R² - h²)/(R + h): the difference itself drowns in a large R
    higher = choose(start_height > end_height, start_radius, end_radius)
    rise = (higher - middle) * (higher - middle) / (np.abs(radius) + np.maximum(start_height, end_height) - centre)
    return choose(over, np.maximum(ends, ends + rise), ends)


@kernel
def corner_turn(
    *,
    start_radius: Column,
    start_height: Column,
    corner_radius: Column,
    corner_height: Column,
    end_radius: Column,
    end_height: Column,
    bulge_before: Column,
    bulge_after: Column,
) -> Column:
    """Angle [rad] by which the walk turns at a corner, positive to the left: into a corner that a tool must reach; -π to π.

    Parameters: `start_radius` and `start_height` of the corner before, `corner_radius` and `corner_height` of this one,
    `end_radius` and `end_height` of the next [m]; `bulge_before` and `bulge_after`, of the steps that meet here [-].

    >>> t = corner_turn(start_radius=0.02, start_height=0.0, corner_radius=0.02, corner_height=0.01, end_radius=0.0, end_height=0.01,
    ...                 bulge_before=0.0, bulge_after=0.0)
    >>> round(float(np.degrees(t)), 6)
    90.0
    """
    first = np.arctan2(corner_height - start_height, corner_radius - start_radius) + 2.0 * np.arctan(bulge_before)
    second = np.arctan2(end_height - corner_height, end_radius - corner_radius) - 2.0 * np.arctan(bulge_after)
    turn = second - first
    return np.arctan2(np.sin(turn), np.cos(turn))


@kernel
def step_gap(
    *,
    start_radius: Column,
    start_height: Column,
    end_radius: Column,
    end_height: Column,
    bulge: Column,
    squish_edge: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column,
) -> Column:
    """Least axial distance at TDC between a step of the head and the crown below it [m]; exact.

    Parameters: the step as the module says; `squish_edge`, from crown-edge plane to band-edge plane [m];
    crown as in `crown.crown_rise`. It lies at a corner, or where line or arc runs parallel to the crown: on an arc of centre
    ρ_c and radius R over a cap of curvature κ at ρ_c/(1 - Rκ), over a cone of slope t at ρ_c + R sin(atan t); on a line of
    slope s over a cap at sin(atan s)/κ. The part of a step beyond the crown's edge is held against the crown-edge plane.

    >>> g = step_gap(start_radius=0.016, start_height=0.001, end_radius=0.0, end_height=0.009, bulge=0.0, squish_edge=0.001,
    ...              cap_height=0.0, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027, curvature=0.0)
    >>> round(float(g) * 1e3, 6)
    2.0
    """
    middle, centre, radius = _circle(start_radius, start_height, end_radius, end_height, bulge)
    inner, outer = np.minimum(start_radius, end_radius), np.maximum(start_radius, end_radius)
    line = bulge == 0.0
    slope = (end_height - start_height) / (start_radius - end_radius)
    sine = edge_slope / np.sqrt(1.0 + edge_slope * edge_slope)
    parallel = choose(line, slope / (curvature * np.sqrt(1.0 + slope * slope)), middle / (1.0 - radius * curvature))
    shape = {
        "cap_height": cap_height,
        "cap_radius": cap_radius,
        "edge_slope": edge_slope,
        "crown_radius": crown_radius,
        "curvature": curvature,
    }

    def gap(at: Column) -> Column:
        reach = radius * radius - (at - middle) * (at - middle)
        # upper side of the circle for a bowl, lower side for metal that bulges in
        arc = centre + np.where(bulge > 0.0, 1.0, -1.0) * np.sqrt(np.maximum(reach, 0.0))
        straight = start_height + (start_radius - at) * slope
        surface = np.where(line, straight, arc)
        return np.where(outer > inner, squish_edge + surface - crown_rise.raw(radius=at, **shape), np.inf)

    least = squish_edge + np.minimum(
        start_height - crown_rise.raw(radius=start_radius, **shape), end_height - crown_rise.raw(radius=end_radius, **shape)
    )
    rim = np.minimum(np.maximum(np.minimum(cap_radius, crown_radius), inner), outer)
    for at in (parallel, choose(line, inner, middle + radius * sine), rim):
        held = np.minimum(np.maximum(at, inner), outer)
        # no such place: a corner again
        least = np.minimum(least, gap(np.where(np.isnan(held) & ~np.isnan(inner), inner, held)))
    return least


#: A step and the next share a corner; nearer than this to it [m] is no other meeting.
_SHARED: Final = 1e-9
#: An arc of more than this [m] is held for its chord where meetings are looked for: its centre lies too far off to reckon with, and
#: over 50 mm it bows by less than 0.4 µm.
_STRAIGHT: Final = 1e3


@kernel
def steps_meeting(
    *,
    start_radius: Column,
    start_height: Column,
    end_radius: Column,
    end_height: Column,
    bulge: Column,
    other_start_radius: Column,
    other_start_height: Column,
    other_end_radius: Column,
    other_end_height: Column,
    other_bulge: Column,
) -> tuple[Column, Column]:
    """Where two steps of a half-section cross or touch: radius and height [m]; NaN where they do not.

    Parameters: one step as the module says, and the other's `other_start_radius`, `other_start_height`, `other_end_radius`,
    `other_end_height` [m] and `other_bulge` [-]; bulges from -1 to 1. The other comes later in the walk: where the one's end is the
    other's start they follow each other, and that is no meeting; any other corner that both have is one. Lines that lie on each other
    meet where that begins. An arc of more than 1 km is held for its chord.

    >>> r, z = steps_meeting(start_radius=0.0, start_height=0.0, end_radius=0.02, end_height=0.02, bulge=0.0, other_start_radius=0.0,
    ...                      other_start_height=0.02, other_end_radius=0.02, other_end_height=0.0, other_bulge=0.0)
    >>> round(float(r), 9), round(float(z), 9)
    (0.01, 0.01)
    """
    one = _straightened(start_radius, start_height, end_radius, end_height, bulge)
    two = _straightened(other_start_radius, other_start_height, other_end_radius, other_end_height, other_bulge)
    found_radius = found_height = np.nan * (sum(one[1:], one[0]) + sum(two[1:], two[0]))
    follows = np.maximum(np.abs(end_radius - other_start_radius), np.abs(end_height - other_start_height)) < _SHARED
    for x, z in _carriers_meeting(one, two):
        joint = follows & (np.maximum(np.abs(x - end_radius), np.abs(z - end_height)) < 1e3 * _SHARED)
        meets = _on_step(x, z, one) & _on_step(x, z, two) & ~joint
        found_radius, found_height = np.where(meets, x, found_radius), np.where(meets, z, found_height)
    x, z, meets = _lying_on(one, two)
    found_radius, found_height = np.where(meets, x, found_radius), np.where(meets, z, found_height)
    return found_radius, found_height


if TYPE_CHECKING:
    Step = tuple[Column, Column, Column, Column, Column]


def _straightened(start_radius: Column, start_height: Column, end_radius: Column, end_height: Column, bulge: Column) -> Step:
    """The step, as a line where it bends too little to be told from one."""
    along, up = end_radius - start_radius, end_height - start_height
    straight = np.sqrt(along * along + up * up) * (1.0 + bulge * bulge) > 4.0 * _STRAIGHT * np.abs(bulge)
    return start_radius, start_height, end_radius, end_height, np.where(straight, 0.0 * bulge, bulge)


def _lying_on(one: Step, two: Step) -> tuple[Column, Column, Mask]:
    """Where two lines begin to lie on each other, along the one, and whether they do."""
    ax, az, bx, bz, _ = one
    ux, uz = bx - ax, bz - az
    length = np.sqrt(ux * ux + uz * uz)
    on = (one[4] == 0.0) & (two[4] == 0.0)
    shares = []
    for x, z in (two[:2], two[2:4]):
        on = on & (np.abs((x - ax) * uz - (z - az) * ux) < _SHARED * length)
        shares.append(((x - ax) * ux + (z - az) * uz) / (length * length))
    begins, ends = np.maximum(np.minimum(*shares), 0.0), np.minimum(np.maximum(*shares), 1.0)
    return ax + begins * ux, az + begins * uz, on & ((ends - begins) * length > _SHARED)


def _carriers_meeting(one: Step, two: Step) -> list[tuple[Column, Column]]:
    """Both places where the lines or circles that two steps lie on meet; NaN where they do not."""
    x, z, lean_x, lean_z, square = _origin_and_direction(one, two)
    # the place on one's line, or on the line through both meetings of two circles
    # where they only touch a rounding may hold them apart
    step = np.sqrt(np.maximum(only(square, square > -1e-12), 0.0))
    return [(x + lean_x * step, z + lean_z * step), (x - lean_x * step, z - lean_z * step)]


def _origin_and_direction(one: Step, two: Step) -> tuple[Column, Column, Column, Column, Column]:
    """Middle of the two meetings, the direction from it to them, and the square of how far they are along that."""
    ax, az, bx, bz, _ = one
    cx, cz, dx, dz, _ = two
    ux, uz, vx, vz = bx - ax, bz - az, dx - cx, dz - cz
    first, second = _circle(*one), _circle(*two)
    line_one, line_two = one[4] == 0.0, two[4] == 0.0
    # two lines
    share = ((cx - ax) * vz - (cz - az) * vx) / (ux * vz - uz * vx)
    # a line, through p along e, and a circle about m
    px, pz = np.where(line_one, ax, cx), np.where(line_one, az, cz)
    ex, ez = np.where(line_one, ux, vx), np.where(line_one, uz, vz)
    mx, mz, radius = (np.where(line_one, second[index], first[index]) for index in range(3))
    length = ex * ex + ez * ez
    foot = ((mx - px) * ex + (mz - pz) * ez) / length
    fx, fz = px + foot * ex, pz + foot * ez
    off = (fx - mx) * (fx - mx) + (fz - mz) * (fz - mz)
    # two circles
    gx, gz = second[0] - first[0], second[1] - first[1]
    apart = gx * gx + gz * gz
    along = 0.5 + (first[2] * first[2] - second[2] * second[2]) / (2.0 * apart)
    circles = first[2] * first[2] / apart - along * along
    both = line_one & line_two
    mixed = line_one | line_two

    def pick(lines: Column, line_and_circle: Column, circle: Column) -> Column:
        return np.where(both, lines, np.where(mixed, line_and_circle, circle))

    return (
        pick(ax + share * ux, fx, first[0] + along * gx),
        pick(az + share * uz, fz, first[1] + along * gz),
        pick(0.0 * ux, ex, -gz),
        pick(0.0 * uz, ez, gx),
        pick(0.0 * ux, (radius * radius - off) / length, circles),
    )


def _on_step(x: Column, z: Column, step: Step) -> Mask:
    """Whether a place on a step's line or circle lies between its corners."""
    ax, az, bx, bz, bulge = step
    ux, uz = bx - ax, bz - az
    length = ux * ux + uz * uz
    along = ((x - ax) * ux + (z - az) * uz) / length
    beside = ((x - ax) * uz - (z - az) * ux) / length
    # an arc of at most half a circle lies on one side of its chord
    line = bulge == 0.0
    held: Mask = (line & (along >= -1e-12) & (along <= 1.0 + 1e-12)) | (~line & (beside * bulge >= -1e-12))
    return held


@kernel
def opening_height(*, outer_radius: Column, opening_radius: Column, band_slope: Column) -> Column:
    """Height of the band's inner edge above its outer one [m]: (outer - opening radius) · slope.

    Parameters: `outer_radius` half of the band's own outer diameter [m]; `opening_radius` [m]; `band_slope` the tangent of the
    band angle [-].

    >>> round(float(opening_height(outer_radius=0.0236, opening_radius=0.0165, band_slope=0.158384)) * 1e3, 4)
    1.1245
    """
    return (outer_radius - opening_radius) * band_slope


@kernel
def bowl_radius(*, depth: Column, opening_radius: Column) -> Column:
    """Radius [m] of the sphere of a bowl of `depth` h over an opening of radius a: (a² + h²)/(2h).

    Parameters as the module says; NaN where the depth is not more than 0.

    >>> round(float(bowl_radius(depth=0.010, opening_radius=0.015)) * 1e3, 3)
    16.25
    """
    return 1.0 / cap_curvature.raw(cap_height=only(depth, depth > 0.0), cap_radius=opening_radius)


@kernel
def bowl_depth(*, bowl_radius: Column, opening_radius: Column) -> Column:
    """Depth [m] of a bowl of a sphere's radius R over an opening of radius a, up to half a ball: a²/(R + √(R² - a²)).

    Parameters: `bowl_radius` R [m], at least the opening's; `opening_radius` a [m]. NaN where the ball is smaller than the opening.

    >>> round(float(bowl_depth(bowl_radius=0.01625, opening_radius=0.015)) * 1e3, 3)
    10.0
    """
    rest = bowl_radius * bowl_radius - opening_radius * opening_radius
    # half a ball, within a rounding
    square = np.maximum(only(rest, rest > -1e-14 * bowl_radius * bowl_radius), 0.0)
    return opening_radius * opening_radius / (bowl_radius + np.sqrt(square))


@kernel
def wall_lean(*, opening_radius: Column, roof_radius: Column, depth: Column) -> Column:
    """Lean of a conical wall from the axis [rad]: atan((opening - roof radius)/depth); 0 for one parallel to it.

    Parameters: `opening_radius` and `roof_radius` where the wall starts and where it meets the flat roof [m]; `depth` [m], more
    than 0.

    >>> round(float(np.degrees(wall_lean(opening_radius=0.016, roof_radius=0.010, depth=0.006))), 6)
    45.0
    """
    return np.arctan((opening_radius - roof_radius) / only(depth, depth > 0.0))


@kernel
def corner_length(*, corner_radius: Column, wall_lean: Column) -> Column:
    """How far from the sharp corner of wall and roof its rounding begins, along either [m]: r tan(δ/2), δ = 90° - lean.

    Parameters: `corner_radius` r [m], 0 or more; `wall_lean` of the wall from the axis [rad].

    >>> round(float(corner_length(corner_radius=0.003, wall_lean=0.0)) * 1e3, 6)
    3.0
    """
    return corner_radius * np.tan(0.25 * np.pi - 0.5 * wall_lean)


@kernel
def corner_bulge(*, wall_lean: Column) -> Column:
    """Bulge [-] of the rounding between wall and roof: tan(δ/4), δ = 90° - lean.

    Parameters: `wall_lean` of the wall from the axis [rad].

    >>> round(float(corner_bulge(wall_lean=0.0)), 9)
    0.414213562
    """
    return np.tan(0.125 * np.pi - 0.25 * wall_lean)


@kernel
def thread_area(*, thread_diameter: Column, thread_pitch: Column) -> Column:
    """Mean area of a metric thread across its axis [m²], hole or stud, by its basic profile.

    Parameters: `thread_diameter` D, nominal (major) [m]; `thread_pitch` P [m]. The basic profile of ISO 68-1 goes between D and
    D₁ = D - 2 · 5/8 · H with H = √3/2 · P, flat over P/8 at D and over P/4 at D₁. Every section across a helix turns the same
    profile, so the mean of π r² over one pitch is exact.

    >>> v = 19e-3 * thread_area(thread_diameter=14e-3, thread_pitch=1.25e-3)  # between those of pitch and major diameter
    >>> round(float(v) * 1e6, 3)
    2.619
    """
    major = 0.5 * thread_diameter
    minor = major - (0.3125 * math.sqrt(3.0)) * thread_pitch
    flanks = (major * major + major * minor + minor * minor) * (1.0 / 3.0)
    return np.pi * (0.125 * major * major + 0.25 * minor * minor + 0.625 * flanks)


@kernel
def recess_volume(*, thread_length: Column, reach: Column, thread_area: Column) -> Column:
    """Volume [m³] that a plug's thread leaves open below it, or takes from the chamber (negative) where it stands out.

    Parameters: `thread_length` of the hole from the plug's seat to the chamber [m]; `reach` of the plug's thread from the same seat
    [m]; `thread_area` mean area of the thread [m²].

    >>> round(float(recess_volume(thread_length=0.0195, reach=0.019, thread_area=138e-6)) * 1e6, 4)
    0.069
    """
    return (thread_length - reach) * thread_area
