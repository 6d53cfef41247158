"""Kernels recorded once and replayed on blocks: the same NumPy operations in the same order, in buffers that are used again.

A kernel run on `Recorded` columns leaves a list of operations. What does not vary is worked out while recording; what is
computed twice is kept once; what lies between is written into few buffers that stay in the cache. Since the operations are
those of a direct run, a row comes out the same to the bit. Kernels stay plain functions: they need only leave decisions that
depend on values to `choose` and `only`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.lib.mixins import NDArrayOperatorsMixin

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Program", "Recorded", "Replay", "Tape"]

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

    def __pow__(self, exponent: Any) -> Any:
        # an array's ** 2 is np.square, which is not np.power to the bit
        return self.tape.add(np.square, (self,), False) if exponent == 2 else NotImplemented


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
        self.kinds: list[bool] = []

        def new(boolean: bool) -> int:
            self.kinds.append(boolean)
            return len(self.kinds) - 1

        for register in sorted(kept):
            slot[register] = new(tape.boolean[register])
        for register, value in tape.constants.items():
            self.constants.append((slot[register], value))
        free: dict[bool, list[int]] = {True: [], False: []}
        self.steps: list[tuple[Callable[..., Any], tuple[int, ...]]] = []
        for index in live:
            function, operands, register = tape.operations[index]
            places = tuple(slot[operand] for operand in operands)
            for operand in dict.fromkeys(operands):
                if last[operand] == index and operand not in kept:
                    free[tape.boolean[operand]].append(slot[operand])
            if register not in slot:
                spare = free[tape.boolean[register]]
                slot[register] = self._spare(spare, places, function) if spare else new(tape.boolean[register])
            self.steps.append((function, (*places, slot[register])))
        self.input_slots = {name: slot[register] for name, register in self.inputs.items()}
        self.result_slots = {name: None if register is None else slot[register] for name, register in self.results.items()}
        self.temporary = [index for index in range(len(self.kinds)) if index not in {slot[register] for register in kept}]

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
        for index in program.temporary:
            slots[index] = np.empty(length, dtype=np.bool_ if program.kinds[index] else np.float64)
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
