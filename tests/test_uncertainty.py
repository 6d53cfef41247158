"""First-order uncertainty against closed forms and mpmath's derivatives (JCGM 100:2008, 5.1 and 4.3.7)."""

from __future__ import annotations

import importlib
import math
from typing import Any

import mpmath as mp
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_evaluation import top_ends

import topend as te

# `topend.uncertainty` is the function
draws_of = importlib.import_module("topend.uncertainty")

ROOT3 = math.sqrt(3.0)


def edge(clearance: str = "0.70 mm", gasket: Any = None, **head: Any) -> te.TopEnd:
    gasket = gasket or te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm")
    return te.TopEnd(deck=te.DeckReading(clearance=clearance), head=te.FlushHead(**head), head_gaskets=[gasket])


def of(top: te.TopEnd, name: str) -> Any:
    return te.uncertainty(top, [name])[name]


def test_a_sum_adds_as_squares() -> None:
    """squish_edge = c + t + o: sensitivities of 1, so the shares are the standard uncertainties themselves."""
    gasket = te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.01 mm")
    made = of(edge("0.70 mm ± 0.03 mm", gasket, recess_offset="0.2 mm ± 0.02 mm"), "squish_edge")
    assert made.u == pytest.approx(math.sqrt(0.03**2 + 0.01**2 + 0.02**2) / ROOT3, rel=1e-9)
    assert [(share.path, share.basis) for share in made.shares] == [
        ("deck.clearance", "limits"),
        ("head.recess_offset", "limits"),
        ("head_gaskets.0.fitted_thickness", "limits"),
    ]
    assert [share.u for share in made.shares] == pytest.approx([0.03 / ROOT3, 0.02 / ROOT3, 0.01 / ROOT3], rel=1e-9)
    assert made.value == pytest.approx(1.2)
    assert made.interval == pytest.approx((1.2 - 2 * made.u, 1.2 + 2 * made.u))
    assert made.quantity.m_as("mm") == made.value
    assert made.unit == "mm"


def test_uneven_limits_have_half_their_width_and_leave_the_value() -> None:
    """The value evaluated is always the stated one, never the middle of uneven limits (design page, section 3)."""
    made = of(edge("0.70 mm +0.06/-0.00 mm"), "squish_edge")
    assert made.value == pytest.approx(1.0)
    assert made.u == pytest.approx(0.03 / ROOT3, rel=1e-9)


def test_against_derivatives_in_50_digits() -> None:
    """Trapped ratio of the E125 with limits on four inputs: exact partial derivatives from mpmath."""
    limits = {"bore": 0.02, "top": 0.1, "volume": 0.05, "deck": 0.03}
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="54 mm ± 0.02 mm", ports=[te.Port(kind="exhaust", top="31 mm ± 0.1 mm")]),
        assembled=te.AssembledVolume(volume="11.4 cc ± 0.05 cc"),
        deck=te.DeckReading(clearance="1.0 mm ± 0.03 mm"),
    )
    made = of(top, "trapped_compression_ratio")

    def ratio(bore: Any, port: Any, volume: Any, deck: Any) -> Any:
        return 1 + mp.pi / 4 * bore**2 * (port - deck) / (volume * 1000)

    with mp.workdps(50):
        at = (mp.mpf(54), mp.mpf(31), mp.mpf("11.4"), mp.mpf(1))
        slopes = [mp.diff(ratio, at, tuple(int(i == j) for j in range(4))) for i in range(4)]
    shares = [float(slope) * limit / ROOT3 for slope, limit in zip(slopes, limits.values(), strict=True)]
    assert made.value == pytest.approx(float(ratio(*at)), rel=1e-12)
    # central differences over ± u: what is left is of third order
    assert made.u == pytest.approx(math.sqrt(sum(share**2 for share in shares)), rel=1e-5)
    by_path = {share.path: share.u for share in made.shares}
    for path, share in zip(("cylinder.bore", "cylinder.ports.0.top", "assembled.volume", "deck.clearance"), shares, strict=True):
        assert by_path[path] == pytest.approx(share, rel=1e-4)  # with its sign


