"""The timetable on the integer clock: sorted switch instants and the settings between them.

Time is counted in ticks (milliseconds) from the start of the case; negative ticks are the run-in before
it. The channels are fan, heat, feed, pump and cover; ``supply_temperature`` is another way to set the heat
channel, and the later setting holds. Loads of fuel are no channel: each is an event at its instant.

Decisions:

* A setting holds until the next one of its channel, daily, weekly or dated; at the same instant the dated
  wins over the weekly, and that over the daily.
* Before the first event of the first day the last daily or weekly entry of the channel holds, as on any
  other day, unless ``timetable.start`` says otherwise.
* A channel that nothing mentions is on all the time (heat is off when there is no heater, feed when the
  fire is no steady one, and the cover).
* Loads count from the start of the run: none laid on before it still burns.
* A channel with dated entries only, the first of them after the start, needs a value in
  ``timetable.start``: nothing else says how it begins (`compile_timetable` refuses it otherwise).
* At negative ticks the daily and weekly entries repeat; without any, the value in ``timetable.start`` holds,
  or the default.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.channels import TICKS_PER_DAY, TICKS_PER_SECOND, Channel, Loads
from simulator.case.schema_air import NoHeat, PowerHeat, SeriesHeat, SupplyHeat
from simulator.case.schema_run import Entry, Settings, TimetableTable
from simulator.case.schema_stove import Stove, StoveHeat
from simulator.errors import CaseError

__all__ = [
    "TICKS_PER_DAY",
    "TICKS_PER_SECOND",
    "Drive",
    "Timetable",
    "compile_timetable",
    "ticks",
    "ticks_between",
]

if TYPE_CHECKING:
    from numpy.typing import NDArray

HeatTable = PowerHeat | SupplyHeat | SeriesHeat | NoHeat | StoveHeat


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
    feed : float
        Burning rate of a steady fire as a share of the full one.
    pump : float
        Water flow as a share of the full flow.
    cover : float
        Share of the night cover that is on.
    """

    fan_share: float
    heat_power: float
    supply_temperature: float
    feed: float = 0.0
    pump: float = 1.0
    cover: float = 0.0

    def same_as(self, other: Drive) -> bool:
        """Whether both mean the same; two nans are alike."""
        return all(
            mine == theirs or (math.isnan(mine) and math.isnan(theirs))
            for mine, theirs in (
                (self.fan_share, other.fan_share),
                (self.heat_power, other.heat_power),
                (self.supply_temperature, other.supply_temperature),
                (self.feed, other.feed),
                (self.pump, other.pump),
                (self.cover, other.cover),
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
    _fan: Channel
    _heat: Channel
    _feed: Channel
    _pump: Channel
    _cover: Channel
    _loads: Loads

    def values_from(self, tick: int) -> Drive:
        """Return the settings that hold from this tick on, until the next switch."""
        fan, heat = self._fan.at(tick), self._heat.at(tick)
        feed, pump, cover = (each.at(tick)[0] for each in (self._feed, self._pump, self._cover))
        return Drive(fan[0], heat[0], heat[1], feed, pump, cover)

    def drives_from(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        """(n, 3) fan share, heat power [W] and supply temperature [K] that hold from each of n ticks on."""
        return np.column_stack((self._fan.at_many(ticks)[:, 0], self._heat.at_many(ticks)))

    def drive_at(self, tick: int) -> Drive:
        """Return the settings that hold from this tick on; the same as `values_from`."""
        return self.values_from(tick)

    def switches(self) -> list[int]:
        """Return the ticks inside the run, both ends left out, at which a setting changes; sorted."""
        return self.switches_between(0, self.end)

    def switches_between(self, first: int, last: int) -> list[int]:
        """Return the ticks strictly between two, negative ones too, at which a setting changes; sorted."""
        channels = (self._fan, self._heat, self._feed, self._pump, self._cover)
        return sorted({tick for channel in channels for tick in channel.changes(first, last)})

    @property
    def loads(self) -> tuple[tuple[int, float], ...]:
        """(tick, mass [kg]) of every load laid on in the run, from its start up to just before its end."""
        return self.loads_between(0, self.end)

    def loads_between(self, first: int, last: int) -> tuple[tuple[int, float], ...]:
        """Return (tick, mass [kg]) of the loads from one tick up to just before another, sorted.

        At negative ticks the daily and weekly ones repeat.
        """
        return tuple(sorted(self._loads.between(first, last)))


def compile_timetable(
    table: TimetableTable,
    heat: HeatTable,
    start: dt.datetime,
    duration: float,
    stove: Stove | None = None,
) -> Timetable:
    """Build the timetable of a run.

    Parameters
    ----------
    table : TimetableTable
        The case's ``[timetable]``.
    heat : PowerHeat or SupplyHeat or SeriesHeat or NoHeat or StoveHeat
        The case's ``[heat]``, which says what ``heat = "on"`` means.
    start : datetime.datetime
        Start of the run.
    duration : float
        Length of the run [s].
    stove : Stove, optional
        The case's ``[stove]``, which says whether there is a feed that can be on.

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
    monday = midnight - start.weekday() * TICKS_PER_DAY
    placed = _placed(table, start)
    feed = 1.0 if stove is not None and stove.burn == "steady" else 0.0
    defaults = {
        "fan": (1.0, 0.0),
        "heat": (0.0, math.nan) if isinstance(heat, StoveHeat) else _heat_value("on", None, heat),
        "feed": (feed, 0.0),
        "pump": (1.0, 0.0),
        "cover": (0.0, 0.0),
    }
    channels = {}
    for name, default in defaults.items():
        daily, weekly, dated = (
            tuple(
                (place, value)
                for key, place, entry in entries
                if (value := _value(name, entry, heat, key)) is not None
            )
            for entries in placed
        )
        first = _value(name, table.start, heat, "timetable.start")
        if dated and not daily and not weekly and first is None and dated[0][0] > 0:
            raise CaseError(
                f"nothing says what the {name} does before its first dated entry",
                key="timetable.start",
                fix=f'give timetable.start, for example {{ {name} = "off" }}',
            )
        channels[name] = Channel(midnight, monday, daily, weekly, dated, first, default)
    loads = [
        tuple((place, entry.load) for _, place, entry in entries if entry.load is not None)
        for entries in placed
    ]
    return Timetable(
        end,
        channels["fan"],
        channels["heat"],
        channels["feed"],
        channels["pump"],
        channels["cover"],
        Loads(midnight, monday, loads[0], loads[1], loads[2]),
    )


def _placed(table: TimetableTable, start: dt.datetime) -> list[list[tuple[str, int, Entry]]]:
    """(key, tick, entry) of daily, weekly and dated entries.

    The ticks count from midnight, from the midnight before Monday, and from the start.
    """
    daily: list[tuple[int, Entry]] = [(entry.at * TICKS_PER_SECOND, entry) for entry in table.daily]
    weekly: list[tuple[int, Entry]] = [
        (entry.second_of_week * TICKS_PER_SECOND, entry) for entry in table.weekly
    ]
    dated: list[tuple[int, Entry]] = [(ticks_between(start, entry.at), entry) for entry in table.dated]
    return [
        [
            (f"timetable.{kind}[{number}]", place, entry)
            for number, (place, entry) in enumerate(pairs, start=1)
        ]
        for kind, pairs in (("daily", daily), ("weekly", weekly), ("dated", dated))
    ]


def _value(name: str, entry: Settings, heat: HeatTable, key: str) -> tuple[float, float] | None:
    """Return what the entry sets on a channel, or None."""
    if name != "heat":
        setting = getattr(entry, name)
        if setting is None:
            return None
        return {"on": 1.0, "off": 0.0}[setting] if isinstance(setting, str) else float(setting), 0.0
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
    if isinstance(heat, StoveHeat):
        raise CaseError(
            'does not fit heat.kind = "stove"',
            key="heat" if supply_temperature is None else "supply_temperature",
            fix="its heat follows the fuel: give load for log loads, feed for a steady fire",
        )
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
