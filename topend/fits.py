"""Sizes by their fit: a nominal size and a hole or a shaft of ISO 286, and the clearance of a pair."""

from __future__ import annotations

from topend.errors import PartError, Problem
from topend.units import KINDS, Quantity, StatedQuantity, StatedValueError, from_si, parse, quantity, stated

__all__ = ["iso_clearance", "iso_fit"]


def iso_fit(nominal: str | Quantity, code: str) -> StatedQuantity:
    """A `nominal` size with the limits of its fit, as a field takes it; the same as the text ``"47.6 mm H7"``.

    Parameters: `nominal` a length without limits, 0 to 180 mm; `code` a hole (``"H7"``) or a shaft (``"g6"``) of ISO 286. The value is
    the middle of the zone. Raises `PartError` for a size or a fit that is not in the table (`topend.iso_286`).

    >>> import topend as te
    >>> te.iso_fit("47 mm", "H7").text
    '47.0125 mm ± 0.0125 mm'
    """
    try:
        size = stated(nominal, KINDS["length"])
        if size.stated_limits is not None:
            raise StatedValueError(f"has limits of its own, {size.text!r}; a fit gives them: state the nominal size alone")
        return parse(f"{round(from_si(size.si, 'mm'), 9):.9g} mm {code}", KINDS["length"])
    except StatedValueError as error:
        raise PartError("iso_fit", [Problem("nominal", str(error))]) from None


def iso_clearance(nominal: str | Quantity, pair: str) -> tuple[Quantity, Quantity]:
    """Least and greatest diametral clearance of a pair of fits, such as ``"H7/g6"``; negative where the shaft is the larger.

    Raises as `iso_fit`.

    >>> import topend as te
    >>> least, most = te.iso_clearance("47 mm", "H7/g6")
    >>> print(f"{least:~P} to {most:~P}")
    0.009 mm to 0.05 mm
    """
    hole, slash, shaft = pair.partition("/")
    if not slash or not hole.strip()[:1].isupper() or not shaft.strip()[:1].islower():
        raise PartError("iso_clearance", [Problem("pair", f'must be a hole and a shaft, such as "H7/g6"; got {pair!r}')])
    holes, shafts = (iso_fit(nominal, one.strip()).stated_limits for one in (hole, shaft))
    assert holes is not None
    assert shafts is not None
    return tuple(quantity(round(end, 6), "mm") for end in (holes.low - shafts.high, holes.high - shafts.low))  # type: ignore[return-value]
