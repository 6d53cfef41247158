"""Job files: what a good one gives, what is said of every kind of bad one, and that the docs' own examples work."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

import topend as te
from topend.packs.toml_file import MOST_BYTES

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "docs" / "examples"
PACK = f'format = 1\npacks = ["{ROOT / "datapacks" / "fellside"}"]\n'
LENGTHS = "Units: mm, cm, m, um, µm, in, thou"


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "job.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def refusal(folder: Path, text: str | bytes) -> str:
    path = write(folder, text)
    with pytest.raises(te.JobError) as caught:
        te.load_job(path)
    assert caught.value.file == str(path)
    assert isinstance(caught.value, ValueError)
    return str(caught.value).removeprefix(f"{path}: ").replace(f"{folder}/", "")


# --- what a good job gives -------------------------------------------------------------------------------------------


def test_inline_is_the_sample_of_the_design_page() -> None:
    """Section 7 of the design page, as printed there."""
    job = te.load_job(EXAMPLES / "inline.toml")
    assert (job.packs, job.fit, job.ids) == ((), None, {})
    result = te.evaluate(job.top)
    printed = {
        "squish_min": "0.869",
        "exhaust_duration": "187.5",
        "transfer_duration": "129.9",
        "compression_ratio": "12.32",
        "trapped_compression_ratio": "6.95",
    }
    assert {name: f"{result.shown(name):.{len(text.split('.')[1])}f}" for name, text in printed.items()} == printed


def test_least_gives_the_edge_gap_and_says_what_the_rest_needs() -> None:
    result = te.evaluate(te.load_job(str(EXAMPLES / "least.toml")).top)
    assert result.keys() == ["deck_clearance", "squish_edge"]
    assert result.shown("squish_edge") == pytest.approx(0.55 + 0.3 + 0.2)


def test_a_job_with_parts_by_id() -> None:
    job = te.load_job(EXAMPLES / "fell50.toml")
    assert job.file == str(EXAMPLES / "fell50.toml")
    assert job.title == "Rigg 50, hill sprint (invented)"
    assert [str(pack) for pack in job.packs] == ["fellside 1.0.0"]
    assert job.ids["cylinder"] == "fellside/rigg50-barrel"
    assert job.ids["base_gaskets.0"] == "fellside/rigg50-base-050"
    assert job.ids["fit.heads.2"] == "fellside/rigg50-drop08"
    assert job.top.head is not None
    assert job.top.head.name == "fellside/rigg50-drop10"
    catalogue = te.Catalogue.load(ROOT / "datapacks" / "fellside")
    assert job.top.cylinder == catalogue["fellside/rigg50-barrel"]
    fit = job.fit
    assert fit is not None
    assert fit.heads is not None
    assert [head.name for head in fit.heads] == ["fellside/rigg50-drop10", "fellside/rigg50-drop10-shallow", "fellside/rigg50-drop08"]
    assert fit.stock == catalogue["fellside/rigg50-drawer"]
    assert fit.arguments() == {
        "stock": fit.stock,
        "heads": fit.heads,
        "base_count": (1, 3),
        "head_count": None,
        "least_gap": "0.6 mm",
        "best": 10,
        "at_most": {"exhaust_duration": "190 deg"},
        "at_least": {},
        "squish_min": ("0.90 mm", "0.08 mm"),
        "compression_ratio": (12.5, 0.4),
    }


def test_defaults_of_a_fit(tmp_path: Path) -> None:
    job = te.load_job(write(tmp_path, PACK + '[fit]\nstock = "fellside/rigg50-drawer"\nleast_gap = "none"\nhead_count = [0, 1]\n'))
    assert job.title == "job"
    assert job.fit is not None
    assert (job.fit.heads, job.fit.base_count, job.fit.head_count, job.fit.least_gap, job.fit.best) == (None, (1, 3), (0, 1), None, 10)
    assert (job.fit.targets, job.fit.at_least, job.fit.at_most) == ({}, {}, {})


def test_a_part_by_id_with_changes(tmp_path: Path) -> None:
    changed = """
