"""One data pack from its folder: pack.toml and the part tables beside it, checked as a whole before any of it is used.

The folder is data and nothing else: no code of it runs, no file outside it is read, and what is read is bounded. Opening a
pack reads pack.toml alone; its parts are read when one of them is first asked for.
"""

from __future__ import annotations

import functools
import hashlib
import os
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, get_args

from pydantic import Field

from topend.errors import PackError, PartError, Problem, did_you_mean
from topend.packs.csv_file import CsvFile, csv_names, kind_of_file, read_csv
from topend.packs.listing import headings, names_in
from topend.packs.manifest import FORMAT, Manifest, bad_name, bad_version
from topend.packs.migrations import MIGRATIONS, migrated
from topend.packs.toml_file import CONTROLS, MOST_PROBLEMS, Allowance, TomlFile, read_text, read_toml
from topend.parts import (
    Crank,
    Cylinder,
    DrillingFixture,
    FlushHead,
    Gasket,
    GasketSet,
    Head,
    Kit,
    LocatingPin,
    Location,
    Origin,
    ORing,
    Part,
    PinClip,
    PinLocation,
    Piston,
    PistonPin,
    PistonRing,
    Provenance,
    RegisterLocation,
    SpigotHead,
    SpigotLocation,
    StudFamily,
    StudLocation,
    StudSet,
)
from topend.parts.kit import ITEMS
from topend.quantities import Basis, Finding

if TYPE_CHECKING:
    from topend.packs.plugin import Plugin

__all__ = ["CHECKS", "KINDS_OF_PART", "MANIFEST", "Pack", "kind_of_part", "open_folder", "tables_read"]

MANIFEST: Final = "pack.toml"
CHECKS: Final = "checks"
MOST_FILES: Final = 256

#: The tables a part file may hold, and the classes each makes.
KINDS_OF_PART: Final[dict[str, tuple[type[Part], ...]]] = {
    "crank": (Crank,),
    "cylinder": (Cylinder,),
    "piston": (Piston,),
    "head": (FlushHead, SpigotHead),
    "gasket": (Gasket,),
    "ring": (PistonRing,),
    "o_ring": (ORing,),
    "studs": (StudSet,),
    "pin": (PistonPin,),
    "clip": (PinClip,),
    "locating_pin": (LocatingPin,),
    "location": (SpigotLocation, RegisterLocation, PinLocation, StudLocation),
    "fixture": (DrillingFixture,),
    "family": (StudFamily,),
    "drawer": (GasketSet,),
    "kit": (Kit,),
}
#: Those that name other parts of their pack.
_HOLDERS: Final = ("drawer", "kit")
#: Those that a row of a CSV table can hold.
_KINDS_OF_ROW: Final = tuple(kind for kind in KINDS_OF_PART if kind not in _HOLDERS)
_BASES: Final = get_args(Basis)
_FIGURE: Final = ("value", "basis", "source")


class PartTables(Part):
    """One part by its kind: what a table of a part file is validated as."""

    crank: Crank | None = None
    cylinder: Cylinder | None = None
    piston: Piston | None = None
    head: Head | None = None
    gasket: Gasket | None = None
    ring: PistonRing | None = None
    o_ring: ORing | None = None
    studs: StudSet | None = None
    pin: PistonPin | None = None
    clip: PinClip | None = None
    locating_pin: LocatingPin | None = None
    location: Location | None = None
    fixture: DrillingFixture | None = None
    family: StudFamily | None = None
    drawer: GasketSet | None = Field(default=None)
    kit: Kit | None = None


PartFile = TomlFile | CsvFile


def kind_of_part(part: Part) -> str:
    """The name of a part's kind, as tables of a part file are named.

    >>> kind_of_part(FlushHead())
    'head'
    """
    return next(kind for kind, classes in KINDS_OF_PART.items() if isinstance(part, classes))


