"""O-rings and the grooves they lie in."""

from __future__ import annotations

import math
from typing import Final, Literal, Self

from pydantic import Field, model_validator

from topend.parts.base import Part, stated_field
from topend.physics.sealing import iso_section_tolerance
from topend.units import Expansion, PositiveLength

__all__ = ["ORing", "ORingGroove", "Rubber"]

Rubber = Literal["NBR", "FKM", "silicone", "EPDM", "FFKM"]

#: What two walls and a width of one groove may differ by where all three are stated [m].
_WALLS: Final = 0.02e-3


class ORing(Part):
    """An O-ring, as it is free. Sizes without limits have those of ISO 3601-1, class B, and that is listed as assumed.

    >>> import topend as te
    >>> te.ORing(inner_diameter="58 mm", section="2.62 mm", material="FKM").section
    <Quantity(2.62 mm)>
    """

    inner_diameter: PositiveLength = stated_field("head.o_ring.inner_diameter", default=...)
    section: PositiveLength = stated_field("head.o_ring.section", default=...)
    material: Rubber | None = Field(default=None, description="Its rubber, which says how it grows and what heat it bears.")
    expansion: Expansion | None = stated_field("head.o_ring.expansion")

    @model_validator(mode="after")
    def _thickness_has_limits(self) -> Self:
        if self.section.si_limits is None and not math.isfinite(float(iso_section_tolerance(section=self.section.si))):
            raise ValueError(
                f'section ({self.section.text}) needs limits of its own, such as "{self.section.text} ± 0.2 mm": those that stand in '
                "for a ring without are known for 0.8 to 8.4 mm"
            )
        return self


class ORingGroove(Part):
    """The groove of an O-ring: in the head's gasket face, or round its spigot, where the ring seals against the bore.

    In a face it has an inner and an outer wall (two of `inner_diameter`, `outer_diameter` and `width`) and a `depth`. On a spigot
    `inner_diameter` is that of its bottom (or `depth` from the spigot's), and `width` lies along the bore's axis.

    >>> import topend as te
    >>> te.ORingGroove(seals="face", outer_diameter="63.4 mm", width="3.5 mm", depth="2.0 mm").pressure
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

    @model_validator(mode="after")
    def _walls_agree(self) -> Self:
        inner, outer, width = self.inner_diameter, self.outer_diameter, self.width
        if inner is None or outer is None or self.seals == "bore":
            return self
        if inner.si >= outer.si:
            raise ValueError(f"inner_diameter ({inner.text}) must be less than outer_diameter ({outer.text})")
        if width is not None and abs(outer.si - inner.si - 2.0 * width.si) > 2.0 * _WALLS:
            raise ValueError(
                f"inner_diameter ({inner.text}), outer_diameter ({outer.text}) and width ({width.text}) do not agree: its walls are "
                f"{500.0 * (outer.si - inner.si):.3f} mm apart; give two of the three"
            )
        return self
