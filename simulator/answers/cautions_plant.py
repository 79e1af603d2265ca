"""Cautions about stove, fan, coils, tank, lines and flue: limits of the plant held against a run.

Every limit that was passed is told with its source, when it was passed, how long there was to act from what
had gone wrong before, what to do and when to call a licensed person.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.case_values import CaseValues
from simulator.answers.findings import Finding
from simulator.answers.plant_courses import limit_courses
from simulator.answers.plant_events import Crossing, Event, crossings, events
from simulator.answers.plant_limits import PLANT_LIMITS, PlantLimit
from simulator.answers.plant_rules import plant_findings
from simulator.case.units import show

if TYPE_CHECKING:
    from simulator.answers.plant_courses import LimitCourse
    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Alarm", "alarm_of", "plant_cautions"]

PARTS: Final = ("shell_temperature", "tank_temperature")
"""Datasets of which one must be there for a run to have a plant."""
KELVIN_AT_0_DEGC: Final = 273.15


@dataclass(frozen=True)
class Alarm:
    """A limit of the plant that was passed.

    Attributes
    ----------
    limit : PlantLimit
    allowed : float [K]
    place : str
        Which coil, or which layer of the tank; empty where there is one only.
    worst : float [K]
        The furthest it went beyond the limit, at `worst_at`.
    worst_at, crossed_at : datetime
    beyond : float [s]
        Time for which the limit was passed, in all.
    event : str
        What had gone wrong before; empty when nothing had.
    time_to_act : float or None [s]
        From the event to the limit.
    apart : float [s]
        Time between rows there, which is as close as this can be told.
    """

    limit: PlantLimit
    allowed: float
    place: str
    worst: float
    worst_at: dt.datetime
    crossed_at: dt.datetime
    beyond: float
    event: str = ""
    time_to_act: float | None = None
    apart: float = 0.0

    def text(self, system: System = "SI") -> str:
        """Write the alarm without its source."""
        many = self.limit.what.endswith("s")
        if self.limit.side == "above":
            moves = "rise above" if many else "rises above"
        else:
            moves = "fall below" if many else "falls below"
        allowed, worst = (show(value, "temperature", system) for value in (self.allowed, self.worst))
        where = f" ({self.place})" if self.place else ""
        told = f"{self.limit.what}{where} {moves} {allowed} at {self.crossed_at:%Y-%m-%d %H:%M}"
        if self.time_to_act is not None:
            close = self.time_to_act < self.apart
            lead = show(self.apart if close else self.time_to_act, "time", system)
            lead = f"less than {lead}" if close else lead
            told += f", {lead} after {self.event}: that is all the time there is to act"
        told += (
            f". The {'highest' if self.limit.side == 'above' else 'lowest'} is {worst} "
            f"({self.worst_at:%Y-%m-%d %H:%M}), and {show(self.beyond, 'time', system)} are spent beyond the "
            f"limit: {self.limit.message} {self.limit.act} {self.limit.call}"
        )
        return told.rstrip()

    def as_dict(self) -> dict[str, Any]:
        """Hand over the alarm for other programs, temperatures in degrees Celsius and times in seconds."""
        return {
            "name": self.limit.name,
            "severity": self.limit.severity,
            "series": list(self.limit.series),
            "place": self.place,
            "limit_degC": round(self.allowed - KELVIN_AT_0_DEGC, 6),
            "reached_degC": round(self.worst - KELVIN_AT_0_DEGC, 6),
            "at": self.crossed_at.isoformat(" ", "minutes"),
            "worst_at": self.worst_at.isoformat(" ", "minutes"),
            "seconds_beyond": self.beyond,
            "after": self.event or None,
            "seconds_to_act": self.time_to_act,
            "seconds_between_rows": self.apart,
            "message": self.limit.message,
            "what_to_do": self.limit.act,
            "call": self.limit.call,
            "source": self.limit.source,
        }


def plant_cautions(results: Results, duct_service_temperature: float) -> list[Alarm | Finding]:
    """Hold a run with a stove or a tank against the limits and rules of its plant; empty for any other run.

    Parameters
    ----------
    results : Results
    duct_service_temperature : float [K]

    Returns
    -------
    list of Alarm or Finding
        Dangers first; of the limits of one subject only the last one passed.
    """
    if not any(name in results for name in PARTS) or results["time"].values.size == 0:
        return []
    values = CaseValues(results.case_text)
    happened = events(results, values)
    passed: dict[str, Alarm] = {}
    for limit in PLANT_LIMITS:
        alarm = _worst(results, limit, values, happened, duct_service_temperature)
        if alarm is not None:
            passed[limit.subject] = alarm
    found: list[Alarm | Finding] = [*plant_findings(results, values), *passed.values()]
    return sorted(found, key=lambda one: one.limit.severity != "danger")


def _worst(
    results: Results, limit: PlantLimit, values: CaseValues, happened: list[Event], ducts: float
) -> Alarm | None:
    """Hold every course of a limit against it; return what leaves the least time, or goes the furthest."""
    found: list[tuple[float, float, Alarm]] = []
    causes = [event for event in happened if event.kind in limit.after]
    for course in limit_courses(results, limit, values, ducts):
        listed = crossings(results["time"].values, course.beyond, causes)
        if not listed:
            continue
        quick = [one for one in listed if one.time_to_act is not None]
        told = min(quick, key=lambda one: one.time_to_act or 0.0) if quick else listed[0]
        alarm = alarm_of(results, course, told)
        soon = np.inf if alarm.time_to_act is None else alarm.time_to_act
        found.append((soon, -abs(alarm.worst - course.allowed), alarm))
    return min(found, key=lambda one: one[:2])[2] if found else None


def alarm_of(results: Results, course: LimitCourse, told: Crossing, since: float = -np.inf) -> Alarm:
    """Tell one crossing of a limit as an alarm.

    Parameters
    ----------
    results : Results
    course : LimitCourse
    told : Crossing
    since : float [s]
        Rows before this do not count for the worst, and for the time beyond the limit.

    Returns
    -------
    Alarm
    """
    times = results["time"].values
    beyond = np.where(times >= since, course.beyond, np.nan)
    row = int(np.nanargmax(beyond))
    past = np.where(np.isnan(beyond), False, beyond >= 0.0)
    lasts = np.diff(times, prepend=times[0])
    return Alarm(
        course.limit,
        course.allowed,
        course.place,
        float(course.kelvin[row]),
        results.start + dt.timedelta(seconds=float(times[row])),
        results.start + dt.timedelta(seconds=told.at),
        float(lasts[past].sum()),
        "" if told.event is None else told.event.what,
        told.time_to_act,
        _apart(times, told.at),
    )


def _apart(times: FloatArray, at: float) -> float:
    """Return the time between the rows on either side of a moment [s]."""
    row = min(max(int(np.searchsorted(times, at)), 1), times.size - 1)
    return float(times[row] - times[row - 1]) if times.size > 1 else 0.0
