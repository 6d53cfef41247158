"""``topend verify``: a job beside readings taken after assembly."""

from typing import Annotated

import typer

from topend.cli.options import AsJson, JobFile, example, file_name
from topend.cli.printing import ascii_only, show

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend verify docs/examples/fell50.toml", "docs/examples/readings-assembled.toml"))
    def verify(
        job: JobFile,
        readings: Annotated[
            str, typer.Argument(metavar="READINGS.toml", help="The readings after assembly.", show_default=False, callback=file_name)
        ],
        json: AsJson = False,
    ) -> None:
        """Compare a job with readings taken after assembly.

        What was predicted, what was found, and whether they go together.

        That they do not agree is an answer too: it exits with 0 and says which reading does not belong.
        """
        from topend.job import load_job
        from topend.measure.next_reading import next_reading
        from topend.measure.sheet import load_readings
        from topend.measure.verify import verify as verified
        from topend.packs import Catalogue
        from topend.report.readings import VerifiedReport

        read, found = load_job(job, Catalogue.discover()), load_readings(readings)
        made = VerifiedReport(
            verified(read.top, found.readings, found.limits),
            title=read.title,
            file=read.file,
            readings_file=found.file,
            advice=next_reading(read.top, found.readings, limits=found.limits),
        )
        show(made.json(ascii_only=ascii_only()) if json else made.text)
