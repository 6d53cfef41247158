"""A measured value: what it is of, its value and uncertainty, and the budget behind it; and what every reading shares."""

from __future__ import annotations

import math
from abc import abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar, Self

from pydantic import Field, model_validator

from topend.coverage import DIGITS, LEVEL, Validation, coverage_factor, validated
from topend.errors import PartError, Problem, did_you_mean
from topend.measure.budget import Contribution, Propagated, Term, normal, propagate, repeated, simulate, spread_known
from topend.parts.base import Part
from topend.quantities import INPUTS, OUTPUTS
from topend.units import Quantity, StatedQuantity, from_si, kind_of_unit, parse, quantity

__all__ = ["Measured", "Reading", "measured", "scattered", "step_left", "unit_of"]


def unit_of(of: str) -> str:
    """The unit of an input path or an output, from the tables; lengths for what lies in neither.

    >>> unit_of("head.chamber_volume"), unit_of("head_gaskets.0.fitted_thickness"), unit_of("exhaust_opens")
    ('cc', 'mm', 'deg')
    """
    if of in OUTPUTS:
        return OUTPUTS[of].unit
    known = INPUTS.get(".".join("N" if step.isdigit() else step for step in of.split(".")))
    return known.unit if known is not None else "mm"


#: Ends of a 95 % interval by simulation, from a number of draws, a seed, and whether few readings are drawn as Student's t.
Ends = Callable[[int, int, bool], tuple[float, float]]


@dataclass(frozen=True)
class Measured:
    """A value that was measured, in `unit`: standard uncertainty, degrees of freedom, and the budget, largest term first.

    `of` is an input path or an output's name, or ``gap_at`` with its `radius` [mm]. `derived` marks what follows from others
    of the same reading. `at_least` marks a value that is only a lower bound (an uncrushed wire).
    """

    of: str
    value: float
    u: float
    unit: str
    dof: float = math.inf
    kurtosis: float = 0.0
    budget: tuple[Contribution, ...] = ()
    notes: tuple[str, ...] = ()
    name: str = ""
    radius: float | None = None
    derived: bool = False
    at_least: bool = False
    #: How it is simulated. Belongs to these very figures: a copy has none.
    simulated: Ends | None = field(default=None, init=False, repr=False, compare=False)

    def __getstate__(self) -> dict[str, Any]:
        return {**self.__dict__, "simulated": None}

    def simulated_by(self, ends: Ends) -> Self:
        """This, knowing how it is simulated: by `ends`, in SI."""

        def shown(draws: int, seed: int, few: bool) -> tuple[float, float]:
            low, high = ends(draws, seed, few)
            return from_si(float(low), self.unit), from_si(float(high), self.unit)

        object.__setattr__(self, "simulated", shown)
        return self

    def validation(self, *, few_readings: bool = False, digits: int = DIGITS, draws: int = 100_000, seed: int = 1) -> Validation | None:
        """Whether first order is enough for this value, beside a simulation of the same budget (JCGM 101:2008, clause 8).

        Both take a spread for known: the question is whether the model is straight, and the terms make the interval that is claimed.
        With `few_readings` it is JCGM 101's to the letter: few readings are drawn as Student's t (6.4.9), beside the effective degrees
        of freedom. Three readings then seldom agree; whose interval holds the truth as often as it says is told in docs/measuring.md.
        None where there is nothing to simulate: a value that was stated, derived, or is only a lower bound.

        >>> measured("deck.clearance", lambda a: a, [normal("gauge", 0.00165, 0.00001)]).validation().agrees
        True
        """
        if self.simulated is None or self.at_least:
            return None
        half = float(coverage_factor(self.dof if few_readings else math.inf, LEVEL, self.kurtosis)) * self.u
        first = (self.value - half, self.value + half)
        return validated(first, self.simulated(draws, seed, few_readings), self.u, digits=digits)

    def interval(self, level: float = LEVEL) -> tuple[float, float]:
        """Where the truth lies with probability `level`, few readings and limits allowed for."""
        half = self.half_width(level)
        return self.value - half, math.inf if self.at_least else self.value + half

    def half_width(self, level: float = LEVEL) -> float:
        """Half the width of that interval."""
        return float(coverage_factor(self.dof, level, self.kurtosis)) * self.u

    @property
    def quantity(self) -> Quantity | float:
        """The value as a pint quantity; a float for a ratio."""
        return self.value if self.unit == "–" else quantity(self.value, self.unit)

    @property
    def stated(self) -> StatedQuantity:
        """The value for a part: limits of ± √3·u, so that what is worked out from the part has this u.

        A part knows no degrees of freedom; after few readings use `propagate_measured`, which does.
        """
        kind = kind_of_unit(self.unit)
        assert kind is not None
        limits = f" ± {math.sqrt(3.0) * self.u!r} {self.unit}" if self.u > 0.0 else ""
        return parse(f"{self.value!r} {self.unit}{limits}", kind)

    @property
    def label(self) -> str:
        """What it is of, with the radius where it has one."""
        return self.of if self.radius is None else f"{self.of} {self.radius:g} mm"

    @property
    def decimals(self) -> int:
        """Decimals worth showing: two digits of u."""
        return max(0, min(4, 1 - math.floor(math.log10(self.u)))) if self.u > 0.0 else 3

    @property
    def text(self) -> str:
        """Value and half-width of the 95 % interval, with the digits worth showing."""
        places = self.decimals
        unit = "" if self.unit == "–" else f" {self.unit}"
        if self.at_least:
            return f"at least {self.interval()[0]:.{places}f}{unit}"
        scale = 10.0**places
        return f"{self.value:.{places}f}{unit} ± {math.ceil(self.half_width() * scale - 1e-9) / scale:.{places}f}"

    def to_dict(self) -> dict[str, Any]:
        """As plain data: value, unit, u, degrees of freedom (None for infinitely many), interval, budget, notes."""
        low, high = self.interval()
        return {
            "of": self.of,
            **({} if self.radius is None else {"radius": {"value": self.radius, "unit": "mm"}}),
            "name": self.name,
            "value": self.value,
            "unit": self.unit,
            "u": self.u,
            "dof": self.dof if math.isfinite(self.dof) else None,
            "interval": [low, high if math.isfinite(high) else None],
            "at_least": self.at_least,
            "derived": self.derived,
            "budget": [{"term": one.name, "u": abs(one.u)} for one in self.budget],
            "notes": list(self.notes),
        }


