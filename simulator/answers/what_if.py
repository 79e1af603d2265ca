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
    from simulator.case.schema_run import Settings
    from simulator.case.timetable import Drive, Timetable

__all__ = ["Piece", "farthest", "from_now_on", "longer"]

Piece = tuple[int, str, str]
"""Tick, and what fan and heat do from there on: "on", "off" or "case" for what the timetable says."""
_FIRE_AND_FAN: Final = ("fan", "heat", "supply_temperature", "feed")
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


def from_now_on(
    case: Case,
    pieces: list[Piece],
    until: float,
    *,
    unheated_before: bool = False,
    loads: Sequence[tuple[int, float]] = (),
    pump: str = "case",
) -> Case:
    """Return the case, prolonged, with fan, fire and pump as told from some moment on.

    Parameters
    ----------
    case : Case
    pieces : list of (int, str, str)
        Rising; see `Piece`. Up to the first the timetable holds. Without heat no fuel is laid on or fed.
    until : float [s]
        New duration.
    unheated_before : bool
        Whether fan and heat are off through the run-in; the first piece is then at the start.
    loads : sequence of (int, float)
        Tick and mass [kg] of fuel laid on beside what the timetable does.
    pump : str
        "on", "off" or "case" from the first piece on.

    Returns
    -------
    Case
    """
    extended = longer(case, until)
    table, start = case.timetable, case.site.start
    timetable = extended.timetable_compiled
    first, end = pieces[0][0], timetable.end
    # The heat of a stove follows its fuel, and cannot be set.
    stove = case.heat.kind == "stove"
    steady = case.stove is not None and case.stove.burn == "steady"
    dated: dict[int, dict[str, Any]] = {
        ticks_between(start, entry.at): entry.model_dump(exclude_none=True, exclude={"at", "load"})
        for entry in table.dated
    }
    for tick in _instants(case, pieces, end):
        _, fan, heat = _piece_at(pieces, tick)
        drive = timetable.values_from(tick)
        kept = {key: value for key, value in dated.get(tick, {}).items() if key not in _FIRE_AND_FAN}
        kept["fan"] = drive.fan_share if fan == "case" else fan
        if not stove:
            kept |= _heat_as(drive) if heat == "case" else {"heat": heat}
        if steady:
            kept["feed"] = drive.feed if heat == "case" else heat
        if case.water is not None and pump != "case":
            kept["pump"] = pump
        dated[tick] = kept
    burnt = [each for each in timetable.loads if each[0] < first or _piece_at(pieces, each[0])[2] == "case"]
    for tick, mass in [*burnt, *loads]:
        dated.setdefault(tick, {})["load"] = mass
    begins, daily, weekly = table.start, table.daily, table.weekly
    if unheated_before:
        off: dict[str, Any] = {"fan": "off"} | ({} if stove else {"heat": "off", "supply_temperature": None})
        begins = begins.model_copy(update=off | ({"feed": "off"} if steady else {}))
        bare: tuple[str, ...] = (*_FIRE_AND_FAN, "load")
    else:
        begins = _told_start(case, timetable)
        bare = ("load",)
    changed = {
        "dated": [
            DatedEntry.model_construct(at=start + dt.timedelta(milliseconds=tick), **settings)
            for tick, settings in sorted(dated.items())
            if settings
        ],
        "start": begins,
        "daily": _without(daily, bare),
        "weekly": _without(weekly, bare),
    }
    return extended.model_copy(update={"timetable": table.model_copy(update=changed)})


def _piece_at(pieces: list[Piece], tick: int) -> Piece:
    return [piece for piece in pieces if piece[0] <= tick][-1]


def _instants(case: Case, pieces: list[Piece], end: int) -> list[int]:
    """Ticks from the first piece on at which something is told or the timetable sets anything."""
    start, table, first = case.site.start, case.timetable, pieces[0][0]
    midnight = -ticks_between(dt.datetime.combine(start.date(), dt.time()), start)
    found = {tick for tick, _, _ in pieces} | {ticks_between(start, entry.at) for entry in table.dated}
    times = [*(entry.at for entry in table.daily), *(entry.at for entry in table.weekly)]
    for day in range((first - midnight) // TICKS_PER_DAY, (end - midnight) // TICKS_PER_DAY + 1):
        base = midnight + day * TICKS_PER_DAY
        found |= {base + at * TICKS_PER_SECOND for at in times}
    return sorted(tick for tick in found if first <= tick < end)


def _told_start(case: Case, timetable: Timetable) -> Settings:
    """Return settings at the start with what the timetable takes for granted: dated entries need them."""
    begins, drive = case.timetable.start, timetable.values_from(0)
    repeated = [*case.timetable.daily, *case.timetable.weekly]
    if begins.fan is None and not any(entry.fan is not None for entry in repeated):
        begins = begins.model_copy(update={"fan": drive.fan_share})
    if case.heat.kind != "stove" and not begins.sets_heat and not any(entry.sets_heat for entry in repeated):
        begins = begins.model_copy(update=_heat_as(drive))
    for name, there in (("pump", case.water is not None), ("feed", case.stove is not None)):
        told = getattr(begins, name) is not None or any(
            getattr(entry, name) is not None for entry in repeated
        )
        if there and not told:
            begins = begins.model_copy(update={name: getattr(drive, name)})
    return begins


def _without(entries: Sequence[Any], keys: Sequence[str]) -> list[Any]:
    """Entries of a timetable without some keys; those that say nothing else are left out."""
    left = [entry.model_copy(update=dict.fromkeys(keys)) for entry in entries]
    return [entry for entry in left if entry.model_dump(exclude_none=True, exclude={"at", "day"})]


def _heat_as(drive: Drive) -> dict[str, Any]:
    """Return settings of the heat that mean what the timetable holds."""
    if drive.follows_series:
        return {"heat": "on"}
    if math.isnan(drive.heat_power):
        return {"supply_temperature": drive.supply_temperature}
    return {"heat": drive.heat_power if drive.heat_power > 0.0 else "off"}
