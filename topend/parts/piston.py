"""The piston and the shapes its crown may have. Rise is measured above the crown's edge, positive toward the head."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.parts.crank import ZERO_LENGTH
from topend.parts.metal import Metal
from topend.parts.rings import PistonRing
from topend.units import Expansion, Length, NonNegativeLength, PositiveLength, PositiveMass, SharpAngle, Volume

__all__ = ["ConeCrown", "Crown", "DishCrown", "FlatCrown", "MeasuredCrown", "Piston", "SphereCrown"]

_SHAPE = "Which shape it is; written in files, never needed in code."


class FlatCrown(Part):
    """A flat crown.

    >>> import topend as te
    >>> te.FlatCrown()
    FlatCrown(shape='flat')
    """

    shape: Literal["flat"] = Field(default="flat", description=_SHAPE)


class ConeCrown(Part):
    """A straight cone from the crown's edge up to its centre.

    >>> import topend as te
    >>> te.ConeCrown(rise="2 mm").rise
    <Quantity(2 mm)>
    """

    shape: Literal["cone"] = Field(default="cone", description=_SHAPE)
    rise: Length = stated_field("piston.crown.rise", default=...)


class SphereCrown(Part):
    """A sphere cap over the whole crown.

    >>> import topend as te
    >>> te.SphereCrown(rise="2.2 mm").rise
    <Quantity(2.2 mm)>
    """

    shape: Literal["sphere"] = Field(default="sphere", description=_SHAPE)
    rise: Length = stated_field("piston.crown.rise", default=...)


class DishCrown(Part):
    """A spherical dish, flat outside it.

    >>> import topend as te
    >>> te.DishCrown(depth="1.5 mm", diameter="30 mm").depth
    <Quantity(1.5 mm)>
    """

    shape: Literal["dish"] = Field(default="dish", description=_SHAPE)
    depth: PositiveLength = stated_field("piston.crown.depth", default=...)
    diameter: PositiveLength = stated_field("piston.crown.diameter", default=...)


class MeasuredCrown(Part):
    """A crown of unknown shape whose volume above the edge plane was measured; its slope at the edge, if that was too.

    Across the band it is taken as straight at `edge_slope`, and that is listed as assumed; without a slope nothing but its
    volume is known. `rise`, its centre above its edge, is wanted only for a deck read at the centre.

    >>> import topend as te
    >>> te.MeasuredCrown(volume="1.9 cc", edge_slope="8 deg").volume
    <Quantity(1.9 cc)>
    """

    shape: Literal["measured"] = Field(default="measured", description=_SHAPE)
    volume: Volume = stated_field("piston.crown.volume", default=...)
    edge_slope: SharpAngle | None = stated_field("piston.crown.edge_slope")
    rise: Length | None = stated_field("piston.crown.rise")


if TYPE_CHECKING:
    Crown = FlatCrown | ConeCrown | SphereCrown | DishCrown | MeasuredCrown
else:
    Crown = Annotated[FlatCrown | ConeCrown | SphereCrown | DishCrown | MeasuredCrown, Field(discriminator="shape")]


class Piston(Part):
    """A piston. A crown that is not given is unknown; it is never taken as flat.

    >>> import topend as te
    >>> te.Piston(crown=te.SphereCrown(rise="2.2 mm")).pin_offset
    <Quantity(0 mm)>
    """

    crown: Crown | None = Field(default=None, description="The crown's shape; not given: unknown, never taken as flat.")
    diameter: PositiveLength | None = stated_field("piston.diameter")
    compression_height: PositiveLength | None = stated_field("piston.compression_height")
    pin_offset: Length = stated_field("piston.pin_offset", default=ZERO_LENGTH)
    pin_diameter: PositiveLength | None = stated_field("piston.pin_diameter")
    top_land: PositiveLength | None = stated_field("piston.top_land")
    edge_chamfer: NonNegativeLength | None = stated_field("piston.edge_chamfer")
    timing_edge: Literal["crown", "ring"] | None = Field(
        default=None,
        description="What opens and shuts the ports: the crown's edge (below its chamfer), or the top ring where the land above it "
        "does not seal; not given: crown.",
    )
    skirt_length: PositiveLength | None = stated_field("piston.skirt_length")
    skirt_top: PositiveLength | None = stated_field("piston.skirt_top")
    rocking: NonNegativeLength | None = stated_field("piston.rocking")
    inlet_skirt_length: PositiveLength | None = stated_field("piston.inlet_skirt_length")
    skirt_diameter: PositiveLength | None = stated_field("piston.skirt_diameter")
    material: Metal | None = Field(default=None, description="What it is made of, which says how it grows.")
    expansion: Expansion | None = stated_field("piston.expansion")
    clearance: PositiveLength | None = stated_field("piston.clearance")
    rings: tuple[PistonRing, ...] = Field(default=(), description="Its rings, the top one first.")
    edges: Literal["as machined", "broken"] | None = Field(
        default=None, description="How the edges of its crown, windows and skirt were left: as machined, or broken."
    )
    assembly_mass: PositiveMass | None = stated_field("piston.assembly_mass")
