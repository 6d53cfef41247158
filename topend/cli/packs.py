"""``topend packs ...``: data packs found, shown, checked and begun. `docs/command-line.md` tells what each prints."""

import json
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from topend.cli.options import AsJson, Beside, example
from topend.cli.printing import ascii_only, on_terminal, show, show_list

if TYPE_CHECKING:
    from topend.packs import Catalogue, Pack

__all__ = ["add"]

#: `packs check` found a promise that is not kept.
UNKEPT: Final = 1


def add(to: typer.Typer) -> None:
    """Add the commands to an app."""
    app = typer.Typer(
        help="Data packs: list, show, check, begin one.",
        epilog=example("topend packs list --packs datapacks/fellside"),
        no_args_is_help=True,
        rich_markup_mode=None,
    )
    to.add_typer(app, name="packs")

    def print_json(made: Any) -> None:
        show(json.dumps(made, indent=2, ensure_ascii=ascii_only()))

    @app.command("list", epilog=example("topend packs list --packs datapacks/fellside"))
    def list_packs(packs: Beside = None, json: AsJson = False) -> None:
        """List the packs that are found, and what cannot be used.

        Looked at are given folders, folders in TOPEND_PACKS, and installed packs. What cannot be used is listed below, with
        file, line and key.
        """
        catalogue = _catalogue(packs)
        if json:
            print_json({"packs": [_pack_row(pack) for pack in catalogue.packs], "problems": list(map(str, catalogue.problems))})
        elif on_terminal():
            rows = [
                (f"{row['id']} {row['version']}", str(row["parts"]), row["title"], row["found"], row["folder"])
                for row in map(_pack_row, catalogue.packs)
            ]
            show_list("Packs", ("pack", "parts", "title", "found", "folder"), rows, right=[1])
            show(_listing(catalogue, rows=not rows))
        else:
            show(_listing(catalogue))

    @app.command("show", epilog=example("topend packs show fellside/rigg50-barrel --packs datapacks/fellside"))
    def show_id(
        name: Annotated[str, typer.Argument(metavar="ID", help="A pack, or a part as pack/part.", show_default=False)],
        packs: Beside = None,
        json: AsJson = False,
    ) -> None:
        """Show a pack or a part.

        What it says, where it is from and, of a cylinder, what goes on it.
        """
        catalogue = _catalogue(packs)
        made = _part_shown(catalogue, name) if "/" in name else _pack_shown(catalogue, name)
        if json:
            print_json(made)
        else:
            show(_part_text(made) if "/" in name else _pack_text(made))

    @app.command(epilog=example("topend packs kit ashgill/beck60-top-end ashgill/beck60-barrel --packs datapacks/ashgill"))
    def kit(
        kit: Annotated[str, typer.Argument(metavar="KIT", help="The kit, as pack/part.", show_default=False)],
        cylinder: Annotated[str, typer.Argument(metavar="CYLINDER", help="The cylinder it is for, as pack/part.", show_default=False)],
        head: Annotated[
            str | None, typer.Option(metavar="ID", help="The head that stays, where the kit brings none.", show_default=False)
        ] = None,
        packs: Beside = None,
        json: AsJson = False,
    ) -> None:
        """Check a kit against a cylinder.

        What is missing, surplus or does not fit, and the steps of preparing what is in it. That a kit is not complete is an answer
        too: it exits with 0.
        """
        from topend.checks.kit import kit_check
        from topend.parts import Cylinder, FlushHead, Kit, SpigotHead
        from topend.report.kit import KitReport

        catalogue = _catalogue(packs)
        made = KitReport(
            kit_check(
                _of(catalogue, kit, Kit, "a kit"),
                _of(catalogue, cylinder, Cylinder, "a cylinder"),
                head=None if head is None else _of(catalogue, head, (FlushHead, SpigotHead), "a head"),
            )
        )
        show(made.json(ascii_only=ascii_only()) if json else made.text)

    @app.command(epilog=example("topend packs check datapacks/fellside"))
    def check(
        folder: Annotated[str, typer.Argument(metavar="FOLDER", help="The pack's folder.", show_default=False)], json: AsJson = False
    ) -> None:
        """Check a pack as its users' tools will.

        That it reads, says where it is from, and keeps to its measured cases. Exits with 1 where it does not.
        """
        from topend.packs.testing import conformance, pack_in

        pack = pack_in(folder)
        checks = [(one.name, one.trouble()) for one in conformance(pack)]
        kept = all(trouble is None for _, trouble in checks)
        digest = pack.digest if pack.problem is None else None
        if json:
            listed = [{"check": name, "kept": trouble is None, "trouble": trouble} for name, trouble in checks]
            print_json({"pack": pack.id, "version": pack.version, "digest": digest, "kept": kept, "checks": listed})
        else:
            lines = [f"{pack} ({pack.folder})"]
            for name, trouble in checks:
                lines.append(f"  {'kept    ' if trouble is None else 'NOT KEPT'}  {name}")
                lines += [f"            {line}" for line in (trouble or "").splitlines()]
            if digest is not None:
                lines.append(f"  sha256 {digest}")
            show("\n".join(lines))
        if not kept:
            raise typer.Exit(UNKEPT)

    @app.command(epilog=example("topend packs new my-workshop --package"))
    def new(
        folder: Annotated[str, typer.Argument(metavar="FOLDER", help="Where; its name becomes the pack's id.", show_default=False)],
        package: Annotated[bool, typer.Option("--package", help="Make a package around it that can be published.")] = False,
    ) -> None:
        """Begin a new pack: a folder with an example family in it.

        The example is to be replaced figure by figure.
        """
        from topend.packs.scaffold import new_pack

        show("\n".join(["made:", *(f"  {path}" for path in new_pack(folder, package=package))]))

    @app.command(epilog=example("topend packs schema > pack-schema.json"))
    def schema() -> None:
        """Print the JSON Schema of the pack format, for editors."""
        from topend.packs.schema import pack_schema

        print_json(pack_schema())


