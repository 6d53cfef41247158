"""All findings together: the library's own, and those that data packs add."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from topend.checks import clamping, cycle, fits, gap, heat, location, ports, ratio, sealing, skirt, slips, speed, squish
from topend.errors import PackError, Problem, must_be
from topend.evaluation import Result
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

    What the library itself judges does not depend on which outputs `result` was asked for. `extra` are judgements that data packs
    add (``catalogue.extra_findings``), which see `result` as it is; `PackError` where their code fails.

    >>> import topend as te
    >>> thin = te.TopEnd(deck=te.DeckReading(clearance="0.2 mm"), head=te.FlushHead(),
    ...                  head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> [finding.code for finding in te.findings(te.evaluate(thin))]
    ['gap_small', 'least_gap_unknown']
    """
    must_be("findings", "result", result, Result, "; give it evaluate(top)")
    found = [one for judge in _OWN for one in judge(result)]
    for one in extra:
        try:
            more = list(one.judge(result))
            for finding in more:
                if not isinstance(finding, Finding):
                    raise TypeError(f"it yields a {type(finding).__name__}; it must yield Finding records")
        except Exception as fault:
            problem = Problem(f"the finding {one.name}", f"fails: {type(fault).__name__}: {fault}")
            raise PackError(f"pack {one.pack or '(not named)'}", [problem]) from fault
        found += more
    return found
