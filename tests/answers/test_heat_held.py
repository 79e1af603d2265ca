"""Heat in the ground and its depth, against the half-space and plain sums."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import erfc, erfcinv

from simulator.answers.heat_held import Cells, deepest_share, excess_profile, reach


@pytest.mark.parametrize("hours", [2.0, 30.0, 400.0])
@pytest.mark.parametrize("share", [0.1, 0.5])
def test_depth_of_a_step_in_a_half_space(hours, share) -> None:
    # Carslaw & Jaeger (1959) 2.5: excess erfc(z / (2 sqrt(a t))) of the step
    diffusivity = 0.7e-6
    width = np.sqrt(diffusivity * hours * 3600.0)
    depth = np.linspace(0.0, 8.0 * width, 2000)
    profile = 12.0 * erfc(depth / (2.0 * width))
    assert reach(depth, profile, share) == pytest.approx(2.0 * width * erfcinv(share), rel=1e-3)
    if share == 0.1:
        # the factor that the docstring states
        assert 2.0 * erfcinv(0.1) == pytest.approx(2.326, abs=5e-4)


def test_depth_of_nine_tenths_of_the_heat_of_a_step() -> None:
    # the integral of erfc from 0 to x is 1/sqrt(pi) - ierfc(x), Carslaw & Jaeger (1959), appendix II
    x = np.linspace(0.0, 3.0, 200001)
    ierfc = np.exp(-x * x) / np.sqrt(np.pi) - x * erfc(x)
    held = (1.0 / np.sqrt(np.pi) - ierfc) * np.sqrt(np.pi)
    expected = float(np.interp(0.9, held, x))
    edges = np.linspace(0.0, 6.0, 4001)
    middle = (edges[1:] + edges[:-1]) / 2.0
    assert deepest_share(edges, erfc(middle) * np.diff(edges), 0.9) == pytest.approx(expected, rel=1e-3)


def test_no_heat_has_no_depth() -> None:
    depth = np.array([0.1, 0.2, 0.3])
    assert reach(depth, np.zeros(3)) is None
    assert reach(depth, np.array([-3.0, -1.0, 0.0])) is None
    assert deepest_share(np.array([0.0, 1.0, 2.0]), np.array([-1.0, 0.0])) is None
    # warm down to the last cell
    assert reach(depth, np.ones(3)) == 0.3


def cells() -> Cells:
    # two stations, three layers, four columns of which two lie under the floor; no ground in one corner
    capacity = np.full((2, 3, 4), 1000.0)
    capacity[:, 0, 0] = 0.0
    under = np.array([False, True, True, False])
    return Cells(capacity, under, np.array([0.1, 0.3, 0.5]), np.array([0.0, 0.2, 0.4, 0.6]))


def test_heat_is_capacity_by_warmth() -> None:
    warm = np.full((2, 3, 4), 2.0)
    warm[:, 0, 0] = np.nan
    # 22 cells of ground, 12 of them under the floor, 1000 J/K and 2 K each
    assert cells().heat(warm, under_floor=False) == 44000.0
    assert cells().heat(warm, under_floor=True) == 24000.0


def test_profiles_are_means_under_the_floor() -> None:
    excess = np.zeros((2, 3, 4))
    excess[0, :, 1] = [4.0, 8.0, 0.0]
    excess[:, :, 3] = 99.0
    assert excess_profile(cells(), excess).tolist() == [1.0, 2.0, 0.0]
