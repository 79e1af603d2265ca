"""Fan curves against scipy's interpolation, hand-worked numbers and the fan laws."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator

from simulator.physics import fan_kernels
from simulator.physics.fan_curve import curve_from_pair, curve_from_polynomial, curve_through_points

FLOWS = [0.0, 0.05, 0.1, 0.15, 0.2]
PRESSURES = [250.0, 260.0, 230.0, 150.0, 0.0]


@st.composite
def falling_points(draw):
    count = draw(st.integers(3, 8))
    steps = draw(st.lists(st.floats(0.005, 0.2), min_size=count - 1, max_size=count - 1))
    drops = draw(st.lists(st.floats(0.0, 100.0), min_size=count - 1, max_size=count - 1))
    assume(drops[-1] > 0.1)
    flows = np.concatenate(([0.0], np.cumsum(steps)))
    return flows, np.sum(drops) + 1.0 - np.concatenate(([0.0], np.cumsum(drops)))


@given(points=falling_points(), where=st.floats(0.0, 1.0))
def test_points_are_joined_like_scipy_does(points, where) -> None:
    flows, pressures = points
    curve = curve_through_points(flows, pressures)
    flow = where * flows[-1]
    # scipy PchipInterpolator, the same published slopes by another implementation.
    expected = float(PchipInterpolator(flows, pressures)(flow))
    assert float(curve.pressure(flow)) == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(points=falling_points())
def test_falling_points_give_a_falling_curve(points) -> None:
    flows, pressures = points
    curve = curve_through_points(flows, pressures)
    sampled = curve.pressure(np.linspace(0.0, 1.5 * flows[-1], 500))
    assert np.all(np.diff(sampled) <= 1e-9 * pressures[0])
    assert curve.rising_stretches == ()
    np.testing.assert_allclose(curve.pressure(flows), pressures, rtol=1e-12)


def test_humped_curve_tells_its_hump() -> None:
    curve = curve_through_points(FLOWS, PRESSURES)
    np.testing.assert_allclose(curve.pressure(FLOWS), PRESSURES, atol=1e-9)
    assert curve.rising_stretches == ((0.0, pytest.approx(0.05)),)
    assert curve.free_delivery == pytest.approx(0.2)


def test_past_its_ends_the_curve_goes_on() -> None:
    curve = curve_through_points(FLOWS[1:], PRESSURES[1:])
    assert float(curve.pressure(0.0)) == 260.0
    assert float(curve.pressure(-1.0)) == 260.0
    # A stretch of straight line, with no jump where it begins.
    beyond = curve.pressure([0.2, 0.2 + 1e-9, 0.3, 0.4])
    assert beyond[1] == pytest.approx(beyond[0], abs=1e-4)
    assert beyond[2] - beyond[0] == pytest.approx(beyond[3] - beyond[2])
    assert beyond[2] < -200.0


def test_polynomial_and_pair_are_worked_by_hand() -> None:
    curve = curve_from_polynomial([200.0, 100.0, -6000.0], 0.2)
    # 200 + 100 q - 6000 q^2: at 0.1 m3/s 150 Pa; free delivery (100 + sqrt(100^2 + 4 * 6000 * 200)) / 12000.
    assert float(curve.pressure(0.1)) == pytest.approx(150.0, rel=1e-12)
    assert curve.free_delivery == pytest.approx((100.0 + math.sqrt(4.81e6)) / 12000.0, rel=1e-9)
    # Rises to its top at 100 / 12000 = 0.00833 m3/s.
    (hump,) = curve.rising_stretches
    assert hump[1] == pytest.approx(100.0 / 12000.0, abs=0.2 / 64)
    parabola = curve_from_pair(0.1, 200.0)
    np.testing.assert_allclose(parabola.pressure([0.0, 0.05, 0.1]), [200.0, 150.0, 0.0], atol=1e-9)
    line = curve_from_pair(0.1, 200.0, "line")
    np.testing.assert_allclose(line.pressure([0.0, 0.05, 0.1, 0.2]), [200.0, 100.0, 0.0, -200.0], atol=1e-9)
    assert parabola.free_delivery == pytest.approx(0.1)


@given(speed=st.floats(0.05, 1.5), density=st.floats(0.6, 1.5), flow=st.floats(0.0, 0.3))
def test_fan_laws(speed, density, flow) -> None:
    # Flow as speed, pressure as density and speed squared (ISO 5801).
    curve = curve_through_points(FLOWS, PRESSURES)
    expected = density / 1.2 * speed**2 * float(curve.pressure(flow))
    assert float(curve.pressure(flow * speed, speed, density)) == pytest.approx(expected, rel=1e-9, abs=1e-7)


@pytest.mark.parametrize("flow", [-0.1, 0.03, 0.07, 0.19, 0.4])
@pytest.mark.parametrize("speed", [0.4, 1.0])
def test_slope_is_that_of_the_pressure(flow, speed) -> None:
    curve = curve_through_points(FLOWS, PRESSURES)
    arguments = (curve.breaks, curve.coefficients, curve.end_slope)
    step = 1e-6
    rise = fan_kernels.fan_pressure(flow + step, speed, 1.1, *arguments)
    rise -= fan_kernels.fan_pressure(flow - step, speed, 1.1, *arguments)
    assert fan_kernels.fan_slope(flow, speed, 1.1, *arguments) == pytest.approx(rise / (2 * step), rel=1e-5)


def test_a_fan_at_rest_gives_nothing() -> None:
    curve = curve_from_pair(0.1, 200.0)
    assert float(curve.pressure(0.05, speed=0.0)) == 0.0
    assert fan_kernels.fan_slope(0.05, 0.0, 1.0, curve.breaks, curve.coefficients, curve.end_slope) == 0.0


def test_electric_power_by_hand() -> None:
    # 0.1 m3/s against 200 Pa is 20 W of air power; at 40 % overall 50 W.
    assert fan_kernels.electric_power(0.1, 200.0, 0.4) == pytest.approx(50.0)
    assert fan_kernels.electric_power(0.1, -5.0, 0.4) == 0.0


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: curve_through_points([0.0], [100.0]), "two or more; got 1 and 1"),
        (lambda: curve_through_points([0.0, 0.1], [100.0]), "two or more; got 2 and 1"),
        (lambda: curve_through_points([0.0, 0.1, 0.1], [100.0, 50.0, 0.0]), "rise from point to point"),
        (lambda: curve_through_points([-0.1, 0.1], [100.0, 0.0]), "must be 0 or more"),
        (lambda: curve_through_points([0.0, math.nan], [100.0, 0.0]), "must be finite"),
        (lambda: curve_through_points([0.0, 0.1], [100.0, 200.0]), "must fall at its highest flow"),
        (lambda: curve_through_points([0.0, 0.1], [0.0, -10.0]), "must give pressure at no flow"),
        (lambda: curve_from_polynomial([100.0, 0.0, 50.0], 0.2), "must fall at its highest flow"),
        (lambda: curve_from_polynomial([100.0, -50.0], 0.0), "a highest flow above 0"),
        (lambda: curve_from_pair(0.0, 100.0), "must be above 0 and finite"),
        (lambda: curve_from_pair(0.1, math.inf), "must be above 0 and finite"),
        (lambda: curve_from_pair(0.1, 100.0, "circle"), "must be 'parabola' or 'line', got 'circle'"),
        (lambda: curve_from_pair(0.1, 100.0, density=0.0), "density of a fan curve must be above 0"),
    ],
)
def test_impossible_curves_are_refused(make, message) -> None:
    with pytest.raises(ValueError, match=message):
        make()


def test_a_curve_that_ends_level_still_falls_on() -> None:
    curve = curve_from_polynomial([100.0], 0.1)
    assert curve.end_slope < 0.0
    assert curve.free_delivery == pytest.approx(0.2)
