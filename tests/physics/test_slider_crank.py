"""Slider-crank against published examples, 50-digit mpmath, and its own inverses."""

from __future__ import annotations

import mpmath as mp
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics import slider_crank as sc

RPM = np.pi / 30.0
E50 = {"throw": 19.6e-3, "rod_length": 80e-3, "offset": 0.0}
E125 = {"throw": 27.25e-3, "rod_length": 110e-3, "offset": 0.0}


@st.composite
def cranks(draw: st.DrawFn, *, offset: float = 3e-3) -> dict[str, float]:
    throw = draw(st.floats(10e-3, 50e-3))
    return {
        "throw": throw,
        "rod_length": 2.0 * throw * draw(st.floats(1.4, 4.0)),
        "offset": draw(st.floats(-offset, offset)),
    }


# --- an independent route: the pin's height in 50 digits, straight from the design page's formula ----------------------


def mp_height(phi: mp.mpf, crank: dict[str, float]) -> mp.mpf:
    r, rod, e = (mp.mpf(crank[name]) for name in ("throw", "rod_length", "offset"))
    return r * mp.cos(phi) + mp.sqrt(rod**2 - (r * mp.sin(phi) - e) ** 2)


def mp_top(crank: dict[str, float]) -> mp.mpf:
    return mp.asin(mp.mpf(crank["offset"]) / (mp.mpf(crank["throw"]) + mp.mpf(crank["rod_length"])))


def mp_drop(theta: float | mp.mpf, crank: dict[str, float]) -> mp.mpf:
    top = mp_top(crank)
    return mp_height(top, crank) - mp_height(top + mp.mpf(theta), crank)


@pytest.fixture(autouse=True)
def _digits() -> object:
    with mp.workdps(50):
        yield


# --- computed tables (reference page "mechanics", generic engines; half of the last printed digit) -----------------------

ANGLES = (10, 30, 60, 80, 90, 100, 120, 150)
DROPS_E125 = (0.515813127448, 4.49789035572, 16.1862820023, 25.8418081686, 30.6787210361, 35.3056338515, 43.4362820023, 51.696274862)
DROPS_E50 = (0.370199839491, 3.22842101747, 11.6214863278, 18.5600104714, 22.0381537094, 25.367019036, 31.2214863278, 37.1766168458)


@pytest.mark.parametrize(("crank", "drops"), [(E125, DROPS_E125), (E50, DROPS_E50)], ids=["E125", "E50"])
def test_drop_tables(crank: dict[str, float], drops: tuple[float, ...]) -> None:
    got = sc.piston_drop(crank_angle=np.radians(ANGLES), **crank) * 1e3
    for angle, x, printed in zip(ANGLES, got, drops, strict=True):
        digits = len(repr(printed).split(".")[1])
        assert x == pytest.approx(printed, abs=0.51 * 10.0**-digits, rel=0), angle
        assert x == pytest.approx(float(mp_drop(np.radians(angle), crank) * 1000), rel=1e-13)


def test_accelerations_and_greatest_speed_of_e125() -> None:
    """Exact without offset: a(TDC) = rω²(1 + r/l), a(BDC) = -rω²(1 - r/l)."""
    w = 12000 * RPM
    at = {"crank_speed": w, **E125}
    assert float(sc.piston_acceleration(crank_angle=0.0, **at)) == pytest.approx(53691.5451787, abs=5.1e-8)
    assert float(sc.tdc_acceleration(**at)) == pytest.approx(53691.5451787, abs=5.1e-8)
    assert float(sc.piston_acceleration(crank_angle=np.pi, **at)) == pytest.approx(-32371.4051988, abs=5.1e-8)
    r, rod = E125["throw"], E125["rod_length"]
    assert float(sc.piston_acceleration(crank_angle=0.0, **at)) == pytest.approx(r * w**2 * (1 + r / rod), rel=1e-14)
    assert float(sc.piston_acceleration(crank_angle=np.pi, **at)) == pytest.approx(-r * w**2 * (1 - r / rod), rel=1e-13)
    peak = np.radians(76.82514573)
    assert float(sc.piston_speed(crank_angle=peak, **at)) == pytest.approx(35.28190615, abs=5.1e-9)
    assert abs(float(sc.piston_acceleration(crank_angle=peak, **at))) < 1e-3  # the greatest speed: no acceleration


