"""What goes on a cylinder by geometry, and of what does not, why and by how much: sums that can be done on paper."""

# tables of cases, one a line
# ruff: noqa: E501
from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import topend as te
from topend.parts.fitting import Candidate, fitting

STUDS = {"count": 4, "circle_diameter": "60 mm", "diameter": "6 mm"}
HOLES = {"count": 4, "circle_diameter": "60 mm", "diameter": "6.5 mm"}
CYLINDER = te.Cylinder(
    bore="47 mm",
    height="65 mm",
    studs=STUDS,
    register_diameter="52 mm",
    skirt_diameter="53 mm",
    window_diameter="64 mm",
    pin_height="39 mm",
    pin_diameter="12 mm",
)
HEAD = te.SpigotHead(spigot_diameter="46.7 mm", register_diameter="51.95 mm", studs=HOLES)
FLUSH = te.FlushHead(band={"outer_diameter": "47 mm"}, register_diameter="51.95 mm", studs=HOLES)
PISTON = te.Piston(diameter="46.94 mm", compression_height="25 mm", pin_diameter="12 mm")
BASE = te.Gasket(role="base", thickness="0.5 mm", opening="53.5 mm", window_diameter="65 mm")
OVER = te.Gasket(role="head", thickness="0.3 mm", opening="48 mm", studs=HOLES)


def judged(part: te.Part, cylinder: te.Cylinder = CYLINDER, crank: te.Crank | None = None) -> Candidate:
    return fitting(cylinder, {"a": part}, crank).candidates["a"]


@pytest.mark.parametrize("part", [HEAD, FLUSH, PISTON, BASE, OVER])
def test_parts_of_the_family_go_on_with_nothing_unknown(part: te.Part) -> None:
    assert judged(part) == Candidate("a", judged(part).kind)
    assert judged(part).fits


@pytest.mark.parametrize(
    ("part", "changes", "said", "by"),
    [
        (HEAD, {"spigot_diameter": "47.2 mm"}, "the spigot (47.200 mm) is wider than the bore (47.000 mm) by 0.200 mm", 0.2),
        (HEAD, {"spigot_diameter": "45 mm"}, "the spigot (45.000 mm) is 2.000 mm smaller than the bore (47.000 mm), 1.000 mm more than a spigot leaves", 1.0),
        (HEAD, {"register_diameter": "52.1 mm"}, "the head's register (52.100 mm) is wider than that of the cylinder (52.000 mm) by 0.100 mm", 0.1),
        (HEAD, {"register_diameter": "51 mm"}, "the head's register (51.000 mm) is 1.000 mm smaller than that of the cylinder (52.000 mm), 0.500 mm more", 0.5),
        (HEAD, {"studs": {**HOLES, "count": 5}}, "the head has 5 holes for 4 studs", 1),
        (HEAD, {"studs": {**HOLES, "circle_diameter": "62 mm"}}, "the stud circle of the head (62.000 mm) differs from that of the cylinder (60.000 mm) by 2.000 mm, 1.500 mm more than the holes leave", 1.5),
        (HEAD, {"studs": {**HOLES, "diameter": "5.5 mm"}}, "the studs (6.000 mm) are thicker than the holes of the head (5.500 mm) by 0.500 mm", 0.5),
        (FLUSH, {"band": {"outer_diameter": "44 mm"}}, "the squish band (44.000 mm) ends 3.000 mm inside the bore (47.000 mm), 2.000 mm more than one cut for it", 2.0),
        (FLUSH, {"band": {"outer_diameter": "55 mm"}}, "the squish band (55.000 mm) ends 8.000 mm outside the bore (47.000 mm), 5.000 mm more than one cut for it", 5.0),
        (PISTON, {"diameter": "47.1 mm"}, "the piston (47.100 mm) is wider than the bore (47.000 mm) by 0.100 mm", 0.1),
        (PISTON, {"diameter": "46 mm"}, "the piston (46.000 mm) is 1.000 mm smaller than the bore (47.000 mm), 0.500 mm more than one made for it", 0.5),
        (PISTON, {"pin_diameter": "14 mm"}, "the piston's pin (14.000 mm) is larger than that of the rod (12.000 mm) by 2.000 mm", 1.98),
        (PISTON, {"pin_diameter": "10 mm"}, "the piston's pin (10.000 mm) is smaller than that of the rod (12.000 mm) by 2.000 mm", 1.98),
        # 65 − 39 − 29 = −3
        (PISTON, {"compression_height": "29 mm"}, "the piston stands 3.000 mm above the deck without base gaskets, 1.000 mm more than any head takes", 1.0),
        (PISTON, {"compression_height": "20 mm"}, "the piston stops 6.000 mm below the deck without base gaskets, 1.000 mm more than a head reaches down", 1.0),
        (BASE, {"opening": "52 mm"}, "the opening (52.000 mm) is smaller than the skirt (53.000 mm) by 1.000 mm", 1.0),
        (BASE, {"opening": "60 mm"}, "the opening (60.000 mm) is 7.000 mm wider than the skirt (53.000 mm), 3.000 mm more than one cut for it", 3.0),
        (BASE, {"window_diameter": "63 mm"}, "the gasket's cut-outs (63.000 mm) end inside the transfer passages (64.000 mm): they are masked by 1.000 mm in diameter", 1.0),
        (BASE, {"window_diameter": None}, "the gasket's cut-outs (53.500 mm) end inside the transfer passages (64.000 mm): they are masked by 10.500 mm in diameter", 10.5),
        (OVER, {"opening": "46 mm"}, "the opening (46.000 mm) is smaller than the bore (47.000 mm) by 1.000 mm", 1.0),
        (OVER, {"studs": {**HOLES, "count": 6}}, "the gasket has 6 holes for 4 studs", 2),
    ],
)  # fmt: skip
def test_why_not_and_by_how_much(part: te.Part, changes: dict[str, Any], said: str, by: float) -> None:
    made = judged(part.replace(**changes))
    assert not made.fits
    (misfit,) = made.misfits
    assert str(misfit).startswith(said)
    assert misfit.by == pytest.approx(by)


