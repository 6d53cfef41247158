"""One plate for several families: against exact enumeration of limits, and against points laid out one by one."""

from __future__ import annotations

import cmath
import itertools
import math
from fractions import Fraction
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend.solve.fixture import away_from
from topend.solve.slots import SlotOutline, turns_of


def slots(
    circle_from: str = "52 mm", circle_to: str = "60 mm", width: str = "6.6 mm", angles: tuple[float, ...] = (45, 135, 225, 315)
) -> Any:
    return [te.StudSlot(angle=f"{angle} deg", circle_from=circle_from, circle_to=circle_to, width=width) for angle in angles]


def plate(**changes: Any) -> te.DrillingFixture:
    """An invented plate for 40 mm bores."""
    given_ = {
        "lip_diameter": "39.98 mm",
        "drill_diameter": "4 mm",
        "pin_distance": "58 mm",
        "pin_angle": "0 deg",
        "slots": slots(),
        **changes,
    }
    return te.DrillingFixture(**{name: value for name, value in given_.items() if value is not None})


def family(circle: str = "56 mm", stud: str = "6 mm", bore: str = "40 mm", **changes: Any) -> te.StudFamily:
    pattern = te.StudPattern(count=4, circle_diameter=circle, diameter="6 mm")
    return te.StudFamily(**{"name": "demo", "bore": bore, "pattern": pattern, "first_angle": "45 deg", "stud_diameter": stud, **changes})


def the(fixture: te.DrillingFixture, one: te.StudFamily, **more: Any) -> Any:
    (fit,) = te.fixture_check(fixture, [one], **more).families
    return fit


# --- verdicts against exact enumeration --------------------------------------------------------------------------------


def corners(*limits: tuple[Fraction, Fraction]) -> Any:
    return itertools.product(*limits)


def exact(lip: Any, bore: Any, circle_from: Any, circle_to: Any, width: Any, circle: Fraction, stud: Any) -> str:
    """The verdict by every corner of the limits, in fractions: four studs on the diagonals, where a plate is best not turned at all."""
    lips = [b - a >= 0 for a, b in corners(lip, bore)]
    stands = []
    for inner, outer, wide, thick in corners(circle_from, circle_to, width, stud):
        room = (wide - thick) / 2
        stands.append(room >= 0 and inner / 2 - room <= circle / 2 <= outer / 2 + room)
    if all(lips) and all(stands):
        return "fits"
    return "may fit" if any(lips) and any(stands) else "does not fit"


thousandths = st.integers(0, 40).map(lambda number: Fraction(number, 1000))


@given(
    lip=st.integers(39_940, 40_030),
    bore=st.integers(39_980, 40_020),
    circle=st.integers(50_500, 61_500),
    stud=st.integers(5_700, 6_700),
    spans=st.tuples(thousandths, thousandths, thousandths, thousandths, thousandths, thousandths),
)
def test_verdicts_against_exact_enumeration(lip: int, bore: int, circle: int, stud: int, spans: tuple[Fraction, ...]) -> None:
    def around(thousands: int, span: Fraction) -> tuple[Fraction, Fraction]:
        return Fraction(thousands, 1000) - span, Fraction(thousands, 1000) + span

    def text(thousands: int, span: Fraction) -> str:
        return f"{thousands / 1000:.3f} mm ± {float(span):.3f} mm"

    sizes = (lip, bore, 52_000, 60_000, 6_600, stud)
    limits = [around(size, span) for size, span in zip(sizes, spans, strict=True)]
    wanted = exact(limits[0], limits[1], limits[2], limits[3], limits[4], Fraction(circle, 1000), limits[5])
    told = [text(size, span) for size, span in zip(sizes, spans, strict=True)]
    fixture = plate(lip_diameter=told[0], slots=slots(told[2], told[3], told[4]))
    fit = the(fixture, family(f"{circle / 1000:.3f} mm", told[5], told[1]), centres_within="1 mm")
    assert fit.verdict == wanted
    assert fit.lip_play == pytest.approx((float(limits[1][0] - limits[0][1]) / 2, float(limits[1][1] - limits[0][0]) / 2), abs=1e-9)


