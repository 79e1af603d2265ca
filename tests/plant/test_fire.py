"""How loads burn away: against integrals of the documented rates."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import chi2, expon

from simulator.plant.fire import SHAPES, burnt_of_loads, corners, mean_rates, share_burnt
from simulator.plant.fire_kernels import line_of_loads


@pytest.mark.parametrize("shape", SHAPES)
def test_95_percent_at_the_burn_time_and_all_in_the_end(shape) -> None:
    assert float(share_burnt(shape, 1.0)) == pytest.approx(0.95, abs=1e-9)
    assert float(share_burnt(shape, 8.0)) == 1.0
    assert float(share_burnt(shape, 100.0)) == 1.0
    assert float(share_burnt(shape, -0.1)) == 0.0
    course = share_burnt(shape, np.linspace(0.0, 8.0, 4001))
    assert np.all(np.diff(course) >= 0.0)


def test_shapes_are_distributions_known_to_scipy() -> None:
    x = np.linspace(0.0, 3.0, 31)
    # x exp(-k x) is the density of a sum of two waiting times: chi-square with 4 degrees of freedom.
    scale = chi2.ppf(0.95, 4)
    assert share_burnt("rising and falling", x) == pytest.approx(chi2.cdf(scale * x, 4), abs=1e-9)
    assert share_burnt("quick start", x) == pytest.approx(expon.cdf(math.log(20.0) * x), abs=1e-9)
    tail = 0.1 / 0.95

    def even(t: float) -> float:
        return 0.95 * min(1.0, max(0.0, 1.0 - (t - 1.0) / tail))

    for end in (0.4, 1.0, 1.05, 1.2):
        expected = quad(even, 0.0, end, points=[1.0, 1.0 + tail], limit=200)[0]
        assert float(share_burnt("even", end)) == pytest.approx(expected, abs=1e-9)


@given(
    shape=st.sampled_from(SHAPES),
    burn_time=st.floats(60.0, 20000.0),
    loads=st.lists(st.tuples(st.integers(-(10**8), 10**8), st.floats(0.0, 20.0)), max_size=6),
    edges=st.lists(st.integers(-(10**8), 4 * 10**8), min_size=2, max_size=20, unique=True),
)
def test_mean_rates_add_up_to_what_burnt(shape, burn_time, loads, edges) -> None:
    ticks = np.sort(np.array(edges))
    rates = mean_rates(shape, burn_time, loads, ticks[:-1], ticks[1:])
    burnt = burnt_of_loads(shape, burn_time, loads, ticks)
    assert float(rates @ np.diff(ticks)) / 1000.0 == pytest.approx(burnt[-1] - burnt[0], abs=1e-9)
    assert np.all(rates >= -1e-12)
    assert burnt[-1] <= sum(mass for _, mass in loads) + 1e-9


@given(
    shape=st.sampled_from(SHAPES),
    burn_time=st.floats(60.0, 20000.0),
    loads=st.lists(st.tuples(st.integers(-(10**8), 10**8), st.floats(0.0, 20.0)), max_size=6),
    begin=st.integers(-(10**8), 2 * 10**8),
    length=st.integers(100, 10**7),
)
def test_line_has_the_exact_mean_and_stays_above_nothing(shape, burn_time, loads, begin, length) -> None:
    loads = sorted(loads)
    ticks = np.array([tick for tick, _ in loads], dtype=np.int64)
    masses = np.array([mass for _, mass in loads], dtype=np.float64)
    mean, rise = line_of_loads(SHAPES.index(shape), burn_time, ticks, masses, begin, begin + length)
    exact = mean_rates(shape, burn_time, loads, begin, begin + length)
    assert mean == pytest.approx(float(exact), abs=1e-9 * sum(masses) / (length * 1e-3) + 1e-15)
    assert mean - 0.5 * abs(rise) >= -1e-12


@pytest.mark.parametrize("shape", SHAPES)
def test_line_rises_between_the_rates_at_both_ends(shape) -> None:
    loads = [(0, 3.0), (1_200_000, 5.0)]
    ticks, masses = np.array([0, 1_200_000]), np.array([3.0, 5.0])
    burn_time, near = 3600.0, 10
    # One-sided differences of the mass burnt, just inside the ends; a load laid on at the begin counts.
    for begin, end in ((0, 300_000), (1_200_000, 1_500_000), (3_000_000, 3_300_000), (3_700_000, 3_790_000)):
        first = mean_rates(shape, burn_time, loads, begin, begin + near)
        last = mean_rates(shape, burn_time, loads, end - near, end)
        mean, rise = line_of_loads(SHAPES.index(shape), burn_time, ticks, masses, begin, end)
        assert rise == pytest.approx(float(last - first), abs=2e-4 * mean)


def test_corners() -> None:
    assert corners("quick start", 100.0, [(5000, 1.0), (1000, 2.0)]) == [1000, 5000]
    assert corners("even", 100.0, [(0, 1.0)]) == [0, 100_000, 110_526]


def test_bad_input_is_told() -> None:
    with pytest.raises(ValueError, match="must be one of even"):
        share_burnt("slow", 0.5)
    with pytest.raises(ValueError, match="above 0"):
        burnt_of_loads("even", 0.0, [], [0])
