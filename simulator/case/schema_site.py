"""The ``[site]`` and ``[weather]`` tables: where and when, and what the sky does."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from simulator.case import units
from simulator.case.fields import Angle, Moment, Number, Quantity, Table, TimeOfDay, Words, refuse
from simulator.errors import CaseError

TWENTY_YEARS = 631152000.0

AirTemperature = Annotated[float, Quantity(173.15, 423.15, dimension="temperature")]
Sun = Annotated[float, Quantity(0.0, 1500.0, dimension="heat flux")]
Shift = Annotated[float, Quantity(-100.0, 100.0, dimension="temperature difference")]
Wind = Annotated[float, Quantity(0.0, 60.0, dimension="velocity")]
WeatherShare = Annotated[float, Number(0.0, 1.0)]
#: units of the numbers in a column -> what they are multiplied by to make a share
HUMIDITY_UNITS = {"%": 0.01, "share": 1.0}
CLOUD_UNITS = {"%": 0.01, "share": 1.0, "tenths": 0.1, "eighths": 0.125}


class Site(Table):
    """Place and period."""

    name: Annotated[str, Words(empty=True)] = Field("", description="name of the place")
    elevation: Annotated[float, Quantity(-400.0, 5000.0)] = Field(0.0, description="height above the sea")
    latitude: Annotated[float, Angle(-90.0, 90.0)] | None = Field(
        None, description="north of the equator; needed for sun on surfaces"
    )
    longitude: Annotated[float, Angle(-180.0, 180.0)] | None = Field(
        None, description="east of Greenwich, west of it negative; needed for sun on surfaces"
    )
    time_zone: Annotated[float, Number(-13.0, 15.0)] | None = Field(
        None, description="hours that local standard time is ahead of UTC, behind negative"
    )
    start: Annotated[dt.datetime, Moment()] = Field(description="local date and time of the start")
    duration: Annotated[float, Quantity(1.0, TWENTY_YEARS, dimension="time")] = Field(
        description="time simulated"
    )


class ConstantWeather(Table):
    """Outside air that never changes."""

    kind: Literal["constant"] = "constant"
    temperature: AirTemperature = Field(description="outside air temperature")
    sun: Sun = Field(0.0, description="sun on a horizontal surface")
    wind: Wind | None = Field(None, description="wind speed; left out: a light breeze")
    cloud: WeatherShare | None = Field(None, description="part of the sky that clouds cover")


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
    wind: Wind | None = Field(None, description="wind speed; left out: a light breeze")
    cloud: WeatherShare | None = Field(None, description="part of the sky that clouds cover")

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


class HumidityColumn(Table):
    """A column of relative humidity."""

    column: Annotated[str, Words()] = Field(description="heading of the column")
    unit: Literal["%", "share"] = Field("%", description="what the numbers in it count in")

    @property
    def factor(self) -> float:
        """What a number is multiplied by to make a share."""
        return HUMIDITY_UNITS[self.unit]


class CloudColumn(Table):
    """A column of the part of the sky that clouds cover."""

    column: Annotated[str, Words()] = Field(description="heading of the column")
    unit: Literal["%", "share", "tenths", "eighths"] = Field(
        "tenths", description="what the numbers in it count in"
    )

    @property
    def factor(self) -> float:
        """What a number is multiplied by to make a share."""
        return CLOUD_UNITS[self.unit]


class WindColumn(Table):
    """A column of wind speed."""

    column: Annotated[str, Words()] = Field(description="heading of the column")
    unit: Annotated[str, Words()] = Field("m/s", description="unit of the numbers in it")

    @model_validator(mode="after")
    def _known(self) -> WindColumn:
        _unit_of("velocity", self.unit)
        return self


class WeatherColumns(Table):
    """Which column holds what."""

    time: TimeColumn = Field(description="column of time")
    temperature: TemperatureColumn = Field(description="column of outside air temperature")
    sun: SunColumn | None = Field(None, description="column of sun on a horizontal surface")
    beam: SunColumn | None = Field(
        None, description="column of direct sun on a surface that faces it; needs diffuse"
    )
    diffuse: SunColumn | None = Field(
        None, description="column of diffuse sun on a horizontal surface; needs beam"
    )
    humidity: HumidityColumn | None = Field(None, description="column of relative humidity outside")
    wind: WindColumn | None = Field(None, description="column of wind speed")
    cloud: CloudColumn | None = Field(None, description="column of the sky's part covered by clouds")

    @model_validator(mode="after")
    def _both(self) -> WeatherColumns:
        for key, other in (("beam", "diffuse"), ("diffuse", "beam")):
            if getattr(self, key) is not None and getattr(self, other) is None:
                raise refuse(f"needs {other} beside it", key=key)
        return self


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
