"""Studies: variants of one top end as columns, evaluated in blocks, on threads or on a cluster.

A `Study` is a description of rows: a top end, and axes of what is changed in it. Nothing is worked out until `run` or
`summarise`, and then each range of rows is made from the description alone, wherever that happens to be. So row i is the same
whatever the number of threads, workers, blocks or files:

    row i of a study = evaluate(study.top_end(i)), to the bit

How it is used is told in docs/studies.md.
"""

from __future__ import annotations

import functools
import math
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from topend.assembly import bound
from topend.errors import StudyError, UnknownNameError
from topend.evaluation import SLACK
from topend.parts import Charge, Crank, Cylinder, FlushHead, Part, Piston, SpigotHead
from topend.quantities import output
from topend.study.axes import Axis, Limit, checked_input, read_values
from topend.study.compiled import CHUNK, Compiled
from topend.study.table import Aim, Partial, Summary, Table, figure, joined
from topend.study.variants import Variants
from topend.study.work import FILE_ROWS, Ranges, chunks, in_order, over, reduced

__all__ = ["Study"]

_PARTS: Final[dict[str, tuple[type[Part], ...]]] = {
    "crank": (Crank,),
    "cylinder": (Cylinder,),
    "piston": (Piston,),
    "head": (FlushHead, SpigotHead),
    "charge": (Charge,),
}


