"""Wire, strip, deck, dial, disc, gaskets and heads: hand sums, and every refusal word for word."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend.measure.deck import Deck, Dial
from topend.measure.gap import Strip, Wire, rocking, tilted_plane
from topend.measure.head import BandAngle
from topend.measure.length import GasketThickness, LengthOf
from topend.measure.timing import Timing, true_tdc

FOUR = {"readings": ["1.02 mm", "0.95 mm", "0.94 mm", "1.01 mm"], "clocks": ["0 deg", "90 deg", "180 deg", "270 deg"]}
WIRE = {**FOUR, "radius": "22.6 mm", "wire": "1.5 mm"}
DISC = {"port": "exhaust", "stop_before": "332 deg", "stop_after": "30 deg", "opens": ["88.5 deg"], "closes": ["273.5 deg"]}
SET = {"nuts_down": True, "gaskets_crushed": True}


def said(cls, **fields) -> str:
    with pytest.raises(te.PartError) as caught:
        cls(**fields)
    return str(caught.value)


# --- wire ------------------------------------------------------------------------------------------------------------


def test_four_wires() -> None:
    """Mean 0.98, tilt 0.050 toward -36.9 deg, least 0.93, residual 0 (computed)."""
    found = te.measure.gap(**WIRE)
    assert found.mean.value == pytest.approx(0.98, abs=1e-9)
    assert found.tilt.value == pytest.approx(0.050, abs=1e-9)
    assert found.direction == pytest.approx(-36.8699, abs=1e-4)
    assert found.least.value == pytest.approx(0.93, abs=1e-9)
    assert found.residual == pytest.approx(0.0, abs=1e-9)
    # a plane without residual still has the limits and the step of wire and micrometer
    assert found.mean.u > 0.017


@given(
    mean=st.floats(0.5e-3, 2e-3),
    tilt=st.floats(0.0, 0.2e-3),
    direction=st.floats(-math.pi, math.pi),
    clocks=st.lists(st.integers(0, 359), min_size=4, max_size=8, unique=True),
)
def test_a_plane_is_found_again(mean, tilt, direction, clocks) -> None:
    at = [math.radians(one) for one in clocks]
    if max(clocks) - min(clocks) < 60:
        return
    plane = tilted_plane(at, [mean + tilt * math.cos(one - direction) for one in at])
    assert plane.mean == pytest.approx(mean, abs=1e-9)
    assert plane.tilt == pytest.approx(tilt, abs=1e-9)
    assert plane.residual == pytest.approx(0.0, abs=1e-9)


def test_the_reading_belongs_to_a_radius() -> None:
    """1 deg over 5 mm is 0.087 mm."""
    here = te.measure.gap(**WIRE).mean
    moved = te.measure.gap(**WIRE, to_radius="17.6 mm", opening="1 deg").mean
    assert moved.value - here.value == pytest.approx(0.0873, abs=0.00005)
    assert (here.radius, moved.radius) == (22.6, 17.6)


def test_rocking_off_the_pin_axis() -> None:
    """Radius x clearance / skirt length: 27 x 0.06 / 50 = 0.0324 mm; somewhere between none and all of it is taken off."""
    assert 1e3 * rocking(radius=0.027, clearance=0.06e-3, skirt=0.050) == pytest.approx(0.0324)
    one_side = {
        "readings": ["1.00 mm"],
        "clocks": ["90 deg"],
        "radius": "27 mm",
        "wire": "1.5 mm",
        "both_sides": False,
        "pin_axis": "0 deg",
        "piston_clearance": "0.06 mm",
        "skirt_length": "50 mm",
    }
    off = te.measure.gap(**one_side).mean
    on = te.measure.gap(**{**one_side, "clocks": ["0 deg"]}).mean
    assert on.value == pytest.approx(1.0)
    assert off.value == pytest.approx(1.0 - 0.0324 / 2)
    assert off.u > on.u


def test_wire_crushed_a_degree_away_from_tdc() -> None:
    """It reads too much by 0.0037 mm in a 50 (stroke 39.3, rod 85) and 0.0052 in a 125 (54.5, 110): far less than wire scatters."""
    from topend.physics.slider_crank import piston_drop

    for stroke, rod, too_much in ((0.0393, 0.085, 0.0037), (0.0545, 0.110, 0.0052)):
        drop = piston_drop(throw=stroke / 2, rod_length=rod, offset=0.0, crank_angle=math.radians(1.0))
        assert 1e3 * drop == pytest.approx(too_much, abs=0.00005)


def test_wire_that_was_not_crushed_says_at_least() -> None:
    found = te.measure.gap(**{**WIRE, "wire": "1.02 mm"}).mean
    assert found.at_least
    assert found.text == "at least 0.911 mm"
    assert found.notes == (
        "2 of 4 wires came out as thick as before (1.02 mm): not crushed, so the gap there is at least that; use a thicker wire",
    )
    # a wire thinner than the gap
    thin = te.measure.gap(readings=["0.80 mm", "0.80 mm"], radius="22.6 mm", wire="0.80 mm").mean
    assert thin.at_least
    assert thin.notes[0].startswith("every wire came out as thick as before (0.80 mm)")


def test_wire_far_too_thick_is_noted() -> None:
    assert "1.3 to 2 times the gap is usual (common practice)" in te.measure.gap(**{**WIRE, "wire": "2.5 mm"}).mean.notes[0]


def test_two_wires_on_the_pin_axis() -> None:
    found = te.measure.gap(readings=["0.98 mm", "0.94 mm"], clocks=["0 deg", "180 deg"], radius="22.6 mm", wire="1.5 mm")
    assert found.mean.value == pytest.approx(0.96)
    assert (found.least, found.tilt, found.residual) == (None, None, None)
    assert any("a third narrows" in note for note in found.mean.notes)


def test_three_wires_leave_nothing_over() -> None:
    found = te.measure.gap(readings=["0.98 mm", "0.94 mm", "0.93 mm"], radius="22.6 mm", wire="1.5 mm")
    assert found.residual is None
    assert "three positions leave nothing over a plane, so the usual spread of wire is assumed; a fourth shows it" in found.mean.notes


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"readings": ["1.60 mm", "0.95 mm", "0.94 mm", "1.01 mm"]},
            "Wire: readings.0 is 1.60 mm, thicker than the wire was (1.5 mm): it was read somewhere else, or it was another wire",
        ),
        ({"clocks": ["0 deg"]}, "Wire: clocks has 1 angles for 4 readings; give one for each"),
        (
            {"to_radius": "20 mm"},
            "Wire: opening is missing: moving a reading needs the radius it is moved to and the angle at which the gap opens",
        ),
        (
            {"both_sides": False},
            "Wire: pin_axis is missing: wire on one side lets the piston rock; lay it on both sides, or on the pin axis, or "
            "give what it takes",
        ),
        (
            {"both_sides": False, "pin_axis": "0 deg"},
            "Wire: piston_clearance is missing: wire on one side lets the piston rock; lay it on both sides, or on the pin "
            "axis, or give what "
            "it takes",
        ),
    ],
)
def test_wires_that_are_refused(changes, message) -> None:
    assert said(Wire, **{**WIRE, **changes}) == message


def test_clocks_on_one_line_are_refused() -> None:
    with pytest.raises(te.PartError) as caught:
        te.measure.gap(**{**WIRE, "clocks": ["0 deg", "180 deg", "0 deg", "180 deg"]})
    assert str(caught.value) == "gap: clocks must hold three different positions at least for a tilt; two lie on one line"


def test_clocks_are_hours_or_angles_from_twelve() -> None:
    """Common practice: 12 o'clock toward the exhaust, on clockwise seen from above; an hour is 30 degrees."""
    by_angle = te.measure.gap(**WIRE)
    for clocks in ([12, 3, 6, 9], ["12 o'clock", "3 o'clock", "6 o'clock", "9 o'clock"], [12, "90 deg", 6, "270 deg"]):
        by_hour = te.measure.gap(**{**WIRE, "clocks": clocks})
        assert by_hour.direction == pytest.approx(by_angle.direction)
        assert by_hour.mean.value == by_angle.mean.value
    assert by_angle.toward == "11 o'clock"
    assert "uneven: the gap is greatest toward 11 o'clock, by 0.05 mm more than its mean" in by_angle.mean.notes
    even = te.measure.gap(readings=["0.98 mm"] * 4, radius="22.6 mm", wire="1.5 mm")
    assert not [note for note in even.mean.notes if "uneven" in note]
    assert te.measure.gap(readings=["0.98 mm", "0.94 mm"], radius="22.6 mm", wire="1.5 mm").toward is None
    on_axis = Wire(readings=["1.00 mm"], clocks=[3], radius="27 mm", wire="1.5 mm", both_sides=False, pin_axis=9)
    assert on_axis.results()[0].value == pytest.approx(1.0)
    for wrong in (0, 13, -3):
        assert said(Wire, **{**WIRE, "clocks": [12, 3, 6, wrong]}) == (
            f'Wire: clocks must be an hour from 1 to 12, with 12 toward the exhaust, or an angle, such as "90 deg"; got {wrong}'
        )
    assert "clocks.0 needs an angle" in said(Wire, **{**WIRE, "clocks": [True, 3, 6, 9]})


