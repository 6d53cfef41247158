"""Outputs that packs add, wherever outputs are named: told, planned, recorded, carried, shown, and refused where they cannot be."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

import copy
import inspect
import itertools
import json
import math
import pickle
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from club_job import job

import topend as te
from topend import extra_outputs
from topend.cli import main
from topend.evaluation import BLOCK, Result
from topend.packs import ExtraOutput, Output, pack_code
from topend.packs.testing import conformance
from topend.physics.wiring.planning import _nodes
from topend.plan_file import load_plan
from topend.quantities import ALWAYS, OUTPUTS, always, output
from topend.report import BenchCard, FitReport
from topend.report.comparing import CompareReport
from topend.solve import correct, plan_range

CODE = """
import numpy as np
from topend.packs import BuiltPart, ExtraOutput, Output, hookimpl
from topend.parts import Crank

SPEEDS, SHARES = np.array([100.0, 900.0, 1300.0]), np.array([0.0, 0.4, 1.0])


@hookimpl
def topend_parts():
    yield BuiltPart("crank", Crank(stroke="39.3 mm", rod_length="85 mm"))


@hookimpl
def topend_outputs():
    def out(name, unit, meaning, **more):
        return Output(name, unit, meaning, "invented", **more)

    yield ExtraOutput(out("bore_ratio", "–", "Bore over stroke."), ("cylinder.bore", "crank.stroke"), lambda bore, stroke: bore / stroke)
    yield ExtraOutput(
        out("wide_gap", "mm", "The band's least gap, of a gap over 1 mm its root.", decimals=2), ("squish_min",),
        lambda gap: np.where(gap > 1e-3, np.sqrt(gap * 1e-3), gap),
    )
    # not by operations on columns that can be recorded
    yield ExtraOutput(
        out("worn", "mm", "Wear by speed, read off a table.", when_named=True), ("running.crank_speed", "squish_edge"),
        lambda speed, edge: edge * np.interp(speed, SPEEDS, SHARES) ** 3,
    )
"""
NAMES = ["bore_ratio", "wide_gap", "worn"]
Install = Callable[..., Path]


@pytest.fixture
def install(install_pack: Install) -> Install:
    """Installs a pack with code, that of this file where no other is given."""

    def make(code: str = CODE, name: str = "club", *, version: str = "1", built: str = 'built = { crank = ["crank"] }') -> Path:
        return install_pack(code, name, version=version, built=built)

    return make


@pytest.fixture
def extra(install: Install) -> tuple[ExtraOutput, ...]:
    install()
    return te.Catalogue.discover().extra_outputs


@pytest.fixture
def top(sample: Any, extra: tuple[ExtraOutput, ...]) -> te.TopEnd:
    made: te.TopEnd = sample(
        crank=te.Crank(stroke="39.30 mm ± 0.05 mm", rod_length="85 mm"),
        deck=te.DeckReading(clearance="1.65 mm ± 0.03 mm", base_thickness="0.50 mm"),
    )
    return made.with_outputs(extra)


class NoHash:
    """A function that cannot be told from others."""

    __hash__ = None  # type: ignore[assignment]

    def __call__(self, bore: Any) -> Any:
        return bore


def added(work: Any, name: str = "odd", unit: str = "–", needs: Any = ("cylinder.bore",), pack: str = "") -> ExtraOutput:
    return ExtraOutput(Output(name, unit, "Meaning.", "source"), needs, work, pack)


# --- known where it was given, and nowhere else ----------------------------------------------------------------------


def test_a_top_end_knows_them_beside_the_table(top: te.TopEnd, extra: tuple[ExtraOutput, ...]) -> None:
    assert list(top.outputs) == [*OUTPUTS, *NAMES]
    assert output("wide_gap", top.outputs).unit == "mm"
    assert always(top.outputs) == (*ALWAYS, "bore_ratio", "wide_gap")
    result = te.evaluate(top)
    assert result.keys()[-2:] == ["bore_ratio", "wide_gap"]
    assert result.bore_ratio == pytest.approx(47.6 / 39.3, rel=1e-14)
    assert str(result.wide_gap.units) == "mm"
    # worked out where it is named alone, as its entry says
    assert "worn" not in result
    with pytest.raises(te.MissingInputError, match=r'ask for it by name: evaluate\(top, \["worn"\]\)'):
        _ = result.worn
    assert te.evaluate(top, ["worn"]).worn.m == pytest.approx(0.95 * np.interp(11500 * math.pi / 30, [100, 900, 1300], [0, 0.4, 1]) ** 3)
    assert te.evaluate(top, NAMES).si == te.evaluate(te.TopEnd(**top.given()), NAMES, extra=extra).si
    with pytest.raises(
        te.UnknownNameError,
        match=r"no output is called 'bore_ratios' in the outputs table and what packs add to it here; nearest: bore_ratio",
    ):
        te.evaluate(top, ["bore_ratios"])


def test_they_go_along_with_the_top_end(top: te.TopEnd) -> None:
    for other in (
        top.replace({"crank.stroke": "40 mm"}),
        top.replace(head=None),
        copy.copy(top),
        copy.deepcopy(top),
        top.model_copy(deep=True),
        pickle.loads(pickle.dumps(top)),
        te.Study(top).vary("crank.stroke", ["40 mm"]).top_end(0),
    ):
        assert other.extra_outputs == top.extra_outputs
        assert "bore_ratio" in te.evaluate(other)
    assert top.with_outputs(top.extra_outputs) is top
    # what it knows is no part of it
    assert top == te.TopEnd(**top.given())
    # JSON holds no code
    assert te.TopEnd.model_validate_json(top.model_dump_json()).extra_outputs == ()


def test_nothing_is_left_behind(top: te.TopEnd) -> None:
    """No list of them anywhere: another top end of the same parts, and the tables, know nothing of it."""
    te.evaluate(top, NAMES)
    te.Study(top).vary("crank.stroke", "38:40:0.1 mm").run(NAMES)
    plain = te.TopEnd(**top.given())
    assert plain.outputs is OUTPUTS
    assert not set(NAMES) & {*OUTPUTS, *te.evaluate(plain), *te.uncertainty(plain), *(row["name"] for row in te.glossary())}
    for ask in (
        lambda: te.evaluate(plain, ["bore_ratio"]),
        lambda: te.Study(plain).run(["bore_ratio"]),
        lambda: te.Study(plain).where(bore_ratio=(1, 2)),
        lambda: te.Study(plain).summarise(best="bore_ratio", largest=True),
        lambda: te.uncertainty(plain, ["bore_ratio"]),
        lambda: te.sensitivities(plain, ["bore_ratio"]),
        lambda: te.extremes(plain, ["bore_ratio"]),
        lambda: te.curve(plain, "bore_ratio", crank_speed=["9000 rpm"]),
    ):
        with pytest.raises(te.UnknownNameError, match=r"no output is called 'bore_ratio' in the outputs table"):
            ask()


def test_two_sets_of_packs_stand_beside_each_other(install: Install, sample: Any) -> None:
    """One name, two meanings, each where it was given: whatever is kept is kept by the pack's content."""
    install()
    first = sample().with_outputs(te.Catalogue.discover().extra_outputs)
    install(CODE.replace("bore / stroke", "stroke / bore"), version="2")
    # the same pack in another version, further up on the path
    second = sample().with_outputs(te.Catalogue.discover().extra_outputs)
    for one, ratio in ((first, 47.6 / 39.3), (second, 39.3 / 47.6), (first, 47.6 / 39.3)):
        assert te.evaluate(one).bore_ratio == pytest.approx(ratio, rel=1e-14)
        assert te.Study(one).vary("running.crank_speed", ["9000 rpm"]).run(NAMES)["bore_ratio"][0] == te.evaluate(one).bore_ratio
    with pytest.raises(
        te.PackError, match=r"pack club: topend_outputs 'bore_ratio' is yielded by pack club in another version too; load one of the two"
    ):
        first.with_outputs(second.extra_outputs)


