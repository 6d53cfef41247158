"""Solvers: targets in, parts out."""

from topend.solve.answers import Combination, Fit, Miss
from topend.solve.families import Family
from topend.solve.gaskets import fit_gaskets
from topend.solve.plan_range import RangePlan, plan_range

__all__ = ["Combination", "Family", "Fit", "Miss", "RangePlan", "fit_gaskets", "plan_range"]
