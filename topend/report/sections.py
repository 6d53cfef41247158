"""The tables of outputs on a bench card: which stand together, in which words, and what is said below them; for text and page alike."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.curves import contact_probability
from topend.errors import MissingInputError, PartError
from topend.extremes import extremes
from topend.physics.wiring import CLOSING_PARTS, plan
from topend.quantities import OUTPUTS
from topend.report.finding_words import code_of

if TYPE_CHECKING:
    from topend.report.card import BenchCard
    from topend.report.figures import Figure

__all__ = [
    "CLOSED_CYCLE",
    "CLOSING_DRAWS",
    "COMPARED",
    "NOT_MODELLED",
    "SECTIONS",
    "SHOP_RULE",
    "SPREAD",
    "Line",
    "Section",
    "percent",
    "sections_of",
]

#: What each output is, beside its figure on the card; where the words follow from the sign, see `_beside`.
_BESIDE: Final[Mapping[str, str]] = {
    "squish_edge": "at the band's outer edge",
    "squish_inner": "at the band's inner edge",
    "squish_min": "least over the band",
    "squish_mean": "mean over the band's area",
    "contact_min": "least, crown to head",
    "chamber_volume": "above the band-edge plane",
    "chamber_depth": "above the band-edge plane",
    "chamber_area": "of the half-section",
    "chamber_surface": "band and plug counted",
    "chamber_centroid_radius": "from the axis",
    "chamber_centroid_height": "above the band-edge plane",
    "piston_travel": "BDC to TDC",
    "swept_volume": "bore area x travel",
    "clearance_volume": "at TDC, plug fitted",
    "crevice_volume": "beside the top land",
    "compression_ratio": "over the whole travel",
    "trapped_compression_ratio": "from exhaust closing",
    "squish_area_ratio": "band area / bore area",
    "exhaust_opens": "after TDC",
    "exhaust_closes": "before TDC",
    "exhaust_duration": "open",
    "transfer_opens": "after TDC",
    "transfer_closes": "before TDC",
    "transfer_duration": "open",
    "blowdown": "exhaust before transfers",
    "mean_piston_speed": "mean over a turn",
    "squish_velocity_angle": "before TDC, at that peak",
    "tdc_acceleration": "at TDC, toward the crank",
    "exhaust_area": "open at BDC",
    "transfer_area": "open at BDC",
    "exhaust_time_area": "per swept volume",
    "transfer_time_area": "per swept volume",
    "blowdown_time_area": "until transfers open",
    "blowdown_time_area_share": "of the exhaust's",
    "auxiliary_exhaust_opens": "after TDC",
    "auxiliary_exhaust_duration": "open",
    "auxiliary_transfer_opens": "after TDC",
    "auxiliary_transfer_duration": "open",
    "inlet_opens": "before TDC, by the skirt",
    "inlet_closes": "after TDC, by the skirt",
    "inlet_duration": "open",
    "inlet_area": "open at TDC",
    "inlet_time_area": "per swept volume",
    "gap_at_radius": "cold, at TDC",
    "band_volume": "outside the band's inner edge",
    "band_volume_at_angle": "outside the band's inner edge",
    "band_gap_at_angle": "mean over the band's area",
    "exhaust_area_at_angle": "open there",
    "transfer_area_at_angle": "open there",
    "inlet_area_at_angle": "open there",
    "skirt_clearance": "bore less skirt, cold",
    "spigot_clearance": "bore less spigot, cold",
    "eccentricity_worst": "all one way",
    "eccentricity_likely": "95 of 100 within",
    "eccentricity_worst_hot": "all one way, hot",
    "eccentricity_likely_hot": "95 of 100 within, hot",
    "rotation_worst": "about its axis",
    "spigot_gap_least": "radial, narrow side",
    "spigot_gap_most": "radial, wide side",
    "squish_edge_low": "low side, worst off centre",
    "squish_edge_high": "high side, worst off centre",
    "squish_min_off_centre": "least over the band",
    "recess_clearance": "recess less piston, cold",
    "recess_clearance_hot": "recess less piston, hot",
    "pin_interference": "pin free, less its hole",
    "ring_gap_ratio": "least gap / bore, new",
    "ring_gap_worn": "greatest, bore as worn",
    "o_ring_fill": "of the groove, cold",
    "o_ring_fill_hot": "of the groove, hot",
    "o_ring_extrusion_gap": "behind the ring",
    "base_land_angle": "where it is, from exhaust",
    "head_land_angle": "where it is, from exhaust",
    "stud_preload": "one stud, cold",
    "stud_yield_use": "of yield, while turned",
    "stud_yield_use_hot": "of yield, hot",
    "clamp_force": "all studs, cold",
    "gas_force": "lifts the head",
    "gasket_seating_force": "to bed the gasket in",
    "gasket_sealing_force": "to stay tight at the peak",
    "thread_strip_force": "one stud, in the metal",
    "engagement_needed": "so that the stud breaks",
    "closure_rod": "rod stretched",
    "closure_small_end": "rollers pressed in",
    "closure_big_end": "rollers pressed in",
    "closure_main_bearings": "balls pressed in",
    "closure_small_end_play": "clearance taken up",
    "closure_big_end_play": "clearance taken up",
    "closure_main_bearing_play": "clearance taken up",
    "closure_crankpin": "crankpin sheared",
    "closure_crank": "webs opened, shaft bent",
    "closure_unexplained": "beyond the parts modelled",
    "closure_total": "all of these together",
    "contact_speed": "where the gap is gone",
    "peak_pressure": "greatest, absolute",
    "peak_pressure_angle": "after TDC, there",
    "closed_work": "while closed",
    "closed_mean_pressure": "work / swept",
    "heat_loss": "to the walls",
    "opening_pressure": "as exhaust opens",
    "tdc_gas_pressure": "at TDC, over case",
    "end_gas_temperature": "before it burns",
    "knock_integral": "knocks at 1",
    "knock_margin": "knocks at 0",
    "stud_gas_load": "on each stud",
    "cranking_pressure": "on a gauge, unlit",
    "cycle_step_error": "relative, of the march",
}

#: What an output is where it is not negative, and where it is.
_SIGNED: Final[Mapping[str, tuple[str, str]]] = {
    "ring_peg_land": ("wall from its end to window", "its end runs over a window"),
    "o_ring_squeeze": ("of its thickness, cold", "does not touch, cold"),
    "o_ring_squeeze_hot": ("of its thickness, hot", "does not touch, hot"),
    "o_ring_squeeze_off_centre": ("on the loose side, cold", "does not touch there, cold"),
    "o_ring_squeeze_tight": ("on the tight side, cold", "does not touch there, cold"),
    "o_ring_squeeze_tight_hot": ("on the tight side, hot", "does not touch there, hot"),
    "o_ring_stretch": ("stretched", "lies loose there"),
    "o_ring_play": ("to the wall that holds it", "pressed onto that wall"),
    "groove_land": ("least wall beside the groove", "the groove breaks out"),
    "head_land": ("least, head joint", "none, the joint is open"),
    "head_land_off_centre": ("least, head off centre", "none, the head off centre"),
    "base_land": ("least, base joint", "none, the joint is open"),
    "stud_preload_hot": ("one stud, hot", "slack, hot"),
    "clamp_force_hot": ("all studs, hot", "slack, hot"),
    "clamp_reserve": ("spare over the need, cold", "lacking for the need, cold"),
    "clamp_reserve_hot": ("spare over the need, hot", "lacking for the need, hot"),
}

#: The card's tables of outputs, in order.
SECTIONS: Final[Mapping[str, tuple[str, ...]]] = {
    "Gaps at TDC, cold": ("deck_clearance", "squish_edge", "squish_inner", "squish_min", "squish_mean", "contact_min"),
    "Travel and volumes": ("piston_travel", "swept_volume", "crown_volume", "chamber_volume", "clearance_volume", "crevice_volume"),
    "Ratios": ("compression_ratio", "trapped_compression_ratio", "squish_area_ratio"),
    "Timing, crank degrees": (
        "exhaust_opens",
        "exhaust_closes",
        "exhaust_duration",
        "transfer_opens",
        "transfer_closes",
        "transfer_duration",
        "blowdown",
    ),
    "Closing at speed, throttle shut": (
        *(f"closure_{part}" for part in CLOSING_PARTS),
        *("closure_total", "running_clearance", "contact_speed", "closure_pulling", "pulling_clearance"),
    ),
    "Hot": (
        *("hot_gap_change", "hot_running_clearance", "skirt_clearance", "skirt_clearance_hot"),
        *("ring_gap_closing", "ring_gap_hot", "spigot_clearance", "spigot_clearance_hot"),
    ),
    "Where the head lies": (
        *("eccentricity_worst", "eccentricity_likely", "eccentricity_worst_hot", "eccentricity_likely_hot"),
        *("rotation_worst", "spigot_gap_least", "spigot_gap_most"),
        *("squish_edge_low", "squish_edge_high", "squish_min_off_centre", "recess_clearance", "side_room"),
        *("recess_clearance_hot", "side_room_hot", "pin_interference", "pin_margin", "pin_margin_hot"),
    ),
    "Port windows": (
        *("exhaust_area", "transfer_area", "exhaust_time_area", "transfer_time_area", "blowdown_time_area", "blowdown_time_area_share"),
        *("inlet_area", "inlet_time_area"),
    ),
    "Inlet and auxiliary ports, crank degrees": (
        *("inlet_opens", "inlet_closes", "inlet_duration", "auxiliary_exhaust_opens", "auxiliary_exhaust_duration"),
        *("auxiliary_transfer_opens", "auxiliary_transfer_duration"),
    ),
    "Half-section of the head": (
        *("chamber_depth", "chamber_area", "chamber_surface", "chamber_centroid_radius", "chamber_centroid_height"),
    ),
    "Plug and skirt": ("plug_clearance", "exhaust_skirt_cover", "skirt_web_clearance"),
    "At the probe": (
        *("gap_at_radius", "band_volume", "band_volume_at_angle", "band_gap_at_angle", "squish_velocity_at_angle"),
        *("exhaust_area_at_angle", "transfer_area_at_angle", "inlet_area_at_angle"),
    ),
    "Piston rings": ("ring_gap_ratio", "ring_gap_worn", "ring_peg_land"),
    "O-ring and sealing lands": (
        *("o_ring_squeeze", "o_ring_squeeze_hot", "o_ring_squeeze_off_centre", "o_ring_squeeze_tight", "o_ring_squeeze_tight_hot"),
        *("o_ring_fill", "o_ring_fill_hot", "o_ring_stretch"),
        *("o_ring_play", "o_ring_extrusion_gap", "groove_land", "head_land", "head_land_angle", "head_land_off_centre"),
        *("base_land", "base_land_angle"),
    ),
    "Studs": (
        *("stud_preload", "stud_preload_hot", "stud_yield_use", "stud_yield_use_hot", "clamp_force", "clamp_force_hot"),
        *("gas_force", "gasket_seating_force", "gasket_sealing_force", "clamp_reserve", "clamp_reserve_hot"),
        *("thread_strip_force", "engagement_needed"),
    ),
    "Closed cycle": (
        *(
            "peak_pressure",
            "peak_pressure_angle",
            "closed_work",
            "closed_mean_pressure",
            "heat_loss",
            "opening_pressure",
            "tdc_gas_pressure",
        ),
        *("end_gas_temperature", "knock_integral", "knock_margin", "stud_gas_load", "cranking_pressure", "cycle_step_error"),
    ),
    "Speeds": ("mean_piston_speed", "squish_velocity_peak", "squish_velocity_angle", "tdc_acceleration"),
}

#: What ± means, below the tables.
SPREAD: Final = (
    "± is twice the standard uncertainty (about 95 %), from limits stated or assumed. A figure without ± rests on none; "
    "that does not make it exact."
)

#: What closes the gap at speed: worked out for the card where a speed is stated.
AT_SPEED: Final = SECTIONS["Closing at speed, throttle shut"]
#: What is worked out for the card where what it needs is stated: windows, an inlet, a plug's height, a probe, ...
WINDOWS: Final = (
    *SECTIONS["Port windows"],
    *SECTIONS["Inlet and auxiliary ports, crank degrees"],
    *SECTIONS["Half-section of the head"],
    *SECTIONS["Plug and skirt"],
    *SECTIONS["Piston rings"],
    *SECTIONS["O-ring and sealing lands"],
    *SECTIONS["Studs"],
    *(name for name in SECTIONS["At the probe"] if name != "band_volume"),
)
#: What heat does: worked out for the card where a rise is stated.
HOT: Final = SECTIONS["Hot"]
#: The closed cycle: worked out for the card where a burn is stated, or how it is turned over.
CLOSED_CYCLE: Final = SECTIONS["Closed cycle"]
#: How the head is located, and what follows: worked out for the card where its location is stated.
LOCATED: Final = SECTIONS["Where the head lies"]
#: Draws for the closing at speed; they settle the ends of its range to a hundredth of a millimetre.
CLOSING_DRAWS: Final = 20_000
#: How many inputs that carry its width are named.
_SHOWN_CARRIERS: Final = 4
NOT_MODELLED: Final = "rocking of the piston, growth of crown and rod with heat, carbon, twist of the crank, give of the case"
COMPARED: Final = (
    "For comparing heads on one engine: absolute figures depend on pressure, temperature and residual gas at exhaust closing, which "
    "bear on all heads alike. topend compare puts heads in order, with how sure the order is. No margin here says that an engine is safe."
)
SHOP_RULE: Final = "0.6 mm is the least that is set, and may close to nearly nothing at 13 000 to 16 000 rpm"


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a table: the output's name or what is read, its figure, and what it is in words."""

    name: str
    figure: Figure
    beside: str


