"""Readings in, values with their uncertainty out: as people take them at the bench.

Each function takes what was written down and gives a `Measured`: value, standard uncertainty, degrees of freedom, budget. The
classes behind them (`Burette`, `Wire`, ...) are the same as records, as a file of readings holds them.
"""

from topend.measure.burette import Burette, Weighing, burette, weighing
from topend.measure.deck import Deck, Dial, deck, dial
from topend.measure.gap import GapFound, Strip, Wire, gap, strip
from topend.measure.head import BandAngle, BandOffset, band_angle, band_offset
from topend.measure.length import GasketThickness, LengthOf, gasket, length
from topend.measure.measured import Measured, Reading
from topend.measure.reconcile import Reconciled, Residual, propagate_measured, reconcile
from topend.measure.timing import Timing, timing

__all__ = [
    "BandAngle",
    "BandOffset",
    "Burette",
    "Deck",
    "Dial",
    "GapFound",
    "GasketThickness",
    "LengthOf",
    "Measured",
    "Reading",
    "Reconciled",
    "Residual",
    "Strip",
    "Timing",
    "Weighing",
    "Wire",
    "band_angle",
    "band_offset",
    "burette",
    "deck",
    "dial",
    "gap",
    "gasket",
    "length",
    "propagate_measured",
    "reconcile",
    "strip",
    "timing",
    "weighing",
]


def __dir__() -> list[str]:
    # not the modules behind them, half of which bear a function's name
    return __all__
