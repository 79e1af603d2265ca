"""The near field of a duct: where its rim lies and how it is cut, by hand and by exact integrals."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import quad

from simulator.errors import CaseError
from simulator.section.layout import SectionLayout
from simulator.section.near_field import SMALLEST_GAP, build_ring, rim_of
from tests.section.sections import CONCRETE, FOAM, SAND, section

R = 0.05


def alone(**rest: object) -> SectionLayout:
    return section([(0.0, 0.6, R)], **rest)  # type: ignore[arg-type]


def test_with_room_the_rim_is_twice_the_pipe() -> None:
    rim = rim_of(alone(), 0)
    assert rim.radius == pytest.approx(2.0 * R)
    # Six rectangular cells along the rim's radius.
    assert rim.cell == pytest.approx(2.0 * R / 6.0)


@pytest.mark.parametrize(
    ("lanes", "index", "gap"),
    [
        pytest.param([(0.0, 0.08, R)], 0, 0.03, id="under the floor"),
        pytest.param([(0.0, 1.92, R)], 0, 0.03, id="over the bottom"),
        pytest.param([(0.92, 0.6, R)], 0, 0.03, id="beside the right end"),
        pytest.param([(-0.92, 0.6, R)], 0, 0.03, id="beside the left end"),
        pytest.param([(0.0, 0.6, R), (0.16, 0.6, R)], 0, 0.03, id="half of the soil between two"),
        pytest.param([(0.0, 0.6, R), (0.16, 0.6, R)], 1, 0.03, id="from the other"),
        pytest.param([(0.0, 0.6, R), (0.0, 0.79, 0.08)], 0, 0.03, id="a thicker one below"),
        pytest.param([(0.0, 0.6, R), (0.096, 0.728, R)], 0, 0.03, id="aslant: 0.16 m apart"),
    ],
)
def test_half_of_the_gap_is_left_to_rectangles(
    lanes: list[tuple[float, float, float]], index: int, gap: float
) -> None:
    rim = rim_of(section(lanes), index)
    assert rim.radius == pytest.approx(R + 0.5 * gap)
    assert rim.cell == pytest.approx(min(rim.radius / 6.0, gap / 4.0))


def test_a_plane_through_the_duct_is_no_gap() -> None:
    for across, width in ((0.0, (0.0, 1.0)), (1.0, (0.0, 1.0))):
        assert rim_of(section([(across, 0.6, R)], width=width), 0).radius == pytest.approx(2.0 * R)


@pytest.mark.parametrize(
    ("layers", "radius"),
    [
        # An edge 0.07 m off is 1.4 radii: the rim ends there. At 0.055 it is too near, and is crossed.
        pytest.param([(CONCRETE, 0.53), (SAND, 1.47)], 0.07, id="edge above"),
        pytest.param([(CONCRETE, 0.67), (SAND, 1.33)], 0.07, id="edge below"),
        pytest.param([(CONCRETE, 0.545), (SAND, 1.455)], 0.1, id="edge too near"),
        pytest.param([(CONCRETE, 0.539), (SAND, 1.461)], 0.061, id="edge just far enough"),
        pytest.param([(CONCRETE, 0.49), (SAND, 1.51)], 0.1, id="edge out of reach"),
    ],
)
def test_rim_keeps_clear_of_layers(layers: list[tuple[object, float]], radius: float) -> None:
    assert rim_of(alone(layers=layers), 0).radius == pytest.approx(radius, rel=1e-6)


@pytest.mark.parametrize(
    ("patch", "radius"),
    [
        pytest.param((FOAM, 0.08, 0.3, 0.5, 0.7), 0.08, id="on the right"),
        pytest.param((FOAM, -0.3, -0.08, 0.5, 0.7), 0.08, id="on the left"),
        pytest.param((FOAM, 0.08, 0.3, 1.0, 1.2), 0.1, id="far below"),
        pytest.param((FOAM, 0.08, 0.3, 0.1, 0.2), 0.1, id="far above"),
        pytest.param((FOAM, -0.3, 0.3, 0.69, 0.8), 0.09, id="under it"),
        pytest.param((FOAM, 0.3, 0.5, 0.69, 0.8), 0.1, id="under, but aside"),
        pytest.param((FOAM, -0.5, -0.3, 0.69, 0.8), 0.1, id="under, but aside on the left"),
    ],
)
def test_rim_keeps_clear_of_patches(patch: tuple[object, ...], radius: float) -> None:
    assert rim_of(alone(patches=[patch]), 0).radius == pytest.approx(radius, rel=1e-6)


@pytest.mark.parametrize(
    ("patch", "radius"),
    [
        pytest.param((FOAM, 0.38, 0.6, 0.5, 0.7), 0.08, id="on the right"),
        pytest.param((FOAM, 0.0, 0.22, 0.5, 0.7), 0.08, id="on the left"),
        pytest.param((FOAM, 0.205, 0.395, 0.69, 0.8), 0.09, id="under it, narrower than the rim"),
        pytest.param((FOAM, 0.39, 0.6, 0.505, 0.695), 0.09, id="on the right, lower than the rim is high"),
        pytest.param((FOAM, -0.38, -0.22, 0.5, 0.7), 0.1, id="in its mirror image's place"),
    ],
)
def test_rim_off_the_middle_keeps_clear_of_patches(patch: tuple[object, ...], radius: float) -> None:
    layout = section([(0.3, 0.6, R)], patches=[patch])  # type: ignore[list-item]
    assert rim_of(layout, 0).radius == pytest.approx(radius, rel=1e-6)


def test_next_to_no_soil_is_refused() -> None:
    least = SMALLEST_GAP * R
    assert rim_of(section([(0.0, R + 1.01 * least, R)]), 0).radius > R
    with pytest.raises(CaseError, match="almost no ground"):
        rim_of(section([(0.0, R + 0.99 * least, R)]), 0)


def test_rings_grow_from_the_wall_to_the_rim() -> None:
    layout = alone()
    for scale, finer in ((1.0, 0.5), (0.5, 0.25)):
        ring, half = (build_ring(dataclasses.replace(layout, cell_scale=each), 0) for each in (scale, finer))
        assert ring.radii[0] == pytest.approx(R)
        assert ring.radii[-1] == pytest.approx(2.0 * R)
        thickness = np.diff(ring.radii)
        assert np.all(np.diff(thickness) > 0.0)
        # 0.025 radii at the wall, 0.3 more each, within the rounding to a whole number of rings.
        assert thickness[0] == pytest.approx(0.025 * R * scale, rel=0.35)
        grown = np.diff(thickness) / (0.5 * (thickness[1:] + thickness[:-1]))
        np.testing.assert_allclose(grown, 0.3 * scale, rtol=0.2)
        assert half.mean_log.size == pytest.approx(2 * ring.mean_log.size, abs=1)
        assert half.sectors == pytest.approx(2 * ring.sectors, abs=2)


def test_mean_of_the_logarithm_over_each_ring() -> None:
    # By scipy: integral of ln r 2 r dr over (r1^2 - r0^2).
    ring = build_ring(alone(), 0)
    for low, high, mean in zip(ring.radii[:-1], ring.radii[1:], ring.mean_log, strict=True):
        exact = quad(lambda r: 2.0 * r * math.log(r), low, high)[0] / (high**2 - low**2)
        assert mean == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(
    ("across", "width", "begin", "turn"),
    [
        pytest.param(0.0, (-1.0, 1.0), -0.5, 2.0, id="whole"),
        pytest.param(0.0, (0.0, 1.0), -0.5, 1.0, id="left plane: its right half"),
        pytest.param(1.0, (0.0, 1.0), 0.5, 1.0, id="right plane: its left half"),
    ],
)
def test_sectors_share_the_turn_that_lies_in_the_section(
    across: float, width: tuple[float, float], begin: float, turn: float
) -> None:
    ring = build_ring(section([(across, 0.6, R)], width=width), 0)
    assert ring.angles[0] == pytest.approx(begin * math.pi)
    assert ring.angles[-1] - ring.angles[0] == pytest.approx(turn * math.pi)
    np.testing.assert_allclose(np.diff(ring.angles), ring.angles[1] - ring.angles[0])
    assert ring.fraction == turn / 2.0
    assert ring.full_turn == (turn == 2.0)
    assert ring.sectors == ring.angles.size - 1 == ring.middles.size
    assert ring.middles[0] == pytest.approx(0.5 * (ring.angles[0] + ring.angles[1]))
    # About as many sectors as the rectangles outside would cut: half a turn of the rim in cells of R/3.
    assert ring.sectors == round(turn * round(math.pi * 6.0))
    # The polygon through the rim nodes has the area of the circle: n/2 r^2 sin(2 pi / n) = pi R^2.
    nodes = round(2.0 * ring.sectors / turn)
    area = 0.5 * nodes * ring.rim_node_radius**2 * math.sin(2.0 * math.pi / nodes)
    assert area == pytest.approx(math.pi * (2.0 * R) ** 2, rel=1e-9)


def test_coarse_cells_still_have_twelve_sectors() -> None:
    ring = build_ring(dataclasses.replace(alone(), cell_scale=9.0), 0)
    assert ring.sectors == 12
    assert ring.mean_log.size == 1
    half = build_ring(dataclasses.replace(section([(0.0, 0.6, R)], width=(0.0, 1.0)), cell_scale=9.0), 0)
    assert half.sectors == 6
