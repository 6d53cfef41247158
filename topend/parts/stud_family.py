"""A family of barrels as a drilling fixture sees it: bore, studs, gasket, and what must not be drilled into."""

from __future__ import annotations

from math import cos, pi, sin
from typing import Literal, Self

from pydantic import Field, model_validator

from topend.parts.base import Part
from topend.parts.studs import StudPattern
from topend.units import Angle, Length, NonNegativeLength, PositiveLength

__all__ = ["Obstacle", "StudFamily", "StudPlace"]


class StudPlace(Part):
    """Where one stud stands, from the bore's axis, the deck seen from above.

    >>> import topend as te
    >>> te.StudPlace(x="21 mm", y="-19.5 mm").y
    <Quantity(-19.5 mm)>
    """

    x: Length = Field(description="To the right of the bore's axis.")
    y: Length = Field(description="Beyond the bore's axis, away from who looks on.")


class Obstacle(Part):
    """What a pin hole must not run into: a part of a ring around the bore, from one angle anticlockwise to another.

    >>> import topend as te
    >>> te.Obstacle(what="coolant", angle_from="20 deg", angle_to="70 deg", circle_from="60 mm", circle_to="74 mm").depth
    <Quantity(0 mm)>
    """

    what: Literal["port", "passage", "coolant", "bolt", "edge", "other"] = Field(description="What is there.")
    part: Literal["cylinder", "head", "both"] = Field(default="cylinder", description="In which part it is: cylinder, head, or both.")
    angle_from: Angle = Field(description="Where it begins, anticlockwise from the family's mark, seen from above.")
    angle_to: Angle = Field(description="Where it ends, further anticlockwise; both 0 and 360 deg: all round.")
    circle_from: NonNegativeLength = Field(description="Diameter of the circle that it reaches in to.")
    circle_to: PositiveLength = Field(description="Diameter of the circle that it reaches out to.")
    depth: NonNegativeLength = Field(default="0 mm", validate_default=True, description="How far below deck or gasket face it begins.")

    @model_validator(mode="after")
    def _a_ring(self) -> Self:
        if self.circle_from.si >= self.circle_to.si:
            raise ValueError(f"circle_from ({self.circle_from.text}) must be less than circle_to ({self.circle_to.text})")
        return self


class StudFamily(Part):
    """One family of barrels. Angles count anticlockwise from a mark of your own (the middle of the exhaust, say), seen from above.

    Its studs stand evenly on a circle (`pattern`, the first at `first_angle`), or each at its own place (`studs`).

    >>> import topend as te
    >>> even = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    >>> [round(complex(x, y).real, 3) for x, y in te.StudFamily(name="demo", bore="40 mm", pattern=even, first_angle="45 deg").places_mm]
    [19.799, -19.799, -19.799, 19.799]
    """

    bore: PositiveLength = Field(description="Bore diameter.")
    pattern: StudPattern | None = Field(default=None, description="Its studs, evenly spaced on a circle.")
    first_angle: Angle | None = Field(
        default=None, description="Where the first of those on the circle stands; not given: as the pattern says, else 0 deg."
    )
    studs: tuple[StudPlace, ...] = Field(default=(), description="Its studs, each at its own place, where they are not evenly spaced.")
    stud_diameter: PositiveLength | None = Field(default=None, description="Diameter of the studs; not given: that of the pattern.")
    stud_hole_diameter: PositiveLength | None = Field(default=None, description="Diameter of the head's holes for them.")
    stud_position: NonNegativeLength = Field(
        default="0 mm", validate_default=True, description="Studs off their places: diameter of the zone of position."
    )
    recess_diameter: PositiveLength | None = Field(default=None, description="Recess of its head, for the plate's lip.")
    spigot_diameter: PositiveLength | None = Field(default=None, description="Spigot of its head, for the plate's ring.")
    gasket_opening: PositiveLength | None = Field(default=None, description="Opening of its head gasket.")
    gasket_outline: PositiveLength | None = Field(default=None, description="Outer diameter of its head gasket, where that is round.")
    obstacles: tuple[Obstacle, ...] = Field(default=(), description="What a pin hole must not run into.")

    @model_validator(mode="after")
    def _one_pattern(self) -> Self:
        if (self.pattern is None) == (not self.studs):
            raise ValueError("needs its studs once: pattern for studs evenly spaced on a circle, or studs with the place of each")
        if self.studs and self.first_angle is not None:
            raise ValueError(
                f"first_angle ({self.first_angle.text}) is of studs evenly on a circle (pattern), and studs gives the place of each: leave "
                "it out, or give the places as they are"
            )
        if self.pattern is not None and None not in (self.first_angle, self.pattern.angle):
            raise ValueError("first_angle and pattern.angle both say where the first stud stands; give one")
        if self.stud_diameter is None and (self.pattern is None or self.pattern.diameter is None):
            raise ValueError("needs stud_diameter, or a pattern with its diameter")
        return self

    @property
    def places_mm(self) -> tuple[tuple[float, float], ...]:
        """Places of the studs [mm] from the bore's axis."""
        if self.pattern is None:
            return tuple((one.x.m_as("mm"), one.y.m_as("mm")) for one in self.studs)
        at = self.pattern.angle if self.first_angle is None else self.first_angle
        radius, first = self.pattern.circle_diameter.m_as("mm") / 2.0, 0.0 if at is None else at.si
        turns = (first + 2.0 * pi * index / self.pattern.count for index in range(self.pattern.count))
        return tuple((radius * cos(turn), radius * sin(turn)) for turn in turns)
