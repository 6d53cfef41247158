"""The parts of a job file: packs loaded, parts found by id or read as they stand, and the top end that they make."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any, Final, Literal

from topend.assembly import TopEnd
from topend.errors import AssemblyError, JobError, PartError, Problem, did_you_mean
from topend.extra_outputs import known_outputs
from topend.job.requests import PackUsed
from topend.packs import Catalogue
from topend.packs.folder import kind_of_part
from topend.packs.pack_code import CODE_OF
from topend.packs.toml_file import TomlFile
from topend.parts import Gasket, Part
from topend.parts.told import as_table, classes_in
from topend.quantities import OUTPUTS, ExtraFinding, ExtraOutput, Output
from topend.units import StatedQuantity

__all__ = ["FORMAT", "PartsReader", "short", "stand_in"]

#: The version of the job format that this library reads.
FORMAT: Final = 1
#: Places where a part may be given by its id, and of which kind it is there.
_SLOTS: Final = {
    "crank": "crank",
    "cylinder": "cylinder",
    "piston": "piston",
    "head": "head",
    "studs": "studs",
    "location": "location",
    "deck.crank": "crank",
    "deck.cylinder": "cylinder",
    "deck.piston": "piston",
}
_STACKS: Final[dict[str, Literal["base", "head"]]] = {"base_gaskets": "base", "head_gaskets": "head"}
#: Keys under which parts stand, in a job and in its sections.
_ID_KEYS: Final = frozenset({*(slot.rpartition(".")[2] for slot in _SLOTS), *_STACKS, "part", "gasket", "stock", "heads"})
#: What is a value of a part, or a word for one, and cannot be an id: "0.3 mm", "0.3mm".
_NO_ID: Final = re.compile(r"[^/\s]{0,60}\s[^/]{0,60}|[+-]?[0-9]{0,20}[.,][0-9]{1,20}[^/]{0,60}")


class PartsReader:
    """The parts in the tables of a file, by id or as they stand there, problems gathered as they are found."""

    def __init__(self, file: TomlFile, catalogue: Catalogue) -> None:
        self._path = Path(file.file)
        self._file = file
        self._catalogue = catalogue
        self._problems: list[Problem] = []
        self._packs_failed = False
        self._ids: dict[str, str] = {}
        #: what packs add to the job's own outputs and findings, whose code it takes in, and all outputs that may be named in it
        self._extra: tuple[ExtraOutput, ...] = ()
        self._judgements: tuple[ExtraFinding, ...] = ()
        self._taken_in: frozenset[str] = frozenset()
        self._known: Mapping[str, Output] = OUTPUTS
        #: the section that is being read, and where a top end stands in the file
        self._section = "fit"
        self._at = ""

    def _used(self) -> tuple[PackUsed, ...]:
        """The packs that a part came from."""
        used = {name.partition("/")[0] for name in self._ids.values()}
        return tuple(PackUsed(pack.id, pack.version, pack.digest) for pack in self._catalogue.packs if pack.id in used)

    def _refuse_other_format(self) -> None:
        other = self._file.other_format(FORMAT)
        if other is not None:
            raise JobError(self._file.file, [other])

    def _refuse(self, where: str, message: str) -> None:
        self._problems.append(self._file.problem(where, message))

    def _stop(self) -> None:
        if self._problems:
            raise JobError(self._file.file, sorted(self._problems, key=lambda p: p.line or 0))

    # --- packs and parts by id ---------------------------------------------------------------------------------------

    def _load_packs(self, folders: Any) -> None:
        if not isinstance(folders, list):
            self._packs_failed = True
            self._refuse("packs", f'must be a list of folders, such as ["../fellside"]; got {short(folders)}')
            return
        good = []
        for index, folder in enumerate(folders):
            where = f"packs.{index}"
            if not isinstance(folder, str) or "\0" in folder:
                self._refuse(where, f"must be a folder, as text; got {short(folder)}")
                continue
            path = self._path.parent / folder
            if not path.is_dir():
                self._refuse(where, f"is {folder!r}, but there is no folder {_plain(path)}; it counts from the job file's own folder")
            else:
                good.append(_plain(path))
        self._packs_failed = len(good) < len(folders)
        named = Catalogue.load(*good)
        for error in named.problems:
            raise error
        self._catalogue = self._catalogue.joined(named)

    def _take_in_code(self, table: Mapping[str, Any]) -> None:
        """Take in outputs and findings of packs that the job takes a part from, and of those it names for them. No other code is run."""
        named = table.get(CODE_OF, [])
        if not isinstance(named, list) or not all(isinstance(one, str) for one in named):
            self._refuse(CODE_OF, f'must be a list of packs by their ids, such as ["oxlip"]; got {short(named)}')
            named = []
        coded = [pack.id for pack in self._catalogue.packs if pack.plugin is not None]
        for index, one in enumerate(named):
            if one not in coded:
                self._refuse(f"{CODE_OF}.{index}", f"is {one!r}, {self._why_no_code(one, coded)}")
        used = {text.partition("/")[0] for text in _part_ids(table) if text in self._catalogue}
        taken = [one for one in coded if one in used or one in named]
        self._taken_in = frozenset(taken)
        self._extra, self._judgements = self._catalogue.outputs_of(*taken), self._catalogue.findings_of(*taken)
        self._known = known_outputs(self._extra)

    def _why_no_code(self, name: str, coded: list[str]) -> str:
        """Why the code of what is called `name` cannot be taken in; `coded` are the packs whose code can."""
        pack = next((one for one in self._catalogue.packs if one.id == name), None)
        if pack is None:
            own = name.partition("/")[0]
            near = f"; packs are named by their ids, such as {own}" if own in coded else did_you_mean(name, coded)
            return f"but no installed pack with code is called so{near}"
        if next(pack.folder.rglob("*.py"), None) is None:
            return "a pack without code, which adds nothing; take it out"
        return f"a pack in the folder {_plain(pack.folder)}, and a folder runs no code; install the distribution that it comes in"

    def _part(self, written: Any, kind: str, where: str) -> Any:
        """A part as written in the file: by id, by id with changes, or a table as it stands; None where it cannot be had."""
        if isinstance(written, str):
            return self._by_id(written, kind, where)
        if not isinstance(written, dict) or "part" not in written:
            return written
        at = f"{where}.part"
        if not isinstance(written["part"], str):
            self._refuse(at, f'must be a part\'s id, such as "pack/part"; got {short(written["part"])}')
            return None
        part = self._by_id(written["part"], kind, at, where)
        changes = {key: value for key, value in written.items() if key != "part"}
        if part is None or not changes:
            return part
        own = getattr(part, "kind", None)
        if own is not None and changes.get("kind", own) != own:
            self._refuse(f"{where}.kind", f"cannot be changed: {written['part']} is a {own} {kind}; name another part, or write it inline")
            return None
        if "name" not in changes and part.name == written["part"]:
            changes["name"] = f"{part.name}, changed"
        return _merged(part, changes)

    def _by_id(self, name: str, kind: str, where: str, place: str | None = None) -> Part | None:
        if self._packs_failed and name not in self._catalogue:
            return None  # it may be in the pack that is not there; that is told already
        part: Part | None = self._catalogue.get(name)
        if part is None and _NO_ID.fullmatch(name):
            said = f'is {name!r}, which is no part\'s id, such as "pack/part"'
            self._refuse(where, f"{said}; what is not of a pack is written with its fields{_fields_of(kind)}")
            return None
        if part is None:
            if not self._catalogue.packs:
                self._refuse(where, f'is {name!r}, but this job has no packs to look in; name their folders, as in packs = ["../fellside"]')
                return None
            packs = ", ".join(str(pack) for pack in self._catalogue.packs)
            near = did_you_mean(name, self._catalogue.of(kind) or self._catalogue)
            self._refuse(where, f"is {name!r}, but no part of {packs} is called so{near}")
            return None
        if kind_of_part(part) != kind:
            near = did_you_mean(name, self._catalogue.of(kind))
            self._refuse(where, f"is {name!r}, which is a {kind_of_part(part)}; here goes a {kind}{near}")
            return None
        self._ids[place or where] = name
        return part

    # --- the top end -------------------------------------------------------------------------------------------------

    def _top(self, fields: dict[str, Any]) -> TopEnd | None:
        fields = dict(fields)
        if isinstance(fields.get("deck"), dict):
            fields["deck"] = dict(fields["deck"])
        for slot, kind in _SLOTS.items():
            outer, _, inner = slot.rpartition(".")
            holder = fields if not outer else fields.get(outer)
            if isinstance(holder, dict) and inner in holder:
                part = self._part(holder[inner], kind, f"{self._at}{slot}")
                if part is None:
                    del holder[inner]
                else:
                    holder[inner] = part
        for stack, role in _STACKS.items():
            if isinstance(fields.get(stack), list):
                made = (self._part(item, "gasket", f"{self._at}{stack}.{index}") for index, item in enumerate(fields[stack]))
                fields[stack] = [stand_in(role) if part is None else part for part in made]
        try:
            top = TopEnd(**fields)
        except PartError as error:
            self._take(error, "", self._at)
        except AssemblyError as error:
            # what is missing may be what makes it go together, so other problems come first
            self._stop()
            raise AssemblyError(error.reason, f"{self._file.file}: {error}") from None
        else:
            self._trace(top)
            return top.with_outputs(self._extra).with_findings(self._judgements)
        return None

    def _trace(self, top: TopEnd) -> None:
        """Parts of a pack that the job changed keep the pack's name, marked as changed."""
        for place, name in self._ids.items():
            part: Any = top
            for step in place.removeprefix(self._at).split("."):
                part = part[int(step)] if step.isdigit() and isinstance(part, tuple) else getattr(part, step, None)
            if isinstance(part, Part) and not part.provenance:
                part.traced_to(self._catalogue[name])

    def _take(self, error: PartError, inside: str, outside: str) -> None:
        for problem in error.problems:
            self._refuse(f"{outside}{problem.where.removeprefix(inside)}", problem.message)


