"""One build read several ways: the best estimate of each dimension, and which reading does not belong.

Weighted least squares with the top end as the model. What limits say of a dimension counts as one more reading of it. A reading that the
others contradict is found by its residual over that residual's own standard deviation (W. Baarda, *A testing procedure for use in geodetic
networks*, 1968); the alarm is set from the joint distribution of all of them, so that it goes off falsely at the stated rate.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy import special

from topend.assembly import TopEnd
from topend.coverage import LEVEL, coverage_factor
from topend.errors import ArgumentError, PartError, Problem, must_be
from topend.measure.budget import Contribution, Term, combined, drawn, spread_known
from topend.measure.build import Build, Seen, seen_of, shown_si, tables_alone, unit_of_seen
from topend.measure.measured import Ends, Measured, Reading
from topend.physics import wiring
from topend.quantities import ALWAYS, INPUTS, OUTPUTS, output
from topend.units import from_si, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "FALSE_ALARMS",
    "Adjusted",
    "Reconciled",
    "Residual",
    "adjust",
    "covariance",
    "propagate_measured",
    "reconcile",
    "tied",
    "usable",
]

#: How often a build without any wrong reading is said to have one.
FALSE_ALARMS: Final = 0.05
#: Outputs that are worked out where none are named, as far as they can be had.
_WANTED: Final = (
    "deck_clearance",
    "squish_edge",
    "squish_min",
    "clearance_volume",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_duration",
    "transfer_duration",
)
_ASSEMBLED: Final = "assembled.volume"
_ROUNDS: Final = 12
_SETTLED: Final = 1e-4
#: Rounds for which a Jacobian is kept.
_KEPT: Final = 4
#: A reading whose residual can be no more than this share of its u is checked by nothing.
_UNCHECKED: Final = 1e-4
#: By how much chi-squared must fall further without one reading than without another for the two to be told apart: the 95 % point for one
#: degree of freedom.
_APART: Final = float(special.chdtri(1, 0.05))


# --- the numbers -----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Adjusted:
    """Builds after least squares, all in SI; B builds, n dimensions, m readings and stated limits together, k outputs.

    `scores` are residuals over their own standard deviation (0 where nothing checks the reading), `errors` by how much each reading must be
    wrong for the rest to agree, `detectable` the error that is found in 95 of 100 builds, `critical` what the greatest score exceeds in
    a share FALSE_ALARMS of builds without a wrong reading.
    """

    dimensions: NDArray[np.float64]
    covariances: NDArray[np.float64]
    outputs: NDArray[np.float64]
    output_u: NDArray[np.float64]
    fitted: NDArray[np.float64]
    chi_squared: NDArray[np.float64]
    dof: int
    scores: NDArray[np.float64]
    errors: NDArray[np.float64]
    detectable: NDArray[np.float64]
    checked: NDArray[np.bool_]
    likeness: NDArray[np.float64]
    critical: float
    settled: NDArray[np.bool_]


def covariance(readings: Sequence[Measured]) -> NDArray[np.float64]:
    """Covariance matrix [SI] of measured values: effects they share make them move together.

    The u of few readings is itself uncertain; it counts as the u of which the normal factor gives the same 95 % interval.

    >>> one = Measured("deck.clearance", 1.65, 0.02, "mm", budget=(Contribution("gauge", 0.01, math.inf, "normal", "gauge"),))
    >>> round(float(covariance([one, one])[0, 1]) * 1e10, 6)
    1.0
    """
    count = len(readings)
    made = np.zeros((count, count))
    for index, one in enumerate(readings):
        widened = max(1.0, float(coverage_factor(one.dof)) / float(coverage_factor(math.inf)))
        made[index, index] = (shown_si(one)[1] * widened) ** 2
        for beside, other in enumerate(readings[:index]):
            pairs = (
                to_si(float(a.u), one.unit) * to_si(float(b.u), other.unit)
                for a in one.budget
                for b in other.budget
                if a.shared is not None and a.shared == b.shared
            )
            made[index, beside] = made[beside, index] = math.fsum(pairs)
    return made


def adjust(
    build: Build, readings: NDArray[np.float64], spread: NDArray[np.float64], *, stated: NDArray[np.float64] | None = None
) -> Adjusted:
    """Least squares over many builds at once.

    Parameters: `build` whose first m `seen` are the readings and the rest outputs; `readings` [SI] of shape (B, m); `spread` their
    covariance matrix (m, m); `stated` the stated values of the dimensions with limits, (B, p), where they differ by build. Raises
    `PartError` where readings and limits do not determine a dimension.
    """
    dims, count = build.dimensions, readings.shape[1]
    prior = [index for index, one in enumerate(dims) if math.isfinite(one.u)]
    builds, total = readings.shape[0], count + len(prior)
    whole = np.zeros((total, total))
    whole[:count, :count] = spread
    if prior:
        whole[range(count, total), range(count, total)] = [dims[index].u ** 2 for index in prior]
    weight = np.linalg.inv(whole)
    start = _start(build, readings, count)
    said = start[:, prior] if stated is None else stated
    targets = np.concatenate([readings, said], axis=1)
    scale = np.array([_reading_u(build, index, spread, count) for index in range(len(dims))])
    steps = build.steps(start[0], scale)
    at = start.copy()
    pick = np.zeros((len(prior), len(dims)))
    pick[range(len(prior)), prior] = 1.0
    settled = np.zeros(builds, dtype=bool)
    for turn in range(_ROUNDS):
        if turn % _KEPT == 0:
            # all start from the stated values mostly, and are nearly linear: one Jacobian serves them for a few rounds
            alike = turn == 0 and bool((at == at[0]).all())
            _, slopes = build.linear(at[:1] if alike else at, steps)
            design = _design(slopes[:, :count], pick, steps)
            half = weight @ design
            normal = np.swapaxes(design, 1, 2) @ half
            if not np.isfinite(normal).all():
                raise _impossible()
            _determined(normal[0], build)
        left = targets - np.concatenate([build.evaluate(at)[:, :count], at[:, prior]], axis=1)
        if not np.isfinite(left).all():
            raise _impossible()
        move = np.linalg.solve(normal, np.swapaxes(half, 1, 2) @ left[..., None])[..., 0]
        at = at + move * steps
        settled = np.abs(move).max(axis=1, initial=0.0) < _SETTLED
        if settled.all():
            break
    seen, slopes = build.linear(at, steps)
    design = _design(slopes[:, :count], pick, steps)
    left = targets - np.concatenate([seen[:, :count], at[:, prior]], axis=1)
    if not (np.isfinite(design).all() and np.isfinite(left).all()):
        raise _impossible()
    half = weight @ design
    inverse = np.linalg.inv(np.swapaxes(design, 1, 2) @ half)
    shares = left @ weight
    # covariance of the weighted residuals, W Q W with Q = V - A N⁻¹ Aᵀ; of its whole only one build's is needed
    own = np.diag(weight) - np.einsum("bmi,bmi->bm", half @ inverse, half)
    tied = weight - half[0] @ inverse[0] @ half[0].T
    checked = own * np.diag(whole) > _UNCHECKED
    with np.errstate(all="ignore"):
        scores = np.where(checked, shares / np.sqrt(np.where(checked, own, 1.0)), 0.0)
        errors = np.where(checked, shares / np.where(checked, own, 1.0), np.nan)
        # seen when its score passes the alarm: 1.645 of its own standard deviation above it, in 95 of 100
        critical = _critical(_likeness(tied, checked[0]), checked[0])
        detectable = np.where(checked, (critical + 1.645) / np.sqrt(np.where(checked, own, 1.0)), np.inf)
    rest = slopes[:, count:] * steps
    output_u = np.sqrt(np.maximum(np.einsum("bki,bki->bk", rest @ inverse, rest), 0.0))
    likeness = _likeness(tied, checked[0])
    covariances = inverse * np.outer(steps, steps)
    fitted = np.concatenate([seen[:, :count], at[:, prior]], axis=1)
    chi_squared = np.einsum("bm,bm->b", left, shares)
    dof = total - len(dims)
    return Adjusted(
        at,
        covariances,
        seen[:, count:],
        output_u,
        fitted,
        chi_squared,
        dof,
        scores,
        errors,
        detectable,
        checked,
        likeness,
        critical,
        settled,
    )


def _design(slopes: NDArray[np.float64], pick: NDArray[np.float64], steps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Rows of readings, then of stated limits, in columns of dimensions counted in steps."""
    whole: NDArray[np.float64] = np.concatenate([slopes, np.broadcast_to(pick, (len(slopes), *pick.shape))], axis=1) * steps
    return whole


