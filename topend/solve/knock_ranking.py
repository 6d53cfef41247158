"""Heads side by side: which of them sits furthest from knock at equal work, and how sure that is."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.checks.cycle import octane_findings, octane_number
from topend.errors import ArgumentError, MissingInputError, must_be
from topend.evaluation import evaluate_columns, needs_message
from topend.physics import wiring
from topend.physics.wiring.cycle import DEFAULT_FUEL
from topend.quantities import Finding
from topend.uncertainty import moved_inputs, placed
from topend.units import KINDS, StatedValueError, stated

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Ranked", "rank_by_knock"]

#: How far the spark is looked for on either side of the stated one [rad], and at how many places.
_REACH: Final = np.radians(25.0)
_PLACES: Final = 26
#: Places that a polynomial is laid through.
_THROUGH: Final = 6
_NAMES: Final = ("knock_margin", "closed_work", "peak_pressure", "trapped_compression_ratio")
#: What belongs to one of the variants alone; everything else is the same engine, charge and burn under each of them.
_OWN: Final = ("head.", "head_gasket", "base", "piston.crown.")
#: Fuels of one name and octane number come from one can; others have draws of their own.
_OCTANES: Final = ("charge.ron", "charge.mon")


@dataclass(frozen=True, slots=True)
class Ranked:
    """One of the variants at equal work.

    `spark` [deg before TDC] at which it gives the work asked for, None where none within 25 deg of the stated one does; with
    it: `knock_margin`, between `low` and `high` in 95 of 100 draws, `peak_pressure` [bar], `trapped_compression_ratio`. `best`
    is the share of the draws, which all variants have in common, in which it has the greatest margin of all. `octane` is the octane
    number that its margin was worked out with; `findings` say where that lies beyond those that the knock delay was measured with: the
    margin is an extrapolation then, and other fuels are no measure for it.

    Made by `te.rank_by_knock`, whose example shows them.
    """

    name: str
    spark: float | None
    knock_margin: float
    low: float
    high: float
    best: float
    peak_pressure: float
    trapped_compression_ratio: float
    octane: float
    findings: tuple[Finding, ...] = ()


def rank_by_knock(tops: Mapping[str, TopEnd], *, work: Any = None, draws: int = 200, seed: int = 0) -> list[Ranked]:
    """`tops` by their knock margin at equal work, greatest margin first; those that do not reach the work last.

    Parameters: `tops` by name, each with a burn stated; `work` [J] as text or a quantity, not given: the least of what they
    give with the sparks stated. Of each the least advance that gives that work is taken. `draws` between the limits of every
    input: charge, burn and engine are the same for all of them in each draw, head and gaskets their own; octane numbers are the
    same for the same fuel. So a difference that the state at closing bears on alike counts in full, where the margins
    themselves are wide. Raises `MissingInputError` where a cycle cannot be had.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"), running=te.Running(crank_speed="9000 rpm"),
    ...                 burn=te.Burn(spark="16 deg"),
    ...                 cylinder=te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm")]),
    ...                 deck=te.DeckReading(clearance="0 mm"),
    ...                 assembled=te.AssembledVolume(volume="11.5 cc"), base_gaskets=[], head_gaskets=[])
    >>> tight = top.replace({"assembled.volume": "10.0 cc"})
    >>> [one.name for one in te.rank_by_knock({"tight": tight, "open": top}, draws=20)]
    ['open', 'tight']
    """
    must_be("rank_by_knock", "tops", tops, Mapping, '; give top ends by name, such as {"head A": top}')
    if not tops:
        raise ArgumentError('rank_by_knock needs at least one top end, by name, such as {"head A": top}')
    if isinstance(draws, bool) or not isinstance(draws, int) or draws < 1:
        raise ArgumentError(f"rank_by_knock needs draws as a whole number, 1 or more, such as 200; got {draws!r}")
    for name, top in tops.items():
        must_be("rank_by_knock", f"tops[{name!r}]", top, TopEnd)
        planned = wiring.plan(top.row.structure, _NAMES)
        if planned.missing:
            lacking, lack = next(iter(planned.missing.items()))
            raise MissingInputError(lacking, lack.needs, f"{name}: {needs_message(lacking, lack.needs)}")
    target = _work(tops, work)
    made = {name: _at_work(top, target) for name, top in tops.items()}
    drawn = {name: _drawn(top, spark, name, draws, seed) for name, top in tops.items() if (spark := made[name]) is not None}
    greatest = np.nanmax(np.stack(list(drawn.values())), axis=0) if drawn else np.empty(0)
    ranked = []
    for name, top in tops.items():
        spark = made[name]
        if spark is None:
            nothing = float("nan")
            ranked.append(
                Ranked(name, None, nothing, nothing, nothing, 0.0, nothing, nothing, octane_number(top), tuple(octane_findings(top)))
            )
            continue
        values, _ = evaluate_columns(top.row.structure, {**top.row.columns(), "burn.spark": np.array([spark])}, _NAMES)
        margins = drawn[name]
        low, high = np.nanquantile(margins, [0.025, 0.975])
        ranked.append(
            Ranked(
                name,
                float(np.degrees(spark)),
                float(values["knock_margin"][0]),
                float(low),
                float(high),
                float(np.mean(margins == greatest)),
                float(values["peak_pressure"][0]) * 1e-5,
                float(values["trapped_compression_ratio"][0]),
                octane_number(top),
                tuple(octane_findings(top)),
            )
        )
    return sorted(ranked, key=lambda one: (one.spark is None, -one.knock_margin if one.spark is not None else 0.0))


def _work(tops: Mapping[str, TopEnd], work: Any) -> float:
    """The work that is asked of all of them [J]."""
    if work is not None:
        try:
            asked = stated(work, KINDS["energy"]).si
        except StatedValueError as error:
            raise ArgumentError(f"rank_by_knock: work {error}") from None
        if not asked > 0.0:
            raise ArgumentError(f'rank_by_knock: work must be more than 0 J, such as "60 J"; got {work!r}')
        return asked
    return min(float(evaluate_columns(top.row.structure, top.row.columns(), ["closed_work"])[0]["closed_work"][0]) for top in tops.values())


def _at_work(top: TopEnd, target: float) -> float | None:
    """The least advance of the spark [rad] at which `top` gives `target` [J]; None where none within reach does."""
    row = top.row
    now = row.values["burn.spark"]
    planned = wiring.plan(row.structure, ("exhaust_closes",))
    closes = float(wiring.run(planned, top.values)["exhaust_closes"][0])

    places = np.append(np.linspace(now - _REACH, min(now + _REACH, closes - np.radians(1.0)), _PLACES), now)
    values, _ = evaluate_columns(row.structure, {**row.columns(), "burn.spark": places}, ["closed_work"])
    over = values["closed_work"] / target - 1.0
    # a spark that gives the work already is one, to the last digit
    if abs(over[-1]) < 1e-12:
        return now
    # at sparks so late that the exhaust is open there is no work
    kept = np.isfinite(over[:-1])
    places, over = places[:-1][kept], over[:-1][kept]
    if len(places) < _THROUGH:
        return None
    crossed = np.nonzero((over[:-1] < 0.0) & (over[1:] >= 0.0))[0]
    if not len(crossed):
        return None
    # work is smooth over the spark: a polynomial through six places, to 1e-7 of the work
    first = int(np.clip(crossed[0] - 2, 0, len(places) - _THROUGH))
    near = slice(first, first + _THROUGH)
    middle, half = places[near].mean(), np.ptp(places[near]) / 2.0
    through = np.polynomial.Polynomial.fit((places[near] - middle) / half, over[near], _THROUGH - 1, domain=[-1.0, 1.0])
    found = through.roots()
    between = (places[crossed[0] : crossed[0] + 2] - middle) / half
    real = found.real[(abs(found.imag) < 1e-9) & (found.real >= between[0] - 1e-9) & (found.real <= between[1] + 1e-9)]
    return float(middle + half * real.min())


def _drawn(top: TopEnd, spark: float, name: str, draws: int, seed: int) -> NDArray[np.float64]:
    """Knock margins of the draws, with the spark as it is set."""
    row = top.row
    planned = wiring.plan(row.structure, ("knock_margin",))
    moved = [one for one in moved_inputs(row, planned, row.columns()) if one.basis != "written" and one.path != "burn.spark"]
    fuel = row.structure.choice("charge.fuel") or DEFAULT_FUEL

    def stream(path: str, place: float) -> str:
        if path.startswith(_OWN):
            return f"{name} {path}"
        return f"{path} {fuel} {place:.9g}" if path in _OCTANES else path

    unit = (_unit(seed, stream(one.path, float(np.ravel(one.place)[0])), draws) for one in moved)
    at = (one.place + one.low + (one.high - one.low) * draw for one, draw in zip(moved, unit, strict=True))
    columns = placed(row, moved, at) | {"burn.spark": np.array([spark])}
    values, _ = evaluate_columns(row.structure.with_given(columns), columns, ["knock_margin"], judge=False)
    return np.broadcast_to(values["knock_margin"], (draws,))


def _unit(seed: int, stream: str, draws: int) -> NDArray[np.float64]:
    """Draws from 0 to 1 that depend on seed and stream alone."""
    key = int.from_bytes(hashlib.sha256(f"{seed} {stream}".encode()).digest()[:8], "little")
    return np.random.default_rng(key).random(draws)
