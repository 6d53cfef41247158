"""Volumes of the top end at TDC, and the ratios that follow.

The datum of each argument is that of docs/datum-and-signs.md: deck clearance c positive with the piston below the deck, recess
offset o positive with the band's outer edge up in the head. All lengths [m], areas [m²], volumes [m³].

Arguments mean the same in every kernel here, and broadcast together. Areas, each of a whole circle and more than 0:
`bore_area`, `piston_area` (at most the bore's), `recess_area` and `spigot_area` of the head. Lengths: `diameter`;
`deck_clearance` and `recess_offset` as above; `piston_travel` between BDC and TDC; `exhaust_drop`, the piston's drop when the
exhaust closes, and `exhaust_top`, that port's upper edge below the deck; `base_thickness` and `base_thickness_then`, the
fitted base stack now and under a reading, at least 0; `top_land`, crown edge down to the top ring. Volumes:
`chamber_volume` above the band-edge plane and `face_volume` above the gasket face, plug as fitted; `gasket_volume` (and
`gasket_volume_then` under a reading) inside the head gaskets' openings; `free_volume` between crown-edge plane and chamber;
`crown_volume` above the crown's edge plane, negative for a dish; `swept_volume`; `clearance_volume`; `assembled_volume` as read
through the plug hole. Ratios [-]: `compression_ratio` and `trapped_compression_ratio`, more than 1.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from topend.physics.kernel import kernel, only

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "assembled_clearance_volume",
    "band_volume_from_face_volume",
    "circle_area",
    "clearance_volume",
    "clearance_volume_from_compression_ratio",
    "compression_ratio",
    "crevice_volume",
    "deck_clearance_change",
    "deck_clearance_from_trapped_ratio",
    "free_volume",
    "swept_volume",
    "trapped_compression_ratio",
]


@kernel
def circle_area(*, diameter: Column) -> Column:
    """Area of a circle [m²] from its diameter [m].

    >>> round(float(circle_area(diameter=0.054)) * 1e6, 4)
    2290.221
    """
    return np.pi / 4.0 * diameter**2


@kernel
def swept_volume(*, bore_area: Column, piston_travel: Column) -> Column:
    """Swept volume [m³]: bore area times piston travel.

    >>> round(float(swept_volume(bore_area=circle_area(diameter=0.054), piston_travel=0.0545)) * 1e6, 4)
    124.817
    """
    return bore_area * piston_travel


@kernel
def free_volume(
    *,
    deck_clearance: Column,
    recess_offset: Column,
    gasket_volume: Column,
    bore_area: Column,
    piston_area: Column,
    recess_area: Column,
    spigot_area: Column,
) -> Column:
    """Free volume between crown-edge plane and chamber [m³], the crown's own volume not yet taken off.

    Integral over z of free area, from the lower of crown-edge plane and deck up to the higher of band-edge plane and
    gasket face: bore area · c⁺ + openings · head gaskets (`gasket_volume`) + recess area · o⁺ - piston area · c⁻ -
    spigot area · o⁻. Valid while the edge gap is positive.

    >>> a = circle_area(diameter=0.054)
    >>> v = free_volume(deck_clearance=0.0008, recess_offset=0.0, gasket_volume=0.0002 * a, bore_area=a, piston_area=a,
    ...                 recess_area=a, spigot_area=a)
    >>> round(float(v) * 1e6, 7)
    2.290221
    """
    return (
        bore_area * np.maximum(deck_clearance, 0.0)
        + gasket_volume
        + recess_area * np.maximum(recess_offset, 0.0)
        + piston_area * np.minimum(deck_clearance, 0.0)
        + spigot_area * np.minimum(recess_offset, 0.0)
    )


@kernel
def band_volume_from_face_volume(*, face_volume: Column, recess_area: Column, recess_offset: Column) -> Column:
    """Chamber volume above the band-edge plane [m³] from one read with a plate on the gasket face of a recessed head.

    V_band = V_face - recess area · o; needs o ≥ 0 (a plate does not lie on the face of a spigot head), NaN elsewhere.

    >>> round(float(band_volume_from_face_volume(face_volume=8e-6, recess_area=2e-3, recess_offset=0.5e-3)) * 1e6, 6)
    7.0
    """
    return np.where(recess_offset >= 0.0, face_volume - recess_area * recess_offset, np.nan)


@kernel
def clearance_volume(*, chamber_volume: Column, free_volume: Column, crown_volume: Column) -> Column:
    """Clearance volume [m³]: chamber above the band-edge plane + free volume below it - crown above its edge plane.

    >>> round(float(clearance_volume(chamber_volume=6.4e-6, free_volume=1.741e-6, crown_volume=1.963e-6)) * 1e6, 6)
    6.178
    """
    return chamber_volume + free_volume - crown_volume


@kernel
def assembled_clearance_volume(
    *,
    assembled_volume: Column,
    bore_area: Column,
    base_thickness: Column,
    base_thickness_then: Column,
    gasket_volume: Column,
    gasket_volume_then: Column,
) -> Column:
    """Clearance volume [m³] from one read through the plug hole with another stack: + bore area·Δbase + opening area·Δhead.

    >>> v = assembled_clearance_volume(assembled_volume=11e-6, bore_area=2e-3, base_thickness=0.5e-3,
    ...                                base_thickness_then=0.3e-3, gasket_volume=0.0, gasket_volume_then=0.0)
    >>> round(float(v) * 1e6, 6)
    11.4
    """
    return assembled_volume + bore_area * (base_thickness - base_thickness_then) + (gasket_volume - gasket_volume_then)


@kernel
def crevice_volume(*, bore_area: Column, piston_area: Column, top_land: Column) -> Column:
    """Volume of the top-land crevice [m³]: (bore area - piston area) · land height.

    >>> a, p = circle_area(diameter=0.054), circle_area(diameter=0.0536)
    >>> round(float(crevice_volume(bore_area=a, piston_area=p, top_land=0.003)) * 1e9, 3)
    101.411
    """
    return (bore_area - piston_area) * top_land


@kernel
def compression_ratio(*, swept_volume: Column, clearance_volume: Column) -> Column:
    """Compression ratio: (swept + clearance) / clearance. NaN unless the clearance volume is positive.

    >>> round(float(compression_ratio(swept_volume=250.0, clearance_volume=28.0)), 3)
    9.929
    """
    return (swept_volume + clearance_volume) / only(clearance_volume, clearance_volume > 0.0)


@kernel
def trapped_compression_ratio(*, bore_area: Column, exhaust_drop: Column, clearance_volume: Column) -> Column:
    """Compression ratio over the travel left when the exhaust closes, `exhaust_drop` [m] below TDC.

    >>> a = circle_area(diameter=0.054)
    >>> round(float(trapped_compression_ratio(bore_area=a, exhaust_drop=0.030, clearance_volume=11.45110522e-6)), 8)
    7.0
    """
    trapped = bore_area * only(exhaust_drop, exhaust_drop > 0.0)
    return compression_ratio.raw(swept_volume=trapped, clearance_volume=clearance_volume)


@kernel
def clearance_volume_from_compression_ratio(*, swept_volume: Column, compression_ratio: Column) -> Column:
    """Clearance volume [m³] that gives a compression ratio: swept / (ratio - 1). Infinite for a ratio of 1, NaN below.

    >>> round(float(clearance_volume_from_compression_ratio(swept_volume=109.0, compression_ratio=11.9)), 6)
    10.0
    """
    return swept_volume / np.where(compression_ratio >= 1.0, compression_ratio - 1.0, np.nan)


@kernel
def deck_clearance_change(*, volume_change: Column, deck_clearance: Column, bore_area: Column, piston_area: Column) -> Column:
    """Change of deck clearance [m] that changes the clearance volume by `volume_change` [m³], starting at `deck_clearance` [m].

    Below the deck a metre is worth the bore area, above it the piston area (`free_volume`).

    >>> float(deck_clearance_change(volume_change=2e-6, deck_clearance=0.0, bore_area=2e-3, piston_area=1e-3))
    0.001
    """
    # volume between crown edge and deck, counted from the deck: its inverse is monotone and bends at 0 alone
    start = deck_clearance * np.where(deck_clearance > 0.0, bore_area, piston_area)
    end = start + volume_change
    return end / np.where(end > 0.0, bore_area, piston_area) - deck_clearance


@kernel
def deck_clearance_from_trapped_ratio(
    *, trapped_compression_ratio: Column, volume_at_deck: Column, exhaust_top: Column, bore_area: Column, piston_area: Column
) -> Column:
    """Deck clearance [m] that gives a trapped compression ratio R.

    Parameters: `volume_at_deck` V₀, the clearance volume with the crown edge at the deck [m³]; `exhaust_top` [m]. From
    (R - 1)(V₀ + A c) = A_bore (top - c), with A the bore area below the deck and the piston area above it.

    >>> c = deck_clearance_from_trapped_ratio(trapped_compression_ratio=7.0, volume_at_deck=9e-6, exhaust_top=0.03,
    ...                                       bore_area=2e-3, piston_area=2e-3)
    >>> round(float((2e-3 * (0.03 - c) + 9e-6 + 2e-3 * c) / (9e-6 + 2e-3 * c)), 9)
    7.0
    """
    gain = trapped_compression_ratio - 1.0
    left = bore_area * exhaust_top - gain * volume_at_deck
    return left / (bore_area + gain * np.where(left > 0.0, bore_area, piston_area))