def test_at_the_limit_itself_it_still_fits() -> None:
    """By hand: a slot 0.6 mm wider than the stud takes circles 0.6 mm beyond its ends; a lip as wide as the bore enters."""
    assert the(plate(lip_diameter="40 mm"), family("60.6 mm")).verdict == "fits"
    assert the(plate(), family("60.61 mm")).verdict == "does not fit"
    assert the(plate(), family("51.4 mm")).verdict == "fits"
    assert the(plate(slots=slots(width="6 mm")), family("56 mm")).verdict == "fits"
    # studs off their places by 0.6 mm across take all the room
    assert the(plate(), family(stud_position="0.6 mm")).verdict == "fits"
    assert the(plate(), family(stud_position="0.62 mm")).verdict == "may fit"


# --- turns against a stud put at every angle -----------------------------------------------------------------------------


def stands(at: complex, outlines: list[SlotOutline]) -> float:
    """How far inside a slot a point lies, by many discs along each slot's middle line: no formula of ours is used."""
    line = np.linspace(0.0, 1.0, 4001)
    return max(slot.room - float(np.abs(slot.start + line * (slot.end - slot.start) - at).min()) for slot in outlines)


@given(seed=st.integers(0, 10_000))
def test_turns_against_every_angle(seed: int) -> None:
    generator = np.random.default_rng(seed)

    def place(low: float, high: float) -> complex:
        return complex(cmath.rect(generator.uniform(low, high), generator.uniform(0, 2 * math.pi)))

    # slots of any direction; studs that stand in them at one turn at least, most of the time
    outlines = [SlotOutline(place(20, 30), place(20, 30), generator.uniform(0.2, 1.5)) for _ in range(3)]
    turn = cmath.exp(1j * generator.uniform(0, 2 * math.pi))
    studs = [turn * (slot.start + generator.uniform() * (slot.end - slot.start)) for slot in outlines[: generator.integers(1, 4)]]
    found = turns_of(studs, outlines)
    for angle in generator.uniform(0, 2 * math.pi, 40):
        inside = min(stands(stud * cmath.exp(-1j * angle), outlines) for stud in studs)
        if abs(inside) > 1e-3:
            assert any((angle - low) % (2 * math.pi) <= high - low for low, high in found) == (inside > 0.0)
    # the ends of every interval are where a stud just meets a slot's side
    for low, high in found:
        if 1e-6 < high - low < 2 * math.pi - 1e-6:
            for end in (low, high):
                inside = min(stands(stud * cmath.exp(-1j * end), outlines) for stud in studs)
                assert inside == pytest.approx(0.0, abs=1e-4)


def test_the_play_of_a_stud_in_a_radial_slot() -> None:
    """By hand: a stud at 28 mm with 0.3 mm to either side may go round by asin(0.3/28) = 0.6139 deg; four slots, so at every quarter."""
    fit = the(plate(), family())
    assert [round(turn.angle, 6) % 90 for turn in fit.turns] == [0.0] * 4
    assert fit.turns[0].play == pytest.approx(math.degrees(math.asin(0.3 / 28)), abs=1e-9)
    assert fit.turns[0].stud_room == pytest.approx(0.3, abs=1e-9)
    assert (fit.turns[0].low, fit.turns[0].high) == pytest.approx((-0.613895, 0.613895), abs=1e-6)


def test_a_rectangle_and_a_square_on_one_plate() -> None:
    """Studs 44 x 36 mm stand at 39.29 deg on 56.85 mm, those 40 x 40 mm at 45 deg on 56.57 mm: radial slots take one, wide arcs both."""
    corners_ = [(22, 18), (-22, 18), (-22, -18), (22, -18)]
    rectangle = te.StudFamily(
        name="rectangle", bore="40 mm", stud_diameter="6 mm", studs=[te.StudPlace(x=f"{x} mm", y=f"{y} mm") for x, y in corners_]
    )
    square = family("56.5685 mm")
    assert the(plate(), square).verdict == "fits"
    no = the(plate(), rectangle)
    assert (no.verdict, no.why) == ("does not fit", ("each stud finds a slot, but not all of them at one turn of the plate",))
    both = [
        te.StudSlot(angle=f"{start} deg", angle_to=f"{stop} deg", circle_from="56.9 mm", circle_to="56.5 mm", width="6.8 mm")
        for start, stop in ((39, 45), (141, 135), (219, 225), (321, 315))
    ]
    found = te.fixture_check(plate(slots=both), [rectangle, square])
    assert [one.verdict for one in found.families] == ["fits", "fits"]
    assert found.fits_all
    # a rectangle goes on at two turns, a square at more
    assert len(found.families[0].turns) == 2


