"""Sealing: an O-ring in its groove, the land that a gasket seals on, and a ring's ends in the bore.

Arguments mean the same in every kernel here, and broadcast together: `ring_diameter` inner diameter of an O-ring, free [m]; `section` its
thickness, free [m]; other diameters and lengths [m], angles [rad] anticlockwise seen from above, 0 in the middle of the exhaust side.
Rubber is taken as incompressible: stretched, it gets thinner at the same volume. Not modelled: swelling in fuel (handbooks say up to some
per cent by volume, whatever the fuel), set after heat, an O-ring pressed into the corners of its groove.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import choose, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "RUBBERS",
    "Rubber",
    "grown",
    "hole_land",
    "iso_inner_tolerance",
    "iso_section_tolerance",
    "o_ring_fill_ratio",
    "o_ring_squeeze_ratio",
    "o_ring_stretch_ratio",
    "peg_land",
    "peg_land_passed",
    "ring_gap_worn",
    "sector_distance",
    "stretched_section",
]


@dataclass(frozen=True, slots=True)
class Rubber:
    """A rubber for O-rings: linear expansion [1/K] with its range, and the temperature [°C] it bears for long."""

    name: str
    low: float
    mean: float
    high: float
    hottest: float


#: Ranges of handbooks, from memory. Expansion of rubber is some ten times that of aluminium.
RUBBERS: Final[dict[str, Rubber]] = {
    made.name: made
    for made in (
        Rubber("NBR", 110e-6, 160e-6, 230e-6, 100.0),
        Rubber("FKM", 140e-6, 160e-6, 200e-6, 200.0),
        Rubber("silicone", 180e-6, 240e-6, 300e-6, 200.0),
        Rubber("EPDM", 150e-6, 170e-6, 230e-6, 130.0),
        Rubber("FFKM", 200e-6, 250e-6, 320e-6, 260.0),
        # where nothing is known of it
        Rubber("rubber", 110e-6, 180e-6, 320e-6, 100.0),
    )
}


@kernel
def iso_inner_tolerance(*, ring_diameter: Column) -> Column:
    """Half the width [m] of the limits of an O-ring's inner diameter, class B of ISO 3601-1: 0.009 d^0.95 + 0.11 in mm (from memory).

    Parameters as the module says.

    >>> round(float(iso_inner_tolerance(ring_diameter=0.058)) * 1e3, 2)
    0.54
    """
    return 1e-3 * (0.009 * np.power(np.maximum(ring_diameter * 1e3, 0.0), 0.95) + 0.11) + 0.0 * ring_diameter


@kernel
def iso_section_tolerance(*, section: Column) -> Column:
    """Half the width [m] of the limits of an O-ring's thickness, class B of ISO 3601-1: ± 0.08 mm to 2.25, 0.09 to 3.15, 0.10 to 4.50, 0.13
    to 6.30 and 0.15 to 8.40 (from memory); NaN beyond 0.8 to 8.4 mm.

    Parameters as the module says.

    >>> round(float(iso_section_tolerance(section=0.00262)) * 1e3, 2)
    0.09
    """
    made = np.nan * section
    for most, half in ((8.4, 0.15), (6.3, 0.13), (4.5, 0.10), (3.15, 0.09), (2.25, 0.08)):
        made = choose(section <= most * 1e-3 + 1e-9, half * 1e-3 + 0.0 * section, made)
    return only(made, section >= 0.8e-3 - 1e-9)


@kernel
def grown(*, length: Column, expansion: Column, rise: Column) -> Column:
    """A length hot [m]: `length` (1 + `expansion` `rise`), [m], [1/K], [K].

    >>> round(float(grown(length=0.00262, expansion=160e-6, rise=100.0)) * 1e3, 4)
    2.6619
    """
    return length * (1.0 + expansion * rise)


@kernel
def o_ring_stretch_ratio(*, ring_diameter: Column, seat_diameter: Column) -> Column:
    """Stretch of an O-ring on `seat_diameter` (groove's bottom on a spigot, groove's inner wall in a face) [m], as a share of its own;
    negative where it lies loose there.

    Parameters as the module says.

    >>> round(float(o_ring_stretch_ratio(ring_diameter=0.050, seat_diameter=0.0515)), 3)
    0.03
    """
    return seat_diameter / ring_diameter - 1.0


@kernel
def stretched_section(*, section: Column, ring_diameter: Column, seat_diameter: Column) -> Column:
    """Thickness t [m] of an O-ring once it is on its seat: t² (D + t) = section² (d + section) where the seat D stretches it, one volume.

    Parameters: `seat_diameter` D as in `o_ring_stretch_ratio`; else as the module says. The root is closed in on by t = section √((d +
    section) / (D + t)), whose error falls to a tenth or less each time.

    >>> round(float(stretched_section(section=0.00262, ring_diameter=0.050, seat_diameter=0.0515)) * 1e3, 3)
    2.584
    """
    made = section
    for _ in range(10):
        made = section * np.sqrt(np.minimum((ring_diameter + section) / (seat_diameter + made), 1.0))
    return made


@kernel
def o_ring_squeeze_ratio(*, section: Column, space: Column) -> Column:
    """Squeeze of an O-ring as a share of its thickness: (section - space) / section; negative where it does not touch.

    Parameters: `section` as it lies in the groove [m]; `space` from the groove's floor to the face it seals against [m].

    >>> round(float(o_ring_squeeze_ratio(section=0.00262, space=0.0020)), 3)
    0.237
    """
    return 1.0 - space / section


@kernel
def o_ring_fill_ratio(*, ring_diameter: Column, section: Column, outer_diameter: Column, inner_diameter: Column, height: Column) -> Column:
    """Share of the space in a groove that an O-ring's volume fills: (π²/4) t² (d + t) over (π/4)(D_o² - D_i²) h.

    Parameters: `outer_diameter`, `inner_diameter` and `height` of the closed space [m]: of a groove in a face its walls, and its floor to
    the other face; of a groove on a spigot the bore, the groove's bottom, and its width. Else as the module says.

    >>> f = o_ring_fill_ratio(ring_diameter=0.058, section=0.00262, outer_diameter=0.0634, inner_diameter=0.0564, height=0.0020)
    >>> round(float(f), 3)
    0.779
    """
    space = 0.25 * np.pi * (outer_diameter * outer_diameter - inner_diameter * inner_diameter) * height
    return 0.25 * np.pi * np.pi * section * section * (ring_diameter + section) / space


@kernel
def hole_land(*, circle_diameter: Column, hole_diameter: Column, inner_diameter: Column) -> Column:
    """Width [m] of what is left between a round opening and holes on a circle round it; negative where they run into it.

    Parameters: `circle_diameter` through the holes' middles, `hole_diameter`, `inner_diameter` of the opening, all of one middle [m].

    >>> round(float(hole_land(circle_diameter=0.070, hole_diameter=0.0085, inner_diameter=0.055)) * 1e3, 2)
    3.25
    """
    return 0.5 * (circle_diameter - hole_diameter - inner_diameter)


def _turned(angle: Column) -> Column:
    """An angle brought to 0 to π, its sign left out."""
    return np.abs(np.arctan2(np.sin(angle), np.cos(angle)))


@kernel
def sector_distance(*, radius: Column, angle: Column, outer_radius: Column, middle: Column, span: Column) -> Column:
    """Distance [m] of a point from a cut-out that reaches from the middle out to `outer_radius` over the angle `span`; 0 inside it.

    Parameters: `radius` and `angle` of the point [m, rad]; `middle` of the cut-out [rad]; `span` its whole angle [rad]. Equation: beside
    the cut-out to its straight side, within its angle to its arc, past the side's end to its corner.

    >>> d = sector_distance(radius=0.035, angle=0.0, outer_radius=0.030, middle=0.0, span=0.6)
    >>> round(float(d) * 1e3, 3)
    5.0
    """
    beside = _turned(angle - middle) - 0.5 * span
    # along the straight side and across it; past a right angle the side's nearest point is the middle of the bore
    along = np.minimum(np.maximum(radius * np.cos(beside), 0.0), outer_radius)
    off = np.hypot(radius * np.cos(beside) - along, radius * np.sin(beside))
    return choose(beside <= 0.0, np.maximum(radius - outer_radius, 0.0) + 0.0 * off, off)


@kernel
def ring_gap_worn(*, ring_gap: Column, bore_wear: Column) -> Column:
    """Gap of a ring [m] in a bore that has worn wider by `bore_wear` in diameter [m]: gap + π wear; `ring_gap` in the bore as new [m].

    >>> round(float(ring_gap_worn(ring_gap=0.00015, bore_wear=0.00005)) * 1e3, 4)
    0.3071
    """
    return ring_gap + np.pi * bore_wear


@kernel
def peg_land(*, peg_angle: Column, window_angle: Column, window_width: Column, bore: Column, ring_gap: Column) -> Column:
    """Wall [m], along the bore, between a ring's nearer end and the edge of a port window; negative where the end runs over the window.

    Parameters: `peg_angle` of the peg that keeps the ring from turning, its gap in its middle [rad]; `window_angle` the window's middle
    [rad]; `window_width` chordal [m]; `bore` [m]; `ring_gap` [m]. NaN where the window is wider than the bore.

    >>> w = peg_land(peg_angle=np.pi, window_angle=0.0, window_width=0.036, bore=0.054, ring_gap=0.0002)
    >>> round(float(w) * 1e3, 2)
    65.02
    """
    half = np.arcsin(only(window_width / bore, window_width <= bore))
    return 0.5 * bore * (_turned(peg_angle - window_angle) - half) - 0.5 * ring_gap


@kernel
def peg_land_passed(*, land: Column, bore: Column, highest: Column, lowest: Column, roof: Column, floor: Column) -> Column:
    """`land` [m] where a ring's way passes a window; half way round, which no land is, where it never gets so far: there is nothing then
    for its end to spring into.

    Parameters: `land` as of `peg_land`, `bore` [m]; `highest` place of the ring's upper side and `lowest` of its lower side, at TDC and
    BDC, and the window's `roof` and `floor`, all down from the deck [m].

    >>> way = peg_land_passed(land=0.001, bore=0.054, highest=0.003, lowest=0.0445, roof=[0.030, 0.060], floor=[0.042, 0.072])
    >>> [round(float(one), 4) for one in way]
    [0.001, 0.0848]
    """
    passes = (lowest > roof) & (highest < floor)
    # what is not known is not passed over
    return choose(passes, land, 0.5 * np.pi * bore + 0.0 * land) + 0.0 * (bore + highest + lowest + roof + floor)
