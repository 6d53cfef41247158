"""Findings about how gaskets, deck and ring lie to each other."""

from __future__ import annotations

import math
from typing import Final

from topend.checks.values import known_mm
from topend.evaluation import Result, evaluate
from topend.physics import wiring
from topend.quantities import Finding

__all__ = ["MANY_GASKETS", "RING_MM", "SIDE_ROOM_MM", "TIMING_DEG", "findings"]

#: Gaskets in one stack: a spacer brings a second gasket, and that is three.
MANY_GASKETS: Final = 3
#: Room beside a piston that comes out of the bore.
SIDE_ROOM_MM: Final = 0.25
#: The top ring's upper side below the deck at TDC: less may lie in the bore's chamfer.
RING_MM: Final = 1.0
#: How far a base stack may move the exhaust's duration before it is said.
TIMING_DEG: Final = 2.0
_NOTHING: Final = 1e-9


def findings(result: Result) -> list[Finding]:
    """What is to be said of gaskets, deck and ring; what is judged does not depend on which outputs `result` was asked for.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Gasket
    >>> stack = [Gasket(role="base", thickness="0.2 mm")] * 4
    >>> [finding.code for finding in findings(evaluate(TopEnd(base_gaskets=stack)))]
    ['many_gaskets']
    """
    return [*_many(result), *_hanging(result), *_side_room(result), *_ring(result), *_timing(result)]


def _many(result: Result) -> list[Finding]:
    found = []
    for role, stack in (("base", result.top.base_gaskets), ("head", result.top.head_gaskets)):
        count = len(stack or ())
        if count > MANY_GASKETS:
            found.append(
                Finding(
                    code="many_gaskets",
                    severity="note",
                    message=f"{count} {role} gaskets in one stack, where {MANY_GASKETS} are the most that is usual",
                    do="a spacer of the thickness with one gasket on each side",
                    standing="common practice",
                    figure=float(count),
                    limit=float(MANY_GASKETS),
                    unit="pcs",
                    effect="every joint may leak and sets by itself: the nuts lose tension and the gap its figure",
                )
            )
    return found


def _hanging(result: Result) -> list[Finding]:
    head = result.top.head
    recess = None if head is None else getattr(head, "recess_diameter", None)
    offset = None if head is None else head.recess_offset
    if recess is None or offset is None or offset.si <= 0.0:
        return []
    found = []
    for index, gasket in enumerate(result.top.head_gaskets or ()):
        if gasket.opening is not None and recess.si - gasket.opening.si > 1e-9:
            hangs = (recess.si - gasket.opening.si) * 500.0
            found.append(
                Finding(
                    code="gasket_hangs",
                    severity="warning",
                    message=f"head_gaskets.{index}: its opening ({gasket.opening.text}) is smaller than the recess ({recess.text}): "
                    f"{hangs:.2f} mm of it hang free",
                    do="a gasket whose opening is no smaller than the recess",
                    standing="common practice",
                    figure=gasket.opening.m_as("mm"),
                    limit=recess.m_as("mm"),
                    unit="mm",
                    effect="its edge glows and knocks, and in the end it burns through",
                )
            )
    return found


def _side_room(result: Result) -> list[Finding]:
    """A piston that stands above the deck moves inside gasket and recess."""
    deck = known_mm(result, "deck_clearance", "piston.diameter")
    if deck is None or deck[0] >= -_NOTHING:
        return []
    above, piston = -deck[0], deck[1]
    head = result.top.head
    around = [
        (f"head_gaskets.{index}.opening", gasket.opening.m_as("mm"))
        for index, gasket in enumerate(result.top.head_gaskets or ())
        if gasket.opening is not None
    ]
    recess = None if head is None else getattr(head, "recess_diameter", None)
    thickness = sum(gasket.fitted.m_as("mm") for gasket in result.top.head_gaskets or ())
    if recess is not None and above > thickness:
        around.append(("head.recess_diameter", recess.m_as("mm")))
    if not around:
        return []
    path, tightest = min(around, key=lambda one: one[1])
    room = (tightest - piston) / 2.0
    if room >= SIDE_ROOM_MM - _NOTHING:
        return []
    return [
        Finding(
            code="side_room_small",
            severity="warning",
            message=f"the piston stands {above:.3f} mm above the deck at TDC and has {room:.3f} mm of room beside it in {path}",
            do="a wider opening or recess, or a thicker base gasket that brings the piston below the deck",
            standing="memory",
            figure=room,
            limit=SIDE_ROOM_MM,
            unit="mm",
            effect="a piston that rocks touches gasket or recess with its crown's edge",
        )
    ]


def _ring(result: Result) -> list[Finding]:
    known = known_mm(result, "deck_clearance", "piston.top_land")
    if known is None:
        return []
    below = known[0] + known[1]
    chamfer = known_mm(result, "cylinder.bore_chamfer")
    limit = RING_MM if chamfer is None else chamfer[0]
    if below >= limit - _NOTHING:
        return []
    out = below <= _NOTHING
    runs = "it may run into the chamfer of the bore" if chamfer is None else f"it runs into the chamfer of the bore, {limit:.2f} mm high"
    where = f"{-below:.3f} mm above the deck" if below < 0.0 else f"{below:.3f} mm below the deck"
    return [
        Finding(
            code="ring_near_deck",
            severity="warning" if out or chamfer is not None else "note",
            message=f"the top ring's upper side comes to {where} at TDC" + (": it leaves the bore" if out else f": {runs}"),
            do="a thicker base gasket, or a piston with a deeper top land",
            standing="memory" if chamfer is None else "geometry",
            figure=below,
            limit=limit,
            unit="mm",
            effect="the ring springs out and catches on its way down: it breaks, and scores the bore",
        )
    ]


def _timing(result: Result) -> list[Finding]:
    deck, top = result.top.deck, result.top
    if deck is None or deck.base_thickness is None or top.base_gaskets is None:
        return []
    planned = wiring.plan(top.row.structure, ("exhaust_duration", "base.thickness"))
    if planned.missing:
        return []
    now = evaluate(top, ["exhaust_duration"]).shown("exhaust_duration")
    values = wiring.run(planned, {**top.row.columns(), "base.thickness": top.row.columns()["deck.base_thickness"]})
    then = float(values["exhaust_duration"][0]) * 180.0 / math.pi
    if abs(now - then) <= TIMING_DEG + _NOTHING:
        return []
    more = "longer" if now > then else "shorter"
    return [
        Finding(
            code="timing_moved",
            severity="note",
            message=f"the base stack makes the exhaust open {abs(now - then):.1f} deg {more} than the stack under the deck reading: "
            f"{now:.1f} deg instead of {then:.1f}",
            do="set the gap with the head gasket or the head, and the timing with the base stack",
            standing="geometry",
            source="2 deg is our own limit for saying so",
            figure=abs(now - then),
            limit=TIMING_DEG,
            unit="deg",
            effect="power moves up in speed with a longer exhaust, and down with a shorter one; the trapped ratio goes the other way",
        )
    ]
