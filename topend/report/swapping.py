"""The answer of a swap: each figure before, as it stands and with the spacer, and what has to be done to the deck."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from typing import Any

from topend.evaluation import Result
from topend.parts import Crank, Piston
from topend.quantities import OUTPUTS
from topend.report.answer import Answer
from topend.report.cautions import CAUTIONS
from topend.report.figures import Figure
from topend.report.finding_words import finding_dict, finding_lines
from topend.report.layout import columns, heading, labelled, paragraph
from topend.report.words import crank_words, part_name, piston_words
from topend.solve.swap import Swap
from topend.uncertainty import uncertainty

__all__ = ["SwapReport"]


@dataclass(frozen=True)
class SwapReport(Answer):
    """A `Swap` as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `answer` of `swap`; `crank` and `piston` the new parts; `title`, `file` and `packs` as on a card.
    """

    answer: Swap = field(repr=False)
    crank: Crank | None = None
    piston: Piston | None = None
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()

    @functools.cached_property
    def states(self) -> dict[str, Result]:
        """What can be assembled: `before`, `as it stands` after, `with spacer`."""
        states = {"before": self.answer.before, "as it stands": self.answer.after, "with spacer": self.answer.spaced}
        return {name: state for name, state in states.items() if state is not None}

    @functools.cached_property
    def figures(self) -> dict[str, dict[str, Figure]]:
        """By output, its figure in each state that has it."""
        made: dict[str, dict[str, Figure]] = {name: {} for name, *_ in self.answer.rows}
        columns = dict(
            zip(("before", "as it stands", "with spacer"), zip(*(values for _, _, *values in self.answer.rows), strict=True), strict=True)
        )
        for state, result in self.states.items():
            # the old part may have what the new one leaves open, and the other way round
            names = [name for name, value in zip(made, columns[state], strict=True) if value is not None]
            for name, found in uncertainty(result.top, names).items():
                made[name][state] = Figure.of(found)
        return made

    def _new(self) -> list[tuple[str, str]]:
        rows = []
        if self.crank is not None:
            rows.append(("crank", part_name(self.crank) + crank_words(self.crank)))
        if self.piston is not None:
            rows.append(("piston", part_name(self.piston) + piston_words(self.piston)))
        return rows

    # --- JSON ---

    def to_dict(self) -> dict[str, Any]:
        """The answer as plain data: `swapped_in`, `spacer`, `outputs[name][state]`, `floor_steps`, `refusal`, `findings`, `notes`."""
        answer = self.answer
        states = ("before", "as_it_stands", "with_spacer")
        return {
            **self.whose(),
            "swapped_in": dict(self._new()),
            "spacer": {"value": float(answer.spacer.m_as("mm")), "unit": "mm"},
            "outputs": {
                name: {state.replace(" ", "_"): figure.to_dict() for state, figure in row.items()} for name, row in self.figures.items()
            },
            "floor_steps": {
                str(port): {"unit": "mm", **dict(zip(states, steps, strict=True))} for port, steps in answer.floor_steps.items()
            },
            "refusal": answer.refusal or None,
            "findings": [finding_dict(one) for one in answer.findings],
            "notes": list(answer.notes),
            "cautions": list(CAUTIONS),
        }

    # --- text ---

    @functools.cached_property
    def text(self) -> str:
        """The answer in plain text for 80 columns."""
        answer = self.answer
        lines = self.title_lines("SWAP") + finding_lines(answer.findings)
        lines += heading("Swapped in") + labelled(self._new())
        lines += heading("The deck") + [line for text in self._deck() for line in paragraph(text, first="  ")]
        lines += heading("What it comes to") + self._table()
        lines += [line for note in answer.notes for line in paragraph(note, first="  note: ")]
        lines += heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")]
        return "\n".join(lines)

    def _deck(self) -> list[str]:
        answer = self.answer
        told = []
        if answer.after is None:
            told.append(f"As it stands it cannot be assembled: {answer.refusal}")
        needed = answer.spacer.m_as("mm")
        if needed > 0.0:
            told.append(f"A spacer of {needed:.3f} mm under the barrel brings the deck back to where it was; ports then open earlier.")
        elif needed < 0.0:
            told.append(f"The barrel would have to come lower by {-needed:.3f} mm to bring the deck back: a thinner base stack, or a cut.")
        else:
            told.append("It lies where it lay: no spacer is needed.")
        return told

    def _table(self) -> list[str]:
        states = list(self.states)
        rows: list[tuple[str, ...]] = [("", *states, "")]
        for name, row in self.figures.items():
            unit = OUTPUTS[name].unit
            rows.append((name, *(_cell(row.get(state)) for state in states), "" if unit == "–" else unit))
        places = [at for at, state in enumerate(("before", "as it stands", "with spacer")) if state in states]
        for port, steps in self.answer.floor_steps.items():
            sides = (f"{abs(steps[at]):.3f} {'over' if steps[at] >= 0.0 else 'under'}" for at in places)
            rows.append((f"crown at floor, port {port}", *sides, "mm"))
        return columns(rows, right=range(1, len(states) + 1), last=False)


def _cell(figure: Figure | None) -> str:
    if figure is None:
        return "unknown"
    sign = "-" if figure.value < 0.0 else ""
    return f"{sign}{figure.number} {figure.spread}".rstrip()
