"""``topend swap``: another crank or piston in a job, before and after, and the spacer it needs."""

import typer

from topend.cli.options import AsJson, JobFile, example
from topend.cli.printing import ascii_only, show
from topend.cli.whose import whose
from topend.errors import FitError

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend swap docs/examples/swap.toml"))
    def swap(job: JobFile, json: AsJson = False) -> None:
        """Show what another crank or piston changes.

        Before, as it stands and with the spacer that brings the deck back. The new parts are those of the job's [swap].
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report.swapping import SwapReport
        from topend.solve.swap import swap as swapped

        read = load_job(job, Catalogue.discover())
        asked = read.swap
        if asked is None:
            raise FitError(f"{read.file}: has no [swap] table, so there is no new part; see docs/correcting.md")
        try:
            answer = swapped(read.top, **asked.arguments())
        except FitError as error:
            raise FitError(f"{read.file}: {error}") from None
        made = SwapReport(
            answer,
            crank=asked.crank,
            piston=asked.piston,
            **whose(read),
        )
        show(made.json(ascii_only=ascii_only()) if json else made.text)
