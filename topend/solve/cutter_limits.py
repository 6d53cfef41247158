"""What of a cutter's limits a designed head does not keep, and what of them its half-section does not let be judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from topend.assembly import TopEnd
from topend.parts import Cutter
from topend.physics import wiring
from topend.solve.design_answers import digits_apart

__all__ = ["judged"]

#: A limit just met is met, whatever rounding makes of it.
_MET: Final = 1e-9


@dataclass(frozen=True, slots=True)
class _Limit:
    """One limit: the least [mm] that a cutter sets, the quantity of a head held against it, and what is said of it."""

    name: str
    takes: str
    words: str
    unjudged: str
    figure: Callable[[float, Cutter], float] = lambda value, cutter: value


_LIMITS: Final = (
    _Limit(
        "tool_radius",
        "head.profile.tightest_arc",
        "the tightest hollow has a radius of {0} mm, the tool one of {1} mm",
        "the half-section does not say how tight it is",
    ),
    _Limit(
        "plug_boss",
        "head.profile.boss_radius",
        "the chamber rises above the plug's face from a diameter of {0} mm on, inside the plug's boss of {1} mm",
        "the section is a contour, whose height around the plug is not judged",
        lambda value, cutter: 2.0 * value,
    ),
    _Limit(
        "least_wall",
        "chamber_depth",
        "the wall above the chamber is {0} mm, less than {1} mm",
        "the height of the chamber is not known",
        # the cutter has no wall without its outside
        lambda value, cutter: (cutter.outer_height.m_as("mm") if cutter.outer_height is not None else np.inf) - value,
    ),
    _Limit(
        "least_thread",
        "head.profile.plug.thread_length",
        "the plug's thread is {0} mm long, less than {1} mm",
        "neither thread_length nor seat_height of the plug is given",
    ),
)


def judged(top: TopEnd, cutter: Cutter | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What a head breaks of the cutter's limits, in words, and the limits that cannot be judged, each with the reason."""
    asked = [limit for limit in _LIMITS if cutter is not None and getattr(cutter, limit.name) is not None]
    if cutter is None or not asked:
        return (), ()
    planned = wiring.plan(top.row.structure, tuple(limit.takes for limit in asked))
    values = wiring.run(planned, top.values)
    breaks, open_ones = [], []
    for limit in asked:
        least = getattr(cutter, limit.name).m_as("mm")
        if limit.takes in planned.missing:
            open_ones.append(f"{limit.name}: {limit.unjudged}")
            continue
        figure = limit.figure(float(np.ravel(values[limit.takes])[0]) * 1e3, cutter)
        if figure < least * (1.0 - _MET):
            digits = digits_apart(figure, least)
            breaks.append(limit.words.format(f"{figure:.{digits}f}", f"{least:.{digits}f}"))
    return tuple(breaks), tuple(open_ones)
