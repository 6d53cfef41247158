"""Corrections, comparisons and range plans as people and programs see them, and their commands."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

import topend as te
from topend.cli import main
from topend.errors import FitError, JobError
from topend.plan_file import load_plan
from topend.report.comparing import CompareReport
from topend.report.correcting import CorrectReport
from topend.report.layout import WIDTH
from topend.report.ranges import RangeReport
from topend.report.swapping import SwapReport
from topend.report.wanted import said, with_unit

EXAMPLES = Path(__file__).parent.parent / "docs" / "examples"


def corrected(**changes) -> CorrectReport:
    job = te.load_job(EXAMPLES / "correct.toml")
    asked = {**job.correct.arguments(), **changes}
    kept = {name: asked[name] for name in ("allow", "targets", "at_least", "at_most", "least_gap")}
    return CorrectReport(te.correct(job.top, **asked), **kept, title="Fell", file="fell.toml", packs=("pack 1",))


def planned(**changes) -> RangeReport:
    read = load_plan(EXAMPLES / "range.toml")
    asked = {**read.request.arguments(), "builds": 200, "fresh": 500, **changes}
    families = [te.Family(**family.arguments()) for family in read.families]
    return RangeReport(te.plan_range(families, read.gaskets, **asked), targets=read.request.targets, title="Heads", least_gap="0.6 mm")


def fits_a_page(text: str) -> bool:
    return all(len(line) <= WIDTH for line in text.splitlines())


# --- corrections ---


def test_a_correction_says_what_to_do_and_how_sure_it_is():
    report = corrected()
    text = report.text
    assert text.startswith("CORRECTION: Fell\nfrom fell.toml\nparts from pack 1\n")
    assert "   1. deck cut 0.471 mm; base 2 x 0.30 + 0.50 mm (1.04 fitted)" in text
    assert "spacer 0.60 mm under the barrel" in text
    assert "proven that none takes less metal than no. 1" in text
    assert "CAUTIONS" in text
    assert fits_a_page(text)


def test_a_corrections_json_has_the_figures_of_the_text():
    report = corrected()
    made = json.loads(report.json())
    first = made["best"][0]
    assert f"deck cut {first['cuts']['deck_cut']['value']:.3f} mm" in report.text
    assert first["metal"] == pytest.approx(report.answer.best[0].metal)
    assert made["asked"]["allow"]["spacer"] == ["0.60 mm"]
    assert made["asked"]["targets"]["compression_ratio"] == {"value": 12.3, "tolerance": 0.2}
    assert made["proven"] is True
    assert made["metal_unit"] == "cc"
    assert [gasket["thickness"]["value"] for gasket in first["base"]] == [0.3, 0.3, 0.5]
    assert made["cautions"]


def test_what_cannot_be_had_is_told_with_what_it_would_have_to_give():
    report = corrected(targets={"exhaust_duration": ("180 deg", "0.5 deg"), "squish_min": ("0.90 mm", "0.05 mm")})
    assert "NOTHING MEETS EVERY TARGET" in report.text
    assert "With everything else held, this alone would have to give:" in report.text
    assert "exhaust_duration is" in report.text
    made = json.loads(report.json())
    assert made["best"] == []
    assert set(made["alone"]) == {"exhaust_duration"}
    assert made["alone"]["exhaust_duration"]["by"] > 0.0
    assert made["nearest"]["outputs"]["exhaust_duration"]["value"] == pytest.approx(made["misses"][0]["value"])
    assert fits_a_page(report.text)


# --- comparisons ---


def test_a_comparison_ranks_and_shows_every_head():
    job = te.load_job(EXAMPLES / "compare.toml")
    found = te.compare(job.top, **job.compare.arguments())
    report = CompareReport(found, at_least=job.compare.at_least, title="Three heads")
    text = report.text
    assert text.startswith("HEADS COMPARED: Three heads")
    assert text.index("1. o-ring, gap 1.00 mm") < text.index("2. wide band") < text.index("3. narrow band")
    assert "FRONT OF SQUISH VELOCITY AGAINST RUNNING CLEARANCE" in text
    assert fits_a_page(text)
    made = json.loads(report.json())
    assert [one["name"] for one in made["ranked"]] == ["o-ring", "wide band", "narrow band"]
    values = made["values"]["squish_min"]["values"]
    assert values[0][1][0] == pytest.approx(found.values["squish_min"][0, 1, 0])
    assert made["asked"]["at_least"] == {"running_clearance": "0.25 mm"}


def test_points_that_cannot_be_are_said_and_are_null():
    job = te.load_job(EXAMPLES / "compare.toml")
    found = te.compare(job.top, job.compare.heads, aims={"squish_min": "smallest"}, gaps=["0.05 mm", "0.90 mm"])
    report = CompareReport(found)
    made = json.loads(report.json())
    assert made["values"]["squish_min"]["values"][0][0] == [None]
    assert "Crown and head touch at TDC." in report.text or "no base stack is thin enough" in report.text


def test_the_picture_names_every_head_and_the_front():
    pytest.importorskip("matplotlib", reason="pictures need the extra plot")
    from topend.report.pictures.comparing import heads_compared

    job = te.load_job(EXAMPLES / "compare.toml")
    found = te.compare(job.top, **job.compare.arguments())
    figure = heads_compared(found)
    words = [text.get_text() for text in figure.axes[0].texts]
    assert words == ["wide band", "narrow band", "o-ring"]
    assert "the broad line is the front" in figure.axes[0].get_title(loc="left")
    assert figure.axes[0].get_xlabel() == "running clearance [mm]"
    # what is drawn is what was found
    (line,) = [one for one in figure.axes[0].lines if one.get_marker() == "o"]
    assert list(line.get_ydata()) == pytest.approx(list(found.values["squish_velocity_peak"][0, :, 1]))


# --- range plans ---


def test_a_plan_says_what_to_make_and_how_sure_it_is():
    report = planned()
    text = report.text
    assert text.startswith("RANGE PLAN: Heads")
    assert "MAKE 2 HEADS" in text
    assert "alder shallow, for alder 50" in text
    assert "95 % confidence, Clopper-Pearson" in text
    assert fits_a_page(text)
    made = json.loads(report.json())
    assert made["gaskets"] == report.plan.gaskets
    assert made["confirmed"]["interval"][0] <= made["confirmed"]["inside"] / made["confirmed"]["builds"] <= made["confirmed"]["interval"][1]
    assert made["asked"]["coverage"] == 0.99


def test_builds_left_out_are_told_with_their_reason():
    report = planned(coverage=0.6, squish_min=("0.85 mm", "0.05 mm"), compression_ratio=(12.3, 0.2))
    assert "LEFT OUT" in report.text
    assert "too much" in report.text or "too little" in report.text
    made = json.loads(report.json())
    assert made["left_out"]
    assert made["left_out"][0]["values"]["deck.clearance"]["unit"] == "mm"
    assert fits_a_page(report.text)


def test_no_plan_is_an_answer():
    report = planned(compression_ratio=(12.3, 0.01))
    assert "NO PLAN" in report.text
    assert json.loads(report.json())["variants"] == []
    assert fits_a_page(report.text)


# --- words ---


def test_figures_are_told_as_they_were_asked():
    assert said(te.Quantity(0.9, "mm")) == "0.9 mm"
    assert with_unit("squish_min", "0.9") == "0.9 mm"
    assert not math.isnan(float(with_unit("compression_ratio", 12.5)))


# --- swap ---


def test_a_swap_on_paper_has_the_figures_of_the_swap():
    job = te.load_job(EXAMPLES / "swap.toml")
    found = te.swap(job.top, **job.swap.arguments())
    report = SwapReport(found, crank=job.swap.crank, title="Longer")
    made = report.to_dict()
    for name, _, *values in found.rows:
        for state, value in zip(("before", "as_it_stands", "with_spacer"), values, strict=True):
            assert made["outputs"][name][state]["value"] == pytest.approx(value, rel=1e-12)
    assert made["spacer"] == {"value": pytest.approx(0.5, abs=1e-12), "unit": "mm"}
    assert made["swapped_in"] == {"crank": "stroke 40.3 mm; rod 85 mm"}
    # half a millimetre more throw: the crown comes down by it, and by the spacer once more
    steps = made["floor_steps"]["1"]
    assert steps["as_it_stands"] == pytest.approx(steps["before"] - 0.5, abs=1e-9)
    assert steps["with_spacer"] == pytest.approx(steps["before"] - 1.0, abs=1e-9)
    row = next(line for line in report.text.splitlines() if line.lstrip().startswith("deck_clearance"))
    # the gasket under the reading is the one that stays: its limits cancel, until the spacer makes another stack of it
    assert row.split()[1:] == ["1.650", "±", "0.035", "1.150", "±", "0.035", "1.650", "±", "0.048", "mm"]
    assert "A spacer of 0.500 mm under the barrel brings the deck back" in report.text
    assert max(map(len, report.text.splitlines())) <= 80


def test_a_crown_under_a_floor_is_told_in_words(topend_says):
    code, out, _ = topend_says("swap", str(EXAMPLES / "swap.toml"))
    assert code == 0
    line = next(one for one in out.splitlines() if "crown at floor" in one)
    assert line.split() == ["crown", "at", "floor,", "port", "1", "0.450", "under", "0.950", "under", "1.450", "under", "mm"]


def test_what_is_told_before_the_list_of_corrections_has_no_other_name(topend_says):
    _, out, _ = topend_says("correct", str(EXAMPLES / "correct.toml"))
    assert "WARNINGS" not in out
    assert "warnings above" not in out
    assert "What is told before the list is of no. 1" in out


def test_a_swap_that_lowers_the_crown_or_cannot_be_assembled_says_so():
    top = te.load_job(EXAMPLES / "swap.toml").top
    shorter = te.Crank(stroke="38.3 mm", rod_length="85 mm", web_diameter="74 mm")
    text = SwapReport(te.swap(top, crank=shorter), crank=shorter).text
    assert "The barrel would have to come lower by 0.500 mm" in text
    assert "with spacer" not in text
    same = top.crank
    assert "no spacer is needed" in SwapReport(te.swap(top, crank=same), crank=same).text
    long = te.Crank(stroke="45.3 mm", rod_length="85 mm", web_diameter="74 mm")
    struck = te.swap(top, crank=long)
    assert struck.after is None
    text = SwapReport(struck, crank=long).text
    assert "As it stands it cannot be assembled:" in text
    assert "as it stands    " not in text


# --- commands ---


@pytest.fixture
def topend_says(capsys: pytest.CaptureFixture[str]):
    """Run a command in this process: its exit code, what it printed, and what it said on the error output."""

    def call(*arguments: str) -> tuple[int, str, str]:
        code = main(list(arguments))
        heard = capsys.readouterr()
        return code, heard.out, heard.err

    return call


@pytest.mark.parametrize("name", ["correct", "swap", "compare", "range"])
def test_commands_print_text_and_json(name, topend_says):
    file = str(EXAMPLES / f"{name}.toml")
    code, text, told = topend_says(name, file)
    assert (code, told) == (0, "")
    assert "CAUTIONS" in text
    code, made, told = topend_says(name, file, "--json")
    assert (code, told) == (0, "")
    assert json.loads(made)["cautions"]


def refused(topend_says, *arguments: str) -> str:
    code, out, told = topend_says(*arguments)
    assert (code, out) == (2, "")
    return told


@pytest.mark.parametrize(
    ("name", "change", "message"),
    [
        ("correct", ("[correct.allow]", "[correct.allows]"), "correct.allows is not a key of [correct]; nearest: allow"),
        ("correct", ('deck_cut = ["0 mm", "0.8 mm"]', "deck_cut = 0.8"), "allow: deck_cut must be the least and the most"),
        ("correct", ('squish_min = ["0.90 mm", "0.05 mm"]', "squish_min = 0.9"), "targets.squish_min must be a value and its tolerance"),
        (
            "compare",
            ('running_clearance = "largest"', 'running_clearance = "most"'),
            "running_clearance must be a value and a tolerance, or largest",
        ),
        ("compare", ('gaps = ["0.80 mm"', "gaps = [0.80"), "compare.gaps must be a list of texts with their units"),
        ("compare", ("[compare.aims]", "[compare.aim]"), "compare.aim is not a key of [compare]"),
        ("swap", ("[swap.crank]", "[swap.cranc]"), "swap.cranc is not a key of [swap]; nearest: crank"),
        ("swap", ("[swap.crank]", "[swap]\nspacer = 0.5\n[swap.crank]"), "swap.spacer must be a length as text"),
        ("swap", ('stroke = "40.3 mm"', "stroke = 40.3"), "swap.crank.stroke needs a length"),
        ("swap", ("[swap.crank]", "[swap]\npiston = 3\n[swap.crank]"), "swap.piston must be a piston: its id, or a table; got 3"),
        ("swap", ('stroke = "40.3 mm"\nrod_length = "85 mm"', 'stroke = "40.3 mm"'), "crank.rod_length is not given for the new crank"),
        ("range", ("coverage = 0.99", 'coverage = "99 %"'), "plan.coverage must be a share of the builds, such as 0.99; got '99 %'"),
        ("range", ("share = 3", 'share = "3"'), "families.0.share must be a number"),
        ("range", ('bore = "40.0 mm"', "bore = 40.0"), "families.0.cylinder.bore needs a length"),
        (
            "range",
            ('role = "base"\nthickness = "0.20 mm"', 'role = "bas"\nthickness = "0.20 mm"'),
            "plan.gaskets.0.role must be one of base or head",
        ),
        ("range", ("[plan.targets]", "[plan.target]"), "plan.target is not a key of [plan]; nearest: targets"),
        (
            "range",
            ('"deck.clearance" = [', '"deck.clearence" = ['),
            "past builds give deck.clearence, but the family's top end does not state it",
        ),
    ],
)
def test_mistakes_in_files_are_told_where_they_are(name, change, message, topend_says, tmp_path):
    text = (EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")
    assert change[0] in text
    file = tmp_path / f"{name}.toml"
    file.write_text(text.replace(change[0], change[1], 1), encoding="utf-8")
    told = refused(topend_says, name, str(file))
    assert message in told
    assert str(file) in told


def test_jobs_without_the_section_say_where_it_is_written_down(topend_says):
    plain = str(EXAMPLES / "fell50.toml")
    assert "has no [correct] table, so it is not known what may be done; see docs/correcting.md" in refused(topend_says, "correct", plain)
    assert "has no [swap] table, so there is no new part; see docs/correcting.md" in refused(topend_says, "swap", plain)
    assert "has no [compare] table, so there are no heads to compare; see docs/comparing.md" in refused(topend_says, "compare", plain)
    with pytest.raises(JobError, match="is a job file, not a plan file"):
        load_plan(plain)


def test_a_picture_that_cannot_be_drawn_says_what_it_lacks():
    pytest.importorskip("matplotlib", reason="pictures need the extra plot")
    from topend.report.pictures.comparing import heads_compared

    top = te.TopEnd(deck=te.DeckReading(clearance="0.8 mm"), base_gaskets=[], head_gaskets=[])
    with pytest.raises(FitError, match="squish_velocity_peak, running_clearance cannot be had here"):
        heads_compared(te.compare(top, [te.FlushHead()], aims={"squish_edge": "smallest"}))
