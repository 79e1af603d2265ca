"""A case that goes on beyond its end with other settings: what would happen from now on."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING, Any, Final

from simulator.case.schema_run import DatedEntry
from simulator.case.timetable import TICKS_PER_DAY, TICKS_PER_SECOND, ticks_between
from simulator.climate.weather import from_case
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from simulator.case.schema import Case
    from simulator.case.timetable import Drive

__all__ = ["Piece", "farthest", "from_now_on", "longer"]

Piece = tuple[int, str, str]
"""Tick, and what fan and heat do from there on: "on", "off" or "case" for what the timetable says."""
_TRIALS: Final = (1.0, 0.7, 0.5, 0.3, 0.2, 0.1, 0.05)


def longer(case: Case, seconds: float) -> Case:
    """Return the case with another duration [s]."""
    return case.model_copy(update={"site": case.site.model_copy(update={"duration": seconds})})


def farthest(case: Case, now: float, ahead: float) -> float:
    """How far [s] beyond a moment the weather of a case reaches, up to `ahead`; 0 when it does not.

    Parameters
    ----------
    case : Case
    now, ahead : float [s]
    """
    for part in _TRIALS:
        try:
            # A table of values tells only when it is asked for the last moment.
            weather = from_case(longer(case, now + part * ahead))
            weather.temperature_at([round((now + part * ahead) * TICKS_PER_SECOND)])
        except (CaseError, ValueError, IndexError):
            continue
        return part * ahead
    return 0.0


def from_now_on(case: Case, pieces: list[Piece], until: float, *, unheated_before: bool = False) -> Case:
    """Return the case, prolonged, with fan and heat as told from some moment on.

    Parameters
    ----------
    case : Case
    pieces : list of (int, str, str)
        Rising; see `Piece`. Up to the first the timetable holds.
    until : float [s]
        New duration.
    unheated_before : bool
        Whether fan and heat are off through the run-in; the first piece is then at the start.

    Returns
    -------
    Case
    """
    extended = longer(case, until)
    table, start = case.timetable, case.site.start
    timetable = extended.timetable_compiled
    first = pieces[0][0]
    end = timetable.end
    midnight = -ticks_between(dt.datetime.combine(start.date(), dt.time()), start)
    repeated = [*table.daily, *getattr(table, "weekly", ())]
    instants = {tick for tick, _, _ in pieces}
    instants |= {ticks_between(start, entry.at) for entry in table.dated}
    for day in range((first - midnight) // TICKS_PER_DAY, (end - midnight) // TICKS_PER_DAY + 1):
        instants |= {midnight + day * TICKS_PER_DAY + entry.at * TICKS_PER_SECOND for entry in repeated}
    others = {ticks_between(start, entry.at): _without_fan_and_heat(entry) for entry in table.dated}
    entries: list[DatedEntry] = [entry for entry in table.dated if ticks_between(start, entry.at) < first]
    for tick in sorted(instant for instant in instants if first <= instant < end):
        _, fan, heat = [piece for piece in pieces if piece[0] <= tick][-1]
        drive = timetable.values_from(tick)
        settings: dict[str, Any] = {"at": start + dt.timedelta(milliseconds=tick), **others.get(tick, {})}
        settings["fan"] = drive.fan_share if fan == "case" else fan
        settings |= _heat_as(drive) if heat == "case" else {"heat": heat}
        entries.append(DatedEntry.model_construct(**settings))
    begins, daily, weekly = table.start, table.daily, getattr(table, "weekly", [])
    if unheated_before:
        begins = begins.model_copy(update={"fan": "off", "heat": "off", "supply_temperature": None})
        daily, weekly = _others_of(daily), _others_of(weekly)
    else:
        if begins.fan is None and not any(entry.fan is not None for entry in repeated):
            begins = begins.model_copy(update={"fan": timetable.values_from(0).fan_share})
        if not begins.sets_heat and not any(entry.sets_heat for entry in repeated):
            begins = begins.model_copy(update=_heat_as(timetable.values_from(0)))
    changed = {"dated": entries, "start": begins, "daily": daily, "weekly": weekly}
    return extended.model_copy(update={"timetable": table.model_copy(update=changed)})


def _others_of(entries: Sequence[Any]) -> list[Any]:
    """Entries of a timetable without fan and heat; those that say nothing else are left out."""
    bare = {"fan": None, "heat": None, "supply_temperature": None}
    left = [entry.model_copy(update=bare) for entry in entries]
    return [entry for entry in left if entry.model_dump(exclude_none=True, exclude={"at", "day"})]


def _without_fan_and_heat(entry: DatedEntry) -> dict[str, Any]:
    return entry.model_dump(exclude_none=True, exclude={"at", "fan", "heat", "supply_temperature"})


def _heat_as(drive: Drive) -> dict[str, Any]:
    """Return settings of the heat that mean what the timetable holds."""
    if drive.follows_series:
        return {"heat": "on"}
    if math.isnan(drive.heat_power):
        return {"supply_temperature": drive.supply_temperature}
    return {"heat": drive.heat_power if drive.heat_power > 0.0 else "off"}
