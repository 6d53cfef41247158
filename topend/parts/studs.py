"""The stud pattern that cylinder, head and head gasket share."""

from __future__ import annotations

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.units import PositiveLength

__all__ = ["StudPattern"]


class StudPattern(Part):
    """Studs evenly spaced on a circle around the bore; of a head or a gasket, the holes for them.

    >>> StudPattern(count=4, circle_diameter="62 mm", diameter="6 mm").count
    4
    """

    count: int = Field(ge=2, le=24, strict=True, description="How many studs, or holes for them.")
    circle_diameter: PositiveLength = stated_field("cylinder.studs.circle_diameter", default=...)
    diameter: PositiveLength | None = stated_field("cylinder.studs.diameter")
