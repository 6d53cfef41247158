"""What a class letter on a burette promises: a table for each standard. A letter without its standard promises nothing."""

from __future__ import annotations

from typing import Final

from topend.errors import PartError, Problem

__all__ = ["ASTM_E287", "ISO_385", "WAITING", "permissible_error"]

#: (nominal, division) [ml] -> permissible error [ml] of classes A (and AS) and B.
ISO_385: Final[dict[tuple[float, float], tuple[float, float]]] = {
    (5.0, 0.01): (0.01, 0.02),
    (10.0, 0.02): (0.02, 0.05),
    (10.0, 0.05): (0.03, 0.05),
    (25.0, 0.05): (0.03, 0.05),
    (25.0, 0.1): (0.05, 0.10),
    (50.0, 0.1): (0.05, 0.10),
    (100.0, 0.2): (0.10, 0.20),
}
#: The same; class B is twice A. Only 25 ml was checked against a copy, the others are from memory.
ASTM_E287: Final[dict[tuple[float, float], tuple[float, float]]] = {
    (10.0, 0.05): (0.02, 0.04),
    (25.0, 0.1): (0.03, 0.06),
    (50.0, 0.1): (0.05, 0.10),
    (100.0, 0.2): (0.10, 0.20),
}
#: Seconds to wait before the end is read; class AS alone has such a time.
WAITING: Final = {"AS": 30}

_TABLES: Final = {"ISO 385": ISO_385, "ASTM E287": ASTM_E287}


def permissible_error(*, nominal: float, division: float, grade: str, standard: str | None) -> float:
    """Permissible error [ml] of a burette of `nominal` and `division` [ml]; it holds for any volume delivered, small or large.

    Raises `PartError` for a class without its standard and for a burette that the standard does not have.

    >>> permissible_error(nominal=25.0, division=0.1, grade="A", standard="ISO 385")
    0.05
    """
    if standard is None:
        both = {name: [made for (size, _), made in table.items() if size == nominal] for name, table in _TABLES.items()}
        column = 1 if grade == "B" else 0
        told = "; ".join(f"{name}: {' or '.join(f'{one[column]:.2f}' for one in found)} ml" for name, found in both.items() if found)
        differ = f" (a {nominal:g} ml class {grade} is, by {told})" if told else ""
        raise PartError(
            "burette",
            [
                Problem(
                    "standard",
                    f'is missing: class {grade} means nothing without its standard{differ}; give standard = "ISO 385" or "ASTM E287"',
                )
            ],
        )
    table = _TABLES[standard]
    if grade == "AS" and standard != "ISO 385":
        raise PartError("burette", [Problem("grade", f"is AS, which {standard} does not have; its classes are A and B")])
    found = table.get((nominal, division))
    if found is None:
        divisions = [step for size, step in table if size == nominal]
        if divisions:
            has = " or ".join(f"{step:g} ml" for step in divisions)
            known = f"is {division:g} ml, but {standard} has {nominal:g} ml burettes with {has} only"
            message = f"{known}; read it off the glass again, or state permissible_error"
            raise PartError("burette", [Problem("division", message)])
        sizes = ", ".join(f"{size:g}" for size in dict.fromkeys(size for size, _ in table))
        raise PartError(
            "burette", [Problem("nominal", f"is {nominal:g} ml; {standard} has {sizes} ml here. State permissible_error instead")]
        )
    return found[1 if grade == "B" else 0]
