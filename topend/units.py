"""Units at the door: the one pint registry, the grammar of a written quantity, and the field types of parts.

Users' text never reaches pint's parser, which reads ``"54,0 mm"`` as 540 mm. Our grammar is a number, a space and one
unit from the list of that field, with limits after ``±``::

    "47.6 mm"     "0.50 mm ± 0.03 mm"     "0.50 mm +0.02/-0.00 mm"     "0.50 mm +/- 0.03 mm"     "47.6 mm H7"

Angles may be degrees and minutes, "88 deg 30 min", which are not decimals of a degree.

A quantity kept in a part is a `StatedQuantity`: it knows its limits, it cannot be changed in place, and arithmetic with
it gives plain pint quantities. Kernels see SI floats only; `to_si` and `from_si` are the only ways across.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal, overload

import numpy as np
import pint
from pydantic_core import core_schema

from topend.iso_286 import FitCodeError, deviations

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler

__all__ = [
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
    "figure_si",
    "from_si",
    "kind_of_unit",
    "parse",
    "put_from_si",
    "quantity",
    "registry",
    "stated_column",
    "to_si",
]

registry: Final[pint.UnitRegistry[Any]] = pint.UnitRegistry(cache_folder=None)
registry.formatter.default_format = "~P"

if TYPE_CHECKING:
    Quantity = pint.Quantity[Any]
else:
    Quantity = registry.Quantity


# --- kinds -----------------------------------------------------------------------------------------------------------


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
_UNITS: Final[dict[str, tuple[str, float, float]]] = {
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
_ZEROS: Final[dict[str, float]] = {"degC": 273.15, "°C": 273.15}

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


def _pint_units() -> dict[str, Any]:
    made: dict[str, Any] = {}
    for text, (name, multiplier, divisor) in _UNITS.items():
        unit = registry.Unit(name)
        made[text] = unit
        # the table above is ours for exactness; pint must agree with it
        base = float(registry.Quantity(1.0, unit).to_base_units().magnitude)
        if not math.isclose(base, multiplier / divisor + _ZEROS.get(text, 0.0), rel_tol=1e-12):  # pragma: no cover - a guard on the table
            raise AssertionError(f"unit table disagrees with pint on {text}")
    return made


_PINT_UNITS: Final[dict[str, Any]] = _pint_units()
# pint would work it out on first use and keep it in the quantity, which a stated quantity refuses
_DIMENSIONS: Final[dict[str, Any]] = {text: registry.get_dimensionality(unit) for text, unit in _PINT_UNITS.items()}
# by pint's own container, so that a quantity of the registry is recognised by the name of its unit
_TEXT_OF_UNIT: Final[dict[Any, str]] = {unit._units: text for text, unit in reversed(list(_PINT_UNITS.items()))}


@overload
def to_si(value: float, unit: str) -> float: ...
@overload
def to_si(value: NDArray[np.float64], unit: str) -> NDArray[np.float64]: ...
def to_si(value: Any, unit: str) -> Any:
    """SI value of `value` [`unit`]; scalar and array go through the same two operations, so they agree to the bit.

    >>> to_si(47.6, "mm")
    0.0476
    """
    _, multiplier, divisor = _UNITS[unit]
    if unit in _ZEROS:
        return value + _ZEROS[unit]
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
    _, multiplier, divisor = _UNITS[unit]
    if unit in _ZEROS:
        return value - _ZEROS[unit]
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
    _, multiplier, divisor = _UNITS[unit]
    np.multiply(value, divisor, out=out)
    if multiplier != 1.0:
        np.divide(out, multiplier, out=out)


def quantity(value: float, unit: str) -> Quantity:
    """A plain pint quantity of `value` in one of our written units.

    >>> print(quantity(0.95, "mm"))
    0.95 mm
    """
    return registry.Quantity(value, _PINT_UNITS[unit])


def kind_of_unit(unit: str) -> Kind | None:
    """The kind whose list holds `unit` as written, or None.

    >>> kind_of_unit("cc").name
    'volume'
    """
    return next((kind for kind in KINDS.values() if unit in kind.units), None)


# --- a stated quantity -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit of a value, both in the unit the value was stated in."""

    low: float
    high: float


