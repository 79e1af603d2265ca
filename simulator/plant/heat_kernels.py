"""The heat flows of a plant at one moment, compiled.

The unknowns stand in one array like the state: shell, hood wall, (burning level, unused here), coil waters,
layers. All flows of heat are filled into one array, from which the rates are made, so that what one part
gives the other takes.

A coil passes effectiveness times the smaller capacity flow times the difference of the inlet temperatures.
Its water has one temperature, that of the water leaving it; while that is not yet (or no more) what the
steady coil would send out, it draws nearer through the coil's conductance as well. With the pump standing
this is all that is left: the water goes towards the air's temperature, and boils where that is above boiling.
"""

from __future__ import annotations

import numpy as np

from simulator.kernel import kernel
from simulator.physics.free_convection_kernels import upright_film
from simulator.plant.hood_kernels import AIR_IN, AIR_OUT, FROM_SHELL, FROM_WALL, hood_air
from simulator.plant.layout_kernels import FIRST_COIL, HOOD_WALL, LEVEL, SHELL, PlantFixed
from simulator.plant.moment_kernels import AROUND_INTAKE, AROUND_ROOM, Moment
from simulator.plant.tank_kernels import tank_rates

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m2.K4)], CODATA 2018."""
BOILING_STRENGTH = 1e6
"""Steam's heat per kelvin above boiling [W/K]: 10 kW lift the water 0.01 K above it."""

FIRE, BARE_FREE, BARE_RADIANT, SHELL_AIR, EXCHANGE, WALL_AIR, WALL_ROOM, LOSS, BROUGHT, PUMPED = range(10)
FIRST_HEAT = 10
"""Heat flows of a moment [W]; from FIRST_HEAT the coils' from the air, behind them the coils' steam."""


@kernel
def fill_water(fixed: PlantFixed, moment: Moment, unknown: np.ndarray, into: np.ndarray) -> float:
    """Fill the water entering each coil [K] and return the water sent back to the tank [K].

    In series the water flows against the air. Without coils what is drawn comes back.
    """
    coils, parallel = fixed.coils, fixed.parallel
    drawn: float = unknown[FIRST_COIL + coils] if fixed.layers > 0 else 0.0
    if coils == 0:
        return drawn
    back = 0.0
    for k in range(coils):
        last = parallel or k == coils - 1
        into[k] = drawn + moment.pump_rise if last else unknown[FIRST_COIL + k + 1]
        back += unknown[FIRST_COIL + k]
    return back / coils if parallel else unknown[FIRST_COIL]


@kernel
def air_through_coils(
    moment: Moment,
    unknown: np.ndarray,
    air: float,
    into: np.ndarray,
    flows: np.ndarray,
    leaving: np.ndarray,
) -> float:
    """Send air entering at `air` [K] through the coils; fill heat taken [W] and air leaving [K] of each.

    `into` (C,) [K] is the water entering each coil.
    """
    flowing = moment.coil_water > 0.0
    taken, nearing, gain = moment.taken, moment.nearing, moment.gain
    for k in range(into.size):
        across = air - into[k] if flowing else 0.0
        steady = into[k] + gain[k] * across if flowing else air
        drop = taken[k] * across + nearing[k] * (steady - unknown[FIRST_COIL + k])
        flows[FIRST_HEAT + k] = moment.capacity * drop
        air -= drop
        leaving[k] = air
    return air


@kernel
def heat_flows(
    fixed: PlantFixed,
    moment: Moment,
    fire: float,
    unknown: np.ndarray,
    found: np.ndarray,
    into: np.ndarray,
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
    found : (5,) float
        Air under the hood, see `hood_kernels`; on entry its guess.
    into, leaving : (C,) float [K]
        Filled with the water entering and the air behind each coil.
    flows : (10 + 2 C,) float [W]
        Filled.
    rates : (n,) float [K/s]
        Filled; 0 for the burning level.

    Returns
    -------
    float [K]
        Air entering the coils.
    """
    shell, wall = unknown[SHELL], unknown[HOOD_WALL]
    room, intake = moment.around[AROUND_ROOM], moment.around[AROUND_INTAKE]
    back = fill_water(fixed, moment, unknown, into)
    # Air that comes round: entering = constant + slope leaving.
    constant, slope, drop = intake, 0.0, 1.0
    if moment.fresh < 1.0:
        round_again = 1.0 - moment.fresh
        offset = air_through_coils(moment, unknown, 0.0, into, flows, leaving)
        passed = round_again * moment.passed
        whole = 1.0 - passed * moment.bypass
        constant = (moment.fresh * intake + round_again * offset + passed * moment.rise_before) / whole
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
    before: float = (
        (1.0 - moment.bypass) * found[AIR_OUT] + moment.bypass * found[AIR_IN] + moment.rise_before
    )
    warm = shell * shell
    cool = room * room
    free = upright_film(shell, room, fixed.shell_height, moment.pressure)
    flows[FIRE] = fire
    flows[BARE_FREE] = free * fixed.bare_area * (shell - room)
    flows[BARE_RADIANT] = (
        STEFAN_BOLTZMANN * fixed.shell_emissivity * fixed.bare_area * (warm * warm - cool * cool)
    )
    flows[SHELL_AIR] = found[FROM_SHELL]
    flows[WALL_AIR] = found[FROM_WALL]
    lined = wall * wall
    flows[EXCHANGE] = (
        STEFAN_BOLTZMANN * fixed.pair_emissivity * fixed.hooded_area * (warm * warm - lined * lined)
    )
    flows[WALL_ROOM] = fixed.wall_to_room * (wall - room)
    rates[SHELL] = (
        fire - flows[BARE_FREE] - flows[BARE_RADIANT] - flows[SHELL_AIR] - flows[EXCHANGE]
    ) / fixed.shell_capacity
    rates[HOOD_WALL] = (flows[EXCHANGE] - flows[WALL_AIR] - flows[WALL_ROOM]) / fixed.wall_capacity
    rates[LEVEL] = 0.0
    water_flows(fixed, moment, before, back, unknown, into, leaving, flows, rates)
    return before


@kernel
def water_flows(
    fixed: PlantFixed,
    moment: Moment,
    before: float,
    back: float,
    unknown: np.ndarray,
    into: np.ndarray,
    leaving: np.ndarray,
    flows: np.ndarray,
    rates: np.ndarray,
) -> None:
    """Fill heat flows [W] and rates [K/s] of coils and tank.

    Air enters the coils at `before` [K], water at `into` (C,) [K] and comes back to the tank at `back` [K],
    see `fill_water`.
    """
    coils = fixed.coils
    air_through_coils(moment, unknown, before, into, flows, leaving)
    boiling, capacity = fixed.boiling, fixed.coil_capacity
    for k in range(coils):
        water = unknown[FIRST_COIL + k]
        steam = BOILING_STRENGTH * max(water - boiling[k], 0.0)
        brought = moment.coil_water * (into[k] - water)
        rates[FIRST_COIL + k] = (brought + flows[FIRST_HEAT + k] - steam) / capacity[k]
        flows[FIRST_HEAT + coils + k] = steam
    flows[LOSS] = 0.0
    flows[BROUGHT] = 0.0
    flows[PUMPED] = moment.pump_power
    if fixed.layers > 0:
        first = FIRST_COIL + coils
        tank = unknown[first:]
        flows[LOSS] = tank_rates(fixed, tank, moment.water, back, moment.around[AROUND_ROOM], rates[first:])
        flows[BROUGHT] = fixed.make_up_capacity * (fixed.make_up_temperature - tank[fixed.layers - 1])
