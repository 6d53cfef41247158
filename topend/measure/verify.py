"""After assembly: what was predicted beside what was found."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from topend.assembly import TopEnd
from topend.coverage import LEVEL, Validation, coverage_factor, excess_kurtosis
from topend.errors import AssemblyError, PartError, must_be
from topend.measure.build import Build, seen_of, tables_alone, unit_of_seen
from topend.measure.measured import Measured, Reading
from topend.measure.reconcile import Reconciled, had, propagate_measured, reconcile, tied, usable
from topend.measure.verdict import Judged, verdict
from topend.quantities import OUTPUTS, output
from topend.units import from_si

__all__ = ["Compared", "Verified", "compare", "verify"]


@dataclass(frozen=True, slots=True)
class Compared:
    """One reading beside its prediction, in `unit`: `difference` is found less predicted, `half_width` that of its 95 % interval.

    `agrees` is True, False, or None for "at least", which can only contradict.
    """

    label: str
    name: str
    found: Measured
    predicted: float
    predicted_u: float
    difference: float
    half_width: float
    agrees: bool | None

    @property
    def text(self) -> str:
        """In words."""
        places = max(2, self.found.decimals)
        unit = "" if self.found.unit == "–" else f" {self.found.unit}"
        if self.agrees is None:
            return "not crushed, which does not contradict the prediction"
        way = "more" if self.difference > 0 else "less"
        said = "agrees" if self.agrees else "does not agree"
        return f"{said}: {abs(self.difference):.{places}f}{unit} {way} than predicted, where ± {self.half_width:.{places}f} is allowed"


@dataclass(frozen=True, repr=False)
class Verified:
    """A build after assembly: each reading beside its prediction, all of them together, and the verdict on its limits.

    `passed` says that no reading contradicts its prediction and no limit is broken; "not proven" is neither.
    """

    top: TopEnd = field(repr=False)
    compared: tuple[Compared, ...]
    together: Reconciled | None
    verdicts: Mapping[str, Judged]
    notes: tuple[str, ...] = ()
    predicted: Mapping[str, Measured] = field(default_factory=dict)

    def __repr__(self) -> str:
        told = [f"{one.label} {one.text}" for one in self.compared]
        return f"Verified({'; '.join([self.outcome, *told])})"

    @property
    def outputs(self) -> Mapping[str, Measured]:
        """The outputs as readings and prediction together show them; as predicted, where there are no readings."""
        return self.predicted if self.together is None else self.together.outputs

    @functools.cached_property
    def validations(self) -> dict[str, Validation]:
        """By output, whether first order is enough for its interval (JCGM 101:2008, clause 8)."""
        found = {name: one.validation() for name, one in self.outputs.items()}
        return {name: one for name, one in found.items() if one is not None}

    @property
    def outcome(self) -> Literal["as predicted", "not proven", "contradicted"]:
        """All of it in one word."""
        if any(one.agrees is False for one in self.compared) or (self.together is not None and self.together.suspect is not None):
            return "contradicted"
        if any(one.verdict == "outside" for one in self.verdicts.values()):
            return "contradicted"
        return "not proven" if any(one.verdict == "not proven" for one in self.verdicts.values()) else "as predicted"

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "outcome": self.outcome,
            "compared": [
                {
                    "of": one.label,
                    "name": one.name,
                    "unit": one.found.unit,
                    "predicted": one.predicted,
                    "predicted_u": one.predicted_u,
                    "found": one.found.value,
                    "found_u": one.found.u,
                    "difference": one.difference,
                    "half_width": one.half_width,
                    "agrees": one.agrees,
                }
                for one in self.compared
            ],
            "verdicts": {
                name: {
                    "verdict": one.verdict,
                    "value": one.value,
                    "interval": list(one.interval),
                    "low": one.low,
                    "high": one.high,
                    "unit": one.unit,
                }
                for name, one in self.verdicts.items()
            },
            "first_order": {name: one.to_dict() for name, one in self.validations.items()},
            "together": None if self.together is None else self.together.to_dict(),
            "notes": list(self.notes),
        }


def verify(
    top: TopEnd,
    readings: Iterable[Reading | Measured],
    limits: Mapping[str, tuple[float | None, float | None]] | None = None,
) -> Verified:
    """What was predicted of `top` beside what was found after assembly.

    Parameters: `top` as it was planned, with its limits; `readings` taken after assembly; `limits` by output, (low, high) in the unit of
    the outputs table, None for no limit on that side. A reading agrees when its difference from the prediction lies within the 95 %
    interval of the difference; the prediction's own uncertainty is in it. Verdicts are on the outputs as prediction and readings
    together show them.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"), head=te.FlushHead(), base_gaskets=[],
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.01 mm")])
    >>> seen = te.verify(top, [te.measure.Measured("squish_edge", 1.02, 0.01, "mm")], {"squish_edge": (0.8, None)})
    >>> seen.outcome, seen.compared[0].text
    ('as predicted', 'agrees: 0.020 mm more than predicted, where ± 0.039 is allowed')
    """
    must_be("verify", "top", top, TopEnd)
    every = [value for one in readings for value in (one.results() if isinstance(one, Reading) else (one,))]
    plain, notes = usable(every)
    plain = tied(top, plain)
    bounds = [one for one in every if one.at_least]
    # a gasket's nominal without limits promises nothing that a reading could contradict
    wanted = [one for one in (*plain, *bounds) if not (one.of.endswith(".thickness") and one.of not in top.row.limits)]
    open_ones = [one for one in wanted if one.radius is None and one.of not in OUTPUTS and not had(top, [one.of], ())]
    notes += [f"{one.label}: was not stated, so nothing was predicted of it" for one in open_ones]
    wanted = [one for one in wanted if one not in open_ones]
    compared = compare(top, wanted)
    together: Reconciled | None = None
    tables_alone("verify", limits or (), top)
    names = [output(name).name for name in limits or {}]
    verdicts: dict[str, Judged] = {}
    try:
        together = reconcile(top, plain, names or None) if plain else None
    except (PartError, AssemblyError) as error:
        notes.append(f"the readings could not be put together: {error}")
    alone = propagate_measured(top, (), names) if names and together is None else {}
    known = alone if together is None else together.outputs
    for name, (low, high) in (limits or {}).items():
        verdicts[name] = verdict(known[name], low=low, high=high)
    return Verified(top, compared, together, verdicts, tuple(dict.fromkeys(notes)), alone)


def compare(top: TopEnd, measured: Sequence[Measured]) -> tuple[Compared, ...]:
    """Each measured value beside its prediction of `top`, in order; every one must be of something that `top` determines.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"), base_gaskets=[])
    >>> compare(top, [Measured("deck_clearance", 0.75, 0.01, "mm")])[0].agrees
    False
    """
    if not measured:
        return ()
    build = Build(top, [seen_of(one) for one in measured], written=True)
    at = build.start[None]
    u = np.array([one.u for one in build.dimensions])
    seen, slopes = build.linear(at, build.steps(at[0], u))
    kurtosis, own = _own(slopes[0], u)
    made = []
    for index, one in enumerate(measured):
        unit = unit_of_seen(build.seen[index])
        predicted, predicted_u = from_si(float(seen[0, index]), unit), from_si(own[index], unit)
        made.append(_compare(one, predicted, predicted_u, kurtosis[index]))
    return tuple(made)


def _own(slopes: Any, u: Any) -> tuple[list[float], list[float]]:
    """Excess kurtosis and u of each prediction from limits, which are rectangles."""
    shares = slopes * u
    whole = np.sqrt((shares**2).sum(axis=1))
    kurtosis = [float(excess_kurtosis([(one, "rectangular") for one in row], own)) for row, own in zip(shares, whole, strict=True)]
    return kurtosis, [float(one) for one in whole]


def _compare(one: Measured, predicted: float, predicted_u: float, kurtosis: float) -> Compared:
    both = math.hypot(one.u, predicted_u)
    difference = one.value - predicted
    if both > 0.0:
        # few readings matter as far as they are in the difference (Welch-Satterthwaite)
        dof = one.dof * (both / one.u) ** 4 if one.u > 0.0 else math.inf
        shape = (one.kurtosis * one.u**4 + kurtosis * predicted_u**4) / both**4
        half = float(coverage_factor(dof, LEVEL, shape)) * both
    else:
        half = 0.0
    if one.at_least:
        return Compared(one.label, one.name, one, predicted, predicted_u, difference, half, None if difference <= half else False)
    return Compared(one.label, one.name, one, predicted, predicted_u, difference, half, abs(difference) <= half + 1e-12)
