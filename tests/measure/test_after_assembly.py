"""Verdicts, a build after assembly, and what to read next."""

from __future__ import annotations

import pytest

import topend as te
from topend.measure.measured import Measured
from topend.measure.verdict import verdict

TOP = te.TopEnd(
    crank=te.Crank(stroke="39.3 mm ± 0.03 mm", rod_length="85.0 mm ± 0.1 mm"),
    cylinder=te.Cylinder(bore="47.60 mm ± 0.01 mm", ports=[te.Port(kind="exhaust", top="22.3 mm ± 0.1 mm")]),
    piston=te.Piston(crown=te.SphereCrown(rise="2.20 mm ± 0.03 mm"), diameter="47.52 mm ± 0.01 mm"),
    head=te.SpigotHead(
        recess_offset="-1.00 mm ± 0.01 mm",
        spigot_diameter="47.20 mm ± 0.01 mm",
        chamber_volume="6.40 cc ± 0.05 cc",
        band=te.SquishBand(outer_diameter="47.20 mm ± 0.01 mm", inner_diameter="33.0 mm ± 0.1 mm", angle="9.0 deg ± 0.3 deg"),
    ),
    base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.48 mm ± 0.01 mm")],
    head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.01 mm", opening="48.5 mm ± 0.1 mm")],
    deck=te.DeckReading(clearance="1.65 mm ± 0.03 mm", base_thickness="0.48 mm ± 0.01 mm"),
)


# --- verdicts --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "low", "high", "said"),
    [
        (0.70, 0.6, None, "inside at least 0.6 mm"),
        (0.50, 0.6, None, "outside at least 0.6 mm"),
        (0.62, 0.6, None, "not proven against at least 0.6 mm: the interval reaches over the limit by 0.019 mm"),
        (0.58, 0.6, None, "not proven against at least 0.6 mm: the interval reaches over the limit by 0.059 mm"),
        (0.80, 0.6, 1.0, "inside 0.6 to 1 mm"),
        (1.02, 0.6, 1.0, "not proven against 0.6 to 1 mm: the interval reaches over the limit by 0.059 mm"),
        (1.10, None, 1.0, "outside at most 1 mm"),
    ],
)
def test_verdicts(value, low, high, said) -> None:
    """ISO 14253-1: proven inside or outside only beyond the uncertainty, here ± 0.0392."""
    assert verdict(Measured("squish_min", value, 0.02, "mm"), low=low, high=high).text == said


def test_verdict_on_an_output_with_its_uncertainty() -> None:
    worked = te.uncertainty(TOP, ["squish_min"])["squish_min"]
    assert verdict(worked, low=0.6).verdict == "inside"


def test_verdicts_that_are_refused() -> None:
    known = Measured("squish_min", 0.7, 0.02, "mm")
    for limits, message in (
        ({}, "verdict: limits are missing: give low, high or both"),
        ({"low": 1.0, "high": 0.6}, "verdict: high (0.6) is not more than low (1): in the wrong order"),
    ):
        with pytest.raises(te.PartError) as caught:
            verdict(known, **limits)
        assert str(caught.value) == message
    with pytest.raises(te.PartError) as caught:
        verdict(Measured("squish_min", float("nan"), 0.02, "mm"), low=0.6)
    assert str(caught.value) == "verdict: value is unknown, so nothing can be said of it"


# --- after assembly --------------------------------------------------------------------------------------------------


def wire(gap: float, **changes):
    fields = {"readings": [f"{gap:.2f} mm"] * 4, "radius": "22.6 mm", "wire": "1.6 mm", "name": "solder"}
    return te.measure.Wire(**{**fields, **changes})


def test_a_build_as_predicted() -> None:
    predicted = te.evaluate(TOP).gap_at("22.6 mm").m_as("mm")
    made = te.verify(TOP, [wire(predicted)], {"squish_min": (0.6, None), "compression_ratio": (None, 14.0)})
    assert made.outcome == "as predicted"
    assert made.compared[0].agrees is True
    assert made.compared[0].predicted == pytest.approx(predicted)
    assert {name: one.verdict for name, one in made.verdicts.items()} == {"squish_min": "inside", "compression_ratio": "inside"}
    assert made.together is not None
    # with the wire the gap is known better than from the parts alone
    assert made.together.outputs["squish_min"].u < te.uncertainty(TOP, ["squish_min"])["squish_min"].u


