"""The cross-section of a top end at TDC as SVG, drawn to scale from its row, and the gap enlarged beside it.

Heights count from the deck, positive toward the head, as everywhere; on the page they are turned over, for y grows downward
there. Lengths are millimetres. What is not known is not drawn, or is drawn dashed and named so.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from topend.assembly import TopEnd
from topend.physics import crown, wiring
from topend.report.stack import stack_of

__all__ = ["Shape", "gap_svg", "section_svg", "shape_of"]

#: What a drawing takes of a row; those it can do without are left out where they cannot be had.
_WANTED: Final = (
    "cylinder.bore",
    "deck_clearance",
    "head_gasket.thickness",
    "head.recess_offset",
    "head.radius",
    "head.band.radius",
    "head.band.outer_radius",
    "head.band.inner_radius",
    "head.band.slope",
    "head.band_volume",
    "squish_edge",
    "piston.crown.cap_height",
    "piston.crown.cap_radius",
    "piston.crown.slope",
    "piston.crown.radius",
)
#: Points along half a crown.
_POINTS: Final = 61
#: Width of a drawing and height of its words, in its own units: on a phone of 360 px it is 328 px wide, and words are still 11 px high.
_WIDTH: Final = 400.0
_LETTER: Final = 14.0
#: Room for a letter of a label, taken for a wide face, and between two labels.
_PER_LETTER: Final = 0.58 * _LETTER
_APART: Final = _LETTER + 5.0
#: From the part's edge to where labels begin.
_TO_LABELS: Final = 17.0
#: Of the ring around a mark's number.
_RING: Final = 9.0


@dataclass(frozen=True)
class Shape:
    """Radii and heights [mm] of a top end at TDC, half of it, from the axis outward; None for what cannot be had.

    Heights are above the deck. `crown` are points of the crown from the axis to its edge; `roof` those of the head from the band's inner
    edge to its gasket face; `bowl` is the height that a cap of the chamber's volume would have over the band's inner edge. `gaskets` are
    the head gaskets from the deck up: thickness and half of the opening.
    """

    bore: float
    deck_clearance: float | None = None
    face: float | None = None
    crown: tuple[tuple[float, float], ...] = ()
    crown_known: bool = False
    roof: tuple[tuple[float, float], ...] = ()
    band: tuple[float, float] | None = None
    bowl: float | None = None
    gaskets: tuple[tuple[float, float], ...] = ()
    top_land: float | None = None
    ports: tuple[tuple[str, float], ...] = ()

    @property
    def outside(self) -> float:
        """How far out the drawing goes: walls have no thickness in the row, so a fifth of the bore stands for them."""
        widest = max([self.bore, *(opening for _, opening in self.gaskets), *(radius for radius, _ in self.roof)])
        return widest + 0.22 * self.bore


def shape_of(top: TopEnd) -> Shape | None:
    """What can be drawn of a top end; None where not even the bore is known.

    >>> from topend.parts import Cylinder, DeckReading, FlatCrown, Piston
    >>> made = shape_of(TopEnd(cylinder=Cylinder(bore="54 mm"), piston=Piston(crown=FlatCrown()), deck=DeckReading(clearance="0.7 mm")))
    >>> made.bore, made.deck_clearance, made.face is None
    (27.0, 0.7, True)
    >>> shape_of(TopEnd()) is None
    True
    """
    row = top.row
    openings = tuple(f"head_gaskets.{index}.opening" for index in range(len(top.head_gaskets or ())))
    fitted = tuple(f"head_gaskets.{index}.fitted_thickness" for index in range(len(top.head_gaskets or ())))
    wanted = (*_WANTED, *openings, *fitted)
    lacking = wiring.plan(row.structure, wanted).missing
    names = tuple(name for name in wanted if name not in lacking)
    planned = wiring.plan(row.structure, names)
    values = wiring.run(planned, top.values)
    known = {name: float(np.atleast_1d(values[name])[0]) for name in names}
    if "cylinder.bore" not in known:
        return None

    def mm(name: str) -> float | None:
        return round(known[name] * 1e3, 9) if name in known else None

    bore = known["cylinder.bore"] * 500.0
    clearance, thickness, offset = mm("deck_clearance"), mm("head_gasket.thickness"), mm("head.recess_offset")
    crown_points, crown_known = _crown(known, bore, clearance)
    roof: tuple[tuple[float, float], ...] = ()
    band, bowl = None, None
    if thickness is not None and offset is not None:
        roof, band, bowl = _head(known, top, bore, thickness, offset)
    return Shape(
        bore=bore,
        deck_clearance=clearance,
        face=thickness,
        crown=crown_points,
        crown_known=crown_known,
        roof=roof,
        band=band,
        bowl=bowl,
        gaskets=tuple((known[thick] * 1e3, known[opening] * 500.0) for thick, opening in zip(fitted, openings, strict=True)),
        top_land=None if top.piston is None or top.piston.top_land is None else top.piston.top_land.si * 1e3,
        ports=tuple((port.kind, port.top.si * 1e3) for port in (top.cylinder.ports if top.cylinder is not None else ())),
    )


def _crown(known: dict[str, float], bore: float, clearance: float | None) -> tuple[tuple[tuple[float, float], ...], bool]:
    """Points of the crown, and whether its shape is known: not given, its edge plane alone is."""
    if clearance is None:
        return (), False
    shape = {"cap_height": "cap_height", "cap_radius": "cap_radius", "edge_slope": "slope", "crown_radius": "radius"}
    if any(f"piston.crown.{name}" not in known for name in shape.values()):
        return ((0.0, -clearance), (bore, -clearance)), False
    taken = {argument: known[f"piston.crown.{name}"] for argument, name in shape.items()}
    radius = np.linspace(0.0, taken["crown_radius"], _POINTS)
    rise = crown.crown_rise(radius=radius, **taken)
    return tuple((float(at) * 1e3, float(up) * 1e3 - clearance) for at, up in zip(radius, rise, strict=True)), True


def _head(
    known: dict[str, float], top: TopEnd, bore: float, face: float, offset: float
) -> tuple[tuple[tuple[float, float], ...], tuple[float, float] | None, float | None]:
    """The head from the band's inner edge out to its gasket face, the band's two radii, and how high its bowl is drawn."""
    edge = face + offset
    wall = known["head.radius"] * 1e3 if "head.radius" in known else bore
    inner, outer = known.get("head.band.inner_radius"), known.get("head.band.radius")
    if inner is None or outer is None or "head.band.slope" not in known:
        flat = ((0.0, edge), (wall, edge), (wall, face)) if offset else ((0.0, face), (wall, face))
        return flat, None, None
    inner, outer = inner * 1e3, outer * 1e3
    lift = (outer - inner) * known["head.band.slope"]
    points = [(inner, edge + lift), (outer, edge)]
    if wall > outer + 1e-9:
        points.append((wall, edge))
    if abs(offset) > 1e-9:
        points.append((max(wall, outer), face))
    return tuple(points), (inner, min(outer, bore)), _bowl(known, inner, outer, lift)


def _bowl(known: dict[str, float], inner: float, outer: float, lift: float) -> float | None:
    """Height of the cap over the band's inner edge that makes up the chamber's volume with what lies under the band, or None."""
    if "head.band_volume" not in known:
        return None
    under = math.pi * lift * (inner**2 + inner * outer + outer**2) / 3.0
    left = known["head.band_volume"] * 1e9 - under

    if left <= 0.0:
        return None
    # a deeper bowl than a hemisphere is drawn as one, with straight sides below it
    hemisphere = 2.0 * math.pi * inner**3 / 3.0
    if left >= hemisphere:
        return inner + (left - hemisphere) / (math.pi * inner**2)
    heights = np.linspace(0.0, inner, 4001)
    volumes = crown.spherical_cap_volume(cap_height=heights * 1e-3, cap_radius=np.full_like(heights, inner * 1e-3)) * 1e9
    return float(np.interp(left, volumes, heights))


# --- the drawing -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Sheet:
    """From millimetres to units of the drawing: `left` and `top` are the radius and height at its corner."""

    left: float
    top: float
    scale: float

    def x(self, radius: float) -> float:
        return (radius - self.left) * self.scale

    def y(self, height: float) -> float:
        return (self.top - height) * self.scale

    def path(self, points: Iterable[tuple[float, float]], *, closed: bool = True) -> str:
        told = " L".join(f"{self.x(radius):.2f} {self.y(height):.2f}" for radius, height in points)
        return f"M{told}{' Z' if closed else ''}"


def _both(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Half a section, from the axis outward, as a whole one from left to right."""
    return [(-radius, height) for radius, height in reversed(points)] + [one for one in points if one[0] > 0.0]


