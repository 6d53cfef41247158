"""What a study gives: a table of rows in memory, or a summary of rows that were never kept."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.errors import StudyError, UnknownNameError
from topend.notebook import html_table
from topend.quantities import OUTPUTS, STATUS, Output
from topend.units import Quantity, StatedValueError, figure_si, from_si, quantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "Aim",
    "PartColumn",
    "Partial",
    "Spread",
    "Summary",
    "Table",
    "arrow",
    "arrow_arrays",
    "arrow_schema",
    "arrow_table",
    "figure",
    "joined",
    "needs_extra",
    "partial",
    "reason_counts",
    "reasons",
]

_REASONS: Final = {entry.code: entry.reason for entry in STATUS.values()}
_CODES: Final = max(_REASONS) + 1
#: Rows of a table that its repr shows: the first and the last of them.
_SHOWN: Final = 4


def figure(unit: str, given: Any, what: str) -> float:
    """A value of an output of `unit` in SI: a bare number for a ratio, else a text or a quantity of the output's kind.

    Raises `StudyError`, whose message begins with `what`.
    """
    try:
        return figure_si(given, unit)
    except StatedValueError as error:
        raise StudyError(f"{what} {error}") from None


def reasons(status: NDArray[np.int8]) -> dict[str, int]:
    """How many rows have each status, by reason in the order of codes.

    >>> reasons(np.array([0, 10, 0], dtype=np.int8))
    {'ok': 2, 'contact': 1}
    """
    return reason_counts(dict(enumerate(np.bincount(status).tolist())))


def reason_counts(codes: Mapping[int, int]) -> dict[str, int]:
    """Counts by status code as counts by reason, those that are not zero."""
    return {_REASONS[code]: codes[code] for code in sorted(codes) if codes[code]}


# --- which rows are best ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Aim:
    """Which rows are best: the first `count` by the figure `name`, largest, smallest, or nearest to `target` (in its shown unit).

    Rows of one figure go by their number; rows without the figure are never best.
    """

    name: str
    count: int
    way: str
    target: float | None = None
    #: that of the figure, where it is an output
    unit: str | None = None

    @classmethod
    def asked(cls, name: str, unit: str | None, n: int, *, largest: bool, smallest: bool, target: Any) -> Aim:
        """What `best` of a table or a study was asked for; `unit` that of an output, None of what the study set."""
        if isinstance(n, bool) or not isinstance(n, int) or n < 1:
            raise StudyError(f"best needs n as a whole number from 1; got {n!r}")
        if (bool(largest), bool(smallest), target is not None).count(True) != 1:
            raise StudyError(f"best of {name} needs one of largest=True, smallest=True or target=, and only one")
        if target is None:
            return cls(name, n, "largest" if largest else "smallest", unit=unit)
        if unit is None:
            raise StudyError(f"a target is for an output; {name} was set by the study itself")
        return cls(name, n, "target", from_si(figure(unit, target, f"target of {name}"), unit), unit)

    def order(self, values: NDArray[np.float64], row: NDArray[np.int64]) -> NDArray[np.intp]:
        """Places of the best of `values`, best first; `row` decides between equals."""
        known = np.flatnonzero(~np.isnan(values))
        score = values[known]
        score = -score if self.way == "largest" else score if self.target is None else np.abs(score - self.target)
        if len(known) > 4 * self.count:
            near = score <= np.partition(score, self.count - 1)[self.count - 1]
            known, score = known[near], score[near]
        return known[np.lexsort((row[known], score))][: self.count]

    @property
    def text(self) -> str:
        if self.target is None:
            return f"{self.way} {self.name}"
        return f"{self.name} nearest to {self.target:.10g}{'' if self.unit in (None, '–') else f' {self.unit}'}"


# --- rows in memory --------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PartColumn:
    """Which part each row has, of a `parts` axis: a whole number a row, and the name that each number stands for."""

    index: NDArray[np.int32]
    names: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.index)

    def __getitem__(self, row: int) -> str:
        return self.names[int(self.index[row])]


@dataclass(frozen=True, eq=False, repr=False)
class Table:
    """Rows of a study, in product order (the last axis runs fastest).

    `columns` holds float64 arrays by name: what the study set, by path, then the outputs; `units` says in which unit each is.
    `status` holds int8 codes (docs/refusals.md): a refused row has its code there and NaN in every output. `row` is each
    row's number in the study, which counts from 0 and is not dense where `where` left rows out. `parts` says which part a
    row has of each `parts` axis. `version` is that of the topend that worked it out.

    >>> import topend as te
    >>> study = te.Study(te.TopEnd()).vary("crank.stroke", ["40 mm", "41 mm"]).vary("cylinder.bore", ["40 mm"])
    >>> table = study.run(["swept_volume"])
    >>> table.columns["swept_volume"].round(2), table.units["swept_volume"], len(table)
    (array([50.27, 51.52]), 'cc', 2)
    """

    columns: Mapping[str, NDArray[np.float64]]
    units: Mapping[str, str]
    status: NDArray[np.int8]
    row: NDArray[np.int64]
    parts: Mapping[str, PartColumn] = field(default_factory=dict)
    version: str = ""
    #: the study that gave it, made ready
    study: Any = None

    @property
    def digest(self) -> str:
        """Digest of the study that gave it, as in a folder's schema."""
        return "" if self.study is None else str(self.study.digest)

    @property
    def known(self) -> Mapping[str, Output]:
        """The outputs that its study knows: the outputs table, and what packs add to it."""
        return OUTPUTS if self.study is None else self.study.known

    def __len__(self) -> int:
        return len(self.row)

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        try:
            return self.columns[name]
        except KeyError:
            raise UnknownNameError(name, self.columns, what="column", searched="this table") from None

    def quantity(self, name: str) -> Quantity | NDArray[np.float64]:
        """A column as an array quantity that shares its memory; a ratio stays an array of plain numbers."""
        values, unit = self[name], self.units[name]
        return values if unit == "–" else Quantity(values, quantity(1.0, unit).units)

    def taken(self, places: NDArray[Any]) -> Table:
        """The rows at `places` (indices or a mask), in that order."""
        return Table(
            {name: values[places] for name, values in self.columns.items()},
            self.units,
            self.status[places],
            self.row[places],
            {kind: PartColumn(column.index[places], column.names) for kind, column in self.parts.items()},
            self.version,
            self.study,
        )

    def best(self, name: str, n: int = 10, *, largest: bool = False, smallest: bool = False, target: Any = None) -> Table:
        """The `n` best rows by column `name`, best first: `largest=True`, `smallest=True`, or nearest to `target`.

        `target` is a text or a quantity, a plain number for a ratio. Refused rows are never best; of equal rows the one that
        comes first is taken first.
        """
        values = self[name]
        aim = Aim.asked(name, self.units[name] if name in self.known else None, n, largest=largest, smallest=smallest, target=target)
        judged = np.where(self.status == 0, values, np.nan)
        return self.taken(aim.order(judged, self.row))

    def reasons(self) -> dict[str, int]:
        """How many rows have each status, by reason."""
        return reasons(self.status)

    def to_arrow(self) -> Any:
        """A `pyarrow.Table`: `row`, parts by name, the columns, `status`; each field's metadata has its unit.

        The schema's metadata has `topend.version`, `topend.study` (the study's digest) and `topend.units` (JSON). Needs the
        extra ``cluster``.
        """
        return arrow_table(self)

    def __repr__(self) -> str:
        counts = ", ".join(f"{count} {reason}" for reason, count in self.reasons().items())
        title = f"Table of {len(self)} rows{f': {counts}' if counts else ''}"
        return "\n".join([title, *self.lines()])

    def lines(self, shown: int = _SHOWN, width: int = 120) -> list[str]:
        """The first and last `shown` rows as aligned text of at most `width` columns where they fit, a heading with units first."""
        places, blocks = self._blocks(shown)
        lines: list[str] = []
        for group in _pages(blocks, width):
            widths = [max(map(len, block)) for block in group]
            made = [
                "  ".join(cell.rjust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()
                for cells in zip(*group, strict=True)
            ]
            if len(places) < len(self):
                made.insert(2 + shown, "...")
            if not made[1]:
                del made[1]
            lines += [*([""] if lines else []), *made]
        return lines

    def as_text(self) -> list[list[str]]:
        """Every column as its name, its unit ("" for a ratio) and its cells, all rows: row number, parts, what was varied, outputs."""
        return self._blocks(len(self))[1]

    def _repr_html_(self) -> str:
        """The first and last rows as a table, for notebooks."""
        places, blocks = self._blocks(_SHOWN)
        rows = [list(cells) for cells in zip(*(block[2:] for block in blocks), strict=True)]
        if len(places) < len(self):
            rows.insert(_SHOWN, ["…"] * len(blocks))
        headings = [f"{name} [{unit}]" if unit else name for name, unit, *_ in blocks]
        return html_table(repr(self).splitlines()[0], headings, rows)

    def _blocks(self, shown: int) -> tuple[list[int], list[list[str]]]:
        """Places of the rows that are shown, and every column as its name, its unit and its cells."""
        count = len(self)
        places = list(range(count)) if count <= 2 * shown + 1 else [*range(shown), *range(count - shown, count)]
        blocks: list[list[str]] = [["row", "", *(str(self.row[place]) for place in places)]]
        blocks += [[kind, "", *(column[place] for place in places)] for kind, column in self.parts.items()]
        for name, values in self.columns.items():
            unit = self.units[name]
            decimals = self.known[name].decimals if name in self.known else None
            blocks.append([name, "" if unit == "–" else unit, *(_cell(values[place], decimals) for place in places)])
        if self.status.any():
            blocks.append(["status", "", *(_REASONS[int(self.status[place])] for place in places)])
        return places, blocks


def _pages(blocks: Sequence[list[str]], width: int) -> list[list[list[str]]]:
    """Columns in groups that fit the line, each with the row numbers first."""
    first, pages = blocks[0], [[blocks[0]]]
    used = max(map(len, first))
    for block in blocks[1:]:
        need = 2 + max(map(len, block))
        if used + need > width and len(pages[-1]) > 1:
            pages.append([first])
            used = max(map(len, first))
        pages[-1].append(block)
        used += need
    return pages


def _cell(value: float, decimals: int | None) -> str:
    if math.isnan(value):
        return "-"
    return f"{value:.6g}" if decimals is None else f"{value:.{decimals}f}"


# --- rows that were not kept -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Spread:
    """Least, greatest and mean of an output over the rows that have it, in its shown unit; None over no rows."""

    count: int
    least: float | None
    greatest: float | None
    mean: float | None


@dataclass(frozen=True, eq=False)
class Summary:
    """What a study comes to, reduced where it was worked out.

    `rows` is the number of rows in the study; `reasons` how many of them have each status; `kept` how many are in order and
    inside all of the limits of `where`. `outputs` gives the spread of each output over the kept rows, `best` the best of
    them as a `Table`, where they were asked for.

    >>> import topend as te
    >>> study = te.Study(te.TopEnd(crank=te.Crank(stroke="40 mm"))).vary("cylinder.bore", "39:41:0.5 mm")
    >>> study.summarise(["swept_volume"])
    5 rows: 5 in order, 5 kept
                    least  greatest   mean
      swept_volume  47.78     52.81  50.28  cc
    """

    rows: int
    kept: int
    reasons: Mapping[str, int]
    outputs: Mapping[str, Spread]
    units: Mapping[str, str]
    best: Table | None = None
    aim: str | None = None
    #: decimals worth showing of each output
    decimals: Mapping[str, int] = field(default_factory=dict)

    def _repr_html_(self) -> str:
        """The spread of each output as a table, for notebooks, and the best rows below it."""
        rows = []
        for name, spread in self.outputs.items():
            decimals = self.decimals[name]
            figures = [_cell(math.nan if one is None else one, decimals) for one in (spread.least, spread.greatest, spread.mean)]
            rows.append([name, *figures, self.units[name].replace("–", "")])
        told = html_table(repr(self).splitlines()[0], ("output", "least", "greatest", "mean", "unit"), rows)
        return told if self.best is None else f"{told}\n{self.best._repr_html_()}"

    def __repr__(self) -> str:
        refused = {reason: count for reason, count in self.reasons.items() if reason != "ok"}
        lines = [f"{self.rows} rows: {self.reasons.get('ok', 0)} in order, {self.kept} kept"]
        lines += [f"  refused, {reason}: {count}" for reason, count in refused.items()]
        names = [["", "least", "greatest", "mean", ""]]
        for name, spread in self.outputs.items():
            decimals = self.decimals[name]
            figures = [_cell(math.nan if one is None else one, decimals) for one in (spread.least, spread.greatest, spread.mean)]
            names.append([name, *figures, "" if self.units[name] == "–" else self.units[name]])
        widths = [max(len(row[at]) for row in names) for at in range(5)]
        if len(names) > 1:
            for row in names:
                cells = [row[0].ljust(widths[0]), *(cell.rjust(width) for cell, width in zip(row[1:4], widths[1:4], strict=True)), row[4]]
                lines.append(("  " + "  ".join(cells)).rstrip())
        if self.best is not None:
            lines += [f"best by {self.aim}:", *(f"  {line}".rstrip() for line in self.best.lines(shown=10))]
        return "\n".join(lines)


@dataclass
class Partial:
    """A summary in the making, in SI. Partials of neighbouring ranges join, in their order, into that of the whole."""

    rows: int
    kept: int
    codes: NDArray[np.int64]
    #: a row an output: count, least, greatest, sum, and what rounding took from the sum
    figures: NDArray[np.float64]
    #: the best rows so far and their figure, in its shown unit
    best: tuple[NDArray[np.int64], NDArray[np.float64]]

    @classmethod
    def none(cls, outputs: int) -> Partial:
        figures = np.zeros((outputs, 5))
        figures[:, 1], figures[:, 2] = np.inf, -np.inf
        return cls(0, 0, np.zeros(_CODES, dtype=np.int64), figures, (np.empty(0, dtype=np.int64), np.empty(0)))

    def add(self, other: Partial, aim: Aim | None) -> None:
        """Take in the partial of the rows that follow."""
        self.rows += other.rows
        self.kept += other.kept
        self.codes += other.codes
        mine, theirs = self.figures, other.figures
        mine[:, 0] += theirs[:, 0]
        mine[:, 1] = np.minimum(mine[:, 1], theirs[:, 1])
        mine[:, 2] = np.maximum(mine[:, 2], theirs[:, 2])
        _add_exactly(mine, theirs[:, 3])
        mine[:, 4] += theirs[:, 4]
        if aim is not None:
            self.best = _best(aim, *(np.concatenate(pair) for pair in zip(self.best, other.best, strict=True)))

    def summary(self, outputs: Sequence[Output], best: Table | None, aim: Aim | None) -> Summary:
        spreads = {}
        units = {one.name: one.unit for one in outputs}
        for name, (count, least, greatest, total, lost) in zip(units, self.figures.tolist(), strict=True):
            ends = (least, greatest, (total + lost) / count) if count else ()
            spreads[name] = Spread(int(count), *(from_si(end, units[name]) for end in ends)) if ends else Spread(0, None, None, None)
        counts = reason_counts(dict(enumerate(self.codes.tolist())))
        decimals = {one.name: one.decimals for one in outputs}
        return Summary(self.rows, self.kept, counts, spreads, units, best, None if aim is None else aim.text, decimals)


def _best(aim: Aim, row: NDArray[np.int64], values: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    places = aim.order(values, row)
    return row[places], values[places]


def _add_exactly(figures: NDArray[np.float64], more: NDArray[np.float64]) -> None:
    """Add to the sums and keep what rounding takes: a hundred thousand partials lose nothing that shows."""
    total = figures[:, 3] + more
    big = np.abs(figures[:, 3]) >= np.abs(more)
    figures[:, 4] += np.where(big, (figures[:, 3] - total) + more, (more - total) + figures[:, 3])
    figures[:, 3] = total


def joined(tables: Sequence[Table]) -> Table:
    """The rows of several tables of one study, one after the other."""
    first = tables[0]
    if len(tables) == 1:
        return first
    return Table(
        {name: np.concatenate([table.columns[name] for table in tables]) for name in first.columns},
        first.units,
        np.concatenate([table.status for table in tables]),
        np.concatenate([table.row for table in tables]),
        {
            kind: PartColumn(np.concatenate([table.parts[kind].index for table in tables]), column.names)
            for kind, column in first.parts.items()
        },
        first.version,
        first.study,
    )


def partial(
    row: NDArray[np.int64],
    status: NDArray[np.int8],
    kept: NDArray[np.bool_],
    si: Mapping[str, NDArray[np.float64]],
    units: Mapping[str, str],
    aim: Aim | None,
) -> Partial:
    """The partial summary of a block of rows with outputs in SI, those of `units`; `kept`: which are in order and inside the limits."""
    made = Partial.none(len(units))
    made.rows, made.kept = len(row), int(np.count_nonzero(kept))
    made.codes = np.bincount(status, minlength=_CODES).astype(np.int64)
    whole = made.kept == made.rows
    for place, (name, unit) in enumerate(units.items()):
        values = si[name] if whole else si[name][kept]
        total = float(values.sum())
        if math.isnan(total):
            values = values[~np.isnan(values)]
            total = float(values.sum())
        if len(values):
            made.figures[place, :4] = len(values), values.min(), values.max(), total
        if aim is not None and aim.name == name:
            made.best = _best(aim, row if whole else row[kept], from_si(si[name] if whole else si[name][kept], unit))
    return made


# --- arrow -----------------------------------------------------------------------------------------------------------


def needs_extra(package: str, error: ImportError) -> StudyError:
    """What to say where a package of the extra is not installed."""
    return StudyError(f"this needs {package}, of the extra 'cluster'; install it with: pip install 'topend[cluster]' ({error})")


def arrow() -> tuple[Any, Any]:
    """pyarrow and its Parquet module, or `StudyError` where they are not installed."""
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        raise needs_extra("pyarrow", error) from None
    return pyarrow, pyarrow.parquet


def arrow_schema(units: Mapping[str, str], known: Mapping[str, Output], parts: Iterable[str], version: str, digest: str) -> Any:
    """The schema of a study's rows: unit and meaning on every field, and on the whole the topend version and the study's digest."""
    pa, _ = arrow()
    fields = [pa.field("row", pa.int64(), nullable=False)]
    fields += [pa.field(kind, pa.dictionary(pa.int32(), pa.string()), nullable=False) for kind in parts]
    for name, unit in units.items():
        told = {"unit": unit, **({"meaning": known[name].meaning} if name in known else {})}
        fields.append(pa.field(name, pa.float64(), nullable=False, metadata=told))
    fields.append(pa.field("status", pa.int8(), nullable=False))
    metadata = {"topend.version": version, "topend.study": digest, "topend.units": json.dumps(dict(units), ensure_ascii=False)}
    return pa.schema(fields, metadata=metadata)


def arrow_arrays(table: Table) -> list[Any]:
    """The columns of a table in the order of its schema."""
    pa, _ = arrow()
    made = [pa.array(table.row)]
    made += [pa.DictionaryArray.from_arrays(pa.array(column.index), pa.array(column.names)) for column in table.parts.values()]
    # NaN stays NaN: a refused row has no figure, and its status says why
    made += [pa.array(values, from_pandas=False) for values in table.columns.values()]
    return [*made, pa.array(table.status)]


def arrow_table(table: Table) -> Any:
    """A table of a study as a `pyarrow.Table`, whose schema carries units, the topend version and the study's digest."""
    pa, _ = arrow()
    return pa.Table.from_arrays(
        arrow_arrays(table), schema=arrow_schema(table.units, table.known, table.parts, table.version, table.digest)
    )
