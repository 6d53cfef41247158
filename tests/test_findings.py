"""Every finding: a top end that trips it with its text, and one that just does not."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.checks import added

FLAT = te.Piston(crown=te.FlatCrown())


def head_gasket(**changes: Any) -> te.Gasket:
    return te.Gasket(**{"role": "head", "thickness": "0.3 mm", "fitted_thickness": "0.30 mm", **changes})


def flush(angle: str = "0 deg", inner: str = "38 mm", **changes: Any) -> te.FlushHead:
    return te.FlushHead(band=te.SquishBand(outer_diameter="54 mm", inner_diameter=inner, angle=angle), **changes)


def engine(**changes: Any) -> te.TopEnd:
    """An invented E125 with a flat crown, a flat band and 1.0 mm of gap."""
    parts: dict[str, Any] = {
        "crank": te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        "cylinder": te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm")]),
        "piston": FLAT,
        "head": flush(chamber_volume="9.2 cc"),
        "head_gaskets": [head_gasket()],
        "deck": te.DeckReading(clearance="0.70 mm"),
    }
    return te.TopEnd(**{name: part for name, part in {**parts, **changes}.items() if part is not None})


def codes(top: te.TopEnd) -> list[str]:
    return [one.code for one in te.findings(te.evaluate(top))]


def the(code: str, top: te.TopEnd) -> te.Finding:
    (found,) = [one for one in te.findings(te.evaluate(top)) if one.code == code]
    assert found.effect
    assert found.do
    return found


def test_the_plain_engine_has_nothing_to_say() -> None:
    assert codes(engine()) == []


# --- at speed --------------------------------------------------------------------------------------------------------


def running(gap: float, speed: str = "12000 rpm", **crank: str) -> te.TopEnd:
    known = te.Crank(
        stroke="54.5 mm",
        rod_length="110 mm",
        rod_area="120 mm²",
        rod_mass="150 g",
        compliance="5 µm/kN",
        crankpin_diameter="20 mm",
        crankpin_length="18 mm",
        rod_modulus="205 GPa",
        rod_density="7850 kg/m³",
        balance="50 %",
        unexplained_closing="0 mm",
        small_end=te.RollerBearing(clearance="0.03 mm", rollers="16 pcs", roller_length="16 mm"),
        big_end=te.RollerBearing(clearance="0.05 mm", rollers="14 pcs", roller_length="12 mm"),
        mains=te.BallBearing(clearance="0.03 mm", balls="8 pcs", ball_diameter="8.7 mm"),
    )
    return engine(
        crank=known.replace(**crank),
        piston=te.Piston(crown=te.FlatCrown(), assembly_mass="200 g", diameter="54 mm"),
        deck=te.DeckReading(clearance=f"{gap - 0.3:.6f} mm"),
        running=te.Running(crank_speed=speed),
    )


def test_touching_at_speed() -> None:
    closing = te.evaluate(running(1.0), ["closure_total"]).shown("closure_total")
    assert closing == pytest.approx(0.35, abs=0.03)
    found = the("touches_at_speed", running(closing - 1e-4))
    assert found.message == (
        f"at 12000 rpm, throttle shut, the least gap of {closing - 1e-4:.3f} mm closes by {closing:.2f} mm "
        f"({closing:.2f} to {closing:.2f} mm): piston and head touch"
    )
    assert (found.severity, found.standing, found.limit, found.unit) == ("warning", "geometry", 0.0, "mm")
    assert found.figure == found.margin == pytest.approx(-1e-4, abs=1e-6)
    assert found.effect.startswith("the crown knocks on the head")
    # a ten-thousandth of a millimetre more, and no limits on anything: it just does not
    assert not {"touches_at_speed", "may_touch_at_speed"} & set(codes(running(closing + 1e-4)))
    # without a speed nothing is judged
    assert "touches_at_speed" not in codes(running(closing - 1e-4).replace(running=None))


def test_may_touch_at_speed() -> None:
    loose: Any = {"compliance": "5 µm/kN ± 3 µm/kN"}
    made = te.uncertainty(running(1.0, **loose), ["closure_total"])["closure_total"]
    edge = made.value + 2.0 * made.u
    found = the("may_touch_at_speed", running(edge - 1e-4, **loose))
    assert found.message.endswith("that they do not touch is not proven")
    assert f"({made.value - 2 * made.u:.2f} to {edge:.2f} mm)" in found.message
    assert found.margin == pytest.approx(-1e-4, abs=1e-6)
    assert "may_touch_at_speed" not in codes(running(edge + 1e-4, **loose))


def test_wide_defaults_are_told_as_memory() -> None:
    bare = engine(deck=te.DeckReading(clearance="0.20 mm"), running=te.Running(crank_speed="14000 rpm"))
    assert the("may_touch_at_speed", bare).standing == "memory"


# --- the band --------------------------------------------------------------------------------------------------------


def test_gap_too_wide() -> None:
    found = the("gap_wide", engine(deck=te.DeckReading(clearance="1.701 mm")))
    assert found.message == "the gap is 2.001 mm where it is least: over 2 mm a band hardly squeezes the charge"
    assert (found.severity, found.standing) == ("note", "common practice")
    assert found.margin == pytest.approx(0.001)
    assert "gap_wide" not in codes(engine(deck=te.DeckReading(clearance="1.70 mm")))


def domed(angle: str) -> te.TopEnd:
    return engine(piston=te.Piston(crown=te.ConeCrown(rise="2 mm")), head=flush(angle), deck=te.DeckReading(clearance="1.2 mm"))


def test_least_gap_inside_the_band() -> None:
    """A cone of 2 mm over 27 mm slopes 4.236 deg; over 8 mm of band, 0.1 mm of gap are 0.716 deg less."""
    found = the("least_gap_inside", domed("3.5 deg"))
    gap = te.evaluate(domed("3.5 deg")).shown("squish_min")
    assert found.message == f"the least gap, {gap:.3f} mm, lies inside the band at radius 19.00 mm, not at the bore, where it is 1.500 mm"
    assert found.do.startswith("read a second wire there: ")
    assert found.standing == "geometry"
    assert found.figure == pytest.approx(1.5 - gap)
    assert "least_gap_inside" not in codes(domed("3.55 deg"))


def test_a_narrow_band_is_read_by_one_wire_or_by_none() -> None:
    """1.8 mm of band under that cone: 1 mm inside its edge, wire shows the least gap but for half a tenth; on 0.8 mm none lies."""
    cone = te.Piston(crown=te.ConeCrown(rise="2 mm"))
    found = the("least_gap_inside", engine(piston=cone, head=flush("0.8 deg", "50.4 mm"), deck=te.DeckReading(clearance="1.2 mm")))
    assert "at radius" not in found.message
    assert found.do.startswith("the wire at its usual place shows it: ")
    found = the("least_gap_inside", engine(piston=cone, head=flush("-3.1 deg", "52.4 mm"), deck=te.DeckReading(clearance="1.2 mm")))
    assert found.do.startswith("no wire lies in so narrow a band: read it by dial")


def test_band_against_crown() -> None:
    found = the("band_against_crown", engine(head=flush("4.01 deg", chamber_volume="9.2 cc")))
    assert found.message == (
        "the band (4.0 deg) does not follow the crown: between its edges the gap opens by 4.0 deg toward the centre, from 1.000 to 1.561 mm"
    )
    assert found.effect == "the band works over part of its width"
    assert (found.standing, found.limit, found.unit) == ("memory", 4.0, "deg")
    assert "band_against_crown" not in codes(engine(head=flush("4.0 deg", chamber_volume="9.2 cc")))
    closing = the("band_against_crown", domed("0.2 deg"))
    assert "the gap closes by 4.0 deg toward the centre" in closing.message
    assert closing.effect == "the band is tightest at its inner edge and traps the charge outside it"


@pytest.mark.parametrize(("code", "limit", "side"), [("band_narrow", 0.3, -1.0), ("band_wide", 0.6, 1.0)])
def test_band_area_out_of_its_range(code: str, limit: float, side: float) -> None:
    """A share s of a 54 mm bore is left by a bowl of 54 √(1 - s) mm."""

    def covering(share: float) -> te.TopEnd:
        return engine(head=flush(inner=f"{54.0 * np.sqrt(1.0 - share):.9f} mm", chamber_volume="9.2 cc"))

    found = the(code, covering(limit + side * 0.001))
    word = "under" if side < 0 else "over"
    assert found.message == f"the band covers {100 * (limit + side * 0.001):.1f} % of the bore: {word} the 30 to 60 % that most heads have"
    assert (found.severity, found.standing, found.limit) == ("note", "memory", limit)
    assert found.margin == pytest.approx(side * 0.001, abs=1e-8)
    assert codes(covering(limit)) == []


@pytest.mark.parametrize(("code", "limit", "side"), [("squish_slow", 15.0, -1.0), ("squish_fast", 30.0, 1.0)])
def test_squish_velocity_out_of_its_range(code: str, limit: float, side: float) -> None:
    at_1000 = te.evaluate(engine(running=te.Running(crank_speed="1000 rpm"))).shown("squish_velocity_peak")
    # the peak goes with speed
    speed = limit / at_1000 * 1000.0
    outside, inside = (engine(running=te.Running(crank_speed=f"{speed * factor} rpm")) for factor in (1.0 + side * 1e-3, 1.0 - side * 1e-3))
    found = the(code, outside)
    word = "under" if side < 0 else "over"
    assert found.message == (
        f"squish velocity peaks at {limit * (1 + side * 1e-3):.1f} m/s: {word} the 15 to 30 m/s that most loop-scavenged engines are set to"
    )
    assert (found.severity, found.standing, found.limit) == ("note", "memory", limit)
    assert code not in codes(inside)


@pytest.mark.parametrize(
    ("use", "low", "high", "told"),
    [
        ("road", 12.0, 25.0, "engines for the road are set to"),
        ("trial", 8.0, 20.0, "engines that pull from low speeds are set to"),
        ("racing", 20.0, 40.0, "racing engines are set to"),
    ],
)
def test_squish_velocity_goes_by_use_and_never_fails_a_build(use: Any, low: float, high: float, told: str) -> None:
    at_1000 = te.evaluate(engine(running=te.Running(crank_speed="1000 rpm"))).shown("squish_velocity_peak")

    def at(peak: float) -> te.TopEnd:
        return engine(running=te.Running(crank_speed=f"{peak / at_1000 * 1000.0} rpm", use=use))

    for code, peak in (("squish_slow", low - 0.01), ("squish_fast", high + 0.01)):
        found = the(code, at(peak))
        assert found.message.endswith(f"the {low:g} to {high:g} m/s that {told}")
        assert (found.severity, found.standing) == ("note", "memory")
    assert not {"squish_slow", "squish_fast"} & {*codes(at(low + 0.01)), *codes(at(high - 0.01))}


# --- gaskets, ring, passages -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["base", "head"])
def test_many_gaskets(role: str) -> None:
    one = te.Gasket(role=role, thickness="0.1 mm", fitted_thickness="0.1 mm")
    four, three = (engine(**{f"{role}_gaskets": [one] * count}) for count in (4, 3))
    found = the("many_gaskets", four)
    assert found.message == f"4 {role} gaskets in one stack, where 3 are the most that is usual"
    assert (found.figure, found.limit, found.margin, found.standing) == (4.0, 3.0, 1.0, "common practice")
    assert "many_gaskets" not in codes(three)


def test_a_gasket_that_hangs_into_the_recess() -> None:
    recessed = flush(recess_offset="0.2 mm", recess_diameter="56 mm")
    found = the("gasket_hangs", engine(head=recessed, head_gaskets=[head_gasket(opening="55 mm")]))
    assert found.message == "head_gaskets.0: its opening (55 mm) is smaller than the recess (56 mm): 0.50 mm of it hang free"
    assert (found.severity, found.margin) == ("warning", pytest.approx(-1.0))
    assert "gasket_hangs" not in codes(engine(head=recessed, head_gaskets=[head_gasket(opening="56 mm")]))
    level = flush(recess_diameter="56 mm")
    assert "gasket_hangs" not in codes(engine(head=level, head_gaskets=[head_gasket(opening="55 mm")]))


def test_passages_stepped_by_a_spacer() -> None:
    cylinder = te.Cylinder(bore="54 mm", window_diameter="76 mm")
    gaskets = [
        te.Gasket(role="base", thickness="0.2 mm", window_diameter="76 mm"),
        te.Gasket(role="base", thickness="1 mm", window_diameter="74 mm"),
    ]
    found = the("passages_stepped", engine(cylinder=cylinder, base_gaskets=gaskets))
    assert found.message == ("base_gaskets.1: its cut-outs reach out to 74 mm, the transfer passages to 76 mm: a step of 1.00 mm all along")
    assert (found.severity, found.margin) == ("warning", pytest.approx(-2.0))
    assert "passages_stepped" not in codes(engine(cylinder=cylinder, base_gaskets=gaskets[:1]))
    # cut wider than the passages, beyond half a millimetre, it steps them too
    wide = gaskets[1].replace(window_diameter="77.02 mm")
    outside = the("passages_stepped", engine(cylinder=cylinder, base_gaskets=[wide]))
    assert outside.message == (
        "base_gaskets.0: its cut-outs reach out to 77.02 mm, the transfer passages to 76 mm: a step of 0.51 mm all along"
    )
    assert (outside.severity, outside.standing, outside.margin) == ("note", "memory", pytest.approx(0.02))
    assert codes(engine(cylinder=cylinder, base_gaskets=[wide.replace(window_diameter="77 mm")])) == []


def test_a_gasket_short_of_the_port_windows() -> None:
    cylinder = te.Cylinder(bore="54 mm", window_diameter="76 mm")
    gasket = te.Gasket(role="base", thickness="0.5 mm", window_diameter="75.6 mm")
    found = the("gasket_short_of_windows", engine(cylinder=cylinder, base_gaskets=[gasket]))
    assert found.message == (
        "base_gaskets.0: its cut-outs reach out to 75.6 mm, the transfer passages to 76 mm: 0.20 mm of it hang into them"
    )
    assert (found.severity, found.standing, found.margin) == ("warning", "common practice", pytest.approx(-0.4))
    assert codes(engine(cylinder=cylinder, base_gaskets=[gasket.replace(window_diameter="76 mm")])) == []
    # a thin one that is cut wider than the passages masks nothing
    assert codes(engine(cylinder=cylinder, base_gaskets=[gasket.replace(window_diameter="80 mm")])) == []


def test_passages_opened_toward_the_studs() -> None:
    def opened(window: str) -> te.TopEnd:
        studs = te.StudPattern(count=4, circle_diameter="90 mm", diameter="8 mm")
        return engine(cylinder=te.Cylinder(bore="54 mm", window_diameter=window, studs=studs))

    found = the("base_land_narrow", opened("76.02 mm"))
    assert found.message == "base: 2.99 mm between the transfer passages and the studs"
    assert (found.severity, found.standing, found.margin) == ("warning", "memory", pytest.approx(-0.01))
    assert codes(opened("76 mm")) == []
    assert "base: -0.50 mm between the transfer passages and the studs" in the("base_land_narrow", opened("83 mm")).message


def test_a_window_too_wide_for_the_ring() -> None:
    def wide(width: str, **port: Any) -> te.TopEnd:
        ports = [te.Port(kind="exhaust", top="30 mm", width=width, floor="54 mm", **port)]
        return engine(cylinder=te.Cylinder(bore="54 mm", ports=ports))

    found = the("port_wide_for_ring", wide("38 mm"))
    assert found.message == (
        "cylinder.ports.0: its window is 38.00 mm wide as a chord, where 37.80 mm (70 % of the bore) is the most that one window is made"
    )
    assert (found.severity, found.standing, found.limit) == ("warning", "memory", pytest.approx(37.8))
    assert found.margin == pytest.approx(0.2)
    assert codes(wide("37.8 mm")) == []
    # along the wall it is more: D asin(0.7) = 41.87 mm
    assert codes(wide("41.8 mm", width_along="arc")) == []
    assert "port_wide_for_ring" in codes(wide("41.9 mm", width_along="arc"))


# --- ratio, plug, skirt ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fuel", "cooling", "limit", "told"),
    [
        ("petrol", None, 6.5, "on petrol, with nothing said of its cooling, so as by air, 6.5 is a guideline"),
        ("petrol", "water", 7.2, "on petrol, cooled by water, 7.2 is a guideline"),
        ("racing petrol", "air", 7.2, "on racing petrol, cooled by air, 7.2 is a guideline"),
        ("methanol", "water", 10.5, "on methanol, cooled by water, 10.5 is a guideline"),
    ],
)
def test_ratio_for_fuel_and_cooling(fuel: Any, cooling: Any, limit: float, told: str) -> None:
    """Trapped over 30 mm less 0.7 of a 54 mm bore [cc]: the clearance that gives a ratio R is that over R - 1, 1 mm of gap in it."""
    trapped = np.pi * 2.7**2 * (30.0 - 0.7) / 10

    def at(ratio: float) -> te.TopEnd:
        chamber = trapped / (ratio - 1.0) - np.pi * 2.7**2 * 0.1
        return engine(
            cylinder=te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm")], cooling=cooling),
            head=flush(chamber_volume=f"{chamber:.9f} cc"),
            running=te.Running(crank_speed="6000 rpm", fuel=fuel),
        )

    found = the("ratio_high_for_fuel", at(limit + 0.01))
    assert found.message == f"the trapped ratio is {limit + 0.01:.2f}: {told}"
    assert (found.severity, found.standing, found.limit) == ("warning", "memory", limit)
    assert found.margin == pytest.approx(0.01, abs=1e-6)
    assert "ratio_high_for_fuel" not in codes(at(limit - 1e-6))
    # without a fuel nothing is judged
    assert "ratio_high_for_fuel" not in codes(at(limit + 0.01).replace({"running": te.Running(crank_speed="6000 rpm")}))


def test_plug_near_the_crown() -> None:
    def under(height: str) -> te.TopEnd:
        return engine(head=flush(chamber_volume="9.2 cc", plug_height=height))

    found = the("plug_near_crown", under("-0.001 mm"))
    assert found.message == "at TDC, cold, plug and crown are 0.999 mm apart, where 1 mm is the least"
    assert (found.severity, found.standing, found.margin) == ("warning", "memory", pytest.approx(-0.001))
    assert codes(under("0 mm")) == []
    meets = the("plug_near_crown", under("-1.2 mm"))
    assert meets.message.startswith("at TDC, cold, plug and crown overlap by 0.200 mm")
    assert meets.standing == "geometry"


def skirted(**piston: str) -> te.TopEnd:
    return engine(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm", web_diameter="98 mm", web_width="60 mm"),
        cylinder=te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm", floor="56 mm")]),
        piston=te.Piston(crown=te.FlatCrown(), compression_height="32 mm", **piston),
    )


def test_skirt_against_the_webs() -> None:
    """By hand: at BDC the pin stands 110 - 27.25 = 82.75 mm up, the crown 32 above it, the webs reach 49 mm."""
    found = the("skirt_meets_webs", skirted(skirt_length="64.76 mm"))
    assert found.message == "at BDC the skirt and the crank webs are 0.990 mm apart, where 1 mm is the least"
    assert (found.severity, found.standing, found.margin) == ("warning", "memory", pytest.approx(-0.01))
    assert codes(skirted(skirt_length="64.75 mm")) == []
    meets = the("skirt_meets_webs", skirted(skirt_length="66 mm"))
    assert meets.message.startswith("at BDC the skirt and the crank webs overlap by 0.250 mm")
    assert meets.standing == "geometry"


def test_exhaust_open_below_the_skirt() -> None:
    """By hand: the crown 0.7 below the deck, the exhaust's floor 56."""
    found = the("exhaust_open_below_skirt", skirted(skirt_length="55.29 mm"))
    assert found.message == "at TDC the skirt ends 0.010 mm above the exhaust's floor: the port stands open to the crankcase"
    assert (found.severity, found.standing, found.margin) == ("warning", "geometry", pytest.approx(-0.01))
    assert codes(skirted(skirt_length="55.30 mm")) == []


