"""Squish velocity, and the volume that feeds it, over crank angle."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.curves import curve
from topend.errors import MissingInputError
from topend.evaluation import evaluate, needs_message
from topend.physics import wiring
from topend.report.pictures.style import GREY, INK, MARK, PALE, SIZE, TINT, axis_label, new_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["squish_velocity_over_angle"]

_NAMES: Final = ("squish_velocity_at_angle", "band_volume_at_angle")


def squish_velocity_over_angle(top: TopEnd, *, crank_angle: Any = "-60:30:0.5 deg", draws: int = 2000, seed: int = 0) -> Figure:
    """Squish velocity at the band's inner edge over crank angle, inward positive, with its band; below, the volume in the band.

    Parameters: `crank_angle` the angles, as `topend.curve` takes them, after TDC; `draws` from `seed` for the band. Raises
    `MissingInputError` where the velocity cannot be had.

    >>> squish_velocity_over_angle(TopEnd())  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    topend.errors.MissingInputError: squish_velocity_over_angle cannot be had: it needs ...
    """
    planned = wiring.plan(top.row.structure.with_given(["probe.crank_angle"]), _NAMES)
    if planned.missing:
        needs = list(dict.fromkeys(path for lack in planned.missing.values() for path in lack.needs))
        raise MissingInputError("squish_velocity_over_angle", needs, needs_message("squish_velocity_over_angle", needs))
    velocity, volume = _NAMES
    made = curve(top, _NAMES, crank_angle=crank_angle, draws=draws, seed=seed)
    peak = evaluate(top, ["squish_velocity_peak", "squish_velocity_angle"])
    angle, value = made.at, made.value[velocity]

    figure, (axes, below) = new_figure(height=115.0, rows=2, sharex=True, height_ratios=[2.0, 1.0])
    axes.fill_between(angle, made.low[velocity], made.high[velocity], color=PALE, linewidth=0)
    axes.plot(angle, value, color=INK, linewidth=1.5)
    axes.axhline(0.0, color=GREY, linewidth=0.8)
    greatest = peak.shown("squish_velocity_peak") * (1.0 if peak.squish_direction == "inward" else -1.0)
    at = -peak.shown("squish_velocity_angle")
    if angle[0] <= at <= angle[-1]:
        axes.plot(at, greatest, marker="o", color=MARK, markersize=4.5)
        axes.annotate(
            f"{abs(greatest):.1f} m/s {peak.squish_direction},\n{-at:.1f} deg before TDC",
            (at, greatest),
            (-10, 6 if greatest > 0.0 else -6),
            textcoords="offset points",
            fontsize=SIZE,
            color=MARK,
            ha="right",
            va="bottom" if greatest > 0.0 else "top",
        )
    most = float(np.nanmax(np.abs(np.concatenate([value, [greatest]])))) * 1.35
    axes.set_ylim(-most, most)
    axes.set_ylabel(axis_label(velocity, "squish velocity, inward"))
    axes.text(0.99, 0.97, "uniform pressure, no leakage", transform=axes.transAxes, fontsize=SIZE, color=GREY, ha="right", va="top")
    below.fill_between(angle, made.low[volume], made.high[volume], color=PALE, linewidth=0)
    below.plot(angle, made.value[volume], color=TINT, linewidth=1.5)
    below.set_ylim(0.0, float(np.nanmax(made.value[volume])) * 1.05)
    below.set_ylabel(axis_label(volume, "volume in the band"))
    below.set_xlabel("crank angle after TDC [deg]")
    below.set_xlim(float(angle[0]), float(angle[-1]))
    for one in (axes, below):
        one.axvline(0.0, color=GREY, linewidth=0.8, linestyle=(0, (4, 2)))
    below.text(0.0, 0.97, " TDC", transform=below.get_xaxis_transform(), fontsize=SIZE, color=GREY, va="top")
    return figure
