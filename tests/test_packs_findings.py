"""Findings that packs add, wherever findings are told: carried, asked, marked with their pack, and refused where they cannot be."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import ast
import contextlib
import copy
import itertools
import json
import pickle
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from club_job import job

import topend as te
from topend.cli import main
from topend.packs import ExtraFinding, ExtraOutput, Finding, Output, pack_code
from topend.packs.testing import conformance
from topend.quantities import FINDINGS
from topend.report import BenchCard, FitReport
from topend.report.correcting import CorrectReport
from topend.report.design import DesignReport
from topend.report.html import card_page
from topend.report.swapping import SwapReport
from topend.solve import correct
from topend.solve.design import design_head
from topend.solve.swap import swap

ROOT = Path(__file__).parents[1]
Install = Callable[..., Path]
#: A judgement by an output of the same pack, so that it is silent where that is not had.
CODE = """
from topend.packs import BuiltPart, ExtraFinding, ExtraOutput, Finding, Output, hookimpl
from topend.parts import Crank


@hookimpl
def topend_parts():
    yield BuiltPart("crank", Crank(stroke="39.3 mm", rod_length="85 mm"))


@hookimpl
def topend_outputs():
    yield ExtraOutput(Output("gap_per_bore", "–", "Least gap over the bore.", "invented", decimals=4), ("squish_min", "cylinder.bore"), lambda gap, bore: gap / bore)


@hookimpl
def topend_findings():
    def narrow(result):
        if "gap_per_bore" in result and result["gap_per_bore"] < 0.03:
            yield Finding("club_gap_small", "warning", f"the least gap is {result['gap_per_bore']:.4f} of the bore", "a thicker gasket", "memory", "club rules", figure=result["gap_per_bore"], limit=0.03, unit="–", effect="it may touch")

    def any_of_ours(result):
        yield Finding("club_seen", "note", "the club has a page on this engine", "", "memory")

    yield ExtraFinding("club_gap_small", narrow)
    yield ExtraFinding("pages", any_of_ours, codes=("club_seen",))
"""
CODES = ["club_gap_small", "club_seen"]
BUILT = 'built = { crank = ["crank"] }'


@pytest.fixture
def install(install_pack: Install) -> Install:
    """Installs a pack with code, that of this file where no other is given."""

    def make(code: str = CODE, name: str = "club", *, version: str = "1", built: str = BUILT) -> Path:
        return install_pack(code, name, version=version, built=built)

    return make


@pytest.fixture
def top(sample: Any, install: Install) -> te.TopEnd:
    install()
    made: te.TopEnd = sample().with_findings(te.Catalogue.discover().extra_findings)
    return made


def said(name: str = "odd", code: str | None = None, **changes: Any) -> Finding:
    return Finding(**{"code": code or name, "severity": "note", "message": "m", "do": "", "standing": "memory", **changes})


def added(name: str = "odd", *found: Any, pack: str = "", codes: Any = ()) -> ExtraFinding:
    return ExtraFinding(name, lambda result: found or (said(name),), pack, codes)


def of_packs(top: te.TopEnd) -> list[Finding]:
    return [one for one in te.findings(te.evaluate(top)) if one.pack is not None]


def codes(found: Any) -> list[str]:
    return [one.code for one in found]


# --- carried, and asked of every result ------------------------------------------------------------------------------


def test_the_findings_of_a_result_are_those_of_its_top_end_too(top: te.TopEnd, sample: Any) -> None:
    thin = {"deck.clearance": "1.20 mm"}
    found = te.findings(te.evaluate(top.replace(thin)))
    own = te.findings(te.evaluate(sample().replace(thin)))
    assert "gap_small" in codes(own)
    assert found[: len(own)] == own
    assert codes(found[len(own) :]) == CODES
    # which pack, by the catalogue's own word and not by what the code says
    assert {(one.pack, one.digest) for one in found[len(own) :]} == {("club", te.Catalogue.discover().packs[0].digest)}
    assert {one.pack for one in own} == {None}
    assert found[len(own)].margin == pytest.approx(te.evaluate(top.replace(thin), extra=top.extra_findings[0].outputs).gap_per_bore - 0.03)


def test_what_was_asked_for_does_not_matter(top: te.TopEnd) -> None:
    """Nor whether the pack's outputs are known to the top end: the judgement has what its pack adds."""
    assert "gap_per_bore" not in top.outputs
    whole = te.findings(te.evaluate(top))
    assert te.findings(te.evaluate(top, ["swept_volume"])) == whole
    assert te.findings(te.evaluate(top.with_outputs(te.Catalogue.discover().extra_outputs))) == whole
    # extra= sees the result as it is, as before, and marks its pack too
    plain = te.TopEnd(**top.given())
    extra = te.Catalogue.discover().extra_findings
    assert codes(te.findings(te.evaluate(plain), extra=extra)) == [*codes(te.findings(te.evaluate(plain))), "club_seen"]
    knowing = te.evaluate(plain, extra=te.Catalogue.discover().extra_outputs)
    assert te.findings(knowing, extra=extra) == whole
    # and says nothing twice
    assert te.findings(te.evaluate(top), extra=extra) == whole


