"""Volumes by burette and by weight: head on a plate, piston down the bore, or the engine assembled, through the plug hole."""

from __future__ import annotations

import math
import re
from typing import Any, ClassVar, Final, Literal

from pydantic import Field, model_validator

from topend.measure.budget import Term, rectangular, resolution
from topend.measure.grades import permissible_error
from topend.measure.measured import Measured, Reading, limits_of, measured, refuse, scattered, step_left
from topend.measure.water import GLASS, air_density, volume_from_mass, water_density
from topend.parts.help import takes_fields_of
from topend.units import (
    AirPressure,
    NonNegativeMass,
    NonNegativeVolume,
    PositiveLength,
    PositiveVolume,
    StatedQuantity,
    Temperature,
)

__all__ = ["EXPANSION", "Burette", "Weighing", "burette", "thread_void", "weighing"]

#: Cubic expansion of liquids [1/K]: petrol as published (docs/sources.md), the others from memory and wide.
EXPANSION: Final = {"water": 2.1e-4, "petrol": 9.5e-4, "oil": 7e-4, "petrol and oil": 8.3e-4, "paraffin and oil": 8.5e-4}
#: What filling by the same hand scatters where nobody repeated it [m³]; common practice: two chambers agree within 0.2 ml.
_SINGLE: Final = 0.05e-6
#: What the liquid's temperature may change between burette and chamber where nothing is said [K].
_WARMING: Final = 2.0

#: by setup: what is read where `of` is not given
_OF: Final = {"plate": "head.chamber_volume", "crown": "crown_volume", "assembled": "assembled.volume"}


def thread_void(*, major: float, pitch: float, reach: float) -> tuple[float, float, float]:
    """Volume [m³] of a plug hole's thread over `reach` [m]: at the minor, the pitch and the major diameter (60 deg thread).

    >>> [round(1e6 * one, 5) for one in thread_void(major=0.014, pitch=0.00125, reach=0.019)]
    [2.38675, 2.59542, 2.92482]
    """
    height = math.sqrt(3.0) / 2.0 * pitch
    minor, middle = major - 1.25 * height, major - 0.75 * height
    low, mean, high = (math.pi / 4.0 * one**2 * reach for one in (minor, middle, major))
    return low, mean, high


