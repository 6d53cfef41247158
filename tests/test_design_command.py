"""``topend design``: what it prints and draws, the [design] of a job file, and what it says of each mistake."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import topend as te
from topend import cli
from topend.errors import JobError
from topend.report.design import DesignReport

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ROOT / "docs" / "examples" / "fell50-head.toml"


@pytest.fixture
def says(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Exit code, output and error output of a command."""

    def call(*arguments: object) -> tuple[int, str, str]:
        code = cli.main([str(one) for one in arguments])
        heard = capsys.readouterr()
        return code, heard.out, heard.err

    return call


def changed(tmp_path: Path, *changes: tuple[str, str]) -> Path:
    """The example with texts replaced."""
    text = EXAMPLE.read_text(encoding="utf-8").replace("../../datapacks", (ROOT / "datapacks").as_posix())
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = tmp_path / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_example_in_words(says: Any) -> None:
    code, out, err = says("design", EXAMPLE)
    assert (code, err) == (0, "")
    assert all(len(line) <= 80 for line in out.splitlines())
    for told in (
        "Rigg 50, head from a blank (invented)",
        "ASKED\n  compression_ratio  12.40\n  squish_edge        0.950 mm",
        "head.profile.depth  10.160 mm",
        "chamber volume             4.260 cc above the band-edge plane",
        "What compression_ratio does for each size of the head:",
        "Cut sheet: compression_ratio stays within ± 0.15 of 12.40.",
        "Every corner of these limits evaluated: 12.",
        "CAUTIONS",
    ):
        assert told in out


def test_the_same_figures_as_json_and_drawings(says: Any, tmp_path: Path) -> None:
    files = [tmp_path / f"head.{ending}" for ending in ("svg", "png", "dxf")]
    code, out, _ = says("design", EXAMPLE, "--json", *(word for file in files for word in ("--draw", file)))
    assert code == 0
    made = json.loads(out)
    assert made["targets"]["compression_ratio"] == {"value": 12.4, "unit": "–"}
    (head,) = made["solutions"]
    assert head["outputs"]["compression_ratio"]["value"] == pytest.approx(12.4, rel=1e-9)
    job = te.load_job(EXAMPLE)
    top = job.top.replace({path: te.Quantity(one["value"], one["unit"]) for path, one in head["dimensions"].items()})
    assert te.evaluate(top).compression_ratio == pytest.approx(12.4, rel=1e-9)
    assert head["cut_sheet"]["least"] >= 12.25
    assert head["cut_sheet"]["most"] <= 12.55
    assert [Path(name) for name in made["drawings"]] == files
    assert all(file.stat().st_size > 1000 for file in files)


def test_options_take_the_place_of_the_file_s(says: Any, tmp_path: Path) -> None:
    options = ("--target", "trapped_compression_ratio=7.2", "--free", "head.profile.band.inner_diameter", "--spread", "0.3")
    # the depth has to be known where another dimension moves
    told = "fell50-head.toml: trapped_compression_ratio cannot be had: it needs head.profile.depth\n"
    assert says("design", EXAMPLE, *options)[2].endswith(told)
    job = changed(tmp_path, ('shape = "bowl"', 'shape = "bowl"\ndepth = "10 mm"'))
    made = json.loads(says("design", job, "--json", *options)[1])
    assert set(made["targets"]) == {"trapped_compression_ratio", "squish_edge"}
    assert made["solutions"][0]["free"] == "head.profile.band.inner_diameter"
    assert made["solutions"][0]["outputs"]["trapped_compression_ratio"]["value"] == pytest.approx(7.2, rel=1e-9)
    assert made["solutions"][0]["cut_sheet"]["spread"] == 0.3


def test_no_head_does_it_is_an_answer(says: Any, tmp_path: Path) -> None:
    code, out, err = says("design", EXAMPLE, "--target", "compression_ratio=40", "--draw", tmp_path / "none.svg")
    assert (code, err) == (0, "")
    assert "NO HEAD DOES IT" in out
    assert "compression_ratio 40.000 cannot be had" in " ".join(out.split())
    assert not (tmp_path / "none.svg").exists()


