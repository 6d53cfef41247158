"""The hole pattern of a family drawn at 1:1: an SVG in millimetres, with bars to check that it was printed true."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import Final, Literal
from xml.sax.saxutils import escape

from topend.errors import ArgumentError, UnknownNameError, must_be
from topend.parts import Obstacle
from topend.report.pictures.style import GREY, INK, MARK, PALE, TINT
from topend.report.written import file_to_write, write_whole
from topend.solve import FamilyFit, FixtureCheck

__all__ = ["hole_pattern", "write_hole_pattern"]

#: Length of the bars that are to be measured on the print [mm].
BAR: Final = 100.0
#: Around the drawing [mm], and between lines of text.
_MARGIN: Final = 12.0
_LINE: Final = 4.6
_FONT: Final = 'font-family="Helvetica, Arial, sans-serif"'


def hole_pattern(check: FixtureCheck, name: str | None = None, *, part: Literal["cylinder", "head"] = "cylinder") -> str:
    """The text of an SVG with the pin holes of one family at 1:1, at the best turn of the plate.

    Parameters: `check` of `fixture_check`; `name` of a family, or None for the only one; `part` which is drilled: the cylinder seen from
    above, or the head seen on its gasket face, which is the same turned over. Raises `UnknownNameError` for a family that there is
    not, and `ArgumentError` where the plate does not go on, or has no pins.

    >>> import topend as te
    >>> even = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    >>> plate = te.DrillingFixture(lip_diameter="39.98 mm", pin_distance="58 mm", drill_diameter="4 mm")
    >>> drawn = te.hole_pattern(te.fixture_check(plate, [te.StudFamily(name="demo", bore="40 mm", pattern=even, first_angle="45 deg")]))
    >>> drawn.count('class="pin"'), drawn.count('class="stud"')
    (2, 4)
    """
    must_be("hole_pattern", "check", check, FixtureCheck, "; give it fixture_check(...)")
    fit = _family(check, name)
    if not fit.turns or not fit.turns[0].holes or check.hole_diameter is None:
        why = "the plate does not go on" if not fit.turns else "the plate has no pin_distance, or neither drill nor pin a diameter"
        raise ArgumentError(f"hole_pattern: {fit.name}: there are no holes to draw: {why}")
    return _Drawing(check, fit, mirrored=part == "head").text()


def write_hole_pattern(
    check: FixtureCheck, path: str | os.PathLike[str], name: str | None = None, *, part: Literal["cylinder", "head"] = "cylinder"
) -> Path:
    """Write `hole_pattern` to a file, whole or not at all. Returns its path. Raises as `hole_pattern`, and `ArgumentError` for a path
    that no file can be written to.

    >>> import tempfile
    >>> import topend as te
    >>> even = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    >>> plate = te.DrillingFixture(lip_diameter="39.98 mm", pin_distance="58 mm", drill_diameter="4 mm")
    >>> check = te.fixture_check(plate, [te.StudFamily(name="demo", bore="40 mm", pattern=even, first_angle="45 deg")])
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     te.write_hole_pattern(check, f"{folder}/demo.svg").name
    'demo.svg'
    """
    file_to_write(path, such_as="holes.svg")
    return write_whole(hole_pattern(check, name, part=part), path, such_as="holes.svg")


def _family(check: FixtureCheck, name: str | None) -> FamilyFit:
    names = [fit.name for fit in check.families]
    if name is None and len(names) == 1:
        return check.families[0]
    if name is None:
        raise ArgumentError(f"hole_pattern: there are {len(names)} families; name one of {', '.join(names)}")
    if names.count(name) > 1:
        raise ArgumentError(f"hole_pattern: {names.count(name)} families are named {name!r}; give each a name of its own")
    if name not in names:
        raise UnknownNameError(name, names, what="family", searched="the families that were checked")
    return check.families[names.index(name)]


def _mm(value: float) -> str:
    return f"{value + 0.0:.3f}".rstrip("0").rstrip(".")


class _Drawing:
    def __init__(self, check: FixtureCheck, fit: FamilyFit, *, mirrored: bool) -> None:
        self.check, self.fit, self.turn = check, fit, fit.turns[0]
        # seen on the head's gasket face left is right
        self.side = -1.0 if mirrored else 1.0
        self.what = "head, seen on its gasket face" if mirrored else "cylinder, seen from above"
        self.mirrored = mirrored
        family = fit.family
        own = family.stud_diameter or (family.pattern.diameter if family.pattern is not None else None)
        assert own is not None
        hole = family.stud_hole_diameter if mirrored and family.stud_hole_diameter is not None else own
        self.stud = hole.m_as("mm")
        reach = [family.bore.m_as("mm") / 2.0, *(math.hypot(x, y) + self.stud / 2.0 for x, y in family.places_mm)]
        reach += [one.circle_to.m_as("mm") / 2.0 for one in self.obstacles()]
        reach += [family.gasket_outline.m_as("mm") / 2.0] if family.gasket_outline is not None else []
        reach += [math.hypot(one.x, one.y) + check.hole_diameter / 2.0 for one in self.turn.holes if check.hole_diameter]
        self.reach = max(reach) + 4.0
        self.width = max(2.0 * self.reach, BAR + 24.0) + 2.0 * _MARGIN
        self.x, self.y = self.width / 2.0, _MARGIN + 2.0 * _LINE + self.reach
        self.parts: list[str] = []

    def obstacles(self) -> list[Obstacle]:
        part = "head" if self.mirrored else "cylinder"
        return [one for one in self.fit.family.obstacles if one.part in (part, "both")]

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Paper coordinates, down from the top left."""
        return self.x + self.side * x, self.y - y

    def text(self) -> str:
        self.shapes()
        self.holes()
        below = self.words()
        height = self.bars(below) + _MARGIN
        size = f'width="{_mm(self.width)}mm" height="{_mm(height)}mm" viewBox="0 0 {_mm(self.width)} {_mm(height)}"'
        head = f'<?xml version="1.0" encoding="UTF-8"?>\n<svg xmlns="http://www.w3.org/2000/svg" {size}>'
        return "\n".join([head, f'<rect width="{_mm(self.width)}" height="{_mm(height)}" fill="white"/>', *self.parts, "</svg>", ""])

    # --- drawing ---

    def circle(self, x: float, y: float, diameter: float, *, css: str, stroke: str = INK, width: float = 0.25, more: str = "") -> None:
        at = self.at(x, y)
        self.parts.append(
            f'<circle class="{css}" cx="{_mm(at[0])}" cy="{_mm(at[1])}" r="{_mm(diameter / 2.0)}" fill="none" '
            f'stroke="{stroke}" stroke-width="{width}"{more}/>'
        )

    def line(self, start: tuple[float, float], end: tuple[float, float], *, stroke: str = INK, width: float = 0.2, more: str = "") -> None:
        self.parts.append(
            f'<line x1="{_mm(start[0])}" y1="{_mm(start[1])}" x2="{_mm(end[0])}" y2="{_mm(end[1])}" '
            f'stroke="{stroke}" stroke-width="{width}"{more}/>'
        )

    def label(self, x: float, y: float, text: str, *, size: float = 3.0, fill: str = INK, anchor: str = "start") -> None:
        self.parts.append(
            f'<text x="{_mm(x)}" y="{_mm(y)}" {_FONT} font-size="{size}" fill="{fill}" text-anchor="{anchor}">{escape(text)}</text>'
        )

    def shapes(self) -> None:
        family = self.fit.family
        for one in self.obstacles():
            self.sector(one)
        turned = math.radians(self.turn.angle)
        for slot in self.check.fixture.slots:
            far = slot.angle if slot.angle_to is None else slot.angle_to
            ends = [
                self.at(circle.m_as("mm") / 2.0 * math.cos(angle.si + turned), circle.m_as("mm") / 2.0 * math.sin(angle.si + turned))
                for circle, angle in ((slot.circle_from, slot.angle), (slot.circle_to, far))
            ]
            # a thick line with round ends is a slot
            self.line(*ends, stroke=PALE, width=slot.width.m_as("mm"), more=' stroke-linecap="round" class="slot"')
        for opening in (family.gasket_opening, family.gasket_outline):
            if opening is not None:
                self.circle(0, 0, opening.m_as("mm"), css="gasket", stroke=TINT, more=' stroke-dasharray="2 1"')
        self.circle(0, 0, family.bore.m_as("mm"), css="bore", width=0.35)
        self.cross(0.0, 0.0, 4.0)
        for x, y in family.places_mm:
            self.circle(x, y, self.stud, css="stud", stroke=GREY)
            self.cross(x, y, 1.0, stroke=GREY)
        # the family's mark, from which angles count
        inner, outer = (self.at(radius, 0.0) for radius in (self.reach - 3.0, self.reach))
        self.line(inner, outer, width=0.4)
        self.label(outer[0] + self.side * 1.5, outer[1] + 1.0, "mark, 0 deg", size=2.6, anchor="end" if self.mirrored else "start")

    def sector(self, one: Obstacle) -> None:
        inner, outer = one.circle_from.m_as("mm") / 2.0, one.circle_to.m_as("mm") / 2.0
        start, span = one.angle_from.si, one.angle_to.si - one.angle_from.si
        span = span if 0.0 < span <= 2.0 * math.pi else span % (2.0 * math.pi)
        steps = max(8, math.ceil(math.degrees(span)))
        arc = [start + span * step / steps for step in range(steps + 1)]
        points = [self.at(outer * math.cos(angle), outer * math.sin(angle)) for angle in arc]
        points += [self.at(inner * math.cos(angle), inner * math.sin(angle)) for angle in reversed(arc)]
        shape = " ".join(f"{_mm(x)},{_mm(y)}" for x, y in points)
        # what lies below the holes is dashed, and not filled
        below = self.check.bottom is not None and one.depth.m_as("mm") >= self.check.bottom
        look = 'fill="none" stroke-dasharray="1 1"' if below else f'fill="{PALE}"'
        self.parts.append(f'<polygon class="obstacle" points="{shape}" {look} stroke="{GREY}" stroke-width="0.2"/>')
        middle = start + span / 2.0
        at = self.at((inner + outer) / 2.0 * math.cos(middle), (inner + outer) / 2.0 * math.sin(middle))
        self.label(at[0], at[1] + 1.0, one.name or one.what, size=2.6, fill=GREY, anchor="middle")
        if one.depth.si > 0.0:
            self.label(at[0], at[1] + 4.0, f"{one.depth.m_as('mm'):g} mm down", size=2.2, fill=GREY, anchor="middle")

    def cross(self, x: float, y: float, half: float, *, stroke: str = INK) -> None:
        at = self.at(x, y)
        self.line((at[0] - half, at[1]), (at[0] + half, at[1]), stroke=stroke, width=0.15)
        self.line((at[0], at[1] - half), (at[0], at[1] + half), stroke=stroke, width=0.15)

    def holes(self) -> None:
        assert self.check.hole_diameter is not None
        for number, hole in enumerate(self.turn.holes, start=1):
            thin = bool(hole.walls) and hole.walls[0].thickness < self.fit.least_wall - 1e-9
            stroke = MARK if thin else INK
            self.circle(hole.x, hole.y, self.check.hole_diameter, css="pin", stroke=stroke, width=0.35)
            self.cross(hole.x, hole.y, self.check.hole_diameter / 2.0 + 2.5, stroke=stroke)
            at = self.at(hole.x, hole.y)
            self.label(at[0] + self.check.hole_diameter / 2.0 + 0.8, at[1] - self.check.hole_diameter / 2.0 - 0.8, str(number), fill=stroke)

    # --- words ---

    def words(self) -> float:
        self.label(_MARGIN, _MARGIN, f"{self.fit.name}: {self.what}", size=4.0)
        y = self.y + self.reach + _LINE
        depth = "" if self.check.hole_depth is None else f", {self.check.hole_depth:.1f} mm deep"
        for number, hole in enumerate(self.turn.holes, start=1):
            at = f"x {self.side * hole.x + 0.0:+.2f}, y {hole.y:+.2f} mm from the bore's axis"
            told = f"hole {number}: {self.check.hole_diameter:.2f} mm{depth}, {at}"
            self.label(_MARGIN, y, told)
            y += _LINE
            walls = [wall for wall in hole.walls if wall.part in ("both", "gasket", "head" if self.mirrored else "cylinder")]
            if walls:
                thin = walls[0].thickness < self.fit.least_wall - 1e-9
                told = f"least wall {walls[0].thickness:.2f} mm, to {walls[0].beside}" + (
                    f"; {self.fit.least_wall:g} mm wanted" if thin else ""
                )
                self.label(_MARGIN + 4.0, y, told, fill=MARK if thin else INK)
                y += _LINE
        if self.check.fixture.slots:
            self.label(_MARGIN, y, "pale, around the studs: slots of the plate", fill=GREY)
            y += _LINE
        if self.fit.verdict != "fits":
            self.label(_MARGIN, y, f"the plate {self.fit.verdict}", fill=MARK)
            y += _LINE
        return float(y + _LINE)

    def bars(self, y: float) -> float:
        """Two bars with ticks, and what to do with them; the paper's height so far."""
        left = _MARGIN + 4.0
        tall = BAR / 2.0
        self.line((left, y), (left + BAR, y), width=0.25)
        self.line((left, y), (left, y + tall), width=0.25)
        for step in range(11):
            self.line((left + 10.0 * step, y), (left + 10.0 * step, y + (3.0 if step % 5 == 0 else 1.8)), width=0.25)
            if step <= 5:
                self.line((left, y + 10.0 * step), (left + (3.0 if step % 5 == 0 else 1.8), y + 10.0 * step), width=0.25)
        self.label(left + BAR, y - 1.2, f"{BAR:.0f} mm", size=2.6, anchor="end")
        self.label(left + 4.0, y + tall + 0.8, f"{tall:.0f} mm", size=2.6)
        told = (
            "Print at 100 %, not fitted to the page, and measure both bars:",
            "the drawing is true where they are as long as they say.",
            "A print marks where holes go; it drills none. Centre-punch,",
            "check against the part, then drill through the plate,",
            "clamped, with a stop, eyes protected.",
        )
        for index, line in enumerate(told):
            self.label(left + 8.0, y + 9.0 + _LINE * index, line)
        return y + tall + 2.0
