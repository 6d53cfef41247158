"""Units at the door: the grammar, its limits, every refusal word for word, and quantities that stay as they were stated."""

from __future__ import annotations

import copy
import json
import math
import pickle
import re
from fractions import Fraction as F
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topend as te
from topend import units
from topend.units import KINDS, Limits, StatedQuantity, StatedValueError, from_si, parse, quantity, registry, to_si

LENGTH = KINDS["length"]
LENGTHS = "Units: mm, cm, m, um, µm, in, thou"


# --- what may be written ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("47.6 mm", 47.6),
        ("47.6  mm", 47.6),
        (" 47.6 mm ", 47.6),
        ("4.76 cm", 47.6),
        ("0.0476 m", 47.6),
        ("500 um", 0.5),
        ("500 µm", 0.5),
        ("1 in", 25.4),
        ("20 thou", 0.508),
        ("-1.0 mm", -1.0),
        ("+1 mm", 1.0),
        (".5 mm", 0.5),
        ("5. mm", 5.0),
        ("4.76e1 mm", 47.6),
        ("47.6\tmm", 47.6),
    ],
)
def test_lengths_that_may_be_written(text: str, mm: float) -> None:
    """1 in = 25.4 mm exactly, 1 thou = 0.001 in (international yard and pound agreement, 1959)."""
    assert parse(text, LENGTH).m_as("mm") == pytest.approx(mm, rel=1e-14)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("0.50 mm ± 0.03 mm", 0.47, 0.53),
        ("0.50 mm ± 0.03", 0.47, 0.53),
        ("0.50 mm ±0.03 mm", 0.47, 0.53),
        ("0.50 mm +/- 0.03 mm", 0.47, 0.53),
        ("0.50 mm +0.02/-0.00 mm", 0.50, 0.52),
        ("0.50 mm +0.02/-0.00", 0.50, 0.52),
        ("0.50 mm +0/-0.085 mm", 0.415, 0.50),
        ("0.50 mm +0.02 / −0.01 mm", 0.49, 0.52),
        ("0.5 mm ± 1 thou", 0.4746, 0.5254),
        ("0.5 mm ± 30 um", 0.47, 0.53),
    ],
)
def test_limits_that_may_be_written(text: str, low: float, high: float) -> None:
    made = parse(text, LENGTH)
    assert made.limits is not None
    assert [end.m_as("mm") for end in made.limits] == pytest.approx([low, high], rel=1e-12)
    # JCGM 100:2008, 4.3.7: rectangular, half-width / √3; the value itself stays the stated one
    assert made.u is not None
    assert made.u.m_as("mm") == pytest.approx((high - low) / 2 / math.sqrt(3), rel=1e-9)
    assert made.m_as("mm") == 0.5


def test_other_kinds() -> None:
    assert te.Running(crank_speed="11500 rpm").crank_speed.m_as("rad/s") == pytest.approx(11500 * 2 * math.pi / 60, rel=1e-15)
    assert te.Running(crank_speed="100 rad/s").crank_speed.si == 100.0
    for text in ("6.4 cc", "6.4 ml", "6.4 cm3", "6.4 cm³", "6400 mm3", "6400 mm³"):
        assert te.FlushHead(chamber_volume=text).chamber_volume.si == pytest.approx(6.4e-6, rel=1e-15)
    for text in ("9 deg", "9 °", f"{math.radians(9)!r} rad"):
        assert te.SquishBand(angle=text).angle.si == pytest.approx(math.radians(9), rel=1e-15)


def test_every_unit_agrees_with_pint() -> None:
    for kind in KINDS.values():
        assert units.kind_of_unit(kind.shown) is kind
        for unit in kind.units:
            # a unit of several kinds is of the one that is shown in it
            assert unit in units.kind_of_unit(unit).units
            assert quantity(1.0, unit).to_base_units().magnitude == pytest.approx(to_si(1.0, unit), rel=1e-12)


@given(value=st.floats(-1e6, 1e6), unit=st.sampled_from(sorted({unit for kind in KINDS.values() for unit in kind.units})))
def test_si_and_back(value: float, unit: str) -> None:
    # a scale with another zero loses what is small beside 273.15
    least = 1e-12 if unit in ("degC", "°C") else 1e-300
    assert from_si(to_si(value, unit), unit) == pytest.approx(value, rel=1e-14, abs=least)
    # scalar and array go the same way to the bit
    assert to_si(np.array([value]), unit)[0] == to_si(value, unit)
    assert from_si(np.array([value]), unit)[0] == from_si(value, unit)


def test_degrees_and_minutes_are_not_decimals() -> None:
    angle = KINDS["angle"]
    for text, degrees in (("88 deg 30 min", 88.5), ("88° 30'", 88.5), ("-1 deg 15 min", -1.25), ("0 deg 0.6 min", 0.01)):
        assert units.parse(text, angle).m_as("deg") == pytest.approx(degrees, rel=1e-14)
        assert units.parse(units.parse(text, angle).text, angle) == units.parse(text, angle)
    for text in ("88 deg 30 min ± 15 min", "88 deg 30 min +/- 0.25 deg"):
        assert [end.m_as("deg") for end in units.parse(text, angle).limits or ()] == [88.25, 88.75]
    for text in ("88 deg 60 min", "88 deg 30", "88:30", "88 deg 30 min -1 min", "88 mm 30 min"):
        with pytest.raises(units.StatedValueError) as caught:
            units.parse(text, angle)
    with pytest.raises(units.StatedValueError) as caught:
        units.parse("88 deg 75 min", angle)
    assert str(caught.value) == (
        'needs an angle, such as "9 deg"; got \'88 deg 75 min\'. Degrees and minutes are written "88 deg 30 min", minutes under 60; '
        "88.30 deg is 88 deg 18 min. Units: deg, °, rad"
    )


def test_a_width_on_a_temperature_scale_is_no_temperature() -> None:
    warm = units.parse("25 degC ± 2 °C", KINDS["temperature"])
    assert warm.si == 298.15
    assert [end.m_as("degC") for end in warm.limits or ()] == [23.0, 27.0]
    assert warm.u is not None
    assert warm.u.m_as("kelvin") == pytest.approx(2 / math.sqrt(3))


# --- every refusal, whole ---------------------------------------------------------------------------------------------------


def message(call: Any) -> str:
    with pytest.raises(te.PartError) as caught:
        call()
    assert isinstance(caught.value, ValueError)
    assert isinstance(caught.value, te.TopendError)
    return str(caught.value)


def other_registry_mm() -> Any:
    return pint.UnitRegistry(cache_folder=None).Quantity(47.6, "mm")


