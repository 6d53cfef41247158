"""Findings about the compression ratio, against what fuel and cooling bear. The limits are from memory."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from topend.checks.values import known_si
from topend.evaluation import Result
from topend.quantities import Finding

__all__ = ["TRAPPED", "findings"]

#: Trapped ratio by fuel, cooled by air and by water: guidelines from memory; what an engine bears goes by its chamber, its gap,
#: its timing of spark and its load.
TRAPPED: Final[Mapping[str, Mapping[str, float]]] = {
    "petrol": {"air": 6.5, "water": 7.2},
    "racing petrol": {"air": 7.2, "water": 8.0},
    "methanol": {"air": 9.0, "water": 10.5},
}
_NOTHING: Final = 1e-9


def findings(result: Result) -> list[Finding]:
    """Whether the trapped ratio is over the guideline for the fuel that is stated; nothing where no fuel is.

    Where nothing is said of cooling, that by air counts, which bears less.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> findings(evaluate(TopEnd()))
    []
    """
    running, cylinder = result.top.running, result.top.cylinder
    fuel = None if running is None else running.fuel
    known = known_si(result, "trapped_compression_ratio")
    if fuel is None or known is None:
        return []
    stated = None if cylinder is None else cylinder.cooling
    cooling, (ratio,) = stated or "air", known
    limit = TRAPPED[fuel][cooling]
    if ratio <= limit + _NOTHING:
        return []
    by = f"cooled by {cooling}" if stated else "with nothing said of its cooling, so as by air"
    return [
        Finding(
            code="ratio_high_for_fuel",
            severity="warning",
            message=f"the trapped ratio is {ratio:.2f}: on {fuel}, {by}, {limit:g} is a guideline",
            do="a larger chamber, a thicker head gasket, a fuel that bears more, or a later spark; listen for knock, and read the plug",
            standing="memory",
            source="guidelines; what an engine bears goes by chamber, gap, spark and load",
            figure=ratio,
            limit=limit,
            unit="–",
            effect="it knocks under load: pitted crown and band, broken ring lands, a holed piston",
        )
    ]
