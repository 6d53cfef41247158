"""What is wrong with a part, told in our words: where, what came, what goes there, and how it is written."""

from __future__ import annotations

import difflib
from typing import Any, Final, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from topend.errors import AssemblyError, PartError, Problem, did_you_mean
from topend.parts.examples import example_for
from topend.units import Quantity, StatedValueError

__all__ = ["as_table", "classes_in", "told"]


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
        problems.append(Problem(path, _words(found, model, owner, inside)))
    return PartError(model.__name__, problems)


#: The fields that say which of several classes a part is of.
_TAGS: Final = ("shape", "kind")
#: Kinds of error that say a list was wanted, and those that say one part was.
_WANTS_LIST: Final = ("tuple_type", "list_type")
_WANTS_PART: Final = ("model_type", "model_attributes_type", "dataclass_type")

_EXPECTED: Final = {
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

#: Words for a choice as they are also said, and the word that is used here.
_ELSEWHERE: Final = {
    "aluminum": "aluminium",
    "alloy": "aluminium",
    "bath": "bathtub",
    "center": "centre",
    "conical": "cone",
    "concave": "dish",
    "cupped": "dish",
    "dished": "dish",
    "dome": "sphere",
    "domed": "sphere",
    "spherical": "sphere",
    "convex": "sphere",
    "dropin": "spigot",
    "drop-in": "spigot",
    "insert": "spigot",
    "plain": "flush",
    "recessed": "flush",
    "intake": "inlet",
    "inlet port": "inlet",
    "boost": "transfer",
    "scavenge": "transfer",
    "gas": "petrol",
    "gasoline": "petrol",
    "oring": "o-ring",
    "dowels": "pins",
    "dowel": "pins",
    "fiber": "fibre",
    "flat top": "flat",
    "street": "road",
    "race": "racing",
}


def _words(found: Any, model: type[BaseModel], owner: type[BaseModel] | None, inside: list[type[BaseModel]]) -> str:
    kind, ctx, value = found["type"], found.get("ctx", {}), found["input"]
    name = str(found["loc"][-1]) if found["loc"] else ""
    inner = ctx.get("error")
    if isinstance(inner, StatedValueError):
        fit = example_for(owner.__name__ if owner else None, name)
        return inner.with_example(fit) if fit else str(inner)
    if kind == "extra_forbidden" and owner is not None:
        return _unknown_field(name, owner, model)
    if kind == "missing":
        meaning = owner.model_fields[name].description if owner is not None and name in owner.model_fields else ""
        return f"is missing{': ' + meaning if meaning else ''}"
    if kind == "literal_error":
        allowed = str(ctx["expected"]).replace("'", "")
        choices = allowed.replace(" or ", ", ").split(", ")
        return f"must be one of {allowed}; got {_short(value)}{_near(value, choices)}"
    if kind == "union_tag_invalid":
        tags = str(ctx["expected_tags"]).replace("'", "")
        near = _near(ctx["tag"], tags.split(", "))
        return f"has {str(ctx['discriminator']).strip(chr(39))} {_short(ctx['tag'])}; it must be one of {tags}{near}"
    if kind == "union_tag_not_found" and not isinstance(value, BaseModel):
        tags = _either([tag for cls in inside if (tag := _tag(cls))])
        return f"needs {str(ctx['discriminator']).strip(chr(39))}, which says what it is: {tags}; got {_short(value)}"
    if kind in _WANTS_LIST:
        return _list_wanted(name, value, inside)
    if kind in _WANTS_PART or kind == "union_tag_not_found":
        # an error about the whole of what was given has no field, and speaks of the class itself
        return _part_wanted(name, value, [owner] if owner is not None and not inside else inside, model)
    if kind == "string_type" and isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _LARGE:
        return f'must be a text; got {_short(value)}. Put it in quotes: "{_short(value)}"'
    if kind in _EXPECTED:
        return f"must be {_EXPECTED[kind].format(**ctx)}; got {_short(value)}"
    if inner is not None:
        return str(inner)
    return f"cannot be read ({found['msg']}); got {_short(value)}"


def _near(value: object, choices: list[str]) -> str:
    """The end of a message about a word that is no choice: the one that is meant, where it can be told."""
    text = str(value).strip().lower()
    meant = _ELSEWHERE.get(text)
    found = [meant] if meant in choices else difflib.get_close_matches(text, choices, n=1)
    return f"; nearest: {found[0]}" if found else ""


def _unknown_field(name: str, owner: type[BaseModel], model: type[BaseModel]) -> str:
    """That `owner` has no field `name`: the nearest; else whose it is, and what `owner` has."""
    names = [one for one, field in owner.model_fields.items() if one not in ("source", "basis") or field.is_required()]
    near = did_you_mean(name, names)
    if near:
        return f"is not a field of {owner.__name__}{near}"
    others = sorted({cls.__name__ for cls in _reached(model) if cls is not owner and name in cls.model_fields})
    whose = f" but of {_either(others)}" if 0 < len(others) <= _FEW else ""
    return f"is not a field of {owner.__name__}{whose}; it has {', '.join(names)}"


#: Of so many classes it is worth saying that they have a field.
_FEW: Final = 3


def _list_wanted(name: str, value: object, inside: list[type[BaseModel]]) -> str:
    """That a field takes a list, and how the one thing that came is written as one."""
    wanted = f"a list of {_either([cls.__name__ for cls in inside])}" if inside else "a list"
    if isinstance(value, BaseModel):
        made = type(value).__name__
        if inside and not isinstance(value, tuple(inside)):
            return f"must be {wanted}; got one {made}"
        return f"must be {wanted}; got one {made}. Put it in square brackets: {name}=[{made}(...)]"
    if isinstance(value, dict):
        brackets = f"Put it in square brackets: {name} = [{{...}}]; in a file, two pairs around its heading"
        return f"must be {wanted}; got one table, {_short(value)}. {brackets}"
    if isinstance(value, str):
        if not inside or "/" in value:
            return f"must be {wanted}; got the text {_short(value)}. Put it in square brackets: {name} = [{value!r}]"
        return f"must be {wanted}; got the text {_short(value)}. Write {name}=[{_written(inside, name)}]"
    return f"must be {wanted}; got {_short(value)}"


def _part_wanted(name: str, value: object, inside: list[type[BaseModel]], model: type[BaseModel]) -> str:
    """That one part is wanted, and how it is written."""
    names = _either([cls.__name__ for cls in inside]) or "part"
    a = _article(names)
    if isinstance(value, list | tuple):
        if len(value) == 1:
            off = "Take the square brackets off; in a file, one pair around its heading"
            return f"must be one {names}, not a list; got {_short(value)}. {off}"
        return f"must be one {names}, not a list; got {len(value)} in square brackets"
    if isinstance(value, BaseModel):
        takes = [one for one, field in model.model_fields.items() if type(value) in classes_in(field)]
        where = f"; {_short(value)} goes to {_either(takes)}" if takes else ""
        return f"must be {a} {names}; got {_short(value)}{where}"
    if not inside:
        return f"must be a part, or a table of its fields; got {_short(value)}"
    meant = [cls for cls in inside if isinstance(value, str) and _tag(cls) in (value.lower(), _ELSEWHERE.get(value.lower()))] or inside
    return (
        f"must be {a} {names} with its fields; got {_short(value)}. Write {_written(meant, name)}, in a file {as_table(meant, name, value)}"
    )


def _written(classes: list[type[BaseModel]], at: str) -> str:
    """How the first of `classes` is written in Python: ``Crank(stroke="39.3 mm")``."""
    cls = classes[0]
    return f"{cls.__name__}({', '.join(f'{name}={text}' for name, text in _filled(cls, at))})"


def as_table(classes: list[type[BaseModel]], at: str, named: object = None) -> str:
    """How the first of `classes` is written in a file: ``{stroke = "39.3 mm"}``; a part in it by the name that was `named`."""
    cls = classes[0]
    word = _TAGS[0] if _TAGS[0] in cls.model_fields else _TAGS[1]
    tag = [(word, f'"{_tag(cls)}"')] if _tag(cls) else []
    plain = isinstance(named, str) and len(named) < _LONG and '"' not in named
    filled = [(name, f'"{named}"' if text == "..." and plain else text) for name, text in _filled(cls, at)]
    return f"{{{', '.join(f'{name} = {text}' for name, text in (*tag, *filled))}}}"


def _filled(cls: type[BaseModel], at: str) -> list[tuple[str, str]]:
    """Fields of `cls` with a value each, as an example for the field `at`: those it needs, or the first that has one."""
    beside = ("name", "source", "basis", *_TAGS)
    fields = {name: field for name, field in cls.model_fields.items() if name not in beside or field.is_required()}
    needed = [name for name, field in fields.items() if field.is_required()]
    made = []
    for name in needed or list(fields):
        words = get_args(fields[name].annotation) if str(fields[name].annotation).startswith("typing.Literal") else ()
        # the role of a gasket by the stack it is for
        suits = [word for word in words if at.startswith(f"{word}_")]
        text = str((suits or words)[0]) if words else example_for(cls.__name__, name)
        if text is not None:
            made.append((name, f'"{text}"'))
        elif needed:
            made.append((name, "..."))
        if made and not needed:
            break
    return made


def _either(names: list[str]) -> str:
    return " or ".join(", ".join(names).rsplit(", ", 1))


#: Nobody means a number beyond this as a text.
_LARGE: Final = 1e15
#: More of what came is not shown.
_LONG: Final = 60


def _article(name: str) -> str:
    return "an" if name[:1] in "AEIO" else "a"


def _short(value: object) -> str:
    if isinstance(value, BaseModel):
        return f"{_article(type(value).__name__)} {type(value).__name__}"
    if isinstance(value, Quantity):  # type: ignore[misc]  # an alias with its parameter to mypy, a class at run time
        return str(value)
    try:
        text = repr(value)
    except ValueError:
        # Python writes no whole number of so many digits
        return f"an {type(value).__name__} of thousands of digits"
    return text if len(text) <= _LONG else f"{text[:57]}..."


def _reached(model: type[BaseModel]) -> set[type[BaseModel]]:
    """The classes that may stand in `model` at any depth, and itself."""
    reached: set[type[BaseModel]] = set()
    waiting = [model]
    while waiting:
        cls = waiting.pop()
        if cls not in reached:
            reached.add(cls)
            waiting += [inner for field in cls.model_fields.values() for inner in classes_in(field)]
    return reached


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
            inside = classes_in(here.model_fields[step])
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


def classes_in(field: FieldInfo) -> list[type[BaseModel]]:
    """The classes of parts that may stand in a field, or in a list in it."""
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
    for name in _TAGS:
        field = cls.model_fields.get(name)
        if field is not None and isinstance(field.default, str):
            return field.default
    return None
