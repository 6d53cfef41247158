"""Why a value is not what its field needs, in the words of somebody who has seen that mistake before."""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Final

from topend.units.kinds import KINDS, NUMBER, SPAN, SPELLINGS, Kind, kind_of_unit

__all__ = [
    "FRACTION",
    "StatedValueError",
    "diagnose",
    "diagnose_limits",
    "example_of",
    "fraction_of",
    "needs",
    "number_text",
    "unknown_unit",
]


class StatedValueError(ValueError):
    """A value that is not what its field needs; the message follows the field's name.

    `example` is what the message shows of the kind at large, if it shows nothing closer to what came; who knows the field may
    show one that fits it.
    """

    def __init__(self, message: str, *, example: str | None = None) -> None:
        super().__init__(message)
        self.example = example

    def with_example(self, fit: str) -> str:
        """The message, showing `fit` where it shows the usual value of the kind."""
        if self.example is None:
            return str(self)
        quoted = self.example.startswith('"')
        return str(self).replace(f"such as {self.example}", f'such as "{fit}"' if quoted else f"such as {fit}", 1)


#: A sign of limits on both sides, ours and what is typed for it.
_EITHER: Final = r"(?:±|\+\s*/\s*[-−]|\+[-−]|[-−]\s*/\s*\+|[-−]\+|plus/minus|plus or minus|\+ or -)"


def number_text(value: object) -> str:
    """A number as messages show it, without the noise of its last binary digits.

    >>> number_text(0.1 + 0.2), number_text(3)
    ('0.3', '3')
    """
    return repr(value) if not isinstance(value, float) else f"{value:.12g}"


def example_of(kind: Kind, number: str | None = None, unit: str | None = None) -> str:
    """What a value of this kind looks like, in quotes: of `number` where one came that is to be kept."""
    if kind.name == "ratio":
        return number or "0.12"
    shown = unit or kind.units[0]
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


def _message(kind: Kind, example: str, got: str, hint: str) -> str:
    more = f" {hint}" if hint else ""
    # a ratio has no unit to choose
    units = "" if kind.name == "ratio" else f" Units: {', '.join(kind.units)}"
    return f"needs {kind.phrase}, such as {example}; got {got}.{more}{units}"


def needs(kind: Kind, got: str, *, number: str | None = None, unit: str | None = None, hint: str = "") -> StatedValueError:
    """That a value of `kind` is wanted, and what came; with `number`, and perhaps `unit`, to show it as it should have been."""
    if number is not None and not (re.fullmatch(NUMBER, number) and math.isfinite(float(number))):
        # put together of what came, it is none, or beyond any float
        number = None
    example = example_of(kind, number, unit if number else None)
    return StatedValueError(_message(kind, example, got, hint), example=example if number is None else None)


def diagnose(text: str, kind: Kind) -> StatedValueError:
    """Why `text` is no quantity of this kind, in the words of somebody who has seen that mistake before."""
    stripped = _plain_signs(text.strip())
    got = f"{text!r}" if len(text) <= 60 else f"{text[:57]!r}..."
    if not stripped:
        return needs(kind, "an empty text")
    if stripped.lower().strip(".") in _NOT_KNOWN:
        return needs(kind, got, hint="What is not known is left out.")
    for look in _MISTAKES:
        told = look(stripped, kind, got)
        if told is not None:
            return told
    glued = re.fullmatch(rf"(?P<value>{NUMBER})(?P<unit>[^\s\d.][^\s]*)", stripped)
    if glued and kind.unit(glued["unit"]) is not None:
        return needs(kind, got, number=glued["value"], unit=kind.unit(glued["unit"]), hint="A space goes between number and unit.")
    found = re.match(rf"(?P<value>{NUMBER})\s*(?P<unit>[^\s±+]+)", stripped)
    if found is None:
        return needs(kind, got)
    if kind.unit(found["unit"]) is None:
        return unknown_unit(found["unit"], found["value"], kind, got)
    width = "0.03 mm" if kind.name == "length" else f"0.1 {kind.shown}"
    pair = "+0.02/-0.00 mm" if kind.name == "length" else f"+0.1/-0 {kind.shown}"
    return needs(kind, got, hint=f'Limits follow as "± {width}" or "{pair}".')


