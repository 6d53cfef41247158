"""Things of another kind than a function takes: told in words, as `ArgumentError`, never as Python's own surprise."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import topend as te

TOP = te.TopEnd(crank=te.Crank(stroke="40 mm"))
MISTAKES: list[tuple[Callable[[], Any], str]] = [
    (lambda: te.evaluate("x"), "evaluate: top must be a TopEnd; got 'x', a str"),  # type: ignore[arg-type]
    (lambda: te.evaluate(None), "evaluate: top must be a TopEnd; got None"),  # type: ignore[arg-type]
    (lambda: te.evaluate(te.Crank(stroke="40 mm")), "evaluate: top must be a TopEnd; got a Crank"),  # type: ignore[arg-type]
    (lambda: te.evaluate(TOP, "squish_edge"), "outputs must be a list of names, such as [\"squish_edge\"]; got the text 'squish_edge'"),
    (lambda: te.uncertainty(TOP, "blowdown"), "outputs must be a list of names, such as [\"squish_edge\"]; got the text 'blowdown'"),
    (lambda: te.uncertainty(te.evaluate(TOP)), "uncertainty: top must be a TopEnd; got a Result"),  # type: ignore[arg-type]
    (lambda: te.Study(5), "Study: top must be a TopEnd; got 5, an int"),  # type: ignore[arg-type]
    (lambda: te.Study(te.evaluate(TOP)), "Study: top must be a TopEnd; got a Result"),  # type: ignore[arg-type]
    (lambda: te.findings(TOP), "findings: result must be a Result; got a TopEnd; give it evaluate(top)"),  # type: ignore[arg-type]
    (lambda: te.fit_gaskets(TOP, []), "fit_gaskets: stock must be a GasketSet; got a list"),  # type: ignore[arg-type]
    (lambda: te.Crank("39.3 mm"), "Crank takes its fields by name, such as Crank(stroke=...); got '39.3 mm' without one"),
    (lambda: te.FlatCrown(3), "FlatCrown takes its fields by name, such as FlatCrown(); got 3 without one"),
    (
        lambda: TOP.replace("crank.stroke"),  # type: ignore[arg-type]
        'replace: changes must be a Mapping; got \'crank.stroke\', a str; give values by path, such as {"head.recess_offset": "-1.1 mm"}',
    ),
]


@pytest.mark.parametrize(("call", "message"), MISTAKES)
def test_another_kind_is_told(call: Callable[[], Any], message: str) -> None:
    with pytest.raises(te.ArgumentError) as caught:
        call()
    assert str(caught.value) == message
    assert isinstance(caught.value, TypeError)
    assert isinstance(caught.value, te.TopendError)


def test_a_measured_crown_is_said_to_be_taken_as_straight() -> None:
    top = te.TopEnd(
        cylinder=te.Cylinder(bore="47.6 mm"),
        piston=te.Piston(crown=te.MeasuredCrown(volume="1.9 cc", edge_slope="8 deg", rise="2.2 mm")),
        head=te.FlushHead(band=te.SquishBand(outer_diameter="47.6 mm", inner_diameter="33 mm", angle="9 deg")),
        head_gaskets=[te.Gasket(role="head", thickness="0.5 mm")],
        deck=te.DeckReading(clearance="-1.6 mm", at="centre"),
    )
    result = te.evaluate(top)
    # its centre 1.6 above the deck, its edge 2.2 lower
    assert result.shown("deck_clearance") == pytest.approx(0.6)
    assert "shape of the measured crown not known: taken as straight at its edge slope across the band" in [
        one.why for one in result.assumed
    ]
