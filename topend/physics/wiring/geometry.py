"""Crank, crown, gasket stacks, band and gap, and the ratios: what every top end has."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics import crown, slider_crank, squish, volumes
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, difference, half, magnitude, negative, quotient, same, second, tangent, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column


ROD = Assumption(
    "rod not given: 2.15 × stroke ± 0.15 × stroke",
    lambda value, stroke: (value - 0.15 * stroke, value + 0.15 * stroke),
)


SAME_ROD = Assumption("rod under the deck reading not given: taken as the one fitted now")


def default_rod(stroke: Column) -> Column:
    return 2.15 * stroke


#: What `squish.gap_at` takes, by name.
GAP_AT: dict[str, str] = {
    "squish_edge": "squish_edge",
    "face_gap": "face_gap",
    "inner_radius": "head.band.inner_radius",
    "head_radius": "head.radius",
    "band_radius": "head.band.radius",
    "band_slope": "head.band.slope",
    "cap_height": "piston.crown.cap_height",
    "cap_radius": "piston.crown.cap_radius",
    "edge_slope": "piston.crown.slope",
    "crown_radius": "piston.crown.radius",
    "curvature": "piston.crown.curvature",
}


CRANK = {"throw": "crank.throw", "rod_length": "crank.rod_length", "offset": "crank.axis_offset"}


BAND = {"band_radius": "head.band.radius", "band_slope": "head.band.slope"}


def crown_nodes(piston: str, shape: str | None) -> list[Node]:
    """A crown's shape in the terms of `crown.py`; `piston` is ``piston`` or ``deck.piston``."""
    at = f"{piston}.crown"
    nodes = [
        node(f"{at}.curvature", crown.cap_curvature, cap_height=f"{at}.cap_height", cap_radius=f"{at}.cap_radius"),
        node(f"{piston}.diameter", same, Assumption("piston diameter not given: taken as the bore"), value="cylinder.bore"),
        node(f"{at}.radius", half, value=f"{piston}.diameter"),
    ]
    own = f"{at}.radius"
    if shape is None:
        # the path that is missing, whatever of the crown is asked for
        nodes += [node(f"{at}.{what}", same, value=at) for what in ("cap_height", "cap_radius", "slope", "centre_rise")]
    elif shape == "sphere":
        nodes += [
            node(f"{at}.cap_height", same, value=f"{at}.rise"),
            node(f"{at}.cap_radius", same, value=own),
            node(f"{at}.slope", zero),
            node(f"{at}.centre_rise", same, value=f"{at}.rise"),
        ]
    elif shape == "cone":
        nodes += [
            node(f"{at}.cap_height", zero),
            node(f"{at}.cap_radius", same, value=own),
            node(f"{at}.slope", lambda rise, radius: rise / radius, rise=f"{at}.rise", radius=own),
            node(f"{at}.centre_rise", same, value=f"{at}.rise"),
        ]
    elif shape == "dish":
        nodes += [
            node(f"{at}.cap_height", negative, value=f"{at}.depth"),
            node(f"{at}.cap_radius", half, value=f"{at}.diameter"),
            node(f"{at}.slope", zero),
            node(f"{at}.centre_rise", negative, value=f"{at}.depth"),
        ]
    elif shape == "measured":
        straight = Assumption("shape of the measured crown not known: taken as straight at its edge slope across the band")
        nodes += [
            node(f"{at}.cap_height", zero, straight),
            node(f"{at}.cap_radius", same, value=own),
            node(f"{at}.slope", tangent, angle=f"{at}.edge_slope"),
            node(f"{at}.centre_rise", same, value=f"{at}.rise"),
        ]
    else:
        nodes += [
            node(f"{at}.cap_height", zero),
            node(f"{at}.cap_radius", same, value=own),
            node(f"{at}.slope", zero),
            node(f"{at}.centre_rise", zero),
        ]
    return nodes


def crown_inputs(piston: str = "piston") -> dict[str, str]:
    at = f"{piston}.crown"
    return {
        "cap_height": f"{at}.cap_height",
        "cap_radius": f"{at}.cap_radius",
        "edge_slope": f"{at}.slope",
        "crown_radius": f"{at}.radius",
        "curvature": f"{at}.curvature",
    }