# --- reasons ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fixture", "one", "verdict", "why"),
    [
        ({"lip_diameter": "40.1 mm"}, {}, "does not fit", "the lip (40.1 mm) is wider than the bore (40 mm), by 0.100 mm at the least"),
        (
            {"lip_diameter": "40 mm ± 0.02 mm"},
            {},
            "may fit",
            "the lip (40 mm ± 0.02 mm) enters the bore (40 mm) at some sizes within the limits: at worst it is 0.020 mm too wide",
        ),
        ({}, {"circle": "64 mm"}, "does not fit", "stud 0, no slot reaches its circle of 64.00 mm (the first: 52.00 to 60.00 mm)"),
        ({}, {"stud": "7 mm"}, "does not fit", "stud 0, every slot is narrower than it"),
        (
            {"slots": slots(width="6 mm ± 0.1 mm")},
            {},
            "may fit",
            "its studs go into the slots at some sizes within the limits, not at all of them",
        ),
        (
            {"head_lip_diameter": "40.6 mm"},
            {"recess_diameter": "40.5 mm"},
            "does not fit",
            "the lip for the head (40.6 mm) is wider than its recess (40.5 mm), by 0.100 mm at the least",
        ),
    ],
)
def test_why_not(fixture: Any, one: Any, verdict: str, why: str) -> None:
    fit = the(plate(**fixture), family(**one))
    assert (fit.verdict, fit.why) == (verdict, (why,))


# --- where holes land ------------------------------------------------------------------------------------------------

COOLANT = te.Obstacle(
    what="coolant", name="jacket", angle_from="20 deg", angle_to="80 deg", circle_from="52 mm", circle_to="70 mm", depth="3 mm"
)
PIN = te.LocatingPin(standard="ISO 8752", diameter="4 mm", length="12 mm")


def test_holes_against_points_laid_out() -> None:
    """The hole's rim at every turn and shift that the plate's play allows, against points of bore, studs, gasket and a coolant jacket."""
    fixture = plate(bush_diameter="4.02 mm", drill_diameter="4 mm", hole_position="0.04 mm", slots=slots(width="7 mm"))
    one = family(gasket_opening="42 mm", gasket_outline="76 mm", obstacles=[COOLANT], stud_hole_diameter="6.6 mm")
    fit = the(fixture, one, pin=PIN)
    best = next(turn for turn in fit.turns if abs(turn.angle) < 1e-6)
    shift = (40 - 39.98) / 2 + 0.04 / 2 + 0.02 / 2
    turned = np.radians(np.linspace(best.low, best.high, 201))
    middles = 29.0 * np.exp(1j * turned)
    ring = np.exp(2j * np.pi * np.arange(720) / 720)
    points: dict[str, Any] = {
        "the bore": 20.0 * ring,
        "stud 0": 28.0 * np.exp(1j * np.pi / 4) + 3.3 * ring,
        "stud 3": 28.0 * np.exp(-1j * np.pi / 4) + 3.3 * ring,
        "the gasket's opening": 21.0 * ring,
        "the gasket's outline": 38.0 * ring,
        "coolant (jacket)": (np.linspace(26.0, 35.0, 400)[:, None] * np.exp(1j * np.radians(np.linspace(20, 80, 400)))).ravel(),
    }
    first = next(hole for hole in best.holes if hole.x > 0)
    walls = {wall.beside: wall.thickness for wall in first.walls}
    assert walls.keys() >= points.keys()
    for what, cloud in points.items():
        away = np.abs(cloud[:, None] - middles[None, :]).min() - 2.0 - shift
        assert walls[what] == pytest.approx(away, abs=0.02), what
    assert [wall.thickness for wall in first.walls] == sorted(wall.thickness for wall in first.walls)
    assert (first.x, first.y) == pytest.approx((29.0, 0.0), abs=1e-9)


