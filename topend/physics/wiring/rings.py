"""Piston rings: their gaps cold, worn and hot, and their ends against the windows."""

from __future__ import annotations

from topend.physics import sealing, thermal
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.hot import expansion_node
from topend.physics.wiring.operations import difference, greatest, least, negative, quotient, zero

_MIRRORED = Assumption("the second of two windows alike: mirrored over the middle of the exhaust, common practice")
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
        many("ring_peg_land", least, lands or (["piston.rings.0.angle"] if count else ["piston.rings"])),
    ]
    return nodes


def _lands(structure: Structure, nodes: list[Node], ring: str) -> list[str]:
    """Ways from one ring's peg to every window whose place is stated."""
    if f"{ring}.angle" not in structure.given:
        return []
    ports = sorted(
        path.removesuffix(".angle") for path in structure.given if path.startswith("cylinder.ports.") and path.endswith(".angle")
    )
    made = []
    for port in ports:
        places = [f"{port}.angle"]
        if int(structure.choice(f"{port}.count") or 1) > 1:
            nodes.append(node(f"{port}.mirrored", negative, _MIRRORED, value=f"{port}.angle"))
            places.append(f"{port}.mirrored")
        for place in places:
            name = f"{ring}.land:{place}"
            nodes.append(
                node(
                    name,
                    sealing.peg_land,
                    peg_angle=f"{ring}.angle",
                    window_angle=place,
                    window_width=f"{port}.chord",
                    bore="cylinder.bore",
                    ring_gap=f"{ring}.gap",
                )
            )
            made.append(name)
    return made or ["cylinder.ports.0.angle"]
