"""How far a head lies off: closed forms against geometry built point by point, against an exact integral, and against draws."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import j0, j1

import topend as te
from topend.evaluation import evaluate_columns
from topend.extremes import extremes
from topend.locating import drawn_eccentricity
from topend.physics import location
from topend.physics.wiring.location import DISC, MIRROR, PAIR, SLOT, Acts, studs

ROWS: dict[str, dict[str, float]] = {
    "play": {"hole": 0.047025, "shaft": 0.046991},
    "disc_square": {"radius": 1e-4},
    "disc_excess": {"radius": 1e-4},
    "likely_eccentricity": {"along": 3e-9, "across": 2e-9, "excess": -1e-18},
    "rotation_by_pins": {"at_holes": 5e-5, "mirrored": 1e-5, "pin_distance": 0.06},
    "rotation_by_studs": {"room": 2.5e-4, "circle_diameter": 0.056},
    "piston_rocking": {"skirt_clearance": 6e-5, "skirt_top": 0.012, "skirt_length": 0.052},
    "side_room": {"clearance": 7e-4, "eccentricity": 1e-4, "rocking": 5e-5},
    "pin_hole_depth": {"pin_length": 0.012, "allowance": 1e-3},
    "drill_point": {"diameter": 0.004},
}


@pytest.mark.parametrize("name", sorted(ROWS))
def test_shapes(name: str, kernel_shapes: Any) -> None:
    kernel_shapes(getattr(location, name), ROWS[name])


def test_every_kernel_is_tried() -> None:
    assert set(ROWS) == {name for name in location.__all__ if hasattr(getattr(location, name), "raw")}


# --- the likely eccentricity -----------------------------------------------------------------------------------------


def sums(chain: list[tuple[Acts, float]]) -> dict[str, float]:
    """The sums that the wiring makes of links, in plain floats."""
    return {
        "along": math.fsum(acts.along * radius**2 / 4 for acts, radius in chain),
        "across": math.fsum(acts.across * radius**2 / 4 for acts, radius in chain),
        "excess": math.fsum(acts.excess * -(radius**4) / 6 for acts, radius in chain),
    }


def within(radii: list[float], distance: float) -> float:
    """Probability that a sum of vectors, each even in a disc, is shorter than `distance`: R ∫ J₁(kR) Π 2 J₁(k r)/(k r) dk, exact.

    The characteristic function of an even disc; any text on random flights, such as G. N. Watson, Theory of Bessel Functions, 13.48.
    """

    def inside(k: float) -> float:
        product = 1.0
        for radius in radii:
            product *= 2.0 * j1(k * radius) / (k * radius) if k * radius > 1e-9 else 1.0
        return float(j1(k * distance)) * product

    edges = np.linspace(0.0, 400.0 / max(radii), 400)
    return distance * math.fsum(quad(inside, low, high)[0] for low, high in itertools.pairwise(edges))


def test_the_integral_itself() -> None:
    """One disc: the share of its area. J0 stands for a step of fixed length."""
    assert within([1.0, 1e-6], 0.8) == pytest.approx(0.64, abs=1e-3)
    assert j0(0.0) == 1.0


@pytest.mark.parametrize("radii", [[1.0], [1.0, 1.0], [1.0, 0.5], [1.0, 0.1], [1.0, 0.5, 0.25, 0.1], [1.0] * 6, [1.0] + [0.05] * 6])
def test_likely_against_the_exact_distribution(radii: list[float]) -> None:
    found = float(location.likely_eccentricity(**sums([(DISC, radius) for radius in radii])))
    if len(radii) == 1:
        assert found == pytest.approx(math.sqrt(0.95), rel=1e-12)
    else:
        # 1 % of the distance is at most about 1 % of probability there
        assert within(radii, 0.99 * found) < 0.95 < within(radii, 1.01 * found)


def test_very_many_links_are_a_rayleigh_law() -> None:
    """Its 95 % lie within √(-2 ln 0.05) standard deviations of one coordinate (any table of the Rayleigh law: 2.448)."""
    chain = [(DISC, 1.0)] * 4000
    found = float(location.likely_eccentricity(**sums(chain)))
    assert found / math.sqrt(4000 / 4) == pytest.approx(2.4477, abs=2e-3)
    assert float(location.likely_eccentricity(along=0.0, across=0.0, excess=0.0)) == 0.0


def point(generator: np.random.Generator, radius: float, draws: int) -> Any:
    """Evenly in a disc by rejection from a square, which no formula of ours is used for; as complex numbers."""
    made = np.empty(0, dtype=complex)
    while len(made) < draws:
        square = generator.uniform(-1, 1, draws) + 1j * generator.uniform(-1, 1, draws)
        made = np.concatenate([made, square[np.abs(square) <= 1.0]])
    return radius * made[:draws]


def shifted(generator: np.random.Generator, acts: Acts, radius: float, draws: int) -> Any:
    """What a link does to the head, built from its holes: along the line through the pins, and across it (imaginary)."""
    one, other = point(generator, radius, draws), point(generator, radius, draws)
    if acts is PAIR:
        return (one + other) / 2
    if acts is SLOT:
        return one.real + 0.5j * (one.imag + other.imag)
    if acts is MIRROR:
        return one.real + other.real + 0j
    if acts is DISC:
        return one
    count = round(1 / acts.along)
    return sum(point(generator, radius, draws) for _ in range(count)) / count


CHAINS: dict[str, list[tuple[Acts, float]]] = {
    "plate with one lip": [(DISC, 1.0), (DISC, 0.5), (MIRROR, 0.2), (PAIR, 0.3), (PAIR, 0.3), (DISC, 0.1)],
    "plate with two lips and a slot": [(DISC, 1.0), (DISC, 0.6), (SLOT, 0.4), (SLOT, 0.4)],
    "pins alone": [(PAIR, 1.0), (PAIR, 0.5)],
    "a slot alone": [(SLOT, 1.0), (SLOT, 0.5)],
    "studs": [(DISC, 1.0), (studs(4), 0.8), (studs(4), 0.4)],
}


@pytest.mark.parametrize("name", sorted(CHAINS))
def test_likely_and_worst_against_draws_of_the_holes(name: str) -> None:
    generator, draws = np.random.default_rng(7), 200_000
    total = sum(shifted(generator, acts, radius, draws) for acts, radius in CHAINS[name])
    off = np.abs(total)
    found = float(location.likely_eccentricity(**sums(CHAINS[name])))
    assert found == pytest.approx(float(np.quantile(off, 0.95)), rel=0.015)
    # the sums themselves: mean square along and across, and the variance of the square
    made = sums(CHAINS[name])
    assert made["along"] == pytest.approx(float(np.mean(total.real**2)), rel=0.01)
    assert made["across"] == pytest.approx(float(np.mean(total.imag**2)), rel=0.01)
    variance = made["excess"] + 2 * made["along"] ** 2 + 2 * made["across"] ** 2
    assert variance == pytest.approx(float(np.var(off**2)), rel=0.03)
    # nothing goes beyond the worst
    worst = math.fsum(acts.worst * radius for acts, radius in CHAINS[name])
    assert off.max() <= worst * (1 + 1e-12)


# --- the worst case, from geometry -----------------------------------------------------------------------------------

ROUND = np.exp(2j * np.pi * np.arange(48) / 48)


def pose(cylinder: tuple[complex, complex], head: tuple[complex, complex], slot: bool) -> tuple[complex, float]:
    """Where the head's axis comes to lie, and how it is turned, as its holes are put over the cylinder's: the middle of both and the line
    through both; with a slot at the second, the first hole itself."""
    turn = np.angle((cylinder[1] - cylinder[0]) / (head[1] - head[0]))
    if slot:
        return cylinder[0] - head[0] * np.exp(1j * turn), turn
    return sum(cylinder) / 2 - np.exp(1j * turn) * sum(head) / 2, turn


@pytest.mark.parametrize("slot", [False, True])
def test_two_pins_against_every_direction_of_every_hole(slot: bool) -> None:
    """Each of four holes off by its radius, in each of 48 directions for the first and the worst found of those for the rest."""
    span, cylinder, head = 30.0, 0.020, 0.035
    greatest = turned = 0.0
    # the head's errors act as the cylinder's turned round, so both of a hole are taken in one direction
    for one, other in itertools.product(ROUND, ROUND):
        at = (-span + cylinder * one, span + cylinder * other)
        holes = (-span - head * one, span - head * other)
        off, turn = pose(at, holes, slot)
        greatest, turned = max(greatest, abs(off)), max(turned, abs(turn))
    acts = SLOT if slot else PAIR
    assert greatest == pytest.approx(acts.worst * (cylinder + head), rel=3e-3)
    assert greatest <= acts.worst * (cylinder + head) * 1.0001
    found = float(location.rotation_by_pins(at_holes=(cylinder + head) / 1e3, mirrored=0.0, pin_distance=2 * span / 1e3))
    assert turned == pytest.approx(found, rel=1e-3)


def test_a_plate_that_drills_both_from_one_face_mirrors_its_errors() -> None:
    """The plate laid on the cylinder, then on the head's face; the head turned over about the line across the pins, and put on."""
    span, off_by = 30.0, 0.025
    greatest = turned = lengthened = 0.0
    for one, other in itertools.product(ROUND, ROUND):
        plate = (-span + off_by * one, span + off_by * other)
        # turned over, left is right: what was drilled at x + iy lies at -x + iy, and the plate's second hole over the first
        mirrored = (-plate[1].conjugate(), -plate[0].conjugate())
        off, turn = pose(plate, mirrored, slot=False)
        greatest, turned = max(greatest, abs(off)), max(turned, abs(turn))
        lengthened = max(lengthened, abs(abs(plate[1] - plate[0]) - abs(mirrored[1] - mirrored[0])))
        # turned over with its plate, that is with lips on both faces, the pattern is the same
        same, turn = pose(plate, plate, slot=False)
        assert abs(same) < 1e-12
        assert abs(turn) < 1e-12
    assert greatest == pytest.approx(MIRROR.worst * off_by, rel=1e-3)
    assert turned == pytest.approx(
        float(location.rotation_by_pins(at_holes=0.0, mirrored=off_by / 1e3, pin_distance=2 * span / 1e3)), rel=1e-3
    )
    # the pins' distance is the same in both parts
    assert lengthened < 1e-12


