"""`fit_gaskets` (count, ten best, proof) against one optimum from HiGHS (scipy's milp) and from OR-Tools CP-SAT.

Run: ``python benchmarks/fit_gaskets.py`` (needs the extra `bench`; ``--quick`` for fewer drawers). The drawers are invented:
6, 12, 20 and 30 kinds a role in sizes of 0.01 mm, stacks up to four, 1, 10 and 50 heads. The rivals get the same question as
a linear program and are asked for one best answer by the sum of deviations, which is easier than what `fit_gaskets` gives:
its order is by squares, and it counts and proves. Every run also checks that they agree on whether an answer exists, and
that the rival's optimum is one of the combinations `fit_gaskets` calls feasible. Ratios are of one run on one machine.
"""

from __future__ import annotations

import argparse
import itertools
import math
import random
import statistics
import sys
import time
from typing import Any

import numpy as np
from ortools.sat.python import cp_model
from scipy.optimize import Bounds, LinearConstraint, milp

import topend as te

GAP, GAP_TOLERANCE = 0.90, 0.05
RATIO, RATIO_TOLERANCE = 12.5, 0.4
DURATION = 190.0
STACK = 4


def drawer(kinds: int, heads: int, seed: int) -> tuple[te.TopEnd, te.GasketSet, list[te.SpigotHead]]:
    """An invented build, drawer and list of heads for which there is an answer: the first of this seed's that has one."""
    draw = random.Random(seed)
    while True:
        made = _draw(kinds, heads, draw)
        if ours(*made).feasible:
            return made


def _draw(kinds: int, heads: int, draw: random.Random) -> tuple[te.TopEnd, te.GasketSet, list[te.SpigotHead]]:
    made: list[te.SpigotHead] = []
    for index in range(heads):
        made.append(
            te.SpigotHead(
                name=f"head {index}",
                recess_offset=f"-{draw.randint(60, 150) / 100:.2f} mm",
                spigot_diameter="47.2 mm",
                chamber_volume=f"{draw.randint(520, 720) / 100:.2f} cc",
                band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter=f"{draw.randint(310, 350) / 10:.1f} mm", angle="9 deg"),
            )
        )
    items: list[dict[str, Any]] = []
    for role, low, high in (("base", 8, 80), ("head", 8, 60)):
        for size in sorted(draw.sample(range(low, high), kinds)):
            items.append({"gasket": te.Gasket(role=role, thickness=f"{size / 100:.2f} mm"), "count": draw.randint(1, 4)})
    top = te.TopEnd(
        crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm")]),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
        base_gaskets=[],
        deck=te.DeckReading(clearance="1.40 mm", base_thickness="0.50 mm"),
    )
    return top, te.GasketSet(items=items), made


class Linear:
    """The same question as a linear program: deck below the crown, one opening, so that volume is linear in the stack."""

    def __init__(self, top: te.TopEnd, stock: te.GasketSet, heads: list[te.SpigotHead]) -> None:
        self.base = [(item.gasket.thickness.m_as("mm"), item.count) for item in stock.of_role("base")]
        self.over = [(item.gasket.thickness.m_as("mm"), item.count) for item in stock.of_role("head")]
        thick = te.Gasket(role="head", thickness="2.0 mm")
        first = te.Gasket(role="base", thickness="0.50 mm")
        self.heads = []
        for head in heads:
            result = te.evaluate(top.replace({"head": head, "base_gaskets": [first], "head_gaskets": [thick]}))
            gap = result.shown("squish_min") - 0.5 - 2.0
            area = math.pi / 4 * 47.6**2 / 1e3  # cc a mm
            self.heads.append((gap, result.shown("clearance_volume") - area * 2.5))
        self.area = area
        swept = result.shown("swept_volume")
        self.volume = (swept / (RATIO + RATIO_TOLERANCE - 1), swept / (RATIO - RATIO_TOLERANCE - 1))
        self.middle = swept / (RATIO - 1)
        # the base sum at which the exhaust reaches its limit, by bisection on the library itself
        low, high = 0.01, 4.0
        for _ in range(60):
            middle = (low + high) / 2
            sized = te.Gasket(role="base", thickness=te.Quantity(middle, "mm"))
            duration = te.evaluate(top.replace({"head": heads[0], "base_gaskets": [sized], "head_gaskets": [thick]})).shown(
                "exhaust_duration"
            )
            low, high = (middle, high) if duration <= DURATION else (low, middle)
        self.most_base = low


