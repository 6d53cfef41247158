"""Heads and the stacks a drawer can put under them, those of one structure together."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from topend.assembly import Row, TopEnd
from topend.errors import FitError
from topend.evaluation import needs_message
from topend.parts import Gasket, GasketSet, Head
from topend.physics import volumes, wiring
from topend.physics.wiring import Structure
from topend.solve.responses import response
from topend.solve.stacks import FEMTOMETRES, Kinds, Stacks, stacks_of
from topend.solve.wishes import Wish, limit, refuse_contradictions
from topend.units import StatedQuantity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def kinds_of(stock: GasketSet, role: str, classes: bool) -> Kinds:
    merged: dict[Any, list[Any]] = {}
    for item in stock.items:
        if item.gasket.role == role and item.count > 0:
            merged.setdefault(_likeness(item.gasket), [item.gasket, 0])[1] += item.count
    gaskets = tuple(gasket for gasket, _ in merged.values())
    openings: dict[float | None, int] = {}
    for gasket in gaskets:
        openings.setdefault(_opening(gasket) if classes else None, len(openings))
    return Kinds(
        gaskets,
        tuple(round(gasket.fitted.si * FEMTOMETRES) for gasket in gaskets),
        tuple(openings[_opening(gasket) if classes else None] for gasket in gaskets),
        tuple(count for _, count in merged.values()),
    )


def _opening(gasket: Gasket) -> float | None:
    return None if gasket.opening is None else gasket.opening.si


def _likeness(gasket: Gasket) -> tuple[Any, ...]:
    """What two equal gaskets have in common, in a form that is quick to compare."""
    return tuple((value.si, value.si_limits) if isinstance(value, StatedQuantity) else value for value in gasket.__dict__.values())


def default_count(head: Head | None) -> tuple[int, int]:
    return (0, 0) if head is None or head.seal == "o-ring" else (1, 3)


def nothing_fills(role: str, count: tuple[int, int], kinds: Kinds) -> FitError:
    held = sum(kinds.most)
    return FitError(
        f"no drawer stack has {count[0]} to {count[1]} {role} gaskets: the drawer holds {held} of role {role}; "
        f"add some, or lower the least of {role}_count"
    )


@dataclass(frozen=True)
class Candidate:
    """One head with its stacks: all of them for the count, those that may be assembled for the search."""

    index: int
    head: Head | None
    row: Row
    considered: int
    stacks: Stacks


def head_name(one: Candidate) -> str:
    name = one.head.name if one.head is not None else None
    return f"head {one.index}" + (f" ({name})" if name else "")


@dataclass
class HeadStacks:
    """The head stacks of a drawer, made once for each range and bore that comes up."""

    kinds: Kinds
    asked: tuple[int, int] | None
    made: dict[Any, Stacks] = field(default_factory=dict)

    def candidate(self, index: int, head: Head | None, row: Row) -> Candidate:
        count = self.asked if self.asked is not None else default_count(head)
        bore = row.values.get("cylinder.bore")
        every = self.of(count, None)
        if head is not None and head.seal == "o-ring":  # a gasket under it cannot be assembled
            return Candidate(index, head, row, every.total, self.of((0, 0) if count[0] == 0 else (1, 0), None))
        return Candidate(index, head, row, every.total, self.of(count, bore))

    def of(self, count: tuple[int, int], bore: float | None) -> Stacks:
        """The stacks of `count` gaskets, without those whose opening lies inside `bore`."""
        good = tuple(bore is None or gasket.opening is None or not gasket.opening.si < bore for gasket in self.kinds.gaskets)
        if (count, good) not in self.made:
            self.made[count, good] = stacks_of(self.kinds if all(good) else self.kinds.only(good), count)
        return self.made[count, good]


@dataclass(frozen=True)
class Group:
    """Heads of one structure, worked on together: one row a (head, head stack) pair."""

    structure: Structure
    rows: tuple[Row, ...]
    candidates: tuple[Candidate, ...]
    wishes: tuple[Wish, ...]
    #: per pair: position of its head in `candidates`, and of its head stack there
    at_head: NDArray[np.int64]
    at_stack: NDArray[np.int64]
    #: per pair: whole thickness [m], volume in the openings [m³] or None, mean opening area [m²] or None
    thickness: Floats
    volume: Floats | None

    @functools.cached_property
    def by_head(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """The heads' rows as columns: what all have in common, and what differs from head to head."""
        first = self.rows[0].values
        if len(self.rows) == 1:
            return {path: np.array([value]) for path, value in first.items()}, {}
        every = {path: np.array([row.values[path] for row in self.rows]) for path in first}
        same = {path: column[:1] for path, column in every.items() if (column == column[0]).all()}
        return same, {path: column for path, column in every.items() if path not in same}

    def columns(self, pairs: Any, base: Floats) -> dict[str, Any]:
        """Columns of rows (pair, base sum), as `evaluate_columns` takes them."""
        same, differing = self.by_head
        made: dict[str, Any] = dict(same)
        if differing:
            heads = self.at_head[pairs]
            made.update({path: column[heads] for path, column in differing.items()})
        made["base.thickness"] = base
        made["head_gasket.thickness"] = self.thickness[pairs]
        if self.volume is not None:
            made["head_gasket.volume"] = self.volume[pairs]
            if "assembled.volume" in made:
                with np.errstate(all="ignore"):
                    area = made["head_gasket.volume"] / made["head_gasket.thickness"]
                bore_area = volumes.circle_area(diameter=made["cylinder.bore"])
                made["head_gasket.opening_area"] = np.where(made["head_gasket.thickness"] > 0.0, area, bore_area)
        return made


