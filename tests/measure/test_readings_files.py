"""Files of readings, their commands and sheets: what is printed, the same as JSON, and every mistake in plain words."""

from __future__ import annotations

import json
import re
import textwrap
from pathlib import Path

import pytest

import topend as te
from topend import cli
from topend.measure.sheet import KINDS_OF_READING
from topend.report import CustomerAnswer, question_sheet, reading_sheet

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "docs" / "examples"
JOB = EXAMPLES / "fell50.toml"
BENCH = EXAMPLES / "readings-bench.toml"
ASSEMBLED = EXAMPLES / "readings-assembled.toml"


@pytest.fixture
def says(capsys: pytest.CaptureFixture[str]):
    def call(*arguments: object) -> tuple[int, str, str]:
        code = cli.main([str(one) for one in arguments])
        heard = capsys.readouterr()
        return code, heard.out, heard.err

    return call


@pytest.fixture
def written(tmp_path: Path):
    def write(text: str) -> Path:
        path = tmp_path / "readings.toml"
        path.write_text(textwrap.dedent(text), encoding="utf-8")
        return path

    return write


def refused(path: Path) -> str:
    with pytest.raises(te.ReadingsError) as caught:
        te.load_readings(path)
    return str(caught.value).replace(f"{path}", "FILE")


# --- files -----------------------------------------------------------------------------------------------------------


def test_the_examples_load_and_say_that_they_are_invented() -> None:
    for path in (BENCH, ASSEMBLED):
        read = te.load_readings(path)
        assert read.measured
        assert "invented" in path.read_text(encoding="utf-8").splitlines()[0]


def test_everything_wrong_in_a_file_is_told_together_with_its_line(written) -> None:
    path = written(
        """\
        format = 1
        titel = "x"

        [[readings]]
        kind = "burette"
        setup = "plate"
        plug = "fitted"
        fillings = [["6.40 ml", "0.00 ml"]]
        nominal = "25 ml"
        division = "0.1 ml"

        [[readings]]
        kind = "burete"

        [[readings]]
        kind = "deck"
        crown = "below"
        readings = ["1,65 mm"]
        nuts_down = true
        gaskets_crushed = true

        [limits.squish_mni]
        at_least = "0.6 mm"
        """
    )
    kinds = ", ".join(KINDS_OF_READING)
    said = refused(path)
    assert said.splitlines()[0] == "FILE: 5 problems"
    assert said.splitlines()[1:] == [
        "  - line 2: titel is not a key of a file of readings; nearest: title; it may have format, title, readings, limits",
        "  - line 8: readings.0.fillings.0 goes from 6.40 ml to 0.00 ml, in the wrong order: a burette is read from the top "
        "down, so the end is "
        "the greater",
        f"  - line 13: readings.1.kind is 'burete'; nearest: burette; it must be one of {kinds}",
        "  - line 18: readings.2.readings.0 needs a length, such as \"1.65 mm\"; got '1,65 mm'. Decimals are written with a "
        "point, not a comma. "
        "Units: mm, cm, m, um, µm, in, thou",
        "  - line 22: limits.squish_mni is not an output; nearest: squish_min, squish_mean, squish_inner; `topend names` lists them",
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("title = 'x'\n", "FILE: format is missing: format = 1"),
        ("format = 2\n", "FILE: line 1: format is 2; this version of topend reads format 1"),
        ("format = 1\n", "FILE: readings is missing: each reading is a table [[readings]] with its kind"),
        (
            'format = 1\n[readings]\nkind = "wire"\n',
            "FILE: line 2: readings must be a list of tables: each reading, also a single one, is a table [[readings]] with its kind",
        ),
        (
            "format = 1\n[[readings]]\nname = 'x'\n",
            f"FILE: line 2: readings.0.kind is missing: one of {', '.join(KINDS_OF_READING)}",
        ),
        (
            "format = 1\n[[readings]]\nkind = 'strip'\nlow = '0.9 mm'\nhigh = '1.0 mm'\nradius = '20 "
            "mm'\n[limits]\ncompression_ratio = { at_most = '12' }\n",
            "FILE: line 8: limits.compression_ratio.at_most must be a bare number: compression_ratio has no unit; got '12'",
        ),
        (
            "format = 1\n[[readings]]\nkind = 'strip'\nlow = '0.9 mm'\nhigh = '1.0 mm'\nradius = '20 mm'\n[limits]\nsquish_min "
            "= { atleast = '1 mm' }\n",
            "FILE: line 8: limits.squish_min must have at_least, at_most, or both",
        ),
    ],
)
def test_files_that_are_refused(written, text, said) -> None:
    assert refused(written(text)) == said


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    assert refused(tmp_path / "none.toml") == "FILE: is not there"


# --- commands --------------------------------------------------------------------------------------------------------


def test_measure_prints_what_json_holds(says) -> None:
    code, out, err = says("measure", BENCH)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    _, text, _ = says("measure", BENCH, "--json")
    made = json.loads(text)
    assert [one["of"] for one in made["measured"]][:3] == ["head.chamber_volume", "crown_volume", "deck.clearance"]
    for one in made["measured"]:
        shown = re.search(rf"^  {re.escape(one['of'])} +(-?[0-9.]+)", out, flags=re.MULTILINE)
        assert shown is not None
        assert float(shown[1]) == pytest.approx(one["value"], abs=0.5 * 10.0 ** -len(shown[1].partition(".")[2]) + 1e-12)
        low, high = one["interval"]
        assert low < one["value"] < high
        assert one["budget"] == sorted(one["budget"], key=lambda term: -term["u"])
        assert one["first_order"]["agrees"]
    # as JCGM 101 draws few readings, the deck's three reach further
    deck = next(one for one in made["measured"] if one["of"] == "deck.clearance")
    half = (deck["few_readings"]["drawn"][1] - deck["few_readings"]["drawn"][0]) / 2
    assert half > 1.2 * (deck["interval"][1] - deck["interval"][0]) / 2
    told = re.sub(r"\s+", " ", out)
    assert "IS FIRST ORDER ENOUGH? (JCGM 101, CLAUSE 8) Yes: simulation finds the same 95 % intervals" in told
    assert f"deck.clearance ± {half:.3f}" in told
    assert "CAUTIONS" in out


