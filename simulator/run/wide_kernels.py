"""One implicit stage with moisture in the ducts, or a flue run beside them.

As `coupling_kernels.solve_stage`, with two things more. Water that settles or dries frees or takes heat at
the inside of the pipe, found at each segment together with the temperature there and then taken as a straight
line over the room's temperature. Combustion gas in a lane of its own, bare or in a jacket of blown air, goes
to the stack. Sweeps over the branches repeat until lanes, room and room humidity agree.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.air.flow_kernels import air_heat_capacity
from simulator.air.flue_kernels import (
    LEAST_FLOW,
    annulus_conductances,
    bare_conductance,
    gas_capacity_flow,
    radiation_film,
    two_streams,
)
from simulator.air.moisture_kernels import heat_of_settling, heat_share, wet_segment
from simulator.kernel import kernel
from simulator.physics.air_kernels import density as dry_air_density
from simulator.physics.air_kernels import within_fit
from simulator.physics.moist_air_kernels import (
    VAPOUR_HEAT_CAPACITY,
    ratio_at_relative_humidity,
    saturation_ratio,
)
from simulator.plant.heater_kernels import supply_values
from simulator.run.stage_kernels import (
    AROUND_VAPOUR_GAIN,
    AROUND_VAPOUR_LOSS,
    CONDENSED,
    DRAINED,
    DRIED,
    DUCT,
    EXHAUST,
    EXIT,
    EXIT_RATIO,
    FAN,
    FLOOR,
    FLOOR_GAIN,
    FLOOR_LIFT,
    FLUE,
    GAS_ENTRY,
    GAS_FLOW,
    HEATER,
    JACKET_FLOW,
    JACKET_SUPPLY,
    LATENT,
    MASS_FLOW,
    OUTSIDE_RATIO,
    RATIO_BEFORE,
    RATIO_OLD,
    RETURN,
    ROOM,
    ROOM_GAIN,
    ROOM_LOSS,
    ROOM_RATIO,
    STEP_LENGTH,
    SUN,
    SUPPLY,
    VAPOUR_FROM_DUCTS,
    VAPOUR_GAIN,
    VAPOUR_HELD,
    VAPOUR_LEAKED,
    VAPOUR_ON_GLASS,
    Fixed,
    Moving,
    book_room,
    book_surfaces,
    electricity,
)

MOST_SWEEPS = 200
SETTLED = 1e-13
"""Change of heat flows over the largest at which lanes have settled."""
QUIET_SWEEPS = 12
"""Sweeps before the room is helped along."""
MOST_GROWN = 3.0
"""Most by which the excess of gas over ground is taken to grow in a step."""
LEAST_EXCESS = 5.0
"""Excess [K] under which that of the gas tells nothing about what comes."""
FOLLOWING_SWEEPS = 100
"""Sweeps in which a held relative humidity follows the room's temperature."""
HELPED_FROM = 1e-6
"""Change of the room [K] in a sweep under which it needs no help."""
NEARLY_SETTLED = 1e-7
"""What is accepted after the last sweep."""


