"""The wiring: which kernel gives each quantity, from which others. The one place where formulas are put together.

A top end reaches this module as a `Structure` (which inputs are known, and the choices that are not numbers) and as
columns of SI floats by input path. `plan` finds, for the wanted names, the kernels to run and in which order; `run` runs
them on any number of rows. Nothing here knows parts, units or files.

To add a quantity: write its kernel in the module of its subject, add a `Node` below, and a line in `quantities.py`.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from topend.physics import crown, inertia, ports, slider_crank, squish, thermal, volumes, windows
from topend.physics.tape import Program, Recorded, Tape

if TYPE_CHECKING:
    from topend.physics.kernel import Column

__all__ = [
    "CLOSING_PARTS",
    "COLLISIONS",
    "SIZES",
    "Assumption",
    "Check",
    "Missing",
    "Node",
    "Plan",
    "Structure",
    "masks",
    "plan",
    "record",
    "run",
    "status",
]


@dataclass(frozen=True, slots=True)
class Structure:
    """What is known of a top end, without the numbers.

    `given` holds the input paths that have a value. `tags` holds the choices, as ``what:which``: the crown's shape
    (``piston.crown:sphere``), the head's kind (``head:spigot``), how many gaskets (``base_gaskets:2``), each port's kind
    (``cylinder.ports.0:exhaust``), what a deck reading was taken at (``deck.at:centre``), and so on.
    """

    given: frozenset[str]
    tags: frozenset[str]

    def choice(self, what: str) -> str | None:
        """The choice made for `what`, or None.

        >>> Structure(frozenset(), frozenset({"head:spigot"})).choice("head")
        'spigot'
        """
        head = f"{what}:"
        return next((tag[len(head) :] for tag in self.tags if tag.startswith(head)), None)

    def with_given(self, paths: Iterable[str]) -> Structure:
        """The same with more paths given."""
        return Structure(self.given | frozenset(paths), self.tags)


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


def _node(name: str, function: Callable[..., Any], assumption: Assumption | None = None, /, **inputs: str) -> Node:
    return Node(name, getattr(function, "raw", function), tuple(inputs.items()), assumption)


def _zero() -> Column:
    return np.zeros(1)


def _same(value: Column) -> Column:
    return value


def _half(value: Column) -> Column:
    return value * 0.5


def _difference(now: Column, then: Column) -> Column:
    return now - then


def _sum(*values: Column) -> Column:
    total = values[0]
    for value in values[1:]:
        total = total + value
    return total


def _least(*values: Column) -> Column:
    return functools.reduce(np.minimum, values)


def _greatest(*values: Column) -> Column:
    return functools.reduce(np.maximum, values)


def _many(name: str, function: Callable[..., Any], inputs: Iterable[str]) -> Node:
    """A node whose function takes its inputs by position, as many as there are."""
    named = tuple((f"_{index}", path) for index, path in enumerate(inputs))
    return Node(name, lambda **columns: function(*columns.values()), named)


# --- the nodes -------------------------------------------------------------------------------------------------------

_ROD = Assumption(
    "rod not given: 2.15 × stroke ± 0.15 × stroke",
    lambda value, stroke: (value - 0.15 * stroke, value + 0.15 * stroke),
)


_SAME_ROD = Assumption("rod under the deck reading not given: taken as the one fitted now")


def _default_rod(stroke: Column) -> Column:
    return 2.15 * stroke


def _crown_nodes(piston: str, shape: str | None) -> list[Node]:
    """A crown's shape in the terms of `crown.py`; `piston` is ``piston`` or ``deck.piston``."""
    at = f"{piston}.crown"
    nodes = [
        _node(f"{at}.curvature", crown.cap_curvature, cap_height=f"{at}.cap_height", cap_radius=f"{at}.cap_radius"),
        _node(f"{piston}.diameter", _same, Assumption("piston diameter not given: taken as the bore"), value="cylinder.bore"),
        _node(f"{at}.radius", _half, value=f"{piston}.diameter"),
    ]
    own = f"{at}.radius"
    if shape is None:
        # the path that is missing, whatever of the crown is asked for
        nodes += [_node(f"{at}.{what}", _same, value=at) for what in ("cap_height", "cap_radius", "slope", "centre_rise")]
    elif shape == "sphere":
        nodes += [
            _node(f"{at}.cap_height", _same, value=f"{at}.rise"),
            _node(f"{at}.cap_radius", _same, value=own),
            _node(f"{at}.slope", _zero),
            _node(f"{at}.centre_rise", _same, value=f"{at}.rise"),
        ]
    elif shape == "cone":
        nodes += [
            _node(f"{at}.cap_height", _zero),
            _node(f"{at}.cap_radius", _same, value=own),
            _node(f"{at}.slope", lambda rise, radius: rise / radius, rise=f"{at}.rise", radius=own),
            _node(f"{at}.centre_rise", _same, value=f"{at}.rise"),
        ]
    elif shape == "dish":
        nodes += [
            _node(f"{at}.cap_height", _minus, value=f"{at}.depth"),
            _node(f"{at}.cap_radius", _half, value=f"{at}.diameter"),
            _node(f"{at}.slope", _zero),
            _node(f"{at}.centre_rise", _minus, value=f"{at}.depth"),
        ]
    elif shape == "measured":
        straight = Assumption("shape of the measured crown not known: taken as straight at its edge slope across the band")
        nodes += [
            _node(f"{at}.cap_height", _zero, straight),
            _node(f"{at}.cap_radius", _same, value=own),
            _node(f"{at}.slope", _tangent, angle=f"{at}.edge_slope"),
            _node(f"{at}.centre_rise", _same, value=f"{at}.rise"),
        ]
    else:
        nodes += [
            _node(f"{at}.cap_height", _zero),
            _node(f"{at}.cap_radius", _same, value=own),
            _node(f"{at}.slope", _zero),
            _node(f"{at}.centre_rise", _zero),
        ]
    return nodes


def _minus(value: Column) -> Column:
    return -value


def _tangent(angle: Column) -> Column:
    return np.tan(angle)


def _crown_inputs(piston: str = "piston") -> dict[str, str]:
    at = f"{piston}.crown"
    return {
        "cap_height": f"{at}.cap_height",
        "cap_radius": f"{at}.cap_radius",
        "edge_slope": f"{at}.slope",
        "crown_radius": f"{at}.radius",
        "curvature": f"{at}.curvature",
    }


