"""Does one plate fit: its lip in the bores, its slots over the studs of several families, and where its pin holes land.

A plate sits with its lip in the bore and may be turned as far as the studs let it. It *fits* where it goes on with every size at the
limit that is against it, each stud off its place; it *may fit* where it goes on with every size at the limit that favours it; else it
*does not fit*. All turns at which it goes on are found, from the angles at which a
stud's way around the axis crosses the outline of a slot.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final, Literal

from topend.errors import ArgumentError, PartError, Problem, must_be
from topend.parts import DrillingFixture, LocatingPin, StudFamily
from topend.parts.stud_family import Obstacle
from topend.physics.location import drill_point, pin_hole_depth
from topend.solve.slots import SlotOutline, turns_of
from topend.units import KINDS, Quantity, StatedQuantity, StatedValueError, from_si, stated

__all__ = ["FamilyFit", "FixtureCheck", "PinHole", "Turn", "Wall", "fixture_check"]

Verdict = Literal["fits", "may fit", "does not fit"]
#: Sums of decimals differ by less [mm].
_NOTHING: Final = 1e-9
#: A hole's full diameter goes deeper than half a pin by this, for chips, unless something else is stated.
ALLOWANCE: Final = "1 mm"
#: Metal between a pin hole and what is beside it; our own figure.
LEAST_WALL: Final = "2 mm"
#: Radial play with which a lip still centres; our own figure.
CENTRES_WITHIN: Final = "0.05 mm"


@dataclass(frozen=True, slots=True)
class Wall:
    """Least metal [mm] between a pin hole and what is beside it, wherever the plate's play lets it land; negative: it runs into it."""

    beside: str
    thickness: float
    part: str = "both"


@dataclass(frozen=True, slots=True)
class PinHole:
    """A pin hole where the plate stands in the middle of its play: place [mm] and angle [deg] from the bore's axis and the family's mark,
    and the walls around it, thinnest first."""

    x: float
    y: float
    angle: float
    walls: tuple[Wall, ...]


@dataclass(frozen=True, slots=True)
class Turn:
    """A turn of the plate against the family's mark at which it goes on: its middle, and from where to where [deg]; the room left at the
    tightest stud in the middle [mm]; and where the pin holes land.

    `head_turned` is how far the head may come out turned against the cylinder [deg] where the plate is put anywhere in its play on
    either; `head_may_turn` how far it may be turned with its stud holes still over the studs [deg]. None where the head's holes are not
    stated, or nothing but a mark holds the plate.
    """

    angle: float
    low: float
    high: float
    stud_room: float
    holes: tuple[PinHole, ...]
    head_turned: float | None = None
    head_may_turn: float | None = None

    @property
    def play(self) -> float:
        """How far it may be turned either way [deg]."""
        return (self.high - self.low) / 2.0

    @property
    def thinnest(self) -> Wall | None:
        """The thinnest wall around its holes; None where nothing is known beside them."""
        walls = [hole.walls[0] for hole in self.holes if hole.walls]
        return min(walls, key=lambda wall: wall.thickness) if walls else None


@dataclass(frozen=True, slots=True)
class FamilyFit:
    """Whether a plate fits one family.

    `lip_play` is the lip's radial play in the bore at the limits of both, least and most [mm]; `head_play` that of the plate on the head,
    in its recess or around its spigot, where that is stated. `turns` are best first: thickest walls, then most play.
    """

    family: StudFamily
    verdict: Verdict
    why: tuple[str, ...]
    lip_play: tuple[float, float]
    head_play: tuple[float, float] | None
    turns: tuple[Turn, ...]
    least_wall: float

    @property
    def name(self) -> str:
        return self.family.name or "family without a name"

    @property
    def thin(self) -> bool:
        """Whether a wall is thinner than wanted at the best turn."""
        wall = self.turns[0].thinnest if self.turns else None
        return wall is not None and wall.thickness < self.least_wall - _NOTHING