def test_what_lies_below_a_hole_against_points_laid_out() -> None:
    """Half a pin and a millimetre is 7 mm deep, and the point of a 4 mm drill 1.2 mm more: what begins at 7 mm is bored open, what
    begins at 9.2 mm has 1 mm left. The nearest of points of hole and jacket, the hole taken as a cylinder down to its point."""
    tip = 2.0 / math.tan(math.radians(59.0))
    fixture = plate(slots=())

    def jacket(depth: str, angle: float) -> Any:
        around = COOLANT.replace(depth=depth, angle_from=f"{angle} deg", angle_to="80 deg")
        fit = the(fixture, family(obstacles=[around]), pin=PIN)
        return next(wall.thickness for wall in fit.turns[0].holes[0].walls if wall.beside == "coolant (jacket)")

    assert jacket("7 mm", -30) == pytest.approx(7 - 7 - tip)
    assert jacket("9.2 mm", -30) == pytest.approx(9.2 - 7 - tip)
    # to one side and below: rim and bottom of the hole, shifted by the lip's play, against the jacket's points
    ring = 29.0 + 2.01 * np.exp(2j * np.pi * np.arange(2000) / 2000)
    cloud = (np.linspace(26.0, 35.0, 400)[:, None] * np.exp(1j * np.radians(np.linspace(10, 80, 400)))).ravel()
    beside = np.abs(cloud[:, None] - ring[None, ::10]).min()
    assert jacket("9.2 mm", 10) == pytest.approx(math.hypot(beside, 9.2 - 7 - tip), abs=0.01)
    assert jacket("2 mm", 10) == pytest.approx(beside, abs=0.01)
    # under the wall that is wanted it is told
    assert the(fixture, family(obstacles=[COOLANT.replace(depth="9.2 mm", angle_from="-30 deg")]), pin=PIN).thin
    assert not the(fixture, family(obstacles=[COOLANT.replace(depth="10.3 mm", angle_from="-30 deg")]), pin=PIN).thin


@pytest.mark.parametrize(
    ("radius", "angle", "away"),
    [
        (29.0, 50.0, 26.0 - 29.0),  # inside, 3 mm from the inner circle
        (20.0, 50.0, 6.0),
        (40.0, 50.0, 5.0),
        (30.0, 0.0, 30.0 * math.sin(math.radians(20.0))),  # square on to its side
        (30.0, 200.0, abs(30.0 - 26.0 * cmath.exp(1j * math.radians(120.0)))),  # its inner corner
    ],
)
def test_distance_to_a_part_of_a_ring(radius: float, angle: float, away: float) -> None:
    assert away_from(COOLANT, radius, math.radians(angle), 0.0) == pytest.approx(away, abs=1e-9)
    # play brings it nearer, and all round it is always beside
    assert away_from(COOLANT, radius, math.radians(angle), 0.1) <= away + 1e-9
    around = COOLANT.replace(angle_from="0 deg", angle_to="360 deg")
    assert away_from(around, radius, math.radians(angle), 0.0) == pytest.approx(max(26.0 - radius, radius - 35.0))


def test_the_turn_with_the_thickest_walls_comes_first() -> None:
    """Pins at 0 and 180 deg of the plate, and a jacket from 70 to 110 deg: at a quarter turn they would run into it."""
    jacket = COOLANT.replace(angle_from="70 deg", angle_to="110 deg")
    fit = the(plate(), family(obstacles=[jacket]), pin=PIN)
    assert round(fit.turns[0].angle) % 180 == 0
    assert round(fit.turns[-1].angle) % 180 == 90
    thinnest = fit.turns[-1].thinnest
    assert thinnest.beside == "coolant (jacket)"
    assert thinnest.thickness < 0.0
    assert not the(plate(), family(), pin=PIN, least_wall="1 mm").thin
    assert the(plate(pin_distance="45 mm"), family(), pin=PIN, least_wall="1 mm").thin


