"""Counting time over rows, by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.answers.course import held, hours, longest_hours, rows_within

SECONDS = np.array([0.0, 600.0, 1200.0, 3000.0, 3600.0])


def test_a_row_stands_for_the_stretch_before_it() -> None:
    rows = rows_within(SECONDS, 0.0, 3600.0)
    np.testing.assert_allclose(rows.spans, [0.0, 600.0, 600.0, 1800.0, 600.0])
    assert hours(rows, np.array([True, False, True, True, False])) == pytest.approx(2400.0 / 3600.0)


def test_a_window_cuts_its_first_row() -> None:
    rows = rows_within(SECONDS, 900.0, 3000.0)
    np.testing.assert_allclose(rows.seconds, [1200.0, 3000.0])
    np.testing.assert_allclose(rows.spans, [300.0, 1800.0])


def test_a_window_without_a_row_takes_the_next_one() -> None:
    rows = rows_within(SECONDS, 700.0, 800.0)
    assert rows.seconds.tolist() == [1200.0]
    assert rows_within(SECONDS, 9000.0, 9900.0).seconds.tolist() == [3600.0]


def test_longest_stretch_is_of_one_place() -> None:
    rows = rows_within(SECONDS, 0.0, 3600.0)
    places = np.array([[1, 0], [1, 0], [0, 1], [0, 1], [1, 0]], dtype=bool)
    # First place 600 s and 600 s apart, second 600 s and 1800 s together.
    assert longest_hours(rows, places) == pytest.approx(2400.0 / 3600.0)
    np.testing.assert_allclose(held(rows, places), [1200.0, 2400.0])
