"""Moments and places as people type them: ``2031-01-16 06:00``, ``06:00``, ``+6 h``; ``7``, ``3 m``."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from simulator.errors import CaseError, DuctfloorError

if TYPE_CHECKING:
    from simulator.store.reader import Results

__all__ = ["length_typed", "moment_typed", "quantity_typed", "span_typed", "station_typed"]

_TIME_OF_DAY = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


def span_typed(
    results: Results, begin: str | None, end: str | None
) -> tuple[datetime | None, datetime | None]:
    """Read what was given with `--from` and `--to`; None for what was not.

    Where a beginning is given the end counts from it: "+6 h" is six hours later, "06:00" the next such time.

    Raises
    ------
    DuctfloorError
        When a text is no moment.
    """
    first = None if begin is None else moment_typed(results, begin, "--from")
    return first, None if end is None else moment_typed(results, end, "--to", after=first)


def moment_typed(results: Results, text: str, option: str, after: datetime | None = None) -> datetime:
    """Read a moment within a run.

    Parameters
    ----------
    results : Results
    text : str
        A local date and time, a time of day (the first one of the run) or a time since the start ("+6 h").
    option : str
        Named in the message when the text cannot be read.
    after : datetime, optional
        Count from here instead of from the start of the run; a time of day is then later than this.

    Returns
    -------
    datetime

    Raises
    ------
    DuctfloorError
        When the text is none of these.
    """
    start = results.start if after is None else after
    typed = text.strip()
    if typed.startswith("+"):
        try:
            return start + timedelta(seconds=_parsed(typed[1:], "time", option))
        except OverflowError:
            raise DuctfloorError(f'{option} "{text}": lies beyond any calendar') from None
    match = _TIME_OF_DAY.fullmatch(typed)
    if match:
        moment = datetime.combine(start.date(), time(int(match[1]), int(match[2])))
        passed = moment < start if after is None else moment <= start
        return moment + timedelta(days=1) if passed else moment
    written = _date_and_time(typed)
    if written is None or written.tzinfo is not None:
        raise DuctfloorError(
            f'{option} "{text}": is no local moment; write "{start:%Y-%m-%d %H:%M}", "06:00" or "+6 h"'
        )
    return written


def station_typed(results: Results, text: str, option: str = "--station") -> int:
    """Read a station: its number, counted from 1 at the floor's start, or a distance from there.

    Returns
    -------
    int
        Index from 0.

    Raises
    ------
    DuctfloorError
        When there is no such station.
    """
    edges = results["edge"].values
    count = edges.size - 1
    typed = text.strip()
    if re.fullmatch(r"[+-]?\d{1,9}", typed):
        number = int(typed)
        if not 1 <= number <= count:
            raise DuctfloorError(f"{option} {number}: there is no such station; allowed: 1 to {count}")
        return number - 1
    distance = _parsed(typed, "length", option)
    if not float(edges[0]) <= distance <= float(edges[-1]):
        raise DuctfloorError(
            f'{option} "{text}": is not along the ducts; allowed: {edges[0]:g} m to {edges[-1]:g} m'
        )
    return min(int(edges.searchsorted(distance, side="right")) - 1, count - 1)


def length_typed(text: str, option: str) -> float:
    """Read a length [m].

    Raises
    ------
    CaseError
        When the text is none; it names the option.
    """
    return _parsed(text, "length", option)


def quantity_typed(text: str, dimension: str, option: str) -> float:
    """Read a quantity [SI].

    Raises
    ------
    CaseError
        When the text is none of that dimension; it names the option.
    """
    return _parsed(text, dimension, option)


def _parsed(text: str, dimension: str, option: str) -> float:
    from simulator.case.units import parse

    try:
        return parse(text.strip(), dimension)
    except CaseError as error:
        raise CaseError(error.problem, key=option, value=text, allowed=error.allowed, fix=error.fix) from None


def _date_and_time(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None
