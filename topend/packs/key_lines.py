"""On which line of a TOML text each key stands. tomllib keeps no lines, and an error without its line is half an error.

The text has been read by tomllib before it comes here, so this scanner only has to find its way through correct TOML; it
decides nothing about values. A test walks random documents and holds its paths against tomllib's own.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from typing import Final

__all__ = ["key_lines"]

_SPACE: Final = re.compile(r"[ \t]*")
_GAP: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE: Final = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN: Final = re.compile(r"[^,\]}\n#]*")
_STRINGS: Final = (
    # the closing three quotes may have one or two more before them that belong to the text
    re.compile(r'"""(?:[^"\\]|\\.|"{1,2}(?!"))*"{3,5}', re.DOTALL),
    re.compile(r"'''(?:[^']|'{1,2}(?!'))*'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)
_ESCAPE: Final = re.compile(r"\\(?:u([0-9a-fA-F]{4})|U([0-9a-fA-F]{8})|(.))")
_SHORT: Final = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r"}

Path = tuple[str, ...]


def key_lines(text: str) -> dict[Path, int]:
    """The line, counted from 1, of every table, key and array entry of a TOML `text`, by its path.

    A path is the keys from the top down, entries of an array by their number from 0, as texts. A table that is named by
    several lines stands where it is named first.

    >>> key_lines('[head.low]\\nband = {angle = "9 deg"}')[("head", "low", "band", "angle")]
    2
    """
    return _Scanner(text).lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[Path, int] = {}
        self._starts = [0, *(found.end() for found in re.finditer("\n", text))]
        self._entries: dict[Path, int] = {}
        prefix: Path = ()
        while True:
            self._skip(_GAP)
            if self.at >= len(text):
                break
            if text.startswith("[", self.at):
                prefix = self._header()
            else:
                self._pair(prefix)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self.text, self.at)
        assert found is not None
        self.at = found.end()
        return found.group()

    def _mark(self, path: Path) -> None:
        self.lines.setdefault(path, bisect_right(self._starts, self.at))

    def _header(self) -> Path:
        many = self.text.startswith("[[", self.at)
        start, self.at = self.at, self.at + (2 if many else 1)
        keys = self._keys()
        end = self.at + (2 if many else 1)
        self.at = start
        path: Path = ()
        for index, key in enumerate(keys):
            path = (*path, key)
            self._mark(path)
            if many and index == len(keys) - 1:
                self._entries[path] = self._entries.get(path, -1) + 1
            if path in self._entries:
                path = (*path, str(self._entries[path]))
                self._mark(path)
        self.at = end
        return path

    def _keys(self) -> list[str]:
        keys = []
        while True:
            self._skip(_SPACE)
            keys.append(self._key())
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def _key(self) -> str:
        quote = self.text[self.at]
        if quote == '"':
            return _ESCAPE.sub(_unescaped, self._skip(_STRINGS[2])[1:-1])
        return self._skip(_STRINGS[3])[1:-1] if quote == "'" else self._skip(_BARE)

    def _pair(self, prefix: Path) -> None:
        start = self.at
        keys = self._keys()
        after, self.at = self.at, start
        path = prefix
        for key in keys:
            path = (*path, key)
            self._mark(path)
        self.at = after + 1
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        character = self.text[self.at]
        if character in "\"'":
            found = next(found for string in _STRINGS if (found := string.match(self.text, self.at)))
            self.at = found.end()
        elif character == "[":
            self._array(path)
        elif character == "{":
            self._inline_table(path)
        else:
            self._skip(_PLAIN)

    def _array(self, path: Path) -> None:
        self.at += 1
        index = 0
        while True:
            self._skip(_GAP)
            if self.text[self.at] == "]":
                break
            here = (*path, str(index))
            self._mark(here)
            self._value(here)
            index += 1
            self._skip(_GAP)
            if self.text[self.at] == ",":
                self.at += 1
        self.at += 1

    def _inline_table(self, path: Path) -> None:
        self.at += 1
        while True:
            self._skip(_GAP)
            if self.text[self.at] == "}":
                break
            self._pair(path)
            self._skip(_GAP)
            if self.text[self.at] == ",":
                self.at += 1
        self.at += 1


def _unescaped(found: re.Match[str]) -> str:
    four, eight, one = found.groups()
    return chr(int(four or eight, 16)) if four or eight else _SHORT.get(one, one)
