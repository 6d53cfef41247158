"""Kinds of quantity, the units each may be written in, and the way to SI and back. Tables and arithmetic alone: no pint here."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, overload

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["KINDS", "NUMBER", "SPAN", "SPELLINGS", "UNITS", "ZEROS", "Kind", "Limits", "from_si", "kind_of_unit", "put_from_si", "to_si"]

# 0-9 and not \d, which takes the digits of every script
#: A number without its sign, as it is written.
# no digit can be taken in two ways, or a long row of them would be tried in all
SPAN: Final = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
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

    def unit(self, written: str) -> str | None:
        """The unit of this kind that `written` stands for: itself, or the one it is another spelling of; None where it is no such.

        >>> KINDS["area"].unit("mm^2"), KINDS["torque"].unit("ft-lb"), KINDS["length"].unit("mm^2")
        ('mm²', 'ft·lbf', None)
        """
        if written in self.units:
            return written
        for spelling in (written, _typeset(written)):
            unit = spelling if spelling in self.units else SPELLINGS.get(spelling)
            if unit in self.units:
                return unit
        return None


# exact by definition: the inch and the pound (1959), standard gravity (3rd CGPM, 1901)
_INCH: Final = 0.0254
_GRAVITY: Final = 9.80665
_POUND_FORCE: Final = 0.45359237 * _GRAVITY

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
    "in³": ("inch ** 3", 1.6387064e-5, 1.0),
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
    "mbar": ("millibar", 1e2, 1.0),
    "bar": ("bar", 1e5, 1.0),
    "kPa": ("kilopascal", 1e3, 1.0),
    "psi": ("pound_force_per_square_inch", _POUND_FORCE / _INCH**2, 1.0),
    "MPa": ("megapascal", 1e6, 1.0),
    "GPa": ("gigapascal", 1e9, 1.0),
    "N/mm²": ("newton / millimeter ** 2", 1e6, 1.0),
    "N/mm2": ("newton / millimeter ** 2", 1e6, 1.0),
    "kN": ("kilonewton", 1e3, 1.0),
    "N": ("newton", 1.0, 1.0),
    "J": ("joule", 1.0, 1.0),
    "N·m": ("newton * meter", 1.0, 1.0),
    "Nm": ("newton * meter", 1.0, 1.0),
    "N·cm": ("newton * centimeter", 1.0, 1e2),
    "kgf·m": ("force_kilogram * meter", _GRAVITY, 1.0),
    "kgf·cm": ("force_kilogram * centimeter", _GRAVITY, 1e2),
    "ft·lbf": ("foot * force_pound", 12.0 * _INCH * _POUND_FORCE, 1.0),
    "in·lbf": ("inch * force_pound", _INCH * _POUND_FORCE, 1.0),
    "kg/m³": ("kilogram / meter ** 3", 1.0, 1.0),
    "kg/m3": ("kilogram / meter ** 3", 1.0, 1.0),
    "g/cm³": ("gram / centimeter ** 3", 1e3, 1.0),
    "s/m": ("second / meter", 1.0, 1.0),
    "kN/mm": ("kilonewton / millimeter", 1e6, 1.0),
    "N/mm": ("newton / millimeter", 1e3, 1.0),
    "N/µm": ("newton / micrometer", 1e6, 1.0),
    "µm/kN": ("micrometer / kilonewton", 1.0, 1e9),
    "um/kN": ("micrometer / kilonewton", 1.0, 1e9),
    "%": ("percent", 1.0, 1e2),
    "K": ("kelvin", 1.0, 1.0),
    "µm/m/K": ("micrometer / meter / kelvin", 1.0, 1e6),
    "um/m/K": ("micrometer / meter / kelvin", 1.0, 1e6),
    "pcs": ("dimensionless", 1.0, 1.0),
    "mm²": ("millimeter ** 2", 1.0, 1e6),
    "mm2": ("millimeter ** 2", 1.0, 1e6),
    "cm²": ("centimeter ** 2", 1.0, 1e4),
    "in²": ("inch ** 2", 6.4516e-4, 1.0),
    "–": ("dimensionless", 1.0, 1.0),
}

#: What is added to get SI, for the scales that do not start at nothing.
ZEROS: Final[dict[str, float]] = {"degC": 273.15, "°C": 273.15}

KINDS: Final[dict[str, Kind]] = {
    kind.name: kind
    for kind in (
        Kind("length", "a", "mm", ("mm", "cm", "m", "um", "µm", "in", "thou")),
        Kind("volume", "a", "cc", ("cc", "ml", "cm3", "cm³", "mm3", "mm³", "in³")),
        Kind("angle", "an", "deg", ("deg", "°", "rad")),
        Kind("crank speed", "a", "rpm", ("rpm", "rad/s")),
        Kind("speed", "a", "m/s", ("m/s",)),
        Kind("acceleration", "an", "m/s²", ("m/s²",)),
        Kind("mass", "a", "g", ("g", "kg")),
        Kind("temperature", "a", "degC", ("degC", "°C")),
        Kind("air pressure", "an", "hPa", ("hPa", "mbar", "kPa", "bar")),
        Kind("area", "an", "mm²", ("mm²", "mm2", "cm²", "in²")),
        Kind("pressure", "a", "bar", ("bar", "MPa", "kPa", "psi")),
        Kind("modulus", "a", "GPa", ("GPa", "MPa", "N/mm²")),
        Kind("strength", "a", "N/mm²", ("N/mm²", "N/mm2", "MPa")),
        Kind("force", "a", "kN", ("kN", "N")),
        Kind("energy", "an", "J", ("J",)),
        Kind("torque", "a", "N·m", ("N·m", "Nm", "N·cm", "kgf·m", "kgf·cm", "ft·lbf", "in·lbf")),
        Kind("density", "a", "kg/m³", ("kg/m³", "kg/m3", "g/cm³")),
        Kind("stiffness", "a", "kN/mm", ("kN/mm", "N/mm", "N/µm")),
        Kind("compliance", "a", "µm/kN", ("µm/kN", "um/kN")),
        Kind("share", "a", "%", ("%",)),
        Kind("time-area", "a", "s/m", ("s/m",)),
        Kind("temperature in kelvin", "a", "K", ("K",)),
        Kind("expansion", "an", "µm/m/K", ("µm/m/K", "um/m/K")),
        Kind("count", "a", "pcs", ("pcs",)),
        Kind("ratio", "a", "–", ("–",)),
    )
}


def _spellings() -> dict[str, str]:
    made = {
        "inch": "in",
        "inches": "in",
        "millimetre": "mm",
        "millimetres": "mm",
        "millimeter": "mm",
        "millimeters": "mm",
        "micron": "µm",
        "microns": "µm",
        "ccm": "cc",
        "mL": "ml",
        "cu in": "in³",
        "sq in": "in²",
        "sq mm": "mm²",
        "degree": "deg",
        "degrees": "deg",
        "r/min": "rpm",
        "rev/min": "rpm",
        "1/min": "rpm",
        "/min": "rpm",
        "min⁻¹": "rpm",
        "min-1": "rpm",
        "min^-1": "rpm",
        "C": "°C",
        "℃": "°C",
        "deg C": "degC",
        "° C": "°C",
        "g/cc": "g/cm³",
        "g/ml": "g/cm³",
        "µm/(m·K)": "µm/m/K",
        "um/(m·K)": "µm/m/K",
        "ppm/K": "µm/m/K",
        "lbf/in²": "psi",
        "foot pounds": "ft·lbf",
        "foot-pounds": "ft·lbf",
        "inch pounds": "in·lbf",
        "inch-pounds": "in·lbf",
        # of a torque wrench the pound is a force, whichever way round and however joined
        **{f"N{joint}m": "N·m" for joint in _JOINTS},
        **{f"N{joint}cm": "N·cm" for joint in _JOINTS},
        **{f"kgf{joint}m": "kgf·m" for joint in _JOINTS},
        **{f"kgf{joint}cm": "kgf·cm" for joint in _JOINTS},
    }
    for length in ("ft", "in"):
        for pound in ("lbf", "lb", "lbs"):
            for joint in _JOINTS:
                for text in (f"{length}{joint}{pound}", f"{pound}{joint}{length}"):
                    made[text] = f"{length}·lbf"
    return {spelling: unit for spelling, unit in made.items() if spelling not in UNITS}


#: How two units are multiplied, besides with the dot.
_JOINTS: Final = ("·", "-", ".", "", " ")

#: Other spellings of a unit, where it can be only that one. A value is kept in the unit itself.
SPELLINGS: Final[dict[str, str]] = _spellings()

_TYPESET: Final = str.maketrans({"*": "·", "⋅": "·", "∙": "·", "•": "·", "μ": "µ", "º": "°", "˚": "°"})


def _typeset(written: str) -> str:
    """A unit as printers set it: raised powers, a dot between factors, the signs of micro and degree for others that look like them.

    >>> _typeset("N/mm^2"), _typeset("kgf*m"), _typeset("cm2")
    ('N/mm²', 'kgf·m', 'cm²')
    """
    raised = re.sub(r"(?<=[a-z])(?:\*\*|\^)?([23])(?![0-9])", lambda found: "²³"[int(found[1]) - 2], written)
    return raised.translate(_TYPESET)


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
    """The kind whose list holds `unit` as written, or None; of several the one that is shown in it, else the first.

    >>> kind_of_unit("cc").name
    'volume'
    """
    holding = [kind for kind in KINDS.values() if unit in kind.units]
    return next((kind for kind in holding if kind.shown == unit), holding[0] if holding else None)


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit of a value, both in the unit the value was stated in."""

    low: float
    high: float
