"""TopEnd: what it refuses and in which words, what it makes of partial data, and a deck reading that stays with its parts."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend.quantities import STATUS

SPIGOT: dict[str, Any] = {"spigot_diameter": "47.2 mm", "chamber_volume": "6.4 cc"}
BAND = te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg")
EXHAUST = te.Port(kind="exhaust", top="22.3 mm")
BASE = te.Gasket(role="base", thickness="0.50 mm")
HEAD = te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm")


def shown(top: te.TopEnd, name: str) -> float:
    return te.evaluate(top).shown(name)


# --- refusals: reason, and the whole message -----------------------------------------------------------------------------

PROFILE_BAND = te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33 mm", angle="9 deg")
REFUSALS: list[tuple[str, dict[str, Any], str]] = [
    (
        "rod_too_short",
        {"crank": te.Crank(stroke="39.3 mm", rod_length="20 mm", offset="0.5 mm")},
        "the rod (20.000 mm) is not longer than throw plus offset (19.650 + 0.500 mm): 0.150 mm short",
    ),
    (
        "rod_too_short",
        {"crank": te.Crank(stroke="39.3 mm", rod_length="19 mm"), "piston": te.Piston(pin_offset="-1 mm")},
        "the rod (19.000 mm) is not longer than throw plus offset (19.650 + 1.000 mm): 1.650 mm short",
    ),
    (
        "piston_wider_than_bore",
        {"piston": te.Piston(diameter="47.7 mm")},
        "the piston (47.700 mm) is wider than the bore (47.600 mm) by 0.100 mm",
    ),
    (
        "spigot_wider_than_bore",
        {"head": te.SpigotHead(recess_offset="-1 mm", spigot_diameter="47.65 mm")},
        "the head's spigot (47.650 mm) is wider than the bore (47.600 mm) by 0.050 mm",
    ),
    (
        "band_wider_than_head",
        {"head": te.SpigotHead(recess_offset="-1 mm", spigot_diameter="47 mm", band=BAND)},
        "the head's squish band (47.200 mm) is wider than its spigot (47.000 mm) by 0.200 mm",
    ),
    (
        "band_wider_than_head",
        {"head": te.FlushHead(recess_diameter="47 mm", band=BAND)},
        "the head's squish band (47.200 mm) is wider than its recess (47.000 mm) by 0.200 mm",
    ),
    (
        "band_inside_out",
        {"head": te.FlushHead(band=te.SquishBand(outer_diameter="40 mm", inner_diameter="40 mm"))},
        "the squish band's inner diameter (40.000 mm) is not smaller than its outer diameter (40.000 mm)",
    ),
    (
        # the two swapped: said of each other, though the inner is wider than the bore too
        "band_inside_out",
        {"head": te.FlushHead(band=te.SquishBand(outer_diameter="36 mm", inner_diameter="48 mm"))},
        "the squish band's inner diameter (48.000 mm) is not smaller than its outer diameter (36.000 mm)",
    ),
    (
        "band_inside_out",
        {"head": te.FlushHead(band=te.SquishBand(outer_diameter="50 mm", inner_diameter="48 mm"))},
        "the squish band's inner diameter (48.000 mm) is not smaller than the bore (47.600 mm)",
    ),
    (
        "opening_inside_bore",
        {"head_gaskets": [HEAD, te.Gasket(role="head", thickness="0.3 mm", opening="47 mm")]},
        "head_gaskets.1.opening (47.000 mm) is inside the bore (47.600 mm): the gasket hangs 0.300 mm into it",
    ),
    (
        "offset_against_kind",
        {"head": te.SpigotHead(recess_offset="0.2 mm")},
        "a spigot head drops in: its recess_offset is zero or negative, got 0.200 mm; a band above the gasket face is a FlushHead's, "
        'kind = "flush"',
    ),
    (
        "offset_against_kind",
        {"head": te.FlushHead(recess_offset="-0.2 mm")},
        "a flush head's band does not stand proud: its recess_offset is zero or positive, got -0.200 mm; one that drops in is a "
        'SpigotHead, kind = "spigot"',
    ),
    (
        "crown_beyond_hemisphere",
        {"piston": te.Piston(crown=te.SphereCrown(rise="24 mm"))},
        "the crown rises or sinks by 24.000 mm over a radius of 23.800 mm: more than a hemisphere",
    ),
    (
        "crown_beyond_hemisphere",
        {"piston": te.Piston(crown=te.DishCrown(depth="1 mm", diameter="48 mm"))},
        "the dish (48.000 mm across) is wider than the piston (47.600 mm)",
    ),
    (
        "contact",
        {"deck": te.DeckReading(clearance="0.60 mm", base_thickness="0.50 mm")},
        # the gaps are those of the section 7 sample less 1.05 mm: 0.869 and 0.950 there
        "crown and head touch at TDC at radius 20.3 mm: they overlap by 0.181 mm; the gap at the band's outer edge is -0.100 mm. "
        "Thicker gaskets, or a head that stands less proud",
    ),
    (
        "contact",
        {"deck": te.DeckReading(clearance="0.6 mm"), "head": te.SpigotHead(recess_offset="-1 mm"), "base_gaskets": None, "piston": None},
        "crown and head touch at TDC at the squish band's outer edge: they overlap by 0.100 mm. "
        "Thicker gaskets, or a head that stands less proud",
    ),
    (
        "port_above_crown",
        {"cylinder": te.Cylinder(bore="47.6 mm", ports=[EXHAUST, te.Port(kind="transfer", top="1.6 mm")])},
        "a port's roof (1.600 below the deck) lies 0.050 mm above the crown at TDC (1.650 below the deck): it never closes",
    ),
    (
        "port_never_opens",
        {"cylinder": te.Cylinder(bore="47.6 mm", ports=[EXHAUST, te.Port(kind="transfer", top="41.0 mm")])},
        "a port's roof (41.000 below the deck) lies 0.050 mm below the crown at BDC (40.950 below the deck): it never opens",
    ),
    (
        "port_above_crown",
        {
            "cylinder": te.Cylinder(bore="47.6 mm", ports=[EXHAUST, te.Port(kind="transfer", top="4.6 mm")]),
            "piston": te.Piston(crown=te.SphereCrown(rise="2.2 mm"), timing_edge="ring", top_land="3 mm"),
        },
        "a port's roof (4.600 below the deck, 1.600 by what seals, 3.000 under the crown's edge) lies 0.050 mm above the crown at TDC "
        "(1.650 below the deck): it never closes",
    ),
    (
        "inlet_never_opens",
        {
            "cylinder": te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="inlet", top="45 mm", floor="60 mm")]),
            "piston": te.Piston(crown=te.SphereCrown(rise="2.2 mm"), skirt_length="58.4 mm"),
        },
        "the skirt reaches 0.050 mm below the inlet's floor at TDC: it never opens",
    ),
    (
        "inlet_never_shuts",
        {
            "cylinder": te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="inlet", top="45 mm", floor="80 mm")]),
            "piston": te.Piston(crown=te.SphereCrown(rise="2.2 mm"), skirt_length="39 mm"),
        },
        "the skirt stands 0.050 mm above the inlet's floor at BDC: it never shuts",
    ),
    (
        "no_clearance_volume",
        {"head": te.SpigotHead(recess_offset="-1 mm", spigot_diameter="47.2 mm", chamber_volume="0.1 cc")},
        "the volumes given leave -0.122 cc of clearance; check chamber volume, its datum, and the crown",
    ),
    (
        "profile_impossible",
        {
            "head": te.SpigotHead(
                band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33 mm", angle="9 deg"), profile=te.BowlProfile(depth="17 mm")
            )
        },
        "the head's half-section cannot be: the bowl's depth (17.000 mm) is more than the radius of its opening (16.500 mm): "
        "past half a ball it would undercut the band",
    ),
    (
        "profile_disagrees",
        {"head": te.SpigotHead(band=te.SquishBand(angle="10 deg"), profile=te.BowlProfile(band=PROFILE_BAND, depth="10 mm"))},
        "head.band.angle is 10.0000 deg, and its half-section has 9.0000 deg; leave it out, so that it follows from the half-section",
    ),
    (
        # 6.2351 cc by the cap and the frustum of the band
        "profile_disagrees",
        {"head": te.SpigotHead(chamber_volume="6.4 cc", profile=te.BowlProfile(band=PROFILE_BAND, depth="10 mm"))},
        "the chamber volume is stated as 6.4000 cc, and its half-section sweeps 6.2351 cc, 0.1649 cc apart where 0.0500 cc are within "
        "its limits or its last decimal; leave chamber_volume out, or correct the half-section",
    ),
    (
        # edge gap 0.95, the roof 1.125 + 0.1 above it, the dome 2.2
        "contact",
        {
            "head": te.SpigotHead(
                recess_offset="-1 mm", spigot_diameter="47.2 mm", profile=te.BathtubProfile(band=PROFILE_BAND, depth="0.1 mm")
            )
        },
        "crown and head touch at TDC in the bowl: they overlap by 0.025 mm; the gap at the band's outer edge is 0.950 mm. "
        "Thicker gaskets, or a head that stands less proud",
    ),
    (
        "wrong_role",
        {"head_gaskets": [HEAD, BASE]},
        "head_gaskets.1 is a base gasket; head_gaskets takes gaskets of role head",
    ),
    (
        "wrong_role",
        {"base_gaskets": [HEAD]},
        "base_gaskets.0 is a head gasket; base_gaskets takes gaskets of role base",
    ),
    (
        "stack_disagrees",
        {"deck": te.DeckReading(clearance="1.65 mm", base_thickness="0.47 mm", base_stack="same")},
        "deck.base_stack says that the same gaskets lie there now, yet deck.base_thickness is 0.470 mm and those fitted come to 0.500 mm; "
        'leave deck.base_thickness out, or say base_stack = "other"',
    ),
    (
        "seal_mismatch",
        {"head": te.SpigotHead(recess_offset="-1 mm", seal="o-ring")},
        "the head seals by O-ring alone, yet 1 head gasket(s) lie under it; take them out, or give the head seal both",
    ),
    (
        "spark_before_closing",
        {"burn": te.Burn(spark="120 deg")},
        "the spark (120.0 deg before TDC) comes before the exhaust closes (86.2 deg before TDC)",
    ),
    (
        "spark_after_opening",
        {"burn": te.Burn(spark="-100 deg")},
        "the burn would start 110.0 deg after TDC, when the exhaust is open (from 86.2 deg); "
        "burn.spark counts degrees before TDC, positive",
    ),
    (
        "burned_before_spark",
        {"burn": te.Burn(spark="15 deg"), "charge": te.Charge(residual="100 %")},
        "charge.residual (100.0 %) leaves nothing to burn: the whole charge is burned before the spark",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("reason", "parts", "message"), REFUSALS, ids=[f"{case[0]}-{index}" for index, case in enumerate(REFUSALS)])
def test_refusals(reason: str, parts: dict[str, Any], message: str, sample: Any, refused: Any) -> None:
    error = refused(reason, lambda: sample(**parts))
    assert str(error) == message
    assert isinstance(error, ValueError)
    assert isinstance(error, te.TopendError)


def test_every_reason_is_tried() -> None:
    # sizes are checked where a part is made; only columns can bring a bad one (test_evaluation); a cycle without an answer refuses nothing
    assert {case[0] for case in REFUSALS} == set(STATUS) - {"ok", "not_a_size", "cycle_not_followed"}


def test_touching_exactly_is_contact(sample: Any, refused: Any) -> None:
    """0.7 + 0.3 - 1.0 is 5.6e-17 in floats: nothing is nothing."""
    parts = {"piston": None, "base_gaskets": None}
    refused("contact", lambda: sample(deck=te.DeckReading(clearance="0.7 mm"), **parts))
    assert shown(sample(deck=te.DeckReading(clearance="0.701 mm"), **parts), "squish_edge") == pytest.approx(0.001, rel=1e-9)


def test_contact_inside_the_band_over_a_dome(refused: Any) -> None:
    """Reference page: a flat band over a 2 mm dome, 1.0 mm at a 54 mm bore: -0.00274 mm at the inner edge of a band of half the area."""
    error = refused(
        "contact",
        lambda: te.TopEnd(
            cylinder=te.Cylinder(bore="54 mm"),
            piston=te.Piston(crown=te.SphereCrown(rise="2 mm")),
            head=te.FlushHead(band=te.SquishBand(outer_diameter="54 mm", inner_diameter=f"{54 / math.sqrt(2)} mm", angle="0 deg")),
            deck=te.DeckReading(clearance="0.7 mm"),
            head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")],
        ),
    )
    assert "they overlap by 0.003 mm" in str(error)
    assert "the gap at the band's outer edge is 1.000 mm" in str(error)


# --- least data (design page, section 5) ----------------------------------------------------------------------------------


def test_edge_gap_from_deck_gaskets_and_offset_alone() -> None:
    top = te.TopEnd(
        deck=te.DeckReading(clearance="1.65 mm"),
        head=te.SpigotHead(recess_offset="-1.0 mm"),
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm")],
    )
    result = te.evaluate(top)
    assert result.shown("squish_edge") == pytest.approx(0.95, abs=1e-12)
    assert result.shown("deck_clearance") == pytest.approx(1.65, abs=1e-12)
    assert set(result.keys()) == {"deck_clearance", "squish_edge"}
    # the least gap is unknown, never taken as flat
    with pytest.raises(te.MissingInputError) as caught:
        result.squish_min  # noqa: B018
    assert set(caught.value.needs) >= {"head.band.outer_diameter", "head.band.inner_diameter", "head.band.angle", "piston.crown"}
    assert str(caught.value) == f"squish_min cannot be had: it needs {', '.join(caught.value.needs)}"


def test_least_gap_needs_the_crown_besides_the_band(sample: Any) -> None:
    result = te.evaluate(sample(piston=te.Piston()))
    assert "squish_edge" in result
    assert result.missing["squish_min"] == ("piston.crown",)
    assert result.missing["compression_ratio"] == ("piston.crown",)


def test_a_measured_crown_without_its_slope_gives_the_ratio_and_no_least_gap(sample: Any) -> None:
    result = te.evaluate(sample(piston=te.Piston(crown=te.MeasuredCrown(volume="1.96 cc"))))
    assert result.shown("compression_ratio") == pytest.approx(12.32, abs=0.02)
    assert result.missing["squish_min"] == ("piston.crown.edge_slope",)


def test_a_measured_crown_read_at_its_centre_lacks_a_rise(sample: Any) -> None:
    deck = te.DeckReading(clearance="-0.55 mm", at="centre")
    result = te.evaluate(sample(piston=te.Piston(crown=te.MeasuredCrown(volume="1.96 cc", edge_slope="8 deg")), deck=deck))
    assert result.missing["squish_edge"] == ("piston.crown.rise",)


def test_timing_from_stroke_ports_and_deck() -> None:
    top = te.TopEnd(
        crank=te.Crank(stroke="39.3 mm"), cylinder=te.Cylinder(ports=[EXHAUST]), deck=te.DeckReading(clearance="1.65 mm")
    )  # fmt: skip
    result = te.evaluate(top)
    assert result.shown("exhaust_duration") == pytest.approx(187.5, abs=0.2)
    rod = next(one for one in result.assumed if one.path == "crank.rod_length")
    assert rod.why == "rod not given: 2.15 × stroke ± 0.15 × stroke"
    assert rod.value.m_as("mm") == pytest.approx(2.15 * 39.3)
    assert [end.m_as("mm") for end in rod.limits] == pytest.approx([2.0 * 39.3, 2.3 * 39.3])
    # what a base gasket does to it: 0.3 mm more raises the barrel, opens earlier, stays open longer
    raised = te.evaluate(top.replace(deck=te.DeckReading(clearance="1.95 mm")))
    assert raised.shown("exhaust_opens") < result.shown("exhaust_opens")
    assert raised.shown("exhaust_duration") > result.shown("exhaust_duration")
    assert "transfer_duration" not in result
    assert result.missing["transfer_duration"] == ("cylinder.ports (transfer).top",)


def test_ratio_from_an_assembled_volume_without_any_head() -> None:
    top = te.TopEnd(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        cylinder=te.Cylinder(bore="54 mm"),
        assembled=te.AssembledVolume(volume="10 cc", base_thickness="0.5 mm", head_thickness="0.3 mm"),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", opening="55 mm")],
    )
    # reference page: clearance 10 gives 13.48170469
    assert te.evaluate(top)["compression_ratio"] == pytest.approx(13.48170469, abs=5.1e-9)
    # and it moves with the stack: bore area below the deck, the opening's area under the head
    thicker = top.replace({"base.thickness": "0.8 mm"})
    assert shown(thicker, "clearance_volume") == pytest.approx(10 + math.pi / 4 * 5.4**2 * 0.03, rel=1e-12)
    raised = top.replace({"head_gasket.thickness": "0.5 mm"})
    assert shown(raised, "clearance_volume") == pytest.approx(10 + math.pi / 4 * 5.5**2 * 0.02, rel=1e-12)


def test_assembled_volume_without_its_stack_is_bound_to_the_one_fitted() -> None:
    top = te.TopEnd(
        crank=te.Crank(stroke="54.5 mm"), cylinder=te.Cylinder(bore="54 mm"), assembled=te.AssembledVolume(volume="10 cc"),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm")], head_gaskets=[],
    )  # fmt: skip
    assert shown(top, "clearance_volume") == pytest.approx(10, rel=1e-14)
    assert shown(top.replace({"base.thickness": "0.8 mm"}), "clearance_volume") == pytest.approx(
        10 + math.pi / 4 * 5.4**2 * 0.03, rel=1e-12
    )
    nothing = te.TopEnd(crank=te.Crank(stroke="54.5 mm"), cylinder=te.Cylinder(bore="54 mm"), assembled=te.AssembledVolume(volume="10 cc"))
    assert shown(nothing, "clearance_volume") == pytest.approx(10, rel=1e-14)


def test_trapped_ratio_needs_the_exhaust_besides() -> None:
    parts: dict[str, Any] = {
        "crank": te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        "assembled": te.AssembledVolume(volume="11.45110522 cc"),
        "deck": te.DeckReading(clearance="0 mm"),
    }
    with_port = te.TopEnd(cylinder=te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm")]), **parts)
    # reference page, E125: exhaust closing at x = 30, clearance 11.45110522: trapped 7, geometric 11.9
    assert te.evaluate(with_port)["trapped_compression_ratio"] == pytest.approx(7.0, abs=1e-8)
    assert te.evaluate(with_port)["compression_ratio"] == pytest.approx(11.9, abs=1e-8)
    without = te.evaluate(te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), **parts))
    assert without.missing["trapped_compression_ratio"] == ("cylinder.ports (exhaust).top",)


def test_nothing_gives_nothing_and_says_what_it_needs() -> None:
    result = te.evaluate(te.TopEnd())
    assert len(result) == 0
    assert set(result.missing) == set(te.quantities.ALWAYS)
    for name, needs in result.missing.items():
        assert needs, name
        assert name not in needs
    assert result.missing["piston_travel"] == ("crank.stroke",)


def test_an_engraved_volume_is_not_a_measured_one(sample: Any) -> None:
    engraved = sample(head=te.SpigotHead(recess_offset="-1.0 mm", band=BAND, volume_basis="engraved", **SPIGOT))
    found = next(one for one in te.evaluate(engraved, ["compression_ratio"]).assumed if one.path == "head.chamber_volume")
    assert [end.m_as("cc") for end in found.limits] == pytest.approx([6.1, 6.7])
    assert found.why == "chamber volume engraved, not measured: ± 0.3 cc"
    u = te.uncertainty(engraved, ["clearance_volume"])["clearance_volume"]
    share = next(share for share in u.shares if share.path == "head.chamber_volume")
    assert share.u == pytest.approx(0.3 / math.sqrt(3), rel=1e-9)
    assert share.basis == "assumed"
    # limits of its own stand; an output that has no use for it does not list it
    own = {**SPIGOT, "chamber_volume": "6.4 cc ± 0.1 cc"}
    stated = sample(head=te.SpigotHead(recess_offset="-1.0 mm", band=BAND, volume_basis="engraved", **own))
    assert "head.chamber_volume" not in [one.path for one in te.evaluate(stated).assumed]
    assert "head.chamber_volume" not in [one.path for one in te.evaluate(engraved, ["squish_min"]).assumed]


@pytest.mark.parametrize(
    ("material", "low", "high"),
    [("copper", 0.28, 0.32), ("aluminium", 0.28, 0.32), ("fibre", 0.249, 0.30), ("paper", 0.249, 0.30), (None, 0.249, 0.32)],
)
def test_a_gasket_never_measured_is_assumed_by_its_material(material: Any, low: float, high: float) -> None:
    """Design page, section 4: metal nominal ± 0.02 mm, fibre nominal +0/-17 %."""
    top = te.TopEnd(
        deck=te.DeckReading(clearance="1 mm"),
        head=te.FlushHead(),
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", material=material)],
    )
    found = next(one for one in te.evaluate(top).assumed if one.path == "head_gaskets.0.fitted_thickness")
    assert found.value.m_as("mm") == pytest.approx(0.3)
    assert [end.m_as("mm") for end in found.limits] == pytest.approx([low, high])
    measured = top.replace({"head_gaskets.0.fitted_thickness": "0.27 mm"})
    assert [one.path for one in te.evaluate(measured).assumed if one.value is not None] == []
    assert shown(measured, "squish_edge") == pytest.approx(1.27)


def test_o_ring_heads_take_no_gasket_and_add_no_thickness() -> None:
    top = te.TopEnd(deck=te.DeckReading(clearance="0.9 mm"), head=te.FlushHead(seal="o-ring"))
    assert shown(top, "squish_edge") == pytest.approx(0.9)
    assert te.evaluate(te.TopEnd(deck=te.DeckReading(clearance="0.9 mm"), head=te.FlushHead())).missing["squish_edge"] == (
        "head_gasket.thickness",
    )
    both = te.TopEnd(deck=te.DeckReading(clearance="0.9 mm"), head=te.FlushHead(seal="both"), head_gaskets=[HEAD])
    assert shown(both, "squish_edge") == pytest.approx(1.2)


# --- the deck reading ---------------------------------------------------------------------------------------------------------


def test_a_deck_read_at_the_dome_s_centre_is_2_2_mm_apart(sample: Any) -> None:
    """Issue 1: on the sample of section 7, whose dome rises 2.2 mm."""
    at_centre = sample(deck=te.DeckReading(clearance="1.65 mm", at="centre", base_thickness="0.50 mm"))
    assert shown(at_centre, "deck_clearance") - shown(sample(), "deck_clearance") == pytest.approx(2.2, abs=1e-12)
    # the same crown, read rightly at its centre: 2.2 mm nearer the deck
    rightly = sample(deck=te.DeckReading(clearance="-0.55 mm", at="centre", base_thickness="0.50 mm"))
    assert shown(rightly, "squish_min") == pytest.approx(shown(sample(), "squish_min"), abs=1e-12)


def test_a_deck_read_at_a_radius(sample: Any) -> None:
    """The cap's own geometry: R = (a² + h²)/(2h), rise = √(R² - ρ²) - (R - h)."""
    a, h, rho = 23.8, 2.2, 12.0
    big = (a * a + h * h) / (2 * h)
    rise = math.sqrt(big**2 - rho**2) - (big - h)
    top = sample(deck=te.DeckReading(clearance="1.65 mm", at="12 mm", base_thickness="0.50 mm"))
    assert shown(top, "deck_clearance") == pytest.approx(1.65 + rise, abs=1e-12)
    assert shown(
        sample(deck=te.DeckReading(clearance="1.65 mm", at="23.8 mm", base_thickness="0.50 mm")), "deck_clearance"
    ) == pytest.approx(1.65)


