"""Columns in, columns out: a row of a batch is the single evaluation to the bit; section 7 as printed; the design's integrals."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

import topend as te
from topend.evaluation import evaluate_columns
from topend.physics import wiring
from topend.quantities import OUTPUTS, STATUS
from topend.units import from_si

# --- section 7 of the design page, as printed -----------------------------------------------------------------------------------


def test_section_7_as_printed(sample: Any) -> None:
    result = te.evaluate(sample())
    assert round(result.shown("squish_min"), 3) == 0.869
    assert round(result.shown("squish_edge"), 3) == 0.95
    assert round(result.shown("exhaust_duration"), 1) == 187.5
    assert round(result.shown("transfer_duration"), 1) == 129.9
    assert round(result["compression_ratio"], 2) == 12.32
    assert round(result["trapped_compression_ratio"], 2) == 6.95
    assert result.squish_direction == "inward"
    assert not result.missing.keys() - {"crevice_volume"}


def test_section_7_with_a_band_of_4_degrees(sample: Any) -> None:
    flat = te.evaluate(sample().replace({"head.band.angle": "4 deg"}))
    assert round(flat.shown("squish_min"), 3) == 0.299
    assert flat.shown("squish_min") == flat.shown("squish_inner")
    assert round(flat.shown("squish_edge"), 2) == 0.95


def test_section_7_by_hand(sample: Any) -> None:
    """The same figures from school geometry, no code of the library between."""
    c, bore, spigot, opening = 1.65, 47.6, 47.2, 48.5
    area = math.pi / 4
    dome = math.pi * 2.2 * (3 * 23.8**2 + 2.2**2) / 6
    clearance = 6400 + area * (bore**2 * c + opening**2 * 0.30 - spigot**2 * 1.0) - dome
    result = te.evaluate(sample())
    assert result.shown("clearance_volume") * 1e3 == pytest.approx(clearance, rel=1e-12)
    assert result["compression_ratio"] == pytest.approx(1 + area * bore**2 * 39.3 / clearance, rel=1e-12)
    assert result["trapped_compression_ratio"] == pytest.approx(1 + area * bore**2 * (22.3 - c) / clearance, rel=1e-12)
    # law of cosines: crank, rod, and pin x below its height at TDC
    for name, top in (("exhaust", 22.3), ("transfer", 31.5)):
        d = 85 + 19.65 - (top - c)
        opens = math.degrees(math.acos((19.65**2 + d**2 - 85**2) / (2 * 19.65 * d)))
        assert result.shown(f"{name}_opens") == pytest.approx(opens, rel=1e-12)
        assert result.shown(f"{name}_duration") == pytest.approx(360 - 2 * opens, rel=1e-12)
    assert result.shown("mean_piston_speed") == pytest.approx(2 * 0.0393 * 11500 / 60, rel=1e-12)
    assert result.shown("squish_area_ratio") == pytest.approx((47.2**2 - 33**2) / 47.6**2, rel=1e-12)


# --- gap_at: what a wire reads -----------------------------------------------------------------------------------------------------


def dome_rise(rho: float) -> float:
    big = (23.8**2 + 2.2**2) / 4.4
    return math.sqrt(big**2 - rho**2) - (big - 2.2)


def test_wire_readings(sample: Any) -> None:
    result = te.evaluate(sample())
    slope = math.tan(math.radians(9))
    # default: 1 mm inside the band's outer edge
    assert result.gap_at().m_as("mm") == pytest.approx(0.95 + slope - dome_rise(22.6), rel=1e-9)
    assert result.gap_at("22.6 mm") == result.gap_at()
    assert result.gap_at("16.5 mm").m_as("mm") == pytest.approx(result.shown("squish_inner"), rel=1e-12)
    assert result.gap_at("23.6 mm").m_as("mm") == pytest.approx(0.95 - dome_rise(23.6), rel=1e-9)
    # beyond the spigot the gasket face
    assert result.gap_at("23.7 mm").m_as("mm") == pytest.approx(1.95 - dome_rise(23.7), rel=1e-9)
    for radius in ("16 mm", "23.9 mm"):
        with pytest.raises(te.PartError) as caught:
            result.gap_at(radius)
        assert str(caught.value) == (
            "gap_at: radius must be from 16.500 mm (the band's inner edge) to 23.800 mm (the crown's edge); "
            f"got {float(radius[:-3]):.3f} mm"
        )
    with pytest.raises(te.PartError, match="gap_at: radius needs a length"):
        result.gap_at(22.6)
    with pytest.raises(te.MissingInputError) as missing:
        te.evaluate(te.TopEnd(deck=te.DeckReading(clearance="1 mm"))).gap_at()
    assert "head.band.angle" in missing.value.needs


def test_between_band_and_wall_stands_the_band_edge_plane(sample: Any) -> None:
    band = te.SquishBand(outer_diameter="45 mm", inner_diameter="33 mm", angle="9 deg")
    result = te.evaluate(sample().replace({"head.band": band}))
    assert result.gap_at("23 mm").m_as("mm") == pytest.approx(0.95 - dome_rise(23.0), rel=1e-9)
    assert result.shown("contact_min") <= result.gap_at("22.5 mm").m_as("mm") + 1e-12


# --- the result ------------------------------------------------------------------------------------------------------------------


def test_result_as_mapping(sample: Any) -> None:
    result = te.evaluate(sample(), ["squish_edge", "compression_ratio"])
    assert list(result) == result.keys() == ["squish_edge", "compression_ratio"]
    assert len(result) == 2
    assert "squish_edge" in result
    assert "squish_min" not in result
    assert result.squish_edge == result["squish_edge"]
    assert isinstance(result["compression_ratio"], float)
    assert str(result.squish_edge.units) == "mm"
    assert result.to_dict()["squish_edge"] == {"value": result.shown("squish_edge"), "unit": "mm"}
    assert str(result) == "squish_edge        0.950 mm\ncompression_ratio  12.32"
    with pytest.raises(te.MissingInputError) as caught:
        result.squish_min  # noqa: B018
    assert str(caught.value) == "squish_min was not asked for; evaluate it with outputs=None or name it"
    assert not hasattr(result, "__wrapped__")
    assert set(result.keys()) <= set(dir(result))


def test_an_output_that_cannot_be_had(sample: Any) -> None:
    with pytest.raises(te.MissingInputError) as caught:
        te.evaluate(sample(running=None), ["squish_edge", "squish_velocity_peak"])
    assert str(caught.value) == "squish_velocity_peak cannot be had: it needs running.crank_speed"
    assert caught.value.needs == ("running.crank_speed",)
    assert isinstance(caught.value, LookupError)


def test_of_several_ports_of_a_kind_the_highest_counts(sample: Any) -> None:
    two = sample(
        cylinder=te.Cylinder(
            bore="47.6 mm",
            ports=[te.Port(kind="exhaust", top="23 mm"), te.Port(kind="transfer", top="31.5 mm"), te.Port(kind="exhaust", top="22.3 mm")],
        )
    )
    assert te.evaluate(two).exhaust_duration == te.evaluate(sample()).exhaust_duration


# --- any top end ---------------------------------------------------------------------------------------------------------------------


def mm(value: float) -> str:
    return f"{value!r} mm"


@st.composite
def top_ends(draw: st.DrawFn) -> te.TopEnd:
    """Top ends of every crown, head and stack, some of them refused: those are left out."""
    bore = draw(st.floats(38.0, 56.0))
    piston = bore * draw(st.sampled_from([1.0, 0.999, 0.98]))
    stroke = bore * draw(st.floats(0.8, 1.1))
    shape = draw(st.sampled_from(["flat", "cone", "sphere", "dish", "measured"]))
    rise = draw(st.floats(-2.0, 3.0))
    crown: Any = {
        "flat": te.FlatCrown(),
        "cone": te.ConeCrown(rise=mm(rise)),
        "sphere": te.SphereCrown(rise=mm(rise)),
        "dish": te.DishCrown(depth=mm(abs(rise) + 0.1), diameter=mm(piston * draw(st.floats(0.4, 1.0)))),
        "measured": te.MeasuredCrown(volume=f"{rise / 2!r} cc", edge_slope=f"{rise * 2!r} deg"),
    }[shape]
    kind = draw(st.sampled_from(["spigot", "flush", "flush-recess", "face"]))
    angle = f"{draw(st.floats(-5, 15))!r} deg"
    chamber = f"{draw(st.floats(5.0, 12.0))!r} cc"
    if kind == "spigot":
        spigot = bore * draw(st.sampled_from([0.995, 0.97, 1.0]))
        outer = spigot * draw(st.sampled_from([1.0, 0.97]))
        head: Any = te.SpigotHead(
            recess_offset=mm(-draw(st.floats(0.0, 1.5))), spigot_diameter=mm(spigot), chamber_volume=chamber,
            band=te.SquishBand(outer_diameter=mm(outer), inner_diameter=mm(outer * draw(st.floats(0.6, 0.9))), angle=angle),
        )  # fmt: skip
    else:
        recess = bore * (draw(st.sampled_from([0.98, 1.0, 1.02])) if kind != "flush" else 1.0)
        outer = recess * draw(st.sampled_from([1.0, 0.97]))
        head = te.FlushHead(
            recess_offset=mm(draw(st.floats(0.0, 1.0))), chamber_volume=chamber,
            volume_datum="face" if kind == "face" else "band",
            band=te.SquishBand(outer_diameter=mm(outer), inner_diameter=mm(outer * draw(st.floats(0.6, 0.9))), angle=angle),
            **({} if kind == "flush" else {"recess_diameter": mm(recess)}),
        )  # fmt: skip
    opening = {"opening": mm(bore * draw(st.sampled_from([1.0, 1.02])))} if draw(st.booleans()) else {}
    heads = [te.Gasket(role="head", thickness=mm(draw(st.floats(0.2, 1.0))), **opening) for _ in range(draw(st.integers(0, 2)))]
    bases = [te.Gasket(role="base", thickness=mm(draw(st.floats(0.2, 1.0)))) for _ in range(draw(st.integers(0, 2)))]
    crank: dict[str, Any] = {"stroke": mm(stroke), "offset": mm(draw(st.sampled_from([0.0, -0.8, 1.2])))}
    if draw(st.booleans()):
        crank["rod_length"] = mm(stroke * draw(st.floats(1.7, 2.4)))
    parts: dict[str, Any] = {
        "crank": te.Crank(**crank),
        "cylinder": te.Cylinder(
            bore=mm(bore), ports=[te.Port(kind="exhaust", top=mm(stroke * 0.55)), te.Port(kind="transfer", top=mm(stroke * 0.8))]
        ),
        "piston": te.Piston(
            crown=crown, compression_height="25 mm", top_land="3 mm", **({} if piston == bore else {"diameter": mm(piston)})
        ),
        "head": head,
        "base_gaskets": bases,
        "head_gaskets": heads,
        "deck": te.DeckReading(clearance=mm(draw(st.floats(-0.8, 3.0))), **({"base_thickness": "0.5 mm"} if draw(st.booleans()) else {})),
        "running": te.Running(crank_speed=f"{draw(st.floats(3000, 15000))!r} rpm"),
        "crevice": draw(st.sampled_from(["reported", "included"])),
    }
    if draw(st.integers(0, 4)) == 0:
        parts["assembled"] = te.AssembledVolume(volume=chamber, base_thickness="0.5 mm", head_thickness="0.5 mm")
    try:
        return te.TopEnd(**parts)
    except te.AssemblyError:
        assume(False)
        raise


def area(diameter: float) -> float:
    return math.pi * diameter**2 / 4


def in_mm(top: te.TopEnd) -> dict[str, float]:
    result = te.evaluate(top)
    found = {path: from_si(value, "mm") for path, value in top.row.values.items()}
    found["c"] = result.shown("deck_clearance")
    return found


def crown_height(top: te.TopEnd, rho: float, radius: float) -> float:
    crown = top.piston.crown
    if rho >= radius or crown.shape == "flat":
        return 0.0
    if crown.shape == "cone":
        return crown.rise.m_as("mm") * (1 - rho / radius)
    if crown.shape == "measured":
        return math.tan(crown.edge_slope.m_as("rad")) * (radius - rho)
    a = radius if crown.shape == "sphere" else crown.diameter.m_as("mm") / 2
    h = crown.rise.m_as("mm") if crown.shape == "sphere" else -crown.depth.m_as("mm")
    if rho >= a or h == 0.0:
        return 0.0
    big = (a * a + h * h) / (2 * h)
    return h - rho * rho / (big + math.copysign(math.sqrt(max(big * big - rho * rho, 0.0)), big))


@settings(max_examples=40)
@given(top=top_ends())
def test_clearance_and_outer_volume_are_the_design_s_integrals(top: te.TopEnd) -> None:
    """Design page, section 4: free area over z between the planes, and V_s as columns over the radius beyond the band's inner edge."""
    v, c = in_mm(top), te.evaluate(top).shown("deck_clearance")
    bore = v["cylinder.bore"]
    piston = v.get("piston.diameter", bore)
    o = v["head.recess_offset"]
    head = top.head
    wall = v["head.spigot_diameter"] if head.kind == "spigot" else v.get("head.recess_diameter", bore)
    gaskets = [(g.fitted.m_as("mm"), g.opening.m_as("mm") if g.opening is not None else bore) for g in top.head_gaskets]
    face = sum(thickness for thickness, _ in gaskets)
    crown_radius = piston / 2

    def free_area(z: float) -> float:
        if z < 0:
            outside = area(bore)
        elif z < face:
            height, outside = 0.0, 0.0
            for thickness, opening in gaskets:
                height += thickness
                if z < height:
                    outside = area(opening)
                    break
        else:
            outside = area(wall if head.kind == "flush" else bore)
        solid = area(piston) if c < 0 < z < -c else 0.0
        if o < 0 and face + o < z < face:
            solid += area(wall)
        return outside - solid

    bottom, ceiling = min(-c, 0.0), max(face + o, face)
    cuts = sorted({bottom, ceiling, *[z for z in (0.0, -c, face, face + o, *np.cumsum([t for t, _ in gaskets])) if bottom <= z <= ceiling]})
    free = sum(quad(free_area, low, high, epsrel=1e-12)[0] for low, high in itertools.pairwise(cuts) if high - low > 1e-12)
    if top.piston.crown.shape == "measured":
        crown = top.piston.crown.volume.m_as("mm**3")
    else:
        knots = [crown_radius] if top.piston.crown.shape != "dish" else sorted({top.piston.crown.diameter.m_as("mm") / 2, crown_radius})
        crown = sum(
            quad(lambda rho: 2 * math.pi * rho * crown_height(top, rho, crown_radius), low, high, epsrel=1e-12, epsabs=1e-9)[0]
            for low, high in itertools.pairwise([0.0, *knots])
            if high - low > 1e-9
        )
    chamber = head.chamber_volume.m_as("mm**3")
    if head.kind == "flush" and head.volume_datum == "face":
        chamber -= area(wall) * o
    crevice = (area(bore) - area(piston)) * 3.0 if top.crevice == "included" else 0.0
    exact = chamber + free - crown
    result = te.evaluate(top)
    if top.assembled is not None:
        opened = sum(t * area(d) for t, d in gaskets) / face if face else area(bore)
        base = sum(g.fitted.m_as("mm") for g in top.base_gaskets)
        exact = top.assembled.volume.m_as("mm**3") + area(bore) * (base - 0.5) + opened * (face - 0.5)
    assert result.shown("clearance_volume") * 1e3 == pytest.approx(exact + crevice, rel=1e-9)

    # V_s, column by column beyond the band's inner edge; the band is read where the wiring reads it
    inner, band = v["head.band.inner_diameter"] / 2, v["head.band.outer_diameter"] / 2
    slope = math.tan(head.band.angle.m_as("rad"))

    def column(rho: float) -> float:
        height = max(c, 0.0) if rho <= bore / 2 else 0.0
        height += sum(t for t, d in gaskets if rho <= d / 2)
        height += o if rho <= wall / 2 else 0.0
        if rho <= crown_radius:
            height += min(c, 0.0) - crown_height(top, rho, crown_radius)
        return height + ((band - rho) * slope if rho <= band else 0.0)

    dish = [top.piston.crown.diameter.m_as("mm") / 2] if top.piston.crown.shape == "dish" else []
    steps = sorted({inner, *[x for x in (band, wall / 2, bore / 2, crown_radius, *dish, *[d / 2 for _, d in gaskets]) if x > inner]})
    outer = sum(
        quad(lambda rho: 2 * math.pi * rho * column(rho), low, high, epsrel=1e-12, epsabs=1e-9)[0]
        for low, high in itertools.pairwise(steps)
        if high - low > 1e-9
    )
    planned = wiring.plan(top.row.structure, ("outer_volume",))
    got = float(wiring.run(planned, top.values)["outer_volume"][0])
    assert got * 1e9 == pytest.approx(outer, rel=1e-9, abs=1e-6)


