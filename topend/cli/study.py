"""``topend study``: every combination of values of a job."""

import contextlib
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Annotated, Any

import typer

from topend.cli.options import AsJson, JobFile, example, input_paths, output_names
from topend.cli.printing import ascii_only, show
from topend.cli.progress import progress
from topend.cli.whose import of_packs, whose
from topend.errors import StudyError, TopendError, UnknownNameError

if TYPE_CHECKING:
    from topend.quantities import Output
    from topend.study import Study

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(
        epilog=example(
            "topend study docs/examples/fell50.toml",
            '--vary "head.recess_offset=-1.5:0:0.05 mm"',
            '--where "squish_min=0.6 mm:" --best squish_velocity_peak',
        )
    )
    def study(
        job: JobFile,
        json: AsJson = False,
        vary: Annotated[
            list[str] | None,
            typer.Option(
                metavar="PATH=VALUES",
                help="An input and its values: start:stop:step and a unit, or values with commas between; may be repeated.",
                show_default=False,
                autocompletion=input_paths,
            ),
        ] = None,
        sample: Annotated[
            int | None,
            typer.Option(metavar="N", help="Draw every value that carries limits, N times at every point.", show_default=False, min=1),
        ] = None,
        seed: Annotated[int, typer.Option(metavar="S", help="Seed of the draws.", min=0)] = 0,
        where: Annotated[
            list[str] | None,
            typer.Option(
                metavar="NAME=LOW:HIGH",
                help="Keep rows inside limits, either left out; may be repeated.",
                show_default=False,
                autocompletion=output_names,
            ),
        ] = None,
        outputs: Annotated[
            str | None,
            typer.Option(
                metavar="NAME,NAME", help="The outputs; not given: all that can be had.", show_default=False, autocompletion=output_names
            ),
        ] = None,
        best: Annotated[
            str | None,
            typer.Option(
                metavar="NAME[=WAY]",
                help="Show the best rows by an output: the largest, or =smallest, or the nearest to =VALUE.",
                show_default=False,
                autocompletion=output_names,
            ),
        ] = None,
        shown: Annotated[int, typer.Option("--show", metavar="N", help="How many of the best to show.", min=1)] = 10,
        to: Annotated[
            str | None, typer.Option(metavar="FOLDER", help="Write every row there, as Parquet files.", show_default=False)
        ] = None,
        threads: Annotated[int, typer.Option(metavar="N", help="How many threads work.", min=1)] = 1,
    ) -> None:
        """Vary a job over every combination of values.

        Shown are those inside your limits, their spread, and the best of them.

        The first --vary runs slowest. Refused combinations are counted by reason, and are rows of the folder too. A run
        that was stopped goes on where it was when the same command is given again.
        """
        from topend.job import load_job
        from topend.packs import Catalogue
        from topend.report import StudyReport
        from topend.study import Study

        read = load_job(job, Catalogue.discover())
        known = read.top.outputs
        asked = _varied(Study(read.top), vary or (), sample, seed, where or ())
        names = None if outputs is None else _outputs(outputs, known)
        wanted = {} if best is None else {"n": shown, **_best(best, known)}
        folder = None
        if to is not None:
            with progress("writing") as told:
                folder = asked.run(names, to=to, threads=threads, progress=told)
        with progress("working out") as told:
            summary = asked.summarise(names, threads=threads, progress=told, **wanted)
        made = StudyReport(asked, summary, folder, **whose(read))
        show(made.json(ascii_only=ascii_only()) if json else made.text)


@contextlib.contextmanager
def _option(name: str, text: str) -> Iterator[None]:
    """What is wrong inside is the fault of this option, and says so."""
    try:
        yield
    except TopendError as error:
        may = of_packs(error.unknown) if isinstance(error, UnknownNameError) and error.what == "output" else ""
        raise StudyError(f"{name} {text!r}: {error}{may}") from None


def _varied(study: "Study", vary: Iterable[str], sample: int | None, seed: int, where: Iterable[str]) -> "Study":
    """The study with what the options set."""
    from topend.quantities import output

    for text in vary:
        path, equals, values = (part.strip() for part in text.partition("="))
        if not equals or not values:
            shown = '"head.recess_offset=-1.5:0:0.05 mm"'
            raise StudyError(f"--vary needs a path, =, and values, such as {shown}; got {text!r}")
        with _option("--vary", text):
            study = study.vary(path, values if ":" in values else [part.strip() for part in values.split(",")])
    limits: dict[str, tuple[Any, Any]] = {}
    for text in where:
        name, equals, ends = (part.strip() for part in text.partition("="))
        low, colon, high = (part.strip() for part in ends.partition(":"))
        if not equals or not colon or not (low or high):
            shown = '"squish_min=0.6 mm:", "compression_ratio=12:13"'
            raise StudyError(f"--where needs a name, =, and limits with a colon between, such as {shown}; got {text!r}")
        if name in limits:
            raise StudyError(f"--where names {name} twice; name it once")
        with _option("--where", text):
            unit = output(name, study.top.outputs).unit
            limits[name] = (_limit(unit, low), _limit(unit, high))
            study.where({name: limits[name]})
    study = study.where(limits)
    return study if sample is None else study.sample(sample, seed=seed)


def _outputs(text: str, known: "Mapping[str, Output]") -> list[str]:
    from topend.quantities import output

    names = [name.strip() for name in text.split(",") if name.strip()]
    if not names:
        raise StudyError(f"--outputs needs names of outputs with commas between, such as squish_min,compression_ratio; got {text!r}")
    with _option("--outputs", text):
        return [output(name, known).name for name in names]


def _limit(unit: str, text: str) -> Any:
    """One end of a limit as a study takes it: None, a number for a ratio, text for all else."""
    if not text:
        return None
    if unit != "–":
        return text
    try:
        return float(text)
    except ValueError:
        return text


def _best(text: str, known: "Mapping[str, Output]") -> dict[str, Any]:
    from topend.quantities import output
    from topend.study.table import figure

    name, equals, way = (part.strip() for part in text.partition("="))
    with _option("--best", text):
        unit = output(name, known).unit
        if not equals or way == "largest":
            return {"best": name, "largest": True}
        if way == "smallest":
            return {"best": name, "smallest": True}
        target = _limit(unit, way)
        figure(unit, target, "the target")
        return {"best": name, "target": target}
