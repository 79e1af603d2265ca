"""Air under the hood, between the hot shell and the hood's wall, as compiled functions.

The stream takes no time to pass. Along its way both walls stand at one temperature each, so it nears their
mean, weighted by film and area, exponentially; what shell and wall give to it is exact for that course.
Films: the annulus with entry (`annulus_kernels`), blended with free convection [1, 2 of
`free_convection_kernels`] over an upright surface towards the mean air temperature; without a fan only the
latter is left, and the air passes heat from the shell to the hood's wall.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import conductivity, heat_capacity, viscosity, within_fit
from simulator.physics.annulus_kernels import nusselt_over
from simulator.physics.free_convection_kernels import blended, upright_film
from simulator.plant.layout_kernels import PlantFixed

MEAN_AIR, AIR_IN, AIR_OUT, FROM_SHELL, FROM_WALL = range(5)
"""Places in the result of `hood_air`."""
MOST_ROUNDS = 60
CLOSE = 1e-7
"""Gap [K] between the mean air of the films and that which follows from them."""


@kernel
def forced_film(
    mass_flow: float, air: float, hydraulic: float, section: float, length: float, ratio: float, inner: bool
) -> float:
    """Film [W/(m2.K)] of the fan's air on shell (`inner`) or hood wall.

    From flow [kg/s] and temperature [K] of the air, and hydraulic diameter [m], free area [m2], length [m]
    and `ratio` of inner to outer diameter of its way.
    """
    if mass_flow <= 0.0:
        return 0.0
    t = within_fit(air)
    mu, k = viscosity(t), conductivity(t)
    reynolds = mass_flow * hydraulic / (section * mu)
    prandtl = mu * heat_capacity(t) / k
    return nusselt_over(reynolds, prandtl, ratio, hydraulic, 0.0, length, inner) * k / hydraulic


@kernel
def hood_air(
    fixed: PlantFixed,
    shell: float,
    wall: float,
    capacity: float,
    mass_flow: float,
    constant: float,
    slope: float,
    drop: float,
    pressure: float,
    found: np.ndarray,
) -> None:
    """Find the air under the hood and what shell and wall give to it.

    Parameters
    ----------
    fixed : PlantFixed
    shell, wall : float [K]
    capacity : float [W/K]
        Capacity flow under the hood; above 0.
    mass_flow : float [kg/s]
        Of the fan's air under the hood, for the films.
    constant, slope, drop : float
        Air entering = `constant` + `slope` times air leaving, `drop` = 1 - slope: air that comes round.
    pressure : float [Pa]
    found : (5,) float
        Filled; on entry MEAN_AIR is the guess.
    """
    pinned = not math.isnan(fixed.film)
    hydraulic, section = fixed.hydraulic_diameter, fixed.cross_section
    length, ratio = fixed.way_length, fixed.radius_ratio
    mean = found[MEAN_AIR]
    last, last_gap = 0.0, 0.0
    for number in range(MOST_ROUNDS):
        if pinned:
            on_shell = fixed.film
            on_wall = fixed.film
        else:
            on_shell = blended(
                forced_film(mass_flow, mean, hydraulic, section, length, ratio, True),
                upright_film(shell, mean, fixed.shell_height, pressure),
            )
            on_wall = blended(
                forced_film(mass_flow, mean, hydraulic, section, length, ratio, False),
                upright_film(wall, mean, fixed.wall_height, pressure),
            )
        from_shell = on_shell * fixed.hooded_area
        from_wall = on_wall * fixed.wall_area
        total = from_shell + from_wall
        target = (from_shell * shell + from_wall * wall) / total
        units = total / capacity
        taken = -math.expm1(-units)
        left = 1.0 - taken
        leaving = (target * taken + left * constant) / (taken + left * drop)
        entering = constant + slope * leaving
        course = target - (target - entering) * taken / units
        found[MEAN_AIR], found[AIR_IN], found[AIR_OUT] = course, entering, leaving
        found[FROM_SHELL] = from_shell * (shell - course)
        found[FROM_WALL] = from_wall * (wall - course)
        gap = course - mean
        if pinned or abs(gap) < CLOSE:
            break
        # Secant on the gap between the mean that the films were taken at and the mean that follows.
        change = gap
        if number > 0 and gap != last_gap:
            change = -gap * (mean - last) / (gap - last_gap)
            if abs(change) > 2.0 * abs(gap) or change * gap < 0.0:
                change = 0.5 * gap
        last, last_gap = mean, gap
        mean += change
