"""Studies: a row is the top end it stands for, to the bit; draws, limits, tables, folders; and what is refused."""

from __future__ import annotations

import itertools
import json
import os
import pickle
import signal
import subprocess
import sys
import tracemalloc
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow.dataset
import pyarrow.parquet
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import topend as te
from topend import cli
from topend.quantities import INPUTS, STATUS
from topend.study import folder as study_folder
from topend.study.axes import field_of
from topend.study.compiled import CHUNK, Compiled
from topend.study.table import Aim, Partial
from topend.study.variants import unit_draws
from topend.study.work import reduced
from topend.units import registry

REASONS = {entry.code: entry.reason for entry in STATUS.values()}


# --- a row is its top end ------------------------------------------------------------------------------------------------------


def expected(build: Any, names: Any) -> tuple[str, dict[str, float], dict[str, float]]:
    """Reason, shown figures and SI figures of a top end as one alone has them."""
    try:
        result = te.evaluate(build(), names)
    except te.AssemblyError as error:
        return error.reason, {}, {}
    except te.PartError:
        return "not_a_size", {}, {}
    return "ok", {name: result.shown(name) for name in names}, dict(result.si)


def assert_row(compiled: Compiled, table: te.Table, row: int, build: Any) -> None:
    reason, shown, si = expected(build, compiled.outputs)
    block = compiled.block(0, compiled.rows)
    assert REASONS[int(table.status[row])] == reason, row
    for name in compiled.outputs:
        if reason == "ok":
            assert np.array_equal(table.columns[name][row], shown[name], equal_nan=True), (row, name)
            assert np.array_equal(block.si[name][row], si[name], equal_nan=True), (row, name)
        else:
            assert np.isnan(table.columns[name][row])


def mm(value: float) -> str:
    return f"{value!r} mm"


SPIGOT = te.SpigotHead(
    recess_offset="-1.0 mm ± 0.03 mm", spigot_diameter="47.2 mm", chamber_volume="6.4 cc", volume_basis="engraved",
    band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg ± 0.2 deg"),
)  # fmt: skip
FLUSH = te.FlushHead(
    recess_offset="0.2 mm ± 0.02 mm", recess_diameter="48.0 mm", chamber_volume="7.4 cc ± 0.1 cc", volume_datum="face",
    band=te.SquishBand(outer_diameter="47.0 mm", inner_diameter="34.0 mm", angle="2 deg"),
)  # fmt: skip
FLAT_FACE = te.FlushHead(chamber_volume="9 cc", band=te.SquishBand(outer_diameter="47.6 mm", inner_diameter="31 mm", angle="8 deg"))
RING = te.FlushHead(
    recess_offset="0.9 mm", seal="o-ring", chamber_volume="7 cc",
    band=te.SquishBand(outer_diameter="46 mm", inner_diameter="33 mm", angle="7 deg"),
)  # fmt: skip
HEADS = [SPIGOT, FLUSH, FLAT_FACE, RING, SPIGOT.replace(recess_offset="-0.8 mm", chamber_volume="6.6 cc")]
CROWNS = [
    te.FlatCrown(),
    te.ConeCrown(rise="1.2 mm"),
    te.SphereCrown(rise="2.2 mm ± 0.05 mm"),
    te.DishCrown(depth="1.0 mm", diameter="30 mm"),
    te.MeasuredCrown(volume="1.9 cc", edge_slope="8 deg"),
]
PISTONS = [
    te.Piston(crown=crown, compression_height=mm(25.0 + 0.1 * place), **({} if place % 2 else {"diameter": "47.54 mm ± 0.005 mm"}))
    for place, crown in enumerate(CROWNS)
]
CRANKS = [
    te.Crank(stroke="39.3 mm", rod_length="85 mm"),
    te.Crank(stroke="40.0 mm"),
    te.Crank(stroke="39.3 mm ± 0.02 mm", rod_length="80 mm", offset="1 mm"),
]
PORTS = [te.Port(kind="exhaust", top="22.3 mm ± 0.1 mm"), te.Port(kind="transfer", top="31.5 mm")]
BORES = (("47.6 mm", "60 mm"), ("47.7 mm ± 0.01 mm", "60.2 mm"))
CYLINDERS = [te.Cylinder(bore=bore, height=height, ports=PORTS) for bore, height in BORES]
PARTS = {"head": HEADS, "piston": PISTONS, "crank": CRANKS, "cylinder": CYLINDERS}
#: paths and values around those fitted, some of them no size, some that collide
PATHS: dict[str, tuple[str, tuple[float, ...]]] = {
    "crank.stroke": ("mm", (39.3, 38.0, 41.25, 0.0)),
    "crank.rod_length": ("mm", (85.0, 78.0, 15.0, 0.4)),
    "crank.offset": ("mm", (0.0, 1.5, -0.7, 70.0)),
    "cylinder.bore": ("mm", (47.6, 47.65, 40.0)),
    "cylinder.height": ("mm", (60.0, 60.5)),
    "cylinder.ports.0.top": ("mm", (22.3, 20.0, 1.0, 45.0)),
    "cylinder.ports.1.top": ("mm", (31.5, 30.0)),
    "piston.diameter": ("mm", (47.5, 47.6, 47.9)),
    "piston.compression_height": ("mm", (25.0, 25.3, -1.0)),
    "piston.pin_offset": ("mm", (0.5, -0.5)),
    "head.recess_offset": ("mm", (-1.0, -0.5, 0.0, 0.3, -3.0)),
    "head.chamber_volume": ("cc", (6.4, 8.123, 0.1)),
    "head.band.angle": ("deg", (9.0, 4.0, -2.0, 80.2)),
    "head.band.inner_diameter": ("mm", (33.0, 30.1, 48.0)),
    "head.band.outer_diameter": ("mm", (47.2, 46.0, 47.3)),
    "base.thickness": ("mm", (0.3, 0.8, 0.0)),
    "base_gaskets.0.fitted_thickness": ("mm", (0.45, 0.5)),
    "base_gaskets.0.thickness": ("mm", (0.45, 0.5)),
    "head_gasket.thickness": ("thou", (12.0, 20.0)),
    "head_gaskets.0.opening": ("mm", (48.0, 49.0, 47.0)),
    "deck.clearance": ("in", (0.065, 0.05, -0.01)),
    "deck.base_thickness": ("mm", (0.5, 0.0)),
    "running.crank_speed": ("rpm", (11500.0, 3000.0, -5.0)),
}  # fmt: skip


@st.composite
def bases(draw: st.DrawFn) -> te.TopEnd:
    deck: dict[str, Any] = {"clearance": "1.65 mm ± 0.03 mm", "at": draw(st.sampled_from(["edge", "edge", "centre", "10 mm"]))}
    count = draw(st.integers(1, 2))
    if draw(st.booleans()):
        # of other gaskets, or as those now fitted are stated
        deck["base_thickness"] = draw(st.sampled_from(["0.50 mm ± 0.01 mm", f"{0.48 * count:.2f} mm ± {0.01 * count:.2f} mm"]))
    deck["base_stack"] = draw(st.sampled_from([None, None, "same", "other"]))
    if draw(st.integers(0, 3)) == 0:
        deck["crank"] = CRANKS[draw(st.integers(0, 2))]
    crown = draw(st.sampled_from(CROWNS[:4] if deck["at"] != "edge" else CROWNS))
    gasket: dict[str, Any] = {"fitted_thickness": "0.48 mm ± 0.01 mm"} if draw(st.booleans()) else {}
    bases = [te.Gasket(role="base", thickness="0.50 mm ± 0.02 mm", **gasket) for _ in range(count)]
    parts: dict[str, Any] = {
        "crank": draw(st.sampled_from(CRANKS)),
        "cylinder": CYLINDERS[0],
        "piston": te.Piston(crown=crown, compression_height="25 mm", top_land="3 mm"),
        "head": draw(st.sampled_from([SPIGOT, FLUSH, FLAT_FACE])),
        "base_gaskets": bases,
        "head_gaskets": [te.Gasket(role="head", thickness="0.30 mm", **({"opening": "48.5 mm"} if draw(st.booleans()) else {}))],
        "deck": te.DeckReading(**deck),
        "running": te.Running(crank_speed="11500 rpm"),
        "crevice": draw(st.sampled_from(["reported", "included"])),
    }
    if draw(st.integers(0, 5)) == 0:
        del parts["deck"]
        parts["crank"] = te.Crank(stroke="39.3 mm ± 0.02 mm", rod_length="85 mm", seat_height="70.5 mm")
    try:
        return te.TopEnd(**parts)
    except te.AssemblyError:
        assume(False)
        raise


