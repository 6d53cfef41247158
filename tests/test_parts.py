"""Parts: frozen, strict, documented; all that is wrong told at once; JSON and back."""

from __future__ import annotations

import copy
import json
import pickle
from collections.abc import Callable, Iterator
from typing import Any, get_args

import pytest
from pydantic import BaseModel

import topend as te
from topend.parts import Part
from topend.units import QuantityField, StatedQuantity

PARTS = [
    te.Crank(stroke="39.3 mm ± 0.02 mm", rod_length="85 mm", offset="0.5 mm", seat_height="70 mm", name="long rod", source="bench"),
    te.Running(crank_speed="11500 rpm"),
    te.Port(kind="exhaust", top="22.3 mm"),
    te.Cylinder(bore="47.6 mm", height="60 mm", ports=[te.Port(kind="exhaust", top="22.3 mm"), {"kind": "transfer", "top": "31.5 mm"}]),
    te.FlatCrown(),
    te.ConeCrown(rise="2 mm"),
    te.SphereCrown(rise="-2.2 mm"),
    te.DishCrown(depth="1.5 mm", diameter="30 mm"),
    te.MeasuredCrown(volume="-1.9 cc", edge_slope="8 deg"),
    te.Piston(crown=te.SphereCrown(rise="2.2 mm"), diameter="47.5 mm", compression_height="25 mm", pin_offset="-0.5 mm", top_land="3 mm"),
    te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg"),
    te.FlushHead(recess_offset="0.5 mm", recess_diameter="48 mm", chamber_volume="6.4 cc", volume_datum="face", seal="both"),
    te.SpigotHead(
        recess_offset="-1 mm", spigot_diameter="47.2 mm", chamber_volume="6.4 cc", volume_basis="engraved", band={"angle": "9 deg"}
    ),
    te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.28 mm +0.01/-0.02 mm", opening="48.5 mm", material="copper"),
    te.GasketSet(items=[{"gasket": te.Gasket(role="base", thickness="0.3 mm"), "count": 2}]),
    te.DeckReading(clearance="1.65 mm", at="centre", base_thickness="0.50 mm", crank=te.Crank(stroke="39 mm")),
    te.DeckReading(clearance="1.65 mm", at="12 mm"),
    te.AssembledVolume(volume="6.2 cc", base_thickness="0.5 mm", head_thickness="0 mm"),
]
IDS = [f"{type(part).__name__}{index}" for index, part in enumerate(PARTS)]


def every_class() -> list[type[BaseModel]]:
    found: list[type[BaseModel]] = []

    def walk(cls: type[BaseModel]) -> None:
        for child in cls.__subclasses__():
            # what people write; the tables of a pack are told by its schema
            if child.__module__.startswith(("topend.parts", "topend.assembly", "topend.measure")) and not child.__name__.startswith("_"):
                found.append(child)
            walk(child)

    walk(Part)
    return found


def test_every_field_is_described() -> None:
    assert te.TopEnd in every_class()
    for cls in every_class():
        for name, field in cls.model_fields.items():
            assert field.description, f"{cls.__name__}.{name}"
            assert field.description.endswith("."), f"{cls.__name__}.{name}"


@pytest.mark.parametrize("part", PARTS, ids=IDS)
def test_json_and_back(part: Part) -> None:
    again = type(part).model_validate_json(part.model_dump_json())
    assert again == part
    assert again.model_dump_json() == part.model_dump_json()
    assert type(part).model_validate(json.loads(part.model_dump_json(exclude_none=True))) == part
    assert type(part).model_validate(part.model_dump()) == part


@pytest.mark.parametrize("part", PARTS, ids=IDS)
def test_copies_pickles_and_hashes(part: Part) -> None:
    for again in (copy.copy(part), copy.deepcopy(part), pickle.loads(pickle.dumps(part)), part.model_copy(), part.replace()):
        assert again == part
        assert hash(again) == hash(part)


@pytest.mark.parametrize("part", PARTS, ids=IDS)
def test_repr_can_be_typed_in(part: Part) -> None:
    names = {name: getattr(te, name) for name in te.__all__}
    assert eval(repr(part), names) == part


@pytest.mark.parametrize("part", PARTS, ids=IDS)
def test_frozen(part: Part) -> None:
    name = next(iter(type(part).model_fields))
    with pytest.raises(te.PartError) as caught:
        setattr(part, name, "1 mm")
    assert str(caught.value) == f"{type(part).__name__}: {name} cannot be set: parts do not change; use .replace() for a changed copy"