def diagnose_limits(written: str, text: str, kind: Kind) -> StatedValueError:
    """Why the limits of `text`, which are in `written`, are no limits of a value of this kind.

    What is said of a value in that unit would be of the wrong number: 2 K of limits are no temperature of -271 degC.
    """
    got = repr(text)
    if told := _limits_elsewhere(_plain_signs(text.strip()), kind, got):
        return told
    other = next((one for one in KINDS.values() if one.name != "ratio" and one.unit(written) is not None), None)
    what = (
        f", which is {(kind_of_unit(other.unit(written) or written) or other).phrase}"
        if other
        else f"; {written!r} is not one of its units"
    )
    return needs(kind, f"{got}{what}")


def _plain_signs(text: str) -> str:
    """`text` with the minus and the fractions that printers have as one sign put as they are typed."""
    plain = re.sub(r"^−(?=[0-9.])", "-", text)
    return re.sub("[¼½¾⅛⅜⅝⅞]", lambda found: f" {unicodedata.normalize('NFKC', found.group())}", plain).replace("⁄", "/").strip()


#: What is written in a table's cell for nothing.
_NOT_KNOWN: Final = frozenset({"?", "??", "-", "--", "–", "—", "n/a", "na", "none", "null", "nil", "unknown", "tbd", "tba"})

# --- each of these knows one mistake: what it is told, or None where it is not that one --------------------------------


