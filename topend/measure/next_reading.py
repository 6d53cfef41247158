"""Of the readings one could still take, the one that would narrow the answer most, and what it is worth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import PartError, Problem, must_be
from topend.measure.build import Build, Seen, seen_of, shown_si, tables_alone, unit_of_seen
from topend.measure.measured import Measured, Reading
from topend.measure.reconcile import adjust, covariance, free_paths, had, tied, usable
from topend.measure.verdict import verdict
from topend.physics import wiring
from topend.quantities import OUTPUTS, output
from topend.units import from_si
from topend.wires import wire_places

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["CANDIDATES", "Advice", "Candidate", "Worth", "next_reading"]

#: What the verdict on a build rests on, as far as it can be had.
_TARGETS: Final = ("squish_min", "compression_ratio")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading one could take: of what, its usual standard uncertainty [SI], and how it is done."""

    of: str
    u: float
    how: str


#: Common practice; `N` stands for each that is there. Three readings each, with ordinary tools.
CANDIDATES: Final = (
    Candidate("gap_at", 0.02e-3, "soft wire at four clock positions, 1 mm inside the band's outer edge"),
    Candidate("contact_min", 0.025e-3, "dial through the plug hole: piston against the head, then at TDC"),
    Candidate("deck.clearance", 0.02e-3, "depth gauge on a dry fit, nuts down, gaskets crushed"),
    Candidate("clearance_volume", 0.06e-6, "burette through the plug hole at TDC, assembled"),
    Candidate("head.chamber_volume", 0.04e-6, "burette on a plate, plug fitted, three fillings"),
    Candidate("crown_volume", 0.06e-6, "burette with the piston a known depth down the bore"),
    Candidate("head.recess_offset", 0.008e-3, "depth micrometer on the band's edge at four clock positions"),
    Candidate("head.band.angle", math.radians(0.2), "two depths of the band at two radii"),
    Candidate("head.band.outer_diameter", 0.03e-3, "caliper across the band's outer edge"),
    Candidate("head.band.inner_diameter", 0.05e-3, "caliper across the band's inner edge"),
    Candidate("head.recess_diameter", 0.02e-3, "caliper in the recess"),
    Candidate("head.spigot_diameter", 0.01e-3, "micrometer on the spigot"),
    Candidate("cylinder.bore", 0.008e-3, "bore gauge, two ways, below the deck"),
    Candidate("piston.diameter", 0.005e-3, "micrometer on the crown's edge"),
    Candidate("piston.crown.rise", 0.02e-3, "depth gauge from a straight edge over the crown"),
    Candidate("piston.crown.edge_slope", math.radians(0.5), "two depths of the crown near its edge"),
    Candidate("crank.stroke", 0.02e-3, "depth gauge on the piston at TDC and at BDC"),
    Candidate("crank.rod_length", 0.05e-3, "caliper over the bores of the rod"),
    Candidate("base_gaskets.N.fitted_thickness", 0.004e-3, "micrometer at several points of the crushed gasket"),
    Candidate("head_gaskets.N.fitted_thickness", 0.004e-3, "micrometer at several points of the crushed gasket"),
    Candidate("head_gaskets.N.opening", 0.05e-3, "caliper across the opening"),
    Candidate("cylinder.ports.N.top", 0.08e-3, "depth gauge from the deck to the port's upper edge"),
    Candidate("exhaust_duration", math.radians(0.6), "degree disc, TDC by a stop, opening and closing"),
    Candidate("transfer_duration", math.radians(0.6), "degree disc, TDC by a stop, opening and closing"),
)

#: How the wire is laid where the gap is least, which is further in than is usual.
_AT_LEAST: Final = "soft wire at four clock positions, where the gap is least"


