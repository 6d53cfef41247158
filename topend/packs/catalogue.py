"""The catalogue: parts of any number of data packs by their ids, `pack/part`, which match exactly."""

from __future__ import annotations

import os
from collections.abc import ItemsView, Iterable, Iterator, Mapping, ValuesView
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from topend.errors import PackError, Problem, UnknownNameError
from topend.extra_findings import judgements_joined
from topend.extra_outputs import joined
from topend.packs.folder import KINDS_OF_PART, MANIFEST, Pack, kind_of_part, open_folder, tables_read
from topend.packs.manifest import Manifest
from topend.packs.pack_code import findings_of_pack, outputs_of_pack
from topend.packs.toml_file import Allowance, TomlFile, read_text, read_toml
from topend.parts import Cylinder, Part
from topend.quantities import ExtraFinding, ExtraOutput, Finding

if TYPE_CHECKING:
    from topend.parts import Crank
    from topend.parts.fitting import Fitting

__all__ = ["ENVIRONMENT", "Catalogue"]

#: The environment variable that names folders of packs, or folders that hold such folders.
ENVIRONMENT: Final = "TOPEND_PACKS"


class Catalogue(Mapping[str, Part]):
    """Parts of data packs by id: a mapping that reads a pack when one of its parts is first asked for.

    `list(catalogue)` gives the ids, in pack order and, within a pack, in file order, and reads no part. A pack that cannot
    be used is listed in `problems` and takes no other down: asking for one of its parts raises its `PackError`, and
    iterating over `items()` or `values()` passes it over. A part without a name of its own carries its id as its name, so
    that a card or an answer shows which one it is.

    >>> import topend as te
    >>> te.Catalogue.load()
    Catalogue(no packs)
    """

    def __init__(self, packs: Iterable[Pack | PackError] = ()) -> None:
        self._packs: dict[str, Pack] = {}
        self._broken: list[PackError] = []
        self._taken: dict[str, PackError] = {}
        for pack in packs:
            if isinstance(pack, PackError):
                self._broken.append(pack)
                continue
            first = self._packs.setdefault(pack.id, pack)
            if first is not pack and os.path.realpath(first.folder) != os.path.realpath(pack.folder):
                self._taken.setdefault(pack.id, _same_id(first, pack))
        # of two with one id neither is used: whichever came first would be a guess
        for name in self._taken:
            del self._packs[name]

    @classmethod
    def load(cls, *folders: str | os.PathLike[str]) -> Catalogue:
        """The catalogue of the packs in `folders`, each a folder with a pack.toml. Nothing else is searched.

        A folder given twice counts once. Raises `PackError` for a folder that is not there or holds no pack, and for two packs of one
        id, both named. What is wrong inside a pack is told in `problems`, and when a part of it is asked for.
        """
        made = cls(_opened(Path(folder), "a folder that was given") for folder in folders)
        for error in made._taken.values():
            raise error
        return made

    @classmethod
    def discover(cls, *folders: str | os.PathLike[str]) -> Catalogue:
        """The catalogue of the packs in `folders`, in the folders named by TOPEND_PACKS, and in installed distributions.

        TOPEND_PACKS lists folders as PATH does, each a pack or a folder of packs. Installed packs are found by the entry
        point group `topend` without running their code. Nothing is searched in the working folder. Raises as `load` for
        `folders`; all else that cannot be used, two packs of one id among it, is told in `problems`.
        """
        from topend.packs.installed import installed_packs

        return cls([*cls.load(*folders).packs_and_problems(), *_from_environment(), *installed_packs()])

    def joined(self, *others: Catalogue) -> Catalogue:
        """A catalogue of these packs and those of `others`; `PackError` where two different packs have one id."""
        made = Catalogue(one for catalogue in (self, *others) for one in catalogue.packs_and_problems())
        for name, error in made._taken.items():
            if not any(name in catalogue._taken for catalogue in (self, *others)):
                raise error
        for catalogue in (self, *others):
            made._taken.update(catalogue._taken)
        return made

    def packs_and_problems(self) -> list[Pack | PackError]:
        """The packs, and in the place of those that could not be opened, why."""
        return [*self._packs.values(), *self._broken]

    @property
    def packs(self) -> tuple[Pack, ...]:
        """The packs in the order they were found, each with its manifest, folder and parts."""
        return tuple(self._packs.values())

    @property
    def problems(self) -> tuple[PackError, ...]:
        """Everything that could not be used, each with file, key, line and what was expected. Reads every pack, to be complete."""
        found = [pack.problem for pack in self._packs.values()]
        return (*self._broken, *self._taken.values(), *(error for error in found if error is not None))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a user should know about the packs themselves, such as figures without provenance."""
        return tuple(finding for pack in self.packs for finding in pack.findings)

    def pack(self, name: str) -> Manifest:
        """The manifest of the pack with this id; `UnknownNameError` where there is none."""
        return self._found(name).manifest

    def of(self, kind: str | type[Part]) -> list[str]:
        """The ids of one kind of part: crank, cylinder, piston, head, gasket or drawer, or a class such as `SpigotHead`.

        A kind is told from headings alone; for a class the packs are read, and those that cannot be used are passed over.
        """
        if isinstance(kind, str):
            if kind not in KINDS_OF_PART:
                raise UnknownNameError(kind, KINDS_OF_PART, what="kind of part", searched=f"{', '.join(KINDS_OF_PART)}")
            return [f"{pack.id}/{name}" for pack in self._usable() for name, its in pack.names.items() if its == kind]
        return [name for name, part in self.items() if isinstance(part, kind)]

    def fitting(self, cylinder: str | Cylinder, *, crank: str | Crank | None = None) -> Fitting:
        """The heads, pistons and gaskets that go on a cylinder, by geometry and not by name; of the rest why not, and by how much.

        Parameters: `cylinder` a part or its id; `crank` the crank that it goes on, where its pin and heights are to be
        judged by that instead of what the cylinder states. Parts for which nothing that would tell is known stand apart.
        """
        from topend.parts import Crank
        from topend.parts.fitting import fitting

        barrel = self[cylinder] if isinstance(cylinder, str) else cylinder
        shaft = self[crank] if isinstance(crank, str) else crank
        if not isinstance(barrel, Cylinder):
            raise UnknownNameError(str(cylinder), self.of("cylinder"), what="cylinder", searched=self._searched())
        if shaft is not None and not isinstance(shaft, Crank):
            raise UnknownNameError(str(crank), self.of("crank"), what="crank", searched=self._searched())
        return fitting(barrel, {name: part for name, part in self.items() if kind_of_part(part) in ("head", "piston", "gasket")}, shaft)

    # --- what packs add by code --------------------------------------------------------------------------------------

    @property
    def extra_outputs(self) -> tuple[ExtraOutput, ...]:
        """The outputs that packs with code add, for ``top.with_outputs(catalogue.extra_outputs)``. Runs their code.

        Raises `PackError` where a pack's code fails, or two packs add one output; it names the pack.
        """
        return self.outputs_of(*(pack.id for pack in self._coded()))

    def outputs_of(self, *packs: str) -> tuple[ExtraOutput, ...]:
        """The outputs that these packs add, by their ids: as `extra_outputs`, running the code of no other pack.

        A pack without code adds none. Raises `UnknownNameError` for an id that no pack has.
        """
        return joined((), (extra for name in dict.fromkeys(packs) for extra in outputs_of_pack(self._found(name))))

    @property
    def extra_findings(self) -> tuple[ExtraFinding, ...]:
        """The judgements that packs with code add, for ``top.with_findings(catalogue.extra_findings)``. Runs their code.

        Raises `PackError` where a pack's code fails, or two packs may find one code; it names the pack.
        """
        return self.findings_of(*(pack.id for pack in self._coded()))

    def findings_of(self, *packs: str) -> tuple[ExtraFinding, ...]:
        """The judgements that these packs add, by their ids: as `extra_findings`, running the code of no other pack.

        A pack without code adds none. Raises `UnknownNameError` for an id that no pack has.
        """
        return judgements_joined((), (extra for name in dict.fromkeys(packs) for extra in findings_of_pack(self._found(name))))

    def read(self, file: str | os.PathLike[str]) -> dict[str, Part]:
        """The parts in a part file, by name: TOML, or a format for which a pack with code brings a reader.

        Figures stand as they are in the file; the parts belong to no pack. Raises `PackError` with what is wrong in it.
        """
        path = Path(file)
        allowance = Allowance()
        if path.suffix == ".toml":
            return tables_read(read_toml(path, PackError, allowance))
        readers = {reader.suffix: (plugin, reader) for plugin in self._plugins() for reader in plugin.readers()}
        if path.suffix not in readers:
            known = ", ".join([".toml", *sorted(readers)])
            raise PackError(str(path), [Problem("", f"has the suffix {path.suffix!r}; what can be read is {known}")])
        plugin, reader = readers[path.suffix]
        text = read_text(path, PackError, allowance)
        try:
            tables = {str(kind): {str(name): dict(table) for name, table in named.items()} for kind, named in reader.read(text).items()}
        except (Exception, SystemExit) as fault:
            message = f"cannot be read by the reader of pack {plugin.pack} ({plugin.distribution}): {type(fault).__name__}: {fault}"
            raise PackError(str(path), [Problem("", message)]) from fault
        return tables_read(TomlFile(str(path), tables, ""))

    def _coded(self) -> list[Pack]:
        return [pack for _, pack in sorted(self._packs.items()) if pack.plugin is not None]

    def _plugins(self) -> list[Any]:
        return [pack.plugin for pack in self._coded()]

    # --- the mapping -------------------------------------------------------------------------------------------------

    def __getitem__(self, name: str) -> Part:
        pack, _, part = name.partition("/") if isinstance(name, str) else ("", "", "")
        if pack in self._taken:
            raise self._taken[pack].with_traceback(None)
        if pack in self._packs:
            parts = self._packs[pack].parts
            if part in parts:
                return parts[part]
        raise UnknownNameError(name, self, what="part", searched=self._searched())

    # Mapping looks for KeyError, which an UnknownNameError is not
    def get(self, name: str, default: Any = None) -> Any:
        """The part with this id, or `default`; `PackError` where its pack cannot be used."""
        try:
            return self[name]
        except UnknownNameError:
            return default

    def __contains__(self, name: object) -> bool:
        pack, _, part = name.partition("/") if isinstance(name, str) else ("", "", "")
        return pack in self._packs and part in self._packs[pack].names

    def __iter__(self) -> Iterator[str]:
        return (f"{pack.id}/{name}" for pack in self._usable() for name in pack.names)

    def __len__(self) -> int:
        return sum(len(pack.names) for pack in self._usable())

    def items(self) -> ItemsView[str, Part]:
        """Ids with their parts. Packs are read one after the other; one that cannot be used is passed over."""
        return _Items(self)

    def values(self) -> ValuesView[Part]:
        """The parts, as `items`."""
        return _Values(self)

    def __repr__(self) -> str:
        packs = [f"{pack}: {len(pack.names)} parts" for pack in self.packs]
        return f"Catalogue({', '.join(packs) or 'no packs'})"

    def _usable(self) -> Iterator[Pack]:
        """The packs but for those that are known to be broken: which of them are, reading tells."""
        return (pack for pack in self._packs.values() if not pack.loaded or pack.problem is None)

    def _read_packs(self) -> Iterator[Pack]:
        return (pack for pack in self._packs.values() if pack.problem is None)

    def _found(self, name: str) -> Pack:
        if name in self._taken:
            raise self._taken[name].with_traceback(None)
        if name not in self._packs:
            raise UnknownNameError(name, self._packs, what="pack", searched=self._searched())
        return self._packs[name]

    def _searched(self) -> str:
        broken = [error.file for error in (*self._broken, *self._taken.values())]
        beside = f" ({len(broken)} could not be used: {', '.join(broken)})" if broken else ""
        if not self._packs:
            return f"a catalogue without packs{beside}"
        return f"{'pack' if len(self._packs) == 1 else 'packs'} {', '.join(f'{pack} ({pack.folder})' for pack in self.packs)}{beside}"


class _Items(ItemsView[str, Part]):
    _mapping: Catalogue

    def __iter__(self) -> Iterator[tuple[str, Part]]:
        return ((f"{pack.id}/{name}", part) for pack in self._mapping._read_packs() for name, part in pack.parts.items())


class _Values(ValuesView[Part]):
    _mapping: Catalogue

    def __iter__(self) -> Iterator[Part]:
        return (part for pack in self._mapping._read_packs() for part in pack.parts.values())


def _opened(folder: Path, found: str) -> Pack | PackError:
    """The pack, or what is wrong inside it; a folder that holds no pack raises."""
    try:
        return open_folder(folder, found=found)
    except PackError as error:
        if error.file == str(folder) and not (folder / MANIFEST).exists():
            raise
        return error


def _from_environment() -> Iterator[Pack | PackError]:
    for entry in os.environ.get(ENVIRONMENT, "").split(os.pathsep):
        if not entry:
            continue
        folder = Path(entry)
        if not folder.is_absolute():
            # what it means would depend on the working folder
            yield PackError(f"{ENVIRONMENT}", [Problem("", f"names {entry!r}; folders are named in full, from the root")])
            continue
        inside = [folder]
        try:
            if not (folder / MANIFEST).exists() and folder.is_dir():
                inside = sorted(path for path in folder.iterdir() if (path / MANIFEST).is_file())
        except OSError as fault:
            yield PackError(str(folder), [Problem("", f"is named by {ENVIRONMENT} and cannot be read: {fault.strerror}")])
            continue
        for path in inside:
            try:
                yield open_folder(path, found=f"{ENVIRONMENT}: {entry}")
            except PackError as error:
                yield error


def _same_id(first: Pack, second: Pack) -> PackError:
    path = second.folder / MANIFEST
    message = f"is {second.id!r}, the id of the pack in {first.folder / MANIFEST} too; ids must differ, so load one of the two"
    return PackError(str(path), [Problem("id", message, read_toml(path, PackError).line("id"))])
