"""Plans recorded for blocks of rows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from topend.physics.tape import Program, Recorded, Tape
from topend.physics.wiring.collisions import Check, masks
from topend.physics.wiring.graph import Plan

if TYPE_CHECKING:
    from topend.physics.kernel import Column


def record(
    planned: Plan, wanted: Iterable[str], judged: tuple[Check, ...], columns: Mapping[str, Column]
) -> tuple[Program, tuple[Check, ...]]:
    """The `wanted` values of `planned` and the checks `judged`, recorded for blocks of the columns with more than one row.

    Columns of one row are worked in as they are. Results go by the wanted names, and ``check:0``, ``check:1``, ... for the
    checks that are given back: those that do not vary and do not apply are done with.
    """
    tape = Tape()
    varied = {path: tape.column() for path, column in columns.items() if len(column) != 1}
    values: dict[str, Any] = {path: varied.get(path, column) for path, column in columns.items()}
    with np.errstate(all="ignore"):
        for step in planned.steps:
            if step.name not in values:
                values[step.name] = step.function(**{argument: values[name] for argument, name in step.inputs})
        results = {name: values[name] for name in wanted}
    found = [(check, mask) for check, mask in zip(judged, masks(judged, values), strict=True) if isinstance(mask, Recorded) or mask.any()]
    results |= {f"check:{index}": mask for index, (_, mask) in enumerate(found)}
    return Program(tape, varied, results), tuple(check for check, _ in found)
