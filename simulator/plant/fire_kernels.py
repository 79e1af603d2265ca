"""The gas a fire makes, as compiled scalar functions."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from simulator.physics.flue_gas_kernels import heat_capacity, heat_from

COLDEST_GAS, HOTTEST_GAS = 150.0, 3500.0
"""Bounds of the gas temperature [K]."""


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def gas_temperature(warmth: float, air: float, low: np.ndarray, high: np.ndarray) -> float:
    """Temperature [K] of gas that holds `warmth` [J/kg] above combustion air at `air` [K].

    Newton steps on the exact enthalpy, which is nearly straight over temperature.
    """
    guess = air + warmth / heat_capacity(min(max(air, 200.0), 1500.0), low, high)
    t = min(max(guess, COLDEST_GAS), HOTTEST_GAS)
    for _ in range(20):
        change = (heat_from(air, t, low, high) - warmth) / heat_capacity(t, low, high)
        t = min(max(t - change, COLDEST_GAS), HOTTEST_GAS)
        if abs(change) < 1e-9 * t:
            break
    return t


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def flue_loss_of(
    heating_value: float,
    wet_gas: float,
    efficiency: float,
    flue_temperature: float,
    air: float,
    low: np.ndarray,
    high: np.ndarray,
) -> tuple[float, float]:
    """Heat leaving with the gas [J for each kg of fuel] and the gas temperature [K].

    Loss from efficiency, and the temperature by the gas's enthalpy; or, where `efficiency` is NaN, the loss
    from the temperature. `air` [K] is the combustion air.
    """
    if not math.isnan(efficiency):
        loss = (1.0 - efficiency) * heating_value
        return loss, gas_temperature(loss / wet_gas, air, low, high)
    return wet_gas * heat_from(air, flue_temperature, low, high), flue_temperature
