"""Data packs from folders: what a good one gives, and what is said of every kind of bad one."""

from __future__ import annotations

import json
import os
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import topend as te
from topend.packs.folder import KINDS_OF_PART
from topend.packs.key_lines import key_lines
from topend.packs.toml_file import MOST_BYTES, TomlFile

MANIFEST = """id = "club"
version = "1.2"
format = 1
title = "Club bench"
licence = "CC0-1.0"
maintainers = ["somebody"]

[[source]]
kind = "invented"
title = "made up for this test"
"""
PARTS = """
[crank.low]
stroke = "39.3 mm"
rod_length = "85 mm ± 0.1 mm"

[cylinder.barrel]
bore = "47.6 mm ± 0.01 mm"
ports = [{ kind = "exhaust", top = "22.3 mm" }]

[piston.dome]
name = "the domed one"
[piston.dome.crown]
shape = "sphere"
rise = "2.2 mm"

[head.drop]
kind = "spigot"
recess_offset = "-1 mm"

[head.flat]
kind = "flush"

[gasket.base-03]
role = "base"
thickness = "0.3 mm"

[drawer.all]
items = [{ gasket = "base-03", count = 2 }, { gasket = "club/base-03" }, { gasket = { role = "head", thickness = "0.2 mm" } }]
"""


def pack(folder: Path, files: dict[str, str | bytes] | None = None, manifest: str | bytes | None = MANIFEST) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in {**({} if manifest is None else {"pack.toml": manifest}), **(files or {})}.items():
        (folder / name).write_bytes(text.encode() if isinstance(text, str) else text)
    return folder


def refusal(folder: Path) -> str:
    """What is said of a pack that cannot be used, with the folder above it taken out."""
    (problem,) = te.Catalogue.load(folder).problems
    assert isinstance(problem, te.PackError)
    assert isinstance(problem, ValueError)
    return str(problem).replace(f"{folder.parent}/", "")


def refused_at_once(folder: Path) -> str:
    """The same of a folder that holds no pack at all."""
    with pytest.raises(te.PackError) as caught:
        te.Catalogue.load(folder)
    return str(caught.value).replace(f"{folder.parent}/", "")


# --- what a good pack gives ------------------------------------------------------------------------------------------