@kernel
def refresh_flue(fixed: Fixed, moving: Moving) -> None:
    """Take the conductances round gas pipe and jacket from the latest temperatures."""
    if not fixed.has_flue:
        return
    gas_flow = moving.scalars[GAS_FLOW]
    flue = fixed.air_branches
    lane = fixed.flue_lane
    jacket_flow = 0.0
    if fixed.jacketed and gas_flow > 0.0:
        at_blower = within_fit(moving.scalars[ROOM] + fixed.reference)
        jacket_flow = fixed.jacket_volume_flow * dry_air_density(at_blower, fixed.pressure)
    moving.scalars[JACKET_FLOW] = jacket_flow
    moving.branch_flow[flue] = gas_flow
    if fixed.jacketed:
        moving.branch_flow[flue + 1] = jacket_flow
    # Excess over the ground has grown since with that of the gas that comes in.
    entrance = fixed.segment_station[fixed.branch_begin[flue]]
    was = moving.gas_in[entrance] - moving.wall[entrance, lane]
    now = moving.scalars[GAS_ENTRY] - fixed.reference - moving.wall[entrance, lane]
    grown = min(max(now / was, 0.0), MOST_GROWN) if abs(was) > LEAST_EXCESS else 1.0
    for segment in range(fixed.branch_begin[flue], fixed.branch_begin[flue + 1]):
        station = fixed.segment_station[segment]
        ground = moving.wall[station, lane] + fixed.reference
        mean = 0.5 * (moving.gas_in[station] + moving.gas_out[station]) - moving.wall[station, lane]
        gas = min(max(ground + grown * mean, 200.0), 1500.0)
        at_pipe = ground + grown * (moving.gas_pipe[station] - moving.wall[station, lane])
        to_ground, film = bare_conductance(
            gas_flow, gas, at_pipe, fixed.flue_diameter, fixed.begin[segment], fixed.end[segment],
            fixed.flue_pipe_resistance, fixed.pressure, fixed.gas_made, fixed.gas_low, fixed.gas_high,
            fixed.gas_viscosity, fixed.gas_conductivity,
        )  # fmt: skip
        moving.film[station, lane] = film
        moving.gas_ways[station, 0] = to_ground
        if not fixed.jacketed:
            continue
        air = 0.5 * (moving.air_in[station, lane] + moving.air_out[station, lane]) + fixed.reference
        inside, outside = annulus_conductances(
            jacket_flow, air, fixed.jacket_inner, fixed.jacket_outer, fixed.begin[segment], fixed.end[segment]
        )
        pipe = within_fit(moving.gas_pipe[station] + fixed.reference)
        wall = within_fit(moving.surface[station, lane] + fixed.reference)
        radiating = radiation_film(pipe, wall, fixed.jacket_inner, fixed.jacket_outer)
        moving.gas_ways[station, 1] = inside
        moving.gas_ways[station, 2] = radiating * math.pi * fixed.jacket_inner if gas_flow > 0.0 else 0.0
        moving.gas_ways[station, 3] = outside


@kernel
def open_step(fixed: Fixed, moving: Moving, length: float) -> None:
    """Make ready for a step of `length` [s]."""
    if not fixed.wet:
        return
    moving.scalars[STEP_LENGTH] = length
    moving.scalars[RATIO_OLD] = moving.scalars[ROOM_RATIO]
    moving.scalars[RATIO_BEFORE] = moving.scalars[ROOM_RATIO]
    moving.water_change[:] = 0.0


@kernel
def between_stages(fixed: Fixed, moving: Moving, share: float) -> None:
    """Take the room's humidity to where the second stage begins."""
    if fixed.wet:
        old = moving.scalars[RATIO_OLD]
        moving.scalars[RATIO_BEFORE] = old + share * (moving.scalars[ROOM_RATIO] - old)


@kernel
def book_water(fixed: Fixed, moving: Moving, weight: float, rates: np.ndarray) -> None:
    """Add a stage's water to the step: `weight` [s], `rates` (8,) [kg/s] of the totals."""
    if not fixed.wet:
        return
    for station in range(moving.water.shape[0]):
        for lane in range(moving.water.shape[1]):
            moving.water_change[station, lane] += weight * moving.settling[station, lane]
    for number in range(rates.size):
        moving.water_totals[number] += weight * rates[number]


@kernel
def close_step(fixed: Fixed, moving: Moving) -> None:
    """Take the step's water into what the ducts hold; what cannot cling runs off where it drains."""
    if not fixed.wet:
        return
    for segment in range(fixed.branch_begin[fixed.air_branches]):
        station, lane = fixed.segment_station[segment], fixed.segment_lane[segment]
        held = max(moving.water[station, lane] + moving.water_change[station, lane], 0.0)
        kept = min(held, fixed.clinging_water)
        moving.water[station, lane] = kept
        ducts = fixed.branch_ducts[fixed.segment_branch[segment]]
        moving.water_totals[DRAINED] += (held - kept) * fixed.station_length[station] * ducts


