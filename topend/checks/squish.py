"""Findings about the shape of the squish band and what it does to the gas. They are notes: none of them fails a build alone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

from topend.checks.gap import LEAST_GAP_MM
from topend.checks.values import known_si
from topend.evaluation import Result, evaluate
from topend.physics import wiring
from topend.quantities import Finding
from topend.wires import WirePlace, wire_places

__all__ = ["AREA", "GAP_WIDE_MM", "INSIDE_MM", "SLOPE_DEG", "VELOCITY", "findings"]

#: Common practice: beyond this a band no longer works as one.
GAP_WIDE_MM: Final = 2.0
#: How much nearer crown and head may come inside the band than at its edge before it is said.
INSIDE_MM: Final = 0.10
#: How far the band's angle may lie from the crown's slope, on the mean of the band.
SLOPE_DEG: Final = 4.0
#: m/s below and above which it is said, by use; all from memory. 15 to 20 is a guideline for loop-scavenged engines; engines that pull
#: from low speeds are set to less, racing ones to more.
VELOCITY: Final[Mapping[str | None, tuple[float, float]]] = {
    None: (15.0, 30.0),
    "road": (12.0, 25.0),
    "trial": (8.0, 20.0),
    "racing": (20.0, 40.0),
}
_SET: Final[Mapping[str | None, str]] = {
    None: "most loop-scavenged engines are set to",
    "road": "engines for the road are set to",
    "trial": "engines that pull from low speeds are set to",
    "racing": "racing engines are set to",
}
#: Share of the bore that bands are made to cover; from memory.
AREA: Final = (0.3, 0.6)
_NOTHING: Final = 1e-9
_JUDGED: Final = ("squish_edge", "squish_min", "squish_inner", "squish_velocity_peak")


def findings(result: Result) -> list[Finding]:
    """What is to be said of the band; what is judged does not depend on which outputs `result` was asked for.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import DeckReading, FlushHead, Gasket
    >>> high = TopEnd(deck=DeckReading(clearance="2.0 mm"), head=FlushHead(), head_gaskets=[Gasket(role="head", thickness="0.3 mm")])
    >>> [finding.code for finding in findings(evaluate(high))]
    ['gap_wide']
    """
    if any(name not in result and name not in result.missing for name in _JUDGED):
        result = evaluate(result.top)
    found: list[Finding] = []
    edge = result.shown("squish_edge") if "squish_edge" in result else math.nan
    least = result.shown("squish_min") if "squish_min" in result else math.nan
    widest = least if least == least else edge
    if widest > GAP_WIDE_MM + _NOTHING:
        found.append(
            Finding(
                code="gap_wide",
                severity="note",
                message=f"the gap is {widest:.3f} mm where it is least: over {GAP_WIDE_MM:g} mm a band hardly squeezes the charge",
                do="a thinner base or head gasket, or a head that drops in further",
                standing="common practice",
                figure=widest,
                limit=GAP_WIDE_MM,
                unit="mm",
                effect="little squish, end gas that stays hot in the band, and a lower ratio",
            )
        )
    places = wire_places(result.top)
    # a least gap that is too small besides is told with its place by the findings about the gap
    if edge - least > INSIDE_MM + _NOTHING and least >= LEAST_GAP_MM - _NOTHING:
        found.append(
            Finding(
                code="least_gap_inside",
                severity="note",
                message=f"the least gap, {least:.3f} mm, lies inside the band{_place(places)}, not at the bore, where it is {edge:.3f} mm",
                do=f"{_wire_there(places)}; a band angle nearer to the crown's slope evens it",
                standing="geometry",
                source="a tenth of a millimetre is our own limit for saying so",
                figure=edge - least,
                limit=INSIDE_MM,
                unit="mm",
                effect="wire laid at the bore reads more than there is; the crown meets the head further in first",
            )
        )
    found += _slope(result)
    found += _area(result)
    if "squish_velocity_peak" in result:
        peak = result.shown("squish_velocity_peak")
        running = result.top.running
        use = None if running is None else running.use
        low, high = VELOCITY[use]
        if not low - _NOTHING <= peak <= high + _NOTHING:
            slow = peak < low
            found.append(
                Finding(
                    code="squish_slow" if slow else "squish_fast",
                    severity="note",
                    message=f"squish velocity peaks at {peak:.1f} m/s: {'under' if slow else 'over'} the {low:g} to {high:g} m/s "
                    f"that {_SET[use]}",
                    do="a smaller gap or a wider band" if slow else "a larger gap, a narrower band, or a band that opens inward",
                    standing="memory",
                    source="15 to 20 m/s is a guideline; what is wanted goes by use, which running.use states",
                    figure=peak,
                    limit=low if slow else high,
                    unit="m/s",
                    effect="slow burning and an engine that knocks sooner" if slow else "heat lost to head and crown, and rough running",
                )
            )
    return found


def _place(places: tuple[WirePlace, ...]) -> str:
    return f" at radius {places[1].radius * 1e3:.2f} mm" if len(places) > 1 else ""


def _wire_there(places: tuple[WirePlace, ...]) -> str:
    """What is to be done with the wire: a second one, where the usual one does not show the least gap."""
    if len(places) > 1:
        return "read a second wire there: the sheets ask for it"
    if not places:
        return "no wire lies in so narrow a band: read it by dial through the plug hole"
    return "the wire at its usual place shows it: it is no more than half a tenth of a millimetre greater there"


def _area(result: Result) -> list[Finding]:
    known = known_si(result, "squish_area_ratio")
    low, high = AREA
    if known is None or low - _NOTHING <= known[0] <= high + _NOTHING:
        return []
    (share,) = known
    narrow = share < low
    return [
        Finding(
            code="band_narrow" if narrow else "band_wide",
            severity="note",
            message=f"the band covers {100.0 * share:.1f} % of the bore: {'under' if narrow else 'over'} the {100 * low:.0f} to "
            f"{100 * high:.0f} % that most heads have",
            do="a band that reaches further in" if narrow else "a bowl that reaches further out",
            standing="memory",
            source="a guideline; what is wanted goes by use",
            figure=share,
            limit=low if narrow else high,
            unit="–",
            effect="little squish, whatever the gap" if narrow else "much of the charge lies in the band, cold and unburnt",
        )
    ]


def _slope(result: Result) -> list[Finding]:
    """The band's mean opening toward the centre, as an angle: from the gaps at both its edges."""
    names = ("squish_edge", "squish_inner", "head.band.inner_radius", "head.band.outer_radius", "head.band.slope")
    planned = wiring.plan(result.top.row.structure, names)
    if planned.missing:
        return []
    values = wiring.run(planned, result.top.values)
    edge, inner, inner_radius, outer_radius, slope = (float(values[name][0]) for name in names)
    opening = math.degrees(math.atan((inner - edge) / (outer_radius - inner_radius)))
    if abs(opening) <= SLOPE_DEG + _NOTHING:
        return []
    band = math.degrees(math.atan(slope))
    way = "opens" if opening > 0.0 else "closes"
    return [
        Finding(
            code="band_against_crown",
            severity="note",
            message=f"the band ({band:.1f} deg) does not follow the crown: between its edges the gap {way} by {abs(opening):.1f} deg "
            f"toward the centre, from {edge * 1e3:.3f} to {inner * 1e3:.3f} mm",
            do="a head whose band angle is nearer to the crown's slope",
            standing="memory",
            figure=abs(opening),
            limit=SLOPE_DEG,
            unit="deg",
            effect="the band works over part of its width"
            if opening > 0.0
            else "the band is tightest at its inner edge and traps the charge outside it",
        )
    ]
