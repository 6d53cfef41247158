"""What cuts do to a top end: metal off the deck, the base face, the squish band, or out of the bowl.

A deck cut lowers the deck: the crown stands higher in it, and every port lies less far below it, so that the timing stays. A base
cut lowers the whole barrel: the crown stands higher and the ports open later. A band cut raises the band in the head, and
takes the band's ring of metal out of the chamber. A bowl cut is a volume. Each cut changes numbers of the row in proportion,
and what a top end comes to is evaluated as ever.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any, Final

import numpy as np

from topend.assembly import Row, TopEnd
from topend.errors import FitError, did_you_mean, must_be
from topend.physics import volumes, wiring
from topend.units import KINDS, Limits, StatedQuantity, StatedValueError, from_si, stated

__all__ = ["CUTS", "cut", "cut_amount", "cut_moves"]

#: Cuts in the order in which they are preferred where they take the same metal, and the kind of figure each is.
CUTS: Final[dict[str, str]] = {"deck_cut": "length", "base_cut": "length", "band_cut": "length", "bowl_cut": "volume"}
_FROM_DECK: Final = re.compile(r"cylinder\.ports\.\d+\.(?:top|floor|valve_edge)")


def cut_amount(name: str, given: Any, what: str = "") -> StatedQuantity:
    """One figure of a cut, such as "0.4 mm". Raises `FitError`."""
    if name not in CUTS:
        raise FitError(f"no cut is called {name!r}{did_you_mean(str(name), CUTS)}; there are {', '.join(CUTS)}")
    try:
        amount = stated(given, KINDS[CUTS[name]])
    except StatedValueError as error:
        raise FitError(f"{what}{name} {error}") from None
    if amount.si < 0.0:
        raise FitError(f"{what}{name} takes metal away: it must be 0 or more; got {amount.text!r}")
    return amount


def cut_moves(row: Row, name: str) -> dict[str, float]:
    """By how much each number of a row changes for one metre (a bowl cut: one cubic metre) of a cut, SI.

    Raises `FitError` where what is cut is not known.

    >>> from topend.parts import Cylinder, DeckReading, Port
    >>> top = TopEnd(cylinder=Cylinder(ports=[Port(kind="exhaust", top="22 mm")]), deck=DeckReading(clearance="1.5 mm"))
    >>> cut_moves(top.row, "deck_cut"), cut_moves(top.row, "base_cut")
    ({'deck.clearance': -1.0, 'cylinder.ports.0.top': -1.0}, {'deck.clearance': -1.0})
    """
    values = row.values
    if name in ("deck_cut", "base_cut"):
        made = _lowered_deck(row, name)
        if name == "deck_cut":
            made.update({path: -1.0 for path in values if _FROM_DECK.fullmatch(path)})
        return made
    if any(path.startswith("head.profile.") for path in values):
        raise FitError(
            f"{name}: the head is given by its half-section, which a cut changes; "
            "state its chamber_volume and band in its place, or design the head anew"
        )
    made = {}
    if name == "bowl_cut":
        made = {path: 1.0 for path in ("head.chamber_volume", "assembled.volume") if path in values}
        if not made:
            raise FitError("bowl_cut: no volume is known that it could add to: give head.chamber_volume, or assembled.volume")
        return made
    if "head.recess_offset" not in values:
        raise FitError("band_cut: it is not known where the band lies: give head.recess_offset")
    made["head.recess_offset"] = 1.0
    if "head.plug_height" in values:  # it is counted from the band's edge
        made["head.plug_height"] = -1.0
    if "head.chamber_volume" in values or "assembled.volume" in values:
        outer = "head.spigot_area" if row.structure.choice("head") == "spigot" else "head.recess_area"
        planned = wiring.plan(row.structure, (outer, "head.band.inner_radius"))
        if planned.missing:
            needs = list(dict.fromkeys(path for lack in planned.missing.values() for path in lack.needs))
            raise FitError(f"band_cut: to follow the chamber volume it needs {', '.join(needs)}")
        known = wiring.run(planned, row.columns())
        inner = float(volumes.circle_area(diameter=2.0 * known["head.band.inner_radius"])[0])
        ring = float(known[outer][0]) - inner
        if "assembled.volume" in values:
            made["assembled.volume"] = ring
        if "head.chamber_volume" in values:
            made["head.chamber_volume"] = ring if row.structure.choice("head.volume_datum") == "face" else -inner
    return made


def _lowered_deck(row: Row, name: str) -> dict[str, float]:
    """A deck that comes nearer to the crankshaft."""
    values = row.values
    made: dict[str, float] = {}
    if "deck.clearance" in values:
        read_with_another = row.structure.choice("deck.cylinder") is not None
        if not (read_with_another and {"cylinder.height", "deck.cylinder.height"} <= set(values)):
            made["deck.clearance"] = -1.0
        if "cylinder.height" in values:
            made["cylinder.height"] = -1.0
    elif "cylinder.height" in values:
        made["cylinder.height"] = -1.0
    else:
        raise FitError(f"{name}: it is not known where the deck lies: give deck.clearance, or cylinder.height with the rest of the stack")
    if "assembled.volume" in values:
        if "cylinder.bore" not in values:
            raise FitError(f"{name}: to follow the assembled volume it needs cylinder.bore")
        made["assembled.volume"] = -float(volumes.circle_area(diameter=values["cylinder.bore"]))
    return made


def cut(top: TopEnd, cuts: Mapping[str, Any]) -> TopEnd:
    """`top` after cuts: ``{"deck_cut": "0.3 mm", "base_cut": ..., "band_cut": ..., "bowl_cut": "0.2 cc"}``.

    A deck cut takes every port's upper edge along, a base cut does not; readings are kept as if they had been taken after the
    cut. Of a band the bowl's wall is taken as standing upright as far as the cut goes: the bowl's opening keeps its
    diameter. Raises `FitError` for a cut that there is not, or whose place is not known, `AssemblyError` where the parts
    do not go together any more.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.7 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.5 mm")])
    >>> print(f"{te.evaluate(te.cut(top, {'deck_cut': '0.3 mm'})).squish_edge:.3f~P}")
    0.900 mm
    """
    must_be("cut", "top", top, TopEnd)
    must_be("cut", "cuts", cuts, Mapping, '; give cuts by name, such as {"deck_cut": "0.3 mm"}')
    return moved(top, {name: cut_amount(name, given).si for name, given in cuts.items()})


def moved(top: TopEnd, amounts: Mapping[str, float]) -> TopEnd:
    """The same with amounts in SI."""
    by_path: dict[str, float] = {}
    for name, amount in amounts.items():
        if amount:
            for path, change in cut_moves(top.row, name).items():
                by_path[path] = by_path.get(path, 0.0) + change * amount
    fields: dict[str, Any] = {}
    for path, change in by_path.items():
        root, _, rest = path.partition(".")
        part = fields.get(root, getattr(top, root))
        fields[root] = _shifted_in(part, rest, change)
    return top.replace(fields) if fields else top


def _shifted_in(part: Any, path: str, change: float) -> Any:
    """A part with one of its figures moved."""
    step, _, rest = path.partition(".")
    if isinstance(part, tuple):
        at = int(step)
        return (*part[:at], _shifted_in(part[at], rest, change), *part[at + 1 :])
    value = getattr(part, step)
    return part.replace(**{step: _shifted(value, change) if not rest else _shifted_in(value, rest, change)})


def _shifted(value: StatedQuantity, change: float) -> StatedQuantity:
    """A stated figure moved with its limits."""
    unit, step = value.stated_unit, from_si(change, value.stated_unit)
    ends = value.stated_limits
    limits = None if ends is None else Limits(ends.low + step, ends.high + step)
    return StatedQuantity._state(from_si(value.si + change, unit), unit, limits, None)


def moved_columns(row: Row, columns: dict[str, Any], amounts: Mapping[str, Any]) -> dict[str, Any]:
    """Columns of a row [SI] after cuts, whose amounts are columns too."""
    made = dict(columns)
    for name, amount in amounts.items():
        for path, change in cut_moves(row, name).items():
            made[path] = made[path] + change * np.asarray(amount)
    return made
