"""Findings about how the head is located: tripped, just not, and their words; and one from fit to consequence."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

import topend as te
from topend.extremes import extremes
from topend.report import BenchCard

STUDS = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
SOLID = te.LocatingPin(standard="solid", diameter="4 mm")
SLOTTED = te.LocatingPin(standard="ISO 8752", diameter="4 mm", length="12 mm")


def codes(top: te.TopEnd) -> list[str]:
    return [one.code for one in te.findings(te.evaluate(top))]


def the(code: str, top: te.TopEnd) -> te.Finding:
    (found,) = [one for one in te.findings(te.evaluate(top)) if one.code == code]
    assert found.effect
    assert found.do
    return found


def proud(recess: str = "40.5 mm", running: te.Running | None = None, **where: Any) -> te.TopEnd:
    """An invented 40 mm engine whose piston stands 0.3 mm above the deck, in a recessed head on an O-ring, located by its register."""
    by = {"head_coaxiality": "0.02 mm ± 0.01 mm", "cylinder_coaxiality": "0.04 mm ± 0.02 mm", **where}
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        cylinder=te.Cylinder(bore="40 mm", register_diameter="58 mm H7", material="356"),
        piston=te.Piston(crown=te.FlatCrown(), diameter="39.80 mm ± 0.01 mm", rocking="0.05 mm ± 0.02 mm", material="4032"),
        head=te.FlushHead(
            recess_offset="1.2 mm",
            recess_diameter=recess,
            register_diameter="58 mm g6",
            band=te.SquishBand(outer_diameter="39.9 mm", inner_diameter="28 mm", angle="0 deg"),
            seal="o-ring",
            material="356",
        ),
        deck=te.DeckReading(clearance="-0.3 mm"),
        location=te.RegisterLocation(**by),
        running=running,
    )


HOT = te.Running(crank_speed="11500 rpm", head_rise="100 K", piston_rise="180 K")
#: By hand, at the worst limits: what 58 H7/g6 clears (0.010 to 0.059 mm), halves of the coaxialities, rocking.
WORST = 0.059 / 2 + 0.030 / 2 + 0.060 / 2 + 0.07
AS_STATED = (0.015 + 0.0195) / 2 + 0.02 / 2 + 0.04 / 2 + 0.05


def test_from_fit_to_consequence() -> None:
    """Side room = (recess - piston)/2 - eccentricity - rocking - hot growth, each by hand; flagged when its limits reach zero."""
    # 356 grows by 21.5 (20.9 to 22.1), 4032 by 19.4 (18.8 to 20.0) µm/m/K: sheets, as in docs/closing.md
    growth = (39.81 * 20.0e-6 * 180 - 40.5 * 20.9e-6 * 100) / 2
    room = extremes(proud(running=HOT), ["side_room_hot"])["side_room_hot"]
    assert room.low == pytest.approx((40.5 - 39.81) / 2 - WORST - growth, abs=2e-6)
    stated = (40.5 - 39.8) / 2 - AS_STATED - (39.8 * 19.4e-6 * 180 - 40.5 * 21.5e-6 * 100) / 2
    assert te.evaluate(proud(running=HOT), ["side_room_hot"]).shown("side_room_hot") == pytest.approx(stated, abs=1e-9)
    assert not {"may_touch_at_side", "touches_at_side"} & set(codes(proud(running=HOT)))

    # a recess that leaves a micrometre too little at the limits, and one with a micrometre more
    spare = 2 * (room.low + 40.5 * 20.9e-6 * 100 / 2) / (1 + 20.9e-6 * 100)
    zero = 40.5 - spare + 40.5 * 20.9e-6 * 100 / (1 + 20.9e-6 * 100)
    tight, wide = (proud(f"{zero + by:.6f} mm", HOT) for by in (-0.001, 0.001))
    assert abs(extremes(proud(f"{zero:.6f} mm", HOT), ["side_room_hot"])["side_room_hot"].low) < 2e-6
    assert "may_touch_at_side" not in codes(wide)
    found = the("may_touch_at_side", tight)
    half = (zero - 0.001 - 39.8) / 2
    left = te.evaluate(tight, ["side_room_hot"]).shown("side_room_hot")
    assert found.message == (
        f"the piston stands 0.300 mm above the deck at TDC, with {half:.3f} mm beside it in the recess, less 0.047 off centre, "
        f"less 0.050 rocking, less {half - 0.04725 - 0.05 - left:.3f} hot growth: {left:.3f} mm is left, and "
        f"{found.figure:.3f} at the limits: that it does not touch is not proven"
    )
    assert (found.severity, found.standing, found.limit, found.unit) == ("warning", "geometry", 0.0, "mm")
    assert found.margin == found.figure == pytest.approx(-0.0005, abs=5e-5)
    assert "the ring groove closes over the top ring" in found.effect

    # contact along the axis at speed is another matter, told apart: either without the other
    assert not {"touches_at_speed", "may_touch_at_speed"} & set(codes(tight))
    fast = wide.replace({"head.recess_offset": "0.42 mm", "running.crank_speed": "15000 rpm"})
    assert {"touches_at_speed", "may_touch_at_speed"} & set(codes(fast))
    assert not {"may_touch_at_side", "touches_at_side"} & set(codes(fast))


def test_side_room_gone_and_cold() -> None:
    """Without rises it is judged cold, and says so."""
    gone = the("touches_at_side", proud("39.98 mm"))
    assert gone.message.endswith("with 0.090 mm beside it in the recess, less 0.047 off centre, less 0.050 rocking: so placed it touches")
    assert gone.source.endswith("cold, since no rises are stated")
    assert gone.figure == pytest.approx(0.09 - AS_STATED, abs=1e-9)
    # a piston below the gasket face is in no recess
    assert not {"touches_at_side", "may_touch_at_side"} & set(codes(proud("39.98 mm").replace({"deck.clearance": "0.1 mm"})))
    # without a location nothing is judged, but that the room is small
    assert "side_room_small" in codes(proud("39.98 mm").replace(location=None))
    assert "touches_at_side" not in codes(proud("39.98 mm").replace(location=None))


def loose(hole: str, position: str = "0 mm") -> te.TopEnd:
    return te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm", studs=STUDS),
        head=te.FlushHead(studs=te.StudPattern(count=4, circle_diameter="56 mm", diameter=hole)),
        location=te.StudLocation(stud_position=position, hole_position="0 mm", head_coaxiality="0 mm"),
    )


def test_off_centre_by_studs_alone() -> None:
    """One disc: 95 % within √0.95 of the radial play; 0.1026 mm of play are 0.1000 likely."""
    found = the("off_centre", loose("6.2054 mm"))
    assert found.message == (
        "the head, located by the studs alone, may lie 0.100 mm off the bore's axis, 0.103 mm at worst; studs clamp, they do not centre"
    )
    assert (found.severity, found.standing, found.limit) == ("note", "memory", 0.10)
    assert found.margin == pytest.approx(0.1027 * 0.95**0.5 - 0.1, abs=1e-6)
    assert "off_centre" not in codes(loose("6.2050 mm"))


def test_how_far_off_is_not_known() -> None:
    """Silence would read as safety."""
    found = the("off_centre_unknown", loose("6.2 mm").replace({"cylinder.studs": None}))
    assert found.message == (
        "the head is located by the studs alone; how far off the bore's axis it may lie is not known, and nothing is judged by it"
    )
    assert (found.severity, found.standing, found.do) == ("note", "geometry", "give cylinder.studs.diameter")
    assert "off_centre_unknown" not in codes(loose("6.2 mm"))
    assert "off_centre_unknown" not in codes(loose("6.2 mm").replace({"cylinder.studs": None, "location": None}))


def banded(deck: str) -> te.TopEnd:
    """A band that is 0.5 mm wider than the bore, under a flat crown, on a head that studs leave 0.3 mm off."""
    return te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm", studs=STUDS),
        piston=te.Piston(crown=te.FlatCrown()),
        head=te.FlushHead(
            studs=te.StudPattern(count=4, circle_diameter="56 mm", diameter="6.6 mm"),
            band=te.SquishBand(outer_diameter="41 mm", inner_diameter="28 mm", angle="15 deg"),
        ),
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.3 mm")],
        deck=te.DeckReading(clearance=deck),
        location=te.StudLocation(stud_position="0 mm", hole_position="0 mm", head_coaxiality="0 mm"),
    )


def test_a_gap_too_small_on_the_low_side() -> None:
    """By hand: deck + 0.3 of gasket, and at the bore the band has risen over 0.5 mm at 15 deg; off centre over 0.2 mm on one side."""
    centred, low = (0.24 + 0.3 + over * math.tan(math.radians(15)) for over in (0.5, 0.2))
    found = the("gap_small_off_centre", banded("0.24 mm"))
    assert found.message == (
        f"the least gap, {centred:.3f} mm with the head centred, is {low:.3f} mm on the low side with the head 0.300 mm off, its worst: "
        "under 0.6 mm it may close to nearly nothing at speed"
    )
    assert (found.severity, found.standing, found.limit) == ("warning", "common practice", 0.6)
    assert found.figure == pytest.approx(low, abs=1e-9)
    assert "gap_small_off_centre" not in codes(banded("0.25 mm"))
    # where it is too small centred, that is said and no more
    assert "gap_small" in codes(banded("0.14 mm"))
    assert "gap_small_off_centre" not in codes(banded("0.14 mm"))


def spigoted(register: str) -> te.TopEnd:
    return te.TopEnd(
        cylinder=te.Cylinder(bore="47.6 mm", register_diameter=register),
        head=te.SpigotHead(spigot_diameter="47.5 mm", register_diameter="60 mm"),
        location=te.RegisterLocation(head_coaxiality="0 mm", cylinder_coaxiality="0 mm"),
    )


def test_a_spigot_that_fights_the_register() -> None:
    found = the("spigot_against_location", spigoted("60.102 mm"))
    assert found.message == (
        "the head is located by its register up to 0.051 mm off the bore's axis, and its spigot has no more room than that: "
        "-0.001 mm are left between spigot and bore at worst"
    )
    assert (found.severity, found.standing) == ("warning", "geometry")
    assert found.margin == pytest.approx(-0.001)
    assert "spigot_against_location" not in codes(spigoted("60.098 mm"))
    own = spigoted("60.102 mm").replace(location=te.SpigotLocation())
    assert "spigot_against_location" not in codes(own)


def test_hot_it_may_be_another_matter() -> None:
    """By hand: 60 mm of 356 and of grey iron, the head 120 K and the barrel 90 K hotter."""
    running = te.Running(crank_speed="9000 rpm", head_rise="120 K", cylinder_rise="90 K")

    def fitted(barrel: str, head: str) -> te.TopEnd:
        top = spigoted("60.18 mm").replace(running=running)
        return top.replace({"cylinder.material": barrel, "head.material": head})

    # an iron head in an aluminium barrel: the register opens, and the head lies further off than cold
    found = the("off_centre", fitted("356", "grey iron"))
    assert "mm off the bore's axis hot (cold 0.0" in found.message
    grown = (60.18 * (1 + 22.1e-6 * 90) - 60 * (1 + 11.0e-6 * 120)) / 2
    assert found.figure == pytest.approx(grown * math.sqrt(0.95), abs=1e-6)
    assert "off_centre" not in codes(fitted("grey iron", "356"))
    # an aluminium head in an iron barrel: the register closes, but the spigot grows up to the bore
    assert "spigot_against_location" in codes(spigoted("60.102 mm"))
    tight = fitted("grey iron", "356").replace({"head.spigot_diameter": "47.56 mm", "cylinder.register_diameter": "60.02 mm"})
    assert "spigot_against_location" not in codes(tight.replace(running=None))
    # register: (60.02 (1 + 11.8e-6 90) - 60 (1 + 20.9e-6 120))/2 < 0, so it centres; spigot: 47.6 (1 + 11e-6 90) - 47.56 (1 + 22.1e-6 120)
    left = (47.6 * (1 + 11.0e-6 * 90) - 47.56 * (1 + 22.1e-6 * 120)) / 2
    fights = the("spigot_against_location", tight)
    assert fights.figure == pytest.approx(left, abs=1e-6)
    assert fights.message.endswith(f"{left:.3f} mm are left between spigot and bore at worst, hot")


def pinned(pin: te.LocatingPin = SLOTTED, **changes: Any) -> te.TopEnd:
    where = {
        "pin_hole_diameter": "4.05 mm",
        "cylinder_pin_position": "0 mm",
        "head_pin_position": "0 mm",
        "pin_distance": "60 mm",
        **changes,
    }
    return te.TopEnd(cylinder=te.Cylinder(bore="40 mm"), location=te.PinLocation(pin=pin, head_coaxiality="0 mm", **where))


def test_pins_in_good_holes_have_nothing_to_say() -> None:
    assert codes(pinned()) == []


def test_a_pin_with_play() -> None:
    """ISO 8752, 4 mm: 4.4 to 4.6 mm before it is driven in (second-hand, reference page)."""
    found = the("pin_loose", pinned(pin_hole_diameter="4.41 mm"))
    assert found.message == "a hole may be as wide as the pin before it is driven in, or wider (0.010 mm): it has play"
    assert (found.severity, found.limit) == ("warning", 0.0)
    assert found.margin == pytest.approx(-0.01)
    assert "pin_loose" not in codes(pinned(pin_hole_diameter="4.39 mm"))
    assert "pin_loose" not in codes(pinned(SOLID, pin_hole_diameter="4.41 mm"))
    # the head's hole counts as the cylinder's does
    assert the("pin_loose", pinned(head_pin_hole_diameter="4.42 mm")).figure == pytest.approx(-0.02)
    assert the("pin_hole_off", pinned(head_pin_hole_diameter="4.2 mm")).figure == pytest.approx(4.2)
    assert te.evaluate(pinned(head_pin_hole_diameter="4.2 mm"), ["pin_interference"]).shown("pin_interference") == pytest.approx(0.3)


def test_a_solid_pin_that_nothing_holds() -> None:
    """Common practice: a solid pin is pressed into one part and slides in the other."""
    found = the("pin_held_by_neither", pinned(SOLID, pin_hole_diameter="4.01 mm", head_pin_hole_diameter="4.03 mm"))
    assert found.message == "a solid pin may have play in both parts, 0.010 mm in the tighter of its holes: nothing holds it"
    assert (found.severity, found.standing, found.limit) == ("warning", "common practice", 0.0)
    assert found.margin == pytest.approx(-0.01)
    assert "pin_held_by_neither" not in codes(pinned(SOLID, pin_hole_diameter="4 mm", head_pin_hole_diameter="4.03 mm"))
    assert "pin_held_by_neither" not in codes(pinned(SOLID, pin_hole_diameter="4.03 mm", head_pin_hole_diameter="3.99 mm"))
    # at the limits: 4 m6 is 4 to 12 µm over, H7 up to 12
    pressed = te.LocatingPin(standard="solid", diameter="4 mm m6")
    assert the("pin_held_by_neither", pinned(pressed, pin_hole_diameter="4 mm H7")).figure == pytest.approx(-0.008)
    assert "pin_held_by_neither" not in codes(pinned(pressed, pin_hole_diameter="4 mm N7", head_pin_hole_diameter="4 mm H7"))


@pytest.mark.parametrize(
    ("hole", "inside", "told"),
    [
        ("3.99 mm", "4.00 mm", "a hole may be 3.990 mm, where ISO 8752 has 4.00 to 4.12 mm for this pin"),
        ("4.13 mm", "4.12 mm", "a hole may be 4.130 mm, where ISO 8752 has 4.00 to 4.12 mm for this pin"),
        ("4.10 mm ± 0.03 mm", "4.10 mm ± 0.02 mm", "a hole may be 4.130 mm, where ISO 8752 has 4.00 to 4.12 mm for this pin"),
    ],
)
def test_a_hole_that_is_not_the_standard_s(hole: str, inside: str, told: str) -> None:
    found = the("pin_hole_off", pinned(pin_hole_diameter=hole))
    assert (found.message, found.severity, found.standing) == (told, "note", "published")
    assert abs(found.margin or 0.0) == pytest.approx(0.01)
    assert "pin_hole_off" not in codes(pinned(pin_hole_diameter=inside))


def test_two_pins_that_over_constrain() -> None:
    """Fixed fasteners: 0.1 mm of room at either pin and in either part, less zones of 0.21 and 0.20 mm."""
    solid = {"pin_hole_diameter": "4.2 mm", "cylinder_pin_position": "0.21 mm", "head_pin_position": "0.20 mm"}
    found = the("pins_over_constrain", pinned(SOLID, **solid))
    assert found.message == "the two pins lack up to 0.010 mm along the line through them: solid pins do not enter both parts"
    assert (found.severity, found.standing) == ("warning", "published")
    assert found.margin == pytest.approx(-0.01)
    assert "pins_over_constrain" not in codes(pinned(SOLID, **{**solid, "cylinder_pin_position": "0.20 mm"}))
    # a slot frees them, if it is long enough
    assert "pins_over_constrain" not in codes(pinned(SOLID, **solid, slot_length="0.03 mm"))
    short = the("pins_over_constrain", pinned(SOLID, **solid, slot_length="0.01 mm"))
    assert short.message.endswith("solid pins do not enter both parts; the slot is too short")
    # slotted pins give a tenth
    bends = the("pins_over_constrain", pinned(cylinder_pin_position="0.06 mm", head_pin_position="0.05 mm"))
    assert bends.message == "the two pins lack up to 0.110 mm along the line through them: slotted pins bend by that"
    assert (bends.severity, bends.limit) == ("note", -0.1)
    assert bends.margin == pytest.approx(-0.01)
    assert "pins_over_constrain" not in codes(pinned(cylinder_pin_position="0.05 mm", head_pin_position="0.05 mm"))


def test_a_location_in_a_job_file(tmp_path: Path) -> None:
    """The page's own table, under a spigot head: the ring of the plate around the spigot counts."""
    page = (Path(__file__).parents[1] / "docs" / "job-files.md").read_text(encoding="utf-8")
    (table,) = [text for text in re.findall(r"```toml\n(.*?)```", page, flags=re.DOTALL) if "\n[location]\n" in text]
    job = tmp_path / "job.toml"
    own = '\n[cylinder]\nbore = "47.6 mm"\n[head]\nkind = "spigot"\nspigot_diameter = "47.2 mm"\n'
    job.write_text(table + own, encoding="utf-8")
    top = te.load_job(job).top
    # (47.6 - 47.57)/2, (47.24 - 47.2)/2, lips from memory 0.01/2, drill 0.04/2 on both parts, coaxiality 0.02/2
    assert te.locate(top, draws=1000).worst_as_stated == pytest.approx(0.015 + 0.02 + 0.005 + 2 * 0.02 + 0.01, abs=1e-9)
    again = te.TopEnd.model_validate_json(top.model_dump_json())
    assert again == top
    assert again.location == top.location
    with pytest.raises(te.PartError, match=r"location has kind 'pegs'; it must be one of spigot, register, pins, studs"):
        te.TopEnd(location={"kind": "pegs"})


