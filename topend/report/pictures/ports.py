"""When the ports are open, round the turn, and how far."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.curves import curve
from topend.errors import MissingInputError
from topend.evaluation import evaluate, needs_message
from topend.physics import wiring
from topend.report.pictures.style import DASHES, FILLS, GREY, INK, SIZE, axis_label, new_figure

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["port_openings"]

#: What is drawn, from the outer ring inward: name of the outputs, words.
_RINGS: Final = (
    ("exhaust", "exhaust"),
    ("auxiliary_exhaust", "auxiliary exhaust"),
    ("transfer", "transfers"),
    ("auxiliary_transfer", "auxiliary transfers"),
    ("inlet", "inlet"),
)
_AREAS: Final = ("exhaust", "transfer", "inlet")
_OUTER: Final = 1.0
_RING: Final = 0.13
#: Height of a line of words under the circle.
_ROW: Final = 0.14
#: How far beyond the last opening angle areas are drawn [deg].
_CLEAR: Final = 5.0
_LOOKS: Final = dict(zip((name for name, _ in _RINGS), (FILLS[0], FILLS[4], FILLS[2], FILLS[5], FILLS[7]), strict=True))


def port_openings(top: TopEnd, *, step: float = 1.0) -> Figure:
    """When exhaust, transfers and inlet are open, as arcs of a turn that runs clockwise from TDC at the top; beside it, open areas.

    Areas are drawn where windows are stated, every `step` degrees. Raises `MissingInputError` where no port's angles can be had.

    >>> from topend.parts import Crank, Cylinder, DeckReading, Port
    >>> top = TopEnd(crank=Crank(stroke="54.5 mm"), cylinder=Cylinder(ports=[Port(kind="exhaust", top="30 mm")]),
    ...              deck=DeckReading(clearance="0.5 mm"))
    >>> [text.get_text() for text in port_openings(top).axes[0].texts if "exhaust" in text.get_text()]
    ['exhaust 184.0 deg: 88.0 after to 88.0 before TDC']
    """
    structure = top.row.structure
    wanted = {name: (f"{name}_opens", f"{name}_duration") for name, _ in _RINGS}
    missing = wiring.plan(structure, tuple(one for pair in wanted.values() for one in pair)).missing
    rings = [(name, words) for name, words in _RINGS if not set(wanted[name]) & set(missing)]
    if not rings:
        needs = missing["exhaust_opens"].needs
        raise MissingInputError("port_openings", needs, needs_message("port_openings", needs))
    names = [f"{kind}_area_at_angle" for kind in _AREAS]
    lacking = wiring.plan(structure.with_given(["probe.crank_angle"]), tuple(names)).missing
    areas = [name for name in names if name not in lacking]
    if areas:
        figure, (axes, beside) = new_figure(width=180.0, height=100.0, columns=2, width_ratios=[1.0, 1.15])
    else:
        figure, (axes,) = new_figure(width=95.0, height=105.0)
    _circle(axes, top, rings)
    if areas:
        _areas(beside, top, areas, step, rings)
    return figure


def _circle(axes: Axes, top: TopEnd, rings: list[tuple[str, str]]) -> None:
    from matplotlib.patches import Circle, Rectangle, Wedge

    below = 1.3 + _ROW * len(rings)
    axes.set_aspect("equal")
    axes.set_axis_off()
    axes.set_xlim(-1.35, 1.35)
    axes.set_ylim(-below, 1.2)
    result = evaluate(top, [f"{name}_{what}" for name, _ in rings for what in ("opens", "duration")])
    for text, y, where in (("TDC", 1.04, "bottom"), ("BDC", -1.04, "top")):
        axes.text(0.0, y, text, fontsize=SIZE, color=GREY, ha="center", va=where)
    axes.plot([0.0, 0.0], [-1.02, 1.02], color=GREY, linewidth=0.6)
    marks: dict[int, list[tuple[float, float, str]]] = {1: [], -1: []}
    for index, (name, called) in enumerate(rings):
        face, hatch = _LOOKS[name]
        outer = _OUTER - index * (_RING + 0.02)
        opens, lasts = result.shown(f"{name}_opens"), result.shown(f"{name}_duration")
        # the inlet opens before TDC
        start = -opens if name == "inlet" else opens
        ring: Any = Circle((0.0, 0.0), outer - 0.5 * _RING, fill=False, edgecolor=GREY, linewidth=0.3)
        axes.add_patch(ring)
        # clockwise from the top, as the crank is seen to turn; a wedge runs anticlockwise from the right
        wedge: Any = Wedge((0.0, 0.0), outer, 90.0 - start - lasts, 90.0 - start, width=_RING)
        wedge.set(facecolor=face, edgecolor=INK, hatch=hatch, linewidth=0.6)
        axes.add_patch(wedge)
        ends = []
        for at in (start, start + lasts):
            x, y = math.sin(math.radians(at)), math.cos(math.radians(at))
            axes.plot([outer * x, 1.04 * x], [outer * y, 1.04 * y], color=INK, linewidth=0.5, linestyle=(0, (2, 2)))
            shown = (at + 180.0) % 360.0 - 180.0
            marks[1 if shown >= 0.0 else -1].append((1.08 * x, 1.04 * y, f"{abs(shown):.1f}"))
            ends.append(f"{abs(shown):.1f} {'after' if shown >= 0.0 else 'before'}")
        row = -1.3 - _ROW * index
        swatch: Any = Rectangle((-1.3, row - 0.045), 0.12, 0.09, facecolor=face, edgecolor=INK, hatch=hatch, linewidth=0.5)
        axes.add_patch(swatch)
        axes.text(-1.14, row, f"{called} {lasts:.1f} deg: {ends[0]} to {ends[1]} TDC", fontsize=SIZE - 1.0, color=INK, va="center")
    for side, found in marks.items():
        placed: float | None = None
        # from the top down, none on another
        for x, y, text in sorted(found, key=lambda one: -one[1]):
            placed = y if placed is None else min(y, placed - 0.11)
            axes.text(x, placed, text, fontsize=SIZE - 1.0, color=INK, ha="left" if side > 0 else "right", va="center")


def _span(top: TopEnd, rings: list[tuple[str, str]]) -> tuple[float, float]:
    """From which angle to which areas are drawn: a turn, and as much more as a port is open beyond it."""
    result = evaluate(top, [f"{name}_{what}" for name, _ in rings for what in ("opens", "duration")])
    low, high = -90.0, 270.0
    for name, _ in rings:
        opens, lasts = result.shown(f"{name}_opens"), result.shown(f"{name}_duration")
        start = -opens if name == "inlet" else opens
        low, high = min(low, start - _CLEAR), max(high, start + lasts + _CLEAR)
    return 10.0 * math.floor(low / 10.0), 10.0 * math.ceil(high / 10.0)


def _areas(axes: Axes, top: TopEnd, names: list[str], step: float, rings: list[tuple[str, str]]) -> None:
    """Open areas over the turn, those of the crown's ports about BDC and that of the inlet about TDC."""
    low, high = _span(top, rings)
    made = curve(top, names, crank_angle=f"{low:g}:{high:g}:{step:g} deg")
    for name, dashes in zip(names, DASHES, strict=False):
        area = made.value[name]
        axes.plot(made.at, area, color=INK, linewidth=1.4, linestyle=dashes)
        at = int(np.nanargmax(area))
        axes.annotate(
            f"{name.split('_')[0]} {area[at]:.0f} mm²",
            (made.at[at], area[at]),
            (0, 3),
            textcoords="offset points",
            fontsize=SIZE,
            color=INK,
            ha="center",
        )
    axes.set_xlim(low, high)
    axes.set_xticks([-90, 0, 90, 180, 270])
    axes.set_ylim(0.0, max(float(np.nanmax(made.value[name])) for name in names) * 1.12)
    axes.set_xlabel("crank angle after TDC [deg]")
    axes.set_ylabel(axis_label("exhaust_area_at_angle", "open area"))
