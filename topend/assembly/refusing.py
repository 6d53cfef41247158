"""What cannot be assembled, and what is said of it: what touches, and by how much."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly.row import Row
from topend.assembly.stacks import READ_WITH, identity_field
from topend.errors import AssemblyError
from topend.physics import squish, wiring
from topend.physics.wiring.geometry import GAP_AT
from topend.physics.wiring.profile import AGREE
from topend.quantities import INPUTS, STATUS
from topend.units import from_si

if TYPE_CHECKING:
    from topend.assembly.top_end import TopEnd

__all__ = ["check", "refuse_structure"]

_CODES: Final = {reason: entry.code for reason, entry in STATUS.items()}
_REASONS: Final = {entry.code: reason for reason, entry in STATUS.items()}


def refuse_structure(top: TopEnd) -> None:
    """Raise `AssemblyError` for parts that cannot go together whatever their sizes are."""
    for stack, role in (("base_gaskets", "base"), ("head_gaskets", "head")):
        for index, gasket in enumerate(getattr(top, stack) or ()):
            if gasket.role != role:
                raise AssemblyError("wrong_role", f"{stack}.{index} is a {gasket.role} gasket; {stack} takes gaskets of role {role}")
    if top.head is not None and top.head.seal == "o-ring" and top.head_gaskets:
        raise AssemblyError(
            "seal_mismatch",
            f"the head seals by O-ring alone, yet {len(top.head_gaskets)} head gasket(s) lie under it; "
            "take them out, or give the head seal both",
        )


def check(row: Row) -> dict[str, Any]:
    """Raise `AssemblyError` where this row is no top end; else give the values worked out for it, with its columns."""
    judged, planned = wiring.checks(row.structure, sizes=False)
    values = wiring.run(planned, row.columns())
    code = int(wiring.status(judged, wiring.masks(judged, values), _CODES)[0])
    if code:
        reason = _REASONS[code]
        raise AssemblyError(reason, _refusal_text(reason, row, values))
    return values


def _refusal_text(reason: str, row: Row, values: dict[str, Any]) -> str:
    def mm(name: str) -> float:
        return float(np.atleast_1d(values[name])[0]) * 1e3

    def has(*names: str) -> bool:
        return all(name in values for name in names)

    if reason == "contact":
        return _contact_text(row, values, mm, has)
    if reason == "rod_too_short":
        throw, offset, rod = mm("crank.throw"), mm("crank.axis_offset"), mm("crank.rod_length")
        short = throw + abs(offset) - rod
        return f"the rod ({rod:.3f} mm) is not longer than throw plus offset ({throw:.3f} + {abs(offset):.3f} mm): {short:.3f} mm short"
    if reason == "piston_wider_than_bore":
        return _wider("the piston", mm("piston.diameter"), "the bore", mm("cylinder.bore"))
    if reason == "spigot_wider_than_bore":
        return _wider("the head's spigot", mm("head.spigot_diameter"), "the bore", mm("cylinder.bore"))
    if reason == "band_wider_than_head":
        outer = "head.spigot_diameter" if row.structure.choice("head") == "spigot" else "head.recess_diameter"
        what = "its spigot" if outer == "head.spigot_diameter" else "its recess"
        return _wider("the head's squish band", mm("head.band.outer_diameter"), what, mm(outer))
    if reason == "band_inside_out":
        inner, outer_name = mm("head.band.inner_diameter"), "head.band.outer_diameter"
        if has("cylinder.bore") and not (has(outer_name) and mm(outer_name) <= inner):
            outer_name = "cylinder.bore"
        what = "the bore" if outer_name == "cylinder.bore" else "its outer diameter"
        return f"the squish band's inner diameter ({inner:.3f} mm) is not smaller than {what} ({mm(outer_name):.3f} mm)"
    if reason == "opening_inside_bore":
        bore = mm("cylinder.bore")
        tight = [path for path in sorted(values) if path.startswith("head_gaskets.") and path.endswith(".opening") and mm(path) < bore]
        opening = mm(tight[0])
        hangs = f"the gasket hangs {(bore - opening) / 2:.3f} mm into it"
        return f"{tight[0]} ({opening:.3f} mm) is inside the bore ({bore:.3f} mm): {hangs}"
    if reason == "offset_against_kind":
        kind, offset = row.structure.choice("head"), mm("head.recess_offset")
        if kind == "spigot":
            rule = "a spigot head drops in: its recess_offset is zero or negative"
            other = 'a band above the gasket face is a FlushHead\'s, kind = "flush"'
        else:
            rule = "a flush head's band does not stand proud: its recess_offset is zero or positive"
            other = 'one that drops in is a SpigotHead, kind = "spigot"'
        return f"{rule}, got {offset:.3f} mm; {other}"
    if reason == "crown_beyond_hemisphere":
        height, radius, crown = mm("piston.crown.cap_height"), mm("piston.crown.cap_radius"), mm("piston.crown.radius")
        if radius > crown:
            return f"the dish ({2 * radius:.3f} mm across) is wider than the piston ({2 * crown:.3f} mm)"
        return f"the crown rises or sinks by {abs(height):.3f} mm over a radius of {radius:.3f} mm: more than a hemisphere"
    if reason == "port_above_crown":
        top, deck = mm("ports.least_top"), mm("deck_clearance")
        crown_at = f"above the crown at TDC ({deck:.3f} below the deck)"
        return f"a port's roof ({_roof_words(top, values)}) lies {deck - top:.3f} mm {crown_at}: it never closes"
    if reason == "port_never_opens":
        top, reach = mm("ports.greatest_top"), mm("deck_clearance") + mm("piston_travel")
        crown_at = f"below the crown at BDC ({reach:.3f} below the deck)"
        return f"a port's roof ({_roof_words(top, values)}) lies {top - reach:.3f} mm {crown_at}: it never opens"
    if reason in ("inlet_never_opens", "inlet_never_shuts"):
        drop, travel = mm("inlet.drop"), mm("piston_travel")
        if reason == "inlet_never_opens":
            return f"the skirt reaches {-drop:.3f} mm below the inlet's floor at TDC: it never opens"
        return f"the skirt stands {drop - travel:.3f} mm above the inlet's floor at BDC: it never shuts"
    if reason == "profile_impossible":
        return f"the head's half-section cannot be: {wiring.fault_words(row.structure, values)}"
    if reason == "profile_disagrees":
        return _disagreement(row, values)
    if reason == "no_clearance_volume":
        return f"the volumes given leave {mm('clearance_volume') * 1e3:.3f} cc of clearance; check chamber volume, its datum, and the crown"
    if reason == "stack_disagrees":
        return _two_figures(row, mm)
    if reason in ("spark_before_closing", "spark_after_opening", "burned_before_spark"):
        return _burn_text(reason, row, values)
    bad = [path for path, number in row.values.items() if not np.isfinite(number)]
    return f"{', '.join(bad) or 'a size'} is not a size that a part can have"


def _burn_text(reason: str, row: Row, values: dict[str, Any]) -> str:
    """What is wrong with when the charge burns."""

    def deg(name: str) -> float:
        return float(np.degrees(np.atleast_1d(values[name])[0]))

    if reason == "spark_before_closing":
        spark, closes = deg("burn.spark"), deg("exhaust_closes")
        return f"the spark ({spark:.1f} deg before TDC) comes before the exhaust closes ({closes:.1f} deg before TDC)"
    if reason == "spark_after_opening":
        start, opens = deg("burn.start"), deg("exhaust_opens")
        after = f"the burn would start {start:.1f} deg after TDC, when the exhaust is open (from {opens:.1f} deg)"
        return f"{after}; burn.spark counts degrees before TDC, positive"
    residual = float(np.atleast_1d(values["charge.residual"])[0])
    if not 0.0 <= residual < 1.0:
        return f"charge.residual ({100.0 * residual:.1f} %) leaves nothing to burn: the whole charge is burned before the spark"
    delay, duration = deg("burn.delay"), deg("burn.duration")
    return f"burn.delay ({delay:.1f} deg) and burn.duration ({duration:.1f} deg) have the charge burn before its spark"


def _two_figures(row: Row, mm: Any) -> str:
    """One stack said to be the same under a reading and now, with two thicknesses."""
    for path, stack in READ_WITH.items():
        if path in row.values and row.structure.choice(path.replace("_thickness", "_stack")) == "same" and mm(path) != mm(stack):
            break
    identity = identity_field(path)
    return (
        f"{path.partition('.')[0]}.{identity} says that the same gaskets lie there now, yet {path} is {mm(path):.3f} mm and those fitted "
        f'come to {mm(stack):.3f} mm; leave {path} out, or say {identity} = "other"'
    )


def _roof_words(top: float, values: dict[str, Any]) -> str:
    """Where a port's roof is, from `top` as it counts for timing, and by what it counts where that is not the crown's edge."""
    below = float(np.atleast_1d(values.get("piston.timing_depth", 0.0))[0]) * 1e3
    counted = f", {top:.3f} by what seals, {below:.3f} under the crown's edge" if below > 0.0 else ""
    return f"{top + below:.3f} below the deck{counted}"


def _disagreement(row: Row, values: dict[str, Any]) -> str:
    """What a head states that its half-section does not have."""
    for stated_at, made_at in AGREE:
        if {stated_at, made_at} <= set(row.values) and abs(row.values[stated_at] - row.values[made_at]) > 1e-9:
            unit = INPUTS[stated_at].unit
            one, other = (f"{from_si(row.values[path], unit):.4f} {unit}" for path in (stated_at, made_at))
            return f"{stated_at} is {one}, and its half-section has {other}; leave it out, so that it follows from the half-section"
    swept, volume = (from_si(float(np.atleast_1d(values[name])[0]), "cc") for name in ("head.profile.volume", "head.band_volume"))
    slack = from_si(float(row.structure.choice("head.chamber_slack") or 0.0), "cc")
    return (
        f"the chamber volume is stated as {volume:.4f} cc, and its half-section sweeps {swept:.4f} cc, {abs(volume - swept):.4f} cc apart "
        f"where {slack:.4f} cc are within its limits or its last decimal; leave chamber_volume out, or correct the half-section"
    )


def _wider(what: str, size: float, other: str, limit: float) -> str:
    return f"{what} ({size:.3f} mm) is wider than {other} ({limit:.3f} mm) by {size - limit:.3f} mm"


def _contact_text(row: Row, values: dict[str, Any], mm: Any, has: Any) -> str:
    edge = mm("squish_edge") if has("squish_edge") else None
    if has("contact_min") and not mm("contact_min") > 0.0:
        # the whole crown in fine steps: enough for the words of a refusal
        names = {**GAP_AT, "outer": "head.band.outer_radius"}
        planned = wiring.plan(row.structure, tuple(names.values()))
        known = wiring.run(planned, row.columns())
        radius = np.linspace(known[names["inner_radius"]][0], known[names["crown_radius"]][0], 2001)
        gaps = squish.gap_at(radius=radius, **{name: known[path] for name, path in GAP_AT.items()})
        gap, where = mm("contact_min"), f"at radius {radius[np.nanargmin(gaps)] * 1e3:.1f} mm"
        if has("contact.beside_bowl") and mm("contact.beside_bowl") > gap:
            where = "in the bowl"
    elif has("squish_min"):
        gap, where = mm("squish_min"), "inside the squish band"
    else:
        gap, where = edge or 0.0, "at the squish band's outer edge"
    beside = f"; the gap at the band's outer edge is {edge:.3f} mm" if edge is not None and abs(edge - gap) > 1e-9 else ""
    return f"crown and head touch at TDC {where}: they overlap by {-gap:.3f} mm{beside}. Thicker gaskets, or a head that stands less proud"
