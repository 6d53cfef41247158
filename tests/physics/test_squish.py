"""The squish gap and its velocity: computed figures, brute-force grids, continuity of mass in mpmath."""

from __future__ import annotations

import itertools

import mpmath as mp
import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import minimize_scalar
from test_crown import crowns, exact_rise
from test_slider_crank import cranks, mp_height, mp_top

from topend.physics import slider_crank as sc
from topend.physics import squish
from topend.physics import volumes as vol

RPM = np.pi / 30.0
E125 = {"throw": 27.25e-3, "rod_length": 110e-3, "offset": 0.0}
AREA = np.pi * 0.027**2
HALF = 0.027 / np.sqrt(2.0)  # inner radius of a band of half the area
FLAT = {"cap_height": 0.0, "cap_radius": 27e-3, "edge_slope": 0.0, "crown_radius": 27e-3}
DOME = {**FLAT, "cap_height": 2e-3}


# --- band gap, computed figures of the reference page ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("angle", "volume", "inner"), [(0, 1145.1105222335, 1.0), (1, 1219.6241483036, 1.13803669), (2, 1294.1831937297, 1.27615753)]
)
def test_band_volumes_and_inner_gaps(angle: float, volume: float, inner: float) -> None:
    """54 mm bore, half the area, edge gap 1.0: opening 0, 1, 2 deg."""
    slope = np.tan(np.radians(angle))
    band = {"band_radius": 0.027, "band_slope": slope}
    mean = squish.squish_mean(squish_edge=1e-3, inner_radius=HALF, outer_radius=0.027, crown_volume_in_band=0.0, **band)
    assert float(mean) * AREA / 2 * 1e9 == pytest.approx(volume, abs=5.1e-11 * 1e1)
    gap = squish.squish_gap(radius=HALF, squish_edge=1e-3, **band, **FLAT)
    assert float(gap) * 1e3 == pytest.approx(inner, abs=5.1e-9)


def test_a_flat_band_over_a_dome_touches_inside() -> None:
    """Reference page: 2 mm dome, 1.0 mm at the bore, -0.00274 mm at the inner edge of a flat band of half the area."""
    gap = squish.squish_gap(radius=HALF, squish_edge=1e-3, band_radius=0.027, band_slope=0.0, **DOME)
    assert float(gap) * 1e3 == pytest.approx(-0.00274, abs=5.1e-6)


# --- least gap against brute force ----------------------------------------------------------------------------------------


def rise_of(radius: np.ndarray, shape: dict[str, float]) -> np.ndarray:
    """The crown from plain geometry, in long doubles."""
    rho = np.asarray(radius, dtype=np.longdouble)
    h, a = np.longdouble(shape["cap_height"]), np.longdouble(shape["cap_radius"])
    height = np.longdouble(shape["edge_slope"]) * np.maximum(np.longdouble(shape["crown_radius"]) - rho, 0)
    if h != 0:
        sphere = (a * a + h * h) / (2 * abs(h))
        # the height of the cap less the depth of the sphere's surface below its pole
        cap = abs(h) - rho**2 / (sphere + np.sqrt(np.maximum(sphere**2 - rho**2, 0)))
        height = height + np.where(rho < a, np.sign(h) * cap, 0)
    return height


@st.composite
def heads(draw: st.DrawFn) -> dict[str, float]:
    """Band, bore and crown: band wider than bore, piston smaller than band, falling bands, every crown."""
    shape = draw(crowns())
    bore = 2 * shape["crown_radius"] * draw(st.sampled_from([1.0, 1.002, 1.03]))
    outer = bore * draw(st.sampled_from([1.04, 1.0, 0.999, 0.97, 0.9])) / 2
    inner = min(outer, bore / 2, shape["crown_radius"]) * draw(st.floats(0.3, 0.97))
    return {
        **shape,
        "bore": bore,
        "band_radius": outer,
        "inner_radius": inner,
        "band_slope": float(np.tan(np.radians(draw(st.floats(-25.0, 25.0))))),
        "squish_edge": draw(st.floats(0.1e-3, 5e-3)),
    }


def pick(head: dict[str, float], *names: str) -> dict[str, float]:
    return {name: head[name] for name in names}


