"""The graph of quantities: what is known of a top end, the ways to each quantity, and what a plan is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any


@dataclass(frozen=True, slots=True)
class Structure:
    """What is known of a top end, without the numbers.

    `given` holds the input paths that have a value. `tags` holds the choices, as ``what:which``: the crown's shape
    (``piston.crown:sphere``), the head's kind (``head:spigot``), how many gaskets (``base_gaskets:2``), each port's kind
    (``cylinder.ports.0:exhaust``), what a deck reading was taken at (``deck.at:centre``), and so on. `added` holds ways to
    quantities that are not the library's own, beside the tables of nodes.
    """

    given: frozenset[str]
    tags: frozenset[str]
    added: tuple[Node, ...] = ()

    def choice(self, what: str) -> str | None:
        """The choice made for `what`, or None.

        >>> Structure(frozenset(), frozenset({"head:spigot"})).choice("head")
        'spigot'
        """
        head = f"{what}:"
        return next((tag[len(head) :] for tag in self.tags if tag.startswith(head)), None)

    def with_given(self, paths: Iterable[str]) -> Structure:
        """The same with more paths given."""
        return replace(self, given=self.given | frozenset(paths))


@dataclass(frozen=True, slots=True)
class Assumption:
    """Why a value may be taken as its default, and how far the truth may lie from it.

    `limits` gives (lower, upper) from the default value and the columns it was made from; None: nothing is known.
    """

    why: str
    limits: Callable[..., tuple[Any, Any]] | None = None


@dataclass(frozen=True, slots=True)
class Node:
    """One way to one quantity: the function and, by its argument names, the quantities it takes."""

    name: str
    function: Callable[..., Any]
    inputs: tuple[tuple[str, str], ...]
    assumption: Assumption | None = None

    @property
    def takes(self) -> tuple[str, ...]:
        return tuple(name for _, name in self.inputs)


@dataclass(frozen=True, slots=True)
class Missing:
    """A quantity that cannot be had: the input paths that would give it, by the shortest way."""

    name: str
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """The kernels to run, in order, for the wanted names; what cannot be had; the defaults that are used."""

    wanted: tuple[str, ...]
    steps: tuple[Node, ...]
    missing: Mapping[str, Missing]

    @property
    def assumptions(self) -> tuple[Node, ...]:
        return tuple(step for step in self.steps if step.assumption is not None)


def node(name: str, function: Callable[..., Any], assumption: Assumption | None = None, /, **inputs: str) -> Node:
    """A node of a kernel or function; `inputs` says which quantity each of its arguments takes."""
    return Node(name, getattr(function, "raw", function), tuple(inputs.items()), assumption)


def many(name: str, function: Callable[..., Any], inputs: Iterable[str]) -> Node:
    """A node whose function takes its inputs by position, as many as there are."""
    named = tuple((f"_{index}", path) for index, path in enumerate(inputs))
    return Node(name, lambda **columns: function(*columns.values()), named)


def within(share: float) -> Callable[..., tuple[Any, Any]]:
    """Limits of a default by a share of it on either side."""
    return lambda value, **_: (value * (1.0 - share), value * (1.0 + share))


def between(low: float, high: float) -> Callable[..., tuple[Any, Any]]:
    """Limits of a default that is the same for every engine."""
    return lambda value, **_: (0.0 * value + low, 0.0 * value + high)