def test_angle_of_a_port_against_the_speed_there(sample: Any) -> None:
    """dθ/dtop = 1/(dx/dθ): in closed form x' = r sin θ + r² sin θ cos θ/√(l² - r² sin² θ)."""
    top = sample(cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm ± 0.05 mm")]))
    made = of(top, "exhaust_opens")
    theta = math.radians(made.value)
    slope = 19.65 * math.sin(theta) + 19.65**2 * math.sin(theta) * math.cos(theta) / math.sqrt(85**2 - (19.65 * math.sin(theta)) ** 2)
    share = next(share for share in made.shares if share.path == "cylinder.ports.0.top")
    assert share.u == pytest.approx(math.degrees(0.05 / slope) / ROOT3, rel=1e-5)


def test_limits_stated_of_a_nominal_thickness_count_once() -> None:
    """Metal: they stand for ± 0.02 mm. Fibre: crush comes on top, +0/-17 %."""
    metal = of(edge(gasket=te.Gasket(role="head", thickness="0.30 mm ± 0.03 mm", material="copper")), "squish_edge")
    assert metal.u == pytest.approx(0.03 / ROOT3, rel=1e-9)
    fibre = of(edge(gasket=te.Gasket(role="head", thickness="0.30 mm ± 0.03 mm", material="fibre")), "squish_edge")
    assert fibre.u == pytest.approx(math.hypot(0.03, 0.17 * 0.30 / 2) / ROOT3, rel=1e-9)
    bare = of(edge(gasket=te.Gasket(role="head", thickness="0.30 mm", material="copper")), "squish_edge")
    assert bare.u == pytest.approx(0.02 / ROOT3, rel=1e-9)
    assert next(share for share in bare.shares if share.path == "head_gaskets.0.fitted_thickness").basis == "assumed"


def test_written_decimals_are_kept_apart() -> None:
    made = of(edge("0.7 mm"), "squish_edge")
    assert made.u == 0.0
    assert made.u_written == pytest.approx(math.hypot(0.05, 0.005) / ROOT3, rel=1e-9)
    assert {share.basis for share in made.shares} == {"written"}


@pytest.mark.parametrize(
    ("clearance", "decimals", "text"),
    [
        ("0.700 mm ± 0.0004 mm", 3, "1.000 mm"),
        ("0.70 mm ± 0.03 mm", 3, "1.000 mm"),
        ("0.7 mm ± 0.3 mm", 2, "1.00 mm"),
        ("1 mm ± 0.9 mm", 2, "1.30 mm"),
        ("40 mm ± 30 mm", 0, "40 mm"),
    ],
)
def test_no_digit_finer_than_two_of_the_uncertainty(clearance: str, decimals: int, text: str) -> None:
    made = of(edge(clearance), "squish_edge")
    assert made.decimals == decimals
    assert made.text == text


def test_a_ratio_has_no_unit(sample: Any) -> None:
    made = of(sample(), "compression_ratio")
    assert isinstance(made.quantity, float)
    assert " " not in made.text


def test_parts_under_the_reading_are_the_same_parts(sample: Any) -> None:
    """A rod replaced and put back is one rod with one error, so that none of it is left in the deck."""
    rod = te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm ± 0.1 mm")
    top = sample(crank=rod)
    bound = top.replace({"crank.offset": "0.0 mm"})
    assert bound.deck.crank is not None
    before, after = of(top, "deck_clearance"), of(bound, "deck_clearance")
    assert after.u == pytest.approx(before.u, abs=1e-12)
    assert [share.path for share in after.shares if "crank" in share.path and abs(share.u) > 1e-12] == []
    # another rod is another: both errors count
    other = top.replace({"crank.rod_length": "85.2 mm ± 0.1 mm"})
    shares = {share.path: share.u for share in of(other, "deck_clearance").shares}
    assert shares["crank.rod_length"] == pytest.approx(-0.1 / ROOT3, rel=1e-6)
    assert shares["deck.crank.rod_length"] == pytest.approx(0.1 / ROOT3, rel=1e-6)
    # and the stroke, which both have, still counts nothing
    assert abs(shares.get("crank.stroke", 0.0)) < 1e-12


def test_a_default_follows_what_it_is_made_from() -> None:
    """rod = 2.15 × stroke ± 0.15 × stroke: the stroke's limits move the rod too."""
    top = te.TopEnd(crank=te.Crank(stroke="40 mm ± 0.5 mm"), running=te.Running(crank_speed="9000 rpm"))
    made = of(top, "tdc_acceleration")
    omega = 9000 * math.pi / 30
    # a = r ω² (1 + r/l) with l = 4.3 r: proportional to the stroke
    share = next(share for share in made.shares if share.path == "crank.stroke")
    assert share.u == pytest.approx(omega**2 * 0.25e-3 * (1 + 1 / 4.3) / ROOT3, rel=1e-9)
    rod = next(share for share in made.shares if share.path == "crank.rod_length")
    assert rod.basis == "assumed"
    assert rod.u == pytest.approx(-(omega**2) * 0.02**2 / 0.086**2 * 0.006 / ROOT3, rel=2e-3)


def test_errors_as_of_evaluate(sample: Any) -> None:
    with pytest.raises(te.MissingInputError, match=r"squish_velocity_peak cannot be had: it needs running\.crank_speed"):
        te.uncertainty(sample(running=None), ["squish_velocity_peak"])
    assert "squish_velocity_peak" not in te.uncertainty(sample(running=None))
    assert te.uncertainty(te.TopEnd()) == {}


@settings(max_examples=40)
@given(top=top_ends())
def test_the_value_is_that_of_evaluate(top: te.TopEnd) -> None:
    result, made = te.evaluate(top), te.uncertainty(top)
    assert list(made) == result.keys()
    for name, one in made.items():
        assert one.value == result.shown(name), name
        assert one.u_written >= one.u >= 0 or math.isnan(one.u)
        ranked = [(share.basis == "written", -abs(share.u)) for share in one.shares]
        assert ranked == sorted(ranked)
        assert one.u**2 == pytest.approx(math.fsum(share.u**2 for share in one.shares if share.basis != "written"), rel=1e-12, abs=1e-30)


PARTIAL: list[dict[str, Any]] = [
    {"crank": te.Crank(stroke="39.3 mm")},
    {"deck": te.DeckReading(clearance="1.65 mm", at="centre", base_thickness="0.50 mm")},
    {"deck": te.DeckReading(clearance="1.65 mm")},
    {"base_gaskets": None},
    {"piston": te.Piston()},
    {"piston": te.Piston(crown=te.MeasuredCrown(volume="2 cc ± 0.1 cc"))},
    {"head_gaskets": None},
    {"assembled": te.AssembledVolume(volume="6.2 cc"), "head": None},
    {"cylinder": None},
]


@pytest.mark.parametrize("parts", PARTIAL)
@pytest.mark.parametrize("changes", [{}, {"crank.stroke": "39.5 mm ± 0.1 mm"}, {"base.thickness": "0.80 mm"}])
def test_the_value_is_that_of_evaluate_on_partial_data(parts: dict[str, Any], changes: dict[str, Any], sample: Any) -> None:
    top = sample(**parts)
    if "assembled" not in parts or "crank.stroke" not in changes:
        top = top.replace(changes)
    result, made = te.evaluate(top), te.uncertainty(top)
    assert {name: one.value for name, one in made.items()} == {name: result.shown(name) for name in result}


# --- drawn, and the slopes themselves ----------------------------------------------------------------------------------

LIMITED = {
    "crank": te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm ± 0.1 mm"),
    "deck": te.DeckReading(clearance="1.65 mm ± 0.04 mm", base_thickness="0.50 mm"),
}


def test_first_order_agrees_with_the_uncertainties_package(sample: Any) -> None:
    """The same formulas through a general-purpose library of first-order propagation (`uncertainties`), written out here."""
    from uncertainties import ufloat, umath

    top = sample(
        **LIMITED,
        piston=te.Piston(crown=te.FlatCrown(), diameter="47.6 mm"),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.02 mm", opening="48.5 mm")],
    )
    made = te.uncertainty(top)
    stroke, rod, deck = ufloat(39.3, 0.05 / ROOT3), ufloat(85, 0.1 / ROOT3), ufloat(1.65, 0.04 / ROOT3)
    gasket = ufloat(0.3, 0.02 / ROOT3)
    area = math.pi / 4 * 47.6**2
    volume = 6400 + area * deck + math.pi / 4 * 48.5**2 * gasket - math.pi / 4 * 47.2**2 * 1.0
    ratio = (area * stroke + volume) / volume
    drop, throw = 22.3 - deck, stroke / 2
    opens = umath.acos(((rod + throw - drop) ** 2 + throw**2 - rod**2) / (2 * throw * (rod + throw - drop)))
    for name, ours in (("compression_ratio", ratio), ("exhaust_duration", 360 - 2 * umath.degrees(opens))):
        assert made[name].value == pytest.approx(ours.n, rel=1e-12)
        # ours moves by a whole standard uncertainty, theirs takes the slope: they differ by the third derivative's share
        assert made[name].u == pytest.approx(ours.s, rel=1e-4)


def test_drawn_against_the_closed_form_of_two_rectangles() -> None:
    """A sum of two rectangles is a trapezoid: JCGM 101:2008, annex E.2 (from memory), recomputed here from its corners."""
    top = edge("0.70 mm ± 0.03 mm", gasket=te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.01 mm"))
    made = te.uncertainty(top, ["squish_edge"], method="monte-carlo", draws=400_000, seed=3)["squish_edge"]
    assert made.drawn is not None
    # tails: density falls as (0.04 - d)/(2 · 0.06 · 0.02) over the last 0.02; 2.5 % of them lie beyond 0.04 - √(0.05 · 0.06 · 0.02)
    end = 0.04 - math.sqrt(0.025 * 2 * 0.06 * 0.02)
    assert made.u == pytest.approx(math.hypot(0.03, 0.01) / ROOT3, rel=5e-3)
    assert made.drawn.mean == pytest.approx(1.0, abs=5 * 0.0183 / math.sqrt(400_000))
    assert made.interval == pytest.approx((1.0 - end, 1.0 + end), abs=6 * made.drawn.error)
    assert made.drawn.error < 2e-4
    assert (made.drawn.draws, made.drawn.refused) == (400_000, 0)


def test_the_scrambled_sequence_has_the_smaller_error(sample: Any) -> None:
    errors = {}
    for sampler in ("pseudo", "sobol"):
        made = te.uncertainty(sample(**LIMITED), ["compression_ratio"], method="monte-carlo", draws=1 << 15, sampler=sampler)
        assert made["compression_ratio"].drawn is not None
        errors[sampler] = made["compression_ratio"].drawn.error
    assert errors["sobol"] < 0.7 * errors["pseudo"]


def test_drawn_numbers_come_again_from_their_seed(sample: Any) -> None:
    def drawn(seed: int, threads: int = 1) -> Any:
        return te.uncertainty(sample(**LIMITED), ["squish_min"], method="monte-carlo", draws=200_000, seed=seed, threads=threads)

    assert drawn(1) == drawn(1, threads=2)
    assert drawn(1) != drawn(2)


@settings(max_examples=300)
@given(count=st.integers(1, 9000), seed=st.integers(0, 2**32), kind=st.sampled_from(["even", "ties", "one", "tails", "sorted", "nan"]))
def test_ends_are_those_of_all_draws_in_order(count: int, seed: int, kind: str) -> None:
    """To the bit, as a plain sort gives them: with ties, constant draws, few of them, draws in order, and NaN last."""
    draw = np.random.default_rng(seed)
    draws = draw.normal(size=count)
    if kind == "ties":
        draws = draw.integers(0, 4, count).astype(float)
    elif kind == "one":
        draws = np.full(count, draws[0])
    elif kind == "tails":
        draws = np.where(draw.random(count) < 0.05, draw.choice([-1e9, 1e9]), draws)
    elif kind == "sorted":
        draws = np.sort(draws)[:: int(draw.choice([1, -1]))]
    elif kind == "nan":
        draws[draw.random(count) < 0.01] = np.nan
    whole = np.sort(draws)
    ends = whole[int(0.025 * count)], whole[min(count - 1, int(0.975 * count))]
    assert np.array_equal(draws_of._ends(draws), ends, equal_nan=True)


@pytest.mark.parametrize("beyond", [-50.0, 50.0])
def test_ends_where_those_that_are_looked_at_first_mislead(beyond: float) -> None:
    """One in 65 draws lies beyond all others, and just these are looked at: the end lies where they do not point."""
    count = 1 << 17
    draws = np.random.default_rng(5).normal(size=count)
    draws[:: 1 + count // draws_of._SAMPLED] = beyond
    whole = np.sort(draws)
    assert draws_of._ends(draws) == (whole[int(0.025 * count)], whole[int(0.975 * count)])


def test_ends_are_looked_for_among_few(monkeypatch: pytest.MonkeyPatch) -> None:
    """What makes it quick: of a hundred thousand draws some thousands are put in order, not all."""
    sizes: list[int] = []
    partition = np.partition

    def counted(values: Any, place: int) -> Any:
        sizes.append(len(values))
        return partition(values, place)

    monkeypatch.setattr(np, "partition", counted)
    draws_of._ends(np.random.default_rng(3).random(100_000))
    assert len(sizes) == 2
    assert max(sizes) < 10_000


def test_draws_that_are_no_top_end_are_counted_and_left_out() -> None:
    top = edge("0.02 mm ± 0.04 mm", gasket=te.Gasket(role="head", thickness="0.01 mm", fitted_thickness="0.01 mm"))
    made = te.uncertainty(top, ["squish_edge"], method="monte-carlo", draws=80_000)["squish_edge"].drawn
    # touching where clearance ≤ -0.01: the lowest eighth of -0.02 to 0.06
    assert made is not None
    assert made.draws + made.refused == 80_000
    assert made.refused == pytest.approx(10_000, abs=600)
    assert made.low > 0


def test_a_budget_without_limits_draws_nothing() -> None:
    made = te.uncertainty(te.TopEnd(crank=te.Crank(stroke="40 mm", rod_length="80 mm")), method="monte-carlo", draws=800)
    assert made["piston_travel"].u == 0.0


def test_first_order_validated_where_the_model_is_straight() -> None:
    """JCGM 101:2008, clause 8, on a sum of two rectangles, whose 95 % point has a closed form (see above)."""
    gasket = te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.01 mm")
    top = edge("0.70 mm ± 0.03 mm", gasket)
    plain, made = of(top, "squish_edge"), te.uncertainty(top, ["squish_edge"], validate=True)["squish_edge"]
    assert plain.validation is None
    assert (made.value, made.u, made.shares, made.drawn, made.interval) == (plain.value, plain.u, plain.shares, None, plain.interval)
    end = 0.04 - math.sqrt(0.025 * 2 * 0.06 * 0.02)
    assert made.validation is not None
    assert made.validation.drawn == pytest.approx((1.0 - end, 1.0 + end), abs=5e-4)
    # with the factor of its limits first order is 0.0007 off, a twenty-fourth of u; a plain 2 would be 0.0043 off
    assert made.validation.first == pytest.approx((1.0 - end, 1.0 + end), abs=8e-4)
    assert made.validation.tolerated == 0.005
    assert made.validation.agrees
    drawn = te.uncertainty(top, ["squish_edge"], method="monte-carlo")["squish_edge"]
    assert drawn.validation == made.validation
    assert drawn.drawn is not None


def test_first_order_is_not_enough_for_uneven_limits() -> None:
    """Fibre crushes by up to 17 %: the value is the nominal, which is the upper end, and first order puts it in the middle."""
    made = te.uncertainty(edge(gasket=te.Gasket(role="head", thickness="1.0 mm", material="fibre")), ["squish_edge"], validate=True)
    found = made["squish_edge"].validation
    assert found is not None
    # draws lie from 1.53 to 1.70, 2.5 % of them beyond either end
    assert found.drawn == pytest.approx((1.53 + 0.025 * 0.17, 1.70 - 0.025 * 0.17), abs=5e-4)
    assert found.first == pytest.approx((1.70 - 0.95 * 0.085, 1.70 + 0.95 * 0.085), abs=1e-6)
    assert found.difference == pytest.approx(0.085, abs=5e-4)
    assert not found.agrees


def test_first_order_is_not_enough_where_the_model_bends(sample: Any) -> None:
    """Height of a rod near its dead centre goes with the square of the angle: with no offset, an offset of ± e shortens the travel's top
    by e²-ish both ways, of which first order sees nothing."""
    top = sample(crank=te.Crank(stroke="39.3 mm", rod_length="85 mm", offset="0.0 mm ± 3 mm"))
    made = te.uncertainty(top, ["piston_travel"], validate=True)["piston_travel"]
    # S = √((l + r)² - e²) - √((l - r)² - e²): the most at e = 3 mm
    most = math.sqrt(104.65**2 - 9) - math.sqrt(65.35**2 - 9)
    assert made.u == pytest.approx(0.0, abs=1e-9)
    assert made.validation is not None
    assert made.validation.drawn[1] == pytest.approx(39.3 + (most - 39.3) * 0.975**2, abs=1e-4)
    assert not made.validation.agrees


def test_nothing_that_moves_agrees_with_itself() -> None:
    made = te.uncertainty(te.TopEnd(crank=te.Crank(stroke="40 mm", rod_length="80 mm")), validate=True, draws=800)
    assert made["piston_travel"].validation is not None
    assert made["piston_travel"].validation.agrees


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"method": "guess"}, "method must be first-order or monte-carlo; got 'guess'"),
        ({"sampler": "dice"}, "sampler must be pseudo or sobol; got 'dice'"),
        ({"draws": -1}, "uncertainty: draws must be a whole number from 1; got -1"),
    ],
)
def test_unknown_ways_are_refused(asked: Any, message: str, sample: Any) -> None:
    with pytest.raises(te.ArgumentError, match=message):
        te.uncertainty(sample(), **asked)


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ({"draws": 0}, "uncertainty: draws must be a whole number from 1; got 0"),
        ({"draws": -800}, "uncertainty: draws must be a whole number from 1; got -800"),
        ({"draws": 1e5}, "uncertainty: draws must be a whole number from 1; got 100000.0"),
        ({"draws": True}, "uncertainty: draws must be a whole number from 1; got True"),
        ({"draws": "many"}, "uncertainty: draws must be a whole number from 1; got 'many'"),
        ({"seed": -1}, "uncertainty: seed must be a whole number from 0; got -1"),
        ({"seed": 1.5}, "uncertainty: seed must be a whole number from 0; got 1.5"),
        ({"threads": 0}, "uncertainty: threads must be a whole number from 1; got 0"),
    ],
)
def test_numbers_of_draws_that_are_none_are_refused(asked: Any, message: str, sample: Any) -> None:
    with pytest.raises(te.ArgumentError) as caught:
        te.uncertainty(sample(**LIMITED), ["squish_min"], method="monte-carlo", **asked)
    assert str(caught.value) == message


