"""``topend range``: which heads to make, and which gaskets to put in their boxes."""

from typing import Annotated

import typer

from topend.cli.options import AsJson, example, file_name
from topend.cli.printing import ascii_only, show
from topend.cli.progress import working
from topend.cli.whose import asked_and_whose
from topend.errors import FitError

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(name="range", epilog=example("topend range docs/examples/range.toml"))
    def plan(
        file: Annotated[str, typer.Argument(metavar="PLAN.toml", help="The plan file.", show_default=False, callback=file_name)],
        json: AsJson = False,
    ) -> None:
        """Plan a range of heads, and the gaskets in their boxes.

        The fewest heads, then the fewest gaskets. Families of barrels, what is on offer and the window are those of the plan
        file. That no plan reaches the coverage is an answer too: it exits with 0 and says what could be reached, and which
        builds are left out and why.
        """
        from topend.packs import Catalogue
        from topend.plan_file import load_plan
        from topend.report.ranges import RangeReport
        from topend.solve.families import Family
        from topend.solve.plan_range import plan_range

        read = load_plan(file, Catalogue.discover())
        asked = read.request
        try:
            with working("planning"):
                made = plan_range([Family(**one.arguments()) for one in read.families], read.gaskets, **asked.arguments())
        except FitError as error:
            raise FitError(f"{read.file}: {error}") from None
        report = RangeReport(
            made,
            **asked_and_whose(read, asked),
        )
        show(report.json(ascii_only=ascii_only()) if json else report.text)
