"""The way of the air along parallel lanes."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.air.path import ROOM_AIR, Way, parallel_path, path_of, way_of
from simulator.case.duct_ways import DuctBranch, Stretch


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


def test_a_branch_told_by_the_case_becomes_a_way() -> None:
    # Out and back 80 cm apart: two right angles in the turn and one told, 0.4 each; ends 1.5; 0.7 more.
    branch = DuctBranch(
        "loop", (Stretch(-0.4, 0.3, 0.0, 6.0), Stretch(0.4, 0.3, 6.0, 1.0)), extra_length=2.5, bends=1,
        loss_coefficient=0.7,
    )  # fmt: skip
    places = {(-0.4, 0.3): 2, (0.4, 0.3): 5}
    way = way_of(branch, lambda across, depth: places[across, depth], bend_loss=0.4, end_losses=1.5)
    assert way.name == "loop"
    assert way.runs == ((2, 0.0, 6.0), (5, 6.0, 1.0))
    assert way.gaps == pytest.approx((2.5, 0.8))
    assert way.loss == pytest.approx(1.5 + 3 * 0.4 + 0.7)
    assert way.group == ROOM_AIR
    path = path_of([way], np.array([0.0, 1.0, 6.0]))
    np.testing.assert_allclose(path.branch_length, [branch.length])
    np.testing.assert_allclose(path.branch_loss, [way.loss])
    np.testing.assert_array_equal(path.branch_group, [ROOM_AIR])


def test_ways_differ_by_anything_but_rounding() -> None:
    one = Way("a", ((0, 0.0, 6.0),), (2.0,), 1.5)
    assert one.same_as(Way("b", ((0, 0.0, 6.0),), (2.0 + 1e-9,), 1.5))
    assert not one.same_as(Way("b", ((0, 0.0, 6.0),), (2.001,), 1.5))
    assert not one.same_as(Way("b", ((0, 0.0, 6.0),), (1.999,), 1.5))
    assert not one.same_as(Way("b", ((0, 6.0, 0.0),), (2.0,), 1.5))
    assert not one.same_as(Way("b", ((0, 0.0, 6.0),), (2.0,), 1.5, 1))
    two = Way("c", ((0, 0.0, 6.0), (0, 6.0, 0.0)), (2.0, 1.0), 1.5)
    assert not two.same_as(Way("d", two.runs, (2.0, 1.5), 1.5))
    assert not two.same_as(Way("d", two.runs, (2.5, 1.0), 1.5))


def test_runs_of_part_of_the_floor_take_only_their_stations() -> None:
    edges = np.array([0.0, 1.0, 2.5, 4.0, 6.0])
    path = path_of([Way("a", ((0, 1.0, 4.0),), (0.5,), 0.0), Way("b", ((1, 4.0, 2.5),), (0.0,), 0.0)], edges)
    np.testing.assert_array_equal(path.branch_begin, [0, 2, 3])
    np.testing.assert_array_equal(path.segment_station, [1, 2, 2])
    np.testing.assert_allclose(path.begin, [0.5, 2.0, 0.0])
    np.testing.assert_allclose(path.end, [2.0, 3.5, 1.5])
    np.testing.assert_allclose(path.branch_length, [3.5, 1.5])
    np.testing.assert_array_equal(path.segment_branch, [0, 0, 1])
