"""Moist air for numbers and arrays.

The formulas and their sources stand in `moist_air_kernels`, once; these functions check what they are given
and run the compiled functions over arrays. Humidity ratios [kg/kg] are water vapour per dry air.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.physics import moist_air_kernels as kernels

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray


def _over_arrays(kernel: Callable[..., float], *arguments: ArrayLike) -> NDArray[np.float64]:
    """Call a scalar function on every element of arguments of shapes that broadcast."""
    broadcast = np.broadcast_arrays(*(np.asarray(each, dtype=np.float64) for each in arguments))
    values = [kernel(*map(float, each)) for each in zip(*(a.ravel() for a in broadcast), strict=True)]
    return np.array(values, dtype=np.float64).reshape(broadcast[0].shape)


def _not_negative(name: str, values: ArrayLike) -> NDArray[np.float64]:
    array = np.asarray(values, dtype=np.float64)
    if not np.all(array >= 0.0):
        message = f"{name} must be 0 or more everywhere, got {array[~(array >= 0.0)].flat[0]:g}"
        raise ValueError(message)
    return array


def saturation_pressure(temperature: ArrayLike) -> NDArray[np.float64]:
    """Saturation pressure of water vapour, over ice below the triple point.

    Parameters
    ----------
    temperature : (...) array_like [K]
        173 to 473 K; outside, the value at the end.

    Returns
    -------
    (...) float [Pa]
    """
    return _over_arrays(kernels.saturation_pressure, temperature)


def saturation_ratio(temperature: ArrayLike, pressure: ArrayLike = 101325.0) -> NDArray[np.float64]:
    """Humidity ratio of saturated air.

    Parameters
    ----------
    temperature : (...) array_like [K]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [kg/kg]
        At most 10, where water boils.
    """
    return _over_arrays(kernels.saturation_ratio, temperature, pressure)


def humidity_ratio(
    relative_humidity: ArrayLike, temperature: ArrayLike, pressure: ArrayLike = 101325.0
) -> NDArray[np.float64]:
    """Humidity ratio from relative humidity.

    Parameters
    ----------
    relative_humidity : (...) array_like [-]
        0 to 1.
    temperature : (...) array_like [K]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [kg/kg]

    Raises
    ------
    ValueError
        For a relative humidity outside 0 to 1.
    """
    share = _not_negative("relative_humidity", relative_humidity)
    if np.any(share > 1.0):
        message = f"relative_humidity must be 1 or less everywhere, got {share[share > 1.0].flat[0]:g}"
        raise ValueError(message)
    return _over_arrays(kernels.ratio_at_relative_humidity, share, temperature, pressure)


def relative_humidity(
    ratio: ArrayLike, temperature: ArrayLike, pressure: ArrayLike = 101325.0
) -> NDArray[np.float64]:
    """Relative humidity from humidity ratio.

    Parameters
    ----------
    ratio : (...) array_like [kg/kg]
    temperature : (...) array_like [K]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [-]
        Over 1 where the air would drop mist; against ice below 0 degC.

    Raises
    ------
    ValueError
        For a negative humidity ratio.
    """
    return _over_arrays(kernels.relative_humidity, _not_negative("ratio", ratio), temperature, pressure)


def dew_point(ratio: ArrayLike, pressure: ArrayLike = 101325.0) -> NDArray[np.float64]:
    """Dew point of moist air, below 0 degC its frost point.

    Parameters
    ----------
    ratio : (...) array_like [kg/kg]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [K]
        173.15 K for dry air.

    Raises
    ------
    ValueError
        For a negative humidity ratio.
    """
    return _over_arrays(kernels.dew_point, _not_negative("ratio", ratio), pressure)


def enthalpy(temperature: ArrayLike, ratio: ArrayLike) -> NDArray[np.float64]:
    """Enthalpy per kg of dry air, above dry air and liquid water at 0 degC.

    Parameters
    ----------
    temperature : (...) array_like [K]
    ratio : (...) array_like [kg/kg]

    Returns
    -------
    (...) float [J/kg]
    """
    return _over_arrays(kernels.enthalpy, temperature, ratio)


def density(temperature: ArrayLike, ratio: ArrayLike, pressure: ArrayLike = 101325.0) -> NDArray[np.float64]:
    """Density of moist air.

    Parameters
    ----------
    temperature : (...) array_like [K]
    ratio : (...) array_like [kg/kg]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [kg/m3]
        Of air and vapour together.
    """
    return _over_arrays(kernels.moist_density, temperature, ratio, pressure)


def latent_heat(temperature: ArrayLike) -> NDArray[np.float64]:
    """Heat set free when vapour turns to liquid water.

    Parameters
    ----------
    temperature : (...) array_like [K]

    Returns
    -------
    (...) float [J/kg]
    """
    return _over_arrays(kernels.latent_heat, temperature)


def wet_bulb(temperature: ArrayLike, ratio: ArrayLike, pressure: ArrayLike = 101325.0) -> NDArray[np.float64]:
    """Temperature to which air cools by drying off water of that same temperature.

    Thermodynamic wet bulb of the ASHRAE Handbook, Fundamentals: the enthalpy of the air and of the water it
    takes up is that of the saturated air. Over liquid water, also under 0 degC.

    Parameters
    ----------
    temperature : (...) array_like [K]
    ratio : (...) array_like [kg/kg]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [K]

    Raises
    ------
    ValueError
        For a negative humidity ratio.
    """

    def solved(dry_bulb: float, humidity: float, total: float) -> float:
        low, high = kernels.LOWEST_SATURATION, dry_bulb
        for _ in range(60):
            middle = 0.5 * (low + high)
            saturated = float(kernels.saturation_ratio(middle, total))
            water = kernels.WATER_HEAT_CAPACITY * (middle - kernels.ZERO_CELSIUS)
            surplus = float(kernels.enthalpy(dry_bulb, humidity)) + (saturated - humidity) * water
            if surplus > float(kernels.enthalpy(middle, saturated)):
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)

    return _over_arrays(solved, temperature, _not_negative("ratio", ratio), pressure)


@dataclass(frozen=True)
class WallFlux:
    """What moist air gives a wet wall, each positive towards the wall.

    Attributes
    ----------
    sensible, latent : float [W/m2]
    water : float [kg/(m2.s)]
    """

    sensible: float
    latent: float
    water: float


def flux_to_wet_wall(
    film: float, temperature: float, ratio: float, wall_temperature: float, pressure: float = 101325.0
) -> WallFlux:
    """Heat and water that moist air gives a wet wall, by the Lewis relation.

    Parameters
    ----------
    film : float [W/(m2.K)]
    temperature : float [K]
        Of the air.
    ratio : float [kg/kg]
        Of the air.
    wall_temperature : float [K]
    pressure : float [Pa]

    Returns
    -------
    WallFlux
        Latent heat and water are below 0 where the wall dries.
    """
    transfer = float(kernels.mass_transfer_coefficient(film, ratio, temperature))
    water = float(transfer * (ratio - kernels.saturation_ratio(wall_temperature, pressure)))
    return WallFlux(
        sensible=film * (temperature - wall_temperature),
        latent=float(water * kernels.latent_heat(wall_temperature)),
        water=water,
    )
