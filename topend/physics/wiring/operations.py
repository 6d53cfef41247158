"""The small functions of columns that join kernels: sums, differences, halves."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from topend.physics.kernel import Column


def zero() -> Column:
    return np.zeros(1)


def same(value: Column) -> Column:
    return value


def half(value: Column) -> Column:
    return value * 0.5


def difference(now: Column, then: Column) -> Column:
    return now - then


def added(*values: Column) -> Column:
    total = values[0]
    for value in values[1:]:
        total = total + value
    return total


def least(*values: Column) -> Column:
    return functools.reduce(np.minimum, values)


def greatest(*values: Column) -> Column:
    return functools.reduce(np.maximum, values)


def negative(value: Column) -> Column:
    return -value


def tangent(angle: Column) -> Column:
    return np.tan(angle)


def product(area: Column, thickness: Column) -> Column:
    return area * thickness


def quotient(volume: Column, thickness: Column) -> Column:
    return volume / thickness


def sum_of_products(*pairs: Column) -> Column:
    return added(*[first * second for first, second in zip(pairs[::2], pairs[1::2], strict=True)])


def first(pair: tuple[Column, ...]) -> Column:
    return pair[0]


def second(pair: tuple[Column, ...]) -> Column:
    return pair[1]


def magnitude(value: Column) -> Column:
    return np.abs(value)