def by_highs(ask: Linear) -> tuple[bool | None, float]:
    h, b, o = len(ask.heads), len(ask.base), len(ask.over)
    size = h + b + o + 2
    cost = np.zeros(size)
    cost[-2:] = 1.0
    gap, volume, base = np.zeros(size), np.zeros(size), np.zeros(size)
    gap[:h] = [one[0] for one in ask.heads]
    volume[:h] = [one[1] for one in ask.heads]
    thick_b, thick_o = [one[0] for one in ask.base], [one[0] for one in ask.over]
    gap[h : h + b], gap[h + b : h + b + o] = thick_b, thick_o
    volume[h : h + b], volume[h + b : h + b + o] = np.array(thick_b) * ask.area, np.array(thick_o) * ask.area
    base[h : h + b] = thick_b
    half = (ask.volume[1] - ask.volume[0]) / 2
    one, count_b, count_o = np.zeros(size), np.zeros(size), np.zeros(size)
    one[:h] = 1
    count_b[h : h + b] = 1
    count_o[h + b : h + b + o] = 1
    deviation = []
    for row, value, scale, at in ((gap, GAP, GAP_TOLERANCE, size - 2), (volume, ask.middle, half, size - 1)):
        for sign in (1, -1):
            line = sign * row / scale
            line[at] = -1
            deviation.append(LinearConstraint(line, -np.inf, sign * value / scale))
    rules = [
        LinearConstraint(one, 1, 1),
        LinearConstraint(count_b, 1, STACK),
        LinearConstraint(count_o, 1, STACK),
        LinearConstraint(gap, GAP - GAP_TOLERANCE, GAP + GAP_TOLERANCE),
        LinearConstraint(volume, *ask.volume),
        LinearConstraint(base, -np.inf, ask.most_base),
        *deviation,
    ]
    upper = np.array([1] * h + [c for _, c in ask.base] + [c for _, c in ask.over] + [1.0, 1.0], dtype=float)
    integrality = np.array([1] * (h + b + o) + [0, 0])
    start = time.perf_counter()
    found = milp(cost, constraints=rules, bounds=Bounds(0, upper), integrality=integrality)
    if found.status == 4:  # the solver failed: that decides nothing
        return None, time.perf_counter() - start
    return found.status == 0, time.perf_counter() - start


def by_cp_sat(ask: Linear) -> tuple[bool, float]:
    model = cp_model.CpModel()
    scale = 1_000  # micrometres and cubic millimetres: coarser is quicker still, but is another question
    heads = [model.new_bool_var("") for _ in ask.heads]
    base = [model.new_int_var(0, count, "") for _, count in ask.base]
    over = [model.new_int_var(0, count, "") for _, count in ask.over]
    model.add_exactly_one(heads)
    model.add_linear_constraint(sum(base), 1, STACK)
    model.add_linear_constraint(sum(over), 1, STACK)

    def whole(value: float) -> int:
        return round(value * scale)

    thick_b = sum(whole(t) * x for (t, _), x in zip(ask.base, base, strict=True))
    thick_o = sum(whole(t) * x for (t, _), x in zip(ask.over, over, strict=True))
    gap = sum(whole(one[0]) * x for one, x in zip(ask.heads, heads, strict=True)) + thick_b + thick_o
    volume = (
        sum(whole(one[1]) * x for one, x in zip(ask.heads, heads, strict=True))
        + sum(whole(t * ask.area) * x for (t, _), x in zip(ask.base, base, strict=True))
        + sum(whole(t * ask.area) * x for (t, _), x in zip(ask.over, over, strict=True))
    )
    model.add_linear_constraint(gap, whole(GAP - GAP_TOLERANCE), whole(GAP + GAP_TOLERANCE))
    model.add_linear_constraint(volume, whole(ask.volume[0]), whole(ask.volume[1]))
    model.add(thick_b <= whole(ask.most_base))
    half = (ask.volume[1] - ask.volume[0]) / 2
    off_gap, off_volume = model.new_int_var(0, whole(GAP_TOLERANCE), ""), model.new_int_var(0, whole(half), "")
    model.add_abs_equality(off_gap, gap - whole(GAP))
    model.add_abs_equality(off_volume, volume - whole(ask.middle))
    model.minimize(off_gap * round(100 * half / GAP_TOLERANCE) + off_volume * 100)
    solver = cp_model.CpSolver()
    start = time.perf_counter()
    status = solver.solve(model)
    return status in (cp_model.OPTIMAL, cp_model.FEASIBLE), time.perf_counter() - start


