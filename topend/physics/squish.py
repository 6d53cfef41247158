"""The squish gap over any band and crown, and the velocity of what is squeezed out of it.

Gap at radius ρ: g(ρ) = squish_edge + (band_outer/2 - ρ) · tan(band angle) - crown rise(ρ). The band counts from its inner
edge out to its outer edge or the bore, whichever is smaller; the edge gap belongs to the band's own outer edge. The crown
is the family of `crown.py`. All lengths [m].

Arguments mean the same in every kernel here, and broadcast together. Gaps, along the axis: `squish_edge` and `squish_inner` at the
band's outer and inner edge, `squish_mean` over its area, `least_on_crown` of `squish_least_on_crown`, `face_gap` under the
gasket face; `deck_clearance` positive with the piston below the deck, `head_thickness` of the fitted head gaskets, and
`recess_offset` positive up into the head. Radii, more than 0: `radius` where a gap is asked for, `inner_radius` of the band,
`outer_radius` out to which it counts, `band_radius` of its own outer edge, `head_radius` of the spigot or recess; `outer_diameter`
of the band and `bore` are diameters. `band_slope` is the tangent of the band angle [-], positive when the band rises toward the
centre. The crown as in `crown`: `cap_height`, `cap_radius`, `edge_slope`, `crown_radius`. The slider-crank as in `slider_crank`:
`throw`, `rod_length`, `offset`, `drop`. `bore_area` [m²]; volumes [m³]: `clearance_volume`, `free_volume`, `outer_volume` outside
the inner radius, `crown_volume_in_band` and `crown_volume_beyond` it; `piston_speed` [m/s] toward the head; `squish_strength` [m⁴].
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.physics.crown import cap_curvature, crown_rise
from topend.physics.kernel import choose, is_zero, kernel, only
from topend.physics.slider_crank import upstroke_shape

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "band_outer_radius",
    "contact_least",
    "gap_at",
    "least_gap_radius",
    "outer_volume",
    "plug_clearance",
    "squish_area_ratio",
    "squish_edge",
    "squish_gap",
    "squish_least_on_crown",
    "squish_mean",
    "squish_min",
    "squish_peak_drop",
    "squish_peak_drop_near",
    "squish_strength",
    "squish_velocity",
    "volume_at_drop",
]

#: A nanometre [m]: halves of diameters end beside the decimal that is meant.
_NOTHING: Final = 1e-9


@kernel
def squish_edge(*, deck_clearance: Column, head_thickness: Column, recess_offset: Column) -> Column:
    """Axial gap at the band's outer edge [m]: deck clearance + fitted head gaskets + recess offset.

    >>> round(float(squish_edge(deck_clearance=1.65e-3, head_thickness=0.30e-3, recess_offset=-1.0e-3)) * 1e3, 9)
    0.95
    """
    return deck_clearance + head_thickness + recess_offset


@kernel
def band_outer_radius(*, outer_diameter: Column, bore: Column) -> Column:
    """Radius out to which the band counts [m]: half of its outer diameter or of the bore, whichever is smaller.

    >>> float(band_outer_radius(outer_diameter=0.050, bore=0.048))
    0.024
    """
    return np.minimum(outer_diameter, bore) * 0.5


@kernel
def squish_gap(
    *,
    radius: Column,
    squish_edge: Column,
    band_radius: Column,
    band_slope: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Axial gap at `radius` ρ under the band [m]: edge + (band radius - ρ) · slope - crown rise(ρ).

    Parameters: `band_radius` half of the band's own outer diameter [m]; `band_slope` tangent of the band angle, positive
    when the band rises toward the centre; crown as in `crown.crown_rise`.

    >>> g = squish_gap(radius=0.0191, squish_edge=1e-3, band_radius=0.027, band_slope=0.0, cap_height=2e-3,
    ...                cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> bool(g < 0)  # 1 mm at the bore, and it touches inside the band
    True
    """
    rise = crown_rise.raw(
        radius=radius, cap_height=cap_height, cap_radius=cap_radius, edge_slope=edge_slope, crown_radius=crown_radius, curvature=curvature
    )
    return squish_edge + (band_radius - radius) * band_slope - rise


