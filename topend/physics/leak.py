"""Gas that leaves past the rings: an orifice, choked or not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import kernel

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["CHOKED", "CRITICAL", "critical_pressure_ratio", "leak_flow"]


@kernel
def critical_pressure_ratio(*, isentropic_exponent: Column) -> Column:
    """Pressure behind an orifice over that before it under which the flow does not grow further: (2/(γ + 1))^(γ/(γ - 1)).

    Parameters: `isentropic_exponent` γ, more than 1.

    >>> round(float(critical_pressure_ratio(isentropic_exponent=1.4)), 10)
    0.5282817877
    """
    g = isentropic_exponent
    return np.exp(g / (g - 1.0) * np.log(2.0 / (g + 1.0)))


#: γ of the gas in the leak: of hot charge and burned gas alike, near enough for a flow that is a hundredth of the charge.
_LEAK_EXPONENT: Final = 1.3
CRITICAL: Final = float(critical_pressure_ratio(isentropic_exponent=_LEAK_EXPONENT))
#: √γ (2/(γ + 1))^((γ + 1)/(2(γ - 1))): choked flow as a multiple of area · p/√(RT).
CHOKED: Final = float(_LEAK_EXPONENT**0.5 * (2.0 / (_LEAK_EXPONENT + 1.0)) ** ((_LEAK_EXPONENT + 1.0) / (2.0 * (_LEAK_EXPONENT - 1.0))))


@kernel
def leak_flow(*, pressure: Column, behind: Column, energy: Column, area: Column) -> Column:
    """Gas that leaves past the rings [kg/s]: flow through an orifice, choked or not; none where the pressure behind it is higher.

    Parameters: `pressure` p before and `behind` p_c behind the orifice [Pa]; `energy` R T of the gas [J/kg]; effective `area` A
    [m²], discharge coefficient in it. A p/√(RT) times 0.667, that of γ = 1.3, below the critical ratio b, and that times √(1 - ((r
    - b)/(1 - b))²), r = p_c/p, above it: the ellipse of ISO 6358-1, within 2 % of the isentropic flow.

    >>> round(float(leak_flow(pressure=3e6, behind=1e5, energy=290.0 * 900.0, area=2e-8)) * 1e6, 2)
    78.37
    """
    over = np.maximum((behind / pressure - CRITICAL) * (1.0 / (1.0 - CRITICAL)), 0.0)
    share = np.sqrt(np.maximum(1.0 - over**2, 0.0))
    return area * CHOKED * pressure * share / np.sqrt(energy)