@kernel
def march_air(
    fixed: Fixed,
    moving: Moving,
    branch: int,
    supply_0: float,
    supply_1: float,
    ratio: float,
    air_capacity: float,
    room: float,
    base: np.ndarray,
    slope: np.ndarray,
    influence: np.ndarray,
    flow_0: np.ndarray,
    flow_1: np.ndarray,
    latent_0: np.ndarray,
    latent_1: np.ndarray,
    capacity: np.ndarray,
    changes: np.ndarray,
) -> tuple[float, float, float, float, float]:
    """March one air branch; return exit temperature (both columns), ratio, its sensitivity, capacity flow."""
    lanes = fixed.wall_resistance.size
    mass_flow = moving.branch_flow[branch]
    t_0, t_1 = supply_0, supply_1
    passed = 1.0
    capacity_flow = mass_flow * (air_capacity + ratio * VAPOUR_HEAT_CAPACITY)
    for segment in range(fixed.branch_begin[branch], fixed.branch_begin[branch + 1]):
        lane = fixed.segment_lane[segment]
        station = fixed.segment_station[segment]
        length = fixed.station_length[station]
        rest_0 = base[station, lane]
        rest_1 = slope[lane]
        for other in range(lanes):
            if other != lane:
                rest_0 += influence[lane, other] * flow_0[station, other]
                rest_1 += influence[lane, other] * flow_1[station, other]
        ground = influence[lane, lane] + fixed.wall_resistance[lane]
        moving.humid_in[station, lane] = ratio
        settling = 0.0
        latent = 0.0
        bending = 0.0
        kept = 1.0
        surface = 0.0
        if fixed.wet:
            settling, latent, bending, capacity_flow, surface, kept = wet_segment(
                t_0 + room * t_1 + fixed.reference, ratio, rest_0 + room * rest_1 + fixed.reference, ground,
                fixed.pipe_resistance, moving.conductance[station, lane], moving.film[station, lane],
                fixed.diameter, length, mass_flow, air_capacity,
                moving.water[station, lane] / moving.scalars[STEP_LENGTH], fixed.pressure,
            )  # fmt: skip
            surface -= fixed.reference
        share = heat_share(capacity_flow, moving.conductance[station, lane], length, ground)
        total = ground + fixed.pipe_resistance
        q_0 = 0.0
        q_1 = 0.0
        if latent != 0.0 or bending != 0.0:
            lifting = total * (1.0 - share * total)
            free_0 = rest_0 + total * share * (t_0 - rest_0)
            free_1 = rest_1 + total * share * (t_1 - rest_1)
            yielding = 1.0 - lifting * bending
            q_0 = latent + bending * ((free_0 + lifting * (latent - bending * surface)) / yielding - surface)
            q_1 = bending * free_1 / yielding
        sensible_0 = share * (t_0 - rest_0 - total * q_0)
        sensible_1 = share * (t_1 - rest_1 - total * q_1)
        latent_0[station, lane] = q_0
        latent_1[station, lane] = q_1
        q_0 += sensible_0
        q_1 += sensible_1
        # What counts is the heat at the room's present temperature: at the edge of drying out the two columns
        # may take turns while their sum stands still.
        changes[0] = max(changes[0], abs(q_0 - flow_0[station, lane] + room * (q_1 - flow_1[station, lane])))
        changes[1] = max(changes[1], abs(q_0), abs(q_1))
        flow_0[station, lane] = q_0
        flow_1[station, lane] = q_1
        capacity[station, lane] = capacity_flow
        moving.settling[station, lane] = settling
        moving.surface[station, lane] = surface
        ratio -= settling * length / mass_flow
        moving.humid_out[station, lane] = ratio
        passed *= kept
        t_0 -= sensible_0 * length / capacity_flow
        t_1 -= sensible_1 * length / capacity_flow
    return t_0, t_1, ratio, passed, capacity_flow


