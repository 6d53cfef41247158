"""How fast closed cycles are marched: blocks of variants against a compiled loop of the same scheme, and against general solvers.

    python benchmarks/cycle.py            # needs the extra `bench`; --rows N

Ten thousand invented variants of one 125, differing in clearance volume, start and length of the burn, state and speed. Every way
integrates the same equations: two zones, polynomials, Annand's heat loss, a leak and a crevice. Errors are the greatest over the rows of
the work's and of the pressure's at exhaust opening, which all ways give, against the same equations at an eighth of the step. Medians of
five, ways taken in turn. A degree is that on the mean of the steps, which are closer while it burns.

Asked of it: at 0.5 degree at most 0.9 of the compiled loop; at 1 degree at most 0.9 of `solve_ivp` on all variants as one system, with at
most a third of its error; at least 50 times faster a variant than LSODA one by one at an error no smaller.
"""

from __future__ import annotations

import argparse
import math
import statistics
import time
from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from scipy.integrate import solve_ivp

from topend.physics import cycle, gas, leak, slider_crank
from topend.physics.gas import FUELS, Gas

STATES = 6  # tu, mu, tb, mb, work, heat


def variants(rows: int) -> dict[str, np.ndarray]:
    """Columns of invented variants, as `march` takes them."""
    draw = np.random.default_rng(8)
    rad = math.radians
    equivalence, residual = np.array([1.15]), np.array([0.2])
    fuel = FUELS["petrol 98"]
    fixed = {
        "throw": 0.02725,
        "rod_length": 0.110,
        "offset": 0.0,
        "bore_area": math.pi / 4.0 * 0.054**2,
        "form": 2.0,
        "completeness": 5.0,
        "wall_temperature": 450.0,
        "heat_factor": 0.26,
        "leak_area": 2e-8,
        "crankcase_pressure": 1e5,
        "crevice_volume": 0.2e-6,
        "octane": 98.0,
    }
    spread = {
        "clearance_volume": (10e-6, 13e-6),
        "closes": (rad(86.0), rad(91.0)),
        "opens": (rad(86.0), rad(91.0)),
        "ignites": (rad(-15.0), rad(-4.0)),
        "duration": (rad(38.0), rad(52.0)),
        "pressure": (1.1e5, 1.35e5),
        "temperature": (370.0, 430.0),
        "crank_speed": (9000.0 * math.pi / 30.0, 12000.0 * math.pi / 30.0),
    }
    columns = {name: np.array([value]) for name, value in fixed.items()}
    columns |= {name: draw.uniform(*ends, rows) for name, ends in spread.items()}
    columns["piston_speed"] = 2.0 * 2.0 * 0.02725 * columns["crank_speed"] / (2.0 * math.pi)
    for zone, made in (
        ("unburned", gas.unburned_gas(fuel, equivalence=equivalence, residual=residual)),
        ("burned", gas.burned_gas(fuel, equivalence=equivalence)),
    ):
        columns |= {f"{zone}_{name}": one for name, one in zip(Gas._fields, made, strict=True)}
    return columns


def ours(columns: dict[str, np.ndarray], steps: tuple[int, ...]) -> dict[str, np.ndarray]:
    """Everything that the library finds of a row (`cycle.RESULTS`), by the function that its outputs come from."""
    out = np.empty((len(cycle.RESULTS), max(len(one) for one in columns.values())))
    cycle._closed("annand", steps)(*(columns[name] for name in cycle.INPUTS), out)
    return dict(zip(cycle.RESULTS, out, strict=True))


# --- the same scheme as a compiled loop -------------------------------------------------------------------------------

_CRITICAL, _CHOKED = leak.CRITICAL, leak.CHOKED


@numba.njit
def _cp(g: np.ndarray, t: float) -> float:
    return g[1] + t * (g[2] + t * (g[3] + t * (g[4] + t * g[5])))


@numba.njit
def _h(g: np.ndarray, t: float) -> float:
    return g[6] + t * (g[1] + t * (0.5 * g[2] + t * (1.0 / 3.0 * g[3] + t * (0.25 * g[4] + t * (0.2 * g[5])))))


@numba.njit
def _volume(c: np.ndarray, sine: float, cosine: float) -> tuple[float, float]:
    # c: throw, rod, area, clearance, reach
    tangential, radial = c[0] * sine, c[0] * cosine
    along = math.sqrt(c[1] * c[1] - tangential * tangential)
    return c[3] + c[2] * (c[4] - radial - along), c[2] * (tangential + radial * tangential / along)