def _part_ids(value: Any, *, place: bool = False) -> Iterable[str]:
    """Every text in a table, however deep, that stands where a part's id goes: a title that reads like one takes in nobody's code."""
    if isinstance(value, str):
        if place:
            yield value
    elif isinstance(value, dict):
        for key, one in value.items():
            yield from _part_ids(one, place=key in _ID_KEYS)
    elif isinstance(value, list):
        for one in value:
            yield from _part_ids(one, place=place)


def _merged(part: Part, changes: Mapping[str, Any]) -> dict[str, Any]:
    """A part's fields with the changes of a job file; tables change the part they name, all else takes its place."""
    fields = part.given() | {name: getattr(part, name) for name in ("kind", "shape") if hasattr(part, name)}
    for key, value in changes.items():
        own = fields.get(key)
        other_shape = isinstance(value, dict) and "shape" in value and value["shape"] != getattr(own, "shape", None)
        fields[key] = _merged(own, value) if isinstance(own, Part) and isinstance(value, dict) and not other_shape else value
    return fields


def _fields_of(kind: str) -> str:
    """How a part of a kind is written in a job file, as the end of a sentence; nothing where the slot has no kind of its own."""
    slot = "head_gaskets" if kind == "gasket" else kind
    field = TopEnd.model_fields.get(slot)
    return "" if field is None else f", such as {as_table(classes_in(field), slot)}"


def stand_in(role: Literal["base", "head"]) -> Gasket:
    """In the place of a gasket that cannot be had, so that those after it keep their number."""
    return Gasket(role=role, thickness="1 mm")


def _plain(path: Path) -> Path:
    return Path(os.path.normpath(path))


def short(value: object) -> str:
    """What was written, in at most 60 characters, to be shown in a message.

    >>> short(["0.30 mm"])
    "['0.30 mm']"
    """
    text = value.text if isinstance(value, StatedQuantity) else repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
