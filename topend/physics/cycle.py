"""The closed cycle, from exhaust closing to exhaust opening: two zones, marched by a fourth-order scheme of fixed steps.

The charge is one zone until it burns. What has burned is a second zone at the same pressure: the flame moves mass from the first to
the second by Wiebe's law, and the first, the end gas, is only pressed, cooled and leaked from. For a zone of mass m, gas constant
R, heat capacity c, k = R/c and heat loss q per crank angle, with p V = Σ m R T:

    p' Σ V_i (1 - k_i) = -p V' + R_b T_b m_b' + R_u T_u m_u' + k_b (h_u - h_b) x' - Σ k_i q_i,
    m_i c_i T_i' = V_i p' - q_i (+ (h_u - h_b) x' in the burned zone).

Wiebe's law is marched as its own rate, a (n + 1) yⁿ of what is unburned, so that it holds beside leak and crevice. Surface is that of
a disc of the cylinder's volume and bore, shared between the zones by volume. Gas leaves past the rings through an orifice; a crevice holds
unburned gas at the wall's temperature, and gives it back unburned. It fills with the pressure from the end gas, as long as there is any:
burned gas that follows it in comes out with it, and is not counted. What comes back to next to no end gas has that one's temperature, the
heat for it from the wall: else the march would have to follow a mixing far quicker than its steps.

Start and end of the burn lie on the edges of steps, so steps differ a little from row to row. A row comes out the same whatever
others are in its block. `STEPS` are those of one degree or so.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from topend.physics import gas, heat_loss, knock, leak, slider_crank
from topend.physics.gas import Gas
from topend.physics.kernel import choose, kernel, only
from topend.physics.tape import Program, Tape, block_length, whole

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from topend.physics.kernel import Column

__all__ = [
    "BLOCK",
    "INPUTS",
    "MOTORED_STEPS",
    "RESULTS",
    "STEPS",
    "Segment",
    "burned_fraction",
    "closed_cycle",
    "cranking_pressure",
    "march",
    "step_error",
]

#: Steps before, while and after the charge burns: a degree each on the mean of all 176, closer where it burns, where most of the error is
#: from. Of burns that begin after TDC it is from before: the compression's peak, and the turn of the crevice's flow.
STEPS: Final = (36, 104, 36)
#: Steps to TDC where nothing burns.
MOTORED_STEPS: Final = 60
#: Rows marched at a time: what a core's cache holds of the columns that a step works with (measured; benchmarks/cycle.py).
BLOCK: Final = 12_288
#: Share of the charge under which the end gas is next to none: it trades with the crevice by what there is of it.
SCARCE: Final = 5e-3


@kernel
def burned_fraction(*, progress: Column, form: Column, completeness: Column) -> Column:
    """Share of the charge that has burned [-], by Wiebe: 1 - exp(-a y^(n + 1)).

    Parameters: `progress` y, share of the burn's duration that is past, from 0 to 1 (NaN below 0; on beyond 1); `form` n, 0 or more;
    `completeness` a, more than 0. Source: Ferguson and Kirkpatrick, Internal Combustion Engines, equation 2.70 (seen).

    >>> round(float(burned_fraction(progress=0.5, form=2.0, completeness=5.0)), 10)
    0.4647385715
    """
    return only(-np.expm1(-completeness * np.power(progress, form + 1.0)), progress >= 0.0)


# --- the march --------------------------------------------------------------------------------------------------------

#: What `march` takes of each row, in this order: arrays of one length, or of one value.
INPUTS: Final = (
    *("throw", "rod_length", "offset", "bore_area", "clearance_volume", "closes", "opens", "ignites", "duration", "form", "completeness"),
    *("pressure", "temperature", "wall_temperature", "crank_speed", "piston_speed", "heat_factor", "leak_area", "crankcase_pressure"),
    *("crevice_volume", "octane"),
    *(f"unburned_{name}" for name in Gas._fields),
    *(f"burned_{name}" for name in Gas._fields),
)
#: What it gives of each row, in this order.
RESULTS: Final = (
    *("peak_pressure", "peak_angle", "work", "heat_loss", "knock_integral", "end_gas_temperature", "tdc_pressure", "opening_pressure"),
    *("opening_temperature", "burned_mass_fraction", "trapped_mass"),
)

_ONE: Final = np.ones(1)


class Segment(NamedTuple):
    """One stretch of the march by its nodes: angle of the first node and step (n,), and by name arrays of shape (nodes, n)."""

    start: NDArray[np.float64]
    step: NDArray[np.float64]
    nodes: dict[str, NDArray[np.float64]]


def _gas_of(values: Mapping[str, Any], zone: str) -> Gas:
    return Gas(*(values[f"{zone}_{name}"] for name in Gas._fields))


def _geometry(values: Mapping[str, Any], sine: Any, cosine: Any) -> tuple[Any, Any]:
    """Volume [m³], and its slope over the crank angle."""
    drop, slope = slider_crank.drop_and_slope(values["throw"], values["rod_length"], values["offset"], values["reach"], sine, cosine)
    return values["clearance_volume"] + values["bore_area"] * drop, values["bore_area"] * slope


def _annand(values: Mapping[str, Any], mass: Any, temperature: Any, pressure: Any, volume: Any) -> Any:
    # the speed over the volume in the place of the speed: ρ v = m (v/V)
    return heat_loss.annand_coefficient.raw(
        density=mass, temperature=temperature, speed=values["piston_speed"] / volume, bore=values["bore"], factor=values["heat_factor"]
    )


def _woschni(values: Mapping[str, Any], mass: Any, temperature: Any, pressure: Any, volume: Any) -> Any:
    # 2.28 S_p, and once it burns 3.24e-3 V_d T_r/(p_r V_r) (p - p_motored), with reference r at exhaust closing (Woschni 1967; from memory)
    speed = 2.28 * values["piston_speed"]
    if values["kindled"]:
        motored = values["pressure"] * np.exp(1.35 * np.log(values["first_volume"] / volume))
        speed = speed + values["woschni"] * np.maximum(pressure - motored, 0.0)
    return (
        heat_loss.woschni_coefficient.raw(pressure=pressure, temperature=temperature, speed=speed, bore=values["bore"])
        * values["heat_factor"]
    )


_HEAT: Final[dict[str, Callable[..., Any]]] = {"annand": _annand, "woschni": _woschni}


class _Zone(NamedTuple):
    """A zone of the charge: its gas, temperature and mass, R T, heat capacity c, and k = R/c."""

    gas: Gas
    temperature: Any
    mass: Any
    energy: Any
    capacity: Any
    k: Any

    @classmethod
    def of(cls, mixed: Gas, temperature: Any, mass: Any) -> _Zone:
        energy, capacity = mixed.constant * temperature, gas.specific_heat(mixed, temperature)
        return cls(mixed, temperature, mass, energy, capacity, mixed.constant / capacity)


def _rates(values: Mapping[str, Any], state: Mapping[str, Any], volume: Any, slope: Any, rate: Any) -> tuple[dict[str, Any], Any, Any]:
    """Slopes of the states over crank angle, pressure, and its slope. `rate` is that of the burn, None without one.

    `values["zones"]` is 1 before the burn and 2 from its start on; in its first step, `values["kindling"]`, the burned gas is too
    little to divide by.
    """
    u = _Zone.of(values["unburned"], state["tu"], state["mu"])
    b = _Zone.of(values["burned"], state["tb"], state["mb"]) if values["zones"] == 2 else None
    share: Any = None
    total = u.mass * u.energy
    if b is None:
        mass, mean, vu, vb = u.mass, u.temperature, volume, None
    else:
        own, total = total, total + b.mass * b.energy
        share = own / total
        mass = u.mass + b.mass
        mean = (u.mass * u.temperature + b.mass * b.temperature) / mass
        vu = volume * share
        vb = volume - vu
    pressure = total / volume
    # per crank angle, kelvin and volume; what depends on the volume alone is worked out once for both middle stages
    surface = (values["ends_area"] + values["wall_per_volume"] * volume) * values["per_radian"] / volume
    cooling = values["heat"](values, mass, mean, pressure, volume) * surface
    qu = cooling * (u.temperature - values["wall_temperature"])
    loss = qu * vu
    push = pressure * slope + u.k * loss
    soft = u.k * vu
    if b is not None:
        qb = cooling * (b.temperature - values["wall_temperature"])
        loss_b = qb * vb
        push = push + b.k * loss_b
        soft = soft + b.k * vb
        loss = loss + loss_b
    hu, hb = _enthalpies(values, u, b, rate)
    # what goes out of the end gas, and into the burned gas
    leaks = _leaks(values, u, b, pressure, share) if values["leaks"] else (None, None)
    out = leaks[0]
    into = None if leaks[1] is None else -leaks[1]
    gain: Any = None
    if rate is not None:
        assert b is not None
        burn = rate * u.mass
        out = burn if out is None else burn + out
        into = burn if into is None else burn + into
        gain = (hu - hb) * burn
        push = push - b.k * gain
    if out is not None:
        push = push + u.energy * out
    if into is not None and b is not None:
        push = push - b.energy * into
    stiff = volume - soft
    if values["creviced"]:
        fills, back = _crevice(values, u, b, push, hu, state["mc"] / pressure)
        stiff = stiff + fills * (u.energy - u.k * back)
    slope_p = -push / stiff
    over = 1.0 / pressure
    made: dict[str, Any] = {"tu": u.k * u.temperature * over * (slope_p - qu), "mb": into}
    if values["creviced"]:
        stored = fills * slope_p
        made["mc"] = stored
        made["tu"] = made["tu"] + back * stored / (u.mass * u.capacity)
        # into the crevice it cools from its own enthalpy, out of it it has the wall's
        loss = loss + stored * (hu - back - values["wall_energy"])
        out = stored if out is None else out + stored
    if out is not None:
        made["mu"] = -out
    if b is not None:
        made["tb"] = _burned_slope(values, u, b, over, slope_p, qb, gain)
    made |= {"work": pressure * slope, "heat": loss}
    if values["leaks"] and values["audit"]:
        made["leaked"] = leaks[0] if leaks[1] is None else leaks[0] + leaks[1]
        made["lost"] = leaks[0] * hu + (0.0 if leaks[1] is None else leaks[1] * hb)
    return {name: one for name, one in made.items() if one is not None}, pressure, slope_p


def _enthalpies(values: Mapping[str, Any], u: _Zone, b: _Zone | None, rate: Any) -> tuple[Any, Any]:
    """Of the end gas and of the burned gas, where something takes them."""
    burns = rate is not None or values["audit"]
    hu = gas.specific_enthalpy(u.gas, u.temperature) if burns or values["creviced"] else None
    return hu, gas.specific_enthalpy(b.gas, b.temperature) if burns and b is not None else None


def _leaks(values: Mapping[str, Any], u: _Zone, b: _Zone | None, pressure: Any, share: Any) -> tuple[Any, Any]:
    """What leaks of either zone: the orifice is shared as the volume is."""
    flow = leak.leak_flow.raw(pressure=pressure, behind=values["crankcase_pressure"], energy=_ONE, area=values["leak_per_radian"])
    if b is None:
        return flow / np.sqrt(u.energy), None
    return flow * share / np.sqrt(u.energy), flow * (1.0 - share) / np.sqrt(b.energy)


def _crevice(values: Mapping[str, Any], u: _Zone, b: _Zone | None, push: Any, hu: Any, held: Any) -> tuple[Any, Any]:
    """Mass that the crevice takes in for each pascal, `held` of it where it gives back; and by how much that gas is cooler, as enthalpy."""
    falls = push > 0.0
    # what comes back has the wall's temperature
    cooler = hu - values["wall_enthalpy"]
    fills = values["crevice"]
    if b is not None:
        enough = np.minimum(u.mass * values["plenty"], 1.0)
        cooler, fills = cooler * enough, fills * enough
    return choose(falls, held, fills), choose(falls, cooler, 0.0)


def _burned_slope(values: Mapping[str, Any], u: _Zone, b: _Zone, over: Any, slope_p: Any, qb: Any, gain: Any) -> Any:
    """Slope of the burned gas's temperature."""
    if values["kindling"]:
        # what burns in this step is pressed as end gas before it burns, on the mean for (n + 1)/(n + 2) of the step, then as burned gas
        early, late = values["pressed_before"], 1.0 - values["pressed_before"]
        return over * ((early * u.energy + late * b.energy) * slope_p - late * b.energy * qb) / b.capacity
    made = b.k * b.temperature * over * (slope_p - qb)
    return made if gain is None else made + gain / (b.mass * b.capacity)


