"""Findings of O-ring, lands, rings and studs: each trips at its limit, just does not beside it, and says what it is."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.checks import clamping, sealing
from topend.report import BenchCard

RING = {"inner_diameter": "58 mm ± 0.01 mm", "section": "2.62 mm ± 0.01 mm"}
GROOVE = {"seals": "face", "outer_diameter": "63.4 mm", "width": "3.6 mm", "depth": "2.05 mm"}


def faced(ring: dict[str, Any] | None = None, groove: dict[str, Any] | None = None, **changes: Any) -> te.TopEnd:
    """A flush head with an O-ring in its face, sizes known to a hundredth."""
    head = te.FlushHead(seal="o-ring", o_ring=te.ORing(**{**RING, **(ring or {})}), groove=te.ORingGroove(**{**GROOVE, **(groove or {})}))
    return te.TopEnd(**{"head": head, **changes})


def spigot(bottom: float) -> te.TopEnd:
    groove = te.ORingGroove(seals="bore", inner_diameter=f"{bottom} mm", width="3.4 mm")
    ring = te.ORing(inner_diameter="49 mm ± 0.01 mm", section="2.62 mm ± 0.01 mm")
    head = te.SpigotHead(spigot_diameter="53.95 mm", seal="o-ring", o_ring=ring, groove=groove)
    return te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), head=head)


def base(**changes: Any) -> te.TopEnd:
    return te.TopEnd(cylinder=te.Cylinder(**{"bore": "54 mm", "skirt_diameter": "58 mm", **changes}))


def ring(gap: float, wear: float = 0.0) -> te.TopEnd:
    return te.TopEnd(cylinder=te.Cylinder(bore="54 mm", bore_wear=f"{wear} mm"), piston=te.Piston(rings=[te.PistonRing(gap=f"{gap} mm")]))


def pegged(angle: float) -> te.TopEnd:
    port = te.Port(kind="exhaust", top="30 mm", width="36 mm", angle="0 deg")
    rings = [te.PistonRing(gap="0.2 mm", angle=f"{angle} deg")]
    return te.TopEnd(cylinder=te.Cylinder(bore="54 mm", ports=[port]), piston=te.Piston(rings=rings))


def pair(spread: float, clearance: str | None = None) -> te.TopEnd:
    return te.TopEnd(
        cylinder=te.Cylinder(bore=f"54.000 mm ± {spread} mm", expansion="20 µm/m/K"),
        piston=te.Piston(skirt_diameter=f"53.930 mm ± {spread} mm", expansion="20 µm/m/K", clearance=clearance),
        running=te.Running(crank_speed="9000 rpm", cylinder_rise="100 K", piston_rise="150 K"),
    )


def heated(rise: float) -> te.TopEnd:
    return faced(ring={"material": "FKM"}, running=te.Running(crank_speed="9000 rpm", head_rise=f"{rise} K"))


def both(thickness: float) -> te.TopEnd:
    head = te.FlushHead(seal="both", o_ring=te.ORing(**RING), groove=te.ORingGroove(**{**GROOVE, "depth": f"{2.05 - thickness} mm"}))
    return te.TopEnd(head=head, head_gaskets=[te.Gasket(role="head", thickness="1 mm", fitted_thickness=f"{thickness} mm")])


def walled(inner: float) -> te.TopEnd:
    """A groove whose inner wall stands beside a bore of 54 mm."""
    width = f"{(63.4 - inner) / 2} mm"
    return faced(ring={"inner_diameter": "58 mm ± 0.01 mm"}, groove={"width": width}, cylinder=te.Cylinder(bore="54 mm"))


CASES: tuple[tuple[str, Callable[[float], te.TopEnd], float, float, str], ...] = (
    ("o_ring_loose", lambda depth: faced(groove={"depth": f"{depth} mm"}), 2.45, 2.2, "the O-ring is squeezed by 10."),
    ("o_ring_crushed", lambda depth: faced(groove={"depth": f"{depth} mm"}), 1.6, 1.9, "the O-ring may be squeezed by 35.0 % at"),
    ("o_ring_overfills", lambda width: faced(groove={"width": f"{width} mm"}), 2.6, 3.4, "the O-ring may fill 95 % of its groove at"),
    ("o_ring_stretched", spigot, 52.0, 50.0, "the O-ring may be stretched by 5.0 %"),
    ("o_ring_slack", spigot, 48.5, 49.5, "the O-ring may lie loose on its spigot, by 0.0 %"),
    ("o_ring_moves", lambda wall: faced(groove={"outer_diameter": f"{wall} mm"}), 65, 63.5, "pressure from inside can push the O-ring by"),
    ("o_ring_buckles", lambda wall: faced(groove={"outer_diameter": f"{wall} mm"}), 60.5, 62.5, "the O-ring may be 1.90 mm too large"),
    ("o_ring_extrudes", both, 0.3, 0.1, "the gap behind the O-ring may be 0.200 mm"),
    ("o_ring_hot", heated, 190.0, 170.0, "the head comes to 200 °C (its rise over 20 °C), and FKM bears 200 for long"),
    ("groove_land_narrow", walled, 55.0, 57.0, "groove: 1.00 mm between the groove and the chamber's opening"),
    (
        "head_land_narrow",
        lambda size: te.TopEnd(cylinder=te.Cylinder(bore="54 mm", deck_diameter=f"{size} mm")), 58.0, 62.0,
        "head: 3.00 mm between the chamber's opening and the deck's outline",
    ),
    (
        "base_land_narrow", lambda size: base(base_diameter=f"{size} mm"), 60.0, 66.0,
        "base: 3.00 mm between the skirt and the base's outline",
    ),
    ("ring_gap_small", ring, 0.10, 0.12, "a ring's gap may be 0.108 mm in a bore of 54.00 mm, 0.0020 of it"),
    ("ring_gap_wide", lambda wear: ring(0.15, wear), 0.2, 0.1, "a ring's gap is 0.54 mm in the bore as it is now, over 0.01 of it"),
    ("ring_end_at_window", pegged, 44.0, 60.0, "a ring's end comes within 2.00 mm of a port window"),
    ("skirt_unmatched", pair, 0.009, 0.005, "bore and skirt leave 0.0"),
)  # fmt: skip


@pytest.mark.parametrize(("code", "make", "bad", "good", "told"), CASES, ids=[case[0] for case in CASES])
def test_each_trips_at_its_limit(code: str, make: Callable[[float], te.TopEnd], bad: float, good: float, told: str) -> None:
    def found(at: float) -> te.Finding | None:
        return next((one for one in sealing.findings(te.evaluate(make(at), [])) if one.code == code), None)

    assert found(good) is None
    last = found(bad)
    assert last is not None
    for _ in range(26):
        middle = 0.5 * (bad + good)
        one = found(middle)
        bad, good, last = (middle, good, one) if one is not None else (bad, middle, last)
    assert last.figure == pytest.approx(last.limit, rel=1e-5, abs=1e-5)
    assert last.message.startswith(told), last.message
    assert last.effect
    assert last.do
    assert last.margin is not None


def test_a_land_that_is_too_narrow_only_with_the_head_off_centre() -> None:
    def top(face: float) -> te.TopEnd:
        head = te.SpigotHead(spigot_diameter="53.6 mm", face_diameter=f"{face} mm")
        location = te.SpigotLocation(head_coaxiality="0 mm")
        return te.TopEnd(cylinder=te.Cylinder(bore="54 mm", deck_diameter="90 mm"), head=head, location=location)

    (found,) = sealing.findings(te.evaluate(top(60.3), []))
    assert found.code == "head_land_narrow"
    assert found.message.startswith("head: its least land, 3.15 mm, may be 2.95 mm on one side, the head worst off centre")
    assert found.margin == pytest.approx(-0.05)
    assert sealing.findings(te.evaluate(top(60.42), [])) == []
    # narrow as it is: said once
    (found,) = sealing.findings(te.evaluate(top(59.9), []))
    assert found.message.startswith("head: 2.95 mm between")


def test_a_ring_on_a_spigot_is_judged_on_its_loose_side() -> None:
    def found(size: float) -> list[te.Finding]:
        groove = te.ORingGroove(seals="bore", inner_diameter="49.5 mm", width="3.4 mm")
        ring = te.ORing(inner_diameter="49 mm ± 0.01 mm", section="2.62 mm ± 0.01 mm")
        head = te.SpigotHead(spigot_diameter=f"{size} mm", seal="o-ring", o_ring=ring, groove=groove)
        made = sealing.findings(te.evaluate(te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), head=head), []))
        return [one for one in made if one.code == "o_ring_loose"]

    assert found(53.9) == []
    (loose,) = found(53.7)
    assert "on the loose side of its spigot" in loose.message


def test_what_is_not_known_of_an_o_ring_is_said() -> None:
    bare = te.TopEnd(head=te.FlushHead(seal="o-ring", o_ring=te.ORing(**RING)))
    (found,) = sealing.findings(te.evaluate(bare, []))
    assert found.code == "o_ring_unknown"
    assert found.message == "whether the O-ring seals cannot be judged: head.groove is not given"
    assert found.severity == "note"
    assert sealing.findings(te.evaluate(te.TopEnd(head=te.FlushHead(seal="o-ring")), [])) == []


def test_a_ring_end_over_a_window() -> None:
    (found,) = sealing.findings(te.evaluate(pegged(10.0), []))
    unknown = ", if it gets that far down, which is not known (deck, crank and piston.top_land)"
    assert found.message == f"a ring's end runs over a port window{unknown}"
    assert found.standing == "geometry"


def passing(top: float, floor: float | None = None, stroke: str = "40 mm", **ring: Any) -> te.TopEnd:
    """A peg in a window; by hand the ring's sides lie 0.5 + 2 and 0.5 + 2 + 1.2 mm below the deck at TDC, 40 mm lower at BDC."""
    made = pegged(10.0).replace(crank=te.Crank(stroke=stroke, rod_length="85 mm"), deck=te.DeckReading(clearance="0.5 mm"))
    port = te.Port(kind="exhaust", top=f"{top} mm", floor=None if floor is None else f"{floor} mm", width="36 mm", angle="0 deg")
    rings = [te.PistonRing(**{"gap": "0.2 mm", "angle": "10 deg", "height": "1.2 mm", "land": "2 mm", **ring})]
    fields = {"ports": [port]} if port.kind == "exhaust" else {}
    return made.replace(cylinder=te.Cylinder(bore="54 mm", **fields), piston=te.Piston(rings=rings))


