"""Kinds of quantity, the units each may be written in, and the way to SI and back. Tables and arithmetic alone: no pint here."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, overload

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["KINDS", "NUMBER", "SPAN", "UNITS", "ZEROS", "Kind", "Limits", "from_si", "kind_of_unit", "put_from_si", "to_si"]

# 0-9 and not \d, which takes the digits of every script
#: A number without its sign, as it is written.
SPAN: Final = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
#: A number, as it is written.
NUMBER: Final = rf"[+-]?{SPAN}"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity: its name in messages, the unit it is shown in, and the units that may be written."""

    name: str
    article: str
    shown: str
    units: tuple[str, ...]

    @property
    def phrase(self) -> str:
        return f"{self.article} {self.name}"


# unit as written -> (pint's name, SI = written * multiplier / divisor); division keeps 47.6 mm the nearest float to 0.0476 m
UNITS: Final[dict[str, tuple[str, float, float]]] = {
    "mm": ("millimeter", 1.0, 1e3),
    "cm": ("centimeter", 1.0, 1e2),
    "m": ("meter", 1.0, 1.0),
    "um": ("micrometer", 1.0, 1e6),
    "µm": ("micrometer", 1.0, 1e6),
    "in": ("inch", 0.0254, 1.0),
    "thou": ("thou", 2.54e-5, 1.0),
    "cc": ("cubic_centimeter", 1.0, 1e6),
    "cm3": ("centimeter ** 3", 1.0, 1e6),
    "cm³": ("centimeter ** 3", 1.0, 1e6),
    "ml": ("milliliter", 1.0, 1e6),
    "mm3": ("millimeter ** 3", 1.0, 1e9),
    "mm³": ("millimeter ** 3", 1.0, 1e9),
    "deg": ("degree", math.pi, 180.0),
    "°": ("degree", math.pi, 180.0),
    "rad": ("radian", 1.0, 1.0),
    "rpm": ("revolutions_per_minute", math.pi, 30.0),
    "rad/s": ("radian / second", 1.0, 1.0),
    "m/s": ("meter / second", 1.0, 1.0),
    "m/s²": ("meter / second ** 2", 1.0, 1.0),
    "g": ("gram", 1.0, 1e3),
    "kg": ("kilogram", 1.0, 1.0),
    "degC": ("degree_Celsius", 1.0, 1.0),
    "°C": ("degree_Celsius", 1.0, 1.0),
    "hPa": ("hectopascal", 1e2, 1.0),
    "bar": ("bar", 1e5, 1.0),
    "MPa": ("megapascal", 1e6, 1.0),
    "GPa": ("gigapascal", 1e9, 1.0),
    "N/mm²": ("newton / millimeter ** 2", 1e6, 1.0),
    "N/mm2": ("newton / millimeter ** 2", 1e6, 1.0),
    "kN": ("kilonewton", 1e3, 1.0),
    "N": ("newton", 1.0, 1.0),
    "J": ("joule", 1.0, 1.0),
    "N·m": ("newton * meter", 1.0, 1.0),
    "Nm": ("newton * meter", 1.0, 1.0),
    "kg/m³": ("kilogram / meter ** 3", 1.0, 1.0),
    "kg/m3": ("kilogram / meter ** 3", 1.0, 1.0),
    "g/cm³": ("gram / centimeter ** 3", 1e3, 1.0),
    "s/m": ("second / meter", 1.0, 1.0),
    "kN/mm": ("kilonewton / millimeter", 1e6, 1.0),
    "µm/kN": ("micrometer / kilonewton", 1.0, 1e9),
    "um/kN": ("micrometer / kilonewton", 1.0, 1e9),
    "%": ("percent", 1.0, 1e2),
    "K": ("kelvin", 1.0, 1.0),
    "µm/m/K": ("micrometer / meter / kelvin", 1.0, 1e6),
    "um/m/K": ("micrometer / meter / kelvin", 1.0, 1e6),
    "pcs": ("dimensionless", 1.0, 1.0),
    "mm²": ("millimeter ** 2", 1.0, 1e6),
    "mm2": ("millimeter ** 2", 1.0, 1e6),
    "–": ("dimensionless", 1.0, 1.0),
}