def test_little_room_beside_a_piston_above_the_deck() -> None:
    def proud(opening: str, deck: str = "-0.1 mm", **head: Any) -> te.TopEnd:
        return engine(
            piston=te.Piston(crown=te.FlatCrown(), diameter="53.9 mm"),
            head=flush(recess_offset="1 mm", **head),
            head_gaskets=[head_gasket(opening=opening)],
            deck=te.DeckReading(clearance=deck),
        )

    found = the("side_room_small", proud("54.38 mm"))
    assert found.message == (
        "the piston stands 0.100 mm above the deck at TDC and has 0.240 mm of room beside it in head_gaskets.0.opening"
    )
    assert (found.severity, found.limit, found.margin) == ("warning", 0.25, pytest.approx(-0.01))
    assert "side_room_small" not in codes(proud("54.40 mm"))
    assert "side_room_small" not in codes(proud("54.38 mm", deck="0 mm"))
    # through the gasket and into the recess
    into = the("side_room_small", proud("56 mm", deck="-0.4 mm", recess_diameter="54.2 mm"))
    assert into.message.endswith("has 0.150 mm of room beside it in head.recess_diameter")


@pytest.mark.parametrize(
    ("deck", "severity", "told"),
    [
        ("0.49 mm", "note", "the top ring's upper side comes to 0.990 mm below the deck at TDC: it may run into the chamfer of the bore"),
        ("-0.60 mm", "warning", "the top ring's upper side comes to 0.100 mm above the deck at TDC: it leaves the bore"),
    ],
)
def test_the_top_ring_near_the_deck(deck: str, severity: str, told: str) -> None:
    def shallow(clearance: str) -> te.TopEnd:
        return engine(
            piston=te.Piston(crown=te.FlatCrown(), top_land="0.5 mm"),
            head=flush(recess_offset="1 mm"),
            deck=te.DeckReading(clearance=clearance),
        )

    found = the("ring_near_deck", shallow(deck))
    assert (found.severity, found.message) == (severity, told)
    assert "ring_near_deck" not in codes(shallow("0.50 mm"))


