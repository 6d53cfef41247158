"""Twelve core outputs of a million invented rows: blocked columns against other ways to the same numbers.

Run: ``python benchmarks/columns.py`` (needs the extra `bench`; ``--rows N``). Every way computes the same twelve outputs from
the same eighteen columns, exact port angles and the true squish-velocity peak among them, and must agree with the others to
1e-12 (the scan of 60 angles: to 1e-2 in the peak). Medians of five, the ways taken in turn; ratios are of one run. Standing
to be reached: at most 0.85 of the numba loop; 3 times faster than whole-array NumPy, 10 times than the scan; two threads
1.5 times one.
"""

from __future__ import annotations

import argparse
import ctypes
import math
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numba
import numpy as np

import topend as te
from topend.evaluation import evaluate_columns
from topend.physics import slider_crank, squish, wiring
from topend.physics.tape import empty_columns

OUTPUTS = (
    "squish_edge",
    "squish_inner",
    "squish_min",
    "clearance_volume",
    "compression_ratio",
    "trapped_compression_ratio",
    "exhaust_opens",
    "exhaust_duration",
    "transfer_duration",
    "blowdown",
    "mean_piston_speed",
    "squish_velocity_peak",
)
#: path -> half of the span it is drawn from, SI
SPANS = {
    "crank.stroke": 1e-3,
    "crank.rod_length": 3e-3,
    "cylinder.bore": 2e-4,
    "cylinder.ports.0.top": 5e-4,
    "cylinder.ports.1.top": 5e-4,
    "piston.crown.rise": 2e-4,
    "piston.diameter": 5e-5,
    "head.recess_offset": 1e-4,
    "head.spigot_diameter": 1e-4,
    "head.chamber_volume": 5e-7,
    "head.band.outer_diameter": 1e-4,
    "head.band.inner_diameter": 1e-3,
    "head.band.angle": 0.01,
    "base_gaskets.0.fitted_thickness": 2e-5,
    "head_gaskets.0.fitted_thickness": 2e-5,
    "head_gaskets.0.opening": 2e-4,
    "deck.clearance": 1e-4,
    "running.crank_speed": 100.0,
}


def sample() -> te.TopEnd:
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm")]),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm"), diameter="47.3 mm"),
        head=te.SpigotHead(
            recess_offset="-1.0 mm",
            spigot_diameter="47.15 mm",
            chamber_volume="6.4 cc",
            band=te.SquishBand(outer_diameter="46.9 mm", inner_diameter="33.0 mm", angle="9 deg"),
        ),
        base_gaskets=[te.Gasket(role="base", thickness="0.50 mm", fitted_thickness="0.50 mm")],
        head_gaskets=[te.Gasket(role="head", thickness="0.30 mm", fitted_thickness="0.30 mm", opening="48.5 mm")],
        deck=te.DeckReading(clearance="1.65 mm", base_thickness="0.50 mm"),
        running=te.Running(crank_speed="11500 rpm"),
    )


def drawn(top: te.TopEnd, rows: int) -> dict[str, Any]:
    draw = np.random.default_rng(20260712)
    columns = {}
    for path, value in top.row.values.items():
        columns[path] = value + SPANS[path] * draw.uniform(-1, 1, rows) if path in SPANS else np.array([value])
    return columns


# --- the rivals: the same formulas, written out once more, for this structure alone --------------------------------------


@numba.njit(cache=False)
def gap(p, edge, rb, slope, h, a, k):
    lean = k * min(p, a)
    return edge + (rb - p) * slope - (h - lean * min(p, a) / (1.0 + math.sqrt(1.0 - lean * lean)))


@numba.njit(cache=False)
def within(p, a, h, k):
    q = min(p, a)
    lean = k * q
    s = lean * q / (1.0 + math.sqrt(1.0 - lean * lean))
    return math.pi * (q * q * (h - 0.5 * s) + s * s * s * (1.0 / 6.0))


