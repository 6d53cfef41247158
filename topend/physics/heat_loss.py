"""Heat that the gas in a cylinder gives to its walls: Annand's and Woschni's relations, and what they take of the gas."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import kernel

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["annand_coefficient", "gas_conductivity", "gas_viscosity", "woschni_coefficient"]


@kernel
def gas_viscosity(*, temperature: Column) -> Column:
    """Dynamic viscosity of air and of burned gas [Pa·s] at `temperature` [K], 300 to 3000.

    7.457e-6 + 4.1547e-8 T - 7.4793e-12 T² (Ferguson and Kirkpatrick, chapter on heat transfer; from memory); of air within 10 % to 2000 K.

    >>> round(float(gas_viscosity(temperature=1000.0)) * 1e6, 2)
    41.52
    """
    return 7.457e-6 + temperature * (4.1547e-8 - 7.4793e-12 * temperature)


@kernel
def gas_conductivity(*, temperature: Column) -> Column:
    """Thermal conductivity of air and of burned gas [W/m/K] at `temperature` [K], 300 to 2500.

    6.1944e-3 + 7.3814e-5 T - 1.2491e-8 T² (Ferguson and Kirkpatrick, chapter on heat transfer; from memory); of air within 10 %
    to 1500 K, 14 % low at 2000 K.

    >>> round(float(gas_conductivity(temperature=1000.0)), 4)
    0.0675
    """
    return 6.1944e-3 + temperature * (7.3814e-5 - 1.2491e-8 * temperature)


@kernel
def annand_coefficient(*, density: Column, temperature: Column, speed: Column, bore: Column, factor: Column) -> Column:
    """Heat transfer from gas to wall [W/m²/K], by Annand: h = a (k/B) Re^0.7, Re = ρ v B/μ, without radiation.

    Parameters: `density` ρ [kg/m³] and mean `temperature` T [K] of the gas; `speed` v [m/s], the mean piston speed; `bore` B [m];
    `factor` a, 0.26 for two-strokes, 0.35 to 0.8 for four-strokes (from memory). k and μ as `gas_conductivity` and `gas_viscosity`.
    NaN where one is not positive. Source: Annand, Proc. IMechE 177 (1963), 973.

    >>> round(float(annand_coefficient(density=10.0, temperature=1000.0, speed=15.0, bore=0.054, factor=0.26)))
    1641
    """
    viscosity = gas_viscosity.raw(temperature=temperature)
    conductivity = gas_conductivity.raw(temperature=temperature)
    reynolds = density * (speed * bore) / viscosity
    return conductivity * (factor / bore) * np.exp(0.7 * np.log(reynolds))


@kernel
def woschni_coefficient(*, pressure: Column, temperature: Column, speed: Column, bore: Column) -> Column:
    """Heat transfer from gas to wall [W/m²/K], by Woschni: 3.26 B^-0.2 p^0.8 T^-0.55 w^0.8, p in kPa.

    Parameters: `pressure` p [Pa]; mean `temperature` T [K]; `speed` w [m/s] of the gas; `bore` B [m]. Source: Woschni, SAE 670931
    (1967); the figures from memory.

    >>> round(float(woschni_coefficient(pressure=2e6, temperature=700.0, speed=45.6, bore=0.054)), 4)
    1478.8727
    """
    return np.exp(0.8 * np.log(pressure * 1e-3 * speed) - 0.55 * np.log(temperature)) * (3.26 * np.exp(-0.2 * np.log(bore)))
