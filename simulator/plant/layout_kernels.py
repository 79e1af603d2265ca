"""Where things stand in the arrays of the heat chain, and its fixed numbers.

With C coils and L layers of the tank (0 without one):

state (3 + C + L,)
    ``SHELL``, ``HOOD_WALL`` [K], ``LEVEL`` (burning level of a steady feed, 0 to 1), then from
    ``FIRST_COIL`` the water of each coil [K] in the order of the air, then the layers [K], bottom first.
inputs (``INPUTS``,)
    ``LENGTH`` [s]; ``BATCH_RATE`` [kg/s], mean over the step, of fuel as fired; ``FEED`` (share);
    ``OVERFEED`` (factor on all fuel, 1 as told); ``INTAKE`` [K], air drawn into the hood; ``ROOM`` [K], also
    of the combustion air; ``AIR_FLOW`` [kg/s]; ``FAN_POWER`` [W], given to the stream at the fan's place;
    ``PUMP`` (share of flow and power); ``PRESSURE`` [Pa]; ``AIR_CAPACITY`` [J/(kg.K)] with which the rest of
    the run reckons the stream, NaN: dry air at the intake temperature; ``BATCH_RISE`` [kg/s], ``INTAKE_RISE``
    and ``ROOM_RISE`` [K]: from begin to end of the step, straight, about the means told before; ``FLOW_RISE``
    [kg/s] of the air, for the temperatures at the end only.
flows (``FLOWS`` + C,)
    over the step, see the constants; then from ``FIRST_COIL_HEAT`` the heat each coil took from the air [J].
temperatures (``FIRST_COIL_WATER`` + 2 C + L,)
    at the end of the step [K], see the constants; then the water of each coil, from ``FIRST_COIL_WATER`` + C
    the air leaving each coil, from ``FIRST_COIL_WATER`` + 2 C the layers, bottom first.

The accounts, each to rounding:

    FUEL = FLUE_LOSS + STOVE_TO_ROOM + HOOD_TO_ROOM + HOOD_TO_AIR + STORED_STOVE
    HOOD_TO_AIR = AIR_NET + COILS
    COILS + PUMP_HEAT + MAKE_UP = TANK_LOSS + VENTED + STORED_WATER
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

SHELL, HOOD_WALL, LEVEL, FIRST_COIL = 0, 1, 2, 3

LENGTH, BATCH_RATE, FEED, OVERFEED, INTAKE, ROOM = range(6)
AIR_FLOW, FAN_POWER, PUMP, PRESSURE, AIR_CAPACITY = range(6, 11)
BATCH_RISE, INTAKE_RISE, ROOM_RISE, FLOW_RISE = range(11, 15)
INPUTS = 15

FUEL = 0
"""Lower heating value of the fuel burnt [J]."""
FLUE_LOSS = 1
"""Sensible heat of the gas above the room's temperature [J]."""
STOVE_TO_ROOM = 2
"""From the bare part of the shell to the room, convection and radiation [J]."""
STOVE_RADIANT = 3
"""The radiation in STOVE_TO_ROOM [J]."""
HOOD_TO_ROOM = 4
"""Through the hood's wall [J]."""
HOOD_TO_AIR = 5
"""From shell and hood wall to the air under the hood [J]."""
AIR_NET = 6
"""To the stream behind hood and coils, without the fan's power [J]; exactly 0 with AIR_FLOW 0."""
COILS = 7
"""From the air to all coils [J]."""
TANK_LOSS = 8
"""From the tank to the room [J]."""
MAKE_UP = 9
"""Brought by the make-up water less what the overflow takes away [J]."""
PUMP_HEAT = 10
"""Electric heat of the pump, all to the water [J]."""
STORED_STOVE = 11
"""Rise of the heat held by shell and hood wall [J]."""
STORED_WATER = 12
"""Rise of the heat held by coils and tank [J]."""
VENTED = 13
"""Heat gone as steam from boiling coils [J]."""
BURNT = 14
"""Fuel burnt, as fired [kg]."""
GAS = 15
"""Flue gas made [kg]."""
AIR_DRAWN = 16
"""Dry combustion air drawn from the room [kg]."""
STEAM = 17
"""Steam blown off [kg]."""
BOILING_TIME = 18
"""Time during which a coil boiled [s]."""
FIRST_COIL_HEAT = 19
FLOWS = 19

END_SHELL, END_HOOD_WALL = 0, 1
HOOD_AIR = 2
"""Air leaving the hood, before the bypass joins it."""
MIXED_AIR = 3
"""Air entering the first coil (after a fan before the coils)."""
AFTER_COILS = 4
"""Air behind the last coil, before a fan that stands there."""
FAN_AIR = 5
"""Air behind the fan, the fan's own heat included."""
FLUE = 6
"""Gas leaving the stove; the room's temperature while nothing burns."""
MEAN_FLUE = 7
"""The same with the step's mean room, as the flue loss is reckoned."""
FIRST_COIL_WATER = 8


class PlantFixed(NamedTuple):
    """Numbers of a plant that a run does not change; SI, C coils."""

    coils: int
    layers: int
    # Fire: steady rate [kg/s], ramps [s], heating value [J/kg as fired], gas and dry air [kg/kg].
    steady_rate: float
    start_up: float
    burn_out: float
    heating_value: float
    wet_gas: float
    dry_air: float
    efficiency: float  # NaN: from flue_temperature
    flue_temperature: float  # NaN: from efficiency
    gas_low: np.ndarray
    gas_high: np.ndarray
    # Stove and hood.
    shell_capacity: float
    wall_capacity: float
    hooded_area: float
    bare_area: float
    shell_height: float
    shell_emissivity: float
    wall_area: float
    wall_height: float
    pair_emissivity: float
    wall_to_room: float  # [W/K]
    cross_section: float
    hydraulic_diameter: float
    way_length: float
    radius_ratio: float
    bypass: float
    film: float  # NaN: computed
    fan_before_coils: bool
    # Coils, (C,) each.
    conductance: np.ndarray
    arrangement: np.ndarray
    rated_air_flow: np.ndarray
    rated_water_flow: np.ndarray
    air_side_share: np.ndarray
    coil_capacity: np.ndarray
    boiling: np.ndarray
    parallel: bool
    # Tank and pump.
    layer_capacity: float
    layer_conduction: float  # [W/K] between neighbouring layers
    layer_loss: float  # [W/K] of one layer to the room
    make_up_capacity: float  # [W/K]
    make_up_temperature: float
    pump_flow: float  # [kg/s]
    pump_power: float