def test_they_go_along_with_the_top_end(top: te.TopEnd) -> None:
    study = te.Study(top).vary("crank.stroke", ["39.3 mm"])
    for other in (
        top.replace({"crank.stroke": "39.31 mm"}),
        copy.copy(top),
        copy.deepcopy(top),
        top.model_copy(deep=True),
        pickle.loads(pickle.dumps(top)),
        pickle.loads(pickle.dumps(te.evaluate(top))).top,
        top.with_outputs(te.Catalogue.discover().extra_outputs),
        study.top_end(0),
    ):
        assert other.extra_findings == top.extra_findings
        assert codes(of_packs(other)) == CODES
    assert top.with_outputs(te.Catalogue.discover().extra_outputs).replace(head=None).extra_outputs[0].output.name == "gap_per_bore"
    assert top.with_findings(top.extra_findings) is top
    # what it knows is no part of it
    plain = te.TopEnd(**top.given())
    assert top == plain
    assert plain.extra_findings == ()
    assert te.TopEnd.model_validate_json(top.model_dump_json()).extra_findings == ()
    assert of_packs(plain) == []


def test_another_process_finds_the_judge_by_the_packs_name(top: te.TopEnd, install: Install, monkeypatch: pytest.MonkeyPatch) -> None:
    sent = pickle.dumps(top)
    assert b"club_parts" not in sent
    assert pickle.loads(sent).extra_findings[0].judge.function is None
    assert of_packs(pickle.loads(sent)) == of_packs(top)
    install(CODE + "# another day\n", version="2")
    pack_code._installed.cache_clear()
    with pytest.raises(te.PackError, match=r"^pack club, which adds the finding club_gap_small: is another one on .* \(club 2, sha256"):
        of_packs(pickle.loads(sent))
    monkeypatch.setattr(sys, "path", [entry for entry in sys.path if "site-club" not in entry])
    judge = pickle.loads(sent).extra_findings[1].judge
    with pytest.raises(te.PackError, match=r"^pack club, which adds the finding pages: is not installed on .*; install club 1 there"):
        judge.here()


def test_studies_do_not_know_of_them(top: te.TopEnd, sample: Any) -> None:
    """No node, no column, no plan of their own: rows cost what they did."""
    assert top.row is not sample().row
    assert top.row.structure == sample().row.structure
    asked = []
    counting = ExtraFinding("counted", lambda result: asked.append(result) or ())
    study = te.Study(sample().with_findings([counting])).vary("head.recess_offset", "-1.2:-0.8:0.01 mm")
    study.summarise(["squish_min"])
    study.run(["squish_min"])
    te.uncertainty(study.top)
    assert asked == []
    te.findings(te.evaluate(study.top_end(0)))
    assert len(asked) == 1


def test_a_judge_cannot_change_what_others_see(sample: Any) -> None:
    def spoil(result: Any) -> list[Finding]:
        result.si.clear()
        return []

    result = te.evaluate(sample().with_findings([ExtraFinding("spoil", spoil)]))
    before = dict(result.si)
    assert te.findings(result) == te.findings(te.evaluate(sample()))
    assert result.si == before


