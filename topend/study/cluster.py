"""A study over the workers of a Dask cluster: ranges of rows out, counts and partial summaries back.

Tasks are given out a few at a time and taken back in order, so what this process holds does not grow with the rows. A task
gets the study's description, which each worker fetches once, and a range; it may run twice, when a worker is lost, and gives
the same both times.
"""

from __future__ import annotations

import ctypes
import functools
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final

from topend.errors import StudyError
from topend.study.compiled import Compiled
from topend.study.table import needs_extra

__all__ = ["over"]

#: Tasks under way for each thread of the cluster: enough that none waits for this process.
AHEAD: Final = 4


def over(
    client: Any, compiled: Compiled, work: Callable[..., Any], arguments: tuple[Any, ...], ranges: Sequence[tuple[int, int]]
) -> Iterator[Any]:
    """``work(compiled, *arguments, start, stop)`` of each range, in order.

    Raises `StudyError` where `client` is no Dask client, or where a range took four workers down with it.
    """
    try:
        import distributed
    except ImportError as error:
        raise needs_extra("dask[distributed]", error) from None
    if not isinstance(client, distributed.Client) or client.asynchronous:
        raise StudyError(f"client must be a distributed.Client that is not asynchronous; got a {type(client).__name__}")
    return _over(client, compiled, work, arguments, ranges)


def _over(
    client: Any, compiled: Compiled, work: Callable[..., Any], arguments: tuple[Any, ...], ranges: Sequence[tuple[int, int]]
) -> Iterator[Any]:
    import distributed

    window = AHEAD * max(1, sum(client.nthreads().values()))
    # a task like any other, and so worked out anew where the worker that holds it is lost
    sent = client.submit(_received, compiled, compiled.version, pure=False)
    under_way = distributed.as_completed()
    places: dict[str, int] = {}
    done: dict[int, Any] = {}
    given = taken = 0
    try:
        while taken < len(ranges):
            while given < len(ranges) and given < taken + window:
                future = client.submit(_part, work, sent, arguments, *ranges[given], pure=False)
                places[future.key] = given
                under_way.add(future)
                given += 1
            future = next(under_way)
            place = places.pop(future.key)
            try:
                done[place] = future.result()
            except distributed.KilledWorker as error:
                start, stop = ranges[place]
                raise StudyError(
                    f"rows {start} to {stop} took several workers down with them, and the study stops there; are they killed for "
                    f"want of memory? What is written stays, and the same call goes on from it ({error})"
                ) from None
            future.release()
            while taken in done:
                yield done.pop(taken)
                taken += 1
    finally:
        under_way.clear()
        sent.release()


def _received(compiled: Compiled, version: str) -> Compiled:
    if compiled.version != version:
        raise StudyError(f"a worker has topend {compiled.version}, this process has {version}; they must be the same")
    for one in compiled.study.top.extra_outputs:
        if one.output.name in compiled.computed and hasattr(one.work, "here"):
            # a pack that this worker lacks, or has in another version, is told before anything is worked out
            one.work.here()
    return compiled


@functools.cache
def _keep_freed_memory() -> None:
    """Let this worker keep what it frees, up to 64 MB, for the next block.

    A worker is started with an allocator that gives every freed piece back to the system at once (distributed sets
    MALLOC_TRIM_THRESHOLD_). Blocks are freed and taken a thousand times a second: it made a study five times slower. These
    are the GNU C library's own limits for a process that nobody has set otherwise; other systems have no such call.
    """
    trim_threshold, mmap_threshold = -1, -3
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError, TypeError):  # pragma: no cover - not the GNU C library
        return
    mallopt(trim_threshold, 64 << 20)
    mallopt(mmap_threshold, 32 << 20)


def _part(work: Callable[..., Any], compiled: Compiled, arguments: tuple[Any, ...], start: int, stop: int) -> Any:
    _keep_freed_memory()
    return work(compiled, *arguments, start, stop)
