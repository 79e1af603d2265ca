"""The compiled stage against plain Python: air that runs through several lanes in turn, uneven flows,
random ground.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from simulator.run.coupling_kernels import MOST_SWEEPS, solve_stage
from tests.examples import examples

FLOOR_CONDUCTANCE, LIFT, OUTSIDE = 14.0, 0.4, -9.0


@dataclass
class Bench:
    """A made-up stage: lanes, stations, branches through them, and what they read."""

    stations: int
    begin: np.ndarray
    lane: np.ndarray
    station: np.ndarray
    response: np.ndarray
    influence: np.ndarray
    resistance: np.ndarray
    length: np.ndarray
    conductance: np.ndarray
    flow: np.ndarray
    ducts: np.ndarray
    known: np.ndarray
    supply_fixed: bool
    supply_value: float
    intake_is_room: bool
    exit_is_room: bool
    room_is_fixed: bool
    copies: float = 2.0

    @property
    def lanes(self) -> int:
        return self.resistance.size


def bench(seed: int, *, still: bool = False) -> Bench:
    random = np.random.default_rng(seed)
    stations, lanes = int(random.integers(1, 5)), int(random.integers(1, 5))
    # Branches share out the lanes; one that has several goes there and back through them.
    branches = int(random.integers(1, lanes + 1))
    owner = np.concatenate((np.arange(branches), random.integers(0, branches, lanes - branches)))
    lane, station, begin = [], [], [0]
    for branch in range(branches):
        for turn, own in enumerate(np.nonzero(owner == branch)[0]):
            way = range(stations) if turn % 2 == 0 else range(stations - 1, -1, -1)
            lane += [int(own)] * stations
            station += list(way)
        begin.append(len(lane))
    ports = lanes + 4
    root = random.normal(0.0, 0.05, (ports, ports))
    influence = root @ root.T
    influence[:lanes, :lanes] = 0.02 * np.abs(influence[:lanes, :lanes]) + np.diag(
        random.uniform(0.05, 0.4, lanes)
    )
    influence[lanes:, :] *= 10.0
    flow = random.uniform(5.0, 60.0, branches) * (0.0 if still else 1.0)
    if branches > 1 and random.random() < 0.3:
        flow[0] = 0.0
    return Bench(
        stations,
        np.array(begin),
        np.array(lane),
        np.array(station),
        random.normal(0.0, 8.0, (stations, ports)),
        influence,
        random.uniform(0.0, 0.1, lanes),
        random.uniform(0.3, 2.0, stations),
        random.uniform(0.1, 6.0, (stations, lanes)),
        flow,
        random.integers(1, 4, branches).astype(float),
        np.concatenate((np.zeros(lanes + 1), random.normal(0.0, 5.0, 3))),
        bool(random.integers(2)),
        float(random.uniform(0.0, 40.0)),
        bool(random.integers(2)),
        bool(random.integers(2)),
        bool(random.integers(2)),
    )


ROOM_BEFORE, STORAGE, LOSS, GAIN = 3.0, 400.0, 25.0, 180.0


def by_kernel(b: Bench) -> dict[str, np.ndarray | float]:
    shape = (b.stations, b.lanes)
    loads, wall = np.zeros((b.stations, b.lanes + 4)), np.zeros(shape)
    air_in, air_out, exits = np.zeros(shape), np.zeros(shape), np.zeros(b.flow.size)
    room, supply, floor, mixed, sweeps = solve_stage(
        b.response,
        b.influence,
        b.known,
        b.resistance,
        b.length,
        b.conductance,
        b.begin,
        b.lane,
        b.station,
        b.flow,
        b.ducts,
        b.lanes,
        FLOOR_CONDUCTANCE,
        LIFT,
        b.copies,
        b.supply_fixed,
        b.supply_value,
        b.intake_is_room,
        b.exit_is_room,
        OUTSIDE,
        b.room_is_fixed,
        ROOM_BEFORE,
        STORAGE,
        LOSS,
        GAIN,
        loads,
        wall,
        air_in,
        air_out,
        exits,
    )
    return {
        "room": room,
        "supply": supply,
        "floor": floor,
        "mixed": mixed,
        "sweeps": sweeps,
        "q": loads[:, : b.lanes],
        "wall": wall,
        "air_in": air_in,
        "air_out": air_out,
        "exits": exits,
        "loads": loads,
    }


def by_hand(b: Bench) -> dict[str, np.ndarray | float]:
    """March for given room and heat flows, then make it all agree by one linear solve over the unknowns."""

    def mismatch(unknown: np.ndarray) -> tuple[np.ndarray, dict[str, np.ndarray | float]]:
        room = float(unknown[-1])
        q = unknown[:-1].reshape(b.stations, b.lanes)
        loads = np.tile(b.known, (b.stations, 1))
        loads[:, : b.lanes] = q
        loads[:, b.lanes] = room + LIFT
        reading = b.response + loads @ b.influence.T
        wall = reading[:, : b.lanes] + b.resistance * q
        supply = b.supply_value + (0.0 if b.supply_fixed else room if b.intake_is_room else OUTSIDE)
        air_in, air_out = wall.copy(), wall.copy()
        wanted, exits = np.zeros_like(q), np.zeros(b.flow.size)
        for branch, flow in enumerate(b.flow):
            air = supply
            for g in range(b.begin[branch], b.begin[branch + 1]):
                s, m = b.station[g], b.lane[g]
                if flow <= 0.0:
                    exits[branch] = wall[s, m]
                    continue
                air_in[s, m] = air
                air = wall[s, m] + (air - wall[s, m]) * math.exp(-b.conductance[s, m] * b.length[s] / flow)
                air_out[s, m] = air
                wanted[s, m] = flow * (air_in[s, m] - air) / b.length[s]
                exits[branch] = air
        share = b.flow * b.ducts
        total = float(share.sum())
        mixed = float(share @ exits) / total if total > 0.0 else float(b.ducts @ exits / b.ducts.sum())
        floor = b.copies * float(b.length @ (FLOOR_CONDUCTANCE * (room + LIFT) - reading[:, b.lanes]))
        balance = room - ROOM_BEFORE
        if not b.room_is_fixed:
            balance = STORAGE * (room - ROOM_BEFORE) - LOSS * (OUTSIDE - room) - GAIN + floor
            if b.exit_is_room:
                balance -= total * (mixed - room)
            elif b.intake_is_room:
                balance -= total * (OUTSIDE - room)
        found = {
            "room": room,
            "supply": supply,
            "floor": floor,
            "mixed": mixed,
            "q": q,
            "wall": wall,
            "air_in": air_in,
            "air_out": air_out,
            "exits": exits,
        }
        return np.append((wanted - q).ravel(), balance), found

    size = b.stations * b.lanes + 1
    base, _ = mismatch(np.zeros(size))
    slopes = np.column_stack([mismatch(unit)[0] - base for unit in np.eye(size)])
    return mismatch(np.linalg.solve(slopes, -base))[1]


@settings(max_examples=examples(150))
@given(st.integers(0, 10**6))
def test_kernel_agrees_with_plain_python(seed: int) -> None:
    b = bench(seed)
    ours, expected = by_kernel(b), by_hand(b)
    assert 0 < ours["sweeps"] <= MOST_SWEEPS
    for name, value in expected.items():
        np.testing.assert_allclose(ours[name], value, rtol=1e-9, atol=1e-9, err_msg=name)
    loads = ours["loads"]
    np.testing.assert_array_equal(loads[:, b.lanes + 1 :], np.tile(b.known[b.lanes + 1 :], (b.stations, 1)))


def test_still_air_gives_nothing_and_takes_the_wall_temperature() -> None:
    b = bench(3, still=True)
    ours = by_kernel(b)
    np.testing.assert_array_equal(ours["q"], 0.0)
    np.testing.assert_array_equal(ours["air_in"], ours["wall"])
    np.testing.assert_array_equal(ours["air_out"], ours["wall"])


@pytest.mark.parametrize("pieces", [1, 4, 64])
def test_march_over_any_number_of_pieces_is_one_exponential(pieces: int) -> None:
    """Wall held at one temperature: T = wall + (supply - wall) exp(-U' x / m c), as in any heat exchanger
    text.
    """
    b = bench(0)
    b.stations, b.begin = pieces, np.array([0, pieces])
    b.lane, b.station = np.zeros(pieces, dtype=int), np.arange(pieces)
    b.influence, b.resistance = np.zeros((5, 5)), np.zeros(1)
    b.response = np.full((pieces, 5), 4.0)
    b.length, b.conductance = np.full(pieces, 12.0 / pieces), np.full((pieces, 1), 2.5)
    b.flow, b.ducts, b.known = np.array([20.0]), np.ones(1), np.zeros(5)
    b.supply_fixed, b.supply_value = True, 30.0
    ours = by_kernel(b)
    distance = np.cumsum(b.length)
    np.testing.assert_allclose(ours["air_out"][:, 0], 4.0 + 26.0 * np.exp(-2.5 * distance / 20.0), rtol=1e-12)


@pytest.mark.parametrize("mutual", [-0.28, -50.0])
def test_lanes_that_cannot_settle_are_never_given_as_settled(mutual: float) -> None:
    """An influence between lanes beyond their own, which no ground has: the sweeps grow instead of
    settling.
    """
    b = bench(0)
    b.stations, b.begin = 1, np.array([0, 1, 2])
    b.lane, b.station = np.array([0, 1]), np.zeros(2, dtype=int)
    b.influence = np.zeros((6, 6))
    b.influence[0, 1] = b.influence[1, 0] = mutual
    b.resistance, b.response = np.zeros(2), np.zeros((1, 6))
    b.length, b.conductance = np.ones(1), np.full((1, 2), 5.0)
    b.flow, b.ducts, b.known = np.array([20.0, 20.0]), np.ones(2), np.zeros(6)
    b.supply_fixed, b.supply_value = True, 30.0
    ours = by_kernel(b)
    assert ours["sweeps"] < 0 or not np.isfinite(ours["mixed"])