def test_offset_of_1_mm() -> None:
    crank = {**E125, "offset": 1e-3}
    assert float(np.degrees(sc.tdc_angle(**crank))) == pytest.approx(0.417459282, abs=5.1e-10)
    assert float(sc.piston_travel(**crank)) * 1e3 == pytest.approx(54.5023994811, abs=5.1e-11)
    assert float(sc.pin_height_at_tdc(**crank)) * 1e3 == pytest.approx(137.246356964, abs=5.1e-10)
    # φ_BDC = 180.692413 deg is where the height is that of BDC
    phi_bdc = np.radians(180.692413)
    theta = phi_bdc - sc.tdc_angle(**crank)
    assert float(sc.pin_height(crank_angle=theta, **crank)) == pytest.approx(float(sc.pin_height_at_bdc(**crank)), abs=1e-15)
    assert float(sc.piston_speed(crank_angle=theta, crank_speed=1.0, **crank)) == pytest.approx(0.0, abs=2e-10)
    down, up = sc.crank_angles_from_drop(drop=30e-3, **crank)
    assert float(np.degrees(down)) == pytest.approx(88.6919323, abs=5.1e-8)
    assert float(np.degrees(up)) == pytest.approx(88.45839277, abs=5.1e-9)


@pytest.mark.parametrize(
    ("x", "opens", "duration"),
    [(26, 80.3234600367, 199.353079927), (30, 88.5772922668, 182.845415466), (42, 116.113468481, 127.773063038)],
)
def test_port_inversion_of_e125(x: float, opens: float, duration: float) -> None:
    down, up = np.degrees(sc.crank_angles_from_drop(drop=x * 1e-3, **E125))
    assert down == up
    assert float(down) == pytest.approx(opens, abs=10.0 ** -(len(repr(opens).split(".")[1])) * 0.51)
    assert 360 - float(down + up) == pytest.approx(duration, abs=5.1e-10)


# Khurmi & Gupta, Theory of Machines, ch. 15, by the two-term approximation (second-hand, open companion notebooks):
# example, r [m], l [m], rpm, angle [deg], printed speed, its digits, printed acceleration, its digits, exact speed, exact a
KHURMI = [
    ("15.4 p. 528", 0.3, 1.5, 180, 40, 4.19, 5e-3, 85.36, 2e-2, 4.196433719, 85.59885627),
    ("15.5 p. 528", 0.15, 0.6, 450, 60, 6.9, 5e-2, 124.91, 3e-2, 6.905359943, 124.9493439),
]


@pytest.mark.parametrize(("where", "r", "rod", "rpm", "angle", "v", "dv", "a", "da", "v_exact", "a_exact"), KHURMI)
def test_khurmi_gupta_worked_examples(
    where: str, r: float, rod: float, rpm: float, angle: float, v: float, dv: float, a: float, da: float, v_exact: float, a_exact: float
) -> None:
    """Print has two terms of the series, we have all: the two differ by just what the second pair of figures says."""
    w, n, theta = rpm * RPM, rod / r, np.radians(angle)
    at = {"crank_angle": theta, "crank_speed": w, "throw": r, "rod_length": rod, "offset": 0.0}
    two_term_v = r * w * (np.sin(theta) + np.sin(2 * theta) / (2 * n))
    two_term_a = r * w**2 * (np.cos(theta) + np.cos(2 * theta) / n)
    assert two_term_v == pytest.approx(v, abs=dv), where
    assert two_term_a == pytest.approx(a, abs=da), where
    assert float(sc.piston_speed(**at)) == pytest.approx(v_exact, abs=5.1e-10)
    assert float(sc.piston_acceleration(**at)) == pytest.approx(a_exact, rel=1e-9)
    assert float(sc.piston_speed(**at)) - two_term_v == pytest.approx(v_exact - two_term_v, abs=1e-9)
    assert abs(a_exact - two_term_a) > 1e-2  # so the check would notice a two-term library


def test_khurmi_gupta_greatest_speed() -> None:
    """Ex. 15.3, p. 527: r 0.3 m, l 1 m, 200 rpm: 6.54 m/s at 75 deg in print; the exact mechanism 6.561732159 at 74.52893084."""
    crank = {"throw": 0.3, "rod_length": 1.0, "offset": 0.0, "crank_speed": 200 * RPM}
    angle = np.radians(74.52893084)
    assert float(sc.piston_speed(crank_angle=angle, **crank)) == pytest.approx(6.561732159, abs=5.1e-10)
    assert abs(float(sc.piston_acceleration(crank_angle=angle, **crank))) < 1e-6
    two_term = 0.3 * 200 * RPM * (np.sin(np.radians(75)) + np.sin(np.radians(150)) * 0.3 / 2)
    assert two_term == pytest.approx(6.54, abs=6e-3)