def _other_digits(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """Digits of another script, or of full width."""
    plain = "".join(str(unicodedata.digit(one)) if one.isdecimal() else unicodedata.normalize("NFKC", one) for one in text)
    if not any(one.isdecimal() and not one.isascii() for one in text):
        return None
    found = re.match(NUMBER, plain)
    return needs(kind, got, number=found.group() if found else None, hint="Digits are the plain 0 to 9.")


#: Units of which one has hundreds and thousands, and no thousandths.
_OF_THOUSANDS: Final = frozenset({"rpm", "rad/s", "hPa", "mbar", "psi", "N/mm²", "N/mm2", "kg/m³", "kg/m3", "mm³", "mm3"})


def _comma(text: str, kind: Kind, got: str) -> StatedValueError | None:
    if not re.search(r"\d\s*,\s*\d", text):
        return None
    if (thousands := re.match(r"[+-]?\d{1,3}(?:,\d{3})+(?![\d.,])(?=\s*(\S*))", text)) and (
        (unit := kind.unit(thousands[1]) or (kind.shown if not thousands[1] else None)) in _OF_THOUSANDS
    ):
        # a point in its place would be read as a thousandth of it
        return needs(kind, got, number=thousands.group().replace(",", ""), unit=unit, hint="Thousands are written without a comma.")
    if grouped := re.match(r"[+-]?\d{1,3}(?:(?:,\d{3})+\.\d+|(?:\.\d{3})+,\d+)", text):
        *whole, fraction = re.split("[.,]", grouped.group())
        return needs(
            kind,
            got,
            number=f"{''.join(whole)}.{fraction}",
            unit=kind.unit(behind[1]) if (behind := re.match(r"\s*([^\s\d]\S*)", text[grouped.end() :])) else None,
            hint="Thousands are written without a sign between them, decimals with a point.",
        )
    first = re.match(r"[+-]?\d+\s*,\s*\d+", text)
    number = re.sub(r"\s*,\s*", ".", first.group()) if first else None
    # in the unit it came in, if that is one: 1,5 in is no 1.5 mm
    behind = re.match(r"\s+(\S+)", text[first.end() :]) if first else None
    unit = kind.unit(behind[1]) if behind else None
    if behind and unit is None:
        # of another unit the number is another
        number = None
    return needs(kind, got, number=number, unit=unit, hint="Decimals are written with a point, not a comma.")


_BOTH: Final = re.compile(rf"(?P<value>{NUMBER})\s*(?P<own>[^\s±+0-9.-]\S*?)?\s*{_EITHER}\s*(?P<width>{SPAN})\s*(?P<unit>[^\s±+0-9].*)?")
_PAIR: Final = re.compile(
    rf"(?P<value>{NUMBER})\s*(?P<own>[^\s±+0-9.−-]\S*?)?\s*(?:\+\s*(?P<up>{SPAN})\s*[/,]?\s*[-−]\s*(?P<down>{SPAN})"
    rf"|[-−]\s*(?P<down_first>{SPAN})\s*[/,]?\s*\+\s*(?P<up_last>{SPAN})|\+\s*(?P<up_alone>{SPAN})(?:\s*/\s*0(?:\.0*)?)?)\s*(?P<unit>[^\s±+0-9].*)?"
)

_BELOW: Final = re.compile(rf"(?P<value>{NUMBER})\s*(?P<own>[^\s±+0-9.−-]\S*?)?\s*[-−]\s*(?P<down>{SPAN})\s*(?P<last>[^\s±+0-9].*)?")


def _no_unit(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """A bare number, perhaps with limits, in a text."""
    if re.fullmatch(NUMBER, text):
        if kind.name == "share" and 0.0 < float(text) <= 1.0:
            return _instead(kind, f"{100.0 * float(text):g} %", f"{got}, a number without a unit", "The whole is 100 %.")
        return needs(kind, f"{got}, a number without a unit", number=text)
    found = _BOTH.fullmatch(text)
    if found and found["own"] is None and found["unit"] is None:
        example = f"{found['value']} {kind.shown} ± {found['width']} {kind.shown}"
        return _instead(kind, example, f"{got}, numbers without a unit", "")
    return None


def _limits(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """Limits that say what is meant in another form than ours: the unit behind them alone, another sign, another order."""
    text = re.sub(r"[()]", " ", text).strip()
    found = _BOTH.fullmatch(text) or _PAIR.fullmatch(text)
    if found is None:
        below = _BELOW.fullmatch(text)
        either = [kind.unit(one.strip()) for one in (below["own"], below["last"]) if one is not None] if below else []
        if below is None or not either or None in either:
            return None
        return needs(kind, got, hint=f'A limit on one side is written "{below["value"]} {either[0]} +0/-{below["down"]} {either[-1]}".')
    written = [one.strip() for one in (found["own"], found["unit"]) if one is not None]
    if "width" in found.groupdict() and (told := _limits_elsewhere(text, kind, got)):
        return told
    units = [kind.unit(one) for one in written]
    if not units or None in units:
        return None
    own, last = units[0], units[-1]
    groups = found.groupdict()
    if "width" in groups:
        example = f"{found['value']} {own} ± {found['width']} {last}"
    else:
        up = groups["up"] or groups["up_last"] or groups["up_alone"]
        example = f"{found['value']} {own} +{up}/-{groups['down'] or groups['down_first'] or '0'} {last}"
        if groups["up_alone"] and found["own"] is None and math.isfinite(total := float(found["value"]) + float(up)):
            # two gaskets, or a limit
            return needs(kind, got, hint=f'The sum of two is written "{total:.6g} {own}", a limit on one side "{example}".')
    if found["own"] is None:
        return _instead(kind, example, got, "The unit follows the value; its limits come after that.")
    return _instead(kind, example, got, "Limits follow as ± or as +upper/-lower, with + before -.")


#: Units of limits that are no units of the value, and how many of the value's they are.
_OF_LIMITS: Final = {
    **dict.fromkeys(("K",), ("temperature", 1.0, "Limits of a temperature are as wide in °C.")),
    **dict.fromkeys(("F", "°F", "degF", "℉"), ("temperature", 1.0 / 1.8, "Fahrenheit is turned into degC.")),
    **dict.fromkeys(("min", "'", "′"), ("angle", 1.0 / 60.0, "Minutes are the 60th part of a degree.")),
}


def _limits_elsewhere(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """Limits in per cent of the value, or in a unit that only limits are in."""
    found = re.fullmatch(
        rf"(?P<value>{NUMBER})\s*(?P<own>[^\s±+0-9.-][^±+]*?)\s*{_EITHER}\s*(?P<width>{SPAN})\s*(?P<unit>[^\s±+0-9]\S*)", text
    )
    own = kind.unit(found["own"]) if found else None
    if found is None or own is None or not math.isfinite(width := float(found["width"])):
        return None
    unit = found["unit"]
    if unit == "%" and kind.name != "share":
        wide, hint = abs(float(found["value"])) * width / 100.0, "Limits are in the unit of the value, not in per cent of it."
    elif unit in _INCH_MARKS and kind.name == "length":
        return _instead(kind, f"{found['value']} {own} ± {found['width']} in", got, "Inches are written 'in'.")
    elif _OF_LIMITS.get(unit, ("",))[0] == kind.name and own != "rad":
        _, turned, hint = _OF_LIMITS[unit]
        wide = width * turned
    else:
        return None
    return _instead(kind, f"{found['value']} {own} ± {wide:.6g} {own}", got, hint) if math.isfinite(wide) else None


def _degrees(text: str, kind: Kind, got: str) -> StatedValueError | None:
    if kind.name != "angle":
        return None
    if re.match(rf"{NUMBER}\s*(deg|°|:)\s*[0-9]", text):
        return needs(kind, got, hint='Degrees and minutes are written "88 deg 30 min", minutes under 60; 88.30 deg is 88 deg 18 min.')
    found = re.fullmatch(r"([0-9]{1,2})\s*(?:min|'|′)", text)
    return _instead(kind, f"{int(found[1]) // 60} deg {int(found[1]) % 60} min", got, "Minutes follow whole degrees.") if found else None


#: A number as a fraction: "1/16", "1 1/2", "1-1/2", and as printers set it.
FRACTION: Final = r"(?:[0-9]{1,4}(?:\s+|-))?[0-9]{1,4}\s*[/⁄]\s*[0-9]{1,4}"
_FRACTION: Final = re.compile(rf"(?P<number>{FRACTION})\s*(?P<unit>[^\s\d]\S*)?")
_INCH_MARKS: Final = ('"', "''", "″", "”")
#: Inches are halved, down to what is on a rule.
_FINEST: Final = 128


def fraction_of(text: str) -> float | None:
    """The value of a fraction of an inch as rules and drills have them, down to 1/128; None where it is no such.

    >>> fraction_of("1 1/2"), fraction_of("1/16"), fraction_of("1/3")
    (1.5, 0.0625, None)
    """
    *whole, over, under = (int(one) for one in re.findall(r"[0-9]+", text))
    halves = 1 < under <= _FINEST and under & (under - 1) == 0
    return (whole[0] if whole else 0) + over / under if halves and over < under else None


_FRACTION_BOTH: Final = re.compile(
    rf"(?P<value>{FRACTION})\s*(?P<own>[^\s\d±+]\S*)\s*{_EITHER}\s*(?P<width>{FRACTION}|{SPAN})\s*(?P<unit>[^\s\d]\S*)?"
)


def _fraction(text: str, kind: Kind, got: str) -> StatedValueError | None:
    limited = _FRACTION_BOTH.fullmatch(text) if kind.name == "length" else None
    if limited and kind.unit(limited["own"]) == "in" and (own := fraction_of(limited["value"])) is not None:
        width = fraction_of(limited["width"]) if "/" in limited["width"] or "⁄" in limited["width"] else float(limited["width"])
        unit = kind.unit(limited["unit"] or "in")
        if width is not None and unit is not None and math.isfinite(width):
            return _instead(kind, f"{own!r} in ± {width:.9g} {unit}", got, "With limits, fractions are written as decimals.")
    # before ranges: "1-1/2 mm" is one
    found = _FRACTION.fullmatch(text)
    if found is not None and found["unit"] in _INCH_MARKS and kind.name == "length":
        return _instead(kind, f"{found['number'].strip()} in", got, "Inches are written 'in'.")
    if found is None or (found["unit"] is not None and kind.unit(found["unit"]) is None):
        return None
    *whole, over, under = (int(one) for one in re.findall(r"[0-9]+", found["number"]))
    if not under:
        return None
    value = (whole[0] if whole else 0) + over / under
    unit = kind.unit(found["unit"]) if found["unit"] else kind.shown
    if not found["unit"] and kind.name == "share":
        value *= 100.0
    number = f"{value:.6f}".rstrip("0").rstrip(".")
    if not found["unit"] and kind.name == "length" and fraction_of(found["number"]) is not None:
        # millimetres are not halved
        hint = f"Fractions are of an inch; {number} of a millimetre is {number} mm."
        return _instead(kind, f"{found['number'].strip()} in", f"{got}, a number without a unit", hint)
    said = "Fractions are written as decimals, but for those of an inch." if kind.name == "length" else "Fractions are written as decimals."
    if not found["unit"] and kind.name != "ratio":
        return _instead(kind, f"{number} {unit}", f"{got}, a number without a unit", said)
    return _instead(kind, f"{number} {unit}", got, said)


#: From one number to another: "0.4-0.5 mm", "0.4 mm to 0.5 mm".
_RANGE: Final = re.compile(
    rf"(?:from\s+|between\s+)?(?P<low>{SPAN})\s*(?P<unit>[^\s\d.±+-]\S*)?\s*(?:-|–|—|−|~|\.\.+|…|to|and)\s*(?P<high>{SPAN})\s*(?P<last>[^\s\d.±+-]\S*)?"
)


def _range(text: str, kind: Kind, got: str) -> StatedValueError | None:
    found = _RANGE.fullmatch(text)
    if found is None or not float(found["high"]) > float(found["low"]):
        return None
    units = [kind.unit(one) for one in (found["unit"], found["last"]) if one is not None]
    if None in units or len(set(units)) > 1:
        return None
    low, high, unit = float(found["low"]), float(found["high"]), units[0] if units else kind.shown
    if not math.isfinite(high):
        return None
    middle, half = (f"{one:.6g}" for one in ((low + high) / 2.0, (high - low) / 2.0))
    return _instead(kind, f"{middle} {unit} ± {half} {unit}", got, "A range is written as its middle and its limits.")


def _not_finite(text: str, kind: Kind, got: str) -> StatedValueError | None:
    # a number anywhere in it: an advice that is made of it could not be written
    endless = re.match(r"[+-]?(nan|inf)", text, re.IGNORECASE) or any(math.isinf(float(one)) for one in re.findall(NUMBER, text))
    return needs(kind, f"{got}, which is not a finite number") if endless else None


_SPLIT: Final = re.compile(
    rf"(?P<value>[+-]?\s*[0-9]+\s*\.\s*[0-9]+|[+-]?\s*[0-9]{{1,3}}(?:\s[0-9]{{3}})+(?:\.[0-9]+)?|[+-]\s+{SPAN})\s*(?P<unit>[^\s\d.]\S*)"
)


def _split_number(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """A number with a space in it: "0. 5 mm", "11 500 rpm"."""
    found = _SPLIT.fullmatch(text)
    unit = kind.unit(found["unit"]) if found else None
    if found is None or unit is None or not re.search(r"\s", found["value"]):
        return None
    return needs(kind, got, number=re.sub(r"\s", "", found["value"]), unit=unit, hint="A number is written without spaces in it.")


_SIGN_FIRST: Final = {
    **dict.fromkeys(("Ø", "ø", "⌀", "∅", "dia", "dia.", "D", "d", "R", "r", "M"), "The field says what the number is: no sign before it."),
    **dict.fromkeys(
        ("~", "≈", "ca", "ca.", "c.", "about", "approx", "approx.", "<", ">", "≤", "≥", "<=", ">=", "max", "max.", "min", "min."),
        "A value is one number; how far off it may be is said by limits.",
    ),
    **dict.fromkeys(("–", "—", "‐", "‑"), "A minus is written '-'."),
    "=": "The sign of equality stands before the quotes.",
}


#: Words that say which way a size goes, which here its sign does.
_WAYS: Final = frozenset(
    {
        "above",
        "after",
        "atdc",
        "backward",
        "before",
        "behind",
        "below",
        "bdc",
        "btdc",
        "deck",
        "deep",
        "down",
        "forward",
        "high",
        "inside",
        "into",
        "low",
        "out",
        "outside",
        "over",
        "proud",
        "recessed",
        "tdc",
        "the",
        "under",
        "up",
        "wide",
    }
)
#: How a pressure is said to be absolute, or not.
_OVER: Final = frozenset({"g", "gauge", "gage", "a", "abs", "absolute", "over", "above"})
_WORDED: Final = re.compile(rf"(?P<value>{NUMBER})\s*(?P<words>[A-Za-zµ°][^±+0-9]*)")


def _direction(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """A size with the words people say with it: "1.65 mm below deck", "1.0 proud"."""
    found = _WORDED.fullmatch(text)
    if found is None:
        return None
    first, *rest = found["words"].split()
    unit = kind.unit(first)
    words = {one.lower().strip(".,") for one in (rest if unit else [first, *rest])}
    if not words or not (words <= _WAYS or (unit and all(word.isalpha() for word in words))):
        return None
    if any(one.unit(found["words"].strip()) for one in KINDS.values() if one is not kind):
        # a unit in two words, of something else
        return unknown_unit(found["words"].strip(), found["value"], kind, got)
    if "pressure" in kind.name and words & _OVER:
        return needs(
            kind, got, hint="Whether a pressure is absolute or over that around is said by its field; here go number and unit alone."
        )
    if kind.name == "length" and words & {"proud", "above"}:
        # proud and above are the other way than the datum of deck and recess
        number = f"{found['value'].lstrip('+-')} {unit or kind.shown}"
        said = f"Words are left out: {number}, with a minus where that is the way of docs/datum-and-signs.md."
        return needs(kind, got, hint=said)
    hint = "Words are left out; which way a size goes its sign says (docs/datum-and-signs.md)."
    return needs(kind, got, number=found["value"], unit=unit, hint=hint)


_THREAD: Final = re.compile(r"M\s?(?P<size>[0-9]{1,2}(?:\.[0-9]+)?)(?:\s*[xX×]\s*(?P<pitch>[0-9.]+))?(?:\s*mm)?")


def _thread(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """A thread, "M6" or "M6x1", where a length goes."""
    found = _THREAD.fullmatch(text)
    if found is None or kind.name != "length":
        return None
    pitch = f", its pitch of {found['pitch']} mm in a field of its own" if found["pitch"] else ""
    return needs(kind, got, number=found["size"], hint=f"A thread is given by its diameter{pitch}.")


#: Threads by number or by a fraction of an inch, and turns to the inch, as they are named together.
_INCH_THREADS: Final = {
    **{"4": ("40", "48"), "5": ("40", "44"), "6": ("32", "40"), "8": ("32", "36"), "10": ("24", "32"), "12": ("24", "28")},
    **{"1/4": ("20", "28"), "5/16": ("18", "24"), "3/8": ("16", "24"), "7/16": ("14", "20"), "1/2": ("13", "20")},
}


def _inch_thread(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """A thread, "10-32" or "1/4-20 UNC", where a length goes; before ranges, which it looks like."""
    found = re.fullmatch(r"(?:#|[Nn]o\.?\s?)?([0-9/]+)-([0-9]+)(?:\s*UN[CF]?)?", text)
    if found is None or kind.name != "length" or found[2] not in _INCH_THREADS.get(found[1], ()):
        return None
    size = found[1]
    # numbers go up by 0.013 in from one of 0.060 in, number nought
    shown = f"{size} in" if "/" in size else f"{0.06 + 0.013 * int(size):.3f} in"
    return _instead(kind, shown, got, "A thread is given by its diameter, its pitch in a field of its own.")


def _fit(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """A fit of ISO 286 behind a number without its unit: "47.6 H7"."""
    found = re.fullmatch(rf"(?P<value>\+?{SPAN})\s*(?:mm)?\s*(?P<code>[A-HJ-Za-hj-z]{{1,2}}[0-9]{{1,2}})", text)
    if found is None or kind.name != "length" or kind.unit(found["code"]) or not 0.0 < float(found["value"]) <= 500.0:
        return None
    if not re.fullmatch(r"(?:[FGHJKMNPRSfghjkmnprs]|js|JS)(?:[5-9]|1[0-2])", found["code"]):
        return None
    return _instead(kind, f"{found['value']} mm {found['code']}", got, "A fit follows number and unit.")


def _unseen(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """Signs that are not seen: a space of no width, a mark at the start of a file."""
    plain = "".join(one for one in text if unicodedata.category(one) not in ("Cf", "Cc") or one.isspace()).strip()
    if plain == text:
        return None
    found = re.fullmatch(rf"(?P<value>{NUMBER})\s*(?P<unit>[^\s\d.]\S*)", plain)
    unit = kind.unit(found["unit"]) if found else None
    return needs(kind, got, number=found["value"] if found and unit else None, unit=unit, hint="There is a sign in it that is not seen.")


def _about_the_number(text: str, kind: Kind, got: str) -> StatedValueError | None:
    """Something before the number, a letter in place of a digit, or something after the unit."""
    found = re.fullmatch(rf"(?P<sign>\D+?)\s*(?P<value>{SPAN})\s*(?P<unit>[^\s\d.]\S*)", text)
    unit = kind.unit(found["unit"]) if found else None
    if found and unit is not None and (hint := _SIGN_FIRST.get(found["sign"].strip())):
        return needs(kind, got, number=("-" if "minus" in hint else "") + found["value"], unit=unit, hint=hint)
    found = re.fullmatch(r"(?P<value>[+-]?[0-9OoIl]*\.?[0-9OoIl]+)\s*(?P<unit>[^\s\d.]\S*)", text)
    unit = kind.unit(found["unit"]) if found else None
    if found and unit is not None and re.search(r"[OoIl]", found["value"]) and re.search(r"[0-9]", found["value"]):
        number = found["value"].translate(str.maketrans("OoIl", "0011"))
        return needs(kind, got, number=number, unit=unit, hint="There is a letter among the digits.")
    found = re.fullmatch(rf"[\[(]?(?P<value>{NUMBER})\s*[\[(]?(?P<unit>[^\s\d.()\[\]]+?)[\])]?[.,;:]?[\])]?", text)
    unit = kind.unit(found["unit"]) if found else None
    if found and unit is not None and not text.endswith(found["unit"]):
        return needs(kind, got, number=found["value"], unit=unit, hint="Nothing stands around number and unit but their limits.")
    found = re.fullmatch(rf"(?P<unit>[^\s\d.]+?)\s*(?P<value>{NUMBER})", text)
    unit = kind.unit(found["unit"]) if found else None
    if found and unit is not None:
        return needs(kind, got, number=found["value"], unit=unit, hint="The number goes first, then the unit.")
    return None


_MISTAKES: Final = (
    _not_finite,
    _unseen,
    _other_digits,
    _comma,
    _no_unit,
    _degrees,
    _inch_thread,
    _fraction,
    _fit,
    _range,
    _limits,
    _split_number,
    _direction,
    _thread,
    _about_the_number,
)


def _instead(kind: Kind, example: str, got: str, hint: str) -> StatedValueError:
    """As `needs`, with the whole of what should have been written."""
    plain = example.replace(f" {kind.shown}", "") if kind.name == "ratio" else example
    return StatedValueError(_message(kind, f'"{plain}"', got, hint))


# --- units that are none here ------------------------------------------------------------------------------------------


def unknown_unit(unit: str, number: str, kind: Kind, got: str) -> StatedValueError:
    """What is said of a number with a unit that its kind has not got."""
    if told := _told_of_unit(unit.rstrip(".,;"), number, kind, got):
        return told
    other = next((one for one in KINDS.values() if one.name != "ratio" and one.unit(unit) is not None), None)
    if other is not None:
        # the kind that is shown in it, of several
        named = kind_of_unit(other.unit(unit) or unit) or other
        return needs(kind, f"{got}, which is {named.phrase}")
    same = [known for known in (*kind.units, *SPELLINGS) if known.lower() == unit.lower() and kind.unit(known) is not None]
    if same:
        return needs(kind, got, number=number, unit=kind.unit(same[0]), hint=f"The unit is written {same[0]!r}; capitals count.")
    short = kind.unit(unit.replace(".", "").rstrip("s"))
    if short is not None:
        return needs(kind, got, number=number, unit=short, hint=f"The unit is written {short!r}.")
    return needs(kind, f"{got}; {unit!r} is not one of its units")


def _told_of_unit(unit: str, number: str, kind: Kind, got: str) -> StatedValueError | None:
    """Units that mean two things, or are of another system, each with what to write for them."""
    value = float(number)
    if not math.isfinite(value):
        return None

    def turned(amount: float, shown: str, hint: str) -> StatedValueError:
        return _instead(kind, f"{amount:.6g} {shown}", got, hint)

    name = kind.name
    if name in ("pressure", "air pressure") and unit.lower() in ("barg", "bara", "psig", "psia", "psi(g)", "bar(g)", "bar(a)", "psi(a)"):
        return needs(
            kind, got, hint="Whether a pressure is absolute or over that around is said by its field; here go number and unit alone."
        )
    if name == "length" and unit in ("mil", "mils"):
        return needs(kind, got, hint="A mil is a thousandth of an inch to some and a millimetre to others: write thou or mm.")
    if name == "length" and unit in _INCH_MARKS:
        return needs(kind, got, number=number, unit="in", hint="Inches are written 'in'.")
    if name == "torque" and re.fullmatch(r"kg[·*.-]?(m|cm)|(m|cm)[·*.-]?kg|kp[·*.-]?m|mkp", unit):
        short = "kgf·cm" if "c" in unit else "kgf·m"
        return needs(kind, got, number=number, unit=short, hint=f"A kilogram is a mass; as the force of one it is written {short}.")
    if name == "torque" and (ratio := re.fullmatch(r"(?:lbf?|lbs)/(ft|in)", unit)):
        return needs(kind, got, number=number, unit=f"{ratio[1]}·lbf", hint="A torque is a length times a force.")
    if name in ("pressure", "air pressure", "strength") and re.fullmatch(r"(?:kgf?|kp)/cm(?:²|\^?2)|at", unit):
        in_bar = value * 0.980665
        amount = in_bar if "bar" in kind.units else in_bar / 10.0
        return turned(amount, "bar" if "bar" in kind.units else "N/mm²", "A kilogram-force per cm² is 0.980665 bar, or 0.0980665 N/mm².")
    if name == "pressure" and unit == "atm":
        return turned(value * 1.01325, "bar", "An atmosphere is 1.01325 bar.")
    if name == "crank speed" and unit in ("Hz", "rps", "1/s", "s⁻¹", "s-1"):
        return turned(value * 60.0, "rpm", "A turn a second is 60 rpm.")
    if name == "crank speed" and unit in ("krpm", "k"):
        return turned(value * 1000.0, "rpm", "A thousand turns a minute are 1000 rpm.")
    if name == "volume" and unit in ("l", "L", "litre", "litres", "liter", "liters", "dm3", "dm³"):
        return turned(value * 1000.0, "cc", "A litre is 1000 cc.")
    if name == "temperature" and unit in ("F", "°F", "degF", "℉"):
        return turned((value - 32.0) / 1.8, "degC", "Fahrenheit is turned into degC.")
    if name == "temperature" and unit == "K":
        return turned(value - 273.15, "degC", "0 degC is 273.15 K.")
    if name == "temperature in kelvin" and unit in ("degC", "°C", "C", "℃"):
        said = f"A rise of {number} °C is {number} K; a temperature of {number} °C is {value + 273.15:.6g} K."
        return needs(kind, got, number=number, hint=said)
    if name == "mass" and unit in ("lb", "lbs", "oz"):
        return turned(value * (28.349523125 if unit == "oz" else 453.59237), "g", "A pound is 453.59237 g, an ounce its sixteenth.")
    return None
