"""Heads designed to a target: which dimension of the half-section brings the ratio, with offset and band angle brought to the gap.

One dimension moves for the ratio, the offset for the gap at the edge (or the least gap), the band angle for the gap at the inner
edge. All that solves it is found, on the whole range that the dimension can have; what the cutter cannot do is told beside.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd, lowered_changed
from topend.errors import (
    ArgumentError,
    AssemblyError,
    DesignError,
    MissingInputError,
    PartError,
    UnknownNameError,
    must_be,
)
from topend.evaluation import Result, evaluate, evaluate_columns, input_unit, needs_message
from topend.parts import BowlProfile, ContourProfile, Cutter, FlushHead, Head, Profile, SquishBand
from topend.parts.profile import PROFILES
from topend.physics import volumes, wiring
from topend.physics.wiring import Structure
from topend.quantities import OUTPUTS, STATUS, output
from topend.solve.cut_sheet import CutSheet, made_cut_sheet
from topend.solve.roots import roots, scan
from topend.uncertainty import sensitivities
from topend.units import Quantity, StatedValueError, figure_si, from_si, kind_of_unit, quantity, stated, stated_column, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Design", "DesignedHead", "Designs", "RefusedHead", "design_columns", "design_head", "volume_to_remove"]

OFFSET: Final = "head.recess_offset"
_BAND: Final = "head.profile.band."
ANGLE: Final = f"{_BAND}angle"
#: Targets that one dimension of the half-section is moved for.
VOLUMES: Final = ("compression_ratio", "trapped_compression_ratio", "clearance_volume", "chamber_volume")
#: Targets that the offset is moved for, each of which it moves one for one.
GAPS: Final = ("squish_edge", "squish_min")
#: A target is met within this of itself.
_MET: Final = 1e-9

#: Ranges that a dimension is looked for on, by its last name: ends in SI, or in bores where the sizes of the engine count.
_RANGES: Final[dict[str, tuple[float, float]]] = {
    "depth": (1e-6, 1.0),
    "bowl_radius": (1e-2, 1e2),
    "wall_height": (0.0, 1.0),
    "corner_radius": (0.0, 0.5),
    "roof_diameter": (1e-6, 1.0),
    "rim_radius": (1e-6, 0.25),
    "boss_height": (0.0, 1.0),
    "inner_diameter": (1e-6, 1.0),
    "outer_diameter": (1e-6, 1.0),
    "recess_offset": (-0.4, 0.4),
    "radius": (1e-6, 1.0),
    "height": (0.0, 1.0),
    "seat_height": (0.0, 2.0),
}
_GREATEST_ANGLE: Final = math.radians(60.0)
#: What moves where nothing is said.
_FREE: Final = {"hemisphere": "wall_height", "bathtub": "depth", "truncated-cone": "depth", "toroidal-rim": "depth"}
#: The cutter's limits: the quantity judged, its factor, and whether the limit is taken from the outer height.
_CUT: Final = ("head.profile.tightest_arc", "head.profile.boss_radius", "chamber_depth", "head.profile.plug.thread_length")


@dataclass(frozen=True)
class DesignedHead:
    """One head that meets the targets: the dimension that moved for the ratio, the top end with it, and its result.

    `dimensions` are all that were moved, by path. `breaks` says what of the cutter's limits it does not keep; empty for a solution.
    """

    free: str
    dimensions: Mapping[str, Quantity]
    top: TopEnd = field(repr=False)
    target: str = field(repr=False)
    value: float = field(repr=False)
    breaks: tuple[str, ...] = ()
    spread: float | None = field(default=None, repr=False)
    before: float | None = field(default=None, repr=False)

    @cached_property
    def result(self) -> Result:
        """What the top end with this head comes to."""
        return evaluate(self.top)

    @cached_property
    def chamber_volume(self) -> Quantity:
        """Chamber volume above the band-edge plane."""
        found: Quantity = evaluate(self.top, ["chamber_volume"]).chamber_volume
        return found

    @property
    def volume_to_remove(self) -> Quantity | None:
        """Metal to take from the head that the top end had, by its chamber volume, negative to add; None where it had none."""
        return None if self.before is None else quantity(self.chamber_volume.m_as("cc") - from_si(self.before, "cc"), "cc")

    @cached_property
    def sensitivities(self) -> dict[str, float]:
        """Change of the target for each input: of the target's unit per unit of the input, as `te.sensitivities`."""
        return sensitivities(self.top, [self.target])[self.target]

    def cut_sheet(self, spread: Any = None) -> CutSheet:
        """Nominal sizes and limits that keep the target within ± `spread` of its value, whatever corner of them is cut.

        `spread` as a target is written; not given: the one that `design_head` was given.
        """
        given = self.spread if spread is None else _positive_figure(self.target, spread, "the spread")
        if given is None:
            raise DesignError(f"the cut sheet needs the spread that {self.target} may have, such as {_example(self.target)}")
        return made_cut_sheet(self.top, self.target, self.value, given)