@dataclass(frozen=True, slots=True)
class FixtureCheck:
    """A plate against families, in the order given. `hole_depth` is what half a pin asks for, at full diameter; `bottom` that and the
    drill's point; `stop` where the drill's stop is set, from the shoulder of its point: depth and the plate's thickness; `chamfer` how
    deep a chamfer of 45 deg is that takes a slotted pin as wide as it may be before it is driven in [mm]. None where the pin's length,
    the thickness, or a slotted pin is not stated.

    Made by `te.fixture_check`, whose example shows one.
    """

    fixture: DrillingFixture
    pin: LocatingPin | None
    families: tuple[FamilyFit, ...]
    hole_diameter: float | None
    hole_depth: float | None
    bottom: float | None
    stop: float | None
    chamfer: float | None

    @property
    def fits_all(self) -> bool:
        return all(one.verdict == "fits" for one in self.families)


def fixture_check(
    fixture: DrillingFixture,
    families: Iterable[StudFamily],
    *,
    pin: LocatingPin | None = None,
    least_wall: str | Quantity = LEAST_WALL,
    depth_allowance: str | Quantity = ALLOWANCE,
    centres_within: str | Quantity = CENTRES_WITHIN,
) -> FixtureCheck:
    """Whether `fixture` fits each of `families`, with what play, and where its pin holes land.

    Parameters: `pin` for depth and diameter of the holes; `least_wall` that a hole should leave to what is beside it;
    `depth_allowance` by which a hole is deeper than half a pin; `centres_within`, the radial play beyond which a lip enters but does not
    centre. Raises `ArgumentError`, and `PartError` for a length that is none, or less than 0.

    >>> import topend as te
    >>> slots = [te.StudSlot(angle=f"{45 + 90 * index} deg", circle_from="52 mm", circle_to="60 mm", width="6.6 mm") for index in range(4)]
    >>> plate = te.DrillingFixture(lip_diameter="39.98 mm", pin_distance="58 mm", drill_diameter="4 mm", slots=slots)
    >>> even = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    >>> found = te.fixture_check(plate, [te.StudFamily(name="demo", bore="40 mm", pattern=even, first_angle="45 deg")])
    >>> fit = found.families[0]
    >>> fit.verdict, len(fit.turns), round(fit.turns[0].play, 3)
    ('fits', 4, 0.614)
    """
    must_be("fixture_check", "fixture", fixture, DrillingFixture)
    if pin is not None:
        must_be("fixture_check", "pin", pin, LocatingPin)
    if isinstance(families, StudFamily):
        raise ArgumentError("fixture_check: families must be a list of StudFamily; got one, so put it in brackets")
    families = tuple(families)
    for one in families:
        must_be("fixture_check", "families", one, StudFamily)
    wall, allowance, centres = (
        _length(name, value)
        for name, value in (("least_wall", least_wall), ("depth_allowance", depth_allowance), ("centres_within", centres_within))
    )
    hole = fixture.drill_diameter or (None if pin is None else pin.diameter)
    depth = bottom = stop = chamfer = None
    if pin is not None and pin.standard != "solid" and hole is not None:
        chamfer = max(0.0, from_si(pin.free.high, "mm") - _ends(hole)[0]) / 2.0
    if pin is not None and pin.length is not None:
        depth = from_si(float(pin_hole_depth(pin_length=pin.length.si, allowance=allowance * 1e-3)), "mm")
        bottom = depth if hole is None else depth + from_si(float(drill_point(diameter=_ends(hole)[1] * 1e-3)), "mm")
        stop = None if fixture.thickness is None else depth + fixture.thickness.m_as("mm")
    plate = _Plate(fixture, None if hole is None else _ends(hole)[1], bottom, centres)
    fits = tuple(plate.fit(one, wall) for one in families)
    return FixtureCheck(fixture, pin, fits, None if hole is None else float(hole.m_as("mm")), depth, bottom, stop, chamfer)


