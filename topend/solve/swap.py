"""Another crank or piston in the same barrel: before and after, and the spacer that brings the deck back."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from topend.assembly import TopEnd, lowered_changed
from topend.checks import findings
from topend.errors import AssemblyError, FitError, must_be
from topend.evaluation import Result, evaluate, needs_message
from topend.parts import Crank, Gasket, Piston
from topend.physics import wiring
from topend.quantities import OUTPUTS, Finding
from topend.units import KINDS, Quantity, StatedQuantity, StatedValueError, from_si, quantity, stated

__all__ = ["Swap", "swap"]

#: What a swap is looked at for, where it can be had.
SHOWN: Final = (
    "piston_travel",
    "deck_clearance",
    "squish_edge",
    "squish_min",
    "swept_volume",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_duration",
    "transfer_duration",
    "blowdown",
    "skirt_web_clearance",
    "exhaust_skirt_cover",
    "mean_piston_speed",
)
#: A spacer thinner than this is none [m].
_NONE: Final = 1e-9


@dataclass(frozen=True)
class Swap:
    """The answer of `swap`.

    `before` what the top end came to; `after` what it comes to as it stands, None where it cannot be assembled, with `refusal` in words;
    `spacer` what has to go under the barrel so that the deck lies where it lay, negative where it would have to come lower by as
    much; `spaced` what it comes to with that spacer, None where there is none to be put in. `floor_steps` for each transfer port
    whose floor is stated how far the crown's edge stands above it at BDC (negative: below), before, after and with the spacer [mm].

    Made by `te.swap`, whose example shows one.
    """

    before: Result
    after: Result | None
    refusal: str
    spacer: Quantity
    spaced: Result | None
    floor_steps: Mapping[int, tuple[float, float, float]]
    notes: tuple[str, ...]
    _names: tuple[str, ...] = field(default=SHOWN, repr=False)

    @functools.cached_property
    def rows(self) -> tuple[tuple[str, str, float | None, float | None, float | None], ...]:
        """(name, unit, before, after, with the spacer) of everything that can be had; None where it cannot."""
        made = []
        columns = [self.before, self.after, self.spaced]
        for name in self._names:
            values = [_had(one, name) for one in columns]
            if any(value is not None for value in values):
                made.append((name, OUTPUTS[name].unit, *values))
        return tuple(made)  # type: ignore[arg-type]

    @functools.cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said of the end, with the spacer where there is one, and was not to be said before."""
        end = self.spaced or self.after
        if end is None:
            return ()
        known = {(one.pack, one.code) for one in findings(self.before)}
        return tuple(one for one in findings(end) if (one.pack, one.code) not in known)

    def __str__(self) -> str:
        def cell(value: float | None, decimals: int) -> str:
            return "unknown" if value is None else f"{value:.{decimals}f}"

        # a column that stands for nothing would read as something unknown
        columns = [at for at, one in enumerate((self.before, self.after, self.spaced)) if one is not None]
        titles = ("before", "after", "spacer")
        lines = [f"{'':28} {' '.join(f'{titles[at]:>9}' for at in columns)}"]
        for name, unit, *values in self.rows:
            shown = " ".join(f"{cell(values[at], OUTPUTS[name].decimals):>9}" for at in columns)
            lines.append(f"{name:28} {shown} {'' if unit == '–' else unit}".rstrip())
        for port, steps in self.floor_steps.items():
            lines.append(f"{f'crown over floor, port {port}':28} {' '.join(f'{steps[at]:9.3f}' for at in columns)} mm")
        if self.refusal:
            lines.append(f"as it stands it cannot be assembled: {self.refusal}")
        millimetres = self.spacer.m_as("mm")
        if millimetres > 0.0:
            lines.append(f"a spacer of {millimetres:.3f} mm brings the deck back")
        elif millimetres < 0.0:
            lines.append(f"the barrel would have to come lower by {-millimetres:.3f} mm to bring the deck back")
        return "\n".join([*lines, *self.notes, *(_said(one) for one in self.findings)])


def _said(one: Finding) -> str:
    return one.message if one.pack is None else f"{one.message} (found by {f'pack {one.pack}' if one.pack else 'no pack'}, not by topend)"


