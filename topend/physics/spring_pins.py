"""Slotted spring pins: sizes by ISO 8752 (heavy) and ISO 13337 (light), as a table.

A slotted pin is rolled wider than its nominal size and closes as it is driven into a hole of that size: it has no play in it. What it can
carry is not here: a head asks nothing of it that could be held against it (docs/locating.md).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["HOLE_LIMITS", "SPRING_PINS", "STANDING", "SpringPin"]


@dataclass(frozen=True, slots=True)
class SpringPin:
    """A slotted pin: nominal size, diameter before it is driven in, from and to [m]."""

    standard: str
    nominal: float
    free_low: float
    free_high: float


#: On what the table rests.
STANDING: Final = "free diameter and hole of 2, 3, 4 and 5 mm by ISO 8752 second-hand; all others from memory"

# nominal, free from, free to [mm]
_HEAVY: Final = (
    (1.5, 1.7, 1.8),
    (2.0, 2.3, 2.4),
    (2.5, 2.8, 2.9),
    (3.0, 3.3, 3.5),
    (3.5, 3.8, 4.0),
    (4.0, 4.4, 4.6),
    (5.0, 5.4, 5.6),
    (6.0, 6.4, 6.7),
    (8.0, 8.5, 8.8),
)
_LIGHT: Final = (
    (2.0, 2.3, 2.4),
    (2.5, 2.8, 2.9),
    (3.0, 3.3, 3.5),
    (4.0, 4.4, 4.6),
    (5.0, 5.4, 5.6),
    (6.0, 6.4, 6.7),
    (8.0, 8.5, 8.8),
)
#: By standard and nominal size [mm].
SPRING_PINS: Final[dict[tuple[str, float], SpringPin]] = {
    (standard, nominal): SpringPin(standard, nominal / 1e3, low / 1e3, high / 1e3)
    for standard, table in (("ISO 8752", _HEAVY), ("ISO 13337", _LIGHT))
    for nominal, low, high in table
}
#: The hole by nominal size [mm]: how much larger than that it may be [m] (H12).
HOLE_LIMITS: Final[dict[float, float]] = {
    nominal: (0.10 if nominal <= 3.0 else 0.12 if nominal <= 6.0 else 0.15) / 1e3 for _, nominal in SPRING_PINS
}