class StatedQuantity(Quantity):
    """A pint quantity as somebody stated it, with its limits; what a part gives back.

    `limits` is a pair of plain quantities (low, high) or None, `u` the standard uncertainty of a rectangular
    distribution over them, half-width/√3 (JCGM 100:2008, 4.3.7), or None. Arithmetic and conversion give plain
    quantities without limits; methods that would change it in place refuse; equality counts the limits.

    >>> gasket = parse("0.50 mm ± 0.03 mm", KINDS["length"])
    >>> gasket.limits
    (<Quantity(0.47, 'millimeter')>, <Quantity(0.53, 'millimeter')>)
    >>> str(gasket + gasket)
    '1.0 mm'
    """

    stated_unit: str
    stated_limits: Limits | None
    decimals: int | None
    #: the stated value in SI
    si: float

    def __new__(cls, value: Any, units: Any = None) -> Any:
        # pint's own methods build their results with self.__class__(magnitude, units): those are plain quantities
        return registry.Quantity(value, units)

    @classmethod
    def _state(cls, value: float, unit: str, limits: Limits | None, decimals: int | None) -> StatedQuantity:
        made: StatedQuantity = object.__new__(cls)
        made.__dict__.update(
            _magnitude=value,
            _units=_PINT_UNITS[unit]._units,
            _dimensionality=_DIMENSIONS[unit],
            stated_unit=unit,
            stated_limits=limits,
            decimals=decimals,
            si=to_si(value, unit),
        )
        return made

    def plain(self) -> Quantity:
        """The same quantity without its limits, free to be changed."""
        return registry.Quantity(self._magnitude, self._units)

    @property
    def si_limits(self) -> Limits | None:
        """The limits in SI, or None."""
        stated = self.stated_limits
        return stated and Limits(to_si(stated.low, self.stated_unit), to_si(stated.high, self.stated_unit))

    @property
    def si_resolution(self) -> float | None:
        """Half of the last written decimal in SI, or None where nothing was written (a float made by a program)."""
        return None if self.decimals is None else to_si(0.5 * 10.0**-self.decimals, self.stated_unit)

    @property
    def limits(self) -> tuple[Quantity, Quantity] | None:
        stated = self.stated_limits
        return None if stated is None else (quantity(stated.low, self.stated_unit), quantity(stated.high, self.stated_unit))

    @property
    def u(self) -> Quantity | None:  # type: ignore[override]  # pint's `u` is short for `units`; ours is the uncertainty
        stated = self.stated_limits
        if stated is None:
            return None
        half = (stated.high - stated.low) / 2 / math.sqrt(3)
        # a width on a temperature scale is in kelvins, not a temperature
        return registry.Quantity(half, "delta_degC") if self.stated_unit in _ZEROS else quantity(half, self.stated_unit)

    @property
    def text(self) -> str:
        """As it may be written in a file: `parse` of it gives an equal quantity.

        >>> parse("0.50 mm +0.02/-0.00 mm", KINDS["length"]).text
        '0.50 mm +0.02/-0 mm'
        """
        value, unit, stated = float(self._magnitude), self.stated_unit, self.stated_limits
        shown = f"{_digits(value, self.decimals)} {unit}"
        if stated is None:
            return shown
        up, down = _span(value, stated.high, 1.0), _span(value, stated.low, -1.0)
        if up == down:
            return f"{shown} ± {up} {unit}"
        return f"{shown} +{up}/-{down} {unit}"

    def to_reduced_units(self) -> Quantity:
        """As pint's, which would hand back this very quantity where there is nothing to reduce."""
        return self.plain().to_reduced_units()  # type: ignore[return-value]  # a Quantity, whatever pint's annotation says

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        """For a default in JSON Schema, which pydantic writes by the value's type alone; fields have `QuantityField`."""
        text = core_schema.plain_serializer_function_ser_schema(lambda value: value.text, return_schema=core_schema.str_schema())
        return core_schema.is_instance_schema(cls, serialization=text)

    def _refuse(self, *_: object, **__: object) -> Any:
        raise TypeError(f"{self.text} belongs to a part and cannot be changed in place; use .plain() for a copy of your own")

    ito = ito_root_units = ito_base_units = ito_reduced_units = ito_preferred = _refuse
    __iadd__ = __isub__ = __imul__ = __itruediv__ = __ifloordiv__ = __imod__ = __ipow__ = _refuse
    __setitem__ = __setattr__ = __delattr__ = _refuse

    def __copy__(self) -> StatedQuantity:
        return self

    def __deepcopy__(self, memo: Any) -> StatedQuantity:
        return self

    def __reduce__(self) -> Any:
        return _restate, (float(self._magnitude), self.stated_unit, self.stated_limits, self.decimals)

    def __eq__(self, other: object) -> Any:
        mine = self.si_limits
        theirs = other.si_limits if isinstance(other, StatedQuantity) else None
        if mine != theirs:
            return False
        return self.plain() == (other.plain() if isinstance(other, StatedQuantity) else other)

    def __ne__(self, other: object) -> Any:
        return not self == other

    def __hash__(self) -> int:
        known: int | None = self.__dict__.get("_hash")
        if known is None:
            known = self.__dict__["_hash"] = hash(self.plain())
        return known

    def __repr__(self) -> str:
        return f"<Quantity({self.text})>"


