"""Studies: what rows cost beside their kernels, to Parquet in little memory, and over the workers of a Dask cluster.

    python benchmarks/study.py            # 10^7 rows to Parquet, 10^8 rows over workers: about ten minutes on two cores
    python benchmarks/study.py --quick    # a tenth of the rows: about a minute

Every figure is a ratio, or the memory of one process; medians of five in one run (of three for the cluster). What is asked of
them stands beside each line. Other work on the machine spoils the ratio of two workers to one first.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

import topend as te
from topend.evaluation import evaluate_columns
from topend.units import to_si

#: The twelve core outputs.
CORE = (
    "squish_edge",
    "squish_min",
    "squish_mean",
    "clearance_volume",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_opens",
    "transfer_opens",
    "blowdown",
    "mean_piston_speed",
    "squish_velocity_peak",
    "squish_velocity_angle",
)
MOST_MEMORY = 400.0


def top_end() -> te.TopEnd:
    """A 70 cc barrel with a domed piston under a drop-in head; invented."""
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm")]),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
        head=te.SpigotHead(
            recess_offset="-1.0 mm",
            spigot_diameter="47.2 mm",
            chamber_volume="6.4 cc",
            band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg"),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm")],
        deck=te.DeckReading(clearance="1.65 mm", base_thickness="0.50 mm"),
        running=te.Running(crank_speed="11500 rpm"),
    )


def product(rows: int) -> te.Study:
    """About so many rows: offset, chamber volume, band angle, base stack and speed."""
    study = (
        te.Study(top_end())
        .vary("head.recess_offset", "-1.3:-0.4:0.1 mm")
        .vary("head.chamber_volume", "5.5:7.4:0.1 cc")
        .vary("head.band.angle", "7:11:1 deg")
        .vary("base.thickness", "0.3:1.2:0.1 mm")
    )
    speeds = np.linspace(6000.0, 14000.0, rows // len(study))
    return study.vary("running.crank_speed", te.Quantity(speeds, "rpm"))


def taken(work: Callable[[], Any]) -> float:
    """Processor seconds: one thread works, and what else runs on the machine does not count."""
    start = time.process_time()
    work()
    return time.process_time() - start


# --- quantities at the door ---------------------------------------------------------------------------------------------------


def door(rows: int) -> tuple[float, float, float, float]:
    """Share of a run, every row of it with values of its own, that handling quantities takes, without and with a copy of the arrays.

    And the run beside its kernels alone, and nanoseconds a row. A study copies arrays that can still be changed, floats or
    quantities; arrays that are read-only it takes as they are.
    """
    rng = np.random.default_rng(1)
    given = {
        "head.recess_offset": te.Quantity(rng.uniform(-1.3, -0.4, rows), "mm"),
        "head.chamber_volume": te.Quantity(rng.uniform(5.5, 7.4, rows), "cc"),
        "head.band.angle": te.Quantity(rng.uniform(7.0, 11.0, rows), "deg"),
        "running.crank_speed": te.Quantity(rng.uniform(6000.0, 14000.0, rows), "rpm"),
    }
    for value in given.values():
        value.magnitude.flags.writeable = False
    copied = {path: te.Quantity(value.magnitude.copy(), value.units) for path, value in given.items()}
    top = top_end()

    def whole() -> None:
        table = te.Study(top).pair(given).run(CORE)
        for name in CORE:
            table.quantity(name)

    def units() -> te.Study:
        # in: units recognised, numbers judged and kept
        return te.Study(top).pair(given)

    def copying() -> te.Study:
        return te.Study(top).pair(copied)

    table = te.Study(top).pair(given).run(CORE)

    def out() -> None:
        for name in CORE:
            table.quantity(name)

    unit = {"head.recess_offset": "mm", "head.chamber_volume": "cc", "head.band.angle": "deg", "running.crank_speed": "rpm"}
    columns = {path: np.array([value]) for path, value in top.row.values.items()}
    columns |= {path: to_si(value.magnitude, unit[path]) for path, value in given.items()}
    structure = top.row.structure
    kernels = lambda: evaluate_columns(structure, columns, CORE)  # noqa: E731 - as the others
    made: list[tuple[float, float, float, float]] = []
    for _ in range(5):
        made.append((taken(whole), taken(units) + taken(out), taken(copying) + taken(out), taken(kernels)))
    run = statistics.median(one[0] for one in made)
    shares = [statistics.median(one[place] / one[0] for one in made) for place in (1, 2)]
    return shares[0], shares[1], statistics.median(one[0] / one[3] for one in made), run / rows * 1e9


# --- to disk -------------------------------------------------------------------------------------------------------------------


def child(rows: int, folder: str) -> None:
    """Write a study, in a process of its own, and print the most memory it held, its rows, files, bytes and seconds."""
    study = product(rows)
    start = time.perf_counter()
    folder_of = study.run(CORE, to=folder)
    seconds = time.perf_counter() - start
    size = sum(path.stat().st_size for path in Path(folder).iterdir())
    print(peak(), folder_of.rows, folder_of.files, size, seconds)


def peak() -> float:
    """Most resident memory of this process [MB]."""
    status = Path("/proc/self/status")
    if status.exists():
        # getrusage also counts what the parent held when it started this process
        return float(next(line.split()[1] for line in status.read_text().splitlines() if line.startswith("VmHWM"))) / 1024.0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1024.0**2 if platform.system() == "Darwin" else 1024.0)


def disk(rows: int) -> tuple[float, int, int, int, float]:
    with tempfile.TemporaryDirectory() as folder:
        to = str(Path(folder) / "out.parquet")
        done = subprocess.run([sys.executable, __file__, "--child", str(rows), to], capture_output=True, text=True, check=True)
    memory, made, files, size, seconds = done.stdout.split()
    return float(memory), int(made), int(files), int(size), float(seconds)


# --- over workers ----------------------------------------------------------------------------------------------------------------


def cluster(rows: int, times: int) -> tuple[float, float, float, float, float]:
    """Seconds of one worker and of two for a study reduced in them, medians; of no cluster; and memory of the client before and after."""
    import distributed
    import psutil

    study = product(rows)
    seconds: dict[int, list[float]] = {1: [], 2: []}
    answers = []

    def reduced(client: Any) -> float:
        start = time.perf_counter()
        answers.append(study.summarise(CORE, best="squish_velocity_peak", largest=True, client=client))
        return time.perf_counter() - start

    memory = []
    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as local,
        distributed.Client(local) as client,
    ):
        for _ in range(times):
            # in turn, so that the machine's moods fall on both
            for workers in (1, 2):
                local.scale(workers)
                while len(client.scheduler_info(n_workers=-1)["workers"]) != workers:
                    time.sleep(0.1)
                product(4_000_000).summarise(CORE, client=client)
                before = psutil.Process().memory_info().rss
                seconds[workers].append(reduced(client))
                memory.append((psutil.Process().memory_info().rss - before) / 2**20)
    alone = reduced(None)
    if len({repr(answer) for answer in answers}) != 1:
        raise SystemExit("the answers differ between workers")
    return statistics.median(seconds[1]), statistics.median(seconds[2]), alone, max(memory), len(study)


def verdict(good: bool) -> str:
    return "met" if good else "NOT MET"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="a tenth of the rows")
    parser.add_argument("--child", nargs=2, metavar=("ROWS", "FOLDER"), help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.child:
        child(int(asked.child[0]), asked.child[1])
        return
    less = 10 if asked.quick else 1
    load = os.getloadavg()[0]
    print(f"topend {te.__version__}, numpy {np.__version__}, {os.cpu_count()} cores, load {load:.1f} before the run")

    share, copied, beside, each = door(1_000_000)
    print(f"\na million rows of their own values, 12 outputs, one thread: {each:.0f} ns a row")
    print(f"  quantities at the door           {share:6.2%} of the run   (asked: under 3 %)    {verdict(share < 0.03)}")
    print(f"  and copying arrays that may change {copied:5.2%}")
    print(f"  the run beside the kernels alone {beside:6.2f} times")

    memory, rows, files, size, seconds = disk(10_000_000 // less)
    print(f"\n{rows:.0e} rows of 5 inputs and 12 outputs to Parquet, one process: {seconds:.1f} s, {files} files")
    print(f"  most resident memory             {memory:6.0f} MB          (asked: under 400 MB) {verdict(memory < MOST_MEMORY)}")
    print(f"  a row                            {size / rows:6.1f} bytes, {seconds / rows * 1e9:.0f} ns with writing")

    one, two, alone, client, rows = cluster(100_000_000 // less, 3)
    print(f"\n{rows:.0e} rows reduced in the workers of a cluster: one worker {one:.1f} s, two {two:.1f} s, none {alone:.1f} s")
    print(f"  two workers beside one           {one / two:6.2f} times       (asked: at least 1.5)  {verdict(one / two >= 1.5)}")
    print(f"  one worker beside no cluster     {one / alone:6.2f} times the time")
    print(f"  the client grew by               {client:6.1f} MB at most")
    if shutil.disk_usage("/tmp").free < 2**30:
        print("  (little room was left on the disk)")


if __name__ == "__main__":
    main()
