"""What is left of the gap over crank speed, and what closes it, part upon part."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.curves import curve
from topend.errors import MissingInputError
from topend.evaluation import needs_message
from topend.physics import wiring
from topend.physics.wiring import CLOSING_PARTS
from topend.quantities import OUTPUTS
from topend.report.pictures.style import FILLS, GREY, INK, MARK, PALE, SIZE, axis_label, layer_names, new_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["clearance_over_speed"]

#: From idle, and how far beyond the stated speed.
_IDLE_RPM: Final = 1500.0
_OVER: Final = 1.2
_POINTS: Final = 61
_WORDS: Final = {
    "rod": "rod stretched",
    "small_end": "small-end rollers",
    "big_end": "big-end rollers",
    "main_bearings": "main bearings",
    "crankpin": "crankpin",
    "crank": "webs and shaft",
    "small_end_play": "small-end play",
    "big_end_play": "big-end play",
    "main_bearing_play": "main-bearing play",
    "unexplained": "unexplained",
}


def clearance_over_speed(top: TopEnd, *, crank_speed: Any = None, draws: int = 4000, seed: int = 0) -> Figure:
    """What is left of the least gap over crank speed, throttle shut, with its band; below, the closing as its parts, one on another.

    Parameters: `crank_speed` the speeds, as `topend.curve` takes them; not given: from 1500 rpm to a fifth over that which is stated.
    `draws` from `seed` for the band, between which 95 % of them lie. Without a least gap the closing alone is drawn, with its band.
    Raises `MissingInputError` where the closing cannot be had.

    >>> from topend.parts import Crank, Cylinder, Running
    >>> top = TopEnd(crank=Crank(stroke="54.5 mm"), cylinder=Cylinder(bore="54 mm"), running=Running(crank_speed="12000 rpm"))
    >>> clearance_over_speed(top, draws=100).axes[0].get_ylabel()
    'closing, throttle shut [mm]'
    """
    parts = [f"closure_{part}" for part in CLOSING_PARTS]
    missing = wiring.plan(top.row.structure, (*parts, "closure_total", "running_clearance")).missing
    if "closure_total" in missing:
        needs = missing["closure_total"].needs
        raise MissingInputError("clearance_over_speed", needs, needs_message("clearance_over_speed", needs))
    shown = "closure_total" if "running_clearance" in missing else "running_clearance"
    stated = None if top.running is None else top.running.crank_speed.m_as("rpm")
    if crank_speed is None:
        assert stated is not None  # the closing cannot be had without it
        crank_speed = [f"{speed:.6f} rpm" for speed in np.linspace(_IDLE_RPM, max(_OVER * stated, 2 * _IDLE_RPM), _POINTS)]
    made = curve(top, shown, crank_speed=crank_speed, draws=draws, seed=seed)
    closing = curve(top, parts, crank_speed=crank_speed)

    figure, (axes, below) = new_figure(height=130.0, rows=2, sharex=True, height_ratios=[1.25, 1.0])
    speed = made.at
    axes.fill_between(speed, made.low[shown], made.high[shown], color=PALE, linewidth=0)
    axes.plot(speed, made.value[shown], color=INK, linewidth=1.5)
    axes.set_xlim(float(speed[0]), float(speed[-1]))
    if shown == "running_clearance":
        axes.axhline(0.0, color=MARK, linewidth=1.0)
        axes.text(speed[0], 0.0, " crown and head touch", fontsize=SIZE, color=MARK, va="bottom")
        axes.set_ylabel(axis_label(shown, "left of the least gap, throttle shut"))
        low = min(0.0, float(np.nanmin(made.low[shown])))
        axes.set_ylim(low - 0.05, float(np.nanmax(made.high[shown])) * 1.10 + 0.02)
    else:
        axes.set_ylabel(axis_label(shown, "closing, throttle shut"))
        axes.set_ylim(0.0, float(np.nanmax(made.high[shown])) * 1.20)
    words = "as stated; the band holds 95 % of what the limits leave"
    axes.text(0.5, 1.01, words, transform=axes.transAxes, fontsize=SIZE, color=GREY, ha="center", va="bottom")

    base = np.zeros_like(speed)
    middles, names = [], []
    for part, (face, hatch) in zip(CLOSING_PARTS, FILLS, strict=True):
        value = closing.value[f"closure_{part}"]
        # what closes nothing is not drawn, nor named
        if not np.any(np.abs(value) > 0.0):
            continue
        below.fill_between(speed, base, base + value, facecolor=face, edgecolor=INK, hatch=hatch, linewidth=0.4)
        middles.append(float(base[-1] + 0.5 * value[-1]))
        names.append(_WORDS[part])
        base = base + value
    below.set_ylim(0.0, float(base.max()) * 1.05)
    below.set_ylabel(axis_label("closure_total", "closing, part on part"))
    below.set_xlabel(axis_label("running.crank_speed"))
    layer_names(below, middles, names)
    if stated is not None and speed[0] <= stated <= speed[-1]:
        for one in (axes, below):
            one.axvline(stated, color=GREY, linewidth=0.8, linestyle=(0, (4, 2)))
        at = float(np.interp(stated, speed, made.value[shown]))
        ends = [float(np.interp(stated, speed, side[shown])) for side in (made.low, made.high)]
        unit = OUTPUTS[shown].unit
        axes.annotate(
            f"{stated:.0f} rpm: {at:.2f} {unit}\n({ends[0]:.2f} to {ends[1]:.2f})",
            (stated, ends[1]),
            (-5, 3),
            textcoords="offset points",
            fontsize=SIZE,
            color=INK,
            ha="right",
        )
    return figure
