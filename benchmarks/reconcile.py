"""How fast builds are reconciled: a thousand at once against one after another by a general least-squares solver.

    python benchmarks/reconcile.py

The same dimensions, readings and weights go to `scipy.optimize.least_squares`, build by build, with the library's own evaluation as the
model; both must give the same dimensions. Invented parts.
"""

from __future__ import annotations

import math
import time

import numpy as np
from scipy.optimize import least_squares

import topend as te
from topend.measure.build import Build, Seen
from topend.measure.reconcile import adjust

BUILDS = 1000
BY_HAND = 20
READ = (
    ("deck.clearance", 0.02e-3),
    ("clearance_volume", 0.06e-6),
    ("head.chamber_volume", 0.05e-6),
    ("crown_volume", 0.06e-6),
    ("exhaust_duration", math.radians(0.6)),
    ("transfer_duration", math.radians(0.6)),
    ("squish_edge", 0.02e-3),
)
OUTPUTS = ("squish_min", "clearance_volume", "compression_ratio")


def top() -> te.TopEnd:
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm ± 0.1 mm"),
        cylinder=te.Cylinder(
            bore="47.6 mm ± 0.01 mm",
            ports=[te.Port(kind="exhaust", top="22.3 mm ± 0.2 mm"), te.Port(kind="transfer", top="31.5 mm ± 0.2 mm")],
        ),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm ± 0.05 mm"), diameter="47.5 mm ± 0.01 mm"),
        head=te.SpigotHead(
            recess_offset="-1.0 mm ± 0.03 mm",
            spigot_diameter="47.2 mm ± 0.01 mm",
            chamber_volume="6.4 cc ± 0.3 cc",
            band=te.SquishBand(outer_diameter="47.2 mm ± 0.01 mm", inner_diameter="33.0 mm ± 0.1 mm", angle="9 deg ± 0.5 deg"),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.48 mm ± 0.02 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.02 mm", opening="48.5 mm ± 0.1 mm")],
        deck=te.DeckReading(clearance="1.65 mm ± 0.1 mm", base_thickness="0.48 mm ± 0.01 mm"),
    )


def main() -> None:
    build = Build(top(), [Seen(name) for name, _ in READ] + [Seen(name) for name in OUTPUTS])
    random = np.random.default_rng(1)
    middle, spread = (np.array([getattr(one, name) for one in build.dimensions]) for name in ("place", "u"))
    u = np.array([one for _, one in READ])
    truth = middle + spread * random.standard_normal((BUILDS, len(spread)))
    readings = build.evaluate(truth)[:, : len(u)] + u * random.standard_normal((BUILDS, len(u)))
    adjust(build, readings[:10], np.diag(u**2))

    start = time.perf_counter()
    made = adjust(build, readings, np.diag(u**2))
    ours = time.perf_counter() - start

    start = time.perf_counter()
    worst = 0.0
    for row in range(BY_HAND):

        def left(x: np.ndarray, row: int = row) -> np.ndarray:
            seen = build.evaluate((middle + x * spread)[None])[0, : len(u)]
            return np.concatenate([(readings[row] - seen) / u, -x])

        found = least_squares(left, np.zeros(len(middle)), method="lm")
        worst = max(worst, float(np.abs(found.x - (made.dimensions[row] - middle) / spread).max()))
    theirs = (time.perf_counter() - start) / BY_HAND * BUILDS

    print(f"{BUILDS} builds, {len(middle)} dimensions, {len(u)} readings each")
    print(f"all at once               {ours:7.3f} s")
    print(f"one by one, scipy         {theirs:7.3f} s (from {BY_HAND})")
    print(f"ratio                     {theirs / ours:7.1f}")
    print(f"greatest difference       {worst:.1e} of a dimension's u")


if __name__ == "__main__":
    main()
