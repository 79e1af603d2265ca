"""Rules of the heater, as compiled scalar functions."""

from __future__ import annotations

import math

from simulator.kernel import kernel


@kernel
def supply_values(
    fan_share: float, heat_power: float, supply_temperature: float, series_temperature: float
) -> tuple[float, float, float]:
    """Return fixed supply temperature [K] (NaN for none), power into the air [W], power into the room [W].

    A heater with neither power nor temperature follows the series. A fire that burns while the fan stands
    still warms the room instead of the ducts.
    """
    moving = fan_share > 0.0
    fixed = supply_temperature
    if math.isnan(heat_power) and math.isnan(supply_temperature):
        fixed = series_temperature
    if not math.isnan(fixed):
        return (fixed if moving else math.nan), 0.0, 0.0
    power = 0.0 if math.isnan(heat_power) else heat_power
    if moving:
        return math.nan, power, 0.0
    return math.nan, 0.0, power
