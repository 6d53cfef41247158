"""The two gasket stacks of a top end: what each is called, how thick it is, and which readings were taken over it."""

from __future__ import annotations

from typing import Final

from topend.parts import Gasket
from topend.physics.wiring.geometry import CRUSH
from topend.units import Limits, StatedQuantity, from_si

__all__ = ["READ_WITH", "STACKS", "crushed_limits", "identity_field", "stack_thickness"]

#: The stack of which a reading states what it was read with, by that path.
READ_WITH: Final = {
    "deck.base_thickness": "base.thickness",
    "assembled.base_thickness": "base.thickness",
    "assembled.head_thickness": "head_gasket.thickness",
}
#: Each stack by the path of its thickness: the field of the top end, and the role of its gaskets.
STACKS: Final = {"base.thickness": ("base_gaskets", "base"), "head_gasket.thickness": ("head_gaskets", "head")}


def identity_field(path: str) -> str:
    """The field of a reading that says whether the stack of thickness `path` is the one now fitted."""
    return path.partition(".")[2].replace("_thickness", "_stack")


def stack_thickness(gaskets: tuple[Gasket, ...] | None) -> StatedQuantity | None:
    """Sum of the fitted thicknesses of a stack, with the sum of their limits, stated or assumed; None where the stack is unknown."""
    if gaskets is None:
        return None
    total = low = high = 0.0
    for gasket in gaskets:
        value = gasket.fitted
        ends = value.si_limits or Limits(value.si, value.si)
        if gasket.fitted_thickness is None:
            ends = crushed_limits(gasket.crush_class, value.si, value.si_limits)
        total, low, high = total + value.si, low + ends.low, high + ends.high
    shown = [from_si(number, "mm") for number in (total, low, high)]
    limits = Limits(shown[1], shown[2]) if low != high else None
    return StatedQuantity._state(shown[0], "mm", limits, None)


def crushed_limits(crush: str, nominal: float, ends: Limits | None) -> Limits:
    """Limits [m] of a fitted thickness that was not measured, from the `nominal` one and what is stated of that.

    Limits stated of the nominal take the place of the assumed ± 0.02 mm, and crush comes on top of them.
    """
    assumed = CRUSH[crush].limits
    assert assumed is not None
    low, high = (float(end) for end in assumed(nominal))
    if ends is None:
        return Limits(low, high)
    return Limits(ends.low * (min(1.0, low / nominal) if crush != "metal" else 1.0), ends.high)