@pytest.mark.parametrize(("top", "floor", "passes"), [(30.0, None, True), (30.0, 40.0, True), (38.0, 42.0, True)])
def test_a_window_that_the_ring_passes(top: float, floor: float | None, passes: bool) -> None:
    found = [one.message for one in sealing.findings(te.evaluate(passing(top, floor), []))]
    assert found == ["a ring's end runs over a port window"]


def inlet(top: float, floor: float | None = None, **ring: Any) -> te.TopEnd:
    made = passing(30.0, **ring)
    assert made.cylinder is not None
    port = te.Port(kind="inlet", top=f"{top} mm", floor=f"{floor or top + 20} mm", width="36 mm", angle="0 deg")
    return made.replace(cylinder=made.cylinder.replace(ports=[port]))


def test_a_window_that_the_ring_never_gets_to() -> None:
    """The false alarm: an inlet below the ring's lowest place. By hand 43.7 mm at BDC, and 0.5 mm more to be sure."""
    for top, passed in ((44.1, True), (44.3, False), (60.0, False)):
        made = inlet(top)
        assert bool(sealing.findings(te.evaluate(made, []))) == passed, top
        land = te.evaluate(made, ["ring_peg_land"]).shown("ring_peg_land")
        assert np.isnan(land) == (not passed)
    # above the ring at TDC, 2.5 mm, less 0.5
    assert sealing.findings(te.evaluate(inlet(1.0, 1.9), [])) == []
    assert sealing.findings(te.evaluate(inlet(1.0, 2.1), []))
    # its height not stated: 1.5 mm, up to 2.5; at the limits it may get there, though as stated it does not
    unsaid = inlet(45.0, height=None)
    assert np.isnan(te.evaluate(unsaid, ["ring_peg_land"]).shown("ring_peg_land"))
    assert [one.code for one in sealing.findings(te.evaluate(unsaid, []))] == ["ring_end_at_window"]
    assert sealing.findings(te.evaluate(inlet(45.6, height=None), [])) == []
    # a second ring whose land nobody stated counts as getting there; the first is known by the top land
    made = inlet(60.0, land=None)
    assert made.piston is not None
    top_land = made.replace(piston=made.piston.replace(top_land="2 mm"))
    assert sealing.findings(te.evaluate(top_land, [])) == []
    assert "which is not known" in sealing.findings(te.evaluate(made, []))[0].message
    card = BenchCard(top_land).text
    assert "its ends pass no window" in card