def _impossible() -> PartError:
    return PartError("reconcile", [Problem("readings", "lead to a build that cannot be: no dimensions within reach give these readings")])


def _start(build: Build, readings: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    """Where the search starts: the stated values; what reads a dimension directly, where none was stated."""
    start = np.tile(build.start, (readings.shape[0], 1))
    for index, one in enumerate(build.dimensions):
        direct = [at for at, seen in enumerate(build.seen[:count]) if seen.of == one.path]
        if one.basis == "free" and direct:
            start[:, index] = readings[:, direct].mean(axis=1)
    return start


def _reading_u(build: Build, index: int, spread: NDArray[np.float64], count: int) -> float:
    direct = [at for at, seen in enumerate(build.seen[:count]) if seen.of == build.dimensions[index].path]
    return math.sqrt(min(spread[at, at] for at in direct)) if direct else 0.0


def _determined(normal: NDArray[np.float64], build: Build) -> None:
    size = np.sqrt(np.diag(normal))
    if (size > 0.0).all():
        scaled = normal / np.outer(size, size)
        values, vectors = np.linalg.eigh(scaled)
        if values[0] > 1e-12:
            return
        loose = [build.paths[at] for at in np.argsort(-np.abs(vectors[:, 0]))[:3] if abs(vectors[at, 0]) > 0.1]
    else:
        loose = [path for path, one in zip(build.paths, size, strict=True) if not one > 0.0]
    raise PartError("reconcile", [Problem(", ".join(loose), "cannot be told from these readings: give limits for it, or read it too")])


def _likeness(tied: NDArray[np.float64], checked: NDArray[np.bool_]) -> NDArray[np.float64]:
    size = np.sqrt(np.where(checked, np.diag(tied), 1.0))
    made: NDArray[np.float64] = tied / np.outer(size, size)
    made[~checked, :] = 0.0
    made[:, ~checked] = 0.0
    return made


def _critical(likeness: NDArray[np.float64], checked: NDArray[np.bool_]) -> float:
    """What the greatest of the scores exceeds in a share FALSE_ALARMS of good builds: from their joint normal distribution."""
    if not checked.any():
        return math.inf
    values, vectors = np.linalg.eigh(likeness[np.ix_(checked, checked)])
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    drawn = np.abs(np.random.default_rng(20).standard_normal((40_000, len(values))) @ root.T).max(axis=1)
    return float(np.quantile(drawn, 1.0 - FALSE_ALARMS))


def rivals(made: Adjusted, build: int) -> list[int]:
    """Readings of one build, by number, that would explain it nearly as well: the greatest score, and those not told apart from it.

    Without a reading chi-squared falls by the square of its score.
    """
    falls = made.scores[build] ** 2
    greatest = float(falls.max(initial=0.0))
    # one that is fine by itself explains nothing
    least = max(greatest - _APART, (made.critical / 2.0) ** 2)
    return [int(at) for at in np.argsort(-falls, kind="stable") if falls[at] >= least]


# --- the door --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Residual:
    """One reading, or the stated limits of one dimension, beside what all of them together make of it; in `unit`.

    `score` is its residual over that residual's own standard deviation. `error` is by how much it must be wrong (positive: reads too much)
    for the others to agree; None where nothing checks it. `detectable` is the error of it that would be found in 95 of 100 such builds.
    """

    label: str
    name: str
    value: float
    fitted: float
    u: float
    unit: str
    score: float
    error: float | None
    detectable: float | None
    stated: bool

    @property
    def explanation(self) -> str:
        """What error would explain it, in words."""
        if self.error is None:
            return "nothing else checks it"
        way = "too much" if self.error > 0 else "too little"
        places = max(0, min(4, 1 - math.floor(math.log10(self.u))))
        verb = "is stated" if self.stated else "reads"
        unit = "" if self.unit == "–" else f" {self.unit}"
        return f"{verb} {abs(self.error):.{places}f}{unit} {way}"


@dataclass(frozen=True, repr=False)
class Reconciled:
    """A build as all its readings together show it.

    `dimensions` and `outputs` hold best estimates; `residuals` each reading and each stated limit beside them. `suspect` is the one that
    does not belong, or None; `or_else` those that explain it nearly as well, and cannot be told apart from it.
    """

    top: TopEnd = field(repr=False)
    dimensions: tuple[Measured, ...]
    outputs: Mapping[str, Measured]
    residuals: tuple[Residual, ...]
    chi_squared: float
    dof: int
    critical: float
    suspect: Residual | None
    or_else: tuple[Residual, ...] = ()
    notes: tuple[str, ...] = ()

    def __repr__(self) -> str:
        told = [f"{name} {one.text}" for name, one in self.outputs.items()]
        doubt = "no suspect" if self.suspect is None else f"suspect {self.suspect.label}"
        return f"Reconciled({', '.join([f'chi-squared {self.chi_squared:.1f} on {self.dof}', doubt, *told])})"

    @property
    def probability(self) -> float:
        """How often chi-squared is at least as large where nothing is wrong; 1 where nothing is over-determined."""
        return float(special.chdtrc(self.dof, self.chi_squared)) if self.dof else 1.0

    @property
    def best(self) -> TopEnd:
        """The top end with the best estimates in place of what was stated, each with its uncertainty.

        Defaults of a part that was not given, such as a bearing, stay defaults.
        """
        changes: dict[str, Any] = {one.of: one.stated for one in self.dimensions if _part_given(self.top, one.of)}
        # whole readings, so that what was read of this build is not taken for a change of its parts
        for name in ("deck", "assembled"):
            own = getattr(self.top, name)
            if own is not None:
                parts = {path.partition(".")[2]: changes.pop(path) for path in list(changes) if path.startswith(f"{name}.")}
                changes[name] = own.replace(**{path: value for path, value in parts.items() if "." not in path})
        return self.top.replace(changes)

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        return {
            "dimensions": {one.of: one.to_dict() for one in self.dimensions},
            "outputs": {name: one.to_dict() for name, one in self.outputs.items()},
            "readings": [
                {
                    "of": one.label,
                    "name": one.name,
                    "stated": one.stated,
                    "value": one.value,
                    "fitted": one.fitted,
                    "u": one.u,
                    "unit": one.unit,
                    "score": one.score,
                    "error": one.error,
                    "detectable": one.detectable,
                }
                for one in self.residuals
            ],
            "chi_squared": self.chi_squared,
            "dof": self.dof,
            "probability": self.probability,
            "critical": self.critical if math.isfinite(self.critical) else None,
            "false_alarms": FALSE_ALARMS,
            "suspect": None if self.suspect is None else {"of": self.suspect.label, "name": self.suspect.name, "error": self.suspect.error},
            "or_else": [one.label for one in self.or_else],
            "notes": list(self.notes),
        }


def _part_given(top: TopEnd, path: str) -> bool:
    """Whether the part that `path` belongs to is there to be changed."""
    part: Any = top
    for step in path.split(".")[:-1]:
        part = part[int(step)] if step.isdigit() else getattr(part, step, None)
        if part is None:
            return False
    return True


def usable(readings: Iterable[Reading | Measured]) -> tuple[list[Measured], list[str]]:
    """The values that readings give to least squares, and notes on those they do not.

    What follows from another value of the same reading counts once; "at least" is no value.
    """
    found, notes = [], []
    for one in readings:
        if not isinstance(one, (Reading, Measured)):
            said = "readings must be readings, such as te.measure.Wire(...), or measured values, such as te.measure.deck(...)"
            also = "; of a gap give its mean: te.measure.gap(...).mean" if hasattr(one, "mean") else ""
            raise ArgumentError(f"{said}; got {type(one).__name__}{also}")
        for value in one.results() if isinstance(one, Reading) else (one,):
            if value.at_least:
                notes.append(f"{value.name or value.label}: only a lower bound, so it is not reckoned with")
            elif not value.derived:
                if not value.u > 0.0:
                    raise PartError("reconcile", [Problem(value.label, "has no uncertainty; give its limits")])
                found.append(value)
    return found, notes


def free_paths(top: TopEnd, readings: Sequence[Measured]) -> tuple[str, ...]:
    """Inputs that are read and carry no limits: what is stated of them is where the search starts, and nothing more."""
    read = dict.fromkeys(one.of for one in readings if one.of not in OUTPUTS and one.radius is None)
    return tuple(path for path in read if path not in top.row.limits)


def tied(top: TopEnd, values: Sequence[Measured]) -> list[Measured]:
    """The values, a volume through the plug hole as the clearance volume where head, stack and crown give one to hold it against.

    As an input it would take the place of theirs, and check nothing.
    """
    free = [path for path in free_paths(top, values) if path != _ASSEMBLED]
    if _ASSEMBLED in top.row.values or not had(top, ["clearance_volume"], free):
        return list(values)
    return [replace(one, of="clearance_volume") if one.of == _ASSEMBLED else one for one in values]


def had(top: TopEnd, names: Iterable[str], free: Sequence[str]) -> list[str]:
    """Those of `names` that can be worked out of `top` once `free` is known."""
    structure = top.row.structure.with_given(free)
    return [name for name in names if not wiring.plan(structure, (name,)).missing]


def reconcile(top: TopEnd, readings: Iterable[Reading | Measured], outputs: Iterable[str] | None = None) -> Reconciled:
    """The best estimate of a build from all readings of it together.

    Parameters: `top` the build as stated, whose limits count as readings too; `readings` of the build, as `topend.measure` makes them;
    `outputs` names from the outputs table, None for those that decide. Raises `PartError` where a dimension cannot be told,
    `MissingInputError` where the top end says too little for a reading to be compared with.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="1.65 mm ± 0.05 mm"), head=te.FlushHead(), base_gaskets=[],
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm ± 0.02 mm")])
    >>> read = te.measure.Measured("squish_edge", 1.98, 0.01, "mm")
    >>> print(te.reconcile(top, [read], ["squish_edge"]).outputs["squish_edge"].text)
    1.9772 mm ± 0.0187
    """
    must_be("reconcile", "top", top, TopEnd)
    outputs = None if outputs is None else list(outputs)
    tables_alone("reconcile", outputs or (), top)
    values, notes = usable(readings)
    values = tied(top, values)
    free = free_paths(top, values)
    names = had(top, _WANTED, free) if outputs is None else [output(name).name for name in outputs]
    seen = [*(seen_of(one) for one in values), *(Seen(name) for name in names)]
    build = Build(top, seen, free, written=True)
    if not build.dimensions:
        raise PartError(
            "reconcile", [Problem("top", 'has no dimension that could be otherwise: state limits, such as "1.65 mm ± 0.05 mm"')]
        )
    made = adjust(build, np.array([[shown_si(one)[0] for one in values]]), covariance(values))
    if not made.settled[0]:
        notes.append("the search did not settle: the readings are far from any build that could be")
    whole, spread = build.themselves(made.dimensions[0], made.covariances[0])
    estimates = tuple(_estimate(build, index, float(whole[index]), float(spread[index])) for index in range(len(build.dimensions)))

    def draw(draws: int, seed: int, few: bool) -> NDArray[np.float64]:
        random = np.random.default_rng(seed)
        return random.multivariate_normal(made.dimensions[0], made.covariances[0], size=draws, method="eigh")

    ends = _simulated(build, len(values), draw)
    worked = {name: _worked(name, float(made.outputs[0, at]), float(made.output_u[0, at]), ends[at]) for at, name in enumerate(names)}
    residuals = _residuals(build, values, made, whole)
    order = np.argsort(-np.abs(made.scores[0]), kind="stable")
    suspect: Residual | None = None
    others: tuple[Residual, ...] = ()
    if len(order) and abs(made.scores[0, order[0]]) > made.critical:
        first = int(order[0])
        suspect = residuals[first]
        others = tuple(residuals[at] for at in rivals(made, 0) if at != first)
    return Reconciled(
        top, estimates, worked, tuple(residuals), float(made.chi_squared[0]), made.dof, made.critical, suspect, others, tuple(notes)
    )


def _simulated(build: Build, first: int, draw: Callable[[int, int, bool], NDArray[np.float64]]) -> list[Ends]:
    """How each of what is seen from number `first` on is simulated: dimensions as `draw` gives them, through the model, all in one go."""

    @functools.lru_cache(maxsize=2)
    def drawn_ends(draws: int, seed: int, few: bool) -> NDArray[np.float64]:
        below = (1.0 - LEVEL) / 2.0
        found: NDArray[np.float64] = np.nanquantile(build.evaluate(draw(draws, seed, few))[:, first:], [below, 1.0 - below], axis=0)
        return found

    def ends_of(at: int) -> Ends:
        def ends(draws: int, seed: int, few: bool) -> tuple[float, float]:
            low, high = drawn_ends(draws, seed, few)[:, at]
            return float(low), float(high)

        return ends

    return [ends_of(at) for at in range(len(build.seen) - first)]


def _worked(name: str, value: float, u: float, ends: Ends) -> Measured:
    unit = OUTPUTS[name].unit
    return Measured(name, from_si(value, unit), from_si(u, unit), unit).simulated_by(ends)


def _estimate(build: Build, index: int, value: float, u: float) -> Measured:
    one = build.dimensions[index]
    unit = unit_of_seen(Seen(one.path))
    return Measured(one.path, from_si(value, unit), from_si(u, unit), unit, name=one.basis)


def _residuals(build: Build, values: Sequence[Measured], made: Adjusted, whole: NDArray[np.float64]) -> list[Residual]:
    prior = [index for index, one in enumerate(build.dimensions) if math.isfinite(one.u)]
    labels: list[tuple[str, str, float, float, str, bool]] = [(one.label, one.name, one.value, one.u, one.unit, False) for one in values]
    fitted = [*made.fitted[0, : len(values)], *whole[prior]]
    for index in prior:
        dimension = build.dimensions[index]
        unit = unit_of_seen(Seen(dimension.path))
        how = {"assumed": "assumed", "written": "as stated, to its last decimal"}.get(dimension.basis, "as stated")
        # a default as it is made from what it goes with, nothing added
        said = float(whole[index] - made.dimensions[0, index]) + dimension.place
        labels.append((dimension.path, how, from_si(said, unit), from_si(dimension.u, unit), unit, True))
    found = []
    for at, (label, name, value, u, unit, stated) in enumerate(labels):
        error = float(made.errors[0, at])
        found.append(
            Residual(
                label,
                name,
                value,
                from_si(float(fitted[at]), unit),
                u,
                unit,
                float(made.scores[0, at]),
                from_si(error, unit) if math.isfinite(error) else None,
                from_si(float(made.detectable[0, at]), unit) if math.isfinite(error) else None,
                stated,
            )
        )
    return found


def propagate_measured(
    top: TopEnd, readings: Iterable[Reading | Measured] = (), outputs: Iterable[str] | None = None
) -> dict[str, Measured]:
    """Outputs of `top` with each read input in place of what is stated of it, few readings allowed for; each with its budget.

    Parameters: `outputs` names from the outputs table, None for all that can be had. Unlike `reconcile`, a reading replaces the stated
    value, and degrees of freedom go on into the outputs (JCGM 100:2008, G.4). Readings
    that are of an output, and not of an input, are refused: they are for `reconcile`.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="1.65 mm"), head=te.FlushHead(), base_gaskets=[],
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm")])
    >>> propagate_measured(top, [Measured("deck.clearance", 1.64, 0.01, "mm", 2.0)], ["squish_edge"])["squish_edge"].text
    '1.940 mm ± 0.044'
    """
    outputs = None if outputs is None else list(outputs)
    tables_alone("propagate_measured", outputs or (), top)
    values, _ = usable(readings)
    for one in values:
        if one.of in OUTPUTS and one.of not in INPUTS:
            raise PartError("readings", [Problem(one.label, "is of an output, not of an input; reconcile takes such readings")])
    direct = {one.of: one for one in values}
    names = had(top, ALWAYS, tuple(direct)) if outputs is None else [output(name).name for name in outputs]
    build = Build(top, [*(Seen(name) for name in names), *(Seen(path) for path in direct)], tuple(direct))
    at = np.array([[shown_si(direct[one.path])[0] if one.path in direct else one.place for one in build.dimensions]])
    u = np.array([shown_si(direct[one.path])[1] if one.path in direct else one.u for one in build.dimensions])
    seen, slopes = build.linear(at, np.where(u > 0.0, u, 1e-9))
    terms, shares = _terms(build, direct)
    # draws lie between the limits, which need not lie evenly about the value
    middle = at + np.array([0.0 if one.path in direct else (one.low + one.high) / 2.0 for one in build.dimensions])

    def draw(draws: int, seed: int, few: bool) -> NDArray[np.float64]:
        columns = drawn(terms if few else spread_known(terms), {}, draws, np.random.default_rng(seed))
        moved: NDArray[np.float64] = middle + np.stack(columns, axis=-1) @ shares
        return moved

    ends = _simulated(build, 0, draw)
    made = {}
    for index, name in enumerate(names):
        unit = OUTPUTS[name].unit
        parts: list[Contribution] = []
        for beside, dimension in enumerate(build.dimensions):
            slope = float(slopes[0, index, beside])
            read = direct.get(dimension.path)
            if read is None:
                parts.append(Contribution(dimension.path, from_si(slope * dimension.u, unit), math.inf, "rectangular"))
                continue
            parts += _passed_on(read, slope, unit)
        made[name] = _together(name, from_si(float(seen[0, index]), unit), parts, unit)
        if terms:
            made[name].simulated_by(ends[index])
    return made


def _terms(build: Build, direct: Mapping[str, Measured]) -> tuple[list[Term], NDArray[np.float64]]:
    """What moves the dimensions, each term in units of its own u, and by how much [SI] it moves each, shape (terms, dimensions)."""
    terms: dict[str, Term] = {}
    rows: dict[str, NDArray[np.float64]] = {}
    for index, dimension in enumerate(build.dimensions):
        read = direct.get(dimension.path)
        for beside, one in enumerate([Contribution(dimension.path, dimension.u, math.inf, "rectangular")] if read is None else _own(read)):
            # one effect in several readings is one error
            name = one.shared if one.shared is not None else f"{dimension.path}: {beside}"
            terms.setdefault(name, Term(name, 0.0, 1.0, one.dof, one.shape))
            row = rows.setdefault(name, np.zeros(len(build.dimensions)))
            row[index] += one.u if read is None else to_si(float(one.u), read.unit)
    return list(terms.values()), np.array(list(rows.values())).reshape(-1, len(build.dimensions))


def _own(read: Measured) -> tuple[Contribution, ...]:
    """The terms of a reading; of one without a budget, itself."""
    return read.budget or (Contribution("as read", read.u, read.dof, "normal"),)


def _passed_on(read: Measured, slope: float, unit: str) -> list[Contribution]:
    """What each term of a reading brings to an output."""
    return [replace(one, name=f"{read.label}: {one.name}", u=from_si(slope * to_si(float(one.u), read.unit), unit)) for one in _own(read)]


def _together(name: str, value: float, parts: Sequence[Contribution], unit: str) -> Measured:
    apart = [one for one in parts if one.shared is None]
    for effect in dict.fromkeys(one.shared for one in parts if one.shared is not None):
        same = [one for one in parts if one.shared == effect]
        # one effect in several readings is one error
        apart.append(Contribution(effect, math.fsum(one.u for one in same), same[0].dof, same[0].shape, effect))
    whole = combined(value, apart)
    apart.sort(key=lambda one: -abs(one.u))
    return Measured(name, value, whole.u, unit, whole.dof, whole.kurtosis, tuple(one for one in apart if one.u != 0.0))
