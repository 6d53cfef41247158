"""The bench card and the fit's page: the sample of the design page, section 7, and what least data leaves of it."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable

import pytest

import topend as te
from topend.quantities import OUTPUTS, Finding
from topend.report import CAUTIONS, BenchCard, FitReport
from topend.report.figures import Figure
from topend.report.finding_words import finding_lines
from topend.report.layout import WIDTH, columns, paragraph
from topend.report.sections import SECTIONS

Sample = Callable[..., te.TopEnd]


def least() -> te.TopEnd:
    """A deck reading, gaskets and an offset alone."""
    return te.TopEnd(
        deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm", base_thickness="0.30 mm"),
        head=te.FlushHead(recess_offset="0.5 mm"),
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", material="copper")],
    )


def shallow(sample: Sample) -> te.TopEnd:
    return sample().replace({"head.band.angle": "4 deg"})


def section(text: str, title: str) -> list[str]:
    """The lines under a heading, up to the next blank one."""
    lines = text.splitlines()
    start = lines.index(title) + 1
    return lines[start : next((at for at in range(start, len(lines)) if not lines[at]), len(lines))]


# --- the card --------------------------------------------------------------------------------------------------------


def test_the_sample_prints_the_figures_of_the_design_page(sample: Sample) -> None:
    text = BenchCard(sample(), title="sample", file="sample.toml").text
    assert text.splitlines()[:2] == ["BENCH CARD: sample", "from sample.toml"]
    assert section(text, "GAPS AT TDC, COLD") == [
        "  deck_clearance               1.650 mm   ± 0.061  crown edge below deck",
        "  squish_edge                  0.950 mm   ± 0.074  at the band's outer edge",
        "  squish_inner                 0.927 mm   ± 0.074  at the band's inner edge",
        "  squish_min                   0.869 mm   ± 0.074  least over the band",
        "  squish_mean                  0.886 mm   ± 0.074  mean over the band's area",
        "  contact_min                  0.869 mm   ± 0.074  least, crown to head",
        "  wire should read             0.890 mm   ± 0.074  at radius 22.60 mm, see below",
        "  The wire: laid 1 mm inside the band's outer edge, cold, and turned through",
        "  TDC.",
    ]
    assert "  exhaust_duration             187.5 deg  ± 0.4    open" in section(text, "TIMING, CRANK DEGREES")
    assert "  transfer_duration            129.9 deg  ± 0.5    open" in section(text, "TIMING, CRANK DEGREES")
    assert section(text, "RATIOS")[:2] == [
        "  compression_ratio            12.32      ± 0.25   over the whole travel",
        "  trapped_compression_ratio     6.95      ± 0.15   from exhaust closing",
    ]


def test_a_shallow_band_under_the_dome_is_warned_of_before_anything_else(sample: Sample) -> None:
    lines = BenchCard(shallow(sample)).text.splitlines()
    assert lines[:8] == [
        "BENCH CARD",
        "",
        "WARNINGS",
        "  ! least gap 0.299 mm at the band's inner edge, where the outer edge shows",
        "    0.950 mm: under 0.6 mm it may close to nearly nothing at speed",
        "      limit 0.6 mm (common practice)",
        "      do: a thicker base or head gasket, a head that stands less proud, or a",
        "          band angle nearer to the crown's slope",
    ]


def test_no_warning_is_no_proof(sample: Sample) -> None:
    text = BenchCard(sample()).text
    assert section(text, "WARNINGS") == ["  None from the checks made, which is no proof that it is safe."]
    unchecked = BenchCard(te.TopEnd(crank=te.Crank(stroke="39.3 mm"))).text
    assert section(unchecked, "WARNINGS") == ["  The gap was not checked, for it cannot be had: see what is needed below."]


@pytest.mark.parametrize("angle", ["9 deg", "4 deg"])
def test_text_and_json_carry_the_same_figures(sample: Sample, angle: str) -> None:
    card = BenchCard(sample().replace({"head.band.angle": angle}))
    told = json.loads(card.json())
    printed = {}
    for line in card.text.splitlines():
        found = re.match(r"  ([a-z_]+) +(\d+(?:\.\d+)?)(?: (mm|cc|deg|rpm|m/s²|m/s))?(?: +± (\d+(?:\.\d+)?))?(?: |$)", line)
        if found and found[1] in OUTPUTS:
            printed[found[1]] = found.groups()[1:]
    outputs = {name: told[name] for name in OUTPUTS if name in told}
    at_speed = [
        name for name in SECTIONS["Closing at speed, throttle shut"] if not name.endswith("pulling") and name != "pulling_clearance"
    ]
    evaluated = {**te.evaluate(card.top).to_dict(), **te.evaluate(card.top, at_speed).to_dict()}
    assert set(printed) == set(outputs) == set(evaluated)
    for name, (number, unit, spread) in printed.items():
        one = outputs[name]
        assert set(one) - {"direction", "range"} == {"value", "unit", "u", "interval", "decimals"}
        places = one["decimals"]  # below 0: the last digit shown stands before the point
        assert number == f"{round(abs(one['value']), min(places, 0)) if places < 0 else abs(one['value']):.{max(places, 0)}f}"
        assert (unit or "–") == one["unit"] == OUTPUTS[name].unit
        assert one["value"] == evaluated[name]["value"]
        # what is drawn says where 95 % of the draws lie
        assert ("range" in one) == (name in at_speed)
        assert (spread is not None) == (one["u"] > 0.0)
        if spread is not None:
            # never less than 2u, and by less than one of the last digit more
            assert 0.0 <= float(spread) - 2.0 * one["u"] + 1e-9 <= 10.0 ** -one["decimals"]
            assert one["interval"] == [one["value"] - 2.0 * one["u"], one["value"] + 2.0 * one["u"]]


def test_the_json_shape_keeps_outputs_apart_from_what_they_rest_on(sample: Sample) -> None:
    told = BenchCard(shallow(sample), title="t", file="f", packs=("fellside 1",)).to_dict()
    beside = [name for name in told if name not in OUTPUTS]
    assert beside == ["title", "file", "packs", "parts", "stack", "gap_at", "least_gap_at", "assumed", "missing", "findings", "cautions"]
    assert told["squish_velocity_peak"]["direction"] == "inward"
    assert told["missing"] == {"crevice_volume": ["piston.top_land"]}
    assert told["findings"][0]["figure"] == told["squish_min"]["value"]
    assert told["cautions"] == list(CAUTIONS)
    assert [(one["role"], one["fitted"]["assumed"]) for one in told["stack"]] == [("base", True), ("head", True)]
    # the parts are the same tree as in a job file
    assert te.TopEnd.model_validate(told["parts"]) == shallow(sample)


def test_the_wire_reading_is_that_of_gap_at(sample: Sample) -> None:
    told = BenchCard(sample()).to_dict()["gap_at"]
    assert told["radius"] == {"value": 22.6, "unit": "mm"}
    assert told["value"] == te.evaluate(sample()).gap_at("22.6 mm").m_as("mm")
    # the bore is what counts under a wider band
    wide = sample(
        head=te.FlushHead(band=te.SquishBand(outer_diameter="49 mm", inner_diameter="33 mm", angle="9 deg"), recess_diameter="49 mm")
    )
    assert BenchCard(wide).to_dict()["gap_at"]["radius"]["value"] == pytest.approx(22.8)


def test_a_band_narrower_than_the_wire_says_so(sample: Sample) -> None:
    narrow = sample(head=te.FlushHead(band=te.SquishBand(outer_diameter="47 mm", inner_diameter="46 mm", angle="9 deg")))
    message = "gap_at: radius must be from 23.000 mm (the band's inner edge) to 23.800 mm (the crown's edge); got 22.500 mm"
    assert BenchCard(narrow).to_dict()["gap_at"] == {"why": message}
    told = " ".join(" ".join(section(BenchCard(narrow).text, "GAPS AT TDC, COLD")).split())
    assert told.endswith(f"expected wire reading: {message}")


def test_what_was_assumed_is_told_with_limits_and_shares(sample: Sample) -> None:
    card = BenchCard(sample())
    base, head, piston, *at_speed = card.to_dict()["assumed"]
    assert [one["path"] for one in at_speed[:2]] == ["crank.compliance", "crank.big_end.clearance"]
    assert base["path"] == "base_gaskets.0.fitted_thickness"
    assert [end["value"] for end in base["limits"]] == pytest.approx([0.415, 0.52])
    assert base["shares"]["deck_clearance"] == pytest.approx(1.0)
    # two inputs carry limits, so their shares are all there is
    assert base["shares"]["squish_edge"] + head["shares"]["squish_edge"] == pytest.approx(1.0)
    assert (piston["path"], piston["limits"], piston["shares"]) == ("piston.diameter", None, {})
    assert section(card.text, "ASSUMED, BECAUSE NOBODY STATED IT")[:5] == [
        "  base_gaskets.0.fitted_thickness: 0.500 mm, may be 0.415 to 0.520 mm",
        "      fitted thickness not measured and material not given: nominal",
        "      +0.02 mm/-17 %, at least -0.02 mm",
        "      its share of the uncertainty: deck_clearance 100 %, exhaust_duration",
        "        100 %, transfer_duration 100 %",
    ]


def test_an_assumption_that_cancels_says_so(sample: Sample) -> None:
    # the deck was read over the stack now fitted: what that stack comes to does not move the deck
    card = BenchCard(sample(deck=te.DeckReading(clearance="1.65 mm")))
    told = section(card.text, "ASSUMED, BECAUSE NOBODY STATED IT")
    at = told.index("  base_gaskets.0.fitted_thickness: 0.500 mm, may be 0.415 to 0.520 mm")
    assert "      it adds nothing of its own to any ± here" in told[at : at + 4]


def studded(sample: Sample) -> te.TopEnd:
    """The sample with its studs: nothing says how far the gasket reaches, nor what the gas presses with."""
    top = sample(studs=te.StudSet(thread_diameter="7 mm", root="case", torque="12 N·m", property_class="8.8", lubrication="oiled"))
    assert top.cylinder is not None
    return top.replace(cylinder=top.cylinder.replace(studs=te.StudPattern(count=4, circle_diameter="64 mm", diameter="7 mm")))


def test_a_fixed_default_shows_its_value(sample: Sample) -> None:
    card = BenchCard(studded(sample))
    assert "  studs.yield_strength: 640 N/mm²\n" in card.text
    taken = {one["path"]: one["value"] for one in card.to_dict()["assumed"]}
    assert taken["studs.yield_strength"] == {"value": 640.0, "unit": "N/mm²"}
    # the change of a stack that nobody stated stands for no thickness
    loose = te.TopEnd(
        deck=te.DeckReading(clearance="0.7 mm"), head=te.FlushHead(), head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")]
    )
    assert {one.path: one.value for one in te.evaluate(loose).assumed}["deck.base_thickness"] is None


def test_studs_that_cannot_be_judged_are_not_passed_in_silence(sample: Sample) -> None:
    told = " ".join(section(BenchCard(studded(sample)).text, "STUDS"))
    assert "Not judged: whether they hold the gas down. clamp_reserve needs" in " ".join(told.split())
    assert "running.peak_pressure" in told
    assert "STUDS" not in BenchCard(sample()).text


def test_the_cycle_s_peak_is_told_from_the_one_that_is_stated(sample: Sample) -> None:
    running = te.Running(crank_speed="11500 rpm", peak_pressure="65 bar")
    burning = sample(running=running, burn=te.Burn(spark="18 deg"))
    said = "This peak is the cycle's. The studs go by running.peak_pressure as stated: 65 bar over that around the engine."
    assert said in " ".join(" ".join(section(BenchCard(burning).text, "CLOSED CYCLE")).split())
    plain = sample(running=te.Running(crank_speed="11500 rpm"), burn=te.Burn(spark="18 deg"))
    assert "This peak" not in BenchCard(plain).text


def test_least_data_gives_the_edge_and_says_what_the_rest_needs() -> None:
    card = BenchCard(least())
    assert section(card.text, "GAPS AT TDC, COLD") == [
        "  deck_clearance               0.700 mm   ± 0.035  crown edge below deck",
        "  squish_edge                  1.500 mm   ± 0.042  at the band's outer edge",
        "  expected wire reading: needs head.band.inner_diameter, cylinder.bore,",
        "    head.band.outer_diameter, head.band.angle, piston.crown",
    ]
    assert "only the gap at the band's outer edge is known" in " ".join(section(card.text, "WARNINGS"))
    missing = section(card.text, "CANNOT BE HAD YET")
    at = missing.index("  squish_inner, squish_min, squish_mean, contact_min")
    assert missing[at + 1 : at + 3] == [
        "      needs head.band.inner_diameter, head.band.outer_diameter, head.band.angle,",
        "        piston.crown, cylinder.bore",
    ]
    # each output once, and each path explained once
    groups = card.missing()
    assert sorted(name for names, _ in groups for name in names) == sorted(card.result.missing)
    told = card.text.split("  what these are:\n")[1]
    for path in {path for _, needs in groups for path in needs}:
        assert told.count(f"    {path} ") == 1, path
    assert card.to_dict()["missing"] == {name: list(needs) for name, needs in card.result.missing.items()}


def test_nothing_at_all_still_makes_a_card() -> None:
    card = BenchCard(te.TopEnd())
    assert "  nothing  no part is given" in card.text.splitlines()
    assert set(json.loads(card.json())) & set(OUTPUTS) == set()


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "spigot head, drops in 1.0 mm;"),
        ({"head": te.FlushHead()}, "head         flush head;"),
        ({"head": te.FlushHead(recess_offset="0.5 mm")}, "head with its band recessed 0.5 mm;"),
        ({}, "read 1.65 mm below deck at the crown's edge, over 0.50 mm of base gaskets"),
        ({"deck": te.DeckReading(clearance="-0.30 mm")}, "read 0.30 mm above the deck at"),
        ({"deck": te.DeckReading(clearance="0 mm")}, "read level with the deck at"),
        ({}, "sphere cap, domed 2.2 mm"),
        ({"piston": te.Piston(crown=te.SphereCrown(rise="-1.0 mm"))}, "sphere cap, hollow 1.0 mm"),
        ({"piston": te.Piston()}, "crown not given: unknown, not taken as flat"),
        ({"piston": te.Piston(crown=te.MeasuredCrown(volume="-1.2 cc", edge_slope="-3 deg"))}, "1.2 cc hollow below its edge; falls 3 deg"),
        ({"crank": te.Crank(stroke="39.3 mm", offset="-0.8 mm")}, "offset 0.8 mm away from the side of the crankpin"),
        (
            {"head": te.SpigotHead(recess_offset="-1.0 mm +0.02/-0.05 mm", spigot_diameter="47.2 mm")},
            "drops in 1.0 mm +0.05/-0.02 mm",
        ),
    ],
)
def test_signs_are_words(sample: Sample, changes: dict[str, te.Part], words: str) -> None:
    # thick head gaskets, so that every one of these can be assembled
    top = sample(**{"head_gaskets": [te.Gasket(role="head", thickness="2.0 mm", opening="48.5 mm")], **changes})
    text = BenchCard(top).text
    assert words in re.sub(r"\n {15,}", " ", text)
    parts = " ".join(section(text, "PARTS, AS STATED"))
    assert not re.search(r"(?<![/\w])-\d", parts), "a bare sign"


def test_a_deck_above_is_told_in_words_and_signed_in_json(sample: Sample) -> None:
    top = sample(deck=te.DeckReading(clearance="-0.30 mm"), head=te.FlushHead(recess_offset="2.0 mm"))
    card = BenchCard(top)
    assert section(card.text, "GAPS AT TDC, COLD")[0] == "  deck_clearance               0.300 mm            crown edge above the deck"
    assert card.to_dict()["deck_clearance"]["value"] == pytest.approx(-0.3)


def test_every_output_has_its_place_on_the_card() -> None:
    placed = [name for names in SECTIONS.values() for name in names]
    assert sorted(placed) == sorted(OUTPUTS)


def test_the_page_is_plain_and_fits_80_columns(sample: Sample) -> None:
    for top in (sample(), shallow(sample), least(), te.TopEnd()):
        text = BenchCard(top, title="a title " * 20, file="sample.toml").text
        assert max(map(len, text.splitlines())) <= WIDTH
        assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)
        assert not any(line.endswith(" ") for line in text.splitlines())


def test_cautions_stand_on_the_card(sample: Sample) -> None:
    told = re.sub(r"\s+", " ", " ".join(section(BenchCard(sample()).text, "CAUTIONS")))
    for words in ("running", "burette", "cut", "Local rules", "qualified engine builder"):
        assert words in told


# --- figures and findings --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("figure", "text"),
    [
        (Figure(0.95, "mm", 0.0366, 3), "0.950 mm ± 0.074"),
        (Figure(12.32, "–", 0.12, 1), "12.3 ± 0.3"),
        (Figure(28.8, "deg", 0.02, 1), "28.8 deg ± 0.1"),
        (Figure(39.3, "mm", 0.0, 2), "39.30 mm"),
        (Figure(math.nan, "deg", math.nan, 1), "unknown deg"),
    ],
)
def test_a_figure_shows_its_spread_rounded_up(figure: Figure, text: str) -> None:
    assert figure.text == text


def test_an_unknown_figure_is_null_in_json() -> None:
    assert Figure(math.nan, "deg", math.nan, 1).to_dict() == {"value": None, "unit": "deg", "u": None, "interval": None, "decimals": 1}


def test_notes_stand_after_warnings() -> None:
    note = Finding("n", "note", "seen", "", "memory")
    warning = Finding("w", "warning", "thin", "thicker", "published", source="a handbook", figure=1.0, limit=2.0, unit="–")
    assert finding_lines([note, warning]) == [
        "",
        "WARNINGS",
        "  ! thin",
        "      limit 2 (published, a handbook)",
        "      do: thicker",
        "",
        "NOTES",
        "  - seen",
        "      from memory",
    ]


def test_a_number_stays_with_its_unit() -> None:
    lines = paragraph("x" * 74 + " 0.50 mm ± 0.03 mm")
    assert lines == ["x" * 74, "0.50 mm ± 0.03 mm"]
    assert columns([]) == []


# --- the fit's page --------------------------------------------------------------------------------------------------


def drawer() -> te.GasketSet:
    made = [("base", "0.30 mm"), ("base", "0.50 mm"), ("head", "0.20 mm"), ("head", "0.30 mm")]
    items = [{"gasket": te.Gasket(role=role, thickness=size, fitted_thickness=size), "count": 2} for role, size in made]
    return te.GasketSet(items=items)


def fitted(top: te.TopEnd, *, at_most: dict[str, str] | None = None, least_gap: str | None = "0.6 mm", **targets: tuple) -> FitReport:
    fit = te.fit_gaskets(top, drawer(), at_most=at_most, least_gap=least_gap, **targets)
    return FitReport(fit, targets=targets, at_most=at_most or {}, least_gap=least_gap, title="sample")


def test_a_fit_shows_the_best_with_their_figures(sample: Sample) -> None:
    report = fitted(sample(), at_most={"exhaust_duration": "190 deg"}, squish_min=("0.90 mm", "0.08 mm"))
    assert report.text.splitlines()[0] == "GASKET FIT: sample"
    assert section(report.text, "ASKED") == [
        "  squish_min        0.90 mm ± 0.08 mm",
        "  exhaust_duration  at most 190 deg",
        "  least gap         at least 0.6 mm",
    ]
    table = section(report.text, next(line for line in report.text.splitlines() if "THAT FIT" in line))
    assert table[0] == "      squish_min  exhaust_duration  score"
    assert table[1] == "            [mm]             [deg]"
    told = report.to_dict()
    assert told["feasible"] == report.fit.feasible > 1
    assert len(told["best"]) == len(report.fit.best)
    for rank, one in enumerate(told["best"], start=1):
        line = next(line for line in table if line.startswith(f"  {rank:>2}. "))
        outputs = one["outputs"]
        shown = [f"{outputs[name]['value']:.{outputs[name]['decimals']}f}" for name in ("squish_min", "exhaust_duration")]
        assert line.split()[1:] == [*shown, f"{one['score']:.3f}"]
    how = " ".join(section(report.text, "HOW SURE"))
    assert f"{report.fit.considered} combinations of head and gaskets considered: every one was decided" in how
    assert json.loads(report.json()) == json.loads(json.dumps(told))


def test_when_nothing_fits_the_nearest_is_shown_and_what_fails(sample: Sample) -> None:
    report = fitted(sample(), squish_min=("3.00 mm", "0.05 mm"))
    assert report.fit.feasible == 0
    lines = section(report.text, "NOTHING FITS")
    assert lines[0] == "  The nearest is"
    miss = report.fit.misses[0]
    failing = f"    - squish_min is {miss.value:.3f} mm, wanted 3 mm ± 0.05 mm: {abs(miss.by):.3f} mm too little"
    assert lines[lines.index("  What fails:") + 1] == failing
    low, high = (end.m_as("mm") for end in report.fit.extra_gasket["base"])
    assert f"  One more base gasket, {low:.3f} to {high:.3f} mm thick as fitted, would bring it in." in lines
    told = report.to_dict()
    assert told["best"] == []
    assert told["misses"] == [{"name": "squish_min", "value": miss.value, "wanted": miss.wanted, "by": miss.by, "unit": "mm"}]
    assert told["extra_gasket"]["base"] == {"interval": [low, high], "unit": "mm"}
    assert told["nearest"]["outputs"]["squish_min"]["value"] == miss.value


def test_a_lifted_floor_is_said_and_what_is_too_tight_is_warned_of(sample: Sample) -> None:
    report = fitted(sample(), least_gap=None, squish_min=("0.50 mm", "0.20 mm"))
    asked = " ".join(section(report.text, "ASKED"))
    assert "least gap   no floor: lifted on purpose" in asked
    assert all(note in re.sub(r"\s+", " ", asked) for note in report.fit.notes)
    tight = [rank for rank, one in enumerate(report.fit.best, start=1) if one.result.shown("squish_min") < 0.6]
    worst = min(range(len(report.fit.best)), key=lambda at: report.fit.best[at].result.shown("squish_min"))
    assert tight
    warned = re.sub(r"\s+", " ", " ".join(section(report.text, "WARNINGS")))
    assert f"least gap {report.fit.best[worst].result.shown('squish_min'):.3f} mm" in warned
    told = report.to_dict()
    assert [rank for rank, one in enumerate(told["best"], start=1) if one["findings"]] == tight
    assert told["asked"]["least_gap"] is None


def test_a_head_without_a_name_is_described_once(sample: Sample) -> None:
    report = fitted(sample(), squish_min=("0.9 mm", "0.3 mm"))
    assert len(report.fit.best) > 1
    assert all(one.head is not None and one.head.name is None for one in report.fit.best)
    told = re.sub(r"\s+", " ", report.text)
    assert told.count("head 1 (spigot head, drops in") == 1
    assert told.count("head 1; base ") == len(report.fit.best) - 1


def test_a_fit_on_the_edge_alone_shows_the_edge() -> None:
    report = fitted(least(), squish_edge=("1.40 mm", "0.30 mm"))
    assert report.names == ("squish_edge",)
    assert report.fit.notes
    assert "only the gap at the band's outer edge is known" in re.sub(r"\s+", " ", " ".join(section(report.text, "WARNINGS")))


def test_gaskets_that_would_be_called_alike_are_told_apart() -> None:
    items = [
        {"gasket": te.Gasket(role="head", thickness="0.30 mm", material="copper"), "count": 1},
        {"gasket": te.Gasket(role="head", thickness="0.30 mm", material="fibre"), "count": 1},
        {"gasket": te.Gasket(role="base", thickness="0.0200 in"), "count": 1},
    ]
    targets = {"squish_edge": ("1.50 mm", "0.5 mm")}
    report = FitReport(
        te.fit_gaskets(least(), te.GasketSet(items=items), head_count=(2, 2), **targets), targets=targets, least_gap="0.6 mm"
    )
    assert "base 0.0200 in; head gasket 0.30 mm (copper) + 0.30 mm (fibre)" in re.sub(r"\s+", " ", report.text)


def test_the_fit_page_is_plain_and_fits_80_columns(sample: Sample) -> None:
    every = {name: (value, tolerance) for name, value, tolerance in (("squish_min", "0.9 mm", "0.5 mm"), ("compression_ratio", 12.0, 3.0))}
    report = fitted(
        sample(),
        at_most={"exhaust_duration": "195 deg", "transfer_duration": "140 deg", "squish_velocity_peak": "40 m/s", "squish_edge": "2 mm"},
        **every,
    )
    assert report.fit.best
    assert max(map(len, report.text.splitlines())) <= WIDTH
    assert not any(line.endswith(" ") for line in report.text.splitlines())
