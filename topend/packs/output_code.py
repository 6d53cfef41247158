"""The code of outputs that packs add, told apart by pack and content, so that it can go to other processes as its name alone."""

from __future__ import annotations

import functools
import platform
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from topend.errors import PackError, Problem
from topend.packs.folder import Pack
from topend.quantities import ExtraOutput

__all__ = ["PackWork", "outputs_of_pack"]


def outputs_of_pack(pack: Pack) -> tuple[ExtraOutput, ...]:
    """The outputs that `pack` adds, by name. Runs its code, where it has any."""
    if pack.plugin is None:
        return ()
    found = pack.plugin.outputs()
    # what a pack says is read only where it adds something
    return tuple(
        replace(one, digest=pack.digest, work=PackWork(pack.id, one.output.name, pack.digest, pack.plugin.distribution, one.work))
        for one in found
    )


@dataclass(frozen=True, slots=True)
class PackWork:
    """How an output of a pack is worked out: the function, and where it is from.

    To another process goes where it is from alone. There the pack must be installed with the same content; it is looked for when it is
    first needed, and `PackError` tells where it is not.
    """

    pack: str
    name: str
    digest: str
    distribution: str
    function: Callable[..., Any] | None = field(default=None, compare=False, repr=False)

    def __call__(self, *columns: Any) -> Any:
        return self.here()(*columns)

    def here(self) -> Callable[..., Any]:
        """The function, in this process."""
        return self.function if self.function is not None else _installed(self)

    def __reduce__(self) -> Any:
        return PackWork, (self.pack, self.name, self.digest, self.distribution)

    def __copy__(self) -> PackWork:
        return self

    def __deepcopy__(self, memo: Any) -> PackWork:
        return self


@functools.lru_cache(maxsize=256)
def _installed(wanted: PackWork) -> Callable[..., Any]:
    """The function of an output that another process named, from the pack that is installed here."""
    from topend.packs.installed import installed_packs

    told = f"pack {wanted.pack}, which adds the output {wanted.name}"
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
        return next(one.work for one in pack.plugin.outputs() if one.output.name == wanted.name)
    raise PackError(told, [Problem("", f"is not installed {where}; install {wanted.distribution} there")])
