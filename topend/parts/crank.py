"""The crank: stroke, rod, offset, and where the case face lies."""

from __future__ import annotations

from topend.parts.base import Part, stated_field
from topend.units import KINDS, Length, PositiveLength, PositiveSpeed, parse

__all__ = ["Crank", "Running"]

ZERO_LENGTH = parse("0 mm", KINDS["length"])


class Crank(Part):
    """A crank with its rod.

    >>> Crank(stroke="39.3 mm", rod_length="85 mm")
    Crank(stroke="39.3 mm", rod_length="85 mm", offset="0 mm")
    """

    stroke: PositiveLength = stated_field("crank.stroke", default=...)
    rod_length: PositiveLength | None = stated_field("crank.rod_length")
    offset: Length = stated_field("crank.offset", default=ZERO_LENGTH)
    seat_height: PositiveLength | None = stated_field("crank.seat_height")
    pin_diameter: PositiveLength | None = stated_field("crank.pin_diameter")


class Running(Part):
    """How the engine runs: the crank speed that speeds and accelerations are for.

    >>> Running(crank_speed="11500 rpm")
    Running(crank_speed="11500 rpm")
    """

    crank_speed: PositiveSpeed = stated_field("running.crank_speed", default=...)
