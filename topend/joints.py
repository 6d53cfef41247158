"""The joints of a top end: where their sealing land is least, what other gaskets would need, whether a groove that is copied works.

The outputs `head_land`, `base_land` and `groove_land` give the least of each; here is every width with what it lies between.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import ArgumentError, MissingInputError, must_be
from topend.evaluation import evaluate, needs_message
from topend.extremes import Extremes, ends_of, extremes
from topend.parts import ORing, ORingGroove
from topend.physics import wiring
from topend.physics.clamping import GASKETS
from topend.uncertainty import COVERAGE, uncertainty
from topend.units import from_si

__all__ = ["GasketNeed", "GrooveCopy", "Land", "gasket_needs", "groove_copied", "lands"]


@dataclass(frozen=True, slots=True)
class Land:
    """A width [mm] that a joint seals on, as stated and at its least over the limits, and what it lies between.

    `joint` is head, base or groove. `angle` [deg], anticlockwise from above, from the middle of the exhaust; None where it is the same all
    round, or where nothing says where it lies.

    Made by `te.lands`, whose example shows them.
    """

    joint: str
    between: tuple[str, str]
    width: float
    least: float
    angle: float | None = None

    def __str__(self) -> str:
        where = "" if self.angle is None else f" at {self.angle:.0f} deg"
        return f"{self.joint}: {self.width:.2f} mm between {self.between[0]} and {self.between[1]}{where}"


_JOINTS: Final = {"head_land": "head", "base_land": "base", "groove_land": "groove"}
_WORDS: Final = {
    "cylinder.deck_diameter": "the deck's outline",
    "cylinder.coolant_diameter": "the coolant's openings",
    "cylinder.base_diameter": "the base's outline",
    "head.face_diameter": "the outline of the head's face",
    "cylinder.studs": "the studs",
    "cylinder.base_studs": "the base's studs",
    "cylinder.skirt_diameter": "the skirt",
    "cylinder.bore": "the bore",
    "cylinder.window_diameter": "the transfer passages",
    "head.studs": "the head's stud holes",
    "opening": "the chamber's opening",
}


def _word(path: str) -> str:
    path, _, hole = path.partition("@")
    found = re.fullmatch(r"(head|base)_gaskets\.(\d+)\.(studs|outer_diameter|opening|window_diameter)", path)
    if found:
        what = {"studs": "stud holes", "outer_diameter": "the outline", "opening": "the opening", "window_diameter": "the cut-outs"}[
            found[3]
        ]
        return f"{'a stud hole' if hole else what} of {found[1]}_gaskets.{found[2]}"
    cut = re.fullmatch(r"(?:cylinder|(base_gaskets\.\d+))\.cutouts\.(\d+)", path)
    if cut:
        return f"{cut[1] or 'cylinder'}.cutouts.{cut[2]}"
    if "_notches." in path:
        return path
    return _WORDS[path] + (f" (hole {hole})" if hole else "")


def lands(top: TopEnd) -> list[Land]:
    """Every width of the sealing lands of `top` that can be had, least first; empty where too little is stated.

    Widths are of round and radial shapes around the bore's axis; a head that lies off it may take its eccentricity from those of the head
    joint, which the output `head_land_off_centre` tells.

    >>> import topend as te
    >>> studs = te.StudPattern(count=4, circle_diameter="70 mm", diameter="8 mm")
    >>> for land in te.lands(te.TopEnd(cylinder=te.Cylinder(bore="54 mm", deck_diameter="84 mm", studs=studs))):
    ...     print(land)
    head: 4.00 mm between the chamber's opening and the studs
    base: 4.00 mm between the bore and the studs
    head: 15.00 mm between the chamber's opening and the deck's outline
    """
    must_be("lands", "top", top, TopEnd)
    structure = top.row.structure
    names = [output for output in _JOINTS if not wiring.plan(structure, (output,)).missing]
    steps = [step.name for step in wiring.plan(structure, tuple(names)).steps if ":" in step.name and step.name.split(":")[0] in _JOINTS]
    steps = [name for name in steps if not name.endswith((".across", ".distance", ".span"))]
    made = []
    for name, (value, low, _, _, _) in ends_of(top, steps).items():
        output, *between = name.split(":")
        if output == "groove_land":
            pair = "the groove", _word(between[0])
        elif len(between) == 2:
            pair = _word(between[1]), _word(between[0])
        else:
            pair = "the chamber's opening", _word(between[0])
        made.append(Land(_JOINTS[output], pair, from_si(value, "mm"), from_si(low, "mm"), _angle(top, between)))
    return sorted(made, key=lambda land: land.width)


def _angle(top: TopEnd, between: list[str]) -> float | None:
    if "_notches." in between[0]:
        path = f"{between[0]}.angle"
    elif len(between) < 2:
        return None
    else:
        path = between[0].replace("@", ".angle@") if "@" in between[0] else f"{between[1]}.angle"
    planned = wiring.plan(top.row.structure, (path,))
    values = wiring.run(wiring.plan(top.row.structure, ("base_land",)), top.values)
    found = values.get(path) if planned.missing else wiring.run(planned, top.values)[path]
    return None if found is None else float(np.degrees(np.atleast_1d(found)[0])) % 360.0


# --- gaskets ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class GasketNeed:
    """What a head gasket of one material needs here [kN], the torque [N·m] at which the studs give it for all that is known, and the
    share of their yield strength that this uses (None where that is not stated).

    The torque is infinite where twice the uncertainty of the studs' pull is all of it: what is not known grows with the torque then.

    Made by `te.gasket_needs`, whose example shows them.
    """

    material: str
    seating: float
    sealing: float
    torque: float
    yield_use: float | None

    def __str__(self) -> str:
        if math.isinf(self.torque):
            need = max(self.seating, self.sealing)
            return f"{self.material}: {need:.1f} kN, which no torque is shown to give: state torque and friction closer"
        used = "" if self.yield_use is None else f", {100.0 * self.yield_use:.0f} % of the studs' yield strength"
        used += ", which is more than they bear" if self.yield_use is not None and self.yield_use > 1.0 else ""
        return f"{self.material}: {max(self.seating, self.sealing):.1f} kN, so {self.torque:.0f} N·m{used}"


def gasket_needs(top: TopEnd) -> list[GasketNeed]:
    """What the head joint of `top` would need with its gaskets of each material, the least demanding first.

    The torque is that at which `clamp_reserve`, less twice its standard uncertainty, comes to nothing: friction that is not known makes it
    rise. Raises `MissingInputError` where a reserve cannot be had, and `ArgumentError` for a head without gaskets.

    >>> import topend as te
    >>> studs = te.StudPattern(count=4, circle_diameter="64 mm", diameter="7 mm")
    >>> top = te.TopEnd(cylinder=te.Cylinder(bore="47.6 mm", studs=studs), head=te.FlushHead(),
    ...                 studs=te.StudSet(thread_diameter="7 mm", root="case", torque="12 N·m", property_class="8.8", lubrication="oiled"),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.5 mm", opening="48.5 mm", outer_diameter="56 mm")],
    ...                 running=te.Running(crank_speed="11000 rpm", peak_pressure="60 bar"))
    >>> [need.material for need in te.gasket_needs(top)][:2]
    ['paper', 'fibre']
    """
    must_be("gasket_needs", "top", top, TopEnd)
    if not top.head_gaskets:
        raise ArgumentError("gasket_needs needs a top end with head gaskets; an O-ring alone needs no more than the gas's force")
    made = []
    for material in GASKETS:
        plain = {"material": material, "gasket_factor": None, "seating_stress": None}
        other = top.replace({"head_gaskets": [gasket.replace(**plain) for gasket in top.head_gaskets]})
        names = ["clamp_force", "gasket_seating_force", "gasket_sealing_force"]
        missing = wiring.plan(other.row.structure, (*names, "clamp_reserve")).missing
        if missing:
            name, lack = next(iter(missing.items()))
            raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))
        found = uncertainty(other, names)
        seating, sealing = found["gasket_seating_force"], found["gasket_sealing_force"]
        need = max(seating.value + COVERAGE * seating.u, sealing.value + COVERAGE * sealing.u)
        clamp = found["clamp_force"]
        # pull goes with torque, and so does what is not known of it
        sure = clamp.value - COVERAGE * clamp.u
        share = need / sure if sure > 1e-9 * clamp.value else math.inf
        assert other.studs is not None
        assert other.studs.torque is not None
        known = math.isfinite(share) and not wiring.plan(other.row.structure, ("stud_yield_use",)).missing
        used = evaluate(other, ["stud_yield_use"]).shown("stud_yield_use") * share if known else None
        made.append(GasketNeed(material, seating.value, sealing.value, other.studs.torque.m_as("N·m") * share, used))
    return sorted(made, key=lambda one: (one.torque, max(one.seating, one.sealing)))


# --- grooves ---------------------------------------------------------------------------------------------------------

#: What is looked at in a groove that is copied.
_GROOVE: Final = (
    *("o_ring_squeeze", "o_ring_squeeze_hot", "o_ring_squeeze_off_centre", "o_ring_squeeze_tight", "o_ring_squeeze_tight_hot"),
    *("o_ring_fill", "o_ring_fill_hot"),
    *("o_ring_stretch", "o_ring_play", "o_ring_extrusion_gap", "groove_land"),
)
#: On either side of a spigot that lies against the bore.
_SIDES: Final = ("o_ring_squeeze_off_centre", "o_ring_squeeze_tight", "o_ring_squeeze_tight_hot")


@dataclass(frozen=True)
class GrooveCopy:
    """A groove and its ring in another top end: the figures there and here, each at the limits of every size, and what is found here.

    `there` and `here` hold what can be had, by the names of the outputs. `top` is the other top end with groove and ring in it.

    Made by `te.groove_copied`, whose example shows one.
    """

    top: TopEnd
    there: dict[str, Extremes]
    here: dict[str, Extremes]

    @property
    def changed(self) -> dict[str, tuple[float, float]]:
        """The figures that differ, there and here, as stated; in the units of the outputs table."""
        both = [name for name in self.there if name in self.here]
        pairs = {name: (self.there[name].value, self.here[name].value) for name in both}
        return {name: pair for name, pair in pairs.items() if abs(pair[0] - pair[1]) > 1e-9}

    def __str__(self) -> str:
        lines = []
        for name in _GROOVE:
            told = [
                f"{one.low:.2f} to {one.high:.2f} {one.unit}" if (one := side.get(name)) else "not known"
                for side in (self.there, self.here)
            ]
            if name in self.there or name in self.here:
                lines.append(f"{name}: {told[0]} there, {told[1]} here")
        return "\n".join(lines)


def groove_copied(there: TopEnd, here: TopEnd, *, groove: ORingGroove | None = None, ring: ORing | None = None) -> GrooveCopy:
    """What the O-ring groove of the head of `there` does when it is cut into the head of `here` as it is, with the same ring.

    `groove` and `ring` take the place of those of `there`. The same sizes give another squeeze under another gasket, another land beside
    another stud circle, another heat; `topend.findings` of the copy's `top` judges them. Raises `ArgumentError` where there is no groove
    or ring to copy, or no head to cut it into.

    >>> import topend as te
    >>> ring = te.ORing(inner_diameter="47.00 mm", section="1.78 mm", material="FKM")
    >>> groove = te.ORingGroove(seals="face", outer_diameter="50.60 mm", width="2.50 mm", depth="1.40 mm")
    >>> there = te.TopEnd(head=te.FlushHead(seal="o-ring", o_ring=ring, groove=groove))
    >>> here = te.TopEnd(head=te.FlushHead(), head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.3 mm")])
    >>> squeeze = te.groove_copied(there, here).changed["o_ring_squeeze"]
    >>> [f"{one:.0f} %" for one in squeeze]
    ['21 %', '4 %']
    """
    must_be("groove_copied", "there", there, TopEnd)
    must_be("groove_copied", "here", here, TopEnd)
    groove = groove or (None if there.head is None else there.head.groove)
    ring = ring or (None if there.head is None else there.head.o_ring)
    if groove is None or ring is None:
        raise ArgumentError("groove_copied needs a groove and a ring: those of the first top end's head, or as groove= and ring=")
    if here.head is None:
        raise ArgumentError("groove_copied needs a head to cut the groove into: the second top end has none")
    seal = here.head.seal if here.head.seal != "gasket" else "both"
    made = here.replace({"head": here.head.replace(groove=groove, o_ring=ring, seal=seal)})
    own = None if there.head is None else there.replace({"head": there.head.replace(groove=groove, o_ring=ring)})
    return GrooveCopy(made, {} if own is None else _ends(own), _ends(made))


def _ends(top: TopEnd) -> dict[str, Extremes]:
    face = top.head is not None and top.head.groove is not None and top.head.groove.seals == "face"
    # in a face nothing moves the ring toward its floor or from it
    looked = [name for name in _GROOVE if not (face and name in _SIDES)]
    named = [name for name in looked if not wiring.plan(top.row.structure, (name,)).missing]
    return extremes(top, named) if named else {}