def test_deletion_is_refused() -> None:
    part = te.Crank(stroke="39.3 mm")
    with pytest.raises(Exception, match=r"frozen|cannot"):
        del part.stroke
    assert part.stroke.text == "39.3 mm"


def test_copies_with_changes_are_validated() -> None:
    part = te.Crank(stroke="39.3 mm", rod_length="85 mm")
    assert part.model_copy(update={"stroke": "40 mm"}) == te.Crank(stroke="40 mm", rod_length="85 mm")
    assert part.replace(stroke="40 mm").rod_length == part.rod_length
    assert part.replace(rod_length=None) == te.Crank(stroke="39.3 mm")
    for change in (lambda: part.model_copy(update={"stroke": 40}), lambda: part.replace(stroke=40)):
        with pytest.raises(te.PartError, match="stroke needs a length"):
            change()
    with pytest.raises(te.PartError, match="strok is not a field of Crank; nearest: stroke"):
        part.replace(strok="40 mm")
    assert part.stroke.text == "39.3 mm"


def told(call: Any) -> str:
    with pytest.raises(te.PartError) as caught:
        call()
    return str(caught.value)


def test_unknown_keys_with_nearest_names() -> None:
    assert told(lambda: te.Crank(stroke="39 mm", rod_lenght="85 mm")) == (
        "Crank: rod_lenght is not a field of Crank; nearest: rod_length, rod_density"
    )
    assert told(lambda: te.TopEnd(head={"kind": "spigot", "band": {"angel": "9 deg"}})) == (
        "TopEnd: head.band.angel is not a field of SquishBand; nearest: angle"
    )
    # nothing near: whose it is, and what there is
    assert told(lambda: te.SquishBand(stroke="39 mm")) == (
        "SquishBand: stroke is not a field of SquishBand; it has name, outer_diameter, inner_diameter, angle"
    )
    assert told(lambda: te.TopEnd(stroke="39 mm")).startswith("TopEnd: stroke is not a field of TopEnd but of Crank; it has name, crank, ")


def test_all_problems_together() -> None:
    text = told(
        lambda: te.Cylinder(
            bore=47.6, height="60 deg", ports=[{"kind": "exhaust", "top": "-1 mm"}, {"kind": "boost", "top": "30 mm"}, {}], bor=1
        )
    )
    lines = text.split("\n")
    assert lines[0] == f"Cylinder: {len(lines) - 1} problems"
    wheres = sorted(line.split()[1] for line in lines[1:])
    assert wheres == ["bor", "bore", "height", "ports.0.top", "ports.1.kind", "ports.2.kind", "ports.2.top"]
    assert "  - ports.1.kind must be one of exhaust, transfer or inlet; got 'boost'; nearest: transfer" in lines
    assert "  - ports.2.top is missing: From the deck down to the port's upper edge, without its chamfer." in lines
    with pytest.raises(te.PartError) as caught:
        te.TopEnd(crank={"stroke": 39}, running={"crank_speed": "x"})
    assert [problem.where for problem in caught.value.problems] == ["crank.stroke", "running.crank_speed"]


@pytest.mark.parametrize(
    ("build", "text"),
    [
        (lambda: te.Crank(), "Crank: stroke is missing: Twice the throw of the crank."),
        (
            lambda: te.Port(kind="exhuast", top="3 mm"),
            "Port: kind must be one of exhaust, transfer or inlet; got 'exhuast'; nearest: exhaust",
        ),
        (
            lambda: te.Piston(crown={"shape": "spere", "rise": "2 mm"}),
            "Piston: crown has shape 'spere'; it must be one of flat, cone, sphere, dish, measured; nearest: sphere",
        ),
        (
            lambda: te.Piston(crown={"rise": "2 mm"}),
            "Piston: crown needs shape, which says what it is: flat, cone, sphere, dish or measured; got {'rise': '2 mm'}",
        ),
        (lambda: te.StockItem(gasket=te.Gasket(role="base", thickness="1 mm"), count=-1), "StockItem: count must be at least 0; got -1"),
        (
            lambda: te.StockItem(gasket=te.Gasket(role="base", thickness="1 mm"), count=1.5),
            "StockItem: count must be a whole number; got 1.5",
        ),
        (
            lambda: te.StockItem(gasket=te.Gasket(role="base", thickness="1 mm"), count="2"),
            "StockItem: count must be a whole number; got '2'",
        ),
        (
            lambda: te.Cylinder(ports="none"),
            'Cylinder: ports must be a list of Port; got the text \'none\'. Write ports=[Port(kind="exhaust", top="22.3 mm")]',
        ),
        (
            lambda: te.SpigotHead(volume_datum="face"),
            "SpigotHead: volume_datum must be band on a spigot head: a plate does not lie on its gasket face; "
            "read the chamber with a plate on the band's outer edge",
        ),
        (lambda: te.Crank(stroke="39 mm", name=5), 'Crank: name must be a text; got 5. Put it in quotes: "5"'),
        (lambda: te.Crank(stroke="39 mm", name=10**5000), "Crank: name must be a text; got an int of thousands of digits"),
        (
            lambda: te.GasketSet(items=["base-050"]),
            "GasketSet: items.0 must be a StockItem with its fields; got 'base-050'. "
            'Write StockItem(gasket=...), in a file {gasket = "base-050"}',
        ),
    ],
)
def test_told_in_our_words(build: Any, text: str) -> None:
    assert told(build) == text