def furthest(direction: complex, holes: np.ndarray, stud: np.ndarray, room: float) -> float:
    """How far a head can be pushed one way, its holes over the studs, turned as it likes: bisection over what goes."""
    turns = np.exp(1j * np.linspace(-0.02, 0.02, 401))

    def goes(distance: float) -> bool:
        return bool((np.abs(turns[:, None] * holes + distance * direction - stud).max(axis=1) <= room + 1e-12).any())

    low, high = 0.0, 4 * room
    while high - low > 1e-7:
        middle = (low + high) / 2
        low, high = (middle, high) if goes(middle) else (low, middle)
    return low


def test_studs_against_pushing_the_head() -> None:
    """Four studs on 56 mm, 0.25 mm of radial play, studs 0.10 and holes 0.05 mm off their places."""
    places = 28.0 * np.exp(1j * (np.pi / 4 + np.pi / 2 * np.arange(4)))
    room, stud, hole = 0.25, 0.10, 0.05
    generator = np.random.default_rng(3)
    worst = max(furthest(way, places - hole * way, places + stud * way, room) for way in ROUND[::6])
    assert worst == pytest.approx(room + stud + hole, abs=1e-5)
    for _ in range(60):
        way = ROUND[generator.integers(48)]
        own_studs = places + stud * ROUND[generator.integers(48, size=4)]
        own_holes = places + hole * ROUND[generator.integers(48, size=4)]
        assert furthest(way, own_holes, own_studs, room) <= worst + 1e-6
    # turned about the bore's axis until a stud meets its hole
    turns = np.linspace(0.0, 0.03, 300_001)
    apart = np.abs(np.exp(1j * turns)[:, None] * places[:1] - places[:1])[:, 0]
    most = turns[apart <= room + stud + hole].max()
    assert float(location.rotation_by_studs(room=(room + stud + hole) / 1e3, circle_diameter=0.056)) == pytest.approx(most, abs=2e-7)