def _path(kind: str, d: str) -> str:
    return f'<path class="{kind}" d="{d}"/>'


def _words(x: float, y: float, text: str, *, anchor: str = "start", kind: str = "word") -> str:
    return f'<text class="{kind}" x="{x:.2f}" y="{y:.2f}" text-anchor="{anchor}">{html.escape(text)}</text>'


def _line(kind: str, x1: float, y1: float, x2: float, y2: float) -> str:
    return f'<line class="{kind}" x1="{x1:.2f}" y1="{y1:.2f}" x2="{x2:.2f}" y2="{y2:.2f}"/>'


def _svg(name: str, width: float, height: float, title: str, told: str, parts: Iterable[str]) -> str:
    body = "\n".join(parts)
    return (
        f'<svg class="drawing" viewBox="0 0 {width:.1f} {height:.1f}" role="img" aria-labelledby="{name}-title {name}-told" '
        f'xmlns="http://www.w3.org/2000/svg">\n<title id="{name}-title">{html.escape(title)}</title>\n'
        f'<desc id="{name}-told">{html.escape(told)}</desc>\n{_HATCH.format(name=name)}\n{body}\n</svg>'
    )


#: Cut metal, each part its own way, so that they can be told apart without colour.
_HATCH: Final = (
    '<defs><pattern id="{name}-barrel" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
    '<rect width="6" height="6" class="ground"/><line x1="0" y1="0" x2="0" y2="6" class="hatch"/></pattern>'
    '<pattern id="{name}-head" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">'
    '<rect width="6" height="6" class="ground"/><line x1="0" y1="0" x2="0" y2="6" class="hatch"/></pattern></defs>'
)