def _turning_radius(band_slope: Column, cap_height: Column, cap_radius: Column, edge_slope: Column, curvature: Column | None) -> Column:
    """Where the least gap may lie between the ends: under a dome its point parallel to the band, over a dish its rim.

    Parallel: ρ = R · sin(atan(difference of slopes)). Over a dome the gap is convex in ρ, over a dish concave up to the rim
    and straight beyond.
    """
    if curvature is None:
        curvature = cap_curvature.raw(cap_height=cap_height, cap_radius=cap_radius)
    slope = np.maximum(band_slope - edge_slope, 0.0)
    turning = slope / (curvature * np.sqrt(1.0 + slope * slope))
    return choose(cap_height > 0.0, np.minimum(turning, cap_radius), cap_radius)


@kernel
def squish_least_on_crown(
    *,
    squish_edge: Column,
    squish_inner: Column,
    inner_radius: Column,
    band_radius: Column,
    band_slope: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Least axial gap between the band and the crown [m], over what the band and the crown have in common; exact.

    Parameters: `squish_inner` the gap at the band's inner edge [m]; the rest as `squish_gap`. A crown's slope and a dish
    narrower than the crown do not occur together.

    >>> g = squish_least_on_crown(squish_edge=1e-3, squish_inner=1e-3, inner_radius=0.019, band_radius=0.027, band_slope=0.0,
    ...                           cap_height=0.0, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> float(g)
    0.001
    """
    shape: dict[str, Any] = {
        "cap_height": cap_height,
        "cap_radius": cap_radius,
        "edge_slope": edge_slope,
        "crown_radius": crown_radius,
        "curvature": curvature,
    }
    outer = np.minimum(band_radius, crown_radius)
    turning = np.minimum(np.maximum(_turning_radius(band_slope, cap_height, cap_radius, edge_slope, curvature), inner_radius), outer)
    least = squish_inner
    for radius in (outer, turning):
        gap = squish_gap.raw(radius=radius, squish_edge=squish_edge, band_radius=band_radius, band_slope=band_slope, **shape)
        least = np.minimum(least, gap)
    return least


@kernel
def squish_min(
    *, least_on_crown: Column, squish_edge: Column, outer_radius: Column, band_radius: Column, band_slope: Column, crown_radius: Column
) -> Column:
    """Least axial gap over the whole band as it counts [m]: `squish_least_on_crown`, and the ring between crown and bore.

    >>> g = squish_min(least_on_crown=1e-3, squish_edge=1e-3, outer_radius=0.027, band_radius=0.027, band_slope=0.0,
    ...                crown_radius=0.0269)
    >>> float(g)
    0.001
    """
    at_bore = squish_edge + (band_radius - outer_radius) * band_slope
    return choose(outer_radius <= crown_radius, least_on_crown, np.minimum(least_on_crown, at_bore))


@kernel
def least_gap_radius(
    *,
    squish_edge: Column,
    inner_radius: Column,
    outer_radius: Column,
    band_radius: Column,
    band_slope: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Radius [m] at which the gap is `squish_min`: of the places that `squish_least_on_crown` looks at, the one that is tightest.

    Parameters as `squish_min` and `squish_gap`; `curvature` of the cap [1/m] where it is at hand already. Where several are as
    tight, to a nanometre, it is the outermost: a wire is laid there with the least trouble. NaN where a gap is.

    >>> r = least_gap_radius(squish_edge=1e-3, inner_radius=0.019, outer_radius=0.027, band_radius=0.027, band_slope=-0.05,
    ...                      cap_height=0.0, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> float(r)  # a band that comes down toward the centre is tightest at its inner edge
    0.019
    """
    shape: dict[str, Any] = {
        "cap_height": cap_height,
        "cap_radius": cap_radius,
        "edge_slope": edge_slope,
        "crown_radius": crown_radius,
        "curvature": curvature,
    }
    on_crown = np.minimum(band_radius, crown_radius)
    turning = np.minimum(np.maximum(_turning_radius(band_slope, cap_height, cap_radius, edge_slope, curvature), inner_radius), on_crown)
    # beyond the crown's edge there is no crown, and the gap is that of its edge plane
    found = outer_radius
    least = every = squish_edge + (band_radius - outer_radius) * band_slope
    for radius in (np.minimum(on_crown, outer_radius), turning, inner_radius):
        gap = squish_gap.raw(radius=radius, squish_edge=squish_edge, band_radius=band_radius, band_slope=band_slope, **shape)
        nearer = gap < least - _NOTHING
        found, least, every = choose(nearer, radius, found), choose(nearer, gap, least), every + gap
    return np.where(np.isnan(every), np.nan, found)


@kernel
def squish_mean(
    *,
    squish_edge: Column,
    inner_radius: Column,
    outer_radius: Column,
    band_radius: Column,
    band_slope: Column,
    crown_volume_in_band: Column,
) -> Column:
    """Area-weighted mean gap over the band [m]; `crown_volume_in_band` [m³] is the crown's volume between its radii.

    >>> g = squish_mean(squish_edge=1e-3, inner_radius=0.0190918831, outer_radius=0.027, band_radius=0.027,
    ...                 band_slope=0.0174550649, crown_volume_in_band=0.0)
    >>> round(float(g) * 1145.1105222335, 5)  # 1219.62415 mm³ over a band of half a 54 mm bore, opening by 1 deg
    1.21962
    """
    inner, outer = inner_radius, outer_radius
    # the band's surface above its outer-edge plane: 2π t ∫ (Rb - ρ) ρ dρ = π t (o - i) [(o + i) Rb - 2/3 (o² + oi + i²)]
    mixed = (outer + inner) * band_radius - (outer**2 + outer * inner + inner**2) * (2.0 / 3.0)
    wedge = np.pi * band_slope * (outer - inner) * mixed
    return squish_edge + (wedge - crown_volume_in_band) / (np.pi * (outer**2 - inner**2))


@kernel
def contact_least(
    *,
    least_on_crown: Column,
    squish_edge: Column,
    face_gap: Column,
    head_radius: Column,
    band_radius: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Least axial distance between crown and head over the whole crown [m], as far as the head's shape is known.

    Parameters: `least_on_crown` that of `squish_least_on_crown` [m]; `face_gap` deck clearance + head gaskets [m], the gap
    under the gasket face; `head_radius` that of the spigot, or of the recess [m]; `band_radius` half of the band's own outer
    diameter [m]; crown as in `crown.crown_rise`. Between band and wall stands the band-edge plane, the gasket face beyond
    it; a crown falls or rises steadily toward its edge, so the wall and the crown's edge decide there, where the crown
    reaches that far. Inside the band the bowl is not judged.

    >>> c = contact_least(least_on_crown=0.4e-3, squish_edge=0.4e-3, face_gap=0.1e-3, head_radius=0.026, band_radius=0.026,
    ...                   cap_height=0.0, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> round(float(c) * 1e3, 6)  # a crown wider than the recess meets the gasket face first
    0.1
    """
    wall = np.minimum(head_radius, crown_radius)
    rise = crown_rise.raw(
        radius=wall, cap_height=cap_height, cap_radius=cap_radius, edge_slope=edge_slope, crown_radius=crown_radius, curvature=curvature
    )
    # a crown that ends under the band never meets the band-edge plane
    inside = choose(wall <= band_radius, least_on_crown, np.minimum(least_on_crown, squish_edge - rise))
    return choose(crown_radius <= head_radius, inside, np.minimum(inside, face_gap - np.maximum(rise, 0.0)))


@kernel
def gap_at(
    *,
    radius: Column,
    squish_edge: Column,
    face_gap: Column,
    inner_radius: Column,
    band_radius: Column,
    head_radius: Column,
    band_slope: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Axial gap that a wire reads at `radius` ρ [m]: under the band, the band-edge plane, or the gasket face.

    Parameters as `contact_least`. NaN inside the band by more than a nanometre, where the bowl's shape is not known, and as far beyond the
    crown.

    >>> g = gap_at(radius=0.0263, squish_edge=0.9e-3, face_gap=0.9e-3, inner_radius=0.019, band_radius=0.027, head_radius=0.027,
    ...            band_slope=0.0, cap_height=0.0, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> round(float(g) * 1e3, 6)
    0.9
    """
    shape: dict[str, Any] = {
        "cap_height": cap_height,
        "cap_radius": cap_radius,
        "edge_slope": edge_slope,
        "crown_radius": crown_radius,
        "curvature": curvature,
    }
    band = squish_gap.raw(radius=radius, squish_edge=squish_edge, band_radius=band_radius, band_slope=band_slope, **shape)
    rise = crown_rise.raw(radius=radius, **shape)
    outside = np.where(radius <= head_radius, squish_edge - rise, face_gap - rise)
    gap = np.where(radius > band_radius, outside, band)
    return np.where((radius >= inner_radius - _NOTHING) & (radius <= crown_radius + _NOTHING), gap, np.nan)


@kernel
def squish_area_ratio(*, inner_radius: Column, outer_radius: Column, bore_area: Column) -> Column:
    """Area of the band, as it counts, over bore area.

    >>> round(float(squish_area_ratio(inner_radius=0.0190918831, outer_radius=0.027, bore_area=np.pi * 0.027**2)), 9)
    0.5
    """
    return np.pi * (outer_radius**2 - inner_radius**2) / bore_area


@kernel
def outer_volume(
    *,
    squish_edge: Column,
    inner_radius: Column,
    band_radius: Column,
    band_slope: Column,
    free_volume: Column,
    crown_volume_outside: Column,
) -> Column:
    """Volume V_s outside the band's inner edge at TDC [m³]: over the band, and radially beyond it.

    The band's gap integrated over the band, and what lies beyond it (`free_volume` - π · (outer radius)² · edge gap and, for a band
    wider than the bore, the wedge under its surface there), less the crown's volume outside the inner edge,
    `crown_volume_outside`. In the sum the outer radius falls out: all free volume but what stands under the band-edge plane
    inside the inner edge, and one wedge from there to the band's own edge. Source: docs/datum-and-signs.md.

    >>> v = outer_volume(squish_edge=1e-3, inner_radius=0.0190918831, band_radius=0.027, band_slope=0.0,
    ...                  free_volume=np.pi * 0.027**2 * 1e-3, crown_volume_outside=0.0)
    >>> round(float(v) * 1e9, 5)
    1145.11052
    """
    # 2π t ∫ (Rb - ρ) ρ dρ from i to Rb = π/3 t (Rb - i)² (Rb + 2i)
    width = band_radius - inner_radius
    wedge = width * band_slope * width * (band_radius + 2.0 * inner_radius) * (np.pi / 3.0)
    return free_volume - np.pi * inner_radius**2 * squish_edge + wedge - crown_volume_outside


@kernel
def squish_strength(*, bore_area: Column, inner_radius: Column, clearance_volume: Column, outer_volume: Column) -> Column:
    """K = (A_s V - A_c V_s) / (2π · inner radius) [m⁴], the same at every piston position; negative when flow is outward.

    >>> a = np.pi * 0.027**2
    >>> k = squish_strength(bore_area=a, inner_radius=0.0190918831, clearance_volume=11.45110522e-6, outer_volume=a / 2 * 1e-3)
    >>> bool(k > 0)
    True
    """
    area = bore_area - np.pi * inner_radius**2
    return (area * clearance_volume - bore_area * outer_volume) / (2.0 * np.pi * inner_radius)


@kernel
def squish_velocity(
    *, drop: Column, squish_strength: Column, squish_inner: Column, clearance_volume: Column, bore_area: Column, piston_speed: Column
) -> Column:
    """Squish velocity at the band's inner edge [m/s] where the piston is `drop` x [m] below TDC.

    Uniform pressure, no leakage: v = S_p · K / ((g + x) (V + A_c x)), with S_p `piston_speed` toward the head [m/s], g
    `squish_inner` [m], K of `squish_strength`. Positive inward on the upstroke. Source: Heywood (1988), section 8.4, in the
    form of docs/datum-and-signs.md. NaN where the gap is not positive.

    >>> v = squish_velocity(drop=1e-3, squish_strength=1e-8, squish_inner=1e-3, clearance_volume=1e-5, bore_area=2e-3, piston_speed=5.0)
    >>> round(float(v), 4)
    2.0833
    """
    gap = squish_inner + drop
    return piston_speed * squish_strength / (only(gap, squish_inner > 0.0) * (clearance_volume + bore_area * drop))


@kernel
def volume_at_drop(*, volume: Column, area: Column, drop: Column) -> Column:
    """A volume over the piston [m³] where it is `drop` [m] below TDC: what it is at TDC, and `area` [m²] times the drop.

    Parameters: `volume` at TDC [m³]. Of what lies outside a radius the area is that of the bore outside it.

    >>> round(float(volume_at_drop(volume=1.2e-6, area=1.1e-3, drop=2e-3)) * 1e6, 9)
    3.4
    """
    return volume + area * drop


@kernel
def plug_clearance(*, squish_edge: Column, plug_height: Column, crown_rise: Column) -> Column:
    """Axial distance at TDC [m] from the plug's lowest point to the crown below it: edge gap + plug height - crown rise there.

    Parameters: `plug_height` above the plane through the band's outer edge, negative below it [m]; `crown_rise` of the crown above
    its edge where the plug is [m].

    >>> round(float(plug_clearance(squish_edge=1.0e-3, plug_height=4.0e-3, crown_rise=2.0e-3)) * 1e3, 9)
    3.0
    """
    return squish_edge + plug_height - crown_rise


@kernel
def squish_peak_drop(*, squish_inner: Column, clearance_height: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Drop of the piston [m] at which the squish velocity on the upstroke is greatest.

    Parameters: `squish_inner` c, gap at the band's inner edge at TDC [m], c > 0; `clearance_height` h, clearance volume over
    bore area [m], h > 0; `throw` [m], `rod_length` [m] and `offset` [m], any sign, as in `slider_crank`. NaN elsewhere. The
    peak of x'/((c + x)(h + x)) is the one root of H(x) = x x''/x'² - x/(c + x) - x/(h + x). Start: the root for x' ∝ √x, two
    Newton steps on the series of the slider-crank near TDC, then four Newton steps on the exact mechanism, each held between a
    quarter and four times the last value. Independent of speed and of the band's area. `squish_peak_drop_near` takes fewer steps.

    >>> x = squish_peak_drop(squish_inner=1e-3, clearance_height=5e-3, throw=0.02725, rod_length=0.110, offset=0.0)
    >>> round(float(x) * 1e3, 6)
    0.619583
    """
    return _peak_drop(4, squish_inner, clearance_height, throw, rod_length, offset)


@kernel
def squish_peak_drop_near(*, squish_inner: Column, clearance_height: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """The same [m] as near as the velocity there needs: two steps on the exact mechanism, for the velocity is flat at its peak.

    Parameters as `squish_peak_drop`. Far beyond any engine (gaps to 10 mm, 20 mm strokes) the angle is 5e-7 off, the velocity 2e-13.

    >>> x = squish_peak_drop_near(squish_inner=1e-3, clearance_height=5e-3, throw=0.02725, rod_length=0.110, offset=0.0)
    >>> round(float(x) * 1e3, 6)
    0.619583
    """
    return _peak_drop(2, squish_inner, clearance_height, throw, rod_length, offset)


def _peak_drop(steps: int, squish_inner: Column, clearance_height: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """`squish_peak_drop` by so many steps on the exact mechanism."""
    c = only(squish_inner, squish_inner > 0.0)
    h = only(clearance_height, clearance_height > 0.0)
    both, product = c + h, c * h
    x = (np.sqrt(both * both + 12.0 * product) - both) / 6.0
    ratio = throw / rod_length
    # Near TDC the shape is ½ + skew √x (1 + lift x) + bend x + turn x², a series of the slider-crank; the skew is 0 without
    # offset. Sums and products with the skew are left out then, to the same bits.
    scale = throw * (1.0 + ratio)
    bend = ((3.0 * ratio - 3.0) * ratio - 1.0) / (4.0 * scale)
    turn = ((((7.0 * ratio + 6.0) * ratio - 11.0) * ratio - 2.0) * ratio - 1.0) / (8.0 * scale * scale)
    skew = None
    if not is_zero(offset):
        sine = offset / (rod_length + throw)
        skew = 0.5 * ratio * (sine / np.sqrt(1.0 - sine * sine)) * np.sqrt(2.0 / scale)
        lift = 0.75 * ((3.0 * ratio + 5.0) * ratio - 1.0) / scale
        bend = bend + sine * sine * (((5.0 * ratio + 9.0) * ratio + 1.0) / (8.0 * scale))
    for _ in range(2):
        first, second = bend * x, turn * x * x
        shape, slope = 0.5 + (first + second), first + 2.0 * second
        if skew is not None:
            odd, more = skew * np.sqrt(x), lift * x
            shape, slope = shape + odd * (1.0 + more), slope + odd * (0.5 + 1.5 * more)
        x = x * _newton(x, shape, slope, c, h)
    highest = 1.5 * throw
    for _ in range(steps):
        x = np.minimum(x, highest)
        shape = upstroke_shape.raw(drop=x, throw=throw, rod_length=rod_length, offset=offset)
        # x times its slope, exact for the series with one term more
        slope = 3.0 * (shape - 0.5) - x * (2.0 * bend + turn * x)
        if skew is not None:
            slope = slope - skew * np.sqrt(x) * (2.5 + 1.5 * lift * x)
        x = x * np.minimum(np.maximum(_newton(x, shape, slope, c, h), 0.25), 4.0)
    return x


def _newton(x: Column, shape: Column, slope: Column, c: Column, h: Column) -> Column:
    """One Newton step on H(x) = shape - x/(c + x) - x/(h + x), as a factor; `slope` is x times the derivative of shape."""
    over_c, over_h = x / (c + x), x / (h + x)
    both = over_c + over_h
    # a slope that has lost its sign would lead away
    tangent = np.minimum(slope, 0.0) - both + (over_c * over_c + over_h * over_h)
    return 1.0 - (shape - both) / tangent
