"""What the skirt opens, covers and comes near to: against the reference page, quadrature and a search over the skirt's edge."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

import topend as te
from topend.physics import skirt, slider_crank, windows

CRANK = {"throw": 0.02725, "rod_length": 0.110, "offset": 0.0}


def engine(*ports: te.Port, **piston: Any) -> te.TopEnd:
    return te.TopEnd(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm", web_diameter="98 mm", web_width="48 mm"),
        cylinder=te.Cylinder(bore="54 mm", ports=list(ports)),
        piston=te.Piston(**{"crown": te.FlatCrown(), "skirt_length": "60 mm", "compression_height": "32 mm", **piston}),
        deck=te.DeckReading(clearance="0 mm", base_thickness="0 mm"),
        base_gaskets=[],
        running=te.Running(crank_speed="11000 rpm"),
    )


INLET = te.Port(kind="inlet", top="65 mm", floor="90 mm", width="30 mm")


def test_the_inlet_by_the_reference_inversion() -> None:
    """Floor 90 less skirt 60: the skirt passes it at 30 mm of drop, 88.5772922668 deg from TDC (reference page, port inversion)."""
    result = te.evaluate(engine(INLET), ["inlet_opens", "inlet_closes", "inlet_duration", "inlet_area", "inlet_time_area"])
    assert result.shown("inlet_opens") == pytest.approx(88.5772922668, abs=5.1e-11)
    assert result.shown("inlet_closes") == pytest.approx(88.5772922668, abs=5.1e-11)
    assert result.shown("inlet_duration") == pytest.approx(2 * 88.5772922668, abs=1.1e-10)
    # 30 mm uncovered of a window 25 high
    assert result.shown("inlet_area") == pytest.approx(30 * 25, rel=1e-12)


def test_the_inlet_offset_opens_and_closes_apart() -> None:
    top = engine(INLET, pin_offset="1 mm")
    result = te.evaluate(top, ["inlet_opens", "inlet_closes"])
    # reference page, offset 1 mm: 88.6919323 after true TDC and 88.45839277 before it
    assert result.shown("inlet_closes") == pytest.approx(88.6919323, abs=5.1e-8)
    assert result.shown("inlet_opens") == pytest.approx(88.45839277, abs=5.1e-9)


@pytest.mark.parametrize(("height", "radius"), [(0.032, 0.0), (0.022, 0.006)])
def test_the_inlet_time_area_against_quadrature(height: float, radius: float) -> None:
    opens = float(slider_crank.crank_angles_from_drop(drop=0.030, **CRANK)[0])

    def area(angle: float) -> float:
        drop = float(slider_crank.piston_drop(crank_angle=angle, **CRANK))
        return float(windows.window_area(uncovered=0.030 - drop, width=0.03, height=height, corner_radius=radius))

    whole, _ = quad(area, -opens, opens, epsabs=1e-12, limit=400)
    got = windows.skirt_angle_area(start=-opens, stop=opens, floor_drop=0.030, width=0.03, height=height, corner_radius=radius, **CRANK)
    assert float(got) == pytest.approx(whole, rel=1e-9 if height == 0.032 else 3e-4)
    port = te.Port(kind="inlet", top=f"{90 - height * 1e3} mm", floor="90 mm", width="30 mm", corner_radius=f"{radius * 1e3} mm")
    made = te.evaluate(engine(port), ["inlet_time_area"]).shown("inlet_time_area")
    assert made == pytest.approx(float(got) / (11000 * np.pi / 30 * np.pi * 0.027**2 * 0.0545), rel=1e-12)


def test_another_skirt_at_the_inlet_and_the_deepest_inlet_counts() -> None:
    cut = te.evaluate(engine(INLET, inlet_skirt_length="56 mm"), ["inlet_opens"]).shown("inlet_opens")
    # 34 mm of drop
    assert cut == pytest.approx(float(np.degrees(slider_crank.crank_angles_from_drop(drop=0.034, **CRANK)[1])), abs=1e-9)
    two = engine(INLET, te.Port(kind="inlet", top="80 mm", floor="86 mm", width="8 mm"))
    assert te.evaluate(two, ["inlet_opens"]).shown("inlet_opens") == pytest.approx(88.5772922668, abs=5.1e-11)


def test_a_thicker_base_gasket_takes_from_the_inlet() -> None:
    """The barrel rises over the skirt: the floor comes up, the inlet opens later; the exhaust the other way (common practice)."""
    names = ["inlet_duration", "exhaust_duration", "exhaust_skirt_cover"]
    top = engine(INLET, te.Port(kind="exhaust", top="30 mm", floor="58 mm"))
    before, after = te.evaluate(top, names), te.evaluate(top.replace({"base.thickness": "0.5 mm"}), names)
    assert after.shown("inlet_duration") < before.shown("inlet_duration")
    assert after.shown("exhaust_duration") > before.shown("exhaust_duration")
    assert before.shown("exhaust_skirt_cover") == pytest.approx(2.0)
    assert after.shown("exhaust_skirt_cover") == pytest.approx(2.5)


@given(
    diameter=st.floats(0.035, 0.08),
    web=st.floats(0.06, 0.13),
    share=st.floats(0.2, 1.4),
    skirt_length=st.floats(0.04, 0.07),
    axis_offset=st.sampled_from([0.0, 0.003, -0.003]),
)
def test_the_webs_against_a_search_round_the_skirt(
    diameter: float, web: float, share: float, skirt_length: float, axis_offset: float
) -> None:
    """The skirt's edge as a circle of points over two discs: the nearest of those above the discs' width."""
    width = share * diameter
    low = 0.110 - 0.02725 + 0.032 - skirt_length
    round_ = np.linspace(0.0, np.pi, 40001)
    along, beside = 0.5 * diameter * np.sin(round_), np.abs(0.5 * diameter * np.cos(round_) + axis_offset)
    over = (along <= 0.5 * width + 1e-12) & (beside <= 0.5 * web)
    found = (low - np.sqrt(0.25 * web**2 - beside[over] ** 2)).min() if over.any() else low
    got = skirt.skirt_web_clearance(
        **CRANK,
        compression_height=0.032,
        skirt_length=skirt_length,
        web_diameter=web,
        web_width=width,
        piston_diameter=diameter,
        axis_offset=axis_offset,
    )
    assert float(got) == pytest.approx(found, abs=2e-3 * diameter)
    assert float(got) <= found + 1e-12


def test_a_cylinder_off_the_crank_brings_its_skirt_nearer_and_an_offset_pin_does_not() -> None:
    crank = te.Crank(stroke="54.5 mm", rod_length="110 mm", web_diameter="98 mm", web_width="48 mm", offset="-2 mm")
    off, pin = engine().replace(crank=crank), engine(pin_offset="2 mm")
    # √(27² - 24²) less 2 mm beside the crank's axis, and the pin as low as offsets have it at BDC
    low = np.sqrt(82.75**2 - 4.0) + 32 - 60
    beside = np.sqrt(27**2 - 24**2)
    for top, at in ((off, beside - 2.0), (pin, beside)):
        assert te.evaluate(top, ["skirt_web_clearance"]).shown("skirt_web_clearance") == pytest.approx(
            low - np.sqrt(49**2 - at**2), abs=1e-9
        )


def test_webs_through_a_top_end() -> None:
    # 82.75 + 32 - 60, less √(49² - (27² - 24²)) = √2248
    made = te.evaluate(engine(), ["skirt_web_clearance"])
    assert made.shown("skirt_web_clearance") == pytest.approx(54.75 - np.sqrt(49**2 - (27**2 - 24**2)), abs=1e-9)
    wide = engine().replace({"crank": te.Crank(stroke="54.5 mm", rod_length="110 mm", web_diameter="98 mm")})
    assert te.evaluate(wide, ["skirt_web_clearance"]).shown("skirt_web_clearance") == pytest.approx(54.75 - 49)
    assert "crank.web_width" in {one.path for one in te.evaluate(wide, ["skirt_web_clearance"]).assumed}


PLACE = {"port_floor": 0.09, "skirt_length": 0.06, "deck_clearance": 0.0007}
WEBS = {
    "compression_height": 0.032,
    "skirt_length": 0.06,
    "web_diameter": 0.098,
    "web_width": 0.048,
    "piston_diameter": 0.054,
    "axis_offset": 0.001,
}
ONE_ROW: dict[str, dict[str, float]] = {"skirt_drop": PLACE, "skirt_cover": PLACE, "skirt_web_clearance": {**CRANK, **WEBS}}


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(skirt, name), ONE_ROW[name])


def test_every_kernel_has_its_row() -> None:
    assert set(ONE_ROW) == set(skirt.__all__)
