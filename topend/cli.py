"""The command line: a thin shell over job files and reports. `docs/command-line.md` tells what it does and how it exits.

Annotations are evaluated here (no ``from __future__ import annotations``), because the commands are made where typer is
known to be installed, and read their options from them.
"""

import contextlib
import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import TYPE_CHECKING, Annotated, Any, Final

from topend.errors import FitError, StudyError, TopendError, did_you_mean

if TYPE_CHECKING:
    import typer

    from topend.job import FitRequest
    from topend.study import Study

__all__ = ["build_app", "main"]

#: Bad input, of whatever kind.
BAD_INPUT: Final = 2
#: Stopped from the keyboard, as shells have it: 128 + SIGINT.
STOPPED: Final = 130

_NEEDS_EXTRA: Final = "topend: the command line needs the extra 'cli'; install it with: pip install 'topend[cli]'"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line and give its exit code: 0, or 2 for bad input, told in one message on stderr.

    Parameters: `arguments` those after the program's name; None for the process's own.
    """
    try:
        import typer
    except ImportError:
        print(_NEEDS_EXTRA, file=sys.stderr)
        return BAD_INPUT
    if hasattr(sys.stdout, "reconfigure"):
        # a terminal without ± shows a stand-in; it does not fail
        sys.stdout.reconfigure(errors="replace")
    if hasattr(sys.stderr, "reconfigure"):
        sys.stderr.reconfigure(errors="replace")
    command = typer.main.get_command(build_app())
    try:
        code = command.main(args=None if arguments is None else list(arguments), prog_name="topend", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        # who read from us has had enough; nothing is left to say, not even by the interpreter on its way out
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except SystemExit:
        # so typer ends where the reader of a pipe has gone away while it printed; nothing else exits from within
        return 0
    except (KeyboardInterrupt, typer.Abort):
        return STOPPED
    except TopendError as error:
        return _refuse(str(error))
    except OSError as error:
        return _refuse(f"{error.filename or 'the system'}: {error.strerror or error}")
    except Exception as error:
        # usage errors have one class in each of typer's versions, and these two names in all of them
        told = getattr(error, "format_message", None)
        if told is None:
            raise
        context = getattr(error, "ctx", None)
        where = context.command_path if context is not None else "topend"
        return _refuse(f"{told().rstrip('.')}; see {where} --help")
    return code if isinstance(code, int) else 0


def _refuse(message: str) -> int:
    print(f"topend: {message.translate(_CONTROLS)}", file=sys.stderr)
    return BAD_INPUT


def build_app() -> "typer.Typer":
    """The commands, as typer has them. Raises ImportError where typer is not installed."""
    import typer

    app = typer.Typer(
        name="topend",
        help="Squish, compression and port timing of small two-strokes: parts in, figures out.",
        epilog="Example: topend card docs/examples/fell50.toml",
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        invoke_without_command=True,
        context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 80},
    )
    job_file = Annotated[str, typer.Argument(metavar="JOB.toml", help="The job file.", show_default=False)]
    as_json = Annotated[bool, typer.Option("--json", help="Print the same figures as JSON.")]

    def show_version(wanted: bool) -> None:
        if wanted:
            from topend import __version__

            print(f"topend {__version__}")
            raise typer.Exit

    @app.callback()
    def root(
        context: typer.Context,
        version: Annotated[
            bool, typer.Option("--version", help="Print the version and stop.", callback=show_version, is_eager=True)
        ] = False,
    ) -> None:
        if context.invoked_subcommand is None:
            print(context.get_help())

    @app.command(epilog="Example: topend card my-engine.toml --json")
    def card(job: job_file, json: as_json = False) -> None:
        """Print the bench card of a job: parts, gaskets, gaps, volumes, ratios, timing, and what it assumed."""
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import BenchCard

        read = load_job(job, Catalogue.discover())
        made = BenchCard(read.top, title=read.title, file=read.file, packs=tuple(pack.told for pack in read.packs))
        _print(made.json(ascii_only=_ascii_only()) if json else made.text)

    @app.command(epilog="Example: topend names --json")
    def names(json: as_json = False) -> None:
        """Print the glossary: the name, unit and meaning of every figure."""
        from topend.quantities import glossary
        from topend.report import glossary_text

        rows = glossary()
        _print(_glossary_json(rows) if json else glossary_text(rows))

    @app.command(epilog='Example: topend fit my-engine.toml --target "squish_min=0.90 mm,0.08 mm" --at-most "exhaust_duration=190 deg"')
    def fit(
        job: job_file,
        json: as_json = False,
        target: Annotated[
            list[str] | None,
            typer.Option(metavar="NAME=VALUE,TOLERANCE", help="An output to bring to a value; may be repeated.", show_default=False),
        ] = None,
        at_least: Annotated[
            list[str] | None, typer.Option(metavar="NAME=VALUE", help="A lower limit; may be repeated.", show_default=False)
        ] = None,
        at_most: Annotated[
            list[str] | None, typer.Option(metavar="NAME=VALUE", help="An upper limit; may be repeated.", show_default=False)
        ] = None,
        least_gap: Annotated[
            str | None,
            typer.Option(metavar="LENGTH|none", help="Floor on the least squish gap; none lifts it on purpose.", show_default=False),
        ] = None,
        best: Annotated[int | None, typer.Option(metavar="N", help="How many of the best to show.", show_default=False, min=1)] = None,
    ) -> None:
        """Choose head and gaskets from the job's drawer that bring the build to its targets.

        Targets and limits are those of the job's [fit], each replaced by an option of the same name. That nothing fits is
        an answer too: it exits with 0 and shows the nearest.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import FitReport
        from topend.solve import fit_gaskets

        read = load_job(job, Catalogue.discover())
        if read.fit is None:
            raise FitError(f"{read.file}: has no [fit] table, so there is no drawer to choose from; see docs/job-files.md")
        asked = _asked(read.fit, target or (), at_least or (), at_most or (), least_gap, best)
        try:
            fit = fit_gaskets(read.top, **asked.arguments())
        except FitError as error:
            raise FitError(f"{read.file}: {error}") from None
        made = FitReport(
            fit,
            targets=asked.targets,
            at_least=asked.at_least,
            at_most=asked.at_most,
            least_gap=asked.least_gap,
            title=read.title,
            file=read.file,
            packs=tuple(pack.told for pack in read.packs),
        )
        _print(made.json(ascii_only=_ascii_only()) if json else made.text)

    from topend.cli_packs import build_packs_app

    app.add_typer(build_packs_app(_print, _ascii_only), name="packs")

    @app.command(epilog="Example: topend measure docs/examples/readings-bench.toml --json")
    def measure(
        readings: Annotated[
            str | None,
            typer.Argument(
                metavar="READINGS.toml",
                help="The file of readings; with --sheet or --questions a job file, for whose engine they are then.",
                show_default=False,
            ),
        ] = None,
        json: as_json = False,
        sheet: Annotated[bool, typer.Option("--sheet", help="Print a blank sheet to fill at the bench, and stop.")] = False,
        questions: Annotated[bool, typer.Option("--questions", help="Print the questions for a customer far away, and stop.")] = False,
    ) -> None:
        """Work out readings: each value with its uncertainty, and the terms it comes from."""
        from topend.measure.sheet import load_readings
        from topend.report.readings import ReadingsReport, question_sheet, reading_sheet

        if sheet or questions:
            from topend.job import load_job
            from topend.packs import Catalogue

            job = None if readings is None else load_job(readings, Catalogue.discover())
            if sheet:
                _print(reading_sheet() if job is None else reading_sheet(job.top, title=job.title))
            else:
                _print(question_sheet() if job is None else question_sheet(job.top.cylinder))
            return
        if readings is None:
            raise typer.BadParameter("needs a file of readings, or --sheet, or --questions")
        made = ReadingsReport(load_readings(readings))
        _print(made.json(ascii_only=_ascii_only()) if json else made.text)

    @app.command(epilog="Example: topend verify docs/examples/fell50.toml docs/examples/readings-assembled.toml")
    def verify(
        job: job_file,
        readings: Annotated[str, typer.Argument(metavar="READINGS.toml", help="The readings after assembly.", show_default=False)],
        json: as_json = False,
    ) -> None:
        """Compare a job with readings taken after assembly: what was predicted, what was found, and whether they go together.

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
        _print(made.json(ascii_only=_ascii_only()) if json else made.text)

    @app.command(epilog='Example: topend study my-engine.toml --vary "head.recess_offset=-1.5:0:0.05 mm" --best squish_velocity_peak')
    def study(
        job: job_file,
        json: as_json = False,
        vary: Annotated[
            list[str] | None,
            typer.Option(
                metavar="PATH=VALUES",
                help="An input and its values: start:stop:step and a unit, or values with commas between; may be repeated.",
                show_default=False,
            ),
        ] = None,
        sample: Annotated[
            int | None,
            typer.Option(metavar="N", help="Draw every value that carries limits, N times at every point.", show_default=False, min=1),
        ] = None,
        seed: Annotated[int, typer.Option(metavar="S", help="Seed of the draws.", min=0)] = 0,
        where: Annotated[
            list[str] | None,
            typer.Option(metavar="NAME=LOW:HIGH", help="Keep rows inside limits, either left out; may be repeated.", show_default=False),
        ] = None,
        outputs: Annotated[
            str | None, typer.Option(metavar="NAME,NAME", help="The outputs; not given: all that can be had.", show_default=False)
        ] = None,
        best: Annotated[
            str | None,
            typer.Option(
                metavar="NAME[=WAY]",
                help="Show the best rows by an output: the largest, or =smallest, or the nearest to =VALUE.",
                show_default=False,
            ),
        ] = None,
        show: Annotated[int, typer.Option(metavar="N", help="How many of the best to show.", min=1)] = 10,
        to: Annotated[
            str | None, typer.Option(metavar="FOLDER", help="Write every row there, as Parquet files.", show_default=False)
        ] = None,
        threads: Annotated[int, typer.Option(metavar="N", help="How many threads work.", min=1)] = 1,
    ) -> None:
        """Vary a job: every combination of the values, those inside your limits, their spread, and the best of them.

        The first --vary runs slowest. Refused combinations are counted by reason, and are rows of the folder too. A run
        that was stopped goes on where it was when the same command is given again.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import StudyReport
        from topend.study import Study

        read = load_job(job, Catalogue.discover())
        asked = _varied(Study(read.top), vary or (), sample, seed, where or ())
        names = None if outputs is None else [name.strip() for name in outputs.split(",") if name.strip()]
        wanted = {} if best is None else {"n": show, **_best(best)}
        folder = None
        if to is not None:
            with _progress("writing") as told:
                folder = asked.run(names, to=to, threads=threads, progress=told)
        with _progress("working out") as told:
            summary = asked.summarise(names, threads=threads, progress=told, **wanted)
        made = StudyReport(asked, summary, folder, title=read.title, file=read.file, packs=tuple(pack.told for pack in read.packs))
        _print(made.json(ascii_only=_ascii_only()) if json else made.text)

    return app


