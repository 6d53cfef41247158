"""Kits: what is missing, surplus or does not fit, each tripped and just not, and the steps that the parts ask for."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import topend as te

ROOT = Path(__file__).parents[1]
ASHGILL = te.Catalogue.load(ROOT / "datapacks" / "ashgill")
BARREL: Any = ASHGILL["ashgill/beck60-barrel"]
HURRIED: Any = ASHGILL["ashgill/beck60-packed-in-a-hurry"]
WHOLE: Any = ASHGILL["ashgill/beck60-top-end"]


def part(name: str) -> Any:
    return ASHGILL[f"ashgill/beck60-{name}"]


def without(kit: te.Kit, kind: str, role: str | None = None) -> te.Kit:
    kept = [item for item in kit.items if item.kind != kind or (role is not None and item.gasket is not None and item.gasket.role != role)]
    return kit.replace(items=kept)


def recounted(kit: te.Kit, kind: str, count: int) -> te.Kit:
    return kit.replace(items=[item.replace(count=count) if item.kind == kind else item for item in kit.items])


@pytest.mark.parametrize(("name", "given", "told"), [("head", "x", "'x', a str"), ("location", BARREL, "a Cylinder")])
def test_a_head_or_location_of_another_kind(name: str, given: Any, told: str) -> None:
    with pytest.raises(te.ArgumentError, match=rf"^kit_check: {name} must be a .*; got {told}$"):
        te.kit_check(WHOLE, BARREL, **{name: given})


def test_a_whole_kit_is_complete() -> None:
    made = te.kit_check(WHOLE, BARREL)
    assert made.complete
    assert (made.missing, made.surplus, made.misfits, made.undecided) == ((), (), (), ())
    assert str(made) == "complete, as far as can be told"


@pytest.mark.parametrize(
    ("kind", "what", "needed", "why"),
    [
        ("ring", "ring", 2, "the piston takes 2"),
        ("clip", "clip", 2, "a clip is used once"),
        ("pin", "pin", 1, "the new piston gets a new pin"),
        ("o_ring", "O-ring", 1, "the head seals by an O-ring, which has set"),
        ("gasket", "base gasket", 1, "the cylinder is lifted"),
    ],
)
def test_each_kind_that_is_left_out_is_missing(kind: str, what: str, needed: int, why: str) -> None:
    (lack,) = te.kit_check(without(WHOLE, kind), BARREL).missing
    assert (lack.what, lack.found, lack.needed) == (what, 0, needed)
    assert lack.why.startswith(why)


@pytest.mark.parametrize(
    ("kind", "count", "what", "most"),
    [
        ("ring", 3, "ring", 2),
        ("clip", 3, "clip", 2),
        ("pin", 2, "pin", 1),
        ("piston", 2, "piston", 1),
        ("head", 2, "head", 1),
        ("studs", 2, "studs", 4),
    ],
)
def test_one_more_than_goes_on_is_surplus(kind: str, count: int, what: str, most: int) -> None:
    (more,) = te.kit_check(recounted(WHOLE, kind, count), BARREL).surplus
    assert (more.what, more.needed) == (what, most)
    assert more.found > most


def test_gaskets_of_a_role_are_a_choice_and_a_seal_that_nothing_takes_is_surplus() -> None:
    assert te.kit_check(recounted(WHOLE, "gasket", 5), BARREL).surplus == ()
    (more,) = te.kit_check(WHOLE.replace(items=[*WHOLE.items, te.KitItem(gasket=part("head-030"))]), BARREL).surplus
    assert str(more) == "head gasket: 1 in the box, 0 needed; the head seals by an O-ring alone"


def test_a_kit_packed_in_a_hurry() -> None:
    made = te.kit_check(HURRIED, BARREL)
    assert not made.complete
    assert [one.what for one in made.missing] == ["ring", "clip"]
    assert [one.what for one in made.surplus] == ["head gasket"]
    told = str(made).splitlines()
    assert "does not fit - ring ashgill/beck60-ring-old: 1.5 mm high, and the piston's grooves are for 1.2 mm" in told
    assert any(line.startswith("does not fit - O-ring ashgill/beck60-o-ring-thick: the O-ring may be squeezed by") for line in told)


SMALL = te.Kit(items=[te.KitItem(gasket=te.Gasket(role="head", thickness="0.3 mm", opening="43.4 mm"))])


def test_what_a_kit_needs_follows_from_the_joints_that_it_opens() -> None:
    gasketed = te.FlushHead(seal="gasket")
    assert te.kit_check(SMALL, BARREL, head=gasketed).complete
    # the same with a base gasket in the box: nothing more is asked for
    lifted = te.Kit(items=[*SMALL.items, te.KitItem(gasket=part("base-030"))])
    assert te.kit_check(lifted, BARREL, head=gasketed).complete
    # and where it says that the base is opened though nothing in it does
    opened = te.kit_check(SMALL.replace(opens=("head", "base")), BARREL, head=gasketed)
    assert [one.what for one in opened.missing] == ["base gasket"]
    # how the head seals is not known: one seal of either kind is asked for
    assert te.kit_check(SMALL, BARREL).complete
    nothing = te.kit_check(te.Kit(items=[te.KitItem(studs=part("studs"))]), BARREL)
    assert [str(one) for one in nothing.missing] == [
        "seal of the head: 0 in the box, 1 needed; the head is lifted; how it seals is not given"
    ]


def test_pins_that_locate_the_head() -> None:
    pin = te.LocatingPin(standard="ISO 8752", diameter="4 mm", length="12 mm")
    where = te.PinLocation(pin=pin)
    lacking = te.kit_check(SMALL, BARREL, head=te.FlushHead(), location=where)
    assert [str(one) for one in lacking.missing] == ["locating pin: 0 in the box, 2 needed; two pins locate the head"]
    two = SMALL.replace(items=[*SMALL.items, te.KitItem(locating_pin=pin, count=2)])
    assert te.kit_check(two, BARREL, head=te.FlushHead(), location=where).complete
    (odd,) = te.kit_check(two, BARREL, head=te.FlushHead(), location=te.SpigotLocation()).surplus
    assert odd.why == "the head is located by its spigot"
    other = SMALL.replace(items=[*SMALL.items, te.KitItem(locating_pin=pin.replace(diameter="5 mm"), count=2)])
    (misfit,) = te.kit_check(other, BARREL, head=te.FlushHead(), location=where).misfits
    assert misfit.why == "made for 5 mm, larger than the pin of the location (4 mm) by 1.000 mm"


@pytest.mark.parametrize(
    ("kind", "field", "wrong", "right", "told"),
    [
        ("ring", "diameter", "43.11 mm", "43.10 mm", "larger than the bore"),
        ("pin", "diameter", "11.97 mm", "11.98 mm", "smaller than the piston's pin bore"),
        ("clip", "pin_diameter", "12.03 mm", "12.02 mm", "larger than the piston's pin bore"),
        ("studs", "thread_diameter", "6.89 mm", "6.90 mm", "smaller than the cylinder's studs"),
        ("piston", "diameter", "42.49 mm", "42.50 mm", "smaller than the bore"),
        ("head", "spigot_diameter", "43.01 mm", "43.00 mm", "wider than the bore"),
    ],
)
def test_sizes_that_do_not_fit(kind: str, field: str, wrong: str, right: str, told: str) -> None:
    def checked(size: str) -> te.KitCheck:
        changed = [item.replace(**{kind: item.part.replace(**{field: size})}) if item.kind == kind else item for item in WHOLE.items]
        return te.kit_check(WHOLE.replace(items=changed), BARREL)

    assert checked(right).misfits == ()
    found = checked(wrong).misfits
    assert len(found) == 1
    assert told in found[0].why
    assert not checked(wrong).complete


def test_what_cannot_be_told_is_said() -> None:
    bare = te.Kit(items=[te.KitItem(o_ring=part("o-ring")), te.KitItem(gasket=te.Gasket(role="head", thickness="0.3 mm"))])
    made = te.kit_check(bare, te.Cylinder(), head=te.FlushHead(seal="both"))
    assert [(one.what, one.why) for one in made.undecided] == [
        ("O-ring ashgill/beck60-o-ring", "the groove it goes in (head.groove) is not given"),
        ("head gasket", "studs of the cylinder and stud holes of gasket not given; bore and opening not given"),
    ]
    # and stays open: it is no misfit
    assert made.complete


# --- steps -----------------------------------------------------------------------------------------------------------


def steps(kit: te.Kit, cylinder: te.Cylinder = BARREL) -> dict[str, list[te.KitCheck]]:
    found: dict[str, list[Any]] = {}
    for step in te.kit_check(kit, cylinder).steps:
        found.setdefault(step.what.split()[0], []).append(step)
    return found


@pytest.mark.parametrize(
    ("edges", "told", "known"),
    [
        ("as machined", "are as machined: break them", True),
        ("broken", "are broken already: leave them", True),
        (None, "look at the edges", False),
    ],
)
def test_edges(edges: str | None, told: str, known: bool) -> None:
    first = steps(WHOLE, BARREL.replace(edges=edges))["cylinder"][0]
    assert told in first.do
    assert first.known is known
    assert first.standing == "common practice"


@pytest.mark.parametrize(("ends", "told"), [("as cut", "take the edges"), ("chamfered", "leave them"), (None, "look at its ends")])
def test_ends_of_rings(ends: str | None, told: str) -> None:
    kit = WHOLE.replace(items=[te.KitItem(ring=part("ring").replace(ends=ends))])
    end, gap = steps(kit)["ring"]
    assert told in end.do
    assert end.known is (ends is not None)
    # 0.002 to 0.004 of 43.00 mm
    assert "0.09 to 0.17 mm" in gap.do


@pytest.mark.parametrize(("surface", "told"), [("coated", "fit it dry as it is"), ("bare", "clean both sides"), (None, "find out whether")])
def test_faces_of_gaskets(surface: str | None, told: str) -> None:
    kit = te.Kit(items=[te.KitItem(gasket=part("head-030").replace(surface=surface))])
    faces, soft = steps(kit)["head"]
    assert told in faces.do
    assert "annealed" in soft.do


def test_soft_gaskets_and_studs() -> None:
    made = [step.do for step in te.kit_check(WHOLE, BARREL).steps]
    assert any("draw the nuts up once more after the first heat" in step for step in made)
    assert any("oil the threads and the seats of the nuts" in step and "11 N·m ± 1 N·m" in step for step in made)
    hard = te.kit_check(te.Kit(items=[te.KitItem(gasket=part("head-030"))]), BARREL)
    assert not any("once more" in step.do for step in hard.steps)
    # a base that is not opened is not cleaned
    assert not any("base face" in step.do for step in hard.steps)
    assert te.kit_check(WHOLE, BARREL).steps[-1].do.startswith("turn it over by hand")


def test_every_part_of_the_box_has_a_step() -> None:
    told = " ".join(step.what for step in te.kit_check(WHOLE, BARREL).steps)
    for item in WHOLE.items:
        assert item.part.name in told


# --- the part, files, the command ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("item", "told"),
    [
        ({"count": 2}, "got none"),
        ({"pin": {"diameter": "12 mm"}, "clip": {"pin_diameter": "12 mm"}}, "got pin and clip"),
        ({"clip": {"pin_diameter": "12 mm"}, "count": 0}, "must be at least 1"),
        ({"bolt": {}}, "is not a field of KitItem"),
    ],
)
def test_items_that_are_none(item: dict[str, Any], told: str) -> None:
    with pytest.raises(te.PartError, match=told):
        te.Kit(items=[item])


def test_a_kit_goes_to_json_and_back() -> None:
    assert te.Kit.model_validate_json(WHOLE.model_dump_json()) == WHOLE


def test_arguments_of_another_kind() -> None:
    with pytest.raises(te.ArgumentError, match="kit_check"):
        te.kit_check(BARREL, WHOLE)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ('clip = "none"', "items.0.clip is 'none', which no clip of this pack is called"),
        ('clip = "p"', "items.0.clip is 'p', which is a pin; here goes a clip"),
        ('clip = "other/c"', "items.0.clip is 'other/c'; a kit names parts of its own pack, club, only"),
    ],
)
def test_parts_that_a_kit_names_in_vain(written: str, told: str, tmp_path: Path) -> None:
    folder = tmp_path / "club"
    folder.mkdir()
    (folder / "pack.toml").write_text('id = "club"\nversion = "1.0.0"\nformat = 1\ntitle = "Club (invented)"\nlicence = "MIT"\n')
    (folder / "parts.toml").write_text(f'[pin.p]\ndiameter = "12 mm"\n[kit.k]\nitems = [{{ {written} }}]\n')
    (problem,) = te.Catalogue.load(folder).problems
    assert told in str(problem)


def test_the_command(typed: Callable[[str, Path], str]) -> None:
    line = "topend packs kit ashgill/beck60-packed-in-a-hurry ashgill/beck60-barrel --packs datapacks/ashgill"
    text = typed(line, ROOT)
    assert text.startswith("KIT: ashgill/beck60-packed-in-a-hurry")
    assert "MISSING" in text
    assert "clip: 1 in the box, 2 needed" in text
    assert max(map(len, text.splitlines())) <= 80
    told = json.loads(typed(f"{line} --json", ROOT))
    assert told["complete"] is False
    assert [one["what"] for one in told["missing"]] == ["ring", "clip"]
    assert told["steps"][0]["standing"] == "common practice"
