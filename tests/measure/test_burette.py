"""Volumes by burette and by weight: tables of the standards, water, and every refusal word for word."""

from __future__ import annotations

import math

import pytest

import topend as te
from topend.measure.burette import Burette, Weighing, thread_void
from topend.measure.grades import ASTM_E287, ISO_385, permissible_error
from topend.measure.water import air_density, volume_from_mass, water_density

BASE = {"setup": "plate", "plug": "fitted", "fillings": [["0.00 ml", "6.40 ml"]] * 3, "nominal": "25 ml", "division": "0.05 ml"}


def refused(cls, **fields) -> str:
    with pytest.raises(te.PartError) as caught:
        cls(**fields)
    return str(caught.value)


# --- published tables ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("nominal", "division", "a", "b"),
    [
        (10, 0.02, 0.02, 0.05),
        (10, 0.05, 0.03, 0.05),
        (25, 0.05, 0.03, 0.05),
        (25, 0.1, 0.05, 0.10),
        (50, 0.1, 0.05, 0.10),
        (100, 0.2, 0.10, 0.20),
        (5, 0.01, 0.01, 0.02),
    ],
)
def test_iso_385(nominal, division, a, b) -> None:
    """ISO 385:2005, permissible errors of burettes (second-hand: an open data set and a national identical standard)."""
    for grade, limit in (("A", a), ("AS", a), ("B", b)):
        assert permissible_error(nominal=nominal, division=division, grade=grade, standard="ISO 385") == limit
    assert len(ISO_385) == 7


def test_astm_e287() -> None:
    """ASTM E287: a 25 ml class A burette is within 0.03 ml, class B twice A."""
    assert permissible_error(nominal=25, division=0.1, grade="A", standard="ASTM E287") == 0.03
    assert all(b == pytest.approx(2 * a) for a, b in ASTM_E287.values())


@pytest.mark.parametrize(("celsius", "density"), [(15, 999.1026), (20, 998.2067), (25, 997.0470), (30, 995.6488)])
def test_water(celsius, density) -> None:
    """M. Tanaka et al., Metrologia 38 (2001) 301, table 1."""
    assert water_density(celsius) == pytest.approx(density, abs=0.00005)


def test_water_outside_its_domain_is_nan() -> None:
    assert math.isnan(water_density(-1.0))
    assert math.isnan(water_density(41.0))


def test_volume_from_mass() -> None:
    """The form of ISO 4787: 10.0000 g at 25 degC, 1013.25 hPa, 50 %, borosilicate glass: 10.0395 ml (computed)."""
    air = air_density(celsius=25.0, pressure=101325.0, humidity=0.5)
    assert 1e6 * volume_from_mass(mass=0.010, celsius=25.0, air=air, glass=9.9e-6) == pytest.approx(10.0395, abs=0.00005)
    # the balance's air, by hand: 9.9e-6 x 5 K is the glass term, which a tabled factor for a pipette leaves out
    assert 1e6 * volume_from_mass(mass=0.010, celsius=25.0, air=air) == pytest.approx(10.0395 * (1 + 5 * 9.9e-6), abs=0.00006)


def test_thread_of_a_plug_hole() -> None:
    """M14 x 1.25 over 19 mm: 2.38677, 2.59543, 2.92482 cm³ at the minor, pitch and major diameter (computed with a profile height of
    0.866 of the pitch, where √3/2 is exact)."""
    found = [1e6 * one for one in thread_void(major=0.014, pitch=0.00125, reach=0.019)]
    assert found == pytest.approx([2.38677, 2.59543, 2.92482], abs=3e-5)


def test_fill_hole_of_a_plate() -> None:
    """8 mm through 2 mm is itself 0.1005 ml."""
    whole = te.measure.burette(**BASE)
    less = te.measure.burette(**BASE, plate_hole_diameter="8 mm", plate_thickness="2 mm")
    assert whole.value - less.value == pytest.approx(0.1005, abs=0.00005)


# --- what a burette promises -----------------------------------------------------------------------------------------


def test_the_limit_is_not_proportional_and_counts_for_every_refill() -> None:
    def scale(fillings) -> float:
        made = te.measure.burette(**{**BASE, "fillings": fillings}, grade="A", standard="ISO 385")
        return next(term.u for term in made.budget if term.name == "scale of the burette")

    once = scale([["0.00 ml", "6.40 ml"]])
    assert once == pytest.approx(0.03 / math.sqrt(3), rel=1e-3)
    assert scale([["0.00 ml", "24.00 ml"]]) == pytest.approx(once, rel=1e-3)
    assert scale([["0.00 ml", "24.00 ml", "0.00 ml", "8.00 ml"]]) == pytest.approx(2 * once, rel=1e-3)


