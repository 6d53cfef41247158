"""What findings read: values of the wiring for the top end of a result, whatever outputs it was asked for."""

from __future__ import annotations

from topend.evaluation import Result
from topend.physics import wiring

__all__ = ["known_mm", "known_si"]


def known_si(result: Result, *names: str) -> list[float] | None:
    """SI values of names of the wiring, or None where one of them cannot be had.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Crank
    >>> known_si(evaluate(TopEnd(crank=Crank(stroke="40 mm"))), "crank.throw")
    [0.02]
    """
    planned = wiring.plan(result.top.row.structure, names)
    if planned.missing:
        return None
    values = wiring.run(planned, result.top.values)
    return [float(values[name][0]) for name in names]


def known_mm(result: Result, *names: str) -> list[float] | None:
    """The same lengths in mm.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> known_mm(evaluate(TopEnd()), "crank.throw") is None
    True
    """
    found = known_si(result, *names)
    return None if found is None else [one * 1e3 for one in found]
