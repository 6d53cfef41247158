"""Solvers: targets in, parts out."""

from topend.solve.answers import Combination, Fit, Miss
from topend.solve.gaskets import fit_gaskets

__all__ = ["Combination", "Fit", "Miss", "fit_gaskets"]
