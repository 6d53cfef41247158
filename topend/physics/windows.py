"""Port windows: how much of one is open at a piston position, and its time-area.

A window is a rectangle with rounded corners, seen along its radius; the crown's edge uncovers it from its roof down. Areas are those of
the window itself: passages behind it, their angle, chamfers and how well gas flows through are not modelled.

Arguments mean the same in every kernel here, and broadcast together: `width` chordal [m]; `height` roof to floor [m];
`corner_radius` [m], 0 or more, at most half of either.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import choose, kernel, only
from topend.physics.slider_crank import piston_drop

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["angle_area", "chord_from_arc", "skirt_angle_area", "specific_time_area", "window_area"]


@kernel
def chord_from_arc(*, arc: Column, bore: Column) -> Column:
    """Chordal width [m] of a window whose width was measured along the wall: D sin(a/D).

    Parameters: `arc` a [m]; `bore` D [m].

    >>> round(float(chord_from_arc(arc=0.036, bore=0.054)) * 1e3, 4)
    33.392
    """
    return bore * np.sin(arc / bore)


def _cut(depth: Column, radius: Column) -> Column:
    """What two rounded corners take from the first `depth` of a window, 0 to their radius."""
    rest = np.minimum(np.maximum(radius - depth, 0.0), radius)
    share = np.minimum(rest / radius, 1.0)
    # 2 (r t - (πr²/2 - u √(r² - u²) - r² asin(u/r))/2), u what is left of the radius
    square = radius * radius
    made = 2.0 * radius * (radius - rest) - (
        0.5 * np.pi * square - rest * np.sqrt(np.maximum(square - rest * rest, 0.0)) - square * np.arcsin(share)
    )
    return choose(radius > 0.0, made, 0.0 * (radius + depth))


@kernel
def window_area(*, uncovered: Column, width: Column, height: Column, corner_radius: Column) -> Column:
    """Open area of a window [m²] of which the crown's edge has uncovered `uncovered` [m] from the roof down; 0 while it is shut.

    Parameters as the module says. Equation: width times the uncovered height, less what the corners take from it in closed form.
    NaN where a corner does not fit into the window.

    >>> a = window_area(uncovered=0.010, width=0.036, height=0.020, corner_radius=0.0)
    >>> round(float(a) * 1e6, 6)
    360.0
    """
    radius = only(corner_radius, (corner_radius >= 0.0) & (2.0 * corner_radius <= width) & (2.0 * corner_radius <= height))
    open_height = np.minimum(np.maximum(uncovered, 0.0), height)
    bottom = _cut(radius + 0.0 * open_height, radius) - _cut(height - open_height, radius)
    return width * open_height - _cut(open_height, radius) - bottom


#: Points and weights from 0 to 1 of Gauss and Legendre.
_AT, _WEIGHT = ((0.5 * made).tolist() for made in np.polynomial.legendre.leggauss(64))


def _summed(
    start: Column, stop: Column, uncovered: Callable[[Column], Column], window: dict[str, Column], crank: dict[str, Column]
) -> Column:
    """Open area of a window over crank angle [m² rad]; `uncovered` gives how much of its height is [m], by the piston's drop [m]."""
    span = stop - start
    total: Column = 0.0 * span
    for point, weight in zip(_AT, _WEIGHT, strict=True):
        drop = piston_drop.raw(crank_angle=start + span * (0.5 + point), **crank)
        total = total + weight * window_area.raw(uncovered=uncovered(drop), **window)
    return total * span


@kernel
def angle_area(
    *,
    start: Column,
    stop: Column,
    roof_drop: Column,
    width: Column,
    height: Column,
    corner_radius: Column,
    throw: Column,
    rod_length: Column,
    offset: Column,
) -> Column:
    """Angle-area of a window [m² rad]: its open area summed over crank angle from `start` to `stop` [rad after TDC].

    Parameters: `roof_drop` the piston's drop at which the roof is uncovered [m]; window as the module says; `throw` [m],
    `rod_length` [m] and `offset` [m] as in `slider_crank`. By 64 points of Gauss and Legendre over the whole: to 1e-10 for a square window
    that the crown never uncovers below its floor, and to 3e-4 where corners or a floor break the curve.

    >>> o = np.radians(88.5772922668)
    >>> a = angle_area(start=o, stop=2 * np.pi - o, roof_drop=0.030, width=0.036, height=0.025, corner_radius=0.0,
    ...                throw=0.02725, rod_length=0.110, offset=0.0)
    >>> round(float(np.degrees(a)) * 1e6, 2)
    105694.2
    """
    window, crank = (
        {"width": width, "height": height, "corner_radius": corner_radius},
        {"throw": throw, "rod_length": rod_length, "offset": offset},
    )
    return _summed(start, stop, lambda drop: drop - roof_drop, window, crank)


@kernel
def skirt_angle_area(
    *,
    start: Column,
    stop: Column,
    floor_drop: Column,
    width: Column,
    height: Column,
    corner_radius: Column,
    throw: Column,
    rod_length: Column,
    offset: Column,
) -> Column:
    """Angle-area [m² rad] of a window that the skirt opens from its floor up: its open area summed from `start` to `stop` [rad].

    Parameters: `start`, negative where it lies before TDC; `floor_drop` the piston's drop at which the skirt's edge stands at the floor
    [m]; window as the module says; `throw` [m], `rod_length` [m] and `offset` [m] as in `slider_crank`. As accurate as its like, the sum
    over the windows that the crown opens.

    >>> o = np.radians(70.0)
    >>> a = skirt_angle_area(start=-o, stop=o, floor_drop=0.0213, width=0.036, height=0.030, corner_radius=0.0,
    ...                      throw=0.02725, rod_length=0.110, offset=0.0)
    >>> bool(0.0 < a < 2 * o * 0.036 * 0.0213)
    True
    """
    window, crank = (
        {"width": width, "height": height, "corner_radius": corner_radius},
        {"throw": throw, "rod_length": rod_length, "offset": offset},
    )
    return _summed(start, stop, lambda drop: floor_drop - drop, window, crank)


@kernel
def specific_time_area(*, angle_area: Column, crank_speed: Column, swept_volume: Column) -> Column:
    """Time-area per swept volume [s/m]: angle-area over crank speed and swept volume. 100 s/m are 1 s·cm²/cm³.

    Parameters: `angle_area` [m² rad]; `crank_speed` [rad/s]; `swept_volume` [m³].

    >>> v = np.pi * 0.027**2 * 0.0545
    >>> t = specific_time_area(angle_area=np.radians(105694.20294131e-6), crank_speed=11000 * np.pi / 30, swept_volume=v)
    >>> round(float(t), 11)
    0.01283019713
    """
    return angle_area / (crank_speed * swept_volume)