def test_the_top_ring_in_the_chamfer_of_the_bore() -> None:
    def shallow(chamfer: str) -> te.TopEnd:
        return engine(
            cylinder=te.Cylinder(bore="54 mm", bore_chamfer=chamfer),
            piston=te.Piston(crown=te.FlatCrown(), top_land="0.5 mm"),
            head=flush(recess_offset="1 mm"),
            deck=te.DeckReading(clearance="0.10 mm"),
        )

    found = the("ring_near_deck", shallow("0.61 mm"))
    assert found.message == (
        "the top ring's upper side comes to 0.600 mm below the deck at TDC: it runs into the chamfer of the bore, 0.61 mm high"
    )
    assert (found.severity, found.standing, found.margin) == ("warning", "geometry", pytest.approx(-0.01))
    # a chamfer that is known to end above it: 1 mm is then no limit
    assert "ring_near_deck" not in codes(shallow("0.60 mm"))


def test_timing_moved_by_the_base_stack() -> None:
    """By hand: the exhaust 30 mm below the deck, 0.70 below it the crown; the stack lifts the barrel by what it is thicker."""

    def lifted(thickness: str) -> te.TopEnd:
        base = te.Gasket(role="base", thickness=thickness, fitted_thickness=thickness)
        return engine(base_gaskets=[base], deck=te.DeckReading(clearance="0.70 mm", base_thickness="0.2 mm"))

    found = the("timing_moved", lifted("0.9 mm"))
    then = te.evaluate(lifted("0.2 mm")).shown("exhaust_duration")
    now = te.evaluate(lifted("0.9 mm")).shown("exhaust_duration")
    assert found.message == (
        f"the base stack makes the exhaust open {now - then:.1f} deg longer than the stack under the deck reading: "
        f"{now:.1f} deg instead of {then:.1f}"
    )
    assert found.figure == pytest.approx(now - then, rel=1e-9)
    # two degrees are about 0.49 mm here
    assert "timing_moved" not in codes(lifted("0.68 mm"))
    assert "timing_moved" in codes(lifted("0.72 mm"))


