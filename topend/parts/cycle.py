"""What the closed cycle asks of an engine: the charge, its burn, what is lost, and how it is turned over."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from topend.parts.base import Part, stated_field
from topend.units import (
    AbsoluteTemperature,
    Angle,
    NonNegativeAngle,
    NonNegativeArea,
    NonNegativePressure,
    NonNegativeRatio,
    NonNegativeVolume,
    PositiveAngle,
    PositivePressure,
    PositiveRatio,
    PositiveSpeed,
    QuantityField,
    Share,
    StatedQuantity,
)

__all__ = ["Burn", "Charge", "Cranking", "Losses"]

if TYPE_CHECKING:
    Equivalence = StatedQuantity
    BurnForm = StatedQuantity
    BurnCompleteness = StatedQuantity
else:
    # what may burn at all; beyond it charges have not oxygen enough even for CO
    Equivalence = Annotated[StatedQuantity, QuantityField("ratio", low=0.3, high=2.0)]
    # beyond them the burn's ends are steeper than the march's steps follow
    BurnForm = Annotated[StatedQuantity, QuantityField("ratio", low=0.0, high=6.0)]
    BurnCompleteness = Annotated[StatedQuantity, QuantityField("ratio", low=0.0, high=20.0, strict=True)]


class Charge(Part):
    """What is in the cylinder when the exhaust closes. What is not given is estimated, with wide limits, and listed as assumed.

    `equivalence` is fuel over air as a multiple of what just burns: more than 1 is rich. Of `ron` and `mon` give the one that is known.

    >>> import topend as te
    >>> te.Charge(fuel="petrol 98", pressure="1.2 bar ± 0.1 bar", residual="20 %").fuel
    'petrol 98'
    """

    fuel: Literal["petrol 95", "petrol 98", "iso-octane", "toluene", "methanol", "ethanol"] | None = Field(
        default=None, description="What is burned; not given: petrol 98."
    )
    ron: PositiveRatio | None = stated_field("charge.ron")
    mon: PositiveRatio | None = stated_field("charge.mon")
    equivalence: Equivalence | None = stated_field("charge.equivalence")
    residual: Share | None = stated_field("charge.residual")
    pressure: PositivePressure | None = stated_field("charge.pressure")
    temperature: AbsoluteTemperature | None = stated_field("charge.temperature")

    @model_validator(mode="after")
    def _one_octane(self) -> Self:
        if self.ron is not None and self.mon is not None:
            raise ValueError("ron and mon are two scales, and the knock delay takes one octane number; give the one it is to be judged by")
        return self


class Burn(Part):
    """How the charge burns, by Wiebe: from `delay` after the spark, over `duration`.

    >>> import topend as te
    >>> te.Burn(spark="16 deg", duration="45 deg ± 5 deg").spark
    <Quantity(16 deg)>
    """

    spark: Angle = stated_field("burn.spark", default=...)
    delay: NonNegativeAngle | None = stated_field("burn.delay")
    duration: PositiveAngle | None = stated_field("burn.duration")
    form: BurnForm | None = stated_field("burn.form")
    completeness: BurnCompleteness | None = stated_field("burn.completeness")


class Losses(Part):
    """What the gas loses to walls and past the rings.

    >>> import topend as te
    >>> te.Losses(wall_temperature="450 K", relation="annand").wall_temperature
    <Quantity(450 K)>
    """

    relation: Literal["annand", "woschni"] | None = Field(default=None, description="Whose relation of heat loss; not given: annand.")
    heat_factor: NonNegativeRatio | None = stated_field("losses.heat_factor")
    wall_temperature: AbsoluteTemperature | None = stated_field("losses.wall_temperature")
    leak_area: NonNegativeArea | None = stated_field("losses.leak_area")
    crankcase_pressure: NonNegativePressure | None = stated_field("losses.crankcase_pressure")


class Cranking(Part):
    """How the engine is turned over for a reading of its cranking pressure.

    >>> import topend as te
    >>> te.Cranking(crank_speed="450 rpm", pressure="0.98 bar").crank_speed
    <Quantity(450 rpm)>
    """

    crank_speed: PositiveSpeed | None = stated_field("cranking.crank_speed")
    pressure: PositivePressure | None = stated_field("cranking.pressure")
    temperature: AbsoluteTemperature | None = stated_field("cranking.temperature")
    gauge_volume: NonNegativeVolume | None = stated_field("cranking.gauge_volume")
