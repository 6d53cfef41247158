"""Closing of the gap at speed, part by part, and the wide defaults it rests on where nothing is known."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics import inertia
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node, within
from topend.physics.wiring.operations import added, difference, half, product, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column


#: What the closing is the sum of, in the order it is shown.
CLOSING_PARTS: tuple[str, ...] = (
    "rod",
    "small_end",
    "big_end",
    "main_bearings",
    "crankpin",
    "crank",
    "small_end_play",
    "big_end_play",
    "main_bearing_play",
    "unexplained",
)


def _fixed(name: str, why: str, low: float, value: float, high: float) -> Node:
    made = np.array([value])
    return node(name, lambda: made, Assumption(f"{why}, from memory", between(low, high)))


def _of_bore(name: str, why: str, factor: float, share: float, power: int = 1) -> Node:
    def default(bore: Column) -> Column:
        made: Column = factor * bore
        for _ in range(power - 1):
            made = made * bore
        return made

    return node(name, default, Assumption(f"{why} ± {100 * share:.0f} %, from memory", within(share)), bore="cylinder.bore")


#: Wide defaults of what moves and what gives, where nothing is known (docs/closing.md). All of them are from memory.
_CLOSING_DEFAULTS: tuple[Node, ...] = (
    _of_bore("piston.assembly_mass", "not weighed: 1.05 g/cm³ × bore³", 1050.0, 0.25, 3),
    _of_bore("crank.rod_area", "shank not measured: 0.04 × bore²", 0.04, 0.30, 2),
    _fixed("crank.rod_modulus", "steel taken: 207 GPa, 200 to 212 GPa", 200e9, 207e9, 212e9),
    _fixed("crank.rod_density", "steel taken: 7850 kg/m³, 7750 to 7900 kg/m³", 7750.0, 7850.0, 7900.0),
    node(
        "crank.rod_mass",
        lambda area, length, density: 1.5 * area * length * density,
        Assumption("rod not weighed: 1.5 × its shank ± 25 %, from memory", within(0.25)),
        area="crank.rod_area",
        length="crank.rod_length",
        density="crank.rod_density",
    ),
    _fixed("crank.small_end.clearance", "small end not measured: 0.020 to 0.050 mm diametral", 20e-6, 35e-6, 50e-6),
    _fixed("crank.big_end.clearance", "big end not measured: 0.030 to 0.070 mm diametral", 30e-6, 50e-6, 70e-6),
    _fixed("crank.mains.clearance", "main bearings not measured: 0.020 to 0.050 mm diametral", 20e-6, 35e-6, 50e-6),
    _fixed("crank.small_end.rollers", "rollers not counted: 16, 13 to 20", 13.0, 16.0, 20.0),
    _of_bore("crank.small_end.roller_length", "rollers not measured: 0.30 × bore", 0.30, 0.25),
    _fixed("crank.big_end.rollers", "rollers not counted: 14, 11 to 17", 11.0, 14.0, 17.0),
    _of_bore("crank.big_end.roller_length", "rollers not measured: 0.22 × bore", 0.22, 0.25),
    _fixed("crank.mains.balls", "balls not counted: 8, 7 to 9", 7.0, 8.0, 9.0),
    _of_bore("crank.mains.ball_diameter", "balls not measured: 0.16 × bore", 0.16, 0.20),
    _of_bore("crank.crankpin_diameter", "crankpin not measured: 0.38 × bore", 0.38, 0.15),
    _of_bore("crank.crankpin_length", "crankpin not measured: 0.33 × bore", 0.33, 0.20),
    _fixed("crank.balance", "balance not known: 50 %, 30 to 70 %", 0.3, 0.5, 0.7),
    node("crank.compliance", lambda stiffness: 1.0 / stiffness, stiffness="crank.stiffness"),
    # 0.02 to 0.15 mm under the 16 kN of a 54 mm bore at 12 000 rpm; of a crank twice as large in all, half
    node(
        "crank.compliance",
        lambda bore: 2.87e-10 / bore,
        Assumption("stiffness of webs and shaft not known: bending of 0.02 to 0.15 mm at 16 kN and 54 mm bore, from memory", within(0.765)),
        bore="cylinder.bore",
    ),
    node(
        "crank.unexplained_closing",
        lambda: np.zeros(1),
        Assumption("rocking, crown growth, carbon and crank twist are not modelled: nothing is counted for them"),
    ),
)


#: The crankpin is of steel whatever the rod is of.
_STEEL = np.array([207e9])


def closing_nodes(structure: Structure) -> list[Node]:
    """Each part of the closing with the throttle shut, and its sum pulling."""
    rod = {"throw": "crank.throw", "rod_length": "crank.rod_length", "crank_speed": "running.crank_speed"}
    shank = {"rod_area": "crank.rod_area", "modulus": "crank.rod_modulus", "density": "crank.rod_density"}
    tapered = "crank.rod_end_area" in structure.given
    elongation = inertia.tapered_rod_elongation if tapered else inertia.rod_elongation
    if tapered:
        shank["end_area"] = "crank.rod_end_area"
    small = {
        "clearance": "crank.small_end.clearance",
        "rollers": "crank.small_end.rollers",
        "roller_length": "crank.small_end.roller_length",
    }
    big = {"clearance": "crank.big_end.clearance", "rollers": "crank.big_end.rollers", "roller_length": "crank.big_end.roller_length"}
    mains = {"clearance": "crank.mains.clearance", "balls": "crank.mains.balls", "ball_diameter": "crank.mains.ball_diameter"}
    nodes = [*_CLOSING_DEFAULTS, node("closing.no_gas", zero), node("closing.steel", lambda: _STEEL)]
    for state, gas in (("closure", "closing.no_gas"), ("closure_pulling", "running.gas_pressure")):
        # the names of the throttle-shut state are outputs, those of the other stay within
        def at(part: str, state: str = state) -> str:
            return f"closure_{part}" if state == "closure" else f"closure_pulling.{part}"

        force, pin, main = f"{state}.small_force", f"{state}.big_force", f"{state}.main_force"
        nodes += [
            node(
                force,
                inertia.small_end_force,
                assembly_mass="piston.assembly_mass",
                tdc_acceleration="tdc_acceleration",
                gas_pressure=gas,
                bore_area="cylinder.bore_area",
            ),
            node(pin, inertia.big_end_force, force=force, rod_mass="crank.rod_mass", **rod),
            node(
                f"{main}s",
                inertia.main_bearing_force,
                force=force,
                assembly_mass="piston.assembly_mass",
                rod_mass="crank.rod_mass",
                balance="crank.balance",
                throw="crank.throw",
                crank_speed="running.crank_speed",
            ),
            node(main, half, value=f"{main}s"),
            node(at("rod"), elongation, force=force, **rod, **shank),
            node(at("small_end"), inertia.roller_bearing_deflection, force=force, **small),
            node(at("big_end"), inertia.roller_bearing_deflection, force=pin, **big),
            node(at("main_bearings"), inertia.ball_bearing_deflection, force=main, **mains),
            node(at("small_end_play"), inertia.clearance_taken_up, force=force, clearance=small["clearance"]),
            node(at("big_end_play"), inertia.clearance_taken_up, force=pin, clearance=big["clearance"]),
            node(at("main_bearing_play"), inertia.clearance_taken_up, force=main, clearance=mains["clearance"]),
            node(
                at("crankpin"),
                inertia.crankpin_shear,
                force=pin,
                pin_diameter="crank.crankpin_diameter",
                pin_length="crank.crankpin_length",
                modulus="closing.steel",
            ),
            node(at("crank"), product, area=pin, thickness="crank.compliance"),
            node(at("unexplained"), inertia.clearance_taken_up, force=pin, clearance="crank.unexplained_closing"),
            many("closure_total" if state == "closure" else state, added, [at(part) for part in CLOSING_PARTS]),
        ]
    nodes += [
        # the least distance over the whole crown where the head is known, else over the band
        node("running_clearance", difference, now="contact_min", then="closure_total"),
        node("pulling_clearance", difference, now="contact_min", then="closure_pulling"),
        many("closing.linear", added, ["closure_rod", "closure_crankpin", "closure_crank"]),
        many("closing.play", added, [small["clearance"], big["clearance"], mains["clearance"], "crank.unexplained_closing"]),
        node(
            "contact_speed",
            inertia.contact_speed,
            gap="contact_min",
            play="closing.play",
            linear="closing.linear",
            crank_speed="running.crank_speed",
            small_force="closure.small_force",
            small_clearance=small["clearance"],
            small_rollers=small["rollers"],
            small_length=small["roller_length"],
            big_force="closure.big_force",
            big_clearance=big["clearance"],
            big_rollers=big["rollers"],
            big_length=big["roller_length"],
            main_force="closure.main_force",
            main_clearance=mains["clearance"],
            balls=mains["balls"],
            ball_diameter=mains["ball_diameter"],
        ),
    ]
    return nodes