@pytest.mark.parametrize(("draws", "made"), [(1, 16), (17, 24), (np.int64(80), 80)])
def test_draws_are_rounded_up_to_eight_parts(draws: Any, made: int, sample: Any) -> None:
    drawn = te.uncertainty(sample(**LIMITED), ["squish_min"], method="monte-carlo", draws=draws, threads=9)["squish_min"].drawn
    assert drawn is not None
    assert drawn.draws == made
    assert drawn.low <= drawn.mean <= drawn.high


def test_shares_that_count_come_first_and_none_is_nan(sample: Any) -> None:
    studs = te.StudSet(thread_diameter="7 mm", root="case", torque="12 N·m ± 1 N·m")
    top = te.TopEnd(studs=studs, cylinder=te.Cylinder(studs=te.StudPattern(count=4, circle_diameter="60 mm", diameter="7 mm")))
    made = {**te.uncertainty(sample()), **te.uncertainty(top, ["stud_preload"])}
    for one in made.values():
        written = [share.basis == "written" for share in one.shares]
        assert written == sorted(written)
        # no thread lies half a millimetre off M7
        assert not any(math.isnan(share.u) for share in one.shares)
        assert not math.isnan(one.u_written)
    assert made["stud_preload"].shares[0].path in ("studs.nut_friction", "studs.thread_friction")


