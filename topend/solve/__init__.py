"""Solvers: targets in, parts out."""

from topend.solve.answers import Combination, Fit, Miss
from topend.solve.compare import Comparison, compare
from topend.solve.correct import Correction, Corrections, correct
from topend.solve.cut_sheet import CutLine, CutSheet
from topend.solve.cuts import cut
from topend.solve.design import Design, DesignedHead, Designs, RefusedHead, design_columns, design_head, volume_to_remove
from topend.solve.families import Family
from topend.solve.fixture import FamilyFit, FixtureCheck, fixture_check
from topend.solve.gaskets import fit_gaskets
from topend.solve.plan_range import RangePlan, plan_range
from topend.solve.swap import Swap, swap

__all__ = [
    "Combination",
    "Comparison",
    "Correction",
    "Corrections",
    "CutLine",
    "CutSheet",
    "Design",
    "DesignedHead",
    "Designs",
    "Family",
    "FamilyFit",
    "Fit",
    "FixtureCheck",
    "Miss",
    "RangePlan",
    "RefusedHead",
    "Swap",
    "compare",
    "correct",
    "cut",
    "design_columns",
    "design_head",
    "fit_gaskets",
    "fixture_check",
    "plan_range",
    "swap",
    "volume_to_remove",
]
