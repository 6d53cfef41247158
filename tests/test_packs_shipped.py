"""The packs under `datapacks/`: each read, held to its cases, and unchanged since its version was recorded; the format's schema; migrations."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import copy
import itertools
import json
import shutil
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import topend as te
from topend.packs.folder import MANIFEST, Pack, open_folder
from topend.packs.migrations import MIGRATIONS, migrated
from topend.packs.plugin import Plugin
from topend.packs.schema import pack_schema
from topend.packs.testing import Check, conformance

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = {path.parent.relative_to(ROOT).as_posix(): path.parent for path in sorted((ROOT / "datapacks").rglob(MANIFEST))}

#: A version once given out stays as it is: who changes a file raises the version, and records it here with its digest.
RELEASED = {
    ("ashgill", "1.0.0"): "700e6f70eb10e45118a51dca490ebb09673231330a338b3a5d0e3604be057ad5",
    ("fellside", "1.0.0"): "1e0edd09b08c797876786a1c0371780aaa65f92989362a0ddb71ff56a05c1594",
    ("dunmallow", "1.0.0"): "11f244f5898621a1225c534cc01c72bc8a91cc3c43308e6c7a30e9d86b6654bb",
    ("oxlip", "1.0.0"): "bf312f7bed0fe53ea09ee1e6b5a9ac6e27630095aacd4258ac4f16f2c1d55e65",
}


@pytest.fixture
def shipped(monkeypatch: pytest.MonkeyPatch) -> Iterator[dict[str, Pack]]:
    """The shipped packs by id, the code of one as if it were installed."""
    source = ROOT / "datapacks" / "oxlip" / "src"
    monkeypatch.syspath_prepend(source)
    plugin = Plugin("oxlip", "topend_oxlip.hooks", "topend-oxlip 1.0.0", source / "topend_oxlip")
    made = [open_folder(folder, plugin=plugin if folder == plugin.folder else None) for folder in FOLDERS.values()]
    yield {pack.id: pack for pack in made}
    for name in ("topend_oxlip", "topend_oxlip.hooks"):
        sys.modules.pop(name, None)


def test_four_packs_are_shipped_and_each_keeps_what_it_promises(shipped: dict[str, Pack]) -> None:
    assert set(shipped) == {"ashgill", "fellside", "dunmallow", "oxlip"}
    for pack in shipped.values():
        checks = list(conformance(pack))
        assert {check.name: check.trouble() for check in checks} == {check.name: None for check in checks}
        assert len(checks) >= 5
    assert sum(check.name.startswith("checks/") for pack in shipped.values() for check in conformance(pack)) == 3


def test_all_of_it_says_that_it_is_invented() -> None:
    for path in (path for path in (ROOT / "datapacks").rglob("*") if path.is_file() and "__pycache__" not in path.parts):
        if not any(part.endswith(".egg-info") for part in path.parts):
            assert "invented" in path.read_text(encoding="utf-8").lower(), path


def test_released_versions_stay_as_they_are(shipped: dict[str, Pack]) -> None:
    assert {(pack.id, pack.version): pack.digest for pack in shipped.values()} == RELEASED, "raise the version of what was changed"


def test_a_changed_figure_changes_the_digest(tmp_path: Path) -> None:
    """So that the test above can fail."""
    shutil.copytree(FOLDERS["datapacks/fellside"], tmp_path / "fellside")
    file = tmp_path / "fellside" / "rigg50.toml"
    file.write_text(file.read_text().replace('"22.7 mm ± 0.1 mm"', '"22.8 mm ± 0.1 mm"'))
    assert open_folder(tmp_path / "fellside").digest != RELEASED["fellside", "1.0.0"]


def test_the_code_of_a_pack_counts_in_its_digest(shipped: dict[str, Pack], tmp_path: Path) -> None:
    plugin = shipped["oxlip"].plugin
    assert plugin is not None
    assert plugin.code_files() == ["__init__.py", "hooks.py"]


# --- promises that are not kept --------------------------------------------------------------------------------------


def scaffolded(folder: Path) -> Path:
    from topend.packs.scaffold import new_pack

    new_pack(folder)
    return folder


def troubles(folder: Path) -> dict[str, str]:
    found = {check.name: check.trouble() for check in conformance(open_folder(folder))}
    return {name: trouble.replace(f"{folder}/", "") for name, trouble in found.items() if trouble is not None}


@pytest.mark.parametrize(
    ("file", "old", "new", "check", "said"),
    [
        ("checks/first-fit.toml", '"0.86 mm"', '"0.90 mm"', "checks/first-fit.toml", "squish_edge comes out as 0.86 mm, 0.04 mm off 0.9 mm ± 0.03 mm"),
        ("checks/first-fit.toml", "squish_edge", "squish_egde", "checks/first-fit.toml", "line 14: expect.squish_egde is not an output; nearest: squish_edge"),
        ("checks/first-fit.toml", 'value = "0.86 mm"', "value = 0.86", "checks/first-fit.toml", "line 14: expect.squish_edge.value needs a length"),
        ("checks/first-fit.toml", 'tolerance = "0.03 mm"', 'tolerance = "0 mm"', "checks/first-fit.toml", "expect.squish_edge.tolerance must be more than 0"),
        ("checks/first-fit.toml", ', tolerance = "2 deg"', "", "checks/first-fit.toml", "expect.exhaust_duration must have value and tolerance"),
        ("checks/first-fit.toml", "source = \"An", "# \"An", "checks/first-fit.toml", "source is missing: where and how it was measured, as text"),
        ("checks/first-fit.toml", "piston = \"mine/piston\"", "piston = \"mine/nobody\"", "checks/first-fit.toml", "piston is 'mine/nobody', but no part of mine 0.1.0 is called so"),
        ("checks/first-fit.toml", "[expect]", "[expected]", "checks/first-fit.toml", "expect must be a table of outputs"),
        ("checks/first-fit.toml", "squish_edge", "squish_velocity_peak", "checks/first-fit.toml", "squish_velocity_peak.value needs a speed"),
        ("pack.toml", 'maintainers = ["say who looks after it"]', "", "says who made it and where its figures are from", "pack mine names no maintainers"),
        ("pack.toml", 'licence = "CC0-1.0"', "", "says who made it and where its figures are from", "has no licence"),
        ("pack.toml", "[[source]]", '[built]\nhead = ["x"]\n[[source]]', "code runs and answers the hooks", "no installed distribution brings this pack's code"),
        ("gasket.csv", "0.30,0.27", "0.30,thin", "reads", "gasket.csv, line 2: gasket.base-030.fitted_thickness [mm] must be a number"),
    ],
)  # fmt: skip
def test_a_promise_that_is_not_kept_is_told(tmp_path: Path, file: str, old: str, new: str, check: str, said: str) -> None:
    folder = scaffolded(tmp_path / "mine")
    assert troubles(folder) == {}
    path = folder / file
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new, 1))
    assert said in troubles(folder)[check]


def test_a_check_lets_through_what_is_no_error_of_the_pack() -> None:
    def defect() -> None:
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        Check("x", defect).trouble()


# --- what the families say -------------------------------------------------------------------------------------------


def test_what_goes_on_what_in_the_shipped_families(shipped: dict[str, Pack]) -> None:
    catalogue = te.Catalogue(shipped.values())
    narrow, wide, teal = (catalogue.fitting(f"dunmallow/{name}") for name in ("heron60-barrel", "heron60-barrel-wide", "teal80-barrel"))
    # the same spigot, other studs
    assert "dunmallow/heron60-drop10" in narrow.heads
    assert "dunmallow/heron60-drop10" not in wide.heads
    assert "dunmallow/heron60-drop10-wide" in wide.heads
    # windows of a gasket
    assert "dunmallow/heron60-base-050" in narrow.gaskets
    assert "dunmallow/heron60-base-050-wide" in wide.gaskets
    assert wide.candidates["dunmallow/heron60-base-050"].misfits[0].by == pytest.approx(4.0)
    assert teal.pistons == ["dunmallow/teal80-piston"]
    # heads of one maker on barrels of another
    assert [name for name in narrow.heads if name.startswith("oxlip/")] == [
        f"oxlip/o435-d{d}-a{a}" for d in ("08", "10", "12") for a in (10, 8, 9)
    ]
    assert len([name for name in teal.heads if name.startswith("oxlip/")]) == 9


def test_what_fits_by_geometry_assembles(shipped: dict[str, Pack]) -> None:
    """The other way round: builds of parts that fit are top ends, with squish and ratio that such engines have (common practice)."""
    catalogue = te.Catalogue([shipped["dunmallow"], shipped["oxlip"]])
    for family in ("heron60", "teal80"):
        barrel, crank = catalogue[f"dunmallow/{family}-barrel"], catalogue[f"dunmallow/{family}-crank"]
        fitting = catalogue.fitting(f"dunmallow/{family}-barrel", crank=f"dunmallow/{family}-crank")
        base = [catalogue[f"dunmallow/{family}-base-050"]]
        over = [catalogue[f"dunmallow/{family}-head-030"]]
        for head, piston in itertools.product(fitting.heads, fitting.pistons):
            top = te.TopEnd(
                crank=crank, cylinder=barrel, piston=catalogue[piston], head=catalogue[head], base_gaskets=base, head_gaskets=over
            )
            result = te.evaluate(top)
            assert 0.5 < result.shown("squish_edge") < 1.2
            assert 10.5 < result.compression_ratio < 14.5


# --- the schema ------------------------------------------------------------------------------------------------------

SCHEMA = ROOT / "docs" / "pack-schema.json"


def schema_text() -> str:
    return json.dumps(pack_schema(), indent=2, ensure_ascii=False) + "\n"


def test_the_committed_schema_is_that_of_the_models() -> None:
    assert SCHEMA.read_text(encoding="utf-8") == schema_text(), "rewrite it: python tests/test_packs_shipped.py"


def validator(name: str) -> Any:
    """Outside check: a general JSON Schema validator."""
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator({**schema, "anyOf": [{"$ref": f"#/$defs/{name}"}]})


def test_every_shipped_file_is_valid_under_the_schema() -> None:
    for folder in FOLDERS.values():
        for path in folder.rglob("*.toml"):
            name = "manifest" if path.name == MANIFEST else "case_file" if path.parent.name == "checks" else "part_file"
            errors = [error.message for error in validator(name).iter_errors(tomllib.loads(path.read_text()))]
            assert errors == [], path


@pytest.mark.parametrize(
    ("name", "table"),
    [
        ("manifest", {"id": "a", "version": "1", "format": 2, "title": "t"}),
        ("manifest", {"id": "a", "version": "1", "format": 1, "title": "t", "license": "MIT"}),
        ("part_file", {"crank": {"a": {"stroke": 39.3}}}),
        ("part_file", {"crank": {"a": {"stroke": {"value": "39.3 mm", "basis": "guessed"}}}}),
        ("part_file", {"crank": {"a b": {"stroke": "39.3 mm"}}}),
        ("part_file", {"cranks": {}}),
        ("case_file", {"format": 1, "source": "s", "expect": {}}),
    ],
)
def test_the_schema_refuses(name: str, table: dict[str, Any]) -> None:
    assert list(validator(name).iter_errors(table))


# --- older formats ---------------------------------------------------------------------------------------------------


def old_keys(tables: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """A step made up for these tests: in format 0 a stroke was called travel, and a pack's title its heading."""
    made = {name: dict(table) for name, table in tables.items()}
    made["pack.toml"]["title"] = made["pack.toml"].pop("heading")
    for table in made.values():
        for crank in table.get("crank", {}).values():
            crank["stroke"] = crank.pop("travel")
    return made


