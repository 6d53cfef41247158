"""Findings about fits that close when they are hot."""

from __future__ import annotations

from typing import Final

from topend.evaluation import Result
from topend.physics import wiring
from topend.quantities import Finding
from topend.uncertainty import COVERAGE, uncertainty

__all__ = ["findings"]

#: Output: code, what closes, what it does to an engine, what to change.
_FITS: Final = {
    "skirt_clearance_hot": (
        "skirt_binds_hot",
        "piston to bore",
        "the piston seizes, on its skirt first",
        "more clearance cold, a piston alloy that grows less, or better cooling",
    ),
    "ring_gap_hot": (
        "ring_butts_hot",
        "a ring's gap",
        "the ring's ends butt: it scores the bore, and breaks",
        "file the ring's gap wider; 0.002 to 0.004 of the bore is usual, cold",
    ),
    "spigot_clearance_hot": (
        "spigot_binds_hot",
        "spigot to bore",
        "the head binds in the bore: it cannot be drawn down, or pushes the bore out of round",
        "a spigot turned smaller",
    ),
}


def findings(result: Result) -> list[Finding]:
    """Which fits are gone hot, or may be within the limits of what is known; nothing where no rise is stated.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Cylinder, Piston, PistonRing, Running
    >>> tight = TopEnd(cylinder=Cylinder(bore="54 mm", expansion="11.4 µm/m/K"),
    ...                piston=Piston(rings=[PistonRing(gap="0.10 mm", expansion="11.4 µm/m/K")]),
    ...                running=Running(crank_speed="9000 rpm", ring_rise="160 K", cylinder_rise="90 K"))
    >>> [finding.code for finding in findings(evaluate(tight))]
    ['ring_butts_hot']
    """
    running = result.top.running
    if running is None or running.cylinder_rise is None:
        return []
    missing = wiring.plan(result.top.row.structure, tuple(_FITS)).missing
    found = []
    for name, one in uncertainty(result.top, [name for name in _FITS if name not in missing]).items():
        code, what, effect, do = _FITS[name]
        least = one.value - COVERAGE * one.u
        if least > 0.0:
            continue
        gone = one.value <= 0.0
        told = f"{what} comes to {one.value:.3f} mm hot" if gone else f"{what}, {one.value:.3f} mm hot, may be as little as {least:.3f} mm"
        found.append(
            Finding(
                code=code,
                severity="warning",
                message=f"{told}: {'it is gone' if gone else 'that it is not gone is not proven'}",
                do=do,
                standing="geometry",
                source="rises as stated, expansions of the materials table (docs/closing.md)",
                figure=one.value if gone else least,
                limit=0.0,
                unit="mm",
                effect=effect,
            )
        )
    return found