def _gasket_nodes(structure: Structure, stack: str, whole: str) -> list[Node]:
    """The sum of one role's fitted gaskets; each fitted thickness from the nominal where it was not measured."""
    count = structure.choice(stack)
    if count is None:
        return []
    nodes = []
    for index in range(int(count)):
        at = f"{stack}.{index}"
        crush = structure.choice(at) or "unknown"
        nodes.append(_node(f"{at}.fitted_thickness", _same, CRUSH[crush], value=f"{at}.thickness"))
    fitted = [f"{stack}.{index}.fitted_thickness" for index in range(int(count))]
    nodes.append(_many(whole, _sum, fitted) if fitted else _node(whole, _zero))
    return nodes


#: What a fitted thickness is taken as when only the nominal is known (docs/sources.md); by class of material.
CRUSH: dict[str, Assumption] = {
    "metal": Assumption("fitted thickness not measured: metal, nominal ± 0.02 mm", lambda value, **_: (value - 2e-5, value + 2e-5)),
    "fibre": Assumption("fitted thickness not measured: fibre, nominal +0/-17 %", lambda value, **_: (0.83 * value, value)),
    "unknown": Assumption(
        "fitted thickness not measured and material not given: nominal +0.02 mm/-17 %, at least -0.02 mm",
        lambda value, **_: (np.minimum(0.83 * value, value - 2e-5), value + 2e-5),
    ),
}


def _deck_nodes(structure: Structure) -> list[Node]:
    """Deck clearance from a reading, moved to what is fitted now."""
    nodes = [
        _node(
            "deck_clearance",
            lambda reading, rise, base, height, reach, compression: reading + rise + base + height - reach - compression,
            reading="deck.clearance",
            rise="deck.rise",
            base="deck.base_change",
            height="deck.height_change",
            reach="deck.reach_change",
            compression="deck.compression_change",
        )
    ]
    at = structure.choice("deck.at") or "edge"
    piston = "deck.piston" if structure.choice("deck.piston") else "piston"
    if at == "edge":
        nodes.append(_node("deck.rise", _zero))
    elif at == "centre":
        nodes.append(_node("deck.rise", _same, value=f"{piston}.crown.centre_rise"))
    else:
        nodes.append(_node("deck.rise", crown.crown_rise, radius="deck.at", **_crown_inputs(piston)))
    if piston == "deck.piston":
        nodes += _crown_nodes("deck.piston", structure.choice("deck.piston.crown"))
    same_stack = Assumption("base stack under the deck reading not given: taken as the stack now fitted")
    nodes += [
        _node("deck.base_change", _difference, now="base.thickness", then="deck.base_thickness"),
        _node("deck.base_change", _zero, Assumption("base stack not given: taken as it was under the deck reading")),
        _node("deck.base_thickness", _same, same_stack, value="base.thickness"),
    ]
    heights, reach, compression = [], [], []
    if structure.choice("deck.cylinder"):
        heights.append(("cylinder.height", "deck.cylinder.height"))
    if structure.choice("deck.crank"):
        heights.append(("crank.seat_height", "deck.crank.seat_height"))
    if structure.choice("deck.crank") or piston == "deck.piston":
        reach.append(("crank.reach", "deck.reach"))
    if piston == "deck.piston":
        compression.append(("piston.compression_height", "deck.piston.compression_height"))
    for name, pairs in (("deck.height_change", heights), ("deck.reach_change", reach), ("deck.compression_change", compression)):
        kept = [pair for pair in pairs if f"same:{pair[0]}" not in structure.tags]
        unsaid = [pair[0] for pair in pairs if f"same:{pair[0]}" in structure.tags and f"unsaid:{pair[0]}" in structure.tags]
        for now, then in kept:
            nodes.append(_node(f"{now}-change", _difference, now=now, then=then))
        for path in unsaid:
            why = f"{path.replace('.', ' ').replace('_', ' ')} not given: taken as it was under the deck reading"
            nodes.append(_node(f"{path}-change", _zero, Assumption(why)))
        parts = [f"{now}-change" for now, _ in kept] + [f"{path}-change" for path in unsaid]
        nodes.append(_many(name, _sum, parts) if parts else _node(name, _zero))
    crank = "deck.crank" if structure.choice("deck.crank") else "crank"
    pin = f"{piston}.pin_offset"
    nodes += [
        # of two unknown rods the likeliest is that they are one: then only the throw moves the deck
        _node("deck.crank.rod_length", _same, _SAME_ROD, value="crank.rod_length")
        if "same:crank.rod_length" in structure.tags
        else _node("deck.crank.rod_length", _default_rod, _ROD, stroke="deck.crank.stroke"),
        _node("deck.throw", slider_crank.throw_from_stroke, stroke=f"{crank}.stroke"),
        _many("deck.offset", _sum, (f"{crank}.offset", pin)),
        _node("deck.reach", slider_crank.pin_height_at_tdc, throw="deck.throw", rod_length=f"{crank}.rod_length", offset="deck.offset"),
    ]
    return nodes