# --- a digit too many ------------------------------------------------------------------------------------------------


def test_a_crank_speed_with_a_digit_too_many_or_too_few_is_told() -> None:
    """By hand: 2 x 0.0545 m x 115 000 / 60 = 208.9 m/s, and 0.218 m/s at 120 rpm."""
    found = the("crank_speed_unusual", engine(running=te.Running(crank_speed="115000 rpm")))
    assert (found.severity, found.standing, found.unit) == ("note", "common practice", "m/s")
    assert found.message == ("a crank speed of 115000 rpm is a mean piston speed of 209 m/s, over the 2 to 32 m/s that engines run at")
    assert (found.figure, found.limit) == (pytest.approx(208.9167, abs=1e-4), 32.0)
    assert found.margin == pytest.approx(176.9167, abs=1e-4)
    slow = the("crank_speed_unusual", engine(running=te.Running(crank_speed="120 rpm")))
    assert slow.message == "a crank speed of 120 rpm is a mean piston speed of 0.218 m/s, under the 2 to 32 m/s that engines run at"
    assert (slow.figure, slow.limit) == (pytest.approx(0.218), 2.0)
    # 2 m/s are 1100.9 rpm here, 32 m/s 17 614.7 rpm
    for speed, said in (("1100 rpm", True), ("1102 rpm", False), ("17614 rpm", False), ("17616 rpm", True)):
        assert ("crank_speed_unusual" in codes(engine(running=te.Running(crank_speed=speed)))) is said
    # without a stroke by the crank speed alone
    bare = the("crank_speed_unusual", te.TopEnd(running=te.Running(crank_speed="115000 rpm")))
    assert bare.message == "a crank speed of 115000 rpm is over the 600 to 45000 rpm that small two-strokes run at"
    assert codes(te.TopEnd(running=te.Running(crank_speed="30000 rpm"))) == []


