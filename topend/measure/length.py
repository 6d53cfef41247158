"""Lengths of parts, read directly: bore, diameters, port roofs, compression height, and gaskets before and after crushing."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from pydantic import Field, model_validator

from topend.measure.instruments import InstrumentName, read_with
from topend.measure.measured import Measured, Reading, check_path, measured, refuse, si
from topend.parts.help import takes_fields_of
from topend.units import Length, PositiveLength

__all__ = ["GasketThickness", "LengthOf", "gasket", "length"]


class LengthOf(Reading):
    """Any length of a part, by its input path, read several times.

    >>> LengthOf(of="cylinder.bore", readings=["47.61 mm", "47.60 mm", "47.60 mm"], instrument="bore gauge").results()[0].of
    'cylinder.bore'
    """

    title: ClassVar[str] = "length"
    kind: Literal["length"] = Field(default="length", description="Which reading it is; written in files, never needed in code.")
    of: str = Field(description="The input path it gives, such as cylinder.bore or cylinder.ports.0.top.")
    readings: tuple[Length, ...] = Field(description="What was read.")
    instrument: InstrumentName = Field(default="caliper", description="What it was read with.")
    instrument_limits: PositiveLength | None = Field(default=None, description="Its limit of error.")
    instrument_step: PositiveLength | None = Field(default=None, description="Its smallest step.")

    @model_validator(mode="after")
    def _check(self) -> LengthOf:
        check_path(self.of, "mm", "length")
        return self

    def results(self) -> tuple[Measured, ...]:
        terms, notes = read_with(self.of, si(self.readings), self.instrument, limits=self.instrument_limits, step=self.instrument_step)
        return (measured(self.of, lambda mean, limit, step: mean + limit + step, terms, notes=notes, name=self.called),)


class GasketThickness(Reading):
    """A gasket by micrometer at several points, before and after it was crushed.

    `of` is the gasket in the stack, such as ``head_gaskets.0``. `after` gives the fitted thickness; `before` alone gives the nominal.

    >>> GasketThickness(of="base_gaskets.0", before=["0.51 mm", "0.50 mm", "0.50 mm"], after=["0.44 mm"]).results()[0].of
    'base_gaskets.0.fitted_thickness'
    """

    title: ClassVar[str] = "gasket"
    kind: Literal["gasket"] = Field(default="gasket", description="Which reading it is; written in files, never needed in code.")
    of: str = Field(pattern=r"^(base|head)_gaskets\.[0-9]+$", description="Which gasket: base_gaskets.N or head_gaskets.N, N from 0.")
    before: tuple[PositiveLength, ...] = Field(default=(), description="Points read before it was fitted.")
    after: tuple[PositiveLength, ...] = Field(default=(), description="Points read after the nuts had been down.")
    instrument_limits: PositiveLength | None = Field(default=None, description="The micrometer's limit of error.")
    instrument_step: PositiveLength | None = Field(default=None, description="Its smallest step.")

    @model_validator(mode="after")
    def _check(self) -> GasketThickness:
        if not self.before and not self.after:
            raise refuse("gasket", "after", "is missing: give the points read after crushing, or those before it")
        if self.before and self.after:
            before, after = (1e3 * sum(si(many)) / len(many) for many in (self.before, self.after))
            if after > before + 0.005:
                raise refuse(
                    "gasket",
                    "after",
                    f"is {after:.3f} mm, more than the {before:.3f} mm before crushing: in the wrong order, or two gaskets",
                )
        return self

    def results(self) -> tuple[Measured, ...]:
        made = []
        parts = (("fitted_thickness", self.after), ("thickness", self.before))
        for what, many in parts:
            if many:
                terms, notes = read_with(what, si(many), "micrometer", limits=self.instrument_limits, step=self.instrument_step)
                if what == "thickness" and not self.after:
                    notes.append("not read after crushing: every sum uses the crushed thickness, which is then assumed")
                if what == "fitted_thickness" and self.before:
                    before, after = (sum(si(each)) / len(each) for each in (self.before, self.after))
                    notes.append(f"crushed by {100.0 * (1.0 - after / before):.1f} %")
                total = measured(f"{self.of}.{what}", lambda mean, limit, step: mean + limit + step, terms, notes=notes, name=self.called)
                made.append(total)
        return tuple(made)


@takes_fields_of(LengthOf)
def length(**fields: Any) -> Measured:
    """A length of a part [mm], from one or several readings.

    >>> import topend as te
    >>> te.measure.length(of="cylinder.bore", readings=["47.61 mm", "47.60 mm", "47.60 mm"], instrument="bore gauge").text
    '47.6033 mm ± 0.0127'
    """
    return LengthOf(**fields).results()[0]


@takes_fields_of(GasketThickness)
def gasket(**fields: Any) -> Measured:
    """A gasket's fitted thickness [mm], or its nominal where it was not read after crushing.

    >>> import topend as te
    >>> te.measure.gasket(of="base_gaskets.0", before=["0.51 mm", "0.50 mm", "0.50 mm"], after=["0.44 mm"]).text
    '0.4400 mm ± 0.0107'
    """
    return GasketThickness(**fields).results()[0]
