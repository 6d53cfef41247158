"""The cylinder (barrel) and its ports."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from topend.parts.base import Part, stated_field
from topend.parts.cutout import Cutout, Notch
from topend.parts.metal import Metal
from topend.parts.studs import StudPattern
from topend.units import Angle, Expansion, NonNegativeLength, PositiveLength

__all__ = ["Cylinder", "Port"]

_ROUNDING = 1e-7


class Port(Part):
    """A port in the cylinder wall.

    >>> import topend as te
    >>> te.Port(kind="exhaust", top="22.3 mm")
    Port(kind='exhaust', top="22.3 mm")
    """

    kind: Literal["exhaust", "transfer", "inlet"] = Field(
        description="What passes through it: exhaust, transfer, or inlet (which the piston's skirt opens and shuts)."
    )
    auxiliary: bool | None = Field(
        default=None, description="Whether it stands beside the main port of its kind; its timing is then told by itself as well."
    )
    count: int | None = Field(default=None, ge=1, le=40, strict=True, description="How many windows alike; not given: one.")
    top: PositiveLength = stated_field("cylinder.ports.N.top", default=...)
    floor: PositiveLength | None = stated_field("cylinder.ports.N.floor")
    width: PositiveLength | None = stated_field("cylinder.ports.N.width")
    width_along: Literal["chord", "arc"] | None = Field(
        default=None, description="How its width was measured: chord, or arc along the wall; not given: chord."
    )
    corner_radius: NonNegativeLength | None = stated_field("cylinder.ports.N.corner_radius")
    chamfer: NonNegativeLength | None = stated_field("cylinder.ports.N.chamfer")
    angle: Angle | None = stated_field("cylinder.ports.N.angle")
    valve_edge: PositiveLength | None = stated_field("cylinder.ports.N.valve_edge")

    @model_validator(mode="after")
    def _sizes(self) -> Port:
        top, floor, width, radius = self.top, self.floor, self.width, self.corner_radius
        if self.angle is not None and (self.count or 1) > 2:
            raise ValueError(f"has one angle for {self.count} windows: give a port for each, or for each pair that stands mirrored")
        if floor is not None and floor.si <= top.si:
            raise ValueError(f"has a floor of {floor.text}, which does not lie below its top of {top.text}; both are depths below the deck")
        if radius is None:
            return self
        # 0.1 µm of rounding: a half circle is a window too
        if width is not None and 2.0 * radius.si > width.si + _ROUNDING:
            raise ValueError(f"has a corner_radius of {radius.text}: more than half its width of {width.text}")
        if floor is not None and 2.0 * radius.si > floor.si - top.si + _ROUNDING:
            raise ValueError(f"has a corner_radius of {radius.text}: more than half its height, top {top.text} to floor {floor.text}")
        return self


class Cylinder(Part):
    """A cylinder: its bore, its height from base face to deck, its ports, and what other parts have to fit.

    >>> import topend as te
    >>> te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm")]).bore
    <Quantity(47.6 mm)>
    """

    bore: PositiveLength | None = stated_field("cylinder.bore")
    height: PositiveLength | None = stated_field("cylinder.height")
    ports: tuple[Port, ...] = Field(default=(), description="Its ports; of several of a kind the highest counts.")
    studs: StudPattern | None = Field(default=None, description="The studs that hold the head.")
    register_diameter: PositiveLength | None = stated_field("cylinder.register_diameter")
    skirt_diameter: PositiveLength | None = stated_field("cylinder.skirt_diameter")
    window_diameter: PositiveLength | None = stated_field("cylinder.window_diameter")
    deck_diameter: PositiveLength | None = stated_field("cylinder.deck_diameter")
    coolant_diameter: PositiveLength | None = stated_field("cylinder.coolant_diameter")
    base_diameter: PositiveLength | None = stated_field("cylinder.base_diameter")
    base_studs: StudPattern | None = Field(
        default=None, description="The studs that hold its base; not given: those of the head, where they stand in the case."
    )
    cutouts: tuple[Cutout, ...] = Field(default=(), description="Transfer passages in its base face.")
    deck_notches: tuple[Notch, ...] = Field(default=(), description="Ducts, windows or slots that cut its deck from outside.")
    base_notches: tuple[Notch, ...] = Field(default=(), description="Ducts, windows or slots that cut its base face from outside.")
    bore_wear: NonNegativeLength | None = stated_field("cylinder.bore_wear")
    edges: Literal["as machined", "broken"] | None = Field(
        default=None, description="How the edges of its port windows were left: as machined, or broken (chamfered or rounded)."
    )
    pin_height: PositiveLength | None = stated_field("cylinder.pin_height")
    pin_diameter: PositiveLength | None = stated_field("cylinder.pin_diameter")
    bore_chamfer: NonNegativeLength | None = stated_field("cylinder.bore_chamfer")
    cooling: Literal["air", "water"] | None = Field(default=None, description="What cools it: air or water.")
    material: Metal | None = Field(default=None, description="What it is made of, which says how it grows.")
    expansion: Expansion | None = stated_field("cylinder.expansion")