@kernel
def march_flue(
    fixed: Fixed,
    moving: Moving,
    jacket_0: float,
    jacket_1: float,
    jacket_capacity: float,
    room: float,
    base: np.ndarray,
    slope: np.ndarray,
    influence: np.ndarray,
    flow_0: np.ndarray,
    flow_1: np.ndarray,
    changes: np.ndarray,
    gas_0: np.ndarray,
    gas_1: np.ndarray,
    gap_0: np.ndarray,
    gap_1: np.ndarray,
) -> None:
    """March gas and jacket air; fill both columns at the run's segment ends (n + 1,), entry first."""
    lanes = fixed.wall_resistance.size
    flue = fixed.air_branches
    lane = fixed.flue_lane
    first, last = fixed.branch_begin[flue], fixed.branch_begin[flue + 1]
    gas_0[0], gas_1[0] = moving.scalars[GAS_ENTRY] - fixed.reference, 0.0
    gap_0[0], gap_1[0] = jacket_0, jacket_1
    for segment in range(first, last):
        place = segment - first
        station = fixed.segment_station[segment]
        length = fixed.station_length[station]
        rest_0 = base[station, lane]
        rest_1 = slope[lane]
        for other in range(lanes):
            if other != lane:
                rest_0 += influence[lane, other] * flow_0[station, other]
                rest_1 += influence[lane, other] * flow_1[station, other]
        ground = influence[lane, lane] + fixed.wall_resistance[lane]
        gas = 0.5 * (moving.gas_in[station] + moving.gas_out[station]) + fixed.reference
        gas_capacity = gas_capacity_flow(moving.scalars[GAS_FLOW], gas, fixed.gas_low, fixed.gas_high)
        gas_capacity = max(gas_capacity, LEAST_FLOW)
        if fixed.jacketed:
            air_capacity = max(jacket_capacity, LEAST_FLOW)
            ways = moving.gas_ways[station]
            gg, ga, ag, aa = two_streams(
                gas_capacity, air_capacity, ways[0], ways[1], ways[2], ways[3], length
            )
            by_gas = (gas_capacity * (1.0 - gg) - air_capacity * ag) / length
            by_air = (air_capacity * (1.0 - aa) - gas_capacity * ga) / length
            resistance = ground + fixed.flue_ground_resistance
            divisor = 1.0 + (by_gas + by_air) * resistance
            q_0 = (by_gas * (gas_0[place] - rest_0) + by_air * (gap_0[place] - rest_0)) / divisor
            q_1 = (by_gas * (gas_1[place] - rest_1) + by_air * (gap_1[place] - rest_1)) / divisor
            wall_0, wall_1 = rest_0 + resistance * q_0, rest_1 + resistance * q_1
            gas_0[place + 1] = wall_0 + gg * (gas_0[place] - wall_0) + ga * (gap_0[place] - wall_0)
            gas_1[place + 1] = wall_1 + gg * (gas_1[place] - wall_1) + ga * (gap_1[place] - wall_1)
            gap_0[place + 1] = wall_0 + ag * (gas_0[place] - wall_0) + aa * (gap_0[place] - wall_0)
            gap_1[place + 1] = wall_1 + ag * (gas_1[place] - wall_1) + aa * (gap_1[place] - wall_1)
        else:
            share = heat_share(gas_capacity, moving.gas_ways[station, 0], length, ground)
            q_0 = share * (gas_0[place] - rest_0)
            q_1 = share * (gas_1[place] - rest_1)
            gas_0[place + 1] = gas_0[place] - q_0 * length / gas_capacity
            gas_1[place + 1] = gas_1[place] - q_1 * length / gas_capacity
            gap_0[place + 1], gap_1[place + 1] = 0.0, 0.0
        changes[0] = max(changes[0], abs(q_0 - flow_0[station, lane] + room * (q_1 - flow_1[station, lane])))
        changes[1] = max(changes[1], abs(q_0), abs(q_1))
        flow_0[station, lane] = q_0
        flow_1[station, lane] = q_1


@kernel
def wide_stage(
    fixed: Fixed,
    moving: Moving,
    response: np.ndarray,
    influence: np.ndarray,
    tau: float,
    room_before: float,
    hold_room: bool,
    fan_share: float,
    heat_power: float,
    supply_temperature: float,
    outside: float,
    sun: float,
    series_temperature: float,
    around: np.ndarray,
    loads: np.ndarray,
    rates: np.ndarray,
    water_rates: np.ndarray,
) -> int:
    """Solve one stage after `refresh_films`; as `stage_kernels.stage`, and `water_rates` (8,) [kg/s]."""
    stations, ports = response.shape
    lanes = fixed.wall_resistance.size
    floor_port, outside_port, bottom_port, sides_port = lanes, lanes + 1, lanes + 2, lanes + 3
    sun_gain = sun * fixed.sun_area
    on_floor = sun_gain * fixed.sun_to_floor + around[FLOOR_GAIN] * fixed.floor_area
    lift = on_floor / (fixed.floor_film * fixed.floor_area) if on_floor != 0.0 else 0.0
    fixed_supply, power, power_to_room = supply_values(
        fan_share, heat_power, supply_temperature, series_temperature
    )
    electric = electricity(fixed, moving, fan_share)
    refresh_flue(fixed, moving)
    flow = moving.scalars[MASS_FLOW]
    moves = flow > 0.0
    supply_fixed = not math.isnan(fixed_supply)
    air_capacity = air_heat_capacity(moving.scalars[SUPPLY] + fixed.reference, fixed.heat_capacity)
    jacket_capacity = moving.scalars[JACKET_FLOW] * air_heat_capacity(
        moving.scalars[ROOM] + fixed.reference, fixed.heat_capacity
    )
    blower = fixed.jacket_power if jacket_capacity > 0.0 else 0.0
    jacket_rise = blower / jacket_capacity if jacket_capacity > 0.0 else 0.0
    held = fixed.room_fixed or hold_room
    gain = around[ROOM_GAIN] + around[FLOOR_GAIN] * fixed.floor_area + sun_gain + power_to_room
    storage = 0.0 if held else fixed.room_heat_capacity / tau
    loss = around[ROOM_LOSS]
    leaking = around[AROUND_VAPOUR_LOSS]

    base = np.empty((stations, ports))
    slope = np.empty(ports)
    for port in range(ports):
        known = influence[port, floor_port] * lift
        known += influence[port, outside_port] * outside
        known += influence[port, bottom_port] * fixed.bottom_load
        known += influence[port, sides_port] * fixed.sides_load
        slope[port] = influence[port, floor_port]
        for station in range(stations):
            base[station, port] = response[station, port] + known

    count = fixed.air_branches
    flow_0 = np.zeros((stations, lanes))
    flow_1 = np.zeros((stations, lanes))
    latent_0 = np.zeros((stations, lanes))
    latent_1 = np.zeros((stations, lanes))
    capacity = np.zeros((stations, lanes))
    exit_0 = np.zeros(count)
    exit_1 = np.zeros(count)
    exit_capacity = np.zeros(count)
    segments = 0
    if fixed.has_flue:
        segments = fixed.branch_begin[count + 1] - fixed.branch_begin[count]
    gas_0 = np.zeros(segments + 1)
    gas_1 = np.zeros(segments + 1)
    gap_0 = np.zeros(segments + 1)
    gap_1 = np.zeros(segments + 1)
    changes = np.zeros(2)
    room = room_before if held else moving.scalars[ROOM]
    ratio = moving.scalars[ROOM_RATIO]
    outside_ratio = 0.0
    if fixed.wet:
        outside_ratio = ratio_at_relative_humidity(
            fixed.outside_humidity, outside + fixed.reference, fixed.pressure
        )
    moving.scalars[OUTSIDE_RATIO] = outside_ratio
    keeps_ratio = math.isnan(around[AROUND_VAPOUR_GAIN])
    intake_ratio = 0.0
    supply_0 = 0.0
    supply_1 = 0.0
    capacity_in = 0.0
    capacity_out = 0.0
    mixed_0 = 0.0
    mixed_1 = 0.0
    floor_0 = 0.0
    floor_1 = 0.0
    mixed_ratio = 0.0
    on_glass = 0.0
    moving.settling[:] = 0.0
    sweeps = 0
    settled = False
    nearly = False
    last_guess, last_room = room, room
    while not settled and sweeps < MOST_SWEEPS:
        sweeps += 1
        changes[:] = 0.0
        if fixed.wet:
            # Near boiling a held relative humidity swings with the room for ever: hold its ratio instead.
            if keeps_ratio and sweeps <= FOLLOWING_SWEEPS:
                ratio = ratio_at_relative_humidity(
                    fixed.room_humidity, room + fixed.reference, fixed.pressure
                )
            intake_ratio = ratio if fixed.intake_is_room else outside_ratio
        capacity_in = flow * (air_capacity + intake_ratio * VAPOUR_HEAT_CAPACITY)
        if supply_fixed:
            supply_0, supply_1 = fixed_supply - fixed.reference, 0.0
        else:
            rise = (power + electric) / capacity_in if moves else 0.0
            if fixed.intake_is_room:
                supply_0, supply_1 = rise, 1.0
            else:
                supply_0, supply_1 = rise + outside, 0.0
        capacity_out = 0.0
        mixed_0 = 0.0
        mixed_1 = 0.0
        mixed_ratio = 0.0
        ratio_slope = 0.0
        for branch in range(count):
            if not moving.branch_flow[branch] > 0.0:
                exit_0[branch], exit_1[branch] = supply_0, supply_1
                moving.branch_ratio[branch] = intake_ratio
                continue
            exit_0[branch], exit_1[branch], leaving, passed, exit_capacity[branch] = march_air(
                fixed, moving, branch, supply_0, supply_1, intake_ratio, air_capacity, room, base, slope,
                influence, flow_0, flow_1, latent_0, latent_1, capacity, changes,
            )  # fmt: skip
            moving.branch_ratio[branch] = leaving
            share = exit_capacity[branch] * fixed.branch_ducts[branch]
            capacity_out += share
            mixed_0 += share * exit_0[branch]
            mixed_1 += share * exit_1[branch]
            weight = moving.branch_flow[branch] * fixed.branch_ducts[branch]
            mixed_ratio += weight * leaving
            ratio_slope += weight * passed
        if fixed.has_flue:
            march_flue(
                fixed, moving, jacket_rise, 1.0, jacket_capacity, room, base, slope, influence, flow_0,
                flow_1, changes, gas_0, gas_1, gap_0, gap_1,
            )  # fmt: skip
        floor_0 = 0.0
        floor_1 = 0.0
        for station in range(stations):
            reading_0 = base[station, floor_port]
            reading_1 = slope[floor_port]
            for lane in range(lanes):
                reading_0 += influence[floor_port, lane] * flow_0[station, lane]
                reading_1 += influence[floor_port, lane] * flow_1[station, lane]
            scale = fixed.copies * fixed.station_length[station]
            floor_0 += scale * (fixed.port_total[floor_port] * lift - reading_0)
            floor_1 += scale * (fixed.port_total[floor_port] - reading_1)
        before = room
        if not held:
            holding = storage + loss + floor_1
            given = storage * room_before + loss * outside + gain - floor_0
            if fixed.exit_is_room:
                holding += capacity_out - mixed_1
                given += mixed_0
            elif fixed.intake_is_room:
                holding += capacity_in
                given += capacity_in * outside
            if jacket_capacity > 0.0:
                holding += jacket_capacity * (1.0 - gap_1[segments])
                given += jacket_capacity * gap_0[segments]
            room = given / holding
        moved = abs(room - before)
        if sweeps > QUIET_SWEEPS and sweeps % 4 == 0 and moved > HELPED_FROM:
            # Humid air makes the room's answer steep: step along the secant of the last two answers.
            steepness = (room - last_room) / (before - last_guess) if before != last_guess else 0.0
            last_guess, last_room = before, room
            if -50.0 < steepness < 0.9:
                room = before + (room - before) / (1.0 - steepness)
        else:
            last_guess, last_room = before, room
        ratio_moved = 0.0
        if fixed.wet and not keeps_ratio and not hold_room:
            # room air * (ratio - before) / tau = gain + leak * (outside - ratio) + ducts
            holding = fixed.room_air / tau + leaking
            given = fixed.room_air / tau * moving.scalars[RATIO_BEFORE] + around[AROUND_VAPOUR_GAIN]
            given += leaking * outside_ratio
            if fixed.exit_is_room:
                through = ratio_slope if fixed.intake_is_room else 0.0
                holding += flow - through
                given += mixed_ratio - through * ratio
            elif fixed.intake_is_room:
                holding += flow
                given += flow * outside_ratio
            new = given / holding
            full = saturation_ratio(room + fixed.reference, fixed.pressure)
            on_glass = 0.0
            if new > full:
                # What the air cannot hold settles on cold glass and walls and runs off.
                on_glass = holding * (new - full)
                new = full
            ratio_moved = abs(new - ratio)
            ratio = new
        change, largest = changes[0], changes[1]
        calm = moved <= 1e-11 and ratio_moved <= 1e-14
        settled = change <= SETTLED * largest and calm
        if lanes == 1 and not fixed.wet:
            settled = True
        nearly = change <= NEARLY_SETTLED * largest and moved <= 1e-6 and ratio_moved <= 1e-9

    moving.scalars[ROOM_RATIO] = ratio
    ratio_room = ratio
    for station in range(stations):
        loads[station, floor_port] = room + lift
        loads[station, outside_port] = outside
        loads[station, bottom_port] = fixed.bottom_load
        loads[station, sides_port] = fixed.sides_load
        for lane in range(lanes):
            loads[station, lane] = flow_0[station, lane] + room * flow_1[station, lane]
            moving.heat[station, lane] = loads[station, lane]
        for lane in range(lanes):
            value = base[station, lane] + slope[lane] * room
            value += fixed.wall_resistance[lane] * loads[station, lane]
            for other in range(lanes):
                value += influence[lane, other] * loads[station, other]
            moving.wall[station, lane] = value
            moving.air_in[station, lane] = value
            moving.air_out[station, lane] = value
    supply = supply_0 + room * supply_1
    duct_heat = 0.0
    latent_heat = 0.0
    mixed = 0.0
    all_ducts = 0.0
    where_to = room if fixed.exit_is_room else outside
    water_rates[:] = 0.0
    for branch in range(count):
        ducts = fixed.branch_ducts[branch]
        all_ducts += ducts
        last = fixed.branch_begin[branch + 1] - 1
        if not moving.branch_flow[branch] > 0.0:
            # Still air takes the temperature of the wall beside it.
            moving.branch_exit[branch] = moving.wall[fixed.segment_station[last], fixed.segment_lane[last]]
            mixed += moving.branch_exit[branch] * ducts
            continue
        temperature = supply
        for segment in range(fixed.branch_begin[branch], fixed.branch_begin[branch + 1]):
            lane = fixed.segment_lane[segment]
            station = fixed.segment_station[segment]
            length = fixed.station_length[station]
            latent = latent_0[station, lane] + room * latent_1[station, lane]
            sensible = loads[station, lane] - latent
            settling = moving.settling[station, lane]
            # Vapour counts from the temperature of the air it came from and goes to.
            from_air = heat_of_settling(
                where_to + fixed.reference, moving.surface[station, lane] + fixed.reference
            )
            latent_heat += ducts * length * settling * from_air
            duct_heat += ducts * length * loads[station, lane]
            water_rates[CONDENSED] += ducts * length * max(settling, 0.0)
            water_rates[DRIED] += ducts * length * max(-settling, 0.0)
            moving.air_in[station, lane] = temperature
            temperature -= sensible * length / capacity[station, lane]
            moving.air_out[station, lane] = temperature
        moving.branch_exit[branch] = temperature
    if moves:
        mixed = (mixed_0 + room * mixed_1) / capacity_out
        moving.scalars[EXIT_RATIO] = mixed_ratio / flow
    else:
        mixed /= all_ducts
        moving.scalars[EXIT_RATIO] = intake_ratio
    flue_heat = 0.0
    jacket_exit = room
    if fixed.has_flue:
        first = fixed.branch_begin[count]
        for place in range(segments):
            station = fixed.segment_station[first + place]
            length = fixed.station_length[station]
            lane = fixed.flue_lane
            heat = loads[station, lane]
            duct_heat += length * heat
            gas_in = gas_0[place] + room * gas_1[place]
            gas_out = gas_0[place + 1] + room * gas_1[place + 1]
            if fixed.jacketed:
                gap_in = gap_0[place] + room * gap_1[place]
                gap_out = gap_0[place + 1] + room * gap_1[place + 1]
                # What the ground gets less what the jacket's air gives is the gas's.
                flue_heat += length * heat - jacket_capacity * (gap_in - gap_out)
                if jacket_capacity > 0.0:
                    moving.air_in[station, lane], moving.air_out[station, lane] = gap_in, gap_out
                moving.surface[station, lane] = (
                    moving.wall[station, lane] + fixed.flue_ground_resistance * heat
                )
                ways = moving.gas_ways[station]
                at_pipe = ways[0] + ways[1] + ways[2]
                if at_pipe > 0.0:
                    moving.gas_pipe[station] = (
                        ways[0] * 0.5 * (gas_in + gas_out)
                        + ways[1] * 0.5 * (gap_in + gap_out)
                        + ways[2] * moving.surface[station, lane]
                    ) / at_pipe
            else:
                flue_heat += length * heat
                if moving.scalars[GAS_FLOW] > 0.0:
                    moving.air_in[station, lane], moving.air_out[station, lane] = gas_in, gas_out
                    film = moving.film[station, lane] * math.pi * fixed.flue_diameter
                    moving.gas_pipe[station] = 0.5 * (gas_in + gas_out) - heat / film
                    moving.surface[station, lane] = moving.gas_pipe[station]
            if moving.scalars[GAS_FLOW] > 0.0:
                moving.gas_in[station], moving.gas_out[station] = gas_in, gas_out
            else:
                still = moving.wall[station, lane]
                moving.gas_in[station], moving.gas_out[station] = still, still
                moving.gas_pipe[station] = still
                moving.surface[station, lane] = still
        last_station = fixed.segment_station[first + segments - 1]
        moving.branch_exit[count] = moving.gas_out[last_station]
        if fixed.jacketed:
            if jacket_capacity > 0.0:
                jacket_exit = gap_0[segments] + room * gap_1[segments]
            moving.branch_exit[count + 1] = (
                jacket_exit if jacket_capacity > 0.0 else moving.wall[last_station, fixed.flue_lane]
            )
    moving.scalars[ROOM] = room
    moving.scalars[SUPPLY] = supply
    moving.scalars[EXIT] = mixed
    moving.scalars[FLOOR_LIFT] = lift
    moving.scalars[JACKET_SUPPLY] = room + jacket_rise

    floor_intake = floor_0 + room * floor_1
    intake = room if fixed.intake_is_room else outside
    rates[FAN] = (electric if moves else 0.0) + blower
    rates[HEATER] = power_to_room
    if moves:
        rates[HEATER] += capacity_in * (supply - intake) - electric
    rates[DUCT] = duct_heat
    rates[FLOOR] = on_floor - floor_intake
    rates[LATENT] = latent_heat
    rates[FLUE] = flue_heat
    from_jacket = jacket_capacity * (jacket_exit - room)
    rates[RETURN] = from_jacket
    exchange = from_jacket
    if fixed.exit_is_room:
        exchange += capacity_out * (mixed - room)
        rates[RETURN] += capacity_out * (mixed - room)
        rates[EXHAUST] = 0.0 if fixed.intake_is_room else capacity_in * (room - outside)
    else:
        rates[EXHAUST] = capacity_out * (mixed - outside)
        if fixed.intake_is_room:
            exchange += capacity_in * (outside - room)
    rates[SUN] = sun_gain
    book_room(fixed, held, around, gain - floor_intake + exchange, room, outside, rates)
    book_surfaces(fixed, response, influence, loads, rates)
    if fixed.wet:
        from_ducts = 0.0
        if fixed.exit_is_room:
            from_ducts = mixed_ratio - flow * (ratio_room if fixed.intake_is_room else outside_ratio)
            if not fixed.intake_is_room:
                # Outside air that the ducts bring pushes as much room air out.
                from_ducts += flow * (outside_ratio - ratio_room)
        elif fixed.intake_is_room:
            from_ducts = flow * (outside_ratio - ratio_room)
        water_rates[VAPOUR_FROM_DUCTS] = from_ducts
        if keeps_ratio or hold_room:
            water_rates[VAPOUR_HELD] = -from_ducts
        else:
            water_rates[VAPOUR_GAIN] = around[AROUND_VAPOUR_GAIN]
            water_rates[VAPOUR_LEAKED] = leaking * (ratio_room - outside_ratio)
            water_rates[VAPOUR_ON_GLASS] = on_glass
    return sweeps if settled or nearly else -sweeps
