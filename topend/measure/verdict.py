"""Whether a measured value meets its limits: inside, outside, or not proven."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from topend.errors import PartError, Problem
from topend.measure.budget import LEVEL

__all__ = ["Judged", "Verdict", "verdict"]

Verdict = Literal["inside", "outside", "not proven"]


class _Known(Protocol):
    """A value with an interval: measured, or worked out."""

    @property
    def value(self) -> float: ...
    @property
    def unit(self) -> str: ...
    @property
    def interval(self) -> Any: ...


@dataclass(frozen=True, slots=True)
class Judged:
    """A value beside its limits, in one unit; `short_by` is how far the interval reaches over the limit where nothing is proven."""

    verdict: Verdict
    value: float
    interval: tuple[float, float]
    low: float | None
    high: float | None
    unit: str
    short_by: float = 0.0

    @property
    def text(self) -> str:
        """In words."""
        unit = "" if self.unit == "–" else f" {self.unit}"
        limits = " to ".join(f"{one:g}" for one in (self.low, self.high) if one is not None)
        limits = (
            limits
            if self.low is not None and self.high is not None
            else f"at least {limits}"
            if self.low is not None
            else f"at most {limits}"
        )
        if self.verdict == "not proven":
            return f"not proven against {limits}{unit}: the interval reaches over the limit by {self.short_by:.3f}{unit}"
        return f"{self.verdict} {limits}{unit}"


def verdict(known: _Known, *, low: float | None = None, high: float | None = None, level: float = LEVEL) -> Judged:
    """What can be said of a value against limits (ISO 14253-1: who must prove it loses the uncertainty).

    Parameters: `known` a `Measured`, or an output with its uncertainty; `low` and `high` in its unit, one of them at least. Inside: the
    whole interval lies within the limits. Outside: the whole interval lies beyond one of them. Otherwise neither is proven. The interval at
    `level` is the one that is shown; the standard's later edition guards with less (one-sided, 1.65 u), so nothing that is inside here
    fails it.

    >>> from topend.measure.measured import Measured
    >>> [verdict(Measured("squish_min", value, 0.02, "mm"), low=0.6).verdict for value in (0.70, 0.61, 0.50)]
    ['inside', 'not proven', 'outside']
    """
    if low is None and high is None:
        raise PartError("verdict", [Problem("limits", "are missing: give low, high or both")])
    if low is not None and high is not None and not low < high:
        raise PartError("verdict", [Problem("high", f"({high:g}) is not more than low ({low:g}): in the wrong order")])
    if not math.isfinite(known.value):
        raise PartError("verdict", [Problem("value", "is unknown, so nothing can be said of it")])
    interval = known.interval
    at, to = interval(level) if callable(interval) else interval
    common = (known.value, (at, to), low, high, known.unit)
    if (low is not None and to < low) or (high is not None and at > high):
        return Judged("outside", *common)
    over = max(0.0 if low is None else low - at, 0.0 if high is None else to - high)
    return Judged("inside", *common) if over <= 0.0 else Judged("not proven", *common, over)