def test_the_tight_side_of_a_spigot_is_judged() -> None:
    """By hand: the spigot against the bore leaves the groove's depth there, 2.2 mm, and 2.4 mm opposite; a 3.53 mm ring."""

    def ringed(seal: Any, spigot: str) -> te.TopEnd:
        groove = te.ORingGroove(seals="bore", depth="2.32 mm ± 0.01 mm", width="5 mm")
        ring = te.ORing(inner_diameter="48.5 mm ± 0.01 mm", section="3.53 mm ± 0.01 mm")
        head = te.SpigotHead(spigot_diameter=spigot, seal=seal, o_ring=ring, groove=groove, recess_offset="-1 mm")
        return te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), head=head)

    top = ringed("o-ring", "53.60 mm")
    bottom = 53.60 - 4.64
    lies = max(np.roots([1, bottom, 0, -(3.53**2) * (48.5 + 3.53)]).real)
    got = te.evaluate(top, ["o_ring_squeeze_tight", "o_ring_squeeze", "o_ring_squeeze_off_centre"])
    assert got.shown("o_ring_squeeze_tight") == pytest.approx(100 * (1 - 2.32 / lies))
    assert got.shown("o_ring_squeeze_tight") + got.shown("o_ring_squeeze_off_centre") == pytest.approx(2 * got.shown("o_ring_squeeze"))
    crushed = [one.message for one in sealing.findings(te.evaluate(top, [])) if one.code == "o_ring_crushed"]
    # centred it is 29 %, and 34 % there; a spigot with more room is nearer still by as much on that side, groove and all
    assert crushed == []
    deep = top.replace({"head.groove.depth": "2.25 mm ± 0.01 mm"})
    (told,) = [one.message for one in sealing.findings(te.evaluate(deep, [])) if one.code == "o_ring_crushed"]
    assert re.fullmatch(r"the O-ring may be squeezed by 36\.\d % on the tight side of its spigot at the limits of all sizes", told)
    # hot: with the head 100 K hotter the same side, by what the spigot has grown up to the bore
    hot = top.replace(running=te.Running(crank_speed="9000 rpm", head_rise="100 K", cylinder_rise="80 K"))
    grown = te.evaluate(hot, ["o_ring_squeeze_tight_hot", "o_ring_squeeze_hot"])
    assert grown.shown("o_ring_squeeze_tight_hot") > grown.shown("o_ring_squeeze_hot")
    assert "o_ring_crushed" in [one.code for one in sealing.findings(te.evaluate(hot, []))]