# --- names, codes, what a judge yields -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (added("gap_small", pack="one"), "pack one: topend_findings yields 'gap_small', which topend itself finds; give it another code"),
        (added("fine", codes=("knocks",)), "pack (not named): yields 'fine', whose code 'knocks' is what topend itself finds; give it another code"),
        (added("a b"), "yields 'a b', which is no name: letters, digits and _, a letter first"),
        (added("fine", codes=("a b",)), "yields 'fine', whose code 'a b' is no name"),
        (added("fine", codes="wide"), """yields 'fine', whose codes must be a tuple of names, such as ("spigot_tight",); got 'wide'"""),
        (ExtraFinding("odd", 3), "yields 'odd', whose judge must be a function; got 3"),  # type: ignore[arg-type]
        (said(), "findings of packs: must be ExtraFinding records (catalogue.extra_findings); got Finding("),
    ],
)  # fmt: skip
def test_what_cannot_be_a_judgement(one: Any, told: str) -> None:
    with pytest.raises(te.PackError) as caught:
        te.TopEnd().with_findings([one])
    assert told in str(caught.value)


@pytest.mark.parametrize("given", [5, added()])
def test_what_is_no_list_of_judgements(given: Any) -> None:
    with pytest.raises(te.PackError, match=r"findings of packs: must be a list of ExtraFinding records \(catalogue.extra_findings\); got "):
        te.TopEnd().with_findings(given)


def test_a_judgement_under_a_name_of_topend_is_not_hidden_by_codes_that_are_used_up() -> None:
    spent: Any = (code for code in ["club_wide"])
    with pytest.raises(te.PackError, match="'gap_small', whose codes must be a tuple of names"):
        te.TopEnd().with_findings([added("gap_small", said("gap_small"), codes=spent)])


def test_of_two_with_one_code_both_packs_are_named() -> None:
    one, two = added("tight", pack="one"), added("spigot", pack="two", codes=("loose", "tight"))
    with pytest.raises(te.PackError, match=r"^pack two: topend_findings 'tight' is found by pack one too; load one of the two$"):
        te.TopEnd().with_findings([one]).with_findings([two])
    with pytest.raises(te.PackError, match=r"^pack \(not named\): 'tight' is found by pack one too"):
        te.TopEnd().with_findings([one, added("tight")])
    assert te.TopEnd().with_findings([one, one]).extra_findings == (one,)


def test_two_installed_packs_with_one_code_are_told(install: Install) -> None:
    install()
    install(CODE.replace("gap_per_bore", "other"), "guild", built=BUILT)
    with pytest.raises(
        te.PackError, match=r"^pack guild: topend_findings 'club_gap_small' is found by pack club too; load one of the two$"
    ):
        _ = te.Catalogue.discover().extra_findings
    assert [one.pack for one in te.Catalogue.discover().findings_of("guild")] == ["guild", "guild"]


def test_another_version_of_the_pack_is_told(top: te.TopEnd, install: Install) -> None:
    install(CODE + "# another day\n", version="2")
    with pytest.raises(te.PackError, match=r"'club_gap_small' is found by pack club in another version too"):
        top.with_findings(te.Catalogue.discover().extra_findings)


@pytest.mark.parametrize(
    ("code", "told"),
    [
        (CODE.replace('ExtraFinding("pages"', 'ExtraFinding("club_gap_small"'), "pack club (club 1): topend_findings yields 'club_gap_small' twice"),
        (CODE.replace('("club_seen",)', '("club_gap_small",)'), "pack club (club 1): topend_findings yields 'club_gap_small' twice"),
        (CODE.replace("club_seen", "knocks"), "pack club (club 1): topend_findings yields 'pages', whose code 'knocks' is what topend itself finds"),
        (CODE.replace("yield ExtraFinding(\"pages\", any_of_ours, codes=(\"club_seen\",))", "yield 3"), "pack club (club 1): topend_findings yields a int; it must yield ExtraFinding records"),
    ],
)  # fmt: skip
def test_what_a_packs_hook_may_not_yield(install: Install, code: str, told: str) -> None:
    install(code)
    with pytest.raises(te.PackError) as caught:
        _ = te.Catalogue.discover().extra_findings
    assert told in str(caught.value)


