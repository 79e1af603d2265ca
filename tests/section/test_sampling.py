"""Maps of the ground: weights from cells to rectangles."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.section.operators import build_operators
from simulator.section.sampling import map_matrix
from tests.section.sections import section


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
