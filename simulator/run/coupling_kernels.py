"""One implicit stage of everything that meets at the section's ports: air march, floor film, room.

All temperatures are above one reference. Unknowns are the heat flow of every lane at every station and the
room temperature; each is affine in the room temperature, so one march with two columns and one scalar
equation solve the stage. Lanes feel each other within a stage only through the small off-diagonal influence
of the ground between them; sweeps over the lanes repeat until that has settled to rounding.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel

MOST_SWEEPS = 200


@kernel
def solve_stage(
    response: np.ndarray,
    influence: np.ndarray,
    known_loads: np.ndarray,
    wall_resistance: np.ndarray,
    station_length: np.ndarray,
    conductance: np.ndarray,
    branch_begin: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    branch_capacity_flow: np.ndarray,
    branch_ducts: np.ndarray,
    floor_port: int,
    floor_conductance: float,
    floor_lift: float,
    copies: float,
    supply_fixed: bool,
    supply_value: float,
    intake_is_room: bool,
    exit_is_room: bool,
    outside: float,
    room_is_fixed: bool,
    room_value: float,
    room_storage: float,
    room_loss: float,
    room_gain: float,
    loads: np.ndarray,
    wall: np.ndarray,
    air_in: np.ndarray,
    air_out: np.ndarray,
    branch_exit: np.ndarray,
) -> tuple[float, float, float, float, int]:
    """Solve one stage; S stations, M lanes, P ports, B branches, G segments in path order.

    Parameters
    ----------
    response : (S, P)
        Port readings after the stage under zero loads.
    influence : (P, P)
        Port readings per unit load.
    known_loads : (P,)
        Loads of outside, bottom and sides; zero for lanes and floor.
    wall_resistance : (M,) [K.m/W]
    station_length : (S,) [m]
    conductance : (S, M) [W/(m.K)]
        From air to duct wall, per metre of one duct.
    branch_begin : (B + 1,) int; segment_lane, segment_station : (G,) int
        The path of each branch through lanes and stations.
    branch_capacity_flow : (B,) [W/K]
        Mass flow times heat capacity of one duct; 0 for still air.
    branch_ducts : (B,)
        Ducts that each branch stands for in the whole floor.
    floor_port, floor_conductance [W/(m.K)], floor_lift [K]
        Port number; film conductance of one section; sun on the floor over its film.
    copies : float
        Sections in the whole floor's width.
    supply_fixed, supply_value
        Either a fixed supply temperature [K], or a rise above the intake [K].
    room_value : float
        Fixed room temperature, or the room's temperature before the stage [K].
    room_storage, room_loss [W/K], room_gain [W]
        Room heat capacity over stage length; loss to the outside; gains.
    loads : (S, P); wall : (S, M); air_in, air_out : (S, M); branch_exit : (B,)
        Filled: loads to apply, wall temperatures, air at both ends of each segment, exit temperatures.

    Returns
    -------
    tuple of float
        Room and supply temperature, heat taken in by the floor surface [W], mixed exit temperature, sweeps
        (negative if they did not settle).
    """
    stations, ports = response.shape
    lanes = wall_resistance.size
    branches = branch_capacity_flow.size
    # Column 0: value with the room at the reference; column 1: slope with room temperature.
    flow_0 = np.zeros((stations, lanes))
    flow_1 = np.zeros((stations, lanes))
    base = np.empty((stations, ports))
    slope = np.empty(ports)
    for port in range(ports):
        known = influence[port, floor_port] * floor_lift
        for other in range(lanes, ports):
            if other != floor_port:
                known += influence[port, other] * known_loads[other]
        slope[port] = influence[port, floor_port]
        for station in range(stations):
            base[station, port] = response[station, port] + known
    if supply_fixed:
        supply_0, supply_1 = supply_value, 0.0
    elif intake_is_room:
        supply_0, supply_1 = supply_value, 1.0
    else:
        supply_0, supply_1 = supply_value + outside, 0.0
    # Heat flow per kelvin of every segment [W/(m.K)], the wall's own warming allowed for.
    damping = np.zeros((stations, lanes))
    for branch in range(branches):
        capacity_flow = branch_capacity_flow[branch]
        if capacity_flow <= 0.0:
            continue
        for segment in range(branch_begin[branch], branch_begin[branch + 1]):
            lane = segment_lane[segment]
            station = segment_station[segment]
            length = station_length[station]
            taken = -math.expm1(-conductance[station, lane] * length / capacity_flow)
            value = capacity_flow * taken / length
            damping[station, lane] = value / (1.0 + value * (influence[lane, lane] + wall_resistance[lane]))
    exit_0 = np.zeros(branches)
    exit_1 = np.zeros(branches)
    sweeps = 0
    settled = False
    while not settled and sweeps < MOST_SWEEPS:
        sweeps += 1
        change = 0.0
        largest = 0.0
        for branch in range(branches):
            capacity_flow = branch_capacity_flow[branch]
            exit_0[branch] = supply_0
            exit_1[branch] = supply_1
            if capacity_flow <= 0.0:
                continue
            t_0, t_1 = supply_0, supply_1
            for segment in range(branch_begin[branch], branch_begin[branch + 1]):
                lane = segment_lane[segment]
                station = segment_station[segment]
                drop = station_length[station] / capacity_flow
                rest_0 = base[station, lane]
                rest_1 = slope[lane]
                for other in range(lanes):
                    if other != lane:
                        rest_0 += influence[lane, other] * flow_0[station, other]
                        rest_1 += influence[lane, other] * flow_1[station, other]
                q_0 = damping[station, lane] * (t_0 - rest_0)
                q_1 = damping[station, lane] * (t_1 - rest_1)
                change = max(change, abs(q_0 - flow_0[station, lane]), abs(q_1 - flow_1[station, lane]))
                largest = max(largest, abs(q_0), abs(q_1))
                flow_0[station, lane] = q_0
                flow_1[station, lane] = q_1
                t_0 -= q_0 * drop
                t_1 -= q_1 * drop
            exit_0[branch] = t_0
            exit_1[branch] = t_1
        settled = (change <= 1e-13 * largest or lanes == 1) and math.isfinite(change)
    total_flow = 0.0
    mixed_0 = 0.0
    mixed_1 = 0.0
    for branch in range(branches):
        share = branch_capacity_flow[branch] * branch_ducts[branch]
        total_flow += share
        mixed_0 += share * exit_0[branch]
        mixed_1 += share * exit_1[branch]
    # Heat taken in by the floor surface = conductance * (room + lift) - reading, summed over the floor.
    floor_0 = 0.0
    floor_1 = 0.0
    for station in range(stations):
        reading_0 = base[station, floor_port]
        reading_1 = slope[floor_port]
        for lane in range(lanes):
            reading_0 += influence[floor_port, lane] * flow_0[station, lane]
            reading_1 += influence[floor_port, lane] * flow_1[station, lane]
        floor_0 += copies * station_length[station] * (floor_conductance * floor_lift - reading_0)
        floor_1 += copies * station_length[station] * (floor_conductance - reading_1)
    if room_is_fixed:
        room = room_value
    else:
        # storage * (room - before) = loss * (outside - room) + gain - floor intake + air exchange
        held = room_storage + room_loss + floor_1
        given = room_storage * room_value + room_loss * outside + room_gain - floor_0
        if exit_is_room:
            held += total_flow - mixed_1
            given += mixed_0
        elif intake_is_room:
            held += total_flow
            given += total_flow * outside
        room = given / held
    for station in range(stations):
        for port in range(lanes, ports):
            loads[station, port] = known_loads[port]
        loads[station, floor_port] = room + floor_lift
        for lane in range(lanes):
            q = flow_0[station, lane] + room * flow_1[station, lane]
            loads[station, lane] = q
        for lane in range(lanes):
            value = base[station, lane] + slope[lane] * room + wall_resistance[lane] * loads[station, lane]
            for other in range(lanes):
                value += influence[lane, other] * loads[station, other]
            wall[station, lane] = value
            air_in[station, lane] = value
            air_out[station, lane] = value
    supply = supply_0 + room * supply_1
    for branch in range(branches):
        capacity_flow = branch_capacity_flow[branch]
        temperature = supply
        last = branch_begin[branch + 1] - 1
        if capacity_flow <= 0.0:
            # Still air takes the temperature of the wall beside it.
            branch_exit[branch] = wall[segment_station[last], segment_lane[last]]
            continue
        for segment in range(branch_begin[branch], branch_begin[branch + 1]):
            lane = segment_lane[segment]
            station = segment_station[segment]
            air_in[station, lane] = temperature
            temperature -= loads[station, lane] * station_length[station] / capacity_flow
            air_out[station, lane] = temperature
        branch_exit[branch] = temperature
    if total_flow > 0.0:
        mixed = (mixed_0 + room * mixed_1) / total_flow
    else:
        mixed = 0.0
        ducts = 0.0
        for branch in range(branches):
            mixed += branch_exit[branch] * branch_ducts[branch]
            ducts += branch_ducts[branch]
        mixed /= ducts
    return room, supply, floor_0 + room * floor_1, mixed, sweeps if settled else -sweeps
