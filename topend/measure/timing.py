"""Port timing by degree disc: true TDC by a positive stop, opening and closing both, and the wedge rule."""

from __future__ import annotations

import math
from typing import Any, ClassVar, Final, Literal

from pydantic import Field, model_validator

from topend.measure.budget import Contribution, Term, combined, rectangular
from topend.measure.measured import Measured, Reading, limits_of, measured, refuse, scattered, si
from topend.parts.help import takes_fields_of
from topend.physics import slider_crank
from topend.units import Angle, PositiveLength

__all__ = ["Timing", "timing", "true_tdc"]

_TURN: Final = 2.0 * math.pi
#: What one reading of an edge by eye or feel scatters [rad]; common practice.
_SINGLE: Final = math.radians(0.5)


def true_tdc(*, before: float, after: float) -> float:
    """Disc angle [rad] of true TDC from the two contacts with a positive stop [rad], the disc growing as the crank turns.

    TDC lies in the middle of the two, whatever the stop's depth.

    >>> round(math.degrees(true_tdc(before=math.radians(332.0), after=math.radians(30.0))), 1)
    1.0
    """
    return (before + ((after - before) % _TURN) / 2.0) % _TURN


class Timing(Reading):
    """A port by degree disc, as the disc was read, growing the way the crank turns.

    `stop_before` and `stop_after` are the contacts with a positive stop before and after TDC. `opens` and `closes` are the disc's readings
    as the port opens and closes. With a `wedge` of known thickness, read where it grips, the port is already open by that much; it takes
    stroke and rod to bring that back to the edge itself (not given: 2.15 x stroke ± 0.15).

    >>> disc = Timing(port="exhaust", stop_before="332 deg", stop_after="30 deg", opens=["88 deg 30 min"], closes=["273 deg 30 min"])
    >>> [(one.of, round(one.value, 2)) for one in disc.results()]
    [('exhaust_opens', 87.5), ('exhaust_closes', 87.5), ('exhaust_duration', 185.0)]
    """

    title: ClassVar[str] = "timing"
    kind: Literal["timing"] = Field(default="timing", description="Which reading it is; written in files, never needed in code.")
    port: Literal["exhaust", "transfer"] = Field(description="Which port.")
    stop_before: Angle = Field(description="Disc at the stop's contact before TDC.")
    stop_after: Angle = Field(description="Disc at the stop's contact after TDC.")
    opens: tuple[Angle, ...] = Field(description="Disc as the port opens.")
    closes: tuple[Angle, ...] = Field(description="Disc as it closes.")
    disc_step: Angle | None = Field(default=None, description="Smallest step that was read; not given: half a degree.")
    disc_limits: Angle | None = Field(default=None, description="Limit of error of the disc's marks and centring; not given: 0.5 deg.")
    wedge: PositiveLength | None = Field(default=None, description="Thickness at which the wedge grips, if one was used.")
    stroke: PositiveLength | None = Field(default=None, description="Stroke, for the wedge.")
    rod_length: PositiveLength | None = Field(default=None, description="Rod, for the wedge.")

    @model_validator(mode="after")
    def _check(self) -> Timing:
        if (self.stop_after.si - self.stop_before.si) % _TURN >= math.pi:
            raise refuse(
                "timing",
                "stop_after",
                f"({self.stop_after.text}) lies more than half a turn after stop_before ({self.stop_before.text}): in the wrong "
                f"order, or the disc "
                "counts against the crank",
            )
        tdc = true_tdc(before=self.stop_before.si, after=self.stop_after.si)
        for name, many, sign in (("opens", self.opens, 1.0), ("closes", self.closes, -1.0)):
            for index, one in enumerate(many):
                angle = (sign * (one.si - tdc)) % _TURN
                if angle >= math.pi:
                    where = "after" if sign > 0 else "before"
                    place = f"is {one.text}, {math.degrees(angle):.1f} deg {where} TDC"
                    text = f"{place}: opens and closes in the wrong order, or the disc counts backwards"
                    raise refuse("timing", f"{name}.{index}", text)
        if self.wedge is not None and self.stroke is None:
            raise refuse(
                "timing", "stroke", "is missing: where a wedge grips the port is already open; stroke (and rod) bring it back to the edge"
            )
        return self

    def results(self) -> tuple[Measured, ...]:
        tdc = true_tdc(before=self.stop_before.si, after=self.stop_after.si)
        step = math.radians(0.5) if self.disc_step is None else self.disc_step.si
        limit = math.radians(0.5) if self.disc_limits is None else self.disc_limits.si
        notes: list[str] = []
        parts: dict[str, list[Term]] = {}
        for name, many, sign in (("opens", self.opens, 1.0), ("closes", self.closes, -1.0)):
            angles = [(sign * (one - tdc)) % _TURN for one in si(many)]
            terms, told = scattered(name, angles, _SINGLE)
            notes += told
            shared = f"{self.called}: true TDC"
            terms.append(rectangular(f"step of the disc, {name}", 0.0, step / 2.0))
            terms.append(rectangular(f"marks of the disc, {name}", 0.0, limit))
            # two contacts, each to a step: their middle is TDC
            terms.append(rectangular("true TDC by the stop", 0.0, step / math.sqrt(2.0), shared=shared))
            terms += self._wedge_terms()
            parts[name] = terms
        models: dict[str, Any] = {}
        for name in parts:
            sign = 1.0 if name == "opens" else -1.0

            def edge(mean: Any, read: Any, marks: Any, stop: Any, *rest: Any, sign: float = sign) -> Any:
                angle = mean + read + marks + sign * stop
                return angle if not rest else self._to_edge(angle, *rest)

            models[name] = edge
        opens, closes = (measured(f"{self.port}_{name}", models[name], terms, name=self.called) for name, terms in parts.items())
        apart = abs(opens.value - closes.value)
        both = math.hypot(opens.u, closes.u)
        if apart > 2.0 * both:
            notes.append(
                f"opening and closing differ by {apart:.1f} deg: without an offset of cylinder or pin that is an error of TDC "
                f"of {apart / 2.0:.1f} deg"
            )
        # an error of TDC goes out of the duration, whose ends it moves together
        budget = [
            Contribution(one.name, -one.u, one.dof, one.shape) for part in (opens, closes) for one in part.budget if one.shared is None
        ]
        common = dict.fromkeys(one.shared for one in opens.budget if one.shared is not None)
        for effect in common:
            both_ends = [one for part in (opens, closes) for one in part.budget if one.shared == effect]
            total = -math.fsum(one.u for one in both_ends)
            if abs(total) > 1e-12:
                budget.append(Contribution(both_ends[0].name, total, both_ends[0].dof, both_ends[0].shape, effect))
        whole = combined(360.0 - opens.value - closes.value, budget)
        duration = Measured(
            f"{self.port}_duration", whole.value, whole.u, "deg", whole.dof, whole.kurtosis, tuple(budget), name=self.called, derived=True
        )
        first = measured(opens.of, models["opens"], parts["opens"], name=self.called, notes=notes)
        return first, closes, duration

    def _wedge_terms(self) -> list[Term]:
        if self.wedge is None:
            return []
        assert self.stroke is not None
        rod = self.rod_length.si if self.rod_length is not None else 2.15 * self.stroke.si
        spread = 0.05e-3 if self.rod_length is not None else 0.15 * self.stroke.si
        return [
            rectangular("wedge", self.wedge.si, limits_of(self.wedge, 0.1 * self.wedge.si), shared=f"{self.called}: wedge"),
            rectangular("stroke", self.stroke.si, limits_of(self.stroke, 0.05e-3), shared=f"{self.called}: stroke"),
            rectangular("rod", rod, spread, shared=f"{self.called}: rod"),
        ]

    @staticmethod
    def _to_edge(angle: Any, wedge: Any, stroke: Any, rod: Any) -> Any:
        """The angle at the port's edge from that at which the port was open by `wedge`."""
        throw = stroke / 2.0
        drop = slider_crank.piston_drop(throw=throw, rod_length=rod, offset=0.0, crank_angle=angle)
        return slider_crank.crank_angles_from_drop(throw=throw, rod_length=rod, offset=0.0, drop=drop - wedge)[0]


@takes_fields_of(Timing)
def timing(**fields: Any) -> tuple[Measured, ...]:
    """Opening, closing and duration of a port [deg].

    >>> import topend as te
    >>> opens, closes, lasts = te.measure.timing(port="exhaust", stop_before="332 deg", stop_after="30 deg",
    ...          opens=["88.5 deg"], closes=["273.5 deg"])
    >>> lasts.text
    '185.00 deg ± 1.65'
    """
    return Timing(**fields).results()
