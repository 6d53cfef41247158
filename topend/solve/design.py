"""Heads designed to a target: which dimension of the half-section brings the ratio, with offset and band angle brought to the gap.

One dimension moves for the ratio, the offset for the gap at the edge (or the least gap), the band angle for the gap at the inner
edge. All that solves it is found, on the whole range that the dimension can have; what the cutter cannot do is told beside.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from topend.assembly import TopEnd
from topend.errors import DesignError, MissingInputError, must_be
from topend.evaluation import evaluate, needs_message
from topend.parts import Cutter, Profile
from topend.physics import volumes, wiring
from topend.quantities import OUTPUTS
from topend.solve.design_answers import Design, DesignedHead, Designs, RefusedHead
from topend.solve.design_request import OFFSET, VOLUMES, Asked, one_volume, path_column, positive_figure, target_column
from topend.solve.design_search import Question
from topend.units import Quantity, from_si, quantity

__all__ = ["VOLUMES", "Design", "DesignedHead", "Designs", "RefusedHead", "design_columns", "design_head", "volume_to_remove"]


def design_head(
    top: TopEnd,
    *,
    free: str | Sequence[str] | None = None,
    profile: Profile | None = None,
    limits: Mapping[str, tuple[Any, Any]] | None = None,
    cutter: Cutter | None = None,
    spread: Any = None,
    **targets: Any,
) -> Design:
    """Heads for `top` that meet `targets` exactly, to 1e-9: every solution on the whole range of each dimension in `free`.

    Parameters: `top` a top end with a head; `free` the dimension that moves for the ratio, by its path
    (``"head.profile.depth"``, ``"head.profile.band.inner_diameter"``, ``"head.recess_offset"``, ...), or several, of which each
    is tried by itself; not given: depth or radius of a bowl, the wall of a hemisphere, the depth of the others. `profile` the
    half-section to start from, where the head has none or another. `limits` {path: (least, most)} of dimensions that move.
    `cutter` a `Cutter`. `spread` that the target may have, for `cut_sheet`. `targets`: one of compression_ratio,
    trapped_compression_ratio, clearance_volume, chamber_volume; squish_edge or squish_min, for which the offset moves; squish_inner,
    for which the band angle moves.

    Raises `DesignError` for a question that cannot be asked, `MissingInputError` where an input is not known that the answer needs.
    That nothing solves it is an answer: `solutions` is empty and `reason` says why.

    >>> import topend as te
    >>> band = te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="1 deg")
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"), cylinder=te.Cylinder(bore="54 mm"),
    ...                 piston=te.Piston(crown=te.FlatCrown()),
    ...                 deck=te.DeckReading(clearance="0.7 mm"), head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")],
    ...                 head=te.FlushHead(profile=te.BowlProfile(band=band)))
    >>> found = te.design_head(top, compression_ratio=12.0, squish_edge="1.1 mm")
    >>> [(path, f"{value:.4f~P}") for path, value in found.solutions[0].dimensions.items()]
    [('head.profile.depth', '13.0854 mm'), ('head.recess_offset', '0.1000 mm')]
    >>> round(found.solutions[0].result.compression_ratio, 9)
    12.0
    """
    must_be("design_head", "top", top, TopEnd)
    asked = Asked(top, profile, targets, limits or {}, cutter)
    wanted_spread = None if spread is None else positive_figure(asked.target, spread, "the spread")
    paths = asked.free_paths(free)
    solutions: list[DesignedHead] = []
    beyond: list[DesignedHead] = []
    refused: list[RefusedHead] = []
    not_judged: dict[str, None] = {}
    for path in paths:
        one = Question(asked, path, {})
        found, reason = one.answers(wanted_spread)
        for head in found:
            (beyond if head.breaks else solutions).append(head)
        if reason is not None:
            refused.append(RefusedHead(path, reason))
        not_judged |= dict.fromkeys(one.not_judged)
    shown = {name: float(from_si(value, OUTPUTS[name].unit)) for name, value in asked.targets.items()}
    return Design(shown, tuple(solutions), tuple(beyond), tuple(refused), tuple(not_judged))


def design_columns(
    top: TopEnd,
    *,
    free: str | None = None,
    profile: Profile | None = None,
    columns: Mapping[str, Any] | None = None,
    limits: Mapping[str, tuple[Any, Any]] | None = None,
    **targets: Any,
) -> Designs:
    """The same for many rows at once: targets as arrays or lists, and inputs that differ from row to row in `columns`.

    Parameters as `design_head`; `targets` one value or one for each row (plain numbers for ratios, a list or an array quantity for all
    else); `columns` {path: values}. The cutter is not asked; judge what is found with `design_head`. Raises as `design_head`.

    >>> import topend as te
    >>> band = te.SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="1 deg")
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"), cylinder=te.Cylinder(bore="54 mm"),
    ...                 piston=te.Piston(crown=te.FlatCrown()),
    ...                 deck=te.DeckReading(clearance="0.7 mm"), head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")],
    ...                 head=te.FlushHead(profile=te.BowlProfile(band=band)))
    >>> made = te.design_columns(top, compression_ratio=[11.0, 12.0, 60.0], squish_edge="1.1 mm")
    >>> made.dimensions["head.profile.depth"].m.round(4), made.status
    (array([14.3988, 13.0854,     nan]), array([0, 0, 1], dtype=int8))
    """
    must_be("design_columns", "top", top, TopEnd)
    if free is not None:
        must_be("design_columns", "free", free, str, ": the path of one dimension")
    made = {path: path_column(path, values) for path, values in (columns or {}).items()}
    single, many = {}, {}
    for name, given in targets.items():
        if name in OUTPUTS and (isinstance(given, (list, tuple, np.ndarray)) or (isinstance(given, Quantity) and np.ndim(given.m))):  # type: ignore[misc]  # a class at run time
            many[name] = target_column(name, given)
            single[name] = (
                quantity(from_si(float(many[name][0]), OUTPUTS[name].unit), OUTPUTS[name].unit)
                if OUTPUTS[name].unit != "–"
                else float(many[name][0])
            )
        else:
            single[name] = given
    lengths = {len(column) for column in (*made.values(), *many.values())} - {1}
    if len(lengths) > 1:
        raise DesignError(f"columns and targets must be of one length; got {', '.join(str(length) for length in sorted(lengths))}")
    asked = Asked(top, profile, single, limits or {}, None, made)
    asked.targets |= many
    question = Question(asked, asked.free_paths(free)[0], made, rows=next(iter(lengths), 1))
    both = sorted(question.moved & set(made))
    if both:
        raise DesignError(f"{', '.join(both)} moves for a target, so it cannot have a column of its own; leave the column out")
    return question.columns()


def volume_to_remove(top: TopEnd, *, squish_edge: Any = None, **targets: Any) -> Quantity:
    """Metal to take from the chamber of the head that `top` has [cc], so that a ratio comes out; negative where metal is wanting.

    Parameters: `top` with a head whose chamber volume is known, by reading or half-section; `targets` one of compression_ratio,
    trapped_compression_ratio, clearance_volume; `squish_edge` the gap to which the band is faced at the same time, which moves the
    offset and so the volume under it. The chamber volume is that above the band-edge plane. Raises `DesignError`, `MissingInputError`.

    >>> import topend as te
    >>> top = te.TopEnd(crank=te.Crank(stroke="54.5 mm", rod_length="110 mm"), cylinder=te.Cylinder(bore="54 mm"),
    ...                 piston=te.Piston(crown=te.FlatCrown()),
    ...                 deck=te.DeckReading(clearance="0.7 mm"), head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")],
    ...                 head=te.FlushHead(chamber_volume="8.5 cc"))
    >>> print(f"{te.volume_to_remove(top, compression_ratio=12.0):.4f~P}")
    0.5568 cc
    """
    must_be("volume_to_remove", "top", top, TopEnd)
    name = one_volume(targets, "volume_to_remove", VOLUMES[:3])
    value = positive_figure(name, targets[name], "the target")
    here = top
    if squish_edge is not None:
        gap = positive_figure("squish_edge", squish_edge, "the target")
        now = evaluate(top, ["squish_edge"]).si["squish_edge"]
        offset = top.row.values[OFFSET] + gap - now
        here = top.replace({OFFSET: quantity(from_si(offset, "mm"), "mm")})
    needed = (
        "clearance_volume",
        "head.band_volume",
        *({"compression_ratio": ("swept_volume",), "trapped_compression_ratio": ("exhaust.drop", "cylinder.bore_area")}.get(name, ())),
    )
    planned = wiring.plan(here.row.structure, needed)
    lacking = tuple(dict.fromkeys(path for lack in planned.missing.values() for path in lack.needs))
    if lacking:
        raise MissingInputError("volume_to_remove", lacking, needs_message("volume_to_remove", lacking))
    known = {key: float(np.ravel(column)[0]) for key, column in wiring.run(planned, here.values).items() if key in needed}
    if name == "clearance_volume":
        wanted = value
    else:
        swept = known["swept_volume"] if name == "compression_ratio" else known["exhaust.drop"] * known["cylinder.bore_area"]
        wanted = float(volumes.clearance_volume_from_compression_ratio(swept_volume=swept, compression_ratio=value))
        if not 0.0 < wanted < math.inf:
            raise DesignError(f"{name} must be more than 1; got {value:g}")
    return quantity(from_si(wanted - known["clearance_volume"], "cc"), "cc")