def test_sensitivities_against_derivatives(sample: Any) -> None:
    """By hand: an edge gap is a sum; d(ratio)/dV = -swept/V²; a port's angle changes by dx / x'(θ)."""
    top = sample()
    made, result = te.sensitivities(top), te.evaluate(top)
    assert made["squish_edge"] == pytest.approx(
        {
            "deck.clearance": 1,
            "deck.base_thickness": -1,
            "base_gaskets.0.fitted_thickness": 1,
            "head_gaskets.0.fitted_thickness": 1,
            "head.recess_offset": 1,
        }
    )
    swept, volume = result.shown("swept_volume"), result.shown("clearance_volume")
    assert made["compression_ratio"]["head.chamber_volume"] == pytest.approx(-swept / volume**2, rel=1e-8)
    with mp.workdps(40):
        throw = mp.mpf("19.65")
        slope = mp.diff(
            lambda at: 85 + throw - throw * mp.cos(at) - mp.sqrt(85**2 - (throw * mp.sin(at)) ** 2),
            mp.radians(result.shown("exhaust_opens")),
        )
    assert made["exhaust_opens"]["cylinder.ports.0.top"] == pytest.approx(math.degrees(1 / float(slope)), rel=1e-8)
    assert made["exhaust_duration"]["base_gaskets.0.fitted_thickness"] > 0
    assert "running.crank_speed" not in made["squish_edge"]


