"""TopEnd: parts in, row out. It lowers parts to named SI floats, and refuses what cannot be assembled."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, Literal

import numpy as np
from pydantic import BaseModel, Field, PrivateAttr, model_validator

from topend.errors import AssemblyError, PartError, Problem, UnknownNameError, must_be
from topend.extra_findings import judgements_joined
from topend.extra_outputs import joined, known_outputs, nodes_of
from topend.parts import (
    AssembledVolume,
    Burn,
    Charge,
    Crank,
    Cranking,
    Cylinder,
    DeckReading,
    Gasket,
    Head,
    Location,
    Losses,
    ORing,
    Part,
    PinLocation,
    Piston,
    Probe,
    Running,
    SpigotHead,
    StudSet,
)
from topend.physics import sealing, squish, wiring
from topend.physics.wiring import Structure
from topend.physics.wiring.geometry import CRUSH, GAP_AT
from topend.physics.wiring.profile import AGREE
from topend.quantities import INPUTS, STATUS, ExtraFinding, ExtraOutput, Output
from topend.units import KINDS, Limits, StatedQuantity, StatedValueError, from_si, stated

__all__ = ["GAP_AT", "Row", "TopEnd", "check", "lowered", "lowered_changed", "with_values"]

#: An engraved chamber volume without limits of its own (docs/sources.md).
ENGRAVED_LIMITS: Final = 0.3e-6
_CODES: Final = {reason: entry.code for reason, entry in STATUS.items()}
_REASONS: Final = {entry.code: reason for reason, entry in STATUS.items()}
#: The stack of which a reading states what it was read with, by that path.
READ_WITH: Final = {
    "deck.base_thickness": "base.thickness",
    "assembled.base_thickness": "base.thickness",
    "assembled.head_thickness": "head_gasket.thickness",
}
_STACKS: Final = {"base.thickness": ("base_gaskets", "base"), "head_gasket.thickness": ("head_gaskets", "head")}


@dataclass(frozen=True)
class Row:
    """A top end as numbers: SI floats by input path, their limits, and the structure that says what they mean.

    `resolutions` holds half of the last written decimal; `noted` what was assumed in lowering, with its limits.
    """

    structure: Structure
    values: dict[str, float]
    limits: dict[str, Limits] = field(default_factory=dict)
    resolutions: dict[str, float] = field(default_factory=dict)
    noted: dict[str, str] = field(default_factory=dict)

    def same_stack(self, path: str) -> bool:
        """Whether the thickness at `path`, of a stack under a reading, is that of the very gaskets now fitted."""
        return path in READ_WITH and self.structure.choice(path.replace("_thickness", "_stack")) in ("same", "alike")

    def columns(self) -> dict[str, Any]:
        """The values as arrays of shape (1,), as kernels take them."""
        return {path: np.array([value]) for path, value in self.values.items()}


class TopEnd(Part):
    """A top end: the parts that are bolted together, and what was read of them.

    Every part may be left out; each answer works from the least that determines it. Parts that collide are refused with
    `AssemblyError`, which says what touches and by how much. `replace` gives a changed top end whose deck reading stays
    bound to the parts it was taken with.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.7 mm"), head=te.FlushHead(),
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.3 mm")])
    >>> top.replace({"head_gasket.thickness": "0.5 mm"}).head_gaskets[0].thickness
    <Quantity(0.5 mm)>
    """

    crank: Crank | None = Field(default=None, description="Crank and rod.")
    cylinder: Cylinder | None = Field(default=None, description="Cylinder with its ports.")
    piston: Piston | None = Field(default=None, description="Piston with its crown.")
    head: Head | None = Field(default=None, description="Head.")
    base_gaskets: tuple[Gasket, ...] | None = Field(
        default=None, description="Base gaskets in the stack; not given: unknown, an empty list: none."
    )
    head_gaskets: tuple[Gasket, ...] | None = Field(
        default=None, description="Head gaskets in the stack; not given: unknown (none under an O-ring head), an empty list: none."
    )
    deck: DeckReading | None = Field(default=None, description="Deck reading on a dry fit.")
    assembled: AssembledVolume | None = Field(default=None, description="Clearance volume read through the plug hole.")
    studs: StudSet | None = Field(default=None, description="The studs that hold the head down, and their torque.")
    running: Running | None = Field(default=None, description="How it runs.")
    location: Location | None = Field(default=None, description="What locates the head over the bore.")
    charge: Charge | None = Field(default=None, description="What is in the cylinder when the exhaust closes.")
    burn: Burn | None = Field(default=None, description="Spark and burn; without it nothing is worked out of the firing cycle.")
    losses: Losses | None = Field(default=None, description="What the gas loses to walls and past the rings.")
    cranking: Cranking | None = Field(default=None, description="How it is turned over for a reading of cranking pressure.")
    probe: Probe | None = Field(default=None, description="Where to look for outputs along the turn or across the bore.")
    crevice: Literal["reported", "included"] = Field(
        default="reported", description="Whether the top-land crevice is only reported, or counted in the clearance volume."
    )

    _row: Row = PrivateAttr()
    _checked: dict[str, Any] = PrivateAttr()

    @model_validator(mode="after")
    def _assemble(self) -> TopEnd:
        _refuse_structure(self)
        row = _lower(self)
        checked = check(row)
        object.__setattr__(self, "__pydantic_private__", {"_row": row, "_checked": checked})
        return self

    def __eq__(self, other: object) -> bool:
        # what the fields say; the row is worked out of them, and knows besides how finely each figure was written
        return self is other or (
            isinstance(other, TopEnd) and all(getattr(self, name) == getattr(other, name) for name in type(self).model_fields)
        )

    @property
    def row(self) -> Row:
        """This top end lowered to named floats in SI."""
        return self._row

    @property
    def values(self) -> Mapping[str, Any]:
        """The row's columns of shape (1,), and what was worked out of them to see that the parts go together."""
        return self._checked

    def replace(self, changes: Mapping[str, Any] | None = None, /, **parts: Any) -> TopEnd:
        """A copy with the values at `changes` replaced, by path, or whole parts by name.

        Paths are those of the inputs table (``"crank.stroke"``, ``"head.band.angle"``, ``"cylinder.ports.0.top"``), whole
        parts (``"head"``), or a stack as a whole (``"base.thickness"``, ``"head_gasket.thickness"``: one gasket of that
        fitted thickness). The deck reading keeps the crank, piston, cylinder and base stack it was taken with. An
        assembled volume cannot follow other parts than gaskets; such a change is refused unless it is replaced too.
        Raises `UnknownNameError` for a path nobody has, `PartError` for a value that does not fit, `AssemblyError`.
        """
        if changes is not None:
            must_be("replace", "changes", changes, Mapping, '; give values by path, such as {"head.recess_offset": "-1.1 mm"}')
        return self._told(type(self)(**self._replaced({**(changes or {}), **parts})))

    # --- what packs add ---

    def with_outputs(self, extra: Iterable[ExtraOutput]) -> TopEnd:
        """This top end, of which outputs that data packs add are worked out like any other: wherever outputs of it are named.

        Parameters: `extra` such outputs (``catalogue.extra_outputs``), beside those that it knows already. They go along through
        `replace`, copies, studies and pickles, but not into JSON, which has no code. Raises `PackError` for what cannot be an output,
        and for two of one name, both packs named.

        >>> from topend.quantities import ExtraOutput, Output
        >>> square = ExtraOutput(Output("bore_stroke_ratio", "–", "Bore over stroke.", "common definition"),
        ...                      ("cylinder.bore", "crank.stroke"), lambda bore, stroke: bore / stroke)
        >>> top = TopEnd(crank=Crank(stroke="40 mm"), cylinder=Cylinder(bore="44 mm")).with_outputs([square])
        >>> "bore_stroke_ratio" in top.outputs, "bore_stroke_ratio" in top.replace({"crank.stroke": "41 mm"}).outputs
        (True, True)
        """
        return self._knowing(joined(self.extra_outputs, extra), self.extra_findings)

    def with_findings(self, extra: Iterable[ExtraFinding]) -> TopEnd:
        """This top end, of which what data packs judge is said like the library's own findings: wherever findings of it are.

        Parameters: `extra` such judgements (``catalogue.extra_findings``), beside those that it has already. They go along through
        `replace`, copies, studies and pickles, but not into JSON, which has no code. Raises `PackError` for what cannot be a judgement,
        and for two that may find one code, both packs named.

        >>> import topend as te
        >>> from topend.quantities import ExtraFinding, Finding
        >>> def judge(result):
        ...     if result.shown("mean_piston_speed") > 18:
        ...         yield Finding("club_speed", "warning", "over what the club's rules allow", "less speed", "published", "club rules")
        >>> top = TopEnd(crank=Crank(stroke="50 mm"), running=te.Running(crank_speed="12000 rpm"))
        >>> [one.code for one in te.findings(te.evaluate(top.with_findings([ExtraFinding("club_speed", judge)])))]
        ['club_speed']
        """
        return self._knowing(self.extra_outputs, judgements_joined(self.extra_findings, extra))

    def _told(self, other: TopEnd) -> TopEnd:
        """`other`, knowing of packs what this one knows."""
        return other._knowing(self.extra_outputs, self.extra_findings)

    def _knowing(self, outputs: tuple[ExtraOutput, ...], findings: tuple[ExtraFinding, ...]) -> TopEnd:
        if outputs == self.extra_outputs and findings == self.extra_findings:
            return self
        made = BaseModel.model_copy(self)
        # beside the fields, as provenance is kept: copies and pickles take it along
        object.__setattr__(made, _EXTRA, (outputs, findings))
        row = self._row
        if outputs != self.extra_outputs:
            row = replace(row, structure=replace(row.structure, added=nodes_of(outputs)))
        object.__setattr__(made, "__pydantic_private__", {"_row": row, "_checked": self._checked})
        return made

    @property
    def extra_outputs(self) -> tuple[ExtraOutput, ...]:
        """The outputs beyond the table that it knows, by `with_outputs`."""
        found: tuple[ExtraOutput, ...] = self.__dict__.get(_EXTRA, ((), ()))[0]
        return found

    @property
    def extra_findings(self) -> tuple[ExtraFinding, ...]:
        """The judgements beside the library's own that are asked of it, by `with_findings`."""
        found: tuple[ExtraFinding, ...] = self.__dict__.get(_EXTRA, ((), ()))[1]
        return found

    @property
    def outputs(self) -> Mapping[str, Output]:
        """Every output that may be named of it: the outputs table, then those that packs add here."""
        return known_outputs(self.extra_outputs)

    def _replaced(self, wanted: Mapping[str, Any]) -> dict[str, Any]:
        """The fields of `replace`: readings bound, then whole parts set, then values in them."""
        fields = {**self.given(), **self._bound(wanted)}
        for path, value in sorted(wanted.items(), key=lambda item: item[0].count(".")):
            _set(fields, path, value)
        return fields

    def _bound(self, changes: Mapping[str, Any]) -> dict[str, Any]:
        """The deck reading with what it was taken with written in, where `changes` would take that from under it."""
        touched = set(changes)
        if self.assembled is not None and "assembled" not in touched:
            moved = sorted(path for path in touched if _moves_assembled(path))
            if moved:
                raise AssemblyError(
                    "assembled_volume",
                    f"the assembled volume was read with the parts as they were; changing {', '.join(moved)} makes it void. "
                    "Replace assembled too, or set it to None to work from head and crown volumes",
                )
        bound = self._bound_assembled(touched)
        deck = self.deck
        if deck is None or "deck" in touched:
            return bound
        binds: dict[str, Any] = {}
        for part, fields in _DECK_MOVES.items():
            own = getattr(self, part)
            if own is not None and getattr(deck, part) is None and any(_touches(path, part, fields) for path in touched):
                binds[part] = own
        binds |= _bound_stack(touched, "deck", deck, "base", self.base_gaskets)
        return {**bound, "deck": deck.replace(**binds)} if binds else bound

    def _bound_assembled(self, touched: set[str]) -> dict[str, Any]:
        """The assembled reading with the stack it was read with written in, where `touched` would take that from under it."""
        assembled = self.assembled
        if assembled is None or "assembled" in touched:
            return {}
        binds = {
            **_bound_stack(touched, "assembled", assembled, "base", self.base_gaskets),
            **_bound_stack(touched, "assembled", assembled, "head", self.head_gaskets),
        }
        return {"assembled": assembled.replace(**binds)} if binds else {}