# --- an independent route for any row --------------------------------------------------------------------------------


@given(crank=cranks(), theta=st.floats(-3.1, 3.1))
def test_heights_and_drops_against_mpmath(crank: dict[str, float], theta: float) -> None:
    top = mp_top(crank)
    assert float(sc.tdc_angle(**crank)) == pytest.approx(float(top), rel=1e-13, abs=1e-300)
    assert float(sc.pin_height(crank_angle=theta, **crank)) == pytest.approx(float(mp_height(top + mp.mpf(theta), crank)), rel=1e-12)
    assert float(sc.pin_height_at_tdc(**crank)) == pytest.approx(float(mp_height(top, crank)), rel=1e-14)
    r, rod, e = (mp.mpf(crank[name]) for name in ("throw", "rod_length", "offset"))
    bottom = mp.pi + mp.asin(e / (rod - r))
    assert float(sc.pin_height_at_bdc(**crank)) == pytest.approx(float(mp_height(bottom, crank)), rel=1e-13)
    travel = mp_height(top, crank) - mp_height(bottom, crank)
    assert float(sc.piston_travel(**crank)) == pytest.approx(float(travel), rel=1e-13)
    assert float(sc.mean_piston_speed(piston_travel=float(travel), crank_speed=100.0)) == pytest.approx(float(200 * travel / (2 * mp.pi)))


@given(crank=cranks(), exponent=st.floats(-6, 0.45), side=st.sampled_from([-1.0, 1.0]))
def test_drop_keeps_its_digits_near_tdc(crank: dict[str, float], exponent: float, side: float) -> None:
    theta = side * 10.0**exponent
    # near TDC the drop is of second order in θ: what is asked is relative to θ², not to z
    assert float(sc.piston_drop(crank_angle=theta, **crank)) == pytest.approx(float(mp_drop(theta, crank)), rel=1e-9)


@given(crank=cranks(), theta=st.floats(-3.0, 3.0), speed=st.floats(10.0, 2000.0))
def test_speed_and_acceleration_are_the_derivatives(crank: dict[str, float], theta: float, speed: float) -> None:
    at = {"crank_angle": theta, "crank_speed": speed, **crank}
    scale = crank["throw"] * speed
    first = mp.diff(lambda t: mp_drop(t, crank), mp.mpf(theta)) * speed
    second = mp.diff(lambda t: mp_drop(t, crank), mp.mpf(theta), 2) * mp.mpf(speed) ** 2
    assert float(sc.piston_speed(**at)) == pytest.approx(float(first), rel=1e-9, abs=1e-13 * scale)
    assert float(sc.piston_acceleration(**at)) == pytest.approx(float(second), rel=1e-9, abs=1e-12 * scale * speed)
    at_top = mp.diff(lambda t: mp_drop(t, crank), mp.mpf(0), 2) * mp.mpf(speed) ** 2
    assert float(sc.tdc_acceleration(crank_speed=speed, **crank)) == pytest.approx(float(at_top), rel=1e-12)


@given(crank=cranks(), share=st.floats(1e-5, 1 - 1e-5))
def test_port_inversion_round_trip(crank: dict[str, float], share: float) -> None:
    drop = share * float(sc.piston_travel(**crank))
    down, up = sc.crank_angles_from_drop(drop=drop, **crank)
    assert 0 < down < np.pi + 0.5
    assert 0 < up < np.pi + 0.5
    assert float(mp_drop(float(down), crank)) == pytest.approx(drop, rel=1e-9)
    assert float(mp_drop(-float(up), crank)) == pytest.approx(drop, rel=1e-9)
    # one on each side: the piston goes down at the first, comes up at the second
    assert float(sc.piston_speed(crank_angle=down, crank_speed=1.0, **crank)) > 0
    assert float(sc.piston_speed(crank_angle=-up, crank_speed=1.0, **crank)) < 0


