"""A head's half-section: the family it is of, or corner by corner, with its squish band and the plug's seat.

Heights count from the plane through the band's outer edge, positive into the head; depths from the band's inner edge. Volume,
area, surface and centroid are exact (`topend.physics.profile`). A half-section that crosses itself, undercuts its band or has a
negative radius is refused, and told where.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

import numpy as np
from pydantic import Field, model_validator

from topend.errors import MissingInputError
from topend.parts.band import SquishBand
from topend.parts.base import Part, stated_field
from topend.parts.crank import ZERO_LENGTH
from topend.physics import wiring
from topend.physics.wiring import Structure
from topend.units import Length, NonNegativeLength, PositiveLength, Quantity, Volume, from_si, quantity

__all__ = [
    "PROFILES",
    "BathtubProfile",
    "BowlProfile",
    "ConeProfile",
    "ContourProfile",
    "HemisphereProfile",
    "PlugSeat",
    "Profile",
    "ProfilePoint",
    "ToroidalProfile",
]

_SHAPE: Final = "Which family it is of; written in files, never needed in code."
_BAND: Final = "Its squish band; not given: the head's."
_PLUG: Final = "The plug's seat and thread; not given: no plug, or its face left out of account."


class PlugSeat(Part):
    """Where the plug goes: its thread along the axis, the flat at its hole, and what the plug leaves open or fills.

    The section is flat across `face_diameter` at the axis. A plug whose thread ends short of that flat adds the open thread, one
    that stands out takes its own; both by the thread's basic profile.

    >>> import topend as te
    >>> te.PlugSeat(thread_diameter="14 mm", thread_pitch="1.25 mm", thread_length="19.5 mm", reach="19 mm").reach
    <Quantity(19 mm)>
    """

    thread_diameter: PositiveLength = stated_field("head.profile.plug.thread_diameter", default=...)
    thread_pitch: PositiveLength | None = stated_field("head.profile.plug.thread_pitch")
    face_diameter: PositiveLength | None = stated_field("head.profile.plug.face_diameter")
    thread_length: PositiveLength | None = stated_field("head.profile.plug.thread_length")
    seat_height: PositiveLength | None = stated_field("head.profile.plug.seat_height")
    reach: PositiveLength | None = stated_field("head.profile.plug.reach")
    nose_volume: Volume | None = stated_field("head.profile.plug.nose_volume")

    @model_validator(mode="after")
    def _sizes(self) -> PlugSeat:
        if self.thread_length is not None and self.seat_height is not None:
            raise ValueError("gives thread_length and seat_height, which say the same thing twice; leave one of them out")
        thread, face, pitch = self.thread_diameter, self.face_diameter, self.thread_pitch
        if face is not None and face.si < thread.si:
            raise ValueError(f"has a face_diameter of {face.text}, less than its thread_diameter of {thread.text}")
        if pitch is not None and pitch.si > 0.5 * thread.si:
            raise ValueError(f"has a thread_pitch of {pitch.text}, too coarse for a thread of {thread.text}")
        return self


class _Section(Part):
    """What every half-section can tell of itself."""

    if TYPE_CHECKING:
        plug: Any
        shape: Any

    def _as_written(self) -> str | None:
        """What is wrong with it before it is worked out; None: nothing."""
        return None

    @model_validator(mode="after")
    def _refuse_impossible(self) -> Any:
        written = self._as_written()
        if written is not None:
            raise ValueError(written)
        structure, columns = self._lowered()
        text = wiring.fault_words(structure, wiring.run(wiring.profile_plan(structure), columns))
        if text is not None:
            raise ValueError(f"cannot be: {text}")
        return self

    def tags(self) -> set[str]:
        """The choices in it, as a `Structure` has them."""
        return {f"head.profile:{self.shape}"} | ({"head.profile.plug:seat"} if self.plug is not None else set())

    def _lowered(self) -> tuple[Structure, dict[str, Any]]:
        columns = {f"head.profile.{path}": np.array([value.si]) for path, value in self.stated()}
        return Structure(frozenset(columns), frozenset(self.tags())), columns

    def _figure(self, name: str, unit: str) -> Quantity:
        structure, columns = self._lowered()
        planned = wiring.plan(structure, (name,))
        if planned.missing:
            needs = planned.missing[name].needs
            raise MissingInputError(name, needs, f"{name} of this half-section cannot be had: it needs {', '.join(needs)}")
        return quantity(from_si(float(wiring.run(planned, columns)[name][0]), unit), unit)

    @property
    def volume(self) -> Quantity:
        """Chamber volume above the band-edge plane [cc], plug as fitted. Raises `MissingInputError` where a size is not given."""
        return self._figure("head.profile.volume", "cc")

    @property
    def area(self) -> Quantity:
        """Area of the half-section [mm²], from the axis to the band's outer edge."""
        return self._figure("chamber_area", "mm²")

    @property
    def surface(self) -> Quantity:
        """Surface of head that the chamber sees, band and plug's face counted [mm²]."""
        return self._figure("chamber_surface", "mm²")

    @property
    def height(self) -> Quantity:
        """Greatest height above the band-edge plane [mm]."""
        return self._figure("chamber_depth", "mm")

    @property
    def centroid(self) -> tuple[Quantity, Quantity]:
        """Centroid of the half-section: radius from the axis, height above the band-edge plane [mm]."""
        return self._figure("chamber_centroid_radius", "mm"), self._figure("chamber_centroid_height", "mm")


