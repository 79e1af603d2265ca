"""Moist air as compiled scalar functions, for use inside other kernels.

The humidity ratio `ratio` [kg/kg] is water vapour per dry air, and heat and mass are counted per kg of dry
air, which nothing changes along a duct. Vapour and air are ideal gases; leaving out the enhancement factor of
the real mixture makes the ratio at saturation 0.4 to 0.6 % small at ordinary pressure. Latent heat and
enthalpy fit each other exactly, so that a march that uses both can close its account to the last digit.

Sources
-------
[1] R. W. Hyland and A. Wexler, ASHRAE Transactions 89 (2A) (1983) 500-519: saturation pressure over ice and
    water, -100 to 200 degC.
[2] ASHRAE Handbook, Fundamentals, chapter Psychrometrics: 1.006 t + w (2501 + 1.86 t).
[3] T. R. Marrero and E. A. Mason, J. Physical and Chemical Reference Data 1 (1972) 3-118: diffusion of water
    vapour in air, 282 to 1070 K (constants from memory).
[4] T. H. Chilton and A. P. Colburn, Industrial and Engineering Chemistry 26 (1934) 1183-1187: heat and mass
    transfer, h / (h_m rho c_p) = Le^(2/3).
"""

from __future__ import annotations

import math

from simulator.kernel import kernel
from simulator.physics.air_kernels import GAS_CONSTANT, conductivity, heat_capacity, within_fit

MOLAR_RATIO = 0.621945
"""Molar mass of water over that of dry air [-]."""
AIR_HEAT_CAPACITY = 1006.0
"""Of dry air in the enthalpy [J/(kg.K)] [2]."""
VAPOUR_HEAT_CAPACITY = 1860.0
"""Of water vapour [J/(kg.K)] [2]."""
WATER_HEAT_CAPACITY = 4186.0
"""Of liquid water [J/(kg.K)]."""
ICE_HEAT_CAPACITY = 2100.0
"""Of ice [J/(kg.K)]."""
VAPORISATION_HEAT = 2.501e6
"""Latent heat of vaporisation at 0 degC [J/kg] [2]."""
FUSION_HEAT = 3.334e5
"""Latent heat of fusion at 0 degC [J/kg] [2]."""
ZERO_CELSIUS = 273.15
"""0 degC in kelvin."""
LOWEST_SATURATION, HIGHEST_SATURATION = 173.15, 473.15
"""Range of the saturation pressure [K]; outside it the value at its end is taken."""
HIGHEST_RATIO = 10.0
"""Humidity ratio [kg/kg] that stands for air which water at this temperature cannot saturate: it boils."""


@kernel
def log_pressure_over_water(temperature: float) -> float:
    """Logarithm of the saturation pressure over liquid water in Pa, from temperature [K] [1]."""
    t = temperature
    return (
        -5.8002206e3 / t
        + 1.3914993
        + t * (-4.8640239e-2 + t * (4.1764768e-5 - 1.4452093e-8 * t))
        + 6.5459673 * math.log(t)
    )


@kernel
def log_pressure_over_ice(temperature: float) -> float:
    """Logarithm of the saturation pressure over ice in Pa, from temperature [K] [1]."""
    t = temperature
    return (
        -5.6745359e3 / t
        + 6.3925247
        + t * (-9.6778430e-3 + t * (6.2215701e-7 + t * (2.0747825e-9 - 9.4840240e-13 * t)))
        + 4.1635019 * math.log(t)
    )


@kernel
def log_saturation_pressure(temperature: float) -> float:
    """Logarithm of the saturation pressure in Pa: over ice where that is the lower one, else over water.

    The two curves cross at the triple point, so the lower of both has no jump.
    """
    t = min(max(temperature, LOWEST_SATURATION), HIGHEST_SATURATION)
    if t > ZERO_CELSIUS + 1.0:
        return log_pressure_over_water(t)
    return min(log_pressure_over_water(t), log_pressure_over_ice(t))


