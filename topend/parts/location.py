"""How the head is located over the bore: by its spigot, a register, two pins, or the studs alone; and the plate that drills for pins."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from topend.parts.base import Part, stated_field
from topend.physics.spring_pins import SPRING_PINS
from topend.units import Angle, Limits, NonNegativeLength, PositiveLength, from_si

__all__ = ["DrillingFixture", "LocatingPin", "Location", "PinLocation", "RegisterLocation", "SpigotLocation", "StudLocation", "StudSlot"]

_KIND = "What locates the head; written in files, never needed in code."


class SpigotLocation(Part):
    """Located by the head's spigot in the bore; what turns it is held by the studs.

    >>> import topend as te
    >>> te.SpigotLocation(head_coaxiality="0.02 mm").kind
    'spigot'
    """

    kind: Literal["spigot"] = Field(default="spigot", description=_KIND)
    head_coaxiality: NonNegativeLength | None = stated_field("location.head_coaxiality")
    stud_position: NonNegativeLength | None = stated_field("location.stud_position")
    hole_position: NonNegativeLength | None = stated_field("location.hole_position")


class RegisterLocation(Part):
    """Located by the head's register in that of the cylinder; what turns it is held by the studs.

    >>> import topend as te
    >>> te.RegisterLocation(cylinder_coaxiality="0.03 mm").kind
    'register'
    """

    kind: Literal["register"] = Field(default="register", description=_KIND)
    head_coaxiality: NonNegativeLength | None = stated_field("location.head_coaxiality")
    cylinder_coaxiality: NonNegativeLength | None = stated_field("location.cylinder_coaxiality")
    stud_position: NonNegativeLength | None = stated_field("location.stud_position")
    hole_position: NonNegativeLength | None = stated_field("location.hole_position")


class StudLocation(Part):
    """Located by nothing but the studs in their holes.

    >>> import topend as te
    >>> te.StudLocation(stud_position="0.1 mm", hole_position="0.1 mm").kind
    'studs'
    """

    kind: Literal["studs"] = Field(default="studs", description=_KIND)
    head_coaxiality: NonNegativeLength | None = stated_field("location.head_coaxiality")
    stud_position: NonNegativeLength | None = stated_field("location.stud_position")
    hole_position: NonNegativeLength | None = stated_field("location.hole_position")


class LocatingPin(Part):
    """A pin: slotted, by ISO 8752 or ISO 13337, or solid. Its diameter before it is driven in follows from its standard.

    >>> import topend as te
    >>> te.LocatingPin(standard="ISO 8752", diameter="4 mm", length="12 mm").free
    Limits(low=0.0044, high=0.0046)
    """

    standard: Literal["ISO 8752", "ISO 13337", "solid"] = Field(
        description="Which pin: ISO 8752 (slotted, heavy), ISO 13337 (slotted, light), or solid."
    )
    diameter: PositiveLength = stated_field("location.pin.diameter", default=...)
    length: PositiveLength | None = stated_field("location.pin.length")
    free_diameter: PositiveLength | None = stated_field("location.pin.free_diameter")

    @model_validator(mode="after")
    def _in_the_table(self) -> Self:
        if self.standard != "solid" and self.free_diameter is None and self._key not in SPRING_PINS:
            sizes = ", ".join(f"{nominal:g}" for standard, nominal in SPRING_PINS if standard == self.standard)
            raise ValueError(
                f"diameter {self.diameter.text} is no size of {self.standard} in the table, which has {sizes} mm; state free_diameter, "
                "as measured before the pin is driven in"
            )
        return self

    @property
    def _key(self) -> tuple[str, float]:
        return self.standard, round(from_si(self.diameter.si, "mm"), 6)

    @property
    def free(self) -> Limits:
        """Diameter before it is driven in, from and to [m]: as stated, else of a slotted pin by its standard, else as it is."""
        own = self.diameter if self.free_diameter is None else self.free_diameter
        if self.free_diameter is None and self.standard != "solid":
            size = SPRING_PINS[self._key]
            return Limits(size.free_low, size.free_high)
        return own.si_limits or Limits(own.si, own.si)


class StudSlot(Part):
    """A straight slot of a plate that a stud stands in: from one end to the other of its middle line, seen from above.

    >>> import topend as te
    >>> te.StudSlot(angle="45 deg", circle_from="52 mm", circle_to="60 mm", width="7.2 mm").width
    <Quantity(7.2 mm)>
    """

    angle: Angle = stated_field("location.fixture.slots.N.angle", default=...)
    angle_to: Angle | None = stated_field("location.fixture.slots.N.angle_to")
    circle_from: PositiveLength = stated_field("location.fixture.slots.N.circle_from", default=...)
    circle_to: PositiveLength = stated_field("location.fixture.slots.N.circle_to", default=...)
    width: PositiveLength = stated_field("location.fixture.slots.N.width", default=...)


class DrillingFixture(Part):
    """A plate with a lip that centres it and two bushes through which cylinder and head are drilled for pins.

    With a lip on one face alone the head is drilled from the same face as the cylinder: what the plate's holes are off by comes out
    mirrored, and counts twice. With lips on both faces the plate is turned over for the head, and that cancels.

    >>> import topend as te
    >>> plate = te.DrillingFixture(lip_diameter="39.98 mm", bush_diameter="4.00 mm", drill_diameter="3.98 mm", pin_distance="58 mm")
    >>> plate.lips
    'one'
    """

    lip_diameter: PositiveLength = stated_field("location.fixture.lip_diameter", default=...)
    lips: Literal["one", "both"] = Field(
        default="one", description="On how many of its faces a lip stands: one, or both (then it is turned over for the head)."
    )
    head_lip_diameter: PositiveLength | None = stated_field("location.fixture.head_lip_diameter")
    head_ring_diameter: PositiveLength | None = stated_field("location.fixture.head_ring_diameter")
    lip_coaxiality: NonNegativeLength | None = stated_field("location.fixture.lip_coaxiality")
    bush_diameter: PositiveLength | None = stated_field("location.fixture.bush_diameter")
    drill_diameter: PositiveLength | None = stated_field("location.fixture.drill_diameter")
    pin_distance: PositiveLength | None = stated_field("location.fixture.pin_distance")
    pin_angle: Angle | None = stated_field("location.fixture.pin_angle")
    hole_position: NonNegativeLength | None = stated_field("location.fixture.hole_position")
    thickness: PositiveLength | None = stated_field("location.fixture.thickness")
    slots: tuple[StudSlot, ...] = Field(default=(), description="Slots that the studs of its families stand in.")


class PinLocation(Part):
    """Located by two pins, in holes drilled through a plate (`fixture`), or placed by themselves (`cylinder_pin_position`,
    `head_pin_position`).

    >>> import topend as te
    >>> te.PinLocation(pin=te.LocatingPin(standard="ISO 8752", diameter="4 mm"), pin_hole_diameter="4 mm +0.05/-0 mm").kind
    'pins'
    """

    kind: Literal["pins"] = Field(default="pins", description=_KIND)
    pin: LocatingPin | None = Field(default=None, description="The pins, both alike.")
    fixture: DrillingFixture | None = Field(default=None, description="The plate that the holes are drilled through.")
    pin_distance: PositiveLength | None = stated_field("location.pin_distance")
    pin_hole_diameter: PositiveLength | None = stated_field("location.pin_hole_diameter")
    head_pin_hole_diameter: PositiveLength | None = stated_field("location.head_pin_hole_diameter")
    slot_length: NonNegativeLength | None = stated_field("location.slot_length")
    cylinder_pin_position: NonNegativeLength | None = stated_field("location.cylinder_pin_position")
    head_pin_position: NonNegativeLength | None = stated_field("location.head_pin_position")
    head_coaxiality: NonNegativeLength | None = stated_field("location.head_coaxiality")


if TYPE_CHECKING:
    Location = SpigotLocation | RegisterLocation | PinLocation | StudLocation
else:
    Location = Annotated[SpigotLocation | RegisterLocation | PinLocation | StudLocation, Field(discriminator="kind")]