class _Volume(Reading):
    """What a volume by burette and one by weight have in common: the set-up, and what is filled besides the chamber."""

    setup: Literal["plate", "crown", "assembled"] = Field(
        description="Where: plate (head on a plate), crown (piston down the bore by a known depth), or assembled (through the "
        "plug hole at TDC)."
    )
    of: str | None = Field(default=None, description="The volume it gives; not given: it follows from the set-up.")
    bore: PositiveLength | None = Field(default=None, description="Bore, for the crown.")
    depth: PositiveLength | None = Field(default=None, description="Crown edge below the plate, for the crown.")
    plate_hole_diameter: PositiveLength | None = Field(default=None, description="Fill hole of the plate, if it was filled to its top.")
    plate_thickness: PositiveLength | None = Field(default=None, description="Thickness of the plate at that hole.")
    plug: Literal["fitted", "out"] | None = Field(default=None, description="Plug fitted, or out and the hole filled to its top edge.")
    thread: str | None = Field(default=None, description='Thread of the plug hole, such as "M14x1.25".')
    reach: PositiveLength | None = Field(default=None, description="Length of that thread which the plug will fill.")
    thread_void: PositiveVolume | None = Field(default=None, description="Volume that the plug will fill, if it was measured.")
    insert_volume: NonNegativeVolume | None = Field(
        default=None, description="What of the fill stands in an insert that was in the plug's place."
    )
    grease: NonNegativeVolume | None = Field(default=None, description="Grease inside the seal, which takes the liquid's place.")
    drop_left: NonNegativeVolume | None = Field(default=None, description="Drop that left the burette and is not in the chamber.")

    def _check_setup(self, title: str) -> None:
        if self.setup == "crown" and (self.bore is None or self.depth is None):
            lacking = "bore" if self.bore is None else "depth"
            raise refuse(title, lacking, "is missing: a crown's volume is bore area x depth less what was filled")
        if (self.plate_hole_diameter is None) != (self.plate_thickness is None):
            lacking = "plate_thickness" if self.plate_thickness is None else "plate_hole_diameter"
            raise refuse(title, lacking, "is missing: the hole's volume needs its diameter and the plate's thickness")
        if self.plug is None and self.setup != "crown":
            raise refuse(title, "plug", "is missing: say whether the plug was fitted, or out and its hole filled to the top edge")
        if self.setup == "assembled" and self.plug == "fitted":
            raise refuse(title, "plug", "is fitted, but an assembled engine is filled through the plug hole: it is out")
        known = (self.thread_void, self.insert_volume, self.thread and self.reach)
        if self.plug == "out" and not any(known):
            raise refuse(
                title,
                "thread_void",
                "is missing: with the plug out, the thread that it will fill was filled too. Give thread and reach, or thread_void, "
                "or the insert_volume of an insert in its place",
            )
        if self.thread is not None and _thread(self.thread) is None:
            raise refuse(title, "thread", f'is {self.thread!r}; it is written as diameter and pitch in mm, such as "M14x1.25"')

    def _besides(self) -> tuple[list[Term], list[float]]:
        """Terms beside the fill, with the sign they enter by."""
        found: list[tuple[Term, float]] = []
        if self.plate_hole_diameter is not None and self.plate_thickness is not None:
            hole = math.pi / 4.0 * self.plate_hole_diameter.si**2 * self.plate_thickness.si
            found.append((rectangular("fill hole of the plate", hole, 0.1 * hole), -1.0))
        if self.plug == "out":
            if self.thread_void is not None:
                found.append((_limited("thread that the plug fills", self.thread_void, 0.1e-6), -1.0))
            elif self.insert_volume is None and self.thread is not None and self.reach is not None:
                major, pitch = _thread(self.thread) or (0.0, 0.0)
                low, mean, high = thread_void(major=major, pitch=pitch, reach=self.reach.si)
                # the plug's own thread and tip fill some of it: between the minor and the major diameter
                found.append((rectangular("thread that the plug fills", mean, (high - low) / 2.0), -1.0))
            if self.insert_volume is not None:
                found.append((_limited("insert in the plug's place", self.insert_volume, 0.02e-6), -1.0))
        if self.grease is not None:
            found.append((_limited("grease", self.grease, self.grease.si), 1.0))
        if self.drop_left is not None:
            found.append((_limited("drop left", self.drop_left, self.drop_left.si), -1.0))
        return [term for term, _ in found], [sign for _, sign in found]

    def _finished(self, terms: list[Term], fill: Any, notes: list[str]) -> Measured:
        """The volume from the fill's model, `fill(*values)`, and what stands beside it."""
        count = len(terms)
        besides, signs = self._besides()
        crown: list[Term] = []
        if self.setup == "crown":
            assert self.bore is not None
            assert self.depth is not None
            crown = [_limited("bore", self.bore, 0.01e-3), _limited("depth of the crown", self.depth, 0.02e-3)]

        def volume(*values: Any) -> Any:
            filled = fill(*values[:count])
            for sign, value in zip(signs, values[count : count + len(signs)], strict=True):
                filled = filled + sign * value
            if crown:
                bore, depth = values[count + len(signs) :]
                return math.pi / 4.0 * bore**2 * depth - filled
            return filled

        of = self.of or _OF[self.setup]
        if self.setup == "plate":
            notes.append("under a plate: the clearance volume of a domed piston is less by the dome that enters it")
        if self.setup == "crown":
            notes.append("only the top ring fitted and the land greased, or the land's crevice is in it (common practice)")
        return measured(of, volume, [*terms, *besides, *crown], unit="cc", notes=notes, name=self.called)


def _limited(name: str, value: StatedQuantity, otherwise: float, unit: str | None = None) -> Term:
    return rectangular(name, value.si if unit is None else value.m_as(unit), limits_of(value, otherwise))


def _thread(text: str) -> tuple[float, float] | None:
    found = re.fullmatch(r"M([0-9]+(?:\.[0-9]+)?) ?[xX×] ?([0-9]+(?:\.[0-9]+)?)", text.strip())
    return (float(found[1]) * 1e-3, float(found[2]) * 1e-3) if found else None


def _pairs(fillings: Any, title: str, what: str, rising: bool) -> list[list[tuple[float, float]]]:
    """Each filling's (start, end) in SI, one pair for every time the vessel was filled up."""
    made = []
    for index, filling in enumerate(fillings):
        if len(filling) < 2 or len(filling) % 2:
            raise refuse(
                title, f"fillings.{index}", f"has {len(filling)} reading(s); each delivery takes two, start and end, and a refill two more"
            )
        pairs = []
        for start, end in zip(filling[::2], filling[1::2], strict=True):
            wrong = end.si <= start.si if rising else end.si >= start.si
            if wrong:
                grows = "is read from the top down, so the end is the greater" if rising else "grows lighter, so the end is the less"
                raise refuse(title, f"fillings.{index}", f"goes from {start.text} to {end.text}, in the wrong order: {what} {grows}")
            pairs.append((start.si, end.si))
        made.append(pairs)
    return made