def ways_of_pairs(group: Group) -> NDArray[Any]:
    parts = [one.stacks.ways for one in group.candidates]
    return np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)


def grouped(top: TopEnd, candidates: list[Candidate], wishes: list[Wish], least_gap: Any, notes: list[str]) -> tuple[Group, ...]:
    by_structure: dict[tuple[Structure, tuple[str, ...]], list[Candidate]] = {}
    for one in candidates:
        given = ["base.thickness", "head_gasket.thickness"]
        structure = one.row.structure
        bore_known = "cylinder.bore" in one.row.values
        if bore_known or all(gasket.opening is not None for gasket in one.stacks.kinds.gaskets):
            given.append("head_gasket.volume")
            if "assembled.volume" in one.row.values and bore_known:
                given.append("head_gasket.opening_area")
        by_structure.setdefault((structure.with_given(given), tuple(given)), []).append(one)
    floor_on: dict[str, list[Candidate]] = {}
    made = []
    for (structure, taken), members in by_structure.items():
        _need_bound(members[0], structure, wishes)
        own = list(wishes)
        for wish in wishes:
            lack = wiring.plan(structure, (wish.name,)).missing.get(wish.name)
            if lack is not None:
                who = f" with {', '.join(head_name(one) for one in members)}" if len(candidates) > 1 else ""
                raise FitError(f"{needs_message(wish.name, lack.needs)}{who}")
        if least_gap is not None:
            name = next((name for name in ("squish_min", "squish_edge") if not wiring.plan(structure, (name,)).missing), None)
            floor_on.setdefault(name or "", []).extend(members)
            if name is not None:
                own.append(limit(name, least_gap, least=True, why=" (the floor least_gap; None lifts it on purpose)"))
        refuse_contradictions(own)
        made.append(_group(structure, taken, members, tuple(own)))
    if least_gap is None:
        notes.append("the floor on the least gap was lifted: a gap under 0.6 mm may close to nearly nothing at speed (common practice)")
    for name, members in floor_on.items():
        who = "" if len(members) == len(candidates) else f" for {', '.join(head_name(one) for one in members)}"
        if name == "squish_edge":
            needs = ", ".join(wiring.plan(_group_structure(made, members[0]), ("squish_min",)).missing["squish_min"].needs)
            notes.append(f"the least gap cannot be had{who} (it needs {needs}): the floor of {least_gap} holds for the edge gap alone")
        elif not name:
            notes.append(f"neither least gap nor edge gap can be had{who}: no floor of {least_gap} is held")
    return tuple(made)


def _group_structure(groups: list[Group], one: Candidate) -> Structure:
    return next(group.structure for group in groups if one in group.candidates)


def _need_bound(one: Candidate, structure: Structure, wishes: list[Wish]) -> None:
    """A reading whose stack nobody stated cannot be moved to another stack."""
    if "deck.clearance" in structure.given and "deck.base_thickness" not in structure.given:
        raise FitError(
            "the deck reading does not say which base stack it was taken with: give deck.base_thickness, or the base_gaskets then fitted"
        )
    if "assembled.volume" in structure.given and any(response(wish.name) in ("volume", "other") for wish in wishes):
        for path, gaskets in (("assembled.base_thickness", "base_gaskets"), ("assembled.head_thickness", "head_gaskets")):
            if path not in structure.given and not (path.endswith("head_thickness") and one.head is not None and one.head.seal == "o-ring"):
                raise FitError(f"the assembled volume does not say which stack it was read with: give {path}, or the {gaskets} then fitted")


def _group(structure: Structure, given: tuple[str, ...], members: list[Candidate], wishes: tuple[Wish, ...]) -> Group:
    at_head = np.concatenate([np.full(len(one.stacks.numbers), index) for index, one in enumerate(members)])
    at_stack = np.concatenate([np.arange(len(one.stacks.numbers)) for one in members])
    totals = {id(one.stacks): one.stacks.sums.sum(axis=1) / FEMTOMETRES for one in members}
    thickness = np.concatenate([totals[id(one.stacks)] for one in members])
    volume = None
    if "head_gasket.volume" in given:
        known: dict[Any, Floats] = {}
        for one in members:
            at = id(one.stacks), one.row.values.get("cylinder.bore")
            if at not in known:
                known[at] = one.stacks.sums @ _opening_areas(one) / FEMTOMETRES
        volume = np.concatenate([known[id(one.stacks), one.row.values.get("cylinder.bore")] for one in members])
    return Group(
        structure=structure,
        rows=tuple(one.row for one in members),
        candidates=tuple(members),
        wishes=wishes,
        at_head=at_head.astype(np.int64),
        at_stack=at_stack.astype(np.int64),
        thickness=thickness,
        volume=volume,
    )


def _opening_areas(one: Candidate) -> Floats:
    """Opening area of each class of head gasket [m²]; an opening that is not given is the bore."""
    kinds = one.stacks.kinds
    areas = np.zeros(max(kinds.classes, default=0) + 1)
    diameters = [one.row.values["cylinder.bore"] if gasket.opening is None else gasket.opening.si for gasket in kinds.gaskets]
    areas[list(kinds.classes)] = volumes.circle_area(diameter=np.array(diameters))
    return areas