def test_centre_of_an_unknown_crown_is_asked_for() -> None:
    top = te.TopEnd(deck=te.DeckReading(clearance="1 mm", at="centre"))
    assert te.evaluate(top).missing["deck_clearance"] == ("piston.crown",)
    measured = te.TopEnd(deck=te.DeckReading(clearance="1 mm", at="centre"), piston=te.Piston(crown=te.MeasuredCrown(volume="2 cc")))
    with pytest.raises(te.MissingInputError, match="deck_clearance cannot be had: it needs "):
        te.evaluate(measured, ["deck_clearance"])


def test_a_reading_moves_with_the_base_stack(sample: Any) -> None:
    assert shown(sample(base_gaskets=[BASE, te.Gasket(role="base", thickness="0.2 mm")]), "deck_clearance") == pytest.approx(1.85)
    assert shown(sample(base_gaskets=[]), "deck_clearance") == pytest.approx(1.15)
    # unknown under the reading: the stack now fitted, and then bound to it
    unsaid = sample(deck=te.DeckReading(clearance="1.65 mm"))
    assert shown(unsaid, "deck_clearance") == pytest.approx(1.65)
    assert shown(unsaid.replace({"base.thickness": "0.7 mm"}), "deck_clearance") == pytest.approx(1.85)
    assert shown(unsaid.replace({"base_gaskets.0.thickness": "0.7 mm"}), "deck_clearance") == pytest.approx(1.85)
    assert shown(unsaid.replace(base_gaskets=[BASE, BASE]), "deck_clearance") == pytest.approx(2.15)


