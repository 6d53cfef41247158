"""A drilling fixture against its families, as text for 80 columns and as JSON of the same figures."""

from __future__ import annotations

import functools
import json
import math
from dataclasses import dataclass
from typing import Any, Final

from topend.physics.spring_pins import STANDING
from topend.report.cautions import CAUTIONS
from topend.report.layout import heading, labelled, paragraph
from topend.solve import FamilyFit, FixtureCheck

__all__ = ["FixtureReport"]

#: What is said of drilling for pins, whatever the plate. Standing: common practice.
_PRACTICE: Final = (
    "A hole takes half a pin; a small chamfer lets the pin start, and no burr keeps head and gasket off the face. Drill cylinder and head "
    "apart from each other, each with its plate, clean both of chips, and offer the head up dry before the pins go in. The pins place the "
    "head while it is put on and drawn down. They do not hold it: gas pushes a head straight up, whatever the shape of its chamber, and "
    "the studs hold it down; what a pin could carry is not judged."
)


@dataclass(frozen=True)
class FixtureReport:
    """What a fixture comes to: `text` for people, `to_dict` and `json` for programs.

    >>> from topend.parts import DrillingFixture, StudFamily, StudPattern
    >>> from topend.solve import fixture_check
    >>> even = StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    >>> plate = DrillingFixture(lip_diameter="39.98 mm", pin_distance="58 mm", drill_diameter="4 mm")
    >>> report = FixtureReport(fixture_check(plate, [StudFamily(name="demo", bore="40 mm", pattern=even, first_angle="45 deg")]))
    >>> report.text.splitlines()[2:4]
    ['ONE PLATE FOR 1 FAMILY: IT FITS', '  demo  fits; lip play 0.010 mm; thinnest wall 6.99 mm, to the bore']
    """

    check: FixtureCheck
    title: str | None = None
    file: str | None = None

    @functools.cached_property
    def text(self) -> str:
        """The answer in plain text."""
        check = self.check
        lines = paragraph(f"DRILLING FIXTURE: {self.title}" if self.title else "DRILLING FIXTURE", rest="  ")
        if self.file:
            lines.append(f"from {self.file}")
        count = len(check.families)
        many = f"{count} families" if count != 1 else "1 family"
        no = [one.name for one in check.families if one.verdict != "fits"]
        verdict = "it fits" if not no and count == 1 else "it fits all" if not no else f"{count - len(no)} surely"
        lines += heading(f"One plate for {many}: {verdict}")
        lines += labelled([(one.name, _told(one)) for one in check.families])
        for one in check.families:
            lines += self._family_lines(one)
        lines += heading("Holes") + [line for told in self._hole_words() for line in paragraph(told, first="  ")]
        lines += heading("Cautions") + [line for told in (CAUTIONS[3], CAUTIONS[4]) for line in paragraph(told, first="  ")]
        return "\n".join(lines)

    def _family_lines(self, one: FamilyFit) -> list[str]:
        lines = heading(one.name)
        for why in one.why:
            lines += paragraph(why, first="  ! ")
        lines += paragraph(f"lip in the bore: {_play(one.lip_play)}", first="  ")
        if one.head_play is not None:
            on = "lip in the head's recess" if self.check.fixture.head_ring_diameter is None else "ring around the head's spigot"
            lines += paragraph(f"{on}: {_play(one.head_play)}", first="  ")
        if not one.turns:
            return lines
        best = one.turns[0]
        if self.check.fixture.slots:
            turns = f"goes on at {len(one.turns)} turns" if len(one.turns) > 1 else "goes on at one turn"
            told = f"{turns}; best turned {best.angle:+.1f} deg from the mark, ± {best.play:.2f} deg of play, "
            lines += paragraph(f"{told}{max(0.0, best.stud_room):.3f} mm of room at the tightest stud", first="  ")
        if best.head_turned is not None and best.head_may_turn is not None:
            lines += _turned_lines(best.head_turned, best.head_may_turn)
        for number, hole in enumerate(best.holes, start=1):
            lines += paragraph(f"hole {number}: x {hole.x:+.2f}, y {hole.y:+.2f} mm ({hole.angle:.1f} deg from the mark)", first="  ")
            for wall in hole.walls[:3]:
                thin = wall.thickness < one.least_wall - 1e-9
                what = (
                    f"{wall.thickness:.2f} mm to {wall.beside}"
                    if wall.thickness >= 0
                    else f"runs {-wall.thickness:.2f} mm into {wall.beside}"
                )
                lines += paragraph(
                    what + (f": under the {one.least_wall:g} mm wanted" if thin else ""), first="      ! " if thin else "        "
                )
        return lines

    def _hole_words(self) -> list[str]:
        check, told = self.check, []
        if check.hole_depth is not None:
            told.append(
                f"{check.hole_depth:.1f} mm deep in each part at full diameter, for half a pin and an allowance"
                + ("" if check.bottom in (None, check.hole_depth) else f", {check.bottom:.1f} mm to the drill's point")
                + ("" if check.stop is None else f"; stop at {check.stop:.1f} mm, through the plate")
            )
        if check.pin is not None:
            low, high = (end * 1e3 for end in (check.pin.free.low, check.pin.free.high))
            by_table = check.pin.standard != "solid" and check.pin.free_diameter is None
            told.append(f"pins {check.pin.standard}, {check.pin.diameter.text}: {low:.2f} to {high:.2f} mm before they are driven in")
            if by_table:
                told.append(f"that is by a table: {STANDING}")
            if check.chamfer:
                told.append(
                    f"a chamfer of 45 deg that takes them is {check.chamfer:.2f} mm deep; one that is deeper takes hold from pin and gasket"
                )
        return [*told, _PRACTICE]

    # --- JSON ---

    def to_dict(self) -> dict[str, Any]:
        """The same as plain data; lengths in mm, angles in degrees."""
        check = self.check
        return {
            "title": self.title,
            "file": self.file,
            "fits_all": check.fits_all,
            "hole_diameter": _number(check.hole_diameter),
            "hole_depth": _number(check.hole_depth),
            "bottom": _number(check.bottom),
            "stop": _number(check.stop),
            "chamfer": _number(check.chamfer),
            "families": [_family_dict(one) for one in check.families],
            "cautions": [CAUTIONS[3], CAUTIONS[4]],
        }

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)


