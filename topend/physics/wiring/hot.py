"""What heat does to gap and clearances, from the metals and the rises of temperature."""

from __future__ import annotations

import numpy as np

from topend.physics import thermal
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node
from topend.physics.wiring.operations import added, difference, same


def expansion_node(path: str, structure: Structure, otherwise: str) -> Node:
    """Mean expansion of a part by its material, or by the kind of metal that it usually is."""
    stated = structure.choice(path.replace("expansion", "material"))
    metal = thermal.MATERIALS[stated or otherwise]
    made = np.array([metal.mean])
    why = f"expansion of {metal.name}, mean over {metal.temperatures}" + ("" if stated else ", its metal not given")
    return node(path, lambda: made, Assumption(why, between(metal.low, metal.high)))


def hot_nodes(structure: Structure) -> list[Node]:
    """Expansions, and what they do to gap and clearances."""

    def grows(of: str, name: str, rise: str) -> dict[str, str]:
        return {f"{of}_expansion": name, f"{of}_rise": f"running.{rise}_rise"}

    bore = grows("outer", "cylinder.expansion", "cylinder")
    return [
        expansion_node("crank.expansion", structure, "steel"),
        expansion_node("crank.rod_expansion", structure, "steel"),
        expansion_node("crank.case_expansion", structure, "aluminium"),
        expansion_node("cylinder.expansion", structure, "aluminium"),
        expansion_node("piston.expansion", structure, "aluminium"),
        expansion_node("head.expansion", structure, "aluminium"),
        node(
            "hot_gap_change",
            thermal.hot_gap_change,
            seat_height="crank.seat_height",
            cylinder_height="cylinder.height",
            throw="crank.throw",
            rod_length="crank.rod_length",
            compression_height="piston.compression_height",
            **grows("case", "crank.case_expansion", "case"),
            **grows("cylinder", "cylinder.expansion", "cylinder"),
            **grows("crank", "crank.expansion", "crank"),
            **grows("rod", "crank.rod_expansion", "rod"),
            **grows("piston", "piston.expansion", "piston"),
        ),
        many("hot_running_clearance", added, ("running_clearance", "hot_gap_change")),
        # matched as a pair, or from the sizes of both
        node("skirt_clearance", same, value="piston.clearance"),
        node("skirt_clearance", difference, now="cylinder.bore", then="piston.skirt_diameter"),
        node("piston.matched_diameter", difference, now="cylinder.bore", then="skirt_clearance"),
        node(
            "skirt_clearance_hot",
            thermal.diametral_clearance_hot,
            outer_diameter="cylinder.bore",
            inner_diameter="piston.matched_diameter",
            **bore,
            **grows("inner", "piston.expansion", "piston"),
        ),
        node("spigot_clearance", difference, now="cylinder.bore", then="head.spigot_diameter"),
        node(
            "spigot_clearance_hot",
            thermal.diametral_clearance_hot,
            outer_diameter="cylinder.bore",
            inner_diameter="head.spigot_diameter",
            **bore,
            **grows("inner", "head.expansion", "head"),
        ),
    ]
