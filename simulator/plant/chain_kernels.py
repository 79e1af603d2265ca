"""One step of stove, hood, coils and tank, compiled.

The layout of state, inputs, flows and temperatures is in `layout_kernels`, whose constants this module hands
on. The step is divided as its error asks. Each part is taken by the trapezoidal rule and backward
differentiation in one (TR-BDF2: second order, L-stable, three evaluations with weights above 0), with the
embedded third-order formula for the error [1]. Every flow of heat is the weighted sum of the same three
evaluations that move the temperatures, so that the accounts close to rounding whatever the error. Corners of a
steady feed's ramps end a part, and its fuel is exact.

Sources
-------
[1] M. E. Hosea and L. F. Shampine, Applied Numerical Mathematics 20 (1996) 21-37.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from simulator.physics.moist_air_kernels import latent_heat
from simulator.plant.fire_kernels import flue_loss_of
from simulator.plant.hood_kernels import AIR_OUT, MEAN_AIR
from simulator.plant.implicit_kernels import jacobian_of, solve_parts, solve_stage
from simulator.plant.layout_kernels import (
    AFTER_COILS,
    AIR_DRAWN,
    AIR_NET,
    BATCH_RATE,
    BOILING_TIME,
    BURNT,
    COILS,
    END_HOOD_WALL,
    END_SHELL,
    FAN_AIR,
    FEED,
    FIRST_COIL,
    FIRST_COIL_HEAT,
    FIRST_COIL_WATER,
    FLUE,
    FLUE_LOSS,
    FUEL,
    GAS,
    HOOD_AIR,
    HOOD_TO_AIR,
    HOOD_TO_ROOM,
    HOOD_WALL,
    INPUTS,
    LENGTH,
    LEVEL,
    MAKE_UP,
    MIXED_AIR,
    OVERFEED,
    PUMP_HEAT,
    ROOM,
    SHELL,
    STEAM,
    STORED_STOVE,
    STORED_WATER,
    STOVE_RADIANT,
    STOVE_TO_ROOM,
    TANK_LOSS,
    VENTED,
    PlantFixed,
)
from simulator.plant.moment_kernels import (
    BARE_FREE,
    BARE_RADIANT,
    BROUGHT,
    FIRST_HEAT,
    LOSS,
    PUMPED,
    SHELL_AIR,
    WALL_AIR,
    WALL_ROOM,
    heat_flows,
    moment_of,
)
from simulator.plant.tank_kernels import mix_by_buoyancy

GAMMA = 2.0 - math.sqrt(2.0)
DIAGONAL = 0.5 * GAMMA
WEIGHT = 0.25 * math.sqrt(2.0)
"""Of TR-BDF2: the middle stage stands at GAMMA; weights WEIGHT, WEIGHT, DIAGONAL."""
FIRST_ERROR = (4.0 * WEIGHT - 1.0) / 3.0
MIDDLE_ERROR = -1.0 / 3.0
LAST_ERROR = 2.0 * DIAGONAL / 3.0
TOLERANCE = 2e-3
"""Error allowed in a part of a step [K]."""
MOST_PARTS = 100000
SMALLEST_PART = 1e-9
"""Shortest part as a share of the step; it is taken whatever its error."""
EXACT, INEXACT, FAILED = 0, 1, 2
"""What `advance_plant` returns: within tolerance; some part was not; a value is not finite."""


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def ramp(fixed: PlantFixed, level: float, feed: float) -> tuple[float, float]:
    """Slope of the burning level [1/s] towards the feed, and the time until it is there [s]."""
    if feed > level:
        if fixed.start_up > 0.0:
            return 1.0 / fixed.start_up, (feed - level) * fixed.start_up
    elif feed < level and fixed.burn_out > 0.0:
        return -1.0 / fixed.burn_out, (level - feed) * fixed.burn_out
    return 0.0, 0.0


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def advance_plant(
    fixed: PlantFixed,
    state: np.ndarray,
    inputs: np.ndarray,
    new_state: np.ndarray,
    flows: np.ndarray,
    temperatures: np.ndarray,
) -> int:
    """Advance the plant by one step.

    Parameters
    ----------
    fixed : PlantFixed
    state : (3 + C + L,) float
    inputs : (11,) float
    new_state : (3 + C + L,) float
        Filled; may not be `state` itself.
    flows : (19 + C,) float
        Filled.
    temperatures : (7 + 2 C + L,) float
        Filled.

    Returns
    -------
    int
        `EXACT`, `INEXACT` or `FAILED`.
    """
    for i in range(INPUTS - 1):
        if not math.isfinite(inputs[i]):
            return FAILED
    coils, layers = fixed.coils, fixed.layers
    size = state.size
    length = inputs[LENGTH]
    moment = moment_of(fixed, inputs)
    loss, gas = flue_loss_of(
        fixed.heating_value,
        fixed.wet_gas,
        fixed.efficiency,
        fixed.flue_temperature,
        inputs[ROOM],
        fixed.gas_low,
        fixed.gas_high,
    )
    kept = fixed.heating_value - loss
    feed = min(max(inputs[FEED], 0.0), 1.0)
    level = min(max(state[LEVEL], 0.0), 1.0)
    slope, ramp_time = ramp(fixed, level, feed)
    if ramp_time <= 0.0:
        level = feed
    steady = fixed.steady_rate * inputs[OVERFEED]
    batch = inputs[BATCH_RATE] * inputs[OVERFEED]

    width = FIRST_HEAT + 2 * coils
    y = state.copy()
    stage = np.empty(size)
    right = np.empty(size)
    rates = np.zeros((3, size))
    heat = np.zeros((3, width))
    total = np.zeros(width)
    found = np.zeros(7)
    found[MEAN_AIR] = 0.5 * (state[SHELL] + moment.intake)
    leaving = np.empty(coils)
    matrix = np.empty((2 + coils, 2 + coils))
    column = np.empty(2 + coils)
    error = np.empty(size)
    burnt = 0.0
    boiling = 0.0
    status = EXACT
    now = 0.0
    part = length
    parts = 0
    while now < length:
        end = length
        if slope != 0.0 and ramp_time > now:
            end = min(end, ramp_time)
        step = part
        if step > 0.999999 * (end - now):
            step = end - now
        begin_level = level_at(level, feed, slope, ramp_time, now)
        end_level = level_at(level, feed, slope, ramp_time, now + step)
        first_rate = batch + steady * begin_level
        last_rate = batch + steady * end_level
        middle_rate = first_rate + GAMMA * (last_rate - first_rate)
        heat_flows(fixed, moment, first_rate * kept, y, found, leaving, heat[0], rates[0])
        weight = DIAGONAL * step
        jacobian_of(fixed, moment, first_rate * kept, y, found, leaving, heat[1], rates[1], rates[0], matrix, column)

        solved = True
        for i in range(size):
            right[i] = y[i] + weight * rates[0, i]
            stage[i] = y[i]
        if not solve_stage(
            fixed, moment, middle_rate * kept, right, weight, matrix, column, found, leaving, stage, heat[1], rates[1]
        ):
            solved = False
        else:
            for i in range(size):
                right[i] = y[i] + WEIGHT * step * (rates[0, i] + rates[1, i])
            solved = solve_stage(
                fixed, moment, last_rate * kept, right, weight, matrix, column, found, leaving, stage, heat[2], rates[2]
            )
        worst = math.inf
        if solved:
            for i in range(size):
                right[i] = step * (
                    FIRST_ERROR * rates[0, i] + MIDDLE_ERROR * rates[1, i] + LAST_ERROR * rates[2, i]
                )
            solve_parts(fixed, moment, matrix, column, weight, stage, right, error)
            worst = 0.0
            for i in range(size):
                if i != LEVEL:
                    worst = max(worst, abs(error[i]))
            worst /= TOLERANCE
        parts += 1
        if not worst <= 1.0 and step > SMALLEST_PART * length and parts < MOST_PARTS:
            part = step * (0.25 if not solved else max(0.1, 0.9 * math.pow(worst, -1.0 / 3.0)))
            continue
        if not worst <= 1.0:
            status = INEXACT
        for i in range(size):
            y[i] += step * (WEIGHT * (rates[0, i] + rates[1, i]) + DIAGONAL * rates[2, i])
            if not math.isfinite(y[i]):
                return FAILED
        for i in range(width):
            total[i] += step * (WEIGHT * (heat[0, i] + heat[1, i]) + DIAGONAL * heat[2, i])
        burnt += 0.5 * step * (first_rate + last_rate)
        steaming = False
        for k in range(coils):
            steaming = steaming or heat[2, FIRST_HEAT + coils + k] > 0.0
        if steaming:
            boiling += step
        if layers > 1:
            mix_by_buoyancy(y[FIRST_COIL + coils :])
        now = length if step >= length - now else now + step
        part = step * min(4.0, 0.9 * math.pow(max(worst, 1e-9), -1.0 / 3.0))

    end_level = level_at(level, feed, slope, ramp_time, length)
    y[LEVEL] = end_level
    end_rate = batch + steady * end_level
    before = heat_flows(fixed, moment, end_rate * kept, y, found, leaving, heat[0], rates[0])
    new_state[:] = y
    fill_flows(fixed, state, y, total, burnt, loss, moment.moves, flows)
    flows[BOILING_TIME] = boiling
    temperatures[END_SHELL] = y[SHELL]
    temperatures[END_HOOD_WALL] = y[HOOD_WALL]
    temperatures[HOOD_AIR] = found[AIR_OUT]
    temperatures[MIXED_AIR] = before
    after = leaving[coils - 1] if coils > 0 else before
    temperatures[AFTER_COILS] = after
    temperatures[FAN_AIR] = before if fixed.fan_before_coils else after + moment.rise_after
    temperatures[FLUE] = gas if burnt > 0.0 else inputs[ROOM]
    for k in range(coils):
        temperatures[FIRST_COIL_WATER + k] = y[FIRST_COIL + k]
        temperatures[FIRST_COIL_WATER + coils + k] = leaving[k]
    for i in range(layers):
        temperatures[FIRST_COIL_WATER + 2 * coils + i] = y[FIRST_COIL + coils + i]
    return status


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def level_at(level: float, feed: float, slope: float, ramp_time: float, time: float) -> float:
    """Burning level [-] at a time into the step [s]."""
    return feed if time >= ramp_time else level + slope * time


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def fill_flows(
    fixed: PlantFixed,
    old: np.ndarray,
    new: np.ndarray,
    total: np.ndarray,
    burnt: float,
    loss: float,
    moves: bool,
    flows: np.ndarray,
) -> None:
    """Fill the step's flows from the sums [J] over its parts, see `layout_kernels`."""
    coils = fixed.coils
    flows[FUEL] = burnt * fixed.heating_value
    flows[FLUE_LOSS] = burnt * loss
    flows[STOVE_TO_ROOM] = total[BARE_FREE] + total[BARE_RADIANT]
    flows[STOVE_RADIANT] = total[BARE_RADIANT]
    flows[HOOD_TO_ROOM] = total[WALL_ROOM]
    taken = 0.0
    vented = 0.0
    steam = 0.0
    stored = 0.0
    for k in range(coils):
        heat = total[FIRST_HEAT + k]
        flows[FIRST_COIL_HEAT + k] = heat
        taken += heat
        gone = total[FIRST_HEAT + coils + k]
        vented += gone
        steam += gone / latent_heat(fixed.boiling[k])
        stored += fixed.coil_capacity[k] * (new[FIRST_COIL + k] - old[FIRST_COIL + k])
    for i in range(fixed.layers):
        place = FIRST_COIL + coils + i
        stored += fixed.layer_capacity * (new[place] - old[place])
    flows[COILS] = taken
    flows[HOOD_TO_AIR] = total[SHELL_AIR] + total[WALL_AIR]
    # Air that only comes round under the hood carries nothing away; the difference is rounding then.
    flows[AIR_NET] = flows[HOOD_TO_AIR] - taken if moves else 0.0
    flows[TANK_LOSS] = total[LOSS]
    flows[MAKE_UP] = total[BROUGHT]
    flows[PUMP_HEAT] = total[PUMPED]
    flows[STORED_STOVE] = fixed.shell_capacity * (new[SHELL] - old[SHELL])
    flows[STORED_STOVE] += fixed.wall_capacity * (new[HOOD_WALL] - old[HOOD_WALL])
    flows[STORED_WATER] = stored
    flows[VENTED] = vented
    flows[STEAM] = steam
    flows[BURNT] = burnt
    flows[GAS] = burnt * fixed.wet_gas
    flows[AIR_DRAWN] = burnt * fixed.dry_air
