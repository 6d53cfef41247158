"""The grammar of a written quantity: a number, a space and one unit of its kind, perhaps with limits.

Other spellings of the same are read by being put into this form first, and only where it was not met as written.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Final, NamedTuple

from topend.iso_286 import FitCodeError, deviations
from topend.units.kinds import NUMBER, SPAN, SPELLINGS, ZEROS, Kind, Limits, from_si, to_si
from topend.units.mistakes import FRACTION, StatedValueError, diagnose, diagnose_limits, fraction_of, needs

__all__ = ["JSON_PATTERN", "Written", "read"]

# "in" and "°" are units too, so a unit is whatever is not a space or a limit sign
_PATTERN: Final = re.compile(
    rf"\s*(?P<value>{NUMBER})\s+(?P<unit>[^\s±+0-9][^\s±+]*)"
    rf"(?:\s*(?:±|\+/-)\s*(?P<both>{SPAN})(?:\s+(?P<both_unit>[^\s±+]+))?"
    rf"|\s*\+\s*(?P<up>{SPAN})\s*/\s*[-−]\s*(?P<down>{SPAN})(?:\s+(?P<pair_unit>[^\s±+]+))?)?\s*",
)
# degrees and minutes, the second never with a sign; limits may be in either
_MINUTES: Final = re.compile(
    rf"\s*(?P<sign>[+−-]?)(?P<degrees>[0-9]{{1,4}})\s*(?:deg|°)\s*(?P<minutes>[0-9]{{1,2}}(?:\.[0-9]+)?)\s*(?:min|'|′)"
    rf"(?:\s*(?:±|\+/-)\s*(?P<both>{SPAN})\s*(?P<unit>min|'|′|deg|°))?\s*",
)
# a nominal size and its fit by ISO 286
_FITTED: Final = re.compile(rf"\s*(?P<value>\+?{SPAN})\s+mm\s+(?P<code>[A-Za-z]{{1,2}}[0-9]{{1,2}})\s*")
# spellings that hold a space or begin with a digit or a stroke, the longest first
_AWKWARD: Final = re.compile(
    rf"(?<=\s)(?:{'|'.join(re.escape(one) for one in sorted(SPELLINGS, key=len, reverse=True) if re.search(r'^[0-9/]| ', one))})(?![^\s±+])"
)
_SIGN_OF_DEGREES: Final = re.compile(rf"(?<![^\s±])({NUMBER})°(?![^\s±+])")
#: What JSON Schema can say of it; the parser says more.
JSON_PATTERN: Final = (
    rf"^\s*[+−-]?(?:{SPAN}(?:\s+\S+(?: [A-Za-z]+)?|°)|(?:{FRACTION}|[0-9]*\s?[¼½¾⅛⅜⅝⅞])\s+in\S*)"
    r"(\s*(±|\+/-|\+|[A-Za-z]+[0-9]|[0-9]).*)?\s*$"
)
LONGEST: Final = 200


class Written(NamedTuple):
    """What a text states: a value and its limits in one unit, and how many decimals were written (None: not as decimals)."""

    value: float
    unit: str
    limits: Limits | None
    decimals: int | None


def read(text: str, kind: Kind) -> Written:
    """What `text` states as a value of `kind`; `StatedValueError` where it states none.

    >>> from topend.units.kinds import KINDS
    >>> read("0.50 mm ± 0.03 mm", KINDS["length"])
    Written(value=0.5, unit='mm', limits=Limits(low=0.47, high=0.53), decimals=2)
    """
    short = len(text) <= LONGEST
    found = _PATTERN.fullmatch(text) if short else None
    in_decimals = True
    if found is None and short:
        made = _degrees_and_minutes(text) if kind.name == "angle" else _fitted(text) if kind.name == "length" else None
        if made is not None:
            return made
        plain, in_decimals = _plainly(text, kind)
        found = _PATTERN.fullmatch(plain)
    if found is None:
        raise diagnose(text[:LONGEST], kind)
    number, unit, both, both_unit, up, down, pair_unit = found.groups()
    if unit not in kind.units:
        known = kind.unit(unit)
        if known is None:
            raise diagnose(text, kind)
        unit = known
    value = float(number)
    if not math.isfinite(value):
        raise needs(kind, f"{text!r}, which is not a finite number")
    limits = None
    if both is not None:
        span = _span_in(both, both_unit, unit, kind, text)
        limits = Limits(value - span, value + span)
    elif up is not None:
        limits = Limits(value - _span_in(down, pair_unit, unit, kind, text), value + _span_in(up, pair_unit, unit, kind, text))
    return Written(value, unit, limits, decimals_of(number) if in_decimals else None)


def _plainly(text: str, kind: Kind) -> tuple[str, bool]:
    """`text` with what is spelt otherwise put as the pattern has it, and whether its number was written in decimals."""
    plain = re.sub(r"^\s*−(?=[0-9.])", "-", text)
    plain = _AWKWARD.sub(lambda found: SPELLINGS[found.group()], plain)
    if kind.name == "angle":
        # printers set the sign of degrees close to its number (SI Brochure, 5.4.3)
        plain = _SIGN_OF_DEGREES.sub(r"\1 °", plain)
    # as printers set a fraction, in one sign
    plain = re.sub("[¼½¾⅛⅜⅝⅞]", lambda found: f" {unicodedata.normalize('NFKC', found.group())}", plain)
    found = re.match(rf"\s*([+-]?)\s*({FRACTION})(?=\s+(\S+))", plain) if kind.name == "length" else None
    value = fraction_of(found[2]) if found and kind.unit(found[3]) == "in" else None
    if found is None or value is None:
        return plain, True
    return f"{found[1]}{value!r}{plain[found.end(2) :]}", False


def _degrees_and_minutes(text: str) -> Written | None:
    """``"88 deg 30 min ± 15 min"`` in degrees, or None where it is no such text."""
    found = _MINUTES.fullmatch(text) if len(text) <= LONGEST else None
    if found is None or float(found["minutes"]) >= 60.0:
        return None
    value = int(found["degrees"]) + float(found["minutes"]) / 60.0
    value = -value if found["sign"] in ("-", "−") else value
    limits = None
    if found["both"] is not None:
        span = float(found["both"]) / (1.0 if found["unit"] in ("deg", "°") else 60.0)
        limits = Limits(value - span, value + span)
    # half a minute is 0.008 deg, so two decimals of a degree hold all that was written
    return Written(value, "deg", limits, 2)


def _fitted(text: str) -> Written | None:
    """``"47.6 mm H7"`` as the middle of its zone with its limits, or None where it is no such text."""
    found = _FITTED.fullmatch(text) if len(text) <= LONGEST else None
    if found is None:
        return None
    nominal = float(found["value"])
    try:
        low, high = deviations(nominal, found["code"])
    except FitCodeError as error:
        raise StatedValueError(f'needs a length, such as "47.6 mm H7"; got {text!r}: {error}') from None
    # tolerances are whole or half micrometres: more digits are those of the nominal size
    places = max(5, decimals_of(found["value"]))
    value, span = round(nominal + (low + high) / 2e3, places), (high - low) / 2e3
    return Written(value, "mm", Limits(value - span, value + span), None)


def decimals_of(number: str) -> int:
    fraction = number.partition(".")[2]
    if fraction.isdigit():
        return len(fraction)
    mantissa, _, exponent = number.lower().partition("e")
    return max(0, len(mantissa.partition(".")[2]) - int(exponent or 0))


def _span_in(number: str, written: str | None, unit: str, kind: Kind, text: str) -> float:
    into = unit if written is None else kind.unit(written)
    if into is None:
        raise diagnose_limits(str(written), text, kind)
    span = float(number)
    if not math.isfinite(span):
        raise needs(kind, f"{text!r}, whose limits are not finite")
    # on a scale with another zero a width is as wide in either spelling
    return span if into == unit or unit in ZEROS else from_si(to_si(span, into), unit)
