"""Reader of a table of values over time: comma-separated, with a heading for each column.

A table is taken as it is or refused: nothing is filled in. Lines that begin with ``#`` and empty lines do
not count. Where four fifths of the rows or more keep one interval, a longer one is a missing row and refused;
rows at times of the user's own choosing are joined by straight lines.
"""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import io
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.climate.text_file import read_text_of
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

TIME_UNITS = {"s": 1, "min": 60, "h": 3600}
"""Seconds in each unit of a column of numbers counted from the start of the case."""
LONGEST_FROM_START = 100 * 366 * 86400
"""Farthest time from the start of the case that a row may have [s]."""
REGULAR_ROWS = 12
"""Intervals from which a table can be seen to keep one interval."""
REGULAR_SHARE = 0.8
"""Share of intervals, alike within a tenth, from which a table keeps one interval."""


@dataclass(frozen=True)
class ValueColumn:
    """A column of numbers: where it is, how it becomes SI, and what it may hold.

    Attributes
    ----------
    heading : str
    scale, zero : float
        SI value = number * scale + zero.
    low, high : float
        Allowed SI values.
    allowed : str
        The same range in words.
    """

    heading: str
    scale: float
    zero: float
    low: float
    high: float
    allowed: str


@dataclass(frozen=True)
class TimeReading:
    """How the column of time is read.

    Attributes
    ----------
    heading : str
    pattern : str or None
        Of dates, as for ``datetime.strptime``; None for ISO dates.
    unit : str or None
        Of numbers counted from the start of the case; None for dates.
    """

    heading: str
    pattern: str | None = None
    unit: str | None = None


@dataclass(frozen=True)
class _Row:
    line: int
    cells: dict[str, str]


def read_series(
    path: Path, shown: str, time: TimeReading, columns: Sequence[ValueColumn], start: dt.datetime
) -> tuple[NDArray[np.int64], list[NDArray[np.float64]]]:
    """Read the times and some columns of a table.

    Parameters
    ----------
    path : Path
    shown : str
        The name to use in messages, as the user gave it.
    time : TimeReading
    columns : sequence of ValueColumn
    start : datetime
        Start of the case.

    Returns
    -------
    ticks : (n,) int
        Milliseconds since the start of the case, strictly increasing, n at least 2.
    values : list of (n,) float
        In SI, one array for each of `columns`.

    Raises
    ------
    CaseError
        Naming file, line, column and value of whatever cannot be used.
    """
    ticks: list[int] = []
    lines: list[int] = []
    values: list[list[float]] = [[] for _ in columns]
    headings = [time.heading, *(column.heading for column in columns)]
    for row in _rows(read_text_of(path, shown), shown, headings):
        tick = _tick(row, time, start, shown)
        if ticks and tick <= ticks[-1]:
            raise CaseError(
                "is not later than the row before",
                file=shown,
                line=row.line,
                key=time.heading,
                value=row.cells[time.heading],
                fix="sort the rows by time, leave out doubles, and keep standard time all year",
            )
        ticks.append(tick)
        lines.append(row.line)
        for column, found in zip(columns, values, strict=True):
            found.append(_number(row, column, shown))
    if len(ticks) < 2:
        raise CaseError("holds fewer than two rows of values", file=shown)
    knots = np.array(ticks, dtype=np.int64)
    _refuse_gaps(knots, lines, shown, time.heading)
    return knots, [np.array(found) for found in values]


def _rows(text: str, shown: str, headings: Sequence[str]) -> Iterator[_Row]:
    """Yield the rows under the headings, with the cells of the columns asked for."""
    reader = csv.reader(io.StringIO(text, newline=""))
    places: dict[str, int] = {}
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
                continue
            if not places:
                places = _places(cells, headings, shown, reader.line_num)
                continue
            if len(cells) <= max(places.values()):
                raise CaseError(
                    f"the row has {len(cells)} cells, but {max(places.values()) + 1} are needed",
                    file=shown,
                    line=reader.line_num,
                )
            row = {heading: cells[place].strip() for heading, place in places.items()}
            yield _Row(reader.line_num, row)
    except csv.Error as error:
        raise CaseError(
            f"is not a table of comma-separated values: {error}", file=shown, line=reader.line_num
        ) from None


