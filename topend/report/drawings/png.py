"""A sheet as PNG, by matplotlib (extra `draw`)."""

from __future__ import annotations

import io
from typing import Any

from topend.errors import MissingExtraError
from topend.report.drawings.lines import WIDE, Sheet

__all__ = ["png_bytes"]

_DOTS_PER_INCH = 200
_MM = 1.0 / 25.4


def png_bytes(sheet: Sheet) -> bytes:
    """The sheet as a PNG of 200 dots an inch. Raises `MissingExtraError` without matplotlib."""
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.lines import Line2D
        from matplotlib.patches import Polygon
    except ImportError as error:
        raise MissingExtraError("a drawing as PNG", "matplotlib", "draw", error) from None
    figure = Figure(figsize=(sheet.width * _MM, sheet.height * _MM), dpi=_DOTS_PER_INCH, facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_axis_off()
    axes.set_xlim(0.0, sheet.width)
    axes.set_ylim(0.0, sheet.height)
    points = 72.0 * _MM
    for line in sheet.lines:
        x, y = zip(*line.points, strict=True)
        # dashes count in widths of the line
        dashes: Any = (0.0, [dash / line.kind.width for dash in line.kind.dashes]) if line.kind.dashes else "solid"
        axes.add_line(
            Line2D(
                x,
                y,
                color="black",
                linewidth=line.kind.width * points,
                linestyle=dashes,
                dash_capstyle="butt",
                solid_joinstyle="round",
                zorder=2.4 if line.kind == WIDE else 2.0,
            )
        )
    for arrow in sheet.arrows:
        axes.add_patch(Polygon(arrow, closed=True, facecolor="black", linewidth=0.0, zorder=2.4))
    for words in sheet.words:
        # words stand clear of all but the outline
        axes.add_patch(Polygon(words.ground, closed=True, facecolor="white", linewidth=0.0, zorder=2.2))
        anchor = {"start": "left", "middle": "center", "end": "right"}[words.anchor]
        axes.text(
            *words.at, words.text, fontsize=words.height / 0.72 * points, ha=anchor, va="baseline", rotation=words.turn,
            rotation_mode="anchor", color="black", family="DejaVu Sans",
        )  # fmt: skip
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=_DOTS_PER_INCH, metadata={"Software": None})
    return stream.getvalue()