@dataclass(frozen=True, slots=True)
class Section:
    """A table of the card: its title, its lines, and the sentences below it."""

    title: str
    lines: tuple[Line, ...]
    notes: tuple[str, ...] = ()


def sections_of(card: BenchCard) -> tuple[Section, ...]:
    """The tables of a card that hold anything, in order."""
    made = []
    for title, names in SECTIONS.items():
        lines = [Line(name, card.figures[name], _beside(card, name)) for name in names if name in card.figures]
        notes: list[str] = []
        if "squish_edge" in names:
            wires, note = _wire(card)
            lines += wires
            notes = [note] if lines or card.figures else []
        if names == AT_SPEED:
            notes = _closing_notes(card)
        if names == CLOSED_CYCLE and lines:
            notes = [*_peak_notes(card), COMPARED]
        if names == SECTIONS["Studs"] and lines:
            notes = _stud_notes(card)
        if names == LOCATED:
            notes = _located_notes(card)
        if lines or notes:
            made.append(Section(title, tuple(lines), tuple(notes)))
    return (*made, *_of_packs(card))


def _of_packs(card: BenchCard) -> list[Section]:
    """A table for each pack that adds outputs, of those that can be had."""
    found: dict[tuple[str, str], list[Line]] = {}
    for one in card.top.extra_outputs:
        name = one.output.name
        if name in card.figures:
            found.setdefault((one.pack, one.digest), []).append(Line(name, card.figures[name], _small(one.output.meaning)))
    made = []
    for (pack, digest), lines in found.items():
        title = f"Outputs of pack {pack}" if pack else "Outputs that were added"
        made.append(Section(title, tuple(lines), (f"Worked out by {code_of(pack, digest)}; not by topend itself.",)))
    return made


