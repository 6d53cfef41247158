"""``topend measure``: readings worked out, and blank sheets for them."""

from typing import Annotated

import typer

from topend.cli.options import AsJson, example, file_name
from topend.cli.printing import ascii_only, show

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend measure docs/examples/readings-bench.toml"))
    def measure(
        readings: Annotated[
            str | None,
            typer.Argument(
                metavar="READINGS.toml",
                help="The file of readings; with --sheet or --questions a job file, for whose engine they are then.",
                show_default=False,
                callback=file_name,
            ),
        ] = None,
        json: AsJson = False,
        sheet: Annotated[bool, typer.Option("--sheet", help="Print a blank sheet to fill at the bench, and stop.")] = False,
        questions: Annotated[bool, typer.Option("--questions", help="Print the questions for a customer far away, and stop.")] = False,
    ) -> None:
        """Work out bench readings, each with its uncertainty.

        Beside each stand the terms that its uncertainty comes from.
        """
        from topend.measure.sheet import load_readings
        from topend.report.readings import ReadingsReport, question_sheet, reading_sheet

        if sheet or questions:
            from topend.job import load_job
            from topend.packs import Catalogue

            job = None if readings is None else load_job(readings, Catalogue.discover())
            if sheet:
                show(reading_sheet() if job is None else reading_sheet(job.top, title=job.title))
            else:
                show(question_sheet() if job is None else question_sheet(job.top.cylinder))
            return
        if readings is None:
            raise typer.BadParameter("needs a file of readings, or --sheet, or --questions")
        made = ReadingsReport(load_readings(readings))
        show(made.json(ascii_only=ascii_only()) if json else made.text)
