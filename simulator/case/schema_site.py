"""The ``[site]`` and ``[weather]`` tables: where and when, and what the sky does."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case import units
from simulator.case.fields import Moment, Quantity, Table, TimeOfDay, Words, refuse
from simulator.errors import CaseError

TWENTY_YEARS = 631152000.0

AirTemperature = Annotated[float, Quantity(173.15, 423.15, dimension="temperature")]
Sun = Annotated[float, Quantity(0.0, 1500.0, dimension="heat flux")]
Shift = Annotated[float, Quantity(-100.0, 100.0, dimension="temperature difference")]


class Site(Table):
    """Place and period."""

    name: Annotated[str, Words(empty=True)] = Field("", description="name of the place")
    elevation: Annotated[float, Quantity(-400.0, 5000.0)] = Field(0.0, description="height above the sea")
    start: Annotated[dt.datetime, Moment()] = Field(description="local date and time of the start")
    duration: Annotated[float, Quantity(1.0, TWENTY_YEARS, dimension="time")] = Field(
        description="time simulated"
    )


class ConstantWeather(Table):
    """Outside air that never changes."""

    kind: Literal["constant"] = "constant"
    temperature: AirTemperature = Field(description="outside air temperature")
    sun: Sun = Field(0.0, description="sun on a horizontal surface")


class DailyWaveWeather(Table):
    """The same day over and over: a cosine of temperature and half a sine of sun."""

    kind: Literal["daily wave"] = "daily wave"
    mean: AirTemperature = Field(description="mean outside air temperature")
    amplitude: Annotated[float, Quantity(0.0, 60.0, dimension="temperature difference")] = Field(
        description="half the daily swing"
    )
    warmest_at: Annotated[int, TimeOfDay()] = Field(54000, description="time of day of the warmest air")
    sun_peak: Sun = Field(0.0, description="sun on a horizontal surface midway between sunrise and sunset")
    sunrise: Annotated[int, TimeOfDay()] = Field(25200, description="time of day")
    sunset: Annotated[int, TimeOfDay()] = Field(61200, description="time of day")

    @model_validator(mode="after")
    def _day(self) -> DailyWaveWeather:
        if self.sunset <= self.sunrise:
            raise refuse("must be later than sunrise", key="sunset")
        return self


class TimeColumn(Table):
    """The column of time in a table of values: dates with a format, or numbers counted from the start."""

    column: Annotated[str, Words()] = Field(description="heading of the column")
    format: Annotated[str, Words()] | None = Field(
        None, description="date pattern such as %Y-%m-%d %H:%M; left out: ISO dates"
    )
    unit: Literal["s", "min", "h"] | None = Field(
        None, description="numbers counted from the start, in this unit"
    )

    @model_validator(mode="after")
    def _one(self) -> TimeColumn:
        if self.format is not None and self.unit is not None:
            raise refuse("is given beside unit", key="format", fix="give format for dates, unit for numbers")
        return self


def _unit_of(dimension: str, unit: str) -> None:
    try:
        units.scale_and_zero(unit, dimension)
    except CaseError as error:
        raise refuse(error.problem, key="unit", fix=error.fix) from None


class TemperatureColumn(Table):
    """A column of temperatures."""

    column: Annotated[str, Words()] = Field(description="heading of the column")
    unit: Annotated[str, Words()] = Field(description="unit of the numbers in it")

    @model_validator(mode="after")
    def _known(self) -> TemperatureColumn:
        _unit_of("temperature", self.unit)
        return self


class SunColumn(Table):
    """A column of sun on a horizontal surface."""

    column: Annotated[str, Words()] = Field(description="heading of the column")
    unit: Annotated[str, Words()] = Field("W/m2", description="unit of the numbers in it")

    @model_validator(mode="after")
    def _known(self) -> SunColumn:
        _unit_of("heat flux", self.unit)
        return self


class WeatherColumns(Table):
    """Which column holds what."""

    time: TimeColumn = Field(description="column of time")
    temperature: TemperatureColumn = Field(description="column of outside air temperature")
    sun: SunColumn | None = Field(None, description="column of sun on a horizontal surface")


class CsvWeather(Table):
    """Weather from a table of comma-separated values."""

    kind: Literal["csv"] = "csv"
    file: Annotated[str, Words(1000)] = Field(description="file, relative to the case file")
    columns: WeatherColumns = Field(description="which column holds what")
    shift: Shift = Field(0.0, description="added to every outside temperature; negative: a colder spell")


class Tmy3Weather(Table):
    """Weather from a file in the public TMY3 format; the year is ignored, month, day and hour count."""

    kind: Literal["tmy3"] = "tmy3"
    file: Annotated[str, Words(1000)] = Field(description="file, relative to the case file")
    shift: Shift = Field(0.0, description="added to every outside temperature; negative: a colder spell")


Weather = Annotated[
    ConstantWeather | DailyWaveWeather | CsvWeather | Tmy3Weather, Field(discriminator="kind")
]