def _small(meaning: str) -> str:
    """A meaning as words beside a figure: no full stop, and the first word as within a sentence."""
    words = meaning.rstrip(".")
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]


def _wire(card: BenchCard) -> tuple[list[Line], str]:
    """The expected wire readings as lines of the gaps, and what is said of them."""
    reading = card.gap_at
    if isinstance(reading, MissingInputError):
        return [], f"expected wire reading: needs {', '.join(reading.needs)}"
    if isinstance(reading, PartError):
        return [], f"expected wire reading: {reading}"
    radius, figure = reading
    lines = [Line("wire should read", figure, f"at radius {radius:.2f} mm, see below")]
    note = "The wire: laid 1 mm inside the band's outer edge, cold, and turned through TDC."
    if card.least_gap_at is not None:
        radius, figure = card.least_gap_at
        lines.append(Line("second wire", figure, f"at radius {radius:.2f} mm, see below"))
        note += " The second: where the gap is least, which the first does not show."
    return lines, note


def _stud_notes(card: BenchCard) -> list[str]:
    """That nobody knows whether the studs hold, where that cannot be had: silence would read as yes."""
    if "clamp_reserve" in card.figures:
        return []
    planned = plan(card.top.row.structure, ("clamp_reserve",))
    needs = [path for lack in planned.missing.values() for path in lack.needs]
    return [f"Not judged: whether they hold the gas down. clamp_reserve needs {', '.join(needs)}."] if needs else []


