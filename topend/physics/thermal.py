"""Hot: what parts grow by, and whether the gap opens or closes. The sign is worked out, never assumed: it depends on cooling.

Growth is length times mean expansion times rise over the temperature at which the cold size was read. Case and barrel lift the
head, crank, rod and piston lift the crown. Not modelled: gradients within a part, growth of a gasket or of a spigot into the bore, a
crown that is hotter in its middle, a piston that is not round.

Arguments mean the same in every kernel here, and broadcast together: expansions [1/K], rises [K] over the cold reading, lengths
and diameters [m].
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.physics.kernel import kernel

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["MATERIALS", "Material", "diametral_clearance_hot", "hot_gap_change", "ring_gap_closing"]


@dataclass(frozen=True, slots=True)
class Material:
    """Mean linear expansion of a material [1/K], its range, the temperatures it is for, and where it is from."""

    name: str
    low: float
    mean: float
    high: float
    temperatures: str
    source: str


_SHEETS: Final = "published data sheets of the alloy, seen in copies; temperature range from memory"

#: Means and ranges of mean expansion. A source that gives one figure has ± 3 % put on it, since sheets of one alloy differ by that.
MATERIALS: Final[dict[str, Material]] = {
    made.name: made
    for made in (
        Material("4032", 18.8e-6, 19.4e-6, 20.0e-6, "20 to 100 °C", _SHEETS),
        Material("2218", 21.6e-6, 22.3e-6, 23.0e-6, "20 to 100 °C", _SHEETS),
        Material("356", 20.9e-6, 21.5e-6, 22.1e-6, "20 to 100 °C", _SHEETS),
        Material("AlSi12CuNiMg", 20.5e-6, 21.0e-6, 21.5e-6, "20 to 200 °C", "published data sheets of the alloy, seen in copies"),
        Material("grey iron", 11.0e-6, 11.4e-6, 11.8e-6, "20 to 200 °C", _SHEETS),
        Material("steel", 11.0e-6, 11.75e-6, 12.5e-6, "20 to 200 °C", _SHEETS),
        # where only the kind of metal is known
        Material("aluminium", 18.8e-6, 20.9e-6, 23.0e-6, "20 to 200 °C", "range of the aluminium alloys above"),
    )
}


@kernel
def hot_gap_change(
    *,
    seat_height: Column,
    cylinder_height: Column,
    throw: Column,
    rod_length: Column,
    compression_height: Column,
    case_expansion: Column,
    cylinder_expansion: Column,
    crank_expansion: Column,
    rod_expansion: Column,
    piston_expansion: Column,
    case_rise: Column,
    cylinder_rise: Column,
    crank_rise: Column,
    rod_rise: Column,
    piston_rise: Column,
) -> Column:
    """Change of the gap from cold to hot [m], positive where it opens.

    Parameters: the heights that lift the head, `seat_height` (crank axis to case face) and `cylinder_height`; those that lift the crown,
    `throw`, `rod_length` and `compression_height`; of each its expansion (`case_expansion`, `cylinder_expansion`, `crank_expansion`,
    `rod_expansion`, `piston_expansion`) and its rise (`case_rise`, `cylinder_rise`, `crank_rise`, `rod_rise`, `piston_rise`), as the
    module says. Equation: Σ α h ΔT of the first two less that of the last three.

    >>> stack = dict(seat_height=0.060, cylinder_height=0.10925, throw=0.02725, rod_length=0.110, compression_height=0.032,
    ...              case_expansion=21.5e-6, cylinder_expansion=21.5e-6, crank_expansion=12.3e-6, rod_expansion=12.3e-6,
    ...              piston_expansion=19.4e-6)
    >>> d = hot_gap_change(**stack, case_rise=55, cylinder_rise=70, crank_rise=80, rod_rise=100, piston_rise=180)
    >>> round(float(d) * 1e3, 8)
    -0.03848675
    """
    head = case_expansion * seat_height * case_rise + cylinder_expansion * cylinder_height * cylinder_rise
    crown = crank_expansion * throw * crank_rise + rod_expansion * rod_length * rod_rise
    return head - (crown + piston_expansion * compression_height * piston_rise)


@kernel
def diametral_clearance_hot(
    *,
    outer_diameter: Column,
    inner_diameter: Column,
    outer_expansion: Column,
    inner_expansion: Column,
    outer_rise: Column,
    inner_rise: Column,
) -> Column:
    """Diametral clearance hot [m] of one part in another; negative where it is gone.

    Parameters: `outer_diameter` of the bore and `inner_diameter` of the part in it, cold [m]; `outer_expansion` and `inner_expansion`
    [1/K]; `outer_rise` and `inner_rise` [K].

    >>> c = diametral_clearance_hot(outer_diameter=0.054, inner_diameter=0.05395, outer_expansion=21.5e-6, inner_expansion=19.4e-6,
    ...                             outer_rise=90.0, inner_rise=120.0)
    >>> round(float(c) * 1e6, 2)
    28.89
    """
    return outer_diameter * (1.0 + outer_expansion * outer_rise) - inner_diameter * (1.0 + inner_expansion * inner_rise)


@kernel
def ring_gap_closing(*, bore: Column, ring_expansion: Column, bore_expansion: Column, ring_rise: Column, bore_rise: Column) -> Column:
    """How much a ring's gap closes hot [m], negative where it opens: π D (α_ring ΔT_ring - α_bore ΔT_bore).

    Parameters: `bore` D [m]; `ring_expansion` and `bore_expansion` [1/K]; `ring_rise` and `bore_rise` [K].

    >>> d = ring_gap_closing(bore=0.054, ring_expansion=11.4e-6, bore_expansion=21.5e-6, ring_rise=160.0, bore_rise=90.0)
    >>> round(float(d) * 1e3, 8)
    -0.01883071
    """
    return np.pi * bore * (ring_expansion * ring_rise - bore_expansion * bore_rise)