@dataclass(frozen=True)
class RefusedHead:
    """Why nothing was found for a dimension: its path, and the reason in words."""

    free: str
    reason: str


@dataclass(frozen=True)
class Design:
    """What was found: every head that meets the targets, least of each dimension first; those that the cutter cannot make; reasons.

    `solutions` keep all limits; `beyond_cutter` meet the targets and break a limit of the cutter, as their `breaks` say;
    `refused` are the dimensions that cannot bring the targets, with the reason. `not_judged` are limits of the cutter that the
    half-section's kind does not let be judged.
    """

    targets: Mapping[str, float]
    solutions: tuple[DesignedHead, ...]
    beyond_cutter: tuple[DesignedHead, ...] = ()
    refused: tuple[RefusedHead, ...] = ()
    not_judged: tuple[str, ...] = ()

    @property
    def reason(self) -> str | None:
        """Why there is no solution, in words; None where there is one."""
        if self.solutions:
            return None
        told = [*(f"{one.free}: {'; '.join(one.breaks)}" for one in self.beyond_cutter), *(one.reason for one in self.refused)]
        return "; ".join(told)


@dataclass(frozen=True)
class Designs:
    """Designs as columns: `dimensions` by path [arrays in the unit of the inputs table], NaN in rows without one.

    `status` is 0 where a row has a design, 1 where no place of the range brings the target, 2 where nothing of the range can be built.
    Of several designs the one with the least dimension is given; `count` says how many were seen.
    """

    dimensions: Mapping[str, Quantity]
    status: NDArray[np.int8]
    count: NDArray[np.intp]


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

    >>> from topend.parts import Crank, Cylinder, DeckReading, FlatCrown, Gasket, Piston
    >>> band = SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="1 deg")
    >>> top = TopEnd(crank=Crank(stroke="54.5 mm", rod_length="110 mm"), cylinder=Cylinder(bore="54 mm"), piston=Piston(crown=FlatCrown()),
    ...              deck=DeckReading(clearance="0.7 mm"), head_gaskets=[Gasket(role="head", thickness="0.3 mm")],
    ...              head=FlushHead(profile=BowlProfile(band=band)))
    >>> found = design_head(top, compression_ratio=12.0, squish_edge="1.1 mm")
    >>> [(path, f"{value:.4f~P}") for path, value in found.solutions[0].dimensions.items()]
    [('head.profile.depth', '13.0854 mm'), ('head.recess_offset', '0.1000 mm')]
    >>> round(found.solutions[0].result.compression_ratio, 9)
    12.0
    """
    must_be("design_head", "top", top, TopEnd)
    asked = _Asked(top, profile, targets, limits or {}, cutter)
    wanted_spread = None if spread is None else _positive_figure(asked.target, spread, "the spread")
    paths = asked.free_paths(free)
    solutions: list[DesignedHead] = []
    beyond: list[DesignedHead] = []
    refused: list[RefusedHead] = []
    not_judged: dict[str, None] = {}
    for path in paths:
        one = _Question(asked, path, {})
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

    >>> from topend.parts import Crank, Cylinder, DeckReading, FlatCrown, Gasket, Piston
    >>> band = SquishBand(outer_diameter="54 mm", inner_diameter="38 mm", angle="1 deg")
    >>> top = TopEnd(crank=Crank(stroke="54.5 mm", rod_length="110 mm"), cylinder=Cylinder(bore="54 mm"), piston=Piston(crown=FlatCrown()),
    ...              deck=DeckReading(clearance="0.7 mm"), head_gaskets=[Gasket(role="head", thickness="0.3 mm")],
    ...              head=FlushHead(profile=BowlProfile(band=band)))
    >>> made = design_columns(top, compression_ratio=[11.0, 12.0, 60.0], squish_edge="1.1 mm")
    >>> made.dimensions["head.profile.depth"].m.round(4), made.status
    (array([14.3988, 13.0854,     nan]), array([0, 0, 1], dtype=int8))
    """
    must_be("design_columns", "top", top, TopEnd)
    made = {path: _column(path, values) for path, values in (columns or {}).items()}
    single, many = {}, {}
    for name, given in targets.items():
        if name in OUTPUTS and (isinstance(given, (list, tuple, np.ndarray)) or (isinstance(given, Quantity) and np.ndim(given.m))):  # type: ignore[misc]  # a class at run time
            many[name] = _target_column(name, given)
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
    asked = _Asked(top, profile, single, limits or {}, None, made)
    asked.targets |= many
    paths = asked.free_paths(free)
    question = _Question(asked, paths[0], made, rows=next(iter(lengths), 1))
    return question.columns()


