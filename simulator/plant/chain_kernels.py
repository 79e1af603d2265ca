"""One step of stove, hood, coils and tank, compiled.

The layout of state, inputs, flows and temperatures is in `layout_kernels`. The step is divided as its error
asks, see `part_kernels`. Every flow of heat is the weighted sum of the same evaluations that move the
temperatures, so that the accounts close to rounding whatever the error. Burning rate of loads, intake and
room follow straight lines over the step. Corners of a steady feed's ramps end a part; so all fuel is exact.
Layers of the tank mix by buoyancy at the end of every part.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.moist_air_kernels import latent_heat
from simulator.plant import layout_kernels as layout
from simulator.plant.fire_kernels import flue_loss_of
from simulator.plant.heat_kernels import (
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
)
from simulator.plant.hood_kernels import AIR_OUT, MEAN_AIR
from simulator.plant.layout_kernels import PlantFixed
from simulator.plant.moment_kernels import AROUND_INTAKE, Moment, moment_of, surround
from simulator.plant.part_kernels import DIAGONAL, WEIGHT, Work, try_part, work_of
from simulator.plant.tank_kernels import mix_by_buoyancy

TOLERANCE = 5e-3
"""Error allowed in a part of a step [K]."""
MOST_PARTS = 5000
"""Parts after which a step is finished whatever its error."""
SMALLEST_PART = 1e-9
"""Shortest part as a share of the step; it is taken whatever its error."""
EXACT, INEXACT, FAILED = 0, 1, 2
"""What `advance_plant` returns: within tolerance; some part was not; a value is not finite."""


@kernel
def ramp(fixed: PlantFixed, level: float, feed: float) -> tuple[float, float]:
    """Slope of the burning level [1/s] towards the feed, and the time until it is there [s]."""
    if feed > level:
        if fixed.start_up > 0.0:
            return 1.0 / fixed.start_up, (feed - level) * fixed.start_up
    elif feed < level and fixed.burn_out > 0.0:
        return -1.0 / fixed.burn_out, (level - feed) * fixed.burn_out
    return 0.0, 0.0


@kernel
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
    inputs : (15,) float
    new_state : (3 + C + L,) float
        Filled; may not be `state` itself.
    flows : (19 + C,) float
        Filled.
    temperatures : (8 + 2 C + L,) float
        Filled.

    Returns
    -------
    int
        `EXACT`, `INEXACT` or `FAILED`.
    """
    for i in range(layout.INPUTS):
        if i != layout.AIR_CAPACITY and not math.isfinite(inputs[i]):
            return FAILED
    coils, layers = fixed.coils, fixed.layers
    length = inputs[layout.LENGTH]
    moment = moment_of(fixed, inputs)
    loss, gas = flue_loss_of(
        fixed.heating_value,
        fixed.wet_gas,
        fixed.efficiency,
        fixed.flue_temperature,
        inputs[layout.ROOM],
        fixed.gas_low,
        fixed.gas_high,
    )
    kept = fixed.heating_value - loss
    feed = min(max(inputs[layout.FEED], 0.0), 1.0)
    level = min(max(state[layout.LEVEL], 0.0), 1.0)
    slope, ramp_time = ramp(fixed, level, feed)
    if ramp_time <= 0.0:
        level = feed
    steady = fixed.steady_rate * inputs[layout.OVERFEED]
    batch = (inputs[layout.BATCH_RATE] - 0.5 * inputs[layout.BATCH_RISE]) * inputs[layout.OVERFEED]
    more = inputs[layout.BATCH_RISE] * inputs[layout.OVERFEED] / length

    y = state.copy()
    work = work_of(coils, y.size)
    work.found[MEAN_AIR] = 0.5 * (y[layout.SHELL] + moment.around[AROUND_INTAKE])
    rates, heat = work.rates, work.heat
    total = np.zeros(FIRST_HEAT + 2 * coils)
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
        step = end - now if part > 0.999999 * (end - now) else part
        first_rate = batch + more * now + steady * level_at(level, feed, slope, ramp_time, now)
        last_rate = batch + more * (now + step) + steady * level_at(level, feed, slope, ramp_time, now + step)
        worst = try_part(fixed, moment, work, inputs, y, now, step, first_rate * kept, last_rate * kept)
        worst /= TOLERANCE
        parts += 1
        if not worst <= 1.0:
            if step > SMALLEST_PART * length and parts < MOST_PARTS:
                part = step * (max(0.1, 0.9 * math.pow(worst, -1.0 / 3.0)) if worst < math.inf else 0.25)
                continue
            status = INEXACT
        for i in range(y.size):
            y[i] += step * (WEIGHT * (rates[0, i] + rates[1, i]) + DIAGONAL * rates[2, i])
            if not math.isfinite(y[i]):
                return FAILED
        for i in range(total.size):
            total[i] += step * (WEIGHT * (heat[0, i] + heat[1, i]) + DIAGONAL * heat[2, i])
        burnt += 0.5 * step * (first_rate + last_rate)
        for k in range(coils):
            if heat[2, FIRST_HEAT + coils + k] > 0.0:
                boiling += step
                break
        if layers > 1:
            mix_by_buoyancy(y[layout.FIRST_COIL + coils :])
        now = length if step >= length - now else now + step
        part = step * min(4.0, 0.9 * math.pow(max(worst, 1e-9), -1.0 / 3.0))
        if parts >= MOST_PARTS:
            part = length

    y[layout.LEVEL] = level_at(level, feed, slope, ramp_time, length)
    new_state[:] = y
    fill_flows(fixed, state, y, total, burnt, loss, moment.moves, flows)
    flows[layout.BOILING_TIME] = boiling
    fire = (batch + more * length + steady * y[layout.LEVEL]) * kept
    if inputs[layout.FLOW_RISE] != 0.0 and moment.moves:
        ending = inputs.copy()
        ending[layout.AIR_FLOW] += 0.5 * inputs[layout.FLOW_RISE]
        moment = moment_of(fixed, ending)
    surround(moment.around, inputs, length)
    fill_temperatures(fixed, moment, work, y, fire, temperatures)
    temperatures[layout.MEAN_FLUE] = gas if burnt > 0.0 else inputs[layout.ROOM]
    temperatures[layout.FLUE] = inputs[layout.ROOM] + 0.5 * inputs[layout.ROOM_RISE]
    if burnt > 0.0:
        _, temperatures[layout.FLUE] = flue_loss_of(
            fixed.heating_value,
            fixed.wet_gas,
            fixed.efficiency,
            fixed.flue_temperature,
            inputs[layout.ROOM] + 0.5 * inputs[layout.ROOM_RISE],
            fixed.gas_low,
            fixed.gas_high,
        )
    return status


