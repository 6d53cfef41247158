"""Joints through whole top ends: limits against every corner, scatter against draws, lands against polygons, columns against rows."""

from __future__ import annotations

import itertools
from typing import Any

import numpy as np
import pytest

import topend as te
from topend.assembly import TopEnd
from topend.evaluation import BLOCK, evaluate_columns

RING = te.ORing(inner_diameter="58 mm", section="2.62 mm", material="FKM")
GROOVE = te.ORingGroove(seals="face", outer_diameter="63.40 mm ± 0.05 mm", width="3.60 mm ± 0.05 mm", depth="2.05 mm ± 0.03 mm")
STUDS = te.StudPattern(count=4, circle_diameter="74 mm ± 0.1 mm", diameter="8.5 mm ± 0.1 mm", angle="40 deg")


def sealed(**changes: Any) -> TopEnd:
    """An invented water-cooled head, sealed by an O-ring in its face."""
    head = te.FlushHead(seal="o-ring", o_ring=RING, groove=GROOVE, material="AlSi12CuNiMg", studs=STUDS, face_diameter="90 mm")
    parts: dict[str, Any] = {
        "cylinder": te.Cylinder(bore="54 mm", deck_diameter="88 mm"),
        "head": head,
        "running": te.Running(crank_speed="11000 rpm", head_rise="100 K", peak_pressure="80 bar"),
    }
    return TopEnd(**{**parts, **changes})


def clamped(**changes: Any) -> TopEnd:
    """An invented air-cooled engine with studs through cylinder and head, over a copper gasket."""
    gasket = te.Gasket(
        role="head", thickness="0.5 mm", fitted_thickness="0.50 mm", opening="55 mm", outer_diameter="64 mm", material="copper"
    )
    studs = te.StudSet(
        thread_diameter="8 mm", root="case", torque="20 N·m ± 2 N·m", property_class="8.8", lubrication="oiled", engaged_length="16 mm"
    )
    parts: dict[str, Any] = {
        "cylinder": te.Cylinder(bore="54 mm", height="90 mm", studs=te.StudPattern(count=4, circle_diameter="76 mm", diameter="8 mm")),
        "head": te.FlushHead(clamped_height="22 mm", material="AlSi12CuNiMg"),
        "head_gaskets": [gasket],
        "base_gaskets": [te.Gasket(role="base", thickness="0.5 mm", fitted_thickness="0.5 mm")],
        "studs": studs,
        "running": te.Running(crank_speed="9000 rpm", peak_pressure="60 bar", head_rise="110 K", cylinder_rise="80 K", stud_rise="60 K"),
    }
    return TopEnd(**{**parts, **changes})


O_RING = ("o_ring_squeeze", "o_ring_squeeze_hot", "o_ring_fill", "o_ring_fill_hot", "o_ring_stretch", "o_ring_play")


def test_the_o_ring_at_the_limits_of_every_size_against_every_corner() -> None:
    """All combinations of low and high of ring, groove and rubber, by plain arithmetic written anew."""
    inner = (58 - (0.009 * 58**0.95 + 0.11), 58 + (0.009 * 58**0.95 + 0.11))
    sizes = (inner, (2.53, 2.71), (63.35, 63.45), (3.55, 3.65), (2.02, 2.08), (140e-6, 200e-6), (20.5e-6, 21.5e-6))
    figures: dict[str, list[float]] = {name: [] for name in O_RING}
    for d, t, outer, width, depth, rubber, metal in itertools.product(*sizes):
        for hot in ("", "_hot"):
            grow, wide = (1 + 100 * rubber, 1 + 100 * metal) if hot else (1.0, 1.0)
            ring, thick, wall, low, high = d * grow, t * grow, outer * wide, (outer - 2 * width) * wide, depth * wide
            lies = thick * min(1.0, (ring + thick) / (low + thick)) ** 0.5
            figures[f"o_ring_squeeze{hot}"].append(100 * (lies - high) / lies)
            figures[f"o_ring_fill{hot}"].append(100 * np.pi**2 / 4 * thick**2 * (ring + thick) / (np.pi / 4 * (wall**2 - low**2) * high))
        figures["o_ring_stretch"].append(100 * ((outer - 2 * width) / d - 1))
        figures["o_ring_play"].append((outer - d - 2 * t) / 2)
    made = te.extremes(sealed(), O_RING)
    for name, values in figures.items():
        assert made[name].low == pytest.approx(min(values), rel=1e-9), name
        assert made[name].high == pytest.approx(max(values), rel=1e-9), name


