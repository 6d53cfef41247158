"""All findings together: the library's own, and those that data packs add."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from topend.checks import clamping, cycle, fits, gap, heat, location, ports, ratio, sealing, skirt, slips, speed, squish
from topend.errors import must_be
from topend.evaluation import Result, evaluate
from topend.extra_findings import judged
from topend.quantities import ExtraFinding, Finding

__all__ = ["findings"]

_OWN: Final[tuple[Callable[[Result], list[Finding]], ...]] = (
    slips.findings,
    gap.findings,
    speed.findings,
    squish.findings,
    ratio.findings,
    fits.findings,
    ports.findings,
    skirt.findings,
    heat.findings,
    sealing.findings,
    clamping.findings,
    cycle.findings,
    location.findings,
)


def findings(result: Result, *, extra: Iterable[ExtraFinding] = ()) -> list[Finding]:
    """What is wrong or risky in an evaluated top end; an empty list is no proof that it is safe.

    First what the library itself judges, then what the code of data packs does whose judgements the top end of `result` carries
    (`TopEnd.with_findings`): each with its `pack`. Neither depends on which outputs `result` was asked for. `extra` are more
    such judgements (``catalogue.extra_findings``), which see `result` as it is. Raises `PackError` where their code fails.

    >>> import topend as te
    >>> thin = te.TopEnd(deck=te.DeckReading(clearance="0.2 mm"), head=te.FlushHead(),
    ...                  head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> [finding.code for finding in te.findings(te.evaluate(thin))]
    ['gap_small', 'least_gap_unknown']
    """
    must_be("findings", "result", result, Result, "; give it evaluate(top)")
    found = [one for judge in _OWN for one in judge(result)]
    carried = result.top.extra_findings
    if carried:
        # a result of their own: all that can be had, with what their packs add, and none that they could change for others
        whole = evaluate(result.top, extra=[made for one in carried for made in one.outputs])
        found += [said for one in carried for said in judged(one, whole, declared=True)]
    return found + [said for one in extra if one not in carried for said in judged(one, result, declared=False)]
