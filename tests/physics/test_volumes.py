"""Volumes and ratios against print, and against the design's integral over z taken literally."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from topend.physics import volumes as vol

AREA_54 = np.pi * 0.027**2
SWEPT_E125 = AREA_54 * 0.0545


def area(diameter: float) -> float:
    return np.pi * diameter**2 / 4


# --- print and computed figures ----------------------------------------------------------------------------------------


def test_e125_ratios_of_the_reference_page() -> None:
    """Exhaust closing at x = 30, trapped ratio 7: clearance 11.45110522 cm³, geometric ratio 11.9 exactly."""
    clearance = AREA_54 * 0.030 / 6
    assert clearance * 1e6 == pytest.approx(11.45110522, abs=5.1e-9)
    trapped = {"bore_area": AREA_54, "exhaust_drop": 0.030}
    assert float(vol.trapped_compression_ratio(clearance_volume=clearance, **trapped)) == pytest.approx(7.0, rel=1e-14)
    assert float(vol.compression_ratio(swept_volume=SWEPT_E125, clearance_volume=clearance)) == pytest.approx(11.9, rel=1e-14)
    assert float(vol.compression_ratio(swept_volume=SWEPT_E125, clearance_volume=10e-6)) == pytest.approx(13.48170469, abs=5.1e-9)
    assert float(vol.trapped_compression_ratio(clearance_volume=10e-6, **trapped)) == pytest.approx(7.87066313, abs=5.1e-9)


def test_keswani_worked_example() -> None:
    """Keswani, IC Engines, ex. 3.2, p. 24 (second-hand): bore 0.25 m, stroke 0.45 m, clearance 5 l gives 5.4156 with π = 3.14."""
    with_true_pi = float(
        vol.compression_ratio(
            swept_volume=vol.swept_volume(bore_area=vol.circle_area(diameter=0.25), piston_travel=0.45), clearance_volume=5e-3
        )
    )
    assert 1 + (with_true_pi - 1) * 3.14 / np.pi == pytest.approx(5.4156, abs=5.1e-5)
    assert with_true_pi != pytest.approx(5.4156, abs=5.1e-4)  # the print's π shows


def test_magazine_handbook_case() -> None:
    """A magazine handbook's worked case (seen): 250 cm³ with 28 cm³ gives 9.929."""
    assert float(vol.compression_ratio(swept_volume=250e-6, clearance_volume=28e-6)) == pytest.approx(9.929, abs=5.1e-4)


def test_a_tenth_of_gap_over_54_mm() -> None:
    free = vol.free_volume(
        deck_clearance=0.0001, recess_offset=0.0, gasket_volume=0.0, bore_area=vol.circle_area(diameter=0.054),
        piston_area=AREA_54, recess_area=AREA_54, spigot_area=AREA_54,
    )  # fmt: skip
    assert float(free) * 1e6 == pytest.approx(0.2290221, abs=5.1e-8)


# --- the integral of the design page, taken literally -------------------------------------------------------------------


def literal_free_volume(
    c: float, gaskets: list[tuple[float, float]], o: float, bore: float, piston: float, recess: float, spigot: float
) -> float:
    """∫ free area dz with z = 0 at the deck: no closed form of ours in it, only where each body begins and ends."""
    face = sum(thickness for thickness, _ in gaskets)
    band = face + o
    bottom, top = min(-c, 0.0), max(band, face)

    def outer(z: float) -> float:
        if z < 0.0:
            return area(bore)
        height = 0.0
        for thickness, opening in gaskets:
            height += thickness
            if z < height:
                return area(opening)
        return area(recess)

    def free(z: float) -> float:
        solid = 0.0
        if c < 0.0 and 0.0 < z < -c:
            solid += area(piston)
        if o < 0.0 and band < z < face:
            solid += area(spigot)
        return outer(z) - solid

    cuts = {bottom, top, 0.0, face, band, -c, *np.cumsum([thickness for thickness, _ in gaskets]).tolist()}
    ordered = sorted(z for z in cuts if bottom <= z <= top)
    # a sliver of rounding is no step
    return sum(quad(free, low, high, epsabs=0, epsrel=1e-12)[0] for low, high in itertools.pairwise(ordered) if high - low > 1e-15)


