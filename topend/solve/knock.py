"""What brings the end gas to the edge of knock: the spark, gap or chamber at which its time is just spent, or a margin of it is left."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.assembly import TopEnd, lowered_changed
from topend.errors import ArgumentError, MissingInputError, must_be
from topend.evaluation import evaluate_columns, input_unit, needs_message
from topend.physics import wiring
from topend.solve.roots import roots, scan
from topend.study.axes import checked_input
from topend.units import Quantity, from_si, quantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["KnockLimit", "knock_limits"]

#: Places looked at on the way, between which the change is closed in on.
_PLACES: Final = 33
#: How far each input may be moved to either side, by its unit: [deg], [mm]; a volume by this share of itself.
_REACH: Final = {"deg": np.radians(20.0), "mm": 1.0e-3}
_REACH_TEXT: Final = {"deg": "20 deg", "mm": "1 mm"}
_VOLUME_SHARE: Final = 0.4
#: What a builder can change, as far as it is stated.
CHANGES: Final = ("burn.spark", "head_gasket.thickness", "base.thickness", "head.chamber_volume")


@dataclass(frozen=True, slots=True)
class KnockLimit:
    """The value of one input at which the wanted margin is just there: `now`, `at`, and what the top end comes to with it.

    `at` is None where no value within reach restores it; the other figures are then None too.

    Made by `te.knock_limits`, whose example shows them.
    """

    path: str
    now: Quantity
    at: Quantity | None
    trapped_compression_ratio: float | None
    squish_edge: Quantity | None
    closed_work: Quantity | None

    def __str__(self) -> str:
        if self.at is None:
            reach = _REACH_TEXT.get(input_unit(self.path), f"{_VOLUME_SHARE:.0%}")
            return f"{self.path}: no value within {reach} of {self.now:.4g~P}"
        shown = f"{self.path} from {self.now:.3g~P} to {self.at:.4g~P}"
        return f"{shown}: trapped ratio {self.trapped_compression_ratio:.2f}, work {self.closed_work:.1f~P}"


def knock_limits(top: TopEnd, *, margin: float = 0.0, along: Iterable[str] = CHANGES) -> list[KnockLimit]:
    """For each input of `along`, the nearest value at which `knock_margin` is `margin`, all else as it is.

    Parameters: `margin` below 1; the sign of a change says which way there is room: a margin too small is restored, one too great
    is spent. `along` paths of angles, lengths and volumes; of those not given here the ones that `top` states. The exhaust's timing
    follows where a base gasket moves the cylinder. Raises `MissingInputError` where the closed cycle cannot be had,
    `UnknownNameError` for a path.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"), running=te.Running(crank_speed="4000 rpm"),
    ...                 burn=te.Burn(spark="24 deg"),
    ...                 cylinder=te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm")]),
    ...                 deck=te.DeckReading(clearance="0 mm"),
    ...                 assembled=te.AssembledVolume(volume="11.5 cc"), base_gaskets=[], head_gaskets=[])
    >>> [limit.path for limit in te.knock_limits(top, margin=0.8, along=["burn.spark"])]
    ['burn.spark']
    """
    must_be("knock_limits", "top", top, TopEnd)
    if isinstance(margin, bool) or not isinstance(margin, (int, float)) or not -np.inf < margin < 1.0:
        raise ArgumentError(f"knock_limits needs a margin below 1, such as 0.2; got {margin!r}")
    if isinstance(along, str):
        raise ArgumentError(f'knock_limits needs along as a list of paths, such as ["burn.spark"]; got the text {along!r}')
    planned = wiring.plan(top.row.structure, ("knock_margin",))
    if planned.missing:
        needs = planned.missing["knock_margin"].needs
        raise MissingInputError("knock_margin", needs, needs_message("knock_margin", needs))
    asked = along is not CHANGES
    made = []
    for path in along:
        checked_input(path)
        value = _now(top, path)
        if value is None:
            if asked:
                raise MissingInputError(path, (path,), f"knock_limits cannot move {path}: it is not stated")
            continue
        made.append(_limit(top, path, value, margin))
    return made


def _now(top: TopEnd, path: str) -> float | None:
    """The value at `path` in SI as it stands, worked out of its gaskets where it is a stack."""
    planned = wiring.plan(top.row.structure, (path,))
    if planned.missing:
        return None
    return float(wiring.run(planned, top.values)[path][0])


def _limit(top: TopEnd, path: str, now: float, margin: float) -> KnockLimit:
    unit = input_unit(path)
    reach = _REACH.get(unit, _VOLUME_SHARE * now)
    # the parts stay the same: the one value moves, with readings bound to what they were taken with
    row, refused = lowered_changed(top, {path: quantity(from_si(now, unit), unit)})
    if refused is not None:
        raise refused
    names = ["knock_margin", "trapped_compression_ratio", "squish_edge", "closed_work"]
    can = [name for name in names if not wiring.plan(row.structure, (name,)).missing]

    def work(places: NDArray[np.float64], rows: NDArray[np.intp]) -> NDArray[np.float64]:
        values, _ = evaluate_columns(row.structure.with_given([path]), {**row.columns(), path: places}, ["knock_margin"])
        return values["knock_margin"] - margin

    low = now - reach if unit == "deg" else max(now - reach, 1e-3 * reach)
    _, found = roots(work, scan(work, np.linspace(low, now + reach, _PLACES)[None]), every=True)
    shown = quantity(from_si(now, unit), unit)
    if not len(found):
        return KnockLimit(path, shown, None, None, None, None)
    at = float(found[np.argmin(np.abs(found - now))])
    values, _ = evaluate_columns(row.structure.with_given([path]), {**row.columns(), path: np.array([at])}, can)
    edge = quantity(from_si(float(values["squish_edge"][0]), "mm"), "mm") if "squish_edge" in values else None
    return KnockLimit(
        path,
        shown,
        quantity(from_si(at, unit), unit),
        float(values["trapped_compression_ratio"][0]),
        edge,
        quantity(float(values["closed_work"][0]), "J"),
    )
