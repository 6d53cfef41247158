"""The closed cycle over the crank angle, and variants ranked by knock at equal work."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.assembly import TopEnd
from topend.checks.cycle import OCTANES, octane_findings, octane_number
from topend.cycles import closed_cycle
from topend.errors import ArgumentError
from topend.report.pictures.style import DASHES, GREY, INK, MARK, PALE, SIZE, TINT, new_figure
from topend.solve.knock_ranking import Ranked

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["cycle_over_angle", "knock_ranking"]


def cycle_over_angle(top: TopEnd) -> Figure:
    """Pressure over the crank angle with its peak, temperatures of end gas and burned gas, and the knock integral.

    Raises `MissingInputError` where the closed cycle cannot be had.

    >>> from topend.parts import AssembledVolume, Burn, Crank, Cylinder, DeckReading, Port, Running
    >>> top = TopEnd(crank=Crank(stroke="54.5 mm", rod_length="110 mm"), running=Running(crank_speed="9000 rpm"), burn=Burn(spark="16 deg"),
    ...              cylinder=Cylinder(bore="54 mm", ports=[Port(kind="exhaust", top="30 mm")]), deck=DeckReading(clearance="0 mm"),
    ...              assembled=AssembledVolume(volume="11.5 cc"), base_gaskets=[], head_gaskets=[])
    >>> [axes.get_ylabel() for axes in cycle_over_angle(top).axes]
    ['pressure [bar]', 'temperature [K]', 'knock integral']
    """
    made = closed_cycle(top)
    figure, (pressure, temperature, knock) = new_figure(height=150.0, rows=3, sharex=True, height_ratios=[1.5, 1.0, 1.0])
    assert top.burn is not None
    spark = -float(top.burn.spark.m_as("deg"))
    for axes in (pressure, temperature, knock):
        axes.axvline(0.0, color=PALE, linewidth=0.8)
        axes.axvline(spark, color=GREY, linewidth=0.8, linestyle=DASHES[2])
    pressure.annotate("spark ", (spark, 0.97), xycoords=("data", "axes fraction"), ha="right", va="top", fontsize=SIZE, color=GREY)
    pressure.plot(made.crank_angle, made.pressure, color=INK, linewidth=1.4)
    pressure.plot(made.peak_pressure_angle, made.peak_pressure, marker="o", color=MARK, markersize=4.5)
    pressure.annotate(
        f"{made.peak_pressure:.1f} bar at {made.peak_pressure_angle:.1f} deg",
        (made.peak_pressure_angle, made.peak_pressure),
        (8, 0),
        textcoords="offset points",
        fontsize=SIZE,
        color=MARK,
        va="center",
    )
    pressure.set_ylim(0.0, made.peak_pressure * 1.12)
    pressure.set_ylabel("pressure [bar]")
    for name, values, color, dash in (
        ("end gas", made.end_gas_temperature, INK, DASHES[0]),
        ("burned gas", made.burned_temperature, TINT, DASHES[1]),
    ):
        temperature.plot(made.crank_angle, values, color=color, linewidth=1.2, linestyle=dash)
        top_at = int(np.nanargmax(values))
        temperature.annotate(
            name,
            (made.crank_angle[top_at], values[top_at]),
            (0, 4),
            textcoords="offset points",
            fontsize=SIZE,
            color=color,
            va="bottom",
            ha="center",
        )
    temperature.set_ylabel("temperature [K]")
    temperature.set_ylim(0.0, float(np.nanmax(made.burned_temperature)) * 1.18)
    knock.plot(made.crank_angle, made.knock_integral, color=INK, linewidth=1.2)
    knock.axhline(1.0, color=MARK, linewidth=0.8, linestyle=DASHES[1])
    knock.annotate("knocks", (made.crank_angle[0], 1.0), (2, -3), textcoords="offset points", fontsize=SIZE, color=MARK, va="top")
    knock.set_ylim(0.0, max(1.1, float(np.nanmax(made.knock_integral)) * 1.1))
    if octane_findings(top):
        told = fill(f"octane number {octane_number(top):.0f}: {_BEYOND}", 56)
        knock.annotate(told, (0.995, 0.84), xycoords="axes fraction", ha="right", va="top", fontsize=SIZE, color=MARK)
    knock.set_ylabel("knock integral")
    knock.set_xlabel("crank angle after TDC [deg]")
    knock.set_xlim(made.crank_angle[0], made.crank_angle[-1])
    return figure


def knock_ranking(ranked: Sequence[Ranked]) -> Figure:
    """Variants as `rank_by_knock` gives them, greatest margin on top: the margin, where 95 of 100 draws lie, and how often each is best.

    The bars are wide by what bears on all alike; how often a variant is best is what the draws in common say of the order. Below it is said
    whose octane number lies beyond those that the knock delay was measured with; their margins are drawn hollow.

    >>> one = Ranked("head A", 16.0, 0.4, 0.2, 0.55, 0.9, 48.0, 7.2, 98.0)
    >>> knock_ranking([one]).axes[0].get_xlabel()
    'knock margin at equal work'
    """
    shown = [one for one in ranked if one.spark is not None]
    if not shown:
        raise ArgumentError("knock_ranking has nothing to draw: none of the variants reaches the work asked for; ask for less of it")
    beyond = {one.octane: [other.name for other in shown if other.octane == one.octane] for one in shown if one.findings}
    figure, (axes,) = new_figure(height=24.0 + 8.0 * max(3, len(shown)) + 9.0 * len(beyond))
    places = np.arange(len(shown))[::-1]
    for place, one in zip(places, shown, strict=True):
        axes.plot([one.low, one.high], [place, place], color=PALE, linewidth=6.0, solid_capstyle="butt")
        ink = INK if one.low > 0.0 else MARK
        axes.plot(one.knock_margin, place, marker="o", color=ink, markerfacecolor="white" if one.findings else ink, markersize=4.5)
        told = f"  {one.spark:.1f} deg, ratio {one.trapped_compression_ratio:.2f}, {one.peak_pressure:.0f} bar; "
        told += f"best in {100 * one.best:.0f} %"
        axes.annotate(told, (1.0, place), xycoords=("axes fraction", "data"), fontsize=SIZE, color=GREY, va="center", annotation_clip=False)
    axes.axvline(0.0, color=MARK, linewidth=0.8, linestyle=DASHES[1])
    axes.set_yticks(places, [one.name for one in shown])
    axes.set_ylim(-0.7, len(shown) - 0.3)
    low, high = min(one.low for one in shown), max(one.high for one in shown)
    # where all are far from knock, the edge of it would squeeze them into one heap
    space = 0.05 * (high - low) + 0.005
    axes.set_xlim(min(0.0, low) - space if low < high - low else low - space, high + space)
    whose = [fill(f"octane number {octane:.0f} ({_names(names, len(shown))}): {_BEYOND}", 72) for octane, names in beyond.items()]
    axes.set_xlabel("\n".join(("knock margin at equal work", *whose)))
    return figure


#: What is said of a margin worked out with such an octane number.
_BEYOND: Final = f"outside {OCTANES[0]:.0f} to {OCTANES[1]:.0f}, which the knock delay was measured with: an extrapolation"


def _names(names: Sequence[str], of: int) -> str:
    return "all" if len(names) == of else ", ".join(names) if len(names) < 4 else f"{len(names)} of {of}"
