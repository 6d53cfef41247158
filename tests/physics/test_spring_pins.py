"""The table of slotted pins against what was seen of it, and against the strength of its rings."""

from __future__ import annotations

import math

import pytest

from topend.iso_286 import standard_tolerance
from topend.physics.spring_pins import HOLE_LIMITS, SPRING_PINS


@pytest.mark.parametrize(
    ("nominal", "free", "shear", "hole"),
    [(2.0, (2.3, 2.4), 2.82, 2.10), (3.0, (3.3, 3.5), 6.32, 3.10), (4.0, (4.4, 4.6), 11.24, 4.12), (5.0, (5.4, 5.6), 17.54, 5.12)],
)
def test_iso_8752_as_seen(nominal: float, free: tuple[float, float], shear: float, hole: float) -> None:
    """ISO 8752, free diameter [mm], double shear [kN], greatest hole [mm] (reference page, second-hand)."""
    pin = SPRING_PINS["ISO 8752", nominal]
    assert (pin.free_low * 1e3, pin.free_high * 1e3) == pytest.approx(free)
    assert pin.double_shear == pytest.approx(shear * 1e3)
    assert pin.single_shear == pytest.approx(shear * 500)
    assert nominal + HOLE_LIMITS[nominal] * 1e3 == pytest.approx(hole)


def test_shear_is_two_rings_at_one_stress() -> None:
    """Strength of materials: two cuts through a ring of wall s, π (d - s) s each, at one shear stress. The heavy pins agree with 698 MPa
    to 1 %, but for 6 mm (3 %); the light ones with 700 MPa to 6 %. So the entries from memory are at least of one piece."""
    for (standard, nominal), pin in SPRING_PINS.items():
        stress = pin.double_shear / (2 * math.pi * (pin.nominal - pin.wall) * pin.wall) / 1e6
        near = 0.06 if standard == "ISO 13337" else 0.035 if nominal == 6.0 else 0.01
        assert stress == pytest.approx(698.0, rel=near), (standard, nominal)


def test_the_hole_is_h12() -> None:
    for nominal, over in HOLE_LIMITS.items():
        assert over * 1e6 == pytest.approx(standard_tolerance(nominal, 12))


def test_pins_are_wider_than_their_hole_and_the_light_ones_thinner() -> None:
    for (standard, nominal), pin in SPRING_PINS.items():
        assert pin.free_low > pin.nominal + HOLE_LIMITS[nominal]
        if standard == "ISO 13337":
            heavy = SPRING_PINS["ISO 8752", nominal]
            assert pin.wall < heavy.wall
            assert pin.double_shear < heavy.double_shear
            assert (pin.free_low, pin.free_high) == (heavy.free_low, heavy.free_high)
