"""What the sky sends down as long waves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

CLOUD_WEIGHT = 0.8
"""Emissivity times height factor of low and middle clouds [-]: exp(-2 km / 8.2 km) of Martin and Berdahl."""


def clear_sky_emissivity(
    dew_point: ArrayLike, hour: ArrayLike | None = None, pressure: ArrayLike = 101325.0
) -> NDArray[np.float64]:
    """Emissivity of a cloudless sky, which radiates as emissivity sigma T^4 at the temperature of the air.

    0.711 + 0.56 t + 0.73 t^2, t the dew point in units of 100 degC; + 0.013 cos(2 pi hour / 24);
    + 0.00012 (pressure / hPa - 1000). P. Berdahl and M. Martin, Emissivity of clear skies, Solar Energy 32
    (1984) 663-664; daily and pressure terms from M. Martin and P. Berdahl, Solar Energy 33 (1984) 321-336.

    Parameters
    ----------
    dew_point : (...) array_like [K]
        Fitted from -13 to 24 degC; the parabola's lowest value is kept below its vertex (-38 degC).
    hour : (...) array_like [h], optional
        Of the day in solar time; left out, the mean of the day.
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [-]
        At most 1.
    """
    t = np.maximum((np.asarray(dew_point, dtype=np.float64) - 273.15) / 100.0, -0.56 / 1.46)
    emissivity = 0.711 + 0.56 * t + 0.73 * t * t
    if hour is not None:
        emissivity = emissivity + 0.013 * np.cos(np.pi / 12.0 * np.asarray(hour, dtype=np.float64))
    emissivity = emissivity + 0.00012 * (np.asarray(pressure, dtype=np.float64) / 100.0 - 1000.0)
    return np.asarray(np.clip(emissivity, 0.0, 1.0))


def sky_temperature(air: ArrayLike, emissivity: ArrayLike, cloud: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Temperature of a black sky that sends down the same, T (e + (1 - e) 0.8 cloud)^(1/4).

    M. Martin and P. Berdahl, Solar Energy 33 (1984) 321-336, with clouds whose base is near 2 km.

    Parameters
    ----------
    air : (...) array_like [K]
    emissivity : (...) array_like [-]
        Of the clear sky.
    cloud : (...) array_like [-]
        Share of the sky covered, 0 to 1.

    Returns
    -------
    (...) float [K]
    """
    clear = np.asarray(emissivity, dtype=np.float64)
    whole = clear + (1.0 - clear) * CLOUD_WEIGHT * np.asarray(cloud, dtype=np.float64)
    return np.asarray(np.asarray(air, dtype=np.float64) * whole**0.25)


def sky_share(cosine: ArrayLike) -> NDArray[np.float64]:
    """Share of a tilted surface's long waves that goes to the sky; the rest meets air temperature.

    F^(3/2) with F = (1 + cos tilt) / 2 the view of the half space above: near the horizon the sky is as warm
    as the air. G. N. Walton, NBSSIR 83-2655 (1983) (from memory).

    Parameters
    ----------
    cosine : (...) array_like [-]
        Of the tilt: 1 for a flat roof, 0 for a wall.

    Returns
    -------
    (...) float [-]
    """
    view = 0.5 * (1.0 + np.asarray(cosine, dtype=np.float64))
    return np.asarray(view**1.5)