def test_silence_is_no_proof() -> None:
    made = fitting(te.Cylinder(bore="47 mm"), {"a": te.Gasket(role="base", thickness="0.5 mm"), "b": te.FlushHead(), "c": PISTON})
    assert [(one.id, one.unknown) for one in made.undecided] == [
        ("a", ("skirt and opening not given",)),
        ("b", ("studs of the cylinder and stud holes of head not given", "outer diameter of the band not given")),
    ]
    # a piston is judged by its diameter; what else could not be is said
    assert made.fits() == made.pistons == ["c"]
    assert made.candidates["c"].unknown == ("pin of the rod not given", "height of the cylinder and pin height not given")
    # a pin alone tells no family from another
    assert not judged(te.Piston(pin_diameter="12 mm")).decided


def test_a_crank_takes_the_place_of_what_the_cylinder_states() -> None:
    crank = te.Crank(stroke="40 mm", rod_length="85 mm", seat_height="60 mm", pin_diameter="14 mm")
    # 85 + 20 − 60 = 45; 65 − 45 − 25 = −5
    made = judged(PISTON, crank=crank)
    assert [str(one) for one in made.misfits] == [
        "the piston's pin (12.000 mm) is smaller than that of the rod (14.000 mm) by 2.000 mm",
        "the piston stands 5.000 mm above the deck without base gaskets, 3.000 mm more than any head takes",
    ]
    assert "pin height not given" in judged(PISTON, crank=te.Crank(stroke="40 mm")).unknown[-1]


def test_studs_without_sizes_may_differ_a_little() -> None:
    loose = te.Cylinder(bore="47 mm", studs={"count": 4, "circle_diameter": "60 mm"})
    for circle, fits in (("60.4 mm", True), ("59.6 mm", True), ("60.6 mm", False)):
        assert judged(te.FlushHead(studs={"count": 4, "circle_diameter": circle}), loose).fits is fits


@given(off=st.floats(-3, 3), slack=st.floats(0.05, 2.0))
def test_studs_go_through_where_the_holes_leave_room(off: float, slack: float) -> None:
    """A second route: each hole, its middle at its radius, holds the circle of the stud at its own."""
    cylinder = te.Cylinder(studs={"count": 4, "circle_diameter": "60 mm", "diameter": "6 mm"})
    head = te.FlushHead(studs={"count": 4, "circle_diameter": f"{60 + off:.6f} mm", "diameter": f"{6 + slack:.6f} mm"})
    middle_hole, middle_stud, hole, stud = (60 + round(off, 6)) / 2, 30.0, (6 + round(slack, 6)) / 2, 3.0
    goes = middle_hole - hole <= middle_stud - stud + 1e-7 and middle_stud + stud <= middle_hole + hole + 1e-7
    tight = abs(abs(round(off, 6)) - round(slack, 6)) < 1e-6
    assert tight or judged(head, cylinder).fits is goes


def test_the_text_says_all_of_it() -> None:
    made = fitting(CYLINDER.replace(name="ours"), {"a": PISTON, "b": PISTON.replace(diameter="48 mm"), "c": te.Piston()})
    assert str(made) == (
        "goes on ours: a\n"
        "not b: the piston (48.000 mm) is wider than the bore (47.000 mm) by 1.000 mm\n"
        "cannot tell of c: piston diameter not given; pin of the piston not given; compression height not given"
    )


def test_the_catalogue_wants_a_cylinder() -> None:
    catalogue = te.Catalogue.load("datapacks/fellside")
    with pytest.raises(te.UnknownNameError, match=r"no cylinder is called 'fellside/rigg50-crank'"):
        catalogue.fitting("fellside/rigg50-crank")
    with pytest.raises(te.UnknownNameError, match=r"no crank is called 'fellside/rigg50-barrel'"):
        catalogue.fitting("fellside/rigg50-barrel", crank="fellside/rigg50-barrel")
    assert catalogue.fitting("fellside/rigg50-barrel").heads == [
        f"fellside/rigg50-{name}" for name in ("drop10", "drop10-shallow", "drop08", "flush")
    ]