def _volume_nodes(structure: Structure) -> list[Node]:
    heads = structure.choice("head_gaskets")
    count = int(heads) if heads is not None else None
    openings = [f"head_gaskets.{index}.opening" for index in range(count or 0)] or ["head_gaskets.0.opening"]
    bore_opening = Assumption("head gasket opening not given: taken as the bore")
    nodes = [_node(path, _same, bore_opening, value="cylinder.bore") for path in openings]
    nodes += [_node(f"{path}_area", volumes.circle_area, diameter=path) for path in openings]
    if count == 0 and "head_gasket.thickness" not in structure.given:
        nodes += [_node("head_gasket.volume", _zero), _node("head_gasket.opening_area", _same, value="cylinder.bore_area")]
    elif count is None or count == 1 or "head_gasket.thickness" in structure.given:
        area = f"{openings[0]}_area"
        nodes += [
            _node("head_gasket.volume", _product, area=area, thickness="head_gasket.thickness"),
            _node("head_gasket.opening_area", _same, value=area),
        ]
    else:
        fitted = [f"head_gaskets.{index}.fitted_thickness" for index in range(count)]
        pairs = [path for area, thickness in zip(openings, fitted, strict=True) for path in (f"{area}_area", thickness)]
        nodes += [
            _many("head_gasket.volume", _sum_of_products, pairs),
            _node("head_gasket.opening_area", _quotient, volume="head_gasket.volume", thickness="head_gasket.thickness"),
        ]
    kind = structure.choice("head")
    bore_recess = Assumption("recess diameter not given: taken as the bore")
    nodes.append(_node("head.recess_diameter", _same, bore_recess, value="cylinder.bore"))
    bore_area = "cylinder.bore_area"
    nodes += [
        _node("head.recess_area", _same, value=bore_area)
        if kind == "spigot"
        else _node("head.recess_area", volumes.circle_area, diameter="head.recess_diameter"),
        _node("head.spigot_area", volumes.circle_area, diameter="head.spigot_diameter")
        if kind == "spigot"
        else _node("head.spigot_area", _same, value=bore_area),
        _node("head.radius", _half, value="head.spigot_diameter" if kind == "spigot" else "head.recess_diameter"),
        _node("piston.area", volumes.circle_area, diameter="piston.diameter"),
        _node(
            "free_volume",
            volumes.free_volume,
            deck_clearance="deck_clearance",
            recess_offset="head.recess_offset",
            gasket_volume="head_gasket.volume",
            bore_area=bore_area,
            piston_area="piston.area",
            recess_area="head.recess_area",
            spigot_area="head.spigot_area",
        ),
    ]
    shape = structure.choice("piston.crown")
    whole = _crown_inputs()
    if shape in ("sphere", "dish"):  # the cap alone, whole
        cap = {name: whole[name] for name in ("cap_height", "cap_radius")}
        nodes.append(_node("crown.shape_volume", crown.spherical_cap_volume, **cap))
    else:
        nodes.append(_node("crown.shape_volume", crown.crown_volume_within, radius="piston.crown.radius", **whole))
    if shape == "measured":
        nodes.append(_node("crown_volume", _same, value="piston.crown.volume"))
    elif shape == "flat":
        nodes.append(_node("crown_volume", _zero))
    else:
        nodes.append(_node("crown_volume", _same, value="crown.shape_volume"))
    if structure.choice("head.volume_datum") == "face":
        nodes.append(
            _node(
                "head.band_volume",
                volumes.band_volume_from_face_volume,
                face_volume="head.chamber_volume",
                recess_area="head.recess_area",
                recess_offset="head.recess_offset",
            )
        )
    else:
        nodes.append(_node("head.band_volume", _same, value="head.chamber_volume"))
    if "assembled.volume" in structure.given:
        stack_then = "stack under the assembled reading not given: taken as the stack now fitted"
        nodes += [
            _node("assembled.base_thickness", _same, Assumption(f"base {stack_then}"), value="base.thickness"),
            _node("assembled.base_change", _difference, now="base.thickness", then="assembled.base_thickness"),
            _node("assembled.base_change", _zero, Assumption("base stack not given: taken as it was under the assembled reading")),
            _node("assembled.head_thickness", _same, Assumption(f"head gasket {stack_then}"), value="head_gasket.thickness"),
            _node("assembled.head_change", _difference, now="head_gasket.thickness", then="assembled.head_thickness"),
            _node("assembled.head_change", _zero, Assumption("head gaskets not given: taken as they were under the assembled reading")),
            _node("assembled.base_volume", _product, area=bore_area, thickness="assembled.base_change"),
            # written as the whole difference so that it is exactly 0 where nothing changed
            _node("assembled.head_volume", _product, area="head_gasket.opening_area", thickness="assembled.head_change"),
            _many("clearance_volume.bare", _sum, ("assembled.volume", "assembled.base_volume", "assembled.head_volume")),
        ]
    else:
        nodes.append(
            _node(
                "clearance_volume.bare",
                volumes.clearance_volume,
                chamber_volume="head.band_volume",
                free_volume="free_volume",
                crown_volume="crown_volume",
            )
        )
    nodes.append(
        _node("crevice_volume", volumes.crevice_volume, bore_area=bore_area, piston_area="piston.area", top_land="piston.top_land")
    )
    if structure.choice("crevice") == "included":
        nodes.append(_many("clearance_volume", _sum, ("clearance_volume.bare", "crevice_volume")))
    else:
        nodes.append(_node("clearance_volume", _same, value="clearance_volume.bare"))
    return nodes


def _product(area: Column, thickness: Column) -> Column:
    return area * thickness


def _quotient(volume: Column, thickness: Column) -> Column:
    return volume / thickness


def _sum_of_products(*pairs: Column) -> Column:
    return _sum(*[first * second for first, second in zip(pairs[::2], pairs[1::2], strict=True)])


def _port_nodes(structure: Structure) -> list[Node]:
    nodes: list[Node] = []
    every: list[str] = []
    for kind in ("exhaust", "transfer"):
        tops = sorted(
            tag.split(":")[0] + ".top" for tag in structure.tags if tag.startswith("cylinder.ports.") and tag.endswith(f":{kind}")
        )
        every += tops
        # of several ports of a kind the highest counts: the least distance below the deck
        nodes.append(_many(f"{kind}.top", _least, tops or [f"cylinder.ports ({kind}).top"]))
        nodes += [
            _node(f"{kind}.drop", ports.port_drop, port_top=f"{kind}.top", deck_clearance="deck_clearance"),
            _node(f"{kind}.angles", slider_crank.crank_angles_from_drop, drop=f"{kind}.drop", **_CRANK),
            _node(f"{kind}_opens", _first, pair=f"{kind}.angles"),
            _node(f"{kind}_closes", _second, pair=f"{kind}.angles"),
            _node(f"{kind}_duration", ports.port_duration, opens=f"{kind}_opens", closes=f"{kind}_closes"),
        ]
    if every:
        nodes += [_many("ports.least_top", _least, every), _many("ports.greatest_top", _greatest, every)]
    nodes.append(_node("blowdown", ports.blowdown, exhaust_opens="exhaust_opens", transfer_opens="transfer_opens"))
    return nodes


def _first(pair: tuple[Column, ...]) -> Column:
    return pair[0]


def _second(pair: tuple[Column, ...]) -> Column:
    return pair[1]


_CRANK = {"throw": "crank.throw", "rod_length": "crank.rod_length", "offset": "crank.axis_offset"}
_BAND = {"band_radius": "head.band.radius", "band_slope": "head.band.slope"}