@given(crank=cranks(), share=st.floats(1e-4, 0.999))
def test_upstroke_derivatives_against_mpmath(crank: dict[str, float], share: float) -> None:
    drop = share * float(sc.piston_travel(**crank))
    _, up = sc.crank_angles_from_drop(drop=drop, **crank)
    got = sc.upstroke_derivatives(drop=drop, **crank)
    # refine the angle, so that this side is exact
    theta = mp.findroot(lambda t: mp_drop(t, crank) - mp.mpf(drop), -mp.mpf(float(up)))
    for order, value in enumerate(got, start=1):
        exact = mp.diff(lambda t: mp_drop(t, crank), theta, order)
        assert float(value) == pytest.approx(float(exact), rel=1e-9, abs=1e-11 * crank["throw"])
    assert float(sc.upstroke_speed(drop=drop, crank_speed=7.0, **crank)) == pytest.approx(-7.0 * float(got[0]), rel=1e-12)


def test_kinematics_in_closed_form_without_offset() -> None:
    """drop = (r + l - d)(…): the law of cosines says cos θ = (r² + d² - l²)/(2rd), d the pin's height."""
    for x in (1e-6, 0.1e-3, 5e-3, 30e-3, 54.4e-3):
        with mp.workdps(40):
            r, rod = mp.mpf(E125["throw"]), mp.mpf(E125["rod_length"])
            d = r + rod - mp.mpf(x)
            exact = float(mp.acos((r**2 + d**2 - rod**2) / (2 * r * d)))
        down, up = sc.crank_angles_from_drop(drop=x, **E125)
        assert float(down) == pytest.approx(exact, rel=1e-12)
        assert float(up) == pytest.approx(exact, rel=1e-12)


# --- properties ------------------------------------------------------------------------------------------------------


@given(crank=cranks(), k=st.floats(0.01, 1000.0), theta=st.floats(-3.0, 3.0))
def test_lengths_scale(crank: dict[str, float], k: float, theta: float) -> None:
    big = {name: k * value for name, value in crank.items()}
    for function in (sc.piston_travel, sc.pin_height_at_tdc, sc.pin_height_at_bdc):
        assert float(function(**big)) == pytest.approx(k * float(function(**crank)), rel=1e-12)
    assert float(sc.piston_drop(crank_angle=theta, **big)) == pytest.approx(
        k * float(sc.piston_drop(crank_angle=theta, **crank)), rel=1e-11
    )
    assert float(sc.tdc_angle(**big)) == pytest.approx(float(sc.tdc_angle(**crank)), rel=1e-12)


@given(crank=cranks(), theta=st.floats(0.0, 3.0))
def test_offset_turned_over_swaps_the_strokes(crank: dict[str, float], theta: float) -> None:
    mirrored = {**crank, "offset": -crank["offset"]}
    assert float(sc.piston_drop(crank_angle=theta, **crank)) == pytest.approx(
        float(sc.piston_drop(crank_angle=-theta, **mirrored)), rel=1e-10, abs=1e-18
    )
    drop = 0.4 * float(sc.piston_travel(**crank))
    down, up = sc.crank_angles_from_drop(drop=drop, **crank)
    down_m, up_m = sc.crank_angles_from_drop(drop=drop, **mirrored)
    assert float(down) == pytest.approx(float(up_m), rel=1e-12)
    assert float(up) == pytest.approx(float(down_m), rel=1e-12)


@given(crank=cranks())
def test_travel_exceeds_twice_the_throw_by_offset_only(crank: dict[str, float]) -> None:
    travel, centred = float(sc.piston_travel(**crank)), float(sc.piston_travel(**{**crank, "offset": 0.0}))
    assert centred == pytest.approx(2.0 * crank["throw"], rel=1e-14)
    assert travel >= centred * (1 - 1e-15)


def test_a_very_long_rod_gives_a_sine() -> None:
    theta = np.linspace(-3, 3, 7)
    drop = sc.piston_drop(crank_angle=theta, throw=0.02, rod_length=2e5, offset=0.0)
    np.testing.assert_allclose(drop, 0.02 * (1 - np.cos(theta)), rtol=1e-6)