def test_a_spigot_pushed_until_its_rim_meets_the_bore() -> None:
    rim = 23.4 * np.exp(2j * np.pi * np.arange(3600) / 3600)
    for way in ROUND[::12]:
        low, high = 0.0, 1.0
        while high - low > 1e-9:
            middle = (low + high) / 2
            low, high = (middle, high) if np.abs(rim + middle * way).max() <= 23.5 else (low, middle)
        assert float(location.play(hole=0.047, shaft=0.0468)) * 1e3 == pytest.approx(low, abs=1e-6)


def test_position_by_asme() -> None:
    """ASME Y14.5 (seen, reference page): floating H = F + T, fixed H = F + T1 + T2: there the pins' room just takes up the zones."""

    def margin(pin: str, cylinder: str, head: str, first: str, second: str) -> float:
        where = te.PinLocation(
            pin=te.LocatingPin(standard="solid", diameter=pin),
            pin_hole_diameter=cylinder,
            head_pin_hole_diameter=head,
            cylinder_pin_position=first,
            head_pin_position=second,
            pin_distance="60 mm",
        )
        return te.evaluate(te.TopEnd(location=where), ["pin_margin"]).shown("pin_margin")

    assert margin("4 mm", "4.2 mm", "4.2 mm", "0.2 mm", "0.2 mm") == pytest.approx(0.0, abs=1e-12)
    assert margin("4 mm", "4 mm", "4.3 mm", "0.2 mm", "0.1 mm") == pytest.approx(0.0, abs=1e-12)
    assert margin("4 mm", "3.99 mm", "4.28 mm", "0.2 mm", "0.1 mm") == pytest.approx(-0.02, abs=1e-12)