@numba.njit(cache=False)
def fused(
    stroke, rod, bore, exhaust, transfer, rise, diameter, offset, spigot, chamber, outer, inner, angle, base, head, opening, deck, speed,
    edge_, inner_, min_, volume_, ratio_, trapped_, opens_, exhaust_, transfer_, blowdown_, mean_, peak_,
):  # fmt: skip
    for i in range(len(stroke)):
        r, long = stroke[i] * 0.5, rod[i]
        c = deck[i] + (base[i] - 0.5e-3)
        area = math.pi / 4.0 * bore[i] * bore[i]
        a = diameter[i] * 0.5
        h = rise[i]
        k = 2.0 * h / (a * a + h * h)
        slope = math.tan(angle[i])
        rb, ri = outer[i] * 0.5, inner[i] * 0.5
        ro = min(outer[i], bore[i]) * 0.5
        edge = c + head[i] + offset[i]

        gi = gap(ri, edge, rb, slope, h, a, k)
        ends = min(rb, a)
        up = max(slope, 0.0)
        turn = min(max(min(up / (k * math.sqrt(1.0 + up * up)), a), ri), ends)
        least = min(gi, gap(ends, edge, rb, slope, h, a, k), gap(turn, edge, rb, slope, h, a, k))
        if ro > a:
            least = min(least, edge + (rb - ro) * slope)
        v_in, v_all = within(ri, a, h, k), math.pi / 6.0 * h * (3.0 * a * a + h * h)
        gasket = math.pi / 4.0 * opening[i] * opening[i] * head[i]
        free = (
            area * max(c, 0.0) + gasket + area * max(offset[i], 0.0)
            + math.pi / 4.0 * diameter[i] * diameter[i] * min(c, 0.0) + math.pi / 4.0 * spigot[i] * spigot[i] * min(offset[i], 0.0)
        )  # fmt: skip
        v = chamber[i] + free - v_all
        v_s = free - math.pi * ri * ri * edge + (rb - ri) * slope * (rb - ri) * (rb + 2.0 * ri) * (math.pi / 3.0) - (v_all - v_in)
        strength = ((area - math.pi * ri * ri) * v - area * v_s) / (2.0 * math.pi * ri)
        travel = 4.0 * long * r / ((long + r) + (long - r))
        drop_e, drop_t = exhaust[i] - c, transfer[i] - c
        reach, span = long + r, long - r
        d = reach - drop_e
        open_e = 2.0 * math.asin(math.sqrt(drop_e * (span + d) / (4.0 * r * d)))
        d = reach - drop_t
        open_t = 2.0 * math.asin(math.sqrt(drop_t * (span + d) / (4.0 * r * d)))
        ch = v / area
        both, product = gi + ch, gi * ch
        x = (math.sqrt(both * both + 12.0 * product) - both) / 6.0
        lam = r / long
        scale = r * (1.0 + lam)
        bend = ((3.0 * lam - 3.0) * lam - 1.0) / (4.0 * scale)
        curl = ((((7.0 * lam + 6.0) * lam - 11.0) * lam - 2.0) * lam - 1.0) / (8.0 * scale * scale)
        for step in range(4):
            if step < 2:
                shape, steep = 0.5 + (bend * x + curl * x * x), bend * x + 2.0 * (curl * x * x)
            else:
                x = min(x, 1.5 * r)
                d = reach - x
                part = span * reach / d
                under_c, under_r = d - part, d + part
                shape = under_c * under_r / ((span + d) * (2.0 * r + under_c)) - x * part / (0.5 * under_r * d)
                steep = 3.0 * (shape - 0.5) - x * (2.0 * bend + curl * x)
            oc, oh = x / (gi + x), x / (ch + x)
            tangent = min(steep, 0.0) - (oc + oh) + (oc * oc + oh * oh)
            factor = 1.0 - (shape - (oc + oh)) / tangent
            x = x * (factor if step < 2 else min(max(factor, 0.25), 4.0))
        d = reach - x
        part = span * reach / d
        under_c, under_r = d - part, d + part
        s_p = speed[i] * (math.sqrt(x * (span + d) * (2.0 * r + under_c) / (4.0 * d)) * d / (0.5 * under_r))
        edge_[i] = edge
        inner_[i] = gi
        min_[i] = least
        volume_[i] = v
        ratio_[i] = (area * travel + v) / v
        trapped_[i] = (area * drop_e + v) / v
        opens_[i] = open_e
        exhaust_[i] = 2.0 * math.pi - 2.0 * open_e
        transfer_[i] = 2.0 * math.pi - 2.0 * open_t
        blowdown_[i] = open_t - open_e
        mean_[i] = travel * speed[i] / math.pi
        peak_[i] = abs(s_p * strength / ((gi + x) * (v + area * x)))


