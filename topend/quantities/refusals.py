"""The table of reasons why a row cannot be a top end, with the code that studies store."""

from __future__ import annotations

from typing import Final

from topend.quantities.records import Status

__all__ = ["CODES", "STATUS"]

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