@dataclass(frozen=True)
class Worth:
    """A reading and what it is worth: u of each target now and after it, in the target's unit; `share` is the part of the variance it takes
    away, on the mean over the targets that count.
    """

    of: str
    how: str
    radius: float | None
    u: float
    unit: str
    before: Mapping[str, float]
    after: Mapping[str, float]
    share: float

    @property
    def label(self) -> str:
        """What to read."""
        return self.of if self.radius is None else f"{self.of} {self.radius:.2f} mm"

    @property
    def text(self) -> str:
        """In words."""
        parts = []
        for name, then in self.after.items():
            unit = "" if OUTPUTS[name].unit == "–" else f" {OUTPUTS[name].unit}"
            parts.append(f"u of {name} {self.before[name]:.3f} -> {then:.3f}{unit}")
        return f"{self.label}, by {self.how}: " + ", ".join(parts)

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "of": self.of,
            "radius": self.radius,
            "how": self.how,
            "u": self.u,
            "unit": self.unit,
            "before": dict(self.before),
            "after": dict(self.after),
            "share": self.share,
        }


@dataclass(frozen=True, repr=False)
class Advice:
    """What to read next. `needs` are inputs that a target cannot be had without: they come first. `ranked` is best first."""

    needs: Mapping[str, tuple[str, ...]]
    ranked: tuple[Worth, ...]

    def __repr__(self) -> str:
        return f"Advice({self.text})"

    @property
    def best(self) -> Worth | None:
        """The reading that is worth most; None where none narrows anything."""
        return self.ranked[0] if self.ranked else None

    @property
    def text(self) -> str:
        """In words."""
        first = [f"{name} cannot be had before {', '.join(paths)} is known" for name, paths in self.needs.items()]
        return "; ".join([*first, self.best.text if self.best else "no further reading would narrow it"])

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {"needs": {name: list(paths) for name, paths in self.needs.items()}, "ranked": [one.to_dict() for one in self.ranked]}


def next_reading(
    top: TopEnd,
    readings: Iterable[Reading | Measured] = (),
    *,
    targets: Sequence[str] = _TARGETS,
    limits: Mapping[str, tuple[float | None, float | None]] | None = None,
) -> Advice:
    """The readings one could still take, by what each is worth.

    Parameters: `top` the build with its limits; `readings` already taken; `targets` outputs that are to be known better; `limits` by
    output, (low, high) in its unit: targets whose verdict is proven already then count no more. What a reading is worth does not depend
    on what it will say, to first order: only on how it follows the dimensions, and its usual uncertainty. What was read already is not
    named again.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="1.65 mm ± 0.10 mm"), head=te.FlushHead(), base_gaskets=[],
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.01 mm")])
    >>> te.next_reading(top, targets=["squish_edge"]).best.of
    'deck.clearance'
    """
    must_be("next_reading", "top", top, TopEnd)
    taken = tied(top, usable(readings)[0])
    free = free_paths(top, taken)
    tables_alone("next_reading", targets, top)
    wanted = [output(name).name for name in targets]
    structure = top.row.structure.with_given(free)
    missing = wiring.plan(structure, tuple(wanted)).missing
    names = [name for name in wanted if name not in missing]
    needs = {name: missing[name].needs for name in wanted if name in missing}
    if not names:
        return Advice(needs, ())
    possible = _possible(top, structure)
    done = _taken([where for where, _ in possible], taken)
    candidates = [(where, how) for where, how in possible if where not in done]
    seen = [*(seen_of(one) for one in taken), *(Seen(name) for name in names), *(where for where, _ in candidates)]
    build = Build(top, seen, free, written=True)
    if not build.dimensions:
        return Advice(needs, ())
    # what the answers rest on now, and how each candidate follows from it
    if taken:
        adjusted = adjust(build, np.array([[shown_si(one)[0] for one in taken]]), covariance(taken))
        at, known = adjusted.dimensions, adjusted.covariances[0]
    else:
        at = build.start[None]
        known = np.diag([one.u**2 for one in build.dimensions])
    if not np.isfinite(known).all():
        raise PartError("next_reading", [Problem("readings", "leave a dimension open; give its limits")])
    values, slopes = build.linear(at, build.steps(at[0], np.sqrt(np.diag(known))))
    first = len(taken)
    goal, looks = slopes[0, first : first + len(names)], slopes[0, first + len(names) :]
    before = np.sqrt(np.einsum("ki,ij,kj->k", goal, known, goal))
    counts = _counting(names, values[0, first : first + len(names)], before, limits or {})
    ranked = []
    for index, (where, candidate) in enumerate(candidates):
        look = looks[index]
        if not np.isfinite(look).all():
            continue
        own = float(look @ known @ look) + candidate.u**2
        gained = (goal @ known @ look) ** 2 / own
        after = np.sqrt(np.maximum(before**2 - gained, 0.0))
        share = _share(gained, before, counts)
        if share > 1e-3:
            ranked.append(_worth(where, candidate, names, before, after, share))
    ranked.sort(key=lambda one: -one.share)
    return Advice(needs, tuple(ranked))


