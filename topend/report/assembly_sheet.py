"""The assembly sheet: the loop of a build in its order, with what to read, where it stops, and what is likely wrong when it does.

Standing of the order and of its stops: common practice. The limits are worked out (`expected`), and so are the sizes of causes.
"""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

from topend.checks.gap import LEAST_GAP_MM
from topend.checks.kit import gasket_preparation
from topend.measure import Deck, Measured, Reading, Wire
from topend.measure.clocks import CLOCKS_MEANT, clock_of
from topend.measure.verify import compare
from topend.report.causes import Cause, Way, at_least_gap, causes_of, likely
from topend.report.cautions import CAUTIONS
from topend.report.expected import Expected, expected_gap, expected_readings
from topend.report.figures import MM_PER_INCH
from topend.report.layout import heading, paragraph
from topend.report.stack import gasket_rows, stack_of
from topend.report.tightening import Tightening

if TYPE_CHECKING:
    from topend.report.card import BenchCard

__all__ = ["AssemblySheet", "Step", "Stood"]

State = Literal["stop", "go on", "to read", "to do", "not before that"]


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the loop: what to do, what to read in it, and when to stop."""

    number: int
    title: str
    do: tuple[str, ...]
    reads: tuple[Expected, ...] = ()
    stops: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "number": self.number,
            "title": self.title,
            "do": list(self.do),
            "reads": [one.to_dict() for one in self.reads],
            "stops": list(self.stops),
        }


@dataclass(frozen=True, slots=True)
class Stood:
    """Where a build stands at one step: its state, what was found (and what of that is `fine`), and, where it stops, the likely causes,
    likeliest first.
    """

    step: Step
    state: State
    told: tuple[str, ...] = ()
    causes: tuple[str, ...] = ()
    fine: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {"step": self.step.number, "state": self.state, "told": list(self.told), "causes": list(self.causes)}


@dataclass(frozen=True, slots=True)
class _Found:
    """Something that was read: what was expected, what it came to, what was written down one by one, and the wire where it is one."""

    wanted: Expected
    value: Measured
    singles: list[float]
    wire: Wire | None = None


@dataclass(frozen=True)
class AssemblySheet:
    """The sheet of one build as `text`, `to_dict` and `json`; with `readings` it says where the build stands.

    Parameters: `card` its bench card; `readings` as taken, wire of the first fit before wire after the heat cycle; None for a blank sheet.

    >>> import topend as te
    >>> from topend.report import BenchCard
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm", base_thickness="0.30 mm"))
    >>> read = te.measure.Deck(crown="below", readings=["1.02 mm", "0.99 mm"], nuts_down=True, gaskets_crushed=True)
    >>> AssemblySheet(BenchCard(top), [read]).stopped_at.title
    'Read the deck'
    """

    card: BenchCard = field(repr=False)
    readings: Sequence[Reading] | None = None

    @functools.cached_property
    def expected(self) -> dict[str, Expected]:
        """What to read, by its key."""
        return {one.key: one for one in expected_readings(self.card)}

    @functools.cached_property
    def tightening(self) -> Tightening:
        """How the nuts of the head are drawn up."""
        return Tightening(self.card.top)

    @functools.cached_property
    def causes(self) -> tuple[Cause, ...]:
        """What may put a reading off."""
        return causes_of(self.card)

    @functools.cached_property
    def steps(self) -> tuple[Step, ...]:
        """The loop in its order."""
        deck, wire, least = (self.expected.get(key) for key in ("deck_clearance", "gap_at", "least_gap_at"))
        later = tuple(one for one in self.expected.values() if one.of not in ("deck_clearance", "gap_at"))
        gap = tuple(one for one in (wire, least) if one is not None)
        nuts = self.tightening
        made = [
            (
                "Make ready",
                (
                    "Clean and dry every face; take off burrs; measure each gasket and lay the stack out in its order.",
                    *(
                        f"{role}: {name}, {nominal} new, counted as {fitted}"
                        for role, name, nominal, fitted, _ in gasket_rows(self.card.top)
                    ),
                    *_preparation(self.card),
                ),
                (),
                ("Stop where a part is not the one on the card, or a warning on the card has no answer.",),
            ),
            (
                "Dry fit",
                (
                    nuts.on_the_barrel,
                    "Turn it over by hand: the piston must run free from end to end.",
                ),
                (),
                ("Stop where the barrel does not sit flat, or the piston binds.",),
            ),
            (
                "Read the deck",
                ("At four clock positions, rocking the piston through TDC at each. Write down all four: what counts is their mean.",),
                () if deck is None else (deck,),
                ("Stop where the deck is outside its limits.",),
            ),
            (
                "Choose",
                (
                    "Deck inside its limits: the gaskets on the card stand.",
                    "Outside, and read twice: write the deck found into the job and choose gaskets anew (topend fit) before you go on.",
                ),
                (),
                (),
            ),
            (
                "Wire",
                (
                    nuts.head_on,
                    "Lay wire at both ends of the pin axis at once, so that the piston cannot rock; then at both sides across it. "
                    + _along(wire, least),
                    "Turn slowly through TDC by hand, once. Measure each wire where it is thinnest at its radius.",
                ),
                gap,
                _wire_stops(wire),
            ),
            (
                "Compare",
                ("Hold what was found against the limits above, the mean first, then each side. No reading is left out.",),
                (),
                ("Stop at any reading outside; find the cause, mend it, and go back to the dry fit.",),
            ),
            (
                "Close up",
                (
                    "Clean again, every gasket and O-ring seated.",
                    *nuts.closing_up,
                    "Two full turns by hand, slowly: nothing may touch.",
                ),
                (),
                ("Stop where it touches or binds: take it off and look for the witness mark.",),
            ),
            (
                "Read the finished build",
                ("Volume through the plug hole at TDC; port angles by degree disc, TDC by a positive stop.",),
                later,
                ("Stop where a reading is outside its limits.",) if later else (),
            ),
            (
                "First heat cycle",
                (
                    "Run it in the open air, gently and without load, until it is warm through. Let it go quite cold.",
                    nuts.again,
                ),
                (),
                ("Stop at once at a knock, a blow past the gasket, or a nut that turned far.",),
            ),
            (
                _AGAIN,
                (
                    "As at step 5, cold; the causes are those told there.",
                    "Gaskets may have crushed further: a little less than before is usual, outside the limits is not.",
                    "Keep the readings with the card.",
                ),
                gap,
                _wire_stops(wire),
            ),
        ]
        return tuple(Step(number, title, do, reads, stops) for number, (title, do, reads, stops) in enumerate(made, 1))

    def causes_when(self, one: Expected, way: Way) -> list[str]:
        """What may be wrong where a reading is ``more`` or ``less`` than it may be, or ``uneven``: in words, with sizes."""
        # a port's two edges are told of by how long it is open
        if one.of.endswith(("_opens", "_closes")):
            return []
        told = []
        for cause in self._causes_at(one):
            if cause.way(one.of) == way:
                size = cause.adds.get(one.of)
                by = "" if size is None else f"{abs(size):.{one.decimals}f} {one.unit}"
                # what a gasket is thick is said already
                told.append(f"{cause.text} ({by})" if by and by not in cause.text else cause.text)
        return list(dict.fromkeys(told))

    def causes_by_way(self, one: Expected) -> list[tuple[str, list[str]]]:
        """The same for every way that there are causes for: ``if more`` and its causes, and so on.

        Of the wire where the gap is least, those of the usual wire are not told a second time.
        """
        usual = self.expected.get(one.of) if one.at == "least" else None
        made = []
        for way in _WAYS:
            known = self.causes_when(one, way)
            if usual is not None and known:
                before = self.causes_when(usual, way)
                known = ["as for the wire at its usual place", *(told for told in known if told not in before)]
            if known:
                made.append((f"if {way_words(one.of, way)}", known))
        return made

    def _causes_at(self, one: Expected) -> tuple[Cause, ...]:
        return at_least_gap(self.card, one.radius) if one.at == "least" and one.radius is not None else self.causes

    @property
    def again(self) -> str:
        """Title of the step that comes a second time, whose causes were told."""
        return _AGAIN

    # --- where a build stands ---

    @functools.cached_property
    def stood(self) -> tuple[Stood, ...]:
        """Where the build stands, step by step; empty for a blank sheet. After a stop nothing is judged."""
        if self.readings is None:
            return ()
        made: list[Stood] = []
        fits = self._fits()
        for step in self.steps:
            if made and made[-1].state in ("stop", "not before that"):
                made.append(Stood(step, "not before that"))
            elif not step.reads:
                made.append(Stood(step, "to do"))
            elif step.reads[0].of == "gap_at":
                made.append(self._wired(step, fits.pop(0) if fits else []))
            else:
                made.append(self._read(step))
        return tuple(made)

    @property
    def stopped_at(self) -> Step | None:
        """The step at which the readings stop the build; None where they do not."""
        return next((one.step for one in self.stood if one.state == "stop"), None)

    def _read(self, step: Step) -> Stood:
        """A step that reads deck, volume or angles."""
        found: list[_Found] = []
        for reading in self.readings or ():
            if isinstance(reading, Wire):
                continue
            for one in reading.results():
                of = "deck_clearance" if one.of == "deck.clearance" else one.of
                wanted = next((each for each in step.reads if each.of == of), None)
                if wanted is not None:
                    found.append(_Found(wanted, one, _singles(reading, one)))
        return self._judged(step, found)

    def _fits(self) -> list[list[tuple[Expected, Wire]]]:
        """Wires by the fit they were laid in, each with the place it was laid at: a place that comes again begins another fit."""
        places = [one for one in self.expected.values() if one.of == "gap_at"]
        fits: list[list[tuple[Expected, Wire]]] = []
        for wire in (one for one in self.readings or () if isinstance(one, Wire)):
            radius = (wire.radius if wire.to_radius is None else wire.to_radius).si * 1e3
            # without a figure there is one place, and no radius to tell it by
            place = min(places, key=lambda one: abs((one.radius or 0.0) - radius), default=None)
            if place is None:
                continue
            if not fits or any(held.key == place.key for held, _ in fits[-1]):
                fits.append([])
            fits[-1].append((place, wire))
        return fits

    def _wired(self, step: Step, laid: Sequence[tuple[Expected, Wire]]) -> Stood:
        found: list[_Found] = []
        for place, wire in laid:
            one = wire.found().mean
            if one.at_least:
                why = ("wire not crushed: the gap is more than the wire was thick", "wire too thin, or laid outside the gap")
                return Stood(step, "stop", (f"{place.label}: it came out uncrushed, so the gap is at least {one.value:.2f} mm",), why)
            assert one.radius is not None
            wanted = place if place.radius == one.radius else expected_gap(self.card, one.radius, place)
            if wanted is None or wanted.figure is None:
                return Stood(step, "to read", (f"what a wire should read at radius {one.radius:g} mm is not known on this card",))
            found.append(_Found(wanted, one, [value.si * 1e3 for value in wire.readings], wire))
        return self._judged(step, found)

    def _judged(self, step: Step, found: list[_Found]) -> Stood:
        if not found:
            return Stood(step, "to read")
        told: list[str] = []
        causes: list[str] = []
        fine: list[str] = []
        for one in found:
            bad, why = self._outside(one)
            told += bad
            causes += why
            if not bad:
                fine.append(f"{one.wanted.label}: {one.wanted.text_of(one.value.value)}, inside {one.wanted.limits_text}")
                told.append(fine[-1])
        stops = bool(causes)
        lacking = [one.label for one in step.reads if one.key not in {held.wanted.key for held in found}]
        if lacking and not stops:
            told.append(f"still to read: {'; '.join(lacking)}")
        return Stood(step, "stop" if stops else "to read" if lacking else "go on", tuple(told), tuple(dict.fromkeys(causes)), tuple(fine))

    def _outside(self, found: _Found) -> tuple[list[str], list[str]]:
        """What is wrong with a reading, and what may have caused it; both empty where nothing is."""
        wanted, one, singles, wire = found.wanted, found.value, found.singles, found.wire
        assert wanted.figure is not None
        told: list[str] = []
        causes: list[str] = []
        known = self.causes
        if wire is not None and wanted.radius is not None:
            known = (at_least_gap if wanted.at == "least" else causes_of)(self.card, wanted.radius)
        compared = compare(self.card.top, [_as(one, wanted)])[0]
        beyond = [value for value in singles if not wanted.low <= value <= wanted.high]
        if compared.agrees is False or beyond:
            # the mean says how far a build is off; a single reading only where the mean is good
            value = one.value if compared.agrees is False else beyond[0]
            which = "" if compared.agrees is False else " on one side"
            off = value - wanted.figure.value
            way = way_words(wanted.of, "more" if off > 0.0 else "less")
            told.append(
                f"{wanted.label}: {wanted.text_of(value)}{which}, {abs(off):.{wanted.decimals}f} {wanted.unit} {way} than "
                f"{wanted.text_of(wanted.figure.value)}; allowed {wanted.limits_text}"
            )
            causes += likely(known, wanted.of, off, (wanted.high - wanted.low) / 2.0) or ["none known here: read it again"]
        if wanted.apart is not None and wire is not None:
            apart = _apart(wire)
            if apart is not None and apart[0] > wanted.apart:
                told.append(
                    f"{wanted.label}: opposite sides differ by {apart[0]:.2f} mm, more at {apart[1]}, where {wanted.apart:.2f} mm is the "
                    "scatter of wire"
                )
                causes += [cause.text for cause in known if cause.way(wanted.of) == "uneven"]
        if wanted.of == "gap_at" and min(singles) < LEAST_GAP_MM - 1e-9:
            told.append(f"{wanted.label}: {min(singles):.2f} mm is under {LEAST_GAP_MM} mm, the least that is set (common practice)")
            causes.append("too little gap, whatever was planned: a thicker gasket, or another head")
        return told, causes

    # --- for people and programs ---

    def to_dict(self) -> dict[str, Any]:
        """As plain data: `title`, `file`, `steps`, `causes` by what is read, and, with readings, `stood` and `stopped_at`."""
        stopped = self.stopped_at
        return {
            "title": self.card.title,
            "file": self.card.file,
            "packs": list(self.card.packs),
            "clocks": CLOCKS_MEANT,
            "torque": self.tightening.to_dict(),
            "steps": [one.to_dict() for one in self.steps],
            "causes": {
                key: {way: told for way in _WAYS if (told := self.causes_when(one, way))}
                for key, one in self.expected.items()
                if one.figure is not None
            },
            "stood": [one.to_dict() for one in self.stood],
            "stopped_at": None if stopped is None else stopped.number,
            "cautions": list(CAUTIONS),
        }

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)

    @functools.cached_property
    def text(self) -> str:
        """The sheet in plain text for 80 columns."""
        return self.text_in(inch=False)

    def text_in(self, *, inch: bool) -> str:
        """The same; `inch` puts inches beside millimetres."""
        card = self.card
        lines = paragraph(f"ASSEMBLY SHEET: {card.title}" if card.title else "ASSEMBLY SHEET", rest="  ")
        lines += [f"from {card.file}"] if card.file else []
        stood = {one.step.number: one for one in self.stood}
        if stood:
            stopped = self.stopped_at
            lines += [
                "",
                "  THE READINGS DO NOT STOP IT" if stopped is None else f"  STOP at step {stopped.number}, {stopped.title.lower()}",
            ]
        else:
            lines += ["", "  date ____________  engine ____________________  built by ____________________"]
        lines += ["", *paragraph(CLOCKS_MEANT, first="  ")]
        for step in self.steps:
            lines += self._step_lines(step, stood.get(step.number), inch)
        return "\n".join([*lines, *heading("Cautions"), *(line for told in CAUTIONS for line in paragraph(told, first="  - "))])

    def _step_lines(self, step: Step, stood: Stood | None, inch: bool) -> list[str]:
        lines = heading(f"{step.number}. {step.title}" + (f": {stood.state}" if stood is not None else ""))
        if stood is not None and stood.told:
            for told in stood.told:
                lines += paragraph(told, first="  ! " if stood.state == "stop" and told not in stood.fine else "  ")
            if stood.causes:
                lines += ["    likely:", *(line for told in stood.causes for line in paragraph(told, first="      - "))]
            return lines
        if stood is not None and stood.state == "not before that":
            return lines
        lines += [line for told in step.do for line in paragraph(told, first="  [ ] ")]
        how = ""
        for one in step.reads:
            # said once where several are read in the same way, and causes once where a step comes again
            lines += self._read_lines(one, how=one.how != how, causes=step.title != _AGAIN, inch=inch)
            how = one.how
        return lines + [line for told in step.stops for line in paragraph(told, first="  ! ")]

    def _read_lines(self, one: Expected, *, how: bool, causes: bool, inch: bool) -> list[str]:
        if one.figure is None:
            return paragraph(f"{one.label}: needs {', '.join(one.needs)}", first="      ")
        told = f"{one.label}: expected {one.text_of(one.figure.value)}, allowed {one.limits_text}"
        if inch and one.unit == "mm":
            told += f" ({abs(one.figure.value) / MM_PER_INCH:.4f} in, {one.inches_text})"
        lines = paragraph(told, first="      ")
        if how:
            lines += paragraph(one.how, first="        ")
        lines += paragraph("  ".join(f"{blank} ______" for blank in one.blanks), first="        ")
        for said, named in self.causes_by_way(one) if causes else ():
            lines += paragraph(f"{said}: {'; '.join(named)}", first="        ", rest="          ")
        return lines


#: The step that comes a second time.
_AGAIN: Final = "Wire again"
#: Ways in which a reading is off.
_WAYS: Final[tuple[Way, ...]] = ("more", "less", "uneven")


def way_words(of: str, way: Way) -> str:
    """A way in words: of the deck, "more" would mean one thing under it and another above it.

    >>> way_words("deck_clearance", "more"), way_words("gap_at", "more")
    ('lower', 'more')
    """
    return {"more": "lower", "less": "higher"}.get(way, way) if of == "deck_clearance" else way


def _along(usual: Expected | None, least: Expected | None) -> str:
    """How a wire is laid: along a radius, past every place that is read on it, where one wire is of a thickness for both."""
    along = "Each lies along a radius, its end against the bore"
    if usual is None or least is None or usual.figure is None or least.figure is None:
        return f"{along}."
    inward = f"reaches in past radius {least.radius:.2f} mm"
    thin, thick = math.ceil(13.0 * usual.figure.value - 1e-9) / 10.0, math.floor(20.0 * least.figure.value + 1e-9) / 10.0
    if thin <= thick:
        return f"{along}, and {inward}: wire {thin:.1f} to {thick:.1f} mm thick is read at both places."
    # what is thick enough further out would hold the piston up further in
    return f"{along}. One wire does not crush well at both places: first a short one for the usual place, then a thinner one that {inward}."


def _wire_stops(wire: Expected | None) -> tuple[str, ...]:
    if wire is None:
        return ()
    return (
        "Stop at any wire outside its limits.",
        f"Stop where opposite sides differ by more than {wire.apart:.2f} mm: wire does not scatter by that.",
        f"Stop under {LEAST_GAP_MM} mm, whatever was planned (common practice).",
    )


def _singles(reading: Reading, one: Measured) -> list[float]:
    """What was read one by one, in the unit of the measured value; the value itself where that is not kept."""
    if isinstance(reading, Deck):
        sign = 1.0 if reading.crown == "below" else -1.0
        return [sign * value.si * 1e3 for value in reading.readings]
    return [one.value]


def _as(one: Measured, wanted: Expected) -> Measured:
    """The measured value as one of what is expected: a deck read on the finished stack is the deck clearance itself."""
    if one.of == wanted.of:
        return one
    return Measured(wanted.of, one.value, one.u, one.unit, one.dof, one.kurtosis, name=one.name)


def _apart(wire: Wire) -> tuple[float, str] | None:
    """By how much [mm] opposite wires differ at most, and at which hour the greater lies; None where none lie opposite each other."""
    clocks = wire.clocks
    count = len(wire.readings)
    at = [one.si for one in clocks] if clocks else [2.0 * math.pi * index / count for index in range(count)]
    apart = [
        ((wire.readings[one].si - wire.readings[other].si) * 1e3, clock_of(at[one]))
        for one in range(count)
        for other in range(count)
        if abs(math.cos(at[one] - at[other]) + 1.0) < 1e-3
    ]
    return max(apart, default=None)


def _preparation(card: BenchCard) -> list[str]:
    """What is done to the gaskets before they are fitted: each thing once, with all that it is done to."""
    done: dict[str, list[str]] = {}
    for role, gasket in stack_of(card.top):
        name = gasket.name or f"{role} gasket"
        for step in gasket_preparation(name, gasket):
            done.setdefault(step.do, []).append(name)
    return [f"{', '.join(dict.fromkeys(names))}: {do}" for do, names in done.items()]
