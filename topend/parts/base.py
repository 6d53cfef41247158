"""What every part shares: frozen, strict about keys, and told in our words when something in it is wrong."""

from __future__ import annotations

import dataclasses
import difflib
import typing
from typing import Any, ClassVar, Final, Self, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from pydantic.fields import FieldInfo

from topend.errors import ArgumentError, AssemblyError, PartError, Problem, did_you_mean
from topend.notebook import html_table
from topend.parts.provenance import Origin, Provenance
from topend.quantities import INPUTS, Basis
from topend.units import Quantity, StatedQuantity, StatedValueError

__all__ = ["Part", "stated_field"]


def stated_field(path: str, **kwargs: Any) -> Any:
    """A pydantic field whose description is the meaning of `path` in the table of inputs."""
    kwargs.setdefault("default", None)
    if kwargs["default"] is ...:
        del kwargs["default"]
    return Field(description=INPUTS[path].meaning, **kwargs)


class Part(BaseModel):
    """A part of a top end: an immutable record of stated quantities.

    Unknown keys are refused with the nearest names, bare numbers with the line that mends them, and all that is wrong is
    told at once, as `PartError`. `replace` gives a changed copy, validated like a new part.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", ser_json_inf_nan="constants")

    name: str | None = Field(default=None, description="What people call it; no meaning to the library.")
    source: str | None = Field(default=None, description="Where its figures are from.")
    basis: Basis | None = Field(
        default=None, description="How its figures came about: measured, published, derived, estimated or invented."
    )

    title: ClassVar[str] = ""

    def __init__(self, /, *values: Any, **data: Any) -> None:
        __tracebackhide__ = True
        if values:
            fields = [name for name in type(self).model_fields if name not in Part.model_fields and name not in ("shape", "kind")]
            example = f"{type(self).__name__}({fields[0]}=...)" if fields else f"{type(self).__name__}()"
            raise ArgumentError(f"{type(self).__name__} takes its fields by name, such as {example}; got {values[0]!r} without one")
        try:
            self.__pydantic_validator__.validate_python(data, self_instance=self)
        except ValidationError as error:
            raise told(type(self), error) from None

    # without this mark pydantic would call __init__ for nested parts, and only their first problem would be told
    __init__.__pydantic_base_init__ = True  # type: ignore[attr-defined]

    @classmethod
    def model_validate(cls, obj: Any, **kwargs: Any) -> Self:
        try:
            return super().model_validate(obj, **kwargs)
        except ValidationError as error:
            raise told(cls, error) from None

    @classmethod
    def model_validate_json(cls, json_data: str | bytes | bytearray, **kwargs: Any) -> Self:
        try:
            return super().model_validate_json(json_data, **kwargs)
        except ValidationError as error:
            raise told(cls, error) from None

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
    found = {meaning_of(rest.split(".", 1)[-1] if rest.split(".")[0].isdigit() else rest, inside) for inside in _classes(field)} - {""}
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


# --- pydantic's errors in our words ----------------------------------------------------------------------------------


def told(model: type[BaseModel], error: ValidationError) -> PartError | AssemblyError:
    """What pydantic found, as one `PartError` that names every field by its path; an `AssemblyError` as it is."""
    problems: list[Problem] = []
    every = error.errors(include_url=False)
    for found in every:
        # a list of which an item cannot be read counts as too short as well; the item is what is wrong
        at = found["loc"]
        if found["type"] == "too_short" and any(len(one["loc"]) > len(at) and one["loc"][: len(at)] == at for one in every):
            continue
        inner = found.get("ctx", {}).get("error")
        if isinstance(inner, AssemblyError):
            return inner
        if isinstance(inner, PartError):
            problems += inner.problems
            continue
        path, owner, inside = _place(model, found["loc"])
        problems.append(Problem(path, _words(found, owner, inside)))
    return PartError(model.__name__, problems)


def _words(found: Any, owner: type[BaseModel] | None, inside: list[type[BaseModel]]) -> str:
    kind, ctx, value = found["type"], found.get("ctx", {}), found["input"]
    inner = ctx.get("error")
    if isinstance(inner, StatedValueError):
        fit = _EXAMPLES.get(str(found["loc"][-1])) if found["loc"] else None
        return str(inner).replace(f"such as {inner.example}", f'such as "{fit}"', 1) if fit and inner.example else str(inner)
    if kind == "extra_forbidden" and owner is not None:
        names = [name for name in owner.model_fields if name not in ("source", "basis") or not issubclass(owner, Part)]
        return f"is not a field of {owner.__name__}{did_you_mean(str(found['loc'][-1]), names)}; it has {', '.join(names)}"
    if kind == "missing":
        meaning = ""
        if owner is not None and str(found["loc"][-1]) in owner.model_fields:
            meaning = owner.model_fields[str(found["loc"][-1])].description or ""
        return f"is missing{': ' + meaning if meaning else ''}"
    if kind == "literal_error":
        text = str(value)
        allowed = str(ctx["expected"]).replace("'", "")
        near = difflib.get_close_matches(text, allowed.replace(" or ", ", ").split(", "), n=1)
        return f"must be one of {allowed}; got {text!r}{f'; nearest: {near[0]}' if near else ''}"
    if kind == "union_tag_invalid":
        tags = str(ctx["expected_tags"]).replace("'", "")
        return f"has {str(ctx['discriminator']).strip(chr(39))} {ctx['tag']!r}; it must be one of {tags}"
    if kind == "union_tag_not_found":
        tags = " or ".join(", ".join(tag for cls in inside if (tag := _tag(cls))).rsplit(", ", 1))
        return f"needs {str(ctx['discriminator']).strip(chr(39))}, which says what it is: {tags}; got {_short(value)}"
    if kind in _EXPECTED:
        return f"must be {_EXPECTED[kind].format(owner=owner.__name__ if owner else 'a part', **ctx)}; got {_short(value)}"
    if inner is not None:
        return str(inner)
    return f"cannot be read ({found['msg']}); got {_short(value)}"


#: What a field may hold, where the usual example of its kind, the length of a bore, would mislead. By the field's own name.
_EXAMPLES = {
    "stroke": "39.3 mm",
    "rod_length": "85 mm",
    "clearance": "1.65 mm",
    "base_thickness": "0.50 mm",
    "head_thickness": "0.30 mm",
    "thickness": "0.50 mm",
    "fitted_thickness": "0.46 mm",
    "recess_offset": "-1.0 mm",
    "rise": "2.2 mm",
    "depth": "2.2 mm",
    "top": "22.3 mm",
    "height": "64.9 mm",
    "seat_height": "66.0 mm",
    "compression_height": "25.0 mm",
    "pin_offset": "0.5 mm",
    "offset": "0.5 mm",
    "top_land": "2.0 mm",
    "opening": "48.5 mm",
    "pin_diameter": "12 mm",
    "crankpin_diameter": "18 mm",
    "inner_diameter": "33.0 mm",
    "outer_diameter": "47.2 mm",
    "spigot_diameter": "47.2 mm",
    "cold_gap": "0.80 mm",
    "reach": "12.5 mm",
    "wire": "1.5 mm",
    "at": "12 mm",
}

_EXPECTED = {
    "model_type": "a {class_name}",
    "model_attributes_type": "a part, or a table of its fields",
    "dataclass_type": "a {class_name}",
    "tuple_type": "a list",
    "list_type": "a list",
    "string_type": "a text",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_from_float": "a whole number",
    "greater_than_equal": "at least {ge}",
    "less_than_equal": "at most {le}",
    "greater_than": "more than {gt}",
    "json_invalid": "JSON ({error})",
    "too_short": "a list of at least {min_length}",
    "too_long": "a list of at most {max_length}",
    "string_too_short": "a text of at least {min_length} characters",
    "string_too_long": "a text of at most {max_length} characters",
    "string_pattern_mismatch": "a text like {pattern}",
}


def _short(value: object) -> str:
    if isinstance(value, Part):
        return f"a {type(value).__name__}"
    if isinstance(value, Quantity):  # type: ignore[misc]  # an alias with its parameter to mypy, a class at run time
        return str(value)
    text = repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def _place(model: type[BaseModel], loc: tuple[int | str, ...]) -> tuple[str, type[BaseModel] | None, list[type[BaseModel]]]:
    """The path of an error as people write it, the class whose field is wrong, and the classes that may stand there.

    Union tags are not part of a path.
    """
    path: list[str] = []
    owner: type[BaseModel] | None = model
    inside: list[Any] = []
    for index, step in enumerate(loc):
        if isinstance(step, int):
            path.append(str(step))
            continue
        here = owner
        if here is not None and step in here.model_fields:
            path.append(step)
            inside = _classes(here.model_fields[step])
            last = index == len(loc) - 1
            if not last:
                owner = inside[0] if len(inside) == 1 else None
            continue
        tagged = [cls for cls in inside if _tag(cls) == step]
        if tagged and owner is None:
            owner = tagged[0]
            continue
        if step in {cls.__name__ for cls in inside} or step.startswith(("function-", "literal[", "constrained-", "nullable")):
            continue
        path.append(step)
    return ".".join(path), owner, inside


def _classes(field: FieldInfo) -> list[type[BaseModel]]:
    found: list[type[BaseModel]] = []

    def walk(annotation: Any) -> None:
        if isinstance(annotation, type) and issubclass(annotation, BaseModel):
            found.append(annotation)
        elif get_origin(annotation) is not None:
            for argument in get_args(annotation):
                walk(argument)

    walk(field.annotation)
    return found


def _tag(cls: type[BaseModel]) -> str | None:
    for name in ("shape", "kind"):
        field = cls.model_fields.get(name)
        if field is not None and isinstance(field.default, str):
            return field.default
    return None