def _length(name: str, value: str | Quantity) -> float:
    try:
        read = stated(value, KINDS["length"])
    except StatedValueError as error:
        raise PartError("fixture_check", [Problem(name, str(error))]) from None
    if read.si < 0.0:
        raise PartError("fixture_check", [Problem(name, f"must be 0 mm or more; got {read.text!r}")])
    return float(read.m_as("mm"))


def _ends(value: StatedQuantity) -> tuple[float, float]:
    """Limits of a length [mm]; of one without limits the value itself, twice."""
    ends = value.si_limits
    shown = from_si(value.si, "mm")
    return (shown, shown) if ends is None else (from_si(ends.low, "mm"), from_si(ends.high, "mm"))


# --- a plate on a family ---------------------------------------------------------------------------------------------


class _Plate:
    def __init__(self, fixture: DrillingFixture, hole: float | None, bottom: float | None, centres: float) -> None:
        self.fixture = fixture
        self.hole = hole
        self.bottom = bottom
        self.centres = centres

    def fit(self, family: StudFamily, least_wall: float) -> FamilyFit:
        fixture = self.fixture
        lip, bore = _ends(fixture.lip_diameter), _ends(family.bore)
        play = ((bore[0] - lip[1]) / 2.0, (bore[1] - lip[0]) / 2.0)
        why: list[str] = []
        verdicts = [self.enters(play, f"the lip ({fixture.lip_diameter.text})", f"the bore ({family.bore.text})", why)]
        on_head = self.on_head(family, verdicts, why)
        studs = [complex(x, y) for x, y in family.places_mm]
        against, favoured = (self.slots(family, worst=worst) for worst in (True, False))
        # without slots nothing holds the plate: it is laid on by its mark
        turns: list[tuple[float, float]] = [(0.0, 0.0)]
        if fixture.slots:
            sure, turns = True, turns_of(studs, against)
            if not turns:
                sure, turns = False, turns_of(studs, favoured)
                verdicts.append("may fit" if turns else "does not fit")
                why.append(self.stud_words(family, studs, favoured, goes=bool(turns)))
            if fixture.lips == "one" and fixture.pin_distance is not None and turns:
                surely = self.that_mirror(studs, turns, against) if sure else []
                turns = surely or self.that_mirror(studs, turns, favoured)
                if not turns or (sure and not surely):
                    verdicts.append("may fit" if turns else "does not fit")
                    meet = "at some sizes within the limits alone do they" if turns else "at no turn of the plate do they"
                    why.append(
                        f"with a lip on one face the head's holes come out mirrored, and {meet} meet the cylinder's: put the pins on a "
                        "line about which the studs are alike on both sides, or a lip on both faces"
                    )
        made = [self.turn(family, studs, against if fixture.slots else [], ends, max(0.0, play[1])) for ends in turns]
        made = [self.with_head_turned(family, studs, favoured, turn) for turn in made]
        made.sort(key=lambda one: (-_thickness(one), -round(one.play, 6), abs(one.angle)))
        verdict: Verdict = "does not fit" if "does not fit" in verdicts else "may fit" if "may fit" in verdicts else "fits"
        return FamilyFit(family, verdict, tuple(why), play, on_head, tuple(made), least_wall)

    def on_head(self, family: StudFamily, verdicts: list[Verdict], why: list[str]) -> tuple[float, float] | None:
        """The plate's play on the head, by a ring around its spigot or a lip in its recess; None where neither is stated."""
        fixture = self.fixture
        ring, spigot, recess = fixture.head_ring_diameter, family.spigot_diameter, family.recess_diameter
        if ring is not None and spigot is not None:
            inner, outer = spigot, ring
            words = f"the head's spigot ({spigot.text})", f"the plate's ring ({ring.text})"
        elif ring is None and recess is not None:
            inner, outer = fixture.head_lip_diameter or fixture.lip_diameter, recess
            words = f"the lip for the head ({inner.text})", f"its recess ({recess.text})"
        else:
            return None
        own, around = _ends(inner), _ends(outer)
        play = ((around[0] - own[1]) / 2.0, (around[1] - own[0]) / 2.0)
        verdicts.append(self.enters(play, *words, why))
        return play

    def that_mirror(self, studs: list[complex], turns: list[tuple[float, float]], slots: list[SlotOutline]) -> list[tuple[float, float]]:
        """Of `turns` on the cylinder those for which the plate, laid on the head's face, can put its holes opposite the cylinder's.

        On that face the studs are mirrored, an angle becomes π less itself; a line of holes is itself again at half a turn.
        """
        pins = 0.0 if self.fixture.pin_angle is None else self.fixture.pin_angle.si
        on_head = turns_of([-stud.conjugate() for stud in studs], slots)

        def meets(turn: tuple[float, float]) -> bool:
            low, high = -2.0 * pins - turn[1], -2.0 * pins - turn[0]
            return any(
                _between(low + high, head[0] + head[1]) / 2.0 <= ((high - low) + (head[1] - head[0])) / 2.0 + _NOTHING for head in on_head
            )

        return [turn for turn in turns if meets(turn)]

    def with_head_turned(self, family: StudFamily, studs: list[complex], slots: list[SlotOutline], turn: Turn) -> Turn:
        """`turn` with how far the head may come out turned against the cylinder, and how far its stud holes let it.

        On the head the slots stand over studs, or bolts of their size, in the head's stud holes, which leave them more room.
        """
        fixture, holes = self.fixture, family.stud_hole_diameter
        if not slots or holes is None or fixture.pin_distance is None:
            return turn
        own = _ends(_stud_of(family))
        more = max(0.0, _ends(holes)[1] - own[0]) / 2.0
        wider = [SlotOutline(slot.start, slot.end, slot.room + more) for slot in slots]
        middle = math.radians(turn.angle)
        on_cylinder = [ends for ends in turns_of(studs, slots) if _holds(ends, middle, 2.0 * math.pi)]
        if fixture.lips == "both":
            on_head = [ends for ends in turns_of(studs, wider) if _holds(ends, middle, 2.0 * math.pi)]
        else:
            pins = 0.0 if fixture.pin_angle is None else fixture.pin_angle.si
            mirrored = turns_of([-stud.conjugate() for stud in studs], wider)
            # as turns of the cylinder that its holes would meet; a line of holes is itself at half a turn
            over = [(-2.0 * pins - high, -2.0 * pins - low) for low, high in mirrored]
            on_head = sorted(over, key=lambda ends: _nearly(ends, middle))[:1]
        if not on_cylinder or not on_head:
            return turn
        half = sum((high - low) / 2.0 for low, high in (on_cylinder[0], on_head[0]))
        period = 2.0 * math.pi if fixture.lips == "both" else math.pi
        apart = (sum(on_cylinder[0]) / 2.0 - sum(on_head[0]) / 2.0) % period
        turned = min(math.pi, half + min(apart, period - apart))
        room = max(0.0, (_ends(holes)[0] - own[1] - _ends(family.stud_position)[1]) / 2.0)
        circle = max(2.0 * abs(stud) for stud in studs)
        may = 2.0 * math.asin(min(1.0, room / circle))
        return replace(turn, head_turned=math.degrees(turned), head_may_turn=math.degrees(may))

    def enters(self, play: tuple[float, float], what: str, where: str, why: list[str]) -> Verdict:
        """Whether a lip enters, and centres, by its radial play at the limits."""
        if play[1] < -_NOTHING:
            why.append(f"{what} is wider than {where}, by {-2 * play[1]:.3f} mm at the least")
            return "does not fit"
        if play[0] > self.centres + _NOTHING:
            why.append(f"{what} is loose in {where}: with {play[0]:.3f} mm of radial play at the least it does not centre")
            return "does not fit"
        if play[0] < -_NOTHING:
            why.append(f"{what} enters {where} at some sizes within the limits: at worst it is {-2 * play[0]:.3f} mm too wide")
        if play[1] > self.centres + _NOTHING:
            why.append(f"{what} centres in {where} at some sizes within the limits: at worst it has {play[1]:.3f} mm of radial play")
        return "fits" if play[0] >= -_NOTHING and play[1] <= self.centres + _NOTHING else "may fit"

    def slots(self, family: StudFamily, *, worst: bool) -> list[SlotOutline]:
        """The slots with every size at the limit that is against the studs, or that favours them; so too where each stud stands."""
        stud = _stud_of(family)
        against, favoured = (1, 0) if worst else (0, 1)
        made = []
        for slot in self.fixture.slots:
            room = (_ends(slot.width)[favoured] - _ends(stud)[against]) / 2.0
            # a stud off its place may stand further in, but enters no slot that is narrower than it
            if worst or room >= 0.0:
                room += (-1.0 if worst else 1.0) * _ends(family.stud_position)[1] / 2.0
            inner, outer = _ends(slot.circle_from)[against] / 2.0, _ends(slot.circle_to)[favoured] / 2.0
            angle = slot.angle.si
            far = angle if slot.angle_to is None else slot.angle_to.si
            made.append(SlotOutline(_polar(inner, angle), _polar(outer, far), room))
        return made

    def stud_words(self, family: StudFamily, studs: list[complex], slots: list[SlotOutline], *, goes: bool) -> str:
        """Why the studs do not go into the slots."""
        if goes:
            return "its studs go into the slots at some sizes within the limits, not at all of them"
        for place, stud in enumerate(studs):
            if not turns_of([stud], slots):
                reach = " ".join(
                    f"{2 * min(abs(slot.start), abs(slot.end)):.2f} to {2 * max(abs(slot.start), abs(slot.end)):.2f} mm"
                    for slot in slots[:1]
                )
                narrow = max(slot.room for slot in slots) < 0.0
                told = (
                    "every slot is narrower than it"
                    if narrow
                    else f"no slot reaches its circle of {2 * abs(stud):.2f} mm (the first: {reach})"
                )
                return f"stud {place}, {told}"
        return "each stud finds a slot, but not all of them at one turn of the plate"

    def turn(self, family: StudFamily, studs: list[complex], slots: list[SlotOutline], ends: tuple[float, float], lip_play: float) -> Turn:
        low, high = ends
        middle = (low + high) / 2.0
        back = complex(math.cos(middle), -math.sin(middle))
        room = min((max(slot.depth(stud * back) for slot in slots) for stud in studs), default=math.inf) if slots else math.inf
        holes: tuple[PinHole, ...] = ()
        fixture = self.fixture
        if fixture.pin_distance is not None:
            first = 0.0 if fixture.pin_angle is None else fixture.pin_angle.si
            holes = tuple(self.pin_hole(family, studs, first + half + middle, (high - low) / 2.0, lip_play) for half in (0.0, math.pi))
        return Turn(round(math.degrees(middle), 9) + 0.0, math.degrees(low), math.degrees(high), room, holes)

    def pin_hole(self, family: StudFamily, studs: list[complex], angle: float, play: float, lip_play: float) -> PinHole:
        """A hole at `angle` that may lie `play` [rad] either way, and off by what plate and drill let it."""
        fixture = self.fixture
        assert fixture.pin_distance is not None
        radius = fixture.pin_distance.m_as("mm") / 2.0
        at = _polar(radius, angle)
        walls: list[Wall] = []
        if self.hole is not None:
            # what the hole takes beyond its middle: half of it, the lip's play, the bush's place, and the drill in it
            takes = self.hole / 2.0 + lip_play
            if fixture.hole_position is not None:
                takes += _ends(fixture.hole_position)[1] / 2.0
            if fixture.bush_diameter is not None and fixture.drill_diameter is not None:
                takes += max(0.0, _ends(fixture.bush_diameter)[1] - _ends(fixture.drill_diameter)[0]) / 2.0
            walls = [
                Wall(what, _wall(away - takes, below), part) for what, away, below, part in self.beside(family, studs, radius, angle, play)
            ]
            walls.sort(key=lambda wall: wall.thickness)
        # without the -0.00 and 360.0 of rounding
        x, y = (round(part, 9) + 0.0 for part in (at.real, at.imag))
        return PinHole(x, y, math.degrees(math.atan2(y, x)) % 360.0, tuple(walls))

    def beside(
        self, family: StudFamily, studs: list[complex], radius: float, angle: float, play: float
    ) -> Iterable[tuple[str, float, float, str]]:
        """What lies beside a hole's middle, how far from it at the least, and how far below the drill's point it begins."""
        yield "the bore", radius - _ends(family.bore)[1] / 2.0, -math.inf, "both"
        wide = max(_ends(one)[1] for one in (_stud_of(family), family.stud_hole_diameter) if one is not None)
        for place, stud in enumerate(studs):
            apart = max(0.0, _between(math.atan2(stud.imag, stud.real), angle) - play)
            away = abs(stud - _polar(radius, math.atan2(stud.imag, stud.real) + apart))
            yield f"stud {place}", away - wide / 2.0 - _ends(family.stud_position)[1] / 2.0, -math.inf, "both"
        if family.gasket_opening is not None:
            yield "the gasket's opening", radius - _ends(family.gasket_opening)[1] / 2.0, -math.inf, "gasket"
        if family.gasket_outline is not None:
            yield "the gasket's outline", _ends(family.gasket_outline)[0] / 2.0 - radius, -math.inf, "gasket"
        for obstacle in family.obstacles:
            yield (
                f"{obstacle.what} ({obstacle.name})" if obstacle.name else obstacle.what,
                away_from(obstacle, radius, angle, play),
                -math.inf if self.bottom is None else _ends(obstacle.depth)[0] - self.bottom,
                obstacle.part,
            )


