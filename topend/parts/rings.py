"""Piston rings, with the peg that keeps each from turning."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.parts.metal import Metal
from topend.units import Angle, Expansion, PositiveLength

__all__ = ["PistonRing"]


class PistonRing(Part):
    """A piston ring: its gap in the bore, where its peg stands, and how its ends were left.

    >>> import topend as te
    >>> te.PistonRing(diameter="54 mm", gap="0.15 mm ± 0.05 mm", angle="180 deg").gap
    <Quantity(0.15 mm ± 0.05 mm)>
    """

    diameter: PositiveLength | None = stated_field("piston.rings.N.diameter")
    height: PositiveLength | None = stated_field("piston.rings.N.height")
    land: PositiveLength | None = stated_field("piston.rings.N.land")
    gap: PositiveLength | None = stated_field("piston.rings.N.gap")
    angle: Angle | None = stated_field("piston.rings.N.angle")
    material: Metal | None = Field(default=None, description="What it is made of, which says how it grows.")
    expansion: Expansion | None = stated_field("piston.rings.N.expansion")
    ends: Literal["as cut", "chamfered"] | None = Field(
        default=None, description="How the edges of its ends toward the bore were left: as cut, or chamfered."
    )
