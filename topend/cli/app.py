"""The commands gathered, in the order in which ``topend --help`` lists them.

A new command is a module here with ``add(app)``, and a line in `COMMANDS`. Modules of this package, but its own, import
typer as they are loaded: they are loaded where it is known to be installed. What else a command needs it imports as it runs,
so that ``topend --help`` is there at once.
"""

from typing import Annotated, Final

import typer

from topend.cli import (
    assemble,
    card,
    compare,
    correct,
    design,
    doctor,
    fit,
    fixture,
    measure,
    names,
    packs,
    picture,
    range,
    study,
    swap,
    verify,
)
from topend.cli.options import example
from topend.cli.printing import show

__all__ = ["build_app"]

COMMANDS: Final = (
    card,
    fit,
    correct,
    swap,
    compare,
    range,
    design,
    measure,
    assemble,
    verify,
    study,
    fixture,
    picture,
    names,
    packs,
    doctor,
)


def build_app() -> typer.Typer:
    """The commands, as typer has them."""
    app = typer.Typer(
        name="topend",
        help="Squish, compression and port timing of small two-strokes: parts in, figures out.",
        epilog=example("topend card docs/examples/fell50.toml"),
        add_completion=True,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        invoke_without_command=True,
        context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 80},
    )
    app.callback()(_root)
    for command in COMMANDS:
        command.add(app)
    return app


def _show_version(wanted: bool) -> None:
    if wanted:
        from topend import __version__

        show(f"topend {__version__}")
        raise typer.Exit


def _root(
    context: typer.Context,
    version: Annotated[bool, typer.Option("--version", help="Print the version and stop.", callback=_show_version, is_eager=True)] = False,
) -> None:
    if context.invoked_subcommand is None:
        show(context.get_help())
