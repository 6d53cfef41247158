"""Field types of parts: a stated quantity of one kind, within a range."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from pydantic_core import core_schema

from topend.units.grammar import JSON_PATTERN
from topend.units.kinds import KINDS, from_si, to_si
from topend.units.mistakes import StatedValueError, example_of
from topend.units.stated import StatedQuantity, stated

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler

__all__ = [
    "AbsoluteTemperature",
    "AirPressure",
    "Angle",
    "Count",
    "CrownPlace",
    "Expansion",
    "Length",
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
    "QuantityField",
    "Share",
    "SharpAngle",
    "Temperature",
    "TemperatureRise",
    "Volume",
]

#: Words that stand in place of a quantity, as they are also spelt.
_WORDS_ELSEWHERE = {"center": "centre", "middle": "centre", "rim": "edge"}


@dataclass(frozen=True, slots=True)
class QuantityField:
    """The annotation that makes a pydantic field a stated quantity of one kind, within a range.

    `low` and `high` bound the stated value and its limits, in the kind's shown unit; `strict` excludes `low` itself.
    `words` are texts that may stand in place of a quantity.
    """

    kind: str
    low: float = -math.inf
    high: float = math.inf
    strict: bool = False
    words: tuple[str, ...] = ()

    @property
    def allowed(self) -> str:
        """The range in words, or nothing."""
        unit = KINDS[self.kind].shown
        parts = []
        if self.low > -math.inf:
            parts.append(f"{'more than' if self.strict else 'at least'} {self.low:g} {unit}")
        if self.high < math.inf:
            parts.append(f"at most {self.high:g} {unit}")
        return " and ".join(parts)

    def validate(self, value: object) -> StatedQuantity | str:
        if self.words:
            if isinstance(value, str) and value in self.words:
                return value
            try:
                return self._within(stated(value, KINDS[self.kind]))
            except StatedValueError as error:
                text = str(value).strip().lower()
                meant = _WORDS_ELSEWHERE.get(text, text)
                near = [meant] if meant in self.words else get_close_matches(text, self.words, 1)
                if near:
                    # the same word as another country spells it, or misspelt
                    told = f"must be {', '.join(self.words)}, or a {self.kind}; got {value!r}; nearest: {near[0]}"
                    raise StatedValueError(told) from None
                said = str(error)
                joined = f" {said.removeprefix('needs ')}" if said.startswith("needs ") else f" a {self.kind}, which {said}"
                raise StatedValueError(f"must be {', '.join(self.words)}, or{joined}", example=error.example) from None
        return self._within(stated(value, KINDS[self.kind]))

    def outside(self, values: NDArray[np.float64], unit: str) -> NDArray[np.bool_]:
        """Which of `values` [`unit`] this field refuses, each judged as `validate` judges one."""
        kind = KINDS[self.kind]
        shown = values if unit == kind.shown else from_si(to_si(values, unit), kind.shown)
        return (shown < self.low) | (shown > self.high) | (self.strict & (shown <= self.low))

    def _within(self, made: StatedQuantity) -> StatedQuantity:
        unit = made.stated_unit
        kind = KINDS[self.kind]
        ends = made.stated_limits
        low, high = (made._magnitude, made._magnitude) if ends is None else (ends.low, ends.high)
        if unit != kind.shown:
            low, high = from_si(to_si(low, unit), kind.shown), from_si(to_si(high, unit), kind.shown)
        if low < self.low or (self.strict and low <= self.low) or high > self.high:
            limits = " with its limits" if made.stated_limits else ""
            raise StatedValueError(f"must be {self.allowed}; got {made.text!r}{limits}")
        return made

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        check: Callable[[Any], Any] = self.validate
        return core_schema.no_info_plain_validator_function(
            check,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda value: value if isinstance(value, str) else value.text,
                return_schema=core_schema.str_schema(),
                when_used="json-unless-none",
            ),
        )

    def __get_pydantic_json_schema__(self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        kind = KINDS[self.kind]
        made: dict[str, Any] = {
            "type": "string",
            "pattern": JSON_PATTERN,
            "examples": [example_of(kind).strip('"')],
            "x-kind": kind.name,
            "x-units": list(kind.units),
        }
        if self.allowed:
            made["x-range"] = self.allowed
        if self.kind == "ratio":
            return {"anyOf": [{"type": "number"}, {**made, "pattern": r"^\s*[+-]?[0-9.].*$", "examples": ["0.12 ± 0.02"]}]}
        return {"anyOf": [{"enum": list(self.words)}, made]} if self.words else made


if TYPE_CHECKING:
    Length = StatedQuantity
    PositiveLength = StatedQuantity
    NonNegativeLength = StatedQuantity
    CrownPlace = StatedQuantity | Literal["edge", "centre"]
    Volume = StatedQuantity
    PositiveVolume = StatedQuantity
    NonNegativeVolume = StatedQuantity
    NonNegativeMass = StatedQuantity
    Temperature = StatedQuantity
    AirPressure = StatedQuantity
    Angle = StatedQuantity
    SharpAngle = StatedQuantity
    PositiveSpeed = StatedQuantity
    PositiveMass = StatedQuantity
    PositiveArea = StatedQuantity
    PositiveModulus = StatedQuantity
    PositiveDensity = StatedQuantity
    PositiveStiffness = StatedQuantity
    NonNegativeCompliance = StatedQuantity
    NonNegativePressure = StatedQuantity
    Share = StatedQuantity
    Count = StatedQuantity
    TemperatureRise = StatedQuantity
    Expansion = StatedQuantity
    PositiveStrength = StatedQuantity
    NonNegativeStrength = StatedQuantity
    PositiveTorque = StatedQuantity
    NonNegativeRatio = StatedQuantity
    PositiveRatio = StatedQuantity
    PositivePressure = StatedQuantity
    PositiveAngle = StatedQuantity
    NonNegativeAngle = StatedQuantity
    NonNegativeArea = StatedQuantity
    AbsoluteTemperature = StatedQuantity
else:
    from typing import Annotated

    Length = Annotated[StatedQuantity, QuantityField("length")]
    PositiveLength = Annotated[StatedQuantity, QuantityField("length", low=0.0, strict=True)]
    NonNegativeLength = Annotated[StatedQuantity, QuantityField("length", low=0.0)]
    CrownPlace = Annotated[StatedQuantity | str, QuantityField("length", low=0.0, words=("edge", "centre"))]
    Volume = Annotated[StatedQuantity, QuantityField("volume")]
    PositiveVolume = Annotated[StatedQuantity, QuantityField("volume", low=0.0, strict=True)]
    NonNegativeVolume = Annotated[StatedQuantity, QuantityField("volume", low=0.0)]
    NonNegativeMass = Annotated[StatedQuantity, QuantityField("mass", low=0.0)]
    Temperature = Annotated[StatedQuantity, QuantityField("temperature", low=-40.0)]
    AirPressure = Annotated[StatedQuantity, QuantityField("air pressure", low=500.0, high=1100.0)]
    Angle = Annotated[StatedQuantity, QuantityField("angle")]
    SharpAngle = Annotated[StatedQuantity, QuantityField("angle", low=-80.0, high=80.0)]
    PositiveSpeed = Annotated[StatedQuantity, QuantityField("crank speed", low=0.0, strict=True)]
    PositiveMass = Annotated[StatedQuantity, QuantityField("mass", low=0.0, strict=True)]
    PositiveArea = Annotated[StatedQuantity, QuantityField("area", low=0.0, strict=True)]
    PositiveModulus = Annotated[StatedQuantity, QuantityField("modulus", low=0.0, strict=True)]
    PositiveDensity = Annotated[StatedQuantity, QuantityField("density", low=0.0, strict=True)]
    PositiveStiffness = Annotated[StatedQuantity, QuantityField("stiffness", low=0.0, strict=True)]
    NonNegativeCompliance = Annotated[StatedQuantity, QuantityField("compliance", low=0.0)]
    NonNegativePressure = Annotated[StatedQuantity, QuantityField("pressure", low=0.0)]
    Share = Annotated[StatedQuantity, QuantityField("share", low=0.0, high=100.0)]
    TemperatureRise = Annotated[StatedQuantity, QuantityField("temperature in kelvin")]
    Expansion = Annotated[StatedQuantity, QuantityField("expansion", low=0.0)]
    PositiveStrength = Annotated[StatedQuantity, QuantityField("strength", low=0.0, strict=True)]
    NonNegativeStrength = Annotated[StatedQuantity, QuantityField("strength", low=0.0)]
    PositiveTorque = Annotated[StatedQuantity, QuantityField("torque", low=0.0, strict=True)]
    NonNegativeRatio = Annotated[StatedQuantity, QuantityField("ratio", low=0.0)]
    PositiveRatio = Annotated[StatedQuantity, QuantityField("ratio", low=0.0, strict=True)]
    PositivePressure = Annotated[StatedQuantity, QuantityField("pressure", low=0.0, strict=True)]
    PositiveAngle = Annotated[StatedQuantity, QuantityField("angle", low=0.0, strict=True)]
    NonNegativeAngle = Annotated[StatedQuantity, QuantityField("angle", low=0.0)]
    NonNegativeArea = Annotated[StatedQuantity, QuantityField("area", low=0.0)]
    AbsoluteTemperature = Annotated[StatedQuantity, QuantityField("temperature in kelvin", low=200.0)]
    Count = Annotated[StatedQuantity, QuantityField("count", low=3.0)]
