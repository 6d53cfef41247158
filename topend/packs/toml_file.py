"""Reading one file that somebody else wrote: bounded, and a TOML file with the line of every key for the messages."""

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

from topend.errors import JobError, PackError, Problem, ReadingsError
from topend.packs.key_lines import key_lines

__all__ = ["MOST_BYTES", "MOST_ENTRIES", "Allowance", "TomlFile", "file_trouble", "parsed_toml", "read_text", "read_toml"]

#: Largest file that is read; ten thousand parts take about half of it.
MOST_BYTES: Final = 2 * 1024 * 1024
#: Most keys, headings (three each) and list entries of a file, or of all files of a pack: about half a second's reading, and
#: some four thousand gaskets. Larger tables are kept as CSV, which reads ten times as fast.
MOST_ENTRIES: Final = 30_000
#: Longest key; a part's name has at most 64 characters.
MOST_KEY: Final = 200
#: Of more problems than these the rest are left untold.
MOST_PROBLEMS: Final = 100
_MB: Final = 1024 * 1024
#: Deepest nesting of tables and lists; a part needs five.
MOST_LEVELS: Final = 16

_WORD = r"""(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')"""
# tomllib takes time with the square of the length of a dotted key
_LONG_KEY: Final = re.compile(rf"(?<![A-Za-z0-9_\"'.-]){_WORD}(?:[ \t]*+\.[ \t]*+{_WORD}){{{MOST_LEVELS},}}")


#: What steers a terminal, or turns the order of what stands on it: C0 but tab and line ends, DEL, C1, marks of direction.
CONTROLS: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")


@dataclass
class Allowance:
    """What may still be read of one pack, over all its files."""

    bytes: int = 2 * MOST_BYTES
    entries: int = MOST_ENTRIES


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

    def other_format(self, format: int) -> Problem | None:
        """What is wrong where the file is not of this `format`. Another one has other keys: to go on reading would mislead."""
        if "format" not in self.table:
            return self.problem("format", f"is missing: format = {format}")
        written = self.table["format"]
        if type(written) is int and written == format:
            return None
        return self.problem("format", f"is {written!r}; this version of topend reads format {format}")


def read_text(path: Path, error: type[PackError] | type[JobError] | type[ReadingsError], allowance: Allowance | None = None) -> str:
    """The text of the file at `path`, line ends as LF; everything that keeps it from being read is raised as `error`."""
    data = _bytes(path, error, allowance)
    shown = str(path)
    if b"\0" in data:
        raise error(shown, [Problem("", "is not a text file (it holds zero bytes); save it as text in UTF-8")])
    try:
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        message = f"is not text in UTF-8: byte 0x{data[fault.start]:02x} in line {line}; save the file as UTF-8"
        raise error(shown, [Problem("", message)]) from None


def read_toml(path: Path, error: type[PackError] | type[JobError] | type[ReadingsError], allowance: Allowance | None = None) -> TomlFile:
    """The TOML file at `path`; everything that keeps it from being read is raised as `error`, in one sentence.

    With an `allowance` it is a file of a pack: what it takes is counted off, and texts that would steer a terminal are
    refused.
    """
    return parsed_toml(read_text(path, error, allowance), str(path), error, allowance)


def parsed_toml(
    text: str, shown: str, error: type[PackError] | type[JobError] | type[ReadingsError], allowance: Allowance | None = None
) -> TomlFile:
    """The TOML file with this text; as `read_toml`."""
    # a heading takes as long as three keys
    entries = text.count("=") + text.count(",") + 3 * text.count("[")
    if entries > (MOST_ENTRIES if allowance is None else allowance.entries):
        whose = "" if entries > MOST_ENTRIES else "with the pack's other files, "
        message = f"{whose}holds more than {MOST_ENTRIES} keys, headings and list entries, the most that is read; a CSV table may hold more"
        raise error(shown, [Problem("", message)])
    if allowance is not None:
        allowance.entries -= entries
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
    problems = list(_out_of_bounds(made, steering=allowance is not None))
    if problems:
        raise error(shown, problems[:MOST_PROBLEMS])
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


def _bytes(path: Path, error: type[PackError] | type[JobError] | type[ReadingsError], allowance: Allowance | None) -> bytes:
    trouble = file_trouble(path)
    if trouble is None:
        most = MOST_BYTES if allowance is None else min(MOST_BYTES, allowance.bytes)
        try:
            with path.open("rb") as stream:
                data = stream.read(most + 1)
        except OSError as fault:
            trouble = f"cannot be read: {_reason(fault)}"
        else:
            if allowance is not None:
                allowance.bytes -= len(data)
            if len(data) <= most:
                return data
            size = f"is larger than {MOST_BYTES // _MB} MB, the most that is read"
            trouble = size if most == MOST_BYTES else f"makes the pack larger than {2 * MOST_BYTES // _MB} MB, the most that is read"
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
    at = int(line) if line else text.rstrip().count("\n") + 1
    return Problem("", f"is not TOML: {words[:1].lower()}{words[1:]}{place}{_unquoted(text, at)}", at)


#: A key with a value that is not in quotes, or in those of a printer.
_VALUE: Final = re.compile(r"\s*[\w.\"-]+\s*=\s*\[?\s*(?P<value>[^\s\"'\[{#][^#]*?)\s*(?:#.*)?$")


def _unquoted(text: str, line: int) -> str:
    """What to do where the value in a line that is not TOML lacks its quotes, as the end of a sentence; nothing where it does not."""
    lines = text.split("\n")
    written = lines[line - 1] if line <= len(lines) else ""
    if len(written) > MOST_KEY:
        return ""
    if re.fullmatch(r"\s*[\w.-]+\s*(:.*)?", written):
        return ". A line is a key, = and its value; a heading stands in square brackets"
    found = _VALUE.match(written)
    value = found["value"].strip("\u201c\u201d\u201e\u2018\u2019], ") if found else ""
    if not value or "=" in value or re.fullmatch(r"[+-]?[0-9_.]+(e[+-]?[0-9]+)?|true|false", value):
        return ""
    return f'. Texts, and values with their unit, stand in straight quotes: "{value}"'


def _out_of_bounds(made: TomlFile, *, steering: bool) -> Iterator[Problem]:
    """Nesting, whole numbers and characters beyond what TOML, the library's messages and a terminal can carry."""
    pending: list[tuple[str, int, Any]] = [("", 0, made.table)]
    while pending:
        where, level, value = pending.pop()
        if isinstance(value, (dict, list)):
            if level > MOST_LEVELS:
                yield _too_deep(made.line(where))
                return
            if isinstance(value, dict):
                for key in value:
                    if len(key) > MOST_KEY:
                        yield Problem("", f"has a key of {len(key)} characters, {key[:40]!r}...; at most {MOST_KEY} are read")
                        return
                    if steering and (found := CONTROLS.search(key)):
                        yield made.problem(f"{where}.{key}" if where else key, f"holds the control character U+{ord(found.group()):04X}")
            inside: Iterable[tuple[object, Any]] = value.items() if isinstance(value, dict) else enumerate(value)
            pending += [(f"{where}.{key}" if where else str(key), level + 1, item) for key, item in inside]
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            yield made.problem(where, "is a whole number beyond 64 bits")
        elif steering and isinstance(value, str) and (found := CONTROLS.search(value)):
            yield made.problem(where, f"holds the control character U+{ord(found.group()):04X}, which could steer a terminal; take it out")
