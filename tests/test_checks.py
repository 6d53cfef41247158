"""Findings: the least gap, with its limit and where that comes from."""

from __future__ import annotations

from typing import Any

import pytest

import topend as te

SIMPLE: dict[str, Any] = {"head": te.FlushHead(), "head_gaskets": [te.Gasket(role="head", thickness="0.3 mm")]}


def small(result: te.Result) -> te.Finding:
    """The one finding about a gap that is too small."""
    (found,) = [one for one in te.findings(result) if one.code == "gap_small"]
    return found


def test_section_7_has_nothing_to_warn_of(sample: Any) -> None:
    assert te.findings(te.evaluate(sample())) == []


def test_a_band_of_4_degrees_is_warned_of_at_its_inner_edge(sample: Any) -> None:
    """Issue 1: with its band at 4 degrees the card warns of 0.299 mm at the inner edge; 0.6 mm is common practice."""
    found = small(te.evaluate(sample().replace({"head.band.angle": "4 deg"})))
    assert (found.code, found.severity, found.standing) == ("gap_small", "warning", "common practice")
    assert found.message == (
        "least gap 0.299 mm at the band's inner edge, where the outer edge shows 0.950 mm: "
        "under 0.6 mm it may close to nearly nothing at speed"
    )
    assert found.figure == pytest.approx(0.299, abs=5e-4)
    assert (found.limit, found.unit) == (0.6, "mm")


def test_a_least_gap_inside_the_band(sample: Any) -> None:
    found = small(te.evaluate(sample(deck=te.DeckReading(clearance="1.30 mm", base_thickness="0.50 mm"))))
    assert found.message.startswith("least gap 0.519 mm inside the band, where the outer edge shows 0.600 mm: ")


def test_a_least_gap_at_the_edge(sample: Any) -> None:
    flat = sample(piston=te.Piston(crown=te.FlatCrown()), deck=te.DeckReading(clearance="1.20 mm", base_thickness="0.50 mm"))
    found = small(te.evaluate(flat))
    assert found.message == "least gap 0.500 mm at the band's outer edge: under 0.6 mm it may close to nearly nothing at speed"


def test_where_only_the_edge_is_known() -> None:
    thin = te.evaluate(te.TopEnd(deck=te.DeckReading(clearance="0.2 mm"), **SIMPLE))
    small, unknown = te.findings(thin)
    assert small.code == "gap_small"
    assert unknown.code == "least_gap_unknown"
    assert unknown.do == f"give {', '.join(thin.missing['squish_min'])}"
    (only,) = te.findings(te.evaluate(te.TopEnd(deck=te.DeckReading(clearance="0.7 mm"), **SIMPLE)))
    assert only.code == "least_gap_unknown"


def test_without_a_gap_nothing_is_found() -> None:
    assert te.findings(te.evaluate(te.TopEnd(crank=te.Crank(stroke="40 mm")))) == []


def test_findings_do_not_depend_on_what_was_asked_for(sample: Any) -> None:
    trap = sample().replace({"head.band.angle": "4 deg"})
    for outputs in (["squish_edge"], ["compression_ratio"], ["squish_min"], []):
        assert te.findings(te.evaluate(trap, outputs)) == te.findings(te.evaluate(trap))


def test_a_crown_wider_than_the_recess_meets_the_gasket_face_first() -> None:
    """0.1 mm above the deck under a 0.5 mm gasket: 0.4 mm under the face, while the recessed band has its 1.4 mm."""
    band = te.SquishBand(outer_diameter="46 mm", inner_diameter="33 mm", angle="0 deg")
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="47.6 mm"),
        piston=te.Piston(crown=te.FlatCrown()),
        head=te.FlushHead(recess_offset="1 mm", recess_diameter="46.5 mm", band=band),
        head_gaskets=[te.Gasket(role="head", thickness="0.5 mm")],
        deck=te.DeckReading(clearance="-0.1 mm"),
    )
    (found,) = te.findings(te.evaluate(top))
    assert found.message == (
        "least gap 0.400 mm between crown and head outside the band, where the band shows 1.400 mm: "
        "under 0.6 mm it may close to nearly nothing at speed"
    )


@pytest.mark.parametrize(("clearance", "warned"), [("0.299 mm", True), ("0.30 mm", False), ("0.301 mm", False)])
def test_the_limit_itself_is_not_under_it(clearance: str, warned: bool) -> None:
    codes = [one.code for one in te.findings(te.evaluate(te.TopEnd(deck=te.DeckReading(clearance=clearance), **SIMPLE)))]
    assert ("gap_small" in codes) is warned
