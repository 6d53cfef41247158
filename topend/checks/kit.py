"""Kits: what is missing, surplus or does not fit, and what the parts in the box ask of whoever fits them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from topend.assembly import TopEnd
from topend.checks import sealing
from topend.checks.sealing import RING_GAP
from topend.errors import ArgumentError, must_be
from topend.evaluation import evaluate
from topend.parts import Cylinder, FlushHead, Gasket, Location, PinLocation, RegisterLocation, SpigotHead, SpigotLocation, StudLocation
from topend.parts.fitting import fitting
from topend.parts.kit import Kit, KitItem
from topend.quantities import Standing
from topend.units import from_si

__all__ = ["KitCheck", "Lack", "Misfit", "Step", "gasket_preparation", "kit_check"]

_LOCATIONS: Final = (SpigotLocation, RegisterLocation, PinLocation, StudLocation)
_PIN_MM: Final = 0.02
#: Rings and studs are made for a size: what differs by more is made for another.
_SIZE_MM: Final = 0.10
_NOTHING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Lack:
    """A kind of part of which there are too few, or too many: how many there are, how many are needed, and why."""

    what: str
    found: int
    needed: int
    why: str

    def __str__(self) -> str:
        return f"{self.what}: {self.found} in the box, {self.needed} needed; {self.why}"


@dataclass(frozen=True, slots=True)
class Misfit:
    """A part in the box that does not fit, and why."""

    what: str
    why: str

    def __str__(self) -> str:
        return f"{self.what}: {self.why}"


@dataclass(frozen=True, slots=True)
class Step:
    """One step of preparing: which part, what to do, what it is for, and on what it rests.

    `known` is False where the part does not say how it is, so that somebody has to look.
    """

    what: str
    do: str
    effect: str
    standing: Standing = "common practice"
    known: bool = True

    def __str__(self) -> str:
        return f"{self.what}: {self.do} ({self.effect}; {self.standing})"


@dataclass(frozen=True)
class KitCheck:
    """What a kit lacks and has too much of, what in it does not fit, what could not be judged, and the steps of preparing it.

    Made by `te.kit_check`, whose example shows one.
    """

    kit: Kit
    cylinder: Cylinder
    missing: tuple[Lack, ...]
    surplus: tuple[Lack, ...]
    misfits: tuple[Misfit, ...]
    undecided: tuple[Misfit, ...]
    steps: tuple[Step, ...]

    @property
    def complete(self) -> bool:
        """Whether nothing is missing and nothing is known not to fit. What could not be judged stays open."""
        return not self.missing and not self.misfits

    def to_dict(self) -> dict[str, Any]:
        """The same as plain data."""
        return {
            "kit": self.kit.name,
            "cylinder": self.cylinder.name,
            "complete": self.complete,
            "missing": [_plain(one) for one in self.missing],
            "surplus": [_plain(one) for one in self.surplus],
            "misfits": [_plain(one) for one in self.misfits],
            "undecided": [_plain(one) for one in self.undecided],
            "steps": [_plain(one) for one in self.steps],
        }

    def __str__(self) -> str:
        told = [("missing", self.missing), ("too many", self.surplus), ("does not fit", self.misfits), ("cannot tell", self.undecided)]
        return "\n".join(f"{word} - {one}" for word, found in told for one in found) or "complete, as far as can be told"


def _plain(one: Lack | Misfit | Step) -> dict[str, Any]:
    return {name: getattr(one, name) for name in one.__slots__}


def kit_check(kit: Kit, cylinder: Cylinder, *, head: FlushHead | SpigotHead | None = None, location: Location | None = None) -> KitCheck:
    """What `kit` lacks, has too much of or holds in vain for `cylinder`, and the preparation its parts ask for.

    `head` is the one that stays on the engine where the kit brings none; `location` what locates the head. Parts are judged by the
    sizes that both sides state; one of which nothing could be compared stands under `undecided`. Gaskets of a role beside the first are
    a choice of thickness and no surplus. Raises `ArgumentError` for arguments of another kind.

    >>> import topend as te
    >>> kit = te.Kit(items=[{"piston": te.Piston(diameter="53.9 mm")}, {"ring": te.PistonRing(diameter="54 mm")},
    ...                     {"pin": te.PistonPin(diameter="14 mm")}, {"clip": te.PinClip(pin_diameter="14 mm")},
    ...                     {"gasket": te.Gasket(role="base", thickness="0.3 mm")}])
    >>> made = te.kit_check(kit, te.Cylinder(bore="54 mm"), head=te.FlushHead(seal="gasket"))
    >>> [f"{one.what}, {one.needed - one.found} more" for one in made.missing]
    ['head gasket, 1 more', 'clip, 1 more']
    """
    must_be("kit_check", "kit", kit, Kit)
    must_be("kit_check", "cylinder", cylinder, Cylinder)
    for name, one, kinds in (("head", head, (FlushHead, SpigotHead)), ("location", location, _LOCATIONS)):
        if one is not None and not isinstance(one, kinds):
            told = f"{one!r}, a {type(one).__name__}" if isinstance(one, (str, int, float)) else f"a {type(one).__name__}"
            raise ArgumentError(f"kit_check: {name} must be a {' or '.join(kind.__name__ for kind in kinds)}; got {told}")
    own = kit.of("head")
    sealed_by = own[0].part if own else head
    missing, surplus = _counted(kit, cylinder, sealed_by, location)
    misfits, undecided = _judged(kit, cylinder, sealed_by, location)
    steps = tuple(_steps(kit, cylinder, sealed_by))
    return KitCheck(kit, cylinder, tuple(missing), tuple(surplus), tuple(misfits), tuple(undecided), steps)


# --- counting --------------------------------------------------------------------------------------------------------


def _counted(kit: Kit, cylinder: Cylinder, head: FlushHead | SpigotHead | None, location: Location | None) -> tuple[list[Lack], list[Lack]]:
    missing, surplus = [], []
    for what, found, needed, most, why in _needs(kit, cylinder, head, location):
        if found < needed:
            missing.append(Lack(what, found, needed, why))
        elif most is not None and found > most:
            surplus.append(Lack(what, found, most, why))
    return missing, surplus


def _needs(
    kit: Kit, cylinder: Cylinder, head: FlushHead | SpigotHead | None, location: Location | None
) -> Iterator[tuple[str, int, int, int | None, str]]:
    """What, how many there are, how many are needed at least, and at most (None: as many as one likes), and why."""
    pistons, pins = kit.count("piston"), kit.count("pin")
    yield "head", kit.count("head"), 0, 1, "one goes on the engine"
    yield "piston", pistons, 0, 1, "one goes in the bore"
    yield from _seals(kit, head)
    base = sum(item.pieces for item in kit.of("gasket") if item.part.role == "base")
    opened = "base" in kit.opened
    yield "base gasket", base, 1 if opened else 0, None, "the cylinder is lifted, and the gasket under it was crushed once already"
    rings = len(kit.of("piston")[0].part.rings) if pistons else 0
    yield (
        "ring",
        kit.count("ring"),
        max(rings, 1) if pistons else 0,
        rings or None,
        f"the piston takes {rings}" if rings else "the piston needs rings; how many its piston.rings does not say",
    )
    yield "pin", pins, 1 if pistons else 0, 1, "the new piston gets a new pin, paired with it"
    yield "clip", kit.count("clip"), 2 if pistons or pins else 0, 2, "a clip is used once, and there is one at either end of the pin"
    studs = None if cylinder.studs is None else cylinder.studs.count
    if kit.of("studs"):
        why = f"the cylinder has {studs}" if studs is not None else "how many the cylinder has its cylinder.studs does not say"
        yield "studs", kit.count("studs"), studs or 1, studs, why
    placed = isinstance(location, PinLocation)
    if kit.of("locating_pin") or placed:
        why = "two pins locate the head" if placed or location is None else f"the head is located by its {location.kind}"
        yield "locating pin", kit.count("locating_pin"), 2 if placed or location is None else 0, 2 if placed or location is None else 0, why


def _seals(kit: Kit, head: FlushHead | SpigotHead | None) -> Iterator[tuple[str, int, int, int | None, str]]:
    """What seals the head joint."""
    gaskets = sum(item.pieces for item in kit.of("gasket") if item.part.role == "head")
    rings = kit.count("o_ring")
    opened = "head" in kit.opened
    if head is None:
        yield "seal of the head", gaskets + rings, 1 if opened else 0, None, "the head is lifted; how it seals is not given"
        return
    takes = head.seal in ("gasket", "both")
    why = "the head seals by a gasket, which was crushed once already" if takes else "the head seals by an O-ring alone"
    yield "head gasket", gaskets, 1 if takes and opened else 0, None if takes else 0, why
    takes = head.seal in ("o-ring", "both")
    why = "the head seals by an O-ring, which has set" if takes else "the head seals by a gasket alone"
    yield "O-ring", rings, 1 if takes and opened else 0, None if takes else 0, why


# --- fitting ---------------------------------------------------------------------------------------------------------


def _name(item: KitItem) -> str:
    part = item.part
    kind = {"o_ring": "O-ring", "locating_pin": "locating pin"}.get(item.kind, item.kind)
    if item.gasket is not None:
        kind = f"{item.gasket.role} gasket"
    return f"{kind} {part.name}" if part.name else kind


def _judged(
    kit: Kit, cylinder: Cylinder, head: FlushHead | SpigotHead | None, location: Location | None
) -> tuple[list[Misfit], list[Misfit]]:
    misfits: list[Misfit] = []
    undecided: list[Misfit] = []
    pistons = kit.of("piston")
    pin = pistons[0].part.pin_diameter if pistons else None
    pin = pin or cylinder.pin_diameter
    for item in kit.items:
        part, what = item.part, _name(item)
        if item.kind in ("head", "piston", "gasket"):
            one = fitting(cylinder, {"it": part}).candidates["it"]
            misfits += [Misfit(what, str(found)) for found in one.misfits]
            if not one.decided and not one.misfits:
                undecided.append(Misfit(what, "; ".join(one.unknown) or "nothing of it can be compared"))
        elif item.kind == "ring":
            _sized(misfits, undecided, what, part.diameter, cylinder.bore, "the bore", _SIZE_MM)
            _grooved(misfits, item, pistons)
        elif item.kind == "pin":
            _sized(misfits, undecided, what, part.diameter, pin, "the piston's pin bore", _PIN_MM)
        elif item.kind == "clip":
            _sized(misfits, undecided, what, part.pin_diameter, pin, "the piston's pin bore", _PIN_MM)
        elif item.kind == "studs":
            own = None if cylinder.studs is None else cylinder.studs.diameter
            _sized(misfits, undecided, what, part.thread_diameter, own, "the cylinder's studs", _SIZE_MM)
        elif item.kind == "o_ring":
            _ring_in_groove(misfits, undecided, what, item, head)
        else:
            own = location.pin.diameter if isinstance(location, PinLocation) and location.pin is not None else None
            _sized(misfits, undecided, what, part.diameter, own, "the pin of the location", _PIN_MM)
    return misfits, undecided


def _sized(misfits: list[Misfit], undecided: list[Misfit], what: str, own: Any, its: Any, over: str, within: float) -> None:
    """Whether one size is the other, within a tolerance [mm]."""
    if own is None or its is None:
        lacking = "its size" if own is None else over
        undecided.append(Misfit(what, f"{lacking} is not given"))
        return
    off = from_si(own.si, "mm") - from_si(its.si, "mm")
    if abs(off) > within + _NOTHING:
        side = "larger" if off > 0.0 else "smaller"
        misfits.append(Misfit(what, f"made for {own.text}, {side} than {over} ({its.text}) by {abs(off):.3f} mm"))


def _grooved(misfits: list[Misfit], item: KitItem, pistons: tuple[KitItem, ...]) -> None:
    """Whether a ring is as high as one of the piston's."""
    ring = item.ring
    assert ring is not None
    heights = [one.height for one in (pistons[0].part.rings if pistons else ()) if one.height is not None]
    if ring.height is None or not heights:
        return
    if all(abs(ring.height.si - one.si) > 0.01e-3 for one in heights):
        listed = " and ".join(dict.fromkeys(one.text for one in heights))
        misfits.append(Misfit(_name(item), f"{ring.height.text} high, and the piston's grooves are for {listed}"))


