"""Bearings of a crank, as far as they let the gap close at speed."""

from __future__ import annotations

from topend.parts.base import Part, stated_field
from topend.units import Count, NonNegativeLength, PositiveLength

__all__ = ["BallBearing", "RollerBearing"]


class RollerBearing(Part):
    """A bearing of cylindrical or needle rollers; what is not given has a wide default.

    >>> import topend as te
    >>> te.RollerBearing(clearance="0.04 mm ± 0.01 mm", rollers="16 pcs")
    RollerBearing(clearance="0.04 mm ± 0.01 mm", rollers="16 pcs")
    """

    clearance: NonNegativeLength | None = stated_field("crank.small_end.clearance")
    rollers: Count | None = stated_field("crank.small_end.rollers")
    roller_length: PositiveLength | None = stated_field("crank.small_end.roller_length")


class BallBearing(Part):
    """A deep-groove ball bearing; what is not given has a wide default.

    >>> import topend as te
    >>> te.BallBearing(clearance="0.03 mm", balls="8 pcs", ball_diameter="9.5 mm").balls
    <Quantity(8 pcs)>
    """

    clearance: NonNegativeLength | None = stated_field("crank.mains.clearance")
    balls: Count | None = stated_field("crank.mains.balls")
    ball_diameter: PositiveLength | None = stated_field("crank.mains.ball_diameter")