@given(stroke=st.floats(37.0, 42.0), rod=st.floats(80.0, 86.0), offset=st.floats(-1.0, 1.0), pin=st.floats(-1.0, 1.0))
def test_a_reading_moves_with_crank_and_rod(sample: Any, stroke: float, rod: float, offset: float, pin: float) -> None:
    """c = reading - Δ√((L + r)² - e²), e the sum of the cylinder's and the pin's offset."""
    bare = sample(head=None, cylinder=None, piston=te.Piston(compression_height="25 mm"))
    changed = bare.replace(
        {
            "crank.stroke": f"{stroke!r} mm",
            "crank.rod_length": f"{rod!r} mm",
            "crank.offset": f"{offset!r} mm",
            "piston.pin_offset": f"{pin!r} mm",
        }
    )
    reach = math.sqrt((rod + stroke / 2) ** 2 - (offset + pin) ** 2) - (85 + 39.3 / 2)
    assert shown(changed, "deck_clearance") == pytest.approx(1.65 - reach, abs=1e-9)
    # the reading now names what it was taken with, and back again is where it was
    assert changed.deck.crank == bare.crank
    back = changed.replace({"crank": bare.crank, "piston": bare.piston})
    assert shown(back, "deck_clearance") == pytest.approx(1.65, abs=1e-12)
    # one change at a time or all at once
    steps = bare
    for path, value in (("crank.rod_length", rod), ("crank.stroke", stroke), ("piston.pin_offset", pin), ("crank.offset", offset)):
        steps = steps.replace({path: f"{value!r} mm"})
    assert shown(steps, "deck_clearance") == pytest.approx(shown(changed, "deck_clearance"), abs=1e-12)