BAD_BORE = [
    (47.6, "the bare number 47.6", "47.6", ""),
    (47, "the bare number 47", "47", ""),
    (np.float64(47.6), "the bare number 47.6", "47.6", ""),
    (np.float32(47.5), "the bare number 47.5", "47.5", ""),
    (np.int64(47), "the bare number 47", "47", ""),
    ("47.6", "'47.6', a number without a unit", "47.6", ""),
    ("47,6 mm", "'47,6 mm'", "47.6", "Decimals are written with a point, not a comma."),
    ("1,047.6 mm", "'1,047.6 mm'", "1047.6", "Thousands are written without a sign between them, decimals with a point."),
    ("1.047,6 mm", "'1.047,6 mm'", "1047.6", "Thousands are written without a sign between them, decimals with a point."),
    ("47.6mm", "'47.6mm'", "47.6", "A space goes between number and unit."),
    ("47.6 MM", "'47.6 MM'", "47.6", "The unit is written 'mm'; capitals count."),
    ("54 mm 3", "'54 mm 3'", "47.6", 'Limits follow as "± 0.03 mm" or "+0.02/-0.00 mm".'),
    ("54 mm ± x", "'54 mm ± x'", "47.6", 'Limits follow as "± 0.03 mm" or "+0.02/-0.00 mm".'),
    ("54 mm ± -0.1 mm", "'54 mm ± -0.1 mm'", "47.6", 'Limits follow as "± 0.03 mm" or "+0.02/-0.00 mm".'),
    ("47.6 furlong", "'47.6 furlong'; 'furlong' is not one of its units", "47.6", ""),
    ("47.6 %", "'47.6 %', which is a share", "47.6", ""),
    ("47.6 cc", "'47.6 cc', which is a volume", "47.6", ""),
    ("47.6 deg", "'47.6 deg', which is an angle", "47.6", ""),
    ("47.6 mm ± 1 deg", "'47.6 mm ± 1 deg', which is an angle", "47.6", ""),
    ("47.6 mm ± 1 %", "'47.6 mm ± 1 %'", "47.6 mm ± 0.476", "Limits are in the unit of the value, not in per cent of it."),
    ("nan mm", "'nan mm', which is not a finite number", "47.6", ""),
    ("inf mm", "'inf mm', which is not a finite number", "47.6", ""),
    ("1e999 mm", "'1e999 mm', which is not a finite number", "47.6", ""),
    ("1 mm ± 1e999 mm", "'1 mm ± 1e999 mm', whose limits are not finite", "47.6", ""),
    (math.nan, "the bare number nan", "47.6", ""),
    (math.inf, "the bare number inf", "47.6", ""),
    ("", "an empty text", "47.6", ""),
    ("   ", "an empty text", "47.6", ""),
    ("wide", "'wide'", "47.6", ""),
    ("٤٧ mm", "'٤٧ mm'", "47", "Digits are the plain 0 to 9."),
    ("４７．６ mm", "'４７．６ mm'", "47.6", "Digits are the plain 0 to 9."),
    (True, "True", "47.6", ""),
    (np.True_, "True", "47.6", ""),
    (b"47.6 mm", "bytes \"b'47.6 mm'\"", "47.6", ""),
    ([47.6], "a list, [47.6]", "47.6", "One value goes here, without brackets."),
    ({"value": 1}, "a table, {'value': 1}", "47.6", "A value is one text, of number and unit."),
    (np.array([1.0, 2.0]), "ndarray '[1. 2.]'", "47.6", ""),
    (registry.Quantity(6.4, "cc"), "6.4 cc, which is a volume", "47.6", ""),
    (registry.Quantity(50, "percent"), "50 %, which is a share", "47.6", ""),
    (registry.Quantity(2, "furlong"), "2 fur; 'fur' is not one of its units", "47.6", ""),
    (registry.Quantity(math.nan, "mm"), "nan mm, which is not a finite number", "47.6", ""),
    (registry.Quantity(1j, "mm"), "1j mm", "47.6", ""),
    (registry.Quantity(np.array([1.0, 2.0]), "mm"), "an array of shape (2,)", "47.6", "A part holds one value; a Study takes arrays."),
]


@pytest.mark.parametrize(("value", "got", "number", "hint"), BAD_BORE, ids=[repr(case[0])[:30] for case in BAD_BORE])
def test_a_bore_that_is_no_length(value: object, got: str, number: str, hint: str) -> None:
    told = message(lambda: te.Cylinder(bore=value))
    ending = f". {hint} {LENGTHS}" if hint else f". {LENGTHS}"
    assert told == f'Cylinder: bore needs a length, such as "{number} mm"; got {got}{ending}'


def test_a_quantity_of_another_registry() -> None:
    assert message(lambda: te.Cylinder(bore=other_registry_mm())) == (
        f'Cylinder: bore needs a length, such as "47.6 mm"; got 47.6 millimeter, a quantity of another registry. '
        f"Make it with topend.units.registry. {LENGTHS}"
    )


def test_a_speed_with_a_comma_between_thousands() -> None:
    # "10.500 rpm" in the example would be followed, and is ten and a half turns a minute
    told = message(lambda: te.Running(crank_speed="10,500 rpm"))
    assert told.startswith(
        "Running: crank_speed needs a crank speed, such as \"10500 rpm\"; got '10,500 rpm'. Thousands are written without"
    )
    assert 'such as "10.5 rpm"' in message(lambda: te.Running(crank_speed="10,5 rpm"))


def test_a_speed_in_hertz() -> None:
    """Hertz would convert to rpm by 2π in pint: the unit's name counts, not only its dimension."""
    assert message(lambda: te.Running(crank_speed="190 Hz")) == (
        "Running: crank_speed needs a crank speed, such as \"11400 rpm\"; got '190 Hz'. A turn a second is 60 rpm. Units: rpm, rad/s"
    )
    told = message(lambda: te.Running(crank_speed=registry.Quantity(100, "hertz")))
    assert told == (
        "Running: crank_speed needs a crank speed, such as \"11500 rpm\"; got 100 Hz; 'Hz' is not one of its units. Units: rpm, rad/s"
    )


@pytest.mark.parametrize("value", ["5 %", "0.1", "0.1 mm/m"])
def test_an_angle_is_no_number(value: str) -> None:
    told = message(lambda: te.SquishBand(angle=value))
    assert told.startswith("SquishBand: angle needs an angle, such as ")
    assert told.endswith(". Units: deg, °, rad")
    with pytest.raises(te.PartError):
        te.SquishBand(angle=registry.Quantity(0.1, "dimensionless"))


