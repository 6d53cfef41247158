"""Piston rings: their gaps cold, worn and hot, and their ends against the windows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics import sealing, thermal
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node
from topend.physics.wiring.hot import expansion_node
from topend.physics.wiring.operations import difference, greatest, least, negative, quotient, same, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column

_MIRRORED = Assumption("the second of two windows alike: mirrored over the middle of the exhaust, common practice")
_HEIGHT = Assumption("height of a ring not given: 1.5 mm, 0.8 to 2.5 mm, from memory", between(8e-4, 2.5e-3))
_NO_FLOOR = Assumption("floor of a window not given: taken as below all that a ring passes")
#: How far beyond its way by the sizes a ring may still get: what rod and crank give at speed, how far a port's edge is broken; our own.
_BEYOND = 5e-4
_NO_WEAR = Assumption("wear of the bore not given: none")


def ring_nodes(structure: Structure) -> list[Node]:
    """Of several rings that which is worst."""
    count = int(structure.choice("piston.rings") or 0)
    nodes = [node("cylinder.bore_wear", zero, _NO_WEAR)]
    gaps, worn, closings, hot, lands = [], [], [], [], []
    for index in range(count):
        at = f"piston.rings.{index}"
        nodes += [
            expansion_node(f"{at}.expansion", structure, "steel"),
            node(
                f"{at}.closing",
                thermal.ring_gap_closing,
                bore="cylinder.bore",
                ring_expansion=f"{at}.expansion",
                ring_rise="running.ring_rise",
                bore_expansion="cylinder.expansion",
                bore_rise="running.cylinder_rise",
            ),
            node(f"{at}.gap_hot", difference, now=f"{at}.gap", then=f"{at}.closing"),
            node(f"{at}.gap_worn", sealing.ring_gap_worn, ring_gap=f"{at}.gap", bore_wear="cylinder.bore_wear"),
        ]
        known = f"{at}.gap" in structure.given
        if known or count == 1:
            gaps.append(f"{at}.gap")
            worn.append(f"{at}.gap_worn")
            hot.append(f"{at}.gap_hot")
        closings.append(f"{at}.closing")
        lands += _lands(structure, nodes, at)
    # an unknown ring is no proof, but the known ones are judged all the same
    nodes += [
        many("ring_gap.least", least, gaps or ["piston.rings"]),
        many("ring_gap_worn", greatest, worn or ["piston.rings"]),
        many("ring_gap_hot", least, hot or ["piston.rings"]),
        many("ring_gap_closing", greatest, closings or ["piston.rings"]),
        node("ring_gap_ratio", quotient, volume="ring_gap.least", thickness="cylinder.bore"),
        many("piston.peg_land", least, lands or (["piston.rings.0.angle"] if count else ["piston.rings"])),
        node("ring_peg_land", _passed, land="piston.peg_land", bore="cylinder.bore"),
    ]
    return nodes


def _passed(land: Column, bore: Column) -> Column:
    # half way round is what stands where a ring passes no window
    return np.where(land < 0.5 * np.pi * bore, land, np.nan)


def _way(ring: str) -> list[Node]:
    """How high and how low a ring gets, down from the deck."""
    made = np.array([1.5e-3])
    nodes = [node(f"{ring}.height", lambda: made, _HEIGHT)]
    if ring == "piston.rings.0":
        nodes.append(node(f"{ring}.land", same, value="piston.top_land"))
    return [
        *nodes,
        node(f"{ring}.highest", lambda deck, land: deck + land - _BEYOND, deck="deck_clearance", land=f"{ring}.land"),
        node(
            f"{ring}.lowest",
            lambda deck, land, height, travel: deck + land + height + travel + _BEYOND,
            deck="deck_clearance",
            land=f"{ring}.land",
            height=f"{ring}.height",
            travel="piston_travel",
        ),
    ]


def _lands(structure: Structure, nodes: list[Node], ring: str) -> list[str]:
    """Ways from one ring's peg to every window whose place is stated."""
    if f"{ring}.angle" not in structure.given:
        return []
    ports = sorted(
        path.removesuffix(".angle") for path in structure.given if path.startswith("cylinder.ports.") and path.endswith(".angle")
    )
    made = []
    nodes += _way(ring)
    for port in ports:
        places = [f"{port}.angle"]
        if f"{port}.floor" not in structure.given:
            nodes.append(node(f"{port}.lower_edge", lambda top: top + 1.0, _NO_FLOOR, top=f"{port}.top"))
        else:
            nodes.append(node(f"{port}.lower_edge", same, value=f"{port}.floor"))
        if int(structure.choice(f"{port}.count") or 1) > 1:
            nodes.append(node(f"{port}.mirrored", negative, _MIRRORED, value=f"{port}.angle"))
            places.append(f"{port}.mirrored")
        for place in places:
            name = f"{ring}.land:{place}"
            nodes += [
                node(
                    f"{name}.along",
                    sealing.peg_land,
                    peg_angle=f"{ring}.angle",
                    window_angle=place,
                    window_width=f"{port}.chord",
                    bore="cylinder.bore",
                    ring_gap=f"{ring}.gap",
                ),
                node(
                    name,
                    sealing.peg_land_passed,
                    land=f"{name}.along",
                    bore="cylinder.bore",
                    highest=f"{ring}.highest",
                    lowest=f"{ring}.lowest",
                    roof=f"{port}.top",
                    floor=f"{port}.lower_edge",
                ),
                # where nothing says how far down it gets, it counts as getting there
                node(name, same, value=f"{name}.along"),
            ]
            made.append(name)
    return made or ["cylinder.ports.0.angle"]
