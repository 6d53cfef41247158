"""The codes of what topend itself may find; docs/findings.md says when each is said. No pack may find under one of them."""

from __future__ import annotations

from typing import Final

__all__ = ["FINDINGS"]

# fmt: off
FINDINGS: Final = frozenset({
    "gap_small", "least_gap_unknown", "touches_at_speed", "may_touch_at_speed", "size_unlikely", "ratio_unlikely",
    "crank_speed_unusual", "gap_wide", "least_gap_inside", "band_against_crown", "band_narrow", "band_wide", "squish_slow",
    "squish_fast", "ratio_high_for_fuel", "many_gaskets", "gasket_hangs", "gasket_short_of_windows", "passages_stepped",
    "port_wide_for_ring", "side_room_small", "may_touch_at_side", "touches_at_side", "off_centre_unknown", "off_centre",
    "gap_small_off_centre", "spigot_against_location", "pin_loose", "pin_held_by_neither", "pin_hole_off", "pins_over_constrain",
    "ring_near_deck", "skirt_meets_webs", "exhaust_open_below_skirt", "plug_near_crown", "skirt_binds_hot", "ring_butts_hot",
    "spigot_binds_hot", "o_ring_loose", "o_ring_crushed", "o_ring_overfills", "o_ring_stretched", "o_ring_slack", "o_ring_moves",
    "o_ring_buckles", "o_ring_extrudes", "o_ring_hot", "o_ring_unknown", "o_ring_unused", "head_land_narrow", "base_land_narrow",
    "groove_land_narrow", "head_lifts", "clamp_lacking", "stud_overstressed", "stud_overstressed_hot", "thread_strips",
    "thread_short", "ring_gap_small", "ring_gap_wide", "ring_end_at_window", "skirt_unmatched", "timing_moved", "knocks",
    "may_knock", "peak_early", "end_gas_beyond_model", "octane_beyond_delay", "cycle_not_followed",
})
# fmt: on