def _catalogue(folders: Iterable[str] | None) -> "Catalogue":
    from topend.packs import Catalogue

    return Catalogue.discover(*(folders or ()))


def _of(catalogue: "Catalogue", name: str, classes: Any, what: str) -> Any:
    """The part of that id, which must be of that kind."""
    from topend.errors import PackError, Problem
    from topend.packs.folder import kind_of_part

    part = catalogue[name]
    if not isinstance(part, classes):
        raise PackError(name, [Problem("", f"is a {kind_of_part(part)}; here goes {what}")])
    return part


def _pack_row(pack: "Pack") -> dict[str, Any]:
    told = {"id": pack.id, "version": pack.version, "title": pack.manifest.title, "licence": pack.manifest.licence}
    return {**told, "parts": len(pack.names), "found": pack.found, "folder": str(pack.folder)}


def _listing(catalogue: "Catalogue", *, rows: bool = True) -> str:
    """The packs, unless `rows` is false, and what cannot be used."""
    problems = catalogue.problems
    listed = [_pack_row(pack) for pack in catalogue.packs] if rows else []
    width = max((len(f"{row['id']} {row['version']}") for row in listed), default=0)
    lines = []
    for row in listed:
        lines.append(f"{row['id'] + ' ' + row['version']:<{width}}  {row['parts']:>5} parts  {row['title']}")
        lines.append(f"{'':<{width}}  {row['found']}: {row['folder']}")
    if rows and not listed:
        lines.append("no packs found; give a folder with --packs, name folders in TOPEND_PACKS, or install a pack")
    if problems:
        lines += ["", "cannot be used:", *(f"  {line}" for error in problems for line in str(error).splitlines())]
    return "\n".join(lines)


def _pack_shown(catalogue: "Catalogue", name: str) -> dict[str, Any]:
    catalogue.pack(name)
    (pack,) = (pack for pack in catalogue.packs if pack.id == name)
    if pack.problem is not None:
        raise pack.problem
    kinds: dict[str, list[str]] = {}
    for part, kind in pack.names.items():
        kinds.setdefault(kind, []).append(f"{pack.id}/{part}")
    return {
        **_pack_row(pack),
        "digest": pack.digest,
        "summary": pack.manifest.summary,
        "maintainers": list(pack.manifest.maintainers),
        "source": [source.model_dump(exclude_none=True) for source in pack.manifest.source],
        "findings": [finding.message for finding in pack.findings],
        "holds": kinds,
    }