def test_pins_grow_apart_in_a_head_that_is_hotter() -> None:
    """By hand: 57 mm of 356 (21.5e-6/K), the head 120 K and the cylinder 80 K hotter: 0.049 mm that the pins' distance differs by."""
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm", material="356"),
        head=te.FlushHead(material="356"),
        location=te.PinLocation(
            pin=te.LocatingPin(standard="solid", diameter="4 mm"),
            pin_hole_diameter="4.02 mm",
            cylinder_pin_position="0 mm",
            head_pin_position="0 mm",
            pin_distance="57 mm",
        ),
        running=te.Running(crank_speed="9000 rpm", head_rise="120 K", cylinder_rise="80 K"),
    )
    result = te.evaluate(top, ["pin_margin", "pin_margin_hot"])
    assert result.shown("pin_margin") == pytest.approx(0.04)
    assert result.shown("pin_margin_hot") == pytest.approx(0.04 - 57 * 21.5e-6 * 40, abs=1e-9)
    # the other way round it is as much
    turned = top.replace({"running.head_rise": "80 K", "running.cylinder_rise": "120 K"})
    assert te.evaluate(turned, ["pin_margin_hot"]).shown("pin_margin_hot") == pytest.approx(result.shown("pin_margin_hot"), abs=1e-9)
    (found,) = [one for one in te.findings(te.evaluate(top)) if one.code == "pins_over_constrain"]
    assert "along the line through them, hot: solid pins do not enter both parts" in found.message


def test_rocking_against_a_piston_laid_into_its_bore() -> None:
    """A rectangle with a skirt from 12 to 52 mm below the crown, leaned over until its corners touch both walls of a bore 0.06 mm wider."""
    half, clearance = 26.97, 0.06
    found = 0.0
    for lean in np.linspace(0.0, 0.003, 3001):
        # corners of the skirt for this lean, crown's middle at 0: (x across, z down)
        x = np.array([[half, -half], [half, -half]]) * math.cos(lean)
        z = np.array([[12.0, 12.0], [52.0, 52.0]]) * math.sin(lean)
        corners = x - z
        if corners.max() - corners.min() <= 2 * half + clearance:
            # shifted as far as the walls let it
            found = max(found, (half + clearance / 2) - corners.max(), corners.min() + half + clearance / 2, key=abs)
    assert float(location.piston_rocking(skirt_clearance=6e-5, skirt_top=0.012, skirt_length=0.052)) * 1e3 == pytest.approx(found, abs=2e-4)


# --- gaps off centre -------------------------------------------------------------------------------------------------


def located(**changes: Any) -> te.TopEnd:
    """An invented 40 mm engine: recessed head on O-ring, piston 0.3 mm above the deck, two pins drilled through a plate."""
    parts: dict[str, Any] = {
        "crank": te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        "cylinder": te.Cylinder(bore="40 mm H7", studs=te.StudPattern(count=4, circle_diameter="56 mm", diameter="6 mm")),
        "piston": te.Piston(crown=te.SphereCrown(rise="2 mm"), diameter="39.8 mm", rocking="0.05 mm ± 0.02 mm"),
        "head": te.FlushHead(
            recess_offset="1.2 mm",
            recess_diameter="40.5 mm ± 0.02 mm",
            studs=te.StudPattern(count=4, circle_diameter="56 mm", diameter="6.5 mm"),
            band=te.SquishBand(outer_diameter="40.5 mm", inner_diameter="28 mm", angle="8 deg"),
            seal="o-ring",
        ),
        "deck": te.DeckReading(clearance="-0.3 mm"),
        "location": te.PinLocation(
            pin=te.LocatingPin(standard="ISO 8752", diameter="4 mm", length="12 mm"),
            pin_hole_diameter="4.03 mm ± 0.02 mm",
            head_coaxiality="0.01 mm ± 0.01 mm",
            fixture=te.DrillingFixture(
                lip_diameter="39.97 mm ± 0.01 mm",
                head_lip_diameter="40.45 mm ± 0.01 mm",
                bush_diameter="4.02 mm ± 0.01 mm",
                drill_diameter="3.98 mm ± 0.01 mm",
                hole_position="0.03 mm ± 0.01 mm",
                pin_distance="70 mm",
            ),
        ),
    }
    return te.TopEnd(**{name: part for name, part in {**parts, **changes}.items() if part is not None})