def singles(tops: list[te.TopEnd], names: list[str]) -> dict[str, list[float]]:
    return {name: [te.evaluate(top).si[name] for top in tops] for name in names}


def same_bits(one: Any, other: Any) -> bool:
    return np.asarray(one, dtype=np.float64).tobytes() == np.asarray(other, dtype=np.float64).tobytes()


PATHS = {
    "crank.stroke": ("mm", 0.95, 1.05),
    "cylinder.bore": ("mm", 0.97, 1.03),
    "head.band.angle": ("deg", 0.0, 2.0),
    "head.band.inner_diameter": ("mm", 0.7, 1.3),
    "head.recess_offset": ("mm", -1.0, 2.0),
    "head.chamber_volume": ("cc", 0.1, 1.5),
    "cylinder.ports.0.top": ("mm", 0.0, 2.5),
    "deck.clearance": ("mm", 0.0, 1.5),
    "running.crank_speed": ("rpm", 0.5, 1.5),
    "piston.crown.rise": ("mm", -2.0, 6.0),
    "head_gaskets.0.fitted_thickness": ("mm", 0.1, 3.0),
    "piston.diameter": ("mm", 0.98, 1.03),
    "base_gaskets.0.fitted_thickness": ("mm", 0.1, 3.0),
    "piston.compression_height": ("mm", 0.97, 1.02),
    "crank.rod_length": ("mm", 0.4, 1.1),
    "head.spigot_diameter": ("mm", 0.97, 1.02),
    "head.recess_diameter": ("mm", 0.95, 1.05),
    "head_gaskets.0.opening": ("mm", 0.99, 1.05),
    "crank.offset": ("mm", 0.5, 2.0),
    "piston.crown.depth": ("mm", 0.5, 40.0),
    "piston.crown.diameter": ("mm", 0.5, 1.5),
    "piston.crown.edge_slope": ("deg", 0.0, 3.0),
    "piston.crown.volume": ("cc", -1.0, 10.0),
    "assembled.volume": ("cc", 0.5, 1.5),
}