def test_strip_is_an_interval() -> None:
    made = te.measure.strip(low="0.89 mm", high="1.02 mm", radius="22.6 mm")
    assert made.u == pytest.approx(0.065 / math.sqrt(3))
    assert said(Strip, low="1.02 mm", high="0.89 mm", radius="22.6 mm") == (
        "Strip: high (0.89 mm) is not more than low (1.02 mm): in the wrong order"
    )


# --- deck, dial, gaskets, head ---------------------------------------------------------------------------------------


def test_deck() -> None:
    below = te.measure.deck(crown="below", readings=["1.64 mm", "1.66 mm", "1.65 mm"], **SET)
    above = te.measure.deck(crown="above", readings=["1.64 mm", "1.66 mm", "1.65 mm"], **SET)
    assert (below.value, above.value) == (pytest.approx(1.65), pytest.approx(-1.65))
    soft = te.measure.deck(crown="below", readings=["1.64 mm"], nuts_down=True, gaskets_crushed=False, gaskets_may_crush="0.08 mm")
    assert soft.value == pytest.approx(1.60)
    assert said(Deck, crown="below", readings=["1.64 mm"], nuts_down=False, gaskets_crushed=True) == (
        "Deck: gaskets_may_crush is missing: with nuts not down or gaskets not crushed the barrel stands too high. Read it with "
        "nuts down, or "
        "say by how much the stack may still crush"
    )
    one = te.measure.deck(crown="below", readings=["1.64 mm"], **SET)
    assert one.notes == ("deck: one reading shows no spread; one that is usual for it is assumed. Read it three times",)


