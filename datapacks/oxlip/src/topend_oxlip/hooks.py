"""A parametric series of drop-in heads, and what else a pack's code may add. Invented: maker, series and figures.

topend imports this module when something of it is first asked for, and not to list what there is.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Any

from topend.packs import BuiltPart, ExtraFinding, ExtraOutput, FileReader, Finding, Output, hookimpl
from topend.parts import SpigotHead, SquishBand, StudPattern

#: Bore, inner diameter of the band, depth of the bowl [mm], and the studs of the barrels the series is for.
SIZES = {
    "435": (43.5, 30.4, 10.2, StudPattern(count=4, circle_diameter="58.0 mm", diameter="6.5 mm")),
    "480": (48.0, 33.5, 12.2, StudPattern(count=5, circle_diameter="66.0 mm", diameter="7.5 mm")),
}
DROPS_MM = (0.8, 1.0, 1.2)
ANGLES_DEG = (8, 9, 10)
SPIGOT_PLAY_MM = 0.3
#: Under this the maker fears that the spigot touches when hot. Invented.
LEAST_SIDE_GAP_MM = 0.1


def chamber_volume_cc(*, outer_mm: float, inner_mm: float, angle_deg: float, bowl_mm: float) -> float:
    """Volume above the plane through the band's outer edge: the frustum under the band and a spherical cap as bowl."""
    outer, inner = outer_mm / 2.0, inner_mm / 2.0
    rise = (outer - inner) * math.tan(math.radians(angle_deg))
    frustum = math.pi * rise / 3.0 * (outer**2 + outer * inner + inner**2)
    bowl = math.pi * bowl_mm / 6.0 * (3.0 * inner**2 + bowl_mm**2)
    return (frustum + bowl) / 1000.0


def head(size: str, drop_mm: float, angle_deg: float) -> SpigotHead:
    """One head of the series."""
    bore, inner, bowl, studs = SIZES[size]
    outer = bore - SPIGOT_PLAY_MM
    volume = chamber_volume_cc(outer_mm=outer, inner_mm=inner, angle_deg=angle_deg, bowl_mm=bowl)
    return SpigotHead(
        recess_offset=f"-{drop_mm} mm ± 0.02 mm",
        spigot_diameter=f"{outer:.1f} mm",
        chamber_volume=f"{volume:.2f} cc ± 0.05 cc",
        band=SquishBand(outer_diameter=f"{outer:.1f} mm", inner_diameter=f"{inner} mm", angle=f"{angle_deg} deg"),
        studs=studs,
        basis="derived",
        source="invented series: volume from its own sizes by geometry",
    )


@hookimpl
def topend_parts() -> Iterator[BuiltPart]:
    """The series; pack.toml lists the same names."""
    for size in SIZES:
        for drop in DROPS_MM:
            for angle in ANGLES_DEG:
                yield BuiltPart(f"o{size}-d{round(drop * 10):02d}-a{angle}", head(size, drop, angle))


@hookimpl
def topend_outputs() -> Iterator[ExtraOutput]:
    """The gap between spigot and bore on one side, spigot in the middle."""
    made = Output("spigot_side_gap", "mm", "Gap between spigot and bore on one side, spigot in the middle.", "geometry")
    yield ExtraOutput(made, needs=("cylinder.bore", "head.spigot_diameter"), work=lambda bore, spigot: (bore - spigot) / 2.0)


@hookimpl
def topend_findings() -> Iterator[ExtraFinding]:
    """A warning of this maker's own."""
    yield ExtraFinding("spigot_side_gap_small", _side_gap)


def _side_gap(result: Any) -> Iterable[Finding]:
    if "spigot_side_gap" not in result:
        return
    gap = result.shown("spigot_side_gap")
    if gap < LEAST_SIDE_GAP_MM:
        yield Finding(
            code="spigot_side_gap_small",
            severity="warning",
            message=f"the spigot leaves {gap:.3f} mm on a side; this invented maker wants {LEAST_SIDE_GAP_MM} mm",
            do="a spigot turned down, or a head for this bore",
            standing="memory",
            figure=gap,
            limit=LEAST_SIDE_GAP_MM,
            unit="mm",
        )


@hookimpl
def topend_readers() -> Iterator[FileReader]:
    """Bench sheets: a gasket a line, as name, role, nominal and fitted thickness in mm."""
    yield FileReader(".oxbench", "bench sheets of gaskets", _bench_sheet)


def _bench_sheet(text: str) -> dict[str, dict[str, dict[str, Any]]]:
    made: dict[str, dict[str, Any]] = {}
    for line in text.splitlines():
        if line.strip():
            name, role, nominal, fitted = line.split()
            made[name] = {"role": role, "thickness": f"{nominal} mm", "fitted_thickness": f"{fitted} mm", "basis": "measured"}
    return {"gasket": made}
