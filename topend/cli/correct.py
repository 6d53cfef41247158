"""``topend correct``: cuts, spacer and gaskets that bring a job to its targets."""

import typer

from topend.cli.options import AsJson, JobFile, example
from topend.cli.printing import ascii_only, show
from topend.cli.progress import working
from topend.cli.whose import asked_and_whose
from topend.errors import FitError

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend correct docs/examples/correct.toml"))
    def correct(job: JobFile, json: AsJson = False) -> None:
        """Find cuts and gaskets that bring a build to its targets.

        Least metal first. What may be cut, the drawer and the targets are those of the job's [correct]. That nothing meets
        every target is an answer too: it exits with 0 and says which would have to give, and by how much.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report.correcting import CorrectReport
        from topend.solve.correct import correct as corrected

        read = load_job(job, Catalogue.discover())
        asked = read.correct
        if asked is None:
            raise FitError(f"{read.file}: has no [correct] table, so it is not known what may be done; see docs/correcting.md")
        try:
            with working("looking for cuts and gaskets"):
                answer = corrected(read.top, **asked.arguments())
        except FitError as error:
            raise FitError(f"{read.file}: {error}") from None
        made = CorrectReport(
            answer,
            allow=asked.allow,
            **asked_and_whose(read, asked),
        )
        show(made.json(ascii_only=ascii_only()) if json else made.text)