@kernel
def saturation_pressure(temperature: float) -> float:
    """Saturation pressure of water vapour [Pa] over water or ice, from temperature [K] [1]."""
    return math.exp(log_saturation_pressure(temperature))


@kernel
def log_saturation_slope(temperature: float) -> float:
    """Slope of the logarithm of the saturation pressure over temperature [1/K], derived from [1]."""
    t = min(max(temperature, LOWEST_SATURATION), HIGHEST_SATURATION)
    if t > ZERO_CELSIUS + 1.0 or log_pressure_over_water(t) < log_pressure_over_ice(t):
        return (5.8002206e3 / t + 6.5459673) / t - 4.8640239e-2 + t * (8.3529536e-5 - 4.3356279e-8 * t)
    return (
        (5.6745359e3 / t + 4.1635019) / t
        - 9.6778430e-3
        + t * (1.24431402e-6 + t * (6.2243475e-9 - 3.7936096e-12 * t))
    )


@kernel
def vapour_pressure(ratio: float, pressure: float) -> float:
    """Partial pressure of the vapour [Pa] from humidity ratio [kg/kg] and total pressure [Pa]."""
    return pressure * ratio / (MOLAR_RATIO + ratio)


@kernel
def humidity_ratio(partial: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] from vapour pressure and total pressure [Pa], at most `HIGHEST_RATIO`."""
    dry = pressure - partial
    if dry * HIGHEST_RATIO <= MOLAR_RATIO * partial:
        return HIGHEST_RATIO
    return MOLAR_RATIO * partial / dry


@kernel
def saturation_ratio(temperature: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] of saturated air at a temperature [K] and total pressure [Pa]."""
    return humidity_ratio(saturation_pressure(temperature), pressure)


@kernel
def saturation_ratio_slope(temperature: float, pressure: float) -> float:
    """Slope of the humidity ratio at saturation over temperature [kg/(kg.K)]; 0 where it is held."""
    if temperature < LOWEST_SATURATION or temperature > HIGHEST_SATURATION:
        return 0.0
    partial = saturation_pressure(temperature)
    dry = pressure - partial
    if dry * HIGHEST_RATIO <= MOLAR_RATIO * partial:
        return 0.0
    return MOLAR_RATIO * pressure / (dry * dry) * partial * log_saturation_slope(temperature)


@kernel
def ratio_at_relative_humidity(relative_humidity: float, temperature: float, pressure: float) -> float:
    """Humidity ratio [kg/kg] from relative humidity [-] (0 to 1), temperature [K] and pressure [Pa]."""
    return humidity_ratio(relative_humidity * saturation_pressure(temperature), pressure)


@kernel
def relative_humidity(ratio: float, temperature: float, pressure: float) -> float:
    """Relative humidity [-] from humidity ratio [kg/kg], temperature [K] and pressure [Pa].

    Vapour pressure over saturation pressure; over 1 where the air would drop mist, and over ice below 0 degC.
    """
    return vapour_pressure(ratio, pressure) / saturation_pressure(temperature)


@kernel
def saturation_temperature(partial: float) -> float:
    """Temperature [K] at which water vapour of a partial pressure [Pa] is saturated, over water or ice.

    Newton steps in 1/T, over which the logarithm of the pressure is nearly straight, from the Magnus line;
    held to the range of the saturation pressure, also for air without vapour.
    """
    if partial <= saturation_pressure(LOWEST_SATURATION):
        return LOWEST_SATURATION
    if partial >= saturation_pressure(HIGHEST_SATURATION):
        return HIGHEST_SATURATION
    wanted = math.log(partial)
    line = wanted - 6.4147
    t = ZERO_CELSIUS + 243.12 * line / (17.62 - line)
    t = min(max(t, LOWEST_SATURATION), HIGHEST_SATURATION)
    for _ in range(5):
        change = (log_saturation_pressure(t) - wanted) / (t * log_saturation_slope(t))
        t = min(max(t / (1.0 + change), LOWEST_SATURATION), HIGHEST_SATURATION)
        if abs(change) < 1e-13:
            break
    return t


