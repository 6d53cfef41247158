"""The axes of a study: values of a path, ranges written as text, parts of a kind; and the limits that rows are kept inside."""

from __future__ import annotations

import re
import typing
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import StudyError, UnknownNameError
from topend.parts import Part
from topend.parts.examples import fitting_path
from topend.quantities import INPUTS
from topend.units import QuantityField, StatedValueError, from_si, kind_of_unit, stated_column, to_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["KINDS", "STACKS", "Axis", "Limit", "Values", "checked_input", "field_of", "read_values", "shown_unit"]

#: Values that one axis may have. More rows come from more axes, or from draws.
MOST_VALUES: Final = 10_000_000
#: What may be an axis of whole parts.
KINDS: Final = ("crank", "cylinder", "piston", "head", "charge")
#: A stack as a whole, and the gaskets that it is the thickness of.
STACKS: Final = {"base.thickness": "base_gaskets", "head_gasket.thickness": "head_gaskets"}


@dataclass(frozen=True, eq=False)
class Values:
    """The values of one path along an axis, in the unit they were given in."""

    path: str
    values: NDArray[np.float64]
    unit: str

    @property
    def shown(self) -> NDArray[np.float64]:
        """In the unit of the inputs table; as given where that is the same."""
        unit = shown_unit(self.path)
        return self.values if self.unit == unit else from_si(to_si(self.values, self.unit), unit)


@dataclass(frozen=True, eq=False)
class Axis:
    """One axis of the product: paths that move together, or the parts of one kind."""

    together: tuple[Values, ...] = ()
    kind: str | None = None
    parts: tuple[Part, ...] = ()
    names: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.parts) if self.kind is not None else len(self.together[0].values)

    @property
    def text(self) -> str:
        if self.kind is not None:
            return f"{self.kind}: {len(self.parts)} parts"
        made = []
        for one in self.together:
            shown, unit = one.shown, shown_unit(one.path)
            made.append(f"{one.path} {shown.min():.6g} to {shown.max():.6g} {unit}")
        return f"{', '.join(made)}: {len(self)} values"


@dataclass(frozen=True, slots=True)
class Limit:
    """Rows are kept where low ≤ output ≤ high, in SI, with slack."""

    name: str
    low: float
    high: float


def _pattern(path: str) -> str:
    return re.sub(r"\.\d+(?=\.|$)", ".N", path)


def checked_input(path: str) -> str:
    """The entry of the inputs table that `path` falls under; `UnknownNameError` where there is none."""
    pattern = _pattern(path)
    if pattern in INPUTS:
        return pattern
    # a part that the deck was read with has its own paths below deck
    inner = pattern.removeprefix("deck.")
    if inner != pattern and inner in INPUTS and inner.split(".")[0] in ("crank", "piston", "cylinder"):
        return inner
    if path in KINDS:
        raise StudyError(f"{path} is a whole part; an axis of parts is .parts({path!r}, [...])")
    if path == "charge.fuel":
        raise StudyError('charge.fuel is a word; an axis of fuels is .parts("charge", [Charge(fuel="petrol 95"), ...])')
    raise UnknownNameError(path, INPUTS, what="input", searched="the inputs table")


def shown_unit(path: str) -> str:
    """The unit that an input is shown in, by its path."""
    return INPUTS[checked_input(path)].unit


def field_of(path: str) -> QuantityField:
    """The annotation of the part's field at `path`, which knows its range."""
    steps = checked_input(path).split(".")
    if path in STACKS:
        steps = [STACKS[path], "N", "thickness"]
    classes: list[Any] = [TopEnd]
    for step in steps:
        if step == "N":
            continue
        annotations = [cls.model_fields[step] for cls in classes if step in cls.model_fields]
        found = next((one for one in _inside(annotations) if isinstance(one, QuantityField)), None)
        if found is not None:
            return found
        classes = [one for one in _inside(annotations) if isinstance(one, type) and issubclass(one, Part)]
    raise AssertionError(f"no field at {path}")  # pragma: no cover - every input has one; a test walks them


def _inside(annotations: Iterable[Any]) -> Iterator[Any]:
    for one in annotations:
        if hasattr(one, "annotation"):
            yield from one.metadata
            yield from _inside([one.annotation])
        elif typing.get_origin(one) is not None:
            yield from _inside(typing.get_args(one))
        else:
            yield one


_RANGE: Final = re.compile(
    r"\s*(?P<start>[+-]?\d*\.?\d+)\s*:\s*(?P<stop>[+-]?\d*\.?\d+)\s*:\s*(?P<step>[+-]?\d*\.?\d+)\s+(?P<unit>\S+)\s*", re.ASCII
)


def read_values(path: str, values: Any) -> Values:
    """The values of an axis as somebody gave them: an array quantity, a list, or a range as text; `StudyError` for anything else."""
    kind = kind_of_unit(shown_unit(path))
    assert kind is not None
    if isinstance(values, str) and ":" in values:
        return _read_range(path, values)
    try:
        made, unit = stated_column(values, kind)
    except StatedValueError as error:
        example = f'. A range is written as text: "0.5:1.5:0.05 {kind.shown}" (start:stop:step)' if isinstance(values, str) else ""
        raise StudyError(f"{path} {fitting_path(error, path)}{example}") from None
    if not len(made):
        raise StudyError(f"{path} has no values: an axis needs at least one")
    if len(made) > MOST_VALUES:
        raise StudyError(f"{path} has {len(made)} values; one axis takes {MOST_VALUES}")
    made.flags.writeable = False
    return Values(path, made, unit)


def _read_range(path: str, text: str) -> Values:
    """``start:stop:step unit``: start, start + step, ... up to stop, which is among them where a step ends there.

    Every value is the float nearest to the decimal that it would be written as.
    """
    kind = kind_of_unit(shown_unit(path))
    assert kind is not None
    found = _RANGE.fullmatch(text)
    unit = found and kind.unit(found["unit"])
    if found is None or unit is None:
        units = ", ".join(kind.units)
        example = f'"0.5:1.5:0.05 {kind.shown}"'
        raise StudyError(f"{path} needs a range as start:stop:step, a space and its unit, such as {example}; got {text!r}. Units: {units}")
    numbers = [found[name] for name in ("start", "stop", "step")]
    decimals = max(len(number.partition(".")[2]) for number in numbers)
    if decimals > 15 or any(len(number) > 20 for number in numbers):
        raise StudyError(f"{path} {text!r} has more digits than a range is made with; give the values as an array")
    start, stop, step = (int(f"{whole}{fraction:0<{decimals}}") for whole, _, fraction in (number.partition(".") for number in numbers))
    if step == 0 or (stop - start) * step < 0:
        raise StudyError(f"{path} {text!r} has a step that does not lead from start to stop; a falling range has a negative step")
    count = (stop - start) // step + 1
    if count > MOST_VALUES:
        raise StudyError(f"{path} {text!r} has {count} values; one axis takes {MOST_VALUES}")
    # whole numbers over a power of ten: one rounding, as in reading the decimal
    made = (start + step * np.arange(count, dtype=np.int64)) / float(10**decimals)
    made.flags.writeable = False
    return Values(path, made, unit)