def ours(top: te.TopEnd, stock: te.GasketSet, heads: list[te.SpigotHead]) -> te.Fit:
    return te.fit_gaskets(
        top,
        stock,
        heads=heads,
        base_count=(1, STACK),
        head_count=(1, STACK),
        at_most={"exhaust_duration": f"{DURATION} deg"},
        squish_min=(f"{GAP} mm", f"{GAP_TOLERANCE} mm"),
        compression_ratio=(RATIO, RATIO_TOLERANCE),
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="one drawer a size instead of five")
    seeds = range(1 if parser.parse_args().quick else 5)
    top, stock, heads = drawer(6, 1, 0)
    ours(top, stock, heads)  # imports and caches
    print("kinds heads  combinations    feasible   fit ms  HiGHS ms CP-SAT ms   fit/HiGHS fit/CP-SAT  fit/faster (medians)")
    ratios: dict[tuple[int, int], float] = {}
    for kinds, count in itertools.product((6, 12, 20, 30), (1, 10, 50)):
        rows = []
        for seed in seeds:
            top, stock, heads = drawer(kinds, count, seed)
            ask = Linear(top, stock, heads)
            times = []
            for _ in range(3):
                start = time.perf_counter()
                fit = ours(top, stock, heads)
                times.append(time.perf_counter() - start)
            highs, highs_time = by_highs(ask)
            cp, cp_time = by_cp_sat(ask)
            if cp != bool(fit.feasible) or highs not in (None, cp):
                print(f"they disagree on {kinds} kinds, {count} heads, seed {seed}: fit {fit.feasible}, HiGHS {highs}, CP-SAT {cp}")
                return 1
            rows.append((statistics.median(times) * 1e3, highs_time * 1e3, cp_time * 1e3, fit.considered, fit.feasible))
        fit_ms, highs_ms, cp_ms = (statistics.median(column) for column in list(zip(*rows, strict=True))[:3])
        ratio = statistics.median(row[0] / min(row[1], row[2]) for row in rows)
        ratios[kinds, count] = ratio
        print(
            f"{kinds:5d} {count:5d} {rows[0][3]:13.3g} {rows[0][4]:11.3g} {fit_ms:8.2f} {highs_ms:9.1f} {cp_ms:9.1f}"
            f"   {fit_ms / highs_ms:9.3f} {fit_ms / cp_ms:10.3f} {ratio:11.3f}"
        )
    small = [1 / ratio for (kinds, _), ratio in ratios.items() if kinds <= 12]
    many = statistics.median(ratio for (_, count), ratio in ratios.items() if count >= 10)
    print("\nup to 12 kinds, times faster than the faster rival (asked: 10):")
    print(f"{statistics.median(small):.1f} in the median, {min(small):.1f} at the least")
    print(
        f"ten heads or more: median ratio to the faster rival {many:.3f} (asked: at most 1.05), worst "
        f"{max(ratio for (_, count), ratio in ratios.items() if count >= 10):.3f}"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