def _filled(name: str, kind: str, d: str) -> str:
    return f'<path class="cut" fill="url(#{name}-{kind})" d="{d}"/>'


def section_svg(top: TopEnd, name: str = "section") -> str | None:
    """The whole section at TDC, to one scale both ways; None where not even the bore is known.

    `name` begins the ids inside the drawing, so that two stand in one page. The walls' thickness, the piston's inside and the bowl's shape
    are not in the row: the first two are sketched, the bowl is a dashed cap of the chamber's volume.
    """
    shape = shape_of(top)
    if shape is None:
        return None
    bore, outside = shape.bore, shape.outside
    below, foot = -max(0.62 * bore, 4.0 + (shape.deck_clearance or 0.0)), 0.16 * bore
    stack = [gasket.fitted.si * 1e3 for role, gasket in stack_of(top) if role == "base"]
    base = sum(stack)
    above = _above(shape)
    # the words need no heights yet, and the scale is what is left beside the longest of them
    widest = max(len(text) for _, _, text in _named(shape, above, below, below, base, len(stack)))
    scale = (_WIDTH - _TO_LABELS - widest * _PER_LETTER) / (2.0 * outside)
    sheet = _Sheet(-outside, above, scale)
    gap = 14.0 / scale
    bottom = below - gap - foot - base - 0.16 * bore
    parts: list[str] = []
    parts += _barrel(name, sheet, shape, below, below - gap, foot)
    parts += _base(name, sheet, shape, below - gap - foot, stack, bottom)
    parts += _piston(sheet, shape, below)
    parts += _roof(name, sheet, shape, above)
    parts.append(_line("axis", sheet.x(0.0), 0.0, sheet.x(0.0), sheet.y(bottom)))
    labels, lowest = _labels(sheet, shape, _named(shape, above, below, below - gap - foot, base, len(stack)))
    parts += labels
    # below all of them, as its words are long
    foot_line = max(sheet.y(bottom) + 16.0, lowest + _APART)
    parts += _scale_bar(sheet, foot_line)
    told = (
        f"Section through the axis at top dead centre. Bore {2.0 * bore:.2f} mm. "
        + (f"Crown edge {_side(shape.deck_clearance)}. " if shape.deck_clearance is not None else "Deck clearance not known. ")
        + (f"Head gaskets {shape.face:.2f} mm together. " if shape.face is not None else "")
        + (f"Base gaskets {base:.2f} mm together. " if stack else "")
        + "Wall thickness and the inside of the piston are sketched."
    )
    return _svg(name, _WIDTH, foot_line + _LETTER, "Cross-section at top dead centre, to scale", told, parts)