#: What is added to get SI, for the scales that do not start at nothing.
ZEROS: Final[dict[str, float]] = {"degC": 273.15, "°C": 273.15}

KINDS: Final[dict[str, Kind]] = {
    kind.name: kind
    for kind in (
        Kind("length", "a", "mm", ("mm", "cm", "m", "um", "µm", "in", "thou")),
        Kind("volume", "a", "cc", ("cc", "ml", "cm3", "cm³", "mm3", "mm³")),
        Kind("angle", "an", "deg", ("deg", "°", "rad")),
        Kind("crank speed", "a", "rpm", ("rpm", "rad/s")),
        Kind("speed", "a", "m/s", ("m/s",)),
        Kind("acceleration", "an", "m/s²", ("m/s²",)),
        Kind("mass", "a", "g", ("g", "kg")),
        Kind("temperature", "a", "degC", ("degC", "°C")),
        Kind("air pressure", "an", "hPa", ("hPa",)),
        Kind("area", "an", "mm²", ("mm²", "mm2")),
        Kind("pressure", "a", "bar", ("bar", "MPa")),
        Kind("modulus", "a", "GPa", ("GPa",)),
        Kind("strength", "a", "N/mm²", ("N/mm²", "N/mm2")),
        Kind("force", "a", "kN", ("kN", "N")),
        Kind("energy", "an", "J", ("J",)),
        Kind("torque", "a", "N·m", ("N·m", "Nm")),
        Kind("density", "a", "kg/m³", ("kg/m³", "kg/m3", "g/cm³")),
        Kind("stiffness", "a", "kN/mm", ("kN/mm",)),
        Kind("compliance", "a", "µm/kN", ("µm/kN", "um/kN")),
        Kind("share", "a", "%", ("%",)),
        Kind("time-area", "a", "s/m", ("s/m",)),
        Kind("temperature in kelvin", "a", "K", ("K",)),
        Kind("expansion", "an", "µm/m/K", ("µm/m/K", "um/m/K")),
        Kind("count", "a", "pcs", ("pcs",)),
        Kind("ratio", "a", "–", ("–",)),
    )
}


@overload
def to_si(value: float, unit: str) -> float: ...
@overload
def to_si(value: NDArray[np.float64], unit: str) -> NDArray[np.float64]: ...
def to_si(value: Any, unit: str) -> Any:
    """SI value of `value` [`unit`]; scalar and array go through the same two operations, so they agree to the bit.

    >>> to_si(47.6, "mm")
    0.0476
    """
    _, multiplier, divisor = UNITS[unit]
    if unit in ZEROS:
        return value + ZEROS[unit]
    if multiplier != 1.0:
        value = value * multiplier
    return value / divisor if divisor != 1.0 else value


@overload
def from_si(value: float, unit: str) -> float: ...
@overload
def from_si(value: NDArray[np.float64], unit: str) -> NDArray[np.float64]: ...
def from_si(value: Any, unit: str) -> Any:
    """Value in `unit` of an SI `value`, the inverse of `to_si`.

    >>> from_si(0.0476, "mm")
    47.6
    """
    _, multiplier, divisor = UNITS[unit]
    if unit in ZEROS:
        return value - ZEROS[unit]
    if divisor != 1.0:
        value = value * divisor
    return value / multiplier if multiplier != 1.0 else value


def put_from_si(out: NDArray[np.float64], value: NDArray[np.float64], unit: str) -> None:
    """`from_si` of a column, into `out`: the same operations, without a column in between.

    >>> shown = np.empty(1)
    >>> put_from_si(shown, np.array([0.0476]), "mm")
    >>> shown
    array([47.6])
    """
    _, multiplier, divisor = UNITS[unit]
    np.multiply(value, divisor, out=out)
    if multiplier != 1.0:
        np.divide(out, multiplier, out=out)


def kind_of_unit(unit: str) -> Kind | None:
    """The kind whose list holds `unit` as written, or None.

    >>> kind_of_unit("cc").name
    'volume'
    """
    return next((kind for kind in KINDS.values() if unit in kind.units), None)


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit of a value, both in the unit the value was stated in."""

    low: float
    high: float
