"""Coverage is real: simulated workshops write down what their instruments show, and the 95 % intervals hold the truth in 94 to 96 of 100.

Everything goes through the doors: readings as text, rounded to the instrument's step, with an instrument error that is one for all
readings of an instrument, and a spread the library is not told of. Seeds are fixed.
"""

from __future__ import annotations

import numpy as np
import pytest

import topend as te
from topend.evaluation import evaluate_columns
from topend.measure import BandOffset, Burette, Deck, GasketThickness, LengthOf, propagate_measured
from topend.units import from_si

OUTPUTS = ("squish_edge", "squish_min", "clearance_volume", "compression_ratio")

TOP = te.TopEnd(
    crank=te.Crank(stroke="39.3 mm ± 0.03 mm", rod_length="85 mm ± 0.1 mm"),
    cylinder=te.Cylinder(bore="47.6 mm"),
    piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
    head=te.SpigotHead(
        recess_offset="-1.0 mm",
        spigot_diameter="47.2 mm",
        chamber_volume="6.4 cc",
        band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33 mm", angle="9 deg ± 0.5 deg"),
    ),
    base_gaskets=[],
    head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm")],
    deck=te.DeckReading(clearance="1.65 mm"),
)


def mm(value: float) -> str:
    return f"{value:.2f} mm"


def workshop(random: np.random.Generator, count: int):
    """The truth of one build in mm, cc and deg, and what a workshop wrote down of it, each thing read `count` times."""
    between, spread = random.uniform, random.normal
    true = {
        "deck.clearance": 1.65 + spread(0, 0.05),
        "head.recess_offset": -1.0 + spread(0, 0.03),
        "head.chamber_volume": 6.4 + spread(0, 0.1),
        "cylinder.bore": 47.6 + spread(0, 0.02),
        "piston.crown.rise": 2.2 + spread(0, 0.05),
        "head_gaskets.0.fitted_thickness": 0.28 + spread(0, 0.01),
        "crank.stroke": 39.3 + between(-0.03, 0.03),
        "crank.rod_length": 85.0 + between(-0.1, 0.1),
        "head.band.angle": 9.0 + between(-0.5, 0.5),
    }

    def read(path: str, limit: float, scatter: float, sign: float = 1.0) -> list[str]:
        off = between(-limit, limit)
        return [mm(sign * true[path] + off + spread(0, scatter)) for _ in range(count)]

    scale, warm, warmer = between(-0.05, 0.05), between(15, 25), between(-2, 2)
    fillings = []
    for _ in range(count):
        start = between(0, 2)
        filled = true["head.chamber_volume"] / ((1 + 9.9e-6 * (warm - 20)) * (1 + 8.3e-4 * warmer)) - scale + spread(0, 0.03)
        fillings.append([f"{round(one / 0.025) * 0.025:.3f} ml" for one in (start, start + filled)])
    readings = [
        Deck(crown="below", readings=read("deck.clearance", 0.03, 0.02), nuts_down=True, gaskets_crushed=True),
        BandOffset(band="proud", readings=read("head.recess_offset", 0.008, 0.006, -1.0)),
        Burette(setup="plate", plug="fitted", fillings=fillings, nominal="25 ml", division="0.05 ml", permissible_error="0.05 ml"),
        LengthOf(of="cylinder.bore", readings=read("cylinder.bore", 0.01, 0.006), instrument="bore gauge"),
        LengthOf(of="piston.crown.rise", readings=read("piston.crown.rise", 0.03, 0.02), instrument="depth gauge"),
        GasketThickness(of="head_gaskets.0", after=read("head_gaskets.0.fitted_thickness", 0.004, 0.004)),
    ]
    return true, readings


