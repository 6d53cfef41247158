"""The rod's elongation against finite elements by a general library (scikit-fem): at its end, and inside."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import skfem
from skfem.helpers import dot, grad

from topend.physics import inertia

SPEED = 12000 * np.pi / 30
THROW, LENGTH, MODULUS, DENSITY = 0.02725, 0.110, 205e9, 7850.0
#: E125 at 12 000 rpm with 0.200 kg on the small end (reference page).
PULL = 10738.309036


def displacement(small: float, end: float, elements: int = 64) -> Any:
    """Displacement [m] along a bar of quadratic elements, from the crankpin (0) to the small end: (E A u')' = -ρ A a(s).

    Held at the crankpin, pulled with F at the small end; a = rω²(1 + λ s/L), what the rod's own mass is slowed down by at TDC.
    """
    mesh = skfem.MeshLine(np.linspace(0.0, LENGTH, elements + 1))
    basis = skfem.Basis(mesh, skfem.ElementLineP2(), intorder=8)

    def area(s: Any) -> Any:
        return end + (small - end) * s / LENGTH

    @skfem.BilinearForm
    def stiffness(u: Any, v: Any, w: Any) -> Any:
        return MODULUS * area(w.x[0]) * dot(grad(u), grad(v))

    @skfem.LinearForm
    def own_mass(v: Any, w: Any) -> Any:
        return DENSITY * area(w.x[0]) * THROW * SPEED**2 * (1.0 + THROW / LENGTH * w.x[0] / LENGTH) * v

    @skfem.LinearForm
    def pull(v: Any, w: Any) -> Any:
        return PULL * v

    small_end = skfem.FacetBasis(mesh, skfem.ElementLineP2(), facets=mesh.facets_satisfying(lambda x: np.isclose(x[0], LENGTH)))
    matrix, load = stiffness.assemble(basis), own_mass.assemble(basis) + pull.assemble(small_end)
    held = basis.get_dofs(lambda x: np.isclose(x[0], 0.0))
    solved = skfem.solve(*skfem.condense(matrix, load, D=held))
    return lambda at: basis.probes(np.array([np.atleast_1d(at)])) @ solved


def rod(**changes: float) -> dict[str, float]:
    made = {"force": PULL, "rod_length": LENGTH, "modulus": MODULUS, "density": DENSITY, "throw": THROW, "crank_speed": SPEED}
    return {**made, **changes}


def test_a_uniform_rod_at_its_end() -> None:
    """And the reference page's figure: 0.05963237984 mm (computed there by sympy and scikit-fem)."""
    solved = float(displacement(120e-6, 120e-6)(LENGTH)[0])
    assert solved * 1e3 == pytest.approx(0.05963237984, abs=5e-11)
    assert float(inertia.rod_elongation(rod_area=120e-6, **rod())) == pytest.approx(solved, rel=1e-9)


@pytest.mark.parametrize("end", [60e-6, 120e-6, 240e-6, 500e-6])
def test_a_tapered_rod_at_its_end(end: float) -> None:
    solved = float(displacement(120e-6, end)(LENGTH)[0])
    assert float(inertia.tapered_rod_elongation(rod_area=120e-6, end_area=end, **rod())) == pytest.approx(solved, rel=1e-8)


@pytest.mark.parametrize("end", [120e-6, 300e-6])
@pytest.mark.parametrize("share", [0.25, 0.5, 0.875])
def test_inside_the_rod(end: float, share: float) -> None:
    """At nodes, where elements in one dimension are at their best.

    What lies beyond a point is a rod of its own: its section runs from there on, and its acceleration is that of a crank whose throw
    and speed give the same at both its ends. Its elongation is what the elements have between that point and the end.
    """
    at = share * LENGTH
    section = end + (120e-6 - end) * share
    ratio = THROW / LENGTH
    inner, outer = 1.0 + ratio * share, 1.0 + ratio
    length = LENGTH - at
    throw = (outer / inner - 1.0) * length
    speed = np.sqrt(THROW * SPEED**2 * inner / throw)
    solved = displacement(120e-6, end)
    beyond = float(solved(LENGTH)[0] - solved(at)[0])
    got = inertia.tapered_rod_elongation(
        rod_area=120e-6, end_area=section, **rod(rod_length=length, throw=float(throw), crank_speed=float(speed))
    )
    assert float(got) == pytest.approx(beyond, rel=1e-7)
    # and the check can fail: without the rod's own mass it is less by far more
    light = inertia.tapered_rod_elongation(
        rod_area=120e-6, end_area=section, **rod(rod_length=length, throw=float(throw), crank_speed=float(speed), density=0.0)
    )
    assert float(light) < beyond * (1.0 - 1e-3)


def test_the_elements_have_settled() -> None:
    """Twice as many elements give the same: what is compared is the bar, not its mesh."""
    fine, coarse = displacement(120e-6, 500e-6, 128), displacement(120e-6, 500e-6)
    for at in (0.25 * LENGTH, LENGTH):
        assert float(coarse(at)[0]) == pytest.approx(float(fine(at)[0]), rel=1e-8)
