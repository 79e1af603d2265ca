"""Heat flow from a slab on the ground, two-dimensional and steady.

Sources: A. E. Delsante, A. N. Stokes and P. J. Walsh, Application of Fourier transforms to periodic heat flow
into the ground under a building, Int. J. Heat Mass Transfer 26 (1983) 121-132 (abstract read; the solution
below re-derived): surface 1 under the slab of width B, falling in a straight line to 0 across the wall of
width W. Here the ramp is laid on the surface cells one by one. In the program itself no heat passes under a
wall (`floor.edge_wall`); that has an exact solution too, by conformal mapping: two surfaces at 1 and 0 with
an adiabatic strip between them carry 2 k K(m)/K(1 - m), m = (B / (B + 2 W))^2, K the complete elliptic
integral (the same function as the capacitance of a coplanar strip line, C. P. Wen, IEEE Trans. MTT 17 (1969)
1087; from memory). ISO 13370 approximates the whole and serves for a rough check only.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from scipy.special import ellipk

from simulator.section.direct import factorise
from simulator.section.layout import Solid, Surface
from simulator.section.operators import SectionOperators
from tests.published.conduction import FIXED, GROUND, block, loads_of, steady
from tests.published.registry import MEMORY, Row, check, verify

K = GROUND.conductivity
FAR = 30.0
"""Half width and depth of the ground over the slab's half width; leaves an error of some 0.5 / FAR^2."""
SHRINK = 4.0
"""Lengths do not matter to heat flow over k dT; smaller ones need fewer of the largest cells, 0.5 m."""
FINE = 0.25
"""Cells at which the two exact solutions are judged. Where two fixed surfaces all but meet, the flux is
without bound and the mesh converges with its first power only; films of real surfaces take that away, as in
the cases of ISO 13370 below."""

# (B, W) [m] -> heat flow over k dT [-], and flux at the middle over k dT [1/m].
RAMP = {(12.0, 0.24): (3.133415, 0.104036), (4.0, 0.30): (2.308933, 0.296584)}
# B, k, resistance of floor and lining Rsi + Rf -> U by ISO 13370 (w 0.3, Rsi 0.17, Rse 0.04), and U of an
# independent finite-volume solution of the same half plane with 54 000 cells.
ISO_13370 = {
    (4.0, 1.5, 0.17): (0.6976, 0.7314),
    (4.0, 2.0, 1.17): (0.4517, 0.4679),
    (8.0, 2.0, 2.67): (0.2185, 0.2259),
}


def ground(slab: float, wall: float, *, cell_scale: float) -> SectionOperators:
    """Half a slab, its wall and the ground outside, all surfaces fixed; the wall is part of the floor."""
    half, edge = slab / 2.0, slab / 2.0 + wall
    far = FAR * half
    surfaces = (
        Surface("floor", -half, half, FIXED),
        Surface("floor", half, edge, FIXED),
        Surface("outside", edge, far, FIXED),
    )
    return block(far, far, surfaces=surfaces, building_half_width=edge, cell_scale=cell_scale)


def ramp_rows(*, steepness: float = 1.0) -> Iterator[Row]:
    for (slab, wall), (total, middle) in RAMP.items():
        operators = ground(slab / SHRINK, wall / SHRINK, cell_scale=FINE)
        across = operators.floor_centres * SHRINK
        surface = np.clip((slab / 2.0 + wall / steepness - across) / (wall / steepness), 0.0, 1.0)
        port = operators.port("floor")
        film = operators.injection[operators.floor_cells, port]
        given = np.zeros(operators.cells)
        given[operators.floor_cells] = film * surface
        cells = factorise(operators.stiffness).solve(given)
        taken = film * (surface - cells[operators.floor_cells])
        under = across < slab / 2.0
        name = f"slab {slab:g} m wide, ramp under a wall of {wall:g} m"
        # Both halves of the slab, over k dT.
        yield Row(
            f"{name}: heat flow", 2.0 * float(taken[under].sum()) / K, total, round(0.0015 * total, 5), "k dT"
        )
        flux = float(taken[0] / operators.floor_widths[0]) / K / SHRINK
        yield Row(f"{name}: flux at the middle", flux, middle, round(0.0015 * middle, 6), "k dT/m", 5)


