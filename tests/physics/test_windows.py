"""Port windows: areas against quadrature of their outline, time-area against the reference page, sums over ports."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

import topend as te
from topend.evaluation import BLOCK, evaluate_columns
from topend.physics import slider_crank, windows

CRANK = {"throw": 0.02725, "rod_length": 0.110, "offset": 0.0}
OPENS = float(slider_crank.crank_angles_from_drop(drop=0.030, **CRANK)[0])


def outline(depth: float, width: float, height: float, radius: float) -> float:
    """Width of a rounded window at a depth below its roof."""
    edge = min(depth, height - depth)
    cut = radius - np.sqrt(max(radius**2 - (radius - edge) ** 2, 0.0)) if edge < radius else 0.0
    return width - 2 * cut


@given(
    uncovered=st.floats(0.0, 0.03),
    width=st.floats(0.01, 0.04),
    height=st.floats(0.005, 0.025),
    share=st.one_of(st.just(0.0), st.floats(0.01, 1.0)),
)
def test_the_area_against_its_outline(uncovered: float, width: float, height: float, share: float) -> None:
    radius = share * min(width, height) / 2
    seen = min(uncovered, height)
    kinks = [at for at in (radius, height - radius) if 0 < at < seen]
    area, _ = quad(outline, 0, seen, args=(width, height, radius), points=kinks or None, epsabs=1e-12, limit=200)
    got = windows.window_area(uncovered=uncovered, width=width, height=height, corner_radius=radius)
    assert float(got) == pytest.approx(area, abs=2e-10)


def test_a_round_window_and_a_shut_one() -> None:
    whole = windows.window_area(uncovered=0.03, width=0.02, height=0.02, corner_radius=0.01)
    assert float(whole) == pytest.approx(np.pi * 0.01**2, rel=1e-12)
    assert float(windows.window_area(uncovered=-0.001, width=0.02, height=0.02, corner_radius=0.005)) == pytest.approx(0.0, abs=1e-18)
    # a corner that does not fit
    assert np.isnan(windows.window_area(uncovered=0.01, width=0.02, height=0.02, corner_radius=0.011))


def test_the_reference_window() -> None:
    """E125, exhaust window 36 wide, roof 30 (computed): 105694.20294131 mm²·deg; at 11 000 rpm .01283019713 s/m."""
    made = windows.angle_area(start=OPENS, stop=2 * np.pi - OPENS, roof_drop=0.030, width=0.036, height=0.025, corner_radius=0.0, **CRANK)
    assert float(np.degrees(made)) * 1e6 == pytest.approx(105694.20294131, abs=1e-6)
    swept = np.pi * 0.027**2 * 0.0545
    per_swept = windows.specific_time_area(angle_area=made, crank_speed=11000 * np.pi / 30, swept_volume=swept)
    assert float(per_swept) == pytest.approx(0.01283019713, abs=5.1e-12)


@pytest.mark.parametrize(
    ("height", "radius", "offset"), [(0.025, 0.0, 1e-3), (0.020, 0.0, 0.0), (0.018, 0.006, -2e-3), (0.0245, 0.010, 0.0)]
)
def test_angle_area_against_quadrature(height: float, radius: float, offset: float) -> None:
    crank = {**CRANK, "offset": offset}
    down, up = (float(one) for one in slider_crank.crank_angles_from_drop(drop=0.030, **crank))
    window = {"width": 0.036, "height": height, "corner_radius": radius}

    def area(angle: float) -> float:
        drop = float(slider_crank.piston_drop(crank_angle=angle, **crank))
        return float(windows.window_area(uncovered=drop - 0.030, **window))

    whole, _ = quad(area, down, 2 * np.pi - up, epsabs=1e-10, limit=400)
    got = windows.angle_area(start=down, stop=2 * np.pi - up, roof_drop=0.030, **window, **crank)
    assert float(got) == pytest.approx(whole, rel=1e-9 if height == 0.025 else 3e-4)


def engine(*ports: te.Port, deck: str = "0 mm") -> te.TopEnd:
    return te.TopEnd(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        cylinder=te.Cylinder(bore="54 mm", ports=list(ports)),
        deck=te.DeckReading(clearance=deck, base_thickness="0 mm"),
        base_gaskets=[],
        running=te.Running(crank_speed="11000 rpm"),
    )


EXHAUST = te.Port(kind="exhaust", top="30 mm", width="36 mm")
TRANSFER = te.Port(kind="transfer", top="42 mm", width="24 mm")


def test_through_a_top_end_and_summed_over_ports() -> None:
    alone = te.evaluate(engine(EXHAUST), ["exhaust_time_area", "exhaust_area"])
    assert alone.shown("exhaust_time_area") == pytest.approx(0.01283019713, abs=5.1e-12)
    assert alone.shown("exhaust_area") == pytest.approx(36 * 24.5, rel=1e-12)
    assert {one.path for one in alone.assumed} == {"cylinder.ports.0.corner_radius", "cylinder.ports.0.height"}
    both = engine(EXHAUST, TRANSFER, te.Port(kind="transfer", top="42 mm", width="12 mm"))
    names = ["transfer_time_area", "blowdown_time_area", "exhaust_time_area"]
    result = te.evaluate(both, names)
    single = te.evaluate(engine(EXHAUST, TRANSFER), names)
    assert result.shown("transfer_time_area") == pytest.approx(1.5 * single.shown("transfer_time_area"), rel=1e-12)
    # before the transfers open, on the downstroke: 88.577 to 116.113 deg (reference page, port inversion)
    area, _ = quad(
        lambda angle: 0.036 * (float(slider_crank.piston_drop(crank_angle=angle, **CRANK)) - 0.030),
        np.radians(88.5772922668),
        np.radians(116.113468481),
    )
    swept = np.pi * 0.027**2 * 0.0545
    assert result.shown("blowdown_time_area") == pytest.approx(area / (11000 * np.pi / 30 * swept), rel=1e-8)


def test_the_width_along_the_wall() -> None:
    arc = EXHAUST.replace(width_along="arc")
    expected = 36 * 24.5 * np.sin(36 / 54) / (36 / 54)
    assert te.evaluate(engine(arc), ["exhaust_area"]).shown("exhaust_area") == pytest.approx(expected, rel=1e-12)


def test_a_base_gasket_raises_all_of_it() -> None:
    top = engine(EXHAUST, TRANSFER)
    lifted = top.replace({"base.thickness": "0.5 mm"})
    names = ["exhaust_time_area", "transfer_time_area", "exhaust_area", "transfer_area"]
    before, after = (te.evaluate(one, names) for one in (top, lifted))
    assert all(after.shown(name) > before.shown(name) for name in names)
    assert after.shown("exhaust_area") - before.shown("exhaust_area") == pytest.approx(36 * 0.5, rel=1e-9)


def test_rows_of_many() -> None:
    top = engine(EXHAUST.replace(floor="54 mm", corner_radius="5 mm"), TRANSFER)
    names = ["exhaust_time_area", "transfer_time_area", "blowdown_time_area", "exhaust_area"]
    columns = top.row.columns() | {"cylinder.ports.0.top": np.linspace(0.026, 0.034, BLOCK + 3)}
    made, code = evaluate_columns(top.row.structure, columns, names)
    assert not code.any()
    for row in (0, 1234, BLOCK + 2):
        one = columns | {"cylinder.ports.0.top": columns["cylinder.ports.0.top"][row : row + 1]}
        alone, _ = evaluate_columns(top.row.structure, one, names)
        assert {name: value[0] for name, value in alone.items()} == {name: value[row] for name, value in made.items()}


WINDOW = {"width": 0.036, "height": 0.022, "corner_radius": 0.004}
ONE_ROW: dict[str, dict[str, float]] = {
    "chord_from_arc": {"arc": 0.036, "bore": 0.054},
    "window_area": {"uncovered": 0.012, **WINDOW},
    "angle_area": {"start": OPENS, "stop": 2 * np.pi - OPENS, "roof_drop": 0.030, **WINDOW, **CRANK},
    "skirt_angle_area": {"start": -OPENS, "stop": OPENS, "floor_drop": 0.030, **WINDOW, **CRANK},
    "specific_time_area": {"angle_area": 1e-3, "crank_speed": 1100.0, "swept_volume": 1.25e-4},
}


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(windows, name), ONE_ROW[name])


def test_every_kernel_has_its_row() -> None:
    assert set(ONE_ROW) == set(windows.__all__)


# --- what else says when a port opens --------------------------------------------------------------------------------


def angles(top: te.TopEnd, kind: str = "exhaust") -> tuple[float, float]:
    result = te.evaluate(top, [f"{kind}_opens", f"{kind}_duration"])
    return result.shown(f"{kind}_opens"), result.shown(f"{kind}_duration")


#: E125, a port at x = 30 mm and one at 26 (reference page, port inversion).
AT_30, AT_26 = (88.5772922668, 182.845415466), (80.3234600367, 199.353079927)


@pytest.mark.parametrize(
    ("port", "piston"),
    [
        ({"top": "30 mm"}, {}),
        ({"top": "30.4 mm", "chamfer": "0.4 mm"}, {}),
        ({"top": "26 mm", "valve_edge": "30 mm"}, {}),
        ({"top": "30 mm", "valve_edge": "26 mm"}, {}),
        ({"top": "26.4 mm", "chamfer": "0.4 mm", "valve_edge": "30 mm"}, {}),
        ({"top": "30.5 mm"}, {"edge_chamfer": "0.5 mm"}),
        ({"top": "33 mm"}, {"top_land": "3 mm", "timing_edge": "ring"}),
        ({"top": "33 mm"}, {"top_land": "3 mm", "timing_edge": "ring", "edge_chamfer": "0.5 mm"}),
        ({"top": "30 mm"}, {"top_land": "3 mm"}),
        ({"top": "28 mm", "valve_edge": "30.5 mm"}, {"edge_chamfer": "0.5 mm"}),
    ],
)
def test_the_edges_that_say_when_it_opens(port: dict[str, str], piston: dict[str, str]) -> None:
    top = engine(te.Port(kind="exhaust", width="36 mm", floor="56 mm", **port)).replace(piston=te.Piston(**piston))
    assert angles(top) == (pytest.approx(AT_30[0], abs=5.1e-11), pytest.approx(AT_30[1], abs=5.1e-10))


def test_a_lowered_valve_and_its_windows() -> None:
    raised = engine(te.Port(kind="exhaust", top="26 mm", floor="56 mm", width="36 mm"))
    lowered = raised.replace({"cylinder.ports.0.valve_edge": "30 mm"})
    plain = raised.replace({"cylinder.ports.0.top": "30 mm"})
    for name in ("exhaust_area", "exhaust_time_area", "exhaust_duration"):
        assert te.evaluate(lowered, [name]).shown(name) == pytest.approx(te.evaluate(plain, [name]).shown(name), rel=1e-12)
    # along the valve: at the window's roof and above it the timing is that of the port raised
    swept = te.curve(raised, "exhaust_duration", **{"cylinder.ports.0.valve_edge": ["22 mm", "26 mm", "30 mm"]})  # type: ignore[arg-type]
    assert swept.value["exhaust_duration"] == pytest.approx([AT_26[1], AT_26[1], AT_30[1]], abs=5.1e-10)


@pytest.mark.parametrize(
    ("edge", "piston"), [(30.0, {}), (28.0, {"edge_chamfer": "0.5 mm"}), (45.0, {}), (45.0, {"edge_chamfer": "0.5 mm"}), (25.0, {})]
)
def test_a_valves_straight_edge_hides_what_lies_above_it(edge: float, piston: dict[str, str]) -> None:
    """The window's width at each height, summed by quadrature from the valve down to where the crown stands: no corner of its own."""
    roof, floor, width, radius = 26.0, 54.0, 36.0, 8.0
    port = te.Port(kind="exhaust", top="26 mm", floor="54 mm", width="36 mm", corner_radius="8 mm", valve_edge=f"{edge} mm")
    top = engine(port, TRANSFER).replace(piston=te.Piston(**piston))
    seal = 0.5 if piston else 0.0

    def wide(depth: float) -> float:
        into = max(roof + radius - depth, depth - floor + radius, 0.0)
        return width - 2.0 * (radius - math.sqrt(radius**2 - into**2))

    def open_at(angle: float) -> float:
        crown = min(float(slider_crank.piston_drop(crank_angle=angle, **CRANK)) * 1e3 + seal, floor)
        start = max(edge, roof)
        points = [one for one in (roof + radius, floor - radius) if start < one < crown]
        return quad(wide, start, crown, points=points or None)[0] if crown > start else 0.0

    made = te.evaluate(top, ["exhaust_area", "exhaust_time_area", "blowdown_time_area"])
    assert made.shown("exhaust_area") == pytest.approx(open_at(math.pi), rel=1e-9)
    at = te.curve(top, "exhaust_area_at_angle", crank_angle="80:180:25 deg")
    for angle, area in zip(at.at, at.value["exhaust_area_at_angle"], strict=True):
        assert area == pytest.approx(open_at(math.radians(angle)), rel=1e-8, abs=1e-9)
    per = 11000 * math.pi / 30 * math.pi * 0.027**2 * 0.0545 * 1e6
    angles_of = np.linspace(0.0, math.pi, 1441)
    areas = np.array([open_at(float(angle)) for angle in angles_of])
    assert made.shown("exhaust_time_area") == pytest.approx(2.0 * float(np.trapezoid(areas, angles_of)) / per, rel=1e-3)
    until = math.radians(te.evaluate(top, ["transfer_opens"]).shown("transfer_opens"))
    before = np.where(angles_of <= until, areas, 0.0)
    assert made.shown("blowdown_time_area") == pytest.approx(float(np.trapezoid(before, angles_of)) / per, rel=2e-2, abs=1e-7)