def test_a_groove_under_a_head_that_seals_by_its_gasket_is_not_judged_as_an_o_ring() -> None:
    loose = {"groove": te.ORingGroove(**{**GROOVE, "depth": "2.6 mm"}), "o_ring": te.ORing(**RING)}
    for parts, words in (
        (loose, "an O-ring and a groove for one"),
        ({"groove": loose["groove"]}, "a groove for one"),
        ({"o_ring": loose["o_ring"]}, "an O-ring"),
    ):
        (found,) = sealing.findings(te.evaluate(te.TopEnd(head=te.FlushHead(seal="gasket", **parts)), []))
        assert (found.code, found.severity) == ("o_ring_unused", "note")
        assert found.message == f"the head has {words}, and by its seal the gasket alone seals: how an O-ring sits there is not judged"
    assert "o_ring_loose" in [one.code for one in sealing.findings(te.evaluate(te.TopEnd(head=te.FlushHead(seal="o-ring", **loose)), []))]


def test_a_matched_pair_is_not_judged_by_its_sizes() -> None:
    assert [one.code for one in sealing.findings(te.evaluate(pair(0.009), []))] == ["skirt_unmatched"]
    assert sealing.findings(te.evaluate(pair(0.009, clearance="0.070 mm ± 0.003 mm"), [])) == []
    # so loose that it may bind by twice its uncertainty: told among what is hot, and not twice
    assert sealing.findings(te.evaluate(pair(0.02), [])) == []
    assert "skirt_binds_hot" in [one.code for one in te.findings(te.evaluate(pair(0.02)))]


