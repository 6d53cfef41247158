"""The bench card: all that one top end comes to, what it rests on, and what to beware of, as text and as JSON."""

from __future__ import annotations

import functools
import json
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from topend.assembly import TopEnd
from topend.checks import findings
from topend.curves import contact_probability
from topend.errors import MissingInputError, PartError
from topend.evaluation import Assumed, Result, evaluate
from topend.parts import Gasket, Part, Piston, SpigotHead
from topend.physics import wiring
from topend.physics.wiring import CLOSING_PARTS
from topend.quantities import INPUTS, OUTPUTS, Finding
from topend.report import words
from topend.report.cautions import CAUTIONS
from topend.report.figures import Figure
from topend.report.layout import columns, heading, labelled, paragraph
from topend.uncertainty import COVERAGE, Uncertain, uncertainty
from topend.units import Quantity, StatedQuantity

__all__ = ["CLOSING_DRAWS", "NOT_MODELLED", "SECTIONS", "SHOP_RULE", "BenchCard", "finding_lines"]

#: What each output is, beside its figure on the card; where the words follow from the sign, see `_beside`.
_BESIDE: Final[Mapping[str, str]] = {
    "squish_edge": "at the band's outer edge",
    "squish_inner": "at the band's inner edge",
    "squish_min": "least over the band",
    "squish_mean": "mean over the band's area",
    "contact_min": "least, crown to head",
    "piston_travel": "BDC to TDC",
    "swept_volume": "bore area x travel",
    "clearance_volume": "at TDC, plug fitted",
    "crevice_volume": "beside the top land",
    "compression_ratio": "over the whole travel",
    "trapped_compression_ratio": "from exhaust closing",
    "squish_area_ratio": "band area / bore area",
    "exhaust_opens": "after TDC",
    "exhaust_closes": "before TDC",
    "exhaust_duration": "open",
    "transfer_opens": "after TDC",
    "transfer_closes": "before TDC",
    "transfer_duration": "open",
    "blowdown": "exhaust before transfers",
    "mean_piston_speed": "mean over a turn",
    "squish_velocity_angle": "before TDC, at that peak",
    "tdc_acceleration": "at TDC, toward the crank",
    "exhaust_area": "open at BDC",
    "transfer_area": "open at BDC",
    "exhaust_time_area": "per swept volume",
    "transfer_time_area": "per swept volume",
    "blowdown_time_area": "until transfers open",
    "skirt_clearance": "bore less skirt, cold",
    "spigot_clearance": "bore less spigot, cold",
    "closure_rod": "rod stretched",
    "closure_small_end": "rollers pressed in",
    "closure_big_end": "rollers pressed in",
    "closure_main_bearings": "balls pressed in",
    "closure_small_end_play": "clearance taken up",
    "closure_big_end_play": "clearance taken up",
    "closure_main_bearing_play": "clearance taken up",
    "closure_crankpin": "crankpin sheared",
    "closure_crank": "webs opened, shaft bent",
    "closure_unexplained": "beyond the parts modelled",
    "closure_total": "all of these together",
    "contact_speed": "where the gap is gone",
}

#: The card's tables of outputs, in order.
SECTIONS: Final[Mapping[str, tuple[str, ...]]] = {
    "Gaps at TDC, cold": ("deck_clearance", "squish_edge", "squish_inner", "squish_min", "squish_mean", "contact_min"),
    "Travel and volumes": ("piston_travel", "swept_volume", "crown_volume", "clearance_volume", "crevice_volume"),
    "Ratios": ("compression_ratio", "trapped_compression_ratio", "squish_area_ratio"),
    "Timing, crank degrees": (
        "exhaust_opens",
        "exhaust_closes",
        "exhaust_duration",
        "transfer_opens",
        "transfer_closes",
        "transfer_duration",
        "blowdown",
    ),
    "Closing at speed, throttle shut": (
        *(f"closure_{part}" for part in CLOSING_PARTS),
        *("closure_total", "running_clearance", "contact_speed", "closure_pulling", "pulling_clearance"),
    ),
    "Hot": (
        *("hot_gap_change", "hot_running_clearance", "skirt_clearance", "skirt_clearance_hot"),
        *("ring_gap_closing", "ring_gap_hot", "spigot_clearance", "spigot_clearance_hot"),
    ),
    "Port windows": ("exhaust_area", "transfer_area", "exhaust_time_area", "transfer_time_area", "blowdown_time_area"),
    "Speeds": ("mean_piston_speed", "squish_velocity_peak", "squish_velocity_angle", "tdc_acceleration"),
}

