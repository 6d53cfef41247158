"""A sweep of the gap over 200 crank speeds with 10 000 draws each, and 10⁶ rows of all outputs about running.

Run: ``python benchmarks/running.py``. Medians of processor time in one run, the ways taken in turn. Asked: the sweep in under 1 s; no
Python loop per row, which the ratio to the same rows one by one shows. The reference beside the sweep is NumPy's own work on columns
as large: one power and one product for each draw of each point, which no model could do without.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

import numpy as np

import topend as te
from topend.evaluation import evaluate_columns
from topend.physics import wiring
from topend.quantities import OUTPUTS

POINTS, DRAWS, ROWS, SINGLE = 200, 10_000, 1_000_000, 200
#: What this issue added, as far as the engine below has it.
OUTPUTS_RUNNING = [
    name for name, made in OUTPUTS.items() if made.when_named and name.startswith(("closure_", "running_", "contact_", "pulling_"))
]
OUTPUTS_PORTS = [name for name in OUTPUTS if name.startswith(("exhaust_", "transfer_", "blowdown_", "squish_velocity_", "band_"))]


def engine() -> te.TopEnd:
    """E125, invented; the wide defaults for all that is not stated, a domed crown under an angled band, windows."""
    return te.TopEnd(
        crank=te.Crank(stroke="54.5 mm", rod_length="110 mm", rod_area="120 mm²"),
        cylinder=te.Cylinder(
            bore="54 mm ± 0.01 mm",
            ports=[
                te.Port(kind="exhaust", top="30 mm", floor="54 mm", width="36 mm", corner_radius="4 mm"),
                te.Port(kind="transfer", top="42 mm", floor="54 mm", width="22 mm", count=2),
            ],
        ),
        piston=te.Piston(crown=te.SphereCrown(rise="2 mm"), assembly_mass="200 g ± 10 g"),
        head=te.FlushHead(
            band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="7 deg ± 0.5 deg"), chamber_volume="9.2 cc"
        ),
        head_gaskets=[te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.30 mm ± 0.02 mm")],
        deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm"),
        running=te.Running(crank_speed="12000 rpm", gas_pressure="30 bar"),
        probe=te.Probe(crank_angle="-15 deg"),
    )


def timed(ways: dict[str, Callable[[], Any]], times: int) -> dict[str, float]:
    """Processor seconds of each way, which others on the machine do not lengthen as they do the clock's."""
    taken: dict[str, list[float]] = {name: [] for name in ways}
    for way in ways.values():
        way()
    for _ in range(times):
        for name, way in ways.items():
            start = time.process_time()
            way()
            taken[name].append(time.process_time() - start)
    return {name: statistics.median(measured) for name, measured in taken.items()}


def once(way: Callable[[], Any]) -> float:
    """Processor seconds of one run."""
    start = time.process_time()
    way()
    return time.process_time() - start


def rows_of(title: str, top: te.TopEnd, names: list[str]) -> None:
    """A million rows of `names` as columns, and a few of them one by one."""
    structure = top.row.structure
    missing = wiring.plan(structure, tuple(names)).missing
    had = [name for name in names if name not in missing]
    generator = np.random.default_rng(3)
    columns = top.row.columns() | {
        "running.crank_speed": generator.uniform(800.0, 1500.0, ROWS),
        "deck.clearance": generator.uniform(6e-4, 8e-4, ROWS),
    }

    def one_by_one() -> None:
        for row in range(SINGLE):
            evaluate_columns(structure, {path: v[row : row + 1] if len(v) > 1 else v for path, v in columns.items()}, had)

    whole = once(lambda: evaluate_columns(structure, columns, had))
    a_row, alone = whole / ROWS * 1e6, once(one_by_one) / SINGLE * 1e6
    print(f"{title}: {len(had)} outputs of {ROWS:,} rows {whole:.2f} s, {a_row:.2f} µs a row; ", end="")
    print(f"one by one {alone:.0f} µs, {alone / a_row:.0f} times")


def main() -> int:
    top = engine()
    speeds = [f"{speed:.3f} rpm" for speed in np.linspace(2000.0, 14_500.0, POINTS)]
    size = 262_144
    column = np.random.default_rng(1).random(size) + 0.5
    into = np.empty(size)

    def powers() -> None:
        # 200 × 10 000 values, a stretch at a time as the sweep takes them
        for _ in range(POINTS * DRAWS // size + 1):
            np.power(column, 0.9, out=into)
            np.multiply(into, column, out=into)

    took = timed(
        {
            f"sweep of {POINTS} speeds, {DRAWS} draws": lambda: te.curve(top, "running_clearance", crank_speed=speeds, draws=DRAWS),
            "one power and one product for each": powers,
        },
        3,
    )
    least = took["one power and one product for each"]
    for name, seconds in took.items():
        print(f"{name:44s} {seconds:7.2f} s   {seconds / least:6.1f} of one power and one product")

    clock = time.perf_counter()
    te.curve(top, "running_clearance", crank_speed=speeds, draws=DRAWS)
    print(f"{'by the clock, with whoever else is at work':44s} {time.perf_counter() - clock:7.2f} s")
    for title, names in (("closing", OUTPUTS_RUNNING), ("windows and angles", OUTPUTS_PORTS)):
        rows_of(title, top, names)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
