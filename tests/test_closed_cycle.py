"""The closed cycle through the front door: outputs, refusals, findings, limits of knock, ranking, and what it feeds."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.evaluation import evaluate_columns
from topend.quantities import STATUS
from topend.report.card import BenchCard
from topend.report.pictures import picture
from topend.report.pictures.cycle import knock_ranking
from topend.solve.knock_ranking import _drawn

NAMES = ("peak_pressure", "closed_work", "knock_integral", "knock_margin", "cranking_pressure")


def engine(**changes: Any) -> te.TopEnd:
    """An invented 125."""
    parts: dict[str, Any] = {
        "crank": te.Crank(stroke="54.5 mm", rod_length="110 mm"),
        "cylinder": te.Cylinder(
            bore="54 mm",
            ports=[te.Port(kind="exhaust", top="30 mm")],
            studs=te.StudPattern(count=5, circle_diameter="72 mm", diameter="7 mm"),
        ),
        "piston": te.Piston(crown=te.FlatCrown(), diameter="53.8 mm", top_land="3 mm"),
        "head": te.FlushHead(chamber_volume="9.4 cc", band=te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="0 deg")),
        "head_gaskets": [te.Gasket(role="head", thickness="0.5 mm", fitted_thickness="0.5 mm", outer_diameter="66 mm", material="copper")],
        "deck": te.DeckReading(clearance="0.6 mm"),
        "running": te.Running(crank_speed="8000 rpm"),
        "burn": te.Burn(spark="18 deg"),
    }
    return te.TopEnd(**{name: part for name, part in {**parts, **changes}.items() if part is not None})


def codes(top: te.TopEnd) -> set[str]:
    return {one.code for one in te.findings(te.evaluate(top))}


def test_cranking_pressure_needs_no_burn_and_lies_where_gauges_read() -> None:
    # 135 to 165 psi at best power (a magazine's series, second-hand), of engines whose trapped ratios are about 6 to 7.5
    top = engine(burn=None, head=te.FlushHead(chamber_volume="9.0 cc"))
    made = te.evaluate(top, ["cranking_pressure", "trapped_compression_ratio"])
    assert 6.0 < made.trapped_compression_ratio < 7.5
    assert 135.0 < made.shown("cranking_pressure") * 14.5038 < 165.0
    shut = top.replace({"cranking": te.Cranking(pressure="0.6 bar")})
    assert te.evaluate(shut, ["cranking_pressure"]).shown("cranking_pressure") < 0.7 * made.shown("cranking_pressure")
    with pytest.raises(te.MissingInputError, match=r"^peak_pressure cannot be had: it needs burn\.spark$"):
        te.evaluate(top, ["peak_pressure"])


def test_what_is_estimated_is_said_so_with_its_limits() -> None:
    assumed = {one.path: one for one in te.evaluate(engine(), ["peak_pressure"]).assumed}
    for path in ("charge.pressure", "charge.temperature", "charge.residual", "burn.duration", "losses.wall_temperature"):
        assert assumed[path].limits is not None
        assert "from memory" in assumed[path].why
    stated = engine(charge=te.Charge(pressure="1.2 bar", temperature="400 K", residual="20 %", equivalence=1.1, ron=98))
    assert not any(one.path.startswith("charge.") for one in te.evaluate(stated, ["knock_margin"]).assumed)


def test_a_row_of_a_study_is_the_evaluation() -> None:
    rows = 130
    row = engine().row
    draw = np.random.default_rng(5)
    columns = row.columns() | {
        "head.chamber_volume": draw.uniform(9e-6, 11e-6, rows),
        "burn.spark": np.radians(draw.uniform(10.0, 25.0, rows)),
        "charge.residual": draw.uniform(0.1, 0.3, rows),
    }
    structure = row.structure.with_given(columns)
    replayed, _ = evaluate_columns(structure, columns, NAMES, block=64)
    for place in (0, 63, 64, 129):
        part = {path: one[place : place + 1] if len(one) > 1 else one for path, one in columns.items()}
        alone, _ = evaluate_columns(structure, part, NAMES)
        for name in NAMES:
            assert replayed[name][place] == alone[name][0], name


@pytest.mark.parametrize(
    ("reason", "changes", "told"),
    [
        ("spark_before_closing", {"burn": {"spark": "120 deg"}}, "the spark (120.0 deg before TDC) comes before the exhaust closes (8"),
        ("spark_after_opening", {"burn": {"spark": "-100 deg"}}, "the burn would start 110.0 deg after TDC, when the exhaust is open"),
        ("burned_before_spark", {"charge": {"residual": "100 %"}}, "charge.residual (100.0 %) leaves nothing to burn"),
        ("no_clearance_volume", {"head": {"chamber_volume": "0.001 cc", "recess_offset": "0 mm"}}, "cc of clearance"),
    ],
)
def test_what_cannot_be_is_refused_by_name(
    reason: str, changes: dict[str, Any], told: str, refused: Callable[..., te.AssemblyError]
) -> None:
    made = {"burn": te.Burn, "charge": te.Charge, "head": te.FlushHead}
    parts = {name: made[name](**fields) for name, fields in changes.items()}
    if reason == "no_clearance_volume":
        # a dome that fills the chamber: a ratio under 1 has no other way to come about
        parts["piston"] = te.Piston(crown=te.MeasuredCrown(volume="9 cc", edge_slope="0 deg"))
    assert told in str(refused(reason, lambda: engine(**parts)))


def test_a_burn_before_its_spark_is_refused_at_the_door_and_in_columns() -> None:
    with pytest.raises(te.PartError, match=r"delay must be at least 0 deg"):
        te.Burn(spark="18 deg", delay="-60 deg")
    with pytest.raises(te.PartError, match="give the one it is to be judged by"):
        te.Charge(ron=98, mon=88)
    row = engine().row
    for path, value in (("burn.delay", -1.0), ("burn.duration", 0.0), ("charge.residual", 1.0), ("burn.spark", -1.8), ("burn.spark", 1.9)):
        columns = row.columns() | {path: np.array([value])}
        made, status = evaluate_columns(row.structure.with_given([path]), columns, ["peak_pressure"])
        assert status[0] in (30, 31, 32), path
        assert np.isnan(made["peak_pressure"][0])


def lost() -> te.TopEnd:
    """Far from what engines do, each figure within what is let in: 250 rpm, eleven times the usual heat loss, a late and steep burn."""
    return engine(
        burn=te.Burn(spark="12.475704755851154 deg", duration="57.31256901214331 deg", form="5.92647332337525"),
        losses=te.Losses(heat_factor="2.819307271645416"),
        running=te.Running(crank_speed=f"{26.33999039104192 * 30 / np.pi!r} rpm"),
    )


def test_a_row_that_cannot_be_followed_says_so() -> None:
    """Its status has a reason, whatever is asked of the cycle, and the rest of the row stands; rows beside it are as they were."""
    top, names = lost(), ["squish_edge", "peak_pressure", "knock_margin", "gas_force"]
    alone = te.evaluate(top, names)
    assert np.isnan(alone.si["peak_pressure"])
    for rows in (1, 3, 40_000):
        speeds = np.full(rows, top.row.values["running.crank_speed"])
        speeds[1:] *= 20.0
        made, status = evaluate_columns(top.row.structure, {**top.row.columns(), "running.crank_speed": speeds}, names)
        assert status[0] == STATUS["cycle_not_followed"].code
        assert not status[1:].any()
        assert np.isnan([made[name][0] for name in names[1:]]).all()
        assert made["squish_edge"][0] == alone.si["squish_edge"]
        assert np.isfinite([made[name][1:] for name in names]).all()
    # nothing is asked of the cycle: nothing is lost
    made, status = evaluate_columns(top.row.structure, top.row.columns(), ["squish_edge"])
    assert (status[0], made["squish_edge"][0]) == (0, alone.si["squish_edge"])
    # a study's table has the reason, and the finding stands where one top end is judged
    table = (
        te.Study(top)
        .vary("running.crank_speed", [f"{26.33999039104192 * 30 / np.pi!r} rpm", "8000 rpm"])
        .run(["squish_edge", "peak_pressure"])
    )
    assert table.status.tolist() == [STATUS["cycle_not_followed"].code, 0]
    assert np.isfinite(table.columns["squish_edge"]).all()
    assert codes(top) & {"cycle_not_followed", "knocks", "may_knock"} == {"cycle_not_followed"}
    assert "peak_pressure" in BenchCard(top).text


def test_columns_beyond_what_parts_take_are_no_sizes() -> None:
    row = engine(charge=te.Charge(equivalence="1.1"), burn=te.Burn(spark="18 deg", form="2", completeness="5")).row
    for path, values in (("burn.form", (-0.1, 6.1, np.nan)), ("burn.completeness", (0.0, 20.1)), ("charge.equivalence", (0.2, 2.1))):
        for value in values:
            _, status = evaluate_columns(row.structure, {**row.columns(), path: np.array([value])}, ["peak_pressure"])
            assert status[0] == STATUS["not_a_size"].code, (path, value)


def test_studs_and_pulling_gap_take_its_pressures_unless_stated() -> None:
    names = ["peak_pressure", "gas_force", "stud_gas_load", "tdc_gas_pressure", "closure_pulling"]
    made = te.evaluate(engine(), names)
    stated = engine(running=te.Running(crank_speed="8000 rpm", peak_pressure="50 bar", gas_pressure="30 bar"))
    # the force grows with pressure alone, over the surroundings
    over = made.shown("peak_pressure") - 1.01325
    assert te.evaluate(stated, names).shown("gas_force") == pytest.approx(made.shown("gas_force") * 50.0 / over)
    assert made.shown("stud_gas_load") == pytest.approx(made.shown("gas_force") / 5.0)
    same = engine(running=te.Running(crank_speed="8000 rpm", gas_pressure=f"{made.shown('tdc_gas_pressure')} bar"))
    assert te.evaluate(same, names).shown("closure_pulling") == pytest.approx(made.shown("closure_pulling"), rel=1e-12)


def test_over_the_crank_angle() -> None:
    top = engine()
    made = te.closed_cycle(top, tolerance=1e-5)
    whole = te.evaluate(top, ["peak_pressure", "peak_pressure_angle", "closed_work", "knock_integral", "heat_loss", "exhaust_closes"])
    assert made.peak_pressure == pytest.approx(whole.shown("peak_pressure"), rel=1e-5)
    assert made.peak_pressure_angle == pytest.approx(whole.shown("peak_pressure_angle"), abs=0.01)
    assert made.work[-1] == pytest.approx(whole.shown("closed_work"), rel=1e-5)
    assert made.heat_loss[-1] == pytest.approx(whole.shown("heat_loss"), rel=1e-4)
    assert np.nanmax(made.knock_integral) == pytest.approx(whole.knock_integral, rel=1e-5)
    assert made.crank_angle[0] == pytest.approx(-whole.shown("exhaust_closes"))
    assert (np.diff(made.crank_angle) > 0.0).all()
    assert len({len(column) for column in made.columns.values()}) == 1
    assert made.knock_angle is None
    for wrong in (0.0, "1e-5"):
        with pytest.raises(te.ArgumentError, match="tolerance from 1e-9 to 1"):
            te.closed_cycle(top, tolerance=wrong)  # type: ignore[arg-type]
    with pytest.raises(te.MissingInputError, match=r"closed_cycle cannot be had: it needs burn\.spark"):
        te.closed_cycle(engine(burn=None))


KNOCKING = {"running": te.Running(crank_speed="2500 rpm"), "charge": te.Charge(ron=88, pressure="1.4 bar", temperature="440 K")}


def test_findings_trip_and_just_do_not() -> None:
    calm = codes(engine())
    assert not calm & {"knocks", "may_knock", "peak_early", "octane_beyond_delay", "end_gas_beyond_model"}
    hard = engine(**KNOCKING, burn=te.Burn(spark="30 deg"))
    (found,) = [one for one in te.findings(te.evaluate(hard)) if one.code == "knocks"]
    assert found.message.startswith("the end gas spends ")
    assert found.message.endswith("it knocks")
    assert found.margin is not None
    assert found.margin < 0.0
    angle = te.closed_cycle(hard).knock_angle
    assert angle is not None
    (early,) = [one for one in te.findings(te.evaluate(engine(burn=te.Burn(spark="40 deg")))) if one.code == "peak_early"]
    assert "deg after TDC: under 8 deg it presses against the crank" in early.message
    # a burn so late that the compression alone makes the peak, near TDC: less advance is no cure for that
    late = engine(burn=te.Burn(spark="8 deg", duration="90 deg"))
    assert te.evaluate(late, ["peak_pressure_angle"]).shown("peak_pressure_angle") < 1.0
    assert "peak_early" not in codes(late)
    # at 24.07 deg the margin is 0.02, as `knock_limits` finds it
    assert "may_knock" in codes(engine(**KNOCKING, burn=te.Burn(spark="24 deg")))


@pytest.mark.parametrize(("octane", "tripped"), [(79.9, True), (80.0, False), (100.0, False), (100.1, True)])
def test_octane_beyond_the_delay(octane: float, tripped: bool) -> None:
    top = engine(charge=te.Charge(ron=octane))
    found = [one for one in te.findings(te.evaluate(top)) if one.code == "octane_beyond_delay"]
    assert bool(found) is tripped
    if found:
        assert "is outside 80 to 100" in found[0].message


@pytest.mark.parametrize("path", ["burn.spark", pytest.param("head.chamber_volume", marks=pytest.mark.long)])
def test_knock_limits_bring_the_margin_about(path: str) -> None:
    top = engine()
    (limit,) = te.knock_limits(top, margin=0.88, along=[path])
    assert limit.at is not None
    changed = top.replace({limit.path: limit.at})
    assert te.evaluate(changed, ["knock_margin"]).knock_margin == pytest.approx(0.88, abs=1e-6)
    assert str(limit).startswith(f"{path} from ")


def test_a_margin_out_of_reach_and_arguments_that_are_none() -> None:
    top = engine()
    (far,) = te.knock_limits(top, margin=-5.0, along=["burn.spark"])
    assert far.at is None
    assert str(far) == "burn.spark: no value within 20 deg of 18 deg"
    for wrong in (1.0, float("nan"), "0.2"):
        with pytest.raises(te.ArgumentError, match="margin below 1"):
            te.knock_limits(top, margin=wrong)  # type: ignore[arg-type]
    with pytest.raises(te.ArgumentError, match=r'along as a list of paths, such as \["burn\.spark"\]'):
        te.knock_limits(top, along="burn.spark")


def test_heads_are_ranked_at_equal_work_with_what_is_sure_of_it() -> None:
    top = engine()
    heads = {volume: top.replace({"head.chamber_volume": volume}) for volume in ("9.0 cc", "9.4 cc", "10.0 cc")}
    ranked = te.rank_by_knock(heads, draws=25)
    assert [one.name for one in ranked] == ["10.0 cc", "9.4 cc", "9.0 cc"]
    work = []
    for one in ranked:
        set_ = heads[one.name].replace({"burn.spark": f"{one.spark} deg"})
        made = te.evaluate(set_, ["closed_work", "knock_margin"])
        work.append(made.shown("closed_work"))
        assert made.knock_margin == pytest.approx(one.knock_margin, rel=1e-9)
    assert work == pytest.approx([work[0]] * 3, rel=1e-6)
    # the bands lie over each other; the draws in common still say which is the best, and how often it is not
    assert ranked[0].low < ranked[-1].high
    assert ranked[0].best > 0.5
    assert sum(one.best for one in ranked) == pytest.approx(1.0)
    assert knock_ranking(ranked).axes[0].get_xlabel() == "knock margin at equal work"
    assert [(one.octane, one.findings) for one in ranked] == [(98.0, ())] * len(ranked)
    (beyond,) = te.rank_by_knock({"9.0 cc": heads["9.0 cc"]}, work="500 J", draws=2)
    assert beyond.spark is None
    with pytest.raises(te.ArgumentError, match="nothing to draw: none of the variants reaches the work"):
        knock_ranking([beyond])
    for wrong, told in (
        ({"work": "5 mm"}, "rank_by_knock: work needs an energy"),
        ({"work": "-1 J"}, "work must be more than 0 J"),
        ({"draws": 0}, "draws as a whole number, 1 or more"),
        ({"draws": "many"}, "draws as a whole number, 1 or more"),
    ):
        with pytest.raises(te.ArgumentError, match=told):
            te.rank_by_knock(heads, **wrong)  # type: ignore[arg-type]
    with pytest.raises(te.ArgumentError, match=r"tops\['head A'\] must be a TopEnd; got 5, an int"):
        te.rank_by_knock({"head A": 5})  # type: ignore[dict-item]


def test_heads_that_burn_the_same_fuel_have_its_octane_number_in_common() -> None:
    """The nominal octane number is open from 1 lower to 2 higher: of one can of fuel that bears on all heads alike."""
    ours = {name: engine(charge=te.Charge(fuel=fuel)) for name, fuel in (("one", "petrol 98"), ("same", None), ("other", "petrol 95"))}
    drawn = {name: _drawn(top, float(np.radians(18.0)), name, 20, 0) for name, top in ours.items()}
    assert np.array_equal(drawn["one"], drawn["same"])
    # a lower octane number takes the same share off in every draw but for its own draw
    share = (1.0 - drawn["other"]) / (1.0 - drawn["one"])
    assert np.ptp(share) > 1e-3


def test_a_study_over_ratio_spark_gap_and_fuel() -> None:
    fuels = ["petrol 95", "methanol"]
    study = (
        te.Study(engine())
        .vary("head.chamber_volume", ["9.0 cc", "10.0 cc"])
        .vary("burn.spark", ["14 deg", "18 deg"])
        .vary("head_gasket.thickness", ["0.3 mm", "0.8 mm"])
        .parts("charge", [te.Charge(fuel=fuel) for fuel in fuels])
    )
    table = study.run(["knock_margin", "closed_work"])
    assert len(table) == 16
    assert table.parts["charge"].names == tuple(fuels)
    last = engine(charge=te.Charge(fuel="methanol"), burn=te.Burn(spark="18 deg")).replace(
        {"head.chamber_volume": "10.0 cc", "head_gasket.thickness": "0.8 mm"}
    )
    alone = te.evaluate(last, ["knock_margin", "closed_work"])
    assert table.columns["knock_margin"][-1] == alone.knock_margin
    assert table.columns["closed_work"][-1] == alone.shown("closed_work")
    with pytest.raises(te.StudyError, match=r'charge\.fuel is a word; an axis of fuels is \.parts\("charge", \[Charge\(fuel="petrol 95"\)'):
        te.Study(engine()).vary("charge.fuel", fuels)


@pytest.mark.parametrize(
    ("part", "field", "least", "most"),
    [(te.Charge, "equivalence", 0.3, 2.0), (te.Burn, "form", 0.0, 6.0), (te.Burn, "completeness", 1e-6, 20.0)],
)
def test_a_burn_that_no_gas_has_is_refused_and_what_is_let_in_has_a_number(part: Any, field: str, least: float, most: float) -> None:
    more = {"spark": "18 deg"} if part is te.Burn else {}
    name = part.__name__.lower()
    for value in (least, most):
        made = te.evaluate(engine(**{name: part(**more, **{field: value})}), NAMES)
        assert all(np.isfinite(getattr(made, one)) for one in NAMES if one != "peak_pressure")
    with pytest.raises(te.PartError, match=f"{field} must be .*at most {most:g}"):
        part(**more, **{field: 1.1 * most})


def test_the_picture_and_the_relation_of_heat_loss() -> None:
    top = engine(losses=te.Losses(relation="woschni"))
    assert len(picture(top, "cycle_over_angle").axes) == 3
    ours, theirs = (te.evaluate(one, ["heat_loss"]).shown("heat_loss") for one in (engine(), top))
    assert ours != theirs


def test_the_card_says_that_it_is_for_comparing() -> None:
    text = " ".join(BenchCard(engine()).text.split())
    assert "CLOSED CYCLE" in text
    assert "peak_pressure" in text
    assert "absolute figures depend on pressure, temperature and residual gas at exhaust closing" in text


@pytest.mark.long
def test_a_card_without_a_burn_has_no_cycle() -> None:
    assert "CLOSED CYCLE" not in BenchCard(engine(burn=None)).text


@pytest.mark.parametrize(("charge", "octane", "inside"), [
    ({"fuel": "methanol"}, 106, False), ({"ron": "100"}, 100, True), ({"ron": "100.1"}, 100, False), ({"mon": "80"}, 80, True),
    ({"ron": "79"}, 79, False), ({}, 98, True),
])  # fmt: skip
def test_an_octane_number_beyond_the_delay_s_is_said_wherever_it_counts(charge: dict[str, str], octane: int, inside: bool) -> None:
    """Douaud and Eyzat (1978) measured with 80 to 100: in the findings, in the ranking, and in both pictures."""
    top = engine(charge=te.Charge(**charge))  # type: ignore[arg-type]
    assert ("octane_beyond_delay" in codes(top)) == (not inside)
    (one,) = ranked = te.rank_by_knock({"head A": top}, draws=2)
    assert round(one.octane) == octane
    assert [finding.code for finding in one.findings] == ([] if inside else ["octane_beyond_delay"])
    told = " ".join(knock_ranking(ranked).axes[0].get_xlabel().split())
    words = f"octane number {octane} (all): outside 80 to 100, which the knock delay was measured with: an extrapolation"
    assert told == "knock margin at equal work" + ("" if inside else f" {words}")
    figure = picture(top, "cycle_over_angle")
    shown = " ".join(" ".join(text.get_text() for axes in figure.axes for text in axes.texts).split())
    assert (f"octane number {octane}: outside 80 to 100" in shown) == (not inside)


def test_of_several_fuels_the_picture_names_whose_margin_is_an_extrapolation() -> None:
    tops = {"on petrol": engine(), "on methanol": engine(charge=te.Charge(fuel="methanol"))}
    told = " ".join(knock_ranking(te.rank_by_knock(tops, draws=2)).axes[0].get_xlabel().split())
    assert "octane number 106 (on methanol): outside" in told