C_SOURCE = r"""
#include <math.h>
#define MIN(a,b) ((a)<(b)?(a):(b))
#define MAX(a,b) ((a)>(b)?(a):(b))
static inline double sagitta(double k,double q){double l=k*q;return l*q/(1.0+sqrt(1.0-l*l));}
static inline double within(double p,double a,double h,double k){double q=MIN(p,a),s=sagitta(k,q);
  return M_PI*(q*q*(h-0.5*s)+s*s*s*(1.0/6.0));}
void fused(long n,
 const double*restrict stroke,const double*restrict rod,const double*restrict bore,const double*restrict exhaust,
 const double*restrict transfer,const double*restrict rise,const double*restrict diameter,const double*restrict offset,
 const double*restrict spigot,const double*restrict chamber,const double*restrict outer,const double*restrict inner,
 const double*restrict angle,const double*restrict base,const double*restrict head,const double*restrict opening,
 const double*restrict deck,const double*restrict speed,
 double*restrict edge_,double*restrict inner_,double*restrict min_,double*restrict volume_,double*restrict ratio_,
 double*restrict trapped_,double*restrict opens_,double*restrict exhaust_,double*restrict transfer_,
 double*restrict blowdown_,double*restrict mean_,double*restrict peak_){
 #pragma omp simd
 for(long i=0;i<n;i++){
  double r=stroke[i]*0.5,L=rod[i],c=deck[i]+(base[i]-0.5e-3),area=M_PI/4.0*bore[i]*bore[i],a=diameter[i]*0.5,h=rise[i];
  double k=2.0*h/(a*a+h*h),t=tan(angle[i]),rb=outer[i]*0.5,ri=inner[i]*0.5,ro=MIN(outer[i],bore[i])*0.5;
  double edge=c+head[i]+offset[i];
  double gi=edge+(rb-ri)*t-(h-sagitta(k,MIN(ri,a)));
  double ends=MIN(rb,a),up=MAX(t,0.0),turn=MIN(MAX(MIN(up/(k*sqrt(1.0+up*up)),a),ri),ends);
  double least=MIN(gi,MIN(edge+(rb-ends)*t-(h-sagitta(k,MIN(ends,a))),edge+(rb-turn)*t-(h-sagitta(k,MIN(turn,a)))));
  least=ro>a?MIN(least,edge+(rb-ro)*t):least;
  double vi=within(ri,a,h,k),va=M_PI/6.0*h*(3.0*a*a+h*h),gasket=M_PI/4.0*opening[i]*opening[i]*head[i];
  double fr=area*MAX(c,0.0)+gasket+area*MAX(offset[i],0.0)+M_PI/4.0*diameter[i]*diameter[i]*MIN(c,0.0)
    +M_PI/4.0*spigot[i]*spigot[i]*MIN(offset[i],0.0);
  double v=chamber[i]+fr-va;
  double vs=fr-M_PI*ri*ri*edge+(rb-ri)*t*(rb-ri)*(rb+2.0*ri)*(M_PI/3.0)-(va-vi);
  double K=((area-M_PI*ri*ri)*v-area*vs)/(2.0*M_PI*ri),travel=4.0*L*r/((L+r)+(L-r));
  double de=exhaust[i]-c,dt=transfer[i]-c,reach=L+r,span=L-r,d=reach-de;
  double oe=2.0*asin(sqrt(de*(span+d)/(4.0*r*d)));d=reach-dt;double ot=2.0*asin(sqrt(dt*(span+d)/(4.0*r*d)));
  double ch=v/area,both=gi+ch,x=(sqrt(both*both+12.0*gi*ch)-both)/6.0,lam=r/L;
  double scale=r*(1.0+lam),bend=((3.0*lam-3.0)*lam-1.0)/(4.0*scale);
  double curl=((((7.0*lam+6.0)*lam-11.0)*lam-2.0)*lam-1.0)/(8.0*scale*scale),shape,steep;
  for(int s=0;s<4;s++){
   if(s<2){shape=0.5+(bend*x+curl*x*x);steep=bend*x+2.0*curl*x*x;}
   else{x=MIN(x,1.5*r);d=reach-x;double part=span*reach/d,uc=d-part,ur=d+part;
    shape=uc*ur/((span+d)*(2.0*r+uc))-x*part/(0.5*ur*d);steep=3.0*(shape-0.5)-x*(2.0*bend+curl*x);}
   double oc=x/(gi+x),oh=x/(ch+x),tangent=MIN(steep,0.0)-(oc+oh)+(oc*oc+oh*oh);
   double f=1.0-(shape-(oc+oh))/tangent;x=x*(s<2?f:MIN(MAX(f,0.25),4.0));}
  d=reach-x;double part=span*reach/d,uc=d-part,ur=d+part;
  double sp=speed[i]*(sqrt(x*(span+d)*(2.0*r+uc)/(4.0*d))*d/(0.5*ur));
  edge_[i]=edge;inner_[i]=gi;min_[i]=least;volume_[i]=v;ratio_[i]=(area*travel+v)/v;trapped_[i]=(area*de+v)/v;opens_[i]=oe;
  exhaust_[i]=2.0*M_PI-2.0*oe;transfer_[i]=2.0*M_PI-2.0*ot;blowdown_[i]=ot-oe;mean_[i]=travel*speed[i]/M_PI;
  peak_[i]=fabs(sp*K/((gi+x)*(v+area*x)));}
}
"""
ARGUMENTS = (
    "crank.stroke",
    "crank.rod_length",
    "cylinder.bore",
    "cylinder.ports.0.top",
    "cylinder.ports.1.top",
    "piston.crown.rise",
    "piston.diameter",
    "head.recess_offset",
    "head.spigot_diameter",
    "head.chamber_volume",
    "head.band.outer_diameter",
    "head.band.inner_diameter",
    "head.band.angle",
    "base_gaskets.0.fitted_thickness",
    "head_gaskets.0.fitted_thickness",
    "head_gaskets.0.opening",
    "deck.clearance",
    "running.crank_speed",
)