def test_a_default_has_a_sensitivity_of_its_own() -> None:
    top = te.TopEnd(crank=te.Crank(stroke="40 mm"), running=te.Running(crank_speed="9000 rpm"))
    made = te.sensitivities(top, ["tdc_acceleration"])["tdc_acceleration"]
    omega = 9000 * math.pi / 30
    # a = r ω² (1 + r/l) at l = 86 mm, in m/s² a mm
    assert made["crank.stroke"] == pytest.approx(omega**2 * (0.5 + 20 / 86) / 1e3, rel=1e-7)
    assert made["crank.rod_length"] == pytest.approx(-(omega**2) * (20 / 86) ** 2 / 1e3, rel=1e-7)


# --- gaskets under a reading ------------------------------------------------------------------------------------------


def stacked(*fitted: str, then: str | None, how: Any = None, nominal: str = "0.5 mm") -> te.TopEnd:
    """A deck reading over base gaskets: those now fitted, or others, as `how` says."""
    gaskets = [te.Gasket(role="base", thickness=nominal, fitted_thickness=one) for one in fitted]
    deck = te.DeckReading(clearance="1.62 mm ± 0.03 mm", base_thickness=then, base_stack=how)
    return te.TopEnd(deck=deck, base_gaskets=gaskets, head=te.FlushHead(), head_gaskets=[])


