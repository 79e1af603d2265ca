"""Where a layout's grid is fine, and through which places its lines pass."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from simulator.section.layout import Region, SectionLayout, Surface
from simulator.section.mesh import (
    LARGEST_CELL,
    FineSpot,
    build_mesh,
    graded_lines,
    grid_lines,
    solid_at,
)
from tests.section.sections import CONCRETE, FOAM, SAND, section

ROUNDING = 1.25
"""A stretch holds a whole number of cells, so its cells may come out so much larger."""


REACH = (1.5 / 2.0e6 * 60.0) ** 0.5
"""How deep a change of temperature gets into sand within a minute [m]: sqrt(a t), 6.7 mm."""
CORNER = 0.1 * 1.5 / 25.0
"""A tenth of conductivity over film outside [m], 6 mm: where two films meet the field bends within that."""


def beside(**changes: object) -> SectionLayout:
    """A floor from -1 to 1 m, walls of 0.2 m, ground to 3 m on both sides with its surface 0.1 m lower."""
    layout = SectionLayout(
        y_min=-3.0, y_max=3.0, depth=2.0, solids=(SAND, CONCRETE),
        regions=(Region(-3.0, 3.0, 0.0, 2.0, 0), Region(-1.0, 1.0, 0.0, 0.09, 1)),
        surfaces=(
            Surface("floor", -1.0, 1.0, 8.0), Surface("outside", 1.2, 3.0, 25.0),
            Surface("outside", -3.0, -1.2, 25.0),
        ),
        lanes=(), surface_level_outside=0.1, building_half_width=1.0,
    )  # fmt: skip
    return dataclasses.replace(layout, **changes)


def cell_at(lines: np.ndarray, place: float) -> float:
    """Largest of the cells that touch a place."""
    sizes = np.diff(lines)
    near = (lines[:-1] <= place + 1e-9) & (lines[1:] >= place - 1e-9)
    return float(sizes[near].max())


def assert_line(lines: np.ndarray, place: float) -> None:
    assert np.abs(lines - place).min() < 1e-9


def test_surfaces_and_corners_are_fine() -> None:
    y, z = grid_lines(beside())
    assert (y[0], y[-1], z[0], z[-1]) == (-3.0, 3.0, 0.0, 2.0)
    for place in (-1.2, -1.0, 1.0, 1.2):
        assert_line(y, place)
        assert cell_at(y, place) <= CORNER
    assert_line(z, 0.09)
    assert_line(z, 0.1)
    # The strip between slab and outside level is a centimetre; both surfaces are exposed.
    assert cell_at(z, 0.0) <= REACH
    assert cell_at(z, 0.1) <= REACH
    # Away from everything cells have grown, but not past the largest.
    assert 0.15 < np.diff(z).max() <= ROUNDING * LARGEST_CELL
    assert 0.15 < np.diff(y).max() <= ROUNDING * LARGEST_CELL


def test_without_ground_beside_it_the_floor_has_no_corners() -> None:
    y, z = grid_lines(section([], width=(-1.0, 1.0)))
    assert np.diff(y).min() > 0.05
    assert cell_at(z, 0.0) <= REACH


def test_level_ground_outside_adds_no_line() -> None:
    _, z = grid_lines(beside(surface_level_outside=0.0))
    assert np.abs(z - 0.1).min() > 1e-6


@pytest.mark.parametrize("thickness", [0.003, 0.03, 0.3])
def test_layers_have_three_cells_or_more(thickness: float) -> None:
    layers = [(CONCRETE, 0.2), (FOAM, thickness), (SAND, 1.8 - thickness)]
    _, z = grid_lines(section([], layers=layers))
    inside = (z[:-1] > 0.2 - 1e-9) & (z[1:] < 0.2 + thickness + 1e-9)
    assert 3 <= int(inside.sum()) <= 8
    assert np.diff(z)[inside].max() <= ROUNDING * thickness / 3.0


def test_patches_have_three_cells_or_more_each_way() -> None:
    y, z = grid_lines(section([], patches=[(FOAM, 0.3, 0.36, 0.5, 0.53)]))
    for lines, low, high in ((y, 0.3, 0.36), (z, 0.5, 0.53)):
        assert_line(lines, low)
        assert_line(lines, high)
        inside = (lines[:-1] > low - 1e-9) & (lines[1:] < high + 1e-9)
        assert 3 <= int(inside.sum()) <= 6


def test_ducts_have_lines_through_centre_and_rim_and_cells_of_a_sixth() -> None:
    # With room the rim is twice the pipe: 0.1 m, cells of 0.1 / 6 within.
    y, z = grid_lines(section([(0.3, 0.7, 0.05)]))
    for lines, centre in ((y, 0.3), (z, 0.7)):
        for place in (centre - 0.1, centre, centre + 0.1):
            assert_line(lines, place)
        inside = (lines[:-1] > centre - 0.1 - 1e-9) & (lines[1:] < centre + 0.1 + 1e-9)
        assert int(inside.sum()) == 12
        np.testing.assert_allclose(np.diff(lines)[inside], 0.1 / 6.0, rtol=0.01)
        # Just beyond they grow: 0.2 of the distance.
        outside = np.flatnonzero(lines >= centre + 0.1 - 1e-9)[0]
        assert np.diff(lines)[outside] <= ROUNDING * (0.1 / 6.0 + 0.2 * 0.03)


@pytest.mark.parametrize(
    ("layout", "alike"),
    [
        pytest.param(section([(-0.4, 0.5, 0.05), (0.4, 0.5, 0.05)]), True, id="pair"),
        pytest.param(section([(-0.4, 0.5, 0.05), (0.4, 0.7, 0.05)]), False, id="not at one depth"),
        pytest.param(section([(-0.4, 0.5, 0.05), (0.5, 0.5, 0.05)]), False, id="not at one distance"),
        pytest.param(section([], width=(-1.0, 1.0)), True, id="no ducts"),
        pytest.param(section([], width=(-1.0, 1.5)), False, id="wider on one side"),
        pytest.param(section([], width=(0.0, 1.0), mirrored=True), False, id="half of a floor"),
    ],
)
def test_the_middle_is_a_line_where_both_halves_are_alike(layout: SectionLayout, alike: bool) -> None:
    # Largest cells of 0.5 m and no fine spot: nothing else puts a line exactly there, save chance.
    y, _ = grid_lines(dataclasses.replace(layout, cell_scale=0.83))
    has_line = bool(np.abs(y).min() < 1e-9)
    if alike:
        assert has_line
        np.testing.assert_allclose(y, -y[::-1], atol=1e-9)
    elif layout.y_min < 0.0:
        assert not has_line


def test_places_nearer_than_a_micrometre_are_one() -> None:
    lines = graded_lines([0.0, 0.5, 0.5 + 5e-7, 1.0], [], 1.0)
    np.testing.assert_allclose(lines, [0.0, 0.5, 1.0], atol=1e-6)
    assert graded_lines([0.0, 0.5, 0.5 + 5e-6, 1.0], [], 1.0).size == 4


def test_cells_of_equal_size_where_nothing_is_fine() -> None:
    # 2.2 m in cells of at most 0.5 m: five of 0.44 m; 2.05 m are four, a fifth of a cell being let off.
    np.testing.assert_allclose(np.diff(graded_lines([0.0, 2.2], [], 1.0)), 0.44, rtol=1e-9)
    np.testing.assert_allclose(np.diff(graded_lines([0.0, 2.05], [], 1.0)), 0.5125, rtol=1e-9)
    np.testing.assert_allclose(np.diff(graded_lines([0.0, 2.2], [], 0.5)), 2.2 / 9.0, rtol=1e-9)
    np.testing.assert_allclose(np.diff(graded_lines([0.0, 2.2], [], 1.0, largest=0.1)), 0.1, rtol=1e-9)


def test_cells_grow_by_a_fifth_of_the_distance() -> None:
    # Number of cells from a spot of 0.01 to 2 m: integral of dx / (0.01 + 0.2 x) = 5 ln(1 + 20 x / 1).
    lines = graded_lines([0.0, 2.0], [FineSpot(0.0, 0.0, 0.01)], 1.0)
    assert lines.size - 1 == pytest.approx(np.log(1.0 + 0.2 * 2.0 / 0.01) / 0.2, abs=1.0)
    assert lines[1] == pytest.approx(0.01, rel=0.25)
    assert 2.0 - lines[-2] == pytest.approx(0.01 + 0.2 * 1.8, rel=0.15)
    # The same seen from the other end, and from a stretch in the middle.
    other = graded_lines([0.0, 2.0], [FineSpot(2.0, 2.0, 0.01)], 1.0)
    np.testing.assert_allclose(other, 2.0 - lines[::-1], atol=1e-9)
    both = graded_lines([0.0, 4.1], [FineSpot(2.0, 2.1, 0.01)], 1.0)
    assert int(((both > 2.0 + 1e-9) & (both < 2.1 - 1e-9)).sum()) == pytest.approx(9, abs=1)


def test_what_lies_above_the_ground_outside_is_nothing() -> None:
    mesh = build_mesh(beside())
    y = 0.5 * (mesh.y_lines[1:] + mesh.y_lines[:-1])
    z = 0.5 * (mesh.z_lines[1:] + mesh.z_lines[:-1])
    air = (np.abs(y)[:, None] > 1.0) & (z[None, :] < 0.1)
    np.testing.assert_array_equal(mesh.solid < 0, air)
    slab = (np.abs(y)[:, None] < 1.0) & (z[None, :] < 0.09)
    np.testing.assert_array_equal(mesh.solid == 1, slab)
    assert int(solid_at(beside(), np.array(0.0), np.array(5.0))) == -1
    # Edges belong to the rectangle that begins there.
    assert solid_at(beside(), np.array([0.999, 1.0, -1.0]), np.array(0.05)).tolist() == [1, 0, 1]
    assert solid_at(beside(), np.array(0.0), np.array([0.0899, 0.09])).tolist() == [1, 0]
