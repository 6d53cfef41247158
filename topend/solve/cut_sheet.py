"""The cut sheet of a designed head: nominal sizes, and limits that keep the target within its spread at every corner of them."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import DesignError
from topend.evaluation import evaluate_columns, input_unit
from topend.quantities import OUTPUTS
from topend.uncertainty import sensitivities
from topend.units import from_si, to_si

__all__ = ["CutLine", "CutSheet", "made_cut_sheet"]

#: Nominal sizes are given to this, limits in steps of this, and no wider than this: by the unit they are shown in.
_NOMINAL: Final = {"mm": 0.01, "deg": 0.05}
_STEP: Final = {"mm": 0.005, "deg": 0.05}
_WIDEST: Final = {"mm": 0.2, "deg": 1.0}
#: Sizes of the plug are bought, not cut.
_BOUGHT: Final = ("thread_diameter", "thread_pitch", "reach", "nose_volume")
#: Corners of the limits, two a size, that are all evaluated.
_MOST: Final = 14


@dataclass(frozen=True)
class CutLine:
    """One size to cut: its path, nominal and limits in `unit`, and how much the target moves from one limit to the other."""

    path: str
    nominal: float
    low: float
    high: float
    unit: str
    effect: float

    @property
    def half_width(self) -> float:
        """How far a limit lies from the nominal."""
        return self.high - self.nominal


@dataclass(frozen=True)
class CutSheet:
    """Sizes with limits that keep `target` within `value` ± `spread` [unit of the target]; `least` and `most` are over every corner.

    `notes` say what cannot be held by measuring lengths.

    Made by `cut_sheet()` of a solution of `te.design_head`, whose example shows one.
    """

    target: str
    value: float
    spread: float
    lines: tuple[CutLine, ...]
    least: float
    most: float
    notes: tuple[str, ...] = ()


def made_cut_sheet(top: TopEnd, target: str, value: float, spread: float) -> CutSheet:
    """The cut sheet of the head of `top`, whose target comes to `value` ± `spread` [SI].

    Every size gets the same share of the spread, in whole steps; what a size cannot use, being at its widest, goes to the others. Then
    every corner of the limits is evaluated, and the limits are narrowed until all corners are inside. Raises `DesignError` where the
    spread is finer than the steps allow.
    """
    paths = [path for path in top.row.values if _is_cut(path)]
    slopes = sensitivities(top, [target])[target]
    paths = [path for path in paths if abs(slopes.get(path, 0.0)) > 0.0][:_MOST]
    if not paths:
        raise DesignError(f"no size of the head moves {target}; there is nothing to put on a cut sheet")
    unit = {path: input_unit(path) for path in paths}
    nominal = {path: _rounded(from_si(top.row.values[path], unit[path]), _NOMINAL[unit[path]]) for path in paths}
    shown_spread = from_si(spread, OUTPUTS[target].unit)
    shown_value = from_si(value, OUTPUTS[target].unit)
    own = abs(_corners(top, target, nominal, dict.fromkeys(paths, 0.0), unit)[0] - shown_value)
    share = max(shown_spread - own, 0.0)
    half = _shared(paths, slopes, unit, share)
    finest = {path: _STEP[unit[path]] for path in paths}
    least = most = math.nan
    for _ in range(400):
        if all(half[path] < finest[path] for path in paths):
            raise DesignError(
                f"a spread of {shown_spread:g} in {target} is finer than sizes in steps of 0.005 mm and 0.05 deg can hold "
                f"(the rounded sizes alone are off by {own:.4f}); cut the last of it to a measured volume"
            )
        reached = _corners(top, target, nominal, half, unit)
        least, most = float(np.min(reached)), float(np.max(reached))
        # a corner that cannot be built is outside too
        if most <= shown_value + shown_spread * (1 + 1e-12) and least >= shown_value - shown_spread * (1 + 1e-12):
            break
        share *= 0.97
        half = _shared(paths, slopes, unit, share)
    fine = [path for path in paths if half[path] < finest[path]]
    notes = tuple(f"{path} would have to be held finer than {finest[path]:g} {unit[path]}: cut it to a measured volume" for path in fine)
    lines = tuple(
        CutLine(
            path,
            nominal[path],
            round(nominal[path] - half[path], 6),
            round(nominal[path] + half[path], 6),
            unit[path],
            2.0 * half[path] * abs(slopes[path]),
        )
        for path in paths
    )
    return CutSheet(target, shown_value, shown_spread, lines, least, most, notes)


def _is_cut(path: str) -> bool:
    if path == "head.recess_offset":
        return True
    return path.startswith("head.profile.") and path.rsplit(".", 1)[1] not in _BOUGHT and input_unit(path) in _NOMINAL


def _rounded(value: float, step: float) -> float:
    return round(round(value / step) * step, 6)


def _shared(paths: list[str], slopes: dict[str, float], unit: dict[str, str], share: float) -> dict[str, float]:
    """Half-widths of limits, in whole steps, whose effects together are at most `share`."""
    half: dict[str, float] = {}
    left, open_paths = share, list(paths)
    while open_paths:
        each = left / len(open_paths)
        full = [path for path in open_paths if each >= abs(slopes[path]) * _WIDEST[unit[path]]]
        if not full:
            break
        for path in full:
            half[path] = _WIDEST[unit[path]]
            left -= half[path] * abs(slopes[path])
            open_paths.remove(path)
    for path in open_paths:
        step = _STEP[unit[path]]
        half[path] = round(math.floor(left / len(open_paths) / abs(slopes[path]) / step + 1e-9) * step, 6)
    return half


def _corners(top: TopEnd, target: str, nominal: dict[str, float], half: dict[str, float], unit: dict[str, str]) -> Any:
    """The target at every corner of the limits, shown; NaN becomes infinite, so that it counts as outside."""
    moving = [path for path in nominal if half[path] > 0.0]
    signs = np.array(list(itertools.product((-1.0, 1.0), repeat=len(moving)))).reshape(2 ** len(moving), len(moving))
    columns: dict[str, Any] = dict(top.row.columns())
    for path in nominal:
        at = np.full(len(signs), nominal[path])
        if path in moving:
            at = at + half[path] * signs[:, moving.index(path)]
        columns[path] = np.asarray(to_si(at, unit[path]))
    outer = "head.profile.band.outer_diameter"
    if outer in nominal and top.row.values.get("head.spigot_diameter") == top.row.values[outer]:
        # one and the same cut
        columns["head.spigot_diameter"] = columns[outer]
    made, _ = evaluate_columns(top.row.structure, columns, [target])
    shown = from_si(made[target], OUTPUTS[target].unit)
    return np.where(np.isfinite(shown), shown, np.inf)
