"""Air through the lanes of a stage: solved at once or by sweeps, it is what a dense linear system says."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.run.lane_kernels import (
    place_of,
    prepare_lanes,
    room_for_lanes,
    side_by_side,
    taken_up,
    through_lanes,
)
from tests.examples import examples


@given(st.floats(0.0, 50.0))
@settings(max_examples=examples(200))
def test_share_taken_up(x: float) -> None:
    assert taken_up(x) == pytest.approx(-math.expm1(-x), rel=4e-16, abs=0.0)


def ways(stations: int, lanes: int, turn: bool) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Begin of the branches, lane and station of their segments; with `turn` one branch through all lanes."""
    forth = np.arange(stations)
    if turn:
        station = np.concatenate([forth if lane % 2 == 0 else forth[::-1] for lane in range(lanes)])
        return np.array([0, station.size]), np.repeat(np.arange(lanes), stations), station
    return np.arange(lanes + 1) * stations, np.repeat(np.arange(lanes)[::-1], stations), np.tile(forth, lanes)


def dense(begin, lane, station, flow, base, supply, length, conductance, influence, resistance):
    """Heat of every lane and station from one linear system in heat and air entering each segment."""
    lanes, count = base.shape[0], lane.size
    matrix, right = np.zeros((2 * count, 2 * count)), np.zeros(2 * count)
    place = {(int(m), int(s)): g for g, (m, s) in enumerate(zip(lane, station, strict=True))}
    for branch in range(begin.size - 1):
        for g in range(begin[branch], begin[branch + 1]):
            m, s = int(lane[g]), int(station[g])
            # heat = value (air - wall); wall = base + resistance heat + sum influence heat of the lanes here
            value = flow[branch] * -math.expm1(-conductance[s, m] * length[s] / flow[branch]) / length[s]
            matrix[g, g] += 1.0 + value * resistance[m]
            for other in range(lanes):
                matrix[g, place[other, s]] += value * influence[m, other]
            matrix[g, count + g] -= value
            right[g] = -value * base[m, s]
            matrix[count + g, count + g] = 1.0
            if g == begin[branch]:
                right[count + g] = supply
            else:
                matrix[count + g, count + g - 1] = -1.0
                matrix[count + g, g - 1] = length[station[g - 1]] / flow[branch]
    heat = np.zeros_like(base)
    heat[lane, station] = np.linalg.solve(matrix, right)[:count]
    return heat


@pytest.mark.parametrize("turn", [False, True])
@given(
    seed=st.integers(0, 10**6),
    lanes=st.integers(1, 5),
    stations=st.integers(1, 6),
    kinds=st.integers(1, 6),
)
@settings(max_examples=examples(80))
def test_heat_of_the_lanes(turn: bool, seed: int, lanes: int, stations: int, kinds: int) -> None:
    random = np.random.default_rng(seed)
    begin, lane, station = ways(stations, lanes, turn)
    branches = begin.size - 1
    root = random.normal(0.0, 0.05, (lanes + 4, lanes + 4))
    influence = 0.1 * root @ root.T
    influence[:lanes, :lanes] += np.diag(random.uniform(0.05, 0.4, lanes))
    flow, length = random.uniform(5.0, 60.0, branches), random.uniform(0.3, 2.0, stations)
    conductance, resistance = random.uniform(0.1, 6.0, (stations, lanes)), random.uniform(0.0, 0.1, lanes)
    # Of few kinds, so that neighbours are often alike, in one lane or in all.
    conductance, length = conductance[np.arange(stations) % kinds], length[np.arange(stations) % kinds]
    conductance[random.integers(stations), 0] = 3.0
    base, supply = random.normal(0.0, 8.0, (lanes, stations)), random.uniform(10.0, 60.0)
    together = side_by_side(begin, lane, station)
    assert together == (not turn or lanes == 1)
    answer, work = np.zeros((stations, lanes, lanes)), np.zeros((lanes, 2 * lanes))
    heat, leaving = np.zeros((lanes, stations)), np.zeros(branches)
    prepare_lanes(
        together, conductance, length, influence, resistance, begin, lane, station, flow, answer, work,
        np.zeros(lanes),
    )  # fmt: skip
    sweeps = through_lanes(
        together, answer, base, supply, length, influence, begin, lane, station, flow, heat, leaving
    )
    assert sweeps > 0
    wanted = dense(begin, lane, station, flow, base, supply, length, conductance, influence, resistance)
    np.testing.assert_allclose(heat, wanted, rtol=1e-10, atol=1e-10)
    given_up = np.array([
        (heat[lane[begin[b] : begin[b + 1]], station[begin[b] : begin[b + 1]]]
         * length[station[begin[b] : begin[b + 1]]]).sum()
        for b in range(branches)
    ])  # fmt: skip
    np.testing.assert_allclose(flow * (supply - leaving), given_up, rtol=1e-10, atol=1e-9)


def test_still_air_gives_nothing() -> None:
    begin, lane, station = ways(3, 2, turn=False)
    answer, heat, leaving = np.ones((3, 2, 2)), np.ones((2, 3)), np.zeros(2)
    arguments = (np.ones(3), np.full((6, 6), 0.1), begin, lane, station, np.zeros(2))
    prepare_lanes(
        True,
        np.ones((3, 2)),
        arguments[0],
        arguments[1],
        np.zeros(2),
        *arguments[2:],
        answer,
        np.zeros((2, 4)),
        np.zeros(2),
    )
    through_lanes(True, answer, np.ones((2, 3)), 30.0, *arguments, heat, leaving)
    assert np.all(heat == 0.0)
    assert np.all(leaving == 30.0)


def test_settings_are_found_again_until_they_make_room() -> None:
    known = room_for_lanes(3, 4, 2, 2)
    # Places where no duct lies are never written: whatever stands there counts.
    assert not any(np.any(held) for held in known)
    flow = np.array([20.0, 30.0])
    assert place_of(known, 300.0, 1.0, flow) == (0, False)
    known.heat_sum[0] = 7.0
    assert place_of(known, 300.0, 1.0, flow) == (0, True)
    # Any difference makes another setting.
    assert place_of(known, 600.0, 1.0, flow) == (1, False)
    assert place_of(known, 300.0, 0.0, flow) == (2, False)
    assert place_of(known, 300.0, 1.0, flow) == (0, True)
    assert place_of(known, 300.0, 1.0, np.array([20.0, 31.0])) == (0, False)
    assert place_of(known, 300.0, 1.0, flow) == (1, False)
    assert place_of(known, 300.0, 0.0, flow) == (2, True)


def test_with_room_for_one_nothing_is_taken_for_known() -> None:
    known = room_for_lanes(1, 4, 2, 2)
    flow = np.array([20.0, 30.0])
    assert place_of(known, 300.0, 1.0, flow) == place_of(known, 300.0, 1.0, flow) == (0, False)
