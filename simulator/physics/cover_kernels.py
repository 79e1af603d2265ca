"""Films, radiation and evaporation at the faces of a house, as compiled scalar functions.

Sources
-------
[1] G. N. Walton, NBSSIR 83-2655, National Bureau of Standards (1983): natural convection at tilted plates
from
    the turbulent relations of the ASHRAE Handbook; view of the sky split between the sky and the air near the
    ground (both from memory).
[2] ISO 6946:2017, annex C: convection outside, 4 + 4 v (from memory).
[3] J. L. Monteith, Symposia of the Society for Experimental Biology 19 (1965) 205-234: leaf with a resistance
of
    its pores and one of the air at it.
[4] C. Stanghellini, Transpiration of greenhouse crops, Wageningen (1987): resistance of the air at leaves
under
    glass, 100 to 300 s/m (from memory).
"""

from __future__ import annotations

import math

from simulator.kernel import kernel
from simulator.physics.air_kernels import GAS_CONSTANT, heat_capacity, within_fit
from simulator.physics.moist_air_kernels import (
    latent_heat,
    saturation_ratio,
    saturation_ratio_slope,
)

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m2.K4)], CODATA 2018."""
LEAST_DIFFERENCE = 0.05
"""Difference of temperature [K] under which a film no longer shrinks."""
LEAF_AIR_RESISTANCE = 150.0
"""Of the air at a leaf [s/m] [4]."""
LIGHT_FOR_OPEN_PORES = 50.0
"""Sun on the floor's area [W/m2] from which leaves have their day resistance (common practice, no source)."""


@kernel
def inside_film(air: float, face: float, cosine: float) -> float:
    """Film coefficient [W/(m2.K)] of still room air at the inside of a surface [1].

    `air` and `face` [K]; `cosine` of the tilt: 1 for a flat roof, whose inside looks down, 0 for a wall.
    Warm air under a cold roof stirs itself: 9.482 dT^(1/3) / (7.283 - |cos|); lying warm under a warm roof it
    does not: 1.810 dT^(1/3) / (1.382 + |cos|).
    """
    root = math.pow(max(abs(air - face), LEAST_DIFFERENCE), 1.0 / 3.0)
    if (air - face) * cosine > 0.0:
        return 9.482 * root / (7.283 - abs(cosine))
    return 1.810 * root / (1.382 + abs(cosine))


@kernel
def outside_film(wind: float) -> float:
    """Film coefficient [W/(m2.K)] of outside air at a wind [m/s], without radiation [2]."""
    return 4.0 + 4.0 * wind


@kernel
def radiative_film(one: float, other: float) -> float:
    """Coefficient [W/(m2.K)] that makes (one - other) the exchange of two black planes, exactly; both [K]."""
    return STEFAN_BOLTZMANN * (one * one + other * other) * (one + other)


@kernel
def leaf_conductance(temperature: float, pressure: float, resistance: float) -> float:
    """Vapour given off per leaf area and humidity deficit [kg/(m2.s)] by a leaf without sun of its own [3].

    rho / (r_s + r_a (1 + L s / c_p)): the leaf takes the heat of evaporation from the air, so it is colder
    than the air. Air at `temperature` [K] and `pressure` [Pa], r_s = `resistance` [s/m] of the pores.
    """
    kelvin = within_fit(temperature)
    density = pressure / (GAS_CONSTANT * kelvin)
    growth = latent_heat(kelvin) * saturation_ratio_slope(kelvin, pressure) / heat_capacity(kelvin)
    return density / (resistance + LEAF_AIR_RESISTANCE * (1.0 + growth))


@kernel
def leaf_ratio(temperature: float, pressure: float, sun: float) -> float:
    """Humidity ratio [kg/kg] that drives `leaf_conductance`, with `sun` [W/m2] taken up per leaf area [3].

    Saturation at the air's temperature, and the warming of the dry leaf by sun, sun r_a / (rho c_p), along
    the slope of saturation.
    """
    kelvin = within_fit(temperature)
    warmer = sun * LEAF_AIR_RESISTANCE * GAS_CONSTANT * kelvin / (pressure * heat_capacity(kelvin))
    return saturation_ratio(kelvin, pressure) + saturation_ratio_slope(kelvin, pressure) * warmer


@kernel
def pore_resistance(day: float, night: float, light: float) -> float:
    """Resistance [s/m] of the pores of leaves at `light` [W/m2]: conductance rises from night to day."""
    open_share = min(max(light / LIGHT_FOR_OPEN_PORES, 0.0), 1.0)
    return 1.0 / (open_share / day + (1.0 - open_share) / night)