SLIPS = [
    # inches taken for millimetres, a digit too many or too few, grams and kilograms; first what is told, then what is not
    ({"cylinder": te.Cylinder(bore="2.126 mm")}, "the bore of 2.126 mm is under 9 mm", "2.126 in would be 54 mm", 2.126, 9.0),
    ({"cylinder": te.Cylinder(bore="540 mm")}, "the bore of 540 mm is over 105 mm", "540 thou would be 13.72 mm", 540.0, 105.0),
    ({"crank": te.Crank(stroke="2.146 mm")}, "the stroke of 2.146 mm is under 8 mm", "2.146 in would be 54.51 mm", 2.146, 8.0),
    ({"crank": te.Crank(stroke="2.146 mm"), "cylinder": te.Cylinder(bore="54 mm")}, "the stroke of 2.146 mm is under 8 mm", "", 2.146, 8.0),
    (
        {"crank": te.Crank(stroke="54.5 mm", rod_length="1100 mm")},
        "the rod of 1100 mm is 20.2 times the stroke of 54.5 mm, over 4",
        "look at its unit and its digits, and at crank.stroke",
        1100 / 54.5,
        4.0,
    ),
    (
        {"base_gaskets": [te.Gasket(role="base", thickness="0.5 mm"), te.Gasket(role="base", thickness="30 mm")]},
        "a base gasket of 30 mm is over 15 mm",
        "30 thou would be 0.762 mm",
        30.0,
        15.0,
    ),
    (
        {"head_gaskets": [te.Gasket(role="head", thickness="0.012 mm")]},
        "a head gasket of 0.012 mm is under 0.025 mm",
        "0.012 in would be 0.3048 mm",
        0.012,
        0.025,
    ),
    (
        {"cylinder": te.Cylinder(bore="47.6 mm"), "piston": te.Piston(assembly_mass="0.132 g")},
        # 250 kg/m³ x (0.0476 m)³ = 26.96 g
        "piston, pin and ring of 0.132 g for a bore of 47.6 mm: under 27 g",
        "0.132 kg would be 132 g",
        0.132,
        26.9625,
    ),
    (
        {"running": te.Running(crank_speed="11000 rpm", peak_pressure="6 bar")},
        "the peak pressure of 6 bar is under 8 bar",
        "6 MPa would be 60 bar",
        6.0,
        8.0,
    ),
    (
        {"crank": te.Crank(stroke="39.3 mm"), "deck": te.DeckReading(clearance="16.5 mm")},
        "the deck reading of 16.5 mm is 0.42 times the stroke of 39.3 mm, over 0.4",
        "16.5 thou would be 0.4191 mm",
        16.5 / 39.3,
        0.4,
    ),
]


