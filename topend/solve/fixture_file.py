"""Files of a drilling fixture and the families it is to fit; the format is written down in docs/locating.md."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar

from topend.errors import JobError, PartError, Problem, did_you_mean
from topend.packs import Catalogue
from topend.packs.folder import kind_of_part
from topend.packs.toml_file import TomlFile, read_toml
from topend.parts import DrillingFixture, LocatingPin, Part, StudFamily
from topend.solve.fixture import ALLOWANCE, CENTRES_WITHIN, LEAST_WALL, FixtureCheck, fixture_check
from topend.units import KINDS, StatedValueError, stated

__all__ = ["FixtureFile", "load_fixture"]

#: The version of the format that this library reads.
FORMAT: Final = 1
_KEYS: Final = ("format", "title", "packs", "fixture", "pin", "families", "least_wall", "depth_allowance", "centres_within")
#: What each table says, where it is missing.
_HOLDS: Final = {
    "fixture": "with at least its lip_diameter",
    "pin": "with its standard and diameter",
    "families": "with its bore and studs",
}
#: What a part is called in a pack.
_KINDS: Final[dict[type[Part], str]] = {DrillingFixture: "fixture", LocatingPin: "locating_pin", StudFamily: "family"}
_P = TypeVar("_P", bound=Part)


@dataclass(frozen=True)
class FixtureFile:
    """A file of a fixture as read; `check` is the answer to it."""

    file: str
    title: str
    fixture: DrillingFixture
    families: tuple[StudFamily, ...]
    pin: LocatingPin | None = None
    least_wall: str = LEAST_WALL
    depth_allowance: str = ALLOWANCE
    centres_within: str = CENTRES_WITHIN

    def check(self) -> FixtureCheck:
        """The fixture against its families."""
        lengths = {name: getattr(self, name) for name in _LENGTHS}
        return fixture_check(self.fixture, self.families, pin=self.pin, **lengths)


def load_fixture(path: str | os.PathLike[str]) -> FixtureFile:
    """The fixture in the file at `path`, with what it names of its packs. Raises `JobError` with everything that is wrong in it, each with
    key and line, and `PackError` for a pack that cannot be used."""
    file = read_toml(Path(path), JobError)
    table, problems = file.table, list[Problem]()
    other = file.other_format(FORMAT)
    if other is not None:
        raise JobError(file.file, [other])
    for key in table:
        if key not in _KEYS:
            said = f"is not a key of a file of a fixture{did_you_mean(key, _KEYS)}; it may have {', '.join(_KEYS)}"
            problems.append(file.problem(key, said))
    title = table.get("title", Path(path).stem)
    if not isinstance(title, str):
        problems.append(file.problem("title", f"must be a text; got {title!r}"))
    catalogue = _packs(file, Path(path).parent, table.get("packs", []), problems)
    fixture = _part(file, "fixture", table.get("fixture"), DrillingFixture, catalogue, problems)
    pin = _part(file, "pin", table["pin"], LocatingPin, catalogue, problems) if "pin" in table else None
    written = table.get("families")
    families: list[StudFamily] = []
    if not isinstance(written, list) or not written:
        said = (
            "is missing"
            if written is None
            else f"must be a list of tables; got {'a table' if isinstance(written, dict) else repr(written)}"
        )
        problems.append(file.problem("families", f"{said}: each family is a table [[families]] with its bore and studs"))
        written = []
    for index, one in enumerate(written):
        made = _part(file, f"families.{index}", one, StudFamily, catalogue, problems)
        if made is not None and made.name is not None and made.name in {one.name for one in families}:
            problems.append(file.problem(f"families.{index}.name", f"is {made.name!r} as of another family; each needs a name of its own"))
        families += [] if made is None else [made]
    lengths = {name: _length(file, name, table.get(name, usual), problems) for name, usual in _LENGTHS.items()}
    if problems or fixture is None:
        raise JobError(file.file, sorted(problems, key=lambda problem: problem.line or 0))
    return FixtureFile(file.file, str(title), fixture, tuple(families), pin, **lengths)


_LENGTHS: Final = {"least_wall": LEAST_WALL, "depth_allowance": ALLOWANCE, "centres_within": CENTRES_WITHIN}


def _packs(file: TomlFile, beside: Path, folders: Any, problems: list[Problem]) -> Catalogue:
    """The packs whose folders the file names, counted from its own folder."""
    if not isinstance(folders, list) or not all(isinstance(one, str) and "\0" not in one for one in folders):
        problems.append(file.problem("packs", f'must be a list of folders, such as ["../fellside"]; got {folders!r}'))
        return Catalogue.load()
    good = []
    for index, folder in enumerate(folders):
        if (beside / folder).is_dir():
            good.append(beside / folder)
        else:
            said = f"is {folder!r}, but there is no folder {beside / folder}; it counts from the file's own folder"
            problems.append(file.problem(f"packs.{index}", said))
    return Catalogue.load(*good)


def _by_id(file: TomlFile, where: str, name: str, cls: type[_P], catalogue: Catalogue, problems: list[Problem]) -> _P | None:
    part = catalogue.get(name)
    kind = _KINDS[cls]
    if isinstance(part, cls):
        return part
    near = did_you_mean(name, catalogue.of(kind))
    if part is not None:
        said = f"is {name!r}, which is a {kind_of_part(part)}; here goes a {kind}{near}"
    elif catalogue.packs:
        said = f"is {name!r}, but no part of {', '.join(map(str, catalogue.packs))} is called so{near}"
    else:
        said = f'is {name!r}, but this file has no packs to look in; name their folders, as in packs = ["../fellside"]'
    problems.append(file.problem(where, said))
    return None


def _part(file: TomlFile, where: str, table: Any, cls: type[_P], catalogue: Catalogue, problems: list[Problem]) -> _P | None:
    if isinstance(table, str):
        return _by_id(file, where, table, cls, catalogue, problems)
    if not isinstance(table, dict):
        section = where.partition(".")[0]
        heading = f"[[{section}]]" if section == "families" else f"[{section}]"
        said = "is missing" if table is None else f"must be a table; got {table!r}"
        problems.append(file.problem(where, f"{said}: write it as {heading}, {_HOLDS[section]}, or name one of a pack by its id"))
        return None
    try:
        return cls(**table)
    except PartError as error:
        problems += [file.problem(f"{where}.{one.where}" if one.where else where, one.message) for one in error.problems]
    return None


def _length(file: TomlFile, where: str, value: Any, problems: list[Problem]) -> str:
    try:
        read = stated(value, KINDS["length"])
    except StatedValueError as error:
        problems.append(file.problem(where, str(error)))
        return ""
    if read.si < 0.0:
        problems.append(file.problem(where, f"must be 0 mm or more; got {read.text!r}"))
    return read.text
