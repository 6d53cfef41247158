"""The crank: stroke, rod, offset, where the case face lies, and what gives at speed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal, Self

from pydantic import Field, model_validator

from topend.parts.base import Part, stated_field
from topend.parts.bearing import BallBearing, RollerBearing
from topend.parts.witness import Witness
from topend.units import (
    KINDS,
    Expansion,
    Length,
    NonNegativeCompliance,
    NonNegativeLength,
    NonNegativePressure,
    PositiveArea,
    PositiveDensity,
    PositiveLength,
    PositiveMass,
    PositiveModulus,
    PositiveSpeed,
    PositiveStiffness,
    Share,
    StatedQuantity,
    TemperatureRise,
    parse,
)

__all__ = ["Crank", "Running"]

ZERO_LENGTH = parse("0 mm", KINDS["length"])


class Crank(Part):
    """A crank with its rod and bearings. What bears on the closing at speed alone may be left out: wide defaults stand in.

    >>> import topend as te
    >>> te.Crank(stroke="39.3 mm", rod_length="85 mm")
    Crank(stroke="39.3 mm", rod_length="85 mm", offset="0 mm")
    """

    stroke: PositiveLength = stated_field("crank.stroke", default=...)
    rod_length: PositiveLength | None = stated_field("crank.rod_length")
    offset: Length = stated_field("crank.offset", default=ZERO_LENGTH)
    seat_height: PositiveLength | None = stated_field("crank.seat_height")
    pin_diameter: PositiveLength | None = stated_field("crank.pin_diameter")
    rod_area: PositiveArea | None = stated_field("crank.rod_area")
    rod_end_area: PositiveArea | None = stated_field("crank.rod_end_area")
    rod_mass: PositiveMass | None = stated_field("crank.rod_mass")
    rod_modulus: PositiveModulus | None = stated_field("crank.rod_modulus")
    rod_density: PositiveDensity | None = stated_field("crank.rod_density")
    crankpin_diameter: PositiveLength | None = stated_field("crank.crankpin_diameter")
    crankpin_length: PositiveLength | None = stated_field("crank.crankpin_length")
    web_diameter: PositiveLength | None = stated_field("crank.web_diameter")
    web_width: PositiveLength | None = stated_field("crank.web_width")
    stiffness: PositiveStiffness | None = stated_field("crank.stiffness")
    compliance: NonNegativeCompliance | None = stated_field("crank.compliance")
    balance: Share | None = stated_field("crank.balance")
    expansion: Expansion | None = stated_field("crank.expansion")
    rod_expansion: Expansion | None = stated_field("crank.rod_expansion")
    case_expansion: Expansion | None = stated_field("crank.case_expansion")
    unexplained_closing: NonNegativeLength | None = stated_field("crank.unexplained_closing")
    small_end: RollerBearing | None = Field(default=None, description="Bearing between piston pin and rod.")
    big_end: RollerBearing | None = Field(default=None, description="Bearing between rod and crankpin.")
    mains: BallBearing | None = Field(default=None, description="The two main bearings, each.")
    opened: tuple[Witness, ...] | None = Field(
        default=None, description="Engines of this family that were opened after running: what their crowns showed."
    )

    def stated(self) -> Iterator[tuple[str, StatedQuantity]]:
        """Every stated quantity with its path; what other engines showed is no size of this one."""
        return (pair for pair in super().stated() if not pair[0].startswith("opened."))

    @model_validator(mode="after")
    def _one_stiffness(self) -> Self:
        if self.stiffness is not None and self.compliance is not None:
            raise ValueError("stiffness and compliance say the same the two ways round; give one of them")
        return self


class Running(Part):
    """How the engine runs: the crank speed that speeds and accelerations are for.

    >>> import topend as te
    >>> te.Running(crank_speed="11500 rpm")
    Running(crank_speed="11500 rpm")
    """

    crank_speed: PositiveSpeed = stated_field("running.crank_speed", default=...)
    fuel: Literal["petrol", "racing petrol", "methanol"] | None = Field(
        default=None, description="What it burns: petrol (95 to 98 RON), racing petrol (over 100 RON) or methanol."
    )
    use: Literal["road", "trial", "racing"] | None = Field(
        default=None, description="What it is for: road, trial (and all that pulls from low speeds) or racing."
    )
    gas_pressure: NonNegativePressure | None = stated_field("running.gas_pressure")
    peak_pressure: NonNegativePressure | None = stated_field("running.peak_pressure")
    case_rise: TemperatureRise | None = stated_field("running.case_rise")
    cylinder_rise: TemperatureRise | None = stated_field("running.cylinder_rise")
    crank_rise: TemperatureRise | None = stated_field("running.crank_rise")
    rod_rise: TemperatureRise | None = stated_field("running.rod_rise")
    piston_rise: TemperatureRise | None = stated_field("running.piston_rise")
    ring_rise: TemperatureRise | None = stated_field("running.ring_rise")
    head_rise: TemperatureRise | None = stated_field("running.head_rise")
    stud_rise: TemperatureRise | None = stated_field("running.stud_rise")
