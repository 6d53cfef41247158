"""The squish band of a head."""

from __future__ import annotations

from topend.parts.base import Part, stated_field
from topend.units import PositiveLength, SharpAngle

__all__ = ["SquishBand"]


class SquishBand(Part):
    """The squish band of a head; `angle` is positive when it rises toward the centre.

    >>> import topend as te
    >>> te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg").angle
    <Quantity(9 deg)>
    """

    outer_diameter: PositiveLength | None = stated_field("head.band.outer_diameter")
    inner_diameter: PositiveLength | None = stated_field("head.band.inner_diameter")
    angle: SharpAngle | None = stated_field("head.band.angle")
