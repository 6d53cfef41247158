"""What a fixture's check looks like: text, JSON, the drawing at 1:1, the file it is read from, the command."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import topend as te
from topend.report.fixture import FixtureReport
from topend.report.hole_pattern import hole_pattern, write_hole_pattern
from topend.solve.fixture_file import load_fixture

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ROOT / "docs" / "examples" / "fixture-fell.toml"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def check() -> te.FixtureCheck:
    return load_fixture(EXAMPLE).check()


def test_the_example(check: te.FixtureCheck) -> None:
    """Invented: a plate that fits two of three families; on the second it is best a quarter turned, away from two jackets."""
    assert [one.verdict for one in check.families] == ["fits", "fits", "does not fit"]
    assert [round(one.turns[0].angle) for one in check.families[:2]] == [0, 90]
    assert (check.hole_depth, check.stop) == pytest.approx((7.0, 19.0))


def test_the_text(check: te.FixtureCheck) -> None:
    text = FixtureReport(check, title="Fell, plate A", file="x.toml").text
    assert text.startswith("DRILLING FIXTURE: Fell, plate A\nfrom x.toml\n\nONE PLATE FOR 3 FAMILIES: 2 SURELY\n")
    for told in (
        "  Rigg 50, early  fits; lip play 0.015 to 0.038 mm; thinnest wall 5.92 mm, to\n",
        "goes on at 4 turns; best turned +90.0 deg from the mark, ± 0.51 deg of play,",
        "hole 1: x +28.50, y +0.00 mm (0.0 deg from the mark)",
        "! the lip (39.96 mm ± 0.01 mm) is loose in the bore",
        "! stud 0, every slot is narrower than it",
        "7.0 mm deep in each part at full diameter, for half a pin and an allowance,\n",
        "8.2 mm to the drill's point; stop at 19.0 mm, through the plate",
        "a chamfer of 45 deg that takes them is 0.31 mm deep; one that is deeper takes",
        "pins ISO 8752, 4 mm: 4.40 to 4.60 mm before they are driven in",
        "CAUTIONS\n  Cutting a head",
    ):
        assert told in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_what_the_plate_s_play_does_to_the_head_is_told(check: te.FixtureCheck) -> None:
    turn = check.families[0].turns[0]
    told = (
        f"! put anywhere in its play on either part it may leave the head turned by {turn.head_turned:.2f} deg, of which the head's stud "
        f"holes take {turn.head_may_turn:.2f} deg: put its slots in the middle over the studs, or over bolts in the head, before drilling"
    )
    assert told in " ".join(FixtureReport(check).text.split())
    # slots and studs without play leave the bolts' room in the head's holes, and that is what those take
    slots = [one.replace(width="6 mm") for one in check.fixture.slots]
    family = check.families[0].family.replace(stud_diameter="6 mm", stud_position="0 mm", stud_hole_diameter="6.2 mm")
    close = FixtureReport(te.fixture_check(check.fixture.replace(slots=slots), [family], pin=check.pin))
    told = "it may leave the head turned by\n  0.21 deg, of which the head's stud holes take 0.21 deg\n"
    assert f"\n  put anywhere in its play on either part {told}" in close.text
    made = json.loads(close.json())["families"][0]["turns"][0]
    assert (made["head_turned"], made["head_may_turn"]) == pytest.approx([math.degrees(0.1 / 27.5)] * 2, rel=1e-5)


def test_json_has_the_same_figures(check: te.FixtureCheck) -> None:
    made = json.loads(FixtureReport(check).json())
    assert [one["verdict"] for one in made["families"]] == [one.verdict for one in check.families]
    assert made["families"][1]["turns"][0]["holes"][0]["y"] == pytest.approx(28.5)
    assert made["hole_depth"] == {"value": 7.0, "unit": "mm"}
    assert made["fits_all"] is False
    assert FixtureReport(check).json(ascii_only=True).isascii()


def test_thin_walls_are_marked(check: te.FixtureCheck) -> None:
    near = te.StudFamily(
        name="near",
        bore="40 mm",
        pattern=te.StudPattern(count=4, circle_diameter="55 mm", diameter="6 mm"),
        first_angle="45 deg",
        obstacles=[te.Obstacle(what="coolant", angle_from="0 deg", angle_to="360 deg", circle_from="56 mm", circle_to="70 mm")],
    )
    thin = te.fixture_check(check.fixture, [near], pin=check.pin)
    text = FixtureReport(thin).text
    assert "THIN WALL -2." in text
    assert re.search(r"! runs 2\.\d\d mm into coolant: under the 2 mm wanted", text)
    assert "2 mm wanted" in hole_pattern(thin)


# --- the drawing -----------------------------------------------------------------------------------------------------


def drawn(check: te.FixtureCheck, name: str | None = None, **more: Any) -> ElementTree.Element:
    return ElementTree.fromstring(hole_pattern(check, name, **more))


def circles(root: ElementTree.Element, css: str) -> list[tuple[float, float, float]]:
    return [tuple(float(one.attrib[key]) for key in ("cx", "cy", "r")) for one in root.iter(f"{SVG}circle") if one.attrib["class"] == css]  # type: ignore[misc]


def test_a_millimetre_is_a_millimetre(check: te.FixtureCheck) -> None:
    """SVG 1.1, 7.7 to 7.9: with a viewBox as large as width and height in mm, a user unit is a millimetre, both ways."""
    root = drawn(check, "Rigg 50")
    _, _, wide, high = root.attrib["viewBox"].split()
    assert (root.attrib["width"], root.attrib["height"]) == (f"{wide}mm", f"{high}mm")
    one, other = circles(root, "pin")
    assert math.hypot(one[0] - other[0], one[1] - other[1]) == pytest.approx(57.0, abs=2e-3)
    assert one[2] == pytest.approx(3.98 / 2)
    ((x, y, radius),) = circles(root, "bore")
    assert radius == pytest.approx(40.0125 / 2, abs=1e-3)
    for stud in circles(root, "stud"):
        assert math.hypot(stud[0] - x, stud[1] - y) == pytest.approx(27.5, abs=2e-3)
    # the bars that are measured on the print, one along and one down the page
    lengths = {
        (abs(float(line.attrib["x2"]) - float(line.attrib["x1"])), abs(float(line.attrib["y2"]) - float(line.attrib["y1"])))
        for line in root.iter(f"{SVG}line")
    }
    assert (100.0, 0.0) in {(round(a, 6), round(b, 6)) for a, b in lengths}
    assert (0.0, 50.0) in {(round(a, 6), round(b, 6)) for a, b in lengths}
    # all of it lies on the paper
    for x, y, r in (*circles(root, "pin"), *circles(root, "gasket"), *circles(root, "stud")):
        assert r < x < float(wide) - r
        assert r < y < float(high) - r


def test_the_head_is_the_cylinder_turned_over(check: te.FixtureCheck) -> None:
    """Laid face to face, bore on bore, the pin holes and studs of both prints lie on each other."""

    def places(name: str, css: str, side: float, **more: Any) -> list[float]:
        root = drawn(check, name, **more)
        ((x, y, _),) = circles(root, "bore")
        return [part for place in sorted((round(side * (a - x), 1), b - y) for a, b, _ in circles(root, css)) for part in place]

    for name in ("Rigg 50", "Rigg 50, early"):
        for css in ("pin", "stud"):
            assert places(name, css, 1.0) == pytest.approx(places(name, css, -1.0, part="head"), abs=3e-3)
    # the head's holes for the studs are wider
    assert circles(drawn(check, "Rigg 50", part="head"), "stud")[0][2] == pytest.approx(6.5 / 2)


def test_what_is_below_the_holes_is_dashed(check: te.FixtureCheck) -> None:
    shapes = list(drawn(check, "Rigg 50").iter(f"{SVG}polygon"))
    assert [one.attrib["fill"] == "none" for one in shapes] == [False, True]


def test_a_pattern_is_written_whole(check: te.FixtureCheck, tmp_path: Path) -> None:
    where = write_hole_pattern(check, tmp_path / "rigg.svg", "Rigg 50")
    assert where.read_text(encoding="utf-8") == hole_pattern(check, "Rigg 50")
    assert [path.name for path in tmp_path.iterdir()] == ["rigg.svg"]
    odd = te.fixture_check(check.fixture, [check.families[0].family.replace(name='<Rigg> & "sons"')], pin=check.pin)
    assert '<Rigg> & "sons": cylinder, seen from above' in [one.text for one in drawn(odd).iter(f"{SVG}text")]


def test_what_cannot_be_drawn_is_told(check: te.FixtureCheck, tmp_path: Path) -> None:
    with pytest.raises(te.ArgumentError, match="there are 3 families; name one of Rigg 50, Rigg 50, early, Holm 70"):
        hole_pattern(check)
    with pytest.raises(te.UnknownNameError, match="no family is called 'Rig 50' in the families that were checked; nearest: Rigg 50"):
        hole_pattern(check, "Rig 50")
    with pytest.raises(te.ArgumentError, match="Holm 70: there are no holes to draw: the plate does not go on"):
        hole_pattern(check, "Holm 70")
    twice = te.fixture_check(check.fixture, [check.families[0].family] * 2, pin=check.pin)
    with pytest.raises(te.ArgumentError, match="2 families are named 'Rigg 50'; give each a name of its own"):
        hole_pattern(twice, "Rigg 50")
    for path, why in (
        (tmp_path, "is a folder; name a file in it"),
        (tmp_path / "no" / "a.svg", "there is no folder .*; make it first"),
    ):
        with pytest.raises(te.ArgumentError, match=why):
            write_hole_pattern(check, path, "Rigg 50")
    bare = te.fixture_check(check.fixture.replace(pin_distance=None), [check.families[0].family])
    with pytest.raises(te.ArgumentError, match="the plate has no pin_distance, or neither drill nor pin a diameter"):
        hole_pattern(bare)


# --- the file and the command ----------------------------------------------------------------------------------------


def written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "plate.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ["format is missing: format = 1"]),
        ("format = 2", ["line 1: format is 2; this version of topend reads format 1"]),
        (
            'format = 1\nfixtur = 3\nleast_wall = "2"\n[pin]\nstandard = "ISO 8752"\ndiameter = "4.2 mm"\n[[families]]\nbore = "40"\n',
            [
                "line 2: fixtur is not a key of a file of a fixture; nearest: fixture; it may have format, title, packs, fixture, pin, ",
                "line 3: least_wall needs a length",
                "line 4: pin diameter 4.2 mm is no size of ISO 8752 in the table",
                "line 8: families.0.bore needs a length",
                "fixture is missing",
            ],
        ),
        (
            'format = 1\n[fixture]\nlip_diameter = "40 mm"\n',
            ["families is missing: each family is a table [[families]] with its bore and studs"],
        ),
        (
            'format = 1\nleast_wall = "-1 mm"\n[fixture]\nlip_diameter = "40 mm"\n[families]\nbore = "40 mm"\n',
            [
                "line 2: least_wall must be 0 mm or more; got '-1 mm'",
                "line 5: families must be a list of tables; got a table: each family is a table [[families]] with its bore and studs",
            ],
        ),
        (
            "format = 1\nfixture = 3\nfamilies = [4]\ntitle = 5\n",
            [
                "line 2: fixture must be a table; got 3: write it as [fixture], with at least its lip_diameter, or name one of a",
                "line 3: families.0 must be a table; got 4: write it as [[families]], with its bore and studs, or name one of a pack",
                "line 4: title must be a text; got 5",
            ],
        ),
    ],
)
def test_all_that_is_wrong_in_a_file_is_told(text: str, told: list[str], tmp_path: Path) -> None:
    with pytest.raises(te.JobError) as caught:
        load_fixture(written(tmp_path, text))
    for one in told:
        assert one in str(caught.value)


def test_families_of_one_name_are_refused(tmp_path: Path) -> None:
    """The wrong one of two would be drawn."""
    text = EXAMPLE.read_text(encoding="utf-8").replace('"Rigg 50, early"', '"Rigg 50"')
    with pytest.raises(te.JobError, match=r"families\.1\.name is 'Rigg 50' as of another family; each needs a name of its own"):
        load_fixture(written(tmp_path, text))


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """A pack with the example's plate, pin and first family, and a location; invented."""
    text = EXAMPLE.read_text(encoding="utf-8")
    plate, rest = text[text.index("[fixture]") :].split("[pin]\n")
    pin, rest = rest.split("# angles count")
    family = rest.split("[[families]]\n")[1]
    folder = tmp_path / "shop"
    folder.mkdir()
    manifest = 'format = 1\nid = "shop"\nversion = "1.0.0"\ntitle = "Invented"\nsource = [{ kind = "invented", title = "invented" }]\n'
    (folder / "pack.toml").write_text(manifest, encoding="utf-8")
    tables = plate.replace("[fixture]", "[fixture.plate]") + f"[locating_pin.four]\n{pin}\n[family.rigg]\n{family}"
    tables += '\n[location.two]\nkind = "pins"\npin_distance = "57 mm"\npin_hole_diameter = "4.05 mm"\n'
    (folder / "parts.toml").write_text(tables, encoding="utf-8")
    return folder