def test_verify_prints_outcome_verdicts_and_what_to_read_next(says) -> None:
    code, out, err = says("verify", JOB, ASSEMBLED)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    for part in (
        "AS PREDICTED",
        "PREDICTED AND FOUND",
        "VERDICT AGAINST LIMITS (ISO 14253-1)",
        "ALL READINGS TOGETHER",
        "IS FIRST ORDER ENOUGH?",
        "READ NEXT",
        "CAUTIONS",
    ):
        assert part in out
    _, text, _ = says("verify", JOB, ASSEMBLED, "--json")
    made = json.loads(text)
    assert made["outcome"] == "as predicted"
    assert made["verdicts"]["squish_min"]["verdict"] == "inside"
    assert made["together"]["suspect"] is None
    assert {name: one["agrees"] for name, one in made["first_order"].items()} == dict.fromkeys(made["verdicts"], True)
    assert made["next_reading"]["ranked"]


def test_verify_names_a_reading_that_does_not_belong(says, written) -> None:
    text = ASSEMBLED.read_text(encoding="utf-8").replace(
        '["0.91 mm", "0.88 mm", "0.86 mm", "0.89 mm"]', '["1.31 mm", "1.28 mm", "1.26 mm", "1.29 mm"]'
    )
    code, out, _ = says("verify", JOB, written(text))
    assert code == 0
    assert "CONTRADICTED" in out
    assert "as much or more in less than 1 % of good builds" in re.sub(r"\s+", " ", out)
    assert "gap_at 18.85 mm (solder, both sides) does not belong: it reads 0.399 mm too much" in re.sub(r"\s+", " ", out)
    assert "Read it again before anything is cut." in out


def test_commands_that_are_refused(says, tmp_path: Path) -> None:
    code, out, err = says("measure")
    assert (code, out) == (2, "")
    assert "needs a file of readings, or --sheet, or --questions" in err
    code, out, err = says("verify", JOB, tmp_path / "none.toml")
    assert (code, out) == (2, "")
    assert err == f"topend: {tmp_path / 'none.toml'}: is not there\n"


# --- sheets ----------------------------------------------------------------------------------------------------------


def test_a_sheet_to_fill_at_the_bench(says) -> None:
    code, out, err = says("measure", "--sheet")
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    for asked in ("DECK, DRY FIT", "GAP BY WIRE", "HEAD ON A PLATE", "DEGREE DISC, EXHAUST", "GASKETS BY MICROMETER", "CAUTIONS"):
        assert asked in out
    expected = reading_sheet(te.load_job(JOB).top, title="Rigg 50")
    assert "expected 1.62 mm below the deck, allowed 1.56 to 1.68 mm below the deck" in expected


def test_the_torque_of_the_head_is_not_asked_of_a_barrels_own_nuts() -> None:
    """Studs that stand in the cylinder hold the head alone: the sheet for the bench and the assembly sheet say the same."""
    job = te.load_job("docs/examples/kart.toml")
    told = " ".join(reading_sheet(job.top).split())
    assert "the barrel's own nuts down to ______ N·m. Depth gauge" in told
    assert told.count("18 N·m") == 1
    assert "nuts up to 18 N·m ± 1 N·m; cold" in told
    assert job.top.studs is not None
    through = " ".join(reading_sheet(job.top.replace({"studs": job.top.studs.replace(root="case")})).split())
    assert "nuts down to 18 N·m ± 1 N·m. Depth gauge" in through


def test_sheets_for_the_engine_of_a_job(says) -> None:
    code, out, err = says("measure", JOB, "--sheet")
    assert (code, err) == (0, "")
    assert out.startswith("READING SHEET: Rigg 50")
    assert "expected 1.62 mm below the deck" in out
    code, out, err = says("measure", JOB, "--questions")
    assert (code, err) == (0, "")
    assert "bore 40.01 mm" in re.sub(r"\s+", " ", out)
    assert max(map(len, out.splitlines())) <= 80


def test_questions_for_a_customer_far_away(says) -> None:
    code, out, _ = says("measure", "--questions")
    assert code == 0
    assert max(map(len, out.splitlines())) <= 80
    told = re.sub(r"\s+", " ", question_sheet(te.load_job(JOB).top.cylinder))
    for asked in ("bore 40.01 mm", "Below or above?", "Each base gasket", "Fuel and its octane number", "Highest crank speed"):
        assert asked in told


def test_the_answer_has_gaskets_worst_case_and_the_next_reading() -> None:
    job = te.load_job(JOB)
    assert job.fit is not None
    answer = CustomerAnswer(te.fit_gaskets(job.top, **job.fit.arguments()), title="hill sprint")
    assert "base gasket" in answer.text
    assert "WORST CASE" in answer.text
    assert "READ NEXT" in answer.text
    worst = answer.worst()
    assert worst["squish_min"][1] < worst["squish_min"][0]
    assert worst["compression_ratio"][1] > worst["compression_ratio"][0]
    nothing = te.fit_gaskets(job.top, **{**job.fit.arguments(), "squish_min": ("3 mm", "0.01 mm")})
    assert "Nothing in the drawer fits what was asked" in CustomerAnswer(nothing).text
