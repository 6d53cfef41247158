"""Studs, torque and gaskets, against standards, an exact screw, and triangles of a thread."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import clamping as c

MM, KN = 1e-3, 1e3

#: ISO 898-1:2013, table 4 (coarse threads): nominal stress area [mm²]; the table from memory, its digits are those of every handbook.
STRESS_AREAS = {5.0: 14.2, 6.0: 20.1, 7.0: 28.9, 8.0: 36.6, 10.0: 58.0, 12.0: 84.3, 14.0: 115.0, 16.0: 157.0}


@pytest.mark.parametrize(("size", "area"), STRESS_AREAS.items())
def test_stress_areas_of_iso_898(size: float, area: float) -> None:
    pitch = c.coarse_pitch(diameter=size * MM)
    made = float(c.thread_stress_area(diameter=size * MM, pitch=pitch)) * 1e6
    assert made == pytest.approx(area, abs=0.05 if area < 100.0 else 0.5)


#: screw-thread-lib 0.0.6 (an open library), from the limits of ASME B1.13M, 6g/6H, an inch engaged, in in²: stress area of ISO/TR 16224,
#: least internal shear area by FED-STD-H28/2B formula (2a), and engagement [in] by its formula (16) for 800 on 230 N/mm² tensile
LIBRARY = {
    (8.0, 1.25): (0.05674335166651653, 0.6625311810198765, 0.5879539078814895),
    (12.0, 1.75): (0.13061338741976108, 1.028264041643716, 0.8728984078188279),
    (20.0, 2.5): (0.37943204591033053, 1.7869963951045318, 1.4620182255552545),
    (24.0, 3.0): (0.5463821461108759, 2.1658048681473696, 1.7370792380137416),
}


@pytest.mark.parametrize(("thread", "values"), LIBRARY.items())
def test_areas_against_a_library_of_screw_threads(thread: tuple[float, float], values: tuple[float, float, float]) -> None:
    size = {"diameter": thread[0] * MM, "pitch": thread[1] * MM}
    inch = 25.4 * MM
    assert float(c.thread_stress_area(**size)) == pytest.approx(values[0] * inch**2, rel=2e-6)
    # the library's limits are rounded to steps, ours are the standard's formulas before that
    shear = float(c.internal_thread_shear_area(**size, engaged_length=inch))
    assert shear == pytest.approx(values[1] * inch**2, rel=0.012)
    # formula (16) takes the metal's shear strength as half its tensile strength
    needed = float(c.engagement_needed(**size, tensile_strength=800e6, tapped_shear_strength=115e6))
    assert needed == pytest.approx(values[2] * inch, rel=0.015)


def test_limits_of_m8_are_those_of_the_table() -> None:
    """M8-1.25, 6g/6H: least major diameter 0.30551 in, greatest pitch diameter of the hole 0.28929 in (ASME B1.13M, second-hand)."""
    least, most = 0.30551 * 25.4, 0.28929 * 25.4
    by_table = math.pi * least * (0.5 + (least - most) / (1.25 * math.sqrt(3.0)))
    ours = float(c.internal_thread_shear_area(diameter=8 * MM, pitch=1.25 * MM, engaged_length=1.0)) * 1e3
    assert ours == pytest.approx(by_table, rel=0.006)


def test_without_tolerance_seven_eighths_of_the_pitch_are_sheared() -> None:
    """Basic profile of ISO 68-1: at its major diameter an internal thread is 7/8 P thick; limits leave 70 to 90 % of that."""
    whole = math.pi * 8e-3 * 7.0 / 8.0
    made = float(c.internal_thread_shear_area(diameter=8 * MM, pitch=1.25 * MM, engaged_length=1.0))
    assert 0.70 < made / whole < 0.90


@given(
    size=st.sampled_from(sorted(STRESS_AREAS)),
    thread=st.floats(0.04, 0.25),
    nut=st.floats(0.04, 0.25),
    torque=st.floats(1.0, 60.0),
)
def test_torque_against_the_exact_screw(size: float, thread: float, nut: float, torque: float) -> None:
    """The screw as an inclined plane: M = F (d₂/2 tan(φ + ρ') + D_km μ/2), tan φ = P/(π d₂), tan ρ' = μ/cos 30°. The sum of terms
    leaves out their product, tan φ tan ρ', under 1.7 % here."""
    pitch = float(c.coarse_pitch(diameter=size * MM))
    mean = size * MM - 0.375 * math.sqrt(3.0) * pitch
    bearing = 1.35 * size * MM
    lead, friction = math.atan(pitch / (math.pi * mean)), math.atan(thread / math.cos(math.radians(30.0)))
    exact = torque / (0.5 * mean * math.tan(lead + friction) + 0.5 * bearing * nut)
    made = float(
        c.preload_from_torque(
            torque=torque, diameter=size * MM, pitch=pitch, thread_friction=thread, nut_friction=nut, bearing_diameter=bearing
        )
    )
    assert made == pytest.approx(exact, rel=1.2 * math.tan(lead) * math.tan(friction) + 1e-9)
    assert made >= exact


def test_the_printed_constants_of_vdi_2230() -> None:
    """M = F (0.159 P + 0.578 d₂ μ_G + D_km/2 μ_K), VDI 2230-1 (2015), R13/1."""
    made = float(c.preload_from_torque(torque=1.0, diameter=8.0, pitch=1.25, thread_friction=0.0, nut_friction=0.0, bearing_diameter=11.0))
    assert 1.0 / made / 1.25 == pytest.approx(0.159, abs=0.0005)
    rough = float(c.preload_from_torque(torque=1.0, diameter=8.0, pitch=1.25, thread_friction=1.0, nut_friction=0.0, bearing_diameter=11.0))
    assert (1.0 / rough - 1.0 / made) / (8.0 - 0.6495 * 1.25) == pytest.approx(0.578, abs=0.001)


#: VDI 2230-1, table A1 (from memory): preload [kN] that uses 90 % of the yield strength, by friction in the thread
TABLE_A1 = (
    (6.0, 640e6, 0.12, 9.4),
    (8.0, 640e6, 0.08, 18.6),
    (8.0, 640e6, 0.10, 17.9),
    (8.0, 640e6, 0.12, 17.2),
    (8.0, 940e6, 0.12, 25.2),
    (10.0, 640e6, 0.12, 27.3),
)


@pytest.mark.parametrize(("size", "strength", "friction", "force"), TABLE_A1)
def test_tightening_against_the_table_of_vdi_2230(size: float, strength: float, friction: float, force: float) -> None:
    thread = {"diameter": size * MM, "pitch": c.coarse_pitch(diameter=size * MM)}
    stress = c.tightening_stress(preload=force * KN, torsion_preload=force * KN, thread_friction=friction, **thread)
    assert float(c.yield_use_ratio(stress=stress, yield_strength=strength)) == pytest.approx(0.90, abs=0.006)


def test_torsion_against_the_bar_it_twists() -> None:
    """Torque of the thread; shear at the rim by integrating a round bar; von Mises from its tensor."""
    force, size, pitch, friction = 15e3, 8 * MM, 1.25 * MM, 0.12
    area = float(c.thread_stress_area(diameter=size, pitch=pitch))
    bar = math.sqrt(area / math.pi)
    torque = force * (pitch / (2 * math.pi) + friction * (size - 0.375 * math.sqrt(3) * pitch) / math.sqrt(3))
    edges = np.linspace(0.0, bar, 20_001)
    rim = 0.5 * (edges[1:] + edges[:-1])
    # shear grows with the radius to t at the rim: torque is the sum of t r/R · r · 2πr dr
    shear = torque / float(np.sum(rim / bar * rim * 2 * np.pi * rim * np.diff(edges)))
    tensor = np.array([[force / area, shear, 0], [shear, 0, 0], [0, 0, 0]])
    part = tensor - np.trace(tensor) / 3 * np.eye(3)
    expected = math.sqrt(1.5 * float((part * part).sum()))
    made = c.tightening_stress(preload=force, torsion_preload=force, diameter=size, pitch=pitch, thread_friction=friction)
    assert float(made) == pytest.approx(expected, rel=1e-6)


def test_gasket_widths_of_the_code() -> None:
    """ASME VIII-1 appendix 2, table 2-5.2 in mm: b = b₀ to 6 mm, 2.52 √b₀ beyond (from memory); and the step is none."""
    for half in (1.0, 4.0, 6.35):
        made = float(c.effective_seating_width(inner_diameter=54 * MM, outer_diameter=(54 + 4 * half) * MM))
        assert made * 1e3 == pytest.approx(half)
    for half in (7.0, 12.0, 25.0):
        made = float(c.effective_seating_width(inner_diameter=54 * MM, outer_diameter=(54 + 4 * half) * MM))
        assert made * 1e3 == pytest.approx(2.52 * math.sqrt(half), rel=0.001)
    assert np.isnan(c.effective_seating_width(inner_diameter=54 * MM, outer_diameter=54 * MM))
    wide = float(c.gasket_load_diameter(inner_diameter=54 * MM, outer_diameter=94 * MM))
    assert wide == pytest.approx(94 * MM - 2 * float(c.effective_seating_width(inner_diameter=54 * MM, outer_diameter=94 * MM)))


def test_gasket_loads_of_the_code() -> None:
    """W_m1 = 0.785 G² P + 2b · 3.14 G m P and W_m2 = 3.14 b G y with the constants as the code prints them, in inches and pounds: a flat
    ring of 10 by 12 in of soft copper under 150 psi (figures of ours, arithmetic of the code)."""
    inner, outer, factor, seat, pressure = 10.0, 12.0, 4.75, 13000.0, 150.0
    b0 = (outer - inner) / 4
    b = 0.5 * math.sqrt(b0)
    g = outer - 2 * b
    operating, seating = 0.785 * g * g * pressure + 2 * b * 3.14 * g * factor * pressure, 3.14 * b * g * seat
    inch, pound, psi = 0.0254, 4.4482216, 6894.757
    contact = {"inner_diameter": inner * inch, "outer_diameter": outer * inch}
    at = {"load_diameter": c.gasket_load_diameter(**contact), "seating_width": c.effective_seating_width(**contact)}
    assert float(c.gasket_sealing_force(gasket_factor=factor, pressure=pressure * psi, **at)) == pytest.approx(operating * pound, rel=1e-3)
    assert float(c.gasket_seating_force(seating_stress=seat * psi, **at)) == pytest.approx(seating * pound, rel=1e-3)


def test_materials_of_the_code() -> None:
    """y in the code's metric table: 8800 psi 60.7, 13000 psi 89.6, 18000 psi 124.1, 6500 psi 44.8, 1100 psi 7.6 N/mm² (from memory)."""
    shown = {name: round(need.stress * 1e-6, 1) for name, need in c.GASKETS.items()}
    assert shown == {"aluminium": 60.7, "copper": 89.6, "brass": 89.6, "steel": 124.1, "fibre": 44.8, "paper": 7.6}
    for need in c.GASKETS.values():
        assert 0.0 < need.factor_low <= need.factor <= need.factor_high
        assert 0.0 < need.stress_low <= need.stress <= need.stress_high
    for one in c.PROPERTY_CLASSES.values():
        # a property class is written as tensile/100 and yield/tensile; the least strengths are no smaller
        tensile, _, share = one.name.partition(".")
        assert one.tensile_strength >= float(tensile) * 1e8
        assert one.yield_strength >= float(tensile) * 1e8 * float(share) / 10


def test_heat_against_two_springs() -> None:
    """Stud and clamped parts as two springs that must be of one length again: solved as two equations."""
    stud, share, parts, own = 6.2e-9, 0.25, 84e-6, 43e-6
    # force x both ways: parts - share·stud·x = own + stud·x
    force = np.linalg.solve(np.array([[share * stud, 1.0], [stud, -1.0]]), np.array([parts, -own]))[0]
    made = c.preload_change_hot(clamped_growth=parts, stud_growth=own, stud_compliance=stud, joint_compliance_ratio=share)
    assert float(made) == pytest.approx(float(force))


@given(scale=st.floats(0.5, 4.0))
def test_scales(scale: float) -> None:
    thread = {"diameter": 8 * MM, "pitch": 1.25 * MM}
    larger = {name: value * scale for name, value in thread.items()}
    assert float(c.thread_stress_area(**larger)) == pytest.approx(scale**2 * float(c.thread_stress_area(**thread)))
    friction = {"thread_friction": 0.12, "nut_friction": 0.1}
    one = c.preload_from_torque(torque=20.0, bearing_diameter=11 * MM, **thread, **friction)
    other = c.preload_from_torque(torque=20.0 * scale, bearing_diameter=11 * MM * scale, **larger, **friction)
    assert float(other) == pytest.approx(float(one))


def test_coarse_pitches_and_none_for_others() -> None:
    assert float(c.coarse_pitch(diameter=0.006)) == 0.001
    made = c.coarse_pitch(diameter=np.array([0.006, 0.0065, 0.014]))
    assert np.isnan(made[1])
    assert made[2] == 0.002
    assert np.isnan(c.thread_stress_area(diameter=0.001, pitch=0.01))


ROWS: dict[str, dict[str, float]] = {
    "coarse_pitch": {"diameter": 0.008},
    "thread_stress_area": {"diameter": 0.008, "pitch": 0.00125},
    "preload_from_torque": {
        "torque": 20.0,
        "diameter": 0.008,
        "pitch": 0.00125,
        "thread_friction": 0.12,
        "nut_friction": 0.1,
        "bearing_diameter": 0.011,
    },
    "tightening_stress": {"preload": 15e3, "torsion_preload": 15e3, "diameter": 0.008, "pitch": 0.00125, "thread_friction": 0.12},
    "yield_use_ratio": {"stress": 4e8, "yield_strength": 64e7},
    "internal_thread_shear_area": {"diameter": 0.008, "pitch": 0.00125, "engaged_length": 0.014},
    "engagement_needed": {"diameter": 0.008, "pitch": 0.00125, "tensile_strength": 8e8, "tapped_shear_strength": 15e7},
    "gas_force": {"pressure": 6e6, "seal_diameter": 0.056},
    "effective_seating_width": {"inner_diameter": 0.054, "outer_diameter": 0.066},
    "gasket_load_diameter": {"inner_diameter": 0.054, "outer_diameter": 0.066},
    "gasket_seating_force": {"load_diameter": 0.06, "seating_width": 0.003, "seating_stress": 6e7},
    "gasket_sealing_force": {"load_diameter": 0.06, "seating_width": 0.003, "gasket_factor": 4.0, "pressure": 6e6},
    "stud_compliance": {"clamped_length": 0.04, "diameter": 0.008, "area": 36.6e-6, "modulus": 205e9},
    "free_growth": {"length": 0.04, "expansion": 21e-6, "rise": 100.0},
    "preload_change_hot": {"clamped_growth": 84e-6, "stud_growth": 43e-6, "stud_compliance": 6.2e-9, "joint_compliance_ratio": 0.2},
}


@pytest.mark.parametrize("name", ROWS)
def test_shapes(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(c, name), ROWS[name])


def test_every_kernel_is_tried() -> None:
    assert set(ROWS) == {name for name in c.__all__ if hasattr(getattr(c, name), "raw")}
