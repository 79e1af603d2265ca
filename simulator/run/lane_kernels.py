"""Air on its way through the lanes of one stage, linear in what it enters with and in what the walls read.

Where all branches run side by side, each through one lane and the same stations, the lanes of a station are
solved together; otherwise sweeps over the lanes repeat until they have settled to rounding.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simulator.kernel import kernel
from simulator.run.coupling_kernels import MOST_SWEEPS

REMEMBERED = 64
"""Settings of the lanes that are kept: some flows in a day, each at all lengths that steps grow through."""


class KnownLanes(NamedTuple):
    """What has been worked out for K settings, one after another; the oldest makes room.

    `length` (K,) [s], `supply_share` (K,) and `flow` (K, B) [W/K] name a setting; `answer` (K, S, M, M);
    per kelvin of room `heat` (K, M, S) [W/m], its sums along the floor `heat_sum` (K, M) [W], `mixed` and
    `floor` (K,) [W]; `filled` (1,) counts settings.
    """

    length: np.ndarray
    supply_share: np.ndarray
    flow: np.ndarray
    answer: np.ndarray
    heat: np.ndarray
    heat_sum: np.ndarray
    mixed: np.ndarray
    floor: np.ndarray
    filled: np.ndarray


@kernel(forceinline=True)
def room_for_lanes(count: int, stations: int, lanes: int, branches: int) -> KnownLanes:
    """Make room for `count` settings; where no duct lies no heat is ever written, so it begins at nothing."""
    return KnownLanes(
        np.zeros(count), np.zeros(count), np.zeros((count, branches)),
        np.zeros((count, stations, lanes, lanes)), np.zeros((count, lanes, stations)),
        np.zeros((count, lanes)), np.zeros(count), np.zeros(count), np.zeros(1, dtype=np.int64),
    )  # fmt: skip


@kernel(forceinline=True)
def place_of(known: KnownLanes, length: float, supply_share: float, flow: np.ndarray) -> tuple[int, bool]:
    """Where a setting is kept, and whether it is there already; a new one takes the oldest place."""
    size = known.length.size
    if size > 1:
        for place in range(min(known.filled[0], size)):
            same = known.length[place] == length and known.supply_share[place] == supply_share
            for branch in range(flow.size):
                same = same and known.flow[place, branch] == flow[branch]
            if same:
                return place, True
    place = known.filled[0] % size
    known.filled[0] += 1
    known.length[place] = length
    known.supply_share[place] = supply_share
    known.flow[place] = flow
    return place, False


@kernel(forceinline=True)
def side_by_side(branch_begin: np.ndarray, segment_lane: np.ndarray, segment_station: np.ndarray) -> bool:
    """Whether every branch has a lane of its own and all go through the same stations in the same order."""
    branches = branch_begin.size - 1
    count = branch_begin[1] - branch_begin[0]
    for branch in range(branches):
        begin = branch_begin[branch]
        if branch_begin[branch + 1] - begin != count:
            return False
        for other in range(branch):
            if segment_lane[branch_begin[other]] == segment_lane[begin]:
                return False
        for place in range(count):
            if segment_station[begin + place] != segment_station[place]:
                return False
            if segment_lane[begin + place] != segment_lane[begin]:
                return False
            for before in range(place):
                if segment_station[before] == segment_station[place]:
                    return False
    return True


@kernel(forceinline=True)
def taken_up(number_of_transfer_units: float) -> float:
    """1 - exp(-x), for x of a single station mostly by its series, cheaper than `expm1`."""
    x = number_of_transfer_units
    if not abs(x) < 0.25:
        return -math.expm1(-x)
    # The first term left out is below 1e-17 of the sum.
    total = -1.0 / 479001600.0
    total = total * x + 1.0 / 39916800.0
    total = total * x - 1.0 / 3628800.0
    total = total * x + 1.0 / 362880.0
    total = total * x - 1.0 / 40320.0
    total = total * x + 1.0 / 5040.0
    total = total * x - 1.0 / 720.0
    total = total * x + 1.0 / 120.0
    total = total * x - 1.0 / 24.0
    total = total * x + 1.0 / 6.0
    total = total * x - 1.0 / 2.0
    total = total * x + 1.0
    return x * total


@kernel(forceinline=True)
def prepare_lanes(
    together: bool,
    conductance: np.ndarray,
    station_length: np.ndarray,
    influence: np.ndarray,
    wall_resistance: np.ndarray,
    branch_begin: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    capacity_flow: np.ndarray,
    answer: np.ndarray,
    work: np.ndarray,
    alone: np.ndarray,
) -> None:
    """Fill `answer` (S, M, M), the heat of a station's lanes per kelvin of entering air over wall reading.

    With lanes one by one only its diagonal counts: the heat [W/(m.K)], the wall's own warming allowed for.
    `conductance` (S, M) [W/(m.K)], `influence` (P, P), `capacity_flow` (B,) [W/K] of one duct; `work`
    (M, 2 M) and `alone` (M,) are room to work in.
    """
    lanes = wall_resistance.size
    answer[:] = 0.0
    for branch in range(capacity_flow.size):
        flow = capacity_flow[branch]
        if flow <= 0.0:
            continue
        # Stations are often all alike: what stands is then taken over.
        known_length, known_conductance, known = 0.0, -1.0, 0.0
        for segment in range(branch_begin[branch], branch_begin[branch + 1]):
            lane, station = segment_lane[segment], segment_station[segment]
            length = station_length[station]
            if length != known_length or conductance[station, lane] != known_conductance:
                known_length, known_conductance = length, conductance[station, lane]
                known = flow * taken_up(known_conductance * length / flow) / length
            value = known
            if not together:
                value = value / (1.0 + value * (influence[lane, lane] + wall_resistance[lane]))
            answer[station, lane, lane] = value
    if not together:
        return
    count = branch_begin[1] - branch_begin[0]
    for lane in range(lanes):
        alone[lane] = -1.0
    latest = 0
    for place in range(count):
        here = answer[segment_station[place]]
        if lanes == 1:
            here[0, 0] = here[0, 0] / (1.0 + here[0, 0] * (influence[0, 0] + wall_resistance[0]))
            continue
        alike = True
        for lane in range(lanes):
            alike = alike and here[lane, lane] == alone[lane]
            alone[lane] = here[lane, lane]
        if alike:
            for lane in range(lanes):
                for other in range(lanes):
                    here[lane, other] = answer[latest, lane, other]
            continue
        latest = segment_station[place]
        # (1 + value (influence + resistance)) heat = value (air - reading). The matrix is similar to a
        # positive definite one, so plain elimination needs no exchange of rows.
        for lane in range(lanes):
            value = here[lane, lane]
            for other in range(lanes):
                work[lane, other] = value * influence[lane, other]
                work[lane, lanes + other] = 0.0
            work[lane, lane] += 1.0 + value * wall_resistance[lane]
            work[lane, lanes + lane] = value
        for pivot in range(lanes):
            factor = 1.0 / work[pivot, pivot]
            for column in range(2 * lanes):
                work[pivot, column] *= factor
            for lane in range(lanes):
                if lane != pivot:
                    factor = work[lane, pivot]
                    for column in range(2 * lanes):
                        work[lane, column] -= factor * work[pivot, column]
        for lane in range(lanes):
            for other in range(lanes):
                here[lane, other] = work[lane, lanes + other]


@kernel(forceinline=True)
def through_lanes(
    together: bool,
    answer: np.ndarray,
    base: np.ndarray,
    supply: float,
    station_length: np.ndarray,
    influence: np.ndarray,
    branch_begin: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    capacity_flow: np.ndarray,
    heat: np.ndarray,
    leaving: np.ndarray,
) -> int:
    """Fill `heat` (M, S) [W/m] and `leaving` (B,) for air that enters at `supply`; return the sweeps.

    `base` (M, S) is what the walls read with no heat in the lanes. The number of sweeps is negative if they
    did not settle.
    """
    lanes = base.shape[0]
    branches = capacity_flow.size
    for branch in range(branches):
        leaving[branch] = supply
    if together:
        count = branch_begin[1] - branch_begin[0]
        if lanes == 2 and branches == 2:
            one, two = segment_lane[branch_begin[0]], segment_lane[branch_begin[1]]
            flow_1, flow_2 = capacity_flow[0], capacity_flow[1]
            inverse_1 = 1.0 / flow_1 if flow_1 > 0.0 else 0.0
            inverse_2 = 1.0 / flow_2 if flow_2 > 0.0 else 0.0
            t_1, t_2 = supply, supply
            for place in range(count):
                station = segment_station[place]
                here = answer[station]
                a, b, c, d = here[one, one], here[one, two], here[two, one], here[two, two]
                # What does not wait for the air comes first: the next station waits for two products only.
                rest_1 = a * base[one, station] + b * base[two, station]
                rest_2 = c * base[one, station] + d * base[two, station]
                share_1 = station_length[station] * inverse_1
                share_2 = station_length[station] * inverse_2
                q_1 = a * t_1 + (b * t_2 - rest_1)
                q_2 = d * t_2 + (c * t_1 - rest_2)
                heat[one, station] = q_1
                heat[two, station] = q_2
                t_1 -= q_1 * share_1
                t_2 -= q_2 * share_2
            leaving[0], leaving[1] = t_1, t_2
            return 1
        for place in range(count):
            station = segment_station[place]
            here = answer[station]
            for lane in range(lanes):
                heat[lane, station] = 0.0
            for branch in range(branches):
                lane = segment_lane[branch_begin[branch]]
                above = leaving[branch] - base[lane, station]
                for other in range(lanes):
                    heat[other, station] += here[other, lane] * above
            for branch in range(branches):
                if capacity_flow[branch] > 0.0:
                    lane = segment_lane[branch_begin[branch]]
                    leaving[branch] -= heat[lane, station] * station_length[station] / capacity_flow[branch]
        return 1
    heat[:] = 0.0
    sweeps = 0
    settled = False
    while not settled and sweeps < MOST_SWEEPS:
        sweeps += 1
        change = 0.0
        largest = 0.0
        for branch in range(branches):
            flow = capacity_flow[branch]
            if flow <= 0.0:
                continue
            temperature = supply
            for segment in range(branch_begin[branch], branch_begin[branch + 1]):
                lane, station = segment_lane[segment], segment_station[segment]
                rest = base[lane, station]
                for other in range(lanes):
                    if other != lane:
                        rest += influence[lane, other] * heat[other, station]
                q = answer[station, lane, lane] * (temperature - rest)
                change = max(change, abs(q - heat[lane, station]))
                largest = max(largest, abs(q))
                heat[lane, station] = q
                temperature -= q * station_length[station] / flow
            leaving[branch] = temperature
        settled = (change <= 1e-13 * largest or lanes == 1) and math.isfinite(change)
    return sweeps if settled else -sweeps


@kernel(forceinline=True)
def view_lanes(
    base: np.ndarray,
    slope: np.ndarray,
    room: float,
    supply: float,
    heat: np.ndarray,
    station_length: np.ndarray,
    influence: np.ndarray,
    wall_resistance: np.ndarray,
    branch_begin: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    capacity_flow: np.ndarray,
    wall: np.ndarray,
    air_in: np.ndarray,
    air_out: np.ndarray,
    branch_exit: np.ndarray,
) -> None:
    """Fill walls and air at both ends of every segment (S, M), and the exits (B,), after a stage.

    `base` and `heat` (M, S); `slope` (M,) is what the walls read per kelvin of room.
    """
    lanes, stations = base.shape
    for station in range(stations):
        for lane in range(lanes):
            value = base[lane, station] + slope[lane] * room + wall_resistance[lane] * heat[lane, station]
            for other in range(lanes):
                value += influence[lane, other] * heat[other, station]
            wall[station, lane] = value
            air_in[station, lane] = value
            air_out[station, lane] = value
    for branch in range(capacity_flow.size):
        flow = capacity_flow[branch]
        last = branch_begin[branch + 1] - 1
        if flow <= 0.0:
            # Still air takes the temperature of the wall beside it.
            branch_exit[branch] = wall[segment_station[last], segment_lane[last]]
            continue
        temperature = supply
        for segment in range(branch_begin[branch], branch_begin[branch + 1]):
            lane, station = segment_lane[segment], segment_station[segment]
            air_in[station, lane] = temperature
            temperature -= heat[lane, station] * station_length[station] / flow
            air_out[station, lane] = temperature
        branch_exit[branch] = temperature
