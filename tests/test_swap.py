"""Another crank or piston: against the slider-crank by hand."""

from __future__ import annotations

import json
import math

import pytest

import topend as te
from topend.errors import FitError
from topend.report.swapping import SwapReport
from topend.solve.swap import swap


def build(**changes) -> te.TopEnd:
    top = te.TopEnd(
        crank=te.Crank(stroke="39.3 mm", rod_length="80 mm", web_diameter="70 mm"),
        cylinder=te.Cylinder(
            bore="47.6 mm",
            window_diameter="60 mm",
            ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm", floor="40.8 mm")],
        ),
        piston=te.Piston(crown=te.FlatCrown(), compression_height="26 mm", skirt_length="52 mm"),
        head=te.FlushHead(recess_offset="0 mm", chamber_volume="6.4 cc"),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm")],
        deck=te.DeckReading(clearance="1.65 mm", base_thickness="0.50 mm"),
        running=te.Running(crank_speed="11500 rpm"),
    )
    return top.replace(changes) if changes else top


def opens(deck: float, top: float, stroke: float, rod: float) -> float:
    """Crank angle at which a crown has gone from the deck clearance down to a port's roof [deg], by the law of cosines."""
    throw = stroke / 2.0
    pin = throw + rod - (top - deck)
    return math.degrees(math.acos((throw**2 + pin**2 - rod**2) / (2.0 * throw * pin)))


def test_a_longer_stroke_needs_half_of_it_as_a_spacer():
    found = swap(build(), crank=te.Crank(stroke="41.3 mm", rod_length="80 mm", web_diameter="70 mm"))
    assert found.spacer.m_as("mm") == pytest.approx(1.0, abs=1e-12)
    assert found.after.shown("deck_clearance") == pytest.approx(0.65, abs=1e-9)
    assert found.spaced.shown("deck_clearance") == pytest.approx(1.65, abs=1e-9)
    assert found.after.shown("exhaust_opens") == pytest.approx(opens(0.65, 22.3, 41.3, 80.0), abs=1e-9)
    assert found.spaced.shown("exhaust_opens") == pytest.approx(opens(1.65, 22.3, 41.3, 80.0), abs=1e-9)
    # at BDC the crown goes 2 mm further below the floor with the spacer, 1 mm without
    before, after, spaced = found.floor_steps[1]
    assert before == pytest.approx(40.8 - (1.65 + 39.3), abs=1e-9)
    assert after == pytest.approx(before - 1.0, abs=1e-9)
    assert spaced == pytest.approx(before - 2.0, abs=1e-9)
    # the skirt comes down by the throw's growth
    webs = {name: values for name, _, *values in found.rows}["skirt_web_clearance"]
    assert webs[1] == pytest.approx(webs[0] - 1.0, abs=1e-6)
    assert webs[2] == pytest.approx(webs[1], abs=1e-9)
    assert "a spacer of 1.000 mm brings the deck back" in str(found)


def test_an_offset_that_the_new_part_does_not_state_is_told():
    """An offset of 1 mm makes the travel longer: a crank put in without it is another engine's."""
    offset = build(crank=te.Crank(stroke="39.3 mm", rod_length="80 mm", offset="1.0 mm"))
    told = "crank.offset is taken as 0 mm: the new one states none, and the old one has 1.0 mm"
    assert told in swap(offset, crank=te.Crank(stroke="41.3 mm", rod_length="80 mm")).notes
    for offset_of_new in ("0 mm", "1.0 mm"):
        kept = swap(offset, crank=te.Crank(stroke="41.3 mm", rod_length="80 mm", offset=offset_of_new))
        assert not any("offset" in note for note in kept.notes)
    assert not any("offset" in note for note in swap(build(), crank=te.Crank(stroke="41.3 mm", rod_length="80 mm")).notes)