@pytest.mark.parametrize("angle", ["8 deg", "0 deg", "-3 deg", "14 deg"])
@pytest.mark.parametrize("crown", [te.SphereCrown(rise="2 mm"), te.FlatCrown(), te.ConeCrown(rise="1 mm")])
def test_the_least_gap_off_centre_against_a_grid(angle: str, crown: Any) -> None:
    """The head set off by its worst, and the gap between crown and band at every place of a fine polar grid around the bore."""
    top = located(location=te.StudLocation(stud_position="0.2 mm", hole_position="0.1 mm")).replace(
        {"piston.crown": crown, "head.band.angle": angle, "head.recess_offset": "2.5 mm"}
    )
    names = ("squish_edge", "squish_edge_low", "squish_edge_high", "squish_min_off_centre", "eccentricity_worst")
    result = te.evaluate(top, names)
    edge, off = result.shown("squish_edge"), result.shown("eccentricity_worst")
    bore = 40.0125 / 2
    radius, turn = np.meshgrid(np.linspace(12.0, bore, 4001), np.linspace(0.0, np.pi, 181))
    from_head = np.abs(radius * np.exp(1j * turn) - off)
    rise = {
        "sphere": lambda r: np.sqrt(((19.9**2 + 4) / 4) ** 2 - r**2) - ((19.9**2 + 4) / 4 - 2.0),
        "flat": lambda r: 0 * r,
        "cone": lambda r: 1 - r / 19.9,
    }
    crown_at = np.where(radius <= 19.9, rise[crown.shape](np.minimum(radius, 19.9)), 0.0)
    slope = math.tan(math.radians(float(angle.split()[0])))
    gap = np.where((from_head >= 14.0) & (from_head <= 20.25), edge + (20.25 - from_head) * slope - crown_at, np.inf)
    assert result.shown("squish_min_off_centre") == pytest.approx(gap.min(), abs=1.5e-3)
    assert result.shown("squish_min_off_centre") <= gap.min() + 1e-9
    # the band at one place of the bore: lower by what the head moved, along its slope
    assert result.shown("squish_edge_low") == pytest.approx(edge - off * abs(slope), abs=1e-12)
    assert result.shown("squish_edge_high") == pytest.approx(edge + off * abs(slope), abs=1e-12)


def test_gaps_around_a_spigot() -> None:
    """By hand: 47.4 in 47.6 mm clears 0.1 mm radially; by a register, 0.04 mm off at worst, it is 0.06 to 0.14; by itself 0 to 0.2."""
    common: dict[str, Any] = {
        "cylinder": te.Cylinder(bore="47.6 mm", register_diameter="60 mm"),
        "head": te.SpigotHead(spigot_diameter="47.4 mm", register_diameter="59.96 mm"),
    }
    by_register = te.RegisterLocation(head_coaxiality="0.02 mm", cylinder_coaxiality="0.02 mm")
    names = ("eccentricity_worst", "spigot_gap_least", "spigot_gap_most")
    result = te.evaluate(te.TopEnd(**common, location=by_register), names)
    assert [result.shown(name) for name in names] == pytest.approx([0.04, 0.06, 0.14])
    result = te.evaluate(te.TopEnd(**common, location=te.SpigotLocation(head_coaxiality="0.02 mm")), names)
    assert [result.shown(name) for name in names] == pytest.approx([0.11, 0.0, 0.2])


# --- limits, columns, draws ------------------------------------------------------------------------------------------

JUDGED = ("eccentricity_worst", "eccentricity_likely", "rotation_worst", "side_room", "pin_margin", "pin_interference")


def test_extremes_against_every_corner_of_the_limits() -> None:
    top = located()
    found = extremes(top, JUDGED)
    limits = {path: ends for path, ends in top.row.limits.items() if not path.startswith("deck.")}
    paths = sorted(limits)
    corners = np.array(list(itertools.product((0.0, 1.0), repeat=len(paths)))).T
    columns: dict[str, Any] = top.row.columns()
    columns |= {
        path: limits[path].low + (limits[path].high - limits[path].low) * corner for path, corner in zip(paths, corners, strict=True)
    }
    # the band is as wide as the recess, so some corners are no top end; their sums are asked for all the same
    made, _ = evaluate_columns(top.row.structure, columns, JUDGED, judge=False)
    for name in JUDGED:
        shown = np.degrees(made[name]) if name.startswith("rotation") else made[name] * 1e3
        assert (found[name].low, found[name].high) == pytest.approx((shown.min(), shown.max()), abs=1e-9), name


def test_a_row_of_many_is_the_single_one() -> None:
    table = te.Study(located()).vary("location.fixture.lip_diameter", ["39.9 mm", "39.96 mm", "39.99 mm"]).run(list(JUDGED))
    for index, size in enumerate(("39.9 mm", "39.96 mm", "39.99 mm")):
        alone = te.evaluate(located().replace({"location.fixture.lip_diameter": size}), JUDGED)
        for name in JUDGED:
            assert table.columns[name][index] == alone.shown(name)


