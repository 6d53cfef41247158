"""The bench card as a page, without a browser: its figures, its drawing against the row and against quadrature, and what it never holds.

What a browser makes of it is in `test_pages_in_a_browser.py`.
"""

from __future__ import annotations

import html
import json
import math
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

import topend as te
from topend.cli import main
from topend.report import AssemblySheet, BenchCard
from topend.report.figures import Figure
from topend.report.html import card_page, sheet_page, write_page
from topend.report.html.over_speed import over_speed_svg
from topend.report.html.section import gap_svg, section_svg, shape_of

Sample = Callable[..., te.TopEnd]
ROOT = Path(__file__).resolve().parent.parent


def still(sample: Sample, **changes: object) -> te.TopEnd:
    """The sample with no speed stated, whose page is made at once."""
    return sample(running=None, **changes)


def plain(page: str) -> str:
    """The words of a page, as a reader sees them one after the other."""
    body = re.sub(r"<style>.*?</style>|<wbr>", "", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


# --- its figures -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("inch", [False, True])
def test_page_text_and_json_carry_the_same_figures(sample: Sample, inch: bool) -> None:
    card = BenchCard(sample(), title="club build")
    page, told = plain(card_page(card, inch=inch)), json.loads(card.json())
    for name, figure in card.figures.items():
        assert told[name]["value"] == figure.value
        row = re.search(rf"\b{name} .*? {re.escape(figure.number)} ?{re.escape(figure.unit_text)}", page)
        assert row is not None, name
        assert figure.number in card.text
    for caution in told["cautions"]:
        assert caution in page
    for gasket in told["stack"]:
        assert f"{gasket['nominal']['value']:.2f} mm" in page


def test_inches_stand_beside_millimetres_on_request(sample: Sample) -> None:
    card = BenchCard(still(sample))
    # 0.950/25.4 = 0.0374; an inch is 25.4 mm exactly (ISO 80000-3:2006, annex C)
    assert Figure(0.950, "mm", 0.0, 3).inches == Figure(0.950 / 25.4, "in", 0.0, 4)
    assert Figure(12.3, "–", 0.0, 2).inches is None
    assert "0.0374 in" in plain(card_page(card, inch=True))
    assert " in ±" not in card.text
    assert "0.0374 in" not in plain(card_page(card))
    told = card.gap_at
    assert isinstance(told, tuple)
    assert f"{told[1].value / 25.4:.4f} in" in plain(card_page(card, inch=True))


def test_what_is_wrong_stands_first_with_what_to_do(sample: Sample) -> None:
    card = BenchCard(still(sample).replace({"head.band.angle": "4 deg"}))
    page = card_page(card)
    warned = [one for one in card.findings if one.severity == "warning"]
    assert warned
    text = plain(page)
    for one in warned:
        assert f"warning {one.message} What to do: {one.do}" in text
        assert text.index(one.message) < text.index("Section at TDC")
    assert "None from the checks made, which is no proof that it is safe." in plain(card_page(BenchCard(still(sample))))


def test_what_the_bench_needs_stands_before_what_is_looked_up(sample: Sample) -> None:
    page = card_page(BenchCard(sample()))
    headings = re.findall(r'<h2 id="(\w+)"', page)
    bench, desk = ["warnings", "section", "gaskets", "cautions", "readings", "assembly"], ["speed", "figures", "parts", "provenance"]
    assert headings == bench + desk
    assert re.findall(r'<a href="#(\w+)"', page) == headings
    # common practice: clocks mean nothing before it is said where 12 is
    assert "12 o'clock toward the exhaust" in plain(page)


def test_a_head_without_a_ring_has_no_gap_behind_one(sample: Sample) -> None:
    """Bore and spigot make one, whatever it is that seals; with a ring in its groove it is worth its line."""
    top = still(sample)
    assert "o_ring_extrusion_gap" not in card_page(BenchCard(top)).replace("<wbr>", "")
    ring = te.ORing(inner_diameter="42 mm", section="2 mm")
    groove = te.ORingGroove(seals="bore", depth="1.6 mm", width="2.6 mm")
    with_ring = top.replace({"head.seal": "both", "head.o_ring": ring, "head.groove": groove})
    # 47.6 - 47.2, all on one side
    assert BenchCard(with_ring).figures["o_ring_extrusion_gap"].value == pytest.approx(0.4)


def test_least_data_says_what_is_lacking() -> None:
    card = BenchCard(te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"), head=te.FlushHead()))
    text = plain(card_page(card))
    assert "Cannot be drawn: needs cylinder.bore." in text
    assert "Gap by wire cannot be had: needs" in text
    assert "Cannot be had yet" in text
    nothing = plain(card_page(BenchCard(te.TopEnd())))
    assert "Gap by wire cannot be had: needs" in nothing
    assert "The gap was not checked, for it cannot be had" in nothing


def test_blanks_for_four_clocks_and_the_limits_beside_them(sample: Sample) -> None:
    page = card_page(BenchCard(still(sample)))
    text = plain(page)
    start = text.index("Gap by wire expected 0.89 mm ; stop outside 0.78 to 1.00 mm , or where opposite sides differ by more than 0.07 mm")
    told = text[start : start + 500]
    assert re.search(r"12 o'clock 3 o'clock 6 o'clock 9 o'clock mm", told)
    assert page.count('class="blank"') >= 4 + 4 + 3


def test_provenance_names_packs_versions_and_whole_digests(fell50: BenchCard) -> None:
    text = plain(card_page(fell50))
    one = fell50.top.provenance[0]
    assert f"Pack {one.pack} {one.version} sha256 {one.digest}" in text
    assert f"topend {te.__version__}" in text
    changed = BenchCard(fell50.top.replace({"head.recess_offset": "-0.9 mm"}))
    assert "(changed in the job)" in plain(card_page(changed))
    assert "No part is from a data pack" in plain(card_page(BenchCard(te.TopEnd(deck=te.DeckReading(clearance="1 mm")))))


@pytest.fixture
def fell50() -> BenchCard:
    """The card of the shipped example."""
    job = te.load_job(ROOT / "docs" / "examples" / "fell50.toml")
    return BenchCard(job.top, title=job.title, file="fell50.toml", packs=tuple(pack.told for pack in job.packs))


# --- what it never holds ---------------------------------------------------------------------------------------------


def test_it_fetches_nothing_and_runs_nothing(sample: Sample) -> None:
    for page in (card_page(BenchCard(sample())), sheet_page(AssemblySheet(BenchCard(sample())))):
        assert not re.search(r"<script|<iframe|<object|<embed|@import|\bsrc\s*=|\bon\w+\s*=", page)
        addresses = set(re.findall(r"[a-z]+://[^\"'<> )]+", page))
        # names of XML vocabularies, which nobody fetches
        assert all(one.startswith(("http://www.w3.org/", "http://purl.org/", "http://creativecommons.org/")) for one in addresses)
        assert all(one.startswith("#") for one in re.findall(r"url\(([^)]*)\)", page))
        links = re.findall(r'href="([^"]*)"', page)
        assert all(one.startswith(("#", "data:,")) or one in addresses for one in links)


def test_names_from_files_are_text_and_nothing_else(sample: Sample) -> None:
    nasty = '<img src=x onerror="alert(1)">&amp;'
    gasket = te.Gasket(role="base", name=nasty, thickness="0.50 mm")
    card = BenchCard(still(sample, base_gaskets=[gasket]), title=nasty, file=nasty)
    for page in (card_page(card), sheet_page(AssemblySheet(card))):
        assert "<img" not in page
        assert html.escape(nasty, quote=False).split(" ")[0] in page
        assert nasty in plain(page)


def test_the_same_card_gives_the_same_page(sample: Sample) -> None:
    card = BenchCard(sample())
    assert card_page(card) == card_page(card)


def test_every_anchor_leads_somewhere_and_no_id_comes_twice(sample: Sample) -> None:
    page = card_page(BenchCard(still(sample)))
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(ids)
    assert set(re.findall(r"url\(#([^)]+)\)", page)) <= set(ids)
    for labelled in re.findall(r'aria-labelledby="([^"]+)"', page):
        assert set(labelled.split()) <= set(ids)


# --- the drawing -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("radius", [17.0, 19.5, 22.6, 23.5])
def test_the_gap_drawn_is_the_gap_that_a_wire_reads(sample: Sample, radius: float) -> None:
    top = sample()
    shape = shape_of(top)
    assert shape is not None
    roof, crown = np.array(shape.roof), np.array(shape.crown)
    drawn = np.interp(radius, roof[:2, 0], roof[:2, 1]) - np.interp(radius, crown[:, 0], crown[:, 1])
    # the crown is drawn as 60 chords
    assert drawn == pytest.approx(te.evaluate(top).gap_at(f"{radius} mm").m_as("mm"), abs=1e-3)


def test_the_bowl_sketched_holds_the_chamber_that_was_stated(sample: Sample) -> None:
    """Second route: the cap's and the band's volume by quadrature over the radius."""
    for volume in (6.4, 4.5, 20.0):
        top = sample().replace({"head.chamber_volume": f"{volume} cc"})
        shape = shape_of(top)
        assert shape is not None
        assert shape.bowl is not None
        inner, outer = shape.roof[0][0], shape.roof[1][0]
        lift = shape.roof[0][1] - shape.roof[1][1]
        straight = max(0.0, shape.bowl - inner)
        rise = shape.bowl - straight
        sphere = (inner**2 + rise**2) / (2 * rise)

        def height(
            at: float, inner: float = inner, outer: float = outer, lift: float = lift, sphere: float = sphere, shape: object = shape
        ) -> float:
            if at > inner:
                return lift * (outer - at) / (outer - inner)
            return lift + shape.bowl - sphere + math.sqrt(max(sphere**2 - at**2, 0.0))  # type: ignore[attr-defined]

        found = sum(quad(lambda at: 2 * math.pi * at * height(at), *ends)[0] for ends in ((0.0, inner), (inner, outer)))
        assert found / 1e3 == pytest.approx(volume, rel=1e-6)


def paths(svg: str, kind: str) -> list[np.ndarray]:
    found = re.findall(rf'<path class="{kind}" d="M([^"Z]*)', svg)
    return [np.array([[float(one) for one in point.split()] for point in path.split(" L")]) for path in found]


def test_it_is_to_scale_both_ways(sample: Sample) -> None:
    """Bore and crown against the bar of 20 mm that stands below the drawing."""
    svg = section_svg(sample())
    assert svg is not None
    bar = re.search(r'<line class="bar" x1="0.50" y1="([\d.]+)" x2="([\d.]+)" y2="\1"', svg)
    assert bar is not None
    per_mm = float(bar[2]) / 20.0
    (piston,) = paths(svg, "piston")
    assert np.ptp(piston[:, 0]) / per_mm == pytest.approx(47.6, abs=0.02)
    crown = piston[1:-1]
    assert np.ptp(crown[:, 1]) / per_mm == pytest.approx(2.2, abs=0.02)
    gaskets = sorted(np.ptp(one[:, 1]) / per_mm for one in paths(svg, "gasket"))
    assert gaskets == pytest.approx([0.3, 0.3, 0.5, 0.5], abs=0.01)


def test_the_enlarged_gap_is_to_scale_too(sample: Sample) -> None:
    top = sample()
    svg = gap_svg(top, [(22.6, te.evaluate(top).gap_at("22.6 mm").m_as("mm"))])
    assert svg is not None
    bar = re.search(r'<line class="bar" x1="0.50" y1="([\d.]+)" x2="([\d.]+)" y2="\1"', svg)
    length = re.search(r">(\d+) mm; one scale both ways<", svg)
    assert bar is not None
    assert length is not None
    per_mm = float(bar[2]) / float(length[1])
    measure = re.search(r'<line class="measure" x1="([\d.]+)" y1="([\d.]+)" x2="\1" y2="([\d.]+)"', svg)
    assert measure is not None
    assert abs(float(measure[2]) - float(measure[3])) / per_mm == pytest.approx(0.890, abs=2e-3)


def test_a_piston_above_the_deck_and_a_dish_are_drawn_where_they_are() -> None:
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="54 mm"),
        piston=te.Piston(crown=te.DishCrown(depth="2 mm", diameter="30 mm")),
        deck=te.DeckReading(clearance="-0.3 mm", base_thickness="0.5 mm"),
        head=te.FlushHead(
            recess_offset="0.8 mm",
            recess_diameter="57 mm",
            chamber_volume="11 cc",
            band=te.SquishBand(outer_diameter="54 mm", inner_diameter="36 mm", angle="3 deg"),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm")],
        head_gaskets=[
            te.Gasket(role="head", thickness="0.3 mm", opening="58 mm"),
            te.Gasket(role="head", thickness="0.5 mm", opening="60 mm"),
        ],
    )
    shape = shape_of(top)
    assert shape is not None
    assert shape.crown[0] == (0.0, pytest.approx(-1.7))
    assert shape.crown[-1] == (27.0, pytest.approx(0.3))
    assert shape.gaskets == ((pytest.approx(0.3), 29.0), (pytest.approx(0.5), 30.0))
    assert shape.roof[-2:] == ((28.5, pytest.approx(1.6)), (28.5, pytest.approx(0.8)))
    assert "0.30 mm above the deck" in (section_svg(top) or "")


def test_what_is_not_known_is_left_out_or_dashed() -> None:
    bore = te.TopEnd(cylinder=te.Cylinder(bore="54 mm"))
    assert 'class="piston' not in (section_svg(bore) or "")
    assert gap_svg(bore) is None
    crown = te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), deck=te.DeckReading(clearance="0.5 mm"), piston=te.Piston())
    svg = section_svg(crown) or ""
    assert 'class="piston unknown"' in svg
    assert "piston (crown?)" in svg


