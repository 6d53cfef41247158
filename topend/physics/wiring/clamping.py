"""Studs: what the torque gives them, what gas and gasket ask, what heat adds, and when the thread strips."""

from __future__ import annotations

import numpy as np

from topend.physics import clamping, volumes
from topend.physics.wiring.graph import Assumption, Node, Structure, between, many, node, within
from topend.physics.wiring.operations import added, difference, greatest, least, product, same, zero

THREAD = {"diameter": "studs.thread_diameter", "pitch": "studs.pitch"}
#: Coefficient of friction by what is on the thread: usual, and from where to where.
FRICTIONS: dict[str, tuple[float, float, float]] = {
    "oiled": (0.12, 0.08, 0.16),
    "dry": (0.19, 0.14, 0.24),
    "paste": (0.07, 0.04, 0.10),
    "": (0.16, 0.08, 0.24),
}


def _constant(path: str, value: float, low: float, high: float, why: str) -> Node:
    made = np.array([value])
    return node(path, lambda: made, Assumption(why, between(low, high) if low < high else None))


#: Friction in the thread and under the nut: of one lubricant and one finish.
FRICTION = ("studs.thread_friction", "studs.nut_friction")


def tied(structure: Structure) -> tuple[tuple[str, ...], ...]:
    """Inputs that lie between their limits together, from one end to the other: what makes one of them high makes the others high.

    >>> tied(Structure(frozenset(), frozenset()))
    (('studs.thread_friction', 'studs.nut_friction'),)
    >>> tied(Structure(frozenset(), frozenset({"studs.frictions:apart"})))
    ()
    """
    return () if structure.choice("studs.frictions") == "apart" else (FRICTION,)


def clamping_nodes(structure: Structure) -> list[Node]:
    """Everything of the studs and of what the head joint asks of them."""
    return [*_defaults(structure), *_pull(structure), *_need(structure), *_heat(structure), *_thread()]


def _defaults(structure: Structure) -> list[Node]:
    oil = structure.choice("studs.lubrication") or ""
    usual, low, high = FRICTIONS[oil]
    what = (
        f"friction of {oil} threads, classes of VDI 2230-1 from memory" if oil else "friction with the lubrication not given, from memory"
    )
    nodes = [
        node(
            "studs.pitch", clamping.coarse_pitch, Assumption("pitch not given: the coarse one of ISO 261"), diameter="studs.thread_diameter"
        ),
        _constant("studs.thread_friction", usual, low, high, what),
        _constant("studs.nut_friction", usual, low, high, what),
        node(
            "studs.bearing_diameter",
            lambda value: 1.35 * value,
            Assumption("face under the nut not given: 1.35 × the thread, from memory", within(0.06)),
            value="studs.thread_diameter",
        ),
        _constant("studs.modulus", 205e9, 200e9, 210e9, "modulus of steel"),
        _constant("studs.expansion", 11.75e-6, 11.0e-6, 12.5e-6, "expansion of steel, mean over 20 to 200 °C"),
        _constant(
            "studs.joint_compliance_ratio", 0.2, 0.1, 0.4, "give of the clamped parts not given: 0.1 to 0.4 of the stud's, from memory"
        ),
        _constant("studs.tapped_shear_strength", 140e6, 100e6, 180e6, "shear strength of cast aluminium, from memory"),
    ]
    which = clamping.PROPERTY_CLASSES.get(structure.choice("studs.property_class") or "")
    if which is not None:
        yields, breaks = np.array([which.yield_strength]), np.array([which.tensile_strength])
        why = f"least strength of property class {which.name}, ISO 898-1 (from memory)"
        nodes += [
            node("studs.yield_strength", lambda: yields, Assumption(why)),
            node("studs.tensile_strength", lambda: breaks, Assumption(why)),
        ]
    return nodes


def _pull(structure: Structure) -> list[Node]:
    number = structure.choice("cylinder.studs")
    count = np.array([float(number or 0)])
    stressed = {**THREAD, "thread_friction": "studs.thread_friction"}
    return [
        node("cylinder.stud_count", lambda: count) if number else node("cylinder.stud_count", same, value="cylinder.studs"),
        node(
            "stud_preload",
            clamping.preload_from_torque,
            torque="studs.torque",
            nut_friction="studs.nut_friction",
            bearing_diameter="studs.bearing_diameter",
            **stressed,
        ),
        node("clamp_force", product, area="stud_preload", thickness="cylinder.stud_count"),
        node("studs.stress", clamping.tightening_stress, preload="stud_preload", torsion_preload="stud_preload", **stressed),
        node("stud_yield_use", clamping.yield_use_ratio, stress="studs.stress", yield_strength="studs.yield_strength"),
        node("studs.stress_hot", clamping.tightening_stress, preload="stud_preload_hot", torsion_preload="stud_preload", **stressed),
        node("stud_yield_use_hot", clamping.yield_use_ratio, stress="studs.stress_hot", yield_strength="studs.yield_strength"),
    ]