_SPREAD: Final = (
    "± is twice the standard uncertainty (about 95 %), from limits stated or assumed. A figure without ± rests on none; "
    "that does not make it exact."
)

#: What closes the gap at speed: worked out for the card where a speed is stated.
_AT_SPEED: Final = SECTIONS["Closing at speed, throttle shut"]
#: What is worked out for the card where windows are stated.
_WINDOWS: Final = SECTIONS["Port windows"]
#: What heat does: worked out for the card where a rise is stated.
_HOT: Final = SECTIONS["Hot"]
#: Draws for it; they settle the ends of its range to a hundredth of a millimetre.
CLOSING_DRAWS: Final = 20_000
#: How many inputs that carry its width are named.
_SHOWN_CARRIERS: Final = 4
NOT_MODELLED: Final = "rocking of the piston, growth of crown and rod with heat, carbon, twist of the crank, give of the case"
SHOP_RULE: Final = "0.6 mm is the least that is set, and may close to nearly nothing at 13 000 to 16 000 rpm"

#: How many outputs an assumption is shown to matter to.
_SHOWN_SHARES: Final = 3
#: Which of them: what a builder decides by, and one of each kind, so that the lines stay short.
_DECIDING: Final = (
    "squish_min",
    "squish_edge",
    "deck_clearance",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_duration",
    "transfer_duration",
    "squish_velocity_peak",
    "clearance_volume",
    "tdc_acceleration",
)


