"""One stage with everything that surrounds the section: flow, films, supply, room, and the heat flows booked.

`Fixed` holds what never changes during a run; `Moving` the arrays that a stage overwrites.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simulator.air.flow_kernels import air_heat_capacity, fan_power, total_mass_flow
from simulator.air.march_kernels import air_to_wall
from simulator.air.network_kernels import air_of_branches, loss_and_slope, meet, split
from simulator.kernel import kernel
from simulator.physics.air_kernels import density as dry_air_density
from simulator.physics.air_kernels import viscosity, within_fit
from simulator.physics.fan_kernels import electric_power
from simulator.plant.heater_kernels import supply_values
from simulator.run.coupling_kernels import solve_stage

ACCOUNTS = 15
"""Number of accounts of the ledger; their order below is that of `ledger.ACCOUNTS`."""
HEATER, FAN, DUCT, FLOOR, RETURN, ENVELOPE, INFILTRATION = 0, 1, 2, 3, 4, 5, 6
SUN, OTHER_GAIN, OUTSIDE_GROUND, BOTTOM, SIDES, EXHAUST = 7, 8, 9, 10, 11, 12
LATENT, FLUE = 13, 14
ROOM, SUPPLY, EXIT, MASS_FLOW, FLOOR_LIFT = 0, 1, 2, 3, 4
"""Places in `Moving.scalars`."""
DUCT_PRESSURE, FAN_PRESSURE, ELECTRIC, VOLUME_FLOW = 5, 6, 7, 8
ROOM_RATIO, RATIO_BEFORE, RATIO_OLD, EXIT_RATIO, STEP_LENGTH = 9, 10, 11, 12, 13
GAS_FLOW, GAS_ENTRY, JACKET_FLOW, JACKET_SUPPLY, OUTSIDE_RATIO = 14, 15, 16, 17, 18
ROOM_MEAN = 19
INTAKE_AHEAD = 20
"""How far the room's mean over a step is above its begin [K], where whoever marches knows it; else 0."""
SCALARS = 21
ROOM_LOSS, ROOM_GAIN, FLOOR_GAIN, AROUND_VAPOUR_GAIN, AROUND_VAPOUR_LOSS = range(5)
"""Places in what surrounds the room in a step: W/K, W, W/m2 on the floor, kg/s, kg/s per humidity ratio."""
CONDENSED, DRIED, DRAINED, VAPOUR_GAIN, VAPOUR_LEAKED, VAPOUR_FROM_DUCTS, VAPOUR_HELD, VAPOUR_ON_GLASS = (
    range(8)
)
"""Places in `Moving.water_totals`."""
WATER_TOTALS = 8


class Fixed(NamedTuple):
    """What never changes during a run; see `coupling.Coupling` for units."""

    wall_resistance: np.ndarray
    station_length: np.ndarray
    port_total: np.ndarray
    branch_begin: np.ndarray
    segment_branch: np.ndarray
    segment_lane: np.ndarray
    segment_station: np.ndarray
    begin: np.ndarray
    end: np.ndarray
    branch_ducts: np.ndarray
    copies: float
    diameter: float
    pipe_resistance: float
    film_on: float
    film_off: float
    floor_film: float
    floor_area: float
    bottom_load: float
    sides_load: float
    intake_is_room: bool
    exit_is_room: bool
    room_fixed: bool
    room_heat_capacity: float
    infiltration_loss: float
    sun_area: float
    sun_to_floor: float
    reference: float
    volume_flow: float
    off_volume_flow: float
    mass_flow: float
    off_mass_flow: float
    fan_power: float
    density: float
    heat_capacity: float
    pressure: float
    air_branches: int
    branch_length: np.ndarray
    branch_loss: np.ndarray
    relative_roughness: float
    film_enhancement: float
    even_split: bool
    has_curve: bool
    curve_breaks: np.ndarray
    curve_coefficients: np.ndarray
    curve_end_slope: float
    curve_density: float
    free_delivery: float
    has_hump: bool
    series_resistance: float
    efficiency: float
    wet: bool
    room_humidity: float
    outside_humidity: float
    room_air: float
    clinging_water: float
    has_flue: bool
    jacketed: bool
    flue_lane: int
    flue_diameter: float
    flue_pipe_resistance: float
    flue_ground_resistance: float
    gas_low: np.ndarray
    gas_high: np.ndarray
    gas_viscosity: np.ndarray
    gas_conductivity: np.ndarray
    gas_made: np.ndarray
    jacket_inner: float
    jacket_outer: float
    jacket_volume_flow: float
    jacket_power: float


