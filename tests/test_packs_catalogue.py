"""The catalogue: what is listed without reading, what is read when, how packs are found, and what a broken one leaves alone."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import os
import pickle
import subprocess
import sys
import textwrap
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topend as te
from topend.packs.folder import KINDS_OF_PART
from topend.packs.listing import headings, names_in

ROOT = Path(__file__).resolve().parent.parent
CODE_RAN = "print('code ran')\n"


def pack(folder: Path, name: str, parts: str = '[crank.low]\nstroke = "39.3 mm"\n', more: str = "") -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    source = '\n[[source]]\nkind = "invented"\ntitle = "t"\n'
    (folder / "pack.toml").write_text(f'id = "{name}"\nversion = "1.0"\nformat = 1\ntitle = "T"\nlicence = "CC0-1.0"\n{more}{source}')
    (folder / "parts.toml").write_text(parts)
    return folder


def installed(site: Path, name: str, entry: str, folder: Path | None = None, version: str = "1.0") -> None:
    """A distribution as pip leaves it; with `folder`, one installed for editing from there."""
    info = site / f"{name}-{version}.dist-info"
    info.mkdir(parents=True)
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n")
    (info / "entry_points.txt").write_text(f"[topend]\n{entry}\n")
    if folder is not None:
        (info / "direct_url.json").write_text(f'{{"url": "{folder.as_uri()}", "dir_info": {{"editable": true}}}}')


@pytest.fixture(autouse=True)
def _nothing_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("TOPEND_PACKS", raising=False)


# --- reading when asked ----------------------------------------------------------------------------------------------


def test_listing_reads_no_part_and_one_part_reads_one_pack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    catalogue = te.Catalogue.load(*(pack(tmp_path / f"p{index}", f"p{index}") for index in range(5)))
    made: list[str] = []
    monkeypatch.setattr("topend.packs.folder._read", _noting(made, "topend.packs.folder._read"))
    assert list(catalogue) == [f"p{index}/low" for index in range(5)]
    assert len(catalogue) == 5
    assert "p3/low" in catalogue
    assert catalogue.of("crank") == list(catalogue)
    assert repr(catalogue) == f"Catalogue({', '.join(f'p{index} 1.0: 1 parts' for index in range(5))})"
    assert catalogue.findings == ()
    assert made == []
    assert catalogue["p3/low"] is catalogue["p3/low"]
    assert made == ["p3"]
    assert dict(catalogue).keys() == set(catalogue)
    assert sorted(made) == ["p0", "p1", "p2", "p3", "p4"]


def _noting(made: list[str], name: str) -> Any:
    from topend.packs import folder

    real = folder._read

    def read(path: Path, *others: Any) -> Any:
        made.append(path.name)
        return real(path, *others)

    return read


def test_one_part_opens_the_files_of_its_own_pack_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    catalogue = te.Catalogue.load(*(pack(tmp_path / f"p{index}", f"p{index}") for index in range(5)))
    opened: list[str] = []
    real = Path.open

    def noting(self: Path, *arguments: Any, **named: Any) -> Any:
        opened.append(self.parent.name)
        return real(self, *arguments, **named)

    monkeypatch.setattr(Path, "open", noting)
    catalogue["p3/low"]
    assert set(opened) == {"p3"}


PIECES = st.sampled_from(
    [
        '[crank.a]\nstroke = "1 mm"\n', '[head.b]\nkind = "flush"\n', '[head.b.band]\nangle = "9 deg"\n', '[[cylinder.c.ports]]\nkind = "exhaust"\n',
        "[crank.d] # here\n", "  [crank.e]\n", "[ crank . f ]\n", '[crank."g"]\n', "[crank]\n", "crank.h.stroke = 1\n", 'x = """\n[crank.i]\n"""\n',
        "x = '''\n[crank.j]\n'''\n", "y = [\n[1.2]\n]\n", "y = [\n  [1],\n]\n", "# [crank.k]\n", "\n", "[[crank.l]]\n", "[nothing.m]\n", "[crank.n.o.p]\n",
        'gasket = { q = { role = "base" } }\n', "[piston.r]\r\n",
    ]
)  # fmt: skip


@settings(max_examples=300)
@given(pieces=st.lists(PIECES, max_size=6))
def test_headings_give_what_reading_gives_or_nothing(pieces: list[str]) -> None:
    """Outside check: tomllib reads the same names out of every file that it can read."""
    import tomllib

    text = "".join(pieces)
    told = headings(text, KINDS_OF_PART)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    if told is not None:
        assert told == names_in(table, KINDS_OF_PART)


def test_odd_files_are_listed_by_reading_them(tmp_path: Path) -> None:
    text = 'crank.dotted.stroke = "40 mm"\n[gasket]\nthin = { role = "base", thickness = "0.3 mm" }\n[crank."low"]\nstroke = "40 mm"\n'
    assert headings(text, KINDS_OF_PART) is None
    catalogue = te.Catalogue.load(pack(tmp_path / "p", "p", text))
    assert list(catalogue) == ["p/dotted", "p/low", "p/thin"]
    catalogue["p/low"]
    assert list(catalogue) == ["p/dotted", "p/low", "p/thin"]


# --- what is broken takes nothing else down --------------------------------------------------------------------------


def test_a_broken_pack_takes_no_other_down(tmp_path: Path) -> None:
    good = pack(tmp_path / "good", "good")
    bad = pack(tmp_path / "bad", "bad", "[crank.low]\nstroke = 39.3\n[head.fine]\nkind = 'flush'\n")
    worse = pack(tmp_path / "worse", "worse", more="surprise = 1\n")
    catalogue = te.Catalogue.load(bad, worse, good)
    assert list(catalogue) == ["bad/low", "bad/fine", "good/low"]
    assert isinstance(catalogue["good/low"], te.Crank)
    for _ in range(2):
        with pytest.raises(te.PackError, match=r"bad/parts.toml: line 2: crank.low.stroke needs a length, such as \"39.3 mm\""):
            catalogue["bad/fine"]
    # once it is known to be broken it is no longer listed
    assert list(catalogue) == ["good/low"]
    assert list(catalogue.items()) == [("good/low", catalogue["good/low"])]
    assert list(catalogue.values()) == [catalogue["good/low"]]
    told = [str(problem).replace(f"{tmp_path}/", "") for problem in catalogue.problems]
    assert told[0].startswith("worse/pack.toml: line 6: surprise is not a key of pack.toml")
    assert told[1].startswith("bad/parts.toml: line 2: crank.low.stroke needs a length")
    assert len(told) == 2
    with pytest.raises(te.UnknownNameError, match=r"no part is called 'worse/low' .* \(1 could not be used: .*worse/pack.toml\)"):
        catalogue["worse/low"]


def test_going_through_all_parts_passes_a_broken_pack_over(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(pack(tmp_path / "bad", "bad", "[crank.low]\n"), pack(tmp_path / "good", "good"))
    assert [name for name, _ in catalogue.items()] == ["good/low"]
    assert catalogue.of(te.Crank) == ["good/low"]


def test_two_packs_of_one_id_found_are_named_and_neither_is_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two, three = pack(tmp_path / "one", "club"), pack(tmp_path / "two", "club"), pack(tmp_path / "three", "other")
    monkeypatch.setenv("TOPEND_PACKS", os.pathsep.join(map(str, (one, two, three))))
    catalogue = te.Catalogue.discover()
    assert list(catalogue) == ["other/low"]
    (problem,) = catalogue.problems
    said = f"{two}/pack.toml: line 1: id is 'club', the id of the pack in {one}/pack.toml too; ids must differ, so load one of the two"
    assert str(problem) == said
    for ask in (lambda: catalogue["club/low"], lambda: catalogue.pack("club")):
        with pytest.raises(te.PackError) as caught:
            ask()
        assert str(caught.value) == said
    # and what is given joins what was found without hiding that
    assert str(te.Catalogue.load(three).joined(catalogue).problems[0]) == said
    with pytest.raises(te.PackError, match="ids must differ"):
        te.Catalogue.load(one).joined(te.Catalogue.load(two))


# --- finding ---------------------------------------------------------------------------------------------------------


def test_the_environment_names_packs_and_folders_of_packs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pack(tmp_path / "shelf" / "b", "b")
    pack(tmp_path / "shelf" / "a", "a")
    (tmp_path / "shelf" / "notes").mkdir()
    single = pack(tmp_path / "single", "c")
    monkeypatch.setenv(
        "TOPEND_PACKS", f"{tmp_path / 'shelf'}{os.pathsep}{os.pathsep}{single}{os.pathsep}relative{os.pathsep}{tmp_path / 'gone'}"
    )
    catalogue = te.Catalogue.discover(pack(tmp_path / "given", "d"))
    assert [(each.id, each.found) for each in catalogue.packs] == [
        ("d", "a folder that was given"),
        ("a", f"TOPEND_PACKS: {tmp_path / 'shelf'}"),
        ("b", f"TOPEND_PACKS: {tmp_path / 'shelf'}"),
        ("c", f"TOPEND_PACKS: {single}"),
    ]
    assert [str(problem) for problem in catalogue.problems] == [
        "TOPEND_PACKS: names 'relative'; folders are named in full, from the root",
        f"{tmp_path / 'gone'}: is not there; give the folder that holds pack.toml",
    ]
    # `load` looks nowhere else
    assert list(te.Catalogue.load(tmp_path / "given")) == ["d/low"]


def test_installed_packs_are_found_without_running_their_code(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    site = tmp_path / "site"
    installed(site, "data-only", "plain = plain_parts")
    (pack(site / "plain_parts", "plain") / "__init__.py").write_text(CODE_RAN)
    installed(site, "with-code", "clever = clever_parts.hooks")
    folder = pack(site / "clever_parts", "clever", more='built = { head = ["made"] }\n')
    (folder / "__init__.py").write_text(CODE_RAN)
    hooks = "from topend.packs import *\nfrom topend.parts import FlushHead\n@hookimpl\ndef topend_parts():\n    yield BuiltPart('made', FlushHead())\n"
    (folder / "hooks.py").write_text(CODE_RAN + hooks)
    monkeypatch.syspath_prepend(site)
    catalogue = te.Catalogue.discover()
    assert [each.found for each in catalogue.packs] == ["installed: with-code 1.0", "installed: data-only 1.0"]
    assert list(catalogue) == ["clever/low", "clever/made", "plain/low"]
    assert catalogue["plain/low"].provenance[0].pack == "plain"
    assert capsys.readouterr().out == ""
    assert catalogue["clever/made"].name == "clever/made"
    assert capsys.readouterr().out == "code ran\n" * 2
    assert "plain_parts" not in sys.modules
    # as a plain folder the same pack runs nothing, and says what it leaves out
    alone = te.Catalogue.load(folder)
    assert list(alone) == ["clever/low"]
    assert [finding.code for finding in alone.findings] == ["built_parts_left_out"]
    for name in ("clever_parts", "clever_parts.hooks"):
        del sys.modules[name]


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (
            "x = nobody",
            "pack x (odd 1.0): entry point names nobody, but the distribution has no folder of that name with a pack.toml in it",
        ),
        ("x = odd_parts:thing", "pack x (odd 1.0): entry point must name a package, or a module in one; got 'odd_parts:thing'"),
        ("y = odd_parts", "odd_parts/pack.toml: id is 'x', but the entry point of odd 1.0 is named 'y'"),
    ],
)
def test_entry_points_that_lead_nowhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, entry: str, said: str) -> None:
    installed(tmp_path, "odd", entry)
    pack(tmp_path / "odd_parts", "x")
    monkeypatch.syspath_prepend(tmp_path)
    catalogue = te.Catalogue.discover()
    assert [str(problem).replace(f"{tmp_path}/", "") for problem in catalogue.problems] == [said]
    assert list(catalogue) == []


def test_a_pack_installed_for_editing_is_found_in_its_sources(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    installed(tmp_path / "site", "edited", "edited = edited_parts", folder=tmp_path / "project")
    pack(tmp_path / "project" / "src" / "edited_parts", "edited")
    # what a .pth file does
    monkeypatch.syspath_prepend(tmp_path / "project" / "src")
    monkeypatch.syspath_prepend(tmp_path / "site")
    assert list(te.Catalogue.discover()) == ["edited/low"]


def test_nothing_is_searched_in_the_working_folder(tmp_path: Path) -> None:
    """A pack there, a distribution there, and a package there that bears the name of one installed elsewhere."""
    work = pack(tmp_path / "work", "here")
    installed(work, "here", "here = here_parts")
    pack(work / "here_parts", "here")
    installed(tmp_path / "site", "edited", "edited = edited_parts", folder=tmp_path / "project")
    pack(work / "edited_parts", "edited")
    code = "import topend as te; made = te.Catalogue.discover(); print(list(made), [str(one) for one in made.problems])"
    environment = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{tmp_path / 'site'}"}
    done = subprocess.run([sys.executable, "-c", code], cwd=work, env=environment, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("[] ['pack edited (edited 1.0): entry point names edited_parts, but"), done.stdout


# --- provenance ------------------------------------------------------------------------------------------------------


def test_provenance_travels_with_every_result(tmp_path: Path) -> None:
    text = '[head.flush]\nkind = "flush"\n[gasket.thin]\nrole = "head"\nthickness = "0.3 mm"\n[drawer.d]\nitems = [{ gasket = "thin" }]\n'
    catalogue = te.Catalogue.load(pack(tmp_path / "club", "club", text))
    head, thin, drawer = (catalogue[f"club/{name}"] for name in ("flush", "thin", "d"))
    top = te.TopEnd(deck=te.DeckReading(clearance="0.7 mm", base_thickness="0 mm"), head=head, base_gaskets=[], head_gaskets=[thin])
    result = te.evaluate(top)
    digest = catalogue.packs[0].digest
    assert len(digest) == 64
    assert [(each.part, each.version, each.digest, each.changed) for each in result.provenance] == [
        ("club/flush", "1.0", digest, False),
        ("club/thin", "1.0", digest, False),
    ]
    # a part in a drawer, a copy, a changed part, a fit
    assert isinstance(drawer, te.GasketSet)
    assert drawer.items[0].gasket.provenance[0].part == "club/thin"
    assert pickle.loads(pickle.dumps(result.top)).provenance == result.provenance
    changed = te.evaluate(top.replace({"head.recess_offset": "0.1 mm"}))
    assert [(each.part, each.changed) for each in changed.provenance] == [("club/flush", True), ("club/thin", False)]
    fits = te.fit_gaskets(top.replace(head_gaskets=None), drawer, squish_edge=("1.0 mm", "0.1 mm"), least_gap=None, base_count=(0, 0))
    assert [each.part for each in fits.best[0].result.provenance] == ["club/flush", "club/thin"]
    # a part made by hand is from nowhere, and equal all the same
    assert te.FlushHead(name="club/flush") == head
    assert te.FlushHead().provenance == ()


def test_a_job_keeps_the_provenance_of_parts_that_it_changes(tmp_path: Path) -> None:
    folder = pack(tmp_path / "club", "club")
    job = tmp_path / "job.toml"
    job.write_text('format = 1\npacks = ["club"]\n[crank]\npart = "club/low"\nstroke = "40 mm"\n')
    read = te.load_job(job)
    (provenance,) = te.evaluate(read.top).provenance
    assert (provenance.part, provenance.changed) == ("club/low", True)
    assert read.packs[0].digest == te.Catalogue.load(folder).packs[0].digest


def test_the_digest_is_of_the_content(tmp_path: Path) -> None:
    folder = pack(tmp_path / "club", "club")

    def digest() -> str:
        return te.Catalogue.load(folder).packs[0].digest

    first = digest()
    # line ends and a mark at the beginning say nothing
    text = (folder / "parts.toml").read_text()
    (folder / "parts.toml").write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode())
    assert digest() == first
    (folder / "README.md").write_text("for people")
    assert digest() == first
    seen = {first}
    for name, content in (("parts.toml", text + "# c"), ("more.toml", ""), ("gasket.csv", "name,role\n"), ("checks/x.toml", "")):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(content)
        seen.add(digest())
    assert len(seen) == 5


# --- tables of figures -----------------------------------------------------------------------------------------------


def test_figures_say_where_they_are_from(tmp_path: Path) -> None:
    text = """
    [piston.p]
    basis = "measured"
    diameter = { value = "47.5 mm ± 0.01 mm", basis = "published", source = "sheet 3" }
    crown = { shape = "sphere", rise = { value = "2 mm", basis = "derived" } }
    [cylinder.c]
    ports = [{ kind = "exhaust", top = { value = "22 mm", source = "rubbing" } }]
    """
    catalogue = te.Catalogue.load(pack(tmp_path / "p", "p", textwrap.dedent(text)))
    piston, cylinder = catalogue["p/p"], catalogue["p/c"]
    assert piston.basis == "measured"
    assert isinstance(piston, te.Piston)
    assert piston.diameter is not None
    assert piston.diameter.stated_limits is not None
    assert {path: (origin.basis, origin.source) for path, origin in piston.origins.items()} == {
        "diameter": ("published", "sheet 3"),
        "crown.rise": ("derived", None),
    }
    assert cylinder.origins["ports.0.top"].source == "rubbing"
    assert set(piston.replace(diameter="48 mm").origins) == {"crown.rise"}


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (
            '{ value = "1 mm", bases = "measured" }',
            "line 2: crank.c.stroke.bases does not belong to a figure, which has value, basis, source",
        ),
        (
            '{ value = "1 mm", basis = "guessed" }',
            "line 2: crank.c.stroke.basis must be one of measured, published, derived, estimated, invented; got 'guessed'",
        ),
        ('{ value = "1 mm", source = 3 }', "line 2: crank.c.stroke.source must be a text; got 3"),
        ("{ value = 1 }", 'line 2: crank.c.stroke needs a length, such as "1 mm"; got the bare number 1.'),
    ],
)
def test_figures_that_do_not(tmp_path: Path, written: str, said: str) -> None:
    (problem,) = te.Catalogue.load(pack(tmp_path / "p", "p", f"[crank.c]\nstroke = {written}\n")).problems
    assert str(problem).startswith(f"{tmp_path}/p/parts.toml: {said}")


TABLE = """name,role,material,thickness [mm],fitted_thickness [mm],fitted_thickness + [mm],fitted_thickness - [mm],thickness source,thickness basis
thin,base,fibre,0.30,0.27,0.01,0.02,micrometer,measured

