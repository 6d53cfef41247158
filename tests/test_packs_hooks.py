"""The hooks: each with a test of its own here and a section in docs/packs.md, and what is said of code that goes wrong."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import topend as te
from topend.packs import Pack
from topend.packs.folder import open_folder
from topend.packs.hooks import HOOKS, Hooks
from topend.packs.plugin import Plugin

ROOT = Path(__file__).resolve().parent.parent
HEAD = """
from topend.packs import BuiltPart, ExtraFinding, ExtraOutput, FileReader, Finding, Output, hookimpl
from topend.parts import FlushHead, Gasket
"""
RATIO = 'Output("bore_ratio", "–", "Bore over stroke.", "common definition")'
Make = Callable[..., Pack]


@pytest.fixture
def coded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Make]:
    """Makes a pack whose hooks module holds this code."""
    monkeypatch.syspath_prepend(tmp_path)
    before = set(sys.modules)

    def make(code: str, name: str = "club", built: str = "") -> Pack:
        folder = tmp_path / f"{name}_parts"
        folder.mkdir()
        (folder / "__init__.py").write_text("")
        (folder / "hooks.py").write_text(HEAD + code)
        source = '[[source]]\nkind = "invented"\ntitle = "t"\n'
        (folder / "pack.toml").write_text(f'id = "{name}"\nversion = "1"\nformat = 1\ntitle = "T"\nlicence = "MIT"\n{built}{source}')
        return open_folder(folder, plugin=Plugin(name, f"{name}_parts.hooks", f"{name} 1.0", folder))

    yield make
    for name in set(sys.modules) - before:
        if name.split(".")[0].endswith("_parts"):
            del sys.modules[name]


# --- every hook has its section and its test ------------------------------------------------------------------------


def lacking(hooks: set[str], page: str, tests: set[str]) -> list[str]:
    """What is missing: a section headed by the hook's name, or a test whose name begins with it."""
    found = [f"{hook} has no section in docs/packs.md" for hook in sorted(hooks) if not re.search(rf"^#+ `{hook}`", page, re.MULTILINE)]
    return found + [f"{hook} has no test" for hook in sorted(hooks) if not any(test.startswith(f"test_{hook}_") for test in tests)]


def specified() -> set[str]:
    return {name for name, value in vars(Hooks).items() if inspect.isfunction(value)}


def test_every_hook_is_documented_and_tested() -> None:
    assert specified() == set(HOOKS)
    page = (ROOT / "docs" / "packs.md").read_text(encoding="utf-8")
    assert lacking(specified(), page, set(globals())) == []


def test_a_hook_without_section_or_test_is_found() -> None:
    """So that the test above can fail."""
    assert lacking({"topend_drawings"}, "text that names `topend_drawings`", {"test_topend_parts_x"}) == [
        "topend_drawings has no section in docs/packs.md",
        "topend_drawings has no test",
    ]


def test_hooks_take_nothing_and_are_told_in_one_line() -> None:
    for name in HOOKS:
        hook = getattr(Hooks, name)
        assert list(inspect.signature(hook).parameters) == ["self"]
        assert "\n" not in inspect.getdoc(hook)


# --- the hooks -------------------------------------------------------------------------------------------------------


def test_topend_parts_are_listed_by_the_manifest_and_built_when_asked(coded: Make) -> None:
    code = "ran = []\n@hookimpl\ndef topend_parts():\n    ran.append(1)\n    yield BuiltPart('low', FlushHead(name='the low one'))\n    yield BuiltPart('high', FlushHead())\n"
    pack = coded(code, built='built = { head = ["high", "low"] }\n')
    catalogue = te.Catalogue([pack])
    assert list(catalogue) == ["club/high", "club/low"]
    assert "club_parts.hooks" not in sys.modules
    assert catalogue["club/high"].name == "club/high"
    assert catalogue["club/low"].name == "the low one"
    assert catalogue["club/low"].provenance[0].part == "club/low"
    assert catalogue.of("head") == ["club/high", "club/low"]
    assert sys.modules["club_parts.hooks"].ran == [1]


