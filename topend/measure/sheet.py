"""Files of readings, and the blank sheets that become one: for the bench, and for a customer far away.

The format is written down in docs/measuring.md.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from topend.errors import PartError, Problem, ReadingsError, TopendError, did_you_mean
from topend.measure.burette import Burette, Weighing
from topend.measure.deck import Deck, Dial
from topend.measure.gap import Strip, Wire
from topend.measure.head import BandAngle, BandOffset
from topend.measure.length import GasketThickness, LengthOf
from topend.measure.measured import Measured, Reading
from topend.measure.timing import Timing
from topend.packs.toml_file import TomlFile, read_toml
from topend.quantities import OUTPUTS
from topend.units import StatedValueError, from_si, kind_of_unit, stated

__all__ = ["KINDS_OF_READING", "Readings", "load_readings"]

#: The version of the format that this library reads.
FORMAT: Final = 1

#: Kinds of reading by the name that a file gives them.
KINDS_OF_READING: Final[dict[str, type[Reading]]] = {
    "burette": Burette,
    "weighing": Weighing,
    "wire": Wire,
    "strip": Strip,
    "deck": Deck,
    "dial": Dial,
    "timing": Timing,
    "gasket": GasketThickness,
    "band_offset": BandOffset,
    "band_angle": BandAngle,
    "length": LengthOf,
}
_KEYS: Final = ("format", "title", "readings", "limits")


@dataclass(frozen=True)
class Readings:
    """A file of readings as read: its readings in order, and the limits on outputs that a verdict is wanted on."""

    file: str
    title: str
    readings: tuple[Reading, ...]
    limits: Mapping[str, tuple[float | None, float | None]] = field(default_factory=dict)

    @property
    def measured(self) -> tuple[Measured, ...]:
        """What they say, in order."""
        return tuple(value for one in self.readings for value in one.results())


def load_readings(path: str | os.PathLike[str]) -> Readings:
    """The readings in the file at `path`. Raises `ReadingsError` with everything that is wrong in it, each with key and line.

    >>> import os, pathlib, tempfile
    >>> import topend as te
    >>> told = ["format = 1", "[[readings]]", 'kind = "wire"', 'readings = ["0.91 mm", "0.89 mm"]', 'radius = "22.6 mm"', 'wire = "1.5 mm"']
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "bench.toml")
    ...     length = file.write_text(os.linesep.join(told))
    ...     bench = te.load_readings(file)
    >>> [f"{one.of} {one.value:.2f} {one.unit}" for one in bench.measured]
    ['gap_at 0.90 mm']
    """
    file = read_toml(Path(path), ReadingsError)
    table, problems = file.table, list[Problem]()
    other = file.other_format(FORMAT)
    if other is not None:
        raise ReadingsError(file.file, [other])
    if "readings" not in table and {"crank", "cylinder", "piston", "head", "deck"} & set(table):
        # one mistake, one word: a line for each of its keys would hide it
        said = "is a job file, not a file of readings: readings are tables [[readings]]; `topend measure --sheet` prints what to read"
        raise ReadingsError(file.file, [Problem("", said)])
    for key in table:
        if key not in _KEYS:
            problems.append(
                file.problem(key, f"is not a key of a file of readings{did_you_mean(key, _KEYS)}; it may have {', '.join(_KEYS)}")
            )
    title = table.get("title", Path(path).stem)
    if not isinstance(title, str):
        problems.append(file.problem("title", f"must be a text; got {title!r}"))
    written = table.get("readings", [])
    made: list[Reading] = []
    if not isinstance(written, list) or not written:
        said = "is missing: each reading" if not written else "must be a list of tables: each reading, also a single one,"
        problems.append(file.problem("readings", f"{said} is a table [[readings]] with its kind"))
        written = []
    for index, one in enumerate(written):
        reading = _reading(file, f"readings.{index}", one, problems)
        if reading is not None:
            made.append(reading)
    limits = _limits(file, table.get("limits", {}), problems)
    if problems:
        raise ReadingsError(file.file, sorted(problems, key=lambda problem: problem.line or 0))
    return Readings(file.file, str(title), tuple(made), limits)


def _reading(file: TomlFile, where: str, table: Any, problems: list[Problem]) -> Reading | None:
    if not isinstance(table, dict):
        problems.append(file.problem(where, "must be a table, [[readings]]"))
        return None
    kind = table.get("kind")
    if kind not in KINDS_OF_READING:
        kinds = ", ".join(KINDS_OF_READING)
        said = (
            f"is {kind!r}{did_you_mean(str(kind), KINDS_OF_READING)}; it must be one of {kinds}"
            if "kind" in table
            else f"is missing: one of {kinds}"
        )
        problems.append(file.problem(f"{where}.kind", said))
        return None
    try:
        made = KINDS_OF_READING[kind](**table)
        made.results()
    except PartError as error:
        problems += [file.problem(f"{where}.{problem.where}" if problem.where else where, problem.message) for problem in error.problems]
    except TopendError as error:
        problems.append(file.problem(where, str(error)))
    else:
        return made
    return None


def _limits(file: TomlFile, table: Any, problems: list[Problem]) -> dict[str, tuple[float | None, float | None]]:
    """``[limits]``: an output with ``at_least``, ``at_most``, or both."""
    made: dict[str, tuple[float | None, float | None]] = {}
    if not isinstance(table, dict):
        problems.append(file.problem("limits", "must be a table, [limits.squish_min]"))
        return made
    for name, bounds in table.items():
        where = f"limits.{name}"
        if name not in OUTPUTS:
            problems.append(file.problem(where, f"is not an output{did_you_mean(name, OUTPUTS)}; `topend names` lists them"))
            continue
        if not isinstance(bounds, dict) or not bounds or set(bounds) - {"at_least", "at_most"}:
            problems.append(file.problem(where, "must have at_least, at_most, or both"))
            continue
        ends = {key: _figure(file, f"{where}.{key}", name, value, problems) for key, value in bounds.items()}
        made[name] = (ends.get("at_least"), ends.get("at_most"))
    return made


def _figure(file: TomlFile, where: str, name: str, value: Any, problems: list[Problem]) -> float | None:
    unit = OUTPUTS[name].unit
    kind = kind_of_unit(unit)
    assert kind is not None
    if kind.name == "ratio":
        if isinstance(value, (int, float)) and not isinstance(value, bool):
            return float(value)
        problems.append(file.problem(where, f"must be a bare number: {name} has no unit; got {value!r}"))
        return None
    try:
        made = stated(value, kind)
    except StatedValueError as error:
        problems.append(file.problem(where, str(error)))
        return None
    return from_si(made.si, unit)
