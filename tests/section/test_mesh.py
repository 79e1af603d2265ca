"""Grid lines: through every edge that matters, fine where they must be, and halved by half the scale."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

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
