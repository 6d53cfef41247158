"""The hooks that a pack's code may answer, and the records it answers with. Each takes nothing and yields records.

A hook is answered by a function of its name, marked with `hookimpl`, in the module that the pack's entry point names. See
docs/packs.md for each with an example.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import pluggy

from topend.parts import Part
from topend.quantities import ExtraFinding, ExtraOutput

__all__ = ["HOOKS", "BuiltPart", "FileReader", "Hooks", "hookimpl"]

#: The name of the project to pluggy, and of the entry point group.
PROJECT: Final = "topend"

hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@dataclass(frozen=True, slots=True)
class BuiltPart:
    """A part built by code: its name within the pack, which pack.toml lists under ``built``, and the part.

    >>> from topend.parts import FlushHead
    >>> BuiltPart("flush-10", FlushHead(chamber_volume="4.2 cc")).name
    'flush-10'
    """

    name: str
    part: Part


@dataclass(frozen=True, slots=True)
class FileReader:
    """A reader of part files in a format of its own: the suffix it reads, what that is, and how it is read.

    `read` takes the text of a file and returns tables as a TOML part file has them: ``{kind: {name: {field: value}}}``.

    >>> FileReader(".bench", "bench sheets", lambda text: {"gasket": {}}).suffix
    '.bench'
    """

    suffix: str
    title: str
    read: Callable[[str], Mapping[str, Mapping[str, Mapping[str, Any]]]]


class Hooks:
    """The hooks, with the records that each yields."""

    @hookspec
    def topend_parts(self) -> Iterable[BuiltPart]:  # type: ignore[empty-body]
        """Parts built by code."""

    @hookspec
    def topend_findings(self) -> Iterable[ExtraFinding]:  # type: ignore[empty-body]
        """Extra findings, for `top.with_findings(catalogue.extra_findings)`."""

    @hookspec
    def topend_outputs(self) -> Iterable[ExtraOutput]:  # type: ignore[empty-body]
        """Extra outputs, for `top.with_outputs(catalogue.extra_outputs)`."""

    @hookspec
    def topend_readers(self) -> Iterable[FileReader]:  # type: ignore[empty-body]
        """Readers of part files in other formats, for `catalogue.read(file)`."""


#: The type of record that each hook yields.
HOOKS: Final[dict[str, type]] = {
    "topend_parts": BuiltPart,
    "topend_findings": ExtraFinding,
    "topend_outputs": ExtraOutput,
    "topend_readers": FileReader,
}
