"""Fits of ISO 286: the table against the formulas it is rounded from, against figures in print, and as fields take them."""

from __future__ import annotations

import math
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend import iso_286
from topend.iso_286 import STEPS, FitCodeError, deviations, standard_tolerance
from topend.units import KINDS, parse


def middle(step: int) -> float:
    """Geometric mean of a step of sizes [mm] over 3 mm. Up to 3 mm the table goes its own way: round numbers up to 2 µm off."""
    return math.sqrt(STEPS[step - 1] * STEPS[step])


OVER_3 = list(enumerate(STEPS))[1:]


@pytest.mark.parametrize("grade", [5, 6, 7, 8, 9, 10, 11, 12, 13, 14])
def test_tolerances_are_the_formula_rounded(grade: int) -> None:
    """ISO 286-1: i = 0.45 D^(1/3) + 0.001 D [µm]; grades 5 to 14 are 7, 10, 16, 25, 40, 64, 100, 160, 250, 400 times it (the formula as in
    handbooks, from memory). Printed are whole micrometres, and from 100 µm up tens."""
    times = {5: 7, 6: 10, 7: 16, 8: 25, 9: 40, 10: 64, 11: 100, 12: 160, 13: 250, 14: 400}[grade]
    for step, upper in OVER_3:
        exact = times * (0.45 * middle(step) ** (1 / 3) + 0.001 * middle(step))
        assert abs(standard_tolerance(upper, grade) - exact) <= max(0.7, 0.045 * exact), (upper, exact)


@pytest.mark.parametrize(
    ("letter", "factor", "power"), [("d", 16.0, 0.44), ("e", 11.0, 0.41), ("f", 5.5, 0.41), ("g", 2.5, 0.34), ("n", 5.0, 0.34)]
)
def test_deviations_are_the_formulas_rounded(letter: str, factor: float, power: float) -> None:
    """ISO 286-1, fundamental deviations: d 16 D^0.44, e 11 D^0.41, f 5.5 D^0.41, g 2.5 D^0.34, n 5 D^0.34 [µm], from memory."""
    for step, upper in OVER_3:
        got = min(abs(end) for end in deviations(upper, f"{letter}7"))
        assert abs(got - factor * middle(step) ** power) <= max(0.8, 0.02 * got), (upper, got)


def test_m_and_p_follow_from_the_grades() -> None:
    """ISO 286-1: m lies IT7 - IT6 above the nominal size, p by IT7 and 0 to 5 µm more (from memory)."""
    for _, upper in OVER_3:
        assert deviations(upper, "m6")[0] == standard_tolerance(upper, 7) - standard_tolerance(upper, 6)
        assert 0 <= deviations(upper, "p6")[0] - standard_tolerance(upper, 7) <= 5


def test_figures_in_print() -> None:
    """Reference page, seen: 47 H7 is + 25 µm, 47 H7/g6 clears 9 to 50 µm, 47 H7/f7 25 to 75. The rest is from memory of tables."""
    assert deviations(47, "H7") == (0, 25)
    for pair, ends in {"H7/g6": (0.009, 0.050), "H7/f7": (0.025, 0.075), "H7/p6": (-0.042, -0.001), "H7/k6": (-0.018, 0.023)}.items():
        assert tuple(end.m_as("mm") for end in te.iso_clearance("47 mm", pair)) == pytest.approx(ends, abs=1e-12)
    for code, ends in {"K7": (-18, 7), "N7": (-33, -8), "P7": (-42, -17), "M7": (-25, 0), "N9": (-62, 0), "F8": (25, 64)}.items():
        assert deviations(40, code) == ends
    assert deviations(3, "P7") == (-16, -6)
    assert deviations(2, "N9") == (-29, -4)


