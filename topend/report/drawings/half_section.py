"""The half-section of a head on a page, dimensioned; written as SVG, PNG or DXF."""

from __future__ import annotations

import math
import os
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import ArgumentError, MissingInputError, must_be
from topend.evaluation import needs_message
from topend.physics import wiring
from topend.physics.wiring.profile import bulge, corner, corner_count
from topend.report.drawings.dxf import dxf_text
from topend.report.drawings.lines import ARROW, CENTRE, DASHED, LETTERS, NARROW, WIDE, Sheet, arc_points, hatch_lines, words_width
from topend.report.drawings.png import png_bytes
from topend.report.drawings.svg import svg_text
from topend.report.written import file_to_write, write_whole
from topend.units import from_si

__all__ = ["HeadDrawing"]

#: A4 lying.
_WIDTH, _HEIGHT = 297.0, 210.0
#: Enlarging scales of ISO 5455, and what the section may take of the page.
_SCALES: Final = (10.0, 5.0, 2.0, 1.0)
_ROOM: Final = (148.0, 95.0)
#: The same where the corners stand in a table on the right; more diameters or heights than this do not go beside the section.
_ROOM_BY_TABLE: Final = (140.0, 95.0)
_MOST: Final = 7
_AXIS_X, _BASE_Y = 52.0, 82.0
#: Between two dimension lines, and from the outline to the first.
_STEP, _FIRST = 8.0, 10.0
#: Heights and radii closer than this [mm] are one.
_SAME: Final = 0.005
_ENDINGS: Final = (".svg", ".png", ".dxf")


