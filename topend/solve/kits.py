"""Kits of gaskets, and the most builds that a given number of variants with a given number of gaskets can cover.

Builds are bits of a word, so that what a kit covers is the "or" of the stacks it can make, and a million kits are counted in
a second. Kits are made in order of their size, and only as far as somebody asks.
"""

from __future__ import annotations

import functools
import itertools
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Words = NDArray[np.uint64]

__all__ = ["BoxedGaskets", "Component", "Level", "Offer", "TooLateError", "counted", "packed", "unpacked"]

#: Positions in the offering, ascending; a gasket that is in it twice is named twice.
Stack = tuple[int, ...]
#: Words worked on at a time.
_CHUNK: Final = 4_000_000
#: Subsets of the variants of a component that are looked through.
MOST_SUBSETS: Final = 300_000


class TooLateError(Exception):
    """The time that was given is used up."""


def packed(bools: NDArray[np.bool_]) -> Words:
    """Bits along the last axis in words of 64; what is left of the last word is 0."""
    made = np.packbits(bools, axis=-1)
    lacking = -made.shape[-1] % 8
    if lacking or not made.shape[-1]:
        made = np.concatenate([made, np.zeros((*made.shape[:-1], lacking or 8), dtype=np.uint8)], axis=-1)
    return np.ascontiguousarray(made).view(np.uint64)


def unpacked(words: Any, span: tuple[int, int]) -> NDArray[np.bool_]:
    """The bits of `packed` words from one place to another."""
    bits = np.unpackbits(np.ascontiguousarray(words).view(np.uint8))[span[0] : span[1]]
    return bits.astype(np.bool_)


if hasattr(np, "bitwise_count"):

    def counted(words: Words) -> NDArray[np.int64]:
        """Bits set along the last axis."""
        made: NDArray[np.int64] = np.bitwise_count(words).sum(axis=-1, dtype=np.int64)
        return made

else:  # numpy before 2.0
    _SET: Final = np.array([bin(byte).count("1") for byte in range(256)], dtype=np.uint8)

    def counted(words: Words) -> NDArray[np.int64]:
        """Bits set along the last axis."""
        made: NDArray[np.int64] = _SET[np.ascontiguousarray(words).view(np.uint8)].sum(axis=-1, dtype=np.int64)
        return made


@dataclass(frozen=True)
class BoxedGaskets:
    """The gaskets in the box of one variant, by position in the offering."""

    base: Stack
    head: Stack

    def __len__(self) -> int:
        return len(self.base) + len(self.head)

    def stacks(self, role: str, count: tuple[int, int]) -> tuple[Stack, ...]:
        """The stacks of `count` gaskets that it makes in a role."""
        return sub_stacks(self.base if role == "base" else self.head, count)


def sub_stacks(kit: Stack, count: tuple[int, int]) -> tuple[Stack, ...]:
    """Every stack of least to most gaskets out of a kit, each once.

    >>> sub_stacks((0, 0, 1), (1, 2))
    ((0,), (1,), (0, 0), (0, 1))
    """
    found: dict[Stack, None] = {}
    for number in range(count[0], min(count[1], len(kit)) + 1):
        for stack in itertools.combinations(kit, number):
            found[stack] = None
    return tuple(found)