@settings(max_examples=120)
@given(top=top_ends(), data=st.data())
def test_a_row_of_a_batch_is_the_single_evaluation_to_the_bit(top: te.TopEnd, data: st.DataObject) -> None:
    """`evaluate_columns` against `evaluate(top.replace(...))`, refused rows too, in blocks of any size."""
    fitted = {
        f"{stack}.{index}.fitted_thickness" for stack in ("base_gaskets", "head_gaskets") for index in range(len(getattr(top, stack) or ()))
    }
    open_paths = sorted(path for path in PATHS if path in top.row.values or path in fitted)
    if top.assembled is not None:
        open_paths = [path for path in open_paths if not path.startswith(("crank", "piston", "head.")) and path != "cylinder.bore"]
    path = data.draw(st.sampled_from(open_paths), label="path")
    unit, low, high = PATHS[path]
    start = from_si(te.evaluate(top)._values[path][0] if path in fitted else top.row.values[path], unit)
    values = [start, *[start * factor for factor in data.draw(st.lists(st.floats(low, high), min_size=1, max_size=9), label="factors")]]
    # what the part's own field refuses never becomes a row
    rows, texts = [], [f"{value!r} {unit}" for value in values]
    for text in texts:
        try:
            rows.append(top.replace({path: text}))
        except te.AssemblyError as error:
            rows.append(error)
        except te.PartError:
            assume(False)
    bound = rows[0]
    assert isinstance(bound, te.TopEnd)  # the top end itself, its reading bound to what it was taken with
    columns = {name: np.array([value]) for name, value in bound.row.values.items()}
    kept = [row for row in rows if isinstance(row, te.TopEnd)]
    for row in kept:
        assert row.row.structure == bound.row.structure
        assert {name: value for name, value in row.row.values.items() if name != path} == {
            n: v for n, v in bound.row.values.items() if n != path
        }
    column = [_si_of(text) for text in texts]
    columns[path] = np.array(column)
    names = list(te.evaluate(bound).keys())
    block = data.draw(st.sampled_from([1, 3, 16384]), label="block")
    got, codes = evaluate_columns(bound.row.structure, columns, names, block=block)
    for index, row in enumerate(rows):
        if isinstance(row, te.AssemblyError):
            assert codes[index] == STATUS[row.reason].code, (row.reason, codes[index])
            assert all(np.isnan(got[name][index]) for name in names)
        else:
            assert codes[index] == 0
            single = te.evaluate(row)
            for name in names:
                assert same_bits(got[name][index], single.si[name]), (name, got[name][index], single.si[name])