# --- names, units, needs ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (added(lambda x: x, "squish_edge", pack="one"), "pack one: topend_outputs yields 'squish_edge', which is an output already"),
        (added(lambda x: x, "head"), "pack (not named): yields 'head', which stands for something else; give the output another name"),
        (added(lambda x: x, "row"), "'row', which stands for something else"),
        (added(lambda x: x, "a b"), "'a b', which is no name: letters, digits and _, a letter first"),
        (added(lambda x: x, "crank.thing"), "'crank.thing', which is no name"),
        (added(lambda x: x, unit="furlong"), "'odd', whose unit 'furlong' nobody has; units are – (for a ratio), mm, cm, m,"),
        (added(lambda x: x, needs="cylinder.bore"), """'odd', whose needs must be a tuple of names, such as ("cylinder.bore",); got 'cylinder.bore'"""),
        (added(lambda x: x, needs=("cylinder.bor",)), "'odd', which needs 'cylinder.bor'; nobody has that; nearest: cylinder.bore"),
        (added(lambda x: x, needs=("cylinder.ports.N.top",)), "'odd', which needs 'cylinder.ports.N.top'; nobody has that"),
        (added(3.0), "'odd', whose work must be a function; got 3.0"),
        (added(NoHash()), "'odd', whose work cannot be told from others (it has no hash); give a function"),
        (ExtraOutput(Output("odd", "mm", "M.", "s", decimals=-1), (), lambda: 1.0), "'odd', whose decimals must be a whole number from 0 to 12; got -1"),
        (ExtraOutput(Output("odd", "mm", "M.", "s", decimals=400), (), lambda: 1.0), "'odd', whose decimals must be a whole number from 0 to 12; got 400"),
        (ExtraOutput(Output("odd", "mm", "\x1b[2J", "s"), (), lambda: 1.0), "'odd', whose meaning holds U+001B; it must be one line of print"),
        (ExtraOutput(Output("odd", "mm", "M.", None), (), lambda: 1.0), "'odd', whose source must be a text; got None"),  # type: ignore[arg-type]
        (added(lambda x: x, needs=("odd",)), "'odd', which needs 'odd'; nobody has that"),
        (Output("odd", "mm", "M.", "s"), "must be ExtraOutput records (catalogue.extra_outputs); got Output"),
    ],
)  # fmt: skip
def test_what_cannot_be_an_output(one: Any, said: str) -> None:
    with pytest.raises(te.PackError) as caught:
        te.TopEnd().with_outputs([one])
    assert said in str(caught.value)


@pytest.mark.parametrize("given", [5, added(lambda x: x)])
def test_what_is_no_list_of_outputs(given: Any) -> None:
    with pytest.raises(te.PackError, match=r"outputs of packs: must be a list of ExtraOutput records \(catalogue.extra_outputs\); got "):
        te.TopEnd().with_outputs(given)


def test_of_two_with_one_name_both_packs_are_named() -> None:
    one, two = added(np.sqrt, pack="one"), added(np.abs, pack="two")
    with pytest.raises(te.PackError, match=r"^pack two: topend_outputs 'odd' is yielded by pack one too; load one of the two$"):
        te.TopEnd().with_outputs([one]).with_outputs([two])
    with pytest.raises(te.PackError, match=r"^pack \(not named\): 'odd' is yielded by pack one too"):
        te.evaluate(te.TopEnd().with_outputs([one]), extra=[added(np.abs)])
    # the very same twice is one
    assert te.TopEnd().with_outputs([one, one]).extra_outputs == (one,)


def test_a_need_may_be_one_of_a_list(sample: Any) -> None:
    one = added(lambda top: top, "roof", "mm", ["cylinder.ports.1.top"])
    assert te.evaluate(sample().with_outputs([one])).roof.m == pytest.approx(31.5)