@st.composite
def axes(draw: st.DrawFn) -> list[dict[str, list[Any]]]:
    """Each axis: what it sets, by path or kind of part, and the values."""
    made: list[dict[str, list[Any]]] = []
    names = draw(st.lists(st.sampled_from([*PATHS, *PARTS]), min_size=1, max_size=4, unique=True))
    for name in names:
        if name in PARTS:
            made.append({name: draw(st.lists(st.sampled_from(PARTS[name]), min_size=1, max_size=3))})
            continue
        unit, values = PATHS[name]
        made.append({name: [f"{value!r} {unit}" for value in draw(st.lists(st.sampled_from(values), min_size=1, max_size=3))]})
    numeric = [axis for axis in made if not set(axis) & set(PARTS)]
    if len(numeric) >= 2 and draw(st.booleans()):
        one, other = numeric[:2]
        length = min(len(next(iter(one.values()))), len(next(iter(other.values()))))
        made = [axis for axis in made if axis is not one and axis is not other]
        made.append({path: values[:length] for axis in (one, other) for path, values in axis.items()})
    return made


def studied(top: te.TopEnd, made: list[dict[str, list[Any]]]) -> te.Study:
    study = te.Study(top)
    for axis in made:
        name = next(iter(axis))
        study = study.parts(name, axis[name]) if name in PARTS else study.pair(axis)
    return study


def rows_of(made: list[dict[str, list[Any]]]) -> list[dict[str, Any]]:
    """The changes of every row, in product order, with nothing of the library."""
    steps = [[{name: values[place] for name, values in axis.items()} for place in range(len(next(iter(axis.values()))))] for axis in made]
    return [{name: value for step in row for name, value in step.items()} for row in itertools.product(*steps)]


def compiled_or_refused(study: te.Study, top: te.TopEnd, wanted: list[dict[str, Any]]) -> Compiled | None:
    """The study of all outputs; None where it is refused for a reason that stands."""
    told = ""
    try:
        return Compiled(study, None)
    except te.StudyError as error:
        told = str(error)
    except te.PartError:
        # a part that is not there has no place for a value; so says each of the rows
        for changes in wanted:
            with pytest.raises(te.PartError):
                top.replace(changes)
        return None
    # an axis that lies under another (a fitted stack over a nominal thickness), or parts that never go together
    known = ("never changes anything here", "no row of this study goes together", "none here does")
    assert any(text in told for text in known), told
    return None


@settings(max_examples=120)
@given(top=bases(), made=axes())
def test_a_row_is_the_top_end_with_its_changes(top: te.TopEnd, made: list[dict[str, list[Any]]]) -> None:
    study = studied(top, made)
    wanted = rows_of(made)
    assert len(study) == len(wanted)
    compiled = compiled_or_refused(study, top, wanted)
    if compiled is None:
        return
    table = compiled.block(0, len(study)).table()
    for row, changes in enumerate(wanted):
        assert_row(compiled, table, row, lambda changes=changes: top.replace(changes))
    assert table.row.tolist() == list(range(len(study)))


@settings(max_examples=80)
@given(top=bases(), made=axes(), seed=st.integers(0, 2**70))
def test_a_drawn_row_is_the_top_end_as_it_truly_is_with_its_changes(top: te.TopEnd, made: list[dict[str, list[Any]]], seed: int) -> None:
    study = studied(top, made).sample(2, seed=seed)
    wanted = rows_of(made)
    assert len(study) == 2 * len(wanted)
    compiled = compiled_or_refused(study, top, wanted)
    if compiled is None:
        return
    table = compiled.block(0, len(study)).table()
    for row in range(len(study)):
        assert_row(compiled, table, row, lambda row=row: study.top_end(row))


# --- what an axis is made of -----------------------------------------------------------------------------------------------------


def values_of(study: te.Study, axis: int = 0) -> list[float]:
    return study.axes[axis].together[0].values.tolist()


@settings(max_examples=200)
@given(
    start=st.integers(-9999, 9999), steps=st.integers(0, 300), step=st.integers(1, 500), decimals=st.integers(0, 4),
    falls=st.booleans(), rest=st.integers(0, 499),
)  # fmt: skip
def test_a_range_is_the_decimals_that_would_be_written(start: int, steps: int, step: int, decimals: int, falls: bool, rest: int) -> None:
    step = -step if falls else step
    stop = start + steps * step + (rest % abs(step)) * (-1 if falls else 1)

    def text(number: int) -> str:
        digits = f"{abs(number):0{decimals + 1}d}"
        point = len(digits) - decimals
        return f"{'-' if number < 0 else ''}{digits[:point]}{'.' if decimals else ''}{digits[point:]}"

    study = te.Study(te.TopEnd()).vary("head.recess_offset", f"{text(start)}:{text(stop)}:{text(step)} mm")
    assert values_of(study) == [float(text(start + place * step)) for place in range(steps + 1)]


def test_values_are_kept_as_given_and_shown_in_the_unit_of_the_table(sample: Any) -> None:
    array = np.array([0.02, 0.03])
    study = te.Study(sample()).vary("head_gasket.thickness", te.Quantity(array, "in"))
    array[:] = 9.0
    table = study.run(["squish_edge"])
    assert table.columns["head_gasket.thickness"].tolist() == [0.508, 0.762]
    assert table.units["head_gasket.thickness"] == "mm"
    assert study.changes(1) == {"head_gasket.thickness": te.Quantity(0.03, "in")}
    # an array that nobody can change is taken as it is; a view of one that somebody can is not
    fixed, base = np.array([39.0, 39.3]), np.array([39.0, 39.3])
    view = base[:]
    fixed.flags.writeable = view.flags.writeable = False
    taken = [te.Study(sample()).vary("crank.stroke", te.Quantity(one, "mm")).axes[0].together[0].values for one in (fixed, view)]
    assert np.shares_memory(taken[0], fixed)
    assert not np.shares_memory(taken[1], base)
    # written in the unit that is shown, a value is the very same float
    assert te.Study(sample()).vary("crank.stroke", ["39.3 mm", "39.1 mm"]).run(["piston_travel"]).columns["crank.stroke"].tolist() == [
        39.3,
        39.1,
    ]


def test_every_input_has_a_field_whose_range_the_study_judges() -> None:
    for path in INPUTS:
        field_of(path.replace(".N.", ".0."))
    assert field_of("head.band.angle").high == 80.0
    assert field_of("base.thickness").strict
    assert field_of("deck.crank.stroke").strict


def test_a_study_never_changes(sample: Any) -> None:
    study = te.Study(sample())
    more = study.vary("crank.stroke", "39:40:0.5 mm")
    assert (len(study), len(more), len(more.sample(4))) == (1, 3, 12)
    with pytest.raises(AttributeError):
        study.axes = ()  # type: ignore[misc]
    with pytest.raises(ValueError, match="read-only"):
        more.axes[0].together[0].values[0] = 1.0
    assert len(te.Study(sample()).run(["squish_edge"])) == 1


def test_repr_of_a_study_and_of_its_table(sample: Any) -> None:
    study = (
        te.Study(sample()).vary("head.recess_offset", "-1.4:-0.6:0.1 mm").parts("piston", PISTONS[:2]).where(squish_min=("0.6 mm", None))
    )
    assert repr(study.sample(3, seed=5)) == (
        "Study of 54 rows\n"
        "  head.recess_offset -1.4 to -0.6 mm: 9 values\n  piston: 2 parts\n  sample: 3 draws, seed 5\n  where: squish_min"
    )
    table = te.Study(sample()).vary("head.recess_offset", "-2.2:-0.6:0.4 mm").run(["squish_edge", "compression_ratio"])
    assert repr(table) == (
        "Table of 5 rows: 4 ok, 1 contact\n"
        "row  head.recess_offset  squish_edge  compression_ratio   status\n"
        "                     mm           mm\n"
        "  0                -2.2            -                  -  contact\n"
        "  1                -1.8        0.150              15.64       ok\n"
        "  2                -1.4        0.550              13.77       ok\n"
        "  3                  -1        0.950              12.32       ok\n"
        "  4                -0.6        1.350              11.17       ok"
    )


# --- draws -----------------------------------------------------------------------------------------------------------------------