# --- studs -----------------------------------------------------------------------------------------------------------


def studded(**changes: Any) -> te.TopEnd:
    """M8 studs, everything of them known exactly, over an aluminium gasket."""
    studs = {
        "thread_diameter": "8 mm",
        "pitch": "1.25 mm",
        "root": "cylinder",
        "torque": "20 N·m",
        "thread_friction": 0.12,
        "nut_friction": 0.12,
        "bearing_diameter": "11 mm",
        "yield_strength": "640 N/mm²",
        "tensile_strength": "800 N/mm²",
        "tapped_shear_strength": "140 N/mm²",
        "modulus": "205 GPa",
        "expansion": "12 µm/m/K",
        "joint_compliance_ratio": 0.2,
    }
    gasket = te.Gasket(
        role="head", thickness="0.5 mm", fitted_thickness="0.5 mm", opening="55 mm", outer_diameter="63 mm", gasket_factor=4,
        seating_stress="60 N/mm²",
    )  # fmt: skip
    running = {"crank_speed": "9000 rpm", **changes.pop("running", {})}
    pattern = te.StudPattern(count=4, circle_diameter="74 mm", diameter="8 mm")
    return te.TopEnd(
        cylinder=te.Cylinder(bore="54 mm", studs=pattern),
        head=te.FlushHead(clamped_height="20 mm", expansion="21 µm/m/K"),
        head_gaskets=[gasket],
        studs=te.StudSet(**{**studs, **changes}),
        running=te.Running(**running),
    )


def pulled(peak: float) -> te.TopEnd:
    return studded(running={"peak_pressure": f"{peak} bar"})


STUDS: tuple[tuple[str, Callable[[float], te.TopEnd], float, float, str], ...] = (
    ("clamp_lacking", pulled, 120.0, 60.0, "the studs pull with 59.0 kN (59.0 to 59.0), the gas lifts with "),
    ("stud_overstressed", lambda torque: studded(torque=f"{torque} N·m"), 26.0, 20.0, "the studs use 0.90 of their yield strength while"),
    (
        "stud_overstressed_hot", lambda rise: studded(running={"head_rise": f"{rise} K", "stud_rise": "40 K"}), 300.0, 40.0,
        "the studs use 1.00 of their yield strength hot",
    ),
    ("thread_strips", lambda length: studded(engaged_length=f"{length} mm"), 4.0, 8.0, "6.2 mm of thread strip at 14.7 kN"),
    ("thread_short", lambda length: studded(engaged_length=f"{length} mm"), 8.0, 16.0, "12.4 mm of thread in the metal, and 12.4 mm"),
)  # fmt: skip


@pytest.mark.parametrize(("code", "make", "bad", "good", "told"), STUDS, ids=[case[0] for case in STUDS])
def test_each_of_the_studs_trips_at_its_limit(code: str, make: Callable[[float], te.TopEnd], bad: float, good: float, told: str) -> None:
    def found(at: float) -> te.Finding | None:
        return next((one for one in clamping.findings(te.evaluate(make(at), [])) if one.code == code), None)

    assert found(good) is None
    last = found(bad)
    assert last is not None
    for _ in range(22):
        middle = 0.5 * (bad + good)
        one = found(middle)
        bad, good, last = (middle, good, one) if one is not None else (bad, middle, last)
    assert last.figure == pytest.approx(last.limit, rel=1e-4, abs=1e-4)
    assert last.message.startswith(told), last.message
    assert last.effect
    assert last.do


