"""The tables every name comes from."""

from __future__ import annotations

import re
from typing import Any

import pytest

import topend as te
from topend.assembly import TopEnd
from topend.errors import nearest
from topend.evaluation import evaluate
from topend.physics.wiring import CLOSING_PARTS
from topend.quantities import ALWAYS, INPUTS, OUTPUTS, STATUS, glossary, output
from topend.units import kind_of_unit

# the names of the design page's table, section 4
DESIGN = (
    "piston_travel",
    "deck_clearance",
    "squish_edge",
    "squish_inner",
    "squish_min",
    "squish_mean",
    "contact_min",
    "swept_volume",
    "crown_volume",
    "clearance_volume",
    "compression_ratio",
    "trapped_compression_ratio",
    "squish_area_ratio",
    "exhaust_opens",
    "exhaust_closes",
    "exhaust_duration",
    "transfer_opens",
    "transfer_closes",
    "transfer_duration",
    "blowdown",
    "mean_piston_speed",
    "squish_velocity_peak",
    "squish_velocity_angle",
    "tdc_acceleration",
)


def test_the_outputs_of_the_design_are_all_there() -> None:
    assert set(DESIGN) <= set(OUTPUTS)
    # "the top-land crevice is reported"
    assert set(ALWAYS) - set(DESIGN) == {"crevice_volume"}
    # and what the gap does at speed, which rests on wide defaults and is worked out when it is named
    assert {name for name in OUTPUTS if name not in ALWAYS} == {
        *(f"closure_{part}" for part in CLOSING_PARTS),
        *("closure_total", "closure_pulling", "running_clearance", "pulling_clearance", "contact_speed"),
        *("hot_gap_change", "hot_running_clearance", "skirt_clearance", "skirt_clearance_hot"),
        *("ring_gap_closing", "ring_gap_hot", "spigot_clearance", "spigot_clearance_hot"),
        *("ring_gap_worn", "ring_gap_ratio", "ring_peg_land"),
        *("o_ring_squeeze", "o_ring_squeeze_hot", "o_ring_fill", "o_ring_fill_hot", "o_ring_stretch", "o_ring_play"),
        *("o_ring_extrusion_gap", "groove_land", "head_land", "base_land", "base_land_angle"),
        *("o_ring_squeeze_tight", "o_ring_squeeze_tight_hot"),
        *("o_ring_squeeze_off_centre", "head_land_angle", "head_land_off_centre"),
        *("stud_preload", "stud_preload_hot", "stud_yield_use", "stud_yield_use_hot", "clamp_force", "clamp_force_hot"),
        *("gas_force", "gasket_seating_force", "gasket_sealing_force", "clamp_reserve", "clamp_reserve_hot"),
        *("thread_strip_force", "engagement_needed"),
        *("eccentricity_worst_hot", "eccentricity_likely_hot"),
        *("eccentricity_worst", "eccentricity_likely", "rotation_worst", "spigot_gap_least", "spigot_gap_most"),
        *("squish_edge_low", "squish_edge_high", "squish_min_off_centre", "recess_clearance", "recess_clearance_hot"),
        *("side_room", "side_room_hot", "pin_interference", "pin_margin", "pin_margin_hot"),
        *("exhaust_area", "transfer_area", "exhaust_time_area", "transfer_time_area", "blowdown_time_area", "blowdown_time_area_share"),
        *("inlet_opens", "inlet_closes", "inlet_duration", "inlet_area", "inlet_time_area"),
        *(f"auxiliary_{kind}_{what}" for kind in ("exhaust", "transfer") for what in ("opens", "duration")),
        *(f"chamber_{what}" for what in ("volume", "area", "surface", "depth", "centroid_radius", "centroid_height")),
        *("plug_clearance", "skirt_web_clearance", "exhaust_skirt_cover", "band_volume"),
        *("gap_at_radius", "band_volume_at_angle", "band_gap_at_angle", "squish_velocity_at_angle"),
        *(
            "peak_pressure",
            "peak_pressure_angle",
            "closed_work",
            "closed_mean_pressure",
            "heat_loss",
            "opening_pressure",
            "tdc_gas_pressure",
        ),
        *("end_gas_temperature", "knock_integral", "knock_margin", "stud_gas_load", "cranking_pressure", "cycle_step_error"),
        *(f"{kind}_area_at_angle" for kind in ("exhaust", "transfer", "inlet")),
    }


def test_names_and_units() -> None:
    for name, made in OUTPUTS.items():
        assert made.name == name
        assert re.fullmatch(r"[a-z]+(_[a-z]+)*", name)
        assert kind_of_unit(made.unit) is not None
        assert made.meaning.endswith(".")
        assert made.source
    for path, given in INPUTS.items():
        assert given.path == path
        assert kind_of_unit(given.unit) is not None
        assert given.meaning.endswith(".")


def test_every_stated_field_has_its_line_and_every_line_its_field(sample: Any) -> None:
    full = sample(
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm"), diameter="47.5 mm", compression_height="25 mm", top_land="3 mm"),
        assembled=te.AssembledVolume(volume="6.2 cc", base_thickness="0.5 mm", head_thickness="0.3 mm"),
    )
    for path, _ in full.stated():
        assert re.sub(r"\.\d+(?=\.)", ".N", path) in INPUTS, path

    # the other way: each line's last name is a field of some part
    fields: set[str] = set()

    def walk(cls: Any) -> None:
        fields.update(cls.model_fields)
        for child in cls.__subclasses__():
            walk(child)

    walk(te.Part)
    assert {path.rsplit(".", 1)[-1] for path in INPUTS} <= fields


def test_statuses() -> None:
    codes = [status.code for status in STATUS.values()]
    assert codes == sorted(set(codes))
    assert STATUS["ok"].code == 0
    assert max(codes) < 128  # a row's code is an int8


def test_glossary_has_them_all() -> None:
    rows = glossary()
    assert [row["name"] for row in rows] == [*OUTPUTS, *INPUTS]
    for row in rows:
        assert set(row) == {"name", "role", "unit", "meaning", "source"}


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("squish_egde", "no output is called 'squish_egde' in the outputs table; nearest: squish_edge, "),
        ("compresion_ratio", "no output is called 'compresion_ratio' in the outputs table; nearest: compression_ratio, "),
        ("banana", "no output is called 'banana' in the outputs table"),
    ],
)
def test_an_output_nobody_has(asked: str, told: str) -> None:
    for ask in (
        lambda: output(asked),
        lambda: evaluate(TopEnd(), [asked]),
        lambda: te.uncertainty(TopEnd(), [asked]),
        lambda: evaluate(TopEnd())[asked],
        lambda: getattr(evaluate(TopEnd()), asked),
    ):
        with pytest.raises(te.UnknownNameError) as caught:
            ask()
        assert str(caught.value).startswith(told)
        assert caught.value.unknown == asked
        assert len(caught.value.nearest) <= 3
        assert isinstance(caught.value, LookupError)
        assert isinstance(caught.value, AttributeError)


def test_nearest_names() -> None:
    assert nearest("stroke", INPUTS)[0] == "crank.stroke"
    assert nearest("crank.strok", INPUTS)[0] == "crank.stroke"
    assert nearest("zzz", INPUTS) == []
