"""Limits and standard uncertainty carried through evaluated rows.

First order (JCGM 100:2008, 5.1): every input that carries limits is moved down and up by its standard uncertainty, in one
evaluated block of 2n + 1 rows; half the change is its share of the output's standard uncertainty, and the shares add as
squares. Limits are a rectangular distribution, u = half-width/√3 (4.3.7).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topend.assembly import Row, TopEnd
from topend.errors import MissingInputError
from topend.evaluation import default_limits, needs_message
from topend.physics import wiring
from topend.quantities import OUTPUTS, output
from topend.units import Limits, Quantity, from_si, quantity

__all__ = ["Share", "Uncertain", "uncertainty"]

#: Coverage factor of the interval that is shown: about 95 % for a normal distribution (JCGM 100:2008, 6.3.3).
COVERAGE: Final = 2.0


@dataclass(frozen=True, slots=True)
class Share:
    """What one input brings to an output's standard uncertainty: `u` in the output's unit, signed by its sensitivity.

    `basis` is ``limits`` (stated), ``assumed`` (limits of a default), or ``written`` (half of the last written decimal).
    """

    path: str
    u: float
    basis: str


@dataclass(frozen=True)
class Uncertain:
    """An output with its standard uncertainty, in the unit of the outputs table.

    `u` counts limits, stated or assumed. `u_written` counts besides, for inputs without limits, half of their last written
    decimal: no digit beyond it is worth showing. `shares` is the budget, greatest first.
    """

    name: str
    value: float
    u: float
    u_written: float
    unit: str
    shares: tuple[Share, ...]

    @property
    def interval(self) -> tuple[float, float]:
        """The value with twice its standard uncertainty on either side."""
        return self.value - COVERAGE * self.u, self.value + COVERAGE * self.u

    @property
    def quantity(self) -> Quantity | float:
        """The value as a pint quantity; a float for a ratio."""
        return self.value if self.unit == "–" else quantity(self.value, self.unit)

    @property
    def decimals(self) -> int:
        """Decimals worth showing: none finer than two digits of `u_written`, none finer than the trade reads."""
        most = OUTPUTS[self.name].decimals
        if not self.u_written > 0.0:
            return most
        return max(0, min(most, 1 - math.floor(math.log10(self.u_written))))

    @property
    def text(self) -> str:
        """The value with as many decimals as are worth showing, and its unit."""
        unit = "" if self.unit == "–" else f" {self.unit}"
        return f"{self.value:.{self.decimals}f}{unit}"


def uncertainty(top: TopEnd, outputs: Iterable[str] | None = None) -> dict[str, Uncertain]:
    """Value, standard uncertainty and budget of outputs of `top`, to first order.

    Parameters: `outputs` names from the outputs table; None for all that can be had. Raises as `evaluate`.

    >>> from topend.parts import DeckReading, FlushHead, Gasket
    >>> top = TopEnd(deck=DeckReading(clearance="0.70 mm ± 0.03 mm"), head=FlushHead(),
    ...              head_gaskets=[Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.01 mm")])
    >>> edge = uncertainty(top, ["squish_edge"])["squish_edge"]
    >>> round(edge.u, 5), [share.path for share in edge.shares]
    (0.01826, ['deck.clearance', 'head_gaskets.0.fitted_thickness'])
    """
    row = top.row
    names = list(OUTPUTS) if outputs is None else [output(name).name for name in outputs]
    planned = wiring.plan(row.structure, tuple(names))
    if outputs is not None and planned.missing:
        name, lack = next(iter(planned.missing.items()))
        raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))
    names = [name for name in names if name not in planned.missing]
    moved = _moved(row, planned, top.values)
    columns = _block(row, planned, moved)
    values = wiring.run(wiring.plan(row.structure.with_given(columns), tuple(names)), columns)
    rows = 2 * len(moved) + 1
    made = {}
    for name in names:
        unit = OUTPUTS[name].unit
        shown = np.broadcast_to(from_si(np.asarray(values[name], dtype=np.float64), unit), (rows,))
        halves = (shown[2::2] - shown[1::2]) / 2.0
        shares = [Share(one.path, float(half), one.basis) for one, half in zip(moved, halves, strict=True) if half != 0.0]
        shares.sort(key=lambda share: -abs(share.u))
        square = math.fsum(share.u**2 for share in shares if share.basis != "written")
        written = math.fsum(share.u**2 for share in shares)
        made[name] = Uncertain(name, float(shown[0]), math.sqrt(square), math.sqrt(written), unit, tuple(shares))
    return made


@dataclass(frozen=True, slots=True)
class _Moved:
    """An input to be moved: the paths that move together, by how much, and why."""

    path: str
    together: tuple[str, ...]
    step: float
    basis: str


def _moved(row: Row, planned: wiring.Plan, known: Mapping[str, Any]) -> list[_Moved]:
    used = {name for step in planned.steps for name in step.takes}
    found = []
    for path, value in row.values.items():
        if path not in used or _is_copy(row, path):
            continue
        ends, written = row.limits.get(path), row.resolutions.get(path)
        if ends is not None and ends.high > ends.low:
            step, basis = (ends.high - ends.low) / 2.0 / math.sqrt(3.0), "limits"
            basis = "assumed" if path in row.noted else basis
        elif written is not None and value != 0.0:
            step, basis = written / math.sqrt(3.0), "written"
        else:
            continue
        copy = f"deck.{path}"
        together = (path, copy) if copy in row.values and _is_copy(row, copy) else (path,)
        found.append(_Moved(path, together, step, basis))
    values = wiring.run(planned, known)
    for node in planned.assumptions:
        ends = _own_limits(row, node, values)
        if ends is not None and ends.high > ends.low:
            found.append(_Moved(node.name, (node.name,), (ends.high - ends.low) / 2.0 / math.sqrt(3.0), "assumed"))
    return found


def _own_limits(row: Row, node: wiring.Node, values: Mapping[str, Any]) -> Limits | None:
    """What a default adds to the limits of what it was made from, which moves by itself and takes the default along."""
    ends = default_limits(row, node, values) if node.inputs else None
    nominal = row.limits.get(node.takes[0]) if node.inputs else None
    if ends is None or nominal is None or not node.name.endswith("fitted_thickness"):
        return ends
    # limits stated of a nominal thickness stand for ± 0.02 mm; crush alone is left
    value = float(values[node.name][0])
    return Limits(value * (ends.low / nominal.low), value)


def _is_copy(row: Row, path: str) -> bool:
    """Whether `path` is a part under the deck reading that is still the top end's own: one value, not two."""
    own = path.removeprefix("deck.")
    return own != path and own in row.values and _same(row, own, path)


def _same(row: Row, one: str, other: str) -> bool:
    return row.values[one] == row.values[other] and row.limits.get(one) == row.limits.get(other)


def _block(row: Row, planned: wiring.Plan, moved: list[_Moved]) -> dict[str, Any]:
    """Columns of 2n + 1 rows: the stated row, then each moved input down and up."""
    rows = 2 * len(moved) + 1
    steps: dict[str, list[tuple[int, float]]] = {}
    for index, one in enumerate(moved):
        for path in one.together:
            steps.setdefault(path, []).append((2 * index + 1, one.step))
    columns: dict[str, Any] = {}
    for path, value in row.values.items():
        columns[path] = _stepped(np.array([value]), steps.get(path, []), rows)
    # a default follows what it is made from, and moves by its own limits besides
    given = wiring.run(planned, columns)
    for node in planned.assumptions:
        if node.name in steps:
            columns[node.name] = _stepped(given[node.name], steps[node.name], rows)
    return columns


def _stepped(column: Any, steps: list[tuple[int, float]], rows: int) -> Any:
    if not steps:
        return column
    made = np.array(np.broadcast_to(column, (rows,)), dtype=np.float64)
    for at, step in steps:
        made[at] -= step
        made[at + 1] += step
    return made
