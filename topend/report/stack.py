"""The gaskets of a top end from the case up: each with what is counted of it, and each stack as a whole."""

from __future__ import annotations

from typing import Any

from topend.assembly import TopEnd
from topend.parts import Gasket
from topend.report import words
from topend.units import StatedQuantity

__all__ = ["gasket_dict", "gasket_rows", "stack_notes", "stack_of"]


def stack_of(top: TopEnd) -> list[tuple[str, Gasket]]:
    """Each gasket with its role, from the case up."""
    return [("base", gasket) for gasket in top.base_gaskets or ()] + [("head", gasket) for gasket in top.head_gaskets or ()]


def gasket_rows(top: TopEnd) -> list[tuple[str, str, str, str, str]]:
    """Role, name, nominal thickness, thickness as counted, and opening of each gasket, from the case up."""
    return [
        (role, words.gasket_name(gasket), gasket.thickness.text, _fitted_words(gasket), _opening_words(gasket))
        for role, gasket in stack_of(top)
    ]


def stack_notes(top: TopEnd) -> list[str]:
    """What there is to say of a stack as a whole: none, not given, or how much its gaskets make together."""
    notes = []
    for stack, gaskets in (("base gaskets", top.base_gaskets), ("head gaskets", top.head_gaskets)):
        if gaskets is None:
            by_ring = stack == "head gaskets" and top.head is not None and top.head.seal == "o-ring"
            notes.append(f"{stack}: none, the head seals by an O-ring" if by_ring else f"{stack}: not given")
        elif not gaskets:
            notes.append(f"{stack}: none")
        elif len(gaskets) > 1:
            total = sum(gasket.fitted.si for gasket in gaskets) * 1e3
            notes.append(f"{stack}: {len(gaskets)} together {total:.{max(_decimals(gasket.fitted) for gasket in gaskets)}f} mm fitted")
    return notes


def gasket_dict(role: str, gasket: Gasket) -> dict[str, Any]:
    """A gasket as plain data."""
    return {
        "role": role,
        "name": gasket.name,
        "material": gasket.material,
        "nominal": {"value": gasket.thickness.m_as("mm"), "unit": "mm"},
        "fitted": {"value": gasket.fitted.m_as("mm"), "unit": "mm", "assumed": gasket.fitted_thickness is None},
    }


def _fitted_words(gasket: Gasket) -> str:
    if gasket.fitted_thickness is not None:
        return gasket.fitted_thickness.text
    return f"{gasket.thickness._magnitude:.{_decimals(gasket.thickness)}f} {gasket.thickness.stated_unit} assumed"


def _opening_words(gasket: Gasket) -> str:
    return "" if gasket.opening is None else f"opening {gasket.opening.text}"


def _decimals(value: StatedQuantity) -> int:
    """Decimals of a length in mm as it was written; three where nothing was."""
    return value.decimals if value.decimals is not None and value.stated_unit == "mm" else 3
