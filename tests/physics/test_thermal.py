"""Heat: the reference stack, whose sign turns with cooling; ring and fits; the materials table; the same through a top end."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend.evaluation import BLOCK, evaluate_columns
from topend.physics import thermal

#: E125: piston height 32 (4032), case 60 and barrel 109.25 (356), steel rod 110 and throw 27.25 (12.3e-6): reference page, computed.
STACK = {
    "seat_height": 0.060,
    "cylinder_height": 0.10925,
    "throw": 0.02725,
    "rod_length": 0.110,
    "compression_height": 0.032,
    "case_expansion": 21.5e-6,
    "cylinder_expansion": 21.5e-6,
    "crank_expansion": 12.3e-6,
    "rod_expansion": 12.3e-6,
    "piston_expansion": 19.4e-6,
}
COOL = {"case_rise": 55.0, "cylinder_rise": 70.0, "crank_rise": 80.0, "rod_rise": 100.0, "piston_rise": 180.0}
WARM = {"case_rise": 80.0, "cylinder_rise": 130.0, "crank_rise": 90.0, "rod_rise": 110.0, "piston_rise": 220.0}


@pytest.mark.parametrize(("rises", "change"), [(COOL, -0.03848675), (WARM, 0.09298200)])
def test_the_sign_depends_on_cooling(rises: dict[str, float], change: float) -> None:
    got = float(thermal.hot_gap_change(**STACK, **rises)) * 1e3
    assert got == pytest.approx(change, abs=5e-9)
    # by growing each part and taking the stack again: deck less crown, hot less cold
    lengths = {"case": 0.060, "cylinder": 0.10925, "crank": 0.02725, "rod": 0.110, "piston": 0.032}
    grown = {name: length * np.expm1(np.log1p(STACK[f"{name}_expansion"] * rises[f"{name}_rise"])) for name, length in lengths.items()}
    assert got == pytest.approx((grown["case"] + grown["cylinder"] - grown["crank"] - grown["rod"] - grown["piston"]) * 1e3, rel=1e-9)


def test_a_ring_in_aluminium_opens_and_in_iron_closes() -> None:
    """Computed: 54 mm, ring 11.4e-6 x 160 K; against 21.5e-6 x 90 K and 11.4e-6 x 90 K. Cold gaps start at 0.002 of the bore (seen)."""
    common = {"bore": 0.054, "ring_expansion": 11.4e-6, "ring_rise": 160.0, "bore_rise": 90.0}
    assert float(thermal.ring_gap_closing(bore_expansion=21.5e-6, **common)) * 1e3 == pytest.approx(-0.01883071, abs=5e-9)
    iron = float(thermal.ring_gap_closing(bore_expansion=11.4e-6, **common)) * 1e3
    assert iron == pytest.approx(0.13537751, abs=5e-9)
    assert iron > 0.002 * 54


@given(rise=st.floats(-50, 300), size=st.floats(0.03, 0.09), expansion=st.floats(5e-6, 30e-6))
def test_what_grows_alike_keeps_its_proportion(rise: float, size: float, expansion: float) -> None:
    hot = thermal.diametral_clearance_hot(
        outer_diameter=size,
        inner_diameter=0.99 * size,
        outer_expansion=expansion,
        inner_expansion=expansion,
        outer_rise=rise,
        inner_rise=rise,
    )
    assert float(hot) == pytest.approx(0.01 * size * (1 + expansion * rise), rel=1e-9)
    assert (
        float(thermal.ring_gap_closing(bore=size, ring_expansion=expansion, bore_expansion=expansion, ring_rise=rise, bore_rise=rise))
        == 0.0
    )


def test_the_materials_table() -> None:
    """Means seen on data sheets (reference page): 4032 19.4, 2218 22.3, 356.0 21.5, grey iron 11.4, steel 11 to 12.5 (1e-6/K)."""
    for name, mean in {"4032": 19.4e-6, "2218": 22.3e-6, "356": 21.5e-6, "grey iron": 11.4e-6}.items():
        assert thermal.MATERIALS[name].mean == mean
    assert (thermal.MATERIALS["steel"].low, thermal.MATERIALS["steel"].high) == (11.0e-6, 12.5e-6)
    assert (thermal.MATERIALS["AlSi12CuNiMg"].low, thermal.MATERIALS["AlSi12CuNiMg"].high) == (20.5e-6, 21.5e-6)
    for made in thermal.MATERIALS.values():
        assert made.low < made.mean < made.high
        assert made.source
        assert "°C" in made.temperatures


# --- through a top end -----------------------------------------------------------------------------------------------


def engine(**running: str) -> te.TopEnd:
    rises = {"case_rise": "55 K", "cylinder_rise": "70 K", "crank_rise": "80 K", "rod_rise": "100 K", "piston_rise": "180 K", **running}
    return te.TopEnd(
        crank=te.Crank(
            stroke="54.5 mm",
            rod_length="110 mm",
            seat_height="60 mm",
            expansion="12.3 µm/m/K",
            rod_expansion="12.3 µm/m/K",
            case_expansion="21.5 µm/m/K",
        ),
        cylinder=te.Cylinder(bore="54 mm", height="109.25 mm", material="356"),
        piston=te.Piston(
            crown=te.FlatCrown(),
            diameter="53.6 mm",
            compression_height="32 mm",
            material="4032",
            skirt_diameter="53.94 mm",
            rings=[te.PistonRing(gap="0.15 mm")],
        ),
        head=te.SpigotHead(
            recess_offset="-0.5 mm",
            spigot_diameter="53.95 mm",
            band=te.SquishBand(outer_diameter="53.9 mm", inner_diameter="38 mm", angle="0 deg"),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm", fitted_thickness="0.5 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.6 mm", fitted_thickness="0.60 mm")],
        running=te.Running(crank_speed="12000 rpm", **rises),
    )


def test_the_reference_stack_through_a_top_end() -> None:
    result = te.evaluate(engine(), ["hot_gap_change", "running_clearance", "hot_running_clearance"])
    assert result.shown("hot_gap_change") == pytest.approx(-0.03848675, abs=5e-9)
    assert result.shown("hot_running_clearance") == pytest.approx(result.shown("running_clearance") - 0.03848675, abs=1e-8)
    made = te.uncertainty(engine(), ["hot_gap_change"])["hot_gap_change"]
    assert [share.path for share in made.shares if share.basis == "assumed"] == ["cylinder.expansion", "piston.expansion"]


def test_a_metal_that_is_not_given_is_assumed_with_its_range() -> None:
    bare = engine().replace({"cylinder.material": None, "piston.material": None})
    assumed = {one.path: one for one in te.evaluate(bare, ["hot_gap_change"]).assumed}
    assert assumed["cylinder.expansion"].why == "expansion of aluminium, mean over 20 to 200 °C, its metal not given"
    low, high = assumed["cylinder.expansion"].limits or (None, None)
    assert (low.m, high.m) == pytest.approx((18.8, 23.0))  # type: ignore[union-attr]
    # far wider than that of a metal that is known
    wide, narrow = (te.uncertainty(top, ["hot_gap_change"])["hot_gap_change"].u for top in (bare, engine()))
    assert wide > 2.5 * narrow


def test_no_rise_is_ever_assumed() -> None:
    cold = engine().replace(running=te.Running(crank_speed="12000 rpm"))
    with pytest.raises(te.MissingInputError) as caught:
        te.evaluate(cold, ["hot_gap_change"])
    assert set(caught.value.needs) == {f"running.{part}_rise" for part in ("case", "cylinder", "crank", "rod", "piston")}


def test_fits_cold_and_hot() -> None:
    """By hand: bore 54 mm at 21.5e-6 x 70 K; skirt 53.94 at 19.4e-6 x 180 K; spigot 53.95 at 20.9e-6 x 60 K."""
    result = te.evaluate(engine(head_rise="60 K"), ["skirt_clearance", "skirt_clearance_hot", "spigot_clearance", "spigot_clearance_hot"])
    assert result.shown("skirt_clearance") == pytest.approx(0.06, abs=1e-9)
    assert result.shown("skirt_clearance_hot") == pytest.approx(54 * (1 + 21.5e-6 * 70) - 53.94 * (1 + 19.4e-6 * 180), abs=1e-9)
    assert result.shown("spigot_clearance") == pytest.approx(0.05, abs=1e-9)
    assert result.shown("spigot_clearance_hot") == pytest.approx(54 * (1 + 21.5e-6 * 70) - 53.95 * (1 + 20.9e-6 * 60), abs=1e-9)


def test_rows_of_many() -> None:
    top = engine(ring_rise="160 K", head_rise="90 K")
    names = ["hot_gap_change", "hot_running_clearance", "skirt_clearance_hot", "ring_gap_hot", "spigot_clearance_hot"]
    columns = top.row.columns() | {"running.piston_rise": np.linspace(100.0, 300.0, BLOCK + 5)}
    made, code = evaluate_columns(top.row.structure, columns, names)
    assert not code.any()
    for row in (0, 999, BLOCK + 4):
        alone, _ = evaluate_columns(
            top.row.structure, top.row.columns() | {"running.piston_rise": columns["running.piston_rise"][row : row + 1]}, names
        )
        assert {name: value[0] for name, value in alone.items()} == {name: value[row] for name, value in made.items()}


# --- findings --------------------------------------------------------------------------------------------------------


def ring(gap: str) -> list[te.PistonRing]:
    return [te.PistonRing(gap=gap, expansion="12 µm/m/K")]


def fits(**changes: Any) -> te.TopEnd:
    exact = {"bore": "54 mm", "expansion": "20 µm/m/K"}
    return te.TopEnd(
        cylinder=te.Cylinder(**exact),
        piston=te.Piston(**{"expansion": "20 µm/m/K", **changes.get("piston", {})}),
        head=te.SpigotHead(expansion="20 µm/m/K", spigot_diameter=changes.get("spigot", "53 mm")),
        running=te.Running(crank_speed="9000 rpm", cylinder_rise="100 K", piston_rise="150 K", ring_rise="200 K", head_rise="150 K"),
    )


@pytest.mark.parametrize(
    ("code", "gone", "kept", "told"),
    [
        # 54 · 1.002 = d · 1.003 at d = 53.946162
        ("skirt_binds_hot", {"piston": {"skirt_diameter": "53.947 mm"}}, {"piston": {"skirt_diameter": "53.946 mm"}}, "piston to bore"),
        # π 54 (12e-6 · 200 - 20e-6 · 100) = 0.067858
        ("ring_butts_hot", {"piston": {"rings": ring("0.067 mm")}}, {"piston": {"rings": ring("0.068 mm")}}, "a ring's gap"),
        ("spigot_binds_hot", {"spigot": "53.947 mm"}, {"spigot": "53.946 mm"}, "spigot to bore"),
    ],
)  # fmt: skip
def test_fits_that_are_gone_hot(code: str, gone: Any, kept: Any, told: str) -> None:
    (found,) = [one for one in te.findings(te.evaluate(fits(**gone))) if one.code == code]
    assert found.message == f"{told} comes to -0.001 mm hot: it is gone"
    assert (found.severity, found.limit, found.unit) == ("warning", 0.0, "mm")
    assert found.margin is not None
    assert -0.001 < found.margin < 0.0
    assert found.effect
    assert found.do
    assert code not in [one.code for one in te.findings(te.evaluate(fits(**kept)))]


def test_a_fit_that_may_be_gone_hot() -> None:
    loose = fits(piston={"skirt_diameter": "53.93 mm ± 0.02 mm"})
    (found,) = [one for one in te.findings(te.evaluate(loose)) if one.code == "skirt_binds_hot"]
    assert found.message == "piston to bore, 0.016 mm hot, may be as little as -0.007 mm: that it is not gone is not proven"


ONE_ROW: dict[str, dict[str, float]] = {
    "hot_gap_change": {**STACK, **COOL},
    "diametral_clearance_hot": {
        "outer_diameter": 0.054,
        "inner_diameter": 0.05395,
        "outer_expansion": 21.5e-6,
        "inner_expansion": 19.4e-6,
        "outer_rise": 90.0,
        "inner_rise": 120.0,
    },
    "ring_gap_closing": {"bore": 0.054, "ring_expansion": 11.4e-6, "bore_expansion": 21.5e-6, "ring_rise": 160.0, "bore_rise": 90.0},
}


@pytest.mark.parametrize("name", sorted(ONE_ROW))
def test_shapes_and_nan_rows(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(thermal, name), ONE_ROW[name])


def test_every_kernel_has_its_row() -> None:
    assert set(ONE_ROW) == set(thermal.__all__) - {"MATERIALS", "Material"}