SHAPE = ("cap_height", "cap_radius", "edge_slope", "crown_radius")


def least_gaps(head: dict[str, float]) -> tuple[float, float]:
    """(least on crown, least over the band) of the library."""
    shape, band = pick(head, *SHAPE), pick(head, "squish_edge", "band_radius", "band_slope")
    inner = squish.squish_gap(radius=head["inner_radius"], **band, **shape)
    on_crown = squish.squish_least_on_crown(squish_inner=inner, inner_radius=head["inner_radius"], **band, **shape)
    outer = squish.band_outer_radius(outer_diameter=2 * head["band_radius"], bore=head["bore"])
    whole = squish.squish_min(least_on_crown=on_crown, outer_radius=outer, crown_radius=head["crown_radius"], **band)
    return float(on_crown), float(whole)


def grid(low: float, high: float, *knots: float) -> np.ndarray:
    return np.unique(np.concatenate([np.linspace(low, high, 8001), [k for k in knots if low <= k <= high]]))


@given(head=heads())
def test_least_gap_against_a_fine_grid(head: dict[str, float]) -> None:
    outer = min(head["band_radius"], head["bore"] / 2)
    rho = grid(head["inner_radius"], outer, head["crown_radius"], head["cap_radius"])
    gaps = head["squish_edge"] + (head["band_radius"] - rho) * head["band_slope"] - rise_of(rho, head)
    on_crown, whole = least_gaps(head)
    # a grid is never below the truth, and above it by the curve over half a step only
    step = (outer - head["inner_radius"]) / 8000
    curve = abs(head["cap_height"]) / head["cap_radius"] ** 2 * 40
    steep = abs(head["cap_height"]) > 0.9 * head["cap_radius"]  # an upright wall at the rim: the grid itself is coarse there
    slack = 1e-12 + curve * step**2 + (2e-2 * abs(head["cap_height"]) if steep else 0.0)
    # and at that wall a float keeps half of its digits only
    under = 1e-12 + (1e-6 * abs(head["cap_height"]) if steep else 0.0)
    assert -under <= float(gaps.min()) - whole <= slack
    # on what band and crown have in common
    common = rho <= min(head["crown_radius"], head["band_radius"])
    assert -under <= float(gaps[common].min()) - on_crown <= slack


@given(head=heads())
def test_the_radius_of_the_least_gap_is_where_a_fine_grid_has_it(head: dict[str, float]) -> None:
    outer = min(head["band_radius"], head["bore"] / 2)
    found = float(
        squish.least_gap_radius(
            outer_radius=outer, **pick(head, "inner_radius", "squish_edge", "band_radius", "band_slope"), **pick(head, *SHAPE)
        )
    )
    assert head["inner_radius"] <= found <= outer
    there = head["squish_edge"] + (head["band_radius"] - found) * head["band_slope"] - float(rise_of(np.array(found), head))
    # at an upright rim a float keeps half of its digits only
    steep = abs(head["cap_height"]) > 0.9 * head["cap_radius"]
    assert there == pytest.approx(least_gaps(head)[1], abs=2e-9 + (1e-6 * abs(head["cap_height"]) if steep else 0.0))
    # nothing further out is as tight, beyond the nanometre within which the outermost counts
    further = grid(found, outer, head["crown_radius"], head["cap_radius"])
    further = further[further > found + 1e-6]
    gaps = head["squish_edge"] + (head["band_radius"] - further) * head["band_slope"] - rise_of(further, head)
    assert (gaps > there - 1e-12 - (1e-6 * abs(head["cap_height"]) if steep else 0.0)).all()


def test_of_places_as_tight_the_outermost_counts() -> None:
    flat = {"cap_height": 0.0, "cap_radius": 0.027, "edge_slope": 0.0, "crown_radius": 0.0269}
    row = {"squish_edge": 1e-3, "inner_radius": 0.019, "outer_radius": 0.027, "band_radius": 0.027, "band_slope": 0.0, **flat}
    assert float(squish.least_gap_radius(**row)) == 0.027
    # a band at the slope of a conical crown leaves the same gap all over it
    assert float(squish.least_gap_radius(**{**row, "band_slope": 0.1, "edge_slope": 0.1, "crown_radius": 0.027})) == 0.027


