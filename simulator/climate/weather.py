"""The weather of a case: outside temperature and sun on the horizontal over time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.schema_site import ConstantWeather, CsvWeather, DailyWaveWeather, Tmy3Weather
from simulator.case.timetable import TICKS_PER_DAY, TICKS_PER_SECOND
from simulator.climate.series import Constant, DailyCosine, DailyHalfSine, Series, Shifted, Tabulated
from simulator.climate.table import tabulated, value_column
from simulator.climate.tmy3_file import HourlyDays, read_tmy3
from simulator.errors import CaseError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from simulator.case.schema import Case

ZERO_CELSIUS = 273.15
HOUR = 3600 * TICKS_PER_SECOND
NIGHT_OFFSET = 10.0
"""A pyranometer looking at a clear night sky reads this far below nothing at most [W/m2]."""


@dataclass(frozen=True)
class Weather:
    """Outside temperature and sun; times are ticks since the start of the case, negative in a run-in.

    Where a file holds nothing before the first tick asked for, its first 24 hours are repeated backwards.

    Attributes
    ----------
    temperature : Series [K]
    sun : Series [W/m2]
        On the horizontal.
    """

    temperature: Series
    sun: Series

    def temperature_at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the outside temperature [K] at each of the (...) ticks."""
        return self.temperature.at(ticks)

    def mean_temperature(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the exact mean outside temperature [K] from each (...) `begin` to `end` [ticks]."""
        return self.temperature.mean(begin, end)

    def sun_at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the sun on the horizontal [W/m2] at each of the (...) ticks."""
        return self.sun.at(ticks)

    def mean_sun(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the exact mean sun on the horizontal [W/m2] from each (...) `begin` to `end` [ticks]."""
        return self.sun.mean(begin, end)


def from_case(case: Case) -> Weather:
    """Return the weather of a case, as warm or cold as its `shift` makes it.

    Parameters
    ----------
    case : Case

    Returns
    -------
    Weather

    Raises
    ------
    CaseError
        When a weather file cannot be used or does not cover the period.
    """
    found, shift = _as_told(case), getattr(case.weather, "shift", 0.0)
    return replace(found, temperature=Shifted(found.temperature, shift)) if shift else found


def _as_told(case: Case) -> Weather:
    weather, start = case.weather, case.site.start
    end = round(case.site.duration * TICKS_PER_SECOND)
    begin = -round(case.ground.run_in * TICKS_PER_SECOND)
    if isinstance(weather, ConstantWeather):
        return Weather(Constant(weather.temperature), Constant(weather.sun))
    if isinstance(weather, DailyWaveWeather):
        return _daily_wave(weather, start)
    if isinstance(weather, CsvWeather):
        return _from_table(case, weather)
    return _from_days(read_tmy3(case.resolve(weather.file), weather.file), weather, start, begin, end)


def _since_midnight(start: dt.datetime) -> int:
    """Return the ticks from the midnight before `start` to `start`."""
    midnight = dt.datetime.combine(start.date(), dt.time())
    return (start - midnight) // dt.timedelta(milliseconds=1)


def _daily_wave(weather: DailyWaveWeather, start: dt.datetime) -> Weather:
    offset = _since_midnight(start)

    def tick_of(time_of_day: int) -> int:
        return time_of_day * TICKS_PER_SECOND - offset

    length = (weather.sunset - weather.sunrise) * TICKS_PER_SECOND
    return Weather(
        DailyCosine(weather.mean, weather.amplitude, tick_of(weather.warmest_at)),
        DailyHalfSine(weather.sun_peak, tick_of(weather.sunrise), length),
    )


def _from_table(case: Case, weather: CsvWeather) -> Weather:
    chosen = weather.columns
    columns = [value_column(chosen.temperature, "temperature", 183.15, 338.15, "-90 to 65 degC")]
    if chosen.sun is not None:
        columns.append(value_column(chosen.sun, "heat flux", -NIGHT_OFFSET, 1500.0, "0 to 1500 W/m2"))
    series = tabulated(case, weather.file, chosen.time, columns)
    if chosen.sun is None:
        return Weather(series[0], Constant(0.0))
    sun = series[1]
    return Weather(series[0], Tabulated(sun.knots, np.maximum(sun.left, 0.0), np.maximum(sun.right, 0.0)))


def _from_days(days: HourlyDays, weather: Tmy3Weather, start: dt.datetime, begin: int, end: int) -> Weather:
    """Lay hourly days along the dates of a case.

    The year wraps round. The temperature at the midnight before the first day of a file of some days is that
    of its first hour.
    """
    midnight = -_since_midnight(start)
    first = (midnight - begin + TICKS_PER_DAY - 1) // TICKS_PER_DAY if begin < midnight else 0
    dates = [
        start.date() + dt.timedelta(days=number)
        for number in range(-first, (end - midnight - 1) // TICKS_PER_DAY + 1)
    ]
    chosen = [days.day_for(date) for date in dates]
    for date, day in zip(dates[first:], chosen[first:], strict=True):
        if day is None:
            raise CaseError(
                f"holds no {date.month:02d}/{date.day:02d}, but the case runs through it",
                file=weather.file,
                fix="change the start or the duration of the case, or use a file of the full year",
            )
    # Of the run-in, keep the days without a gap up to the start; Tabulated repeats the first of them.
    missing = [place for place, day in enumerate(chosen[:first]) if day is None]
    skipped = missing[-1] + 1 if missing else 0
    kept = [day for day in chosen[skipped:] if day is not None]
    before = days.day_for(dates[skipped] - dt.timedelta(days=1))
    hours = np.concatenate([days.temperature[day] for day in kept]) + ZERO_CELSIUS
    opening = hours[0] if before is None else days.temperature[before][-1] + ZERO_CELSIUS
    knots = midnight + (skipped - first) * TICKS_PER_DAY + HOUR * np.arange(hours.size + 1, dtype=np.int64)
    return Weather(
        Tabulated.through(knots, np.concatenate([[opening], hours])),
        Tabulated.steps(knots, np.concatenate([days.sun[day] for day in kept])),
    )