def away_from(obstacle: Obstacle, radius: float, angle: float, play: float) -> float:
    """Least distance [mm] from a hole's middle to an obstacle; negative inside it, by how far it lies from the nearer circle."""
    inner, outer = obstacle.circle_from.m_as("mm") / 2.0, obstacle.circle_to.m_as("mm") / 2.0
    start, span = obstacle.angle_from.si, obstacle.angle_to.si - obstacle.angle_from.si
    full = 2.0 * math.pi
    span = span if 0.0 <= span <= full else span % full
    middle = start + span / 2.0
    apart = max(0.0, _between(middle, angle) - play - span / 2.0)
    if apart == 0.0:
        return float(max(inner - radius, radius - outer))
    edge = min(outer, max(inner, radius * math.cos(apart)))
    return float(abs(_polar(radius, apart) - edge))


def _wall(beside: float, below: float) -> float:
    """Metal between a hole and what begins `below` its bottom and `beside` its side; negative: how far it would have to be moved."""
    return math.hypot(beside, below) if beside > 0.0 and below > 0.0 else max(beside, below)


def _stud_of(family: StudFamily) -> StatedQuantity:
    own = family.stud_diameter or (family.pattern.diameter if family.pattern is not None else None)
    assert own is not None
    return own


def _holds(ends: tuple[float, float], turn: float, period: float) -> bool:
    return (turn - ends[0] + 1e-9) % period <= ends[1] - ends[0] + 2e-9


def _nearly(ends: tuple[float, float], turn: float) -> float:
    """How far a turn lies from the middle of an interval, both of a line, which is itself at half a turn."""
    apart = ((ends[0] + ends[1]) / 2.0 - turn) % math.pi
    return min(apart, math.pi - apart)


def _polar(radius: float, angle: float) -> complex:
    return radius * complex(math.cos(angle), math.sin(angle))


def _between(one: float, other: float) -> float:
    """The angle between two directions, 0 to π."""
    apart = (one - other) % (2.0 * math.pi)
    return min(apart, 2.0 * math.pi - apart)


def _thickness(turn: Turn) -> float:
    wall = turn.thinnest
    # walls that differ by rounding are alike
    return math.inf if wall is None else round(wall.thickness, 6)
