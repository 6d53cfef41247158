"""O-rings, lands and ring ends, against volumes, polygons cut fine, and the tables of a standard."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from topend.physics import sealing as s

MM = 1e-3


@pytest.mark.parametrize(
    ("section", "half"), [(1.0, 0.08), (1.78, 0.08), (2.0, 0.08), (2.62, 0.09), (3.0, 0.09), (3.53, 0.10), (5.33, 0.13), (6.99, 0.15)]
)
def test_sections_of_iso_3601(section: float, half: float) -> None:
    """ISO 3601-1, table of section tolerances for the series 1.78, 2.62, 3.53, 5.33 and 6.99 mm (from memory), and the ranges between."""
    assert float(s.iso_section_tolerance(section=section * MM)) == pytest.approx(half * MM)


def test_diameters_of_iso_3601() -> None:
    """Class B, ± (0.009 d^0.95 + 0.11) mm: 0.23 at 14.0 and 0.54 at 58.0 (from memory; arithmetic of the printed formula)."""
    for size, half in ((14.0, 0.22), (58.0, 0.54), (100.0, 0.83)):
        assert float(s.iso_inner_tolerance(ring_diameter=size * MM)) * 1e3 == pytest.approx(half, abs=0.006)
    assert np.isnan(s.iso_section_tolerance(section=9 * MM))
    assert np.isnan(s.iso_section_tolerance(section=0.5 * MM))


#: Face glands of published O-ring handbooks (from memory), inches: section, depth of groove, squeeze in % as printed
GLANDS = (
    (0.070, (0.050, 0.054), (19, 32)),
    (0.103, (0.074, 0.080), (20, 30)),
    (0.139, (0.101, 0.107), (20, 30)),
    (0.210, (0.152, 0.162), (21, 30)),
)


@pytest.mark.parametrize(("section", "depths", "printed"), GLANDS)
def test_squeeze_of_face_glands_in_handbooks(section: float, depths: tuple[float, float], printed: tuple[int, int]) -> None:
    """The printed range takes the sections' limits in too (± 0.003 to 0.005 in), so ours at nominal section lies within 3 of its ends."""
    inch = 0.0254
    deep, shallow = (100 * float(s.o_ring_squeeze_ratio(section=section * inch, space=depth * inch)) for depth in reversed(depths))
    assert deep == pytest.approx(printed[0], abs=4)
    assert shallow == pytest.approx(printed[1], abs=4)


@given(inner=st.floats(20, 120), section=st.floats(1.5, 6), stretch=st.floats(0.0, 0.08))
def test_stretching_keeps_the_volume(inner: float, section: float, stretch: float) -> None:
    """A torus has π²/4 t² (d + t): the thickness that keeps it at the stretched diameter, by solving for it."""
    seat = inner * (1 + stretch)
    volume = section**2 * (inner + section)
    low, high = 0.5 * section, section
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if middle**2 * (seat + middle) < volume else (low, middle)
    made = float(s.stretched_section(section=section * MM, ring_diameter=inner * MM, seat_diameter=seat * MM)) * 1e3
    assert made == pytest.approx(low, rel=1e-9)
    assert (
        float(s.stretched_section(section=section * MM, ring_diameter=seat * MM, seat_diameter=inner * MM)) == section * MM
        or stretch == 0.0
    )


def test_fill_against_volumes_by_quadrature() -> None:
    inner, section, low, high, depth = 58.0, 2.62, 56.4, 63.4, 2.0
    middle, half = (inner + section) / 2, section / 2
    # shells: 2πr times the chord of the section at r
    ring, _ = quad(lambda r: 2 * math.pi * r * 2 * math.sqrt(max(half**2 - (r - middle) ** 2, 0.0)), middle - half, middle + half)
    space, _ = quad(lambda r: 2 * math.pi * r * depth, low / 2, high / 2)
    made = s.o_ring_fill_ratio(
        ring_diameter=inner * MM, section=section * MM, outer_diameter=high * MM, inner_diameter=low * MM, height=depth * MM
    )
    assert float(made) == pytest.approx(ring / space, rel=1e-6)
    # and a straight piece: section area over width times depth, to the curvature
    assert float(made) == pytest.approx(math.pi / 4 * section**2 / (0.5 * (high - low) * depth), rel=0.02)


@given(
    radius=st.floats(20, 60),
    azimuth=st.floats(-7, 7),
    outer=st.floats(15, 50),
    middle=st.floats(-4, 4),
    span=st.floats(0.05, 3.1),
)
def test_distance_from_a_cut_out_against_a_polygon(radius: float, azimuth: float, outer: float, middle: float, span: float) -> None:
    """The cut-out's outline in 20 000 points, nearest of them to the point; and inside by the angle."""
    at = np.array([radius * np.cos(azimuth), radius * np.sin(azimuth)])
    arc = middle + span * np.linspace(-0.5, 0.5, 10_000)
    sides = np.linspace(0.0, outer, 5_000)
    outline = np.concatenate(
        [
            np.stack([outer * np.cos(arc), outer * np.sin(arc)], axis=1),
            *(sides[:, None] * np.array([[np.cos(end), np.sin(end)]]) for end in (middle - span / 2, middle + span / 2)),
        ]
    )
    nearest = float(np.hypot(*(outline - at).T).min())
    off = abs(math.remainder(azimuth - middle, 2 * math.pi))
    expected = 0.0 if off <= span / 2 and radius <= outer else nearest
    made = s.sector_distance(radius=radius * MM, angle=azimuth, outer_radius=outer * MM, middle=middle, span=span)
    assert float(made) * 1e3 == pytest.approx(expected, abs=0.01)


