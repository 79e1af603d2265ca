"""Temperature of undisturbed ground through the year."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

YEAR_DAYS = 365.0
"""Period of the wave [d]."""
DAY_SECONDS = 86400.0


def damping_depth(diffusivity: float) -> float:
    """Depth [m] over which the yearly wave falls to 1/e, from the diffusivity [m2/s]: sqrt(a P / pi)."""
    if not diffusivity > 0.0:
        message = f"diffusivity must be above 0, got {diffusivity:g}"
        raise ValueError(message)
    return float(np.sqrt(diffusivity * YEAR_DAYS * DAY_SECONDS / np.pi))


def annual_wave(
    depth: ArrayLike, day: ArrayLike, *, mean: float, amplitude: float, coldest_day: float, diffusivity: float
) -> NDArray[np.float64]:
    """Temperature of undisturbed ground by the equation of Kusuda and Achenbach.

    T = mean - amplitude e^(-z/d) cos(2 pi (day - coldest_day) / 365 - z/d) with d of `damping_depth`: the
    periodic solution for a half space whose surface swings as a cosine. T. Kusuda and P. R. Achenbach, Earth
    temperature and thermal diffusivity at selected stations in the United States, ASHRAE Transactions 71
    (1965) 61-75.

    Parameters
    ----------
    depth : (...) array_like [m]
        Below the outside ground surface, positive downwards; above the surface counts as the surface.
    day : (...) array_like [d]
        Day of the year, 1 on 1 January.
    mean : float [K]
        Yearly mean of the surface.
    amplitude : float [K]
        Half the yearly swing of the surface.
    coldest_day : float [d]
        Day of the year of the coldest surface.
    diffusivity : float [m2/s]

    Returns
    -------
    (...) float [K]
        In the unit of `mean`.

    Raises
    ------
    ValueError
        For a diffusivity not above 0.
    """
    depths = np.maximum(np.asarray(depth, dtype=np.float64), 0.0) / damping_depth(diffusivity)
    angle = 2.0 * np.pi / YEAR_DAYS * (np.asarray(day, dtype=np.float64) - coldest_day) - depths
    return np.asarray(mean - amplitude * np.exp(-depths) * np.cos(angle))


def day_of_year(moment: dt.datetime) -> float:
    """Day of the year [d] of a moment, with its fraction: 1.0 at the midnight that begins 1 January."""
    midnight = dt.datetime(moment.year, 1, 1)
    return 1.0 + (moment - midnight) / dt.timedelta(days=1)