@dataclass
class Offer:
    """What one variant can do: which builds each of its stacks covers, as words (base stacks, head stacks, words)."""

    base_stacks: tuple[Stack, ...]
    head_stacks: tuple[Stack, ...]
    base_count: tuple[int, int]
    head_count: tuple[int, int]
    words: Words
    _covered: dict[int, tuple[tuple[Stack, ...], Words]] = field(default_factory=dict, repr=False)

    @functools.cached_property
    def full(self) -> Words:
        """What it covers with every gasket there is."""
        made: Words = np.bitwise_or.reduce(self.words.reshape(-1, self.words.shape[-1]), axis=0)
        return made

    @functools.cached_property
    def useful(self) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Gaskets that are in a stack which covers anything, base and head."""
        any_base = np.asarray(self.words.any(axis=(1, 2)))
        any_head = np.asarray(self.words.any(axis=(0, 2)))
        base = {at for good, stack in zip(any_base, self.base_stacks, strict=True) if good for at in stack}
        head = {at for good, stack in zip(any_head, self.head_stacks, strict=True) if good for at in stack}
        return tuple(sorted(base)), tuple(sorted(head))

    @property
    def least(self) -> int:
        """The fewest gaskets that its kit can have."""
        return self.base_count[0] + self.head_count[0]

    def _of_base(self, size: int) -> tuple[tuple[Stack, ...], Words]:
        """Base kits of a size, and what each covers with each head stack."""
        if size not in self._covered:
            kits = _kits(self.useful[0], size, self.base_count[1])
            self._covered[size] = kits, _joined(self.words, self.base_stacks, kits, self.base_count)
        return self._covered[size]

    def kits(self, size: int) -> Iterator[tuple[tuple[Stack, ...], tuple[Stack, ...], Words]]:
        """Kits of `size` gaskets in parts: base kits, head kits, and what each pair of them covers (base, head, words)."""
        for heads in range(self.head_count[0], size + 1):
            if size - heads < self.base_count[0]:
                continue
            head_kits = _kits(self.useful[1], heads, self.head_count[1])
            base_kits, covered = self._of_base(size - heads)
            if not head_kits or not base_kits:
                continue
            step = max(1, _CHUNK // (len(head_kits) * covered.shape[-1]))
            for start in range(0, len(base_kits), step):
                part = np.ascontiguousarray(covered[start : start + step].transpose(1, 0, 2))
                joined = _joined(part, self.head_stacks, head_kits, self.head_count)
                yield base_kits[start : start + step], head_kits, joined.transpose(1, 0, 2)

    @functools.cached_property
    def _best(self) -> dict[int, tuple[int, BoxedGaskets | None]]:
        return {}

    def best(self, size: int) -> tuple[int, BoxedGaskets | None]:
        """The most builds that a kit of `size` covers, and the first kit that does."""
        if size not in self._best:
            most, found = -1, None
            for base_kits, head_kits, words in self.kits(size):
                count = counted(words)
                at = np.unravel_index(int(np.argmax(count)), count.shape)
                if int(count[at]) > most:
                    most, found = int(count[at]), BoxedGaskets(base_kits[at[0]], head_kits[at[1]])
            self._best[size] = most, found
        return self._best[size]

    def useful_kits(self, size: int, beside: Words, need: int) -> tuple[list[BoxedGaskets], Words]:
        """The kits of `size` that cover `need` builds together with `beside`, those that cover the same told once."""
        kits: list[BoxedGaskets] = []
        parts = [np.empty((0, self.words.shape[-1]), dtype=np.uint64)]
        for base_kits, head_kits, words in self.kits(size):
            good = np.argwhere(counted(words | beside) >= need)
            kits += [BoxedGaskets(base_kits[a], head_kits[b]) for a, b in good]
            parts.append(words[good[:, 0], good[:, 1]])
        found = np.concatenate(parts)
        _, first = np.unique(found, axis=0, return_index=True) if len(found) else (None, np.empty(0, dtype=np.intp))
        first = np.sort(first)
        return [kits[at] for at in first], found[first]


def _kits(gaskets: Sequence[int], size: int, copies: int) -> tuple[Stack, ...]:
    """Every multiset of `size` gaskets in which none is more often than a stack can hold it."""
    if size and not copies:
        return ()
    made = itertools.combinations_with_replacement(gaskets, size)
    return tuple(kit for kit in made if size <= copies or all(kit[at] != kit[at + copies] for at in range(size - copies)))


def _joined(words: Words, stacks: Sequence[Stack], kits: Sequence[Stack], count: tuple[int, int]) -> Words:
    """For each kit the "or" of the rows of its stacks: (kits, ...) from (stacks, ...)."""
    place = {stack: at for at, stack in enumerate(stacks)}
    rows = [[place[stack] for stack in sub_stacks(kit, count) if stack in place] for kit in kits]
    none = len(stacks)
    width = max((len(row) for row in rows), default=1) or 1
    at = np.full((len(kits), width), none)
    for index, row in enumerate(rows):
        at[index, : len(row)] = row
    padded = np.concatenate([words, np.zeros((1, *words.shape[1:]), dtype=np.uint64)])
    made = np.empty((len(kits), *words.shape[1:]), dtype=np.uint64)
    step = max(1, _CHUNK // (width * max(1, int(np.prod(words.shape[1:])))))
    for start in range(0, len(kits), step):
        made[start : start + step] = np.bitwise_or.reduce(padded[at[start : start + step]], axis=1)
    return made


@dataclass(frozen=True)
class Level:
    """The most builds that `variants` variants with `gaskets` gaskets together cover; which, and with which kits."""

    variants: int
    gaskets: int
    covered: int
    chosen: tuple[tuple[int, BoxedGaskets], ...]


@dataclass
class Component:
    """Families that share variants, and those variants: `offers` by the variant's number in the whole plan.

    `need`: builds that have to be covered here, however the others do.
    """

    builds: int
    offers: dict[int, Offer]
    need: int
    _useful: dict[Any, tuple[list[BoxedGaskets], Words]] = field(default_factory=dict, repr=False)

    def subsets(self, number: int) -> Iterator[tuple[tuple[int, ...], int]]:
        """Subsets of so many variants, and how many builds each covers with every gasket there is."""
        names = tuple(self.offers)
        for subset in itertools.combinations(names, number):
            words = self._full(subset)
            yield subset, int(counted(words)) if number else 0

    def _full(self, subset: Sequence[int]) -> Words:
        width = next(iter(self.offers.values())).words.shape[-1]
        made = np.zeros(width, dtype=np.uint64)
        for one in subset:
            made |= self.offers[one].full
        return made

    def level(self, number: int, gaskets: int, deadline: float) -> Level | None:
        """The best with exactly so many variants and gaskets, where it covers `need` builds at least; None: there is none.

        Raises `TooLateError` past `deadline` (of `time.monotonic`).
        """
        best: Level | None = None
        for subset, most in self.subsets(number):
            floor = self.need if best is None else best.covered + 1
            if most < floor:
                continue
            found = self._of(subset, gaskets, floor, deadline)
            if found is not None:
                best = Level(number, gaskets, *found)
        return best

    def _of(
        self, subset: tuple[int, ...], gaskets: int, need: int, deadline: float
    ) -> tuple[int, tuple[tuple[int, BoxedGaskets], ...]] | None:
        """The best of one subset: how many builds it covers, and its kits."""
        if len(subset) == 1:
            most, kit = self.offers[subset[0]].best(gaskets)
            return None if kit is None or most < need else (most, ((subset[0], kit),))
        least = [self.offers[one].least for one in subset]
        best: tuple[int, tuple[tuple[int, BoxedGaskets], ...]] | None = None
        for sizes in _shares(gaskets, least):
            if time.monotonic() > deadline:
                raise TooLateError
            lists = []
            for one, size in zip(subset, sizes, strict=True):
                lists.append(self._list(one, size, tuple(other for other in subset if other != one)))
                if not lists[-1][0]:
                    break
            if len(lists) < len(subset) or not lists[-1][0]:
                continue
            found = self._together(subset, lists, need, deadline)
            if found is not None:
                best, need = found, found[0] + 1
        return best

    def _list(self, one: int, size: int, others: tuple[int, ...]) -> tuple[list[BoxedGaskets], Words]:
        """Kits that are of any use beside all that the others can do."""
        key = (one, size, others)
        if key not in self._useful:
            self._useful[key] = self.offers[one].useful_kits(size, self._full(others), self.need)
        return self._useful[key]

    def _together(
        self, subset: tuple[int, ...], lists: list[tuple[list[BoxedGaskets], Words]], need: int, deadline: float
    ) -> tuple[int, tuple[tuple[int, BoxedGaskets], ...]] | None:
        """The best choice of one kit a variant, of those listed."""
        order = sorted(range(len(subset)), key=lambda at: len(lists[at][0]))
        words = [lists[at][1] for at in order]
        rest = [np.bitwise_or.reduce(np.concatenate(words[at:]), axis=0) for at in range(len(words))]
        best: tuple[int, list[int]] | None = None

        def walk(at: int, so_far: Words, taken: list[int]) -> None:
            nonlocal best, need
            if time.monotonic() > deadline:
                raise TooLateError
            if at == len(words) - 1:
                count = counted(words[at] | so_far)
                top = int(np.argmax(count))
                if int(count[top]) >= need:
                    best, need = (int(count[top]), [*taken, top]), int(count[top]) + 1
                return
            joined = words[at] | so_far
            hope = counted(joined | rest[at + 1])
            for one in np.argsort(-counted(joined), kind="stable"):
                if int(hope[one]) >= need:
                    walk(at + 1, joined[one], [*taken, int(one)])

        walk(0, np.zeros(words[0].shape[-1], dtype=np.uint64), [])
        if best is None:
            return None
        chosen = {order[place]: at for place, at in enumerate(best[1])}
        return best[0], tuple((one, lists[at][0][chosen[at]]) for at, one in enumerate(subset))


def _shares(total: int, least: Sequence[int]) -> Iterator[tuple[int, ...]]:
    """Ways to share `total` gaskets among kits of at least `least` each."""
    spare = total - sum(least)
    if spare < 0:
        return
    for cuts in itertools.combinations(range(spare + len(least) - 1), len(least) - 1):
        edges = (-1, *cuts, spare + len(least) - 1)
        yield tuple(low + edges[at + 1] - edges[at] - 1 for at, low in enumerate(least))
