"""Free convection of air over an upright surface, as compiled scalar functions.

Sources
-------
[1] S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1323-1329: upright plate, any
    Rayleigh number.
[2] S. W. Churchill, AIChE Journal 23 (1977) 10-16: forced and free convection blended as the cube root of the
    sum of cubes.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import conductivity, density, heat_capacity, viscosity, within_fit

GRAVITY = 9.80665
"""Standard gravity [m/s2]."""
STIR = 0.5
"""Difference [K] that stands for the room's own stir where surface and air hardly differ: ours, no source. It
also keeps the film's slope over temperature finite."""


@kernel
def upright_nusselt(rayleigh: float, prandtl: float) -> float:
    """Mean Nusselt number [-] of an upright plate on its height [1]."""
    shape = math.pow(1.0 + math.pow(0.492 / prandtl, 9.0 / 16.0), 8.0 / 27.0)
    root: float = 0.825 + 0.387 * np.cbrt(math.sqrt(rayleigh)) / shape
    return root * root


@kernel
def upright_film(surface: float, air: float, height: float, pressure: float) -> float:
    """Film coefficient [W/(m2.K)] of free convection over an upright surface [1].

    Temperatures of surface and air [K], `height` [m], `pressure` [Pa]; air properties at the mean. The
    difference counts as the root of its square plus that of `STIR`.
    """
    t = within_fit(0.5 * (surface + air))
    mu, k = viscosity(t), conductivity(t)
    prandtl = mu * heat_capacity(t) / k
    kinematic = mu / density(t, pressure)
    difference = surface - air
    drive = GRAVITY / t * math.sqrt(difference * difference + STIR * STIR)
    rayleigh = drive * height * height * height * prandtl / (kinematic * kinematic)
    return upright_nusselt(rayleigh, prandtl) * k / height


@kernel
def blended(forced: float, free: float) -> float:
    """Film coefficient [W/(m2.K)] where a fan and buoyancy both move the air [2]."""
    value: float = np.cbrt(forced * forced * forced + free * free * free)
    return value
