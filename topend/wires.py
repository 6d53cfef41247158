"""Where a wire is laid in the squish band: at the usual radius, and besides where the gap is least, if that lies further in."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from topend.assembly import GAP_AT, TopEnd
from topend.errors import Problem
from topend.physics import squish, wiring

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["PLACE_KNOWN", "WORTH_A_WIRE", "WirePlace", "off_the_band", "wire_places"]

#: How well the place of a wire is known, if nobody says [m]. Common practice.
PLACE_KNOWN: Final = 0.5e-3
#: By how much less the gap must be there for a second wire to be worth its while [m]: 95 % of what one wire scatters by.
WORTH_A_WIRE: Final = 0.05e-3
#: How far inside the band's outer edge a wire is usually laid [m]. Common practice.
_INSIDE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class WirePlace:
    """A radius at which wire is read [m] and the gap expected there [m]; `at` tells ``usual`` from ``least``.

    `on_inner_edge` says that it is the band's inner edge: half of a wire across it lies under the bowl.
    """

    radius: float
    gap: float
    at: Literal["usual", "least"]
    on_inner_edge: bool = False


def wire_places(top: TopEnd, structure: wiring.Structure | None = None) -> tuple[WirePlace, ...]:
    """Where wire is read on a top end: 1 mm inside the band's outer edge as it counts, then where the gap is least.

    The second is left out where the first reads as much: where it is not further in by what the place of a wire is known to (0.5 mm),
    or the gap not less by 0.05 mm. Radii are written to 0.01 mm, that of the least gap rounded outward, so that it is never off the band.
    Empty where the gap cannot be had, or the band is too narrow for a wire. `structure` is that of the row, if not the top end's own.

    >>> from topend.parts import Cylinder, DeckReading, FlushHead, Gasket, Piston, SphereCrown, SquishBand
    >>> top = TopEnd(cylinder=Cylinder(bore="40 mm"), piston=Piston(crown=SphereCrown(rise="2.4 mm")), deck=DeckReading(clearance="0.7 mm"),
    ...              head=FlushHead(band=SquishBand(outer_diameter="40 mm", inner_diameter="28 mm", angle="8 deg")),
    ...              head_gaskets=[Gasket(role="head", thickness="0.5 mm")])
    >>> [(one.at, f"{one.radius * 1e3:.2f}", f"{one.gap * 1e3:.2f}") for one in wire_places(top)]
    [('usual', '19.00', '1.10'), ('least', '14.00', '0.81')]
    """
    names = (*GAP_AT.values(), "head.band.outer_radius", "squish.least_radius")
    planned = wiring.plan(structure or top.row.structure, names)
    if planned.missing:
        return ()
    known = wiring.run(planned, top.values)
    at = {name: known[path] for name, path in GAP_AT.items()}

    def gap(radius: float) -> float:
        return float(squish.gap_at(radius=np.array([radius]), **at)[0])

    usual = float(known["head.band.outer_radius"][0]) - _INSIDE
    if math.isnan(gap(usual)):
        return ()
    made = [WirePlace(usual, gap(usual), "usual")]
    inner = float(at["inner_radius"][0])
    least = math.ceil(float(known["squish.least_radius"][0]) * 1e5 - 1e-6) * 1e-5
    if usual - least >= PLACE_KNOWN and gap(usual) - gap(least) > WORTH_A_WIRE:
        made.append(WirePlace(least, gap(least), "least", on_inner_edge=least - inner < 1.01e-5))
    return tuple(made)


def off_the_band(radius: float, values: Mapping[str, NDArray[np.float64]]) -> Problem | None:
    """What is wrong with a wire at `radius` [m] that lies where no gap is known, inside the band or beyond the crown; else None."""
    inner, outer = (float(np.atleast_1d(values[GAP_AT[name]])[0]) for name in ("inner_radius", "crown_radius"))
    if inner - 1e-9 <= radius <= outer + 1e-9:
        return None
    ends = f"from {inner * 1e3:.3f} mm (the band's inner edge) to {outer * 1e3:.3f} mm (the crown's edge)"
    return Problem("radius", f"must be {ends}; got {radius * 1e3:.3f} mm")
