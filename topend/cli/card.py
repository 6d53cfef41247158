"""``topend card``: the bench card of a job."""

import typer

from topend.cli.options import AsJson, InInches, JobFile, ToPage, example, only_one_form
from topend.cli.printing import ascii_only, show
from topend.cli.whose import whose

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend card docs/examples/fell50.toml --html card.html"))
    def card(job: JobFile, json: AsJson = False, html: ToPage = None, inch: InInches = False) -> None:
        """Print the bench card of a job.

        Warnings, parts, gaskets, gaps, volumes, ratios, timing, closing at speed, and what was assumed; as a page also the section, the
        readings to take with blanks, and the assembly.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import BenchCard
        from topend.report.card_text import card_text

        only_one_form(json=json, html=html, inch=inch)
        read = load_job(job, Catalogue.discover())
        made = BenchCard(read.top, **whose(read))
        if html is not None:
            from topend.report.html import card_page, write_page

            show(f"written: {write_page(card_page(made, inch=inch), html)}")
        else:
            show(made.json(ascii_only=ascii_only()) if json else card_text(made, inch=inch))
