"""How full the floor is: heat held, uptake, depth reached, time to go, where the next fire is best spent."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from simulator.answers.floor_future import UNUSED_SERIES, Future, Unused, never_used, run_bare
from simulator.answers.heat_held import Cells, deepest_share, excess_profile, reach, read_cells
from simulator.answers.uptake import Uptake, uptake_of
from simulator.answers.what_if import farthest, from_now_on
from simulator.errors import CaseError
from simulator.run.plan import plan
from simulator.store.record import record

if TYPE_CHECKING:
    from collections.abc import Callable

    from simulator.answers.next_hour import NextHour
    from simulator.case.schema import Case
    from simulator.run.observers import FloatArray
    from simulator.store.reader import Results

__all__ = ["REFERENCE", "Charge", "Depths", "charge"]

REFERENCE: Final = "the same floor at the same moment, had its ducts never been used"


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
        From now without fire, until the floor is at `carried_to` or, when that is None, within a kelvin of
        the reference; None when not within `ahead`.
    half_gone : float or None [s]
        From now without fire, until half of the charge under the floor is gone.
    carried_to : float or None [degC]
    ahead : float [s]
        How far ahead was looked.
    hour : NextHour or None
        None where no fire can be tried; then `why_not` says why.
    why_not : str
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
    seen = farthest(case, now, ahead)
    heated_before = case.ground.run_in > 0.0 and case.ground.run_in_drive == "timetable"
    cold_case = case
    if heated_before:
        whole = max(case.site.duration, farthest(case, 0.0, 86400.0))
        cold_case = from_now_on(case, [(0, "case", "case")], whole, unheated_before=True)
    tell(0.1)
    with record(never_used(case, max(now + seen, float(seconds[-1])))) as unused:
        under, everywhere = (
            _above(results, unused, name, cells, under_floor=under_floor)
            for name, under_floor in (("ledger_stored_under_floor", True), ("ledger_stored_ground", False))
        )
        depths = _depths(results, unused, cells, now)
        compared = Unused(*(np.asarray(unused.read(name), np.float64) for name in UNUSED_SERIES))
    tell(0.3)
    if not heated_before:
        cold_uptake = uptake_of(results)
    else:
        with run_bare(cold_case) as cold:
            cold_uptake = uptake_of(cold)
    tell(0.4)
    held = float(np.interp(now, seconds, under))
    future = Future(case, cold_case, now, seen, share, carried_to)
    return Charge(
        case=case, reference=REFERENCE, now=now, moments=seconds, under_floor=under, all_ground=everywhere,
        uptake=uptake_of(results), cold_uptake=cold_uptake, depths=depths, share=share, ahead=seen,
        carried_to=carried_to, **future.look(compared, cold_uptake, held, tell),
    )  # fmt: skip


def _above(results: Results, unused: Results, name: str, cells: Cells, *, under_floor: bool) -> FloatArray:
    """Heat (T,) [J] above the floor never used at the rows of a run: maps at the start, ledgers after."""
    maps = [np.asarray(each.read("ground_temperature", 0), dtype=np.float64) for each in (results, unused)]
    seconds, times = (np.asarray(each.read("time"), dtype=np.float64) for each in (results, unused))
    ledger, other = (np.asarray(each.read(name), dtype=np.float64) for each in (results, unused))
    at_start = cells.heat(maps[0] - maps[1], under_floor=under_floor)
    return np.asarray(at_start + ledger - np.interp(seconds, times, other))


def _depths(results: Results, unused: Results, cells: Cells, now: float) -> Depths:
    times = np.asarray(results.read("field_time"), dtype=np.float64)
    others = np.asarray(unused.read("field_time"), dtype=np.float64)
    last = int(np.argmin(np.abs(times - now)))
    rows = sorted({0, last // 3, 2 * last // 3, last})
    excesses = []
    for row in rows:
        other = int(np.argmin(np.abs(others - times[row])))
        excesses.append(
            np.asarray(results.read("ground_temperature", row), np.float64)
            - np.asarray(unused.read("ground_temperature", other), np.float64)
        )
    profiles = [excess_profile(cells, excess) for excess in excesses]
    layers = cells.capacity[:, :, cells.under].sum(axis=(0, 2)) * profiles[-1]
    return Depths(
        depth=cells.depth, moments=[float(times[row]) for row in rows], profiles=profiles,
        reached=reach(cells.depth, profiles[-1]), ninety=deepest_share(cells.depth_edges, layers),
    )  # fmt: skip
