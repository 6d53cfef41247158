"""The tape: a program replayed on blocks gives what a direct run gives, to the bit, and keeps its buffers apart."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from topend.physics.kernel import choose, only
from topend.physics.tape import Program, Tape, block_length, empty_columns, whole


def recorded(function: Any, columns: dict[str, Any]) -> Program:
    tape = Tape()
    varied = {name: tape.column() for name, column in columns.items() if len(column) != 1}
    return Program(tape, varied, function(**{name: varied.get(name, column) for name, column in columns.items()}))


def mixed(a: Any, b: Any, c: Any) -> dict[str, Any]:
    root = np.sqrt(a * a + b**2)
    kept = only(root - c, root > c)
    least = choose(a > b, np.minimum(kept, a), b * 2.0)
    return {"least": least, "twice": root + root, "given": a, "fixed": c * 3.0, "mask": (least > 0.5) & ~(a < b)}


@pytest.mark.parametrize("length", [1, 7, 4096])
def test_a_replay_equals_a_direct_run(length: int) -> None:
    draw = np.random.default_rng(length)
    columns = {"a": draw.uniform(0, 2, length), "b": draw.uniform(0, 2, length), "c": np.array([1.0])}
    if length == 1:
        columns = {name: np.repeat(column, 2) if name != "c" else column for name, column in columns.items()}
    with np.errstate(all="ignore"):
        direct = mixed(**columns)
    replay = recorded(mixed, columns).replay(len(columns["a"]))
    into = {name: np.empty(len(columns["a"]), dtype=bool if name == "mask" else float) for name in direct}
    for _ in range(2):  # the second run meets used buffers
        replay.run({name: column for name, column in columns.items() if len(column) != 1}, into)
        for name, value in direct.items():
            assert np.array_equal(into[name], np.broadcast_to(value, into[name].shape), equal_nan=True), name


def test_what_is_computed_twice_is_kept_once_and_the_rest_left_out() -> None:
    def twice(a: Any, b: Any) -> dict[str, Any]:
        idle = a / b  # nobody wants it
        assert idle is not None
        return {"sum": (a * b) + (a * b)}

    columns = {"a": np.ones(3), "b": np.ones(3)}
    assert [step[0].__name__ for step in recorded(twice, columns).steps] == ["multiply", "add"]


def test_what_changes_no_bit_is_left_out_and_what_is_the_same_to_the_bit_is_kept_once() -> None:
    zero, one = np.array([0.0]), np.array([1.0])
    columns = {"a": np.array([-0.0, 2.0, np.nan]), "b": np.array([3.0, 4.0, 5.0])}

    def idle(a: Any, b: Any) -> dict[str, Any]:
        return {"a": ((a - zero) * one) / one, "sum": (a + b) * (b + a), "square": a * a + a**2, "kept": a + zero, "less": a - -zero}

    program = recorded(idle, columns)
    # the sum once and its square; a's square once, and its double; 0 added to -0, or -0 taken from it, makes 0 of it
    assert [step[0].__name__ for step in program.steps] == ["add", "square", "square", "add", "add", "subtract"]
    direct = idle(**columns)
    into = {name: np.empty(3) for name in direct}
    program.replay(3).run(columns, into)
    for name, value in direct.items():
        assert np.array_equal(into[name].view(np.int64)[:2], value.view(np.int64)[:2]), name


def test_what_does_not_vary_is_worked_out_while_recording() -> None:
    columns = {"a": np.ones(3), "b": np.array([2.0]), "c": np.array([5.0])}
    program = recorded(lambda a, b, c: {"sum": a + np.sqrt(b * c), "fixed": b + c}, columns)
    assert [step[0].__name__ for step in program.steps] == ["add"]
    assert program.fixed["fixed"].tolist() == [7.0]


def test_a_decision_on_values_cannot_be_recorded_unseen() -> None:
    with pytest.raises((AttributeError, TypeError, ValueError)):
        recorded(lambda a: {"a": a if a.any() else -a}, {"a": np.ones(3)})
    with pytest.raises(TypeError):
        recorded(lambda a: {"a": a**3}, {"a": np.ones(3)})
    with pytest.raises(TypeError, match="record it as a column too"):
        recorded(lambda a: {"a": a + np.ones(4)}, {"a": np.ones(3)})


def test_two_replays_of_one_program_do_not_share_buffers() -> None:
    columns = {"a": np.array([1.0, 2.0]), "b": np.array([3.0, 4.0])}
    program = recorded(lambda a, b: {"x": np.sqrt(a) * np.sqrt(b)}, columns)
    one, other = program.replay(2), program.replay(2)
    first, second = {"x": np.empty(2)}, {"x": np.empty(2)}
    one.run(columns, first)
    other.run({"a": columns["b"], "b": columns["b"]}, second)
    assert first["x"].tolist() == [np.sqrt(1.0) * np.sqrt(3.0), np.sqrt(2.0) * np.sqrt(4.0)]
    assert second["x"] == pytest.approx([3.0, 4.0])


@pytest.mark.parametrize("rows", [1, 3])
def test_a_whole_operation_is_recorded_as_one_and_replayed(rows: int) -> None:
    def march(a: Any, b: Any, out: Any) -> None:
        assert out.shape == (rows, *np.broadcast_shapes(a.shape, b.shape))
        for index in range(rows):
            np.multiply(a, b + index, out=out[index])

    def both(a: Any, b: Any) -> dict[str, Any]:
        made = whole(march, [a, b], rows)
        return {"sum": made[-1] + a, "first": made[0]}

    columns = {"a": np.array([1.0, 2.0, 4.0]), "b": np.array([0.5])}
    direct = both(**columns)
    program = recorded(both, columns)
    assert sum(step[0] is march for step in program.steps) == 1
    into = {name: np.empty(3) for name in direct}
    program.replay(3).run({"a": columns["a"]}, into)
    for name, value in direct.items():
        assert np.array_equal(into[name], value)


# --- memory and blocks ------------------------------------------------------------------------------------------------------------


@given(rows=st.integers(0, 10**7), most=st.integers(1, 10**5), workers=st.integers(1, 16))
def test_blocks_are_short_enough_few_and_alike(rows: int, most: int, workers: int) -> None:
    length = block_length(rows, most, workers)
    assert 1 <= length <= most
    blocks = -(-rows // length)
    least = -(-rows // most)
    # as few as the length allows, or up to one more for each worker but one
    assert least <= blocks < least + workers
    # as long as each other, but for a row a block
    assert blocks * length - rows < max(1, least + workers - 1)
    if blocks > workers**2 and rows > blocks**2:
        assert blocks % workers == 0


@given(names=st.lists(st.sampled_from("abcdefg"), max_size=12), rows=st.integers(0, 40))
def test_columns_of_one_piece_do_not_touch(names: list[str], rows: int) -> None:
    columns = empty_columns(names, rows)
    assert list(columns) == list(dict.fromkeys(names))
    for place, column in enumerate(columns.values()):
        column[...] = place
    for place, column in enumerate(columns.values()):
        assert column.shape == (rows,)
        assert column.dtype == np.float64
        assert column.flags.c_contiguous
        assert (column == place).all()
    starts = [column.ctypes.data for column in columns.values() if rows]
    assert all((start - starts[0]) % 64 == 0 for start in starts)
