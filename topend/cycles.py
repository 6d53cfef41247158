"""The closed cycle of one top end over the crank angle, its steps halved until its error is small enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import ArgumentError, MissingInputError, must_be
from topend.evaluation import Assumed, assumed_in, needs_message
from topend.physics import cycle, knock, wiring
from topend.physics.gas import Gas

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["ClosedCycle", "closed_cycle"]

#: How many times the steps are halved before it is told that the tolerance cannot be had.
_HALVINGS: Final = 5


@dataclass(frozen=True, eq=False)
class ClosedCycle:
    """A closed cycle by its nodes: arrays of one length, from exhaust closing to exhaust opening.

    `crank_angle` [deg] after TDC; `pressure` [bar], absolute; `end_gas_temperature` and `burned_temperature` [K], the first to the
    end of the burn, the second from its start, NaN elsewhere; `burned_mass_fraction`; `heat_loss` and `work` [J] so far;
    `knock_integral` so far, NaN after the burn. `peak_pressure` [bar] and `peak_pressure_angle` [deg] lie between nodes. `error`
    holds the estimated relative errors of peak pressure, work and knock integral, `steps` how many there are. `assumed` is what
    nobody stated.

    Made by `te.closed_cycle`, whose example shows one.
    """

    crank_angle: NDArray[np.float64]
    pressure: NDArray[np.float64]
    end_gas_temperature: NDArray[np.float64]
    burned_temperature: NDArray[np.float64]
    burned_mass_fraction: NDArray[np.float64]
    heat_loss: NDArray[np.float64]
    work: NDArray[np.float64]
    knock_integral: NDArray[np.float64]
    peak_pressure: float
    peak_pressure_angle: float
    error: dict[str, float]
    steps: int
    assumed: tuple[Assumed, ...]

    @property
    def columns(self) -> dict[str, NDArray[np.float64]]:
        """The arrays by heading, with their units."""
        return {
            "crank_angle [deg]": self.crank_angle,
            "pressure [bar]": self.pressure,
            "end_gas_temperature [K]": self.end_gas_temperature,
            "burned_temperature [K]": self.burned_temperature,
            "burned_mass_fraction": self.burned_mass_fraction,
            "heat_loss [J]": self.heat_loss,
            "work [J]": self.work,
            "knock_integral": self.knock_integral,
        }

    @property
    def knock_angle(self) -> float | None:
        """Where the end gas's time is spent [deg after TDC]; None where it burns before that."""
        spent = self.knock_integral[np.isfinite(self.knock_integral)]
        if not spent.max() >= 1.0:
            return None
        return float(np.interp(1.0, spent, self.crank_angle[: len(spent)]))

    def __len__(self) -> int:
        return len(self.crank_angle)


