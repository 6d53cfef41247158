"""The gap by soft wire (solder, clay) or plastic strip: mean, least, tilt and its direction, and the radius it belongs to."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Final, Literal

import numpy as np
from pydantic import Field, field_validator, model_validator

from topend.measure.budget import Term, rectangular, resolution
from topend.measure.clocks import clock_of, hour_as_angle
from topend.measure.instruments import INSTRUMENTS, read_with
from topend.measure.measured import Measured, Reading, limits_of, measured, refuse, si
from topend.parts.help import takes_fields_of
from topend.units import Angle, NonNegativeLength, PositiveLength, SharpAngle

__all__ = ["GapFound", "Plane", "Strip", "Wire", "gap", "rocking", "strip", "tilted_plane"]

#: Common practice: wire this many times the gap crushes well; beyond it, it springs back or holds the piston up.
_THICKEST: Final = 2.0
#: A wire that lost less than this was not crushed [m].
_CRUSHED: Final = 0.02e-3


@dataclass(frozen=True, slots=True)
class Plane:
    """A plane through readings around a circle: mean, half its slope across (`tilt`), where it is highest, rms residual.

    `direction` is the clock angle of the greatest reading [rad], from 12 o'clock clockwise, `dof` how many readings are left over.
    """

    mean: float
    tilt: float
    direction: float
    residual: float
    dof: int

    @property
    def least(self) -> float:
        """The least value of the plane on the circle."""
        return self.mean - self.tilt

    @property
    def direction_deg(self) -> float:
        """`direction` in degrees, from -180 to 180."""
        return math.degrees(self.direction)


def tilted_plane(clocks: Sequence[float], readings: Sequence[float]) -> Plane:
    """The plane through readings at clock angles [rad], by least squares; three positions at least.

    >>> plane = tilted_plane([0.0, math.pi / 2, math.pi, 3 * math.pi / 2], [1.02, 0.95, 0.94, 1.01])
    >>> round(plane.mean, 2), round(plane.tilt, 3), round(plane.direction_deg, 1), round(plane.least, 2)
    (0.98, 0.05, -36.9, 0.93)
    """
    at, values = np.asarray(clocks, dtype=np.float64), np.asarray(readings, dtype=np.float64)
    design = np.column_stack([np.ones_like(at), np.cos(at), np.sin(at)])
    if np.linalg.matrix_rank(design, tol=1e-6) < 3:
        raise refuse("gap", "clocks", "must hold three different positions at least for a tilt; two lie on one line")
    (mean, along, across), *_ = np.linalg.lstsq(design, values, rcond=None)
    left = values - design @ np.array([mean, along, across])
    dof = len(values) - 3
    residual = math.sqrt(float(left @ left) / dof) if dof else 0.0
    return Plane(float(mean), math.hypot(along, across), math.atan2(across, along), residual, dof)


def rocking(*, radius: Any, clearance: Any, skirt: Any) -> Any:
    """By how much [m] a wire on one side, off the pin axis, may read too much: radius x piston clearance / skirt length.

    >>> round(1e3 * rocking(radius=0.027, clearance=0.00006, skirt=0.050), 4)
    0.0324
    """
    return radius * clearance / skirt


@dataclass(frozen=True)
class GapFound:
    """What wires say: the mean gap at their radius; with three positions or more the least around, and the tilt.

    `direction` is the clock angle [deg] where the gap is greatest, from 12 o'clock clockwise (`toward` says it in hours), `residual` [mm]
    the rms of what a plane does not explain, None where nothing is left over.
    """

    mean: Measured
    least: Measured | None = None
    tilt: Measured | None = None
    direction: float | None = None
    residual: float | None = None

    @property
    def toward(self) -> str | None:
        """The hour toward which the gap is greatest: "3 o'clock"."""
        return None if self.direction is None else clock_of(math.radians(self.direction))

    @property
    def measured(self) -> tuple[Measured, ...]:
        """All of it, the mean first."""
        return tuple(one for one in (self.mean, self.least, self.tilt) if one is not None)


class Wire(Reading):
    """Solder or clay crushed at TDC, at clock positions and a radius.

    `clocks` are hours, 12 toward the exhaust and seen from above (`clocks.CLOCKS_MEANT`), or angles clockwise from there; `pin_axis` is
    where one end of the gudgeon pin lies, written in the same way. Where wire lay on both sides
    at once the piston cannot rock; on one side off the pin axis it can, and reads too much by up to radius x `piston_clearance` /
    `skirt_length`. `to_radius` and `opening` (band angle less the crown's slope) move the reading to another radius. Wire that was not
    crushed says only "at least".

    >>> wire = Wire(readings=["1.02 mm", "0.95 mm", "0.94 mm", "1.01 mm"], clocks=[12, 3, 6, 9], radius="22.6 mm", wire="1.5 mm",
    ...             both_sides=True)
    >>> found = wire.found()
    >>> print(round(found.mean.value, 2), round(found.least.value, 2), round(found.tilt.value, 3), round(found.direction, 1))
    0.98 0.93 0.05 -36.9
    """

    title: ClassVar[str] = "gap"
    kind: Literal["wire"] = Field(default="wire", description="Which reading it is; written in files, never needed in code.")
    readings: tuple[PositiveLength, ...] = Field(description="Thickness of each wire where it is thinnest, at that radius.")
    clocks: tuple[Angle, ...] = Field(
        default=(),
        description="Where each lay: an hour, 12 toward the exhaust, or an angle clockwise from it; not given: evenly around, from 12.",
    )
    radius: PositiveLength = Field(description="Radius from the bore's axis at which they were read.")
    wire: PositiveLength = Field(description="Thickness of the wire before.")
    both_sides: bool = Field(default=True, description="Whether wire lay on both sides at once.")
    pin_axis: Angle | None = Field(default=None, description="Where an end of the gudgeon pin lies: an hour, or an angle.")
    piston_clearance: PositiveLength | None = Field(default=None, description="Piston clearance in the bore, on the diameter.")
    skirt_length: PositiveLength | None = Field(default=None, description="Length of the skirt.")
    to_radius: PositiveLength | None = Field(default=None, description="Radius the reading is moved to.")
    opening: SharpAngle | None = Field(default=None, description="Band angle less the crown's slope there: how the gap opens inward.")
    instrument_limits: PositiveLength | None = Field(default=None, description="Limit of error of wire and micrometer together.")
    instrument_step: PositiveLength | None = Field(default=None, description="Smallest step of the micrometer.")

    @field_validator("clocks", mode="before")
    @classmethod
    def _hours(cls, value: Any) -> Any:
        return [hour_as_angle(one) for one in value] if isinstance(value, list | tuple) else value

    @field_validator("pin_axis", mode="before")
    @classmethod
    def _hour(cls, value: Any) -> Any:
        return hour_as_angle(value)

    @model_validator(mode="after")
    def _check(self) -> Wire:
        if self.clocks and len(self.clocks) != len(self.readings):
            raise refuse("gap", "clocks", f"has {len(self.clocks)} angles for {len(self.readings)} readings; give one for each")
        if (self.to_radius is None) != (self.opening is None):
            lacking = "opening" if self.opening is None else "to_radius"
            raise refuse(
                "gap", lacking, "is missing: moving a reading needs the radius it is moved to and the angle at which the gap opens"
            )
        for index, one in enumerate(self.readings):
            if one.si > self.wire.si + _CRUSHED:
                text = f"is {one.text}, thicker than the wire was ({self.wire.text}): it was read somewhere else, or it was another wire"
                raise refuse("gap", f"readings.{index}", text)
        off_axis = not self.both_sides and self.pin_axis is None
        if off_axis or (not self.both_sides and self._rocks() and (self.piston_clearance is None or self.skirt_length is None)):
            lacking = "pin_axis" if off_axis else "piston_clearance" if self.piston_clearance is None else "skirt_length"
            raise refuse(
                "gap",
                lacking,
                "is missing: wire on one side lets the piston rock; lay it on both sides, or on the pin axis, or give what it takes",
            )
        return self

    @property
    def _at(self) -> list[float]:
        count = len(self.readings)
        return si(self.clocks) if self.clocks else [2.0 * math.pi * index / count for index in range(count)]

    def _rocks(self) -> list[int]:
        """Readings more than 15 deg off the pin axis."""
        axis = 0.0 if self.pin_axis is None else self.pin_axis.si
        return [index for index, at in enumerate(self._at) if abs(math.sin(at - axis)) > math.sin(math.radians(15.0))]

    def found(self) -> GapFound:
        """Mean, least, tilt, direction and residual."""
        many = si(self.readings)
        radius = self.radius if self.to_radius is None else self.to_radius
        shown = round(radius.si * 1e3, 6)
        loose = [index for index, one in enumerate(many) if one > self.wire.si - _CRUSHED]
        if loose:
            return GapFound(self._at_least(loose, shown))
        notes: list[str] = []
        if self.wire.si > _THICKEST * max(many):
            notes.append(
                f"wire of {self.wire.text} is more than twice the gap: it springs back; 1.3 to 2 times the gap is usual (common practice)"
            )
        terms, told = read_with("gap", many, "solder", limits=self.instrument_limits, step=self.instrument_step)
        notes += told
        plane = tilted_plane(self._at, many) if len(many) >= 3 else None
        if plane is not None:
            # around a tilted band the readings differ for a reason; what is left over a plane is their spread
            terms[0], more = _around(plane, len(many))
            step = INSTRUMENTS["solder"].step if self.instrument_step is None else self.instrument_step.si
            terms[2] = resolution(terms[2].name, 0.0, step if plane.residual < step / 3.0 else 0.0)
            notes += more
            if plane.tilt > INSTRUMENTS["solder"].scatter:
                notes.append(
                    f"uneven: the gap is greatest toward {clock_of(plane.direction)}, by {plane.tilt * 1e3:.2f} mm more than its mean"
                )
        rest = self._moved_terms()
        names = [term.name for term in rest]

        def mean(*values: Any) -> Any:
            beside = dict(zip(names, values[len(terms) :], strict=True))
            gap = values[0] + values[1] + values[2] - beside.get(_ROCK, 0.0)
            # the gap opens inward: at a smaller radius it is more
            return gap + (beside["radius of the wire"] - radius.si) * np.tan(beside["opening of the gap"])

        made = measured("gap_at", mean, [*terms, *rest], unit="mm", notes=notes, name=self.called, radius=shown)
        if plane is None:
            return GapFound(made)
        common: dict[str, Any] = {"unit": "mm", "name": self.called, "radius": shown, "derived": True}
        swing = rectangular("tilt", 0.0, 0.0) if plane.tilt == 0.0 else terms[0]
        spread = Term("tilt of the plane", plane.tilt, np.sqrt(2.0) * swing.u, swing.dof)

        def least(*values: Any) -> Any:
            return mean(*values[:-1]) - values[-1]

        low = measured("gap_least", least, [*terms, *rest, spread], **common)
        tilt = measured("gap_tilt", lambda value: value, [spread], **common)
        return GapFound(made, low, tilt, plane.direction_deg, plane.residual * 1e3 if plane.dof else None)

    def _moved_terms(self) -> list[Term]:
        """What the reading's radius and the rocking of the piston bring."""
        made = []
        if not self.both_sides and self._rocks():
            assert self.piston_clearance is not None
            assert self.skirt_length is not None
            full = rocking(radius=self.radius.si, clearance=self.piston_clearance.si, skirt=self.skirt_length.si)
            share = len(self._rocks()) / len(self.readings)
            # somewhere between not rocked and rocked all the way
            made.append(rectangular(_ROCK, share * full / 2.0, share * full / 2.0))
        made.append(rectangular("radius of the wire", self.radius.si, limits_of(self.radius, 0.5e-3)))
        if self.opening is None:
            # nobody said how the gap opens: a wire half a millimetre astray reads what a few degrees make of that
            made.append(rectangular("opening of the gap", _UNKNOWN_OPENING, 0.0))
        else:
            made.append(rectangular("opening of the gap", self.opening.si, limits_of(self.opening, math.radians(0.5))))
        return made

    def _at_least(self, loose: list[int], radius: float) -> Measured:
        which = "every wire" if len(loose) == len(self.readings) else f"{len(loose)} of {len(self.readings)} wires"
        note = f"{which} came out as thick as before ({self.wire.text}): not crushed, so the gap there is at least that; use a thicker wire"
        terms = [
            rectangular("wire", min(si(self.readings)), 0.0),
            rectangular(
                "limits of the solder", 0.0, INSTRUMENTS["solder"].limit if self.instrument_limits is None else self.instrument_limits.si
            ),
        ]
        return measured(
            "gap_at", lambda wire, limit: wire + limit, terms, unit="mm", notes=[note], name=self.called, radius=radius, at_least=True
        )

    def results(self) -> tuple[Measured, ...]:
        return self.found().measured


_ROCK: Final = "piston rocked"
_UNKNOWN_OPENING: Final = math.radians(3.0)


#: How many degrees of freedom the usual spread of wire counts for, beside those left over by a plane.
_USUAL_DOF: Final = 4


def _around(plane: Plane, count: int) -> tuple[Term, list[str]]:
    """The mean of a plane through `count` readings, with their spread about it.

    Four wires leave one degree of freedom, which says next to nothing: what is left over is pooled with the usual spread of wire (JCGM
    100:2008, 4.2.4). By residuals alone, simulated 95 % intervals of four wires held the truth in 90 to 92 of 100.
    """
    usual = INSTRUMENTS["solder"].scatter
    if not plane.dof:
        note = "three positions leave nothing over a plane, so the usual spread of wire is assumed; a fourth shows it"
        return Term("gap, spread assumed", plane.mean, usual / math.sqrt(count)), [note]
    dof = plane.dof + _USUAL_DOF
    pooled = math.sqrt((plane.dof * plane.residual**2 + _USUAL_DOF * usual**2) / dof)
    return Term(f"gap, spread about a plane of {count}, pooled with the usual", plane.mean, pooled / math.sqrt(count), dof), []


class Strip(Reading):
    """Plastic strip: its printed scale gives an interval, not a value.

    >>> Strip(low="0.89 mm", high="1.02 mm", radius="22.6 mm").results()[0].text
    '0.955 mm ± 0.062'
    """

    title: ClassVar[str] = "strip"
    kind: Literal["strip"] = Field(default="strip", description="Which reading it is; written in files, never needed in code.")
    low: NonNegativeLength = Field(description="The lesser gap between whose marks the width lies.")
    high: PositiveLength = Field(description="The greater one.")
    radius: PositiveLength = Field(description="Radius from the bore's axis at which it lay.")

    @model_validator(mode="after")
    def _check(self) -> Strip:
        if not self.high.si > self.low.si:
            raise refuse("strip", "high", f"({self.high.text}) is not more than low ({self.low.text}): in the wrong order")
        return self

    def results(self) -> tuple[Measured, ...]:
        middle, half = (self.low.si + self.high.si) / 2.0, (self.high.si - self.low.si) / 2.0
        terms = [rectangular("between two marks of the strip", middle, half)]
        shown = round(self.radius.si * 1e3, 6)
        return (measured("gap_at", lambda gap: gap, terms, unit="mm", name=self.called, radius=shown),)


@takes_fields_of(Wire)
def gap(**fields: Any) -> GapFound:
    """The gap by wire [mm]: mean, least, tilt, direction and residual.

    >>> import topend as te
    >>> te.measure.gap(readings=["1.02 mm", "0.95 mm", "0.94 mm", "1.01 mm"], radius="22.6 mm", wire="1.5 mm").mean.text
    '0.980 mm ± 0.050'
    """
    return Wire(**fields).found()


@takes_fields_of(Strip)
def strip(**fields: Any) -> Measured:
    """The gap by plastic strip [mm].

    >>> import topend as te
    >>> te.measure.strip(low="0.89 mm", high="1.02 mm", radius="22.6 mm").text
    '0.955 mm ± 0.062'
    """
    return Strip(**fields).results()[0]
