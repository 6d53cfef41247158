"""Uncertainty on evaluated rows: Monte Carlo against drawing its numbers, first order against the `uncertainties` package.

Run: ``python benchmarks/uncertainty.py`` (needs the extras `test` and `bench`). Medians of five in one run, the ways taken in
turn. Asked: Monte Carlo with 10⁶ draws within 1.7 times the time of drawing its numbers (a figure found where they were normals,
which cost four to five times what rectangles do; both are shown); first order at least 200 times
faster a row than the package on the same formula.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from uncertainties import ufloat

import topend as te
from topend.evaluation import Evaluator
from topend.physics import wiring

DRAWS = 1_000_000


def sample() -> te.TopEnd:
    """An invented build in which twelve inputs carry limits."""
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm ± 0.05 mm"),
        cylinder=te.Cylinder(bore="47.6 mm ± 0.01 mm", ports=[te.Port(kind="exhaust", top="22.3 mm ± 0.1 mm")]),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm ± 0.05 mm"), diameter="47.55 mm"),
        head=te.SpigotHead(
            recess_offset="-1.0 mm ± 0.02 mm",
            spigot_diameter="47.2 mm",
            chamber_volume="6.4 cc ± 0.05 cc",
            band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm ± 0.1 mm", angle="9 deg ± 0.25 deg"),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm ± 0.02 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.02 mm", opening="48.5 mm")],
        deck=te.DeckReading(clearance="1.65 mm ± 0.03 mm", base_thickness="0.50 mm"),
    )


def timed(ways: dict[str, Callable[[], Any]], times: int = 5) -> dict[str, float]:
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for way in ways.values():
        way()
    for _ in range(times):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            taken[name].append(time.perf_counter() - start)
    return {name: statistics.median(measured) for name, measured in taken.items()}


def main() -> int:
    top = sample()
    inputs = sum(1 for quantity in top.stated() if quantity[1].stated_limits is not None)

    def draw() -> None:
        generator = np.random.default_rng(1)
        for _ in range(8):
            generator.random((inputs, DRAWS // 8))

    def normals() -> None:
        generator = np.random.default_rng(1)
        for _ in range(8):
            generator.standard_normal((inputs, DRAWS // 8))

    def carlo(outputs: tuple[str, ...], threads: int = 1) -> Callable[[], Any]:
        return lambda: te.uncertainty(top, outputs, method="monte-carlo", draws=DRAWS, threads=threads)

    few, more = ("squish_edge",), ("squish_min", "compression_ratio", "exhaust_duration")
    took = timed(
        {
            "drawing, rectangular": draw,
            "drawing, normal": normals,
            "Monte Carlo, one output": carlo(few),
            "Monte Carlo, three outputs": carlo(more),
            "Monte Carlo, three outputs, two threads": carlo(more, 2),
        }
    )
    print(f"{DRAWS:,} draws of {inputs} inputs; medians of five\n")
    for name, seconds in took.items():
        of_drawn, of_normals = seconds / took["drawing, rectangular"], seconds / took["drawing, normal"]
        print(f"{name:42s} {seconds * 1e3:8.1f} ms   {of_drawn:6.2f} of drawing, {of_normals:.2f} of normals")

    # first order, many rows: the same formula through the package, row by row
    rows = 20_000
    generator = np.random.default_rng(2)
    structure, values = top.row.structure, top.row.values
    decks = values["deck.clearance"] + 1e-4 * generator.uniform(-1, 1, rows)
    moved = [path for path, _ in top.stated() if path in top.row.limits]
    planned = wiring.plan(structure, ("compression_ratio",))
    used = {name for step in planned.steps for name in step.takes}
    moved = [path for path in moved if path in used]

    count = 2 * len(moved) + 1
    steps = {path: (top.row.limits[path].high - top.row.limits[path].low) / 2 / math.sqrt(3) for path in moved}
    at_a_time = 16_000 // count

    def first_order() -> Any:
        # 2n + 1 rows for each row, a cacheful at a time, the operations recorded once
        evaluator = Evaluator(structure, ("compression_ratio",), judge=False)
        recorded = evaluator.recorded(block(decks[:1]))
        value, u = np.empty(rows), np.empty(rows)
        made, code = np.empty(at_a_time * count), np.zeros(at_a_time * count, dtype=np.int8)
        for start in range(0, rows, at_a_time):
            part = slice(start, min(start + at_a_time, rows))
            length = (part.stop - start) * count
            recorded.run(block(decks[part]), {"compression_ratio": made[:length]}, code[:length])
            ratio = made[:length].reshape(-1, count)
            value[part] = ratio[:, 0]
            u[part] = np.sqrt((((ratio[:, 2::2] - ratio[:, 1::2]) / 2) ** 2).sum(axis=1))
        return value, u

    def block(some_decks: Any) -> Any:
        columns: dict[str, Any] = {path: np.array([value]) for path, value in values.items()}
        columns["deck.clearance"] = np.repeat(some_decks, count)
        for index, path in enumerate(moved):
            column = np.array(np.broadcast_to(columns[path], (len(some_decks) * count,)))
            column[2 * index + 1 :: count] -= steps[path]
            column[2 * index + 2 :: count] += steps[path]
            columns[path] = column
        return columns

    some = 300

    def package() -> Any:
        def u(path: str) -> float:
            limits = top.row.limits[path]
            return (limits.high - limits.low) / 2 / math.sqrt(3)

        made = []
        for deck in decks[:some]:
            stroke, bore = ufloat(values["crank.stroke"], u("crank.stroke")), ufloat(values["cylinder.bore"], u("cylinder.bore"))
            c = ufloat(deck, u("deck.clearance")) + (
                ufloat(values["base_gaskets.0.fitted_thickness"], u("base_gaskets.0.fitted_thickness")) - values["deck.base_thickness"]
            )
            gasket = ufloat(values["head_gaskets.0.fitted_thickness"], u("head_gaskets.0.fitted_thickness"))
            rise = ufloat(values["piston.crown.rise"], u("piston.crown.rise"))
            offset = ufloat(values["head.recess_offset"], u("head.recess_offset"))
            chamber = ufloat(values["head.chamber_volume"], u("head.chamber_volume"))
            area = math.pi / 4 * bore * bore
            crown = math.pi / 6 * rise * (3 * (values["piston.diameter"] / 2) ** 2 + rise * rise)
            spigot = math.pi / 4 * values["head.spigot_diameter"] ** 2
            opening = math.pi / 4 * values["head_gaskets.0.opening"] ** 2
            volume = chamber + area * c + opening * gasket + spigot * offset - crown
            ratio = (area * stroke + volume) / volume
            made.append((ratio.n, ratio.s))
        return np.array(made)

    ours, theirs = first_order(), package()
    worst = float(np.max(np.abs(ours[1][:some] / theirs[:, 1] - 1)))
    if not (np.allclose(ours[0][:some], theirs[:, 0], rtol=1e-12) and worst < 1e-3):
        print(f"first order disagrees with the package by {worst:.1e}")
        return 1
    took = timed({"ours": first_order, "package": package})
    mine, other = took["ours"] / rows, took["package"] / some
    print(f"\nfirst order of the ratio, a row: {mine * 1e6:.2f} µs in columns, {other * 1e6:.0f} µs by the package:")
    print(f"{other / mine:.0f} times as fast (asked: 200)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