def test_json_that_is_none() -> None:
    assert told(lambda: te.Crank.model_validate_json("{")).startswith("Crank: must be JSON (")
    assert told(lambda: te.Crank.model_validate_json('{"stroke": 39.3}')) == (
        'Crank: stroke needs a length, such as "39.3 mm"; got the bare number 39.3. Units: mm, cm, m, um, µm, in, thou'
    )
    assert told(lambda: te.Crank.model_validate([1])).startswith("Crank: must be one Crank, not a list; got [1]. ")


GASKET = te.Gasket(role="head", thickness="0.3 mm")
PORT = te.Port(kind="exhaust", top="22.3 mm")
OFF = "Take the square brackets off; in a file, one pair around its heading"


@pytest.mark.parametrize(
    ("build", "text"),
    [
        # one where a list goes
        (
            lambda: te.TopEnd(head_gaskets=GASKET),
            "TopEnd: head_gaskets must be a list of Gasket; got one Gasket. Put it in square brackets: head_gaskets=[Gasket(...)]",
        ),
        (
            lambda: te.TopEnd(cylinder={"ports": PORT}),
            "TopEnd: cylinder.ports must be a list of Port; got one Port. Put it in square brackets: ports=[Port(...)]",
        ),
        (
            lambda: te.GasketSet(items=te.StockItem(gasket=GASKET)),
            "GasketSet: items must be a list of StockItem; got one StockItem. Put it in square brackets: items=[StockItem(...)]",
        ),
        (lambda: te.TopEnd(head_gaskets=PORT), "TopEnd: head_gaskets must be a list of Gasket; got one Port"),
        (
            lambda: te.TopEnd(head_gaskets={"thickness": "0.3 mm"}),
            "TopEnd: head_gaskets must be a list of Gasket; got one table, {'thickness': '0.3 mm'}. Put it in square brackets: "
            "head_gaskets = [{...}]; in a file, two pairs around its heading",
        ),
        (
            lambda: te.TopEnd(head_gaskets="0.3 mm"),
            "TopEnd: head_gaskets must be a list of Gasket; got the text '0.3 mm'. "
            'Write head_gaskets=[Gasket(role="head", thickness="0.50 mm")]',
        ),
        (
            lambda: te.TopEnd(base_gaskets="club/base-050"),
            "TopEnd: base_gaskets must be a list of Gasket; got the text 'club/base-050'. "
            "Put it in square brackets: base_gaskets = ['club/base-050']",
        ),
        (lambda: te.TopEnd(head_gaskets=0.3), "TopEnd: head_gaskets must be a list of Gasket; got 0.3"),
        # a list where one goes
        (
            lambda: te.TopEnd(crank=[te.Crank(stroke="39 mm")]),
            f'TopEnd: crank must be one Crank, not a list; got [Crank(stroke="39 mm", offset="0 mm")]. {OFF}',
        ),
        (lambda: te.TopEnd(crank=[{}, {}]), "TopEnd: crank must be one Crank, not a list; got 2 in square brackets"),
        (
            lambda: te.TopEnd(head=[te.FlushHead()]),
            "TopEnd: head must be one FlushHead or SpigotHead, not a list; got "
            f"[FlushHead(kind='flush', recess_offset=\"0 mm\", volume_bas.... {OFF}",
        ),
        (
            lambda: te.Cylinder(bore=["47.6 mm"]),
            "Cylinder: bore needs a length, such as \"47.6 mm\"; got a list, ['47.6 mm']. One value goes here, without brackets. "
            "Units: mm, cm, m, um, µm, in, thou",
        ),
        # something else where a part goes
        (
            lambda: te.TopEnd(crank="39.3 mm"),
            'TopEnd: crank must be a Crank with its fields; got \'39.3 mm\'. Write Crank(stroke="39.3 mm"), in a file {stroke = "39.3 mm"}',
        ),
        (
            lambda: te.TopEnd(head="drop-in"),
            "TopEnd: head must be a FlushHead or SpigotHead with its fields; got 'drop-in'. "
            'Write SpigotHead(recess_offset="-1.0 mm"), in a file {kind = "spigot", recess_offset = "-1.0 mm"}',
        ),
        (
            lambda: te.Piston(crown="flat"),
            "Piston: crown must be a FlatCrown, ConeCrown, SphereCrown, DishCrown or MeasuredCrown with its fields; got 'flat'. "
            'Write FlatCrown(), in a file {shape = "flat"}',
        ),
        (
            lambda: te.TopEnd(head_gaskets=["0.3 mm"]),
            "TopEnd: head_gaskets.0 must be a Gasket with its fields; got '0.3 mm'. "
            'Write Gasket(role="base", thickness="0.50 mm"), in a file {role = "base", thickness = "0.50 mm"}',
        ),
        (lambda: te.TopEnd(crank=te.Piston()), "TopEnd: crank must be a Crank; got a Piston; a Piston goes to piston"),
        (lambda: te.TopEnd(head=te.Piston()), "TopEnd: head must be a FlushHead or SpigotHead; got a Piston; a Piston goes to piston"),
        (lambda: te.TopEnd(crank=GASKET), "TopEnd: crank must be a Crank; got a Gasket; a Gasket goes to base_gaskets or head_gaskets"),
        # a word for which kind
        (
            lambda: te.Piston(crown={"shape": "domed"}),
            "Piston: crown has shape 'domed'; it must be one of flat, cone, sphere, dish, measured; nearest: sphere",
        ),
        (lambda: te.TopEnd(head={"kind": "drop-in"}), "TopEnd: head has kind 'drop-in'; it must be one of flush, spigot; nearest: spigot"),
        (lambda: te.TopEnd(head={"kind": "x"}), "TopEnd: head has kind 'x'; it must be one of flush, spigot"),
        (
            lambda: te.Port(kind="intake", top="22 mm"),
            "Port: kind must be one of exhaust, transfer or inlet; got 'intake'; nearest: inlet",
        ),
        (
            lambda: te.Gasket(role="head", thickness="0.3 mm", material="Aluminum"),
            "Gasket: material must be one of aluminium, copper, brass, steel, fibre or paper; got 'Aluminum'; nearest: aluminium",
        ),
    ],
)
def test_one_a_list_and_a_text_are_told_apart(build: Any, text: str) -> None:
    assert told(build) == text