def test_sizes_without_limits_are_listed_as_those_of_the_standard() -> None:
    assumed = {one.path: one for one in te.evaluate(sealed(), ["o_ring_squeeze"]).assumed}
    low, high = assumed["head.o_ring.section"].limits or (None, None)
    assert (round(low.m_as("mm"), 9), round(high.m_as("mm"), 9)) == (2.53, 2.71)
    assert "ISO 3601-1" in assumed["head.o_ring.section"].why
    stated = sealed().replace({"head.o_ring.section": "2.60 mm ± 0.02 mm"})
    assert "head.o_ring.section" not in {one.path for one in te.evaluate(stated, ["o_ring_squeeze"]).assumed}


def test_a_ring_on_a_spigot() -> None:
    groove = te.ORingGroove(seals="bore", depth="2.2 mm", width="3.4 mm")
    head = te.SpigotHead(
        spigot_diameter="53.90 mm", seal="o-ring", o_ring=te.ORing(inner_diameter="49 mm", section="2.62 mm"), groove=groove
    )
    names = ["o_ring_squeeze", "o_ring_squeeze_off_centre", "o_ring_fill", "o_ring_extrusion_gap"]
    got = te.evaluate(TopEnd(cylinder=te.Cylinder(bore="54 mm"), head=head), names)
    bottom = 53.9 - 4.4
    # stretched at one volume: t² (D + t) = 2.62² (49 + 2.62)
    lies = max(np.roots([1, bottom, 0, -(2.62**2) * 51.62]).real)
    assert got.shown("o_ring_squeeze") == pytest.approx(100 * (1 - (54 - bottom) / 2 / lies))
    # the spigot against the wall: its middle 0.05 mm off, so that the floor opposite is 27 - (bottom/2 - 0.05) from the wall
    assert got.shown("o_ring_squeeze_off_centre") == pytest.approx(100 * (1 - (27 - bottom / 2 + 0.05) / lies))
    assert got.shown("o_ring_fill") == pytest.approx(100 * np.pi * 2.62**2 * 51.62 / ((54**2 - bottom**2) * 3.4))
    assert got.shown("o_ring_extrusion_gap") == pytest.approx(0.10)


def test_a_gasket_under_the_ring_takes_its_squeeze() -> None:
    """The trap of a copied groove: where a gasket lies between the faces the floor is further away by its thickness."""
    there = sealed()
    here = sealed(
        head=te.FlushHead(seal="gasket", material="AlSi12CuNiMg", studs=STUDS),
        head_gaskets=[te.Gasket(role="head", thickness="0.5 mm", fitted_thickness="0.50 mm", opening="55 mm")],
    )
    copy = te.groove_copied(there, here)
    assert copy.top.head is not None
    assert copy.top.head.seal == "both"
    before, after = copy.changed["o_ring_squeeze"]
    assert before == pytest.approx(100 * (1 - 2.05 / 2.62))
    assert after == pytest.approx(100 * (1 - 2.55 / 2.62))
    assert {"o_ring_loose", "o_ring_extrudes"} <= {one.code for one in te.findings(te.evaluate(copy.top))}
    assert not {"o_ring_loose", "o_ring_extrudes"} & {one.code for one in te.findings(te.evaluate(there))}
    told = str(copy).splitlines()
    assert told[0].startswith("o_ring_squeeze: 17.")
    assert "o_ring_stretch" not in copy.changed


