"""Outputs that data packs add, made ready to stand beside the library's own: checked, and as nodes of the wiring.

A `TopEnd` carries them (`TopEnd.with_outputs`), and its row's structure has their nodes, so that whatever plans by that structure
plans them too. There is no list of them anywhere else: what no top end was given is nowhere.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.errors import ArgumentError, PackError, Problem, did_you_mean, fault_told, untold
from topend.physics.tape import Program, Recorded, Tape, whole
from topend.physics.wiring import Node
from topend.quantities import INPUTS, OUTPUTS, ExtraOutput, Output
from topend.units import KINDS

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["RESERVED", "joined", "known_outputs", "nodes_of", "of_the_table", "trouble_with"]

_NAME: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,63}")
_MOST_DECIMALS: Final = 12
#: No quantity of a top end is larger, in SI.
_LARGEST: Final = 1e100
#: Names that stand beside outputs, as columns, attributes, arguments or keys, or for quantities of the wiring that are no outputs.
RESERVED: Final = frozenset(
    {
        # columns of a study, and parts along its axes; fields of a top end
        *("row", "status", "name", "source", "basis", "crank", "cylinder", "piston", "head", "base_gaskets", "head_gaskets", "deck"),
        *("assembled", "studs", "running", "location", "charge", "burn", "losses", "cranking", "probe", "crevice"),
        # attributes of a result
        *("top", "missing", "si", "assumed", "gap_at", "keys", "provenance", "shown", "squish_direction", "to_dict"),
        # keys of a card's JSON
        *("title", "file", "packs", "parts", "stack", "findings", "cautions", "opened", "least_gap_at"),
        # arguments beside targets
        *("stock", "heads", "base_count", "head_count", "best", "least_gap", "at_least", "at_most", "free", "limits", "cutter", "spread"),
        # quantities of the wiring
        *("auxiliary_exhaust_closes", "auxiliary_transfer_closes", "clearance_height", "face_gap", "free_volume", "outer_volume"),
    }
)


def trouble_with(extra: ExtraOutput) -> str | None:
    """What keeps an extra output from being one, as the object of "yields"; None where nothing does.

    >>> trouble_with(ExtraOutput(Output("squish_edge", "mm", "M.", "s"), (), lambda: 1.0))
    "'squish_edge', which is an output already"
    """
    made, needs = extra.output, extra.needs
    if not isinstance(made, Output) or not isinstance(made.name, str):
        return f"an ExtraOutput of {made!r}; its output must be an Output with a name"
    name = made.name
    if name in OUTPUTS:
        return f"{name!r}, which is an output already"
    if not _NAME.fullmatch(name) or name in RESERVED:
        why = "stands for something else" if name in RESERVED else "is no name: letters, digits and _, a letter first"
        return f"{name[:80]!r}, which {why}; give the output another name"
    if made.unit != "–" and not any(made.unit in kind.units for kind in KINDS.values()):
        units = ", ".join(dict.fromkeys(unit for kind in KINDS.values() for unit in kind.units))
        return f"{name!r}, whose unit {made.unit!r} nobody has; units are – (for a ratio), {units}"
    if isinstance(made.decimals, bool) or not isinstance(made.decimals, int) or not 0 <= made.decimals <= _MOST_DECIMALS:
        return f"{name!r}, whose decimals must be a whole number from 0 to {_MOST_DECIMALS}; got {made.decimals!r}"
    for key, text in (("meaning", made.meaning), ("source", made.source)):
        if not isinstance(text, str):
            return f"{name!r}, whose {key} must be a text; got {text!r}"
        if untold(text):
            return f"{name!r}, whose {key} holds {untold(text)}; it must be one line of print"
    if isinstance(needs, str) or not isinstance(needs, Sequence) or not all(isinstance(need, str) for need in needs):
        return f'{name!r}, whose needs must be a tuple of names, such as ("cylinder.bore",); got {needs!r}'
    for need in needs:
        if need not in OUTPUTS and not _is_input(need):
            # what others add is none: they would have to be loaded together, and might go round in a ring
            return f"{name!r}, which needs {need!r}; nobody has that{did_you_mean(need, [*OUTPUTS, *INPUTS])}"
    try:
        hash(extra.work)
    except Exception:
        return f"{name!r}, whose work cannot be told from others (it has no hash); give a function"
    return None if callable(extra.work) else f"{name!r}, whose work must be a function; got {extra.work!r}"


def _is_input(path: str) -> bool:
    """Whether `path` is that of an input, of a list with its place in it."""
    return re.sub(r"\.\d+(?=\.|$)", ".N", path) in INPUTS and ".N." not in f"{path}."


def joined(own: Iterable[ExtraOutput], more: Iterable[ExtraOutput]) -> tuple[ExtraOutput, ...]:
    """`own` and `more` together, each once.

    Raises `PackError` for what cannot be an output, and for two of one name, both packs named.
    """
    made: dict[str, ExtraOutput] = {}
    if not isinstance(more, Iterable):
        raise PackError("outputs of packs", [Problem("", f"must be a list of ExtraOutput records (catalogue.extra_outputs); got {more!r}")])
    for one in (*own, *more):
        if not isinstance(one, ExtraOutput):
            raise PackError("outputs of packs", [Problem("", f"must be ExtraOutput records (catalogue.extra_outputs); got {one!r}")])
        trouble = trouble_with(one)
        if trouble is not None:
            raise PackError(_title(one), [Problem("topend_outputs" if one.pack else "", f"yields {trouble}")])
        listed = replace(one, needs=tuple(one.needs))
        first = made.setdefault(one.output.name, listed)
        if first != listed:
            other = f"pack {first.pack}" if first.pack else "an output that belongs to no pack"
            again = " in another version" if first.pack and first.pack == one.pack else ""
            message = f"{one.output.name!r} is yielded by {other}{again} too; load one of the two"
            raise PackError(_title(one), [Problem("topend_outputs" if one.pack else "", message)])
    return tuple(made.values())


def of_the_table(what: str, names: Iterable[Any], extra: Iterable[ExtraOutput], why: str) -> None:
    """Refuse `names` that are outputs of packs, where `what` takes those of the outputs table alone, for the reason `why`.

    Raises `ArgumentError`. A name that nobody has is for others to tell.

    >>> of_the_table("design_head", ["squish_edge"], (), "")
    """
    asked = [name for name in names if isinstance(name, str)]
    for one in extra:
        if one.output.name in asked:
            pack = f"pack {one.pack} adds" if one.pack else "was added"
            raise ArgumentError(
                f"{what} does not take {one.output.name}, an output that {pack}: {why}; evaluate, studies, curves, uncertainty, "
                "sensitivities, extremes, fit_gaskets, correct and compare do"
            )


def known_outputs(extra: Sequence[ExtraOutput]) -> Mapping[str, Output]:
    """The table of outputs with those of `extra` after its own; the very table where there are none."""
    return {**OUTPUTS, **{one.output.name: one.output for one in extra}} if extra else OUTPUTS


def nodes_of(extra: Iterable[ExtraOutput]) -> tuple[Node, ...]:
    """Each as the way to its quantity."""
    return tuple(Node(one.output.name, _Work(one), tuple((f"_{place}", need) for place, need in enumerate(one.needs))) for one in extra)


def _title(extra: ExtraOutput) -> str:
    return f"pack {extra.pack or '(not named)'}"


# --- working them out ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Work:
    """An extra output as a function of columns. What a pack's code does wrong is told under the pack's name."""

    extra: ExtraOutput

    def __call__(self, **columns: Any) -> Any:
        given = tuple(columns.values())
        if not any(isinstance(one, Recorded) for one in given):
            return self.rows(given)
        if not _recordable(self.extra):
            return whole(self._fill, given, 1)[0]
        # copies, so that a pack's code cannot change what others read
        try:
            made = self.extra.work(*(one if isinstance(one, Recorded) else np.array(one) for one in given))
        except PackError:
            raise
        except (Exception, SystemExit):
            made = None
        # it was recorded before; where it is not now, it is run as it stands, and held to what it then gives
        return _figures(made) if isinstance(made, Recorded) else whole(self._fill, given, 1)[0]

    def rows(self, given: Sequence[Any]) -> NDArray[np.float64]:
        """The rows of columns that broadcast with each other."""
        columns = np.broadcast_arrays(np.empty(1), *given)[1:]
        made = self._made(columns)
        if made.size > 1:
            for at in (0, -1):
                alone = self._made([np.array([column.flat[at]]) for column in columns])
                self._hold(float(alone[0]), float(made.flat[at]), "for a row among others and {} for that row alone")
        elif made.size:
            # so is what goes by chance, or by how often it is asked
            self._hold(float(self._made(columns).flat[0]), float(made.flat[0]), "for a row and {} for the same row again")
        return made

    def _made(self, columns: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
        shape = columns[0].shape if columns else (1,)
        try:
            given = self.extra.work(*(np.array(column) for column in columns))
            # of these NumPy would take the figures, whatever their unit, or whether they are any
            bare = not hasattr(given, "magnitude") and not isinstance(given, np.ma.MaskedArray)
            made = np.asarray(given) if bare else np.empty(0)
        except PackError:
            raise
        except (Exception, SystemExit) as fault:
            raise self._error(f"fails: {fault_told(fault)}") from fault
        # None would be NaN, and a text a number
        if not bare or not _real(made):
            what = f"an array of {made.dtype}" if type(given) is np.ndarray else f"a {type(given).__name__}"
            raise self._error(f"gives {what}; it must give floats in SI, NaN where there is none")
        if made.shape not in ((), (1,), shape):
            raise self._error(f"gives an array of the shape {made.shape} for columns of the shape {shape}; it must give one figure a row")
        figures: NDArray[np.float64] = _figures(np.array(np.broadcast_to(made, shape), dtype=np.float64))
        return figures

    def _fill(self, *given: Any) -> None:
        *columns, out = given
        out[0] = self.rows(columns)

    def _hold(self, alone: float, among: float, told: str) -> None:
        if alone != among and not (np.isnan(alone) and np.isnan(among)):
            raise self._error(f"is {among!r} {told.format(repr(alone))}; it must take every row for itself, and go by nothing else")

    def _error(self, message: str) -> PackError:
        return PackError(_title(self.extra), [Problem(f"the output {self.extra.output.name}", message)])


def _figures(made: Any) -> Any:
    """`made` with NaN for what is no figure: infinities, and what cannot be squared any more."""
    return np.where(np.abs(made) <= _LARGEST, made, np.nan)


def _real(made: NDArray[Any]) -> bool:
    """Whether all in an array are real numbers."""
    if made.dtype.kind == "O":
        return all(isinstance(one, float | int | np.floating) for one in made.flat)
    return made.dtype.kind in "biuf"


#: Values on which a recording is held against a direct run [SI]: sizes, volumes, angles, ratios, and what is none.
_TRIED: Final = np.array([4.76e-2, 3.93e-2, 6.4e-6, 1.2, -1e-3, 0.0, 13.0, 0.25, np.nan])


@functools.lru_cache(maxsize=1024)
def _recordable(extra: ExtraOutput) -> bool:
    """Whether the work of `extra` can be recorded: it runs on recorded columns, and its recording gives what it gives, to the bit."""
    tape = Tape()
    columns = {str(place): tape.column() for place in range(len(extra.needs))}
    # each column has them in another order
    tried = {name: np.roll(_TRIED, place) for place, name in enumerate(columns)}
    with np.errstate(all="ignore"):
        try:
            made = extra.work(*columns.values())
        except PackError:
            # its code is not to be had here
            raise
        except (Exception, SystemExit):
            return False
        if not isinstance(made, Recorded) or made.tape is not tape or tape.boolean[made.register]:
            return False
        replayed = np.empty(len(_TRIED))
        try:
            direct = _Work(extra).rows(list(tried.values()))
            Program(tape, columns, {"made": _figures(made)}).replay(len(_TRIED)).run(tried, {"made": replayed})
        except Exception:
            return False
    return np.array_equal(replayed, direct, equal_nan=True)