def in_c() -> Callable[..., None] | None:
    """The loop in C with glibc's vector math, or None where there is no compiler that can."""
    folder = Path(tempfile.mkdtemp())
    source, library = folder / "fused.c", folder / "fused.so"
    source.write_text(C_SOURCE)
    command = [
        "gcc",
        "-O3",
        "-march=native",
        "-ffast-math",
        "-fopenmp-simd",
        "-shared",
        "-fPIC",
        str(source),
        "-o",
        str(library),
        "-lmvec",
        "-lm",
    ]
    try:
        subprocess.run(command, check=True, capture_output=True)
        function = ctypes.CDLL(str(library)).fused
    except (OSError, subprocess.CalledProcessError):
        return None
    function.argtypes = [ctypes.c_long] + [ctypes.c_void_p] * 30

    def call(*arrays: Any) -> None:
        function(len(arrays[0]), *[array.ctypes.data for array in arrays])

    return call


def whole(structure: wiring.Structure, columns: dict[str, Any]) -> dict[str, Any]:
    return wiring.run(wiring.plan(structure, OUTPUTS), columns)


def scanned(structure: wiring.Structure, columns: dict[str, Any]) -> dict[str, Any]:
    """Whole arrays, the peak taken from the best of 60 angles before TDC."""
    names = (*[name for name in OUTPUTS if name != "squish_velocity_peak"], "squish.strength", "cylinder.bore_area", "crank.throw")
    values = wiring.run(wiring.plan(structure, names), columns)
    best = np.zeros(len(columns["crank.stroke"]))
    crank = {"throw": values["crank.throw"], "rod_length": values["crank.rod_length"], "offset": np.zeros(1)}
    with np.errstate(all="ignore"):
        for angle in np.radians(np.linspace(0.5, 30.0, 60)):
            drop = slider_crank.piston_drop.raw(crank_angle=-np.array([angle]), **crank)
            speed = -slider_crank.piston_speed.raw(crank_angle=-np.array([angle]), crank_speed=values["running.crank_speed"], **crank)
            velocity = squish.squish_velocity.raw(
                drop=drop,
                squish_strength=values["squish.strength"],
                squish_inner=values["squish_inner"],
                clearance_volume=values["clearance_volume"],
                bore_area=values["cylinder.bore_area"],
                piston_speed=speed,
            )
            np.maximum(best, np.abs(velocity), out=best)
    return {**values, "squish_velocity_peak": best}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rows", type=int, default=1_000_000)
    rows = parser.parse_args().rows
    top = sample()
    structure, columns = top.row.structure, drawn(top, rows)
    arrays = [columns[path] for path in ARGUMENTS]
    compiled = in_c()
    outs: list[Any] = []

    def fresh() -> list[Any]:
        # every way gives new arrays, as a caller gets them
        outs[:] = empty_columns(OUTPUTS, rows).values()
        return outs

    def touch() -> None:
        for array in arrays:
            array.max()
        for array in fresh():
            array.fill(1.0)

    ways: dict[str, Callable[[], Any]] = {
        "blocked, one thread": lambda: evaluate_columns(structure, columns, OUTPUTS, judge=False)[0],
        "blocked, one thread, with status": lambda: evaluate_columns(structure, columns, OUTPUTS)[0],
        "blocked, two threads": lambda: evaluate_columns(structure, columns, OUTPUTS, judge=False, threads=2)[0],
        "numba loop, strict, serial": lambda: fused(*arrays, *fresh()),
        "whole-array NumPy": lambda: whole(structure, columns),
        "whole-array NumPy, 60 angles": lambda: scanned(structure, columns),
        "touching the same bytes": touch,
    }
    if compiled is not None:
        ways["C loop, vector math"] = lambda: compiled(*arrays, *fresh())
    truth = ways["blocked, one thread"]()
    for name, tolerance in (("blocked, two threads", 0.0), ("whole-array NumPy", 0.0), ("whole-array NumPy, 60 angles", 1e-2)):
        got = ways[name]()
        for output in OUTPUTS:
            worst = float(np.max(np.abs(got[output] / truth[output] - 1.0)))
            if worst > (tolerance if output == "squish_velocity_peak" else 0.0):
                print(f"{name} disagrees in {output} by {worst:.1e}")
                return 1
    for name in ("numba loop, strict, serial", "C loop, vector math"):
        if name in ways:
            ways[name]()
            for output, result in zip(OUTPUTS, outs, strict=True):
                worst = float(np.max(np.abs(result / truth[output] - 1.0)))
                if not worst < 1e-11:
                    print(f"{name} disagrees in {output} by {worst:.1e}")
                    return 1
    times: dict[str, list[float]] = {name: [] for name in ways}
    for _ in range(5):
        for name, way in ways.items():
            start = time.perf_counter()
            way()
            times[name].append(time.perf_counter() - start)
    base = statistics.median(times["blocked, one thread"])
    print(f"{rows:,} rows, {len(ARGUMENTS)} columns to {len(OUTPUTS)} outputs; medians of five\n")
    print(f"{'way':34s} {'ns a row':>9s}  {'spread':>7s}  {'of blocked':>10s}")
    for name, measured in times.items():
        middle = statistics.median(measured)
        spread = (max(measured) - min(measured)) / middle
        print(f"{name:34s} {middle / rows * 1e9:9.1f}  {spread:6.0%}  {middle / base:10.2f}")
    middle = {name: statistics.median(measured) for name, measured in times.items()}
    print()
    print(f"blocked / numba            {base / middle['numba loop, strict, serial']:.2f}   (asked: at most 0.85)")
    print(f"whole-array / blocked      {middle['whole-array NumPy'] / base:.2f}   (asked: at least 3)")
    print(f"60 angles / blocked        {middle['whole-array NumPy, 60 angles'] / base:.1f}   (asked: at least 10)")
    print(f"one thread / two threads   {base / middle['blocked, two threads']:.2f}   (asked: at least 1.5)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
