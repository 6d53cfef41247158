"""What a design was asked for: targets in SI, limits, and the top end whose half-section alone says what its head is."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import ArgumentError, DesignError, UnknownNameError, must_be, nearest
from topend.evaluation import input_unit
from topend.extra_outputs import of_the_table
from topend.parts import ContourProfile, Cutter, Head, Profile, SquishBand
from topend.parts.examples import fitting_path
from topend.parts.profile import PROFILES
from topend.physics import wiring
from topend.quantities import OUTPUTS, output
from topend.units import StatedValueError, figure_si, kind_of_unit, stated, stated_column, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = [
    "ANGLE",
    "BAND",
    "GAPS",
    "OFFSET",
    "RANGES",
    "VOLUMES",
    "Asked",
    "example_figure",
    "one_volume",
    "path_column",
    "positive_figure",
    "target_column",
]

OFFSET: Final = "head.recess_offset"
BAND: Final = "head.profile.band."
ANGLE: Final = f"{BAND}angle"
#: Targets that one dimension of the half-section is moved for.
VOLUMES: Final = ("compression_ratio", "trapped_compression_ratio", "clearance_volume", "chamber_volume")
#: Targets that the offset is moved for, each of which it moves one for one.
GAPS: Final = ("squish_edge", "squish_min")

#: Ranges that a dimension is looked for on, by its last name: ends in SI, or in bores where the sizes of the engine count.
RANGES: Final[dict[str, tuple[float, float]]] = {
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
}
#: What moves where nothing is said.
_FREE: Final = {"hemisphere": "wall_height", "bathtub": "depth", "truncated-cone": "depth", "toroidal-rim": "depth"}


class Asked:
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
        of_the_table("design_head", targets, top.extra_outputs, "how a head's dimensions move it is not known beforehand")
        self.before = _chamber_now(top)
        self.top = top
        self.head = _by_profile_alone(top, profile)
        self.target = one_volume(targets, "design_head", VOLUMES)
        self.gap = next((name for name in GAPS if name in targets), None)
        self._refuse_targets(targets)
        self.targets: dict[str, Any] = {name: positive_figure(name, given, "the target") for name, given in targets.items()}
        self.cutter = cutter
        if cutter is not None and not isinstance(cutter, Cutter):
            raise ArgumentError(f"cutter must be a Cutter, such as Cutter(tool_radius='2 mm'); got {cutter!r}")
        must_be("design_head", "limits", limits, Mapping, ', such as {"head.profile.depth": ("5 mm", "14 mm")}')
        self.limits = {self._known(path): self._limit(path, ends) for path, ends in limits.items()}

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
        given = [free] if isinstance(free, str) else free
        if not isinstance(given, Sequence) or not all(isinstance(path, str) for path in given):
            raise ArgumentError(f'design_head: free must be a path or a list of paths, such as "head.profile.depth"; got {free!r}')
        if not given:
            raise DesignError("free is empty: name the dimension that moves")
        return [self._checked(path) for path in given]

    def _known(self, written: str) -> str:
        """A dimension of this head, by the path in its half-section."""
        path = written.replace("head.band.", BAND) if str(written).startswith("head.band.") else written
        known = sorted({*_dimensions(self.profile), OFFSET})
        if path not in known:
            which = "" if nearest(path, known) else f", which has {', '.join(known)}"
            raise UnknownNameError(path, known, what="dimension", searched=f"this head ({self.profile.shape}){which}")
        return path

    def _checked(self, written: str) -> str:
        """The same, where nothing else moves it already."""
        path = self._known(written)
        if path == OFFSET and self.gap is not None:
            raise DesignError(f"{OFFSET} moves for {self.gap} already; free another dimension, or leave {self.gap} out")
        if path == ANGLE and "squish_inner" in self.targets:
            raise DesignError(f"{ANGLE} moves for squish_inner already; free another dimension, or leave squish_inner out")
        return path


def _dimensions(profile: Any) -> list[str]:
    """Paths of what can move in a half-section."""
    made = []
    if isinstance(profile, ContourProfile):
        for index, point in enumerate(profile.points):
            made += [f"head.profile.points.{index}.radius", *([f"head.profile.points.{index}.height"] if index else [])]
            made += [f"head.profile.points.{index}.arc_radius"] if point.arc_radius is not None else []
        return made
    own = [name for name in type(profile).model_fields if name in RANGES]
    return [*(f"head.profile.{name}" for name in own), *(f"{BAND}{name}" for name in ("outer_diameter", "inner_diameter", "angle"))]


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
        raise DesignError(
            "the head has no half-section to design; give it a profile, such as profile=BowlProfile(); "
            'in a job file a table [head.profile], such as shape = "bowl"'
        )
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


def one_volume(targets: Mapping[str, Any], what: str, allowed: Sequence[str]) -> str:
    """The one target of `allowed` among `targets`. Raises `DesignError` for none, several, or others beside one."""
    given = [name for name in targets if name in allowed]
    if len(given) != 1:
        got = ", ".join(given) if given else ", ".join(targets) or "none"
        raise DesignError(f"{what} needs one target of {', '.join(allowed)}; got {got}")
    if what == "volume_to_remove" and len(targets) > 1:
        raise DesignError(f"{what} takes one target of {', '.join(allowed)}, and squish_edge; got {', '.join(targets)}")
    return given[0]


def example_figure(name: str) -> str:
    """How a figure of an output is written, for messages."""
    unit = OUTPUTS[name].unit
    return "0.1" if unit == "–" else f'"0.1 {unit}"'


def positive_figure(name: str, given: Any, what: str) -> float:
    """A target or a spread in SI [of the output's unit]. Raises `DesignError` where it cannot be read or is too small."""
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
        raise DesignError(f"{path} {fitting_path(error, path)}") from None


def path_column(path: str, values: Any) -> NDArray[np.float64]:
    """A column of an input in SI. Raises `DesignError` where it cannot be read."""
    kind = kind_of_unit(input_unit(path))
    assert kind is not None
    try:
        made, unit = stated_column(values, kind)
    except StatedValueError as error:
        raise DesignError(f"{path} {fitting_path(error, path)}") from None
    return np.asarray(to_si(made, unit))


def target_column(name: str, given: Any) -> NDArray[np.float64]:
    """A column of a target in SI, one row or more. Raises `DesignError` where it cannot be read or a row is too small."""
    unit = OUTPUTS[name].unit
    if unit == "–":
        made = np.asarray(given)
        if made.ndim != 1 or not len(made) or made.dtype.kind not in "iuf" or not ((made > 1.0) & (made < np.inf)).all():
            raise DesignError(f"{name} must be plain numbers of more than 1, in one row; got {given!r:.80}")
        return made.astype(np.float64)
    kind = kind_of_unit(unit)
    assert kind is not None
    try:
        column, stated_in = stated_column(given, kind)
    except StatedValueError as error:
        raise DesignError(f"{name} {error}") from None
    in_si = np.asarray(to_si(column, stated_in))
    if not len(in_si) or not (in_si > 0.0).all():
        raise DesignError(f"{name} must be more than 0 in every row, of which there is at least one; got {given!r:.80}")
    return in_si
