"""The gap over the radius."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from topend.assembly import GAP_AT, TopEnd
from topend.errors import MissingInputError
from topend.evaluation import needs_message
from topend.physics import crown, squish, wiring
from topend.physics.wiring.profile import bulge, corner, corner_count
from topend.report.pictures.style import GREY, INK, MARK, PALE, SIZE, TINT, axis_label, new_figure
from topend.wires import wire_places

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

__all__ = ["gap_over_radius"]

_POINTS = 801


def gap_over_radius(top: TopEnd) -> Figure:
    """The gap at TDC, cold, over the radius: above it crown and head in section, heights drawn larger than widths.

    Drawn from the band's inner edge to the crown's, as `Result.gap_at`: further in the gap is that of the bowl, which is
    drawn in the section where the head has a half-section (`profile`). Marked are the
    least gap and, by dashed lines, where wire is laid (`topend.wires`). Raises `MissingInputError` where the
    gap cannot be had.

    >>> from topend.parts import Cylinder, DeckReading, FlatCrown, FlushHead, Gasket, Piston, SquishBand
    >>> top = TopEnd(cylinder=Cylinder(bore="54 mm"), piston=Piston(crown=FlatCrown()), deck=DeckReading(clearance="0.7 mm"),
    ...              head=FlushHead(band=SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="2 deg")),
    ...              head_gaskets=[Gasket(role="head", thickness="0.3 mm")])
    >>> gap_over_radius(top).axes[1].get_xlabel()
    'radius [mm]'
    """
    planned = wiring.plan(top.row.structure, (*GAP_AT.values(), "head.band.outer_radius", "piston.crown.centre_rise"))
    lacking = list(dict.fromkeys(path for missing in planned.missing.values() for path in missing.needs))
    if lacking:
        raise MissingInputError("gap_over_radius", lacking, needs_message("gap_over_radius", lacking))
    known = wiring.run(planned, top.values)
    at = {name: known[path] for name, path in GAP_AT.items()}
    inner, edge = float(at["inner_radius"][0]), float(at["crown_radius"][0])
    outer = float(known["head.band.outer_radius"][0])
    radius = np.linspace(0.0, edge, _POINTS)
    shape = {name: at[name] for name in ("cap_height", "cap_radius", "edge_slope", "crown_radius")}
    rise = crown.crown_rise(radius=radius, **shape)
    banded = np.linspace(inner, edge, _POINTS)
    gap = squish.gap_at(radius=banded, **at)
    below = crown.crown_rise(radius=banded, **shape)

    figure, (section, axes) = new_figure(height=120.0, rows=2, sharex=True, height_ratios=[1.0, 1.15])
    section.fill_between(radius * 1e3, rise * 1e3, min(0.0, float(rise.min()) * 1e3) - 1.0, color=PALE, linewidth=0)
    section.plot(radius * 1e3, rise * 1e3, color=INK, linewidth=1.4)
    head = (below + gap) * 1e3
    bowl = _bowl(top, float(at["squish_edge"][0]))
    roof = max(float(head.max()), 0.0 if bowl is None else float(bowl[1].max())) + 1.0
    section.fill_between(banded * 1e3, head, roof, facecolor="white", edgecolor=GREY, hatch="////", linewidth=0)
    section.plot(banded * 1e3, head, color=TINT, linewidth=1.4)
    section.set_ylabel("above crown edge [mm]")
    section.annotate(
        "piston", (edge * 0.25e3, float(rise[_POINTS // 4]) * 1e3), (0, -12), textcoords="offset points", fontsize=SIZE, color=INK
    )
    words = section.annotate(
        "head", ((inner + outer) * 0.5e3, roof), (0, -11), textcoords="offset points", fontsize=SIZE, color=INK, ha="center"
    )
    words.set_bbox({"facecolor": "white", "edgecolor": "none", "pad": 1.0})
    if bowl is None:
        section.text(inner * 0.5e3, roof, "bowl: shape not known", fontsize=SIZE, color=GREY, ha="center", va="top")
    else:
        section.fill_between(*bowl, roof, where=bowl[0] <= inner * 1e3, facecolor="white", edgecolor=GREY, hatch="////", linewidth=0)
        section.plot(*bowl, color=TINT, linewidth=1.4)

    axes.axvspan(inner * 1e3, outer * 1e3, color=PALE, alpha=0.6, linewidth=0)
    axes.plot(banded * 1e3, gap * 1e3, color=INK, linewidth=1.4)
    counts = banded <= outer * (1.0 + 1e-12)
    least = int(np.argmin(np.where(counts, gap, np.inf)))
    axes.plot(banded[least] * 1e3, gap[least] * 1e3, marker="o", color=MARK, markersize=4.5)
    axes.annotate(
        f"least {gap[least] * 1e3:.2f} mm at radius {banded[least] * 1e3:.1f} mm",
        (banded[least] * 1e3, gap[least] * 1e3),
        (-8, -4),
        textcoords="offset points",
        fontsize=SIZE,
        color=MARK,
        ha="right",
        va="top",
    )
    for wire in wire_places(top):
        axes.axvline(wire.radius * 1e3, color=GREY, linewidth=0.8, linestyle=(0, (4, 2)))
        told = f"wire {wire.gap * 1e3:.2f} mm  " if wire.at == "usual" else f"second wire {wire.gap * 1e3:.2f} mm  "
        axes.annotate(told, (wire.radius * 1e3, 0.0), (0, 5), textcoords="offset points", fontsize=SIZE, color=GREY, ha="right")
    axes.text((inner + outer) * 0.5e3, 0.97, "band", transform=axes.get_xaxis_transform(), fontsize=SIZE, color=GREY, ha="center", va="top")
    axes.set_ylim(0.0, float(gap.max()) * 1.25e3)
    axes.set_xlim(0.0, edge * 1e3)
    axes.set_ylabel(axis_label("squish_edge", "gap at TDC, cold"))
    axes.set_xlabel("radius [mm]")
    return figure


def _bowl(top: TopEnd, squish_edge: float) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Radii and heights above the crown's edge [mm] along the head's half-section, from its band to the axis; None without one."""
    count = corner_count(top.row.structure)
    if not count:
        return None
    names = [name for index in range(count) for name in corner(index)] + [bulge(index) for index in range(count - 1)]
    planned = wiring.plan(top.row.structure, tuple(names))
    if planned.missing:
        return None
    known = wiring.run(planned, top.values)
    # corners as points of the plane, radius along and height up
    places = [complex(*(float(known[name][0]) for name in corner(index))) for index in range(count)]
    made = [np.array([places[0]])]
    for index, (start, end) in enumerate(pairwise(places)):
        quarter = np.arctan(float(known[bulge(index)][0]))
        # of the angle that an arc turns, the chord to a point at share t makes with the whole chord half of what is left
        share = np.linspace(0.0, 1.0, 41)[1:] if quarter != 0.0 else np.array([1.0])
        turn = 2.0 * quarter
        along = share if quarter == 0.0 else np.sin(turn * share) / np.sin(turn) * np.exp(1j * turn * (share - 1.0))
        made.append(start + (end - start) * along)
    line = np.concatenate(made)
    return line.real * 1e3, (squish_edge + line.imag) * 1e3
