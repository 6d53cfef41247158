"""An engine that was opened after running: what its crown and head say about how far the gap closed."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from topend.parts.base import Part
from topend.units import PositiveLength, PositiveSpeed

__all__ = ["Witness"]


class Witness(Part):
    """An engine inspected after running: its cold gap, the greatest speed it saw, and the mark that was found.

    >>> import topend as te
    >>> te.Witness(cold_gap="0.60 mm ± 0.02 mm", top_speed="13500 rpm", mark="none").mark
    'none'
    """

    cold_gap: PositiveLength = Field(description="Least gap as it was set, cold.")
    top_speed: PositiveSpeed = Field(description="The greatest crank speed it saw with the throttle shut.")
    mark: Literal["none", "kiss", "hit"] = Field(
        description="What was found: none, a kiss (carbon wiped off, no dent), or a hit (metal marked)."
    )
    clock: Literal["round", 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12] | None = Field(
        default=None, description="Where the mark is: the hour seen from above with 12 at the exhaust, or round; not given: not known."
    )
