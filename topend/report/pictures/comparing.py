"""Heads compared: squish velocity against running clearance, and both over the gap."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from topend.errors import FitError
from topend.report.pictures.style import DASHES, GREY, INK, MARK, SIZE, TINT, axis_label, new_figure
from topend.solve.compare import FRONT, Comparison

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["heads_compared"]

_POINTS = ("o", "s", "^", "D", "v", "P", "X")


def heads_compared(found: Comparison) -> Figure:
    """Each head's squish velocity against its running clearance over the gaps, at the highest speed, the front marked; below, over the gap.

    Heads are told apart by the shape of their points and the dash of their lines, and named where their line ends. Raises `FitError`
    where squish velocity or running clearance were not had, `MissingExtraError` without matplotlib.

    >>> from topend.assembly import TopEnd
    >>> from topend.parts import Crank, Cylinder, DeckReading, FlatCrown, FlushHead, Piston, Running, SquishBand
    >>> from topend.solve.compare import compare
    >>> band = SquishBand(outer_diameter="50 mm", inner_diameter="35 mm", angle="2 deg")
    >>> top = TopEnd(crank=Crank(stroke="50 mm"), cylinder=Cylinder(bore="50 mm"), piston=Piston(crown=FlatCrown()), base_gaskets=[],
    ...              head_gaskets=[], deck=DeckReading(clearance="0.9 mm"), running=Running(crank_speed="9000 rpm"))
    >>> found = compare(top, [FlushHead(chamber_volume="8 cc", band=band)], aims={"running_clearance": "largest"})
    >>> heads_compared(found).axes[0].get_xlabel()
    'running clearance [mm]'
    """
    lacking = [name for name in FRONT if name not in found.values]
    if lacking:
        raise FitError(f"the picture shows {FRONT[0]} against {FRONT[1]}; {', '.join(lacking)} cannot be had here")
    over_gap = len(found.gaps) > 1
    figure, axes = new_figure(height=150.0 if over_gap else 90.0, rows=3 if over_gap else 1, height_ratios=[2, 1, 1] if over_gap else [1])
    at = int(np.argmax(np.nan_to_num(np.array(found.speeds), nan=0.0)))
    velocity, clearance = (found.values[name][:, :, at] for name in FRONT)
    main = axes[0]
    for head, name in enumerate(found.names):
        color = (INK, TINT, GREY)[head % 3]
        style = {
            "color": color,
            "linestyle": DASHES[head % len(DASHES)],
            "marker": _POINTS[head % len(_POINTS)],
            "markersize": 4.0,
            "linewidth": 1.2,
        }
        known = np.flatnonzero(~np.isnan(velocity[head]) & ~np.isnan(clearance[head]))
        if not len(known):
            continue
        main.plot(clearance[head, known], velocity[head, known], **style)
        main.annotate(
            name, (clearance[head, known[-1]], velocity[head, known[-1]]), (4, 4), textcoords="offset points", fontsize=SIZE, color=color
        )
        if over_gap:
            gaps = np.array(found.gaps)[known]
            axes[1].plot(gaps, velocity[head, known], **style)
            axes[2].plot(gaps, clearance[head, known], **style)
    if found.front:
        rows, columns = zip(*found.front, strict=True)
        main.plot(
            clearance[rows, columns], velocity[rows, columns], color=MARK, linewidth=2.4, alpha=0.35, solid_capstyle="round", zorder=1
        )
    main.set_xlabel(axis_label(FRONT[1]))
    main.set_ylabel(axis_label(FRONT[0]))
    speed = found.speeds[at]
    title = "Heads compared" + ("" if math.isnan(speed) else f" at {speed:.0f} rpm")
    main.set_title(f"{title}; the broad line is the front" if found.front else title, loc="left", fontsize=SIZE + 1.0, color=INK)
    if over_gap:
        for one, name in ((axes[1], FRONT[0]), (axes[2], FRONT[1])):
            one.set_ylabel(axis_label(name, name.replace("_", " ").replace("squish velocity peak", "squish velocity")))
        axes[2].set_xlabel(axis_label("squish_edge", "gap at the band's edge"))
    return figure
