"""Readings on a page: what they say and how surely, a build after assembly, and blank sheets for the bench and for far away."""

from __future__ import annotations

import functools
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from topend.assembly import TopEnd
from topend.measure.clocks import CLOCKS, CLOCKS_MEANT
from topend.measure.measured import Measured
from topend.measure.next_reading import Advice, next_reading
from topend.measure.reconcile import FALSE_ALARMS, Reconciled
from topend.measure.sheet import Readings
from topend.measure.verdict import Judged, verdict
from topend.measure.verify import Verified
from topend.parts import Cylinder, Gasket
from topend.quantities import OUTPUTS
from topend.report import words
from topend.report.card import BenchCard
from topend.report.cautions import CAUTIONS
from topend.report.expected import COUNTS_ON, Expected, expected_readings, wire_thickness
from topend.report.layout import columns, heading, labelled, paragraph
from topend.report.tightening import Tightening
from topend.uncertainty import uncertainty

if TYPE_CHECKING:
    from topend.solve import Combination, Fit

__all__ = ["CustomerAnswer", "ReadingsReport", "VerifiedReport", "question_sheet", "reading_sheet"]

_SPREAD: Final = (
    "± is the half-width of the 95 % interval: few readings widen it (Student's t with the effective degrees of freedom), "
    "limits that rule it "
    "narrow it. u is the standard uncertainty."
)
#: Terms of a budget that are shown.
_TERMS: Final = 4


@dataclass(frozen=True)
class ReadingsReport:
    """A file of readings as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `readings` as `load_readings` gives them.
    """

    readings: Readings = field(repr=False)

    @functools.cached_property
    def measured(self) -> tuple[Measured, ...]:
        """What the readings say."""
        return self.readings.measured

    def verdicts(self) -> dict[str, Judged]:
        """Verdicts on those limits of the file whose output was read directly."""
        known = {one.of: one for one in self.measured if not one.at_least}
        return {name: verdict(known[name], low=low, high=high) for name, (low, high) in self.readings.limits.items() if name in known}

    def to_dict(self) -> dict[str, Any]:
        """As plain data: `title`, `file`, `measured` in the order of the file, `verdicts`, `cautions`."""
        return {
            "title": self.readings.title,
            "file": self.readings.file,
            "measured": [{**one.to_dict(), "first_order": _first_order(one), "few_readings": _few(one)} for one in self.measured],
            "verdicts": {name: _judged_dict(one) for name, one in self.verdicts().items()},
            "cautions": list(CAUTIONS),
        }

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)

    @functools.cached_property
    def text(self) -> str:
        """The readings in plain text for 80 columns."""
        lines = paragraph(f"READINGS: {self.readings.title}", rest="  ")
        lines.append(f"from {self.readings.file}")
        lines += heading("What they say")
        lines += columns([_figure_row(one) for one in self.measured], right=[1, 4])
        lines += ["", *paragraph(_SPREAD)]
        lines += heading("Largest terms of each")
        for one in self.measured:
            if not one.derived:
                lines += paragraph(f"{one.label} ({one.name})", first="  ", rest="    ")
                lines += columns(_term_rows(one), right=[1], indent="    ")
        notes = [f"{one.label}: {note}" for one in self.measured for note in one.notes]
        if notes:
            lines += heading("Notes")
            for note in dict.fromkeys(notes):
                lines += paragraph(note, first="  - ")
        lines += first_order_lines({one.label: one for one in self.measured if not one.derived})
        lines += _verdict_lines(self.verdicts())
        return "\n".join([*lines, *_caution_lines()])