def test_where_a_dome_runs_parallel_to_the_band_the_gap_is_least() -> None:
    """Section 7's sample: 9 deg band under a 2.2 mm dome; scipy's bounded minimum, and Newton in 50 digits."""
    shape = {"cap_height": 2.2e-3, "cap_radius": 23.8e-3, "edge_slope": 0.0, "crown_radius": 23.8e-3}
    head = {
        **shape,
        "bore": 47.6e-3,
        "band_radius": 23.6e-3,
        "inner_radius": 16.5e-3,
        "band_slope": np.tan(np.radians(9)),
        "squish_edge": 0.95e-3,
    }

    def gap(rho: float) -> float:
        return head["squish_edge"] + (head["band_radius"] - rho) * head["band_slope"] - float(rise_of(np.array(rho), head))

    found = minimize_scalar(gap, bounds=(16.5e-3, 23.6e-3), method="bounded", options={"xatol": 1e-9})
    on_crown, whole = least_gaps(head)
    assert on_crown == whole
    assert whole == pytest.approx(found.fun, rel=1e-9)
    assert round(whole * 1e3, 3) == 0.869
    with mp.workdps(50):
        at = mp.findroot(
            lambda rho: mp.diff(lambda q: mp.mpf(head["band_slope"]) * q + exact_rise(q, shape), rho),
            (mp.mpf("0.0195"), mp.mpf("0.0205")),
            tol=mp.mpf("1e-30"),
        )
        exact = mp.mpf(head["squish_edge"]) + (mp.mpf(head["band_radius"]) - at) * mp.mpf(head["band_slope"]) - exact_rise(at, shape)
    assert whole == pytest.approx(float(exact), rel=1e-12)


@given(head=heads(), wall=st.sampled_from([0.93, 1.0, 1.005, 1.1]), c=st.floats(-1e-3, 1e-3))
def test_contact_against_a_fine_grid(head: dict[str, float], wall: float, c: float) -> None:
    """Over the whole crown outside the bowl: band, band-edge plane out to the wall, gasket face beyond (design, small print)."""
    head_radius = head["band_radius"] * wall
    assume(wall >= 1.0)
    face = c + 0.5e-3
    assume(abs(abs(head["cap_height"]) / head["cap_radius"]) < 0.9)
    shape, band = pick(head, *SHAPE), pick(head, "squish_edge", "band_radius", "band_slope")
    on_crown, _ = least_gaps(head)
    got = float(
        squish.contact_least(least_on_crown=on_crown, squish_edge=head["squish_edge"], face_gap=face, head_radius=head_radius,
                             band_radius=head["band_radius"], **shape)
    )  # fmt: skip
    rho = grid(
        head["inner_radius"], head["crown_radius"], head["band_radius"], head["cap_radius"], head_radius, np.nextafter(head_radius, 1)
    )
    rise = rise_of(rho, head)
    over = np.where(rho <= head["band_radius"], head["squish_edge"] + (head["band_radius"] - rho) * head["band_slope"], head["squish_edge"])
    over = np.where(rho > max(head_radius, head["band_radius"]), face, over)
    step = (head["crown_radius"] - head["inner_radius"]) / 8000
    slope = abs(head["edge_slope"]) + 10 * abs(head["cap_height"]) / head["cap_radius"] + abs(head["band_slope"])
    assert -1e-12 <= float((over - rise).min()) - got <= 1e-12 + slope * step
    # gap_at reads the same, point by point
    read = squish.gap_at(radius=rho, face_gap=face, inner_radius=head["inner_radius"], head_radius=head_radius, **band, **shape)
    np.testing.assert_allclose(read, (over - rise).astype(float), rtol=1e-9, atol=1e-12)
    beyond = squish.gap_at(
        radius=np.array([head["inner_radius"] * 0.999, head["crown_radius"] * 1.001]), face_gap=face, inner_radius=head["inner_radius"],
        head_radius=head_radius, **band, **shape,
    )  # fmt: skip
    assert np.isnan(beyond).all()


# --- mean gap and volumes by radial quadrature ----------------------------------------------------------------------------


