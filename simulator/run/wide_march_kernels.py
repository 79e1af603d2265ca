"""Many steps of a section in modal form with water or a flue run, compiled as one loop.

The state is kept modes first, stations last, so that reading and pushing the modes are two small matrix
products. They run on one thread of the linear-algebra library; the caller sees to that.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.run.held_kernels import HeldRows
from simulator.run.outcome_kernels import FINE, NOT_FINITE, NOT_SETTLED
from simulator.run.row_kernels import keep_row
from simulator.run.stage_kernels import (
    GAS_ENTRY,
    GAS_FLOW,
    ROOM,
    ROOM_MEAN,
    WATER_TOTALS,
    Fixed,
    Moving,
    even_pressure,
    refresh_films,
)
from simulator.run.wide_kernels import between_stages, book_water, close_step, open_step, wide_stage


@kernel
def march_wide(
    fixed: Fixed,
    moving: Moving,
    rows: HeldRows,
    state: np.ndarray,
    rates_of_modes: np.ndarray,
    injection: np.ndarray,
    reading: np.ndarray,
    capacity: np.ndarray,
    gamma: float,
    lengths: np.ndarray,
    drives: np.ndarray,
    outside: np.ndarray,
    sun: np.ndarray,
    series: np.ndarray,
    around: np.ndarray,
    gas: np.ndarray,
    hold_room: bool,
    energies: np.ndarray,
    stored: np.ndarray,
) -> tuple[int, int]:
    """Advance `state` (R, S) through n steps in place.

    Parameters
    ----------
    rates_of_modes, capacity : (R,); injection, reading : (R, P)
        The section in modal form.
    gamma : float
        Coefficient of the two-stage scheme.
    lengths : (n,) [s]
    drives : (n, 4)
        Fan share, heat power [W], supply temperature [K], rise of the heat power over the step [W].
    outside [K above reference], sun [W/m2], series [K] : (n, 2)
        Values at the two stages.
    around : (n, 5)
        What surrounds the room during each step.
    gas : (n, 2, 2)
        Flow [kg/s] and entry temperature [K] of combustion gas at the two stages.
    energies : (n, 15); stored : (n, 2)
        Filled: heat through each account, change of heat in ground and room [J].

    Returns
    -------
    tuple of int
        0, or what went wrong; and the step at which it did.
    """
    modes, stations = state.shape
    ports = injection.shape[1]
    response = np.empty((stations, ports))
    loads = np.empty((stations, ports))
    rates = np.zeros(energies.shape[1])
    first = np.empty((modes, stations))
    middle = np.empty((modes, stations))
    decay = np.empty(modes)
    push = np.empty((modes, ports))
    weighted = np.empty((ports, modes))
    readings = np.empty((ports, stations))
    turned = np.empty((ports, stations))
    influence = np.zeros((ports, ports))
    share = (1.0 - gamma) / gamma
    prepared = -1.0
    room_mean = 0.0
    row = 0
    water_rates = np.zeros(WATER_TOTALS)
    for step in range(lengths.size):
        tau = gamma * lengths[step]
        if lengths[step] != prepared:
            prepared = lengths[step]
            influence[:] = 0.0
            for mode in range(modes):
                decay[mode] = 1.0 / (1.0 + tau * rates_of_modes[mode])
                for port in range(ports):
                    push[mode, port] = injection[mode, port] * (tau * decay[mode])
                    weighted[port, mode] = reading[mode, port] * decay[mode]
                for port in range(ports):
                    for other in range(ports):
                        influence[port, other] += reading[mode, port] * push[mode, other]
        room_old = moving.scalars[ROOM]
        open_step(fixed, moving, lengths[step])
        for number in range(2):
            if number == 0:
                refresh_films(fixed, moving, drives[step, 0], outside[step, 0])
            begin = state if number == 0 else middle
            # The straight line with the step's mean: as for the weather, see `loop.stage_values`.
            heat_power = drives[step, 1] + drives[step, 3] * (gamma - 0.5 if number == 0 else 0.5)
            room_before = room_old
            if number == 1:
                room_before = room_old + share * (moving.scalars[ROOM] - room_old)
            if number == 1:
                between_stages(fixed, moving, share)
            np.dot(weighted, begin, readings)
            for port in range(ports):
                for station in range(stations):
                    response[station, port] = readings[port, station]
            moving.scalars[GAS_FLOW] = gas[step, number, 0]
            moving.scalars[GAS_ENTRY] = gas[step, number, 1]
            sweeps = wide_stage(
                fixed,
                moving,
                response,
                influence,
                tau,
                room_before,
                hold_room,
                drives[step, 0],
                heat_power,
                drives[step, 2],
                outside[step, number],
                sun[step, number],
                series[step, number],
                around[step],
                loads,
                rates,
                water_rates,
            )
            if sweeps < 0:
                return NOT_SETTLED, step
            if number == 0:
                room_mean = (1.0 - gamma) * moving.scalars[ROOM]
            else:
                moving.scalars[ROOM_MEAN] = room_mean + gamma * moving.scalars[ROOM]
            weight = (1.0 - gamma if number == 0 else gamma) * lengths[step]
            for account in range(rates.size):
                energies[step, account] += weight * rates[account]
            book_water(fixed, moving, weight, water_rates)
            for port in range(ports):
                for station in range(stations):
                    turned[port, station] = loads[station, port]
            np.dot(push, turned, first)
            for mode in range(modes):
                factor = decay[mode]
                for station in range(stations):
                    first[mode, station] += factor * begin[mode, station]
            if number == 0:
                for mode in range(modes):
                    for station in range(stations):
                        before = state[mode, station]
                        middle[mode, station] = before + share * (first[mode, station] - before)
        close_step(fixed, moving)
        ground = 0.0
        for mode in range(modes):
            change = 0.0
            for station in range(stations):
                change += (first[mode, station] - state[mode, station]) * fixed.station_length[station]
                state[mode, station] = first[mode, station]
            ground += capacity[mode] * change
        stored[step, 0] = fixed.copies * ground
        if not (fixed.room_fixed or hold_room):
            stored[step, 1] = fixed.room_heat_capacity * (moving.scalars[ROOM] - room_old)
        if not (math.isfinite(ground) and math.isfinite(moving.scalars[ROOM])):
            return NOT_FINITE, step
        if row < rows.steps.size and rows.steps[row] == step:
            even_pressure(fixed, moving)
            for station in range(stations):
                for mode in range(modes):
                    rows.section[row, station, mode] = state[mode, station]
            np.dot(rows.section[row], rows.columns, rows.looks[row])
            keep_row(rows.moving, row, moving)
            row += 1
    even_pressure(fixed, moving)
    return FINE, 0
