"""Drawings of half-sections: the DXF read back, the page's lines against the section, files written whole."""

from __future__ import annotations

import math
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.report.drawings.lines import ARROW, hatch_lines

BAND = te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33 mm", angle="9 deg")
PLUG = te.PlugSeat(thread_diameter="14 mm", thread_pitch="1.25 mm")
SECTIONS: dict[str, Any] = {
    "bowl": te.BowlProfile(band=BAND, depth="9.5 mm", plug=PLUG),
    "hemisphere": te.HemisphereProfile(band=BAND.replace(inner_diameter="26 mm"), wall_height="1 mm"),
    "bathtub": te.BathtubProfile(band=BAND, depth="8 mm", corner_radius="3 mm", plug=PLUG),
    "truncated cone": te.ConeProfile(band=BAND, depth="8 mm", roof_diameter="20 mm"),
    "toroidal rim": te.ToroidalProfile(band=BAND, rim_radius="4 mm", depth="9 mm", boss_height="3 mm", plug=PLUG),
    "contour": te.ContourProfile(
        points=[
            te.ProfilePoint(radius="23.6 mm", height="0 mm"),
            te.ProfilePoint(radius="16.5 mm", height="1.1 mm"),
            te.ProfilePoint(radius="15 mm", height="2.6 mm", arc_radius="-2 mm"),
            te.ProfilePoint(radius="0 mm", height="10 mm", arc_radius="25 mm"),
        ]
    ),
}


def drawing(name: str, **head: Any) -> te.HeadDrawing:
    made = te.SpigotHead(**{"recess_offset": "-0.9 mm", "spigot_diameter": "47.2 mm", "profile": SECTIONS[name], **head})
    return te.HeadDrawing(te.TopEnd(cylinder=te.Cylinder(bore="47.6 mm"), head=made), title="Example <50 cc>, invented")


@pytest.mark.parametrize("name", sorted(SECTIONS))
def test_a_dxf_read_back_has_the_same_volume(name: str, tmp_path: Path) -> None:
    """By ezdxf: its own lines and arcs, each summed by π∫x²dy over its parameter, which is none of the library's sums."""
    ezdxf = pytest.importorskip("ezdxf")
    path = drawing(name).write(tmp_path / "head.dxf")
    read = ezdxf.readfile(path)
    assert read.units == ezdxf.units.MM
    assert read.audit().errors == []
    found = list(read.modelspace().query("LWPOLYLINE"))
    assert len(found) == 1
    assert found[0].closed
    assert found[0].dxf.layer == "CHAMBER"
    volume = 0.0
    at, weight = np.polynomial.legendre.leggauss(64)
    share = 0.5 + 0.5 * at
    for piece in found[0].virtual_entities():
        if piece.dxftype() == "LINE":
            start, end = piece.dxf.start, piece.dxf.end
            x, up = start.x + (end.x - start.x) * share, np.full_like(share, end.y - start.y)
        else:
            first, last = (math.radians(angle) for angle in (piece.dxf.start_angle, piece.dxf.end_angle))
            turn = (last - first) % (2 * math.pi)
            # ezdxf turns every arc to the left; one that bulges inward is walked the other way
            ends = [(end.x, end.y) for end in (piece.start_point, piece.end_point)]
            corners = _corners(found[0])
            walked = next(pair for pair in zip(corners, [*corners[1:], corners[0]], strict=True) if _same(ends, pair))
            forward = math.dist(ends[0], walked[0]) < 1e-6
            angle = first + turn * share
            x = piece.dxf.center.x + piece.dxf.radius * np.cos(angle)
            up = piece.dxf.radius * np.cos(angle) * turn * (1 if forward else -1)
        volume += float(np.sum(0.5 * weight * math.pi * x**2 * up))
    plain = SECTIONS[name]
    assert volume * 1e-3 == pytest.approx(plain.volume.m, rel=1e-9)
    lines: dict[str, list[Any]] = {}
    for one in read.modelspace().query("LINE"):
        lines.setdefault(one.dxf.layer, []).append(one.dxf)
    (axis,) = lines.pop("AXIS")
    assert axis.start.x == axis.end.x == 0.0
    # the gasket face stands 0.9 above the plane of the band's edge; the spigot is the band's own diameter
    wall, face = lines.pop("GASKET_FACE")
    assert (wall.start.x, wall.start.y, wall.end.x, wall.end.y) == pytest.approx((23.6, 0.0, 23.6, 0.9))
    assert (face.start.y, face.end.y) == pytest.approx((0.9, 0.9))
    if plain.plug is not None:
        (hole,) = lines.pop("PLUG_HOLE")
        # minor diameter of M14 x 1.25 by ISO 724, 12.647
        assert 2.0 * hole.start.x == 2.0 * hole.end.x == pytest.approx(12.647, abs=5e-4)
    assert not lines