def test_a_head_that_lifts_and_scatter_that_leaves_it_open() -> None:
    (found,) = [one for one in clamping.findings(te.evaluate(pulled(300.0), [])) if one.code == "head_lifts"]
    assert "the gas lifts with 82.0 kN" in found.message
    loose = studded(torque="22 N·m ± 5 N·m", running={"peak_pressure": "90 bar"})
    (found,) = [one for one in clamping.findings(te.evaluate(loose, [])) if one.code == "clamp_lacking"]
    assert found.message.endswith("that it is enough is not proven")
    assert clamping.findings(te.evaluate(studded(torque="22 N·m", running={"peak_pressure": "90 bar"}), [])) == []
    assert clamping.findings(te.evaluate(te.TopEnd(), [])) == []


def test_studs_that_outgrow_the_head_are_told_by_their_hot_pull() -> None:
    """Studs of aluminium through a head of steel: the pull that is told is that which lacks."""
    hot = {"peak_pressure": "60 bar", "head_rise": "100 K", "stud_rise": "100 K"}
    slack = studded(expansion="60 µm/m/K", running=hot)
    (found,) = [one for one in clamping.findings(te.evaluate(slack, [])) if one.code in ("clamp_lacking", "head_lifts")]
    got = te.evaluate(slack, ["clamp_force_hot", "clamp_force", "gas_force"])
    assert got.shown("clamp_force_hot") < got.shown("gas_force") < got.shown("clamp_force")
    assert found.code == "head_lifts"
    assert found.message.startswith(f"the studs pull hot with {got.shown('clamp_force_hot'):.1f} kN")


def test_both_are_among_all_findings() -> None:
    assert "head_lifts" in [one.code for one in te.findings(te.evaluate(pulled(300.0)))]
    assert "ring_gap_small" in [one.code for one in te.findings(te.evaluate(ring(0.05)))]


@pytest.mark.parametrize(("cylinder_rise", "loose"), [(150.0, True), (40.0, False)])
def test_a_ring_that_gets_loose_hot_is_said(cylinder_rise: float, loose: bool) -> None:
    """A bore that outgrows spigot and rubber: sizes grown by hand, t² (D + t) = s² (d + s) by bisection."""
    bore, spigot, depth, inner, section, rise = 50.0, 49.8, 2.06, 44.5, 2.62, 40.0
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="50 mm", expansion="21 ppm/K"),
        head=te.SpigotHead(
            spigot_diameter="49.8 mm",
            expansion="23 ppm/K",
            seal="o-ring",
            recess_offset="-1 mm",
            groove=te.ORingGroove(seals="bore", depth="2.06 mm", width="3.6 mm"),
            o_ring=te.ORing(inner_diameter="44.5 mm +0/-0.001 mm", section="2.62 mm +0.001/-0 mm", expansion="160 ppm/K"),
        ),
        running=te.Running(crank_speed="10000 rpm", head_rise=f"{rise} K", cylinder_rise=f"{cylinder_rise} K"),
    )
    head, rubber = 1.0 + 23e-6 * rise, 1.0 + 160e-6 * rise
    seat, wide = (spigot - 2 * depth) * head, bore * (1.0 + 21e-6 * cylinder_rise)
    low, high = 0.0, section * rubber
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if middle**2 * (seat + middle) < (section * rubber) ** 2 * (inner + section) * rubber else (low, middle)
    hot = 100.0 * (1.0 - ((wide - seat) / 2 + (wide - spigot * head) / 2) / low)
    result = te.evaluate(top)
    assert te.evaluate(top, ["o_ring_squeeze_off_centre"]).shown("o_ring_squeeze_off_centre") > 10.0
    found = [one for one in te.findings(result) if one.code == "o_ring_loose"]
    assert bool(found) is loose is (hot < 10.0)
    if found:
        assert found[0].figure == pytest.approx(hot, abs=0.05)
        assert f"squeezed by {hot:.1f} % hot on the loose side of its spigot" in found[0].message