def test_a_reading_moves_with_piston_and_cylinder_height(sample: Any) -> None:
    known = sample(
        piston=te.Piston(crown=te.FlatCrown(), compression_height="25.0 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", height="60 mm"),
    )
    assert shown(known.replace({"piston.compression_height": "25.4 mm"}), "deck_clearance") == pytest.approx(1.25)
    assert shown(known.replace({"cylinder.height": "60.3 mm"}), "deck_clearance") == pytest.approx(1.95)
    assert shown(known.replace(piston=te.Piston(crown=te.FlatCrown(), compression_height="24.9 mm")), "deck_clearance") == pytest.approx(
        1.75
    )
    # a change that does not move the deck leaves the reading as it is
    assert known.replace({"cylinder.bore": "47.8 mm"}).deck == known.deck
    assert known.replace({"piston.top_land": "3 mm"}).deck == known.deck
    assert known.replace({"running.crank_speed": "9000 rpm"}).deck == known.deck


def test_compression_heights_nobody_knows_are_asked_for(sample: Any) -> None:
    other = sample().replace(piston=te.Piston(crown=te.FlatCrown(), pin_offset="0.2 mm"))
    missing = te.evaluate(other).missing["deck_clearance"]
    assert set(missing) == {"piston.compression_height", "deck.piston.compression_height"}
    # the same piston with another crown stays where it was, and that is listed
    domed = sample().replace({"piston.crown": te.FlatCrown()})
    result = te.evaluate(domed)
    assert result.shown("deck_clearance") == pytest.approx(1.65)
    assert "piston compression height not given: taken as it was under the deck reading" in [one.why for one in result.assumed]
    # a deck read at the old dome's centre keeps the old dome
    at_centre = sample(deck=te.DeckReading(clearance="-0.55 mm", at="centre", base_thickness="0.5 mm")).replace(
        {"piston.crown": te.FlatCrown()}
    )
    assert shown(at_centre, "deck_clearance") == pytest.approx(1.65)