@pytest.mark.parametrize(
    ("build", "told"),
    [
        (lambda: te.Gasket(role="head", thickness="-0.3 mm"), "Gasket: thickness must be more than 0 mm; got '-0.3 mm'"),
        (lambda: te.Gasket(role="head", thickness="0 mm"), "Gasket: thickness must be more than 0 mm; got '0 mm'"),
        (
            lambda: te.Gasket(role="head", thickness="0.1 mm ± 0.2 mm"),
            "Gasket: thickness must be more than 0 mm; got '0.1 mm ± 0.2 mm' with its limits",
        ),
        (
            lambda: te.DeckReading(clearance="1 mm", base_thickness="-1 um"),
            "DeckReading: base_thickness must be at least 0 mm; got '-1 um'",
        ),
        (lambda: te.SquishBand(angle="81 deg"), "SquishBand: angle must be at least -80 deg and at most 80 deg; got '81 deg'"),
        (lambda: te.SquishBand(angle="-1.5 rad"), "SquishBand: angle must be at least -80 deg and at most 80 deg; got '-1.5 rad'"),
        (lambda: te.Running(crank_speed="0 rpm"), "Running: crank_speed must be more than 0 rpm; got '0 rpm'"),
        (lambda: te.FlushHead(chamber_volume="-6 cc"), "FlushHead: chamber_volume must be more than 0 cc; got '-6 cc'"),
        (
            lambda: te.DeckReading(clearance="1 mm", at="halfway"),
            "DeckReading: at must be edge, centre, or a length, such as \"12 mm\"; got 'halfway'. " + LENGTHS,
        ),
        (
            lambda: te.DeckReading(clearance="1 mm", at="-2 mm"),
            "DeckReading: at must be edge, centre, or a length, which must be at least 0 mm; got '-2 mm'",
        ),
        (
            lambda: te.DeckReading(clearance="1 mm", at="Middle"),
            "DeckReading: at must be edge, centre, or a length; got 'Middle'; nearest: centre",
        ),
    ],
)
def test_out_of_range(build: Any, told: str) -> None:
    assert message(build) == told


def test_a_very_long_text_is_cut_in_the_message() -> None:
    told = message(lambda: te.Cylinder(bore="4" * 5000 + " mm"))
    assert len(told) < 700
    assert "..." in told


@given(text=st.text(max_size=40))
def test_no_text_crashes_the_parser(text: str) -> None:
    try:
        made = parse(text, LENGTH)
    except units.StatedValueError as error:
        assert str(error).endswith(LENGTHS)  # noqa: PT017
    else:
        assert math.isfinite(made.m_as("mm"))
        assert re.search("mm|cm|m|um|µm|in|thou", text)


@given(text=st.from_regex(r"[+-]?[0-9]{1,4}([.,][0-9]{0,3})? ?(mm|MM|cc|in|%)( ?(±|\+|\+/-) ?[0-9.]{1,5}( ?mm)?(/-0.1)?)?", fullmatch=True))
def test_what_is_taken_is_what_is_written(text: str) -> None:
    try:
        made = parse(text, LENGTH)
    except units.StatedValueError:
        return
    # never read otherwise than a person would: the leading number in the unit beside it
    found = re.match(r"\s*([+-]?[\d.]+) +(mm|in)", text)
    assert found is not None
    assert made.m_as(found[2]) == float(found[1])


# --- a stated quantity stays what it is ---------------------------------------------------------------------------------------

spans = st.one_of(st.none(), st.floats(0.0, 10.0), st.decimals(0, 10, places=4).map(float))


@st.composite
def stated(draw: st.DrawFn) -> StatedQuantity:
    unit = draw(st.sampled_from(LENGTH.units))
    number = draw(
        st.one_of(
            st.decimals(-1000, 1000, places=3).map(str),
            st.floats(-1e12, 1e12).map(repr),
            st.floats(allow_nan=False, allow_infinity=False).map(repr),
        )
    )
    form = draw(st.sampled_from(["", "both", "pair"]))
    text = f"{number} {unit}"
    wide = st.one_of(st.decimals(0, 10, places=4).map(str), st.floats(0, 1e6).map(repr))
    if form == "both":
        text += f" ± {draw(wide)} {draw(st.sampled_from(LENGTH.units))}"
    elif form == "pair":
        text += f" +{draw(wide)}/-{draw(wide)} {unit}"
    return parse(text, LENGTH)


@given(made=stated())
def test_text_and_back(made: StatedQuantity) -> None:
    again = parse(made.text, LENGTH)
    assert again == made
    assert again.stated_limits == made.stated_limits
    assert again.si == made.si
    assert again.stated_unit == made.stated_unit
    assert hash(again) == hash(made)


@given(made=stated())
def test_json_and_back(made: StatedQuantity) -> None:
    reading = te.DeckReading(clearance=made)
    assert te.DeckReading.model_validate_json(reading.model_dump_json()) == reading
    assert te.DeckReading.model_validate(json.loads(json.dumps(reading.model_dump(mode="json")))) == reading
    assert te.DeckReading.model_validate(reading.model_dump()) == reading


def test_equality_counts_limits() -> None:
    plain, close = parse("0.50 mm", LENGTH), parse("0.50 mm ± 0.03 mm", LENGTH)
    assert plain == parse("0.5 mm", LENGTH)
    assert plain != close
    assert close == parse("0.50 mm ± 30 um", LENGTH)
    assert close != parse("0.50 mm ± 0.02 mm", LENGTH)
    assert plain == registry.Quantity(0.5, "mm")
    assert registry.Quantity(0.5, "mm") == plain
    assert close != registry.Quantity(0.5, "mm")
    assert registry.Quantity(0.5, "mm") != close
    assert parse("1 in", LENGTH) == parse("25.4 mm", LENGTH)
    assert te.Gasket(role="head", thickness="0.3 mm") != te.Gasket(role="head", thickness="0.3 mm ± 0.01 mm")


IN_PLACE = {
    "ito": lambda q: q.ito("m"),
    "ito_base_units": lambda q: q.ito_base_units(),
    "ito_root_units": lambda q: q.ito_root_units(),
    "ito_reduced_units": lambda q: q.ito_reduced_units(),
    "+=": lambda q: q.__iadd__(q),
    "-=": lambda q: q.__isub__(q),
    "*=": lambda q: q.__imul__(2),
    "/=": lambda q: q.__itruediv__(2),
    "//=": lambda q: q.__ifloordiv__(2),
    "%=": lambda q: q.__imod__(q),
    "**=": lambda q: q.__ipow__(2),
    "attribute": lambda q: setattr(q, "_magnitude", 3.0),
    "new attribute": lambda q: setattr(q, "note", "x"),
    "del": lambda q: delattr(q, "_magnitude"),
    "item": lambda q: q.__setitem__(0, 3.0),
}


@pytest.mark.parametrize("how", IN_PLACE)
def test_in_place_refuses(how: str) -> None:
    part = te.Crank(stroke="39.30 mm ± 0.02 mm")
    before = part.stroke.text
    with pytest.raises(TypeError) as caught:
        IN_PLACE[how](part.stroke)
    assert str(caught.value) == "39.30 mm ± 0.02 mm belongs to a part and cannot be changed in place; use .plain() for a copy of your own"
    assert part.stroke.text == before
    assert part.stroke.si == to_si(39.3, "mm")


def test_in_place_on_a_name_does_not_reach_the_part() -> None:
    part = te.Crank(stroke="39.3 mm")
    mine = part.stroke.plain()
    mine.ito("m")
    mine *= 2
    assert part.stroke.m_as("mm") == 39.3


