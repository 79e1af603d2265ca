"""How much sun a sheet of glazing lets through at other angles than straight on."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

REFRACTIVE_INDEX = 1.526
"""Of window glass [-], Duffie and Beckman; plastics are 1.49 to 1.59."""
MOST_TAKEN_UP = 0.5
"""Largest absorptance with which the weakening inside the sheet is reckoned; more is an opaque coating."""


def sheet_transmittance(
    cosine: ArrayLike, absorptance: float = 0.06, index: float = REFRACTIVE_INDEX
) -> NDArray[np.float64]:
    """Transmittance of one clear sheet for unpolarised sun, by Fresnel, Snell and Bouguer.

    For each polarisation t (1 - r)^2 / (1 - (r t)^2) with r the reflection of one face and t = exp(-K L /
    cos) the weakening on one way through; the mean of both. J. A. Duffie and W. A. Beckman, Solar Engineering
    of Thermal Processes, chapter 5, equations 5.1.1 to 5.3.1.

    Parameters
    ----------
    cosine : (...) array_like [-]
        Of the angle of incidence; 0 or less lets nothing through.
    absorptance : float [-]
        Share weakened on one straight way through, exp(-K L) = 1 - absorptance.
    index : float [-]
        Refractive index, above 1.

    Returns
    -------
    (...) float [-]
    """
    incidence = np.clip(np.asarray(cosine, dtype=np.float64), 0.0, 1.0)
    inside = np.sqrt(1.0 - (1.0 - incidence**2) / index**2)
    weakened = (1.0 - min(absorptance, MOST_TAKEN_UP)) ** (1.0 / inside)
    across = ((incidence - index * inside) / (incidence + index * inside)) ** 2
    along = ((inside - index * incidence) / (inside + index * incidence)) ** 2
    through = [weakened * (1.0 - r) ** 2 / (1.0 - (r * weakened) ** 2) for r in (across, along)]
    return np.asarray(0.5 * (through[0] + through[1]))


def angle_factor(cosine: ArrayLike, absorptance: float = 0.06) -> NDArray[np.float64]:
    """Transmittance at an angle over that straight on, of one clear sheet [-]; see `sheet_transmittance`.

    Sheets behind each other dim slanting sun more than this: a double pane by about 5 % at 60 deg and 15 % at
    70.

    Parameters
    ----------
    cosine : (...) array_like [-]
    absorptance : float [-]

    Returns
    -------
    (...) float [-]
        0 to 1.
    """
    return np.asarray(sheet_transmittance(cosine, absorptance) / sheet_transmittance(1.0, absorptance))


@cache
def diffuse_factor(absorptance: float = 0.06) -> float:
    """Transmittance for light from a whole half space over that straight on [-].

    2 times the integral of factor cos sin over the angle, by Gauss-Legendre quadrature over the squared
    cosine.
    """
    nodes, weights = np.polynomial.legendre.leggauss(64)
    return float(np.sum(0.5 * weights * angle_factor(np.sqrt(0.5 * (nodes + 1.0)), absorptance)))
