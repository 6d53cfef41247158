"""A range of a study's rows, evaluated, and what is shown of it."""

from __future__ import annotations

import typing
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from topend.quantities import CODES
from topend.study.axes import shown_unit
from topend.study.sources import Along, Drawn, Fixed, Group, Stack
from topend.study.table import PartColumn, Table
from topend.units import from_si, put_from_si, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from topend.study.compiled import Compiled

__all__ = ["Block", "GroupRows"]

Number = TypeVar("Number", bound=np.generic)


class Block:
    """A range of rows, evaluated: status, and outputs in SI. Everything shown is made when it is asked for."""

    def __init__(self, compiled: Compiled, start: int, stop: int) -> None:
        count = stop - start
        self._compiled = compiled
        self.row = np.arange(start, stop, dtype=np.int64)
        self._along = [compiled.along(axis, start, stop, self.row) for axis in range(len(compiled.axes))]
        variant: NDArray[np.int64] = np.zeros(1, dtype=np.int64)
        for place in compiled.choices:
            variant = variant * compiled.lengths[place] + self._index(place)
        group_of, place_in = compiled.group_of[variant], compiled.place_in[variant]
        numbers = np.unique(group_of).tolist()
        draws: dict[str, NDArray[np.float64]] = {}
        self._parts = []
        for number in numbers:
            chosen = None if len(numbers) == 1 else np.flatnonzero(group_of == number)
            self._parts.append(GroupRows(compiled, compiled.groups[number], self.row, self._along, place_in, chosen, draws))
        self.si: dict[str, NDArray[np.float64]] = {}
        self.status = np.empty(count, dtype=np.int8)
        self._evaluate(count)
        self.kept = self.status == 0
        for limit in compiled.study.limits:
            # NaN is inside no limits
            self.kept &= (self.si[limit.name] >= limit.low) & (self.si[limit.name] <= limit.high)

    def _index(self, place: int) -> NDArray[np.int64]:
        index = self._along[place]
        assert not isinstance(index, slice)
        return index

    def _evaluate(self, count: int) -> None:
        compiled = self._compiled
        for part in self._parts:
            if part.group.refused:
                code = np.full(part.count, part.group.refused, dtype=np.int8)
                made = {name: np.full(part.count, np.nan) for name in compiled.computed}
            else:
                made, code = compiled.evaluated(part.group, part)
            if part.chosen is None:
                self.si, self.status = made, code
                break
            self.status[part.chosen] = code
            for name in compiled.computed:
                self.si.setdefault(name, np.empty(count))[part.chosen] = made[name]
        for along, outside in zip(self._along, compiled.outside, strict=True):
            if outside.any():
                refused = np.broadcast_to(outside[along], (count,))
                self.status[refused] = CODES["not_a_size"]
                for values in self.si.values():
                    values[refused] = np.nan

    def put(self, table: Table) -> None:
        """The rows into their place in the table of the whole study."""
        compiled, here = self._compiled, slice(int(self.row[0]), int(self.row[-1]) + 1)
        for name, path in compiled.inputs.items():
            column = table.columns[name][here]
            for part in self._parts:
                column[slice(None) if part.chosen is None else part.chosen] = part.shown(path)
        for name in compiled.outputs:
            put_from_si(table.columns[name][here], self.si[name], compiled.units[name])
        table.status[here], table.row[here] = self.status, self.row
        for place in compiled.choices:
            table.parts[str(compiled.axes[place].kind)].index[here] = self._index(place)

    def table(self, kept: NDArray[np.bool_] | None = None) -> Table:
        """The rows, or those of them that are `kept`, in shown units."""
        compiled, count = self._compiled, len(self.row)
        some = kept is not None and not kept.all()

        def of(column: NDArray[Any]) -> NDArray[Any]:
            full = np.broadcast_to(column, (count,))
            # what is a view of the study's own values is copied: a table is its owner's
            return full[kept] if some else np.array(full)

        columns: dict[str, NDArray[np.float64]] = {}
        for name, path in compiled.inputs.items():
            if len(self._parts) == 1:
                columns[name] = of(self._parts[0].shown(path))
                continue
            column = np.empty(count)
            for part in self._parts:
                column[part.chosen] = part.shown(path)
            columns[name] = of(column)
        for name in compiled.outputs:
            columns[name] = from_si(of(self.si[name]), compiled.units[name])
        parts = {
            str(compiled.axes[place].kind): PartColumn(of(self._index(place)).astype(np.int32), compiled.axes[place].names)
            for place in compiled.choices
        }
        return Table(columns, compiled.units, of(self.status), of(self.row), parts, compiled.version, compiled)


