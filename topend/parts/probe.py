"""Where to look: an angle of the turn, a radius across the bore."""

from __future__ import annotations

from topend.parts.base import Part, stated_field
from topend.units import Angle, NonNegativeLength

__all__ = ["Probe"]


class Probe(Part):
    """A place in the turn and across the bore at which the outputs ``..._at_angle`` and ``..._at_radius`` are worked out.

    Nothing is bolted on; curves and studies move it.

    >>> import topend as te
    >>> te.Probe(crank_angle="-11 deg").crank_angle
    <Quantity(-11 deg)>
    """

    crank_angle: Angle | None = stated_field("probe.crank_angle")
    radius: NonNegativeLength | None = stated_field("probe.radius")
