"""What `help` and an editor show of a part: its fields one by one, with unit, range and meaning, and a signature that can be read."""

from __future__ import annotations

import inspect
import textwrap
import types
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final, Literal, TypeVar, Union, get_args, get_origin

from pydantic import BaseModel

from topend.units import KINDS, QuantityField

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

__all__ = ["FieldsTold", "ShortSignature", "described", "takes_fields_of"]

#: Fields that every part has: they come last.
_COMMON: Final = ("name", "source", "basis")
_WIDTH: Final = 100


class FieldsTold:
    """A class docstring with the fields of its class under it, put together when somebody asks.

    >>> import topend as te
    >>> print(te.StockItem.__doc__.partition("Parameters")[2])
    <BLANKLINE>
    ----------
    gasket : Gasket, needed
        The gasket.
    count : whole number, at least 0, at most 1000000, by default 1
        How many there are.
    name : text
        What people call it; no meaning to the library.
    source : text
        Where its figures are from.
    basis : "measured", "published", "derived", "estimated" or "invented"
        How its figures came about: measured, published, derived, estimated or invented.
    <BLANKLINE>
    """

    def __init__(self, own: str | None) -> None:
        self.own = own

    def __get__(self, instance: object, owner: type[BaseModel]) -> str:
        lines = [inspect.cleandoc(self.own or owner.__name__), "", "Parameters", "----------"]
        for name, field in _ordered(owner):
            lines.append(f"{name} : {_kind(field)}{_default(field)}")
            lines += textwrap.wrap(field.description or "", _WIDTH, initial_indent="    ", subsequent_indent="    ")
        return "\n".join([*lines, ""])


class ShortSignature:
    """The fields of a class as keyword arguments, needed ones first; what each may be is told by the docstring.

    >>> import inspect
    >>> import topend as te
    >>> inspect.signature(te.StockItem)
    <Signature (*, gasket, count=1, name=None, source=None, basis=None)>
    """

    def __get__(self, instance: object, owner: type[BaseModel]) -> inspect.Signature:
        return inspect.Signature(
            [
                inspect.Parameter(
                    name, inspect.Parameter.KEYWORD_ONLY, default=inspect.Parameter.empty if field.is_required() else field.get_default()
                )
                for name, field in _ordered(owner)
            ]
        )


Function = TypeVar("Function", bound=Callable[..., Any])


def takes_fields_of(record: type[BaseModel]) -> Callable[[Function], Function]:
    """Give a function of a record's fields the signature of the record, and its fields under the function's own docstring.

    >>> import topend as te
    >>> "radius : length in mm, more than 0 mm, needed" in te.measure.gap.__doc__
    True
    """

    def told(function: Function) -> Function:
        function.__doc__ = FieldsTold(function.__doc__).__get__(None, record)
        returns = function.__annotations__.get("return", inspect.Signature.empty)
        function.__signature__ = inspect.signature(record).replace(return_annotation=returns)  # type: ignore[attr-defined]
        return function

    return told


def described(schema: dict[str, Any], model: type[BaseModel]) -> None:
    """Give a JSON schema the words of the class, without its examples and its fields, which have their own."""
    told = vars(model).get("__doc__")
    own = told.own if isinstance(told, FieldsTold) else told
    schema["description"] = inspect.cleandoc(own or model.__name__).partition("\n\n>>>")[0]


def _ordered(owner: type[BaseModel]) -> list[tuple[str, FieldInfo]]:
    fields = list(owner.model_fields.items())
    return sorted(fields, key=lambda item: (item[0] in _COMMON, not item[1].is_required()))


def _default(field: FieldInfo) -> str:
    if field.is_required():
        return ", needed"
    default = field.get_default()
    if default is None or default == ():
        return ""
    text = getattr(default, "text", default)
    return f', by default "{text}"' if isinstance(text, str) else f", by default {text}"


def _kind(field: FieldInfo) -> str:
    """What a field takes, in words: ``length in mm, more than 0 mm``."""
    for one in field.metadata:
        if isinstance(one, QuantityField):
            return _quantity(one)
    bounds = [f"{word} {getattr(one, name)}" for one in field.metadata for name, word in _BOUNDS if getattr(one, name, None) is not None]
    return ", ".join([_words(field.annotation), *bounds])


_BOUNDS: Final = (("ge", "at least"), ("gt", "more than"), ("le", "at most"), ("lt", "less than"))
_PLAIN: Final = {str: "text", int: "whole number", float: "number", bool: "True or False"}


def _quantity(one: QuantityField) -> str:
    words = "".join(f'"{word}" or ' for word in one.words)
    unit = KINDS[one.kind].shown
    return f"{words}{one.kind}{f' in {unit}' if unit else ''}{f', {one.allowed}' if one.allowed else ''}"


def _words(annotation: Any) -> str:
    origin, arguments = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return _joined([f'"{one}"' for one in arguments])
    if origin is tuple:
        return f"list of {_words(arguments[0])}"
    if origin in (Union, types.UnionType):
        return _joined([_words(one) for one in arguments if one is not type(None)])
    if hasattr(annotation, "__metadata__"):
        found = next((one for one in annotation.__metadata__ if isinstance(one, QuantityField)), None)
        return _quantity(found) if found is not None else _words(arguments[0])
    if annotation in _PLAIN:
        return _PLAIN[annotation]
    return annotation.__name__ if isinstance(annotation, type) else str(annotation)


def _joined(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
