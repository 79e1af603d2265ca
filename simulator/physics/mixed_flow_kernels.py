"""Forced and free convection together in a lying round pipe, as compiled scalar functions.

Slow gas that is much hotter or colder than its pipe sinks along the wall and rises in the middle, or the
other way round; these two whirls carry more heat than the flow along the pipe does.

Sources
-------
[1] T. W. Jackson, J. M. Spurlock and K. R. Purdy, AIChE Journal 7 (1961) 38-41, air in a lying pipe of one
    temperature: Nu = 2.67 (Gz^2 + 0.0087^2 (Gr Pr)^1.5)^(1/6) (from memory). Where free convection rules this
    is 2.67 x 0.0087^(1/3) = 0.549 times (Gr Pr)^(1/4), on the pipe's diameter and bulk less wall temperature.
[2] F. P. Incropera and others, Fundamentals of Heat and Mass Transfer, section on combined free and forced
    convection: Nu^n = Nu_forced^n + Nu_free^n, n = 4 for flow across lying cylinders (from memory).
[3] Y. Mori and others, Int. J. Heat Mass Transfer 9 (1966) 453-463, air in a lying pipe heated evenly:
    Nu = 0.61 (Re Ra)^(1/5) + 1.098 (from memory); a fifth less than [1] where free convection rules.
    Not used: laminar flow solved numerically lies with [1] (`tests/published/test_flue_film.py`).
"""

from __future__ import annotations

import math

from simulator.kernel import kernel
from simulator.physics.free_convection_kernels import GRAVITY

FREE_FACTOR = 0.549
"""Nusselt number over the fourth root of the Rayleigh number [1]."""


@kernel
def rayleigh_number(
    difference: float, diameter: float, mean_temperature: float, kinematic_viscosity: float, prandtl: float
) -> float:
    """Rayleigh number [-] of an ideal gas on the pipe's diameter.

    g |difference| D^3 Pr / (T nu^2): `difference` [K] between gas and wall, `diameter` [m], mean of gas and
    wall [K], `kinematic_viscosity` [m2/s].
    """
    drive = GRAVITY * abs(difference) / mean_temperature
    return drive * diameter * diameter * diameter * prandtl / (kinematic_viscosity * kinematic_viscosity)


@kernel
def free_nusselt(rayleigh: float) -> float:
    """Local Nusselt number [-] of free convection across a lying pipe [1]; 0 without a difference."""
    return FREE_FACTOR * math.sqrt(math.sqrt(rayleigh))


@kernel
def blended_across(forced: float, free: float) -> float:
    """Fourth root of the sum of fourth powers [2] of two films [W/(m2.K)] or two Nusselt numbers.

    The fourth power of the free one rises in proportion to the difference, so the film bends nowhere.
    """
    square_of_forced, square_of_free = forced * forced, free * free
    return math.sqrt(math.sqrt(square_of_forced * square_of_forced + square_of_free * square_of_free))
