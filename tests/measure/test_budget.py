"""The budget engine against published worked examples and against a general library for uncertainty."""

from __future__ import annotations

import math

import GTC
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend.coverage import validated
from topend.measure import budget
from topend.measure.budget import (
    Contribution,
    arcsine,
    combined,
    coverage_factor,
    effective_dof,
    normal,
    propagate,
    rectangular,
    repeated,
    resolution,
    simulate,
    triangular,
    validation,
)


def test_divisors() -> None:
    """JCGM 100:2008, 4.3.7 (rectangular), 4.3.9 (triangular), H.1.3.4 (arcsine), F.2.2.1 (resolution)."""
    assert rectangular("a", 0.0, 1.0).u == pytest.approx(1 / math.sqrt(3))
    assert triangular("a", 0.0, 1.0).u == pytest.approx(1 / math.sqrt(6))
    assert arcsine("a", 0.0, 1.0).u == pytest.approx(1 / math.sqrt(2))
    assert resolution("a", 0.0, 1.0).u == pytest.approx(1 / math.sqrt(12))


def end_gauge(lengths, *rest):
    standard, spread, machine, comparator, thermal, slope, expansion, apart = (lengths, *rest)
    difference = 215.0 + spread + machine + comparator
    return standard + difference - standard * (slope * thermal + expansion * apart)


END_GAUGE = [
    normal("standard", 50_000_623.0, 25.0, 18),
    normal("repeated", 0.0, 5.8, 24),
    normal("comparator, random", 0.0, 3.9, 5),
    normal("comparator, systematic", 0.0, 6.7, 8),
    normal("temperature", -0.1, 0.41),
    normal("difference of expansion", 0.0, 0.58e-6, 50),
    rectangular("expansion", 11.5e-6, 2e-6),
    normal("difference of temperature", 0.0, 0.029, 2),
]


def test_end_gauge_of_gum_h1() -> None:
    """JCGM 100:2008, H.1: 50 000 838 nm, u 31.7 (32) nm, 16 effective degrees of freedom, U99 = 93 nm."""
    made = propagate(end_gauge, END_GAUGE)
    assert made.value == pytest.approx(50_000_838.0, abs=0.5)
    assert made.u == pytest.approx(31.7, abs=0.05)
    assert math.floor(made.dof) == 16
    assert coverage_factor(16, 0.99) == pytest.approx(2.92, abs=0.005)
    assert round(coverage_factor(16, 0.99) * made.u) == 93


def test_simultaneous_resistance_and_reactance_of_gum_h2() -> None:
    """JCGM 100:2008, H.2, tables H.2 to H.4, from its five sets of readings: R, X, Z and their u, correlation and all."""
    volts = [5.007, 4.994, 5.005, 4.990, 4.999]
    amperes = [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3]
    phase = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
    terms = [repeated("V", volts), repeated("I", amperes), repeated("phi", phase)]
    r = np.corrcoef([volts, amperes, phase])
    correlations = {("V", "I"): r[0, 1], ("V", "phi"): r[0, 2], ("I", "phi"): r[1, 2]}
    assert [round(one, 2) for one in correlations.values()] == [-0.36, 0.86, -0.65]
    for model, value, u in (
        (lambda v, i, p: v / i * np.cos(p), 127.732, 0.071),
        (lambda v, i, p: v / i * np.sin(p), 219.847, 0.295),
        (lambda v, i, p: v / i, 254.260, 0.236),
    ):
        made = propagate(model, terms, correlations)
        assert made.value == pytest.approx(value, abs=0.0005)
        # from the readings themselves u of X is 0.2956, where print has 0.295, cut off or from rounded means
        assert made.u == pytest.approx(u, abs=0.0006)
        # read together, so they share their four degrees of freedom
        assert made.dof == pytest.approx(4.0)


def test_burette_of_quam_a2() -> None:
    """EURACHEM/CITAC QUAM, example A2: 18.64 ml, calibration ± 0.03 ml triangular, temperature u 0.006 ml: u 0.0136 ml."""
    made = propagate(lambda v, scale, t: v + scale + t, [normal("v", 18.64, 0.0), triangular("s", 0.0, 0.03), normal("t", 0.0, 0.006)])
    assert made.value == 18.64
    assert made.u == pytest.approx(0.0136, abs=0.00005)