@check("Delsante, Stokes & Walsh (1983)", "abstract read, recomputed")
def ramp_under_wall() -> Iterable[Row]:
    yield from ramp_rows()


def adiabatic_strip(slab: float, wall: float, cell_scale: float) -> float:
    half, edge = slab / 2.0, slab / 2.0 + wall
    far = FAR * half
    surfaces = (Surface("floor", -half, half, FIXED), Surface("outside", edge, far, FIXED))
    operators = block(far, far, surfaces=surfaces, building_half_width=half, cell_scale=cell_scale)
    cells = steady(operators, loads_of(operators, floor=1.0))
    port = operators.port("floor")
    return 2.0 * float(operators.conductance[port] - operators.reading[:, port] @ cells) / K


def strip_rows(error: float = 0.0) -> Iterator[Row]:
    for slab, wall in RAMP:
        share = (slab / (slab + 2.0 * wall)) ** 2
        exact = 2.0 * float(ellipk(share) / ellipk(1.0 - share))
        ours = adiabatic_strip(slab / SHRINK, (wall + error) / SHRINK, FINE)
        name = f"slab {slab:g} m wide, no heat under a wall of {wall:g} m: heat flow"
        yield Row(name, ours, round(exact, 6), round(0.006 * exact, 5), "k dT")
    ours = adiabatic_strip(slab, wall + error, 1.0)
    yield Row(f"{name}, full size, ordinary cells", ours, round(exact, 6), round(0.011 * exact, 5), "k dT")


@check("two coplanar surfaces with an adiabatic strip between (conformal mapping; Wen 1969)", MEMORY)
def strip_under_wall() -> Iterable[Row]:
    yield from strip_rows()


def standard_u(slab: float, conductivity: float, lining: float) -> float:
    """U of ISO 13370 clause 7 for a long slab, so that B' is its width; wall 0.3 m (formula from memory)."""
    total = 0.3 + conductivity * (lining + 0.04)
    if total < slab:
        return 2 * conductivity / (math.pi * slab + total) * math.log(math.pi * slab / total + 1)
    return conductivity / (0.457 * slab + total)


@check("ISO 13370:2017 clause 7", "from memory; fine solutions recomputed")
def standard_slab() -> Iterable[Row]:
    for (slab, conductivity, lining), (standard, fine) in ISO_13370.items():
        half = slab / 2.0
        far = FAR * half
        surfaces = (
            Surface("floor", -half, half, 1.0 / lining),
            Surface("outside", half + 0.3, far, 1.0 / 0.04),
        )
        solid = Solid("ground", conductivity, 2.0e6)
        operators = block(far, far, surfaces=surfaces, building_half_width=half, solid=solid)
        cells = steady(operators, loads_of(operators, floor=1.0))
        port = operators.port("floor")
        ours = float(operators.conductance[port] - operators.reading[:, port] @ cells) / half
        name = f"U of a slab {slab:g} m wide, k {conductivity:g}, R {lining - 0.17:g}"
        yield Row(name, ours, standard, round(0.06 * standard, 4), "W/(m2.K)")
        yield Row(f"{name}, fine solution", ours, fine, round(0.004 * fine, 5), "W/(m2.K)")


@pytest.mark.parametrize("checked", [ramp_under_wall, strip_under_wall, standard_slab], ids=lambda c: c.name)
def test_slabs(checked) -> None:
    checked.verify()


def test_formulas_give_the_stated_numbers() -> None:
    for (slab, wall), (total, middle) in RAMP.items():
        whole = slab + wall
        flow = whole * math.log(whole) - wall * math.log(wall) - slab * math.log(slab)
        assert 2 / (math.pi * wall) * flow == pytest.approx(total, rel=1e-6)
        assert 2 / (math.pi * wall) * math.log(1 + 2 * wall / slab) == pytest.approx(middle, rel=1e-5)
    for case, (standard, _) in ISO_13370.items():
        assert standard_u(*case) == pytest.approx(standard, abs=6e-5)


def test_planted_errors_are_found() -> None:
    with pytest.raises(AssertionError):
        verify([next(ramp_rows(steepness=1.1))])
    with pytest.raises(AssertionError):
        verify([next(strip_rows(error=0.02))])