def _step(values: Mapping[str, Any], state: Mapping[str, Any], burning: bool) -> dict[str, Any]:
    """One step of the classical fourth-order scheme, and what stands at its start."""
    half, step = values["half_step"], values["step"]
    rates = [state[f"rate{stage}"] if burning else None for stage in range(3)]
    turn = values["turn_sine"], values["turn_cosine"]

    def on(sine: Any, cosine: Any) -> tuple[Any, Any]:
        return sine * turn[1] + cosine * turn[0], cosine * turn[1] - sine * turn[0]

    middle = on(state["sine"], state["cosine"])
    end = on(*middle)
    shapes = [(state["volume"], state["slope"]), _geometry(values, *middle), _geometry(values, *end)]
    first, pressure, slope_p = _rates(values, state, *shapes[0], rates[0])

    def moved(slopes: Mapping[str, Any], by: Any) -> dict[str, Any]:
        return {
            name: state[name] + by * slopes[name] if name in slopes else state[name]
            for name in ("tu", "mu", "tb", "mb", "mc")
            if name in state
        }

    second, _, _ = _rates(values, moved(first, half), *shapes[1], rates[1])
    third, _, _ = _rates(values, moved(second, half), *shapes[1], rates[1])
    fourth, _, _ = _rates(values, moved(third, step), *shapes[2], rates[2])
    sixth = values["sixth_step"]
    made = {
        name: state[name] + sixth * ((first[name] + fourth[name]) + 2.0 * (second[name] + third[name])) for name in first if name in state
    }
    made |= {"sine": end[0], "cosine": end[1], "volume": shapes[2][0], "slope": shapes[2][1]}
    made |= {"pressure": pressure, "pressure_slope": slope_p, "tu_slope": first["tu"]}
    return made