def test_topend_outputs_are_evaluated_as_if_they_stood_in_the_table(coded: Make) -> None:
    code = f"@hookimpl\ndef topend_outputs():\n    yield ExtraOutput({RATIO}, ('cylinder.bore', 'crank.stroke'), lambda bore, stroke: bore / stroke)\n"
    extra = te.Catalogue([coded(code)]).extra_outputs
    assert [(one.output.name, one.pack) for one in extra] == [("bore_ratio", "club")]
    top = te.TopEnd(crank=te.Crank(stroke="40 mm"), cylinder=te.Cylinder(bore="44 mm"))
    result = te.evaluate(top, extra=extra)
    assert result.bore_ratio == result["bore_ratio"] == pytest.approx(1.1)
    assert result.to_dict()["bore_ratio"] == {"value": pytest.approx(1.1), "unit": "–"}
    assert "bore_ratio" in str(result)
    assert result.swept_volume == te.evaluate(top).swept_volume
    assert te.evaluate(top, ["bore_ratio"], extra=extra).keys() == ["bore_ratio"]
    # without its input it is missing, as any other
    less = te.TopEnd(crank=te.Crank(stroke="40 mm"))
    assert te.evaluate(less, extra=extra).missing["bore_ratio"] == ("cylinder.bore",)
    with pytest.raises(te.MissingInputError, match=r"bore_ratio cannot be had: it needs cylinder.bore"):
        te.evaluate(less, ["bore_ratio"], extra=extra)
    with pytest.raises(te.UnknownNameError):
        te.evaluate(top, ["bore_ratio"])


def test_topend_findings_are_added_to_the_librarys_own(coded: Make) -> None:
    code = """
@hookimpl
def topend_findings():
    yield ExtraFinding('wide', lambda result: [Finding('wide', 'note', 'a wide bore', 'nothing', 'memory')] if 'swept_volume' in result else [])
"""
    extra = te.Catalogue([coded(code)]).extra_findings
    top = te.TopEnd(crank=te.Crank(stroke="40 mm"), cylinder=te.Cylinder(bore="44 mm"))
    assert [finding.code for finding in te.findings(te.evaluate(top), extra=extra)] == ["wide"]
    assert te.findings(te.evaluate(top)) == []


def test_topend_readers_read_files_of_their_suffix(coded: Make, tmp_path: Path) -> None:
    code = """
@hookimpl
def topend_readers():
    yield FileReader('.mic', 'readings', lambda text: {'gasket': {name: {'role': 'base', 'thickness': size} for name, size in map(str.split, [])} | {'thin': {'role': 'base', 'thickness': text.strip()}}})
"""
    catalogue = te.Catalogue([coded(code)])
    file = tmp_path / "x.mic"
    file.write_text("0.3 mm\n")
    assert catalogue.read(file) == {"thin": te.Gasket(name="thin", role="base", thickness="0.3 mm")}
    file.write_text("thin\n")
    with pytest.raises(te.PackError, match=r"x.mic: gasket.thin.thickness needs a length"):
        catalogue.read(file)
    with pytest.raises(te.PackError, match=r"what can be read is .toml, .mic"):
        catalogue.read(tmp_path / "x.other")


# --- code that goes wrong -------------------------------------------------------------------------------------------

IMPL = "@hookimpl\ndef "


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("raise RuntimeError('no licence here')", "club_parts.hooks cannot be imported: RuntimeError: no licence here"),
        ("raise SystemExit(3)", "club_parts.hooks cannot be imported: SystemExit: 3"),
        (f"{IMPL}topend_part(): return []", "club_parts.hooks.topend_part answers no hook; nearest: topend_parts"),
        ("def topend_parts(): return []", "club_parts.hooks.topend_parts is not marked; put @hookimpl over it (from topend.packs import hookimpl)"),
        (f"{IMPL}parts(): return []", "answers hooks in a way that they do not have: "),
        (f"{IMPL}topend_parts(config): return []", "answers hooks in a way that they do not have: "),
        (f"{IMPL}topend_parts(): raise KeyError('x')", "topend_parts fails: KeyError: 'x'"),
        (f"{IMPL}topend_parts():\n    yield BuiltPart('a', FlushHead())\n    exit()", "topend_parts fails: SystemExit"),
        (f"{IMPL}topend_parts(): return 3", "topend_parts fails: TypeError: int is not iterable; yield BuiltPart records"),
        (f"{IMPL}topend_parts(): return ['a']", "topend_parts yields a str; it must yield BuiltPart records"),
        (f"{IMPL}topend_parts(): return [BuiltPart('a b', FlushHead())]", "topend_parts cannot be a name"),
        (f"{IMPL}topend_parts(): return [BuiltPart('a', 'b')]", "topend_parts yields 'a', which is no part but a str"),
        (f"{IMPL}topend_parts(): return [BuiltPart('a', FlushHead())] * 2", "topend_parts yields two parts named 'a'"),
        (f"{IMPL}topend_parts(): return [BuiltPart('a', FlushHead())]", "built does not list 'a', a head that the pack's code builds"),
    ],
)  # fmt: skip
def test_a_failing_plugin_is_named_and_takes_no_other_down(coded: Make, code: str, said: str) -> None:
    bad = coded(code, "club")
    good = coded(f"{IMPL}topend_parts(): return [BuiltPart('low', FlushHead())]", "good", 'built = { head = ["low"] }\n')
    catalogue = te.Catalogue([bad, good])
    (problem,) = catalogue.problems
    assert said in str(problem)
    assert "club" in str(problem)
    assert [name for name, _ in catalogue.items()] == ["good/low"]