@kernel
def dew_point(ratio: float, pressure: float) -> float:
    """Dew point, below 0 degC frost point [K], from humidity ratio [kg/kg] and total pressure [Pa]."""
    return saturation_temperature(vapour_pressure(ratio, pressure))


@kernel
def enthalpy(temperature: float, ratio: float) -> float:
    """Enthalpy [J per kg of dry air] above dry air and liquid water at 0 degC [2]."""
    t = temperature - ZERO_CELSIUS
    return AIR_HEAT_CAPACITY * t + ratio * (VAPORISATION_HEAT + VAPOUR_HEAT_CAPACITY * t)


@kernel
def temperature_at_enthalpy(content: float, ratio: float) -> float:
    """Temperature [K] from enthalpy [J per kg of dry air] and humidity ratio [kg/kg]; undoes `enthalpy`."""
    capacity = AIR_HEAT_CAPACITY + ratio * VAPOUR_HEAT_CAPACITY
    return ZERO_CELSIUS + (content - ratio * VAPORISATION_HEAT) / capacity


@kernel
def latent_heat(temperature: float) -> float:
    """Heat [J/kg] set free when vapour turns to liquid water at a temperature [K].

    The difference between the enthalpies of vapour and water in [2]; within 0.6 % of the steam tables up to
    100 degC.
    """
    slope = VAPOUR_HEAT_CAPACITY - WATER_HEAT_CAPACITY
    return VAPORISATION_HEAT + slope * (temperature - ZERO_CELSIUS)


@kernel
def sublimation_heat(temperature: float) -> float:
    """Heat [J/kg] set free when vapour turns to frost at a temperature [K]."""
    slope = VAPOUR_HEAT_CAPACITY - ICE_HEAT_CAPACITY
    return VAPORISATION_HEAT + FUSION_HEAT + slope * (temperature - ZERO_CELSIUS)


@kernel
def moist_heat_capacity(ratio: float, temperature: float) -> float:
    """Heat capacity [J/K per kg of dry air] of moist air, with that of dry air at a temperature [K]."""
    return heat_capacity(within_fit(temperature)) + ratio * VAPOUR_HEAT_CAPACITY


@kernel
def moist_density(temperature: float, ratio: float, pressure: float) -> float:
    """Density [kg of moist air per m3] as an ideal mixture; dry air per m3 is this over (1 + ratio)."""
    return pressure * (1.0 + ratio) / (GAS_CONSTANT * temperature * (1.0 + ratio / MOLAR_RATIO))


@kernel
def vapour_diffusivity(temperature: float, pressure: float) -> float:
    """Diffusivity [m2/s] of water vapour in air from temperature [K] and pressure [Pa] [3]."""
    t = within_fit(temperature)
    at_one_atmosphere = 1.87e-10 * t**2.072 if t < 450.0 else 2.75e-9 * t**1.632
    diffusivity: float = at_one_atmosphere * 101325.0 / pressure
    return diffusivity


@kernel
def lewis_number(temperature: float) -> float:
    """Thermal diffusivity of air over the diffusivity of vapour in it [-]; the pressure cancels out."""
    t = within_fit(temperature)
    thermal = conductivity(t) * GAS_CONSTANT * t / (101325.0 * heat_capacity(t))
    return thermal / vapour_diffusivity(t, 101325.0)


@kernel
def mass_transfer_coefficient(film: float, ratio: float, temperature: float) -> float:
    """Vapour moved per wall area and difference of humidity ratio [kg/(m2.s)], by the Lewis relation [4].

    `film` [W/(m2.K)] over moist heat capacity and Le^(2/3), both at the air's temperature [K]; for the thin
    vapour of room air. The flow to a wet wall is this times (ratio of the air - ratio saturated at the wall):
    above 0 water settles there, below 0 it dries off.
    """
    root = math.pow(lewis_number(temperature), 1.0 / 3.0)
    return film / (moist_heat_capacity(ratio, temperature) * root * root)
