"""Kernels recorded once and replayed on blocks: the same NumPy operations in the same order, in buffers that are used again.

A kernel run on `Recorded` columns leaves a list of operations. What does not vary is worked out while recording; what is
computed twice is kept once; what lies between is written into few buffers that stay in the cache. Since the operations are
those of a direct run, a row comes out the same to the bit. Kernels stay plain functions: they need only leave decisions that
depend on values to `choose` and `only`.
"""

from __future__ import annotations

import collections
import functools
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Program", "Recorded", "Replay", "Tape", "block_length", "empty_columns", "whole"]

_BOOLEAN: Final = frozenset(
    {
        np.less,
        np.less_equal,
        np.greater,
        np.greater_equal,
        np.equal,
        np.not_equal,
        np.logical_and,
        np.logical_or,
        np.logical_not,
        np.isfinite,
        np.isnan,
    }
)
_KEEPS_KIND: Final = frozenset({np.bitwise_and, np.bitwise_or, np.invert})
#: The order of the operands is no matter, to the bit.
_EITHER_WAY: Final = frozenset({np.add, np.multiply})
#: The second operand that leaves the first as it is, to the bit (adding 0 would make 0 of -0).
_IDLE: Final[dict[Any, float]] = {np.subtract: 0.0, np.multiply: 1.0, np.divide: 1.0}


def choose_into(condition: Any, yes: Any, no: Any, out: Any) -> None:
    """`np.where` into `out`, which may be the buffer of `yes`; a plain copy where all rows agree."""
    if condition.all():
        if out is not yes:
            np.copyto(out, yes)
    else:
        # `out` may be the buffer of `yes` or of `no`: nothing is read after it is written
        np.copyto(out, np.where(condition, yes, no))


def _minimum_into(one: Any, other: Any, out: Any) -> None:
    np.minimum(one, other, out=out)


def _maximum_into(one: Any, other: Any, out: Any) -> None:
    np.maximum(one, other, out=out)


#: NumPy takes the result's array by place, which is quicker, but for these.
_BY_PLACE: Final[dict[Any, Callable[..., Any]]] = {np.minimum: _minimum_into, np.maximum: _maximum_into}


class Tape:
    """What was recorded: operations on registers, each with the operands it takes."""

    def __init__(self) -> None:
        self.operations: list[tuple[Callable[..., Any], tuple[int, ...], int]] = []
        self.constants: dict[int, Any] = {}
        self.boolean: list[bool] = []
        #: how many columns a register holds that is made as a whole
        self.rows: dict[int, int] = {}
        self._same: dict[Any, int] = {}

    def column(self) -> Recorded:
        """A register for a column that is given block by block."""
        return Recorded(self, self._register(False))

    def _register(self, boolean: bool) -> int:
        self.boolean.append(boolean)
        return len(self.boolean) - 1

    def add(self, function: Callable[..., Any], operands: Sequence[Any], boolean: bool) -> Recorded:
        """Record `function` of `operands`; the register that holds it already, if the same was recorded before."""
        registers = tuple(self._operand(operand) for operand in operands)
        if function is np.multiply and registers[0] == registers[1]:
            function, registers = np.square, registers[:1]  # the same bits
        if self._idle(function, registers):
            return Recorded(self, registers[0])
        key = function, tuple(sorted(registers)) if function in _EITHER_WAY else registers
        if key not in self._same:
            self._same[key] = self._register(boolean)
            self.operations.append((function, registers, self._same[key]))
        return Recorded(self, self._same[key])

    def add_whole(self, function: Callable[..., Any], operands: Sequence[Any], rows: int) -> tuple[Recorded, ...]:
        """Record `function` as one operation that makes `rows` columns at once: ``function(*operands, out)``, out of shape (rows, n).

        For what cannot be taken apart into operations on columns, such as a march through time, and works in blocks of its own.
        `operands` are columns, or arrays of one value, which it is given as they are.
        """
        registers = tuple(self._operand(operand) for operand in operands)
        key = function, registers
        if key not in self._same:
            self._same[key] = self._register(False)
            self.rows[self._same[key]] = rows
            self.operations.append((function, registers, self._same[key]))
        whole = Recorded(self, self._same[key])
        return tuple(self.add(_column_of(index), (whole,), False) for index in range(rows))

    def _idle(self, function: Callable[..., Any], registers: tuple[int, ...]) -> bool:
        """Whether `function` gives its first operand back, to the bit: less 0, times 1, over 1."""
        if function not in _IDLE or registers[1] not in self.constants:
            return False
        constant = self.constants[registers[1]][0]
        return bool(constant == _IDLE[function] and not np.signbit(constant))

    def _operand(self, operand: Any) -> int:
        if isinstance(operand, Recorded):
            return operand.register
        value = np.asarray(operand)
        if value.size != 1:
            raise TypeError(f"a recorded column meets an array of shape {value.shape}; record it as a column too")
        key = value.dtype.kind, value.reshape(()).item() if value.dtype.kind == "b" else value.astype(np.float64).tobytes()
        if key not in self._same:
            self._same[key] = self._register(value.dtype.kind == "b")
            self.constants[self._same[key]] = value.reshape(1) if value.dtype.kind == "b" else value.astype(np.float64).reshape(1)
        return self._same[key]


