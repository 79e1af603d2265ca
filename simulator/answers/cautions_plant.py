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
from simulator.answers.plant_events import Crossing, Event, crossings, events
from simulator.answers.plant_limits import PLANT_LIMITS, PlantLimit
from simulator.answers.plant_rules import burning_well, plant_findings
from simulator.case.units import show

if TYPE_CHECKING:
    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Alarm", "plant_cautions"]

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
        if limit.needs and limit.needs not in results:
            continue
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
    for name in limit.series:
        # A tank told by its layers is not told again by its mean.
        if name not in results or (name == "tank_temperature" and "tank_layer_temperature" in results):
            continue
        courses, places = _courses(results, name, values)
        counts = _counting(results, limit, name)
        for column, place in enumerate(places):
            allowed = _allowed(limit, values, column, ducts)
            if allowed is None:
                continue
            kelvin = np.where(counts, courses[:, column] + KELVIN_AT_0_DEGC, np.nan)
            alarm = _alarm(results, limit, allowed, place, kelvin, happened)
            if alarm is not None:
                soon = np.inf if alarm.time_to_act is None else alarm.time_to_act
                found.append((soon, -abs(alarm.worst - allowed), alarm))
    return min(found, key=lambda one: one[:2])[2] if found else None


def _alarm(
    results: Results,
    limit: PlantLimit,
    allowed: float,
    place: str,
    kelvin: FloatArray,
    happened: list[Event],
) -> Alarm | None:
    times = results["time"].values
    beyond = kelvin - allowed if limit.side == "above" else allowed - kelvin
    if limit.case_key is not None and limit.name != "coil boils":
        # A maker's figure may be reached, not passed; every other limit is one to stay clear of.
        beyond = np.where(beyond == 0.0, -1e-12, beyond)
    causes = [event for event in happened if event.kind in limit.after]
    listed = crossings(times, beyond, causes)
    if not listed:
        return None
    quick = [one for one in listed if one.time_to_act is not None]
    told: Crossing = min(quick, key=lambda one: one.time_to_act or 0.0) if quick else listed[0]
    row = int(np.nanargmax(beyond))
    past = np.where(np.isnan(beyond), False, beyond >= 0.0)
    lasts = np.diff(times, prepend=times[0])
    return Alarm(
        limit,
        allowed,
        place,
        float(kelvin[row]),
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


def _courses(results: Results, name: str, values: CaseValues) -> tuple[FloatArray, list[str]]:
    """Return courses over time in columns, and what each of them is of."""
    series = results[name]
    courses = np.asarray(series.values, dtype=float)
    if courses.ndim == 1:
        return courses[:, None], [""]
    dim = series.dims[1]
    if dim not in ("coil", "layer"):
        # Along ducts the hottest place counts.
        flat = courses.reshape(courses.shape[0], -1)
        return np.where(np.isnan(flat), -np.inf, flat).max(axis=1)[:, None], [""]
    count = courses.shape[1]
    if count == 1:
        return courses, [""]
    given = [str(entry.get("name") or "") for entry in values.rows("coils")] if dim == "coil" else []
    given += [""] * (count - len(given))
    return courses, [given[number] or f"{dim} {number + 1}" for number in range(count)]


def _counting(results: Results, limit: PlantLimit, name: str) -> np.ndarray:
    """Return the rows in which a course counts."""
    times = results["time"].values
    if limit.while_burning:
        if "fuel_rate" not in results:
            return np.zeros(times.size, dtype=bool)
        return burning_well(times, results["fuel_rate"].values)
    if name == "supply_temperature":
        # Without a flow the temperature of the entering air means nothing; at a standing fan it means much.
        return np.asarray(results["mass_flow"].values > 0.0)
    return np.ones(times.size, dtype=bool)


def _allowed(limit: PlantLimit, values: CaseValues, column: int, ducts: float) -> float | None:
    """Return the limit of a course [K]; None when the case gives none."""
    if limit.temperature is not None:
        return limit.temperature
    table, key = limit.case_key or ("", "")
    if table == "ducts":
        return ducts
    if table == "coils":
        coils = values.rows("coils")
        coil = coils[column] if column < len(coils) else {}
        return values.quantity(coil, key, "temperature", limit.default)
    return values.quantity(values.table(table), key, "temperature", limit.default)
