"""Findings about studs: whether they hold the joint shut, whether they yield, and whether their thread strips."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from topend.evaluation import Result
from topend.physics import wiring
from topend.quantities import Finding
from topend.uncertainty import COVERAGE, Uncertain, uncertainty

__all__ = ["TIGHTENED", "findings"]

#: Share of the yield strength that tightening may use.
TIGHTENED: Final = 0.9
_NOTHING: Final = 1e-9


def findings(result: Result) -> list[Finding]:
    """What is to be said of the studs, with friction, torque and all else within its limits: twice the standard uncertainty counts.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import StudSet
    >>> tight = StudSet(thread_diameter="6 mm", root="cylinder", torque="14 N·m", property_class="8.8", lubrication="oiled")
    >>> [finding.code for finding in findings(evaluate(TopEnd(studs=tight)))]
    ['stud_overstressed']
    """
    if result.top.studs is None:
        return []
    return [*_reserve(result), *_stress(result), *_thread(result)]


def _known(result: Result, *names: str) -> dict[str, Uncertain]:
    had = [name for name in names if not wiring.plan(result.top.row.structure, (name,)).missing]
    return uncertainty(result.top, had) if had else {}


def _low(one: Uncertain) -> float:
    return one.value - COVERAGE * one.u


def _high(one: Uncertain) -> float:
    return one.value + COVERAGE * one.u


def _reserve(result: Result) -> Iterator[Finding]:
    found = _known(
        result,
        *("clamp_reserve", "clamp_reserve_hot", "clamp_force", "clamp_force_hot"),
        *("gas_force", "gasket_seating_force", "gasket_sealing_force"),
    )
    worst = min((one for name, one in found.items() if name.startswith("clamp_reserve")), key=_low, default=None)
    if worst is None or _low(worst) >= -_NOTHING:
        return
    # the pull that the reserve is of: studs that outgrow the head pull less hot
    hot = " hot" if worst.name.endswith("hot") else ""
    clamp, gas = found["clamp_force_hot" if hot else "clamp_force"], found["gas_force"]
    seat, seal = found["gasket_seating_force"], found["gasket_sealing_force"]
    need, what = (seat, "to bed the gasket in") if seat.value > seal.value else (seal, "to stay tight at the peak")
    lifts = clamp.value <= gas.value
    lacking = worst.value <= 0.0
    yield Finding(
        code="head_lifts" if lifts else "clamp_lacking",
        severity="warning",
        message=f"the studs pull{hot} with {clamp.value:.1f} kN ({_low(clamp):.1f} to {_high(clamp):.1f}), the gas lifts with "
        f"{gas.value:.1f} kN, and the joint asks for {need.value:.1f} kN {what}: "
        + (f"{-worst.value:.1f} kN are lacking" if lacking else "that it is enough is not proven"),
        do="more torque if the studs bear it, larger or more studs, a softer gasket or a narrower land; or state what friction is",
        standing="published",
        source="ASME VIII-1 appendix 2, for steady pressure, which is more than an engine's peak needs; factors from memory",
        figure=worst.value if lacking else _low(worst),
        limit=0.0,
        unit="kN",
        effect="the head lifts and gas blows out" if lifts else "the gasket seeps, then burns through",
    )


def _stress(result: Result) -> Iterator[Finding]:
    found = _known(result, "stud_yield_use", "stud_yield_use_hot")
    for name, one in found.items():
        hot = name.endswith("hot")
        limit = 1.0 if hot else TIGHTENED
        if _high(one) <= limit + _NOTHING:
            continue
        if hot and "stud_yield_use" in found and _high(found["stud_yield_use"]) > 1.0 + _NOTHING:
            # told already, cold
            continue
        when = "hot" if hot else "while their nuts are turned"
        yield Finding(
            code="stud_overstressed_hot" if hot else "stud_overstressed",
            severity="warning" if _high(one) > 1.0 + _NOTHING else "note",
            message=f"the studs use {one.value:.2f} of their yield strength {when}, and may use {_high(one):.2f}",
            do="less torque, studs of a higher property class or a longer free length; or state what friction is",
            standing="published",
            source="VDI 2230-1: 0.9 of the yield strength while tightening" if not hot else "yield strength",
            figure=_high(one),
            limit=limit,
            unit="–",
            effect="they stretch for good: the clamp force is gone when all is cold again",
        )


def _thread(result: Result) -> Iterator[Finding]:
    studs = result.top.studs
    assert studs is not None
    found = _known(result, "engagement_needed", "thread_strip_force", "stud_preload", "stud_preload_hot")
    needed, strips = found.get("engagement_needed"), found.get("thread_strip_force")
    if studs.engaged_length is None:
        return
    pulled = max((one for name, one in found.items() if name.startswith("stud_preload")), key=_high, default=None)
    engaged = studs.engaged_length.m_as("mm")
    if strips is not None and pulled is not None and _low(strips) < _high(pulled) - _NOTHING:
        yield Finding(
            code="thread_strips",
            severity="warning",
            message=f"{engaged:.1f} mm of thread strip at {strips.value:.1f} kN, maybe at {_low(strips):.1f}, and a stud may pull with "
            f"{_high(pulled):.1f} kN",
            do="more thread in the metal, a thread insert, or less torque",
            standing="published",
            source="FED-STD-H28/2B (second-hand); shear strength as stated or assumed",
            figure=_low(strips),
            limit=_high(pulled),
            unit="kN",
            effect="the thread comes out with the stud",
        )
    elif needed is not None and engaged < _high(needed) - _NOTHING:
        yield Finding(
            code="thread_short",
            severity="note",
            message=f"{engaged:.1f} mm of thread in the metal, and {needed.value:.1f} mm, maybe {_high(needed):.1f}, are needed for "
            "the stud to break before it strips",
            do="longer studs, a thread insert, or care with the wrench: what strips is the dear part",
            standing="published",
            source="VDI 2230-1, from memory; 1.5 to 2 diameters in aluminium are common practice",
            figure=engaged,
            limit=_high(needed),
            unit="mm",
            effect="a nut that is overdone strips the cylinder or the case",
        )