def volume_to_remove(top: TopEnd, *, squish_edge: Any = None, **targets: Any) -> Quantity:
    """Metal to take from the chamber of the head that `top` has [cc], so that a ratio comes out; negative where metal is wanting.

    Parameters: `top` with a head whose chamber volume is known, by reading or half-section; `targets` one of compression_ratio,
    trapped_compression_ratio, clearance_volume; `squish_edge` the gap to which the band is faced at the same time, which moves the
    offset and so the volume under it. The chamber volume is that above the band-edge plane. Raises `DesignError`, `MissingInputError`.

    >>> from topend.parts import Crank, Cylinder, DeckReading, FlatCrown, Gasket, Piston
    >>> top = TopEnd(crank=Crank(stroke="54.5 mm", rod_length="110 mm"), cylinder=Cylinder(bore="54 mm"), piston=Piston(crown=FlatCrown()),
    ...              deck=DeckReading(clearance="0.7 mm"), head_gaskets=[Gasket(role="head", thickness="0.3 mm")],
    ...              head=FlushHead(chamber_volume="8.5 cc"))
    >>> print(f"{volume_to_remove(top, compression_ratio=12.0):.4f~P}")
    0.5568 cc
    """
    must_be("volume_to_remove", "top", top, TopEnd)
    name = _one_volume(targets, "volume_to_remove", VOLUMES[:3])
    value = _positive_figure(name, targets[name], "the target")
    here = top
    if squish_edge is not None:
        gap = _positive_figure("squish_edge", squish_edge, "the target")
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


# --- what was asked ----------------------------------------------------------------------------------------------------


