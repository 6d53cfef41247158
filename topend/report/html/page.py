"""Pages from cards and sheets: the figures are theirs, the words and their order the templates' beside this file."""

from __future__ import annotations

import functools
import os
import re
from collections.abc import Sequence
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from topend.errors import MissingExtraError
from topend.measure.clocks import CLOCKS_MEANT
from topend.parts import Provenance
from topend.report import words
from topend.report.assembly_sheet import AssemblySheet
from topend.report.assumptions import meaning, taken_of
from topend.report.cautions import CAUTIONS
from topend.report.figures import MM_PER_INCH, Figure
from topend.report.finding_words import finding_rest
from topend.report.html.over_speed import over_speed_svg
from topend.report.html.section import gap_svg, section_svg
from topend.report.sections import AT_SPEED, SECTIONS, SPREAD, sections_of
from topend.report.stack import gasket_rows, stack_notes
from topend.report.written import write_whole

if TYPE_CHECKING:
    import jinja2

    from topend.report.card import BenchCard

__all__ = ["card_page", "sheet_page", "write_page"]

#: What stands at the top, for who looks once: the name of an output and what it is called there.
_AT_A_GLANCE: Final = (
    ("squish_min", "Least gap, cold"),
    ("running_clearance", "Left at speed"),
    ("compression_ratio", "Ratio"),
    ("trapped_compression_ratio", "Trapped ratio"),
    ("exhaust_duration", "Exhaust open"),
    ("transfer_duration", "Transfers open"),
)


def card_page(card: BenchCard, *, inch: bool = False) -> str:
    """The bench card as one HTML page. `inch` puts inches beside millimetres.

    The same card gives the same page, whenever it is made. Raises `MissingExtraError` without Jinja2.
    """
    sheet = AssemblySheet(card)
    sections = sections_of(card)
    marks = _marks(card)
    speed = next((one for one in sections if one.title == _title_of(AT_SPEED)), None)
    return _rendered(
        "card.html",
        card=card,
        sheet=sheet,
        inch=inch,
        # warnings first, whoever finds them, as in text
        findings=[(one, finding_rest(one)) for one in sorted(card.findings, key=lambda one: one.severity == "note")],
        glance=[(called, card.figures[name]) for name, called in _AT_A_GLANCE if name in card.figures],
        wires=[one for one in (card.gap_at, card.least_gap_at) if isinstance(one, tuple)],
        section=section_svg(card.top),
        gap=gap_svg(card.top, [(radius, figure.value) for _, radius, figure in marks]) if marks else None,
        marks=marks,
        parts=words.part_rows(card.top),
        gaskets=gasket_rows(card.top),
        stack_notes=stack_notes(card.top),
        over_speed=_over_speed(card),
        sections=[one for one in sections if one is not speed],
        speed=speed,
        spread=SPREAD,
        taken=taken_of(card),
        missing=card.missing(),
        meanings=[(path, said) for path in _needs(card) if (said := meaning(path))],
        packs=_packs(card.top.provenance),
    )


def sheet_page(sheet: AssemblySheet, *, inch: bool = False) -> str:
    """The assembly sheet as one HTML page, blank or with where the build stands. Raises `MissingExtraError` without Jinja2."""
    return _rendered("sheet.html", card=sheet.card, sheet=sheet, inch=inch, stood={one.step.number: one for one in sheet.stood})


def write_page(page: str, path: str | os.PathLike[str]) -> Path:
    """Write a page to a file, whole or not at all. Returns the path. Raises `ArgumentError` where it cannot be written."""
    return write_whole(page, path)


# --- what the templates are given ------------------------------------------------------------------------------------


def _title_of(names: Sequence[str]) -> str:
    return next(title for title, held in SECTIONS.items() if held == names)


def _marks(card: BenchCard) -> list[tuple[str, float, Figure]]:
    """What is marked in the enlarged gap: words, radius and figure [mm] of the wire and of the band's two edges."""
    reading, head = card.gap_at, card.top.head
    if not isinstance(reading, tuple) or head is None or head.band is None:
        return []
    radius, figure = reading
    made = [("wire should read", radius, figure)]
    least = card.least_gap_at
    if least is not None:
        made.append(("the second wire, where the gap is least", *least))
    for name, side, told in (
        ("squish_edge", head.band.outer_diameter, "squish_edge, at the band's outer edge"),
        ("squish_inner", head.band.inner_diameter, "squish_inner, at the band's inner edge"),
    ):
        # an edge where a wire lies has its figure already
        wired = least is not None and side is not None and abs(side.si * 500.0 - least[0]) < 0.02
        if side is not None and name in card.figures and not wired:
            made.append((told, side.si * 500.0, card.figures[name]))
    return made


def _over_speed(card: BenchCard) -> str | None:
    """The clearance over speed; None where there is none."""
    return over_speed_svg(card.top) if "running_clearance" in card.closing else None


def _needs(card: BenchCard) -> list[str]:
    return list(dict.fromkeys(path for _, needs in card.missing() for path in needs))


def _packs(provenance: Sequence[Provenance]) -> list[tuple[str, str, str, list[str]]]:
    """Each pack with its version, its whole digest, and the parts that are from it."""
    held: dict[tuple[str, str, str], list[str]] = {}
    for one in provenance:
        told = f"{one.part} (changed in the job)" if one.changed else one.part
        held.setdefault((one.pack, one.version, one.digest), []).append(told)
    return [(*pack, parts) for pack, parts in held.items()]


# --- templates -------------------------------------------------------------------------------------------------------


def _rendered(template: str, **given: Any) -> str:
    from topend import __version__

    return (
        _environment()
        .get_template(template)
        .render(version=__version__, cautions=CAUTIONS, clocks_meant=CLOCKS_MEANT, style=_text_of("style.css"), **given)
    )


def _text_of(name: str) -> str:
    return files("topend.report.html").joinpath(name).read_text(encoding="utf-8")


def _breakable(name: str) -> Any:
    """A name that may go over to a new line after its underscores and points; thousands stay with what they are thousands of."""
    from markupsafe import Markup, escape

    kept = re.sub(r"(?<=\d) (?=\d{3}\b)", "\u00a0", str(escape(name)))
    return Markup(re.sub(r"([_.])(?=[a-z])", r"\1<wbr>", kept))


def _kept(text: str) -> str:
    """A sentence whose figures stay with their units, and hours with their o'clock, where it goes over to a new line."""
    return re.sub(r"(?<=\d) (?=(?:mm|cc|deg|N·m|o'clock)\b|±)|(?<=±) (?=\d)", "\u00a0", text)


@functools.cache
def _environment() -> jinja2.Environment:
    try:
        import jinja2
    except ImportError as error:
        raise MissingExtraError("a page", "Jinja2", "report", error) from None
    made = jinja2.Environment(
        loader=jinja2.FunctionLoader(_text_of), autoescape=True, trim_blocks=True, lstrip_blocks=True, undefined=jinja2.StrictUndefined
    )
    made.filters["breakable"] = _breakable
    made.filters["kept"] = _kept
    made.filters["inches"] = lambda millimetres: f"{abs(millimetres) / MM_PER_INCH:.4f} in"
    made.filters["as_sentence"] = lambda text: text[:1].upper() + text[1:]
    return made
