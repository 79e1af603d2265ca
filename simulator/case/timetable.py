"""The timetable on the integer clock: sorted switch instants and the settings between them.

Time is counted in ticks (milliseconds) from the start of the case; negative ticks are the run-in before
it. Two channels exist, the fan and the heat; ``supply_temperature`` is another way to set the heat
channel, and the later setting holds.

Decisions:

* A setting holds until the next one of its channel, daily or dated; at the same instant the dated wins.
* Before the first event of the first day the last daily entry of the channel holds, as on any other day,
  unless ``timetable.start`` says otherwise.
* A channel that nothing mentions is on all the time (heat is off when there is no heater).
* A channel with dated entries only, the first of them after the start, needs a value in
  ``timetable.start``: nothing else says how it begins (`compile_timetable` refuses it otherwise).
* At negative ticks the daily entries repeat; without any, the value in ``timetable.start`` holds, or on.
"""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_right
from dataclasses import dataclass

from simulator.case.schema_air import NoHeat, PowerHeat, SeriesHeat, SupplyHeat
from simulator.case.schema_run import Settings, TimetableTable
from simulator.errors import CaseError

TICKS_PER_SECOND = 1000
TICKS_PER_DAY = 86400 * TICKS_PER_SECOND

HeatTable = PowerHeat | SupplyHeat | SeriesHeat | NoHeat


@dataclass(frozen=True)
class Drive:
    """Settings that hold between two switches.

    Attributes
    ----------
    fan_share : float
        Flow as a share of the full flow; 0 is off.
    heat_power : float
        Heat given to the air [W]; nan when the temperature entering the ducts is given instead.
    supply_temperature : float
        Temperature entering the ducts [K]; nan when a power is given. Both are nan while the
        temperature follows a series (``heat.kind = "supply series"``, heat on).
    """

    fan_share: float
    heat_power: float
    supply_temperature: float

    def same_as(self, other: Drive) -> bool:
        """Whether both mean the same; two nans are alike."""
        return all(
            mine == theirs or (math.isnan(mine) and math.isnan(theirs))
            for mine, theirs in (
                (self.fan_share, other.fan_share),
                (self.heat_power, other.heat_power),
                (self.supply_temperature, other.supply_temperature),
            )
        )

    @property
    def follows_series(self) -> bool:
        """Whether the temperature entering the ducts comes from the series."""
        return math.isnan(self.heat_power) and math.isnan(self.supply_temperature)


def ticks(seconds: float) -> int:
    """Return a time in ticks, to the nearest."""
    return round(seconds * TICKS_PER_SECOND)


def ticks_between(start: dt.datetime, moment: dt.datetime) -> int:
    """Return the ticks from `start` to `moment`."""
    return (moment - start) // dt.timedelta(milliseconds=1)


@dataclass(frozen=True)
class Timetable:
    """Settings as a function of the tick; build it with `compile_timetable`.

    Attributes
    ----------
    end : int
        Last tick of the run.
    """

    end: int
    _fan: _Channel
    _heat: _Channel

    def values_from(self, tick: int) -> Drive:
        """Return the settings that hold from this tick on, until the next switch."""
        fan, heat = self._fan.at(tick), self._heat.at(tick)
        return Drive(fan[0], heat[0], heat[1])

    def drive_at(self, tick: int) -> Drive:
        """Return the settings that hold from this tick on; the same as `values_from`."""
        return self.values_from(tick)

    def switches(self) -> list[int]:
        """Return the ticks inside the run, both ends left out, at which a setting changes; sorted."""
        return self.switches_between(0, self.end)

    def switches_between(self, first: int, last: int) -> list[int]:
        """Return the ticks strictly between two, negative ones too, at which a setting changes; sorted."""
        changes = {*self._fan.changes(first, last), *self._heat.changes(first, last)}
        return sorted(changes)


@dataclass(frozen=True)
class _Channel:
    """One channel: values by time of day, and values set once.

    `daily` holds (tick of the day counted from midnight, value), `dated` (tick, value); `midnight` is the
    tick of a midnight at or before the start.
    """

    midnight: int
    daily: tuple[tuple[int, tuple[float, float]], ...]
    dated: tuple[tuple[int, tuple[float, float]], ...]
    first: tuple[float, float] | None
    default: tuple[float, float]

    def at(self, tick: int) -> tuple[float, float]:
        """Return the value from this tick on."""
        day_tick, daily_value = self._daily_at(tick)
        if tick < 0:
            return daily_value
        best_tick, best = day_tick, daily_value
        if self.first is not None and best_tick < 0:
            best_tick, best = 0, self.first
        place = bisect_right(self.dated, tick, key=lambda entry: entry[0])
        if place and self.dated[place - 1][0] >= best_tick:
            best = self.dated[place - 1][1]
        return best

    def _daily_at(self, tick: int) -> tuple[int, tuple[float, float]]:
        """Return (tick, value) of the last daily entry at or before this tick."""
        if not self.daily:
            return -(10**18), self.first if self.first is not None else self.default
        day, inside = divmod(tick - self.midnight, TICKS_PER_DAY)
        place = bisect_right(self.daily, inside, key=lambda entry: entry[0])
        if not place:
            day, place = day - 1, len(self.daily)
        at, value = self.daily[place - 1]
        return self.midnight + day * TICKS_PER_DAY + at, value

    def changes(self, first: int, last: int) -> list[int]:
        """Return the sorted ticks strictly between two at which the value changes."""
        candidates = {tick for tick, _ in self.dated if first < tick < last}
        if first < 0 < last:
            candidates.add(0)
        if self.daily:
            day = (first - self.midnight) // TICKS_PER_DAY
            last_day = (last - self.midnight) // TICKS_PER_DAY
            for number in range(day, last_day + 1):
                base = self.midnight + number * TICKS_PER_DAY
                candidates.update(base + at for at, _ in self.daily if first < base + at < last)
        changes = []
        before = self.at(first)
        for tick in sorted(candidates):
            value = self.at(tick)
            if not _same(value, before):
                changes.append(tick)
            before = value
        return changes


