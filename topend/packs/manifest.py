"""What a data pack says of itself in pack.toml: who made it, under which licence, and where its figures are from."""

from __future__ import annotations

import re
from typing import Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from topend.errors import PartError
from topend.parts.told import told
from topend.quantities import Basis

__all__ = ["FORMAT", "NAME", "Manifest", "Source", "bad_name", "bad_version"]

#: The version of the pack format that this library reads.
FORMAT: Final = 1
#: A pack's id, and a part's name within its pack.
NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}")
_VERSION: Final = re.compile(r"\d{1,9}(\.\d{1,9}){0,3}")


def bad_name(name: str) -> str | None:
    """What is wrong with `name` as a pack's id or a part's name, as the end of a sentence, or None."""
    if NAME.fullmatch(name):
        return None
    return f"cannot be a name: names are up to 64 letters, digits, - and _, first a letter or digit; got {name[:80]!r}"


def bad_version(version: str) -> str | None:
    """What is wrong with `version`, as the end of a sentence, or None."""
    return None if _VERSION.fullmatch(version) else f"must be numbers with points between, such as 1.0.0; got {version[:80]!r}"


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    def __init__(self, /, **data: Any) -> None:
        try:
            self.__pydantic_validator__.validate_python(data, self_instance=self)
        except ValidationError as error:
            found = told(type(self), error)
            assert isinstance(found, PartError)
            raise found from None

    __init__.__pydantic_base_init__ = True  # type: ignore[attr-defined]


class Source(_Record):
    """Where figures of a pack are from.

    >>> Source(kind="measured", title="Our own bench, two barrels of each").kind
    'measured'
    """

    kind: Basis = Field(description="How the figures came about.")
    title: str = Field(min_length=1, max_length=500, description="What it is: a book, a drawing, a bench book.")
    locator: str | None = Field(default=None, max_length=500, description="Where in it: page, sheet, address.")


class Manifest(_Record):
    """The contents of pack.toml.

    >>> Manifest(id="fellside", version="1.0.0", format=1, title="Fellside").licence is None
    True
    """

    id: str = Field(description="The pack's id; the ids of its parts begin with it.")
    version: str = Field(description="Version of the pack: numbers with points between.")
    format: Literal[1] = Field(description="Version of the format the pack is written in: 1.")
    title: str = Field(min_length=1, max_length=200, description="What people call the pack.")
    summary: str | None = Field(default=None, max_length=4000, description="What it holds, and what it does not claim.")
    licence: str | None = Field(default=None, max_length=200, description="Under which its figures may be used.")
    maintainers: tuple[str, ...] = Field(default=(), max_length=100, description="Who looks after it.")
    source: tuple[Source, ...] = Field(default=(), max_length=1000, description="Where its figures are from, one [[source]] each.")
    built: dict[str, tuple[str, ...]] = Field(
        default_factory=dict,
        max_length=10,
        description="Parts that the pack's code builds: names by kind. So they are listed without running it.",
    )