def _counted(index: NDArray[np.int64] | slice) -> NDArray[np.int64]:
    return np.arange(index.start, index.stop) if isinstance(index, slice) else index


class GroupRows:
    """The rows of a chunk that belong to one group: its columns, as they are asked for."""

    def __init__(
        self,
        compiled: Compiled,
        group: Group,
        row: NDArray[np.int64],
        along: list[NDArray[np.int64] | slice],
        place_in: NDArray[np.int64],
        chosen: NDArray[np.intp] | None,
        draws: dict[str, NDArray[np.float64]],
    ) -> None:
        self._compiled, self.group, self._row, self._draws = compiled, group, row, draws
        self.chosen = chosen
        self._along = [index if isinstance(index, slice) and chosen is None else self._of(_counted(index)) for index in along]
        self._place = self._of(place_in)
        self.count = len(row) if chosen is None else len(chosen)

    def _of(self, column: NDArray[Number]) -> NDArray[Number]:
        return column if self.chosen is None or len(column) == 1 else column[self.chosen]

    def si(self, path: str) -> NDArray[np.float64]:
        """A column in SI: as many values as rows, or one where all rows have the same."""
        sources = self.group.sources[path]
        first = sources[0]
        if isinstance(first, Along):
            known, places = self._compiled.si[first.axis][first.which], self._along[first.axis]
            if known is not None:
                return known[places]
            one = self._compiled.axes[first.axis].together[first.which]
            return to_si(one.values[places], one.unit)
        if isinstance(first, Drawn):
            return to_si(self._drawn(typing.cast("tuple[Drawn, ...]", sources)), first.unit)
        if isinstance(first, Stack):
            return self._stack(first)
        if len(sources) == 1:
            return np.array([first.si])
        return np.array([one.si for one in sources if isinstance(one, Fixed)])[self._place]

    def shown(self, path: str) -> NDArray[np.float64]:
        """The same in the unit of the inputs table; NaN where this group has no such value."""
        for number, axis in enumerate(self._compiled.axes):
            for which, one in enumerate(axis.together):
                if one.path == path:
                    return self._compiled.shown[number][which][self._along[number]]
        sources = self.group.sources.get(path)
        if sources is None:
            return np.array([np.nan])
        if isinstance(sources[0], Drawn):
            return self._drawn(typing.cast("tuple[Drawn, ...]", sources))
        return from_si(self.si(path), shown_unit(path))

    def _drawn(self, sources: tuple[Drawn, ...]) -> NDArray[np.float64]:
        stream = sources[0].stream
        known = self._draws.get(stream)
        if known is None:
            known = self._draws[stream] = self._compiled.draw(stream, self._row)
        low: NDArray[np.float64]
        high: NDArray[np.float64]
        if len(sources) == 1:
            low, high = np.array([sources[0].low]), np.array([sources[0].high])
        else:
            low = np.array([one.low for one in sources])[self._place]
            high = np.array([one.high for one in sources])[self._place]
        return low + (high - low) * self._of(known)

    def _stack(self, source: Stack) -> NDArray[np.float64]:
        total = np.zeros(1)
        for one in source.gaskets:
            total = total + (np.array([one.si]) if isinstance(one, Fixed) else to_si(self._drawn((one,)), one.unit))
        # through millimetres and back, as the assembly states it
        return to_si(from_si(total, "mm"), "mm")