def ring_integral(height: object, low: float, high: float, *knots: float) -> float:
    cuts = sorted({low, high, *[k for k in knots if low < k < high]})
    return sum(
        quad(lambda rho: 2 * np.pi * rho * height(rho), a, b, epsabs=1e-18, epsrel=1e-12, limit=200)[0]  # type: ignore[operator]
        for a, b in itertools.pairwise(cuts)
    )


@given(head=heads())
def test_mean_gap_by_quadrature(head: dict[str, float]) -> None:
    from topend.physics.crown import crown_volume_within

    assume(abs(head["cap_height"]) < 0.9 * head["cap_radius"])
    shape = pick(head, *SHAPE)
    inner, outer = head["inner_radius"], min(head["band_radius"], head["bore"] / 2)
    in_band = crown_volume_within(radius=outer, **shape) - crown_volume_within(radius=inner, **shape)
    got = squish.squish_mean(
        crown_volume_in_band=in_band, outer_radius=outer, **pick(head, "squish_edge", "inner_radius", "band_radius", "band_slope")
    )

    def gap(rho: float) -> float:
        return head["squish_edge"] + (head["band_radius"] - rho) * head["band_slope"] - float(rise_of(np.array(rho), head))

    mean = ring_integral(gap, inner, outer, head["crown_radius"], head["cap_radius"]) / (np.pi * (outer**2 - inner**2))
    scale = head["squish_edge"] + outer * abs(head["band_slope"]) + abs(head["cap_height"]) + head["crown_radius"] * abs(head["edge_slope"])
    assert float(got) == pytest.approx(mean, rel=1e-9, abs=1e-12 * scale)


# --- squish velocity: the continuity equation, not the closed form -----------------------------------------------------------


def mp_squish(theta: mp.mpf, crank: dict[str, float], v0: float, vs0: float, inner: float, gap: float, speed: float) -> mp.mpf:
    """v = -(V/A_f)·d(V_s/V)/dt: what leaves the outer volume at the density both share, through the gap at the inner edge."""
    top = mp_top(crank)
    high = mp_height(top, crank)

    def drop(t: mp.mpf) -> mp.mpf:
        return high - mp_height(top + t, crank)

    bore_area, outer_area = mp.pi * mp.mpf("0.027") ** 2, mp.pi * (mp.mpf("0.027") ** 2 - mp.mpf(inner) ** 2)

    def share(t: mp.mpf) -> mp.mpf:
        return (mp.mpf(vs0) + outer_area * drop(t)) / (mp.mpf(v0) + bore_area * drop(t))

    through = 2 * mp.pi * mp.mpf(inner) * (mp.mpf(gap) + drop(theta))
    return -(mp.mpf(v0) + bore_area * drop(theta)) / through * mp.diff(share, theta) * speed


def library_peak(crank: dict[str, float], v0: float, vs0: float, inner: float, gap: float, speed: float) -> tuple[float, float]:
    """(signed peak velocity, degrees before TDC)."""
    drop = squish.squish_peak_drop(squish_inner=gap, clearance_height=v0 / AREA, **crank)
    strength = squish.squish_strength(bore_area=AREA, inner_radius=inner, clearance_volume=v0, outer_volume=vs0)
    v = squish.squish_velocity(
        drop=drop, squish_strength=strength, squish_inner=gap, clearance_volume=v0, bore_area=AREA,
        piston_speed=sc.upstroke_speed(drop=drop, crank_speed=speed, **crank),
    )  # fmt: skip
    _, up = sc.crank_angles_from_drop(drop=drop, **crank)
    return float(v), float(np.degrees(up))


V0 = AREA * 0.030 / 6  # 11.45110522 cm³, trapped ratio 7


