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
    one, other = (te.picture(engine(), "gap_over_radius") for _ in range(2))
    for kind in ("png", "svg", "pdf"):
        made = [te.write_picture(figure, tmp_path / f"{index}.{kind}") for index, figure in enumerate((one, other))]
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


def test_reports_load_no_matplotlib_and_a_figure_no_window_and_no_global_state() -> None:
    code = (
        "import sys, topend.report, topend.report.pictures.style as style; assert 'matplotlib' not in sys.modules; style.new_figure();"
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


@pytest.mark.parametrize(
    "profile",
    [
        te.BowlProfile(band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="7 deg"), depth="8 mm"),
        te.BathtubProfile(
            band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="7 deg"), depth="8 mm", corner_radius="3 mm"
        ),
    ],
    ids=lambda one: one.shape,
)
def test_the_bowl_that_is_drawn_sweeps_the_chamber_s_volume(profile: Any) -> None:
    """Frusta between the points of the drawn line, turned about the axis, above the band-edge plane."""
    top = engine(head=te.FlushHead(profile=profile))
    section = te.picture(top, "gap_over_radius").axes[0]
    radius, height = (np.asarray(column, dtype=float) for column in section.lines[-1].get_data())
    above = height - te.evaluate(top).shown("squish_edge")
    start, end = radius[:-1], radius[1:]
    volume = (np.pi / 3.0 * (start**2 + start * end + end**2) * np.diff(above)).sum() * 1e-3
    assert volume == pytest.approx(te.evaluate(top, ["chamber_volume"]).shown("chamber_volume"), rel=2e-3)
    assert not any("not known" in text.get_text() for text in section.texts)
    assert any("not known" in text.get_text() for text in te.picture(engine(), "gap_over_radius").axes[0].texts)


def test_a_gap_that_cannot_be_had_says_what_it_needs() -> None:
    with pytest.raises(te.MissingInputError, match=r"gap_over_radius cannot be had: it needs .*piston\.crown"):
        te.picture(engine(piston=None), "gap_over_radius")


# --- clearance over speed --------------------------------------------------------------------------------------------


def test_clearance_over_speed_is_the_curve_and_its_parts_add_up() -> None:
    top = engine()
    figure = te.picture(top, "clearance_over_speed", draws=200)
    axes, below = figure.axes
    speed, left = (np.asarray(column, dtype=float) for column in axes.lines[0].get_data())
    assert (speed[0], speed[-1]) == (1500.0, 14400.0)
    for index in (0, 30, 60):
        at = te.evaluate(top.replace({"running.crank_speed": f"{speed[index]} rpm"}), ["running_clearance", "closure_total"])
        assert left[index] == pytest.approx(at.shown("running_clearance"), abs=1e-9)
        # the uppermost of the stacked layers is the total
        tops = [poly.get_paths()[0].vertices[:, 1].max() for poly in below.collections]
        if index == 60:
            assert max(tops) == pytest.approx(at.shown("closure_total"), abs=1e-9)
    assert (axes.get_ylabel(), below.get_xlabel()) == ("left of the least gap, throttle shut [mm]", "crank speed [rpm]")
    # what closes nothing is not named
    named = [text.get_text() for text in below.texts]
    assert "rod stretched" in named
    assert "unexplained" not in named
    assert "unexplained" in [
        text.get_text()
        for text in te.picture(top.replace({"crank.unexplained_closing": "0.05 mm"}), "clearance_over_speed", draws=50).axes[1].texts
    ]


def test_the_band_of_the_clearance_is_that_of_its_curve() -> None:
    axes = te.picture(engine(), "clearance_over_speed", crank_speed=["6000 rpm", "9000 rpm", "12000 rpm"], draws=300).axes[0]
    made = te.curve(engine(), "running_clearance", crank_speed=["6000 rpm", "9000 rpm", "12000 rpm"], draws=300)
    edge = axes.collections[0].get_paths()[0].vertices
    assert edge[:, 1].min() == pytest.approx(made.low["running_clearance"].min())
    assert edge[:, 1].max() == pytest.approx(made.high["running_clearance"].max())
    told = [text.get_text() for text in axes.texts]
    low, high = made.low["running_clearance"][2], made.high["running_clearance"][2]
    assert f"12000 rpm: {made.value['running_clearance'][2]:.2f} mm\n({low:.2f} to {high:.2f})" in told
    # nobody is told that it is safe
    assert not any("safe" in text for text in told)


def test_without_a_gap_the_closing_alone() -> None:
    bare = engine(head=None, piston=None, deck=None)
    figure = te.picture(bare, "clearance_over_speed", draws=50)
    assert figure.axes[0].get_ylabel() == "closing, throttle shut [mm]"
    with pytest.raises(te.MissingInputError, match=r"clearance_over_speed cannot be had: it needs running\.crank_speed"):
        te.picture(bare.replace(running=None), "clearance_over_speed")


def test_names_of_layers_do_not_lie_on_each_other() -> None:
    figure = te.picture(engine(), "clearance_over_speed", draws=50)
    figure.draw_without_rendering()
    heights = sorted(text.get_position()[1] for text in figure.axes[1].texts)
    assert min(np.diff(heights)) > 0.05
    assert heights[0] >= 0.0
    assert heights[-1] <= 1.0


# --- squish velocity over angle --------------------------------------------------------------------------------------


