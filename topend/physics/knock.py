"""Knock: how long the end gas can stand, and whether it burns before that time is spent."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["ATMOSPHERE", "ignition_delay", "knock_rate"]

#: Standard atmosphere [Pa].
ATMOSPHERE: Final = 101325.0
_ACTIVATION: Final = 3800.0
_POWER: Final = 1.7


@kernel
def ignition_delay(*, pressure: Column, temperature: Column, octane: Column) -> Column:
    """Time after which gas held at one state ignites by itself [s]: 17.68 ms (ON/100)^3.402 p^-1.7 exp(3800/T), p in atmospheres.

    Parameters: `pressure` p [Pa] and `temperature` T [K], more than 0; `octane` ON, more than 0, measured on 80 to 100 and beyond that
    an extrapolation. NaN outside. Source: Douaud and Eyzat, SAE 780080 (1978), the figures from memory.

    >>> tau = ignition_delay(pressure=20 * 101325.0, temperature=800.0, octane=100.0)
    >>> round(float(tau) * 1e3, 5)
    12.54961
    """
    return 1.0 / knock_rate.raw(pressure=pressure, temperature=temperature, octane=octane)


@kernel
def knock_rate(*, pressure: Column, temperature: Column, octane: Column) -> Column:
    """How fast the end gas spends its time to ignition [1/s]: 1/τ, whose integral is 1 where it knocks.

    Parameters as `ignition_delay`. Livengood and Wu (5th Symposium on Combustion, 1955).

    >>> round(float(knock_rate(pressure=50 * 101325.0, temperature=900.0, octane=98.0) * 1e-3), 4)
    0.687
    """
    resistance = 17.68e-3 * np.exp(3.402 * np.log(octane * 1e-2))
    made = np.exp(_POWER * np.log(pressure * (1.0 / ATMOSPHERE)) - _ACTIVATION / temperature) / resistance
    return only(made, temperature > 0.0)


def knock_slope(rate: Column, pressure: Column, pressure_slope: Column, temperature: Column, temperature_slope: Column) -> Column:
    """How `rate` changes with whatever the two slopes are taken over."""
    made: Column = rate * (_POWER * pressure_slope / pressure + _ACTIVATION * temperature_slope / temperature**2)
    return made
