"""Layouts as ways of the air, against what each word means."""

from __future__ import annotations

import math
from typing import Any

import pytest

from simulator.case.duct_ways import DuctBranch
from simulator.case.schema import Ducts
from tests.run.rigs import small_case

FLOOR = 12.0
EVEN: dict[str, Any] = {"count": 4, "spacing": "1 m", "depth": "40 cm", "diameter": "10 cm"}


def ways(**keys: Any) -> tuple[DuctBranch, ...]:
    return Ducts.model_validate({**EVEN, **keys}).ways(FLOOR)


def course(branch: DuctBranch) -> list[tuple[float, float, float]]:
    return [(run.across, run.begin, run.end) for run in branch.stretches]


def test_parallel_ducts_all_go_one_way() -> None:
    branches = ways()
    assert [course(branch) for branch in branches] == [
        [(across, 0.0, FLOOR)] for across in (-1.5, -0.5, 0.5, 1.5)
    ]
    assert all(branch.right_angles == 0 and branch.length == FLOOR for branch in branches)


def test_inlet_at_the_far_end_turns_the_air_round() -> None:
    assert [course(branch)[0][1:] for branch in ways(inlet_end="far")] == [(FLOOR, 0.0)] * 4


def test_there_and_back_mirrors_its_pairs() -> None:
    left, right = ways(layout="there and back")
    assert course(left) == [(-1.5, 0.0, FLOOR), (-0.5, FLOOR, 0.0)]
    assert course(right) == [(1.5, 0.0, FLOOR), (0.5, FLOOR, 0.0)]
    assert [run.direction for run in left.stretches] == [1, -1]
    # Two runs and the metre between them; the turn has two right angles.
    assert left.length == pytest.approx(2.0 * FLOOR + 1.0)
    assert left.right_angles == 2


def test_serpentine_takes_all_ducts_in_turn() -> None:
    (branch,) = ways(layout="serpentine")
    assert course(branch) == [(-1.5, 0.0, FLOOR), (-0.5, FLOOR, 0.0), (0.5, 0.0, FLOOR), (1.5, FLOOR, 0.0)]
    assert branch.length == pytest.approx(4.0 * FLOOR + 3.0)
    assert len(ways(layout="serpentine", passes=2)) == 2


def test_two_tiers_lie_above_each_other() -> None:
    branches = ways(layout="two tiers", lower_depth="90 cm")
    assert len(branches) == 8
    assert sorted({branch.stretches[0].depth for branch in branches}) == [0.4, 0.9]
    loops = ways(layout="two tiers", lower_depth="90 cm", passes=2)
    assert [[run.depth for run in branch.stretches] for branch in loops] == [[0.9, 0.4]] * 4


def test_ducts_may_cover_part_of_the_floor() -> None:
    branches = ways(along_from="2 m", length="5 m")
    assert course(branches[0]) == [(-1.5, 2.0, 7.0)]
    assert course(ways(along_from="2 m")[0]) == [(-1.5, 2.0, FLOOR)]


def test_branches_run_by_run() -> None:
    told = {"count": None, "spacing": None, "depth": None}
    runs = [
        {"across": "-1 m", "depth": "40 cm", "along_to": "9 m"},
        {"across": "-1 m", "depth": "70 cm", "along_from": "9 m", "along_to": "3 m"},
    ]
    first = {"name": "loop", "runs": runs, "bends": 3, "extra_length": "2 m", "loss_coefficient": 1.5}
    loop, single = ways(**told, branches=[first, {"runs": [{"across": "1 m", "depth": "40 cm"}]}])
    assert loop.name == "loop"
    assert loop.length == pytest.approx(2.0 + 9.0 + 0.3 + 6.0)
    assert loop.right_angles == 5
    assert single.length == FLOOR
    assert single.name == "branch 2"


def test_turn_between_ends_that_are_apart_is_longer() -> None:
    told = {"count": None, "spacing": None, "depth": None}
    runs = [
        {"across": "-1 m", "depth": "40 cm", "along_to": "9 m"},
        {"across": "-1 m", "depth": "80 cm", "along_from": "6 m", "along_to": "1 m"},
    ]
    (branch,) = ways(**told, branches=[{"runs": runs}])
    assert branch.turns == (pytest.approx(math.hypot(0.0, 0.4) + 3.0),)


def test_case_knows_its_longest_branch() -> None:
    assert small_case({"ducts": {"layout": "there and back"}}).duct_length == pytest.approx(12.0)
    assert small_case().duct_length == pytest.approx(6.0)
