"""Packs in installed distributions, found through the entry point group `topend` without running any of their code.

An entry point's name is the pack's id. Its value is the package that holds pack.toml, or, for a pack with code, the module
in that package that answers hooks::

    [project.entry-points.topend]
    mypack = "mypack_parts"           # data only: never imported
    yours = "yours_parts.hooks"       # yours_parts holds pack.toml; yours_parts.hooks is imported when first needed
"""

from __future__ import annotations

import importlib.metadata
import importlib.util
import json
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import unquote, urlparse

from topend.errors import PackError, Problem
from topend.packs.folder import MANIFEST, Pack, open_folder
from topend.packs.plugin import Plugin

__all__ = ["GROUP", "installed_packs"]

GROUP = "topend"
_MODULE = re.compile(r"[A-Za-z_]\w*(\.[A-Za-z_]\w*)*")


def installed_packs() -> Iterator[Pack | PackError]:
    """The packs of installed distributions, by id; in the place of one that cannot be used, why."""
    found: list[tuple[str, importlib.metadata.EntryPoint, importlib.metadata.Distribution]] = []
    seen: set[str] = set()
    for distribution in importlib.metadata.distributions(path=_path()):
        # most have none, and their names are slow to read
        points = [point for point in distribution.entry_points if point.group == GROUP]
        if not points:
            continue
        name = re.sub(r"[-_.]+", "-", distribution.metadata["Name"] or "").lower()
        # as Python itself does: the first on the path is the one that is imported
        if name not in seen:
            seen.add(name)
            found += [(point.name, point, distribution) for point in points]
    for _, point, distribution in sorted(found, key=lambda entry: (entry[0], entry[1].value)):
        try:
            yield _pack(point, distribution)
        except PackError as error:
            yield error


def _path() -> list[str]:
    """Where modules are looked for, without the working folder: a project that lies there has not been installed."""
    here = os.path.realpath(os.getcwd())
    return [entry for entry in sys.path if entry and os.path.realpath(entry) != here]


def _pack(point: importlib.metadata.EntryPoint, distribution: importlib.metadata.Distribution) -> Pack:
    told = f"{distribution.metadata['Name']} {distribution.version}"
    shown = f"pack {point.name} ({told})"
    if not _MODULE.fullmatch(point.value):
        raise PackError(shown, [Problem("entry point", f"must name a package, or a module in one; got {point.value[:80]!r}")])
    package, _, rest = point.value.partition(".")
    folder = _folder(package, distribution)
    if folder is None:
        message = f"names {package}, but the distribution has no folder of that name with a {MANIFEST} in it"
        raise PackError(shown, [Problem("entry point", message)])
    plugin = Plugin(point.name, point.value, told, folder) if rest else None
    pack = open_folder(folder, found=f"installed: {told}", plugin=plugin)
    if pack.id != point.name:
        raise PackError(str(folder / MANIFEST), [Problem("id", f"is {pack.id!r}, but the entry point of {told} is named {point.name!r}")])
    return pack


def _folder(package: str, distribution: importlib.metadata.Distribution) -> Path | None:
    """The package's folder: beside the distribution's metadata or, installed for editing, in its sources."""
    installed = Path(str(distribution.locate_file(package)))
    if (installed / MANIFEST).is_file():
        return installed
    sources = _sources(distribution)
    if sources is None:
        return None
    try:
        # for a name without a point this imports nothing
        spec = importlib.util.find_spec(package)
    except (ImportError, ValueError):
        return None
    for place in (spec.submodule_search_locations or ()) if spec is not None else ():
        folder = Path(place)
        # only in the distribution's own sources: a folder of that name in the working folder does not count
        if (folder / MANIFEST).is_file() and Path(os.path.realpath(folder)).is_relative_to(os.path.realpath(sources)):
            return folder
    return None


def _sources(distribution: importlib.metadata.Distribution) -> Path | None:
    """Where the sources of a distribution lie that was installed for editing (direct_url.json, PEP 610)."""
    try:
        told = json.loads(distribution.read_text("direct_url.json") or "{}")
        if not told.get("dir_info", {}).get("editable"):
            return None
        return Path(unquote(urlparse(told["url"]).path))
    except (ValueError, KeyError, AttributeError, TypeError):
        return None
