"""Heat from gas to wall: the relations as printed, and the gas beside cantera's air."""

from __future__ import annotations

from typing import Any

import cantera as ct
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import heat_loss


def test_woschni_as_tabulated() -> None:
    # worked out from the printed formula outside the project; the formula is from memory
    made = heat_loss.woschni_coefficient(pressure=2e6, temperature=700.0, speed=45.6, bore=0.054)
    assert float(made) == pytest.approx(1478.8727, abs=5e-5)


@given(st.floats(0.1, 50.0), st.floats(300.0, 2500.0), st.floats(1.0, 25.0), st.floats(0.03, 0.1), st.floats(0.2, 0.8))
def test_annand_is_its_nusselt_number(density: float, temperature: float, speed: float, bore: float, factor: float) -> None:
    viscosity, conductivity = (float(law(temperature=temperature)) for law in (heat_loss.gas_viscosity, heat_loss.gas_conductivity))
    reynolds = density * speed * bore / viscosity
    made = heat_loss.annand_coefficient(density=density, temperature=temperature, speed=speed, bore=bore, factor=factor)
    assert float(made) * bore / conductivity == pytest.approx(factor * reynolds**0.7, rel=1e-12)


@pytest.mark.parametrize("temperature", [300.0, 600.0, 1000.0, 1500.0, 2000.0])
def test_viscosity_and_conductivity_are_those_of_air(temperature: float) -> None:
    air = ct.Solution("air.yaml")
    air.TPX = temperature, ct.one_atm, "O2:0.21, N2:0.79"
    # cantera's transport of air, of its own parameters; the fits are for burned gas too, and fall behind air where it is hottest
    assert float(heat_loss.gas_viscosity(temperature=temperature)) == pytest.approx(air.viscosity, rel=0.10)
    assert float(heat_loss.gas_conductivity(temperature=temperature)) == pytest.approx(
        air.thermal_conductivity, rel=0.10 if temperature <= 1500.0 else 0.15
    )


ONE_ROW: dict[str, dict[str, float]] = {
    "gas_viscosity": {"temperature": 900.0},
    "gas_conductivity": {"temperature": 900.0},
    "annand_coefficient": {"density": 9.0, "temperature": 900.0, "speed": 12.0, "bore": 0.054, "factor": 0.26},
    "woschni_coefficient": {"pressure": 2e6, "temperature": 900.0, "speed": 30.0, "bore": 0.054},
}


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(heat_loss, name), ONE_ROW[name])
