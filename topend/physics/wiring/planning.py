"""Plans: which kernels to run for the wanted quantities, in which order, and running them."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from topend.physics.wiring.chamber import volume_nodes
from topend.physics.wiring.clamping import clamping_nodes
from topend.physics.wiring.closing import closing_nodes
from topend.physics.wiring.cycle import cycle_nodes
from topend.physics.wiring.deck import deck_nodes
from topend.physics.wiring.geometry import crown_nodes, fixed_nodes, gasket_nodes
from topend.physics.wiring.graph import Missing, Node, Plan, Structure
from topend.physics.wiring.hot import hot_nodes
from topend.physics.wiring.location import location_nodes
from topend.physics.wiring.profile import profile_nodes
from topend.physics.wiring.rings import ring_nodes
from topend.physics.wiring.sealing import sealing_nodes
from topend.physics.wiring.skirt import skirt_nodes
from topend.physics.wiring.timing import port_nodes, window_nodes

if TYPE_CHECKING:
    from topend.physics.kernel import Column


@functools.lru_cache(maxsize=512)
def _nodes(structure: Structure) -> dict[str, tuple[Node, ...]]:
    """Every way to every quantity under `structure`, the first that can be had first."""
    made = fixed_nodes()
    made += crown_nodes("piston", structure.choice("piston.crown"))
    made += gasket_nodes(structure, "base_gaskets", "base.thickness")
    made += gasket_nodes(structure, "head_gaskets", "head_gasket.thickness")
    made += deck_nodes(structure)
    made += volume_nodes(structure)
    made += profile_nodes(structure)
    made += port_nodes(structure)
    made += closing_nodes(structure)
    made += cycle_nodes(structure)
    made += hot_nodes(structure)
    made += location_nodes(structure)
    made += window_nodes(structure)
    made += skirt_nodes(structure)
    made += sealing_nodes(structure)
    made += clamping_nodes(structure)
    made += ring_nodes(structure)
    made += structure.added
    table: dict[str, list[Node]] = {}
    for one in made:
        table.setdefault(one.name, []).append(one)
    return {name: tuple(nodes) for name, nodes in table.items()}


@functools.lru_cache(maxsize=4096)
def plan(structure: Structure, wanted: tuple[str, ...]) -> Plan:
    """The plan for `wanted` names under `structure`: what can be had is in `steps`, the rest in `missing`.

    >>> both = plan(Structure(frozenset({"crank.stroke"}), frozenset()), ("crank.throw", "swept_volume"))
    >>> [step.name for step in both.steps], both.missing["swept_volume"].needs
    (['crank.throw'], ('cylinder.bore', 'crank.offset', 'piston.pin_offset'))
    """
    table = _nodes(structure)
    found: dict[str, list[Node] | tuple[str, ...]] = {}

    def way(name: str, open_names: frozenset[str]) -> list[Node] | tuple[str, ...]:
        """Steps to `name`, or the paths that are missing for it."""
        if name in structure.given:
            return []
        if name in found:
            return found[name]
        if name in open_names:
            return (name,)
        best: tuple[str, ...] | None = None
        for node in table.get(name, ()):
            steps: list[Node] = []
            missing: list[str] = []
            for taken in node.takes:
                part = way(taken, open_names | {name})
                if isinstance(part, tuple):
                    missing += part
                else:
                    steps += part
            if not missing:
                found[name] = [*steps, node]
                return found[name]
            lacking = tuple(dict.fromkeys(missing))
            if best is None or len(lacking) < len(best):
                best = lacking
        answer = best if best is not None else (name,)
        if not open_names:
            found[name] = answer
        return answer

    steps: dict[str, Node] = {}
    missing: dict[str, Missing] = {}
    for name in wanted:
        part = way(name, frozenset())
        if isinstance(part, tuple):
            missing[name] = Missing(name, part)
        else:
            for node in part:
                steps.setdefault(node.name, node)
    return Plan(wanted, tuple(steps.values()), missing)


def run(planned: Plan, columns: Mapping[str, Column]) -> dict[str, Any]:
    """Values of every step of `planned` by name, beside the columns given: arrays that broadcast with them.

    A step whose value is among `columns` already is not run again.
    """
    values: dict[str, Any] = dict(columns)
    with np.errstate(all="ignore"):
        for step in planned.steps:
            if step.name in values:
                continue
            values[step.name] = step.function(**{argument: values[name] for argument, name in step.inputs})
    return values
