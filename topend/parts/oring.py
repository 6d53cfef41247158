"""O-rings and the grooves they lie in."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.units import Expansion, PositiveLength

__all__ = ["ORing", "ORingGroove", "Rubber"]

Rubber = Literal["NBR", "FKM", "silicone", "EPDM", "FFKM"]


class ORing(Part):
    """An O-ring, as it is free. Sizes without limits have those of ISO 3601-1, class B, and that is listed as assumed.

    >>> ORing(inner_diameter="58 mm", section="2.62 mm", material="FKM").section
    <Quantity(2.62 mm)>
    """

    inner_diameter: PositiveLength = stated_field("head.o_ring.inner_diameter", default=...)
    section: PositiveLength = stated_field("head.o_ring.section", default=...)
    material: Rubber | None = Field(default=None, description="Its rubber, which says how it grows and what heat it bears.")
    expansion: Expansion | None = stated_field("head.o_ring.expansion")


class ORingGroove(Part):
    """The groove of an O-ring: in the head's gasket face, or round its spigot, where the ring seals against the bore.

    In a face it has an inner and an outer wall (two of `inner_diameter`, `outer_diameter` and `width`) and a `depth`. On a spigot
    `inner_diameter` is that of its bottom (or `depth` from the spigot's), and `width` lies along the bore's axis.

    >>> ORingGroove(seals="face", outer_diameter="63.4 mm", width="3.5 mm", depth="2.0 mm").pressure
    'inside'
    """

    seals: Literal["face", "bore"] = Field(description="What its ring seals against: the face (the cylinder's deck) or the bore.")
    inner_diameter: PositiveLength | None = stated_field("head.groove.inner_diameter")
    outer_diameter: PositiveLength | None = stated_field("head.groove.outer_diameter")
    depth: PositiveLength | None = stated_field("head.groove.depth")
    width: PositiveLength | None = stated_field("head.groove.width")
    pressure: Literal["inside", "outside"] = Field(
        default="inside", description="Where the pressure comes from that presses the ring to a wall: inside (the chamber) or outside."
    )