#: Where a top end keeps the outputs and the judgements that packs add.
_EXTRA: Final = "_of_packs"
#: Parts of which a value may be set where none was given.
_FROM_NOTHING: Final = ("charge", "burn", "losses", "cranking")
_DECK_MOVES: Final = {
    "crank": ("stroke", "rod_length", "offset", "seat_height"),
    "piston": ("crown", "diameter", "compression_height", "pin_offset"),
    "cylinder": ("height",),
}


def _touches_stack(touched: set[str], stack: str) -> bool:
    name = _STACKS[stack][0]
    return any(path in (stack, name) or re.fullmatch(rf"{name}\.\d+(\.(fitted_)?thickness)?", path) for path in touched)


def _bound_stack(touched: set[str], reading: str, part: Part, role: str, gaskets: tuple[Gasket, ...] | None) -> dict[str, Any]:
    """What `part`, a reading, is told of the stack it was read with where `touched` puts other gaskets in its place."""
    thickness, identity = f"{role}_thickness", f"{role}_stack"
    if not _touches_stack(touched, READ_WITH[f"{reading}.{thickness}"]):
        return {}
    total = stack_thickness(gaskets) if getattr(part, thickness) is None else getattr(part, thickness)
    if total is None:
        return {}
    return {thickness: total} | ({} if f"{reading}.{identity}" in touched else {identity: "other"})


def _touches(path: str, part: str, fields: tuple[str, ...]) -> bool:
    root, _, rest = path.partition(".")
    return root == part and (not rest or rest.split(".", 1)[0] in fields)


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
#: Fields that say how a part grows, and what it grows into.
_GROWTH: Final = ("material", "expansion", "skirt_diameter", "clearance", "rings")
#: Fields that say which edge of a piston opens a port.
_SKIRT: Final = ("rocking", "skirt_top", "edge_chamfer", "timing_edge", "skirt_length", "inlet_skirt_length")
#: Fields of a cylinder that other parts have to fit.
_CYLINDER_FITS: Final = (
    *("studs", "register_diameter", "skirt_diameter", "window_diameter", "pin_height", "pin_diameter"),
    *("deck_diameter", "coolant_diameter", "base_diameter", "base_studs", "cutouts", "bore_wear", "edges"),
    *("deck_notches", "base_notches"),
)


def _moves_assembled(path: str) -> bool:
    root, _, rest = path.partition(".")
    if root in ("crank", "piston", "head"):
        return rest.split(".", 1)[0] not in _NO_VOLUME
    return root == "cylinder" and (not rest or rest.split(".", 1)[0] in ("bore", "height"))


def stack_thickness(gaskets: tuple[Gasket, ...] | None) -> StatedQuantity | None:
    """Sum of the fitted thicknesses of a stack, with the sum of their limits, stated or assumed; None where the stack is unknown."""
    if gaskets is None:
        return None
    total = low = high = 0.0
    for gasket in gaskets:
        value = gasket.fitted
        ends = value.si_limits or Limits(value.si, value.si)
        if gasket.fitted_thickness is None:
            ends = crushed_limits(gasket.crush_class, value.si, value.si_limits)
        total, low, high = total + value.si, low + ends.low, high + ends.high
    shown = [from_si(number, "mm") for number in (total, low, high)]
    limits = Limits(shown[1], shown[2]) if low != high else None
    return StatedQuantity._state(shown[0], "mm", limits, None)


def crushed_limits(crush: str, nominal: float, ends: Limits | None) -> Limits:
    """Limits [m] of a fitted thickness that was not measured, from the `nominal` one and what is stated of that.

    Limits stated of the nominal take the place of the assumed ± 0.02 mm, and crush comes on top of them.
    """
    assumed = CRUSH[crush].limits
    assert assumed is not None
    low, high = (float(end) for end in assumed(nominal))
    if ends is None:
        return Limits(low, high)
    return Limits(ends.low * (min(1.0, low / nominal) if crush != "metal" else 1.0), ends.high)


# --- changing a value by its path ------------------------------------------------------------------------------------


def known_paths() -> list[str]:
    """Every path that `TopEnd.replace` takes, with N for an index."""
    return [*INPUTS, *TopEnd.model_fields]


def _unknown(path: str) -> UnknownNameError:
    return UnknownNameError(path, known_paths(), what="input", searched="the inputs table")


def _set(fields: dict[str, Any], path: str, value: Any) -> None:
    if path in _STACKS:
        name, role = _STACKS[path]
        fields[name] = [_whole_stack(role, fields.get(name), value, path)]
        return
    root, _, rest = path.partition(".")
    if root not in TopEnd.model_fields:
        raise _unknown(path)
    fields[root] = value if not rest else _changed(fields.get(root), rest, value, path, root)


def _whole_stack(role: str, gaskets: Any, value: Any, path: str) -> Gasket:
    try:
        thickness = stated(value, KINDS["length"])
    except StatedValueError as error:
        raise PartError("TopEnd", [Problem(path, str(error))]) from None
    openings = {gasket.opening for gasket in gaskets or ()}
    if len(openings) > 1:
        problem = Problem(path, "stands for one gasket, but those fitted have different openings; replace head_gaskets as a list")
        raise PartError("TopEnd", [problem])
    return Gasket(role=role, thickness=thickness, fitted_thickness=thickness, opening=next(iter(openings), None))


def _changed(here: Any, rest: str, value: Any, path: str, so_far: str) -> Any:
    step, _, further = rest.partition(".")
    # a list or a table is what an earlier change of the same call has left
    if isinstance(here, (tuple, list)):
        if not re.fullmatch(r"\d+", step) or int(step) >= len(here):
            raise PartError("TopEnd", [Problem(path, f"asks for {so_far}.{step}, but {so_far} has {len(here)} entries, counted from 0")])
        items = list(here)
        items[int(step)] = value if not further else _changed(items[int(step)], further, value, path, f"{so_far}.{step}")
        return items
    if here is None or isinstance(here, dict):
        pattern = re.sub(r"\.\d+(?=\.|$)", ".N", path)
        if pattern not in INPUTS:
            raise _unknown(path)
        if so_far in _FROM_NOTHING and not further:
            return {**(here or {}), step: value}
        if so_far in ("running", "probe", "studs", "crank", "cylinder", "piston", "deck", "assembled") and not further:
            return {**(here or {}), step: value}
        raise PartError("TopEnd", [Problem(path, f"cannot be set: {so_far} is not given; give {so_far} as a whole first")])
    if not isinstance(here, Part) or step not in type(here).model_fields:
        raise _unknown(path)
    return here.replace(**{step: value if not further else _changed(getattr(here, step), further, value, path, f"{so_far}.{step}")})


def lowered(top: TopEnd, heads: Sequence[Head | None]) -> list[Row]:
    """The row of `top` with each of `heads`, its gasket stacks left open, without asking whether the parts go together.

    For solvers, which give the stacks as columns and ask row by row. Readings stay bound to the stack they were taken with.
    An assembled volume counts for the head of `top` alone.
    """
    changes = {"base_gaskets": None, "head_gaskets": None}
    fields = {**top.given(), **top._bound(changes), **changes, "head": None}
    extra = top.extra_outputs
    own = _lower(TopEnd.model_construct(**fields), extra)
    other = own if top.assembled is None else _lower(TopEnd.model_construct(**{**fields, "assembled": None}), extra)
    rows = []
    for head in heads:
        base = own if top.assembled is None or head is top.head or head == top.head else other
        rows.append(base if head is None else _with_head(base, head))
    return rows


def _with_head(row: Row, head: Head) -> Row:
    values, limits, resolutions, noted = dict(row.values), dict(row.limits), dict(row.resolutions), dict(row.noted)
    tags = set(row.structure.tags)
    _lower_stated("head.", head, values, limits, resolutions)
    _tag_head(tags, head, values, limits, noted)
    if head.seal == "o-ring":
        tags.add("head_gaskets:0")
    return Row(replace(row.structure, given=frozenset(values), tags=frozenset(tags)), values, limits, resolutions, noted)


class _Unjudged(TopEnd):
    """The fields of a top end, validated one by one, without asking whether they go together."""

    @model_validator(mode="after")
    def _assemble(self) -> _Unjudged:
        return self


#: so that messages speak of what people know
_Unjudged.__name__ = "TopEnd"


def lowered_changed(top: TopEnd, changes: Mapping[str, Any]) -> tuple[Row, AssemblyError | None]:
    """The row of ``top.replace(changes)``, and what refuses it whatever its numbers are; nothing else is judged.

    For studies, which put columns in the place of the changed values and ask row by row. Raises as `replace` for a path or a
    value that does not fit, and for parts that an assembled volume cannot follow.
    """
    made = _Unjudged(**top._replaced(changes))
    try:
        _refuse_structure(made)
    except AssemblyError as error:
        return _lower(made, top.extra_outputs), error
    return _lower(made, top.extra_outputs), None


def with_values(top: TopEnd, values: Mapping[str, Any]) -> TopEnd:
    """`top` with the values at paths set and no reading bound: not another part fitted, but what the same part truly is.

    It is not judged; what is made of it by `replace` is.
    """
    fields = top.given()
    for path, value in values.items():
        _set(fields, path, value)
    for path, stack in READ_WITH.items():
        reading, _, thickness = path.partition(".")
        # the very same gaskets under the reading
        if getattr(top, reading, None) is not None and path in top.row.values and top.row.same_stack(path):
            gaskets = fields[_STACKS[stack][0]]
            fields[reading] = fields[reading].replace(**{thickness: stack_thickness(tuple(gaskets)), _identity(path): "same"})
    return _Unjudged(**fields)


def _identity(path: str) -> str:
    """The field of a reading that says whether the stack of thickness `path` is the one now fitted."""
    return path.partition(".")[2].replace("_thickness", "_stack")


# --- lowering --------------------------------------------------------------------------------------------------------


def _lower(top: TopEnd, extra: tuple[ExtraOutput, ...] = ()) -> Row:
    values: dict[str, float] = {"piston.pin_offset": 0.0, "crank.offset": 0.0}
    limits: dict[str, Limits] = {}
    resolutions: dict[str, float] = {}
    noted: dict[str, str] = {}
    _lower_stated("", top, values, limits, resolutions)
    tags = {f"crevice:{top.crevice}"}
    _tag_crown(tags, "piston", top.piston)
    for name in ("cylinder", "piston", "head"):
        metal = getattr(getattr(top, name), "material", None)
        if metal is not None:
            tags.add(f"{name}.material:{metal}")
    if top.burn is not None:
        tags.add("burn:stated")
    if top.charge is not None and top.charge.fuel is not None:
        tags.add(f"charge.fuel:{top.charge.fuel}")
    if top.losses is not None and top.losses.relation is not None:
        tags.add(f"losses.relation:{top.losses.relation}")
    if top.piston is not None and top.piston.timing_edge == "ring":
        tags.add("piston.timing_edge:ring")
    if top.piston is not None and top.piston.rings:
        tags.add(f"piston.rings:{len(top.piston.rings)}")
        tags.update(f"piston.rings.{index}.material:{ring.material}" for index, ring in enumerate(top.piston.rings) if ring.material)
    head = top.head
    if head is not None:
        _tag_head(tags, head, values, limits, noted)
    head_gaskets = top.head_gaskets
    if head_gaskets is None and head is not None and head.seal == "o-ring":
        head_gaskets = ()
    for stack, gaskets in (("base_gaskets", top.base_gaskets), ("head_gaskets", head_gaskets)):
        if gaskets is not None:
            tags.add(f"{stack}:{len(gaskets)}")
            tags.update(f"{stack}.{index}:{gasket.crush_class}" for index, gasket in enumerate(gaskets))
            tags.update(f"{stack}.{index}.material:{gasket.material}" for index, gasket in enumerate(gaskets) if gasket.material)
            tags.update(f"{stack}.{index}.studs:{gasket.studs.count}" for index, gasket in enumerate(gaskets) if gasket.studs)
    if top.cylinder is not None:
        tags.update(f"cylinder.ports.{index}:{port.kind}" for index, port in enumerate(top.cylinder.ports))
        for index, port in enumerate(top.cylinder.ports):
            at = f"cylinder.ports.{index}"
            said = (
                (port.width_along == "arc", "width:arc"),
                (bool(port.auxiliary), "auxiliary:yes"),
                ((port.count or 1) > 1, f"count:{port.count}"),
            )
            tags.update(f"{at}.{tag}" for applies, tag in said if applies)
    if top.cylinder is not None and top.cylinder.studs is not None:
        tags.add(f"cylinder.studs:{top.cylinder.studs.count}")
    if top.cylinder is not None and top.cylinder.base_studs is not None:
        tags.add(f"cylinder.base_studs:{top.cylinder.base_studs.count}")
    if top.studs is not None:
        said_of = (
            ("root", top.studs.root),
            ("property_class", top.studs.property_class),
            ("lubrication", top.studs.lubrication),
            ("frictions", top.studs.frictions),
        )
        tags.update(f"studs.{what}:{which}" for what, which in said_of if which is not None)
    if top.location is not None:
        _tag_location(tags, top.location, values, limits, noted)
    if top.deck is not None:
        _tag_deck(tags, top, values)
    for path in READ_WITH:
        _tag_stack(tags, top, path, limits, noted)
    return Row(Structure(frozenset(values), frozenset(tags), nodes_of(extra)), values, limits, resolutions, noted)


def _lower_stated(prefix: str, part: Part, values: dict[str, float], limits: dict[str, Limits], resolutions: dict[str, float]) -> None:
    for path, quantity in part.stated():
        path = prefix + path
        values[path] = quantity.si
        ends, resolution = quantity.si_limits, quantity.si_resolution
        if ends is not None:
            limits[path] = ends
        elif resolution is not None and quantity.si != 0.0:
            resolutions[path] = resolution


def _tag_head(tags: set[str], head: Head, values: dict[str, float], limits: dict[str, Limits], noted: dict[str, str]) -> None:
    tags.add(f"head:{head.kind}")
    if not isinstance(head, SpigotHead):
        tags.add(f"head.volume_datum:{head.volume_datum}")
        if head.recess_diameter is not None:
            tags.add("head.recess:stated")
    tags.add(f"head.seal:{head.seal}")
    if head.groove is not None:
        tags |= {f"head.groove:{head.groove.seals}", f"head.groove.pressure:{head.groove.pressure}"}
    if head.o_ring is not None:
        _tag_o_ring(tags, head.o_ring, values, limits, noted)
    if head.profile is not None:
        tags |= head.profile.tags()
    if head.volume_basis == "engraved" and head.chamber_volume is not None and head.chamber_volume.stated_limits is None:
        value = values["head.chamber_volume"]
        limits["head.chamber_volume"] = Limits(value - ENGRAVED_LIMITS, value + ENGRAVED_LIMITS)
        noted["head.chamber_volume"] = "chamber volume engraved, not measured: ± 0.3 cc"
    if head.profile is not None and head.chamber_volume is not None:
        tags.add(f"head.chamber_slack:{_slack(head.chamber_volume, limits.get('head.chamber_volume'))!r}")


def _tag_o_ring(tags: set[str], ring: ORing, values: dict[str, float], limits: dict[str, Limits], noted: dict[str, str]) -> None:
    if ring.material is not None:
        tags.add(f"head.o_ring.material:{ring.material}")
    for name, half in (
        ("inner_diameter", sealing.iso_inner_tolerance(ring_diameter=values["head.o_ring.inner_diameter"])),
        ("section", sealing.iso_section_tolerance(section=values["head.o_ring.section"])),
    ):
        path, width = f"head.o_ring.{name}", float(half)
        if path not in limits and np.isfinite(width):
            limits[path] = Limits(values[path] - width, values[path] + width)
            noted[path] = "size of an O-ring without limits: those of ISO 3601-1, class B (from memory)"


def _slack(volume: StatedQuantity, ends: Limits | None) -> float:
    """How far a chamber volume may lie from its half-section's: to its limits, else half of its last written decimal."""
    if ends is not None:
        return max(ends.high - volume.si, volume.si - ends.low)
    return volume.si_resolution or 1e-9 * volume.si


def _tag_location(tags: set[str], location: Location, values: dict[str, float], limits: dict[str, Limits], noted: dict[str, str]) -> None:
    tags.add(f"location:{location.kind}")
    if not isinstance(location, PinLocation):
        return
    if location.fixture is not None:
        tags.add(f"location.fixture:{location.fixture.lips}")
    pin = location.pin
    if pin is not None and pin.free_diameter is None:
        ends, path = pin.free, "location.pin.free_diameter"
        # of a solid pin its own size, in the middle of its limits as everywhere
        values[path] = (ends.low + ends.high) / 2.0 if pin.standard != "solid" else pin.diameter.si
        limits[path] = ends
        noted[path] = f"diameter before it is driven in by {pin.standard}" if pin.standard != "solid" else "a solid pin: as its diameter"


def _tag_stack(tags: set[str], top: TopEnd, path: str, limits: dict[str, Limits], noted: dict[str, str]) -> None:
    """Whether the gaskets under a reading are those now fitted: as it is said, else by whether both are stated alike."""
    reading, _, thickness = path.partition(".")
    part, identity = getattr(top, reading), _identity(path)
    if part is None:
        return
    said, then = getattr(part, identity), getattr(part, thickness)
    gaskets = getattr(top, _STACKS[READ_WITH[path]][0])
    if said is None and then is not None and gaskets and all(gasket.fitted_thickness is not None for gasket in gaskets):
        now = stack_thickness(gaskets)
        assert now is not None
        if _as_far(then, now):
            said = "alike"
            if then.si_limits is not None:
                noted[path] = (
                    f'stated as those now fitted are: taken as the same gaskets, whose limits cancel; of others say {identity} = "other"'
                )
    if said is not None:
        tags.add(f"{reading}.{identity}:{said}")


def _as_far(one: StatedQuantity, other: StatedQuantity) -> bool:
    """Whether both are stated with the same value and the same limits, to the rounding of their sums."""
    ends = [known.si_limits or Limits(known.si, known.si) for known in (one, other)]
    pairs = ((one.si, other.si), (ends[0].low, ends[1].low), (ends[0].high, ends[1].high))
    return all(abs(first - second) < 1e-12 for first, second in pairs)


def _tag_crown(tags: set[str], path: str, piston: Piston | None) -> None:
    if piston is not None and piston.crown is not None:
        tags.add(f"{path}.crown:{piston.crown.shape}")


def _tag_deck(tags: set[str], top: TopEnd, values: dict[str, float]) -> None:
    deck = top.deck
    assert deck is not None
    tags.add(f"deck.at:{deck.at if isinstance(deck.at, str) else 'radius'}")
    for part in ("crank", "piston", "cylinder"):
        if getattr(deck, part) is not None:
            tags.add(f"deck.{part}:named")
    _tag_crown(tags, "deck.piston", deck.piston)
    # Heights that nobody stated: the seat belongs to the case, which stays; a piston or cylinder that differs only in
    # what does not move the deck is taken as equal there, and that is listed. Otherwise the path is asked for.
    if deck.crank is not None and not {"crank.seat_height", "deck.crank.seat_height"} & set(values):
        tags.add("same:crank.seat_height")
    if deck.crank is not None and not {"crank.rod_length", "deck.crank.rod_length"} & set(values):
        tags.add("same:crank.rod_length")
    for part, path, beside in (
        (
            "piston",
            "piston.compression_height",
            ("crown", "diameter", "top_land", "pin_diameter", "assembly_mass", "edges", *_SKIRT, *_GROWTH),
        ),
        ("cylinder", "cylinder.height", ("bore", "ports", "cooling", "bore_chamfer", *_CYLINDER_FITS, *_GROWTH)),
    ):
        then, now = getattr(deck, part), getattr(top, part)
        if then is None or {path, f"deck.{path}"} & set(values):
            continue
        if now is None or _alike(then, now, beside):
            tags.update((f"same:{path}", f"unsaid:{path}"))


def _alike(one: Part, other: Part, beside: tuple[str, ...]) -> bool:
    skip = {*beside, "source", "basis"}
    return all(getattr(one, name) == getattr(other, name) for name in type(one).model_fields if name not in skip)


