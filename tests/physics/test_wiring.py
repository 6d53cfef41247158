"""The wiring: every output has a way, every way gives what it says, and what is missing is named by the shortest way."""

from __future__ import annotations

import inspect
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.physics import wiring
from topend.physics.wiring import Structure, plan, run
from topend.quantities import INPUTS, OUTPUTS, STATUS

KINDS = ("exhaust", "transfer", "inlet", "auxiliary exhaust", "auxiliary transfer")
#: what section 7 has no input for
HOT = {"hot_gap_change", "hot_running_clearance", "skirt_clearance", "skirt_clearance_hot", "ring_gap_closing", "ring_gap_hot"}
WINDOWS = {
    *(f"{kind}_{what}" for kind in ("exhaust", "transfer", "inlet") for what in ("area", "time_area", "area_at_angle")),
    *("blowdown_time_area", "blowdown_time_area_share", "inlet_opens", "inlet_closes", "inlet_duration"),
    *(f"auxiliary_{kind}_{what}" for kind in ("exhaust", "transfer") for what in ("opens", "duration")),
}
LOOKED = {"gap_at_radius", "band_volume_at_angle", "band_gap_at_angle", "squish_velocity_at_angle"}
FITTED = {"plug_clearance", "skirt_web_clearance", "exhaust_skirt_cover"}
LOCATION = {
    *(
        "eccentricity_worst",
        "eccentricity_likely",
        "rotation_worst",
        "spigot_gap_least",
        "spigot_gap_most",
        "pin_interference",
        "pin_margin",
    ),
    *("squish_edge_low", "squish_edge_high", "squish_min_off_centre", "recess_clearance", "recess_clearance_hot"),
    *("side_room", "side_room_hot", "pin_margin_hot"),
}
SECTION = {"chamber_area", "chamber_surface", "chamber_depth", "chamber_centroid_radius", "chamber_centroid_height"}
_PATTERN = ("circle_diameter", "diameter", "angle")
SEALED = {
    *("ring_gap_worn", "ring_gap_ratio", "ring_peg_land", "groove_land", "head_land", "base_land", "base_land_angle"),
    *("o_ring_squeeze_off_centre", "head_land_angle", "head_land_off_centre"),
    *(f"o_ring_{what}" for what in ("squeeze", "squeeze_hot", "fill", "fill_hot", "stretch", "play")),
    *("stud_preload", "stud_preload_hot", "stud_yield_use", "stud_yield_use_hot", "clamp_force", "clamp_force_hot"),
    *("gas_force", "gasket_seating_force", "gasket_sealing_force", "clamp_reserve", "clamp_reserve_hot"),
    *("thread_strip_force", "engagement_needed"),
}
CYCLE = {
    *("peak_pressure", "peak_pressure_angle", "closed_work", "closed_mean_pressure", "heat_loss", "opening_pressure", "tdc_gas_pressure"),
    *("end_gas_temperature", "knock_integral", "knock_margin", "stud_gas_load", "cycle_step_error"),
}
LACKING = {
    *SEALED,
    *CYCLE,
    *SECTION,
    *LOCATION,
    "crevice_volume",
    "closure_pulling",
    "pulling_clearance",
    "spigot_clearance_hot",
    *HOT,
    *WINDOWS,
    *LOOKED,
    *FITTED,
}


