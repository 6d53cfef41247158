"""Job files: a top end in TOML, its parts inline or by catalogue id, and what is to be found for it.

The format is written down in docs/job-files.md.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final, Literal

from topend.assembly import TopEnd
from topend.errors import ArgumentError, AssemblyError, JobError, PartError, Problem, did_you_mean
from topend.extra_outputs import known_outputs
from topend.packs import Catalogue
from topend.packs.folder import kind_of_part
from topend.packs.pack_code import CODE_OF, who_may_add
from topend.packs.toml_file import TomlFile, read_toml
from topend.parts import Crank, Cutter, Gasket, GasketSet, Part, Piston
from topend.parts.head import FlushHead, SpigotHead
from topend.parts.told import as_table, classes_in
from topend.quantities import OUTPUTS, ExtraFinding, ExtraOutput, Output
from topend.units import KINDS, StatedQuantity, StatedValueError, figure_example, figure_si, stated

__all__ = ["FitRequest", "Job", "PackUsed", "load_job", "read_job"]

#: The version of the job format that this library reads.
FORMAT: Final = 1
Figure = float | str


@dataclass(frozen=True)
class PackUsed:
    """A pack that a job took a part from: its id, its version, and the SHA-256 of what it says."""

    id: str
    version: str
    digest: str = ""

    def __str__(self) -> str:
        return f"{self.id} {self.version}"

    @property
    def told(self) -> str:
        """The same with the beginning of the digest, as cards and answers show it."""
        return f"{self}, sha256 {self.digest[:12]}"


@dataclass(frozen=True)
class FitRequest:
    """What a job's [fit] asks: the arguments of `fit_gaskets`, figures as written in the file.

    `heads` None: the job's own head. `head_count` None: it follows from how each head seals. `least_gap` None: lifted.
    """

    stock: GasketSet
    heads: tuple[FlushHead | SpigotHead, ...] | None = None
    base_count: tuple[int, int] = (1, 3)
    head_count: tuple[int, int] | None = None
    least_gap: str | None = "0.6 mm"
    best: int = 10
    targets: Mapping[str, tuple[Figure, Figure]] = field(default_factory=dict)
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``fit_gaskets(job.top, **job.fit.arguments())``."""
        names = ("stock", "heads", "base_count", "head_count", "least_gap", "best", "at_most", "at_least")
        return {**{name: getattr(self, name) for name in names}, **self.targets}


