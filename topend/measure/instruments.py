"""What a length or an angle is read with, and what such an instrument may be off by where nobody stated it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from topend.measure.budget import Term, rectangular, resolution
from topend.measure.measured import scattered, step_left
from topend.units import StatedQuantity

__all__ = ["INSTRUMENTS", "Instrument", "InstrumentName", "read_with"]


@dataclass(frozen=True, slots=True)
class Instrument:
    """Limit of error, smallest step, and what a single reading scatters by [m, or rad]; what is usual, taken wide."""

    limit: float
    step: float
    scatter: float


InstrumentName = Literal["caliper", "depth gauge", "depth micrometer", "micrometer", "bore gauge", "dial", "solder", "strip", "protractor"]

#: Common practice, wide: an instrument's own certificate is better, stated as `instrument_limits`.
INSTRUMENTS: Final[dict[str, Instrument]] = {
    "caliper": Instrument(0.03e-3, 0.01e-3, 0.015e-3),
    "depth gauge": Instrument(0.03e-3, 0.01e-3, 0.02e-3),
    "depth micrometer": Instrument(0.008e-3, 0.01e-3, 0.006e-3),
    "micrometer": Instrument(0.004e-3, 0.01e-3, 0.004e-3),
    "bore gauge": Instrument(0.01e-3, 0.01e-3, 0.006e-3),
    "dial": Instrument(0.015e-3, 0.01e-3, 0.01e-3),
    "solder": Instrument(0.03e-3, 0.01e-3, 0.025e-3),
    "strip": Instrument(0.0, 0.025e-3, 0.025e-3),
    "protractor": Instrument(0.0044, 0.0017, 0.004),
}


def read_with(
    name: str,
    readings: Sequence[float],
    instrument: str,
    *,
    limits: StatedQuantity | None = None,
    step: StatedQuantity | None = None,
) -> tuple[list[Term], list[str]]:
    """The terms of the mean of `readings` [SI]: their spread, the instrument's limits, its step; and notes.

    Several readings that agree to the last digit have no spread; the limits and the step are still there.

    >>> [term.name for term in read_with("deck", [0.00164, 0.00166, 0.00165], "depth gauge")[0]]
    ['deck, spread of 3', 'limits of the depth gauge', 'step of the depth gauge']
    """
    known = INSTRUMENTS[instrument]
    terms, notes = scattered(name, readings, known.scatter)
    terms.append(rectangular(f"limits of the {instrument}", 0.0, known.limit if limits is None else limits.si))
    terms.append(resolution(f"step of the {instrument}", 0.0, step_left(readings, known.step if step is None else step.si)))
    return terms, notes
