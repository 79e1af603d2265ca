"""Water settling on a duct's wall and drying off it, segment by segment.

The humidity of the air relaxes towards saturation at the wall with the Lewis relation's coefficient, as its
temperature does towards the wall's. Latent heat is set free at the inside of the pipe, so it passes pipe and
contact gap on its way to the ground, and warms the surface it settles on: both are solved together.
"""

from __future__ import annotations

import math

from simulator.kernel import kernel
from simulator.physics.moist_air_kernels import (
    VAPORISATION_HEAT,
    VAPOUR_HEAT_CAPACITY,
    WATER_HEAT_CAPACITY,
    ZERO_CELSIUS,
    mass_transfer_coefficient,
    saturation_ratio,
    saturation_ratio_slope,
)

MOST_TRIES = 60
SAME_TEMPERATURE = 1e-12
"""Change of the surface temperature [K] at which it is settled."""


@kernel
def heat_of_settling(air: float, surface: float) -> float:
    """Heat [J/kg] set free by vapour of the air's temperature [K] that turns to water at the surface's.

    Vapour and water as in the enthalpy of moist air, so that the march keeps it exactly. Below 0 degC the
    water is taken as liquid: frost would free 13 % more.
    """
    vapour = VAPORISATION_HEAT + VAPOUR_HEAT_CAPACITY * (air - ZERO_CELSIUS)
    return vapour - WATER_HEAT_CAPACITY * (surface - ZERO_CELSIUS)


@kernel
def heat_share(capacity_flow: float, conductance: float, length: float, ground: float) -> float:
    """Heat flow per length and kelvin [W/(m.K)] from air to ground that yields by `ground` [K.m/W]."""
    exchange = -math.expm1(-conductance * length / capacity_flow) * capacity_flow / length
    return exchange / (1.0 + exchange * ground)


@kernel
def wet_segment(
    air: float,
    ratio: float,
    rest: float,
    ground: float,
    pipe: float,
    conductance: float,
    film: float,
    diameter: float,
    length: float,
    mass_flow: float,
    air_capacity: float,
    most_drying: float,
    pressure: float,
) -> tuple[float, float, float, float, float, float]:
    """Heat and water between the air and the wall of one segment.

    Parameters
    ----------
    air [K], ratio [kg/kg] : float
        Air entering the segment.
    rest : float [K]
        Ground at the pipe without any heat from this segment.
    ground, pipe : float [K.m/W]
        By how much the ground at the pipe warms with the heat it gets; pipe wall and contact gap.
    conductance : float [W/(m.K)]
        From air through film and pipe.
    film [W/(m2.K)], diameter [m], length [m] : float
    mass_flow : float [kg/s]
        Of dry air in one duct, above 0.
    air_capacity : float [J/(kg.K)]
        Of dry air.
    most_drying : float [kg/(m.s)]
        What can dry off with the water that is there.
    pressure : float [Pa]

    Returns
    -------
    tuple of float
        Water settling [kg/(m.s)] (below 0 it dries), latent heat [W/m] and its slope over the surface
        temperature [W/(m.K)], capacity flow of the air [W/K], surface temperature [K], share of a change of
        the entering humidity that leaves the segment [1].
    """
    total = ground + pipe
    through_film = mass_transfer_coefficient(film, max(ratio, 0.0), air) * math.pi * diameter
    kept = math.exp(-through_film * length / mass_flow)
    exchanged = mass_flow * (1.0 - kept) / length
    capacity_flow = mass_flow * (air_capacity + ratio * VAPOUR_HEAT_CAPACITY)
    share = heat_share(capacity_flow, conductance, length, ground)
    surface = rest + total * share * (air - rest)
    settling = exchanged * (ratio - saturation_ratio(surface, pressure))
    if settling <= 0.0 and most_drying <= 0.0:
        return 0.0, 0.0, 0.0, capacity_flow, surface, 1.0
    low, high = -math.inf, math.inf
    latent = 0.0
    slope = 0.0
    limited = False
    for _ in range(MOST_TRIES):
        settling = exchanged * (ratio - saturation_ratio(surface, pressure))
        limited = settling < -most_drying
        settling = max(settling, -most_drying)
        heat = heat_of_settling(air, surface)
        capacity_flow = mass_flow * air_capacity
        capacity_flow += (mass_flow * ratio - settling * length) * VAPOUR_HEAT_CAPACITY
        share = heat_share(capacity_flow, conductance, length, ground)
        latent = settling * heat
        slope = -settling * WATER_HEAT_CAPACITY
        if not limited:
            slope -= exchanged * saturation_ratio_slope(surface, pressure) * heat
        lifting = total * (1.0 - share * total)
        miss = rest + total * share * (air - rest) + lifting * latent - surface
        if miss > 0.0:
            low = surface
        else:
            high = surface
        following = surface + miss / max(1.0 - lifting * slope, 1e-3)
        if abs(following - surface) <= SAME_TEMPERATURE:
            break
        # An end of the bracket has been tried before: at the edge of drying out steps may go to and fro.
        if not low < following < high:
            following = 0.5 * (low + high)
        if not math.isfinite(following) or following == surface:
            break
        surface = following
    return settling, latent, slope, capacity_flow, surface, 1.0 if limited else kept
