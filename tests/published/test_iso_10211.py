"""The two-dimensional validation cases of ISO 10211:2017 Annex C, through the program's own section mesh.

The standard asks for temperatures within 0.1 K and a heat flow within 0.1 W/m.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from simulator.section.layout import Face, Region, SectionLayout, Solid, Surface
from simulator.section.operators import SectionOperators, build_operators
from tests.published.conduction import Floats, block, loads_of, steady
from tests.published.registry import Row, check, verify

# Case 1: half a square column, rows 1/8 .. 7/8 of the height from the top, columns at 1/4 .. 1 of the width
# from the cold side. Rounded table of the standard, from memory; its series (below) rounds to all 28 values.
COLUMN_TABLE = [
    [9.7, 13.4, 14.7, 15.1],
    [5.3, 8.6, 10.3, 10.8],
    [3.2, 5.6, 7.0, 7.5],
    [2.0, 3.6, 4.7, 5.0],
    [1.3, 2.3, 3.0, 3.2],
    [0.7, 1.4, 1.8, 1.9],
    [0.3, 0.6, 0.8, 0.9],
]
ROUNDING = 0.05
WIDTH = 10.0
"""The case has no length of its own; this one gives some 20 of the largest cells across."""

# Case 2, read: temperatures [degC] at (x, y) [mm] from the bottom left, and heat flow [W/m].
COMPOSITE = {
    "A": ((0.0, 47.5), 7.1),
    "B": ((500.0, 47.5), 0.8),
    "C": ((0.0, 41.5), 7.9),
    "D": ((15.0, 41.5), 6.3),
    "E": ((500.0, 41.5), 0.8),
    "F": ((0.0, 36.5), 16.4),
    "G": ((15.0, 36.5), 16.3),
    "H": ((0.0, 0.0), 16.8),
    "I": ((500.0, 0.0), 18.3),
}
COMPOSITE_FLOW = 9.5
# The same, recomputed twice independently, by finite volumes (169 000 cells) and quadratic finite elements.
COMPOSITE_RECOMPUTED = [7.064, 0.761, 7.897, 6.272, 0.827, 16.408, 16.3335, 16.767, 18.334]
COMPOSITE_FLOW_RECOMPUTED = 9.4915


def column_series(x: float, depth: float) -> float:
    """Exact temperature at shares x of the half width and depth of the height; T = 20 on top, 0 round it."""
    terms = (
        4.0
        / (m * math.pi)
        * math.sin(m * math.pi * x / 2.0)
        * math.sinh(m * math.pi * (1.0 - depth))
        / math.sinh(m * math.pi)
        for m in range(1, 200, 2)
    )
    return 20.0 * sum(terms)


def column_temperatures(top: float = 20.0) -> Floats:
    """(7, 4) temperatures of our mesh. Its symmetry plane is the column's middle, its side the cold side."""
    operators = block(WIDTH, 2.0 * WIDTH, bottom="temperature", sides=Face("temperature"), cell_scale=0.5)
    cells = steady(operators, loads_of(operators, floor=top))
    field = cells[operators.cell_of]
    y = 0.5 * (operators.mesh.y_lines[1:] + operators.mesh.y_lines[:-1])
    z = 0.5 * (operators.mesh.z_lines[1:] + operators.mesh.z_lines[:-1])
    # Cell centres begin half a cell off the middle: its mirror image lets the middle be read.
    whole = RegularGridInterpolator(
        (np.concatenate((-y[1::-1], y)), z), np.concatenate((field[1::-1], field)), method="cubic"
    )
    return np.array(
        [
            [float(whole((WIDTH * (1.0 - x), 2.0 * WIDTH * j / 8.0))) for x in (0.25, 0.5, 0.75, 1.0)]
            for j in range(1, 8)
        ]
    )


SERIES = np.array([[column_series(x, j / 8.0) for x in (0.25, 0.5, 0.75, 1.0)] for j in range(1, 8)])


def column_rows(ours: Floats) -> Iterator[Row]:
    table = np.array(COLUMN_TABLE)
    excess = float(np.max(np.abs(ours - table)))
    yield Row("ISO 10211 case 1: largest departure of 28 temperatures from the rounded table",
              excess, 0.0, ROUNDING + 0.003, "K", 3)  # fmt: skip
    yield Row("ISO 10211 case 1: middle of the column", ours[3, 3], SERIES[3, 3], 0.005, "degC", 3)
    yield Row("ISO 10211 case 1: beside the hot corner", ours[0, 0], SERIES[0, 0], 0.005, "degC", 3)
    worst = float(np.max(np.abs(ours - SERIES)))
    yield Row("ISO 10211 case 1: largest departure from the series", worst, 0.0, 0.005, "K", 3)