def test_a_catalogue_is_a_mapping_of_exact_ids(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(str(pack(tmp_path / "club", {"parts.toml": PARTS})))
    assert list(catalogue) == [
        "club/low",
        "club/barrel",
        "club/dome",
        "club/drop",
        "club/flat",
        "club/base-03",
        "club/all",
    ]
    assert len(catalogue) == 7
    assert "club/low" in catalogue
    assert "club/LOW" not in catalogue
    assert catalogue.get("club/nobody") is None
    crank = catalogue["club/low"]
    assert isinstance(crank, te.Crank)
    assert crank.rod_length == te.Crank(stroke="1 mm", rod_length="85 mm ± 0.1 mm").rod_length
    assert repr(catalogue) == "Catalogue(club 1.2: 7 parts)"
    assert catalogue.findings == ()


def test_parts_by_kind_and_by_class(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(pack(tmp_path / "club", {"parts.toml": PARTS}))
    assert catalogue.of("head") == ["club/drop", "club/flat"]
    assert catalogue.of(te.SpigotHead) == ["club/drop"]
    assert catalogue.of("drawer") == catalogue.of(te.GasketSet) == ["club/all"]
    with pytest.raises(te.UnknownNameError) as caught:
        catalogue.of("heads")
    assert str(caught.value) == f"no kind of part is called 'heads' in {', '.join(KINDS_OF_PART)}; nearest: head"


def test_a_part_without_a_name_carries_its_id(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(pack(tmp_path / "club", {"parts.toml": PARTS}))
    assert catalogue["club/drop"].name == "club/drop"
    assert catalogue["club/dome"].name == "the domed one"


def test_a_drawer_holds_gaskets_by_name_by_id_and_inline(tmp_path: Path) -> None:
    drawer = te.Catalogue.load(pack(tmp_path / "club", {"parts.toml": PARTS}))["club/all"]
    assert isinstance(drawer, te.GasketSet)
    assert [(item.gasket.role, item.count) for item in drawer.items] == [("base", 2), ("base", 1), ("head", 1)]
    assert drawer.items[0].gasket.name == "club/base-03"


def test_the_manifest(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(pack(tmp_path / "club"))
    manifest = catalogue.pack("club")
    assert (manifest.id, manifest.version, manifest.title, manifest.licence) == ("club", "1.2", "Club bench", "CC0-1.0")
    assert manifest.maintainers == ("somebody",)
    assert manifest.source[0].kind == "invented"
    with pytest.raises(te.UnknownNameError) as caught:
        catalogue.pack("clup")
    assert str(caught.value) == f"no pack is called 'clup' in pack club 1.2 ({tmp_path / 'club'}); nearest: club"


def test_several_packs_and_one_folder_twice(tmp_path: Path) -> None:
    one = pack(tmp_path / "one", {"parts.toml": PARTS})
    two = pack(tmp_path / "two", {"parts.toml": '[crank.low]\nstroke = "40 mm"\n'}, MANIFEST.replace('"club"', '"other"'))
    catalogue = te.Catalogue.load(one, two, one)
    assert len(catalogue) == 8
    assert catalogue.joined(te.Catalogue.load(two)).of("crank") == ["club/low", "other/low"]
    with pytest.raises(te.UnknownNameError) as caught:
        catalogue["low"]
    assert str(caught.value) == f"no part is called 'low' in packs club 1.2 ({one}), other 1.2 ({two}); nearest: club/low, other/low"
    assert caught.value.nearest == ("club/low", "other/low")
    with pytest.raises(te.UnknownNameError) as caught:
        te.Catalogue.load()["club/low"]
    assert str(caught.value) == "no part is called 'club/low' in a catalogue without packs"


def test_windows_line_ends_and_byte_order_mark(tmp_path: Path) -> None:
    folder = pack(tmp_path / "club", {"parts.toml": b"\xef\xbb\xbf" + PARTS.replace("\n", "\r\n").encode()})
    assert len(te.Catalogue.load(folder)) == 7
    folder = pack(tmp_path / "bad", {"parts.toml": b"\xef\xbb\xbf[crank.a]\r\n\r\nstroke = 39\r\n"})
    assert refusal(folder).startswith('bad/parts.toml: line 3: crank.a.stroke needs a length, such as "39 mm"')


@pytest.mark.parametrize(
    ("taken", "what"),
    [
        ({"licence"}, "no licence"),
        ({"source"}, "no [[source]]"),
        ({"licence", "source"}, "no [[source]] and no licence"),
    ],
)
def test_a_pack_without_provenance_loads_with_a_finding(tmp_path: Path, taken: set[str], what: str) -> None:
    text = MANIFEST
    if "licence" in taken:
        text = text.replace('licence = "CC0-1.0"\n', "")
    if "source" in taken:
        text = text.partition("[[source]]")[0]
    catalogue = te.Catalogue.load(pack(tmp_path / "club", {"parts.toml": PARTS}, text))
    assert len(catalogue) == 7
    (finding,) = catalogue.findings
    assert (finding.code, finding.severity) == ("pack_without_provenance", "warning")
    assert finding.message == (
        f"pack club ({tmp_path / 'club'}) has {what}; nobody can tell where its figures are from, or what may be done with them"
    )
    assert (
        finding.do
        == f"Check its figures before you rely on them; ask its maker to add {what.removeprefix('no ').replace(' no ', ' ')} to pack.toml."
    )


# --- folders and files that cannot be read ---------------------------------------------------------------------------


def test_no_folder_no_manifest(tmp_path: Path) -> None:
    assert refused_at_once(tmp_path / "none") == "none: is not there; give the folder that holds pack.toml"
    assert refused_at_once(tmp_path / "nul\0") == "nul\\x00: is not there; give the folder that holds pack.toml"
    file = pack(tmp_path / "club") / "pack.toml"
    assert refused_at_once(file) == "pack.toml: is a file; give the folder that holds pack.toml"
    assert refused_at_once(pack(tmp_path / "empty", manifest=None)) == "empty: holds no pack.toml: it is not a data pack"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"\0\1\2", "is not a text file (it holds zero bytes); save it as text in UTF-8"),
        ("a = 1".encode("utf-16"), "is not a text file (it holds zero bytes); save it as text in UTF-8"),
        (
            '[crank.a]\nstroke = "39 mm ± 1 mm"'.encode("latin-1"),
            "is not text in UTF-8: byte 0xb1 in line 2; save the file as UTF-8",
        ),
        (b"#" * (MOST_BYTES + 1), "is larger than 2 MB, the most that is read"),
        ("x = " + "[" * 3000, "is nested deeper than 16 levels"),
        ("[a]\nx = " + "[" * 20 + "]" * 20, "line 2: is nested deeper than 16 levels"),
        ("\n" + ".".join(["a"] * 200_000) + " = 1", "line 2: is nested deeper than 16 levels"),
        ("a." * 17 + "a = 1", "line 1: is nested deeper than 16 levels"),
        ("[crank.a]\nstroke = 0x" + "f" * 9999, "line 2: crank.a.stroke is a whole number beyond 64 bits"),
        ("[crank.a]\nstroke = " + "9" * 9999, "is not TOML: it holds a number or a date that cannot be read"),
        ("\nx = \n", "line 2: is not TOML: invalid value (column 5)"),
        ('\n\nx = "abc', "line 3: is not TOML: unterminated string (at the end of the file)"),
        ("[crank.a]\n[crank.a]\n", "line 2: is not TOML: the table crank.a is given twice (column 9)"),
        ('[crank.a]\nstroke = "1 mm"\nstroke = "1 mm"\n', "line 3: is not TOML: the key before it is given twice (column 16)"),
    ],
)
def test_a_file_that_is_no_toml(tmp_path: Path, text: str | bytes, said: str) -> None:
    assert refusal(pack(tmp_path / "club", {"parts.toml": text})) == f"club/parts.toml: {said}"
    assert refusal(pack(tmp_path / "bad", manifest=text)) == f"bad/pack.toml: {said}"


def test_a_file_that_is_a_folder_a_pipe_or_gone(tmp_path: Path) -> None:
    (pack(tmp_path / "club") / "parts.toml").mkdir()
    assert refusal(tmp_path / "club") == "club/parts.toml: is a folder, not a file"
    os.mkfifo(pack(tmp_path / "pipe") / "parts.toml")
    assert refusal(tmp_path / "pipe") == "pipe/parts.toml: is not an ordinary file"
    (pack(tmp_path / "gone") / "parts.toml").symlink_to("nothing.toml")
    assert refusal(tmp_path / "gone") == "gone/parts.toml: is not there"
    (pack(tmp_path / "round") / "parts.toml").symlink_to("parts.toml")
    assert refusal(tmp_path / "round").startswith("round/parts.toml: cannot be read: ")


def test_a_pack_cannot_reach_outside_its_folder(tmp_path: Path) -> None:
    (tmp_path / "parts.toml").write_text(PARTS)
    for target in (tmp_path / "parts.toml", Path("../parts.toml"), Path("/dev/zero"), Path("/etc/passwd")):
        folder = pack(tmp_path / "club")
        (folder / "parts.toml").symlink_to(target)
        assert refusal(folder) == "club/parts.toml: is a link that leaves the pack's folder; a pack holds its files itself"
        (folder / "parts.toml").unlink()
    # a link to the folder itself, and one that stays in it, reach nothing
    folder = pack(tmp_path / "club", {"kept.txt": PARTS})
    (folder / "parts.toml").symlink_to("kept.txt")
    (tmp_path / "link").symlink_to(folder)
    assert len(te.Catalogue.load(tmp_path / "link")) == 7


def test_only_toml_files_of_the_folder_itself_are_read(tmp_path: Path) -> None:
    folder = pack(tmp_path / "club", {"README.md": "x", ".hidden.toml": "x =", "code.py": "raise SystemExit"})
    pack(folder / "checks", {"x.toml": "x ="}, None)
    assert list(te.Catalogue.load(folder)) == []


def test_too_many_files(tmp_path: Path) -> None:
    folder = pack(tmp_path / "club", {f"part{index}.toml": "" for index in range(256)})
    assert refusal(folder) == "club: holds more than 256 part files, the most that is read"


# --- what is said of keys --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("manifest", "said"),
    [
        ("", "format is missing: format = 1"),
        ("format = 2\nsurprise = 1", "line 1: format is 2; this version of topend reads format 1"),
        ("format = true", "line 1: format is True; this version of topend reads format 1"),
        (
            'id = "a/b"\nversion = "new"\nformat = 1\ntitle = ""\nlicense = "MIT"\nmaintainers = "me"\n[[source]]\nkind = "guess"\n',
            "7 problems\n"
            "  - line 1: id cannot be a name: names are up to 64 letters, digits, - and _, first a letter or digit; got 'a/b'\n"
            "  - line 2: version must be numbers with points between, such as 1.0.0; got 'new'\n"
            "  - line 4: title must be a text of at least 1 characters; got ''\n"
            "  - line 5: license is not a key of pack.toml; nearest: licence; "
            "it may have id, version, format, title, summary, licence, maintainers, source, built\n"
            "  - line 6: maintainers must be a list; got the text 'me'. Put it in square brackets: maintainers = ['me']\n"
            "  - line 7: source.0.title is missing: What it is: a book, a drawing, a bench book.\n"
            "  - line 8: source.0.kind must be one of measured, published, derived, estimated or invented; got 'guess'",
        ),
        (
            'format = 1\nid = 3\nversion = 1.0\ntitle = "t"\n[source]\ntitle = "x"\n',
            "3 problems\n"
            '  - line 2: id must be a text; got 3. Put it in quotes: "3"\n'
            '  - line 3: version must be a text; got 1.0. Put it in quotes: "1.0"\n'
            "  - line 5: source must be a list of Source; got one table, {'title': 'x'}. Put it in square brackets: source = [{...}]; "
            "in a file, two pairs around its heading",
        ),
    ],
)
def test_what_is_wrong_in_a_manifest(tmp_path: Path, manifest: str, said: str) -> None:
    assert refusal(pack(tmp_path / "club", manifest=manifest)) == f"club/pack.toml: {said}"