def test_a_file_that_names_parts_of_a_pack(shop: Path, check: te.FixtureCheck, tmp_path: Path) -> None:
    """The same answer as with all of it in the file; a job takes its location from there too."""
    text = 'format = 1\npacks = ["shop"]\nfixture = "shop/plate"\npin = "shop/four"\nfamilies = ["shop/rigg"]\n'
    found = load_fixture(written(tmp_path, text)).check()
    assert found.families[0].turns == check.families[0].turns
    assert (found.hole_depth, found.stop) == (check.hole_depth, check.stop)
    assert te.Catalogue.load(shop).of("family") == ["shop/rigg"]
    job = tmp_path / "job.toml"
    job.write_text('format = 1\npacks = ["shop"]\nlocation = "shop/two"\n[cylinder]\nbore = "40 mm"\n', encoding="utf-8")
    where = te.load_job(job).top.location
    assert isinstance(where, te.PinLocation)
    assert where.name == "shop/two"
    # a location says which it is
    (shop / "more.toml").write_text('[location.bare]\nhead_coaxiality = "0.01 mm"\n', encoding="utf-8")
    with pytest.raises(te.PackError, match=r"location\.bare needs kind, which says what it is: spigot, register, pins or studs"):
        te.load_job(job)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            'fixture = "shop/plate"',
            "line 2: fixture is 'shop/plate', but this file has no packs to look in; name their folders, as in packs",
        ),
        ('packs = ["shop"]\nfixture = "shop/plat"', "fixture is 'shop/plat', but no part of shop 1.0.0 is called so; nearest: shop/plate"),
        ('packs = ["shop"]\nfixture = "shop/rigg"', "fixture is 'shop/rigg', which is a family; here goes a fixture"),
        ('packs = ["shops"]\nfixture = "shop/rigg"', "line 2: packs.0 is 'shops', but there is no folder"),
        ('packs = "shop"\nfixture = "shop/plate"', "line 2: packs must be a list of folders, such as"),
    ],
)
def test_a_part_that_is_not_in_the_packs_is_told(text: str, told: str, shop: Path, tmp_path: Path) -> None:
    with pytest.raises(te.JobError, match=re.escape(told)):
        load_fixture(written(tmp_path, f"format = 1\n{text}\n"))


def test_the_command(typed: Callable[[str, Path], str], tmp_path: Path) -> None:
    assert json.loads(typed("topend fixture docs/examples/fixture-fell.toml --json", ROOT))["fits_all"] is False
    said = typed(f'topend fixture docs/examples/fixture-fell.toml --draw {tmp_path}/head.svg --family "Rigg 50" --head', ROOT)
    assert said == f"written: {tmp_path}/head.svg\n"
    assert "head, seen on its gasket face" in (tmp_path / "head.svg").read_text(encoding="utf-8")


def test_pins_are_not_said_to_hold_anything() -> None:
    """A capacity without its load reads as if it were enough."""
    even = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    plate = te.DrillingFixture(lip_diameter="39.98 mm", pin_distance="58 mm", drill_diameter="4 mm")
    pin = te.LocatingPin(standard="ISO 8752", diameter="4 mm", length="12 mm")
    text = FixtureReport(te.fixture_check(plate, [te.StudFamily(name="demo", bore="40 mm", pattern=even)], pin=pin)).text
    assert "kN" not in text
    assert "what a pin could carry is not judged" in " ".join(text.split())
