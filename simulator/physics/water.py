"""Liquid water at ordinary pressure, for numbers and arrays: density, specific heat, heat content.

Valid from 0 to 100 degC. Dissolved salts and antifreeze are left out: a third of glycol takes some 5 to 10 %
off the specific heat.

Sources
-------
[1] G. S. Kell, J. Chemical and Engineering Data 20 (1975) 97-105: density at 1 atm, 0 to 150 degC
    (constants from memory; within 0.002 % of IAPWS-95).
[2] C. O. Popiel and J. Wojtkowiak, Heat Transfer Engineering 19 (1998) 87-101: specific heat at constant
    pressure, 0 to 150 degC (constants from memory; within 0.1 % of IAPWS-95).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

__all__ = ["HIGHEST", "LOWEST", "density", "heat_capacity", "heat_content"]

LOWEST: Final = 273.15
"""Where water freezes [K]."""
HIGHEST: Final = 373.15
"""Where water boils at sea level [K]."""

_ABOVE = (-280.54253e-12, 105.56302e-9, -46.170461e-6, -7.9870401e-3, 16.945176, 999.83952)
_BELOW = 16.879850e-3
#: Constants of [2] with the power of the temperature [degC] that each stands before.
_HEAT = ((4217.4356, 0.0), (-5.6181625, 1.0), (1.2992528, 1.5), (-0.11535353, 2.0), (4.14964e-3, 2.5))


def _celsius(temperature: ArrayLike) -> NDArray[np.float64]:
    # Clipped, so that a search for a temperature that strays beyond the end meets no broken power.
    return np.clip(np.asarray(temperature, dtype=np.float64), LOWEST, HIGHEST) - LOWEST


def density(temperature: ArrayLike) -> NDArray[np.float64]:
    """Density of water at 1 atm [1].

    Parameters
    ----------
    temperature : (...) array_like [K]
        273.15 to 373.15 K; outside, the value at the end.

    Returns
    -------
    (...) float [kg/m3]
    """
    t = _celsius(temperature)
    return np.asarray(np.polyval(_ABOVE, t) / (1.0 + _BELOW * t))


def heat_capacity(temperature: ArrayLike) -> NDArray[np.float64]:
    """Specific heat of water at constant pressure [2].

    Parameters
    ----------
    temperature : (...) array_like [K]
        273.15 to 373.15 K; outside, the value at the end.

    Returns
    -------
    (...) float [J/(kg.K)]
    """
    t = _celsius(temperature)
    return np.asarray(sum(constant * t**power for constant, power in _HEAT))


def heat_content(temperature: ArrayLike) -> NDArray[np.float64]:
    """Heat that warms water from 0 degC to a temperature: the integral of the specific heat [2].

    Parameters
    ----------
    temperature : (...) array_like [K]
        273.15 to 373.15 K; outside, the value at the end.

    Returns
    -------
    (...) float [J/kg]
    """
    t = _celsius(temperature)
    return np.asarray(sum(constant * t ** (power + 1.0) / (power + 1.0) for constant, power in _HEAT))