def test_hole_depth_for_half_a_pin() -> None:
    """Common practice: a hole takes half a pin; a 12 mm pin asks for 6 mm and an allowance, and the stop for the plate besides."""
    found = te.fixture_check(plate(thickness="10 mm"), [family()], pin=PIN)
    assert (found.hole_depth, found.stop, found.hole_diameter) == pytest.approx((7.0, 17.0, 4.0))
    assert found.bottom == pytest.approx(7.0 + 2.0 * math.tan(math.radians(31)))
    assert te.fixture_check(plate(), [family()], pin=PIN, depth_allowance="0.5 mm").hole_depth == pytest.approx(6.5)
    assert te.fixture_check(plate(), [family()], pin=PIN).stop is None
    assert te.fixture_check(plate(), [family()]).hole_depth is None
    # ISO 8752 (second-hand, reference page): up to 4.6 mm before it is driven in; 0.3 mm to either side of a 4 mm hole
    assert found.chamfer == pytest.approx(0.3)
    solid = te.LocatingPin(standard="solid", diameter="4 mm", length="12 mm")
    assert te.fixture_check(plate(), [family()], pin=solid).chamfer is None


# --- what the plate's play leaves for the head --------------------------------------------------------------------------


def test_how_far_the_head_may_come_out_turned() -> None:
    """By hand: at 28 mm the stud has 0.3 mm either way on the cylinder, and 0.25 more in the head's 6.5 mm holes. Plate to one side on
    the one and to the other on the other: asin(0.3/28) + asin(0.55/28); its holes take 0.25 mm as a chord."""
    fit = the(plate(lips="both"), family(stud_hole_diameter="6.5 mm"))
    turned = math.degrees(math.asin(0.3 / 28) + math.asin(0.55 / 28))
    for turn in fit.turns:
        assert turn.head_turned == pytest.approx(turned, abs=1e-9)
        assert turn.head_may_turn == pytest.approx(math.degrees(2 * math.asin(0.25 / 56)), abs=1e-9)
    # with a lip on one face the studs are alike about the pins' line, so it is as much
    assert the(plate(), family(stud_hole_diameter="6.5 mm")).turns[0].head_turned == pytest.approx(turned, abs=1e-9)
    # studs off their places turn the plate further, and leave the head less
    off = the(plate(lips="both"), family(stud_hole_diameter="6.5 mm", stud_position="0.1 mm")).turns[0]
    assert off.head_turned == pytest.approx(math.degrees(math.asin(0.35 / 28) + math.asin(0.6 / 28)), abs=1e-9)
    assert off.head_may_turn == pytest.approx(math.degrees(2 * math.asin(0.2 / 56)), abs=1e-9)
    # nothing is said where it is not known
    assert the(plate(), family()).turns[0].head_turned is None
    assert the(plate(slots=()), family(stud_hole_diameter="6.5 mm")).turns[0].head_may_turn is None


@pytest.mark.parametrize("pins", [-0.9, -0.3, 0.0, 0.5, 1.0])
def test_the_head_turned_against_laying_the_plate_on_both(pins: float) -> None:
    """Pins a little off the line of symmetry, one lip: every turn on the cylinder with every one on the head's face, turned over."""
    outlines = slots(width="7 mm")
    fit = the(plate(pin_angle=f"{pins} deg", slots=outlines), family(stud_hole_diameter="6.4 mm"))
    radial = [SlotOutline(cmath.rect(26, slot.angle.si), cmath.rect(30, slot.angle.si), 0.5) for slot in outlines]
    places = 28 * np.exp(1j * np.radians([45, 135, 225, 315]))
    angles = np.linspace(-0.05, 0.05, 401)

    def turns(points: Any, more: float) -> Any:
        return np.array([turn for turn in angles if min(stands(point * cmath.exp(-1j * turn), radial) for point in points) >= -more])

    # pins of the head turned over, against those of the cylinder; both are lines, themselves again at half a turn
    own = math.radians(pins)
    apart = (math.pi - own - turns(-places.conjugate(), 0.2))[:, None] - (own + turns(places, 0.0))[None, :]
    greatest = np.abs((apart + math.pi / 2) % math.pi - math.pi / 2).max()
    assert math.degrees(greatest) == pytest.approx(fit.turns[0].head_turned, abs=0.05)
    assert fit.turns[0].head_turned == pytest.approx(math.degrees(math.asin(0.5 / 28) + math.asin(0.7 / 28) + 2 * abs(own)), abs=1e-6)


