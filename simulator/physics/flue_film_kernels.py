"""Film of combustion gas in a lying pipe: flow along it, free convection across it, and radiation.

`made` (3,) tells of what the gas is: molar mass [kg/mol], shares by mole of vapour and of carbon dioxide [-]
(`FlueGas.made`). The polynomials are those of `flue_gas_kernels`.
"""

from __future__ import annotations

import numpy as np

from simulator.kernel import kernel
from simulator.physics.flue_gas_kernels import gas_density, gas_film, heat_capacity, transport_property
from simulator.physics.flue_gas_radiation_kernels import gas_radiation_film
from simulator.physics.mixed_flow_kernels import blended_across, free_nusselt, rayleigh_number

COLDEST_WALL, HOTTEST_WALL = 200.0, 1500.0
"""Range of the wall's temperature [K]; the value at its end is taken outside."""


@kernel
def free_film(
    gas: float,
    wall: float,
    diameter: float,
    pressure: float,
    molar_mass: float,
    low: np.ndarray,
    high: np.ndarray,
    viscosity_fit: np.ndarray,
    conductivity_fit: np.ndarray,
) -> float:
    """Film [W/(m2.K)] of free convection across a lying pipe, properties at the mean of `gas` and `wall` [K].

    Taken at the wall instead, as by some authors, the properties change it little: what denser gas gains in
    buoyancy it loses in conductivity.
    """
    mean = 0.5 * (gas + wall)
    mu = transport_property(mean, viscosity_fit)
    k = transport_property(mean, conductivity_fit)
    prandtl = mu * heat_capacity(mean, low, high) / k
    kinematic = mu / gas_density(mean, pressure, molar_mass)
    return free_nusselt(rayleigh_number(gas - wall, diameter, mean, kinematic, prandtl)) * k / diameter


@kernel
def convection_film(
    mass_flow: float,
    gas: float,
    wall: float,
    diameter: float,
    begin: float,
    end: float,
    pressure: float,
    made: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    viscosity_fit: np.ndarray,
    conductivity_fit: np.ndarray,
) -> float:
    """Film [W/(m2.K)] by convection, forced and free together, mean over a piece of a lying pipe.

    `mass_flow` [kg/s], mean `gas` and `wall` temperature [K], inside `diameter` [m]; the piece lies between
    `begin` and `end` [m] from the entrance; `pressure` [Pa].
    """
    held = min(max(wall, COLDEST_WALL), HOTTEST_WALL)
    forced = gas_film(mass_flow, gas, diameter, begin, end, low, high, viscosity_fit, conductivity_fit)
    free = free_film(
        gas, held, diameter, pressure, made[0], low, high, viscosity_fit, conductivity_fit
    )
    return blended_across(forced, free)


@kernel
def radiated_film(
    gas: float, wall: float, diameter: float, pressure: float, made: np.ndarray, wall_emissivity: float
) -> float:
    """Film [W/(m2.K)] by what the gas radiates to the pipe, see `gas_radiation_film`."""
    held = min(max(wall, COLDEST_WALL), HOTTEST_WALL)
    return gas_radiation_film(gas, held, diameter, made[1], made[2], pressure, wall_emissivity)