def _look(values: Mapping[str, Any], state: Mapping[str, Any], burning: bool) -> dict[str, Any]:
    """What stands at the last node of a segment."""
    slopes, pressure, slope_p = _rates(values, state, state["volume"], state["slope"], state["rate0"] if burning else None)
    return {"pressure": pressure, "pressure_slope": slope_p, "tu_slope": slopes["tu"]}


class _Runner:
    """`_step` or `_look` of one stretch, recorded; threads may use it side by side.

    With `whole` it serves any rows: nothing is worked in, and columns of one value are operands like others. Else columns of one value
    are worked in, and it serves blocks of these rows alone, with fewer operations.
    """

    def __init__(
        self, function: Callable[..., dict[str, Any]], values: dict[str, Any], state: Mapping[str, Any], burning: bool, whole: bool
    ) -> None:
        #: replays that nobody uses now, by their length
        self.replays: dict[int, list[Any]] = {}
        tape = Tape()

        def varies(value: Any) -> bool:
            return isinstance(value, np.ndarray) and (whole or len(value) != 1)

        self.names = [name for name, value in values.items() if varies(value)]
        self.gases = [name for name in ("unburned", "burned") if any(varies(one) for one in values[name])]
        columns = {name: tape.column() for name in self.names}
        parts: dict[str, Any] = {}
        for name in self.gases:
            fields = {f"{name}_{field}": one for field, one in zip(Gas._fields, values[name], strict=True)}
            for key, one in fields.items():
                if varies(one):
                    columns[key] = tape.column()
            parts[name] = Gas(*(columns.get(key, one) for key, one in fields.items()))
        states = {name: tape.column() for name, value in state.items() if len(value) != 1}
        # rates of the burn that are the same for all rows are operands of one value, which change from step to step
        shared = {name: tape.column() for name, value in state.items() if len(value) == 1}
        with np.errstate(all="ignore"):
            results = function({**values, **columns, **parts}, {**states, **shared}, burning)
        self.program: Final = Program(tape, {**columns, **states, **shared}, results)

    def __call__(self, values: Mapping[str, Any], state: Mapping[str, Any], into: Mapping[str, Any] | None = None) -> Mapping[str, Any]:
        length = len(state["tu"])
        waiting = self.replays.setdefault(length, [])
        try:
            replay = waiting.pop()
        except IndexError:
            replay = self.program.replay(length)
        given = {**values, **state}
        for name in self.gases:
            given |= {f"{name}_{field}": one for field, one in zip(Gas._fields, values[name], strict=True)}
        into = {} if into is None else into
        made = {name: into[name] if name in into else np.empty(length) for name in self.program.results}
        replay.run({name: given[name] for name in self.program.inputs}, made)
        if len(self.replays) > _MOST_LENGTHS:
            self.replays.clear()
        waiting.append(replay)
        return made


