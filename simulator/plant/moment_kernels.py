"""Everything of a plant that holds still during a step, and the lines that do not, compiled.

Without a fan the air under the hood comes round over the coils at a slow speed of its own, so that a coil
above a hot stove still warms. Nothing leaves the hood then but what passes its wall: a draught through the
standing fan and the ducts is left out, which errs towards hot.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import density, heat_capacity, within_fit
from simulator.physics.coil_kernels import conductance_at, effectiveness
from simulator.physics.moist_air_kernels import WATER_HEAT_CAPACITY
from simulator.plant.layout_kernels import (
    AIR_CAPACITY,
    AIR_FLOW,
    FAN_POWER,
    INTAKE,
    INTAKE_RISE,
    LENGTH,
    PRESSURE,
    PUMP,
    ROOM,
    ROOM_RISE,
    PlantFixed,
)

AROUND_ROOM, AROUND_INTAKE = 0, 1
"""Places in `Moment.around`."""
OWN_SPEED = 0.1
"""Speed [m/s] at which air comes round under a hood without a fan: order of magnitude, ours, no source."""
OWN_SPEED_TEMPERATURE = 400.0
"""Temperature of that air for its density [K]."""


class Moment(NamedTuple):
    """What holds still during a step; and `around`, to be set to each instant."""

    around: np.ndarray  # (2,) room and intake at the instant looked at [K], see `surround`
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


@kernel
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
        around=np.array([inputs[ROOM], intake]),
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


@kernel
def surround(around: np.ndarray, inputs: np.ndarray, time: float) -> None:
    """Set room and intake [K] to their lines' values `time` [s] into the step."""
    off_middle = time / inputs[LENGTH] - 0.5
    around[AROUND_ROOM] = inputs[ROOM] + inputs[ROOM_RISE] * off_middle
    around[AROUND_INTAKE] = inputs[INTAKE] + inputs[INTAKE_RISE] * off_middle