@pytest.mark.parametrize(
    ("code", "said"),
    [
        (f"{IMPL}topend_outputs(): return [ExtraOutput(Output('squish_edge', 'mm', 'M.', 's'), (), lambda: 1.0)]", "yields 'squish_edge', which is an output already"),
        (f"{IMPL}topend_outputs(): return [ExtraOutput({RATIO}, ('cylinder.bor',), lambda x: x)]", "needs 'cylinder.bor'; nobody has that; nearest: cylinder.bore"),
        (f"{IMPL}topend_readers(): return [FileReader('.toml', 't', dict)]", "yields a reader of '.toml'; a suffix begins with a point"),
    ],
)  # fmt: skip
def test_records_that_cannot_be_used(coded: Make, code: str, said: str) -> None:
    catalogue = te.Catalogue([coded(code)])
    with pytest.raises(te.PackError) as caught:  # noqa: PT012 - whichever of the two asks for these records
        _ = catalogue.extra_outputs
        catalogue.read("x.none")
    assert said in str(caught.value)
    assert str(caught.value).startswith("pack club (club 1.0): topend_")


def test_two_packs_that_add_one_output_are_named(coded: Make) -> None:
    code = f"{IMPL}topend_outputs(): return [ExtraOutput({RATIO}, ('cylinder.bore',), lambda x: x)]"
    catalogue = te.Catalogue([coded(code, "one"), coded(code, "two")])
    with pytest.raises(te.PackError, match=r"pack two: topend_outputs 'bore_ratio' is yielded by pack one too; load one of the two"):
        _ = catalogue.extra_outputs


@pytest.mark.parametrize("work", ["lambda bore: 1 / 0", "lambda: 1.0"])
def test_an_output_whose_code_fails_is_named(coded: Make, work: str) -> None:
    code = f"{IMPL}topend_outputs(): return [ExtraOutput({RATIO}, ('cylinder.bore',), {work})]"
    extra = te.Catalogue([coded(code)]).extra_outputs
    with pytest.raises(te.PackError, match=r"pack club: the output bore_ratio fails: "):
        te.evaluate(te.TopEnd(cylinder=te.Cylinder(bore="40 mm")), extra=extra)


def test_an_output_cannot_change_what_others_read(coded: Make) -> None:
    code = (
        f"def work(bore):\n    bore *= 2\n    return bore\n{IMPL}topend_outputs(): return [ExtraOutput({RATIO}, ('cylinder.bore',), work)]"
    )
    extra = te.Catalogue([coded(code)]).extra_outputs
    top = te.TopEnd(crank=te.Crank(stroke="40 mm"), cylinder=te.Cylinder(bore="44 mm"))
    assert te.evaluate(top, extra=extra).swept_volume == te.evaluate(top).swept_volume
    assert te.evaluate(top, extra=extra).bore_ratio == te.evaluate(top, extra=extra).bore_ratio


@pytest.mark.parametrize("judge", ["lambda result: 1 / 0", "lambda result: ['x']", "lambda result: None"])
def test_a_finding_whose_code_fails_is_named(coded: Make, judge: str) -> None:
    extra = te.Catalogue([coded(f"{IMPL}topend_findings(): return [ExtraFinding('odd', {judge})]")]).extra_findings
    with pytest.raises(te.PackError, match=r"pack club: the finding odd fails: "):
        te.findings(te.evaluate(te.TopEnd(crank=te.Crank(stroke="40 mm"))), extra=extra)


def test_a_module_of_that_name_elsewhere_is_not_taken(coded: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pack = coded("")
    (tmp_path / "front" / "club_parts").mkdir(parents=True)
    for name in ("__init__.py", "hooks.py"):
        (tmp_path / "front" / "club_parts" / name).write_text("")
    monkeypatch.syspath_prepend(tmp_path / "front")
    assert "another module of that name is in the way" in str(pack.problem)
