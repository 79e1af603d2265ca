"""Friction and heat transfer of air in a round duct, for numbers and arrays.

The formulas and their sources stand in `internal_flow_kernels`, once; these functions check what they are
given and run the compiled functions over arrays. All of them are continuous in the Reynolds number.
Stated validity of the sources: Re up to 1e6, Prandtl number 0.1 to 1000, length at least one diameter,
relative roughness up to 0.05. A rough or ribbed wall raises the friction only: heat transfer stays that of
the smooth pipe, as measured for air in corrugated drain pipe (Sibley and Raghavan, Canadian Agricultural
Engineering 26 (1984) 177-180).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.physics import internal_flow_kernels as kernels

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray


def _over_arrays(kernel: Callable[..., float], *arguments: NDArray[np.float64]) -> NDArray[np.float64]:
    """Call a scalar function on every element of arrays of shapes that broadcast."""
    broadcast = np.broadcast_arrays(*arguments)
    values = [kernel(*map(float, each)) for each in zip(*(a.ravel() for a in broadcast), strict=True)]
    return np.array(values, dtype=np.float64).reshape(broadcast[0].shape)


def _at_least(name: str, values: ArrayLike, lowest: float, *, above: bool = False) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    fits = array > lowest if above else array >= lowest
    if not np.all(fits):
        bound = f"above {lowest:g}" if above else f"{lowest:g} or more"
        message = f"{name} must be {bound} everywhere, got {array[~fits].flat[0]:g}"
        raise ValueError(message)
    return array


def friction_factor(reynolds: ArrayLike, relative_roughness: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Darcy friction factor: laminar, turbulent by Colebrook, and a straight line from Re 2300 to 4000.

    Parameters
    ----------
    reynolds : (...) array_like [-]
    relative_roughness : (...) array_like [-]
        Roughness height over inside diameter; 0 is the smooth pipe.

    Returns
    -------
    (...) float [-]
        Infinite at Re 0; its product with Re is 64 in the whole laminar range.

    Raises
    ------
    ValueError
        For a negative argument.
    """
    return _over_arrays(
        kernels.friction_factor,
        _at_least("reynolds", reynolds, 0.0),
        _at_least("relative_roughness", relative_roughness, 0.0),
    )


def smooth_turbulent_friction(reynolds: ArrayLike) -> NDArray[np.float64]:
    """Darcy friction factor of a smooth pipe in turbulent flow, Konakov (VDI Heat Atlas, 2010, section G1).

    Parameters
    ----------
    reynolds : (...) array_like [-]
        At least 2300.

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        Under Re 2300.
    """
    return _over_arrays(
        kernels.smooth_turbulent_friction, _at_least("reynolds", reynolds, kernels.LAMINAR_END)
    )


def mean_nusselt(
    reynolds: ArrayLike, prandtl: ArrayLike, diameter: ArrayLike, distance: ArrayLike
) -> NDArray[np.float64]:
    """Nusselt number at constant wall temperature, mean from the entrance to a distance from it.

    Parameters
    ----------
    reynolds, prandtl : (...) array_like [-]
    diameter, distance : (...) array_like [m]
        Both above 0.

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For an argument out of range.
    """
    return local_nusselt_over(reynolds, prandtl, diameter, 0.0, distance)


def local_nusselt_over(
    reynolds: ArrayLike, prandtl: ArrayLike, diameter: ArrayLike, begin: ArrayLike, end: ArrayLike
) -> NDArray[np.float64]:
    """Nusselt number at constant wall temperature, mean over the piece between two distances.

    With Nu_m(x) the mean from the entrance to x, this is (end Nu_m(end) - begin Nu_m(begin)) / (end - begin),
    and never less than the fully developed value.

    Parameters
    ----------
    reynolds, prandtl : (...) array_like [-]
    diameter, begin, end : (...) array_like [m]
        Inside diameter and distances from the entrance, 0 <= begin < end.

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For an argument out of range.
    """
    start = _at_least("begin", begin, 0.0)
    stop = np.asarray(end, dtype=np.float64)
    _at_least("end - begin", stop - start, 0.0, above=True)
    return _over_arrays(
        kernels.local_nusselt_over,
        _at_least("reynolds", reynolds, 0.0),
        _at_least("prandtl", prandtl, 0.0, above=True),
        _at_least("diameter", diameter, 0.0, above=True),
        start,
        stop,
    )


def reynolds_number(mass_flow: ArrayLike, temperature: ArrayLike, diameter: ArrayLike) -> NDArray[np.float64]:
    """Reynolds number of air in one round duct.

    Parameters
    ----------
    mass_flow : (...) array_like [kg/s]
        Of one duct; its sign does not matter.
    temperature : (...) array_like [K]
    diameter : (...) array_like [m]

    Returns
    -------
    (...) float [-]

    Raises
    ------
    ValueError
        For a temperature or diameter not above 0.
    """
    return _over_arrays(
        kernels.reynolds_number,
        np.asarray(mass_flow, dtype=np.float64),
        _at_least("temperature", temperature, 0.0, above=True),
        _at_least("diameter", diameter, 0.0, above=True),
    )


def film_coefficient(
    mass_flow: ArrayLike, temperature: ArrayLike, diameter: ArrayLike, begin: ArrayLike, end: ArrayLike
) -> NDArray[np.float64]:
    """Film coefficient of air in one smooth round duct, mean over the piece between two distances.

    Parameters
    ----------
    mass_flow : (...) array_like [kg/s]
        Of one duct; its sign does not matter.
    temperature : (...) array_like [K]
        Bulk temperature of the air.
    diameter, begin, end : (...) array_like [m]
        Inside diameter and distances from the entrance, 0 <= begin < end.

    Returns
    -------
    (...) float [W/(m2.K)]

    Raises
    ------
    ValueError
        For an argument out of range.
    """
    start = _at_least("begin", begin, 0.0)
    stop = np.asarray(end, dtype=np.float64)
    _at_least("end - begin", stop - start, 0.0, above=True)
    return _over_arrays(
        kernels.film_coefficient,
        np.asarray(mass_flow, dtype=np.float64),
        _at_least("temperature", temperature, 0.0, above=True),
        _at_least("diameter", diameter, 0.0, above=True),
        start,
        stop,
    )
