"""What a run with moisture, or with a flue run, tells beside the rest."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.physics.draught import draught_margin, run_resistance, stack_state
from simulator.physics.flue_film_kernels import convection_film
from simulator.physics.flue_gas_kernels import WATER_MOLAR_MASS, vapour_flux_to_wall
from simulator.physics.moist_air_kernels import relative_humidity
from simulator.run.stage_kernels import (
    CONDENSED,
    DRAINED,
    DRIED,
    EXIT_RATIO,
    GAS_ENTRY,
    GAS_FLOW,
    JACKET_FLOW,
    ROOM_RATIO,
    VAPOUR_FROM_DUCTS,
    VAPOUR_GAIN,
    VAPOUR_HELD,
    VAPOUR_LEAKED,
    VAPOUR_ON_GLASS,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.run.coupling import Coupling
    from simulator.run.plan import RunPlan
    from simulator.run.state import RunState

Values = dict[str, "float | NDArray[Any]"]


def moist_values(plan: RunPlan, coupling: Coupling, state: RunState) -> Values:
    """Series of the part "moisture"."""
    moving, path, reference = state.moving, plan.path, coupling.reference
    lanes, length = path.segment_lane, coupling.station_length
    last = int(path.branch_begin[coupling.fixed.air_branches])
    station, lane = path.segment_station[:last], lanes[:last]
    backwards = path.direction[:last] < 0
    ratio = np.full((moving.wall.shape[1], length.size + 1), math.nan)
    ratio[lane, station + backwards] = moving.humid_in[station, lane]
    ratio[lane, station + ~backwards] = moving.humid_out[station, lane]
    ducts = path.branch_ducts[path.segment_branch[:last]]
    totals = moving.water_totals
    room_ratio = float(moving.scalars[ROOM_RATIO])
    return {
        "room_relative_humidity": float(
            relative_humidity(room_ratio, state.room + reference, coupling.mover.pressure)
        ),
        "room_humidity_ratio": room_ratio,
        "exit_humidity_ratio": float(moving.scalars[EXIT_RATIO]),
        "humidity_ratio": ratio,
        "duct_surface_temperature": moving.surface.T + reference,
        "condensation": moving.settling.T.copy(),
        "water_held": moving.water.T.copy(),
        "water_condensed": float(totals[CONDENSED]),
        "water_dried": float(totals[DRIED]),
        "water_drained": float(totals[DRAINED]),
        "water_standing": float(np.sum(moving.water[station, lane] * length[station] * ducts)),
        "vapour_given": float(totals[VAPOUR_GAIN]),
        "vapour_leaked": float(totals[VAPOUR_LEAKED]),
        "vapour_from_ducts": float(totals[VAPOUR_FROM_DUCTS]),
        "vapour_held": float(totals[VAPOUR_HELD]),
        "vapour_on_glass": float(totals[VAPOUR_ON_GLASS]),
    }


def flue_values(plan: RunPlan, coupling: Coupling, state: RunState, outside: float) -> Values:
    """Series of the part "flue"; `outside` [K].

    The stack is in its steady state for the gas of the moment. Water settles where the pipe is below the dew
    point; the heat that frees is left out, which keeps wall and gas on the cold side.
    """
    moving, path, flue, reference = state.moving, plan.path, plan.flue, coupling.reference
    made = flue.made
    if made is None:
        return {}
    gas = made.gas
    branch = coupling.fixed.air_branches
    first, last = path.branch_begin[branch], path.branch_begin[branch + 1]
    stations = path.segment_station[first:last]
    backwards = path.direction[first:last] < 0
    length = coupling.station_length
    along = np.full(length.size + 1, math.nan)
    wall = np.full(length.size, math.nan)
    along[stations + backwards] = moving.gas_in[stations] + reference
    along[stations + ~backwards] = moving.gas_out[stations] + reference
    wall[stations] = moving.gas_pipe[stations] + reference
    flow = float(moving.scalars[GAS_FLOW])
    leaving = float(moving.gas_out[stations[-1]]) + reference
    pressure = coupling.mover.pressure
    burning = flow > 0.0
    pull = resistance = margin = math.nan
    stack_wall = math.nan
    mean = 0.5 * (moving.gas_in[stations] + moving.gas_out[stations]) + reference
    if flue.stack is not None:
        stack = stack_state(flue.stack, gas, flow, leaving, outside, pressure)
        pull, stack_wall = stack.pull, stack.top_wall_temperature
        resistance = stack.resistance
        if burning:
            resistance += run_resistance(
                gas, flow, float(np.average(mean, weights=length[stations])), float(length[stations].sum()),
                flue.diameter, flue.roughness, flue.loss, pressure,
            )  # fmt: skip
            margin = draught_margin(pull, resistance, flue.stove_need)
        else:
            pull = resistance = 0.0
    return {
        "flue_mass_flow": flow,
        "flue_entry_temperature": float(moving.scalars[GAS_ENTRY]) if burning else math.nan,
        "flue_exit_temperature": leaving,
        "flue_gas_temperature": along,
        "flue_wall_temperature": wall,
        "flue_dew_temperature": gas.dew_point(pressure),
        "flue_condensation": _settling(plan, coupling, state, mean, wall[stations], stations),
        "flue_stack_wall_temperature": stack_wall,
        "flue_draught": pull,
        "flue_resistance": resistance,
        "flue_margin": margin,
        "jacket_mass_flow": float(moving.scalars[JACKET_FLOW]),
        "jacket_exit_temperature": (
            float(state.branch_exit[branch + 1]) + reference if flue.jacketed else math.nan
        ),
    }


def _settling(
    plan: RunPlan,
    coupling: Coupling,
    state: RunState,
    gas_temperature: NDArray[np.float64],
    wall: NDArray[np.float64],
    stations: NDArray[np.int64],
) -> float:
    """Water settling in the flue run [kg/s], no more than the gas brings."""
    flue, flow = plan.flue, float(state.moving.scalars[GAS_FLOW])
    made = flue.made
    if made is None or flow <= 0.0:
        return 0.0
    gas = made.gas
    vapour = flow * made.vapour / made.wet_gas
    settled = 0.0
    molar = gas.molar_mass
    fixed = coupling.fixed
    first = fixed.branch_begin[fixed.air_branches]
    for place, station in enumerate(stations):
        kelvin = float(min(max(gas_temperature[place], 250.0), 1500.0))
        moles = flow / molar - settled / WATER_MOLAR_MASS
        share = max(vapour - settled, 0.0) / WATER_MOLAR_MASS / moles
        # Vapour moves as heat does by convection; what the gas radiates takes no vapour along.
        film = convection_film(
            flow, kelvin, float(wall[place]), flue.diameter, fixed.begin[first + place],
            fixed.end[first + place], coupling.mover.pressure, gas.made, gas.low, gas.high,
            gas.viscosity_fit, gas.conductivity_fit,
        )  # fmt: skip
        flux = vapour_flux_to_wall(
            film, kelvin, float(wall[place]), share,
            coupling.mover.pressure, molar, float(gas.heat_capacity(kelvin)), float(gas.conductivity(kelvin)),
        )  # fmt: skip
        area = math.pi * flue.diameter * float(coupling.station_length[station])
        settled = min(max(settled + max(flux, 0.0) * area, 0.0), vapour)
    return settled
