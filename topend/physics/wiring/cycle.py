"""The closed cycle: what is taken of charge, burn and losses where nobody stated it, and what the march gives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.physics import cycle, gas
from topend.physics.wiring.geometry import CRANK
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node
from topend.physics.wiring.operations import added, difference, quotient, same, zero

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = ["DEFAULT_FUEL", "cycle_nodes"]

#: What is burned where nothing is said.
DEFAULT_FUEL: Final = "petrol 98"
_AMBIENT: Final = np.array([101325.0])


def _fixed(name: str, why: str, low: float, value: float, high: float) -> Node:
    made = np.array([value])
    return node(name, lambda: made, Assumption(f"{why}, from memory", between(low, high)))


_LEAK: Final = Assumption(
    "leak past the rings not known: 5e-6 × bore², 0 to 4 times as much, from memory", lambda value, **_: (0.0 * value, 4.0 * value)
)

#: Of charge, burn, losses and cranking (docs/closed-cycle.md).
_DEFAULTS: Final[tuple[Node, ...]] = (
    _fixed("charge.pressure", "pressure at exhaust closing not measured: 1.15 bar, 1.0 to 1.4 bar", 1.0e5, 1.15e5, 1.4e5),
    _fixed("charge.temperature", "temperature at exhaust closing not known: 400 K, 350 to 460 K", 350.0, 400.0, 460.0),
    _fixed("charge.residual", "residual gas not known: 20 %, 10 to 35 %", 0.10, 0.20, 0.35),
    _fixed("charge.equivalence", "mixture not measured: 1.15, 1.0 to 1.3", 1.0, 1.15, 1.3),
    _fixed("burn.delay", "spark to start of the burn not known: 10 deg, 5 to 15 deg", *np.radians([5.0, 10.0, 15.0])),
    _fixed("burn.duration", "duration of the burn not known: 45 deg, 35 to 60 deg", *np.radians([35.0, 45.0, 60.0])),
    _fixed("burn.form", "form of the burn not known: 2, 1.5 to 3", 1.5, 2.0, 3.0),
    node("burn.completeness", lambda: np.array([5.0]), Assumption("Wiebe's factor not given: 5, 99.3 % burned at the end, by convention")),
    _fixed("losses.wall_temperature", "temperature of the walls not known: 450 K, 400 to 520 K", 400.0, 450.0, 520.0),
    node("losses.leak_area", lambda bore: 5e-6 * bore * bore, _LEAK, bore="cylinder.bore"),
    _fixed("losses.crankcase_pressure", "pressure in the crankcase not known: 1.0 bar, 0.8 to 1.3 bar", 0.8e5, 1.0e5, 1.3e5),
    _fixed(
        "cranking.crank_speed", "speed when turned over not known: 450 rpm, 300 to 700 rpm", *np.array([300.0, 450.0, 700.0]) * np.pi / 30.0
    ),
    _fixed(
        "cranking.pressure",
        "pressure at exhaust closing when turned over not known: throttle open, 0.98 bar, 0.90 to 1.02 bar",
        0.9e5,
        0.98e5,
        1.02e5,
    ),
    _fixed("cranking.temperature", "temperature when turned over not known: 315 K, 290 to 350 K", 290.0, 315.0, 350.0),
    node("cranking.gauge_volume", zero, Assumption("volume of the gauge's hose not given: none, its valve sits at the plug")),
)


def _start(spark: Column, delay: Column) -> Column:
    return delay - spark


def _speed(travel: Column, crank_speed: Column) -> Column:
    return travel * crank_speed / np.pi


def _margin(integral: Column) -> Column:
    return 1.0 - integral


def _worst(**pairs: Any) -> Column:
    coarse, fine = pairs["coarse"], pairs["fine"]
    errors = [cycle.step_error.raw(coarse=coarse[name], fine=fine[name]) for name in ("peak_pressure", "work", "knock_integral")]
    made: Column = np.maximum(np.maximum(errors[0], errors[1]), errors[2])
    return made


def _taken(name: str) -> Any:
    return lambda results: results[name]


def cycle_nodes(structure: Structure) -> list[Node]:
    """The closed cycle of a charge that is lit, and of one that is only turned over."""
    fuel = gas.FUELS[structure.choice("charge.fuel") or DEFAULT_FUEL]
    relation = structure.choice("losses.relation") or "annand"
    nodes = list(_DEFAULTS)
    if relation == "annand":
        nodes.append(_fixed("losses.heat_factor", "Annand's factor not fitted: 0.26, 0.2 to 0.5", 0.2, 0.26, 0.5))
    else:
        nodes.append(_fixed("losses.heat_factor", "Woschni's coefficient not fitted: as published, 0.7 to 1.4 times", 0.7, 1.0, 1.4))
    nominal = np.array([fuel.ron])
    octane = Assumption("octane number not stated: nominal RON of the fuel, 1 lower to 2 higher", between(fuel.ron - 1.0, fuel.ron + 2.0))
    scale = "charge.mon" if "charge.mon" in structure.given else "charge.ron"
    nodes += [node("charge.octane", same, value=scale), node("charge.ron", lambda: nominal, octane)]

    def marched(name: str, steps: tuple[int, ...]) -> Node:
        return node(
            name,
            lambda **columns: cycle.closed_cycle(heat=relation, steps=steps, **columns),
            unburned="charge.gas",
            burned="charge.burned_gas",
            bore_area="cylinder.bore_area",
            clearance_volume="clearance_volume.bare",
            closes="exhaust_closes",
            opens="exhaust_opens",
            ignites="burn.start",
            duration="burn.duration",
            form="burn.form",
            completeness="burn.completeness",
            pressure="charge.pressure",
            temperature="charge.temperature",
            wall_temperature="losses.wall_temperature",
            crank_speed="running.crank_speed",
            piston_speed="mean_piston_speed",
            heat_factor="losses.heat_factor",
            leak_area="losses.leak_area",
            crankcase_pressure="losses.crankcase_pressure",
            crevice_volume="cycle.crevice",
            octane="charge.octane",
            **CRANK,
        )

    nodes += [
        node(
            "charge.gas",
            lambda equivalence, residual: gas.unburned_gas(fuel, equivalence=equivalence, residual=residual),
            equivalence="charge.equivalence",
            residual="charge.residual",
        ),
        node("charge.burned_gas", lambda equivalence: gas.burned_gas(fuel, equivalence=equivalence), equivalence="charge.equivalence"),
        node("burn.start", _start, spark="burn.spark", delay="burn.delay"),
        node("cycle.crevice", same, value="crevice_volume"),
        node("cycle.crevice", zero, Assumption("top land not given: no crevice is counted")),
        marched("cycle.results", cycle.STEPS),
        marched("cycle.results_halved", tuple(2 * count for count in cycle.STEPS)),
        node("cycle_step_error", _worst, coarse="cycle.results", fine="cycle.results_halved"),
    ]
    nodes += [
        node(name, _taken(result), results="cycle.results")
        for name, result in (
            ("peak_pressure", "peak_pressure"),
            ("peak_pressure_angle", "peak_angle"),
            ("closed_work", "work"),
            ("heat_loss", "heat_loss"),
            ("knock_integral", "knock_integral"),
            ("end_gas_temperature", "end_gas_temperature"),
            ("opening_pressure", "opening_pressure"),
            ("cycle.tdc_pressure", "tdc_pressure"),
        )
    ]
    nodes += [
        node("closed_mean_pressure", quotient, volume="closed_work", thickness="swept_volume"),
        node("knock_margin", _margin, integral="knock_integral"),
        node("tdc_gas_pressure", difference, now="cycle.tdc_pressure", then="losses.crankcase_pressure"),
        node("stud_gas_load", quotient, volume="gas_force", thickness="cylinder.stud_count"),
        *_cranking(fuel),
    ]
    if "burn.spark" in structure.given:
        # what presses on piston and head, where nobody states it
        nodes += [
            node("ambient_pressure", lambda: _AMBIENT),
            node("running.gas_pressure", same, value="tdc_gas_pressure"),
            node("running.peak_pressure", difference, now="peak_pressure", then="ambient_pressure"),
        ]
    return nodes


def _cranking(fuel: gas.Fuel) -> list[Node]:
    return [
        node("cranking.piston_speed", _speed, travel="piston_travel", crank_speed="cranking.crank_speed"),
        node(
            "cranking.gas",
            lambda equivalence: gas.unburned_gas(fuel, equivalence=equivalence, residual=np.zeros(1)),
            equivalence="charge.equivalence",
        ),
        many("cranking.volume", added, ("clearance_volume.bare", "cranking.gauge_volume")),
        # Annand's factor whatever the relation while it burns
        node("cranking.heat_factor", lambda: np.array([0.26])),
        node(
            "cranking.absolute",
            lambda **columns: cycle.cranking_pressure(**columns),
            unburned="cranking.gas",
            bore_area="cylinder.bore_area",
            clearance_volume="cranking.volume",
            closes="exhaust_closes",
            pressure="cranking.pressure",
            temperature="cranking.temperature",
            wall_temperature="cranking.temperature",
            crank_speed="cranking.crank_speed",
            piston_speed="cranking.piston_speed",
            heat_factor="cranking.heat_factor",
            leak_area="losses.leak_area",
            crankcase_pressure="cranking.pressure",
            **CRANK,
        ),
        node("cranking_pressure", lambda pressure: pressure - _AMBIENT, pressure="cranking.absolute"),
    ]