class Moving(NamedTuple):
    """Arrays that a stage overwrites: wall, air and film (S, M), exits (B,), and scalars.

    Of a wet run also the humidity ratio at both ends of each segment, water settling [kg/(m.s)], the wall's
    inside [K above reference] (S, M), exit ratios (B,); water held [kg/m] and totals [kg] so far.
    Of a flue the gas at both ends and its pipe [K above reference], and four conductances [W/(m.K)] (S,).
    """

    wall: np.ndarray
    air_in: np.ndarray
    air_out: np.ndarray
    film: np.ndarray
    conductance: np.ndarray
    branch_exit: np.ndarray
    scalars: np.ndarray
    branch_flow: np.ndarray
    heat: np.ndarray
    humid_in: np.ndarray
    humid_out: np.ndarray
    settling: np.ndarray
    surface: np.ndarray
    branch_ratio: np.ndarray
    water: np.ndarray
    water_change: np.ndarray
    water_totals: np.ndarray
    gas_in: np.ndarray
    gas_out: np.ndarray
    gas_pipe: np.ndarray
    gas_ways: np.ndarray


@kernel
def refresh_flow(fixed: Fixed, moving: Moving, fan_share: float, intake: float, air: np.ndarray) -> None:
    """Take the flow of every air branch from fan and ducts.

    `intake` [K] is the air at the fan, `air` (S, M) [K] the latest in the ducts. Fills branch flows, total,
    pressures and, where it follows from them, the electric power.
    """
    count = fixed.air_branches
    ducts = fixed.branch_ducts[:count]
    flows = moving.branch_flow[:count]
    runs = fixed.has_curve and fan_share > 0.0
    flow = 0.0
    if not runs:
        flow = total_mass_flow(
            fan_share,
            intake,
            fixed.volume_flow,
            fixed.off_volume_flow,
            fixed.mass_flow,
            fixed.off_mass_flow,
            fixed.density,
            fixed.pressure,
        )
    if not runs and fixed.even_split and math.isnan(fixed.efficiency):
        moving.scalars[MASS_FLOW] = flow
        flows[:] = flow / ducts.sum()
        return
    rho = np.empty(count)
    mu = np.empty(count)
    air_of_branches(
        air,
        fixed.pressure,
        fixed.density,
        fixed.branch_begin,
        fixed.segment_lane,
        fixed.segment_station,
        rho,
        mu,
    )
    at_fan = fixed.density
    if math.isnan(at_fan):
        at_fan = dry_air_density(within_fit(intake), fixed.pressure)
    length = fixed.branch_length[:count]
    loss = fixed.branch_loss[:count]
    if runs:
        flow, pressure = meet(
            fan_share, at_fan, fixed.series_resistance, fixed.curve_breaks, fixed.curve_coefficients,
            fixed.curve_end_slope, fixed.curve_density, fixed.free_delivery, fixed.has_hump, fixed.diameter,
            length, fixed.relative_roughness, loss, ducts, rho, mu, flows,
        )  # fmt: skip
    else:
        pressure = split(flow, fixed.diameter, length, fixed.relative_roughness, loss, ducts, rho, mu, flows)
    # The sum to the last digit, so that the heat account closes.
    flow = 0.0
    for branch in range(count):
        flow += ducts[branch] * flows[branch]
    volume = flow / at_fan
    moving.scalars[MASS_FLOW] = flow
    moving.scalars[VOLUME_FLOW] = volume
    moving.scalars[DUCT_PRESSURE] = pressure
    moving.scalars[FAN_PRESSURE] = pressure + fixed.series_resistance * at_fan * volume * volume
    if math.isnan(fixed.efficiency) or not fan_share > 0.0:
        moving.scalars[ELECTRIC] = 0.0
    else:
        moving.scalars[ELECTRIC] = electric_power(volume, moving.scalars[FAN_PRESSURE], fixed.efficiency)


