"""Reading one TOML file that somebody else wrote: bounded, and with the line of every key for the messages."""

from __future__ import annotations

import functools
import os
import re
import stat
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from topend.errors import JobError, PackError, Problem
from topend.packs.key_lines import key_lines

__all__ = ["MOST_BYTES", "TomlFile", "file_trouble", "read_toml"]

#: Largest file that is read; ten thousand parts take about a third of it.
MOST_BYTES: Final = 4 * 1024 * 1024
#: Deepest nesting of tables and lists; a part needs five.
MOST_LEVELS: Final = 16

_WORD = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
# tomllib takes time with the square of the length of a dotted key
_LONG_KEY: Final = re.compile(rf"(?<![A-Za-z0-9_\"'.-]){_WORD}(?:[ \t]*+\.[ \t]*+{_WORD}){{{MOST_LEVELS},}}")


@dataclass(frozen=True)
class TomlFile:
    """A TOML file as read: its tables, and the line of each of its keys."""

    file: str
    table: dict[str, Any]
    text: str = field(repr=False)

    @functools.cached_property
    def _lines(self) -> dict[str, int]:
        # worked out on the first error only: a good file never pays for it
        return {".".join(path): line for path, line in key_lines(self.text).items()}

    def line(self, where: str) -> int | None:
        """The line of the key at `where` (``head.low.band.angle``), or of the nearest table around it that is there."""
        while where:
            if where in self._lines:
                return self._lines[where]
            where = where.rpartition(".")[0]
        return None

    def problem(self, where: str, message: str) -> Problem:
        """A problem of this file with its line."""
        return Problem(where, message, self.line(where))


def read_toml(path: Path, error: type[PackError] | type[JobError]) -> TomlFile:
    """The TOML file at `path`; everything that keeps it from being read is raised as `error`, in one sentence."""
    data = _bytes(path, error)
    shown = str(path)
    if b"\0" in data:
        raise error(shown, [Problem("", "is not a text file (it holds zero bytes); save it as text in UTF-8")])
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        message = f"is not text in UTF-8: byte 0x{data[fault.start]:02x} in line {line}; save the file as UTF-8"
        raise error(shown, [Problem("", message)]) from None
    long = _LONG_KEY.search(text)
    if long is not None:
        raise error(shown, [_too_deep(text.count("\n", 0, long.start()) + 1)])
    try:
        table = tomllib.loads(text)
    except RecursionError:
        raise error(shown, [_too_deep(None)]) from None
    except tomllib.TOMLDecodeError as fault:
        raise error(shown, [_syntax(str(fault), text)]) from None
    except ValueError:
        # a number of thousands of digits, or a date that is none
        raise error(shown, [Problem("", "is not TOML: it holds a number or a date that cannot be read")]) from None
    made = TomlFile(shown, table, text)
    problems = list(_out_of_bounds(made))
    if problems:
        raise error(shown, problems)
    return made


def file_trouble(path: Path) -> str | None:
    """Why there is no ordinary file at `path`, as the end of a sentence, or None."""
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        return "is not there"
    except (OSError, ValueError) as fault:
        return f"cannot be read: {_reason(fault)}"
    if stat.S_ISDIR(mode):
        return "is a folder, not a file"
    return None if stat.S_ISREG(mode) else "is not an ordinary file"


def _bytes(path: Path, error: type[PackError] | type[JobError]) -> bytes:
    trouble = file_trouble(path)
    if trouble is None:
        try:
            with path.open("rb") as stream:
                data = stream.read(MOST_BYTES + 1)
        except OSError as fault:
            trouble = f"cannot be read: {_reason(fault)}"
        else:
            if len(data) <= MOST_BYTES:
                return data
            trouble = f"is larger than {MOST_BYTES // 1024 // 1024} MB, the most that is read"
    raise error(str(path), [Problem("", trouble)])


def _reason(fault: OSError | ValueError) -> str:
    return os.strerror(fault.errno).lower() if isinstance(fault, OSError) and fault.errno else str(fault)


def _too_deep(line: int | None) -> Problem:
    return Problem("", f"is nested deeper than {MOST_LEVELS} levels", line)


def _syntax(message: str, text: str) -> Problem:
    """tomllib's message with its place as a line; its Python tuples as keys."""
    found = re.fullmatch(r"(?s)(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", message)
    if found is None:
        return Problem("", f"is not TOML: {message}")
    words, line, column = found.groups()
    twice = re.fullmatch(r"Cannot (?:declare|mutate immutable namespace) \((.*?),?\)(?: twice)?", words)
    if twice is not None:
        key = ".".join(re.findall(r"'([^']*)'", twice[1])) or twice[1]
        words = f"the table {key} is given twice"
    elif words == "Cannot overwrite a value":
        words = "the key before it is given twice"
    place = f" (column {column})" if line else " (at the end of the file)"
    return Problem("", f"is not TOML: {words[:1].lower()}{words[1:]}{place}", int(line) if line else text.rstrip().count("\n") + 1)


def _out_of_bounds(made: TomlFile) -> Iterator[Problem]:
    """Nesting and whole numbers beyond what TOML and the library's messages can carry."""
    pending: list[tuple[str, int, Any]] = [("", 0, made.table)]
    while pending:
        where, level, value = pending.pop()
        if isinstance(value, (dict, list)):
            if level > MOST_LEVELS:
                yield _too_deep(made.line(where))
                return
            inside: Iterable[tuple[object, Any]] = value.items() if isinstance(value, dict) else enumerate(value)
            pending += [(f"{where}.{key}" if where else str(key), level + 1, item) for key, item in inside]
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            yield made.problem(where, "is a whole number beyond 64 bits")