@pytest.mark.parametrize(
    ("top", "cancels", "noted"),
    [
        (stacked("0.46 mm ± 0.02 mm", then="0.46 mm ± 0.02 mm"), True, True),
        (stacked("0.46 mm ± 0.02 mm", then="0.46 mm ± 0.02 mm", how="same"), True, False),
        (stacked("0.46 mm ± 0.02 mm", then=None), True, True),
        (stacked("0.46 mm ± 0.02 mm", then=None, how="same"), True, False),
        (stacked("0.46 mm ± 0.02 mm", then="0.46 mm ± 0.02 mm", how="other"), False, False),
        # stated otherwise: other gaskets, or read otherwise; the safe side
        (stacked("0.46 mm ± 0.02 mm", then="0.47 mm ± 0.02 mm"), False, False),
        (stacked("0.46 mm ± 0.02 mm", then="0.46 mm ± 0.03 mm"), False, False),
    ],
)
def test_the_same_gaskets_under_the_reading_cancel_and_others_do_not(top, cancels, noted) -> None:
    """Deck as read lies over the gaskets as they are: put back, they leave it so. Closed form, and draws of NumPy beside it."""
    then = None if top.deck is None or top.deck.base_thickness is None else top.deck.base_thickness.si_limits
    wide = 0.02 if then is None else (then.high - then.low) * 500.0
    assert of(top, "squish_edge").u == pytest.approx(math.sqrt(0.03**2 + (0.0 if cancels else 0.02**2 + wide**2)) / ROOT3, rel=1e-9)
    random = np.random.default_rng(5)
    now = random.uniform(-0.02, 0.02, 400_000)
    under = now if cancels else random.uniform(-wide, wide, 400_000)
    drawn = 1.62 + random.uniform(-0.03, 0.03, 400_000) + now - under
    made = te.uncertainty(top, ["squish_edge"], method="monte-carlo", draws=100_000)["squish_edge"]
    assert made.u == pytest.approx(drawn.std(), rel=0.01)
    worst = te.extremes(top, ["squish_edge"])["squish_edge"]
    assert worst.high - worst.value == pytest.approx(0.03 if cancels else 0.05 + wide)
    listed = [one.path for one in te.evaluate(top, ["squish_edge"]).assumed]
    assert listed == (["deck.base_thickness"] if noted else [])


def test_a_stack_of_several_and_a_nominal_one_cancel_too() -> None:
    both = stacked("0.46 mm ± 0.02 mm", "0.30 mm ± 0.01 mm", then="0.76 mm ± 0.03 mm")
    assert of(both, "squish_edge").u == pytest.approx(0.03 / ROOT3)
    # nominal gaskets of the same figure are not taken as the same: what was read is how they are fitted
    gasket = te.Gasket(role="base", thickness="0.50 mm", material="fibre")
    for how, u in ((None, math.hypot(0.03, 0.0425)), ("same", 0.03), ("other", math.hypot(0.03, 0.0425))):
        deck = te.DeckReading(clearance="1.62 mm ± 0.03 mm", base_thickness="0.50 mm", base_stack=how)
        top = te.TopEnd(deck=deck, base_gaskets=[gasket], head=te.FlushHead(), head_gaskets=[])
        assert of(top, "squish_edge").u == pytest.approx(u / ROOT3), how