def comparison_loss(a, b):
    return a**2 + b**2


def test_comparison_loss_at_zero_of_jcgm_101() -> None:
    """JCGM 101:2008, 9.4 at zero, u 0.005 each (from memory, recomputed: the sum is a scaled chi-squared of two, mean and u 50e-6,
    95 % below 149.8e-6): first order gives 0, and the validation criterion says that it will not do."""
    terms = [normal("x1", 0.0, 0.005), normal("x2", 0.0, 0.005)]
    first, simulated = propagate(comparison_loss, terms), simulate(comparison_loss, terms, draws=400_000)
    assert first.u == 0.0
    assert simulated.mean == pytest.approx(50e-6, abs=0.3e-6)
    assert simulated.u == pytest.approx(50e-6, abs=0.5e-6)
    assert simulated.shortest[0] == pytest.approx(0.0, abs=1e-8)
    assert simulated.shortest[1] == pytest.approx(-50e-6 * math.log(0.05), abs=1.5e-6)
    assert not validation(first, simulated).agrees


def test_comparison_loss_away_from_zero_is_validated() -> None:
    """At 0.050 first order is nearly right (JCGM 101:2008, 9.4.2.3.3): u = 2 x 0.050 x 0.005 = 500e-6."""
    terms = [normal("x1", 0.050, 0.005), normal("x2", 0.0, 0.005)]
    assert propagate(comparison_loss, terms).u == pytest.approx(500e-6, rel=1e-9)


def mass(read, added, air, weights, reference):
    return (read + added) * (1.0 + (air - 1.2) * (1.0 / weights - 1.0 / reference)) - 100_000.0


MASS = [
    normal("reference [mg]", 100_000.0, 0.050),
    normal("added [mg]", 1.234, 0.020),
    rectangular("air [kg/m³]", 1.2, 0.1),
    rectangular("density of the weight", 8000.0, 1000.0),
    rectangular("density of the reference", 8000.0, 50.0),
]


def test_mass_calibration_of_jcgm_101() -> None:
    """JCGM 101:2008, 9.3 (from memory): first order 1.2340 mg, u 0.0539, [1.1285, 1.3395]; simulation 1.2341, 0.0754,
    [1.0834, 1.3825]; to one digit of u not validated, the ends apart by 0.0451 and 0.0430.

    Second route: the variance of the product in closed form, with the moments of 1/ρ of a rectangle (0.07548)."""
    first, simulated = propagate(mass, MASS), simulate(mass, MASS, draws=400_000)
    assert first.value == pytest.approx(1.2340, abs=5e-5)
    assert first.u == pytest.approx(0.0539, abs=5e-5)
    assert first.interval() == pytest.approx((1.1285, 1.3395), abs=5e-5)

    def moments(low: float, high: float) -> tuple[float, float]:
        mean = math.log(high / low) / (high - low)
        return mean, 1.0 / (low * high) - mean**2

    (one, spread), (other, small) = moments(7000.0, 9000.0), moments(7950.0, 8050.0)
    exact = math.sqrt(0.05**2 + 0.02**2 + 100_001.234**2 * 0.1**2 / 3 * (spread + small + (one - other) ** 2))
    assert exact == pytest.approx(0.0754, abs=1e-4)
    assert simulated.u == pytest.approx(exact, rel=0.005)
    assert simulated.mean == pytest.approx(1.234, abs=5e-4)
    assert simulated.shortest == pytest.approx((1.0834, 1.3825), abs=0.002)
    made = validation(first, simulated, digits=1)
    assert (made.agrees, made.tolerated) == (False, 0.005)
    assert made.difference == pytest.approx(0.0451, abs=0.0025)


def block(standard, difference, random, systematic, expansion, room, swing, apart, part, warmer, share):
    # the two half-widths that are not exactly known times where between them: what is written as a curvilinear trapezoid there
    return (
        standard + difference + random + systematic - standard * (apart * part * (room + swing) + expansion * warmer * share) - 50_000_000.0
    )


