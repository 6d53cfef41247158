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


def test_what_does_not_depend_on_the_speed_is_worked_out_once_and_to_the_same_bits() -> None:
    """Stretches that are whole take it from the first; a short one, and a curve of one point, work it out anew."""
    names = ["running_clearance", "squish_min", "exhaust_opens", "contact_speed"]
    top = engine(0.6).replace(
        {
            "cylinder.ports": [te.Port(kind="exhaust", top="30 mm ± 0.1 mm")],
            "head_gasket.thickness": "0.30 mm ± 0.02 mm",
            "crank.rod_length": "110 mm ± 0.5 mm",
        }
    )
    many = te.curve(top, names, crank_speed="3000:15500:500 rpm", draws=20_000)
    for index in (0, 12, 25):
        one = te.curve(top, names, crank_speed=[f"{many.at[index]} rpm"], draws=20_000)
        for table in ("low", "high", "below"):
            assert {name: getattr(one, table)[name][0] for name in names} == {name: getattr(many, table)[name][index] for name in names}
    assert len(set(many.low["squish_min"])) == 1


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


# --- along the turn and across the bore ------------------------------------------------------------------------------


def reference(angle: str = "0 deg") -> te.TopEnd:
    """E125 of the reference page: flat piston, flat band to the bore, half the area, gap 1.0, clearance 11.45110522 cm³, 11 000 rpm."""
    return te.TopEnd(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        cylinder=te.Cylinder(bore="54 mm"),
        piston=te.Piston(crown=te.FlatCrown()),
        head=te.FlushHead(
            chamber_volume=f"{11.45110522 - 2.290221044:.9f} cc",
            band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38.1837662 mm", angle=angle),
        ),
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm")],
        deck=te.DeckReading(clearance="0.70 mm"),
        running=te.Running(crank_speed="11000 rpm"),
    )


def test_squish_velocity_over_angle() -> None:
    """Reference page: at 20 deg 23.64160368 m/s, 31.14564455 at its peak; nothing at TDC, and outward after it."""
    made = te.curve(reference(), "squish_velocity_at_angle", crank_angle=["-20 deg", "-10.964204 deg", "0 deg", "20 deg"])
    value = made.value["squish_velocity_at_angle"]
    assert value[0] == pytest.approx(23.64160368, abs=2e-7)
    assert value[1] == pytest.approx(31.14564455, abs=2e-7)
    assert value[2] == 0.0
    assert value[3] == pytest.approx(-value[0], rel=1e-12)
    fast = te.curve(reference().replace({"running.crank_speed": "5500 rpm"}), "squish_velocity_at_angle", crank_angle=["-20 deg"])
    assert fast.value["squish_velocity_at_angle"][0] == pytest.approx(value[0] / 2, rel=1e-12)


@pytest.mark.parametrize("angle", ["0 deg", "2 deg"])
def test_the_velocity_is_what_leaves_the_band(angle: str) -> None:
    """Mass balance by central differences: v = -(V/A_f) d(V_s/V)/dt, from the volumes over angle alone."""
    top = reference(angle).replace({"piston.crown": te.SphereCrown(rise="0.5 mm")})
    result = te.evaluate(top)
    step = 0.01
    for at in (-60.0, -20.0, -9.0, 15.0):
        made = te.curve(top, "band_volume_at_angle", crank_angle=[f"{at + shift} deg" for shift in (-step, 0.0, step)])
        band = made.value["band_volume_at_angle"]
        inner = np.pi * 0.0381837662**2 / 4
        area = np.pi * 0.027**2
        # what the band's volume has grown by, over its area, is how far the piston stands below TDC
        drop = (band - te.evaluate(top, ["band_volume"]).shown("band_volume")) * 1e-6 / (area - inner)
        whole = result.shown("clearance_volume") + drop * area * 1e6
        share = band / whole
        rate = (share[2] - share[0]) / np.radians(2 * step) * 11000 * np.pi / 30
        flow = np.pi * 0.0381837662 * (result.shown("squish_inner") * 1e-3 + drop[1])
        velocity = te.curve(top, "squish_velocity_at_angle", crank_angle=[f"{at} deg"]).value["squish_velocity_at_angle"][0]
        assert velocity == pytest.approx(-rate * whole[1] * 1e-6 / flow, rel=1e-5)