# --- the file, the command -------------------------------------------------------------------------------------------


def test_a_page_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    target = tmp_path / "card.html"
    target.mkdir()
    with pytest.raises(te.ArgumentError, match=r"card\.html: is a folder; name a file in it"):
        write_page("<p>", target)
    assert [one.name for one in tmp_path.iterdir()] == ["card.html"]
    assert write_page("<p>±", tmp_path / "other.html").read_text(encoding="utf-8") == "<p>±"


def test_without_jinja_the_extra_is_named(sample: Sample, monkeypatch: pytest.MonkeyPatch) -> None:
    from topend.report.html import page

    monkeypatch.setitem(sys.modules, "jinja2", None)
    page._environment.cache_clear()
    with pytest.raises(
        te.TopendError, match=r"^a page needs Jinja2, of the extra 'report'; install it with: pip install 'topend\[report\]'"
    ):
        BenchCard(still(sample)).page()


def test_clearance_over_speed_is_that_of_the_curve(sample: Sample) -> None:
    """Its points at the ends and at the stated speed, read off the drawing by its own ticks, against `te.evaluate` there."""
    top = sample()
    svg = over_speed_svg(top)
    ticks = {float(tick): float(y) - 4.0 for y, tick in re.findall(r'y="([\d.]+)" text-anchor="end">(-?\d\.\d)<', svg)}
    low, high = min(ticks), max(ticks)
    points = re.search(r'class="curve" points="([^"]+)"', svg)
    assert points is not None
    read = [low + (ticks[low] - float(pair.split(",")[1])) / (ticks[low] - ticks[high]) * (high - low) for pair in points[1].split()]
    for speed, gap in ((1500.0, read[0]), (1.2 * 11500.0, read[-1])):
        there = te.evaluate(top.replace({"running.crank_speed": f"{speed} rpm"}), ["running_clearance"]).running_clearance.m_as("mm")
        assert gap == pytest.approx(there, abs=1e-3)
    # the letters of a phone are 19 units high, and a speed of five digits is five of them wide at most
    width = float(re.search(r'viewBox="0 0 (\d+)', svg)[1])  # type: ignore[index]
    assert all(
        float(at) + 0.3 * 19.0 * len(speed) < width for at, speed in re.findall(r'x="([\d.]+)" y="271.0" text-anchor="middle">(\d+)<', svg)
    )
    assert f"11500 rpm: {te.evaluate(top, ['running_clearance']).running_clearance.m_as('mm'):.2f} mm" in svg
    assert "Clearance over speed" in card_page(BenchCard(top))
    assert "Clearance over speed" not in card_page(BenchCard(still(sample)))


