"""Water and air by weight: densities, and the volume of weighed water."""

from __future__ import annotations

from typing import Any

import numpy as np

__all__ = ["GLASS", "air_density", "volume_from_mass", "water_density"]

#: Cubic expansion of the glass a volume is marked on [1/K] (ISO 4787).
GLASS = {"borosilicate": 9.9e-6, "soda-lime": 27e-6}


def water_density(celsius: Any) -> Any:
    """Density of air-free water [kg/m³] at one atmosphere; `celsius` 0 to 40 [degC], NaN outside.

    Source: M. Tanaka et al., Metrologia 38 (2001) 301, eq. 1 (their recommended formula).

    >>> round(float(water_density(20.0)), 4)
    998.2067
    """
    t = np.asarray(celsius, dtype=np.float64)
    made = 999.974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))
    return np.where((t >= 0.0) & (t <= 40.0), made, np.nan)[()]


def air_density(*, celsius: Any, pressure: Any = 101325.0, humidity: Any = 0.5) -> Any:
    """Density of moist air [kg/m³]; `celsius` [degC], `pressure` [Pa], `humidity` relative, 0 to 1.

    The short form of the CIPM equation as in ISO 4787, good to 0.02 % from 940 hPa and 10 to 30 degC.

    >>> round(float(air_density(celsius=20.0)), 3)
    1.199
    """
    t = np.asarray(celsius, dtype=np.float64)
    return ((0.34848 * pressure / 100.0 - 0.9 * humidity * np.exp(0.061 * t)) / (t + 273.15))[()]


def volume_from_mass(*, mass: Any, celsius: Any, air: Any, glass: Any = 0.0, density: Any = None) -> Any:
    """Volume [m³] of weighed liquid, at 20 degC if `glass` is given, else at its own temperature.

    Parameters: `mass` the balance's reading [kg], adjusted on weights of 8000 kg/m³; `celsius` the liquid's [degC]; `air` its density
    [kg/m³]; `glass` cubic expansion of a marked vessel [1/K]; `density` of the liquid [kg/m³], water's if not given. The form of ISO
    4787: m/(ρw − ρa)·(1 − ρa/8000)·(1 − γ(t − 20)). A tabled factor for the balance of a piston pipette holds no glass term: never both.

    >>> round(1e6 * float(volume_from_mass(mass=0.010, celsius=25.0, air=air_density(celsius=25.0), glass=9.9e-6)), 4)
    10.0395
    """
    density = water_density(celsius) if density is None else density
    return mass / (density - air) * (1.0 - air / 8000.0) * (1.0 - glass * (celsius - 20.0))