def test_an_unknown_rod_is_one_rod(sample: Any) -> None:
    """A crank of other stroke with the rod left in: the deck moves by the throw alone."""
    top = sample(crank=te.Crank(stroke="39.3 mm")).replace({"crank.stroke": "39.5 mm"})
    assert shown(top, "deck_clearance") == pytest.approx(1.55, abs=1e-9)
    u = te.uncertainty(top, ["deck_clearance"])["deck_clearance"]
    assert u.u < 0.05
    assert "crank.rod_length" not in [share.path for share in u.shares if abs(share.u) > 1e-9]


def test_stacked_up_deck_is_the_sum_by_hand() -> None:
    """c = seat + base gaskets + cylinder height - √((L + r)² - e²) - compression height (design page, section 4)."""
    top = te.TopEnd(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm", offset="0.6 mm", seat_height="80.3 mm"),
        cylinder=te.Cylinder(bore="54 mm", height="89 mm"),
        piston=te.Piston(compression_height="32 mm", pin_offset="0.4 mm"),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm", fitted_thickness="0.45 mm"), te.Gasket(role="base", thickness="0.2 mm")],
    )
    # reference page, E125 with offset 1 mm: h_TDC = 137.246356964
    assert shown(top, "deck_clearance") == pytest.approx(80.3 + 0.45 + 0.2 + 89 - 137.246356964 - 32, abs=1e-9)
    assert te.evaluate(top.replace({"crank.seat_height": None})).missing["deck_clearance"] == ("deck.clearance",)
    # a reading goes before the sum
    assert shown(top.replace(deck=te.DeckReading(clearance="1 mm")), "deck_clearance") == pytest.approx(1.0)


