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
from numba import njit

from simulator.physics.air_kernels import conductivity, heat_capacity, viscosity, within_fit
from simulator.physics.annulus_kernels import nusselt_over
from simulator.physics.free_convection_kernels import blended, upright_film
from simulator.plant.layout_kernels import PlantFixed

MEAN_AIR, AIR_IN, AIR_OUT, SHELL_FILM, WALL_FILM, FROM_SHELL, FROM_WALL = range(7)
"""Places in the result of `hood_air`."""
MOST_ROUNDS = 40


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def forced_film(fixed: PlantFixed, mass_flow: float, air: float, inner: bool) -> float:
    """Film [W/(m2.K)] of the fan's air on shell (`inner`) or hood wall, from flow [kg/s] and air [K]."""
    if mass_flow <= 0.0:
        return 0.0
    t = within_fit(air)
    mu, k = viscosity(t), conductivity(t)
    hydraulic = fixed.hydraulic_diameter
    reynolds = mass_flow * hydraulic / (fixed.cross_section * mu)
    prandtl = mu * heat_capacity(t) / k
    nusselt = nusselt_over(
        reynolds, prandtl, fixed.radius_ratio, hydraulic, 0.0, fixed.way_length, inner
    )
    return nusselt * k / hydraulic


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
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
    found : (7,) float
        Filled; on entry MEAN_AIR is the guess.
    """
    pinned = not math.isnan(fixed.film)
    mean = found[MEAN_AIR]
    for _ in range(MOST_ROUNDS):
        if pinned:
            on_shell = fixed.film
            on_wall = fixed.film
        else:
            on_shell = blended(
                forced_film(fixed, mass_flow, mean, True),
                upright_film(shell, mean, fixed.shell_height, pressure),
            )
            on_wall = blended(
                forced_film(fixed, mass_flow, mean, False),
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
        before = mean
        mean = target - (target - entering) * taken / units
        found[MEAN_AIR], found[AIR_IN], found[AIR_OUT] = mean, entering, leaving
        found[SHELL_FILM], found[WALL_FILM] = on_shell, on_wall
        if pinned or abs(mean - before) < 1e-8:
            break
    found[FROM_SHELL] = found[SHELL_FILM] * fixed.hooded_area * (shell - mean)
    found[FROM_WALL] = found[WALL_FILM] * fixed.wall_area * (wall - mean)