class _Asked:
    """The question as it was put: targets in SI, limits, the top end with the half-section alone saying what the head is."""

    def __init__(
        self,
        top: TopEnd,
        profile: Profile | None,
        targets: Mapping[str, Any],
        limits: Mapping[str, tuple[Any, Any]],
        cutter: Cutter | None,
        columns: Mapping[str, Any] | None = None,
    ) -> None:
        self.before = _chamber_now(top)
        self.top = top
        self.head = _by_profile_alone(top, profile)
        self.target = _one_volume(targets, "design_head", VOLUMES)
        self.gap = next((name for name in GAPS if name in targets), None)
        self._refuse_targets(targets)
        self.targets: dict[str, Any] = {name: _positive_figure(name, given, "the target") for name, given in targets.items()}
        self.cutter = cutter
        if cutter is not None and not isinstance(cutter, Cutter):
            raise ArgumentError(f"cutter must be a Cutter, such as Cutter(tool_radius='2 mm'); got {cutter!r}")
        self.limits = {_canonical(path): self._limit(path, ends) for path, ends in limits.items()}

    def _refuse_targets(self, targets: Mapping[str, Any]) -> None:
        known = (*VOLUMES, *GAPS, "squish_inner")
        for name in targets:
            if name not in known:
                raise DesignError(
                    f"{name} is not a target of a design; it takes one of {', '.join(VOLUMES)}, and {', '.join((*GAPS, 'squish_inner'))}"
                )
        if all(name in targets for name in GAPS):
            raise DesignError("squish_edge and squish_min both move the offset; give one of them")
        if "squish_min" in targets and "squish_inner" in targets:
            raise DesignError("squish_min and squish_inner hang on each other by the band angle; give squish_edge with squish_inner")
        if "squish_inner" in targets and isinstance(self.profile, ContourProfile):
            raise DesignError("squish_inner moves the band angle, and a contour's band is its first step; set its points, or use a family")

    @property
    def profile(self) -> Any:
        return self.head.profile

    @staticmethod
    def _limit(path: str, ends: Any) -> tuple[float, float]:
        if isinstance(ends, (str, bytes)) or not isinstance(ends, Sequence) or len(ends) != 2:
            raise DesignError(f'the limits of {path} must be its least and its most, such as ("5 mm", "14 mm"); got {ends!r}')
        low, high = (_value(path, end) for end in ends)
        if not low < high:
            raise DesignError(f"the limits of {path} must rise; got {ends[0]!r} and {ends[1]!r}")
        return low, high

    def free_paths(self, free: str | Sequence[str] | None) -> list[str]:
        """The dimensions to try, each known to be one of this head."""
        if free is None:
            shape = self.profile.shape
            if shape == "contour":
                raise DesignError('a contour has no dimension of its own that moves; say which: free="head.profile.points.2.height"')
            if shape == "bowl":
                return ["head.profile.bowl_radius" if self.profile.bowl_radius is not None else "head.profile.depth"]
            return [f"head.profile.{_FREE[shape]}"]
        given = [free] if isinstance(free, str) else list(free)
        if not given:
            raise DesignError("free is empty: name the dimension that moves")
        return [self._checked(_canonical(path)) for path in given]

    def _checked(self, path: str) -> str:
        if path == OFFSET:
            if self.gap is not None:
                raise DesignError(f"{OFFSET} moves for {self.gap} already; free another dimension, or leave {self.gap} out")
            return path
        owner: Any = self.profile
        known = sorted({*_dimensions(self.profile), OFFSET})
        if path not in known:
            raise UnknownNameError(path, known, what="dimension", searched=f"this head ({owner.shape})")
        if path == ANGLE and "squish_inner" in self.targets:
            raise DesignError(f"{ANGLE} moves for squish_inner already; free another dimension, or leave squish_inner out")
        return path


def _canonical(path: str) -> str:
    """The path in the half-section, for one that was written as of the head."""
    return path.replace("head.band.", _BAND) if path.startswith("head.band.") else path


def _dimensions(profile: Any) -> list[str]:
    """Paths of what can move in a half-section."""
    made = []
    if isinstance(profile, ContourProfile):
        for index, point in enumerate(profile.points):
            made += [f"head.profile.points.{index}.radius", *([f"head.profile.points.{index}.height"] if index else [])]
            made += [f"head.profile.points.{index}.arc_radius"] if point.arc_radius is not None else []
        return made
    own = [name for name in type(profile).model_fields if name in _RANGES]
    return [*(f"head.profile.{name}" for name in own), *(f"{_BAND}{name}" for name in ("outer_diameter", "inner_diameter", "angle"))]


def _chamber_now(top: TopEnd) -> float | None:
    if top.head is None:
        return None
    planned = wiring.plan(top.row.structure, ("head.band_volume",))
    return None if planned.missing else float(np.ravel(wiring.run(planned, top.values)["head.band_volume"])[0])


