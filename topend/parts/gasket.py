"""Gaskets and the drawer they lie in. A gasket has a nominal and a fitted (crushed) thickness; every sum uses fitted."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from topend.parts.base import Part, stated_field
from topend.parts.cutout import Cutout
from topend.parts.studs import StudPattern
from topend.units import NonNegativeRatio, NonNegativeStrength, PositiveLength, StatedQuantity

__all__ = ["Gasket", "GasketSet", "StockItem"]

Material = Literal["aluminium", "copper", "brass", "steel", "fibre", "paper"]
_CRUSH_CLASS: dict[str, str] = {
    "aluminium": "metal",
    "copper": "metal",
    "brass": "metal",
    "steel": "metal",
    "fibre": "fibre",
    "paper": "fibre",
}


class Gasket(Part):
    """One base or head gasket.

    Where no fitted thickness was measured the nominal stands in, with limits by material: metal ± 0.02 mm, fibre and
    paper +0/-17 %; it is then listed as assumed.

    >>> import topend as te
    >>> te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm").role
    'head'
    """

    role: Literal["base", "head"] = Field(description="Where it goes: base (under the cylinder) or head (under the head).")
    thickness: PositiveLength = stated_field("base_gaskets.N.thickness", default=...)
    fitted_thickness: PositiveLength | None = stated_field("base_gaskets.N.fitted_thickness")
    opening: PositiveLength | None = stated_field("head_gaskets.N.opening")
    window_diameter: PositiveLength | None = stated_field("base_gaskets.N.window_diameter")
    outer_diameter: PositiveLength | None = stated_field("head_gaskets.N.outer_diameter")
    cutouts: tuple[Cutout, ...] = Field(default=(), description="Of a base gasket, its cut-outs for the transfer passages.")
    studs: StudPattern | None = Field(default=None, description="Its holes for the cylinder's studs.")
    gasket_factor: NonNegativeRatio | None = stated_field("head_gaskets.N.gasket_factor")
    seating_stress: NonNegativeStrength | None = stated_field("head_gaskets.N.seating_stress")
    surface: Literal["bare", "coated"] | None = Field(
        default=None, description="Its faces as supplied: bare, or coated with something that seals (and is not to be washed off)."
    )
    material: Material | None = Field(default=None, description="What it is made of: it says how far it may crush.")

    @property
    def crush_class(self) -> str:
        """metal, fibre, or unknown: which assumption stands in for an unmeasured fitted thickness."""
        return _CRUSH_CLASS.get(self.material or "", "unknown")

    @property
    def fitted(self) -> StatedQuantity:
        """The thickness that every sum uses: fitted where it was measured, else the nominal."""
        return self.thickness if self.fitted_thickness is None else self.fitted_thickness


class StockItem(Part):
    """One kind of gasket in a drawer, and how many of it.

    >>> import topend as te
    >>> te.StockItem(gasket=te.Gasket(role="base", thickness="0.3 mm"), count=2).count
    2
    """

    gasket: Gasket = Field(description="The gasket.")
    count: int = Field(default=1, ge=0, le=1_000_000, strict=True, description="How many there are.")


class GasketSet(Part):
    """What is in the drawer.

    >>> import topend as te
    >>> drawer = te.GasketSet(items=[{"gasket": te.Gasket(role="base", thickness="0.3 mm"), "count": 2}])
    >>> len(drawer.of_role("base")), len(drawer.of_role("head"))
    (1, 0)
    """

    items: tuple[StockItem, ...] = Field(description="Kinds of gasket, each with its count.")

    def of_role(self, role: Literal["base", "head"]) -> tuple[StockItem, ...]:
        """The items of one role with at least one gasket, in drawer order."""
        return tuple(item for item in self.items if item.gasket.role == role and item.count > 0)