def test_no_spread_is_not_no_uncertainty() -> None:
    made = te.measure.burette(**BASE, grade="A", standard="ISO 385")
    assert made.u > 0.015
    assert any("division" in term.name for term in made.budget)


def test_one_filling_is_understood_with_an_assumed_spread() -> None:
    made = te.measure.burette(**{**BASE, "fillings": [["0.00 ml", "6.40 ml"]]}, grade="A", standard="ISO 385")
    assert made.notes[0] == "fill: one reading shows no spread; one that is usual for it is assumed. Read it three times"
    assert made.u > te.measure.burette(**BASE, grade="A", standard="ISO 385").u


def test_a_burette_without_a_class_is_one_division() -> None:
    made = te.measure.burette(**BASE)
    assert "no class and no permissible error: one division, ± 0.05 ml, is assumed" in made.notes


def test_dark_liquid_is_read_less_surely_and_warm_glass_counts() -> None:
    clear, dark = (te.measure.burette(**BASE, meniscus=meniscus).u for meniscus in ("clear", "dark"))
    assert dark > clear
    # the liquid of a cold burette grows in a warm head: petrol 9.5e-4/K (seen)
    cold = te.measure.burette(**BASE, liquid="petrol", temperature="10 degC", part_temperature="30 degC")
    assert cold.value == pytest.approx(6.40 * (1 - 10 * 9.9e-6) * (1 + 20 * 9.5e-4), rel=1e-9)
    # a can from outside in a burette that stood in the room: the glass by its own temperature, with its own limits
    room = {"temperature": "10 degC", "part_temperature": "30 degC", "glass_temperature": "25 degC ± 2 degC"}
    apart = te.measure.burette(**BASE, liquid="petrol", **room)
    assert apart.value == pytest.approx(6.40 * (1 + 5 * 9.9e-6) * (1 + 20 * 9.5e-4), rel=1e-9)
    glass = next(share for share in apart.budget if share.name == "temperature of the glass")
    # in cc: 2/√3 K of glass that grows 9.9e-6 a kelvin
    assert glass.u == pytest.approx(2 / math.sqrt(3) * 9.9e-6 * 6.40 * (1 + 20 * 9.5e-4), rel=1e-9)


def test_crown_from_a_piston_down_the_bore() -> None:
    made = te.measure.burette(
        setup="crown", bore="54 mm", depth="5 mm", fillings=[["0.0 ml", "9.1567 ml"]], nominal="25 ml", division="0.1 ml"
    )
    # spherical cap a = 27, h = 2: 2.2944098347 cm³
    assert made.of == "crown_volume"
    assert made.value == pytest.approx(math.pi / 4 * 5.4**2 * 0.5 - 9.1567, rel=1e-9)
    assert made.value == pytest.approx(2.2944, abs=0.0001)


def test_assembled_with_the_thread_that_the_plug_fills_and_with_an_insert() -> None:
    common = {"setup": "assembled", "plug": "out", "fillings": [["0.0 ml", "8.4 ml"]], "nominal": "25 ml", "division": "0.1 ml"}
    threaded = te.measure.burette(**common, thread="M14x1.25", reach="19 mm")
    assert threaded.of == "assembled.volume"
    assert threaded.value == pytest.approx(8.4 - 2.5954, abs=0.0001)
    # an insert of 2 cc in the plug's place, as in a karting rule (volume from memory)
    assert te.measure.burette(**common, insert_volume="2 cc").value == pytest.approx(6.4)


def test_one_burette_reads_head_and_piston_and_its_scale_is_one_error() -> None:
    head = te.measure.burette(**BASE, grade="A", standard="ISO 385")
    crown = te.measure.burette(**{**BASE, "setup": "crown", "plug": None, "bore": "40 mm", "depth": "8 mm"}, grade="A", standard="ISO 385")
    from topend.measure.reconcile import covariance

    spread = covariance([head, crown])
    # what one scale gives too much to both takes from the crown: the covariance is minus the square of its u
    assert spread[0, 1] == pytest.approx(-((0.03e-6 / math.sqrt(3)) ** 2), rel=1e-3)
    other = te.measure.burette(**BASE, grade="A", standard="ISO 385", burette_name="the other")
    assert covariance([head, other])[0, 1] == 0.0


