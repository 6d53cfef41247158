"""Findings about the gap at speed."""

from __future__ import annotations

from topend.evaluation import Result
from topend.physics import wiring
from topend.quantities import Finding
from topend.uncertainty import COVERAGE, uncertainty

__all__ = ["findings"]

_NAMES = ("running_clearance", "closure_total")


def findings(result: Result) -> list[Finding]:
    """Whether the closing at the stated speed takes the whole of the least gap: it touches, or may. Never that it does not.

    Nothing without a crank speed or a least gap. Limits of the inputs count as in `uncertainty`, twice the standard uncertainty.

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
    least = left.value - COVERAGE * left.u
    if least > 0.0:
        return []
    assert top.running is not None
    speed = top.running.crank_speed.text
    between = " to ".join(f"{max(0.0, end):.2f}" for end in closing.interval)
    gap = left.value + closing.value
    touches = left.value <= 0.0
    return [
        Finding(
            code="touches_at_speed" if touches else "may_touch_at_speed",
            severity="warning",
            message=f"at {speed}, throttle shut, the least gap of {gap:.3f} mm closes by {closing.value:.2f} mm ({between} mm): "
            + ("piston and head touch" if touches else "that they do not touch is not proven"),
            do="a thicker base or head gasket, a lighter piston, less clearance in the bearings; or state masses, clearances and stiffness",
            standing="memory" if any(share.basis == "assumed" for share in closing.shares) else "geometry",
            source="the limits of what nobody measured are wide defaults (docs/closing.md)",
            figure=left.value if touches else least,
            limit=0.0,
            unit="mm",
            effect="the crown knocks on the head: marks at first, then broken rings, a loose pin, a big end run out of round",
        )
    ]