def test_a_window_that_cannot_be() -> None:
    with pytest.raises(te.PartError, match=r"Port: has a floor of 30 mm, which does not lie below its top of 30 mm"):
        te.Port(kind="exhaust", top="30 mm", floor="30 mm")
    with pytest.raises(te.PartError, match=r"Port: has a corner_radius of 10.1 mm: more than half its width of 20 mm"):
        te.Port(kind="exhaust", top="30 mm", floor="55 mm", width="20 mm", corner_radius="10.1 mm")
    with pytest.raises(te.PartError, match=r"Port: has a corner_radius of 10.1 mm: more than half its height, top 35 mm to floor 55 mm"):
        te.Port(kind="exhaust", top="35 mm", floor="55 mm", width="40 mm", corner_radius="10.1 mm")
    assert te.Port(kind="exhaust", top="35 mm", floor="55 mm", width="20 mm", corner_radius="10 mm").corner_radius.m_as("mm") == 10.0


def test_a_chamfer_opens_it_sooner_and_leaves_the_window() -> None:
    sharp = engine(te.Port(kind="exhaust", top="30 mm", floor="56 mm", width="36 mm"))
    chamfered = sharp.replace({"cylinder.ports.0.chamfer": "0.5 mm"})
    assert angles(chamfered)[0] < angles(sharp)[0]
    for name in ("exhaust_area", "exhaust_time_area"):
        assert te.evaluate(chamfered, [name]).shown(name) == te.evaluate(sharp, [name]).shown(name)


