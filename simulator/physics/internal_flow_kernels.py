"""Friction and heat transfer of air in a round duct as compiled scalar functions.

Sources
-------
[1] V. Gnielinski, On heat transfer in tubes, Int. J. Heat Mass Transfer 63 (2013) 134-140: laminar flow with
    developing velocity and temperature, turbulent flow, and the straight line between them.
[2] VDI Heat Atlas, 2nd ed. (2010), section G1: the same equations, Konakov friction.
[3] C. F. Colebrook, J. Institution of Civil Engineers 11 (1939) 133-156.
[4] S. E. Haaland, J. Fluids Engineering 105 (1983) 89-90: starting value for [3].
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import conductivity, heat_capacity, viscosity

LAMINAR_END = 2300.0
"""Reynolds number up to which the flow is taken as laminar [-]."""
TURBULENT_START = 4000.0
"""Reynolds number from which the flow is taken as fully turbulent [-]."""
LAMINAR_NUSSELT = 3.66
"""Fully developed laminar Nusselt number at constant wall temperature [-]."""


@kernel
def smooth_turbulent_friction(reynolds: float) -> float:
    """Darcy friction factor [-] of a smooth pipe in turbulent flow, Konakov: (1.8 lg Re - 1.5)^-2 [2]."""
    root = 1.8 / math.log(10.0) * math.log(reynolds) - 1.5
    return 1.0 / (root * root)


@kernel
def rough_turbulent_friction(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor [-] in turbulent flow by the Colebrook equation [3]; roughness 0 is smooth.

    Newton steps on s = 1/sqrt(f), started from [4]: two suffice for ten digits, the third is a reserve.
    """
    per_decade = 2.0 / math.log(10.0)
    s = -0.9 * per_decade * math.log((relative_roughness / 3.7) ** 1.11 + 6.9 / reynolds)
    slope = 2.51 / reynolds
    for _ in range(3):
        argument = relative_roughness / 3.7 + slope * s
        s -= (s + per_decade * math.log(argument)) / (1.0 + per_decade * slope / argument)
    return 1.0 / (s * s)


@kernel
def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor [-] at any Reynolds number: 64/Re, Colebrook, and a straight line between.

    The line runs from Re 2300 to 4000, the same interval as for heat transfer [1]. Infinite at Re = 0.
    """
    if reynolds <= LAMINAR_END:
        return 64.0 / reynolds if reynolds > 0.0 else math.inf
    if reynolds >= TURBULENT_START:
        return rough_turbulent_friction(reynolds, relative_roughness)
    share = (reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)
    turbulent = rough_turbulent_friction(TURBULENT_START, relative_roughness)
    return (1.0 - share) * 64.0 / LAMINAR_END + share * turbulent


@kernel
def turbulent_nusselt(reynolds: float, prandtl: float) -> float:
    """Fully developed turbulent Nusselt number [-], Gnielinski with Konakov friction [1, 2]."""
    eighth = smooth_turbulent_friction(reynolds) / 8.0
    root: float = np.cbrt(prandtl)
    return eighth * (reynolds - 1000.0) * prandtl / (1.0 + 12.7 * math.sqrt(eighth) * (root * root - 1.0))


@kernel
def laminar_moment(distance: float, graetz_length: float, prandtl: float) -> float:
    """Mean laminar Nusselt number from the entrance to `distance` [m], times `distance` [m].

    Constant wall temperature, velocity and temperature developing together [1]:
    Nu^3 = 3.66^3 + 0.7^3 + (1.615 u^(1/3) - 0.7)^3 + (2 / (1 + 22 Pr))^(1/2) u^(3/2), u = Re Pr D / distance;
    `graetz_length` [m] is Re Pr D.
    """
    if distance <= 0.0:
        return 0.0
    graetz = graetz_length / distance
    thermal = 1.615 * np.cbrt(graetz) - 0.7
    cube = (
        LAMINAR_NUSSELT**3
        + 0.343
        + thermal * thermal * thermal
        + math.sqrt(2.0 / (1.0 + 22.0 * prandtl)) * graetz * math.sqrt(graetz)
    )
    root: float = np.cbrt(cube)
    return distance * root


@kernel
def laminar_nusselt_over(reynolds: float, prandtl: float, diameter: float, begin: float, end: float) -> float:
    """Mean laminar Nusselt number [-] between two distances from the entrance [m], never under 3.66.

    The correlation for the mean implies local values a little under 3.66 far down the duct; holding them up
    raises the sum over many pieces by about 1.5 % at most.
    """
    graetz_length = reynolds * prandtl * diameter
    moment = laminar_moment(end, graetz_length, prandtl) - laminar_moment(begin, graetz_length, prandtl)
    return max(moment / (end - begin), LAMINAR_NUSSELT)


@kernel
def turbulent_nusselt_over(
    reynolds: float, prandtl: float, diameter: float, begin: float, end: float
) -> float:
    """Mean turbulent Nusselt number [-] between two distances from the entrance [m].

    The mean from the entrance to x carries the factor 1 + (D/x)^(2/3) [1]; x times that is x + (D^2 x)^(1/3).
    """
    square = diameter * diameter
    entrance: float = (np.cbrt(square * end) - np.cbrt(square * begin)) / (end - begin)
    return turbulent_nusselt(reynolds, prandtl) * (1.0 + entrance)


@kernel
def local_nusselt_over(reynolds: float, prandtl: float, diameter: float, begin: float, end: float) -> float:
    """Mean Nusselt number [-] between two distances from the entrance [m], at any Reynolds number.

    Laminar to Re 2300, turbulent from 4000, and the straight line between these two ends [1].
    Needs 0 <= begin < end.
    """
    if reynolds <= LAMINAR_END:
        return laminar_nusselt_over(reynolds, prandtl, diameter, begin, end)
    if reynolds >= TURBULENT_START:
        return turbulent_nusselt_over(reynolds, prandtl, diameter, begin, end)
    share = (reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)
    laminar = laminar_nusselt_over(LAMINAR_END, prandtl, diameter, begin, end)
    turbulent = turbulent_nusselt_over(TURBULENT_START, prandtl, diameter, begin, end)
    return (1.0 - share) * laminar + share * turbulent


@kernel
def reynolds_number(mass_flow: float, temperature: float, diameter: float) -> float:
    """Reynolds number [-] from mass flow [kg/s] of either sign, air temperature [K] and diameter [m]."""
    return 4.0 * abs(mass_flow) / (math.pi * diameter * viscosity(temperature))


@kernel
def film_coefficient(
    mass_flow: float, temperature: float, diameter: float, begin: float, end: float
) -> float:
    """Film coefficient [W/(m2.K)] of air in one smooth duct, mean over a piece of it.

    `mass_flow` [kg/s] of one duct, bulk `temperature` [K], inside `diameter` [m]; the piece lies between
    `begin` and `end` [m] from the entrance, 0 <= begin < end. Gnielinski's correction for air hotter or
    colder than the wall, (T_air/T_wall)^0.45 in turbulent flow, is left out: about 3 % at 20 K difference.
    """
    mu = viscosity(temperature)
    k = conductivity(temperature)
    reynolds = 4.0 * abs(mass_flow) / (math.pi * diameter * mu)
    prandtl = mu * heat_capacity(temperature) / k
    return local_nusselt_over(reynolds, prandtl, diameter, begin, end) * k / diameter
