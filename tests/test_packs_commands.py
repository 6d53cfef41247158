"""``topend packs ...``: what each command prints, how it exits, and what it says of mistakes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from topend import cli
from topend.packs.schema import pack_schema

ROOT = Path(__file__).resolve().parent.parent
FELLSIDE = ROOT / "datapacks" / "fellside"


class Ran:
    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


@pytest.fixture
def says(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.delenv("TOPEND_PACKS", raising=False)
    monkeypatch.chdir(tmp_path)

    def call(*arguments: object) -> Ran:
        code = cli.main(["packs", *map(str, arguments)])
        heard = capsys.readouterr()
        return Ran(code, heard.out, heard.err)

    return call


def test_list(says, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    ran = says("list", "--packs", FELLSIDE)
    assert (ran.code, ran.err) == (0, "")
    assert (
        ran.out == f"fellside 1.0.0     58 parts  Fellside (invented demo workshop)\n                a folder that was given: {FELLSIDE}\n"
    )
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "pack.toml").write_text('format = 1\nid = "a"\nversion = "1"\ntitle = "\\u001b[2J"\n')
    monkeypatch.setenv("TOPEND_PACKS", str(tmp_path / "bad"))
    ran = says("list")
    assert ran.code == 0
    assert ran.out.startswith(
        "no packs found; give a folder with --packs, name folders in TOPEND_PACKS, or install a pack\n\ncannot be used:\n"
    )
    assert "bad/pack.toml: line 4: title holds the control character U+001B" in ran.out
    assert "\x1b" not in ran.out
    told = json.loads(says("list", "--packs", FELLSIDE, "--json").out)
    assert [pack["id"] for pack in told["packs"]] == ["fellside"]
    assert len(told["problems"]) == 1


def test_show_a_pack(says) -> None:
    ran = says("show", "fellside", "--packs", FELLSIDE)
    assert ran.code == 0
    assert "licence      MIT" in ran.out
    assert "source       invented: Made up for demonstration" in ran.out
    assert "cylinder (3)\n  fellside/rigg50-barrel\n" in ran.out
    told = json.loads(says("show", "fellside", "--packs", FELLSIDE, "--json").out)
    assert len(told["holds"]["cylinder"]) == 3
    assert len(told["digest"]) == 64


def test_show_a_part(says) -> None:
    ran = says("show", "fellside/rigg50-barrel", "--packs", FELLSIDE)
    assert ran.out.startswith("fellside/rigg50-barrel (cylinder), of fellside 1.0.0, sha256 ")
    assert re.search(r"^bore +40\.01 mm ± 0\.01 mm$", ran.out, flags=re.MULTILINE)
    assert max(map(len, ran.out.splitlines())) <= 80
    told = "the piston (46.940 mm) is wider than the bore\n      (40.010 mm) by 6.930 mm\n"
    assert f"\ndoes not:\n  fellside/scree70-piston-cone: {told}" in ran.out
    assert "\ncannot be told:\n  fellside/rigg50-base-010: skirt and opening not given\n" in ran.out
    told = json.loads(says("show", "fellside/rigg50-barrel", "--packs", FELLSIDE, "--json").out)
    assert told["part"]["bore"] == "40.01 mm ± 0.01 mm"
    assert set(told["fitting"]) == {"fits", "misfits", "undecided", "not_judged"}
    assert "fitting" not in json.loads(says("show", "fellside/rigg50-crank", "--packs", FELLSIDE, "--json").out)


def test_what_is_not_there(says) -> None:
    for name, said in (
        ("nobody", "no pack is called 'nobody' in pack fellside"),
        ("fellside/rigg50-barel", "nearest: fellside/rigg50-barrel"),
    ):
        ran = says("show", name, "--packs", FELLSIDE)
        assert (ran.code, ran.out) == (2, "")
        assert said in ran.err
    ran = says("check", "gone")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == "topend: gone: is not there; give the folder that holds pack.toml\n"


def test_new_then_check_then_break(says, tmp_path: Path) -> None:
    ran = says("new", "mine")
    assert ran.code == 0
    assert ran.out == "made:\n  mine/README.md\n  mine/checks/first-fit.toml\n  mine/family.toml\n  mine/gasket.csv\n  mine/pack.toml\n"
    ran = says("check", "mine")
    assert ran.code == 0
    assert ran.out.startswith("mine 0.1.0 (mine)\n  kept      reads\n")
    case = tmp_path / "mine" / "checks" / "first-fit.toml"
    case.write_text(case.read_text().replace('"0.86 mm"', '"0.96 mm"'))
    ran = says("check", "mine")
    assert ran.code == 1
    assert (
        "  NOT KEPT  checks/first-fit.toml\n            mine/checks/first-fit.toml: squish_edge comes out as 0.86 mm, 0.1 mm off 0.96 mm"
        in ran.out
    )
    ran = says("check", "mine", "--json")
    assert ran.code == 1
    told = json.loads(ran.out)
    assert told["kept"] is False
    assert [check["check"] for check in told["checks"] if not check["kept"]] == ["checks/first-fit.toml"]


def test_what_cannot_be_read_is_told_once(says, tmp_path: Path) -> None:
    says("new", "mine")
    table = tmp_path / "mine" / "gasket.csv"
    table.write_text(table.read_text().replace("material,thickness [mm]", "material,thickness"))
    ran = says("check", "mine")
    assert ran.code == 1
    assert ran.out.count("gasket.base-030.thickness needs a length") == 1
    assert 'Units: mm, cm, m, um, µm, in, thou. In a CSV table the heading has the unit: "thickness [UNIT]"\n' in ran.out
    for check in ("lists what it holds", "parts go through JSON and back", "checks/first-fit.toml"):
        assert f"  NOT KEPT  {check}\n            cannot be told: the pack does not read\n" in ran.out


def test_new_writes_nothing_where_it_cannot(says, tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "x").write_text("mine")
    for folder, said in (
        ("full", "full: is there already and not empty; a new pack is made in a folder of its own"),
        ("a b", "a b: the folder's name becomes the pack's id, and cannot be a name"),
        ("no/where", "no/where: cannot be made: there is no folder no"),
    ):
        ran = says("new", folder)
        assert (ran.code, ran.out) == (2, "")
        assert said in ran.err
    assert says("new", "ends-", "--package").code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["full"]
    assert (tmp_path / "full" / "x").read_text() == "mine"


def test_schema(says) -> None:
    assert json.loads(says("schema").out) == pack_schema()


@pytest.mark.parametrize("command", [(), ("list",), ("show",), ("check",), ("new",), ("schema",)])
def test_help_fits_the_terminal(says, command: tuple[str, ...]) -> None:
    ran = says(*command, "--help")
    assert ran.code == 0
    assert max(map(len, ran.out.splitlines())) <= 80
    if command:
        assert "Example: topend packs " in ran.out