class BowlProfile(_Section):
    """A bowl: the cap of a ball over the band's inner edge, at most half a ball. Its depth or the ball's radius is given.

    >>> import topend as te
    >>> band = te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33 mm", angle="9 deg")
    >>> round(te.BowlProfile(band=band, depth="10 mm").volume.m, 4)
    6.2351
    """

    shape: Literal["bowl"] = Field(default="bowl", description=_SHAPE)
    band: SquishBand | None = Field(default=None, description=_BAND)
    plug: PlugSeat | None = Field(default=None, description=_PLUG)
    depth: PositiveLength | None = stated_field("head.profile.depth")
    bowl_radius: PositiveLength | None = stated_field("head.profile.bowl_radius")

    def _as_written(self) -> str | None:
        if self.depth is not None and self.bowl_radius is not None:
            return "gives depth and bowl_radius, and each follows from the other; leave one of them out"
        return None


class HemisphereProfile(_Section):
    """Half a ball over the band's inner edge, on a wall parallel to the axis where one is given.

    >>> import topend as te
    >>> round(te.HemisphereProfile(band=te.SquishBand(outer_diameter="40 mm", inner_diameter="30 mm", angle="0 deg")).volume.m, 4)
    7.0686
    """

    shape: Literal["hemisphere"] = Field(default="hemisphere", description=_SHAPE)
    band: SquishBand | None = Field(default=None, description=_BAND)
    plug: PlugSeat | None = Field(default=None, description=_PLUG)
    wall_height: NonNegativeLength = stated_field("head.profile.wall_height", default=ZERO_LENGTH)


class BathtubProfile(_Section):
    """A flat roof and a wall parallel to the axis, with a rounding between them.

    >>> import topend as te
    >>> flat = te.SquishBand(outer_diameter="40 mm", inner_diameter="30 mm", angle="0 deg")
    >>> round(te.BathtubProfile(band=flat, depth="10 mm").volume.m, 4)
    7.0686
    """

    shape: Literal["bathtub"] = Field(default="bathtub", description=_SHAPE)
    band: SquishBand | None = Field(default=None, description=_BAND)
    plug: PlugSeat | None = Field(default=None, description=_PLUG)
    depth: PositiveLength | None = stated_field("head.profile.depth")
    corner_radius: NonNegativeLength = stated_field("head.profile.corner_radius", default=ZERO_LENGTH)


