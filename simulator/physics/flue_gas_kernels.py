"""Properties of combustion gas and its film, as compiled scalar functions.

A mixture is told by polynomials that `flue_gas` makes once for it: `low` and `high` (5,), specific heat
[J/(kg.K)] in rising powers of the temperature in K below and above 1000 K; `viscosity_fit` [Pa.s] and
`conductivity_fit` [W/(m.K)] (5,) in rising powers of T / 500 K.

Sources
-------
[1] T. H. Chilton and A. P. Colburn, Industrial and Engineering Chemistry 26 (1934) 1183-1187.
[2] R. B. Bird, W. E. Stewart and E. N. Lightfoot, Transport Phenomena: vapour flow through a film of gas that
    does not condense (Stefan flow), logarithm of the ratio of gas pressures.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.internal_flow_kernels import local_nusselt_over
from simulator.physics.moist_air_kernels import saturation_pressure, vapour_diffusivity

MOLAR_GAS_CONSTANT = 8.314462618
"""[J/(mol.K)], CODATA 2018."""
WATER_MOLAR_MASS = 0.01801528
"""[kg/mol]."""
RANGE_CHANGE = 1000.0
"""Where the specific heat changes polynomial [K]."""
LOWEST_FIT, HIGHEST_FIT = 250.0, 1500.0
"""Range of viscosity and conductivity [K]; the value at its end is taken outside."""
HIGHEST_SHARE = 0.95
"""Share of vapour [-] at which a wall is taken as boiling dry rather than wet."""


@kernel
def polynomial(x: float, coefficients: np.ndarray) -> float:
    """Value of a polynomial with coefficients in rising powers."""
    value = 0.0
    for power in range(coefficients.size - 1, -1, -1):
        value = value * x + coefficients[power]
    return value


@kernel
def heat_capacity(temperature: float, low: np.ndarray, high: np.ndarray) -> float:
    """Specific heat at constant pressure [J/(kg.K)] of the mixture at a temperature [K]."""
    return polynomial(temperature, low if temperature <= RANGE_CHANGE else high)


@kernel
def heat_from(reference: float, temperature: float, low: np.ndarray, high: np.ndarray) -> float:
    """Sensible heat [J/kg] between two temperatures [K]: the integral of `heat_capacity`, exact."""
    total = 0.0
    for end in range(2):
        t = temperature if end == 0 else reference
        split = min(t, RANGE_CHANGE)
        value = 0.0
        past = 0.0
        for power in range(low.size):
            value += low[power] * split ** (power + 1) / (power + 1)
            if t > RANGE_CHANGE:
                past += high[power] * (t ** (power + 1) - RANGE_CHANGE ** (power + 1)) / (power + 1)
        total += (value + past) if end == 0 else -(value + past)
    return total


@kernel
def transport_property(temperature: float, fit: np.ndarray) -> float:
    """Viscosity [Pa.s] or conductivity [W/(m.K)] at a temperature [K] from its polynomial."""
    return polynomial(min(max(temperature, LOWEST_FIT), HIGHEST_FIT) / 500.0, fit)


@kernel
def gas_density(temperature: float, pressure: float, molar_mass: float) -> float:
    """Density [kg/m3] of an ideal gas from temperature [K], pressure [Pa] and molar mass [kg/mol]."""
    return pressure * molar_mass / (MOLAR_GAS_CONSTANT * temperature)


@kernel
def gas_film(
    mass_flow: float,
    temperature: float,
    diameter: float,
    begin: float,
    end: float,
    low: np.ndarray,
    high: np.ndarray,
    viscosity_fit: np.ndarray,
    conductivity_fit: np.ndarray,
) -> float:
    """Film coefficient [W/(m2.K)] of combustion gas in a round pipe, mean over a piece of it.

    Forced convection alone, by the same equations as for air. In a lying pipe free convection and radiation
    come on top (`flue_film_kernels`). In a stack both are left out, as is usual for chimneys: its wall is
    then told a little too cold rather than too warm.
    """
    mu = transport_property(temperature, viscosity_fit)
    k = transport_property(temperature, conductivity_fit)
    reynolds = 4.0 * abs(mass_flow) / (math.pi * diameter * mu)
    prandtl = mu * heat_capacity(temperature, low, high) / k
    return local_nusselt_over(reynolds, prandtl, diameter, begin, end) * k / diameter


@kernel
def vapour_flux_to_wall(
    film: float,
    gas_temperature: float,
    wall_temperature: float,
    vapour_share: float,
    pressure: float,
    molar_mass: float,
    capacity: float,
    gas_conductivity: float,
) -> float:
    """Water moved from the gas to a wet wall [kg/(m2.s)]; below 0 it dries off.

    film / (molar heat capacity Le^(2/3)) [1] times ln((1 - wall share) / (1 - gas share)) [2], shares of
    vapour by mole. `film` [W/(m2.K)], temperatures [K], total pressure [Pa], molar mass [kg/mol], specific
    heat [J/(kg.K)] and conductivity [W/(m.K)] of the gas. Diffusion as in air.
    """
    at_wall = min(saturation_pressure(wall_temperature) / pressure, HIGHEST_SHARE)
    in_gas = min(vapour_share, HIGHEST_SHARE)
    mean = 0.5 * (gas_temperature + wall_temperature)
    thermal = gas_conductivity / (gas_density(mean, pressure, molar_mass) * capacity)
    lewis: float = np.cbrt(thermal / vapour_diffusivity(mean, pressure))
    moles = film / (molar_mass * capacity * lewis * lewis)
    return moles * WATER_MOLAR_MASS * math.log((1.0 - at_wall) / (1.0 - in_gas))