def _restate(value: float, unit: str, limits: Limits | None, decimals: int | None) -> StatedQuantity:
    return StatedQuantity._state(value, unit, limits, decimals)


#: More than anybody writes; beyond it a number is written with an exponent, so that a text can always be read back.
_MOST_DECIMALS: Final = 20


def _digits(value: float, decimals: int | None) -> str:
    if decimals is not None and decimals <= _MOST_DECIMALS:
        text = f"{value:.{decimals}f}"
        if float(text) == value and len(text) <= 2 * _MOST_DECIMALS:
            return text
    text = repr(value)
    return text[:-2] if text.endswith(".0") else text


def _span(value: float, end: float, sign: float) -> str:
    """The shortest decimal that leads from `value` to `end` as floats add, so that limits survive text and back."""
    width = abs(end - value)
    text = repr(width)
    for digits in range(1, 18):
        text = f"{width:.{digits}g}"
        if value + sign * float(text) == end:
            break
    return _digits(float(text), None)


# --- the grammar -----------------------------------------------------------------------------------------------------


class StatedValueError(ValueError):
    """A value that is not what its field needs; the message follows the field's name.

    `example` is what the message shows of the kind at large, if it shows nothing closer to what came; who knows the field may
    show one that fits it.
    """

    def __init__(self, message: str, *, example: str | None = None) -> None:
        super().__init__(message)
        self.example = example


# 0-9 and not \d, which takes the digits of every script
_SPAN = r"(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_NUMBER = rf"[+-]?{_SPAN}"
# "in" and "°" are units too, so a unit is whatever is not a space or a limit sign
_PATTERN = re.compile(
    rf"\s*(?P<value>{_NUMBER})\s+(?P<unit>[^\s±+0-9][^\s±+]*)"
    rf"(?:\s*(?:±|\+/-)\s*(?P<both>{_SPAN})(?:\s+(?P<both_unit>[^\s±+]+))?"
    rf"|\s*\+\s*(?P<up>{_SPAN})\s*/\s*[-−]\s*(?P<down>{_SPAN})(?:\s+(?P<pair_unit>[^\s±+]+))?)?\s*",
)
# degrees and minutes, the second never with a sign; limits may be in either
_MINUTES = re.compile(
    rf"\s*(?P<sign>[+-]?)(?P<degrees>[0-9]{{1,4}})\s*(?:deg|°)\s*(?P<minutes>[0-9]{{1,2}}(?:\.[0-9]+)?)\s*(?:min|'|′)"
    rf"(?:\s*(?:±|\+/-)\s*(?P<both>{_SPAN})\s*(?P<unit>min|'|′|deg|°))?\s*",
)
# a nominal size and its fit by ISO 286
_FITTED = re.compile(rf"\s*(?P<value>\+?{_SPAN})\s+mm\s+(?P<code>[A-Za-z]{{1,2}}[0-9]{{1,2}})\s*")
#: What JSON Schema can say of it; the parser says more.
JSON_PATTERN = rf"^\s*{_NUMBER}\s+\S+(\s*(±|\+/-|\+|[A-Za-z]+[0-9]).*)?$"
_LONGEST = 200


def _number_text(value: object) -> str:
    return repr(value) if not isinstance(value, float) else f"{value:.12g}"


