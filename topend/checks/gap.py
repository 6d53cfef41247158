"""Findings about the squish gap as it stands on the bench."""

from __future__ import annotations

from typing import Final

from topend.evaluation import Result, evaluate
from topend.quantities import Finding

__all__ = ["LEAST_GAP_MM", "findings"]

#: Common practice: a least gap under this may close to nearly nothing at speed.
LEAST_GAP_MM: Final = 0.6
#: Sums of decimals differ by less.
_NOTHING_MM: Final = 1e-9
_JUDGED: Final = ("squish_edge", "squish_min", "squish_inner", "contact_min")


def findings(result: Result) -> list[Finding]:
    """What is wrong or risky in an evaluated top end; an empty list is no proof that it is safe.

    What is judged does not depend on which outputs `result` was asked for.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import DeckReading, FlushHead, Gasket
    >>> thin = TopEnd(deck=DeckReading(clearance="0.2 mm"), head=FlushHead(), head_gaskets=[Gasket(role="head", thickness="0.3 mm")])
    >>> [finding.code for finding in findings(evaluate(thin))]
    ['gap_small', 'least_gap_unknown']
    """
    found: list[Finding] = []
    if any(name not in result and name not in result.missing for name in _JUDGED):
        result = evaluate(result.top)
    name = "squish_min" if "squish_min" in result else "squish_edge" if "squish_edge" in result else None
    if name is None:
        return found
    gap = result.shown(name)
    inner = name == "squish_min" and gap < result.shown("squish_edge") - _NOTHING_MM
    # a crown that reaches under the wall of the recess, or under the gasket face, may come nearer there than in the band
    beyond = "contact_min" in result and result.shown("contact_min") < gap - _NOTHING_MM
    if beyond:
        gap = result.shown("contact_min")
    if gap < LEAST_GAP_MM - _NOTHING_MM:
        where = "at the band's outer edge"
        if beyond:
            where = f"between crown and head outside the band, where the band shows {result.shown(name):.3f} mm"
        elif inner:
            at_inner = abs(gap - result.shown("squish_inner")) < _NOTHING_MM
            where = "at the band's inner edge" if at_inner else "inside the band"
            where += f", where the outer edge shows {result.shown('squish_edge'):.3f} mm"
        found.append(
            Finding(
                code="gap_small",
                severity="warning",
                message=f"least gap {gap:.3f} mm {where}: under {LEAST_GAP_MM} mm it may close to nearly nothing at speed",
                do="a thicker base or head gasket, a head that stands less proud, or a band angle nearer to the crown's slope",
                standing="common practice",
                figure=gap,
                limit=LEAST_GAP_MM,
                unit="mm",
            )
        )
    if name == "squish_edge":
        needs = ", ".join(result.missing["squish_min"])
        found.append(
            Finding(
                code="least_gap_unknown",
                severity="warning",
                message="only the gap at the band's outer edge is known; "
                "under a domed crown the least gap lies further in and may be far smaller",
                do=f"give {needs}",
                standing="geometry",
            )
        )
    return found
