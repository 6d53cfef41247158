"""The one pint registry, what a part keeps of a value, and the doors through which values come in."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pint
from pydantic_core import core_schema

from topend.units.grammar import LONGEST, read
from topend.units.kinds import NUMBER, UNITS, ZEROS, Kind, Limits, kind_of_unit, to_si
from topend.units.mistakes import StatedValueError, needs, number_text, unknown_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pydantic import GetCoreSchemaHandler

__all__ = ["Quantity", "StatedQuantity", "figure_example", "figure_si", "parse", "quantity", "registry", "stated", "stated_column"]

registry: Final[pint.UnitRegistry[Any]] = pint.UnitRegistry(cache_folder=None)
registry.formatter.default_format = "~P"

if TYPE_CHECKING:
    Quantity = pint.Quantity[Any]
else:
    Quantity = registry.Quantity
    Quantity.__doc__ = """A quantity of topend's own registry, as results are: ``te.Quantity(44.0, "mm")``, or of an array.

    A part takes one where it takes text; `m_as` gives the number in a unit. It is pint's, whose pages tell the rest. Raises pint's
    `DimensionalityError` where the units do not go together.

    >>> import topend as te
    >>> te.Crank(stroke=te.Quantity(44.0, "mm")).stroke.m_as("cm")
    4.4
    """


def _pint_units() -> dict[str, Any]:
    made: dict[str, Any] = {}
    for text, (name, multiplier, divisor) in UNITS.items():
        unit = registry.Unit(name)
        made[text] = unit
        # the table above is ours for exactness; pint must agree with it
        base = float(registry.Quantity(1.0, unit).to_base_units().magnitude)
        if not math.isclose(base, multiplier / divisor + ZEROS.get(text, 0.0), rel_tol=1e-12):  # pragma: no cover - a guard on the table
            raise AssertionError(f"unit table disagrees with pint on {text}")
    return made


_PINT_UNITS: Final[dict[str, Any]] = _pint_units()
# pint would work it out on first use and keep it in the quantity, which a stated quantity refuses
_DIMENSIONS: Final[dict[str, Any]] = {text: registry.get_dimensionality(unit) for text, unit in _PINT_UNITS.items()}
# by pint's own container, so that a quantity of the registry is recognised by the name of its unit
_TEXT_OF_UNIT: Final[dict[Any, str]] = {unit._units: text for text, unit in reversed(list(_PINT_UNITS.items()))}


def quantity(value: float, unit: str) -> Quantity:
    """A plain pint quantity of `value` in one of our written units.

    >>> print(quantity(0.95, "mm"))
    0.95 mm
    """
    return registry.Quantity(value, _PINT_UNITS[unit])


class StatedQuantity(Quantity):
    """A pint quantity as somebody stated it, with its limits; what a part gives back.

    `limits` is a pair of plain quantities (low, high) or None, `u` the standard uncertainty of a rectangular
    distribution over them, half-width/√3 (JCGM 100:2008, 4.3.7), or None. Arithmetic and conversion give plain
    quantities without limits; methods that would change it in place refuse; equality counts the limits.

    >>> from topend.units import KINDS, parse
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
        return registry.Quantity(half, "delta_degC") if self.stated_unit in ZEROS else quantity(half, self.stated_unit)

    @property
    def text(self) -> str:
        """As it may be written in a file: `parse` of it gives an equal quantity.

        >>> from topend.units import KINDS, parse
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


def parse(text: str, kind: Kind) -> StatedQuantity:
    """The quantity of `kind` that `text` states, with its limits.

    Parameters: `text` is a number, white space, one of `kind.units`, and perhaps limits: ``± a unit``, ``+/- a unit``
    or ``+a/-b unit`` (the unit of the limits may be left out). A length in mm may have its limits by ISO 286 instead, as a hole
    (``H7``) or a shaft (``g6``); its value then is the middle of the zone, since the nominal size may lie outside. Raises
    `StatedValueError` with what came, what is allowed and what to do.

    >>> from topend.units import KINDS, parse
    >>> parse("0.0125 in", KINDS["length"]).to("mm").magnitude
    0.3175
    >>> parse("47 mm g6", KINDS["length"]).text
    '46.983 mm ± 0.008 mm'
    >>> parse("54,0 mm", KINDS["length"])  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    topend.units.mistakes.StatedValueError: needs a length, such as "54.0 mm"; got '54,0 mm'. Decimals are written with a point, ...
    """
    return StatedQuantity._state(*read(text, kind))


def _with_dash(value: object) -> object:
    """A plain number, or a text of one with its limits, with the dash that stands for no unit; all else as it is."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return f"{number_text(value)} –"
    if isinstance(value, str) and len(value) <= LONGEST and (found := re.match(rf"\s*{NUMBER}(?=\s*$|\s*[±+])", value)):
        return f"{found.group()} –{value[found.end() :]}"
    return value