# --- what options mean -----------------------------------------------------------------------------------------------


def _asked(
    request: "FitRequest", targets: Iterable[str], at_least: Iterable[str], at_most: Iterable[str], least_gap: str | None, best: int | None
) -> "FitRequest":
    """The job's request with what the options add or replace."""
    import dataclasses

    changes: dict[str, Any] = {
        "targets": {**request.targets, **_named("--target", targets, _target)},
        "at_least": {**request.at_least, **_named("--at-least", at_least, _figure)},
        "at_most": {**request.at_most, **_named("--at-most", at_most, _figure)},
    }
    if least_gap is not None:
        changes["least_gap"] = None if least_gap.strip().lower() == "none" else least_gap
    if best is not None:
        changes["best"] = best
    return dataclasses.replace(request, **changes)


def _named(option: str, written: Iterable[str], read: Callable[[str, str, str], Any]) -> dict[str, Any]:
    from topend.quantities import OUTPUTS

    made = {}
    for text in written:
        name, equals, value = (part.strip() for part in text.partition("="))
        if not equals or not value:
            raise FitError(f"{option} needs a name, =, and a value, such as {_example(option, 'squish_min')}; got {text!r}")
        if name not in OUTPUTS:
            raise FitError(f"{option} {text!r}: no output is called {name!r}{did_you_mean(name, OUTPUTS)}; topend names lists them")
        if name in made:
            raise FitError(f"{option} names {name} twice; name it once")
        made[name] = read(option, name, value)
    return made


