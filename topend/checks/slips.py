"""Findings about sizes that are a unit or a digit off: legal one by one, and not of one engine together.

The limits are common practice and wide: nothing between a model engine of 1 cc and a single of 500 cc lies near them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from topend.checks.values import known_si
from topend.evaluation import Result
from topend.quantities import Finding
from topend.units import StatedQuantity, from_si, to_si

__all__ = ["PISTON_SPEED", "RATIO", "SIZES", "SPEED_RPM", "Size", "findings"]


@dataclass(frozen=True, slots=True)
class Size:
    """Between which ends a size lies: as it is, in `unit`, or as a share of the power of another size that `by` names."""

    path: str
    what: str
    low: float
    high: float
    unit: str = "mm"
    by: str = ""
    power: int = 1


#: What is stated of an engine, and how far it may lie from others. Of a list, the path without the number.
SIZES: Final = (
    Size("cylinder.bore", "the bore", 9.0, 105.0),
    Size("crank.stroke", "the stroke", 8.0, 110.0),
    Size("crank.stroke", "the stroke", 0.5, 2.0, by="cylinder.bore"),
    Size("crank.rod_length", "the rod", 1.2, 4.0, by="crank.stroke"),
    Size("crank.pin_diameter", "the piston pin", 0.1, 0.6, by="cylinder.bore"),
    Size("crank.crankpin_diameter", "the crankpin", 0.1, 1.0, by="cylinder.bore"),
    Size("crank.offset", "the crank's offset", -0.35, 0.35, by="crank.stroke"),
    Size("piston.pin_offset", "the pin's offset", -0.15, 0.15, by="crank.stroke"),
    Size("piston.diameter", "the piston", 0.9, 1.05, by="cylinder.bore"),
    Size("piston.compression_height", "the compression height", 0.15, 2.0, by="cylinder.bore"),
    Size("piston.crown.rise", "the crown's rise", -0.35, 0.5, by="cylinder.bore"),
    # [kg/m³]: a piston with pin and ring is some 1200 times the cube of its bore, a rod some 800 times
    Size("piston.assembly_mass", "piston, pin and ring", 250.0, 6000.0, unit="g", by="cylinder.bore", power=3),
    Size("crank.rod_mass", "the rod", 100.0, 8000.0, unit="g", by="cylinder.bore", power=3),
    Size("head.recess_offset", "the recess", -0.6, 0.6, by="cylinder.bore"),
    Size("head.band.outer_diameter", "the band's outer diameter", 0.6, 1.4, by="cylinder.bore"),
    Size("head.band.inner_diameter", "the band's inner diameter", 0.1, 1.1, by="cylinder.bore"),
    Size("head.spigot_diameter", "the spigot", 0.8, 1.05, by="cylinder.bore"),
    Size("head.recess_diameter", "the recess", 0.9, 1.6, by="cylinder.bore"),
    Size("head_gaskets.opening", "a head gasket's opening", 0.9, 1.6, by="cylinder.bore"),
    Size("deck.clearance", "the deck reading", -0.35, 0.4, by="crank.stroke"),
    Size("cylinder.ports.top", "a port's top", 0.1, 2.2, by="crank.stroke"),
    # spacers under a barrel included
    Size("base_gaskets.thickness", "a base gasket", 0.025, 15.0),
    Size("head_gaskets.thickness", "a head gasket", 0.025, 8.0),
    Size("base_gaskets.fitted_thickness", "a base gasket", 0.025, 15.0),
    Size("head_gaskets.fitted_thickness", "a head gasket", 0.025, 8.0),
    Size("running.peak_pressure", "the peak pressure", 8.0, 250.0, unit="bar"),
)
#: Mean piston speeds between which engines run [m/s]: about 4 for slow ones and 25 when racing; and crank speeds where no stroke is known.
PISTON_SPEED: Final = (2.0, 32.0)
SPEED_RPM: Final = (600.0, 45000.0)
#: Geometric ratios, from the slowest to engines that ignite by compression.
RATIO: Final = (3.0, 35.0)

#: What a number may have been meant in, for a size in one unit: a length in inches above all.
_MEANT: Final = {
    "mm": ("in", "thou", "cm", "m"),
    "in": ("mm", "cm"),
    "cm": ("mm", "in"),
    "m": ("mm",),
    "um": ("mm",),
    "thou": ("in", "mm"),
    "bar": ("MPa", "psi"),
    "g": ("kg",),
    "kg": ("g",),
}
_EFFECT: Final = "all that is worked out from it is wrong by as much"


def findings(result: Result) -> list[Finding]:
    """Whether a stated size is out of all proportion, as when inches are taken for millimetres or a digit is missing.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Cylinder
    >>> [one.message for one in findings(evaluate(TopEnd(cylinder=Cylinder(bore="1.85 mm"))))]
    ['the bore of 1.85 mm is under 9 mm; likely a slip of units or digits']
    """
    sizes = list(_unlikely(result))
    found = [finding for _, finding in sizes]
    slipped = {path for path, _ in sizes}
    if not slipped & {"crank.stroke", "running.crank_speed"}:
        found += _speed(result)
    # what is made of sizes that slipped has been told with them
    if not slipped:
        found += _ratio(result)
    return found


def _unlikely(result: Result) -> Iterator[tuple[str, Finding]]:
    stated = dict(result.top.stated())
    by_path: dict[str, list[StatedQuantity]] = {}
    for path, value in stated.items():
        by_path.setdefault(".".join(step for step in path.split(".") if not step.isdigit()), []).append(value)
    slipped: set[str] = set()
    for size in SIZES:
        other = stated.get(size.by) if size.by else None
        if size.path in slipped or size.by in slipped or (size.by and other is None):
            continue
        for value in by_path.get(size.path, ()):
            finding = _judged(size, value, other)
            if finding is not None:
                slipped.add(size.path)
                yield size.path, finding
                break


def _share(size: Size, si: float, other: StatedQuantity | None) -> float:
    """What lies between the ends of `size`."""
    if other is None:
        return from_si(si, size.unit)
    return si / other.si**size.power


def _judged(size: Size, value: StatedQuantity, other: StatedQuantity | None) -> Finding | None:
    share = _share(size, value.si, other)
    if size.low <= share <= size.high:
        return None
    limit = size.high if share > size.high else size.low
    side, figure, unit = ("over" if share > size.high else "under"), share, size.unit
    if other is None:
        told = f"{size.what} of {value.text} is {side} {limit:g} {unit}"
    elif size.power > 1:
        figure, limit = from_si(value.si, unit), from_si(limit * other.si**size.power, unit)
        told = f"{size.what} of {value.text} for a bore of {other.text}: {side} {limit:.{0 if limit > 10.0 else 2}f} {unit}"
    else:
        named, unit = size.by.rpartition(".")[2].replace("_", " "), "–"
        told = f"{size.what} of {value.text} is {share:.3g} times the {named} of {other.text}, {side} {limit:g}"
    number = float(value.m)
    fits = []
    for meant in _MEANT.get(value.stated_unit, ()):
        si = to_si(number, meant)
        if size.low <= _share(size, si, other) <= size.high:
            fits.append(f"{number:g} {meant} would be {from_si(si, value.stated_unit):.4g} {value.stated_unit}")
    look = f"look at its unit and its digits{': ' + ', '.join(fits) if fits else ''}"
    if other is not None and not fits:
        look += f", and at {size.by}"
    return Finding(
        code="size_unlikely",
        severity="warning",
        message=f"{told}; likely a slip of units or digits",
        do=look,
        standing="common practice",
        source="the limits are ours and wide",
        figure=figure,
        limit=limit,
        unit=unit,
        effect=_EFFECT,
    )


def _speed(result: Result) -> list[Finding]:
    running, crank = result.top.running, result.top.crank
    if running is None:
        return []
    speed = running.crank_speed
    if crank is None:
        figure, (low, high), unit, told = speed.m_as("rpm"), SPEED_RPM, "rpm", f"a crank speed of {speed.text} is"
        limits = f"the {low:g} to {high:g} rpm that small two-strokes run at"
    else:
        # twice the stroke in a turn; an offset adds next to nothing
        figure, (low, high), unit = crank.stroke.si * from_si(speed.si, "rpm") / 30.0, PISTON_SPEED, "m/s"
        told = f"a crank speed of {speed.text} is a mean piston speed of {figure:.3g} m/s,"
        limits = f"the {low:g} to {high:g} m/s that engines run at"
    if low <= figure <= high:
        return []
    return [
        Finding(
            code="crank_speed_unusual",
            severity="note",
            message=f"{told} {'over' if figure > high else 'under'} {limits}",
            do="look whether a digit is missing or too many, and whether it is turns a minute",
            standing="common practice",
            source="the range is our own and wide",
            figure=figure,
            limit=high if figure > high else low,
            unit=unit,
            effect="closing at speed goes with the square of it, so all that is said of the gap at speed is wrong by that",
        )
    ]


def _ratio(result: Result) -> list[Finding]:
    known = known_si(result, "compression_ratio")
    if known is None or RATIO[0] <= known[0] <= RATIO[1]:
        return []
    (ratio,), (low, high) = known, RATIO
    return [
        Finding(
            code="ratio_unlikely",
            severity="warning",
            message=f"the compression ratio is {ratio:.3g}, {'over' if ratio > high else 'under'} {high if ratio > high else low:g}; "
            "likely a slip of units or digits",
            do="look at the volume that was stated (a decimal place, cc and ml), at bore and stroke, and at the deck reading",
            standing="common practice",
            source="the limits are ours and wide",
            figure=ratio,
            limit=high if ratio > high else low,
            unit="–",
            effect=_EFFECT,
        )
    ]
