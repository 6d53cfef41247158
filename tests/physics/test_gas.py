"""Gas properties and burned gas: against cantera, by balance of atoms, against printed air-fuel ratios."""

from __future__ import annotations

import cantera as ct
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import gas
from topend.physics.gas import FUELS, SPECIES, Gas

ONE = np.ones(1)
#: our names, theirs
NAMES = {"iso-C8H18": "C8H18,isooctane", "C7H16": "C7H16,n-heptane"}


def table() -> ct.Solution:
    """The species of NASA TM-4513 as cantera ships them."""
    wanted = {NAMES.get(name, name) for name in SPECIES}
    listed = [one for one in ct.Species.list_from_file("nasa_gas.yaml") if one.name in wanted]
    return ct.Solution(thermo="ideal-gas", species=listed)


def mixture(fuel: str, equivalence: float) -> dict[str, float]:
    """Moles of fuel and of air with it."""
    parts = FUELS[fuel].parts
    carbon, hydrogen, oxygen = FUELS[fuel].atoms
    air = (carbon + hydrogen / 4 - oxygen / 2) / 0.21 / equivalence
    return {NAMES.get(name, name): share for name, share in parts.items()} | {name: share * air for name, share in gas.AIR.items()}


@pytest.mark.parametrize("fuel", sorted(FUELS))
@pytest.mark.parametrize("temperature", [300.0, 450.0, 700.0, 990.0])
def test_fresh_charge_is_that_of_cantera(fuel: str, temperature: float) -> None:
    theirs = table()
    theirs.TPX = temperature, ct.one_atm, mixture(fuel, 1.15)
    ours = gas.unburned_gas(FUELS[fuel], equivalence=1.15 * ONE, residual=0 * ONE)
    # cantera's atomic weights differ in the sixth digit
    assert ours.constant[0] == pytest.approx(ct.gas_constant / theirs.mean_molecular_weight, rel=3e-5)
    assert gas.specific_heat(ours, temperature)[0] == pytest.approx(theirs.cp_mass, rel=3e-5)
    assert gas.specific_enthalpy(ours, temperature)[0] == pytest.approx(theirs.enthalpy_mass, rel=3e-5, abs=30.0)


@pytest.mark.parametrize("temperature", [1000.0, 1500.0, 2500.0])
def test_burned_gas_is_that_of_cantera_of_another_table(temperature: float) -> None:
    theirs = ct.Solution("gri30.yaml")
    made = gas.product_moles(equivalence=1.2, carbon=8.0, hydrogen=18.0, oxygen=0.0)
    theirs.TPX = temperature, ct.one_atm, dict(zip(("CO2", "H2O", "CO", "H2", "O2", "N2", "AR"), map(float, made), strict=True))
    ours = gas.burned_gas(FUELS["iso-octane"], equivalence=1.2 * ONE)
    assert gas.specific_heat(ours, temperature)[0] == pytest.approx(theirs.cp_mass, rel=3e-3)
    assert gas.specific_enthalpy(ours, temperature)[0] == pytest.approx(theirs.enthalpy_mass, rel=3e-3)


@pytest.mark.parametrize("equivalence", [0.8, 1.0, 1.2])
@pytest.mark.parametrize("temperature", [300.0, 600.0])
def test_end_state_of_an_adiabatic_flame(equivalence: float, temperature: float) -> None:
    charge = gas.unburned_gas(FUELS["iso-octane"], equivalence=equivalence * ONE, residual=0 * ONE)
    burned = gas.burned_gas(FUELS["iso-octane"], equivalence=equivalence * ONE)
    flame = gas.burned_temperature(burned, gas.specific_enthalpy(charge, temperature * ONE))[0]
    # the same gases and no others, brought to equilibrium at constant enthalpy and pressure. Lean and just burning there is one such state;
    # rich its water-gas reaction follows the temperature, where ours is that of exhausts
    kept = ["C8H18,isooctane", "CO2", "H2O", "N2", "O2", "Ar"] + (["CO", "H2"] if equivalence > 1.0 else [])
    listed = [one for one in ct.Species.list_from_file("nasa_gas.yaml") if one.name in kept]
    theirs = ct.Solution(thermo="ideal-gas", species=listed)
    theirs.TPX = temperature, 20e5, mixture("iso-octane", equivalence)
    theirs.equilibrate("HP")
    assert flame == pytest.approx(theirs.T, rel=2e-4 if equivalence <= 1.0 else 5e-3)
    # with dissociation it is colder: ours is at most a tenth high, as the docstring says
    whole = ct.Solution("gri30.yaml")
    start = table()
    start.TPX = temperature, 20e5, mixture("iso-octane", equivalence)
    products = {name: float(share) for name, share in zip(("CO2", "H2O", "CO", "H2", "O2", "N2", "AR"), _moles(equivalence), strict=True)}
    whole.TPX = 1500.0, 20e5, products
    whole.HP = start.enthalpy_mass, 20e5
    whole.equilibrate("HP")
    assert 1.0 < flame / whole.T < 1.1


