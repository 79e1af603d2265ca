"""Effectiveness and conductance of water coils in an air stream, for numbers and arrays.

The formulas and their sources stand in `coil_kernels`, once.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from simulator.physics import coil_kernels as kernels

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

ARRANGEMENTS: Final = {
    "counter flow": kernels.COUNTER_FLOW,
    "parallel flow": kernels.PARALLEL_FLOW,
    "cross flow": kernels.CROSS_FLOW,
    "cross flow, air mixed": kernels.CROSS_FLOW_AIR_MIXED,
    "cross flow, water mixed": kernels.CROSS_FLOW_WATER_MIXED,
}
"""How air and water pass each other; plain cross flow leaves both unmixed."""


def effectiveness(
    arrangement: str, conductance: ArrayLike, air_capacity: ArrayLike, water_capacity: ArrayLike
) -> NDArray[np.float64]:
    """Heat passed over the most that two streams could pass (W. M. Kays and A. L. London, 1984).

    Parameters
    ----------
    arrangement : str
        One of `ARRANGEMENTS`.
    conductance, air_capacity, water_capacity : (...) array_like [W/K]
        Of the coil, 0 or more; mass flow times specific heat of each stream, above 0.

    Returns
    -------
    (...) float [-]
        Heat = this times the smaller capacity flow times the difference of the inlet temperatures. More than
        500 transfer units count as 500.

    Raises
    ------
    ValueError
        For an unknown arrangement, a negative conductance or a stream that stands.
    """
    if arrangement not in ARRANGEMENTS:
        message = f"arrangement of a coil must be one of {', '.join(ARRANGEMENTS)}, got {arrangement!r}"
        raise ValueError(message)
    ua, air, water = np.broadcast_arrays(
        *(np.asarray(each, dtype=np.float64) for each in (conductance, air_capacity, water_capacity))
    )
    if not (np.all(ua >= 0.0) and np.all(air > 0.0) and np.all(water > 0.0)):
        message = "conductance of a coil must be 0 or more and both capacity flows above 0"
        raise ValueError(message)
    number = ARRANGEMENTS[arrangement]
    values = [
        kernels.effectiveness(number, float(u / min(a, w)), float(min(a, w) / max(a, w)), bool(a <= w))
        for u, a, w in zip(ua.ravel(), air.ravel(), water.ravel(), strict=True)
    ]
    return np.array(values, dtype=np.float64).reshape(ua.shape)


def conductance_at(
    rated: float,
    air_side_share: float,
    air_flow: float,
    water_flow: float,
    rated_air_flow: float | None = None,
    rated_water_flow: float | None = None,
) -> float:
    """Conductance [W/K] of a coil at flows other than the rated ones.

    1 / (share (m/m_rated)^-0.6 + (1 - share) (w/w_rated)^-0.8) times the rated one: air film over finned
    tubes and turbulent water film in them. Under a twentieth of the rated flow the water's film is that of
    free convection, taken as the one at a twentieth.

    Parameters
    ----------
    rated : float [W/K]
    air_side_share : float [-]
        Of the resistance, at the rated flows.
    air_flow, water_flow : float [kg/s]
    rated_air_flow, rated_water_flow : float or None [kg/s]
        None: that side's resistance stays as it is.

    Returns
    -------
    float [W/K]
    """
    return kernels.conductance_at(
        rated,
        air_side_share,
        air_flow,
        math.nan if rated_air_flow is None else rated_air_flow,
        water_flow,
        math.nan if rated_water_flow is None else rated_water_flow,
    )
