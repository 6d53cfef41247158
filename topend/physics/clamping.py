"""Clamping: what a torque gives a stud, what gas and gasket ask of it, what the thread in the metal holds, and what heat adds.

Arguments mean the same in every kernel here, and broadcast together: `diameter` of a thread, nominal [m]; `pitch` [m]; forces in N,
stresses in Pa, torques in N·m, friction coefficients as plain numbers. Threads are ISO metric, 60 deg (ISO 68-1). Not modelled: bending
of studs, a flange that dishes between them, embedding and creep of a gasket, for which nuts are drawn up again after the first heat.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import choose, kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "GASKETS",
    "PROPERTY_CLASSES",
    "GasketNeed",
    "PropertyClass",
    "coarse_pitch",
    "effective_seating_width",
    "engagement_needed",
    "free_growth",
    "gas_force",
    "gasket_load_diameter",
    "gasket_sealing_force",
    "gasket_seating_force",
    "internal_thread_shear_area",
    "preload_change_hot",
    "preload_from_torque",
    "stud_compliance",
    "thread_stress_area",
    "tightening_stress",
    "yield_use_ratio",
]


@dataclass(frozen=True, slots=True)
class PropertyClass:
    """Least yield and tensile strength [Pa] of a property class of ISO 898-1."""

    name: str
    yield_strength: float
    tensile_strength: float


#: ISO 898-1:2013, table 3, for diameters up to 16 mm; from memory.
PROPERTY_CLASSES: Final[dict[str, PropertyClass]] = {
    name: PropertyClass(name, least_yield * 1e6, least_tensile * 1e6)
    for name, least_yield, least_tensile in (
        ("4.6", 240.0, 400.0),
        ("5.6", 300.0, 500.0),
        ("5.8", 420.0, 520.0),
        ("6.8", 480.0, 600.0),
        ("8.8", 640.0, 800.0),
        ("10.9", 940.0, 1040.0),
        ("12.9", 1100.0, 1220.0),
    )
}


@dataclass(frozen=True, slots=True)
class GasketNeed:
    """What a gasket's material needs: its factor m while it seals, and the stress y [Pa] that seats it; each with its range."""

    name: str
    factor: float
    factor_low: float
    factor_high: float
    stress: float
    stress_low: float
    stress_high: float


_ROOT: Final = math.sqrt(3.0)
#: Pounds per square inch in Pa.
_PSI: Final = 6894.757293168


def _need(
    name: str, factor: float, psi: float, *, factors: tuple[float, float] = (0.0, 0.0), psis: tuple[float, float] = (0.0, 0.0)
) -> GasketNeed:
    low, high = factors if factors[1] else (factor, factor)
    least, most = psis if psis[1] else (psi, psi)
    return GasketNeed(name, factor, low, high, psi * _PSI, least * _PSI, most * _PSI)


#: m and y by material, ASME Boiler and Pressure Vessel Code, section VIII division 1, appendix 2, table 2-5.1 (from memory): flat metal
#: and sheet. Fibre is compressed sheet, from 3.2 mm (2.00, 1600 psi) over 1.6 mm (2.75, 3700) to 0.8 mm (3.50, 6500), the thinner the more;
#: paper is vegetable fibre. Where a range is shown, the sheet's thickness or the metal's temper decides.
GASKETS: Final[dict[str, GasketNeed]] = {
    made.name: made
    for made in (
        _need("aluminium", 4.0, 8800.0),
        _need("copper", 4.75, 13000.0),
        _need("brass", 4.75, 13000.0),
        _need("steel", 5.5, 18000.0),
        _need("fibre", 3.5, 6500.0, factors=(2.75, 3.5), psis=(3700.0, 6500.0)),
        _need("paper", 1.75, 1100.0),
    )
}

#: Coarse pitch by nominal diameter, ISO 261 [mm].
_COARSE: Final = ((5.0, 0.8), (6.0, 1.0), (7.0, 1.0), (8.0, 1.25), (10.0, 1.5), (12.0, 1.75), (14.0, 2.0), (16.0, 2.0))


