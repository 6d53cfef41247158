"""What was asked of a solver, and what is missed of it, in words and as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from topend.quantities import OUTPUTS
from topend.report.layout import paragraph
from topend.solve.answers import Miss

__all__ = ["asked_dict", "asked_rows", "by_text", "miss_dict", "miss_lines", "said", "with_unit"]


def said(value: Any) -> Any:
    """A value as it was asked: text as it is, a quantity as text, a number as a number."""
    if hasattr(value, "m_as"):
        return getattr(value, "text", None) or f"{value:~P}"
    return value


def with_unit(name: str, value: Any) -> str:
    """The same as text with its unit, each once.

    >>> with_unit("compression_ratio", 12.5), with_unit("squish_min", "0.90 mm")
    ('12.5', '0.90 mm')
    """
    told = str(said(value))
    unit = OUTPUTS[name].unit if name in OUTPUTS else ""
    # "0.90 mm ± 0.08 mm" needs no second unit; a bare ratio has none
    return told if unit == "–" or not told.replace(".", "", 1).isdigit() else f"{told} {unit}"


def asked_rows(
    targets: Mapping[str, tuple[Any, Any]], at_least: Mapping[str, Any], at_most: Mapping[str, Any], least_gap: Any
) -> list[tuple[str, str]]:
    """Targets, limits and the floor as rows of label and text."""
    rows = [(name, f"{with_unit(name, value)} ± {said(near)}") for name, (value, near) in targets.items()]
    rows += [(name, f"at least {with_unit(name, value)}") for name, value in at_least.items()]
    rows += [(name, f"at most {with_unit(name, value)}") for name, value in at_most.items()]
    return [*rows, ("least gap", "no floor: lifted on purpose" if least_gap is None else f"at least {said(least_gap)}")]


def asked_dict(
    targets: Mapping[str, tuple[Any, Any]], at_least: Mapping[str, Any], at_most: Mapping[str, Any], least_gap: Any
) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "targets": {name: {"value": said(value), "tolerance": said(near)} for name, (value, near) in targets.items()},
        "at_least": {name: said(value) for name, value in at_least.items()},
        "at_most": {name: said(value) for name, value in at_most.items()},
        "least_gap": None if least_gap is None else said(least_gap),
    }


def by_text(miss: float, decimals: int) -> str:
    """A miss that is too small for the digits shown is still one.

    >>> by_text(0.25, 2), by_text(-0.0004, 2)
    ('0.25', '0.0004')
    """
    told = f"{abs(miss):.{decimals}f}"
    return told if float(told) > 0.0 else f"{abs(miss):.1g}"


def miss_lines(misses: Iterable[Miss], first: str = "    - ") -> list[str]:
    """What is missed, a paragraph each."""
    lines: list[str] = []
    for one in misses:
        unit = "" if one.unit == "–" else f" {one.unit}"
        side = "too much" if one.by > 0.0 else "too little"
        told = f"{one.name} is {one.value:.{one.decimals}f}{unit}, wanted {one.wanted}: {by_text(one.by, one.decimals)}{unit} {side}"
        lines += paragraph(told, first=first)
    return lines


def miss_dict(one: Miss) -> dict[str, Any]:
    """A miss as plain data."""
    return {"name": one.name, "value": one.value, "wanted": one.wanted, "by": one.by, "unit": one.unit}
