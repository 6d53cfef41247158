"""Deck clearance: from a reading, moved to what is fitted now, or stacked up from the parts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from topend.physics import crown, slider_crank
from topend.physics.kernel import is_zero
from topend.physics.wiring.geometry import ROD, SAME_ROD, crown_inputs, crown_nodes, default_rod
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, difference, same, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column


def _moved(reading: Column, rise: Column, base: Column, height: Column, reach: Column, compression: Column) -> Column:
    """The reading at the crown's edge, moved by what changed since; most of it did not change at all."""
    for change in (rise, base, height):
        reading = reading if is_zero(change) else reading + change
    for change in (reach, compression):
        reading = reading if is_zero(change) else reading - change
    return reading


def read_with(structure: Structure, path: str, stack: str, change: str, *, unsaid: str, unknown: str) -> list[Node]:
    """By how much the stack now fitted is thicker than the one under a reading, as `change`.

    Of two that are said to differ both have to be known. Else the one under the reading, where its thickness is not stated, is the one
    now fitted (`unsaid` says so), and one that is not known at all is as it was (`unknown`).
    """
    changes = [node(change, difference, now=stack, then=path)]
    said = structure.choice(path.replace("_thickness", "_stack"))
    if said == "other":
        return changes
    own = node(path, same, None if said else Assumption(f"{unsaid}: taken as the stack now fitted"), value=stack)
    return [*changes, node(change, zero, Assumption(unknown)), own]


def _reading_nodes(structure: Structure) -> list[Node]:
    """Deck clearance from a reading, moved to what is fitted now."""
    nodes = [
        node(
            "deck_clearance",
            _moved,
            reading="deck.clearance",
            rise="deck.rise",
            base="deck.base_change",
            height="deck.height_change",
            reach="deck.reach_change",
            compression="deck.compression_change",
        )
    ]
    at = structure.choice("deck.at") or "edge"
    piston = "deck.piston" if structure.choice("deck.piston") else "piston"
    if at == "edge":
        nodes.append(node("deck.rise", zero))
    elif at == "centre":
        nodes.append(node("deck.rise", same, value=f"{piston}.crown.centre_rise"))
    else:
        nodes.append(node("deck.rise", crown.crown_rise, radius="deck.at", **crown_inputs(piston)))
    if piston == "deck.piston":
        nodes += crown_nodes("deck.piston", structure.choice("deck.piston.crown"))
    nodes += [
        *read_with(
            structure,
            "deck.base_thickness",
            "base.thickness",
            "deck.base_change",
            unsaid="base stack under the deck reading not given",
            unknown="base stack not given: taken as it was under the deck reading",
        ),
    ]
    heights, reach, compression = [], [], []
    if structure.choice("deck.cylinder"):
        heights.append(("cylinder.height", "deck.cylinder.height"))
    if structure.choice("deck.crank"):
        heights.append(("crank.seat_height", "deck.crank.seat_height"))
    if structure.choice("deck.crank") or piston == "deck.piston":
        reach.append(("crank.reach", "deck.reach"))
    if piston == "deck.piston":
        compression.append(("piston.compression_height", "deck.piston.compression_height"))
    for name, pairs in (("deck.height_change", heights), ("deck.reach_change", reach), ("deck.compression_change", compression)):
        kept = [pair for pair in pairs if f"same:{pair[0]}" not in structure.tags]
        unsaid = [pair[0] for pair in pairs if f"same:{pair[0]}" in structure.tags and f"unsaid:{pair[0]}" in structure.tags]
        for now, then in kept:
            nodes.append(node(f"{now}-change", difference, now=now, then=then))
        for path in unsaid:
            why = f"{path.replace('.', ' ').replace('_', ' ')} not given: taken as it was under the deck reading"
            nodes.append(node(f"{path}-change", zero, Assumption(why)))
        parts = [f"{now}-change" for now, _ in kept] + [f"{path}-change" for path in unsaid]
        nodes.append(many(name, added, parts) if parts else node(name, zero))
    crank = "deck.crank" if structure.choice("deck.crank") else "crank"
    pin = f"{piston}.pin_offset"
    nodes += [
        # of two unknown rods the likeliest is that they are one: then only the throw moves the deck
        node("deck.crank.rod_length", same, SAME_ROD, value="crank.rod_length")
        if "same:crank.rod_length" in structure.tags
        else node("deck.crank.rod_length", default_rod, ROD, stroke="deck.crank.stroke"),
        node("deck.throw", slider_crank.throw_from_stroke, stroke=f"{crank}.stroke"),
        many("deck.offset", added, (f"{crank}.offset", pin)),
        node("deck.reach", slider_crank.pin_height_at_tdc, throw="deck.throw", rod_length=f"{crank}.rod_length", offset="deck.offset"),
    ]
    return nodes


_STACKED = {
    "seat": "crank.seat_height",
    "base": "base.thickness",
    "height": "cylinder.height",
    "reach": "crank.reach",
    "compression": "piston.compression_height",
}


def _stacked(seat: Column, base: Column, height: Column, reach: Column, compression: Column) -> Column:
    return seat + base + height - reach - compression


def deck_nodes(structure: Structure) -> list[Node]:
    """From the reading where there is one, else from the parts where all their heights are stated."""
    summed = {"base.thickness"} if structure.choice("base_gaskets") is not None else set()
    if "deck.clearance" not in structure.given and set(_STACKED.values()) - {"crank.reach"} <= structure.given | summed:
        return [node("deck_clearance", _stacked, **_STACKED)]
    nodes = _reading_nodes(structure)
    if "deck.base_thickness" in structure.given and structure.choice("deck.base_stack") != "other":
        why = "base stack not given: taken as it was under the deck reading"
        nodes.append(node("base.thickness", same, Assumption(why), value="deck.base_thickness"))
    return nodes
