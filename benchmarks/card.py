"""How much work a card is from the shell, beside the bare import of the libraries it stands on, in one run.

python benchmarks/card.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
JOB = ROOT / "docs" / "examples" / "fell50.toml"
RUNS = 7

SHELL = "import sys; from topend.cli import main; sys.exit(main(sys.argv[1:]))"


def least(*arguments: str) -> float:
    """The least work of several runs [s of a processor]: what else the machine does only ever adds."""
    found = []
    for _ in range(RUNS):
        start = os.times()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, env={**os.environ, "PYTHONPATH": str(ROOT)})
        end = os.times()
        found.append(end.children_user + end.children_system - start.children_user - start.children_system)
    return min(found)


def main() -> None:
    text = "import numpy, scipy.special, pydantic, pint, typer; pint.UnitRegistry()"
    page = f"{text}; import jinja2"
    with tempfile.TemporaryDirectory() as folder:
        rows = (
            ("card as text", least("-c", text), least("-c", SHELL, "card", str(JOB))),
            ("card as a page", least("-c", page), least("-c", SHELL, "card", str(JOB), "--html", f"{folder}/card.html")),
        )
    for name, bare, whole in rows:
        print(f"{name:<15} {whole:5.2f} s from the shell, {whole / bare:.2f} times the bare import of its libraries ({bare:.2f} s)")


if __name__ == "__main__":
    main()
