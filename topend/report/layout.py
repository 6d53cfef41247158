"""Plain text for 80 columns: headings, wrapped paragraphs, columns that line up. No colour codes, ever."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterable, Sequence
from typing import Final

__all__ = ["WIDTH", "columns", "heading", "labelled", "paragraph"]

#: Columns of a page.
WIDTH: Final = 80
#: A number and its unit or its limits stay on one line.
_KEPT: Final = re.compile(r"(?<=\d) (?=(?:mm|cc|deg|rpm|m/s|bar|N·m|o'clock|%|±)(?!\w))|(?<=±) (?=\d)")
_HELD: Final = "\N{SYMBOL FOR SPACE}"


def paragraph(text: str, *, first: str = "", rest: str | None = None) -> list[str]:
    """`text` in lines of at most `WIDTH`, the first after `first` and the others after `rest` (blanks as wide, if not given).

    >>> paragraph("drops in 1.0 mm", first="  Head  ")
    ['  Head  drops in 1.0 mm']
    """
    after = " " * len(first) if rest is None else rest
    # blanks that must not break are not blanks to textwrap while it wraps
    kept = _KEPT.sub(_HELD, text)
    lines = textwrap.wrap(kept, WIDTH, initial_indent=first, subsequent_indent=after, break_long_words=False, break_on_hyphens=False)
    return [line.replace(_HELD, " ") for line in lines] or [first.rstrip()]


def heading(text: str) -> list[str]:
    """A blank line and a heading.

    >>> heading("Gaps at TDC")
    ['', 'GAPS AT TDC']
    """
    return ["", text.upper()]


def labelled(rows: Iterable[tuple[str, str]], *, indent: str = "  ") -> list[str]:
    """Label and text side by side, texts wrapped beside their labels.

    >>> labelled([("Crank", "stroke 39.3 mm"), ("Head", "flush")])
    ['  Crank  stroke 39.3 mm', '  Head   flush']
    """
    rows = list(rows)
    width = max((len(label) for label, _ in rows), default=0)
    return [line for label, text in rows for line in paragraph(text, first=f"{indent}{label:<{width}}  ")]


def columns(rows: Sequence[Sequence[str]], *, right: Iterable[int] = (), indent: str = "  ", last: bool = True) -> list[str]:
    """Cells in columns, those numbered in `right` flush right; the last column wraps where `last` is true.

    >>> columns([("squish_edge", "0.95 mm"), ("squish_mean", "0.886 mm")], right=[1])
    ['  squish_edge   0.95 mm', '  squish_mean  0.886 mm']
    """
    if not rows:
        return []
    flush = set(right)
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    lines: list[str] = []
    for row in rows:
        cells = [cell.rjust(width) if at in flush else cell.ljust(width) for at, (cell, width) in enumerate(zip(row, widths, strict=True))]
        if last and len(row) > 1 and row[-1] and len(row) - 1 not in flush:
            lines += paragraph(row[-1], first=indent + "  ".join(cells[:-1]) + "  ")
        else:
            lines.append((indent + "  ".join(cells)).rstrip())
    return lines