def swap(top: TopEnd, *, crank: Crank | None = None, piston: Piston | None = None, spacer: Any = None, spacer_window: Any = None) -> Swap:
    """What another crank (stroke, rod) or piston changes, and the spacer that brings the deck back to where it was.

    Parameters: `top` the build as it is, its deck read or stacked up; `crank`, `piston` the new parts; `spacer` a thickness to try in
    place of the one that brings the deck back; `spacer_window` the circle that its cut-outs for the transfer passages reach
    out to, so that a step there is found. An assembled volume holds for the parts it was read with, and is left out after. Raises
    `FitError` where nothing is swapped or the deck cannot be had.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="40 mm", rod_length="80 mm"), deck=te.DeckReading(clearance="1.0 mm"), base_gaskets=[])
    >>> longer = te.swap(top, crank=te.Crank(stroke="42 mm", rod_length="80 mm"))
    >>> print(f"{longer.spacer:.3f~P}", round(longer.spaced.shown("deck_clearance"), 6))
    1.000 mm 1.0
    """
    must_be("swap", "top", top, TopEnd)
    parts: dict[str, Any] = {name: part for name, part in (("crank", crank), ("piston", piston)) if part is not None}
    if not parts:
        raise FitError("nothing is swapped: give a crank, a piston, or both")
    notes = []
    if top.assembled is not None:
        parts["assembled"] = None
        notes.append("the assembled volume was read with the parts as they were: after the swap volumes go by head and crown")
    notes += _offsets_lost(top, crank, piston)
    row, _ = lowered_changed(top, parts)
    if top.deck is not None:
        _refuse_guesses(top, crank, piston)
    decks = []
    for one in (top.row, row):
        planned = wiring.plan(one.structure, ("deck_clearance",))
        if planned.missing:
            raise FitError(needs_message("deck_clearance", planned.missing["deck_clearance"].needs))
        decks.append(float(wiring.run(planned, one.columns())["deck_clearance"][0]))
    needed = decks[0] - decks[1]
    plate = _plate(spacer, needed, spacer_window)
    after, refusal = _result(top, parts)
    spaced = None
    if plate is not None:
        if top.base_gaskets is None:
            raise FitError("a spacer goes into a base stack that is not known: give base_gaskets (an empty list: none)")
        spaced, why = _result(top, {**parts, "base_gaskets": (*top.base_gaskets, plate)})
        if spaced is None:
            notes.append(f"with the spacer it cannot be assembled: {why}")
        else:
            notes.append("the spacer lengthens the transfer passages: its cut-outs must reach them all around")
    with_plate = {**parts, "base_gaskets": (*(top.base_gaskets or ()), plate)} if plate is not None else parts
    steps = {port: (was, _steps(top, parts)[port], _steps(top, with_plate)[port]) for port, was in _steps(top, {}).items()}
    return Swap(evaluate(top), after, refusal, quantity(from_si(needed, "mm"), "mm"), spaced, steps, tuple(notes))


def _offsets_lost(top: TopEnd, crank: Crank | None, piston: Piston | None) -> list[str]:
    """That an offset of the old part is none of the new one, which states none: one of the crank may well be that of the case."""
    told = []
    for part, now, then, offset in (("crank", crank, top.crank, "offset"), ("piston", piston, top.piston, "pin_offset")):
        if now is None or then is None or offset in now.given() or getattr(then, offset).si == 0.0:
            continue
        told.append(f"{part}.{offset} is taken as 0 mm: the new one states none, and the old one has {getattr(then, offset).text}")
    return told


def _refuse_guesses(top: TopEnd, crank: Crank | None, piston: Piston | None) -> None:
    """The deck moves by the difference of old and new parts: a length that one of them leaves open must not be assumed."""
    swapped = [("crank", top.crank, crank, ("stroke", "rod_length")), ("piston", top.piston, piston, ("compression_height",))]
    for name, old, new, lengths in swapped:
        if new is None:
            continue
        for length in lengths:
            lacking = [f"the {which} {name}" for which, part in (("old", old), ("new", new)) if getattr(part, length, None) is None]
            if lacking:
                raise FitError(
                    f"{name}.{length} is not given for {' and '.join(lacking)}: the deck moves by the difference of both, which is not "
                    f"guessed; give {length}"
                )


def _plate(spacer: Any, needed: float, window: Any) -> Gasket | None:
    if spacer is None:
        if needed <= _NONE:
            return None
        thickness = StatedQuantity._state(from_si(needed, "mm"), "mm", None, None)
    else:
        try:
            thickness = stated(spacer, KINDS["length"])
        except StatedValueError as error:
            raise FitError(f"spacer {error}") from None
        if thickness.si <= 0.0:
            raise FitError(
                f"spacer must be thicker than 0 mm; got {thickness.text!r}; leave it out for the one that brings the deck back, and cut "
                "the barrel (te.cut) where it has to come lower"
            )
    try:
        reach = None if window is None else stated(window, KINDS["length"])
    except StatedValueError as error:
        raise FitError(f"spacer_window {error}") from None
    if reach is not None and reach.si <= 0.0:
        raise FitError(f"spacer_window must be more than 0 mm; got {reach.text!r}")
    return Gasket(role="base", name="spacer", thickness=thickness, fitted_thickness=thickness, window_diameter=reach)


def _result(top: TopEnd, changes: Mapping[str, Any]) -> tuple[Result | None, str]:
    try:
        return evaluate(top.replace(changes)), ""
    except AssemblyError as error:
        return None, str(error)


def _had(result: Result | None, name: str) -> float | None:
    if result is None:
        return None
    if name not in result.si and wiring.plan(result.top.row.structure, (name,)).missing:
        return None
    return (result if name in result.si else evaluate(result.top, [name])).shown(name)


def _steps(top: TopEnd, changes: Mapping[str, Any]) -> dict[int, float]:
    """By transfer port: crown's edge at BDC above its floor [mm]."""
    row = lowered_changed(top, changes)[0] if changes else top.row
    planned = wiring.plan(row.structure, ("deck_clearance", "piston_travel"))
    if planned.missing:
        return {}
    known = wiring.run(planned, row.columns())
    crown = float(known["deck_clearance"][0] + known["piston_travel"][0])
    ports = () if top.cylinder is None else top.cylinder.ports
    return {at: (port.floor.si - crown) * 1e3 for at, port in enumerate(ports) if port.kind == "transfer" and port.floor is not None}
