"""The table of slotted pins against what was seen of it."""

from __future__ import annotations

import pytest

from topend.iso_286 import standard_tolerance
from topend.physics.spring_pins import HOLE_LIMITS, SPRING_PINS


@pytest.mark.parametrize(
    ("nominal", "free", "hole"),
    [(2.0, (2.3, 2.4), 2.10), (3.0, (3.3, 3.5), 3.10), (4.0, (4.4, 4.6), 4.12), (5.0, (5.4, 5.6), 5.12)],
)
def test_iso_8752_as_seen(nominal: float, free: tuple[float, float], hole: float) -> None:
    """ISO 8752, free diameter [mm], greatest hole [mm] (reference page, second-hand)."""
    pin = SPRING_PINS["ISO 8752", nominal]
    assert (pin.free_low * 1e3, pin.free_high * 1e3) == pytest.approx(free)
    assert nominal + HOLE_LIMITS[nominal] * 1e3 == pytest.approx(hole)


def test_the_hole_is_h12() -> None:
    for nominal, over in HOLE_LIMITS.items():
        assert over * 1e6 == pytest.approx(standard_tolerance(nominal, 12))


def test_pins_are_wider_than_their_hole_and_the_light_ones_alike() -> None:
    for (standard, nominal), pin in SPRING_PINS.items():
        assert pin.free_low > pin.nominal + HOLE_LIMITS[nominal]
        if standard == "ISO 13337":
            heavy = SPRING_PINS["ISO 8752", nominal]
            assert (pin.free_low, pin.free_high) == (heavy.free_low, heavy.free_high)
