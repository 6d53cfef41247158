"""What may be wrong where a reading is outside its limits: each cause with what it would make the reading, where its size is known.

Sizes are worked out on the top end itself: it is put together in the wrong way, and evaluated.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, Literal

from topend.assembly import TopEnd
from topend.errors import TopendError
from topend.evaluation import evaluate
from topend.parts import ConeCrown, Gasket, SphereCrown
from topend.report.stack import stack_of

if TYPE_CHECKING:
    from topend.report.card import BenchCard

__all__ = ["Cause", "Way", "at_least_gap", "causes_of", "likely"]

#: How a reading is off: more or less than it may be, or uneven around the bore.
Way = Literal["more", "less", "uneven"]
#: What the place of a wire must make for it to be worth a word.
_SEEN_MM: Final = 0.02
#: Outputs whose readings a wrong build moves.
_WATCHED: Final = (
    "deck_clearance",
    "clearance_volume",
    *(f"{port}_{edge}" for port in ("exhaust", "transfer") for edge in ("opens", "closes", "duration")),
)


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that may be wrong: in words, and by output what it adds to the reading, in the output's unit.

    `ways` says how readings are off under a cause whose size is not known, by output.
    """

    text: str
    adds: Mapping[str, float] = field(default_factory=dict)
    ways: Mapping[str, Way] = field(default_factory=dict)

    def way(self, of: str) -> Way | None:
        """How it puts a reading off; None where it does not."""
        if of in self.adds:
            return "more" if self.adds[of] > 0.0 else "less"
        return self.ways.get(of)


def causes_of(card: BenchCard, radius: float | None = None) -> tuple[Cause, ...]:
    """Everything that may put a reading of this build off, those of known size first. `radius` [mm] of the wire, not given: the card's."""
    top = card.top
    at = radius
    if at is None and isinstance(card.gap_at, tuple):
        at = card.gap_at[0]
    now = _readings(lambda: top, at)
    made = []
    for text, build in _wrong_builds(top, card):
        then = _readings(build, at)
        adds = {of: then[of] - now[of] for of in now if of in then and abs(then[of] - now[of]) > 1e-6}
        if adds:
            made.append(Cause(text, adds))
    if at is not None and "gap_at" in now:
        for step, side in ((-1.0, "in"), (1.0, "out")):
            moved = _gap(top, at + step)
            if moved is not None and abs(moved - now["gap_at"]) > _SEEN_MM:
                made.append(Cause(f"wire read 1 mm further {side} than radius {at:.2f} mm", {"gap_at": moved - now["gap_at"]}))
    seal = None if top.head is None else top.head.seal
    return (*made, Cause(_NOT_DOWN + _SEALS_WRONG[seal or "gasket"], ways=_MORE_ABOVE), *_PLAIN)


def at_least_gap(card: BenchCard, radius: float) -> tuple[Cause, ...]:
    """The same for a wire where the gap is least: what the usual wire does not show comes besides."""
    return (*causes_of(card, radius), *_INSIDE)


def likely(causes: Iterable[Cause], of: str, difference: float, allowed: float) -> list[str]:
    """The causes of one reading that is off by `difference`, likeliest first: those of about that size, then those of unknown size.

    `allowed` is what a good build may be off by; a cause fits where what it leaves unexplained is within that.

    >>> found = likely([Cause("a gasket too many", {"gap_at": 0.30}), Cause("dirt", ways={"gap_at": "more"})], "gap_at", 0.28, 0.07)
    >>> found
    ['a gasket too many (adds 0.30)', 'dirt']
    """
    way: Way = "more" if difference > 0.0 else "less"
    fitting = []
    rest = []
    for one in causes:
        if one.way(of) != way:
            continue
        if of not in one.adds:
            rest.append(one.text)
        elif abs(difference - one.adds[of]) <= allowed:
            fitting.append((abs(difference - one.adds[of]), one.text + _size(one.adds[of])))
    return [text for _, text in sorted(fitting)] + rest


def _size(adds: float) -> str:
    places = 2 if abs(adds) < 10.0 else 1
    return f" ({'adds' if adds > 0.0 else 'takes'} {abs(adds):.{places}f})"


# --- builds put together in the wrong way ----------------------------------------------------------------------------


def _wrong_builds(top: TopEnd, card: BenchCard) -> Iterator[tuple[str, Callable[[], TopEnd]]]:
    told: set[tuple[str, str]] = set()
    for role, stack in (("base", top.base_gaskets), ("head", top.head_gaskets)):
        field_name = f"{role}_gaskets"
        for index, gasket in enumerate(stack or ()):
            thick = f"{gasket.fitted.m_as('mm'):.2f} mm"
            if (role, thick) not in told:
                told.add((role, thick))
                yield f"one {role} gasket of {thick} too many", _changed(top, field_name, (*(stack or ()), gasket))
                left = tuple(other for at, other in enumerate(stack or ()) if at != index)
                yield f"a {role} gasket of {thick} left out", _changed(top, field_name, left)
    yield from _crush(top, card)
    deck, piston = top.deck, top.piston
    crown = None if piston is None else piston.crown
    if deck is not None and isinstance(crown, SphereCrown | ConeCrown) and crown.rise.si != 0.0:
        if deck.at == "edge":
            text = "the deck on the card was read at the crown's centre, not at its edge"
            yield text, lambda: top.replace({"deck": deck.replace(at="centre")})
        elif deck.at == "centre":
            text = "the deck on the card was read at the crown's edge, not at its centre"
            yield text, lambda: top.replace({"deck": deck.replace(at="edge")})


