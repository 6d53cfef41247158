"""What a command prints, on a terminal or into a pipe."""

import sys
from typing import Final

__all__ = ["ascii_only", "harmless", "show"]

#: A title or a name from a file may hold what would steer a terminal.
_CONTROLS: Final = {code: "?" for code in (*range(32), *range(127, 160)) if chr(code) not in "\n\t"}


def ascii_only() -> bool:
    """Whether standard output takes no sign beyond ASCII."""
    return not (sys.stdout.encoding or "").lower().startswith("utf")


def harmless(text: str) -> str:
    """The text without what would steer a terminal."""
    return text.translate(_CONTROLS)


def show(text: str) -> None:
    """Print a text."""
    sys.stdout.write(harmless(text) + "\n")