def test_an_assembled_volume_refuses_other_parts(sample: Any, refused: Any) -> None:
    top = sample(assembled=te.AssembledVolume(volume="6.2 cc", base_thickness="0.5 mm", head_thickness="0.3 mm"))
    for path, value in (
        ("piston.crown", te.FlatCrown()),
        ("head", te.FlushHead()),
        ("crank.stroke", "40 mm"),
        ("cylinder.bore", "47.7 mm"),
    ):
        error = refused("assembled_volume", lambda path=path, value=value: top.replace({path: value}))
        assert str(error) == (
            f"the assembled volume was read with the parts as they were; changing {path} makes it void. "
            "Replace assembled too, or set it to None to work from head and crown volumes"
        )
    assert shown(top.replace({"piston.crown": te.FlatCrown(), "assembled": None}), "clearance_volume") == pytest.approx(8.14, abs=0.01)
    for path, value in (
        ("running.crank_speed", "9000 rpm"),
        ("cylinder.ports.0.top", "23 mm"),
        ("piston.top_land", "3 mm"),
        ("head.name", "x"),
    ):
        assert shown(top.replace({path: value}), "clearance_volume") == pytest.approx(6.2, rel=1e-12)


def test_the_crevice_counts_on_request_only(sample: Any) -> None:
    land = te.Piston(crown=te.SphereCrown(rise="2.2 mm"), diameter="47.5 mm", top_land="3 mm")
    ring = math.pi / 4 * (4.76**2 - 4.75**2) * 0.3
    reported = sample(piston=land)
    assert shown(reported, "crevice_volume") == pytest.approx(ring, rel=1e-9)
    assert shown(sample(piston=land, crevice="included"), "clearance_volume") == pytest.approx(
        shown(reported, "clearance_volume") + ring, rel=1e-9
    )
    without = te.evaluate(sample(piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")), crevice="included"))
    assert without.missing["clearance_volume"] == ("piston.top_land",)


# --- replace -------------------------------------------------------------------------------------------------------------------


def test_replace_reaches_every_path(sample: Any) -> None:
    full = sample(
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm"), diameter="47.55 mm", compression_height="25 mm", top_land="3 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", height="60 mm", ports=[EXHAUST]),
    )
    for path, quantity in full.stated():
        value = f"{quantity.m!r} {quantity.stated_unit}" if quantity.m else "0.1 mm"
        changed = full.replace({path: value})
        assert dict(changed.stated())[path].m == (quantity.m or 0.1), path
    assert full.replace({}) == full
    assert full.replace(running=None).running is None
    assert full.replace({"head.band": BAND}).head.band == BAND


@pytest.mark.parametrize(
    ("path", "nearest"),
    [
        ("crank.strok", "crank.stroke"),
        ("stroke", "crank.stroke"),
        ("head.bnd.angle", "head.band.angle"),
        ("hed", "head"),
        ("nothing.at.all", None),
    ],
)
def test_a_path_nobody_has(sample: Any, path: str, nearest: str | None) -> None:
    with pytest.raises(te.UnknownNameError) as caught:
        sample().replace({path: "1 mm"})
    assert str(caught.value).startswith(f"no input is called {path!r} in the inputs table")
    assert (caught.value.nearest[:1] or (None,))[0] == nearest


def test_replace_tells_where_it_cannot(sample: Any) -> None:
    with pytest.raises(te.PartError) as caught:
        sample().replace({"cylinder.ports.7.top": "30 mm"})
    assert str(caught.value) == "TopEnd: cylinder.ports.7.top asks for cylinder.ports.7, but cylinder.ports has 2 entries, counted from 0"
    with pytest.raises(te.PartError) as caught:
        te.TopEnd().replace({"head.band.angle": "9 deg"})
    assert str(caught.value) == "TopEnd: head.band.angle cannot be set: head is not given; give head as a whole first"
    assert te.TopEnd().replace({"crank.stroke": "40 mm"}).crank == te.Crank(stroke="40 mm")
    with pytest.raises(te.PartError, match=r"head_gasket\.thickness needs a length"):
        sample().replace({"head_gasket.thickness": 0.3})
    two = sample(head_gaskets=[HEAD, te.Gasket(role="head", thickness="0.2 mm", opening="50 mm")])
    with pytest.raises(te.PartError) as caught:
        two.replace({"head_gasket.thickness": "0.3 mm"})
    assert str(caught.value) == (
        "TopEnd: head_gasket.thickness stands for one gasket, but those fitted have different openings; replace head_gaskets as a list"
    )


def test_a_stack_as_a_whole_is_one_fitted_gasket(sample: Any) -> None:
    changed = sample().replace({"head_gasket.thickness": "0.60 mm"})
    (gasket,) = changed.head_gaskets
    assert gasket.fitted_thickness.text == "0.60 mm"
    assert gasket.opening == HEAD.opening
    assert shown(changed, "squish_edge") == pytest.approx(1.25)


def test_the_row_is_si(sample: Any) -> None:
    row = sample().row
    assert row.values["crank.stroke"] == pytest.approx(0.0393)
    assert row.values["running.crank_speed"] == pytest.approx(11500 * math.pi / 30)
    for column in row.columns().values():
        assert column.shape == (1,)
        assert column.dtype == np.float64


@pytest.mark.parametrize(
    ("path", "fits", "does_not", "reason"),
    [
        ("piston.diameter", "47.6 mm", "47.601 mm", "piston_wider_than_bore"),
        ("head.spigot_diameter", "47.6 mm", "47.601 mm", "spigot_wider_than_bore"),
        ("head.band.outer_diameter", "47.2 mm", "47.201 mm", "band_wider_than_head"),
        ("head.band.inner_diameter", "47.199 mm", "47.2 mm", "band_inside_out"),
        ("head_gaskets.0.opening", "47.6 mm", "47.599 mm", "opening_inside_bore"),
        ("head.recess_offset", "0 mm", "0.001 mm", "offset_against_kind"),
        ("cylinder.ports.0.top", "1.651 mm", "1.65 mm", "port_above_crown"),
        ("cylinder.ports.1.top", "40.949 mm", "40.95 mm", "port_never_opens"),
        ("crank.rod_length", "19.651 mm", "19.65 mm", "rod_too_short"),
    ],
)
def test_a_thousandth_decides(path: str, fits: str, does_not: str, reason: str, sample: Any, refused: Any) -> None:
    flat = sample(piston=te.Piston(crown=te.FlatCrown()))
    # the rod moves the deck with it: nothing is read or bolted there
    top = te.TopEnd(crank=te.Crank(stroke="39.3 mm")) if path == "crank.rod_length" else flat
    assert top.replace({path: fits})
    refused(reason, lambda: top.replace({path: does_not}))


def test_a_top_end_of_a_study_is_the_same_after_json(sample: Any) -> None:
    """A value that was worked out was never written with so many decimals; what is made of its text was."""
    chosen = te.Study(sample()).vary("head.recess_offset", "-1.1:-0.9:0.1 mm").top_end(0)
    back = te.TopEnd.model_validate_json(chosen.model_dump_json())
    assert back == chosen
    assert hash(back) == hash(chosen)
    assert back != sample()
    assert te.evaluate(back).si == te.evaluate(chosen).si


def test_gaskets_said_to_be_others_are_not_taken_as_the_same() -> None:
    """Two stacks that differ, and of one of them nothing is known: the deck is not known either, before a change and after it."""
    gasket = te.Gasket(role="base", thickness="0.40 mm")
    deck = te.DeckReading(clearance="0.70 mm", base_stack="other")
    volume = te.AssembledVolume(volume="6.2 cc", base_stack="other", head_stack="same")
    top = te.TopEnd(deck=deck, assembled=volume, base_gaskets=[gasket], head_gaskets=[], cylinder=te.Cylinder(bore="48 mm"))
    for now in (top, top.replace({"base.thickness": "0.60 mm"})):
        with pytest.raises(te.MissingInputError, match=r"deck_clearance cannot be had: it needs deck\.base_thickness"):
            te.evaluate(now, ["deck_clearance"])
        with pytest.raises(te.MissingInputError, match=r"clearance_volume cannot be had: it needs assembled\.base_thickness"):
            te.evaluate(now, ["clearance_volume"])
    known = top.replace({"deck.base_thickness": "0.50 mm", "assembled.base_thickness": "0.50 mm"})
    assert te.evaluate(known, ["deck_clearance"]).shown("deck_clearance") == pytest.approx(0.6)
    # what is fitted now is not known: not the other one
    with pytest.raises(te.MissingInputError, match=r"deck_clearance cannot be had: it needs base\.thickness"):
        te.evaluate(te.TopEnd(deck=deck.replace(base_thickness="0.50 mm")), ["deck_clearance"])
    # a stack that `replace` makes unknown is not said to be another: taken as it was, and listed
    left = known.replace(base_gaskets=None)
    assert left.deck is not None
    assert left.deck.base_stack is None
    assert [one.path for one in te.evaluate(left, ["deck_clearance"]).assumed] != []
