"""The fan on, off and on a thermostat through one night: what each gives, and what it costs."""

from __future__ import annotations

import datetime as dt
import itertools
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.below import first_crossing, seconds_below
from simulator.answers.fan_schedule import with_fan
from simulator.answers.overnight import Overnight, overnight
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.errors import CaseError
from simulator.store.record import record

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from simulator.answers.fan_schedule import Piece
    from simulator.answers.window import Window
    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = [
    "MEASURES", "Course", "FanNight", "Thermostat", "Tonight", "night_of", "plan_tonight", "run_dry",
    "thermostat_pieces",
]  # fmt: skip

KELVIN_AT_0_DEGC: Final = 273.15
MOST_SWITCHES: Final = 48
MEASURES: Final = {
    "room": "room_temperature",
    "floor": "floor_mean_temperature",
    "coldest floor": "floor_lowest_temperature",
    "exit": "exit_temperature",
    "tank": "tank_temperature",
}
"""What an answer can watch, and the series that tells of it."""


@dataclass(frozen=True)
class Thermostat:
    """A fan that blows while it is too cold.

    Attributes
    ----------
    setting : float [K]
        The fan starts when the room falls below.
    dead_band : float [K]
        It stops when the room is this much warmer again.
    shortest : float [s]
        Time that it runs, or rests, at least.
    """

    setting: float
    dead_band: float = 1.0
    shortest: float = 600.0


@dataclass(frozen=True)
class Tonight:
    """A night, and when in it the fan may be chosen.

    Attributes
    ----------
    case : Case
    window : Window
    stretches : tuple of (int, int) [ticks]
        Parts of the window in which no fire burns. While it burns the fan runs as the case says, because
        heat without air melts ducts and sets fire to what is near.
    share : float
        Of the full fan speed, when it is on.
    planned : tuple of (int, float)
        What the case's timetable does with the fan in the stretches.
    """

    case: Case
    window: Window
    stretches: tuple[tuple[int, int], ...]
    share: float
    planned: tuple[Piece, ...]

    @property
    def hours(self) -> float:
        """Time [h] for which the fan can be chosen."""
        return sum(end - begin for begin, end in self.stretches) / TICKS_PER_SECOND / 3600.0

    def steady(self, share: float) -> Case:
        """Return the case with the fan at one share whenever it can be chosen."""
        return with_fan(self.case, [(self.stretches[0][0], share)], self.stretches)

    def planned_as(self, share: float) -> bool:
        """Whether the case itself keeps the fan at this share."""
        return all(abs(each - share) < 1e-9 for _, each in self.planned)


@dataclass(frozen=True, eq=False)
class Course:
    """Temperatures over the night [degC], by `MEASURES` and "outside"; moments [s] since the start."""

    moments: FloatArray
    values: dict[str, FloatArray]
    fan: FloatArray