def test_a_longer_rod_is_a_spacer_as_long_and_a_shorter_one_lowers_the_barrel():
    longer = swap(build(), crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"))
    assert longer.spacer.m_as("mm") == pytest.approx(5.0, abs=1e-12)
    assert longer.after is None
    assert "touch" in longer.refusal
    assert longer.spaced is not None
    shorter = swap(build(), crank=te.Crank(stroke="39.3 mm", rod_length="79.5 mm"))
    assert shorter.spacer.m_as("mm") == pytest.approx(-0.5, abs=1e-12)
    assert shorter.spaced is None
    assert "come lower by 0.500 mm" in str(shorter)


def test_another_piston_counts_by_its_compression_height():
    found = swap(build(), piston=te.Piston(crown=te.FlatCrown(), compression_height="26.4 mm", skirt_length="52 mm"))
    assert found.spacer.m_as("mm") == pytest.approx(0.4, abs=1e-12)
    with pytest.raises(FitError, match=r"piston\.compression_height is not given for the new piston"):
        swap(build(), piston=te.Piston(crown=te.FlatCrown(), skirt_length="50 mm", name="other", pin_diameter="12 mm", diameter="47.5 mm", pin_offset="0.5 mm"))  # fmt: skip  # noqa: E501


def test_a_spacer_whose_cut_outs_fall_short_leaves_a_step_in_the_passages():
    crank = te.Crank(stroke="41.3 mm", rod_length="80 mm")
    assert "passages_stepped" in [one.code for one in swap(build(), crank=crank, spacer_window="58 mm").findings]
    assert "passages_stepped" not in [one.code for one in swap(build(), crank=crank, spacer_window="60 mm").findings]


def test_what_was_read_with_the_old_parts_is_left_out():
    top = build(assembled=te.AssembledVolume(volume="7.5 cc"))
    found = swap(top, crank=te.Crank(stroke="41.3 mm", rod_length="80 mm"), spacer="0.8 mm")
    assert found.spaced.top.assembled is None
    assert found.spaced.shown("deck_clearance") == pytest.approx(1.45, abs=1e-9)
    assert any("assembled volume" in note for note in found.notes)


def test_questions_that_cannot_be_asked():
    with pytest.raises(FitError, match="nothing is swapped: give a crank, a piston, or both"):
        swap(build())
    with pytest.raises(FitError, match="spacer needs a length"):
        swap(build(), crank=te.Crank(stroke="41.3 mm", rod_length="80 mm"), spacer=1.0)
    bare = te.TopEnd(crank=te.Crank(stroke="40 mm", rod_length="80 mm"), deck=te.DeckReading(clearance="1 mm"))
    with pytest.raises(FitError, match="a spacer goes into a base stack that is not known: give base_gaskets"):
        swap(bare, crank=te.Crank(stroke="42 mm", rod_length="80 mm"))
    with pytest.raises(FitError, match="deck_clearance cannot be had"):
        swap(te.TopEnd(crank=te.Crank(stroke="40 mm")), crank=te.Crank(stroke="42 mm"))


def test_a_length_that_one_of_the_parts_leaves_open_is_not_guessed():
    with pytest.raises(FitError, match=r"crank\.rod_length is not given for the new crank: the deck moves by the difference of both"):
        swap(build(), crank=te.Crank(stroke="41.3 mm"))
    unread = te.TopEnd(crank=te.Crank(stroke="40 mm"), deck=te.DeckReading(clearance="1 mm"), base_gaskets=[])
    with pytest.raises(FitError, match=r"crank\.rod_length is not given for the old crank and the new crank"):
        swap(unread, crank=te.Crank(stroke="41.3 mm"))
    unknown = te.TopEnd(**{**build().given(), "piston": te.Piston(crown=te.FlatCrown())})
    with pytest.raises(FitError, match=r"piston\.compression_height is not given for the old piston.*give compression_height"):
        swap(unknown, piston=te.Piston(crown=te.FlatCrown(), compression_height="26.4 mm"))


def test_a_spacer_that_cannot_be_is_refused_by_its_own_name():
    crank = te.Crank(stroke="41.3 mm", rod_length="80 mm")
    for wrong in ("0 mm", "-0.3 mm"):
        with pytest.raises(FitError, match=f"spacer must be thicker than 0 mm; got '{wrong}'; leave it out"):
            swap(build(), crank=crank, spacer=wrong)
    with pytest.raises(FitError, match="spacer_window needs a length"):
        swap(build(), crank=crank, spacer_window="wide")
    with pytest.raises(FitError, match="spacer_window must be more than 0 mm; got '-1 mm'"):
        swap(build(), crank=crank, spacer_window="-1 mm")


def test_the_table_has_no_column_for_a_spacer_that_is_not_there():
    shorter = swap(build(), crank=te.Crank(stroke="39.3 mm", rod_length="79.5 mm", web_diameter="70 mm"))
    assert "unknown" not in str(shorter)
    assert str(shorter).splitlines()[0].split() == ["before", "after"]
    longer = swap(build(), crank=te.Crank(stroke="39.3 mm", rod_length="85 mm", web_diameter="70 mm"))
    assert str(longer).splitlines()[0].split() == ["before", "spacer"]  # as it stands it touches


def test_a_figure_that_only_one_of_the_two_has_is_shown_for_that_one():
    """A crank whose webs are not stated: the skirt's distance from them is known before, and unknown after."""
    top = build()
    answer = swap(top, crank=te.Crank(stroke="39.3 mm", rod_length="79.5 mm"))
    there = "skirt_web_clearance"
    assert [values[1:] for name, _, *values in answer.rows if name == there] == [[None, None]]
    made = SwapReport(answer)
    assert list(made.figures[there]) == ["before"]
    assert json.loads(made.json())["outputs"][there].keys() == {"before"}
    assert "unknown" in made.text
    back = swap(top.replace({"crank": te.Crank(stroke="39.3 mm", rod_length="80 mm")}), crank=top.crank)
    assert "before" not in SwapReport(back).figures[there]
    assert SwapReport(back).text
