"""Packages as their users get them: built into a wheel, installed in a fresh environment beside topend, found, checked and fitted."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import textwrap
from pathlib import Path

import pytest

from topend.packs.scaffold import new_pack

ROOT = Path(__file__).resolve().parent.parent


def run(*command: object, cwd: Path, **environment: str) -> str:
    kept = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "TOPEND_PACKS")}
    done = subprocess.run(
        [str(one) for one in command], cwd=cwd, env={**kept, **environment}, capture_output=True, text=True, check=False, timeout=300
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    return done.stdout


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with three packages, their wheels, and a fresh environment that has these wheels and topend in it."""
    place = tmp_path_factory.mktemp("wheels")
    new_pack(place / "own-family", package=True)
    ignore = shutil.ignore_patterns("__pycache__", "*.egg-info", "build")
    for name in ("dunmallow", "oxlip"):
        shutil.copytree(ROOT / "datapacks" / name, place / name, ignore=ignore)
    # what builds is fetched once for all three
    run(sys.executable, "-m", "pip", "install", "-q", "--target", place / "tools", "setuptools>=77", cwd=place)
    for name in ("own-family", "dunmallow", "oxlip"):
        build = "import sys; from setuptools import build_meta; print(build_meta.build_wheel(sys.argv[1]))"
        run(sys.executable, "-c", build, place / "dist", cwd=place / name, PYTHONPATH=str(place / "tools"))
    run(sys.executable, "-m", "venv", "--without-pip", place / "venv", cwd=place)
    python = place / "venv" / "bin" / "python"
    run(
        sys.executable,
        "-m",
        "pip",
        "--python",
        python,
        "install",
        "-q",
        "--no-deps",
        "--no-index",
        *(place / "dist").glob("*.whl"),
        cwd=place,
    )
    # topend and what it depends on, from where these tests run
    site = Path(run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=place).strip())
    (site / "beside.pth").write_text(f"{sysconfig.get_path('purelib')}\n{ROOT}\n")
    return place


def said(place: Path, code: str) -> object:
    return json.loads(run(place / "venv" / "bin" / "python", "-c", textwrap.dedent(code), cwd=place))


def test_installed_packs_are_found_and_listing_runs_no_code(place: Path) -> None:
    made = said(
        place,
        """
        import json, sys, topend as te
        found = te.Catalogue.discover()
        ids = list(found)
        loaded = lambda: sorted(name for name in sys.modules if "topend_" in name or name == "own_family")
        print(json.dumps([[pack.id, pack.found] for pack in found.packs] + [len(ids), loaded(), list(map(str, found.problems)), loaded()]))
        """,
    )
    assert isinstance(made, list)
    assert made[:3] == [
        ["dunmallow", "installed: topend-dunmallow 1.0.0"],
        ["own-family", "installed: own-family 0.1.0"],
        ["oxlip", "installed: topend-oxlip 1.0.0"],
    ]
    assert made[3] == 19 + 8 + 18
    # reading, for `problems`, is what runs the one module that has code
    assert made[4:] == [[], [], ["topend_oxlip", "topend_oxlip.hooks"]]


def test_installed_packs_keep_their_promises(place: Path) -> None:
    code = """
    import json, topend as te
    from topend.packs.testing import conformance
    found = te.Catalogue.discover()
    print(json.dumps([[pack.id, check.name, check.trouble()] for pack in found.packs for check in conformance(pack)]))
    """
    made = said(place, code)
    assert isinstance(made, list)
    assert [row for row in made if row[2] is not None] == []
    assert {row[1] for row in made if row[1].startswith("checks/")} == {
        "checks/heron60-first-fit.toml",
        "checks/teal80-first-fit.toml",
        "checks/first-fit.toml",
        "checks/o435-on-a-plate.toml",
    }


