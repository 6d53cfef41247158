"""The glossary as text: every name with its unit and meaning."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from topend.report.layout import columns, heading

__all__ = ["glossary_text"]


def glossary_text(rows: Iterable[Mapping[str, str]]) -> str:
    """Rows of `quantities.glossary()` as two tables: outputs, then inputs by path.

    >>> from topend.quantities import glossary
    >>> glossary_text(glossary()).splitlines()[1].split()[:4]
    ['piston_travel', 'mm', 'Travel', 'of']
    """
    rows = list(rows)
    lines: list[str] = []
    for role, title in (("output", "Outputs: what is worked out"), ("input", "Inputs: what is stated, by path")):
        lines += heading(title)
        lines += columns([(row["name"], row["unit"], row["meaning"]) for row in rows if row["role"] == role])
    return "\n".join(lines[1:])
