"""`fit_gaskets` against brute force: every combination by itertools, judged by `evaluate` alone; and its error paths.

The scenario is invented; what is checked is that two independent ways to the answer agree.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

import topend as te

CRANK = te.Crank(stroke="39.3 mm", rod_length="85 mm")
CYLINDER = te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm")])


def band(angle: str, outer: str = "47.2 mm") -> te.SquishBand:
    return te.SquishBand(outer_diameter=outer, inner_diameter="33.0 mm", angle=angle)


HEADS = (
    te.SpigotHead(name="spigot", recess_offset="-1.0 mm", spigot_diameter="47.2 mm", chamber_volume="6.4 cc", band=band("9 deg")),
    te.SpigotHead(name="deep", recess_offset="-1.4 mm", spigot_diameter="47.2 mm", chamber_volume="6.1 cc", band=band("8 deg")),
    te.SpigotHead(
        name="ring", recess_offset="-0.6 mm", spigot_diameter="47.2 mm", chamber_volume="5.8 cc", band=band("9 deg"), seal="o-ring"
    ),
    te.FlushHead(name="flush", chamber_volume="5.2 cc", band=band("8.5 deg", "47.6 mm")),
    te.FlushHead(
        name="recessed",
        recess_offset="0.4 mm",
        recess_diameter="48.4 mm",
        chamber_volume="8.2 cc",
        volume_datum="face",
        band=band("9 deg", "48 mm"),
    ),
    te.FlushHead(name="both", chamber_volume="5.6 cc", band=band("9 deg", "47.6 mm"), seal="both"),
)
CROWNS = (te.SphereCrown(rise="2.2 mm"), te.ConeCrown(rise="1.8 mm"), te.FlatCrown(), te.DishCrown(depth="0.6 mm", diameter="40 mm"))
OUTPUTS = {
    "squish_min": 0.06,
    "squish_edge": 0.08,
    "contact_min": 0.08,
    "squish_mean": 0.07,
    "compression_ratio": 0.5,
    "trapped_compression_ratio": 0.25,
    "clearance_volume": 0.25,
    "exhaust_duration": 1.2,
    "exhaust_opens": 0.8,
    "blowdown": 0.2,
    "squish_velocity_peak": 2.0,
    "squish_velocity_angle": 0.8,
    "swept_volume": 1.0,
}


def text(name: str, value: float) -> Any:
    from topend.quantities import OUTPUTS as TABLE

    unit = TABLE[name].unit
    return value if unit == "–" else f"{value:.9f} {unit}"


@dataclass(frozen=True)
class Drawer:
    top: te.TopEnd
    heads: list[Any] | None
    stock: te.GasketSet
    base_count: tuple[int, int]
    head_count: tuple[int, int] | None
    wanted: tuple[tuple[str, float], ...]
    limited: tuple[tuple[str, str, float], ...]
    pick: float
    least_gap: str | None


sizes = st.sampled_from(["0.1", "0.2", "0.3", "0.4", "0.5", "0.8", "1.0", "0.15", "0.35"])


@st.composite
def drawers(draw: Any) -> Drawer:
    crown = draw(st.sampled_from(CROWNS))
    deck = draw(st.sampled_from(["1.65 mm", "1.2 mm", "0.9 mm", "0.2 mm", "-0.1 mm"]))
    piston = te.Piston(crown=crown, diameter=draw(st.sampled_from([None, "47.55 mm"])))
    items = []
    for role, most in (("base", 4), ("head", 3)):
        for _ in range(draw(st.integers(1, most))):
            opening = draw(st.sampled_from([None, None, "48.5 mm", "48.0 mm", "47.0 mm"])) if role == "head" else None
            measured = draw(st.sampled_from([None, None, None, "0.27 mm"]))
            gasket = te.Gasket(role=role, thickness=f"{draw(sizes)} mm", fitted_thickness=measured, opening=opening)
            items.append({"gasket": gasket, "count": draw(st.integers(0, 2))})
    if not any(item["count"] and item["gasket"].role == "base" for item in items):
        items.append({"gasket": te.Gasket(role="base", thickness="0.5 mm"), "count": 1})
    if not any(item["count"] and item["gasket"].role == "head" for item in items):
        items.append({"gasket": te.Gasket(role="head", thickness="0.3 mm"), "count": 1})
    low = draw(st.integers(0, 1))
    heads = draw(st.none() | st.lists(st.sampled_from(HEADS), min_size=1, max_size=3))
    top = te.TopEnd(
        crank=CRANK,
        cylinder=CYLINDER,
        piston=piston,
        head=draw(st.sampled_from(HEADS[:1] if heads is None else HEADS)) if heads is None else None,
        base_gaskets=None if heads is not None else [],
        head_gaskets=[te.Gasket(role="head", thickness="3.5 mm")] if heads is None else None,
        deck=te.DeckReading(clearance=deck, base_thickness="0.30 mm"),
        running=te.Running(crank_speed="11500 rpm"),
    )
    names = draw(st.lists(st.sampled_from(sorted(OUTPUTS)), min_size=1, max_size=2, unique=True))
    limits = draw(st.lists(st.sampled_from(sorted(OUTPUTS)), max_size=1))
    return Drawer(
        top=top,
        heads=heads,
        stock=te.GasketSet(items=items),
        base_count=(low, draw(st.integers(max(1, low), 2))),
        head_count=draw(st.sampled_from([None, None, (0, 1), (1, 2)])),
        wanted=tuple((name, draw(st.sampled_from([0.3, 1.0, 2.0]))) for name in names),
        limited=tuple((draw(st.sampled_from(["least", "most"])), name, draw(st.sampled_from([-1.0, 0.0, 1.0]))) for name in limits),
        pick=draw(st.floats(0, 0.999)),
        least_gap=draw(st.sampled_from(["0.6 mm", "0.6 mm", "0.3 mm", None])),
    )


def stacks(kinds: list[te.Gasket], most: list[int], count: tuple[int, int]) -> list[tuple[int, ...]]:
    found = []
    for number in range(count[0], count[1] + 1):
        for combination in itertools.combinations_with_replacement(range(len(kinds)), number):
            if all(combination.count(at) <= most[at] for at in set(combination)):
                found.append(combination)
    return found


def merged(stock: te.GasketSet, role: str) -> tuple[list[te.Gasket], list[int]]:
    kinds: list[te.Gasket] = []
    most: list[int] = []
    for item in stock.items:
        if item.gasket.role != role or not item.count:
            continue
        if item.gasket in kinds:
            most[kinds.index(item.gasket)] += item.count
        else:
            kinds.append(item.gasket)
            most.append(item.count)
    return kinds, most


def every(drawer: Drawer) -> list[tuple[int, tuple[int, ...], tuple[int, ...], Any]]:
    """Every combination: head position, base and head gaskets by drawer position, its result or None where it is refused."""
    bases, base_most = merged(drawer.stock, "base")
    gaskets, head_most = merged(drawer.stock, "head")
    found = []
    for index, head in enumerate([drawer.top.head] if drawer.heads is None else drawer.heads):
        count = drawer.head_count or ((0, 0) if head.seal == "o-ring" else (1, 3))
        for base in stacks(bases, base_most, drawer.base_count):
            for over in stacks(gaskets, head_most, count):
                changes = {"head": head, "base_gaskets": [bases[at] for at in base], "head_gaskets": [gaskets[at] for at in over]}
                try:
                    result = te.evaluate(drawer.top.replace(changes))
                except te.AssemblyError:
                    result = None
                found.append((index, base, over, result))
    return found


def key(drawer: Drawer, one: tuple[int, tuple[int, ...], tuple[int, ...], Any], score: float) -> tuple[Any, ...]:
    index, base, over, _ = one
    bases, gaskets = merged(drawer.stock, "base")[0], merged(drawer.stock, "head")[0]
    thick = sum(round(bases[at].fitted.m_as("mm") * 1e9) for at in base) + sum(round(gaskets[at].fitted.m_as("mm") * 1e9) for at in over)
    return round(score, 9), len(base) + len(over), thick, index, base, over


SEEN = {"drawers": 0, "answered": 0, "refused": 0, "tied": 0, "none": 0}


@seed(20260712)
@settings(max_examples=1000, deadline=None, suppress_health_check=list(HealthCheck), derandomize=False, database=None)
@given(drawers())
def check_against_brute_force(drawer: Drawer) -> None:
    combinations = every(drawer)
    standing = [one for one in combinations if one[3] is not None]
    if not combinations:
        return
    if standing:
        centre = standing[int(drawer.pick * len(standing))][3]
    else:
        centre = te.evaluate(
            drawer.top.replace({"head": HEADS[0], "head_gaskets": [te.Gasket(role="head", thickness="3.5 mm")], "base_gaskets": []})
        )
    targets = {name: (centre.shown(name) + 0.2 * OUTPUTS[name], OUTPUTS[name] * wide) for name, wide in drawer.wanted}
    limits = {(side, name): centre.shown(name) + shift * OUTPUTS[name] for side, name, shift in drawer.limited}

    def meets(result: Any) -> bool:
        if result is None:
            return False
        good = all(abs(result.shown(name) - value) <= tolerance * (1 + 1e-9) for name, (value, tolerance) in targets.items())
        for (side, name), value in limits.items():
            slack = 1e-9 * abs(value)
            good &= result.shown(name) >= value - slack if side == "least" else result.shown(name) <= value + slack
        if drawer.least_gap is not None:
            good &= result.shown("squish_min") >= float(drawer.least_gap.split()[0]) * (1 - 1e-9)
        return good

    def score(result: Any) -> float:
        return sum(((result.shown(name) - value) / tolerance) ** 2 for name, (value, tolerance) in targets.items())

    good = sorted((one for one in combinations if meets(one[3])), key=lambda one: key(drawer, one, score(one[3])))
    asked = {name: (text(name, value), text(name, tolerance)) for name, (value, tolerance) in targets.items()}
    # the texts that are asked are what counts
    targets = {name: tuple(float(str(part).split()[0]) for part in pair) for name, pair in asked.items()}
    limits = {side: float(str(text(side[1], value)).split()[0]) for side, value in limits.items()}
    good = sorted((one for one in combinations if meets(one[3])), key=lambda one: key(drawer, one, score(one[3])))
    try:
        fit = te.fit_gaskets(
            drawer.top,
            stock=drawer.stock,
            heads=drawer.heads,
            base_count=drawer.base_count,
            head_count=drawer.head_count,
            least_gap=drawer.least_gap,
            at_least={name: text(name, value) for (side, name), value in limits.items() if side == "least"},
            at_most={name: text(name, value) for (side, name), value in limits.items() if side == "most"},
            **asked,
        )
    except te.FitError as error:
        # only a contradiction may be refused here, and then nothing meets it
        assert "no value of" in str(error) or "exclude each other" in str(error), error
        assert not good
        return
    SEEN["drawers"] += 1
    SEEN["answered"] += bool(good)
    SEEN["refused"] += len(standing) < len(combinations)
    scores = [round(score(one[3]), 9) for one in good]
    SEEN["tied"] += len(set(scores)) < len(scores)
    assert fit.complete
    assert fit.considered == len(combinations)
    assert fit.feasible == len(good)
    assert len(fit.best) == min(10, len(good))
    bases, gaskets = merged(drawer.stock, "base")[0], merged(drawer.stock, "head")[0]
    for ours, theirs in zip(fit.best, good, strict=False):
        index, base, over, result = theirs
        assert (ours.head_index, ours.base, ours.head_gaskets) == (
            index,
            tuple(bases[at] for at in base),
            tuple(gaskets[at] for at in over),
        )
        assert ours.score == pytest.approx(score(result), abs=2e-9)
        assert ours.result.si == pytest.approx(result.si, rel=1e-12)
    if good:
        assert fit.nearest is None
        return
    SEEN["none"] += 1

    def keeps_limits(result: Any) -> bool:
        kept, targets_then = dict(targets), dict(targets)
        targets.clear()
        try:
            return meets(result)
        finally:
            targets.update(targets_then or kept)

    pool = [one for one in standing if keeps_limits(one[3])] or standing
    if not pool:
        assert fit.nearest is None
        assert any("collides" in note for note in fit.notes)
        return
    nearest = min(pool, key=lambda one: key(drawer, one, score(one[3])))
    assert fit.nearest is not None
    assert (fit.nearest.head_index, fit.nearest.base, fit.nearest.head_gaskets) == (
        nearest[0],
        tuple(bases[at] for at in nearest[1]),
        tuple(gaskets[at] for at in nearest[2]),
    )
    assert fit.misses
    for role, (least, most) in fit.extra_gasket.items():
        for thickness, inside in (
            (least, True),
            (most, True),
            (least - te.Quantity(2e-5, "mm"), False),
            (most + te.Quantity(2e-5, "mm"), False),
        ):
            if not 1e-6 < thickness.m_as("mm") < 4.99:
                continue
            extra = te.Gasket(role=role, thickness=thickness)
            changes = {
                "head": fit.nearest.head,
                "base_gaskets": [*fit.nearest.base, *([extra] if role == "base" else [])],
                "head_gaskets": [*fit.nearest.head_gaskets, *([extra] if role == "head" else [])],
            }
            try:
                result = te.evaluate(drawer.top.replace(changes))
            except te.AssemblyError:
                result = None
            assert meets(result) == inside, (role, thickness)


def test_a_thousand_drawers_equal_brute_force() -> None:
    for name in SEEN:
        SEEN[name] = 0
    check_against_brute_force()
    assert SEEN["answered"] >= 0.3 * SEEN["drawers"]
    assert SEEN["drawers"] >= 800
    assert SEEN["refused"] > 50
    assert SEEN["tied"] > 50
    assert SEEN["none"] > 50