@dataclass(frozen=True)
class BenchCard:
    """A top end on one page: `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `top` the top end; `title` and `file` where it is from; `packs` a line on each data pack its parts are
    from. Nothing is evaluated before it is asked for.

    >>> from topend.parts import DeckReading, FlushHead
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
        return {**uncertainty(self.top), **self.closing, **self.hot, **self.windows}

    @functools.cached_property
    def closing(self) -> dict[str, Uncertain]:
        """What closes the gap at the speed that is stated, as far as it can be had; empty where no speed is."""
        missing = wiring.plan(self.top.row.structure, _AT_SPEED).missing
        named = [name for name in _AT_SPEED if name not in missing]
        return uncertainty(self.top, named, method="monte-carlo", draws=CLOSING_DRAWS) if named else {}

    @functools.cached_property
    def hot(self) -> dict[str, Uncertain]:
        """What heat does, as far as rises and sizes are stated; empty where no rise is."""
        running = self.top.running
        if running is None or not any(path.endswith("_rise") for path, _ in running.stated()):
            return {}
        missing = wiring.plan(self.top.row.structure, _HOT).missing
        named = [name for name in _HOT if name not in missing]
        return uncertainty(self.top, named) if named else {}

    @functools.cached_property
    def windows(self) -> dict[str, Uncertain]:
        """Areas and time-areas of the ports whose windows are stated."""
        missing = wiring.plan(self.top.row.structure, _WINDOWS).missing
        named = [name for name in _WINDOWS if name not in missing]
        return uncertainty(self.top, named) if named else {}

    @functools.cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """What nobody stated: for all figures but the closing at speed, then what that takes besides."""
        known = {one.path for one in (*self.result.assumed, *self.assumed_at_speed)}
        beside = [*self.hot, *self.windows]
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
        head, cylinder = self.top.head, self.top.cylinder
        # a gap can be had, so the band and the bore are stated
        outer = head.band.outer_diameter if head is not None and head.band is not None else None
        bore = cylinder.bore if cylinder is not None else None
        radius = min(one.si for one in (outer, bore) if one is not None) / 2.0 * 1e3 - 1.0
        # what moves the gap moves it most at one of the band's edges, so the greater of theirs is no less than its own
        edges = [self.figures[name] for name in ("squish_edge", "squish_inner")]
        return radius, Figure(gap.m_as("mm"), "mm", max(edge.u for edge in edges), min(edge.decimals for edge in edges))

    def shares(self, path: str) -> dict[str, float]:
        """Share of an input in the variance of each output it bears on, from 0 to 1, greatest first."""
        found = {}
        for name, one in self.uncertain.items():
            own = sum(share.u**2 for share in one.shares if share.path == path and share.basis != "written")
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

        Outputs: ``{"value", "unit", "u", "interval", "decimals"}`` in the unit of the outputs table. Beside them: `title`,
        `file`, `packs`, `parts`, `stack`, `gap_at`, `assumed`, `missing`, `findings`, `cautions`.
        """
        made: dict[str, Any] = {name: figure.to_dict() for name, figure in self.figures.items()}
        if "squish_velocity_peak" in made:
            made["squish_velocity_peak"]["direction"] = self.result.squish_direction
        for name, one in self.closing.items():
            made[name]["range"] = list(one.interval)
        made |= {
            "title": self.title,
            "file": self.file,
            "packs": list(self.packs),
            "parts": self.top.model_dump(mode="json", exclude_none=True),
            "stack": [_gasket_dict(role, gasket) for role, gasket in _stack(self.top)],
            "gap_at": self._gap_at_dict(),
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
        radius, figure = reading
        return {"radius": {"value": radius, "unit": "mm"}, **figure.to_dict()}

    def _assumed_dict(self, one: Assumed) -> dict[str, Any]:
        return {
            "path": one.path,
            "value": _plain(one.value),
            "limits": None if one.limits is None else [_plain(end) for end in one.limits],
            "why": one.why,
            "shares": self.shares(one.path),
        }

    # --- text ---

    @functools.cached_property
    def text(self) -> str:
        """The card in plain text for 80 columns."""
        lines = paragraph(f"BENCH CARD: {self.title}" if self.title else "BENCH CARD", rest="  ")
        if self.file:
            lines.append(f"from {self.file}")
        for pack in self.packs:
            lines += paragraph(pack, first="parts from ")
        lines += self._finding_lines()
        lines += heading("Parts, as stated") + labelled(_part_rows(self.top))
        lines += self._stack_lines()
        for title, names in SECTIONS.items():
            lines += self._figure_lines(title, names)
            if names == _AT_SPEED:
                lines += self._closing_lines()
        if self.figures:
            lines += ["", *paragraph(_SPREAD)]
        lines += self._assumed_lines() + self._missing_lines()
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)

    def _finding_lines(self) -> list[str]:
        lines = finding_lines(self.findings)
        if any(one.severity != "note" for one in self.findings):
            return lines
        checked = "squish_min" in self.figures or "squish_edge" in self.figures
        none = "None from the checks made, which is no proof that it is safe."
        unchecked = "The gap was not checked, for it cannot be had: see what is needed below."
        return [*heading("Warnings"), f"  {none if checked else unchecked}", *lines]

    def _stack_lines(self) -> list[str]:
        top = self.top
        rows = [("", "", "nominal", "fitted, as counted", "")]
        rows += [
            (gasket.role, words.gasket_name(gasket), gasket.thickness.text, _fitted_words(gasket), _opening_words(gasket))
            for _, gasket in _stack(top)
        ]
        lines = heading("Gaskets, from the case up")
        if len(rows) > 1:
            lines += columns(rows)
        notes = []
        for stack, gaskets in (("base gaskets", top.base_gaskets), ("head gaskets", top.head_gaskets)):
            if gaskets is None:
                by_ring = stack == "head gaskets" and top.head is not None and top.head.seal == "o-ring"
                notes.append(f"{stack}: none, the head seals by an O-ring" if by_ring else f"{stack}: not given")
            elif not gaskets:
                notes.append(f"{stack}: none")
            elif len(gaskets) > 1:
                total = sum(gasket.fitted.si for gasket in gaskets) * 1e3
                notes.append(f"{stack}: {len(gaskets)} together {total:.{max(_decimals(gasket.fitted) for gasket in gaskets)}f} mm fitted")
        return lines + [f"  {note}" for note in notes]

    def _figure_lines(self, title: str, names: Iterable[str]) -> list[str]:
        had = [name for name in names if name in self.figures]
        gaps = "squish_edge" in names
        rows = []
        for name in had:
            figure = self.figures[name]
            rows.append((name, figure.number, figure.unit_text, figure.spread, self._beside(name)))
        note: list[str] = []
        if gaps:
            reading = self.gap_at
            if isinstance(reading, MissingInputError):
                note = paragraph(f"expected wire reading: needs {', '.join(reading.needs)}", first="  ", rest="    ")
            elif isinstance(reading, PartError):
                note = paragraph(f"expected wire reading: {reading}", first="  ", rest="    ")
            else:
                radius, figure = reading
                note = paragraph("The wire: laid 1 mm inside the band's outer edge, cold, and turned through TDC.", first="  ")
                rows.append(("wire should read", figure.number, figure.unit_text, figure.spread, f"at radius {radius:.2f} mm, see below"))
        if not rows and not (gaps and note and self.figures):
            return []
        return heading(title) + columns(_padded(rows)) + note

    def _closing_lines(self) -> list[str]:
        """The range of the closing, what carries its width, the verdict, and what is not in it."""
        if not self.closing:
            return []
        total = self.closing["closure_total"]
        low, high = total.interval
        lines = paragraph(
            f"The closing lies between {low:.2f} and {high:.2f} mm (95 % of {CLOSING_DRAWS} draws between the limits).", first="  "
        )
        carried = [(share.path, share.u**2 / total.u_written**2) for share in total.shares if share.basis != "written"]
        told = ", ".join(f"{path} {_percent(part)}" for path, part in carried[:_SHOWN_CARRIERS])
        if told:
            lines += paragraph(f"Its width is from: {told}.", first="  ", rest="    ")
        left = self.closing.get("running_clearance")
        if left is not None:
            verdict = "touches" if left.value <= 0.0 or left.interval[1] <= 0.0 else "not proven"
            ends = " to ".join(f"{end:.2f}" for end in left.interval)
            share = contact_probability(self.top, draws=CLOSING_DRAWS)
            chance = "in none of the draws" if share == 0.0 else f"in {_percent(share)} of the draws"
            told = f"Verdict: {verdict}. It touches {chance}. What is left of the least gap may be {ends} mm, cold parts."
            lines += paragraph(told, first="  ", rest="    ")
        lines += paragraph(f"Not in it: {NOT_MODELLED}.", first="  ", rest="    ")
        lines += paragraph(f"Beside it, common practice and not this model: {SHOP_RULE}.", first="  ", rest="    ")
        taken = [one.path for one in self.assumed_at_speed if one.limits is not None]
        if taken:
            names = ", ".join(taken)
            lines += paragraph(f"Taken as wide defaults from memory: {names}. See docs/closing.md.", first="  ", rest="    ")
        return lines

    def _beside(self, name: str) -> str:
        value = self.figures[name].value
        if name in ("running_clearance", "pulling_clearance"):
            gas = "" if name == "running_clearance" else ", pulling"
            return f"left of the least gap{gas}" if value > 0.0 else f"too much, touches{gas}"
        if name == "hot_gap_change":
            return "the gap opens hot" if value >= 0.0 else "the gap closes hot"
        if name == "hot_running_clearance":
            return "left at speed and hot" if value > 0.0 else "too much, touches hot"
        if name == "ring_gap_closing":
            return "its gap closes hot" if value >= 0.0 else "its gap opens hot"
        if name in ("skirt_clearance_hot", "spigot_clearance_hot", "ring_gap_hot"):
            return "hot" if value > 0.0 else "too much, binds hot"
        if name == "closure_pulling":
            return "all, with gas pressing" if value >= 0.0 else "opens, gas pressing"
        if name == "deck_clearance":
            return "level with the deck" if value == 0.0 else "crown edge below deck" if value > 0.0 else "crown edge above the deck"
        if name == "crown_volume":
            return "hollow, below its edge" if value < 0.0 else "above its edge"
        if name == "clearance_volume" and self.top.crevice == "included":
            return "at TDC, plug, crevice in it"
        if name == "squish_velocity_peak":
            return f"{self.result.squish_direction} at the inner edge"
        return _BESIDE.get(name, OUTPUTS[name].meaning)

    def _assumed_lines(self) -> list[str]:
        if not self.result.assumed:
            return []
        lines = heading("Assumed, because nobody stated it")
        for one in self.result.assumed:
            lines += paragraph(f"{one.path}{_taken(one)}", first="  ", rest="    ")
            lines += paragraph(one.why, first="      ")
            if one.value is not None:
                lines += paragraph(self._share_words(one), first="      ", rest="        ")
        return lines

    def _share_words(self, one: Assumed) -> str:
        if one.limits is None:
            return "its limits are not known, so it is in no ± here"
        shares = self.shares(one.path)
        if not shares:
            return "it adds nothing of its own to any ± here"
        named = [name for name in _DECIDING if shares.get(name, 0.0) >= 0.01] or list(shares)
        shown = sorted(named, key=lambda name: -round(shares[name], 2))[:_SHOWN_SHARES]
        told = ", ".join(f"{name} {_percent(shares[name])}" for name in shown)
        return f"its share of the uncertainty: {told}"

    def _missing_lines(self) -> list[str]:
        groups = self.missing()
        if not groups:
            return []
        lines = heading("Cannot be had yet")
        for names, needs in groups:
            lines += paragraph(", ".join(names), first="  ")
            lines += paragraph(f"needs {', '.join(needs)}", first="      ", rest="        ")
        paths = dict.fromkeys(path for _, needs in groups for path in needs)
        told = [(path, meaning) for path in paths if (meaning := _meaning(path))]
        if told:
            lines += ["  what these are:", *labelled(told, indent="    ")]
        return lines