@functools.cache
def _column_of(index: int) -> Callable[..., Any]:
    """Column `index` of a register that holds several, copied."""

    def take(whole: Any, out: Any) -> None:
        np.copyto(out, whole[index])

    return take


class Recorded(NDArrayOperatorsMixin):
    """A column that is not there yet: operations on it are recorded."""

    __slots__ = ("register", "tape")

    def __init__(self, tape: Tape, register: int) -> None:
        self.tape = tape
        self.register = register

    def __array_ufunc__(self, ufunc: Any, method: str, *inputs: Any, **kwargs: Any) -> Any:
        if method != "__call__" or kwargs:
            return NotImplemented
        boolean = ufunc in _BOOLEAN or (ufunc in _KEEPS_KIND and self.tape.boolean[self.register])
        return self.tape.add(ufunc, inputs, boolean)

    def __array_function__(self, function: Any, types: Any, args: Any, kwargs: Any) -> Any:
        if function is np.where and len(args) == 3 and not kwargs:
            return self.tape.add(choose_into, args, False)
        return NotImplemented

    def __bool__(self) -> bool:
        raise TypeError("a column that is recorded has no truth of its own; choose row by row, with np.where")

    def __array__(self, *_: Any, **__: Any) -> Any:
        raise TypeError("a column that is recorded is not there yet")

    def __pow__(self, exponent: Any) -> Any:
        # an array's ** 2 is np.square, which is not np.power to the bit
        return self.tape.add(np.square, (self,), False) if exponent == 2 else NotImplemented


def whole(function: Callable[..., Any], columns: Sequence[Any], rows: int) -> tuple[Any, ...]:
    """`rows` columns that `function` makes in one go, written by ``function(*columns, out)``: recorded where a column is, else run.

    `columns` are arrays of one length, or of one value; `out` has the shape (rows, n).

    >>> sums = lambda a, b, out: np.stack([a + b, a - b], out=out)
    >>> [column.tolist() for column in whole(sums, [np.array([1.0, 2.0]), np.array([3.0, 1.0])], 2)]
    [[4.0, 3.0], [-2.0, 1.0]]
    """
    tape = next((column.tape for column in columns if isinstance(column, Recorded)), None)
    if tape is not None:
        made: tuple[Any, ...] = tape.add_whole(function, columns, rows)
        return made
    flat = [np.asarray(column, dtype=np.float64) for column in columns]
    shape = np.broadcast_shapes(*(column.shape for column in flat))
    out = np.empty((rows, *shape))
    function(*flat, out)
    return tuple(out)


