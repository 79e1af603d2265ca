"""Maps of the ground: weights from cells to rectangles."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.section.layout import Lane, Region, SectionLayout, Surface
from simulator.section.operators import build_operators
from simulator.section.sampling import map_matrix
from tests.section.sections import SAND, section


@pytest.mark.parametrize("lanes", [[], [(0.0, 0.5, 0.05)], [(-1.0, 0.5, 0.05), (0.3, 0.25, 0.1)]])
def test_a_plane_of_temperature_is_drawn_as_it_is(lanes: list[tuple[float, float, float]]) -> None:
    """Linear interpolation reproduces a linear field everywhere but inside the pipes."""
    op = build_operators(section(lanes))
    matrix = map_matrix(op)
    np.testing.assert_allclose(matrix.sum(axis=1), 1.0, rtol=1e-12)
    assert matrix.min() >= -1e-12
    y = 0.5 * (op.mesh.y_lines[1:] + op.mesh.y_lines[:-1])
    z = 0.5 * (op.mesh.z_lines[1:] + op.mesh.z_lines[:-1])
    drawn = (matrix @ (3.0 * op.cell_across - 2.0 * op.cell_depth)).reshape(y.size, z.size)
    error = np.abs(drawn - (3.0 * y[:, None] - 2.0 * z[None, :]))
    for lane in op.layout.lanes:
        pipe = np.hypot(y[:, None] - lane.across, z[None, :] - lane.depth) < 1.05 * lane.outside_radius
        assert error[pipe].max() < 3.7 * lane.outside_radius
        error[pipe] = 0.0
    assert error.max() < 0.02


def test_half_a_section_is_drawn_up_to_its_plane() -> None:
    """A field that is alike on both sides, linear on each: only across the plane a corner is cut."""
    lanes = [(0.0, 0.5, 0.05), (0.45, 0.3, 0.08)]
    op = build_operators(section(lanes, width=(0.0, 1.0), mirrored=True))
    matrix = map_matrix(op)
    np.testing.assert_allclose(matrix.sum(axis=1), 1.0, rtol=1e-12)
    y = 0.5 * (op.mesh.y_lines[1:] + op.mesh.y_lines[:-1])
    z = 0.5 * (op.mesh.z_lines[1:] + op.mesh.z_lines[:-1])
    drawn = (matrix @ (3.0 * op.cell_across - 2.0 * op.cell_depth)).reshape(y.size, z.size)
    error = np.abs(drawn - (3.0 * y[:, None] - 2.0 * z[None, :]))
    for across, depth, radius in lanes:
        error[np.hypot(y[:, None] - across, z[None, :] - depth) < 1.05 * radius] = 0.0
    assert error.max() < 0.03
    assert error[y > 0.02].max() < 0.01


def test_inside_a_pipe_the_mean_round_it_is_drawn() -> None:
    op = build_operators(section([(0.0, 0.5, 0.1), (0.5, 0.9, 0.05)]))
    matrix = map_matrix(op)
    y = 0.5 * (op.mesh.y_lines[1:] + op.mesh.y_lines[:-1])
    z = 0.5 * (op.mesh.z_lines[1:] + op.mesh.z_lines[:-1])
    # Warm wall cells of one pipe show in that pipe alone, and wholly.
    for number, lane in enumerate(op.layout.lanes):
        first = int(op.first_ring_cell[number])
        warm = np.zeros(op.cells)
        warm[first : first + op.rings[number].sectors] = 1.0
        drawn = (matrix @ warm).reshape(y.size, z.size)
        for other in op.layout.lanes:
            inside = np.hypot(y[:, None] - other.across, z[None, :] - other.depth) < other.outside_radius
            np.testing.assert_allclose(drawn[inside], 1.0 if other is lane else 0.0, atol=1e-12)
            assert inside.any()


def test_what_is_no_ground_is_not_drawn() -> None:
    layout = SectionLayout(
        y_min=0.0, y_max=3.0, depth=2.0, solids=(SAND,), regions=(Region(-3.0, 3.0, 0.0, 2.0, 0),),
        surfaces=(Surface("floor", -1.0, 1.0, 8.0), Surface("outside", 1.2, 3.0, 25.0)),
        lanes=(Lane(0.5, 0.6, 0.05, 0.05),), mirrored=True, surface_level_outside=0.3,
        building_half_width=1.0,
    )  # fmt: skip
    op = build_operators(layout)
    weights = np.asarray(map_matrix(op).sum(axis=1)).reshape(op.mesh.solid.shape)
    np.testing.assert_array_equal(weights == 0.0, op.mesh.solid < 0)
    np.testing.assert_allclose(weights[op.mesh.solid >= 0], 1.0, rtol=1e-12)


def test_layers_of_temperature_reach_the_plane_unbent() -> None:
    """Mirror images join the first nodes across the plane: what varies down only is drawn exactly."""
    op = build_operators(section([(0.0, 0.5, 0.05), (0.45, 0.3, 0.08)], width=(0.0, 1.0), mirrored=True))
    y = 0.5 * (op.mesh.y_lines[1:] + op.mesh.y_lines[:-1])
    z = 0.5 * (op.mesh.z_lines[1:] + op.mesh.z_lines[:-1])
    drawn = (map_matrix(op) @ op.cell_depth).reshape(y.size, z.size)
    error = np.abs(drawn - z[None, :])
    for lane in op.layout.lanes:
        error[np.hypot(y[:, None] - lane.across, z[None, :] - lane.depth) < 1.05 * lane.outside_radius] = 0.0
    assert error.max() < 1e-9


def test_inside_a_pipe_nothing_varies() -> None:
    """A wall warm on one side, cold on the other by the cosine: its mean, 0, all over the pipe."""
    op = build_operators(section([(-0.3, 0.5, 0.1), (0.5, 0.9, 0.08)]))
    matrix = map_matrix(op)
    y = 0.5 * (op.mesh.y_lines[1:] + op.mesh.y_lines[:-1])
    z = 0.5 * (op.mesh.z_lines[1:] + op.mesh.z_lines[:-1])
    for number, lane in enumerate(op.layout.lanes):
        ring, first = op.rings[number], int(op.first_ring_cell[number])
        wall = np.zeros(op.cells)
        wall[first : first + ring.sectors] = np.cos(ring.middles)
        drawn = (matrix @ wall).reshape(y.size, z.size)
        inside = np.hypot(y[:, None] - lane.across, z[None, :] - lane.depth) < lane.outside_radius
        assert inside.sum() > 4
        np.testing.assert_allclose(drawn[inside], 0.0, atol=1e-12)
        assert wall.max() > 0.9