def _ring_in_groove(misfits: list[Misfit], undecided: list[Misfit], what: str, item: KitItem, head: FlushHead | SpigotHead | None) -> None:
    if head is None or head.groove is None or head.seal == "gasket":
        if head is None or head.seal != "gasket":
            undecided.append(Misfit(what, "the groove it goes in (head.groove) is not given"))
        return
    tried = TopEnd(head=head.replace(o_ring=item.o_ring))
    found = [one for one in sealing.findings(evaluate(tried, [])) if one.code.startswith("o_ring") and one.severity == "warning"]
    misfits += [Misfit(what, one.message) for one in found]


# --- preparing -------------------------------------------------------------------------------------------------------


def _edges(what: str, edges: str | None, which: str, effect: str) -> Step:
    if edges == "broken":
        return Step(what, f"{which} are broken already: leave them", effect)
    if edges == "as machined":
        return Step(what, f"{which} are as machined: break them, 0.2 to 0.5 mm, and wash out every chip", effect)
    return Step(what, f"look at {which}: break them where they are as machined, leave them where they are broken", effect, known=False)


def _steps(kit: Kit, cylinder: Cylinder, head: FlushHead | SpigotHead | None) -> Iterator[Step]:
    """In the order of the work."""
    base = "base" in kit.opened
    if base:
        yield _edges("cylinder", cylinder.edges, "the edges of its port windows", "a ring catches on a sharp edge")
    faces = "deck and base face" if base else "deck"
    yield Step("cylinder", f"clean its {faces} to bare metal, old gasket and sealant off, and try for flatness", "what lies between leaks")
    for item in kit.of("head"):
        yield _edges(_name(item), item.part.edges, "the edges of band and chamber", "a sharp edge glows, and sets the charge off")
        yield Step(_name(item), "clean its face to bare metal, and try the plug's thread", "what lies between leaks")
    for item in kit.of("piston"):
        yield _edges(_name(item), item.part.edges, "the edges of crown, windows and skirt", "burrs scrape the oil off, or break off")
        yield Step(_name(item), "measure skirt and bore, and see that the pair has its clearance", "too close seizes, too loose rocks")
    for item in kit.of("ring"):
        yield from _ring_steps(_name(item), item, cylinder)
    for item in kit.of("pin"):
        yield Step(
            _name(item), "oil it and push it home by hand; warm the piston where it does not go", "a pin that is hammered in bends the rod"
        )
    for item in kit.of("clip"):
        yield Step(
            _name(item),
            "fit new ones with the gap up or down, never to the side; see that each sits in its groove all round",
            "a clip that jumps out ruins the bore",
        )
    for item in kit.of("gasket"):
        assert item.gasket is not None
        yield from gasket_preparation(_name(item), item.gasket)
    for item in kit.of("o_ring"):
        groove = "clean the groove, take burrs off its edges"
        yield Step(
            _name(item), f"{groove}; oil the ring, lay it in without a twist, and check that it stands proud", "a cut or twisted ring leaks"
        )
    for item in kit.of("locating_pin"):
        yield Step(_name(item), "deburr the holes and drive the pins in with their chamfer first", "a burr tilts the head")
    yield from _stud_steps(kit, head)
    yield Step(
        "top end", "turn it over by hand and read the gap with soft wire on both sides before it is started", "the sums are no proof"
    )


