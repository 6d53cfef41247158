"""Curves: columns along one input, their band from draws, and the probability of contact."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import topend as te


def engine(gap: float = 0.6, crank: te.Crank | None = None) -> te.TopEnd:
    """An invented E125 with a flat band."""
    return te.TopEnd(
        crank=crank or te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        cylinder=te.Cylinder(bore="54 mm"),
        piston=te.Piston(crown=te.FlatCrown()),
        head=te.FlushHead(band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="0 deg")),
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm")],
        deck=te.DeckReading(clearance=f"{gap - 0.3:.6f} mm"),
        running=te.Running(crank_speed="12000 rpm"),
    )


def test_a_point_is_the_evaluation_of_that_top_end() -> None:
    made = te.curve(engine(), ["running_clearance", "closure_total"], crank_speed="2000:16000:2000 rpm")
    assert made.path == "running.crank_speed"
    assert made.at.tolist() == list(range(2000, 16001, 2000))
    for index in (0, 3, 7):
        alone = te.evaluate(engine().replace({"running.crank_speed": f"{made.at[index]} rpm"}), ["running_clearance", "closure_total"])
        assert made.value["running_clearance"][index] == alone.shown("running_clearance")
        assert made.value["closure_total"][index] == alone.shown("closure_total")
    assert list(made.columns) == ["running.crank_speed [rpm]", "running_clearance [mm]", "closure_total [mm]"]
    assert (np.diff(made.value["running_clearance"]) < 0.0).all()


def test_the_band_is_that_of_monte_carlo() -> None:
    made = te.curve(engine(), "running_clearance", crank_speed=["6000 rpm", "12000 rpm"], draws=20_000)
    drawn = te.uncertainty(engine(), ["running_clearance"], method="monte-carlo", draws=20_000)["running_clearance"]
    assert made.low["running_clearance"][1] == pytest.approx(drawn.interval[0], abs=0.003)
    assert made.high["running_clearance"][1] == pytest.approx(drawn.interval[1], abs=0.003)
    assert list(made.columns)[2:] == ["running_clearance [mm] low", "running_clearance [mm] high", "running_clearance share below 0"]


def test_many_points_are_what_few_are() -> None:
    """So many points that they are evaluated in several stretches, the last of them short; each with the same draws."""
    speeds = [f"{speed} rpm" for speed in range(2000, 16000, 350)]
    many = te.curve(engine(0.4), "running_clearance", crank_speed=speeds, draws=20_000, threads=2)
    few = te.curve(engine(0.4), "running_clearance", crank_speed=speeds[::13], draws=20_000)
    for table in ("low", "high", "below"):
        assert getattr(many, table)["running_clearance"][::13].tolist() == getattr(few, table)["running_clearance"].tolist()
    assert (np.diff(many.below["running_clearance"]) >= 0.0).all()
    assert many.below["running_clearance"][-1] > 0.3


def test_the_probability_of_contact_by_hand() -> None:
    """One input with limits: the clearance is straight in it, and the share of its rectangle beyond contact is known."""
    fixed: dict[str, Any] = {
        "rod_area": "120 mm²",
        "rod_mass": "150 g",
        "rod_modulus": "205 GPa",
        "rod_density": "7850 kg/m³",
        "crankpin_diameter": "20 mm",
        "crankpin_length": "18 mm",
        "balance": "50 %",
        "unexplained_closing": "0 mm",
        "small_end": te.RollerBearing(clearance="0.03 mm", rollers="16 pcs", roller_length="16 mm"),
        "big_end": te.RollerBearing(clearance="0.05 mm", rollers="14 pcs", roller_length="12 mm"),
        "mains": te.BallBearing(clearance="0.03 mm", balls="8 pcs", ball_diameter="8.7 mm"),
    }

    def top(gap: float) -> te.TopEnd:
        crank = te.Crank(stroke="54.5 mm", rod_length="110 mm", compliance="5 µm/kN ± 4 µm/kN", **fixed)
        return engine(gap, crank).replace({"piston.assembly_mass": "200 g"})

    stated = te.evaluate(top(1.0), ["closure_total", "closure_crank"])
    # contact from 7 µm/kN on, where limits are 1 and 9: a quarter of the rectangle
    gap = stated.shown("closure_total") + stated.shown("closure_crank") * (2.0 / 5.0)
    assert te.contact_probability(top(gap), draws=40_000) == pytest.approx(0.25, abs=4 * np.sqrt(0.25 * 0.75 / 40_000))
    safe = stated.shown("closure_total") + stated.shown("closure_crank") * (4.1 / 5.0)
    assert te.contact_probability(top(safe)) == 0.0


def test_along_a_part_the_deck_reading_stays_bound() -> None:
    made = te.curve(engine(), "squish_edge", **{"head_gasket.thickness": "0.2:0.6:0.2 mm"})  # type: ignore[arg-type]
    assert made.value["squish_edge"] == pytest.approx([0.5, 0.7, 0.9])
    stroked = te.curve(engine(), "squish_edge", stroke=["54.5 mm", "54.7 mm"], draws=100)
    assert stroked.value["squish_edge"] == pytest.approx([0.6, 0.5])


def test_what_is_refused() -> None:
    with pytest.raises(te.ArgumentError, match=r"curve takes one input to go along, such as crank_speed=\"2000:14000:500 rpm\"; got none"):
        te.curve(engine(), "squish_edge")
    with pytest.raises(te.ArgumentError, match=r"diameter is the last name of \d+ inputs: .*; give the whole path"):
        te.curve(engine(), "squish_edge", diameter=["1 mm"])
    with pytest.raises(te.UnknownNameError, match=r"no input is called 'crank_sped' in the inputs table; nearest: running\.crank_speed"):
        te.curve(engine(), "squish_edge", crank_sped=["1 rpm"])
    with pytest.raises(te.UnknownNameError, match="no output is called 'clearance'"):
        te.curve(engine(), "clearance", crank_speed=["1 rpm"])
    with pytest.raises(te.StudyError, match="needs a crank speed"):
        te.curve(engine(), "squish_edge", crank_speed=["1 mm"])
    with pytest.raises(te.MissingInputError, match="compression_ratio cannot be had"):
        te.curve(engine(), "compression_ratio", crank_speed=["1000 rpm"])
