"""Slider-crank kinematics with an offset cylinder axis, exact.

Symbols: r throw (half the stroke), L rod length, e offset of the cylinder axis toward the side the crankpin is on during
the downstroke, φ crank angle from the cylinder-axis direction, θ = φ - φ_TDC crank angle from true TDC, z height of the
piston pin above the crank axis, x = z_TDC - z drop of the piston below TDC. All kernels need r > 0, L > r + |e| and give
NaN elsewhere.

Arguments mean the same in every kernel here, and broadcast together: `throw` r [m], more than 0; `rod_length` L [m], centre
to centre; `offset` e [m], any sign, positive as above; `crank_angle` θ [rad], any, negative before TDC; `crank_speed` ω
[rad/s], constant; `drop` x [m], from 0 at TDC to the travel; `piston_travel` S [m].
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import is_zero, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "crank_angles_from_drop",
    "mean_piston_speed",
    "pin_height",
    "pin_height_at_bdc",
    "pin_height_at_tdc",
    "piston_acceleration",
    "piston_drop",
    "piston_speed",
    "piston_travel",
    "tdc_acceleration",
    "tdc_angle",
    "throw_from_stroke",
    "upstroke_derivatives",
    "upstroke_shape",
    "upstroke_speed",
]


@kernel
def throw_from_stroke(*, stroke: Column) -> Column:
    """Throw of the crank [m], half of `stroke` [m].

    >>> float(throw_from_stroke(stroke=0.04))
    0.02
    """
    return stroke * 0.5


@kernel
def pin_height_at_tdc(*, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Height of the piston pin above the crank axis at TDC [m]: √((L + r)² - e²).

    Parameters: `throw` r [m], `rod_length` L [m], `offset` e [m], any sign; broadcast together. NaN where L + r < |e|.
    Source: crank and rod in one line, docs/datum-and-signs.md.

    >>> float(pin_height_at_tdc(throw=0.02725, rod_length=0.110, offset=0.0))
    0.13725
    """
    reach = rod_length + throw
    return reach if is_zero(offset) else np.sqrt(reach * reach - offset * offset)


