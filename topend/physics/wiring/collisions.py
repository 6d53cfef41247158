"""What cannot be assembled: the checks, where they apply, and the status they make."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from topend.physics.wiring.graph import Plan, Structure
from topend.physics.wiring.planning import plan
from topend.physics.wiring.profile import AGREE, profile_faults, volumes_agree


@dataclass(frozen=True, slots=True)
class Check:
    """One reason for which a row is no top end: judged when all of `takes` are known; True where it applies.

    One that is `worked_out` is of a row that goes together, and has no answer to something: it is judged only where that is asked.
    """

    reason: str
    takes: tuple[str, ...]
    applies: Callable[..., Any]
    tag: str | None = None
    worked_out: bool = False


#: A length [m] that is none: sums of decimals that should be zero come out as about 1e-17.
NOTHING: float = 1e-12


_SIZES = (
    "crank.stroke",
    "crank.rod_length",
    "cylinder.bore",
    "piston.diameter",
    "head.spigot_diameter",
    "head.recess_diameter",
    "head.band.outer_diameter",
    "head.band.inner_diameter",
    "head.chamber_volume",
    "assembled.volume",
    "running.crank_speed",
)


#: Sizes that are judged only where they are stated: elsewhere nothing is worked out for them.
_STATED_SIZES = (
    "piston.assembly_mass",
    "crank.rod_area",
    "crank.rod_end_area",
    "crank.rod_mass",
    "crank.rod_modulus",
    "crank.rod_density",
    "crank.crankpin_diameter",
    "crank.crankpin_length",
    "crank.stiffness",
    "crank.small_end.rollers",
    "crank.small_end.roller_length",
    "crank.big_end.rollers",
    "crank.big_end.roller_length",
    "crank.mains.balls",
    "crank.mains.ball_diameter",
    *("charge.ron", "charge.mon", "charge.equivalence", "charge.pressure", "charge.temperature", "burn.completeness"),
    *("losses.wall_temperature", "cranking.crank_speed", "cranking.pressure", "cranking.temperature"),
)


#: Shares and factors of the closed cycle where they are stated, from where to where as parts take them.
_RANGES: tuple[Check, ...] = (
    Check("not_a_size", ("burn.form",), lambda form: ~((form >= 0.0) & (form <= 6.0))),
    Check("not_a_size", ("burn.completeness",), lambda share: ~(share <= 20.0)),
    Check("not_a_size", ("charge.equivalence",), lambda ratio: ~((ratio >= 0.3) & (ratio <= 2.0))),
    *(
        Check("not_a_size", (path,), lambda size: ~(size >= 0.0))
        for path in ("losses.heat_factor", "losses.leak_area", "losses.crankcase_pressure", "cranking.gauge_volume")
    ),
)


#: What parts have checked at the door, and columns have not.
SIZES: tuple[Check, ...] = (
    *(Check("not_a_size", (path,), lambda size: ~(size > 0.0)) for path in _SIZES),
    Check("not_a_size", ("base.thickness",), lambda size: ~(size >= 0.0)),
    Check("not_a_size", ("head_gasket.thickness",), lambda size: ~(size >= 0.0)),
    Check("not_a_size", ("head.band.angle",), lambda angle: ~(np.abs(angle) < np.radians(80.5))),
    Check("not_a_size", ("deck_clearance",), lambda value: ~np.isfinite(value)),
)


#: What collides, for parts and columns alike.
COLLISIONS: tuple[Check, ...] = (
    Check(
        "rod_too_short",
        ("crank.throw", "crank.rod_length", "crank.axis_offset"),
        lambda throw, rod, offset: ~(rod > throw + np.abs(offset)),
    ),
    Check("piston_wider_than_bore", ("piston.diameter", "cylinder.bore"), lambda piston, bore: piston > bore),
    Check("spigot_wider_than_bore", ("head.spigot_diameter", "cylinder.bore"), lambda spigot, bore: spigot > bore),
    Check("band_wider_than_head", ("head.band.outer_diameter", "head.spigot_diameter"), lambda band, head: band > head),
    Check(
        "band_wider_than_head", ("head.band.outer_diameter", "head.recess_diameter"), lambda band, head: band > head, "head.recess:stated"
    ),
    Check("band_inside_out", ("head.band.inner_diameter", "head.band.outer_diameter"), lambda inner, outer: ~(inner < outer)),
    Check("band_inside_out", ("head.band.inner_diameter", "cylinder.bore"), lambda inner, bore: ~(inner < bore)),
    Check("offset_against_kind", ("head.recess_offset",), lambda offset: offset > 0.0, "head:spigot"),
    Check("offset_against_kind", ("head.recess_offset",), lambda offset: offset < 0.0, "head:flush"),
    Check(
        "crown_beyond_hemisphere", ("piston.crown.cap_height", "piston.crown.cap_radius"), lambda height, radius: np.abs(height) > radius
    ),
    Check("crown_beyond_hemisphere", ("piston.crown.cap_radius", "piston.crown.radius"), lambda cap, crown: cap > crown),
    Check("contact", ("squish_edge",), lambda gap: ~(gap > NOTHING)),
    Check("contact", ("squish_min",), lambda gap: ~(gap > NOTHING)),
    Check("contact", ("contact_min",), lambda gap: ~(gap > NOTHING)),
    Check("port_above_crown", ("ports.least_top", "deck_clearance"), lambda top, deck: ~(top - deck > NOTHING)),
    Check(
        "port_never_opens",
        ("ports.greatest_top", "deck_clearance", "piston_travel"),
        lambda top, deck, travel: ~(travel - (top - deck) > NOTHING),
    ),
    Check("inlet_never_opens", ("inlet.drop",), lambda drop: ~(drop > NOTHING)),
    Check("inlet_never_shuts", ("inlet.drop", "piston_travel"), lambda drop, travel: ~(travel - drop > NOTHING)),
    Check("no_clearance_volume", ("clearance_volume",), lambda volume: ~(volume > 0.0)),
    *(
        Check("stack_disagrees", (then, now), lambda then, now: ~(np.abs(then - now) < 1e-9), f"{reading}_stack:same")
        for reading, then, now in (
            ("deck.base", "deck.base_thickness", "base.thickness"),
            ("assembled.base", "assembled.base_thickness", "base.thickness"),
            ("assembled.head", "assembled.head_thickness", "head_gasket.thickness"),
        )
    ),
    Check("spark_before_closing", ("burn.spark", "exhaust_closes"), lambda spark, closes: ~(spark < closes), "burn:stated"),
    Check("spark_after_opening", ("burn.start", "exhaust_opens"), lambda start, opens: ~(start < opens), "burn:stated"),
    Check("burned_before_spark", ("burn.delay",), lambda delay: ~(delay >= 0.0), "burn:stated"),
    Check("burned_before_spark", ("burn.duration",), lambda duration: ~(duration > 0.0), "burn:stated"),
    Check("burned_before_spark", ("charge.residual",), lambda residual: ~((residual >= 0.0) & (residual < 1.0)), "burn:stated"),
)


def _lost(results: Any) -> Any:
    return ~np.isfinite(results["peak_pressure"])


#: What has no answer though all that it is worked out from is in its domain.
UNANSWERED: tuple[Check, ...] = (
    Check("cycle_not_followed", ("cycle.results",), _lost, worked_out=True),
    Check("cycle_not_followed", ("cycle.results_halved",), _lost, worked_out=True),
    Check("cycle_not_followed", ("cranking.absolute",), lambda pressure: ~np.isfinite(pressure), worked_out=True),
)


def _opening_checks(structure: Structure) -> list[Check]:
    paths = sorted(path for path in structure.given if path.startswith("head_gaskets.") and path.endswith(".opening"))
    return [Check("opening_inside_bore", (path, "cylinder.bore"), lambda opening, bore: opening < bore) for path in paths]


def profile_plan(structure: Structure) -> Plan:
    """The plan for all that the faults of a half-section take, as far as it can be had."""
    return plan(structure, tuple(dict.fromkeys(name for fault in profile_faults(structure) for name in fault.takes)))


def _profile_checks(structure: Structure) -> list[Check]:
    made = [Check("profile_impossible", fault.takes, fault.applies) for fault in profile_faults(structure)]
    both = [pair for pair in AGREE if set(pair) <= structure.given]
    # a nanometre, or a billionth of a radian
    made += [Check("profile_disagrees", pair, lambda one, other: ~(np.abs(one - other) <= 1e-9)) for pair in both]
    volumes = volumes_agree(structure)
    if volumes is not None:
        slack = float(structure.choice("head.chamber_slack") or 0.0)
        made.append(Check("profile_disagrees", volumes, lambda one, other: ~(np.abs(one - other) <= slack)))
    return made


@functools.lru_cache(maxsize=1024)
def checks(structure: Structure, sizes: bool, outputs: tuple[str, ...] = ()) -> tuple[tuple[Check, ...], Plan]:
    """The checks that can be judged under `structure`, and the plan for what they take; `sizes` as well, or not.

    Of what may have no answer that which `outputs` are worked out from.
    """
    steps = {step.name for step in plan(structure, outputs).steps} if outputs else set()
    asked = [check for check in UNANSWERED if steps.issuperset(check.takes)]
    stated = [Check("not_a_size", (path,), lambda size: ~(size > 0.0)) for path in _STATED_SIZES if path in structure.given]
    ranges = [check for check in _RANGES if check.takes[0] in structure.given]
    possible = [
        *((*SIZES, *stated, *ranges) if sizes else ()),
        *COLLISIONS,
        *_opening_checks(structure),
        *_profile_checks(structure),
        *asked,
    ]
    judged = tuple(
        check for check in possible if (check.tag is None or check.tag in structure.tags) and not plan(structure, check.takes).missing
    )
    names = tuple(dict.fromkeys(name for check in judged for name in check.takes))
    return judged, plan(structure, names)


def masks(judged: tuple[Check, ...], values: Mapping[str, Any]) -> list[Any]:
    """For each of `judged`, where it applies; `values` must hold what the plan of `checks` gives."""
    with np.errstate(all="ignore"):
        return [check.applies(*[values[name] for name in check.takes]) for check in judged]


def status(judged: tuple[Check, ...], where: Iterable[Any], codes: Mapping[str, int]) -> Any:
    """Status code of each row (int8): the least in `codes` (reason to number) of the checks that apply `where`, 0 for none.

    Of shape (1,) where no row has a status.
    """
    code: Any = np.zeros(1, dtype=np.int8)
    for check, bad in zip(judged, where, strict=True):
        if bad.any():
            own = np.int8(codes[check.reason])
            code = np.where(bad & ((code == 0) | (code > own)), own, code)
    return code
