"""How our pictures look: white, thin lines, few inks, told apart by lightness, dashes and words, so that they survive a copier.

A figure is made here and belongs to no window and no global state of matplotlib; axes are labelled with the name and unit of
the tables of quantities; lines are named where they end, not in a box of keys.
"""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from topend.errors import ArgumentError, MissingExtraError
from topend.evaluation import input_unit
from topend.quantities import OUTPUTS
from topend.report.written import file_to_write, write_whole

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "DASHES",
    "FILLS",
    "GREY",
    "INK",
    "MARK",
    "PALE",
    "SIZE",
    "TINT",
    "axis_label",
    "layer_names",
    "new_figure",
    "plain_axes",
    "save_picture",
    "svg",
    "write_picture",
]

#: Lines and words; a second line; grid and edges; a band of uncertainty; what must not be overlooked. Their lightness differs.
INK: Final = "#1b2a38"
TINT: Final = "#3d7ea6"
GREY: Final = "#7d868d"
PALE: Final = "#dde5ea"
MARK: Final = "#b5382a"
#: Parts that are stacked, from dark to light, with a hatch each: (face, hatch).
FILLS: Final = (
    ("#2f4456", ""),
    ("#5f8aa8", ""),
    ("#a9c3d3", ""),
    ("#e8eef1", ""),
    ("#8a9299", "////"),
    ("#c9ced2", "\\\\\\\\"),
    ("#f4f4f2", "----"),
    ("#b98b5e", ""),
    ("#dcc3a4", "////"),
    ("#efe6da", "xxxx"),
)
#: Dashes of lines drawn together, the first whole.
DASHES: Final[tuple[Any, ...]] = ("-", (0, (6, 2)), (0, (2, 2)), (0, (8, 2, 2, 2)), (0, (1, 1)))
#: Size of words [pt].
SIZE: Final = 8.0
#: Of a raster picture.
_DOTS_PER_INCH: Final = 200
_FORMATS: Final = ("png", "svg", "pdf")


def new_figure(*, width: float = 160.0, height: float = 100.0, rows: int = 1, columns: int = 1, **grid: Any) -> tuple[Figure, list[Axes]]:
    """An empty figure and its axes, row by row, in our look. `width` and `height` are on paper [mm].

    `grid` goes to matplotlib's ``Figure.subplots`` (``sharex=``, ``height_ratios=``). Raises `MissingExtraError` without
    matplotlib.

    >>> figure, (axes,) = new_figure(width=127.0, height=76.2)
    >>> [round(float(inch), 9) for inch in figure.get_size_inches()]
    [5.0, 3.0]
    """
    try:
        from matplotlib.figure import Figure
    except ImportError as error:
        raise MissingExtraError("pictures", "matplotlib", "plot", error) from None
    figure = Figure(figsize=(width / 25.4, height / 25.4), layout="constrained", facecolor="white")
    made = figure.subplots(rows, columns, squeeze=False, **grid)
    axes: list[Axes] = list(made.flat)
    for one in axes:
        plain_axes(one)
    return figure, axes


def plain_axes(axes: Axes) -> None:
    """Axes in our look: two edges, ticks outside, a faint grid behind."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set(color=GREY, linewidth=0.8)
    axes.tick_params(direction="out", length=3.0, width=0.8, color=GREY, labelsize=SIZE, labelcolor=INK)
    axes.grid(visible=True, color=PALE, linewidth=0.6)
    axes.set_axisbelow(True)
    for label in (axes.xaxis.label, axes.yaxis.label):
        label.set(fontsize=SIZE, color=INK)
    axes.title.set(fontsize=SIZE + 1.0, color=INK)


def axis_label(name: str, text: str | None = None) -> str:
    """What stands beside an axis: the quantity in words and its unit, from the tables of outputs and inputs.

    Parameters: `name` of an output, or path of an input; `text` other words for it.

    >>> axis_label("running_clearance"), axis_label("running.crank_speed"), axis_label("compression_ratio", "ratio")
    ('running clearance [mm]', 'crank speed [rpm]', 'ratio')
    """
    unit = OUTPUTS[name].unit if name in OUTPUTS else input_unit(name)
    words = text or name.rpartition(".")[2].replace("_", " ")
    return words if unit == "–" else f"{words} [{unit}]"


def layer_names(axes: Axes, middles: Sequence[float], names: Sequence[str]) -> None:
    """Names of stacked layers right of the axes, each at the middle of its layer's end, moved apart where they would overlap.

    Parameters: `middles` from the lowest layer up, in the axes' own unit; `names` one for each.
    """
    low, high = axes.get_ylim()
    height = axes.get_position().height * axes.figure.get_figheight() * 72.0  # type: ignore[union-attr]
    step = 1.15 * SIZE / max(height, 1.0)
    wanted = [(middle - low) / (high - low) for middle in middles]
    placed: list[float] = []
    for at in wanted:
        placed.append(max(at, placed[-1] + step) if placed else at)
    # those that were pushed over the top push back down
    ceiling = 1.0
    for index in range(len(placed) - 1, -1, -1):
        placed[index] = min(placed[index], ceiling)
        ceiling = placed[index] - step
    for at, to, name in zip(wanted, placed, names, strict=True):
        axes.annotate(
            name,
            (1.0, at),
            (1.04, to),
            xycoords="axes fraction",
            textcoords="axes fraction",
            fontsize=SIZE - 1.0,
            color=INK,
            va="center",
            arrowprops={"arrowstyle": "-", "linewidth": 0.5, "color": GREY, "shrinkA": 0.0, "shrinkB": 0.0},
        )


def save_picture(figure: Figure, stream: Any, kind: str) -> None:
    """Write `figure` into an open stream as `kind`; the same figure gives the same bytes."""
    import matplotlib

    # ids of an SVG are drawn by chance and its date by the clock, unless they are set
    dated = {"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(kind)
    with matplotlib.rc_context({"svg.hashsalt": "topend", "hatch.linewidth": 0.6, "path.simplify": True}):
        figure.savefig(stream, format=kind, dpi=_DOTS_PER_INCH, metadata=dated)


def write_picture(figure: Figure, path: str | os.PathLike[str]) -> Path:
    """Write `figure` to a file; its ending says the form: ``.png``, ``.svg`` or ``.pdf``. Returns the path.

    The file is written whole or not at all. Raises `ArgumentError` for another ending, or where it cannot be
    written.

    >>> import topend as te
    >>> te.write_picture(None, "gap.jpg")
    Traceback (most recent call last):
    topend.errors.ArgumentError: gap.jpg: a picture is written as .png, .svg or .pdf, by the file's ending; got '.jpg'
    """
    where = Path(path)
    kind = where.suffix.lower().removeprefix(".")
    if kind not in _FORMATS:
        raise ArgumentError(f"{where}: a picture is written as .png, .svg or .pdf, by the file's ending; got {where.suffix!r}")
    file_to_write(where, such_as="gap.svg")
    stream = io.BytesIO()
    save_picture(figure, stream, kind)
    return write_whole(stream.getvalue(), where, such_as="gap.svg")


def svg(figure: Figure) -> str:
    """`figure` as the text of an ``<svg>`` element, to stand in a page; without XML declaration and doctype."""
    stream = io.BytesIO()
    save_picture(figure, stream, "svg")
    text = stream.getvalue().decode("utf-8")
    return text[text.index("<svg") :]