class Burette(_Volume):
    """A volume read by burette.

    `fillings` holds for each time the chamber was filled its start and end reading, and two more for every refill. A class counts with
    its standard; where neither a class nor `permissible_error` is given, one division is assumed. The permissible error is a limit, the
    same for a small volume as for a large one, and once for every refill. `name` of the burette in `burette_name` makes its scale
    one error in all that is read with it.

    >>> head = Burette(setup="plate", plug="fitted", fillings=[["0.00 ml", "6.42 ml"], ["0.00 ml", "6.38 ml"], ["0.00 ml", "6.40 ml"]],
    ...                nominal="25 ml", division="0.05 ml", grade="A", standard="ISO 385")
    >>> head.results()[0].text
    '6.400 cc ± 0.043'
    """

    title: ClassVar[str] = "burette"
    kind: Literal["burette"] = Field(default="burette", description="Which reading it is; written in files, never needed in code.")
    fillings: tuple[tuple[NonNegativeVolume, ...], ...] = Field(description="Start and end of each filling, and two more for every refill.")
    nominal: PositiveVolume = Field(description="Nominal volume of the burette.")
    division: PositiveVolume = Field(description="Its smallest division.")
    grade: Literal["A", "AS", "B"] | None = Field(default=None, description="Its class: A, AS or B; it needs its standard.")
    standard: Literal["ISO 385", "ASTM E287"] | None = Field(default=None, description="The standard that the class is of.")
    permissible_error: PositiveVolume | None = Field(default=None, description="Its limit of error, in place of a class.")
    burette_name: str = Field(default="burette", description="Which burette: its scale is one error in all that is read with it.")
    liquid: Literal["water", "petrol", "oil", "petrol and oil", "paraffin and oil"] = Field(
        default="petrol and oil", description="What was filled."
    )
    meniscus: Literal["clear", "dark"] = Field(
        default="clear", description="Clear: read at the bottom; dark: at the upper edge, both times."
    )
    temperature: Temperature | None = Field(default=None, description="Temperature of the liquid in the burette; not given: 20 ± 5 degC.")
    glass_temperature: Temperature | None = Field(default=None, description="Temperature of the burette's glass; not given: the liquid's.")
    part_temperature: Temperature | None = Field(default=None, description="Temperature of the part that was filled, if it differed.")
    glass: Literal["borosilicate", "soda-lime"] = Field(default="borosilicate", description="Glass of the burette.")

    @model_validator(mode="after")
    def _check(self) -> Burette:
        self._check_setup("burette")
        _pairs(self.fillings, "burette", "a burette", rising=True)
        assert self.limit > 0.0  # a class without its standard is refused here
        for index, filling in enumerate(self.fillings):
            beyond = [one.text for one in filling if one.si > self.nominal.si * (1 + 1e-9)]
            if beyond:
                raise refuse("burette", f"fillings.{index}", f"reads {beyond[0]}, beyond the {self.nominal.text} of the burette")
        return self

    @property
    def limit(self) -> float:
        """Permissible error [m³] of one delivery."""
        if self.permissible_error is not None:
            return self.permissible_error.si
        if self.grade is not None:
            nominal, division = (round(one.si * 1e6, 6) for one in (self.nominal, self.division))
            return 1e-6 * permissible_error(nominal=nominal, division=division, grade=self.grade, standard=self.standard)
        return self.division.si

    def results(self) -> tuple[Measured, ...]:
        pairs = _pairs(self.fillings, "burette", "a burette", rising=True)
        fills = [math.fsum(end - start for start, end in filling) for filling in pairs]
        terms, notes = scattered("fill", fills, _SINGLE)
        refills = max(len(filling) for filling in pairs)
        if self.permissible_error is None and self.grade is None:
            notes.append(f"no class and no permissible error: one division, ± {self.division.text}, is assumed")
        terms.append(rectangular("scale of the burette", 0.0, refills * self.limit, shared=f"scale of {self.burette_name}"))
        # each delivery takes two readings, to half a division, or a whole one at a dark liquid's edge
        step = self.division.si * (0.5 if self.meniscus == "clear" else 1.0)
        terms.append(resolution("reading the division", 0.0, step_left(fills, step * math.sqrt(2.0 * refills))))
        warm = 20.0 if self.temperature is None else self.temperature.m_as("degC")
        spread = 5.0 if self.temperature is None else limits_of(self.temperature, 1.0)
        if self.glass_temperature is None:
            terms.append(rectangular("temperature of the glass", warm, spread))
        else:
            terms.append(_limited("temperature of the glass", self.glass_temperature, 1.0, "degC"))
        rest = 0.0
        between = _WARMING
        if self.part_temperature is not None:
            rest, between = self.part_temperature.m_as("degC") - warm, limits_of(self.part_temperature, 1.0)
        terms.append(rectangular("liquid warmer in the part", rest, between))
        if self.grade == "AS":
            notes.append("class AS holds if 30 s were waited before the end was read")
        glass, liquid = GLASS[self.glass], EXPANSION[self.liquid]

        def fill(filled: Any, scale: Any, read: Any, celsius: Any, warmer: Any) -> Any:
            return (filled + scale + read) * (1.0 + glass * (celsius - 20.0)) * (1.0 + liquid * warmer)

        return (self._finished(terms, fill, notes),)