def test_squish_velocity_over_angle() -> None:
    top = engine()
    axes, below = te.picture(top, "squish_velocity_over_angle", draws=100).axes
    angle, velocity = (np.asarray(column, dtype=float) for column in axes.lines[0].get_data())
    at = te.evaluate(top.replace({"probe.crank_angle": f"{angle[70]} deg"}), ["squish_velocity_at_angle"])
    assert velocity[70] == pytest.approx(at.shown("squish_velocity_at_angle"), rel=1e-9)
    result = te.evaluate(top)
    peak = axes.lines[2]
    assert peak.get_xdata()[0] == pytest.approx(-result.shown("squish_velocity_angle"))
    assert peak.get_ydata()[0] == pytest.approx(result.shown("squish_velocity_peak"))
    assert velocity.max() <= result.shown("squish_velocity_peak") * (1 + 1e-9)
    assert f"{result.shown('squish_velocity_peak'):.1f} m/s inward," in axes.texts[0].get_text()
    assert below.get_ylabel() == "volume in the band [cc]"
    with pytest.raises(te.MissingInputError, match="squish_velocity_over_angle cannot be had: it needs"):
        te.picture(engine(running=None), "squish_velocity_over_angle")


# --- port openings ---------------------------------------------------------------------------------------------------


def test_port_openings() -> None:
    ports = [
        *engine().cylinder.ports,  # type: ignore[union-attr]
        te.Port(kind="exhaust", top="31 mm", width="8 mm", auxiliary=True, count=2),
        te.Port(kind="inlet", top="65 mm", floor="90 mm", width="30 mm"),
    ]
    top = engine().replace({"cylinder.ports": ports, "piston.skirt_length": "60 mm"})
    circle, areas = te.picture(top, "port_openings").axes
    names = ["exhaust_opens", "exhaust_duration", "inlet_opens", "inlet_duration", "auxiliary_exhaust_duration"]
    result = te.evaluate(top, names)
    told = [text.get_text() for text in circle.texts]
    opens, lasts = result.shown("exhaust_opens"), result.shown("exhaust_duration")
    assert f"exhaust {lasts:.1f} deg: {opens:.1f} after to {opens:.1f} before TDC" in told
    assert f"auxiliary exhaust {result.shown('auxiliary_exhaust_duration'):.1f} deg" in " ".join(told)
    assert f"inlet {result.shown('inlet_duration'):.1f} deg: {result.shown('inlet_opens'):.1f} before" in " ".join(told)
    # the wedge of the exhaust spans its duration, symmetric about BDC at the bottom
    wedge = next(patch for patch in circle.patches if hasattr(patch, "theta1"))
    assert wedge.theta2 - wedge.theta1 == pytest.approx(lasts)
    assert 0.5 * (wedge.theta1 + wedge.theta2) % 360.0 == pytest.approx(270.0)
    angle, area = (np.asarray(column, dtype=float) for column in areas.lines[0].get_data())
    assert area[angle == 180.0][0] == pytest.approx(te.evaluate(top, ["exhaust_area"]).shown("exhaust_area"))
    assert areas.get_ylabel() == "open area [mm²]"


def test_areas_are_drawn_until_every_port_has_shut() -> None:
    """A racing exhaust, open for more than 180 deg, shuts after 270, and a long inlet opens before -90."""
    ports = [te.Port(kind="exhaust", top="25 mm", width="36 mm"), te.Port(kind="inlet", top="65 mm", floor="102 mm", width="30 mm")]
    top = engine().replace({"cylinder.ports": ports, "piston.skirt_length": "60 mm"})
    opens = te.evaluate(top, ["exhaust_opens", "inlet_opens"])
    assert 360.0 - opens.shown("exhaust_opens") > 270.0
    assert opens.shown("inlet_opens") > 90.0
    (angle, exhaust), (_, inlet) = (
        [np.asarray(column, dtype=float) for column in line.get_data()] for line in te.picture(top, "port_openings").axes[1].lines
    )
    # each is drawn from where it opens to where it has shut; beyond a turn the next begins
    assert exhaust[-1] == 0.0
    assert inlet[0] == 0.0
    assert angle[-1] > 360.0 - opens.shown("exhaust_opens")
    assert angle[0] < -opens.shown("inlet_opens")


def test_port_openings_of_angles_alone() -> None:
    bare = engine().replace({"cylinder.ports": [te.Port(kind="transfer", top="42 mm")]})
    figure = te.picture(bare, "port_openings")
    assert len(figure.axes) == 1
    with pytest.raises(te.MissingInputError, match="port_openings cannot be had: it needs"):
        te.picture(engine().replace({"cylinder.ports": []}), "port_openings")


# --- the command -----------------------------------------------------------------------------------------------------


def test_the_command_lists_pictures_and_draws_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from topend import cli

    def typed(*words: object) -> str:
        assert cli.main(["picture", *(str(word) for word in words)]) == 0
        return capsys.readouterr().out

    job = Path(__file__).resolve().parent.parent / "docs" / "examples" / "fell50.toml"
    listed = typed(job)
    assert all(name in listed for name in PICTURES)
    assert max(map(len, listed.splitlines())) <= 80
    # those of running, for which this job states enough
    for name in ("gap_over_radius", "clearance_over_speed", "squish_velocity_over_angle", "port_openings"):
        assert typed(job, name, "--to", tmp_path / f"{name}.png").strip() == f"written: {tmp_path / name}.png"
        assert (tmp_path / f"{name}.png").read_bytes().startswith(b"\x89PNG")
    assert cli.main(["picture", str(job), "gap", "--to", str(tmp_path / "gap.png")]) == 2
    assert "no picture is called 'gap'" in capsys.readouterr().err
    assert not (tmp_path / "gap.png").exists()