def _example(kind: Kind, number: str | None = None) -> str:
    shown = kind.units[0]
    usual = {
        "length": "47.6",
        "volume": "6.4",
        "angle": "9",
        "crank speed": "11500",
        "mass": "9.97",
        "temperature": "20",
        "air pressure": "1013",
        "area": "120",
        "pressure": "40",
        "modulus": "207",
        "strength": "640",
        "force": "12",
        "torque": "12",
        "density": "7850",
        "stiffness": "200",
        "compliance": "5",
        "share": "50",
        "temperature in kelvin": "90",
        "expansion": "19.4",
        "count": "16",
    }
    return f'"{number or usual.get(kind.name, "1")} {shown}"'


def _needs(kind: Kind, got: str, *, number: str | None = None, hint: str = "") -> StatedValueError:
    units = ", ".join(kind.units)
    more = f" {hint}" if hint else ""
    example = _example(kind, number)
    message = f"needs {kind.phrase}, such as {example}; got {got}.{more} Units: {units}"
    return StatedValueError(message, example=example if number is None else None)


def _diagnose(text: str, kind: Kind) -> StatedValueError:
    """Why `text` is no quantity of this kind, in the words of somebody who has seen that mistake before."""
    stripped = text.strip()
    got = f"{text!r}" if len(text) <= 60 else f"{text[:57]!r}..."
    if not stripped:
        return _needs(kind, "an empty text")
    if re.search(r"\d,\d", stripped):
        if kind.name == "crank speed" and (thousands := re.match(r"\d{1,3}(,\d{3})+(?!\d)", stripped)):
            # a point in its place would be read as a thousandth of the speed
            return _needs(kind, got, number=thousands.group().replace(",", ""), hint="Thousands are written without a comma.")
        first = re.match(r"[+-]?\d+,\d+", stripped)
        number = first.group().replace(",", ".") if first else None
        return _needs(kind, got, number=number, hint="Decimals are written with a point, not a comma.")
    if re.fullmatch(_NUMBER, stripped):
        return _needs(kind, f"{got}, a number without a unit", number=stripped)
    if kind.name == "angle" and re.match(rf"{_NUMBER}\s*(deg|°|:)\s*[0-9]", stripped):
        return _needs(kind, got, hint='Degrees and minutes are written "88 deg 30 min", minutes under 60; 88.30 deg is 88 deg 18 min.')
    other = _range_or_fraction(stripped, kind, got)
    if other is not None:
        return other
    if re.match(r"[+-]?(nan|inf)", stripped, re.IGNORECASE):
        return _needs(kind, f"{got}, which is not a finite number")
    glued = re.fullmatch(rf"(?P<value>{_NUMBER})(?P<unit>[^\s\d.][^\s]*)", stripped)
    if glued and glued["unit"] in kind.units:
        return _needs(kind, got, number=glued["value"], hint="A space goes between number and unit.")
    found = re.match(rf"\s*(?P<value>{_NUMBER})\s*(?P<unit>[^\s±+]+)", text)
    if found:
        unit = found["unit"]
        if unit in kind.units:
            return _needs(
                kind,
                got,
                hint='Limits follow as "± 0.03 mm" or "+0.02/-0.00 mm".'
                if kind.name == "length"
                else f'Limits follow as "± 0.1 {kind.shown}" or "+0.1/-0 {kind.shown}".',
            )
        return _unknown_unit(unit, found["value"], kind, got)
    return _needs(kind, got)


#: From one number to another: "0.4-0.5 mm", "0.4 mm to 0.5 mm".
_RANGE = re.compile(
    rf"(?P<low>{_SPAN})\s*(?P<unit>[^\s\d.±+-]\S*)?\s*(?:-|–|—|−|\.\.+|…|to)\s*(?P<high>{_SPAN})\s*(?P<last>[^\s\d.±+-]\S*)?"
)
_FRACTION = re.compile(r"(?:(?P<whole>[0-9]{1,4})(?:\s+|-))?(?P<over>[0-9]{1,4})\s*/\s*(?P<under>[0-9]{1,4})\s*(?P<unit>[^\s\d]\S*)?")