def test_any_stretch_of_a_stream_comes_alone() -> None:
    whole = unit_draws(7, "crank.stroke", 0, 1000)
    for start, count in ((0, 1), (1, 5), (3, 1), (4, 4), (515, 485)):
        assert np.array_equal(unit_draws(7, "crank.stroke", start, count), whole[start : start + count])
    assert not np.array_equal(whole, unit_draws(8, "crank.stroke", 0, 1000))
    assert not np.array_equal(whole, unit_draws(7, "crank.rod_length", 0, 1000))


def uncertain(sample: Any) -> te.TopEnd:
    return sample(
        deck=te.DeckReading(clearance="1.65 mm +0.05/-0.01 mm"),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm ± 0.02 mm")],
        crank=te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm"),
    )


def test_draws_are_rectangular_between_their_limits(sample: Any) -> None:
    table = te.Study(uncertain(sample)).sample(40_000, seed=1).run(["squish_edge", "piston_travel"])
    paths = {"deck.clearance": (1.64, 1.70), "base_gaskets.0.thickness": (0.48, 0.52), "crank.stroke": (39.25, 39.35)}
    assert set(table.columns) == {*paths, "squish_edge", "piston_travel"}
    for path, (low, high) in paths.items():
        drawn = (table.columns[path] - low) / (high - low)
        assert -1e-12 <= drawn.min() < 1e-3
        assert 1 - 1e-3 < drawn.max() <= 1 + 1e-12
        # JCGM 101:2008, 6.4.2: mean and variance of a rectangular distribution; five standard errors
        assert drawn.mean() == pytest.approx(0.5, abs=5 / np.sqrt(12 * 40_000))
        assert drawn.var() == pytest.approx(1 / 12, abs=5 / np.sqrt(180 * 40_000))
    correlation = np.corrcoef(np.array([table.columns[path] for path in paths]))
    assert np.abs(correlation - np.eye(3)).max() < 5 / np.sqrt(40_000)