@dataclass(frozen=True)
class HeadDrawing:
    """The half-section of a top end's head: `svg` for a page, `write` for a file as .svg, .png or .dxf.

    Parameters: `top` a top end whose head has a half-section with all its sizes; `title` what stands in the corner. Raises
    `ArgumentError` for a head without a half-section, `MissingInputError` where a size is not known.

    >>> import topend as te
    >>> band = te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="1 deg")
    >>> head = te.FlushHead(profile=te.BowlProfile(band=band, depth="12 mm"))
    >>> drawing = te.HeadDrawing(te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), head=head), title="Example, invented")
    >>> drawing.scale, len(drawing.contour)
    (2.0, 4)
    """

    top: TopEnd = field(repr=False)
    title: str | None = None

    def __post_init__(self) -> None:
        must_be("HeadDrawing", "top", self.top, TopEnd)
        if self.title is not None:
            must_be("HeadDrawing", "title", self.title, str)
        if self.top.head is None or self.top.head.profile is None:
            raise ArgumentError("a drawing needs a head with a half-section; give its profile, such as BowlProfile(...)")
        assert self._corners

    @cached_property
    def _corners(self) -> list[tuple[float, float, float]]:
        """Radius and height [mm] of the corners from the band's outer edge to the axis, with the bulge of the step that leaves each."""
        structure = self.top.row.structure
        count = corner_count(structure)
        names = [name for index in range(count) for name in corner(index)] + [bulge(index) for index in range(count - 1)]
        planned = wiring.plan(structure, tuple(names))
        lacking = tuple(dict.fromkeys(path for lack in planned.missing.values() for path in lack.needs))
        if lacking:
            raise MissingInputError("the drawing", lacking, needs_message("the drawing", lacking))
        values = wiring.run(planned, self.top.values)

        def read(name: str) -> float:
            return float(np.ravel(values[name])[0])

        made: list[tuple[float, float, float]] = []
        for index in range(count):
            radius, height = (read(name) * 1e3 for name in corner(index))
            leaves = read(bulge(index)) if index < count - 1 else 0.0
            if made and math.hypot(radius - made[-1][0], height - made[-1][1]) < 1e-9:
                # a rounding of no radius: the next step leaves from here
                made[-1] = (made[-1][0], made[-1][1], leaves)
            else:
                made.append((radius, height, leaves))
        return made

    @property
    def contour(self) -> list[tuple[float, float, float]]:
        """The closed contour of the chamber: (radius, height, bulge) of its corners [mm], the last on the band-edge plane at the axis."""
        return [*self._corners, (0.0, 0.0, 0.0)]

    @cached_property
    def scale(self) -> float:
        """How many times as large as it is it stands on the page."""
        wide, high = self._side, self._top + self._roof
        room = _ROOM_BY_TABLE if self._by_table else _ROOM
        return next((one for one in _SCALES if wide * one <= room[0] and high * one <= room[1]), 0.5)

    @cached_property
    def _by_table(self) -> bool:
        """Whether the corners are numbered and told in a table, there being too many for dimension lines."""
        return any(len({round(corner[index] / _SAME) for corner in self._corners}) > _MOST for index in (0, 1))

    @cached_property
    def _top(self) -> float:
        return max(y for start, end in self._steps() for _, y in arc_points(start[:2], end[:2], start[2]))

    @property
    def _offset(self) -> float:
        """How far the band's outer edge is recessed from the gasket face [mm]; negative: it stands proud."""
        return self.top.row.values.get("head.recess_offset", 0.0) * 1e3

    @property
    def _wall(self) -> float:
        """Radius of the spigot's or the recess's wall [mm]; the band's outer edge where it is not given."""
        given = (self.top.row.values.get(f"head.{one}_diameter", 0.0) for one in ("spigot", "recess"))
        return max(self._corners[0][0], *(500.0 * diameter for diameter in given))

    @property
    def _side(self) -> float:
        """Radius up to which metal is shown [mm]."""
        return 1.12 * self._wall

    @property
    def _plug_radii(self) -> tuple[float, float]:
        """Half of the plug's thread [mm], at its crests in the hole and at its root; 0 without one. The basic profile of ISO 68-1."""
        major = self.top.row.values.get("head.profile.plug.thread_diameter", 0.0) * 500.0
        pitch = self.top.row.values.get("head.profile.plug.thread_pitch", 0.0) * 1e3
        return major - 0.3125 * math.sqrt(3.0) * pitch, major

    @property
    def _face(self) -> list[tuple[float, float]]:
        """From the band's outer edge over the wall of spigot or recess along the gasket face."""
        return [(self._corners[0][0], 0.0), (self._wall, 0.0), (self._wall, -self._offset), (self._side, -self._offset)]

    @property
    def _roof(self) -> float:
        """Metal shown above the chamber [mm]."""
        return 0.12 * max(x for x, _, _ in self._corners) + 1.0

    def _steps(self) -> list[tuple[tuple[float, float, float], tuple[float, float, float]]]:
        return list(zip(self._corners, self._corners[1:], strict=False))

    # --- the page ---

    def _at(self, radius: float, height: float) -> tuple[float, float]:
        return _AXIS_X + radius * self.scale, _BASE_Y + height * self.scale

    @cached_property
    def sheet(self) -> Sheet:
        """The page as lines and words."""
        made = Sheet(_WIDTH, _HEIGHT)
        self._draw_section(made)
        self._draw_diameters(made)
        self._draw_heights(made)
        self._draw_radii(made)
        if self._by_table:
            self._draw_table(made)
        self._draw_corner(made)
        return made

    def _outline(self) -> list[tuple[float, float]]:
        made = [self._at(*self._corners[0][:2])]
        for start, end in self._steps():
            made += arc_points(self._at(*start[:2]), self._at(*end[:2]), start[2])[1:]
        return made

    def _draw_section(self, made: Sheet) -> None:
        outline = self._outline()
        made.line(outline, WIDE)
        outer = self._corners[0][0]
        crest, root = self._plug_radii
        side, roof = self._side, self._top + self._roof
        # what is cut: from the crests of the plug's thread, or the axis, over the chamber to a break outside
        face = self._corners[-1][1]
        beside = [self._at(*point) for point in self._face]
        edge = self._at(crest, 0.0)[0]
        metal = [point for point in outline if point[0] >= edge - 1e-9]
        metal += [self._at(crest, face), self._at(crest, roof), self._at(side, roof), *reversed(beside)]
        for start, end in hatch_lines(metal, 3.0):
            made.line((start, end), NARROW)
        made.line(beside, WIDE)
        made.line((beside[-1], self._at(side, roof), self._at(crest, roof)), NARROW)
        if root:
            # a thread in section, by ISO 6410-1: its crests wide, its root narrow
            made.line((self._at(crest, face), self._at(crest, roof)), WIDE)
            if crest < root:
                made.line((self._at(root, face), self._at(root, roof)), NARROW)
        made.line((self._at(0.0, -5.0 / self.scale), self._at(0.0, roof + 6.0 / self.scale)), CENTRE)
        made.line((self._at(0.0, 0.0), self._at(outer, 0.0)), DASHED)

    def _offset_words(self) -> str:
        offset = self._offset
        if abs(offset) <= 1e-9:
            return "Band in the plane of the gasket face"
        return f"Band {'stands proud of' if offset < 0.0 else 'is recessed from'} the gasket face by {abs(offset):.2f}"

    def _draw_diameters(self, made: Sheet) -> None:
        """Diameters under the section: from the axis, one arrow, as half of a view has them."""
        level = _BASE_Y - max(0.0, self._offset * self.scale) - _FIRST
        shown: list[float] = []
        corners = self._corners[:2] if self._by_table else self._corners
        below = [(x, y) for x, y, _ in corners if x > 1e-9] + [(self._wall, 0.0)]
        start = _AXIS_X - 8.0
        for radius, height in sorted(below):
            if any(abs(radius - one) < _SAME for one in shown):
                continue
            shown.append(radius)
            x, y = self._at(radius, height)
            made.line(((x, y - 1.0), (x, level - 1.5)), NARROW)
            made.line(((start, level), (x, level)), NARROW)
            made.arrow((x, level), 0.0)
            beside = x - _AXIS_X <= 22.0
            made.write(
                (start - 1.0 if beside else (_AXIS_X + x) / 2, level + 0.8), f"Ø{2.0 * radius:.2f}", anchor="end" if beside else "middle"
            )
            level -= _STEP
        _, root = self._plug_radii
        if root:
            x, roof = self._at(root, self._top + self._roof)
            pitch = self.top.row.values.get("head.profile.plug.thread_pitch")
            text = f"M{2.0 * root:g}" + (f" × {pitch * 1e3:g}" if pitch else "")
            made.line(((x, roof), (x, roof + 6.0)), NARROW)
            made.line(((start, roof + 4.5), (x, roof + 4.5)), NARROW)
            made.arrow((x, roof + 4.5), 0.0)
            made.write((start - 1.0, roof + 3.2), text, anchor="end")

    def _heights(self) -> list[tuple[float, float]]:
        """Radius and height of what has a height of its own, ascending: corners, crests, and the gasket face."""
        tops = [
            max((point for point in arc_points(start[:2], end[:2], start[2])), key=lambda point: point[1]) for start, end in self._steps()
        ]
        corners = [(x, y) for x, y, _ in self._corners]
        if self._by_table:
            corners, tops = corners[1:2], [max(tops, key=lambda point: point[1])]
        places: list[tuple[float, float]] = []
        for radius, height in sorted([*corners, *tops, self._face[-1]], key=lambda point: (point[1], -point[0])):
            if abs(height) > _SAME and not any(abs(height - one) < _SAME for _, one in places):
                places.append((radius, height))
        return places

    def _draw_heights(self, made: Sheet) -> None:
        """Heights above the band-edge plane, beside the section."""
        side = self._at(self._side, 0.0)[0] + _FIRST
        base = self._at(0.0, 0.0)[1]
        for radius, height in self._heights():
            x, y = self._at(radius, height)
            made.line(((x + 1.0, y), (side + 1.5, y)), NARROW)
            made.line(((side, base), (side, y)), NARROW)
            upper, lower = max(y, base), min(y, base)
            inside = upper - lower > 2.0 * ARROW + 1.0
            made.arrow((side, upper), math.pi / 2 if inside else -math.pi / 2)
            made.arrow((side, lower), -math.pi / 2 if inside else math.pi / 2)
            text = f"{abs(height):.2f}"
            room = words_width(text, LETTERS)
            if not inside:
                made.line(((side, lower), (side, lower - 6.0)), NARROW)
            if upper - lower > room + 1.0:
                made.write((side - 0.8, (y + base) / 2), text, turn=90.0)
            else:
                # no room between: beside the line drawn on
                start = upper + (1.0 if inside else ARROW + 1.0)
                made.line(((side, upper), (side, start + room)), NARROW)
                made.write((side - 0.8, start), text, anchor="start", turn=90.0)
            side += _STEP
        made.line((self._at(self._wall, 0.0), (side - _STEP + 1.5, base)), NARROW)

    def _draw_radii(self, made: Sheet) -> None:
        """Arcs by their radius, the band by its angle, each with a leader from inside the chamber."""
        for index, (start, end) in enumerate(self._steps()):
            along, up = end[0] - start[0], end[1] - start[1]
            if start[2] and not self._by_table:
                points = arc_points(self._at(*start[:2]), self._at(*end[:2]), start[2])
                at = points[len(points) // 2]
                # across the arc, into the chamber, where nothing is hatched
                into = math.atan2(up, along) + math.pi / 2
                tail = (at[0] + 13.0 * math.cos(into), at[1] + 13.0 * math.sin(into))
                made.line((at, tail), NARROW)
                made.arrow(at, into + math.pi)
                # under a leader that comes straight down, before any other
                down = abs(math.cos(into)) < 0.3
                words = (tail[0], tail[1] - LETTERS - 0.8) if down else (tail[0] - 0.8, tail[1] - LETTERS / 2)
                made.write(words, f"R{_arc_radius(start, end):.2f}", anchor="middle" if down else "end")
            elif index == 0 and abs(up) > 1e-9:
                x, y = self._at(start[0] + 0.5 * along, start[1] + 0.5 * up)
                tail = (x, _BASE_Y - 4.0)
                made.line(((x, y), tail), NARROW)
                made.arrow((x, y), math.pi / 2)
                made.write((x, tail[1] - LETTERS - 0.8), f"{math.degrees(math.atan2(up, -along)):.2f}°")

    def _draw_table(self, made: Sheet) -> None:
        """Corners by number, where there are too many of them for dimension lines; an arc leads to its corner from the one before."""
        columns = (_WIDTH - 66.0, _WIDTH - 48.0, _WIDTH - 31.0, _WIDTH - 14.0)
        level = _HEIGHT - 20.0
        for x, text in zip(columns, ("point", "Ø", "height", "arc to it"), strict=True):
            made.write((x, level), text, anchor="end", height=2.5)
        made.line(((_WIDTH - 76.0, level - 1.5), (_WIDTH - 12.0, level - 1.5)), NARROW)
        before = None
        numbered: list[tuple[float, float]] = []
        for index, here in enumerate(self._corners):
            level -= 5.0
            arc = f"R{_arc_radius(before, here):.2f}" if before is not None and before[2] else ""
            for x, text in zip(columns, (f"{index}", f"{2.0 * here[0]:.2f}", f"{here[1]:.2f}", arc), strict=True):
                made.write((x, level), text, anchor="end", height=2.5)
            # its number, inside the chamber
            after = self._corners[min(index + 1, len(self._corners) - 1)]
            from_corner = before if before is not None else here
            into = math.atan2(after[1] - from_corner[1], after[0] - from_corner[0]) + math.pi / 2
            x, y = self._at(*here[:2])
            at = (x + 3.5 * math.cos(into), y + 3.5 * math.sin(into) - 0.9)
            # where there is no room the numbers go on unwritten
            if all(math.dist(at, one) > 4.0 for one in numbered):
                numbered.append(at)
                made.write(at, f"{index}", height=1.8)
            before = here

    def _draw_corner(self, made: Sheet) -> None:
        """Frame, and what stands in the corner."""
        frame = [(10.0, 10.0), (_WIDTH - 10.0, 10.0), (_WIDTH - 10.0, _HEIGHT - 10.0), (10.0, _HEIGHT - 10.0), (10.0, 10.0)]
        made.line(frame, WIDE)
        left, high = _WIDTH - 110.0, 50.0
        made.line(((left, 10.0), (left, high), (_WIDTH - 10.0, high)), WIDE)
        planned = wiring.plan(self.top.row.structure, ("head.profile.volume", "chamber_surface"))
        values = wiring.run(planned, self.top.values)
        volume = from_si(float(np.ravel(values["head.profile.volume"])[0]), "cc")
        assert self.top.head is not None
        assert self.top.head.profile is not None
        shape = self.top.head.profile.shape
        given = [(path, value) for path, value in self.top.head.profile.stated() if "." not in path]
        rows = [
            self.title or "Cylinder head",
            f"Half-section of the chamber: {shape.replace('-', ' ')}",
            f"Chamber volume {volume:.3f} cc above the band-edge plane",
            f"Scale {self.scale:g}:1    all sizes in mm" if self.scale >= 1.0 else "Scale 1:2    all sizes in mm",
            self._offset_words(),
        ]
        if given:
            rows.append("Given: " + ", ".join(f"{path.replace('_', ' ')} {value.m_as('mm'):.2f}" for path, value in given))
        if any(path == "depth" for path, _ in given):
            rows.append("Depth counts from the band's inner edge")
        for index, text in enumerate(rows):
            height = 3.5 if index == 0 else 2.5
            # a long one in smaller letters
            height = min(height, height * 96.0 / max(words_width(text, height), 1.0))
            made.write((left + 2.0, high - 5.6 - 5.3 * index), text, anchor="start", height=height)

    # --- files ---

    @cached_property
    def svg(self) -> str:
        """The page as an ``<svg>`` element."""
        return svg_text(self.sheet, self.title or "Cylinder head, half-section")

    @property
    def png(self) -> bytes:
        """The page as a PNG. Raises `MissingExtraError` without matplotlib."""
        return png_bytes(self.sheet)

    @property
    def dxf(self) -> str:
        """The contour, true to size, as the text of a DXF file. Raises `MissingExtraError` without ezdxf."""
        crest, _ = self._plug_radii
        top = self._top + 5.0
        hole = [(crest, self._corners[-1][1]), (crest, top)] if crest else []
        return dxf_text(self.contour, (-5.0, top), hole, self._face, self.title or "Cylinder head, half-section")

    @staticmethod
    def form(path: str | os.PathLike[str]) -> str:
        """The form that a file's ending asks for. Raises `ArgumentError` for one that is none of a drawing's, or whose folder is not there.

        >>> HeadDrawing.form("head.SVG")
        '.svg'
        """
        where = Path(path)
        if where.suffix.lower() not in _ENDINGS:
            raise ArgumentError(f"{where}: a drawing is written as .svg, .png or .dxf, by the file's ending; got {where.suffix!r}")
        file_to_write(where, such_as="head.svg")
        return where.suffix.lower()

    def write(self, path: str | os.PathLike[str]) -> Path:
        """Write the drawing to a file, whole or not at all; its ending says the form: ``.svg``, ``.png``, ``.dxf``. Returns the path.

        >>> HeadDrawing.write(None, "head.jpg")
        Traceback (most recent call last):
        topend.errors.ArgumentError: head.jpg: a drawing is written as .svg, .png or .dxf, by the file's ending; got '.jpg'
        """
        ending = HeadDrawing.form(path)
        return write_whole(self.png if ending == ".png" else self.svg if ending == ".svg" else self.dxf, path, such_as="head.svg")


def _arc_radius(start: tuple[float, float, float], end: tuple[float, float, float]) -> float:
    """Radius of the arc that leaves a corner for the next."""
    return math.dist(start[:2], end[:2]) * (1.0 + start[2] ** 2) / (4.0 * abs(start[2]))
