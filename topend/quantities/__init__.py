"""The table of every input and output: name, kind, unit, meaning, source. The glossary and the docs are made from it.

One word per quantity, everywhere: argument, attribute, column, JSON key, heading. A new input or output starts here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from topend.errors import UnknownNameError
from topend.quantities.findings import FINDINGS
from topend.quantities.inputs import INPUTS
from topend.quantities.outputs import ALWAYS, OUTPUTS
from topend.quantities.records import Basis, ExtraFinding, ExtraOutput, Finding, Input, Output, Standing, Status
from topend.quantities.refusals import CODES, STATUS

__all__ = [
    "ALWAYS",
    "CODES",
    "FINDINGS",
    "INPUTS",
    "OUTPUTS",
    "STATUS",
    "Basis",
    "ExtraFinding",
    "ExtraOutput",
    "Finding",
    "Input",
    "Output",
    "Standing",
    "Status",
    "always",
    "glossary",
    "output",
]


def output(name: str, known: Mapping[str, Output] = OUTPUTS) -> Output:
    """The entry for an output in the table, or in `known` (``top.outputs``: the table and what packs add to it).

    Raises `UnknownNameError` with the nearest names when there is none.

    >>> output("squish_edge").unit
    'mm'
    """
    try:
        return known[name]
    except KeyError:
        searched = "the outputs table" if known is OUTPUTS else "the outputs table and what packs add to it here"
        raise UnknownNameError(name, known, what="output", searched=searched) from None


def always(known: Mapping[str, Output]) -> tuple[str, ...]:
    """Names of those of `known` that are worked out where none is named.

    >>> "squish_edge" in always(OUTPUTS), "closure_total" in always(OUTPUTS)
    (True, False)
    """
    return ALWAYS if known is OUTPUTS else tuple(made.name for made in known.values() if not made.when_named)


def glossary(extra: Iterable[ExtraOutput] = ()) -> list[dict[str, str]]:
    """Every name with its unit and meaning, outputs first, as rows for a table.

    Parameters: `extra` outputs that packs add (``catalogue.extra_outputs``), which stand after the library's own, their pack named
    with their source.

    >>> import topend as te
    >>> te.glossary()[0]["name"]
    'piston_travel'
    """
    rows = [{"name": o.name, "role": "output", "unit": o.unit, "meaning": o.meaning, "source": o.source} for o in OUTPUTS.values()]
    for one in extra:
        o, pack = one.output, f"pack {one.pack}: " if one.pack else ""
        rows.append({"name": o.name, "role": "output", "unit": o.unit, "meaning": o.meaning, "source": f"{pack}{o.source}"})
    rows += [{"name": i.path, "role": "input", "unit": i.unit, "meaning": i.meaning, "source": ""} for i in INPUTS.values()]
    return rows
