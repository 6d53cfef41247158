"""TopEnd: parts in, row out. It lowers parts to named SI floats, and refuses what cannot be assembled."""

from topend.assembly.binding import bound
from topend.assembly.refusing import check
from topend.assembly.row import Row
from topend.assembly.stacks import READ_WITH, crushed_limits, stack_thickness
from topend.assembly.top_end import TopEnd, known_paths, lowered, lowered_changed, with_values
from topend.physics.wiring.geometry import GAP_AT

__all__ = [
    "GAP_AT",
    "READ_WITH",
    "Row",
    "TopEnd",
    "bound",
    "check",
    "crushed_limits",
    "known_paths",
    "lowered",
    "lowered_changed",
    "stack_thickness",
    "with_values",
]