def measured(
    of: str, model: Callable[..., Any], terms: Sequence[Term], *, notes: Sequence[str] = (), unit: str | None = None, **more: Any
) -> Measured:
    """The value of a model in SI as `Measured` in the unit of `of`.

    >>> measured("deck.clearance", lambda a: a, [normal("gauge", 0.00165, 0.00001)]).text
    '1.650 mm ± 0.020'
    """
    unit = unit or unit_of(of)
    made = from_propagated(of, propagate(model, list(terms)), unit=unit, notes=notes, **more)

    def ends(draws: int, seed: int, few: bool) -> tuple[float, float]:
        return simulate(model, terms if few else spread_known(terms), draws=draws, seed=seed).interval

    return made.simulated_by(ends)


def from_propagated(of: str, made: Propagated, *, unit: str, notes: Sequence[str] = (), **more: Any) -> Measured:
    """`made`, worked out in SI, in `unit`."""
    budget = [replace(one, u=from_si(float(one.u), unit)) for one in made.contributions if one.u != 0.0]
    budget.sort(key=lambda one: -abs(one.u))
    return Measured(
        of,
        from_si(float(made.value), unit),
        from_si(float(made.u), unit),
        unit,
        float(made.dof),
        float(made.kurtosis),
        tuple(budget),
        tuple(notes),
        **more,
    )


def scattered(name: str, readings: Sequence[float], single: float) -> tuple[list[Term], list[str]]:
    """The mean of readings with their spread; of one reading alone, with the spread `single` that is usual for its means."""
    if len(readings) > 1:
        note = [f"{name}: two readings say little of their spread; a third narrows the interval"] if len(readings) == 2 else []
        return [repeated(f"{name}, spread of {len(readings)}", readings)], note
    told = f"{name}: one reading shows no spread; one that is usual for it is assumed. Read it three times"
    return [normal(f"{name}, spread assumed", readings[0], single)], [told]


def step_left(readings: Sequence[float], step: float) -> float:
    """The step that is not in the spread of `readings` already: all of it where they agree to a third of a step, else nothing.

    Readings that scatter are rounded each in its own way, and their spread holds that (from a third of a step on, rounding moves a mean by
    less than 0.04 of a step); readings that agree are rounded alike, and no spread is not no uncertainty.

    >>> step_left([1.0, 1.0, 1.0], 0.1), step_left([0.9, 1.0, 1.1], 0.1)
    (0.1, 0.0)
    """
    if len(readings) < 2:
        return step
    mean = math.fsum(readings) / len(readings)
    spread = math.sqrt(math.fsum((one - mean) ** 2 for one in readings) / (len(readings) - 1))
    return step if spread < step / 3.0 else 0.0


class Reading(Part):
    """Something read at the bench. `results` works out what it says; the fields are what was written down."""

    title: ClassVar[str] = ""
    date: str | None = Field(default=None, description="When it was read; no meaning to the library.")

    @model_validator(mode="after")
    def _not_empty(self) -> Reading:
        for name, known in type(self).model_fields.items():
            if known.is_required() and getattr(self, name) == ():
                raise refuse(self.title, name, "is empty; give at least one reading")
        return self

    @abstractmethod
    def results(self) -> tuple[Measured, ...]:
        """What this reading says, as measured values."""

    @property
    def called(self) -> str:
        """What to call it: its name, else its kind."""
        return self.name or str(getattr(self, "kind", type(self).__name__))

    def replace(self, **changes: Any) -> Self:
        """A copy with `changes`, validated like a new one."""
        return super().replace(**changes)


def refuse(reading: str, where: str, message: str) -> PartError:
    """One problem of one reading."""
    return PartError(reading, [Problem(where, message)])


def check_path(of: str, unit: str, reading: str) -> str:
    """`of`, where it is an input of that unit; else the error that names the nearest."""
    pattern = ".".join("N" if step.isdigit() else step for step in of.split("."))
    if pattern not in INPUTS:
        raise refuse(reading, "of", f"is {of!r}, and no input is called so{did_you_mean(of, INPUTS)}")
    if INPUTS[pattern].unit != unit:
        raise refuse(reading, "of", f"is {of!r}, which is in {INPUTS[pattern].unit}; this reading is in {unit}")
    return of


def si(values: Sequence[StatedQuantity]) -> list[float]:
    """Stated quantities as SI floats."""
    return [one.si for one in values]


def limits_of(value: StatedQuantity, otherwise: float) -> float:
    """Half-width [SI] of a quantity's limits, or `otherwise`."""
    ends = value.si_limits
    return otherwise if ends is None else (ends.high - ends.low) / 2.0
