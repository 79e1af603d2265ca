"""Many steps of a section in modal form without water and gas, compiled as one loop.

The same stages as `stage_kernels.stage`, with what does not change from step to step done once: tables of
each step length, the way of the air for one room temperature and the next, films that the case pins.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.air.flow_kernels import air_heat_capacity, total_mass_flow
from simulator.kernel import kernel
from simulator.plant.heater_kernels import supply_values
from simulator.run.held_kernels import HeldRows, HeldRun
from simulator.run.lane_kernels import (
    REMEMBERED,
    place_of,
    prepare_lanes,
    room_for_lanes,
    side_by_side,
    through_lanes,
    view_lanes,
)
from simulator.run.outcome_kernels import FINE, NOT_FINITE, NOT_SETTLED
from simulator.run.row_kernels import keep_row
from simulator.run.stage_kernels import (
    BOTTOM,
    DUCT,
    EXHAUST,
    EXIT,
    FAN,
    FLOOR,
    FLOOR_GAIN,
    FLOOR_LIFT,
    HEATER,
    MASS_FLOW,
    OUTSIDE_GROUND,
    RETURN,
    ROOM,
    ROOM_GAIN,
    ROOM_LOSS,
    ROOM_MEAN,
    SIDES,
    SUN,
    SUPPLY,
    book_room,
    electricity,
    even_pressure,
    refresh_films,
)
from simulator.run.step_tables_kernels import COMMON, push_state, slot_of, total_of


@kernel
def march_dry(
    held: HeldRun,
    rows: HeldRows,
    state: np.ndarray,
    gamma: float,
    lengths: np.ndarray,
    drives: np.ndarray,
    outside: np.ndarray,
    sun: np.ndarray,
    series: np.ndarray,
    around: np.ndarray,
    hold_room: bool,
    energies: np.ndarray,
    stored: np.ndarray,
) -> tuple[int, int]:
    """Advance `state` (S, R) through n steps in place, and note the rows that `rows` asks for.

    Parameters
    ----------
    held : HeldRun
    rows : HeldRows
    gamma : float
        Coefficient of the two-stage scheme.
    lengths : (n,) [s]
    drives : (n, 4)
        Fan share, heat power [W], supply temperature [K], rise of the heat power over the step [W].
    outside [K above reference], sun [W/m2], series [K] : (n, 2)
        Values at the two stages.
    around : (n, 5)
        What surrounds the room during each step.
    energies : (n, 15); stored : (n, 2)
        Filled: heat through each account, change of heat in ground and room [J].

    Returns
    -------
    tuple of int
        0, or what went wrong; and the step at which it did.
    """
    fixed, moving, tables = held.fixed, held.moving, held.tables
    scalars = moving.scalars
    stations, modes = state.shape
    lanes = fixed.wall_resistance.size
    branches = fixed.branch_ducts.size
    ducts = fixed.branch_ducts.sum()
    length = fixed.station_length
    whole_length = length.sum()
    together = side_by_side(fixed.branch_begin, fixed.segment_lane, fixed.segment_station)
    share = (1.0 - gamma) / gamma
    # Films that the case pins, and a flow that needs no temperature in the ducts, change at switches only.
    steady = fixed.even_split and math.isnan(fixed.efficiency)
    steady = steady and fixed.film_on >= 0.0 and fixed.film_off >= 0.0
    film = -1.0

    readings = np.empty((stations, 2 * lanes))
    common_readings = np.empty(2 * COMMON)
    common = np.zeros(2 * COMMON)
    flows = np.zeros(((lanes + 1) // 2, 4, stations))
    sums = np.zeros((2, lanes))
    total, before, shift = np.empty(modes), np.empty(modes), np.empty(modes)
    base, still = np.empty((lanes, stations)), np.empty((lanes, stations))
    heat = np.zeros((lanes, stations))
    heat_0 = np.zeros((lanes, stations))
    leaving_0, leaving_1 = np.zeros(branches), np.zeros(branches)
    work = np.empty((lanes, 2 * lanes))
    # Where nothing but switches changes the flow, the same few settings come again and again.
    many = REMEMBERED if steady and lengths.size > REMEMBERED else 1
    settings = room_for_lanes(many, stations, lanes, branches)
    place = 0
    branch_flow, solved_flow = np.zeros(branches), np.zeros(branches)
    rates = np.zeros(energies.shape[1])
    slope, alone = np.empty(lanes), np.empty(lanes)
    solved_slot, solved_supply = -1, 0.0
    total_of(state, length, total)
    row = 0
    slot = -1
    for step in range(lengths.size):
        if slot < 0 or tables.lengths[slot] != lengths[step]:
            slot = slot_of(tables, lengths[step], gamma, held.rates, held.injection, held.reading)
            # A table may have been overwritten under the same number.
            solved_slot = -1
        influence, cross = tables.influence[slot], tables.cross[slot]
        tau = gamma * lengths[step]
        fan_share = drives[step, 0]
        pinned = fixed.film_on if fan_share > 0.0 else fixed.film_off
        if steady and pinned == film:
            intake = (scalars[ROOM] if fixed.intake_is_room else outside[step, 0]) + fixed.reference
            flow = total_mass_flow(
                fan_share, intake, fixed.volume_flow, fixed.off_volume_flow, fixed.mass_flow,
                fixed.off_mass_flow, fixed.density, fixed.pressure,
            )  # fmt: skip
            if flow != scalars[MASS_FLOW]:
                scalars[MASS_FLOW] = flow
                moving.branch_flow[:] = flow / ducts
        else:
            refresh_films(fixed, moving, fan_share, outside[step, 0])
            film = pinned
            solved_slot = -1
        flow = scalars[MASS_FLOW]
        moves = flow > 0.0
        np.dot(state, tables.lane_look[slot], readings)
        np.dot(tables.common_look[slot], total, common_readings)
        room_old = scalars[ROOM]
        held_room = fixed.room_fixed or hold_room
        for number in range(2):
            first = COMMON * number
            room_before = room_old
            if number == 1:
                room_before = room_old + share * (scalars[ROOM] - room_old)
            here = outside[step, number]
            sun_gain = sun[step, number] * fixed.sun_area
            on_floor = sun_gain * fixed.sun_to_floor + around[step, FLOOR_GAIN] * fixed.floor_area
            lift = on_floor / (fixed.floor_film * fixed.floor_area) if on_floor != 0.0 else 0.0
            # The straight line with the step's mean: as for the weather, see `loop.stage_values`.
            heat_power = drives[step, 1] + drives[step, 3] * (gamma - 0.5 if number == 0 else 0.5)
            given, power, power_to_room = supply_values(
                fan_share, heat_power, drives[step, 2], series[step, number]
            )
            electric = electricity(fixed, moving, fan_share)
            capacity_flow = flow * air_heat_capacity(scalars[SUPPLY] + fixed.reference, fixed.heat_capacity)
            supply_0, supply_1 = 0.0, 0.0
            if not math.isnan(given):
                supply_0 = given - fixed.reference
            else:
                if moves:
                    supply_0 = (power + electric) / capacity_flow
                if fixed.intake_is_room:
                    supply_1 = 1.0
                else:
                    supply_0 += here
            changed = slot != solved_slot or supply_1 != solved_supply
            for branch in range(branches):
                if fixed.even_split:
                    branch_flow[branch] = capacity_flow / ducts
                else:
                    each = capacity_flow / flow if moves else 0.0
                    branch_flow[branch] = moving.branch_flow[branch] * each
                changed = changed or branch_flow[branch] != solved_flow[branch]
            total_flow = 0.0
            for branch in range(branches):
                total_flow += branch_flow[branch] * fixed.branch_ducts[branch]
            if changed:
                solved_slot, solved_supply = slot, supply_1
                solved_flow[:] = branch_flow
                for lane in range(lanes):
                    slope[lane] = influence[lane, lanes]
                place, is_known = place_of(settings, lengths[step], supply_1, branch_flow)
                if not is_known:
                    for lane in range(lanes):
                        for station in range(stations):
                            still[lane, station] = slope[lane]
                    prepare_lanes(
                        together, moving.conductance, length, influence, fixed.wall_resistance,
                        fixed.branch_begin, fixed.segment_lane, fixed.segment_station, branch_flow,
                        settings.answer[place], work, alone,
                    )  # fmt: skip
                    sweeps = through_lanes(
                        together, settings.answer[place], still, supply_1, length, influence,
                        fixed.branch_begin, fixed.segment_lane, fixed.segment_station, branch_flow,
                        settings.heat[place], leaving_1,
                    )  # fmt: skip
                    if sweeps < 0:
                        return NOT_SETTLED, step
                    mixed = 0.0
                    for branch in range(branches):
                        mixed += branch_flow[branch] * fixed.branch_ducts[branch] * leaving_1[branch]
                    settings.mixed[place] = mixed
                    floor = whole_length * (fixed.port_total[lanes] - influence[lanes, lanes])
                    for lane in range(lanes):
                        taken = 0.0
                        for station in range(stations):
                            taken += length[station] * settings.heat[place, lane, station]
                        settings.heat_sum[place, lane] = taken
                        floor -= influence[lanes, lane] * taken
                    settings.floor[place] = floor * fixed.copies
            answer, heat_1 = settings.answer[place], settings.heat[place]
            mixed_1, floor_1 = settings.mixed[place], settings.floor[place]
            # What the walls read with no heat in the lanes and the room at the reference.
            common[first] = lift
            common[first + 1] = here
            common[first + 2] = fixed.bottom_load
            common[first + 3] = fixed.sides_load
            for lane in range(lanes):
                known = 0.0
                for port in range(COMMON):
                    known += influence[lane, lanes + port] * common[first + port]
                    if number == 1:
                        known += cross[lane, lanes + port] * common[port]
                for station in range(stations):
                    base[lane, station] = readings[station, lanes * number + lane] + known
                if number == 1:
                    for other in range(lanes):
                        factor = cross[lane, other]
                        for station in range(stations):
                            base[lane, station] += factor * flows[other // 2, other % 2, station]
            sweeps = through_lanes(
                together, answer, base, supply_0, length, influence, fixed.branch_begin,
                fixed.segment_lane, fixed.segment_station, branch_flow, heat_0, leaving_0,
            )  # fmt: skip
            if sweeps < 0:
                return NOT_SETTLED, step
            mixed_0 = 0.0
            for branch in range(branches):
                mixed_0 += branch_flow[branch] * fixed.branch_ducts[branch] * leaving_0[branch]
            for lane in range(lanes):
                taken = 0.0
                for station in range(stations):
                    taken += length[station] * heat_0[lane, station]
                sums[number, lane] = taken
            # Readings of the common ports, summed over the stations.
            if number == 1:
                for port in range(COMMON):
                    value = 0.0
                    for other in range(lanes):
                        value += cross[lanes + port, other] * sums[0, other]
                    for other in range(COMMON):
                        value += cross[lanes + port, lanes + other] * common[other] * whole_length
                    common_readings[COMMON + port] += value
            # Heat that the floor surface takes in = conductance (room + lift) - reading.
            floor_0 = whole_length * fixed.port_total[lanes] * lift - common_readings[first]
            for port in range(COMMON):
                floor_0 -= influence[lanes, lanes + port] * common[first + port] * whole_length
            for lane in range(lanes):
                floor_0 -= influence[lanes, lane] * sums[number, lane]
            floor_0 *= fixed.copies
            gain = around[step, ROOM_GAIN] + around[step, FLOOR_GAIN] * fixed.floor_area
            gain += sun_gain + power_to_room
            if held_room:
                room = room_before
            else:
                # storage (room - before) = loss (outside - room) + gain - floor intake + exchange of air
                storage = fixed.room_heat_capacity / tau
                hold = storage + around[step, ROOM_LOSS] + floor_1
                push = storage * room_before + around[step, ROOM_LOSS] * here + gain - floor_0
                if fixed.exit_is_room:
                    hold += total_flow - mixed_1
                    push += mixed_0
                elif fixed.intake_is_room:
                    hold += total_flow
                    push += total_flow * here
                room = push / hold
            common[first] = room + lift
            for lane in range(lanes):
                sums[number, lane] += room * settings.heat_sum[place, lane]
                for station in range(stations):
                    value = heat_0[lane, station] + room * heat_1[lane, station]
                    heat[lane, station] = value
                    flows[lane // 2, 2 * number + lane % 2, station] = value
            supply = supply_0 + room * supply_1
            mixed = (mixed_0 + room * mixed_1) / total_flow if total_flow > 0.0 else 0.0
            scalars[ROOM] = room
            scalars[SUPPLY] = supply
            scalars[FLOOR_LIFT] = lift
            if moves:
                scalars[EXIT] = mixed
            weight = gamma if number == 1 else 1.0 - gamma
            scalars[ROOM_MEAN] = weight * room + (scalars[ROOM_MEAN] if number == 1 else 0.0)
            # The books; see `stage_kernels.stage`.
            floor_intake = floor_0 + room * floor_1
            rates[FAN] = electric if moves else 0.0
            rates[HEATER] = power_to_room
            if moves:
                intake = room if fixed.intake_is_room else here
                rates[HEATER] += capacity_flow * (supply - intake) - electric
            rates[DUCT] = capacity_flow * (supply - mixed)
            rates[FLOOR] = on_floor - floor_intake
            rates[RETURN] = 0.0
            exchange = 0.0
            if fixed.exit_is_room:
                exchange = capacity_flow * (mixed - room)
                rates[RETURN] = exchange
                rates[EXHAUST] = 0.0 if fixed.intake_is_room else capacity_flow * (room - here)
            else:
                rates[EXHAUST] = capacity_flow * (mixed - here)
                if fixed.intake_is_room:
                    exchange = capacity_flow * (here - room)
            rates[SUN] = sun_gain
            book_room(fixed, held_room, around[step], gain - floor_intake + exchange, room, here, rates)
            for port in range(1, COMMON):
                value = (
                    fixed.port_total[lanes + port] * common[first + port] * whole_length
                    - common_readings[first + port]
                )
                for other in range(lanes):
                    value -= influence[lanes + port, other] * sums[number, other]
                for other in range(COMMON):
                    value -= influence[lanes + port, lanes + other] * common[first + other] * whole_length
                value *= fixed.copies
                if port == 1:
                    rates[OUTSIDE_GROUND] = -value
                elif port == 2:
                    rates[BOTTOM] = value
                else:
                    rates[SIDES] = value
            for account in range(rates.size):
                energies[step, account] += weight * lengths[step] * rates[account]
        push_state(
            state, tables.keep[slot], tables.lane_push[slot], flows, tables.common_push[slot], common, shift
        )
        before[:] = total
        total_of(state, length, total)
        ground = 0.0
        for mode in range(modes):
            shift[mode] = total[mode] - before[mode]
        ground = np.dot(held.capacity, shift)
        stored[step, 0] = fixed.copies * ground
        if not held_room:
            stored[step, 1] = fixed.room_heat_capacity * (scalars[ROOM] - room_old)
        if not (math.isfinite(ground) and math.isfinite(scalars[ROOM])):
            return NOT_FINITE, step
        row_is_due = row < rows.steps.size and rows.steps[row] == step
        if row_is_due or not steady or step == lengths.size - 1:
            # `base` and `heat` are those of the second stage.
            view_lanes(
                base, slope, scalars[ROOM], scalars[SUPPLY], heat, length, influence, fixed.wall_resistance,
                fixed.branch_begin, fixed.segment_lane, fixed.segment_station, branch_flow, moving.wall,
                moving.air_in, moving.air_out, moving.branch_exit,
            )  # fmt: skip
            if not moves:
                mixed = 0.0
                for branch in range(branches):
                    mixed += moving.branch_exit[branch] * fixed.branch_ducts[branch]
                scalars[EXIT] = mixed / ducts
        if row_is_due:
            even_pressure(fixed, moving)
            if rows.section.shape[0] > 0:
                rows.section[row] = state
            np.dot(state, rows.columns, rows.looks[row])
            keep_row(rows.moving, row, moving)
            row += 1
    even_pressure(fixed, moving)
    return FINE, 0
