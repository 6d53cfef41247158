"""``topend doctor``: what is installed, which packs are found, and what is wrong with either."""

import importlib.metadata
import json as as_text
import os
import platform
import re
import sys
import tomllib
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import typer

from topend.cli.options import AsJson, Beside, example
from topend.cli.printing import ascii_only, on_terminal, show, show_list

__all__ = ["add"]

#: Something is wrong, and is told.
UNWELL: Final = 1
_LEAST_PYTHON: Final = (3, 11)
_REQUIREMENT: Final = re.compile(r"(?P<name>[\w.-]+)\s*(?:\[(?P<extras>[\w, -]*)\])?\s*(?:\(?>=\s*(?P<least>[\d.]+))?")
_EXTRA: Final = re.compile(r"""extra\s*==\s*["']([\w-]+)["']""")
#: Extras that serve those who work on the library, not those who use it.
_WORKSHOP: Final = {"test", "bench", "all"}


@dataclass(frozen=True)
class Package:
    """One package that the library or an extra needs, and what is there."""

    name: str
    least: str
    installed: str | None

    @property
    def trouble(self) -> str | None:
        """What is wrong with it; None where nothing is."""
        if self.installed is None:
            return "missing"
        if self.least and _numbers(self.installed) < _numbers(self.least):
            return f"older than {self.least}"
        return None


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend doctor --packs datapacks/fellside"))
    def doctor(packs: Beside = None, json: AsJson = False) -> None:
        """Tell versions, packs, extras, and what is wrong with them.

        Exits with 1 where something is wrong. Nothing is changed.
        """
        made = examined(packs or ())
        if json:
            show(as_text.dumps(made, indent=2, ensure_ascii=ascii_only()))
        else:
            _tell(made)
        if made["problems"]:
            raise typer.Exit(UNWELL)


def examined(folders: list[str] | tuple[str, ...] = ()) -> dict[str, Any]:
    """What is installed and found, and under ``problems`` what is wrong with it, each with what to do."""
    from topend import __version__
    from topend.errors import PackError
    from topend.packs import Catalogue
    from topend.packs.catalogue import ENVIRONMENT

    problems: list[str] = []
    if sys.version_info < _LEAST_PYTHON:
        problems.append(f"Python {platform.python_version()}: topend needs {'.'.join(map(str, _LEAST_PYTHON))} or newer")
    core, extras = _needed()
    for package in core:
        if package.trouble:
            problems.append(f"{package.name} {package.installed or ''}".rstrip() + f": {package.trouble}; pip install 'topend' again")
    for extra, members in extras.items():
        # an extra that nobody asked for is no trouble; one that is there by half, or too old, is
        old = [one for one in members if one.trouble and one.installed is not None]
        problems += [f"{one.name} {one.installed}: {one.trouble}; pip install --upgrade 'topend[{extra}]'" for one in old]
    try:
        catalogue = Catalogue.discover(*folders)
        refused = [str(error) for error in catalogue.problems]
    except PackError as error:
        catalogue, refused = Catalogue.discover(), [str(error)]
        refused += [str(one) for one in catalogue.problems]
    problems += refused
    if ascii_only():
        problems.append(
            f"the output takes {sys.stdout.encoding or 'no known encoding'}: signs such as ± are shown as ?; set PYTHONIOENCODING=utf-8"
        )
    return {
        "topend": __version__,
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "folder": str(Path(__file__).resolve().parent.parent),
        "packages": [{**asdict(one), "trouble": one.trouble} for one in core],
        "extras": {
            extra: {
                "complete": not any(one.trouble for one in members),
                "packages": [{**asdict(one), "trouble": one.trouble} for one in members],
            }
            for extra, members in extras.items()
        },
        "packs": [
            {"id": pack.id, "version": pack.version, "found": pack.found, "folder": str(pack.folder), "usable": pack.problem is None}
            for pack in catalogue.packs
        ],
        ENVIRONMENT: os.environ.get(ENVIRONMENT),
        "problems": problems,
    }


def _needed() -> tuple[list[Package], dict[str, list[Package]]]:
    """The packages of the core, and by extra those of each, with what is installed of them."""
    core: dict[str, str] = {}
    extras: dict[str, dict[str, str]] = {}
    for text in _requirements():
        told, _, marker = text.partition(";")
        found = _REQUIREMENT.match(told.strip())
        of = _EXTRA.search(marker)
        # `all` and `test` name other extras of the library itself
        if found is None or found["name"] == "topend" or (of is not None and of[1] in _WORKSHOP):
            continue
        (core if of is None else extras.setdefault(of[1], {}))[found["name"]] = found["least"] or ""
    return _packages(core), {extra: _packages(members) for extra, members in sorted(extras.items())}


def _requirements() -> list[str]:
    """What the installed distribution asks for; of a checkout that is not installed, what its pyproject.toml does."""
    project = Path(__file__).resolve().parent.parent.parent / "pyproject.toml"
    if project.is_file():
        # the checkout's own word: metadata beside it may be of an older installation
        told = tomllib.loads(project.read_text(encoding="utf-8"))["project"]
        extras = told.get("optional-dependencies", {})
        return [*told["dependencies"], *(f'{text}; extra == "{name}"' for name, members in extras.items() for text in members)]
    return importlib.metadata.requires("topend") or []


def _packages(wanted: dict[str, str]) -> list[Package]:
    return [Package(name, least, _installed(name)) for name, least in wanted.items()]


def _installed(name: str) -> str | None:
    try:
        return importlib.metadata.version(name)
    except importlib.metadata.PackageNotFoundError:
        return None


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in re.match(r"[\d.]*", version)[0].split(".") if part)  # type: ignore[index]


# --- as text ---------------------------------------------------------------------------------------------------------


def _tell(made: dict[str, Any]) -> None:
    from topend.report.layout import columns, heading, labelled, paragraph

    lines = [f"topend {made['topend']}, Python {made['python']}, {made['system']}", *paragraph(f"from {made['folder']}")]
    rows = [(one["name"], one["installed"] or "-", one["least"], one["trouble"] or "in order", "needed") for one in made["packages"]]
    for extra, told in made["extras"].items():
        rows += [(one["name"], one["installed"] or "-", one["least"], _state(one), f"extra {extra}") for one in told["packages"]]
    header = ("package", "installed", "at least", "state", "for")
    if on_terminal():
        show("\n".join(lines) + "\n")
        show_list("Packages", header, rows)
        lines = []
    else:
        lines += [*heading("Packages"), *columns([header, *rows], last=False)]
    lines += heading("Extras")
    lines += labelled((extra, _extra_told(extra, told)) for extra, told in made["extras"].items())
    lines += heading("Packs")
    packs = [(f"{pack['id']} {pack['version']}", f"{pack['found']}: {pack['folder']}") for pack in made["packs"]]
    lines += labelled(packs) or paragraph(
        "none found; give a folder with --packs, name folders in TOPEND_PACKS, or install a pack", first="  "
    )
    lines += heading("Problems")
    lines += [line for text in made["problems"] for line in paragraph(text, first="  ! ")] or ["  None found."]
    show("\n".join(lines).removeprefix("\n" if on_terminal() else ""))


def _state(one: dict[str, Any]) -> str:
    return str(one["trouble"] or "in order")


def _extra_told(extra: str, told: dict[str, Any]) -> str:
    if told["complete"]:
        return "complete"
    return f"not complete: {', '.join(one['name'] for one in told['packages'] if one['trouble'])}; pip install 'topend[{extra}]'"