def test_dial() -> None:
    made = te.measure.dial(touching=["4.12 mm", "4.12 mm", "4.12 mm"], at_tdc=["3.24 mm", "3.24 mm", "3.24 mm"], tilt="5 deg ± 1 deg")
    assert made.value == pytest.approx(0.88 * math.cos(math.radians(5)), abs=1e-9)
    assert said(Dial, touching=["3.24 mm"], at_tdc=["4.12 mm"]) == (
        "Dial: at_tdc reads 4.120 mm, not less than 3.240 mm with the piston against the head: in the wrong order, or the dial "
        "counts the other "
        "way; write it so that it grows toward the head"
    )


def test_gaskets() -> None:
    crushed = te.measure.gasket(of="base_gaskets.0", before=["0.50 mm", "0.50 mm", "0.50 mm"], after=["0.45 mm", "0.45 mm", "0.45 mm"])
    assert crushed.of == "base_gaskets.0.fitted_thickness"
    assert crushed.notes == ("crushed by 10.0 %",)
    assert te.measure.gasket(of="base_gaskets.0", before=["0.50 mm"]).of == "base_gaskets.0.thickness"
    assert said(GasketThickness, of="base_gaskets.0", before=["0.45 mm"], after=["0.50 mm"]) == (
        "GasketThickness: after is 0.500 mm, more than the 0.450 mm before crushing: in the wrong order, or two gaskets"
    )
    assert said(GasketThickness, of="base_gaskets.0") == (
        "GasketThickness: after is missing: give the points read after crushing, or those before it"
    )


def test_band_angle_and_offset() -> None:
    made = te.measure.band_angle(outer_radius="22.6 mm", inner_radius="17.6 mm", outer_depth=["1.00 mm"], inner_depth=["1.0873 mm"])
    assert made.value == pytest.approx(1.0, abs=0.0005)
    assert said(BandAngle, outer_radius="17 mm", inner_radius="22 mm", outer_depth=["1 mm"], inner_depth=["1 mm"]) == (
        "BandAngle: inner_radius (22 mm) is not less than outer_radius (17 mm): in the wrong order"
    )
    tilted = te.measure.band_offset(band="recessed", readings=["0.55 mm", "0.50 mm", "0.45 mm", "0.50 mm"])
    assert tilted.value == pytest.approx(0.50)
    assert tilted.notes == ("not parallel to the face: 0.050 mm more toward 12 o'clock",)