def closed_cycle(top: TopEnd, *, tolerance: float = 1e-5) -> ClosedCycle:
    """Pressure, temperatures, heat loss, mass burned and knock integral of `top` over the crank angle.

    Parameters: `tolerance`, the relative error that peak pressure, work and knock integral may have by the estimate of step halving, from
    1e-9;
    it says nothing of how well the model fits an engine. Raises `MissingInputError` where the cycle cannot be had, `ArgumentError` for a
    tolerance that is not reached.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"), running=te.Running(crank_speed="11000 rpm"),
    ...                 burn=te.Burn(spark="16 deg"),
    ...                 cylinder=te.Cylinder(bore="54 mm", ports=[te.Port(kind="exhaust", top="30 mm")]),
    ...                 deck=te.DeckReading(clearance="0 mm"),
    ...                 assembled=te.AssembledVolume(volume="11.5 cc"), base_gaskets=[], head_gaskets=[])
    >>> made = te.closed_cycle(top)
    >>> max(made.error.values()) < 1e-5, made.knock_angle
    (True, None)
    """
    must_be("closed_cycle", "top", top, TopEnd)
    if isinstance(tolerance, bool) or not isinstance(tolerance, (int, float)) or not 1e-9 <= tolerance <= 1.0:
        raise ArgumentError(f"closed_cycle needs a tolerance from 1e-9 to 1, such as 1e-6; got {tolerance!r}")
    planned = wiring.plan(top.row.structure, ("cycle.results",))
    if planned.missing:
        needs = planned.missing["cycle.results"].needs
        raise MissingInputError("closed_cycle", needs, needs_message("closed_cycle", needs))
    node = planned.steps[-1]
    before = wiring.plan(top.row.structure, node.takes)
    values = wiring.run(before, top.values)
    columns: dict[str, Any] = {}
    for argument, name in node.inputs:
        if isinstance(values[name], Gas):
            columns |= {f"{argument}_{field}": one for field, one in zip(Gas._fields, values[name], strict=True)}
        else:
            columns[argument] = values[name]
    relation = top.row.structure.choice("losses.relation") or "annand"
    last: dict[str, Any] | None = None
    error: dict[str, float] = {}
    for halving in range(_HALVINGS + 1):
        steps = tuple(count * 2**halving for count in cycle.STEPS)
        results, segments, _ = cycle.march(columns, heat=relation, steps=steps, audit=True)
        if last is not None:
            judged = {"peak_pressure": "peak_pressure", "closed_work": "work", "knock_integral": "knock_integral"}
            # the finer of the two has a sixteenth of the coarser one's error
            error = {name: float(cycle.step_error(coarse=last[result], fine=results[result])[0]) / 16.0 for name, result in judged.items()}
            if max(error.values()) <= tolerance:
                return _made(columns, results, segments, error, assumed_in(top.row, planned, values))
        last = results
    if not all(np.isfinite(value) for value in error.values()):
        raise ArgumentError(
            f"closed_cycle cannot be followed with {sum(steps)} steps: look at burn, speed and heat loss, far from what engines do"
        )
    told = ", ".join(f"{name} {value:.1e}" for name, value in error.items())
    raise ArgumentError(f"closed_cycle does not come to a relative error of {tolerance:g} with {sum(steps)} steps: {told}; ask for less")


def _made(
    columns: dict[str, Any], results: dict[str, Any], segments: list[cycle.Segment], error: dict[str, float], assumed: Any
) -> ClosedCycle:
    made: dict[str, list[Any]] = {}
    spent = 0.0
    for which, segment in enumerate(segments):
        nodes = segment.nodes
        count = len(nodes["pressure"])
        # of nodes that two segments share, the later one's stands
        here = slice(0, count if which == len(segments) - 1 else count - 1)
        angle = np.degrees(segment.start[0] + segment.step[0] * np.arange(count))
        nothing = np.full(count, np.nan)
        pressure, temperature = nodes["pressure"][:, 0], nodes["tu"][:, 0]
        burned = nodes["mb"][:, 0] / results["trapped_mass"][0] if which else np.zeros(count)
        # the end of the burn is the later segment's first node
        integral, ends = nothing.copy(), nothing.copy()
        integral[0], ends[0] = spent, temperature[0]
        if which < 2:
            ends = temperature
            rate = knock.knock_rate(pressure=pressure, temperature=temperature, octane=columns["octane"])
            slope = knock.knock_slope(rate, pressure, nodes["pressure_slope"][:, 0], temperature, nodes["tu_slope"][:, 0])
            step = segment.step[0]
            each = step * (0.5 * (rate[:-1] + rate[1:]) + step / 12.0 * (slope[:-1] - slope[1:])) / columns["crank_speed"][0]
            integral = spent + np.concatenate([[0.0], np.cumsum(each)])
            spent = integral[-1]
        for name, one in (
            ("crank_angle", angle),
            ("pressure", pressure * 1e-5),
            ("end_gas_temperature", ends),
            ("burned_temperature", nodes["tb"][:, 0] if which else nothing),
            ("burned_mass_fraction", burned),
            ("heat_loss", nodes["heat"][:, 0]),
            ("work", nodes["work"][:, 0]),
            ("knock_integral", integral),
        ):
            made.setdefault(name, []).append(one[here])
    arrays = {name: np.concatenate(parts) for name, parts in made.items()}
    peak, angle = float(results["peak_pressure"][0]) * 1e-5, float(np.degrees(results["peak_angle"][0]))
    return ClosedCycle(
        **arrays, peak_pressure=peak, peak_pressure_angle=angle, error=error, steps=len(arrays["pressure"]) - 1, assumed=assumed
    )
