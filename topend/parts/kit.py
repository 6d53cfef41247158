"""Kits: what goes in the box for one top end, and the small parts that are nowhere else."""

from __future__ import annotations

from typing import Any, Final, Literal, Self

from pydantic import Field, model_validator

from topend.parts.base import Part
from topend.parts.gasket import Gasket
from topend.parts.head import Head
from topend.parts.location import LocatingPin
from topend.parts.oring import ORing
from topend.parts.piston import Piston
from topend.parts.rings import PistonRing
from topend.parts.studs import StudSet
from topend.units import PositiveLength

__all__ = ["ITEMS", "Kit", "KitItem", "PinClip", "PistonPin"]


class PistonPin(Part):
    """The pin that joins piston and rod.

    >>> import topend as te
    >>> te.PistonPin(diameter="14 mm", length="44 mm").diameter
    <Quantity(14 mm)>
    """

    diameter: PositiveLength = Field(description="Its outer diameter.")
    length: PositiveLength | None = Field(default=None, description="Its length.")


class PinClip(Part):
    """A clip that keeps the piston pin in the piston.

    >>> import topend as te
    >>> te.PinClip(pin_diameter="14 mm", section="1.0 mm").section
    <Quantity(1.0 mm)>
    """

    pin_diameter: PositiveLength = Field(description="Diameter of the piston pin that it keeps.")
    section: PositiveLength | None = Field(default=None, description="Diameter of its wire.")


#: The fields of an item that name its part, in the order in which they are told.
ITEMS: Final = ("head", "piston", "ring", "pin", "clip", "gasket", "o_ring", "studs", "locating_pin")


class KitItem(Part):
    """One kind of part in a kit, and how many of it: exactly one of its fields but `count` is given.

    >>> import topend as te
    >>> te.KitItem(clip=te.PinClip(pin_diameter="14 mm"), count=2).kind
    'clip'
    """

    head: Head | None = Field(default=None, description="A head.")
    piston: Piston | None = Field(default=None, description="A piston.")
    ring: PistonRing | None = Field(default=None, description="A piston ring.")
    pin: PistonPin | None = Field(default=None, description="A piston pin.")
    clip: PinClip | None = Field(default=None, description="A clip of the piston pin.")
    gasket: Gasket | None = Field(default=None, description="A base or head gasket.")
    o_ring: ORing | None = Field(default=None, description="An O-ring.")
    studs: StudSet | None = Field(default=None, description="A stud; or a set of them, where it says its count.")
    locating_pin: LocatingPin | None = Field(default=None, description="A pin that locates the head.")
    count: int = Field(default=1, ge=1, le=1000, strict=True, description="How many there are.")

    @model_validator(mode="after")
    def _one_part(self) -> Self:
        given = [name for name in ITEMS if getattr(self, name) is not None]
        if len(given) != 1:
            raise ValueError(f"an item is one kind of part: give one of {', '.join(ITEMS)}; got {' and '.join(given) or 'none'}")
        return self

    @property
    def kind(self) -> str:
        """Which of its fields is given."""
        return next(name for name in ITEMS if getattr(self, name) is not None)

    @property
    def part(self) -> Any:
        """The part."""
        return getattr(self, self.kind)

    @property
    def pieces(self) -> int:
        """How many single pieces it comes to: a set of studs counts by its count."""
        each = self.studs.count or 1 if self.studs is not None else 1
        return self.count * each


class Kit(Part):
    """What goes in the box.

    `opens` says which joints are opened to fit it; not given, it follows from what is in it: any part opens the head joint, and piston,
    rings, pin, clips and base gaskets open the base joint too.

    >>> import topend as te
    >>> kit = te.Kit(items=[{"clip": te.PinClip(pin_diameter="14 mm"), "count": 2}, {"pin": te.PistonPin(diameter="14 mm")}])
    >>> kit.count("clip"), kit.opened
    (2, ('head', 'base'))
    """

    items: tuple[KitItem, ...] = Field(description="Kinds of part, each with its count.")
    opens: tuple[Literal["head", "base"], ...] | None = Field(default=None, description="Which joints are opened to fit it: head, base.")

    def of(self, kind: str) -> tuple[KitItem, ...]:
        """The items of one kind, such as ``gasket``."""
        return tuple(item for item in self.items if item.kind == kind)

    def count(self, kind: str) -> int:
        """How many pieces of one kind there are."""
        return sum(item.pieces for item in self.of(kind))

    @property
    def opened(self) -> tuple[str, ...]:
        """The joints that are opened to fit it."""
        if self.opens is not None:
            return self.opens
        low = {"piston", "ring", "pin", "clip"}
        base = any(item.kind in low or (item.gasket is not None and item.gasket.role == "base") for item in self.items)
        return ("head", "base") if base else ("head",)
