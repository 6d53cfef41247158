"""What a card rests on that nobody stated, and what it lacks: for text and page alike."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from topend.assembly import TopEnd
from topend.evaluation import Assumed
from topend.parts import Part, Piston, SpigotHead
from topend.quantities import INPUTS
from topend.report.sections import percent

if TYPE_CHECKING:
    from topend.report.card import BenchCard

__all__ = ["Taken", "meaning", "taken_of"]

#: How many outputs an assumption is shown to matter to.
_SHOWN_SHARES: Final = 3
#: Which of them: what a builder decides by, and one of each kind, so that the lines stay short.
_DECIDING: Final = (
    "squish_min",
    "squish_edge",
    "deck_clearance",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_duration",
    "transfer_duration",
    "squish_velocity_peak",
    "clearance_volume",
    "tdc_acceleration",
)


@dataclass(frozen=True, slots=True)
class Taken:
    """An input that was assumed: its path, the value taken in words, why, and its share of the uncertainty in words."""

    path: str
    value: str
    why: str
    share: str


def taken_of(card: BenchCard) -> tuple[Taken, ...]:
    """What a card assumed, in order; what the closing alone takes is told below its table."""
    beside = card.assumed_at_speed
    return tuple(
        Taken(one.path, _value(one), one.why, "" if one.value is None else _share(card, one)) for one in card.assumed if one not in beside
    )


def _value(one: Assumed) -> str:
    """``0.500 mm, may be 0.415 to 0.520 mm``, to two digits of what it may be off by."""
    if one.value is None:
        return ""
    # a ratio has none
    unit = f" {one.value.units:~P}".rstrip()
    value = float(one.value.magnitude)
    if one.limits is None:
        return f"{value:.3f}{unit}" if unit == " mm" else f"{value:.4g}{unit}"
    low, high = (float(end.magnitude) for end in one.limits)
    half = (high - low) / 2.0
    digits = min(3, max(0, 1 - math.floor(math.log10(half)))) if half > 0.0 else 3
    return f"{value:.{digits}f}{unit}, may be {low:.{digits}f} to {high:.{digits}f}{unit}"


def _share(card: BenchCard, one: Assumed) -> str:
    """``its share of the uncertainty: squish_min 12 %``, of what a builder decides by."""
    if one.limits is None:
        return "its limits are not known, so it is in no ± here"
    shares = card.shares(one.path)
    if not shares:
        return "it adds nothing of its own to any ± here"
    named = [name for name in _DECIDING if shares.get(name, 0.0) >= 0.01] or list(shares)
    shown = sorted(named, key=lambda name: -round(shares[name], 2))[:_SHOWN_SHARES]
    told = ", ".join(f"{name} {percent(shares[name])}" for name in shown)
    known = [share.paths for figure in card.uncertain.values() for share in figure.shares if one.path in share.paths]
    tied = ", ".join(path for path in (known[0] if known else ()) if path != one.path)
    return f"its share of the uncertainty{f', together with {tied}' if tied else ''}: {told}"


def meaning(path: str) -> str:
    """What a needed path is, in the words of the table of inputs or of the part's own field."""
    known = INPUTS.get(".".join("N" if step.isdigit() else step for step in path.split(".")))
    if known is not None:
        return known.meaning
    port = re.fullmatch(r"cylinder\.ports \((\w+)\)\.top", path)
    if port:
        return f"From the deck down to the upper edge; a port of kind {port[1]}."
    holder, _, name = path.rpartition(".")
    owners: dict[str, type[Part]] = {"piston": Piston, "head": SpigotHead, "": TopEnd}
    part = owners.get(holder)
    return (part.model_fields[name].description or "") if part is not None and name in part.model_fields else ""
