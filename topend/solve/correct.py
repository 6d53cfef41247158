"""Cuts and gaskets together that bring a build to its targets, with the least metal removed, or what cannot be had and by how much.

How: at given gaskets the gaps, the volume and the distance of crown and ports change in proportion to the cuts, and each target
becomes limits on one of these: a linear programme in a few cuts, whose coefficients are evaluated, not written down a second
time. All stacks of a drawer have the same coefficients and differ in their limits alone, so that the prices of one solved
stack bound the metal of every other (weak duality), and few are solved before the rest is known to take more. What is not
shown to be linear or monotone (squish velocity) is brought in by repeated linearisation, and every answer is evaluated.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from topend.assembly import TopEnd
from topend.errors import FitError, must_be
from topend.parts import GasketSet
from topend.solve.correct_answers import Correction, Corrections, unit_of
from topend.solve.correct_question import Question
from topend.solve.correct_search import Search
from topend.solve.cuts import CUTS, cut_amount
from topend.solve.wishes import limit, target
from topend.units import KINDS, Quantity, StatedQuantity, StatedValueError, stated

__all__ = ["Correction", "Corrections", "correct"]


def correct(
    top: TopEnd,
    targets: Mapping[str, Any] | None = None,
    *,
    allow: Mapping[str, Any],
    stock: GasketSet | None = None,
    base_count: tuple[int, int] | int = (1, 3),
    head_count: tuple[int, int] | int | None = None,
    least_gap: str | Quantity | None = "0.6 mm",
    at_least: Mapping[str, Any] | None = None,
    at_most: Mapping[str, Any] | None = None,
    best: int = 5,
) -> Corrections:
    """Cuts within limits, a spacer and gaskets that bring `top` to all its targets, least metal removed first.

    Parameters
    ----------
    top : the build as it is.
    targets, at_least, at_most : by output name, `(value, tolerance)` or a value, as in `fit_gaskets`.
    allow : what may be done: ``{"deck_cut": (0, "0.8 mm"), "base_cut": ..., "band_cut": ..., "bowl_cut": (0, "0.5 cc"),
        "spacer": ["0.5 mm", "1.0 mm"]}``; least and most of each cut, and spacers of which one or none goes under the barrel.
    stock : the drawer of gaskets; None: those fitted stay. `base_count`, `head_count` as in `fit_gaskets`.
    least_gap : floor on the least gap, as in `fit_gaskets`.
    best : how many ways to give, each with other gaskets or another spacer.

    A deck cut lowers the deck and every port with it, a base cut lowers the barrel, a band cut takes the band up into the head, a
    bowl cut adds to the chamber (`topend.solve.cuts`). Metal is counted as what each cut takes over the bore [cc]. Cuts that take as
    much are preferred in that order. Raises `FitError` for a question that cannot be asked.

    >>> import topend as te
    >>> top = te.TopEnd(deck=te.DeckReading(clearance="0.9 mm"), head=te.FlushHead(), base_gaskets=[],
    ...                 head_gaskets=[te.Gasket(role="head", thickness="0.4 mm", fitted_thickness="0.4 mm")])
    >>> found = te.correct(top, {"squish_edge": ("0.95 mm", "0.05 mm")}, allow={"deck_cut": (0, "0.8 mm")})
    >>> print(f"{found.best[0].cuts['deck_cut']:.3f~P}")
    0.300 mm
    """
    must_be("correct", "top", top, TopEnd)
    if stock is not None:
        must_be("correct", "stock", stock, GasketSet)
    must_be("correct", "allow", allow, Mapping, '; give what may be done, such as {"deck_cut": (0, "0.8 mm")}')
    for asked, given in (("targets", targets), ("at_least", at_least), ("at_most", at_most)):
        if given is not None:
            must_be("correct", asked, given, Mapping, '; give by output name, such as {"squish_min": ("0.90 mm", "0.05 mm")}')
    known = top.outputs
    wishes = [target(name, given, known) for name, given in (targets or {}).items()]
    wishes += [limit(name, given, known, least=True) for name, given in (at_least or {}).items()]
    wishes += [limit(name, given, known, least=False) for name, given in (at_most or {}).items()]
    if not wishes:
        raise FitError("nothing is asked: give a target, such as {'squish_min': ('0.90 mm', '0.05 mm')}, or a limit in at_least or at_most")
    if isinstance(best, bool) or not isinstance(best, int) or best < 1:
        raise FitError(f"best must be a whole number of at least 1; got {best!r}")
    spacers = _spacers(allow.get("spacer", ()))
    limits = {name: _range(name, allow[name]) for name in sorted(set(allow) - {"spacer"}, key=_preference)}
    question = Question.ask(top, wishes, limits, spacers, stock, base_count, head_count, least_gap)
    answer = Search(question).answer(best)
    if not answer and answer.nearest is not None and not answer.misses:
        # a limit that is met to the last digit lies within what the programme keeps inside of
        answer = Search(replace(question, at_edge=True)).answer(best) or answer
    return answer


def _preference(name: str) -> int:
    return list(CUTS).index(name) if name in CUTS else -1


def _range(name: str, given: Any) -> tuple[float, float]:
    if name not in CUTS:
        cut_amount(name, given)  # says what there is
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence) or len(given) != 2:
        unit = unit_of(name)
        raise FitError(f'allow: {name} must be the least and the most, such as (0, "0.5 {unit}"); got {given!r}')
    low, high = (0.0 if type(end) in (int, float) and end == 0 else cut_amount(name, end, "allow: ").si for end in given)
    if high < low:
        raise FitError(f"allow: {name} must be the least and the most; got {given[0]!r} to {given[1]!r}")
    return low, high


def _spacers(given: Any) -> tuple[StatedQuantity, ...]:
    if isinstance(given, (str, bytes)) or not isinstance(given, Sequence):
        raise FitError(f'allow: spacer must be a list of thicknesses, such as ["0.5 mm", "1.0 mm"]; got {given!r}')
    made: list[StatedQuantity] = []
    for one in given:
        try:
            thickness = stated(one, KINDS["length"])
        except StatedValueError as error:
            raise FitError(f"allow: spacer {error}") from None
        if thickness.si <= 0.0:
            raise FitError(f"allow: spacer must be thicker than 0 mm; got {thickness.text!r}")
        if all(thickness.si != other.si for other in made):
            made.append(thickness)
    return tuple(made)