@kernel
def coarse_pitch(*, diameter: Column) -> Column:
    """Coarse pitch [m] of an ISO metric thread by its nominal `diameter` (ISO 261, M5 to M16); NaN for any other diameter.

    >>> round(float(coarse_pitch(diameter=0.008)) * 1e3, 2)
    1.25
    """
    made = np.nan * diameter
    for size, pitch in _COARSE:
        made = choose(np.abs(diameter - size * 1e-3) < 1e-5, pitch * 1e-3 + 0.0 * diameter, made)
    return made


@kernel
def thread_stress_area(*, diameter: Column, pitch: Column) -> Column:
    """Stress area of a thread [m²]: π/4 ((d₂ + d₃)/2)², d₂ = d - 0.6495 P the pitch and d₃ = d - 1.2269 P the minor diameter.

    Parameters as the module says. Source: ISO 898-1, 9.1.6.1. NaN where the pitch leaves no core.

    >>> round(float(thread_stress_area(diameter=0.008, pitch=0.00125)) * 1e6, 1)
    36.6
    """
    height = 0.5 * _ROOT * pitch
    mean = diameter - 0.5 * (0.75 + 1.25 + 1.0 / 6.0) * height
    return only(0.25 * np.pi * mean * mean, mean > 0.0)


def _pitch_diameter(diameter: Column, pitch: Column) -> Column:
    return diameter - 0.375 * _ROOT * pitch


def _lever(diameter: Column, pitch: Column, thread_friction: Column) -> Column:
    """Torque in the thread for a newton of preload [m]."""
    return pitch / (2.0 * np.pi) + _pitch_diameter(diameter, pitch) * thread_friction / _ROOT


@kernel
def preload_from_torque(
    *, torque: Column, diameter: Column, pitch: Column, thread_friction: Column, nut_friction: Column, bearing_diameter: Column
) -> Column:
    """Preload of a stud [N] that a nut's torque gives: M / (P/2π + d₂ μ_thread / (2 cos 30°) + D_km μ_nut / 2).

    Parameters: `torque` M on the nut [N·m]; `thread_friction` and `nut_friction` the coefficients in the thread and under the nut;
    `bearing_diameter` D_km, mean of the nut's face and of the hole under it [m]; else as the module says. Printed as
    M = F (0.159 P + 0.578 d₂ μ_G + D_km μ_K / 2) in VDI 2230-1, equation R13/1; it is to 0.5 % the exact relation of a screw.

    >>> f = preload_from_torque(torque=25.0, diameter=0.008, pitch=0.00125, thread_friction=0.12, nut_friction=0.12, bearing_diameter=0.011)
    >>> round(float(f))
    18424
    """
    return torque / (_lever(diameter, pitch, thread_friction) + 0.5 * bearing_diameter * nut_friction)


@kernel
def tightening_stress(*, preload: Column, torsion_preload: Column, diameter: Column, pitch: Column, thread_friction: Column) -> Column:
    """Stress in a stud [Pa], tension with the torsion that its thread's friction left in it: √(σ² + 3 τ²) on the stress area.

    Parameters: `preload` [N] that pulls now; `torsion_preload` [N] at which the nut was last turned, which is the same while it is turned;
    `thread_friction` as in `preload_from_torque`. τ is the thread's share of the torque over π d³/16 of the round bar of the stress
    area. Source: VDI 2230-1, 5.5.2, from memory.

    >>> s = tightening_stress(preload=18473.0, torsion_preload=18473.0, diameter=0.008, pitch=0.00125, thread_friction=0.12)
    >>> round(float(s) / 1e6)
    618
    """
    area = thread_stress_area.raw(diameter=diameter, pitch=pitch)
    bar = np.sqrt(4.0 * area / np.pi)
    shear = 16.0 * torsion_preload * _lever(diameter, pitch, thread_friction) / (np.pi * bar * bar * bar)
    pull = preload / area
    return np.sqrt(pull * pull + 3.0 * shear * shear)


@kernel
def yield_use_ratio(*, stress: Column, yield_strength: Column) -> Column:
    """Share of the yield strength that a stress uses.

    Parameters: `stress` [Pa]; `yield_strength` [Pa].

    >>> round(float(yield_use_ratio(stress=576e6, yield_strength=640e6)), 2)
    0.9
    """
    return stress / yield_strength


