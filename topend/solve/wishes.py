"""Targets and limits as asked: read, with their slack, and refused where they exclude each other."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from topend.errors import FitError
from topend.evaluation import SLACK
from topend.quantities import OUTPUTS, Output, output
from topend.units import StatedValueError, figure_example, figure_si, from_si


@dataclass(frozen=True, slots=True)
class Wish:
    """One target or limit: low ≤ output ≤ high in SI with slack; a target also has its value and tolerance.

    `unit` and `decimals` are those that the output is shown with.
    """

    name: str
    low: float
    high: float
    text: str
    value: float | None = None
    tolerance: float | None = None
    unit: str = "–"
    decimals: int = 3


def _number(made: Output, given: Any, what: str) -> float:
    """A target's, tolerance's or limit's value in SI: a bare number for a ratio, else a quantity of the output's kind."""
    try:
        return figure_si(given, made.unit)
    except StatedValueError as error:
        raise FitError(f"{what} of {made.name} {error}") from None


def target(name: str, given: Any, known: Mapping[str, Output] = OUTPUTS) -> Wish:
    """A target as asked; `known` the outputs that may be named."""
    made = output(name, known)
    unit = made.unit
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence) or len(given) != 2:
        example = f"({', '.join(figure_example(unit))})"
        raise FitError(f"target {name} must be a value and a tolerance, such as {example}; got {given!r}")
    value, tolerance = _number(made, given[0], "the value"), _number(made, given[1], "the tolerance")
    if not tolerance > 0.0:
        raise FitError(f"the tolerance of {name} must be more than zero; got {given[1]!r}")
    span = tolerance * (1.0 + SLACK)
    text = f"{_shown(unit, value)} ± {_shown(unit, tolerance)}"
    return Wish(name, value - span, value + span, text, value, tolerance, unit, made.decimals)


def _shown(unit: str, value: float) -> str:
    number = f"{from_si(value, unit):.10g}"
    return number if unit == "–" else f"{number} {unit}"


def limit(name: str, given: Any, known: Mapping[str, Output] = OUTPUTS, *, least: bool, why: str = "") -> Wish:
    """A limit as asked, the least or the most; `known` the outputs that may be named."""
    made = output(name, known)
    value = _number(made, given, "the limit")
    slack, shown = SLACK * abs(value), _shown(made.unit, value)
    if least:
        return Wish(name, value - slack, math.inf, f"at least {shown}{why}", unit=made.unit, decimals=made.decimals)
    return Wish(name, -math.inf, value + slack, f"at most {shown}", unit=made.unit, decimals=made.decimals)


def refuse_contradictions(wishes: Sequence[Wish]) -> None:
    by_name: dict[str, list[Wish]] = {}
    for wish in wishes:
        same = by_name.setdefault(wish.name, [])
        for other in same:
            if wish.low > other.high or other.low > wish.high:
                raise FitError(f"no value of {wish.name} can be {other.text} and {wish.text}")
        same.append(wish)
    # the least gap in the band is never more than the gap at its edge, nor contact more than the least gap
    for smaller, greater in (("squish_min", "squish_edge"), ("squish_min", "squish_inner"), ("squish_min", "squish_mean")):
        low = max((wish.low for wish in by_name.get(smaller, [])), default=-math.inf)
        for wish in by_name.get(greater, []):
            if low > wish.high:
                owner = max(by_name[smaller], key=lambda one: one.low)
                raise FitError(
                    f"{smaller} is never more than {greater}: {smaller} {owner.text} and {greater} {wish.text} exclude each other"
                )


def count_range(name: str, given: Any) -> tuple[int, int]:
    pair = (given, given) if isinstance(given, int) and not isinstance(given, bool) else given
    if (
        isinstance(pair, (str, bytes))
        or not isinstance(pair, Sequence)
        or len(pair) != 2
        or not all(isinstance(end, int) and not isinstance(end, bool) for end in pair)
        or not 0 <= pair[0] <= pair[1]
    ):
        raise FitError(f"{name} must be least and most, whole numbers with 0 ≤ least ≤ most, such as (1, 3); got {given!r}")
    return int(pair[0]), int(pair[1])
