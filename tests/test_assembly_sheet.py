"""The assembly sheet: what to read between which limits, where a build stops, and what is likely wrong.

Wrong builds are made on purpose (a gasket too many, one left out, a head that is cocked) and read as an instrument would read them;
the sheet must stop there and name what was done. Standing of the causes: common practice.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

import topend as te
from topend.measure import Deck, Reading, Timing, Wire
from topend.measure.clocks import CLOCKS, CLOCKS_MEANT
from topend.report import BenchCard, reading_sheet
from topend.report.assembly_sheet import AssemblySheet
from topend.report.expected import APART_MM, expected_readings
from topend.report.html import sheet_page
from topend.report.tightening import crosswise

Sample = Callable[..., te.TopEnd]


def build(sample: Sample, **changes: object) -> te.TopEnd:
    """The sample with gaskets that were measured after crushing, so that what can be off is known."""
    fitted = {
        "base_gaskets": [te.Gasket(role="base", name="base", thickness="0.50 mm", fitted_thickness="0.45 mm ± 0.01 mm")],
        "head_gaskets": [te.Gasket(role="head", name="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.01 mm", opening="48.5 mm")],
        "deck": te.DeckReading(clearance="1.60 mm ± 0.03 mm", base_thickness="0.45 mm"),
    }
    return sample(**{**fitted, **changes})


def wire(top: te.TopEnd, *more: float, radius: float = 22.6) -> Wire:
    """Wire at four clocks as that build reads, and what is added to each [mm]."""
    reads = te.evaluate(top).gap_at(f"{radius} mm").m_as("mm")
    shown = [f"{reads + extra:.3f} mm" for extra in (more or (0.0, 0.0, 0.0, 0.0))]
    return Wire(readings=shown, radius=f"{radius} mm", wire=f"{max(2.0, 1.4 * reads):.1f} mm")


def deck(top: te.TopEnd, *more: float) -> Deck:
    depth = te.evaluate(top).deck_clearance.m_as("mm")
    return Deck(crown="below", readings=[f"{depth + extra:.3f} mm" for extra in (more or (0.0, 0.0))], nuts_down=True, gaskets_crushed=True)


def stopped(top: te.TopEnd, *readings: Reading) -> tuple[int | None, tuple[str, ...], tuple[str, ...]]:
    """Number of the step that stops, what it tells, and the causes it names."""
    sheet = AssemblySheet(BenchCard(top), list(readings))
    found = next((one for one in sheet.stood if one.state == "stop"), None)
    return (None, (), ()) if found is None else (found.step.number, found.told, found.causes)


# --- what is expected ------------------------------------------------------------------------------------------------


def test_expected_readings_are_those_that_verify_would_pass(sample: Sample) -> None:
    """Just inside each limit `te.verify` agrees with one such reading, just outside it does not."""
    top = build(sample)
    expected = {one.of: one for one in expected_readings(BenchCard(top))}
    gap = expected["gap_at"]
    for value, agrees in ((gap.low + 2e-3, True), (gap.low - 2e-3, False), (gap.high - 2e-3, True), (gap.high + 2e-3, False)):
        one = Wire(readings=[f"{value:.4f} mm"], radius="22.6 mm", wire="1.4 mm")
        assert te.verify(top, [one]).compared[0].agrees is agrees
    opens = expected["exhaust_opens"]
    for value, agrees in ((opens.high - 0.01, True), (opens.high + 0.01, False)):
        disc = Timing(port="exhaust", stop_before="330 deg", stop_after="30 deg", opens=[f"{value} deg"], closes=["273.5 deg"])
        assert next(one for one in te.verify(top, [disc]).compared if one.label == "exhaust_opens").agrees is agrees


def test_limits_are_rounded_inward_and_say_their_side(sample: Sample) -> None:
    expected = {one.of: one for one in expected_readings(BenchCard(build(sample)))}
    low, high = expected["gap_at"].limits_text.removesuffix(" mm").split(" to ")
    assert expected["gap_at"].low <= float(low) < expected["gap_at"].low + 0.01
    assert expected["gap_at"].high - 0.01 < float(high) <= expected["gap_at"].high
    assert expected["deck_clearance"].limits_text.endswith("mm below the deck")
    above = BenchCard(te.TopEnd(deck=te.DeckReading(clearance="-0.30 mm ± 0.02 mm", base_thickness="0.30 mm")))
    assert expected_readings(above)[0].limits_text == "0.25 to 0.35 mm above the deck"
    level = BenchCard(te.TopEnd(deck=te.DeckReading(clearance="0.01 mm ± 0.02 mm", base_thickness="0.30 mm")))
    assert expected_readings(level)[0].limits_text == "0.04 mm above the deck to 0.06 mm below the deck"


def test_no_reading_passes_in_inches_that_stops_in_millimetres(sample: Sample) -> None:
    # an inch is 25.4 mm exactly (ISO 80000-3:2006, annex C)
    wire = next(one for one in expected_readings(BenchCard(sample(running=None))) if one.of == "gap_at")
    ends = [float(one) * 25.4 for one in wire.inches_text.removesuffix(" in").split(" to ")]
    assert wire.ends[0] <= ends[0] < ends[1] <= wire.ends[1]
    # 0.0001 in, of the last digit, at either end
    assert ends == pytest.approx(wire.ends, abs=0.0026)
    near = replace(wire, of="deck_clearance", low=-0.0452, high=0.0552)
    assert (near.ends, near.inches_text) == (pytest.approx((-0.04, 0.05)), "0.0015 in above to 0.0019 in below")


@pytest.mark.parametrize("volume", [20.0, 36.5, 80.0, 240.0])
def test_a_chamber_of_any_size_is_filled_from_a_burette_that_holds_it(sample: Sample, volume: float) -> None:
    """A larger burette reads less finely (ISO 385: 0.1 ml in 50 ml and 0.2 ml in 100 ml, class B), and the largest is filled again."""
    card = BenchCard(sample(running=None).replace({"head.chamber_volume": f"{volume} cc"}))
    (found,) = (one for one in expected_readings(card) if one.of == "clearance_volume")
    assert found.figure is not None
    assert found.low < found.figure.value < found.high
    half = (found.high - found.low) / 2.0
    least = {20.0: 0.10, 36.5: 0.10, 80.0: 0.20, 240.0: 0.20}[volume]
    assert half > least
    assert found.figure.value + half == pytest.approx(found.high)


def test_gaskets_are_made_ready_as_a_kit_s_are(sample: Sample) -> None:
    """Common practice: coated gaskets stay dry, copper is soft. The words are those of a kit, each once."""
    stack = [te.Gasket(role="head", thickness="0.30 mm", material="copper", surface="bare")] * 2
    base = [te.Gasket(role="base", name="paper, coated", thickness="0.50 mm", surface="coated")]
    sheet = AssemblySheet(BenchCard(sample(running=None, head_gaskets=stack, base_gaskets=base)))
    ready = list(sheet.steps[0].do[1 + len(base) + len(stack) :])
    assert ready == [
        "paper, coated: it is coated: fit it dry as it is, wash nothing off, put nothing on",
        "head gasket: it is bare: clean both sides and both faces to bare, without grease",
        "head gasket: see that it is soft; one that was used or worked is annealed first",
    ]


def test_a_wire_that_cannot_be_had_says_what_it_needs() -> None:
    card = BenchCard(te.TopEnd(deck=te.DeckReading(clearance="0.70 mm"), head=te.FlushHead()))
    (gap,) = [one for one in expected_readings(card) if one.of == "gap_at"]
    assert gap.figure is None
    assert "head.band.angle" in gap.needs
    assert "Gap by wire: needs " in AssemblySheet(card).text


# --- where it stops --------------------------------------------------------------------------------------------------


def test_a_good_build_goes_on(sample: Sample) -> None:
    top = build(sample)
    sheet = AssemblySheet(BenchCard(top), [deck(top), wire(top), wire(top, -0.01, 0.01, 0.0, 0.01)])
    assert [one.state for one in sheet.stood] == [
        *("to do", "to do", "go on", "to do", "go on"),
        *("to do", "to do", "to read", "to do", "go on"),
    ]
    assert sheet.stopped_at is None
    assert "THE READINGS DO NOT STOP IT" in sheet.text


@pytest.mark.parametrize(
    ("stack", "cause"),
    [
        ({"base_gaskets": 2}, "one base gasket of 0.45 mm too many (adds 0.45)"),
        ({"base_gaskets": 0}, "a base gasket of 0.45 mm left out (takes 0.45)"),
        ({"head_gaskets": 2}, "one head gasket of 0.30 mm too many (adds 0.30)"),
        ({"head_gaskets": 0}, "a head gasket of 0.30 mm left out (takes 0.30)"),
    ],
)
def test_a_wrong_stack_stops_at_the_wire_and_is_named_first(sample: Sample, stack: dict[str, int], cause: str) -> None:
    top = build(sample)
    wrong = top.replace({name: [getattr(top, name)[0]] * count for name, count in stack.items()})
    number, told, causes = stopped(top, wire(wrong))
    assert number == 5
    assert causes[0] == cause
    assert "Gap by wire: " in told[0]
    assert told[0].endswith("mm")


def test_a_gasket_that_was_not_crushed_is_named(sample: Sample) -> None:
    # fibre that crushes by 0.20 mm, so that wire can see it
    soft = [te.Gasket(role="base", thickness="0.70 mm", fitted_thickness="0.50 mm ± 0.01 mm", material="fibre")]
    top = build(sample, base_gaskets=soft, deck=te.DeckReading(clearance="1.60 mm ± 0.03 mm", base_thickness="0.50 mm"))
    loose = top.replace({"base_gaskets": [soft[0].replace(fitted_thickness="0.70 mm")]})
    number, _, causes = stopped(top, wire(loose))
    assert number == 5
    assert "gaskets not crushed: nuts not down to their torque (adds 0.20)" in causes


def test_a_dome_read_at_its_centre_is_named(sample: Sample) -> None:
    """The deck on the card was read on the dome, 2.2 mm higher than the edge: the wire then has 2.2 mm more than was planned."""
    top = build(sample)
    truly = top.replace({"deck": top.deck.replace(at="centre")})  # type: ignore[union-attr]
    number, _, causes = stopped(top, wire(truly))
    assert number == 5
    assert causes[0] == "the deck on the card was read at the crown's centre, not at its edge (adds 2.20)"
    # and at the deck itself, which comes first
    number, _, causes = stopped(top, deck(truly))
    assert number == 3
    assert causes[0].startswith("the deck on the card was read at the crown's centre")


def test_a_cocked_head_stops_it_though_the_mean_is_good(sample: Sample) -> None:
    top = build(sample)
    number, told, causes = stopped(top, wire(top, 0.04, 0.0, -0.04, 0.0))
    assert number == 5
    assert told == (f"Gap by wire: opposite sides differ by 0.08 mm, more at 12 o'clock, where {APART_MM} mm is the scatter of wire",)
    assert causes == ("cocked head: nuts drawn down on one side first, or something under one side",)
    assert stopped(top, wire(top, 0.033, 0.0, -0.033, 0.0))[0] is None


def test_one_side_outside_stops_it(sample: Sample) -> None:
    top = build(sample)
    expected = next(one for one in expected_readings(BenchCard(top)) if one.of == "gap_at")
    assert expected.figure is not None
    out = expected.high - expected.figure.value + 0.01
    number, told, _ = stopped(top, wire(top, out, out - 0.05, out - 0.06, out - 0.05))
    assert number == 5
    assert any("on one side" in one or "more than" in one for one in told)


def test_under_the_least_gap_it_stops_whatever_was_planned(sample: Sample) -> None:
    thin = build(sample, deck=te.DeckReading(clearance="1.32 mm ± 0.03 mm", base_thickness="0.45 mm"))
    number, told, causes = stopped(thin, wire(thin))
    assert number == 5
    assert told[-1].endswith("is under 0.6 mm, the least that is set (common practice)")
    assert causes == ("too little gap, whatever was planned: a thicker gasket, or another head",)


def test_wire_that_was_not_crushed_stops_it(sample: Sample) -> None:
    number, told, causes = stopped(build(sample), Wire(readings=["0.80 mm"] * 4, radius="22.6 mm", wire="0.80 mm"))
    assert number == 5
    assert told[0].startswith("Gap by wire: it came out uncrushed, so the gap is at least 0.")
    assert causes[0] == "wire not crushed: the gap is more than the wire was thick"


def test_nothing_is_judged_after_a_stop(sample: Sample) -> None:
    top = build(sample)
    sheet = AssemblySheet(BenchCard(top), [deck(top, 0.3, 0.3), wire(top)])
    assert [one.state for one in sheet.stood][2:] == ["stop", *["not before that"] * 7]
    assert "  STOP at step 3, read the deck" in sheet.text.splitlines()


def test_wire_at_another_radius_is_judged_there(sample: Sample) -> None:
    top = build(sample)
    assert stopped(top, wire(top, radius=18.0))[0] is None
    number, _, _ = stopped(top, wire(top, 0.2, 0.2, 0.2, 0.2, radius=18.0))
    assert number == 5
    sheet = AssemblySheet(BenchCard(top), [Wire(readings=["0.9 mm"], radius="10 mm", wire="1.4 mm")])
    assert sheet.stood[4].told == ("what a wire should read at radius 10 mm is not known on this card",)


def test_wrong_ports_stop_the_finished_build(sample: Sample) -> None:
    top = build(sample)
    opens = te.evaluate(top).exhaust_opens.m_as("deg") - 3.0
    disc = Timing(port="exhaust", stop_before="330 deg", stop_after="30 deg", opens=[f"{opens} deg"], closes=[f"{360 - opens} deg"])
    number, told, causes = stopped(top, deck(top), wire(top), disc)
    assert number == 8
    assert told[0].startswith("Exhaust: opens, after TDC: ")
    assert "another barrel, or ports that were worked on" in causes


# --- the sheet -------------------------------------------------------------------------------------------------------


def test_text_and_json_have_the_same_loop(sample: Sample) -> None:
    sheet = AssemblySheet(BenchCard(build(sample), title="club build", file="club.toml"))
    told = json.loads(sheet.json())
    assert [one["title"] for one in told["steps"]] == [
        *("Make ready", "Dry fit", "Read the deck", "Choose", "Wire"),
        *("Compare", "Close up", "Read the finished build", "First heat cycle", "Wire again"),
    ]
    text = sheet.text
    assert text.splitlines()[:2] == ["ASSEMBLY SHEET: club build", "from club.toml"]
    places = [text.index(f"\n{one['number']}. {one['title'].upper()}\n") for one in told["steps"]]
    assert places == sorted(places)
    assert max(len(line) for line in text.splitlines()) <= 80
    gap = told["steps"][4]["reads"][0]
    assert gap["blanks"] == ["12 o'clock", "3 o'clock", "6 o'clock", "9 o'clock"]
    assert gap["radius"] == 22.6
    assert told["stood"] == []
    assert told["stopped_at"] is None
    assert "uneven" in told["causes"]["gap_at"]
    # each cause that the issue asks for has its place on the blank sheet
    for words in ("gaskets not crushed", "too many", "cocked head", "crown's centre"):
        assert words in " ".join(text.split())
    assert told["cautions"]


# --- a second wire, where the gap is least ---------------------------------------------------------------------------


def steep(sample: Sample, **changes: Any) -> te.TopEnd:
    """A band too shallow for its dome: 1.20 mm at its outer edge, and less all the way in."""
    return build(sample, **changes).replace({"head.band.angle": "4 deg ± 0.2 deg", "deck.clearance": "2.00 mm ± 0.03 mm"})


def test_where_the_gap_is_least_further_in_the_sheet_asks_for_a_second_wire(sample: Sample) -> None:
    """Beside an independent route: the gap of a cone over a sphere, written out."""
    top = steep(sample)
    sheet = AssemblySheet(BenchCard(top))
    for number in (5, 10):
        usual, least = sheet.steps[number - 1].reads
        assert (usual.key, usual.radius, least.key, least.radius) == ("gap_at", 22.6, "least_gap_at", 16.5)
        assert least.blanks == usual.blanks == CLOCKS
        assert least.figure is not None
        # the dome's rise over its edge at 16.5 mm, on a sphere through 0 at 23.8 mm and 2.2 mm at the axis
        sphere = (23.8**2 + 2.2**2) / (2.0 * 2.2)
        rise = math.sqrt(sphere**2 - 16.5**2) - (sphere - 2.2)
        edge = te.evaluate(top).shown("squish_edge")
        assert least.figure.value == pytest.approx(edge + (23.6 - 16.5) * math.tan(math.radians(4.0)) - rise, abs=1e-6)
        assert least.low < least.figure.value < least.high < usual.low
    assert "read it beside the line that the edge leaves in the wire" in least.how
    assert "7.3 mm from the end that touched the bore" in least.how
    text = sheet.text
    assert text.count("Gap by wire, where it is least: expected") == 2
    told = sheet.to_dict()
    assert [one["at"] for one in told["steps"][4]["reads"]] == ["usual", "least"]
    assert set(told["causes"]) >= {"gap_at", "least_gap_at"}
    # a band that follows the crown is read once
    assert [one.key for one in AssemblySheet(BenchCard(build(sample))).steps[4].reads] == ["gap_at"]


def test_its_limits_are_those_that_verify_would_pass(sample: Sample) -> None:
    top = steep(sample)
    least = AssemblySheet(BenchCard(top)).expected["least_gap_at"]
    assert least.figure is not None
    for end, inside in ((least.low, 1e-4), (least.high, -1e-4)):
        for step, agrees in ((inside, True), (-inside, False)):
            thick = f"{1.6 * least.figure.value} mm"
            one = te.measure.gap(readings=[f"{end + step} mm"], radius=f"{least.radius} mm", wire=thick).mean
            assert te.verify(top, [one]).compared[0].agrees is agrees


def test_both_wires_are_judged_in_their_fit(sample: Sample) -> None:
    top = steep(sample)
    first, second = wire(top), wire(top, radius=16.5)
    read = deck(top)
    told = AssemblySheet(BenchCard(top), [read, first, second, first]).stood
    assert [told[at].state for at in (2, 4, 9)] == ["go on", "go on", "to read"]
    assert len(told[4].told) == 2
    assert told[9].told[-1] == "still to read: Gap by wire, where it is least"
    # one alone is not the whole of the step, and the same place again is another fit
    assert AssemblySheet(BenchCard(top), [read, first]).stood[4].state == "to read"
    assert AssemblySheet(BenchCard(top), [read, second, first, second, first]).stood[9].state == "go on"
    # a dome that is higher than stated shows at the second alone
    high = top.replace({"piston.crown.rise": "2.6 mm"})
    number, said, causes = stopped(top, read, wire(high), wire(high, radius=16.5))
    assert number == 5
    assert said[0].startswith("Gap by wire: ")
    assert "inside" in said[0]
    assert said[1].startswith("Gap by wire, where it is least: ")
    # a mark stands before what stops it alone
    text = AssemblySheet(BenchCard(top), [read, wire(high), wire(high, radius=16.5)]).text
    assert "\n  Gap by wire: " in text
    assert "\n  ! Gap by wire, where it is least: " in text
    assert "where the usual wire agrees: a crown that is higher than on the card, carbon on it, or a band that is shallower" in causes


def test_what_one_wire_is_good_for_is_said(sample: Sample) -> None:
    """1.3 to 2 times the gap: one wire serves two places where that of the wider is no more than that of the narrower."""
    apart = AssemblySheet(BenchCard(steep(sample))).steps[4].do[1]
    assert "One wire does not crush well at both places" in apart
    closer = build(sample).replace({"head.band.angle": "7 deg", "deck.clearance": "2.3 mm ± 0.03 mm"})
    near = AssemblySheet(BenchCard(closer)).steps[4].do[1]
    low, high = re.search(r"wire ([\d.]+) to ([\d.]+) mm thick is read at both places", near).groups()  # type: ignore[union-attr]
    assert float(low) <= float(high)


# --- torque ----------------------------------------------------------------------------------------------------------

STUDS: dict[str, Any] = {"thread_diameter": "7 mm", "root": "case", "torque": "14 N·m ± 1 N·m", "lubrication": "oiled"}


def tightened(sample: Sample, **changes: Any) -> AssemblySheet:
    pattern = te.StudPattern(count=4, circle_diameter="62 mm", diameter="7 mm")
    top = build(sample)
    assert top.cylinder is not None
    return AssemblySheet(
        BenchCard(top.replace({"studs": te.StudSet(**{**STUDS, **changes}), "cylinder": top.cylinder.replace(studs=pattern)}))
    )


def test_a_torque_that_is_stated_stands_where_nuts_are_drawn_up(sample: Sample) -> None:
    sheet = tightened(sample, source="the shop's book, page 4")
    lines = {step.title: " ".join(step.do) for step in sheet.steps}
    for title in ("Dry fit", "Wire", "Close up", "First heat cycle"):
        assert "14 N·m ± 1 N·m" in lines[title], title
    assert "in three rounds: about 5, 9, then 14 N·m ± 1 N·m (so many rounds are common practice)" in lines["Close up"]
    assert "threads and seats of the nuts oiled" in lines["Close up"]
    assert "Order of the 4 nuts, numbered clockwise from the first past 12 o'clock: 1, 3, 2, 4." in lines["Close up"]
    assert "The torque is from: the shop's book, page 4. It is no advice: " in lines["Close up"]
    assert "in the same order, in one round" in lines["First heat cycle"]
    assert sheet.to_dict()["torque"] == {
        "value": 14.0,
        "limits": [13.0, 15.0],
        "unit": "N·m",
        "rounds": {"values": [5.0, 9.0, 14.0], "unit": "N·m"},
        "order": [1, 3, 2, 4],
        "lubrication": "oiled",
        "source": "the shop's book, page 4",
    }
    assert "14 N·m ± 1 N·m" in reading_sheet(sheet.card.top)
    # a job that does not say where it has it from says that
    assert "The torque is from: the job, which does not say from where it has it." in " ".join(tightened(sample).text.split())


def test_without_a_torque_it_is_said_and_the_engines_own_data_named(sample: Sample) -> None:
    for sheet in (AssemblySheet(BenchCard(build(sample))), tightened(sample, torque=None)):
        text = " ".join(sheet.text.split())
        assert "This job states no torque. Take it from the engine's own data" in text
        assert "Nuts again to the same torque, ______ N·m" in text
        assert sheet.to_dict()["torque"] is None
    # the barrel of studs that stand in it has nuts of its own
    own = " ".join(tightened(sample, root="cylinder").text.split())
    assert "the barrel's own nuts crosswise to their torque, by the engine's data" in own


def test_where_nobody_said_what_holds_the_barrel_both_are_told(sample: Sample) -> None:
    unsaid = " ".join(AssemblySheet(BenchCard(build(sample))).text.split())
    assert "on spacers in place of the head; nuts of its own, where the barrel has them, to theirs." in unsaid
    assert "on spacers in place of the head. [ ]" in " ".join(tightened(sample, root="case").text.split())


@pytest.mark.parametrize(
    ("seal", "told"),
    [
        ("gasket", "a gasket gone hard"),
        ("o-ring", "an O-ring out of its groove"),
        ("both", "a gasket gone hard, or an O-ring out of its groove"),
    ],
)
def test_a_head_that_is_not_down_goes_by_how_it_seals(seal: str, told: str) -> None:
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="54 mm"),
        piston=te.Piston(crown=te.FlatCrown()),
        head=te.FlushHead(
            seal=seal,  # type: ignore[arg-type]
            recess_offset="0.0 mm",
            band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="0 deg"),
        ),
        head_gaskets=[] if seal == "o-ring" else [te.Gasket(role="head", thickness="0.50 mm")],
        deck=te.DeckReading(clearance="0.95 mm"),
    )
    causes = [one.text for one in AssemblySheet(BenchCard(top)).causes]
    assert f"head not down on its face: a chip, dirt or an old gasket under it, or {told}" in causes


@pytest.mark.parametrize("count", range(2, 13))
def test_nuts_are_drawn_up_crosswise(count: int) -> None:
    """Common practice: every nut once, and of an even number the second one opposite the first."""
    order = crosswise(count)
    assert sorted(order) == list(range(1, count + 1))
    assert order[0] == 1
    if count % 2 == 0:
        assert (order[1] - order[0]) % count == count // 2
    # a star over the common eight, as flanges are drawn up
    if count == 8:
        assert order == (1, 5, 3, 7, 2, 6, 4, 8)


# --- places and ways in words ----------------------------------------------------------------------------------------


def test_clock_positions_are_the_one_name_for_places_and_said_once(sample: Sample) -> None:
    card = BenchCard(build(sample))
    for text in (AssemblySheet(card).text, card.page(), sheet_page(AssemblySheet(card)), reading_sheet(), reading_sheet(card.top)):
        told = " ".join(re.sub(r"<style>.*</style>", "", text, flags=re.DOTALL).replace("&#39;", "'").split())
        assert told.count(CLOCKS_MEANT) == 1
        assert not re.search(r"\b(front|rear) ____", told)
        for hour in CLOCKS:
            assert hour in told


def test_of_the_deck_it_is_lower_and_higher(sample: Sample) -> None:
    """Above the deck more clearance is less height: more and less would mean two things."""
    thick = {"head_gaskets.0.thickness": "1.50 mm", "head_gaskets.0.fitted_thickness": "1.50 mm"}
    proud = build(sample).replace({"deck.clearance": "-0.30 mm ± 0.03 mm", "head.recess_offset": "0 mm", **thick})
    sheet = AssemblySheet(BenchCard(proud), [Deck(crown="above", readings=["0.75 mm", "0.76 mm"], nuts_down=True, gaskets_crushed=True)])
    assert re.match(r"Deck to crown edge: 0.7[56] mm above the deck, 0.4[56] mm higher than 0.30 mm above the deck", sheet.stood[2].told[0])
    ways = [said for said, _ in AssemblySheet(BenchCard(proud)).causes_by_way(sheet.expected["deck_clearance"])]
    assert ways == ["if lower", "if higher", "if uneven"]