def _side(clearance: float) -> str:
    if clearance == 0.0:
        return "level with the deck"
    return f"{abs(clearance):.2f} mm {'below' if clearance > 0.0 else 'above'} the deck"


def _above(shape: Shape) -> float:
    """How high the drawing goes over the deck."""
    highest = max([0.0, *(height for _, height in (*shape.roof, *shape.crown))])
    if shape.bowl is not None and shape.roof:
        highest = max(highest, shape.roof[0][1] + shape.bowl)
    return highest + 0.2 * shape.bore


def _barrel(name: str, sheet: _Sheet, shape: Shape, below: float, again: float, foot: float) -> list[str]:
    """Both walls, broken below what matters, with the ports' upper edges that lie above the break."""
    made = []
    for side in (-1.0, 1.0):
        inner, outer = side * shape.bore, side * shape.outside
        jag = [(inner + (outer - inner) * share, (0.8 if index % 2 else -0.8)) for index, share in enumerate((0.0, 0.25, 0.5, 0.75, 1.0))]
        upper = [(inner, 0.0), *((at, below + step) for at, step in jag), (outer, 0.0)]
        lower = [*((at, again + step) for at, step in jag), (outer, again - foot), (inner, again - foot)]
        for one in (upper, lower):
            made += [_filled(name, "barrel", sheet.path(one)), _path("outline", sheet.path(one))]
    return made


def _base(name: str, sheet: _Sheet, shape: Shape, foot: float, stack: Sequence[float], bottom: float) -> list[str]:
    """The base gaskets under the barrel's foot, and the case."""
    made, at = [], foot
    total = sum(stack)
    for side in (-1.0, 1.0):
        case = [
            (side * shape.bore, foot - total),
            (side * shape.outside, foot - total),
            (side * shape.outside, bottom),
            (side * shape.bore, bottom),
        ]
        made.append(_path("case", sheet.path(case)))
    for thickness in reversed(stack):
        made += [_gasket(sheet, side * shape.bore, side * shape.outside, at - thickness, at) for side in (-1.0, 1.0)]
        at -= thickness
    return made


def _gasket(sheet: _Sheet, inner: float, outer: float, low: float, high: float) -> str:
    return _path("gasket", sheet.path([(inner, low), (outer, low), (outer, high), (inner, high)]))


def _piston(sheet: _Sheet, shape: Shape, below: float) -> list[str]:
    if not shape.crown:
        return []
    edge, plane = shape.crown[-1]
    skirt = [(-edge, below), *_both(shape.crown), (edge, below)]
    made = [_path("piston" if shape.crown_known else "piston unknown", sheet.path(skirt, closed=False))]
    land = shape.top_land
    if land is not None and plane - land - 1.2 > below:
        # one ring of a usual height stands for what is there
        for side in (-1.0, 1.0):
            groove = [
                (side * edge, plane - land),
                (side * (edge - 2.0), plane - land),
                (side * (edge - 2.0), plane - land - 1.2),
                (side * edge, plane - land - 1.2),
            ]
            made.append(_path("ring", sheet.path(groove)))
    return made