@dataclass(frozen=True)
class VerifiedReport:
    """A build after assembly as `text`, `to_dict` and `json`: predicted and found, all together, verdicts, and what to read next.

    Parameters: `verified` as `verify` gives it; `title`, `file` of the job and `readings_file`; `advice` what to read next.
    """

    verified: Verified = field(repr=False)
    title: str | None = None
    file: str | None = None
    readings_file: str | None = None
    advice: Advice | None = None

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "title": self.title,
            "file": self.file,
            "readings_file": self.readings_file,
            **self.verified.to_dict(),
            "next_reading": None if self.advice is None else self.advice.to_dict(),
            "cautions": list(CAUTIONS),
        }

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)

    @functools.cached_property
    def text(self) -> str:
        """The build in plain text for 80 columns."""
        made = self.verified
        lines = paragraph(f"AFTER ASSEMBLY: {self.title}" if self.title else "AFTER ASSEMBLY", rest="  ")
        lines += [f"from {file}" for file in (self.file, self.readings_file) if file]
        lines += ["", f"  {made.outcome.upper()}"]
        lines += heading("Predicted and found")
        rows = [("", "predicted", "found", "", "")]
        for one in made.compared:
            places = max(2, one.found.decimals)
            unit = _unit(one.found.unit)
            found = f"{one.found.value:.{places}f}" if not one.found.at_least else f">= {one.found.value:.{places}f}"
            mark = {True: "agrees", False: "DOES NOT AGREE", None: "not crushed"}[one.agrees]
            rows.append((one.label, f"{one.predicted:.{places}f}", found, unit, mark))
        lines += columns(rows, right=[1, 2])
        for one in made.compared:
            if one.agrees is False:
                lines += paragraph(f"{one.label}: {one.text}", first="  ! ")
        lines += _verdict_lines(made.verdicts)
        if made.together is not None:
            lines += together_lines(made.together)
        lines += first_order_lines(made.outputs)
        if self.advice is not None:
            lines += heading("Read next") + _advice_lines(self.advice)
        if made.notes:
            lines += heading("Notes")
            for note in made.notes:
                lines += paragraph(note, first="  - ")
        return "\n".join([*lines, *_caution_lines()])


def together_lines(made: Reconciled) -> list[str]:
    """All readings of a build together: whether they agree, which does not belong, and the best estimates."""
    lines = heading("All readings together, with the limits stated")
    if made.dof == 0:
        lines += paragraph("Nothing is read twice over, so nothing checks anything.", first="  ")
    else:
        percent = f"{100 * made.probability:.0f} %" if made.probability >= 0.005 else "less than 1 %"
        chance = f"as much or more in {percent} of good builds"
        said = f"chi-squared {made.chi_squared:.1f} on {made.dof} degrees of freedom; {chance}"
        lines += paragraph(said, first="  ", rest="    ")
    if made.suspect is not None:
        one = made.suspect
        lines += paragraph(f"{one.label} ({one.name}) does not belong: it {one.explanation}", first="  ! ")
        for other in made.or_else:
            lines += paragraph(f"or {other.label} ({other.name}): it {other.explanation}; these readings cannot tell which", first="    ")
        lines += paragraph("Read it again before anything is cut.", first="    ")
    elif made.dof:
        lines += paragraph(
            f"No reading stands out (one is called wrong by mistake in {100 * FALSE_ALARMS:.0f} % of good builds).", first="  ", rest="    "
        )
    said = "What is stated without limits counts as known to half of its last decimal: 44 mm as 43.5 to 44.5 mm, 44.00 mm to 0.005 mm."
    lines += paragraph(said, first="  ")
    rows = [("", "best", "", "95 %", "was")]
    before = {one.label: one for one in made.residuals if one.stated}
    for dimension in made.dimensions:
        was = before.get(dimension.of)
        places = dimension.decimals
        half = dimension.half_width()
        then = "" if was is None else f"{was.value:.{places}f}, u {was.u:.{places}f}"
        rows.append((dimension.of, f"{dimension.value:.{places}f}", _unit(dimension.unit), f"± {half:.{places}f}", then))
    for name, known in made.outputs.items():
        places = known.decimals
        rows.append((name, f"{known.value:.{places}f}", _unit(known.unit), f"± {known.half_width():.{places}f}", ""))
    return lines + columns(rows, right=[1])


# --- a customer far away ---------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class CustomerAnswer:
    """The answer to a customer who sent readings: gaskets to fit, the worst case, and what to read next.

    Parameters: `fit` what `fit_gaskets` found for the customer's top end. The worst case is the end of the 95 % interval that does harm:
    the least gap at its lower end, the ratio at its upper end.
    """

    fit: Fit = field(repr=False)
    title: str | None = None

    @property
    def chosen(self) -> Combination | None:
        """The first of the best, or None where nothing fits."""
        return self.fit.best[0] if self.fit.best else None

    @functools.cached_property
    def advice(self) -> Advice | None:
        """What to read next on the build that was chosen."""
        return None if self.chosen is None else next_reading(self.chosen.top)

    def worst(self) -> dict[str, tuple[float, float, str]]:
        """By output: value, the end of its interval that does harm, unit."""
        if self.chosen is None:
            return {}
        wanted = ("squish_min", "squish_edge", "compression_ratio", "trapped_compression_ratio")
        names = [name for name in wanted if name in self.chosen.result]
        made = {}
        for name, one in uncertainty(self.chosen.top, names).items():
            low, high = one.interval
            made[name] = (one.value, low if name.startswith("squish") else high, one.unit)
        return made

    @functools.cached_property
    def text(self) -> str:
        """The answer in plain text for 80 columns."""
        lines = paragraph(f"ANSWER: {self.title}" if self.title else "ANSWER", rest="  ")
        if self.chosen is None:
            return "\n".join([*lines, *paragraph("Nothing in the drawer fits what was asked; see the fit for the nearest.", first="  ")])
        chosen = self.chosen
        rows = [("head", (chosen.head.name or "the head") if chosen.head is not None else "as fitted")]
        rows += [(role, f"{words.gasket_name(one)}, {one.thickness.text}") for role, many in _stacks(chosen) for one in many]
        lines += heading("Fit") + labelled(rows)
        lines += heading("Worst case, from the limits stated or assumed")
        table = [("", "expected", "at worst", "")]
        for name, (value, end, unit) in self.worst().items():
            places = OUTPUTS[name].decimals
            table.append((name, f"{value:.{places}f}", f"{end:.{places}f}", _unit(unit)))
        lines += columns(table, right=[1, 2])
        if self.advice is not None:
            lines += heading("Read next") + _advice_lines(self.advice)
        return "\n".join([*lines, *_caution_lines()])


