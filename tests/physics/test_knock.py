"""Knock: tabulated delays, and their integral."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import knock

ATM = 101325.0


@pytest.mark.parametrize(
    ("octane", "atmospheres", "temperature", "milliseconds"),
    # Douaud and Eyzat, SAE 780080 (1978), worked out from its formula outside the project; the formula itself is from memory
    [(100.0, 20.0, 800.0, 12.54960501), (98.0, 50.0, 900.0, 1.455700983)],
)
def test_tabulated_delays(octane: float, atmospheres: float, temperature: float, milliseconds: float) -> None:
    made = knock.ignition_delay(pressure=atmospheres * ATM, temperature=temperature, octane=octane)
    assert float(made) * 1e3 == pytest.approx(milliseconds, rel=5e-10)


@given(st.floats(1e5, 1e7), st.floats(500.0, 1100.0), st.floats(80.0, 105.0))
def test_hotter_denser_and_lower_octane_ignite_sooner(pressure: float, temperature: float, octane: float) -> None:
    base = knock.ignition_delay(pressure=pressure, temperature=temperature, octane=octane)
    assert knock.ignition_delay(pressure=1.1 * pressure, temperature=temperature, octane=octane) == pytest.approx(base * 1.1**-1.7)
    assert knock.ignition_delay(pressure=pressure, temperature=temperature, octane=1.1 * octane) == pytest.approx(base * 1.1**3.402)
    assert knock.ignition_delay(pressure=pressure, temperature=temperature + 1.0, octane=octane) < base
    assert base * knock.knock_rate(pressure=pressure, temperature=temperature, octane=octane) == pytest.approx(1.0)


def test_the_slope_of_the_rate() -> None:
    p, t = np.array([3e6]), np.array([850.0])
    rate = knock.knock_rate.raw(pressure=p, temperature=t, octane=np.array([95.0]))
    ends = [knock.knock_rate.raw(pressure=p + s * 4e2, temperature=t + s * 3e-2, octane=np.array([95.0])) for s in (-1.0, 1.0)]
    assert knock.knock_slope(rate, p, np.array([4e2]), t, np.array([3e-2]))[0] == pytest.approx((ends[1] - ends[0])[0] / 2.0, rel=1e-6)


@pytest.mark.parametrize("name", ["ignition_delay", "knock_rate"])
def test_shapes(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(knock, name), {"pressure": 3e6, "temperature": 850.0, "octane": 95.0})