@check("ISO 10211:2017 Annex C, case 1", "table from memory; series recomputed")
def square_column() -> Iterable[Row]:
    return column_rows(column_temperatures())


MM = 1e-3
BOTTOM_FILM = 1e-4
"""Thickness [m] of the layer that stands for the lower film: the model's bottom has none of its own. Its
conductivity is thickness over film resistance; being this thin it carries no heat sideways."""


def composite(insulation: float = 0.029, cell_scale: float = 0.5) -> SectionOperators:
    height = 47.5 * MM
    solids = (
        Solid("insulation", insulation, 1.0),
        Solid("concrete", 1.15, 1.0),
        Solid("wood", 0.12, 1.0),
        Solid("aluminium", 230.0, 1.0),
        Solid("lower film", BOTTOM_FILM / 0.11, 1.0),
    )
    regions = (
        Region(0.0, 0.5, 0.0, height, 0),
        Region(0.0, 0.5, 0.0, 6.0 * MM, 1),
        Region(0.0, 15.0 * MM, 6.0 * MM, 11.0 * MM, 2),
        Region(0.0, 1.5 * MM, 11.0 * MM, height, 3),
        Region(0.0, 15.0 * MM, 11.0 * MM, 12.5 * MM, 3),
        Region(0.0, 0.5, 46.0 * MM, height, 3),
        Region(0.0, 0.5, height, height + BOTTOM_FILM, 4),
    )
    return build_operators(
        SectionLayout(
            y_min=0.0,
            y_max=0.5,
            depth=height + BOTTOM_FILM,
            solids=solids,
            regions=regions,
            surfaces=(Surface("floor", 0.0, 0.5, 1.0 / 0.06),),
            lanes=(),
            bottom=Face("temperature"),
            building_half_width=0.5,
            cell_scale=cell_scale,
        )
    )


def at_corner(operators: SectionOperators, cells: Floats, x: float, depth: float) -> float:
    """Temperature where grid lines cross: the mean of the cells round it, weighted by conductance to it."""
    mesh = operators.mesh
    i, j = int(np.argmin(np.abs(mesh.y_lines - x))), int(np.argmin(np.abs(mesh.z_lines - depth)))
    total = weights = 0.0
    for column in {max(i - 1, 0), min(i, mesh.solid.shape[0] - 1)}:
        if j == 0:
            share = operators.surface_share[column]
            total += share * cells[operators.cell_of[column, 0]]
            weights += 1.0
            continue
        for row in (j - 1, j):
            conductivity = operators.layout.solids[mesh.solid[column, row]].conductivity
            weight = conductivity / (mesh.z_lines[row + 1] - mesh.z_lines[row])
            total += weight * cells[operators.cell_of[column, row]]
            weights += weight
    return float(total / weights)


def composite_rows(operators: SectionOperators) -> Iterator[Row]:
    cells = steady(operators, loads_of(operators, floor=0.0, bottom=20.0))
    flow = float(operators.reading[:, operators.port("floor")] @ cells)
    for (name, ((x, y), published)), fine in zip(COMPOSITE.items(), COMPOSITE_RECOMPUTED, strict=True):
        ours = at_corner(operators, cells, x * MM, (47.5 - y) * MM)
        yield Row(f"ISO 10211 case 2: temperature {name}", ours, published, 0.1, "degC", 2)
        # D and G stand on corners of materials, where the gradient is without bound.
        within = 0.06 if name in "DG" else 0.01
        yield Row(f"ISO 10211 case 2: temperature {name}, fine solution", ours, fine, within, "degC", 3)
    yield Row("ISO 10211 case 2: heat flow", flow, COMPOSITE_FLOW, 0.1, "W/m", 2)
    yield Row("ISO 10211 case 2: heat flow, fine solution", flow, COMPOSITE_FLOW_RECOMPUTED, 0.015, "W/m", 3)


@check("ISO 10211:2017 Annex C, case 2", "read; fine solutions recomputed")
def composite_wall() -> Iterable[Row]:
    return composite_rows(composite())


def test_square_column() -> None:
    square_column.verify()


def test_composite_wall() -> None:
    composite_wall.verify()


def test_series_rounds_to_the_table() -> None:
    np.testing.assert_array_equal(np.round(SERIES, 1), COLUMN_TABLE)


@pytest.mark.parametrize("planted", [{"insulation": 0.031}, {"cell_scale": 4.0}])
def test_a_wrong_conductivity_or_a_coarse_mesh_is_found(planted) -> None:
    with pytest.raises(AssertionError, match="case 2"):
        verify(composite_rows(composite(**planted)))


def test_a_wrong_surface_temperature_is_found() -> None:
    with pytest.raises(AssertionError, match="case 1"):
        verify(column_rows(column_temperatures(top=20.1)))
