"""The weather of a case: outside temperature and sun over time, and humidity, wind and clouds where known."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.schema_site import ConstantWeather, CsvWeather, DailyWaveWeather, Tmy3Weather
from simulator.case.timetable import TICKS_PER_DAY, TICKS_PER_SECOND
from simulator.climate.csv_series_file import ValueColumn
from simulator.climate.series import Constant, DailyCosine, DailyHalfSine, Series, Shifted, Tabulated
from simulator.climate.table import tabulated, value_column
from simulator.climate.tmy3_file import (
    BEAM,
    CLOUD,
    DIFFUSE,
    HUMIDITY,
    MORE,
    WIND,
    HourlyDays,
    Place,
    read_tmy3,
)
from simulator.errors import CaseError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from simulator.case.schema import Case
    from simulator.case.schema_site import SunColumn

ZERO_CELSIUS = 273.15
HOUR = 3600 * TICKS_PER_SECOND
NIGHT_OFFSET = 10.0
"""A pyranometer looking at a clear night sky reads this far below nothing at most [W/m2]."""


@dataclass(frozen=True)
class Weather:
    """Outside temperature and sun; times are ticks since the start of the case, negative in a run-in.

    Where a file holds nothing before the first tick asked for, its first 24 hours are repeated backwards.
    What the case does not say is None.

    Attributes
    ----------
    temperature : Series [K]
    sun : Series [W/m2]
        On the horizontal.
    humidity : Series [-] or None
        Relative.
    wind : Series [m/s] or None
    cloud : Series [-] or None
        Share of the sky that is covered.
    beam, diffuse : Series [W/m2] or None
        Direct sun on a surface that faces it; diffuse sun on the horizontal. Both or none.
    sun_interval : int [ticks]
        Sun, beam and diffuse are means over intervals of this length that end on whole multiples of it after
        midnight; 0 where they are values of their moment.
    place : Place or None
        Where the weather was measured.
    """

    temperature: Series
    sun: Series
    humidity: Series | None = None
    wind: Series | None = None
    cloud: Series | None = None
    beam: Series | None = None
    diffuse: Series | None = None
    sun_interval: int = 0
    place: Place | None = None

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
        return Weather(
            Constant(weather.temperature),
            Constant(weather.sun),
            wind=_constant(weather.wind),
            cloud=_constant(weather.cloud),
        )
    if isinstance(weather, DailyWaveWeather):
        return _daily_wave(weather, start)
    if isinstance(weather, CsvWeather):
        return _from_table(case, weather)
    # Other columns count only for a house: a file may have gaps in them.
    more = MORE if case.room.kind == "house" else ()
    days = read_tmy3(case.resolve(weather.file), weather.file, more)
    return _from_days(days, weather, start, begin, end)


def _constant(value: float | None) -> Constant | None:
    return None if value is None else Constant(value)


def since_midnight(start: dt.datetime) -> int:
    """Return the ticks from the midnight before `start` to `start`."""
    midnight = dt.datetime.combine(start.date(), dt.time())
    return (start - midnight) // dt.timedelta(milliseconds=1)


def _daily_wave(weather: DailyWaveWeather, start: dt.datetime) -> Weather:
    offset = since_midnight(start)

    def tick_of(time_of_day: int) -> int:
        return time_of_day * TICKS_PER_SECOND - offset

    length = (weather.sunset - weather.sunrise) * TICKS_PER_SECOND
    return Weather(
        DailyCosine(weather.mean, weather.amplitude, tick_of(weather.warmest_at)),
        DailyHalfSine(weather.sun_peak, tick_of(weather.sunrise), length),
        wind=_constant(weather.wind),
        cloud=_constant(weather.cloud),
    )


def _from_table(case: Case, weather: CsvWeather) -> Weather:
    chosen = weather.columns
    reading = value_column(chosen.temperature, "temperature", 183.15, 338.15, "-90 to 65 degC")
    columns = {"temperature": reading}
    for name in ("sun", "beam", "diffuse"):
        column: SunColumn | None = getattr(chosen, name)
        if column is not None:
            columns[name] = value_column(column, "heat flux", -NIGHT_OFFSET, 1500.0, "0 to 1500 W/m2")
    if chosen.humidity is not None:
        columns["humidity"] = ValueColumn(
            chosen.humidity.column, chosen.humidity.factor, 0.0, 0.0, 1.05, "0 to 100 %"
        )
    if chosen.wind is not None:
        columns["wind"] = value_column(chosen.wind, "velocity", 0.0, 100.0, "0 to 100 m/s")
    if chosen.cloud is not None:
        columns["cloud"] = ValueColumn(
            chosen.cloud.column, chosen.cloud.factor, 0.0, 0.0, 1.0, "none to the whole sky"
        )
    tables = tabulated(case, weather.file, chosen.time, list(columns.values()))
    series = dict(zip(columns, tables, strict=True))
    for name in ("sun", "beam", "diffuse"):
        if name in series:
            series[name] = _held(series[name], 0.0, math.inf)
    if "humidity" in series:
        series["humidity"] = _held(series["humidity"], 0.0, 1.0)
    return Weather(
        series["temperature"],
        series.get("sun", Constant(0.0)),
        humidity=series.get("humidity"),
        wind=series.get("wind"),
        cloud=series.get("cloud"),
        beam=series.get("beam"),
        diffuse=series.get("diffuse"),
    )


def _held(table: Tabulated, low: float, high: float) -> Tabulated:
    """Return a table with its values held within bounds."""
    return Tabulated(table.knots, np.clip(table.left, low, high), np.clip(table.right, low, high))


def _from_days(days: HourlyDays, weather: Tmy3Weather, start: dt.datetime, begin: int, end: int) -> Weather:
    """Lay hourly days along the dates of a case.

    The year wraps round. The temperature at the midnight before the first day of a file of some days is that
    of its first hour.
    """
    midnight = -since_midnight(start)
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

    def means(heading: str, factor: float = 1.0) -> Tabulated | None:
        found = days.more.get(heading)
        return (
            None
            if found is None
            else Tabulated.steps(knots, factor * np.concatenate([found[day] for day in kept]))
        )

    def through(heading: str, factor: float = 1.0) -> Tabulated | None:
        found = days.more.get(heading)
        if found is None:
            return None
        values = np.concatenate([found[day] for day in kept])
        first_value = values[0] if before is None else found[before][-1]
        return Tabulated.through(knots, factor * np.concatenate([[first_value], values]))

    beam, diffuse = means(BEAM), means(DIFFUSE)
    return Weather(
        Tabulated.through(knots, np.concatenate([[opening], hours])),
        Tabulated.steps(knots, np.concatenate([days.sun[day] for day in kept])),
        humidity=through(HUMIDITY, 0.01),
        wind=through(WIND),
        cloud=through(CLOUD, 0.1),
        beam=beam if diffuse is not None else None,
        diffuse=diffuse if beam is not None else None,
        sun_interval=HOUR,
        place=days.place_on_earth,
    )