@pytest.mark.parametrize(
    ("judge", "told"),
    [
        (lambda result: 1 / 0, "ZeroDivisionError: division by zero"),
        (lambda result: sys.exit(0), "SystemExit: 0"),
        (lambda result: None, "TypeError: 'NoneType' object is not iterable"),
        (lambda result: ["x"], "TypeError: it yields a str; it must yield Finding records"),
        (lambda result: [said(code="gap_small")], "TypeError: it finds 'gap_small', and says that it finds odd; name it in codes"),
        (lambda result: [said(code="<b>")], "it yields a Finding with the code '<b>', which is no name"),
        (lambda result: [said(severity="danger")], "odd: severity must be one of note, warning, refusal; got 'danger'"),
        (lambda result: [said(standing="a friend")], "odd: standing must be one of published, common practice, memory, geometry; got 'a friend'"),
        (lambda result: [said(message=None)], "odd: message must be a text; got None"),
        (lambda result: [said(figure=float("nan"))], "odd: figure must be a finite number, or None where there is none; got nan"),
        (lambda result: [said(limit="wide")], "ValueError: could not convert string to float: 'wide'"),
        (lambda result: [said(message="\x1b[2J all is well")], "odd: message holds U+001B; it must be one line of print"),
        (lambda result: [said(do="nothing\nWARNINGS")], "odd: do holds U+000A; it must be one line of print"),
        (lambda result: [said(effect="a\u202eb")], "odd: effect holds U+202E; it must be one line of print"),
        (lambda result: [said(message="\udc80")], "odd: message holds U+DC80; it must be one line of print"),
        (lambda result: [said(message="x" * 2001)], "odd: message has 2001 letters; at most 2000 are told"),
        (lambda result: itertools.repeat(said()), "odd fails: TypeError: it finds more than 1000 things in one top end; it must tell them together"),
    ],
)  # fmt: skip
def test_a_judgement_that_fails_is_an_error_of_its_pack(sample: Any, judge: Any, told: str) -> None:
    result = te.evaluate(sample().with_findings([ExtraFinding("odd", judge, "club")]))
    with pytest.raises(te.PackError) as caught:
        te.findings(result)
    assert str(caught.value).startswith("pack club: the finding odd fails: ")
    assert told in str(caught.value)


def test_a_pack_cannot_pass_its_finding_off_as_anothers(sample: Any) -> None:
    for claimed in (None, "oxlip"):
        (found,) = of_packs(sample().with_findings([added("odd", said(pack=claimed), pack="club")]))
        assert found.pack == "club"
    (found,) = of_packs(sample().with_findings([added("odd")]))
    assert found.pack == ""


def test_the_table_of_codes_is_the_page_and_what_the_checks_say() -> None:
    """So that no pack finds under a code of topend's own, whichever it is."""
    page = (ROOT / "docs" / "findings.md").read_text(encoding="utf-8")
    rows = [line.split("|")[1] for line in page.splitlines() if line.startswith("| `")]
    told = [code for row in rows for code in re.findall(r"`([a-z_]+)`", row)]
    assert sorted(told) == sorted(FINDINGS)
    held: set[str] = set()
    coded: set[str] = set()
    for path in (ROOT / "topend" / "checks").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                held.add(node.value)
            if isinstance(node, ast.keyword) and node.arg == "code":
                coded |= {one.value for one in ast.walk(node.value) if isinstance(one, ast.Constant) and isinstance(one.value, str)}
    assert held >= FINDINGS >= coded


# --- told in every place ---------------------------------------------------------------------------------------------

BY = "found by the code of pack club, sha256 {digest}; not by topend itself"


def digest() -> str:
    return te.Catalogue.discover().packs[0].digest


