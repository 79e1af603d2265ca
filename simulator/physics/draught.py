"""Will the stack pull the gas through its run: draught, resistance and the margin between them.

Sources in `draught_kernels`. Wind, and air that a fan takes from the same room, are not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.physics import draught_kernels as kernels
from simulator.physics import flue_gas_kernels

if TYPE_CHECKING:
    from simulator.physics.flue_gas import FlueGas

FLOW_SAFETY: Final = 1.5
"""Factor on the resistance under natural draught (EN 13384-1, value from memory)."""
THIN_MARGIN: Final = 3.0
"""Margin [Pa] under which draught is thin: what gusts and extractors take (common practice, no source)."""


@dataclass(frozen=True)
class Stack:
    """A chimney.

    Attributes
    ----------
    height : float [m]
        From where the gas enters it to its mouth.
    diameter : float [m]
        Inside.
    length : float or None [m]
        Of its pipe; the height if left out.
    roughness : float [m]
        0.001 for metal, 0.005 for brick (EN 13384-1, values from memory).
    loss : float [-]
        Sum of its loss coefficients, its mouth included.
    heat_loss : float [W/(m2.K)]
        From the gas to the outside air, on the inside area.
    """

    height: float
    diameter: float
    length: float | None = None
    roughness: float = 0.001
    loss: float = 1.0
    heat_loss: float = 2.0

    def __post_init__(self) -> None:
        length = self.height if self.length is None else self.length
        if not (self.height > 0.0 and self.diameter > 0.0 and length >= self.height):
            message = "a stack needs a height and a diameter above 0, and at least its height in pipe"
            raise ValueError(message)
        if not min(self.roughness, self.loss, self.heat_loss) >= 0.0:
            message = "roughness, losses and heat loss of a stack must be 0 or more"
            raise ValueError(message)


@dataclass(frozen=True)
class StackState:
    """What a stack does with the gas of a moment.

    Attributes
    ----------
    pull : float [Pa]
        By buoyancy; below 0 when the gas in it is heavier than the air outside.
    resistance : float [Pa]
        Of the stack itself.
    mean_temperature, top_temperature, top_wall_temperature : float [K]
        Of the gas in the mean and at the mouth, and of the inner wall at the mouth.
    """

    pull: float
    resistance: float
    mean_temperature: float
    top_temperature: float
    top_wall_temperature: float


def stack_state(
    stack: Stack,
    gas: FlueGas,
    mass_flow: float,
    entry_temperature: float,
    outside_temperature: float,
    pressure: float = 101325.0,
) -> StackState:
    """Pull, resistance and temperatures of a stack in steady state.

    Parameters
    ----------
    stack : Stack
    gas : FlueGas
    mass_flow : float [kg/s]
        0: the stack stands at outside temperature.
    entry_temperature, outside_temperature : float [K]
    pressure : float [Pa]
        Of the outside air.

    Returns
    -------
    StackState
    """
    found = np.zeros(5)
    kernels.stack_state(
        mass_flow,
        entry_temperature,
        outside_temperature,
        pressure,
        stack.height,
        stack.height if stack.length is None else stack.length,
        stack.diameter,
        stack.roughness / stack.diameter,
        stack.loss,
        stack.heat_loss,
        gas.molar_mass,
        gas.low,
        gas.high,
        gas.viscosity_fit,
        gas.conductivity_fit,
        found,
    )
    return StackState(*map(float, found))


def run_resistance(
    gas: FlueGas,
    mass_flow: float,
    mean_temperature: float,
    length: float,
    diameter: float,
    roughness: float = 0.001,
    loss: float = 0.0,
    pressure: float = 101325.0,
) -> float:
    """Pressure that the gas loses on its way to the stack.

    Parameters
    ----------
    gas : FlueGas
    mass_flow : float [kg/s]
    mean_temperature : float [K]
        Of the gas along the run.
    length, diameter, roughness : float [m]
    loss : float [-]
        Sum of the loss coefficients of entry, bends and joints.
    pressure : float [Pa]

    Returns
    -------
    float [Pa]
    """
    viscosity = float(flue_gas_kernels.transport_property(mean_temperature, gas.viscosity_fit))
    return float(
        kernels.flow_resistance(
            mass_flow, mean_temperature, pressure, gas.molar_mass, viscosity, length, diameter,
            roughness / diameter, loss,
        )
    )  # fmt: skip


def draught_margin(pull: float, resistance: float, stove_need: float, safety: float = FLOW_SAFETY) -> float:
    """Pull left over when stove, run and stack have taken theirs.

    Parameters
    ----------
    pull : float [Pa]
        Of the stack.
    resistance : float [Pa]
        Of run and stack together.
    stove_need : float [Pa]
        Draught the stove asks for at its flue outlet, with the supply of its air; some 12 Pa for most
        stoves with a door (test value of EN 13240, from memory).
    safety : float [-]
        Factor on the resistance.

    Returns
    -------
    float [Pa]
        Below 0 gas comes back into the room.
    """
    return pull - safety * resistance - stove_need
