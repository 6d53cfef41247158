"""Tables as HTML for notebooks: plain, escaped, without a style of their own; what `_repr_html_` of parts, results and answers gives."""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

__all__ = ["html_table"]


def html_table(caption: str, headings: Sequence[str], rows: Iterable[Sequence[str]], notes: Iterable[str] = ()) -> str:
    """A table with a caption; the first cell of each row names it, numbers stand to the right, notes below.

    >>> print(html_table("stack", ["gasket", "mm"], [["base", "0.50"]], ["fitted"]))
    <table><caption>stack</caption><thead><tr><th>gasket</th><th>mm</th></tr></thead>
    <tbody><tr><th scope="row">base</th><td style="text-align:right">0.50</td></tr></tbody></table>
    <p>fitted</p>
    """
    head = "".join(f"<th>{html.escape(one)}</th>" for one in headings)
    body = "".join(f"<tr>{_row(cells)}</tr>" for cells in rows)
    below = "".join(f"\n<p>{html.escape(one)}</p>" for one in notes)
    return f"<table><caption>{html.escape(caption)}</caption><thead><tr>{head}</tr></thead>\n<tbody>{body}</tbody></table>{below}"


def _row(cells: Sequence[str]) -> str:
    first, *rest = cells
    return f'<th scope="row">{html.escape(first)}</th>' + "".join(map(_cell, rest))


def _cell(text: str) -> str:
    side = "right" if text.lstrip("-±").replace(" ", "")[:1].isdigit() else "left"
    return f'<td style="text-align:{side}">{html.escape(text)}</td>'
