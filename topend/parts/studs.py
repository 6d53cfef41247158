"""Studs: the pattern that cylinder, head and gaskets share, and the studs themselves with what their nuts are drawn up with."""

from __future__ import annotations

import math
from typing import Any, Literal, Self

from pydantic import Field, field_validator, model_validator

from topend.parts.base import Part, stated_field
from topend.physics.clamping import coarse_pitch
from topend.units import (
    Angle,
    Expansion,
    NonNegativeRatio,
    PositiveLength,
    PositiveModulus,
    PositiveStrength,
    PositiveTorque,
)

__all__ = ["StudPattern", "StudSet"]


class StudPattern(Part):
    """Studs evenly spaced on a circle around the bore; of a head or a gasket, the holes for them.

    >>> import topend as te
    >>> te.StudPattern(count=4, circle_diameter="62 mm", diameter="6 mm").count
    4
    """

    count: int = Field(ge=2, le=24, strict=True, description="How many studs, or holes for them.")
    circle_diameter: PositiveLength = stated_field("cylinder.studs.circle_diameter", default=...)
    diameter: PositiveLength | None = stated_field("cylinder.studs.diameter")
    angle: Angle | None = stated_field("cylinder.studs.angle")


class StudSet(Part):
    """The studs (or bolts) that hold the head down, each alike: thread, strength, torque, and what they stand in.

    How many there are says the cylinder (`cylinder.studs`); `count` is how many of them are in a box. Not given: the pitch is the coarse
    one, friction that of what is on the thread (`lubrication`), strengths those of the property class.

    >>> import topend as te
    >>> te.StudSet(thread_diameter="8 mm", root="cylinder", torque="20 N·m ± 2 N·m", property_class="8.8").torque
    <Quantity(20 N·m ± 2 N·m)>
    """

    thread_diameter: PositiveLength = stated_field("studs.thread_diameter", default=...)
    pitch: PositiveLength | None = stated_field("studs.pitch")
    root: Literal["cylinder", "case"] = Field(
        description="What they stand in: the cylinder (they clamp the head alone), or the case (they clamp the cylinder too)."
    )
    count: int | None = Field(default=None, ge=1, le=24, strict=True, description="How many make the set, where it is sold by itself.")
    length: PositiveLength | None = stated_field("studs.length")
    property_class: Literal["4.6", "5.6", "5.8", "6.8", "8.8", "10.9", "12.9"] | None = Field(
        default=None, description="Property class of ISO 898-1, which says their strengths."
    )
    yield_strength: PositiveStrength | None = stated_field("studs.yield_strength")
    tensile_strength: PositiveStrength | None = stated_field("studs.tensile_strength")
    torque: PositiveTorque | None = stated_field("studs.torque")
    lubrication: Literal["dry", "oiled", "paste"] | None = Field(
        default=None, description="What is on the thread and under the nut when it is drawn up: nothing (dry), oil, or assembly paste."
    )
    thread_friction: NonNegativeRatio | None = stated_field("studs.thread_friction")
    nut_friction: NonNegativeRatio | None = stated_field("studs.nut_friction")
    frictions: Literal["together", "apart"] | None = Field(
        default=None,
        description="Whether friction in the thread and under the nut lie between their limits together, as of one lubricant and finish, "
        "or apart. Not given: together, which is the safe side: their scatter adds up.",
    )
    bearing_diameter: PositiveLength | None = stated_field("studs.bearing_diameter")
    shank_diameter: PositiveLength | None = stated_field("studs.shank_diameter")
    clamped_length: PositiveLength | None = stated_field("studs.clamped_length")
    engaged_length: PositiveLength | None = stated_field("studs.engaged_length")
    tapped_shear_strength: PositiveStrength | None = stated_field("studs.tapped_shear_strength")
    modulus: PositiveModulus | None = stated_field("studs.modulus")
    expansion: Expansion | None = stated_field("studs.expansion")
    joint_compliance_ratio: NonNegativeRatio | None = stated_field("studs.joint_compliance_ratio")

    @field_validator("property_class", mode="before")
    @classmethod
    def _class_is_a_name(cls, value: Any) -> Any:
        if isinstance(value, float):
            raise ValueError(f'is a name and no number: write it in quotes, "{value:g}"')
        return value

    @model_validator(mode="after")
    def _thread_has_a_core(self) -> Self:
        size = self.thread_diameter
        if self.pitch is not None and self.pitch.si >= 0.5 * size.si:
            raise ValueError(f"pitch ({self.pitch.text}) must be less than half of thread_diameter ({size.text}); M8 has 1.25 mm")
        if self.pitch is None and not math.isfinite(float(coarse_pitch(diameter=size.si))):
            raise ValueError(
                f"pitch is needed for a thread_diameter of {size.text}: only M5, M6, M7, M8, M10, M12, M14 and M16 have a coarse pitch "
                "that can be taken; thread_diameter is the nominal one"
            )
        return self
