"""Findings about the closed cycle: knock, a burn that peaks too early, and where the model is left."""

from __future__ import annotations

import math
from typing import Final

from topend.assembly import TopEnd
from topend.evaluation import Result, evaluate
from topend.physics import wiring
from topend.quantities import Finding
from topend.uncertainty import COVERAGE, uncertainty

__all__ = ["EARLIEST_PEAK_DEG", "HOTTEST_END_GAS_K", "OCTANES", "findings", "octane_findings", "octane_number"]

#: Octane numbers that the delay was measured with.
OCTANES: Final = (80.0, 100.0)
#: Beyond it the end gas's polynomials leave their range by more than a per cent of heat capacity.
HOTTEST_END_GAS_K: Final = 1100.0
#: A peak sooner after TDC works against the crank on its way up.
EARLIEST_PEAK_DEG: Final = 8.0
#: A peak before so much of the burn's angle has passed is of the compression: the burn is late then, not early.
COMPRESSION_PEAK: Final = 0.5
_NOTHING: Final = 1e-9
_NAMES: Final = ("knock_margin", "peak_pressure_angle", "peak_pressure", "end_gas_temperature")


def findings(result: Result) -> list[Finding]:
    """Whether it knocks or may, peaks too early, or leaves what the model holds for; nothing where no burn is stated.

    >>> findings(evaluate(TopEnd()))
    []
    """
    top = result.top
    if top.burn is None or wiring.plan(top.row.structure, _NAMES).missing:
        return []
    made = evaluate(top, _NAMES)
    if any(math.isnan(made.shown(name)) for name in _NAMES):
        return [_lost(), *octane_findings(top)]
    found = _knock(result)
    angle, peak, hot = (made.shown(name) for name in ("peak_pressure_angle", "peak_pressure", "end_gas_temperature"))
    if angle < EARLIEST_PEAK_DEG and _burned(top) > COMPRESSION_PEAK:
        found.append(
            Finding(
                code="peak_early",
                severity="warning",
                message=f"the pressure peaks at {peak:.0f} bar {angle:.1f} deg after TDC: under {EARLIEST_PEAK_DEG:.0f} deg it presses "
                "against the crank before it can drive it",
                do="less spark advance; 12 to 18 deg after TDC is usual",
                standing="common practice",
                figure=angle,
                limit=EARLIEST_PEAK_DEG,
                unit="deg",
                effect="pressure and heat rise on piston, studs and gasket, power does not",
            )
        )
    if hot > HOTTEST_END_GAS_K:
        found.append(
            Finding(
                code="end_gas_beyond_model",
                severity="note",
                message=f"the end gas comes to {hot:.0f} K: over {HOTTEST_END_GAS_K:.0f} K its polynomials are out of their range",
                do="take the knock margin as gone, not as a figure",
                standing="published",
                source="NASA TM-4513, ranges of its polynomials",
                figure=hot,
                limit=HOTTEST_END_GAS_K,
                unit="K",
                effect="end gas that hot ignites by itself",
            )
        )
    return [*found, *octane_findings(top)]


def _burned(top: TopEnd) -> float:
    """Share of the burn's angle that has passed where the pressure peaks."""
    names = ("peak_pressure_angle", "burn.start", "burn.duration")
    values = wiring.run(wiring.plan(top.row.structure, names), top.values)
    peak, start, duration = (float(values[name][0]) for name in names)
    return (peak - start) / duration


def _lost() -> Finding:
    return Finding(
        code="cycle_not_followed",
        severity="warning",
        message="the closed cycle cannot be followed with these figures: pressures, knock and what rests on them have no value, and "
        "nothing is judged by them",
        do="look at the burn, the speed and the heat loss; far from what engines do the march's steps are too long",
        standing="geometry",
        effect="silence on knock is no proof that it does not",
    )


def _knock(result: Result) -> list[Finding]:
    margin = uncertainty(result.top, ["knock_margin"])["knock_margin"]
    least = margin.value - COVERAGE * margin.u
    if least > 0.0:
        return []
    knocks = margin.value <= 0.0
    spent = 1.0 - margin.value
    return [
        Finding(
            code="knocks" if knocks else "may_knock",
            severity="warning",
            message=f"the end gas spends {spent:.2f} of its time to ignition before it burns"
            + (": it knocks" if knocks else f"; within the limits it may be {1.0 - least:.2f}: that it does not knock is not proven"),
            do="less spark advance, a larger chamber or a thicker gasket, fuel of a higher octane number: "
            "topend.knock_limits tells by how much; or state charge and burn more closely",
            standing="memory",
            source="Livengood and Wu (1955) with the delay of Douaud and Eyzat, SAE 780080",
            figure=margin.value if knocks else least,
            limit=0.0,
            effect="a pitted crown and head edge, a broken ring land, a seized piston: holed in seconds at full load",
        )
    ]


def octane_number(top: TopEnd) -> float:
    """The octane number that the knock delay of `top` is taken with: stated, else that of its fuel.

    >>> octane_number(TopEnd(charge={"fuel": "methanol"}))
    106.0
    """
    planned = wiring.plan(top.row.structure, ("charge.octane",))
    return float(wiring.run(planned, top.values)["charge.octane"][0])


def octane_findings(top: TopEnd) -> list[Finding]:
    """That the octane number lies beyond those that the delay was measured with; nothing where it does not.

    >>> [one.code for one in octane_findings(TopEnd(charge={"ron": "78"}))]
    ['octane_beyond_delay']
    """
    octane = octane_number(top)
    low, high = OCTANES
    if low - _NOTHING <= octane <= high + _NOTHING:
        return []
    return [
        Finding(
            code="octane_beyond_delay",
            severity="note",
            message=f"an octane number of {octane:.4g} is outside {low:.0f} to {high:.0f}, which the knock delay was measured with",
            do="compare heads with the same fuel alone, not this fuel with another",
            standing="memory",
            source="Douaud and Eyzat, SAE 780080",
            figure=octane,
            limit=low if octane < low else high,
            effect="the knock margin is an extrapolation",
        )
    ]