class Weighing(_Volume):
    """A volume by the mass of what was filled: `fillings` holds the vessel's mass before and after, and two more for every refill.

    Water unless `density` is stated. Buoyancy counts; the volume is that at the liquid's temperature, or, with `glass`, what a vessel of it
    holds at 20 degC: to see what a burette is worth, weigh what it gave.

    >>> head = Weighing(setup="plate", plug="fitted", temperature="20 degC", fillings=[["112.41 g", "106.02 g"], ["112.40 g", "106.03 g"]])
    >>> round(head.results()[0].value, 3)
    6.398
    """

    title: ClassVar[str] = "weighing"
    kind: Literal["weighing"] = Field(default="weighing", description="Which reading it is; written in files, never needed in code.")
    fillings: tuple[tuple[NonNegativeMass, ...], ...] = Field(description="Mass before and after each filling.")
    scale_limits: NonNegativeMass | None = Field(default=None, description="Limit of the scale's error; not given: 0.02 g.")
    scale_step: NonNegativeMass | None = Field(default=None, description="Its smallest step; not given: 0.01 g.")
    temperature: Temperature | None = Field(default=None, description="Temperature of the liquid; not given: 20 ± 3 degC.")
    pressure: AirPressure | None = Field(default=None, description="Air pressure; not given: 1013 ± 40 hPa.")
    glass: Literal["borosilicate", "soda-lime"] | None = Field(
        default=None, description="Glass of a vessel whose marks hold at 20 degC, where what it gave was weighed; not given: none."
    )
    density: float | None = Field(default=None, gt=500.0, lt=1500.0, description="Density of a liquid other than water [kg/m³].")

    @model_validator(mode="after")
    def _check(self) -> Weighing:
        self._check_setup("weighing")
        _pairs(self.fillings, "weighing", "the vessel", rising=False)
        return self

    def results(self) -> tuple[Measured, ...]:
        pairs = _pairs(self.fillings, "weighing", "the vessel", rising=False)
        fills = [math.fsum(start - end for start, end in filling) for filling in pairs]
        terms, notes = scattered("mass", fills, 0.05e-3)
        refills = max(len(filling) for filling in pairs)
        limit = 0.02e-3 if self.scale_limits is None else self.scale_limits.si
        step = 0.01e-3 if self.scale_step is None else self.scale_step.si
        terms.append(rectangular("scale", 0.0, refills * limit, shared="scale of the balance"))
        terms.append(resolution("step of the scale", 0.0, step_left(fills, step * math.sqrt(2.0 * refills))))
        warm = 20.0 if self.temperature is None else self.temperature.m_as("degC")
        terms.append(rectangular("temperature", warm, 3.0 if self.temperature is None else limits_of(self.temperature, 0.5)))
        air = 101325.0 if self.pressure is None else self.pressure.si
        terms.append(rectangular("air pressure", air, 4000.0 if self.pressure is None else limits_of(self.pressure, 500.0)))
        own, glass = self.density, 0.0 if self.glass is None else GLASS[self.glass]

        def fill(mass: Any, scale: Any, step: Any, celsius: Any, pressure: Any) -> Any:
            density = water_density(celsius) if own is None else own
            about = air_density(celsius=celsius, pressure=pressure)
            return volume_from_mass(mass=mass + scale + step, celsius=celsius, air=about, glass=glass, density=density)

        return (self._finished(terms, fill, notes),)


@takes_fields_of(Burette)
def burette(**fields: Any) -> Measured:
    """The volume that a burette gave [cc].

    >>> import topend as te
    >>> te.measure.burette(setup="plate", plug="fitted", fillings=[["0.0 ml", "6.4 ml"]], nominal="25 ml", division="0.1 ml").text
    '6.400 cc ± 0.152'
    """
    return Burette(**fields).results()[0]


@takes_fields_of(Weighing)
def weighing(**fields: Any) -> Measured:
    """The volume of what was weighed [cc].

    >>> import topend as te
    >>> te.measure.weighing(setup="plate", plug="fitted", temperature="20 degC", fillings=[["112.41 g", "106.02 g"]]).text
    '6.408 cc ± 0.102'
    """
    return Weighing(**fields).results()[0]
