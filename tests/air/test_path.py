"""The way of the air along parallel lanes."""

from __future__ import annotations

import numpy as np

from simulator.air.path import Way, parallel_path, path_of


def test_every_lane_is_one_branch_from_inlet_to_exit() -> None:
    edges = np.array([0.0, 1.0, 2.5, 6.0])
    path = parallel_path(np.array([1.0, 2.0]), edges)
    np.testing.assert_array_equal(path.branch_begin, [0, 3, 6])
    np.testing.assert_array_equal(path.segment_lane, [0, 0, 0, 1, 1, 1])
    np.testing.assert_array_equal(path.segment_branch, path.segment_lane)
    np.testing.assert_array_equal(path.segment_station, [0, 1, 2, 0, 1, 2])
    np.testing.assert_array_equal(path.begin, [0.0, 1.0, 2.5] * 2)
    np.testing.assert_array_equal(path.end, [1.0, 2.5, 6.0] * 2)
    np.testing.assert_array_equal(path.branch_ducts, [1.0, 2.0])


def test_a_way_back_meets_stations_in_reverse() -> None:
    edges = np.array([0.0, 1.0, 2.5, 6.0])
    path = path_of([Way("loop", ((0, 0.0, 6.0), (1, 6.0, 1.0)), (2.0, 0.5), 3.0)], edges)
    np.testing.assert_array_equal(path.segment_lane, [0, 0, 0, 1, 1])
    np.testing.assert_array_equal(path.segment_station, [0, 1, 2, 2, 1])
    np.testing.assert_array_equal(path.direction, [1, 1, 1, -1, -1])
    np.testing.assert_array_equal(path.segment_run, [0, 0, 0, 1, 1])
    # Lead-in of 2 m, six metres, half a metre of turn, back over 3.5 m and 1.5 m.
    np.testing.assert_allclose(path.begin, [2.0, 3.0, 4.5, 8.5, 12.0])
    np.testing.assert_allclose(path.end, [3.0, 4.5, 8.0, 12.0, 13.5])
    np.testing.assert_allclose(path.branch_length, [13.5])


def test_ways_that_are_alike_are_one_branch() -> None:
    edges = np.array([0.0, 1.0, 6.0])
    one = Way("a", ((0, 0.0, 6.0),), (0.0,), 1.5)
    path = path_of(
        [one, Way("b", ((0, 0.0, 6.0),), (0.0,), 1.5), Way("c", ((1, 0.0, 6.0),), (0.0,), 1.5)], edges
    )
    np.testing.assert_array_equal(path.branch_ducts, [2.0, 1.0])
    assert path.branch_names == ("a", "c")
    lossy = path_of([one, Way("b", ((0, 0.0, 6.0),), (0.0,), 2.0)], edges)
    assert lossy.branches == 2
