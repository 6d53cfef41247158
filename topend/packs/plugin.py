"""The code of one pack: imported when something of it is first asked for, asked through the hooks, and kept to itself.

Whatever a pack's code does wrong is told as a `PackError` that names the pack and the hook; no other pack is touched.
"""

from __future__ import annotations

import contextlib
import dataclasses
import functools
import hashlib
import importlib
import os
import weakref
from collections.abc import Iterable
from pathlib import Path
from types import ModuleType
from typing import Any, Final

import pluggy

from topend.errors import PackError, Problem, did_you_mean, fault_told
from topend.extra_findings import codes_of, trouble_with_judgement
from topend.extra_outputs import trouble_with
from topend.packs.hooks import HOOKS, PROJECT, BuiltPart, FileReader, Hooks
from topend.packs.manifest import bad_name
from topend.parts import Crank, Cylinder, FlushHead, Gasket, GasketSet, Part, Piston, SpigotHead
from topend.quantities import ExtraFinding, ExtraOutput

__all__ = ["Plugin"]

_BUILT = (Crank, Cylinder, Piston, FlushHead, SpigotHead, Gasket, GasketSet)
#: Of each module of a pack that this process imported, the code that lay in its folder then.
_AS_IMPORTED: Final[weakref.WeakKeyDictionary[ModuleType, str]] = weakref.WeakKeyDictionary()


class Plugin:
    """The module `module` that answers hooks for the pack `pack`, from the distribution `distribution`, in `folder`."""

    def __init__(self, pack: str, module: str, distribution: str, folder: Path) -> None:
        self.pack = pack
        self.module = module
        self.distribution = distribution
        self.folder = folder

    def code_files(self) -> list[str]:
        """The pack's own code, by path within its folder: it counts in the digest."""
        found = [path.relative_to(self.folder).as_posix() for path in sorted(self.folder.rglob("*.py"))]
        return [name for name in found if "__pycache__" not in name]

    def parts(self) -> dict[str, Part]:
        """The parts that the code builds, by name."""
        made: dict[str, Part] = {}
        for record in self._records("topend_parts"):
            assert isinstance(record, BuiltPart)
            if not isinstance(record.name, str) or (trouble := bad_name(record.name)) is not None:
                raise self._error("topend_parts", trouble if isinstance(record.name, str) else f"yields a part named {record.name!r}")
            if not isinstance(record.part, _BUILT):
                raise self._error("topend_parts", f"yields {record.name!r}, which is no part but a {type(record.part).__name__}")
            if record.name in made:
                raise self._error("topend_parts", f"yields two parts named {record.name!r}")
            made[record.name] = record.part
        return dict(sorted(made.items()))

    def outputs(self) -> tuple[ExtraOutput, ...]:
        """The outputs that the code adds, by name."""
        made: dict[str, ExtraOutput] = {}
        for record in self._records("topend_outputs"):
            assert isinstance(record, ExtraOutput)
            trouble = trouble_with(record)
            if trouble is not None:
                raise self._error("topend_outputs", f"yields {trouble}")
            name = record.output.name
            if name in made:
                raise self._error("topend_outputs", f"yields {name!r} twice")
            made[name] = dataclasses.replace(record, needs=tuple(record.needs), pack=self.pack)
        return tuple(made[name] for name in sorted(made))

    def findings(self) -> tuple[ExtraFinding, ...]:
        """The judgements that the code adds, by name."""
        made: dict[str, ExtraFinding] = {}
        codes: set[str] = set()
        for record in self._records("topend_findings"):
            assert isinstance(record, ExtraFinding)
            trouble = trouble_with_judgement(record)
            if trouble is not None:
                raise self._error("topend_findings", f"yields {trouble}")
            twice = [record.name] if record.name in made else [code for code in codes_of(record) if code in codes]
            if twice:
                raise self._error("topend_findings", f"yields {twice[0]!r} twice")
            codes.update(codes_of(record))
            made[record.name] = dataclasses.replace(record, codes=tuple(record.codes), pack=self.pack)
        return tuple(made[name] for name in sorted(made))

    def readers(self) -> tuple[FileReader, ...]:
        """The readers of part files that the code adds, by suffix."""
        made = list(self._records("topend_readers"))
        for record in made:
            if not isinstance(record.suffix, str) or not record.suffix.startswith(".") or record.suffix in (".toml", ".csv"):
                raise self._error(
                    "topend_readers", f"yields a reader of {record.suffix!r}; a suffix begins with a point, and is not .toml or .csv"
                )
        return tuple(sorted(made, key=lambda record: str(record.suffix)))

    def _error(self, where: str, message: str) -> PackError:
        return PackError(f"pack {self.pack} ({self.distribution})", [Problem(where, message)])

    @functools.cached_property
    def _manager(self) -> pluggy.PluginManager:
        # a manager for each pack: what one registers cannot reach another
        manager = pluggy.PluginManager(PROJECT)
        manager.add_hookspecs(Hooks)
        module = self._imported()
        for name, value in sorted(vars(module).items()):
            if not name.startswith("topend_") or not callable(value):
                continue
            if name not in HOOKS:
                raise self._error(f"{self.module}.{name}", f"answers no hook{did_you_mean(name, HOOKS)}; the hooks are {', '.join(HOOKS)}")
            if not hasattr(value, f"{PROJECT}_impl"):
                raise self._error(f"{self.module}.{name}", "is not marked; put @hookimpl over it (from topend.packs import hookimpl)")
        try:
            manager.register(module, name=self.pack)
            # marked functions whose names do not begin as hooks do
            manager.check_pending()
        except pluggy.PluginValidationError as fault:
            raise self._error(self.module, f"answers hooks in a way that they do not have: {' '.join(str(fault).split())}") from None
        return manager

    def _imported(self) -> ModuleType:
        now = self._code()
        try:
            module = importlib.import_module(self.module)
        except (Exception, SystemExit) as fault:
            raise self._error(self.module, f"cannot be imported: {fault_told(fault)}") from fault
        if not Path(os.path.realpath(module.__file__ or "")).is_relative_to(os.path.realpath(self.folder)):
            raise self._error(
                self.module, f"is imported from {module.__file__}, not from {self.folder}; another module of that name is in the way"
            )
        # the digest is of what lies there now, and must not vouch for what this process imported before
        if _AS_IMPORTED.setdefault(module, now) != now:
            raise self._error(self.module, "has changed since this process imported it; start the process anew")
        return module

    def _code(self) -> str:
        """What tells the pack's code, as it lies on disk, from that of another version."""
        made = hashlib.sha256()
        for name in self.code_files():
            with contextlib.suppress(OSError):
                made.update(f"{name}\0{hashlib.sha256((self.folder / name).read_bytes()).hexdigest()}".encode())
        return made.hexdigest()

    def _records(self, hook: str) -> list[Any]:
        caller = getattr(self._manager.hook, hook)
        try:
            made: list[Any] = []
            for answer in caller():
                if not isinstance(answer, Iterable):
                    raise TypeError(f"{type(answer).__name__} is not iterable; yield {HOOKS[hook].__name__} records")
                made += answer
        except (Exception, SystemExit) as fault:
            raise self._error(hook, f"fails: {fault_told(fault)}") from fault
        for record in made:
            if not isinstance(record, HOOKS[hook]):
                raise self._error(hook, f"yields a {type(record).__name__}; it must yield {HOOKS[hook].__name__} records")
        return made