BLOCK = [
    normal("standard [nm]", 50_000_623.0, 25.0, 18),
    normal("difference", 215.0, 6.0, 24),
    normal("comparator, random", 0.0, 4.0, 5),
    normal("comparator, systematic", 0.0, 7.0, 8),
    rectangular("expansion", 11.5e-6, 2e-6),
    normal("room", -0.1, 0.2),
    arcsine("swing of the room", 0.0, 0.5),
    rectangular("half-width of the difference of expansion", 1e-6, 0.1e-6),
    rectangular("difference of expansion, of it", 0.0, 1.0),
    rectangular("half-width of the difference of temperature", 0.05, 0.025),
    rectangular("difference of temperature, of it", 0.0, 1.0),
]


def test_gauge_block_of_jcgm_101() -> None:
    """JCGM 101:2008, 9.5 (from memory): 838 nm; first order u 32, simulation u 36 and a shortest 99 % interval of [745, 932], of
    whose last digit we are not sure.

    Second route: the variance in closed form, t-distributions ν/(ν - 2) wider (35.81); the interval again with scipy's own draws."""
    from scipy import stats

    first, simulated = propagate(block, BLOCK), simulate(block, BLOCK, draws=400_000, level=0.99)
    assert round(first.value) == 838
    assert round(first.u) == 32
    scaled = 25**2 * 18 / 16 + 6**2 * 24 / 22 + 4**2 * 5 / 3 + 7**2 * 8 / 6
    between = [(half**2 + spread**2 / 3) / 3 for half, spread in ((1e-6, 0.1e-6), (0.05, 0.025))]
    length = 50_000_623.0
    thermal = length**2 * (between[0] * (0.1**2 + 0.2**2 + 0.5**2 / 2) + between[1] * (11.5e-6**2 + 2e-6**2 / 3))
    exact = math.sqrt(scaled + thermal)
    assert round(exact) == 36
    assert simulated.u == pytest.approx(exact, rel=0.01)
    assert simulated.mean == pytest.approx(838.0, abs=0.5)
    assert simulated.shortest == pytest.approx((745.0, 932.0), abs=2.5)
    random = np.random.default_rng(9)

    def t(scale: float, dof: int):
        return stats.t.rvs(dof, scale=scale, size=400_000, random_state=random)

    def curved(half: float, spread: float):
        return random.uniform(-1, 1, 400_000) * random.uniform(half - spread, half + spread, 400_000)

    room = -0.1 + 0.2 * random.standard_normal(400_000) + 0.5 * np.cos(math.pi * random.random(400_000))
    warmer = random.uniform(9.5e-6, 13.5e-6, 400_000) * curved(0.05, 0.025)
    theirs = 838.0 + t(25, 18) + t(6, 24) + t(4, 5) + t(7, 8) - length * (curved(1e-6, 0.1e-6) * room + warmer)
    assert simulated.interval == pytest.approx(tuple(np.quantile(theirs, [0.005, 0.995])), abs=1.5)
    assert not validation(first, simulated).agrees


@pytest.mark.parametrize(
    ("u", "digits", "tolerated"), [(0.35, 2, 0.005), (0.00035, 1, 0.00005), (31.8, 2, 0.5), (31.8, 1, 5.0), (9.6, 1, 0.5)]
)
def test_what_is_tolerated(u, digits, tolerated) -> None:
    """JCGM 101:2008, 7.9.2: u = c × 10^l, half of 10^l; worked out by hand, as its examples are (0.35 g is 35 × 10⁻²: 0.005 g)."""
    made = validated((0.0, 1.0), (0.0, 1.0 + 0.9 * tolerated), u, digits=digits)
    assert made.tolerated == pytest.approx(tolerated)
    assert made.agrees
    assert not validated((0.0, 1.0), (-1.1 * tolerated, 1.0), u, digits=digits).agrees
    assert not validated((0.0, 1.0), (math.nan, math.nan), u, digits=digits).agrees
    assert validated((2.0, 2.0), (2.0, 2.0), 0.0).agrees


def test_what_is_tolerated_needs_a_digit() -> None:
    with pytest.raises(ValueError, match="digits must be 1 or more; got 0"):
        validated((0.0, 1.0), (0.0, 1.0), 0.1, digits=0)


