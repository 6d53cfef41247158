"""Where every number of a row comes from: fixed, along an axis, drawn between limits, or the sum of a stack bound to a reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from topend.physics import wiring

__all__ = ["Along", "Drawn", "Fixed", "Group", "Source", "Stack", "is_drawn", "signature"]


@dataclass(frozen=True, slots=True)
class Fixed:
    """A value that is one for the whole of a variant."""

    si: float


@dataclass(frozen=True, slots=True)
class Along:
    """A value that an axis sets."""

    axis: int
    which: int


@dataclass(frozen=True, slots=True)
class Drawn:
    """A value drawn between its limits, in the unit of the inputs table."""

    stream: str
    unit: str
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Stack:
    """The thickness of a stack under a reading that was bound to it, summed as the assembly does it."""

    gaskets: tuple[Fixed | Drawn, ...]


Source = Fixed | Along | Drawn | Stack


def signature(source: Source) -> Any:
    """What must be the same for variants to be worked out as one set of columns."""
    if isinstance(source, Drawn):
        return "drawn", source.stream, source.unit
    return "fixed" if isinstance(source, Fixed) else source


def is_drawn(source: Source) -> bool:
    """Whether a draw moves it."""
    return isinstance(source, Drawn) or (isinstance(source, Stack) and any(map(is_drawn, source.gaskets)))


@dataclass(frozen=True, eq=False)
class Group:
    """Variants that differ in numbers only: one structure, one set of columns."""

    structure: wiring.Structure
    #: by path, the source in each variant; equal ones stand once
    sources: Mapping[str, tuple[Source, ...]]
    refused: int = 0
