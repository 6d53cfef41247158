"""A range of heads planned: 5 families, 40 variants, 30 gasket kinds, 5 000 builds, to a proven gap; times and their shares.

    python benchmarks/plan_range.py [seed]

The scenario is invented. Times are of this run; what is asked is the whole within 60 s on two cores and a gap below 1 %.
"""

from __future__ import annotations

import functools
import sys
import time

import topend as te
from topend.solve import Family, RangePlan, plan_range

#: Bore, stroke, rod [mm] and the middle of the deck readings of each invented family.
FAMILIES = (
    ("alder 50", 40.0, 39.7, 80.0, 1.30),
    ("birch 65", 44.0, 42.5, 85.0, 1.35),
    ("cedar 80", 48.0, 44.0, 90.0, 1.45),
    ("elder 100", 52.0, 47.0, 96.0, 1.50),
    ("hazel 125", 54.0, 54.5, 110.0, 1.60),
)
#: Nominal thickness [mm] of the gaskets offered: 16 base, 14 head.
BASE = (0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.60, 0.70, 0.80, 0.90, 1.00, 1.20, 1.50)
HEAD = (0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.70, 0.80, 1.00)


def offering() -> list[te.Gasket]:
    """Thirty kinds of gasket, aluminium: nominal ± 0.02 mm as fitted."""
    kinds = [te.Gasket(role="base", thickness=f"{size} mm", material="aluminium") for size in BASE]
    return kinds + [te.Gasket(role="head", thickness=f"{size} mm", opening="56 mm", material="aluminium") for size in HEAD]


def family(name: str, bore: float, stroke: float, rod: float, deck: float, spread: float) -> Family:
    """A family with its eight variants: how far the band drops in, and a chamber that gives the ratio there."""
    top = te.TopEnd(
        crank=te.Crank(stroke=f"{stroke} mm ± 0.05 mm", rod_length=f"{rod} mm"),
        cylinder=te.Cylinder(
            bore=f"{bore} mm",
            ports=[te.Port(kind="exhaust", top=f"{deck + 0.525 * stroke:.2f} mm ± 0.10 mm")],
        ),
        piston=te.Piston(crown=te.SphereCrown(rise="2.0 mm")),
        deck=te.DeckReading(clearance=f"{deck} mm ± {spread} mm", base_thickness="0.50 mm"),
        running=te.Running(crank_speed="10500 rpm"),
    )
    clearance = bore**2 * 0.785398 * stroke / 1000.0 / 11.5
    heads = []
    for step in range(8):
        drop = 0.40 + 0.20 * step
        # the chamber that leaves the ratio with a gap of 0.9 mm under this drop-in: what lies below the band less the crown
        below = bore**2 * 0.785398 * (0.9 + drop) / 1000.0 - (bore - 0.4) ** 2 * 0.785398 * drop / 1000.0
        cap = 3.14159265 * 2.0 * (3.0 * (bore / 2.0) ** 2 + 4.0) / 6.0 / 1000.0
        heads.append(
            te.SpigotHead(
                name=f"{name} -{drop:.1f}",
                recess_offset=f"-{drop:.2f} mm",
                spigot_diameter=f"{bore - 0.4:.1f} mm",
                chamber_volume=f"{clearance - below + cap:.2f} cc ± 0.05 cc",
                band=te.SquishBand(outer_diameter=f"{bore - 0.4:.1f} mm", inner_diameter=f"{0.7 * bore:.1f} mm", angle="9 deg"),
            )
        )
    return Family(name, top, heads)


WINDOW = {"squish_min": ("0.85 mm", "0.10 mm"), "compression_ratio": (12.5, 0.6), "exhaust_duration": ("188 deg", "5 deg")}


def one_head(spread: float, *, builds: int = 5000, seed: int = 1) -> RangePlan:
    """Decks that differ by ± `spread` mm: one head a family will do, the gaskets have to follow."""
    families = [family(*sizes, spread) for sizes in FAMILIES]
    return plan_range(families, offering(), builds=builds, seed=seed, **WINDOW)


def two_heads(*, builds: int = 5000, seed: int = 1) -> RangePlan:
    """Heads that seal by O-ring, and roofs that differ by ± 0.4 mm where the timing must be held: two heads a family."""
    made = []
    for sizes in FAMILIES:
        plain = family(*sizes, 0.3)
        roof = plain.top.cylinder.ports[0].top.m_as("mm")
        heads = [head.replace(seal="o-ring", recess_offset=f"{head.recess_offset.m_as('mm') + 0.3:.2f} mm") for head in plain.heads]
        made.append(Family(plain.name, plain.top.replace({"cylinder.ports.0.top": f"{roof:.2f} mm ± 0.40 mm"}), heads))
    window = {**WINDOW, "compression_ratio": (12.5, 1.3), "exhaust_duration": ("188 deg", "1.5 deg")}
    return plan_range(made, offering(), builds=builds, seed=seed, base_count=(0, 2), **window)


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    questions = {f"decks ± {spread} mm": functools.partial(one_head, spread) for spread in (0.20, 0.35, 0.50)}
    for what, asked in {**questions, "two heads a family": two_heads}.items():
        began = time.perf_counter()
        made = asked(seed=seed)
        took = time.perf_counter() - began
        print(f"{what}: {took:.1f} s of 60 s allowed ({took / 60.0:.0%}), gap {made.gap:.2%}")
        print(made)
        print()


if __name__ == "__main__":
    main()