def _range_or_fraction(stripped: str, kind: Kind, got: str) -> StatedValueError | None:
    """Two ways to write a size that are common on drawings and mean more than one thing, or None where it is neither."""
    # a fraction first: "1-1/2 in" is one
    found = _FRACTION.fullmatch(stripped)
    if found and int(found["under"]) and found["unit"] in (None, *kind.units):
        value = int(found["whole"] or 0) + int(found["over"]) / int(found["under"])
        unit = found["unit"] or kind.shown
        # the decimal is given whole: 1/64 in has six of them
        number = f"{value:.6f}".rstrip("0").rstrip(".")
        return _instead(kind, f"{number} {unit}", got, "Fractions are written as decimals.")
    found = _RANGE.fullmatch(stripped)
    if found and float(found["high"]) > float(found["low"]) and {found["unit"], found["last"]} <= {None, *kind.units}:
        low, high = float(found["low"]), float(found["high"])
        unit = found["last"] or found["unit"] or kind.shown
        middle, half = (f"{one:.6g}" for one in ((low + high) / 2.0, (high - low) / 2.0))
        return _instead(kind, f"{middle} {unit} ± {half} {unit}", got, "A range is written as its middle and its limits.")
    return None


def _instead(kind: Kind, example: str, got: str, hint: str) -> StatedValueError:
    return StatedValueError(f'needs {kind.phrase}, such as "{example}"; got {got}. {hint} Units: {", ".join(kind.units)}')


def _unknown_unit(unit: str, number: str, kind: Kind, got: str) -> StatedValueError:
    other = kind_of_unit(unit)
    if other is not None:
        return _needs(kind, f"{got}, which is {other.phrase}")
    same = [known for known in kind.units if known.lower() == unit.lower()]
    if same:
        return _needs(kind, got, number=number, hint=f"The unit is written {same[0]!r}; capitals count.")
    return _needs(kind, f"{got}; {unit!r} is not one of its units")


def parse(text: str, kind: Kind) -> StatedQuantity:
    """The quantity of `kind` that `text` states, with its limits.

    Parameters: `text` is a number, white space, one of `kind.units`, and perhaps limits: ``± a unit``, ``+/- a unit``
    or ``+a/-b unit`` (the unit of the limits may be left out). A length in mm may have its limits by ISO 286 instead, as a hole
    (``H7``) or a shaft (``g6``); its value then is the middle of the zone, since the nominal size may lie outside. Raises
    `StatedValueError` with what came, what is allowed and what to do.

    >>> parse("0.0125 in", KINDS["length"]).to("mm").magnitude
    0.3175
    >>> parse("47 mm g6", KINDS["length"]).text
    '46.983 mm ± 0.008 mm'
    >>> parse("54,0 mm", KINDS["length"])  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    topend.units.StatedValueError: needs a length, such as "54.0 mm"; got '54,0 mm'. Decimals are written with a point, ...
    """
    found = _PATTERN.fullmatch(text) if len(text) <= _LONGEST else None
    if found is None and kind.name == "angle":
        made = _degrees_and_minutes(text)
        if made is not None:
            return made
    if found is None and kind.name == "length":
        made = _fitted(text)
        if made is not None:
            return made
    if found is None:
        raise _diagnose(text[:_LONGEST], kind)
    number, unit = found["value"], found["unit"]
    if unit not in kind.units:
        raise _unknown_unit(unit, number, kind, repr(text))
    value = float(number)
    if not math.isfinite(value):
        raise _needs(kind, f"{text!r}, which is not a finite number")
    limits = None
    if found["both"] is not None:
        span = _span_in(found["both"], found["both_unit"], unit, kind, text)
        limits = Limits(value - span, value + span)
    elif found["up"] is not None:
        up = _span_in(found["up"], found["pair_unit"], unit, kind, text)
        down = _span_in(found["down"], found["pair_unit"], unit, kind, text)
        limits = Limits(value - down, value + up)
    return StatedQuantity._state(value, unit, limits, _decimals(number))


def _degrees_and_minutes(text: str) -> StatedQuantity | None:
    """``"88 deg 30 min ± 15 min"`` in degrees, or None where it is no such text."""
    found = _MINUTES.fullmatch(text) if len(text) <= _LONGEST else None
    if found is None or float(found["minutes"]) >= 60.0:
        return None
    value = int(found["degrees"]) + float(found["minutes"]) / 60.0
    value = -value if found["sign"] == "-" else value
    limits = None
    if found["both"] is not None:
        span = float(found["both"]) / (1.0 if found["unit"] in ("deg", "°") else 60.0)
        limits = Limits(value - span, value + span)
    # half a minute is 0.008 deg, so two decimals of a degree hold all that was written
    return StatedQuantity._state(value, "deg", limits, 2)