def test_words_from_elsewhere_lead_to_a_choice_that_there_is() -> None:
    from topend.parts.told import _ELSEWHERE

    schema = json.dumps([cls.model_json_schema() for cls in (te.TopEnd, te.Piston, te.FlushHead, te.PinLocation)])
    for word, meant in _ELSEWHERE.items():
        assert f'"{meant}"' in schema, meant
        assert f'"{word}"' not in schema, word


def test_a_part_is_no_list() -> None:
    with pytest.raises(TypeError, match=r"^a Gasket is one part, not a list; \.given\(\) has its fields$"):
        list(GASKET)


def _quantities(cls: type[Part]) -> Iterator[tuple[str, QuantityField]]:
    """Fields of a part that hold a quantity."""

    def inside(annotation: Any) -> Iterator[QuantityField]:
        for one in get_args(annotation):
            if isinstance(one, QuantityField):
                yield one
            else:
                yield from inside(one)

    for name, field in cls.model_fields.items():
        found = [*(one for one in field.metadata if isinstance(one, QuantityField)), *inside(field.annotation)]
        if found:
            yield name, found[0]


def _classes(cls: type[Part] = Part) -> Iterator[type[Part]]:
    for inner in cls.__subclasses__():
        yield inner
        yield from _classes(inner)


def test_every_example_fits_its_field() -> None:
    """What a message shows can be written there, and every length has one of its own: the bore of an engine is no gasket."""
    import topend.measure  # noqa: F401  # readings are parts too
    from topend.parts.examples import example_for

    for cls in set(_classes()):
        for name, field in _quantities(cls):
            example = example_for(cls.__name__, name)
            if field.kind == "length":
                assert example, f"{cls.__name__}.{name} has no example: give it one in topend/parts/examples.py"
            if example:
                field.validate(example)