def test_a_draw_does_not_depend_on_blocks_threads_or_other_axes(sample: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    study = te.Study(uncertain(sample)).vary("head.recess_offset", ["-1.0 mm", "-0.9 mm"]).sample(3000, seed=3)
    whole = study.run(["squish_min"])
    monkeypatch.setattr("topend.study.work.CHUNK", 1111)
    monkeypatch.setattr("topend.study.compiled.CHUNK", 700)
    for threads in (1, 3):
        again = study.run(["squish_min"], threads=threads)
        assert all(np.array_equal(again.columns[name], values) for name, values in whole.columns.items())
    alone = te.Study(uncertain(sample)).vary("head.recess_offset", ["-0.9 mm"]).sample(100, seed=3).run(["squish_min"])
    assert np.array_equal(alone.columns["squish_min"], whole.columns["squish_min"][3000:3100])
    # the same draws at both offsets: the difference is that of the offsets
    assert np.allclose(np.diff(whole.columns["squish_min"].reshape(2, 3000), axis=0), 0.1, atol=1e-12)


def test_a_drawn_value_is_one_wherever_it_stands(sample: Any) -> None:
    """A deck is read with the crank that is there, however long its stroke truly is (common practice): only a new stroke moves it."""
    top = uncertain(sample)
    study = te.Study(top).sample(50, seed=2)
    table = study.run(["deck_clearance", "piston_travel"])
    assert np.array_equal(table.columns["deck_clearance"], table.columns["deck.clearance"])
    assert np.allclose(table.columns["piston_travel"], table.columns["crank.stroke"], rtol=1e-12)
    # a whole new stroke does move it, from what the crank that was read truly is: by half the change and what the rod adds
    changed = te.Study(top).vary("crank.stroke", ["40.3 mm"]).sample(50, seed=2).run(["deck_clearance"])
    assert set(changed.columns) == {*table.columns, "deck.crank.stroke"} - {"piston_travel"}
    moved = changed.columns["deck.clearance"] - (40.3 - changed.columns["deck.crank.stroke"]) / 2
    assert np.allclose(changed.columns["deck_clearance"], moved, atol=1e-12)
    assert np.array_equal(changed.columns["deck.crank.stroke"], table.columns["crank.stroke"])
    # the whole by hand, for one row, with parts made anew
    drawn = study.drawn(7)
    truly = te.TopEnd(
        **{
            **top.given(),
            "crank": top.crank.replace(stroke=drawn["crank.stroke"]),
            "deck": top.deck.replace(clearance=drawn["deck.clearance"]),
            "base_gaskets": [top.base_gaskets[0].replace(thickness=drawn["base_gaskets.0.thickness"])],
        }
    )
    names = list(te.evaluate(top))[:10]
    several = te.Study(top).vary("crank.stroke", ["40.3 mm"]).vary("base.thickness", ["0.8 mm"]).sample(50, seed=2).run(names)
    alone = te.evaluate(truly.replace({"crank.stroke": "40.3 mm", "base.thickness": "0.8 mm"}))
    assert all(several.columns[name][7] == alone.shown(name) for name in names)


# --- limits, best, tables -----------------------------------------------------------------------------------------------------


def offsets(sample: Any) -> te.Study:
    return te.Study(sample()).vary("head.recess_offset", "-2.2:-0.2:0.1 mm").vary("running.crank_speed", "9000:12000:1000 rpm")


def test_where_keeps_rows_inside_limits_and_in_order(sample: Any) -> None:
    names = ["squish_edge", "squish_velocity_peak"]
    whole = offsets(sample).run(names)
    low, high = 0.75, 1.35
    kept = offsets(sample).where(squish_edge=(f"{low} mm", f"{high} mm"), compression_ratio=(None, 12.9)).run(names)
    ratio = offsets(sample).run(["compression_ratio", "squish_velocity_peak"]).columns["compression_ratio"]
    slack = 1e-9
    edge = whole.columns["squish_edge"]
    mask = (edge > low - slack) & (edge < high + slack) & (ratio <= 12.9)
    # both limits are sums of decimals that end beside the decimal: they are met
    assert np.isclose(edge, low).any()
    assert kept.columns["squish_edge"].max() == pytest.approx(high, abs=1e-12)
    assert kept.row.tolist() == np.flatnonzero(mask).tolist()
    assert all(np.array_equal(kept.columns[name], whole.columns[name][mask]) for name in whole.columns)
    assert list(kept.columns) == ["head.recess_offset", "running.crank_speed", *names]
    assert (kept.status == 0).all()
    assert len(offsets(sample).where(squish_edge=("50 mm", None)).run(names)) == 0


def test_best_by_each_way(sample: Any) -> None:
    table = offsets(sample).run(["squish_velocity_peak", "squish_min", "trapped_compression_ratio"])
    assert Counter(table.reasons()) == Counter({"ok": 68, "contact": 16})
    values = table.columns["squish_velocity_peak"]
    order = sorted((value, row) for row, value in enumerate(values.tolist()) if value == value)
    assert table.best("squish_velocity_peak", 5, smallest=True).row.tolist() == [row for _, row in order[:5]]
    order = sorted((-value, row) for row, value in enumerate(values.tolist()) if value == value)
    assert table.best("squish_velocity_peak", 60, largest=True).row.tolist() == [row for _, row in order[:60]]
    order = sorted((abs(value - 18.0), row) for row, value in enumerate(values.tolist()) if value == value)
    assert table.best("squish_velocity_peak", 3, target="18 m/s").row.tolist() == [row for _, row in order[:3]]
    # equals go by their row
    assert table.best("squish_min", 4, largest=True).row.tolist() == [80, 81, 82, 83]
    assert len(table.best("head.recess_offset", 1000, largest=True)) == 68
    assert table.best("trapped_compression_ratio", 1, target=6.95).columns["head.recess_offset"].tolist() == [-1.0]


def test_columns_as_quantities_share_their_memory(sample: Any) -> None:
    table = offsets(sample).run(["squish_velocity_peak", "compression_ratio"])
    taken = table.quantity("squish_velocity_peak")
    assert taken.units == registry.Unit("m/s")
    assert np.shares_memory(taken.magnitude, table.columns["squish_velocity_peak"])
    assert table.quantity("compression_ratio") is table.columns["compression_ratio"]
    with pytest.raises(te.UnknownNameError, match="no column is called 'squish_velocity' in this table; nearest: squish_velocity_peak"):
        table["squish_velocity"]


def test_arrow_carries_units_version_and_digest(sample: Any) -> None:
    study = te.Study(sample()).parts("head", HEADS[:2]).vary("running.crank_speed", ["9000 rpm", "-1 rpm"])
    table = study.run(["squish_edge", "squish_velocity_peak"])
    arrow = table.to_arrow()
    assert arrow.column_names == ["row", "head", "running.crank_speed", "squish_edge", "squish_velocity_peak", "status"]
    metadata = {key.decode(): value.decode() for key, value in arrow.schema.metadata.items()}
    assert metadata["topend.version"] == te.__version__
    assert json.loads(metadata["topend.units"]) == {"running.crank_speed": "rpm", "squish_edge": "mm", "squish_velocity_peak": "m/s"}
    assert arrow.schema.field("squish_edge").metadata[b"unit"] == b"mm"
    assert arrow["head"].to_pylist() == ["head 0", "head 0", "head 1", "head 1"] == [table.parts["head"][row] for row in range(4)]
    assert arrow["status"].to_pylist() == [0, STATUS["not_a_size"].code] * 2
    assert np.isnan(arrow["squish_edge"].to_numpy()[1])


# --- summaries -----------------------------------------------------------------------------------------------------------------


def test_a_summary_is_that_of_the_table(sample: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    study = offsets(sample).where(squish_min=("0.4 mm", None))
    names = ["squish_velocity_peak", "squish_min"]
    table, told = study.run(names), study.summarise(names, best="squish_velocity_peak", n=4, largest=True)
    assert (told.rows, told.kept, told.reasons) == (84, len(table), offsets(sample).run(names).reasons())
    for name in names:
        spread, values = told.outputs[name], table.columns[name]
        assert (spread.count, spread.least, spread.greatest) == (len(table), values.min(), values.max())
        assert spread.mean == pytest.approx(values.mean(), rel=1e-14)
    best = table.best("squish_velocity_peak", 4, largest=True)
    assert told.best is not None
    assert told.best.row.tolist() == best.row.tolist()
    assert all(np.array_equal(told.best.columns[name], values) for name, values in best.columns.items())
    # to the bit whatever the threads, and the same rows whatever the pieces
    assert repr(study.summarise(names, best="squish_min", n=3, target="0.9 mm", threads=2)) == repr(
        study.summarise(names, best="squish_min", n=3, target="0.9 mm")
    )
    monkeypatch.setattr("topend.study.work.CHUNK", 13)
    pieces = study.summarise(names, best="squish_velocity_peak", n=4, largest=True)
    assert pieces.best is not None
    assert pieces.best.row.tolist() == best.row.tolist()
    assert pieces.outputs["squish_min"].greatest == told.outputs["squish_min"].greatest


def long_study(sample: Any) -> te.Study:
    """Three chunks and a rest, some rows refused, some outside the limits."""
    axis = te.Quantity(np.linspace(3000.0, 14000.0, 3 * CHUNK // 7), "rpm")
    return (
        te.Study(sample())
        .vary("head.recess_offset", "-2.2:-0.4:0.3 mm")
        .vary("running.crank_speed", axis)
        .where(squish_velocity_peak=(None, "45 m/s"))
    )


def test_a_summary_is_the_same_to_the_bit_however_it_is_shared_out(sample: Any) -> None:
    study, names = long_study(sample), ["squish_velocity_peak", "squish_min", "piston_travel"]
    assert len(study) > 2 * CHUNK
    assert len(study) % CHUNK
    asked: dict[str, Any] = {"best": "squish_velocity_peak", "n": 5, "target": "17.3 m/s"}
    told = study.summarise(names, **asked)
    assert 0 < told.kept < told.reasons["ok"] < told.rows
    assert told.best is not None
    summaries = [study.summarise(names, **asked, threads=threads) for threads in (2, 3, 7)]
    # as a worker has it: other blocks, and several chunks a task
    compiled, aim = Compiled(study, names, threads=2), Aim("squish_velocity_peak", 5, "target", 17.3, "m/s")
    total = Partial.none(len(names))
    for start in range(0, len(study), 2 * CHUNK):
        for part in reduced(pickle.loads(pickle.dumps(compiled)), aim, start, min(start + 2 * CHUNK, len(study))):
            total.add(part, aim)
    summaries.append(total.summary([compiled.known[name] for name in compiled.outputs], compiled.at(total.best[0].tolist()), aim))
    for other in summaries:
        assert (other.rows, other.kept, other.reasons, other.outputs) == (told.rows, told.kept, told.reasons, told.outputs)
        assert other.best is not None
        assert other.best.row.tolist() == told.best.row.tolist()
        assert all(np.array_equal(other.best.columns[name], values) for name, values in told.best.columns.items())


def test_a_table_is_the_same_to_the_bit_on_threads(sample: Any) -> None:
    study, names = long_study(sample), ["squish_velocity_peak", "piston_travel"]
    one, several = study.run(names), study.run(names, threads=3)
    assert np.array_equal(one.row, several.row)
    assert all(np.array_equal(several.columns[name], values) for name, values in one.columns.items())


def test_columns_of_a_table_lie_in_one_piece_and_travel_alone(sample: Any) -> None:
    table = te.Study(sample()).vary("running.crank_speed", "9000:12000:1 rpm").run(["squish_velocity_peak", "mean_piston_speed"])
    first = table.columns["squish_velocity_peak"]
    assert all(values.base is first.base for values in table.columns.values())
    assert first.base.nbytes < len(table.columns) * (first.nbytes + 64)
    # what is sent or copied is one column, not the piece
    for sent in (pickle.dumps(first), pickle.dumps(first, protocol=5)):
        assert len(sent) < first.nbytes + 500
    assert first.copy().base is None
    rows = sum(values.nbytes for values in (*table.columns.values(), table.status, table.row))
    assert len(pickle.dumps(table)) < rows + 60_000
    # a few rows of it hold nothing of the rest
    assert all(values.base is None for values in table.best("squish_velocity_peak", 3, largest=True).columns.values())
    # an axis of its values is the axis' own
    study = te.Study(sample()).vary("running.crank_speed", table.quantity("running.crank_speed"))
    assert not np.shares_memory(study.axes[0].together[0].values, first.base)


def test_groups_that_alternate_leave_no_buffers_behind(sample: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Kinds of heads on a middle axis bring other lengths of blocks with each chunk: memory stays flat all the same."""
    monkeypatch.setattr("topend.study.studies.CHUNK", 5000)
    monkeypatch.setattr("topend.evaluation.BLOCK", 500)
    monkeypatch.setattr("topend.study.compiled.BLOCK", 500)
    study = (
        te.Study(sample())
        .vary("base.thickness", te.Quantity(np.linspace(0.3, 0.9, 500), "mm"))
        .parts("head", [SPIGOT, FLUSH, FLAT_FACE])
        .vary("running.crank_speed", te.Quantity(np.linspace(6000.0, 12000.0, 77), "rpm"))
    )
    held: list[int] = []
    tracemalloc.start()
    try:
        study.summarise(["squish_velocity_peak"], progress=lambda done, _: held.append(tracemalloc.get_traced_memory()[0]))
    finally:
        tracemalloc.stop()
    assert len(held) == 24
    # after the first chunks nothing more: buffers of one length are half a megabyte here
    assert max(held[12:]) - max(held[6:12]) < 300_000


def test_a_summary_of_nothing(sample: Any) -> None:
    told = te.Study(sample()).vary("head.recess_offset", ["-3 mm"]).summarise(["squish_min"], best="squish_min", n=2, smallest=True)
    assert (told.kept, told.reasons, told.best is not None and len(told.best)) == (0, {"contact": 1}, 0)
    assert told.outputs["squish_min"].mean is None
    assert repr(told).splitlines()[:2] == ["1 rows: 0 in order, 0 kept", "  refused, contact: 1"]


# --- folders ----------------------------------------------------------------------------------------------------------------------


def files(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in folder.iterdir() if path.suffix == ".parquet"}


def test_a_folder_holds_the_table(sample: Any, tmp_path: Path) -> None:
    study = offsets(sample).parts("head", [SPIGOT, HEADS[4]])
    table = study.run()
    folder = study.run(to=tmp_path / "out.parquet", file_rows=50, threads=2)
    assert (folder.rows, folder.kept, folder.reasons, folder.files, folder.written) == (168, 168, table.reasons(), 4, 4)
    read = folder.dataset().to_table()
    whole = table.to_arrow()
    assert read.schema.equals(whole.schema, check_metadata=True)
    assert all(read[name].to_pylist() == whole[name].to_pylist() for name in ("row", "head", "status"))
    for name, values in table.columns.items():
        assert np.array_equal(read[name].to_numpy(), values, equal_nan=True)
    assert read.schema.metadata[b"topend.version"].decode() == te.__version__
    assert json.loads((tmp_path / "out.parquet" / "_finished.json").read_text())["kept"] == 168
    column = pyarrow.parquet.read_metadata(next((tmp_path / "out.parquet").glob("*.parquet"))).row_group(0).column(2)
    assert column.compression == "ZSTD"
    assert "BYTE_STREAM_SPLIT" in column.encodings


def test_a_second_run_writes_only_what_is_not_there(sample: Any, tmp_path: Path) -> None:
    study = offsets(sample).where(squish_min=("0.4 mm", None))
    first = study.run(["squish_min", "squish_velocity_peak"], to=tmp_path / "a", file_rows=20)
    before = files(tmp_path / "a")
    assert len(before) == first.files == 5
    again = study.run(["squish_min", "squish_velocity_peak"], to=tmp_path / "a", file_rows=20)
    assert (again.written, files(tmp_path / "a")) == (0, before)
    # one file lost, one cut short, the leavings of a process that was killed
    names = sorted(before)
    (tmp_path / "a" / names[1]).unlink()
    whole = (tmp_path / "a" / names[3]).read_bytes()
    (tmp_path / "a" / names[3]).write_bytes(whole[: len(whole) // 2])
    (tmp_path / "a" / f".{names[1]}.0123").write_bytes(b"half")
    mended = study.run(["squish_min", "squish_velocity_peak"], to=tmp_path / "a", file_rows=20)
    assert (mended.written, mended.kept, mended.reasons) == (2, first.kept, first.reasons)
    after = files(tmp_path / "a")
    assert {name for name in names if after[name] == before[name]} == {names[0], names[2], names[4]}
    assert not [path for path in (tmp_path / "a").iterdir() if path.name.startswith(".")]
    assert mended.dataset().to_table()["row"].to_pylist() == study.run(["squish_min", "squish_velocity_peak"]).row.tolist()


def test_a_run_that_fails_leaves_whole_files_and_goes_on(sample: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    study = offsets(sample)

    def stop(done: int, rows: int) -> None:
        assert rows == 84
        if done == 40:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        study.run(["squish_velocity_peak"], to=tmp_path / "a", file_rows=20, progress=stop)
    assert len(files(tmp_path / "a")) == 2
    assert not (tmp_path / "a" / "_finished.json").exists()
    # a disk that fills in the middle of a file leaves no file
    with monkeypatch.context() as patch:
        patch.setattr(study_folder, "_settle", lambda path: (_ for _ in ()).throw(OSError(28, "No space left on device")))
        with pytest.raises(OSError, match="No space left"):
            study.run(["squish_velocity_peak"], to=tmp_path / "a", file_rows=20)
    assert {path.name[:5] for path in (tmp_path / "a").iterdir()} == {"_stud", "rows-"}
    assert study.run(["squish_velocity_peak"], to=tmp_path / "a", file_rows=20).written == 3


KILLED = """
import sys
import topend as te

def told(done, rows):
    print(done, flush=True)

study = te.Study(te.load_job(sys.argv[1]).top).vary("head.recess_offset", "-1.2:-0.8:0.01 mm").sample(5000, seed=1)
study.run(["squish_min", "compression_ratio"], to=sys.argv[2], file_rows=10_000, threads=2, progress=told)
"""


def test_a_run_that_is_killed_goes_on_and_has_every_row_once(tmp_path: Path) -> None:
    example, out = EXAMPLE.with_name("fell50.toml"), tmp_path / "out"
    study = te.Study(te.load_job(example).top).vary("head.recess_offset", "-1.2:-0.8:0.01 mm").sample(5000, seed=1)
    with subprocess.Popen([sys.executable, "-c", KILLED, str(example), str(out)], stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None
        for _ in range(3):
            assert running.stdout.readline()
        # in the middle of a file
        os.kill(running.pid, signal.SIGKILL)
    assert running.returncode == -signal.SIGKILL
    assert not (out / "_finished.json").exists()
    there = len(files(out))
    assert 3 <= there < 21
    mended = study.run(["squish_min", "compression_ratio"], to=out, file_rows=10_000)
    assert (mended.files, mended.written) == (21, 21 - there)
    assert not [path for path in out.iterdir() if path.name.startswith(".")]
    read, table = mended.dataset().to_table().sort_by("row"), study.run(["squish_min", "compression_ratio"], threads=2)
    assert np.array_equal(read["row"].to_numpy(), np.arange(len(study)))
    assert all(np.array_equal(read[name].to_numpy(), values, equal_nan=True) for name, values in table.columns.items())


def test_odd_sizes_of_studies_come_out_right(sample: Any, tmp_path: Path) -> None:
    one = te.Study(sample()).vary("head.recess_offset", ["-1 mm"])
    assert one.run(["squish_min"], threads=7).columns["squish_min"].tolist() == [te.evaluate(one.top_end(0)).shown("squish_min")]
    three = te.Study(sample()).vary("head.recess_offset", "-1.2:-1:0.1 mm")
    folder = three.run(["squish_min"], threads=7, to=tmp_path / "three", file_rows=1)
    assert (folder.files, folder.kept) == (3, 3)
    assert three.run(["squish_min"], threads=7).row.tolist() == [0, 1, 2]
    single = te.Study(uncertain(sample)).sample(1, seed=4).run(["squish_min"])
    whole = te.Study(uncertain(sample)).sample(7, seed=4).run(["squish_min"])
    assert single.columns["squish_min"].tolist() == whole.columns["squish_min"][:1].tolist()
    # limits that keep nothing: an empty table, summary and folder
    none = three.where(squish_min=("50 mm", None))
    table, folder, told = none.run(["squish_min"]), none.run(["squish_min"], to=tmp_path / "none"), none.summarise(["squish_min"])
    assert (len(table), repr(table).splitlines()[0], folder.kept, told.kept, told.rows) == (0, "Table of 0 rows", 0, 0, 3)
    assert len(table.best("squish_min", largest=True)) == 0
    assert folder.dataset().to_table().schema.equals(table.to_arrow().schema, check_metadata=True)
    assert folder.dataset().count_rows() == table.to_arrow().num_rows == 0


def test_a_folder_with_another_study_is_refused_and_left_alone(sample: Any, tmp_path: Path) -> None:
    names = ["squish_velocity_peak"]
    offsets(sample).run(names, to=tmp_path / "a", file_rows=50)
    before = files(tmp_path / "a")
    others = {
        "axes": offsets(sample).vary("crank.stroke", ["39.4 mm"]),
        "top": offsets(lambda: sample(crank=te.Crank(stroke="39.4 mm", rod_length="85 mm"))),
        "where": offsets(sample).where(squish_min=("0.6 mm", None)),
    }
    for differs, study in others.items():
        with pytest.raises(te.StudyError, match=rf"holds another study, which differs in {differs}; choose another folder"):
            study.run(names, to=tmp_path / "a", file_rows=50)
    with pytest.raises(te.StudyError, match="holds another study, which differs in outputs"):
        offsets(sample).run([*names, "squish_min"], to=tmp_path / "a", file_rows=50)
    with pytest.raises(te.StudyError, match=r"holds this study in files of 50 rows; go on with file_rows=50"):
        offsets(sample).run(names, to=tmp_path / "a")
    # one value in the middle of an axis that has the same ends
    changed = te.Study(sample()).vary("running.crank_speed", ["9000 rpm", "9001 rpm", "12000 rpm"])
    te.Study(sample()).vary("running.crank_speed", ["9000 rpm", "9002 rpm", "12000 rpm"]).run(names, to=tmp_path / "b")
    with pytest.raises(te.StudyError, match="differs in axes"):
        changed.run(names, to=tmp_path / "b")
    assert files(tmp_path / "a") == before
    (tmp_path / "c").mkdir()
    (tmp_path / "c" / "letters.txt").write_text("mine")
    with pytest.raises(te.StudyError, match="holds other things; a study is written to a folder of its own, new or empty"):
        changed.run(names, to=tmp_path / "c")
    with pytest.raises(te.StudyError, match=r"letters.txt is a file; a study is written to a folder of its own"):
        changed.run(names, to=tmp_path / "c" / "letters.txt")
    (tmp_path / "b" / "_study.json").write_text("{")
    with pytest.raises(te.StudyError, match=r"_study.json cannot be read as a study \(JSONDecodeError\); choose another folder"):
        changed.run(names, to=tmp_path / "b")


def test_a_study_of_another_topend_is_another_study(sample: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    offsets(sample).run(["squish_velocity_peak"], to=tmp_path / "a")
    monkeypatch.setattr(te, "__version__", "99.0")
    with pytest.raises(te.StudyError, match="differs in topend;"):
        offsets(sample).run(["squish_velocity_peak"], to=tmp_path / "a")


def test_a_compiled_study_travels_as_its_description(sample: Any) -> None:
    compiled = Compiled(offsets(sample), ["squish_velocity_peak"])
    compiled.block(0, 84)
    sent = pickle.dumps(compiled)
    assert len(sent) < 20_000
    there = pickle.loads(sent)
    assert there.digest == compiled.digest
    assert np.array_equal(there.block(3, 50).si["squish_velocity_peak"], compiled.block(3, 50).si["squish_velocity_peak"], equal_nan=True)


# --- long studies without the time -------------------------------------------------------------------------------------------------


def test_rows_at_the_far_end_of_a_study_of_10_to_the_16(sample: Any) -> None:
    study = (
        te.Study(uncertain(sample))
        .vary("head.recess_offset", "-1.4:-0.5:0.001 mm")
        .vary("running.crank_speed", "5000:13000:1 rpm")
        .sample(1_300_000_000, seed=9)
    )
    assert len(study) == 901 * 8001 * 1_300_000_000
    compiled = Compiled(study, ["squish_velocity_peak"])
    for start in (len(study) - 5, 123_456_789_012_345, 1_300_000_000 * 8001 - 3):
        table = compiled.block(start, start + 5).table()
        for place in range(5):
            assert te.evaluate(study.top_end(start + place)).shown("squish_velocity_peak") == table.columns["squish_velocity_peak"][place]


def test_blocks_and_kinds_of_heads_over_many_rows(sample: Any) -> None:
    """More rows than one piece, heads of two structures alternating row by row."""
    study = (
        te.Study(sample())
        .vary("running.crank_speed", te.Quantity(np.linspace(3000.0, 14000.0, CHUNK // 3), "rpm"))
        .parts("head", HEADS[:5:2] + HEADS[1:2])
    )
    table = study.run(["squish_velocity_peak"], threads=2)
    assert len(table) == 4 * (CHUNK // 3) > CHUNK
    for row in (0, 1, 2, 3, CHUNK - 1, CHUNK, CHUNK + 1, len(table) - 1):
        reason, shown, _ = expected(lambda row=row: study.top_end(row), ["squish_velocity_peak"])
        assert REASONS[int(table.status[row])] == reason
        assert reason != "ok" or table.columns["squish_velocity_peak"][row] == shown["squish_velocity_peak"]


# --- what is refused ----------------------------------------------------------------------------------------------------------------


LENGTHS = ". Units: mm, cm, m, um, µm, in, thou"
RANGE = 'needs a range as start:stop:step, a space and its unit, such as "0.5:1.5:0.05 mm"; got '
STEP = "has a step that does not lead from start to stop; a falling range has a negative step"
PAIR = 'needs its lower and upper limit, one of them perhaps None, such as ("0.60 mm", None); got '


def refuses(error: type[Exception], call: Any) -> str:
    with pytest.raises(error) as caught:
        call()
    assert isinstance(caught.value, te.TopendError)
    return str(caught.value)


@pytest.mark.parametrize(
    ("path", "values", "message"),
    [
        ("crank.strok", "1:2:1 mm",
         "no input is called 'crank.strok' in the inputs table; nearest: crank.stroke, crank.rod_mass, crank.rod_area"),
        ("stroke", "1:2:1 mm", "no input is called 'stroke' in the inputs table; nearest: crank.stroke"),
        ("crank", "1:2:1 mm", "crank is a whole part; an axis of parts is .parts('crank', [...])"),
        ("crank.stroke", "39:40:0.5 deg", 'crank.stroke ' + RANGE + '\'39:40:0.5 deg\'' + LENGTHS),
        ("crank.stroke", "39:40 mm", 'crank.stroke ' + RANGE + '\'39:40 mm\'' + LENGTHS),
        ("crank.stroke", "39:40:-0.5 mm", "crank.stroke '39:40:-0.5 mm' " + STEP),
        ("crank.stroke", "39:40:0 mm", "crank.stroke '39:40:0 mm' " + STEP),
        ("crank.stroke", "0:40:0.000001 mm", "crank.stroke '0:40:0.000001 mm' has 40000001 values; one axis takes 10000000"),
        ("crank.stroke", "0:1:0.00000000000000000001 mm", "crank.stroke '0:1:0.00000000000000000001 mm' has "
         "more digits than a range is made with; give the values as an array"),
        ("crank.stroke", "39 mm", "crank.stroke needs several values, as a list or an array quantity; "
         "got '39 mm'. A range is written as text: \"0.5:1.5:0.05 mm\" (start:stop:step)"),
        ("crank.stroke", [39.0, 40.0], 'crank.stroke value 0 needs a length, such as "39 mm"; got the bare number 39' + LENGTHS),
        ("crank.stroke", ["39 mm", "40 deg"], 'crank.stroke value 1 needs a length, such as "39.3 mm"; '
         'got \'40 deg\', which is an angle' + LENGTHS),
        ("crank.stroke", ["39 mm", "1.6 in"], "crank.stroke value 1 is in in, those before it in mm; write all in one unit"),
        ("crank.stroke", ["39 mm ± 0.1 mm"], "crank.stroke value 0 is '39 mm ± 0.1 mm'; "
         "values that are set have no limits, only values that were measured"),
        ("crank.stroke", np.array([39.0]), "crank.stroke needs a length each; "
         "got an array of bare numbers. Give it its unit: topend.Quantity(array, 'mm')"),
        ("crank.stroke", [], "crank.stroke has no values: an axis needs at least one"),
        ("head.band.angle", registry.Quantity(np.array([39.0]), "mm"), 'head.band.angle needs an angle, such as "9 deg"; '
         'got values in \'mm\', which is not one of its units. Units: deg, °, rad'),
        ("crank.stroke", registry.Quantity(np.array([39.0, np.nan]), "mm"), "crank.stroke needs finite numbers; value 1 is not one"),
        ("crank.stroke", registry.Quantity(np.ones((2, 2)), "mm"), "crank.stroke needs values in one row; got an array of shape (2, 2)"),
    ],
)  # fmt: skip
def test_axes_that_are_refused_where_they_are_written(sample: Any, path: str, values: Any, message: str) -> None:
    assert refuses(te.TopendError, lambda: te.Study(sample()).vary(path, values)) == message


def test_axes_that_do_not_go_together_are_refused(sample: Any) -> None:
    study = te.Study(sample()).vary("crank.stroke", ["39 mm", "40 mm"]).parts("head", HEADS)
    assert (
        refuses(te.StudyError, lambda: study.vary("crank.stroke", ["41 mm"]))
        == "crank.stroke is set by an axis already; an input has one axis"
    )
    assert refuses(te.StudyError, lambda: study.parts("head", HEADS)) == "head is set by an axis already; list all of its parts in one"
    told = refuses(te.StudyError, lambda: study.pair({"head.recess_offset": ["-1 mm", "-0.9 mm"], "head.chamber_volume": ["6 cc"]}))
    assert told == "inputs that move together need as many values each: head.recess_offset has 2, head.chamber_volume has 1"
    assert refuses(te.StudyError, lambda: study.pair({})) == "pair needs at least one path with its values"
    assert refuses(te.StudyError, lambda: study.parts("piston", [])) == "piston has no parts: an axis needs at least one"
    told = refuses(te.StudyError, lambda: study.parts("piston", [HEADS[0]]))
    assert told == "piston 0 must be a Piston; got a SpigotHead"
    told = refuses(te.StudyError, lambda: te.Study(sample()).parts("head", "fellside/rigg50-drop10"))
    assert (
        told == "head 0 must be a FlushHead or a SpigotHead; got 'fellside/rigg50-drop10'; look it up in a catalogue first: catalogue[id]"
    )
    told = refuses(te.UnknownNameError, lambda: study.parts("heads", []))
    assert told == "no kind of part is called 'heads' in a study's: crank, cylinder, piston, head, charge; nearest: head"
    told = refuses(
        te.StudyError, lambda: study.sample(10**9).vary("running.crank_speed", "1:10000000:1 rpm").vary("cylinder.bore", "1:5000:1 mm")
    )
    assert told.startswith("a study has at most 4611686018427387903 rows; this has ")
    assert refuses(te.StudyError, lambda: study.sample(0)) == "sample needs n as a whole number from 1; got 0"
    assert refuses(te.StudyError, lambda: study.sample(5, seed=-1)) == "sample needs seed as a whole number from 0; got -1"
    assert refuses(te.StudyError, lambda: study.sample(5).sample(5)) == "this study is sampled already; a study has one sample"


def test_an_assembled_volume_does_not_follow_other_parts(sample: Any) -> None:
    top = sample(assembled=te.AssembledVolume(volume="6.2 cc"))
    for build in (
        lambda: te.Study(top).vary("crank.stroke", ["40 mm"]),
        lambda: te.Study(top).parts("head", HEADS),
        lambda: te.Study(top).pair({"head.recess_offset": ["-1 mm"]}),
    ):
        assert refuses(te.AssemblyError, build).startswith("the assembled volume was read with the parts as they were; changing ")
    # gaskets move it, as they move a top end's
    table = te.Study(top).vary("base.thickness", ["0.5 mm", "0.8 mm"]).run(["clearance_volume"])
    assert table.columns["clearance_volume"][1] == te.evaluate(top.replace({"base.thickness": "0.8 mm"})).shown("clearance_volume")


def test_an_axis_that_never_changes_anything_is_refused(sample: Any) -> None:
    study = te.Study(sample()).vary("running.crank_speed", ["9000 rpm", "9500 rpm"])
    told = "running.crank_speed never changes anything here: none of squish_edge, squish_min depends on it, with these parts"
    assert refuses(te.StudyError, lambda: study.run(["squish_edge", "squish_min"])) == told
    # what a limit is held on counts as asked for
    assert len(study.where(mean_piston_speed=(None, "30 m/s")).run(["squish_edge"])) == 2
    # a nominal thickness under a fitted one
    fitted = sample(base_gaskets=[te.Gasket(role="base", thickness="0.5 mm", fitted_thickness="0.45 mm")])
    told = refuses(te.StudyError, lambda: te.Study(fitted).vary("base_gaskets.0.thickness", ["0.5 mm"]).run(["squish_edge"]))
    assert told == "base_gaskets.0.thickness never changes anything here: none of squish_edge depends on it, with these parts"
    told = refuses(te.StudyError, lambda: te.Study(sample()).parts("head", HEADS[:2]).run(["exhaust_duration"]))
    assert told == "the head never changes anything here: none of exhaust_duration depends on it"
    told = refuses(te.StudyError, lambda: te.Study(sample()).sample(3).run(["squish_edge"]))
    assert told == 'sample draws values that carry limits, and none here does; write them as "0.50 mm ± 0.03 mm"'
    told = refuses(
        te.StudyError, lambda: te.Study(sample(deck=te.DeckReading(clearance="1.65 mm ± 0.1 mm"))).sample(3).run(["piston_travel"])
    )
    assert told == "sample never changes anything here: none of piston_travel depends on deck.clearance"


def test_outputs_that_cannot_be_had_are_refused(sample: Any) -> None:
    told = refuses(te.UnknownNameError, lambda: te.Study(sample()).run(["squish_egde"]))
    assert told == "no output is called 'squish_egde' in the outputs table; nearest: squish_edge, squish_edge_low, squish_edge_high"
    told = refuses(te.MissingInputError, lambda: te.Study(sample(running=None)).vary("crank.stroke", ["39 mm"]).run(["mean_piston_speed"]))
    assert told == "mean_piston_speed cannot be had: it needs running.crank_speed"
    bare = te.SpigotHead(name="bare", recess_offset="-1 mm", spigot_diameter="47.2 mm", chamber_volume="6.4 cc")
    told = refuses(te.MissingInputError, lambda: te.Study(sample()).parts("head", [SPIGOT, bare]).run(["squish_mean"]))
    assert told.startswith("squish_mean cannot be had: it needs head.band.")
    assert told.endswith(", which head 'bare' does not give")
    assert refuses(te.StudyError, lambda: te.Study(sample()).run([])) == "run needs at least one output; topend.glossary() lists them"


def test_a_part_of_an_axis_that_has_no_place_for_a_value_is_named(sample: Any) -> None:
    one = te.Cylinder(name="one port", bore="47.6 mm", height="60 mm", ports=PORTS[:1])
    study = te.Study(sample()).parts("cylinder", [CYLINDERS[0], one]).vary("cylinder.ports.1.top", ["31 mm", "32 mm"])
    told = refuses(te.PartError, lambda: study.run(["exhaust_duration"]))
    assert told == (
        "TopEnd with cylinder 'one port': cylinder.ports.1.top asks for cylinder.ports.1, but cylinder.ports has 1 entries, counted from 0"
    )
    bare = te.SpigotHead(name="bare", recess_offset="-1 mm", spigot_diameter="47.2 mm", chamber_volume="6.4 cc")
    study = te.Study(sample()).parts("head", [SPIGOT, bare]).vary("head.band.angle", ["7 deg", "9 deg"])
    told = refuses(te.PartError, lambda: study.run(["compression_ratio"]))
    assert told == "TopEnd with head 'bare': head.band.angle cannot be set: head.band is not given; give head.band as a whole first"
    # without an axis of parts there is one cylinder, and nothing to name
    told = refuses(te.PartError, lambda: te.Study(sample()).vary("cylinder.ports.7.top", ["31 mm"]).run(["exhaust_duration"]))
    assert told == "TopEnd: cylinder.ports.7.top asks for cylinder.ports.7, but cylinder.ports has 2 entries, counted from 0"
    # all that both heads give
    assert "squish_mean" not in te.Study(sample()).parts("head", [SPIGOT, bare]).run().columns


def test_heads_that_go_on_none_of_the_stacks_are_refused(sample: Any) -> None:
    told = refuses(te.StudyError, lambda: te.Study(sample()).parts("head", [RING]).run(["squish_edge"]))
    assert told.startswith("no row of this study goes together: the head seals by O-ring alone, yet 1 head gasket(s) lie under it")
    # beside others its rows have their status
    table = te.Study(sample()).parts("head", [RING, SPIGOT]).run(["squish_edge"])
    assert [REASONS[int(code)] for code in table.status] == ["seal_mismatch", "ok"]
    assert np.isnan(table.columns["squish_edge"][0])


@pytest.mark.parametrize(
    ("name", "limits", "message"),
    [
        ("squish_mim", ("1 mm", None), "no output is called 'squish_mim' in the outputs table; "
         "nearest: squish_min, squish_mean, squish_inner"),
        ("squish_min", "0.6 mm", "where squish_min " + PAIR + "'0.6 mm'"),
        ("squish_min", (None, None), "where squish_min " + PAIR + "(None, None)"),
        ("squish_min", (0.6, None), 'where squish_min: the lower limit '
         'needs a length, such as "0.6 mm"; got the bare number 0.6' + LENGTHS),
        ("compression_ratio", (None, "13"), "where compression_ratio: the upper limit must be a plain number, such as 12.5; got '13'"),
        ("squish_min", ("1 mm", "0.9 mm"), "where squish_min has its lower limit 1 mm above its upper 0.9 mm"),
    ],
)  # fmt: skip
def test_limits_that_are_refused(sample: Any, name: str, limits: Any, message: str) -> None:
    assert refuses(te.TopendError, lambda: te.Study(sample()).where({name: limits})) == message


def test_arguments_that_are_refused(sample: Any, tmp_path: Path) -> None:
    study = offsets(sample)
    table = study.run(["squish_min", "squish_velocity_peak"])
    assert (
        refuses(te.StudyError, lambda: table.best("squish_min"))
        == "best of squish_min needs one of largest=True, smallest=True or target=, and only one"
    )
    told = refuses(te.StudyError, lambda: table.best("squish_min", largest=True, target="1 mm"))
    assert told == "best of squish_min needs one of largest=True, smallest=True or target=, and only one"
    assert refuses(te.StudyError, lambda: table.best("squish_min", 0, largest=True)) == "best needs n as a whole number from 1; got 0"
    told = refuses(te.StudyError, lambda: table.best("squish_min", target=0.9))
    assert told == 'target of squish_min needs a length, such as "0.9 mm"; got the bare number 0.9' + LENGTHS
    told = refuses(te.StudyError, lambda: table.best("head.recess_offset", target="-1 mm"))
    assert told == "a target is for an output; head.recess_offset was set by the study itself"
    told = refuses(te.StudyError, lambda: study.summarise(["squish_min"], largest=True))
    assert told == "summarise has largest, smallest or target, but not of what: give best= as well"
    assert refuses(te.StudyError, lambda: study.run(["squish_velocity_peak"], threads=0)) == "threads must be a whole number from 1; got 0"
    told = refuses(te.StudyError, lambda: study.run(["squish_velocity_peak"], to=tmp_path / "a", file_rows=0))
    assert told == "file_rows must be a whole number from 1; got 0"
    assert not (tmp_path / "a").exists()
    told = refuses(te.StudyError, lambda: study.run(["squish_velocity_peak"], client=object()))
    assert told == "a run on a cluster needs to=, a folder that all workers reach; to bring back figures and the best rows, use summarise"
    told = refuses(te.StudyError, lambda: study.summarise(["squish_velocity_peak"], client=object()))
    assert told == "client must be a distributed.Client that is not asynchronous; got a object"
    assert refuses(te.StudyError, lambda: study.top_end(84)) == "row must be a whole number from 0 to 83; got 84"


def test_without_the_extra_a_study_says_what_to_install(sample: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    told = refuses(te.StudyError, lambda: offsets(sample).run(["squish_velocity_peak"], to=tmp_path / "a"))
    assert told.startswith("this needs pyarrow, of the extra 'cluster'; install it with: pip install 'topend[cluster]'")
    assert not (tmp_path / "a").exists()
    told = refuses(te.StudyError, lambda: offsets(sample).summarise(["squish_velocity_peak"], client=object()))
    assert told.startswith("this needs dask[distributed], of the extra 'cluster'; install it")
    assert len(offsets(sample).run(["squish_velocity_peak"])) == 84


# --- on the command line -------------------------------------------------------------------------------------------------------


EXAMPLE = Path(__file__).resolve().parent.parent / "docs" / "examples" / "inline.toml"


def says(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str, str]:
    code = cli.main(["study", str(EXAMPLE), *map(str, arguments)])
    heard = capsys.readouterr()
    return code, heard.out, heard.err


ASKED = (
    "--vary",
    "head.recess_offset=-1.8:-0.2:0.1 mm",
    "--vary",
    "running.crank_speed=9000 rpm, 11500 rpm",
    "--where",
    "squish_min=0.6 mm:",
)


def test_all_outputs_of_the_best_rows_fit_the_page_and_nothing_is_said_twice(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = says(capsys, *ASKED, "--best", "squish_velocity_peak", "--show", 5)
    assert code == 0
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    # what was varied and what they are the best by stand first
    head = lines[lines.index("BEST ROWS") + 3 :]
    assert head[1].split()[:4] == ["row", "offset", "crank_speed", "velocity_peak"]
    # what no row changes is said once, of all rows
    assert " ".join(out.split()).count("swept_volume") == 1
    assert "  The same in every row: piston_travel " in out
    assert len([line for line in lines if line.startswith("  row ")]) <= 4
    one = says(capsys, "--best", "squish_min")[1].splitlines()
    assert "  row                             0" in one


def test_the_command_prints_a_summary_and_the_same_as_json(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    options = (*ASKED, "--outputs", "squish_min,squish_velocity_peak", "--best", "squish_velocity_peak", "--show", 2)
    code, out, err = says(capsys, *options)
    assert (code, err) == (0, "")
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    assert not [line for line in lines if line != line.rstrip()]
    for line in (
        "  head.recess_offset -1.8 to -0.2 mm     17 values",
        "  in all                   34",
        "  kept, inside the limits  22",
        "  squish_min            0.669     1.669  1.169  mm",
        "  by largest squish_velocity_peak:",
        "       head.recess_        squish_",
        "  row        offset  velocity_peak  squish_min",
        "                 mm            m/s          mm",
        "   13          -1.2           28.7       0.669",
        "  The same in all of these rows: running.crank_speed 11500 rpm.",
    ):
        assert line in lines
    told = json.loads(says(capsys, *options, "--json", "--to", tmp_path / "out", "--threads", 2)[1])
    top = te.load_job(EXAMPLE).top
    table = (
        te.Study(top)
        .vary("head.recess_offset", "-1.8:-0.2:0.1 mm")
        .vary("running.crank_speed", ["9000 rpm", "11500 rpm"])
        .where(squish_min=("0.6 mm", None))
        .run(["squish_min", "squish_velocity_peak"])
    )
    assert (told["rows"], told["kept"], told["reasons"]) == (34, len(table), {"ok": 34})
    assert told["outputs"]["squish_min"]["least"] == table.columns["squish_min"].min()
    assert f"{table.columns['squish_min'].min():.3f}" in out
    best = table.best("squish_velocity_peak", 2, largest=True)
    assert [row["row"] for row in told["best"]] == best.row.tolist()
    assert told["best"][0]["squish_velocity_peak"] == {"value": best.columns["squish_velocity_peak"][0], "unit": "m/s"}
    assert told["folder"] == {"path": str(tmp_path / "out"), "files": 1, "written": 1}
    assert told["cautions"]
    assert pyarrow.dataset.dataset(tmp_path / "out").count_rows() == len(table)


def test_the_command_draws_and_aims(capsys: pytest.CaptureFixture[str]) -> None:
    options = ("--sample", 50, "--seed", 4, "--outputs", "compression_ratio", "--best", "compression_ratio=12.3", "--show", 1, "--json")
    assert cli.main(["study", str(EXAMPLE.with_name("fell50.toml")), *map(str, options)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["sample"] == {"draws": 50, "seed": 4}
    assert told["best_by"] == "compression_ratio nearest to 12.3"
    assert len(told["best"]) == 1


def test_the_command_shows_a_bar_on_a_terminal_and_none_elsewhere(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert says(capsys, *ASKED, "--outputs", "squish_velocity_peak")[2] == ""
    with monkeypatch.context() as patch:
        patch.setattr("sys.stderr.isatty", lambda: True, raising=False)
        code, _, err = says(capsys, *ASKED, "--outputs", "squish_velocity_peak")
    assert code == 0
    assert "working out" in err
    assert "34/34" in err


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (("--vary", "head.recess_ofset=-1:0:0.1 mm"),
             "--vary 'head.recess_ofset=-1:0:0.1 mm': no input is called 'head.recess_ofset' in the inputs table; "
         "nearest: head.recess_offset, head.recess_diameter"),
        (("--vary", "head.recess_offset"), '--vary needs a path, =, and values, '
         'such as "head.recess_offset=-1.5:0:0.05 mm"; got \'head.recess_offset\''),
        (("--where", "squish_min=0.6 mm"), '--where needs a name, =, and limits with a colon between, '
         'such as "squish_min=0.6 mm:", "compression_ratio=12:13"; got \'squish_min=0.6 mm\''),
        (("--where", "squish_min=1 mm:", "--where", "squish_min=:2 mm"), "--where names squish_min twice; name it once"),
        (("--where", "compression_ratio=a:"),
             "--where 'compression_ratio=a:': where compression_ratio: the lower limit must be a plain number, such as 12.5; got 'a'"),
        (("--best", "squish_mim"),
             "--best 'squish_mim': no output is called 'squish_mim' in the outputs table; nearest: squish_min, squish_mean, squish_inner"),
        (("--best", "squish_min=0.6"),
         "--best 'squish_min=0.6': the target needs a length, such as \"0.6 mm\"; got '0.6', a number without a unit" + LENGTHS),
        (("--outputs", "squish_min", "--vary", "running.crank_speed=9000 rpm"),
         "running.crank_speed never changes anything here: "
         "none of squish_min depends on it, with these parts"),
    ],
)  # fmt: skip
def test_what_the_command_refuses(capsys: pytest.CaptureFixture[str], options: tuple[str, ...], message: str) -> None:
    assert says(capsys, *options) == (2, "", f"topend: {message}\n")


@pytest.mark.parametrize("draws", [0, 5])
def test_another_thickness_under_the_reading_is_of_other_gaskets_in_every_row(draws) -> None:
    """Gaskets that are only taken as the same, by what is stated of both, are no longer so where a row states another."""
    gasket = te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm ± 0.02 mm")
    top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm", base_thickness="0.50 mm ± 0.02 mm"), base_gaskets=[gasket])
    study = te.Study(top).vary("deck.base_thickness", ["0.40 mm", "0.45 mm"])
    study = study.sample(draws, seed=3) if draws else study
    table = study.run(["deck_clearance"])
    assert not table.status.any()
    for row in range(len(study)):
        assert te.evaluate(study.top_end(row), ["deck_clearance"]).shown("deck_clearance") == table["deck_clearance"][row]