def empty_columns(names: Iterable[str], rows: int) -> dict[str, NDArray[np.float64]]:
    """Columns to be filled, by name, in one piece of memory: the system hands out one large piece in half the time of many.

    One of them keeps the memory of all as long as it is held: copy the one that is to outlive the others. Pickled or copied it is
    by itself.

    >>> {name: column.shape for name, column in empty_columns(["squish_edge", "squish_min"], 3).items()}
    {'squish_edge': (3,), 'squish_min': (3,)}
    """
    names = tuple(dict.fromkeys(names))
    # whole cache lines apart
    stride = -(-rows // 8) * 8
    piece = np.empty((len(names), stride))
    return {name: piece[index, :rows] for index, name in enumerate(names)}


def block_length(rows: int, most: int, workers: int = 1) -> int:
    """Rows of a block where `rows` are worked on at most `most` at a time: blocks as long as each other, as many for each worker.

    >>> block_length(10_000, 8_192), block_length(10_000, 4_096, workers=2), block_length(100, 8_192, workers=2)
    (5000, 2500, 100)
    """
    blocks = -(-rows // most)
    if blocks > 1:
        blocks = -(-blocks // workers) * workers
    return max(1, -(-rows // max(1, blocks)))


class Program:
    """A tape made ready to be replayed: `names` of the columns it takes and the results it gives.

    `inputs` and `results` name registers (a result may also be an array of one value). Each thread needs a `replay` of its
    own, for blocks of one length.
    """

    def __init__(self, tape: Tape, inputs: Mapping[str, Recorded], results: Mapping[str, Any]) -> None:
        self.inputs = {name: column.register for name, column in inputs.items()}
        self.results = {name: value.register if isinstance(value, Recorded) else None for name, value in results.items()}
        self.fixed = {name: value for name, value in results.items() if not isinstance(value, Recorded)}
        self._lay_out(tape)

    def _lay_out(self, tape: Tape) -> None:
        """Give every register a slot; slots of spent registers are used again."""
        own = {register for register in self.results.values() if register is not None}
        kept = own | set(self.inputs.values()) | set(tape.constants)
        last: dict[int, int] = {}
        live = self._live(tape, own)
        for index in live:
            for register in tape.operations[index][1]:
                last[register] = index
        slot: dict[int, int] = {}
        self.constants: list[tuple[int, Any]] = []
        #: of each slot: whether it holds truths, and how many columns where it is made as a whole, else 0
        self.kinds: list[tuple[bool, int]] = []

        def kind(register: int) -> tuple[bool, int]:
            return tape.boolean[register], tape.rows.get(register, 0)

        def new(register: int) -> int:
            self.kinds.append(kind(register))
            return len(self.kinds) - 1

        for register in sorted(kept):
            slot[register] = new(register)
        for register, value in tape.constants.items():
            self.constants.append((slot[register], value))
        free: dict[tuple[bool, int], list[int]] = collections.defaultdict(list)
        self.steps: list[tuple[Callable[..., Any], tuple[int, ...]]] = []
        for index in live:
            function, operands, register = tape.operations[index]
            places = tuple(slot[operand] for operand in operands)
            for operand in dict.fromkeys(operands):
                if last[operand] == index and operand not in kept:
                    free[kind(operand)].append(slot[operand])
            if register not in slot:
                spare = free[kind(register)]
                slot[register] = self._spare(spare, places, function) if spare else new(register)
            self.steps.append((function, (*places, slot[register])))
        self.input_slots = {name: slot[register] for name, register in self.inputs.items()}
        self.result_slots = {name: None if register is None else slot[register] for name, register in self.results.items()}
        lasting = {slot[register] for register in kept}
        self.temporary = [index for index in range(len(self.kinds)) if index not in lasting]

    @staticmethod
    def _spare(spare: list[int], places: tuple[int, ...], function: Callable[..., Any]) -> int:
        # in place where an operand is spent, since its buffer is in the cache; a choice goes into the buffer of its `yes`,
        # so that nothing is copied
        for place in places[1:2] if function is choose_into else places:
            if place in spare:
                spare.remove(place)
                return place
        return spare.pop()

    @staticmethod
    def _live(tape: Tape, wanted: set[int]) -> list[int]:
        """Positions of the operations that the results need, in order."""
        needed = set(wanted)
        live = []
        for index in range(len(tape.operations) - 1, -1, -1):
            _, operands, register = tape.operations[index]
            if register in needed:
                live.append(index)
                needed.update(operands)
        return live[::-1]

    def replay(self, length: int) -> Replay:
        """This program with buffers of its own, for blocks of `length` rows."""
        return Replay(self, length)


class Replay:
    """A program with its buffers. One thread at a time may use it."""

    def __init__(self, program: Program, length: int) -> None:
        self.program = program
        slots: list[Any] = [None] * len(program.kinds)
        plain = [index for index in program.temporary if program.kinds[index] == (False, 0)]
        for index, column in zip(plain, empty_columns(map(str, plain), length).values(), strict=True):
            slots[index] = column
        for index in program.temporary:
            boolean, rows = program.kinds[index]
            if boolean or rows:
                slots[index] = np.empty((rows, length) if rows else length, dtype=np.bool_ if boolean else np.float64)
        for index, value in program.constants:
            slots[index] = value
        # operations with the arrays they take and, last, the one they fill; what changes from block to block is put in its
        # place before each run
        self.calls: list[tuple[Callable[..., Any], list[Any]]] = []
        self.places: dict[int, list[tuple[list[Any], int]]] = {}
        for function, places in program.steps:
            arrays = [slots[place] for place in places]
            for index, place in enumerate(places):
                if slots[place] is None:
                    self.places.setdefault(place, []).append((arrays, index))
            self.calls.append((_BY_PLACE.get(function, function), arrays))

    def run(self, columns: Mapping[str, NDArray[np.float64]], into: Mapping[str, NDArray[Any]]) -> None:
        """Replay on one block: `columns` by input name, results written `into` arrays of the block's length."""
        program = self.program
        slots: dict[int, Any] = {slot: columns[name] for name, slot in program.input_slots.items()}
        copies = []
        for name, place in program.result_slots.items():
            if place is None or place in slots:
                copies.append((name, place))
            else:
                slots[place] = into[name]
        for place, uses in self.places.items():
            for row, index in uses:
                row[index] = slots[place]
        with np.errstate(all="ignore"):
            for function, arrays in self.calls:
                function(*arrays)
        for name, place in copies:
            into[name][...] = program.fixed[name] if place is None else slots[place]
