"""Arguments and options that several commands have."""

from typing import Annotated

import typer

__all__ = ["AsJson", "Beside", "JobFile"]

JobFile = Annotated[str, typer.Argument(metavar="JOB.toml", help="The job file.", show_default=False)]
AsJson = Annotated[bool, typer.Option("--json", help="Print the same figures as JSON.")]
#: Folders of packs beside those that are found without.
Beside = Annotated[
    list[str] | None,
    typer.Option("--packs", metavar="FOLDER", help="A pack's folder to look in too; may be repeated.", show_default=False),
]