def test_a_stud_off_its_place_may_help() -> None:
    """A circle of 60.7 mm is 0.05 mm beyond what the slots take (60.6); studs that may stand 0.05 mm further in may fit, less may not."""
    assert the(plate(), family("60.7 mm", stud_position="0.1 mm")).verdict == "may fit"
    assert the(plate(), family("60.7 mm", stud_position="0.09 mm")).verdict == "does not fit"
    # but no stud enters a slot that is narrower than it
    narrow = the(plate(slots=slots(width="5.9 mm")), family(stud_position="0.4 mm"))
    assert (narrow.verdict, narrow.why) == ("does not fit", ("stud 0, every slot is narrower than it",))


# --- bad input -------------------------------------------------------------------------------------------------------


def test_what_is_no_plate_or_family_is_told() -> None:
    with pytest.raises(te.ArgumentError, match="fixture_check: families must be a list of StudFamily; got one, so put it in brackets"):
        te.fixture_check(plate(), family())  # type: ignore[arg-type]
    with pytest.raises(te.ArgumentError, match="families must be a StudFamily"):
        te.fixture_check(plate(), [plate()])  # type: ignore[list-item]
    with pytest.raises(te.ArgumentError, match="fixture must be a DrillingFixture"):
        te.fixture_check(family(), [family()])  # type: ignore[arg-type]
    with pytest.raises(te.PartError, match="fixture_check: least_wall needs a length"):
        te.fixture_check(plate(), [family()], least_wall="2")
    for name in ("least_wall", "depth_allowance", "centres_within"):
        with pytest.raises(te.PartError, match=f"fixture_check: {name} must be 0 mm or more; got '-1 mm'"):
            te.fixture_check(plate(), [family()], **{name: "-1 mm"})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({}, "needs its studs once: pattern for studs evenly spaced on a circle, or studs with the place of each"),
        (
            {"pattern": te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm"), "studs": [te.StudPlace(x="1 mm", y="1 mm")]},
            "needs its studs once",
        ),
        ({"studs": [te.StudPlace(x="1 mm", y="1 mm")]}, "needs stud_diameter, or a pattern with its diameter"),
    ],
)
def test_a_family_that_is_none_is_told(fields: Any, told: str) -> None:
    with pytest.raises(te.PartError, match=told):
        te.StudFamily(bore="40 mm", **fields)


def test_an_obstacle_inside_out_is_told() -> None:
    with pytest.raises(te.PartError, match=r"circle_from \(70 mm\) must be less than circle_to \(60 mm\)"):
        COOLANT.replace(circle_from="70 mm", circle_to="60 mm")


def test_a_lip_that_is_loose_does_not_centre() -> None:
    fit = the(plate(lip_diameter="39.88 mm"), family())
    assert (fit.verdict, fit.why) == (
        "does not fit",
        ("the lip (39.88 mm) is loose in the bore (40 mm): with 0.060 mm of radial play at the least it does not centre",),
    )
    some = the(plate(lip_diameter="39.90 mm ± 0.02 mm"), family())
    told = (
        "the lip (39.90 mm ± 0.02 mm) centres in the bore (40 mm) at some sizes within the limits: at worst it has 0.060 mm of radial play"
    )
    assert (some.verdict, some.why) == ("may fit", (told,))
    assert the(plate(lip_diameter="39.90 mm"), family()).verdict == "fits"
    assert the(plate(lip_diameter="39.88 mm"), family(), centres_within="0.06 mm").verdict == "fits"


def test_a_ring_around_the_head_s_spigot() -> None:
    ringed = plate(head_ring_diameter="39.64 mm")
    assert the(ringed, family(spigot_diameter="39.6 mm")).head_play == pytest.approx((0.02, 0.02))
    fit = the(ringed, family(spigot_diameter="39.7 mm"))
    assert (fit.verdict, fit.why) == (
        "does not fit",
        ("the head's spigot (39.7 mm) is wider than the plate's ring (39.64 mm), by 0.060 mm at the least",),
    )
    # with a ring the recess is no matter
    assert the(ringed, family(recess_diameter="39 mm")).head_play is None


