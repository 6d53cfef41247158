"""The code of outputs and findings that packs add, told apart by pack and content, so that it goes to other processes as its name alone."""

from __future__ import annotations

import functools
import platform
import re
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

from topend.errors import PackError, Problem
from topend.packs.folder import Pack
from topend.quantities import ExtraFinding, ExtraOutput

__all__ = ["CODE_OF", "PackCode", "findings_of_pack", "outputs_of_pack", "who_may_add"]

#: The key of a job that takes in what the code of packs adds.
CODE_OF: Final = "code_of"
_MOST_CODE_FILES, _MOST_BYTES = 256, 2_000_000


def outputs_of_pack(pack: Pack) -> tuple[ExtraOutput, ...]:
    """The outputs that `pack` adds, by name. Runs its code, where it has any."""
    if pack.plugin is None:
        return ()
    found = pack.plugin.outputs()
    # what a pack says is read only where it adds something
    return tuple(
        replace(one, digest=pack.digest, work=PackCode(pack.id, "output", one.output.name, pack.digest, pack.plugin.distribution, one.work))
        for one in found
    )


def findings_of_pack(pack: Pack) -> tuple[ExtraFinding, ...]:
    """The judgements that `pack` adds, by name, with the outputs that they may go by. Runs its code, where it has any."""
    if pack.plugin is None:
        return ()
    found = pack.plugin.findings()
    outputs = outputs_of_pack(pack) if found else ()
    return tuple(
        replace(
            one,
            digest=pack.digest,
            outputs=outputs,
            judge=PackCode(pack.id, "finding", one.name, pack.digest, pack.plugin.distribution, one.judge),
        )
        for one in found
    )


@dataclass(frozen=True, slots=True)
class PackCode:
    """The function of an output or a finding of a pack, and where it is from.

    To another process goes where it is from alone. There the pack must be installed with the same content; it is looked for when it is
    first needed, and `PackError` tells where it is not.
    """

    pack: str
    what: Literal["output", "finding"]
    name: str
    digest: str
    distribution: str
    function: Callable[..., Any] | None = field(default=None, compare=False, repr=False)

    def __call__(self, *given: Any) -> Any:
        return self.here()(*given)

    def here(self) -> Callable[..., Any]:
        """The function, in this process."""
        return self.function if self.function is not None else _installed(self)

    def __reduce__(self) -> Any:
        return PackCode, (self.pack, self.what, self.name, self.digest, self.distribution)

    def __copy__(self) -> PackCode:
        return self

    def __deepcopy__(self, memo: Any) -> PackCode:
        return self


@functools.lru_cache(maxsize=256)
def _installed(wanted: PackCode) -> Callable[..., Any]:
    """The function of an output or a finding that another process named, from the pack that is installed here."""
    from topend.packs.installed import installed_packs

    told = f"pack {wanted.pack}, which adds the {wanted.what} {wanted.name}"
    where = f"on {platform.node() or 'this machine'}, where this is worked out"
    for pack in installed_packs():
        if not isinstance(pack, Pack) or pack.id != wanted.pack or pack.plugin is None:
            continue
        if pack.digest != wanted.digest:
            message = (
                f"is another one {where} ({pack.plugin.distribution}, sha256 {pack.digest[:12]}) than where it was asked for "
                f"({wanted.distribution}, sha256 {wanted.digest[:12]}); they must be the same"
            )
            raise PackError(told, [Problem("", message)])
        if wanted.what == "output":
            return next(one.work for one in pack.plugin.outputs() if one.output.name == wanted.name)
        return next(one.judge for one in pack.plugin.findings() if one.name == wanted.name)
    raise PackError(told, [Problem("", f"is not installed {where}; install {wanted.distribution} there")])


# --- whose name it may be, without running anything ------------------------------------------------------------------


def who_may_add(name: str, packs: Iterable[Pack]) -> str:
    """Of `packs`, those whose code has `name` as a text in it, and how a job takes them in, as the end of a sentence; "" where none has.

    The code is read and not run, so a name that it puts together is not found.
    """
    found = [pack for pack in packs if _has_text(pack, name)]
    coded = [pack.id for pack in found if pack.plugin is not None]
    told = ""
    if coded:
        have = "packs" if len(coded) > 1 else "pack"
        listed = ", ".join(f'"{one}"' for one in coded)
        told = f"; the code of {have} {', '.join(coded)} names it, which the job does not take in: {CODE_OF} = [{listed}] does"
    for pack in found:
        if pack.plugin is None:
            told += (
                f"; the code in {pack.folder} names it, and a folder runs none: install the distribution that pack {pack.id} comes in, "
                f'and take it in with {CODE_OF} = ["{pack.id}"]'
            )
    return told


def _has_text(pack: Pack, name: str) -> bool:
    written = re.compile(rf"""(["']){re.escape(name)}\1""")
    return bool(name) and any(written.search(text) for text in _code_texts(pack))


def _code_texts(pack: Pack) -> Iterator[str]:
    for path in sorted(pack.folder.rglob("*.py"))[:_MOST_CODE_FILES]:
        try:
            if path.is_file() and path.stat().st_size <= _MOST_BYTES:
                yield path.read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue
