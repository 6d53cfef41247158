"""TopEnd: parts in, row out. It lowers parts to named SI floats, and refuses what cannot be assembled."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final, Literal

from pydantic import BaseModel, Field, PrivateAttr, model_validator

from topend.assembly.binding import bound
from topend.assembly.lowering import lower, lower_stated, tag_head
from topend.assembly.refusing import check, refuse_structure
from topend.assembly.row import Row
from topend.assembly.stacks import READ_WITH, STACKS, identity_field, stack_thickness
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
    Part,
    Piston,
    Probe,
    Running,
    StudSet,
)
from topend.quantities import INPUTS, ExtraFinding, ExtraOutput, Output
from topend.units import KINDS, StatedValueError, stated

__all__ = ["TopEnd", "known_paths", "lowered", "lowered_changed", "with_values"]

#: Where a top end keeps the outputs and the judgements that packs add.
_EXTRA: Final = "_of_packs"
#: Parts of which a value may be set where none was given.
_FROM_NOTHING: Final = ("charge", "burn", "losses", "cranking")


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
        refuse_structure(self)
        row = lower(self)
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
        fields = {**self.given(), **bound(self, wanted)}
        for path, value in sorted(wanted.items(), key=lambda item: item[0].count(".")):
            _set(fields, path, value)
        return fields


# --- changing a value by its path ------------------------------------------------------------------------------------


def known_paths() -> list[str]:
    """Every path that `TopEnd.replace` takes, with N for an index."""
    return [*INPUTS, *TopEnd.model_fields]


def _unknown(path: str) -> UnknownNameError:
    return UnknownNameError(path, known_paths(), what="input", searched="the inputs table")


def _set(fields: dict[str, Any], path: str, value: Any) -> None:
    if path in STACKS:
        name, role = STACKS[path]
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
    fields = {**top.given(), **bound(top, changes), **changes, "head": None}
    extra = top.extra_outputs
    own = lower(TopEnd.model_construct(**fields), extra)
    other = own if top.assembled is None else lower(TopEnd.model_construct(**{**fields, "assembled": None}), extra)
    rows = []
    for head in heads:
        base = own if top.assembled is None or head is top.head or head == top.head else other
        rows.append(base if head is None else _with_head(base, head))
    return rows


def _with_head(row: Row, head: Head) -> Row:
    values, limits, resolutions, noted = dict(row.values), dict(row.limits), dict(row.resolutions), dict(row.noted)
    tags = set(row.structure.tags)
    lower_stated("head.", head, values, limits, resolutions)
    tag_head(tags, head, values, limits, noted)
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
        refuse_structure(made)
    except AssemblyError as error:
        return lower(made, top.extra_outputs), error
    return lower(made, top.extra_outputs), None


def _says(reading: Part, path: str) -> bool:
    return getattr(reading, identity_field(path)) is not None


def with_values(top: TopEnd, values: Mapping[str, Any], changed: Collection[str] = ()) -> TopEnd:
    """`top` with the values at paths set and no reading bound: not another part fitted, but what the same part truly is.

    It is not judged; what is made of it by `replace` is, whose paths are `changed`: a reading whose gaskets are only taken as the same is
    not said to be over the same ones where another thickness is put in its place.
    """
    fields = top.given()
    for path, value in values.items():
        _set(fields, path, value)
    for path, stack in READ_WITH.items():
        reading, _, thickness = path.partition(".")
        part = getattr(top, reading, None)
        # the very same gaskets under the reading
        if part is not None and path in top.row.values and top.row.same_stack(path) and (path not in changed or _says(part, path)):
            gaskets = fields[STACKS[stack][0]]
            fields[reading] = fields[reading].replace(**{thickness: stack_thickness(tuple(gaskets)), identity_field(path): "same"})
    return _Unjudged(**fields)