#: Up to so many rows recording costs more than what working in constants saves: what was recorded once serves all of them.
FEW: Final = 1024
#: Lengths of blocks that replays are kept for.
_MOST_LENGTHS: Final = 8
_SHARED: Final[dict[Any, _Runner]] = {}


def _rates_of_burn(values: Mapping[str, Any], place: float) -> Any:
    """Wiebe's rate of what is unburned [1/rad] at `place` (0 to 1) of the burn's stretch."""
    if place == 0.0:
        return np.where(values["form"] == 0.0, values["burn_rate"], 0.0)
    return values["burn_rate"] * np.exp(values["form"] * np.log(place))


def march(
    columns: Mapping[str, Any],
    *,
    heat: str = "annand",
    steps: Sequence[int] = STEPS,
    burns: bool = True,
    audit: bool = False,
    runners: dict[Any, _Runner] | None = None,
) -> tuple[dict[str, NDArray[np.float64]], list[Segment], dict[str, NDArray[np.float64]]]:
    """One block of rows marched from exhaust closing to opening: `RESULTS` by name, the segments with their nodes, and the last state.

    Parameters: `columns` arrays of shape (n,) or (1,), SI, by the names in `INPUTS`; angles [rad], `closes` before TDC, `opens` and
    `ignites` (start of the burn) after it; `heat` the relation of heat loss, "annand" or "woschni"; `steps` how many before, while
    and after it burns; `burns=False` motors to TDC alone; `audit` follows what the leak takes of mass and enthalpy, and keeps more
    of each node. Rows whose angles are not in order are NaN.

    States: temperatures `tu`, `tb` [K] and masses `mu`, `mb` [kg] of both zones, `mc` [kg] in the crevice, `work` and `heat` [J],
    `leaked` [kg], and `lost` [J].
    """
    values: dict[str, Any] = dict(columns)
    length = max(len(column) for column in columns.values())
    with np.errstate(all="ignore"):
        state, spans = _prepare(values, burns, heat, audit, length)
    segments: list[Segment] = []
    full = {name: np.broadcast_to(one, (length,)).copy() for name, one in state.items()}
    for which, (count, (start, span)) in enumerate(zip(steps, spans, strict=False)):
        if which:
            values["zones"], values["kindled"] = 2, True
        with np.errstate(all="ignore"):
            if which == 1:
                full["tb"] = gas.burned_temperature(values["burned"], gas.specific_enthalpy(values["unburned"], full["tu"]))
                full["mb"] = np.zeros(length)
            step = span * (1.0 / count)
            values |= {"step": step, "half_step": step * 0.5, "sixth_step": step * (1.0 / 6.0)}
            values |= {"turn_sine": np.sin(step * 0.5), "turn_cosine": np.cos(step * 0.5)}
            segments.append(Segment(start, step, _stretch(values, full, count, which, runners)))
    with np.errstate(all="ignore"):
        results = _results(values, full, segments, burns)
    return results, segments, full


