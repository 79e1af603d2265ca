"""Second order in space: layers, films, bottoms, and the near field of ducts, on the graded meshes as
built.

Manufactured solutions (P. J. Roache, J. Fluids Eng. 124 (2002) 4): the exact field of `exact.py` is put in
as its own source, and the error of the solution is watched while `cell_scale` falls. Each check has a twin
with a planted error that must fail it.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve

from simulator.section.layout import Solid
from simulator.section.links import Links
from simulator.section.operators import SectionOperators, build_operators
from tests.section.exact import LayeredMode, RoundDuct
from tests.section.orders import assert_order
from tests.section.sections import UNIFORM_FLUX, section

SCALES = (1.0, 0.5, 0.25, 0.125)
WIDTH = 4.0
UPPER, LOWER = Solid("upper", 2.0, 2.2e6), Solid("lower", 0.5, 1.2e6)
ISOTHERMAL = 1e-9


class Errors(NamedTuple):
    """Relative mean-square error, largest error, error of the surface or wall: all over the field's own
    size.
    """

    mean_square: float
    largest: float
    surface: float


def layered(scale: float, *, film: float = 8.0, upside: float = 0.3) -> SectionOperators:
    return build_operators(
        section(
            [],
            width=(0.0, WIDTH),
            depth=1.0,
            layers=[(UPPER, upside), (LOWER, 1.0 - upside)],
            film=film,
            bottom="temperature",
            mirrored=True,
            cell_scale=scale,
        )
    )


def mode(film: float) -> LayeredMode:
    return LayeredMode(
        (2.0, 0.5), (2.2e6, 1.2e6), edge=0.3, depth=1.0, film=film, wave=math.pi / WIDTH, number=0
    )


def layered_errors(op: SectionOperators, exact: LayeredMode) -> Errors:
    field = exact.at(op.cell_across, op.cell_depth)
    error = spsolve(op.stiffness, exact.rate * op.capacity * field) - field
    size = float(np.abs(field).max())
    floor = op.surface_share * (error + field)[op.floor_cells]
    surface = np.abs(floor - exact.at(op.floor_centres, np.zeros(op.floor_centres.size))).max()
    mean = math.sqrt(float(op.capacity @ error**2) / float(op.capacity @ field**2))
    return Errors(mean, float(np.abs(error).max()) / size, float(surface) / size)


WINDOWS = {"mean_square": (1.8, 2.2), "largest": (1.8, 2.2), "surface": (1.6, 2.5)}
CEILING = 1e-3


@pytest.mark.parametrize("film", [0.0, 1.0, 8.0, 400.0, 1e6])
def test_layers_under_a_film(film: float) -> None:
    errors = [layered_errors(layered(scale, film=film), mode(film)) for scale in SCALES]
    for part, window in WINDOWS.items():
        assert_order(SCALES, [getattr(error, part) for error in errors], window, CEILING)


def _with_stiffness(op: SectionOperators, matrix: sp.sparray) -> SectionOperators:
    entries = sp.coo_array(matrix)
    return dataclasses.replace(op, links=Links(*entries.coords, entries.data))


def _without_half_cell(op: SectionOperators, film: float) -> SectionOperators:
    """Planted: the film acts on cell centres, as if the half cell under the surface did not conduct."""
    wrong = np.zeros(op.cells)
    wrong[op.floor_cells] = film * op.floor_widths - op.reading[op.floor_cells, op.port("floor")]
    return _with_stiffness(op, op.stiffness + sp.diags_array(wrong))


def _with_mean_conductivity(op: SectionOperators, edge: float) -> SectionOperators:
    """Planted: links across the layer edge use the mean of the conductivities instead of half cells in
    series.
    """
    links = op.stiffness.tocoo()
    height = np.diff(op.mesh.z_lines)
    lines = op.mesh.z_lines
    row = int(np.argmin(np.abs(lines - edge)))
    above, below = height[row - 1], height[row]
    series = 1.0 / (0.5 * above / 2.0 + 0.5 * below / 0.5)
    plain = 0.5 * (2.0 + 0.5) / (0.5 * (above + below))
    across = (op.cell_depth[links.row] - edge) * (op.cell_depth[links.col] - edge) < 0.0
    extra = np.where(across, links.data * (plain / series - 1.0), 0.0)
    change = sp.coo_array((extra, (links.row, links.col)), shape=links.shape).tocsc()
    return _with_stiffness(op, op.stiffness + change - sp.diags_array(change.sum(axis=1)))


@pytest.mark.parametrize(
    ("part", "broken"),
    [
        pytest.param(
            "surface", lambda scale: _without_half_cell(layered(scale), 8.0), id="film without half cell"
        ),
        pytest.param(
            "mean_square", lambda scale: _with_mean_conductivity(layered(scale), 0.3), id="mean conductivity"
        ),
        pytest.param("mean_square", lambda scale: layered(scale, upside=0.31), id="edge 1 cm too deep"),
        pytest.param("mean_square", lambda scale: layered(scale, film=8.1), id="film 1 % too large"),
    ],
)
def test_planted_errors_are_found_out(part: str, broken: Callable[[float], SectionOperators]) -> None:
    errors = [getattr(layered_errors(broken(scale), mode(8.0)), part) for scale in SCALES]
    with pytest.raises(AssertionError, match="outside"):
        assert_order(SCALES, errors, WINDOWS[part], CEILING)


RADIUS, DEPTH, FLOW, LEVEL = 0.05, 0.5, 30.0, 10.0


def duct_section(scale: float, levelling: float, *, place: str = "inside") -> SectionOperators:
    width = {"inside": (-0.5, 0.5), "left": (0.0, 0.5), "right": (-0.5, 0.0)}[place]
    lanes = [(0.0, DEPTH, RADIUS)]
    return build_operators(
        section(
            lanes,
            width=width,
            depth=1.0,
            bottom="temperature",
            cell_scale=scale,
            levelling=levelling,
            mirrored=place == "left",
        )
    )


def duct_errors(op: SectionOperators, exact: RoundDuct) -> Errors:
    y, z = op.cell_across, op.cell_depth - DEPTH
    field = exact.at(y, z)
    source = exact.source(y, z) * op.capacity / 2.0e6 + op.injection[:, 0] * FLOW
    solution = spsolve(op.stiffness, source)
    error = solution - field
    wall = float(op.reading[:, 0] @ solution) + float(op.wall_resistance[0]) * FLOW - LEVEL
    size = float(np.abs(field).max())
    mean = math.sqrt(float(op.capacity @ error**2) / float(op.capacity @ field**2))
    return Errors(mean, float(np.abs(error).max()) / size, abs(wall) / size)


@pytest.mark.parametrize("place", ["inside", "left", "right"])
@pytest.mark.parametrize("levelling", [ISOTHERMAL, RADIUS / 1.5, 0.1, UNIFORM_FLUX])
def test_round_duct(levelling: float, place: str) -> None:
    direction = 0.7 if place == "inside" else math.pi / 2.0  # a half duct tilts along its plane only
    exact = RoundDuct(RADIUS, 0.35, 1.5, FLOW, LEVEL, 3.0, direction, levelling)
    sizes = (1.0, 0.5, 0.25)
    errors = [duct_errors(duct_section(scale, levelling, place=place), exact) for scale in sizes]
    # Far from their limit the coarse meshes converge faster than second order: the fade is sharp for them.
    assert_order(sizes, [error.mean_square for error in errors], (1.8, 3.0), 0.004)
    assert_order(sizes, [error.largest for error in errors], (1.7, 3.0), 0.004)
    assert errors[-1].surface < 0.001


def test_round_duct_ends_in_second_order() -> None:
    exact = RoundDuct(RADIUS, 0.35, 1.5, FLOW, LEVEL, 3.0, 0.7, 0.1)
    sizes = (0.5, 0.25, 0.125)
    errors = [duct_errors(duct_section(scale, 0.1), exact) for scale in sizes]
    for part in ("mean_square", "largest", "surface"):
        assert_order(sizes, [getattr(error, part) for error in errors], (1.7, 2.35), 0.001)


def test_wall_without_its_half_ring_is_found_out() -> None:
    exact = RoundDuct(RADIUS, 0.35, 1.5, FLOW, LEVEL, 3.0, 0.7, UNIFORM_FLUX)
    sizes = (0.5, 0.25, 0.125)
    errors = []
    for scale in sizes:
        op = duct_section(scale, UNIFORM_FLUX)
        # Planted: the wall is taken to be as warm as the first ring's middle.
        ring = op.rings[0]
        half_ring = (ring.mean_log[0] - math.log(ring.radii[0])) / (2.0 * math.pi * 1.5)
        broken = dataclasses.replace(op, wall_resistance=op.wall_resistance - half_ring)
        errors.append(duct_errors(broken, exact).surface)
    with pytest.raises(AssertionError, match="outside"):
        assert_order(sizes, errors, (1.7, 2.35), 0.001)


def test_wrong_levelling_round_the_pipe_is_found_out() -> None:
    exact = RoundDuct(RADIUS, 0.35, 1.5, FLOW, LEVEL, 3.0, 0.7, RADIUS / 1.5)
    sizes = (0.5, 0.25)
    errors = [duct_errors(duct_section(scale, UNIFORM_FLUX), exact).largest for scale in sizes]
    with pytest.raises(AssertionError, match="outside"):
        assert_order(sizes, errors, (1.7, 2.35), 0.001)


def test_duct_cut_by_the_edge_of_two_materials() -> None:
    """A field that is round about the duct carries no heat across an edge through its centre, so both sides
    keep it.

    The heat flow is then pi (k1 + k2) / 2 pi k times that of one material of conductivity k.
    """
    upper, lower = Solid("upper", 2.4, 2.0e6), Solid("lower", 0.6, 2.0e6)
    exact = RoundDuct(RADIUS, 0.35, 1.5, FLOW, LEVEL, 0.0, 0.0, ISOTHERMAL)
    sizes, errors = (1.0, 0.5, 0.25), []
    for scale in sizes:
        op = build_operators(
            section(
                [(0.0, DEPTH, RADIUS)],
                width=(-0.5, 0.5),
                depth=1.0,
                layers=[(upper, DEPTH), (lower, 0.5)],
                bottom="temperature",
                cell_scale=scale,
                levelling=ISOTHERMAL,
            )
        )
        y, z = op.cell_across, op.cell_depth - DEPTH
        field = exact.at(y, z)
        k = np.where(z < 0.0, 2.4, 0.6)
        source = exact.source(y, z) * (k / 1.5) * op.capacity / 2.0e6 + op.injection[:, 0] * FLOW
        error = spsolve(op.stiffness, source) - field
        errors.append(math.sqrt(float(op.capacity @ error**2) / float(op.capacity @ field**2)))
    # Cells that the edge cuts take one side's conductivity: first order there, second elsewhere.
    assert_order(sizes, errors, (0.9, 3.0), 0.01)