cylinder = { part = "fellside/rigg50-barrel", ports = [{ kind = "exhaust", top = "23 mm" }] }
base_gaskets = [{ part = "fellside/rigg50-base-030", thickness = "0.31 mm" }, "fellside/rigg50-base-010"]
[head]
part = "fellside/rigg50-drop10"
recess_offset = "-1.1 mm"
band = { angle = "9 deg" }
[piston]
part = "fellside/rigg50-piston-domed"
name = "the spare"
[piston.crown]
shape = "flat"
"""
    job = te.load_job(write(tmp_path, PACK + changed))
    catalogue = te.Catalogue.load(ROOT / "datapacks" / "fellside")
    head, was = job.top.head, catalogue["fellside/rigg50-drop10"]
    assert isinstance(head, te.SpigotHead)
    assert isinstance(was, te.SpigotHead)
    assert was.band is not None
    assert head == was.replace(name="fellside/rigg50-drop10, changed", recess_offset="-1.1 mm", band=was.band.replace(angle="9 deg"))
    assert job.top.piston is not None
    assert (job.top.piston.name, job.top.piston.crown) == ("the spare", te.FlatCrown())
    assert job.top.cylinder is not None
    assert len(job.top.cylinder.ports) == 1
    assert job.top.base_gaskets is not None
    assert [gasket.fitted.text for gasket in job.top.base_gaskets] == ["0.27 mm ± 0.01 mm", "0.10 mm"]
    assert job.ids["base_gaskets.0"] == "fellside/rigg50-base-030"
    assert job.ids["head"] == "fellside/rigg50-drop10"


def test_a_drawer_in_the_job_and_parts_under_the_deck_reading(tmp_path: Path) -> None:
    text = """
