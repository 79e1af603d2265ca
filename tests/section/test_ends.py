"""What lies behind the bottom and the sides: which cells it meets, and through what, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.section.operators import build_operators
from tests.section.sections import CONCRETE, SAND, section

LAYERS = [(CONCRETE, 0.5), (SAND, 1.5)]


def joined(op, name: str) -> np.ndarray:
    return np.flatnonzero(op.injection[:, op.port(name)])


def test_bottom_meets_the_lowest_cells_through_half_of_them() -> None:
    op = build_operators(section([], width=(-1.0, 1.5), layers=LAYERS, bottom="temperature"))
    width, height = np.diff(op.mesh.y_lines), np.diff(op.mesh.z_lines)
    cells = joined(op, "bottom")
    np.testing.assert_allclose(op.cell_depth[cells], 2.0 - 0.5 * height[-1])
    assert cells.size == width.size
    # k w / (h/2) of each; nothing at the sides.
    by_hand = SAND.conductivity * width / (0.5 * height[-1])
    np.testing.assert_allclose(op.injection[cells, op.port("bottom")], by_hand)
    np.testing.assert_allclose(op.reading[cells, op.port("bottom")], by_hand)
    assert op.conductance[op.port("bottom")] == pytest.approx(by_hand.sum())
    assert joined(op, "sides").size == 0
    assert op.conductance[op.port("sides")] == 0.0


@pytest.mark.parametrize("mirrored", [False, True])
def test_sides_meet_the_outermost_cells_of_each_layer(mirrored: bool) -> None:
    low = 0.0 if mirrored else -1.0
    op = build_operators(
        section([(0.4, 0.3, 0.05)], width=(low, 1.2), layers=LAYERS, sides="temperature", mirrored=mirrored)
    )
    width, height = np.diff(op.mesh.y_lines), np.diff(op.mesh.z_lines)
    cells = joined(op, "sides")
    right = 1.2 - 0.5 * width[-1]
    left = low + 0.5 * width[0]
    expected = [right] if mirrored else [left, right]
    np.testing.assert_allclose(np.unique(op.cell_across[cells].round(9)), expected, atol=1e-8)
    assert cells.size == len(expected) * height.size
    for place, size in ((right, width[-1]), (left, width[0]))[: len(expected)]:
        here = cells[np.abs(op.cell_across[cells] - place) < 1e-9]
        k = np.where(op.cell_depth[here] < 0.5, CONCRETE.conductivity, SAND.conductivity)
        order = np.argsort(op.cell_depth[here])
        by_hand = (k / (0.5 * size))[order] * height
        np.testing.assert_allclose(op.injection[here[order], op.port("sides")], by_hand)
    assert joined(op, "bottom").size == 0


def test_ends_conduct_with_the_outermost_solid_however_thin() -> None:
    # Films of a tenth of a millimetre are cut into one cell: k w / (h/2) with their own conductivity.
    thin = 1e-4
    bottom = build_operators(section([], layers=[(SAND, 2.0 - thin), (CONCRETE, thin)], bottom="temperature"))
    assert np.diff(bottom.mesh.z_lines)[-1] == pytest.approx(thin, rel=1e-6)
    assert bottom.conductance[bottom.port("bottom")] == pytest.approx(
        CONCRETE.conductivity * 2.0 / (0.5 * thin), rel=1e-6
    )
    patches = [(CONCRETE, -1.0, -1.0 + thin, 0.0, 2.0), (CONCRETE, 1.0 - thin, 1.0, 0.0, 2.0)]
    sides = build_operators(section([], patches=patches, sides="temperature"))
    assert sides.conductance[sides.port("sides")] == pytest.approx(
        2.0 * CONCRETE.conductivity * 2.0 / (0.5 * thin), rel=1e-6
    )


def test_heat_flow_through_the_bottom_is_shared_by_width() -> None:
    op = build_operators(section([], width=(-1.0, 1.5), layers=LAYERS, bottom="heat flow"))
    cells = joined(op, "bottom")
    np.testing.assert_allclose(op.cell_depth[cells].min(), op.cell_depth.max())
    np.testing.assert_allclose(op.injection[cells, op.port("bottom")], np.diff(op.mesh.y_lines))
    assert not op.reading[:, op.port("bottom")].any()
    # A steady flux q under a film h: the surface stands q/h above the air, each layer drops q dz/k.
    loads = np.zeros(op.injection.shape[1])
    loads[op.port("bottom")] = 2.0
    field = np.linalg.solve(op.stiffness.toarray(), op.injection @ loads)
    depth = op.cell_depth
    drop = np.minimum(depth, 0.5) / CONCRETE.conductivity + np.maximum(depth - 0.5, 0.0) / SAND.conductivity
    np.testing.assert_allclose(field, 2.0 * (1.0 / 8.0 + drop), rtol=1e-9)


def test_surface_share_is_that_of_half_cell_and_film() -> None:
    # Two resistances in series: the surface lies nearer to the side of the better conductor.
    op = build_operators(section([(0.0, 0.3, 0.05)], layers=LAYERS, film=8.0))
    half = 0.5 * np.diff(op.mesh.z_lines)[0] / CONCRETE.conductivity
    np.testing.assert_allclose(op.surface_share, (1.0 / 8.0) / (1.0 / 8.0 + half), rtol=1e-12)
    np.testing.assert_allclose(op.floor_widths, np.diff(op.mesh.y_lines))
    np.testing.assert_allclose(op.cell_across[op.floor_cells], op.floor_centres)
    assert np.all(np.diff(op.floor_centres) > 0.0)


def test_cells_carry_the_water_of_their_ground() -> None:
    wet = type(SAND)("wet", 1.5, 2.0e6, 0.25)
    layers = [(CONCRETE, 0.5), (wet, 1.5)]
    op = build_operators(section([(0.0, 1.0, 0.1), (-1.0, 1.4, 0.1)], layers=layers))
    area = 2.0 * 1.5 - 1.5 * np.pi * 0.1**2
    assert op.water.sum() == pytest.approx(0.25 * area, rel=1e-6)
    deep = op.cell_depth > 0.55
    np.testing.assert_allclose(op.water[deep], 0.25 / 2.0e6 * op.capacity[deep])
    assert not op.water[op.cell_depth < 0.45].any()
    inside = op.capacity_under_floor
    np.testing.assert_array_equal(inside, op.capacity)