def test_a_sum_by_hand() -> None:
    """A plate with one lip: (40.0125 - 39.97)/2 in the bore, (40.5 - 40.45)/2 in the recess, holes 0.03 across counted twice, a drill with
    0.04 in its bush on both parts, pins without play, and 0.01 of coaxiality."""
    top = located()
    by_hand = 0.02125 + 0.025 + 2 * 0.015 + 0.02 + 0.02 + 0.005
    assert te.evaluate(top, ["eccentricity_worst"]).shown("eccentricity_worst") == pytest.approx(by_hand, abs=1e-12)
    # with lips on both faces the holes cancel, and the lips against each other count instead
    both = top.replace({"location.fixture.lips": "both", "location.fixture.lip_coaxiality": "0.02 mm"})
    assert te.evaluate(both, ["eccentricity_worst"]).shown("eccentricity_worst") == pytest.approx(by_hand - 0.03 + 0.01, abs=1e-12)
    # the head's spigot in a ring of the plate
    spigot = te.SpigotHead(spigot_diameter="39.6 mm", recess_offset="-0.2 mm")
    ring = top.replace({"head": spigot, "deck": te.DeckReading(clearance="1 mm"), "location.fixture.head_ring_diameter": "39.66 mm"})
    assert te.evaluate(ring, ["eccentricity_worst"]).shown("eccentricity_worst") == pytest.approx(by_hand - 0.025 + 0.03, abs=1e-12)


@pytest.mark.parametrize(
    "where",
    [
        located().location,
        te.StudLocation(stud_position="0.2 mm", hole_position="0.1 mm", head_coaxiality="0.01 mm"),
        te.PinLocation(
            pin=te.LocatingPin(standard="solid", diameter="4 mm h6"),
            pin_hole_diameter="4 mm G7",
            slot_length="1 mm",
            cylinder_pin_position="0.1 mm",
            head_pin_position="0.05 mm",
            pin_distance="60 mm",
        ),
    ],
    ids=["plate", "studs", "slot"],
)
def test_draws_agree_with_the_closed_form(where: Any) -> None:
    """At fixed sizes the draws' 95 % are the likely eccentricity; with limits on the sizes they lie about it, and below the worst."""
    top = located(location=where)
    fixed = te.TopEnd(**{**top.given(), "cylinder": top.cylinder and top.cylinder.replace(bore="40.0125 mm")})
    found = te.locate(top, draws=200_000)
    assert found.likely == pytest.approx(te.evaluate(fixed, ["eccentricity_likely"]).shown("eccentricity_likely"), rel=0.06)
    assert found.eccentricities.max() <= found.worst
    assert found.worst == extremes(top, ["eccentricity_worst"])["eccentricity_worst"].high
    assert math.fsum(link.share for link in found.links) == pytest.approx(1.0)
    # the same seed gives the same draws, another seed others
    assert (drawn_eccentricity(top, draws=1000, seed=5) == drawn_eccentricity(top, draws=1000, seed=5)).all()
    assert (drawn_eccentricity(top, draws=1000, seed=5) != drawn_eccentricity(top, draws=1000, seed=6)).all()


def test_draws_at_fixed_sizes_are_exact() -> None:
    exact = {
        "cylinder": te.Cylinder(bore="47 mm"),
        "head": te.SpigotHead(spigot_diameter="46.8 mm"),
        "location": te.SpigotLocation(head_coaxiality="0.1 mm"),
    }
    found = te.locate(te.TopEnd(**exact), draws=400_000)
    # two discs, 0.1 and 0.05 mm
    assert within([0.1, 0.05], found.likely) == pytest.approx(0.95, abs=0.002)
    assert found.share_beyond(found.likely) == pytest.approx(0.05, abs=1e-4)
    assert [link.radius for link in found.links] == pytest.approx([0.1, 0.05])


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"draws": 0}, "draws must be a whole number from 1; got 0"),
        ({"draws": 1e5}, "got 100000.0"),
        ({"seed": -1}, "seed must be a whole number from 0; got -1"),
    ],
)
def test_draws_are_counted(given: Any, told: str) -> None:
    for function in (te.locate, drawn_eccentricity):
        with pytest.raises(te.ArgumentError, match=told):
            function(located(), **{"draws": 100, **given})


def test_what_a_location_needs_is_said() -> None:
    with pytest.raises(te.MissingInputError, match="eccentricity_worst cannot be had: it needs location"):
        te.locate(located(location=None))
    with pytest.raises(te.MissingInputError, match=r"it needs cylinder\.register_diameter, head\.register_diameter"):
        te.locate(located(location=te.RegisterLocation()))
    with pytest.raises(te.MissingInputError, match=r"pin_margin cannot be had: it needs location\.pin\.diameter"):
        te.evaluate(located(location=te.StudLocation()), ["pin_margin"])