def test_parts_of_installed_packs_fit_and_are_evaluated(place: Path) -> None:
    code = """
    import json, topend as te
    found = te.Catalogue.discover()
    own = found.fitting("own-family/barrel")
    heron = found.fitting("dunmallow/heron60-barrel")
    part = lambda name: found["own-family/" + name]
    top = te.TopEnd(crank=part("crank"), cylinder=part("barrel"), piston=part("piston"), head=part("drop10"),
                    base_gaskets=[part("base-050")], head_gaskets=[part("head-030")])
    result = te.evaluate(top, extra=found.extra_outputs)
    print(json.dumps([[name for name in own.fits() if name.startswith("own-family/")], len([n for n in heron.heads if n.startswith("oxlip/")]),
                      round(result.shown("spigot_side_gap"), 3), sorted({one.pack for one in result.provenance}),
                      [finding.code for finding in te.findings(result, extra=found.extra_findings)]]))
    """
    assert said(place, code) == [
        [f"own-family/{name}" for name in ("piston", "drop10", "base-030", "base-050", "head-030")],
        9,
        0.15,
        ["own-family"],
        [],
    ]


def test_outputs_of_installed_packs_are_columns_and_find_their_code_in_another_process(place: Path) -> None:
    """Across processes that are started anew: what is sent is the pack's name."""
    code = """
    import concurrent.futures, json, multiprocessing, pickle, sys, topend as te
    found = te.Catalogue.discover()
    part = lambda name: found["own-family/" + name]
    top = te.TopEnd(crank=part("crank"), cylinder=part("barrel"), head=part("drop10")).with_outputs(found.outputs_of("oxlip"))
    study = te.Study(top).vary("cylinder.bore", "47.0:47.4:0.1 mm")
    ours = study.run(["spigot_side_gap"])["spigot_side_gap"].tolist()
    sent = pickle.dumps(study)
    with concurrent.futures.ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        theirs = pool.submit(eval, f"__import__('pickle').loads({sent!r}).run(['spigot_side_gap'])['spigot_side_gap'].tolist()").result()
    alone = [te.evaluate(study.top_end(row)).shown("spigot_side_gap") for row in range(len(study))]
    print(json.dumps([ours == theirs == alone, [round(one, 3) for one in ours], b"lambda" in sent or b"topend_oxlip" in sent]))
    """
    assert said(place, code) == [True, [0.15, 0.2, 0.25, 0.3, 0.35], False]


def test_the_command_line_knows_them(place: Path) -> None:
    python = place / "venv" / "bin" / "python"
    command = "import sys; from topend.cli import main; sys.exit(main())"
    assert "installed: topend-oxlip 1.0.0" in run(python, "-c", command, "packs", "list", cwd=place)
    assert "o435-d10-a9" in run(python, "-c", command, "packs", "show", "oxlip", cwd=place)
    job = 'format = 1\nhead = "oxlip/o435-d10-a9"\nhead_gaskets = ["dunmallow/heron60-head-030"]\n[deck]\nclearance = "1.6 mm"\n'
    (place / "job.toml").write_text(job)
    card = run(python, "-c", command, "card", "job.toml", cwd=place)
    assert "dunmallow 1.0.0, sha256 " in card
    assert "oxlip 1.0.0, sha256 " in card
    # what the maker's code works out and finds, by a job that takes a part from its pack
    (place / "tight.toml").write_text(f'{job}[cylinder]\nbore = "43.3 mm"\n')
    tight = run(python, "-c", command, "card", "tight.toml", cwd=place)
    assert "! the spigot leaves 0.050 mm on a side; this invented maker wants 0.1 mm" in tight
    assert "found by the code of pack oxlip, sha256 " in tight
    assert "OUTPUTS OF PACK OXLIP" in tight


@pytest.mark.parametrize("name", ["own-family", "dunmallow", "oxlip"])
def test_the_tests_of_a_package_pass_as_made(place: Path, name: str) -> None:
    """As its author runs them: in its folder, by its own settings."""
    environment = {"PYTHONPATH": f"{ROOT}{os.pathsep}src"}
    if name == "oxlip":
        # its code is known where it is installed for editing; this is what pip leaves then
        info = place / name / "edited" / "topend_oxlip-1.0.0.dist-info"
        info.mkdir(parents=True)
        (info / "METADATA").write_text("Metadata-Version: 2.1\nName: topend-oxlip\nVersion: 1.0.0\n")
        (info / "entry_points.txt").write_text("[topend]\noxlip = topend_oxlip.hooks\n")
        (info / "direct_url.json").write_text(json.dumps({"url": (place / name).as_uri(), "dir_info": {"editable": True}}))
        environment["PYTHONPATH"] += f"{os.pathsep}edited"
    out = run(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", cwd=place / name, **environment)
    assert " passed" in out
    assert "failed" not in out
