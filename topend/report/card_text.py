"""The bench card in plain text for 80 columns."""

from __future__ import annotations

from typing import TYPE_CHECKING

from topend.quantities import ALWAYS, OUTPUTS
from topend.report import words
from topend.report.assumptions import meaning, taken_of
from topend.report.cautions import CAUTIONS
from topend.report.finding_words import finding_lines
from topend.report.layout import columns, heading, labelled, paragraph
from topend.report.sections import SPREAD, Line, Section, sections_of
from topend.report.stack import gasket_rows, stack_notes
from topend.uncertainty import COVERAGE

if TYPE_CHECKING:
    from topend.report.card import BenchCard

__all__ = ["card_text"]


def card_text(card: BenchCard, *, inch: bool = False) -> str:
    """The card as text: what is wrong first, then the parts, the figures, and what they rest on. `inch` puts inches beside lengths."""
    lines = paragraph(f"BENCH CARD: {card.title}" if card.title else "BENCH CARD", rest="  ")
    if card.file:
        lines.append(f"from {card.file}")
    for pack in card.packs:
        lines += paragraph(pack, first="parts from ")
    lines += _finding_lines(card)
    lines += heading("Parts, as stated") + labelled(words.part_rows(card.top))
    lines += _stack_lines(card)
    for section in sections_of(card):
        lines += _section_lines(section, inch)
    if card.figures:
        lines += ["", *paragraph(SPREAD)]
    lines += _assumed_lines(card) + _missing_lines(card)
    lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
    return "\n".join(lines)


def _finding_lines(card: BenchCard) -> list[str]:
    lines = finding_lines(card.findings)
    nothing = card.no_warning
    return lines if nothing is None else [*heading("Warnings"), f"  {nothing}", *lines]


def _stack_lines(card: BenchCard) -> list[str]:
    rows = gasket_rows(card.top)
    lines = heading("Gaskets, from the case up")
    if rows:
        lines += columns([("", "", "nominal", "fitted, as counted", ""), *rows])
    return lines + [f"  {note}" for note in stack_notes(card.top)]


def _section_lines(section: Section, inch: bool) -> list[str]:
    rows = [(line.name, line.figure.number, line.figure.unit_text, line.figure.spread, _beside(line, inch)) for line in section.lines]
    lines = heading(section.title) + columns(_padded(rows))
    for index, note in enumerate(section.notes):
        # the first sentence below a table stands flush; an entry and what follows hang
        lines += paragraph(note, first="  ", rest="    " if index or note[0].islower() else "  ")
    return lines


def _beside(line: Line, inch: bool) -> str:
    inches = line.figure.inches if inch else None
    return line.beside if inches is None else f"{inches.text}, {line.beside}"


def _padded(rows: list[tuple[str, str, str, str, str]]) -> list[tuple[str, str, str]]:
    """Name, figure, words: as wide on every table of the card, so that figures line up down the page."""
    name = max(len(name) for name in ALWAYS)
    unit = max(len(one.unit) for one in OUTPUTS.values())
    return [(row[0].ljust(name), f"{row[1]:>7} {row[2]:<{unit}} {row[3]:<7}", row[4]) for row in rows]


def _assumed_lines(card: BenchCard) -> list[str]:
    taken = taken_of(card)
    lines = heading("Assumed, because nobody stated it") if taken else []
    for one in taken:
        lines += paragraph(f"{one.path}: {one.value}" if one.value else one.path, first="  ", rest="    ")
        lines += paragraph(one.why, first="      ")
        if one.share:
            lines += paragraph(one.share, first="      ", rest="        ")
    return lines


def _missing_lines(card: BenchCard) -> list[str]:
    groups = card.missing()
    if not groups:
        return []
    lines = heading("Cannot be had yet")
    for names, needs in groups:
        lines += paragraph(", ".join(names), first="  ")
        lines += paragraph(f"needs {', '.join(needs)}", first="      ", rest="        ")
    paths = dict.fromkeys(path for _, needs in groups for path in needs)
    told = [(path, said) for path in paths if (said := meaning(path))]
    if told:
        lines += ["  what these are:", *labelled(told, indent="    ")]
    return lines


assert COVERAGE == 2.0  # the ± of the card is 2u
