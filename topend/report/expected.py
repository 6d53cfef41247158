"""What readings on a build should show: the figure, between which limits one reading may lie, and blanks to write what was found.

The limits are those of `te.verify`: 95 % of the difference between the prediction, with the limits stated or assumed of its parts,
and one reading with a usual instrument. So a reading outside them says that the build is not the one on the card.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

from topend.errors import MissingInputError, TopendError
from topend.measure import Measured, burette, deck, gap, timing
from topend.measure.clocks import CLOCKS
from topend.measure.instruments import INSTRUMENTS
from topend.measure.verify import compare
from topend.quantities import OUTPUTS
from topend.report.figures import MM_PER_INCH, Figure
from topend.wires import wire_places

if TYPE_CHECKING:
    from topend.report.card import BenchCard

__all__ = ["APART_MM", "COUNTS_ON", "Expected", "expected_gap", "expected_readings", "wire_thickness"]

#: Two wires on opposite sides that differ by more lie under a head or over a piston that is not square: 95 % of the difference
#: of two readings that scatter as wire usually does.
APART_MM: Final = round(1.96 * math.sqrt(2.0) * INSTRUMENTS["solder"].scatter * 1e3, 2)

#: Sheets count closing back from TDC, and not every disc does.
COUNTS_ON: Final = "A disc that counts on to 360 shows a closing as 360 deg less the angle before TDC."

#: Nominal volume and division [ml] of the burettes that a chamber is filled from, of sizes that ISO 385 has.
_BURETTES: Final = ((25.0, 0.1), (50.0, 0.1), (100.0, 0.2))


@dataclass(frozen=True, slots=True)
class Expected:
    """One thing to read: `of` an output or ``gap_at``, its words, the figure predicted, and between what one reading may lie.

    `low` and `high` are in the figure's unit, with its sign; `blanks` name what is written down; `how` says how it is read; `apart` is how
    far opposite readings may differ, None where that says nothing; `radius` [mm] where a wire lies, `place` the same in words, and `at`
    whether that is its usual place or where the gap is least. `needs` are the paths that are missing where there is no figure: then
    `figure` is None.
    """

    of: str
    label: str
    figure: Figure | None
    low: float
    high: float
    blanks: tuple[str, ...]
    how: str
    apart: float | None = None
    radius: float | None = None
    needs: tuple[str, ...] = ()
    at: Literal["usual", "least"] = "usual"
    place: str = ""

    @property
    def key(self) -> str:
        """What tells it from the others: ``gap_at`` from ``least_gap_at``, and else what it is of."""
        return f"least_{self.of}" if self.at == "least" else self.of

    @property
    def unit(self) -> str:
        """Unit of the figure and its limits."""
        return "mm" if self.of == "gap_at" else OUTPUTS[self.of].unit

    @property
    def decimals(self) -> int:
        """Decimals of what is written down: what the usual instrument shows."""
        return {"mm": 2, "deg": 1}.get(self.unit, 2)

    def text_of(self, value: float) -> str:
        """A value as it is written down, with its side in words where it has one.

        >>> Expected("deck_clearance", "deck", None, 0.0, 0.0, (), "").text_of(-0.3)
        '0.30 mm above the deck'
        """
        text = f"{abs(value):.{self.decimals}f} {self.unit}"
        if self.of != "deck_clearance":
            return text if value >= 0.0 else f"-{text}"
        return f"{text} {'below' if value >= 0.0 else 'above'} the deck"

    @property
    def ends(self) -> tuple[float, float]:
        """The limits as they are written down: rounded inward, so that what lies outside them on paper does so in truth."""
        step = 10.0**-self.decimals
        return math.ceil(self.low / step - 1e-9) * step, math.floor(self.high / step + 1e-9) * step

    @property
    def limits_text(self) -> str:
        """``0.83 to 0.95 mm``: `ends` in words."""
        low, high = self.ends
        if self.of == "deck_clearance":
            if low < 0.0 < high:
                return f"{self.text_of(low)} to {self.text_of(high)}"
            near, far = sorted((abs(low), abs(high)))
            return f"{near:.{self.decimals}f} to {self.text_of(math.copysign(far, low + high))}"
        return f"{low:.{self.decimals}f} to {high:.{self.decimals}f} {self.unit}"

    @property
    def inches_text(self) -> str:
        """`ends` of a length in inches, rounded inward once more: no reading passes in inches that stops in millimetres.

        >>> Expected("gap_at", "wire", None, 0.846, 1.008, (), "").inches_text  # 0.85 to 1.00 mm
        '0.0335 to 0.0393 in'
        """
        low, high = (end / MM_PER_INCH * 1e4 for end in self.ends)
        low, high = math.ceil(low - 1e-6) / 1e4, math.floor(high + 1e-6) / 1e4
        if low < 0.0 < high:
            return f"{-low:.4f} in above to {high:.4f} in below"
        near, far = sorted((abs(low), abs(high)))
        return f"{near:.4f} to {far:.4f} in"

    def to_dict(self) -> dict[str, Any]:
        """As plain data."""
        known = self.figure is not None
        return {
            "of": self.of,
            "at": self.at if self.of == "gap_at" else None,
            "label": self.label,
            "radius": self.radius,
            "expected": self.figure.to_dict() if self.figure is not None else None,
            "low": self.low if known else None,
            "high": self.high if known else None,
            "apart": self.apart,
            "unit": self.unit,
            "blanks": list(self.blanks),
            "how": self.how,
            "needs": list(self.needs),
        }


def expected_readings(card: BenchCard) -> tuple[Expected, ...]:
    """What to read on a build, in the order of the work: deck, wire (twice, where the gap is least elsewhere), volume, port angles.

    The wire has its place even where it cannot be had, and says what it needs; the others are left out then.

    >>> import topend as te
    >>> from topend.report import BenchCard
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.70 mm ± 0.03 mm", base_thickness="0.30 mm"))
    >>> [(one.of, one.limits_text or one.needs) for one in expected_readings(BenchCard(top))][0]
    ('deck_clearance', '0.64 to 0.76 mm below the deck')
    """
    wanted: list[Expected] = []
    for make in (_deck, _wire, _volume, _exhaust, _transfer):
        wanted += make(card)
    known = [one for one in wanted if one.figure is not None]
    judged = dict(zip((one.key for one in known), _limits(card, known), strict=True))
    return tuple(replace(one, low=judged[one.key][0], high=judged[one.key][1]) if one.key in judged else one for one in wanted)


def expected_gap(card: BenchCard, radius: float, instead: Expected) -> Expected | None:
    """The wire at another radius [mm] `instead` of the one that is expected; None where the gap there is not known."""
    try:
        value = card.result.gap_at(f"{radius!r} mm").m_as("mm")
    except TopendError:
        return None
    found = replace(_gap(card, Figure(value, "mm", 0.0, 2), radius), at=instead.at, label=instead.label)
    ((low, high),) = _limits(card, [found])
    return replace(found, low=low, high=high)


def _limits(card: BenchCard, wanted: list[Expected]) -> list[tuple[float, float]]:
    readings = []
    for one in wanted:
        assert one.figure is not None
        readings.append(replace(_USUAL[one.of.rpartition("_")[2]](one), of=one.of, radius=one.radius))
    return [(one.predicted - one.half_width, one.predicted + one.half_width) for one in compare(card.top, readings)]


# --- a reading of that size, by a usual instrument, once -------------------------------------------------------------


def _usual_deck(one: Expected) -> Measured:
    assert one.figure is not None
    below = one.figure.value >= 0.0
    return deck(crown="below" if below else "above", readings=[f"{abs(one.figure.value)!r} mm"], nuts_down=True, gaskets_crushed=True)


def _usual_wire(one: Expected) -> Measured:
    assert one.figure is not None
    thick = f"{1.6 * one.figure.value!r} mm"
    return gap(readings=[f"{one.figure.value!r} mm"], radius=f"{one.radius!r} mm", wire=thick).mean


def _usual_volume(one: Expected) -> Measured:
    assert one.figure is not None
    # the smallest burette of class B that holds it, read once, through a plug hole of the usual thread; the largest is filled again
    volume = one.figure.value
    nominal, division = next((held for held in _BURETTES if volume <= held[0]), _BURETTES[-1])
    again = max(math.ceil(volume / nominal) - 1, 0)
    filling = ["0 ml", f"{nominal!r} ml"] * again + ["0 ml", f"{volume - again * nominal!r} ml"]
    common: dict[str, Any] = {"nominal": f"{nominal!r} ml", "division": f"{division!r} ml", "grade": "B", "standard": "ISO 385"}
    return burette(setup="assembled", of="clearance_volume", plug="out", thread="M14x1.25", reach="12.7 mm", fillings=[filling], **common)


def _usual_angle(name: str) -> Callable[[Expected], Measured]:
    def read(one: Expected) -> Measured:
        assert one.figure is not None
        # of the port's two edges; a duration is read as both
        opens = 180.0 - one.figure.value / 2.0 if name == "duration" else one.figure.value
        port: Any = one.of.partition("_")[0]
        found = timing(port=port, stop_before="330 deg", stop_after="30 deg", opens=[f"{opens!r} deg"], closes=[f"{360.0 - opens!r} deg"])
        return next(value for value in found if value.of == one.of)

    return read


_USUAL: Final[dict[str, Callable[[Expected], Measured]]] = {
    "clearance": _usual_deck,
    "at": _usual_wire,
    "volume": _usual_volume,
    **{name: _usual_angle(name) for name in ("opens", "closes", "duration")},
}


# --- what is read ----------------------------------------------------------------------------------------------------


def _deck(card: BenchCard) -> list[Expected]:
    figure = card.figures.get("deck_clearance")
    how = "Depth gauge on the deck, its foot at the crown's edge; rock the piston through TDC and take the least at each clock position."
    return [] if figure is None else [Expected("deck_clearance", "Deck to crown edge", figure, 0.0, 0.0, CLOCKS, how)]


def wire_thickness(gap: float) -> str:
    """How thick the wire is for a gap [mm]: 1.3 to 2 times it, common practice.

    >>> wire_thickness(0.9)
    '1.2 to 1.8 mm'
    """
    return f"{1.3 * gap:.1f} to {2.0 * gap:.1f} mm"


def _gap(card: BenchCard, figure: Figure | None, radius: float | None, needs: tuple[str, ...] = (), *, on_edge: bool = False) -> Expected:
    thick = "" if figure is None else f" {wire_thickness(figure.value)} thick"
    place = "" if radius is None else f"Read at radius {radius:.2f} mm{_from_the_wall(card, radius)}."
    if on_edge:
        place += " That is the band's inner edge: read it beside the line that the edge leaves in the wire."
    how = f"Soft wire{thick}; cold, turned by hand through TDC. {place}".rstrip()
    return Expected("gap_at", "Gap by wire", figure, 0.0, 0.0, CLOCKS, how, APART_MM, radius, needs, place=place)


def _from_the_wall(card: BenchCard, radius: float) -> str:
    """The same place as somebody finds it: from the end of the wire that touched the bore."""
    cylinder = card.top.cylinder
    bore = None if cylinder is None else cylinder.bore
    return "" if bore is None else f", {bore.si * 500.0 - radius:.1f} mm from the end that touched the bore"


def _wire(card: BenchCard) -> list[Expected]:
    found = card.gap_at
    if isinstance(found, MissingInputError):
        return [_gap(card, None, None, found.needs)]
    if not isinstance(found, tuple):
        return []
    radius, figure = found
    usual = _gap(card, figure, radius)
    least = next((one for one in wire_places(card.top) if one.at == "least"), None)
    if least is None or card.least_gap_at is None:
        return [usual]
    radius, figure = card.least_gap_at
    second = _gap(card, figure, radius, on_edge=least.on_inner_edge)
    return [usual, replace(second, at="least", label="Gap by wire, where it is least")]


def _volume(card: BenchCard) -> list[Expected]:
    figure = card.figures.get("clearance_volume")
    how = (
        "Burette with light oil, through the plug hole at TDC up to its top edge; read when no more runs down. The thread that the plug "
        "fills is taken off."
    )
    return [] if figure is None else [Expected("clearance_volume", "Volume, assembled", figure, 0.0, 0.0, ("1st", "2nd", "3rd"), how)]


def _exhaust(card: BenchCard) -> list[Expected]:
    return _port(card, "exhaust", "Exhaust")


def _transfer(card: BenchCard) -> list[Expected]:
    return _port(card, "transfer", "Transfers")


def _port(card: BenchCard, port: str, called: str) -> list[Expected]:
    beside = {"opens": "opens, after TDC", "closes": "closes, before TDC", "duration": "open for"}
    how = f"Degree disc, TDC by a positive stop. {COUNTS_ON} Opening and closing off to opposite sides: the disc's zero is not at TDC."
    made = []
    for name, told in beside.items():
        figure = card.figures.get(f"{port}_{name}")
        if figure is not None:
            blanks = ("found",) if name == "duration" else ("1st", "2nd", "3rd")
            made.append(Expected(f"{port}_{name}", f"{called}: {told}", figure, 0.0, 0.0, blanks, how))
    return made
