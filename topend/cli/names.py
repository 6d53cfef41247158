"""``topend names``: the glossary."""

import json as as_text
from typing import Annotated

import typer

from topend.cli.options import AsJson, example
from topend.cli.printing import ascii_only, on_terminal, show, show_list

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend names"))
    def names(
        json: AsJson = False,
        outputs_of: Annotated[
            list[str] | None,
            typer.Option(
                "--outputs-of", metavar="PACK", help="Those that an installed pack with code adds too; may be repeated.", show_default=False
            ),
        ] = None,
    ) -> None:
        """Print the glossary: name, unit and meaning of every figure."""
        from topend.packs import Catalogue
        from topend.quantities import glossary
        from topend.report import glossary_text

        rows = glossary() if not outputs_of else glossary(Catalogue.discover().outputs_of(*outputs_of))
        if json:
            made = {row["name"]: {key: value for key, value in row.items() if key != "name"} for row in rows}
            show(as_text.dumps(made, indent=2, ensure_ascii=ascii_only()))
        elif on_terminal():
            for role, title in (("output", "Outputs: what is worked out"), ("input", "Inputs: what is stated, by path")):
                listed = [(row["name"], row["unit"], row["meaning"]) for row in rows if row["role"] == role]
                show_list(title, ("name", "unit", "meaning"), listed)
        else:
            show(glossary_text(rows))