def stated(value: object, kind: Kind) -> StatedQuantity:
    """`value` as a stated quantity of `kind`: text by our grammar, or a pint quantity of `registry`; a ratio is a plain number.

    >>> from topend.units import KINDS, stated
    >>> stated("0.12 ± 0.02", KINDS["ratio"]).limits is not None, stated(4.75, KINDS["ratio"]).text
    (True, '4.75 –')
    """
    if kind.name == "ratio":
        value = _with_dash(value)
    if type(value) is str:
        return parse(value, kind)
    if isinstance(value, StatedQuantity):
        if value.stated_unit not in kind.units:
            raise unknown_unit(value.stated_unit, str(value.magnitude), kind, repr(value.text))
        return value
    if isinstance(value, Quantity):  # type: ignore[misc]  # an alias with its parameter to mypy, a class at run time
        return _from_pint(value, kind)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, bool):
        raise needs(kind, f"{value!r}")
    if isinstance(value, (int, float)):
        number = number_text(value)
        finite = isinstance(value, int) or math.isfinite(value)
        raise needs(kind, f"the bare number {number}", number=number if finite else None)
    if isinstance(value, pint.Quantity):
        raise needs(kind, f"{value}, a quantity of another registry", hint="Make it with topend.units.registry.")
    if isinstance(value, list | tuple):
        raise needs(kind, f"a list, {str(value)[:40]}", hint="One value goes here, without brackets.")
    if isinstance(value, dict):
        raise needs(kind, f"a table, {str(value)[:40]}", hint="A value is one text, of number and unit.")
    raise needs(kind, f"{type(value).__name__} {str(value)[:40]!r}")


#: A figure of an output as it may be wanted, and a tolerance for it, by the unit it is shown in.
_FIGURES: Final = {"mm": ("0.90", "0.08"), "cc": ("6.4", "0.2"), "deg": ("188", "2"), "m/s": ("18", "1"), "–": ("12.5", "0.4")}


def figure_example(unit: str) -> tuple[str, str]:
    """How a figure of an output shown in `unit` is written, and a tolerance for it, for messages.

    >>> figure_example("mm"), figure_example("–")
    (('"0.90 mm"', '"0.08 mm"'), ('12.5', '0.4'))
    """
    value, tolerance = _FIGURES.get(unit, ("1", "0.1"))
    return (value, tolerance) if unit == "–" else (f'"{value} {unit}"', f'"{tolerance} {unit}"')


def figure_si(given: object, unit: str) -> float:
    """SI value of a figure of an output shown in `unit`: a plain number for a ratio, else text or a quantity of its kind.

    Raises `StatedValueError`, whose message follows the figure's name.

    >>> figure_si("0.9 mm", "mm"), figure_si(12.5, "–")
    (0.0009, 12.5)
    >>> figure_si("12.5", "–")
    Traceback (most recent call last):
    topend.units.mistakes.StatedValueError: must be a plain number, such as 12.5; got '12.5'
    >>> figure_si("high", "deg")
    Traceback (most recent call last):
    topend.units.mistakes.StatedValueError: needs an angle, such as "188 deg"; got 'high'. Units: deg, °, rad
    """
    kind = kind_of_unit(unit)
    assert kind is not None  # every unit of the outputs table has one; a test holds that
    if kind.name != "ratio":
        try:
            return stated(given, kind).si
        except StatedValueError as error:
            raise StatedValueError(error.with_example(figure_example(unit)[0].strip('"'))) from None
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
        raise needs(kind, f"{value}; {str(value.units)!r} is not one of its units")
    if unit not in kind.units:
        raise unknown_unit(unit, str(value.magnitude), kind, f"{value}")
    magnitude = value.m
    if isinstance(magnitude, np.ndarray) and magnitude.ndim:
        raise needs(kind, f"an array of shape {magnitude.shape}", hint="A part holds one value; a Study takes arrays.")
    try:
        number = float(magnitude)
    except TypeError:
        raise needs(kind, f"{value}") from None
    if not math.isfinite(number):
        raise needs(kind, f"{value}, which is not a finite number")
    return StatedQuantity._state(number, unit, None, None)


def stated_column(values: Any, kind: Kind) -> tuple[NDArray[np.float64], str]:
    """Many values of `kind` and the one unit they are all stated in: an array quantity of `registry`, or a list.

    Items of a list are as in `stated`, without limits. An array is copied, unless it is read-only and owns its memory. Raises
    `StatedValueError`; a value in the list is named by its place.

    >>> from topend.units import KINDS, stated_column
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
            raise StatedValueError(f"value {place} {error}", example=error.example) from None
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
        raise needs(kind, f"values in {str(values.units)!r}, which is not one of its units")
    try:
        given = np.asarray(values.m)
        # an array that nobody can change any more need not be copied
        kept = given.dtype == np.float64 and given.flags.owndata and not given.flags.writeable
        made = given if kept else np.array(given, dtype=np.float64)
    except (TypeError, ValueError):
        raise needs(kind, f"values of {type(values.m).__name__}") from None
    if made.ndim != 1:
        raise StatedValueError(f"needs values in one row; got an array of shape {made.shape}")
    if not np.isfinite(made).all():
        raise StatedValueError(f"needs finite numbers; value {int(np.argmin(np.isfinite(made)))} is not one")
    return made, unit
