"""A part table as CSV: one part a row, headings that carry the unit, such as ``thickness [mm]``. For large tables.

Headings, after the first, which is ``name``:

- ``PATH [UNIT]``: a figure, as a number in that unit; ``PATH`` is a field of the part, or of a part in it (``band.angle``);
- ``PATH ± [UNIT]``, or ``PATH + [UNIT]`` with ``PATH - [UNIT]``: its limits, as distances from it;
- ``PATH source`` and ``PATH basis``: where that figure is from;
- ``PATH``: a text (``role``, ``material``, ``source``), or a count (``studs.count``, ``ports.0.kind``).

An empty cell is an unknown.

`read_builds` reads another table: builds as they were measured, one a row, for plans.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from topend.errors import JobError, PackError, Problem
from topend.packs.toml_file import CONTROLS, Allowance, read_text
from topend.quantities import INPUTS

__all__ = ["MOST_CELLS", "CsvFile", "csv_names", "kind_of_file", "read_builds", "read_csv"]

#: Most cells of one table: about half a second's reading.
MOST_CELLS: Final = 200_000
MOST_COLUMNS: Final = 200
_TOO_MANY: Final = f"holds more than {MOST_CELLS} cells, the most that is read"
_HEADING: Final = re.compile(
    r"(?P<path>[a-z_]+(?:\.(?:[a-z_]+|[0-9]{1,2}))*)(?: (?P<what>±|\+|-|source|basis))?(?: \[(?P<unit>[^\[\]]+)\])?"
)
_NUMBER: Final = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_OF_BUILDS: Final = "an input's path and its unit, such as deck.clearance [mm]"
_COUNT: Final = re.compile(r"[0-9]{1,9}")


@dataclass(frozen=True)
class CsvFile:
    """A CSV part table as read: its parts as TOML would give them, and the line of each."""

    file: str
    table: dict[str, Any]
    lines: dict[str, int] = field(repr=False)
    #: headings that name no unit
    bare: frozenset[str] = frozenset()

    def line(self, where: str) -> int | None:
        """The line of the part that `where` (``gasket.thin.thickness``) leads to."""
        return self.lines.get(".".join(where.split(".")[:2]), 1)

    def problem(self, where: str, message: str) -> Problem:
        """A problem of this file with its line; of a figure under a heading without a unit it says how headings are written."""
        path = where.split(".", 2)[-1]
        if path in self.bare and message.startswith("needs "):
            message += f'. In a CSV table the heading has the unit: "{path} [UNIT]"'
        return Problem(where, message, self.line(where))


@dataclass(frozen=True)
class _Column:
    heading: str
    path: tuple[str, ...]
    what: str
    unit: str


def kind_of_file(name: str) -> str:
    """The kind of part that a CSV file of this name holds: what stands before its first point.

    >>> kind_of_file("gasket.fibre.csv")
    'gasket'
    """
    return name.partition(".")[0]


def csv_names(text: str) -> list[str]:
    """The names of the parts in a CSV `text`, as far as it can be read."""
    names = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), strict=True):
            if row and any(row):
                names.append(row[0].strip())
    except csv.Error:
        pass
    return names[1:]


def read_csv(path: Path, allowance: Allowance) -> CsvFile:
    """The CSV part table at `path`; `PackError` with all that keeps it from being read."""
    shown = str(path)
    kind = kind_of_file(path.name)
    problems: list[Problem] = []
    rows = _read_rows(path, PackError, 'name,role,"thickness [mm]"', allowance)
    columns = _columns(rows[0][1], problems)
    made: dict[str, Any] = {}
    lines: dict[str, int] = {}
    for line, row in rows[1:]:
        name = row[0].strip()
        where = f"{kind}.{name}"
        if found := CONTROLS.search("".join(row)):
            problems.append(Problem("", f"holds the control character U+{ord(found.group()):04X}; take it out", line))
        elif len(row) != len(columns):
            problems.append(Problem("", f"has {len(row)} cells under {len(columns)} headings", line))
        elif name in made:
            problems.append(Problem(where, f"has the same name as the part in line {lines[where]}", line))
        else:
            lines[where] = line
            made[name] = _part(where, line, columns, row, problems)
        if len(problems) >= 100:
            break
    if problems:
        raise PackError(shown, sorted(problems, key=lambda problem: problem.line or 0))
    bare = frozenset(".".join(one.path) for one in columns if one is not None and not one.unit and not one.what)
    return CsvFile(shown, {kind: made}, lines, bare)


def read_builds(path: Path) -> dict[str, list[str]]:
    """The CSV at `path`, builds as they were measured: by input path its value in each row, as text with its unit.

    Headings ``PATH [UNIT]`` hold figures, one in every row; headings without a unit hold remarks, and are left out. Raises
    `JobError` with all that keeps it from being read, each with its line.
    """
    rows = _read_rows(path, JobError, '"deck.clearance [mm]","cylinder.bore [mm]"', None)
    first, headings = rows[0]
    problems: list[Problem] = []
    columns: dict[int, tuple[str, str]] = {}
    if len(headings) > MOST_COLUMNS:
        raise JobError(str(path), [Problem("", f"has {len(headings)} headings; at most {MOST_COLUMNS} are read", first)])
    for place, heading in enumerate(one.strip() for one in headings):
        if "[" not in heading:
            if heading in INPUTS:
                problems.append(Problem(heading, f"has no unit, and would be left out as a remark; write it as {heading} [UNIT]", first))
            continue
        found = _HEADING.fullmatch(heading)
        if found is None or found["what"]:
            problems.append(Problem(repr(heading[:60]), f"is not a heading: {_OF_BUILDS}", first))
        elif found["path"] in {known for known, _ in columns.values()}:
            problems.append(Problem(found["path"], "stands twice among the headings", first))
        else:
            columns[place] = found["path"], found["unit"]
    if not columns and not problems:
        problems.append(Problem("", f"has no column of figures; its heading is {_OF_BUILDS}", first))
    if len(rows) == 1:
        problems.append(Problem("", "has headings and no builds under them", first))
    made: dict[str, list[str]] = {known: [] for known, _ in columns.values()}
    for line, row in rows[1:]:
        if len(row) != len(headings):
            problems.append(Problem("", f"has {len(row)} cells under {len(headings)} headings", line))
            continue
        for place, (known, unit) in columns.items():
            text = row[place].strip()
            if _NUMBER.fullmatch(text):
                made[known].append(f"{text} {unit}")
            elif text:
                problems.append(Problem(known, _no_number(text, unit), line))
            else:
                problems.append(Problem(known, "is empty; a build counts with all its figures, or is left out", line))
        if len(problems) >= 100:
            break
    if problems:
        raise JobError(str(path), problems)
    return made


def _no_number(text: str, unit: str) -> str:
    point = "; decimals are written with a point" if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text) else ""
    return f"must be a number, in the {unit} of its heading; got {text[:60]!r}{point}"


def _read_rows(
    path: Path, error: type[PackError] | type[JobError], example: str, allowance: Allowance | None
) -> list[tuple[int, list[str]]]:
    """The rows that are not blank, each with its line, headings first."""
    text = read_text(path, error, allowance)
    try:
        rows = list(_rows(text))
    except csv.Error as fault:
        message = _TOO_MANY if str(fault) == _TOO_MANY else f"is not CSV: {fault}"
        raise error(str(path), [Problem("", message)]) from None
    if not rows:
        raise error(str(path), [Problem("", f"is empty; its first line holds the headings, such as: {example}")])
    return rows


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    cells = 0
    for row in reader:
        cells += len(row)
        if cells > MOST_CELLS:
            raise csv.Error(_TOO_MANY)
        if any(cell.strip() for cell in row):
            yield reader.line_num, row


def _columns(headings: list[str], problems: list[Problem]) -> list[_Column | None]:
    columns: list[_Column | None] = []
    seen: set[str] = set()
    if headings[0].strip() != "name":
        problems.append(Problem("", f"must have name as its first heading; got {headings[0][:60]!r}", 1))
    if len(headings) > MOST_COLUMNS:
        problems.append(Problem("", f"has {len(headings)} headings; at most {MOST_COLUMNS} are read", 1))
        return [None] * len(headings)
    for heading in (heading.strip() for heading in headings):
        found = _HEADING.fullmatch(heading)
        if found is None:
            message = "is not a heading: a field's name and its unit, such as thickness [mm] or thickness ± [mm]"
            problems.append(Problem(repr(heading[:60]), message, 1))
            columns.append(None)
            continue
        if heading in seen:
            problems.append(Problem(heading, "stands twice among the headings", 1))
        seen.add(heading)
        what, unit = found["what"] or "", found["unit"] or ""
        if what in ("±", "+", "-") and not unit:
            problems.append(Problem(heading, "is a limit and needs its unit, such as [mm]", 1))
        columns.append(_Column(heading, tuple(found["path"].split(".")), what, unit))
    return columns


def _part(where: str, line: int, columns: list[_Column | None], row: list[str], problems: list[Problem]) -> dict[str, Any]:
    cells: dict[tuple[str, ...], dict[str, tuple[str, str]]] = {}
    bad: set[tuple[str, ...]] = set()
    for column, cell in zip(columns[1:], row[1:], strict=True):
        text = cell.strip()
        if column is None or not text:
            continue
        if column.unit and not _NUMBER.fullmatch(text):
            problems.append(Problem(f"{where}.{column.heading}", _no_number(text, column.unit), line))
            bad.add(column.path)
            continue
        cells.setdefault(column.path, {})[column.what] = (text, column.unit)
    table: dict[str, Any] = {}
    for path, given in cells.items():
        if path in bad:
            continue
        if "" not in given:
            problems.append(Problem(f"{where}.{'.'.join(path)}", "has limits, a source or a basis, but no figure of its own", line))
            continue
        value = _value(path, given)
        if not _put(table, path, value):
            problems.append(Problem(f"{where}.{'.'.join(path)}", "is a figure in one heading and holds others in another", line))
    listed = _listed(table, where, line, problems)
    assert isinstance(listed, dict)
    return listed


def _value(path: tuple[str, ...], given: dict[str, tuple[str, str]]) -> Any:
    text, unit = given[""]
    value: Any = text
    if unit:
        value = f"{text} {unit}"
        if "±" in given:
            value += " ± {} {}".format(*given["±"])
        elif "+" in given or "-" in given:
            up, unit_up = given.get("+", ("0", unit))
            down, unit_down = given.get("-", ("0", unit))
            # two units in one pair of limits cannot be written; the parser refuses the odd one out
            value += f" +{up}/-{down} {unit_up}" if unit_up == unit_down else f" +{up} {unit_up}/-{down} {unit_down}"
    elif path[-1] == "count" and _COUNT.fullmatch(text):
        value = int(text)
    beside = {what: given[what][0] for what in ("source", "basis") if what in given}
    return {"value": value, **beside} if beside else value


def _put(table: dict[str, Any], path: tuple[str, ...], value: Any) -> bool:
    for step in path[:-1]:
        table = table.setdefault(step, {})
        if not isinstance(table, dict) or "value" in table:
            return False
    if path[-1] in table:
        return False
    table[path[-1]] = value
    return True


def _listed(table: dict[str, Any], where: str, line: int, problems: list[Problem]) -> Any:
    """The same with tables whose keys are 0, 1, 2 ... as lists."""
    made = {key: _listed(value, where, line, problems) if isinstance(value, dict) else value for key, value in table.items()}
    if not made or not all(key.isdigit() for key in made):
        return made
    if sorted(map(int, made)) != list(range(len(made))):
        problems.append(Problem(where, f"has entries {', '.join(sorted(made))}; they must count from 0 without a gap", line))
    return [made[key] for key in sorted(made, key=int)]