def _target(option: str, name: str, text: str) -> tuple[Any, Any]:
    value, comma, tolerance = (part.strip() for part in text.partition(","))
    if not comma or not value or not tolerance:
        raise FitError(
            f"{option} {name} needs a value and a tolerance with a comma between, such as {_example(option, name)}; got {text!r}"
        )
    if "," in tolerance:
        raise FitError(
            f"{option} {name} has more than one comma: decimals are written with a point, as in {_example(option, name)}; got {text!r}"
        )
    return _figure(option, name, value), _figure(option, name, tolerance)


def _figure(option: str, name: str, text: str) -> Any:
    """A ratio as a number, all else as text with its unit."""
    from topend.quantities import OUTPUTS
    from topend.units import StatedValueError, kind_of_unit, stated

    kind = kind_of_unit(OUTPUTS[name].unit)
    assert kind is not None
    if kind.name == "ratio":
        try:
            return float(text)
        except ValueError:
            raise FitError(
                f"{option} {name} needs a bare number, as it has no unit, such as {_example(option, name)}; got {text!r}"
            ) from None
    try:
        stated(text, kind)
    except StatedValueError as error:
        raise FitError(f"{option} {name} {error}") from None
    return text


_NUMBERS: Final = {"mm": ("0.90 mm", "0.08 mm"), "cc": ("6.4 cc", "0.2 cc"), "deg": ("188 deg", "2 deg"), "m/s": ("18 m/s", "1 m/s")}