class Pack:
    """A data pack: its manifest, where it lies, and its parts by name, which are read when they are first asked for.

    `found` says how it was found: in a folder that was given, through the environment, or as an installed distribution.
    A pack is used as a whole or not at all: where anything in it is wrong, `parts` raises `PackError` with all of it.
    """

    def __init__(self, folder: Path, manifest: Manifest, *, found: str, plugin: Plugin | None = None) -> None:
        self.folder = folder
        self.manifest = manifest
        self.found = found
        self.plugin = plugin
        self._loaded: _Read | PackError | None = None
        self._files: list[str] = []

    @property
    def id(self) -> str:
        return self.manifest.id

    @property
    def version(self) -> str:
        return self.manifest.version

    @property
    def parts(self) -> Mapping[str, Part]:
        """The parts by their names within the pack; `PackError` with all that is wrong in the pack."""
        return self._read.parts

    @property
    def digest(self) -> str:
        """SHA-256 of what the pack says, in hexadecimal: its files, line ends as LF, and the code of a pack that has code."""
        return self._read.digest

    @property
    def names(self) -> Mapping[str, str]:
        """The kind of each part by its name, told from headings alone while the parts have not been read."""
        if isinstance(self._loaded, _Read):
            return {name: kind_of_part(part) for name, part in self._loaded.parts.items()}
        return self._listed

    @property
    def problem(self) -> PackError | None:
        """What keeps the pack from being used, None where nothing does. Reads the pack."""
        try:
            _ = self._read
        except PackError as error:
            return error
        return None

    @property
    def loaded(self) -> bool:
        """Whether the parts have been read."""
        return self._loaded is not None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a user should know of the pack itself, such as figures without provenance."""
        return (*_provenance(self.manifest, self.folder), *self._left_out())

    def provenance(self, name: str) -> Provenance:
        """Where the part of that name is from, as it goes with the part."""
        return Provenance(f"{self.id}/{name}", self.id, self.version, self.digest)

    def checks(self) -> list[Path]:
        """The files of the pack's measured cases."""
        return [self.folder / CHECKS / name for name in _check_names(self.folder)]

    @property
    def _read(self) -> _Read:
        if self._loaded is None:
            try:
                self._loaded = _read(self.folder, self.manifest, self.plugin)
            except PackError as error:
                self._loaded = error
        if isinstance(self._loaded, PackError):
            raise self._loaded.with_traceback(None)
        return self._loaded

    @functools.cached_property
    def _listed(self) -> Mapping[str, str]:
        found = _headings(self.folder, self._files or _file_names(self.folder), self.manifest)
        if self.plugin is not None:
            found.update({name: kind for kind, names in self.manifest.built.items() for name in names})
        return found

    def _left_out(self) -> Iterator[Finding]:
        if self.manifest.built and self.plugin is None:
            count = sum(map(len, self.manifest.built.values()))
            yield Finding(
                code="built_parts_left_out",
                severity="note",
                message=f"pack {self.id} ({self.folder}) builds {count} parts by code, which a folder cannot run; they are left out",
                do="Install the distribution that the pack comes in to have them.",
                standing="geometry",
            )

    def __str__(self) -> str:
        return f"{self.id} {self.version}"

    def __repr__(self) -> str:
        return f"Pack({self.id} {self.version}, {self.folder})"


def open_folder(folder: Path, *, found: str = "a folder that was given", plugin: Plugin | None = None) -> Pack:
    """The data pack in `folder`, its parts unread; `PackError` with all that is wrong where its manifest cannot be used."""
    _require_folder(folder)
    names = _file_names(folder)
    if MANIFEST not in names:
        raise PackError(str(folder), [Problem("", f"holds no {MANIFEST}: it is not a data pack")])
    problems: list[Problem] = []
    manifest = None
    try:
        manifest = _manifest(_toml(folder, MANIFEST, Allowance()), problems)
    except PackError as error:
        problems += error.problems
    if manifest is None or problems:
        _read(folder, None, None)
        raise AssertionError("a manifest that was refused is refused again")  # pragma: no cover
    pack = Pack(folder, manifest, found=found, plugin=plugin)
    pack._files = names
    return pack


# --- files -----------------------------------------------------------------------------------------------------------


def _require_folder(folder: Path) -> None:
    try:
        if folder.is_dir():
            return
        found = folder.exists()
    except (OSError, ValueError):
        found = False
    trouble = "is a file; give the folder that holds pack.toml" if found else "is not there; give the folder that holds pack.toml"
    raise PackError(str(folder), [Problem("", trouble)])