def test_computed_peak_of_the_reference_page() -> None:
    """E125, flat, half the area, gap 1.0, 11000 rpm: 31.14564455 m/s at 10.964204 deg before TDC; at 20 deg 23.64160368."""
    case = (E125, V0, AREA / 2 * 1e-3, HALF, 1e-3)
    v, angle = library_peak(*case, 11000 * RPM)
    assert v == pytest.approx(31.14564455, abs=5.1e-9)
    assert angle == pytest.approx(10.964204, abs=5.1e-7)
    drop = sc.piston_drop(crank_angle=np.radians(20), **E125)
    at_20 = squish.squish_velocity(
        drop=drop, squish_inner=1e-3, clearance_volume=V0, bore_area=AREA,
        squish_strength=squish.squish_strength(bore_area=AREA, inner_radius=HALF, clearance_volume=V0, outer_volume=AREA / 2 * 1e-3),
        piston_speed=sc.upstroke_speed(drop=drop, crank_speed=11000 * RPM, **E125),
    )  # fmt: skip
    assert float(at_20) == pytest.approx(23.64160368, abs=5.1e-9)
    # proportional to speed; the angle depends on neither speed nor band area
    twice, same = library_peak(*case, 22000 * RPM)
    assert twice == pytest.approx(2 * v, rel=1e-14)
    assert same == angle
    narrow = 0.023
    _, same = library_peak(E125, V0, np.pi * (0.027**2 - narrow**2) * 1e-3, narrow, 1e-3, 11000 * RPM)
    assert same == angle


def test_computed_peak_of_an_opening_band() -> None:
    """Reference page: band opening 1 deg, edge gap and clearance kept: 28.27042436 m/s at 11.461658 deg."""
    slope = np.tan(np.radians(1))
    band = {"band_radius": 0.027, "band_slope": slope}
    mean = squish.squish_mean(squish_edge=1e-3, inner_radius=HALF, outer_radius=0.027, crown_volume_in_band=0.0, **band)
    inner_gap = float(squish.squish_gap(radius=HALF, squish_edge=1e-3, **band, **FLAT))
    v, angle = library_peak(E125, V0, float(mean) * AREA / 2, HALF, inner_gap, 11000 * RPM)
    assert v == pytest.approx(28.27042436, abs=5.1e-9)
    assert angle == pytest.approx(11.461658, abs=5.1e-7)


def test_heywood_closed_expression_for_a_flat_band() -> None:
    """Heywood (1988), section 8.4, bowl-in-piston form: v = S_p·D_B/(4z)·[(B/D_B)² - 1]·V_B/(A_c z + V_B), z gap now (from memory,
    beside the continuity route below)."""
    x, speed = 2e-3, 12.0
    gap, d_b = 1e-3, 2 * HALF
    bowl = V0 - AREA * gap
    v = squish.squish_velocity(
        drop=x, squish_inner=gap, clearance_volume=V0, bore_area=AREA, piston_speed=speed,
        squish_strength=squish.squish_strength(bore_area=AREA, inner_radius=HALF, clearance_volume=V0, outer_volume=AREA / 2 * gap),
    )  # fmt: skip
    z = gap + x
    assert float(v) == pytest.approx(speed * d_b / (4 * z) * ((0.054 / d_b) ** 2 - 1) * bowl / (AREA * z + bowl), rel=1e-13)


EXTREMES = list(itertools.product((0.05e-3, 1e-3, 5e-3), (2e-3, 8e-3, 40e-3), (1.4, 2.0, 4.0), (-3e-3, 0.0, 3e-3), (30e-3, 54.5e-3)))


def exact_peak_angle(crank: dict[str, float], gap: float, height: float, near: float) -> float:
    """Root in 30 digits of d/dθ [x'/((g + x)(h + x))] with x from the design page's formula, θ before TDC."""
    with mp.workdps(30):
        top, e, r, rod = mp_top(crank), mp.mpf(crank["offset"]), mp.mpf(crank["throw"]), mp.mpf(crank["rod_length"])
        high = mp_height(top, crank)

        def slope(t: mp.mpf) -> mp.mpf:
            phi = top - t
            s, c = mp.sin(phi), mp.cos(phi)
            u = r * s - e
            w = mp.sqrt(rod**2 - u**2)
            x = high - r * c - w
            first = -(r * s + u * r * c / w)  # over angle before TDC
            second = r * c + ((r * c) ** 2 - u * r * s) / w + (u * r * c) ** 2 / w**3
            return second * (gap + x) * (height + x) - first**2 * (gap + height + 2 * x)

        return float(mp.findroot(slope, mp.mpf(near)))