def _roof(name: str, sheet: _Sheet, shape: Shape, above: float) -> list[str]:
    """The head with its bowl, and the gaskets under it."""
    if shape.face is None:
        return []
    made, at = [], 0.0
    for thickness, opening in shape.gaskets:
        made += [_gasket(sheet, side * opening, side * shape.outside, at, at + thickness) for side in (-1.0, 1.0)]
        at += thickness
    if not shape.roof:
        return made
    roof = list(shape.roof) if shape.band is None else [*_bowl_points(shape), *shape.roof[1:]]
    under = _both([*roof, (shape.outside, shape.face)])
    made.append(_filled(name, "head", sheet.path([*under, (shape.outside, above), (-shape.outside, above)])))
    made.append(_path("outline", sheet.path([(shape.outside, above), (-shape.outside, above)], closed=False)))
    for side in (-1.0, 1.0):
        known = [*shape.roof, (shape.outside, shape.face), (shape.outside, above)]
        made.append(_path("outline", sheet.path([(side * radius, height) for radius, height in known], closed=False)))
    if shape.band is not None:
        made.append(_path("bowl", sheet.path(_both(_bowl_points(shape)), closed=False)))
    return made


def _bowl_points(shape: Shape) -> list[tuple[float, float]]:
    """The sketched bowl from the axis to the band's inner edge; its chord, where no volume is known."""
    inner, start = shape.roof[0]
    if shape.bowl is None:
        return [(0.0, start), (inner, start)]
    straight = max(0.0, shape.bowl - inner)
    rise = shape.bowl - straight
    radius = (inner**2 + rise**2) / (2.0 * rise)
    made = []
    for share in np.linspace(0.0, 1.0, 33):
        at = inner * math.sin(share * math.pi / 2.0)
        made.append((at, start + straight + rise - radius + math.sqrt(max(radius**2 - at**2, 0.0))))
    return [*made, (inner, start)]


def _named(shape: Shape, above: float, below: float, foot: float, base: float, count: int) -> list[tuple[float, float, str]]:
    """What has its name beside the drawing: radius and height of a place in it, and the words, from above."""
    wanted: list[tuple[float, float, str]] = []
    out = shape.outside
    if shape.face is not None and shape.roof:
        wanted.append((out, (above + shape.face) / 2.0, "head"))
    if shape.face is not None and shape.gaskets:
        several = "head gasket" if len(shape.gaskets) == 1 else f"{len(shape.gaskets)} head gaskets"
        wanted.append((out, shape.face / 2.0, f"{several} {shape.face:.2f}"))
    wanted.append((shape.bore + 0.6 * (out - shape.bore), below * 0.3, "barrel"))
    if shape.crown:
        wanted.append((0.55 * shape.bore, below * 0.55, "piston" if shape.crown_known else "piston (crown?)"))
    if count:
        several = "base gasket" if count == 1 else f"{count} base gaskets"
        wanted.append((out, foot - base / 2.0, f"{several} {base:.2f}"))
    wanted.append((out, foot - base - 0.08 * shape.bore, "case"))
    return sorted(wanted, key=lambda one: -one[1])


def _labels(sheet: _Sheet, shape: Shape, named: Sequence[tuple[float, float, str]]) -> tuple[list[str], float]:
    """Names beside the drawing, each with a leader to its part, kept apart from each other; and how low they reach."""
    made: list[str] = []
    last, right = -math.inf, sheet.x(shape.outside) + _TO_LABELS - 3.0
    for radius, height, text in named:
        y = max(sheet.y(height), last + _APART)
        last = y
        made.append(_line("leader", sheet.x(radius), sheet.y(height), right, y))
        made.append(f'<circle class="dot" cx="{sheet.x(radius):.2f}" cy="{sheet.y(height):.2f}" r="1.6"/>')
        made.append(_words(right + 3.0, y + _LETTER * 0.35, text))
    if shape.bowl is not None:
        made.append(_words(sheet.x(0.0), sheet.y(shape.roof[0][1] + 0.45 * shape.bowl), "bowl", anchor="middle", kind="word plate"))
    return made, last


def _scale_bar(sheet: _Sheet, y: float) -> list[str]:
    """A length to see the scale by, in tens of millimetres, at a height of the drawing."""
    length = 20.0 * sheet.scale
    ends = [_line("bar", x, y - 3.0, x, y + 3.0) for x in (0.5, length)]
    return [_line("bar", 0.5, y, length, y), *ends, _words(length + 6.0, y + _LETTER * 0.35, "20 mm; one scale both ways")]


# --- the gap, enlarged -----------------------------------------------------------------------------------------------