@numba.njit
def _slopes(
    kind: int, y: np.ndarray, volume: float, slope: float, rate: float, c: np.ndarray, u: np.ndarray, b: np.ndarray, out: np.ndarray
) -> tuple[float, float]:
    """kind 0: one zone; 1: first step of the burn; 2: burning; 3: two zones. c[5:]: wall, factor·piston speed terms, leak, ..."""
    wall, ends, per_volume, per_radian, speed_bore, factor_bore, leak, behind, crevice, wall_h, wall_u = c[5:16]
    tu, mu = y[0], y[1]
    ru = u[0] * tu
    su = mu * ru
    ku = u[0] / _cp(u, tu)
    two = kind > 0
    rb = kb = hb = qb = vb = leak_b = 0.0
    share = 1.0
    if two:
        tb, mb = y[2], y[3]
        rb = b[0] * tb
        total = su + mb * rb
        cb = _cp(b, tb)
        kb = b[0] / cb
        share = su / total
        mass = mu + mb
        mean = (mu * tu + mb * tb) / mass
        vu = volume * share
        vb = volume - vu
    else:
        tb, mb, cb = 0.0, 0.0, 1.0
        total, mass, mean, vu = su, mu, tu, volume
    pressure = total / volume
    viscosity = 7.457e-6 + mean * (4.1547e-8 - 7.4793e-12 * mean)
    conductivity = 6.1944e-3 + mean * (7.3814e-5 - 1.2491e-8 * mean)
    coefficient = conductivity * factor_bore * math.exp(0.7 * math.log(mass / volume * speed_bore / viscosity))
    cooling = coefficient * (ends + per_volume * volume) * per_radian / volume
    qu = cooling * (tu - wall)
    loss = qu * vu
    push = -pressure * slope - ku * loss
    stiff = vu - ku * vu
    if two:
        qb = cooling * (tb - wall)
        loss_b = qb * vb
        push -= kb * loss_b
        stiff += vb - kb * vb
        loss += loss_b
    over = max((behind / pressure - _CRITICAL) * (1.0 / (1.0 - _CRITICAL)), 0.0)
    flow = leak * _CHOKED * pressure * math.sqrt(max(1.0 - over * over, 0.0))
    leak_u = flow / math.sqrt(ru)
    if two:
        leak_u *= share
        leak_b = flow * (1.0 - share) / math.sqrt(rb)
        push -= rb * leak_b
    push -= ru * leak_u
    hu = _h(u, tu)
    burn = gain = 0.0
    if kind == 1 or kind == 2:
        hb = _h(b, tb)
        burn = rate * mu
        gain = (hu - hb) * burn
        push += (rb - ru) * burn + kb * gain
    back = hu - wall_h if push < 0.0 else 0.0
    stiff += crevice * (ru - ku * back)
    slope_p = push / stiff
    over_p = 1.0 / pressure
    stored = crevice * slope_p
    out[0] = ku * tu * over_p * (slope_p - qu) + back * stored / (mu * (u[0] / ku))
    out[1] = -stored - burn - leak_u
    if two:
        if kind == 1:
            late = 1.0 - c[16]
            out[2] = over_p * ((c[16] * ru + late * rb) * slope_p - late * rb * qb) / cb
        else:
            out[2] = kb * tb * over_p * (slope_p - qb)
        if kind == 2:
            out[2] += gain / (mb * cb)
        out[3] = burn - leak_b
    else:
        out[2] = out[3] = 0.0
    out[4] = pressure * slope
    out[5] = loss + stored * (hu - back - wall_u)
    return pressure, slope_p


