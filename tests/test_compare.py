"""Heads compared: every point against a single evaluation, the ranking and the front against all pairs."""

from __future__ import annotations

import itertools
import json
import math

import numpy as np
import pytest

import topend as te
from topend.errors import FitError
from topend.report.comparing import CompareReport
from topend.solve.compare import compare

TOP = te.TopEnd(
    crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"),
    cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm")]),
    piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
    base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm")],
    head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm", opening="48.5 mm")],
    deck=te.DeckReading(clearance="1.65 mm"),
    running=te.Running(crank_speed="11500 rpm"),
)


def head_of(drop: float, inner: float, volume: float, seal: str = "gasket") -> te.SpigotHead:
    return te.SpigotHead(
        name=f"-{drop} {inner}",
        recess_offset=f"-{drop} mm",
        spigot_diameter="47.2 mm",
        chamber_volume=f"{volume} cc",
        seal=seal,
        band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter=f"{inner} mm", angle="9 deg"),
    )


HEADS = [head_of(1.0, 33.0, 6.4), head_of(0.8, 30.0, 6.2, "o-ring"), head_of(1.2, 36.0, 6.9)]
GAPS = ["0.80 mm", "0.95 mm", "1.10 mm"]
SPEEDS = ["9000 rpm", "11500 rpm"]
AIMS = {"squish_velocity_peak": ("20 m/s", "3 m/s"), "running_clearance": "largest"}


@pytest.mark.parametrize("by", ["base", "head"])
def test_every_point_is_a_single_evaluation(by):
    heads = HEADS if by == "base" else [HEADS[0], HEADS[2]]
    found = compare(TOP, heads, aims=AIMS, gaps=GAPS, speeds=SPEEDS, by=by)
    seen = 0
    for (number, head), (at, gap), (place, speed) in itertools.product(enumerate(heads), enumerate(GAPS), enumerate(SPEEDS)):
        plain = TOP.replace({"head": head, "head_gaskets": [] if head.seal == "o-ring" else TOP.head_gaskets, "running.crank_speed": speed})
        stack, path = (0.5, "base.thickness") if by == "base" else (0.3, "head_gasket.thickness")
        thick = stack + float(gap.split()[0]) - te.evaluate(plain).shown("squish_edge")
        if thick < 0.0:
            assert found.status[number, at, place] == -1
            assert "stack is thin enough" in found.reason(number, at, place)
            continue
        single = te.evaluate(plain.replace({path: f"{thick!r} mm"}), list(found.values))
        for name, column in found.values.items():
            assert column[number, at, place] == pytest.approx(single.shown(name), rel=1e-9)
        assert single.shown("squish_min") > 0.0
        seen += 1
    assert seen >= 8


def test_the_front_is_what_no_point_beats_in_both():
    found = compare(TOP, HEADS, aims=AIMS, gaps=[f"{gap:.2f} mm" for gap in np.arange(0.7, 1.4, 0.05)], speeds=SPEEDS)
    quick, room = found.values["squish_velocity_peak"][:, :, 1], found.values["running_clearance"][:, :, 1]
    points = [(head, gap) for head, gap in np.ndindex(*quick.shape) if not math.isnan(quick[head, gap])]
    unbeaten = {
        (h, g)
        for h, g in points
        if not any(
            quick[other] >= quick[h, g] and room[other] >= room[h, g] and (quick[other] > quick[h, g] or room[other] > room[h, g])
            for other in points
        )
    }
    assert set(found.front) == unbeaten
    velocities = [quick[point] for point in found.front]
    assert velocities == sorted(velocities)
    assert 2 <= len(unbeaten) < len(points)


def test_the_ranking_is_that_of_trying_all():
    found = compare(TOP, HEADS, aims=AIMS, gaps=GAPS, speeds=SPEEDS, at_least={"running_clearance": "0.2 mm"})
    quick, room = found.values["squish_velocity_peak"], found.values["running_clearance"]
    best = {}
    for head in range(3):
        tried = []
        for gap in range(3):
            if found.status[head, gap].any() or room[head, gap].min() < 0.2:
                continue
            score = max(((value - 20.0) / 3.0) ** 2 for value in quick[head, gap])
            tried.append((round(score, 9), -round(float(room[head, gap].min()), 9), gap))
        if tried:
            best[head] = min(tried)
    order = sorted(best, key=lambda head: best[head])
    ranked = [one for one in found.ranked if one.rank is not None]
    assert [one.head for one in ranked] == order
    assert [one.gap for one in ranked] == [best[head][2] for head in order]
    assert [one.rank for one in ranked] == list(range(1, len(order) + 1))


def test_a_head_that_keeps_no_limit_comes_last_with_the_reason():
    found = compare(TOP, HEADS, aims=AIMS, at_most={"compression_ratio": 12.5})
    out = [one for one in found.ranked if one.rank is None]
    assert out
    assert all("compression_ratio" in one.why or "cannot be assembled" in one.why for one in out)
    assert found.ranked[-1].rank is None
    assert "wanted at most 12.5" in str(found)


