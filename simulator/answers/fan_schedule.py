"""A case with another fan schedule for one stretch of time: everything before and after stays as it was."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from simulator.case.schema_run import DatedEntry
from simulator.case.timetable import TICKS_PER_DAY, TICKS_PER_SECOND, ticks_between

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from simulator.case.schema import Case

__all__ = ["fan_entries_between", "with_fan"]

Piece = tuple[int, float]
"""Tick from which the fan runs at a share of its full speed, and that share."""


def with_fan(case: Case, pieces: Sequence[Piece], stretches: Sequence[tuple[int, int]]) -> Case:
    """Return the case with the fan switched otherwise inside some stretches of time.

    Parameters
    ----------
    case : Case
    pieces : sequence of (int, float)
        Tick and share from there on, rising; the first at the begin of the first stretch or before it.
    stretches : sequence of (int, int) [ticks]
        Begin and end, rising, apart from each other. Outside them the case's own timetable holds.

    Returns
    -------
    Case
        The same case but for dated entries of its timetable.
    """
    table, start = case.timetable, case.site.start
    timetable = case.timetable_compiled
    fan: dict[int, float] = {}
    for begin, end in stretches:
        fan[begin] = _share_at(pieces, begin)
        fan |= {tick: share for tick, share in pieces if begin < tick < end}
        # What the timetable would do in between has to be undone at the same instant.
        fan |= {tick: _share_at(pieces, tick) for tick in fan_entries_between(case, begin, end)}
        if end < timetable.end:
            fan[end] = timetable.values_from(end).fan_share
    inside = _outside_of(stretches)
    dated: dict[int, dict[str, Any]] = {}
    for entry in table.dated:
        settings = entry.model_dump(exclude_none=True)
        tick = ticks_between(start, entry.at)
        if inside(tick):
            settings.pop("fan", None)
        dated[tick] = settings
    for tick, share in fan.items():
        at = start + dt.timedelta(milliseconds=tick)
        dated[tick] = {"at": at, **dated.get(tick, {}), "fan": share}
    entries = [
        DatedEntry.model_construct(**settings) for _, settings in sorted(dated.items()) if len(settings) > 1
    ]
    # A channel with dated entries alone has to be told how it begins.
    begins = table.start
    if begins.fan is None:
        begins = begins.model_copy(update={"fan": timetable.values_from(0).fan_share})
    keep_start = any(_sets_fan(entry) for entry in _repeated(case)) and table.start.fan is None
    changed = {"dated": entries} if keep_start else {"dated": entries, "start": begins}
    return case.model_copy(update={"timetable": table.model_copy(update=changed)})


def fan_entries_between(case: Case, begin: int, end: int) -> list[int]:
    """Ticks strictly between two at which a repeated or dated entry of the timetable sets the fan."""
    start = case.site.start
    midnight = -ticks_between(dt.datetime.combine(start.date(), dt.time()), start)
    found = {ticks_between(start, entry.at) for entry in case.timetable.dated if entry.fan is not None}
    for day in range((begin - midnight) // TICKS_PER_DAY, (end - midnight) // TICKS_PER_DAY + 1):
        base = midnight + day * TICKS_PER_DAY
        # Entries of a weekday are taken for every day: one too many sets what holds anyhow.
        found |= {base + entry.at * TICKS_PER_SECOND for entry in _repeated(case) if _sets_fan(entry)}
    return sorted(tick for tick in found if begin < tick < end)


def _repeated(case: Case) -> Iterable[Any]:
    return [*case.timetable.daily, *getattr(case.timetable, "weekly", ())]


def _sets_fan(entry: Any) -> bool:
    return entry.fan is not None


def _share_at(pieces: Sequence[Piece], tick: int) -> float:
    held = [share for at, share in pieces if at <= tick]
    return held[-1] if held else pieces[0][1]


def _outside_of(stretches: Sequence[tuple[int, int]]) -> Any:
    def inside(tick: int) -> bool:
        return any(begin <= tick < end for begin, end in stretches)

    return inside
