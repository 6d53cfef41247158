"""Budgets: a measurement model, the terms that enter it, and what they make of its value.

First order and effective degrees of freedom as JCGM 100:2008 has them (5.1, 5.2, annex G), simulation and its validation
criterion as JCGM 101:2008 has them (clauses 7 and 8). A model is a function of floats or arrays, one argument a term; a
term may itself be an array, one value a build, so that ten thousand builds cost one call.

What has limits at a door (a part, a top end) is carried through rows by `topend.uncertainty`; what is *read* is worked out here.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from topend.coverage import DIVISORS, LEVEL, Shape, Validation, coverage_factor, excess_kurtosis, validated
from topend.errors import PartError, Problem

__all__ = [
    "DIVISORS",
    "LEVEL",
    "Contribution",
    "Propagated",
    "Shape",
    "Simulated",
    "Term",
    "arcsine",
    "combined",
    "coverage_factor",
    "drawn",
    "effective_dof",
    "normal",
    "propagate",
    "rectangular",
    "repeated",
    "resolution",
    "simulate",
    "spread_known",
    "triangular",
    "validation",
]


@dataclass(frozen=True, slots=True)
class Term:
    """One quantity that enters a model: its value, standard uncertainty, degrees of freedom, and the shape of what is known.

    `shared` names an effect that other measurements have in common with this one (the scale of one burette): such terms are
    one error, not two.
    """

    name: str
    value: Any
    u: Any
    dof: Any = math.inf
    shape: Shape = "normal"
    shared: str | None = None


def normal(name: str, value: Any, u: Any, dof: Any = math.inf, *, shared: str | None = None) -> Term:
    """A value with a standard uncertainty; with degrees of freedom, if it has few."""
    return Term(name, value, u, dof, "normal", shared)


def rectangular(name: str, value: Any, half_width: Any, *, shared: str | None = None) -> Term:
    """A value that lies somewhere within ± `half_width`, nobody knows where: u = half-width/√3.

    >>> round(rectangular("gauge", 0.0, 0.03).u, 4)
    0.0173
    """
    return Term(name, value, half_width / DIVISORS["rectangular"], math.inf, "rectangular", shared)


def triangular(name: str, value: Any, half_width: Any, *, shared: str | None = None) -> Term:
    """A value within ± `half_width`, likeliest in the middle: u = half-width/√6."""
    return Term(name, value, half_width / DIVISORS["triangular"], math.inf, "triangular", shared)


def arcsine(name: str, value: Any, half_width: Any, *, shared: str | None = None) -> Term:
    """A value that swings within ± `half_width` (a room's temperature): u = half-width/√2."""
    return Term(name, value, half_width / DIVISORS["arcsine"], math.inf, "arcsine", shared)


def resolution(name: str, value: Any, step: Any, *, shared: str | None = None) -> Term:
    """A value rounded to whole steps: u = step/√12 (JCGM 100:2008, F.2.2.1)."""
    return rectangular(name, value, step / 2.0, shared=shared)


def repeated(name: str, readings: Any) -> Term:
    """The mean of n readings along the last axis: u = s/√n with n - 1 degrees of freedom (JCGM 100:2008, 4.2).

    >>> mean = repeated("deck", [1.64, 1.66, 1.65])
    >>> round(mean.value, 3), round(mean.u, 5), mean.dof
    (1.65, 0.00577, 2)
    """
    many = np.asarray(readings, dtype=np.float64)
    count = many.shape[-1]
    if count < 2:
        raise PartError("repeated", [Problem(name, "was read once: one reading has no spread; read it three times, or state a spread")])
    value, spread = many.mean(axis=-1), many.std(axis=-1, ddof=1) / math.sqrt(count)
    return Term(name, value if many.ndim > 1 else float(value), spread if many.ndim > 1 else float(spread), count - 1)


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one term brings: `u` in the unit of the result, signed by how the result follows the term."""

    name: str
    u: Any
    dof: Any
    shape: Shape
    shared: str | None = None


@dataclass(frozen=True)
class Propagated:
    """The value of a model to first order: `u`, effective degrees of freedom, and each term's contribution.

    `kurtosis` is the excess kurtosis of the symmetric beta distribution that has the result's 95 % point: below zero where terms with
    limits rule it.
    """

    value: Any
    u: Any
    dof: Any
    kurtosis: Any
    contributions: tuple[Contribution, ...]

    def factor(self, level: float = LEVEL) -> Any:
        """The coverage factor for `level`."""
        return coverage_factor(self.dof, level, self.kurtosis)

    def interval(self, level: float = LEVEL) -> tuple[Any, Any]:
        """Where the truth lies with probability `level`."""
        half = self.factor(level) * self.u
        return self.value - half, self.value + half


def propagate(model: Callable[..., Any], terms: Sequence[Term], correlations: Mapping[tuple[str, str], float] | None = None) -> Propagated:
    """The value of `model` and its standard uncertainty to first order (JCGM 100:2008, 5.1.2 and 5.2.2).

    Parameters: `model` takes the terms' values in their order; it is called once, with every term moved down and up by its own u
    (5.1.3, note 2). `correlations` gives r by pairs of names; what is not named is independent.

    >>> made = propagate(lambda a, b: a * b, [normal("a", 2.0, 0.1), rectangular("b", 3.0, 0.1)])
    >>> round(made.value, 3), round(made.u, 4)
    (6.0, 0.3215)
    """
    shape = np.broadcast_shapes(*(np.shape(one) for term in terms for one in (term.value, term.u)))
    count = len(terms)
    columns = []
    for index, term in enumerate(terms):
        column = np.array(np.broadcast_to(term.value, (2 * count + 1, *shape)), dtype=np.float64)
        column[2 * index + 1] -= term.u
        column[2 * index + 2] += term.u
        columns.append(column)
    made = np.broadcast_to(np.asarray(model(*columns), dtype=np.float64), (2 * count + 1, *shape))
    halves = (made[2::2] - made[1::2]) / 2.0
    contributions = tuple(
        Contribution(term.name, _plain(half), term.dof, term.shape, term.shared) for term, half in zip(terms, halves, strict=True)
    )
    return combined(made[0], contributions, correlations)


def combined(value: Any, contributions: Sequence[Contribution], correlations: Mapping[tuple[str, str], float] | None = None) -> Propagated:
    """The contributions to one value, put together: u, effective degrees of freedom, kurtosis."""
    pairs = {frozenset(pair): r for pair, r in (correlations or {}).items()}
    groups = _groups(contributions, pairs) if pairs else [[one] for one in contributions]
    variances: list[Any] = []
    dofs: list[Any] = []
    for group in groups:
        variance: Any = sum(np.square(one.u) for one in group)
        for index, one in enumerate(group):
            for other in group[index + 1 :]:
                variance = variance + 2.0 * pairs.get(frozenset((one.name, other.name)), 0.0) * np.asarray(one.u) * other.u
        variances.append(variance)
        # read together: they share their degrees of freedom
        dofs.append(functools.reduce(np.minimum, [one.dof for one in group]))
    square: Any = sum(variances, np.zeros(()))
    u = np.sqrt(np.maximum(square, 0.0))
    kurtosis = excess_kurtosis([(one.u, one.shape) for one in contributions], u)
    dof = effective_dof(variances, dofs)
    return Propagated(_plain(value), _plain(u), _plain(dof), _plain(kurtosis), tuple(contributions))


def _groups(contributions: Sequence[Contribution], pairs: Mapping[frozenset[str], float]) -> list[list[Contribution]]:
    """Contributions by what is correlated with what."""
    groups: list[list[Contribution]] = []
    for one in contributions:
        near = [group for group in groups if any(pairs.get(frozenset((one.name, other.name)), 0.0) for other in group)]
        groups = [group for group in groups if not any(group is other for other in near)]
        groups.append([*(member for group in near for member in group), one])
    return groups


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value


def effective_dof(variances: Sequence[Any], dofs: Sequence[Any]) -> Any:
    """Effective degrees of freedom of a sum of independent variances (Welch-Satterthwaite; JCGM 100:2008, G.4.1, eq. G.2b).

    Not rounded down: the t-distribution is defined between whole numbers, and rounding would widen every interval.

    >>> round(effective_dof([0.1**2, 0.2**2], [2, 10]), 1)
    11.9
    """
    whole: Any = sum((np.asarray(one, dtype=np.float64) for one in variances), np.zeros(()))
    with np.errstate(all="ignore"):
        parts: Any = sum((np.square(one) / dof for one, dof in zip(variances, dofs, strict=True)), np.zeros(()))
        return _plain(np.where(parts > 0.0, np.square(whole) / parts, math.inf))


# --- simulation ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Simulated:
    """A model's value by simulation: mean, standard deviation, and two intervals at one level.

    `interval` leaves out as much below as above; `shortest` is the shortest that holds the level (JCGM 101:2008, 7.7).
    """

    mean: float
    u: float
    interval: tuple[float, float]
    shortest: tuple[float, float]
    level: float
    draws: int


def simulate(
    model: Callable[..., Any],
    terms: Sequence[Term],
    correlations: Mapping[tuple[str, str], float] | None = None,
    *,
    draws: int = 200_000,
    seed: int = 1,
    level: float = LEVEL,
) -> Simulated:
    """The value of `model` by drawing every term from its own distribution (JCGM 101:2008, clause 7).

    Few degrees of freedom are a scaled and shifted t-distribution (6.4.9); correlated terms must be normal (6.4.8).

    >>> made = simulate(lambda a, b: a**2 + b**2, [normal("a", 0.0, 0.005), normal("b", 0.0, 0.005)])
    >>> f"{made.mean:.1e} {made.u:.1e}"
    '5.0e-05 5.0e-05'
    """
    random = np.random.default_rng(seed)
    columns = drawn(terms, correlations or {}, draws, random)
    made = np.sort(np.broadcast_to(np.asarray(model(*columns), dtype=np.float64), (draws,)))
    held = round(level * draws)
    below = (draws - held) // 2
    widths = made[held:] - made[: draws - held]
    at = int(np.argmin(widths))
    return Simulated(
        float(made.mean()),
        float(made.std(ddof=1)),
        (float(made[below]), float(made[below + held])),
        (float(made[at]), float(made[at + held])),
        level,
        draws,
    )


def spread_known(terms: Sequence[Term]) -> list[Term]:
    """The same terms as if the spread of each were known: normal, where few readings are Student's t."""
    return [replace(term, dof=math.inf) for term in terms]


def drawn(terms: Sequence[Term], correlations: Mapping[tuple[str, str], float], draws: int, random: np.random.Generator) -> list[Any]:
    """Draws of each term from its own distribution, `draws` of each; correlated ones together."""
    names = [term.name for term in terms]
    related = sorted({name for pair in correlations for name in pair}, key=names.index)
    columns: dict[str, Any] = {}
    if related:
        chosen = [terms[names.index(name)] for name in related]
        bad = [term.name for term in chosen if term.shape != "normal"]
        if bad:
            raise PartError("simulate", [Problem(", ".join(bad), "is correlated but not normal: no one distribution follows from that")])
        matrix = np.eye(len(related))
        for (one, other), r in correlations.items():
            at, beside = related.index(one), related.index(other)
            matrix[at, beside] = matrix[beside, at] = r
        joint = random.multivariate_normal(np.zeros(len(related)), matrix, size=draws, method="eigh")
        columns = {term.name: term.value + term.u * joint[:, index] for index, term in enumerate(chosen)}
    for term in terms:
        if term.name not in columns:
            columns[term.name] = term.value + term.u * _standard(term, draws, random)
    return [columns[name] for name in names]


def _standard(term: Term, draws: int, random: np.random.Generator) -> Any:
    """Draws of the term's shape, of standard deviation 1 (of scale 1 for few degrees of freedom)."""
    if term.shape == "rectangular":
        return random.uniform(-1.0, 1.0, draws) * DIVISORS["rectangular"]
    if term.shape == "triangular":
        return (random.uniform(-0.5, 0.5, draws) + random.uniform(-0.5, 0.5, draws)) * DIVISORS["triangular"]
    if term.shape == "arcsine":
        return np.sin(random.uniform(0.0, 2.0 * math.pi, draws)) * DIVISORS["arcsine"]
    return random.standard_normal(draws) if math.isinf(term.dof) else random.standard_t(term.dof, draws)


def validation(first: Propagated, simulated: Simulated, *, digits: int = 2) -> Validation:
    """Whether first order is good enough beside a simulation (JCGM 101:2008, 8.1): `topend.coverage.validated` on both intervals.

    >>> validation(propagate(lambda a: a, [normal("a", 1.0, 0.1)]), simulate(lambda a: a, [normal("a", 1.0, 0.1)])).agrees
    True
    """
    # where first order says 0 the simulation's own u is the scale
    return validated(first.interval(simulated.level), simulated.interval, first.u if first.u > 0.0 else simulated.u, digits=digits)
