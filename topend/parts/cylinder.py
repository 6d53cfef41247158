"""The cylinder (barrel) and its ports."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.parts.cutout import Cutout
from topend.parts.metal import Metal
from topend.parts.studs import StudPattern
from topend.units import Angle, Expansion, NonNegativeLength, PositiveLength

__all__ = ["Cylinder", "Port"]


class Port(Part):
    """A port in the cylinder wall.

    >>> Port(kind="exhaust", top="22.3 mm")
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


class Cylinder(Part):
    """A cylinder: its bore, its height from base face to deck, its ports, and what other parts have to fit.

    >>> Cylinder(bore="47.6 mm", ports=[Port(kind="exhaust", top="22.3 mm")]).bore
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
