"""``topend assemble``: the assembly sheet of a job, and where its readings stop it."""

from typing import Annotated

import typer

from topend.cli.options import AsJson, InInches, JobFile, ToPage, example, file_name, only_one_form
from topend.cli.printing import ascii_only, show
from topend.cli.whose import whose

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend assemble docs/examples/fell50.toml", "docs/examples/readings-assembled.toml"))
    def assemble(
        job: JobFile,
        readings: Annotated[
            str | None, typer.Argument(metavar="[READINGS.toml]", help="The readings so far.", show_default=False, callback=file_name)
        ] = None,
        json: AsJson = False,
        html: ToPage = None,
        inch: InInches = False,
    ) -> None:
        """Print the assembly sheet of a job.

        Each step, what to read in it, and when to stop. With readings it says where the build stands: a reading outside its
        limits stops it, and the likely causes are named. That it stops is an answer too: it exits with 0.
        """
        from topend.job import load_job
        from topend.measure.sheet import load_readings
        from topend.packs import Catalogue
        from topend.report import AssemblySheet, BenchCard

        only_one_form(json=json, html=html, inch=inch)
        read = load_job(job, Catalogue.discover())
        found = None if readings is None else load_readings(readings).readings
        card = BenchCard(read.top, **whose(read))
        made = AssemblySheet(card, found)
        if html is not None:
            from topend.report.html import sheet_page, write_page

            show(f"written: {write_page(sheet_page(made, inch=inch), html)}")
        else:
            show(made.json(ascii_only=ascii_only()) if json else made.text_in(inch=inch))