def _changed(top: TopEnd, stack: str, gaskets: tuple[Gasket, ...]) -> Callable[[], TopEnd]:
    return lambda: top.replace({stack: gaskets})


def _crush(top: TopEnd, card: BenchCard) -> Iterator[tuple[str, Callable[[], TopEnd]]]:
    """Gaskets not crushed as they are counted, and crushed as far as they may be."""
    loose = [gasket.fitted_thickness is not None and gasket.fitted_thickness.si < gasket.thickness.si for _, gasket in stack_of(top)]
    if any(loose):
        yield "gaskets not crushed: nuts not down to their torque", lambda: top.replace(_stacks(top, _uncrushed))
    least = {one.path: one.limits[0] for one in card.result.assumed if one.limits is not None and one.path.endswith(".fitted_thickness")}
    if least:
        yield (
            "gaskets crushed further than was assumed",
            lambda: top.replace({path: f"{end.m_as('mm')!r} mm" for path, end in least.items()}),
        )


def _uncrushed(gasket: Gasket) -> Gasket:
    crushed = gasket.fitted_thickness is not None and gasket.fitted_thickness.si < gasket.thickness.si
    return gasket.replace(fitted_thickness=gasket.thickness) if crushed else gasket


def _stacks(top: TopEnd, change: Callable[[Gasket], Gasket]) -> dict[str, Any]:
    stacks = {"base_gaskets": top.base_gaskets, "head_gaskets": top.head_gaskets}
    return {name: tuple(change(one) for one in stack) for name, stack in stacks.items() if stack}


def _readings(build: Callable[[], TopEnd], radius: float | None) -> dict[str, float]:
    """What would be read of a build; nothing where it does not go together."""
    try:
        top = build()
        result = evaluate(top)
    except TopendError:
        return {}
    found = {of: result.shown(of) for of in _WATCHED if of in result}
    reads = None if radius is None else _gap(top, radius)
    return found if reads is None else {**found, "gap_at": reads}


def _gap(top: TopEnd, radius: float) -> float | None:
    try:
        value = float(evaluate(top, ["squish_edge"]).gap_at(f"{radius!r} mm").m_as("mm"))
    except TopendError:
        return None
    return None if math.isnan(value) else value


def _angles(way: Way, edges: tuple[str, ...]) -> dict[str, Way]:
    return {f"{port}_{edge}": way for port in ("exhaust", "transfer") for edge in edges}


#: What is more where the head lies higher over the crown.
_MORE_ABOVE: Final[dict[str, Way]] = {"gap_at": "more", "clearance_volume": "more"}
_OPPOSITE: Final[tuple[Way, Way]] = ("more", "less")
#: What moves the gap inside the band and not at its edge. Standing: geometry.
_INSIDE: Final = (
    Cause("where the usual wire agrees: a crown that is lower than on the card, or a band that is steeper", ways={"gap_at": "more"}),
    Cause(
        "where the usual wire agrees: a crown that is higher than on the card, carbon on it, or a band that is shallower",
        ways={"gap_at": "less"},
    ),
)
#: Causes whose size nobody can tell beforehand. Standing: common practice.
_NOT_DOWN: Final = "head not down on its face: a chip, dirt or an old gasket under it, or "
#: What of its seal may hold a head up.
_SEALS_WRONG: Final = {
    "gasket": "a gasket gone hard",
    "o-ring": "an O-ring out of its groove",
    "both": "a gasket gone hard, or an O-ring out of its groove",
}
_PLAIN: Final = (
    Cause("barrel not down on its face: a chip, dirt or an old gasket under it", ways={"deck_clearance": "more", **_MORE_ABOVE}),
    Cause("barrel cocked on its base gasket, or the piston rocked", ways={"deck_clearance": "uneven"}),
    Cause("carbon or a chip on the crown under the gauge", ways={"deck_clearance": "less"}),
    Cause("cocked head: nuts drawn down on one side first, or something under one side", ways={"gap_at": "uneven"}),
    Cause("wire laid on one side alone, so that the piston rocked", ways={"gap_at": "more"}),
    Cause("wire too thick: it sprang back or held the piston up", ways={"gap_at": "more"}),
    Cause("another head, whose band stands less proud or lies deeper", ways={"gap_at": "more"}),
    Cause("another head, whose band stands more proud or is less deep", ways={"gap_at": "less"}),
    Cause("liquid lost past the ring, or the plug's thread counted in", ways={"clearance_volume": "more"}),
    Cause("air left under the head, or the piston not at TDC as it was filled", ways={"clearance_volume": "less"}),
    Cause("piston not at TDC as it was filled", ways={"clearance_volume": "more"}),
    Cause("port's edge measured to its chamfer, not to the edge that opens it", ways=_angles("more", ("opens", "closes", "duration"))),
    Cause("another barrel, or ports that were worked on", ways=_angles("less", ("opens", "closes"))),
    Cause("another barrel, or ports that were worked on", ways=_angles("more", ("duration",))),
    # both edges move the same way then; off to opposite sides, one reads more and the other less
    *(
        Cause("zero of the disc not at TDC: opening and closing are off to opposite sides", ways=_angles(way, ("opens", "closes")))
        for way in _OPPOSITE
    ),
)