@kernel
def pin_height_at_bdc(*, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Height of the piston pin above the crank axis at BDC [m]: √((L - r)² - e²).

    Parameters as `pin_height_at_tdc`. NaN where L - r < |e|, where the crank cannot turn.

    >>> float(pin_height_at_bdc(throw=0.02725, rod_length=0.110, offset=0.0))
    0.08275
    """
    span = rod_length - throw
    span = only(span, span >= 0.0)
    return span if is_zero(offset) else np.sqrt(span * span - offset * offset)


@kernel
def piston_travel(*, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Travel of the piston between BDC and TDC [m]; a little more than twice the throw when e is not 0.

    S = √((L + r)² - e²) - √((L - r)² - e²). Parameters as `pin_height_at_tdc`.

    >>> round(float(piston_travel(throw=0.02725, rod_length=0.110, offset=0.001)) * 1e3, 10)
    54.5023994811
    """
    # as a difference of squares over the sum, so that nothing cancels
    top = pin_height_at_tdc.raw(throw=throw, rod_length=rod_length, offset=offset)
    bottom = pin_height_at_bdc.raw(throw=throw, rod_length=rod_length, offset=offset)
    return 4.0 * rod_length * throw / (top + bottom)


@kernel
def tdc_angle(*, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Crank angle of true TDC from the cylinder-axis direction [rad]: asin(e / (L + r)).

    >>> round(float(np.degrees(tdc_angle(throw=0.02725, rod_length=0.110, offset=0.001))), 9)
    0.417459282
    """
    return np.arcsin(offset / (rod_length + throw))


@kernel
def pin_height(*, crank_angle: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Height of the piston pin above the crank axis [m] at `crank_angle` θ [rad] after true TDC.

    z = r cos φ + √(L² - (r sin φ - e)²), φ = θ + φ_TDC.

    >>> round(float(pin_height(crank_angle=0.0, throw=0.02725, rod_length=0.110, offset=0.001)) * 1e3, 9)
    137.246356964
    """
    phi = crank_angle + tdc_angle.raw(throw=throw, rod_length=rod_length, offset=offset)
    across = throw * np.sin(phi) - offset
    return throw * np.cos(phi) + np.sqrt(rod_length**2 - across**2)


@kernel
def piston_drop(*, crank_angle: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Drop of the piston below TDC [m] at `crank_angle` θ [rad] after true TDC (negative: before it).

    The same relation as `pin_height`, as differences of sines and of squares so that it keeps its digits near TDC.

    >>> round(float(piston_drop(crank_angle=np.radians(10), throw=0.02725, rod_length=0.110, offset=0.0)) * 1e3, 12)
    0.515813127448
    """
    start = tdc_angle.raw(throw=throw, rod_length=rod_length, offset=offset)
    phi = crank_angle + start
    middle = start + 0.5 * crank_angle
    across_start, across = throw * np.sin(start) - offset, throw * np.sin(phi) - offset
    along = np.sqrt(rod_length**2 - across_start**2) + np.sqrt(rod_length**2 - across**2)
    drop: Column = 2.0 * throw * np.sin(0.5 * crank_angle) * (np.sin(middle) + np.cos(middle) * (across + across_start) / along)
    return drop


@kernel
def piston_speed(*, crank_angle: Column, crank_speed: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Speed of the piston [m/s], positive toward the crank, at θ [rad] and constant `crank_speed` ω [rad/s].

    >>> w = 12000 * np.pi / 30
    >>> v = piston_speed(crank_angle=np.radians(76.82514573), crank_speed=w, throw=0.02725, rod_length=0.110, offset=0.0)
    >>> round(float(v), 8)
    35.28190615
    """
    phi = crank_angle + tdc_angle.raw(throw=throw, rod_length=rod_length, offset=offset)
    first, _, _ = _derivatives(throw, rod_length, offset, np.sin(phi), np.cos(phi))
    return first * crank_speed


@kernel
def piston_acceleration(*, crank_angle: Column, crank_speed: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """Acceleration of the piston [m/s²], positive toward the crank, at θ [rad] and constant `crank_speed` ω [rad/s].

    >>> w = 12000 * np.pi / 30
    >>> a = piston_acceleration(crank_angle=np.pi, crank_speed=w, throw=0.02725, rod_length=0.110, offset=0.0)
    >>> round(float(a), 7)
    -32371.4051988
    """
    phi = crank_angle + tdc_angle.raw(throw=throw, rod_length=rod_length, offset=offset)
    _, second, _ = _derivatives(throw, rod_length, offset, np.sin(phi), np.cos(phi))
    return second * crank_speed**2


def drop_and_slope(throw: Column, rod_length: Column, offset: Column, reach: Column, sine: Column, cosine: Column) -> tuple[Column, Column]:
    """Drop below TDC [m] and its slope over crank angle [m], from sine and cosine of φ; `reach` is the pin's height at TDC.

    For marches that turn the crank by a fixed step. Good to 1e-16 of the reach, not of the drop.
    """
    tangential = throw * sine
    radial = throw * cosine
    across = tangential - offset
    along = np.sqrt(rod_length * rod_length - across * across)
    return reach - radial - along, tangential + radial * across / along


def _derivatives(throw: Column, rod_length: Column, offset: Column, sine: Column, cosine: Column) -> tuple[Column, Column, Column]:
    """x', x'' and x''' of the drop over crank angle [m], from sine and cosine of φ."""
    radial, tangential = throw * cosine, throw * sine
    across = tangential - offset
    along_square = rod_length * rod_length - across * across
    along = np.sqrt(along_square)
    lean = across / along
    # lean' = u' L²/s³ and lean'' = L²/s³ (u'' + 3 u u'²/s²), with u' = r cos φ and u'' = -r sin φ
    bend = rod_length * rod_length / (along_square * along)
    lean_1 = radial * bend
    lean_2 = bend * (3.0 * across * radial * radial / along_square - tangential)
    first = tangential + radial * lean
    second = radial - tangential * lean + radial * lean_1
    third = radial * (lean_2 - lean) - tangential * (1.0 + 2.0 * lean_1)
    return first, second, third


def _pin_triangle(drop: Column, throw: Column, rod_length: Column, offset: Column) -> tuple[Column, Column, Column]:
    """(sin²(ψ/2), D, z): ψ between crank and the line, of length D, from crank axis to piston pin at height z.

    Half-angle form of the cosine rule; L + r - D = x (2 z_TDC - x) / (L + r + D) keeps its digits near TDC.
    """
    if is_zero(offset):
        height = distance = (rod_length + throw) - drop
        slack = drop
    else:
        top = pin_height_at_tdc.raw(throw=throw, rod_length=rod_length, offset=offset)
        height = top - drop
        distance = np.sqrt(height * height + offset * offset)
        slack = drop * ((top + height) / (rod_length + throw + distance))
    return slack * (rod_length - throw + distance) / (4.0 * throw * distance), distance, height


@kernel
def crank_angles_from_drop(*, drop: Column, throw: Column, rod_length: Column, offset: Column) -> tuple[Column, Column]:
    """Crank angles [rad] at which the piston is `drop` x [m] below TDC: after TDC on the downstroke, before it on the upstroke.

    Both positive; they differ when e is not 0. NaN unless 0 ≤ x ≤ travel. The triangle crank axis, crankpin, piston pin
    gives ψ = 2 asin √(...); the angles are ψ ± (asin(e/D) - φ_TDC).

    >>> down, up = crank_angles_from_drop(drop=0.030, throw=0.02725, rod_length=0.110, offset=0.001)
    >>> round(float(np.degrees(down)), 7), round(float(np.degrees(up)), 8)
    (88.6919323, 88.45839277)
    """
    half, distance, _ = _pin_triangle(drop, throw, rod_length, offset)
    # sin²(ψ/2) is 0 at TDC and 1 at BDC; beyond them there is no root, or no arcsine: NaN
    angle = 2.0 * np.arcsin(np.sqrt(half))
    if is_zero(offset):
        return angle, angle
    skew = np.arcsin(offset / distance) - np.arcsin(offset / (rod_length + throw))
    return angle + skew, angle - skew


def _upstroke_direction(drop: Column, throw: Column, rod_length: Column, offset: Column) -> tuple[Column, Column]:
    """Sine and cosine of φ where the piston is `drop` below TDC on the upstroke; no angle is formed."""
    half, distance, height = _pin_triangle(drop, throw, rod_length, offset)
    sine_psi, cosine_psi = 2.0 * np.sqrt(half * (1.0 - half)), 1.0 - 2.0 * half
    sine_beta, cosine_beta = offset / distance, height / distance
    return sine_beta * cosine_psi - cosine_beta * sine_psi, cosine_beta * cosine_psi + sine_beta * sine_psi


def _upstroke(drop: Column, throw: Column, rod_length: Column, offset: Column) -> tuple[Column, Column, Column, Column]:
    """(shape, Y², D, N) at `drop` on the upstroke, from D² = z² + e² and its parts under crank and rod.

    Twice those parts are A = D - (L² - r²)/D and B = D + (L² - r²)/D. Y is how far the crankpin stands off D, and
    N = (z/D) B/2 - (e/D) Y. x' = Y D/N comes from the derivative of r² + D² - 2r (z cos φ + e sin φ) = L², the shape
    x x''/x'² from the derivative of its logarithm; L + r - D, a factor of Y², is what divides x out of it.
    """
    span, reach = rod_length - throw, rod_length + throw
    if is_zero(offset):
        distance = reach - drop
        part = span * reach / distance
        under_crank, under_rod = distance - part, distance + part
        product = (span + distance) * (2.0 * throw + under_crank)
        slope = 0.5 * under_rod
        shape = under_crank * under_rod / product - drop * part / (slope * distance)
        return shape, drop * product / (4.0 * distance), distance, slope
    top = pin_height_at_tdc.raw(throw=throw, rod_length=rod_length, offset=offset)
    height = top - drop
    distance = np.sqrt(height * height + offset * offset)
    part = span * reach / distance
    under_crank, under_rod = distance - part, distance + part
    product = (span + distance) * (2.0 * throw + under_crank)
    ratio = (top + height) / (reach + distance)
    square = drop * ratio * product / (4.0 * distance)
    across = np.sqrt(square)
    upright, lean = height / distance, offset / distance
    slope = upright * (0.5 * under_rod) - lean * across
    more = lean * (lean * (under_rod - 0.5 * under_crank) + upright * (2.0 * across + 0.25 * under_crank * under_rod / across))
    shape = under_crank * under_rod * (upright / ratio) / product - drop * (part - more) / (slope * distance)
    return shape, square, distance, slope


@kernel
def upstroke_shape(*, drop: Column, throw: Column, rod_length: Column, offset: Column) -> Column:
    """x x''/x'² where the piston is `drop` x [m] below TDC on the *upstroke*: ½ where x grows as the square of the angle.

    Parameters: `throw` r [m], `rod_length` L [m], `offset` e [m], any sign. NaN unless 0 < x < travel. Rational in z but for
    two roots; no angle is formed. It falls through 0 where the piston is fastest.

    >>> first, second, third = upstroke_derivatives(drop=0.030, throw=0.02725, rod_length=0.110, offset=0.001)
    >>> shape = upstroke_shape(drop=0.030, throw=0.02725, rod_length=0.110, offset=0.001)
    >>> bool(abs(shape - 0.030 * second / first**2) < 1e-13)
    True
    """
    return _upstroke(drop, throw, rod_length, offset)[0]


@kernel
def upstroke_derivatives(*, drop: Column, throw: Column, rod_length: Column, offset: Column) -> tuple[Column, Column, Column]:
    """x', x'' and x''' over crank angle [m] where the piston is `drop` x [m] below TDC on the *upstroke*; x' is negative.

    Algebraic in x. NaN unless 0 ≤ x ≤ travel.

    >>> first, second, third = upstroke_derivatives(drop=0.030, throw=0.02725, rod_length=0.110, offset=0.0)
    >>> bool(first < 0)
    True
    """
    return _derivatives(throw, rod_length, offset, *_upstroke_direction(drop, throw, rod_length, offset))


@kernel
def upstroke_speed(*, drop: Column, throw: Column, rod_length: Column, offset: Column, crank_speed: Column) -> Column:
    """Speed of the piston toward the head [m/s] where it is `drop` x [m] below TDC on the upstroke, at `crank_speed` [rad/s].

    >>> w = 12000 * np.pi / 30
    >>> round(float(upstroke_speed(drop=0.0243, throw=0.02725, rod_length=0.110, offset=0.0, crank_speed=w)), 2)
    35.28
    """
    _, square, distance, slope = _upstroke(drop, throw, rod_length, offset)
    return crank_speed * (np.sqrt(square) * distance / slope)


@kernel
def mean_piston_speed(*, piston_travel: Column, crank_speed: Column) -> Column:
    """Mean piston speed [m/s]: 2 S n, with travel S [m] and `crank_speed` [rad/s] = 2π n.

    >>> round(float(mean_piston_speed(piston_travel=0.0545, crank_speed=12000 * np.pi / 30)), 9)
    21.8
    """
    return piston_travel * crank_speed / np.pi


@kernel
def tdc_acceleration(*, throw: Column, rod_length: Column, offset: Column, crank_speed: Column) -> Column:
    """Piston acceleration at TDC [m/s²], positive toward the crank: ω² r (1 + r/L) / cos φ_TDC.

    The second derivative of z at φ_TDC, where crank and rod lie in one line.

    >>> a = tdc_acceleration(throw=0.02725, rod_length=0.110, offset=0.0, crank_speed=12000 * np.pi / 30)
    >>> round(float(a), 7)
    53691.5451787
    """
    cosine = np.sqrt(1.0 - (offset / (rod_length + throw)) ** 2)
    return crank_speed**2 * throw * (1.0 + throw / rod_length) / cosine