# --- findings --------------------------------------------------------------------------------------------------------


def finding_dict(one: Finding) -> dict[str, Any]:
    """A finding as plain data."""
    return {
        "code": one.code,
        "severity": one.severity,
        "message": one.message,
        "figure": one.figure,
        "limit": one.limit,
        "margin": one.margin,
        "unit": one.unit,
        "standing": one.standing,
        "source": one.source,
        "effect": one.effect,
        "do": one.do,
    }


def finding_lines(found: Iterable[Finding]) -> list[str]:
    """Findings as a section of a page, warnings first: what, against which limit of what standing, and what to do.

    >>> finding_lines([Finding("x", "warning", "too thin", "a thicker one", "common practice", figure=0.5, limit=0.6, unit="mm")])
    ['', 'WARNINGS', '  ! too thin', '      limit 0.6 mm (common practice)', '      do: a thicker one']
    """
    lines: list[str] = []
    found = list(found)
    for title, told in (
        ("Warnings", [one for one in found if one.severity != "note"]),
        ("Notes", [one for one in found if one.severity == "note"]),
    ):
        if told:
            lines += heading(title)
        for one in told:
            lines += paragraph(one.message, first="  ! " if one.severity != "note" else "  - ")
            limit = "" if one.limit is None else f"limit {one.limit:g} {one.unit} ".replace(" – ", " ")
            standing = f"{one.standing}, {one.source}" if one.source else one.standing
            lines += paragraph(f"{limit}({standing})" if limit else f"from {standing}", first="      ", rest="        ")
            if one.effect:
                lines += paragraph(f"in an engine: {one.effect}", first="      ", rest="        ")
            if one.do:
                lines += paragraph(f"do: {one.do}", first="      ", rest="          ")
    return lines