def _prepare(values: dict[str, Any], burns: bool, heat: str, audit: bool, length: int) -> tuple[dict[str, Any], list[tuple[Any, Any]]]:
    """Complete `values` with what does not change on the way; the state at exhaust closing; start and step of each stretch by turns."""
    values["unburned"], values["burned"] = _gas_of(values, "unburned"), _gas_of(values, "burned")
    values["bore"] = np.sqrt(values["bore_area"] * (4.0 / np.pi))
    values["ends_area"] = 2.0 * values["bore_area"]
    values["wall_per_volume"] = 4.0 / values["bore"]
    values["per_radian"] = 1.0 / values["crank_speed"]
    values["leak_per_radian"] = values["leak_area"] / values["crank_speed"]
    values["leaks"] = bool(values["leak_area"].any())
    values["creviced"] = bool(values["crevice_volume"].any())
    values["crevice"] = values["crevice_volume"] / (values["unburned"].constant * values["wall_temperature"])
    values["wall_enthalpy"] = gas.specific_enthalpy(values["unburned"], values["wall_temperature"])
    values["wall_energy"] = values["wall_enthalpy"] - values["unburned"].constant * values["wall_temperature"]
    values |= {"zones": 1, "kindled": False, "kindling": False, "audit": audit, "heat": _HEAT[heat]}
    crank = {name: values[name] for name in ("throw", "rod_length", "offset")}
    values["reach"] = slider_crank.pin_height_at_tdc.raw(**crank)
    top = slider_crank.tdc_angle.raw(**crank)
    first = -values["closes"]
    if burns:
        kindle = values["ignites"]
        out = np.minimum(kindle + values["duration"], values["opens"])
        fine = (first <= kindle) & (kindle < values["opens"]) & (values["duration"] > 0.0) & (values["closes"] > 0.0)
        kindle = only(kindle, fine)
        spans = [(first, kindle), (kindle, out), (out, values["opens"])]
        values["pressed_before"] = (values["form"] + 1.0) / (values["form"] + 2.0)
        share = (out - kindle) / values["duration"]
        values["burn_rate"] = values["completeness"] * (values["form"] + 1.0) / values["duration"] * np.exp(values["form"] * np.log(share))
    else:
        spans = [(first, np.zeros(1))]
    values["sine0"], values["cosine0"] = np.sin(first + top), np.cos(first + top)
    volume, slope = _geometry(values, values["sine0"], values["cosine0"])
    values["first_volume"] = volume
    travelled = values["bore_area"] * slider_crank.piston_travel.raw(**crank)
    values["woschni"] = 3.24e-3 * travelled * values["temperature"] / (values["pressure"] * volume)
    mass = values["pressure"] * volume / (values["unburned"].constant * values["temperature"])
    values["trapped"] = mass
    values["plenty"] = 1.0 / (SCARCE * mass)
    nothing = np.zeros(1)
    state = {"tu": values["temperature"], "mu": mass, "work": nothing, "heat": nothing, "leaked": nothing, "lost": nothing}
    if values["creviced"]:
        state["mc"] = values["crevice"] * values["pressure"]
    state |= {"sine": values.pop("sine0"), "cosine": values.pop("cosine0"), "volume": volume, "slope": slope}
    return state, [(start, stop - start) for start, stop in spans]


