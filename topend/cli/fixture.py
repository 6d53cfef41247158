"""``topend fixture``: does one drilling plate fit several families, and where its pin holes land."""

from typing import Annotated

import typer

from topend.cli.options import AsJson, example, file_name, file_to_write
from topend.cli.printing import ascii_only, show

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend fixture docs/examples/fixture-fell.toml"))
    def fixture(
        plate: Annotated[
            str,
            typer.Argument(
                metavar="FIXTURE.toml", help="The file of the fixture and its families.", show_default=False, callback=file_name
            ),
        ],
        json: AsJson = False,
        draw: Annotated[
            str | None,
            typer.Option(
                metavar="FILE.svg",
                help="Draw the hole pattern of one family at 1:1 into a file.",
                show_default=False,
                callback=file_to_write,
            ),
        ] = None,
        family: Annotated[str | None, typer.Option(metavar="NAME", help="Which family to draw.", show_default=False)] = None,
        head: Annotated[bool, typer.Option("--head", help="Draw it for the head, seen on its gasket face.")] = False,
    ) -> None:
        """Check a drilling plate against families of barrels.

        Does its lip enter their bores and its slots go over their studs, with what play, and where do the pin holes land. That it
        fits none is an answer too: it exits with 0.
        """
        from topend.report.fixture import FixtureReport
        from topend.report.hole_pattern import write_hole_pattern
        from topend.solve.fixture_file import load_fixture

        if draw is None and (family is not None or head):
            raise typer.BadParameter("--family and --head say what to draw; give --draw FILE.svg too")
        read = load_fixture(plate)
        check = read.check()
        if draw is not None:
            show(f"written: {write_hole_pattern(check, draw, family, part='head' if head else 'cylinder')}")
            return
        made = FixtureReport(check, title=read.title, file=read.file)
        show(made.json(ascii_only=ascii_only()) if json else made.text)
