"""Verdicts, a build after assembly, and what to read next."""

from __future__ import annotations

import math
import pickle
import re
from dataclasses import replace

import pytest

import topend as te
from topend.measure.measured import Measured
from topend.measure.verdict import verdict
from topend.report import VerifiedReport
from topend.wires import wire_places

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


def test_a_volume_through_the_plug_hole_is_held_against_the_parts() -> None:
    """As the burette gives it, without being told that the parts have a clearance volume too."""
    volume = te.evaluate(TOP).shown("clearance_volume")
    fields = {"setup": "assembled", "plug": "out", "insert_volume": "2 cc", "nominal": "25 ml", "division": "0.05 ml"}
    for more, outcome in ((0.0, "as predicted"), (0.8, "contradicted")):
        read = te.measure.Burette(**fields, fillings=[["0.00 ml", f"{volume + 2 + more:.2f} ml"]] * 3)
        assert read.results()[0].of == "assembled.volume"
        made = te.verify(TOP, [read])
        assert made.outcome == outcome
        assert made.compared[0].label == "clearance_volume"
        assert made.together is not None
        assert made.together.dof == 1
    # where the parts give none, it is the clearance volume
    bare = te.TopEnd(crank=te.Crank(stroke="39.3 mm"), cylinder=te.Cylinder(bore="47.6 mm"))
    alone = te.reconcile(bare, [Measured("assembled.volume", 6.4, 0.05, "cc")], ["clearance_volume"])
    assert alone.outputs["clearance_volume"].value == pytest.approx(6.4)


def test_what_was_not_stated_was_not_predicted() -> None:
    made = te.verify(TOP, [te.measure.length(of="piston.compression_height", readings=["30.01 mm"] * 3)])
    assert made.compared == ()
    assert made.notes == ("piston.compression_height: was not stated, so nothing was predicted of it",)
    assert made.outcome == "as predicted"


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


def test_what_was_read_is_not_suggested_again() -> None:
    """However well it was read, and by whichever name: a disc gives opening and closing, the plug hole a clearance volume."""
    first = te.next_reading(TOP)
    assert {"gap_at", "clearance_volume", "exhaust_duration", "deck.clearance"} <= {one.of for one in first.ranked}
    taken = [
        wire(0.86),
        Measured("assembled.volume", 6.4, 0.5, "cc"),
        Measured("exhaust_opens", 88.0, 3.0, "deg"),
        Measured("deck_clearance", 1.63, 0.2, "mm"),
    ]
    left = {one.of for one in te.next_reading(TOP, taken).ranked}
    assert not {"gap_at", "clearance_volume", "exhaust_duration", "deck.clearance"} & left
    # all that is advised, taken one after another, comes to an end and never comes twice
    read: list[Measured] = []
    while (best := te.next_reading(TOP, read).best) is not None:
        assert best.label not in {one.label for one in read}
        found = te.evaluate(TOP)
        value = found.gap_at(f"{best.radius!r} mm").m_as("mm") if best.radius is not None else _value(best.of)
        read.append(Measured(best.of, value, best.u, best.unit, radius=None if best.radius is None else round(best.radius, 2)))
    assert len(read) > 5


def test_a_wire_elsewhere_or_one_not_crushed_leaves_the_wire_worth_reading() -> None:
    inner = wire(te.evaluate(TOP).gap_at("18 mm").m_as("mm"), radius="18 mm")
    thin = wire(0.60, readings=["0.60 mm"] * 4, wire="0.60 mm")
    for one in (inner, thin):
        assert "gap_at" in {each.of for each in te.next_reading(TOP, [one]).ranked}


def steep() -> te.TopEnd:
    """A dome under a band that is too shallow for it, tightest at its inner edge, with limits on every dimension of both."""
    return TOP.replace(
        {
            "head.band.angle": "6 deg ± 0.2 deg",
            "head.band.inner_diameter": "33.0 mm ± 0.2 mm",
            "piston.crown.rise": "2.2 mm ± 0.05 mm",
        }
    )


def test_a_wire_where_the_gap_is_least_is_held_against_the_build() -> None:
    """At the band's inner edge: limits of that edge move it past the wire in half of the rows, and the wire still lay on the band."""
    top = steep()
    usual, least = wire_places(top)
    assert least.radius == pytest.approx(16.5e-3)
    assert least.on_inner_edge
    assert least.gap == pytest.approx(te.evaluate(top).shown("squish_min") * 1e-3)
    first, second = (
        wire(place.gap * 1e3, radius=f"{place.radius * 1e3:.2f} mm", wire=f"{1.6e3 * place.gap:.2f} mm") for place in (usual, least)
    )
    made = te.verify(top, [first, second], {"squish_min": (0.3, None)})
    assert made.outcome == "as predicted"
    assert [one.label for one in made.compared] == ["gap_at 22.6 mm", "gap_at 16.5 mm"]
    assert all(0.03 < one.half_width < 0.2 for one in made.compared)
    # the second says more of the least gap than the first, and both together most
    alone = {one.radius: te.verify(top, [one], {"squish_min": (0.3, None)}).outputs["squish_min"].u for one in (first, second)}
    assert made.outputs["squish_min"].u < alone[second.radius] < alone[first.radius]
    # a dome that is higher than stated does not show at the usual place, and does at the second
    high = [te.evaluate(top.replace({"piston.crown.rise": "2.45 mm"})).gap_at(one.radius).m_as("mm") for one in (first, second)]
    found = te.verify(top, [wire(gap, radius=one.radius.text, wire="1.60 mm") for gap, one in zip(high, (first, second), strict=True)])
    assert [one.agrees for one in found.compared] == [True, False]