def _file_names(folder: Path) -> list[str]:
    """The names of the files of a pack's folder that are read; at most so many are looked at."""
    names: list[str] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.startswith(".") or not entry.name.endswith((".toml", ".csv")):
                    continue
                if CONTROLS.search(entry.name) or "\n" in entry.name:
                    raise PackError(str(folder), [Problem("", f"holds a file named {entry.name!r}; names are printed, so rename it")])
                names.append(entry.name)
                if len(names) > MOST_FILES:
                    break
    except OSError as fault:
        raise PackError(str(folder), [Problem("", f"cannot be read: {fault.strerror or fault}")]) from None
    if len(names) > MOST_FILES:
        raise PackError(str(folder), [Problem("", f"holds more than {MOST_FILES} part files, the most that is read")])
    return sorted(names)


def _check_names(folder: Path) -> list[str]:
    return [name for name in _file_names(folder / CHECKS) if name.endswith(".toml")] if (folder / CHECKS).is_dir() else []


def _inside(folder: Path, name: str) -> Path:
    path = folder / name
    # what is no link lies where it seems to; to follow every path to its end takes a third of the time of a listing
    if not path.is_symlink() and not (name.startswith(CHECKS) and (folder / CHECKS).is_symlink()):
        return path
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):
        raise PackError(str(path), [Problem("", "is a link that leaves the pack's folder; a pack holds its files itself")])
    return path


def _toml(folder: Path, name: str, allowance: Allowance) -> TomlFile:
    return read_toml(_inside(folder, name), PackError, allowance)


def _part_file(folder: Path, name: str, allowance: Allowance) -> PartFile:
    if name.endswith(".toml"):
        return _toml(folder, name, allowance)
    path = _inside(folder, name)
    kind = kind_of_file(name)
    if kind not in _KINDS_OF_ROW:
        kinds = ", ".join(_KINDS_OF_ROW)
        message = f"is a table of {kind!r}; a CSV file is named for its kind of part, such as gasket.csv or gasket.fibre.csv: {kinds}"
        raise PackError(str(path), [Problem("", message)])
    return read_csv(path, allowance)


def _headings(folder: Path, names: list[str], manifest: Manifest) -> dict[str, str]:
    """The kind of each part by its name. A file that cannot be read gives none; reading the pack tells why."""
    found: dict[str, str] = {}
    old = manifest.format != FORMAT
    allowance = Allowance()
    try:
        for name in names:
            if name == MANIFEST:
                continue
            text = read_text(_inside(folder, name), PackError, allowance)
            if name.endswith(".csv"):
                pairs = [(kind_of_file(name), part) for part in csv_names(text)] if kind_of_file(name) in _KINDS_OF_ROW else []
            else:
                told = None if old else headings(text, KINDS_OF_PART)
                pairs = names_in(read_toml(folder / name, PackError, Allowance()).table, KINDS_OF_PART) if told is None else told
            for kind, part in pairs:
                found.setdefault(part, kind)
    except PackError:
        return {}
    return found


# --- reading the whole -----------------------------------------------------------------------------------------------


class _Read:
    """What reading a pack gives."""

    def __init__(self, parts: dict[str, Part], digest: str) -> None:
        self.parts = parts
        self.digest = digest


def _read(folder: Path, opened: Manifest | None, plugin: Plugin | None) -> _Read:
    """All of a pack; `PackError` with all that is wrong in it."""
    problems: dict[str, list[Problem]] = {}
    files: dict[str, PartFile] = {}
    allowance = Allowance()
    names = _file_names(folder)
    for name in names:
        try:
            files[name] = _part_file(folder, name, allowance)
        except PackError as error:
            problems[name] = list(error.problems)
    manifest_file = files.pop(MANIFEST, None)
    # one whose lines and format make no sense is told of, and its parts are read all the same
    manifest = _manifest(manifest_file, problems.setdefault(MANIFEST, [])) if isinstance(manifest_file, TomlFile) else None
    manifest = manifest or opened
    if isinstance(manifest_file, TomlFile) and _older(manifest_file.table):
        files = _brought_up(manifest_file, files)
    digest = ""
    try:
        digest = _digest(folder, names, plugin)
    except PackError as error:
        problems.setdefault(os.path.relpath(error.file, folder), []).extend(error.problems)
    parts = _Parts(files, manifest.id if manifest else folder.name, problems)
    if manifest is not None and plugin is not None:
        _build(manifest, plugin, parts, problems[MANIFEST])
    _raise(folder, problems)
    assert manifest is not None
    for name, part in parts.made.items():
        part.trace(Provenance(f"{manifest.id}/{name}", manifest.id, manifest.version, digest), parts.origins.get(name, {}))
    return _Read(parts.made, digest)