def test_band_volume_of_the_reference_bands() -> None:
    """Band 54 mm, half the area, edge gap 1.0: opening 0 / 1 / 2 deg -> 1145.1105222335 / 1219.6241483036 / 1294.1831937297 mm³."""
    for angle, volume in (("0 deg", 1145.1105222335), ("1 deg", 1219.6241483036), ("2 deg", 1294.1831937297)):
        top = reference(angle)
        assert te.evaluate(top, ["band_volume"]).shown("band_volume") == pytest.approx(volume * 1e-3, abs=2e-8)
        made = te.curve(top, ["band_volume_at_angle", "band_gap_at_angle"], crank_angle=["0 deg", "-30 deg"])
        assert made.value["band_volume_at_angle"][0] == pytest.approx(volume * 1e-3, abs=2e-8)
        # 4.49789035572 mm of drop at 30 deg (reference page)
        assert np.diff(made.value["band_gap_at_angle"])[0] == pytest.approx(4.49789035572, abs=1e-9)


def test_the_gap_over_the_radius_is_that_of_the_wire() -> None:
    top = reference("2 deg").replace({"piston.crown": te.SphereCrown(rise="0.5 mm")})
    made = te.curve(top, "gap_at_radius", radius="19.5:26.5:1 mm", draws=100)
    result = te.evaluate(top)
    for radius, gap in zip(made.at, made.value["gap_at_radius"], strict=True):
        assert gap == result.gap_at(f"{radius} mm").m_as("mm")
    assert np.isnan(te.curve(top, "gap_at_radius", radius=["5 mm"]).value["gap_at_radius"][0])
    with pytest.raises(te.MissingInputError, match=r"gap_at_radius cannot be had: it needs probe\.radius"):
        te.evaluate(top, ["gap_at_radius"])


def test_the_plug_over_the_crown() -> None:
    top = reference().replace(
        {"piston.crown": te.SphereCrown(rise="2 mm"), "head.plug_height": "4 mm", "deck": te.DeckReading(clearance="1.7 mm")}
    )
    assert te.evaluate(top, ["plug_clearance"]).shown("plug_clearance") == pytest.approx(2.0 + 4.0 - 2.0)
    # a cap of 2 mm over 27 mm has R = 183.25 mm (reference page); 10 mm from its axis it is lower by R - √(R² - 100)
    beside = top.replace({"head.plug_radius": "10 mm"})
    assert te.evaluate(beside, ["plug_clearance"]).shown("plug_clearance") == pytest.approx(4.0 + 183.25 - np.sqrt(183.25**2 - 100))


def test_what_is_looked_at_runs_through_a_study() -> None:
    """In blocks as one by one: gap over radius, band and squish over angle, plug and skirt."""
    plain = reference("2 deg")
    assert plain.head is not None
    changed: dict[str, Any] = {
        "crank": te.Crank(stroke="54.5 mm", rod_length="110 mm", web_diameter="98 mm"),
        "piston": te.Piston(crown=te.SphereCrown(rise="0.5 mm"), skirt_length="60 mm", compression_height="32 mm"),
        "head": plain.head.replace(plug_height="5 mm", plug_radius="3 mm"),
        "probe": te.Probe(crank_angle="-12 deg", radius="24 mm"),
    }
    top = te.TopEnd(**{**plain.given(), **changed})
    names = [
        *("gap_at_radius", "band_volume_at_angle", "band_gap_at_angle", "squish_velocity_at_angle", "band_volume"),
        *("plug_clearance", "skirt_web_clearance"),
    ]
    table = te.Study(top).vary("deck.clearance", "0.6:0.9:0.002 mm").vary("probe.radius", "10:27:0.1 mm").run(names)
    assert len(table) == 151 * 171
    for row in (5, 12_345, 25_000):
        at = {"deck.clearance": f"{0.6 + 0.002 * (row // 171):.3f} mm", "probe.radius": f"{10 + 0.1 * (row % 171):.1f} mm"}
        alone = te.evaluate(top.replace(at), names)
        for name in names:
            assert table[name][row] == pytest.approx(alone.shown(name), rel=1e-12, nan_ok=True)
    assert np.isnan(table["gap_at_radius"]).any()
