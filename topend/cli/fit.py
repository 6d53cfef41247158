"""``topend fit``: which head and gaskets bring a job to its targets."""

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from topend.cli.options import AsJson, JobFile, example, output_names
from topend.cli.printing import ascii_only, show
from topend.cli.progress import working
from topend.cli.whose import asked_and_whose, of_packs
from topend.errors import FitError, did_you_mean

if TYPE_CHECKING:
    from topend.job import FitRequest
    from topend.quantities import Output

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(
        epilog=example(
            "topend fit docs/examples/fell50.toml",
            '--target "squish_min=0.90 mm,0.08 mm"',
            '--at-most "exhaust_duration=190 deg"',
        )
    )
    def fit(
        job: JobFile,
        json: AsJson = False,
        target: Annotated[
            list[str] | None,
            typer.Option(
                metavar="NAME=VALUE,TOLERANCE",
                help="An output to bring to a value; may be repeated.",
                show_default=False,
                autocompletion=output_names,
            ),
        ] = None,
        at_least: Annotated[
            list[str] | None,
            typer.Option(metavar="NAME=VALUE", help="A lower limit; may be repeated.", show_default=False, autocompletion=output_names),
        ] = None,
        at_most: Annotated[
            list[str] | None,
            typer.Option(metavar="NAME=VALUE", help="An upper limit; may be repeated.", show_default=False, autocompletion=output_names),
        ] = None,
        least_gap: Annotated[
            str | None,
            typer.Option(metavar="LENGTH|none", help="Floor on the least squish gap; none lifts it on purpose.", show_default=False),
        ] = None,
        best: Annotated[int | None, typer.Option(metavar="N", help="How many of the best to show.", show_default=False, min=1)] = None,
    ) -> None:
        """Choose the head and gaskets that bring a build to its targets.

        They come from the job's drawer. Targets and limits are those of the job's [fit], each replaced by an option of the
        same name. That nothing fits is an answer too: it exits with 0 and shows the nearest.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import FitReport
        from topend.solve import fit_gaskets

        read = load_job(job, Catalogue.discover())
        if read.fit is None:
            raise FitError(f"{read.file}: has no [fit] table, so there is no drawer to choose from; see docs/job-files.md")
        asked = _asked(read.fit, read.top.outputs, target or (), at_least or (), at_most or (), least_gap, best)
        try:
            with working("looking for gaskets"):
                fit = fit_gaskets(read.top, **asked.arguments())
        except FitError as error:
            raise FitError(f"{read.file}: {error}") from None
        made = FitReport(
            fit,
            **asked_and_whose(read, asked),
        )
        show(made.json(ascii_only=ascii_only()) if json else made.text)


def _asked(
    request: "FitRequest",
    known: "Mapping[str, Output]",
    targets: Iterable[str],
    at_least: Iterable[str],
    at_most: Iterable[str],
    least_gap: str | None,
    best: int | None,
) -> "FitRequest":
    """The job's request with what the options add or replace; `known` the outputs that they may name."""

    changes: dict[str, Any] = {
        "targets": {**request.targets, **_named("--target", targets, known, _target)},
        "at_least": {**request.at_least, **_named("--at-least", at_least, known, _figure)},
        "at_most": {**request.at_most, **_named("--at-most", at_most, known, _figure)},
    }
    if least_gap is not None:
        changes["least_gap"] = None if least_gap.strip().lower() == "none" else least_gap
    if best is not None:
        changes["best"] = best
    return dataclasses.replace(request, **changes)


def _named(option: str, written: Iterable[str], known: "Mapping[str, Output]", read: Callable[[str, "Output", str], Any]) -> dict[str, Any]:
    made = {}
    for text in written:
        name, equals, value = (part.strip() for part in text.partition("="))
        if not equals or not value:
            raise FitError(f"{option} needs a name, =, and a value, such as {_example(option, known['squish_min'])}; got {text!r}")
        if name not in known:
            raise FitError(
                f"{option} {text!r}: no output is called {name!r}{did_you_mean(name, known)}; topend names lists them{of_packs(name)}"
            )
        if name in made:
            raise FitError(f"{option} names {name} twice; name it once")
        made[name] = read(option, known[name], value)
    return made


def _target(option: str, of: "Output", text: str) -> tuple[Any, Any]:
    value, comma, tolerance = (part.strip() for part in text.partition(","))
    if not comma or not value or not tolerance:
        raise FitError(
            f"{option} {of.name} needs a value and a tolerance with a comma between, such as {_example(option, of)}; got {text!r}"
        )
    if "," in tolerance:
        raise FitError(
            f"{option} {of.name} has more than one comma: decimals are written with a point, as in {_example(option, of)}; got {text!r}"
        )
    return _figure(option, of, value), _figure(option, of, tolerance)


def _figure(option: str, of: "Output", text: str) -> Any:
    """A ratio as a number, all else as text with its unit."""
    from topend.units import StatedValueError, kind_of_unit, stated

    kind = kind_of_unit(of.unit)
    assert kind is not None
    if kind.name == "ratio":
        try:
            return float(text)
        except ValueError:
            raise FitError(
                f"{option} {of.name} needs a bare number, as it has no unit, such as {_example(option, of)}; got {text!r}"
            ) from None
    try:
        stated(text, kind)
    except StatedValueError as error:
        raise FitError(f"{option} {of.name} {error}") from None
    return text


_NUMBERS: Final = {"mm": ("0.90 mm", "0.08 mm"), "cc": ("6.4 cc", "0.2 cc"), "deg": ("188 deg", "2 deg"), "m/s": ("18 m/s", "1 m/s")}


def _example(option: str, of: "Output") -> str:
    unit = of.unit
    value, tolerance = ("12.5", "0.4") if unit == "–" else _NUMBERS.get(unit, (f"1 {unit}", f"0.1 {unit}"))
    return f'"{of.name}={value},{tolerance}"' if option == "--target" else f'"{of.name}={value}"'