def _digest(folder: Path, names: list[str], plugin: Plugin | None) -> str:
    made = hashlib.sha256()
    allowance = Allowance()
    paths = [*names, *(f"{CHECKS}/{name}" for name in _check_names(folder)), *(plugin.code_files() if plugin else ())]
    for name in sorted(paths):
        try:
            data = read_text(_inside(folder, name), PackError, allowance).encode()
        except PackError as error:
            if name in names:
                continue  # told where it was read
            raise error from None
        for piece in (name.encode(), data):
            made.update(len(piece).to_bytes(8, "big"))
            made.update(piece)
    return made.hexdigest()


def _raise(folder: Path, problems: Mapping[str, list[Problem]]) -> None:
    """All problems together: under the file's name where there is one such file, else under the folder's."""
    names = sorted(problems, key=lambda name: (name != MANIFEST, name))
    bad = {name: sorted(problems[name], key=lambda p: p.line or 0) for name in names if problems[name]}
    if len(bad) == 1:
        ((name, found),) = bad.items()
        raise PackError(str(folder / name), _first(found))
    if bad:
        raise PackError(str(folder), _first([Problem(p.where, p.message, p.line, name) for name, found in bad.items() for p in found]))


def _first(problems: list[Problem]) -> list[Problem]:
    if len(problems) <= MOST_PROBLEMS:
        return problems
    return [*problems[:MOST_PROBLEMS], Problem("", "and more; mend these first")]


# --- the manifest ----------------------------------------------------------------------------------------------------


def _older(table: Mapping[str, Any]) -> bool:
    """Whether a manifest is of an older format for which there are steps."""
    written = table.get("format")
    return type(written) is int and written < FORMAT and all(version in MIGRATIONS for version in range(written, FORMAT))


def _brought_up(manifest: TomlFile, files: Mapping[str, PartFile]) -> dict[str, PartFile]:
    tables = migrated({MANIFEST: manifest.table} | {name: file.table for name, file in files.items()}, manifest.table["format"], FORMAT)
    # lines stay those of the file as written
    return {
        name: TomlFile(file.file, tables[name], file.text) if isinstance(file, TomlFile) else CsvFile(file.file, tables[name], file.lines)
        for name, file in files.items()
        if name in tables
    }


def _manifest(file: TomlFile, problems: list[Problem]) -> Manifest | None:
    table = file.table
    if _older(table):
        table = migrated({MANIFEST: table}, table["format"], FORMAT)[MANIFEST]
    elif (other := file.other_format(FORMAT)) is not None:
        problems.append(other)
        return None
    known = Manifest.model_fields
    for key in table:
        if key not in known:
            problems.append(file.problem(key, f"is not a key of {MANIFEST}{did_you_mean(key, known)}; it may have {', '.join(known)}"))
    for key, trouble_of in (("id", bad_name), ("version", bad_version), ("title", _several_lines)):
        text = table.get(key)
        if isinstance(text, str) and (trouble := trouble_of(text)):
            problems.append(file.problem(key, trouble))
    try:
        made = Manifest(**{key: value for key, value in table.items() if key in known})
    except PartError as error:
        problems += [file.problem(p.where, p.message) for p in error.problems]
        return None
    for kind, names in made.built.items():
        if kind not in KINDS_OF_PART:
            problems.append(file.problem(f"built.{kind}", f"is not a kind of part; the kinds are {', '.join(KINDS_OF_PART)}"))
        problems += [file.problem(f"built.{kind}", trouble) for name in names if (trouble := bad_name(name))]
    return None if problems else made


def _several_lines(text: str) -> str | None:
    return "must be one line" if "\n" in text else None


def _build(manifest: Manifest, plugin: Plugin, parts: _Parts, problems: list[Problem]) -> None:
    """The parts that the pack's code builds, each declared in the manifest, so that listing them runs no code."""
    try:
        built = plugin.parts()
    except PackError as error:
        problems += error.problems
        return
    declared = {name: kind for kind, names in manifest.built.items() for name in names}
    for name, part in built.items():
        if name in parts.made:
            problems.append(Problem(f"built.{name}", "has the same name as a part in the pack's files"))
        elif declared.pop(name, None) != kind_of_part(part):
            problems.append(Problem("built", f"does not list {name!r}, a {kind_of_part(part)} that the pack's code builds"))
        else:
            parts.made[name] = part if part.name is not None else part.replace(name=f"{manifest.id}/{name}")
    for name, kind in declared.items():
        problems.append(Problem(f"built.{kind}", f"lists {name!r}, which the pack's code does not build"))


