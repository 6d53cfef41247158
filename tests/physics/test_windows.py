"""Port windows: areas against quadrature of their outline, time-area against the reference page, sums over ports."""

from __future__ import annotations

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
    "specific_time_area": {"angle_area": 1e-3, "crank_speed": 1100.0, "swept_volume": 1.25e-4},
}


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(windows, name), ONE_ROW[name])


def test_every_kernel_has_its_row() -> None:
    assert set(ONE_ROW) == set(windows.__all__)