def told_once(text: str) -> None:
    plain = " ".join(text.split())
    assert "the least gap is 0.0" in plain
    assert BY.format(digest=digest()[:12]) in plain
    assert max(map(len, text.splitlines())) <= 80


def told_as_data(found: list[dict[str, Any]]) -> None:
    assert {one["code"]: (one["pack"], one["sha256"]) for one in found if "pack" in one} == dict.fromkeys(CODES, ("club", digest()))


def test_the_card(top: te.TopEnd, sample: Any) -> None:
    card = BenchCard(top, title="x")
    told_once(card.text)
    assert card.text.index("WARNINGS") < card.text.index("the least gap is 0.0") < card.text.index("PARTS, AS STATED")
    assert card.no_warning is None
    told = json.loads(card.json())["findings"]
    told_as_data(told)
    assert all("pack" not in one for one in BenchCard(sample()).to_dict()["findings"])
    assert "not by topend itself" not in BenchCard(sample()).text


def test_the_card_page(top: te.TopEnd, sample: Any) -> None:
    pytest.importorskip("jinja2")
    page = " ".join(card_page(BenchCard(top, title="x")).split())
    (item,) = re.findall(r'<li class="finding warning">.*?</li>', page)
    assert "the least gap is 0.0" in item
    assert item.endswith(f"{BY.format(digest=digest()[:12])}</p></li>")
    assert "not by topend itself" not in card_page(BenchCard(sample()))
    # what a pack says is text, not markup
    hostile = sample().with_findings([added("odd", said(message="<script>x</script>"), pack="club")])
    assert "<script>x" not in card_page(BenchCard(hostile))


def test_the_card_says_whose_checks_found_nothing(sample: Any) -> None:
    quiet = [ExtraFinding("one", lambda result: (), "club"), ExtraFinding("two", lambda result: (), "club")]
    assert (
        BenchCard(sample().with_findings(quiet)).no_warning
        == "None from the checks made, of topend and of pack club, which is no proof that it is safe."
    )
    assert BenchCard(sample()).no_warning == "None from the checks made, which is no proof that it is safe."


def test_a_card_whose_judgement_fails_is_an_error(sample: Any) -> None:
    card = BenchCard(sample().with_findings([ExtraFinding("odd", lambda result: 1 / 0, "club")]))  # type: ignore[arg-type]
    with pytest.raises(te.PackError, match=r"^pack club: the finding odd fails: ZeroDivisionError"):
        _ = card.text