def _told(one: FamilyFit) -> str:
    told = [one.verdict, f"lip play {_play(one.lip_play)}"]
    wall = one.turns[0].thinnest if one.turns else None
    if wall is not None:
        beside = f"to {wall.beside}" if wall.thickness >= 0.0 else f"it runs into {wall.beside}"
        told.append(f"{'THIN WALL' if one.thin else 'thinnest wall'} {wall.thickness:.2f} mm, {beside}")
    return "; ".join(told)


def _turned_lines(turned: float, may: float) -> list[str]:
    """How far the head may come out turned, and how far its holes go over the studs all the same."""
    told = f"put anywhere in its play on either part it may leave the head turned by {turned:.2f} deg, of which the head's stud holes take "
    told += f"{may:.2f} deg"
    # what is not seen in two decimals is no matter
    if turned < may + 0.005:
        return paragraph(told, first="  ")
    return paragraph(f"{told}: put its slots in the middle over the studs, or over bolts in the head, before drilling", first="  ! ")


def _play(play: tuple[float, float]) -> str:
    low, high = play
    if high < 0.0:
        return f"{-2 * high:.3f} mm too wide"
    if low < 0.0:
        return f"from {-2 * low:.3f} mm too wide to {high:.3f} mm of play"
    return f"{high:.3f} mm" if high - low < 5e-4 else f"{low:.3f} to {high:.3f} mm"


def _number(value: float | None) -> dict[str, Any] | None:
    return None if value is None or not math.isfinite(value) else {"value": value, "unit": "mm"}


def _family_dict(one: FamilyFit) -> dict[str, Any]:
    return {
        "name": one.name,
        "verdict": one.verdict,
        "why": list(one.why),
        "lip_play": list(one.lip_play),
        "head_play": None if one.head_play is None else list(one.head_play),
        "least_wall": one.least_wall,
        "turns": [
            {
                "angle": turn.angle,
                "low": turn.low,
                "high": turn.high,
                "stud_room": turn.stud_room if math.isfinite(turn.stud_room) else None,
                "head_turned": turn.head_turned,
                "head_may_turn": turn.head_may_turn,
                "holes": [
                    {
                        "x": hole.x,
                        "y": hole.y,
                        "angle": hole.angle,
                        "walls": [{"beside": wall.beside, "thickness": wall.thickness, "part": wall.part} for wall in hole.walls],
                    }
                    for hole in turn.holes
                ],
            }
            for turn in one.turns
        ],
    }
