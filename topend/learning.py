"""What inspected engines teach about their family: how far cranks like this give, and what closes beyond the parts modelled.

Inputs that belong to the design (masses, sections, stiffness) are the same for all engines of a family and are drawn once a
particle; clearances and the cold gap are each engine's own. A particle counts by how likely it makes what was found (Bayes).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import ArgumentError, MissingInputError, must_be, must_count
from topend.evaluation import evaluate_columns, needs_message
from topend.parts import Witness
from topend.physics import wiring
from topend.uncertainty import Moved, moved_inputs, placed, uncertainty
from topend.units import from_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Learned", "learn"]

#: Closing beyond the parts modelled, before any engine was opened: 0 to this [m]; from memory.
UNEXPLAINED: Final = 0.30e-3
#: Tilt of the piston that takes from the gap on one side, before any engine was opened: 0 to this [m]; from memory.
TILT: Final = 0.08e-3
#: A kiss wipes carbon: crown and head came within this of each other [m]; from memory.
KISS: Final = 0.03e-3
#: Share of marks that somebody reads wrongly; keeps one odd engine from deciding all.
MISREAD: Final = 0.01
#: Spread of an engine's own closing that no input accounts for [m].
OWN: Final = 0.01e-3
_TILT: Final = "tilt"
_UNEXPLAINED: Final = "crank.unexplained_closing"
_SPEED: Final = "running.crank_speed"


@dataclass(frozen=True, eq=False)
class Learned:
    """A family after its engines were opened: `particles` by input path (SI), all of equal weight, and how many engines spoke.

    Parameters: `effective` the number of independent particles that the engines left; under 100 the ends of what follows are rough.
    `to_dict` and `from_dict` keep it with the family.

    Made by `te.learn`, whose example shows one.
    """

    particles: Mapping[str, NDArray[np.float64]]
    engines: int
    effective: float

    def interval(self, path: str, *, unit: str) -> tuple[float, float]:
        """Between which 95 % of the particles lie, of one input that is learnt, in `unit`; ``tilt`` is the piston's.

        >>> made = Learned({"crank.compliance": np.linspace(1e-9, 2e-9, 101)}, 3, 101.0)
        >>> [round(end, 3) for end in made.interval("crank.compliance", unit="µm/kN")]
        [1.025, 1.975]
        """
        low, high = np.quantile(self.particles[path], (0.025, 0.975))
        return from_si(float(low), unit), from_si(float(high), unit)

    def closing(self, top: TopEnd, *, crank_speed_rpm: float, draws: int = 20_000, seed: int = 0) -> NDArray[np.float64]:
        """Draws of the closing [mm] of the next engine of the family at `crank_speed_rpm`, throttle shut: what was learnt, and fresh
        clearances of its own."""
        moved = _of(top)
        rng = np.random.default_rng(seed)
        pick = rng.integers(0, len(next(iter(self.particles.values()))), draws)
        learnt = {path: column[pick] for path, column in self.particles.items() if path != _TILT}
        own = [one for one in moved if one.path not in learnt]
        at = [one.place + one.low + (one.high - one.low) * rng.random(draws) for one in own]
        columns = placed(top.row, own, at) | learnt | {_SPEED: np.array([crank_speed_rpm * math.pi / 30.0])}
        values, _ = evaluate_columns(top.row.structure.with_given(columns), columns, ["closure_total"], judge=False)
        return from_si(values["closure_total"], "mm")

    def left(self, top: TopEnd, *, draws: int = 20_000, seed: int = 0) -> NDArray[np.float64]:
        """Draws of what is left of the least gap [mm] of `top` at its stated crank speed, throttle shut: its own gap, with what its
        limits leave, less `closing`. Raises `MissingInputError` where either cannot be had."""
        if top.running is None:
            raise MissingInputError("running_clearance", [_SPEED], needs_message("running_clearance", [_SPEED]))
        gap = uncertainty(top, ["contact_min"])["contact_min"]
        closing = self.closing(top, crank_speed_rpm=top.running.crank_speed.m_as("rpm"), draws=draws, seed=seed)
        return gap.value + gap.u * np.random.default_rng([seed, 1]).standard_normal(draws) - closing

    def to_dict(self, *, most: int = 2000) -> dict[str, Any]:
        """As plain data, with at most `most` particles."""
        step = max(1, len(next(iter(self.particles.values()))) // most)
        return {
            "engines": self.engines,
            "effective": self.effective,
            "particles": {path: column[::step].tolist() for path, column in self.particles.items()},
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Learned:
        """What `to_dict` gave."""
        particles = {path: np.asarray(column, dtype=np.float64) for path, column in data["particles"].items()}
        return cls(particles, int(data["engines"]), float(data["effective"]))


def learn(top: TopEnd, witnesses: Iterable[Witness] | None = None, *, draws: int = 40_000, seed: int = 0) -> Learned:
    """What `witnesses`, engines of the family that `top` stands for, leave possible of its closing at speed.

    Parameters: `top` with what is known of the family, defaults for the rest; `witnesses`, if not given those kept with its crank
    (`Crank.opened`); `draws` particles from `seed`. Before any engine was
    opened the unexplained closing is taken between 0 and 0.30 mm, unless `crank.unexplained_closing` is stated with limits, and a
    tilt of the piston between 0 and 0.08 mm (both from memory), which adds to the closing on one side and takes from it on the other.
    A ``kiss`` says that crown and head came within 0.03 mm of each other or just touched, a ``hit`` that there was more, ``none`` that
    there was less. A mark all round says it of both sides, one at an hour of one side and not of the other, which tells tilt from
    closing; one whose place is not known of one side. One mark in a hundred is taken as misread. Raises `MissingInputError` where
    the closing cannot be had, and `ArgumentError` where hardly any particle makes what was found.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm"), cylinder=te.Cylinder(bore="54 mm"))
    >>> opened = [te.Witness(cold_gap="0.55 mm", top_speed="13000 rpm", mark="none"),
    ...           te.Witness(cold_gap="0.40 mm", top_speed="13000 rpm", mark="hit")]
    >>> made = te.learn(top, opened, draws=4000)
    >>> made.engines, bool(0.30 < made.closing(top, crank_speed_rpm=13000).mean() < 0.55)
    (2, True)
    """
    must_be("learn", "top", top, TopEnd)
    must_count("learn", "draws", draws)
    opened = list(witnesses) if witnesses is not None else list((top.crank.opened if top.crank is not None else None) or ())
    for one in opened:
        must_be("learn", "each of witnesses", one, Witness)
    moved = _of(top)
    shared = [one for one in moved if not one.path.endswith(".clearance")]
    own = math.fsum(((one.high - one.low) ** 2) / 12.0 for one in moved if one.path.endswith(".clearance"))
    rng = np.random.default_rng(seed)
    at = [one.place + one.low + (one.high - one.low) * rng.random(draws) for one in shared]
    columns = placed(top.row, shared, at)
    if _UNEXPLAINED not in top.row.values:
        columns[_UNEXPLAINED] = UNEXPLAINED * rng.random(draws)
    tilt = TILT * rng.random(draws)
    weight = np.zeros(draws)
    for one in opened:
        there = columns | {_SPEED: np.array([one.top_speed.si])}
        values, _ = evaluate_columns(top.row.structure.with_given(there), there, ["closure_total"], judge=False)
        limits = one.cold_gap.si_limits
        gap = 0.0 if limits is None else (limits.high - limits.low) ** 2 / 12.0
        spread = math.sqrt(own + gap + OWN**2)
        weight += np.log(_likelihood(one, values["closure_total"], tilt, spread))
    weight -= weight.max()
    share = np.exp(weight)
    total = float(share.sum())
    effective = total**2 / float(np.square(share).sum())
    if not effective >= 2.0:
        raise ArgumentError(
            f"no closing that the limits allow makes what was found in all {len(opened)} engines; look at their gaps and marks"
        )
    # systematic resampling: every particle comes as often as its weight says, give or take one
    places = np.searchsorted(np.cumsum(share) / total, (np.arange(draws) + rng.random()) / draws)
    pick = rng.permutation(np.minimum(places, draws - 1))
    kept = {one.path for one in shared} | {_UNEXPLAINED}
    particles = {path: np.broadcast_to(column, (draws,))[pick] for path, column in columns.items() if path in kept}
    return Learned(particles | {_TILT: tilt[pick]}, len(opened), effective)


def _of(top: TopEnd) -> list[Moved]:
    """What moves the closing, at any speed."""
    row = top.row
    planned = wiring.plan(row.structure.with_given([_SPEED]), ("closure_total",))
    if planned.missing:
        needs = planned.missing["closure_total"].needs
        raise MissingInputError("closure_total", needs, needs_message("closure_total", needs))
    known = row.columns() | {_SPEED: np.array([1000.0])}
    moved = moved_inputs(row, planned, known)
    return [one for one in moved if one.basis != "written" and one.path != _SPEED]


def _likelihood(one: Witness, closing: NDArray[np.float64], tilt: NDArray[np.float64], spread: float) -> NDArray[np.float64]:
    """How likely each particle makes what was found, the engine's own clearances and gap spread about theirs."""
    gap = one.cold_gap.si

    def under(limit: Any) -> NDArray[np.float64]:
        return _normal((limit - closing) / spread)

    # from which closing on the near side, and the far one, is marked at all; up to which the near one is only kissed
    near, far, kissed = gap - tilt - KISS, gap + tilt - KISS, gap - tilt + KISS
    low: Any
    high: Any
    if one.mark == "none":
        found = under(near)
    elif one.mark == "kiss":
        low = far if one.clock == "round" else near
        high = kissed if one.clock in ("round", None) else np.minimum(kissed, far)
        found = np.maximum(under(high) - under(low), 0.0)
    else:
        low = np.maximum(kissed, far) if one.clock == "round" else kissed
        high = under(far) if one.clock not in ("round", None) else 1.0
        found = np.maximum(high - under(low), 0.0)
    return (1.0 - MISREAD) * found + MISREAD / 3.0


def _normal(z: NDArray[np.float64]) -> NDArray[np.float64]:
    from scipy.special import ndtr  # wanted by few

    made: NDArray[np.float64] = ndtr(z)
    return made