def _need(structure: Structure) -> list[Node]:
    """What the joint needs: of each gasket of the stack as much as the most demanding, of an O-ring nothing but the gas's force."""
    seal = structure.choice("head.seal") or "gasket"
    pressure = "running.peak_pressure"
    nodes: list[Node] = []
    seats, seals, circles = [], [], []
    if seal != "o-ring":
        number = structure.choice("head_gaskets")
        for index in range(int(number or 0)):
            at = f"head_gaskets.{index}"
            nodes += _gasket(structure, at, pressure)
            seats.append(f"{at}.seating_force")
            seals.append(f"{at}.sealing_force")
            circles.append(f"{at}.load_diameter")
        if not circles:
            seats, seals, circles = ["head_gaskets"], ["head_gaskets"], ["head_gaskets"]
    if seal != "gasket":
        # gas reaches the groove's outer wall, or all of the bore
        circles.append("cylinder.bore" if structure.choice("head.groove") == "bore" else "head.groove.outer_diameter")
    nodes += [
        many("seal.diameter", greatest, circles),
        node("gas_force", clamping.gas_force, pressure=pressure, seal_diameter="seal.diameter"),
        many("gasket_seating_force", greatest, seats) if seats else node("gasket_seating_force", zero),
        many("gasket_sealing_force", greatest, [*seals, "gas_force"]),
        many("joint.need", greatest, ("gasket_seating_force", "gasket_sealing_force")),
        node("clamp_reserve", difference, now="clamp_force", then="joint.need"),
        node("clamp_reserve_hot", difference, now="clamp_force_hot", then="joint.need"),
    ]
    return nodes


def _gasket(structure: Structure, at: str, pressure: str) -> list[Node]:
    edges: list[str] = [path for path in ("cylinder.deck_diameter", "head.face_diameter") if path in structure.given]
    edges = [f"{at}.outer_diameter", *edges] if f"{at}.outer_diameter" in structure.given or not edges else edges
    inner = [f"{at}.opening", *(["head.recess_diameter"] if "head.recess_diameter" in structure.given else [])]
    contact = {"inner_diameter": f"{at}.contact_inner", "outer_diameter": f"{at}.contact_outer"}
    load = {"load_diameter": f"{at}.load_diameter", "seating_width": f"{at}.seating_width"}
    nodes = [
        many(f"{at}.contact_inner", greatest, inner),
        many(f"{at}.contact_outer", least, edges),
        node(f"{at}.seating_width", clamping.effective_seating_width, **contact),
        node(f"{at}.load_diameter", clamping.gasket_load_diameter, **contact),
        node(f"{at}.seating_force", clamping.gasket_seating_force, seating_stress=f"{at}.seating_stress", **load),
        node(f"{at}.sealing_force", clamping.gasket_sealing_force, gasket_factor=f"{at}.gasket_factor", pressure=pressure, **load),
    ]
    need = clamping.GASKETS.get(structure.choice(f"{at}.material") or "")
    if need is not None:
        why = f"of {need.name}, ASME VIII-1 appendix 2, table 2-5.1 (from memory)"
        nodes += [
            _constant(f"{at}.gasket_factor", need.factor, need.factor_low, need.factor_high, f"factor m {why}"),
            _constant(f"{at}.seating_stress", need.stress, need.stress_low, need.stress_high, f"seating stress y {why}"),
        ]
    return nodes


def _heat(structure: Structure) -> list[Node]:
    through = structure.choice("studs.root") == "case"
    lengths = ["head.clamped_height", "head_gasket.thickness"]
    growths = ["studs.head_growth"]
    if through:
        lengths += ["cylinder.height", "base.thickness"]
        growths.append("studs.cylinder_growth")

    def growth(name: str, length: str, of: str) -> Node:
        return node(name, clamping.free_growth, length=length, expansion=f"{of}.expansion", rise=f"running.{of.removesuffix('s')}_rise")

    nodes = []
    if "studs.clamped_length" in structure.given:
        # what a stated length has more than the parts, gaskets and a counterbore over the thread, grows as the cylinder does
        nodes += [
            many("studs.part_heights", added, [length for length in lengths if length.endswith("height")]),
            node("studs.further_length", difference, now="studs.clamped_length", then="studs.part_heights"),
            growth("studs.further_growth", "studs.further_length", "cylinder"),
        ]
        growths.append("studs.further_growth")
    nodes += [
        many("studs.clamped_length", added, lengths),
        growth("studs.head_growth", "head.clamped_height", "head"),
        growth("studs.cylinder_growth", "cylinder.height", "cylinder"),
        growth("studs.own_growth", "studs.clamped_length", "studs"),
        many("studs.clamped_growth", added, growths),
        node("studs.area", clamping.thread_stress_area, **THREAD),
    ]
    shank = "studs.shank_diameter" in structure.given
    if shank:
        nodes.append(node("studs.free_area", volumes.circle_area, diameter="studs.shank_diameter"))
    return [
        *nodes,
        node(
            "studs.compliance",
            clamping.stud_compliance,
            clamped_length="studs.clamped_length",
            diameter="studs.thread_diameter",
            area="studs.free_area" if shank else "studs.area",
            modulus="studs.modulus",
        ),
        node(
            "studs.preload_change",
            clamping.preload_change_hot,
            clamped_growth="studs.clamped_growth",
            stud_growth="studs.own_growth",
            stud_compliance="studs.compliance",
            joint_compliance_ratio="studs.joint_compliance_ratio",
        ),
        many("stud_preload_hot", added, ("stud_preload", "studs.preload_change")),
        node("clamp_force_hot", product, area="stud_preload_hot", thickness="cylinder.stud_count"),
    ]


def _thread() -> list[Node]:
    return [
        node("studs.stripped_area", clamping.internal_thread_shear_area, engaged_length="studs.engaged_length", **THREAD),
        node("thread_strip_force", product, area="studs.stripped_area", thickness="studs.tapped_shear_strength"),
        node(
            "engagement_needed",
            clamping.engagement_needed,
            tensile_strength="studs.tensile_strength",
            tapped_shear_strength="studs.tapped_shear_strength",
            **THREAD,
        ),
    ]
