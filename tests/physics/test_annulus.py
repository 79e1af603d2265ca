"""Friction and film between two pipes against the eigenvalue problem, exact friction and limits."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.linalg import eigh

from simulator.physics import annulus_kernels as kernels
from simulator.physics import internal_flow

PRANDTL = 0.7


def eigenvalue_nusselt(ratio: float, *, inner: bool, cells: int = 700) -> float:
    """Developed laminar Nusselt number from the slowest mode of an annulus with one insulated wall.

    Finite volumes in radius, exact laminar profile, second order: within 1e-4 at 700 cells.
    """
    edges = np.linspace(ratio, 1.0, cells + 1)
    middle = 0.5 * (edges[1:] + edges[:-1])
    width = edges[1] - edges[0]
    velocity = 1.0 - middle**2 + (1.0 - ratio**2) / np.log(1.0 / ratio) * np.log(middle)
    velocity /= np.sum(velocity * middle) / np.sum(middle)
    links = edges[1:-1] / width
    diagonal = np.zeros(cells)
    diagonal[:-1] += links
    diagonal[1:] += links
    wall = edges[0] if inner else edges[-1]
    diagonal[0 if inner else -1] += 2.0 * wall / width
    conductance = np.diag(diagonal) - np.diag(links, 1) - np.diag(links, -1)
    weights = velocity * middle * width
    scaled = conductance / np.sqrt(weights[:, np.newaxis] * weights[np.newaxis, :])
    decay = float(eigh(scaled, eigvals_only=True, subset_by_index=[0, 0])[0])
    return decay * float(np.sum(weights)) / wall * 2.0 * (1.0 - ratio)


@pytest.mark.parametrize(
    ("ratio", "inner", "outer"),
    # Kays and Crawford's table, from memory; the eigenvalues give the same to its digits.
    [(0.05, 17.46, 4.06), (0.10, 11.56, 4.11), (0.25, 7.37, 4.23), (0.50, 5.74, 4.43), (1.0, 4.86, 4.86)],
)
def test_developed_laminar_table(ratio, inner, outer) -> None:
    assert kernels.developed_laminar_nusselt(ratio, True) == pytest.approx(inner, abs=6e-3)
    assert kernels.developed_laminar_nusselt(ratio, False) == pytest.approx(outer, abs=6e-3)


@pytest.mark.parametrize("ratio", [0.025, 0.06, 0.12, 0.2, 0.32, 0.67, 0.82, 0.95])
@pytest.mark.parametrize("inner", [True, False])
def test_between_the_rows_it_follows_the_eigenvalue(ratio, inner) -> None:
    expected = eigenvalue_nusselt(ratio, inner=inner)
    assert kernels.developed_laminar_nusselt(ratio, inner) == pytest.approx(expected, rel=0.006)


@given(ratio=st.floats(0.01, 0.999))
def test_laminar_friction_is_exact(ratio) -> None:
    # Laminar flow in an annulus (Lamb): f Re = 64 (1 - r)^2 / (1 + r^2 + (1 - r^2) / ln r).
    exact = 64.0 * (1.0 - ratio) ** 2 / (1.0 + ratio**2 + (1.0 - ratio**2) / np.log(ratio))
    # In the gap's limit the closed form itself loses digits.
    assert kernels.annulus_friction(1000.0, 0.0, ratio) * 1000.0 == pytest.approx(exact, rel=1e-5)


def test_narrow_gap_is_the_parallel_plate() -> None:
    # 96 / Re for plates, exact.
    assert kernels.annulus_friction(1000.0, 0.0, 0.99999) * 1000.0 == pytest.approx(96.0, rel=1e-6)


@pytest.mark.parametrize("reynolds", [1e4, 5e4, 2e5])
@pytest.mark.parametrize("ratio", [0.3, 0.75])
def test_turbulent_friction_at_the_reduced_reynolds_number(reynolds, ratio) -> None:
    # Jones and Leung (1981); the library solves Colebrook at the same reduced Reynolds number.
    expected = fluids.friction.Colebrook(reynolds / kernels.laminar_shape(ratio), 0.002)
    assert kernels.annulus_friction(reynolds, 0.002, ratio) == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("reynolds", [1e4, 1e5])
def test_turbulent_film_by_petukhov_and_roizen(reynolds) -> None:
    pipe = float(internal_flow.local_nusselt_over(reynolds, PRANDTL, 0.05, 1.0, 2.0))
    inner = kernels.nusselt_over(reynolds, PRANDTL, 0.5, 0.05, 1.0, 2.0, True)
    outer = kernels.nusselt_over(reynolds, PRANDTL, 0.5, 0.05, 1.0, 2.0, False)
    # 0.86 * 0.5^-0.16 = 0.9609 and 1 - 0.14 * 0.5^0.6 = 0.9076, by hand.
    assert inner / pipe == pytest.approx(0.9609, abs=1e-4)
    assert outer / pipe == pytest.approx(0.9076, abs=1e-4)


@pytest.mark.parametrize("inner", [True, False])
@pytest.mark.parametrize("ratio", [0.1, 0.5, 0.75, 0.95])
@pytest.mark.parametrize("begin", [0.0, 2.0])
def test_nusselt_has_no_jump_between_0_and_200000(inner, ratio, begin) -> None:
    sweep = np.concatenate(([0.0], np.geomspace(1e-3, 2e5, 20000)))
    found = np.array(
        [kernels.nusselt_over(r, PRANDTL, ratio, 0.05, begin, begin + 0.5, inner) for r in sweep.tolist()]
    )
    assert np.all(np.isfinite(found))
    assert np.max(np.abs(np.diff(found)) / found[:-1]) < 0.006
    assert found[0] == pytest.approx(kernels.developed_laminar_nusselt(ratio, inner))


@pytest.mark.parametrize("ratio", [0.05, 0.75])
def test_friction_has_no_jump_between_0_and_200000(ratio) -> None:
    sweep = np.geomspace(1e-3, 2e5, 20000)
    pull = np.array([kernels.annulus_friction(r, 0.01, ratio) * r for r in sweep.tolist()])
    assert np.all(np.isfinite(pull))
    assert np.max(np.abs(np.diff(pull)) / pull[:-1]) < 0.006


@given(
    reynolds=st.floats(1.0, 2e5),
    ratio=st.floats(0.05, 0.95),
    cut=st.floats(0.05, 5.9),
)
def test_pieces_add_up_to_the_whole(reynolds, ratio, cut) -> None:
    whole = kernels.nusselt_over(reynolds, PRANDTL, ratio, 0.05, 0.0, 6.0, True) * 6.0
    pieces = kernels.nusselt_over(reynolds, PRANDTL, ratio, 0.05, 0.0, cut, True) * cut
    pieces += kernels.nusselt_over(reynolds, PRANDTL, ratio, 0.05, cut, 6.0, True) * (6.0 - cut)
    # Laminar pieces are held up to the developed value where the correlation of the mean dips under it.
    assert whole * (1.0 - 1e-9) <= pieces <= whole * (1.0 + (1e-9 if reynolds >= 4000.0 else 0.03))


def test_reynolds_number_by_hand() -> None:
    # Mean velocity m / (rho A), times hydraulic diameter, over kinematic viscosity.
    inner, outer, flow, mu, rho = 0.15, 0.2, 0.03, 2e-5, 1.1
    velocity = flow / (rho * np.pi / 4.0 * (outer**2 - inner**2))
    expected = rho * velocity * (outer - inner) / mu
    assert kernels.annulus_reynolds(-flow, mu, inner, outer) == pytest.approx(expected)
