"""How the rows of a study are shared out: ranges, threads, and what is reduced where it is worked out."""

from __future__ import annotations

import typing
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any, Final, TypeVar

from topend.study.compiled import CHUNK, Compiled
from topend.study.table import Aim, Partial, partial

__all__ = ["FILE_ROWS", "Ranges", "chunks", "in_order", "over", "reduced"]

#: Rows of one file of a folder, and of one task on a cluster.
FILE_ROWS: Final = 8 * CHUNK
Item = TypeVar("Item")
Made = TypeVar("Made")


class Ranges(Sequence[tuple[int, int]]):
    """The rows of a study in ranges of `step`: (start, stop) each, the last perhaps shorter."""

    def __init__(self, rows: int, step: int) -> None:
        self.rows, self.step = rows, step

    def __len__(self) -> int:
        return -(-self.rows // self.step)

    @typing.overload
    def __getitem__(self, place: int) -> tuple[int, int]: ...
    @typing.overload
    def __getitem__(self, place: slice) -> Sequence[tuple[int, int]]: ...
    def __getitem__(self, place: Any) -> Any:
        if isinstance(place, slice):
            return [self[one] for one in range(*place.indices(len(self)))]
        if not 0 <= place < len(self):
            raise IndexError(place)
        return place * self.step, min((place + 1) * self.step, self.rows)


def in_order(work: Callable[[Item], Made], items: Iterable[Item], threads: int) -> Iterator[Made]:
    """`work` of each item, in order, on so many threads; few are under way at a time, however many there are."""
    if threads == 1:
        yield from map(work, items)
        return
    with ThreadPoolExecutor(threads) as pool:
        waiting: deque[Future[Made]] = deque()
        try:
            for item in items:
                waiting.append(pool.submit(work, item))
                if len(waiting) > threads + 1:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for one in waiting:
                one.cancel()


def over(
    threads: int,
    compiled: Compiled,
    work: Callable[..., Made],
    arguments: tuple[Any, ...],
    ranges: Iterable[tuple[int, int]],
) -> Iterator[Made]:
    """``work(compiled, *arguments, start, stop)`` of each range, in order, on threads of this process."""
    return in_order(lambda span: work(compiled, *arguments, *span), ranges, threads)


def chunks(start: int, stop: int) -> Iterator[tuple[int, int]]:
    """The rows from `start` to `stop` in pieces of at most `CHUNK`."""
    for first in range(start, stop, CHUNK):
        yield first, min(first + CHUNK, stop)


def reduced(compiled: Compiled, aim: Aim | None, start: int, stop: int) -> list[Partial]:
    """Partial summaries of rows `start` to `stop`, one a chunk: joined in order, they come to the same however rows were shared out."""
    made = []
    units = {name: compiled.units[name] for name in compiled.outputs}
    for span in chunks(start, stop):
        block = compiled.block(*span)
        made.append(partial(block.row, block.status, block.kept, block.si, units, aim))
    return made