def _pack_text(made: dict[str, Any]) -> str:
    lines = [f"{made['id']} {made['version']}: {made['title']}", *(made["summary"] or "").strip().splitlines(), ""]
    lines += [f"licence      {made['licence'] or 'not said'}", f"maintainers  {', '.join(made['maintainers']) or 'not said'}"]
    lines += [f"source       {one['kind']}: {one['title']}{', ' + one['locator'] if 'locator' in one else ''}" for one in made["source"]]
    lines += [f"found        {made['found']}: {made['folder']}", f"sha256       {made['digest']}"]
    lines += [f"note         {message}" for message in made["findings"]]
    for kind, names in made["holds"].items():
        lines += ["", f"{kind} ({len(names)})", *(f"  {name}" for name in names)]
    return "\n".join(lines)


def _part_shown(catalogue: "Catalogue", name: str) -> dict[str, Any]:
    from topend.packs.folder import kind_of_part
    from topend.parts import Cylinder

    part = catalogue[name]
    (provenance,) = (one for one in part.provenance if one.part == name)
    made: dict[str, Any] = {
        "id": name,
        "kind": kind_of_part(part),
        "pack": {"id": provenance.pack, "version": provenance.version, "digest": provenance.digest},
        "part": part.model_dump(mode="json", exclude_none=True),
        "origins": {path: {"basis": origin.basis, "source": origin.source} for path, origin in part.origins.items()},
    }
    if isinstance(part, Cylinder):
        fitting = catalogue.fitting(part)
        made["fitting"] = {
            "fits": {one: list(fitting.candidates[one].unknown) for one in fitting.fits()},
            "misfits": {one.id: [str(misfit) for misfit in one.misfits] for one in fitting.misfits},
            "undecided": {one.id: list(one.unknown) for one in fitting.undecided},
            "not_judged": [str(error) for error in catalogue.problems],
        }
    return made


def _part_text(made: dict[str, Any]) -> str:
    from topend.report.layout import paragraph

    pack = made["pack"]
    lines = [f"{made['id']} ({made['kind']}), of {pack['id']} {pack['version']}, sha256 {pack['digest'][:12]}", ""]
    rows = list(_rows(made["part"], ""))
    width = max(len(path) for path, _ in rows)
    for path, value in rows:
        origin = made["origins"].get(path)
        rests = ", ".join(filter(None, (origin["basis"], origin["source"]))) if origin else ""
        lines += paragraph(f"{value}{f' ({rests})' if rests else ''}", first=f"{path:<{width}}  ")
    if "fitting" in made:
        fitting = made["fitting"]
        lines += ["", "goes on it, by the dimensions that are known:"]
        lines += [line for name, why in fitting["fits"].items() for line in _judged(name, why)] or ["  nothing"]
        for title, listed in (("does not:", fitting["misfits"]), ("cannot be told:", fitting["undecided"])):
            if listed:
                each = [paragraph(f"{name}: {'; '.join(why)}", first="  ", rest=_AFTER) for name, why in listed.items()]
                lines += ["", title, *(line for some in each for line in some)]
        if fitting["not_judged"]:
            lines += [
                "",
                "not judged, as their packs cannot be used:",
                *(f"  {line}" for told in fitting["not_judged"] for line in told.splitlines()),
            ]
    return "\n".join(lines)


def _rows(value: Any, path: str) -> Iterable[tuple[str, Any]]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _rows(item, f"{path}.{key}" if path else key)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield from _rows(item, f"{path}.{index}")
    else:
        yield path, value


#: Before what goes on of a part that is told of.
_AFTER: Final = " " * 6


def _judged(name: str, unknown: list[str]) -> list[str]:
    from topend.report.layout import paragraph

    return paragraph(f"{name} (not judged: {'; '.join(unknown)})" if unknown else name, first="  ", rest=_AFTER)