thick,base,,0.5,,,,,
"""


def test_a_csv_table_reads_as_toml_does(tmp_path: Path) -> None:
    folder = pack(tmp_path / "p", "p")
    (folder / "gasket.fibre.csv").write_text(TABLE)
    (folder / "cylinder.csv").write_text("name,bore [mm],bore ± [mm],ports.0.kind,ports.0.top [mm],ports.1.kind,ports.1.top [in],studs.count,studs.circle_diameter [mm]\nb,47.6,0.01,exhaust,22,transfer,1.2,4,60\n")  # fmt: skip
    catalogue = te.Catalogue.load(folder)
    assert list(catalogue) == ["p/b", "p/thin", "p/thick", "p/low"]
    assert catalogue["p/thin"] == te.Gasket(
        name="p/thin", role="base", material="fibre", thickness="0.30 mm", fitted_thickness="0.27 mm +0.01/-0.02 mm"
    )
    assert catalogue["p/thin"].origins["thickness"].source == "micrometer"
    assert catalogue["p/thick"] == te.Gasket(name="p/thick", role="base", thickness="0.5 mm")
    assert catalogue["p/b"] == te.Cylinder(
        name="p/b",
        bore="47.6 mm ± 0.01 mm",
        ports=[te.Port(kind="exhaust", top="22 mm"), te.Port(kind="transfer", top="1.2 in")],
        studs={"count": 4, "circle_diameter": "60 mm"},
    )
    assert list(catalogue) == ["p/b", "p/thin", "p/thick", "p/low"]


@pytest.mark.parametrize(
    ("file", "text", "said"),
    [
        ("gasket.csv", "role,name\nbase,a\n", "line 1: must have name as its first heading; got 'role'"),
        ("gasket.csv", "", 'is empty; its first line holds the headings, such as: name,role,"thickness [mm]"'),
        ("gasket.csv", "name,Thickness (mm)\na,1\n", "line 1: 'Thickness (mm)' is not a heading: a field's name and its unit"),
        ("gasket.csv", "name,role,role\na,base,base\n", "line 1: role stands twice among the headings"),
        ("gasket.csv", "name,thickness ±\na,1\n", "line 1: thickness ± is a limit and needs its unit, such as [mm]"),
        ("gasket.csv", "name,role\na\n", "line 2: has 1 cells under 2 headings"),
        ("gasket.csv", 'name,role\na,"base\n', "is not CSV: unexpected end of data"),
        ("gasket.csv", "name,role,thickness [mm]\na,base,1\na,base,1\n", "line 3: gasket.a has the same name as the part in line 2"),
        (
            "gasket.csv",
            'name,role,thickness [mm]\na,base,"0,3"\n',
            "line 2: gasket.a.thickness [mm] must be a number, in the mm of its heading; got '0,3'; decimals are written with a point",
        ),
        ("gasket.csv", "name,role,thickness ± [mm]\na,base,0.1\n", "line 2: gasket.a.thickness has limits, a source or a basis, but no figure"),
        ("gasket.csv", "name,role,thickness [kg]\na,base,0.1\n", "line 2: gasket.a.thickness needs a length"),
        ("gasket.csv", "name,role,thickness\na,base,0.1\n", "line 2: gasket.a.thickness needs a length, such as \"0.1 mm\"; got '0.1', a number without a unit"),
        ("gasket.csv", "name,role,thickness [mm]\na b,base,0.1\n", "line 2: gasket.a b cannot be a name"),
        ("cylinder.csv", "name,ports.1.kind,ports.1.top [mm]\na,exhaust,22\n", "line 2: cylinder.a has entries 1; they must count from 0 without a gap"),
        ("head.csv", "name,kind,band [mm],band.angle [deg]\na,flush,3,9\n", "line 2: head.a.band.angle is a figure in one heading and holds others"),
        ("drawer.csv", "name\na\n", "is a table of 'drawer'; a CSV file is named for its kind of part, such as gasket.csv or gasket.fibre.csv"),
    ],
)  # fmt: skip
def test_what_is_wrong_in_a_csv_table(tmp_path: Path, file: str, text: str, said: str) -> None:
    folder = pack(tmp_path / "p", "p")
    (folder / file).write_text(text)
    (problem,) = te.Catalogue.load(folder).problems
    assert said in str(problem)
    assert str(problem).startswith(f"{folder / file}: ")


def test_a_single_part_file_is_read_on_its_own(tmp_path: Path) -> None:
    file = tmp_path / "x.toml"
    file.write_text('[gasket.thin]\nrole = "base"\nthickness = { value = "0.3 mm", basis = "measured" }\n')
    (part,) = te.Catalogue.load().read(file).values()
    assert part.name == "thin"
    assert part.provenance == ()
    assert part.origins["thickness"].basis == "measured"
    file.write_text("[gasket.thin]\n")
    with pytest.raises(te.PackError, match=r"x.toml: 2 problems\n  - line 1: gasket.thin.role is missing"):
        te.Catalogue.load().read(file)
    with pytest.raises(te.PackError, match=r"has the suffix '.odd'; what can be read is .toml"):
        te.Catalogue.load().read(tmp_path / "x.odd")