def test_auxiliary_ports_are_told_by_themselves_and_count_with_their_kind() -> None:
    beside = te.Port(kind="exhaust", top="26 mm", floor="50 mm", width="10 mm", auxiliary=True, count=2)
    top = engine(EXHAUST.replace(floor="56 mm"), TRANSFER, beside)
    assert angles(top) == (pytest.approx(AT_26[0], abs=5.1e-11), pytest.approx(AT_26[1], abs=5.1e-10))
    assert angles(top, "auxiliary_exhaust") == angles(top)
    later = top.replace({"cylinder.ports.2.top": "30 mm", "cylinder.ports.0.top": "26 mm"})
    assert angles(later) == (pytest.approx(AT_26[0], abs=5.1e-11), pytest.approx(AT_26[1], abs=5.1e-10))
    assert angles(later, "auxiliary_exhaust")[1] == pytest.approx(AT_30[1], abs=5.1e-10)
    names = ["exhaust_area", "exhaust_time_area"]
    alone, both = te.evaluate(engine(EXHAUST.replace(floor="56 mm"), TRANSFER), names), te.evaluate(top, names)
    pair = te.evaluate(engine(beside.replace(count=1, auxiliary=False), TRANSFER), names)
    for name in names:
        assert both.shown(name) == pytest.approx(alone.shown(name) + 2.0 * pair.shown(name), rel=1e-12)
    with pytest.raises(te.MissingInputError, match=r"it needs cylinder\.ports \(auxiliary transfer\)\.top"):
        te.evaluate(top, ["auxiliary_transfer_opens"])