def test_the_card_tells_how_the_head_lies() -> None:
    """What is stated, the figures, the worst case over the limits, and what was assumed; words without bare signs."""
    top = proud("40.5 mm", HOT).replace({"location.cylinder_coaxiality": None})
    card = BenchCard(top)
    text = card.text
    worst = extremes(top, ["eccentricity_worst"])["eccentricity_worst"].high
    assert "  located by   its register in the cylinder's\n" in text
    assert "\nWHERE THE HEAD LIES\n" in text
    for name in ("eccentricity_worst", "eccentricity_likely", "recess_clearance", "side_room", "side_room_hot"):
        assert f"  {name} " in text
        assert card.to_dict()[name]["value"] == te.evaluate(top, [name]).shown(name)
    assert f"worst limit too the head lies up to {worst:.3f} mm off." in " ".join(text.split())
    assert "location.cylinder_coaxiality: 0.020 mm, may be 0.000 to 0.040 mm" in text
    # without a location, nothing of it; without a recess, no room beside its wall
    assert "WHERE THE HEAD LIES" not in BenchCard(proud().replace(location=None)).text
    assert "side_room" not in BenchCard(loose("6.5 mm")).to_dict()
    pinned_text = BenchCard(pinned()).text
    assert "located by  two pins of 4 mm, ISO 8752" in pinned_text
    assert "pin_interference" in pinned_text
