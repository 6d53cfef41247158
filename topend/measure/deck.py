"""The deck on a dry fit, and the gap by dial through the plug hole."""

from __future__ import annotations

from math import radians
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field, model_validator

from topend.measure.budget import Term, rectangular
from topend.measure.instruments import InstrumentName, read_with
from topend.measure.measured import Measured, Reading, limits_of, measured, refuse, si
from topend.parts.help import takes_fields_of
from topend.units import Angle, Length, NonNegativeLength, PositiveLength

__all__ = ["Deck", "Dial", "deck", "dial"]


class Deck(Reading):
    """The crown at TDC against the deck, at several places, on a dry fit.

    `crown` says which way: below the deck, or above it. With the nuts not down or the gaskets not crushed the barrel stands higher than
    it will: `gaskets_may_crush` is by how much more, at most.

    >>> Deck(crown="below", readings=["1.64 mm", "1.66 mm", "1.65 mm"], nuts_down=True, gaskets_crushed=True).results()[0].text
    '1.650 mm ± 0.032'
    """

    title: ClassVar[str] = "deck"
    kind: Literal["deck"] = Field(default="deck", description="Which reading it is; written in files, never needed in code.")
    readings: tuple[NonNegativeLength, ...] = Field(description="Depths read, at several places around.")
    crown: Literal["below", "above"] = Field(description="Whether the crown lies below the deck or stands above it.")
    instrument: InstrumentName = Field(default="depth gauge", description="What it was read with.")
    instrument_limits: PositiveLength | None = Field(default=None, description="Its limit of error.")
    instrument_step: PositiveLength | None = Field(default=None, description="Its smallest step.")
    nuts_down: bool = Field(description="Whether the nuts were down to their torque.")
    gaskets_crushed: bool = Field(description="Whether the gaskets were crushed.")
    gaskets_may_crush: PositiveLength | None = Field(
        default=None, description="What the stack may still crush by, if nuts or gaskets were not down."
    )

    @model_validator(mode="after")
    def _check(self) -> Deck:
        if not (self.nuts_down and self.gaskets_crushed) and self.gaskets_may_crush is None:
            raise refuse(
                "deck",
                "gaskets_may_crush",
                "is missing: with nuts not down or gaskets not crushed the barrel stands too high. Read it with nuts down, or "
                "say by how much the "
                "stack may still crush",
            )
        return self

    def results(self) -> tuple[Measured, ...]:
        terms, notes = read_with("deck", si(self.readings), self.instrument, limits=self.instrument_limits, step=self.instrument_step)
        if not (self.nuts_down and self.gaskets_crushed):
            assert self.gaskets_may_crush is not None
            half = self.gaskets_may_crush.si / 2.0
            terms.append(rectangular("crush still to come", half, half))
            notes.append("read before the gaskets were crushed: half of what they may crush by is taken off, with limits as wide")
        else:
            terms.append(rectangular("crush still to come", 0.0, 0.0))
        sign = 1.0 if self.crown == "below" else -1.0

        def clearance(depth: Any, limit: Any, step: Any, crush: Any) -> Any:
            return sign * (depth + limit + step) - crush

        return (measured("deck.clearance", clearance, terms, notes=notes, name=self.called),)


class Dial(Reading):
    """The gap by dial through the plug hole: the piston pushed by hand against the head, then, reassembled, at TDC.

    `touching` and `at_tdc` are what the dial showed; the difference is the least distance between crown and head. `tilt` of the stem
    off the bore's axis shows too much by its cosine, and is taken out.

    >>> Dial(touching=["4.12 mm", "4.11 mm"], at_tdc=["3.24 mm", "3.24 mm"]).results()[0].of
    'contact_min'
    """

    title: ClassVar[str] = "dial"
    kind: Literal["dial"] = Field(default="dial", description="Which reading it is; written in files, never needed in code.")
    touching: tuple[Length, ...] = Field(description="What the dial showed with the piston against the head.")
    at_tdc: tuple[Length, ...] = Field(description="What it showed at TDC, reassembled.")
    tilt: Angle | None = Field(default=None, description="Stem of the dial off the bore's axis; not given: 0 ± 5 deg.")
    instrument_limits: PositiveLength | None = Field(default=None, description="The dial's limit of error.")
    instrument_step: PositiveLength | None = Field(default=None, description="Its smallest step.")

    @model_validator(mode="after")
    def _check(self) -> Dial:
        high, low = sum(si(self.touching)) / len(self.touching), sum(si(self.at_tdc)) / len(self.at_tdc)
        if not high > low:
            raise refuse(
                "dial",
                "at_tdc",
                f"reads {low * 1e3:.3f} mm, not less than {high * 1e3:.3f} mm with the piston against the head: in the wrong order, "
                "or the dial counts the other way; write it so that it grows toward the head",
            )
        return self

    def results(self) -> tuple[Measured, ...]:
        terms: list[Term] = []
        notes: list[str] = []
        for name, many in (("piston against the head", self.touching), ("piston at TDC", self.at_tdc)):
            made, told = read_with(name, si(many), "dial", limits=self.instrument_limits, step=self.instrument_step)
            # one dial: its limits count once, for the difference
            terms += made if not terms else [made[0], made[2]]
            notes += told
        lean = 0.0 if self.tilt is None else self.tilt.si
        spread = radians(5.0) if self.tilt is None else limits_of(self.tilt, radians(2.0))
        terms.append(rectangular("stem off the axis", lean, spread))

        def gap(touching: Any, limit: Any, step: Any, tdc: Any, other: Any, lean: Any) -> Any:
            return (touching - tdc + limit + step + other) * np.cos(lean)

        return (measured("contact_min", gap, terms, notes=notes, name=self.called),)


@takes_fields_of(Deck)
def deck(**fields: Any) -> Measured:
    """Deck clearance from readings on a dry fit [mm], positive below the deck.

    >>> import topend as te
    >>> te.measure.deck(crown="below", readings=["1.64 mm", "1.66 mm", "1.65 mm"], nuts_down=True, gaskets_crushed=True).text
    '1.650 mm ± 0.032'
    """
    return Deck(**fields).results()[0]


@takes_fields_of(Dial)
def dial(**fields: Any) -> Measured:
    """Least distance between crown and head by dial [mm].

    >>> import topend as te
    >>> te.measure.dial(touching=["4.12 mm", "4.11 mm"], at_tdc=["3.24 mm", "3.24 mm"]).text
    '0.875 mm ± 0.021'
    """
    return Dial(**fields).results()[0]