@dataclass(frozen=True)
class CorrectRequest:
    """What a job's [correct] asks: the arguments of `correct`, figures as written in the file. `stock` None: the gaskets fitted stay."""

    allow: Mapping[str, Any]
    stock: GasketSet | None = None
    base_count: tuple[int, int] = (1, 3)
    head_count: tuple[int, int] | None = None
    least_gap: str | None = "0.6 mm"
    best: int = 5
    targets: Mapping[str, tuple[Figure, Figure]] = field(default_factory=dict)
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``correct(job.top, **job.correct.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class CompareRequest:
    """What a job's [compare] asks: the arguments of `compare`, figures as written in the file."""

    heads: tuple[FlushHead | SpigotHead, ...]
    aims: Mapping[str, Any]
    gaps: tuple[str, ...] | None = None
    speeds: tuple[str, ...] | None = None
    by: str = "base"
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``compare(job.top, **job.compare.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class DesignRequest:
    """What a job's [design] asks: the arguments of `design_head`, figures as written in the file."""

    targets: Mapping[str, Figure]
    free: tuple[str, ...] | None = None
    limits: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    cutter: Cutter | None = None
    spread: Figure | None = None

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``design_head(job.top, **job.design.arguments())``."""
        return {"free": self.free, "limits": self.limits, "cutter": self.cutter, "spread": self.spread, **self.targets}


@dataclass(frozen=True)
class SwapRequest:
    """What a job's [swap] asks: the arguments of `swap`, sizes as written in the file."""

    crank: Crank | None = None
    piston: Piston | None = None
    spacer: str | None = None
    spacer_window: str | None = None

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``swap(job.top, **job.swap.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class Job:
    """A job file as read.

    `ids` says which parts came from a catalogue, by their place in the file: ``{"cylinder": "fellside/rigg50", ...}``; a part
    that was changed in the job is there too. `packs` are those that a part came from.

    Made by `te.load_job`, whose example shows one.
    """

    file: str
    title: str
    top: TopEnd
    fit: FitRequest | None = None
    packs: tuple[PackUsed, ...] = ()
    ids: Mapping[str, str] = field(default_factory=dict)
    correct: CorrectRequest | None = None
    compare: CompareRequest | None = None
    design: DesignRequest | None = None
    swap: SwapRequest | None = None


def load_job(path: str | os.PathLike[str], catalogue: Catalogue | None = None) -> Job:
    """The job in the file at `path`.

    Parts named by id come from the packs whose folders the file names (relative to the file) and from `catalogue`. Raises
    `JobError` with everything that is wrong in the file, each with its key and line; `PackError` for a pack that is broken;
    `AssemblyError` where the parts do not go together.

    >>> import os, pathlib, tempfile
    >>> import topend as te
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "engine.toml")
    ...     length = file.write_text('format = 1' + os.linesep + 'crank = { stroke = "44 mm", rod_length = "90 mm" }')
    ...     job = te.load_job(file)
    >>> job.title, job.top.crank.stroke
    ('engine', <Quantity(44 mm)>)
    """
    if not isinstance(path, str | os.PathLike):
        raise ArgumentError(f"load_job: path must be the name of a file, such as 'my-job.toml'; got a {type(path).__name__}")
    return read_job(read_toml(Path(path), JobError), catalogue)


def read_job(file: TomlFile, catalogue: Catalogue | None = None) -> Job:
    """The job in the tables of `file`, as `load_job`; for those who keep more than a job in a file."""
    return Reader(file, catalogue or Catalogue()).job()


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
_OWN_KEYS: Final = ("format", "title", "packs", CODE_OF, "fit", "correct", "compare", "design", "swap")
_FIT_KEYS: Final = ("heads", "stock", "base_count", "head_count", "least_gap", "best", "targets", "at_most", "at_least")
_CORRECT_KEYS: Final = ("allow", "stock", "base_count", "head_count", "least_gap", "best", "targets", "at_most", "at_least")
_DESIGN_KEYS: Final = ("targets", "free", "limits", "cutter", "spread")
_SWAP_KEYS: Final = ("crank", "piston", "spacer", "spacer_window")
_COMPARE_KEYS: Final = ("heads", "gaps", "speeds", "by", "aims", "at_most", "at_least")


class Reader:
    """What stands in the tables of a job file, problems gathered as they are found."""

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

    def job(self) -> Job:
        table = self._file.table
        self._refuse_other_format()
        if "readings" in table and not set(table) & set(TopEnd.model_fields):
            said = (
                "is a file of readings, not a job file; work it out with `topend measure`, or name the job first, then it: `topend verify`"
            )
            raise JobError(self._file.file, [Problem("", said)])
        if {"plan", "families"} & set(table) and not set(table) & set(TopEnd.model_fields):
            raise JobError(self._file.file, [Problem("", "is a plan file, not a job file; work it out with `topend range`")])
        title = table.get("title", self._path.stem)
        if not isinstance(title, str):
            self._refuse("title", f"must be a text; got {_short(title)}")
        self._load_packs(table.get("packs", []))
        self._take_in_code(table)
        known = [*_OWN_KEYS, *TopEnd.model_fields]
        for key in table:
            if key == "outputs_of":
                self._refuse(key, f"is called {CODE_OF}: the findings of those packs come in with their outputs")
            elif key not in known:
                self._refuse(key, f"is not a key of a job file{did_you_mean(key, known) or '; it may have ' + ', '.join(known)}")
        fit = self._fit(table["fit"]) if "fit" in table else None
        corrections = self._correct(table["correct"]) if "correct" in table else None
        comparison = self._compare(table["compare"]) if "compare" in table else None
        design = self._design(table["design"]) if "design" in table else None
        swap = self._swap(table["swap"]) if "swap" in table else None
        top = self._top({key: value for key, value in table.items() if key in TopEnd.model_fields})
        self._stop()
        assert top is not None
        return Job(self._file.file, title, top, fit, self._used(), self._ids, corrections, comparison, design, swap)

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
            self._refuse("packs", f'must be a list of folders, such as ["../fellside"]; got {_short(folders)}')
            return
        good = []
        for index, folder in enumerate(folders):
            where = f"packs.{index}"
            if not isinstance(folder, str) or "\0" in folder:
                self._refuse(where, f"must be a folder, as text; got {_short(folder)}")
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
            self._refuse(CODE_OF, f'must be a list of packs by their ids, such as ["oxlip"]; got {_short(named)}')
            named = []
        coded = [pack.id for pack in self._catalogue.packs if pack.plugin is not None]
        for index, one in enumerate(named):
            if one not in coded:
                self._refuse(f"{CODE_OF}.{index}", f"is {one!r}, but no installed pack with code is called so{did_you_mean(one, coded)}")
        used = {text.partition("/")[0] for text in _texts(table) if text in self._catalogue}
        taken = [one for one in coded if one in used or one in named]
        self._taken_in = frozenset(taken)
        self._extra, self._judgements = self._catalogue.outputs_of(*taken), self._catalogue.findings_of(*taken)
        self._known = known_outputs(self._extra)

    def _part(self, written: Any, kind: str, where: str) -> Any:
        """A part as written in the file: by id, by id with changes, or a table as it stands; None where it cannot be had."""
        if isinstance(written, str):
            return self._by_id(written, kind, where)
        if not isinstance(written, dict) or "part" not in written:
            return written
        at = f"{where}.part"
        if not isinstance(written["part"], str):
            self._refuse(at, f'must be a part\'s id, such as "pack/part"; got {_short(written["part"])}')
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
                fields[stack] = [_stand_in(role) if part is None else part for part in made]
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

    # --- the fit section ---------------------------------------------------------------------------------------------

    def _fit(self, table: Any) -> FitRequest | None:
        if not isinstance(table, dict):
            self._refuse("fit", f"must be a table, [fit]; got {_short(table)}")
            return None
        for key in table:
            if key not in _FIT_KEYS:
                self._refuse(
                    f"{self._section}.{key}", f"is not a key of [fit]{did_you_mean(key, _FIT_KEYS)}; it may have {', '.join(_FIT_KEYS)}"
                )
        stock = self._stock(table)
        heads = self._heads(table["heads"]) if "heads" in table else None
        base_count = self._count(table, "base_count", (1, 3))
        head_count = self._count(table, "head_count", None)
        best = table.get("best", 10)
        if type(best) is not int or best < 1:
            self._refuse(f"{self._section}.best", f"must be a whole number from 1; got {_short(best)}")
        least_gap = self._least_gap(table.get("least_gap", "0.6 mm"))
        targets = {name: self._target(name, value) for name, value in self._named(table, "targets")}
        limits = {key: {name: value for name, value in self._named(table, key) if self._limit(key, name, value)} for key in _LIMITS}
        if stock is None or any(pair is None for pair in targets.values()):
            return None
        return FitRequest(
            stock=stock,
            heads=heads,
            base_count=base_count or (1, 3),
            head_count=head_count,
            least_gap=least_gap,
            best=best,
            targets={name: pair for name, pair in targets.items() if pair is not None},
            **limits,
        )

    def _section_table(self, table: Any, keys: tuple[str, ...]) -> Mapping[str, Any]:
        """The section that is read, as a table; nothing, and a problem, where it is none. Its keys are looked at."""
        if not isinstance(table, dict):
            self._refuse(self._section, f"must be a table, [{self._section}]; got {_short(table)}")
            return {}
        for key in table:
            if key not in keys:
                known = f"is not a key of [{self._section}]{did_you_mean(key, keys)}; it may have {', '.join(keys)}"
                self._refuse(f"{self._section}.{key}", known)
        return table

    def _wanted(self, table: Mapping[str, Any]) -> dict[str, Any]:
        """Targets and limits of a section."""
        pairs = {name: self._target(name, value) for name, value in self._named(table, "targets")}
        limits = {key: {name: value for name, value in self._named(table, key) if self._limit(key, name, value)} for key in _LIMITS}
        return {"targets": {name: pair for name, pair in pairs.items() if pair is not None}, **limits}

    def _correct(self, table: Any) -> CorrectRequest | None:
        self._section = "correct"
        table = self._section_table(table, _CORRECT_KEYS)
        allow = table.get("allow")
        if not isinstance(allow, dict) or not allow:
            example = 'deck_cut = ["0 mm", "0.8 mm"]'
            self._refuse("correct.allow", f"must be a table of what may be done, [correct.allow], such as {example}; got {_short(allow)}")
        best = table.get("best", 5)
        if type(best) is not int or best < 1:
            self._refuse("correct.best", f"must be a whole number from 1; got {_short(best)}")
        made = {
            "stock": self._stock(table) if "stock" in table else None,
            "base_count": self._count(table, "base_count", (1, 3)) or (1, 3),
            "head_count": self._count(table, "head_count", None),
            "least_gap": self._least_gap(table.get("least_gap", "0.6 mm")),
            **self._wanted(table),
        }
        return CorrectRequest(allow=allow if isinstance(allow, dict) else {}, best=best, **made)

    def _compare(self, table: Any) -> CompareRequest | None:
        self._section = "compare"
        table = self._section_table(table, _COMPARE_KEYS)
        heads = self._heads(table.get("heads"))
        aims = table.get("aims")
        if not isinstance(aims, dict) or not aims:
            example = 'squish_velocity_peak = ["20 m/s", "3 m/s"], running_clearance = "largest"'
            self._refuse("compare.aims", f"must be a table of what is wanted, [compare.aims], such as {example}; got {_short(aims)}")
            aims = {}
        gaps, speeds = (self._texts(table, key) for key in ("gaps", "speeds"))
        limits: dict[str, Any] = {
            key: {name: value for name, value in self._named(table, key) if self._limit(key, name, value)} for key in _LIMITS
        }
        aims = {name: tuple(value) if isinstance(value, list) else value for name, value in self._named({"aims": aims}, "aims")}
        return None if heads is None else CompareRequest(heads, aims, gaps, speeds, table.get("by", "base"), **limits)

    def _texts(self, table: Mapping[str, Any], key: str) -> tuple[str, ...] | None:
        given = table.get(key)
        if given is None:
            return None
        if not (isinstance(given, list) and given and all(isinstance(one, str) for one in given)):
            self._refuse(f"{self._section}.{key}", f"must be a list of texts with their units; got {_short(given)}")
            return None
        return tuple(given)

    def _swap(self, table: Any) -> SwapRequest | None:
        self._section = "swap"
        table = self._section_table(table, _SWAP_KEYS)
        if not table.keys() & {"crank", "piston"}:
            self._refuse("swap", "swaps nothing: give the new part as swap.crank, swap.piston, or both")
        made: dict[str, Any] = {}
        for kind, cls in (("crank", Crank), ("piston", Piston)):
            if kind not in table:
                continue
            where = f"swap.{kind}"
            part = self._part(table[kind], kind, where)
            if isinstance(part, dict):
                try:
                    part = cls(**part)
                except PartError as error:
                    self._take(error, "", f"{where}.")
                    part = None
            elif part is not None and not isinstance(part, cls):
                self._refuse(where, f"must be a {kind}: its id, or a table; got {_short(part)}")
                part = None
            made[kind] = part
        for key in ("spacer", "spacer_window"):
            if key in table and not isinstance(table[key], str):
                self._refuse(f"swap.{key}", f'must be a length as text, such as "1.0 mm"; got {_short(table[key])}')
            else:
                made[key] = table.get(key)
        return SwapRequest(**made)

    # --- the design section ------------------------------------------------------------------------------------------

    def _design(self, table: Any) -> DesignRequest | None:
        self._section = "design"
        if not isinstance(table, dict):
            self._refuse("design", f"must be a table, [design]; got {_short(table)}")
            return None
        for key in table:
            if key not in _DESIGN_KEYS:
                near = did_you_mean(key, _DESIGN_KEYS)
                self._refuse(f"design.{key}", f"is not a key of [design]{near}; it may have {', '.join(_DESIGN_KEYS)}")
        targets = {
            name: value for name, value in self._named(table, "targets") if self._figure(name, value, f"design.targets.{name}") is not None
        }
        free = table.get("free")
        paths = [free] if isinstance(free, str) else free
        if paths is not None and not (isinstance(paths, list) and paths and all(isinstance(path, str) for path in paths)):
            self._refuse(
                "design.free",
                f'must be the path of the dimension that moves, or a list of such, as "head.profile.depth"; got {_short(free)}',
            )
            paths = None
        limits = {}
        for path, ends in self._table(table, "limits").items():
            if isinstance(ends, list) and len(ends) == 2 and all(isinstance(end, str) for end in ends):
                limits[path] = (ends[0], ends[1])
            else:
                self._refuse(f"design.limits.{path}", f'must be the least and the most, such as ["5 mm", "14 mm"]; got {_short(ends)}')
        cutter = None
        if "cutter" in table:
            try:
                cutter = Cutter(**self._table(table, "cutter"))
            except PartError as error:
                self._take(error, "", "design.cutter.")
        ratio = next((name for name in targets if OUTPUTS[name].unit == "–"), None)
        spread = table.get("spread")
        if spread is not None and ratio is not None and self._figure(ratio, spread, "design.spread") is None:
            spread = None
        return DesignRequest(targets, None if paths is None else tuple(paths), limits, cutter, spread)

    def _table(self, table: Mapping[str, Any], key: str) -> dict[str, Any]:
        written = table.get(key, {})
        if not isinstance(written, dict):
            self._refuse(f"design.{key}", f"must be a table, [design.{key}]; got {_short(written)}")
            return {}
        return written

    def _heads(self, written: Any) -> tuple[FlushHead | SpigotHead, ...] | None:
        if not isinstance(written, list) or not written:
            self._refuse(f"{self._section}.heads", f'must be a list of heads, such as ["pack/part"]; got {_short(written)}')
            return None
        heads = []
        for index, item in enumerate(written):
            where = f"{self._section}.heads.{index}"
            part = self._part(item, "head", where)
            if part is None:
                continue
            try:
                head = TopEnd(head=part).head
            except PartError as error:
                self._take(error, "head", where)
            except AssemblyError as error:
                self._refuse(where, f"cannot be used: {error}")
            else:
                assert head is not None
                heads.append(head)
        return tuple(heads)

    def _stock(self, table: Mapping[str, Any]) -> GasketSet | None:
        if "stock" not in table:
            self._refuse(
                f"{self._section}.stock",
                f'is missing: the drawer of gaskets, by its id ("pack/part") or as [[{self._section}.stock.items]]',
            )
            return None
        written = table["stock"]
        if isinstance(written, str):
            part = self._by_id(written, "drawer", f"{self._section}.stock")
            return part if isinstance(part, GasketSet) else None
        if not isinstance(written, dict):
            self._refuse(f"{self._section}.stock", f"must be a drawer's id, or [[{self._section}.stock.items]]; got {_short(written)}")
            return None
        written = dict(written)
        if isinstance(written.get("items"), list):
            items = []
            for index, item in enumerate(written["items"]):
                if isinstance(item, dict) and "gasket" in item:
                    part = self._part(item["gasket"], "gasket", f"{self._section}.stock.items.{index}.gasket")
                    item = {**item, "gasket": _stand_in("base") if part is None else part}
                items.append(item)
            written["items"] = items
        try:
            return GasketSet(**written)
        except PartError as error:
            self._take(error, "", f"{self._section}.stock.")
            return None

    def _count(self, table: Mapping[str, Any], key: str, default: tuple[int, int] | None) -> tuple[int, int] | None:
        if key not in table:
            return default
        pair = table[key]
        if isinstance(pair, list) and len(pair) == 2 and all(type(number) is int for number in pair) and 0 <= pair[0] <= pair[1]:
            return pair[0], pair[1]
        self._refuse(f"{self._section}.{key}", f"must be the fewest and the most gaskets in that stack, such as [1, 3]; got {_short(pair)}")
        return default

    def _least_gap(self, value: Any) -> str | None:
        if value == "none":
            return None
        try:
            gap = stated(value, KINDS["length"])
        except StatedValueError as error:
            self._refuse(f"{self._section}.least_gap", f'{error}; or "none" to lift it on purpose')
            return None
        if gap.si <= 0.0:
            self._refuse(f"{self._section}.least_gap", f'must be more than 0 mm, or "none" to lift it on purpose; got {gap.text!r}')
        return gap.text

    def _named(self, table: Mapping[str, Any], key: str) -> Iterable[tuple[str, Any]]:
        """The entries of a table of outputs whose names are outputs."""
        written = table.get(key, {})
        if not isinstance(written, dict):
            self._refuse(f"{self._section}.{key}", f"must be a table of outputs, [{self._section}.{key}]; got {_short(written)}")
            return
        alone = _OF_THE_TABLE.get(self._section.partition(".")[0])
        known = self._known if alone is None else OUTPUTS
        for name, value in written.items():
            if name in known:
                yield name, value
            elif name in self._known:
                pack = next(one.pack for one in self._extra if one.output.name == name)
                self._refuse(f"{self._section}.{key}.{name}", f"is an output of pack {pack}, and not taken here: {alone}")
            else:
                # a section that takes none of packs is not helped by one
                may = "" if alone is not None else who_may_add(name, (one for one in self._catalogue.packs if one.id not in self._taken_in))
                self._refuse(
                    f"{self._section}.{key}.{name}", f"is not an output{did_you_mean(name, known)}; `topend names` lists them{may}"
                )

    def _target(self, name: str, value: Any) -> tuple[Figure, Figure] | None:
        where = f"{self._section}.targets.{name}"
        if not isinstance(value, list) or len(value) != 2:
            example = ", ".join(figure_example(self._known[name].unit))
            self._refuse(where, f"must be a value and its tolerance, such as [{example}]; got {_short(value)}")
            return None
        figures = [self._figure(name, figure, f"{where}.{index}") for index, figure in enumerate(value)]
        if figures[0] is None or figures[1] is None:
            return None
        if not figures[1] > 0.0:
            self._refuse(f"{where}.1", f"is the tolerance and must be more than 0; got {_short(value[1])}")
            return None
        return value[0], value[1]

    def _limit(self, key: str, name: str, value: Any) -> bool:
        return self._figure(name, value, f"{self._section}.{key}.{name}") is not None

    def _figure(self, name: str, value: Any, where: str) -> float | None:
        """The figure as a number, or None and a problem where it does not suit the output."""
        try:
            return figure_si(value, self._known[name].unit)
        except StatedValueError as error:
            self._refuse(where, str(error))
            return None


_LIMITS: Final = ("at_most", "at_least")


#: Sections whose targets are outputs of the table alone, and why.
_OF_THE_TABLE: Final = {
    "design": "a head is designed for outputs whose relation to its dimensions is known",
    "plan": "a range is planned for outputs whose relation to the gaskets is known",
    "families": "a range is planned for outputs whose relation to the gaskets is known",
}


def _texts(value: Any) -> Iterable[str]:
    """Every text in a table, however deep."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, (dict, list)):
        for one in value.values() if isinstance(value, dict) else value:
            yield from _texts(one)


def _merged(part: Part, changes: Mapping[str, Any]) -> dict[str, Any]:
    """A part's fields with the changes of a job file; tables change the part they name, all else takes its place."""
    fields = part.given() | {name: getattr(part, name) for name in ("kind", "shape") if hasattr(part, name)}
    for key, value in changes.items():
        own = fields.get(key)
        other_shape = isinstance(value, dict) and "shape" in value and value["shape"] != getattr(own, "shape", None)
        fields[key] = _merged(own, value) if isinstance(own, Part) and isinstance(value, dict) and not other_shape else value
    return fields


#: What is a value of a part, or a word for one, and cannot be an id: "0.3 mm", "0.3mm".
_NO_ID: Final = re.compile(r"[^/\s]{0,60}\s[^/]{0,60}|[+-]?[0-9]{0,20}[.,][0-9]{1,20}[^/]{0,60}")


def _fields_of(kind: str) -> str:
    """How a part of a kind is written in a job file, as the end of a sentence; nothing where the slot has no kind of its own."""
    slot = "head_gaskets" if kind == "gasket" else kind
    field = TopEnd.model_fields.get(slot)
    return "" if field is None else f", such as {as_table(classes_in(field), slot)}"


def _stand_in(role: Literal["base", "head"]) -> Gasket:
    """In the place of a gasket that cannot be had, so that those after it keep their number."""
    return Gasket(role=role, thickness="1 mm")


def _plain(path: Path) -> Path:
    return Path(os.path.normpath(path))


def _short(value: object) -> str:
    text = value.text if isinstance(value, StatedQuantity) else repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