@kernel
def fill_temperatures(
    fixed: PlantFixed,
    moment: Moment,
    work: Work,
    y: np.ndarray,
    fire: float,
    temperatures: np.ndarray,
) -> None:
    """Fill the temperatures [K] at the state `y`, with `fire` [W]; see `layout_kernels`.

    All but those of the gas.
    """
    coils = fixed.coils
    before = heat_flows(
        fixed, moment, fire, y, work.found, work.into, work.leaving, work.heat[0], work.rates[0]
    )
    after = work.leaving[coils - 1] if coils > 0 else before
    temperatures[layout.END_SHELL] = y[layout.SHELL]
    temperatures[layout.END_HOOD_WALL] = y[layout.HOOD_WALL]
    temperatures[layout.HOOD_AIR] = work.found[AIR_OUT]
    temperatures[layout.MIXED_AIR] = before
    temperatures[layout.AFTER_COILS] = after
    temperatures[layout.FAN_AIR] = before if fixed.fan_before_coils else after + moment.rise_after
    for k in range(coils):
        temperatures[layout.FIRST_COIL_WATER + k] = y[layout.FIRST_COIL + k]
        temperatures[layout.FIRST_COIL_WATER + coils + k] = work.leaving[k]
    for i in range(fixed.layers):
        temperatures[layout.FIRST_COIL_WATER + 2 * coils + i] = y[layout.FIRST_COIL + coils + i]


@kernel
def level_at(level: float, feed: float, slope: float, ramp_time: float, time: float) -> float:
    """Burning level [-] at a time into the step [s]."""
    return feed if time >= ramp_time else level + slope * time


@kernel
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
    flows[layout.FUEL] = burnt * fixed.heating_value
    flows[layout.FLUE_LOSS] = burnt * loss
    flows[layout.STOVE_TO_ROOM] = total[BARE_FREE] + total[BARE_RADIANT]
    flows[layout.STOVE_RADIANT] = total[BARE_RADIANT]
    flows[layout.HOOD_TO_ROOM] = total[WALL_ROOM]
    taken = 0.0
    vented = 0.0
    steam = 0.0
    stored = 0.0
    for k in range(coils):
        heat = total[FIRST_HEAT + k]
        flows[layout.FIRST_COIL_HEAT + k] = heat
        taken += heat
        gone = total[FIRST_HEAT + coils + k]
        vented += gone
        steam += gone / latent_heat(fixed.boiling[k])
        stored += fixed.coil_capacity[k] * (new[layout.FIRST_COIL + k] - old[layout.FIRST_COIL + k])
    for i in range(fixed.layers):
        place = layout.FIRST_COIL + coils + i
        stored += fixed.layer_capacity * (new[place] - old[place])
    flows[layout.COILS] = taken
    flows[layout.HOOD_TO_AIR] = total[SHELL_AIR] + total[WALL_AIR]
    # Air that only comes round under the hood carries nothing away; the difference is rounding then.
    flows[layout.AIR_NET] = flows[layout.HOOD_TO_AIR] - taken if moves else 0.0
    flows[layout.TANK_LOSS] = total[LOSS]
    flows[layout.MAKE_UP] = total[BROUGHT]
    flows[layout.PUMP_HEAT] = total[PUMPED]
    flows[layout.STORED_STOVE] = fixed.shell_capacity * (new[layout.SHELL] - old[layout.SHELL])
    flows[layout.STORED_STOVE] += fixed.wall_capacity * (new[layout.HOOD_WALL] - old[layout.HOOD_WALL])
    flows[layout.STORED_WATER] = stored
    flows[layout.VENTED] = vented
    flows[layout.STEAM] = steam
    flows[layout.BURNT] = burnt
    flows[layout.GAS] = burnt * fixed.wet_gas
    flows[layout.AIR_DRAWN] = burnt * fixed.dry_air
