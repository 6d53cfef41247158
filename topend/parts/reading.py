"""Readings that a top end starts from: the deck on a dry fit, and the volume of the assembled engine."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.parts.crank import Crank
from topend.parts.cylinder import Cylinder
from topend.parts.piston import Piston
from topend.units import CrownPlace, Length, NonNegativeLength, PositiveVolume

__all__ = ["AssembledVolume", "DeckReading"]


def _stack_words(role: str) -> str:
    return (
        f"Whether the {role} gaskets under it are the very ones now fitted (same), so that what is not known of them cancels, or others. "
        f"Not given: the same where {role}_thickness is not stated, or is stated as the measured {role}_gaskets are, limits and all."
    )


class DeckReading(Part):
    """Deck clearance as read on a dry fit, and what was under it.

    `at` says where on the crown it was taken: at its edge, its centre, or at a radius. `base_thickness` is the fitted base
    stack under it. `crank`, `piston` and `cylinder` are named only where they are not those of the top end itself.

    >>> import topend as te
    >>> te.DeckReading(clearance="1.65 mm", base_thickness="0.50 mm").at
    'edge'
    """

    clearance: Length = stated_field("deck.clearance", default=...)
    at: CrownPlace = Field(default="edge", description="Where on the crown it was taken: edge, centre, or a radius.")
    base_thickness: NonNegativeLength | None = stated_field("deck.base_thickness")
    base_stack: Literal["same", "other"] | None = Field(default=None, description=_stack_words("base"))
    crank: Crank | None = Field(default=None, description="The crank it was read with, if not the top end's own.")
    piston: Piston | None = Field(default=None, description="The piston it was read with, if not the top end's own.")
    cylinder: Cylinder | None = Field(default=None, description="The cylinder it was read with, if not the top end's own.")


class AssembledVolume(Part):
    """Clearance volume read through the plug hole at TDC, and the gasket stack it was read with.

    It stands in for head, bowl and crown volumes, and moves with the stack.

    >>> import topend as te
    >>> te.AssembledVolume(volume="6.2 cc", base_thickness="0.5 mm", head_thickness="0.3 mm").volume
    <Quantity(6.2 cc)>
    """

    volume: PositiveVolume = stated_field("assembled.volume", default=...)
    base_thickness: NonNegativeLength | None = stated_field("assembled.base_thickness")
    head_thickness: NonNegativeLength | None = stated_field("assembled.head_thickness")
    base_stack: Literal["same", "other"] | None = Field(default=None, description=_stack_words("base"))
    head_stack: Literal["same", "other"] | None = Field(default=None, description=_stack_words("head"))