@pytest.mark.parametrize(("parts", "message", "do", "figure", "limit"), SLIPS, ids=[case[1] for case in SLIPS])
def test_a_slip_of_units_is_told_with_what_may_have_been_meant(
    parts: dict[str, Any], message: str, do: str, figure: float, limit: float
) -> None:
    found = the("size_unlikely", te.TopEnd(**parts))
    assert found.message == f"{message}; likely a slip of units or digits"
    assert do in found.do
    assert (found.severity, found.standing) == ("warning", "common practice")
    assert (found.figure, found.limit) == (pytest.approx(figure, rel=1e-5), pytest.approx(limit, rel=1e-5))


def test_a_ratio_that_no_engine_has_is_a_slip_of_its_volume() -> None:
    found = the("ratio_unlikely", engine(head=flush(chamber_volume="92 cc")))
    assert found.message.startswith("the compression ratio is 2.")
    assert found.message.endswith(", under 3; likely a slip of units or digits")
    assert found.limit == 3.0
    assert the("ratio_unlikely", engine(head=flush(chamber_volume="0.92 cc"))).limit == 35.0
    # a size that slipped is told alone, not with all that it makes wrong
    both = engine(head=flush(chamber_volume="92 cc"), crank=te.Crank(stroke="54.5 mm", rod_length="1100 mm"))
    assert [code for code in codes(both) if "unlikely" in code] == ["size_unlikely"]


