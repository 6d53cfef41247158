"""The catalogue: parts of any number of data packs by their ids, `pack/part`, which match exactly."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from topend.errors import PackError, Problem, UnknownNameError
from topend.packs.folder import KINDS_OF_PART, MANIFEST, Pack, kind_of_part, read_folder
from topend.packs.manifest import Manifest
from topend.packs.toml_file import read_toml
from topend.parts import Part
from topend.quantities import Finding

__all__ = ["Catalogue"]


class Catalogue(Mapping[str, Part]):
    """Parts of data packs by id; a mapping, in pack order and, within a pack, in file order.

    Nothing is searched: the packs are those whose folders were given. A part without a name of its own carries its id as
    its name, so that a card or an answer shows which one it is.

    >>> Catalogue.load()
    Catalogue(no packs)
    """

    def __init__(self, packs: Iterable[Pack] = ()) -> None:
        self._packs: dict[str, Pack] = {}
        for pack in packs:
            first = self._packs.setdefault(pack.id, pack)
            if first is not pack and os.path.realpath(first.folder) != os.path.realpath(pack.folder):
                raise _same_id(first, pack)
        self._parts = {f"{pack.id}/{name}": part for pack in self._packs.values() for name, part in pack.parts.items()}

    @classmethod
    def load(cls, *folders: str | os.PathLike[str]) -> Catalogue:
        """The catalogue of the packs in `folders`, each a folder with a pack.toml.

        A folder given twice counts once. Raises `PackError`: a folder or file that cannot be read, what is wrong in a
        pack with file, key and line, all of it together, and two packs of one id.
        """
        return cls(read_folder(Path(folder)) for folder in folders)

    def joined(self, *others: Catalogue) -> Catalogue:
        """A catalogue of these packs and those of `others`; `PackError` where two different packs have one id."""
        return Catalogue(pack for catalogue in (self, *others) for pack in catalogue.packs)

    @property
    def packs(self) -> tuple[Pack, ...]:
        """The packs in the order they were given, each with its manifest, folder and parts."""
        return tuple(self._packs.values())

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a user should know about the packs themselves, such as figures without provenance."""
        return tuple(finding for pack in self.packs for finding in pack.findings)

    def pack(self, name: str) -> Manifest:
        """The manifest of the pack with this id; `UnknownNameError` where there is none."""
        if name not in self._packs:
            raise UnknownNameError(name, self._packs, what="pack", searched=self._searched())
        return self._packs[name].manifest

    def of(self, kind: str | type[Part]) -> list[str]:
        """The ids of one kind of part: crank, cylinder, piston, head, gasket or drawer, or a class such as `SpigotHead`."""
        if isinstance(kind, str):
            if kind not in KINDS_OF_PART:
                raise UnknownNameError(kind, KINDS_OF_PART, what="kind of part", searched=f"{', '.join(KINDS_OF_PART)}")
            return [name for name, part in self._parts.items() if kind_of_part(part) == kind]
        return [name for name, part in self._parts.items() if isinstance(part, kind)]

    def __getitem__(self, name: str) -> Part:
        try:
            return self._parts[name]
        except KeyError:
            raise UnknownNameError(name, self._parts, what="part", searched=self._searched()) from None

    # Mapping looks for KeyError, which an UnknownNameError is not
    def get(self, name: str, default: Any = None) -> Any:
        """The part with this id, or `default`."""
        return self._parts.get(name, default)

    def __contains__(self, name: object) -> bool:
        return name in self._parts

    def __iter__(self) -> Iterator[str]:
        return iter(self._parts)

    def __len__(self) -> int:
        return len(self._parts)

    def __repr__(self) -> str:
        packs = ", ".join(f"{pack}: {len(pack.parts)} parts" for pack in self.packs)
        return f"Catalogue({packs or 'no packs'})"

    def _searched(self) -> str:
        if not self._packs:
            return "a catalogue without packs"
        return f"{'pack' if len(self._packs) == 1 else 'packs'} {', '.join(f'{pack} ({pack.folder})' for pack in self.packs)}"


def _same_id(first: Pack, second: Pack) -> PackError:
    path = second.folder / MANIFEST
    file = read_toml(path, PackError)
    message = f"is {second.id!r}, the id of the pack in {first.folder / MANIFEST} too; ids must differ, so load one of the two"
    return PackError(str(path), [Problem("id", message, file.line("id"))])
