"""Shape of a piston crown as one family: a sphere cap plus a straight slope from the edge, each of any sign.

Flat: neither. Cone: slope alone. Sphere cap: cap alone, as wide as the crown. Dish: a cap of negative height, narrower
than the crown, flat outside it. Rise is measured above the crown's edge plane, positive toward the head; beyond the
crown's edge it is 0. All lengths [m].

Arguments mean the same in every kernel here, and broadcast together: `radius` ρ, 0 or more, from the axis; `cap_height` h, any
sign; `cap_radius` a, more than 0, with |h| ≤ a; `edge_slope`, the tangent of the straight slope [-]; `crown_radius`, half of
the piston's diameter.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import is_zero, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["cap_curvature", "cap_sagitta", "crown_rise", "crown_volume_within", "spherical_cap_volume"]


@kernel
def cap_curvature(*, cap_height: Column, cap_radius: Column) -> Column:
    """Curvature κ of a sphere cap [1/m]: 2h/(a² + h²); 0 for a flat cap, negative for a hollow one.

    Parameters: `cap_height` h [m], any sign; `cap_radius` a [m], more than 0.

    >>> round(float(cap_curvature(cap_height=0.002, cap_radius=0.027)), 6)  # a sphere of 183.25 mm
    5.457026
    """
    return 2.0 * cap_height / (cap_radius * cap_radius + cap_height * cap_height)


@kernel
def cap_sagitta(*, radius: Column, cap_height: Column, cap_radius: Column, curvature: Column | None = None) -> Column:
    """Depth of a sphere cap's surface below its top [m] at `radius` ρ: κρ²/(1 + √(1 - κ²ρ²)), κ = 2h/(a² + h²).

    Parameters: `radius` ρ [m], 0 to a; `cap_height` h [m] of any sign with |h| ≤ `cap_radius` a [m]; `curvature` κ [1/m]
    where it is at hand already (`cap_curvature`). NaN beyond the sphere.

    >>> round(float(cap_sagitta(radius=0.027, cap_height=0.002, cap_radius=0.027)), 12)
    0.002
    """
    if curvature is None:
        curvature = cap_curvature.raw(cap_height=cap_height, cap_radius=cap_radius)
    return only(_sagitta(radius, curvature), radius <= cap_radius)


def _sagitta(radius: Column, curvature: Column) -> Column:
    """The same for radii known to lie inside the cap."""
    lean = curvature * radius
    # κρ is at most 1 there, and may round above it at a hemisphere's rim
    return lean * radius / (1.0 + np.sqrt(np.maximum(1.0 - lean * lean, 0.0)))


@kernel
def crown_rise(
    *,
    radius: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Height of the crown above its edge plane [m] at `radius` ρ from the axis.

    Parameters: `radius` ρ [m], 0 or more; `cap_height` h [m], positive for a dome and negative for a dish; `cap_radius` a
    [m]; `edge_slope` the tangent of a straight slope from the edge [-], positive when the crown rises inward;
    `crown_radius` [m]; `curvature` of the cap [1/m] where it is at hand already (`cap_curvature`). Equation:
    (h - sagitta(ρ)) inside a, plus edge_slope · (crown_radius - ρ) inside the crown; 0 beyond.

    >>> dome = dict(cap_height=0.002, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> float(crown_rise(radius=0.0, **dome)), abs(round(float(crown_rise(radius=0.027, **dome)), 15))
    (0.002, 0.0)
    """
    rise = edge_slope * np.maximum(crown_radius - radius, 0.0) if not is_zero(edge_slope) else None
    if is_zero(cap_height):  # a flat or conical crown: what is left out is 0
        return 0.0 * radius if rise is None else rise
    if curvature is None:
        curvature = cap_curvature.raw(cap_height=cap_height, cap_radius=cap_radius)
    cap = cap_height - _sagitta(np.minimum(radius, cap_radius), curvature)
    return cap if rise is None else cap + rise


@kernel
def spherical_cap_volume(*, cap_height: Column, cap_radius: Column) -> Column:
    """Volume of a spherical cap [m³]: πh(3a² + h²)/6, negative for a negative height.

    >>> round(float(spherical_cap_volume(cap_height=2.0, cap_radius=27.0)), 7)
    2294.4098347
    """
    return np.pi / 6.0 * cap_height * (3.0 * cap_radius**2 + cap_height**2)


@kernel
def crown_volume_within(
    *,
    radius: Column,
    cap_height: Column,
    cap_radius: Column,
    edge_slope: Column,
    crown_radius: Column,
    curvature: Column | None = None,
) -> Column:
    """Volume of the crown above its edge plane [m³] inside `radius` ρ: 2π ∫ rise ρ dρ, in closed form.

    Parameters as `crown_rise`. With q the sagitta at ρ the cap part is π [ρ² (h - q/2) + q³/6], a
    cylinder up to the surface and the cap above it, which keeps its digits for flat caps; the slope part
    is πρ² · edge_slope · (crown_radius - 2ρ/3).

    >>> v = crown_volume_within(radius=0.027, cap_height=0.002, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> round(float(v) * 1e6, 10)
    2.2944098347
    """
    slope = None
    if not is_zero(edge_slope):
        within = np.minimum(radius, crown_radius)
        slope = np.pi * within * within * edge_slope * (crown_radius - within * (2.0 / 3.0))
    if is_zero(cap_height):
        return 0.0 * radius if slope is None else slope
    if curvature is None:
        curvature = cap_curvature.raw(cap_height=cap_height, cap_radius=cap_radius)
    inside = np.minimum(radius, cap_radius)
    sagitta = _sagitta(inside, curvature)
    # a cylinder up to the surface at ρ, and the cap above it
    square = inside * inside
    cap = np.pi * (square * (cap_height - 0.5 * sagitta) + sagitta * sagitta * sagitta * (1.0 / 6.0))
    return cap if slope is None else cap + slope
