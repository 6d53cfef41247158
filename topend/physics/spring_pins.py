"""Slotted spring pins: sizes and strength by ISO 8752 (heavy) and ISO 13337 (light), as a table.

A slotted pin is rolled wider than its nominal size and closes as it is driven into a hole of that size: it has no play in it. What it
carries is two cuts through its ring (double shear); across one joint, one cut, half of that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

__all__ = ["HOLE_LIMITS", "SPRING_PINS", "STANDING", "SpringPin"]


@dataclass(frozen=True, slots=True)
class SpringPin:
    """A slotted pin: nominal size, thickness of its wall, diameter before it is driven in, from and to [m]; double shear, least [N]."""

    standard: str
    nominal: float
    wall: float
    free_low: float
    free_high: float
    double_shear: float

    @property
    def single_shear(self) -> float:
        """What one cut carries, least [N]: a pin across one joint."""
        return self.double_shear / 2.0


#: On what the table rests.
STANDING: Final = (
    "free diameter, hole and shear of 2, 3, 4 and 5 mm by ISO 8752 second-hand; all others, all walls and all of ISO 13337 from memory"
)

# nominal, wall, free from, free to [mm]; double shear [kN]
_HEAVY: Final = (
    (1.5, 0.3, 1.7, 1.8, 1.58),
    (2.0, 0.4, 2.3, 2.4, 2.82),
    (2.5, 0.5, 2.8, 2.9, 4.38),
    (3.0, 0.6, 3.3, 3.5, 6.32),
    (3.5, 0.75, 3.8, 4.0, 9.06),
    (4.0, 0.8, 4.4, 4.6, 11.24),
    (5.0, 1.0, 5.4, 5.6, 17.54),
    (6.0, 1.2, 6.4, 6.7, 26.04),
    (8.0, 1.5, 8.5, 8.8, 42.76),
)
_LIGHT: Final = (
    (2.0, 0.2, 2.3, 2.4, 1.5),
    (2.5, 0.25, 2.8, 2.9, 2.4),
    (3.0, 0.3, 3.3, 3.5, 3.5),
    (4.0, 0.5, 4.4, 4.6, 8.0),
    (5.0, 0.5, 5.4, 5.6, 10.4),
    (6.0, 0.75, 6.4, 6.7, 18.0),
    (8.0, 0.75, 8.5, 8.8, 24.0),
)
#: By standard and nominal size [mm].
SPRING_PINS: Final[dict[tuple[str, float], SpringPin]] = {
    (standard, nominal): SpringPin(standard, nominal / 1e3, wall / 1e3, low / 1e3, high / 1e3, shear * 1e3)
    for standard, table in (("ISO 8752", _HEAVY), ("ISO 13337", _LIGHT))
    for nominal, wall, low, high, shear in table
}
#: The hole by nominal size [mm]: how much larger than that it may be [m] (H12).
HOLE_LIMITS: Final[dict[float, float]] = {
    nominal: (0.10 if nominal <= 3.0 else 0.12 if nominal <= 6.0 else 0.15) / 1e3 for _, nominal in SPRING_PINS
}