def test_a_wire_off_the_band_is_refused() -> None:
    for door in (lambda one: te.verify(TOP, [one]), lambda one: te.reconcile(TOP, [one]), lambda one: te.next_reading(TOP, [one])):
        with pytest.raises(te.PartError) as caught:
            door(wire(0.9, radius="15 mm"))
        assert str(caught.value).startswith("gap_at: radius must be from 16.500 mm (the band's inner edge) to ")


def test_the_next_wire_is_the_one_that_was_not_laid_yet() -> None:
    top = steep()
    usual, least = wire_places(top)
    every = [one for one in te.next_reading(top).ranked if one.of == "gap_at"]
    assert {round(one.radius, 2) for one in every if one.radius is not None} == {22.6, 16.5}
    assert every[0].how == "soft wire at four clock positions, where the gap is least"
    for laid, other in ((usual, least), (least, usual)):
        taken = wire(laid.gap * 1e3, radius=f"{laid.radius * 1e3:.2f} mm")
        (left,) = [one for one in te.next_reading(top, [taken]).ranked if one.of == "gap_at"]
        assert left.radius == pytest.approx(other.radius * 1e3)


# --- a gasket read before it was crushed -----------------------------------------------------------------------------

SHEET = {"before": ["0.31 mm", "0.31 mm", "0.31 mm"]}


def gasketed(material: str | None, thickness: str = "0.30 mm") -> te.TopEnd:
    return te.TopEnd(
        deck=te.DeckReading(clearance="1.65 mm ± 0.02 mm"),
        head=te.FlushHead(),
        base_gaskets=[],
        head_gaskets=[te.Gasket(role="head", thickness=thickness, material=material)],
    )


@pytest.mark.parametrize(("material", "crush"), [("copper", 0.0), ("fibre", 0.17), (None, 0.17)])
def test_a_gasket_read_new_is_its_nominal_and_crush_comes_on_top(material, crush) -> None:
    """By hand: u of the gap from the deck (± 0.02), the micrometer's limits (± 0.004) and step (0.01), and crush of 0 to 17 % of the
    nominal 0.30."""
    top = gasketed(material)
    read = te.measure.gasket(of="head_gaskets.0", **SHEET)
    u = math.sqrt(0.02**2 / 3 + 0.004**2 / 3 + 0.01**2 / 12 + (crush * 0.30) ** 2 / 12)
    before = te.measure.propagate_measured(top, [], ["squish_edge"])["squish_edge"]
    after = te.measure.propagate_measured(top, [read], ["squish_edge"])["squish_edge"]
    assert before.u == pytest.approx(te.uncertainty(top, ["squish_edge"])["squish_edge"].u, rel=1e-9)
    assert after.value == pytest.approx(1.65 + 0.31)
    assert after.u == pytest.approx(u, rel=1e-6)
    if material != "fibre":
        assert after.u < before.u
    # least squares comes to the same (a mean of three is widened there only where it scatters)
    made = te.reconcile(top, [read], ["squish_edge"])
    assert made.outputs["squish_edge"].value == pytest.approx(1.96)
    assert made.outputs["squish_edge"].u == pytest.approx(u, rel=1e-3)
    best = te.evaluate(made.best)
    assert best.shown("squish_edge") == pytest.approx(1.96)
    fitted = {one.of: one for one in made.dimensions}.get("head_gaskets.0.fitted_thickness")
    assert (fitted is None) == (crush == 0.0)
    if fitted is not None:
        assert fitted.value == pytest.approx(0.31)
        assert fitted.u == pytest.approx(math.sqrt(u**2 - 0.02**2 / 3), rel=1e-3)
        assert {one.label: one for one in made.residuals}["head_gaskets.0.fitted_thickness"].value == pytest.approx(0.31)


def test_read_after_crushing_nothing_is_assumed() -> None:
    read = te.measure.GasketThickness(of="head_gaskets.0", **SHEET, after=["0.28 mm", "0.28 mm", "0.28 mm"])
    after = te.measure.propagate_measured(gasketed("fibre"), [read], ["squish_edge"])["squish_edge"]
    assert after.value == pytest.approx(1.93)
    assert after.u == pytest.approx(math.sqrt(0.02**2 / 3 + 0.004**2 / 3 + 0.01**2 / 12), rel=1e-6)