@given(pins=st.integers(0, 179), skew=st.sampled_from([0, 20, 40]))
def test_a_plate_with_one_lip_against_laying_it_on_both_parts(pins: int, skew: int) -> None:
    """Every turn of the plate on the cylinder and on the head's face in steps: do the holes of both meet, the head turned over?"""
    places = 28 * np.exp(1j * np.radians([45, 135 + skew, 225, 315]))
    outlines = slots(angles=(45, 135 + skew, 225, 315), width="7 mm")
    studs = [te.StudPlace(x=f"{place.real:.6f} mm", y=f"{place.imag:.6f} mm") for place in places]
    one = te.StudFamily(name="demo", bore="40 mm", stud_diameter="6 mm", studs=studs)
    goes = the(plate(pin_angle=f"{pins} deg", slots=outlines), one).verdict == "fits"
    # a plate with lips on both faces is turned over with the head, and always meets
    assert the(plate(pin_angle=f"{pins} deg", slots=outlines, lips="both"), one).verdict == "fits"

    radial = [SlotOutline(cmath.rect(26, slot.angle.si), cmath.rect(30, slot.angle.si), 0.5) for slot in outlines]

    def turns(points: Any) -> list[float]:
        return [
            angle
            for angle in np.radians(np.arange(0.0, 360.0, 0.2))
            if all(max(slot.depth(complex(point) * cmath.exp(-1j * angle)) for slot in radial) >= 0 for point in points)
        ]

    on_cylinder, on_head = turns(places), turns(-places.conjugate())
    line = np.array([cmath.exp(2j * (math.radians(pins) + turn)) for turn in on_cylinder])  # doubled: a line is itself at half a turn
    # the head turned over about the line across: an angle becomes pi less itself
    over = np.array([cmath.exp(2j * (math.pi - math.radians(pins) - turn)) for turn in on_head])
    nearest = np.abs(line[:, None] - over[None, :]).min() if len(over) else math.inf
    if nearest < 0.002:
        assert goes
    elif nearest > 0.01:
        assert not goes


def test_why_one_lip_does_not_do() -> None:
    """Studs 44 x 36 mm are alike on both sides of the lines at 0 and 90 deg, and of no other."""
    rectangle = te.StudFamily(
        name="rectangle",
        bore="40 mm",
        stud_diameter="6 mm",
        studs=[te.StudPlace(x=f"{x} mm", y=f"{y} mm") for x, y in [(22, 18), (-22, 18), (-22, -18), (22, -18)]],
    )
    own = math.degrees(math.atan2(18, 22))
    radial = slots(angles=(own, 180 - own, 180 + own, 360 - own))
    assert the(plate(slots=radial, pin_angle="90 deg"), rectangle).verdict == "fits"
    fit = the(plate(slots=radial, pin_angle="20 deg"), rectangle)
    assert fit.verdict == "does not fit"
    assert fit.why[0].startswith("with a lip on one face the head's holes come out mirrored, and at no turn of the plate do they meet")
    assert the(plate(slots=radial, pin_angle="20 deg", lips="both"), rectangle).verdict == "fits"


def test_where_the_first_stud_stands_is_said_once() -> None:
    even = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")
    turned = te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm", angle="45 deg")
    at = [
        te.StudFamily(name="demo", bore="40 mm", **how).places_mm
        for how in ({"pattern": turned}, {"pattern": even, "first_angle": "45 deg"})
    ]
    assert at[0] == at[1]
    assert at[0][0] == pytest.approx((28 / math.sqrt(2), 28 / math.sqrt(2)))
    with pytest.raises(te.PartError, match=r"first_angle and pattern\.angle both say where the first stud stands; give one"):
        te.StudFamily(name="demo", bore="40 mm", pattern=turned, first_angle="45 deg")
    with pytest.raises(
        te.PartError, match=r"first_angle \(30 deg\) is of studs evenly on a circle \(pattern\), and studs gives the place of each"
    ):
        te.StudFamily(
            name="demo", bore="40 mm", studs=[{"x": "21 mm", "y": "20 mm"}, {"x": "-21 mm", "y": "-20 mm"}], stud_diameter="6 mm",
            first_angle="30 deg",
        )  # fmt: skip
