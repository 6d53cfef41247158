"""Data packs at size: 10 000 parts in 200 packs listed, one part loaded, everything loaded; and how long hostile packs take to be refused.

Run: ``python benchmarks/packs.py``. The parts are invented: 50 gaskets a pack in TOML. Wanted, on an idle machine: listing in under 0.2 s;
one part without opening the files of other packs; all of it in under 25 ms a pack; a refusal within a second. Beside each figure stands its
ratio to what tomllib alone takes to parse the same files, in the same run.
Times are of this process's work, so that others on the machine count little.
"""

from __future__ import annotations

import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import topend as te

PACKS, PARTS = 200, 50
MANIFEST = (
    'id = "p{0}"\nversion = "1"\nformat = 1\ntitle = "Pack {0}"\nlicence = "CC0-1.0"\n[[source]]\nkind = "invented"\ntitle = "benchmark"\n'
)
PART = '[gasket.g{0}]\nrole = "base"\nthickness = "0.{1} mm ± 0.01 mm"\nmaterial = "fibre"\nopening = "52 mm"\n\n'


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    start = time.process_time()
    made = work()
    return time.process_time() - start, made


def main() -> None:
    te.Catalogue.load()
    te.Gasket(role="base", thickness="1 mm")
    with tempfile.TemporaryDirectory() as place:
        folders = []
        for index in range(PACKS):
            folder = Path(place) / f"p{index}"
            folder.mkdir()
            (folder / "pack.toml").write_text(MANIFEST.format(index))
            (folder / "parts.toml").write_text("".join(PART.format(part, part % 9 + 1) for part in range(PARTS)))
            folders.append(folder)
        parse, _ = timed(lambda: [tomllib.loads((folder / "parts.toml").read_text()) for folder in folders])

        listing, catalogue = timed(lambda: _listed(folders))
        print(f"tomllib parses {PACKS} packs:  {parse * 1e3:8.1f} ms   ({PACKS * PARTS} parts)")
        print(f"load and list:             {listing * 1e3:8.1f} ms   {listing / parse:5.2f} x tomllib   (wanted: < 200 ms)")
        one, _ = timed(lambda: catalogue["p117/g30"])
        read = sum(pack.loaded for pack in catalogue.packs)
        print(f"one part:                  {one * 1e3:8.1f} ms   {one / parse:5.2f} x tomllib   ({read} of {PACKS} packs read)")
        whole, count = timed(lambda: sum(1 for _ in catalogue.values()))
        each = f"{whole / PACKS * 1e3:.2f} ms a pack; wanted: < 25"
        print(f"all {count} parts:          {whole * 1e3:8.1f} ms   {whole / parse:5.2f} x tomllib   ({each})")
        assert not catalogue.problems

    sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))
    import test_packs_hostile as hostile

    print("\nrefusals (wanted: within a second each), the slowest five of", len(hostile.HOSTILE) + 1)
    taken = []
    with tempfile.TemporaryDirectory() as place:
        for index, (name, (files, _)) in enumerate(hostile.HOSTILE.items()):
            folder = hostile.pack(Path(place) / f"h{index}" / "club", files)
            taken.append((timed(lambda folder=folder: hostile.refusal(folder))[0], name))
        folder = hostile.pack(Path(place) / "sparse" / "club", {})
        hostile.sparse(folder / "x.toml")
        taken.append((timed(lambda: hostile.refusal(folder))[0], "1 GB"))
    for seconds, name in sorted(taken, reverse=True)[:5]:
        print(f"  {seconds * 1e3:8.1f} ms  {name}")


def _listed(folders: list[Path]) -> te.Catalogue:
    catalogue = te.Catalogue.load(*folders)
    assert len(list(catalogue)) == PACKS * PARTS
    return catalogue


if __name__ == "__main__":
    main()