def test_what_nobody_stated_is_assumed_with_its_limits() -> None:
    top = located(location=te.StudLocation())
    assumed = {one.path: one for one in te.evaluate(top, ["eccentricity_worst"]).assumed}
    assert assumed["location.stud_position"].why == "studs not measured: off by 0.2 mm, 0 to 0.4 mm, from memory"
    assert extremes(top, ["eccentricity_worst"])["eccentricity_worst"].high == pytest.approx(0.25 + 0.2 + 0.1 + 0.01)


def test_a_pin_knows_its_free_diameter() -> None:
    """ISO 8752 (second-hand, reference page): 2 mm 2.3 to 2.4, 3 mm 3.3 to 3.5, 4 mm 4.4 to 4.6, 5 mm 5.4 to 5.6."""
    for nominal, ends in {"2 mm": (2.3, 2.4), "3 mm": (3.3, 3.5), "4 mm": (4.4, 4.6), "5 mm": (5.4, 5.6)}.items():
        free = te.LocatingPin(standard="ISO 8752", diameter=nominal).free
        assert (free.low * 1e3, free.high * 1e3) == pytest.approx(ends)
    solid = te.LocatingPin(standard="solid", diameter="4 mm h6")
    assert solid.free.high == pytest.approx(4e-3)
    with pytest.raises(te.PartError, match=r"diameter 4\.2 mm is no size of ISO 13337 in the table, which has 2, 2\.5, 3, 4, 5, 6, 8 mm"):
        te.LocatingPin(standard="ISO 13337", diameter="4.2 mm")
    assert te.LocatingPin(standard="ISO 13337", diameter="4.2 mm", free_diameter="4.6 mm").free.low == pytest.approx(4.6e-3)


@given(size=st.floats(0.5, 2.0), play=st.floats(1e-6, 1e-3))
def test_lengths_scale(size: float, play: float) -> None:
    chain = [(DISC, play), (PAIR, 0.3 * play), (MIRROR, 0.1 * play)]
    once, scaled = (float(location.likely_eccentricity(**sums([(acts, factor * r) for acts, r in chain]))) for factor in (1.0, size))
    assert scaled == pytest.approx(size * once, rel=1e-9)
    assert once < math.fsum(acts.worst * radius for acts, radius in chain)


@given(radii=st.lists(st.floats(1e-4, 1.0), min_size=1, max_size=6), more=st.floats(0.01, 1.0))
def test_a_further_link_never_centres(radii: list[float], more: float) -> None:
    chain = [(DISC, radius) for radius in radii]
    before, after = (float(location.likely_eccentricity(**sums(links))) for links in (chain, [*chain, (DISC, more)]))
    assert after >= before * (1 - 1e-12)


# --- hot -------------------------------------------------------------------------------------------------------------

#: Mean expansions [1/K] of sheets: grey iron 20 to 200 °C, 356 20 to 100 °C (docs/closing.md), steel.
IRON, A356, STEEL = 11.4e-6, 21.5e-6, 11.75e-6
RISES = te.Running(crank_speed="9000 rpm", head_rise="120 K", cylinder_rise="90 K", stud_rise="60 K")


def shrunk(bore: float, spigot: float, barrel: float, head: float = A356) -> float:
    """Radial play of a fit that has grown, by hand."""
    return (bore * (1 + barrel * 90) - spigot * (1 + head * 120)) / 2


@pytest.mark.parametrize(("barrel", "expansion"), [("grey iron", IRON), ("356", A356)])
@pytest.mark.parametrize("spigot", [47.2, 47.55])
def test_a_spigot_grows_in_its_bore(barrel: str, expansion: float, spigot: float) -> None:
    """An aluminium head in an iron barrel: its spigot outgrows the bore, and centres it the better until it binds."""
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="47.6 mm", material=barrel),
        head=te.SpigotHead(spigot_diameter=f"{spigot} mm", material="356"),
        location=te.SpigotLocation(head_coaxiality="0.02 mm"),
        running=RISES,
    )
    made = te.evaluate(top, ["eccentricity_worst", "eccentricity_worst_hot", "spigot_clearance_hot"])
    play = shrunk(47.6, spigot, expansion)
    assert made.shown("eccentricity_worst") == pytest.approx((47.6 - spigot) / 2 + 0.01)
    assert made.shown("eccentricity_worst_hot") == pytest.approx(max(play, 0.0) + 0.01, abs=1e-9)
    assert made.shown("spigot_clearance_hot") == pytest.approx(2 * play, abs=1e-9)


