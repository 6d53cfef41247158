"""A top end as numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from topend.assembly.stacks import READ_WITH
from topend.physics.wiring import Structure
from topend.units import Limits

__all__ = ["Row"]


@dataclass(frozen=True)
class Row:
    """A top end as numbers: SI floats by input path, their limits, and the structure that says what they mean.

    `resolutions` holds half of the last written decimal; `noted` what was assumed in lowering, with its limits.
    """

    structure: Structure
    values: dict[str, float]
    limits: dict[str, Limits] = field(default_factory=dict)
    resolutions: dict[str, float] = field(default_factory=dict)
    noted: dict[str, str] = field(default_factory=dict)

    def same_stack(self, path: str) -> bool:
        """Whether the thickness at `path`, of a stack under a reading, is that of the very gaskets now fitted."""
        return path in READ_WITH and self.structure.choice(path.replace("_thickness", "_stack")) in ("same", "alike")

    def columns(self) -> dict[str, Any]:
        """The values as arrays of shape (1,), as kernels take them."""
        return {path: np.array([value]) for path, value in self.values.items()}
