"""What a job asks, as records: the job itself, the packs it uses, and the arguments of each solver as written in the file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

from topend.assembly import TopEnd
from topend.parts import Crank, Cutter, GasketSet, Piston
from topend.parts.head import FlushHead, SpigotHead

__all__ = ["CompareRequest", "CorrectRequest", "DesignRequest", "Figure", "FitRequest", "Job", "PackUsed", "SwapRequest"]

Figure = float | str


@dataclass(frozen=True)
class PackUsed:
    """A pack that a job took a part from: its id, its version, and the SHA-256 of what it says."""

    id: str
    version: str
    digest: str = ""

    def __str__(self) -> str:
        return f"{self.id} {self.version}"

    @property
    def told(self) -> str:
        """The same with the beginning of the digest, as cards and answers show it."""
        return f"{self}, sha256 {self.digest[:12]}"


@dataclass(frozen=True)
class FitRequest:
    """What a job's [fit] asks: the arguments of `fit_gaskets`, figures as written in the file.

    `heads` None: the job's own head. `head_count` None: it follows from how each head seals. `least_gap` None: lifted.
    """

    stock: GasketSet
    heads: tuple[FlushHead | SpigotHead, ...] | None = None
    base_count: tuple[int, int] = (1, 3)
    head_count: tuple[int, int] | None = None
    least_gap: str | None = "0.6 mm"
    best: int = 10
    targets: Mapping[str, tuple[Figure, Figure]] = field(default_factory=dict)
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``fit_gaskets(job.top, **job.fit.arguments())``."""
        names = ("stock", "heads", "base_count", "head_count", "least_gap", "best", "at_most", "at_least")
        return {**{name: getattr(self, name) for name in names}, **self.targets}


@dataclass(frozen=True)
class CorrectRequest:
    """What a job's [correct] asks: the arguments of `correct`, figures as written in the file. `stock` None: the gaskets fitted stay."""

    allow: Mapping[str, Any]
    stock: GasketSet | None = None
    base_count: tuple[int, int] = (1, 3)
    head_count: tuple[int, int] | None = None
    least_gap: str | None = "0.6 mm"
    best: int = 5
    targets: Mapping[str, tuple[Figure, Figure]] = field(default_factory=dict)
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``correct(job.top, **job.correct.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class CompareRequest:
    """What a job's [compare] asks: the arguments of `compare`, figures as written in the file."""

    heads: tuple[FlushHead | SpigotHead, ...]
    aims: Mapping[str, Any]
    gaps: tuple[str, ...] | None = None
    speeds: tuple[str, ...] | None = None
    by: str = "base"
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``compare(job.top, **job.compare.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class DesignRequest:
    """What a job's [design] asks: the arguments of `design_head`, figures as written in the file."""

    targets: Mapping[str, Figure]
    free: tuple[str, ...] | None = None
    limits: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    cutter: Cutter | None = None
    spread: Figure | None = None

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``design_head(job.top, **job.design.arguments())``."""
        return {"free": self.free, "limits": self.limits, "cutter": self.cutter, "spread": self.spread, **self.targets}


@dataclass(frozen=True)
class SwapRequest:
    """What a job's [swap] asks: the arguments of `swap`, sizes as written in the file."""

    crank: Crank | None = None
    piston: Piston | None = None
    spacer: str | None = None
    spacer_window: str | None = None

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``swap(job.top, **job.swap.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class Job:
    """A job file as read.

    `ids` says which parts came from a catalogue, by their place in the file: ``{"cylinder": "fellside/rigg50", ...}``; a part
    that was changed in the job is there too. `packs` are those that a part came from.

    Made by `te.load_job`, whose example shows one.
    """

    file: str
    title: str
    top: TopEnd
    fit: FitRequest | None = None
    packs: tuple[PackUsed, ...] = ()
    ids: Mapping[str, str] = field(default_factory=dict)
    correct: CorrectRequest | None = None
    compare: CompareRequest | None = None
    design: DesignRequest | None = None
    swap: SwapRequest | None = None
