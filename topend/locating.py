"""How far a head lies off the bore's axis: link by link, at its worst, and as assemblies come out, drawn.

The outputs `eccentricity_worst` and `eccentricity_likely` are for the sizes as stated. Here the sizes move between their limits too.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from topend.assembly import TopEnd
from topend.errors import MissingInputError, must_be, must_count
from topend.evaluation import needs_message
from topend.extremes import ends_of, extremes
from topend.physics import location, wiring
from topend.physics.wiring.location import DISC, MIRROR, PAIR, SLOT, Link, links
from topend.uncertainty import moved_inputs, placed
from topend.units import from_si

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["Located", "LocatedLink", "drawn_eccentricity", "locate"]

#: Draws at a time: what fits a core's cache.
_BLOCK: Final = 16_384
#: Directions that are drawn from, 0.005 deg apart: a point is moved by no more than a ten-thousandth of its play.
_DIRECTIONS: Final = 65_536


@dataclass(frozen=True, slots=True)
class LocatedLink:
    """One link: its quantity, what it is, its radius [mm] at the sizes as stated and the greatest it may be, and its share of the mean
    square of what is likely, from 0 to 1."""

    name: str
    meaning: str
    radius: float
    greatest: float
    share: float


@dataclass(frozen=True)
class Located:
    """How far the head of a top end lies off the bore's axis, in mm, and how far it is turned, in degrees.

    `worst` with every link at its worst, all one way, every size at its worst limit; `worst_as_stated` at the sizes as stated.
    `likely` holds 95 % of the `draws`, in which sizes lie evenly between their limits and each link anywhere in its play; `mean` is
    their mean, and `eccentricities` are all of them. `rotation` is the most that the head may be turned, None where it cannot be had.

    Made by `te.locate`, whose example shows one.
    """

    kind: str
    links: tuple[LocatedLink, ...]
    worst: float
    worst_as_stated: float
    likely: float
    mean: float
    rotation: float | None
    draws: int
    eccentricities: NDArray[np.float64] = field(repr=False)

    def share_beyond(self, eccentricity_mm: float) -> float:
        """The share of the draws that lie further off than this."""
        return float(np.mean(self.eccentricities > eccentricity_mm))


def locate(top: TopEnd, *, draws: int = 100_000, seed: int = 0) -> Located:
    """How far the head of `top` lies off, from its `location` and the limits of all sizes; `draws` assemblies from `seed`.

    Raises `MissingInputError` where the location, or a size that it needs, is not stated, and `ArgumentError` for no number of draws.

    >>> import topend as te
    >>> top = te.TopEnd(cylinder=te.Cylinder(bore="47 mm H7"), head=te.SpigotHead(spigot_diameter="47 mm g6"),
    ...                 location=te.SpigotLocation(head_coaxiality="0.01 mm"))
    >>> found = te.locate(top)
    >>> f"{found.worst:.3f} mm at worst, {found.likely:.3f} mm likely"
    '0.030 mm at worst, 0.019 mm likely'
    """
    must_be("locate", "top", top, TopEnd)
    _counted("locate", draws, seed)
    chain = links(top.row.structure)
    names = [link.name for link in chain]
    wanted = ("eccentricity_worst", *names)
    planned = wiring.plan(top.row.structure, wanted)
    if planned.missing:
        lack = next(iter(planned.missing.values()))
        raise MissingInputError("eccentricity_worst", lack.needs, needs_message("eccentricity_worst", lack.needs))
    ends = ends_of(top, wanted)
    told = _links(chain, {link.name: ends[link.name][:3] for link in chain})
    drawn = from_si(drawn_eccentricity(top, draws=draws, seed=seed), "mm")
    turned = None
    if not wiring.plan(top.row.structure, ("rotation_worst",)).missing:
        turned = extremes(top, ["rotation_worst"])["rotation_worst"].high
    likely = float(np.quantile(drawn, location.LIKELY))
    kind = top.row.structure.choice("location") or ""
    value, _, worst = (from_si(end, "mm") for end in ends["eccentricity_worst"][:3])
    return Located(kind, told, worst, value, likely, float(drawn.mean()), turned, draws, drawn)


def _counted(function: str, draws: object, seed: object) -> None:
    for name, given, least in (("draws", draws, 1), ("seed", seed, 0)):
        must_count(function, name, given, least)


def _links(chain: tuple[Link, ...], ends: dict[str, tuple[float, float, float]]) -> tuple[LocatedLink, ...]:
    squares = {link.name: ends[link.name][0] ** 2 * (link.acts.along + link.acts.across) for link in chain}
    total = sum(squares.values()) or 1.0
    return tuple(
        LocatedLink(
            link.name,
            link.meaning,
            radius=from_si(ends[link.name][0], "mm"),
            greatest=from_si(ends[link.name][2], "mm"),
            share=squares[link.name] / total,
        )
        for link in chain
    )


def drawn_eccentricity(top: TopEnd, *, draws: int, seed: int = 0) -> NDArray[np.float64]:
    """Eccentricities [m] of `draws` assemblies of `top`: sizes evenly between their limits, each link anywhere in its play.

    As columns, a cacheful at a time; the same for the same seed. Raises as `locate`.

    >>> from topend.parts import Cylinder, SpigotHead, SpigotLocation
    >>> top = TopEnd(cylinder=Cylinder(bore="47 mm"), head=SpigotHead(spigot_diameter="46.8 mm"),
    ...              location=SpigotLocation(head_coaxiality="0 mm"))
    >>> drawn = drawn_eccentricity(top, draws=20_000)
    >>> bool(drawn.max() <= 1e-4), round(float(np.quantile(drawn, 0.95)) * 1e3, 3)
    (True, 0.097)
    """
    must_be("drawn_eccentricity", "top", top, TopEnd)
    _counted("drawn_eccentricity", draws, seed)
    row = top.row
    chain = links(row.structure)
    names = tuple(link.name for link in chain)
    planned = wiring.plan(row.structure, names)
    if not chain or planned.missing:
        needs = next(iter(planned.missing.values())).needs if chain else ("location",)
        raise MissingInputError("eccentricity_worst", needs, needs_message("eccentricity_worst", needs))
    moved = [one for one in moved_inputs(row, planned, top.values) if one.basis != "written"]
    # the quickest of numpy's generators: drawing is most of the work
    generator = np.random.Generator(np.random.SFC64(seed))
    directions = 2.0 * np.pi * np.arange(_DIRECTIONS) / _DIRECTIONS
    compass = np.cos(directions), np.sin(directions)
    made = np.empty(draws)
    # the same plan for every block
    columns = placed(row, moved, [np.array([one.place]) for one in moved])
    planned = wiring.plan(row.structure.with_given(columns), names)
    for start in range(0, draws, _BLOCK):
        out = made[start : start + _BLOCK]
        at = [generator.random(len(out)) * (one.high - one.low) + (one.place + one.low) for one in moved]
        values = wiring.run(planned, placed(row, moved, at))
        along, across = np.zeros(len(out)), np.zeros(len(out))
        for link in chain:
            radius = values[link.name]
            if radius.any():
                _shift(link, radius, generator, compass, along, across)
        np.sqrt(along * along + across * across, out=out)
    return made


def _shift(
    link: Link,
    radius: NDArray[np.float64],
    generator: np.random.Generator,
    compass: tuple[NDArray[np.float64], NDArray[np.float64]],
    along: NDArray[np.float64],
    across: NDArray[np.float64],
) -> None:
    """Add what a link shifts the head by, along the line through the pins and across it."""

    def point(part: float = 1.0) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        # evenly in the disc: the root of an even share of its area, in one of many directions
        out = np.sqrt(generator.random(len(along)))
        out *= radius * part
        toward = generator.integers(0, _DIRECTIONS, len(along), dtype=np.uint16)
        return out * compass[0][toward], out * compass[1][toward]

    if link.acts is PAIR:
        points = [point(0.5), point(0.5)]
    elif link.acts is SLOT:
        # the first pin alone holds along the line, both hold across it
        (first, at_first), (_, at_second) = point(), point()
        points = [(first, 0.5 * (at_first + at_second))]
    elif link.acts is MIRROR:
        points = [(point()[0], np.zeros(1)), (point()[0], np.zeros(1))]
    elif link.acts is DISC:
        points = [point()]
    else:
        count = round(1.0 / link.acts.along)
        points = [point(1.0 / count) for _ in range(count)]
    for one, other in points:
        along += one
        across += other