@st.composite
def stacks(draw: st.DrawFn) -> dict[str, Any]:
    bore = draw(st.floats(30e-3, 80e-3))
    piston = bore * draw(st.sampled_from([1.0, 0.998, 0.97]))
    gaskets = [
        (draw(st.floats(0.1e-3, 1.2e-3)), bore * draw(st.sampled_from([1.0, 1.01, 1.05])))
        for _ in range(draw(st.integers(0, 3)))
    ]  # fmt: skip
    # a spigot or recess may be narrower than the piston
    return {
        "c": draw(st.floats(-1.5e-3, 2.5e-3)), "gaskets": gaskets, "o": draw(st.floats(-2e-3, 2e-3)), "bore": bore, "piston": piston,
        "recess": bore * draw(st.sampled_from([0.95, 1.0, 1.03])), "spigot": bore * draw(st.sampled_from([0.9, 0.99, 1.0])),
    }  # fmt: skip


@given(stack=stacks())
def test_free_volume_is_the_integral(stack: dict[str, Any]) -> None:
    face = sum(thickness for thickness, _ in stack["gaskets"])
    assume(stack["c"] + face + stack["o"] > 1e-5)  # the edge gap is positive
    # a crown above the gasket face goes up into the recess only
    assume(stack["c"] + face > 0 or stack["piston"] <= stack["recess"])
    got = vol.free_volume(
        deck_clearance=stack["c"],
        recess_offset=stack["o"],
        gasket_volume=sum(thickness * area(opening) for thickness, opening in stack["gaskets"]),
        bore_area=area(stack["bore"]),
        piston_area=area(stack["piston"]),
        recess_area=area(stack["recess"]),
        spigot_area=area(stack["spigot"]),
    )
    assert float(got) == pytest.approx(literal_free_volume(**stack), rel=1e-9, abs=1e-18)


def test_face_volume_less_recess_is_band_volume() -> None:
    made = {"face_volume": 8e-6, "recess_area": area(0.0545), "recess_offset": np.array([0.0, 0.8e-3, -1e-3])}
    got = vol.band_volume_from_face_volume(**made)
    np.testing.assert_allclose(got[:2], [8e-6, 8e-6 - area(0.0545) * 0.8e-3], rtol=1e-14)
    assert np.isnan(got[2])  # a plate does not lie on the face of a head that stands proud


# --- properties --------------------------------------------------------------------------------------------------------


@given(swept=st.floats(1e-6, 1e-3), clearance=st.floats(1e-7, 1e-4), k=st.floats(1e-3, 1e3))
def test_ratio_inverts_and_scales(swept: float, clearance: float, k: float) -> None:
    ratio = float(vol.compression_ratio(swept_volume=swept, clearance_volume=clearance))
    assert swept / (ratio - 1) == pytest.approx(clearance, rel=1e-6)
    assert float(vol.compression_ratio(swept_volume=k * swept, clearance_volume=k * clearance)) == pytest.approx(ratio, rel=1e-14)
    assert float(vol.compression_ratio(swept_volume=swept, clearance_volume=clearance * 1.01)) < ratio


def test_without_clearance_or_trapped_travel_there_is_no_ratio() -> None:
    ratio = vol.compression_ratio(swept_volume=1e-4, clearance_volume=np.array([1e-5, 0.0, -1e-6]))
    assert np.isnan(ratio).tolist() == [False, True, True]
    trapped = vol.trapped_compression_ratio(bore_area=AREA_54, exhaust_drop=np.array([0.03, 0.0, -0.01]), clearance_volume=1e-5)
    assert np.isnan(trapped).tolist() == [False, True, True]


def test_assembled_volume_moves_with_the_stack() -> None:
    """ΔV = bore area·Δbase + opening area·Δhead gasket (design page, section 4)."""
    got = vol.assembled_clearance_volume(
        assembled_volume=11e-6, bore_area=AREA_54, base_thickness=0.5e-3, base_thickness_then=0.3e-3,
        gasket_volume=0.4e-3 * area(0.055), gasket_volume_then=0.6e-3 * area(0.055),
    )  # fmt: skip
    assert float(got) == pytest.approx(11e-6 + AREA_54 * 0.2e-3 - area(0.055) * 0.2e-3, rel=1e-13)


def test_crevice_is_the_ring_beside_the_land() -> None:
    ring = quad(lambda rho: 2 * np.pi * rho, 0.0268, 0.027)[0] * 3e-3
    got = vol.crevice_volume(bore_area=AREA_54, piston_area=area(0.0536), top_land=3e-3)
    assert float(got) == pytest.approx(ring, rel=1e-9)


