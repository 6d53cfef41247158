"""How far a long work has come."""

import contextlib
import sys
from collections.abc import Callable, Iterator

__all__ = ["progress", "working"]


@contextlib.contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on the terminal, where standard error is one; else nothing.

    Gives what takes rows done and rows in all, or None where nobody looks.
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    shown = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TextColumn("rows"), TimeRemainingColumn())
    with Progress(*shown, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=None)
        yield lambda done, rows: bar.update(task, completed=done, total=rows)


@contextlib.contextmanager
def working(what: str) -> Iterator[None]:
    """That there is work whose end cannot be told, on the terminal, where standard error is one; gone when it is done."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(f"{what} ..."):
        yield
