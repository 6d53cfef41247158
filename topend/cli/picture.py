"""``topend picture``: a picture of a job, written to a file."""

from collections.abc import Iterator
from typing import Annotated

import typer

from topend.cli.options import JobFile, example, file_to_write
from topend.cli.printing import show

__all__ = ["add"]


def _pictures(incomplete: str) -> Iterator[str]:
    """Names of pictures to complete what was begun."""
    from topend.report.pictures import PICTURES

    return (name for name in PICTURES if name.startswith(incomplete))


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend picture docs/examples/fell50.toml", "clearance_over_speed --to speed.svg"))
    def picture(
        job: JobFile,
        name: Annotated[
            str | None,
            typer.Argument(
                metavar="NAME",
                help="Which picture; not given: their names are printed, with what each shows.",
                show_default=False,
                autocompletion=_pictures,
            ),
        ] = None,
        to: Annotated[
            str | None,
            typer.Option(
                metavar="FILE", help="Where to; .png, .svg or .pdf. Not given: NAME.svg.", show_default=False, callback=file_to_write
            ),
        ] = None,
    ) -> None:
        """Draw a picture of a job into a file.

        Gap over radius, clearance over speed, squish velocity over angle, the closed cycle, port openings. Needs the extra 'plot'.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report.layout import labelled
        from topend.report.pictures import PICTURES, write_picture
        from topend.report.pictures import picture as drawn

        read = load_job(job, Catalogue.discover())
        if name is None:
            show("\n".join(labelled([(one.name, one.meaning) for one in PICTURES.values()], indent="")))
            return
        show(f"written: {write_picture(drawn(read.top, name), to if to is not None else f'{name}.svg')}")