def gap_svg(top: TopEnd, marks: Sequence[tuple[float, float]] = (), name: str = "gap") -> str | None:
    """The gap under the band on the right-hand side, enlarged alike both ways; None where band, crown or stack are not known.

    `marks` are radius and gap [mm] of what is measured there, numbered from 1 in the drawing; their words stand beside it.
    """
    shape = shape_of(top)
    if shape is None or shape.band is None or not shape.crown_known or shape.face is None:
        return None
    inner = shape.band[0]
    left, right = max(0.0, inner - 0.2 * (shape.bore - inner) - 0.4), shape.bore + 0.3 * (shape.bore - inner) + 0.8
    radii, heights = [at for at, _ in shape.crown], [up for _, up in shape.crown]
    start = float(np.interp(left, radii, heights))
    scale = _WIDTH / (right - left)
    high = max(shape.face, *(height for _, height in shape.roof)) + 60.0 / scale
    # room for rings on one another, and for the words below them
    low = min(heights[-1], start, 0.0) - (40.0 + 2.2 * _RING * max(2, len(marks))) / scale
    sheet = _Sheet(left, high, scale)
    bottom = sheet.y(low)
    crown_points = [(left, start), *((at, up) for at, up in shape.crown if at > left)]
    edge = crown_points[-1][0]
    parts = [
        _path("piston", sheet.path([*crown_points, (edge, low), (left, low)])),
        _filled(name, "barrel", sheet.path([(shape.bore, 0.0), (right, 0.0), (right, low), (shape.bore, low)])),
        _path("outline", sheet.path([(shape.bore, low), (shape.bore, 0.0), (right, 0.0)], closed=False)),
    ]
    at = 0.0
    for thickness, opening in shape.gaskets:
        parts.append(_gasket(sheet, min(opening, right), right, at, at + thickness))
        at += thickness
    # the bowl's wall inside the band is not known: it goes up out of the drawing
    roof = [(inner, high), *shape.roof, (right, shape.face), (right, high)]
    parts += [_filled(name, "head", sheet.path(roof)), _path("outline", sheet.path(roof[1:-1], closed=False))]
    parts += _marks(sheet, marks, radii, heights)
    parts += [
        _words(sheet.x((inner + right) / 2.0), 18.0, "head", anchor="middle", kind="word plate"),
        _words(sheet.x((left + edge) / 2.0), bottom - 8.0, "piston", anchor="middle", kind="word plate"),
        _words(sheet.x((shape.bore + right) / 2.0), bottom - 8.0, "barrel", anchor="middle", kind="word plate"),
    ]
    bar = (1.0 if right - left < 6.0 else 2.0) * scale
    y = bottom + 18.0
    parts += [_line("bar", 0.5, y, bar, y), *(_line("bar", x, y - 3.0, x, y + 3.0) for x in (0.5, bar))]
    parts.append(_words(bar + 6.0, y + _LETTER * 0.35, f"{bar / scale:.0f} mm; one scale both ways"))
    told = "The gap between crown and squish band on the right-hand side at top dead centre. The numbers are told beside the drawing."
    return _svg(name, _WIDTH, y + 10.0, "The gap under the squish band, enlarged", told, parts)


def _marks(sheet: _Sheet, marks: Sequence[tuple[float, float]], radii: Sequence[float], heights: Sequence[float]) -> list[str]:
    """An upright measure at each radius, with its number in a ring below it, in the piston; rings are kept apart."""
    made: list[str] = []
    taken: list[tuple[float, float]] = []
    for number, (radius, gap) in enumerate(marks, 1):
        low = float(np.interp(radius, radii, heights))
        x, down, up = sheet.x(radius), sheet.y(low), sheet.y(low + gap)
        y = down + 2.0 * _RING
        while any(math.hypot(x - other, y - level) < 2.0 * _RING + 2.0 for other, level in taken):
            y += _RING
        taken.append((x, y))
        made += [_line("measure", x, down, x, up), *(_line("measure", x - 4.0, end, x + 4.0, end) for end in (down, up))]
        made.append(_line("leader", x, down, x, y - _RING))
        made.append(f'<circle class="ring-mark" cx="{x:.2f}" cy="{y:.2f}" r="{_RING:g}"/>')
        made.append(_words(x, y + 0.35 * _LETTER, str(number), anchor="middle", kind="word mark"))
    return made