def test_beyond_the_cutter_and_what_is_not_judged(says: Any, tmp_path: Path) -> None:
    job = changed(tmp_path, ('least_wall = "8 mm"', 'least_wall = "16 mm"'), ('seat_height = "28.8 mm"\n', ""))
    _, out, _ = says("design", job)
    told = " ".join(out.split())
    assert "NO HEAD DOES IT head.profile.depth: the wall above the chamber is" in told
    assert "less than 16.000 mm" in told
    assert "NOT JUDGED least_thread: neither thread_length nor seat_height of the plug is given" in told


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ([('free = "head.profile.depth"', "free = 3")], "design.free must be the path of the dimension that moves"),
        ([("[design.targets]", "[design.target]")], "design.target is not a key of [design]; nearest: targets"),
        ([("compression_ratio = 12.4", "compresion_ratio = 12.4")], "design.targets.compresion_ratio is not an output"),
        ([("compression_ratio = 12.4", 'compression_ratio = "12.4"')], "design.targets.compression_ratio must be a plain number"),
        ([('["6 mm", "14 mm"]', '"6 mm"')], "design.limits.head.profile.depth must be the least and the most"),
        ([('tool_radius = "2 mm"', "tool_radius = 2")], "design.cutter.tool_radius needs a length"),
        ([('tool_radius = "2 mm"', 'nose = "2 mm"')], "design.cutter.nose is not a field of Cutter"),
        ([("spread = 0.15", 'spread = "0.15 mm"')], "design.spread must be a plain number"),
        (
            [('"head.profile.depth" = [', '"head.profile.dept" = [')],
            "job.toml: no dimension is called 'head.profile.dept' in this head (bowl)",
        ),
        ([('inner_diameter = "27.0 mm"\n', "")], "job.toml: compression_ratio cannot be had: it needs head.profile.band.inner_diameter"),
    ],
)
def test_mistakes_in_the_file(changes: list[tuple[str, str]], told: str, says: Any, tmp_path: Path) -> None:
    code, out, err = says("design", changed(tmp_path, *changes))
    assert code == 2
    assert out == ""
    assert told in err


def test_mistakes_on_the_line(says: Any, tmp_path: Path) -> None:
    for arguments, told in (
        (("--target", "compression_ratio"), '--target needs a name, =, and a value, such as "compression_ratio=12.5"'),
        (("--target", "compresion_ratio=12"), "no output is called 'compresion_ratio'; nearest: compression_ratio"),
        (("--target", "compression_ratio=high"), "--target compression_ratio needs a bare number"),
        (("--spread", "much"), "--spread needs a bare number"),
        (("--free", "head.profile.dept"), "no dimension is called 'head.profile.dept' in this head (bowl); nearest: head.profile.depth"),
        (("--draw", tmp_path / "head.jpg"), "a drawing is written as .svg, .png or .dxf"),
        (("--draw", tmp_path / "none" / "head.svg"), "head.svg: there is no folder"),
        (("--target", "squish_min=0.9 mm"), "squish_edge and squish_min both move the offset"),
    ):
        code, out, err = says("design", EXAMPLE, *arguments)
        assert (code, out) == (2, "")
        assert told in err
    code, _, err = says("design", ROOT / "docs" / "examples" / "fell50.toml")
    assert code == 2
    assert "has no [design] table" in err


def test_a_design_that_is_no_table(tmp_path: Path) -> None:
    text = EXAMPLE.read_text(encoding="utf-8").replace("../../datapacks", (ROOT / "datapacks").as_posix())
    path = tmp_path / "job.toml"
    path.write_text(text[: text.index("[design]")].replace("format = 1", "format = 1\ndesign = 3"), encoding="utf-8")
    with pytest.raises(JobError, match=r"design must be a table, \[design\]; got 3"):
        te.load_job(path)


def test_a_spread_that_cannot_be_held_is_said_on_the_page() -> None:
    job = te.load_job(EXAMPLE)
    assert job.design is not None
    found = te.design_head(job.top, **{**job.design.arguments(), "spread": 0.0005})
    page = DesignReport(found)
    assert "No cut sheet: a spread of 0.0005 in compression_ratio is finer" in " ".join(page.text.split())
    assert "finer" in page.to_dict()["solutions"][0]["cut_sheet"]["refused"]
    without = te.design_head(job.top, **{**job.design.arguments(), "spread": None})
    assert DesignReport(without).to_dict()["solutions"][0]["cut_sheet"] is None