def _places(cells: list[str], headings: Sequence[str], shown: str, line: int) -> dict[str, int]:
    """Return the place of each heading."""
    found = [cell.strip() for cell in cells]
    for heading in headings:
        if found.count(heading) > 1:
            raise CaseError(f"two columns are headed {heading!r}", file=shown, line=line)
        if heading not in found:
            near = difflib.get_close_matches(heading, found, n=1, cutoff=0.6)
            fix = f"did you mean {near[0]!r}?" if near else None
            if len(found) == 1 and any(mark in found[0] for mark in ";\t"):
                fix = "separate the columns by commas"
            names = ", ".join(repr(name) for name in found[:12])
            raise CaseError(f"no column is headed {heading!r}", file=shown, line=line, allowed=names, fix=fix)
    return {heading: found.index(heading) for heading in headings}


def _number(row: _Row, column: ValueColumn, shown: str) -> float:
    """Return one value in SI."""
    text = row.cells[column.heading]
    problem = None
    value = math.nan
    try:
        value = float(text) * column.scale + column.zero
    except ValueError:
        problem = "is not a number" if text else "is missing"
    if problem is None and not math.isfinite(value):
        problem = "is not a finite number"
    if problem is None and not column.low <= value <= column.high:
        problem = "is out of range"
    if problem is not None:
        raise CaseError(
            problem,
            file=shown,
            line=row.line,
            key=column.heading,
            value=text,
            allowed=column.allowed,
            fix="check the unit of the column" if "range" in problem else "fill the gap in the file",
        )
    return value


def _tick(row: _Row, time: TimeReading, start: dt.datetime, shown: str) -> int:
    """Return the time of a row in ticks."""
    text = row.cells[time.heading]

    def refusal(problem: str, fix: str) -> CaseError:
        return CaseError(problem, file=shown, line=row.line, key=time.heading, value=text, fix=fix)

    if time.unit is not None:
        try:
            seconds = float(text) * TIME_UNITS[time.unit]
        except ValueError:
            raise refusal(
                f"is not a number of {time.unit} from the start",
                "leave out unit where the column holds dates",
            ) from None
        if not abs(seconds) <= LONGEST_FROM_START:
            raise refusal("is not within a hundred years of the start", "check the unit of the column")
        return round(seconds * TICKS_PER_SECOND)
    try:
        if time.pattern is None:
            moment = dt.datetime.fromisoformat(text)
        else:
            moment = dt.datetime.strptime(text, time.pattern)
    except ValueError:
        pattern = (
            "an ISO date such as 2031-01-15 18:00" if time.pattern is None else f"a date like {time.pattern}"
        )
        raise refusal(f"is not {pattern}", "state the format of the column in the case file") from None
    if moment.tzinfo is not None:
        raise refusal("has a time zone", "write local standard time without a zone")
    tick = (moment - start) // dt.timedelta(milliseconds=1)
    if abs(tick) > LONGEST_FROM_START * TICKS_PER_SECOND:
        raise refusal("is not within a hundred years of the start of the case", "check the dates")
    return tick


def _refuse_gaps(ticks: NDArray[np.int64], lines: list[int], shown: str, heading: str) -> None:
    """Refuse a missing row in a table that otherwise keeps one interval."""
    intervals = np.diff(ticks)
    usual = float(np.median(intervals))
    alike = np.abs(intervals - usual) <= 0.1 * usual
    if intervals.size < REGULAR_ROWS or np.mean(alike) < REGULAR_SHARE:
        return
    gaps = np.flatnonzero(intervals > 1.5 * usual)
    if gaps.size:
        first = int(gaps[0])
        minutes = intervals[first] / TICKS_PER_SECOND / 60.0
        raise CaseError(
            f"{minutes:g} min have passed since the row before, in a table with a row every "
            f"{usual / TICKS_PER_SECOND / 60.0:g} min",
            file=shown,
            line=lines[first + 1],
            key=heading,
            fix="fill in the missing rows",
        )
