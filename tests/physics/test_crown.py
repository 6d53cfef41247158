"""Crown shapes against plain geometry in mpmath, and volumes by quadrature."""

from __future__ import annotations

import itertools

import mpmath as mp
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from topend.physics import crown

DOME = {"cap_height": 2e-3, "cap_radius": 27e-3, "edge_slope": 0.0, "crown_radius": 27e-3}


@st.composite
def crowns(draw: st.DrawFn) -> dict[str, float]:
    radius = draw(st.floats(15e-3, 45e-3))
    kind = draw(st.sampled_from(["flat", "cone", "sphere", "dish"]))
    # to a hemisphere either way; smaller than an atom is no size
    rise = draw(st.floats(-1.0, 1.0).map(lambda x: round(x, 6))) * radius * draw(st.sampled_from([1e-6, 1e-2, 0.2, 1.0]))
    made = {"cap_height": 0.0, "cap_radius": radius, "edge_slope": 0.0, "crown_radius": radius}
    if kind == "cone":
        made["edge_slope"] = rise / radius
    elif kind == "sphere":
        made["cap_height"] = rise
    elif kind == "dish":
        made["cap_radius"] = radius * draw(st.floats(0.1, 1.0))
        made["cap_height"] = -abs(rise) * made["cap_radius"] / radius
    return made


def exact_rise(radius: float, shape: dict[str, float]) -> mp.mpf:
    """Height above the edge plane: the sphere from its centre, the slope as a straight line."""
    rho, h, a = mp.mpf(radius), mp.mpf(shape["cap_height"]), mp.mpf(shape["cap_radius"])
    if rho >= mp.mpf(shape["crown_radius"]):
        return mp.mpf(0)
    height = mp.mpf(shape["edge_slope"]) * (mp.mpf(shape["crown_radius"]) - rho)
    if h != 0 and rho < a:
        sphere = (a**2 + h**2) / (2 * abs(h))
        cap = mp.sqrt(sphere**2 - rho**2) - (sphere - abs(h))
        height += cap if h > 0 else -cap
    return height


def test_spherical_cap_of_the_reference_page() -> None:
    """a = 27, h = 2: R = 183.25, V = 2.2944098347 cm³ (V = πh(3a² + h²)/6, any table of solids)."""
    assert float(crown.spherical_cap_volume(cap_height=2e-3, cap_radius=27e-3)) * 1e6 == pytest.approx(2.2944098347, abs=5.1e-11)
    assert float(crown.crown_volume_within(radius=27e-3, **DOME)) * 1e6 == pytest.approx(2.2944098347, abs=5.1e-11)
    # R from the shape itself: the top's curvature 1/R
    small = 1e-5
    sagitta = float(crown.cap_sagitta(radius=small, cap_height=2e-3, cap_radius=27e-3))
    assert small**2 / (2 * sagitta) * 1e3 == pytest.approx(183.25, rel=1e-7)


def test_crown_slope_at_the_bore() -> None:
    """Reference page: that dome's slope at the bore is 8.4728 deg."""
    step = 1e-9
    fall = float(crown.crown_rise(radius=27e-3 - step, **DOME)) - float(crown.crown_rise(radius=27e-3, **DOME))
    assert np.degrees(np.arctan(fall / step)) == pytest.approx(8.4728, abs=6e-5)


@given(shape=crowns(), share=st.floats(0.0, 1.3))
def test_rise_against_geometry(shape: dict[str, float], share: float) -> None:
    radius = share * shape["crown_radius"]
    with mp.workdps(50):
        exact = float(exact_rise(radius, shape))
    scale = abs(shape["cap_height"]) + abs(shape["edge_slope"]) * shape["crown_radius"]
    # at a hemisphere's rim the wall stands upright, and a float of radius decides: half of the digits are left there
    near_rim = abs(abs(shape["cap_height"]) / shape["cap_radius"] - 1) < 1e-3 and radius / shape["cap_radius"] > 1 - 1e-6
    tolerance = 1e-6 if near_rim else 1e-10
    assert float(crown.crown_rise(radius=radius, **shape)) == pytest.approx(exact, abs=tolerance * scale + 1e-300)


@given(shape=crowns(), share=st.floats(0.01, 1.3))
def test_volume_by_quadrature(shape: dict[str, float], share: float) -> None:
    radius = share * shape["crown_radius"]
    # ρ = a·sin t makes a hemisphere's rim smooth
    ends = sorted({0.0, min(radius, shape["cap_radius"]), min(radius, shape["crown_radius"])})

    def ring(rho: float) -> float:
        h, a = shape["cap_height"], shape["cap_radius"]
        rise = shape["edge_slope"] * max(shape["crown_radius"] - rho, 0.0)
        if h != 0.0 and rho < a:
            sphere = (a * a + h * h) / (2 * h)
            # h - sagitta, each in the form that keeps its digits
            rise += h - rho * rho / (sphere + np.copysign(np.sqrt(max(sphere * sphere - rho * rho, 0.0)), sphere))
        return 2 * np.pi * rho * rise

    total = 0.0
    for low, high in itertools.pairwise(ends):
        a = shape["cap_radius"]
        if high <= a:
            low_t, high_t = np.arcsin(low / a), np.arcsin(min(high / a, 1.0))
            total += quad(lambda t, a=a: ring(a * np.sin(t)) * a * np.cos(t), low_t, high_t, epsabs=0, epsrel=1e-12)[0]
        else:
            total += quad(ring, low, high, epsabs=1e-30, epsrel=1e-12)[0]
    scale = abs(shape["cap_height"]) * shape["cap_radius"] ** 2 + abs(shape["edge_slope"]) * shape["crown_radius"] ** 3
    got = float(crown.crown_volume_within(radius=radius, **shape))
    assert got == pytest.approx(total, rel=1e-9, abs=1e-12 * scale)


