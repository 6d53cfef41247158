"""Plan files: barrel families, the heads and gaskets on offer, and the window to plan a range for, in TOML.

The format is written down in docs/planning-a-range.md.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from topend.assembly import TopEnd
from topend.errors import JobError, PartError, Problem, did_you_mean
from topend.job.requests import Figure, PackUsed
from topend.job.sections import SectionsReader
from topend.packs import Catalogue
from topend.packs.csv_file import read_builds
from topend.packs.toml_file import read_toml
from topend.parts import Gasket, GasketSet
from topend.parts.head import FlushHead, SpigotHead

__all__ = ["FamilyRequest", "Plan", "PlanRequest", "load_plan"]

_OWN_KEYS: Final = ("format", "title", "packs", "plan", "families")
_PLAN_KEYS: Final = (
    *("coverage", "builds", "fresh", "seed", "time_limit", "base_count", "head_count", "least_gap", "gaskets"),
    *("targets", "at_most", "at_least"),
)
_FAMILY_KEYS: Final = ("name", "share", "heads", "gaskets", "past", "targets", "at_most", "at_least")
#: Parts of a top end that a family has; heads and gaskets are what is planned.
_PARTS: Final = tuple(name for name in TopEnd.model_fields if name not in ("head", "base_gaskets", "head_gaskets", "name", "assembled"))


@dataclass(frozen=True)
class FamilyRequest:
    """One family as a plan file gives it: the arguments of `Family`."""

    name: str
    top: TopEnd
    heads: tuple[FlushHead | SpigotHead, ...]
    share: float = 1.0
    past: Mapping[str, Any] | None = None
    gaskets: tuple[int, ...] | None = None
    targets: Mapping[str, tuple[Figure, Figure]] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)
    at_most: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The arguments of ``Family(**family.arguments())``."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


@dataclass(frozen=True)
class PlanRequest:
    """What [plan] asks: the arguments of `plan_range` but for families and gaskets."""

    coverage: float = 0.99
    builds: int = 5000
    fresh: int = 10_000
    seed: int = 1
    time_limit: float = 60.0
    base_count: tuple[int, int] = (1, 2)
    head_count: tuple[int, int] | None = None
    least_gap: str | None = "0.6 mm"
    targets: Mapping[str, tuple[Figure, Figure]] = field(default_factory=dict)
    at_most: Mapping[str, Figure] = field(default_factory=dict)
    at_least: Mapping[str, Figure] = field(default_factory=dict)

    def arguments(self) -> dict[str, Any]:
        """The keyword arguments of ``plan_range(families, gaskets, **plan.request.arguments())``."""
        made = {one.name: getattr(self, one.name) for one in fields(self) if one.name != "targets"}
        return {**made, **self.targets}


@dataclass(frozen=True)
class Plan:
    """A plan file as read; `packs` are those that a part came from."""

    file: str
    title: str
    families: tuple[FamilyRequest, ...]
    gaskets: tuple[Gasket, ...]
    request: PlanRequest
    packs: tuple[PackUsed, ...] = ()


def load_plan(path: str | os.PathLike[str], catalogue: Catalogue | None = None) -> Plan:
    """The plan in the file at `path`; parts by id as in a job file.

    Raises `JobError` with everything that is wrong in the file, each with its key and line; `PackError` for a pack that is broken.
    """
    return _PlanReader(read_toml(Path(path), JobError), catalogue or Catalogue()).plan()


def _other_kind(keys: set[str]) -> str | None:
    """What a file with these keys is instead of a plan file, in words."""
    if keys & set(TopEnd.model_fields):
        return "is a job file, not a plan file"
    return "is a file of readings, not a plan file" if "readings" in keys else None


class _PlanReader(SectionsReader):
    def plan(self) -> Plan:
        table = self._file.table
        self._refuse_other_format()
        if not {"plan", "families"} & set(table) and (found := _other_kind(set(table))):
            raise JobError(
                self._file.file, [Problem("", f"{found}; a plan file has [plan] and [[families]], see docs/planning-a-range.md")]
            )
        title = table.get("title", self._path.stem)
        if not isinstance(title, str):
            self._refuse("title", "must be a text")
        self._load_packs(table.get("packs", []))
        self._take_in_code(table)
        for key in table:
            if key not in _OWN_KEYS:
                self._refuse(key, f"is not a key of a plan file{did_you_mean(key, _OWN_KEYS)}; it may have {', '.join(_OWN_KEYS)}")
        request, gaskets = self._plan(table.get("plan", {}))
        families = self._families(table.get("families"))
        self._stop()
        return Plan(self._file.file, title, families, gaskets, request, self._used())

    def _plan(self, table: Any) -> tuple[PlanRequest, tuple[Gasket, ...]]:
        self._section = "plan"
        table = self._section_table(table, _PLAN_KEYS)
        given: dict[str, Any] = {}
        for key, kind, words in (
            ("coverage", float, "a share of the builds, such as 0.99"),
            ("builds", int, "a whole number"),
            ("fresh", int, "a whole number"),
            ("seed", int, "a whole number"),
            ("time_limit", float, "a number of seconds"),
        ):
            value = table.get(key)
            number = isinstance(value, int if kind is int else (int, float)) and not isinstance(value, bool)
            if value is not None and not number:
                self._refuse(f"plan.{key}", f"must be {words}; got {value!r}")
            elif value is not None:
                given[key] = value
        request = PlanRequest(
            **given,
            base_count=self._count(table, "base_count", (1, 2)) or (1, 2),
            head_count=self._count(table, "head_count", None),
            least_gap=self._least_gap(table.get("least_gap", "0.6 mm")),
            **self._wanted(table),
        )
        return request, self._offered(table.get("gaskets"))

    def _offered(self, written: Any) -> tuple[Gasket, ...]:
        if isinstance(written, str):
            drawer = self._by_id(written, "drawer", "plan.gaskets")
            return tuple(item.gasket for item in drawer.items) if isinstance(drawer, GasketSet) else ()
        if not isinstance(written, list) or not written:
            self._refuse("plan.gaskets", 'must be a drawer\'s id ("pack/part"), or [[plan.gaskets]], a table for each kind')
            return ()
        made = []
        for index, item in enumerate(written):
            where = f"plan.gaskets.{index}"
            part = self._part(item, "gasket", where)
            if isinstance(part, Gasket):
                made.append(part)
            elif isinstance(part, dict):
                try:
                    made.append(Gasket(**part))
                except PartError as error:
                    self._take(error, "", f"{where}.")
            elif part is not None:
                self._refuse(where, f"must be a gasket's id, or a table; got {item!r}")
        return tuple(made)

    def _families(self, written: Any) -> tuple[FamilyRequest, ...]:
        if not isinstance(written, list) or not written or not all(isinstance(one, dict) for one in written):
            self._refuse("families", "must be [[families]], a table for each family of barrels")
            return ()
        made = []
        for index, table in enumerate(written):
            self._section = f"families.{index}"
            self._at = f"{self._section}."
            known = (*_FAMILY_KEYS, *_PARTS)
            self._section_table(table, known)
            name, share = table.get("name", f"family {index + 1}"), table.get("share", 1.0)
            if not isinstance(name, str):
                self._refuse(f"{self._at}name", f"must be a text; got {name!r}")
            if isinstance(share, bool) or not isinstance(share, (int, float)):
                self._refuse(f"{self._at}share", f"must be a number, its weight against the other families; got {share!r}")
            heads = self._heads(table.get("heads"))
            past = self._past(table.get("past"))
            fits = table.get("gaskets")
            if fits is not None and not (isinstance(fits, list) and all(type(one) is int and one >= 0 for one in fits)):
                self._refuse(f"{self._at}gaskets", f"must be numbers of the gaskets that fit it, counted from 0; got {fits!r}")
                fits = None
            wanted = self._wanted(table)
            top = self._top({key: value for key, value in table.items() if key in _PARTS})
            if top is not None and heads is not None:
                made.append(FamilyRequest(name, top, heads, share, past, None if fits is None else tuple(fits), **wanted))
        self._at = ""
        return tuple(made)

    def _past(self, written: Any) -> Mapping[str, Any] | None:
        """Past builds by path: lists in the file itself, or the columns of a CSV beside it."""
        if written is None or (isinstance(written, dict) and all(isinstance(one, list) for one in written.values())):
            return written
        where = f"{self._at}past"
        if not isinstance(written, str):
            example = '"deck.clearance" = ["1.60 mm", "1.72 mm"]'
            self._refuse(where, f"must be lists of values by path, such as {example}, or the name of a .csv with a row a build")
            return None
        try:
            return read_builds(self._path.parent / written)
        except JobError as error:
            self._refuse(where, f"is {written!r}, which cannot be used: {error}")
            return None
