"""What every part shares: frozen, strict about keys, and told in our words when something in it is wrong."""

from __future__ import annotations

import dataclasses
import re
import typing
from typing import Any, ClassVar, Final, NoReturn, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from topend.errors import ArgumentError, PartError, Problem
from topend.notebook import html_table
from topend.parts.help import FieldsTold, ShortSignature, described
from topend.parts.provenance import Origin, Provenance
from topend.parts.told import classes_in, told
from topend.quantities import INPUTS, Basis
from topend.units import StatedQuantity

__all__ = ["Part", "stated_field"]


def stated_field(path: str, **kwargs: Any) -> Any:
    """A pydantic field whose description is the meaning of `path` in the table of inputs."""
    kwargs.setdefault("default", None)
    if kwargs["default"] is ...:
        del kwargs["default"]
    # of the field itself, which is counted nowhere: the N is that of a path
    return Field(description=re.sub(r"; N counts from 0[^.]*", "", INPUTS[path].meaning), **kwargs)


#: Of pydantic's first version; still there, and deprecated.
_OLD_NAMES: Final = frozenset(
    [
        *("construct", "copy", "dict", "from_orm", "json", "parse_file", "parse_obj", "parse_raw"),
        *("schema", "schema_json", "update_forward_refs", "validate"),
    ]
)


