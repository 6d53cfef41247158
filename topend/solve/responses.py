"""How each output answers to the sum of the base gaskets, at a given head and head stack."""

from __future__ import annotations

import functools
import math
from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np

from topend.physics import volumes, wiring
from topend.physics.wiring import NOTHING, Structure
from topend.solve.wishes import Wish

# How each output answers to the base sum b, at a given head and head stack (docs/datum-and-signs.md). What is not named is
# evaluated sum by sum.
DECK: Final = frozenset(
    {
        "deck_clearance",
        "exhaust_opens",
        "exhaust_closes",
        "exhaust_duration",
        "transfer_opens",
        "transfer_closes",
        "transfer_duration",
        "blowdown",
    }
)  # the deck clearance alone decides
GAP: Final = frozenset({"squish_edge", "squish_inner", "squish_min", "squish_mean", "contact_min"})  # grow by b
_VOLUME: Final = frozenset({"clearance_volume", "compression_ratio", "trapped_compression_ratio"})  # monotone, bend at the deck
_FIXED: Final = frozenset(
    {"piston_travel", "swept_volume", "crown_volume", "crevice_volume", "squish_area_ratio", "mean_piston_speed", "tdc_acceleration"}
)


def response(name: str) -> str:
    """How an output answers to the base sum: deck, gap, volume, fixed, or other (not shown to be monotone)."""
    if name in DECK:
        return "deck"
    if name in GAP:
        return "gap"
    if name in _VOLUME:
        return "volume"
    return "fixed" if name in _FIXED else "other"


_KNOWN: Final = (*GAP, "clearance_volume", "deck_clearance", "cylinder.bore_area", "piston.area", "exhaust.top", "swept_volume")


@functools.lru_cache(maxsize=256)
def known_in(structure: Structure) -> frozenset[str]:
    """Which of the quantities that the windows are made of can be had."""
    return frozenset(name for name in _KNOWN if not wiring.plan(structure, (name,)).missing)


def deck_change(values: Mapping[str, Any], volume_change: Any) -> Any:
    """Change of the base sum that changes the clearance volume by `volume_change`."""
    bore = values["cylinder.bore_area"]
    if "deck_clearance" not in values or "assembled.volume" in values:
        return volume_change / bore
    return volumes.deck_clearance_change.raw(
        volume_change=volume_change, deck_clearance=values["deck_clearance"], bore_area=bore, piston_area=values.get("piston.area", bore)
    )


def volume_ends(wish: Wish, values: Mapping[str, Any]) -> tuple[Any, Any]:
    """Changes of the base sum between which a wish on volume or ratio is met; both ratios fall as the base grows."""
    volume = values["clearance_volume"]
    if wish.name == "clearance_volume":
        return deck_change(values, wish.low - volume), deck_change(values, wish.high - volume)
    if wish.name == "compression_ratio":
        swept = values["swept_volume"]
        wanted = [
            volumes.clearance_volume_from_compression_ratio.raw(swept_volume=swept, compression_ratio=np.maximum(ratio, 1.0))
            for ratio in (wish.high, wish.low)
        ]
        return deck_change(values, wanted[0] - volume), deck_change(values, wanted[1] - volume)
    deck, bore = values["deck_clearance"], values["cylinder.bore_area"]
    piston = bore if "assembled.volume" in values else values.get("piston.area", bore)
    at_deck = volume - deck * np.where(deck > 0.0, bore, piston)
    ends = [
        volumes.deck_clearance_from_trapped_ratio.raw(
            trapped_compression_ratio=np.maximum(ratio, 1.0),
            volume_at_deck=at_deck,
            exhaust_top=values["exhaust.top"],
            bore_area=bore,
            piston_area=piston,
        )
        - deck
        for ratio in (wish.high, wish.low)
    ]
    return (-np.inf if wish.high == math.inf else ends[0]), ends[1]


@functools.lru_cache(maxsize=256)
def _static_checks(structure: Structure) -> tuple[wiring.Check, ...]:
    """The refusals that no base gasket changes."""
    moving = {"contact", "no_clearance_volume", "port_above_crown", "port_never_opens"}
    return tuple(check for check in wiring.checks(structure, sizes=False)[0] if check.reason not in moving)


def static_names(structure: Structure) -> tuple[str, ...]:
    """What those refusals are judged by."""
    return tuple(dict.fromkeys(name for check in _static_checks(structure) for name in check.takes))


def cannot(structure: Structure, values: Mapping[str, Any]) -> Any:
    """Rows that no base gasket makes a top end; `values` must hold the `static_names`."""
    bad = np.zeros(1, dtype=bool)
    with np.errstate(all="ignore"):
        for check in _static_checks(structure):
            bad = bad | check.applies(*[values[name] for name in check.takes])
    return bad


def window_names(structure: Structure, wishes: Iterable[Wish]) -> tuple[str, ...]:
    """What `base_window` needs of each row."""
    known = known_in(structure)
    names = [name for name in (*GAP, "clearance_volume") if name in known]
    names += [wish.name for wish in wishes if response(wish.name) == "fixed"]
    extra = [name for name in ("deck_clearance", "cylinder.bore_area", "piston.area", "exhaust.top", "swept_volume") if name in known]
    return tuple(dict.fromkeys((*names, *extra, *static_names(structure))))


def base_window(structure: Structure, values: Mapping[str, Any], wishes: Iterable[Wish], reference: Any, shape: Any) -> tuple[Any, Any]:
    """The base sums between which each row is a top end and meets every wish that a base sum moves steadily or not at all.

    Parameters: `values` the `window_names` of rows whose base sum is `reference` [m]; `shape` of the rows. Wishes on what the
    deck clearance alone decides, and on what is not shown to be monotone, are left to the caller. Low beyond high: none.
    """
    low, high = np.full(shape, -np.inf), np.full(shape, np.inf)

    def narrow(from_: Any, to: Any) -> None:
        np.maximum(low, from_, out=low)
        np.minimum(high, to, out=high)

    for name in ("squish_edge", "squish_min", "contact_min"):  # touching is no top end
        if name in values:
            narrow(reference + NOTHING - values[name], np.inf)
    if "clearance_volume" in values:
        narrow(reference + deck_change(values, np.finfo(float).tiny - values["clearance_volume"]), np.inf)
    with np.errstate(all="ignore"):
        for wish in wishes:
            kind = response(wish.name)
            if kind == "gap":
                narrow(wish.low - values[wish.name] + reference, wish.high - values[wish.name] + reference)
            elif kind == "volume":
                narrow(*(reference + end for end in volume_ends(wish, values)))
            elif kind == "fixed":
                outside = (values[wish.name] < wish.low) | (values[wish.name] > wish.high)
                narrow(np.where(outside, np.inf, -np.inf), np.inf)
    bad = cannot(structure, values)
    if bad.any():
        narrow(np.where(bad, np.inf, -np.inf), np.inf)
    return low, high