@given(size=st.floats(0.5, 180), letter=st.sampled_from([one for one in iso_286.SHAFTS if one != "js"]), grade=st.integers(5, 11))
def test_a_zone_is_as_wide_as_its_grade_and_holes_mirror_shafts(size: float, letter: str, grade: int) -> None:
    low, high = deviations(size, f"{letter}{grade}")
    assert high - low == standard_tolerance(size, grade)
    if letter in "defgh":
        assert deviations(size, f"{letter.upper()}{grade}") == (-high, -low)
    # a wider grade is wider, and a greater size never narrower
    assert standard_tolerance(size, grade + 1) > standard_tolerance(size, grade)
    assert standard_tolerance(min(180.0, 1.3 * size), grade) >= standard_tolerance(size, grade)


def test_a_size_belongs_to_the_step_that_ends_with_it() -> None:
    assert standard_tolerance(50, 7) == 25
    assert standard_tolerance(50.001, 7) == 30


def test_a_field_takes_a_fit() -> None:
    bore = te.Cylinder(bore="47.6 mm H7").bore
    assert bore is not None
    assert bore.text == "47.6125 mm ± 0.0125 mm"
    assert bore == te.iso_fit("47.6 mm", "H7") == te.iso_fit("4.76 cm", "H7")
    # it survives text and back, and its limits are what uncertainty counts
    assert te.Cylinder.model_validate_json(te.Cylinder(bore=bore).model_dump_json()).bore == bore
    assert bore.u is not None
    assert bore.u.m_as("mm") == pytest.approx(0.0125 / math.sqrt(3))
    assert parse("47.6 mm g6", KINDS["length"]).stated_limits is not None


@given(size=st.decimals(1, 179, places=2), code=st.sampled_from(["H7", "g6", "P7", "js6", "JS7", "f7", "N9", "e8"]))
def test_a_fit_survives_text_and_back(size: object, code: str) -> None:
    made = te.iso_fit(f"{size} mm", code)
    assert parse(made.text, KINDS["length"]) == made
    low, high = deviations(float(str(size)), code)
    assert made.stated_limits is not None
    assert (made.stated_limits.low, made.stated_limits.high) == pytest.approx(
        (float(str(size)) + low / 1e3, float(str(size)) + high / 1e3), abs=1e-9
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("47.6 mm z9", "'z9' is not a fit in the table: a hole is one of D, E, F, G, H, JS, K, M, N, P and its grade, such as H7"),
        ("200 mm H7", "the table of fits holds for sizes up to 180 mm; got 200 mm"),
        ("47 mm H3", "the table of fits has the grades 4 to 14; got 3"),
        ("47 mm K9", "K9 is not in the table: K is there from grade 5 up, K to grade 8"),
        ("0 mm H7", "got 0 mm"),
    ],
)
def test_a_fit_that_is_not_there_is_told(text: str, told: str) -> None:
    with pytest.raises(te.PartError, match=re.escape(told)) as caught:
        te.Cylinder(bore=text)
    assert str(caught.value).startswith(f"Cylinder: bore needs a length, such as \"47.6 mm H7\"; got '{text}': ")
    number, _, code = text.split()
    with pytest.raises(te.PartError, match=re.escape(told)):
        te.iso_fit(f"{number} mm", code)


def test_what_is_no_fit_of_a_size_is_told() -> None:
    with pytest.raises(te.PartError, match=r"iso_fit: nominal has limits of its own, '47 mm ± 0\.1 mm'; a fit gives them"):
        te.iso_fit("47 mm ± 0.1 mm", "H7")
    for pair in ("g6/H7", "H7", "H7-g6"):
        with pytest.raises(te.PartError, match='pair must be a hole and a shaft, such as "H7/g6"'):
            te.iso_clearance("47 mm", pair)
    with pytest.raises(FitCodeError, match="M4 is not in the table: M is there from grade 5 up"):
        deviations(40, "M4")
    # a fit is a length in mm and nothing else
    for text in ("47.6 in H7", "9 deg H7"):
        with pytest.raises(te.PartError):
            te.SquishBand(outer_diameter=text, angle=text)