[deck]
clearance = "1.6 mm"
piston = "fellside/rigg50-piston-flat"
[fit]
heads = [{ kind = "flush" }, { part = "fellside/rigg50-flush", seal = "gasket" }]
[[fit.stock.items]]
gasket = "fellside/rigg50-base-050"
count = 3
[[fit.stock.items]]
gasket = { role = "head", thickness = "0.2 mm" }
"""
    job = te.load_job(write(tmp_path, PACK + text))
    assert job.top.deck is not None
    assert job.top.deck.piston is not None
    assert job.top.deck.piston.name == "fellside/rigg50-piston-flat"
    assert job.fit is not None
    assert job.fit.heads is not None
    assert [head.seal for head in job.fit.heads] == ["gasket", "gasket"]
    assert [(item.gasket.name, item.count) for item in job.fit.stock.items] == [("fellside/rigg50-base-050", 3), (None, 1)]


def test_a_catalogue_that_is_given_takes_part(tmp_path: Path) -> None:
    catalogue = te.Catalogue.load(ROOT / "datapacks" / "fellside")
    text = 'crank = "fellside/rigg50-crank"\n'
    for job in (
        te.load_job(write(tmp_path, "format = 1\n" + text), catalogue),
        te.load_job(write(tmp_path, PACK + text), catalogue),
    ):
        assert job.top.crank == catalogue["fellside/rigg50-crank"]
        assert [(pack.id, pack.version) for pack in job.packs] == [("fellside", "1.0.0")]


# --- files that cannot be read ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"\0\1", "is not a text file (it holds zero bytes); save it as text in UTF-8"),
        (b"format = 1\n# 0.5 \xb1", "is not text in UTF-8: byte 0xb1 in line 2; save the file as UTF-8"),
        (b"#" * (MOST_BYTES + 1), "is larger than 2 MB, the most that is read"),
        (
            "format = 1\ncrank = stroke",
            'line 2: is not TOML: invalid value (column 9). Texts, and values with their unit, stand in straight quotes: "stroke"',
        ),
        (
            "format = 1\n[crank]\nstroke = 39.3 mm  # long",
            "line 3: is not TOML: expected newline or end of document after a statement "
            '(column 15). Texts, and values with their unit, stand in straight quotes: "39.3 mm"',
        ),
        (
            "format = 1\n[crank]\nstroke = \u201c39.3 mm\u201d",
            'line 3: is not TOML: invalid value (column 10). Texts, and values with their unit, stand in straight quotes: "39.3 mm"',
        ),
        (
            "format = 1\ncrank:",
            "line 2: is not TOML: expected '=' after a key in a key/value pair (column 6). "
            "A line is a key, = and its value; a heading stands in square brackets",
        ),
        ("format = 1\n[crank]\n[crank]\n", "line 3: is not TOML: the table crank is given twice (column 7)"),
        ("x = " + "[" * 5000, "is nested deeper than 16 levels"),
        ("", "format is missing: format = 1"),
        ("crank = 3\nformat = 2", "line 2: format is 2; this version of topend reads format 1"),
    ],
)
def test_a_file_that_is_no_job(tmp_path: Path, text: str | bytes, said: str) -> None:
    assert refusal(tmp_path, text) == said


def test_no_file(tmp_path: Path) -> None:
    for path, said in ((tmp_path / "none.toml", "is not there"), (tmp_path, "is a folder, not a file")):
        with pytest.raises(te.JobError) as caught:
            te.load_job(path)
        assert str(caught.value) == f"{path}: {said}"


# --- what is said of keys --------------------------------------------------------------------------------------------

KEYS = ", ".join(te.TopEnd.model_fields)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("title = 3", "line 3: title must be a text; got 3"),
        (
            "crnak = 3",
            "line 3: crnak is not a key of a job file; nearest: crank, cranking",
        ),
        ("[crank]\nstroke = 39.3", f'line 4: crank.stroke needs a length, such as "39.3 mm"; got the bare number 39.3. {LENGTHS}'),
        (
            '[crank]\nstroke = "39.3 mm"\nrod = "85 mm"',
            "line 5: crank.rod is not a field of Crank; nearest: rod_length, rod_area, rod_end_area",
        ),
        ('crevice = "counted"', "line 3: crevice must be one of reported or included; got 'counted'"),
        (
            'base_gaskets = "fellside/rigg50-base-050"',
            "line 3: base_gaskets must be a list of Gasket; got the text 'fellside/rigg50-base-050'. "
            "Put it in square brackets: base_gaskets = ['fellside/rigg50-base-050']",
        ),
        (
            "head = 3",
            "line 3: head must be a FlushHead or SpigotHead with its fields; got 3. "
            'Write FlushHead(recess_offset="-1.0 mm"), in a file {kind = "flush", recess_offset = "-1.0 mm"}',
        ),
        (
            '[head]\nrecess_offset = "0 mm"',
            "line 3: head needs kind, which says what it is: flush or spigot; got {'recess_offset': '0 mm'}",
        ),
        (
            '[piston]\ncrown = { rise = "1 mm" }',
            "line 4: piston.crown needs shape, which says what it is: flat, cone, sphere, dish or measured; got {'rise': '1 mm'}",
        ),
        (
            'crank = "39.3 mm"\nhead_gaskets = ["0.3mm"]',
            "2 problems\n"
            "  - line 3: crank is '39.3 mm', which is no part's id, such as \"pack/part\"; "
            'what is not of a pack is written with its fields, such as {stroke = "39.3 mm"}\n'
            "  - line 4: head_gaskets.0 is '0.3mm', which is no part's id, such as \"pack/part\"; "
            'what is not of a pack is written with its fields, such as {role = "head", thickness = "0.50 mm"}',
        ),
        (
            'crank = "rigg50-crank"\ncylinder = "fellside/rigg50-piston-flat"\npiston = "fellside/rigg50-crown"',
            "3 problems\n"
            "  - line 3: crank is 'rigg50-crank', but no part of fellside 1.0.0 is called so; nearest: fellside/rigg50-crank\n"
            "  - line 4: cylinder is 'fellside/rigg50-piston-flat', which is a piston; here goes a cylinder; "
            "nearest: fellside/rigg50-barrel\n"
            "  - line 5: piston is 'fellside/rigg50-crown', but no part of fellside 1.0.0 is called so; "
            "nearest: fellside/rigg50-piston-flat, fellside/rigg50-piston-domed",
        ),
        (
            '[head]\npart = 3\n[deck]\nclearance = "1 mm"\npiston = { part = "nobody" }',
            "2 problems\n"
            '  - line 4: head.part must be a part\'s id, such as "pack/part"; got 3\n'
            "  - line 7: deck.piston.part is 'nobody', but no part of fellside 1.0.0 is called so",
        ),
        (
            '[head]\npart = "fellside/rigg50-drop10"\nkind = "flush"',
            "line 5: head.kind cannot be changed: fellside/rigg50-drop10 is a spigot head; name another part, or write it inline",
        ),
        (
            '[head]\npart = "fellside/rigg50-drop10"\n[head.band]\nangle = "9"\nwidth = "6 mm"',
            "2 problems\n"
            "  - line 6: head.band.angle needs an angle, such as \"9 deg\"; got '9', a number without a unit. Units: deg, °, rad\n"
            "  - line 7: head.band.width is not a field of SquishBand but of ORingGroove, Port or StudSlot; "
            "it has name, outer_diameter, inner_diameter, angle",
        ),
        (
            'base_gaskets = [\n"fellside/nobody",\n{ role = "base", thickness = "-0.3 mm" },\n]',
            "2 problems\n"
            "  - line 4: base_gaskets.0 is 'fellside/nobody', but no part of fellside 1.0.0 is called so\n"
            "  - line 5: base_gaskets.1.thickness must be more than 0 mm; got '-0.3 mm'",
        ),
    ],
)
def test_what_is_wrong_with_the_parts(tmp_path: Path, text: str, said: str) -> None:
    assert refusal(tmp_path, PACK + text) == said


FIT = '[fit]\nstock = "fellside/rigg50-drawer"\n'
FIT_KEYS = "heads, stock, base_count, head_count, least_gap, best, targets, at_most, at_least"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("fit = 3", "line 3: fit must be a table, [fit]; got 3"),
        ("[fit]", 'line 3: fit.stock is missing: the drawer of gaskets, by its id ("pack/part") or as [[fit.stock.items]]'),
        ("[fit]\nstock = 3", "line 4: fit.stock must be a drawer's id, or [[fit.stock.items]]; got 3"),
        (
            '[fit]\nstock = "fellside/rigg50-drop10"',
            "line 4: fit.stock is 'fellside/rigg50-drop10', which is a head; here goes a drawer; "
            "nearest: fellside/rigg50-drawer, fellside/tarn125-drawer, fellside/scree70-drawer",
        ),
        (
            '[[fit.stock.items]]\ngasket = "nobody"\n[[fit.stock.items]]\ngasket = { role = "base", thickness = 1 }\ncount = -1',
            "3 problems\n"
            "  - line 4: fit.stock.items.0.gasket is 'nobody', but no part of fellside 1.0.0 is called so\n"
            f'  - line 6: fit.stock.items.1.gasket.thickness needs a length, such as "1 mm"; got the bare number 1. {LENGTHS}\n'
            "  - line 7: fit.stock.items.1.count must be at least 0; got -1",
        ),
        (FIT + "heads = []", 'line 5: fit.heads must be a list of heads, such as ["pack/part"]; got []'),
        (
            FIT + 'heads = [\n"fellside/rigg50-crank",\n{ recess_offset = "0 mm" },\n{ kind = "spigot", recess_offset = "1 mm" },\n]',
            "3 problems\n"
            "  - line 6: fit.heads.0 is 'fellside/rigg50-crank', which is a crank; here goes a head; "
            "nearest: fellside/rigg50-drop10, fellside/rigg50-drop08, fellside/rigg50-flush\n"
            "  - line 7: fit.heads.1 needs kind, which says what it is: flush or spigot; got {'recess_offset': '0 mm'}\n"
            "  - line 8: fit.heads.2 cannot be used: a spigot head drops in: its recess_offset is zero or negative, got 1.000 mm; "
            'a band above the gasket face is a FlushHead\'s, kind = "flush"',
        ),
        (
            FIT + "base_count = [3, 1]",
            "line 5: fit.base_count must be the fewest and the most gaskets in that stack, such as [1, 3]; got [3, 1]",
        ),
        (
            FIT + "head_count = 2",
            "line 5: fit.head_count must be the fewest and the most gaskets in that stack, such as [1, 3]; got 2",
        ),
        (
            FIT + "least_gap = 0.6",
            f'line 5: fit.least_gap needs a length, such as "0.6 mm"; got the bare number 0.6. {LENGTHS}; or "none" to lift it on purpose',
        ),
        (
            FIT + 'least_gap = "0 mm"',
            "line 5: fit.least_gap must be more than 0 mm, or \"none\" to lift it on purpose; got '0 mm'",
        ),
        (FIT + "best = 0", "line 5: fit.best must be a whole number from 1; got 0"),
        (FIT + "target = 0", f"line 5: fit.target is not a key of [fit]; nearest: targets; it may have {FIT_KEYS}"),
        (FIT + "targets = 0", "line 5: fit.targets must be a table of outputs, [fit.targets]; got 0"),
        (
            FIT + '[fit.targets]\nsquish = ["0.9 mm", "0.1 mm"]\nsquish_min = "0.9 mm"\nexhaust_opens = 3\ncompression_ratio = [1, 2, 3]',
            "4 problems\n"
            "  - line 6: fit.targets.squish is not an output; nearest: squish_min, squish_mean, squish_edge; `topend names` lists them\n"
            '  - line 7: fit.targets.squish_min must be a value and its tolerance, such as ["0.90 mm", "0.08 mm"]; got \'0.9 mm\'\n'
            '  - line 8: fit.targets.exhaust_opens must be a value and its tolerance, such as ["188 deg", "2 deg"]; got 3\n'
            "  - line 9: fit.targets.compression_ratio must be a value and its tolerance, such as [12.5, 0.4]; got [1, 2, 3]",
        ),
        (
            FIT + '[fit.targets]\nsquish_min = [0.9, "0.1 mm"]\ncompression_ratio = ["12.5", 0.4]\nblowdown = ["30 deg", "0 deg"]',
            "3 problems\n"
            f'  - line 6: fit.targets.squish_min.0 needs a length, such as "0.9 mm"; got the bare number 0.9. {LENGTHS}\n'
            "  - line 7: fit.targets.compression_ratio.0 must be a plain number, such as 12.5; got '12.5'\n"
            "  - line 8: fit.targets.blowdown.1 is the tolerance and must be more than 0; got '0 deg'",
        ),
        (
            FIT + '[fit.at_most]\nexhaust_duration = "190 mm"\ncompression_ratio = nan\n[fit.at_least]\nblow_down = "25 deg"',
            "3 problems\n"
            "  - line 6: fit.at_most.exhaust_duration needs an angle, such as \"188 deg\"; got '190 mm', which is a length. "
            "Units: deg, °, rad\n"
            "  - line 7: fit.at_most.compression_ratio must be a plain number, such as 12.5; got nan\n"
            "  - line 9: fit.at_least.blow_down is not an output; nearest: blowdown; `topend names` lists them",
        ),
    ],
)
def test_what_is_wrong_with_the_fit(tmp_path: Path, text: str, said: str) -> None:
    assert refusal(tmp_path, PACK + text) == said


def test_what_is_wrong_with_the_packs(tmp_path: Path) -> None:
    assert refusal(tmp_path, 'format = 1\npacks = "x"') == "line 2: packs must be a list of folders, such as [\"../fellside\"]; got 'x'"
    # parts that may be in the pack that is not there are not told as unknown too
    assert refusal(tmp_path, 'format = 1\npacks = ["nope", 3]\ncrank = "nope/crank"\n[deck]\nclearance = 1') == (
        "3 problems\n"
        "  - line 2: packs.0 is 'nope', but there is no folder nope; it counts from the job file's own folder\n"
        "  - line 2: packs.1 must be a folder, as text; got 3\n"
        f'  - line 5: deck.clearance needs a length, such as "1 mm"; got the bare number 1. {LENGTHS}'
    )
    assert refusal(tmp_path, 'format = 1\ncrank = "nope/crank"') == (
        "line 2: crank is 'nope/crank', but this job has no packs to look in; name their folders, as in packs = [\"../fellside\"]"
    )


def test_a_broken_pack_is_told_as_such(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(te.PackError) as caught:
        te.load_job(write(tmp_path, 'format = 1\npacks = ["empty"]'))
    assert str(caught.value) == f"{tmp_path / 'empty'}: holds no pack.toml: it is not a data pack"


def test_parts_that_do_not_go_together(tmp_path: Path) -> None:
    text = """format = 1