@pytest.mark.parametrize(
    ("terms", "u", "half"),
    [
        ([normal(str(i), 0.0, 1.0) for i in range(4)], 2.0, 3.92),
        ([rectangular(str(i), 0.0, math.sqrt(3)) for i in range(4)], 2.0, 3.88),
        ([*(rectangular(str(i), 0.0, math.sqrt(3)) for i in range(3)), rectangular("ten", 0.0, 10 * math.sqrt(3))], 10.1, 17.0),
    ],
    ids=["four normals", "four rectangles", "one rectangle ten times the others"],
)
def test_additive_models_of_jcgm_101(terms, u, half) -> None:
    """JCGM 101:2008, 9.2.2 to 9.2.4 (from memory): u and the half-width of the 95 % interval, by simulation, and beside it the first-order
    interval with the factor of terms that have limits: plain k = 1.96 would give 3.92 and 19.9 for the rectangles."""
    first = propagate(lambda *x: sum(x), terms)
    simulated = simulate(lambda *x: sum(x), terms, draws=400_000)
    assert first.u == pytest.approx(u, abs=0.05)
    assert simulated.u == pytest.approx(first.u, rel=0.01)
    assert simulated.interval[1] == pytest.approx(half, abs=0.04 if half < 5 else 0.1)
    assert first.interval()[1] == pytest.approx(simulated.interval[1], rel=0.01)