def _fixed_nodes() -> list[Node]:
    """The nodes that are the same for every structure."""
    shape = _crown_inputs()
    over = {"inner_radius": "head.band.inner_radius", "outer_radius": "head.band.outer_radius"}
    return [
        _node("crank.rod_length", _default_rod, _ROD, stroke="crank.stroke"),
        _node("crank.throw", slider_crank.throw_from_stroke, stroke="crank.stroke"),
        _many("crank.axis_offset", _sum, ("crank.offset", "piston.pin_offset")),
        _node("crank.reach", slider_crank.pin_height_at_tdc, **_CRANK),
        _node("piston_travel", slider_crank.piston_travel, **_CRANK),
        _node("mean_piston_speed", slider_crank.mean_piston_speed, piston_travel="piston_travel", crank_speed="running.crank_speed"),
        _node("tdc_acceleration", slider_crank.tdc_acceleration, crank_speed="running.crank_speed", **_CRANK),
        _node("cylinder.bore_area", volumes.circle_area, diameter="cylinder.bore"),
        _node("swept_volume", volumes.swept_volume, bore_area="cylinder.bore_area", piston_travel="piston_travel"),
        _node("head.band.radius", _half, value="head.band.outer_diameter"),
        _node("head.band.slope", _tangent, angle="head.band.angle"),
        _node("head.band.inner_radius", _half, value="head.band.inner_diameter"),
        _node("head.band.outer_radius", squish.band_outer_radius, outer_diameter="head.band.outer_diameter", bore="cylinder.bore"),
        _node(
            "squish_edge",
            squish.squish_edge,
            deck_clearance="deck_clearance",
            head_thickness="head_gasket.thickness",
            recess_offset="head.recess_offset",
        ),
        _many("face_gap", _sum, ("deck_clearance", "head_gasket.thickness")),
        _node("squish_inner", squish.squish_gap, radius="head.band.inner_radius", squish_edge="squish_edge", **_BAND, **shape),
        _node(
            "squish.on_crown",
            squish.squish_least_on_crown,
            squish_edge="squish_edge",
            squish_inner="squish_inner",
            inner_radius="head.band.inner_radius",
            **_BAND,
            **shape,
        ),
        _node(
            "squish_min",
            squish.squish_min,
            least_on_crown="squish.on_crown",
            squish_edge="squish_edge",
            outer_radius="head.band.outer_radius",
            crown_radius="piston.crown.radius",
            **_BAND,
        ),
        # the crown's volume inside the band, in it, and beyond it
        _node("crown.inner_volume", crown.crown_volume_within, radius="head.band.inner_radius", **shape),
        _node("crown.outer_volume", crown.crown_volume_within, radius="head.band.outer_radius", **shape),
        _node("head.band.crown_volume", _difference, now="crown.outer_volume", then="crown.inner_volume"),
        _node("crown.volume_beyond", _difference, now="crown.shape_volume", then="crown.outer_volume"),
        _node("squish_mean", squish.squish_mean, squish_edge="squish_edge", crown_volume_in_band="head.band.crown_volume", **over, **_BAND),
        _node(
            "contact_min",
            squish.contact_least,
            least_on_crown="squish.on_crown",
            squish_edge="squish_edge",
            face_gap="face_gap",
            head_radius="head.radius",
            band_radius="head.band.radius",
            **shape,
        ),
        _node("squish_area_ratio", squish.squish_area_ratio, bore_area="cylinder.bore_area", **over),
        _node(
            "outer_volume",
            squish.outer_volume,
            squish_mean="squish_mean",
            squish_edge="squish_edge",
            free_volume="free_volume",
            crown_volume_beyond="crown.volume_beyond",
            **over,
            **_BAND,
        ),
        _node(
            "squish.strength",
            squish.squish_strength,
            bore_area="cylinder.bore_area",
            inner_radius="head.band.inner_radius",
            clearance_volume="clearance_volume",
            outer_volume="outer_volume",
        ),
        _node("clearance_height", _quotient, volume="clearance_volume", thickness="cylinder.bore_area"),
        _node("squish_peak.drop", squish.squish_peak_drop, squish_inner="squish_inner", clearance_height="clearance_height", **_CRANK),
        _node(
            "squish_peak.piston_speed", slider_crank.upstroke_speed, drop="squish_peak.drop", crank_speed="running.crank_speed", **_CRANK
        ),
        _node(
            "squish_velocity.signed",
            squish.squish_velocity,
            drop="squish_peak.drop",
            squish_strength="squish.strength",
            squish_inner="squish_inner",
            clearance_volume="clearance_volume",
            bore_area="cylinder.bore_area",
            piston_speed="squish_peak.piston_speed",
        ),
        _node("squish_velocity_peak", _magnitude, value="squish_velocity.signed"),
        _node("squish_peak.angles", slider_crank.crank_angles_from_drop, drop="squish_peak.drop", **_CRANK),
        _node("squish_velocity_angle", _second, pair="squish_peak.angles"),
        _node("compression_ratio", volumes.compression_ratio, swept_volume="swept_volume", clearance_volume="clearance_volume"),
        _node(
            "trapped_compression_ratio",
            volumes.trapped_compression_ratio,
            bore_area="cylinder.bore_area",
            exhaust_drop="exhaust.drop",
            clearance_volume="clearance_volume",
        ),
    ]


def _magnitude(value: Column) -> Column:
    return np.abs(value)


# --- closing at speed ------------------------------------------------------------------------------------------------


def _within(share: float) -> Callable[..., tuple[Any, Any]]:
    """Limits of a default by a share of it on either side."""
    return lambda value, **_: (value * (1.0 - share), value * (1.0 + share))


def _between(low: float, high: float) -> Callable[..., tuple[Any, Any]]:
    """Limits of a default that is the same for every engine."""
    return lambda value, **_: (0.0 * value + low, 0.0 * value + high)


def _fixed(name: str, why: str, low: float, value: float, high: float) -> Node:
    made = np.array([value])
    return _node(name, lambda: made, Assumption(f"{why}, from memory", _between(low, high)))


def _of_bore(name: str, why: str, factor: float, share: float, power: int = 1) -> Node:
    def default(bore: Column) -> Column:
        made: Column = factor * bore
        for _ in range(power - 1):
            made = made * bore
        return made

    return _node(name, default, Assumption(f"{why} ± {100 * share:.0f} %, from memory", _within(share)), bore="cylinder.bore")


