"""The bench card: all that one top end comes to, what it rests on, and what to beware of, as text and as JSON."""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from topend.assembly import TopEnd
from topend.checks import findings
from topend.errors import MissingInputError, PartError
from topend.evaluation import Assumed, Result, evaluate
from topend.learning import Learned, learn
from topend.physics import wiring
from topend.quantities import Finding
from topend.report.card_text import card_text
from topend.report.cautions import CAUTIONS
from topend.report.figures import Figure
from topend.report.finding_words import finding_dict
from topend.report.sections import AT_SPEED, CLOSED_CYCLE, CLOSING_DRAWS, HOT, LOCATED, WINDOWS
from topend.report.stack import gasket_dict, stack_of
from topend.uncertainty import Uncertain, uncertainty
from topend.units import Quantity
from topend.wires import wire_places

__all__ = ["BenchCard"]


@dataclass(frozen=True)
class BenchCard:
    """A top end on one page: `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `top` the top end; `title` and `file` where it is from; `packs` a line on each data pack its parts are
    from. Nothing is evaluated before it is asked for.

    >>> from topend.parts import DeckReading, FlushHead, Gasket
    >>> top = TopEnd(deck=DeckReading(clearance="0.70 mm"), head=FlushHead(), head_gaskets=[Gasket(role="head", thickness="0.30 mm")])
    >>> card = BenchCard(top, title="dry fit")
    >>> card.to_dict()["squish_edge"]["unit"], card.text.splitlines()[0]
    ('mm', 'BENCH CARD: dry fit')
    """

    top: TopEnd = field(repr=False)
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    @functools.cached_property
    def result(self) -> Result:
        """What the top end comes to."""
        return evaluate(self.top)

    @functools.cached_property
    def uncertain(self) -> dict[str, Uncertain]:
        """Every output that can be had, with its uncertainty and budget; what closes the gap at speed is drawn."""
        return {**uncertainty(self.top), **self.closing, **self.hot, **self.windows, **self.located, **self.cycle}

    @functools.cached_property
    def closing(self) -> dict[str, Uncertain]:
        """What closes the gap at the speed that is stated, as far as it can be had; empty where no speed is."""
        missing = wiring.plan(self.top.row.structure, AT_SPEED).missing
        named = [name for name in AT_SPEED if name not in missing]
        return uncertainty(self.top, named, method="monte-carlo", draws=CLOSING_DRAWS) if named else {}

    @functools.cached_property
    def family(self) -> Learned | None:
        """What the engines of the family that were opened leave possible; None where none was, or the closing cannot be had."""
        opened = self.top.crank is not None and bool(self.top.crank.opened)
        return learn(self.top) if opened and "running_clearance" in self.closing else None

    @functools.cached_property
    def hot(self) -> dict[str, Uncertain]:
        """What heat does, as far as rises and sizes are stated; empty where no rise is."""
        running = self.top.running
        if running is None or not any(path.endswith("_rise") for path, _ in running.stated()):
            return {}
        missing = wiring.plan(self.top.row.structure, HOT).missing
        named = [name for name in HOT if name not in missing]
        return uncertainty(self.top, named) if named else {}

    @functools.cached_property
    def windows(self) -> dict[str, Uncertain]:
        """Areas and time-areas of the ports whose windows are stated."""
        missing = wiring.plan(self.top.row.structure, WINDOWS).missing
        named = [name for name in WINDOWS if name not in missing]
        return uncertainty(self.top, named) if named else {}

    @functools.cached_property
    def cycle(self) -> dict[str, Uncertain]:
        """The closed cycle, where a burn or how it is turned over is stated."""
        if self.top.burn is None and self.top.cranking is None:
            return {}
        missing = wiring.plan(self.top.row.structure, CLOSED_CYCLE).missing
        # the error of the march is no figure of the engine
        named = [name for name in CLOSED_CYCLE if name not in missing and name != "cycle_step_error"]
        return uncertainty(self.top, named) if named else {}

    @functools.cached_property
    def located(self) -> dict[str, Uncertain]:
        """How far the head lies off, and what follows; empty where no location is stated."""
        structure = self.top.row.structure
        if self.top.location is None:
            return {}
        missing = wiring.plan(structure, LOCATED).missing
        # without a recess there is no room beside its wall
        recess = "head.recess:stated" in structure.tags
        named = [name for name in LOCATED if name not in missing and (recess or not name.startswith(("side_room", "recess_")))]
        return uncertainty(self.top, named) if named else {}

    @functools.cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """What nobody stated: for all figures but the closing at speed, then what that takes besides."""
        known = {one.path for one in (*self.result.assumed, *self.assumed_at_speed)}
        beside = [*self.hot, *self.windows, *self.located, *self.cycle]
        hot = evaluate(self.top, beside).assumed if beside else ()
        return (*self.result.assumed, *self.assumed_at_speed, *(one for one in hot if one.path not in known))

    @functools.cached_property
    def assumed_at_speed(self) -> tuple[Assumed, ...]:
        """What is assumed for the closing at speed alone, greatest share first."""
        if not self.closing:
            return ()
        known = {one.path for one in self.result.assumed}
        more = [one for one in evaluate(self.top, list(self.closing)).assumed if one.path not in known]
        shares = {one.path: self.shares(one.path).get("closure_total", 0.0) for one in more}
        return tuple(sorted(more, key=lambda one: -shares[one.path]))

    @functools.cached_property
    def figures(self) -> dict[str, Figure]:
        """Every output that can be had, as it is shown."""
        return {name: Figure.of(one) for name, one in self.uncertain.items()}

    @functools.cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What is wrong or risky."""
        return tuple(findings(self.result))

    @functools.cached_property
    def gap_at(self) -> tuple[float, Figure] | MissingInputError | PartError:
        """Radius [mm] and figure of the expected wire reading, 1 mm inside the band's outer edge; or why there is none."""
        try:
            gap = self.result.gap_at()
        except (MissingInputError, PartError) as error:
            return error
        return round(wire_places(self.top)[0].radius * 1e3, 6), self._wire_figure(gap.m_as("mm"))

    @functools.cached_property
    def least_gap_at(self) -> tuple[float, Figure] | None:
        """Radius [mm] and figure of a second wire, where the gap is least; None where the first shows as much (`topend.wires`)."""
        least = next((one for one in wire_places(self.top) if one.at == "least"), None)
        return None if least is None else (round(least.radius * 1e3, 2), self._wire_figure(least.gap * 1e3))

    def _wire_figure(self, gap: float) -> Figure:
        # what moves the gap moves it most at one of the band's edges, so the greater of theirs is no less than its own
        edges = [self.figures[name] for name in ("squish_edge", "squish_inner")]
        return Figure(gap, "mm", max(edge.u for edge in edges), min(edge.decimals for edge in edges))

    def shares(self, path: str) -> dict[str, float]:
        """Share of an input in the variance of each output it bears on, from 0 to 1, greatest first."""
        found = {}
        for name, one in self.uncertain.items():
            own = sum(share.u**2 for share in one.shares if path in share.paths and share.basis != "written")
            if own > 0.0 and one.u > 0.0:
                found[name] = own / one.u**2
        return dict(sorted(found.items(), key=lambda item: -item[1]))

    def missing(self) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Outputs that cannot be had, grouped by what they need: (outputs, paths), least needs first."""
        groups: dict[frozenset[str], list[str]] = {}
        order: dict[frozenset[str], tuple[str, ...]] = {}
        for name, needs in self.result.missing.items():
            key = frozenset(needs)
            groups.setdefault(key, []).append(name)
            order.setdefault(key, needs)
        return sorted(((tuple(names), order[key]) for key, names in groups.items()), key=lambda group: len(group[1]))

    # --- JSON ---

    def to_dict(self) -> dict[str, Any]:
        """The card as plain data: each output under its name, and beside them what the figures rest on.

        Outputs: ``{"value", "unit", "u", "interval", "decimals"}`` in the unit of the outputs table, and ``"pack"`` of those that a
        pack adds. Beside them: `title`,
        `file`, `packs`, `parts`, `stack`, `gap_at`, `least_gap_at`, `assumed`, `missing`, `findings`, `cautions`; and
        `opened`, what engines of the family that were opened leave possible, where there are any.
        """
        made: dict[str, Any] = {name: figure.to_dict() for name, figure in self.figures.items()}
        if "squish_velocity_peak" in made:
            made["squish_velocity_peak"]["direction"] = self.result.squish_direction
        for name, one in self.closing.items():
            made[name]["range"] = list(one.interval)
        for extra in self.top.extra_outputs:
            if extra.output.name in made:
                made[extra.output.name]["pack"] = extra.pack
        if self.family is not None:
            made["opened"] = self._opened_dict(self.family)
        made |= {
            "title": self.title,
            "file": self.file,
            "packs": list(self.packs),
            "parts": self.top.model_dump(mode="json", exclude_none=True),
            "stack": [gasket_dict(role, gasket) for role, gasket in stack_of(self.top)],
            "gap_at": self._gap_at_dict(),
            "least_gap_at": None if self.least_gap_at is None else _at(*self.least_gap_at),
            "assumed": [self._assumed_dict(one) for one in self.assumed],
            "missing": {name: list(needs) for name, needs in self.result.missing.items()},
            "findings": [finding_dict(one) for one in self.findings],
            "cautions": list(CAUTIONS),
        }
        return made

    def json(self, *, ascii_only: bool = False) -> str:
        """`to_dict` as JSON text."""
        return json.dumps(self.to_dict(), indent=2, ensure_ascii=ascii_only, allow_nan=False)

    def _gap_at_dict(self) -> dict[str, Any]:
        reading = self.gap_at
        if isinstance(reading, MissingInputError):
            return {"needs": list(reading.needs)}
        if isinstance(reading, PartError):
            return {"why": str(reading)}
        return _at(*reading)

    def _opened_dict(self, family: Learned) -> dict[str, Any]:
        """What the opened engines leave, at the stated speed [mm]."""
        assert self.top.running is not None
        closing = family.closing(self.top, crank_speed_rpm=self.top.running.crank_speed.m_as("rpm"), draws=CLOSING_DRAWS)
        left = family.left(self.top, draws=CLOSING_DRAWS)
        ends = {name: np.quantile(drawn, (0.025, 0.975)).tolist() for name, drawn in (("closing", closing), ("left", left))}
        return {"engines": family.engines, **ends, "unit": "mm", "touches": float(np.mean(left <= 0.0))}

    def _assumed_dict(self, one: Assumed) -> dict[str, Any]:
        return {
            "path": one.path,
            "value": _plain(one.value),
            "limits": None if one.limits is None else [_plain(end) for end in one.limits],
            "why": one.why,
            "shares": self.shares(one.path),
        }

    # --- for people ---

    @property
    def no_warning(self) -> str | None:
        """What to say where nothing is warned of, which is no proof; None where there is a warning."""
        if any(one.severity != "note" for one in self.findings):
            return None
        if "squish_min" in self.figures or "squish_edge" in self.figures:
            return f"None from the checks made{self._judged_besides}, which is no proof that it is safe."
        return "The gap was not checked, for it cannot be had: see what is needed below."

    @property
    def _judged_besides(self) -> str:
        """Whose judgements were asked beside topend's own."""
        packs = list(dict.fromkeys(one.pack for one in self.top.extra_findings if one.pack))
        return f", of topend and of {'packs' if len(packs) > 1 else 'pack'} {', '.join(packs)}" if packs else ""

    @functools.cached_property
    def text(self) -> str:
        """The card in plain text for 80 columns."""
        return card_text(self)

    def page(self, *, inch: bool = False) -> str:
        """The card as one HTML page that needs nothing else: section, readings to take, assembly. `inch` puts inches beside lengths.

        Raises `MissingExtraError` without Jinja2 (extra `report`).
        """
        from topend.report.html import card_page

        return card_page(self, inch=inch)


def _at(radius: float, figure: Figure) -> dict[str, Any]:
    return {"radius": {"value": radius, "unit": "mm"}, **figure.to_dict()}


def _plain(value: Quantity | None) -> dict[str, Any] | None:
    return None if value is None else {"value": float(value.magnitude), "unit": f"{value.units:~P}"}