def test_holes_against_points_on_circles() -> None:
    angle = np.linspace(0, 2 * np.pi, 4001)
    hole = 35.0 + 4.25 * np.exp(1j * angle)
    opening = 27.5 * np.exp(1j * angle)
    least = np.abs(hole[:, None] - opening[None, :]).min()
    made = s.hole_land(circle_diameter=70 * MM, hole_diameter=8.5 * MM, inner_diameter=55 * MM)
    assert float(made) * 1e3 == pytest.approx(least, abs=1e-5)
    assert float(s.hole_land(circle_diameter=60 * MM, hole_diameter=8.5 * MM, inner_diameter=55 * MM)) < 0.0


@given(peg=st.floats(-7, 7), window=st.floats(-7, 7), width=st.floats(1, 53), gap=st.floats(0.0, 1.0))
def test_pegs_against_points_of_the_wall(peg: float, window: float, width: float, gap: float) -> None:
    """The window's edges as the two points of the wall a chord apart; its ends half the gap from the peg; arcs between them."""
    bore = 54.0
    half = math.asin(width / bore)
    ends = [peg + sign * gap / bore for sign in (-1, 1)]
    edges = [window + sign * half for sign in (-1, 1)]
    least = min(abs(math.remainder(end - edge, 2 * math.pi)) for end in ends for edge in edges) * bore / 2
    over = any(abs(math.remainder(end - window, 2 * math.pi)) < half for end in ends)
    made = float(s.peg_land(peg_angle=peg, window_angle=window, window_width=width * MM, bore=bore * MM, ring_gap=gap * MM))
    if not over:
        assert made * 1e3 == pytest.approx(least, abs=1e-6) or abs(made * 1e3) <= gap
    else:
        assert made <= 1e-9


def test_gap_with_wear_is_the_wall_that_the_ring_no_longer_reaches_round() -> None:
    """A ring of fixed length in two bores: π D less its length in either."""
    length = math.pi * 54.0 - 0.15
    made = s.ring_gap_worn(ring_gap=0.15 * MM, bore_wear=0.08 * MM)
    assert float(made) * 1e3 == pytest.approx(math.pi * 54.08 - length, abs=1e-9)


@given(scale=st.floats(0.3, 3.0))
def test_scales(scale: float) -> None:
    row = {"ring_diameter": 0.058, "section": 0.00262, "outer_diameter": 0.0634, "inner_diameter": 0.0564, "height": 0.002}
    other = s.o_ring_fill_ratio(**{name: value * scale for name, value in row.items()})
    assert float(other) == pytest.approx(float(s.o_ring_fill_ratio(**row)))


ROWS: dict[str, dict[str, float]] = {
    "iso_inner_tolerance": {"ring_diameter": 0.058},
    "iso_section_tolerance": {"section": 0.00262},
    "grown": {"length": 0.01, "expansion": 160e-6, "rise": 100.0},
    "o_ring_stretch_ratio": {"ring_diameter": 0.05, "seat_diameter": 0.051},
    "stretched_section": {"section": 0.00262, "ring_diameter": 0.05, "seat_diameter": 0.051},
    "o_ring_squeeze_ratio": {"section": 0.00262, "space": 0.002},
    "o_ring_fill_ratio": {"ring_diameter": 0.058, "section": 0.00262, "outer_diameter": 0.0634, "inner_diameter": 0.0564, "height": 0.002},
    "hole_land": {"circle_diameter": 0.07, "hole_diameter": 0.0085, "inner_diameter": 0.055},
    "sector_distance": {"radius": 0.035, "angle": 0.4, "outer_radius": 0.03, "middle": 0.1, "span": 0.5},
    "ring_gap_worn": {"ring_gap": 0.00015, "bore_wear": 5e-5},
    "peg_land_passed": {"land": 0.001, "bore": 0.054, "highest": 0.003, "lowest": 0.044, "roof": 0.03, "floor": 0.042},
    "peg_land": {"peg_angle": 3.0, "window_angle": 0.1, "window_width": 0.03, "bore": 0.054, "ring_gap": 0.0002},
}


@pytest.mark.parametrize("name", ROWS)
def test_shapes(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(s, name), ROWS[name])


def test_every_kernel_is_tried() -> None:
    assert set(ROWS) == {name for name in s.__all__ if hasattr(getattr(s, name), "raw")}
