"""Pictures: what is drawn, read back from the figure; how it is kept; what is said where it cannot be had."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.errors import MissingExtraError
from topend.report.pictures import PICTURES, style, svg


def engine(**changes: Any) -> te.TopEnd:
    """An invented E125 with a domed crown."""
    parts: dict[str, Any] = {
        "crank": te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        "cylinder": te.Cylinder(
            bore="54 mm",
            ports=[
                te.Port(kind="exhaust", top="30 mm", width="36 mm", corner_radius="4 mm"),
                te.Port(kind="transfer", top="42 mm", width="50 mm"),
            ],
        ),
        "piston": te.Piston(crown=te.SphereCrown(rise="2 mm")),
        "head": te.FlushHead(
            band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="7 deg ± 0.5 deg"), chamber_volume="9.2 cc"
        ),
        "head_gaskets": [te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.02 mm")],
        "deck": te.DeckReading(clearance="0.70 mm ± 0.03 mm"),
        "running": te.Running(crank_speed="12000 rpm"),
    }
    return te.TopEnd(**{name: part for name, part in {**parts, **changes}.items() if part is not None})


def test_the_same_picture_is_the_same_file(tmp_path: Path) -> None:
    for kind in ("png", "svg", "pdf"):
        made = [te.write_picture(te.picture(engine(), "gap_over_radius"), tmp_path / f"{index}.{kind}") for index in range(2)]
        assert made[0].read_bytes() == made[1].read_bytes()
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".pdf", ".pdf", ".png", ".png", ".svg", ".svg"]


def test_svg_is_an_element_to_stand_in_a_page() -> None:
    text = svg(te.picture(engine(), "gap_over_radius"))
    assert text.startswith("<svg ")
    assert text.rstrip().endswith("</svg>")


def test_another_ending_is_refused_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(
        te.ArgumentError, match=r"gap\.bmp: a picture is written as \.png, \.svg or \.pdf, by the file's ending; got '\.bmp'"
    ):
        te.write_picture(te.picture(engine(), "gap_over_radius"), tmp_path / "gap.bmp")
    assert list(tmp_path.iterdir()) == []


def test_a_name_nobody_has() -> None:
    with pytest.raises(te.UnknownNameError, match=r"no picture is called 'gap_over_radios'.*nearest: gap_over_radius"):
        te.picture(engine(), "gap_over_radios")


def test_the_extra_is_named_where_it_is_not_installed(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib.figure", None)
    with pytest.raises(
        MissingExtraError, match=r"pictures need matplotlib, of the extra 'plot'; install it with: pip install 'topend\[plot\]'"
    ):
        te.picture(engine(), "gap_over_radius")


def test_neither_the_library_nor_its_reports_load_matplotlib() -> None:
    code = "import sys, topend.report, topend.report.pictures; assert 'matplotlib' not in sys.modules"
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


def test_no_window_and_no_global_state() -> None:
    code = (
        "import sys, topend.report.pictures.style as style; style.new_figure();"
        "assert 'matplotlib.pyplot' not in sys.modules; import matplotlib;"
        "assert matplotlib.rcParams['axes.grid'] == matplotlib.rcParamsDefault['axes.grid']"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


def lightness(colour: str) -> float:
    """Relative luminance, Rec. 709 (the weights are in IEC 61966-2-1)."""
    parts = [int(colour[at : at + 2], 16) / 255.0 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def test_inks_are_told_apart_without_colour() -> None:
    """Contrast as WCAG 2 counts it: 4.5 for words on white; between inks of lines, 1.5 is a step the eye sees."""
    ratio = {name: 1.05 / (lightness(getattr(style, name)) + 0.05) for name in ("INK", "TINT", "GREY", "PALE", "MARK")}
    assert min(ratio["INK"], ratio["MARK"]) > 4.5
    assert ratio["INK"] / ratio["TINT"] > 1.5
    assert ratio["PALE"] < 1.5
    assert all(PICTURES)


# --- the gap over the radius -----------------------------------------------------------------------------------------


def test_the_gap_drawn_is_the_gap_that_a_wire_reads() -> None:
    top = engine()
    result = te.evaluate(top)
    axes = te.picture(top, "gap_over_radius").axes[1]
    radius, gap = (np.asarray(column) for column in axes.lines[0].get_data())
    for at in (19.5, 22.0, 26.0):
        assert np.interp(at, radius, gap) == pytest.approx(result.gap_at(f"{at} mm").m_as("mm"), abs=1e-5)
    assert axes.get_ylabel() == "gap at TDC, cold [mm]"
    told = [text.get_text() for text in axes.texts]
    assert f"wire {result.gap_at().m_as('mm'):.2f} mm" in [text.strip() for text in told]
    assert any(text.startswith(f"least {result.shown('squish_min'):.2f} mm at radius ") for text in told)


def test_a_gap_that_cannot_be_had_says_what_it_needs() -> None:
    with pytest.raises(te.MissingInputError, match=r"gap_over_radius cannot be had: it needs .*piston\.crown"):
        te.picture(engine(piston=None), "gap_over_radius")
