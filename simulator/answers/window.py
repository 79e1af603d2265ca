"""Which part of a run an answer is about: a night, a stretch between two given times, or all of it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from simulator.errors import CaseError

__all__ = ["Window", "choose_window", "nights_of"]

EVENING = dt.time(18)
MORNING = dt.time(9)
_SHORTEST_NIGHT = dt.timedelta(hours=7.5)  # half of evening to morning
_DAY = dt.timedelta(days=1)


@dataclass(frozen=True)
class Window:
    """A stretch of local time.

    Attributes
    ----------
    begin, end : datetime
    night : int or None
        Which night of the run it is, from 1; None when it is not one of them.
    nights : int
        Nights in the run.
    """

    begin: dt.datetime
    end: dt.datetime
    night: int | None = None
    nights: int = 0

    @property
    def hours(self) -> float:
        """Length [h]."""
        return (self.end - self.begin) / dt.timedelta(hours=1)

    def describe(self) -> str:
        """Say it in words for printing."""
        text = f"{_minutes(self.begin)} to {_minutes(self.end)}"
        return text if self.night is None else f"{text} (night {self.night} of {self.nights})"


def nights_of(start: dt.datetime, end: dt.datetime) -> list[tuple[dt.datetime, dt.datetime]]:
    """List the nights of a run, from 18:00 or its start to 09:00 or its end.

    A night counts when the run holds at least half of it.

    Parameters
    ----------
    start, end : datetime
        Of the run.

    Returns
    -------
    list of (datetime, datetime)
    """
    found = []
    evening = dt.datetime.combine(start.date(), EVENING) - _DAY
    while evening < end:
        morning = dt.datetime.combine(evening.date() + _DAY, MORNING)
        part = max(evening, start), min(morning, end)
        if part[1] - part[0] >= _SHORTEST_NIGHT:
            found.append(part)
        evening += _DAY
    return found


def choose_window(
    start: dt.datetime,
    end: dt.datetime,
    *,
    begin_at: dt.datetime | None = None,
    end_at: dt.datetime | None = None,
    night: int | None = None,
) -> Window:
    """Choose the stretch of a run that was asked for; by default its last night, or all when it has none.

    Parameters
    ----------
    start, end : datetime
        Of the run.
    begin_at, end_at : datetime, optional
        The stretch to use; one left out means the start or end of the run.
    night : int, optional
        Which night, from 1; negative counts from the last.

    Raises
    ------
    CaseError
        When the run has no such stretch or night.
    """
    nights = nights_of(start, end)
    if begin_at is not None or end_at is not None:
        if night is not None:
            raise CaseError("a night and a begin or end are given", fix="give one or the other")
        begin_at = start if begin_at is None else _within("begin", begin_at, start, end)
        end_at = end if end_at is None else _within("end", end_at, start, end)
        if begin_at >= end_at:
            problem = f"must be after the begin, {_minutes(begin_at)}"
            raise CaseError(problem, key="end", value=_minutes(end_at))
        return Window(begin_at, end_at, None, len(nights))
    if night is None:
        if not nights:
            return Window(start, end)
        night = len(nights)
    position = night - 1 if night > 0 else len(nights) + night
    if night == 0 or not 0 <= position < len(nights):
        allowed = f"1 to {len(nights)}" if nights else "none, the run holds no night"
        raise CaseError("the run has no such night", key="night", value=night, allowed=allowed)
    return Window(*nights[position], position + 1, len(nights))


def _within(key: str, moment: dt.datetime, start: dt.datetime, end: dt.datetime) -> dt.datetime:
    if moment.tzinfo is not None:
        raise CaseError("has a time zone", key=key, value=moment.isoformat(), fix="give the local time alone")
    if not start <= moment <= end:
        allowed = f"{_minutes(start)} to {_minutes(end)}"
        raise CaseError("is outside the run", key=key, value=_minutes(moment), allowed=allowed)
    return moment


def _minutes(moment: dt.datetime) -> str:
    return moment.isoformat(" ", "minutes" if not (moment.second or moment.microsecond) else "seconds")
