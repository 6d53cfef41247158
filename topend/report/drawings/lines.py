"""What a drawing is made of, in millimetres on paper, x to the right and y up: lines of a kind, filled arrows, words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Final

__all__ = [
    "ARROW",
    "CENTRE",
    "DASHED",
    "LETTERS",
    "NARROW",
    "WIDE",
    "Kind",
    "Line",
    "Sheet",
    "Words",
    "arc_points",
    "hatch_lines",
    "words_width",
]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of line: its name, width [mm], and its dashes and gaps [mm], none where it is continuous."""

    name: str
    width: float
    dashes: tuple[float, ...] = ()


#: ISO 128-2: wide to narrow as 2 to 1; dashes in widths of the line.
WIDE: Final = Kind("visible outline", 0.5)
NARROW: Final = Kind("dimension, extension, hatching", 0.25)
DASHED: Final = Kind("hidden", 0.25, (3.0, 0.75))
CENTRE: Final = Kind("centre line", 0.25, (6.0, 0.75, 0.25, 0.75))

#: Height of letters [mm], of the series of ISO 3098.
LETTERS: Final = 3.5
#: Length of a filled arrow [mm]; it opens by 15 degrees.
ARROW: Final = 3.0


@dataclass(frozen=True, slots=True)
class Line:
    """Points joined in their order."""

    points: tuple[Point, ...]
    kind: Kind


@dataclass(frozen=True, slots=True)
class Words:
    """A text at a place: `at` is where its baseline begins, ends or has its middle; turned by `turn` degrees to the left."""

    at: Point
    text: str
    anchor: str = "middle"
    turn: float = 0.0
    height: float = LETTERS

    @property
    def ground(self) -> tuple[Point, Point, Point, Point]:
        """The four corners of what the text covers, kept clear of lines."""
        wide = words_width(self.text, self.height)
        start = {"start": 0.0, "middle": -wide / 2, "end": -wide}[self.anchor]
        cos, sin = math.cos(math.radians(self.turn)), math.sin(math.radians(self.turn))
        box = ((start, -0.3), (start + wide, -0.3), (start + wide, self.height + 0.3), (start, self.height + 0.3))
        one, two, three, four = ((self.at[0] + x * cos - y * sin, self.at[1] + x * sin + y * cos) for x, y in box)
        return one, two, three, four


def words_width(text: str, height: float) -> float:
    """About how wide a text of letters of a height is [mm]; a little more than a narrow face takes.

    >>> round(words_width("12.40", 3.5), 1)
    14.0
    """
    # letters take about 0.64 of the type's size, points and blanks half of that; a letter's height is about 0.72 of it
    return sum(0.32 if letter in " .,:" else 0.64 for letter in text) * height / 0.72


@dataclass
class Sheet:
    """A page of `width` by `height` [mm], with what is drawn on it."""

    width: float
    height: float
    lines: list[Line] = field(default_factory=list)
    arrows: list[tuple[Point, Point, Point]] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def line(self, points: Iterable[Point], kind: Kind) -> None:
        """Join points."""
        self.lines.append(Line(tuple(points), kind))

    def arrow(self, tip: Point, direction: float) -> None:
        """A filled arrow whose tip points along `direction` [rad]."""
        half = math.radians(7.5)
        back = [(tip[0] - ARROW * math.cos(direction + turn), tip[1] - ARROW * math.sin(direction + turn)) for turn in (half, -half)]
        self.arrows.append((tip, back[0], back[1]))

    def write(self, at: Point, text: str, *, anchor: str = "middle", turn: float = 0.0, height: float = LETTERS) -> None:
        """Put a text."""
        self.words.append(Words(at, text, anchor, turn, height))


def arc_points(start: Point, end: Point, bulge: float) -> list[Point]:
    """Points along the arc of `bulge` from start to end, both among them, close enough for paper; a line has its ends alone.

    >>> [round(value, 6) for value in arc_points((1.0, 0.0), (-1.0, 0.0), 1.0)[24]]
    [0.0, 1.0]
    """
    if bulge == 0.0:
        return [start, end]
    (x, y), (u, w) = start, end
    lean = (1.0 - bulge * bulge) / (4.0 * bulge)
    mx, my = (x + u) / 2 - lean * (w - y), (y + w) / 2 + lean * (u - x)
    turn = 4.0 * math.atan(bulge)
    steps = 48
    made = [start]
    for step in range(1, steps):
        cos, sin = math.cos(turn * step / steps), math.sin(turn * step / steps)
        made.append((mx + (x - mx) * cos - (y - my) * sin, my + (x - mx) * sin + (y - my) * cos))
    return [*made, end]


def hatch_lines(outline: Sequence[Point], apart: float) -> list[tuple[Point, Point]]:
    """Lines at 45 degrees inside a closed outline, `apart` [mm] from each other.

    >>> len(hatch_lines([(0, 0), (10, 0), (10, 10), (0, 10)], 2.0))
    7
    """
    # along u = (x + y)/√2, at steps of v = (y - x)/√2
    root = math.sqrt(0.5)
    turned = [((x + y) * root, (y - x) * root) for x, y in outline]
    low, high = min(v for _, v in turned), max(v for _, v in turned)
    made = []
    step = math.floor(low / apart) + 1
    while step * apart < high:
        v = step * apart
        cuts = []
        for (u0, v0), (u1, v1) in zip(turned, [*turned[1:], turned[0]], strict=True):
            if (v0 <= v) != (v1 <= v):
                cuts.append(u0 + (u1 - u0) * (v - v0) / (v1 - v0))
        cuts.sort()
        made += [(((a - v) * root, (a + v) * root), ((b - v) * root, (b + v) * root)) for a, b in zip(cuts[::2], cuts[1::2], strict=False)]
        step += 1
    return made
