"""Findings about ports that were made too large, for the ring that crosses them and for the charge."""

from __future__ import annotations

from typing import Final

from topend.checks.values import known_mm
from topend.evaluation import Result
from topend.quantities import Finding

__all__ = ["SPACER_MM", "WIDE_SHARE", "findings"]

#: Chordal width of one window over the bore: a wider one lets the ring spring out into it.
WIDE_SHARE: Final = 0.70
#: From this nominal thickness on what lies under the barrel is a spacer.
SPACER_MM: Final = 1.0
#: How far a spacer's cut-outs may stand outside the passages before the step is said.
STEP_MM: Final = 0.5
_NOTHING: Final = 1e-9


def findings(result: Result) -> list[Finding]:
    """What is to be said of windows and passages; what is judged does not depend on which outputs `result` was asked for.

    >>> from topend.assembly import TopEnd
    >>> from topend.evaluation import evaluate
    >>> from topend.parts import Cylinder, Port
    >>> wide = Cylinder(bore="54 mm", ports=[Port(kind="exhaust", top="30 mm", width="40 mm")])
    >>> [finding.code for finding in findings(evaluate(TopEnd(cylinder=wide)))]
    ['port_wide_for_ring']
    """
    return [*_wide(result), *_passages(result)]


def _wide(result: Result) -> list[Finding]:
    cylinder = result.top.cylinder
    found = []
    for index in range(len(cylinder.ports) if cylinder is not None else 0):
        known = known_mm(result, f"cylinder.ports.{index}.chord", "cylinder.bore")
        if known is None or known[0] <= WIDE_SHARE * known[1] + _NOTHING:
            continue
        width, bore = known
        found.append(
            Finding(
                code="port_wide_for_ring",
                severity="warning",
                message=f"cylinder.ports.{index}: its window is {width:.2f} mm wide as a chord, where {WIDE_SHARE * bore:.2f} mm "
                f"({100.0 * WIDE_SHARE:.0f} % of the bore) is the most that one window is made",
                do="a bridge in the port, or auxiliary ports beside a narrower one",
                standing="memory",
                figure=width,
                limit=WIDE_SHARE * bore,
                unit="mm",
                effect="the ring springs out into the window and catches on its edge: it breaks, or wears the bore beside it",
            )
        )
    return found


def _passages(result: Result) -> list[Finding]:
    """Cut-outs of the base stack against the transfer passages in the barrel's base face."""
    cylinder = result.top.cylinder
    window = None if cylinder is None else cylinder.window_diameter
    found: list[Finding] = []
    for index, gasket in enumerate(result.top.base_gaskets or ()):
        if window is None or gasket.window_diameter is None:
            continue
        step = (window.si - gasket.window_diameter.si) * 500.0
        spacer = gasket.thickness.m_as("mm") >= SPACER_MM - _NOTHING
        if step <= _NOTHING and not (spacer and -step > STEP_MM + _NOTHING):
            continue
        where = f"base_gaskets.{index}: its cut-outs reach out to {gasket.window_diameter.text}, the transfer passages to {window.text}"
        outside = step < 0.0
        found.append(
            Finding(
                code="passages_stepped" if spacer else "gasket_short_of_windows",
                severity="note" if outside else "warning",
                message=f"{where}: {f'a step of {abs(step):.2f} mm all along' if spacer else f'{step:.2f} mm of it hang into them'}",
                do="a spacer cut to the passages" if outside else "cut the gasket or spacer out to the passages before it is fitted",
                standing="memory" if outside else "common practice",
                figure=gasket.window_diameter.m_as("mm"),
                limit=window.m_as("mm") + (2.0 * STEP_MM if outside else 0.0),
                unit="mm",
                effect="the charge breaks away from the wall there: less flow, and streams that point elsewhere"
                if spacer
                else "it flutters in the charge, and what tears off goes through the engine",
            )
        )
    return found
