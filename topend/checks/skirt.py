"""Findings about the ends of the piston that are not in sight: its skirt at the crank and at the exhaust, its crown under the plug."""

from __future__ import annotations

from typing import Final

from topend.checks.values import known_mm
from topend.evaluation import Result
from topend.quantities import Finding

__all__ = ["PLUG_MM", "WEB_MM", "findings"]

#: Skirt to crank webs at BDC, cold: what speed and play take of it at BDC is not worked out.
WEB_MM: Final = 1.0
#: Plug to crown at TDC, cold: what speed takes of it is some tenths of a millimetre.
PLUG_MM: Final = 1.0
_NOTHING: Final = 1e-9


def findings(result: Result) -> list[Finding]:
    """What skirt and crown come too near to; what is judged does not depend on which outputs `result` was asked for.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Cylinder, DeckReading, Piston, Port
    >>> short = TopEnd(cylinder=Cylinder(ports=[Port(kind="exhaust", top="30 mm", floor="55 mm")]),
    ...                piston=Piston(skirt_length="54 mm"), deck=DeckReading(clearance="0.5 mm"))
    >>> [finding.code for finding in findings(evaluate(short))]
    ['exhaust_open_below_skirt']
    """
    return [*_webs(result), *_exhaust(result), *_plug(result)]


def _webs(result: Result) -> list[Finding]:
    known = known_mm(result, "skirt_web_clearance")
    if known is None or known[0] >= WEB_MM - _NOTHING:
        return []
    (room,) = known
    meets = room <= _NOTHING
    return [
        Finding(
            code="skirt_meets_webs",
            severity="warning",
            message=f"at BDC the skirt and the crank webs {f'overlap by {-room:.3f} mm' if meets else f'are {room:.3f} mm apart'}, "
            f"where {WEB_MM:g} mm is the least",
            do="a shorter skirt, a longer rod with a spacer under the barrel, or webs turned down; or state web_width, if the skirt "
            "stands beside the webs",
            standing="geometry" if meets else "memory",
            source="a skirt that is cut away over the webs has more room",
            figure=room,
            limit=WEB_MM,
            unit="mm",
            effect="the skirt is hit once a turn: it cracks, and the pieces go through the engine",
        )
    ]


def _exhaust(result: Result) -> list[Finding]:
    known = known_mm(result, "exhaust_skirt_cover")
    if known is None or known[0] >= -_NOTHING:
        return []
    return [
        Finding(
            code="exhaust_open_below_skirt",
            severity="warning",
            message=f"at TDC the skirt ends {-known[0]:.3f} mm above the exhaust's floor: the port stands open to the crankcase",
            do="a longer skirt, a floor that is not lowered so far, or a thicker base gasket",
            standing="geometry",
            figure=known[0],
            limit=0.0,
            unit="mm",
            effect="the crankcase draws from the exhaust pipe: less fresh charge, a hot skirt, and a weak carburettor signal",
        )
    ]


def _plug(result: Result) -> list[Finding]:
    known = known_mm(result, "plug_clearance")
    if known is None or known[0] >= PLUG_MM - _NOTHING:
        return []
    (room,) = known
    meets = room <= _NOTHING
    return [
        Finding(
            code="plug_near_crown",
            severity="warning",
            message=f"at TDC, cold, plug and crown {f'overlap by {-room:.3f} mm' if meets else f'are {room:.3f} mm apart'}, "
            f"where {PLUG_MM:g} mm is the least",
            do="a plug with a shorter reach or nose, a washer under it, or more gap",
            standing="geometry" if meets else "memory",
            source="the gap closes by some tenths of a millimetre at speed (docs/closing.md)",
            figure=room,
            limit=PLUG_MM,
            unit="mm",
            effect="the crown shuts the plug's gap or breaks its nose: no spark, and a hole in the crown",
        )
    ]