@kernel
def even_pressure(fixed: Fixed, moving: Moving) -> None:
    """Note the pressure over branches that share a given flow evenly, from the latest air in the first one.

    Nothing needs it on the way, so it is found only where somebody may look.
    """
    if not (fixed.even_split and math.isnan(fixed.efficiency)):
        return
    flow = moving.branch_flow[0]
    if not flow > 0.0:
        return
    total = 0.0
    for segment in range(fixed.branch_begin[0], fixed.branch_begin[1]):
        station, lane = fixed.segment_station[segment], fixed.segment_lane[segment]
        total += 0.5 * (moving.air_in[station, lane] + moving.air_out[station, lane])
    mean = within_fit(total / (fixed.branch_begin[1] - fixed.branch_begin[0]) + fixed.reference)
    rho = dry_air_density(mean, fixed.pressure) if math.isnan(fixed.density) else fixed.density
    pressure, _ = loss_and_slope(
        flow, fixed.diameter, fixed.branch_length[0], fixed.relative_roughness, fixed.branch_loss[0], rho,
        viscosity(mean),
    )  # fmt: skip
    moving.scalars[DUCT_PRESSURE] = pressure


@kernel
def electricity(fixed: Fixed, moving: Moving, fan_share: float) -> float:
    """Electric power of the fan [W]: as given, or as found by `refresh_flow`."""
    if math.isnan(fixed.efficiency):
        return fan_power(fan_share, fixed.fan_power)
    return float(moving.scalars[ELECTRIC])


@kernel
def refresh_films(fixed: Fixed, moving: Moving, fan_share: float, outside: float) -> None:
    """Take flow and inside films from the latest air temperatures; `outside` [K above reference]."""
    intake = moving.scalars[ROOM] + moving.scalars[INTAKE_AHEAD] if fixed.intake_is_room else outside
    air = 0.5 * (moving.air_in + moving.air_out) + fixed.reference
    refresh_flow(fixed, moving, fan_share, intake + fixed.reference, air)
    last = fixed.branch_begin[fixed.air_branches]
    air_to_wall(
        air,
        moving.branch_flow,
        fixed.begin[:last],
        fixed.end[:last],
        fixed.segment_branch,
        fixed.segment_lane,
        fixed.segment_station,
        fixed.diameter,
        fixed.pipe_resistance,
        fixed.film_on if fan_share > 0.0 else fixed.film_off,
        moving.conductance,
        moving.film,
        fixed.relative_roughness,
        fixed.film_enhancement,
    )


@kernel
def book_room(
    fixed: Fixed,
    held: bool,
    around: np.ndarray,
    surplus: float,
    room: float,
    outside: float,
    rates: np.ndarray,
) -> None:
    """Book what the room gains otherwise and loses [W], with room and outside [K above reference]."""
    rates[OTHER_GAIN] = around[ROOM_GAIN] + around[FLOOR_GAIN] * fixed.floor_area
    if held:
        # Whatever holds the room at its temperature takes the surplus away.
        rates[ENVELOPE] = surplus
        rates[INFILTRATION] = 0.0
    else:
        rates[ENVELOPE] = (around[ROOM_LOSS] - fixed.infiltration_loss) * (room - outside)
        rates[INFILTRATION] = fixed.infiltration_loss * (room - outside)


@kernel
def book_surfaces(
    fixed: Fixed, response: np.ndarray, influence: np.ndarray, loads: np.ndarray, rates: np.ndarray
) -> None:
    """Book the heat [W] through outside ground, bottom and sides: conductance * load - reading."""
    lanes = fixed.wall_resistance.size
    stations, ports = response.shape
    for port in range(lanes + 1, lanes + 4):
        taken = 0.0
        for station in range(stations):
            reading = response[station, port]
            for other in range(ports):
                reading += influence[port, other] * loads[station, other]
            value = fixed.port_total[port] * loads[station, port] - reading
            taken += fixed.copies * fixed.station_length[station] * value
        if port == lanes + 1:
            rates[OUTSIDE_GROUND] = -taken
        elif port == lanes + 2:
            rates[BOTTOM] = taken
        else:
            rates[SIDES] = taken