def test_a_groove_that_runs_into_another_head_s_studs() -> None:
    near = STUDS.replace(circle_diameter="72 mm", diameter="8.5 mm")
    copy = te.groove_copied(sealed(), sealed(head=te.FlushHead(seal="o-ring", studs=near)))
    before, after = copy.changed["groove_land"]
    assert before == pytest.approx((74 - 8.5 - 63.4) / 2)
    assert after == pytest.approx((72 - 8.5 - 63.4) / 2)
    assert "groove_land_narrow" in [one.code for one in te.findings(te.evaluate(copy.top))]


@pytest.mark.parametrize(
    ("there", "here", "told"),
    [
        (TopEnd(), sealed(), "needs a groove and a ring"),
        (sealed(), TopEnd(), "needs a head to cut the groove into"),
    ],
)
def test_what_cannot_be_copied(there: TopEnd, here: TopEnd, told: str) -> None:
    with pytest.raises(te.ArgumentError, match=told):
        te.groove_copied(there, here)


# --- lands -----------------------------------------------------------------------------------------------------------

CUTS = [
    te.Cutout(angle="75 deg", span="50 deg", outer_diameter="68 mm"),
    te.Cutout(angle="-70 deg", span="64 deg", outer_diameter="71 mm"),
    te.Cutout(angle="180 deg", span="30 deg", outer_diameter="66 mm"),
]


def based(**changes: Any) -> TopEnd:
    pattern = te.StudPattern(count=4, circle_diameter="80 mm", diameter="8.5 mm", angle="52 deg")
    return TopEnd(
        cylinder=te.Cylinder(
            **{"bore": "54 mm", "skirt_diameter": "58 mm", "base_diameter": "92 mm", "base_studs": pattern, "cutouts": CUTS, **changes}
        )
    )


def brute(top: TopEnd, points: int = 800) -> tuple[float, float]:
    """Least distance between anything that opens the base joint and anything that ends it, outlines as points; and where."""
    cylinder = top.cylinder
    assert cylinder is not None
    assert cylinder.base_studs is not None
    turn = np.linspace(0, 2 * np.pi, 4 * points, endpoint=False)
    inside = [29.0 * np.exp(1j * turn)]
    for cut in cylinder.cutouts:
        middle, span, radius = cut.angle.m_as("rad"), cut.span.m_as("rad"), cut.outer_diameter.m_as("mm") / 2
        inside.append(radius * np.exp(1j * (middle + span * np.linspace(-0.5, 0.5, points))))
        inside += [np.linspace(0, radius, points) * np.exp(1j * (middle + end * span)) for end in (-0.5, 0.5)]
    outside = [46.0 * np.exp(1j * turn)]
    pattern = cylinder.base_studs
    assert pattern.angle is not None
    assert pattern.diameter is not None
    first, hole = pattern.angle.m_as("rad"), pattern.diameter.m_as("mm") / 2
    for index in range(pattern.count):
        centre = pattern.circle_diameter.m_as("mm") / 2 * np.exp(1j * (first + index * 2 * np.pi / pattern.count))
        outside.append(centre + hole * np.exp(1j * turn))
    best = (np.inf, 0.0)
    for edge in outside:
        for one in inside:
            apart = np.abs(edge[::4, None] - one[None, :])
            at = np.unravel_index(int(np.argmin(apart)), apart.shape)
            best = min(best, (float(apart[at]), float(np.degrees(np.angle(one[at[1]])) % 360)))
    return best


@pytest.mark.parametrize("angle", ["52 deg", "75 deg", "20 deg", "100 deg"])
def test_the_base_land_and_where_against_polygons(angle: str) -> None:
    top = based().replace({"cylinder.base_studs.angle": angle})
    width, where = brute(top)
    got = te.evaluate(top, ["base_land", "base_land_angle"])
    assert got.shown("base_land") == pytest.approx(width, abs=0.02)
    # the land's place is that of the hole or cut-out it belongs to, the polygon's that of the nearest point
    assert abs((got.shown("base_land_angle") - where + 180) % 360 - 180) < 15.0