def _ring_steps(what: str, item: KitItem, cylinder: Cylinder) -> Iterator[Step]:
    ring = item.ring
    assert ring is not None
    effect = "sharp ends score the bore and catch on windows"
    if ring.ends == "chamfered":
        yield Step(what, "its ends are chamfered already: leave them", effect)
    elif ring.ends == "as cut":
        yield Step(what, "its ends are as cut: take the edges toward the bore off with a fine stone", effect)
    else:
        yield Step(what, "look at its ends: stone them where they are as cut, leave them where they are chamfered", effect, known=False)
    usual = "0.002 to 0.004 of the bore"
    if cylinder.bore is not None:
        low, high = (share * from_si(cylinder.bore.si, "mm") for share in RING_GAP)
        usual = f"{low:.2f} to {high:.2f} mm, 0.002 to 0.004 of the bore"
    yield Step(
        what, f"push it square into the bore and measure its gap: {usual}; file it where it is less", "ends that butt break the ring"
    )


def gasket_preparation(what: str, gasket: Gasket) -> Iterator[Step]:
    """What is done to a gasket, that is called `what`, before it is fitted; common practice.

    >>> from topend.parts import Gasket
    >>> for step in gasket_preparation("head gasket", Gasket(role="head", thickness="1 mm", material="copper", surface="bare")):
    ...     print(step.do)
    it is bare: clean both sides and both faces to bare, without grease
    see that it is soft; one that was used or worked is annealed first
    """
    effect = "oil or dirt under it leaks, a second seal creeps"
    if gasket.surface == "coated":
        yield Step(what, "it is coated: fit it dry as it is, wash nothing off, put nothing on", effect)
    elif gasket.surface == "bare":
        yield Step(what, "it is bare: clean both sides and both faces to bare, without grease", effect)
    else:
        do = "find out whether it is coated: a coated one is fitted dry as it is, a bare one is cleaned to bare"
        yield Step(what, do, effect, known=False)
    if gasket.material == "copper":
        yield Step(what, "see that it is soft; one that was used or worked is annealed first", "hard copper does not bed in")