def test_a_build_with_a_gasket_too_many_is_contradicted() -> None:
    predicted = te.evaluate(TOP).gap_at("22.6 mm").m_as("mm")
    made = te.verify(TOP, [wire(predicted + 0.30)])
    assert made.outcome == "contradicted"
    assert made.compared[0].agrees is False
    assert made.compared[0].text.startswith("does not agree: 0.30")
    assert made.together is not None
    assert made.together.suspect is not None


def test_uncrushed_wire_can_only_contradict() -> None:
    thin = wire(0.60, readings=["0.60 mm"] * 4, wire="0.60 mm")
    made = te.verify(TOP, [thin])
    assert made.compared[0].agrees is None
    assert made.compared[0].text == "not crushed, which does not contradict the prediction"
    assert made.outcome == "as predicted"
    assert made.notes == ("solder: only a lower bound, so it is not reckoned with",)
    thick = te.verify(TOP, [wire(1.6, readings=["1.60 mm"] * 4)])
    assert thick.compared[0].agrees is False


def test_what_is_predicted_without_readings() -> None:
    made = te.verify(TOP, [], {"squish_min": (0.6, None)})
    assert made.compared == ()
    assert made.verdicts["squish_min"].verdict == "inside"


# --- what to read next -----------------------------------------------------------------------------------------------


def test_worth_is_what_reconciling_shows() -> None:
    """What a reading is said to be worth is what u becomes when it is then taken (its value does not matter to first order)."""
    advice = te.next_reading(TOP)
    assert advice.best is not None
    for one in advice.ranked[:5]:
        found = te.evaluate(TOP)
        value = found.gap_at(f"{one.radius!r} mm").m_as("mm") if one.radius is not None else _value(one.of)
        made = te.reconcile(TOP, [Measured(one.of, value, one.u, one.unit, radius=one.radius)], ["squish_min", "compression_ratio"])
        for name in ("squish_min", "compression_ratio"):
            assert made.outputs[name].u == pytest.approx(one.after[name], rel=0.02)


def _value(of: str) -> float:
    from topend.measure.measured import unit_of
    from topend.units import from_si

    found = te.evaluate(TOP)
    return found.shown(of) if of in found else from_si(TOP.row.values[of], unit_of(of))


def test_the_worst_known_dimension_is_read_first() -> None:
    """The band's angle moves the least gap at the band's inner edge; the deck moves all of it."""
    unsure = TOP.replace({"deck": te.DeckReading(clearance="1.65 mm ± 0.2 mm", base_thickness="0.48 mm")})
    assert te.next_reading(unsure, targets=["squish_edge"]).best.of in ("deck.clearance", "gap_at")
    after = te.next_reading(unsure, [wire(0.86)], targets=["squish_edge"])
    before = te.next_reading(unsure, targets=["squish_edge"])
    assert after.best.before["squish_edge"] < before.best.before["squish_edge"] / 3


def test_what_cannot_be_had_comes_first() -> None:
    bare = te.TopEnd(deck=te.DeckReading(clearance="1.65 mm ± 0.1 mm"), head=te.FlushHead(), base_gaskets=[], head_gaskets=[])
    advice = te.next_reading(bare)
    assert set(advice.needs) == {"squish_min", "compression_ratio"}
    assert advice.best is None
    assert advice.text.startswith("squish_min cannot be had before ")
    assert advice.text.endswith("no further reading would narrow it")


def test_only_open_verdicts_count() -> None:
    # the ratio is proven, the gap is not: what narrows the gap comes first
    advice = te.next_reading(TOP, limits={"squish_min": (0.83, None), "compression_ratio": (None, 20.0)})
    assert advice.best is not None
    best = max(advice.ranked, key=lambda one: 1 - (one.after["squish_min"] / one.before["squish_min"]) ** 2)
    assert advice.best.of == best.of
