"""One data pack from its folder: pack.toml and the part tables beside it, checked as a whole before any of it is used.

The folder is data and nothing else: no code of it runs, no file outside it is read, and what is read is bounded.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from pydantic import Field

from topend.errors import PackError, PartError, Problem, did_you_mean
from topend.packs.manifest import FORMAT, Manifest, bad_name, bad_version
from topend.packs.toml_file import TomlFile, read_toml
from topend.parts import Crank, Cylinder, FlushHead, Gasket, GasketSet, Head, Part, Piston, SpigotHead
from topend.quantities import Finding

__all__ = ["KINDS_OF_PART", "Pack", "kind_of_part", "read_folder"]

MANIFEST: Final = "pack.toml"
MOST_FILES: Final = 256

#: The tables a part file may hold, and the classes each makes.
KINDS_OF_PART: Final[dict[str, tuple[type[Part], ...]]] = {
    "crank": (Crank,),
    "cylinder": (Cylinder,),
    "piston": (Piston,),
    "head": (FlushHead, SpigotHead),
    "gasket": (Gasket,),
    "drawer": (GasketSet,),
}


class _Tables(Part):
    """One part by its kind: what a table of a part file is validated as."""

    crank: Crank | None = None
    cylinder: Cylinder | None = None
    piston: Piston | None = None
    head: Head | None = None
    gasket: Gasket | None = None
    drawer: GasketSet | None = Field(default=None)


@dataclass(frozen=True)
class Pack:
    """A data pack as loaded: its manifest, where it lies, its parts by name, and findings about the pack itself."""

    manifest: Manifest
    folder: Path
    parts: Mapping[str, Part] = field(repr=False)
    findings: tuple[Finding, ...] = ()

    @property
    def id(self) -> str:
        return self.manifest.id

    def __str__(self) -> str:
        return f"{self.id} {self.manifest.version}"


def kind_of_part(part: Part) -> str:
    """The name of a part's kind, as tables of a part file are named.

    >>> kind_of_part(FlushHead())
    'head'
    """
    return next(kind for kind, classes in KINDS_OF_PART.items() if isinstance(part, classes))


def read_folder(folder: Path) -> Pack:
    """The data pack in `folder`; `PackError` with all that is wrong in it."""
    _require_folder(folder)
    names = sorted(name for name in os.listdir(folder) if name.endswith(".toml") and not name.startswith("."))
    if MANIFEST not in names:
        raise PackError(str(folder), [Problem("", f"holds no {MANIFEST}: it is not a data pack")])
    if len(names) > MOST_FILES:
        raise PackError(str(folder), [Problem("", f"holds {len(names)} part files; at most {MOST_FILES} are read")])
    problems: dict[str, list[Problem]] = {}
    files: dict[str, TomlFile] = {}
    for name in names:
        try:
            files[name] = _inside(folder, name)
        except PackError as error:
            problems[name] = list(error.problems)
    manifest = _manifest(files.pop(MANIFEST, None), problems.setdefault(MANIFEST, []))
    parts = _Parts(files, manifest.id if manifest else folder.name, problems)
    _raise(folder, problems)
    assert manifest is not None
    return Pack(manifest, folder, parts.made, _provenance(manifest, folder))


def _require_folder(folder: Path) -> None:
    try:
        if folder.is_dir():
            return
        found = folder.exists()
    except (OSError, ValueError):
        found = False
    trouble = "is a file; give the folder that holds pack.toml" if found else "is not there; give the folder that holds pack.toml"
    raise PackError(str(folder), [Problem("", trouble)])


def _inside(folder: Path, name: str) -> TomlFile:
    path = folder / name
    if not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(folder)):
        raise PackError(str(path), [Problem("", "is a link that leaves the pack's folder; a pack holds its files itself")])
    return read_toml(path, PackError)


def _raise(folder: Path, problems: Mapping[str, list[Problem]]) -> None:
    """All problems together: under the file's name where there is one such file, else under the folder's."""
    names = sorted(problems, key=lambda name: (name != MANIFEST, name))
    bad = {name: sorted(problems[name], key=lambda p: p.line or 0) for name in names if problems[name]}
    if len(bad) == 1:
        ((name, found),) = bad.items()
        raise PackError(str(folder / name), found)
    if bad:
        raise PackError(str(folder), [Problem(p.where, p.message, p.line, name) for name, found in bad.items() for p in found])


def _manifest(file: TomlFile | None, problems: list[Problem]) -> Manifest | None:
    if file is None:
        return None
    written = file.table.get("format")
    if written != FORMAT or type(written) is not int:
        # another format has other keys: to list them as unknown would mislead
        given = f"is {written!r}; this version of topend reads format {FORMAT}"
        problems.append(file.problem("format", given if "format" in file.table else f"is missing: format = {FORMAT}"))
        return None
    known = Manifest.model_fields
    for key in file.table:
        if key not in known:
            problems.append(file.problem(key, f"is not a key of {MANIFEST}{did_you_mean(key, known)}; it may have {', '.join(known)}"))
    for key, trouble_of in (("id", bad_name), ("version", bad_version)):
        text = file.table.get(key)
        if isinstance(text, str) and (trouble := trouble_of(text)):
            problems.append(file.problem(key, trouble))
    try:
        made = Manifest(**{key: value for key, value in file.table.items() if key in known})
    except PartError as error:
        problems += [file.problem(p.where, p.message) for p in error.problems]
        return None
    return None if problems else made


class _Parts:
    """The parts of all part files of one pack."""

    def __init__(self, files: Mapping[str, TomlFile], pack: str, problems: dict[str, list[Problem]]) -> None:
        self.made: dict[str, Part] = {}
        self._pack = pack
        self._problems = problems
        self._places: dict[str, tuple[str, str]] = {}
        self._tables: dict[str, tuple[TomlFile, str, dict[str, Any]]] = {}
        for name, file in files.items():
            found = problems.setdefault(name, [])
            for kind, tables in file.table.items():
                self._collect(name, file, kind, tables, found)
        # drawers last: they name gaskets
        for drawers in (False, True):
            for part, (file, kind, table) in self._tables.items():
                if (kind == "drawer") is drawers:
                    self._make(part, file, kind, table)
        self.made = {part: self.made[part] for part in self._tables if part in self.made}

    def _collect(self, name: str, file: TomlFile, kind: str, tables: Any, found: list[Problem]) -> None:
        if kind not in KINDS_OF_PART:
            known = ", ".join(KINDS_OF_PART)
            found.append(file.problem(kind, f"is not a kind of part{did_you_mean(kind, KINDS_OF_PART)}; the kinds are {known}"))
            return
        if not isinstance(tables, dict):
            found.append(file.problem(kind, f"must be tables, one a part, such as [{kind}.NAME]; got {_short(tables)}"))
            return
        for part, table in tables.items():
            where = f"{kind}.{part}"
            if trouble := bad_name(part):
                found.append(file.problem(where, trouble))
            elif not isinstance(table, dict):
                found.append(file.problem(where, f"must be a part's table, such as [{kind}.NAME]; got {_short(table)}"))
            elif part in self._places:
                first, place = self._places[part]
                found.append(
                    file.problem(where, f"has the same id as {place} in {first}: {self._pack}/{part}; ids count over all kinds and files")
                )
            else:
                line = file.line(where)
                self._places[part] = (f"{name}, line {line}", where)
                self._tables[part] = (file, kind, table)

    def _make(self, part: str, file: TomlFile, kind: str, table: dict[str, Any]) -> None:
        found = self._problems[Path(file.file).name]
        where = f"{kind}.{part}"
        if kind == "drawer":
            table = self._drawer(table, lambda key, message: found.append(file.problem(f"{where}.{key}", message)))
        if "name" not in table and (kind != "head" or "kind" in table):
            table = {**table, "name": f"{self._pack}/{part}"}
        try:
            self.made[part] = getattr(_Tables(**{kind: table}), kind)
        except PartError as error:
            for problem in error.problems:
                at = where + problem.where.removeprefix(kind)
                found.append(file.problem(at, problem.message))

    def _drawer(self, table: dict[str, Any], refuse: Callable[[str, str], None]) -> dict[str, Any]:
        """The drawer's table with the gaskets it names put in."""
        items = table.get("items")
        if not isinstance(items, list):
            return table
        made = []
        for index, item in enumerate(items):
            if isinstance(item, dict) and isinstance(item.get("gasket"), str):
                item = {**item, "gasket": self._gasket(item["gasket"], f"items.{index}.gasket", refuse)}
            made.append(item)
        return {**table, "items": made}

    def _gasket(self, written: str, where: str, refuse: Callable[[str, str], None]) -> Part:
        name = written.removeprefix(f"{self._pack}/")
        kind = self._tables[name][1] if name in self._tables else None
        if kind == "gasket":
            # one that is broken itself is told in its own place
            return self.made.get(name, _STAND_IN)
        if kind is not None:
            refuse(where, f"is {written!r}, which is a {kind}; a drawer holds gaskets")
        elif "/" in name:
            refuse(where, f"is {written!r}; a drawer names gaskets of its own pack, {self._pack}, only")
        else:
            gaskets = [part for part, (_, kind, _) in self._tables.items() if kind == "gasket"]
            refuse(where, f"is {written!r}, which no gasket of this pack is called{did_you_mean(name, gaskets)}")
        return _STAND_IN


#: In the place of a gasket that cannot be had, so that the rest of its drawer is still checked.
_STAND_IN: Final = Gasket(role="base", thickness="1 mm")


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