def _moles(equivalence: float) -> tuple[np.ndarray, ...]:
    return gas.product_moles(equivalence=equivalence, carbon=8.0, hydrogen=18.0, oxygen=0.0)


@given(
    equivalence=st.floats(0.3, 1.8),
    fuel=st.sampled_from(sorted(FUELS)),
)
def test_atoms_are_kept(equivalence: float, fuel: str) -> None:
    carbon, hydrogen, oxygen = FUELS[fuel].atoms
    co2, h2o, co, h2, o2, n2, ar = map(float, gas.product_moles(equivalence=equivalence, carbon=carbon, hydrogen=hydrogen, oxygen=oxygen))
    air = (carbon + hydrogen / 4 - oxygen / 2) / 0.21 / equivalence
    assert co2 + co == pytest.approx(carbon, rel=1e-12)
    assert 2 * (h2o + h2) == pytest.approx(hydrogen, rel=1e-12)
    assert 2 * co2 + h2o + co + 2 * o2 == pytest.approx(oxygen + 0.42 * air, rel=1e-12)
    assert n2 == pytest.approx(0.78 * air, rel=1e-12)
    assert ar == pytest.approx(0.01 * air, rel=1e-12)
    if equivalence > 1.0:
        assert o2 == 0.0
        assert co * h2o == pytest.approx(gas.WATER_GAS * co2 * h2, rel=1e-9)


def test_beyond_what_air_can_burn_there_is_no_number() -> None:
    made = gas.product_moles(equivalence=np.array([1.0, 9.0, np.nan]), carbon=8.0, hydrogen=18.0, oxygen=0.0)
    assert np.isfinite(made[0][0])
    assert np.isnan(made[0][1:]).all()


@pytest.mark.parametrize(
    ("fuel", "printed"),
    # air-fuel ratios as printed in Heywood (1988), table D.4 (from memory)
    [("iso-octane", 15.13), ("methanol", 6.47), ("ethanol", 9.00), ("toluene", 13.50)],
)
def test_air_for_fuel(fuel: str, printed: float) -> None:
    carbon, hydrogen, oxygen = FUELS[fuel].atoms
    made = gas.stoichiometric_ratio(carbon=carbon, hydrogen=hydrogen, oxygen=oxygen)
    assert float(made) == pytest.approx(printed, abs=0.05)


def test_molar_masses_are_those_of_the_atoms() -> None:
    for name, (carbon, hydrogen, oxygen) in gas._ATOMS.items():
        whole = 12.011e-3 * carbon + 1.008e-3 * hydrogen + 15.999e-3 * oxygen
        assert SPECIES[name].molar_mass == pytest.approx(whole, abs=1e-6)
    for fuel in FUELS.values():
        assert sum(fuel.parts.values()) == pytest.approx(1.0, abs=1e-9)
        assert fuel.source


def test_the_surrogate_s_moles_follow_from_its_volumes() -> None:
    # liquid densities at 20 °C, kg/m³ (from memory)
    volumes = {"iso-C8H18": (0.63, 692.0), "C7H8": (0.20, 867.0), "C7H16": (0.17, 684.0)}
    moles = {name: share * density / SPECIES[name].molar_mass for name, (share, density) in volumes.items()}
    total = sum(moles.values())
    for name, share in FUELS["petrol 98"].parts.items():
        assert share == pytest.approx(moles[name] / total, abs=5e-5)


def test_heat_capacity_is_the_slope_of_enthalpy() -> None:
    made = gas.burned_gas(FUELS["petrol 98"], equivalence=1.1 * ONE)
    for temperature in (900.0, 1800.0, 2700.0):
        slope = (gas.specific_enthalpy(made, temperature + 0.5) - gas.specific_enthalpy(made, temperature - 0.5))[0]
        assert gas.specific_heat(made, temperature)[0] == pytest.approx(slope, rel=1e-7)


def test_residual_gas_mixes_by_mass() -> None:
    burned = gas.unburned_gas(FUELS["ethanol"], equivalence=1.1 * ONE, residual=ONE)
    fresh = gas.unburned_gas(FUELS["ethanol"], equivalence=1.1 * ONE, residual=0 * ONE)
    half = gas.unburned_gas(FUELS["ethanol"], equivalence=1.1 * ONE, residual=0.5 * ONE)
    for index in range(len(Gas._fields)):
        assert half[index][0] == pytest.approx(0.5 * (burned[index] + fresh[index])[0], rel=1e-12)


def test_shapes(kernel_shapes) -> None:  # type: ignore[no-untyped-def]
    kernel_shapes(gas.stoichiometric_ratio, {"carbon": 8.0, "hydrogen": 18.0, "oxygen": 1.0})
    kernel_shapes(gas.product_moles, {"equivalence": 1.1, "carbon": 8.0, "hydrogen": 18.0, "oxygen": 1.0})
    kernel_shapes(gas.product_moles, {"equivalence": 0.9, "carbon": 8.0, "hydrogen": 18.0, "oxygen": 1.0})