@kernel
def internal_thread_shear_area(*, diameter: Column, pitch: Column, engaged_length: Column) -> Column:
    """Least area [m²] in which an internal thread 6H strips off round a stud of 6g, all of whose sizes are at their worst limits.

    π L d_min (1/2 + (d_min - D₂max) / (P √3)), in the tapped metal at the stud's major diameter. Parameters: `engaged_length` L [m] of full
    thread; else as the module says. Limits by the formulas of ISO 965-1: d_min = d - (15 + 11 P) - (180 P^⅔ - 3.15/√P) µm and
    D₂max = D₂ + 1.32 · 90 P^0.4 d^0.1 µm, P and d in mm (before they are rounded). Source: FED-STD-H28/2B, table II.B.1, formula (2a),
    and ISO/TR 16224:2012, 4.2.3.1 (second-hand, in an open library of screw threads).

    >>> round(float(internal_thread_shear_area(diameter=0.008, pitch=0.00125, engaged_length=0.0254)) * 1e6, 1)
    429.2
    """
    size, step = diameter * 1e3, pitch * 1e3
    least_major = diameter - 1e-6 * ((15.0 + 11.0 * step) + (180.0 * np.cbrt(step * step) - 3.15 / np.sqrt(step)))
    most_pitch = _pitch_diameter(diameter, pitch) + 1.32e-6 * 90.0 * np.power(step, 0.4) * np.power(size, 0.1)
    return np.pi * engaged_length * least_major * (0.5 + (least_major - most_pitch) / (pitch * _ROOT))


@kernel
def engagement_needed(*, diameter: Column, pitch: Column, tensile_strength: Column, tapped_shear_strength: Column) -> Column:
    """Least length of engagement [m] at which the stud breaks before the thread in the tapped metal strips: R_m A_s over what 1 m holds.

    Parameters: `tensile_strength` of the stud [Pa]; `tapped_shear_strength` of the metal it stands in [Pa]; else as the module says. The
    thread counts as in `internal_thread_shear_area`; the run-out and the chamfer at the mouth come on top. Source: VDI 2230-1, 5.5.5, the
    rule that the shank decides; from memory.

    >>> n = engagement_needed(diameter=0.008, pitch=0.00125, tensile_strength=800e6, tapped_shear_strength=150e6)
    >>> round(float(n) * 1e3, 1)
    11.6
    """
    one = internal_thread_shear_area.raw(diameter=diameter, pitch=pitch, engaged_length=1.0 + 0.0 * diameter)
    return tensile_strength * thread_stress_area.raw(diameter=diameter, pitch=pitch) / (tapped_shear_strength * one)


@kernel
def gas_force(*, pressure: Column, seal_diameter: Column) -> Column:
    """Force of the gas that lifts the head [N]: `pressure` [Pa] over what is round it, on the circle of `seal_diameter` [m].

    >>> round(float(gas_force(pressure=60e5, seal_diameter=0.056)))
    14778
    """
    return pressure * 0.25 * np.pi * seal_diameter * seal_diameter


@kernel
def effective_seating_width(*, inner_diameter: Column, outer_diameter: Column) -> Column:
    """Effective width b [m] of a flat gasket: half its contact width N/2 up to 1/4 in, and √(b₀/4 in) beyond, as the code's table has it.

    Parameters: `inner_diameter` and `outer_diameter` of the contact [m]. Source: ASME VIII-1, appendix 2, table 2-5.2, from memory
    (b = b₀ to 1/4 in, 0.5 √b₀ in inches beyond; 2.52 √b₀ in mm). NaN where there is no contact.

    >>> round(float(effective_seating_width(inner_diameter=0.054, outer_diameter=0.070)) * 1e3, 3)
    4.0
    """
    width = 0.25 * (outer_diameter - inner_diameter)
    inch = 0.0254
    wide = 0.5 * inch * np.sqrt(np.maximum(width, 0.0) / inch)
    return only(choose(width <= 0.25 * inch, width, wide), width > 0.0)


