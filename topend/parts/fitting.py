"""What goes on a cylinder, by geometry and not by name: heads, pistons and gaskets, and of the rest why not, and by how much.

Each part is judged by every dimension that both it and the cylinder state. It fits where none speaks against it and at
least one that tells one family from another speaks for it; where none of those is known it stands apart as undecided,
because silence is no proof. Stated values are compared, without their limits.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from topend.parts import Crank, Cylinder, FlushHead, Gasket, Part, Piston, SpigotHead, StudPattern
from topend.units import StatedQuantity, from_si

__all__ = ["Candidate", "Fitting", "Misfit", "fitting"]

# How loose a part may be before it was cut for another cylinder. From memory and generous: they tell families apart, they do not
# choose a build.
_LOOSEST_SPIGOT_MM: Final = 1.0
_LOOSEST_REGISTER_MM: Final = 0.5
_LOOSEST_PISTON_MM: Final = 0.5
_WIDEST_OPENING_MM: Final = 4.0
_BAND_MM: Final = (-1.0, 3.0)
_DECK_MM: Final = (-2.0, 5.0)
#: How far studs and holes may differ on the circle where the sizes of both are not known.
_STUD_CIRCLE_MM: Final = 0.5
_PIN_MM: Final = 0.02
_NOTHING_MM: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Misfit:
    """One dimension that keeps a part off a cylinder: the sentence, its figure and limit in mm, and by how much it is beyond."""

    message: str
    figure: float
    limit: float
    by: float

    def __str__(self) -> str:
        return self.message


@dataclass(frozen=True, slots=True)
class Candidate:
    """A part as judged for a cylinder: `misfits` are what keeps it off, `unknown` what could not be judged for want of data.

    `decided` says whether any dimension that tells one family from another could be compared.
    """

    id: str
    kind: str
    misfits: tuple[Misfit, ...] = ()
    unknown: tuple[str, ...] = ()
    decided: bool = True

    @property
    def fits(self) -> bool:
        return self.decided and not self.misfits


@dataclass(frozen=True)
class Fitting:
    """What goes on a cylinder: the ids of heads, pistons and gaskets that fit, and every part as it was judged.

    >>> from topend.parts import FlushHead, Piston
    >>> made = fitting(Cylinder(bore="47.6 mm"), {"a/small": Piston(diameter="47.54 mm"), "a/large": Piston(diameter="55.1 mm")})
    >>> made.fits("piston")
    ['a/small']
    >>> print(made.candidates["a/large"].misfits[0])
    the piston (55.100 mm) is wider than the bore (47.600 mm) by 7.500 mm
    """

    cylinder: Cylinder = field(repr=False)
    candidates: Mapping[str, Candidate]

    @property
    def heads(self) -> list[str]:
        """Ids of the heads that go on."""
        return self.fits("head")

    @property
    def pistons(self) -> list[str]:
        """Ids of the pistons that go in."""
        return self.fits("piston")

    @property
    def gaskets(self) -> list[str]:
        """Ids of the gaskets that go under it or on it."""
        return self.fits("gasket")

    def fits(self, kind: str | None = None) -> list[str]:
        """Ids of the parts that go on, of one kind or of all."""
        return [one.id for one in self.candidates.values() if one.fits and kind in (None, one.kind)]

    @property
    def undecided(self) -> list[Candidate]:
        """Parts of which too little is known to tell, though nothing speaks against them."""
        return [one for one in self.candidates.values() if not one.decided and not one.misfits]

    @property
    def misfits(self) -> list[Candidate]:
        """Parts that do not go on."""
        return [one for one in self.candidates.values() if one.misfits]

    def __str__(self) -> str:
        lines = [f"goes on {self.cylinder.name or 'the cylinder'}: {', '.join(self.fits()) or 'nothing'}"]
        lines += [f"not {one.id}: {'; '.join(map(str, one.misfits))}" for one in self.misfits]
        lines += [f"cannot tell of {one.id}: {'; '.join(one.unknown)}" for one in self.undecided]
        return "\n".join(lines)


def fitting(cylinder: Cylinder, parts: Mapping[str, Part], crank: Crank | None = None) -> Fitting:
    """How each of `parts` (heads, pistons and gaskets, by id) goes on `cylinder`; other parts are left out.

    `crank` takes the place of the pin and the pin height that the cylinder states.
    """
    judged = {}
    for name, part in parts.items():
        notes = _Notes()
        if isinstance(part, FlushHead | SpigotHead):
            kind = "head"
            _head(notes, cylinder, part)
        elif isinstance(part, Piston):
            kind = "piston"
            _piston(notes, cylinder, part, crank)
        elif isinstance(part, Gasket):
            kind = "gasket"
            _gasket(notes, cylinder, part)
        else:
            continue
        judged[name] = Candidate(name, kind, tuple(notes.misfits), tuple(notes.unknown), notes.decided)
    return Fitting(cylinder, judged)


class _Notes:
    """What was found of one part."""

    def __init__(self) -> None:
        self.misfits: list[Misfit] = []
        self.unknown: list[str] = []
        self.decided = False

    def lacks(self, **given: object) -> bool:
        """Whether one of these is not known; it is then noted."""
        lacking = [name.replace("_", " ") for name, value in given.items() if value is None]
        if lacking:
            self.unknown.append(f"{' and '.join(lacking)} not given")
        return bool(lacking)

    def within(self, figure: float, low: float, high: float, small: str, large: str) -> None:
        """Note a misfit where `figure` lies outside `low` to `high`; the texts take ``by``."""
        self.decided = True
        if figure < low - _NOTHING_MM:
            self.misfits.append(Misfit(small.format(by=f"{low - figure:.3f} mm"), figure, low, low - figure))
        elif figure > high + _NOTHING_MM:
            self.misfits.append(Misfit(large.format(by=f"{figure - high:.3f} mm"), figure, high, figure - high))


def _mm(value: StatedQuantity) -> float:
    return from_si(value.si, "mm")


def _head(notes: _Notes, cylinder: Cylinder, head: FlushHead | SpigotHead) -> None:
    _studs(notes, cylinder.studs, head.studs, "the head")
    bore = None if cylinder.bore is None else _mm(cylinder.bore)
    if (head.register_diameter is not None or cylinder.register_diameter is not None) and not notes.lacks(
        register_of_the_head=head.register_diameter, register_of_the_cylinder=cylinder.register_diameter
    ):
        assert head.register_diameter is not None
        assert cylinder.register_diameter is not None
        own, its = _mm(head.register_diameter), _mm(cylinder.register_diameter)
        told = f"the head's register ({own:.3f} mm)"
        there = f"that of the cylinder ({its:.3f} mm)"
        notes.within(
            its - own,
            0.0,
            _LOOSEST_REGISTER_MM,
            f"{told} is wider than {there} by {{by}}",
            f"{told} is {its - own:.3f} mm smaller than {there}, {{by}} more than a register leaves: it does not centre",
        )
    if isinstance(head, SpigotHead):
        if notes.lacks(bore=bore, spigot_diameter=head.spigot_diameter):
            return
        assert head.spigot_diameter is not None
        assert bore is not None
        spigot = _mm(head.spigot_diameter)
        told = f"the spigot ({spigot:.3f} mm)"
        notes.within(
            bore - spigot,
            0.0,
            _LOOSEST_SPIGOT_MM,
            f"{told} is wider than the bore ({bore:.3f} mm) by {{by}}",
            f"{told} is {bore - spigot:.3f} mm smaller than the bore ({bore:.3f} mm), {{by}} more than a spigot leaves",
        )
        return
    outer = head.band.outer_diameter if head.band is not None else None
    if notes.lacks(bore=bore, outer_diameter_of_the_band=outer):
        return
    assert outer is not None
    assert bore is not None
    band = _mm(outer)
    told = f"the squish band ({band:.3f} mm)"
    notes.within(
        band - bore,
        *_BAND_MM,
        f"{told} ends {bore - band:.3f} mm inside the bore ({bore:.3f} mm), {{by}} more than one cut for it",
        f"{told} ends {band - bore:.3f} mm outside the bore ({bore:.3f} mm), {{by}} more than one cut for it",
    )


def _piston(notes: _Notes, cylinder: Cylinder, piston: Piston, crank: Crank | None) -> None:
    if not notes.lacks(bore=cylinder.bore, piston_diameter=piston.diameter):
        assert cylinder.bore is not None
        assert piston.diameter is not None
        bore, own = _mm(cylinder.bore), _mm(piston.diameter)
        notes.within(
            bore - own,
            0.0,
            _LOOSEST_PISTON_MM,
            f"the piston ({own:.3f} mm) is wider than the bore ({bore:.3f} mm) by {{by}}",
            f"the piston ({own:.3f} mm) is {bore - own:.3f} mm smaller than the bore ({bore:.3f} mm), {{by}} more than one made for it",
        )
    pin = cylinder.pin_diameter if crank is None else crank.pin_diameter
    if not notes.lacks(pin_of_the_rod=pin, pin_of_the_piston=piston.pin_diameter):
        assert pin is not None
        assert piston.pin_diameter is not None
        rod, own = _mm(pin), _mm(piston.pin_diameter)
        decided = notes.decided
        notes.within(
            own - rod,
            -_PIN_MM,
            _PIN_MM,
            f"the piston's pin ({own:.3f} mm) is smaller than that of the rod ({rod:.3f} mm) by {rod - own:.3f} mm",
            f"the piston's pin ({own:.3f} mm) is larger than that of the rod ({rod:.3f} mm) by {own - rod:.3f} mm",
        )
        # many families share a pin
        notes.decided = decided
    height = _pin_height(cylinder, crank)
    if not notes.lacks(height_of_the_cylinder=cylinder.height, compression_height=piston.compression_height, pin_height=height):
        assert cylinder.height is not None
        assert piston.compression_height is not None
        assert height is not None
        deck = _mm(cylinder.height) - height - _mm(piston.compression_height)
        decided = notes.decided
        notes.within(
            deck,
            *_DECK_MM,
            f"the piston stands {-deck:.3f} mm above the deck without base gaskets, {{by}} more than any head takes",
            f"the piston stops {deck:.3f} mm below the deck without base gaskets, {{by}} more than a head reaches down",
        )
        notes.decided = decided


def _pin_height(cylinder: Cylinder, crank: Crank | None) -> float | None:
    """Pin axis at TDC above the case face [mm]: of the crank, or as the cylinder states it."""
    if crank is None:
        return None if cylinder.pin_height is None else _mm(cylinder.pin_height)
    if crank.rod_length is None or crank.seat_height is None:
        return None
    reach = _mm(crank.rod_length) + _mm(crank.stroke) / 2.0
    return math.sqrt(reach * reach - _mm(crank.offset) ** 2) - _mm(crank.seat_height)


def _gasket(notes: _Notes, cylinder: Cylinder, gasket: Gasket) -> None:
    if gasket.role == "head":
        _studs(notes, cylinder.studs, gasket.studs, "the gasket")
        _opening(notes, gasket, cylinder.bore, "the bore")
        return
    _opening(notes, gasket, cylinder.skirt_diameter, "the skirt")
    reach = gasket.window_diameter or gasket.opening
    if cylinder.window_diameter is None or notes.lacks(window_of_the_gasket=reach):
        return
    assert reach is not None
    window, own = _mm(cylinder.window_diameter), _mm(reach)
    notes.within(
        own - window,
        0.0,
        math.inf,
        f"the gasket's cut-outs ({own:.3f} mm) end inside the transfer passages ({window:.3f} mm): they are masked by {{by}} in diameter",
        "",
    )


def _opening(notes: _Notes, gasket: Gasket, over: StatedQuantity | None, what: str) -> None:
    if notes.lacks(**{what.removeprefix("the "): over, "opening": gasket.opening}):
        return
    assert over is not None
    assert gasket.opening is not None
    its, own = _mm(over), _mm(gasket.opening)
    told = f"the opening ({own:.3f} mm)"
    notes.within(
        own - its,
        0.0,
        _WIDEST_OPENING_MM,
        f"{told} is smaller than {what} ({its:.3f} mm) by {{by}}",
        f"{told} is {own - its:.3f} mm wider than {what} ({its:.3f} mm), {{by}} more than one cut for it",
    )


def _studs(notes: _Notes, studs: StudPattern | None, holes: StudPattern | None, what: str) -> None:
    if notes.lacks(studs_of_the_cylinder=studs, **{f"stud holes of {what.removeprefix('the ')}": holes}):
        return
    assert studs is not None
    assert holes is not None
    if studs.count != holes.count:
        message = f"{what} has {holes.count} holes for {studs.count} studs"
        notes.decided = True
        notes.misfits.append(Misfit(message, holes.count, studs.count, abs(holes.count - studs.count)))
        return
    notes.misfits += _circle(notes, studs, holes, what)


def _circle(notes: _Notes, studs: StudPattern, holes: StudPattern, what: str) -> Iterator[Misfit]:
    notes.decided = True
    slack = _STUD_CIRCLE_MM
    if studs.diameter is not None and holes.diameter is not None:
        slack = _mm(holes.diameter) - _mm(studs.diameter)
        if slack < 0.0:
            message = f"the studs ({_mm(studs.diameter):.3f} mm) are thicker than the holes of {what} ({_mm(holes.diameter):.3f} mm)"
            yield Misfit(f"{message} by {-slack:.3f} mm", _mm(holes.diameter), _mm(studs.diameter), -slack)
            return
    # on opposite sides stud and hole are off by half the difference each, and so is half their slack
    its, own = _mm(studs.circle_diameter), _mm(holes.circle_diameter)
    off = abs(own - its)
    if off > slack + _NOTHING_MM:
        message = f"the stud circle of {what} ({own:.3f} mm) differs from that of the cylinder ({its:.3f} mm) by {off:.3f} mm"
        yield Misfit(f"{message}, {off - slack:.3f} mm more than the holes leave", off, slack, off - slack)
