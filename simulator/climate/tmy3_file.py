"""Reader of the public TMY3 hourly format of the US National Renewable Energy Laboratory.

S. Wilcox and W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008): line 1 holds the site,
line 2 the headings; each row holds the air temperature at its time and the sun of the hour that ends then.
Hours run from 01:00 to 24:00 in local standard time. A file may hold the full year or some days in a row.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.climate.text_file import read_text_of
from simulator.errors import CaseError

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

DATE = "Date (MM/DD/YYYY)"
TIME = "Time (HH:MM)"
SUN = "GHI (W/m^2)"
TEMPERATURE = "Dry-bulb (C)"
_RANGES = {SUN: (0.0, 1500.0, "0 to 1500 W/m2"), TEMPERATURE: (-90.0, 65.0, "-90 to 65 degC")}
_DATE_FORM = re.compile(r"(\d\d)/(\d\d)/(\d{4})")
_TIME_FORM = re.compile(r"(\d\d):00")

Day = tuple[int, int]
"""Month and day."""


@dataclass(frozen=True, eq=False)
class HourlyDays:
    """Days of hourly weather by month and day.

    Attributes
    ----------
    place : str
        Name of the site.
    temperature : dict of (24,) float [degC]
        At 01:00, 02:00, ... 24:00.
    sun : dict of (24,) float [W/m2]
        On the horizontal, mean over the hour that ends at those times.
    """

    place: str
    temperature: dict[Day, NDArray[np.float64]]
    sun: dict[Day, NDArray[np.float64]]

    def day_for(self, date: dt.date) -> Day | None:
        """Return the day that stands for a date; 28 February also stands for 29 February. None if missing."""
        day = (date.month, date.day)
        if day == (2, 29) and day not in self.temperature:
            day = (2, 28)
        return day if day in self.temperature else None


def read_tmy3(path: Path, shown: str) -> HourlyDays:
    """Read a TMY3 file.

    Parameters
    ----------
    path : Path
    shown : str
        The name to use in messages, as the user gave it.

    Returns
    -------
    HourlyDays

    Raises
    ------
    CaseError
        Naming file, line, column and value of whatever cannot be used.
    """
    reader = csv.reader(io.StringIO(read_text_of(path, shown), newline=""), quoting=csv.QUOTE_NONE)
    try:
        rows = list(reader)
    except csv.Error as error:
        raise CaseError(
            f"is not a table of comma-separated values: {error}", file=shown, line=reader.line_num
        ) from None
    place, columns = _head(rows, shown)
    days: list[Day] = []
    table: dict[str, list[float]] = {SUN: [], TEMPERATURE: []}
    hour = 0
    for line, row in enumerate(rows[2:], start=3):
        if not row:
            continue
        if len(row) <= max(columns.values()):
            raise CaseError(f"the row ends after {len(row)} cells", file=shown, line=line)
        hour = hour % 24 + 1
        _check_hour(row[columns[TIME]].strip(), hour, shown, line)
        day = _day(row[columns[DATE]].strip(), shown, line)
        if hour == 1:
            _check_order(days, day, row[columns[DATE]], shown, line)
            days.append(day)
        elif day != days[-1]:
            raise CaseError(
                f"the day changes before its hour {hour}",
                file=shown,
                line=line,
                key=DATE,
                value=row[columns[DATE]],
            )
        for heading, found in table.items():
            found.append(_number(row[columns[heading]].strip(), heading, shown, line))
    if not days or hour != 24:
        raise CaseError(
            f"the last day ends at hour {hour}", file=shown, line=len(rows), fix="keep whole days of 24 rows"
        )
    hours = {heading: np.array(found).reshape(-1, 24) for heading, found in table.items()}
    return HourlyDays(
        place,
        dict(zip(days, hours[TEMPERATURE], strict=True)),
        dict(zip(days, hours[SUN], strict=True)),
    )


def _head(rows: list[list[str]], shown: str) -> tuple[str, dict[str, int]]:
    """Return the site's name and the places of the columns."""
    if len(rows) < 3 or len(rows[0]) < 7:
        raise CaseError(
            "is not in the TMY3 hourly format",
            file=shown,
            line=1,
            fix="line 1 has the site in seven cells, line 2 the headings; other tables need kind csv",
        )
    headings = [cell.strip() for cell in rows[1]]
    for heading in (DATE, TIME, SUN, TEMPERATURE):
        if heading not in headings:
            raise CaseError(
                f"no column is headed {heading!r}",
                file=shown,
                line=2,
                fix="other tables are read with kind csv",
            )
    return rows[0][1].strip(' "'), {name: headings.index(name) for name in (DATE, TIME, SUN, TEMPERATURE)}


def _check_hour(text: str, hour: int, shown: str, line: int) -> None:
    match = _TIME_FORM.fullmatch(text)
    if match is None or int(match[1]) != hour:
        raise CaseError(
            f"is not the next hour, {hour:02d}:00",
            file=shown,
            line=line,
            key=TIME,
            value=text,
            fix="keep whole days of 24 rows, 01:00 to 24:00",
        )


def _day(text: str, shown: str, line: int) -> Day:
    match = _DATE_FORM.fullmatch(text)
    if match is not None:
        month, day = int(match[1]), int(match[2])
        try:
            dt.date(2000, month, day)
        except ValueError:
            pass
        else:
            return month, day
    raise CaseError("is not a date", file=shown, line=line, key=DATE, value=text, allowed="MM/DD/YYYY")


def _check_order(days: list[Day], day: Day, text: str, shown: str, line: int) -> None:
    """Refuse a day that does not follow the one before, whatever the year."""
    if day in days[:1] or (days and day not in _followers(days[-1])):
        raise CaseError(
            "does not follow the day before",
            file=shown,
            line=line,
            key=DATE,
            value=text,
            fix="keep days in a row, each once",
        )


def _followers(day: Day) -> set[Day]:
    """Return the days that may follow a day: two after 28 February."""
    dates = [dt.date(year, *day) for year in (2000, 2001) if year == 2000 or day != (2, 29)]
    following = [date + dt.timedelta(days=1) for date in dates]
    return {(date.month, date.day) for date in following}


def _number(text: str, heading: str, shown: str, line: int) -> float:
    low, high, allowed = _RANGES[heading]
    problem = None
    value = 0.0
    try:
        value = float(text)
    except ValueError:
        problem = "is not a number"
    if problem is None and not low <= value <= high:
        problem = "marks a missing value" if value <= -9900.0 else "is out of range"
    if problem is not None:
        raise CaseError(problem, file=shown, line=line, key=heading, value=text, allowed=allowed)
    return value
