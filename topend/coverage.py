"""How far an interval about a value reaches, and whether first order is good enough for it.

Standard uncertainties of limits (JCGM 100:2008, 4.3), coverage factors for few readings and for limits (annex G), and the
criterion by which simulation validates first order (JCGM 101:2008, clause 8). Floats or arrays alike.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

import numpy as np
from scipy import special

__all__ = ["DIGITS", "DIVISORS", "LEVEL", "Shape", "Validation", "coverage_factor", "excess_kurtosis", "validated"]

Shape = Literal["normal", "rectangular", "triangular", "arcsine"]

#: Half-width over standard uncertainty (JCGM 100:2008, 4.3.7, 4.3.9 and H.1.3.4).
DIVISORS: Final[Mapping[Shape, float]] = {"rectangular": math.sqrt(3.0), "triangular": math.sqrt(6.0), "arcsine": math.sqrt(2.0)}
#: Excess kurtosis of each shape: how much shorter its tails are than the normal's.
_KURTOSIS: Final[Mapping[Shape, float]] = {"normal": 0.0, "rectangular": -1.2, "triangular": -0.6, "arcsine": -1.5}
#: See `excess_kurtosis`: by the exact 95 % points of a rectangle and a normal of any ratio, whose coverage is then within 0.2 in 100.
_RULING: Final = 0.43
#: Level of the intervals that are shown.
LEVEL: Final = 0.95
#: Digits of u that count in the criterion where nobody says otherwise (one or two, JCGM 101:2008, 7.9.2).
DIGITS: Final = 1


def excess_kurtosis(shares: Iterable[tuple[Any, Shape]], u: Any) -> Any:
    """Excess kurtosis of the symmetric beta distribution that has the 95 % point of the whole.

    Parameters: `shares` of the terms to the standard uncertainty `u` of the whole, with their shapes. 0 where `u` is 0.

    >>> round(float(excess_kurtosis([(1.0, "rectangular")], 1.0)), 3), float(excess_kurtosis([(1.0, "normal")], 1.0))
    (-1.2, 0.0)
    """
    shares = list(shares)
    square = np.square(u)
    limited: Any = sum((_KURTOSIS[shape] * np.square(one) ** 2 for one, shape in shares if shape != "normal"), np.zeros(()))
    # a rectangle that rules beside a near-normal rest has its 95 % point lower than its kurtosis says; fitted to their exact sum
    ruling = functools.reduce(np.maximum, [np.square(one) for one, shape in shares if shape == "rectangular"], 0.0)
    with np.errstate(all="ignore"):
        share = np.where(square > 0.0, np.square(ruling / square), 0.0)
        made = limited / square**2 + _KURTOSIS["rectangular"] * share * _RULING * (1.0 - share)
        return np.where(square > 0.0, made, 0.0)


def coverage_factor(dof: Any, level: float = LEVEL, kurtosis: Any = 0.0) -> Any:
    """How many standard uncertainties on either side hold the truth with probability `level`.

    Student's factor for `dof` (JCGM 100:2008, G.3 and G.4). Where terms with limits rule the result (`kurtosis` below zero) its tails are
    shorter than the normal's, and Student's factor would claim too little (G.6.5 gives 1.65 for a rectangle): it is scaled by the
    factor of the symmetric beta distribution of that kurtosis over the normal's.

    >>> round(coverage_factor(2), 2), round(coverage_factor(float("inf"), 0.95, -1.2), 3), round(coverage_factor(16, 0.99), 2)
    (4.3, 1.645, 2.92)
    """
    at = 0.5 + level / 2.0
    dof = np.asarray(dof, dtype=np.float64)
    gauss = special.ndtri(at)
    student = np.where(np.isinf(dof), gauss, special.stdtrit(np.where(np.isinf(dof), 1.0, dof), at))
    short = np.clip(np.asarray(kurtosis, dtype=np.float64), -1.999, 0.0)
    alpha = (6.0 / np.maximum(-short, 1e-4) - 3.0) / 2.0
    beta = (2.0 * special.betaincinv(alpha, alpha, at) - 1.0) * np.sqrt(2.0 * alpha + 1.0)
    made = student * np.where(short < -1e-3, beta / gauss, 1.0)
    return float(made) if np.ndim(made) == 0 else made


@dataclass(frozen=True, slots=True)
class Validation:
    """First order beside a simulation (JCGM 101:2008, 8.1): two intervals of one level, and whether they are the same for our purpose.

    `agrees` where neither end differs by more than `tolerated`, half of the last of `digits` significant digits of u. `difference` is that
    of the end that differs more.
    """

    first: tuple[float, float]
    drawn: tuple[float, float]
    difference: float
    tolerated: float
    digits: int

    @property
    def agrees(self) -> bool:
        """Whether first order is enough."""
        return self.difference <= self.tolerated

    def to_dict(self) -> dict[str, Any]:
        """As plain data; what no draw gave is None."""
        return {
            "agrees": self.agrees,
            "first_order": list(self.first),
            "drawn": [one if math.isfinite(one) else None for one in self.drawn],
            "difference": self.difference if math.isfinite(self.difference) else None,
            "tolerated": self.tolerated,
            "digits": self.digits,
        }


def validated(first: tuple[float, float], drawn: tuple[float, float], u: float, *, digits: int = DIGITS) -> Validation:
    """The interval `first`, of first order and standard uncertainty `u`, beside the one that was `drawn`.

    With u = c × 10^l and c of `digits` digits, the ends may differ by half of 10^l (JCGM 101:2008, 7.9.2 and 8.1.2). The draws must be so
    many that their own error is well below that.

    >>> found = validated((0.80, 0.96), (0.81, 0.97), 0.04)
    >>> found.agrees, round(found.difference, 3), found.tolerated
    (False, 0.01, 0.005)
    """
    if digits < 1:
        raise ValueError(f"digits must be 1 or more; got {digits}")
    worst = max(abs(first[0] - drawn[0]), abs(first[1] - drawn[1]))
    if math.isnan(first[0] - drawn[0]) or math.isnan(first[1] - drawn[1]):
        worst = math.nan
    # where nothing moves the two differ by rounding alone
    rounding = 1e-12 * max(abs(first[0]), abs(first[1]))
    tolerated = 0.5 * 10.0 ** (math.floor(math.log10(u)) - digits + 1) if u > rounding else rounding
    return Validation(first, drawn, worst, tolerated, digits)