@numba.njit
def _compiled(
    constants: np.ndarray,
    starts: np.ndarray,
    spans: np.ndarray,
    burn: np.ndarray,
    form: float,
    first: np.ndarray,
    u: np.ndarray,
    b: np.ndarray,
    steps: np.ndarray,
    out: np.ndarray,
) -> None:
    """Row by row: peak pressure (between nodes too), work, heat loss. `burn` is the rate's factor, `first` the state at closing."""
    y, z = np.empty(STATES), np.empty(STATES)
    k1, k2, k3, k4 = np.empty(STATES), np.empty(STATES), np.empty(STATES), np.empty(STATES)
    for row in range(len(starts)):
        c = constants[row]
        for i in range(STATES):
            y[i] = first[row, i]
        sine, cosine = math.sin(starts[row]), math.cos(starts[row])
        volume, slope = _volume(c, sine, cosine)
        peak = 0.0
        for stretch in range(3):
            count = steps[stretch]
            h = spans[row, stretch] / count
            turn_s, turn_c = math.sin(0.5 * h), math.cos(0.5 * h)
            if stretch == 1:
                enthalpy, t = _h(u, y[0]), 2400.0
                for _ in range(gas.BURNED_STEPS):
                    t -= (_h(b, t) - enthalpy) / _cp(b, t)
                y[2], y[3] = t, 0.0
            last_p = last_s = 0.0
            for index in range(count + 1):
                kind = 0 if stretch == 0 else 3 if stretch == 2 else 1 if index == 0 else 2
                r0 = r1 = r2 = 0.0
                if stretch == 1:
                    if index > 0:
                        r0 = burn[row] * math.exp(form * math.log(index / count))
                    r1 = burn[row] * math.exp(form * math.log((index + 0.5) / count))
                    r2 = burn[row] * math.exp(form * math.log((index + 1.0) / count))
                p, s = _slopes(kind, y, volume, slope, r0, c, u, b, k1)
                if index > 0:
                    if p > peak:
                        peak = p
                    if last_s > 0.0 and s < 0.0:
                        rise, d0, d1 = p - last_p, last_s * h, s * h
                        middle, cubic = 3.0 * rise - 2.0 * d0 - d1, 3.0 * (d0 + d1 - 2.0 * rise)
                        w = d0 / (math.sqrt(middle * middle - cubic * d0) - middle)
                        best = last_p + w * (d0 + w * ((3.0 * rise - 2.0 * d0 - d1) + w * (d0 + d1 - 2.0 * rise)))
                        if best > peak:
                            peak = best
                last_p, last_s = p, s
                if index == count:
                    break
                ms, mc = sine * turn_c + cosine * turn_s, cosine * turn_c - sine * turn_s
                es, ec = ms * turn_c + mc * turn_s, mc * turn_c - ms * turn_s
                mv, mslope = _volume(c, ms, mc)
                ev, eslope = _volume(c, es, ec)
                for i in range(4):
                    z[i] = y[i] + 0.5 * h * k1[i]
                _slopes(kind, z, mv, mslope, r1, c, u, b, k2)
                for i in range(4):
                    z[i] = y[i] + 0.5 * h * k2[i]
                _slopes(kind, z, mv, mslope, r1, c, u, b, k3)
                for i in range(4):
                    z[i] = y[i] + h * k3[i]
                _slopes(kind, z, ev, eslope, r2, c, u, b, k4)
                for i in range(STATES):
                    y[i] += h / 6.0 * ((k1[i] + k4[i]) + 2.0 * (k2[i] + k3[i]))
                sine, cosine, volume, slope = es, ec, ev, eslope
        out[row, 0], out[row, 1], out[row, 2] = peak, y[4], y[5]


def compiled_arguments(columns: dict[str, np.ndarray], steps: tuple[int, ...]) -> tuple[Any, ...]:
    """What `_compiled` takes; made once, as the library makes it in its blocks."""
    rows = max(len(one) for one in columns.values())
    values: dict[str, Any] = dict(columns)
    state, spans = cycle._prepare(values, True, "annand", False, rows)
    table = np.empty((rows, 17))
    for place, one in enumerate(
        (
            *(values[name] for name in ("throw", "rod_length", "bore_area", "clearance_volume", "reach", "wall_temperature")),
            *(values[name] for name in ("ends_area", "wall_per_volume", "per_radian")),
            values["piston_speed"] * values["bore"],
            values["heat_factor"] / values["bore"],
            *(
                values[name]
                for name in ("leak_per_radian", "crankcase_pressure", "crevice", "wall_enthalpy", "wall_energy", "pressed_before")
            ),
        )
    ):
        table[:, place] = one
    lengths = np.stack([np.broadcast_to(span, (rows,)) for _, span in spans], axis=1)
    first = np.zeros((rows, STATES))
    first[:, 0], first[:, 1] = state["tu"], state["mu"]
    gases = [np.array([float(one[0]) for one in values[name]]) for name in ("unburned", "burned")]
    starts = np.ascontiguousarray(spans[0][0])
    return table, starts, lengths, values["burn_rate"], float(values["form"][0]), first, *gases, np.array(steps)


