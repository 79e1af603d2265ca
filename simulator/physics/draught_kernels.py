"""Draught of a stack against the resistance of the gas's way, as compiled scalar functions.

Sources
-------
[1] EN 13384-1, Chimneys, thermal and fluid dynamic calculation methods, chimneys serving one heating
    appliance (equations from memory): P_H = H g (rho_air - rho_gas); mean gas temperature by exponential
    cooling; P_R = (psi L / D + sum of zeta) rho w^2 / 2.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import density as air_density
from simulator.physics.flue_gas_kernels import gas_density, gas_film, heat_capacity, transport_property
from simulator.physics.internal_flow_kernels import friction_factor

GRAVITY = 9.80665
"""Standard gravity [m/s2]."""
LEAST_REYNOLDS = 1e-6
"""Reynolds number under which friction no longer grows [-]."""


@kernel
def buoyancy(
    height: float, outside_temperature: float, gas_temperature: float, pressure: float, molar_mass: float
) -> float:
    """Pressure [Pa] with which a column of gas pulls, from its height [m] and mean temperature [K] [1].

    `outside_temperature` [K], air `pressure` [Pa] and `molar_mass` [kg/mol] of the gas. Below 0 when the gas
    is the heavier one: it then runs back.
    """
    light = gas_density(gas_temperature, pressure, molar_mass)
    return GRAVITY * height * (air_density(outside_temperature, pressure) - light)


@kernel
def flow_resistance(
    mass_flow: float,
    temperature: float,
    pressure: float,
    molar_mass: float,
    dynamic_viscosity: float,
    length: float,
    diameter: float,
    relative_roughness: float,
    loss: float,
) -> float:
    """Pressure [Pa] that gas of a mean temperature [K] loses in a round pipe and its fittings [1].

    `mass_flow` [kg/s], `length` and `diameter` [m], `loss` the sum of the loss coefficients [-].
    """
    area = 0.25 * math.pi * diameter * diameter
    velocity = mass_flow / (area * gas_density(temperature, pressure, molar_mass))
    # Towards no flow friction grows as 1/Re while the pressure goes to 0: hold their product finite.
    reynolds = max(4.0 * abs(mass_flow) / (math.pi * diameter * dynamic_viscosity), LEAST_REYNOLDS)
    share = friction_factor(reynolds, relative_roughness) * length / diameter + loss
    return share * 0.5 * gas_density(temperature, pressure, molar_mass) * velocity * abs(velocity)


@kernel
def cooling_ratio(transfer: float) -> float:
    """Mean excess temperature along a pipe over that at its entry [-]: (1 - e^-K) / K, K = `transfer`."""
    if transfer < 1e-6:
        return 1.0 - 0.5 * transfer
    return -math.expm1(-transfer) / transfer


@kernel
def stack_state(
    mass_flow: float,
    entry_temperature: float,
    outside_temperature: float,
    pressure: float,
    height: float,
    length: float,
    diameter: float,
    relative_roughness: float,
    loss: float,
    heat_loss: float,
    molar_mass: float,
    low: np.ndarray,
    high: np.ndarray,
    viscosity_fit: np.ndarray,
    conductivity_fit: np.ndarray,
    found: np.ndarray,
) -> None:
    """Fill `found` (5,): pull [Pa], resistance [Pa], mean gas, top gas and top inner wall temperature [K].

    A stack of `height` [m] and wetted `length` [m] with gas of `mass_flow` [kg/s] coming in at
    `entry_temperature` [K]. `heat_loss` [W/(m2.K)] leads from the gas to the outside air, on the inside area,
    and counts as given also where the film by convection alone is less.
    Steady: what the stack itself stores is left out, so a cold stack pulls less than this says.
    """
    mean = outside_temperature
    top = outside_temperature
    wall = outside_temperature
    if mass_flow > 0.0 and length > 0.0:
        mean = entry_temperature
        excess = entry_temperature - outside_temperature
        # Properties follow the mean gas temperature; four rounds settle it to far below a hundredth of a K.
        for _ in range(4):
            film = gas_film(
                mass_flow, mean, diameter, 0.0, length, low, high, viscosity_fit, conductivity_fit
            )
            flow = mass_flow * heat_capacity(mean, low, high)
            transfer = heat_loss * math.pi * diameter * length / flow
            mean = outside_temperature + excess * cooling_ratio(transfer)
            top = outside_temperature + excess * math.exp(-transfer)
            wall = top - min(heat_loss / film, 1.0) * (top - outside_temperature)
    found[0] = buoyancy(height, outside_temperature, mean, pressure, molar_mass)
    found[1] = flow_resistance(
        mass_flow, mean, pressure, molar_mass, transport_property(mean, viscosity_fit), length, diameter,
        relative_roughness, loss,
    )  # fmt: skip
    found[2] = mean
    found[3] = top
    found[4] = wall
