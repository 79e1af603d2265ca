"""The way of the air along parallel lanes."""

from __future__ import annotations

import numpy as np

from simulator.air.path import parallel_path


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
