"""Solvers: targets in, parts out."""

from topend.solve.gaskets import Combination, Fit, Miss, fit_gaskets

__all__ = ["Combination", "Fit", "Miss", "fit_gaskets"]
