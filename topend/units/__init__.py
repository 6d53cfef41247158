"""Units at the door: the one pint registry, the grammar of a written quantity, and the field types of parts.

Users' text never reaches pint's parser, which reads ``"54,0 mm"`` as 540 mm. Our grammar is a number, a space and one
unit from the list of that field, with limits after ``±``::

    "47.6 mm"     "0.50 mm ± 0.03 mm"     "0.50 mm +0.02/-0.00 mm"     "0.50 mm +/- 0.03 mm"     "47.6 mm H7"

Angles may be degrees and minutes, "88 deg 30 min", which are not decimals of a degree.

A quantity kept in a part is a `StatedQuantity`: it knows its limits, it cannot be changed in place, and arithmetic with
it gives plain pint quantities. Kernels see SI floats only; `to_si` and `from_si` are the only ways across.
"""

from __future__ import annotations

from topend.units.fields import (
    AbsoluteTemperature,
    AirPressure,
    Angle,
    Count,
    CrownPlace,
    Expansion,
    Length,
    NonNegativeAngle,
    NonNegativeArea,
    NonNegativeCompliance,
    NonNegativeLength,
    NonNegativeMass,
    NonNegativePressure,
    NonNegativeRatio,
    NonNegativeStrength,
    NonNegativeVolume,
    PositiveAngle,
    PositiveArea,
    PositiveDensity,
    PositiveLength,
    PositiveMass,
    PositiveModulus,
    PositivePressure,
    PositiveRatio,
    PositiveSpeed,
    PositiveStiffness,
    PositiveStrength,
    PositiveTorque,
    PositiveVolume,
    QuantityField,
    Share,
    SharpAngle,
    Temperature,
    TemperatureRise,
    Volume,
)
from topend.units.grammar import JSON_PATTERN
from topend.units.kinds import KINDS, Kind, Limits, from_si, kind_of_unit, put_from_si, to_si
from topend.units.mistakes import StatedValueError
from topend.units.stated import Quantity, StatedQuantity, figure_example, figure_si, parse, quantity, registry, stated, stated_column

__all__ = [
    "JSON_PATTERN",
    "KINDS",
    "AbsoluteTemperature",
    "AirPressure",
    "Angle",
    "Count",
    "CrownPlace",
    "Expansion",
    "Kind",
    "Length",
    "Limits",
    "NonNegativeAngle",
    "NonNegativeArea",
    "NonNegativeCompliance",
    "NonNegativeLength",
    "NonNegativeMass",
    "NonNegativePressure",
    "NonNegativeRatio",
    "NonNegativeStrength",
    "NonNegativeVolume",
    "PositiveAngle",
    "PositiveArea",
    "PositiveDensity",
    "PositiveLength",
    "PositiveMass",
    "PositiveModulus",
    "PositivePressure",
    "PositiveRatio",
    "PositiveSpeed",
    "PositiveStiffness",
    "PositiveStrength",
    "PositiveTorque",
    "PositiveVolume",
    "Quantity",
    "QuantityField",
    "Share",
    "SharpAngle",
    "StatedQuantity",
    "StatedValueError",
    "Temperature",
    "TemperatureRise",
    "Volume",
    "figure_example",
    "figure_si",
    "from_si",
    "kind_of_unit",
    "parse",
    "put_from_si",
    "quantity",
    "registry",
    "stated",
    "stated_column",
    "to_si",
]
