"""Packs that mean harm, or come out of a broken disk: each a named refusal, within a second and in bounded memory.

"A second" is what a refusal took here (see `benchmarks/packs.py`, which prints them); what is asserted is the memory, in a process of
its own, and that only `PackError` comes out.
"""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import copy
import os
import random
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topend as te
from topend.packs.toml_file import MOST_BYTES, MOST_ENTRIES

ROOT = Path(__file__).resolve().parent.parent
MANIFEST = 'id = "club"\nversion = "1"\nformat = 1\ntitle = "Club"\nlicence = "CC0-1.0"\n[[source]]\nkind = "invented"\ntitle = "t"\n'
GASKET = '[gasket.thin]\nrole = "base"\nthickness = "0.3 mm"\n'


def pack(folder: Path, files: dict[str, str | bytes]) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in {"pack.toml": MANIFEST, "parts.toml": GASKET, **files}.items():
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_bytes(text.encode() if isinstance(text, str) else text)
    return folder


def refusal(folder: Path) -> str:
    (problem,) = te.Catalogue.load(folder).problems
    return str(problem).replace(f"{folder.parent}/", "")


# --- content ---------------------------------------------------------------------------------------------------------

MANY = f"holds more than {MOST_ENTRIES} keys, headings and list entries, the most that is read; a CSV table may hold more"
HOSTILE: dict[str, tuple[dict[str, str | bytes], str]] = {
    "million keys": ({"x.toml": "".join(f"k{index} = 1\n" for index in range(150_000))}, f"club/x.toml: {MANY}"),
    "million headings": ({"x.toml": "".join(f"[a{index}]\n" for index in range(150_000))}, f"club/x.toml: {MANY}"),
    "million entries": ({"x.toml": "x = [" + "1," * 900_000 + "]"}, f"club/x.toml: {MANY}"),
    "many files": (
        {f"x{index}.toml": f"[crank.c{index}]\n" + "".join(f"k{one} = 1\n" for one in range(700)) for index in range(40)},
        "and more; mend these first",
    ),
    "many large files": ({f"x{index}.toml": b"#" * (MOST_BYTES - 1) for index in range(4)}, "makes the pack larger than 4 MB"),
    "deep lists": ({"x.toml": "x = " + "[" * 100_000}, f"club/x.toml: {MANY}"),
    "deep tables": ({"x.toml": "[" + ".".join("a" * 3000) + "]\n"}, "club/x.toml: line 1: is nested deeper than 16 levels"),
    "long key": ({"x.toml": "a" * 1_500_000 + " = 1"}, "club/x.toml"),
    "long text": ({"x.toml": '[gasket.b]\nrole = "base"\nthickness = "' + "9" * 1_500_000 + ' mm"'}, "line 3: gasket.b.thickness"),
    "unclosed text": ({"x.toml": 'x = """' + "a" * 1_500_000}, "club/x.toml: line 1: is not TOML"),
    "quotes": ({"x.toml": '"' * 1_500_000}, "club/x.toml"),
    "backslashes": ({"x.toml": 'x = "' + "\\" * 1_499_999 + '"'}, "club/x.toml: line 1: is not TOML"),
    "utf-16": ({"x.toml": GASKET.encode("utf-16")}, "club/x.toml: is not a text file (it holds zero bytes); save it as text in UTF-8"),
    "utf-32": ({"pack.toml": MANIFEST.encode("utf-32")}, "club/pack.toml: is not a text file"),
    "latin-1": ({"x.toml": "# ±\n".encode("latin-1")}, "club/x.toml: is not text in UTF-8: byte 0xb1 in line 1; save the file as UTF-8"),
    "surrogates": ({"x.toml": b'[gasket.a]\nrole = "\xed\xa0\x80"\n'}, "club/x.toml: is not text in UTF-8"),
    "one key twice": (
        {"x.toml": GASKET.replace("thin", "b") + 'role = "base"\n'},
        "club/x.toml: line 4: is not TOML: the key before it is given twice",
    ),
    "one table twice": ({"x.toml": GASKET.replace("thin", "b") * 2}, "club/x.toml: line 4: is not TOML: the table gasket.b is given twice"),
    "one part twice": ({"x.toml": GASKET}, "club/x.toml: line 1: gasket.thin has the same id as gasket.thin in parts.toml, line 1"),
    "NaN": ({"x.toml": '[gasket.b]\nrole = "base"\nthickness = nan\n'}, "line 3: gasket.b.thickness needs a length"),
    "NaN with a unit": ({"x.toml": '[gasket.b]\nrole = "base"\nthickness = "nan mm"\n'}, "which is not a finite number"),
    "infinity": ({"x.toml": '[gasket.b]\nrole = "base"\nthickness = "1e400 mm"\n'}, "line 3: gasket.b.thickness"),
    "huge count": ({"x.toml": f"[drawer.d]\nitems = [{{ gasket = 'thin', count = {2**63} }}]"}, "is a whole number beyond 64 bits"),
    "count of thousands of digits": ({"x.toml": f"[drawer.d]\nitems = [{{ gasket = 'thin', count = {'9' * 5000} }}]"}, "cannot be read"),
    "escape sequence in a text": ({"x.toml": GASKET.replace("thin", "b") + 'name = "\\u001b[2J"\n'}, "holds the control character U+001B"),
    "escape sequence in a key": ({"x.toml": '[gasket."\\u001b]0;x\\u0007"]\nrole = "base"\n'}, "holds the control character U+001B"),
    "escape sequence in the manifest": ({"pack.toml": MANIFEST.replace('"Club"', '"\\u009b31m"')}, "holds the control character U+009B"),
    "right-to-left override": ({"x.toml": GASKET.replace("thin", "b") + 'name = "\\u202emm"\n'}, "holds the control character U+202E"),
    "name of two lines": (
        {"x.toml": GASKET.replace("thin", "b") + 'name = "a\\nb"\n'},
        "club/x.toml: line 4: gasket.b.name must be one line",
    ),
    "title of two lines": ({"pack.toml": MANIFEST.replace('"Club"', '"a\\nb"')}, "club/pack.toml: line 4: title must be one line"),
    "csv of a million cells": ({"gasket.csv": "name,role\n" + "a,base\n" * 250_000}, "club/gasket.csv: holds more than 200000 cells"),
    "csv of one cell": ({"gasket.csv": "name\n" + "a" * 1_500_000}, "club/gasket.csv: is not CSV: field larger than field limit"),
    "csv of columns": ({"gasket.csv": "name," + "role," * 150_000}, "club/gasket.csv: line 1: has 150002 headings; at most 200 are read"),
    "csv escape": ({"gasket.csv": "name,role\nx,\x1b[2J\n"}, "club/gasket.csv: line 2: holds the control character U+001B; take it out"),
    "csv zero": ({"gasket.csv": "name,role\nx,\0\n"}, "club/gasket.csv: is not a text file (it holds zero bytes)"),
    "many problems": ({"x.toml": "".join(f"[crank.c{index}]\n" for index in range(9_900))}, "and more; mend these first"),
    "name of a file": ({"\x1b[2J.toml": ""}, "club: holds a file named '\\x1b[2J.toml'; names are printed, so rename it"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_content_is_refused_by_name(tmp_path: Path, name: str) -> None:
    files, said = HOSTILE[name]
    told = refusal(pack(tmp_path / "club", files))
    assert said in told
    # what is said can be printed, and is no flood
    assert told.replace("\n", "").isprintable()
    assert len(told) < 40_000


# --- files that are none ---------------------------------------------------------------------------------------------


def link(target: str) -> Callable[[Path], None]:
    return lambda path: path.symlink_to(target)


def sparse(path: Path) -> None:
    with path.open("wb") as stream:
        stream.truncate(1_000_000_000)


LEAVES = "is a link that leaves the pack's folder; a pack holds its files itself"
FILES: dict[str, tuple[Callable[[Path], None], str]] = {
    "1 GB": (sparse, "is larger than 2 MB, the most that is read"),
    "device": (link("/dev/zero"), LEAVES),
    "link out": (link("/etc/passwd"), LEAVES),
    "link up": (link("../secret.toml"), LEAVES),
    "link to itself": (link("x.toml"), "cannot be read"),
    "link to nothing": (link("nobody"), "is not there"),
    "pipe": (lambda path: os.mkfifo(path), "is not an ordinary file"),
    "folder": (lambda path: path.mkdir(), "is a folder, not a file"),
}


@pytest.mark.parametrize("name", FILES)
@pytest.mark.parametrize("place", ["x.toml", "gasket.csv", "checks/x.toml"])
def test_hostile_files_are_refused_by_name(tmp_path: Path, name: str, place: str) -> None:
    make, said = FILES[name]
    (tmp_path / "secret.toml").write_text(GASKET.replace("thin", "secret"))
    (tmp_path / "club").mkdir()
    (tmp_path / "club" / "checks").mkdir()
    folder = pack(tmp_path / "club", {})
    make(folder / place)
    if place.startswith("checks") and name in ("link up", "link to itself"):
        # these stay in the folder, and lead to nothing there
        said = "is not there" if name == "link up" else "cannot be read"
    if place == "gasket.csv" and name == "link to itself":
        said = "is not there"
    told = refusal(folder)
    assert said in told
    assert place in told


def test_a_folder_of_checks_that_leaves_the_pack(tmp_path: Path) -> None:
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "x.toml").write_text("secret = 1")
    folder = pack(tmp_path / "club", {})
    (folder / "checks").symlink_to("../elsewhere")
    assert LEAVES in refusal(folder)


def test_a_case_takes_parts_of_its_own_pack_alone(tmp_path: Path) -> None:
    from topend.packs.testing import conformance, pack_in

    case = 'format = 1\nsource = "s"\npacks = ["../other"]\n[expect]\nsquish_edge = { value = "1 mm", tolerance = "1 mm" }\n'
    folder = pack(tmp_path / "club", {"checks/x.toml": case})
    *_, check = conformance(pack_in(folder))
    assert "packs does not belong to a measured case" in str(check.trouble())


def test_memory_stays_bounded(tmp_path: Path) -> None:
    """All of it in one process that may have 600 MB of address space more than the imports took."""
    folders = []
    for index, (files, _) in enumerate(HOSTILE.values()):
        folders.append(str(pack(tmp_path / f"p{index}" / "club", files)))
    sparse(pack(tmp_path / "sparse", {}) / "x.toml")
    folders.append(str(tmp_path / "sparse"))
    code = """
import sys, resource, topend as te
te.Catalogue.load()
import topend.packs.csv_file
used = int(open("/proc/self/statm").read().split()[0]) * resource.getpagesize()
resource.setrlimit(resource.RLIMIT_AS, (used + 600 * 2**20,) * 2)
for folder in sys.argv[1:]:
    assert te.Catalogue.load(folder).problems, folder
print("bounded")
"""
    done = subprocess.run([sys.executable, "-c", code, *folders], capture_output=True, text=True, check=False, cwd=ROOT, timeout=300)
    assert done.stdout == "bounded\n", done.stderr[-2000:]


# --- ten thousand mutated packs --------------------------------------------------------------------------------------

GOOD: dict[str, bytes] = {
    "pack.toml": MANIFEST.encode(),
    "family.toml": b"""
[crank.c]
stroke = "39.3 mm +0.02/-0.01 mm"
[cylinder.b]
bore = { value = "47.6 mm \xc2\xb1 0.01 mm", basis = "measured", source = "s" }
ports = [{ kind = "exhaust", top = "22.3 mm" }]
studs = { count = 4, circle_diameter = "60 mm" }
[piston.p]
crown = { shape = "sphere", rise = "2.2 mm" }
[head.h]
kind = "spigot"
recess_offset = "-1 mm"
band = { outer_diameter = "47 mm", inner_diameter = "33 mm", angle = "9 deg" }
[drawer.d]
items = [{ gasket = "thin", count = 2 }, { gasket = { role = "head", thickness = "0.2 mm" } }]
""",
    "gasket.csv": "name,role,thickness [mm],thickness ± [mm],studs.count,studs.circle_diameter [mm]\nthin,base,0.3,0.01,4,60\n".encode(),
    "checks/x.toml": b'format = 1\nsource = "s"\nhead = "club/h"\n[expect]\nsquish_edge = { value = "1 mm", tolerance = "9 mm" }\n',
}
PIECES = [
    b"", b"\n", b"[", b"]", b"[[", b"{", b"}", b'"', b"'", b'"""', b"=", b".", b",", b"#", b"\\", b"\\u0000", b"\0", b"\xff", b"\x1b[2J",
    b"nan", b"inf", b"-1", b"9999999999999999999999", b"true", b"2024-01-01", b"1 mm", b"1 kg", b"name", b"value", b"checks", b"../", b"\xe2\x80\xae",
    b"[head.h]\n", b"[gasket.thin]\n", b"a.b.c.d = 1\n", b"built = { head = ['x'] }\n", b"format = 0\n", b"name,role\n", b"source basis [mm]",
]  # fmt: skip


def mutated(data: st.DataObject) -> dict[str, bytes]:
    files = copy.copy(GOOD)
    for _ in range(data.draw(st.integers(1, 4))):
        name = data.draw(st.sampled_from(sorted(files)))
        text = files[name]
        start = data.draw(st.integers(0, len(text)))
        end = start + data.draw(st.sampled_from([0, 0, 1, 2, 5, 20, 80]))
        piece = data.draw(st.sampled_from(PIECES) | st.binary(max_size=6))
        how = data.draw(st.sampled_from(["replace", "replace", "replace", "repeat", "move", "swap", "empty"]))
        if how == "replace":
            text = text[:start] + piece + text[end:]
        elif how == "repeat":
            text = text[:end] + text[start:end] * data.draw(st.integers(1, 40)) + text[end:]
        elif how == "move":
            place = data.draw(st.integers(0, len(text)))
            text = text[:place] + text[start:end] + text[place:]
        elif how == "swap":
            other = data.draw(st.sampled_from(sorted(files)))
            text, files[other] = files[other], text
        else:
            text = b""
        files[name] = text
    return files


def outcome(folder: Path, files: dict[str, bytes]) -> int:
    """How many parts a pack gives; whatever is wrong with it must be told as a PackError and nothing else."""
    for name, text in files.items():
        (folder / name).write_bytes(text)
    try:
        catalogue = te.Catalogue.load(folder)
        listed = list(catalogue)
        str(catalogue.problems)
        parts = dict(catalogue.items())
        assert set(parts) <= set(listed) or catalogue.problems
        if parts:
            assert list(parts) == list(catalogue)
            for name, part in parts.items():
                assert type(part).model_validate_json(part.model_dump_json()) == part, name
        for finding in catalogue.findings:
            assert finding.message
    except te.PackError:
        return 0
    return len(parts)


@settings(max_examples=1000)
@given(data=st.data())
def test_a_thousand_mutated_packs_raise_nothing_but_pack_errors(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    folder = tmp_path_factory.getbasetemp() / "mutated"
    (folder / "checks").mkdir(parents=True, exist_ok=True)
    outcome(folder, mutated(data))


@pytest.mark.long
@settings(max_examples=10_000)
@given(data=st.data())
def test_ten_thousand_mutated_packs_raise_nothing_but_pack_errors(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    folder = tmp_path_factory.getbasetemp() / "mutated"
    (folder / "checks").mkdir(parents=True, exist_ok=True)
    outcome(folder, mutated(data))


def test_some_mutated_packs_are_good_and_some_are_not(tmp_path: Path) -> None:
    """So that the mutations are neither all harmless nor all fatal: else the tests above would show little."""
    draw = random.Random(5)
    (tmp_path / "checks").mkdir()
    assert outcome(tmp_path, GOOD) == 6
    counts: list[int] = []
    for _ in range(200):
        files: dict[str, Any] = dict(GOOD)
        name = draw.choice(sorted(files))
        start = draw.randrange(len(files[name]))
        files[name] = files[name][:start] + draw.choice(PIECES) + files[name][start + draw.choice([0, 1, 5]) :]
        counts.append(outcome(tmp_path, files))
    assert 10 < sum(count > 0 for count in counts) < 190
