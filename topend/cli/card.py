"""``topend card``: the bench card of a job."""

import typer

from topend.cli.options import AsJson, JobFile, example
from topend.cli.printing import ascii_only, show

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend card docs/examples/fell50.toml"))
    def card(job: JobFile, json: AsJson = False) -> None:
        """Print the bench card of a job.

        Warnings, parts, gaskets, gaps, volumes, ratios, timing, closing at speed, and what was assumed.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import BenchCard

        read = load_job(job, Catalogue.discover())
        made = BenchCard(read.top, title=read.title, file=read.file, packs=tuple(pack.told for pack in read.packs))
        show(made.json(ascii_only=ascii_only()) if json else made.text)
