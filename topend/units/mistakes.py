"""Why a value is not what its field needs, in the words of somebody who has seen that mistake before."""

from __future__ import annotations

import re

from topend.units.kinds import NUMBER, SPAN, Kind, kind_of_unit

__all__ = ["StatedValueError", "diagnose", "example_of", "needs", "number_text", "unknown_unit"]


class StatedValueError(ValueError):
    """A value that is not what its field needs; the message follows the field's name.

    `example` is what the message shows of the kind at large, if it shows nothing closer to what came; who knows the field may
    show one that fits it.
    """

    def __init__(self, message: str, *, example: str | None = None) -> None:
        super().__init__(message)
        self.example = example


def number_text(value: object) -> str:
    return repr(value) if not isinstance(value, float) else f"{value:.12g}"


def example_of(kind: Kind, number: str | None = None) -> str:
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


def needs(kind: Kind, got: str, *, number: str | None = None, hint: str = "") -> StatedValueError:
    units = ", ".join(kind.units)
    more = f" {hint}" if hint else ""
    example = example_of(kind, number)
    message = f"needs {kind.phrase}, such as {example}; got {got}.{more} Units: {units}"
    return StatedValueError(message, example=example if number is None else None)


def diagnose(text: str, kind: Kind) -> StatedValueError:
    """Why `text` is no quantity of this kind, in the words of somebody who has seen that mistake before."""
    stripped = text.strip()
    got = f"{text!r}" if len(text) <= 60 else f"{text[:57]!r}..."
    if not stripped:
        return needs(kind, "an empty text")
    if re.search(r"\d,\d", stripped):
        if kind.name == "crank speed" and (thousands := re.match(r"\d{1,3}(,\d{3})+(?!\d)", stripped)):
            # a point in its place would be read as a thousandth of the speed
            return needs(kind, got, number=thousands.group().replace(",", ""), hint="Thousands are written without a comma.")
        first = re.match(r"[+-]?\d+,\d+", stripped)
        number = first.group().replace(",", ".") if first else None
        return needs(kind, got, number=number, hint="Decimals are written with a point, not a comma.")
    if re.fullmatch(NUMBER, stripped):
        return needs(kind, f"{got}, a number without a unit", number=stripped)
    if kind.name == "angle" and re.match(rf"{NUMBER}\s*(deg|°|:)\s*[0-9]", stripped):
        return needs(kind, got, hint='Degrees and minutes are written "88 deg 30 min", minutes under 60; 88.30 deg is 88 deg 18 min.')
    other = _range_or_fraction(stripped, kind, got)
    if other is not None:
        return other
    if re.match(r"[+-]?(nan|inf)", stripped, re.IGNORECASE):
        return needs(kind, f"{got}, which is not a finite number")
    glued = re.fullmatch(rf"(?P<value>{NUMBER})(?P<unit>[^\s\d.][^\s]*)", stripped)
    if glued and glued["unit"] in kind.units:
        return needs(kind, got, number=glued["value"], hint="A space goes between number and unit.")
    found = re.match(rf"\s*(?P<value>{NUMBER})\s*(?P<unit>[^\s±+]+)", text)
    if found:
        unit = found["unit"]
        if unit in kind.units:
            return needs(
                kind,
                got,
                hint='Limits follow as "± 0.03 mm" or "+0.02/-0.00 mm".'
                if kind.name == "length"
                else f'Limits follow as "± 0.1 {kind.shown}" or "+0.1/-0 {kind.shown}".',
            )
        return unknown_unit(unit, found["value"], kind, got)
    return needs(kind, got)


#: From one number to another: "0.4-0.5 mm", "0.4 mm to 0.5 mm".
_RANGE = re.compile(rf"(?P<low>{SPAN})\s*(?P<unit>[^\s\d.±+-]\S*)?\s*(?:-|–|—|−|\.\.+|…|to)\s*(?P<high>{SPAN})\s*(?P<last>[^\s\d.±+-]\S*)?")
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
        return instead(kind, f"{number} {unit}", got, "Fractions are written as decimals.")
    found = _RANGE.fullmatch(stripped)
    if found and float(found["high"]) > float(found["low"]) and {found["unit"], found["last"]} <= {None, *kind.units}:
        low, high = float(found["low"]), float(found["high"])
        unit = found["last"] or found["unit"] or kind.shown
        middle, half = (f"{one:.6g}" for one in ((low + high) / 2.0, (high - low) / 2.0))
        return instead(kind, f"{middle} {unit} ± {half} {unit}", got, "A range is written as its middle and its limits.")
    return None


def instead(kind: Kind, example: str, got: str, hint: str) -> StatedValueError:
    return StatedValueError(f'needs {kind.phrase}, such as "{example}"; got {got}. {hint} Units: {", ".join(kind.units)}')


def unknown_unit(unit: str, number: str, kind: Kind, got: str) -> StatedValueError:
    other = kind_of_unit(unit)
    if other is not None:
        return needs(kind, f"{got}, which is {other.phrase}")
    same = [known for known in kind.units if known.lower() == unit.lower()]
    if same:
        return needs(kind, got, number=number, hint=f"The unit is written {same[0]!r}; capitals count.")
    return needs(kind, f"{got}; {unit!r} is not one of its units")