def _stud_steps(kit: Kit, head: FlushHead | SpigotHead | None) -> Iterator[Step]:
    for item in kit.of("studs"):
        studs = item.studs
        assert studs is not None
        on = {
            "oiled": "oil the threads and the seats of the nuts",
            "dry": "leave threads and seats dry",
            "paste": "put the paste on threads and seats",
        }
        do = on.get(studs.lubrication or "", "find out whether the torque is for dry or oiled threads")
        torque = f"to {studs.torque.text}" if studs.torque is not None else "to the torque of the engine's maker"
        yield Step(
            _name(item),
            f"chase the threads clean, {do}, and draw the nuts up crosswise in three steps {torque}",
            "friction decides what a torque pulls with",
            known=studs.lubrication is not None and studs.torque is not None,
        )
    if not kit.of("studs"):
        yield Step(
            "nuts of the head",
            "draw them up crosswise in three steps to the torque of the engine's maker",
            "a head drawn down on one side bends",
        )
    soft = [item for item in kit.of("gasket") if item.part.crush_class != "metal"]
    if soft:
        told = ", ".join(dict.fromkeys(_name(item) for item in soft))
        yield Step(
            told,
            "draw the nuts up once more after the first heat, when all is cold again",
            "soft gaskets set, and the nuts lose their pull",
        )