DRAWER = {
    "items": [
        {"gasket": te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm"), "count": 2},
        {"gasket": te.Gasket(role="base", thickness="0.40 mm", fitted_thickness="0.40 mm"), "count": 2},
        {"gasket": te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm", fitted_thickness="0.30 mm")},
    ]
}


def test_a_fit(top: te.TopEnd) -> None:
    fit = te.fit_gaskets(top, te.GasketSet(**DRAWER), squish_min=("0.8 mm", "0.5 mm"))
    report = FitReport(fit, targets={"squish_min": ("0.8 mm", "0.5 mm")})
    assert len(fit.best) > 1
    told_once(report.text)
    for one in report.to_dict()["best"]:
        told_as_data(one["findings"])


def test_a_correction(top: te.TopEnd) -> None:
    asked = {"allow": {"deck_cut": ["0 mm", "0.8 mm"]}, "targets": {"squish_min": ("0.70 mm", "0.05 mm")}}
    answer = correct(top, **asked)
    assert answer.best
    report = CorrectReport(answer, **asked)
    told_once(report.text)
    for one in report.to_dict()["best"]:
        told_as_data(one["findings"])


def test_a_swap_says_what_was_not_to_be_said_before(sample: Any, install: Install) -> None:
    install()
    top = sample(crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"), deck=te.DeckReading(clearance="2.5 mm", base_thickness="0.50 mm"))
    top = top.with_findings(te.Catalogue.discover().extra_findings)
    assert codes(of_packs(top)) == ["club_seen"]
    answer = swap(top, crank=te.Crank(stroke="40.3 mm", rod_length="85.2 mm"), spacer="0.05 mm")
    assert codes(one for one in answer.findings if one.pack == "club") == ["club_gap_small"]
    report = SwapReport(answer, crank=te.Crank(stroke="40.3 mm", rod_length="85.2 mm"))
    told_once(report.text)
    (found,) = [one for one in report.to_dict()["findings"] if "pack" in one]
    assert found["pack"] == "club"
    assert "of the bore (found by pack club, not by topend)" in str(answer)


def test_a_designed_head(install: Install) -> None:
    install()
    read = te.load_job(ROOT / "docs" / "examples" / "fell50-head.toml")
    assert read.design is not None
    found = design_head(read.top.with_findings(te.Catalogue.discover().extra_findings), **read.design.arguments())
    report = DesignReport(found, title=read.title)
    assert BY.format(digest=digest()[:12]) in " ".join(report.text.split())
    assert "club_seen" in [one["code"] for one in report.to_dict()["solutions"][0]["findings"]]


def test_a_measured_case_asks_them(install: Install) -> None:
    folder = install(CODE.replace('yield Finding("club_seen", "note"', 'yield Finding("club_sen", "note"')) / "club_parts"
    (folder / "checks").mkdir()
    (folder / "checks" / "first.toml").write_text(
        'format = 1\ntitle = "c"\nsource = "invented"\ncrank = "club/crank"\ncylinder = { bore = "47.6 mm" }\n'
        '[expect]\nswept_volume = { value = "69.9 cc", tolerance = "0.1 cc" }\n'
    )
    (trouble,) = [check.trouble() for check in conformance(te.Catalogue.discover().packs[0]) if check.name == "checks/first.toml"]
    assert "pack club: the finding pages fails: TypeError: it finds 'club_sen', and says that it finds club_seen" in str(trouble)


# --- jobs and commands -----------------------------------------------------------------------------------------------

STOCK = """
stock = { items = [
    { gasket = { role = "base", thickness = "0.50 mm" } },
    { gasket = { role = "head", thickness = "0.30 mm", opening = "48.5 mm" } },
] }
"""
ASKED = f"""
[fit]{STOCK}
[fit.targets]
squish_min = ["0.95 mm", "0.30 mm"]
[correct]
[correct.allow]
deck_cut = ["0 mm", "0.8 mm"]
[correct.targets]
squish_min = ["0.75 mm", "0.05 mm"]
[swap]
crank = {{ stroke = "39.4 mm", rod_length = "85 mm" }}
"""


def test_a_job_has_those_of_packs_it_takes_from_or_names_and_runs_no_other_code(install: Install, tmp_path: Path) -> None:
    install()
    install("raise RuntimeError('not to be run')", "idle", built="")
    plain = te.load_job(job(tmp_path), te.Catalogue.discover())
    assert plain.top.extra_findings == ()
    assert not [name for name in sys.modules if name.endswith("_parts.hooks")]
    for path in (job(tmp_path, 'code_of = ["club"]'), job(tmp_path, crank='"club/crank"')):
        read = te.load_job(path, te.Catalogue.discover())
        assert codes(of_packs(read.top)) == CODES
        assert [one.output.name for one in read.top.extra_outputs] == ["gap_per_bore"]
    assert "idle_parts.hooks" not in sys.modules


def test_the_key_as_it_was_called_is_told(install: Install, tmp_path: Path) -> None:
    install()
    with pytest.raises(te.JobError, match=r"line 4: outputs_of is called code_of: the findings of those packs come in with their outputs"):
        te.load_job(job(tmp_path, 'outputs_of = ["club"]'), te.Catalogue.discover())


@pytest.mark.parametrize("command", ["card", "fit", "correct", "swap"])
def test_commands_tell_them(install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str) -> None:
    install()
    path = job(tmp_path, 'code_of = ["club"]', end=ASKED)

    def ran(*arguments: str) -> str:
        assert main(list(arguments)) == 0, capsys.readouterr().err
        return capsys.readouterr().out

    # a swap says what was not to be said before: nothing of theirs here
    assert (BY.format(digest=digest()[:12]) in " ".join(ran(command, path).split())) == (command != "swap")
    told = json.loads(ran(command, path, "--json"))
    found = told["findings"] if "findings" in told else told["best"][0]["findings"]
    assert [one["code"] for one in found if "pack" in one] == ([] if command == "swap" else CODES)


def test_a_command_whose_job_has_a_judgement_that_fails_says_so(
    install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    install(CODE.replace("def any_of_ours(result):", "def any_of_ours(result):\n        1 / 0"))
    path = job(tmp_path, 'code_of = ["club"]', end=ASKED)
    for command in ("card", "fit", "correct", "swap"):
        assert main([command, path]) == 2
        assert capsys.readouterr().err == "topend: pack club: the finding pages fails: ZeroDivisionError: division by zero\n"
    # these judge nothing, topend's own included, and ask none
    for arguments in (["study", path, "--vary", "head.recess_offset=-1.2:-0.8:0.1 mm", "--outputs", "squish_min"], ["assemble", path]):
        assert main(arguments) == 0, capsys.readouterr().err


# --- a name from a pack that the job does not take in ----------------------------------------------------------------

WANTED = f"[fit]{STOCK}\n[fit.targets]\ngap_per_bore = [0.02, 0.01]\n"


def refusal(path: str) -> str:
    with pytest.raises(te.JobError) as caught:
        te.load_job(path, te.Catalogue.discover())
    return str(caught.value)


@pytest.mark.parametrize("prose", ['title = "club/crank"', 'name = "club/crank"', '[location]\nsource = "club/crank"'])
def test_a_text_that_reads_like_a_part_runs_no_code(install: Install, tmp_path: Path, prose: str) -> None:
    """Only where a part goes does a part's id take in its pack."""
    install(f"import pathlib\npathlib.Path({str(tmp_path / 'ran')!r}).touch()\n{CODE}")
    path = tmp_path / "job.toml"
    # before [location], its kind is not given: what is refused runs no code either
    path.write_text(f'format = 1\ncrank = {{ stroke = "40 mm", rod_length = "85 mm" }}\n{prose}\n', encoding="utf-8")
    with contextlib.suppress(te.JobError):
        assert te.load_job(path, te.Catalogue.discover()).top.extra_findings == ()
    assert not (tmp_path / "ran").exists()
    path.write_text(f'format = 1\ncrank = "club/crank"\n{prose}\n', encoding="utf-8")
    with contextlib.suppress(te.JobError):
        te.load_job(path, te.Catalogue.discover())
    assert (tmp_path / "ran").exists()


@pytest.mark.parametrize(
    ("code_of", "told"),
    [
        ('["club/crank"]', "code_of.0 is 'club/crank', but no installed pack with code is called so; packs are named by their ids, such as club"),
        ('["fellside"]', "code_of.0 is 'fellside', a pack without code, which adds nothing; take it out"),
        ('["oxlip"]', "topend_oxlip, and a folder runs no code; install the distribution that it comes in"),
        ('["club", "clubs"]', "code_of.1 is 'clubs', but no installed pack with code is called so; nearest: club"),
        ('"club"', 'code_of must be a list of packs by their ids, such as ["oxlip"]; got \'club\''),
        ("[3]", 'code_of must be a list of packs by their ids, such as ["oxlip"]; got [3]'),
    ],
)  # fmt: skip
def test_what_is_wrong_under_the_key_is_told(install: Install, tmp_path: Path, code_of: str, told: str) -> None:
    install(f"import pathlib\npathlib.Path({str(tmp_path / 'ran')!r}).touch()\n{CODE}")
    packs = f'packs = ["{ROOT}/datapacks/fellside", "{ROOT}/datapacks/oxlip/src/topend_oxlip"]'
    assert told in refusal(job(tmp_path, f"{packs}\ncode_of = {code_of}"))
    assert (tmp_path / "ran").exists() == (code_of == '["club", "clubs"]')


def test_the_same_pack_named_twice_is_taken_in_once(install: Install, tmp_path: Path) -> None:
    install()
    made = te.load_job(job(tmp_path, 'code_of = ["club", "club"]'), te.Catalogue.discover()).top
    assert [one.name for one in made.extra_findings] == ["club_gap_small", "pages"]


def test_code_that_changed_after_it_was_imported_is_not_run_under_the_new_digest(install: Install) -> None:
    """A worker that goes on while its pack is upgraded would give old figures and vouch for them as new ones."""
    site = install()
    assert te.Catalogue.discover().extra_outputs[0].output.name == "gap_per_bore"
    assert te.Catalogue.discover().extra_outputs[0].output.name == "gap_per_bore"
    hooks = site / "club_parts" / "hooks.py"
    hooks.write_text(hooks.read_text(encoding="utf-8").replace("gap / bore", "2 * gap / bore"), encoding="utf-8")
    with pytest.raises(
        te.PackError, match=r"pack club \(club 1\): club_parts.hooks has changed since this process imported it; start the process anew"
    ):
        _ = te.Catalogue.discover().extra_outputs


def test_a_name_of_a_pack_not_taken_in_is_told_the_key(install: Install, tmp_path: Path) -> None:
    install()
    told = refusal(job(tmp_path, end=WANTED))
    assert "fit.targets.gap_per_bore is not an output" in told
    assert told.endswith('; the code of pack club names it, which the job does not take in: code_of = ["club"] does')
    # told from the text of its code: none of it was run
    assert "club_parts.hooks" not in sys.modules
    assert te.load_job(job(tmp_path, 'code_of = ["club"]', end=WANTED), te.Catalogue.discover()).fit is not None
    # what nobody's code names, and a section that takes none of packs, are told no key
    assert "code_of" not in refusal(job(tmp_path, end=WANTED.replace("gap_per_bore", "gap_per_boar")))
    assert "code_of" not in refusal(job(tmp_path, end="[design.targets]\ngap_per_bore = 0.02\n"))


def test_a_pack_in_a_folder_is_told_that_it_runs_only_where_installed(
    install: Install, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = install()
    monkeypatch.setattr(sys, "path", [entry for entry in sys.path if "site-club" not in entry])
    pack = site / "club_parts" / "pack.toml"
    pack.write_text(pack.read_text().replace(BUILT, ""))
    told = refusal(job(tmp_path, f'packs = ["{site.name}/club_parts"]', end=WANTED))
    folder = tmp_path / site.name / "club_parts"
    assert told.endswith(
        f"; the code in {folder} names it, and a folder runs none: install the distribution that pack club comes in, "
        'and take it in with code_of = ["club"]'
    )


def test_options_are_told_the_key_too(install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    install()
    path = job(tmp_path, end=ASKED)
    vary = ("--vary", "head.recess_offset=-1.2:-0.8:0.1 mm")
    for arguments in (
        ["fit", path, "--target", "gap_per_bore=0.02,0.01"],
        ["fit", path, "--at-least", "gap_per_bore=0.02"],
        ["study", path, *vary, "--outputs", "gap_per_bore"],
        ["study", path, *vary, "--where", "gap_per_bore=0.01:0.02"],
        ["study", path, *vary, "--best", "gap_per_bore=0.02"],
    ):
        assert main(arguments) == 2
        assert 'the code of pack club names it, which the job does not take in: code_of = ["club"] does' in capsys.readouterr().err
    assert "club_parts.hooks" not in sys.modules


def test_two_packs_whose_judgements_go_by_outputs_of_one_name_are_told(sample: Any) -> None:
    one = ExtraOutput(Output("wide", "–", "M.", "s"), ("cylinder.bore",), lambda bore: bore, pack="one")
    two = ExtraOutput(Output("wide", "–", "M.", "s"), ("crank.stroke",), lambda stroke: stroke, pack="two")
    carried = sample().with_findings(
        [ExtraFinding("a", lambda result: (), "one", outputs=(one,)), ExtraFinding("b", lambda result: (), "two", outputs=(two,))]
    )
    with pytest.raises(te.PackError, match=r"pack two: topend_outputs 'wide' is yielded by pack one too; load one of the two"):
        te.findings(te.evaluate(carried))