NOTCHES = [te.Notch(angle="5 deg", span="46 deg", inner_diameter="75 mm"), te.Notch(angle="150 deg", span="20 deg", inner_diameter="80 mm")]


def notched_brute(cylinder: te.Cylinder, points: int = 700) -> tuple[float, float]:
    """Least distance of the outlines of the notches from those of skirt and cut-outs, both as points; and where."""
    turn = np.linspace(-np.pi, np.pi, 4 * points, endpoint=False)
    inside = [29.0 * np.exp(1j * turn)]
    for cut in cylinder.cutouts:
        middle, span, radius = cut.angle.m_as("rad"), cut.span.m_as("rad"), cut.outer_diameter.m_as("mm") / 2
        inside.append(radius * np.exp(1j * (middle + span * np.linspace(-0.5, 0.5, points))))
        inside += [np.linspace(0, radius, points) * np.exp(1j * (middle + end * span)) for end in (-0.5, 0.5)]
    best = (np.inf, 0.0)
    for notch in cylinder.base_notches:
        middle, span, radius = notch.angle.m_as("rad"), notch.span.m_as("rad"), notch.inner_diameter.m_as("mm") / 2
        sides = [np.linspace(radius, 50.0, points) * np.exp(1j * (middle + end * span)) for end in (-0.5, 0.5)]
        outline = np.concatenate([radius * np.exp(1j * (middle + span * np.linspace(-0.5, 0.5, points))), *sides])
        for one in inside:
            best = min(best, (float(np.abs(outline[:, None] - one[None, :]).min()), notch.angle.m_as("deg")))
    return best


@pytest.mark.parametrize("angle", ["5 deg", "25 deg", "60 deg", "-20 deg", "120 deg"])
def test_a_duct_that_cuts_the_base_against_polygons(angle: str) -> None:
    notches = [NOTCHES[0].replace(angle=angle), NOTCHES[1]]
    top = TopEnd(cylinder=te.Cylinder(bore="54 mm", skirt_diameter="58 mm", cutouts=CUTS, base_notches=notches))
    assert top.cylinder is not None
    width, where = notched_brute(top.cylinder)
    got = te.evaluate(top, ["base_land", "base_land_angle"])
    assert got.shown("base_land") == pytest.approx(width, abs=0.01)
    assert got.shown("base_land_angle") == pytest.approx(where % 360)
    least = te.lands(top)[0]
    assert least.angle == pytest.approx(where % 360)
    assert least.between[1] == ("cylinder.base_notches.0" if where != 150.0 else "cylinder.base_notches.1")


def test_an_exhaust_window_that_cuts_the_deck() -> None:
    """Where the roof of the exhaust comes through the deck: 54.0 to 62 mm leave 4 mm there, and 15 mm elsewhere."""
    cylinder = te.Cylinder(
        bore="54 mm", deck_diameter="84 mm", deck_notches=[te.Notch(angle="350 deg", span="44 deg", inner_diameter="62 mm")]
    )
    head = te.FlushHead(seal="o-ring", groove=te.ORingGroove(seals="face", outer_diameter="61 mm", width="2.5 mm"))
    top = TopEnd(cylinder=cylinder, head=head)
    got = te.evaluate(top, ["head_land", "head_land_angle", "groove_land"])
    assert got.shown("head_land") == pytest.approx(4.0)
    assert got.shown("head_land_angle") == pytest.approx(350.0)
    assert got.shown("groove_land") == pytest.approx(0.5)
    told = [str(land) for land in te.lands(top)]
    assert "head: 4.00 mm between the chamber's opening and cylinder.deck_notches.0 at 350 deg" in told
    assert "groove: 0.50 mm between the groove and cylinder.deck_notches.0 at 350 deg" in told