def test_using_it_leaves_it_alone() -> None:
    """What pint caches in a quantity on first use must not be taken for a change."""
    q = te.Crank(stroke="39.3 mm ± 0.1 mm").stroke
    before = q.text
    for use in (
        lambda: q.dimensionality,
        lambda: q.to("in"),
        lambda: q.to_base_units(),
        lambda: q.check("[length]"),
        lambda: q.is_compatible_with("m"),
        lambda: str(q),
        lambda: repr(q),
        lambda: f"{q:.2f~P}",
        lambda: q.units,
        lambda: q.unitless,
        lambda: q > registry.Quantity(1, "mm"),
        lambda: q.to_compact(),
        lambda: q.to_reduced_units(),
        lambda: np.sqrt(q),
        lambda: np.asarray(q.m),
        lambda: sum([q, q], start=0 * q),
        lambda: max(q, q),
        lambda: hash(q),
        lambda: bool(q),
        lambda: round(q, 1),
        lambda: -q,
        lambda: abs(q),
        lambda: q**2,
        lambda: 1 / q,
    ):
        use()
    assert q.text == before


@pytest.mark.parametrize(
    "do",
    [
        lambda q: q + q,
        lambda q: q - q,
        lambda q: q * 2,
        lambda q: 2 * q,
        lambda q: q / 2,
        lambda q: q**2,
        lambda q: -q,
        lambda q: +q,
        lambda q: abs(q),
        lambda q: q.to("in"),
        lambda q: q.to("mm"),
        lambda q: q.to_base_units(),
        lambda q: round(q, 1),
        lambda q: q.plain(),
        lambda q: q + registry.Quantity(1, "mm"),
        lambda q: registry.Quantity(1, "mm") + q,
        lambda q: np.add(q, q),
        lambda q: q % q,
        lambda q: q.to_compact(),
        lambda q: q.to_reduced_units(),
        lambda q: q.to_root_units(),
    ],
)
def test_arithmetic_drops_limits(do: Any) -> None:
    made = do(parse("0.50 mm ± 0.03 mm", LENGTH))
    assert not isinstance(made, StatedQuantity)
    assert isinstance(made, te.Quantity)
    assert not hasattr(made, "limits")


def test_pickle_and_copies() -> None:
    q = parse("0.50 mm +0.02/-0.01 mm", LENGTH)
    for made in (pickle.loads(pickle.dumps(q)), copy.copy(q), copy.deepcopy(q)):
        assert isinstance(made, StatedQuantity)
        assert made == q
        assert made.text == q.text
        assert made.si_limits == q.si_limits
        assert made.decimals == q.decimals
        with pytest.raises(TypeError):
            made.ito("m")


def test_resolution_is_half_the_last_decimal() -> None:
    assert parse("0.50 mm", LENGTH).si_resolution == pytest.approx(0.005e-3)
    assert parse("39 mm", LENGTH).si_resolution == pytest.approx(0.5e-3)
    assert parse("3.93e1 mm", LENGTH).si_resolution == pytest.approx(0.05e-3)
    assert units.stated(registry.Quantity(0.5, "mm"), LENGTH).si_resolution is None


def test_text_keeps_the_digits_that_were_written() -> None:
    for text in ("0.50 mm", "11500 rpm", "47.60 mm", "1.0e-3 mm"):
        kind = LENGTH if text.endswith("mm") else KINDS["crank speed"]
        assert parse(text, kind).text == text.replace("1.0e-3", "0.0010")


def test_without_limits_there_is_no_u() -> None:
    q = parse("0.5 mm", LENGTH)
    assert q.limits is None
    assert q.u is None
    assert q.si_limits is None
    assert parse("0.5 mm ± 0 mm", LENGTH).stated_limits == Limits(0.5, 0.5)


def test_pint_quantities_come_in_with_their_unit() -> None:
    assert te.Crank(stroke=registry.Quantity(39.3, "mm")).stroke.text == "39.3 mm"
    assert te.Crank(stroke=te.Crank(stroke="39.3 mm ± 0.1 mm").stroke).stroke.limits is not None
    assert te.FlushHead(chamber_volume=registry.Quantity(6.4, "cm**3")).chamber_volume.text == "6.4 cm3"
    assert te.FlushHead(chamber_volume=registry.Quantity(6.4, "cc")).chamber_volume.text == "6.4 cc"
    assert te.Crank(stroke=registry.Quantity(np.array(39.3), "mm")).stroke.m == 39.3


# --- JSON Schema --------------------------------------------------------------------------------------------------------------


def definitions(schema: dict[str, Any]) -> dict[str, Any]:
    return {**schema.get("$defs", {}), "": {name: value for name, value in schema.items() if name != "$defs"}}


@pytest.mark.parametrize("mode", ["validation", "serialization"])
def test_json_schema(mode: Any) -> None:
    schema = te.TopEnd.model_json_schema(mode=mode)
    text = json.dumps(schema)  # it is JSON
    defs = definitions(schema)
    assert {"Crank", "Cylinder", "Gasket", "SpigotHead", "DeckReading", ""} <= set(defs)
    # every reference leads somewhere
    for target in re.findall(r'"\$ref": "([^"]*)"', text):
        assert target.startswith("#/$defs/")
        assert target.removeprefix("#/$defs/") in defs
    stroke = defs["Crank"]["properties"]["stroke"]
    assert stroke["type"] == "string"
    assert stroke["x-kind"] == "length"
    assert stroke["x-units"] == list(LENGTH.units)
    assert stroke["x-range"] == "more than 0 mm"
    assert stroke["description"] == "Twice the throw of the crank."
    for example in stroke["examples"]:
        assert te.Crank(stroke=example)
        assert re.search(stroke["pattern"], example)
    assert defs["Crank"]["additionalProperties"] is False
    assert defs["Crank"]["properties"]["offset"]["default"] == "0 mm"
    if mode == "validation":
        assert defs["Crank"]["required"] == ["stroke"]
    at = defs["DeckReading"]["properties"]["at"]
    assert at["anyOf"][0] == {"enum": ["edge", "centre"]}


@given(made=stated())
def test_json_pattern_takes_what_we_write(made: StatedQuantity) -> None:
    assert re.search(units.JSON_PATTERN, made.text)


@pytest.mark.parametrize("text", ["47.6", "47,6 mm", "mm", "47.6mm", ""])
def test_json_pattern_refuses_the_plainest_mistakes(text: str) -> None:
    assert not re.search(units.JSON_PATTERN, text)


@pytest.mark.parametrize(
    ("written", "value", "limits"),
    [
        ("0.12 ± 0.02", 0.12, (0.10, 0.14)),
        ("0.12", 0.12, None),
        ("0.12 +0.04/-0.02", 0.12, (0.10, 0.16)),
        ("4.75 –", 4.75, None),
        (4, 4.0, None),
        (0.5, 0.5, None),
    ],
)
def test_a_ratio_is_a_plain_number(written: object, value: float, limits: tuple[float, float] | None) -> None:
    made = units.stated(written, KINDS["ratio"])
    assert made.si == value
    found = made.si_limits
    assert (None if found is None else (found.low, found.high)) == (limits if limits is None else pytest.approx(limits))
    assert parse(made.text, KINDS["ratio"]) == made


@pytest.mark.parametrize(("written", "told"), [("0,12", "with a point, not a comma"), ("0.12 mm", "which is a length"), (True, "got True")])
def test_what_is_no_ratio(written: object, told: str) -> None:
    with pytest.raises(units.StatedValueError, match=told):
        units.stated(written, KINDS["ratio"])


