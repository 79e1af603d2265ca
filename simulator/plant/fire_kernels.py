"""The gas a fire makes, and how loads burn over one step, as compiled scalar functions."""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.flue_gas_kernels import heat_capacity, heat_from

BURNT_AT_BURN_TIME = 0.95
RISE_AND_FALL = 4.743864518390555
"""Where 1 - (1 + k) exp(-k) is 0.95 [-]."""
QUICK = math.log(20.0)
LAST = 8.0
"""Time [burn times] after which nothing is left of a load; under 1e-10 of it burns later."""
EVEN, RISING_AND_FALLING, QUICK_START = 0, 1, 2
"""Shapes of a burn, in the order of `fire.SHAPES`."""
COLDEST_GAS, HOTTEST_GAS = 150.0, 3500.0
"""Bounds of the gas temperature [K]."""


@kernel
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


@kernel
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


@kernel
def share_and_rate(shape: int, x: float) -> tuple[float, float]:
    """Share of a load burnt, and its slope, after x burn times (0 to `LAST`); see `fire.share_burnt`."""
    if shape == EVEN:
        tail = 1.0 - BURNT_AT_BURN_TIME
        span = 2.0 * tail / BURNT_AT_BURN_TIME
        if x <= 1.0:
            return BURNT_AT_BURN_TIME * x, BURNT_AT_BURN_TIME
        left = max(1.0 - (x - 1.0) / span, 0.0)
        return 1.0 - tail * left * left, BURNT_AT_BURN_TIME * left
    if shape == RISING_AND_FALLING:
        k = RISE_AND_FALL
        whole = 1.0 - (1.0 + k * LAST) * math.exp(-k * LAST)
        falling = math.exp(-k * x)
        return (1.0 - (1.0 + k * x) * falling) / whole, k * k * x * falling / whole
    whole = -math.expm1(-QUICK * LAST)
    return -math.expm1(-QUICK * x) / whole, QUICK * math.exp(-QUICK * x) / whole


@kernel
def line_of_loads(
    shape: int, burn_time: float, ticks: np.ndarray, masses: np.ndarray, begin: int, end: int
) -> tuple[float, float]:
    """Mean burning rate of all loads over a step and its rise from begin to end [kg/s].

    The mean is exact. The rise is that between the exact rates just after `begin` and just before `end`, cut
    where the straight line would fall below 0.

    Parameters
    ----------
    shape : int
    burn_time : float [s]
    ticks : (n,) int
        At which the loads are laid on, rising.
    masses : (n,) float [kg]
    begin, end : int [ticks]
        Of the step; 1000 ticks are a second.
    """
    per_tick = 1e-3 / burn_time
    burnt, first, last = 0.0, 0.0, 0.0
    for i in range(ticks.size):
        if ticks[i] >= end:
            break
        before, after = (begin - ticks[i]) * per_tick, (end - ticks[i]) * per_tick
        if before >= LAST:
            continue
        share, rate = share_and_rate(shape, min(after, LAST))
        burnt += masses[i] * share
        last += masses[i] * rate if after < LAST else 0.0
        if before >= 0.0:
            share, rate = share_and_rate(shape, before)
            burnt -= masses[i] * share
            first += masses[i] * rate
    mean = burnt / ((end - begin) * 1e-3)
    most = 2.0 * max(mean, 0.0)
    return mean, min(max((last - first) / burn_time, -most), most)
