"""What stays with a reading when parts are replaced: the parts and stacks that it was taken with."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, Final

from topend.assembly.stacks import READ_WITH, STACKS, stack_thickness
from topend.errors import AssemblyError
from topend.parts import Gasket, Part

if TYPE_CHECKING:
    from topend.assembly.top_end import TopEnd

__all__ = ["bound"]

#: Fields of the parts under a deck reading that move the deck.
_DECK_MOVES: Final = {
    "crank": ("stroke", "rod_length", "offset", "seat_height"),
    "piston": ("crown", "diameter", "compression_height", "pin_offset"),
    "cylinder": ("height",),
}
#: Fields that say what a part is or what it fits, and leave the volume over the piston as it was.
_NO_VOLUME: Final = (
    *("seal", "name", "source", "basis", "top_land", "pin_diameter", "studs", "register_diameter", "assembly_mass"),
    # what gives at speed
    *("rod_area", "rod_end_area", "rod_mass", "rod_modulus", "rod_density", "crankpin_diameter", "crankpin_length", "stiffness"),
    *("compliance", "balance", "unexplained_closing", "small_end", "big_end", "mains"),
    # what is judged beside the volume
    *(
        "rocking",
        "skirt_top",
        "timing_edge",
        "edge_chamfer",
        "skirt_length",
        "inlet_skirt_length",
        "web_diameter",
        "web_width",
        "opened",
        "plug_height",
        "plug_radius",
    ),
    # how it grows
    *("material", "expansion", "rod_expansion", "case_expansion", "skirt_diameter", "clearance", "rings"),
    # what seals and clamps
    *("o_ring", "groove", "face_diameter", "clamped_height", "edges"),
)


def bound(top: TopEnd, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The deck reading with what it was taken with written in, where `changes` would take that from under it."""
    touched = set(changes)
    if top.assembled is not None and "assembled" not in touched:
        moved = sorted(path for path in touched if _moves_assembled(path))
        if moved:
            raise AssemblyError(
                "assembled_volume",
                f"the assembled volume was read with the parts as they were; changing {', '.join(moved)} makes it void. "
                "Replace assembled too, or set it to None to work from head and crown volumes",
            )
    made = _bound_assembled(top, changes)
    deck = top.deck
    if deck is None or "deck" in touched:
        return made
    binds: dict[str, Any] = {}
    for part, fields in _DECK_MOVES.items():
        own = getattr(top, part)
        if own is not None and getattr(deck, part) is None and any(_touches(path, part, fields) for path in touched):
            binds[part] = own
    binds |= _bound_stack(changes, "deck", deck, "base", top.base_gaskets)
    return {**made, "deck": deck.replace(**binds)} if binds else made


def _bound_assembled(top: TopEnd, changes: Mapping[str, Any]) -> dict[str, Any]:
    """The assembled reading with the stack it was read with written in, where `changes` would take that from under it."""
    assembled = top.assembled
    if assembled is None or "assembled" in changes:
        return {}
    binds = {
        **_bound_stack(changes, "assembled", assembled, "base", top.base_gaskets),
        **_bound_stack(changes, "assembled", assembled, "head", top.head_gaskets),
    }
    return {"assembled": assembled.replace(**binds)} if binds else {}


def _touches_stack(touched: Iterable[str], stack: str) -> bool:
    name = STACKS[stack][0]
    return any(path in (stack, name) or re.fullmatch(rf"{name}\.\d+(\.(fitted_)?thickness)?", path) for path in touched)


def _bound_stack(changes: Mapping[str, Any], reading: str, part: Part, role: str, gaskets: tuple[Gasket, ...] | None) -> dict[str, Any]:
    """What `part`, a reading, is told of the stack it was read with where `changes` put other gaskets in its place."""
    thickness, identity = f"{role}_thickness", f"{role}_stack"
    stack = READ_WITH[f"{reading}.{thickness}"]
    if not _touches_stack(changes, stack):
        return {}
    # of a stack that is not known from here on nobody says that it is another
    said = None if changes.get(STACKS[stack][0], gaskets or ()) is None else "other"
    total = getattr(part, thickness)
    if total is None and getattr(part, identity) != "other":
        total = stack_thickness(gaskets)
    if total is None:
        return {}
    return {thickness: total} | ({} if f"{reading}.{identity}" in changes else {identity: said})


def _touches(path: str, part: str, fields: tuple[str, ...]) -> bool:
    root, _, rest = path.partition(".")
    return root == part and (not rest or rest.split(".", 1)[0] in fields)


def _moves_assembled(path: str) -> bool:
    root, _, rest = path.partition(".")
    if root in ("crank", "piston", "head"):
        return rest.split(".", 1)[0] not in _NO_VOLUME
    return root == "cylinder" and (not rest or rest.split(".", 1)[0] in ("bore", "height"))