def test_a_card_waits_for_no_matplotlib_and_no_solver(tmp_path: Path) -> None:
    code = (
        "import sys; from topend.cli import main; assert main(['card', 'docs/examples/fell50.toml', '--html', sys.argv[1]]) == 0; "
        "print(*sorted({'matplotlib', 'scipy.optimize', 'scipy.stats', 'topend.solve'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code, str(tmp_path / "card.html")], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [f"written: {tmp_path / 'card.html'}", ""]
    assert (tmp_path / "card.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_the_core_does_without_the_extra(sample: Sample, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("jinja2", "markupsafe", "matplotlib"):
        monkeypatch.setitem(sys.modules, name, None)
    assert BenchCard(still(sample)).text
    assert AssemblySheet(BenchCard(still(sample))).text


def test_forms_that_do_not_go_together_are_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job = str(ROOT / "docs" / "examples" / "least.toml")
    for options, told in (
        (("--json", "--html", str(tmp_path / "x.html")), "--json and --html are two forms of the same; give one of them"),
        (("--json", "--inch"), "--inch is for people; JSON gives each figure with its unit in millimetres"),
    ):
        for command in ("card", "assemble"):
            assert main([command, job, *options]) == 2
            assert told in " ".join(capsys.readouterr().err.split())
    assert main(["card", job, "--html", str(tmp_path / "nowhere" / "x.html")]) == 2
    assert "x.html" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