def test_a_register_round_an_iron_barrel_opens() -> None:
    """The other way round, a head over the cylinder's register: stated as one in the other, the hotter barrel gives more room."""
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm", register_diameter="58.02 mm", material="356"),
        head=te.FlushHead(register_diameter="58 mm", material="grey iron"),
        location=te.RegisterLocation(cylinder_coaxiality="0.04 mm", head_coaxiality="0.02 mm"),
        running=RISES,
    )
    made = te.evaluate(top, ["eccentricity_worst_hot", "eccentricity_likely_hot"])
    play = shrunk(58.02, 58.0, A356, IRON)
    assert play > 0.01
    assert made.shown("eccentricity_worst_hot") == pytest.approx(play + 0.02 + 0.01, abs=1e-9)
    generator = np.random.default_rng(3)
    off = sum(point(generator, radius, 200_000) for radius in (play, 0.02, 0.01))
    assert made.shown("eccentricity_likely_hot") == pytest.approx(float(np.quantile(np.abs(off), 0.95)), rel=0.015)


def test_stud_holes_grow_with_the_head_and_studs_less() -> None:
    top = located(location=te.StudLocation(stud_position="0 mm", hole_position="0 mm", head_coaxiality="0 mm"), running=RISES)
    top = top.replace({"head.material": "356"})
    made = te.evaluate(top, ["eccentricity_worst_hot"]).shown("eccentricity_worst_hot")
    assert made == pytest.approx((6.5 * (1 + A356 * 120) - 6.0 * (1 + STEEL * 60)) / 2, abs=1e-9)


@pytest.mark.parametrize("slot", [None, "0.3 mm"])
def test_a_slot_lets_the_head_s_axis_move_with_heat(slot: str | None) -> None:
    """57 mm between the pins, iron barrel: what the head outgrows it by two round pins share, and past a slot the axis moves by half."""
    where = te.PinLocation(
        pin=te.LocatingPin(standard="solid", diameter="4 mm"), pin_hole_diameter="4.04 mm", slot_length=slot, pin_distance="57 mm",
        cylinder_pin_position="0.02 mm", head_pin_position="0.02 mm", head_coaxiality="0.01 mm",
    )  # fmt: skip
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm", material="grey iron"), head=te.FlushHead(material="356"), location=where, running=RISES
    )
    cold, hot, likely, likely_hot = (
        te.evaluate(top, [name]).shown(name)
        for name in ("eccentricity_worst", "eccentricity_worst_hot", "eccentricity_likely", "eccentricity_likely_hot")
    )
    moves = 57 * (A356 * 120 - IRON * 90) / 2 if slot else 0.0
    # placed by coordinates: the first pin at -28.5 in both parts cold, hot at -28.5 (1 + α ΔT), the parts laid together there
    middle = abs(-28.5 * (1 + IRON * 90) + 28.5 * (1 + A356 * 120)) if slot else 0.0
    assert moves == pytest.approx(middle)
    assert hot == pytest.approx(cold + moves, abs=1e-9)
    generator, acts = np.random.default_rng(4), SLOT if slot else PAIR
    links = [(acts, 0.02), (acts, 0.02), (acts, 0.01), (acts, 0.01), (DISC, 0.005)]
    off = np.abs(moves + sum(shifted(generator, act, radius, 200_000) for act, radius in links))
    # at least 95 of 100 stay within it
    assert float(np.quantile(off, 0.95)) <= likely_hot * 1.005 == pytest.approx((likely + moves) * 1.005)
    assert float(np.mean(off <= likely_hot)) < 0.995


def test_what_is_not_known_hot_is_said() -> None:
    """Rises of the parts that the fit is of are asked for; the side room takes what is known, and lists it."""
    top = located(
        location=te.RegisterLocation(cylinder_coaxiality="0.04 mm", head_coaxiality="0.02 mm"),
        running=te.Running(crank_speed="9000 rpm", head_rise="100 K", piston_rise="180 K"),
    )
    top = top.replace({"cylinder.register_diameter": "58.02 mm", "head.register_diameter": "58 mm"})
    with pytest.raises(te.MissingInputError, match=r"eccentricity_worst_hot cannot be had: it needs running\.cylinder_rise"):
        te.evaluate(top, ["eccentricity_worst_hot"])
    made = te.evaluate(top, ["side_room_hot"])
    assert "growth of what locates the head not known: off centre as cold" in [one.why for one in made.assumed]
    known = te.evaluate(top.replace({"running.cylinder_rise": "90 K"}), ["side_room_hot", "eccentricity_worst_hot", "eccentricity_worst"])
    assert not [one for one in known.assumed if "off centre as cold" in one.why]
    moved = known.shown("eccentricity_worst_hot") - known.shown("eccentricity_worst")
    assert moved != 0.0
    assert made.shown("side_room_hot") - known.shown("side_room_hot") == pytest.approx(moved, abs=1e-9)
