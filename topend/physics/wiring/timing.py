"""Ports that the crown opens: angles from their upper edges, areas and time-areas from their windows."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np

from topend.physics import ports, slider_crank, windows
from topend.physics.wiring.geometry import CRANK
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, difference, first, greatest, least, quotient, same, second, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column

PER_SWEPT = {"crank_speed": "running.crank_speed", "swept_volume": "swept_volume"}
_KINDS = ("exhaust", "transfer")


def ports_of(structure: Structure, kind: str) -> list[str]:
    """Paths of the ports of a kind, such as ``cylinder.ports.0``."""
    return sorted(tag.split(":")[0] for tag in structure.tags if tag.startswith("cylinder.ports.") and tag.endswith(f":{kind}"))


def _timing_depth(structure: Structure) -> list[Node]:
    """How far below the crown's edge lies what opens the ports; no node at all where it is the edge itself."""
    if structure.choice("piston.timing_edge") == "ring":
        return [node("piston.timing_depth", same, value="piston.top_land")]
    if "piston.edge_chamfer" in structure.given:
        return [node("piston.timing_depth", same, value="piston.edge_chamfer")]
    return []


def _edges(structure: Structure, at: str, sealed: bool) -> tuple[list[Node], str, str]:
    """Nodes of a port's edges; the name of the edge at which it opens, and of its window's own roof, both by what seals the bore.

    A name is that of `top` itself where nothing is stated that moves it.
    """
    nodes: list[Node] = []
    roof = opens = f"{at}.top"
    if f"{at}.chamfer" in structure.given:
        opens = f"{at}.chamfer_top"
        nodes.append(node(opens, difference, now=f"{at}.top", then=f"{at}.chamfer"))
    if f"{at}.valve_edge" in structure.given:
        nodes.append(many(f"{at}.valve_opens", greatest, (opens, f"{at}.valve_edge")))
        opens = f"{at}.valve_opens"
    if sealed:
        nodes.append(node(f"{at}.sealed_opens", difference, now=opens, then="piston.timing_depth"))
        nodes.append(node(f"{at}.sealed_roof", difference, now=roof, then="piston.timing_depth"))
        opens, roof = f"{at}.sealed_opens", f"{at}.sealed_roof"
    return nodes, opens, roof


def _angles(name: str, tops: list[str]) -> list[Node]:
    """Angles of the highest of some ports, as outputs that begin with `name`."""
    return [
        # of several ports of a kind the highest counts: the least distance below the deck
        many(f"{name}.top", least, tops),
        node(f"{name}.drop", ports.port_drop, port_top=f"{name}.top", deck_clearance="deck_clearance"),
        node(f"{name}.angles", slider_crank.crank_angles_from_drop, drop=f"{name}.drop", **CRANK),
        node(f"{name}_opens", first, pair=f"{name}.angles"),
        node(f"{name}_closes", second, pair=f"{name}.angles"),
        node(f"{name}_duration", ports.port_duration, opens=f"{name}_opens", closes=f"{name}_closes"),
    ]


def port_nodes(structure: Structure) -> list[Node]:
    """Angles of the highest port of each kind, and of the highest auxiliary one."""
    nodes = _timing_depth(structure)
    sealed = bool(nodes)
    every: list[str] = []
    for kind in _KINDS:
        tops, beside = [], []
        for at in ports_of(structure, kind):
            made, opens, _ = _edges(structure, at, sealed)
            nodes += made
            tops.append(opens)
            if structure.choice(f"{at}.auxiliary"):
                beside.append(opens)
        every += tops
        nodes += _angles(kind, tops or [f"cylinder.ports ({kind}).top"])
        nodes += _angles(f"auxiliary_{kind}", beside or [f"cylinder.ports (auxiliary {kind}).top"])
    if every:
        nodes += [many("ports.least_top", least, every), many("ports.greatest_top", greatest, every)]
    nodes.append(node("blowdown", ports.blowdown, exhaust_opens="exhaust_opens", transfer_opens="transfer_opens"))
    return nodes


def counted(structure: Structure, at: str, what: str) -> Node:
    """`what` of all windows of a port, from that of one."""
    count = structure.choice(f"{at}.count")
    if count is None:
        return node(f"{at}.{what}", same, value=f"{at}.one_{what}")
    return node(f"{at}.{what}", functools.partial(_times, float(count)), value=f"{at}.one_{what}")


def _times(count: float, value: Column) -> Column:
    return value * count


def window_shape(at: str) -> dict[str, str]:
    """What the kernels of `windows` take of a port's window."""
    return {"width": f"{at}.chord", "height": f"{at}.height", "corner_radius": f"{at}.corner_radius"}


def _shape_nodes(structure: Structure, at: str) -> list[Node]:
    """Width and corners of a window, of whatever kind."""
    arc = structure.choice(f"{at}.width") == "arc"
    return [
        node(f"{at}.chord", windows.chord_from_arc, arc=f"{at}.width", bore="cylinder.bore")
        if arc
        else node(f"{at}.chord", same, value=f"{at}.width"),
        node(f"{at}.corner_radius", zero, Assumption("corners of a window not given: square")),
    ]


def _beyond(value: Column, hidden: Column) -> Column:
    """What of a value is left beyond `hidden`; 0 for nothing."""
    return np.maximum(value - hidden, 0.0)