# --- parts -----------------------------------------------------------------------------------------------------------


def _part_rows(top: TopEnd) -> list[tuple[str, str]]:
    rows = []
    if top.crank is not None:
        crank = top.crank
        told = [f"stroke {crank.stroke.text}", f"rod {crank.rod_length.text}" if crank.rod_length is not None else "rod not given"]
        if crank.offset.si != 0.0 or crank.offset.stated_limits is not None:
            told.append(f"offset {words.displaced(crank.offset)}")
        if crank.seat_height is not None:
            told.append(f"seat height {crank.seat_height.text}")
        rows.append(("crank", words.part_name(crank) + "; ".join(told)))
    if top.cylinder is not None:
        rows.append(("cylinder", words.part_name(top.cylinder) + words.cylinder_words(top.cylinder)))
    if top.piston is not None:
        rows.append(("piston", words.part_name(top.piston) + words.piston_words(top.piston)))
    if top.head is not None:
        rows.append(("head", words.part_name(top.head) + words.head_words(top.head)))
        rows.append(("squish band", words.part_name(top.head.band) + words.band_words(top.head)))
    if top.deck is not None:
        rows.append(("deck", words.part_name(top.deck) + words.deck_words(top.deck)))
    if top.assembled is not None:
        base, head = top.assembled.base_thickness, top.assembled.head_thickness
        told = [f"{top.assembled.volume.text} read through the plug hole at TDC"]
        told.append(f"over {base.text} of base gaskets" if base is not None else "over the base stack now fitted")
        told.append(f"{head.text} of head gaskets" if head is not None else "the head gaskets now fitted")
        rows.append(("assembled", words.part_name(top.assembled) + ", ".join(told)))
    if top.running is not None:
        rows.append(("running", words.part_name(top.running) + top.running.crank_speed.text))
    return rows or [("nothing", "no part is given")]


