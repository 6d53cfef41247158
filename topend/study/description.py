"""What tells one study from another: its description as JSON takes it, and a digest of that."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from topend.study.axes import Axis
    from topend.study.compiled import Compiled

__all__ = ["description", "study_digest", "version"]


def description(compiled: Compiled) -> dict[str, Any]:
    """All that decides the figures of a study, as JSON takes it: parts as in files, long columns by their digest."""
    study = compiled.study

    def parts_text(axis: Axis) -> list[Any]:
        return [part.model_dump(mode="json", exclude_none=True) for part in axis.parts]

    axes: list[Any] = []
    for axis in study.axes:
        if axis.kind is not None:
            axes.append({"parts": axis.kind, "names": list(axis.names), "are": parts_text(axis)})
            continue
        axes.append(
            [
                {
                    "path": one.path,
                    "unit": one.unit,
                    "count": len(one.values),
                    "first": float(one.values[0]),
                    "last": float(one.values[-1]),
                    "sha256": hashlib.sha256(np.ascontiguousarray(one.values, dtype="<f8").data).hexdigest(),
                }
                for one in axis.together
            ]
        )
    packs = {
        one.output.name: {"pack": one.pack, "sha256": one.digest} for one in study.top.extra_outputs if one.output.name in compiled.computed
    }
    return {
        "topend": version(),
        "top": study.top.model_dump(mode="json", exclude_none=True),
        "axes": axes,
        "sample": None if study.draws is None else {"draws": study.draws[0], "seed": study.draws[1]},
        "where": [[limit.name, repr(limit.low), repr(limit.high)] for limit in study.limits],
        "outputs": list(compiled.outputs),
        # whose code gives what no table has
        **({"outputs_of_packs": packs} if packs else {}),
    }


def study_digest(compiled: Compiled) -> str:
    """A short name of a study: two that differ in anything that moves a figure have different ones."""
    text = json.dumps(description(compiled), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def version() -> str:
    """The version of topend that works the study out; the face is read late, for it reads us."""
    from topend import __version__

    return __version__