@pytest.mark.parametrize("swept", [1.0, 2.5, 5.0, 10.0, 25.0, 50.0, 80.0, 125.0, 250.0, 500.0])
@pytest.mark.parametrize("stroke_ratio", [0.75, 1.0, 1.3])
@pytest.mark.parametrize("rod", [1.7, 2.3])
def test_no_engine_of_usual_proportions_is_taken_for_a_slip(swept: float, stroke_ratio: float, rod: float) -> None:
    """Common practice: from model engines to singles of 500 cc at 4 to 22 m/s, with thin shims and with spacers under the barrel."""
    bore = (4.0 * swept / (np.pi * stroke_ratio)) ** (1 / 3) * 10.0
    stroke = stroke_ratio * bore

    def mm(value: float) -> str:
        return f"{value:.3f} mm"

    for speed, ratio, base in ((4.0, 6.0, "0.05 mm"), (22.0, 16.0, "8 mm")):
        head = te.SpigotHead(
            recess_offset=mm(-0.02 * bore),
            spigot_diameter=mm(0.99 * bore),
            chamber_volume=f"{swept / (ratio - 1.0):.5f} cc",
            band=te.SquishBand(outer_diameter=mm(0.99 * bore), inner_diameter=mm(0.6 * bore), angle="3 deg"),
        )
        top = te.TopEnd(
            crank=te.Crank(
                stroke=mm(stroke), rod_length=mm(rod * stroke), rod_mass=f"{0.8 * bore**3 / 1e3:.4f} g", crankpin_diameter=mm(0.35 * bore)
            ),
            cylinder=te.Cylinder(
                bore=mm(bore), ports=[te.Port(kind="exhaust", top=mm(0.5 * stroke)), te.Port(kind="transfer", top=mm(0.7 * stroke))]
            ),
            piston=te.Piston(
                crown=te.FlatCrown(),
                assembly_mass=f"{1.2 * bore**3 / 1e3:.4f} g",
                compression_height=mm(0.5 * bore),
                diameter=mm(0.998 * bore),
            ),
            head=head,
            base_gaskets=[te.Gasket(role="base", thickness=base)],
            head_gaskets=[te.Gasket(role="head", thickness="0.1 mm", opening=mm(1.02 * bore))],
            deck=te.DeckReading(clearance=mm(0.04 * bore)),
            running=te.Running(crank_speed=f"{speed / (2e-3 * stroke) * 60.0:.0f} rpm"),
        )
        assert not [code for code in codes(top) if "unlikely" in code or "unusual" in code]


EXAMPLES = sorted((Path(__file__).parents[1] / "docs" / "examples").glob("*.toml"))
#: Without files of readings, plans and fixtures.
JOBS = [path for path in EXAMPLES if not {"readings", "plan", "fixture"} & set(tomllib.loads(path.read_text(encoding="utf-8")))]


@pytest.mark.parametrize("job", JOBS, ids=lambda path: path.name)
def test_no_example_is_taken_for_a_slip(job: Path) -> None:
    assert not [code for code in codes(te.load_job(job).top) if "unlikely" in code or "unusual" in code]


# --- all of them -----------------------------------------------------------------------------------------------------


def test_what_is_found_does_not_depend_on_what_was_asked_for() -> None:
    trap = domed("0.2 deg").replace(running=te.Running(crank_speed="17000 rpm"))
    for outputs in (["squish_edge"], ["squish_min"], []):
        assert te.findings(te.evaluate(trap, outputs)) == te.findings(te.evaluate(trap))


def test_nothing_is_found_where_nothing_is_known() -> None:
    assert te.findings(te.evaluate(te.TopEnd())) == []
    assert added.findings(te.evaluate(te.TopEnd(crank=te.Crank(stroke="40 mm")))) == []