def _valved_drops(at: str, roof: str, sealed: bool) -> list[Node]:
    """Where a window behind a valve begins to open, and what of it the valve's straight edge hides."""
    edge, nodes = f"{at}.valve_edge", []
    if sealed:
        edge = f"{at}.sealed_valve_edge"
        nodes.append(node(edge, difference, now=f"{at}.valve_edge", then="piston.timing_depth"))
    shape = window_shape(at)
    return [
        *nodes,
        many(f"{at}.valve_roof", greatest, (roof, edge)),
        node(f"{at}.valve_drop", ports.port_drop, port_top=f"{at}.valve_roof", deck_clearance="deck_clearance"),
        node(f"{at}.hidden_height", _beyond, value=f"{at}.valve_edge", hidden=f"{at}.top"),
        node(f"{at}.hidden_area", windows.window_area, uncovered=f"{at}.hidden_height", **shape),
    ]


def _less_hidden(at: str, what: str) -> Node:
    return node(f"{at}.one_{what}", _beyond, value=f"{at}.whole_{what}", hidden=f"{at}.hidden_area")


def _summed(at: str, what: str, stop: str, valved: bool, drops: dict[str, str]) -> list[Node]:
    """`what`, an angle-area of one window from where it opens to `stop`."""
    name = f"{at}.whole_{what}" if valved else f"{at}.one_{what}"
    whole = node(name, windows.angle_area, start=f"{at}.opens", stop=stop, **drops, **window_shape(at))
    if not valved:
        return [whole]
    taken = {"value": name, "hidden": f"{at}.hidden_area", "start": f"{at}.opens", "stop": stop}
    return [whole, node(f"{at}.one_{what}", _less_over_angle, **taken)]


def _less_over_angle(value: Column, hidden: Column, start: Column, stop: Column) -> Column:
    # while the port is open the valve hides as much of it at every angle
    return np.maximum(value - hidden * (stop - start), 0.0)


def window_nodes(structure: Structure) -> list[Node]:
    """Areas and time-areas of the windows of each kind, summed over its ports."""
    nodes: list[Node] = []
    for at in ports_of(structure, "inlet") or ["cylinder.ports (inlet)"]:
        nodes += _shape_nodes(structure, at)
    sealed = bool(_timing_depth(structure))
    for kind in _KINDS:
        areas, looked, angles, blown = [], [], [], []
        for at in ports_of(structure, kind) or [f"cylinder.ports ({kind})"]:
            window = window_shape(at)
            _, _, roof = _edges(structure, at, sealed)
            valved = f"{at}.valve_edge" in structure.given
            part, begins = ("whole", f"{at}.valve_drop") if valved else ("one", f"{at}.drop")
            drops = {"roof_drop": f"{at}.drop", **CRANK}
            nodes += [
                *_shape_nodes(structure, at),
                # what the crown has to pass, less how far what seals lies below its edge
                node(f"{at}.drop", ports.port_drop, port_top=roof, deck_clearance="deck_clearance"),
                *(_valved_drops(at, roof, sealed) if valved else ()),
                node(f"{at}.height", difference, now=f"{at}.floor", then=f"{at}.top"),
                node(
                    f"{at}.height",
                    difference,
                    Assumption("floor of a window not given: taken at the crown at BDC"),
                    now="piston_travel",
                    then=f"{at}.drop",
                ),
                node(f"{at}.uncovered", difference, now="piston_travel", then=f"{at}.drop"),
                node(f"{at}.{part}_area", windows.window_area, uncovered=f"{at}.uncovered", **window),
                *([_less_hidden(at, "area")] if valved else ()),
                counted(structure, at, "area"),
                node(f"{at}.uncovered_at_angle", difference, now="probe.drop", then=f"{at}.drop"),
                node(f"{at}.{part}_area_at_angle", windows.window_area, uncovered=f"{at}.uncovered_at_angle", **window),
                *([_less_hidden(at, "area_at_angle")] if valved else ()),
                counted(structure, at, "area_at_angle"),
                node(f"{at}.angles", slider_crank.crank_angles_from_drop, drop=begins, **CRANK),
                node(f"{at}.opens", first, pair=f"{at}.angles"),
                node(f"{at}.shuts", lambda pair: 2.0 * np.pi - pair[1], pair=f"{at}.angles"),
                *_summed(at, "angle_area", f"{at}.shuts", valved, drops),
                counted(structure, at, "angle_area"),
                # until the transfers open; a port that opens after them has none
                many(f"{at}.blown", greatest, (f"{at}.opens", "transfer_opens")),
                *_summed(at, "blowdown_area", f"{at}.blown", valved, drops),
                counted(structure, at, "blowdown_area"),
            ]
            areas.append(f"{at}.area")
            looked.append(f"{at}.area_at_angle")
            angles.append(f"{at}.angle_area")
            blown.append(f"{at}.blowdown_area")
        nodes += [
            many(f"{kind}_area", added, areas),
            many(f"{kind}_area_at_angle", added, looked),
            many(f"{kind}.angle_area", added, angles),
            node(f"{kind}_time_area", windows.specific_time_area, angle_area=f"{kind}.angle_area", **PER_SWEPT),
        ]
        if kind == "exhaust":
            nodes += [
                many("exhaust.blowdown_area", added, blown),
                node("blowdown_time_area", windows.specific_time_area, angle_area="exhaust.blowdown_area", **PER_SWEPT),
                node("blowdown_time_area_share", quotient, volume="exhaust.blowdown_area", thickness="exhaust.angle_area"),
            ]
    return nodes
