"""Everything of a plant that holds still during a step, and the heat flows at one moment of it.

The unknowns of a moment stand in one array like the state: shell, hood wall, (burning level, unused here),
coil waters, layers. All flows of heat are filled into one array, from which the rates are made, so that what
one part gives the other takes.

A coil passes effectiveness times the smaller capacity flow times the difference of the inlet temperatures. Its
water has one temperature, that of the water leaving it; while that is not yet (or no more) what the steady
coil would send out, it draws nearer through the coil's conductance as well. With the pump standing this is all
that is left: the water goes towards the air's temperature, and boils where that is above boiling.

Without a fan the air under the hood comes round over the coils at a slow speed of its own, so that a coil
above a hot stove still warms. Nothing leaves the hood then but what passes its wall: a draught through the
standing fan and the ducts is left out, which errs towards hot.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from simulator.physics.air_kernels import density, heat_capacity, within_fit
from simulator.physics.coil_kernels import conductance_at, effectiveness
from simulator.physics.free_convection_kernels import upright_film
from simulator.physics.moist_air_kernels import WATER_HEAT_CAPACITY
from simulator.plant.hood_kernels import AIR_IN, AIR_OUT, FROM_SHELL, FROM_WALL, hood_air
from simulator.plant.layout_kernels import (
    AIR_CAPACITY,
    AIR_FLOW,
    FAN_POWER,
    FIRST_COIL,
    HOOD_WALL,
    INTAKE,
    PRESSURE,
    PUMP,
    ROOM,
    SHELL,
    PlantFixed,
)
from simulator.plant.tank_kernels import tank_rates

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m2.K4)], CODATA 2018."""
OWN_SPEED = 0.1
"""Speed [m/s] at which air comes round under a hood without a fan: order of magnitude, ours, no source."""
OWN_SPEED_TEMPERATURE = 400.0
"""Temperature of that air for its density [K]."""
BOILING_STRENGTH = 1e6
"""Steam's heat per kelvin above boiling [W/K]: 10 kW lift the water 0.01 K above it."""

FIRE, BARE_FREE, BARE_RADIANT, SHELL_AIR, EXCHANGE, WALL_AIR, WALL_ROOM, LOSS, BROUGHT, PUMPED = range(10)
FIRST_HEAT = 10
"""Heat flows of a moment [W]; from FIRST_HEAT the coils' from the air, behind them the coils' steam."""


