"""What a notebook shows of parts, results, tables and fits: well-formed tables with the figures of their text."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Callable

import pytest

import topend as te
from topend.notebook import html_table

Sample = Callable[..., te.TopEnd]


def cells(text: str) -> list[list[str]]:
    """The cells of the first table in some HTML, which must be well-formed."""
    tree = ElementTree.fromstring(f"<body>{text}</body>")
    table = tree.find("table")
    assert table is not None
    assert table.find("caption") is not None
    return [["".join(cell.itertext()) for cell in row] for row in table.iter("tr")]


def test_a_part_shows_what_was_stated_and_what_it_means() -> None:
    head = te.SpigotHead(name="drop 10", recess_offset="-1.0 mm ± 0.02 mm", band=te.SquishBand(angle="9 deg"))
    rows = {row[0]: row[1:] for row in cells(head._repr_html_())}
    assert rows["kind"][0] == "spigot"
    assert rows["recess_offset"][0] == "-1.0 mm ± 0.02 mm"
    assert rows["recess_offset"][1] == te.SpigotHead.model_fields["recess_offset"].description
    assert rows["band.angle"] == ["9 deg", te.SquishBand.model_fields["angle"].description]
    assert "SpigotHead drop 10" in head._repr_html_()


def test_a_top_end_shows_every_stated_value_of_its_parts(sample: Sample) -> None:
    top = sample()
    rows = {row[0]: row[1] for row in cells(top._repr_html_())}
    assert {path: value.text for path, value in top.stated()}.items() <= rows.items()
    assert rows["base_gaskets.0.thickness"] == "0.50 mm"


def test_a_result_shows_its_figures_and_what_they_rest_on(sample: Sample) -> None:
    result = te.evaluate(sample())
    text = result._repr_html_()
    rows = {row[0]: row[1:] for row in cells(text)}
    assert set(rows) - {"output"} == set(result)
    assert rows["squish_edge"][:2] == ["0.950", "mm"]
    assert rows["compression_ratio"][:2] == ["12.32", ""]
    assert "assumed: base_gaskets.0.fitted_thickness" in text
    assert "cannot be had yet: " in text


def test_a_table_shows_its_first_and_last_rows(sample: Sample) -> None:
    table = te.Study(sample()).vary("head.recess_offset", "-1.5:-0.5:0.05 mm").run(["squish_edge"])
    rows = cells(table._repr_html_())
    assert rows[0] == ["row", "head.recess_offset [mm]", "squish_edge [mm]"]
    assert len(rows) == 1 + 4 + 1 + 4
    assert rows[5][0] == "…"
    assert [row[0] for row in rows[1:5] + rows[6:]] == ["0", "1", "2", "3", "17", "18", "19", "20"]
    assert rows[-1][2] == f"{table['squish_edge'][-1]:.3f}"
    short = te.Study(sample()).vary("head.recess_offset", ["-1.0 mm", "-0.9 mm"]).run(["squish_edge"])
    assert len(cells(short._repr_html_())) == 3


def test_a_summary_shows_spreads_and_the_best(sample: Sample) -> None:
    summary = (
        te.Study(sample()).vary("head.recess_offset", "-1.2:-0.8:0.1 mm").summarise(["squish_edge"], best="squish_edge", n=2, smallest=True)
    )
    text = summary._repr_html_()
    assert cells(text)[1][0] == "squish_edge"
    assert text.count("<table>") == 2


def test_a_fit_shows_the_best_or_the_nearest(sample: Sample) -> None:
    stock = te.GasketSet(
        items=[
            {"gasket": te.Gasket(role="base", thickness="0.30 mm"), "count": 2},
            {"gasket": te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm"), "count": 2},
        ]
    )
    good = te.fit_gaskets(sample(), stock, squish_edge=("0.90 mm", "0.30 mm"))
    rows = cells(good._repr_html_())
    assert rows[0][:3] == ["", "stack", "score"]
    assert len(rows) == 1 + len(good.best)
    assert rows[1][3] == f"{good.best[0].result.shown('squish_edge'):.3f}"
    none = te.fit_gaskets(sample(), stock, squish_edge=("0.10 mm", "0.01 mm"), least_gap=None)
    rows = cells(none._repr_html_())
    assert rows[1][0] == "nearest"
    assert str(none.misses[0]) in none._repr_html_()


@pytest.mark.parametrize("nasty", ['<script>alert("x")</script>', "a & b <i>"])
def test_names_are_text(sample: Sample, nasty: str) -> None:
    gasket = te.Gasket(role="base", name=nasty, thickness="0.5 mm")
    assert "<script" not in gasket._repr_html_()
    assert nasty in "".join(ElementTree.fromstring(f"<b>{gasket._repr_html_()}</b>").itertext())
    assert nasty in cells(html_table(nasty, [nasty, ""], [[nasty, nasty]], [nasty]))[1]