def test_a_length_goes_to_a_path_that_is_a_length() -> None:
    assert said(LengthOf, of="cylinder.boer", readings=["47.6 mm"]) == (
        "LengthOf: of is 'cylinder.boer', and no input is called so; nearest: cylinder.bore, cylinder.bore_wear, cylinder.bore_chamfer"
    )
    assert said(LengthOf, of="head.chamber_volume", readings=["47.6 mm"]) == (
        "LengthOf: of is 'head.chamber_volume', which is in cc; this reading is in mm"
    )


# --- the degree disc -------------------------------------------------------------------------------------------------


@given(tdc=st.floats(0.0, 359.0), depth=st.floats(5.0, 80.0))
def test_tdc_is_the_middle_of_two_contacts_whatever_the_stop(tdc, depth) -> None:
    """Common practice."""
    found = math.degrees(true_tdc(before=math.radians((tdc - depth) % 360), after=math.radians((tdc + depth) % 360)))
    assert min(abs(found - tdc), 360 - abs(found - tdc)) < 1e-9


def test_opening_closing_and_duration() -> None:
    opens, closes, duration = te.measure.timing(**DISC)
    assert (opens.value, closes.value, duration.value) == (pytest.approx(87.5), pytest.approx(87.5), pytest.approx(185.0))
    # an error of TDC moves both and leaves the duration
    shifted = te.measure.timing(**{**DISC, "stop_before": "333 deg", "stop_after": "31 deg"})
    assert shifted[2].value == pytest.approx(185.0)
    assert shifted[0].value == pytest.approx(86.5)
    assert not any(term.shared for term in duration.budget)
    assert duration.u < math.hypot(opens.u, closes.u) + 1e-12


def test_minutes_are_not_decimals() -> None:
    minutes = te.measure.timing(**{**DISC, "opens": ["88 deg 30 min"]})[0]
    assert minutes.value == pytest.approx(te.measure.timing(**DISC)[0].value)
    message = said(Timing, **{**DISC, "opens": ["88 deg 75 min"]})
    assert message.startswith("Timing: opens.0 needs an angle, such as \"9 deg\"; got '88 deg 75 min'. Degrees and minutes are written")


def test_wedge_brings_the_edge_back() -> None:
    """E125 (bore 54, stroke 54.5, rod 110): 30 mm down is 88.5772922668 deg after TDC (computed); a wedge of 0.20 mm grips where
    the crown is 0.20 mm lower."""
    from topend.physics.slider_crank import crank_angles_from_drop

    at = {"throw": 0.02725, "rod_length": 0.110, "offset": 0.0}
    grips = math.degrees(float(crank_angles_from_drop(drop=0.0302, **at)[0]))
    fields = {**DISC, "stop_before": "330 deg", "stop_after": "30 deg", "opens": [f"{grips!r} deg"], "closes": [f"{360 - grips!r} deg"]}
    opens, _, duration = te.measure.timing(**fields, wedge="0.20 mm", stroke="54.5 mm", rod_length="110 mm")
    assert opens.value == pytest.approx(88.5772922668, abs=1e-6)
    assert duration.value == pytest.approx(182.845415466, abs=1e-6)
    assert said(Timing, **DISC, wedge="0.20 mm") == (
        "Timing: stroke is missing: where a wedge grips the port is already open; stroke (and rod) bring it back to the edge"
    )


def test_disc_readings_in_the_wrong_order() -> None:
    assert said(Timing, **{**DISC, "stop_before": "30 deg", "stop_after": "332 deg"}) == (
        "Timing: stop_after (332 deg) lies more than half a turn after stop_before (30 deg): in the wrong order, or the disc "
        "counts against the "
        "crank"
    )
    assert said(Timing, **{**DISC, "opens": ["273.5 deg"], "closes": ["88.5 deg"]}) == (
        "Timing: opens.0 is 273.5 deg, 272.5 deg after TDC: opens and closes in the wrong order, or the disc counts backwards"
    )


def test_unequal_ends_are_an_error_of_tdc_where_nothing_is_offset() -> None:
    opens, *_ = te.measure.timing(**{**DISC, "opens": ["92.5 deg"]})
    assert "opening and closing differ by 4.0 deg: without an offset of cylinder or pin that is an error of TDC of 2.0 deg" in opens.notes
