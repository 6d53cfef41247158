"""The table of every input and output: name, kind, unit, meaning, source. The glossary and the docs are made from it.

One word per quantity, everywhere: argument, attribute, column, JSON key, heading. A new input or output starts here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from topend.errors import UnknownNameError

__all__ = [
    "ALWAYS",
    "CODES",
    "INPUTS",
    "OUTPUTS",
    "STATUS",
    "Basis",
    "ExtraFinding",
    "ExtraOutput",
    "Finding",
    "Input",
    "Output",
    "Status",
    "always",
    "glossary",
    "output",
]


@dataclass(frozen=True, slots=True)
class Output:
    """One number the library works out: name, the unit it is shown in, what it means, where the relation is from.

    The table of them, with all inputs, is `te.glossary`.
    """

    name: str
    unit: str
    meaning: str
    source: str
    #: decimals beyond which nobody in the trade reads it
    decimals: int = 3
    #: worked out only where it is asked for by name: what rests on wide defaults, and would slow every other answer
    when_named: bool = False


@dataclass(frozen=True, slots=True)
class Input:
    """One number somebody states: its path in the tree, the unit it is shown in, what it means."""

    path: str
    unit: str
    meaning: str


#: How a figure came about.
Basis = Literal["measured", "published", "derived", "estimated", "invented"]
Standing = Literal["published", "common practice", "memory", "geometry"]


@dataclass(frozen=True, slots=True)
class Finding:
    """Something about a top end that a builder should know: the figure, the limit, and where the limit comes from.

    Made by `te.findings`, whose example shows them.
    """

    code: str
    severity: Literal["note", "warning", "refusal"]
    message: str
    do: str
    standing: Standing
    source: str = ""
    figure: float | None = None
    limit: float | None = None
    unit: str = ""
    #: what it does to an engine
    effect: str = ""

    @property
    def margin(self) -> float | None:
        """Figure less limit, in their unit; None where either is not a number."""
        return None if self.figure is None or self.limit is None else self.figure - self.limit


@dataclass(frozen=True, slots=True)
class ExtraOutput:
    """An output that a data pack adds: what it is, which quantities it needs, and how it is worked out of them.

    `needs` are names of the outputs table or paths of the inputs table. `work` takes them in that order as SI arrays of
    one shape and returns an SI array of that shape, NaN outside its domain; every row for itself, and from nothing else, as it is run
    on one row and on a million. `pack` is the id of the pack it is from, and `digest` the SHA-256 of what that says and does: the
    catalogue sets both.
    """

    output: Output
    needs: tuple[str, ...]
    work: Callable[..., Any]
    pack: str = ""
    digest: str = ""


@dataclass(frozen=True, slots=True)
class ExtraFinding:
    """A judgement that a data pack adds: its name, and a function from an evaluated result to what it finds.

    `pack` is the id of the pack it is from.
    """

    name: str
    judge: Callable[[Any], Iterable[Finding]]
    pack: str = ""


@dataclass(frozen=True, slots=True)
class Status:
    """Why a row cannot be a top end: the code in a study's `status` column, the reason's name, what it says."""

    code: int
    reason: str
    meaning: str
    needs: tuple[str, ...] = field(default=())


_GEOMETRY = "geometry (docs/datum-and-signs.md)"

_SKIRT = "the skirt's lower edge over the exact slider-crank"
_SECTION = "lines and arcs about the axis, by Green and Pappus"
_CYCLE = "march of the closed cycle, two zones (docs/closed-cycle.md)"
_WINDOWS = "geometry of rounded windows over the exact slider-crank"
_LOCATION = "play and zones of position of every link, added"
_GROWTH = "length × mean expansion × rise, summed over the stack"
_TORUS = "volumes of ring and groove; rubber keeps its volume"
_BOLTED = "VDI 2230-1: the screw as an inclined plane, and elastic lengths"
_CODE = "ASME VIII-1, appendix 2 (factors from memory)"
_STRIPPED = "FED-STD-H28/2B and ISO/TR 16224 (second-hand), limits of ISO 965-1"
_ROLLERS = "contact of steel (Palmgren, in Harris, Rolling Bearing Analysis; from memory) summed after Sjövall"
_REVERSAL = "the load on the joint reverses between a slow turn and TDC at speed"


def _closing(name: str, what: str, source: str) -> Output:
    return Output(name, "mm", f"Closing of the gap at TDC and speed, throttle shut: {what}.", source, when_named=True)


OUTPUTS: Final[dict[str, Output]] = {
    made.name: made
    for made in (
        Output(
            "piston_travel",
            "mm",
            "Travel of the piston from BDC to TDC; more than the stroke when the cylinder or pin is offset.",
            _GEOMETRY,
        ),
        Output("deck_clearance", "mm", "Crown edge at TDC to the cylinder's top deck; positive below the deck.", _GEOMETRY),
        Output(
            "squish_edge",
            "mm",
            "Axial gap at the squish band's outer edge at TDC: deck clearance + fitted head gaskets + recess offset.",
            _GEOMETRY,
        ),
        Output("squish_inner", "mm", "Axial gap at the squish band's inner edge at TDC.", _GEOMETRY),
        Output("squish_min", "mm", "Least axial gap anywhere in the squish band at TDC.", _GEOMETRY),
        Output("squish_mean", "mm", "Area-weighted mean axial gap over the squish band at TDC.", _GEOMETRY),
        Output(
            "contact_min",
            "mm",
            "Least axial distance between crown and head over the whole crown, where the head's shape is known.",
            _GEOMETRY,
        ),
        Output(
            "chamber_volume",
            "cc",
            "Space of the head above the plane through the band's outer edge, plug as fitted.",
            _GEOMETRY,
            3,
            True,
        ),
        Output("chamber_area", "mm²", "Area of the head's half-section, from the axis to the band's outer edge.", _SECTION, 1, True),
        Output("chamber_surface", "mm²", "Surface of head that the chamber sees, band and plug's face counted.", _SECTION, 0, True),
        Output("chamber_depth", "mm", "Greatest height of the chamber above the band-edge plane.", _SECTION, when_named=True),
        Output(
            "chamber_centroid_radius", "mm", "Centroid of the head's half-section: its distance from the axis.", _SECTION, when_named=True
        ),
        Output("chamber_centroid_height", "mm", "The same: its height above the band-edge plane.", _SECTION, when_named=True),
        Output("swept_volume", "cc", "Bore area times piston travel.", _GEOMETRY, 2),
        Output("crown_volume", "cc", "Volume of the piston crown above its edge plane; a dish is negative.", _GEOMETRY, 2),
        Output(
            "clearance_volume",
            "cc",
            "Volume above the piston at TDC, plug as fitted, without the top-land crevice unless asked for.",
            _GEOMETRY,
            2,
        ),
        Output(
            "crevice_volume",
            "cc",
            "Volume of the top-land crevice beside the piston, from its crown edge down to the top ring.",
            _GEOMETRY,
            3,
        ),
        Output("compression_ratio", "–", "(swept + clearance volume) / clearance volume, over the whole travel.", "common definition", 2),
        Output("trapped_compression_ratio", "–", "The same over the travel left when the exhaust closes.", "common definition", 2),
        Output("squish_area_ratio", "–", "Area of the squish band over bore area.", _GEOMETRY, 3),
        Output("exhaust_opens", "deg", "Exhaust opening, crank degrees after TDC.", _GEOMETRY, 1),
        Output("exhaust_closes", "deg", "Exhaust closing, crank degrees before TDC.", _GEOMETRY, 1),
        Output("exhaust_duration", "deg", "Exhaust open, crank degrees.", _GEOMETRY, 1),
        Output("transfer_opens", "deg", "Transfer opening, crank degrees after TDC.", _GEOMETRY, 1),
        Output("transfer_closes", "deg", "Transfer closing, crank degrees before TDC.", _GEOMETRY, 1),
        Output("transfer_duration", "deg", "Transfers open, crank degrees.", _GEOMETRY, 1),
        Output("blowdown", "deg", "From exhaust opening to transfer opening on the downstroke, crank degrees.", _GEOMETRY, 1),
        Output("mean_piston_speed", "m/s", "Twice the piston travel times the crank's revolutions per second.", "common definition", 2),
        Output(
            "squish_velocity_peak",
            "m/s",
            "Greatest squish velocity at the band's inner edge on the upstroke, as a magnitude.",
            "Heywood, Internal Combustion Engine Fundamentals (1988), section 8.4, for any band and crown",
            1,
        ),
        Output("squish_velocity_angle", "deg", "Where that peak is, crank degrees before TDC.", "stationary point of the same relation", 1),
        Output("tdc_acceleration", "m/s²", "Piston acceleration at TDC, positive toward the crank.", "exact slider-crank", 0),
        _closing(
            "closure_rod", "elongation of the rod, by what hangs on it and by its own mass", "tension along a bar under its own inertia"
        ),
        _closing("closure_small_end", "rollers of the small end pressed in", _ROLLERS),
        _closing("closure_big_end", "rollers of the big end pressed in", _ROLLERS),
        _closing("closure_main_bearings", "balls of the main bearings pressed in", _ROLLERS),
        _closing("closure_small_end_play", "the small end's diametral clearance taken up", _REVERSAL),
        _closing("closure_big_end_play", "the big end's diametral clearance taken up", _REVERSAL),
        _closing("closure_main_bearing_play", "the main bearings' diametral clearance taken up", _REVERSAL),
        _closing("closure_crankpin", "shear of the crankpin", "shear of a short round beam (Cowper 1966, from memory)"),
        _closing("closure_crank", "webs opened and shaft bent", "a stated stiffness, or a wide default from memory"),
        _closing(
            "closure_unexplained", "what inspected engines show beyond the parts that are modelled", "stated; nothing where it is not"
        ),
        Output(
            "closure_total",
            "mm",
            "Closing of the gap at TDC and speed, throttle shut: all the closings together.",
            "sum of the parts above",
            when_named=True,
        ),
        Output(
            "running_clearance",
            "mm",
            "What is left of the least gap at speed, throttle shut, which is worst; parts as cold.",
            "least distance between crown and head, less closure_total",
            when_named=True,
        ),
        Output(
            "gap_at_radius",
            "mm",
            "Axial gap at TDC, cold, at the probe's radius: under the band, the band-edge plane, or the gasket face.",
            _GEOMETRY,
            when_named=True,
        ),
        Output(
            "band_volume",
            "cc",
            "Volume outside the squish band's inner edge at TDC: over the band, and radially beyond it.",
            _GEOMETRY,
            3,
            True,
        ),
        Output("band_volume_at_angle", "cc", "The same at the probe's crank angle.", _GEOMETRY, 3, True),
        Output("band_gap_at_angle", "mm", "Area-weighted mean gap over the band at the probe's crank angle.", _GEOMETRY, when_named=True),
        Output(
            "squish_velocity_at_angle",
            "m/s",
            "Squish velocity at the band's inner edge at the probe's crank angle; positive inward, negative outward.",
            "Heywood, Internal Combustion Engine Fundamentals (1988), section 8.4, for any band and crown",
            1,
            True,
        ),
        Output(
            "plug_clearance",
            "mm",
            "Axial distance at TDC, cold, between the plug's lowest point and the crown below it.",
            _GEOMETRY,
            when_named=True,
        ),
        Output(
            "skirt_web_clearance",
            "mm",
            "Least axial distance at BDC between the skirt's lower edge and the crank webs; negative where they meet.",
            _SKIRT,
            when_named=True,
        ),
        Output(
            "exhaust_skirt_cover",
            "mm",
            "How far the skirt reaches below the exhaust's floor at TDC; negative where it stands open to the crankcase.",
            _SKIRT,
            when_named=True,
        ),
        Output(
            "hot_gap_change",
            "mm",
            "Change of the gap from cold to hot, positive where it opens; the sign depends on cooling.",
            _GROWTH,
            when_named=True,
        ),
        Output(
            "hot_running_clearance",
            "mm",
            "What is left of the least gap at speed and hot, throttle shut.",
            "running_clearance and hot_gap_change together",
            when_named=True,
        ),
        Output("skirt_clearance", "mm", "Bore less piston skirt, diametral, cold.", _GEOMETRY, when_named=True),
        Output("skirt_clearance_hot", "mm", "Bore less piston skirt, diametral, hot; negative where it seizes.", _GROWTH, when_named=True),
        Output(
            "ring_gap_closing",
            "mm",
            "How much the rings' gaps close hot, the most of them; negative where they open.",
            _GROWTH,
            when_named=True,
        ),
        Output("ring_gap_hot", "mm", "Least gap of the rings hot; negative where the ends butt.", _GROWTH, when_named=True),
        Output("ring_gap_worn", "mm", "Greatest gap of the rings cold, in the bore as worn.", _GEOMETRY, 3, True),
        Output("ring_gap_ratio", "–", "Least gap of the rings cold, in the bore as new, over the bore.", _GEOMETRY, 4, True),
        Output(
            "ring_peg_land",
            "mm",
            "Least wall between a ring's end and a window it passes, along the bore; negative where it runs over it, nan for none.",
            _GEOMETRY,
            2,
            True,
        ),
        Output(
            "o_ring_squeeze",
            "%",
            "How much the O-ring is pressed together, of its thickness as it lies; negative where it does not touch.",
            _TORUS,
            1,
            True,
        ),
        Output("o_ring_squeeze_hot", "%", "The same hot.", _TORUS, 1, True),
        Output(
            "o_ring_squeeze_off_centre",
            "%",
            "The same cold on the loose side of a spigot that lies against the bore; of a groove in a face as o_ring_squeeze.",
            _TORUS,
            1,
            True,
        ),
        Output(
            "o_ring_squeeze_tight",
            "%",
            "The same cold on the tight side of a spigot that lies against the bore; of a groove in a face as o_ring_squeeze.",
            _TORUS,
            1,
            True,
        ),
        Output("o_ring_squeeze_tight_hot", "%", "o_ring_squeeze_tight hot.", _TORUS, 1, True),
        Output("o_ring_fill", "%", "How much of the groove's space the O-ring fills.", _TORUS, 1, True),
        Output("o_ring_fill_hot", "%", "The same hot.", _TORUS, 1, True),
        Output(
            "o_ring_stretch",
            "%",
            "How far the O-ring is stretched by the groove's inner wall or bottom; negative where it lies loose there.",
            _GEOMETRY,
            1,
            True,
        ),
        Output(
            "o_ring_play",
            "mm",
            "How far pressure can push the O-ring to the wall that holds it; negative where it is pressed onto it.",
            _GEOMETRY,
            3,
            True,
        ),
        Output(
            "o_ring_extrusion_gap",
            "mm",
            "Gap behind the O-ring into which pressure can press it: between the faces, or the whole of spigot to bore.",
            _GEOMETRY,
            3,
            True,
        ),
        Output(
            "groove_land",
            "mm",
            "Least wall between the groove in a face and the chamber, the stud holes, the coolant or an outline.",
            _GEOMETRY,
            3,
            True,
        ),
        Output(
            "head_land",
            "mm",
            "Least width between the chamber's opening and whatever ends the head joint's sealing land.",
            _GEOMETRY,
            3,
            True,
        ),
        Output(
            "head_land_angle",
            "deg",
            "Where that is, anticlockwise from the middle of the exhaust; nan where it is all round.",
            _GEOMETRY,
            0,
            True,
        ),
        Output(
            "head_land_off_centre",
            "mm",
            "What is left of head_land at least, the head worst off centre.",
            "head_land less eccentricity_worst",
            3,
            True,
        ),
        Output(
            "base_land",
            "mm",
            "Least width between transfer passages or opening and whatever ends the base joint's sealing land.",
            _GEOMETRY,
            3,
            True,
        ),
        Output(
            "base_land_angle",
            "deg",
            "Where that is, anticlockwise from the middle of the exhaust; nan where it is all round.",
            _GEOMETRY,
            0,
            True,
        ),
        Output("stud_preload", "kN", "Pull of one stud as its nut's torque gives it, cold.", _BOLTED, 2, True),
        Output("stud_preload_hot", "kN", "The same hot, as long as nothing yields.", _BOLTED, 2, True),
        Output("stud_yield_use", "–", "Stress in a stud over its yield strength while its nut is turned.", _BOLTED, 2, True),
        Output("stud_yield_use_hot", "–", "The same hot.", _BOLTED, 2, True),
        Output("clamp_force", "kN", "Pull of all studs, cold.", _BOLTED, 2, True),
        Output("clamp_force_hot", "kN", "Pull of all studs, hot.", _BOLTED, 2, True),
        Output("gas_force", "kN", "Force of the gas on the seal's circle, which lifts the head.", _CODE, 2, True),
        Output("gasket_seating_force", "kN", "Force that beds the head gasket in; none for an O-ring.", _CODE, 2, True),
        Output(
            "gasket_sealing_force",
            "kN",
            "Force that keeps the joint tight while gas presses: its own, and what the gasket needs.",
            _CODE,
            2,
            True,
        ),
        Output("clamp_reserve", "kN", "Pull of all studs cold, less the greater of what the joint needs.", _CODE, 2, True),
        Output("clamp_reserve_hot", "kN", "The same hot.", _CODE, 2, True),
        Output("thread_strip_force", "kN", "Pull at which the thread in the metal strips, of one stud.", _STRIPPED, 2, True),
        Output("engagement_needed", "mm", "Thread in the metal at which the stud breaks before that strips.", _STRIPPED, 1, True),
        Output("spigot_clearance", "mm", "Bore less spigot, diametral, cold.", _GEOMETRY, when_named=True),
        Output("spigot_clearance_hot", "mm", "Bore less spigot, diametral, hot; negative where it binds.", _GROWTH, when_named=True),
        Output("exhaust_area", "mm²", "Area of all exhaust windows, as far as the piston uncovers them at BDC.", _WINDOWS, 0, True),
        Output("transfer_area", "mm²", "Area of all transfer windows, as far as the piston uncovers them at BDC.", _WINDOWS, 0, True),
        Output(
            "exhaust_time_area", "s/m", "Time-area of the exhaust windows per swept volume; 100 s/m are 1 s·cm²/cm³.", _WINDOWS, 5, True
        ),
        Output("transfer_time_area", "s/m", "Time-area of the transfer windows per swept volume.", _WINDOWS, 5, True),
        Output(
            "blowdown_time_area",
            "s/m",
            "Time-area of the exhaust windows per swept volume until the transfers open.",
            _WINDOWS,
            5,
            True,
        ),
        Output(
            "blowdown_time_area_share",
            "–",
            "Share of the exhaust's time-area that lies before the transfers open.",
            _WINDOWS,
            3,
            True,
        ),
        Output("exhaust_area_at_angle", "mm²", "Open area of all exhaust windows at the probe's crank angle.", _WINDOWS, 0, True),
        Output("transfer_area_at_angle", "mm²", "Open area of all transfer windows at the probe's crank angle.", _WINDOWS, 0, True),
        Output("auxiliary_exhaust_opens", "deg", "Opening of the auxiliary exhaust ports, crank degrees after TDC.", _GEOMETRY, 1, True),
        Output("auxiliary_exhaust_duration", "deg", "Auxiliary exhaust ports open, crank degrees.", _GEOMETRY, 1, True),
        Output("auxiliary_transfer_opens", "deg", "Opening of the auxiliary transfer ports, crank degrees after TDC.", _GEOMETRY, 1, True),
        Output("auxiliary_transfer_duration", "deg", "Auxiliary transfer ports open, crank degrees.", _GEOMETRY, 1, True),
        Output("inlet_opens", "deg", "Opening of the inlet by the skirt, crank degrees before TDC.", _SKIRT, 1, True),
        Output("inlet_closes", "deg", "Closing of the inlet by the skirt, crank degrees after TDC.", _SKIRT, 1, True),
        Output("inlet_duration", "deg", "Inlet open, crank degrees.", _SKIRT, 1, True),
        Output("inlet_area", "mm²", "Area of all inlet windows, as far as the skirt uncovers them at TDC.", _WINDOWS, 0, True),
        Output("inlet_area_at_angle", "mm²", "Open area of all inlet windows at the probe's crank angle.", _WINDOWS, 0, True),
        Output("inlet_time_area", "s/m", "Time-area of the inlet windows per swept volume.", _WINDOWS, 5, True),
        Output("contact_speed", "rpm", "Crank speed at which the gap is gone, throttle shut.", "running_clearance solved for 0", 0, True),
        Output(
            "closure_pulling",
            "mm",
            "Closing of the gap at TDC and speed while gas presses on the piston; negative where the gap opens.",
            "as closure_total, less the gas load",
            when_named=True,
        ),
        Output(
            "pulling_clearance",
            "mm",
            "What is left of the least gap at speed while gas presses on the piston.",
            "least distance between crown and head, less closure_pulling",
            when_named=True,
        ),
        Output(
            "eccentricity_worst",
            "mm",
            "Most that the head's axis may lie off the bore's: every link at its worst and all one way.",
            _LOCATION,
            when_named=True,
        ),
        Output(
            "eccentricity_likely",
            "mm",
            "Eccentricity that 95 of 100 assemblies stay within, each link anywhere in its play.",
            "mean and variance of the square, by a generalised Pareto law; exact for one link",
            when_named=True,
        ),
        Output(
            "eccentricity_worst_hot",
            "mm",
            "eccentricity_worst hot: fits of spigot, register and studs as they have grown, the shift of a head with a slot at one pin.",
            _LOCATION,
            when_named=True,
        ),
        Output(
            "eccentricity_likely_hot",
            "mm",
            "eccentricity_likely hot, in the same way.",
            "mean and variance of the square, by a generalised Pareto law; exact for one link",
            when_named=True,
        ),
        Output("rotation_worst", "deg", "Most that the head may be turned about its axis.", _LOCATION, 2, True),
        Output(
            "spigot_gap_least",
            "mm",
            "Radial gap between bore and spigot on the narrow side, the head worst off centre.",
            _LOCATION,
            when_named=True,
        ),
        Output(
            "spigot_gap_most",
            "mm",
            "Radial gap between bore and spigot on the wide side, the head worst off centre.",
            _LOCATION,
            when_named=True,
        ),
        Output(
            "squish_edge_low", "mm", "Gap at the band's outer edge on the low side, the head worst off centre.", _LOCATION, when_named=True
        ),
        Output(
            "squish_edge_high",
            "mm",
            "Gap at the band's outer edge on the high side, the head worst off centre.",
            _LOCATION,
            when_named=True,
        ),
        Output("squish_min_off_centre", "mm", "Least gap anywhere in the band, the head worst off centre.", _LOCATION, when_named=True),
        Output("recess_clearance", "mm", "Recess less piston at its crown's edge, diametral, cold.", _GEOMETRY, when_named=True),
        Output("recess_clearance_hot", "mm", "Recess less piston at its crown's edge, diametral, hot.", _GROWTH, when_named=True),
        Output(
            "side_room",
            "mm",
            "Least room between a piston's crown and the wall of the recess, cold: the head worst off centre, the piston leaning.",
            "half the clearance less eccentricity and rocking",
            when_named=True,
        ),
        Output(
            "side_room_hot",
            "mm",
            "The same hot; negative where they touch.",
            "half the hot clearance less hot eccentricity and rocking",
            when_named=True,
        ),
        Output(
            "pin_interference",
            "mm",
            "Locating pin before it is driven in less the wider of its holes in cylinder and head; negative where it has play.",
            _GEOMETRY,
            when_named=True,
        ),
        Output(
            "pin_margin",
            "mm",
            "Room along the line through both pins less what their holes are off by; negative: what pins and holes must give.",
            "position of two pins in two holes (ASME Y14.5, fixed fasteners)",
            when_named=True,
        ),
        Output(
            "pin_margin_hot",
            "mm",
            "The same hot, less what the pins' distance grows more in head or cylinder than in the other.",
            _GROWTH,
            when_named=True,
        ),
        Output("peak_pressure", "bar", "Greatest pressure in the cylinder while it fires, absolute.", _CYCLE, 1, True),
        Output("peak_pressure_angle", "deg", "Where that is, crank degrees after TDC.", _CYCLE, 1, True),
        Output("closed_work", "J", "Work of the gas on the piston from exhaust closing to opening.", _CYCLE, 1, True),
        Output(
            "closed_mean_pressure",
            "bar",
            "Indicated mean effective pressure of the closed part: closed_work over swept volume.",
            _CYCLE,
            2,
            True,
        ),
        Output("heat_loss", "J", "Heat that the gas loses to the walls from exhaust closing to opening.", _CYCLE, 1, True),
        Output("opening_pressure", "bar", "Pressure in the cylinder when the exhaust opens, absolute.", _CYCLE, 2, True),
        Output("tdc_gas_pressure", "bar", "Pressure in the cylinder at TDC while it fires, over that in the crankcase.", _CYCLE, 1, True),
        Output("end_gas_temperature", "K", "Greatest temperature of the gas that has not burned yet.", _CYCLE, 0, True),
        Output(
            "knock_integral",
            "–",
            "Share of the end gas's time to ignition that is spent when the burn ends; it knocks at 1.",
            "Livengood and Wu (1955), delay of Douaud and Eyzat, SAE 780080 (from memory)",
            3,
            True,
        ),
        Output(
            "knock_margin", "–", "1 less knock_integral; it knocks at 0. For ranking heads, not by itself.", "as knock_integral", 3, True
        ),
        Output(
            "stud_gas_load", "kN", "What the gas's force on the head comes to on each stud.", "gas_force over the number of studs", 2, True
        ),
        Output(
            "cranking_pressure", "bar", "What a gauge should read when it is turned over unlit, over the surroundings.", _CYCLE, 1, True
        ),
        Output(
            "cycle_step_error",
            "–",
            "Estimated relative error, by halving the steps, of peak pressure, work and knock integral: the greatest of the three.",
            "Richardson's estimate for a scheme of fourth order",
            8,
            True,
        ),
    )
}

INPUTS: Final[dict[str, Input]] = {
    made.path: made
    for made in (
        Input("crank.stroke", "mm", "Twice the throw of the crank."),
        Input("crank.rod_length", "mm", "Rod, centre to centre."),
        Input(
            "crank.offset", "mm", "Cylinder axis displaced from the crank axis, positive toward the side of the crankpin on the downstroke."
        ),
        Input("crank.seat_height", "mm", "Crank axis up to the case face on which the base gasket lies."),
        Input("crank.pin_diameter", "mm", "Piston pin that the rod's small end takes."),
        Input("crank.rod_area", "mm²", "Section of the rod's shank; of a tapered one, at the small end."),
        Input("crank.rod_end_area", "mm²", "Section of a tapered rod's shank at the big end; not given: the same all along."),
        Input("crank.rod_mass", "g", "The whole rod, without bearings."),
        Input("crank.rod_modulus", "GPa", "Modulus of elasticity of the rod."),
        Input("crank.rod_density", "kg/m³", "Density of the rod."),
        Input("crank.crankpin_diameter", "mm", "Diameter of the crankpin."),
        Input("crank.crankpin_length", "mm", "Free length of the crankpin between the webs."),
        Input("crank.web_diameter", "mm", "Outer diameter of the crank webs, or of the counterweights on them."),
        Input("crank.web_width", "mm", "Over both webs, along the crank; not given: as wide as the piston."),
        Input("crank.stiffness", "kN/mm", "Pull of the rod that opens webs and bends shaft by 1 mm, at the crankpin."),
        Input("crank.compliance", "µm/kN", "The same the other way round: how far webs and shaft give for 1 kN."),
        Input("crank.balance", "%", "Share of the reciprocating mass that the counterweights balance."),
        Input("crank.expansion", "µm/m/K", "Mean expansion of the crank; not given: steel."),
        Input("crank.rod_expansion", "µm/m/K", "Mean expansion of the rod; not given: steel."),
        Input("crank.case_expansion", "µm/m/K", "Mean expansion of the crankcase; not given: aluminium."),
        Input("crank.unexplained_closing", "mm", "Closing beyond the parts that are modelled, as inspected engines of the family show it."),
        Input("crank.small_end.clearance", "mm", "Diametral clearance of the small end's bearing."),
        Input("crank.small_end.rollers", "pcs", "Rollers of the small end's bearing."),
        Input("crank.small_end.roller_length", "mm", "Length of a roller of the small end."),
        Input("crank.big_end.clearance", "mm", "Diametral clearance of the big end's bearing."),
        Input("crank.big_end.rollers", "pcs", "Rollers of the big end's bearing."),
        Input("crank.big_end.roller_length", "mm", "Length of a roller of the big end."),
        Input("crank.mains.clearance", "mm", "Diametral clearance of the main bearings as fitted."),
        Input("crank.mains.balls", "pcs", "Balls in one main bearing."),
        Input("crank.mains.ball_diameter", "mm", "Diameter of a ball of the main bearings."),
        Input("cylinder.bore", "mm", "Bore diameter."),
        Input("cylinder.expansion", "µm/m/K", "Mean expansion of the cylinder; not given: from its material, else aluminium."),
        Input("cylinder.height", "mm", "Cylinder base face up to its top deck."),
        Input("cylinder.ports.N.top", "mm", "From the deck down to the port's upper edge, without its chamfer; N counts from 0."),
        Input("cylinder.ports.N.floor", "mm", "From the deck down to the port's lower edge; not given: at or below the crown at BDC."),
        Input("cylinder.ports.N.width", "mm", "Width of the port's window, chordal or along the wall as width_along says."),
        Input("cylinder.ports.N.corner_radius", "mm", "Radius of the window's corners; not given: square."),
        Input(
            "cylinder.ports.N.angle",
            "deg",
            "Where the middle of the window lies, anticlockwise from above, from the middle of the exhaust; of a pair, of one of them.",
        ),
        Input("cylinder.ports.N.chamfer", "mm", "Height of the chamfer above the window; the port opens at its upper edge."),
        Input(
            "cylinder.ports.N.valve_edge",
            "mm",
            "From the deck down to the lower edge of an exhaust valve as it stands; above the window it changes nothing.",
        ),
        Input("cylinder.bore_chamfer", "mm", "Height of the chamfer at the upper end of the bore."),
        Input("cylinder.studs.circle_diameter", "mm", "Diameter of the circle through the middles of the studs, or of the holes for them."),
        Input("cylinder.studs.diameter", "mm", "Diameter of a stud; of a head or a gasket, that of its holes."),
        Input("cylinder.studs.angle", "deg", "Where the first stud lies, anticlockwise from above, from the middle of the exhaust."),
        Input("cylinder.register_diameter", "mm", "Bore of the register in the deck that centres the head."),
        Input("cylinder.skirt_diameter", "mm", "Outer diameter of the skirt that enters the crankcase, which a base gasket goes over."),
        Input("cylinder.window_diameter", "mm", "Circle that the transfer passages reach out to in the cylinder's base face."),
        Input(
            "cylinder.deck_diameter",
            "mm",
            "Outline of the cylinder's deck; of one that is not round, twice its least distance from the bore's axis.",
        ),
        Input("cylinder.coolant_diameter", "mm", "Circle that the coolant openings in the deck reach in to."),
        Input("cylinder.base_diameter", "mm", "Outline of the cylinder's base face, as deck_diameter."),
        Input(
            "cylinder.base_studs.circle_diameter",
            "mm",
            "Diameter of the circle through the middles of the studs that hold the cylinder's base.",
        ),
        Input("cylinder.base_studs.diameter", "mm", "Diameter of the holes for them in the base face."),
        Input(
            "cylinder.base_studs.angle", "deg", "Where the first of them lies, anticlockwise from above, from the middle of the exhaust."
        ),
        Input(
            "cylinder.cutouts.N.angle",
            "deg",
            "Where the middle of a transfer passage lies in the base face, anticlockwise from above, from the middle of the exhaust.",
        ),
        Input("cylinder.cutouts.N.span", "deg", "Whole angle over which that passage reaches."),
        Input("cylinder.cutouts.N.outer_diameter", "mm", "Circle that it reaches out to."),
        Input(
            "cylinder.deck_notches.N.angle",
            "deg",
            "Where the middle of what cuts the deck from outside lies, anticlockwise from above, from the middle of the exhaust.",
        ),
        Input("cylinder.deck_notches.N.span", "deg", "Whole angle over which it reaches."),
        Input("cylinder.deck_notches.N.inner_diameter", "mm", "Circle round the bore's axis from which it reaches outward."),
        Input(
            "cylinder.base_notches.N.angle",
            "deg",
            "Where the middle of what cuts the base face from outside lies, anticlockwise from above, from the middle of the exhaust.",
        ),
        Input("cylinder.base_notches.N.span", "deg", "Whole angle over which it reaches."),
        Input("cylinder.base_notches.N.inner_diameter", "mm", "Circle round the bore's axis from which it reaches outward."),
        Input("cylinder.bore_wear", "mm", "How much wider the bore has worn, in diameter, where the rings' ends run; adds to their gaps."),
        Input("cylinder.pin_height", "mm", "Pin axis at TDC above the case face, in the engine the cylinder is for."),
        Input("cylinder.pin_diameter", "mm", "Piston pin of the engine the cylinder is for."),
        Input("piston.diameter", "mm", "Diameter of the crown's edge; not given: the bore."),
        Input("piston.compression_height", "mm", "Pin axis up to the crown edge."),
        Input("piston.pin_offset", "mm", "Pin axis off the piston axis; adds to the crank's offset, positive the same way."),
        Input("piston.pin_diameter", "mm", "Piston pin that the piston takes."),
        Input("piston.top_land", "mm", "Crown edge down to the top ring's upper side."),
        Input("piston.edge_chamfer", "mm", "Height of the chamfer at the crown's edge, below which the piston seals; not given: none."),
        Input("piston.skirt_length", "mm", "Crown edge down to the skirt's lower edge."),
        Input("piston.inlet_skirt_length", "mm", "Crown edge down to the skirt's lower edge at the inlet; not given: as skirt_length."),
        Input("piston.skirt_top", "mm", "Crown edge down to where the skirt begins to guide."),
        Input("piston.rocking", "mm", "How far the crown's edge moves off the bore's axis as the piston leans over, either way."),
        Input("piston.skirt_diameter", "mm", "Greatest diameter of the skirt, across the pin, where the piston is measured."),
        Input("piston.expansion", "µm/m/K", "Mean expansion of the piston; not given: from its material, else aluminium."),
        Input("piston.clearance", "mm", "Bore less skirt as this pair was matched, diametral; not given: from the sizes of both."),
        Input("piston.rings.N.diameter", "mm", "Bore that a ring is made for; N counts from 0, the top ring."),
        Input("piston.rings.N.height", "mm", "Height of a ring along the bore."),
        Input("piston.rings.N.land", "mm", "Crown edge down to a ring's upper side; not given: of the top ring as piston.top_land."),
        Input("piston.rings.N.gap", "mm", "Gap of a ring in the bore as new, cold."),
        Input(
            "piston.rings.N.angle",
            "deg",
            "Where the ring's peg stands, in the middle of its gap, anticlockwise from above, from the middle of the exhaust.",
        ),
        Input("piston.rings.N.expansion", "µm/m/K", "Mean expansion of a ring; not given: steel or iron."),
        Input("piston.assembly_mass", "g", "Piston with rings, pin, clips and small-end bearing: all that hangs on the rod."),
        Input("piston.crown.rise", "mm", "Centre of a cone, sphere-cap or measured crown above its edge; negative for a hollow."),
        Input("piston.crown.depth", "mm", "Depth of a dish below the flat around it."),
        Input("piston.crown.diameter", "mm", "Diameter of a dish at the flat around it."),
        Input("piston.crown.volume", "cc", "Measured volume of a crown above its edge plane; negative for a hollow."),
        Input("piston.crown.edge_slope", "deg", "Slope of a measured crown at its edge, positive when it rises toward the centre."),
        Input(
            "head.recess_offset",
            "mm",
            "Band's outer edge relative to the head's gasket face: positive recessed up into the head, "
            "negative standing proud into the bore.",
        ),
        Input("head.recess_diameter", "mm", "Diameter of the recess a head's band lies in; not given: the bore."),
        Input("head.spigot_diameter", "mm", "Outer diameter of the spigot that drops into the bore."),
        Input("head.studs.circle_diameter", "mm", "Diameter of the circle through the middles of the head's stud holes."),
        Input("head.studs.diameter", "mm", "Diameter of the head's stud holes."),
        Input(
            "head.studs.angle", "deg", "Where the head's first stud hole lies, anticlockwise from above, from the middle of the exhaust."
        ),
        Input("head.register_diameter", "mm", "Outer diameter of the head's register, which enters that of the cylinder."),
        Input(
            "head.face_diameter",
            "mm",
            "Outline of the head's gasket face; of one that is not round, twice its least distance from the bore's axis.",
        ),
        Input("head.clamped_height", "mm", "Height of the head between its gasket face and the seats of its nuts."),
        Input("head.o_ring.inner_diameter", "mm", "Inner diameter of the O-ring, free."),
        Input("head.o_ring.section", "mm", "Thickness of the O-ring, free."),
        Input("head.o_ring.expansion", "µm/m/K", "Mean expansion of the O-ring; not given: from its material."),
        Input("head.groove.inner_diameter", "mm", "Inner wall of a groove in a face; of a groove round a spigot, its bottom."),
        Input("head.groove.outer_diameter", "mm", "Outer wall of a groove in a face."),
        Input("head.groove.depth", "mm", "Depth of the groove below the face, or below the spigot."),
        Input("head.groove.width", "mm", "Width of the groove."),
        Input(
            "head.chamber_volume",
            "cc",
            "Space above the plane through the band's outer edge, plug as fitted (or above the gasket face, see volume_datum).",
        ),
        Input(
            "head.plug_height", "mm", "Lowest point of the fitted plug above the plane through the band's outer edge; negative below it."
        ),
        Input("head.plug_radius", "mm", "Distance of the plug's lowest point from the bore's axis; not given: on the axis."),
        Input("head.expansion", "µm/m/K", "Mean expansion of the head; not given: from its material, else aluminium."),
        Input("head.band.outer_diameter", "mm", "Outer diameter of the squish band."),
        Input("head.band.inner_diameter", "mm", "Inner diameter of the squish band."),
        Input("head.band.angle", "deg", "Band angle, positive when the band rises toward the centre."),
        Input("head.profile.band.outer_diameter", "mm", "Outer diameter of the band, in the half-section."),
        Input("head.profile.band.inner_diameter", "mm", "Inner diameter of the band, in the half-section: the bowl's opening."),
        Input("head.profile.band.angle", "deg", "Band angle in the half-section, 0 or more: rising toward the centre."),
        Input("head.profile.depth", "mm", "Height of bowl, roof or rim above the band's inner edge."),
        Input("head.profile.bowl_radius", "mm", "Radius of the ball that a bowl is a cap of."),
        Input("head.profile.wall_height", "mm", "Height of the wall, parallel to the axis, under a hemisphere."),
        Input("head.profile.corner_radius", "mm", "Radius of the rounding between wall and roof."),
        Input("head.profile.roof_diameter", "mm", "Diameter at which a conical wall meets the flat roof, without its rounding."),
        Input("head.profile.rim_radius", "mm", "Radius of the arc of a toroidal rim."),
        Input("head.profile.boss_height", "mm", "Height of the boss's flat face above the band's inner edge."),
        Input("head.profile.points.N.radius", "mm", "Distance of a corner from the axis; N counts from 0, the band's outer edge."),
        Input("head.profile.points.N.height", "mm", "Height of a corner above the band-edge plane."),
        Input(
            "head.profile.points.N.arc_radius",
            "mm",
            "Radius of the arc from the corner before: positive where the chamber bulges outward, negative where metal bulges in.",
        ),
        Input("head.profile.plug.thread_diameter", "mm", "Nominal diameter of the plug's thread."),
        Input("head.profile.plug.thread_pitch", "mm", "Pitch of the plug's thread."),
        Input("head.profile.plug.face_diameter", "mm", "Flat at the plug's hole in the chamber; not given: the thread's diameter."),
        Input("head.profile.plug.thread_length", "mm", "Plug's seat down to the chamber, along the thread."),
        Input("head.profile.plug.seat_height", "mm", "Plug's seat above the band-edge plane."),
        Input("head.profile.plug.reach", "mm", "Length of the plug's thread from its seat."),
        Input("head.profile.plug.nose_volume", "cc", "What is open in the plug's nose beyond its thread; negative where it fills more."),
        Input("base.thickness", "mm", "Whole base gasket stack, fitted."),
        Input("base_gaskets.N.thickness", "mm", "Nominal thickness of one base gasket; N counts from 0."),
        Input("base_gaskets.N.opening", "mm", "Diameter of a base gasket's round opening, which goes over the cylinder's skirt."),
        Input("base_gaskets.N.window_diameter", "mm", "Circle that a base gasket's cut-outs for the transfer passages reach out to."),
        Input(
            "base_gaskets.N.outer_diameter",
            "mm",
            "Outline of a base gasket; of one that is not round, twice its least distance from the bore's axis.",
        ),
        Input(
            "base_gaskets.N.cutouts.N.angle",
            "deg",
            "Where the middle of a base gasket's cut-out lies, anticlockwise from above, from the middle of the exhaust.",
        ),
        Input("base_gaskets.N.cutouts.N.span", "deg", "Whole angle over which that cut-out reaches."),
        Input("base_gaskets.N.cutouts.N.outer_diameter", "mm", "Circle that it reaches out to."),
        Input("base_gaskets.N.studs.circle_diameter", "mm", "Diameter of the circle through the middles of a base gasket's stud holes."),
        Input("base_gaskets.N.studs.diameter", "mm", "Diameter of a base gasket's stud holes."),
        Input(
            "base_gaskets.N.studs.angle", "deg", "Where its first stud hole lies, anticlockwise from above, from the middle of the exhaust."
        ),
        Input("base_gaskets.N.gasket_factor", "–", "Its factor m; not given: by its material."),
        Input("base_gaskets.N.seating_stress", "N/mm²", "Its seating stress y; not given: by its material."),
        Input("base_gaskets.N.fitted_thickness", "mm", "One base gasket as crushed by the fitted nuts; not given: from the nominal."),
        Input("head_gasket.thickness", "mm", "Whole head gasket stack, fitted."),
        Input("head_gaskets.N.thickness", "mm", "Nominal thickness of one head gasket; N counts from 0."),
        Input("head_gaskets.N.fitted_thickness", "mm", "One head gasket as crushed by the fitted nuts; not given: from the nominal."),
        Input("head_gaskets.N.studs.circle_diameter", "mm", "Diameter of the circle through the middles of a head gasket's stud holes."),
        Input("head_gaskets.N.studs.diameter", "mm", "Diameter of a head gasket's stud holes."),
        Input("head_gaskets.N.opening", "mm", "Diameter of a head gasket's opening; not given: the bore."),
        Input(
            "head_gaskets.N.studs.angle",
            "deg",
            "Where a head gasket's first stud hole lies, anticlockwise from above, from the middle of the exhaust.",
        ),
        Input(
            "head_gaskets.N.outer_diameter",
            "mm",
            "Outline of a head gasket; of one that is not round, twice its least distance from the bore's axis.",
        ),
        Input(
            "head_gaskets.N.gasket_factor",
            "–",
            "Its factor m: pressure on it for a unit of the gas's, while it seals; not given: by its material.",
        ),
        Input("head_gaskets.N.seating_stress", "N/mm²", "Its seating stress y, which beds it in; not given: by its material."),
        Input("studs.thread_diameter", "mm", "Nominal diameter of the studs' thread."),
        Input("studs.pitch", "mm", "Pitch of the studs' thread; not given: the coarse one of ISO 261."),
        Input("studs.length", "mm", "Whole length of a stud."),
        Input("studs.yield_strength", "N/mm²", "Yield strength of the studs; not given: by their property class."),
        Input("studs.tensile_strength", "N/mm²", "Tensile strength of the studs; not given: by their property class."),
        Input("studs.torque", "N·m", "Torque that the nuts are drawn up with; its limits are those of the wrench and the hand."),
        Input("studs.thread_friction", "–", "Coefficient of friction in the nuts' threads; not given: by the lubrication."),
        Input("studs.nut_friction", "–", "Coefficient of friction under the nuts; not given: by the lubrication."),
        Input("studs.bearing_diameter", "mm", "Mean diameter of the face under a nut; not given: 1.35 × the thread's."),
        Input("studs.shank_diameter", "mm", "Diameter of the studs' free shank; not given: thread all along."),
        Input("studs.clamped_length", "mm", "Between the nut's seat and the thread in the metal; not given: height of what is clamped."),
        Input("studs.engaged_length", "mm", "Full thread of a stud in the metal it stands in."),
        Input("studs.tapped_shear_strength", "N/mm²", "Shear strength of that metal; not given: of cast aluminium."),
        Input("studs.modulus", "GPa", "Modulus of elasticity of the studs; not given: steel."),
        Input("studs.expansion", "µm/m/K", "Mean expansion of the studs; not given: steel."),
        Input("studs.joint_compliance_ratio", "–", "How far the clamped parts give under a stud's load, as a share of the stud."),
        Input("deck.clearance", "mm", "Reading on a dry fit: crown at TDC to the deck, positive with the piston below the deck."),
        Input("deck.at", "mm", "Radius at which the deck was read, where that is neither edge nor centre."),
        Input("deck.base_thickness", "mm", "Fitted base stack under the deck reading; not given: the stack now fitted."),
        Input("assembled.volume", "cc", "Clearance volume read through the plug hole at TDC."),
        Input("assembled.base_thickness", "mm", "Fitted base stack under that reading; not given: the stack now fitted."),
        Input("assembled.head_thickness", "mm", "Fitted head gaskets under that reading; not given: the stack now fitted."),
        Input("running.crank_speed", "rpm", "Crank speed."),
        Input("probe.crank_angle", "deg", "Crank angle at which is looked, after TDC; negative before it."),
        Input("probe.radius", "mm", "Distance from the bore's axis at which is looked."),
        Input("running.case_rise", "K", "How much hotter the crankcase is than when it was measured."),
        Input("running.cylinder_rise", "K", "How much hotter the cylinder is than when it was measured."),
        Input("running.crank_rise", "K", "How much hotter the crank is than when it was measured."),
        Input("running.rod_rise", "K", "How much hotter the rod is than when it was measured."),
        Input("running.piston_rise", "K", "How much hotter the piston is than when it was measured."),
        Input("running.ring_rise", "K", "How much hotter the top ring is than when it was measured."),
        Input("running.head_rise", "K", "How much hotter the head is than when it was measured."),
        Input("running.stud_rise", "K", "How much hotter the studs are than when their nuts were drawn up."),
        Input("running.gas_pressure", "bar", "Pressure in the cylinder at TDC while pulling, over that in the crankcase."),
        Input("running.peak_pressure", "bar", "Greatest pressure in the cylinder, over that around the engine; it lifts the head."),
        Input(
            "location.head_coaxiality",
            "mm",
            "Band, recess and bowl of the head against what locates it: diameter of the zone of coaxiality, as a dial shows in a turn.",
        ),
        Input("location.cylinder_coaxiality", "mm", "The cylinder's register against its bore: diameter of the zone of coaxiality."),
        Input("location.stud_position", "mm", "Studs off their places: diameter of the zone of position around the bore's axis."),
        Input("location.hole_position", "mm", "The head's stud holes off their places: diameter of the zone of position."),
        Input("location.pin_distance", "mm", "Distance between the two locating pins; not given: that of the fixture."),
        Input(
            "location.pin_hole_diameter", "mm", "Hole for a locating pin in the cylinder, as drilled; not given: as the fixture's drill."
        ),
        Input("location.head_pin_hole_diameter", "mm", "Hole for a locating pin in the head; not given: as in the cylinder."),
        Input("location.slot_length", "mm", "How much longer than wide the hole of the second pin is; not given: both are round."),
        Input("location.cylinder_pin_position", "mm", "The cylinder's pin holes off their places: diameter of the zone of position."),
        Input("location.head_pin_position", "mm", "The head's pin holes off their places: diameter of the zone of position."),
        Input("location.pin.diameter", "mm", "Nominal diameter of a locating pin."),
        Input("location.pin.length", "mm", "Length of a locating pin."),
        Input("location.pin.free_diameter", "mm", "Diameter of a locating pin before it is driven in; not given: by its standard."),
        Input("location.fixture.lip_diameter", "mm", "Lip of the fixture that centres it in the bore."),
        Input(
            "location.fixture.head_lip_diameter",
            "mm",
            "Lip of the fixture that centres it in the head's recess; not given: as that for the bore.",
        ),
        Input("location.fixture.head_ring_diameter", "mm", "Ring of the fixture that centres it over the head's spigot, instead of a lip."),
        Input("location.fixture.lip_coaxiality", "mm", "The fixture's two lips against each other: diameter of the zone of coaxiality."),
        Input("location.fixture.bush_diameter", "mm", "Bore of the fixture's drill bushes."),
        Input("location.fixture.drill_diameter", "mm", "Diameter of the drill."),
        Input("location.fixture.pin_distance", "mm", "Distance between the fixture's two bushes."),
        Input(
            "location.fixture.pin_angle",
            "deg",
            "Where the first bush lies, anticlockwise from above; the second lies opposite. Not given: 0.",
        ),
        Input(
            "location.fixture.hole_position",
            "mm",
            "The fixture's bushes off their places: diameter of the zone of position around its lip.",
        ),
        Input(
            "location.fixture.thickness",
            "mm",
            "Thickness of the fixture's plate with its bushes, from its seat to where the drill's stop lands.",
        ),
        Input("location.fixture.slots.N.angle", "deg", "Where the slot's inner end lies, anticlockwise from above; N counts from 0."),
        Input("location.fixture.slots.N.angle_to", "deg", "Where its outer end lies; not given: as the inner one, which makes it radial."),
        Input("location.fixture.slots.N.circle_from", "mm", "Stud circle whose stud stands in the slot's inner end."),
        Input("location.fixture.slots.N.circle_to", "mm", "Stud circle whose stud stands in the slot's outer end."),
        Input("location.fixture.slots.N.width", "mm", "Width of the slot."),
        Input("charge.ron", "–", "Research octane number of the fuel; not given: nominal, of its table."),
        Input("charge.mon", "–", "Motor octane number of the fuel, where it is to be judged by that."),
        Input("charge.equivalence", "–", "Fuel over air as a multiple of what just burns; more than 1 is rich."),
        Input("charge.residual", "%", "Burned gas of the cycle before in the charge, by mass."),
        Input("charge.pressure", "bar", "Pressure in the cylinder when the exhaust closes, absolute."),
        Input("charge.temperature", "K", "Mean temperature of the charge when the exhaust closes."),
        Input("burn.spark", "deg", "Spark, crank degrees before TDC."),
        Input("burn.delay", "deg", "From the spark to the start of the burn, crank degrees."),
        Input("burn.duration", "deg", "From start to end of the burn, crank degrees."),
        Input("burn.form", "–", "Wiebe's form factor: 0 burns at once fastest, 2 is usual."),
        Input("burn.completeness", "–", "Wiebe's factor a: 1 - exp(-a) of the charge is burned at the end."),
        Input("losses.heat_factor", "–", "Annand's factor a, or a multiple of Woschni's coefficient, as `relation` says."),
        Input("losses.wall_temperature", "K", "Mean temperature of the walls around the gas."),
        Input("losses.leak_area", "mm²", "Effective area of the leak past the rings, discharge coefficient in it."),
        Input("losses.crankcase_pressure", "bar", "Mean pressure in the crankcase while the cylinder is closed, absolute."),
        Input("cranking.crank_speed", "rpm", "Crank speed when turned over for a reading of pressure."),
        Input(
            "cranking.pressure", "bar", "Pressure in the cylinder at exhaust closing when turned over, absolute; a shut throttle lowers it."
        ),
        Input("cranking.temperature", "K", "Temperature of gas and walls when turned over."),
        Input("cranking.gauge_volume", "cc", "Volume of the gauge's hose before its valve."),
    )
}

STATUS: Final[dict[str, Status]] = {
    made.reason: made
    for made in (
        Status(0, "ok", "The parts go together."),
        Status(1, "not_a_size", "A size that must be positive is not, or an angle is out of its range."),
        Status(2, "rod_too_short", "The rod is shorter than throw plus offset; the crank cannot turn."),
        Status(3, "piston_wider_than_bore", "The piston's diameter exceeds the bore."),
        Status(4, "spigot_wider_than_bore", "The spigot does not enter the bore."),
        Status(5, "band_wider_than_head", "The squish band is wider than the spigot or recess it lies in."),
        Status(6, "band_inside_out", "The band's inner diameter is not smaller than its outer one, or not inside the bore."),
        Status(7, "opening_inside_bore", "A head gasket's opening is smaller than the bore."),
        Status(8, "offset_against_kind", "A spigot head's offset is above its gasket face, or a flush head's below it."),
        Status(
            9, "crown_beyond_hemisphere", "A crown rises, or a dish sinks, by more than its radius, or a dish is wider than the piston."
        ),
        Status(10, "contact", "Crown and head touch at TDC."),
        Status(11, "port_above_crown", "A port's roof lies above the crown at TDC: it never closes."),
        Status(12, "port_never_opens", "A port's roof lies below the crown at BDC: it never opens."),
        Status(13, "no_clearance_volume", "The volumes given leave no clearance volume."),
        Status(14, "wrong_role", "A head gasket in the base stack, or a base gasket under the head."),
        Status(15, "seal_mismatch", "Head gaskets under a head that seals by O-ring alone."),
        Status(16, "inlet_never_opens", "An inlet's floor lies above the skirt's lower edge at TDC: it never opens."),
        Status(17, "inlet_never_shuts", "An inlet's floor lies below the skirt's lower edge at BDC: it never shuts."),
        Status(
            18, "stack_disagrees", "A reading was taken with the gaskets now fitted, yet their thickness is stated twice, and not alike."
        ),
        Status(20, "profile_impossible", "The head's half-section crosses itself, or leaves what it may be."),
        Status(21, "profile_disagrees", "The head states a band or a chamber volume that its half-section does not have."),
        Status(30, "spark_before_closing", "The spark comes before the exhaust closes."),
        Status(31, "spark_after_opening", "The burn would start after the exhaust opens."),
        Status(32, "burned_before_spark", "The charge would burn before its spark, or is burned gas alone."),
        Status(
            33,
            "cycle_not_followed",
            "The parts go together, but the closed cycle cannot be followed: what it gives is nan, the rest stands.",
        ),
    )
}

#: The code that a row refused for a reason has in its status.
CODES: Final = {reason: entry.code for reason, entry in STATUS.items()}


#: Outputs that are worked out where none is named.
ALWAYS: Final[tuple[str, ...]] = tuple(made.name for made in OUTPUTS.values() if not made.when_named)


def output(name: str, known: Mapping[str, Output] = OUTPUTS) -> Output:
    """The entry for an output in the table, or in `known` (``top.outputs``: the table and what packs add to it).

    Raises `UnknownNameError` with the nearest names when there is none.

    >>> output("squish_edge").unit
    'mm'
    """
    try:
        return known[name]
    except KeyError:
        searched = "the outputs table" if known is OUTPUTS else "the outputs table and what packs add to it here"
        raise UnknownNameError(name, known, what="output", searched=searched) from None


def always(known: Mapping[str, Output]) -> tuple[str, ...]:
    """Names of those of `known` that are worked out where none is named.

    >>> "squish_edge" in always(OUTPUTS), "closure_total" in always(OUTPUTS)
    (True, False)
    """
    return ALWAYS if known is OUTPUTS else tuple(made.name for made in known.values() if not made.when_named)


def glossary(extra: Iterable[ExtraOutput] = ()) -> list[dict[str, str]]:
    """Every name with its unit and meaning, outputs first, as rows for a table.

    Parameters: `extra` outputs that packs add (``catalogue.extra_outputs``), which stand after the library's own, their pack named
    with their source.

    >>> import topend as te
    >>> te.glossary()[0]["name"]
    'piston_travel'
    """
    rows = [{"name": o.name, "role": "output", "unit": o.unit, "meaning": o.meaning, "source": o.source} for o in OUTPUTS.values()]
    for one in extra:
        o, pack = one.output, f"pack {one.pack}: " if one.pack else ""
        rows.append({"name": o.name, "role": "output", "unit": o.unit, "meaning": o.meaning, "source": f"{pack}{o.source}"})
    rows += [{"name": i.path, "role": "input", "unit": i.unit, "meaning": i.meaning, "source": ""} for i in INPUTS.values()]
    return rows
