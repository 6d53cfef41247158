"""Gas before and after the burn: composition from fuel, mixture and residuals, heat capacity and enthalpy from polynomials.

Polynomials are those of NASA TM-4513 (McBride, Gordon and Reno, 1993): c_p/R = a1 + a2 T + a3 T² + a4 T³ + a5 T⁴ and
h/RT = a1 + a2 T/2 + a3 T²/3 + a4 T³/4 + a5 T⁴/5 + a6/T, in two ranges that meet at 1000 K. Their figures were read in an open copy of
that table. The gas before the burn is given the lower range, the gas after it the upper one, each beyond its end too: heat capacity of
nitrogen is then 0.6 % low at 1100 K before the burn (2.5 % at 1200 K, where an end gas has long knocked), and 0.3 % high at 800 K after it.

Burned gas is CO2, H2O, N2 and argon, with O2 where the mixture is lean, with CO and H2 in the ratio of a frozen water-gas reaction where
it is rich. It does not dissociate: its temperature at the end of the burn is about a tenth high, the peak pressure a few per cent.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, NamedTuple

import numpy as np

from topend.physics.kernel import choose, kernel

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "AIR",
    "FUELS",
    "GAS_CONSTANT",
    "SPECIES",
    "WATER_GAS",
    "Fuel",
    "Gas",
    "Species",
    "burned_gas",
    "burned_temperature",
    "product_moles",
    "specific_enthalpy",
    "specific_heat",
    "stoichiometric_ratio",
    "unburned_gas",
]

#: Of all gases [J/mol/K], CODATA 2018.
GAS_CONSTANT: Final = 8.314462618
#: Dry air by moles of 1 mol: O2, N2, argon.
AIR: Final[Mapping[str, float]] = {"O2": 0.21, "N2": 0.78, "Ar": 0.01}
#: CO·H2O/(CO2·H2) in burned rich gas, as exhausts show it (Heywood, Internal Combustion Engine Fundamentals, 1988, section 4.9; from
#: memory).
WATER_GAS: Final = 3.5


class Species(NamedTuple):
    """One gas: molar mass [kg/mol], and a1 to a6 of its polynomials below and above 1000 K."""

    molar_mass: float
    low: tuple[float, ...]
    high: tuple[float, ...]


#: NASA TM-4513, as read in an open copy. Molar masses from atomic weights of IUPAC.
SPECIES: Final[Mapping[str, Species]] = {
    "N2": Species(
        28.014e-3,
        (3.53100528, -1.23660987e-4, -5.02999437e-7, 2.43530612e-9, -1.40881235e-12, -1046.97628),
        (2.95257626, 1.39690057e-3, -4.92631691e-7, 7.86010367e-11, -4.60755321e-15, -923.948645),
    ),
    "O2": Species(
        31.998e-3,
        (3.78245636, -2.99673415e-3, 9.847302e-6, -9.68129508e-9, 3.24372836e-12, -1063.94356),
        (3.66096083, 6.56365523e-4, -1.41149485e-7, 2.05797658e-11, -1.29913248e-15, -1215.97725),
    ),
    "Ar": Species(39.948e-3, (2.5, 0.0, 0.0, 0.0, 0.0, -745.375), (2.5, 0.0, 0.0, 0.0, 0.0, -745.375)),
    "CO2": Species(
        44.009e-3,
        (2.35677352, 8.98459677e-3, -7.12356269e-6, 2.45919022e-9, -1.43699548e-13, -48371.9697),
        (4.63659493, 2.74131991e-3, -9.95828531e-7, 1.60373011e-10, -9.16103468e-15, -49024.9341),
    ),
    "H2O": Species(
        18.015e-3,
        (4.19864056, -2.0364341e-3, 6.52040211e-6, -5.48797062e-9, 1.77197817e-12, -30293.7267),
        (2.67703787, 2.97318329e-3, -7.7376969e-7, 9.44336689e-11, -4.26900959e-15, -29885.8938),
    ),
    "CO": Species(
        28.010e-3,
        (3.57953347, -6.1035368e-4, 1.01681433e-6, 9.07005884e-10, -9.04424499e-13, -14344.086),
        (3.04848583, 1.35172818e-3, -4.85794075e-7, 7.88536486e-11, -4.69807489e-15, -14266.1171),
    ),
    "H2": Species(
        2.016e-3,
        (2.34433112, 7.98052075e-3, -1.9478151e-5, 2.01572094e-8, -7.37611761e-12, -917.935173),
        (2.93286579, 8.26607967e-4, -1.46402335e-7, 1.54100359e-11, -6.88804432e-16, -813.065597),
    ),
    "CH3OH": Species(
        32.042e-3,
        (5.71539582, -0.0152309129, 6.52441155e-5, -7.10806889e-8, 2.61352698e-11, -25642.7656),
        (3.60134486, 0.0102430954, -3.59985517e-6, 5.72505986e-10, -3.3911764e-14, -25997.191),
    ),
    "C2H5OH": Species(
        46.069e-3,
        (4.85868178, -3.7400674e-3, 6.95550267e-5, -8.86541147e-8, 3.5168443e-11, -29996.1309),
        (6.5628977, 0.0152034264, -5.38922247e-6, 8.62150224e-10, -5.12824683e-14, -31525.7984),
    ),
    "C7H8": Species(
        92.141e-3,
        (1.611914, 0.0211188902, 8.53221453e-5, -1.32566876e-7, 5.59406109e-11, 4096.51976),
        (12.939475, 0.0266921558, -9.68420108e-6, 1.5739214e-9, -9.46670482e-14, -677.035769),
    ),
    "C7H16": Species(
        100.205e-3,
        (11.1532484, -9.49415433e-3, 1.95571181e-4, -2.4975252e-7, 9.84873213e-11, -26771.1735),
        (18.5354704, 0.0391420468, -1.38030268e-5, 2.22403874e-9, -1.3345258e-13, -31950.0783),
    ),
    "iso-C8H18": Species(
        114.232e-3,
        (0.815737338, 0.0732643959, 1.78300688e-5, -6.9358962e-8, 3.21629382e-11, -30477.2862),
        (15.9899273, 0.055318479, -1.95267072e-5, 3.11779172e-9, -1.85312577e-13, -35875.7973),
    ),
}

_ATOMS: Final[Mapping[str, tuple[float, float, float]]] = {
    "CH3OH": (1.0, 4.0, 1.0),
    "C2H5OH": (2.0, 6.0, 1.0),
    "C7H8": (7.0, 8.0, 0.0),
    "C7H16": (7.0, 16.0, 0.0),
    "iso-C8H18": (8.0, 18.0, 0.0),
}


@dataclass(frozen=True, slots=True)
class Fuel:
    """A fuel as it enters the gas: its parts by moles of 1 mol, its octane numbers where they are known, and where all that is from."""

    parts: Mapping[str, float]
    ron: float
    mon: float
    source: str

    @property
    def atoms(self) -> tuple[float, float, float]:
        """Carbon, hydrogen and oxygen atoms of one molecule, a mean over the parts."""
        counts = [sum(share * _ATOMS[name][which] for name, share in self.parts.items()) for which in range(3)]
        return counts[0], counts[1], counts[2]

    @property
    def molar_mass(self) -> float:
        """Of its vapour [kg/mol]."""
        return sum(share * SPECIES[name].molar_mass for name, share in self.parts.items())


#: Iso-octane 63 %, toluene 20 %, n-heptane 17 % by liquid volume (densities 692, 867, 684 kg/m³), as moles.
_PETROL: Final[Mapping[str, float]] = {"iso-C8H18": 0.5564, "C7H8": 0.2744, "C7H16": 0.1692}
_SURROGATE: Final = (
    "vapour as a surrogate of 63 % iso-octane, 20 % toluene, 17 % n-heptane by volume (Gauthier, Davidson and Hanson 2004; from memory)"
)
#: What may be burned. Octane numbers are nominal: a delivery note, or a stated `ron` or `mon`, comes first.
FUELS: Final[Mapping[str, Fuel]] = {
    "petrol 95": Fuel(_PETROL, 95.0, 85.0, f"{_SURROGATE}; octane numbers: least of EN 228 (common practice)"),
    "petrol 98": Fuel(_PETROL, 98.0, 88.0, f"{_SURROGATE}; octane numbers: as sold under EN 228 (common practice)"),
    "iso-octane": Fuel({"iso-C8H18": 1.0}, 100.0, 100.0, "octane numbers: 100 by definition (ASTM D2699, D2700)"),
    "toluene": Fuel({"C7H8": 1.0}, 120.0, 109.0, "octane numbers: Heywood (1988), table D.4; from memory"),
    "methanol": Fuel({"CH3OH": 1.0}, 106.0, 92.0, "octane numbers: Heywood (1988), table D.4; from memory"),
    "ethanol": Fuel({"C2H5OH": 1.0}, 107.0, 89.0, "octane numbers: Heywood (1988), table D.4; from memory"),
}


class Gas(NamedTuple):
    """A mixture per kilogram: its gas constant [J/kg/K], c_p as c0 + c1 T + ... + c4 T⁴ [J/kg/K], and its enthalpy at 0 K, h0 [J/kg]."""

    constant: Column
    c0: Column
    c1: Column
    c2: Column
    c3: Column
    c4: Column
    h0: Column


def specific_heat(gas: Gas, temperature: Column) -> Column:
    """c_p of `gas` [J/kg/K] at `temperature` [K].

    >>> air = unburned_gas(FUELS["iso-octane"], equivalence=np.zeros(1), residual=np.zeros(1))
    >>> round(float(specific_heat(air, np.array([300.0]))[0]))
    1004
    """
    made: Column = gas.c0 + temperature * (gas.c1 + temperature * (gas.c2 + temperature * (gas.c3 + temperature * gas.c4)))
    return made


def specific_enthalpy(gas: Gas, temperature: Column) -> Column:
    """Enthalpy of `gas` [J/kg] at `temperature` [K], heats of formation in it; elements at 298.15 K have none.

    >>> air = unburned_gas(FUELS["iso-octane"], equivalence=np.zeros(1), residual=np.zeros(1))
    >>> bool(abs(specific_enthalpy(air, np.array([298.15]))[0]) < 10.0)
    True
    """
    t = temperature
    made: Column = gas.h0 + t * (gas.c0 + t * (0.5 * gas.c1 + t * ((1.0 / 3.0) * gas.c2 + t * (0.25 * gas.c3 + t * (0.2 * gas.c4)))))
    return made


@kernel
def stoichiometric_ratio(*, carbon: Column, hydrogen: Column, oxygen: Column) -> Column:
    """Air for one kilogram of fuel that leaves neither oxygen nor anything to burn [kg/kg].

    Parameters: atoms of `carbon`, `hydrogen` and `oxygen` in a molecule of the fuel, 0 or more. n_air = (C + H/4 - O/2)/0.21 mol a mol.

    >>> round(float(stoichiometric_ratio(carbon=8.0, hydrogen=18.0, oxygen=0.0)), 2)
    15.1
    """
    air = sum(share * SPECIES[name].molar_mass for name, share in AIR.items())
    fuel = 12.011e-3 * carbon + 1.008e-3 * hydrogen + 15.999e-3 * oxygen
    return (carbon + 0.25 * hydrogen - 0.5 * oxygen) / AIR["O2"] * air / fuel


@kernel
def product_moles(
    *, equivalence: Column, carbon: Column, hydrogen: Column, oxygen: Column
) -> tuple[Column, Column, Column, Column, Column, Column, Column]:
    """CO2, H2O, CO, H2, O2, N2 and argon [mol] of one mole of fuel burned with 1/`equivalence` of the air it needs.

    Parameters: `equivalence` φ, fuel over air as a multiple of what just burns, more than 0; atoms `carbon`, `hydrogen`, `oxygen`
    of the fuel. Where φ > 1 the oxygen that is lacking goes to CO and H2 so that CO·H2O/(CO2·H2) is `WATER_GAS`. NaN where there is
    not oxygen enough for CO and H2O.

    >>> [round(float(n), 3) for n in product_moles(equivalence=1.0, carbon=8.0, hydrogen=18.0, oxygen=0.0)][:4]
    [8.0, 9.0, 0.0, 0.0]
    """
    needed = carbon + 0.25 * hydrogen - 0.5 * oxygen
    air_o2 = needed / equivalence
    left = air_o2 - needed
    lean = left >= 0.0
    # short of oxygen atoms by d = CO + H2; with c = CO: c (w - d + c) = K (C - c)(d - c), w = H/2
    short = choose(lean, 0.0 * left, -2.0 * left)
    water = 0.5 * hydrogen
    square = 1.0 - WATER_GAS
    linear = water - short + WATER_GAS * (carbon + short)
    level = -WATER_GAS * carbon * short
    # the root that goes to 0 with `short`, written so that nothing cancels
    co = -2.0 * level / (linear + np.sqrt(linear * linear - 4.0 * square * level))
    h2 = short - co
    inside = (carbon - co >= 0.0) & (water - h2 >= 0.0)
    co = choose(inside, co, np.nan)
    nitrogen, argon = AIR["N2"] / AIR["O2"], AIR["Ar"] / AIR["O2"]
    return carbon - co, water - h2, co, h2, choose(lean, left, 0.0 * left), nitrogen * air_o2, argon * air_o2


_PRODUCTS: Final = ("CO2", "H2O", "CO", "H2", "O2", "N2", "Ar")


def _mixed(shares: Mapping[str, Column], upper: bool) -> Gas:
    """The gas of `shares` [mol], per kilogram."""
    mass: Column = np.zeros(1)
    moles: Column = np.zeros(1)
    for name, share in shares.items():
        mass = mass + share * SPECIES[name].molar_mass
        moles = moles + share
    columns: list[Column] = []
    for index in range(6):
        total: Column = np.zeros(1)
        for name, share in shares.items():
            figure = (SPECIES[name].high if upper else SPECIES[name].low)[index]
            if figure != 0.0:
                total = total + share * (figure * GAS_CONSTANT)
        columns.append(total / mass)
    return Gas(moles * GAS_CONSTANT / mass, *columns)


def _products(fuel: Fuel, equivalence: Column) -> dict[str, Column]:
    carbon, hydrogen, oxygen = (np.array([count]) for count in fuel.atoms)
    made = product_moles.raw(equivalence=equivalence, carbon=carbon, hydrogen=hydrogen, oxygen=oxygen)
    return dict(zip(_PRODUCTS, made, strict=True))


def burned_gas(fuel: Fuel, *, equivalence: Column) -> Gas:
    """What `fuel` burns to at `equivalence` (more than 0), per kilogram; see `product_moles`.

    >>> gas = burned_gas(FUELS["iso-octane"], equivalence=np.ones(1))
    >>> round(float(gas.constant[0]), 1)
    289.5
    """
    return _mixed(_products(fuel, equivalence), upper=True)


def unburned_gas(fuel: Fuel, *, equivalence: Column, residual: Column) -> Gas:
    """Air with vapour of `fuel` at `equivalence` (0 or more), and the share `residual` by mass (0 to 1) of what such a charge burns to.

    >>> gas = unburned_gas(FUELS["iso-octane"], equivalence=np.ones(1), residual=np.zeros(1))
    >>> round(float(gas.constant[0]), 1)
    273.7
    """
    needed = fuel.atoms[0] + 0.25 * fuel.atoms[1] - 0.5 * fuel.atoms[2]
    fresh: dict[str, Column] = {name: share / AIR["O2"] * needed + 0.0 * equivalence for name, share in AIR.items()}
    fresh |= {name: share * equivalence for name, share in fuel.parts.items()}
    new = _mixed(fresh, upper=False)
    old = _mixed(_products(fuel, choose(equivalence > 0.0, equivalence, 1.0)), upper=False)
    return Gas(*(one + residual * (other - one) for one, other in zip(new, old, strict=True)))


#: Newton steps of `burned_temperature`, from 2400 K.
BURNED_STEPS: Final = 7


def burned_temperature(burned: Gas, enthalpy: Column) -> Column:
    """Temperature [K] at which `burned` gas has `enthalpy` [J/kg]: what a charge of that enthalpy burns to at constant pressure.

    Good to 1e-9 from 1000 to 4000 K.

    >>> charge = unburned_gas(FUELS["iso-octane"], equivalence=np.ones(1), residual=np.zeros(1))
    >>> gas = burned_gas(FUELS["iso-octane"], equivalence=np.ones(1))
    >>> round(float(burned_temperature(gas, specific_enthalpy(charge, np.array([300.0])))[0]), -1)
    2410.0
    """
    temperature: Column = 2400.0 + 0.0 * enthalpy
    for _ in range(BURNED_STEPS):
        temperature = temperature - (specific_enthalpy(burned, temperature) - enthalpy) / specific_heat(burned, temperature)
    return temperature