@kernel
def stage(
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
) -> int:
    """Solve one stage after `refresh_films`; fill `loads` (S, P) and the heat flows `rates` (13,) [W].

    `response` (S, P) and `influence` (P, P) are the section's; `outside` [K above reference], `sun` [W/m2]
    and `series_temperature` [K] hold at the stage; `around` (5,) is what surrounds the room. Returns the
    number of sweeps, negative if they did not settle. The room temperature after the stage is in
    `moving.scalars[ROOM]`.
    """
    lanes = fixed.wall_resistance.size
    ports = fixed.port_total.size
    floor_port, outside_port, bottom_port, sides_port = lanes, lanes + 1, lanes + 2, lanes + 3
    sun_gain = sun * fixed.sun_area
    on_floor = sun_gain * fixed.sun_to_floor + around[FLOOR_GAIN] * fixed.floor_area
    lift = on_floor / (fixed.floor_film * fixed.floor_area) if on_floor != 0.0 else 0.0
    fixed_supply, power, power_to_room = supply_values(
        fan_share, heat_power, supply_temperature, series_temperature
    )
    electric = electricity(fixed, moving, fan_share)
    flow = moving.scalars[MASS_FLOW]
    moves = flow > 0.0
    capacity_flow = flow * air_heat_capacity(moving.scalars[SUPPLY] + fixed.reference, fixed.heat_capacity)
    supply_fixed = not math.isnan(fixed_supply)
    if supply_fixed:
        supply_value = fixed_supply - fixed.reference
    elif moves:
        supply_value = (power + electric) / capacity_flow
    else:
        supply_value = 0.0
    known = np.zeros(ports)
    known[outside_port] = outside
    known[bottom_port] = fixed.bottom_load
    known[sides_port] = fixed.sides_load
    held = fixed.room_fixed or hold_room
    # All sun counts as a gain of the room: the floor's share reaches the slab through the floor's own intake.
    gain = around[ROOM_GAIN] + around[FLOOR_GAIN] * fixed.floor_area + sun_gain + power_to_room
    if fixed.even_split:
        branch_flow = np.full(fixed.branch_ducts.size, capacity_flow / fixed.branch_ducts.sum())
    else:
        branch_flow = moving.branch_flow * (capacity_flow / flow if moves else 0.0)
    room, supply, floor_intake, mixed, sweeps = solve_stage(
        response,
        influence,
        known,
        fixed.wall_resistance,
        fixed.station_length,
        moving.conductance,
        fixed.branch_begin,
        fixed.segment_lane,
        fixed.segment_station,
        branch_flow,
        fixed.branch_ducts,
        floor_port,
        fixed.port_total[floor_port],
        lift,
        fixed.copies,
        supply_fixed,
        supply_value,
        fixed.intake_is_room,
        fixed.exit_is_room,
        outside,
        held,
        room_before,
        0.0 if held else fixed.room_heat_capacity / tau,
        around[ROOM_LOSS],
        gain,
        loads,
        moving.wall,
        moving.air_in,
        moving.air_out,
        moving.branch_exit,
    )
    moving.scalars[ROOM] = room
    moving.scalars[SUPPLY] = supply
    moving.scalars[EXIT] = mixed
    moving.scalars[FLOOR_LIFT] = lift
    intake = room if fixed.intake_is_room else outside
    rates[FAN] = electric if moves else 0.0
    rates[HEATER] = power_to_room
    if moves:
        rates[HEATER] += capacity_flow * (supply - intake) - electric
    rates[DUCT] = capacity_flow * (supply - mixed)
    rates[FLOOR] = on_floor - floor_intake
    rates[RETURN] = 0.0
    exchange = 0.0
    if fixed.exit_is_room:
        exchange = capacity_flow * (mixed - room)
        rates[RETURN] = exchange
        rates[EXHAUST] = 0.0 if fixed.intake_is_room else capacity_flow * (room - outside)
    else:
        rates[EXHAUST] = capacity_flow * (mixed - outside)
        if fixed.intake_is_room:
            exchange = capacity_flow * (outside - room)
    rates[SUN] = sun_gain
    book_room(fixed, held, around, gain - floor_intake + exchange, room, outside, rates)
    book_surfaces(fixed, response, influence, loads, rates)
    return sweeps