def test_a_gasket_cut_wider_than_the_passages_counts_where_they_are() -> None:
    """A gasket of which only the circle of its cut-outs is stated has them where the cylinder has its passages."""
    gasket = te.Gasket(role="base", thickness="0.5 mm", window_diameter="76 mm")
    alone, wide = based(), based().replace({"base_gaskets": [gasket]})
    same = based(cutouts=[cut.replace(outer_diameter="76 mm") for cut in CUTS])
    widths = [te.evaluate(top, ["base_land"]).shown("base_land") for top in (alone, wide, same)]
    assert widths[1] == widths[2] < widths[0]


def test_a_head_off_centre_takes_it_from_the_land() -> None:
    """Brute force: two circles whose middles lie apart by the eccentricity, as points."""
    cylinder = te.Cylinder(bore="54 mm", deck_diameter="90 mm")
    location = te.SpigotLocation(head_coaxiality="0 mm")
    head = te.SpigotHead(spigot_diameter="53.6 mm", face_diameter="62 mm")
    top = TopEnd(cylinder=cylinder, head=head, location=location)
    got = te.evaluate(top, ["head_land", "head_land_off_centre", "eccentricity_worst"])
    turn = np.exp(1j * np.linspace(0, 2 * np.pi, 2000))
    apart = np.abs((0.2 + 31 * turn)[:, None] - (27 * turn)[None, :]).min()
    assert got.shown("eccentricity_worst") == pytest.approx(0.2)
    assert got.shown("head_land_off_centre") == pytest.approx(apart, abs=1e-3)
    with pytest.raises(te.MissingInputError, match="location"):
        te.evaluate(top.replace({"location": None}), ["head_land_off_centre"])


def test_every_land_is_told_least_first() -> None:
    found = te.lands(based())
    assert [land.width for land in found] == sorted(land.width for land in found)
    assert found[0].width == pytest.approx(te.evaluate(based(), ["base_land"]).shown("base_land"))
    assert str(found[0]) == f"base: {found[0].width:.2f} mm between cylinder.cutouts.1 and the base's studs (hole 3) at 322 deg"
    assert len([land for land in found if "hole" in land.between[1]]) == 12


def test_the_land_of_the_head_joint_takes_the_worst_of_every_layer() -> None:
    gasket = te.Gasket(role="head", thickness="0.5 mm", opening="56 mm", outer_diameter="66 mm", studs=STUDS)
    top = TopEnd(
        cylinder=te.Cylinder(bore="54 mm", deck_diameter="88 mm", coolant_diameter="65 mm"),
        head=te.FlushHead(recess_offset="0.4 mm", recess_diameter="55 mm", face_diameter="90 mm"),
        head_gaskets=[gasket],
    )
    found = {land.between[1]: land.width for land in te.lands(top)}
    assert found == pytest.approx(
        {
            "the coolant's openings": 4.5,
            "the outline of head_gaskets.0": 5.0,
            "stud holes of head_gaskets.0": 4.75,
            "the deck's outline": 16.0,
            "the outline of the head's face": 17.0,
        }
    )


# --- studs -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", ["together", "apart", None])
def test_preload_scatter_against_draws_of_numpy(how) -> None:
    """Torque and frictions drawn evenly between their limits, through the exact inclined plane; the library's first order beside them.

    Of one lubricant and finish one draw of friction is that of thread and nut (JCGM 100:2008, 5.2.4: a common cause is one input)."""
    random = np.random.default_rng(11)
    torque, thread, nut = (random.uniform(low, high, 400_000) for low, high in ((18, 22), (0.08, 0.16), (0.08, 0.16)))
    nut = nut if how == "apart" else thread
    bearing = random.uniform(0.94, 1.06, 400_000) * 1.35 * 8e-3
    mean = 8e-3 - 0.375 * 3**0.5 * 1.25e-3
    lead = np.arctan(1.25e-3 / (np.pi * mean))
    drawn = torque / (mean / 2 * np.tan(lead + np.arctan(thread / np.cos(np.pi / 6))) + bearing / 2 * nut) / 1e3
    top = clamped()
    assert top.studs is not None
    top = top.replace(studs=top.studs.replace(frictions=how))
    first = te.uncertainty(top, ["stud_preload"])["stud_preload"]
    # one cause bends the relation more than two do
    assert first.u == pytest.approx(drawn.std(), rel=0.08 if how == "apart" else 0.12)
    made = te.uncertainty(top, ["stud_preload"], method="monte-carlo", draws=100_000)["stud_preload"]
    assert made.u == pytest.approx(drawn.std(), rel=0.02)
    assert made.interval == pytest.approx(tuple(np.percentile(drawn, [2.5, 97.5])), rel=0.03)


