"""What the tools that cut a chamber can do, and the metal that has to stay."""

from __future__ import annotations

from pydantic import Field, model_validator

from topend.parts.base import Part
from topend.units import NonNegativeLength, PositiveLength

__all__ = ["Cutter"]


class Cutter(Part):
    """Limits of cutting a chamber: the tool's nose, and the metal left around the plug and above the roof.

    >>> import topend as te
    >>> te.Cutter(tool_radius="2 mm", least_wall="5 mm", outer_height="24 mm").tool_radius
    <Quantity(2 mm)>
    """

    tool_radius: NonNegativeLength | None = Field(
        default=None, description="Nose radius of the tool: no hollow of the chamber is tighter than that."
    )
    plug_boss: PositiveLength | None = Field(
        default=None, description="Diameter about the plug inside which no part of the chamber may rise above the plug's face."
    )
    least_wall: PositiveLength | None = Field(default=None, description="Least metal between the chamber's top and the outside.")
    outer_height: PositiveLength | None = Field(
        default=None, description="Height of the outside, or of a water jacket's floor, above the band-edge plane."
    )
    least_thread: PositiveLength | None = Field(default=None, description="Least length of the plug's thread that must stay.")

    @model_validator(mode="after")
    def _wall_needs_its_outside(self) -> Cutter:
        if (self.least_wall is None) != (self.outer_height is None):
            given, lacking = ("least_wall", "outer_height") if self.outer_height is None else ("outer_height", "least_wall")
            raise ValueError(f"gives {given} without {lacking}: the wall is what is left between the chamber's top and the outside")
        return self
