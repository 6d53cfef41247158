"""``topend compare``: heads side by side on the barrel of a job."""

from typing import Annotated

import typer

from topend.cli.options import AsJson, JobFile, example, file_to_write
from topend.cli.printing import ascii_only, show
from topend.cli.progress import working
from topend.cli.whose import whose
from topend.errors import FitError

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend compare docs/examples/compare.toml --picture heads.svg"))
    def compare(
        job: JobFile,
        json: AsJson = False,
        picture: Annotated[
            str | None,
            typer.Option(
                metavar="FILE",
                help="Draw it into a file too: .png, .svg or .pdf (extra 'plot').",
                show_default=False,
                callback=file_to_write,
            ),
        ] = None,
    ) -> None:
        """Compare heads on one barrel over gap and speed.

        They are ranked on stated aims. Heads, gaps, speeds and aims are those of the job's [compare].
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report.comparing import CompareReport
        from topend.solve.compare import compare as compared

        read = load_job(job, Catalogue.discover())
        asked = read.compare
        if asked is None:
            raise FitError(f"{read.file}: has no [compare] table, so there are no heads to compare; see docs/comparing.md")
        try:
            with working("comparing"):
                found = compared(read.top, **asked.arguments())
        except FitError as error:
            raise FitError(f"{read.file}: {error}") from None
        made = CompareReport(
            found,
            at_least=asked.at_least,
            at_most=asked.at_most,
            **whose(read),
        )
        written = None
        if picture is not None:
            from topend.report.pictures import write_picture
            from topend.report.pictures.comparing import heads_compared

            written = write_picture(heads_compared(found), picture)
        show(made.json(ascii_only=ascii_only()) if json else made.text)
        if written is not None and not json:
            show(f"\nwritten: {written}")
