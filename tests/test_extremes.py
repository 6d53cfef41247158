"""The worst case over limits: by hand, against every corner, and what it refuses."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.evaluation import evaluate_columns


def test_a_sum_by_hand() -> None:
    """0.70 ± 0.03 below the deck and 0.30 +0.01/-0.02 of gasket: 0.95 to 1.04; what has no limits does not move."""
    top = te.TopEnd(
        deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"),
        head=te.FlushHead(),
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm +0.01/-0.02 mm")],
    )
    found = te.extremes(top, ["squish_edge"])["squish_edge"]
    assert (found.low, found.value, found.high) == pytest.approx((0.95, 1.0, 1.04), abs=1e-12)
    assert found.at_low == pytest.approx({"deck.clearance": 0.67, "head_gaskets.0.fitted_thickness": 0.28})
    assert found.at_high == pytest.approx({"deck.clearance": 0.73, "head_gaskets.0.fitted_thickness": 0.31})
    assert (found.name, found.unit) == ("squish_edge", "mm")


def test_limits_of_defaults_count() -> None:
    """Fibre not measured: nominal +0/-17 % (docs/sources.md), so a 0.5 mm base gasket may leave 0.085 mm less."""
    top = te.TopEnd(
        deck=te.DeckReading(clearance="1.0 mm", base_thickness="0.3 mm"),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm", material="fibre")],
    )
    found = te.extremes(top, ["deck_clearance"])["deck_clearance"]
    assert (found.low, found.high) == pytest.approx((1.2 - 0.085, 1.2), abs=1e-9)


def test_against_every_corner(sample: Any) -> None:
    """Ratio and duration of the sample with limits: each goes one way with every input, so its ends lie in the corners."""
    top = sample(
        crank=te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm ± 0.1 mm"),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm ± 0.02 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm +0.01/-0.02 mm", opening="48.5 mm")],
        deck=te.DeckReading(clearance="1.65 mm ± 0.03 mm", base_thickness="0.50 mm"),
    )
    names = ("compression_ratio", "exhaust_duration", "squish_min")
    limits = top.row.limits
    # a crank of the deck reading is the same crank
    paths = [path for path in limits if not path.startswith("deck.c") or path == "deck.clearance"]
    corners = np.array(list(itertools.product((0.0, 1.0), repeat=len(paths)))).T
    columns: dict[str, Any] = top.row.columns()
    columns |= {
        path: limits[path].low + (limits[path].high - limits[path].low) * corner for path, corner in zip(paths, corners, strict=True)
    }
    made, codes = evaluate_columns(top.row.structure, columns, names)
    assert not codes.any()
    found = te.extremes(top, names)
    for name in names:
        scale = {"compression_ratio": 1.0, "exhaust_duration": 180.0 / np.pi, "squish_min": 1e3}[name]
        assert (found[name].low, found[name].high) == pytest.approx((scale * made[name].min(), scale * made[name].max()), rel=1e-9), name
        # and no interval of uncertainty goes beyond them
        uncertain = te.uncertainty(top, [name])[name]
        assert found[name].low < uncertain.value - uncertain.u
        assert uncertain.value + uncertain.u < found[name].high


def pinned(pin: str, hole: str, **running: str) -> te.TopEnd:
    """Two solid pins with nothing off its place but what is asked about."""
    return te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm", material="356"),
        head=te.FlushHead(material="356"),
        location=te.PinLocation(
            pin=te.LocatingPin(standard="solid", diameter=pin),
            pin_hole_diameter=hole,
            cylinder_pin_position="0 mm",
            head_pin_position="0 mm",
            head_coaxiality="0 mm",
            pin_distance="57 mm",
        ),
        running=te.Running(crank_speed="9000 rpm", **running) if running else None,
    )


def test_a_fit_with_play_at_both_far_limits_only() -> None:
    """4 H7/n6 is +12/0 on +16/+8 µm: tight as stated, tight with either size alone at its limit, and 4 µm wide with both; cylinder and
    head have the same hole, so 2 + 2 µm off."""
    top = pinned("4 mm n6", "4 mm H7")
    found = te.extremes(top, ["eccentricity_worst"])["eccentricity_worst"]
    assert (found.low, found.value, found.high) == pytest.approx((0.0, 0.0, 0.004), abs=1e-12)
    assert found.at_high == pytest.approx({"location.pin_hole_diameter": 4.012, "location.pin.free_diameter": 4.008})
    assert te.locate(top, draws=20_000).eccentricities.max() <= found.high


def test_a_difference_that_may_go_to_either_side() -> None:
    """By hand: head and cylinder of 356 (20.9 to 22.1 µm/m/K), each 80 to 120 K hotter: alike as stated, and at worst 57 mm x
    (22.1 x 120 - 20.9 x 80) apart, one up and the other down; either alone lowers the margin whichever way it goes."""
    top = pinned("4 mm", "4.02 mm", head_rise="100 K ± 20 K", cylinder_rise="100 K ± 20 K")
    found = te.extremes(top, ["pin_margin_hot"])["pin_margin_hot"]
    assert (found.value, found.high) == pytest.approx((0.04, 0.04), abs=1e-12)
    assert found.low == pytest.approx(0.04 - 57 * (22.1e-6 * 120 - 20.9e-6 * 80), abs=1e-9)
    assert "pins_over_constrain" in [one.code for one in te.findings(te.evaluate(top))]
    alike = pinned("4 mm", "4.02 mm", head_rise="100 K", cylinder_rise="100 K")
    assert "pins_over_constrain" not in [one.code for one in te.findings(te.evaluate(alike))]


def test_what_it_refuses() -> None:
    with pytest.raises(te.MissingInputError, match="squish_edge cannot be had: it needs"):
        te.extremes(te.TopEnd(), ["squish_edge"])
    with pytest.raises(te.UnknownNameError, match="no output is called 'squish_egde'"):
        te.extremes(te.TopEnd(), ["squish_egde"])
    with pytest.raises(te.ArgumentError, match="outputs must be a list of names"):
        te.extremes(te.TopEnd(), "squish_edge")
    with pytest.raises(te.ArgumentError, match="extremes: top must be a TopEnd"):
        te.extremes(3, ["squish_edge"])  # type: ignore[arg-type]
