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

from topend.physics.kernel import kernel

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["cap_sagitta", "crown_rise", "crown_volume_within", "spherical_cap_volume"]


def _curvature(cap_height: Column, cap_radius: Column) -> Column:
    # 1/R = 2h/(a² + h²): finite for a flat cap, signed
    return 2.0 * cap_height / (cap_radius**2 + cap_height**2)


@kernel
def cap_sagitta(*, radius: Column, cap_height: Column, cap_radius: Column) -> Column:
    """Depth of a sphere cap's surface below its top [m] at `radius` ρ: κρ²/(1 + √(1 - κ²ρ²)), κ = 2h/(a² + h²).

    `cap_height` h of any sign with |h| ≤ `cap_radius` a; `radius` within 0..a. NaN beyond the sphere.

    >>> round(float(cap_sagitta(radius=0.027, cap_height=0.002, cap_radius=0.027)), 12)
    0.002
    """
    curvature = _curvature(cap_height, cap_radius)
    rest = 1.0 - (curvature * radius) ** 2
    # at a hemisphere's rim κρ is 1, and may round above it; beyond the cap it is NaN as it should be
    return curvature * radius**2 / (1.0 + np.sqrt(np.where(radius <= cap_radius, np.maximum(rest, 0.0), rest)))


@kernel
def crown_rise(*, radius: Column, cap_height: Column, cap_radius: Column, edge_slope: Column, crown_radius: Column) -> Column:
    """Height of the crown above its edge plane [m] at `radius` ρ from the axis.

    Parameters: `cap_height` h [m], positive for a dome and negative for a dish; `cap_radius` a [m]; `edge_slope` the
    tangent of a straight slope from the edge [-]; `crown_radius` [m]. Equation: (h - sagitta(ρ)) inside a, plus
    edge_slope · (crown_radius - ρ) inside the crown; 0 beyond.

    >>> dome = dict(cap_height=0.002, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> float(crown_rise(radius=0.0, **dome)), abs(round(float(crown_rise(radius=0.027, **dome)), 15))
    (0.002, 0.0)
    """
    inside = np.minimum(radius, cap_radius)
    cap = cap_height - cap_sagitta.raw(radius=inside, cap_height=cap_height, cap_radius=cap_radius)
    return cap + edge_slope * np.maximum(crown_radius - radius, 0.0)


@kernel
def spherical_cap_volume(*, cap_height: Column, cap_radius: Column) -> Column:
    """Volume of a spherical cap [m³]: πh(3a² + h²)/6, negative for a negative height.

    >>> round(float(spherical_cap_volume(cap_height=2.0, cap_radius=27.0)), 7)
    2294.4098347
    """
    return np.pi / 6.0 * cap_height * (3.0 * cap_radius**2 + cap_height**2)


@kernel
def crown_volume_within(*, radius: Column, cap_height: Column, cap_radius: Column, edge_slope: Column, crown_radius: Column) -> Column:
    """Volume of the crown above its edge plane [m³] inside `radius` ρ: 2π ∫ rise ρ dρ, in closed form.

    Parameters as `crown_rise`. With q the sagitta at ρ the cap part is 2πρ² [h/2 - q (3 - 2qκ) / (6 (2 - qκ))], which
    keeps its digits for flat caps; the slope part is πρ² · edge_slope · (crown_radius - 2ρ/3).

    >>> v = crown_volume_within(radius=0.027, cap_height=0.002, cap_radius=0.027, edge_slope=0.0, crown_radius=0.027)
    >>> round(float(v) * 1e6, 10)
    2.2944098347
    """
    inside = np.minimum(radius, cap_radius)
    sagitta = cap_sagitta.raw(radius=inside, cap_height=cap_height, cap_radius=cap_radius)
    bend = sagitta * _curvature(cap_height, cap_radius)
    cap = 2.0 * np.pi * inside**2 * (0.5 * cap_height - sagitta * (3.0 - 2.0 * bend) / (6.0 * (2.0 - bend)))
    within = np.minimum(radius, crown_radius)
    return cap + np.pi * within**2 * edge_slope * (crown_radius - within * (2.0 / 3.0))