def _stretch(
    values: dict[str, Any], full: dict[str, NDArray[np.float64]], count: int, which: int, runners: dict[Any, _Runner] | None
) -> dict[str, NDArray[np.float64]]:
    """March one stretch in `count` steps; `full`, the state, is moved to its end. Its nodes by name, each (count + 1, n)."""
    length = len(full["tu"])
    burning = which == 1
    kept = [name for name in ("tu", *(("mu", "tb", "mb", "heat", "work") if values["audit"] else ())) if name in full]
    nodes = {name: np.empty((count + 1, length)) for name in ("pressure", "pressure_slope", "tu_slope", *kept)}

    def runner(kind: str, function: Any) -> _Runner:
        flags = tuple(values[name] for name in ("leaks", "creviced", "audit", "heat", "kindled"))
        key = which, kind, flags, "burn_rate" in values
        held = _SHARED if runners is None else runners
        if key not in held:
            held[key] = _Runner(function, values, full, burning, whole=runners is None)
        return held[key]

    for index in range(count + 1):
        for name in kept:
            nodes[name][index] = full[name]
        if burning:
            for stage, place in enumerate((index, index + 0.5, index + 1.0)):
                full[f"rate{stage}"] = _rates_of_burn(values, place / count)
        into = {name: nodes[name][index] for name in ("pressure", "pressure_slope", "tu_slope")}
        values["kindling"] = burning and index == 0
        if index == count:
            made = runner("look", _look)(values, full, into)
        else:
            made = runner("kindling" if values["kindling"] else "step", _step)(values, full, into)
            full.update({name: one for name, one in made.items() if name not in into})
        for name, row in into.items():
            if made[name] is not row:
                row[...] = made[name]
    values["kindling"] = False
    for stage in range(3):
        full.pop(f"rate{stage}", None)
    return nodes


# --- what comes of it -------------------------------------------------------------------------------------------------


def _cubic(place: Any, step: Any, ends: Sequence[Any]) -> Any:
    """Value at `place`, 0 to 1 between two nodes, of the cubic with their values and slopes."""
    first, last, slope, end = ends[0], ends[1], ends[2] * step, ends[3] * step
    rise = last - first
    return first + place * (slope + place * ((3.0 * rise - 2.0 * slope - end) + place * (slope + end - 2.0 * rise)))


def _greatest(segment: Segment, name: str) -> tuple[Any, Any]:
    """The greatest value of a node's quantity in a segment, between nodes too, and its angle."""
    values, slopes = segment.nodes[name], segment.nodes[f"{name}_slope"]
    count = len(values) - 1
    # node by node, which argmax along the first axis is slower than
    best, at = values[0].copy(), np.zeros(values.shape[1], dtype=np.intp)
    for index in range(1, count + 1):
        higher = values[index] > best
        np.copyto(best, values[index], where=higher)
        np.copyto(at, index, where=higher)
    columns = np.arange(values.shape[1])
    left = np.clip(np.where(slopes[at, columns] < 0.0, at - 1, at), 0, count - 1)
    ends = values[left, columns], values[left + 1, columns], slopes[left, columns], slopes[left + 1, columns]
    rise, slope, end = ends[1] - ends[0], ends[2] * segment.step, ends[3] * segment.step
    middle, cubic = 3.0 * rise - 2.0 * slope - end, 3.0 * (slope + end - 2.0 * rise)
    place = slope / (np.sqrt(np.maximum(middle * middle - cubic * slope, 0.0)) - middle)
    inside = (slope > 0.0) & (end < 0.0)
    place = np.where(inside, place, (at - left).astype(np.float64))
    return np.where(inside, _cubic(place, segment.step, ends), best), segment.start + segment.step * (left + place)