# --- parts -----------------------------------------------------------------------------------------------------------


class _Parts:
    """The parts of all part files of one pack."""

    def __init__(self, files: Mapping[str, PartFile], pack: str, problems: dict[str, list[Problem]]) -> None:
        self.made: dict[str, Part] = {}
        self.origins: dict[str, dict[str, Origin]] = {}
        self._pack = pack
        self._problems = problems
        self._places: dict[str, tuple[PartFile, str]] = {}
        self._tables: dict[str, tuple[PartFile, str, dict[str, Any]]] = {}
        for name, file in files.items():
            found = problems.setdefault(name, [])
            for kind, tables in file.table.items():
                self._collect(file, kind, tables, found)
        # drawers and kits last: they name other parts
        for holders in (False, True):
            for part, (file, kind, table) in self._tables.items():
                if (kind in _HOLDERS) is holders and sum(map(len, problems.values())) <= MOST_PROBLEMS:
                    self._make(part, file, kind, table)
        self.made = {part: self.made[part] for part in self._tables if part in self.made}

    def _collect(self, file: PartFile, kind: str, tables: Any, found: list[Problem]) -> None:
        if kind not in KINDS_OF_PART:
            known = ", ".join(KINDS_OF_PART)
            found.append(file.problem(kind, f"is not a kind of part{did_you_mean(kind, KINDS_OF_PART)}; the kinds are {known}"))
            return
        if not isinstance(tables, dict):
            found.append(file.problem(kind, f"must be tables, one a part, such as [{kind}.NAME]; got {_short(tables)}"))
            return
        for part, table in tables.items():
            if len(found) > MOST_PROBLEMS:
                return
            where = f"{kind}.{part}"
            if trouble := bad_name(part):
                found.append(file.problem(where, trouble))
            elif not isinstance(table, dict):
                found.append(file.problem(where, f"must be a part's table, such as [{kind}.NAME]; got {_short(table)}"))
            elif part in self._places:
                other, place = self._places[part]
                first = f"{Path(other.file).name}, line {other.line(place)}"
                found.append(
                    file.problem(where, f"has the same id as {place} in {first}: {self._pack}/{part}; ids count over all kinds and files")
                )
            else:
                self._places[part] = (file, where)
                self._tables[part] = (file, kind, table)

    def _make(self, part: str, file: PartFile, kind: str, table: dict[str, Any]) -> None:
        found = self._problems[Path(file.file).name]
        where = f"{kind}.{part}"

        def refuse(key: str, message: str) -> None:
            found.append(file.problem(f"{where}.{key}", message))

        origins: dict[str, Origin] = {}
        table = _plain(table, "", origins, refuse)
        if kind == "drawer":
            table = self._drawer(table, refuse)
        elif kind == "kit":
            table = self._kit(table, refuse)
        if isinstance(table.get("name"), str) and "\n" in table["name"]:
            refuse("name", "must be one line")
        if "name" not in table and (kind not in ("head", "location") or "kind" in table):
            table = {**table, "name": f"{self._pack}/{part}" if self._pack else part}
        try:
            self.made[part] = getattr(PartTables(**{kind: table}), kind)
        except PartError as error:
            for problem in error.problems:
                at = where + problem.where.removeprefix(kind)
                found.append(file.problem(at, problem.message))
        else:
            self.origins[part] = origins

    def _drawer(self, table: dict[str, Any], refuse: Callable[[str, str], None]) -> dict[str, Any]:
        """The drawer's table with the gaskets it names put in."""
        items = table.get("items")
        if not isinstance(items, list):
            return table
        made = []
        for index, item in enumerate(items):
            if isinstance(item, dict) and isinstance(item.get("gasket"), str):
                item = {**item, "gasket": self._named(item["gasket"], "gasket", f"items.{index}.gasket", "a drawer", refuse) or _STAND_IN}
            made.append(item)
        return {**table, "items": made}

    def _kit(self, table: dict[str, Any], refuse: Callable[[str, str], None]) -> dict[str, Any]:
        """The kit's table with the parts it names put in; one that cannot be had has a clip in its place, so that the rest is checked."""
        items = table.get("items")
        if not isinstance(items, list):
            return table
        made = []
        for index, item in enumerate(items):
            if isinstance(item, dict):
                for kind in ITEMS:
                    if not isinstance(item.get(kind), str):
                        continue
                    part = self._named(item[kind], kind, f"items.{index}.{kind}", "a kit", refuse)
                    item = {key: value for key, value in item.items() if key != kind} | ({"clip": _CLIP} if part is None else {kind: part})
            made.append(item)
        return {**table, "items": made}

    def _named(self, written: str, wanted: str, where: str, holder: str, refuse: Callable[[str, str], None]) -> Part | None:
        """The part of that kind that a drawer or kit names; None where it cannot be had, which is told, here or in its own place."""
        name = written.removeprefix(f"{self._pack}/")
        kind = self._tables[name][1] if name in self._tables else None
        if kind == wanted:
            # one that is broken itself is told in its own place
            return self.made.get(name)
        if kind is not None:
            holds = "a drawer holds gaskets" if holder == "a drawer" else f"here goes a {wanted}"
            refuse(where, f"is {_short(written)}, which is a {kind}; {holds}")
        elif "/" in name:
            what = "gaskets" if holder == "a drawer" else "parts"
            refuse(where, f"is {_short(written)}; {holder} names {what} of its own pack, {self._pack}, only")
        else:
            known = [part for part, (_, kind, _) in self._tables.items() if kind == wanted]
            refuse(where, f"is {_short(written)}, which no {wanted} of this pack is called{did_you_mean(name, known)}")
        return None


