"""Port timing from the height of a port's upper edge.

A port opens when the piston has dropped by `top` - deck clearance below TDC; `top` is measured from the deck down to the
port's upper edge. Down- and upstroke differ when the cylinder or the pin is offset.

Arguments: angles `opens` and `exhaust_opens`, `transfer_opens` [rad] count after TDC on the downstroke, `closes` [rad] before
TDC on the upstroke, each between 0 and the angle of BDC.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import kernel

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["blowdown", "port_drop", "port_duration"]


@kernel
def port_drop(*, port_top: Column, deck_clearance: Column) -> Column:
    """Drop of the piston at which a port opens [m]: `port_top` [m] below the deck less `deck_clearance` [m].

    Not positive: the port's roof lies above the crown at TDC, it never closes.

    >>> round(float(port_drop(port_top=0.0223, deck_clearance=0.00165)), 6)
    0.02065
    """
    return port_top - deck_clearance


@kernel
def port_duration(*, opens: Column, closes: Column) -> Column:
    """Open angle of a port [rad]: 2π - `opens` (after TDC) - `closes` (before TDC).

    >>> round(float(np.degrees(port_duration(opens=np.radians(88.6), closes=np.radians(88.4)))), 6)
    183.0
    """
    return 2.0 * np.pi - (opens + closes)


@kernel
def blowdown(*, exhaust_opens: Column, transfer_opens: Column) -> Column:
    """Angle from exhaust opening to transfer opening on the downstroke [rad].

    >>> round(float(np.degrees(blowdown(exhaust_opens=np.radians(86), transfer_opens=np.radians(115)))), 6)
    29.0
    """
    return transfer_opens - exhaust_opens