class Moment(NamedTuple):
    """What holds still during a step."""

    room: float
    intake: float
    pressure: float
    moves: bool  # whether the fan's air flows
    capacity: float  # [W/K] of the stream over the coils
    hood_capacity: float  # [W/K] of its part under the hood
    hood_flow: float  # [kg/s] of the fan's air under the hood
    fresh: float  # share of the stream that comes from the intake
    bypass: float
    rise_before: float  # by the fan before the coils [K]
    rise_after: float
    passed: float  # kelvins behind the coils for one kelvin before them
    water: float  # [W/K] of the pump
    coil_water: float  # [W/K] through one coil
    pump_rise: float  # [K]
    pump_power: float
    taken: np.ndarray  # (C,) share of (air in - water in) by which the steady coil cools the air
    nearing: np.ndarray  # (C,) share of (steady water out - water) by which the air cools besides
    gain: np.ndarray  # (C,) (steady water out - water in) over (air in - water in)


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def moment_of(fixed: PlantFixed, inputs: np.ndarray) -> Moment:
    """Collect what holds still during a step of the given inputs."""
    pressure = inputs[PRESSURE]
    intake = inputs[INTAKE]
    flow = max(inputs[AIR_FLOW], 0.0)
    own = density(OWN_SPEED_TEMPERATURE, pressure) * OWN_SPEED * fixed.cross_section
    stream = max(flow, own)
    specific = inputs[AIR_CAPACITY]
    if math.isnan(specific):
        specific = heat_capacity(within_fit(intake))
    capacity = stream * specific
    moves = flow > 0.0
    power = inputs[FAN_POWER] if moves else 0.0
    coils = fixed.coils
    share = max(inputs[PUMP], 0.0) if coils > 0 else 0.0
    water_flow = fixed.pump_flow * share
    water = water_flow * WATER_HEAT_CAPACITY
    through = water_flow / coils if fixed.parallel and coils > 0 else water_flow
    coil_water = through * WATER_HEAT_CAPACITY
    taken, nearing, gain = np.zeros(coils), np.zeros(coils), np.ones(coils)
    passed = 1.0
    for k in range(coils):
        conductance = conductance_at(
            fixed.conductance[k],
            fixed.air_side_share[k],
            stream,
            fixed.rated_air_flow[k],
            through,
            fixed.rated_water_flow[k],
        )
        if coil_water > 0.0:
            smaller, larger = min(capacity, coil_water), max(capacity, coil_water)
            part = effectiveness(
                fixed.arrangement[k], conductance / smaller, smaller / larger, capacity <= coil_water
            )
            taken[k] = part * smaller / capacity
            gain[k] = part * smaller / coil_water
        nearing[k] = (1.0 - taken[k]) * -math.expm1(-conductance / capacity)
        passed *= 1.0 - taken[k] - nearing[k] * gain[k]
    pump_power = fixed.pump_power * share if water > 0.0 else 0.0
    before = power / capacity if fixed.fan_before_coils else 0.0
    after = power / (flow * specific) if moves and not fixed.fan_before_coils else 0.0
    pump_rise = pump_power / water if water > 0.0 else 0.0
    return Moment(
        room=inputs[ROOM],
        intake=intake,
        pressure=pressure,
        moves=moves,
        capacity=capacity,
        hood_capacity=(1.0 - fixed.bypass) * capacity,
        hood_flow=(1.0 - fixed.bypass) * flow,
        fresh=flow / stream,
        bypass=fixed.bypass,
        rise_before=before,
        rise_after=after,
        passed=passed,
        water=water,
        coil_water=coil_water,
        pump_rise=pump_rise,
        pump_power=pump_power,
        taken=taken,
        nearing=nearing,
        gain=gain,
    )


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def bottom_of(fixed: PlantFixed, unknown: np.ndarray) -> float:
    """Temperature [K] of the water that the pump draws; 0 without a tank."""
    return unknown[FIRST_COIL + fixed.coils] if fixed.layers > 0 else 0.0


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def water_into(fixed: PlantFixed, moment: Moment, unknown: np.ndarray, coil: int) -> float:
    """Temperature [K] of the water entering a coil; in series it flows against the air."""
    if fixed.parallel or coil == fixed.coils - 1:
        return bottom_of(fixed, unknown) + moment.pump_rise
    return unknown[FIRST_COIL + coil + 1]


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def water_back(fixed: PlantFixed, unknown: np.ndarray) -> float:
    """Temperature [K] of the water that the coils send to the tank."""
    if fixed.coils == 0:
        return bottom_of(fixed, unknown)
    if not fixed.parallel:
        return unknown[FIRST_COIL]
    total = 0.0
    for k in range(fixed.coils):
        total += unknown[FIRST_COIL + k]
    return total / fixed.coils


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def air_through_coils(
    fixed: PlantFixed, moment: Moment, unknown: np.ndarray, air: float, heat: np.ndarray, leaving: np.ndarray
) -> float:
    """Send air entering at `air` [K] through the coils; fill heat taken [W] and air leaving [K] of each."""
    for k in range(fixed.coils):
        into = water_into(fixed, moment, unknown, k) if moment.coil_water > 0.0 else air
        steady = into + moment.gain[k] * (air - into)
        drop = moment.taken[k] * (air - into) + moment.nearing[k] * (steady - unknown[FIRST_COIL + k])
        heat[k] = moment.capacity * drop
        air -= drop
        leaving[k] = air
    return air


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def heat_flows(
    fixed: PlantFixed,
    moment: Moment,
    fire: float,
    unknown: np.ndarray,
    found: np.ndarray,
    leaving: np.ndarray,
    flows: np.ndarray,
    rates: np.ndarray,
) -> float:
    """Fill all heat flows [W] and rates [K/s] of a moment.

    Parameters
    ----------
    fixed : PlantFixed
    moment : Moment
    fire : float [W]
        To the shell.
    unknown : (n,) float [K]
        As the state.
    found : (7,) float
        Air under the hood, see `hood_kernels`; on entry its guess.
    leaving : (C,) float [K]
        Filled with the air behind each coil.
    flows : (10 + 2 C,) float [W]
        Filled.
    rates : (n,) float [K/s]
        Filled; 0 for the burning level.

    Returns
    -------
    float [K]
        Air entering the coils.
    """
    coils = fixed.coils
    shell, wall = unknown[SHELL], unknown[HOOD_WALL]
    heat = flows[FIRST_HEAT : FIRST_HEAT + coils]
    steam = flows[FIRST_HEAT + coils : FIRST_HEAT + 2 * coils]
    # Air that comes round: entering = constant + slope leaving.
    constant, slope, drop = moment.intake, 0.0, 1.0
    if moment.fresh < 1.0:
        round_again = 1.0 - moment.fresh
        offset = air_through_coils(fixed, moment, unknown, 0.0, heat, leaving)
        passed = round_again * moment.passed
        whole = 1.0 - passed * moment.bypass
        constant = (
            moment.fresh * moment.intake + round_again * offset + passed * moment.rise_before
        ) / whole
        slope = passed * (1.0 - moment.bypass) / whole
        drop = (1.0 - passed) / whole
    hood_air(
        fixed,
        shell,
        wall,
        moment.hood_capacity,
        moment.hood_flow,
        constant,
        slope,
        drop,
        moment.pressure,
        found,
    )
    before = (
        (1.0 - moment.bypass) * found[AIR_OUT] + moment.bypass * found[AIR_IN] + moment.rise_before
    )
    air_through_coils(fixed, moment, unknown, before, heat, leaving)

    warm = shell * shell
    cool = moment.room * moment.room
    free = upright_film(shell, moment.room, fixed.shell_height, moment.pressure)
    flows[FIRE] = fire
    flows[BARE_FREE] = free * fixed.bare_area * (shell - moment.room)
    flows[BARE_RADIANT] = (
        STEFAN_BOLTZMANN * fixed.shell_emissivity * fixed.bare_area * (warm * warm - cool * cool)
    )
    flows[SHELL_AIR] = found[FROM_SHELL]
    flows[WALL_AIR] = found[FROM_WALL]
    lined = wall * wall
    flows[EXCHANGE] = (
        STEFAN_BOLTZMANN * fixed.pair_emissivity * fixed.hooded_area * (warm * warm - lined * lined)
    )
    flows[WALL_ROOM] = fixed.wall_to_room * (wall - moment.room)
    rates[SHELL] = (
        fire - flows[BARE_FREE] - flows[BARE_RADIANT] - flows[SHELL_AIR] - flows[EXCHANGE]
    ) / fixed.shell_capacity
    rates[HOOD_WALL] = (flows[EXCHANGE] - flows[WALL_AIR] - flows[WALL_ROOM]) / fixed.wall_capacity
    rates[2] = 0.0
    for k in range(coils):
        water = unknown[FIRST_COIL + k]
        steam[k] = BOILING_STRENGTH * max(water - fixed.boiling[k], 0.0)
        brought = moment.coil_water * (water_into(fixed, moment, unknown, k) - water)
        rates[FIRST_COIL + k] = (brought + heat[k] - steam[k]) / fixed.coil_capacity[k]
    flows[LOSS] = 0.0
    flows[BROUGHT] = 0.0
    flows[PUMPED] = moment.pump_power
    if fixed.layers > 0:
        first = FIRST_COIL + coils
        tank = unknown[first:]
        flows[LOSS] = tank_rates(
            fixed, tank, moment.water, water_back(fixed, unknown), moment.room, rates[first:]
        )
        flows[BROUGHT] = fixed.make_up_capacity * (fixed.make_up_temperature - tank[fixed.layers - 1])
    return before