class ConeProfile(_Section):
    """A truncated cone: a flat roof and a conical wall, with a rounding between them.

    >>> import topend as te
    >>> flat = te.SquishBand(outer_diameter="40 mm", inner_diameter="30 mm", angle="0 deg")
    >>> round(te.ConeProfile(band=flat, depth="10 mm", roof_diameter="15 mm").volume.m, 4)
    4.1233
    """

    shape: Literal["truncated-cone"] = Field(default="truncated-cone", description=_SHAPE)
    band: SquishBand | None = Field(default=None, description=_BAND)
    plug: PlugSeat | None = Field(default=None, description=_PLUG)
    depth: PositiveLength | None = stated_field("head.profile.depth")
    roof_diameter: PositiveLength | None = stated_field("head.profile.roof_diameter")
    corner_radius: NonNegativeLength = stated_field("head.profile.corner_radius", default=ZERO_LENGTH)


class ToroidalProfile(_Section):
    """A toroidal rim around a boss: from the band's inner edge up a wall, over half a circle, and down to the boss's flat face.

    >>> import topend as te
    >>> flat = te.SquishBand(outer_diameter="40 mm", inner_diameter="32 mm", angle="0 deg")
    >>> rim = te.ToroidalProfile(band=flat, rim_radius="4 mm", depth="7 mm", boss_height="2 mm")
    >>> round(rim.height.m, 9)
    7.0
    """

    shape: Literal["toroidal-rim"] = Field(default="toroidal-rim", description=_SHAPE)
    band: SquishBand | None = Field(default=None, description=_BAND)
    plug: PlugSeat | None = Field(default=None, description=_PLUG)
    depth: PositiveLength | None = stated_field("head.profile.depth")
    rim_radius: PositiveLength | None = stated_field("head.profile.rim_radius")
    boss_height: NonNegativeLength = stated_field("head.profile.boss_height", default=ZERO_LENGTH)


class ProfilePoint(Part):
    """A corner of a half-section, and the arc that leads to it from the corner before; not given: a line.

    >>> import topend as te
    >>> te.ProfilePoint(radius="0 mm", height="9 mm", arc_radius="20 mm").arc_radius
    <Quantity(20 mm)>
    """

    radius: NonNegativeLength = stated_field("head.profile.points.N.radius", default=...)
    height: NonNegativeLength = stated_field("head.profile.points.N.height", default=...)
    arc_radius: Length | None = stated_field("head.profile.points.N.arc_radius")


class ContourProfile(_Section):
    """A half-section corner by corner: from the band's outer edge (height 0) by its inner edge to the axis, or to the plug's face.

    The first step is the band, a line. Of two arcs of a radius the shorter is meant.

    >>> import topend as te
    >>> bowl = te.ContourProfile(points=[
    ...     te.ProfilePoint(radius="20 mm", height="0 mm"),
    ...     te.ProfilePoint(radius="15 mm", height="0 mm"),
    ...     te.ProfilePoint(radius="0 mm", height="15 mm", arc_radius="15 mm"),
    ... ])
    >>> round(bowl.volume.m, 4)
    7.0686
    """

    shape: Literal["contour"] = Field(default="contour", description=_SHAPE)
    plug: PlugSeat | None = Field(default=None, description=_PLUG)
    points: tuple[ProfilePoint, ...] = Field(
        min_length=3, max_length=24, description="Its corners, from the band's outer edge to the axis."
    )

    def _as_written(self) -> str | None:
        if self.points[0].arc_radius is not None:
            return "has an arc_radius at point 0, to which no step leads; take it out"
        if self.points[1].arc_radius is not None:
            return "has an arc as its first step, which is the squish band and a line; take arc_radius out of point 1"
        inner, outer = self.points[1].radius, self.points[0].radius
        if not inner.si < outer.si:
            return f"has its band's inner edge, point 1, at radius {inner.text}, not inside its outer edge, point 0, at {outer.text}"
        return None

    def tags(self) -> set[str]:
        return super().tags() | {f"head.profile.points:{len(self.points)}"}


if TYPE_CHECKING:
    Profile = BowlProfile | HemisphereProfile | BathtubProfile | ConeProfile | ToroidalProfile | ContourProfile
else:
    Profile = Annotated[
        BowlProfile | HemisphereProfile | BathtubProfile | ConeProfile | ToroidalProfile | ContourProfile, Field(discriminator="shape")
    ]

#: Every kind of half-section.
PROFILES: Final = (BowlProfile, HemisphereProfile, BathtubProfile, ConeProfile, ToroidalProfile, ContourProfile)
