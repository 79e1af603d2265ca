"""Roughness and film of ribbed and rough pipe.

Every wall is told by one number, its relative roughness in the Colebrook equation, so that friction runs from
laminar to fully rough flow without a jump. Heat transfer of ribbed pipe is by default that of the smooth pipe
of the same nominal diameter, as measured for air in corrugated drain pipe of 10 and 15 cm (Sibley and
Raghavan, Canadian Agricultural Engineering 26 (1984) 177-180); the bound for rough walls is the upper end of
the spread.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.physics import pipe_surface_kernels as kernels

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

GRAVITY: Final = 9.80665
"""Standard gravity [m/s2]."""
RIBBED_MANNING: Final = 0.015
"""Manning's n of corrugated plastic drain pipe of 100 to 200 mm [s/m^(1/3)].

Land-drainage practice, value from memory; 0.018 to 0.025 stand in tables for coarser corrugation."""
SMOOTH_MANNING: Final = 0.009
"""Manning's n of smooth plastic pipe [s/m^(1/3)]; handbook value from memory."""


def manning_friction(manning: ArrayLike, diameter: ArrayLike) -> NDArray[np.float64]:
    """Darcy friction factor of fully rough flow in a full pipe from Manning's n: 8 g n^2 / (D/4)^(1/3).

    Follows from equating the Manning and the Darcy-Weisbach formula at the hydraulic radius D/4.

    Parameters
    ----------
    manning : (...) array_like [s/m^(1/3)]
    diameter : (...) array_like [m]

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For an argument not above 0.
    """
    n = _above_zero("manning", manning)
    bore = _above_zero("diameter", diameter)
    return np.asarray(8.0 * GRAVITY * n * n / np.cbrt(0.25 * bore))


def roughness_of_friction(friction: ArrayLike) -> NDArray[np.float64]:
    """Relative roughness at which the Colebrook equation ends at a fully rough friction factor.

    3.7 * 10^(-1 / (2 sqrt(f))), the equation at infinite Reynolds number. Over 0.05 or so it is a number
    that gives the right friction, no height of anything.

    Parameters
    ----------
    friction : (...) array_like [-]
        Darcy friction factor.

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For a friction factor not above 0.
    """
    factor = _above_zero("friction", friction)
    return np.asarray(3.7 * np.power(10.0, -0.5 / np.sqrt(factor)))


def roughness_of_manning(manning: ArrayLike, diameter: ArrayLike) -> NDArray[np.float64]:
    """Relative roughness of a pipe with Manning's n, see `manning_friction` and `roughness_of_friction`.

    Parameters
    ----------
    manning : (...) array_like [s/m^(1/3)]
    diameter : (...) array_like [m]

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For an argument not above 0.
    """
    return roughness_of_friction(manning_friction(manning, diameter))


def film_factor(
    reynolds: ArrayLike, prandtl: ArrayLike, relative_roughness: ArrayLike, enhancement: ArrayLike
) -> NDArray[np.float64]:
    """Factor on the film of the smooth pipe; sources in `pipe_surface_kernels`.

    Parameters
    ----------
    reynolds, prandtl, relative_roughness : (...) array_like [-]
    enhancement : (...) array_like [-]
        0: as the smooth pipe; 1: bound for rough walls.

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For an enhancement outside 0 to 1.
    """
    share = np.asarray(enhancement, dtype=np.float64)
    if not np.all((share >= 0.0) & (share <= 1.0)):
        message = "enhancement must be 0 to 1 everywhere"
        raise ValueError(message)
    arguments = (np.asarray(each, dtype=np.float64) for each in (reynolds, prandtl, relative_roughness))
    broadcast = np.broadcast_arrays(*arguments, share)
    values = [
        kernels.film_factor(*map(float, each)) for each in zip(*(a.ravel() for a in broadcast), strict=True)
    ]
    return np.array(values, dtype=np.float64).reshape(broadcast[0].shape)


def _above_zero(name: str, values: ArrayLike) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    if not np.all((array > 0.0) & np.isfinite(array)):
        message = f"{name} must be above 0 and finite everywhere"
        raise ValueError(message)
    return array