def _by_profile_alone(top: TopEnd, profile: Any) -> Head:
    """The head of `top`, of which the half-section alone says band and volume."""
    head = top.head
    if head is None:
        raise DesignError("the top end has no head; give it one with its kind, offset and half-section to design")
    own = profile if profile is not None else head.profile
    if own is None:
        raise DesignError("the head has no half-section to design; give it a profile, such as profile=BowlProfile()")
    if not isinstance(own, PROFILES):
        raise ArgumentError(f"profile must be a half-section, such as BowlProfile(); got {own!r}")
    if not isinstance(own, ContourProfile):
        both = {**(head.band.given() if head.band is not None else {}), **(own.band.given() if own.band is not None else {})}
        own = own.replace(band=SquishBand(**both))
    changes: dict[str, Any] = {"profile": own, "chamber_volume": None, "band": None}
    if head.recess_offset is None:
        changes["recess_offset"] = "0 mm"
    made: Head = head.replace(**changes)
    return made


def _one_volume(targets: Mapping[str, Any], what: str, allowed: Sequence[str]) -> str:
    given = [name for name in targets if name in allowed]
    if len(given) != 1:
        got = ", ".join(given) if given else ", ".join(targets) or "none"
        raise DesignError(f"{what} needs one target of {', '.join(allowed)}; got {got}")
    if what == "volume_to_remove" and len(targets) > 1:
        raise DesignError(f"{what} takes one target of {', '.join(allowed)}, and squish_edge; got {', '.join(targets)}")
    return given[0]


def _example(name: str) -> str:
    unit = OUTPUTS[name].unit
    return "0.1" if unit == "–" else f'"0.1 {unit}"'


def _positive_figure(name: str, given: Any, what: str) -> float:
    try:
        value = figure_si(given, output(name).unit)
    except StatedValueError as error:
        raise DesignError(f"{what} of {name} {error}") from None
    least = 1.0 if name.endswith("ratio") and what == "the target" else 0.0
    if not value > least:
        raise DesignError(f"{what} of {name} must be more than {least:g}; got {given!r}")
    return value


def _value(path: str, given: Any) -> float:
    kind = kind_of_unit(input_unit(path))
    assert kind is not None
    try:
        return stated(given, kind).si
    except StatedValueError as error:
        raise DesignError(f"{path} {error}") from None


def _column(path: str, values: Any) -> NDArray[np.float64]:
    kind = kind_of_unit(input_unit(path))
    assert kind is not None
    try:
        made, unit = stated_column(values, kind)
    except StatedValueError as error:
        raise DesignError(f"{path} {error}") from None
    return np.asarray(to_si(made, unit))


def _target_column(name: str, given: Any) -> NDArray[np.float64]:
    unit = OUTPUTS[name].unit
    if unit == "–":
        made = np.asarray(given, dtype=np.float64)
        if made.ndim != 1 or not (made > 1.0).all():
            raise DesignError(f"{name} must be plain numbers of more than 1, in one row; got {given!r:.80}")
        return made
    kind = kind_of_unit(unit)
    assert kind is not None
    try:
        column, stated_in = stated_column(given, kind)
    except StatedValueError as error:
        raise DesignError(f"{name} {error}") from None
    return np.asarray(to_si(column, stated_in))


# --- one dimension -----------------------------------------------------------------------------------------------------