def check_peak(crank: dict[str, float], gap: float, height: float) -> None:
    drop = squish.squish_peak_drop(squish_inner=gap, clearance_height=height, **crank)
    _, up = sc.crank_angles_from_drop(drop=drop, **crank)
    assert float(up) == pytest.approx(exact_peak_angle(crank, gap, height, float(up)), rel=1e-9), (crank, gap, height)
    # and it is the greatest of the whole upstroke, not a greatest
    theta = np.linspace(1e-4, np.pi, 4001)
    x = sc.piston_drop(crank_angle=-theta, **crank)
    speed = -sc.piston_speed(crank_angle=-theta, crank_speed=1.0, **crank)
    scan = speed / ((gap + x) * (height + x))
    at_peak = float(sc.upstroke_speed(drop=drop, crank_speed=1.0, **crank)) / ((gap + float(drop)) * (height + float(drop)))
    assert at_peak >= np.nanmax(scan) * (1 - 1e-12)
    # fewer steps come to the same velocity
    near = squish.squish_peak_drop_near(squish_inner=gap, clearance_height=height, **crank)
    at_near = float(sc.upstroke_speed(drop=near, crank_speed=1.0, **crank)) / ((gap + float(near)) * (height + float(near)))
    assert at_near == pytest.approx(at_peak, rel=1e-12)


@pytest.mark.parametrize("offset", [-3e-3, 0.0, 3e-3])
def test_peak_on_extreme_rows(offset: float) -> None:
    for gap, height, ratio, e, stroke in EXTREMES:
        if e == offset:
            check_peak({"throw": stroke / 2, "rod_length": ratio * stroke, "offset": e}, gap, height)


@given(crank=cranks(), gap=st.floats(0.05e-3, 5e-3), height=st.floats(2e-3, 40e-3))
def test_peak_anywhere(crank: dict[str, float], gap: float, height: float) -> None:
    check_peak(crank, gap, height)


@pytest.mark.long
@given(crank=cranks(offset=5e-3), gap=st.floats(0.005e-3, 10e-3), height=st.floats(0.5e-3, 100e-3))
def test_peak_beyond_reason(crank: dict[str, float], gap: float, height: float) -> None:
    check_peak(crank, gap, height)


@given(crank=cranks(), gap=st.floats(0.3e-3, 3e-3), height=st.floats(3e-3, 12e-3), mean=st.floats(0.5, 2.0), share=st.floats(0.3, 0.95))
def test_velocity_is_continuity(crank: dict[str, float], gap: float, height: float, mean: float, share: float) -> None:
    inner = 0.027 * share
    v0 = AREA * height
    vs0 = np.pi * (0.027**2 - inner**2) * gap * mean
    v, angle = library_peak(crank, v0, vs0, inner, gap, 1200.0)
    with mp.workdps(40):
        exact = mp_squish(-mp.mpf(np.radians(angle)), crank, v0, vs0, inner, gap, 1200.0)
    assume(abs(AREA * (1 - share**2) * v0 / (AREA * vs0) - 1) > 1e-3)  # where in- and outward flow cancel nothing is left to compare
    assert v == pytest.approx(float(exact), rel=1e-9)