#: What a fitted thickness is taken as when only the nominal is known (docs/sources.md); by class of material.
CRUSH: dict[str, Assumption] = {
    "metal": Assumption("fitted thickness not measured: metal, nominal ± 0.02 mm", lambda value, **_: (value - 2e-5, value + 2e-5)),
    "fibre": Assumption("fitted thickness not measured: fibre, nominal +0/-17 %", lambda value, **_: (0.83 * value, value)),
    "unknown": Assumption(
        "fitted thickness not measured and material not given: nominal +0.02 mm/-17 %, at least -0.02 mm",
        lambda value, **_: (np.minimum(0.83 * value, value - 2e-5), value + 2e-5),
    ),
}


def gasket_nodes(structure: Structure, stack: str, whole: str) -> list[Node]:
    """The sum of one role's fitted gaskets; each fitted thickness from the nominal where it was not measured."""
    count = structure.choice(stack)
    if count is None:
        return []
    nodes = []
    for index in range(int(count)):
        at = f"{stack}.{index}"
        crush = structure.choice(at) or "unknown"
        nodes.append(node(f"{at}.fitted_thickness", same, CRUSH[crush], value=f"{at}.thickness"))
    fitted = [f"{stack}.{index}.fitted_thickness" for index in range(int(count))]
    nodes.append(many(whole, added, fitted) if fitted else node(whole, zero))
    return nodes


def fixed_nodes() -> list[Node]:
    """The nodes that are the same for every structure."""
    shape = crown_inputs()
    over = {"inner_radius": "head.band.inner_radius", "outer_radius": "head.band.outer_radius"}
    return [
        node("crank.rod_length", default_rod, ROD, stroke="crank.stroke"),
        node("crank.throw", slider_crank.throw_from_stroke, stroke="crank.stroke"),
        many("crank.axis_offset", added, ("crank.offset", "piston.pin_offset")),
        node("crank.reach", slider_crank.pin_height_at_tdc, **CRANK),
        node("piston_travel", slider_crank.piston_travel, **CRANK),
        node("mean_piston_speed", slider_crank.mean_piston_speed, piston_travel="piston_travel", crank_speed="running.crank_speed"),
        node("tdc_acceleration", slider_crank.tdc_acceleration, crank_speed="running.crank_speed", **CRANK),
        node("cylinder.bore_area", volumes.circle_area, diameter="cylinder.bore"),
        node("swept_volume", volumes.swept_volume, bore_area="cylinder.bore_area", piston_travel="piston_travel"),
        node("head.band.radius", half, value="head.band.outer_diameter"),
        node("head.band.slope", tangent, angle="head.band.angle"),
        node("head.band.inner_radius", half, value="head.band.inner_diameter"),
        node("head.band.outer_radius", squish.band_outer_radius, outer_diameter="head.band.outer_diameter", bore="cylinder.bore"),
        node(
            "squish_edge",
            squish.squish_edge,
            deck_clearance="deck_clearance",
            head_thickness="head_gasket.thickness",
            recess_offset="head.recess_offset",
        ),
        many("face_gap", added, ("deck_clearance", "head_gasket.thickness")),
        node("squish_inner", squish.squish_gap, radius="head.band.inner_radius", squish_edge="squish_edge", **BAND, **shape),
        node(
            "squish.on_crown",
            squish.squish_least_on_crown,
            squish_edge="squish_edge",
            squish_inner="squish_inner",
            inner_radius="head.band.inner_radius",
            **BAND,
            **shape,
        ),
        node(
            "squish_min",
            squish.squish_min,
            least_on_crown="squish.on_crown",
            squish_edge="squish_edge",
            outer_radius="head.band.outer_radius",
            crown_radius="piston.crown.radius",
            **BAND,
        ),
        node(
            "squish.least_radius",
            squish.least_gap_radius,
            squish_edge="squish_edge",
            inner_radius="head.band.inner_radius",
            outer_radius="head.band.outer_radius",
            **BAND,
            **shape,
        ),
        # the crown's volume inside the band, in it, and outside its inner edge
        node("crown.inner_volume", crown.crown_volume_within, radius="head.band.inner_radius", **shape),
        node("crown.outer_volume", crown.crown_volume_within, radius="head.band.outer_radius", **shape),
        node("head.band.crown_volume", difference, now="crown.outer_volume", then="crown.inner_volume"),
        node("crown.volume_outside", difference, now="crown.shape_volume", then="crown.inner_volume"),
        node("squish_mean", squish.squish_mean, squish_edge="squish_edge", crown_volume_in_band="head.band.crown_volume", **over, **BAND),
        node(
            "contact.beside_bowl",
            squish.contact_least,
            least_on_crown="squish.on_crown",
            squish_edge="squish_edge",
            face_gap="face_gap",
            head_radius="head.radius",
            band_radius="head.band.radius",
            **shape,
        ),
        node("squish_area_ratio", squish.squish_area_ratio, bore_area="cylinder.bore_area", **over),
        node(
            "outer_volume",
            squish.outer_volume,
            squish_edge="squish_edge",
            inner_radius="head.band.inner_radius",
            free_volume="free_volume",
            crown_volume_outside="crown.volume_outside",
            **BAND,
        ),
        node(
            "squish.strength",
            squish.squish_strength,
            bore_area="cylinder.bore_area",
            inner_radius="head.band.inner_radius",
            clearance_volume="clearance_volume",
            outer_volume="outer_volume",
        ),
        node("clearance_height", quotient, volume="clearance_volume", thickness="cylinder.bore_area"),
        node("squish_peak.near", squish.squish_peak_drop_near, squish_inner="squish_inner", clearance_height="clearance_height", **CRANK),
        node("squish_peak.piston_speed", slider_crank.upstroke_speed, drop="squish_peak.near", crank_speed="running.crank_speed", **CRANK),
        node(
            "squish_velocity.signed",
            squish.squish_velocity,
            drop="squish_peak.near",
            squish_strength="squish.strength",
            squish_inner="squish_inner",
            clearance_volume="clearance_volume",
            bore_area="cylinder.bore_area",
            piston_speed="squish_peak.piston_speed",
        ),
        node("squish_velocity_peak", magnitude, value="squish_velocity.signed"),
        node("squish_peak.drop", squish.squish_peak_drop, squish_inner="squish_inner", clearance_height="clearance_height", **CRANK),
        node("squish_peak.angles", slider_crank.crank_angles_from_drop, drop="squish_peak.drop", **CRANK),
        node("squish_velocity_angle", second, pair="squish_peak.angles"),
        *_looked_nodes(),
        node("compression_ratio", volumes.compression_ratio, swept_volume="swept_volume", clearance_volume="clearance_volume"),
        node(
            "trapped_compression_ratio",
            volumes.trapped_compression_ratio,
            bore_area="cylinder.bore_area",
            exhaust_drop="exhaust.drop",
            clearance_volume="clearance_volume",
        ),
    ]


