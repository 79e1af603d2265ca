"""The weather besides temperature and sun, cell by cell: sky, humidity, wind, with defaults where unknown."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import TICKS_PER_DAY, TICKS_PER_SECOND
from simulator.climate.cells import end_of
from simulator.climate.weather import since_midnight
from simulator.physics import air, moist_air, sky

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.climate.series import Series
    from simulator.climate.weather import Weather

ASSUMED_HUMIDITY = 0.8
"""Relative humidity outside [-] where neither weather nor ``[moisture]`` says it: that of a damp cool
season."""
ASSUMED_WIND = 3.0
"""Wind [m/s] where the weather does not say it: a light breeze."""
ASSUMED_CLOUD = 0.0
"""Share of the sky covered where the weather does not say it: clear, the cold side."""


@dataclass(frozen=True, eq=False)
class Surroundings:
    """Means over n cells.

    Attributes
    ----------
    temperature, sky : (n,) float [K]
        Of the outside air; of a black sky that radiates as the real one.
    ratio : (n,) float [kg/kg]
        Humidity ratio outside.
    wind : (n,) float [m/s]
    """

    temperature: NDArray[np.float64]
    sky: NDArray[np.float64]
    ratio: NDArray[np.float64]
    wind: NDArray[np.float64]


def surroundings(case: Case, weather: Weather, edges: NDArray[np.int64]) -> Surroundings:
    """Return the surroundings of a house over cells between (n + 1,) `edges` [ticks].

    The dew point is that of the mean temperature and humidity; the hour of the sky's daily swing is the
    clock's.
    """
    begin, end = edges[:-1], np.minimum(edges[1:], end_of(case))
    held = case.moisture.outside_humidity if case.moisture is not None else ASSUMED_HUMIDITY
    temperature = weather.mean_temperature(begin, end)
    # A mean of full hours may pass 1 by rounding.
    humidity = np.minimum(_means(weather.humidity, held, begin, end), 1.0)
    pressure = float(air.pressure_at(case.site.elevation))
    ratio = moist_air.humidity_ratio(humidity, temperature, pressure)
    middle = begin + (end - begin) // 2 + since_midnight(case.site.start)
    hour = np.mod(middle, TICKS_PER_DAY) / (3600.0 * TICKS_PER_SECOND)
    emissivity = sky.clear_sky_emissivity(moist_air.dew_point(ratio, pressure), hour, pressure)
    cloud = _means(weather.cloud, ASSUMED_CLOUD, begin, end)
    return Surroundings(
        temperature,
        sky.sky_temperature(temperature, emissivity, cloud),
        ratio,
        _means(weather.wind, ASSUMED_WIND, begin, end),
    )


def _means(
    series: Series | None, otherwise: float, begin: NDArray[np.int64], end: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Return the means of a series, or the value assumed in its place."""
    return np.full(begin.shape, otherwise) if series is None else series.mean(begin, end)
