"""Radiant shares by the equations they solve, and fan points that rise and fall, against scipy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from simulator.physics.enclosure import radiant_areas
from simulator.physics.fan_curve import curve_through_points


@settings(deadline=None, max_examples=60)
@given(st.lists(st.floats(0.5, 20.0), min_size=2, max_size=7), st.floats(0.3, 0.999))
def test_shares_of_black_walls_solve_their_equations(others: list[float], ratio: float) -> None:
    """Carroll's node for black walls: A F with F = 1/(1 - s), s (1 - s) = A / S and all s together 1."""
    areas = np.array([*others, ratio * sum(others)])
    # Below: no wall as large as all others together.
    assume(areas.max() < 0.9995 * (areas.sum() - areas.max()))
    shares = 1.0 - areas / radiant_areas(areas, np.ones(areas.size))
    assert shares.sum() == pytest.approx(1.0, abs=1e-9)
    assert np.all((shares > 0.0) & (shares < 1.0))
    total = areas / (shares * (1.0 - shares))
    # Where two walls are next to alike a share of one half hardly moves with S.
    np.testing.assert_allclose(total, total[int(np.argmin(areas))], rtol=1e-6)


@pytest.mark.parametrize("small", [[1.0], [1.0, 2.0], [0.5, 0.5, 3.0]])
def test_a_wall_larger_than_all_others_faces_them_alone(small: list[float]) -> None:
    # Its share is the whole; the others see nothing but it: A F = A.
    for largest in (1.001 * sum(small), 1.5 * sum(small)):
        found = radiant_areas([*small, largest], [1.0] * (len(small) + 1))
        np.testing.assert_allclose(found[:-1], small)
        # No resistance of its own: held to a millionth of a millionth.
        assert found[-1] > 1e9


@settings(deadline=None, max_examples=100)
@given(
    pressures=st.lists(st.floats(5.0, 300.0), min_size=3, max_size=8),
    steps=st.lists(st.floats(0.01, 0.2), min_size=7, max_size=7),
    where=st.floats(0.0, 1.0),
)
def test_points_that_rise_and_fall_are_joined_like_scipy_does(
    pressures: list[float], steps: list[float], where: float
) -> None:
    flows = np.concatenate(([0.0], np.cumsum(steps)))[: len(pressures)]
    assume(pressures[-1] < pressures[-2] - 0.1)
    assume(np.all(np.abs(np.diff(pressures)) > 1e-3))
    curve = curve_through_points(flows, pressures)
    flow = where * flows[-1]
    expected = float(PchipInterpolator(flows, pressures)(flow))
    assert float(curve.pressure(flow)) == pytest.approx(expected, rel=1e-9, abs=1e-9)