def _corners(line: Any) -> list[tuple[float, float]]:
    return [(x, y) for x, y in line.get_points("xy")]


def _same(ends: Any, pair: Any) -> bool:
    one, two = list(ends), list(pair)
    return any(math.dist(a, two[0]) < 1e-6 and math.dist(b, two[1]) < 1e-6 for a, b in (one, one[::-1]))


@pytest.mark.parametrize("name", sorted(SECTIONS))
def test_what_stands_on_the_page(name: str) -> None:
    made = drawing(name)
    root = ET.fromstring(made.svg)
    space = "{http://www.w3.org/2000/svg}"
    assert root.get("width") == "297mm"
    texts = [text.text for text in root.iter(f"{space}text")]
    assert "Example <50 cc>, invented" in texts
    assert any("all sizes in mm" in str(text) for text in texts)
    volume = te.evaluate(made.top, ["chamber_volume"]).shown("chamber_volume")
    assert f"Chamber volume {volume:.3f} cc above the band-edge plane" in texts
    assert "Band stands proud of the gasket face by 0.90" in texts
    for radius, height, _ in made.contour:
        if radius > 0:
            assert f"Ø{2 * radius:.2f}" in texts
        if height > 0.005:
            assert f"{height:.2f}" in texts
    # nothing leaves the frame
    for line in made.sheet.lines:
        for x, y in line.points:
            assert 10.0 <= x <= 287.0
            assert 10.0 <= y <= 200.0
    # line kinds of ISO 128: the outline twice as wide as the rest, the axis long-dashed dotted
    outlines = {line.get("stroke-width") for line in root.iter(f"{space}polyline")}
    assert outlines == {"0.5", "0.25"}
    assert any(line.get("stroke-dasharray") == "6 0.75 0.25 0.75" for line in root.iter(f"{space}polyline"))


def test_radii_and_the_plug_are_named() -> None:
    words = {one.text for one in drawing("bathtub").sheet.words}
    assert {"R3.00", "M14 × 1.25", "Ø27.00", "9.00°"} <= words
    assert {"R4.00", "R2.00", "R25.00"} & {one.text for one in drawing("contour").sheet.words} == {"R2.00", "R25.00"}


def quarter(count: int) -> te.ContourProfile:
    turns = [math.pi / 2 * step / (count - 1) for step in range(count)]
    over = [(max(16.5 * math.cos(turn), 0.0), 1.1 + 12.0 * math.sin(turn)) for turn in turns]
    places = [(23.6, 0.0), *over[:-1], (0.0, over[-1][1])]
    return te.ContourProfile(points=[{"radius": f"{x!r} mm", "height": f"{y!r} mm"} for x, y in places])


@pytest.mark.parametrize("count", [4, 6, 7, 8, 12, 23])
def test_many_corners_go_to_a_table_and_nothing_leaves_the_page(count: int) -> None:
    section = quarter(count)
    made = drawing("bowl", profile=section)
    words = [one.text for one in made.sheet.words]
    assert ("arc to it" in words) is (count > 6)
    for point in section.points:
        assert f"{point.height.m_as('mm'):.2f}" in words or point.height.m == 0.0
        size = f"{2.0 * point.radius.m_as('mm'):.2f}"
        assert size in words or f"Ø{size}" in words or point.radius.m == 0.0
    places = [place for line in made.sheet.lines for place in line.points]
    places += [place for one in made.sheet.words for place in one.ground]
    assert all(10.0 <= x <= 287.0 and 10.0 <= y <= 200.0 for x, y in places)


