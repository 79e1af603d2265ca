"""Series and their means against scipy quadrature and hand calculation."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from simulator.climate.series import Constant, DailyCosine, DailyHalfSine, Tabulated

HOUR = 3_600_000
DAY = 24 * HOUR

TWO_DAYS = Tabulated.through(
    np.array([-5, 0, 1, 7, 20, 30, 43]) * HOUR, [3.0, -1.0, 4.0, 4.0, -7.5, 2.0, 0.5]
)
STAIRS = Tabulated.steps(np.arange(0, 49) * HOUR, np.sin(np.arange(48)))
WAVES = [Constant(4.0), DailyCosine(5.0, 3.0, 15 * HOUR), DailyHalfSine(400.0, 7 * HOUR, 10 * HOUR)]


def value_by_hand(series: Tabulated, tick: float) -> float:
    """Independent: numpy interpolation, with the first day put before the table as often as needed."""
    while tick < series.knots[0]:
        tick += DAY
    if np.all(series.left == series.right):
        return float(series.left[np.searchsorted(series.knots, tick, side="right") - 1])
    return float(np.interp(tick, series.knots, [*series.left, series.right[-1]]))


@pytest.mark.parametrize("series", [TWO_DAYS, STAIRS])
def test_table_at_ticks(series) -> None:
    ticks = np.arange(-70 * HOUR, 43 * HOUR, 1_234_567)
    np.testing.assert_allclose(series.at(ticks), [value_by_hand(series, t) for t in ticks], atol=1e-12)


@given(begin=st.integers(-80 * HOUR, 43 * HOUR), length=st.integers(1, 60 * HOUR))
def test_table_mean_against_the_sum_of_its_trapezia(begin, length) -> None:
    end = min(begin + length, 43 * HOUR)
    if end == begin:
        return
    # Every place where the line bends or jumps, in and before the table.
    bends = [k + m * DAY for k in TWO_DAYS.knots for m in range(-6, 1)]
    bends += [TWO_DAYS.knots[0] - m * DAY for m in range(6)]
    inner = [float(b) for b in bends if begin < b < end]
    edges = np.unique([begin, end, *inner])
    total = 0.0
    for low, high in itertools.pairwise(edges):
        share = (high - low) * 1e-9
        # Just inside each end, because the table jumps where its first day begins anew.
        total += 0.5 * (high - low) * (value_by_hand(TWO_DAYS, low) + value_by_hand(TWO_DAYS, high - share))
    assert float(TWO_DAYS.mean(begin, end)) == pytest.approx(total / (end - begin), abs=1e-6)


def test_mean_over_whole_repeated_days_is_the_mean_of_the_first_day() -> None:
    first_day = quad(lambda t: value_by_hand(TWO_DAYS, t * HOUR), -5, 19, points=[0, 1, 7], limit=200)[0] / 24
    begin = TWO_DAYS.knots[0] - 9 * DAY
    assert float(TWO_DAYS.mean(begin, TWO_DAYS.knots[0])) == pytest.approx(first_day, rel=1e-9)


def test_stairs_keep_every_interval_mean() -> None:
    # The hourly means put in come out again, and half hours share them.
    edges = np.arange(0, 49) * HOUR
    np.testing.assert_allclose(STAIRS.mean(edges[:-1], edges[1:]), np.sin(np.arange(48)), atol=1e-12)
    assert float(STAIRS.mean(edges[3] - HOUR // 2, edges[3] + HOUR // 2)) == pytest.approx(
        0.5 * (math.sin(2) + math.sin(3)), abs=1e-12
    )


def test_short_table_holds_its_first_value_before_it() -> None:
    short = Tabulated.through(np.array([0, HOUR]), [2.0, 6.0])
    np.testing.assert_allclose(short.at([-5 * DAY, -1, 0, HOUR]), [2.0, 2.0, 2.0, 6.0])
    # Two hours at 2, then an hour from 2 to 6 with mean 4.
    assert float(short.mean(-2 * HOUR, HOUR)) == pytest.approx((2 * 2.0 + 4.0) / 3.0)


def test_table_has_nothing_after_its_end() -> None:
    with pytest.raises(ValueError, match="after the last value"):
        TWO_DAYS.at(43 * HOUR + 1)
    with pytest.raises(ValueError, match="after the last value"):
        TWO_DAYS.mean(0, 43 * HOUR + 1)


@pytest.mark.filterwarnings("ignore::scipy.integrate.IntegrationWarning")  # a sliver of sun: rounding only
@pytest.mark.parametrize("series", WAVES)
@given(begin=st.integers(-400 * DAY, 400 * DAY), length=st.integers(1000, 40 * HOUR))
def test_wave_mean_against_quadrature(series, begin, length) -> None:
    points = [p for p in (7, 17, 31, 41, 55, 65) if 0 < p * HOUR - begin % DAY < length]
    offset = begin - begin % DAY
    expected = quad(
        lambda t: float(series.at(offset + round(t * HOUR))),
        (begin % DAY) / HOUR,
        (begin % DAY + length) / HOUR,
        points=points or None,
        epsabs=1e-7,
        limit=200,
    )[0] / (length / HOUR)
    assert float(series.mean(begin, begin + length)) == pytest.approx(expected, abs=2e-4)


def test_cosine_and_half_sine_at_their_marks() -> None:
    _, cosine, half_sine = WAVES
    np.testing.assert_allclose(
        cosine.at([15 * HOUR, 3 * HOUR, 9 * HOUR - 30 * DAY]), [8.0, 2.0, 5.0], atol=1e-9
    )
    np.testing.assert_allclose(
        half_sine.at([12 * HOUR, 7 * HOUR, 17 * HOUR, 3 * HOUR, 23 * HOUR]), [400, 0, 0, 0, 0], atol=1e-9
    )
    # A half sine holds 2/pi of its peak times its length; ten hours of the day.
    assert float(half_sine.mean(0, DAY)) == pytest.approx(400 * 2 / math.pi * 10 / 24)


@pytest.mark.parametrize("series", [*WAVES, TWO_DAYS, STAIRS])
def test_empty_interval_has_the_value_itself(series) -> None:
    ticks = np.array([-3 * HOUR, 0, 9 * HOUR + 17])
    np.testing.assert_allclose(series.mean(ticks, ticks), series.at(ticks), atol=1e-12)


@pytest.mark.parametrize("series", [*WAVES, TWO_DAYS])
def test_shapes_broadcast(series) -> None:
    begins = np.array([[0], [HOUR]])
    assert series.mean(begins, begins + np.array([1, 2, 3]) * HOUR).shape == (2, 3)
    assert series.at(0).shape == ()


def test_short_means_stay_exact_after_twenty_years() -> None:
    hours = np.arange(20 * 8766)
    values = 280.0 + 10.0 * np.sin(hours)
    table = Tabulated.through(hours * HOUR, values)
    begin = int(hours[-3]) * HOUR + 500
    middle = np.interp(begin + 500, hours * HOUR, values)
    assert float(table.mean(begin, begin + 1000)) == pytest.approx(middle, abs=1e-4)


@pytest.mark.parametrize(
    ("knots", "values", "message"),
    [([0, 0], [1.0, 2.0], "strictly increasing"), ([0], [1.0], "at least two"), ([0, 1], [1.0], "1 values")],
)
def test_bad_tables_are_refused(knots, values, message) -> None:
    with pytest.raises(ValueError, match=message):
        Tabulated.through(np.array(knots), values)


def test_ticks_must_be_whole() -> None:
    with pytest.raises(TypeError, match="whole numbers"):
        TWO_DAYS.at(0.5)