#: Wide defaults of what moves and what gives, where nothing is known (docs/closing.md). All of them are from memory.
_CLOSING_DEFAULTS: tuple[Node, ...] = (
    _of_bore("piston.assembly_mass", "not weighed: 1.05 g/cm³ × bore³", 1050.0, 0.25, 3),
    _of_bore("crank.rod_area", "shank not measured: 0.04 × bore²", 0.04, 0.30, 2),
    _fixed("crank.rod_modulus", "steel taken: 207 GPa, 200 to 212 GPa", 200e9, 207e9, 212e9),
    _fixed("crank.rod_density", "steel taken: 7850 kg/m³, 7750 to 7900 kg/m³", 7750.0, 7850.0, 7900.0),
    _node(
        "crank.rod_mass",
        lambda area, length, density: 1.5 * area * length * density,
        Assumption("rod not weighed: 1.5 × its shank ± 25 %, from memory", _within(0.25)),
        area="crank.rod_area",
        length="crank.rod_length",
        density="crank.rod_density",
    ),
    _fixed("crank.small_end.clearance", "small end not measured: 0.020 to 0.050 mm diametral", 20e-6, 35e-6, 50e-6),
    _fixed("crank.big_end.clearance", "big end not measured: 0.030 to 0.070 mm diametral", 30e-6, 50e-6, 70e-6),
    _fixed("crank.mains.clearance", "main bearings not measured: 0.020 to 0.050 mm diametral", 20e-6, 35e-6, 50e-6),
    _fixed("crank.small_end.rollers", "rollers not counted: 16, 13 to 20", 13.0, 16.0, 20.0),
    _of_bore("crank.small_end.roller_length", "rollers not measured: 0.30 × bore", 0.30, 0.25),
    _fixed("crank.big_end.rollers", "rollers not counted: 14, 11 to 17", 11.0, 14.0, 17.0),
    _of_bore("crank.big_end.roller_length", "rollers not measured: 0.22 × bore", 0.22, 0.25),
    _fixed("crank.mains.balls", "balls not counted: 8, 7 to 9", 7.0, 8.0, 9.0),
    _of_bore("crank.mains.ball_diameter", "balls not measured: 0.16 × bore", 0.16, 0.20),
    _of_bore("crank.crankpin_diameter", "crankpin not measured: 0.38 × bore", 0.38, 0.15),
    _of_bore("crank.crankpin_length", "crankpin not measured: 0.33 × bore", 0.33, 0.20),
    _fixed("crank.balance", "balance not known: 50 %, 30 to 70 %", 0.3, 0.5, 0.7),
    _node("crank.compliance", lambda stiffness: 1.0 / stiffness, stiffness="crank.stiffness"),
    # 0.02 to 0.15 mm under the 16 kN of a 54 mm bore at 12 000 rpm; of a crank twice as large in all, half
    _node(
        "crank.compliance",
        lambda bore: 2.87e-10 / bore,
        Assumption(
            "stiffness of webs and shaft not known: bending of 0.02 to 0.15 mm at 16 kN and 54 mm bore, from memory", _within(0.765)
        ),
        bore="cylinder.bore",
    ),
    _node(
        "crank.unexplained_closing",
        lambda: np.zeros(1),
        Assumption("rocking, crown growth, carbon and crank twist are not modelled: nothing is counted for them"),
    ),
)
#: The crankpin is of steel whatever the rod is of.
_STEEL = np.array([207e9])


def _closing_nodes(structure: Structure) -> list[Node]:
    rod = {"throw": "crank.throw", "rod_length": "crank.rod_length", "crank_speed": "running.crank_speed"}
    shank = {"rod_area": "crank.rod_area", "modulus": "crank.rod_modulus", "density": "crank.rod_density"}
    tapered = "crank.rod_end_area" in structure.given
    elongation = inertia.tapered_rod_elongation if tapered else inertia.rod_elongation
    if tapered:
        shank["end_area"] = "crank.rod_end_area"
    small = {
        "clearance": "crank.small_end.clearance",
        "rollers": "crank.small_end.rollers",
        "roller_length": "crank.small_end.roller_length",
    }
    big = {"clearance": "crank.big_end.clearance", "rollers": "crank.big_end.rollers", "roller_length": "crank.big_end.roller_length"}
    mains = {"clearance": "crank.mains.clearance", "balls": "crank.mains.balls", "ball_diameter": "crank.mains.ball_diameter"}
    nodes = [*_CLOSING_DEFAULTS, _node("closing.no_gas", _zero), _node("closing.steel", lambda: _STEEL)]
    for state, gas in (("closure", "closing.no_gas"), ("closure_pulling", "running.gas_pressure")):
        # the names of the throttle-shut state are outputs, those of the other stay within
        def at(part: str, state: str = state) -> str:
            return f"closure_{part}" if state == "closure" else f"closure_pulling.{part}"

        force, pin, main = f"{state}.small_force", f"{state}.big_force", f"{state}.main_force"
        nodes += [
            _node(
                force,
                inertia.small_end_force,
                assembly_mass="piston.assembly_mass",
                tdc_acceleration="tdc_acceleration",
                gas_pressure=gas,
                bore_area="cylinder.bore_area",
            ),
            _node(pin, inertia.big_end_force, force=force, rod_mass="crank.rod_mass", **rod),
            _node(
                f"{main}s",
                inertia.main_bearing_force,
                force=force,
                assembly_mass="piston.assembly_mass",
                rod_mass="crank.rod_mass",
                balance="crank.balance",
                throw="crank.throw",
                crank_speed="running.crank_speed",
            ),
            _node(main, _half, value=f"{main}s"),
            _node(at("rod"), elongation, force=force, **rod, **shank),
            _node(at("small_end"), inertia.roller_bearing_deflection, force=force, **small),
            _node(at("big_end"), inertia.roller_bearing_deflection, force=pin, **big),
            _node(at("main_bearings"), inertia.ball_bearing_deflection, force=main, **mains),
            _node(at("small_end_play"), inertia.clearance_taken_up, force=force, clearance=small["clearance"]),
            _node(at("big_end_play"), inertia.clearance_taken_up, force=pin, clearance=big["clearance"]),
            _node(at("main_bearing_play"), inertia.clearance_taken_up, force=main, clearance=mains["clearance"]),
            _node(
                at("crankpin"),
                inertia.crankpin_shear,
                force=pin,
                pin_diameter="crank.crankpin_diameter",
                pin_length="crank.crankpin_length",
                modulus="closing.steel",
            ),
            _node(at("crank"), _product, area=pin, thickness="crank.compliance"),
            _node(at("unexplained"), inertia.clearance_taken_up, force=pin, clearance="crank.unexplained_closing"),
            _many("closure_total" if state == "closure" else state, _sum, [at(part) for part in CLOSING_PARTS]),
        ]
    nodes += [
        # the least distance over the whole crown where the head is known, else over the band
        _node("running_clearance", _difference, now="contact_min", then="closure_total"),
        _node("pulling_clearance", _difference, now="contact_min", then="closure_pulling"),
        _many("closing.linear", _sum, ["closure_rod", "closure_crankpin", "closure_crank"]),
        _many("closing.play", _sum, [small["clearance"], big["clearance"], mains["clearance"], "crank.unexplained_closing"]),
        _node(
            "contact_speed",
            inertia.contact_speed,
            gap="contact_min",
            play="closing.play",
            linear="closing.linear",
            crank_speed="running.crank_speed",
            small_force="closure.small_force",
            small_clearance=small["clearance"],
            small_rollers=small["rollers"],
            small_length=small["roller_length"],
            big_force="closure.big_force",
            big_clearance=big["clearance"],
            big_rollers=big["rollers"],
            big_length=big["roller_length"],
            main_force="closure.main_force",
            main_clearance=mains["clearance"],
            balls=mains["balls"],
            ball_diameter=mains["ball_diameter"],
        ),
    ]
    return nodes


