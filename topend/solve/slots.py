"""A stud in a straight slot of a plate: how far inside it stands, and all turns of the plate at which every stud stands in one."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

__all__ = ["SlotOutline", "turns_of"]

#: Sums of decimals differ by less [mm].
_NOTHING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class SlotOutline:
    """A straight slot as what a stud's middle may do in it: within `room` of the line from `start` to `end` [mm]."""

    start: complex
    end: complex
    room: float

    def depth(self, at: complex) -> float:
        """How far inside a point lies; negative outside."""
        along = self.end - self.start
        length = abs(along)
        share = 0.0 if length == 0.0 else ((at - self.start) * along.conjugate()).real / length**2
        return self.room - abs(at - (self.start + min(1.0, max(0.0, share)) * along))

    def crossings(self, radius: float) -> list[float]:
        """Angles at which a circle of this radius around the axis may cross the outline: its two ends, and its two sides."""
        if self.room < 0.0:
            return []
        found = []
        for end in (self.start, self.end):
            # |radius e^(iψ) - end| = room
            if abs(end) > 0.0 and radius > 0.0:
                found += _around((radius**2 + abs(end) ** 2 - self.room**2) / (2.0 * radius * abs(end)), math.atan2(end.imag, end.real))
        along = self.end - self.start
        if abs(along) > 0.0 and radius > 0.0:
            across = 1j * along / abs(along)
            off = (self.start * across.conjugate()).real
            for side in (off - self.room, off + self.room):
                found += _around(side / radius, math.atan2(across.imag, across.real))
        return found


def _around(cosine: float, middle: float) -> list[float]:
    if abs(cosine) > 1.0 + 1e-12:
        return []
    half = math.acos(max(-1.0, min(1.0, cosine)))
    return [middle - half, middle + half]


def turns_of(studs: Sequence[complex], slots: Sequence[SlotOutline]) -> list[tuple[float, float]]:
    """All turns of a plate [rad] at which every stud stands in some slot, as intervals within one full turn; ends may lie beyond it.

    >>> turns_of([20 + 0j], [SlotOutline(18 + 0j, 22 + 0j, 0.2)])  # doctest: +ELLIPSIS
    [(-0.010..., 0.010...)]
    """
    full = 2.0 * math.pi

    def good(turn: float) -> bool:
        back = complex(math.cos(turn), -math.sin(turn))
        return all(max((slot.depth(stud * back) for slot in slots), default=-1.0) >= -_NOTHING for stud in studs)

    edges = {(math.atan2(stud.imag, stud.real) - angle) % full for stud in studs for slot in slots for angle in slot.crossings(abs(stud))}
    ordered = sorted(edges)
    if not ordered:
        return [(0.0, full)] if good(0.0) else []
    # between two crossings nothing changes; at one, a slot may just take a stud that fills it
    found: list[tuple[float, float]] = []
    for at, after in zip(ordered, [*ordered[1:], ordered[0] + full], strict=True):
        if after - at > 1e-12 and good((at + after) / 2.0):
            if found and abs(found[-1][1] - at) < 1e-12:
                found[-1] = (found[-1][0], after)
            else:
                found.append((at, after))
        elif good(at) and not (found and abs(found[-1][1] - at) < 1e-12):
            found.append((at, at))
    if len(found) > 1 and abs(found[-1][1] - full - found[0][0]) < 1e-12:
        found[0] = (found[-1][0] - full, found[0][1])
        found.pop()
    # about nothing rather than about a full turn
    return [(low - full, high - full) if (low + high) / 2.0 > math.pi + 1e-9 else (low, high) for low, high in found]
