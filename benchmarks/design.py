"""Heads designed as columns: how many a second, and how many times quicker than one by one.

Run it as it stands: ``python benchmarks/design.py``. Every figure is measured in the one run; every row of a sample is held against
`evaluate` of the head it gives, which is not timed.
"""

from __future__ import annotations

import statistics
import time

import numpy as np

import topend as te
from topend.units import quantity

ROWS = 20_000
TIMES = 5


def start() -> te.TopEnd:
    """An invented 50 cc build."""
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm")]),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
        head=te.SpigotHead(
            recess_offset="-1 mm",
            spigot_diameter="47.2 mm",
            profile=te.BowlProfile(
                band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33 mm", angle="9 deg"),
                plug=te.PlugSeat(thread_diameter="14 mm", thread_pitch="1.25 mm"),
            ),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.5 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", opening="48.5 mm")],
        deck=te.DeckReading(clearance="1.65 mm", base_thickness="0.5 mm"),
    )


def main() -> None:
    """Measure and print."""
    top = start()
    random = np.random.default_rng(20_261_125)
    inner = te.Quantity(random.uniform(30.0, 36.0, ROWS), "mm")
    print(f"{ROWS} designs of a bowl in each run, medians of {TIMES}\n")
    for target, low, high in (("compression_ratio", 11.0, 15.0), ("trapped_compression_ratio", 6.3, 8.5)):
        wanted = random.uniform(low, high, ROWS)
        gap = te.Quantity(random.uniform(0.8, 1.2, ROWS), "mm")
        arguments = {target: wanted, "squish_edge": gap, "columns": {"head.profile.band.inner_diameter": inner}}
        times = []
        for _ in range(TIMES):
            begun = time.perf_counter()
            made = te.design_columns(top, **arguments)
            times.append(time.perf_counter() - begun)
        alone = []
        worst = 0.0
        for row in range(0, ROWS, ROWS // 20):
            begun = time.perf_counter()
            one = te.design_head(
                top.replace({"head.profile.band.inner_diameter": inner[row]}),
                squish_edge=quantity(float(gap[row].m), "mm"),
                **{target: float(wanted[row])},
            )
            alone.append(time.perf_counter() - begun)
            found = one.solutions[0]
            worst = max(worst, abs(found.result.si[target] / wanted[row] - 1.0))
            assert abs(found.dimensions["head.profile.depth"].m - made.dimensions["head.profile.depth"].m[row]) < 1e-7
        took, single = statistics.median(times), statistics.median(alone)
        print(f"{target}: {int((made.status == 0).sum())} solved")
        print(f"  as columns   {took * 1e3:8.1f} ms   {ROWS / took:10.0f} designs a second")
        print(f"  one by one   {single * 1e3:8.1f} ms each, every solution looked for; {single * ROWS / took:.0f} times as long")
        print(f"  off target by at most {worst:.1e} of it, by evaluate of the heads made one by one\n")


if __name__ == "__main__":
    main()