def test_hot_preload_by_lengths_that_must_be_one_again() -> None:
    """Grown lengths by hand; force by bisection until stud and parts are of one length."""
    got = te.evaluate(clamped(), ["stud_preload", "stud_preload_hot"])
    parts = 22e-3 * 21.0e-6 * 110 + 90e-3 * 20.9e-6 * 80
    length = 22e-3 + 0.5e-3 + 90e-3 + 0.5e-3
    own = length * 11.75e-6 * 60
    area = np.pi / 4 * (8e-3 - 0.9382 * 1.25e-3) ** 2
    give = (length + 0.8 * 8e-3) / (205e9 * area)
    low, high = -1e6, 1e6
    for _ in range(80):
        force = (low + high) / 2
        low, high = (force, high) if own + give * force < parts - 0.2 * give * force else (low, force)
    assert (got.shown("stud_preload_hot") - got.shown("stud_preload")) * 1e3 == pytest.approx(force, rel=1e-4)


def test_a_stated_length_between_nut_and_thread_grows_as_what_it_lies_in() -> None:
    """Thread at the bottom of a counterbore in the cylinder: all of aluminium and of one heat, it is one bar of that length."""
    studs = te.StudSet(thread_diameter="8 mm", root="cylinder", torque="20 N·m", clamped_length="60 mm", expansion="12 µm/m/K")
    running = te.Running(crank_speed="9000 rpm", head_rise="100 K", cylinder_rise="100 K", stud_rise="100 K")
    top = TopEnd(
        cylinder=te.Cylinder(bore="54 mm", expansion="21 µm/m/K"),
        head=te.FlushHead(clamped_height="25 mm", expansion="21 µm/m/K"),
        head_gaskets=[te.Gasket(role="head", thickness="0.5 mm", fitted_thickness="0.5 mm")],
        studs=studs,
        running=running,
    )
    got = te.evaluate(top, ["stud_preload", "stud_preload_hot"])
    give = (60e-3 + 0.8 * 8e-3) / (205e9 * np.pi / 4 * (8e-3 - 0.9382 * 1.25e-3) ** 2)
    more = 60e-3 * (21e-6 - 12e-6) * 100 / (1.2 * give) / 1e3
    assert got.shown("stud_preload_hot") - got.shown("stud_preload") == pytest.approx(more, rel=1e-4)
    # as steel does, nothing changes
    steel = top.replace({"cylinder.expansion": "12 µm/m/K", "head.expansion": "12 µm/m/K"})
    got = te.evaluate(steel, ["stud_preload", "stud_preload_hot"])
    assert got.shown("stud_preload_hot") == pytest.approx(got.shown("stud_preload"), rel=1e-12)


def test_what_gaskets_need_is_what_their_torque_gives() -> None:
    needs = {one.material: one for one in te.gasket_needs(clamped())}
    assert [*needs] == ["paper", *[name for name in needs if name not in ("paper", "steel")], "steel"]
    for material in ("paper", "aluminium", "copper"):
        made = clamped().replace({"head_gaskets.0.material": material, "studs.torque": f"{needs[material].torque:.6f} N·m"})
        # torque to a tenth as in the top end itself: the same share of scatter
        tenth = made.replace({"studs.torque": f"{needs[material].torque:.6f} N·m ± {needs[material].torque / 10:.6f} N·m"})
        reserve = te.uncertainty(tenth, ["clamp_reserve"])["clamp_reserve"]
        assert reserve.value - 2 * reserve.u == pytest.approx(0.0, abs=1e-3)
    assert str(needs["copper"]).startswith(f"copper: {needs['copper'].sealing:.1f} kN, so ")