@kernel
def gasket_load_diameter(*, inner_diameter: Column, outer_diameter: Column) -> Column:
    """Diameter G [m] at which a gasket's load counts: the middle of its contact, and its outer edge less 2 b where b₀ is over 1/4 in.

    Parameters and source as in `effective_seating_width`.

    >>> round(float(gasket_load_diameter(inner_diameter=0.054, outer_diameter=0.070)) * 1e3, 3)
    62.0
    """
    width = effective_seating_width.raw(inner_diameter=inner_diameter, outer_diameter=outer_diameter)
    narrow = 0.25 * (outer_diameter - inner_diameter) <= 0.25 * 0.0254
    return choose(narrow, 0.5 * (inner_diameter + outer_diameter) + 0.0 * width, outer_diameter - 2.0 * width)


@kernel
def gasket_seating_force(*, load_diameter: Column, seating_width: Column, seating_stress: Column) -> Column:
    """Force [N] that beds a gasket in before there is any gas: π b G y.

    Parameters: `load_diameter` G [m]; `seating_width` b [m]; `seating_stress` y [Pa]. Source: ASME VIII-1, appendix 2, 2-5(c)(2), W_m2.

    >>> round(float(gasket_seating_force(load_diameter=0.062, seating_width=0.004, seating_stress=60.67e6)))
    47269
    """
    return np.pi * seating_width * load_diameter * seating_stress


@kernel
def gasket_sealing_force(*, load_diameter: Column, seating_width: Column, gasket_factor: Column, pressure: Column) -> Column:
    """Force [N] that keeps a gasket tight while gas presses: π/4 G² p + 2 b π G m p.

    Parameters: `gasket_factor` m; `pressure` p [Pa]; else as in `gasket_seating_force`. Source: ASME VIII-1, appendix 2, 2-5(c)(1),
    W_m1. The factors are for vessels under steady pressure; an engine's peaks last milliseconds, so it asks for rather more than is needed.

    >>> round(float(gasket_sealing_force(load_diameter=0.062, seating_width=0.004, gasket_factor=4.0, pressure=60e5)))
    55512
    """
    ends = pressure * 0.25 * np.pi * load_diameter * load_diameter
    return ends + 2.0 * np.pi * seating_width * load_diameter * gasket_factor * pressure


@kernel
def stud_compliance(*, clamped_length: Column, diameter: Column, area: Column, modulus: Column) -> Column:
    """How far a stud gives for a newton [m/N]: (l + 0.8 d) / (E A).

    Parameters: `clamped_length` l between nut and thread in the metal [m]; `area` A of its free part [m²]; `modulus` E [Pa]. 0.4 d at
    either end stands for what gives within nut and thread (VDI 2230-1, 5.1.1, 0.4 to 0.5 d; from memory).

    >>> round(float(stud_compliance(clamped_length=0.040, diameter=0.008, area=36.6e-6, modulus=205e9)) * 1e9, 2)
    6.18
    """
    return (clamped_length + 0.8 * diameter) / (modulus * area)


@kernel
def free_growth(*, length: Column, expansion: Column, rise: Column) -> Column:
    """How much a part grows where nothing holds it [m]: `length` [m] · `expansion` [1/K] · `rise` [K].

    >>> round(float(free_growth(length=0.04, expansion=21e-6, rise=100.0)) * 1e6, 1)
    84.0
    """
    return length * expansion * rise


@kernel
def preload_change_hot(*, clamped_growth: Column, stud_growth: Column, stud_compliance: Column, joint_compliance_ratio: Column) -> Column:
    """Change of a stud's preload from cold to hot [N]: what the clamped parts outgrow it by, over what stud and parts give together.

    Parameters: `clamped_growth` and `stud_growth` [m]; `stud_compliance` [m/N]; `joint_compliance_ratio`, how far the clamped parts
    give as a share of the stud. Positive where aluminium on steel studs gets hot. Elastic: where a stud or gasket yields it is less, and
    the preload is lower when all is cold again.

    >>> f = preload_change_hot(clamped_growth=84e-6, stud_growth=43e-6, stud_compliance=6.18e-9, joint_compliance_ratio=0.2)
    >>> round(float(f))
    5529
    """
    return (clamped_growth - stud_growth) / (stud_compliance * (1.0 + joint_compliance_ratio))