def test_every_output_has_a_way(sample: Any) -> None:
    top = sample(
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm"), top_land="3 mm"),
        location=te.PinLocation(pin=te.LocatingPin(standard="ISO 8752", diameter="4 mm")),
        running=te.Running(crank_speed="11500 rpm", gas_pressure="30 bar"),
    )
    # all that heat needs, besides
    rises = {f"running.{part}_rise" for part in ("case", "cylinder", "crank", "rod", "piston", "ring", "head")}
    sizes = {"crank.seat_height", "cylinder.height", "piston.compression_height", "piston.skirt_diameter", "piston.rings.0.gap"}
    beside = (te.Port(kind="exhaust", top="24 mm", auxiliary=True), te.Port(kind="transfer", top="33 mm", auxiliary=True))
    inlet = te.Port(kind="inlet", top="45 mm", floor="60 mm")
    top = top.replace({"cylinder.ports": [*top.cylinder.ports, *beside, inlet]})
    top = top.replace({"head": top.head.replace(chamber_volume=None, profile=te.BowlProfile(depth="10 mm"))})
    widths = {f"cylinder.ports.{index}.width" for index in range(5)} | {"cylinder.ports.0.floor"}
    widths |= {"probe.radius", "probe.crank_angle", "piston.skirt_length", "crank.web_diameter", "head.plug_height"}
    sizes |= {"head.recess_diameter", "location.cylinder_pin_position", "location.head_pin_position", "location.pin_distance"}
    sizes |= {"location.pin_hole_diameter", "burn.spark"}
    top = top.replace({"studs": te.StudSet(thread_diameter="6 mm", root="cylinder", property_class="8.8")})
    top = top.replace({"cylinder.studs": te.StudPattern(count=4, circle_diameter="62 mm", diameter="6 mm")})
    top = top.replace({"head_gaskets": [te.Gasket(role="head", thickness="0.3 mm", outer_diameter="60 mm", material="copper")]})
    top = top.replace({"piston.rings": [te.PistonRing(angle="180 deg")]})
    rises |= {"running.stud_rise", "running.peak_pressure", "studs.torque", "studs.engaged_length", "head.clamped_height"}
    sizes |= {f"head.o_ring.{name}" for name in ("inner_diameter", "section")}
    sizes |= {f"head.groove.{name}" for name in ("inner_diameter", "outer_diameter", "depth")}
    sizes |= {
        "cylinder.base_diameter",
        "cylinder.studs.angle",
        "cylinder.ports.0.angle",
        *(f"cylinder.base_studs.{name}" for name in _PATTERN),
    }
    planned = plan(top.row.structure.with_given(rises | sizes | widths), tuple(OUTPUTS))
    assert planned.missing == {}
    assert set(OUTPUTS) <= {step.name for step in planned.steps}


def test_steps_come_after_what_they_take(sample: Any) -> None:
    row = sample().row
    seen = set(row.values)
    for step in plan(row.structure, tuple(set(OUTPUTS) - LACKING)).steps:
        assert set(step.takes) <= seen, step.name
        assert step.name not in seen
        seen.add(step.name)


def test_nodes_name_arguments_their_functions_have(sample: Any) -> None:
    for node in plan(sample().row.structure, tuple(OUTPUTS)).steps:
        parameters = inspect.signature(node.function).parameters
        if any(one.kind is inspect.Parameter.VAR_KEYWORD for one in parameters.values()):
            continue
        assert {argument for argument, _ in node.inputs} == set(parameters), node.name


def test_what_is_missing_is_an_input_s_path() -> None:
    for name, missing in plan(Structure(frozenset(), frozenset()), tuple(OUTPUTS)).missing.items():
        assert missing.name == name
        for path in missing.needs:
            assert (
                path in INPUTS
                or path in te.TopEnd.model_fields
                or path
                in (
                    "piston.crown",
                    "piston.rings",
                    "cylinder.studs",
                    "head.profile",
                    *(f"cylinder.ports ({kind}).{edge}" for kind in KINDS for edge in ("top", "width", "floor")),
                )
            ), (name, path)


@pytest.mark.parametrize("name", sorted(set(OUTPUTS) - LACKING))
def test_giving_what_is_missing_gives_the_output(name: str, sample: Any) -> None:
    """Taking away any one input either leaves the output, or it says to give that input back, directly or by another way."""
    full = sample()
    for path in sorted(full.row.values):
        given = full.row.structure.given - {path}
        planned = plan(Structure(given, full.row.structure.tags), (name,))
        if planned.missing:
            needs = planned.missing[name].needs
            again = plan(Structure(given | set(needs), full.row.structure.tags), (name,))
            assert not again.missing, (path, needs)


def test_run_keeps_what_is_given(sample: Any) -> None:
    top = sample()
    planned = plan(top.row.structure, ("squish_edge",))
    made = run(planned, {**top.row.columns(), "deck_clearance": np.array([2e-3])})
    assert made["squish_edge"][0] == pytest.approx(2e-3 + 0.3e-3 - 1e-3)


def test_reasons_are_those_of_the_table() -> None:
    reasons = {check.reason for check in (*wiring.SIZES, *wiring.COLLISIONS, *wiring.UNANSWERED)}
    assert reasons <= set(STATUS)
    profiles = {"profile_impossible", "profile_disagrees"}
    assert set(STATUS) - reasons == {"ok", "wrong_role", "seal_mismatch", "opening_inside_bore", *profiles}


def test_structures_are_compared_by_content() -> None:
    one = Structure(frozenset({"a", "b"}), frozenset({"head:flush"}))
    assert one == Structure(frozenset({"b", "a"}), frozenset({"head:flush"}))
    assert hash(one) == hash(Structure(frozenset({"b", "a"}), frozenset({"head:flush"})))
    assert one.choice("head") == "flush"
    assert one.choice("headgear") is None
    assert one.with_given(["c"]).given == {"a", "b", "c"}
