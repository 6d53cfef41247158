"""Findings about the gap at speed."""

from __future__ import annotations

import numpy as np

from topend.evaluation import Result
from topend.learning import learn
from topend.physics import wiring
from topend.quantities import Finding
from topend.uncertainty import COVERAGE, uncertainty

__all__ = ["findings"]

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