def _example(option: str, name: str) -> str:
    from topend.quantities import OUTPUTS

    unit = OUTPUTS[name].unit
    value, tolerance = ("12.5", "0.4") if unit == "–" else _NUMBERS.get(unit, (f"1 {unit}", f"0.1 {unit}"))
    return f'"{name}={value},{tolerance}"' if option == "--target" else f'"{name}={value}"'


def _varied(study: "Study", vary: Iterable[str], sample: int | None, seed: int, where: Iterable[str]) -> "Study":
    """The study with what the options set."""
    for text in vary:
        path, equals, values = (part.strip() for part in text.partition("="))
        if not equals or not values:
            example = '"head.recess_offset=-1.5:0:0.05 mm"'
            raise StudyError(f"--vary needs a path, =, and values, such as {example}; got {text!r}")
        listed = values if ":" in values else [part.strip() for part in values.split(",")]
        study = study.vary(path, listed)
    limits: dict[str, tuple[Any, Any]] = {}
    for text in where:
        name, equals, ends = (part.strip() for part in text.partition("="))
        low, colon, high = (part.strip() for part in ends.partition(":"))
        if not equals or not colon or not (low or high):
            example = '"squish_min=0.6 mm:", "compression_ratio=12:13"'
            raise StudyError(f"--where needs a name, =, and limits with a colon between, such as {example}; got {text!r}")
        if name in limits:
            raise StudyError(f"--where names {name} twice; name it once")
        limits[name] = (_limit(name, low), _limit(name, high))
    study = study.where(limits)
    return study if sample is None else study.sample(sample, seed=seed)


def _limit(name: str, text: str) -> Any:
    """One end of a limit as a study takes it: None, a number for a ratio, text for all else."""
    from topend.quantities import output

    if not text:
        return None
    if output(name).unit != "–":
        return text
    try:
        return float(text)
    except ValueError:
        return text


def _best(text: str) -> dict[str, Any]:
    name, equals, way = (part.strip() for part in text.partition("="))
    if not equals or way == "largest":
        return {"best": name, "largest": True}
    return {"best": name, "smallest": True} if way == "smallest" else {"best": name, "target": _limit(name, way)}


@contextlib.contextmanager
def _progress(what: str) -> "Iterator[Callable[[int, int], None] | None]":
    """A bar on the terminal, where standard error is one; else nothing."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    shown = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TextColumn("rows"), TimeRemainingColumn())
    with Progress(*shown, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, rows: bar.update(task, completed=done, total=rows)


# --- printing --------------------------------------------------------------------------------------------------------


def _ascii_only() -> bool:
    return not (sys.stdout.encoding or "").lower().startswith("utf")


#: A title or a name from a file may hold what would steer a terminal.
_CONTROLS: Final = {code: "?" for code in (*range(32), *range(127, 160)) if chr(code) not in "\n\t"}


def _print(text: str) -> None:
    sys.stdout.write(text.translate(_CONTROLS) + "\n")


def _glossary_json(rows: list[dict[str, str]]) -> str:
    made = {row["name"]: {key: value for key, value in row.items() if key != "name"} for row in rows}
    return json.dumps(made, indent=2, ensure_ascii=_ascii_only())


if __name__ == "__main__":
    sys.exit(main())