def test_a_band_datum_on_a_spigot_head_is_taken() -> None:
    assert te.SpigotHead(volume_datum="band") == te.SpigotHead()


def test_stated_walks_with_paths() -> None:
    part = te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm")])
    assert [path for path, _ in part.stated()] == ["bore", "ports.0.top", "ports.1.top"]
    assert all(isinstance(quantity, StatedQuantity) for _, quantity in part.stated())


def test_drawers() -> None:
    base, head = te.Gasket(role="base", thickness="0.3 mm"), te.Gasket(role="head", thickness="0.3 mm")
    drawer = te.GasketSet(items=[{"gasket": base, "count": 2}, {"gasket": head}, {"gasket": base, "count": 0}])
    assert [item.count for item in drawer.of_role("base")] == [2]
    assert [item.count for item in drawer.of_role("head")] == [1]


def test_crush_classes() -> None:
    made = {
        name: te.Gasket(role="base", thickness="0.5 mm", material=name).crush_class
        for name in ("aluminium", "copper", "brass", "steel", "fibre", "paper")
    }
    assert made == dict.fromkeys(("aluminium", "copper", "brass", "steel"), "metal") | dict.fromkeys(("fibre", "paper"), "fibre")
    assert te.Gasket(role="base", thickness="0.5 mm").crush_class == "unknown"
    assert te.Gasket(role="base", thickness="0.5 mm", fitted_thickness="0.46 mm").fitted.text == "0.46 mm"


def test_top_end_json_and_back(sample: Any) -> None:
    top = sample(
        assembled=None,
        piston=te.Piston(crown=te.DishCrown(depth="1 mm", diameter="30 mm"), top_land="3 mm", diameter="47.5 mm"),
        crevice="included",
        name="sample",
        source="invented",
    )
    again = te.TopEnd.model_validate_json(top.model_dump_json())
    assert again == top
    assert hash(again) == hash(top)
    first, second = te.evaluate(top), te.evaluate(again)
    assert dict(first.si) == dict(second.si)
    assert te.TopEnd.model_validate(json.loads(top.model_dump_json(exclude_none=True))) == top
    assert te.evaluate(pickle.loads(pickle.dumps(top))).si == first.si
    assert te.evaluate(copy.deepcopy(top)).si == first.si
    assert te.evaluate(top.model_copy(update={"name": "other"})).si == first.si
    # limits survive too
    moved = top.replace({"crank.stroke": "39.3 mm +0.02/-0.01 mm"})
    assert te.TopEnd.model_validate_json(moved.model_dump_json()).crank.stroke == moved.crank.stroke


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: te.StudSet(thread_diameter="8 mm", root="case", property_class=8.8), "property_class is a name and no number"),  # type: ignore[arg-type]
        (lambda: te.StudSet(thread_diameter="8 mm", root="case", pitch="9 mm"), "pitch (9 mm) must be less than half of thread_diameter"),
        (lambda: te.StudSet(thread_diameter="9 mm", root="case"), "pitch is needed for a thread_diameter of 9 mm"),
        (lambda: te.ORing(inner_diameter="50 mm", section="9 mm"), 'section (9 mm) needs limits of its own, such as "9 mm ± 0.2 mm"'),
        (
            lambda: te.ORingGroove(seals="face", inner_diameter="60 mm", outer_diameter="50 mm"),
            "inner_diameter (60 mm) must be less than outer_diameter (50 mm)",
        ),
        (
            lambda: te.ORingGroove(seals="face", inner_diameter="57 mm", outer_diameter="63 mm", width="5 mm"),
            "do not agree: its walls are 3.000 mm apart; give two of the three",
        ),
        (lambda: te.FlushHead(groove=te.ORingGroove(seals="bore")), 'groove.seals must be "face" on a flush head'),
        (
            lambda: te.Cutout(angle="0 deg", span="-50 deg", outer_diameter="66 mm"),
            "span must be more than 0 and less than 360 deg; got -50",
        ),
        (
            lambda: te.Notch(angle="0 deg", span="400 deg", inner_diameter="66 mm"),
            "span must be more than 0 and less than 360 deg; got 400",
        ),
    ],
)
def test_what_seals_and_clamps_refuses_sizes_that_make_no_part(make: Callable[[], te.Part], told: str) -> None:
    with pytest.raises(te.PartError) as caught:
        make()
    assert told in str(caught.value)