def _window_nodes(structure: Structure) -> list[Node]:
    """Areas and time-areas of the windows of each kind, summed over its ports."""
    nodes: list[Node] = []
    for kind in ("exhaust", "transfer"):
        ports_of = sorted(tag.split(":")[0] for tag in structure.tags if tag.startswith("cylinder.ports.") and tag.endswith(f":{kind}"))
        areas, angles, blown = [], [], []
        for at in ports_of or [f"cylinder.ports ({kind})"]:
            window = {"width": f"{at}.chord", "height": f"{at}.height", "corner_radius": f"{at}.corner_radius"}
            arc = structure.choice(f"{at}.width") == "arc"
            drops = {"roof_drop": f"{at}.drop", **_CRANK}
            nodes += [
                _node(f"{at}.chord", windows.chord_from_arc, arc=f"{at}.width", bore="cylinder.bore")
                if arc
                else _node(f"{at}.chord", _same, value=f"{at}.width"),
                _node(f"{at}.corner_radius", _zero, Assumption("corners of a window not given: square")),
                _node(f"{at}.drop", ports.port_drop, port_top=f"{at}.top", deck_clearance="deck_clearance"),
                _node(f"{at}.height", _difference, now=f"{at}.floor", then=f"{at}.top"),
                _node(
                    f"{at}.height",
                    _difference,
                    Assumption("floor of a window not given: taken at the crown at BDC"),
                    now="piston_travel",
                    then=f"{at}.drop",
                ),
                _node(f"{at}.uncovered", _difference, now="piston_travel", then=f"{at}.drop"),
                _node(f"{at}.area", windows.window_area, uncovered=f"{at}.uncovered", **window),
                _node(f"{at}.angles", slider_crank.crank_angles_from_drop, drop=f"{at}.drop", **_CRANK),
                _node(f"{at}.opens", _first, pair=f"{at}.angles"),
                _node(f"{at}.shuts", lambda pair: 2.0 * np.pi - pair[1], pair=f"{at}.angles"),
                _node(f"{at}.angle_area", windows.angle_area, start=f"{at}.opens", stop=f"{at}.shuts", **drops, **window),
                # until the transfers open; a port that opens after them has none
                _node(f"{at}.blown", _greatest_of, one=f"{at}.opens", other="transfer_opens"),
                _node(f"{at}.blowdown_area", windows.angle_area, start=f"{at}.opens", stop=f"{at}.blown", **drops, **window),
            ]
            areas.append(f"{at}.area")
            angles.append(f"{at}.angle_area")
            blown.append(f"{at}.blowdown_area")
        nodes += [
            _many(f"{kind}_area", _sum, areas),
            _many(f"{kind}.angle_area", _sum, angles),
            _node(f"{kind}_time_area", windows.specific_time_area, angle_area=f"{kind}.angle_area", **_PER_SWEPT),
        ]
        if kind == "exhaust":
            nodes += [
                _many("exhaust.blowdown_area", _sum, blown),
                _node("blowdown_time_area", windows.specific_time_area, angle_area="exhaust.blowdown_area", **_PER_SWEPT),
            ]
    return nodes


_PER_SWEPT = {"crank_speed": "running.crank_speed", "swept_volume": "swept_volume"}


def _greatest_of(one: Column, other: Column) -> Column:
    return np.maximum(one, other)


def _expansion(path: str, structure: Structure, otherwise: str) -> Node:
    """Mean expansion of a part by its material, or by the kind of metal that it usually is."""
    stated = structure.choice(path.replace("expansion", "material"))
    metal = thermal.MATERIALS[stated or otherwise]
    made = np.array([metal.mean])
    why = f"expansion of {metal.name}, mean over {metal.temperatures}" + ("" if stated else ", its metal not given")
    return _node(path, lambda: made, Assumption(why, _between(metal.low, metal.high)))


def _hot_nodes(structure: Structure) -> list[Node]:
    def grows(of: str, name: str, rise: str) -> dict[str, str]:
        return {f"{of}_expansion": name, f"{of}_rise": f"running.{rise}_rise"}

    bore = grows("outer", "cylinder.expansion", "cylinder")
    return [
        _expansion("crank.expansion", structure, "steel"),
        _expansion("crank.rod_expansion", structure, "steel"),
        _expansion("crank.case_expansion", structure, "aluminium"),
        _expansion("cylinder.expansion", structure, "aluminium"),
        _expansion("piston.expansion", structure, "aluminium"),
        _expansion("piston.ring_expansion", structure, "steel"),
        _expansion("head.expansion", structure, "aluminium"),
        _node(
            "hot_gap_change",
            thermal.hot_gap_change,
            seat_height="crank.seat_height",
            cylinder_height="cylinder.height",
            throw="crank.throw",
            rod_length="crank.rod_length",
            compression_height="piston.compression_height",
            **grows("case", "crank.case_expansion", "case"),
            **grows("cylinder", "cylinder.expansion", "cylinder"),
            **grows("crank", "crank.expansion", "crank"),
            **grows("rod", "crank.rod_expansion", "rod"),
            **grows("piston", "piston.expansion", "piston"),
        ),
        _many("hot_running_clearance", _sum, ("running_clearance", "hot_gap_change")),
        _node("skirt_clearance", _difference, now="cylinder.bore", then="piston.skirt_diameter"),
        _node(
            "skirt_clearance_hot",
            thermal.diametral_clearance_hot,
            outer_diameter="cylinder.bore",
            inner_diameter="piston.skirt_diameter",
            **bore,
            **grows("inner", "piston.expansion", "piston"),
        ),
        _node(
            "ring_gap_closing",
            thermal.ring_gap_closing,
            bore="cylinder.bore",
            **grows("ring", "piston.ring_expansion", "ring"),
            **grows("bore", "cylinder.expansion", "cylinder"),
        ),
        _node("ring_gap_hot", _difference, now="piston.ring_gap", then="ring_gap_closing"),
        _node("spigot_clearance", _difference, now="cylinder.bore", then="head.spigot_diameter"),
        _node(
            "spigot_clearance_hot",
            thermal.diametral_clearance_hot,
            outer_diameter="cylinder.bore",
            inner_diameter="head.spigot_diameter",
            **bore,
            **grows("inner", "head.expansion", "head"),
        ),
    ]