@dataclass(frozen=True, eq=False)
class FanNight:
    """One way to run the fan, and what comes of it.

    Attributes
    ----------
    name : str
    as_in_case : bool
    night : Overnight
    hours_below : dict of str to float [h]
        Time that each thing watched spends below the mark.
    fan_hours : float [h]
        In the night.
    fan_energy : float [J]
    to_room : float [J]
        From the floor and with returning air.
    switches : int
        Times that the fan starts or stops in the night.
    course : Course
    tank : (float, datetime) or None
        Lowest mean of the tank [degC] and when.
    """

    name: str
    as_in_case: bool
    night: Overnight
    hours_below: dict[str, float]
    fan_hours: float
    fan_energy: float
    to_room: float
    switches: int
    course: Course
    tank: tuple[float, dt.datetime] | None = None

    def low(self, measure: str) -> float | None:
        """Lowest temperature [degC] of what is watched."""
        values = self.course.values.get(measure)
        if values is None or not np.isfinite(values).any():
            return None
        return float(np.nanmin(values))

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers with their units."""
        return {
            "name": self.name,
            "as_in_case": self.as_in_case,
            "overnight": self.night.as_dict(),
            "tank": None
            if self.tank is None
            else {"value": self.tank[0], "unit": "degC", "at": self.tank[1].isoformat()},
            "hours_below": {name: {"value": value, "unit": "h"} for name, value in self.hours_below.items()},
            "fan_hours": {"value": self.fan_hours, "unit": "h"},
            "fan_energy": {"value": self.fan_energy, "unit": "J"},
            "heat_to_room": {"value": self.to_room, "unit": "J"},
            "switches": self.switches,
        }


def run_dry(case: Case) -> Results:
    """Run a case in memory, without maps and with a row every five minutes or more often."""
    output = case.output.model_copy(update={"fields": 0.0, "interval": min(case.output.interval, 300.0)})
    return record(case.model_copy(update={"output": output}))


def plan_tonight(case: Case, results: Results, window: Window) -> Tonight:
    """Find when in a night the fan can be chosen.

    Parameters
    ----------
    case : Case
    results : Results
        Of this case.
    window : Window

    Raises
    ------
    CaseError
        When a fire burns all the time.
    """
    start = case.site.start
    begin, end = (
        round((moment - start).total_seconds() * TICKS_PER_SECOND) for moment in (window.begin, window.end)
    )
    timetable = case.timetable_compiled
    cuts = [begin, *timetable.switches_between(begin, end), end]
    cold: list[tuple[int, int]] = []
    for first, last in itertools.pairwise(cuts):
        drive = timetable.values_from(first)
        if drive.heat_power == 0.0:
            cold.append((first, last))
    cold = _joined(_without_fire(cold, results))
    if not cold:
        raise CaseError(
            "the fire burns through the whole of this time, so the fan cannot be chosen",
            key="--night", fix="choose another night, or a time after the fire with --from",
        )  # fmt: skip
    inside = [
        (tick, timetable.values_from(tick).fan_share)
        for first, last in cold
        for tick in (first, *timetable.switches_between(first, last))
    ]
    shares = [timetable.values_from(tick).fan_share for tick in (0, *timetable.switches())]
    running = [share for share in shares if share > 0.0]
    return Tonight(case, window, tuple(cold), max(running, default=1.0), tuple(inside))


def _without_fire(stretches: list[tuple[int, int]], results: Results) -> list[tuple[int, int]]:
    """Take out the time for which a stove burns, as its run tells."""
    if "fuel_power" not in results:
        return stretches
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    burns = np.asarray(results.read("fuel_power"), dtype=np.float64) > 0.0
    found: list[tuple[int, int]] = []
    for begin, end in stretches:
        marks = np.rint(seconds * TICKS_PER_SECOND).astype(np.int64)
        cuts = [begin, *marks[(marks > begin) & (marks < end)].tolist(), end]
        for first, last in itertools.pairwise(cuts):
            row = min(int(np.searchsorted(marks, last)), marks.size - 1)
            if not burns[row]:
                found.append((first, last))
    return found


def _joined(stretches: list[tuple[int, int]]) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for begin, end in stretches:
        if found and found[-1][1] == begin:
            begin = found.pop()[0]
        found.append((begin, end))
    return found


def night_of(name: str, results: Results, tonight: Tonight, mark: float, *, as_in_case: bool) -> FanNight:
    """Sum up a night of one way to run the fan.

    Parameters
    ----------
    name : str
    results : Results
    tonight : Tonight
    mark : float [degC]
        Hours below it are counted.
    as_in_case : bool
    """
    window, start = tonight.window, results.start
    span = tuple((moment - start).total_seconds() for moment in (window.begin, window.end))
    night = overnight(results, begin=window.begin, end=window.end)
    night = replace(night, window=window)
    course = _course(results, *span)
    below = {
        measure: seconds_below(course.moments, values, mark) / 3600.0
        for measure, values in course.values.items()
        if measure != "outside"
    }
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    electric = np.interp(span, seconds, np.asarray(results.read("ledger_fan"), dtype=np.float64))
    runs = course.fan[1:] > 0.0
    tank = course.values.get("tank")
    lowest = None
    if tank is not None:
        row = int(np.nanargmin(tank))
        lowest = float(tank[row]), start + dt.timedelta(seconds=float(course.moments[row]))
    return FanNight(
        name=name,
        as_in_case=as_in_case,
        night=night,
        hours_below=below,
        fan_hours=float(np.sum(np.diff(course.moments)[runs])) / 3600.0,
        fan_energy=float(electric[1] - electric[0]),
        to_room=night.heat.floor_to_room + night.heat.return_to_room,
        switches=int(np.count_nonzero(np.diff(runs.astype(int)))),
        course=course,
        tank=lowest,
    )


def _course(results: Results, begin: float, end: float) -> Course:
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    moments = np.concatenate(([begin], seconds[(seconds > begin) & (seconds < end)], [end]))
    flows = np.asarray(results.read("mass_flow"), dtype=np.float64) > 0.0
    values = {}
    for measure, dataset in {**MEASURES, "outside": "outside_temperature"}.items():
        if dataset not in results:
            continue
        course = np.asarray(results.read(dataset), dtype=np.float64)
        if measure == "exit":
            course = np.where(flows, course, np.nan)
        values[measure] = np.interp(moments, seconds, course)
    # A row tells of the steps that led to it.
    share = np.asarray(results.read("fan_share"), dtype=np.float64)
    rows = np.minimum(np.searchsorted(seconds, moments - 1e-6), seconds.size - 1)
    return Course(moments, values, share[rows])


def thermostat_pieces(
    tonight: Tonight,
    thermostat: Thermostat,
    run: Callable[[Case], Results],
    most: int = MOST_SWITCHES,
) -> tuple[list[Piece], Results]:
    """Find when a thermostat starts and stops the fan, one instant after the other.

    What comes later does not change what was before, so each run fixes the next instant exactly.

    Parameters
    ----------
    tonight : Tonight
    thermostat : Thermostat
    run : callable
        Runs a case.
    most : int
        Instants after which the fan is left as it is.

    Returns
    -------
    list of (int, float)
        Tick and share from there on.
    Results
        Of the last run.
    """
    first = tonight.stretches[0][0]
    pieces: list[Piece] = [(first, 0.0)]
    free_from = first
    while True:
        results = run(with_fan(tonight.case, pieces, tonight.stretches))
        if len(pieces) > most:
            return pieces, results
        running = pieces[-1][1] > 0.0
        instant = _next_change(results, tonight.stretches, thermostat, free_from, running=running)
        if instant is None:
            return pieces, results
        results.close()
        share = 0.0 if running else tonight.share
        pieces = [*(piece for piece in pieces if piece[0] < instant), (instant, share)]
        free_from = instant + round(thermostat.shortest * TICKS_PER_SECOND)


def _next_change(
    results: Results,
    stretches: Sequence[tuple[int, int]],
    thermostat: Thermostat,
    free_from: int,
    *,
    running: bool,
) -> int | None:
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    room = np.asarray(results.read("room_temperature"), dtype=np.float64) + KELVIN_AT_0_DEGC
    mark = thermostat.setting + (thermostat.dead_band if running else 0.0)
    for begin, end in stretches:
        after = max(begin, free_from) / TICKS_PER_SECOND
        found = first_crossing(seconds, room, mark, falling=not running, after=after)
        if found is not None and found * TICKS_PER_SECOND < end - TICKS_PER_SECOND:
            inside = [span for span in stretches if span[0] <= found * TICKS_PER_SECOND < span[1]]
            if inside:
                return round(found * TICKS_PER_SECOND)
    return None