def _at_tdc(segments: Sequence[Segment]) -> Any:
    """Pressure at TDC."""
    found: Any = np.full(segments[0].nodes["pressure"].shape[1], np.nan)
    for segment in segments:
        values, slopes = segment.nodes["pressure"], segment.nodes["pressure_slope"]
        count, columns = len(values) - 1, np.arange(values.shape[1])
        place = np.broadcast_to(
            np.where(segment.step > 0.0, -segment.start / np.where(segment.step > 0.0, segment.step, 1.0), -1.0), found.shape
        )
        inside = (place >= 0.0) & (place <= count)
        left = np.clip(np.where(inside, place, 0.0).astype(np.int64), 0, count - 1)
        ends = values[left, columns], values[left + 1, columns], slopes[left, columns], slopes[left + 1, columns]
        found = np.where(inside, _cubic(place - left, segment.step, ends), found)
    return found


def _spent(segment: Segment, octane: Any, crank_speed: Any) -> Any:
    """Integral of the knock rate over a segment: trapezoids corrected at the ends, of fourth order."""
    pressure, temperature = segment.nodes["pressure"], segment.nodes["tu"]
    # node by node, so that what is in between stays in the cache
    rates = [knock.knock_rate.raw(pressure=one, temperature=other, octane=octane) for one, other in zip(pressure, temperature, strict=True)]
    slopes = [
        knock.knock_slope(rates[end], pressure[end], segment.nodes["pressure_slope"][end], temperature[end], segment.nodes["tu_slope"][end])
        for end in (0, -1)
    ]
    inner = rates[0] * 0.5
    for rate in rates[1:-1]:
        inner = inner + rate
    inner = inner + rates[-1] * 0.5
    return segment.step * (inner + segment.step * (1.0 / 12.0) * (slopes[0] - slopes[1])) / crank_speed


def _results(values: Mapping[str, Any], full: Mapping[str, Any], segments: Sequence[Segment], burns: bool) -> dict[str, Any]:
    peak, angle = _greatest(segments[0], "pressure")
    hot, _ = _greatest(segments[0], "tu")
    made: dict[str, Any] = {}
    if burns:
        for segment in segments[1:]:
            other, where = _greatest(segment, "pressure")
            higher = other > peak
            peak, angle = np.where(higher, other, peak), np.where(higher, where, angle)
        other, _ = _greatest(segments[1], "tu")
        hot = np.where(other > hot, other, hot)
        spent = [_spent(segment, values["octane"], values["crank_speed"]) for segment in segments[:2]]
        mass = full["mu"] + full["mb"]
        made = {
            "knock_integral": spent[0] + spent[1],
            "tdc_pressure": _at_tdc(segments),
            "opening_temperature": (full["mu"] * full["tu"] + full["mb"] * full["tb"]) / mass,
            "burned_mass_fraction": full["mb"] / values["trapped"],
        }
    made |= {
        "peak_pressure": peak,
        "peak_angle": angle,
        "work": full["work"],
        "heat_loss": full["heat"],
        "end_gas_temperature": hot,
        "opening_pressure": segments[-1].nodes["pressure"][-1],
        "trapped_mass": values["trapped"],
    }
    # a row that left the domain somewhere has no result at all
    good = np.isfinite(segments[-1].nodes["pressure"][-1])
    return {name: np.where(good, one, np.nan) for name, one in made.items()}


def _blocks(names: Sequence[str], results: Sequence[str], **options: Any) -> Callable[..., None]:
    """A function of columns in the order of `names` that writes `results` into the rows of its last argument, a block at a time."""

    def into(*arguments: Any) -> None:
        *given, out = arguments
        columns = [np.broadcast_to(one, out.shape[1:]).reshape(-1) if one.ndim > 1 or one.size != 1 else one.reshape(1) for one in given]
        flat = out.reshape(len(results), -1)
        rows = flat.shape[1]
        runners: dict[Any, _Runner] | None = {} if rows > FEW else None
        block = block_length(rows, BLOCK)
        for start in range(0, rows, block):
            stop = min(start + block, rows)
            part = {name: one if len(one) == 1 else one[start:stop] for name, one in zip(names, columns, strict=True)}
            made, _, _ = march(part, runners=runners, **options)
            for index, name in enumerate(results):
                flat[index, start:stop] = made[name]

    return into


# --- as nodes of the wiring -------------------------------------------------------------------------------------------


@functools.cache
def _closed(heat: str, steps: tuple[int, ...]) -> Callable[..., None]:
    return _blocks(INPUTS, RESULTS, heat=heat, steps=steps)


@functools.cache
def _motored(steps: int) -> Callable[..., None]:
    return _blocks(INPUTS, ("peak_pressure",), heat="annand", steps=(steps,), burns=False)


