"""Draws of a location chain: 10⁶ assemblies of a head on two pins drilled through a plate, sizes and places all drawn.

    python benchmarks/location.py

Asked: under 0.5 s on one thread. Beside it, in the same run: the same chain assembly by assembly in plain Python, on fewer of them, and
what of the time is drawing random numbers alone. It fails (1) where the two ways do not agree.
"""

from __future__ import annotations

import cmath
import math
import random
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np

import topend as te
from topend.locating import drawn_eccentricity

DRAWS = 1_000_000
SOME = 40_000
REPEATS = 5
ASKED = 0.5


def located() -> te.TopEnd:
    """An invented 40 mm engine: recessed head, plate with lips on both faces, slotted pins."""
    return te.TopEnd(
        cylinder=te.Cylinder(bore="40 mm H7"),
        head=te.FlushHead(recess_offset="1 mm", recess_diameter="40.5 mm ± 0.02 mm"),
        location=te.PinLocation(
            pin=te.LocatingPin(standard="ISO 8752", diameter="4 mm"),
            pin_hole_diameter="4.03 mm ± 0.02 mm",
            head_coaxiality="0.01 mm ± 0.01 mm",
            fixture=te.DrillingFixture(
                lip_diameter="39.97 mm ± 0.01 mm",
                head_lip_diameter="40.45 mm ± 0.01 mm",
                lips="both",
                lip_coaxiality="0.02 mm ± 0.01 mm",
                bush_diameter="4.02 mm ± 0.01 mm",
                drill_diameter="3.98 mm ± 0.01 mm",
                pin_distance="57 mm",
            ),
        ),
    )


def one_by_one(draws: int) -> list[float]:
    """The same chain, an assembly at a time."""
    rng = random.Random(1)

    def size(value: float, span: float) -> float:
        return rng.uniform(value - span, value + span)

    def disc(radius: float) -> complex:
        return cmath.rect(radius * math.sqrt(rng.random()), 2.0 * math.pi * rng.random())

    made = []
    for _ in range(draws):
        bore, recess = size(40.0125, 0.0125), size(40.5, 0.02)
        lip, head_lip = size(39.97, 0.01), size(40.45, 0.01)
        bush, drill = size(4.02, 0.01), size(3.98, 0.01)
        off = disc((bore - lip) / 2) + disc((recess - head_lip) / 2) + disc(size(0.02, 0.01) / 2) + disc(size(0.01, 0.01) / 2)
        for _part in ("cylinder", "head"):
            off += (disc((bush - drill) / 2) + disc((bush - drill) / 2)) / 2
        made.append(abs(off))
    return made


def timed(work: Callable[[], Any]) -> float:
    took = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        took.append(time.perf_counter() - start)
    return statistics.median(took)


def main() -> int:
    top = located()
    ours = np.quantile(drawn_eccentricity(top, draws=DRAWS), 0.95) * 1e3
    theirs = statistics.quantiles(one_by_one(SOME), n=20)[-1]
    print(f"95 % of the draws lie within {ours:.4f} mm; assembly by assembly {theirs:.4f} mm")
    if abs(ours / theirs - 1.0) > 0.01:
        print("the two ways do not agree")
        return 1
    columns = timed(lambda: drawn_eccentricity(top, draws=DRAWS))
    plain = timed(lambda: one_by_one(SOME)) / SOME * DRAWS
    generator = np.random.Generator(np.random.SFC64(1))

    def numbers() -> None:
        # ten sizes; a share and a direction for each of eight points in discs
        for _ in range(DRAWS // 16_384):
            for _ in range(18):
                generator.random(16_384)
            for _ in range(8):
                generator.integers(0, 65_536, 16_384, dtype=np.uint16)

    alone = timed(numbers)
    print(f"{DRAWS:,} draws: {columns:.3f} s in columns (asked: under {ASKED} s), {plain:.1f} s assembly by assembly:")
    print(f"{plain / columns:.0f} times as fast; drawing the numbers alone takes {alone:.3f} s, {100 * alone / columns:.0f} % of it")
    return 0


if __name__ == "__main__":
    sys.exit(main())
