"""Arguments and options that several commands have."""

import re
from collections.abc import Iterator
from typing import Annotated, Final

import typer

__all__ = [
    "AsJson",
    "Beside",
    "InInches",
    "JobFile",
    "ToPage",
    "example",
    "file_name",
    "file_to_write",
    "input_paths",
    "only_one_form",
    "output_names",
]

#: Columns of a help page.
_WIDTH: Final = 80


def file_name(given: str | None) -> str | None:
    """The name of a file as it was given. An empty one, as of a shell variable that was not set, is refused: it would be the folder."""
    if given is not None and not given.strip():
        raise typer.BadParameter("is empty; name a file")
    return given


def file_to_write(given: str | None) -> str | None:
    """The name of a file to write, checked before any work is done: its folder must be there."""
    if file_name(given) is not None:
        from topend.report.written import file_to_write as checked

        checked(str(given))
    return given


def output_names(incomplete: str) -> Iterator[str]:
    """Names of outputs to complete what was begun."""
    from topend.quantities import OUTPUTS

    return (name for name in OUTPUTS if name.startswith(incomplete))


def input_paths(incomplete: str) -> Iterator[str]:
    """Paths of inputs to complete what was begun."""
    from topend.quantities import INPUTS

    return (path for path in INPUTS if path.startswith(incomplete))


JobFile = Annotated[str, typer.Argument(metavar="JOB.toml", help="The job file.", show_default=False, callback=file_name)]
AsJson = Annotated[bool, typer.Option("--json", help="Print the same figures as JSON.")]
ToPage = Annotated[
    str | None,
    typer.Option("--html", metavar="FILE", help="Write it as one HTML page instead.", show_default=False, callback=file_to_write),
]
InInches = Annotated[bool, typer.Option("--inch", help="Put inches beside millimetres.")]
#: Folders of packs beside those that are found without.
Beside = Annotated[
    list[str] | None,
    typer.Option("--packs", metavar="FOLDER", help="A pack's folder to look in too; may be repeated.", show_default=False),
]


def only_one_form(*, json: bool, html: str | None, inch: bool) -> None:
    """Refuse forms that do not go together: JSON is not a page, and has its units written out."""
    if json and html is not None:
        raise typer.BadParameter("--json and --html are two forms of the same; give one of them")
    if json and inch:
        raise typer.BadParameter("--inch is for people; JSON gives each figure with its unit in millimetres")


def example(*lines: str) -> str:
    """The end of a command's help: a command line that can be typed as it stands, broken where `lines` are and where one is too long.

    >>> example("topend card docs/examples/fell50.toml").splitlines()[1]
    'Example: topend card docs/examples/fell50.toml'
    """
    # the form feed of help texts: what follows it is not filled into lines anew
    begun, *others = (part for line in lines for part in _broken(line))
    return "\b\nExample: " + " \\\n    ".join([begun, *others])


def _broken(line: str) -> list[str]:
    """The line in pieces that fit a page of 80 columns, broken between words; a quoted text is one word."""
    made = [""]
    for word in re.findall(r"""(?:"[^"]*"|'[^']*'|[^\s"'])+""", line):
        # 2 columns before all of help, 9 of its first word or 4 of the next line's indent, and 2 of the sign that it goes on
        if made[-1] and len(made[-1]) + 1 + len(word) > _WIDTH - 13:
            made.append("")
        made[-1] += f"{' ' if made[-1] else ''}{word}"
    return made
