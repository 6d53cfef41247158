"""The piston's skirt: which ports it opens and covers, and how near it comes to the crank.

Arguments: lengths [m]. `port_floor` of a port's lower edge below the deck; `deck_clearance` positive with the piston below the deck;
`skirt_length` from the crown edge down to the skirt's lower edge, on the side of the port that is meant.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import kernel
from topend.physics.slider_crank import pin_height_at_bdc

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["skirt_cover", "skirt_drop", "skirt_web_clearance"]


@kernel
def skirt_drop(*, port_floor: Column, skirt_length: Column, deck_clearance: Column) -> Column:
    """Drop of the piston below TDC [m] at which the skirt's lower edge stands at a port's floor: floor - skirt - deck clearance.

    The port is open to the crankcase while the piston is higher. Not positive: the skirt never lets it go; more than the travel:
    it never shuts it.

    >>> round(float(skirt_drop(port_floor=0.090, skirt_length=0.065, deck_clearance=0.0007)), 6)
    0.0243
    """
    return port_floor - skirt_length - deck_clearance


@kernel
def skirt_cover(*, port_floor: Column, skirt_length: Column, deck_clearance: Column) -> Column:
    """How far the skirt still reaches below a port's floor at TDC [m]; negative where the port stands open to the crankcase.

    >>> round(float(skirt_cover(port_floor=0.056, skirt_length=0.060, deck_clearance=0.0007)), 6)
    0.0047
    """
    return deck_clearance + skirt_length - port_floor


@kernel
def skirt_web_clearance(
    *,
    throw: Column,
    rod_length: Column,
    offset: Column,
    compression_height: Column,
    skirt_length: Column,
    web_diameter: Column,
    web_width: Column,
    piston_diameter: Column,
    axis_offset: Column,
) -> Column:
    """Least distance along the cylinder axis at BDC [m] between the skirt's lower edge and the crank webs; negative where they meet.

    Parameters: crank as in `slider_crank`; `compression_height` pin axis up to the crown edge [m]; `web_diameter` of the webs or
    the counterweights on them, which stand up at BDC [m]; `web_width` over both webs along the crank [m]; `piston_diameter` [m];
    `axis_offset` of the bore's axis from the crank's [m], any sign: without what the pin lies off the piston's axis, which moves no skirt.
    The skirt is a round tube: over webs narrower than the piston its nearest points stand √((D/2)² - (w/2)²) beside its own axis,
    nearer to the crank's on one side where the axes lie apart; the webs' circle is lower there. A skirt that is cut away has more room.

    >>> d = skirt_web_clearance(throw=0.02725, rod_length=0.110, offset=0.0, compression_height=0.032, skirt_length=0.063,
    ...                         web_diameter=0.098, web_width=0.060, piston_diameter=0.054, axis_offset=0.0)
    >>> round(float(d) * 1e3, 6)  # webs wider than the piston: 82.75 + 32 - 63 - 49
    2.75
    """
    low = pin_height_at_bdc.raw(throw=throw, rod_length=rod_length, offset=offset) + compression_height - skirt_length
    half, radius, reach = 0.5 * piston_diameter, 0.5 * web_diameter, 0.5 * web_width
    beside = np.maximum(np.sqrt(np.maximum(half * half - reach * reach, 0.0)) - np.abs(axis_offset), 0.0)
    # a skirt that stands beside the webs' circle altogether meets them nowhere above the crank's axis
    circle = np.sqrt(np.maximum(radius * radius - beside * beside, 0.0))
    clearance: Column = low - circle
    return clearance