OLD = {"pack.toml": {"format": 0, "id": "a", "version": "1", "heading": "T"}, "x.toml": {"crank": {"c": {"travel": "39 mm"}}}}


def test_format_1_is_the_first() -> None:
    assert MIGRATIONS == {}


def test_a_step_is_pure() -> None:
    before = copy.deepcopy(OLD)
    made = migrated(OLD, 0, 1, {0: old_keys})
    assert before == OLD
    assert made["pack.toml"] == {"format": 1, "id": "a", "version": "1", "title": "T"}
    assert made["x.toml"] == {"crank": {"c": {"stroke": "39 mm"}}}
    assert migrated(OLD, 0, 1, {0: old_keys}) == made
    assert migrated(made, 1, 1) == made


def test_a_step_may_not_invent_a_value() -> None:
    def invents(tables: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
        made = old_keys(tables)
        made["x.toml"]["crank"]["c"]["rod_length"] = "85 mm"
        return made

    with pytest.raises(ValueError, match=r"the step from format 0 invents \('str', '85 mm'\)"):
        migrated(OLD, 0, 1, {0: invents})
    with pytest.raises(LookupError, match="there is no step from format 0 to 1"):
        migrated(OLD, 0, 1)


def test_an_older_pack_is_read_through_the_steps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "a"
    folder.mkdir()
    (folder / "pack.toml").write_text('format = 0\nid = "a"\nversion = "1"\nheading = "T"\n')
    (folder / "x.toml").write_text('[crank.c]\ntravel = "39 mm"\n')
    (problem,) = te.Catalogue.load(folder).problems
    assert "format is 0; this version of topend reads format 1" in str(problem)
    monkeypatch.setitem(MIGRATIONS, 0, old_keys)
    catalogue = te.Catalogue.load(folder)
    assert list(catalogue) == ["a/c"]
    assert catalogue["a/c"] == te.Crank(name="a/c", stroke="39 mm")
    assert catalogue.pack("a").title == "T"
    # what is wrong in it is told where it stands
    (folder / "x.toml").write_text("\n[crank.c]\ntravel = 39\n")
    (problem,) = te.Catalogue.load(folder).problems
    assert str(problem).startswith(f'{folder}/x.toml: line 2: crank.c.stroke needs a length, such as "39 mm"; got the bare number 39')


if __name__ == "__main__":
    SCHEMA.write_text(schema_text(), encoding="utf-8")
