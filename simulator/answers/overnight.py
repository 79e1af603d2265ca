"""How a night went: how cool floor, room and air became and when, and where the heat went."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.answers.heat_account import HeatAccount, heat_account
from simulator.answers.window import Window, choose_window
from simulator.case.units import show
from simulator.errors import StoreError
from simulator.store.table_html import Displayed

if TYPE_CHECKING:
    from collections.abc import Mapping

    from simulator.case.units import System
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Low", "Overnight", "overnight"]

_KELVIN_AT_0_DEGC = 273.15
_SERIES = {
    "floor_mean": "floor_mean_temperature",
    "floor_coldest_place": "floor_lowest_temperature",
    "room": "room_temperature",
    "exit_air": "exit_temperature",
    "outside": "outside_temperature",
}
_OF_A_PLANT = {"tank": "tank_temperature"}
_LABELS = {
    "floor_mean": "Floor surface, mean",
    "floor_coldest_place": "Floor surface, coldest place",
    "room": "Room air",
    "exit_air": "Air leaving the ducts",
    "outside": "Outside air",
    "tank": "Tank water, mean",
}


@dataclass(frozen=True)
class Low:
    """The lowest value of a temperature.

    Attributes
    ----------
    temperature : float [degC]
    at : datetime
        When it was first reached.
    """

    temperature: float
    at: dt.datetime


@dataclass(frozen=True)
class Overnight(Displayed):
    """One night in numbers.

    Attributes
    ----------
    window : Window
        The stretch of time it is about.
    lows : mapping of str to Low or None
        For `floor_mean`, `floor_coldest_place`, `room`, `exit_air`, `outside`, and `tank` where there is one.
        `exit_air` looks only at rows with air moving, and is None when there are none.
    at_end : mapping of str to float or None [degC]
        The same temperatures at the end of the window; `exit_air` is None when no air moves then.
    heat : HeatAccount
        Over the window.
    heat_of_run : HeatAccount
        Over the whole run.
    """

    window: Window
    lows: Mapping[str, Low | None]
    at_end: Mapping[str, float | None]
    heat: HeatAccount
    heat_of_run: HeatAccount

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers and texts with their units, ready for JSON."""
        return {
            "window": {
                "begin": self.window.begin.isoformat(),
                "end": self.window.end.isoformat(),
                "night": self.window.night,
                "nights": self.window.nights,
            },
            "lows": {
                name: None
                if low is None
                else {"value": low.temperature, "unit": "degC", "at": low.at.isoformat()}
                for name, low in self.lows.items()
            },
            "at_end": {name: {"value": value, "unit": "degC"} for name, value in self.at_end.items()},
            "heat": self.heat.as_dict(),
            "heat_of_run": self.heat_of_run.as_dict(),
        }

    def as_rows(self, units: System = "SI") -> list[tuple[str, str]]:
        """Return lines to print: what, and how much in the units asked for.

        Parameters
        ----------
        units : {"SI", "US"}
        """
        rows = [("Window", self.window.describe())]
        labels = {name: _LABELS[name] for name in self.lows}
        for name, label in labels.items():
            low = self.lows[name]
            text = "no air moved" if low is None else f"{_shown(low.temperature, units)} at {_clock(low.at)}"
            rows.append((f"{label}: lowest", text))
        for name, label in labels.items():
            value = self.at_end[name]
            rows.append((f"{label}: at the end", "no air moving" if value is None else _shown(value, units)))
        rows += self.heat.as_rows(units)
        if self.heat != self.heat_of_run:
            rows += [(f"Whole run: {label}", text) for label, text in self.heat_of_run.as_rows(units)]
        return rows


def overnight(
    results: Results,
    *,
    begin: dt.datetime | None = None,
    end: dt.datetime | None = None,
    night: int | None = None,
) -> Overnight:
    """Sum up a night of a run.

    Parameters
    ----------
    results : Results
    begin, end : datetime, optional
        Local times of the stretch to look at. Left out: the last night of the run, from 18:00 or its start
        to 09:00 or its end; the whole run when it holds no night.
    night : int, optional
        Another night, from 1; negative counts from the last.

    Returns
    -------
    Overnight

    Raises
    ------
    CaseError
        When the run has no such stretch or night.
    StoreError
        When the results hold no rows.
    """
    seconds = results["time"].values
    if not seconds.size:
        path = None if results.path is None else str(results.path)
        raise StoreError("holds no rows yet", path=path, fix="let the run come to its end")
    start = results.start
    first, last = (start + dt.timedelta(seconds=float(seconds[row])) for row in (0, -1))
    window = choose_window(first, last, begin_at=begin, end_at=end, night=night)
    span = tuple((moment - start).total_seconds() for moment in (window.begin, window.end))
    moving = results["mass_flow"].values > 0.0
    there = {name: series for name, series in _OF_A_PLANT.items() if series in results}
    courses = {name: results[series].values for name, series in (_SERIES | there).items()}
    courses["exit_air"] = np.where(moving, courses["exit_air"], np.nan)
    lows: dict[str, Low | None] = {}
    at_end: dict[str, float | None] = {}
    for name, course in courses.items():
        moments, values = _within(seconds, course, *span)
        lows[name] = _low(moments, values, start)
        at_end[name] = float(values[-1]) if np.isfinite(values[-1]) else None
    return Overnight(
        window=window,
        lows=lows,
        at_end=at_end,
        heat=heat_account(results, *span),
        heat_of_run=heat_account(results, float(seconds[0]), float(seconds[-1])),
    )


def _within(
    seconds: FloatArray, course: FloatArray, begin: float, end: float
) -> tuple[FloatArray, FloatArray]:
    """Cut out a stretch, with values between rows for its two ends."""
    inside = seconds[(seconds > begin) & (seconds < end)]
    moments = np.concatenate(([begin], inside, [end]))
    return moments, np.interp(moments, seconds, course)


def _low(moments: FloatArray, values: FloatArray, start: dt.datetime) -> Low | None:
    if not np.isfinite(values).any():
        return None
    row = int(np.nanargmin(values))
    return Low(float(values[row]), start + dt.timedelta(seconds=float(moments[row])))


def _shown(celsius: float, units: System) -> str:
    return show(celsius + _KELVIN_AT_0_DEGC, "temperature", units)


def _clock(moment: dt.datetime) -> str:
    return moment.isoformat(" ", "minutes")