#: In the place of a gasket that cannot be had, so that the rest of its drawer is still checked.
_STAND_IN: Final = Gasket(role="base", thickness="1 mm")
_CLIP: Final = PinClip(pin_diameter="1 mm")


def _plain(value: Any, where: str, origins: dict[str, Origin], refuse: Callable[[str, str], None]) -> Any:
    """A table with its figures as plain texts; where they are from goes to `origins`.

    A figure may be written as ``{ value = "47.6 mm", basis = "measured", source = "bench book 3" }``.
    """
    if isinstance(value, list):
        return [_plain(item, f"{where}.{index}", origins, refuse) for index, item in enumerate(value)]
    if not isinstance(value, dict):
        return value
    if "value" not in value or not where:
        return {key: _plain(item, f"{where}.{key}" if where else key, origins, refuse) for key, item in value.items()}
    basis, source = value.get("basis"), value.get("source")
    for key in value:
        if key not in _FIGURE:
            refuse(f"{where}.{key}", f"does not belong to a figure, which has {', '.join(_FIGURE)}")
    if basis is not None and basis not in _BASES:
        refuse(f"{where}.basis", f"must be one of {', '.join(_BASES)}; got {_short(basis)}")
    if source is not None and not isinstance(source, str):
        refuse(f"{where}.source", f"must be a text; got {_short(source)}")
    if (isinstance(basis, str) and basis in _BASES) or isinstance(source, str):
        origins[where] = Origin(basis, source)
    return value["value"]


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _provenance(manifest: Manifest, folder: Path) -> tuple[Finding, ...]:
    lacking = [what for what, given in (("[[source]]", manifest.source), ("licence", manifest.licence)) if not given]
    if not lacking:
        return ()
    return (
        Finding(
            code="pack_without_provenance",
            severity="warning",
            message=f"pack {manifest.id} ({folder}) has no {' and no '.join(lacking)}; "
            "nobody can tell where its figures are from, or what may be done with them",
            do=f"Check its figures before you rely on them; ask its maker to add {' and '.join(lacking)} to {MANIFEST}.",
            standing="common practice",
            source="figures are only as good as what is known of where they came from",
        ),
    )


def tables_read(file: TomlFile) -> dict[str, Part]:
    """The parts in the tables of one part file that belongs to no pack, by name; `PackError` with all that is wrong."""
    problems: dict[str, list[Problem]] = {}
    parts = _Parts({Path(file.file).name: file}, "", problems)
    found = [problem for listed in problems.values() for problem in listed]
    if found:
        raise PackError(file.file, _first(found))
    for name, part in parts.made.items():
        part.trace(None, parts.origins.get(name, {}))
    return parts.made