def test_factor_of_limits_alone() -> None:
    """JCGM 100:2008, G.6.5 and 6.3.3: of a rectangle 95 % lie within 1.65 u (0.95 x half-width); normal 1.96; Student's t, "
    "G.2: 4.30 for 2."""
    assert coverage_factor(math.inf, 0.95, -1.2) == pytest.approx(0.95 * math.sqrt(3), rel=1e-9)
    assert coverage_factor(math.inf, 0.95, -1.5) == pytest.approx(math.sqrt(2) * math.sin(0.95 * math.pi / 2), rel=1e-9)
    assert coverage_factor(math.inf) == pytest.approx(1.959964, abs=1e-6)
    for dof, t in ((1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (10, 2.23), (50, 2.01)):
        assert coverage_factor(dof) == pytest.approx(t, abs=0.005)


def test_effective_degrees_of_freedom() -> None:
    """JCGM 100:2008, G.4.1, its example: u 0.25, 0.57, 0.82 percent with 9, 4 and 14 degrees of freedom give 19.0."""
    assert effective_dof([0.25**2, 0.57**2, 0.82**2], [9, 4, 14]) == pytest.approx(19.0, abs=0.05)


@given(
    us=st.lists(st.floats(0.01, 10.0), min_size=2, max_size=6),
    dofs=st.lists(st.integers(1, 100), min_size=6, max_size=6),
    slopes=st.lists(st.floats(-3.0, 3.0).filter(lambda one: abs(one) > 0.01), min_size=6, max_size=6),
)
def test_agrees_with_gtc(us, dofs, slopes) -> None:
    """GTC, a general library for uncertainty: u and Welch-Satterthwaite's degrees of freedom of the same budget."""
    terms = [normal(str(at), 1.0, u, dof) for at, (u, dof) in enumerate(zip(us, dofs, strict=False))]
    made = propagate(lambda *x: sum(slope * one for slope, one in zip(slopes, x, strict=False)), terms)
    theirs = sum(slope * GTC.ureal(1.0, u, dof) for slope, u, dof in zip(slopes, us, dofs, strict=False))
    assert made.u == pytest.approx(theirs.u, rel=1e-9)
    assert made.dof == pytest.approx(theirs.df, rel=1e-6)


def test_end_gauge_agrees_with_gtc() -> None:
    made = propagate(end_gauge, END_GAUGE)
    theirs = end_gauge(*(GTC.ureal(term.value, term.u, term.dof) for term in END_GAUGE))
    assert made.value == pytest.approx(theirs.x, rel=1e-12)
    assert made.u == pytest.approx(theirs.u, rel=1e-6)
    assert made.dof == pytest.approx(theirs.df, rel=1e-5)


def test_a_burette_agrees_with_gtc() -> None:
    """The budget of a burette reading, built again in GTC from its own terms."""
    fills = [6.42e-6, 6.38e-6, 6.41e-6]
    made = te.measure.burette(
        setup="plate",
        plug="fitted",
        fillings=[["0.00 ml", "6.42 ml"], ["0.00 ml", "6.38 ml"], ["0.00 ml", "6.41 ml"]],
        nominal="25 ml",
        division="0.1 ml",
        grade="A",
        standard="ISO 385",
        temperature="23 degC ± 2 degC",
        grease="0.02 cc ± 0.02 cc",
    )
    fill = GTC.type_a.estimate(fills)
    scale = GTC.ureal(0.0, GTC.type_b.uniform(0.05e-6))
    step = GTC.ureal(0.0, 0.05e-6 * math.sqrt(2) / math.sqrt(12))
    celsius, warmer = GTC.ureal(23.0, GTC.type_b.uniform(2.0)), GTC.ureal(0.0, GTC.type_b.uniform(2.0))
    grease = GTC.ureal(0.02e-6, GTC.type_b.uniform(0.02e-6))
    whole = (fill + scale + step) * (1 + 9.9e-6 * (celsius - 20)) * (1 + 8.3e-4 * warmer) + grease
    assert made.value == pytest.approx(whole.x * 1e6, rel=1e-12)
    assert made.u == pytest.approx(whole.u * 1e6, rel=1e-6)
    assert made.dof == pytest.approx(whole.df, rel=1e-4)


def test_arrays_are_many_builds() -> None:
    spreads = np.array([[1.0, 1.1, 1.2], [2.0, 2.0, 2.3]])
    many = propagate(lambda a, b: a * b, [repeated("a", spreads), rectangular("b", 2.0, 0.1)])
    for row, readings in enumerate(spreads):
        one = propagate(lambda a, b: a * b, [repeated("a", readings), rectangular("b", 2.0, 0.1)])
        for name in ("value", "u", "dof", "kurtosis"):
            assert getattr(many, name)[row] == pytest.approx(getattr(one, name), rel=1e-12)


def test_correlated_terms_by_simulation_and_by_first_order() -> None:
    terms = [normal("a", 1.0, 0.1), normal("b", 2.0, 0.2)]
    first = propagate(lambda a, b: a + b, terms, {("a", "b"): 0.9})
    assert first.u == pytest.approx(math.sqrt(0.01 + 0.04 + 2 * 0.9 * 0.02))
    simulated = simulate(lambda a, b: a + b, terms, {("a", "b"): 0.9})
    assert simulated.u == pytest.approx(first.u, rel=0.01)
    assert validation(first, simulated).agrees


def test_few_readings_are_a_t_distribution_in_simulation() -> None:
    """JCGM 101:2008, 6.4.9: the 95 % interval of a mean of three is ± 4.30 s/√3."""
    term = repeated("a", [1.0, 1.1, 1.2])
    simulated = simulate(lambda a: a, [term], draws=400_000)
    assert simulated.interval[1] - 1.1 == pytest.approx(4.303 * term.u, rel=0.02)


def test_refusals() -> None:
    with pytest.raises(te.PartError) as caught:
        repeated("deck", [1.65])
    assert str(caught.value) == "repeated: deck was read once: one reading has no spread; read it three times, or state a spread"
    with pytest.raises(te.PartError) as caught:
        simulate(lambda a, b: a + b, [rectangular("a", 0.0, 1.0), normal("b", 0.0, 1.0)], {("a", "b"): 0.5})
    assert str(caught.value) == "simulate: a is correlated but not normal: no one distribution follows from that"


def test_contributions_that_cancel() -> None:
    made = combined(0.0, [Contribution("a", 0.0, 2, "normal")])
    assert (made.u, made.dof, made.kurtosis) == (0.0, math.inf, 0.0)
    assert budget.LEVEL == 0.95


@pytest.mark.parametrize("share", [0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.98])
def test_a_rectangle_beside_a_normal_covers_exactly(share) -> None:
    """The probability that the interval claims, by quadrature of the exact sum (scipy)."""
    from scipy import integrate, special

    rest = math.sqrt(1.0 - share**2)
    made = propagate(lambda a, b: a + b, [rectangular("a", 0.0, share * math.sqrt(3)), normal("b", 0.0, rest)])
    high, half = made.interval()[1], share * math.sqrt(3)
    held, _ = integrate.quad(lambda at: special.ndtr((high - at) / rest) - special.ndtr((-high - at) / rest), -half, half)
    assert held / (2 * half) == pytest.approx(0.95, abs=0.003)