def _stacks(chosen: Combination) -> list[tuple[str, tuple[Gasket, ...]]]:
    return [("base gasket", tuple(chosen.base)), ("head gasket", tuple(chosen.head_gaskets))]


def question_sheet(cylinder: Cylinder | None = None, *, family: str | None = None) -> str:
    """Questions to a customer far away, from what is known of the cylinder family: plain text to send.

    >>> from topend.parts import Cylinder
    >>> print(question_sheet(Cylinder(bore="47.6 mm"), family="demo").splitlines()[0])
    QUESTIONS: demo
    """
    known = []
    if cylinder is not None and cylinder.bore is not None:
        known.append(f"bore {cylinder.bore.text}")
    known += [f"{port.kind} port {port.top.text} below the deck" for port in (cylinder.ports if cylinder is not None else ())]
    lines = paragraph(f"QUESTIONS: {family or (cylinder.name if cylinder is not None else None) or 'top end'}", rest="  ")
    if known:
        lines += paragraph(f"We have: {'; '.join(known)}. Say so if yours differ.", first="  ")
    for title, asked in _QUESTIONS:
        lines += heading(title)
        for one in asked:
            lines += paragraph(one, first="  [ ] ")
    return "\n".join([*lines, *_caution_lines()])


_QUESTIONS: Final = (
    (
        "Deck, on a dry fit",
        (
            "Clean the faces, fit the base gaskets you will run, no head; nuts down to their torque, on spacers where the head's nuts hold "
            "the barrel too.",
            "At TDC, with a depth gauge: crown edge to the deck at 12, 3, 6 and 9 o'clock, seen from above, 12 toward the exhaust. Below "
            "or above? ______ ______ ______ ______ mm",
            "Where on the crown: edge, centre, or at which radius? ______",
            "With what instrument? ______",
        ),
    ),
    (
        "Gasket stack in place",
        (
            "Each base gasket: material, thickness new, thickness after it was crushed (micrometer, three points). ______",
            "Each head gasket: the same, and its opening's diameter. ______",
        ),
    ),
    (
        "Head and piston",
        (
            "Head: which, or the diameters and angle of its band, and how far the band is recessed or stands proud. ______",
            "Chamber volume: by what, from which plane, plug fitted? ______ cc",
            "Crown: flat, dome or dish, and how high at the centre above its edge? ______ mm",
        ),
    ),
    ("How it runs", ("Fuel and its octane number: ______", "Highest crank speed: ______ rpm", "Cooled by air or water? ______")),
)


def reading_sheet(top: TopEnd | None = None, *, title: str | None = None) -> str:
    """A sheet to print and fill at the bench; with a top end, what it should read stands beside each blank, as on its card.

    >>> print(reading_sheet().splitlines()[0])
    READING SHEET
    """
    card = None if top is None else BenchCard(top)
    wanted = {} if card is None else {one.key: one for one in expected_readings(card)}
    lines = paragraph(f"READING SHEET: {title}" if title else "READING SHEET", rest="  ")
    lines += ["", "  date ____________  engine ____________________  read by ____________________", ""]
    lines += paragraph(CLOCKS_MEANT, first="  ")
    for name, how, blanks, unit, outcomes in (*_deck_and_wire(top, wanted), *_SHEET):
        lines += heading(name)
        lines += paragraph(how, first="  ")
        for row in blanks:
            lines += paragraph("  ".join(f"{blank} ______" for blank in row) + f"  {unit}", first="  ")
        for of in outcomes:
            lines += _expected_lines(of, wanted, card)
    return "\n".join([*lines, *_caution_lines()])