def _stack(top: TopEnd) -> list[tuple[str, Gasket]]:
    return [("base", gasket) for gasket in top.base_gaskets or ()] + [("head", gasket) for gasket in top.head_gaskets or ()]


def _gasket_dict(role: str, gasket: Gasket) -> dict[str, Any]:
    return {
        "role": role,
        "name": gasket.name,
        "material": gasket.material,
        "nominal": {"value": gasket.thickness.m_as("mm"), "unit": "mm"},
        "fitted": {"value": gasket.fitted.m_as("mm"), "unit": "mm", "assumed": gasket.fitted_thickness is None},
    }


def _fitted_words(gasket: Gasket) -> str:
    if gasket.fitted_thickness is not None:
        return gasket.fitted_thickness.text
    return f"{gasket.thickness._magnitude:.{_decimals(gasket.thickness)}f} {gasket.thickness.stated_unit} assumed"


def _opening_words(gasket: Gasket) -> str:
    return "" if gasket.opening is None else f"opening {gasket.opening.text}"


def _decimals(value: StatedQuantity) -> int:
    """Decimals of a length in mm as it was written; three where nothing was."""
    return value.decimals if value.decimals is not None and value.stated_unit == "mm" else 3


def _padded(rows: list[tuple[str, str, str, str, str]]) -> list[tuple[str, str, str]]:
    """Name, figure, words: as wide on every table of the card, so that figures line up down the page."""
    name = max(len(name) for name in OUTPUTS)
    unit = max(len(one.unit) for one in OUTPUTS.values())
    return [(row[0].ljust(name), f"{row[1]:>7} {row[2]:<{unit}} {row[3]:<7}", row[4]) for row in rows]


def _plain(value: Quantity | None) -> dict[str, Any] | None:
    return None if value is None else {"value": float(value.magnitude), "unit": f"{value.units:~P}"}


def _taken(one: Assumed) -> str:
    """``: 0.500 mm, may be 0.415 to 0.520 mm``, to two digits of what it may be off by."""
    if one.value is None:
        return ""
    unit = f"{one.value.units:~P}"
    value = float(one.value.magnitude)
    if one.limits is None:
        return f": {value:.3f} {unit}"
    low, high = (float(end.magnitude) for end in one.limits)
    half = (high - low) / 2.0
    digits = min(3, max(0, 1 - math.floor(math.log10(half)))) if half > 0.0 else 3
    return f": {value:.{digits}f} {unit}, may be {low:.{digits}f} to {high:.{digits}f} {unit}"


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100.0 * share:.0f} %"


def _meaning(path: str) -> str:
    """What a needed path is, in the words of the table of inputs or of the part's own field."""
    known = INPUTS.get(".".join("N" if step.isdigit() else step for step in path.split(".")))
    if known is not None:
        return known.meaning
    port = re.fullmatch(r"cylinder\.ports \((\w+)\)\.top", path)
    if port:
        return f"From the deck down to the upper edge; a port of kind {port[1]}."
    holder, _, name = path.rpartition(".")
    owners: dict[str, type[Part]] = {"piston": Piston, "head": SpigotHead, "": TopEnd}
    part = owners.get(holder)
    return (part.model_fields[name].description or "") if part is not None and name in part.model_fields else ""


assert COVERAGE == 2.0  # the ± of the card is 2u
