"""How far a head lies off the bore's axis, and what follows: gaps around spigot and band, room beside a piston that comes out.

A head is located through links: a lip with play in a bore, a drill with play in its bush, a hole off its place. Each link puts the head's
axis somewhere in a disc around where it should be, and nobody knows where: the worst case has all of them at the rim and in one
direction, the likely one has each anywhere in its disc, evenly, none knowing of the others. Of a pair (two pin holes) each has a disc
of its own; the head takes the middle of two round pins. With a slot at the second pin the first alone holds the head along the line
through both, and both together across it. Errors of a plate that drills cylinder and head from the same face come out mirrored on the
head; turned over about the line midway between the pins, which puts each hole over the other's, they add along the line through both.

Lengths are in m; `worst` is the greatest eccentricity of a link or chain, `along` and `across` its mean squares [m²] along the line
through the pins and across it, `excess` the fourth cumulant of its square [m⁴], all of which add from link to link. For the disc of
radius r: r, r²/4, r²/4 and -r⁴/6. The likely eccentricity matches the square's mean and variance by a generalised Pareto law, which
is exact for one disc and for very many, and within 1 % between.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import choose, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "LIKELY",
    "SLOT_WORST",
    "disc_excess",
    "disc_square",
    "drill_point",
    "likely_eccentricity",
    "pin_hole_depth",
    "piston_rocking",
    "play",
    "rotation_by_pins",
    "rotation_by_studs",
    "side_room",
]

#: The share of assemblies that the likely eccentricity covers.
LIKELY: Final = 0.95
#: Worst shift of the head for errors of 1 at each hole, where one pin sits in a slot: |(a₁ₓ, (a₁ᵧ + a₂ᵧ)/2)| has its greatest at a₁ᵧ = 1/3.
SLOT_WORST: Final = 2.0 / np.sqrt(3.0)
#: Height of a drill's point over its diameter.
_POINT: Final = 0.5 / float(np.tan(np.radians(59.0)))


@kernel
def play(*, hole: Column, shaft: Column) -> Column:
    """Radial play [m] of a shaft in a hole: how far its axis may lie off the hole's.

    Parameters: diameters `hole` and `shaft` [m]; of a slotted pin that before it is driven in. Equation: (D - d)/2, and 0 for an
    interference, which centres; a slotted pin closes as it is driven in, and has no play unless the hole is wider than it was.

    >>> p = play(hole=[0.047025, 0.0040], shaft=[0.046991, 0.0044])
    >>> [round(float(one) * 1e6, 3) for one in p]
    [17.0, 0.0]
    """
    return 0.5 * np.maximum(hole - shaft, 0.0)


@kernel
def disc_square(*, radius: Column) -> Column:
    """Mean square [m²] of a point's place along any line, where it lies evenly in a disc: r²/4.

    Parameters: `radius` r of the disc [m].

    >>> float(disc_square(radius=2.0))
    1.0
    """
    return 0.25 * radius * radius


@kernel
def disc_excess(*, radius: Column) -> Column:
    """Fourth cumulant [m⁴] of a point that lies evenly in a disc: variance of its squared distance less that of a normal law, -r⁴/6.

    Parameters: `radius` r of the disc [m].

    >>> round(float(disc_excess(radius=6.0)), 9)
    -216.0
    """
    square = radius * radius
    return -square * square / 6.0


@kernel
def likely_eccentricity(*, along: Column, across: Column, excess: Column) -> Column:
    """The eccentricity [m] that 95 of 100 assemblies stay within, each link anywhere in its own play.

    Parameters: sums over the links as the module says, `along` and `across` [m²], `excess` [m⁴]. Equation: with M = along + across, the
    square's relative variance v = (excess + 2 along² + 2 across²)/M² and s = (1 - v)/(2 v): M (1 + s)(1 - 0.05^s)/s, its root. 0 where
    nothing has play.

    >>> e = likely_eccentricity(along=0.25, across=0.25, excess=-1 / 6)
    >>> round(float(e), 9) == round(0.95**0.5, 9)
    True
    """
    mean = along + across
    some = mean > 0.0
    scale = choose(some, mean, 1.0 + 0.0 * mean)
    relative = (excess + 2.0 * (along * along + across * across)) / (scale * scale)
    bend = (1.0 - relative) / (2.0 * relative)
    rare = -np.log1p(-LIKELY)
    straight = np.abs(bend) > 1e-12
    by = choose(straight, bend, 1.0 + 0.0 * bend)
    quantile = choose(straight, -np.expm1(-by * rare) / by, rare + 0.0 * bend)
    return choose(some, np.sqrt(scale * (1.0 + bend) * quantile), 0.0 * mean)


@kernel
def rotation_by_pins(*, at_holes: Column, mirrored: Column, pin_distance: Column) -> Column:
    """Most that a head may be turned about its axis [rad], held by two pins.

    Parameters: `at_holes` sum of the radii of what each hole may be off by [m]; `mirrored` radius of what a plate's holes are off by,
    where it drills both parts from one face [m]; `pin_distance` L between the pins [m]. Equation: both holes off across their line,
    in opposite directions: asin(2 (a + 2 m)/L). NaN where that is more than L.

    >>> r = rotation_by_pins(at_holes=0.00005, mirrored=0.0, pin_distance=0.060)
    >>> round(float(np.degrees(r)), 4)
    0.0955
    """
    share = 2.0 * (at_holes + 2.0 * mirrored) / pin_distance
    return np.arcsin(only(share, (share >= 0.0) & (share <= 1.0)))


@kernel
def rotation_by_studs(*, room: Column, circle_diameter: Column) -> Column:
    """Most that a head may be turned about its axis [rad], held by studs in their holes, its axis on the bore's.

    Parameters: `room` radial play of a stud in its hole and what both may be off by together [m]; `circle_diameter` D of the studs [m].
    Equation: the holes move along their circle by the room as a chord, 2 asin(room/D). NaN where that is more than D.

    >>> r = rotation_by_studs(room=0.00025, circle_diameter=0.056)
    >>> round(float(np.degrees(r)), 4)
    0.5116
    """
    share = room / circle_diameter
    return 2.0 * np.arcsin(only(share, (share >= 0.0) & (share <= 1.0)))


@kernel
def piston_rocking(*, skirt_clearance: Column, skirt_top: Column, skirt_length: Column) -> Column:
    """How far a piston's crown moves off the bore's axis [m] as it leans over in its clearance, either way.

    Parameters: `skirt_clearance` C, diametral [m]; `skirt_top` t and `skirt_length` l, from the crown's edge down to where the skirt
    begins to guide and to its lower edge [m]. Equation: a line from one wall at the lower edge to the other wall where the skirt
    begins, led on to the crown: C/2 + C t/(l - t). NaN unless t lies above l.

    >>> r = piston_rocking(skirt_clearance=0.00006, skirt_top=0.012, skirt_length=0.052)
    >>> round(float(r) * 1e6, 3)
    48.0
    """
    guided = only(skirt_length - skirt_top, skirt_top < skirt_length)
    return skirt_clearance * (0.5 + skirt_top / guided)


@kernel
def side_room(*, clearance: Column, eccentricity: Column, rocking: Column) -> Column:
    """Least room [m] between the crown of a piston that comes out of the bore and the wall of the recess; negative where they touch.

    Parameters: `clearance` of the recess around the piston at its crown's edge, diametral, cold or hot; `eccentricity` of the head;
    `rocking` of the piston, sideways at its crown [m]. Equation: clearance/2 - eccentricity - rocking.

    >>> s = side_room(clearance=0.0007, eccentricity=0.00015, rocking=0.00005)
    >>> round(float(s) * 1e3, 3)
    0.15
    """
    return 0.5 * clearance - eccentricity - rocking


@kernel
def drill_point(*, diameter: Column) -> Column:
    """How far a drill's point reaches below the full diameter of its hole [m]: a cone of 118 deg, which is common practice.

    Parameters: `diameter` d of the drill [m]. Equation: d/2 / tan(59 deg), about 0.3 d.

    >>> round(float(drill_point(diameter=0.004)) * 1e3, 3)
    1.202
    """
    return diameter * _POINT


@kernel
def pin_hole_depth(*, pin_length: Column, allowance: Column) -> Column:
    """Depth [m] of a hole that takes half a pin, so that head and cylinder hold it alike: half its length and an allowance for chips.

    Parameters: `pin_length` and `allowance` [m].

    >>> round(float(pin_hole_depth(pin_length=0.012, allowance=0.001)) * 1e3, 3)
    7.0
    """
    return 0.5 * pin_length + allowance
