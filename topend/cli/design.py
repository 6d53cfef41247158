"""``topend design``: which half-section brings a job's head to its targets, with drawings."""

import dataclasses
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated, Any

import typer

from topend.cli.options import AsJson, JobFile, example
from topend.cli.printing import ascii_only, show
from topend.cli.whose import whose
from topend.errors import DesignError, MissingInputError, UnknownNameError, did_you_mean

if TYPE_CHECKING:
    from topend.job import DesignRequest

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(
        epilog=example("topend design docs/examples/fell50-head.toml", "--target compression_ratio=12.8 --draw head.svg --draw head.dxf")
    )
    def design(
        job: JobFile,
        json: AsJson = False,
        target: Annotated[
            list[str] | None,
            typer.Option(metavar="NAME=VALUE", help="An output to bring to a value; may be repeated.", show_default=False),
        ] = None,
        free: Annotated[
            list[str] | None,
            typer.Option(metavar="PATH", help="The dimension that moves for the ratio; repeated: each is tried.", show_default=False),
        ] = None,
        spread: Annotated[
            str | None, typer.Option(metavar="VALUE", help="Spread that the ratio may have, for the cut sheet.", show_default=False)
        ] = None,
        draw: Annotated[
            list[str] | None,
            typer.Option(
                metavar="FILE",
                help="Draw the first head there: .svg, .png or .dxf; may be repeated. PNG and DXF need the extra 'draw'.",
                show_default=False,
            ),
        ] = None,
    ) -> None:
        """Design the head's half-section to a ratio and a gap.

        Targets, dimensions, limits and the cutter are those of the job's [design], each replaced by an option of the same
        name. That no head does it is an answer too: it exits with 0 and says why.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report.design import DesignReport
        from topend.report.drawings import HeadDrawing
        from topend.solve.design import design_head

        read = load_job(job, Catalogue.discover())
        if read.design is None:
            raise DesignError(f"{read.file}: has no [design] table, so there is nothing to design to; see docs/designing-a-head.md")
        asked = _asked(read.design, target or (), free or (), spread)
        for name in draw or ():
            HeadDrawing.form(name)
        try:
            found = design_head(read.top, **asked.arguments())
        except (DesignError, MissingInputError, UnknownNameError) as error:
            raise DesignError(f"{read.file}: {error}") from None
        written = []
        if found.solutions:
            drawing = HeadDrawing(found.solutions[0].top, title=read.title)
            written = [str(drawing.write(name)) for name in draw or ()]
        made = DesignReport(found, **whose(read), drawings=tuple(written))
        show(made.json(ascii_only=ascii_only()) if json else made.text)


def _asked(request: "DesignRequest", targets: Iterable[str], free: Iterable[str], spread: str | None) -> "DesignRequest":
    """The job's request with what the options add or replace."""
    from topend.quantities import OUTPUTS
    from topend.solve.design import VOLUMES

    given: dict[str, Any] = {}
    for text in targets:
        name, equals, value = (part.strip() for part in text.partition("="))
        if not equals or not value:
            raise DesignError(f'--target needs a name, =, and a value, such as "compression_ratio=12.5"; got {text!r}')
        if name not in OUTPUTS:
            raise DesignError(f"--target {text!r}: no output is called {name!r}{did_you_mean(name, OUTPUTS)}; topend names lists them")
        given[name] = _number(name, value, f"--target {name}")
    changes: dict[str, Any] = {"targets": {**request.targets, **given}}
    if any(name in VOLUMES for name in given):
        # one takes the other's place
        changes["targets"] = {name: value for name, value in changes["targets"].items() if name in given or name not in VOLUMES}
    if free:
        changes["free"] = list(free)
    if spread is not None:
        name = next((name for name in changes["targets"] if name in VOLUMES), "compression_ratio")
        changes["spread"] = _number(name, spread, "--spread")
    return dataclasses.replace(request, **changes)


def _number(name: str, text: str, what: str) -> Any:
    from topend.quantities import OUTPUTS

    if OUTPUTS[name].unit != "–":
        return text
    try:
        return float(text)
    except ValueError:
        raise DesignError(f"{what} needs a bare number, as {name} has no unit, such as 12.5; got {text!r}") from None