# --- refusing --------------------------------------------------------------------------------------------------------


def _refuse_structure(top: TopEnd) -> None:
    for stack, role in (("base_gaskets", "base"), ("head_gaskets", "head")):
        for index, gasket in enumerate(getattr(top, stack) or ()):
            if gasket.role != role:
                raise AssemblyError("wrong_role", f"{stack}.{index} is a {gasket.role} gasket; {stack} takes gaskets of role {role}")
    if top.head is not None and top.head.seal == "o-ring" and top.head_gaskets:
        raise AssemblyError(
            "seal_mismatch",
            f"the head seals by O-ring alone, yet {len(top.head_gaskets)} head gasket(s) lie under it; "
            "take them out, or give the head seal both",
        )


def check(row: Row) -> dict[str, Any]:
    """Raise `AssemblyError` where this row is no top end; else give the values worked out for it, with its columns."""
    judged, planned = wiring.checks(row.structure, sizes=False)
    values = wiring.run(planned, row.columns())
    code = int(wiring.status(judged, wiring.masks(judged, values), _CODES)[0])
    if code:
        reason = _REASONS[code]
        raise AssemblyError(reason, _refusal_text(reason, row, values))
    return values


def _refusal_text(reason: str, row: Row, values: dict[str, Any]) -> str:
    def mm(name: str) -> float:
        return float(np.atleast_1d(values[name])[0]) * 1e3

    def has(*names: str) -> bool:
        return all(name in values for name in names)

    if reason == "contact":
        return _contact_text(row, values, mm, has)
    if reason == "rod_too_short":
        throw, offset, rod = mm("crank.throw"), mm("crank.axis_offset"), mm("crank.rod_length")
        short = throw + abs(offset) - rod
        return f"the rod ({rod:.3f} mm) is not longer than throw plus offset ({throw:.3f} + {abs(offset):.3f} mm): {short:.3f} mm short"
    if reason == "piston_wider_than_bore":
        return _wider("the piston", mm("piston.diameter"), "the bore", mm("cylinder.bore"))
    if reason == "spigot_wider_than_bore":
        return _wider("the head's spigot", mm("head.spigot_diameter"), "the bore", mm("cylinder.bore"))
    if reason == "band_wider_than_head":
        outer = "head.spigot_diameter" if row.structure.choice("head") == "spigot" else "head.recess_diameter"
        what = "its spigot" if outer == "head.spigot_diameter" else "its recess"
        return _wider("the head's squish band", mm("head.band.outer_diameter"), what, mm(outer))
    if reason == "band_inside_out":
        inner, outer_name = mm("head.band.inner_diameter"), "head.band.outer_diameter"
        if has("cylinder.bore") and not (has(outer_name) and mm(outer_name) <= inner):
            outer_name = "cylinder.bore"
        what = "the bore" if outer_name == "cylinder.bore" else "its outer diameter"
        return f"the squish band's inner diameter ({inner:.3f} mm) is not smaller than {what} ({mm(outer_name):.3f} mm)"
    if reason == "opening_inside_bore":
        bore = mm("cylinder.bore")
        tight = [path for path in sorted(values) if path.startswith("head_gaskets.") and path.endswith(".opening") and mm(path) < bore]
        opening = mm(tight[0])
        hangs = f"the gasket hangs {(bore - opening) / 2:.3f} mm into it"
        return f"{tight[0]} ({opening:.3f} mm) is inside the bore ({bore:.3f} mm): {hangs}"
    if reason == "offset_against_kind":
        kind, offset = row.structure.choice("head"), mm("head.recess_offset")
        if kind == "spigot":
            rule = "a spigot head drops in: its recess_offset is zero or negative"
            other = 'a band above the gasket face is a FlushHead\'s, kind = "flush"'
        else:
            rule = "a flush head's band does not stand proud: its recess_offset is zero or positive"
            other = 'one that drops in is a SpigotHead, kind = "spigot"'
        return f"{rule}, got {offset:.3f} mm; {other}"
    if reason == "crown_beyond_hemisphere":
        height, radius, crown = mm("piston.crown.cap_height"), mm("piston.crown.cap_radius"), mm("piston.crown.radius")
        if radius > crown:
            return f"the dish ({2 * radius:.3f} mm across) is wider than the piston ({2 * crown:.3f} mm)"
        return f"the crown rises or sinks by {abs(height):.3f} mm over a radius of {radius:.3f} mm: more than a hemisphere"
    if reason == "port_above_crown":
        top, deck = mm("ports.least_top"), mm("deck_clearance")
        crown_at = f"above the crown at TDC ({deck:.3f} below the deck)"
        return f"a port's roof ({_roof_words(top, values)}) lies {deck - top:.3f} mm {crown_at}: it never closes"
    if reason == "port_never_opens":
        top, reach = mm("ports.greatest_top"), mm("deck_clearance") + mm("piston_travel")
        crown_at = f"below the crown at BDC ({reach:.3f} below the deck)"
        return f"a port's roof ({_roof_words(top, values)}) lies {top - reach:.3f} mm {crown_at}: it never opens"
    if reason in ("inlet_never_opens", "inlet_never_shuts"):
        drop, travel = mm("inlet.drop"), mm("piston_travel")
        if reason == "inlet_never_opens":
            return f"the skirt reaches {-drop:.3f} mm below the inlet's floor at TDC: it never opens"
        return f"the skirt stands {drop - travel:.3f} mm above the inlet's floor at BDC: it never shuts"
    if reason == "profile_impossible":
        return f"the head's half-section cannot be: {wiring.fault_words(row.structure, values)}"
    if reason == "profile_disagrees":
        return _disagreement(row, values)
    if reason == "no_clearance_volume":
        return f"the volumes given leave {mm('clearance_volume') * 1e3:.3f} cc of clearance; check chamber volume, its datum, and the crown"
    if reason == "stack_disagrees":
        return _two_figures(row, mm)
    if reason in ("spark_before_closing", "spark_after_opening", "burned_before_spark"):
        return _burn_text(reason, row, values)
    bad = [path for path, number in row.values.items() if not np.isfinite(number)]
    return f"{', '.join(bad) or 'a size'} is not a size that a part can have"