#: What the closing is the sum of, in the order it is shown.
CLOSING_PARTS: tuple[str, ...] = (
    "rod",
    "small_end",
    "big_end",
    "main_bearings",
    "crankpin",
    "crank",
    "small_end_play",
    "big_end_play",
    "main_bearing_play",
    "unexplained",
)


_STACKED = (
    "crank.seat_height",
    "base.thickness",
    "cylinder.height",
    "crank.reach",
    "piston.compression_height",
)


def _stacked_deck(seat: Column, base: Column, height: Column, reach: Column, compression: Column) -> Column:
    return seat + base + height - reach - compression


@functools.lru_cache(maxsize=512)
def _nodes(structure: Structure) -> dict[str, tuple[Node, ...]]:
    made = _fixed_nodes()
    made += _crown_nodes("piston", structure.choice("piston.crown"))
    made += _gasket_nodes(structure, "base_gaskets", "base.thickness")
    made += _gasket_nodes(structure, "head_gaskets", "head_gasket.thickness")
    if "deck.clearance" in structure.given or not set(_STACKED) - {"crank.reach"} <= structure.given | _summed(structure):
        made += _deck_nodes(structure)
        if "deck.base_thickness" in structure.given:
            why = "base stack not given: taken as it was under the deck reading"
            made.append(_node("base.thickness", _same, Assumption(why), value="deck.base_thickness"))
    else:
        named = zip(("seat", "base", "height", "reach", "compression"), _STACKED, strict=True)
        made.append(_node("deck_clearance", _stacked_deck, **dict(named)))
    made += _volume_nodes(structure)
    made += _port_nodes(structure)
    made += _closing_nodes(structure)
    made += _hot_nodes(structure)
    made += _window_nodes(structure)
    table: dict[str, list[Node]] = {}
    for node in made:
        table.setdefault(node.name, []).append(node)
    return {name: tuple(nodes) for name, nodes in table.items()}


def _summed(structure: Structure) -> frozenset[str]:
    return frozenset({"base.thickness"} if structure.choice("base_gaskets") is not None else ())


# --- planning --------------------------------------------------------------------------------------------------------


@functools.lru_cache(maxsize=4096)
def plan(structure: Structure, wanted: tuple[str, ...]) -> Plan:
    """The plan for `wanted` names under `structure`: what can be had is in `steps`, the rest in `missing`.

    >>> both = plan(Structure(frozenset({"crank.stroke"}), frozenset()), ("crank.throw", "swept_volume"))
    >>> [step.name for step in both.steps], both.missing["swept_volume"].needs
    (['crank.throw'], ('cylinder.bore', 'crank.offset', 'piston.pin_offset'))
    """
    table = _nodes(structure)
    found: dict[str, list[Node] | tuple[str, ...]] = {}

    def way(name: str, open_names: frozenset[str]) -> list[Node] | tuple[str, ...]:
        """Steps to `name`, or the paths that are missing for it."""
        if name in structure.given:
            return []
        if name in found:
            return found[name]
        if name in open_names:
            return (name,)
        best: tuple[str, ...] | None = None
        for node in table.get(name, ()):
            steps: list[Node] = []
            missing: list[str] = []
            for taken in node.takes:
                part = way(taken, open_names | {name})
                if isinstance(part, tuple):
                    missing += part
                else:
                    steps += part
            if not missing:
                found[name] = [*steps, node]
                return found[name]
            lacking = tuple(dict.fromkeys(missing))
            if best is None or len(lacking) < len(best):
                best = lacking
        answer = best if best is not None else (name,)
        if not open_names:
            found[name] = answer
        return answer

    steps: dict[str, Node] = {}
    missing: dict[str, Missing] = {}
    for name in wanted:
        part = way(name, frozenset())
        if isinstance(part, tuple):
            missing[name] = Missing(name, part)
        else:
            for node in part:
                steps.setdefault(node.name, node)
    return Plan(wanted, tuple(steps.values()), missing)


def run(planned: Plan, columns: Mapping[str, Column]) -> dict[str, Any]:
    """Values of every step of `planned` by name, beside the columns given: arrays that broadcast with them.

    A step whose value is among `columns` already is not run again.
    """
    values: dict[str, Any] = dict(columns)
    with np.errstate(all="ignore"):
        for step in planned.steps:
            if step.name in values:
                continue
            values[step.name] = step.function(**{argument: values[name] for argument, name in step.inputs})
    return values


def record(
    planned: Plan, wanted: Iterable[str], judged: tuple[Check, ...], columns: Mapping[str, Column]
) -> tuple[Program, tuple[Check, ...]]:
    """The `wanted` values of `planned` and the checks `judged`, recorded for blocks of the columns with more than one row.

    Columns of one row are worked in as they are. Results go by the wanted names, and ``check:0``, ``check:1``, ... for the
    checks that are given back: those that do not vary and do not apply are done with.
    """
    tape = Tape()
    varied = {path: tape.column() for path, column in columns.items() if len(column) != 1}
    values: dict[str, Any] = {path: varied.get(path, column) for path, column in columns.items()}
    with np.errstate(all="ignore"):
        for step in planned.steps:
            if step.name not in values:
                values[step.name] = step.function(**{argument: values[name] for argument, name in step.inputs})
        results = {name: values[name] for name in wanted}
    found = [(check, mask) for check, mask in zip(judged, masks(judged, values), strict=True) if isinstance(mask, Recorded) or mask.any()]
    results |= {f"check:{index}": mask for index, (_, mask) in enumerate(found)}
    return Program(tape, varied, results), tuple(check for check, _ in found)