@pytest.mark.parametrize("bore", [12.0, 30.0, 47.6, 58.0, 80.0, 110.0])
@pytest.mark.parametrize("name", ["bowl", "contour"])
def test_a_head_of_any_size_stays_on_the_page_and_off_its_corner(name: str, bore: float) -> None:
    section = SECTIONS[name] if name == "bowl" else quarter(6)
    share = bore / 47.6
    if name == "bowl":
        band = te.SquishBand(outer_diameter=f"{bore - 0.4} mm", inner_diameter=f"{33 * share} mm", angle="9 deg")
        section = te.BowlProfile(band=band, depth=f"{9.5 * share} mm")
    else:
        section = te.ContourProfile(
            points=[{"radius": f"{one.radius.m * share} mm", "height": f"{one.height.m * share} mm"} for one in section.points]
        )
    head = te.SpigotHead(recess_offset="-0.9 mm", spigot_diameter=f"{bore - 0.1} mm", profile=section)
    sheet = te.HeadDrawing(te.TopEnd(cylinder=te.Cylinder(bore=f"{bore} mm"), head=head), title="A title that goes on and on " * 3).sheet
    places = [place for line in sheet.lines for place in line.points] + [place for one in sheet.words for place in one.ground]
    assert all(10.0 <= x <= 287.0 and 10.0 <= y <= 200.0 for x, y in places)
    corner = [one for one in sheet.words if one.at[0] == 189.0]
    for one in sheet.words:
        if one not in corner:
            assert not any(x > 187.0 and y < 60.0 for x, y in one.ground)


def test_the_wall_of_spigot_and_recess_stands_where_it_is() -> None:
    made = drawing("bowl", spigot_diameter="47.5 mm")
    assert "Ø47.50" in {one.text for one in made.sheet.words}
    wall = 52.0 + 23.75 * made.scale
    assert any({round(x, 6) for x, _ in line.points[1:3]} == {round(wall, 6)} for line in made.sheet.lines if len(line.points) == 4)
    recess = te.FlushHead(recess_offset="0.5 mm", recess_diameter="48.4 mm", profile=SECTIONS["bowl"])
    flush = te.HeadDrawing(te.TopEnd(cylinder=te.Cylinder(bore="47.6 mm"), head=recess))
    assert "Ø48.40" in {one.text for one in flush.sheet.words}


def test_no_narrow_line_is_seen_through_words() -> None:
    """In the file, every text has its ground after the narrow lines and before the outline."""
    root = ET.fromstring(drawing("contour").svg)
    space = "{http://www.w3.org/2000/svg}"
    group = next(root.iter(f"{space}g"))
    kinds = [one.get("stroke-width") or one.get("fill") for one in group]
    assert kinds == sorted(kinds, key=["0.25", "white", "0.5"].index)
    assert kinds.count("white") == len(list(root.iter(f"{space}text")))


def test_sizes_as_they_were_given_stand_in_the_corner() -> None:
    words = {one.text for one in drawing("truncated cone").sheet.words}
    assert {"Given: depth 8.00, roof diameter 20.00, corner radius 0.00", "Depth counts from the band's inner edge"} <= words


def test_a_dimension_is_as_long_as_it_says() -> None:
    made = drawing("bathtub")
    sheet = made.sheet
    for words in (one for one in sheet.words if one.text.startswith("Ø")):
        size = float(words.text[1:]) / 2 * made.scale
        assert any(abs(tip[0] - (52.0 + size)) < 0.02 * made.scale for tip, _, _ in sheet.arrows)


