"""The rows of a study as it describes them: what its axes set in a row, what is drawn there, and that row as a top end."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from topend.assembly import READ_WITH, Row, TopEnd, lowered_changed, with_values
from topend.errors import StudyError, must_be
from topend.parts import Part
from topend.study.axes import Axis, Limit, shown_unit
from topend.units import Limits, from_si, quantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Variants", "stream_of", "unit_draws"]


@dataclass(frozen=True, eq=False, repr=False)
class Variants:
    """The rows of a study as it describes them: what `Study` holds."""

    top: TopEnd
    axes: tuple[Axis, ...] = field(default=())
    #: how many draws, and their seed
    draws: tuple[int, int] | None = field(default=None)
    limits: tuple[Limit, ...] = field(default=())

    def __post_init__(self) -> None:
        must_be("Study", "top", self.top, TopEnd)

    def _rows(self) -> int:
        return math.prod(len(axis) for axis in self.axes) * (1 if self.draws is None else self.draws[0])

    def __len__(self) -> int:
        return self._rows()

    def changes(self, row: int) -> dict[str, Any]:
        """What the axes set in row number `row`: parts by kind, values by path, as `TopEnd.replace` takes them."""
        made: dict[str, Any] = {}
        for axis, index in zip(self.axes, self._places(row), strict=False):
            if axis.kind is not None:
                made[axis.kind] = axis.parts[index]
            for one in axis.together:
                made[one.path] = quantity(float(one.values[index]), one.unit)
        return made

    def drawn(self, row: int) -> dict[str, Any]:
        """What `sample` draws in row number `row`, by path: values of the study's own top end, and of its parts along axes.

        A part that another takes the place of is drawn all the same where the deck was read with it: its paths then begin
        with ``deck.``.
        """
        own, parts = self._drawn(row)
        made: dict[str, Any] = {}
        for path, (value, _) in own.items():
            kind = path.partition(".")[0]
            if kind not in parts:
                made[path] = value
            elif kind != "head" and self.top.deck is not None:
                made[f"deck.{path}"] = value
        return made | {path: value for drawn in parts.values() for path, value in drawn.items()}

    def top_end(self, row: int) -> TopEnd:
        """Row number `row` as a `TopEnd`, whose evaluation gives that row to the bit.

        Raises `AssemblyError` where it cannot be assembled, with the reason of the row's status; `PartError` where a value is
        no size (status `not_a_size`).
        """
        changes = self.changes(row)
        own, parts = self._drawn(row)
        for kind, values in parts.items():
            changes[kind] = getattr(with_values(TopEnd.model_construct(**{kind: changes[kind]}), values), kind)
        true = with_values(self.top, {at: value for path, (value, copies) in own.items() for at in (path, *copies)}, changes)
        return self.top._told(TopEnd(**true._replaced(changes)))

    def _places(self, row: int) -> list[int]:
        """The index along every axis of a row, that of the draw last."""
        if isinstance(row, bool) or not isinstance(row, (int, np.integer)) or not 0 <= row < len(self):
            raise StudyError(f"row must be a whole number from 0 to {len(self) - 1}; got {row!r}")
        lengths = [len(axis) for axis in self.axes] + ([] if self.draws is None else [self.draws[0]])
        places: list[int] = []
        rest = int(row)
        for length in reversed(lengths):
            rest, index = divmod(rest, length)
            places.insert(0, index)
        return places

    def _drawn(self, row: int) -> tuple[dict[str, tuple[Any, tuple[str, ...]]], dict[str, dict[str, Any]]]:
        """Draws of the study's own top end, by path, each with the other paths where that value stands; those of parts, by kind."""
        if self.draws is None:
            return {}, {}
        draw, seed, base = self._places(row)[-1], self.draws[1], self.top.row

        def value(stream: str, path: str, ends: Limits) -> Any:
            unit = shown_unit(path)
            low, high = from_si(ends.low, unit), from_si(ends.high, unit)
            return quantity(low + (high - low) * float(unit_draws(seed, stream, draw, 1)[0]), unit)

        own: dict[str, tuple[Any, tuple[str, ...]]] = {}
        for path, ends in base.limits.items():
            if ends.low < ends.high and stream_of(base, path) == path:
                copies = tuple(other for other in base.limits if other != path and stream_of(base, other) == path)
                own[path] = value(path, path, ends), copies
        parts = {}
        for kind, part in self.changes(row).items():
            if isinstance(part, Part):
                limits = lowered_changed(TopEnd(), {kind: part})[0].limits
                parts[kind] = {path: value(f"part {path}", path, ends) for path, ends in limits.items() if ends.low < ends.high}
        return own, parts


def unit_draws(seed: int, stream: str, start: int, count: int) -> NDArray[np.float64]:
    """Draws `start` to `start + count` of a stream of numbers from 0 to 1: a counter and a key, so any stretch comes alone."""
    key = int.from_bytes(hashlib.sha256(f"{seed} {stream}".encode()).digest()[:16], "little")
    bits = np.random.Philox(key=key)
    # a step of the counter gives four numbers
    bits.advance(start // 4)
    return np.random.Generator(bits).random(start % 4 + count)[start % 4 :]


def stream_of(base: Row, path: str) -> str:
    """The path whose draw this value has: its own, or, under a reading, that of the part or the stack which is the very same."""
    if base.same_stack(path):
        return READ_WITH[path]
    own = path.removeprefix("deck.")
    same = own != path and base.values.get(own) == base.values[path] and base.limits.get(own) == base.limits.get(path)
    return own if same else path