# --- ways to write a size that mean more than one thing --------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind", "example", "hint"),
    [
        ("0.4-0.5 mm", "length", "0.45 mm ± 0.05 mm", "A range is written as its middle and its limits."),
        ("0.4 mm to 0.5 mm", "length", "0.45 mm ± 0.05 mm", "A range is written as its middle and its limits."),
        ("0.4 – 0.5 mm", "length", "0.45 mm ± 0.05 mm", "A range is written as its middle and its limits."),
        ("0.015..0.020 in", "length", "0.0175 in ± 0.0025 in", "A range is written as its middle and its limits."),
        ("88-90 deg", "angle", "89 deg ± 1 deg", "A range is written as its middle and its limits."),
        ("1/2 mm", "length", "0.5 mm", "Fractions are written as decimals, but for those of an inch."),
        ("1-1/2 mm", "length", "1.5 mm", "Fractions are written as decimals, but for those of an inch."),
        ("1/3 in", "length", "0.333333 in", "Fractions are written as decimals, but for those of an inch."),
        ("1/2 deg", "angle", "0.5 deg", "Fractions are written as decimals."),
        ("0.5±0.03 mm", "length", "0.5 mm ± 0.03 mm", "The unit follows the value; its limits come after that."),
        ("0.5 +/- 0.03 mm", "length", "0.5 mm ± 0.03 mm", "The unit follows the value; its limits come after that."),
        ("0.5 +0.02/-0.01 mm", "length", "0.5 mm +0.02/-0.01 mm", "The unit follows the value; its limits come after that."),
        ("0.5 mm +- 0.03", "length", "0.5 mm ± 0.03 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("0.5 mm + / - 0.03", "length", "0.5 mm ± 0.03 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("0.5 mm -0.01/+0.02", "length", "0.5 mm +0.02/-0.01 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("0.5 mm +0.02 -0.01", "length", "0.5 mm +0.02/-0.01 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("0.5 mm +0.02", "length", "0.5 mm +0.02/-0 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("0. 5 mm", "length", "0.5 mm", "A number is written without spaces in it."),
        ("11 500 rpm", "crank speed", "11500 rpm", "A number is written without spaces in it."),
        ("- 1.0 mm", "length", "-1.0 mm", "A number is written without spaces in it."),
        ("–1.0 mm", "length", "-1.0 mm", "A minus is written '-'."),
        ("Ø47.6 mm", "length", "47.6 mm", "The field says what the number is: no sign before it."),
        ("~0.5 mm", "length", "0.5 mm", "A value is one number; how far off it may be is said by limits."),
        ("max. 0.5 mm", "length", "0.5 mm", "A value is one number; how far off it may be is said by limits."),
        ("O.5 mm", "length", "0.5 mm", "There is a letter among the digits."),
        ("47.6 (mm)", "length", "47.6 mm", "Nothing stands around number and unit but their limits."),
        ("47.6 mm.", "length", "47.6 mm", "Nothing stands around number and unit but their limits."),
        ("mm 47.6", "length", "47.6 mm", "The number goes first, then the unit."),
        ("1,5 in", "length", "1.5 in", "Decimals are written with a point, not a comma."),
        ("0.5 in, ", "length", "0.5 in", "Nothing stands around number and unit but their limits."),
        ('1.5 "', "length", "1.5 in", "Inches are written 'in'."),
        ('1.5"', "length", "1.5 in", "Inches are written 'in'."),
        *(
            (text, "length", "1.65 mm", "Words are left out; which way a size goes its sign says (docs/datum-and-signs.md).")
            for text in ("1.65 mm below deck", "1.65 below the deck", "1.65 mm deep", "1.65 mm dia")
        ),
        ("47.6 mm(±0.1)", "length", "47.6 mm ± 0.1 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("0.5 (+0.02/-0.01) mm", "length", "0.5 mm +0.02/-0.01 mm", "The unit follows the value; its limits come after that."),
        ("47.6 mm +0.1/0", "length", "47.6 mm +0.1/-0 mm", "Limits follow as ± or as +upper/-lower, with + before -."),
        ("47.6 mm ± 5%", "length", "47.6 mm ± 2.38 mm", "Limits are in the unit of the value, not in per cent of it."),
        ("between 0.5 and 0.6 mm", "length", "0.55 mm ± 0.05 mm", "A range is written as its middle and its limits."),
        ('1 7/8"', "length", "1 7/8 in", "Inches are written 'in'."),
        ("12 lb/ft", "torque", "12 ft·lbf", "A torque is a length times a force."),
        ("40 bars", "pressure", "40 bar", "The unit is written 'bar'."),
        ("6.4 c.c.", "volume", "6.4 cc", "The unit is written 'cc'."),
        ("M6", "length", "6 mm", "A thread is given by its diameter."),
        ("M14x1.25", "length", "14 mm", "A thread is given by its diameter, its pitch of 1.25 mm in a field of its own."),
        ("30 min", "angle", "0 deg 30 min", "Minutes follow whole degrees."),
        ("30'", "angle", "0 deg 30 min", "Minutes follow whole degrees."),
        ("11500 RPM", "crank speed", "11500 rpm", "The unit is written 'rpm'; capitals count."),
        ("11.5 krpm", "crank speed", "11500 rpm", "A thousand turns a minute are 1000 rpm."),
        ("1.2 kgm", "torque", "1.2 kgf·m", "A kilogram is a mass; as the force of one it is written kgf·m."),
        ("12 kg-cm", "torque", "12 kgf·cm", "A kilogram is a mass; as the force of one it is written kgf·cm."),
        ("10 kg/cm2", "pressure", "9.80665 bar", "A kilogram-force per cm² is 0.980665 bar, or 0.0980665 N/mm²."),
        ("0.0064 l", "volume", "6.4 cc", "A litre is 1000 cc."),
        ("68 °F", "temperature", "20 degC", "Fahrenheit is turned into degC."),
        ("293.15 K", "temperature", "20 degC", "0 degC is 273.15 K."),
    ],
)
def test_what_is_written_otherwise_is_told_how_it_is_written(text: str, kind: str, example: str, hint: str) -> None:
    with pytest.raises(StatedValueError) as caught:
        parse(text, KINDS[kind])
    said = f'needs {KINDS[kind].phrase}, such as "{example}"; got {text!r}. {hint} Units: {", ".join(KINDS[kind].units)}'
    assert str(caught.value) == said
    # what is advised can be written, and means what was meant
    meant = parse(example, KINDS[kind])
    assert meant.stated_limits is None or "range" in hint or "limits" in hint.lower()


@pytest.mark.parametrize("text", ["0.5-0.4 mm", "3/0 mm", "19.0-0.1 mm", "88-90 deg", "1/2 deg", "1/0 in"])
def test_what_is_no_range_and_no_fraction_of_a_length_gets_no_such_advice(text: str) -> None:
    with pytest.raises(StatedValueError) as caught:
        parse(text, KINDS["length"])
    assert "is written as its middle" not in str(caught.value)
    assert "Fractions" not in str(caught.value)


def test_a_limit_below_alone_may_be_a_range_the_wrong_way_round() -> None:
    for text in ("19.0 -0.1 mm", "19.0 mm -0.1"):
        with pytest.raises(StatedValueError, match=r'\. A limit on one side is written "19.0 mm \+0/-0.1 mm"\. Units: '):
            parse(text, LENGTH)


@pytest.mark.parametrize("kind", sorted(KINDS))
@pytest.mark.parametrize("piece", ["a", "1", "1 ", "a ", "°", "1/", "1-", "(", "O", "1.", "mm", "±1", "below "])
def test_a_long_text_is_told_at_once(kind: str, piece: str) -> None:
    """What goes on and on and then breaks off: a pattern that tries every way to take it would never be done."""
    for text in (f"0{piece * 190}"[:199], f"0{piece * 190}"[:190] + "±", f"{piece * 190}"[:190] + " mm!"):
        with pytest.raises(StatedValueError):
            parse(text, KINDS[kind])


def test_what_is_not_known_is_left_out() -> None:
    for text in ("?", "n/a", "unknown", "-", "TBD"):
        with pytest.raises(StatedValueError, match=r"\. What is not known is left out\. Units: "):
            parse(text, LENGTH)


def test_a_number_that_is_of_another_unit_is_not_shown_in_ours() -> None:
    # 11,5 thousand turns a minute are not 11.5 rpm, and a share of a half is not half a per cent
    with pytest.raises(StatedValueError, match="such as \"11500 rpm\"; got '11,5 krpm'"):
        parse("11,5 krpm", KINDS["crank speed"])
    with pytest.raises(StatedValueError, match=r"such as \"50 %\"; got '0\.5', a number without a unit\. The whole is 100 %"):
        parse("0.5", KINDS["share"])


def test_a_mil_is_two_things() -> None:
    with pytest.raises(StatedValueError, match="A mil is a thousandth of an inch to some and a millimetre to others: write thou or mm"):
        parse("20 mil", LENGTH)


def test_degrees_celsius_where_kelvins_are_wanted_may_be_a_rise_or_a_temperature() -> None:
    with pytest.raises(StatedValueError, match=r"A rise of 90 °C is 90 K; a temperature of 90 °C is 363.15 K\."):
        parse("90 °C", KINDS["temperature in kelvin"])


@pytest.mark.parametrize(
    ("text", "kind", "si", "kept"),
    [
        # 1 in = 25.4 mm, 1 lb = 0.453 592 37 kg (1959), standard gravity 9.806 65 m/s² (3rd CGPM, 1901): all by definition.
        # 1 ft·lbf = 1.355 818 N·m, 1 in·lbf = 0.112 984 8 N·m, 1 psi = 6.894 757 kPa, 1 in³ = 16.387 06 cm³:
        # NIST SP 811 (2008), appendix B.8
        ("12 ft·lbf", "torque", 12 * 1.355818, "12 ft·lbf"),
        ("12 ft*lbf", "torque", 12 * 1.355818, "12 ft·lbf"),
        ("12 ft-lb", "torque", 12 * 1.355818, "12 ft·lbf"),
        ("12 lb-ft", "torque", 12 * 1.355818, "12 ft·lbf"),
        ("12 lbf ft ± 1 ft lb", "torque", 12 * 1.355818, "12 ft·lbf ± 1 ft·lbf"),
        ("106 in-lb", "torque", 106 * 0.1129848, "106 in·lbf"),
        ("106 in·lbf", "torque", 106 * 0.1129848, "106 in·lbf"),
        ("1.2 kgf*m", "torque", 1.2 * 9.80665, "1.2 kgf·m"),
        ("120 kgf·cm", "torque", 1.2 * 9.80665, "120 kgf·cm"),
        ("12 N m", "torque", 12.0, "12 N·m"),
        ("12 N*m", "torque", 12.0, "12 N·m"),
        ("12 Nm", "torque", 12.0, "12 Nm"),
        ("640 MPa", "strength", 640e6, "640 MPa"),
        ("640 N/mm^2", "strength", 640e6, "640 N/mm²"),
        ("207000 N/mm²", "modulus", 207e9, "207000 N/mm²"),
        ("120 mm^2", "area", 120e-6, "120 mm²"),
        ("1.2 cm2", "area", 120e-6, "1.2 cm²"),
        ("6.4 cm^3", "volume", 6.4e-6, "6.4 cm³"),
        ("6.4 mL", "volume", 6.4e-6, "6.4 ml"),
        ("6.4 ccm", "volume", 6.4e-6, "6.4 cc"),
        ("0.4 cu in", "volume", 0.4 * 16.38706e-6, "0.4 in³"),
        ("120 psi", "pressure", 120 * 6894.757, "120 psi"),
        ("900 kPa", "pressure", 9e5, "900 kPa"),
        ("1013 mbar", "air pressure", 101300.0, "1013 mbar"),
        ("1/16 in", "length", 1.5875e-3, "0.0625 in"),
        ("1 1/2 in", "length", 38.1e-3, "1.5 in"),
        ("1-1/2 inches", "length", 38.1e-3, "1.5 in"),
        ("1⁄64 in ± 0.5 thou", "length", 0.396875e-3, "0.015625 in ± 0.0005 in"),
        ("½ in", "length", 12.7e-3, "0.5 in"),
        ("1½ in", "length", 38.1e-3, "1.5 in"),
        ("12 foot pounds", "torque", 12 * 1.355818, "12 ft·lbf"),
        ("-1/32 in", "length", -0.79375e-3, "-0.03125 in"),
        ("20 thou", "length", 0.508e-3, "20 thou"),
        ("500 μm", "length", 0.5e-3, "500 µm"),
        ("500 microns", "length", 0.5e-3, "500 µm"),
        ("−1.0 mm", "length", -1e-3, "-1.0 mm"),
        ("47.6\N{NO-BREAK SPACE}mm", "length", 47.6e-3, "47.6 mm"),
        ("9°", "angle", math.radians(9), "9 °"),
        ("9° ± 0.5°", "angle", math.radians(9), "9 ° ± 0.5 °"),
        ("9 degrees", "angle", math.radians(9), "9 deg"),
        ("11500 r/min", "crank speed", 11500 * math.pi / 30, "11500 rpm"),
        ("11500 1/min", "crank speed", 11500 * math.pi / 30, "11500 rpm"),
        ("11500 min⁻¹", "crank speed", 11500 * math.pi / 30, "11500 rpm"),
        ("20 C", "temperature", 293.15, "20 °C"),
        ("20 deg C", "temperature", 293.15, "20 degC"),
        ("2.7 g/cc", "density", 2700.0, "2.7 g/cm³"),
        ("19.4 ppm/K", "expansion", 19.4e-6, "19.4 µm/m/K"),
        ("200 N/µm", "stiffness", 200e6, "200 N/µm"),
    ],
)
def test_spellings_of_the_trade(text: str, kind: str, si: float, kept: str) -> None:
    made = parse(text, KINDS[kind])
    assert made.si == pytest.approx(si, rel=5e-7)
    assert made.text == kept
    assert parse(kept, KINDS[kind]) == made
    assert re.search(units.JSON_PATTERN, text)


def test_no_spelling_is_of_two_kinds_that_differ() -> None:
    """A spelling names one unit; that unit is known, and is no spelling of another."""
    from topend.units.kinds import SPELLINGS, UNITS

    for spelling, unit in SPELLINGS.items():
        assert unit in UNITS
        assert spelling not in UNITS
        assert any(kind.unit(spelling) == unit for kind in KINDS.values())


def test_a_fraction_says_nothing_of_decimals() -> None:
    assert parse("1/16 in", LENGTH).si_resolution is None


def test_a_pint_quantity_in_a_unit_that_several_kinds_take() -> None:
    for kind, si in (("strength", 640e6), ("pressure", 640e6), ("modulus", 640e6)):
        assert units.stated(registry.Quantity(640, "MPa"), KINDS[kind]).si == si
    assert units.stated(registry.Quantity(12, "ft*lbf"), KINDS["torque"]).text == "12 ft·lbf"


def test_center_is_told_the_spelling() -> None:
    with pytest.raises(te.PartError, match=r"^DeckReading: at must be edge, centre, or a length; got 'center'; nearest: centre$"):
        te.DeckReading(clearance="1 mm", at="center")


@pytest.mark.parametrize(
    ("part", "fields", "example"),
    [
        ("Crank", {"stroke": "x"}, "39.3 mm"),
        ("Gasket", {"role": "base", "thickness": "x"}, "0.50 mm"),
        ("DeckReading", {"clearance": "x"}, "1.65 mm"),
        ("SpigotHead", {"recess_offset": "x"}, "-1.0 mm"),
        ("SphereCrown", {"rise": "x"}, "2.2 mm"),
        ("Cylinder", {"bore": "x"}, "47.6 mm"),
        ("Port", {"kind": "exhaust", "top": "x"}, "22.3 mm"),
    ],
)
def test_an_error_shows_an_example_that_fits_the_field(part: str, fields: dict[str, str], example: str) -> None:
    with pytest.raises(te.PartError) as caught:
        getattr(te, part)(**fields)
    assert f"needs a length, such as \"{example}\"; got 'x'" in str(caught.value)
    # and one that the field takes
    name = next(name for name, value in fields.items() if value == "x")
    getattr(te, part)(**{**fields, name: example})


def test_an_example_made_of_what_came_is_kept() -> None:
    with pytest.raises(te.PartError, match='stroke needs a length, such as "39 mm"; got the bare number 39'):
        te.Crank(stroke=39)


def test_a_ratio_of_pint_has_no_unit() -> None:
    plain = units.stated(registry.Quantity(0.12, "dimensionless"), KINDS["ratio"])
    assert (plain.si, plain.text) == (0.12, "0.12 –")
    assert units.stated(registry.Quantity(16.0, "dimensionless"), KINDS["count"]).text == "16 pcs"
    for values in (np.array([0.1, 0.2]), registry.Quantity([0.1, 0.2], "dimensionless"), [0.1, 0.2], ["0.1", "0.2"]):
        made, unit = units.stated_column(values, KINDS["ratio"])
        assert (made.tolist(), unit) == ([0.1, 0.2], "–")


@pytest.mark.parametrize(
    ("text", "kind", "example"),
    [
        # the number of the limits is no value: 2 K are no temperature of -271 degC
        ("20 °C ± 2 K", "temperature", "20 °C ± 2 °C"),
        ("20 degC ± 9 F", "temperature", "20 degC ± 5 degC"),
        ("9 deg ± 30 min", "angle", "9 deg ± 0.5 deg"),
        ("9° ± 30'", "angle", "9 ° ± 0.5 °"),
        ("1.65 mm ± 2 %", "length", "1.65 mm ± 0.033 mm"),
        ("-1.0 mm ±2%", "length", "-1.0 mm ± 0.02 mm"),
        ("12 N m ± 5 %", "torque", "12 N·m ± 0.6 N·m"),
        ('0.5 in ± 0.01"', "length", "0.5 in ± 0.01 in"),
        ("1/2 in ± 1/64 in", "length", "0.5 in ± 0.015625 in"),
        # thousands of what has no thousandths
        ("1,013 hPa", "air pressure", "1013 hPa"),
        ("7,850 kg/m^3", "density", "7850 kg/m³"),
        ("1,200 rad/s", "crank speed", "1200 rad/s"),
        ("-11,500 rpm", "crank speed", "-11500 rpm"),
        ("12,345.5 rad/s", "crank speed", "12345.5 rad/s"),
        ("9,970 g", "mass", "9.970 g"),
        ("−1,5 mm", "length", "-1.5 mm"),
        ("90 min", "angle", "1 deg 30 min"),
        ("1/2", "share", "50 %"),
        ("5/8", "length", "5/8 in"),
        ("½", "length", "1/2 in"),
        ('1½"', "length", "1 1/2 in"),
        ("2½ mm", "length", "2.5 mm"),
        # number 10 is 0.190 in by common practice
        ("10-32", "length", "0.190 in"),
        ("1/4-20 UNC", "length", "1/4 in"),
        ("47.6 H7", "length", "47.6 mm H7"),
        ("1 000.5 mm", "length", "1000.5 mm"),
        ("1.65 mm\u200b", "length", "1.65 mm"),
        ("\ufeff1.65 mm", "length", "1.65 mm"),
        ("9º", "angle", "9 °"),
    ],
)
def test_what_is_advised_is_what_was_meant(text: str, kind: str, example: str) -> None:
    with pytest.raises(StatedValueError) as caught:
        parse(text, KINDS[kind])
    assert str(caught.value).startswith(f'needs {KINDS[kind].phrase}, such as "{example}"; got {text!r}')
    parse(example, KINDS[kind])


@pytest.mark.parametrize(
    ("text", "kind", "hint"),
    [
        # a piston that is proud has its deck clearance below nought: of the two signs none is advised
        ("1.3 mm proud", "length", "Words are left out: 1.3 mm, with a minus where that is the way of docs/datum-and-signs.md."),
        ("0.3 above deck", "length", "Words are left out: 0.3 mm, with a minus where that is the way of docs/datum-and-signs.md."),
        ("35 bar g", "pressure", "Whether a pressure is absolute or over that around is said by its field; here go number and unit alone."),
        ("35 barg", "pressure", "Whether a pressure is absolute or over that around is said by its field; here go number and unit alone."),
        ("0.2+0.3 mm", "length", 'The sum of two is written "0.5 mm", a limit on one side "0.2 mm +0.3/-0 mm".'),
        ("1 mm -0.2/-0.1", "length", 'Limits follow as "± 0.03 mm" or "+0.02/-0.00 mm".'),
    ],
)
def test_what_may_mean_two_things_is_not_advised_as_one(text: str, kind: str, hint: str) -> None:
    with pytest.raises(StatedValueError) as caught:
        parse(text, KINDS[kind])
    usual = "47.6 mm" if kind == "length" else "40 bar"
    assert str(caught.value) == f'needs {KINDS[kind].phrase}, such as "{usual}"; got {text!r}. {hint} Units: {", ".join(KINDS[kind].units)}'


def test_two_words_that_are_a_unit_of_something_else_are_no_words_beside_a_number() -> None:
    with pytest.raises(StatedValueError, match="got '9 deg C', which is a temperature"):
        parse("9 deg C", KINDS["angle"])
    with pytest.raises(StatedValueError, match="got '6 in lb', which is a torque"):
        parse("6 in lb", LENGTH)


def test_minutes_take_the_minus_that_printers_have() -> None:
    assert parse("−9°30'", KINDS["angle"]).si == parse("-9.5 deg", KINDS["angle"]).si


#: Good values of several kinds, for hands to slip on.
GOOD_VALUES = (
    ("47.6 mm", "0.50 mm ± 0.03 mm", "0.5 mm +0.02/-0.01 mm", "1 1/16 in", "0.0125 in ± 0.5 thou", "47.6 mm H7", "-1.0 mm", "1½ in"),
    ("6.4 cc", "6.4 cm^3 ± 0.1 ml", "2 cu in"),
    ("88 deg 30 min", "9° ± 0.5°", "88 deg 30 min ± 15 min", "0.5 rad"),
    ("11500 rpm", "1200 rad/s ± 5 rad/s", "11500 1/min"),
    ("12 N·m", "12 ft lb ± 1 ft lb", "1.2 kgf·m"),
    ("20 °C ± 2 °C", "-5 degC"),
    ("40 bar", "580 psi", "4 MPa +0.1/-0.2 MPa"),
    ("1013 hPa", "1.013 bar ± 0.001 bar"),
    ("50 %", "50 % ± 5 %"),
)
GOOD_KINDS = ("length", "volume", "angle", "crank speed", "torque", "temperature", "pressure", "air pressure", "share")
SLIPS = (
    *" .,-+−/%'\"()½±:°~0159",
    "mm",
    "in",
    "bar",
    "min",
    "K",
    "F",
    " to ",
    "±",
    "H7",
    "deg",
    "+/-",
    "1/2",
    "proud",
    "\u00a0",
    "\u200b",
    "１",
    "e3",
    "e999",
    "#",
)


@st.composite
def slipped(draw: st.DrawFn) -> tuple[str, str]:
    kind = draw(st.integers(0, len(GOOD_KINDS) - 1))
    text = draw(st.sampled_from(GOOD_VALUES[kind]))
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(text)))
        if draw(st.booleans()):
            text = text[:at] + draw(st.sampled_from(SLIPS)) + text[at:]
        else:
            text = text[:at] + text[at + draw(st.integers(1, 3)) :]
    return text, GOOD_KINDS[kind]


@settings(max_examples=1000)
@given(slip=slipped())
def test_every_line_that_is_advised_can_be_written(slip: tuple[str, str]) -> None:
    text, kind = slip
    try:
        made = parse(text, KINDS[kind])
    except StatedValueError as error:
        said = str(error).replace(repr(text), "")
    else:
        assert parse(made.text, KINDS[kind]) == made
        return
    # of a text with quotes in it only the example can be told from what came
    quoted = re.findall(r'"([+-]?[.0-9][^"]*)"', said) if not re.search("[\"']", text) else re.findall(r'such as "([^"]*)"; got ', said)
    for advised in quoted:
        # "88 deg 30 min" and the like in hints are lines too; "+0.02/-0.00 mm" is the end of one
        if not re.match(r"\+\S+/", advised):
            parse(advised, KINDS[kind])


#: By definition or from the SI Brochure, 9th edition, tables 4 and 8; as exact fractions, apart from the library's table.
EXACT = {
    "mm": F(1, 1000),
    "cm": F(1, 100),
    "µm": F(1, 10**6),
    "μm": F(1, 10**6),
    "micron": F(1, 10**6),
    "in": F(254, 10**4),
    "inches": F(254, 10**4),
    "thou": F(254, 10**7),
    "cc": F(1, 10**6),
    "cm^3": F(1, 10**6),
    "cu in": F(254, 10**4) ** 3,
    "sq in": F(254, 10**4) ** 2,
    "ft·lbf": F(3048, 10**4) * F(45359237, 10**8) * F(980665, 10**5),
    "lbf ft": F(3048, 10**4) * F(45359237, 10**8) * F(980665, 10**5),
    "in-lb": F(254, 10**4) * F(45359237, 10**8) * F(980665, 10**5),
    "kgf cm": F(980665, 10**7),
    "psi": F(45359237, 10**8) * F(980665, 10**5) / F(254, 10**4) ** 2,
    "hPa": F(100),
    "%": F(1, 100),
}


@given(
    number=st.from_regex(r"\A[+-]?(?:[0-9]{1,4}(?:\.[0-9]{0,4})?|\.[0-9]{1,4})(?:[eE][+-]?[0-9])?\Z"),
    unit=st.sampled_from(sorted(EXACT)),
    space=st.sampled_from((" ", "  ", "\t", "\u00a0", "\u2009", "\u202f")),
    width=st.none() | st.from_regex(r"\A[0-9]\.[0-9]{1,3}\Z"),
)
def test_si_of_what_is_taken_is_that_of_exact_fractions(number: str, unit: str, space: str, width: str | None) -> None:
    kind = next(one for one in KINDS.values() if one.unit(unit) is not None)
    made = parse(f"{number}{space}{unit}" + (f" ± {width} {unit}" if width else ""), kind)
    exact = F(number) * EXACT[unit]
    assert made.si == pytest.approx(float(exact), rel=1e-15, abs=1e-300)
    if width:
        limits = made.si_limits
        assert limits is not None
        room = 1e-15 * float(abs(exact) + F(width) * EXACT[unit])
        assert limits.low == pytest.approx(float(exact - F(width) * EXACT[unit]), rel=1e-14, abs=room)
        assert limits.high == pytest.approx(float(exact + F(width) * EXACT[unit]), rel=1e-14, abs=room)


@given(whole=st.none() | st.integers(0, 99), over=st.integers(1, 127), halvings=st.integers(1, 7), joint=st.sampled_from((" ", "-")))
def test_a_fraction_of_an_inch_is_that_fraction(whole: int | None, over: int, halvings: int, joint: str) -> None:
    under = 2**halvings
    text = f"{'' if whole is None else f'{whole}{joint}'}{over}/{under} in"
    if over >= under:
        with pytest.raises(StatedValueError):
            parse(text, LENGTH)
        return
    exact = ((whole or 0) + F(over, under)) * F(254, 10**4)
    assert parse(text, LENGTH).si == pytest.approx(float(exact), rel=1e-15)


def test_a_shape_of_any_length_is_told_short() -> None:
    assert len(message(lambda: te.Piston(crown={"shape": "a" * 100_000}))) < 300


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_a_text_of_any_length_is_refused_before_it_is_searched(kind: str) -> None:
    """A row of digits that broke off was tried in every way it could be cut in two: ten seconds for 20 000 of them."""
    for text in ("1" * 200_000 + "x", "1" * 200_000 + ".x", " " * 200_000 + "x"):
        with pytest.raises(StatedValueError) as caught:
            units.stated(text, KINDS[kind])
        assert len(str(caught.value)) < 700
