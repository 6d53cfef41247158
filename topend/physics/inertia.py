"""Closing of the gap at speed: what inertia at TDC stretches, presses in and bends, each part by itself.

At TDC crank and rod lie in one line, and every mass on the way is slowed toward the crank: the piston pulls the rod, the rod
the crankpin, the crankpin webs and shaft. The gap closes by what gives, and by the clearances of the joints: turned slowly by
hand they lie on their compressed side, at speed on the other.

Not modelled: rocking of the piston, growth of crown, piston and rod with heat, carbon, twist of the crank, give of the case,
the pin in the piston, an oil film, and how much a joint's ring bends. All of them take from what is left, none is proven small.

Arguments mean the same in every kernel here, and broadcast together: `throw` r [m], `rod_length` L [m], both more than 0;
`crank_speed` ω [rad/s], 0 or more; `assembly_mass` m [kg], all that hangs on the rod's small end; `rod_mass` [kg], the whole
rod; `rod_area` A [m²], the shank's section; `modulus` E [Pa] and `density` ρ [kg/m³] of the rod; `force` [N], positive where it
pulls the piston off the crank (inertia at TDC), negative where it presses (gas); `clearance` [m], diametral, 0 or more.
Closing is positive where the gap gets less.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import choose, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "ball_bearing_deflection",
    "big_end_force",
    "clearance_taken_up",
    "contact_speed",
    "crankpin_shear",
    "main_bearing_force",
    "rod_elongation",
    "roller_bearing_deflection",
    "small_end_force",
    "tapered_rod_elongation",
]

#: Where the rod's centre of mass lies, from the big end, as a share of its length (common practice: a third of the rod
#: counts as moving to and fro).
ROD_CENTRE: Final = 1.0 / 3.0


# --- forces at TDC ---------------------------------------------------------------------------------------------------


@kernel
def small_end_force(*, assembly_mass: Column, tdc_acceleration: Column, gas_pressure: Column, bore_area: Column) -> Column:
    """Pull on the rod's small end at TDC [N]: m a - p A.

    Parameters: `assembly_mass` m [kg]; `tdc_acceleration` a [m/s²], toward the crank; `gas_pressure` p [Pa], in the cylinder
    over that in the crankcase, 0 with the throttle shut; `bore_area` A [m²]. Friction is left out.

    >>> f = small_end_force(assembly_mass=0.2, tdc_acceleration=53691.5451787, gas_pressure=0.0, bore_area=0.00229)
    >>> round(float(f), 6)
    10738.309036
    """
    return assembly_mass * tdc_acceleration - gas_pressure * bore_area


@kernel
def big_end_force(*, force: Column, rod_mass: Column, throw: Column, rod_length: Column, crank_speed: Column) -> Column:
    """Pull on the crankpin at TDC [N]: the small end's, and the rod's own m rω² (1 + λ/3), λ = r/L.

    Parameters as the module says; `force` that on the small end. The rod's centre of mass is taken at a third of its length
    from the big end (common practice).

    >>> float(big_end_force(force=100.0, rod_mass=0.0, throw=0.027, rod_length=0.11, crank_speed=1000.0))
    100.0
    """
    return force + rod_mass * throw * crank_speed**2 * (1.0 + ROD_CENTRE * throw / rod_length)


@kernel
def main_bearing_force(
    *, force: Column, assembly_mass: Column, rod_mass: Column, balance: Column, throw: Column, crank_speed: Column
) -> Column:
    """Pull on the two main bearings together at TDC [N], with what the counterweights take off.

    Parameters as the module says; `force` that on the small end; `balance` the share of the reciprocating mass that the
    counterweights balance [-]. Reciprocating are `assembly_mass` and a third of `rod_mass`; what turns is taken as balanced
    by itself: F + (m_rod/3) rω² - balance (m + m_rod/3) rω².

    >>> f = main_bearing_force(force=1000.0, assembly_mass=0.2, rod_mass=0.0, balance=0.0, throw=0.027, crank_speed=1000.0)
    >>> float(f)
    1000.0
    """
    turning = throw * crank_speed**2
    rod = ROD_CENTRE * rod_mass
    return force + (rod - balance * (assembly_mass + rod)) * turning


# --- the rod ---------------------------------------------------------------------------------------------------------


@kernel
def rod_elongation(
    *, force: Column, rod_length: Column, rod_area: Column, modulus: Column, density: Column, throw: Column, crank_speed: Column
) -> Column:
    """Elongation of a uniform rod at TDC [m]: F L/EA + (ρ r ω² L²/2E)(1 + 2λ/3), λ = r/L.

    Parameters as the module says; `force` F on the small end. The acceleration falls from rω²(1 + λ) at the small end to rω²
    at the crankpin, linear along the rod, which is exact at TDC.

    >>> w = 12000 * np.pi / 30
    >>> d = rod_elongation(force=10738.309036, rod_length=0.11, rod_area=120e-6, modulus=205e9, density=7850.0,
    ...                    throw=0.02725, crank_speed=w)
    >>> round(float(d) * 1e3, 11)
    0.05963237984
    """
    own = density * throw * crank_speed**2 * rod_length * (0.5 * rod_length + throw * (1.0 / 3.0))
    return (force * rod_length / rod_area + own) / modulus


#: Points and weights from 0 to 1 of Gauss and Legendre; the integrand is smooth.
_AT, _WEIGHT = ((0.5 * made).tolist() for made in np.polynomial.legendre.leggauss(8))


@kernel
def tapered_rod_elongation(
    *,
    force: Column,
    rod_length: Column,
    rod_area: Column,
    end_area: Column,
    modulus: Column,
    density: Column,
    throw: Column,
    crank_speed: Column,
) -> Column:
    """Elongation at TDC [m] of a rod whose section changes evenly from one end to the other.

    Parameters as `rod_elongation`; `rod_area` the section at the small end [m²], `end_area` that at the big end [m²]. With s
    from the small end and A(s) = A + (A' - A) s/L: ∫ N/(E A) ds, N = F + ρ r ω² ∫ A (1 + λ - λ s/L) ds, by eight points of
    Gauss and Legendre: relative error under 1e-9 for ends that differ up to fivefold.

    >>> same = dict(force=1e4, rod_length=0.11, rod_area=120e-6, modulus=205e9, density=7850.0, throw=0.02725, crank_speed=1200.0)
    >>> d = tapered_rod_elongation(end_area=120e-6, **same)
    >>> abs(float(d / rod_elongation(**same)) - 1.0) < 1e-12
    True
    """
    ratio = throw / rod_length
    grown = end_area - rod_area
    mass = density * throw * crank_speed**2 * rod_length
    total: Column = 0.0 * force
    for point, weight in zip(_AT, _WEIGHT, strict=True):
        at = 0.5 + point
        # ∫ (A + A₁ t)(1 + λ - λ t) dt from 0 to `at`
        inside = at * (
            (1.0 + ratio) * rod_area + at * (0.5 * ((1.0 + ratio) * grown - ratio * rod_area) - at * (1.0 / 3.0) * ratio * grown)
        )
        total = total + weight * (force + mass * inside) / (rod_area + at * grown)
    return total * rod_length / modulus


# --- bearings --------------------------------------------------------------------------------------------------------


def _load_integral(exponent: float) -> list[float]:
    """Coefficients of J(ε)/√ε in powers of ε, for 0 ≤ ε ≤ 0.5: Sjövall's radial integral of a bearing with clearance.

    J = (1/2π) ∫ (1 - (1 - cos ψ)/2ε)^n cos ψ dψ. With sin(ψ/2) = √ε sin t it is (2√ε/π) ∫ cos^(2n+1) t (1 - 2ε sin² t)
    /√(1 - ε sin² t) dt from 0 to π/2, a power series in ε; its 60 terms are gathered into ten.
    """

    def part(k: int) -> float:
        # ∫ cos^(2n+1) sin^(2k) dt = Γ(n+1) Γ(k+½) / (2 Γ(n+k+3/2))
        return 0.5 * math.exp(math.lgamma(exponent + 1.0) + math.lgamma(k + 0.5) - math.lgamma(exponent + k + 1.5))

    series, binomial, before = [], 1.0, 0.0
    for k in range(60):
        series.append((2.0 / math.pi) * (binomial - 2.0 * before) * part(k))
        before, binomial = binomial, binomial * (k + 0.5) / (k + 1.0)
    at = 0.25 * (1.0 + np.cos(np.pi * (np.arange(64) + 0.5) / 64.0))
    wanted = np.polynomial.polynomial.polyval(at, np.array(series))
    fitted = np.polynomial.Chebyshev.fit(at, wanted, 9, domain=[0.0, 0.5])
    return [float(one) for one in fitted.convert(kind=np.polynomial.Polynomial).coef]


#: Line contact (exponent 10/9) and point contact (3/2).
_LINE, _POINT = 10.0 / 9.0, 1.5
_LOADS: Final = {exponent: _load_integral(exponent) for exponent in (_LINE, _POINT)}
#: Newton steps on the logarithm: two leave 1.3e-6 of a deflection of some micrometres, three 1e-8. The tests hold the result
#: against a direct sum and a bracketed solve.
BEARING_STEPS: Final = 2


def _horner(coefficients: list[float], x: Column) -> Column:
    total: Column = coefficients[-1] * x + coefficients[-2]
    for one in coefficients[-3::-1]:
        total = total * x + one
    return total


def _deflection(log_load: Column, clearance: Column, exponent: float) -> tuple[Column, Column]:
    """(δ, dlnF/dlnδ) where δ^n J(ε) = exp(`log_load`), ε = δ/2(c + δ), with c half of the diametral `clearance`."""
    loads = _LOADS[exponent]
    half = 0.5 * only(clearance, clearance >= 0.0)
    # as if without clearance, then once with what that leaves of the loaded arc
    free = np.exp((log_load - math.log(sum(one * 0.5**power for power, one in enumerate(loads)) * math.sqrt(0.5))) * (1.0 / exponent))
    x = np.log(free) + np.log(1.0 + half / free) * (0.5 / (exponent + 0.35))
    steep: Column = x
    for _ in range(BEARING_STEPS):
        delta = np.exp(x)
        whole = half + delta
        arc = 0.5 * delta / whole
        shape = _horner(loads, arc)
        # the shape itself changes little: its slope to first order keeps the steps quadratic enough
        steep = exponent + (0.5 + arc * (loads[1] / loads[0])) * (half / whole)
        x = x - (exponent * x + 0.5 * np.log(arc) + np.log(shape) - log_load) / steep
    return np.exp(x), steep


def _odd(force: Column, made: Column) -> Column:
    """`made` with the sign of `force`; nothing where there is none."""
    return choose(force == 0.0, 0.0 * force, np.sign(force) * made)


#: Two contacts a roller, 3.84e-5 Q^0.9/l^0.8 mm each, steel (Palmgren in Harris, Rolling Bearing Analysis; from memory); SI.
_ROLLER: Final = math.log(2.0 * 3.84e-8) - 0.8 * math.log(1e3)
#: Both contacts of a ball, 4.36e-4 Q^(2/3)/D^(1/3) mm, steel (the same; from memory); SI.
_BALL: Final = math.log(4.36e-7) - math.log(1e3) / 3.0


def _roller_load(size: Column, rollers: Column, roller_length: Column) -> Column:
    return np.log(size / rollers) + _LINE * (_ROLLER - 0.8 * np.log(roller_length))


def _ball_load(size: Column, balls: Column, ball_diameter: Column) -> Column:
    return np.log(size / balls) + _POINT * (_BALL - (1.0 / 3.0) * np.log(ball_diameter))


@kernel
def roller_bearing_deflection(*, force: Column, clearance: Column, rollers: Column, roller_length: Column) -> Column:
    """Elastic approach of the rings of a roller bearing [m] beyond its clearance, with the sign of `force`; 0 without force.

    Parameters: `force` [N]; `clearance` [m], diametral, 0 or more (NaN below); `rollers`, how many; `roller_length` [m]. Line
    contact of steel, δ = 3.84e-5 Q^0.9/l^0.8 mm each of two (Palmgren, in Harris, Rolling Bearing Analysis; from memory), rollers
    that press and never pull, their sum as Sjövall's integral over a full row: F = Z (δ/k)^(10/9) J(ε), ε = δ/(2δ + clearance).

    >>> d = roller_bearing_deflection(force=4000.0, clearance=0.0, rollers=16.32, roller_length=0.010)
    >>> round(float(d) * 1e6, 1)  # the most loaded roller bears 4.08 F/Z = 1000 N, twice 3.05 µm
    6.1
    """
    made, _ = _deflection(_roller_load(np.abs(force), rollers, roller_length), clearance, _LINE)
    return _odd(force, made)


@kernel
def ball_bearing_deflection(*, force: Column, clearance: Column, balls: Column, ball_diameter: Column) -> Column:
    """Elastic approach of the rings of a deep-groove ball bearing [m] beyond its clearance, with the sign of `force`.

    Parameters: `force` [N]; `clearance` [m], diametral, 0 or more (NaN below); `balls`, how many; `ball_diameter` D [m]. Point
    contact of steel, δ = 4.36e-4 Q^(2/3)/D^(1/3) mm for both races (Palmgren, in Harris; from memory), summed as in
    `roller_bearing_deflection` with the exponent 3/2.

    >>> d = ball_bearing_deflection(force=2000.0, clearance=20e-6, balls=8.0, ball_diameter=0.009)
    >>> 15.0 < float(d) * 1e6 < 35.0
    True
    """
    made, _ = _deflection(_ball_load(np.abs(force), balls, ball_diameter), clearance, _POINT)
    return _odd(force, made)


@kernel
def clearance_taken_up(*, force: Column, clearance: Column) -> Column:
    """Closing by a joint's clearance [m]: the whole diametral `clearance` [m] where `force` [N] pulls, else nothing.

    The reading that the gap was set by pressed the joint together; at speed it is pulled to the other side.

    >>> clearance_taken_up(force=np.array([100.0, 0.0, -100.0]), clearance=3e-5).tolist()
    [3e-05, 0.0, 0.0]
    """
    return choose(force > 0.0, clearance + 0.0 * force, 0.0 * np.abs(force + clearance))


# --- crankpin, webs and shaft ----------------------------------------------------------------------------------------


@kernel
def crankpin_shear(*, force: Column, pin_diameter: Column, pin_length: Column, modulus: Column) -> Column:
    """Sag of the crankpin's middle between the webs by shear [m]: F b/(8 κ G A), the load spread evenly over b.

    Parameters: `force` F on the crankpin [N]; `pin_diameter` d [m]; `pin_length` b [m], free between the webs; `modulus` E [Pa] of
    steel. ν = 0.3, G = E/2(1 + ν), κ = 6(1 + ν)/(7 + 6ν) of a round section (Cowper, 1966; from memory). Between stiff webs so
    short a pin hardly bends, shear governs.

    >>> d = crankpin_shear(force=14500.0, pin_diameter=0.020, pin_length=0.018, modulus=207e9)
    >>> round(float(d) * 1e6, 3)
    1.472
    """
    # 8 κ G A = 8 · 6(1 + ν)/(7 + 6ν) · E/2(1 + ν) · πd²/4 = 6π/(7 + 6ν) E d²
    return force * pin_length * ((7.0 + 6.0 * 0.3) / (6.0 * np.pi)) / (modulus * pin_diameter**2)


# --- the speed at which the gap is gone ------------------------------------------------------------------------------

#: Newton steps of `contact_speed` on the logarithm of the speed.
SPEED_STEPS: Final = 5


@kernel
def contact_speed(
    *,
    gap: Column,
    play: Column,
    linear: Column,
    crank_speed: Column,
    small_force: Column,
    small_clearance: Column,
    small_rollers: Column,
    small_length: Column,
    big_force: Column,
    big_clearance: Column,
    big_rollers: Column,
    big_length: Column,
    main_force: Column,
    main_clearance: Column,
    balls: Column,
    ball_diameter: Column,
) -> Column:
    """Crank speed at which the closing equals the gap, throttle shut [rad/s]; 0 where the clearances alone are more.

    Parameters: `gap` cold [m]; `play` clearances taken up and unexplained closing [m], which do not depend on speed; `linear`
    closing of rod, crankpin and crank [m] at `crank_speed` [rad/s]; `small_force`, `big_force` and `main_force` [N] (one main
    bearing's) at that speed, pulling; clearances [m] `small_clearance`, `big_clearance`, `main_clearance`; `small_rollers`,
    `small_length`, `big_rollers`, `big_length`, `balls`, `ball_diameter` [m] as in the bearings' kernels. All forces grow with the
    square of speed. NaN where a force is not positive.

    >>> ends = dict(small_clearance=0.0, small_rollers=16.0, small_length=0.015, big_clearance=0.0, big_rollers=14.0, big_length=0.012,
    ...             main_clearance=0.0, balls=8.0, ball_diameter=0.009)
    >>> w = contact_speed(gap=0.3e-3, play=0.1e-3, linear=0.1e-3, crank_speed=1000.0, small_force=8e3, big_force=12e3,
    ...                   main_force=3e3, **ends)
    >>> 1000.0 < float(w) < 1400.0
    True
    """
    left = gap - play
    wanted = np.log(left)
    bearings = (
        (_roller_load(small_force, small_rollers, small_length), small_clearance, _LINE),
        (_roller_load(big_force, big_rollers, big_length), big_clearance, _LINE),
        (_ball_load(main_force, balls, ball_diameter), main_clearance, _POINT),
    )
    grown: Column = 0.0 * left
    for _ in range(SPEED_STEPS):
        straight = linear * np.exp(grown)
        closed, slope = straight, straight
        for load, clearance, exponent in bearings:
            delta, steep = _deflection(load + grown, clearance, exponent)
            closed, slope = closed + delta, slope + delta / steep
        grown = grown - (np.log(closed) - wanted) * closed / slope
    return choose(left <= 0.0, 0.0 * (left + crank_speed), crank_speed * np.exp(0.5 * grown))
