"""The names of a pack's parts without reading the parts: by their headings. Ten thousand parts are listed in a fraction of a second.

A TOML file that keeps to one heading a part is scanned line by line; any other is read in full. What the scan gives is what
reading gives, or it gives nothing: a test holds the two against each other.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any, Final

__all__ = ["headings", "names_in"]

_WORD: Final = r"[A-Za-z0-9_-]+"
_HEADING: Final = re.compile(rf"\[({_WORD})\.({_WORD})\][ \t]*(?:#.*)?|\[\[?({_WORD})\.({_WORD})(?:\.{_WORD})+\]\]?[ \t]*(?:#.*)?")
_LINES: Final = re.compile(r"^[ \t]*\[.*$", re.MULTILINE)
_BEFORE: Final = re.compile(r"(?:[ \t]*(?:#[^\n]*)?\n)*[ \t]*(?:#[^\n]*)?(?=\[|\Z)")


def headings(text: str, kinds: Iterable[str]) -> list[tuple[str, str]] | None:
    """The kind and name of each part in a TOML `text` with a heading of its own; None where only reading it in full can tell.

    >>> headings('[crank.low]\\nstroke = "39.3 mm"\\n[head.drop.band]\\nangle = "9 deg"\\n', ["crank", "head"])
    [('crank', 'low'), ('head', 'drop')]
    """
    # a text of several lines may hold what looks like a heading, and keys before the first heading may be parts too
    if '"""' in text or "'''" in text or _BEFORE.match(text) is None:
        return None
    known = frozenset(kinds)
    found: dict[tuple[str, str], None] = {}
    for line in _LINES.findall(text):
        matched = _HEADING.fullmatch(line)
        if matched is None:
            return None
        kind, name = (matched[1], matched[2]) if matched[1] is not None else (matched[3], matched[4])
        if kind not in known:
            return None
        found[kind, name] = None
    order = {kind: place for place, kind in enumerate(dict.fromkeys(kind for kind, _ in found))}
    return sorted(found, key=lambda pair: order[pair[0]])  # as reading gives them: a kind's parts together


def names_in(table: Mapping[str, Any], kinds: Iterable[str]) -> list[tuple[str, str]]:
    """The kind and name of each part in the tables of a file as read."""
    return [(kind, name) for kind in table if kind in kinds and isinstance(table[kind], dict) for name in table[kind]]