def test_where_nothing_is_sure_no_torque_is_told() -> None:
    """Twice the standard uncertainty of 10 ± 9.9 N·m is more than all of it."""
    for need in te.gasket_needs(clamped().replace({"studs.torque": "10 N·m ± 9.9 N·m"})):
        assert need.torque == np.inf
        assert need.yield_use is None
        assert str(need).endswith("kN, which no torque is shown to give: state torque and friction closer")


def test_gasket_needs_refuses_what_it_cannot_answer() -> None:
    with pytest.raises(te.ArgumentError, match="needs a top end with head gaskets"):
        te.gasket_needs(sealed())
    with pytest.raises(te.MissingInputError, match="it needs running"):
        te.gasket_needs(clamped(running=None))


def test_an_o_ring_asks_for_the_gas_alone() -> None:
    pattern = te.StudPattern(count=4, circle_diameter="74 mm", diameter="8 mm")
    studs = te.StudSet(thread_diameter="8 mm", root="cylinder", torque="20 N·m")
    top = sealed(cylinder=te.Cylinder(bore="54 mm", studs=pattern), studs=studs)
    got = te.evaluate(top, ["gas_force", "gasket_seating_force", "gasket_sealing_force", "clamp_force", "clamp_reserve"])
    assert got.shown("gas_force") == pytest.approx(80e5 * np.pi / 4 * 63.4e-3**2 / 1e3)
    assert got.shown("gasket_seating_force") == 0.0
    assert got.shown("gasket_sealing_force") == got.shown("gas_force")
    assert got.shown("clamp_reserve") == pytest.approx(got.shown("clamp_force") - got.shown("gas_force"))


# --- rings -----------------------------------------------------------------------------------------------------------


def test_the_worst_of_two_rings_counts() -> None:
    rings = [te.PistonRing(gap="0.18 mm", angle="150 deg"), te.PistonRing(gap="0.12 mm", angle="-100 deg")]
    ports = [
        te.Port(kind="exhaust", top="28 mm", width="38 mm", angle="0 deg"),
        te.Port(kind="transfer", top="40 mm", width="20 mm", angle="105 deg"),
        te.Port(kind="transfer", top="40 mm", width="20 mm", angle="-105 deg"),
    ]
    top = TopEnd(cylinder=te.Cylinder(bore="54 mm", ports=ports, bore_wear="0.05 mm"), piston=te.Piston(rings=rings))
    got = te.evaluate(top, ["ring_gap_ratio", "ring_gap_worn", "ring_peg_land"])
    assert got["ring_gap_ratio"] == pytest.approx(0.12 / 54)
    assert got.shown("ring_gap_worn") == pytest.approx(0.18 + np.pi * 0.05)
    # the second ring's end stands in the transfer at -105
    assert got.shown("ring_peg_land") == pytest.approx(27 * (np.radians(5) - np.arcsin(20 / 54)) - 0.06)
    assert got.shown("ring_peg_land") < 0.0


def test_of_two_windows_alike_both_count_for_the_pegs() -> None:
    """One angle for a pair: the other stands mirrored, as two ports say it; of three nobody knows where they stand."""
    pair = te.Port(kind="transfer", top="40 mm", width="20 mm", count=2, angle="95 deg")
    apart = [pair.replace(count=None), pair.replace(count=None, angle="-95 deg")]
    widths = []
    for ports in ([pair], apart):
        for peg in ("100 deg", "-140 deg"):
            piston = te.Piston(rings=[te.PistonRing(gap="0.2 mm", angle=peg)])
            got = te.evaluate(TopEnd(cylinder=te.Cylinder(bore="54 mm", ports=ports), piston=piston), ["ring_peg_land"])
            widths.append(got.shown("ring_peg_land"))
            told = [one.why for one in got.assumed if one.path == "cylinder.ports.0.mirrored"]
            assert bool(told) == (ports[0] is pair)
    assert widths[:2] == widths[2:]
    assert widths[0] < 0.0 < widths[1]
    with pytest.raises(te.PartError, match="one angle for 3 windows"):
        pair.replace(count=3)


