"""The head by depth gauge: how far its band stands proud or recessed, and the band's angle from two depths."""

from __future__ import annotations

import math
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field, model_validator

from topend.measure.budget import Term, rectangular
from topend.measure.clocks import clock_of
from topend.measure.gap import tilted_plane
from topend.measure.instruments import InstrumentName, read_with
from topend.measure.measured import Measured, Reading, limits_of, measured, refuse, si
from topend.parts.help import takes_fields_of
from topend.units import NonNegativeLength, PositiveLength

__all__ = ["BandAngle", "BandOffset", "band_angle", "band_offset"]


class BandOffset(Reading):
    """The band's outer edge against the gasket face, at four clock positions or more.

    `band` says which way: recessed above the face, or standing proud of it (a spigot). A band that is not parallel to the face shows
    as a tilt.

    >>> BandOffset(band="proud", readings=["1.01 mm", "1.00 mm", "0.99 mm", "1.00 mm"]).results()[0].text
    '-1.0000 mm ± 0.0128'
    """

    title: ClassVar[str] = "band offset"
    kind: Literal["band_offset"] = Field(default="band_offset", description="Which reading it is; written in files, never needed in code.")
    band: Literal["recessed", "proud"] = Field(
        description="Whether the band is recessed into the head or stands proud of its face; a flush one is recessed by 0 mm."
    )
    readings: tuple[NonNegativeLength, ...] = Field(
        min_length=1, description="Depths or heights, evenly around, from 12 o'clock clockwise."
    )
    instrument: InstrumentName = Field(default="depth micrometer", description="What it was read with.")
    instrument_limits: PositiveLength | None = Field(default=None, description="Its limit of error.")
    instrument_step: PositiveLength | None = Field(default=None, description="Its smallest step.")

    def results(self) -> tuple[Measured, ...]:
        many = si(self.readings)
        terms, notes = read_with("band offset", many, self.instrument, limits=self.instrument_limits, step=self.instrument_step)
        sign = 1.0 if self.band == "recessed" else -1.0
        if len(many) >= 3:
            clocks = [2.0 * math.pi * index / len(many) for index in range(len(many))]
            plane = tilted_plane(clocks, many)
            if plane.tilt > 0.02e-3:
                notes.append(f"not parallel to the face: {plane.tilt * 1e3:.3f} mm more toward {clock_of(plane.direction)}")
        made = measured("head.recess_offset", lambda mean, limit, step: sign * (mean + limit + step), terms, notes=notes, name=self.called)
        return (made,)


class BandAngle(Reading):
    """The band's angle from its depth below one plane at two radii; positive when it rises toward the centre.

    Depths grow into the head: a band that rises toward the centre is deeper at the inner radius.

    >>> BandAngle(outer_radius="22.6 mm", inner_radius="17.6 mm", outer_depth=["1.00 mm"], inner_depth=["1.79 mm"]).results()[0].text
    '8.98 deg ± 0.36'
    """

    title: ClassVar[str] = "band angle"
    kind: Literal["band_angle"] = Field(default="band_angle", description="Which reading it is; written in files, never needed in code.")
    outer_radius: PositiveLength = Field(description="Radius of the outer reading.")
    inner_radius: PositiveLength = Field(description="Radius of the inner reading.")
    outer_depth: tuple[NonNegativeLength, ...] = Field(description="Depths there.")
    inner_depth: tuple[NonNegativeLength, ...] = Field(description="Depths there.")
    instrument: InstrumentName = Field(default="depth micrometer", description="What it was read with.")
    instrument_limits: PositiveLength | None = Field(default=None, description="Its limit of error.")
    instrument_step: PositiveLength | None = Field(default=None, description="Its smallest step.")

    @model_validator(mode="after")
    def _check(self) -> BandAngle:
        if not self.outer_radius.si > self.inner_radius.si:
            text = f"({self.inner_radius.text}) is not less than outer_radius ({self.outer_radius.text}): in the wrong order"
            raise refuse("band angle", "inner_radius", text)
        return self

    def results(self) -> tuple[Measured, ...]:
        terms: list[Term] = []
        notes: list[str] = []
        for name, many in (("depth, outer", self.outer_depth), ("depth, inner", self.inner_depth)):
            made, told = read_with(name, si(many), self.instrument, limits=self.instrument_limits, step=self.instrument_step)
            terms += made if not terms else [made[0], made[2]]
            notes += told
        for name, radius in (("outer radius", self.outer_radius), ("inner radius", self.inner_radius)):
            terms.append(rectangular(name, radius.si, limits_of(radius, 0.1e-3)))

        def angle(outer: Any, limit: Any, step: Any, inner: Any, other: Any, far: Any, near: Any) -> Any:
            return np.arctan((inner - outer + limit + step + other) / (far - near))

        return (measured("head.band.angle", angle, terms, notes=notes, name=self.called),)


@takes_fields_of(BandOffset)
def band_offset(**fields: Any) -> Measured:
    """Offset of the band's outer edge from the head's gasket face [mm], positive recessed.

    >>> import topend as te
    >>> te.measure.band_offset(band="proud", readings=["1.01 mm", "1.00 mm", "0.99 mm", "1.00 mm"]).text
    '-1.0000 mm ± 0.0128'
    """
    return BandOffset(**fields).results()[0]


@takes_fields_of(BandAngle)
def band_angle(**fields: Any) -> Measured:
    """The band's angle [deg], positive when it rises toward the centre.

    >>> import topend as te
    >>> te.measure.band_angle(outer_radius="22.6 mm", inner_radius="17.6 mm", outer_depth=["1.00 mm"], inner_depth=["1.79 mm"]).text
    '8.98 deg ± 0.36'
    """
    return BandAngle(**fields).results()[0]
