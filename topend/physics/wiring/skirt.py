"""The piston's skirt: the inlet that it opens, the exhaust that it covers, and the crank webs below it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from topend.physics import skirt, slider_crank, windows
from topend.physics.wiring.geometry import CRANK
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, difference, first, greatest, same, second
from topend.physics.wiring.timing import PER_SWEPT, counted, ports_of, window_shape

if TYPE_CHECKING:
    from topend.physics.kernel import Column


def _whole_turn(pair: tuple[Column, Column]) -> Column:
    return pair[0] + pair[1]


def skirt_nodes(structure: Structure) -> list[Node]:
    """Angles and areas of the inlet, cover of the exhaust, clearance to the webs."""
    every = ports_of(structure, "inlet")
    floors = [f"{at}.floor" for at in every] or ["cylinder.ports (inlet).floor"]
    inlet = {"skirt_length": "piston.inlet_skirt_length", "deck_clearance": "deck_clearance"}
    own = {"skirt_length": "piston.skirt_length", "deck_clearance": "deck_clearance"}
    # the deepest of those whose floor is known
    known = [f"{at}.floor" for at in ports_of(structure, "exhaust") if f"{at}.floor" in structure.given]
    exhausts = known or ["cylinder.ports (exhaust).floor"]
    nodes = [
        node("piston.inlet_skirt_length", same, value="piston.skirt_length"),
        # of several inlets the deepest counts: the skirt lets it go first
        many("inlet.floor", greatest, floors),
        node("inlet.drop", skirt.skirt_drop, port_floor="inlet.floor", **inlet),
        node("inlet.angles", slider_crank.crank_angles_from_drop, drop="inlet.drop", **CRANK),
        node("inlet_opens", second, pair="inlet.angles"),
        node("inlet_closes", first, pair="inlet.angles"),
        node("inlet_duration", _whole_turn, pair="inlet.angles"),
        many("exhaust.floor", greatest, exhausts),
        node("exhaust_skirt_cover", skirt.skirt_cover, port_floor="exhaust.floor", **own),
        node("crank.web_width", same, Assumption("width over the crank webs not given: as wide as the piston"), value="piston.diameter"),
        node(
            "skirt_web_clearance",
            skirt.skirt_web_clearance,
            compression_height="piston.compression_height",
            skirt_length="piston.skirt_length",
            web_diameter="crank.web_diameter",
            web_width="crank.web_width",
            piston_diameter="piston.diameter",
            axis_offset="crank.offset",
            **CRANK,
        ),
    ]
    areas, looked, angles = [], [], []
    for at in every or ["cylinder.ports (inlet)"]:
        window = window_shape(at)
        nodes += [
            node(f"{at}.height", difference, now=f"{at}.floor", then=f"{at}.top"),
            node(f"{at}.skirt_drop", skirt.skirt_drop, port_floor=f"{at}.floor", **inlet),
            node(f"{at}.one_area", windows.window_area, uncovered=f"{at}.skirt_drop", **window),
            counted(structure, at, "area"),
            node(f"{at}.uncovered_at_angle", difference, now=f"{at}.skirt_drop", then="probe.drop"),
            node(f"{at}.one_area_at_angle", windows.window_area, uncovered=f"{at}.uncovered_at_angle", **window),
            counted(structure, at, "area_at_angle"),
            node(f"{at}.angles", slider_crank.crank_angles_from_drop, drop=f"{at}.skirt_drop", **CRANK),
            node(f"{at}.opens", lambda pair: -pair[1], pair=f"{at}.angles"),
            node(f"{at}.shuts", first, pair=f"{at}.angles"),
            node(
                f"{at}.one_angle_area",
                windows.skirt_angle_area,
                start=f"{at}.opens",
                stop=f"{at}.shuts",
                floor_drop=f"{at}.skirt_drop",
                **window,
                **CRANK,
            ),
            counted(structure, at, "angle_area"),
        ]
        areas.append(f"{at}.area")
        looked.append(f"{at}.area_at_angle")
        angles.append(f"{at}.angle_area")
    return [
        *nodes,
        many("inlet_area", added, areas),
        many("inlet_area_at_angle", added, looked),
        many("inlet.angle_area", added, angles),
        node("inlet_time_area", windows.specific_time_area, angle_area="inlet.angle_area", **PER_SWEPT),
    ]