class Part(BaseModel):
    """A part of a top end: an immutable record of stated quantities.

    Unknown keys are refused with the nearest names, bare numbers with the line that mends them, and all that is wrong is
    told at once, as `PartError`. `replace` gives a changed copy, validated like a new part. What all parts have in common:

    >>> import topend as te
    >>> crank = te.Crank(stroke="39.3 mm", name="the spare one")
    >>> isinstance(crank, te.Part), crank.replace(stroke="40 mm").stroke, te.Crank.model_validate_json(crank.model_dump_json()) == crank
    (True, <Quantity(40 mm)>, True)
    """

    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="constants", json_schema_extra=described)

    name: str | None = Field(default=None, description="What people call it; no meaning to the library.")
    source: str | None = Field(default=None, description="Where its figures are from.")
    basis: Basis | None = Field(
        default=None, description="How its figures came about: measured, published, derived, estimated or invented."
    )

    title: ClassVar[str] = ""

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        cls.__doc__ = FieldsTold(vars(cls).get("__doc__"))  # type: ignore[assignment]  # a text to whoever reads it
        cls.__signature__ = ShortSignature()  # type: ignore[assignment]

    def __init__(self, /, *values: Any, **data: Any) -> None:
        __tracebackhide__ = True
        if values:
            fields = [name for name in type(self).model_fields if name not in Part.model_fields and name not in ("shape", "kind")]
            example = f"{type(self).__name__}({fields[0]}=...)" if fields else f"{type(self).__name__}()"
            raise ArgumentError(f"{type(self).__name__} takes its fields by name, such as {example}; got {values[0]!r} without one")
        try:
            self.__pydantic_validator__.validate_python(data, self_instance=self)
        except ValidationError as error:
            found = told(type(self), error)
        else:
            return
        # out here it has no context: that would be pydantic's error, which holds this very one, and what pickles contexts would not end
        raise found

    # without this mark pydantic would call __init__ for nested parts, and only their first problem would be told
    __init__.__pydantic_base_init__ = True  # type: ignore[attr-defined]

    @classmethod
    def model_validate(cls, obj: Any, **kwargs: Any) -> Self:
        try:
            return super().model_validate(obj, **kwargs)
        except ValidationError as error:
            found = told(cls, error)
        raise found

    @classmethod
    def model_validate_json(cls, json_data: str | bytes | bytearray, **kwargs: Any) -> Self:
        try:
            return super().model_validate_json(json_data, **kwargs)
        except ValidationError as error:
            found = told(cls, error)
        raise found

    def __dir__(self) -> list[str]:
        # without what pydantic keeps for programs written for its first version
        return [name for name in super().__dir__() if name not in _OLD_NAMES]

    def __iter__(self) -> NoReturn:  # pydantic's pairs of fields would pass for a list of parts
        raise TypeError(f"a {type(self).__name__} is one part, not a list; .given() has its fields")

    def __setattr__(self, name: str, value: Any) -> None:
        if name.startswith("_"):
            super().__setattr__(name, value)
            return
        raise PartError(type(self).__name__, [Problem(name, "cannot be set: parts do not change; use .replace() for a changed copy")])

    def model_copy(self, *, update: typing.Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy; `update` is validated here, unlike in plain pydantic."""
        return self.replace(**update) if update else super().model_copy(deep=deep)

    def replace(self, **changes: Any) -> Self:
        """A copy with `changes`, validated like a new part.

        >>> from topend.parts import Crank
        >>> Crank(stroke="39.3 mm").replace(stroke="40 mm").stroke
        <Quantity(40 mm)>
        """
        made = type(self)(**{**self.given(), **changes})
        return made.traced_to(self)

    @property
    def provenance(self) -> tuple[Provenance, ...]:
        """The data packs that this part, and the parts in it, are from; each once. Empty where nothing is from a pack."""
        return tuple(dict.fromkeys(_provenance(self)))

    @property
    def origins(self) -> typing.Mapping[str, Origin]:
        """How single figures of this part came about, by their path from here, where its pack says so.

        `basis` and `source` of the part itself hold for all others.
        """
        found: typing.Mapping[str, Origin] = self.__dict__.get(_ORIGINS, _NO_ORIGINS)
        return found

    def trace(self, provenance: Provenance | None, origins: typing.Mapping[str, Origin]) -> None:
        """Say where this part is from. For those who make parts from files; it is no field, and equality does not ask for it."""
        # beside the fields, as cached properties are kept: copies and pickles take it along
        if provenance is not None:
            object.__setattr__(self, _PROVENANCE, provenance)
        if origins:
            object.__setattr__(self, _ORIGINS, _Origins(origins))

    def traced_to(self, other: Part) -> Self:
        """This part, marked as made out of `other`: from the same pack, changed if it differs."""
        source = other.__dict__.get(_PROVENANCE)
        if source is not None and not source.changed and self != other:
            source = dataclasses.replace(source, changed=True)
        kept = {path: origin for path, origin in other.origins.items() if _at(self, path) == _at(other, path)}
        self.trace(source, kept)
        return self

    def given(self) -> dict[str, Any]:
        """The fields that were given, by name."""
        return {name: getattr(self, name) for name in self.model_fields_set}

    def stated(self) -> typing.Iterator[tuple[str, StatedQuantity]]:
        """Every stated quantity of this part and of the parts in it, with its path from here."""
        for name, value in self.__dict__.items():
            if value is None or isinstance(value, str):
                continue
            if isinstance(value, StatedQuantity):
                yield name, value
            else:
                yield from _stated(name, value)

    def _repr_html_(self) -> str:
        """The part as a table, for notebooks: what was stated of it and of the parts in it, each with its meaning."""
        rows = [(name, str(getattr(self, name)), "") for name in ("kind", "shape", "role", "material") if getattr(self, name, None)]
        rows += [(path, value.text, meaning_of(path, type(self))) for path, value in self.stated()]
        return html_table(f"{type(self).__name__} {self.name}" if self.name else type(self).__name__, ("field", "stated", "meaning"), rows)

    def __repr_args__(self) -> typing.Iterator[tuple[str | None, Any]]:
        for name, value in super().__repr_args__():
            if value is not None:
                yield name, _Bare(value.text) if isinstance(value, StatedQuantity) else value


#: Where a part keeps what is no field of it.
_PROVENANCE: Final = "_provenance"
_ORIGINS: Final = "_origins"


class _Origins(dict[str, Origin]):
    """Origins by path, which do not change; a dict, so that a part can be pickled."""

    def _refuse(self, *_: object, **__: object) -> Any:
        raise TypeError("origins of a part do not change")

    __setitem__ = __delitem__ = clear = pop = popitem = setdefault = update = __ior__ = _refuse

    def __reduce__(self) -> Any:
        return _Origins, (dict(self),)


_NO_ORIGINS: Final = _Origins()


def _provenance(value: Any) -> typing.Iterator[Provenance]:
    if isinstance(value, Part):
        own = value.__dict__.get(_PROVENANCE)
        if own is not None:
            yield own
        for name in type(value).model_fields:
            yield from _provenance(getattr(value, name))
    elif isinstance(value, tuple):
        for item in value:
            yield from _provenance(item)


def _at(part: Any, path: str) -> Any:
    for step in path.split("."):
        if isinstance(part, tuple):
            part = part[int(step)] if step.isdigit() and int(step) < len(part) else None
        else:
            part = getattr(part, step, None)
    return part


def meaning_of(path: str, owner: type[BaseModel]) -> str:
    """What the field at a path in a part means, in the words of its class; empty where the path leads into a choice of parts."""
    name, _, rest = path.partition(".")
    field = owner.model_fields.get(name)
    if field is None:
        return ""
    if not rest:
        return field.description or ""
    found = {meaning_of(rest.split(".", 1)[-1] if rest.split(".")[0].isdigit() else rest, inside) for inside in classes_in(field)} - {""}
    return found.pop() if len(found) == 1 else ""


class _Bare(str):
    def __repr__(self) -> str:
        return f'"{self}"'


def _stated(path: str, value: Any) -> typing.Iterator[tuple[str, StatedQuantity]]:
    if value is None:
        return
    if isinstance(value, StatedQuantity):
        yield path, value
    elif isinstance(value, Part):
        for inner, quantity in value.stated():
            yield f"{path}.{inner}", quantity
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from _stated(f"{path}.{index}", item)