def test_without_gaps_the_gaskets_leave_their_own():
    found = compare(TOP, HEADS[:1], aims={"squish_edge": "smallest"})
    assert math.isnan(found.gaps[0])
    assert found.speeds == pytest.approx((11500.0,))
    assert found.values["squish_edge"][0, 0, 0] == pytest.approx(te.evaluate(TOP.replace({"head": HEADS[0]})).shown("squish_edge"))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"heads": []}, "heads is empty: give at least one to compare"),
        ({"aims": {}}, "aims is empty: say what is wanted"),
        ({"aims": {"squish_min": "biggest"}}, "aims: squish_min must be a value and a tolerance, or largest, or smallest; got 'biggest'"),
        ({"by": "deck"}, "by must be base or head"),
        ({"gaps": "0.9 mm"}, "gaps must be a list, such as"),
        ({"gaps": [0.9]}, r"gaps\.0 needs a length"),
        ({"speeds": ["0 rpm"]}, r"speeds\.0 must be more than 0; got '0 rpm'"),
        ({"gaps": GAPS, "by": "head"}, "seals by O-ring, so that no head gasket sets its gap"),
        ({"aims": {"transfer_duration": "smallest"}}, r"-1.0 33.0: transfer_duration cannot be had: it needs cylinder\.ports"),
        ({"heads": HEADS[0]}, r"^heads must be a list of heads; got one (Flush|Spigot)Head, so put it in square brackets$"),
        ({"heads": [HEADS[0], "x"]}, r"heads\.1 must be a head, such as a FlushHead; got 'x'"),
        ({"at_least": {"squish_min": "1 mm"}, "at_most": {"squish_min": "0.8 mm"}}, "no value of squish_min can be"),
        ({"top": TOP.replace(base_gaskets=None), "gaps": GAPS}, "gaps are set with a base stack that is not known"),
    ],
)
def test_questions_that_cannot_be_asked(changes, message):
    given = {"top": TOP, "heads": HEADS, "aims": AIMS, **changes}
    with pytest.raises(FitError, match=message):
        compare(given.pop("top"), given.pop("heads"), **given)


def test_lists_in_the_place_of_tables_are_refused():
    with pytest.raises(te.TopendError, match="compare: aims must be a Mapping; got a list; give by output name"):
        compare(TOP, HEADS, aims=["squish_min"])
    with pytest.raises(te.TopendError, match="compare: at_most must be a Mapping"):
        compare(TOP, HEADS, aims=AIMS, at_most=["squish_min"])


def test_heads_of_one_name_are_told_apart():
    twice = [head.replace(name="one") for head in HEADS[:2]]
    assert compare(TOP, twice, aims=AIMS).names == ("one", "one (2)")


@pytest.mark.parametrize("by", ["base", "head"])
def test_a_point_is_a_top_end(by):
    heads = HEADS if by == "base" else [HEADS[0], HEADS[2]]
    found = compare(TOP, heads, aims=AIMS, gaps=GAPS, speeds=SPEEDS, by=by)
    told = 0
    for head, gap, speed in itertools.product(range(len(heads)), range(3), range(2)):
        if found.status[head, gap, speed] == -1:
            with pytest.raises(FitError, match="no head stack is thin enough for that gap"):
                found.top_end(head, gap, speed)
            continue
        single = te.evaluate(found.top_end(head, gap, speed), list(found.values))
        assert all(single.shown(name) == pytest.approx(column[head, gap, speed], rel=1e-9) for name, column in found.values.items())
        told += 1
    assert told > 6
    # as the gaskets leave it
    found = compare(TOP, HEADS, aims=AIMS)
    assert te.evaluate(found.top_end(1)).shown("squish_min") == pytest.approx(found.values["squish_min"][1, 0, 0], rel=1e-12)


BURNING = TOP.replace({"burn": te.Burn(spark="18 deg")})


def test_heads_are_put_in_order_by_knock_with_how_sure_that_is():
    found = compare(BURNING, HEADS, aims=AIMS, gaps=GAPS, speeds=SPEEDS)
    made = CompareReport(found)
    # each at the gap of its rank, at the lowest speed
    tops = {found.names[one.head]: found.top_end(one.head, one.gap, 0) for one in found.ranked}
    assert all(top.running.crank_speed.m_as("rpm") == pytest.approx(9000.0) for top in tops.values())
    ranked = te.rank_by_knock(tops)
    assert list(made.knock) == ranked
    lines = made.text[made.text.index("BY KNOCK MARGIN, AT EQUAL WORK") :].splitlines()
    assert max(map(len, lines)) <= 80
    for one in ranked:
        (line,) = [line for line in lines if line.startswith(f"  {one.name} ")]
        figures = f"{one.spark:.1f} deg {one.knock_margin:.2f} {one.low:.2f} {one.high:.2f} {one.best:.0%} {one.peak_pressure:.1f} bar"
        assert " ".join(line.split()).removeprefix(f"{one.name} ") == f"{figures} {one.trapped_compression_ratio:.2f}"
    assert "absolute figures depend on" in made.text
    assert [one["name"] for one in json.loads(made.json())["knock"]] == [one.name for one in ranked]
    # no spark, no word of it
    plain = CompareReport(compare(TOP, HEADS, aims=AIMS))
    assert (plain.knock, json.loads(plain.json())["knock"]) == ((), [])
    assert "KNOCK" not in plain.text


def test_a_head_whose_knock_cannot_be_told_is_left_out_with_the_reason():
    deep = HEADS[0].replace(name="deep", recess_offset="-2.5 mm")
    made = CompareReport(compare(BURNING, [HEADS[0], deep], aims=AIMS))
    assert [one.name for one in made.knock] == [HEADS[0].name]
    assert "deep is left out: crown and head touch" in " ".join(made.text.split())
    # nor any of them, where nobody says when the exhaust closes
    bare = BURNING.replace({"cylinder": te.Cylinder(bore="47.6 mm")})
    made = CompareReport(compare(bare, [HEADS[0]], aims={"squish_min": "largest"}))
    assert made.knock == ()
    assert f"{HEADS[0].name} is left out: knock_margin cannot be had: it needs cylinder.ports" in " ".join(made.text.split())