# --- the study -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, repr=False)
class Study(Variants):
    """Variants of a top end: a description of rows, that never changes; each method gives a new study.

    Axes make a product, in the order in which they were given, the last running fastest. A row is
    ``top.replace({...})`` with what its place on each axis sets, so a deck reading stays bound to the parts it was taken with.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.7 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> study = te.Study(top).vary("head.recess_offset", "0:0.2:0.1 mm").vary("head_gasket.thickness", ["0.3 mm", "0.5 mm"])
    >>> study.run(["squish_edge"]).columns["squish_edge"].round(3)
    array([1. , 1.2, 1.1, 1.3, 1.2, 1.4])
    """

    # --- what is changed ---------------------------------------------------------------------------------------------

    def vary(self, path: str, values: Any) -> Study:
        """An axis: the input at `path` takes each of `values`.

        `values` is an array quantity (``topend.Quantity(array, "mm")``), a list of texts or quantities, or a range as text,
        ``"start:stop:step unit"``: ``"-1.5:0.5:0.05 mm"`` is 41 values, both ends among them. Paths are those of
        `TopEnd.replace`. Raises `UnknownNameError` for a path nobody has, `StudyError` for values that are none of its kind and
        for a path that is set already.
        """
        return self.pair({path: values})

    def pair(self, values: Mapping[str, Any]) -> Study:
        """An axis along which several inputs move together: ``{path: values, ...}``, as many values for each."""
        if not values:
            raise StudyError("pair needs at least one path with its values")
        made = []
        known = {one.path for axis in self.axes for one in axis.together}
        for path, given in values.items():
            checked_input(path)
            if path in known:
                raise StudyError(f"{path} is set by an axis already; an input has one axis")
            made.append(read_values(path, given))
        lengths = {one.path: len(one.values) for one in made}
        if len(set(lengths.values())) > 1:
            told = ", ".join(f"{path} has {length}" for path, length in lengths.items())
            raise StudyError(f"inputs that move together need as many values each: {told}")
        return self._with(Axis(tuple(made)))

    def parts(self, kind: str, parts: Iterable[Any]) -> Study:
        """An axis of whole parts: `kind` is crank, cylinder, piston, head or charge, `parts` a list of such parts.

        The table names each by its name, a charge without one by its fuel, or by its place in the list. Values that other axes
        set in the part are set in each of them.
        """
        if kind not in _PARTS:
            raise UnknownNameError(kind, _PARTS, what="kind of part", searched=f"a study's: {', '.join(_PARTS)}")
        if any(axis.kind == kind for axis in self.axes):
            raise StudyError(f"{kind} is set by an axis already; list all of its parts in one")
        listed: list[Any] = [parts] if isinstance(parts, (Part, str)) else list(parts)
        if not listed:
            raise StudyError(f"{kind} has no parts: an axis needs at least one")
        names: list[str] = []
        for place, part in enumerate(listed):
            if not isinstance(part, _PARTS[kind]):
                got = f"a {type(part).__name__}" if isinstance(part, Part) else repr(part)[:60]
                more = "; look it up in a catalogue first: catalogue[id]" if isinstance(part, str) else ""
                raise StudyError(f"{kind} {place} must be a {' or a '.join(one.__name__ for one in _PARTS[kind])}; got {got}{more}")
            name = part.name or getattr(part, "fuel", None) or f"{kind} {place}"
            names.append(name if name not in names else f"{name} ({place})")
        return self._with(Axis(kind=kind, parts=tuple(listed), names=tuple(names)))

    def _with(self, axis: Axis) -> Study:
        made = replace(self, axes=(*self.axes, axis))
        # readings that cannot follow are refused here, where the axis is written
        bound(self.top, {name: None for one in made.axes for name in ([one.kind] if one.kind else [v.path for v in one.together])})
        if made._rows() > np.iinfo(np.int64).max // 2:
            raise StudyError(f"a study has at most {np.iinfo(np.int64).max // 2} rows; this has {made._rows()}")
        return made

    def sample(self, n: int, *, seed: int = 0) -> Study:
        """A last axis of `n` draws of every value that carries limits, rectangular between them (JCGM 101:2008, 6.4.2).

        Drawn are the values of the top end, and of the parts of `parts` axes, that state limits (and an engraved chamber
        volume, ± 0.3 cc); not those that an axis sets, nor defaults that nobody stated. Draw k is the same at every point of
        the other axes, so that variants differ by what was varied alone. It depends on `seed`, k and the path and on nothing
        else: not on workers, threads or blocks. A value is drawn as what it truly is: where it stands under a deck reading as
        well, it is drawn once, before anything is replaced.
        """
        for what, number, least in (("n", n, 1), ("seed", seed, 0)):
            if isinstance(number, bool) or not isinstance(number, int) or number < least:
                raise StudyError(f"sample needs {what} as a whole number from {least}; got {number!r}")
        if self.draws is not None:
            raise StudyError("this study is sampled already; a study has one sample")
        made = replace(self, draws=(n, seed))
        if made._rows() > np.iinfo(np.int64).max // 2:
            raise StudyError(f"a study has at most {np.iinfo(np.int64).max // 2} rows; this has {made._rows()}")
        return made

    def where(self, limits: Mapping[str, Any] | None = None, /, **named: Any) -> Study:
        """Keep only rows that are in order and inside limits: ``where(squish_min=("0.6 mm", None), compression_ratio=(12, 13))``.

        A limit is (lower, upper), either of them None; texts or quantities, plain numbers for ratios. Limits are met within a
        part in 10⁹. Refused rows are left out too. Several limits must all be met.
        """
        made = []
        for name, pair in {**(limits or {}), **named}.items():
            unit = output(name, self.top.outputs).unit
            if isinstance(pair, (str, bytes)) or not isinstance(pair, Sequence) or len(pair) != 2 or all(end is None for end in pair):
                example = "(12, 13)" if unit == "–" else f'("0.60 {unit}", None)'
                raise StudyError(f"where {name} needs its lower and upper limit, one of them perhaps None, such as {example}; got {pair!r}")
            low, high = (
                None if end is None else figure(unit, end, f"where {name}: the {which} limit")
                for end, which in zip(pair, ("lower", "upper"), strict=True)
            )
            if low is not None and high is not None and low > high:
                raise StudyError(f"where {name} has its lower limit {pair[0]} above its upper {pair[1]}")
            made.append(
                Limit(
                    name,
                    -math.inf if low is None else low - SLACK * abs(low),
                    math.inf if high is None else high + SLACK * abs(high),
                )
            )
        return replace(self, limits=(*self.limits, *made))

    # --- running -----------------------------------------------------------------------------------------------------

    def run(
        self,
        outputs: Iterable[str] | None = None,
        *,
        threads: int = 1,
        client: Any = None,
        to: str | os.PathLike[str] | None = None,
        progress: Callable[[int, int], None] | None = None,
        file_rows: int = FILE_ROWS,
    ) -> Any:
        """Every row: a `Table` in memory, or, with `to`, a `StudyFolder` that was written.

        Parameters: `outputs` names from the outputs table, and those that the top end knows of packs (`TopEnd.with_outputs`), or None for
        all that every variant has; `threads` how many work in
        this process; `to` a folder for a Parquet dataset (docs/studies.md), written row range by row range, so that memory
        stays flat: a run that was stopped goes on where it was, and a folder that holds another study is refused; `client` a
        `distributed.Client`, whose workers then do the work and write the files, to a folder that all of them reach;
        `progress` is called with the rows done and the rows there are; `file_rows` how many rows of the study go to one file.

        Refused rows have NaN and their code in the status. Raises, before anything is worked out, `StudyError` (an axis that
        changes none of the outputs, another study's folder), `MissingInputError` (an output that cannot be had), and
        `UnknownNameError`.
        """
        _check_threads(threads)
        compiled = Compiled(self, outputs, threads=threads)
        if to is None:
            if client is not None:
                raise StudyError(
                    "a run on a cluster needs to=, a folder that all workers reach; to bring back figures and the best rows, use summarise"
                )
            return _in_memory(compiled, threads, progress)
        from topend.study import folder

        if isinstance(file_rows, bool) or not isinstance(file_rows, int) or file_rows < 1:
            raise StudyError(f"file_rows must be a whole number from 1; got {file_rows!r}")
        return folder.write(compiled, to, over=_over(client, threads), progress=progress, file_rows=file_rows)

    def summarise(
        self,
        outputs: Iterable[str] | None = None,
        *,
        best: str | None = None,
        n: int = 10,
        largest: bool = False,
        smallest: bool = False,
        target: Any = None,
        threads: int = 1,
        client: Any = None,
        progress: Callable[[int, int], None] | None = None,
    ) -> Summary:
        """Counts, spreads and the best rows, reduced where they are worked out: no row is kept, whatever the number.

        Parameters: `outputs`, `threads`, `client` and `progress` as of `run`; `best` an output whose `n` best rows to bring back,
        ``largest=True``, ``smallest=True`` or nearest to `target`, as `Table.best` has it. What it gives does not depend on
        threads or workers, to the bit.

        >>> from topend.assembly import TopEnd
        >>> from topend.parts import Crank
        >>> study = Study(TopEnd(crank=Crank(stroke="40 mm"))).vary("cylinder.bore", "39:41:0.5 mm")
        >>> study.summarise(["swept_volume"], best="swept_volume", n=1, largest=True).best.columns["cylinder.bore"]
        array([41.])
        """
        aim = (
            None
            if best is None
            else Aim.asked(best, output(best, self.top.outputs).unit, n, largest=largest, smallest=smallest, target=target)
        )
        if best is None and (largest or smallest or target is not None):
            raise StudyError("summarise has largest, smallest or target, but not of what: give best= as well")
        names = None if outputs is None else [outputs] if isinstance(outputs, str) else list(outputs)
        if names is not None and best is not None and best not in names:
            names.append(best)
        _check_threads(threads)
        compiled = Compiled(self, names, threads=threads)
        if aim is not None and aim.name not in compiled.outputs:
            raise StudyError(f"best={best!r} is not an output that every variant has")
        total = Partial.none(len(compiled.outputs))
        # a task on a cluster is a long one; a thread of this process takes a chunk
        ranges = Ranges(compiled.rows, CHUNK if client is None else FILE_ROWS)
        for parts in _over(client, threads)(compiled, reduced, (aim,), ranges):
            for part in parts:
                total.add(part, aim)
            if progress is not None:
                progress(total.rows, compiled.rows)
        return total.summary(
            [compiled.known[name] for name in compiled.outputs], None if aim is None else compiled.at(total.best[0].tolist()), aim
        )

    def __repr__(self) -> str:
        lines = [f"Study of {len(self)} rows"]
        lines += [f"  {axis.text}" for axis in self.axes]
        if self.draws is not None:
            lines.append(f"  sample: {self.draws[0]} draws, seed {self.draws[1]}")
        if self.limits:
            lines.append(f"  where: {', '.join(dict.fromkeys(limit.name for limit in self.limits))}")
        return "\n".join(lines)


def _over(client: Any, threads: int) -> Callable[..., Any]:
    """Who does the work: the workers of `client`, or threads of this process."""
    if client is None:
        return functools.partial(over, threads)
    from topend.study import cluster

    return functools.partial(cluster.over, client)


def _check_threads(threads: int) -> None:
    if isinstance(threads, bool) or not isinstance(threads, int) or threads < 1:
        raise StudyError(f"threads must be a whole number from 1; got {threads!r}")


def _in_memory(compiled: Compiled, threads: int, progress: Callable[[int, int], None] | None) -> Table:
    limited = bool(compiled.study.limits)
    spans = list(chunks(0, compiled.rows))
    whole = None if limited else compiled.empty(compiled.rows)

    def work(span: tuple[int, int]) -> Table | None:
        block = compiled.block(*span)
        if whole is None:
            return block.table(block.kept)
        # each piece into its place, by the thread that made it
        block.put(whole)
        return None

    tables = []
    for (_, stop), table in zip(spans, in_order(work, spans, threads), strict=True):
        if table is not None:
            tables.append(table)
        if progress is not None:
            progress(stop, compiled.rows)
    return joined(tables) if whole is None else whole