def test_by_mass() -> None:
    made = te.measure.weighing(setup="plate", plug="fitted", temperature="20 degC", fillings=[["112.40 g", "106.00 g"]] * 3)
    air = air_density(celsius=20.0)
    assert made.value == pytest.approx(6.40 / (0.9982067 - air / 1000) * (1 - air / 8000), rel=1e-6)
    oil = te.measure.weighing(setup="plate", plug="fitted", density=870.0, fillings=[["112.40 g", "106.00 g"]] * 3)
    assert oil.value > made.value


def test_by_mass_what_a_glass_vessel_holds_at_20_degrees() -> None:
    """The form of ISO 4787: 10.0000 g at 25 degC, 1013.25 hPa, 50 %, borosilicate glass: 10.0395 ml (computed)."""
    made = te.measure.weighing(
        setup="plate",
        plug="fitted",
        of="clearance_volume",
        temperature="25 degC",
        pressure="1013.25 hPa",
        glass="borosilicate",
        fillings=[["112.0000 g", "102.0000 g"]] * 3,
    )
    assert made.value == pytest.approx(10.0395, abs=0.00005)


# --- refusals, whole -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"grade": "A", "division": "0.1 ml"},
            "Burette: standard is missing: class A means nothing without its standard (a 25 ml class A is, by ISO 385: 0.03 or 0.05 ml; "
            'ASTM E287: 0.03 ml); give standard = "ISO 385" or "ASTM E287"',
        ),
        (
            {"grade": "A", "standard": "ISO 385", "division": "0.02 ml"},
            "Burette: division is 0.02 ml, but ISO 385 has 25 ml burettes with 0.05 ml or 0.1 ml only; read it off the glass "
            "again, or state "
            "permissible_error",
        ),
        (
            {"grade": "A", "standard": "ISO 385", "nominal": "30 ml"},
            "Burette: nominal is 30 ml; ISO 385 has 5, 10, 25, 50, 100 ml here. State permissible_error instead",
        ),
        (
            {"grade": "AS", "standard": "ASTM E287", "division": "0.1 ml"},
            "Burette: grade is AS, which ASTM E287 does not have; its classes are A and B",
        ),
        (
            {"fillings": [["6.40 ml", "0.00 ml"]]},
            "Burette: fillings.0 goes from 6.40 ml to 0.00 ml, in the wrong order: a burette is read from the top down, so the "
            "end is the greater",
        ),
        (
            {"fillings": [["0.00 ml", "6.40 ml"], ["6.40 ml"]]},
            "Burette: fillings.1 has 1 reading(s); each delivery takes two, start and end, and a refill two more",
        ),
        ({"fillings": []}, "Burette: fillings is empty; give at least one reading"),
        ({"fillings": [["0.00 ml", "26.00 ml"]]}, "Burette: fillings.0 reads 26.00 ml, beyond the 25 ml of the burette"),
        ({"plug": None}, "Burette: plug is missing: say whether the plug was fitted, or out and its hole filled to the top edge"),
        (
            {"plug": "out"},
            "Burette: thread_void is missing: with the plug out, the thread that it will fill was filled too. Give thread and reach, or "
            "thread_void, or the insert_volume of an insert in its place",
        ),
        (
            {"plug": "out", "thread": "14 mm", "reach": "19 mm"},
            "Burette: thread is '14 mm'; it is written as diameter and pitch in mm, such as \"M14x1.25\"",
        ),
        (
            {"setup": "assembled"},
            "Burette: plug is fitted, but an assembled engine is filled through the plug hole: it is out",
        ),
        ({"setup": "crown"}, "Burette: bore is missing: a crown's volume is bore area x depth less what was filled"),
        (
            {"plate_hole_diameter": "8 mm"},
            "Burette: plate_thickness is missing: the hole's volume needs its diameter and the plate's thickness",
        ),
        ({"fillings": [[0.0, 6.4]]}, None),
        ({"grade": "C"}, None),
    ],
)
def test_burettes_that_are_refused(changes, message) -> None:
    said = refused(Burette, **{**BASE, **changes})
    if message is not None:
        assert said == message
    else:
        assert said.startswith("Burette: ")


def test_a_vessel_that_grew_heavier_is_refused() -> None:
    said = refused(Weighing, setup="plate", plug="fitted", fillings=[["106.00 g", "112.40 g"]])
    wrong = "Weighing: fillings.0 goes from 106.00 g to 112.40 g, in the wrong order"
    assert said == f"{wrong}: the vessel grows lighter, so the end is the less"