def _expected_lines(of: str, wanted: Mapping[str, Expected], card: BenchCard | None) -> list[str]:
    """What should be read: with the limits of the card where it has them, else with the figure's ±."""
    one = wanted.get(of)
    if one is not None and one.figure is not None:
        which = f"{one.label}: " if of.endswith(("_opens", "_closes", "_duration")) else ""
        return paragraph(f"{which}expected {one.text_of(one.figure.value)}, allowed {one.limits_text}", first="    ")
    figure = None if card is None else card.figures.get(of)
    if figure is None:
        return []
    return paragraph(" ".join(f"expected {figure.number} {figure.unit_text} {figure.spread}".split()), first="    ")


#: A heading, how it is read, rows of blanks, their unit, and what is expected there.
_Asked = tuple[str, str, tuple[tuple[str, ...], ...], str, tuple[str, ...]]


def _deck_and_wire(top: TopEnd | None, wanted: Mapping[str, Expected]) -> list[_Asked]:
    """Deck and gap: what depends on the build, or is left blank where there is none."""
    tightening = None if top is None else Tightening(top)
    nuts = (None if tightening is None else tightening.torque) or "______ N·m"
    own = tightening is not None and tightening.barrel_has_nuts
    down = "the barrel's own nuts down to ______ N·m" if own else f"nuts down to {nuts}"
    deck = f"Base gaskets crushed, ______ mm together; {down}. Depth gauge at TDC, crown edge to deck; crown below [ ] above [ ] the deck."
    laid = f"At both ends of the pin at once, then at both sides across it; nuts up to {nuts}; cold, turned by hand through TDC."
    made: list[_Asked] = [("Deck, dry fit", deck, (CLOCKS,), "mm", ("deck_clearance",))]
    usual, least = wanted.get("gap_at"), wanted.get("least_gap_at")
    place, thick = "1 mm inside the band's outer edge: radius ______ mm", "1.3 to 2 times the gap"
    if usual is not None and usual.radius is not None and usual.figure is not None:
        place, thick = f"at radius {usual.radius:.2f} mm", wire_thickness(usual.figure.value)
    made.append(("Gap by wire", f"Wire ______ mm thick ({thick}), read {place}. {laid}", (CLOCKS,), "mm", ("gap_at",)))
    if least is not None and least.figure is not None:
        how = f"Laid in the same way: wire ______ mm thick ({wire_thickness(least.figure.value)}). {least.place}"
        made.append(("Gap by wire, where it is least", how, (CLOCKS,), "mm", ("least_gap_at",)))
    elif top is None:
        how = "Under a domed crown or a shallow band the gap is least further in. If the card asks for it: again, at radius ______ mm."
        made.append(("Gap by wire, where it is least", how, (CLOCKS,), "mm", ()))
    return made


_FILLINGS: Final = tuple((f"{count} filling, start", "end") for count in ("1st", "2nd", "3rd"))
_EDGES: Final = tuple((f"{count} opens", "closes") for count in ("1st", "2nd", "3rd"))
_SHEET: Final[tuple[_Asked, ...]] = (
    (
        "Head on a plate",
        "Burette ______ ml, division ______ ml, class ____ of standard ____________; liquid ____________ at ______ degC; plug fitted [ ].",
        _FILLINGS,
        "ml",
        (),
    ),
    (
        "Piston down the bore",
        "Only the top ring, land greased. Crown edge ______ mm below the plate.",
        _FILLINGS,
        "ml",
        ("crown_volume",),
    ),
    (
        "Assembled, through the plug hole at TDC",
        "To the top edge of the hole; thread ____________, reach ______ mm.",
        _FILLINGS,
        "ml",
        ("clearance_volume",),
    ),
    (
        "Degree disc, exhaust",
        "Positive stop: contact before TDC ______ deg, after TDC ______ deg. Write what the disc shows, degrees and minutes so: 88 deg "
        f"30 min. {COUNTS_ON}",
        _EDGES,
        "deg",
        ("exhaust_opens", "exhaust_closes", "exhaust_duration"),
    ),
    (
        "Degree disc, transfers",
        "Disc not moved since the stop.",
        _EDGES,
        "deg",
        ("transfer_opens", "transfer_closes", "transfer_duration"),
    ),
    (
        "Gaskets by micrometer",
        "Each gasket at three points, new and crushed.",
        (("new 1st", "2nd", "3rd"), ("crushed 1st", "2nd", "3rd")),
        "mm",
        (),
    ),
    (
        "Head by depth micrometer",
        "Gasket face to the band's outer edge; recessed [ ] proud [ ].",
        (CLOCKS,),
        "mm",
        (),
    ),
)


