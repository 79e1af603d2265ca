"""The ``[timetable]``, ``[numerics]`` and ``[output]`` tables."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal, get_args

from pydantic import BeforeValidator, Field, model_validator

from simulator.case.fields import Flag, Moment, Number, OrWords, Quantity, Table, TimeOfDay, Whole, refuse

Word = Literal["on", "off"]
_ON_OFF = ("on", "off")
Day = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
DAYS: tuple[Day, ...] = get_args(Day)
ShareSetting = Annotated[float | Word, OrWords(_ON_OFF, Number(0.0, 1.0))]
LoadMass = Annotated[float, Quantity(0.0, 1000.0, above=True, dimension="mass")]
FanSetting = Annotated[float | Word, OrWords(_ON_OFF, Number(0.0, 1.5))]
HeatSetting = Annotated[float | Word, OrWords(_ON_OFF, Quantity(0.0, 1e7, dimension="power"))]
SupplySetting = Annotated[
    float | Literal["off"], OrWords(("off",), Quantity(173.15, 773.15, dimension="temperature"))
]


def _plain(word: object) -> object:
    """Letter case does not count."""
    return word.strip().lower() if isinstance(word, str) else word


class Settings(Table):
    """What a timetable entry may set; fan speeds are shares of the full flow."""

    fan: FanSetting | None = Field(None, description="on, off, or a share of the full flow")
    heat: HeatSetting | None = Field(None, description="on, off, or a power")
    supply_temperature: SupplySetting | None = Field(
        None, description="a temperature to bring the air to, or off (the same as heat off)"
    )
    feed: ShareSetting | None = Field(
        None, description="steady fire: on, off, or a share of the full burning rate"
    )
    pump: ShareSetting | None = Field(None, description="on, off, or a share of the full water flow")
    cover: ShareSetting | None = Field(
        None, description="night cover on, off, or on over a share of its area"
    )

    @model_validator(mode="after")
    def _one_heat(self) -> Settings:
        if self.heat is not None and self.supply_temperature is not None:
            raise refuse("is given beside heat", key="supply_temperature", fix="give one or the other")
        return self

    @property
    def sets_heat(self) -> bool:
        """Whether heat or supply_temperature is given."""
        return self.heat is not None or self.supply_temperature is not None


class Entry(Settings):
    """A setting made at some time."""

    load: LoadMass | None = Field(None, description="fuel laid on at that moment, as it comes with its water")

    @model_validator(mode="after")
    def _something(self) -> Entry:
        channels = (self.fan, self.feed, self.pump, self.cover, self.load)
        if all(setting is None for setting in channels) and not self.sets_heat:
            raise refuse("sets nothing", fix="give fan, heat, supply_temperature, load, feed, pump or cover")
        return self


class DailyEntry(Entry):
    """A setting made at one time of every day."""

    at: Annotated[int, TimeOfDay()] = Field(description="time of day")


class WeeklyEntry(Entry):
    """A setting made at one time of one day of every week."""

    day: Annotated[Day, BeforeValidator(_plain)] = Field(description="day of the week")
    at: Annotated[int, TimeOfDay()] = Field(description="time of day")

    @property
    def second_of_week(self) -> int:
        """Seconds since the midnight before Monday."""
        return DAYS.index(self.day) * 86400 + self.at


class DatedEntry(Entry):
    """A setting made once."""

    at: Annotated[dt.datetime, Moment()] = Field(description="date and time")


class TimetableTable(Table):
    """Switching by the clock."""

    start: Settings = Field(default_factory=Settings, description="settings at the start of the run")
    daily: Annotated[list[DailyEntry], Field(max_length=288)] = Field(
        default_factory=list, description="settings made every day"
    )
    weekly: Annotated[list[WeeklyEntry], Field(max_length=2016)] = Field(
        default_factory=list, description="settings made every week"
    )
    dated: Annotated[list[DatedEntry], Field(max_length=10000)] = Field(
        default_factory=list, description="settings made once"
    )

    @model_validator(mode="after")
    def _rising(self) -> TimetableTable:
        for number in range(1, len(self.daily)):
            if self.daily[number].at <= self.daily[number - 1].at:
                raise refuse("must be later than the entry before it", key=f"daily[{number + 1}].at")
        for number in range(1, len(self.weekly)):
            if self.weekly[number].second_of_week <= self.weekly[number - 1].second_of_week:
                raise refuse(
                    "must be later in the week than the entry before it",
                    key=f"weekly[{number + 1}].at",
                    fix="the week begins with monday",
                )
        for number in range(1, len(self.dated)):
            if self.dated[number].at <= self.dated[number - 1].at:
                raise refuse("must be later than the entry before it", key=f"dated[{number + 1}].at")
        return self


class Numerics(Table):
    """How finely to compute."""

    step: Annotated[float, Quantity(0.1, 21600.0, dimension="time")] = Field(300.0, description="time step")
    steps: Literal["fixed", "as needed"] = Field(
        "fixed", description="whether steps grow while nothing switches"
    )
    stations: Annotated[int, Whole(1, 400)] = Field(24, description="sections along the ducts")
    cell_scale: Annotated[float, Number(0.2, 4.0)] = Field(
        1.0, description="scales every mesh cell; 0.5 halves"
    )
    solver: Literal["auto", "reduced", "full", "direct"] = Field(
        "auto", description="how a section is solved"
    )
    threads: Annotated[int, Whole(0, 64)] = Field(0, description="threads to use; 0: one for each processor")
    symmetry: Annotated[bool, Flag()] = Field(True, description="compute one half when both are alike")
    refine_after_switch: Annotated[bool, Flag()] = Field(True, description="shorter steps after a switch")
    tolerance: Annotated[float, Quantity(0.0, 1.0, above=True, dimension="temperature difference")] = Field(
        0.005, description="error allowed to the reduced solver"
    )


class Output(Table):
    """What is kept, and how it is shown."""

    interval: Annotated[float, Quantity(0.1, 2678400.0, dimension="time")] = Field(
        300.0, description="time between rows of the series"
    )
    fields: Annotated[float, Quantity(0.0, 31622400.0, dimension="time")] = Field(
        3600.0, description="time between pictures of the whole ground; 0 keeps none"
    )
    units: Literal["SI", "US"] = Field("SI", description="units that answers are shown in")
