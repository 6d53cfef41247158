"""The wiring: which kernel gives each quantity, from which others. The one place where formulas are put together.

A top end reaches this module as a `Structure` (which inputs are known, and the choices that are not numbers) and as
columns of SI floats by input path. `plan` finds, for the wanted names, the kernels to run and in which order; `run` runs
them on any number of rows. Nothing here knows parts, units or files.

To add a quantity: write its kernel in the module of its subject, add a `Node` to the file of that subject here, and a line in
`quantities`. `planning` lists the tables of nodes.
"""

from topend.physics.wiring.clamping import tied
from topend.physics.wiring.closing import CLOSING_PARTS
from topend.physics.wiring.collisions import COLLISIONS, NOTHING, SIZES, UNANSWERED, Check, checks, masks, profile_plan, status
from topend.physics.wiring.graph import Assumption, Missing, Node, Plan, Structure
from topend.physics.wiring.planning import plan, run
from topend.physics.wiring.profile import fault_words
from topend.physics.wiring.recording import record

__all__ = [
    "CLOSING_PARTS",
    "COLLISIONS",
    "NOTHING",
    "SIZES",
    "UNANSWERED",
    "Assumption",
    "Check",
    "Missing",
    "Node",
    "Plan",
    "Structure",
    "checks",
    "fault_words",
    "masks",
    "plan",
    "profile_plan",
    "record",
    "run",
    "status",
    "tied",
]
