"""What a command prints: plain text into a pipe; on a terminal the same text in its colours, and lists as wide as the window."""

import re
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

__all__ = ["ascii_only", "harmless", "on_terminal", "show", "show_list"]

#: A title or a name from a file may hold what would steer a terminal.
_CONTROLS: Final = {
    code: "?"
    for code in (*range(32), *range(127, 160), 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A))
    if chr(code) not in "\n\t"
}

#: How the parts of a text look on a terminal. None of them says anything that the words do not: it reads the same without.
_LOOKS: Final = (
    # the name that begins a row, whole: not the first part of a heading that goes on below
    (r"(?m)^ +[a-z][a-z0-9_]*(?:[._][a-z0-9_]+)+(?<!_)(?=  )", "cyan"),
    (r"± ?[\d.]+", "dim"),
    # a heading: no small letter before the colon or the end
    (r"(?m)^[A-Z][^a-z\n:]*(?=:|$)", "bold"),
    # a warning, to the end of its sentence
    (r"(?m)^  ! .*(?:\n    (?! ).*)*", "bold yellow"),
    (r"(?m)^  Verdict: [^.]*\.", "bold"),
    (r"\bNOT KEPT\b|\bNOTHING FITS\b|(?m:^CAUTIONS$)|(?m:^  missing\b)", "bold yellow"),
)


def ascii_only() -> bool:
    """Whether standard output takes no sign beyond ASCII."""
    return not (sys.stdout.encoding or "").lower().startswith("utf")


def harmless(text: str) -> str:
    """The text without what would steer a terminal."""
    return text.translate(_CONTROLS)


def on_terminal() -> bool:
    """Whether somebody looks: standard output is a terminal, not a pipe or a file."""
    return sys.stdout.isatty()


def show(text: str) -> None:
    """Print a text; on a terminal in its colours, unless NO_COLOR or TERM forbid them."""
    if on_terminal():
        # lines stay as they were laid out: no second wrapping
        _console().print(_coloured(harmless(text)), soft_wrap=True)
    else:
        sys.stdout.write(harmless(text) + "\n")


def show_list(title: str, header: Sequence[str], rows: Iterable[Sequence[str]], *, right: Iterable[int] = ()) -> None:
    """Print a table as wide as the terminal. For a terminal alone: into a pipe goes the report's own text."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    flush = set(right)
    table = Table(
        title=harmless(title).upper(),
        title_justify="left",
        title_style="bold",
        box=None if ascii_only() else box.SIMPLE_HEAD,
        pad_edge=False,
    )
    for at, name in enumerate(header):
        first = at == 0
        # a name is typed again, so it is never broken
        table.add_column(name, justify="right" if at in flush else "left", style="cyan" if first else None, no_wrap=first, overflow="fold")
    for row in rows:
        # as texts: what comes from a file is no markup
        table.add_row(*(Text(harmless(cell)) for cell in row))
    _console().print(table)


def _console() -> "Console":
    from rich.console import Console

    return Console(file=sys.stdout, highlight=False, markup=False, emoji=False)


def _coloured(text: str) -> "Text":
    from rich.text import Text

    made = Text(text)
    for pattern, style in _LOOKS:
        made.highlight_regex(re.compile(pattern), style)
    return made
