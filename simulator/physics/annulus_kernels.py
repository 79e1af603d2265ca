"""Friction and heat transfer of air between two concentric pipes, as compiled scalar functions.

Lengths are told by the hydraulic diameter, the outer less the inner diameter, and the shape by
`ratio` = inner over outer diameter. Each wall has its own film, that of an annulus in which the other wall
gives no heat, towards the bulk temperature; so both walls may stand at temperatures of their own.

Sources
-------
[1] W. M. Kays and M. E. Crawford, Convective Heat and Mass Transfer: developed laminar flow, one wall at
    constant temperature, the other insulated (ratio 0.05, 0.1, 0.25, 0.5, 1 from memory; the values between
    solve the same eigenvalue problem).
[2] VDI Heat Atlas, 2nd ed. (2010), section G2: entry terms, from memory.
[3] B. S. Petukhov and L. I. Roizen, High Temperature 2 (1964) 65-68: factors on the turbulent Nusselt number
    of the pipe, 0.86 ratio^-0.16 inside and 1 - 0.14 ratio^0.6 outside (from memory).
[4] O. C. Jones and J. C. M. Leung, J. Fluids Engineering 103 (1981) 615-623: the Reynolds number at which the
    laminar friction of the annulus is 64/Re also serves its turbulent friction.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.internal_flow_kernels import (
    LAMINAR_END,
    TURBULENT_START,
    friction_factor,
    turbulent_nusselt,
)

SMALLEST_RATIO, LARGEST_RATIO = 0.02, 1.0
"""Range of inner over outer diameter [-]; the value at its end is taken outside."""
RATIOS = np.array([0.02, 0.035, 0.05, 0.07, 0.1, 0.15, 0.25, 0.4, 0.5, 0.6, 0.75, 0.9, 1.0])
INNER_NUSSELT = np.array(
    [32.297, 22.000, 17.459, 14.197, 11.559, 9.3306, 7.3707, 6.1626, 5.7381, 5.4490, 5.1557, 4.9590, 4.8608]
)
OUTER_NUSSELT = np.array(
    [3.9934, 4.0307, 4.0565, 4.0826, 4.1135, 4.1559, 4.2321, 4.3482, 4.4293, 4.5129, 4.6415, 4.7726, 4.8608]
)


@kernel
def developed_laminar_nusselt(ratio: float, inner: bool) -> float:
    """Developed laminar Nusselt number [-] of the inner or outer wall, on the hydraulic diameter [1]."""
    shape = min(max(ratio, SMALLEST_RATIO), LARGEST_RATIO)
    table = INNER_NUSSELT if inner else OUTER_NUSSELT
    piece = 0
    while piece < RATIOS.size - 2 and shape > RATIOS[piece + 1]:
        piece += 1
    share = math.log(shape / RATIOS[piece]) / math.log(RATIOS[piece + 1] / RATIOS[piece])
    nusselt: float = math.exp((1.0 - share) * math.log(table[piece]) + share * math.log(table[piece + 1]))
    return nusselt


@kernel
def laminar_moment(distance: float, graetz_length: float, prandtl: float, ratio: float, inner: bool) -> float:
    """Mean laminar Nusselt number from the entrance to `distance` [m], times `distance` [m] [2].

    Cube root of the sum of cubes of the developed value, 1.615 (1 + 0.14 s) u^(1/3) and
    (2 / (1 + 22 Pr))^(1/6) u^(1/2), with u = Re Pr D_h / distance and s = ratio^(-1/2) inside, ratio^(1/3)
    outside; `graetz_length` [m] is Re Pr D_h.
    """
    if distance <= 0.0:
        return 0.0
    shape = min(max(ratio, SMALLEST_RATIO), LARGEST_RATIO)
    graetz = graetz_length / distance
    developed = developed_laminar_nusselt(shape, inner)
    entry = 1.615 * (1.0 + 0.14 * (shape**-0.5 if inner else shape ** (1.0 / 3.0)))
    cube = (
        developed * developed * developed
        + entry * entry * entry * graetz
        + math.sqrt(2.0 / (1.0 + 22.0 * prandtl)) * graetz * math.sqrt(graetz)
    )
    root: float = np.cbrt(cube)
    return distance * root


@kernel
def laminar_nusselt_over(
    reynolds: float, prandtl: float, ratio: float, hydraulic: float, begin: float, end: float, inner: bool
) -> float:
    """Mean laminar Nusselt number [-] between two distances from the entrance [m], at least the developed."""
    graetz_length = reynolds * prandtl * hydraulic
    moment = laminar_moment(end, graetz_length, prandtl, ratio, inner)
    moment -= laminar_moment(begin, graetz_length, prandtl, ratio, inner)
    return max(moment / (end - begin), developed_laminar_nusselt(ratio, inner))


@kernel
def turbulent_nusselt_over(
    reynolds: float, prandtl: float, ratio: float, hydraulic: float, begin: float, end: float, inner: bool
) -> float:
    """Mean turbulent Nusselt number [-] between two distances from the entrance [m]; pipe by factor [3]."""
    shape = min(max(ratio, SMALLEST_RATIO), LARGEST_RATIO)
    factor = 0.86 * shape**-0.16 if inner else 1.0 - 0.14 * shape**0.6
    square = hydraulic * hydraulic
    entrance = (np.cbrt(square * end) - np.cbrt(square * begin)) / (end - begin)
    nusselt: float = factor * turbulent_nusselt(reynolds, prandtl) * (1.0 + entrance)
    return nusselt


@kernel
def nusselt_over(
    reynolds: float, prandtl: float, ratio: float, hydraulic: float, begin: float, end: float, inner: bool
) -> float:
    """Mean Nusselt number [-] of one wall between two distances from the entrance [m].

    Laminar to Re 2300, turbulent from 4000, the straight line between, as in the pipe.
    Needs 0 <= begin < end.
    """
    if reynolds <= LAMINAR_END:
        return laminar_nusselt_over(reynolds, prandtl, ratio, hydraulic, begin, end, inner)
    if reynolds >= TURBULENT_START:
        return turbulent_nusselt_over(reynolds, prandtl, ratio, hydraulic, begin, end, inner)
    share = (reynolds - LAMINAR_END) / (TURBULENT_START - LAMINAR_END)
    laminar = laminar_nusselt_over(LAMINAR_END, prandtl, ratio, hydraulic, begin, end, inner)
    turbulent = turbulent_nusselt_over(TURBULENT_START, prandtl, ratio, hydraulic, begin, end, inner)
    return (1.0 - share) * laminar + share * turbulent


@kernel
def laminar_shape(ratio: float) -> float:
    """Laminar friction of the annulus over 64/Re [-], exact: from 1 (no inner pipe) to 1.5 (narrow gap)."""
    shape = max(ratio, 1e-9)
    # Near 1 the closed form loses its digits; the series 3/2 - (1 - ratio)^2/40 has taken over by then.
    gap = 1.0 - shape
    if gap < 1e-3:
        return 1.5 - gap * gap / 40.0
    square = shape * shape
    return gap * gap / (1.0 + square + (1.0 - square) / math.log(shape))


@kernel
def annulus_friction(reynolds: float, relative_roughness: float, ratio: float) -> float:
    """Darcy friction factor [-] on the hydraulic diameter, at any Reynolds number [4]."""
    return friction_factor(reynolds / laminar_shape(ratio), relative_roughness)


@kernel
def annulus_reynolds(mass_flow: float, dynamic_viscosity: float, inner: float, outer: float) -> float:
    """Reynolds number [-] on the hydraulic diameter from mass flow [kg/s] and the two diameters [m].

    4 m / (pi mu (outer + inner)); `inner` is the outside diameter of the inner pipe.
    """
    return 4.0 * abs(mass_flow) / (math.pi * dynamic_viscosity * (outer + inner))