def test_an_assembled_volume_cancels_the_gaskets_it_was_read_with() -> None:
    head = te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.02 mm")
    base = te.Gasket(role="base", thickness="0.5 mm", fitted_thickness="0.46 mm ± 0.02 mm")
    area = math.pi / 4 * 54.0**2 * 1e-3
    for how, moves in ((None, 0.0), ("other", 0.02)):
        volume = te.AssembledVolume(
            volume="11.4 cc ± 0.05 cc",
            base_thickness="0.46 mm ± 0.02 mm",
            head_thickness="0.30 mm ± 0.02 mm",
            base_stack=how,
            head_stack=how,
        )
        top = te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), assembled=volume, base_gaskets=[base], head_gaskets=[head])
        assert of(top, "clearance_volume").u == pytest.approx(math.sqrt(0.05**2 + 4 * (moves * area) ** 2) / ROOT3, rel=1e-9)


def test_other_gaskets_leave_the_reading_with_all_that_was_not_known_of_its_own() -> None:
    """Bound by `replace`: the reading's gaskets keep limits that were only assumed, fibre +0/-17 %, metal ± 0.02 mm, or what is stated."""
    for gasket, limits in (
        (te.Gasket(role="base", thickness="0.50 mm", material="fibre"), (-0.085, 0.0)),
        (te.Gasket(role="base", thickness="0.50 mm", material="copper"), (-0.02, 0.02)),
        (te.Gasket(role="base", thickness="0.50 mm ± 0.01 mm", material="copper"), (-0.01, 0.01)),
        (te.Gasket(role="base", thickness="0.50 mm ± 0.01 mm", material="fibre"), (0.49 * 0.83 - 0.5, 0.01)),
        (te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.45 mm ± 0.03 mm"), (-0.03, 0.03)),
    ):
        top = te.TopEnd(deck=te.DeckReading(clearance="1.62 mm ± 0.03 mm"), base_gaskets=[gasket], head=te.FlushHead(), head_gaskets=[])
        assert of(top, "squish_edge").u == pytest.approx(0.03 / ROOT3)
        made = top.replace({"base.thickness": "0.80 mm ± 0.01 mm"})
        assert made.deck is not None
        bound = made.deck.base_thickness
        assert made.deck.base_stack == "other"
        assert bound is not None
        assert bound.si_limits is not None
        ends = bound.si_limits.low - bound.si, bound.si_limits.high - bound.si
        assert [end * 1e3 for end in ends] == pytest.approx(limits, abs=1e-12)
        half = (limits[1] - limits[0]) / 2
        assert of(made, "squish_edge").u == pytest.approx(math.sqrt(0.03**2 + 0.01**2 + half**2) / ROOT3, rel=1e-9)
        # what is said of a gasket beside its thickness makes it no other
        assert top.replace({"base_gaskets.0.outer_diameter": "80 mm"}).deck == top.deck


def test_a_gasket_of_the_same_figures_put_in_by_replace_is_another() -> None:
    top = stacked("0.46 mm ± 0.02 mm", then="0.46 mm ± 0.02 mm")
    made = top.replace(base_gaskets=list(top.base_gaskets or ()))
    assert of(made, "squish_edge").u == pytest.approx(math.sqrt(0.03**2 + 2 * 0.02**2) / ROOT3, rel=1e-9)
    kept = top.replace({"base_gaskets": list(top.base_gaskets or ()), "deck.base_stack": "same"})
    assert of(kept, "squish_edge").u == pytest.approx(0.03 / ROOT3)


# --- what goes together -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("how", "together"), [(None, True), ("together", True), ("apart", False)])
@pytest.mark.parametrize("stated", [{}, {"nut_friction": "0.10 ± 0.02"}, {"thread_friction": "0.14 ± 0.01", "nut_friction": "0.10 ± 0.02"}])
def test_frictions_of_one_lubricant_add_up(how, together, stated) -> None:
    """JCGM 100:2008, 5.2.2, note 1: of inputs that are correlated with r = 1 the shares add up, signs and all; of others their squares."""
    studs = te.StudSet(thread_diameter="8 mm", root="case", torque="20 N·m ± 2 N·m", lubrication="oiled", frictions=how, **stated)
    top = te.TopEnd(studs=studs)
    made = of(top, "stud_preload")
    slopes = te.sensitivities(top, ["stud_preload"])["stud_preload"]
    half = {"studs.torque": 2.0, "studs.bearing_diameter": 0.06 * 1.35 * 8.0, "studs.thread_friction": 0.04, "studs.nut_friction": 0.04}
    half |= {f"studs.{name}": float(text.split("±")[1]) for name, text in stated.items()}
    shares = {path: slopes[path] * width / ROOT3 for path, width in half.items()}
    friction = [shares.pop("studs.thread_friction"), shares.pop("studs.nut_friction")]
    own = sum(friction) ** 2 if together else sum(one**2 for one in friction)
    assert made.u == pytest.approx(math.sqrt(own + sum(one**2 for one in shares.values())), rel=0.03)
    paths = [share.paths for share in made.shares]
    assert (("studs.thread_friction", "studs.nut_friction") in paths) == together
    # walls are walls either way: both at the same end is the worst in any case
    found = te.extremes(top, ["stud_preload"])["stud_preload"]
    assert {"studs.thread_friction", "studs.nut_friction"} <= set(found.at_low)
    apart = te.extremes(top.replace(studs=studs.replace(frictions="apart")), ["stud_preload"])["stud_preload"]
    assert (found.low, found.high) == pytest.approx((apart.low, apart.high), rel=1e-12)
    assert found.at_low == pytest.approx(apart.at_low)


def test_uneven_limits_go_from_end_to_end() -> None:
    """What is tied to another lies at its lower limit where that does, and at its upper one: in draws as in corners."""
    studs = te.StudSet(
        thread_diameter="8 mm", root="case", torque="20 N·m", bearing_diameter="11 mm", pitch="1.25 mm",
        thread_friction="0.12 +0.04/-0.02", nut_friction="0.10 +0.02/-0.04",
    )  # fmt: skip
    top = te.TopEnd(studs=studs)
    made = te.uncertainty(top, ["stud_preload"], method="monte-carlo", draws=80_000)["stud_preload"]
    ends = [
        te.evaluate(te.TopEnd(studs=studs.replace(thread_friction=thread, nut_friction=nut)), ["stud_preload"]).shown("stud_preload")
        for thread, nut in (("0.16", "0.12"), ("0.10", "0.06"))
    ]
    worst = te.extremes(top, ["stud_preload"])["stud_preload"]
    assert (worst.low, worst.high) == pytest.approx(ends)
    assert made.drawn is not None
    assert ends[0] <= made.drawn.low < made.drawn.high <= ends[1]


@pytest.mark.parametrize("uneven", ["+0.04/-0.0001", "+0.04/-0", "+0.0001/-0.02", "+0/-0.02"])
def test_a_friction_stated_near_one_of_its_limits_leaves_the_other_its_own(uneven) -> None:
    """Both as evenly spread between their limits, whatever is stated within them: draws of NumPy, and the closed form at the corners.

    Led from limit to limit, the one under the nut went to 4 where the thread's had gone down by 0.01; or was never drawn low at all.
    """
    studs = te.StudSet(
        thread_diameter="8 mm", root="case", torque="20 N·m", bearing_diameter="11 mm", pitch="1.25 mm",
        thread_friction=f"0.12 {uneven}", nut_friction="0.12 ± 0.04",
    )  # fmt: skip
    up, down = (float(text) for text in uneven.replace("-", "").split("/"))
    share = np.random.default_rng(7).random(400_000)

    def pull(thread: Any, nut: Any) -> Any:
        return 20.0 / (1.25 / (2 * np.pi) + (8.0 - 0.375 * ROOT3 * 1.25) * thread / ROOT3 + 5.5 * nut)

    drawn = pull(0.12 - down + (up + down) * share, 0.08 + 0.08 * share)
    top = te.TopEnd(studs=studs)
    made = te.uncertainty(top, ["stud_preload"], method="monte-carlo", draws=100_000)["stud_preload"]
    assert made.u == pytest.approx(drawn.std(), rel=0.01)
    assert made.drawn is not None
    assert (made.drawn.low, made.drawn.high) == pytest.approx(np.quantile(drawn, (0.025, 0.975)), rel=0.01)
    # first order: slopes where it is stated, each by the width of its own limits
    lever = 20.0 / pull(0.12, 0.12)
    slopes = [20.0 * arm / lever**2 for arm in ((8.0 - 0.375 * ROOT3 * 1.25) / ROOT3, 5.5)]
    assert of(top, "stud_preload").u == pytest.approx((slopes[0] * (up + down) / 2 + slopes[1] * 0.04) / ROOT3, rel=0.02)
    worst = te.extremes(top, ["stud_preload"])["stud_preload"]
    assert (worst.low, worst.high) == pytest.approx((pull(0.12 + up, 0.16), pull(0.12 - down, 0.08)))


def test_frictions_at_opposite_limits_are_not_led_by_each_other() -> None:
    studs = te.StudSet(
        thread_diameter="8 mm", root="case", torque="20 N·m", bearing_diameter="11 mm", pitch="1.25 mm",
        thread_friction="0.12 +0.04/-0", nut_friction="0.12 +0/-0.04",
    )  # fmt: skip
    worst = te.extremes(te.TopEnd(studs=studs), ["stud_preload"])["stud_preload"]
    assert worst.at_low == {"studs.thread_friction": pytest.approx(0.16)}
    assert worst.at_high == {"studs.nut_friction": pytest.approx(0.08)}


def test_gaskets_that_are_the_same_need_not_be_known() -> None:
    """The same stack lies under the reading and in the build; how thick it is now is that, though base_gaskets does not say it."""
    volume = te.AssembledVolume(
        volume="11.4 cc ± 0.05 cc", base_thickness="0.46 mm ± 0.02 mm", head_thickness="0.30 mm", base_stack="same", head_stack="same"
    )
    top = te.TopEnd(cylinder=te.Cylinder(bore="54 mm"), assembled=volume)
    assert of(top, "clearance_volume").u == pytest.approx(0.05 / ROOT3)
    assert te.sensitivities(top, ["clearance_volume"])["clearance_volume"] == {"assembled.volume": pytest.approx(1.0)}
