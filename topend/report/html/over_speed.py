"""What is left of the least gap over crank speed, as SVG of the page itself: there at once, in the page's own letters.

`topend picture` draws the same with the parts that close it, by matplotlib, whose import alone takes as long as all of a card.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.curves import curve

if TYPE_CHECKING:
    from collections.abc import Iterable

    from topend.assembly import TopEnd

__all__ = ["over_speed_svg"]

#: Speeds from idle to a fifth over what is stated, and draws for the band at each: its ends are good to the width of a line.
_IDLE_RPM: Final = 1500.0
_OVER: Final = 1.2
_POINTS: Final = 25
_DRAWS: Final = 1000
#: The drawing and the field inside it, in its own units; on the right there is room for half of the last speed, in the letters of a phone.
_WIDTH, _HEIGHT = 640.0, 306.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 52.0, 14.0, 608.0, 252.0


def over_speed_svg(top: TopEnd) -> str:
    """The clearance over speed with the band that holds 95 % of the draws, the stated speed, and where crown and head touch.

    The top end must state a speed and determine `running_clearance`.
    """
    assert top.running is not None
    stated = float(top.running.crank_speed.m_as("rpm"))
    speeds = np.linspace(_IDLE_RPM, max(_OVER * stated, 2.0 * _IDLE_RPM), _POINTS)
    along: dict[str, Any] = {"running.crank_speed": [f"{speed:.6f} rpm" for speed in speeds]}
    made = curve(top, "running_clearance", draws=_DRAWS, **along)
    value, low, high = (found["running_clearance"] for found in (made.value, made.low, made.high))
    least, most = min(0.0, float(np.nanmin(low))), max(0.1, float(np.nanmax(high)))
    step = _step(most - least, 5)
    bottom, roof = math.floor(least / step + 1e-9) * step, math.ceil(most / step - 1e-9) * step

    def x(speed: float) -> float:
        return float(_LEFT + (speed - speeds[0]) / (speeds[-1] - speeds[0]) * (_RIGHT - _LEFT))

    def y(gap: float) -> float:
        return _BOTTOM - (gap - bottom) / (roof - bottom) * (_BOTTOM - _TOP)

    def points(gaps: Iterable[float], at: Iterable[float]) -> str:
        return " ".join(f"{x(speed):.1f},{y(gap):.1f}" for speed, gap in zip(at, gaps, strict=True) if math.isfinite(gap))

    parts = []
    for tick in np.arange(bottom, roof + step / 2.0, step):
        parts.append(f'<line class="grid" x1="{_LEFT}" y1="{y(tick):.1f}" x2="{_RIGHT}" y2="{y(tick):.1f}"/>')
        shown = f"{0.0 if abs(tick) < 1e-9 else tick:.1f}"
        parts.append(f'<text class="word" x="{_LEFT - 6}" y="{y(tick) + 4:.1f}" text-anchor="end">{shown}</text>')
    turn = _step(speeds[-1] - speeds[0], 6)
    for tick in np.arange(math.ceil(speeds[0] / turn) * turn, speeds[-1] + 1.0, turn):
        parts.append(f'<line class="grid" x1="{x(tick):.1f}" y1="{_BOTTOM}" x2="{x(tick):.1f}" y2="{_BOTTOM + 5}"/>')
        parts.append(f'<text class="word" x="{x(tick):.1f}" y="{_BOTTOM + 21}" text-anchor="middle">{tick:.0f}</text>')
    parts.append(f'<polygon class="band" points="{points(low, speeds)} {points(high[::-1], speeds[::-1])}"/>')
    parts.append(f'<polyline class="curve" points="{points(value, speeds)}"/>')
    parts.append(f'<line class="touch" x1="{_LEFT}" y1="{y(0.0):.1f}" x2="{_RIGHT}" y2="{y(0.0):.1f}"/>')
    parts.append(f'<text class="word plate" x="{_LEFT + 8}" y="{y(0.0) - 6:.1f}">at 0 crown and head touch</text>')
    parts.append(f'<line class="axis" x1="{x(stated):.1f}" y1="{_TOP}" x2="{x(stated):.1f}" y2="{_BOTTOM}"/>')
    here = float(np.interp(stated, speeds, value))
    parts.append(f'<circle class="dot" cx="{x(stated):.1f}" cy="{y(here):.1f}" r="3.5"/>')
    words = f"{stated:.0f} rpm: {here:.2f} mm"
    # clear of the band, on the side where there is room
    under = y(float(np.interp(stated, speeds, low))) + 18.0
    parts.append(f'<text class="word plate" x="{x(stated) - 8:.1f}" y="{under:.1f}" text-anchor="end">{words}</text>')
    across = "crank speed [rpm]; upright: left of the least gap [mm]"
    parts.append(f'<text class="word" x="{_RIGHT}" y="{_BOTTOM + 46}" text-anchor="end">{across}</text>')
    body = "\n".join(parts)
    told = (
        f"What is left of the least gap over crank speed, throttle shut, cold: {value[0]:.2f} mm at {speeds[0]:.0f} rpm, "
        f"{here:.2f} mm at the stated {stated:.0f} rpm, {value[-1]:.2f} mm at {speeds[-1]:.0f} rpm. "
        "The band holds 95 % of what the limits leave."
    )
    return (
        f'<svg class="drawing" viewBox="0 0 {_WIDTH:.0f} {_HEIGHT:.0f}" role="img" aria-labelledby="speed-title speed-told" '
        f'xmlns="http://www.w3.org/2000/svg">\n<title id="speed-title">Clearance over speed</title>\n'
        f'<desc id="speed-told">{told}</desc>\n{body}\n</svg>'
    )


def _step(span: float, count: int) -> float:
    """A round step that divides `span` into about `count`: 1, 2 or 5 times a power of ten.

    >>> _step(0.83, 5), _step(12000.0, 6)
    (0.2, 2000.0)
    """
    rough = span / count
    power = 10.0 ** math.floor(math.log10(rough))
    return power * min((1.0, 2.0, 5.0, 10.0), key=lambda one: abs(math.log(one * power / rough)))