def test_outer_volume_by_radial_quadrature() -> None:
    """All the volume outside the inner radius, column by column, for every sign of c and o, spigot, recess and openings."""
    from topend.physics.crown import crown_volume_within

    tried = 0
    for c, o, opening, wall, band, piston, slope, dome in itertools.product(
        (-0.4e-3, 1.2e-3),
        (-0.9e-3, 0.0, 0.7e-3),
        (0.054, 0.056),
        (0.0, 0.6e-3),
        (-1e-3, 0.0, 0.5e-3),
        (0.054, 0.0536),
        (0.1, -0.02),
        (0.0, 2e-3, -1e-3),
    ):
        thickness, bore = 0.8e-3, 0.054
        spigot = o < 0
        # the spigot lies in the bore; a recess may be wider than it, and its band with it
        band_radius = (bore - 0.4e-3) / 2 + min(band, 0.0) if spigot else (bore / 2 + band)
        head_radius = min(bore / 2, band_radius + wall) if spigot else band_radius + wall
        edge = c + thickness + o
        if edge <= 0.05e-3:
            continue
        tried += 1
        inner, outer, crown_radius = 0.019, min(band_radius, bore / 2), piston / 2
        shape = {"cap_height": dome, "cap_radius": crown_radius, "edge_slope": 0.0, "crown_radius": crown_radius}
        circle = vol.circle_area
        free = vol.free_volume(
            deck_clearance=c, recess_offset=o, gasket_volume=thickness * circle(diameter=opening), bore_area=circle(diameter=bore),
            piston_area=circle(diameter=piston), recess_area=circle(diameter=2 * head_radius), spigot_area=circle(diameter=2 * head_radius),
        )  # fmt: skip
        to_inner, to_outer, whole = (crown_volume_within(radius=radius, **shape) for radius in (inner, outer, crown_radius))
        over = {"squish_edge": edge, "inner_radius": inner, "band_radius": band_radius, "band_slope": slope}
        got = squish.outer_volume(free_volume=free, crown_volume_outside=whole - to_inner, **over)
        # the design's own parts of it: over the band, radially beyond it, and the wedge of a band wider than the bore
        mean = squish.squish_mean(crown_volume_in_band=to_outer - to_inner, outer_radius=outer, **over)
        beyond = free - np.pi * outer**2 * edge - (whole - to_outer)
        wedge = 2 * np.pi * slope * quad(lambda rho, top=band_radius: (top - rho) * rho, outer, band_radius)[0]
        assert float(got) == pytest.approx(float(np.pi * (outer**2 - inner**2) * mean + beyond + wedge), rel=1e-9, abs=1e-15)

        def column(rho: float, c=c, o=o, thickness=thickness, opening=opening, band_radius=band_radius, head_radius=head_radius,
                   shape=shape, crown_radius=crown_radius, slope=slope, spigot=spigot, bore=bore) -> float:  # fmt: skip
            # z = 0 at the deck
            height = max(c, 0.0) if rho <= bore / 2 else 0.0  # bore below the deck, down to the crown's edge plane
            height += thickness if rho <= opening / 2 else 0.0
            if spigot:
                height += o if rho <= head_radius else 0.0
            else:
                height += o if rho <= head_radius else 0.0
            if rho <= crown_radius:
                height += min(c, 0.0) - float(rise_of(np.array(rho), shape))
            if rho <= band_radius:
                height += (band_radius - rho) * slope
            return height

        furthest = max(bore / 2, opening / 2, head_radius, band_radius)
        exact = ring_integral(column, inner, furthest, bore / 2, opening / 2, head_radius, band_radius, crown_radius)
        assert float(got) == pytest.approx(exact, rel=1e-9), (c, o, opening, wall, band, piston, slope, dome)
    assert tried > 200


# --- properties, domain, shapes ------------------------------------------------------------------------------------------


@given(head=heads(), k=st.floats(0.01, 100.0))
def test_gaps_scale(head: dict[str, float], k: float) -> None:
    assume(abs(head["cap_height"]) < 0.9 * head["cap_radius"])
    big = {name: value * (1.0 if name in ("band_slope", "edge_slope") else k) for name, value in head.items()}
    for small, large in zip(least_gaps(head), least_gaps(big), strict=True):
        assert large == pytest.approx(k * small, rel=1e-9, abs=k * 1e-14)


@given(crank=cranks(), gap=st.floats(0.05e-3, 5e-3), height=st.floats(2e-3, 40e-3), k=st.floats(0.01, 100.0))
def test_peak_scales(crank: dict[str, float], gap: float, height: float, k: float) -> None:
    drop = float(squish.squish_peak_drop(squish_inner=gap, clearance_height=height, **crank))
    big = {name: k * value for name, value in crank.items()}
    assert float(squish.squish_peak_drop(squish_inner=k * gap, clearance_height=k * height, **big)) == pytest.approx(k * drop, rel=1e-11)


@given(head=heads(), more=st.floats(1e-5, 1e-3))
def test_more_edge_gap_is_more_gap_everywhere(head: dict[str, float], more: float) -> None:
    wider = {**head, "squish_edge": head["squish_edge"] + more}
    for small, large in zip(least_gaps(head), least_gaps(wider), strict=True):
        assert large == pytest.approx(small + more, abs=1e-12)


