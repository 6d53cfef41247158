"""Things of another kind than a function takes: told in words, as `ArgumentError`, never as Python's own surprise."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from typing import Any

import pytest

import topend as te

TOP = te.TopEnd(crank=te.Crank(stroke="40 mm"))
MISTAKES: list[tuple[Callable[[], Any], str]] = [
    (lambda: te.evaluate("x"), "evaluate: top must be a TopEnd; got 'x', a str; that of a job file is load_job(file).top"),  # type: ignore[arg-type]
    (lambda: te.evaluate(None), "evaluate: top must be a TopEnd; got None"),  # type: ignore[arg-type]
    (lambda: te.evaluate(te.Crank(stroke="40 mm")), "evaluate: top must be a TopEnd; got a Crank"),  # type: ignore[arg-type]
    (lambda: te.evaluate(TOP, "squish_edge"), "outputs must be a list of names, such as [\"squish_edge\"]; got the text 'squish_edge'"),
    (lambda: te.uncertainty(TOP, "blowdown"), "outputs must be a list of names, such as [\"squish_edge\"]; got the text 'blowdown'"),
    (lambda: te.uncertainty(te.evaluate(TOP)), "uncertainty: top must be a TopEnd; got a Result; give it result.top"),  # type: ignore[arg-type]
    (lambda: te.next_reading(3), "next_reading: top must be a TopEnd; got 3, an int"),  # type: ignore[arg-type]
    (lambda: te.contact_probability(3), "contact_probability: top must be a TopEnd; got 3, an int"),  # type: ignore[arg-type]
    (lambda: te.hole_pattern(3), "hole_pattern: check must be a FixtureCheck; got 3, an int; give it fixture_check(...)"),  # type: ignore[arg-type]
    (lambda: te.learn(TOP, [3]), "learn: each of witnesses must be a Witness; got 3, an int"),  # type: ignore[list-item]
    (lambda: te.uncertainty(TOP, draws=0), "uncertainty: draws must be a whole number from 1; got 0"),
    (lambda: te.Study(5), "Study: top must be a TopEnd; got 5, an int"),  # type: ignore[arg-type]
    (lambda: te.Study(te.evaluate(TOP)), "Study: top must be a TopEnd; got a Result; give it result.top"),  # type: ignore[arg-type]
    (lambda: te.findings(TOP), "findings: result must be a Result; got a TopEnd; give it evaluate(top)"),  # type: ignore[arg-type]
    (
        lambda: te.fit_gaskets(TOP, []),
        'fit_gaskets: stock must be a GasketSet; got a list; make one, as GasketSet(items=[{"gasket": gasket, "count": 2}])',
    ),  # type: ignore[arg-type]
    (lambda: te.load_job(TOP), "load_job: path must be the name of a file, such as 'my-job.toml'; got a TopEnd"),  # type: ignore[arg-type]
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


def _raised(call: Callable[[], Any]) -> te.TopendError:
    try:
        call()
    except te.TopendError as error:
        return error
    raise AssertionError("nothing was raised")


@pytest.mark.parametrize(
    "call",
    [
        lambda: te.evaluate(TOP, ["squish"]),
        lambda: te.evaluate(TOP, ["squish_min"]),
        lambda: te.evaluate(3),  # type: ignore[arg-type]
        lambda: te.Crank(stroke=3),  # type: ignore[arg-type]
        lambda: te.TopEnd(head=te.SpigotHead(recess_offset="1 mm")),
        lambda: te.load_job("nowhere.toml"),
        lambda: te.fit_gaskets(TOP, te.GasketSet(items=[]), squish_edge=("0.9 mm", "0.1 mm")),
        lambda: te.Study(TOP).vary("cylinder.bore", [1, 2]),
        lambda: te.design_head(TOP, compression_ratio=12),
    ],
)
def test_an_error_goes_to_another_process_whole(call: Callable[[], Any]) -> None:
    """Workers of a cluster pickle what they raise; `tblib`, which dask brings, pickles its context with it."""
    error = _raised(call)
    back = pickle.loads(pickle.dumps(error))
    assert type(back) is type(error)
    assert str(back) == str(error)
    assert back.__dict__ == error.__dict__


def test_an_error_of_a_part_has_no_ring_of_contexts() -> None:
    """pydantic's error holds the one it was made of: where that is its context too, nothing that follows contexts comes to an end."""
    assert _raised(lambda: te.TopEnd(head=te.SpigotHead(recess_offset="1 mm"))).__context__ is None


def test_results_go_to_another_process_whole() -> None:
    for result in (te.evaluate(TOP), te.evaluate(TOP, ["piston_travel"])):
        back = pickle.loads(pickle.dumps(result))
        assert back == result
        assert back.to_dict() == result.to_dict()
        assert back.assumed == result.assumed
        assert back.missing == result.missing


def test_the_short_form_of_a_result_is_one_line() -> None:
    assert repr(te.evaluate(TOP, ["piston_travel"])) == "Result(1 output: piston_travel 40.000 mm)"
    assert repr(te.evaluate(te.TopEnd())).startswith("Result(0 outputs, ")
    assert "\n" not in repr(te.evaluate(TOP))


def test_readings_that_are_none_are_told() -> None:
    found = te.measure.gap(readings=["1.02 mm", "0.95 mm"], radius="22.6 mm", wire="1.5 mm")
    for call in (lambda: te.reconcile(TOP, [found]), lambda: te.verify(TOP, [found])):  # type: ignore[list-item]
        assert str(_raised(call)) == (
            "readings must be readings, such as te.measure.Wire(...), or measured values, such as te.measure.deck(...); got GapFound; "
            "of a gap give its mean: te.measure.gap(...).mean"
        )