def test_the_share_before_the_transfers_open() -> None:
    top = engine(EXHAUST, TRANSFER)
    made = te.evaluate(top, ["blowdown_time_area", "exhaust_time_area", "blowdown_time_area_share"])
    assert made.blowdown_time_area_share == pytest.approx(made.shown("blowdown_time_area") / made.shown("exhaust_time_area"), rel=1e-12)
    # it rests on no speed
    assert te.evaluate(top.replace(running=None), ["blowdown_time_area_share"]).blowdown_time_area_share == made.blowdown_time_area_share


def test_areas_over_angle_sum_to_the_time_area() -> None:
    """Simpson's rule (scipy) over the curve against the time-area by Gauss and Legendre."""
    from scipy.integrate import simpson

    top = engine(EXHAUST.replace(floor="54.5 mm"), TRANSFER.replace(floor="54.5 mm"))
    made = te.curve(top, ["exhaust_area_at_angle", "transfer_area_at_angle"], crank_angle="0:360:0.25 deg")
    for kind in ("exhaust", "transfer"):
        area = made.value[f"{kind}_area_at_angle"]
        assert area[0] == 0.0
        assert area.max() == pytest.approx(te.evaluate(top, [f"{kind}_area"]).shown(f"{kind}_area"))
        whole = simpson(area * 1e-6, x=np.radians(made.at)) / (11000 * np.pi / 30 * np.pi * 0.027**2 * 0.0545)
        assert whole == pytest.approx(te.evaluate(top, [f"{kind}_time_area"]).shown(f"{kind}_time_area"), rel=1e-5)