def test_without_a_gap_there_is_no_velocity() -> None:
    drop = squish.squish_peak_drop(
        squish_inner=np.array([1e-3, 0.0, -1e-3, 1e-3]), clearance_height=np.array([5e-3, 5e-3, 5e-3, 0.0]), **E125
    )
    assert np.isnan(drop).tolist() == [False, True, True, True]
    v = squish.squish_velocity(
        drop=1e-3, squish_strength=1e-8, squish_inner=np.array([1e-3, 0.0]), clearance_volume=1e-5, bore_area=2e-3, piston_speed=5.0
    )
    assert np.isnan(v).tolist() == [False, True]


_BAND = {"squish_edge": 1e-3, "band_radius": 0.026, "band_slope": 0.05}
_CROWN = {"cap_height": 2e-3, "cap_radius": 26.9e-3, "edge_slope": 0.01, "crown_radius": 26.9e-3}
ONE_ROW = {
    "squish_edge": {"deck_clearance": 1e-3, "head_thickness": 3e-4, "recess_offset": -4e-4},
    "band_outer_radius": {"outer_diameter": 0.05, "bore": 0.048},
    "squish_gap": {"radius": 0.022, **_BAND, **_CROWN},
    "squish_least_on_crown": {"squish_inner": 0.9e-3, "inner_radius": 0.019, **_BAND, **_CROWN},
    "squish_min": {"least_on_crown": 1e-3, "outer_radius": 0.0259, "crown_radius": 0.0258, **_BAND},
    "least_gap_radius": {"inner_radius": 0.019, "outer_radius": 0.0259, **_BAND, **_CROWN},
    "squish_mean": {"inner_radius": 0.019, "outer_radius": 0.0259, "crown_volume_in_band": 1e-8, **_BAND},
    "contact_least": {"least_on_crown": 1e-3, "squish_edge": 1e-3, "face_gap": 5e-4, "head_radius": 0.0265, "band_radius": 0.026, **_CROWN},
    "gap_at": {"radius": 0.022, "face_gap": 5e-4, "inner_radius": 0.019, "head_radius": 0.0265, **_BAND, **_CROWN},
    "squish_area_ratio": {"inner_radius": 0.019, "outer_radius": 0.026, "bore_area": AREA},
    "outer_volume": {
        "inner_radius": 0.019, "free_volume": 3e-6, "crown_volume_outside": 1e-9, **_BAND,
    },
    "squish_strength": {"bore_area": AREA, "inner_radius": 0.019, "clearance_volume": 1e-5, "outer_volume": 1e-6},
    "squish_velocity": {
        "drop": 1e-3, "squish_strength": 1e-8, "squish_inner": 1e-3, "clearance_volume": 1e-5, "bore_area": AREA, "piston_speed": 5.0,
    },
    "volume_at_drop": {"volume": 1e-6, "area": AREA, "drop": 1e-3},
    "plug_clearance": {"squish_edge": 1e-3, "plug_height": 4e-3, "crown_rise": 2e-3},
    "squish_peak_drop": {"squish_inner": 1e-3, "clearance_height": 5e-3, **E125},
    "squish_peak_drop_near": {"squish_inner": 1e-3, "clearance_height": 5e-3, **E125},
}  # fmt: skip


def test_every_kernel_is_tried_for_its_shapes() -> None:
    assert set(ONE_ROW) == set(squish.__all__)


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: object) -> None:
    kernel_shapes(getattr(squish, name), ONE_ROW[name], UNREAD.get(name, ()))  # type: ignore[operator]


#: What the row above does not reach for: under the band no face is read; a NaN band or crown makes `least_on_crown` NaN already.
UNREAD = {"gap_at": ("face_gap", "head_radius"), "contact_least": ("band_radius",), "squish_min": ("crown_radius",)}


def test_a_wire_beyond_the_wall_reads_the_face() -> None:
    row = {**ONE_ROW["gap_at"], "radius": 0.0267}
    rise = float(rise_of(np.array(0.0267), row))
    assert float(squish.gap_at(**row)) == pytest.approx(5e-4 - rise, rel=1e-12)
    assert np.isnan(squish.gap_at(**{**row, "face_gap": np.nan}))