def test_a_gap_read_tells_how_far_a_gasket_was_crushed() -> None:
    made = te.reconcile(gasketed("fibre"), [Measured("squish_edge", 1.92, 0.002, "mm")], ["squish_edge"])
    fitted = {one.of: one for one in made.dimensions}["head_gaskets.0.fitted_thickness"]
    assert 0.27 < fitted.value < 0.30
    assert te.evaluate(made.best).shown("squish_edge") == pytest.approx(made.outputs["squish_edge"].value, abs=1e-6)


def test_a_nominal_without_limits_is_contradicted_by_nothing() -> None:
    made = te.verify(gasketed("fibre"), [te.measure.gasket(of="head_gaskets.0", **SHEET)], {"squish_edge": (1.5, None)})
    assert made.compared == ()
    assert made.outcome == "as predicted"
    stated = te.verify(gasketed("fibre", "0.300 mm ± 0.002 mm"), [te.measure.gasket(of="head_gaskets.0", **SHEET)])
    assert stated.compared[0].agrees is False


# --- is first order enough? ------------------------------------------------------------------------------------------


def test_every_output_has_a_budget_with_degrees_of_freedom() -> None:
    """All that can be had, each with the terms that make its u, and effective degrees of freedom of what was read."""
    read = te.measure.Deck(crown="below", readings=["1.60 mm", "1.66 mm", "1.70 mm"], nuts_down=True, gaskets_crushed=True)
    made = te.measure.propagate_measured(TOP, [read])
    assert list(made) == te.evaluate(TOP).keys()
    for name, one in made.items():
        assert one.value == pytest.approx(
            te.evaluate(TOP.replace({"deck": TOP.deck.replace(clearance="1.6533333333333333 mm")})).shown(name)
        )
        assert math.sqrt(math.fsum(term.u**2 for term in one.budget)) == pytest.approx(one.u, abs=1e-12), name
        few = math.fsum(term.u**4 / term.dof for term in one.budget)
        assert one.dof == (pytest.approx(one.u**4 / few, rel=1e-9) if few > 0 else math.inf)
    assert made["squish_edge"].dof < 10
    assert made["swept_volume"].dof == math.inf


def test_first_order_of_readings_outputs_and_reconciled_builds() -> None:
    read = te.measure.Deck(crown="below", readings=["1.64 mm", "1.66 mm", "1.65 mm"], nuts_down=True, gaskets_crushed=True)
    plain = read.results()[0]
    found, letter = plain.validation(), plain.validation(few_readings=True)
    assert found is not None
    assert letter is not None
    assert found.agrees
    # three readings drawn as Student's t reach further than effective degrees of freedom do
    assert not letter.agrees
    assert letter.drawn[1] - letter.drawn[0] > found.drawn[1] - found.drawn[0]
    assert letter.first == plain.interval()
    for one in te.measure.propagate_measured(TOP, [read], ["squish_edge", "compression_ratio"]).values():
        assert one.validation().agrees
    made = te.reconcile(TOP, [read, wire(0.86)], ["squish_edge", "compression_ratio"])
    for one in made.outputs.values():
        assert one.validation().agrees
    assert made.dimensions[0].validation() is None
    # another value is not what was simulated, and a copy that travels does not take its model along
    assert replace(plain, value=2.0).validation() is None
    assert pickle.loads(pickle.dumps(plain)) == plain


def test_where_first_order_is_not_enough_it_is_said() -> None:
    """A fibre gasket not read: its crush is all on one side of the nominal, and first order lies on both."""
    made = te.verify(gasketed("fibre", "1.0 mm"), [], {"squish_edge": (0.5, None)})
    found = made.validations["squish_edge"]
    assert not found.agrees
    # middle of what is drawn: half of the crush of 0.17 mm below the nominal
    assert sum(found.drawn) / 2 == pytest.approx(2.65 - 0.085, abs=2e-3)
    assert made.to_dict()["first_order"]["squish_edge"]["agrees"] is False
    shown = re.sub(r"\s+", " ", VerifiedReport(made).text)
    assert "squish_edge: no. Simulation finds 2.4" in shown
    assert "go by the simulation" in shown
    # a gap read closes the question
    assert te.verify(gasketed("fibre", "1.0 mm"), [Measured("squish_edge", 2.55, 0.01, "mm")]).validations["squish_edge"].agrees


def test_only_open_verdicts_count() -> None:
    # the ratio is proven, the gap is not: what narrows the gap comes first
    advice = te.next_reading(TOP, limits={"squish_min": (0.84, None), "compression_ratio": (None, 20.0)})
    assert advice.best is not None
    best = max(advice.ranked, key=lambda one: 1 - (one.after["squish_min"] / one.before["squish_min"]) ** 2)
    assert advice.best.of == best.of