LENGTHS = "Units: mm, cm, m, um, µm, in, thou"


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        (
            '[cylinders.a]\nbore = "1 mm"',
            "line 1: cylinders is not a kind of part; nearest: cylinder; the kinds are crank, cylinder, piston, head, gasket, "
            "ring, o_ring, studs, pin, clip, locating_pin, location, fixture, family, drawer, kit",
        ),
        ("crank = 3", "line 1: crank must be tables, one a part, such as [crank.NAME]; got 3"),
        ('[crank]\nstroke = "1 mm"', "line 2: crank.stroke must be a part's table, such as [crank.NAME]; got '1 mm'"),
        (
            '[crank."a b"]\nstroke = "1 mm"',
            "line 1: crank.a b cannot be a name: names are up to 64 letters, digits, - and _, first a letter or digit; got 'a b'",
        ),
        ("\n[crank.a]\n", "line 2: crank.a.stroke is missing: Twice the throw of the crank."),
        ("[crank.a]\nstroke = 39.3", f'line 2: crank.a.stroke needs a length, such as "39.3 mm"; got the bare number 39.3. {LENGTHS}'),
        ("[crank.a]\nstroke = nan", f'line 2: crank.a.stroke needs a length, such as "39.3 mm"; got the bare number nan. {LENGTHS}'),
        (
            '[crank.a]\nstroke = "39,3 mm"',
            "line 2: crank.a.stroke needs a length, such as \"39.3 mm\"; got '39,3 mm'. "
            f"Decimals are written with a point, not a comma. {LENGTHS}",
        ),
        (
            '[crank.a]\nstroke = "1 mm"\nrod_lenght = "1 mm"',
            "line 3: crank.a.rod_lenght is not a field of Crank; nearest: rod_length",
        ),
        (
            '[head.a]\nrecess_offset = "0 mm"',
            "line 1: head.a needs kind, which says what it is: flush or spigot; got {'recess_offset': '0 mm'}",
        ),
        ('[head.a]\nkind = "dropin"', "line 1: head.a has kind 'dropin'; it must be one of flush, spigot; nearest: spigot"),
        (
            '[head.a]\nkind = "spigot"\n[head.a.band]\nangle = "9 mm"',
            "line 4: head.a.band.angle needs an angle, such as \"9 deg\"; got '9 mm', which is a length. Units: deg, °, rad",
        ),
        (
            '[cylinder.a]\nports = [\n  { kind = "exhaust", top = "22 mm" },\n  { kind = "boost", top = "22 mm" },\n]',
            "line 4: cylinder.a.ports.1.kind must be one of exhaust, transfer or inlet; got 'boost'; nearest: transfer",
        ),
        (
            '[gasket.base-030]\nrole = "base"\nthickness = "0.3 mm"\n[head.x]\nkind = "flush"\n[drawer.a]\nitems = [\n'
            '{ gasket = "base-03" },\n{ gasket = "x" },\n{ gasket = "other/base-030" },\n{ gasket = "base-030", count = 1.5 },\n'
            "{ count = 1 },\n]",
            "5 problems\n"
            "  - line 8: drawer.a.items.0.gasket is 'base-03', which no gasket of this pack is called; nearest: base-030\n"
            "  - line 9: drawer.a.items.1.gasket is 'x', which is a head; a drawer holds gaskets\n"
            "  - line 10: drawer.a.items.2.gasket is 'other/base-030'; a drawer names gaskets of its own pack, club, only\n"
            "  - line 11: drawer.a.items.3.count must be a whole number; got 1.5\n"
            "  - line 12: drawer.a.items.4.gasket is missing: The gasket.",
        ),
        ("[drawer.a]\nitems = 3", "line 2: drawer.a.items must be a list of StockItem; got 3"),
        (
            '[gasket.thin]\nrole = "base"\nthickness = "0 mm"\n[drawer.a]\nitems = [{ gasket = "thin" }]',
            "line 3: gasket.thin.thickness must be more than 0 mm; got '0 mm'",
        ),
        (
            '[crank.a]\nstroke = "1 mm"\n[head.a]\nkind = "flush"',
            "line 3: head.a has the same id as crank.a in parts.toml, line 1: club/a; ids count over all kinds and files",
        ),
    ],
)
def test_what_is_wrong_in_a_part_table(tmp_path: Path, parts: str, said: str) -> None:
    told = refusal(pack(tmp_path / "club", {"parts.toml": parts}))
    # which fields a part has is not the matter here, and grows
    whole, fields = told.partition("; it has ")[::2] if "is not a field of" in told else (told, "")
    assert re.sub(r"(?<=rod_length), .*", "", whole) == f"club/parts.toml: {said}"
    assert not fields or fields.startswith("name, ")


