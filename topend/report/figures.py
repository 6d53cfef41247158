"""One figure of a report: its value, unit, uncertainty, and the digits worth showing; the same for text and for JSON."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

from topend.uncertainty import COVERAGE, Uncertain

__all__ = ["MM_PER_INCH", "Figure"]

#: Exact by definition.
MM_PER_INCH: Final = 25.4


@dataclass(frozen=True, slots=True)
class Figure:
    """A value in its unit, its standard uncertainty from limits, and how many decimals are worth showing.

    >>> Figure(0.95, "mm", 0.0366, 3).text
    '0.950 mm ± 0.074'
    >>> Figure(38513.0, "rpm", 5079.0, 0).text
    '38500 rpm ± 10200'
    """

    value: float
    unit: str
    u: float
    decimals: int

    @classmethod
    def of(cls, uncertain: Uncertain) -> Figure:
        """The figure of an output."""
        return cls(uncertain.value, uncertain.unit, uncertain.u, uncertain.decimals)

    @property
    def number(self) -> str:
        """The size of the value with the digits worth showing, without a sign; ``unknown`` where there is none."""
        if math.isnan(self.value):
            return "unknown"
        return f"{round(abs(self.value) / self.step) * self.step if self.step > 1.0 else abs(self.value):.{self.decimals}f}"

    @property
    def step(self) -> float:
        """What the last digit shown counts: two digits of u, where those stand before the point."""
        if not (self.decimals == 0 and 100.0 <= self.u < math.inf):
            return 10.0**-self.decimals
        return 10.0 ** (math.floor(math.log10(self.u)) - 1)

    @property
    def unit_text(self) -> str:
        """The unit; nothing for a ratio."""
        return "" if self.unit == "–" else self.unit

    @property
    def spread(self) -> str:
        """``± 2u``, rounded up to the last digit shown; nothing where no input carries limits."""
        if not self.u > 0.0:
            return ""
        return f"± {math.ceil(COVERAGE * self.u / self.step - 1e-9) * self.step:.{self.decimals}f}"

    @property
    def inches(self) -> Figure | None:
        """A length in inches, with a decimal more; None for all else.

        >>> Figure(0.95, "mm", 0.0366, 3).inches.text
        '0.0374 in ± 0.0029'
        """
        if self.unit != "mm":
            return None
        return Figure(self.value / MM_PER_INCH, "in", self.u / MM_PER_INCH, self.decimals + 1)

    @property
    def text(self) -> str:
        """Number, unit and spread in one."""
        return " ".join(part for part in (self.number, self.unit_text, self.spread) if part)

    def to_dict(self) -> dict[str, Any]:
        """``{"value", "unit", "u", "interval", "decimals"}``; the interval is value ± 2u, None where u is 0."""
        known = math.isfinite(self.value)
        half = COVERAGE * self.u
        return {
            "value": self.value if known else None,
            "unit": self.unit,
            "u": self.u if math.isfinite(self.u) else None,
            "interval": [self.value - half, self.value + half] if known and self.u > 0.0 else None,
            # below 0 where the last digit shown stands before the point
            "decimals": -round(math.log10(self.step)),
        }
