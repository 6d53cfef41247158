"""``topend names``: the glossary."""

import json as as_text

import typer

from topend.cli.options import AsJson, example
from topend.cli.printing import ascii_only, on_terminal, show, show_list

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog=example("topend names"))
    def names(json: AsJson = False) -> None:
        """Print the glossary: name, unit and meaning of every figure."""
        from topend.quantities import glossary
        from topend.report import glossary_text

        rows = glossary()
        if json:
            made = {row["name"]: {key: value for key, value in row.items() if key != "name"} for row in rows}
            show(as_text.dumps(made, indent=2, ensure_ascii=ascii_only()))
        elif on_terminal():
            for role, title in (("output", "Outputs: what is worked out"), ("input", "Inputs: what is stated, by path")):
                listed = [(row["name"], row["unit"], row["meaning"]) for row in rows if row["role"] == role]
                show_list(title, ("name", "unit", "meaning"), listed)
        else:
            show(glossary_text(rows))