def _fitted(text: str) -> StatedQuantity | None:
    """``"47.6 mm H7"`` as the middle of its zone with its limits, or None where it is no such text."""
    found = _FITTED.fullmatch(text) if len(text) <= _LONGEST else None
    if found is None:
        return None
    nominal = float(found["value"])
    try:
        low, high = deviations(nominal, found["code"])
    except FitCodeError as error:
        raise StatedValueError(f'needs a length, such as "47.6 mm H7"; got {text!r}: {error}') from None
    # tolerances are whole or half micrometres: more digits are those of the nominal size
    places = max(5, _decimals(found["value"]))
    value, span = round(nominal + (low + high) / 2e3, places), (high - low) / 2e3
    return StatedQuantity._state(value, "mm", Limits(value - span, value + span), None)


def _decimals(number: str) -> int:
    mantissa, _, exponent = number.lower().partition("e")
    _, _, fraction = mantissa.partition(".")
    return max(0, len(fraction) - int(exponent or 0))


def _span_in(number: str, written: str | None, unit: str, kind: Kind, text: str) -> float:
    if written is not None and written not in kind.units:
        raise _unknown_unit(written, number, kind, repr(text))
    span = float(number)
    if not math.isfinite(span):
        raise _needs(kind, f"{text!r}, whose limits are not finite")
    # on a scale with another zero a width is as wide in either spelling
    return span if written in (None, unit) or unit in _ZEROS else from_si(to_si(span, written), unit)


