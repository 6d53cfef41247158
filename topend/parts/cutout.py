"""Cut-outs of a joint's face: the transfer passages in a cylinder's base and in the gasket under it."""

from __future__ import annotations

from topend.parts.base import Part, stated_field
from topend.units import Angle, PositiveLength

__all__ = ["Cutout"]


class Cutout(Part):
    """A transfer passage in a joint's face: from the bore out to a circle, over an angle.

    >>> Cutout(angle="90 deg", span="50 deg", outer_diameter="66 mm").span
    <Quantity(50 deg)>
    """

    angle: Angle = stated_field("cylinder.cutouts.N.angle", default=...)
    span: Angle = stated_field("cylinder.cutouts.N.span", default=...)
    outer_diameter: PositiveLength = stated_field("cylinder.cutouts.N.outer_diameter", default=...)