def test_problems_of_several_files_are_told_together(tmp_path: Path) -> None:
    folder = pack(
        tmp_path / "club",
        {"a.toml": '[crank.a]\nstroke = "1 mm"\n', "b.toml": '\n[piston.a]\n[crank.b]\nstroke = "0 mm"', "c.toml": "x ="},
        MANIFEST.replace('title = "Club bench"\n', ""),
    )
    assert refusal(folder) == (
        "club: 4 problems\n"
        "  - pack.toml: title is missing: What people call the pack.\n"
        "  - b.toml, line 2: piston.a has the same id as crank.a in a.toml, line 1: club/a; ids count over all kinds and files\n"
        "  - b.toml, line 4: crank.b.stroke must be more than 0 mm; got '0 mm'\n"
        "  - c.toml, line 1: is not TOML: invalid value (at the end of the file)"
    )


def test_an_error_can_be_read_by_programs(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(pack(tmp_path / "club", {"parts.toml": "\n[crank.a]\nstroke = 39.3\n"}))
    with pytest.raises(te.PackError) as caught:
        catalogue["club/a"]
    assert caught.value.file == str(tmp_path / "club" / "parts.toml")
    (problem,) = caught.value.problems
    assert (problem.where, problem.line) == ("crank.a.stroke", 3)


def test_two_packs_of_one_id(tmp_path: Path) -> None:
    one, two = pack(tmp_path / "one"), pack(tmp_path / "two", manifest="# a comment\n" + MANIFEST)
    with pytest.raises(te.PackError) as caught:
        te.Catalogue.load(one, two)
    assert str(caught.value) == (
        f"{two}/pack.toml: line 2: id is 'club', the id of the pack in {one}/pack.toml too; ids must differ, so load one of the two"
    )


# --- on which line a key stands --------------------------------------------------------------------------------------


def test_lines_of_a_document_with_everything_in_it() -> None:
    text = '''# [not.a.table]
"quoted \\u006bey" = """
x = 1 " "" # text \\""" """""
b.'c.d' . e = 2024-01-01T00:00:00Z
list = [ # a comment ]
  "]", \'\'\'
  ]'\'\'\', { x = 1, y.z = [
    1, 2] },
] # done
[[a.b]]
one = 1
[[a.b]]
two = {}
[a.b.sub]
three = [[], [ 3 ]]
[ a . "n" ]
'''
    lines = {".".join(path): line for path, line in key_lines(text).items()}
    assert lines == {
        "quoted key": 2,
        "b": 4,
        "b.c.d": 4,
        "b.c.d.e": 4,
        "list": 5,
        "list.0": 6,
        "list.1": 6,
        "list.2": 7,
        "list.2.x": 7,
        "list.2.y": 7,
        "list.2.y.z": 7,
        "list.2.y.z.0": 8,
        "list.2.y.z.1": 8,
        "a": 10,
        "a.b": 10,
        "a.b.0": 10,
        "a.b.0.one": 11,
        "a.b.1": 12,
        "a.b.1.two": 13,
        "a.b.1.sub": 14,
        "a.b.1.sub.three": 15,
        "a.b.1.sub.three.0": 15,
        "a.b.1.sub.three.1": 15,
        "a.b.1.sub.three.1.0": 15,
        "a.n": 16,
    }
    assert set(key_lines(text)) == _paths(tomllib.loads(text))


def _paths(value: Any, here: tuple[str, ...] = ()) -> set[tuple[str, ...]]:
    """Every path of a document as the standard library's parser reads it."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {here} if here else set()
    for key, item in inside:
        found |= _paths(item, (*here, str(key)))
    return found


KEYS = st.text(st.sampled_from("ab.# \"'[]{}=\\é\n"), max_size=4)
VALUES = st.recursive(
    st.integers(-9, 9) | st.booleans() | KEYS | st.just(1.5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=8,
)


def _written(value: Any, draw: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key, draw)} = {_written(item, draw)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        gap: str = draw(st.sampled_from(["", " ", "\n", " # ] } \" '\n\t"]))
        return "[" + gap + f",{gap}".join(_written(item, draw) + gap for item in value) + "]"
    if isinstance(value, str):
        styles = [json.dumps(value, ensure_ascii=False), f'"""\n{json.dumps(value, ensure_ascii=False)[1:-1]}"""']
        if "'" not in value:
            styles += [f"'''\n{value}'''"] + ([f"'{value}'"] if "\n" not in value else [])
        return str(draw(st.sampled_from(styles)))
    return json.dumps(value, ensure_ascii=False)


def _key(key: str, draw: Any) -> str:
    plain = bool(re.fullmatch(r"[A-Za-z0-9_-]+", key))
    return key if plain and draw(st.booleans()) else json.dumps(key, ensure_ascii=False)


@settings(max_examples=300)
@given(st.dictionaries(KEYS, VALUES, max_size=4), st.data())
def test_paths_agree_with_the_standard_parser(table: dict[str, Any], data: st.DataObject) -> None:
    """Outside check: tomllib reads the same keys out of every written form."""
    text, nested = "", ""
    for key, value in table.items():
        if isinstance(value, dict) and data.draw(st.booleans()):
            body = "".join(f"{_key(name, data.draw)} = {_written(item, data.draw)}\n" for name, item in value.items())
            nested += f"[{_key(key, data.draw)}] # table\n{body}"
        elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value) and data.draw(st.booleans()):
            for item in value:
                body = "".join(f"{_key(name, data.draw)} = {_written(inner, data.draw)}\n" for name, inner in item.items())
                nested += f"[[ {_key(key, data.draw)} ]]\n{body}"
        else:
            text += f"{_key(key, data.draw)} = {_written(value, data.draw)}\n"
    text += nested
    assert tomllib.loads(text) == table
    lines = key_lines(text)
    assert set(lines) == _paths(table)
    # a key stands on the line that it names
    assert all(path[-1].isdigit() or re.sub(r"[^a-bé]", "", path[-1])[:1] in text.split("\n")[line - 1] for path, line in lines.items())


def test_the_line_of_a_missing_key_is_that_of_its_table() -> None:
    file = TomlFile("x", {}, '[head.a]\nkind = "flush"\n')
    assert file.line("head.a.kind") == 2
    assert file.line("head.a.band.angle") == 1
    assert file.line("nothing") is None
