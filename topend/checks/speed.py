"""Findings about the gap at speed."""

from __future__ import annotations

from typing import Final

import numpy as np

from topend.evaluation import Result
from topend.learning import learn
from topend.physics import wiring
from topend.quantities import Finding
from topend.uncertainty import COVERAGE, uncertainty

__all__ = ["SPEED_RPM", "findings"]

#: Crank speeds between which small two-strokes run; from memory, and wide: beyond them a digit too many or too few is likelier.
SPEED_RPM: Final = (1000.0, 22000.0)
_NAMES = ("running_clearance", "closure_total")


def findings(result: Result) -> list[Finding]:
    """Whether the closing at the stated speed takes the whole of the least gap: it touches, or may. Never that it does not.

    Nothing without a crank speed or a least gap. Limits of the inputs count as in `uncertainty`, twice the standard uncertainty; where
    engines of the family were opened (`Crank.opened`), what they leave possible counts instead.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Crank
    >>> findings(evaluate(TopEnd(crank=Crank(stroke="40 mm"))))
    []
    """
    return [*_unusual(result), *_touching(result)]


def _unusual(result: Result) -> list[Finding]:
    running = result.top.running
    if running is None or running.crank_speed is None:
        return []
    speed, (low, high) = running.crank_speed.m_as("rpm"), SPEED_RPM
    if low <= speed <= high:
        return []
    limit = high if speed > high else low
    return [
        Finding(
            code="crank_speed_unusual",
            severity="note",
            message=f"a crank speed of {running.crank_speed.text} is {'over' if speed > high else 'under'} "
            f"the {low:g} to {high:g} rpm that small two-strokes run at",
            do="look whether a digit is missing or too many, and whether it is turns a minute",
            standing="memory",
            source="the range is our own and wide",
            figure=speed,
            limit=limit,
            unit="rpm",
            effect="closing at speed goes with the square of it, so all that is said of the gap at speed is wrong by that",
        )
    ]


def _touching(result: Result) -> list[Finding]:
    top = result.top
    if wiring.plan(top.row.structure, _NAMES).missing:
        return []
    made = uncertainty(top, _NAMES)
    left, closing = made["running_clearance"], made["closure_total"]
    gap = left.value + closing.value
    value, least, closes, ends = left.value, left.value - COVERAGE * left.u, closing.value, closing.interval
    assumed = any(share.basis == "assumed" for share in closing.shares)
    assert top.running is not None
    opened = (top.crank.opened if top.crank is not None else None) or ()
    if opened:
        # what the family's engines showed stands in for what the limits alone would leave
        family = learn(top)
        drawn = family.left(top)
        value, least = float(np.median(drawn)), float(np.quantile(drawn, 0.025))
        at_speed = family.closing(top, crank_speed_rpm=top.running.crank_speed.m_as("rpm"))
        closes, ends = float(np.median(at_speed)), (float(np.quantile(at_speed, 0.025)), float(np.quantile(at_speed, 0.975)))
    if least > 0.0:
        return []
    speed = top.running.crank_speed.text
    between = " to ".join(f"{max(0.0, end):.2f}" for end in ends)
    touches = value <= 0.0
    told = f", as {len(opened)} opened engines leave it" if opened else ""
    return [
        Finding(
            code="touches_at_speed" if touches else "may_touch_at_speed",
            severity="warning",
            message=f"at {speed}, throttle shut, the least gap of {gap:.3f} mm closes by {closes:.2f} mm ({between} mm{told}): "
            + ("piston and head touch" if touches else "that they do not touch is not proven"),
            do="a thicker base or head gasket, a lighter piston, less clearance in the bearings; or state masses, clearances and stiffness",
            standing="memory" if assumed else "geometry",
            source="the limits of what nobody measured are wide defaults (docs/closing.md)",
            figure=value if touches else least,
            limit=0.0,
            unit="mm",
            effect="the crown knocks on the head: marks at first, then broken rings, a loose pin, a big end run out of round",
        )
    ]
