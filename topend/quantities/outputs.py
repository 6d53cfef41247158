"""The table of every output: name, unit, meaning, source."""

from __future__ import annotations

from typing import Final

from topend.quantities.records import Output

__all__ = ["ALWAYS", "OUTPUTS"]

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

#: Outputs that are worked out where none is named.
ALWAYS: Final[tuple[str, ...]] = tuple(made.name for made in OUTPUTS.values() if not made.when_named)