#: By which other names a reading goes.
_SAME: Final = {
    "assembled.volume": "clearance_volume",
    "deck_clearance": "deck.clearance",
    **{f"{port}_{end}": f"{port}_duration" for port in ("exhaust", "transfer") for end in ("opens", "closes")},
}
#: Two wires nearer than this read the same gap [m].
_APART: Final = 1e-3


def _taken(possible: Sequence[Seen], taken: Sequence[Measured]) -> set[Seen]:
    """Which were read already, however well: to read them again is another question than what else to read."""
    done = set()
    for one in map(seen_of, taken):
        same = [where for where in possible if where.of == _SAME.get(one.of, one.of)]
        if one.radius is not None:
            # of two places for a wire, a wire between them was laid at the nearer
            near = min(same, key=lambda where: abs((where.radius or 0.0) - (one.radius or 0.0)), default=None)
            same = [where for where in same if where == near and abs((where.radius or 0.0) - one.radius) < _APART]
        done.update(same)
    return done


def _share(gained: NDArray[np.float64], before: NDArray[np.float64], counts: NDArray[np.bool_]) -> float:
    which = counts & (before > 0.0)
    return float(np.mean(gained[which] / before[which] ** 2)) if which.any() else 0.0


def _counting(
    names: Sequence[str], values: NDArray[np.float64], u: NDArray[np.float64], limits: Mapping[str, tuple[float | None, float | None]]
) -> NDArray[np.bool_]:
    """Targets that are still open; all of them where every verdict is proven, or none was asked for."""
    still = []
    for name, value, spread in zip(names, values, u, strict=True):
        unit = OUTPUTS[name].unit
        if name not in limits:
            still.append(not limits)
            continue
        low, high = limits[name]
        one = Measured(name, from_si(float(value), unit), from_si(float(spread), unit), unit)
        still.append(verdict(one, low=low, high=high).verdict == "not proven")
    return np.array(still if any(still) else [True] * len(names))


def _worth(where: Seen, candidate: Candidate, names: Sequence[str], before: Any, after: Any, share: float) -> Worth:
    unit = unit_of_seen(where)
    shown = [{name: from_si(float(one), OUTPUTS[name].unit) for name, one in zip(names, many, strict=True)} for many in (before, after)]
    radius = None if where.radius is None else where.radius * 1e3
    return Worth(where.of, candidate.how, radius, from_si(candidate.u, unit), unit, shown[0], shown[1], share)


def _possible(top: TopEnd, structure: wiring.Structure) -> list[tuple[Seen, Candidate]]:
    """The candidates that mean something on this top end."""
    found = []
    for candidate in CANDIDATES:
        if candidate.of == "gap_at":
            for place in wire_places(top, structure):
                how = candidate.how if place.at == "usual" else _AT_LEAST
                found.append((Seen("gap_at", place.radius), replace(candidate, how=how)))
            continue
        for path in _each(candidate.of, top):
            if had(top, [path], ()):
                found.append((Seen(path), candidate))
    return found


def _each(path: str, top: TopEnd) -> list[str]:
    if ".N." not in path:
        return [path]
    holder = path.split(".N.")[0]
    many: Any = top
    for step in holder.split("."):
        many = getattr(many, step, None)
    return [path.replace(".N.", f".{index}.") for index in range(len(many or ()))]