def test_reserved_names_are_all_that_stand_beside_outputs(sample: Any) -> None:
    """Columns, attributes, arguments, keys of JSON, and quantities of the wiring: whoever adds one of these adds it there."""
    card = BenchCard(sample()).to_dict()
    arguments = {name for door in (te.fit_gaskets, te.design_head, te.design_columns) for name in inspect.signature(door).parameters}
    wired = {name for path in Path("docs/examples").glob("*.toml") for name in _wired(path) if "." not in name and ":" not in name}
    beside = {*dir(Result), *Result.__dataclass_fields__, *te.TopEnd.model_fields, *card, "opened", *arguments, *wired, "row", "status"}
    lacking = {name for name in beside - {*OUTPUTS, "profile", "columns", "targets"} if not name.startswith("_")} - extra_outputs.RESERVED
    assert lacking == set()
    assert not extra_outputs.RESERVED & set(OUTPUTS)


def _wired(path: Path) -> set[str]:
    try:
        return set(_nodes(te.load_job(path).top.row.structure))
    except te.JobError:
        return set()


# --- studies ---------------------------------------------------------------------------------------------------------


def same(table: Any, study: te.Study, names: list[str], rows: list[int]) -> None:
    """Row i of a study is that top end evaluated, to the bit."""
    for row in rows:
        result = te.evaluate(study.top_end(row), names)
        for name in names:
            assert float(table[name][row]) == result.shown(name), (row, name)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("threads", [1, 2])
