"""What the tables of quantities hold, and what findings and packs add: records."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

__all__ = ["Basis", "ExtraFinding", "ExtraOutput", "Finding", "Input", "Output", "Standing", "Status"]


@dataclass(frozen=True, slots=True)
class Output:
    """One number the library works out: name, the unit it is shown in, what it means, where the relation is from.

    The table of them, with all inputs, is `te.glossary`.
    """

    name: str
    unit: str
    meaning: str
    source: str
    #: decimals beyond which nobody in the trade reads it
    decimals: int = 3
    #: worked out only where it is asked for by name: what rests on wide defaults, and would slow every other answer
    when_named: bool = False


@dataclass(frozen=True, slots=True)
class Input:
    """One number somebody states: its path in the tree, the unit it is shown in, what it means."""

    path: str
    unit: str
    meaning: str


#: How a figure came about.
Basis = Literal["measured", "published", "derived", "estimated", "invented"]
Standing = Literal["published", "common practice", "memory", "geometry"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about a top end that a builder should know: the figure, the limit, and where the limit comes from.

    Made by `te.findings`, whose example shows them.
    """

    code: str
    severity: Literal["note", "warning", "refusal"]
    message: str
    do: str
    standing: Standing
    source: str = ""
    figure: float | None = None
    limit: float | None = None
    unit: str = ""
    #: what it does to an engine
    effect: str = ""
    #: the id of the pack whose code finds it, "" where that is of no pack, None where topend itself does
    pack: str | None = None
    #: SHA-256 of what that pack says and does
    digest: str = ""

    @property
    def margin(self) -> float | None:
        """Figure less limit, in their unit; None where either is not a number."""
        return None if self.figure is None or self.limit is None else self.figure - self.limit


@dataclass(frozen=True, slots=True)
class ExtraOutput:
    """An output that a data pack adds: what it is, which quantities it needs, and how it is worked out of them.

    `needs` are names of the outputs table or paths of the inputs table. `work` takes them in that order as SI arrays of
    one shape and returns an SI array of that shape, NaN outside its domain; every row for itself, and from nothing else, as it is run
    on one row and on a million. `pack` is the id of the pack it is from, and `digest` the SHA-256 of what that says and does: the
    catalogue sets both.
    """

    output: Output
    needs: tuple[str, ...]
    work: Callable[..., Any]
    pack: str = ""
    digest: str = ""


@dataclass(frozen=True, slots=True)
class ExtraFinding:
    """A judgement that a data pack adds: its name, and a function from an evaluated result to what it finds.

    `codes` are those of all that it may find; not given: its name is the one. `pack` is the id of the pack it is from, `digest` the
    SHA-256 of what that says and does, and `outputs` what that adds to the result that is judged: the catalogue sets these three.
    """

    name: str
    judge: Callable[[Any], Iterable[Finding]]
    pack: str = ""
    codes: tuple[str, ...] = ()
    digest: str = ""
    outputs: tuple[ExtraOutput, ...] = ()


@dataclass(frozen=True, slots=True)
class Status:
    """Why a row cannot be a top end: the code in a study's `status` column, the reason's name, what it says."""

    code: int
    reason: str
    meaning: str
    needs: tuple[str, ...] = field(default=())