def _si_of(text: str) -> float:
    from topend.units import KINDS, kind_of_unit, parse

    kind = kind_of_unit(text.rsplit(" ", 1)[1])
    assert kind is not None
    return parse(text, KINDS[kind.name]).si


REFUSED_ROWS = [
    ("crank.rod_length", "19 mm", "rod_too_short"),
    ("piston.diameter", "47.7 mm", "piston_wider_than_bore"),
    ("head.spigot_diameter", "47.65 mm", "spigot_wider_than_bore"),
    ("head.band.outer_diameter", "47.3 mm", "band_wider_than_head"),
    ("head.band.inner_diameter", "47.2 mm", "band_inside_out"),
    ("head_gaskets.0.opening", "47 mm", "opening_inside_bore"),
    ("head.recess_offset", "0.1 mm", "offset_against_kind"),
    ("piston.crown.rise", "24 mm", "crown_beyond_hemisphere"),
    ("piston.crown.rise", "-24 mm", "crown_beyond_hemisphere"),
    ("deck.clearance", "0.6 mm", "contact"),
    ("deck.clearance", "0.77 mm", "contact"),
    ("deck.clearance", "0.7 mm", "contact"),
    ("cylinder.ports.1.top", "1.6 mm", "port_above_crown"),
    ("cylinder.ports.1.top", "1.65 mm", "port_above_crown"),
    ("cylinder.ports.0.top", "41 mm", "port_never_opens"),
    ("head.chamber_volume", "0.1 cc", "no_clearance_volume"),
]