def closed_cycle(*, unburned: Gas, burned: Gas, heat: str = "annand", steps: Sequence[int] = STEPS, **columns: Column) -> dict[str, Column]:
    """`RESULTS` of each row by name [SI]: pressures [Pa], angles [rad] after TDC, work and heat [J], temperatures [K], masses [kg].

    Parameters: the gases before and after the burn; `heat` "annand" or "woschni"; `steps` before, while and after it burns; the other
    `INPUTS` by name, floats or arrays that broadcast. NaN in a row whose angles are not in order: closing, start of the burn, opening.

    >>> fuel = gas.FUELS["iso-octane"]
    >>> rich = np.full(1, 1.1)
    >>> gases = dict(unburned=gas.unburned_gas(fuel, equivalence=rich, residual=np.full(1, 0.2)),
    ...              burned=gas.burned_gas(fuel, equivalence=rich))
    >>> made = closed_cycle(**gases, throw=0.02725, rod_length=0.11, offset=0.0, bore_area=0.00229, clearance_volume=11.45e-6,
    ...     closes=1.546, opens=1.546, ignites=-0.17, duration=0.8, form=2.0, completeness=5.0, pressure=1.2e5, temperature=400.0,
    ...     wall_temperature=450.0, crank_speed=1150.0, piston_speed=20.0, heat_factor=0.26, leak_area=2e-8, crankcase_pressure=1e5,
    ...     crevice_volume=0.0, octane=98.0)
    >>> 25e5 < float(made["peak_pressure"][0]) < 45e5
    True
    """
    columns |= {f"unburned_{name}": one for name, one in zip(Gas._fields, unburned, strict=True)}
    columns |= {f"burned_{name}": one for name, one in zip(Gas._fields, burned, strict=True)}
    return dict(zip(RESULTS, whole(_closed(heat, tuple(steps)), [columns[name] for name in INPUTS], len(RESULTS)), strict=True))


def cranking_pressure(*, unburned: Gas, steps: int = MOTORED_STEPS, **columns: Column) -> Column:
    """Greatest pressure of a charge that is turned over without being lit [Pa]: what a gauge with a valve in it comes to in the end.

    Parameters: the gas; `steps` from exhaust closing to TDC; those of `INPUTS` that it takes, by name: `throw`, `rod_length`,
    `offset`, `bore_area`, `clearance_volume`, `closes`, `pressure`, `temperature`, `wall_temperature`, `crank_speed`,
    `piston_speed`, `heat_factor`, `leak_area`, `crankcase_pressure`. Annand's heat loss; what leaks counts for more the slower it
    is turned.

    >>> air = gas.unburned_gas(gas.FUELS["iso-octane"], equivalence=np.full(1, 1e-6), residual=np.zeros(1))
    >>> turned = cranking_pressure(unburned=air, throw=0.02725, rod_length=0.11, offset=0.0, bore_area=0.00229, clearance_volume=11.45e-6,
    ...     closes=1.546, pressure=1e5, temperature=320.0, wall_temperature=320.0, crank_speed=47.0, piston_speed=0.82, heat_factor=0.26,
    ...     leak_area=2e-8, crankcase_pressure=1e5)
    >>> 9e5 < float(turned[0]) < 15e5
    True
    """
    fixed = dict.fromkeys(INPUTS, 1.0) | {"crevice_volume": 0.0} | columns
    fixed |= {f"{zone}_{name}": one for zone in ("unburned", "burned") for name, one in zip(Gas._fields, unburned, strict=True)}
    made: Column
    (made,) = whole(_motored(steps), [fixed[name] for name in INPUTS], 1)
    return made


@kernel
def step_error(*, coarse: Column, fine: Column) -> Column:
    """Estimate of the relative error of `coarse` [-], a result of the march, from `fine`, that of half its steps: 16/15 |fine/coarse - 1|.

    Richardson's estimate for a scheme of fourth order, not a bound: of 9000 rows far out of the ordinary (form 0 to 6, burns of 10
    to 120 deg, 1400 to 13 000 rpm, starts from 40 deg before TDC to 30 after) it was within a factor of 2 of the true error in 97
    of 100 where that was more than 1e-5, and within 5 in the rest. A `form` between 0 and 1 starts too steeply for the scheme's
    order; 1e-3, and 1e-2 at worst, is then told, and true.

    >>> round(float(step_error(coarse=1.0015, fine=1.0)) * 1e3, 3)
    1.598
    """
    return np.abs(fine / coarse - 1.0) * (16.0 / 15.0)