# --- shapes, NaN, domain ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("offset", [0.0, 0.0015, -0.002])
@pytest.mark.parametrize("share", [1e-6, 0.01, 0.2, 0.6, 0.97])
def test_upstroke_shape_and_speed_against_the_derivatives(offset: float, share: float) -> None:
    """Two routes to one number: rational in the pin's height, and by sine and cosine of the crank angle."""
    crank = {"throw": 0.02725, "rod_length": 0.110, "offset": offset}
    drop = share * float(sc.piston_travel(**crank))
    first, second, _ = sc.upstroke_derivatives(drop=drop, **crank)
    assert float(sc.upstroke_shape(drop=drop, **crank)) == pytest.approx(float(drop * second / first**2), rel=1e-9, abs=1e-12)
    assert float(sc.upstroke_speed(drop=drop, crank_speed=2.0, **crank)) == pytest.approx(float(-2.0 * first), rel=1e-11)


def test_rows_without_offset_are_the_same_to_the_bit_among_rows_with_one() -> None:
    """Kernels leave out what an offset of 0 makes idle; it must not show."""
    rng = np.random.default_rng(7)
    drop, throw = rng.uniform(1e-5, 0.03, 400), rng.uniform(0.016, 0.03, 400)
    rod, offset = throw * rng.uniform(3.0, 5.0, 400), rng.uniform(-0.003, 0.003, 400)
    offset[::2] = 0.0
    crank = {"throw": throw, "rod_length": rod, "offset": offset}
    alone = {"throw": throw[::2], "rod_length": rod[::2], "offset": np.zeros(1)}
    for name in ("upstroke_shape", "crank_angles_from_drop"):
        mixed, centred = getattr(sc, name)(drop=drop, **crank), getattr(sc, name)(drop=drop[::2], **alone)
        for one, other in zip(np.atleast_2d(mixed), np.atleast_2d(centred), strict=True):
            assert np.array_equal(one[::2], other)
    speeds = {"crank_speed": np.array([1000.0])}
    assert np.array_equal(sc.upstroke_speed(drop=drop, **crank, **speeds)[::2], sc.upstroke_speed(drop=drop[::2], **alone, **speeds))


ONE_ROW = {
    "throw_from_stroke": {"stroke": 0.0545},
    "pin_height_at_tdc": E125,
    "pin_height_at_bdc": E125,
    "piston_travel": E125,
    "tdc_angle": E125,
    "pin_height": {"crank_angle": 0.3, **E125},
    "piston_drop": {"crank_angle": 0.3, **E125},
    "piston_speed": {"crank_angle": 0.3, "crank_speed": 1000.0, **E125},
    "piston_acceleration": {"crank_angle": 0.3, "crank_speed": 1000.0, **E125},
    "crank_angles_from_drop": {"drop": 0.03, **E125},
    "upstroke_derivatives": {"drop": 0.03, **E125},
    "upstroke_shape": {"drop": 0.03, **E125},
    "upstroke_speed": {"drop": 0.03, "crank_speed": 1000.0, **E125},
    "mean_piston_speed": {"piston_travel": 0.0545, "crank_speed": 1000.0},
    "tdc_acceleration": {"crank_speed": 1000.0, **E125},
}


def test_every_kernel_is_tried_for_its_shapes() -> None:
    assert set(ONE_ROW) == set(sc.__all__)


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: object) -> None:
    kernel_shapes(getattr(sc, name), ONE_ROW[name])  # type: ignore[operator]


def test_outside_the_domain_is_nan_in_its_own_row() -> None:
    throw = np.array([0.02, 0.02, 0.02, 0.02])
    rod = np.array([0.08, 0.019, 0.0205, 0.08])
    travel = sc.piston_travel(throw=throw, rod_length=rod, offset=np.array([0.0, 0.0, 0.001, 0.001]))
    assert np.isnan(travel).tolist() == [False, True, True, False]
    drops = np.array([-1e-3, 0.0, 1e-3, 0.0399, 0.041])
    down, up = sc.crank_angles_from_drop(drop=drops, throw=0.02, rod_length=0.08, offset=0.0)
    assert np.isnan(down).tolist() == [True, False, False, False, True]
    assert np.isnan(up).tolist() == [True, False, False, False, True]
    assert down[1] == 0.0  # at TDC itself
    assert np.isnan(sc.pin_height_at_tdc(throw=0.02, rod_length=0.08, offset=0.11))
    first, _, _ = sc.upstroke_derivatives(drop=np.array([-1e-3, 0.041]), throw=0.02, rod_length=0.08, offset=0.0)
    assert np.isnan(first).all()