def compiled(arguments: tuple[Any, ...]) -> dict[str, np.ndarray]:
    """Peak pressure, work and heat loss by the compiled loop."""
    out = np.empty((len(arguments[1]), 3))
    _compiled(*arguments, out)
    return {"peak_pressure": out[:, 0], "work": out[:, 1], "heat_loss": out[:, 2]}


# --- general solvers ---------------------------------------------------------------------------------------------------

#: Where they take the burn up: a hundredth of it on, as its first gas cannot be divided by.
_SEED = 0.01


def one_system(columns: dict[str, np.ndarray], tolerance: float, method: str) -> dict[str, np.ndarray]:
    """Work and pressure at opening by `solve_ivp` on all rows at once: each stretch runs from 0 to 1 for all of them."""
    rows = max(len(one) for one in columns.values())
    values: dict[str, Any] = dict(columns)
    state, spans = cycle._prepare(values, True, "annand", False, rows)
    top = slider_crank.tdc_angle(throw=values["throw"], rod_length=values["rod_length"], offset=values["offset"])
    spans[0] = (spans[0][0], spans[0][1] + _SEED * spans[1][1])
    names = ["tu", "mu", "work", "mc"]
    y = np.stack([np.broadcast_to(state[name], (rows,)) for name in names])
    made: dict[str, np.ndarray] = {}
    for which, (start, span) in enumerate(spans):
        burning = which == 1
        begin = _SEED if burning else 0.0
        if burning:
            share = -np.expm1(-values["completeness"] * (_SEED * span / values["duration"]) ** (values["form"] + 1.0))
            flame = gas.burned_temperature(values["burned"], gas.specific_enthalpy(values["unburned"], y[0]))
            y = np.stack([y[0], y[1] * (1.0 - share), y[2], flame, y[1] * share, y[3]])
            names = ["tu", "mu", "work", "tb", "mb", "mc"]
        if which:
            values |= {"zones": 2, "kindled": True}
        scale = np.maximum(np.abs(y), [[1e-3]] * len(y) if which else 1e-3)
        scale[1] = scale[-1] = values["trapped"]
        if which:
            scale[4] = values["trapped"]

        def slopes(
            place: float, flat: np.ndarray, start=start, span=span, burning=burning, names=names, scale=scale, values=values
        ) -> np.ndarray:
            at = dict(zip(names, flat.reshape(scale.shape) * scale, strict=True))
            phi = start + place * span + top
            volume, slope = cycle._geometry(values, np.sin(phi), np.cos(phi))
            rate = values["burn_rate"] * np.exp(values["form"] * np.log(place)) if burning else None
            found, _, _ = cycle._rates(values, at, volume, slope, rate)
            return (np.stack([found[name] for name in names]) * span / scale).ravel()

        solved = solve_ivp(slopes, (begin, 1.0), (y / scale).ravel(), method=method, rtol=tolerance, atol=tolerance * 1e-3)
        y = solved.y[:, -1].reshape(scale.shape) * scale
    phi = values["opens"] + top
    volume, _ = cycle._geometry(values, np.sin(phi), np.cos(phi))
    made["work"] = y[2]
    made["opening_pressure"] = (y[1] * values["unburned"].constant * y[0] + y[4] * values["burned"].constant * y[3]) / volume
    return made


def one_by_one(columns: dict[str, np.ndarray], rows: int, tolerance: float, slopes: Callable[..., Any]) -> dict[str, np.ndarray]:
    """The same of the first rows, each by LSODA; `slopes` is `_slopes`, compiled or not."""
    table, starts, spans, burn, form, first, u, b, _ = compiled_arguments(columns, cycle.STEPS)
    volume_of = _volume if slopes is _slopes else _volume.py_func
    work, pressure = np.empty(rows), np.empty(rows)
    out = np.empty(STATES)
    for row in range(rows):
        c = table[row]
        y = first[row].copy()
        begin = starts[row]
        kindle = starts[row] + spans[row, 0]
        for which in range(3):
            end = begin + spans[row, which] * (1.0 + 0.0)
            lead = _SEED * spans[row, 1]
            low, high = (begin, end + lead) if which == 0 else (begin + lead, end) if which == 1 else (begin, end)
            if which == 1:
                share = -math.expm1(-5.0 * _SEED**3)
                enthalpy, flame = _h(u, y[0]), 2400.0
                for _ in range(gas.BURNED_STEPS):
                    flame -= (_h(b, flame) - enthalpy) / _cp(b, flame)
                y[2], y[3], y[1] = flame, y[1] * share, y[1] * (1.0 - share)
            kind = (0, 2, 3)[which]
            scale = np.array([1e3, first[row, 1], 1e3, first[row, 1], 1e2, 1e1])

            def at(angle: float, z: np.ndarray, kind=kind, scale=scale, row=row, c=c, kindle=kindle) -> np.ndarray:
                volume, slope = volume_of(c, math.sin(angle), math.cos(angle))
                rate = burn[row] * math.exp(form * math.log((angle - kindle) / spans[row, 1])) if kind == 2 else 0.0
                slopes(kind, z * scale, volume, slope, rate, c, u, b, out)
                return out / scale

            solved = solve_ivp(at, (low, high), y / scale, method="LSODA", rtol=tolerance, atol=tolerance * 1e-3)
            y = solved.y[:, -1] * scale
            begin = end
        volume, _ = _volume(c, math.sin(begin), math.cos(begin))
        work[row], pressure[row] = y[4], (y[1] * u[0] * y[0] + y[3] * b[0] * y[2]) / volume
    return {"work": work, "opening_pressure": pressure}