def test_ports_of_all_kinds_through_a_study() -> None:
    """Rows in blocks are single rows, with everything about ports that a column may be."""
    top = engine(
        te.Port(kind="exhaust", top="28 mm", floor="54 mm", width="36 mm", corner_radius="4 mm", chamfer="0.3 mm", valve_edge="27 mm"),
        te.Port(kind="exhaust", top="29 mm", floor="46 mm", width="9 mm", auxiliary=True, count=2),
        TRANSFER.replace(count=2),
        te.Port(kind="inlet", top="65 mm", floor="90 mm", width="30 mm"),
    ).replace(piston=te.Piston(edge_chamfer="0.4 mm", skirt_length="60 mm"))
    names = [
        *("exhaust_duration", "auxiliary_exhaust_duration", "inlet_duration", "exhaust_area_at_angle", "inlet_area_at_angle"),
        *("exhaust_time_area", "blowdown_time_area_share", "inlet_time_area", "exhaust_skirt_cover"),
    ]
    study = te.Study(top).vary("cylinder.ports.0.valve_edge", "24:34:0.05 mm").vary("probe.crank_angle", "-180:180:4 deg")
    table = study.run(names)
    assert len(table) == 201 * 91 > BLOCK
    for row in (0, 4711, 17000):
        at = {"cylinder.ports.0.valve_edge": f"{24 + 0.05 * (row // 91):.2f} mm", "probe.crank_angle": f"{-180 + 4 * (row % 91)} deg"}
        alone = te.evaluate(top.replace(at), names)
        for name in names:
            assert table[name][row] == pytest.approx(alone.shown(name), rel=1e-12, abs=1e-12)