def test_hatching_is_inside_and_45_degrees() -> None:
    ring = [(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (15.0, 5.0), (0.0, 20.0)]
    lines = hatch_lines(ring, 2.0)
    total = sum(math.dist(*line) for line in lines)
    # as much line as area over distance
    area = 30 * 20 - 0.5 * 30 * 15
    assert total == pytest.approx(area / 2.0, rel=0.03)
    assert all(b[1] - a[1] == pytest.approx(b[0] - a[0]) for a, b in lines)
    assert ARROW == 3.0


def test_a_png_is_a_page_at_200_dots_an_inch() -> None:
    pytest.importorskip("matplotlib")
    made = drawing("bowl").png
    assert made.startswith(b"\x89PNG\r\n\x1a\n")
    width, height = (int.from_bytes(made[at : at + 4], "big") for at in (16, 20))
    assert (width, height) == (int(297 / 25.4 * 200), int(210 / 25.4 * 200))
    # the same page, the same bytes
    assert made == drawing("bowl").png
    assert drawing("bowl").svg == drawing("bowl").svg


def test_files_are_written_whole_or_not_at_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made = drawing("bowl")
    for ending in ("svg", "PNG", "dxf"):
        assert made.write(tmp_path / f"head.{ending}").exists()
    with pytest.raises(
        te.ArgumentError, match=r"head\.step: a drawing is written as \.svg, \.png or \.dxf, by the file's ending; got '\.step'"
    ):
        made.write(tmp_path / "head.step")

    def fails(*_: Any) -> None:
        raise OSError("no room")

    kept = (tmp_path / "head.svg").read_bytes()
    monkeypatch.setattr(Path, "replace", fails)
    with pytest.raises(te.ArgumentError, match=r"/head\.svg: cannot be written: no room"):
        made.write(tmp_path / "head.svg")
    assert (tmp_path / "head.svg").read_bytes() == kept
    assert sorted(path.name for path in tmp_path.iterdir()) == ["head.PNG", "head.dxf", "head.svg"]


@pytest.mark.parametrize(("package", "form"), [("ezdxf", "dxf"), ("matplotlib.figure", "png")])
def test_without_the_extra_it_says_how_to_get_it(package: str, form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, package, None)
    with pytest.raises(te.TopendError, match=r"of the extra 'draw'; install it with: pip install 'topend\[draw\]'"):
        getattr(drawing("bowl"), form)


def test_what_cannot_be_drawn(tmp_path: Path) -> None:
    (tmp_path / "folder.svg").mkdir()
    with pytest.raises(te.ArgumentError, match=r"folder\.svg: is a folder; name a file in it"):
        drawing("bowl").write(tmp_path / "folder.svg")
    with pytest.raises(te.ArgumentError, match=r"there is no folder .*none; make it first"):
        drawing("bowl").write(tmp_path / "none" / "head.svg")
    with pytest.raises(te.ArgumentError, match="title must be a str; got 3, an int"):
        te.HeadDrawing(drawing("bowl").top, title=3)  # type: ignore[arg-type]
    with pytest.raises(te.ArgumentError, match="a drawing needs a head with a half-section"):
        te.HeadDrawing(te.TopEnd(head=te.SpigotHead()))
    with pytest.raises(te.MissingInputError, match=r"the drawing cannot be had: it needs head\.profile\.depth"):
        te.HeadDrawing(te.TopEnd(head=te.SpigotHead(profile=te.BowlProfile(band=BAND))))
    with pytest.raises(te.ArgumentError, match="HeadDrawing"):
        te.HeadDrawing("head.toml")  # type: ignore[arg-type]


def test_a_recessed_head_shows_its_face_below() -> None:
    head = te.FlushHead(recess_offset="0.8 mm", profile=SECTIONS["bathtub"])
    made = te.HeadDrawing(te.TopEnd(cylinder=te.Cylinder(bore="47.6 mm"), head=head))
    words = [one.text for one in made.sheet.words]
    assert "Band is recessed from the gasket face by 0.80" in words
    assert "0.80" in words
    assert "Cylinder head" in words