# --- timing -----------------------------------------------------------------------------------------------------------


def timed(ways: dict[str, Callable[[], Any]], rounds: int) -> dict[str, float]:
    """Median seconds of each way, taken in turn."""
    seen: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(rounds):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            seen[name].append(time.perf_counter() - start)
    return {name: statistics.median(times) for name, times in seen.items()}


def error(made: dict[str, np.ndarray], truth: dict[str, np.ndarray]) -> float:
    """Greatest relative error of work and pressure at opening, over the rows there are."""
    rows = len(made["work"])
    return max(float(np.max(np.abs(made[name] / truth[name][:rows] - 1.0))) for name in ("work", "opening_pressure"))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--rows", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=5)
    arguments = parser.parse_args()
    rows = arguments.rows
    columns = variants(rows)
    half = tuple(2 * count for count in cycle.STEPS)
    truth = ours(columns, tuple(8 * count for count in cycle.STEPS))
    loop = compiled_arguments(columns, half)
    difference = max(float(np.max(np.abs(compiled(loop)[name] / one - 1.0))) for name, one in ours(columns, half).items() if name in _LOOP)
    few = 20
    ways: dict[str, Callable[[], dict[str, np.ndarray]]] = {
        "blocks, 0.5 degree": lambda: ours(columns, half),
        "compiled loop, 0.5 degree": lambda: compiled(loop),
        "blocks, 1 degree": lambda: ours(columns, cycle.STEPS),
        # the tolerance at which it errs by about three times as much as blocks of one degree
        "solve_ivp, one system": lambda: one_system(columns, 5e-8, "RK45"),
        "LSODA one by one": lambda: one_by_one(columns, few, 1e-6, _slopes.py_func),
        "LSODA, its slopes compiled": lambda: one_by_one(columns, few, 1e-6, _slopes),
    }
    errors = {name: error(way(), truth) for name, way in ways.items() if "loop" not in name}
    taken = timed(ways, arguments.rounds)
    each = {name: one / (few if "LSODA" in name else rows) * 1e6 for name, one in taken.items()}
    print(f"{rows} variants, {sum(cycle.STEPS)} steps at 1 degree; the loop differs from the blocks by {difference:.0e}")
    print(f"{'':<28}{'µs a variant':>14}{'error':>10}")
    for name, one in each.items():
        print(f"{name:<28}{one:>14.1f}" + (f"{errors[name]:>10.0e}" if name in errors else ""))
    print()

    def ratio(of: str, to: str) -> float:
        return each[of] / each[to]

    print(f"of the compiled loop, at 0.5 degree: {ratio('blocks, 0.5 degree', 'compiled loop, 0.5 degree'):.2f} (asked: at most 0.9)")
    share = errors["blocks, 1 degree"] / errors["solve_ivp, one system"]
    print(
        f"of solve_ivp as one system, at 1 degree: {ratio('blocks, 1 degree', 'solve_ivp, one system'):.2f} (at most 0.9), "
        f"with {share:.2f} of its error (at most 0.33)"
    )
    for name in ("LSODA one by one", "LSODA, its slopes compiled"):
        faster = ratio(name, "blocks, 1 degree")
        print(f"faster than {name}: {faster:.0f} times, with {errors['blocks, 1 degree'] / errors[name]:.2f} of its error")
    print("(asked: 50 times faster than LSODA one by one, at an error no greater)")


_LOOP = ("peak_pressure", "work", "heat_loss")


if __name__ == "__main__":
    main()
