"""How the nuts of the head are drawn up: torque as it is stated, in how many rounds, in what order, and where the figure is from.

Standing of rounds and order: common practice. The torque is only ever the one that the job states.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from topend.assembly import TopEnd
from topend.parts import StudSet

__all__ = ["Tightening", "crosswise"]

#: Rounds in which a head is drawn down.
ROUNDS: Final = 3
_OIL: Final = {
    "oiled": "threads and seats of the nuts oiled",
    "dry": "threads and seats of the nuts clean and dry",
    "paste": "paste on threads and seats of the nuts",
}


def crosswise(count: int) -> tuple[int, ...]:
    """The order in which nuts on a circle are drawn up, numbered around from 1: each far from those that were, then far from the last.

    >>> crosswise(4), crosswise(6)
    ((1, 3, 2, 4), (1, 4, 2, 5, 3, 6))
    """
    done = [0]

    def apart(one: int, other: int) -> int:
        return min((one - other) % count, (other - one) % count)

    while len(done) < count:
        left = [one for one in range(count) if one not in done]
        done.append(max(left, key=lambda one: (min(apart(one, other) for other in done), apart(one, done[-1]), -one)))
    return tuple(one + 1 for one in done)


@dataclass(frozen=True)
class Tightening:
    """The nuts of one top end's head in words for a sheet, and as plain data.

    >>> from topend.parts import StudSet
    >>> made = Tightening(TopEnd(studs=StudSet(thread_diameter="7 mm", root="case", torque="14 N·m", source="shop book")))
    >>> made.rounds, made.torque, made.source
    ((5.0, 9.0, 14.0), '14 N·m', 'shop book')
    """

    top: TopEnd

    @property
    def _studs(self) -> StudSet | None:
        return self.top.studs

    @property
    def torque(self) -> str | None:
        """The torque as it is stated; None where it is not."""
        return None if self._studs is None or self._studs.torque is None else self._studs.torque.text

    @property
    def rounds(self) -> tuple[float, ...]:
        """The torque of each round, in the unit it is stated in: a third, two thirds, all of it, the first ones to what a wrench shows."""
        if self._studs is None or self._studs.torque is None:
            return ()
        whole = float(self._studs.torque.m_as(self._studs.torque.stated_unit))
        step = 1.0 if whole >= 9.0 else 0.5
        return (*(round(whole * part / ROUNDS / step) * step for part in range(1, ROUNDS)), whole)

    @property
    def order(self) -> tuple[int, ...]:
        """The order of the nuts, numbered around; empty where nobody stated how many there are."""
        pattern = None if self.top.cylinder is None else self.top.cylinder.studs
        return () if pattern is None else crosswise(pattern.count)

    @property
    def source(self) -> str | None:
        """Where the torque is from; None where it is not stated."""
        studs = self._studs
        if studs is None or studs.torque is None:
            return None
        origin = studs.origins.get("torque")
        said = (origin.source if origin is not None else None) or studs.source
        packs = [f"pack {one.pack} {one.version}{', changed in the job' if one.changed else ''}" for one in studs.provenance]
        told = [*([said] if said else []), *packs]
        return "; ".join(told) if told else "the job, which does not say from where it has it"

    @property
    def oil(self) -> str:
        """What is on the threads, which decides what the torque pulls with."""
        known = None if self._studs is None else self._studs.lubrication
        return _OIL[known] if known is not None else "threads dry [ ] oiled [ ] paste [ ], as the torque is meant"

    @property
    def barrel_has_nuts(self) -> bool | None:
        """Whether the barrel is held by nuts of its own, to which the head's torque does not belong; None where nobody said."""
        return None if self._studs is None else self._studs.root == "cylinder"

    @property
    def on_the_barrel(self) -> str:
        """The barrel's nuts on a dry fit: those of the head where the studs stand in the case, its own where they stand in the cylinder."""
        if self.barrel_has_nuts:
            return "Base gaskets in their order, barrel on, no head: the barrel's own nuts crosswise to their torque, by the engine's data."
        until = f", {self.torque}" if self.torque is not None else ""
        return (
            f"Base gaskets in their order, barrel on, no head: nuts down crosswise to the torque of the finished build{until}, on spacers "
            f"in place of the head{'' if self.barrel_has_nuts is False else '; nuts of its own, where the barrel has them, to theirs'}."
        )

    @property
    def head_on(self) -> str:
        """How the head is drawn down for the wire."""
        return f"Head on with its gaskets, nuts crosswise to {self.torque or 'their torque'}, as in the finished build."

    @property
    def closing_up(self) -> tuple[str, ...]:
        """The lines of the step that draws the head down for good."""
        if self.torque is None:
            return (
                "This job states no torque. Take it from the engine's own data, or from whoever made the studs or the head, and write it "
                f"here: ______ N·m; {self.oil}.",
                f"Nuts crosswise in {_NUMBER[ROUNDS]} rounds: about a third of it, two thirds, all of it (common practice).",
                *self._in_order,
            )
        *first, _ = (f"{one:g}" for one in self.rounds)
        return (
            f"Nuts crosswise in {_NUMBER[ROUNDS]} rounds: about {', '.join(first)}, then {self.torque} "
            f"(so many rounds are common practice); {self.oil}.",
            *self._in_order,
            f"The torque is from: {self.source}. It is no advice: what the engine's own data says, or whoever made the studs or the head, "
            "comes first.",
        )

    @property
    def again(self) -> str:
        """The line of the step after the first heat."""
        if self.torque is None:
            return "Nuts again to the same torque, ______ N·m, in the same order, in one round (common practice)."
        return f"Nuts again to {self.torque}, in the same order, in one round (common practice)."

    @property
    def _in_order(self) -> tuple[str, ...]:
        if not self.order:
            return ()
        order = ", ".join(map(str, self.order))
        return (f"Order of the {len(self.order)} nuts, numbered clockwise from the first past 12 o'clock: {order}.",)

    def to_dict(self) -> dict[str, Any] | None:
        """As plain data; None where no torque is stated."""
        if self._studs is None or self._studs.torque is None:
            return None
        limits = self._studs.torque.limits
        return {
            "value": float(self._studs.torque.m_as("N·m")),
            "limits": None if limits is None else [float(end.m_as("N·m")) for end in limits],
            "unit": "N·m",
            "rounds": {"values": list(self.rounds), "unit": self._studs.torque.stated_unit},
            "order": list(self.order),
            "lubrication": self._studs.lubrication,
            "source": self.source,
        }


_NUMBER: Final = {3: "three"}
