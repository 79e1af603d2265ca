"""Grid lines: through every edge that matters, fine where they must be, and halved by half the scale."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from simulator.section.layout import Region, SectionLayout, Surface
from simulator.section.mesh import GROWTH, FineSpot, build_mesh, graded_lines, solid_at
from tests.examples import examples
from tests.section.sections import CONCRETE, FOAM, SAND, section

QUIET = settings(max_examples=examples(60))
PLACES = st.lists(st.floats(0.0, 5.0), min_size=2, max_size=6).filter(
    lambda found: max(found) - min(found) > 0.01
)
SPOTS = st.lists(
    st.builds(lambda low, size: FineSpot(low, low, size), st.floats(0.0, 5.0), st.floats(0.002, 0.2)),
    max_size=3,
)


@QUIET
@given(PLACES, SPOTS, st.sampled_from([0.5, 1.0, 2.0]))
def test_lines_pass_through_hard_places_and_rise(
    hard: list[float], spots: list[FineSpot], scale: float
) -> None:
    lines = graded_lines(hard, spots, scale)
    assert np.diff(lines).min() > 0.0
    assert lines[0] == min(hard)
    assert np.abs(lines[:, None] - np.array(hard)).min(axis=0).max() <= 1e-6


@QUIET
@given(PLACES, SPOTS)
@example([0.0, 4.5], [FineSpot(2.0, 2.0, 0.002)])
def test_no_cell_outgrows_the_size_function(hard: list[float], spots: list[FineSpot]) -> None:
    """Sizes stay under the function's largest value in the cell, but for rounding cell counts (0.2 of a
    cell).
    """
    lines = graded_lines(hard, spots, 1.0, largest=0.5)
    for low, high in pairwise(lines):
        allowed = 0.5
        for spot in spots:
            far = max(abs(low - spot.low), abs(high - spot.low))
            allowed = min(allowed, spot.size + GROWTH * far)
        assert high - low <= 1.25 * allowed + 1e-9


def test_half_the_scale_doubles_the_lines() -> None:
    spots = [FineSpot(0.0, 0.0, 0.005), FineSpot(0.4, 0.5, 0.02)]
    counts = [graded_lines([0.0, 0.4, 0.5, 2.0], spots, scale).size - 1 for scale in (1.0, 0.5, 0.25)]
    assert counts[1] == pytest.approx(2 * counts[0], rel=0.1)
    assert counts[2] == pytest.approx(4 * counts[0], rel=0.1)


def test_lines_fall_on_layers_patches_and_duct_centres() -> None:
    layout = section(
        [(-0.2, 0.6, 0.05), (0.3, 0.8, 0.05)],
        layers=[(CONCRETE, 0.1), (SAND, 1.9)],
        patches=[(FOAM, -0.7, -0.4, 0.3, 0.45)],
    )
    mesh = build_mesh(layout)
    for y in (-1.0, -0.7, -0.4, -0.2, 0.3, 1.0):
        assert np.abs(mesh.y_lines - y).min() < 1e-9
    for z in (0.0, 0.1, 0.3, 0.45, 0.6, 0.8, 2.0):
        assert np.abs(mesh.z_lines - z).min() < 1e-9


def test_later_rectangles_cover_earlier_ones() -> None:
    layout = section([], layers=[(CONCRETE, 0.1), (SAND, 1.9)], patches=[(FOAM, -0.5, 0.5, 0.05, 0.3)])
    names = [
        layout.solids[index].name
        for index in solid_at(layout, np.array([0.0, 0.0, 0.9]), np.array([0.2, 1.0, 0.05]))
    ]
    assert names == ["foam", "sand", "concrete"]


def test_cells_grow_alike_on_both_sides_of_a_thin_layer() -> None:
    # Three centimetres of foam in the middle of two metres of sand: either side sees the same, but for counts
    # of cells, which are whole.
    lines = build_mesh(section([], layers=[(SAND, 0.985), (FOAM, 0.03), (SAND, 0.985)])).z_lines
    sizes = np.diff(lines)
    above = sizes[lines[1:] < 0.985 + 1e-9][::-1]
    below = sizes[lines[:-1] > 1.015 - 1e-9]
    np.testing.assert_allclose(below[:4], above[:4], rtol=0.1)
    # A third of the layer at its edge, a fifth of the distance more further off.
    assert 0.009 < above[0] < 0.0125


@pytest.mark.parametrize("beside", [0.3, 2.0])
def test_corners_of_films_are_fine_however_narrow_the_ground_beside(beside: float) -> None:
    layout = SectionLayout(
        y_min=-1.0 - beside, y_max=1.0 + beside, depth=2.0, solids=(SAND,),
        regions=(Region(-1.0 - beside, 1.0 + beside, 0.0, 2.0, 0),),
        surfaces=(
            Surface("floor", -1.0, 1.0, 8.0),
            Surface("outside", 1.0, 1.0 + beside, 25.0),
            Surface("outside", -1.0 - beside, -1.0, 25.0),
        ),
        lanes=(), building_half_width=1.0,
    )  # fmt: skip
    lines = build_mesh(layout).y_lines
    sizes = np.diff(lines)
    for edge in (-1.0, 1.0):
        place = int(np.argmin(np.abs(lines - edge)))
        assert lines[place] == pytest.approx(edge, abs=1e-9)
        # Well under k / h, 1.5 / 25 m here, over which the flux at the corner of two films falls off.
        assert max(sizes[place - 1], sizes[place]) < 0.05 * SAND.conductivity / 25.0