@pytest.mark.parametrize(("path", "text", "reason"), REFUSED_ROWS)
def test_a_refused_row_has_the_reason_of_the_refusal(path: str, text: str, reason: str, sample: Any, refused: Any) -> None:
    top = sample(piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm"), diameter="47.55 mm", compression_height="25 mm"))
    start = dict(top.stated())[path]
    bound = top.replace({path: start.text})
    refused(reason, lambda: top.replace({path: text}))
    columns = {**bound.row.columns(), path: np.array([start.si, _si_of(text), start.si])}
    names = te.evaluate(bound).keys()
    got, codes = evaluate_columns(bound.row.structure, columns, names)
    assert codes.tolist() == [0, STATUS[reason].code, 0]
    for name in names:
        assert np.isnan(got[name]).tolist() == [False, True, False]
        assert got[name][0] == got[name][2] == te.evaluate(bound).si[name]


@given(tops=st.lists(top_ends(), min_size=1, max_size=1), count=st.sampled_from([1, 2, 3, 5, 8, 17, 33]))
def test_a_row_does_not_depend_on_its_place(tops: list[te.TopEnd], count: int) -> None:
    """SIMD lanes and remainders must not show: the same row n times is the same n times."""
    (top,) = tops
    columns = {path: np.full(count, value) for path, value in top.row.values.items()}
    result = te.evaluate(top)
    got, codes = evaluate_columns(top.row.structure, columns, result.keys())
    assert codes.dtype == np.int8
    assert not codes.any()
    for name in result:
        assert got[name].shape == (count,)
        assert same_bits(got[name], np.full(count, result.si[name])), name


def test_nan_in_is_nan_out_in_its_own_row(sample: Any) -> None:
    top = sample()
    names = te.evaluate(top).keys()
    alone = te.evaluate(top)
    for path, value in top.row.values.items():
        columns = {name: np.array([one]) for name, one in top.row.values.items()}
        columns[path] = np.array([value, np.nan, value])
        got, codes = evaluate_columns(top.row.structure, columns, names)
        assert codes[0] == codes[2] == 0
        for name in names:
            assert got[name][0] == got[name][2] == alone.si[name]
        used = {taken for step in wiring.plan(top.row.structure, tuple(names)).steps for taken in step.takes}
        if path in used:
            assert codes[1] != 0 or any(np.isnan(got[name][1]) for name in names), path


@pytest.mark.parametrize(
    "path", ["crank.stroke", "cylinder.bore", "head.chamber_volume", "running.crank_speed", "head.band.inner_diameter"]
)
@pytest.mark.parametrize("value", [0.0, -1e-3, np.nan])
def test_sizes_that_no_part_would_take(sample: Any, path: str, value: float) -> None:
    top = sample()
    columns = {name: np.array([one]) for name, one in top.row.values.items()}
    columns[path] = np.array([columns[path][0], value])
    got, codes = evaluate_columns(top.row.structure, columns, ["squish_edge"])
    assert codes.tolist() == [0, STATUS["not_a_size"].code]
    assert np.isnan(got["squish_edge"]).tolist() == [False, True]


def test_columns_that_lack_what_an_output_needs(sample: Any) -> None:
    top = sample(running=None)
    with pytest.raises(te.MissingInputError, match=r"squish_velocity_peak cannot be had: it needs running\.crank_speed"):
        evaluate_columns(top.row.structure, top.row.columns(), ["squish_velocity_peak"])
    with pytest.raises(te.UnknownNameError, match="nearest: squish_edge"):
        evaluate_columns(top.row.structure, top.row.columns(), ["squish_egde"])


def test_judging_can_be_left_out(sample: Any) -> None:
    top = sample()
    columns = {**top.row.columns(), "deck.clearance": np.array([1.65e-3, 0.0])}
    judged, codes = evaluate_columns(top.row.structure, columns, ["squish_edge"])
    bare, none = evaluate_columns(top.row.structure, columns, ["squish_edge"], judge=False)
    assert codes.tolist() == [0, STATUS["contact"].code]
    assert none.tolist() == [0, 0]
    assert bare["squish_edge"][0] == judged["squish_edge"][0]
    assert bare["squish_edge"][1] == pytest.approx(-0.7e-3)


# --- properties end to end -------------------------------------------------------------------------------------------------------------


@settings(max_examples=40)
@given(top=top_ends(), k=st.floats(0.2, 5.0))
def test_a_top_end_scaled_by_k(top: te.TopEnd, k: float) -> None:
    """Lengths by k, volumes by k³: gaps by k, angles and ratios as they were, speeds by k at the same crank speed."""
    row = top.row
    names = te.evaluate(top).keys()
    small = te.evaluate(top)
    columns = {}
    for path, value in row.values.items():
        power = 3 if path.endswith("volume") else 0 if path.endswith(("angle", "slope", "speed")) else 1
        columns[path] = np.array([value * k**power])
    got, codes = evaluate_columns(row.structure, columns, names)
    # equal diameters may round apart
    wider = (
        "contact",
        "piston_wider_than_bore",
        "spigot_wider_than_bore",
        "band_wider_than_head",
        "opening_inside_bore",
        "crown_beyond_hemisphere",
    )
    assert codes[0] in (0, *[STATUS[reason].code for reason in wider])
    assume(codes[0] == 0)
    for name in names:
        power = {"mm": 1, "cc": 3, "m/s": 1, "m/s²": 1}.get(OUTPUTS[name].unit, 0)
        scale = abs(small.si[name]) + (top.row.values["crank.stroke"] * 1e-3 if OUTPUTS[name].unit == "mm" else 0.0)
        if name in ("squish_velocity_peak", "crown_volume", "crevice_volume"):
            continue  # small differences of great numbers
        assert got[name][0] == pytest.approx(small.si[name] * k**power, rel=1e-7, abs=1e-9 * scale * k**power), name


@settings(max_examples=40)
@given(top=top_ends(), more=st.floats(0.01, 0.5))
def test_a_thicker_base_gasket(top: te.TopEnd, more: float) -> None:
    assume(top.base_gaskets)
    thicker = top.replace({"base_gaskets.0.fitted_thickness": mm(top.base_gaskets[0].thickness.m_as("mm") + more)})
    before, after = te.evaluate(top), te.evaluate(thicker)
    assert after.shown("exhaust_duration") > before.shown("exhaust_duration")
    assert after.shown("exhaust_opens") < before.shown("exhaust_opens")
    for name in ("deck_clearance", "squish_edge", "squish_min", "contact_min"):
        assert after.shown(name) == pytest.approx(before.shown(name) + more, abs=1e-9)
    assert after["compression_ratio"] < before["compression_ratio"]
    assert after["trapped_compression_ratio"] < before["trapped_compression_ratio"]


def test_evaluate_leaves_no_warning_on_any_row(sample: Any, recwarn: pytest.WarningsRecorder) -> None:
    top = sample()
    columns = {path: np.array([value, 0.0, np.inf, -np.inf, np.nan, 1e300, -value]) for path, value in top.row.values.items()}
    got, codes = evaluate_columns(top.row.structure, columns, te.evaluate(top).keys())
    assert codes[0] == 0
    assert (codes[1:] != 0).all()
    assert all(np.isnan(column[1:]).all() for column in got.values())
    assert len(recwarn) == 0


def test_columns_of_two_lengths_are_refused(sample: Any) -> None:
    row = sample().row
    columns = {**row.columns(), "deck.clearance": np.full(3, 1.65e-3), "crank.stroke": np.full(4, 39.3e-3)}
    with pytest.raises(ValueError, match=r"^columns must have one length, or one row where nothing varies; got \[3, 4\]$"):
        evaluate_columns(row.structure, columns, ["squish_edge"])


def test_no_rows_give_no_rows(sample: Any) -> None:
    row = sample().row
    made, codes = evaluate_columns(row.structure, {**row.columns(), "deck.clearance": np.empty(0)}, ["squish_edge"])
    assert made["squish_edge"].shape == codes.shape == (0,)


def test_a_whole_head_stack_as_a_column_over_an_empty_one_equals_replace(sample: Any) -> None:
    top = sample(head_gaskets=[], deck=te.DeckReading(clearance="2.20 mm", base_thickness="0.50 mm"))
    columns = {**top.row.columns(), "head_gasket.thickness": np.array([0.3e-3])}
    structure = top.row.structure.with_given(["head_gasket.thickness"])
    made, _ = evaluate_columns(structure, columns, ["clearance_volume", "squish_min"])
    replaced = te.evaluate(top.replace({"head_gasket.thickness": "0.3 mm"}))
    assert {name: column[0] for name, column in made.items()} == {name: replaced.si[name] for name in made}
