"""What is cut out of a joint's face: transfer passages from inside, ducts and slots from outside."""

from __future__ import annotations

import math
from typing import Self

from pydantic import model_validator

from topend.parts.base import Part, stated_field
from topend.units import Angle, PositiveLength, Quantity

__all__ = ["Cutout", "Notch"]


class Cutout(Part):
    """A transfer passage in a joint's face: from the bore out to a circle, over an angle.

    >>> import topend as te
    >>> te.Cutout(angle="90 deg", span="50 deg", outer_diameter="66 mm").span
    <Quantity(50 deg)>
    """

    angle: Angle = stated_field("cylinder.cutouts.N.angle", default=...)
    span: Angle = stated_field("cylinder.cutouts.N.span", default=...)
    outer_diameter: PositiveLength = stated_field("cylinder.cutouts.N.outer_diameter", default=...)

    @model_validator(mode="after")
    def _reaches_over_an_angle(self) -> Self:
        _reach(self.span)
        return self


class Notch(Part):
    """What ends a joint's land from outside over an angle only: the roof of an exhaust duct or window, a slot, a cut in an outline.

    >>> import topend as te
    >>> te.Notch(angle="0 deg", span="40 deg", inner_diameter="62 mm").inner_diameter
    <Quantity(62 mm)>
    """

    angle: Angle = stated_field("cylinder.deck_notches.N.angle", default=...)
    span: Angle = stated_field("cylinder.deck_notches.N.span", default=...)
    inner_diameter: PositiveLength = stated_field("cylinder.deck_notches.N.inner_diameter", default=...)

    @model_validator(mode="after")
    def _reaches_over_an_angle(self) -> Self:
        _reach(self.span)
        return self


def _reach(span: Quantity) -> None:
    if not 0.0 < span.m_as("rad") < 2.0 * math.pi:
        raise ValueError(f"span must be more than 0 and less than 360 deg; got {span.m_as('deg'):g} deg")