# --- lines -----------------------------------------------------------------------------------------------------------


def _unit(unit: str) -> str:
    return "" if unit == "–" else unit


def _figure_row(one: Measured) -> tuple[str, str, str, str, str, str]:
    places = one.decimals
    if one.at_least:
        return (one.label, f"{one.interval()[0]:.{places}f}", _unit(one.unit), "at least", "", one.name)
    half = math.ceil(one.half_width() * 10**places - 1e-9) / 10**places
    freedom = "" if math.isinf(one.dof) or one.dof > 999 else f"dof {one.dof:.0f}"
    return (one.label, f"{one.value:.{places}f}", _unit(one.unit), f"± {half:.{places}f}", f"u {one.u:.{places}f}", freedom)


def _term_rows(one: Measured) -> list[tuple[str, str, str]]:
    shown = one.budget[:_TERMS]
    places = max(one.decimals, 3)
    rows = [(term.name, f"{abs(term.u):.{places}f}", _unit(one.unit)) for term in shown]
    rest = one.budget[_TERMS:]
    if rest:
        rows.append((f"{len(rest)} more together", f"{math.sqrt(math.fsum(term.u**2 for term in rest)):.{places}f}", _unit(one.unit)))
    return rows


def _verdict_lines(verdicts: Mapping[str, Judged]) -> list[str]:
    if not verdicts:
        return []
    lines = heading("Verdict against limits (ISO 14253-1)")
    for name, one in verdicts.items():
        places = OUTPUTS[name].decimals
        figure = f"{one.value:.{places}f} ({one.interval[0]:.{places}f} to {one.interval[1]:.{places}f})"
        lines += paragraph(f"{name} {figure}: {one.text}", first="  ! " if one.verdict != "inside" else "  ")
    return lines


def _judged_dict(one: Judged) -> dict[str, Any]:
    return {
        "verdict": one.verdict,
        "value": one.value,
        "interval": list(one.interval),
        "low": one.low,
        "high": one.high,
        "unit": one.unit,
        "short_by": one.short_by,
    }


def _advice_lines(advice: Advice) -> list[str]:
    lines = []
    for name, paths in advice.needs.items():
        lines += paragraph(f"{name} cannot be had before {', '.join(paths)} is known", first="  ! ")
    for one in advice.ranked[:3]:
        lines += paragraph(one.text, first="  - ")
    if not advice.ranked:
        lines += paragraph("no further reading would narrow the least gap or the ratio", first="  ")
    return lines


def first_order_lines(known: Mapping[str, Measured]) -> list[str]:
    """Whether first order is enough for each of `known`, beside a simulation of its budget; and what few readings make of it there."""
    found = {name: one.validation() for name, one in known.items()}
    checked = {name: one for name, one in found.items() if one is not None}
    if not checked:
        return []
    lines = heading("Is first order enough? (JCGM 101, clause 8)")
    bent = {name: one for name, one in checked.items() if not one.agrees}
    if not bent:
        lines += paragraph("Yes: simulation finds the same 95 % intervals, to half of the first digit of u.", first="  ")
    for name, one in bent.items():
        places, unit = known[name].decimals, known[name].unit
        first, drawn = (f"{low:.{places}f} to {high:.{places}f}" for low, high in (one.first, one.drawn))
        end = f" {unit}" if _unit(unit) else ""
        lines += paragraph(f"{name}: no. Simulation finds {drawn}{end}, first order {first}{end}: go by the simulation", first="  ! ")
    wider = [name for name in checked if (few := known[name].validation(few_readings=True)) is not None and not few.agrees]
    wider = [name for name in wider if name not in bent]
    if wider:
        told = "Few readings: drawn as Student's t (JCGM 101, 6.4.9) the intervals would be wider"
        halves = [f"{name} ± {_half_drawn(known[name]):.{known[name].decimals}f}" for name in wider]
        lines += paragraph(f"{told}: {', '.join(halves)}. Read more often where that matters.", first="  ")
    return lines


def _half_drawn(one: Measured) -> float:
    made = one.validation(few_readings=True)
    return math.nan if made is None else (made.drawn[1] - made.drawn[0]) / 2.0


def _first_order(one: Measured) -> dict[str, Any] | None:
    made = one.validation()
    return None if made is None else made.to_dict()


def _few(one: Measured) -> dict[str, Any] | None:
    made = one.validation(few_readings=True)
    return None if made is None else made.to_dict()


def _caution_lines() -> list[str]:
    return [*heading("Cautions"), *(line for told in CAUTIONS for line in paragraph(told, first="  - "))]