def _peak_notes(card: BenchCard) -> list[str]:
    """That the studs go by another peak than the one in the table."""
    stated = card.top.running.peak_pressure if card.top.running is not None else None
    if stated is None or "peak_pressure" not in card.figures:
        return []
    return [f"This peak is the cycle's. The studs go by running.peak_pressure as stated: {stated.text} over that around the engine."]


def _closing_notes(card: BenchCard) -> list[str]:
    """The range of the closing, what carries its width, the verdict, and what is not in it."""
    if not card.closing:
        return []
    total = card.closing["closure_total"]
    low, high = total.interval
    notes = [f"The closing lies between {low:.2f} and {high:.2f} mm (95 % of {CLOSING_DRAWS} draws between the limits)."]
    carried = [(share.path, share.u**2 / total.u_written**2) for share in total.shares if share.basis != "written"]
    told = ", ".join(f"{path} {percent(part)}" for path, part in carried[:_SHOWN_CARRIERS])
    if told:
        notes.append(f"Its width is from: {told}.")
    left = card.closing.get("running_clearance")
    if left is not None:
        verdict = "touches" if left.value <= 0.0 or left.interval[1] <= 0.0 else "not proven"
        ends = " to ".join(f"{end:.2f}" for end in left.interval)
        share = contact_probability(card.top, draws=CLOSING_DRAWS)
        chance = "in none of the draws" if share == 0.0 else f"in {percent(share)} of the draws"
        opened = _opened_notes(card)
        notes += opened
        limits = "By the limits alone it" if opened else f"Verdict: {verdict}. It"
        notes.append(f"{limits} touches {chance}. What is left of the least gap may be {ends} mm, cold parts.")
    notes.append(f"Not in it: {NOT_MODELLED}.")
    notes.append(f"Beside it, common practice and not this model: {SHOP_RULE}.")
    taken = [one.path for one in card.assumed_at_speed if one.limits is not None]
    if taken:
        notes.append(f"Taken as wide defaults from memory: {', '.join(taken)}. Their values: --json, under assumed; see docs/closing.md.")
    return notes