def _looked_nodes() -> list[Node]:
    """Gap, band and squish at the probe's radius and crank angle, and the gap under the plug."""
    shape = crown_inputs()
    return [
        node("gap_at_radius", squish.gap_at, radius="probe.radius", **GAP_AT),
        node("probe.drop", slider_crank.piston_drop, crank_angle="probe.crank_angle", **CRANK),
        node("probe.speed_down", slider_crank.piston_speed, crank_angle="probe.crank_angle", crank_speed="running.crank_speed", **CRANK),
        node("probe.speed_up", negative, value="probe.speed_down"),
        node("head.band.inner_area", volumes.circle_area, diameter="head.band.inner_diameter"),
        node("head.band.outer_area", difference, now="cylinder.bore_area", then="head.band.inner_area"),
        node("band_volume", same, value="outer_volume"),
        node("band_volume_at_angle", squish.volume_at_drop, volume="outer_volume", area="head.band.outer_area", drop="probe.drop"),
        many("band_gap_at_angle", added, ("squish_mean", "probe.drop")),
        node(
            "squish_velocity_at_angle",
            squish.squish_velocity,
            drop="probe.drop",
            squish_strength="squish.strength",
            squish_inner="squish_inner",
            clearance_volume="clearance_volume",
            bore_area="cylinder.bore_area",
            piston_speed="probe.speed_up",
        ),
        # a plug on the axis, where nothing else is stated, needs the crown's height there alone
        node("head.plug_rise", crown.crown_rise, radius="head.plug_radius", **shape),
        node("head.plug_rise", same, value="piston.crown.centre_rise"),
        node(
            "plug_clearance", squish.plug_clearance, squish_edge="squish_edge", plug_height="head.plug_height", crown_rise="head.plug_rise"
        ),
    ]
