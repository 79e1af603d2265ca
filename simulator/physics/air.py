"""Properties of dry air for numbers and arrays.

The formulas and their sources stand in `air_kernels`, once; here the same bodies run under numpy. Valid from
200 to 900 K; within 1 % of the real-gas values between -40 and 300 degC at ordinary pressures.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.physics import air_kernels

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

GAS_CONSTANT = air_kernels.GAS_CONSTANT


def _body(kernel: Any) -> Callable[..., Any]:
    """Return the uncompiled function behind a kernel (the kernel itself where compiling is switched off)."""
    body: Callable[..., Any] = getattr(kernel, "py_func", kernel)
    return body


_density = _body(air_kernels.density)
_pressure_at = _body(air_kernels.pressure_at)
_heat_capacity = _body(air_kernels.heat_capacity)
_viscosity = _body(air_kernels.viscosity)
_conductivity = _body(air_kernels.conductivity)


def _floats(values: ArrayLike) -> NDArray[np.float64]:
    return np.asarray(values, dtype=np.float64)


def density(temperature: ArrayLike, pressure: ArrayLike = 101325.0) -> NDArray[np.float64]:
    """Density of dry air as an ideal gas.

    Parameters
    ----------
    temperature : (...) array_like [K]
    pressure : (...) array_like [Pa]

    Returns
    -------
    (...) float [kg/m3]
    """
    return np.asarray(_density(_floats(temperature), _floats(pressure)))


def pressure_at(elevation: ArrayLike) -> NDArray[np.float64]:
    """Mean air pressure at an elevation, by the US Standard Atmosphere 1976 (troposphere).

    Parameters
    ----------
    elevation : (...) array_like [m]
        Height above sea level.

    Returns
    -------
    (...) float [Pa]
    """
    return np.asarray(_pressure_at(_floats(elevation)))


def heat_capacity(temperature: ArrayLike) -> NDArray[np.float64]:
    """Specific heat of dry air at constant pressure.

    Parameters
    ----------
    temperature : (...) array_like [K]

    Returns
    -------
    (...) float [J/(kg.K)]
    """
    return np.asarray(_heat_capacity(_floats(temperature)))


def viscosity(temperature: ArrayLike) -> NDArray[np.float64]:
    """Dynamic viscosity of dry air.

    Parameters
    ----------
    temperature : (...) array_like [K]

    Returns
    -------
    (...) float [Pa.s]
    """
    return np.asarray(_viscosity(_floats(temperature)))


def conductivity(temperature: ArrayLike) -> NDArray[np.float64]:
    """Thermal conductivity of dry air.

    Parameters
    ----------
    temperature : (...) array_like [K]

    Returns
    -------
    (...) float [W/(m.K)]
    """
    return np.asarray(_conductivity(_floats(temperature)))


def prandtl(temperature: ArrayLike) -> NDArray[np.float64]:
    """Prandtl number of dry air: viscosity times specific heat over conductivity.

    Parameters
    ----------
    temperature : (...) array_like [K]

    Returns
    -------
    (...) float [-]
    """
    return viscosity(temperature) * heat_capacity(temperature) / conductivity(temperature)
