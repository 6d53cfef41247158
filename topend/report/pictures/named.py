"""Which pictures there are, by name, and the door to them."""

from __future__ import annotations

import importlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from topend.assembly import TopEnd
from topend.errors import UnknownNameError, must_be

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["PICTURES", "Picture", "picture"]


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture: its name, the module of `topend.report.pictures` whose function of that name draws it, and what it shows."""

    name: str
    module: str
    meaning: str


PICTURES: Final[dict[str, Picture]] = {
    made.name: made
    for made in (
        Picture("gap_over_radius", "gap", "The gap at TDC, cold, from the axis to the bore, with crown and band."),
        Picture("clearance_over_speed", "speed", "What is left of the gap over crank speed with its band, and the parts that close it."),
        Picture("squish_velocity_over_angle", "squish", "Squish velocity over crank angle with its band, and the volume in the band."),
        Picture("cycle_over_angle", "cycle", "The closed cycle over crank angle: pressure, temperatures of both zones, knock integral."),
        Picture("port_openings", "ports", "When the ports are open round the turn, and their areas over crank angle."),
    )
}


def picture(top: TopEnd, name: str, **options: Any) -> Figure:
    """The picture `name` of `top` as a matplotlib `Figure`, which belongs to no window: keep it with `write_picture`.

    Parameters: `name` one of `PICTURES`; `options` those of its function in the module that `PICTURES` names. Raises
    `UnknownNameError` for a name that there is not, `MissingExtraError` without matplotlib, and `MissingInputError` where the
    top end does not determine what is drawn.

    >>> import topend as te
    >>> te.picture(te.TopEnd(), "gap_over_radios")
    Traceback (most recent call last):
    topend.errors.UnknownNameError: no picture is called 'gap_over_radios' in the list of pictures; nearest: gap_over_radius
    """
    must_be("picture", "top", top, TopEnd)
    if name not in PICTURES:
        raise UnknownNameError(name, PICTURES, what="picture", searched="the list of pictures")
    draw = getattr(importlib.import_module(f"topend.report.pictures.{PICTURES[name].module}"), name)
    made: Figure = draw(top, **options)
    return made