def test_a_row_is_that_top_end_evaluated(top: te.TopEnd, name: str, threads: int) -> None:
    """Few rows, which are worked out as they come, and many, which are replayed in blocks."""
    beside = ["squish_velocity_peak"]
    study = te.Study(top).vary("head.recess_offset", "-1.4:-0.4:0.25 mm").vary("running.crank_speed", "8000:13000:500 rpm")
    same(study.run([name, *beside], threads=threads), study, [name], [0, 17, len(study) - 1])
    many = study.vary("crank.stroke", "39:40:0.1 mm").sample(5 * BLOCK // 605, seed=3)
    assert len(many) > 4 * BLOCK
    same(many.run([name, *beside], threads=threads), many, [name], [0, 1, 12_345, BLOCK - 1, BLOCK, len(many) - 1])


def test_rows_over_parts_and_pairs(top: te.TopEnd) -> None:
    heads = [
        top.head,
        top.head.replace(recess_offset="-0.8 mm"),
        te.FlushHead(chamber_volume="7 cc", recess_offset="0 mm", band=top.head.band),
    ]
    study = (
        te.Study(top).parts("head", heads).pair({"cylinder.bore": ["47.6 mm", "47.7 mm"], "crank.stroke": ["39.3 mm", "40 mm"]}).sample(3)
    )
    table = study.run([*NAMES, "squish_min"])
    same(table, study, NAMES, list(range(len(study))))
    assert table.units["wide_gap"] == "mm"
    assert "wide_gap" in repr(table)


def test_all_that_every_variant_has_are_worked_out_where_none_is_named(top: te.TopEnd) -> None:
    study = te.Study(top).vary("crank.stroke", ["39 mm", "40 mm"])
    assert list(study.run().columns)[-2:] == ["bore_ratio", "wide_gap"]
    assert list(study.summarise().outputs)[-2:] == ["bore_ratio", "wide_gap"]
    # an axis that only theirs depends on changes something
    assert te.Study(top).vary("cylinder.bore", ["47.5 mm", "48 mm"]).run(["bore_ratio"])["bore_ratio"].tolist() == pytest.approx(
        [47.5 / 39.3, 48 / 39.3]
    )
    with pytest.raises(te.StudyError, match=r"running.crank_speed never changes anything here: none of bore_ratio depends on it"):
        te.Study(top).vary("running.crank_speed", ["9000 rpm", "9500 rpm"]).run(["bore_ratio"])
    with pytest.raises(te.MissingInputError, match=r"bore_ratio cannot be had: it needs cylinder.bore"):
        te.Study(top.replace(cylinder=None)).run(["bore_ratio"])


def test_limits_best_rows_and_spreads(top: te.TopEnd) -> None:
    study = te.Study(top).vary("head.recess_offset", "-1.4:-0.4:0.05 mm").vary("cylinder.bore", ["47.6 mm", "47.8 mm"])
    table = study.run(["wide_gap", "bore_ratio"])
    inside = study.where(wide_gap=("0.60 mm", "0.80 mm"), bore_ratio=(1.2, None))
    kept = inside.run(["squish_min"])
    whole = (table["wide_gap"] >= 0.6) & (table["wide_gap"] <= 0.8) & (table["bore_ratio"] >= 1.2)
    assert kept.row.tolist() == np.flatnonzero(whole).tolist()
    told = inside.summarise(["bore_ratio"], best="wide_gap", target="0.70 mm", n=2)
    assert told.kept == len(kept)
    assert told.best.row.tolist() == inside.run(["wide_gap"]).best("wide_gap", 2, target="0.70 mm").row.tolist()
    assert told.outputs["bore_ratio"].greatest == table["bore_ratio"].max()
    assert "best by wide_gap nearest to 0.7 mm:" in repr(told)
    assert "bore_ratio" in told._repr_html_()
    assert study.run(["wide_gap"]).best("wide_gap", 1, largest=True).row[0] == np.argmax(table["wide_gap"])
    with pytest.raises(te.StudyError, match=r"where wide_gap: the lower limit needs a length"):
        study.where(wide_gap=(0.6, None))


def test_refused_rows_have_no_figure(top: te.TopEnd) -> None:
    table = te.Study(top).vary("head.recess_offset", ["-1.0 mm", "-3.0 mm"]).vary("crank.stroke", ["39.3 mm"]).run(NAMES)
    assert table.reasons() == {"ok": 1, "contact": 1}
    assert all(np.isnan(table[name][1]) and not np.isnan(table[name][0]) for name in NAMES)


# --- on disk, on workers ---------------------------------------------------------------------------------------------


def test_parquet_tells_whose_they_are_and_refuses_another_version(top: te.TopEnd, install: Install, tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    study = te.Study(top).vary("head.recess_offset", "-1.4:-0.4:0.1 mm").where(worn=("0 mm", None))
    folder = study.run(["wide_gap"], to=tmp_path / "out")
    schema = folder.dataset().schema
    assert schema.field("wide_gap").metadata == {b"unit": b"mm", b"meaning": b"The band's least gap, of a gap over 1 mm its root."}
    assert folder.dataset().to_table()["wide_gap"].to_pylist() == study.run(["wide_gap"])["wide_gap"].tolist()
    assert study.run(["wide_gap"]).to_arrow().schema.field("wide_gap").metadata[b"unit"] == b"mm"
    digest = te.Catalogue.discover().packs[0].digest
    told = json.loads((tmp_path / "out" / "_study.json").read_text())["study"]
    assert told["outputs_of_packs"] == {name: {"pack": "club", "sha256": digest} for name in ("wide_gap", "worn")}
    assert study.run(["wide_gap"], to=tmp_path / "out").written == 0
    install(CODE + "# another day\n", version="2")
    other = te.TopEnd(**top.given()).with_outputs(te.Catalogue.discover().extra_outputs)
    again = te.Study(other).vary("head.recess_offset", "-1.4:-0.4:0.1 mm").where(worn=("0 mm", None))
    with pytest.raises(te.StudyError, match="holds another study, which differs in outputs_of_packs"):
        again.run(["wide_gap"], to=tmp_path / "out")


def test_a_study_without_them_is_the_study_it_was(top: te.TopEnd) -> None:
    study, plain = (te.Study(one).vary("crank.stroke", ["39 mm", "40 mm"]) for one in (top, te.TopEnd(**top.given())))
    assert study.run(["swept_volume"]).digest == plain.run(["swept_volume"]).digest
    assert study.run(["bore_ratio"]).digest != study.run(["swept_volume"]).digest


def test_a_folder_takes_none_that_belongs_to_no_pack(sample: Any, tmp_path: Path) -> None:
    pytest.importorskip("pyarrow")
    study = te.Study(sample().with_outputs([added(np.sqrt)])).vary("cylinder.bore", ["47.6 mm", "47.8 mm"])
    assert study.run(["odd"])["odd"].tolist() == [te.evaluate(study.top_end(row), ["odd"]).odd for row in (0, 1)]
    with pytest.raises(te.StudyError, match=r"odd is an output that belongs to no data pack: a folder could not tell later"):
        study.run(["odd"], to=tmp_path / "out")
    assert not (tmp_path / "out").exists()
    assert study.run(["swept_volume"], to=tmp_path / "out").kept == 2


def test_another_process_finds_the_pack_by_its_name(top: te.TopEnd, install: Install, monkeypatch: pytest.MonkeyPatch) -> None:
    sent = pickle.dumps(te.Study(top).vary("crank.stroke", ["39 mm", "40 mm"]))
    # what is sent names the pack, and holds none of its code
    assert b"club_parts" not in sent
    there = pickle.loads(sent)
    assert there.top.extra_outputs[0].work.function is None
    assert there.run(NAMES)["worn"].tolist() == te.Study(top).vary("crank.stroke", ["39 mm", "40 mm"]).run(NAMES)["worn"].tolist()

    install(CODE + "# another day\n", version="2")
    lost = pickle.loads(sent)
    # another process has found nothing yet
    pack_code._installed.cache_clear()
    with pytest.raises(
        te.PackError,
        match=r"pack club, which adds the output \w+: is another one on .* \(club 2, sha256 \w{12}\) than where it was asked for \(club 1, sha256 \w{12}\); they must be the same",
    ):
        lost.top.extra_outputs[0].work.here()
    monkeypatch.setattr(sys, "path", [entry for entry in sys.path if "site-club" not in entry])
    with pytest.raises(
        te.PackError,
        match=r"pack club, which adds the output bore_ratio: is not installed on .*, where this is worked out; install club 1 there",
    ):
        lost.top.extra_outputs[0].work.here()


@pytest.mark.filterwarnings("ignore::ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.filterwarnings("ignore::DeprecationWarning:(distributed|tornado|dask).*")
def test_a_worker_that_lacks_the_pack_says_so(sample: Any, install: Install, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None, local_directory=str(tmp_path), silence_logs=50
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        site = str(install())  # the worker was there before
        study = te.Study(sample().with_outputs(te.Catalogue.discover().extra_outputs)).vary("head.recess_offset", "-1.4:-0.4:0.01 mm")
        with pytest.raises(
            te.PackError, match=r"pack club, which adds the output bore_ratio: is not installed on .*; install club 1 there"
        ):
            study.summarise(NAMES[:2], client=client)
        # what does without it is worked out all the same
        assert study.summarise(["squish_min"], client=client).rows == 101
        client.run(lambda: sys.path.insert(0, site))
        ours, theirs = study.summarise(NAMES), study.summarise(NAMES, client=client)
        assert ours.outputs == theirs.outputs


# --- uncertainty, sensitivities, extremes, curves ---------------------------------------------------------------------


def test_uncertainty_of_a_quotient(sample: Any, extra: tuple[ExtraOutput, ...]) -> None:
    """JCGM 100:2008, 5.1.6: the relative variances of a product of powers add; limits are a rectangle, 4.3.7."""
    cylinder = te.Cylinder(bore="47.60 mm ± 0.02 mm")
    top = sample(crank=te.Crank(stroke="39.30 mm ± 0.05 mm"), cylinder=cylinder, head=None, piston=None, deck=None).with_outputs(extra)
    expected = 47.6 / 39.3 * math.hypot(0.02 / 47.6, 0.05 / 39.3) / math.sqrt(3)
    (found,) = te.uncertainty(top, ["bore_ratio"]).values()
    assert found.u == pytest.approx(expected, rel=1e-5)
    assert found.text == "1.2112" if found.decimals == 4 else f"{found.value:.{found.decimals}f}"
    assert [share.path for share in found.shares] == ["crank.stroke", "cylinder.bore"]
    (drawn,) = te.uncertainty(top, ["bore_ratio"], method="monte-carlo", draws=200_000, threads=2).values()
    assert drawn.u == pytest.approx(expected, rel=0.01)
    assert te.uncertainty(top, ["bore_ratio"], validate=True, draws=50_000)["bore_ratio"].validation is not None
    assert list(te.uncertainty(top))[-1] == "bore_ratio"


@pytest.mark.parametrize("name", NAMES)
def test_draws_are_the_rows_they_would_be_alone(top: te.TopEnd, name: str) -> None:
    """Monte Carlo in blocks that are replayed gives what it gives in blocks that are not, to the bit."""
    many = te.uncertainty(top, [name], method="monte-carlo", draws=8 * (BLOCK // 8) + 8, seed=5)[name]
    assert many.drawn.draws >= BLOCK
    assert many.u == pytest.approx(te.uncertainty(top, [name])[name].u, rel=0.05, abs=1e-9)


def test_sensitivities_are_the_derivatives(top: te.TopEnd) -> None:
    found = te.sensitivities(top, ["bore_ratio"])["bore_ratio"]
    assert found == {"crank.stroke": pytest.approx(-47.6 / 39.3**2, rel=1e-7), "cylinder.bore": pytest.approx(1 / 39.3, rel=1e-7)}


def test_extremes_lie_at_the_limits(top: te.TopEnd) -> None:
    (found,) = te.extremes(top, ["bore_ratio"]).values()
    assert (found.low, found.value, found.high) == pytest.approx((47.6 / 39.35, 47.6 / 39.3, 47.6 / 39.25))
    assert found.unit == "–"
    assert found.at_low == {"crank.stroke": pytest.approx(39.35)}


@pytest.mark.parametrize("draws", [0, 500])
def test_curves_along_speed_and_size(top: te.TopEnd, draws: int) -> None:
    made = te.curve(top, ["worn", "wide_gap"], crank_speed="8000:12000:1000 rpm", draws=draws)
    for at, value in zip(made.at, made.value["worn"], strict=True):
        assert value == te.evaluate(top.replace({"running.crank_speed": f"{at} rpm"}), ["worn"]).shown("worn")
    assert "worn [mm]" in made.columns
    assert bool(made.low) == bool(draws)
    ratio = te.curve(top, "bore_ratio", **{"crank.stroke": ["39 mm", "40 mm"]})
    assert ratio.value["bore_ratio"].tolist() == pytest.approx([47.6 / 39, 47.6 / 40])
    assert list(ratio.columns) == ["crank.stroke [mm]", "bore_ratio"]


# --- code that does not do as it should ------------------------------------------------------------------------------


_COUNT = itertools.count()


class _Mute(Exception):
    def __str__(self) -> str:
        raise RuntimeError


def _raise(fault: Exception) -> Any:
    raise fault


BORES = te.TopEnd(crank=te.Crank(stroke="40 mm"), cylinder=te.Cylinder(bore="44 mm"))


@pytest.mark.parametrize("rows", [3, 3 * BLOCK])
@pytest.mark.parametrize(
    ("work", "said"),
    [
        (lambda bore: bore / bore.max(), "for a row among others and 1.0 for that row alone; it must take every row for itself, and go by nothing else"),
        (lambda bore: np.cumsum(bore), "it must take every row for itself"),
        (lambda bore: bore if bore > 0.0439 else -bore, "fails: ValueError: The truth value of an array with more than one element is ambiguous"),
        (lambda bore: [math.sqrt(float(one)) for one in bore][:1] * 2, "gives an array of the shape (2,) for columns of the shape "),
        (lambda bore: {}[0], "fails: KeyError: 0"),
        (lambda bore: _raise(ValueError("no\n  - line 1: a problem of another file")), "fails: ValueError: no - line 1: a problem of another file"),
        (lambda bore: _raise(_Mute()), "fails: _Mute"),
        # what NumPy would take for figures
        (lambda bore: None, "gives a NoneType; it must give floats in SI, NaN where there is none"),
        (lambda bore: "1.5", "gives a str; it must give floats in SI"),
        (lambda bore: ["1.5"] * len(bore), "gives a list; it must give floats in SI"),
        (lambda bore: te.Quantity(1.0, "mm"), "gives a Quantity; it must give floats in SI"),
        (lambda bore: np.asarray(bore) * te.Quantity(1.0, "mm"), "gives a Quantity; it must give floats in SI"),
        (lambda bore: np.asarray(bore) + 1j, "gives an array of complex128; it must give floats in SI"),
        (lambda bore: np.ma.masked_array(np.asarray(bore), mask=True), "gives a MaskedArray; it must give floats in SI"),
        (lambda bore: np.full(len(bore), np.datetime64("2020-01-01")), "gives an array of datetime64[D]; it must give floats in SI"),
        (lambda bore: np.zeros((len(bore), 2)), "2) for columns of the shape ("),
        (lambda bore: np.concatenate([np.asarray(bore)] * 2), "it must give one figure a row"),
        (lambda bore: sys.exit(3), "fails: SystemExit: 3"),
    ],
)  # fmt: skip
def test_work_that_is_no_function_of_a_row(work: Any, said: str, rows: int) -> None:
    top = BORES.with_outputs([added(work, pack="club")])
    bores = te.Quantity(np.linspace(43.0, 44.9, rows), "mm")
    with pytest.raises(te.PackError) as caught:
        te.Study(top).vary("cylinder.bore", bores).run(["odd"])
    assert str(caught.value).startswith("pack club: the output odd ")
    assert said in str(caught.value)


@pytest.mark.parametrize("work", [lambda bore: np.asarray(bore) + np.random.default_rng().random(), lambda bore: next(_COUNT) + bore])
def test_work_that_goes_by_chance_or_count_is_told_on_one_row_too(work: Any) -> None:
    with pytest.raises(
        te.PackError, match=r"the output odd is \S+ for a row and \S+ for the same row again; it must take every row for itself"
    ):
        te.evaluate(BORES.with_outputs([added(work)]), ["odd"])


@pytest.mark.parametrize(
    "work", [lambda bore: bore / 0.0, lambda bore: -1.0 / (bore - bore), lambda bore: bore * 1e300, lambda bore: [math.inf for _ in bore]]
)
def test_what_is_no_figure_is_none(work: Any) -> None:
    """Else the card would show an infinity without its sign, and squares of what is too large would end it."""
    top = BORES.with_outputs([added(work)])
    assert math.isnan(te.evaluate(top, ["odd"]).odd)
    assert np.isnan(te.Study(top).vary("cylinder.bore", "43:45:0.5 mm").run(["odd"])["odd"]).all()
    assert math.isnan(te.uncertainty(top, ["odd"])["odd"].value)
    assert re.search(r"odd +unknown", BenchCard(top).text)


def test_work_that_is_recorded_once_and_then_not_is_run_as_it_stands() -> None:
    seen: list[bool] = []

    def moody(bore: Any) -> Any:
        if not isinstance(bore, np.ndarray):
            seen.append(True)
            if len(seen) > 1:
                raise RuntimeError("not again")
        return bore * 2.0

    top = BORES.with_outputs([added(moody)])
    bores = np.linspace(43.0, 45.0, 3 * BLOCK)
    table = te.Study(top).vary("cylinder.bore", te.Quantity(bores, "mm")).run(["odd"])
    assert table["odd"] == pytest.approx(bores / 500.0)
    assert len(seen) > 1


def _tricked(bore: Any) -> Any:
    """Gives something else where it is recorded."""
    return bore * 2.0 if isinstance(bore, np.ndarray) else bore * 3.0


def _spoiling(bore: Any) -> Any:
    bore *= 2.0
    return bore


def _caught(bore: Any) -> Any:
    try:
        return np.array([math.sin(one) for one in bore])
    except TypeError:
        return 0.0


@pytest.mark.parametrize(
    "work",
    [_tricked, _spoiling, _caught, np.sin, lambda bore: bore > 0.0435, lambda bore: bore, lambda bore: 1.5, lambda bore: np.clip(bore, 0.0435, 0.0445),
     lambda bore: np.asarray(bore) * 2.0, lambda bore: bore**3 + bore**0.5 + 2**bore, lambda bore: np.maximum(bore, 0.0437) // 0.001, lambda bore: -abs(bore),
     lambda bore: [math.gamma(one) for one in bore], lambda bore: np.where(np.isnan(bore) | (bore < 0.0434), np.nan, np.hypot(bore, 1.0))],
)  # fmt: skip
@pytest.mark.parametrize("rows", [3, 3 * BLOCK])
def test_work_is_taken_as_it_comes(work: Any, rows: int) -> None:
    """Recorded where that gives the same to the bit, else run as a whole: a row among others is that row alone."""
    top = BORES.with_outputs([added(work)])
    study = te.Study(top).vary("cylinder.bore", te.Quantity(np.linspace(43.0, 44.9, rows), "mm"))
    table = study.run(["odd", "swept_volume"])
    for row in (0, 1, rows // 2, rows - 1):
        alone = te.evaluate(study.top_end(row), ["odd", "swept_volume"])
        assert np.array_equal([table["odd"][row], table["swept_volume"][row]], [alone.odd, alone.shown("swept_volume")], equal_nan=True)


def test_what_can_be_recorded_is() -> None:
    ways = {name: extra_outputs._recordable(one) for name, one in {
        "operations": added(lambda a, b: np.where(a > b, np.sqrt(a) / b, -a), needs=("cylinder.bore", "crank.stroke")),
        "a table": added(lambda a: np.interp(a, [0.0, 1.0], [0.0, 2.0])),
        "tricked": added(_tricked),
        "caught": added(_caught),
        "truths": added(lambda a: a > 0.5),
        "a branch": added(lambda a: a if a > 0 else -a),
    }.items()}  # fmt: skip
    assert ways == {"operations": True, "a table": False, "tricked": False, "caught": False, "truths": False, "a branch": False}


# --- solvers ---------------------------------------------------------------------------------------------------------

DRAWER = te.GasketSet(
    items=[{"gasket": te.Gasket(role="base", thickness=f"0.{one} mm", fitted_thickness=f"0.{one} mm"), "count": 2} for one in (2, 3, 5)]
    + [{"gasket": te.Gasket(role="head", thickness="0.3 mm", fitted_thickness="0.3 mm", opening="48.5 mm"), "count": 1}]
)


def test_gaskets_for_an_output_of_a_pack(top: te.TopEnd) -> None:
    """What stands for the least gap under 1 mm is fitted as the least gap is."""
    wanted, plain = (te.fit_gaskets(top, DRAWER, **{name: ("0.75 mm", "0.10 mm")}) for name in ("wide_gap", "squish_min"))
    assert wanted.feasible == plain.feasible > 0
    assert [one.base for one in wanted.best] == [one.base for one in plain.best]
    assert wanted.best[0].score == pytest.approx(plain.best[0].score)
    assert "wide_gap" in wanted.best[0].result
    report = FitReport(wanted, targets={"wide_gap": ("0.75 mm", "0.10 mm")})
    assert "wide_gap" in report.text
    assert json.loads(report.json())["best"]
    none = te.fit_gaskets(top, DRAWER, bore_ratio=(1.5, 0.1))
    assert not none
    assert str(none.misses[0]) == "bore_ratio 1.211, wanted 1.5 ± 0.1: 0.189 too little"
    with pytest.raises(te.UnknownNameError, match="bore_rati"):
        te.fit_gaskets(top, DRAWER, bore_rati=(1.5, 0.1))


@pytest.mark.parametrize("name", ["worn", "running_clearance"])
def test_gaskets_for_what_is_worked_out_only_where_it_is_named(top: te.TopEnd, name: str) -> None:
    found = te.fit_gaskets(top, DRAWER, **{name: ("0.50 mm", "0.20 mm")})
    assert found
    shown = te.evaluate(found.best[0].top, [name]).shown(name)
    assert f"{shown:.2f}" in FitReport(found, targets={name: ("0.50 mm", "0.20 mm")}).text
    none = te.fit_gaskets(top, DRAWER, **{name: ("5 mm", "0.20 mm")})
    assert none.misses[0].value == te.evaluate(none.nearest.top, [name]).shown(name)


def test_corrections_for_an_output_of_a_pack(top: te.TopEnd) -> None:
    found = correct(top, {"wide_gap": ("0.70 mm", "0.02 mm")}, allow={"deck_cut": (0, "0.8 mm")})
    plain = correct(top, {"squish_min": ("0.70 mm", "0.02 mm")}, allow={"deck_cut": (0, "0.8 mm")})
    assert found.best[0].cuts["deck_cut"].m == pytest.approx(plain.best[0].cuts["deck_cut"].m, abs=0.021)
    assert found.best[0].result.wide_gap.m == pytest.approx(0.7, abs=0.02)


def test_heads_compared_on_an_output_of_a_pack(top: te.TopEnd) -> None:
    heads = [top.head.replace(name="deep"), top.head.replace(name="high", recess_offset="-0.7 mm")]
    found = te.compare(top, heads, aims={"wide_gap": ("0.85 mm", "0.05 mm")}, at_least={"bore_ratio": 1.0})
    for place, head in enumerate(heads):
        assert found.values["wide_gap"][place, 0, 0] == te.evaluate(top.replace(head=head)).shown("wide_gap")
    assert "wide_gap" in str(found)
    assert "wide_gap" in CompareReport(found).text


WHY = "evaluate, studies, curves, uncertainty, sensitivities, extremes, fit_gaskets, correct and compare do"


@pytest.mark.parametrize(
    ("ask", "what"),
    [
        (lambda top: te.design_head(top, bore_ratio=1.2), "design_head"),
        (lambda top: te.reconcile(top, [], ["bore_ratio"]), "reconcile"),
        (lambda top: te.measure.propagate_measured(top, [], ["bore_ratio"]), "propagate_measured"),
        (lambda top: te.next_reading(top, targets=["bore_ratio"]), "next_reading"),
        (lambda top: te.verify(top, [], limits={"bore_ratio": (1, 2)}), "verify"),
        (lambda top: te.reconcile(top, [te.measure.Measured("bore_ratio", 1.2, 0.01, "–")], ["squish_min"]), "a reading"),
        (lambda top: plan_range([te.Family("a", top, [top.head])], list(DRAWER.gaskets if hasattr(DRAWER, "gaskets") else [one.gasket for one in DRAWER.items]), bore_ratio=(1.2, 0.1)), "plan_range"),
    ],
)  # fmt: skip
def test_where_they_are_not_taken_it_is_said_why(top: te.TopEnd, ask: Any, what: str) -> None:
    with pytest.raises(te.ArgumentError) as caught:
        ask(top)
    assert str(caught.value).startswith(f"{what} does not take bore_ratio, an output that pack club adds: ")
    assert str(caught.value).endswith(WHY)


# --- the conformance suite -------------------------------------------------------------------------------------------

CASE = """
format = 1
source = "bench book"
crank = "club/crank"
cylinder = { bore = "47.6 mm" }
[expect]
bore_ratio = { value = 1.21, tolerance = 0.01 }
"""


@pytest.mark.parametrize(
    ("code", "case", "said"),
    [
        (CODE, CASE, None),
        (CODE, CASE.replace("1.21", "1.31"), "bore_ratio comes out as 1.211, 0.099 off 1.31 ± 0.01"),
        (CODE, CASE + 'worn = { value = "1 mm", tolerance = "1 mm" }\n', "worn cannot be had: it needs running.crank_speed"),
        (CODE.replace("bore / stroke)", "bore / stroke if bore > 0 else 0.0)"), CASE, "pack club: the output bore_ratio fails: ValueError: The truth value"),
        (CODE.replace("bore / stroke)", "bore / stroke * bore.size)"), CASE, "pack club: the output bore_ratio is 3.63"),
    ],
)  # fmt: skip
def test_a_measured_case_holds_them_in_columns_too(install: Install, code: str, case: str, said: str | None) -> None:
    folder = install(code) / "club_parts"
    (folder / "checks").mkdir()
    (folder / "checks" / "first.toml").write_text(case)
    (trouble,) = [check.trouble() for check in conformance(te.Catalogue.discover().packs[0]) if check.name == "checks/first.toml"]
    assert trouble is None if said is None else said in str(trouble)


# --- card, jobs, commands --------------------------------------------------------------------------------------------


def test_the_card_has_a_table_of_them(top: te.TopEnd) -> None:
    card = BenchCard(top, title="x")
    digest = top.extra_outputs[0].digest
    part = card.text.split("OUTPUTS OF PACK CLUB")[1]
    assert re.search(r"bore_ratio +1\.2112? +± 0\.00\d+ +bore over stroke\n", part)
    assert re.search(r"wide_gap +0\.\d+ mm +± 0\.\d+ +the band's least gap", part)
    assert f"Worked out by the code of pack club, sha256 {digest[:12]}; not by topend itself." in " ".join(part.split())
    assert max(map(len, card.text.splitlines())) <= 80
    told = json.loads(card.json())
    assert told["bore_ratio"]["pack"] == "club"
    assert told["bore_ratio"]["unit"] == "–"
    assert "pack" not in told["squish_min"]
    assert "worn" not in told
    assert "OUTPUTS OF PACK" not in BenchCard(te.TopEnd(**top.given())).text
    pytest.importorskip("jinja2")
    assert "Outputs of pack club" in card.page()
    # the page does not say that all figures are the job's own
    assert (
        "all figures are the job's own" in card.page(),
        "all figures are the job's own" in BenchCard(te.TopEnd(**top.given())).page(),
    ) == (False, True)


def test_missing_ones_say_what_they_need(extra: tuple[ExtraOutput, ...]) -> None:
    card = BenchCard(te.TopEnd(crank=te.Crank(stroke="40 mm")).with_outputs(extra))
    assert card.result.missing["bore_ratio"] == ("cylinder.bore",)
    assert "bore_ratio" in card.text.split("CANNOT BE HAD YET")[1]


def test_the_glossary_names_their_pack(extra: tuple[ExtraOutput, ...]) -> None:
    rows = te.glossary(extra)
    assert [row["name"] for row in rows if row["role"] == "output"] == [*OUTPUTS, *NAMES]
    (row,) = [row for row in rows if row["name"] == "worn"]
    assert row == {
        "name": "worn",
        "role": "output",
        "unit": "mm",
        "meaning": "Wear by speed, read off a table.",
        "source": "pack club: invented",
    }


def test_a_job_has_the_outputs_of_packs_it_takes_parts_from(install: Install, tmp_path: Path) -> None:
    install()
    read = te.load_job(job(tmp_path, crank='"club/crank"'), te.Catalogue.discover())
    assert list(read.top.outputs) == [*OUTPUTS, *NAMES]
    assert te.evaluate(read.top).bore_ratio == pytest.approx(47.6 / 39.3)


def test_a_job_has_those_of_packs_it_names_and_runs_no_other_code(install: Install, tmp_path: Path) -> None:
    install()
    install("raise RuntimeError('not to be run')", "idle", built="")
    plain = te.load_job(job(tmp_path), te.Catalogue.discover())
    assert plain.top.outputs is OUTPUTS
    assert not [name for name in sys.modules if name.endswith("_parts.hooks")]
    named = te.load_job(job(tmp_path, 'code_of = ["club"]'), te.Catalogue.discover())
    assert te.evaluate(named.top).bore_ratio == pytest.approx(47.6 / 39.3)
    assert "idle_parts.hooks" not in sys.modules


@pytest.mark.parametrize(
    ("more", "end", "said"),
    [
        ('code_of = "club"', "", """line 4: code_of must be a list of packs by their ids, such as ["oxlip"]; got 'club'"""),
        ('code_of = ["clubs"]', "", "line 4: code_of.0 is 'clubs', but no installed pack with code is called so; nearest: club"),
        ('code_of = ["club"]', "[design.targets]\nbore_ratio = 1.2\n", "design.targets.bore_ratio is an output of pack club, and not taken here: a head is designed for outputs whose relation to its dimensions is known"),
        ("", "[fit]\n[fit.targets]\nbore_ratio = [1.2, 0.1]\n", "fit.targets.bore_ratio is not an output; "),
        ('code_of = ["club"]', "[fit]\n[fit.targets]\nwide_gap = [1.2, 0.1]\n", "fit.targets.wide_gap.0 needs a length"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_job(install: Install, tmp_path: Path, more: str, end: str, said: str) -> None:
    install()
    with pytest.raises(te.JobError) as caught:
        te.load_job(job(tmp_path, more, end=end), te.Catalogue.discover())
    assert said in str(caught.value)


def test_a_plan_file_says_why_it_takes_none(install: Install, tmp_path: Path) -> None:
    install()
    file = tmp_path / "plan.toml"
    file.write_text(
        'format = 1\n[plan.at_least]\nbore_ratio = 1.0\n[[families]]\ncrank = "club/crank"\n[families.at_most]\nbore_ratio = 2.0\n'
    )
    with pytest.raises(te.JobError) as caught:
        load_plan(file, te.Catalogue.discover())
    for where in ("line 3: plan.at_least", "line 7: families.0.at_most"):
        assert f"{where}.bore_ratio is an output of pack club, and not taken here: a range is planned for outputs whose" in str(
            caught.value
        )


STOCK = """
[fit]
[fit.stock]
items = [
    { gasket = { role = "base", thickness = "0.20 mm" }, count = 3 },
    { gasket = { role = "base", thickness = "0.50 mm" } },
    { gasket = { role = "head", thickness = "0.30 mm", opening = "48.5 mm" } },
]
[fit.targets]
wide_gap = ["0.95 mm", "0.10 mm"]
"""


def test_commands_take_them(install: Install, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    install()
    path = job(tmp_path, 'code_of = ["club"]', end=STOCK)

    def ran(*arguments: str) -> str:
        assert main(list(arguments)) == 0, capsys.readouterr().err
        return capsys.readouterr().out

    assert "OUTPUTS OF PACK CLUB" in ran("card", path)
    assert json.loads(ran("card", path, "--json"))["wide_gap"]["pack"] == "club"
    shown = ran(
        "study",
        path,
        "--vary",
        "head.recess_offset=-1.2:-0.6:0.1 mm",
        "--where",
        "wide_gap=0.9 mm:",
        "--where",
        "bore_ratio=1:2",
        "--outputs",
        "wide_gap,squish_min",
        "--best",
        "wide_gap=1.0 mm",
    )
    assert "by wide_gap nearest to 1 mm" in shown
    told = json.loads(ran("study", path, "--vary", "head.recess_offset=-1.2:-0.6:0.1 mm", "--outputs", "wide_gap", "--json"))
    assert told["outputs"]["wide_gap"]["decimals"] == 2
    assert told["outputs"]["wide_gap"]["pack"] == "club"
    assert "wide_gap is worked out by the code of pack club, sha256" in " ".join(shown.split())
    assert "squish_min is worked out" not in shown
    assert "wide_gap" in ran("fit", path)
    assert "bore_ratio" in ran("fit", path, "--target", "bore_ratio=1.2,0.1")
    assert "Wear by speed, read off a table." in ran("names", "--outputs-of", "club")
    assert json.loads(ran("names", "--outputs-of", "club", "--json"))["worn"]["source"] == "pack club: invented"
    assert "Wear by speed" not in ran("names")
    for arguments in (["study", path, "--outputs", "bore_rati"], ["fit", path, "--target", "bore_rati=1,2"]):
        assert main(arguments) == 2
        assert "nearest: bore_ratio" in capsys.readouterr().err
    assert main(["names", "--outputs-of", "nobody"]) == 2
    assert "no pack is called 'nobody'" in capsys.readouterr().err