class _Question:
    """One dimension moving for the ratio: rows of the top end in which it, offset and band angle are columns."""

    #: Places of the first scan, of one design and of each row of many.
    _PLACES: Final = 513
    _PLACES_OF_MANY: Final = 17

    def __init__(self, asked: _Asked, path: str, columns: Mapping[str, NDArray[np.float64]], rows: int = 1) -> None:
        self.asked, self.path, self.rows = asked, path, rows
        head = asked.head
        self.twin = {"head.profile.depth": "head.profile.bowl_radius", "head.profile.bowl_radius": "head.profile.depth"}.get(path)
        if self.twin is not None and isinstance(asked.profile, BowlProfile):
            # depth and radius say the same thing
            head = head.replace(profile=asked.profile.replace(**{self.twin.rsplit(".", 1)[1]: None}))
        self.head = head
        # a reading of the assembled volume was taken with another head
        self.changes: dict[str, Any] = {"head": head, **({"assembled": None} if asked.top.assembled is not None else {})}
        first = {one: quantity(from_si(float(column[0]), input_unit(one)), input_unit(one)) for one, column in columns.items()}
        # what is to be designed need not go together as it stands
        row, _ = lowered_changed(asked.top, {**self.changes, **first})
        self.row = row
        moved = {path, *((OFFSET,) if asked.gap else ()), *((ANGLE,) if "squish_inner" in asked.targets else ())}
        self.base = {name: column for name, column in row.columns().items() if name not in moved} | dict(columns)
        self.offset = row.values.get(OFFSET, 0.0)
        self.angle = row.values.get(ANGLE, 0.0)
        self.moved = moved
        self.structure: Structure = row.structure.with_given({*moved, *columns})
        self.not_judged: list[str] = []
        self._refuse_missing()

    def _refuse_missing(self) -> None:
        # the half-section first: what it lacks is asked for, and not a chamber volume in its place
        wanted = ("head.profile.volume", self.asked.target, *(name for name in self.asked.targets if name != self.asked.target))
        planned = wiring.plan(self.structure, wanted)
        if planned.missing:
            name, lack = next(iter(planned.missing.items()))
            name = self.asked.target if name == "head.profile.volume" else name
            raise MissingInputError(name, lack.needs, needs_message(name, lack.needs))

    # --- rows ---

    def placed(self, at: NDArray[np.float64], row: NDArray[np.intp]) -> dict[str, NDArray[np.float64]]:
        """The columns with the dimension at places `at` of rows `row`, and with offset and band angle moved for their targets."""
        columns = {name: column if len(column) == 1 else column[row] for name, column in self.base.items()}
        columns[self.path] = at
        asked = self.asked
        edge = self._target(asked.gap, row) if asked.gap == "squish_edge" else None
        if "squish_inner" in asked.targets:
            columns[ANGLE] = np.full(len(at), self.angle)
            if asked.gap:
                columns[OFFSET] = np.full(len(at), self.offset)
            names = ("squish_inner", "squish_edge", "head.band.radius", "head.band.inner_radius", "head.band.slope")
            known = wiring.run(wiring.plan(self.structure, names), columns)
            now = known["squish_edge"]
            rise = self._target("squish_inner", row) - (now if edge is None else edge) - (known["squish_inner"] - now)
            columns[ANGLE] = np.arctan(known["head.band.slope"] + rise / (known["head.band.radius"] - known["head.band.inner_radius"]))
        if asked.gap:
            columns[OFFSET] = np.full(len(at), self.offset)
            now = wiring.run(wiring.plan(self.structure, (asked.gap,)), columns)[asked.gap]
            columns[OFFSET] = columns[OFFSET] + (self._target(asked.gap, row) - now)
        return columns

    def _target(self, name: str, row: NDArray[np.intp]) -> Any:
        value = self.asked.targets[name]
        chosen: Any = value if np.ndim(value) == 0 or len(value) == 1 else value[row]
        return chosen

    def reached(self, at: NDArray[np.float64], row: NDArray[np.intp]) -> tuple[NDArray[np.float64], NDArray[np.int8]]:
        """What the target comes to, and the status, of each place."""
        if not len(at):
            return np.empty(0), np.empty(0, dtype=np.int8)
        made, code = evaluate_columns(self.structure, self.placed(at, row), [self.asked.target])
        return made[self.asked.target], code

    def off(self, at: NDArray[np.float64], row: NDArray[np.intp]) -> NDArray[np.float64]:
        """How far the target is off at each place; NaN where it cannot be built."""
        short: NDArray[np.float64] = self.reached(at, row)[0] - self._target(self.asked.target, row)
        return short

    def places(self, count: int) -> NDArray[np.float64]:
        """The range of the dimension, of shape (rows, count)."""
        ends = self.asked.limits.get(self.path)
        last = self.path.rsplit(".", 1)[1]
        bore = self.base.get("cylinder.bore", np.array([0.05]))
        if last == "angle":
            low, high = np.zeros(1), np.full(1, _GREATEST_ANGLE)
        elif last == "arc_radius":
            sign = 1.0 if self.row.values[self.path] > 0.0 else -1.0
            low, high = (np.sort(sign * np.array([0.01, 20.0])) * bore[:, None]).T
        else:
            low, high = (end * bore for end in _RANGES[last])
        if last == "recess_offset":
            flush = isinstance(self.head, FlushHead)
            low, high = (np.zeros_like(high), high) if flush else (low, np.zeros_like(low))
        if ends is not None:
            low, high = np.full(1, ends[0]), np.full(1, ends[1])
        low, high = (np.broadcast_to(end, (self.rows,))[:, None] for end in (low, high))
        share = np.linspace(0.0, 1.0, count)[None]
        if last == "bowl_radius" and (low > 0.0).all():
            return np.asarray(low * (high / low) ** share)
        return np.asarray(low + (high - low) * share)

    # --- answers ---

    def answers(self, spread: float | None) -> tuple[list[DesignedHead], str | None]:
        """Every head of this one question, and the reason where there is none that meets the targets."""
        seen = scan(self.off, self.places(self._PLACES))
        _, found = roots(self.off, seen, every=True)
        target = float(self.asked.targets[self.asked.target])
        made: list[DesignedHead] = []
        outside: list[str] = []
        none = np.zeros(1, dtype=np.intp)
        for at in found.tolist():
            value, _ = self.reached(np.array([at]), none)
            if not abs(float(value[0]) - target) <= _MET * abs(target):
                continue
            columns = self.placed(np.array([at]), none)
            beyond = self._outside(columns)
            if beyond:
                outside.append(beyond)
                continue
            head = self._head(columns, spread)
            if head is not None:
                made.append(head)
        if made:
            return made, None
        if outside:
            return [], f"{self.path}: {outside[0]}"
        return [], self._why(seen.places[0], seen.values[0] + target, target)

    def _outside(self, columns: Mapping[str, NDArray[np.float64]]) -> str | None:
        for path in sorted(self.moved - {self.path}):
            ends = self.asked.limits.get(path)
            value = float(columns[path][0])
            if ends is not None and not ends[0] <= value <= ends[1]:
                return (
                    f"{path} would have to be {_shown(path, value)}, outside its limits {_shown(path, ends[0])} to {_shown(path, ends[1])}"
                )
        return None

    def _head(self, columns: Mapping[str, NDArray[np.float64]], spread: float | None) -> DesignedHead | None:
        order = [self.path, *sorted(self.moved - {self.path})]
        dimensions = {path: quantity(from_si(float(columns[path][0]), input_unit(path)), input_unit(path)) for path in order}
        try:
            top = self.asked.top.replace({**self.changes, **dimensions})
        except (AssemblyError, PartError):
            # on the very edge of what can be, rounding may fall outside
            return None
        target = float(self.asked.targets[self.asked.target])
        return DesignedHead(self.path, dimensions, top, self.asked.target, target, self._breaks(top), spread, self.asked.before)

    def _breaks(self, top: TopEnd) -> tuple[str, ...]:
        """The cutter's limits that a head does not keep, in words."""
        cutter = self.asked.cutter
        if cutter is None:
            return ()
        planned = wiring.plan(top.row.structure, _CUT)
        values = wiring.run(planned, top.values)

        def mm(name: str) -> float | None:
            return None if name in planned.missing else float(np.ravel(values[name])[0]) * 1e3

        tight, boss, height, thread = (mm(name) for name in _CUT)
        told = []
        for limit, figure, words in (
            (cutter.tool_radius, tight, "the tightest hollow has a radius of {0:.3f} mm, the tool one of {1:.3f} mm"),
            (
                cutter.plug_boss,
                None if boss is None else 2.0 * boss,
                "the chamber rises above the plug's face from a diameter of {0:.3f} mm on, inside the plug's boss of {1:.3f} mm",
            ),
            (
                cutter.least_wall,
                None if height is None or cutter.outer_height is None else cutter.outer_height.m_as("mm") - height,
                "the wall above the chamber is {0:.3f} mm, less than {1:.3f} mm",
            ),
            (cutter.least_thread, thread, "the plug's thread is {0:.3f} mm long, less than {1:.3f} mm"),
        ):
            if limit is None:
                continue
            if figure is None:
                self.not_judged.append(_UNJUDGED[words[:9]])
            elif figure < limit.m_as("mm") * (1.0 - _MET):
                told.append(words.format(figure, limit.m_as("mm")))
        return tuple(told)

    def _why(self, places: NDArray[np.float64], values: NDArray[np.float64], target: float) -> str:
        good = np.isfinite(values)
        name = self.asked.target
        wanted = _output_shown(name, target)
        span = f"from {_shown(self.path, float(places[0]))} to {_shown(self.path, float(places[-1]))}"
        if not good.any():
            _, code = self.reached(places, np.zeros(len(places), dtype=np.intp))
            codes, counts = np.unique(code, return_counts=True)
            worst = next(status for status in STATUS.values() if status.code == codes[np.argmax(counts)])
            return f"{self.path}: nothing {span} can be built: {worst.meaning}{self._offset_words(places)}"
        low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
        ends = (f"{_output_shown(name, float(values[index]))} at {_shown(self.path, float(places[index]))}" for index in (low, high))
        return f"{self.path}: {name} {wanted} cannot be had: where it can be built it runs from {' to '.join(ends)}"

    def _offset_words(self, places: NDArray[np.float64]) -> str:
        if not self.asked.gap:
            return ""
        none = np.zeros(1, dtype=np.intp)
        value = float(self.placed(places[len(places) // 2 :][:1], none)[OFFSET][0])
        return f" {self.asked.gap} would take {OFFSET} {_shown(OFFSET, value)}."

    def columns(self) -> Designs:
        """Every row's design, as columns."""
        seen = scan(self.off, self.places(self._PLACES_OF_MANY))
        row, at = roots(self.off, seen, every=False)
        value = self.reached(at, row)[0]
        target = np.broadcast_to(np.asarray(self.asked.targets[self.asked.target]), (self.rows,))
        met = np.abs(value - target[row]) <= _MET * np.abs(target[row])
        row, at = row[met], at[met]
        columns = self.placed(at, row)
        inside = np.ones(len(at), dtype=bool)
        for path in self.moved - {self.path}:
            ends = self.asked.limits.get(path)
            if ends is not None:
                inside &= (columns[path] >= ends[0]) & (columns[path] <= ends[1])
        row, columns = row[inside], {path: columns[path][inside] for path in self.moved}
        count = np.bincount(row, minlength=self.rows)
        first = np.unique(row, return_index=True)[1]
        dimensions = {}
        for path in (self.path, *sorted(self.moved - {self.path})):
            made = np.full(self.rows, np.nan)
            made[row[first]] = columns[path][first]
            dimensions[path] = _quantities(from_si(made, input_unit(path)), input_unit(path))
        built = np.isfinite(seen.values).any(axis=1)
        status = np.where(count > 0, 0, np.where(built, 1, 2)).astype(np.int8)
        return Designs(dimensions, status, count)


#: A limit of the cutter that was not judged, by the beginning of the words for one that is broken.
_UNJUDGED: Final = {
    "the tight": "tool_radius: the half-section does not say how tight it is",
    "the chamb": "plug_boss: the section is a contour, whose height around the plug is not judged",
    "the wall ": "least_wall: the height of the chamber is not known",
    "the plug'": "least_thread: neither thread_length nor seat_height of the plug is given",
}


def _quantities(values: NDArray[np.float64], unit: str) -> Quantity:
    one: Any = quantity(1.0, unit)
    made: Quantity = values * one
    return made


def _shown(path: str, value: float) -> str:
    unit = input_unit(path)
    return f"{from_si(value, unit):.3f} {unit}"


def _output_shown(name: str, value: float) -> str:
    unit = OUTPUTS[name].unit
    return f"{from_si(value, unit):.3f}" + ("" if unit == "–" else f" {unit}")
