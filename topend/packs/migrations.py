"""Older pack formats brought up to the one that is read. Each step is a pure function from tables to tables.

A step may rename, move, split and drop; it never invents a value. What an older format did not say stays unsaid: each value
of what a step gives must have stood in what it was given, and a step that breaks this is refused.

Format 1 is the first, so there is no step yet. The step from format n stands under n.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

__all__ = ["MIGRATIONS", "Tables", "migrated"]

#: The tables of a pack, by the names of its files.
Tables = dict[str, dict[str, Any]]
Step = Callable[[Tables], Tables]

MIGRATIONS: Final[dict[int, Step]] = {}


def migrated(tables: Tables, start: int, end: int, steps: Mapping[int, Step] | None = None) -> Tables:
    """`tables` of format `start` as those of format `end`; what was passed in stays as it was.

    Raises LookupError where a step is missing, ValueError where one gives a value that it was not given. The number of the
    format itself is written by this function.

    >>> migrated({"pack.toml": {"format": 1, "id": "a"}}, 1, 1)
    {'pack.toml': {'format': 1, 'id': 'a'}}
    """
    steps = MIGRATIONS if steps is None else steps
    made = copy.deepcopy(tables)
    for version in range(start, end):
        if version not in steps:
            raise LookupError(f"there is no step from format {version} to {version + 1}")
        before = Counter(_values(made))
        made = steps[version](copy.deepcopy(made))
        invented = Counter(_values(made)) - before
        if invented:
            raise ValueError(f"the step from format {version} invents {', '.join(map(repr, invented))}")
        if "pack.toml" in made:
            made["pack.toml"]["format"] = version + 1
    return made


def _values(value: Any) -> Iterator[Any]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from _values(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _values(inner)
    else:
        yield type(value).__name__, str(value)