def _opened_notes(card: BenchCard) -> list[str]:
    """What the family's engines that were opened leave of the closing, and of the gap."""
    family = card.family
    if family is None:
        return []
    assert card.top.running is not None
    closing = family.closing(card.top, crank_speed_rpm=card.top.running.crank_speed.m_as("rpm"), draws=CLOSING_DRAWS)
    left = family.left(card.top, draws=CLOSING_DRAWS)
    ends = [np.quantile(drawn, (0.025, 0.975)) for drawn in (closing, left)]
    share = float(np.mean(left <= 0.0))
    chance = "in none of the draws" if share == 0.0 else f"in {percent(share)} of the draws"
    return [
        f"{family.engines} opened engine{'s' if family.engines > 1 else ''} of the family: with what they leave possible the closing lies "
        f"between {ends[0][0]:.2f} and {ends[0][1]:.2f} mm, and what is left between {ends[1][0]:.2f} and {ends[1][1]:.2f} mm.",
        f"Verdict: {'touches' if np.median(left) <= 0.0 else 'not proven'}. It touches {chance}, by the opened engines.",
    ]


def _located_notes(card: BenchCard) -> list[str]:
    """How far off the head lies with every size at its worst limit too."""
    if "eccentricity_worst" not in card.located:
        return []
    off = extremes(card.top, ["eccentricity_worst"])["eccentricity_worst"].high
    hot = ""
    if "eccentricity_worst_hot" in card.located:
        hot = f", hot {extremes(card.top, ['eccentricity_worst_hot'])['eccentricity_worst_hot'].high:.3f} mm"
    return [f"With every size at its worst limit too the head lies up to {off:.3f} mm off{hot}. See docs/locating.md."]