def _burn_text(reason: str, row: Row, values: dict[str, Any]) -> str:
    """What is wrong with when the charge burns."""

    def deg(name: str) -> float:
        return float(np.degrees(np.atleast_1d(values[name])[0]))

    if reason == "spark_before_closing":
        spark, closes = deg("burn.spark"), deg("exhaust_closes")
        return f"the spark ({spark:.1f} deg before TDC) comes before the exhaust closes ({closes:.1f} deg before TDC)"
    if reason == "spark_after_opening":
        start, opens = deg("burn.start"), deg("exhaust_opens")
        after = f"the burn would start {start:.1f} deg after TDC, when the exhaust is open (from {opens:.1f} deg)"
        return f"{after}; burn.spark counts degrees before TDC, positive"
    residual = float(np.atleast_1d(values["charge.residual"])[0])
    if not 0.0 <= residual < 1.0:
        return f"charge.residual ({100.0 * residual:.1f} %) leaves nothing to burn: the whole charge is burned before the spark"
    delay, duration = deg("burn.delay"), deg("burn.duration")
    return f"burn.delay ({delay:.1f} deg) and burn.duration ({duration:.1f} deg) have the charge burn before its spark"


def _two_figures(row: Row, mm: Any) -> str:
    """One stack said to be the same under a reading and now, with two thicknesses."""
    for path, stack in READ_WITH.items():
        if path in row.values and row.structure.choice(path.replace("_thickness", "_stack")) == "same" and mm(path) != mm(stack):
            break
    identity = _identity(path)
    return (
        f"{path.partition('.')[0]}.{identity} says that the same gaskets lie there now, yet {path} is {mm(path):.3f} mm and those fitted "
        f'come to {mm(stack):.3f} mm; leave {path} out, or say {identity} = "other"'
    )


def _roof_words(top: float, values: dict[str, Any]) -> str:
    """Where a port's roof is, from `top` as it counts for timing, and by what it counts where that is not the crown's edge."""
    below = float(np.atleast_1d(values.get("piston.timing_depth", 0.0))[0]) * 1e3
    counted = f", {top:.3f} by what seals, {below:.3f} under the crown's edge" if below > 0.0 else ""
    return f"{top + below:.3f} below the deck{counted}"


def _disagreement(row: Row, values: dict[str, Any]) -> str:
    """What a head states that its half-section does not have."""
    for stated_at, made_at in AGREE:
        if {stated_at, made_at} <= set(row.values) and abs(row.values[stated_at] - row.values[made_at]) > 1e-9:
            unit = INPUTS[stated_at].unit
            one, other = (f"{from_si(row.values[path], unit):.4f} {unit}" for path in (stated_at, made_at))
            return f"{stated_at} is {one}, and its half-section has {other}; leave it out, so that it follows from the half-section"
    swept, volume = (from_si(float(np.atleast_1d(values[name])[0]), "cc") for name in ("head.profile.volume", "head.band_volume"))
    slack = from_si(float(row.structure.choice("head.chamber_slack") or 0.0), "cc")
    return (
        f"the chamber volume is stated as {volume:.4f} cc, and its half-section sweeps {swept:.4f} cc, {abs(volume - swept):.4f} cc apart "
        f"where {slack:.4f} cc are within its limits or its last decimal; leave chamber_volume out, or correct the half-section"
    )


def _wider(what: str, size: float, other: str, limit: float) -> str:
    return f"{what} ({size:.3f} mm) is wider than {other} ({limit:.3f} mm) by {size - limit:.3f} mm"


def _contact_text(row: Row, values: dict[str, Any], mm: Any, has: Any) -> str:
    edge = mm("squish_edge") if has("squish_edge") else None
    if has("contact_min") and not mm("contact_min") > 0.0:
        # the whole crown in fine steps: enough for the words of a refusal
        names = {**GAP_AT, "outer": "head.band.outer_radius"}
        planned = wiring.plan(row.structure, tuple(names.values()))
        known = wiring.run(planned, row.columns())
        radius = np.linspace(known[names["inner_radius"]][0], known[names["crown_radius"]][0], 2001)
        gaps = squish.gap_at(radius=radius, **{name: known[path] for name, path in GAP_AT.items()})
        gap, where = mm("contact_min"), f"at radius {radius[np.nanargmin(gaps)] * 1e3:.1f} mm"
        if has("contact.beside_bowl") and mm("contact.beside_bowl") > gap:
            where = "in the bowl"
    elif has("squish_min"):
        gap, where = mm("squish_min"), "inside the squish band"
    else:
        gap, where = edge or 0.0, "at the squish band's outer edge"
    beside = f"; the gap at the band's outer edge is {edge:.3f} mm" if edge is not None and abs(edge - gap) > 1e-9 else ""
    return f"crown and head touch at TDC {where}: they overlap by {-gap:.3f} mm{beside}. Thicker gaskets, or a head that stands less proud"
