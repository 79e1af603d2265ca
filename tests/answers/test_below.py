"""Time below a mark and crossings, on courses whose answers follow from geometry."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.answers.below import first_crossing, seconds_below


def test_a_straight_fall_is_below_for_its_share() -> None:
    # from 10 down to 0 in 100 s: below 3 for the last 30 s
    assert seconds_below(np.array([0.0, 100.0]), np.array([10.0, 0.0]), 3.0) == pytest.approx(30.0)


@pytest.mark.parametrize("rows", [3, 7, 50])
def test_a_triangle_does_not_care_how_often_it_is_looked_at(rows) -> None:
    # 10 - 0.1 |t - 50| between 0 and 100 s is below 8 within 30 s of either end; 50 is always a row
    moments = np.union1d(np.linspace(0.0, 100.0, rows), [50.0])
    assert seconds_below(moments, 10.0 - 0.1 * np.abs(moments - 50.0), 8.0) == pytest.approx(60.0)


def test_above_below_and_nothing_known() -> None:
    moments = np.arange(5.0)
    assert seconds_below(moments, np.full(5, 2.0), 2.0) == 0.0
    assert seconds_below(moments, np.full(5, 1.9), 2.0) == 4.0
    assert seconds_below(moments, np.array([1.0, 1.0, np.nan, 1.0, 1.0]), 2.0) == 2.0


def test_time_below_and_above_make_the_whole() -> None:
    generator = np.random.default_rng(5)
    moments = np.cumsum(generator.uniform(1.0, 9.0, 80))
    values = generator.normal(0.0, 1.0, 80)
    both = seconds_below(moments, values, 0.3) + seconds_below(moments, -values, -0.3)
    assert both == pytest.approx(moments[-1] - moments[0])


def test_crossings() -> None:
    moments = np.array([0.0, 10.0, 20.0, 30.0])
    values = np.array([4.0, 2.0, 0.0, 2.0])
    assert first_crossing(moments, values, 1.0, falling=True, after=0.0) == pytest.approx(15.0)
    assert first_crossing(moments, values, 1.0, falling=False, after=18.0) == pytest.approx(25.0)
    # below already: at once
    assert first_crossing(moments, values, 1.0, falling=True, after=17.0) == 17.0
    assert first_crossing(moments, values, -1.0, falling=True, after=0.0) is None
