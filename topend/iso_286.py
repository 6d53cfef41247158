"""Limits of size by ISO 286: tolerance grades, and where the zone lies against the nominal size.

The tables are written from memory of ISO 286-1:2010 (tables 1 to 5) and hold for 0 to 180 mm, which is more than a small two-stroke has.
They were compared once, entry by entry, with an independent open table of grades and shafts; `tests/test_iso_286.py` holds them
against the formulas they are rounded from, and against figures seen in print.
"""

from __future__ import annotations

import re
from typing import Final

__all__ = ["HOLES", "SHAFTS", "FitCodeError", "deviations", "standard_tolerance"]

#: Steps of nominal size [mm], each over the one before and up to this one.
STEPS: Final = (3, 6, 10, 18, 30, 50, 80, 120, 180)
#: Standard tolerances [µm] by grade, one a step.
_GRADES: Final[dict[int, tuple[int, ...]]] = {
    4: (3, 4, 4, 5, 6, 7, 8, 10, 12),
    5: (4, 5, 6, 8, 9, 11, 13, 15, 18),
    6: (6, 8, 9, 11, 13, 16, 19, 22, 25),
    7: (10, 12, 15, 18, 21, 25, 30, 35, 40),
    8: (14, 18, 22, 27, 33, 39, 46, 54, 63),
    9: (25, 30, 36, 43, 52, 62, 74, 87, 100),
    10: (40, 48, 58, 70, 84, 100, 120, 140, 160),
    11: (60, 75, 90, 110, 130, 160, 190, 220, 250),
    12: (100, 120, 150, 180, 210, 250, 300, 350, 400),
    13: (140, 180, 220, 270, 330, 390, 460, 540, 630),
    14: (250, 300, 360, 430, 520, 620, 740, 870, 1000),
}
#: Fundamental deviations of shafts [µm], one a step: the upper one where it is below the nominal size, else the lower one.
_SHAFTS: Final[dict[str, tuple[int, ...]]] = {
    "d": (-20, -30, -40, -50, -65, -80, -100, -120, -145),
    "e": (-14, -20, -25, -32, -40, -50, -60, -72, -85),
    "f": (-6, -10, -13, -16, -20, -25, -30, -36, -43),
    "g": (-2, -4, -5, -6, -7, -9, -10, -12, -14),
    "h": (0,) * 9,
    # of k the grades 4 to 7; others have 0
    "k": (0, 1, 1, 1, 2, 2, 2, 3, 3),
    "m": (2, 4, 6, 7, 8, 9, 11, 13, 15),
    "n": (4, 8, 10, 12, 15, 17, 20, 23, 27),
    "p": (6, 12, 15, 18, 22, 26, 32, 37, 43),
}
_BELOW: Final = ("d", "e", "f", "g", "h")
#: Letters that are known, of shafts and of holes.
SHAFTS: Final = (*_BELOW, "js", "k", "m", "n", "p")
HOLES: Final = tuple(letter.upper() for letter in SHAFTS)
_CODE: Final = re.compile(r"(?P<letter>[A-Za-z]{1,2})(?P<grade>[0-9]{1,2})")


class FitCodeError(ValueError):
    """A fit that is not in the tables; the message says which are."""


def _step(nominal: float) -> int:
    if not 0.0 < nominal <= STEPS[-1]:
        raise FitCodeError(f"the table of fits holds for sizes up to {STEPS[-1]} mm; got {nominal:g} mm")
    return next(index for index, upper in enumerate(STEPS) if nominal <= upper)


def standard_tolerance(nominal: float, grade: int) -> int:
    """Width of the zone [µm] of a `nominal` size [mm], 0 to 180, in a grade, 4 to 14. Raises `FitCodeError` outside them.

    >>> standard_tolerance(47.0, 7)
    25
    """
    if grade not in _GRADES:
        raise FitCodeError(f"the table of fits has the grades {min(_GRADES)} to {max(_GRADES)}; got {grade}")
    return _GRADES[grade][_step(nominal)]


def deviations(nominal: float, code: str) -> tuple[float, float]:
    """Lower and upper deviation [µm] of a `nominal` size [mm] by its `code`, such as ``"H7"`` of a hole or ``"g6"`` of a shaft.

    Holes mirror shafts of their letter, but for K, M, N up to grade 8 and P up to grade 7, which are raised by what their grade is
    wider than the one before it (ISO 286-1:2010, 4.3.2.5). Raises `FitCodeError`, which says what is in the table.

    >>> deviations(47.0, "H7"), deviations(47.0, "g6"), deviations(40.0, "K7"), deviations(40.0, "js6")
    ((0, 25), (-25, -9), (-18, 7), (-8.0, 8.0))
    """
    found = _CODE.fullmatch(code)
    letter = found["letter"] if found else ""
    if found is None or letter not in (*SHAFTS, *HOLES):
        raise FitCodeError(
            f"{code!r} is not a fit in the table: a hole is one of {', '.join(HOLES)} and its grade, such as H7, "
            f"a shaft one of {', '.join(SHAFTS)} and its grade, such as g6"
        )
    grade = int(found["grade"])
    width, step = standard_tolerance(nominal, grade), _step(nominal)
    shaft = letter.lower()
    if shaft == "js":
        return -width / 2, width / 2
    own = 0 if shaft == "k" and not 4 <= grade <= 7 else _SHAFTS[shaft][step]
    if letter == shaft:
        return (own - width, own) if shaft in _BELOW else (own, own + width)
    if shaft in _BELOW:
        return -own, -own + width
    upper = _upper_of_hole(shaft, grade, step, nominal)
    return upper - width, upper


def _upper_of_hole(shaft: str, grade: int, step: int, nominal: float) -> int:
    """Upper deviation of a hole K, M, N or P [µm]."""
    up_to = 7 if shaft == "p" else 8
    if nominal > STEPS[0]:
        if (shaft == "k" and grade > up_to) or grade == min(_GRADES):
            raise FitCodeError(f"{shaft.upper()}{grade} is not in the table: {shaft.upper()} is there from grade 5 up, K to grade 8")
        if grade <= up_to:
            return -_SHAFTS[shaft][step] + _GRADES[grade][step] - _GRADES[grade - 1][step]
        if shaft == "n":
            return 0
    return -_SHAFTS[shaft][step]