@given(c=st.floats(-1e-3, 2e-3), ratio=st.floats(4.0, 9.0), piston=st.sampled_from([0.054, 0.0535]))
def test_deck_from_trapped_ratio_is_the_inverse(c: float, ratio: float, piston: float) -> None:
    areas = {"bore_area": AREA_54, "piston_area": area(piston)}
    below = AREA_54 if c > 0 else area(piston)
    at_deck = AREA_54 * (0.03 - c) / (ratio - 1) - below * c
    got = vol.deck_clearance_from_trapped_ratio(trapped_compression_ratio=ratio, volume_at_deck=at_deck, exhaust_top=0.03, **areas)
    assert float(got) == pytest.approx(c, abs=1e-15)


@given(c=st.floats(-1e-3, 2e-3), change=st.floats(-1e-3, 1e-3), piston=st.sampled_from([0.054, 0.0535]))
def test_deck_change_is_the_inverse_of_the_free_volume(c: float, change: float, piston: float) -> None:
    def volume(deck: float) -> float:
        return float(
            vol.free_volume(
                deck_clearance=deck,
                recess_offset=0.0,
                gasket_volume=0.0,
                bore_area=AREA_54,
                piston_area=area(piston),
                recess_area=AREA_54,
                spigot_area=AREA_54,
            )
        )

    got = vol.deck_clearance_change(
        volume_change=volume(c + change) - volume(c), deck_clearance=c, bore_area=AREA_54, piston_area=area(piston)
    )
    assert float(got) == pytest.approx(change, abs=1e-15)


def test_clearance_from_ratio_is_the_inverse() -> None:
    clearance = float(vol.clearance_volume_from_compression_ratio(swept_volume=SWEPT_E125, compression_ratio=11.9))
    assert clearance * 1e6 == pytest.approx(11.45110522, abs=5.1e-9)
    wild = vol.clearance_volume_from_compression_ratio(swept_volume=1e-4, compression_ratio=np.array([1.0, 0.5]))
    assert np.isinf(wild[0])
    assert np.isnan(wild[1])


ONE_ROW = {
    "clearance_volume_from_compression_ratio": {"swept_volume": 1.2e-4, "compression_ratio": 12.0},
    "deck_clearance_change": {"volume_change": 1e-6, "deck_clearance": 0.001, "bore_area": AREA_54, "piston_area": area(0.0538)},
    "deck_clearance_from_trapped_ratio": {
        "trapped_compression_ratio": 7.0, "volume_at_deck": 9e-6, "exhaust_top": 0.03, "bore_area": AREA_54, "piston_area": AREA_54,
    },
    "circle_area": {"diameter": 0.054},
    "swept_volume": {"bore_area": AREA_54, "piston_travel": 0.0545},
    "free_volume": {
        "deck_clearance": 0.001, "recess_offset": 0.0005, "gasket_volume": 1e-6, "bore_area": AREA_54,
        "piston_area": AREA_54, "recess_area": AREA_54, "spigot_area": AREA_54,
    },
    "band_volume_from_face_volume": {"face_volume": 8e-6, "recess_area": AREA_54, "recess_offset": 0.0005},
    "clearance_volume": {"chamber_volume": 8e-6, "free_volume": 2e-6, "crown_volume": 1e-6},
    "assembled_clearance_volume": {
        "assembled_volume": 1e-5, "bore_area": AREA_54, "base_thickness": 0.0005, "base_thickness_then": 0.0003,
        "gasket_volume": 1e-6, "gasket_volume_then": 2e-6,
    },
    "crevice_volume": {"bore_area": AREA_54, "piston_area": area(0.0538), "top_land": 0.003},
    "compression_ratio": {"swept_volume": 1.2e-4, "clearance_volume": 1e-5},
    "trapped_compression_ratio": {"bore_area": AREA_54, "exhaust_drop": 0.03, "clearance_volume": 1e-5},
}  # fmt: skip


def test_every_kernel_is_tried_for_its_shapes() -> None:
    assert set(ONE_ROW) == set(vol.__all__)


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: object) -> None:
    # below the deck the piston's area is not read
    unread = ("piston_area",) if name.startswith("deck_clearance_") else ()
    kernel_shapes(getattr(vol, name), ONE_ROW[name], unread)  # type: ignore[operator]
