"""Places around the bore as clock positions, and what is meant by them: one set of words for every sheet, file and message."""

from __future__ import annotations

import math
import re
from typing import Any, Final

__all__ = ["CLOCKS", "CLOCKS_MEANT", "clock_of", "hour_as_angle"]

#: The four at which deck, gap and head are read, in their order.
CLOCKS: Final = ("12 o'clock", "3 o'clock", "6 o'clock", "9 o'clock")

#: How they are meant; said once on every sheet that has them. Standing: common practice.
CLOCKS_MEANT: Final = (
    "Clock positions: seen from above, down the bore, 12 o'clock toward the exhaust, 3 o'clock a quarter turn clockwise from it. On a "
    "head that lies upside down, 3 and 9 change sides. The pin's ends are at 3 and 9 where the exhaust points across the crankshaft; "
    "where they are not, write down at which hours they are."
)

_HOUR: Final = re.compile(r"(\d{1,2}) o'clock")


def clock_of(angle: float) -> str:
    """The nearest hour to a clock angle [rad], from 12 o'clock clockwise seen from above.

    >>> clock_of(0.0), clock_of(math.pi / 2.0), clock_of(math.radians(-36.9))
    ("12 o'clock", "3 o'clock", "11 o'clock")
    """
    return f"{round(math.degrees(angle) / 30.0) % 12 or 12} o'clock"


def hour_as_angle(value: Any) -> Any:
    """An hour from 1 to 12 as the text of its angle; anything else as it came, for the field to judge.

    >>> hour_as_angle(3), hour_as_angle("12 o'clock"), hour_as_angle("45 deg")
    ('90 deg', '0 deg', '45 deg')
    """
    if isinstance(value, str) and (said := _HOUR.fullmatch(value.strip())):
        value = int(said[1])
    if isinstance(value, int) and not isinstance(value, bool):
        if not 1 <= value <= 12:
            raise ValueError(f'must be an hour from 1 to 12, with 12 toward the exhaust, or an angle, such as "90 deg"; got {value}')
        return f"{value % 12 * 30} deg"
    return value
