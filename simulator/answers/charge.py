"""How full the floor is: heat held, uptake, depth reached, time to go, where the next fire is best spent."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.below import first_crossing
from simulator.answers.heat_held import Cells, deepest_share, excess_profile, reach, read_cells
from simulator.answers.next_hour import NextHour, next_hour, spend_hour
from simulator.answers.what_if import farthest, from_now_on, longer
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.errors import CaseError
from simulator.run.plan import plan
from simulator.store.record import record

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["Charge", "Depths", "Uptake", "charge", "uptake_of"]

HOUR: Final = 3600.0
FIRE: Final = 1.0
"""A heater that gives more than this burns [W]."""
NEAR: Final = 1.0
"""A floor within this of one that was never heated [K] is carried no longer."""
BURNING: Final = ("power", "supply temperature")


@dataclass(frozen=True, eq=False)
class Uptake:
    """Share of the heat put in that the ground takes, over stretches in which a fire burns.

    Attributes
    ----------
    moments : (N,) float [s]
        Ends of the stretches, an hour each, since the start.
    share : (N,) float [1]
        Above 1 where the ground also takes heat that the room air brought along.
    """

    moments: FloatArray
    share: FloatArray

    @property
    def first(self) -> float | None:
        """In the first hour of fire."""
        return float(self.share[0]) if self.share.size else None

    @property
    def last(self) -> float | None:
        """In the last hour of fire."""
        return float(self.share[-1]) if self.share.size else None


@dataclass(frozen=True, eq=False)
class Depths:
    """How warm the ground under the floor is above the reference, over depth.

    Attributes
    ----------
    depth : (Z,) float [m]
    moments : list of float [s]
    profiles : list of (Z,) float [K]
        At each moment.
    reached : float or None [m]
        Where a tenth of the largest excess is left, at the last moment.
    ninety : float or None [m]
        Above it lie nine tenths of the heat.
    """

    depth: FloatArray
    moments: list[float]
    profiles: list[FloatArray]
    reached: float | None
    ninety: float | None


@dataclass(frozen=True, eq=False)
class Charge:
    """How full the floor is at a moment of a run.

    Attributes
    ----------
    case : Case
    reference : str
        What the charge counts from, in words.
    now : float [s]
        The moment, since the start.
    moments : (T,) float [s]
        Rows of the run.
    under_floor, all_ground : (T,) float [J]
        Heat held above the reference, between the building's edges and in all ground.
    uptake, cold_uptake : Uptake
        Of the run, and of the same fire on a floor that was not heated before.
    depths : Depths
    share : float
        Of the cold floor's uptake, under which a floor is called saturated.
    saturated_after : float or None [s]
        From now with the fire kept burning, until the uptake is low and stays so; 0 when it is so already,
        None when not within `ahead`.
    carried : float or None [s]
        From now without fire, until the floor is at `carried_to` or, when that is None, within a kelvin of a
        floor that was never heated; None when not within `ahead`.
    half_gone : float or None [s]
        From now without fire, until half of the charge under the floor is gone.
    carried_to : float or None [degC]
    ahead : float [s]
        How far ahead was looked.
    hour : NextHour or None
        None where no fire can be tried; then `why_not` says why.
    why_not : str
    course : dict of str to (moments, values)
        Floor and charge without fire and with the fire kept burning, for pictures.
    """

    case: Case
    reference: str
    now: float
    moments: FloatArray
    under_floor: FloatArray
    all_ground: FloatArray
    uptake: Uptake
    cold_uptake: Uptake
    depths: Depths
    share: float
    saturated_after: float | None
    carried: float | None
    half_gone: float | None
    carried_to: float | None
    ahead: float
    hour: NextHour | None
    why_not: str = ""
    course: dict[str, tuple[FloatArray, FloatArray]] = field(default_factory=dict)

    @property
    def held(self) -> float:
        """Heat held under the floor now, above the reference [J]."""
        return float(np.interp(self.now, self.moments, self.under_floor))

    @property
    def held_everywhere(self) -> float:
        """Heat held in all ground now, above the reference [J]."""
        return float(np.interp(self.now, self.moments, self.all_ground))

    @property
    def when(self) -> dt.datetime:
        """The moment as date and time."""
        return self.case.site.start + dt.timedelta(seconds=self.now)

    def as_dict(self) -> dict[str, Any]:
        """Return plain numbers with their units."""

        def number(value: float | None, unit: str) -> dict[str, Any]:
            return {"value": value, "unit": unit}

        return {
            "at": self.when.isoformat(),
            "reference": self.reference,
            "charge_under_floor": number(self.held, "J"),
            "charge_all_ground": number(self.held_everywhere, "J"),
            "uptake_first_hour": number(self.uptake.first, "1"),
            "uptake_last_hour": number(self.uptake.last, "1"),
            "uptake_cold_floor": number(self.cold_uptake.first, "1"),
            "depth_reached": number(self.depths.reached, "m"),
            "depth_of_nine_tenths": number(self.depths.ninety, "m"),
            "saturated_share": number(self.share, "1"),
            "saturated_after": number(self.saturated_after, "s"),
            "carried": number(self.carried, "s"),
            "carried_to": number(self.carried_to, "degC"),
            "half_gone": number(self.half_gone, "s"),
            "looked_ahead": number(self.ahead, "s"),
            "next_hour": None if self.hour is None else self.hour.as_dict(),
            "next_hour_missing": self.why_not,
            "over_time": {
                "seconds": self.moments.tolist(),
                "under_floor_J": self.under_floor.tolist(),
                "all_ground_J": self.all_ground.tolist(),
                "uptake_seconds": self.uptake.moments.tolist(),
                "uptake": self.uptake.share.tolist(),
            },
        }


def uptake_of(results: Results, begin: float = 0.0) -> Uptake:
    """Work out the uptake for every hour of fire from `begin` [s] on.

    Hours are counted from the moment the heat comes on; what is left of the last one, when it is half an hour
    or more, counts as well.
    """
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    power = np.asarray(results.read("heater_power"), dtype=np.float64)
    taken = np.asarray(results.read("ledger_duct"), dtype=np.float64)
    given = np.asarray(results.read("ledger_heater"), dtype=np.float64) + np.asarray(
        results.read("ledger_fan"), dtype=np.float64
    )
    if "ledger_flue" in results and "flue_mass_flow" in results:
        # Gas heats the ground beside the air: it was offered, too.
        given = given + np.asarray(results.read("ledger_flue"), dtype=np.float64)
    moments: list[float] = []
    shares: list[float] = []
    for first, last in _fires(seconds, power, begin):
        edge = first
        while last - edge >= 0.5 * HOUR:
            end = min(edge + HOUR, last)
            into, offered = (
                float(np.diff(np.interp([edge, end], seconds, course))[0]) for course in (taken, given)
            )
            if offered > 0.0:
                moments.append(end)
                shares.append(into / offered)
            edge = end
    return Uptake(np.array(moments), np.array(shares))


def _fires(seconds: FloatArray, power: FloatArray, begin: float) -> list[tuple[float, float]]:
    """Stretches in which the heater gives heat; a row tells of the time that led to it."""
    found: list[tuple[float, float]] = []
    for row in np.flatnonzero(power[1:] > FIRE).tolist():
        first, last = max(float(seconds[row]), begin), float(seconds[row + 1])
        if last <= begin:
            continue
        if found and found[-1][1] == first:
            first = found.pop()[0]
        found.append((first, last))
    return found


def charge(
    results: Results,
    case: Case,
    *,
    at: dt.datetime | None = None,
    share: float = 0.8,
    carried_to: float | None = None,
    ahead: float = 7.0 * 86400.0,
    progress: Callable[[float], None] | None = None,
) -> Charge:
    """Say how full the floor is at a moment of a run, and how it would go on.

    Parameters
    ----------
    results : Results
        With maps of the ground.
    case : Case
        The case they came from.
    at : datetime, optional
        The moment; the end of the run when left out.
    share : float
        A floor is saturated once its uptake is under this share of the cold floor's.
    carried_to : float, optional [degC]
        Floor temperature down to which the stored heat shall carry it.
    ahead : float [s]
        How far ahead to look, as far as the weather reaches.
    progress : callable, optional
        Told the share that is done, 0 to 1.

    Returns
    -------
    Charge

    Raises
    ------
    CaseError
        When the moment lies outside the run, or the results hold no map at their start.
    """
    seconds = np.asarray(results.read("time"), dtype=np.float64)
    now = float(seconds[-1]) if at is None else (at - results.start).total_seconds()
    if not 0.0 <= now <= float(seconds[-1]):
        raise CaseError(
            "lies outside the run", key="--at", value=at,
            allowed=f"{results.start} to {results.start + dt.timedelta(seconds=float(seconds[-1]))}",
        )  # fmt: skip
    if not results.field_rows or float(results.read("field_time", 0)) > 0.0:
        raise CaseError(
            "holds no map of the ground at its start", key="output.fields",
            fix='give output.fields = "1 h" in the case and run it again',
        )  # fmt: skip
    tell = progress or (lambda done: None)
    cells = read_cells(results, [solid.heat_capacity for solid in plan(case).operators.layout.solids])
    heated_before = case.ground.run_in > 0.0 and case.ground.run_in_drive == "timetable"
    cold_case = case
    if heated_before:
        cold_case = case.model_copy(update={"ground": case.ground.model_copy(update={"run_in_drive": "off"})})
    tell(0.1)
    with record(cold_case) if heated_before else _Borrowed(results) as cold:
        reference = np.asarray(cold.read("ground_temperature", 0), dtype=np.float64)
        cold_uptake = uptake_of(cold)
    tell(0.25)
    at_start = np.asarray(results.read("ground_temperature", 0), dtype=np.float64) - reference
    under, everywhere = (
        np.asarray(results.read(name), dtype=np.float64) + cells.heat(at_start, under_floor=under_floor)
        for name, under_floor in (("ledger_stored_under_floor", True), ("ledger_stored_ground", False))
    )
    depths = _depths(results, cells, reference, now)
    seen = farthest(case, now, ahead)
    future = _Future(case, now, seen, share, carried_to)
    uptake = uptake_of(results)
    answer = future.look(cold_case, cold_uptake, float(np.interp(now, seconds, under)), tell)
    return Charge(
        case=case,
        reference="the ground at the start, had it not been heated before"
        if heated_before
        else "the ground at the start of the run",
        now=now, moments=seconds, under_floor=under, all_ground=everywhere, uptake=uptake,
        cold_uptake=cold_uptake, depths=depths, share=share, ahead=seen, carried_to=carried_to, **answer,
    )  # fmt: skip


class _Borrowed:
    """Results that somebody else closes."""

    def __init__(self, results: Results) -> None:
        self._results = results

    def __enter__(self) -> Results:
        return self._results

    def __exit__(self, *_: object) -> None:
        """Leave them open."""


def _depths(results: Results, cells: Cells, reference: FloatArray, now: float) -> Depths:
    times = np.asarray(results.read("field_time"), dtype=np.float64)
    last = int(np.argmin(np.abs(times - now)))
    rows = sorted({0, last // 3, 2 * last // 3, last})
    excesses = [np.asarray(results.read("ground_temperature", row), np.float64) - reference for row in rows]
    profiles = [excess_profile(cells, excess) for excess in excesses]
    layers = cells.capacity[:, :, cells.under].sum(axis=(0, 2)) * profiles[-1]
    return Depths(
        depth=cells.depth, moments=[float(times[row]) for row in rows], profiles=profiles,
        reached=reach(cells.depth, profiles[-1]), ninety=deepest_share(cells.depth_edges, layers),
    )  # fmt: skip


@dataclass(frozen=True)
class _Future:
    """What would happen from now on, with and without fire."""

    case: Case
    now: float
    ahead: float
    share: float
    carried_to: float | None

    def look(
        self, cold_case: Case, cold: Uptake, held: float, tell: Callable[[float], None]
    ) -> dict[str, Any]:
        found: dict[str, Any] = {
            "saturated_after": None, "carried": None, "half_gone": None, "hour": None, "why_not": "",
            "course": {},
        }  # fmt: skip
        if self.ahead < HOUR:
            return found | {"why_not": "the weather ends here: choose an earlier moment with --at"}
        until = self.now + self.ahead
        tick = round(self.now * TICKS_PER_SECOND)
        burns = self.case.heat.kind in BURNING
        idle = from_now_on(self.case, [(tick, "case", "off")], until)
        with _dry(idle) as results:
            seconds, floor, stored = _read(results, "floor_mean_temperature", "ledger_stored_under_floor")
        tell(0.5)
        found["course"] = {"floor without fire": (seconds, floor)}
        found["half_gone"] = _first_below(
            seconds, stored - np.interp(self.now, seconds, stored) + held, 0.5 * held, self.now
        ) if held > 0.0 else None  # fmt: skip
        if self.carried_to is None:
            never = from_now_on(longer(cold_case, until), [(0, "case", "off")], until)
            with _dry(never) as results:
                times, unheated = _read(results, "floor_mean_temperature")
            mark = np.interp(seconds, times, unheated) + NEAR
            found["course"]["floor never heated"] = (times, unheated)
        else:
            mark = np.full(seconds.size, self.carried_to)
        found["carried"] = _first_below(seconds, floor - mark, 0.0, self.now)
        tell(0.65)
        if not burns:
            kind = self.case.heat.kind
            return found | {"why_not": f'heat.kind = "{kind}" has no fire that could be lit for an hour'}
        firing = from_now_on(self.case, [(tick, "on", "on")], until)
        with _dry(firing) as results:
            uptake = uptake_of(results, self.now)
            found["course"]["uptake"] = (uptake.moments, uptake.share)
        tell(0.8)
        later = min(self.ahead, 86400.0)
        compared = spend_hour(cold_case, 0.0, later) if farthest(cold_case, 0.0, later) == later else None
        reference = cold.first if compared is None else compared.uptake
        if reference is not None and uptake.share.size:
            found["saturated_after"] = _stays_below(uptake, self.share * reference, self.now)
        tell(0.9)
        found["hour"] = next_hour(self.case, self.now, later, compared, self.share)
        tell(1.0)
        return found


def _stays_below(uptake: Uptake, mark: float, now: float) -> float | None:
    """Time [s] after which the uptake is below a mark and stays there; None when it is above at the end."""
    above = np.flatnonzero(uptake.share >= mark)
    if not above.size:
        return 0.0
    last = int(above[-1])
    return None if last == uptake.share.size - 1 else float(uptake.moments[last]) - now


def _dry(case: Case) -> Results:
    """Run a case in memory, without maps and with a row every five minutes at most."""
    output = case.output.model_copy(update={"fields": 0.0, "interval": max(case.output.interval, 300.0)})
    return record(case.model_copy(update={"output": output}))


def _read(results: Results, *names: str) -> tuple[FloatArray, ...]:
    return tuple(np.asarray(results.read(name), dtype=np.float64) for name in ("time", *names))


def _first_below(seconds: FloatArray, values: FloatArray, mark: float, now: float) -> float | None:
    """Time [s] after `now` at which a course is first below a mark; None when it never is."""
    found = first_crossing(seconds, values, mark, falling=True, after=now)
    return None if found is None else found - now