[cylinder]
bore = "47.6 mm"
[head]
kind = "spigot"
spigot_diameter = "47.8 mm"
"""
    path = write(tmp_path, text)
    with pytest.raises(te.AssemblyError) as caught:
        te.load_job(path)
    assert caught.value.reason == "spigot_wider_than_bore"
    assert str(caught.value) == f"{path}: the head's spigot (47.800 mm) is wider than the bore (47.600 mm) by 0.200 mm"
    # what is wrong in the file comes first: it may be why they do not
    assert refusal(tmp_path, text + "size = 3") == (
        "line 7: head.size is not a field of SpigotHead; it has "
        + ", ".join(name for name in te.SpigotHead.model_fields if name not in ("source", "basis"))
    )
    assert refusal(tmp_path, 'crank = "a/b"\n' + text).startswith("line 1: crank is 'a/b', but this job has no packs")


# --- the docs' own examples ------------------------------------------------------------------------------------------


def fenced(page: str) -> list[str]:
    return re.findall(r"^```toml\n(.*?)^```", (ROOT / "docs" / page).read_text(), re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("text", fenced("job-files.md"))
def test_every_job_of_the_page_loads(tmp_path: Path, text: str) -> None:
    (tmp_path / "datapacks").symlink_to(ROOT / "datapacks")
    (tmp_path / "docs" / "examples").mkdir(parents=True)
    job = te.load_job(write(tmp_path / "docs" / "examples", text))
    assert te.evaluate(job.top).keys() or job.fit


def test_the_pack_of_the_page_loads(tmp_path: Path) -> None:
    manifest, parts, *_ = fenced("packs.md")
    (tmp_path / "pack.toml").write_text(manifest)
    (tmp_path / "parts.toml").write_text(parts)
    catalogue = te.Catalogue.load(tmp_path)
    assert len(catalogue) == 8
    assert catalogue.findings == ()


def test_the_pages_name_every_field() -> None:
    """A newcomer writes from the pages alone, so each field of each part has to be there."""
    fields = {
        name for part in (te.Crank, te.Cylinder, te.Port, te.Piston, te.SquishBand, te.Gasket, te.StockItem) for name in part.model_fields
    }
    fields |= {name for part in (te.FlushHead, te.SpigotHead, te.DishCrown, te.ConeCrown, te.MeasuredCrown) for name in part.model_fields}
    pack_page, job_page = ((ROOT / "docs" / page).read_text() for page in ("packs.md", "job-files.md"))
    assert {name for name in fields if name not in pack_page} == set()
    job_fields = {name for part in (te.TopEnd, te.DeckReading, te.AssembledVolume, te.Running) for name in part.model_fields} - {
        "source",
        "basis",
        "name",
    }
    assert {name for name in job_fields if name not in job_page} == set()


def test_every_example_loads() -> None:
    # readings, fixtures, plans and comparisons have formats of their own, and tests of their own
    jobs = []
    for path in sorted(EXAMPLES.glob("*.toml")):
        text = path.read_text(encoding="utf-8")
        assert "invented" in text, path.name
        if set(tomllib.loads(text)) <= {"format", "title", "packs", "fit", "correct", "compare", "swap", *te.TopEnd.model_fields}:
            te.load_job(path)
            jobs.append(path.stem)
    assert {"fell50", "inline", "least", "moped", "kart", "trials"} <= set(jobs)