def covered(count: int, builds: int, seed: int) -> dict[str, float]:
    random = np.random.default_rng(seed)
    truths: list[dict[str, float]] = []
    intervals: dict[str, list[tuple[float, float]]] = {name: [] for name in OUTPUTS}
    for _ in range(builds):
        true, readings = workshop(random, count)
        truths.append(true)
        for name, made in propagate_measured(TOP, readings, OUTPUTS).items():
            intervals[name].append(made.interval())
    scale = {"head.chamber_volume": 1e-6, "head.band.angle": np.pi / 180}
    columns = {path: np.array([one[path] for one in truths]) * scale.get(path, 1e-3) for path in truths[0]}
    row = {path: np.array([value]) for path, value in TOP.row.values.items()}
    given = TOP.row.structure.with_given(columns)
    outputs, status = evaluate_columns(given, {**row, **columns}, OUTPUTS)
    assert not status.any()
    made = {}
    for name in OUTPUTS:
        unit = "cc" if name.endswith("volume") else "–" if name.endswith("ratio") else "mm"
        value = from_si(outputs[name], unit)
        low, high = np.array(intervals[name]).T
        made[name] = float(np.mean((low <= value) & (value <= high)))
    return made


def test_intervals_cover_with_three_readings_of_each() -> None:
    """The default run's share: 2000 builds, whose own spread is 0.0049."""
    for name, share in covered(3, 2000, 1).items():
        assert 0.94 <= share <= 0.96 + 0.0049, (name, share)


@pytest.mark.long
@pytest.mark.parametrize("count", [3, 5, 10])
def test_intervals_cover_in_ten_thousand_builds(count: int) -> None:
    for name, share in covered(count, 10_000, count).items():
        assert 0.94 <= share <= 0.96, (name, share)


@pytest.mark.parametrize("ratio", [0.0, 0.5, 1.0, 2.0, 5.0])
def test_where_the_factor_is_weak(ratio: float) -> None:
    """One mean of three readings beside one instrument limit, over their ratio of u: Welch-Satterthwaite claims up to 3.5 in 100
    too much where the spread rules and the limit is about half of it (found here; told in docs/measuring.md)."""
    from topend.measure.budget import Contribution, combined, repeated

    random = np.random.default_rng(5)
    builds = 40_000
    mean = repeated("a", random.normal(0.0, np.sqrt(3.0), (builds, 3)))
    half = ratio * np.sqrt(3.0)
    error = mean.value + random.uniform(-half, half, builds)
    parts = [Contribution("a", mean.u, mean.dof, "normal"), Contribution("b", half / np.sqrt(3.0), np.inf, "rectangular")]
    made = combined(error, parts)
    low, high = made.interval()
    share = float(np.mean((low <= 0.0) & (high >= 0.0)))
    assert share == pytest.approx({0.0: 0.950, 0.5: 0.918, 1.0: 0.923, 2.0: 0.932, 5.0: 0.947}[ratio], abs=0.005)


@pytest.mark.parametrize(("scatter", "least"), [(0.01, 0.95), (0.025, 0.93), (0.04, 0.87)])
def test_four_wires_cover_where_wire_scatters_as_usual(scatter: float, least: float) -> None:
    """Four wires leave one degree of freedom, so their spread is pooled with the usual one, 0.025 mm: careful hands are promised too little
    and careless ones too much (told in docs/measuring.md)."""
    random = np.random.default_rng(4)
    builds, held = 500, 0
    at = np.arange(4) * np.pi / 2
    for _ in range(builds):
        (along, across), off, astray = random.normal(0, 0.03, 2), random.uniform(-0.03, 0.03), random.uniform(-0.3, 0.3)
        shown = 0.95 + along * np.cos(at) + across * np.sin(at) + off - astray * np.tan(np.radians(1)) + random.normal(0, scatter, 4)
        found = te.measure.gap(
            readings=[mm(one) for one in shown],
            radius="22.6 mm ± 0.3 mm",
            to_radius="22.6 mm",
            opening="1 deg ± 0.5 deg",
            wire="1.5 mm",
        )
        low, high = found.mean.interval()
        held += low <= 0.95 <= high
    assert held / builds >= least