def _same(one: tuple[float, float], other: tuple[float, float]) -> bool:
    """Compare two values; nans are alike."""
    return all(
        mine == theirs or (math.isnan(mine) and math.isnan(theirs))
        for mine, theirs in zip(one, other, strict=True)
    )


def compile_timetable(
    table: TimetableTable, heat: HeatTable, start: dt.datetime, duration: float
) -> Timetable:
    """Build the timetable of a run.

    Parameters
    ----------
    table : TimetableTable
        The case's ``[timetable]``.
    heat : PowerHeat or SupplyHeat or SeriesHeat or NoHeat
        The case's ``[heat]``, which says what ``heat = "on"`` means.
    start : datetime.datetime
        Start of the run.
    duration : float
        Length of the run [s].

    Raises
    ------
    CaseError
        When a setting does not fit the heater, a date lies outside the run, or nothing says how a channel
        begins. It carries the key, as the numbers of list entries counted from 1, but no file or line.
    """
    end = ticks(duration)
    midnight = -ticks_between(dt.datetime.combine(start.date(), dt.time()), start)
    for number, entry in enumerate(table.dated, start=1):
        if not 0 <= ticks_between(start, entry.at) <= end:
            last = start + dt.timedelta(seconds=duration)
            raise CaseError(
                "lies outside the run",
                key=f"timetable.dated[{number}].at",
                value=entry.at,
                allowed=f"{start.isoformat()} to {last.isoformat()}",
            )
    channels = []
    for name, default in (("fan", (1.0, 0.0)), ("heat", _heat_value("on", None, heat))):
        daily = tuple(
            (entry.at * TICKS_PER_SECOND, value)
            for number, entry in enumerate(table.daily, start=1)
            if (value := _value(name, entry, heat, f"timetable.daily[{number}]")) is not None
        )
        dated = tuple(
            (ticks_between(start, entry.at), value)
            for number, entry in enumerate(table.dated, start=1)
            if (value := _value(name, entry, heat, f"timetable.dated[{number}]")) is not None
        )
        first = _value(name, table.start, heat, "timetable.start")
        if dated and not daily and first is None and dated[0][0] > 0:
            raise CaseError(
                f"nothing says what the {name} does before its first dated entry",
                key="timetable.start",
                fix=f'give timetable.start, for example {{ {name} = "off" }}',
            )
        channels.append(_Channel(midnight, daily, dated, first, default))
    return Timetable(end, channels[0], channels[1])


def _value(name: str, entry: Settings, heat: HeatTable, key: str) -> tuple[float, float] | None:
    """Return what the entry sets on a channel, or None."""
    if name == "fan":
        if entry.fan is None:
            return None
        share = {"on": 1.0, "off": 0.0}[entry.fan] if isinstance(entry.fan, str) else float(entry.fan)
        return share, 0.0
    if not entry.sets_heat:
        return None
    try:
        return _heat_value(entry.heat, entry.supply_temperature, heat)
    except CaseError as error:
        error.key = f"{key}.{error.key}"
        raise


def _heat_value(
    setting: float | str | None, supply_temperature: float | str | None, heat: HeatTable
) -> tuple[float, float]:
    """Return (power [W], temperature [K]) of a heat setting."""
    if supply_temperature is not None and supply_temperature != "off":
        if isinstance(heat, NoHeat):
            raise CaseError(
                "there is no heater", key="supply_temperature", fix='give heat.kind = "supply temperature"'
            )
        return math.nan, float(supply_temperature)
    if setting == "off" or supply_temperature == "off":
        return 0.0, math.nan
    if setting == "on":
        if isinstance(heat, PowerHeat):
            return heat.power, math.nan
        if isinstance(heat, SupplyHeat):
            return math.nan, heat.temperature
        return (math.nan, math.nan) if isinstance(heat, SeriesHeat) else (0.0, math.nan)
    power = float(setting if setting is not None else 0.0)
    if power > 0.0 and not isinstance(heat, PowerHeat):
        raise CaseError(
            f'a power does not fit heat.kind = "{heat.kind}"',
            key="heat",
            fix='give "on", "off", or a heater of kind "power"',
        )
    return power, math.nan