# --- what cannot be assembled ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Check:
    """One reason for which a row is no top end: judged when all of `takes` are known; True where it applies."""

    reason: str
    takes: tuple[str, ...]
    applies: Callable[..., Any]
    tag: str | None = None


_SIZES = (
    "crank.stroke",
    "crank.rod_length",
    "cylinder.bore",
    "piston.diameter",
    "head.spigot_diameter",
    "head.recess_diameter",
    "head.band.outer_diameter",
    "head.band.inner_diameter",
    "head.chamber_volume",
    "assembled.volume",
    "running.crank_speed",
)

#: A length [m] that is none: sums of decimals that should be zero come out as about 1e-17.
NOTHING: float = 1e-12

#: Sizes that are judged only where they are stated: elsewhere nothing is worked out for them.
_STATED_SIZES = (
    "piston.assembly_mass",
    "crank.rod_area",
    "crank.rod_end_area",
    "crank.rod_mass",
    "crank.rod_modulus",
    "crank.rod_density",
    "crank.crankpin_diameter",
    "crank.crankpin_length",
    "crank.stiffness",
    "crank.small_end.rollers",
    "crank.small_end.roller_length",
    "crank.big_end.rollers",
    "crank.big_end.roller_length",
    "crank.mains.balls",
    "crank.mains.ball_diameter",
)

#: What parts have checked at the door, and columns have not.
SIZES: tuple[Check, ...] = (
    *(Check("not_a_size", (path,), lambda size: ~(size > 0.0)) for path in _SIZES),
    Check("not_a_size", ("base.thickness",), lambda size: ~(size >= 0.0)),
    Check("not_a_size", ("head_gasket.thickness",), lambda size: ~(size >= 0.0)),
    Check("not_a_size", ("head.band.angle",), lambda angle: ~(np.abs(angle) < np.radians(80.5))),
    Check("not_a_size", ("deck_clearance",), lambda value: ~np.isfinite(value)),
)
#: What collides, for parts and columns alike.
COLLISIONS: tuple[Check, ...] = (
    Check(
        "rod_too_short",
        ("crank.throw", "crank.rod_length", "crank.axis_offset"),
        lambda throw, rod, offset: ~(rod > throw + np.abs(offset)),
    ),
    Check("piston_wider_than_bore", ("piston.diameter", "cylinder.bore"), lambda piston, bore: piston > bore),
    Check("spigot_wider_than_bore", ("head.spigot_diameter", "cylinder.bore"), lambda spigot, bore: spigot > bore),
    Check("band_wider_than_head", ("head.band.outer_diameter", "head.spigot_diameter"), lambda band, head: band > head),
    Check(
        "band_wider_than_head", ("head.band.outer_diameter", "head.recess_diameter"), lambda band, head: band > head, "head.recess:stated"
    ),
    Check("band_inside_out", ("head.band.inner_diameter", "head.band.outer_diameter"), lambda inner, outer: ~(inner < outer)),
    Check("band_inside_out", ("head.band.inner_diameter", "cylinder.bore"), lambda inner, bore: ~(inner < bore)),
    Check("offset_against_kind", ("head.recess_offset",), lambda offset: offset > 0.0, "head:spigot"),
    Check("offset_against_kind", ("head.recess_offset",), lambda offset: offset < 0.0, "head:flush"),
    Check(
        "crown_beyond_hemisphere", ("piston.crown.cap_height", "piston.crown.cap_radius"), lambda height, radius: np.abs(height) > radius
    ),
    Check("crown_beyond_hemisphere", ("piston.crown.cap_radius", "piston.crown.radius"), lambda cap, crown: cap > crown),
    Check("contact", ("squish_edge",), lambda gap: ~(gap > NOTHING)),
    Check("contact", ("squish_min",), lambda gap: ~(gap > NOTHING)),
    Check("contact", ("contact_min",), lambda gap: ~(gap > NOTHING)),
    Check("port_above_crown", ("ports.least_top", "deck_clearance"), lambda top, deck: ~(top - deck > NOTHING)),
    Check(
        "port_never_opens",
        ("ports.greatest_top", "deck_clearance", "piston_travel"),
        lambda top, deck, travel: ~(travel - (top - deck) > NOTHING),
    ),
    Check("no_clearance_volume", ("clearance_volume",), lambda volume: ~(volume > 0.0)),
)


def _opening_checks(structure: Structure) -> list[Check]:
    paths = sorted(path for path in structure.given if path.startswith("head_gaskets.") and path.endswith(".opening"))
    return [Check("opening_inside_bore", (path, "cylinder.bore"), lambda opening, bore: opening < bore) for path in paths]


@functools.lru_cache(maxsize=1024)
def checks(structure: Structure, sizes: bool) -> tuple[tuple[Check, ...], Plan]:
    """The checks that can be judged under `structure`, and the plan for what they take; `sizes` as well, or not."""
    stated = [Check("not_a_size", (path,), lambda size: ~(size > 0.0)) for path in _STATED_SIZES if path in structure.given]
    possible = [*((*SIZES, *stated) if sizes else ()), *COLLISIONS, *_opening_checks(structure)]
    judged = tuple(
        check for check in possible if (check.tag is None or check.tag in structure.tags) and not plan(structure, check.takes).missing
    )
    names = tuple(dict.fromkeys(name for check in judged for name in check.takes))
    return judged, plan(structure, names)


def masks(judged: tuple[Check, ...], values: Mapping[str, Any]) -> list[Any]:
    """For each of `judged`, where it applies; `values` must hold what the plan of `checks` gives."""
    with np.errstate(all="ignore"):
        return [check.applies(*[values[name] for name in check.takes]) for check in judged]


def status(judged: tuple[Check, ...], where: Iterable[Any], codes: Mapping[str, int]) -> Any:
    """Status code of each row (int8): the least in `codes` (reason to number) of the checks that apply `where`, 0 for none.

    Of shape (1,) where no row has a status.
    """
    code: Any = np.zeros(1, dtype=np.int8)
    for check, bad in zip(judged, where, strict=True):
        if bad.any():
            own = np.int8(codes[check.reason])
            code = np.where(bad & ((code == 0) | (code > own)), own, code)
    return code
