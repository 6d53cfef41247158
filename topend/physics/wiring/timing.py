"""Ports: angles from their upper edges, areas and time-areas from their windows."""

from __future__ import annotations

import numpy as np

from topend.physics import ports, slider_crank, windows
from topend.physics.wiring.geometry import CRANK
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, difference, first, greatest, least, same, second, zero


def _ports_of(structure: Structure, kind: str) -> list[str]:
    """Paths of the ports of a kind, such as ``cylinder.ports.0``."""
    return sorted(tag.split(":")[0] for tag in structure.tags if tag.startswith("cylinder.ports.") and tag.endswith(f":{kind}"))


def port_nodes(structure: Structure) -> list[Node]:
    """Angles of the highest port of each kind."""
    nodes: list[Node] = []
    every: list[str] = []
    for kind in ("exhaust", "transfer"):
        tops = [f"{at}.top" for at in _ports_of(structure, kind)]
        every += tops
        # of several ports of a kind the highest counts: the least distance below the deck
        nodes.append(many(f"{kind}.top", least, tops or [f"cylinder.ports ({kind}).top"]))
        nodes += [
            node(f"{kind}.drop", ports.port_drop, port_top=f"{kind}.top", deck_clearance="deck_clearance"),
            node(f"{kind}.angles", slider_crank.crank_angles_from_drop, drop=f"{kind}.drop", **CRANK),
            node(f"{kind}_opens", first, pair=f"{kind}.angles"),
            node(f"{kind}_closes", second, pair=f"{kind}.angles"),
            node(f"{kind}_duration", ports.port_duration, opens=f"{kind}_opens", closes=f"{kind}_closes"),
        ]
    if every:
        nodes += [many("ports.least_top", least, every), many("ports.greatest_top", greatest, every)]
    nodes.append(node("blowdown", ports.blowdown, exhaust_opens="exhaust_opens", transfer_opens="transfer_opens"))
    return nodes


_PER_SWEPT = {"crank_speed": "running.crank_speed", "swept_volume": "swept_volume"}


def window_nodes(structure: Structure) -> list[Node]:
    """Areas and time-areas of the windows of each kind, summed over its ports."""
    nodes: list[Node] = []
    for kind in ("exhaust", "transfer"):
        areas, angles, blown = [], [], []
        for at in _ports_of(structure, kind) or [f"cylinder.ports ({kind})"]:
            window = {"width": f"{at}.chord", "height": f"{at}.height", "corner_radius": f"{at}.corner_radius"}
            arc = structure.choice(f"{at}.width") == "arc"
            drops = {"roof_drop": f"{at}.drop", **CRANK}
            nodes += [
                node(f"{at}.chord", windows.chord_from_arc, arc=f"{at}.width", bore="cylinder.bore")
                if arc
                else node(f"{at}.chord", same, value=f"{at}.width"),
                node(f"{at}.corner_radius", zero, Assumption("corners of a window not given: square")),
                node(f"{at}.drop", ports.port_drop, port_top=f"{at}.top", deck_clearance="deck_clearance"),
                node(f"{at}.height", difference, now=f"{at}.floor", then=f"{at}.top"),
                node(
                    f"{at}.height",
                    difference,
                    Assumption("floor of a window not given: taken at the crown at BDC"),
                    now="piston_travel",
                    then=f"{at}.drop",
                ),
                node(f"{at}.uncovered", difference, now="piston_travel", then=f"{at}.drop"),
                node(f"{at}.area", windows.window_area, uncovered=f"{at}.uncovered", **window),
                node(f"{at}.angles", slider_crank.crank_angles_from_drop, drop=f"{at}.drop", **CRANK),
                node(f"{at}.opens", first, pair=f"{at}.angles"),
                node(f"{at}.shuts", lambda pair: 2.0 * np.pi - pair[1], pair=f"{at}.angles"),
                node(f"{at}.angle_area", windows.angle_area, start=f"{at}.opens", stop=f"{at}.shuts", **drops, **window),
                # until the transfers open; a port that opens after them has none
                many(f"{at}.blown", greatest, (f"{at}.opens", "transfer_opens")),
                node(f"{at}.blowdown_area", windows.angle_area, start=f"{at}.opens", stop=f"{at}.blown", **drops, **window),
            ]
            areas.append(f"{at}.area")
            angles.append(f"{at}.angle_area")
            blown.append(f"{at}.blowdown_area")
        nodes += [
            many(f"{kind}_area", added, areas),
            many(f"{kind}.angle_area", added, angles),
            node(f"{kind}_time_area", windows.specific_time_area, angle_area=f"{kind}.angle_area", **_PER_SWEPT),
        ]
        if kind == "exhaust":
            nodes += [
                many("exhaust.blowdown_area", added, blown),
                node("blowdown_time_area", windows.specific_time_area, angle_area="exhaust.blowdown_area", **_PER_SWEPT),
            ]
    return nodes
