"""The demo pack: its families go together, and the example jobs on it have answers. Its figures prove nothing else."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest

import topend as te

ROOT = Path(__file__).parents[1]
CATALOGUE = te.Catalogue.load(ROOT / "datapacks" / "fellside")

#: family, piston, and the head, base and head gaskets that suit it
SENSIBLE = [
    ("rigg50", "domed", "drop10", "050", "030"),
    ("rigg50", "domed", "drop08", "050", "020"),
    ("rigg50", "flat", "flush", "050", None),
    ("scree70", "cone", "drop10", "050", "040"),
    ("scree70", "dished", "flush", "050", "020"),
    ("scree70", "dished", "recess03", "050", None),
    ("tarn125", "domed", "drop07", "050", "040"),
    ("tarn125", "tall", "flush", "050", "050"),
    ("tarn125", "tall", "recess05", "050", None),
]


def part(name: str) -> te.Part:
    return CATALOGUE[f"fellside/{name}"]


def build(family: str, piston: str, head: str, base: str, head_gasket: str | None) -> te.TopEnd:
    return te.TopEnd(
        crank=part(f"{family}-crank"),
        cylinder=part(f"{family}-barrel"),
        piston=part(f"{family}-piston-{piston}"),
        head=part(f"{family}-{head}"),
        base_gaskets=[part(f"{family}-base-{base}")],
        head_gaskets=[part(f"{family}-head-{head_gasket}")] if head_gasket else [],
    )


def test_it_says_that_it_is_invented_and_where_it_is_from() -> None:
    manifest = CATALOGUE.pack("fellside")
    assert CATALOGUE.findings == ()
    assert {source.kind for source in manifest.source} == {"invented"}
    assert "invented" in manifest.title
    for file in sorted((ROOT / "datapacks" / "fellside").iterdir()):
        assert "invented" in file.read_text().lower(), file.name


def test_what_it_holds() -> None:
    assert len(CATALOGUE.of("cylinder")) == len(CATALOGUE.of("crank")) == len(CATALOGUE.of("drawer")) == 3
    heads = [CATALOGUE[name] for name in CATALOGUE.of("head")]
    assert len(heads) >= 6
    assert {head.seal for head in heads if isinstance(head, te.FlushHead | te.SpigotHead)} == {"gasket", "o-ring", "both"}
    offsets = {
        head.recess_offset.m_as("mm") for head in heads if isinstance(head, te.FlushHead | te.SpigotHead) and head.recess_offset is not None
    }
    assert -1.0 in offsets
    assert 0.0 in offsets
    assert any(offset > 0.0 for offset in offsets)
    crowns = {piston.crown.shape for name in CATALOGUE.of("piston") if isinstance(piston := CATALOGUE[name], te.Piston) and piston.crown}
    assert crowns == {"flat", "cone", "sphere", "dish", "measured"}
    for name in CATALOGUE.of("drawer"):
        drawer = CATALOGUE[name]
        assert isinstance(drawer, te.GasketSet)
        series = {item.gasket.thickness.m_as("mm") for item in drawer.of_role("base")}
        assert series == {0.1, 0.2, 0.3, 0.4, 0.5, 0.8, 1.0}  # common practice
        assert {item.gasket.crush_class for item in drawer.items} == {"metal", "fibre"}
        assert any(item.gasket.fitted_thickness is not None for item in drawer.items)


@pytest.mark.parametrize("chosen", SENSIBLE, ids=lambda chosen: "-".join(filter(None, chosen)))
def test_the_parts_of_a_family_go_together(chosen: tuple[str, str, str, str, str | None]) -> None:
    result = te.evaluate(build(*chosen))
    bands = {  # what is believable of such engines: common practice
        "squish_min": (0.6, 1.2),
        "compression_ratio": (11.0, 14.0),
        "squish_area_ratio": (0.4, 0.6),
        "exhaust_duration": (165.0, 195.0),
        "transfer_duration": (115.0, 132.0),
        "blowdown": (24.0, 35.0),
    }
    shown = {name: result.shown(name) for name in bands}
    assert {name: value for name, value in shown.items() if not bands[name][0] <= value <= bands[name][1]} == {}
    family = chosen[0]
    assert result.shown("swept_volume") == pytest.approx(float(family.lstrip("abcdefghijklmnopqrstuvwxyz")), rel=0.01)


def test_every_base_gasket_of_the_drawer_goes_under_every_sensible_build() -> None:
    for family, piston, head, _, head_gasket in SENSIBLE:
        bases = [name for name in CATALOGUE.of("gasket") if name.startswith(f"fellside/{family}-base-")]
        assert len(bases) == 7
        for base in bases:
            assert te.evaluate(build(family, piston, head, base[-3:], head_gasket)).shown("contact_min") > 0.0


def test_the_fit_of_the_example_job_has_answers() -> None:
    """Plain enumeration by `evaluate` alone: one and two base gaskets, one head gasket."""
    job = te.load_job(ROOT / "docs" / "examples" / "fell50.toml")
    assert job.fit is not None
    assert job.fit.heads is not None
    bases = job.fit.stock.of_role("base")
    stacks = [[item.gasket] for item in bases]
    stacks += [[one.gasket, two.gasket] for one, two in itertools.combinations(bases, 2)]
    answers = set()
    for head, base, top in itertools.product(job.fit.heads, stacks, job.fit.stock.of_role("head")):
        try:
            result = te.evaluate(job.top.replace(head=head, base_gaskets=base, head_gaskets=[top.gasket]))
        except te.AssemblyError:
            continue
        gap, ratio, exhaust = (result.shown(name) for name in ("squish_min", "compression_ratio", "exhaust_duration"))
        if abs(gap - 0.90) <= 0.08 and abs(ratio - 12.5) <= 0.4 and exhaust <= 190.0:
            answers.add(head.name)
    assert answers == {"fellside/rigg50-drop10", "fellside/rigg50-drop08"}


def test_the_shallow_band_is_a_trap() -> None:
    """The same edge gap; under the dome the shallow band comes closer than common practice allows."""
    good, trap = (te.evaluate(build("rigg50", "domed", head, "050", "030")) for head in ("drop10", "drop10-shallow"))
    assert good.shown("squish_edge") == trap.shown("squish_edge")
    assert trap.shown("squish_min") < 0.6 < good.shown("squish_min")
