"""The leak past the rings: against the isentropic flow through a nozzle."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import leak


def test_critical_pressure_ratio() -> None:
    assert float(leak.critical_pressure_ratio(isentropic_exponent=1.4)) == pytest.approx(0.5282817877, abs=5e-11)


@given(st.floats(0.0, 0.999))
def test_leak_is_the_isentropic_orifice(ratio: float) -> None:
    """The equation of compressible flow through a nozzle, by the enthalpy that its speed is made from."""
    g, energy, pressure, area = 1.3, 290.0 * 900.0, 3e6, 2e-8
    made = float(leak.leak_flow(pressure=pressure, behind=ratio * pressure, energy=energy, area=area))
    throat = max(ratio, float(leak.critical_pressure_ratio(isentropic_exponent=g)))
    speed = np.sqrt(2 * g / (g - 1) * energy * (1 - throat ** ((g - 1) / g)))
    assert made == pytest.approx(area * pressure / energy * throat ** (1 / g) * speed, rel=0.02)


def test_leak_goes_one_way() -> None:
    assert float(leak.leak_flow(pressure=1e5, behind=1.2e5, energy=1e5, area=1e-8)) == 0.0


ONE_ROW: dict[str, dict[str, float]] = {
    "critical_pressure_ratio": {"isentropic_exponent": 1.3},
    "leak_flow": {"pressure": 2e6, "behind": 1.5e6, "energy": 2.6e5, "area": 2e-8},
}


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(leak, name), ONE_ROW[name])