def percent(share: float) -> str:
    """A share of 1 in words.

    >>> percent(0.304), percent(0.004)
    ('30 %', 'under 1 %')
    """
    return "under 1 %" if share < 0.01 else f"{100.0 * share:.0f} %"


def _beside(card: BenchCard, name: str) -> str:
    value = card.figures[name].value
    if name in ("running_clearance", "pulling_clearance"):
        gas = "" if name == "running_clearance" else ", pulling"
        return f"left of the least gap{gas}" if value > 0.0 else f"too much, touches{gas}"
    if name == "hot_gap_change":
        return "the gap opens hot" if value >= 0.0 else "the gap closes hot"
    if name == "hot_running_clearance":
        return "left at speed and hot" if value > 0.0 else "too much, touches hot"
    if name == "ring_gap_closing":
        return "its gap closes hot" if value >= 0.0 else "its gap opens hot"
    if name in ("skirt_clearance_hot", "spigot_clearance_hot", "ring_gap_hot"):
        return "hot" if value > 0.0 else "too much, binds hot"
    if name == "ring_peg_land" and np.isnan(value):
        return "its ends pass no window"
    if name in _SIGNED:
        there, gone = _SIGNED[name]
        return there if value >= 0.0 else gone
    if name == "closure_pulling":
        return "all, with gas pressing" if value >= 0.0 else "opens, gas pressing"
    if name == "deck_clearance":
        return "level with the deck" if value == 0.0 else "crown edge below deck" if value > 0.0 else "crown edge above the deck"
    if name == "crown_volume":
        return "hollow, below its edge" if value < 0.0 else "above its edge"
    if name == "squish_velocity_at_angle":
        return "none there" if value == 0.0 else "inward" if value > 0.0 else "outward"
    if name in ("plug_clearance", "skirt_web_clearance"):
        where = "plug to crown at TDC" if name == "plug_clearance" else "skirt to webs at BDC"
        return where if value > 0.0 else f"{where}: they meet"
    if name in ("side_room", "side_room_hot"):
        how = "hot" if name.endswith("hot") else "cold"
        return f"beside the crown, {how}" if value > 0.0 else f"none, touches, {how}"
    if name in ("pin_margin", "pin_margin_hot"):
        return ("spare along the pins" if value >= 0.0 else "lacking along the pins") + (", hot" if name.endswith("hot") else "")
    if name == "exhaust_skirt_cover":
        return "skirt below the floor at TDC" if value >= 0.0 else "open below the skirt at TDC"
    if name == "clearance_volume" and card.top.crevice == "included":
        return "at TDC, plug, crevice in it"
    if name == "squish_velocity_peak":
        return f"{card.result.squish_direction} at the inner edge"
    return _BESIDE.get(name, OUTPUTS[name].meaning)