def _with_dash(value: object) -> object:
    """A plain number, or a text of one with its limits, with the dash that stands for no unit; all else as it is."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{_number_text(value)} –"
    if isinstance(value, str) and (found := re.match(rf"\s*{_NUMBER}(?=\s*$|\s*[±+])", value)):
        return f"{found.group()} –{value[found.end() :]}"
    return value


def stated(value: object, kind: Kind) -> StatedQuantity:
    """`value` as a stated quantity of `kind`: text by our grammar, or a pint quantity of `registry`; a ratio is a plain number.

    >>> stated("0.12 ± 0.02", KINDS["ratio"]).limits is not None, stated(4.75, KINDS["ratio"]).text
    (True, '4.75 –')
    """
    if kind.name == "ratio":
        value = _with_dash(value)
    if type(value) is str:
        return parse(value, kind)
    if isinstance(value, StatedQuantity):
        if value.stated_unit not in kind.units:
            raise _unknown_unit(value.stated_unit, str(value.magnitude), kind, repr(value.text))
        return value
    if isinstance(value, Quantity):  # type: ignore[misc]  # an alias with its parameter to mypy, a class at run time
        return _from_pint(value, kind)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, bool):
        raise _needs(kind, f"{value!r}")
    if isinstance(value, (int, float)):
        number = _number_text(value)
        finite = isinstance(value, int) or math.isfinite(value)
        raise _needs(kind, f"the bare number {number}", number=number if finite else None)
    if isinstance(value, pint.Quantity):
        raise _needs(kind, f"{value}, a quantity of another registry", hint="Make it with topend.units.registry.")
    raise _needs(kind, f"{type(value).__name__} {str(value)[:40]!r}")


def figure_si(given: object, unit: str) -> float:
    """SI value of a figure of an output shown in `unit`: a plain number for a ratio, else text or a quantity of its kind.

    Raises `StatedValueError`, whose message follows the figure's name.

    >>> figure_si("0.9 mm", "mm"), figure_si(12.5, "–")
    (0.0009, 12.5)
    >>> figure_si("12.5", "–")
    Traceback (most recent call last):
    topend.units.StatedValueError: must be a plain number, such as 12.5; got '12.5'
    """
    kind = kind_of_unit(unit)
    assert kind is not None  # every unit of the outputs table has one; a test holds that
    if kind.name != "ratio":
        return stated(given, kind).si
    # NaN, infinities and whole numbers beyond any float are outside
    if isinstance(given, bool) or not isinstance(given, (int, float)) or not -1e300 < given < 1e300:
        raise StatedValueError(f"must be a plain number, such as 12.5; got {given!r}")
    return float(given)


def _from_pint(value: Any, kind: Kind) -> StatedQuantity:
    # the unit's name counts, not only its dimension: percent would convert to degrees and hertz to rpm
    unit = _TEXT_OF_UNIT.get(value._units)
    if unit == "pcs" and kind.name == "ratio":
        # to pint both are without a unit
        unit = kind.shown
    if unit is None:
        raise _needs(kind, f"{value}; {str(value.units)!r} is not one of its units")
    if unit not in kind.units:
        raise _unknown_unit(unit, str(value.magnitude), kind, f"{value}")
    magnitude = value.m
    if isinstance(magnitude, np.ndarray) and magnitude.ndim:
        raise _needs(kind, f"an array of shape {magnitude.shape}", hint="A part holds one value; a Study takes arrays.")
    try:
        number = float(magnitude)
    except TypeError:
        raise _needs(kind, f"{value}") from None
    if not math.isfinite(number):
        raise _needs(kind, f"{value}, which is not a finite number")
    return StatedQuantity._state(number, unit, None, None)


def stated_column(values: Any, kind: Kind) -> tuple[NDArray[np.float64], str]:
    """Many values of `kind` and the one unit they are all stated in: an array quantity of `registry`, or a list.

    Items of a list are as in `stated`, without limits. An array is copied, unless it is read-only and owns its memory. Raises
    `StatedValueError`; a value in the list is named by its place.

    >>> stated_column(["0.5 mm", "0.6 mm"], KINDS["length"])
    (array([0.5, 0.6]), 'mm')
    """
    if isinstance(values, Quantity) and not isinstance(values, StatedQuantity):  # type: ignore[misc]  # a class at run time
        return _array_from_pint(values, kind)
    if kind.name == "ratio" and isinstance(values, np.ndarray) and values.dtype != object:
        return _array_from_pint(registry.Quantity(values, "dimensionless"), kind)
    if isinstance(values, np.ndarray) and values.dtype != object:
        raise StatedValueError(
            f"needs {kind.phrase} each; got an array of bare numbers. Give it its unit: topend.Quantity(array, {kind.shown!r})"
        )
    if isinstance(values, (str, StatedQuantity)) or not isinstance(values, Iterable):
        raise StatedValueError(f"needs several values, as a list or an array quantity; got {str(values)[:60]!r}")
    made: list[float] = []
    unit: str | None = None
    for place, value in enumerate(values):
        try:
            one = stated(value, kind)
        except StatedValueError as error:
            raise StatedValueError(f"value {place} {error}") from None
        if one.stated_limits is not None:
            raise StatedValueError(f"value {place} is {one.text!r}; values that are set have no limits, only values that were measured")
        if unit not in (None, one.stated_unit):
            raise StatedValueError(f"value {place} is in {one.stated_unit}, those before it in {unit}; write all in one unit")
        unit = one.stated_unit
        made.append(float(one._magnitude))
    return np.array(made, dtype=np.float64), unit or kind.shown


def _array_from_pint(values: Any, kind: Kind) -> tuple[NDArray[np.float64], str]:
    unit = _TEXT_OF_UNIT.get(values._units)
    if unit == "pcs" and kind.name == "ratio":
        unit = kind.shown
    if unit is None or unit not in kind.units:
        raise _needs(kind, f"values in {str(values.units)!r}, which is not one of its units")
    try:
        given = np.asarray(values.m)
        # an array that nobody can change any more need not be copied
        kept = given.dtype == np.float64 and given.flags.owndata and not given.flags.writeable
        made = given if kept else np.array(given, dtype=np.float64)
    except (TypeError, ValueError):
        raise _needs(kind, f"values of {type(values.m).__name__}") from None
    if made.ndim != 1:
        raise StatedValueError(f"needs values in one row; got an array of shape {made.shape}")
    if not np.isfinite(made).all():
        raise StatedValueError(f"needs finite numbers; value {int(np.argmin(np.isfinite(made)))} is not one")
    return made, unit


#: Words that stand in place of a quantity, as they are also spelt.
_WORDS_ELSEWHERE = {"center": "centre"}

# --- field types for parts -------------------------------------------------------------------------------------------


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
                near = _WORDS_ELSEWHERE.get(str(value).strip().lower())
                if near in self.words:
                    # the same word as another country spells it
                    raise StatedValueError(f"must be {', '.join(self.words)}, or a {self.kind}; got {value!r}; nearest: {near}") from None
                told = f"must be {', '.join(self.words)}, or a {self.kind}; {error}"
                raise StatedValueError(told, example=error.example) from None
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
            "examples": [_example(kind).strip('"')],
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
