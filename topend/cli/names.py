"""``topend names``: the glossary."""

import json as as_text

import typer

from topend.cli.options import AsJson
from topend.cli.printing import ascii_only, show

__all__ = ["add"]


def add(app: typer.Typer) -> None:
    """Add the command to an app."""

    @app.command(epilog="Example: topend names --json")
    def names(json: AsJson = False) -> None:
        """Print the glossary: the name, unit and meaning of every figure."""
        from topend.quantities import glossary
        from topend.report import glossary_text

        rows = glossary()
        show(_glossary_json(rows) if json else glossary_text(rows))


def _glossary_json(rows: list[dict[str, str]]) -> str:
    made = {row["name"]: {key: value for key, value in row.items() if key != "name"} for row in rows}
    return as_text.dumps(made, indent=2, ensure_ascii=ascii_only())