@given(a=st.floats(5e-3, 40e-3), share=st.floats(-1.0, 1.0))
def test_cap_volume_is_the_volume_within(a: float, share: float) -> None:
    assume(abs(share) > 1e-9)
    h = share * a
    assume(abs(share) < 1 - 1e-6)
    whole = float(crown.spherical_cap_volume(cap_height=h, cap_radius=a))
    within = float(crown.crown_volume_within(radius=a, cap_height=h, cap_radius=a, edge_slope=0.0, crown_radius=a))
    assert within == pytest.approx(whole, rel=1e-9)


@given(a=st.floats(5e-3, 40e-3), below=st.sampled_from([0.0, 1e-17, 1e-16, 1e-12, 1e-9]))
def test_a_hemisphere_is_inside_the_domain(a: float, below: float) -> None:
    """κρ rounds to 1 or just above it at the rim of a half sphere, and that is no reason for a NaN."""
    for height in (a - below, below - a):
        shape = {"cap_height": height, "cap_radius": a, "edge_slope": 0.0, "crown_radius": a}
        assert abs(float(crown.crown_rise(radius=a, **shape))) < 1e-6 * a
        whole = float(crown.spherical_cap_volume(cap_height=height, cap_radius=a))
        assert float(crown.crown_volume_within(radius=a, **shape)) == pytest.approx(whole, rel=1e-7)


def test_cone_volume() -> None:
    """A third of base area times height: any table of solids."""
    v = crown.crown_volume_within(radius=0.024, cap_height=0.0, cap_radius=0.024, edge_slope=2e-3 / 0.024, crown_radius=0.024)
    assert float(v) == pytest.approx(np.pi * 0.024**2 * 2e-3 / 3, rel=1e-14)


@given(shape=crowns(), k=st.floats(0.01, 1000), share=st.floats(0, 1.2))
def test_lengths_scale(shape: dict[str, float], k: float, share: float) -> None:
    big = {name: value * (1.0 if name == "edge_slope" else k) for name, value in shape.items()}
    # k·ρ may round to the other side of a hemisphere's upright wall
    assume(abs(share * shape["crown_radius"] / shape["cap_radius"] - 1) > 1e-6 or abs(shape["cap_height"]) < 0.9 * shape["cap_radius"])
    radius = share * shape["crown_radius"]
    scale = abs(shape["cap_height"]) + abs(shape["edge_slope"]) * shape["crown_radius"] + 1e-300
    rise = float(crown.crown_rise(radius=radius, **shape))
    assert float(crown.crown_rise(radius=k * radius, **big)) == pytest.approx(k * rise, rel=1e-10, abs=1e-10 * k * scale)
    volume = float(crown.crown_volume_within(radius=radius, **shape))
    got = float(crown.crown_volume_within(radius=k * radius, **big))
    assert got == pytest.approx(k**3 * volume, rel=1e-10, abs=1e-10 * k**3 * scale * shape["crown_radius"] ** 2)


def test_beyond_the_crown_nothing_rises_and_beyond_the_sphere_nothing_is_known() -> None:
    beyond = crown.crown_rise(radius=np.array([0.027, 0.0271, 0.05]), **DOME)
    np.testing.assert_allclose(beyond, 0.0, atol=1e-18)
    assert np.isnan(crown.cap_sagitta(radius=0.2, cap_height=2e-3, cap_radius=27e-3))


ONE_ROW = {
    "cap_curvature": {"cap_height": 2e-3, "cap_radius": 27e-3},
    "cap_sagitta": {"radius": 0.02, "cap_height": 2e-3, "cap_radius": 27e-3},
    "crown_rise": {"radius": 0.02, "cap_height": 2e-3, "cap_radius": 27e-3, "edge_slope": 0.01, "crown_radius": 0.028},
    "crown_volume_within": {"radius": 0.02, "cap_height": 2e-3, "cap_radius": 27e-3, "edge_slope": 0.01, "crown_radius": 0.028},
    "spherical_cap_volume": {"cap_height": 2e-3, "cap_radius": 27e-3},
}


def test_every_kernel_is_tried_for_its_shapes() -> None:
    assert set(ONE_ROW) == set(crown.__all__)


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: object) -> None:
    kernel_shapes(getattr(crown, name), ONE_ROW[name])  # type: ignore[operator]