def test_a_matched_pair_takes_the_place_of_both_sizes() -> None:
    piston = te.Piston(skirt_diameter="53.93 mm ± 0.02 mm")
    loose = TopEnd(cylinder=te.Cylinder(bore="54.00 mm ± 0.01 mm"), piston=piston)
    by_sizes = te.extremes(loose, ["skirt_clearance"])["skirt_clearance"]
    assert (by_sizes.low, by_sizes.high) == pytest.approx((0.04, 0.10))
    pair = loose.replace({"piston.clearance": "0.065 mm ± 0.003 mm"})
    matched = te.extremes(pair, ["skirt_clearance"])["skirt_clearance"]
    assert (matched.low, matched.high) == pytest.approx((0.062, 0.068))


# --- columns ---------------------------------------------------------------------------------------------------------

SEALED = (*O_RING, "groove_land", "head_land", "o_ring_extrusion_gap")
CLAMPED = (
    *("stud_preload", "stud_preload_hot", "stud_yield_use", "stud_yield_use_hot", "clamp_force", "gas_force", "clamp_reserve"),
    *("gasket_seating_force", "gasket_sealing_force", "clamp_reserve_hot", "thread_strip_force", "engagement_needed"),
)


@pytest.mark.parametrize(
    ("top", "names", "path", "ends"),
    [
        (sealed(), SEALED, "head.o_ring.section", (2.4e-3, 2.8e-3)),
        (clamped(), CLAMPED, "studs.thread_diameter", (8e-3, 8e-3)),
        (clamped(), CLAMPED, "head_gaskets.0.outer_diameter", (58e-3, 90e-3)),
        (based(), ("base_land", "base_land_angle"), "cylinder.base_studs.angle", (-3.0, 6.0)),
        (based(base_notches=NOTCHES), ("base_land", "base_land_angle"), "cylinder.base_notches.0.angle", (-3.0, 6.0)),
    ],
    ids=["o-ring", "thread", "gasket", "base", "notch"],
)
def test_a_row_of_many_is_the_row_alone(top: TopEnd, names: tuple[str, ...], path: str, ends: tuple[float, float]) -> None:
    """Over a block, so that columns are replayed from the tape."""
    column = np.linspace(*ends, BLOCK + 7)
    columns = {**top.row.columns(), path: column}
    made, code = evaluate_columns(top.row.structure, columns, names)
    assert not code.any()
    for row in (0, 5000, BLOCK + 6):
        alone, _ = evaluate_columns(top.row.structure, {**columns, path: column[row : row + 1]}, names)
        for name in names:
            assert made[name][row] == alone[name][0] or (np.isnan(made[name][row]) and np.isnan(alone[name][0])), (name, row)


def test_a_study_over_torque_and_gaskets() -> None:
    table = te.Study(clamped()).vary("studs.torque", ["15 N·m", "20 N·m", "25 N·m"]).run(["clamp_reserve", "stud_yield_use"])
    reserve = table["clamp_reserve"]
    assert len(reserve) == 3
    assert (np.diff(reserve) > 0).all()
    friction = te.Study(clamped()).vary("studs.nut_friction", ["0.08", "0.16"]).run(["clamp_force"])
    assert (np.diff(friction["clamp_force"]) < 0).all()


def test_the_card_says_which_frictions_move_together() -> None:
    from topend.report import BenchCard

    top = clamped()
    told = " ".join(BenchCard(top).text.split())
    assert "its share of the uncertainty, together with studs.thread_friction: " in told
    assert top.studs is not None
    apart = " ".join(BenchCard(top.replace(studs=top.studs.replace(frictions="apart"))).text.split())
    assert "together with studs" not in apart
