"""Heads: flush or recessed, and drop-in spigot heads, with their squish band and how they seal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from topend.parts.band import SquishBand
from topend.parts.base import Part, stated_field
from topend.parts.crank import ZERO_LENGTH
from topend.parts.metal import Metal
from topend.parts.oring import ORing, ORingGroove
from topend.parts.profile import Profile
from topend.parts.studs import StudPattern
from topend.units import Expansion, Length, NonNegativeLength, PositiveLength, PositiveVolume

__all__ = ["FlushHead", "Head", "Seal", "SpigotHead", "SquishBand"]

Seal = Literal["gasket", "o-ring", "both"]

_SEAL = "How it seals: gasket, o-ring (which adds no thickness and takes no gasket), or both."
_BASIS = "Where the volume is from: measured, or engraved on the head (then ± 0.3 cc is assumed unless limits are given)."
_O_RING = "The O-ring that seals the chamber."
_GROOVE = "The groove of that O-ring."
_EDGES = "How the edges of band and chamber were left: as machined, or broken."
_STUDS = "Its holes for the cylinder's studs."
_PROFILE = "Its half-section, from which band and chamber volume follow."
_KIND = "Which kind of head it is; written in files, never needed in code."


class _AnyHead(Part):
    """What heads of every kind may say of themselves."""

    kind: str
    recess_offset: Length | None = stated_field("head.recess_offset")
    chamber_volume: PositiveVolume | None = stated_field("head.chamber_volume")
    volume_basis: Literal["measured", "engraved"] = Field(default="measured", description=_BASIS)
    band: SquishBand | None = Field(default=None, description="Its squish band.")
    profile: Profile | None = Field(default=None, description=_PROFILE)
    plug_height: Length | None = stated_field("head.plug_height")
    plug_radius: NonNegativeLength | None = stated_field("head.plug_radius")
    seal: Seal = Field(default="gasket", description=_SEAL)
    studs: StudPattern | None = Field(default=None, description=_STUDS)
    register_diameter: PositiveLength | None = stated_field("head.register_diameter")
    face_diameter: PositiveLength | None = stated_field("head.face_diameter")
    clamped_height: PositiveLength | None = stated_field("head.clamped_height")
    o_ring: ORing | None = Field(default=None, description=_O_RING)
    groove: ORingGroove | None = Field(default=None, description=_GROOVE)
    edges: Literal["as machined", "broken"] | None = Field(default=None, description=_EDGES)
    material: Metal | None = Field(default=None, description="What it is made of, which says how it grows.")
    expansion: Expansion | None = stated_field("head.expansion")


class FlushHead(_AnyHead):
    """A head whose band lies in the plane of its gasket face, or recessed above it (`recess_offset` ≥ 0).

    >>> import topend as te
    >>> te.FlushHead(recess_offset="0.5 mm", recess_diameter="54.5 mm", seal="o-ring").seal
    'o-ring'
    """

    kind: Literal["flush"] = Field(default="flush", description=_KIND)
    recess_offset: Length = stated_field("head.recess_offset", default=ZERO_LENGTH)
    recess_diameter: PositiveLength | None = stated_field("head.recess_diameter")
    volume_datum: Literal["band", "face"] = Field(
        default="band",
        description="Plane the chamber volume is counted from: the band's outer edge, or the gasket face under a plate.",
    )

    @model_validator(mode="after")
    def _groove_in_its_face(self) -> Self:
        if self.groove is not None and self.groove.seals == "bore":
            raise ValueError('groove.seals must be "face" on a flush head: it has no spigot round which a groove could seal the bore')
        return self


class SpigotHead(_AnyHead):
    """A head whose spigot drops into the bore (`recess_offset` ≤ 0: a drop-in of 1 mm is -1 mm).

    >>> import topend as te
    >>> te.SpigotHead(recess_offset="-1.0 mm", spigot_diameter="47.2 mm").recess_offset
    <Quantity(-1.0 mm)>
    """

    kind: Literal["spigot"] = Field(default="spigot", description=_KIND)
    spigot_diameter: PositiveLength | None = stated_field("head.spigot_diameter")

    @model_validator(mode="before")
    @classmethod
    def _band_datum_only(cls, data: Any) -> Any:
        if isinstance(data, dict) and "volume_datum" in data:
            if data["volume_datum"] != "band":
                raise ValueError(
                    "volume_datum must be band on a spigot head: a plate does not lie on its gasket face; "
                    "read the chamber with a plate on the band's outer edge"
                )
            data = {name: value for name, value in data.items() if name != "volume_datum"}
        return data


if TYPE_CHECKING:
    Head = FlushHead | SpigotHead
else:
    Head = Annotated[FlushHead | SpigotHead, Field(discriminator="kind")]
