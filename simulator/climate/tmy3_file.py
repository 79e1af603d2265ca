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
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from simulator.climate.text_file import read_text_of
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from numpy.typing import NDArray

DATE = "Date (MM/DD/YYYY)"
TIME = "Time (HH:MM)"
SUN = "GHI (W/m^2)"
TEMPERATURE = "Dry-bulb (C)"
BEAM = "DNI (W/m^2)"
DIFFUSE = "DHI (W/m^2)"
HUMIDITY = "RHum (%)"
WIND = "Wspd (m/s)"
CLOUD = "TotCld (tenths)"
MORE = (BEAM, DIFFUSE, HUMIDITY, WIND, CLOUD)
"""Columns that are read when asked for, where the file has them."""
_RANGES = {
    SUN: (0.0, 1500.0, "0 to 1500 W/m2"),
    TEMPERATURE: (-90.0, 65.0, "-90 to 65 degC"),
    BEAM: (0.0, 1500.0, "0 to 1500 W/m2"),
    DIFFUSE: (0.0, 1500.0, "0 to 1500 W/m2"),
    HUMIDITY: (0.0, 100.0, "0 to 100 %"),
    WIND: (0.0, 100.0, "0 to 100 m/s"),
    CLOUD: (0.0, 10.0, "0 to 10 tenths"),
}
_DATE_FORM = re.compile(r"(\d\d)/(\d\d)/(\d{4})")
_TIME_FORM = re.compile(r"(\d\d):00")

Day = tuple[int, int]
"""Month and day."""


@dataclass(frozen=True)
class Place:
    """Where weather was measured: north and east positive [degrees], local standard time ahead of UTC [h]."""

    latitude: float
    longitude: float
    time_zone: float


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
    more : dict of dict of (24,) float
        Further columns by heading, in the units of the file: `BEAM` and `DIFFUSE` means over the hour, the
        others at its end.
    place_on_earth : Place or None
        None where line 1 does not say it in numbers.
    """

    place: str
    temperature: dict[Day, NDArray[np.float64]]
    sun: dict[Day, NDArray[np.float64]]
    more: dict[str, dict[Day, NDArray[np.float64]]] = field(default_factory=dict)
    place_on_earth: Place | None = None

    def day_for(self, date: dt.date) -> Day | None:
        """Return the day that stands for a date; 28 February also stands for 29 February. None if missing."""
        day = (date.month, date.day)
        if day == (2, 29) and day not in self.temperature:
            day = (2, 28)
        return day if day in self.temperature else None


def read_tmy3(path: Path, shown: str, more: Sequence[str] = ()) -> HourlyDays:
    """Read a TMY3 file.

    Parameters
    ----------
    path : Path
    shown : str
        The name to use in messages, as the user gave it.
    more : sequence of str
        Headings of further columns to read where the file has them, of `MORE`.

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
    place, columns = _head(rows, shown, more)
    days: list[Day] = []
    table: dict[str, list[float]] = {name: [] for name in columns if name not in (DATE, TIME)}
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
        {name: dict(zip(days, hours[name], strict=True)) for name in more if name in hours},
        _place(rows[0]),
    )


def _place(cells: list[str]) -> Place | None:
    """Return where the site lies, from the cells of line 1."""
    try:
        time_zone, latitude, longitude = (float(cell) for cell in cells[3:6])
    except ValueError:
        return None
    if not (abs(latitude) <= 90.0 and abs(longitude) <= 180.0 and abs(time_zone) <= 15.0):
        return None
    return Place(latitude, longitude, time_zone)


def _head(rows: list[list[str]], shown: str, more: Sequence[str]) -> tuple[str, dict[str, int]]:
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
    wanted = (DATE, TIME, SUN, TEMPERATURE, *(name for name in more if name in headings))
    return rows[0][1].strip(' "'), {name: headings.index(name) for name in wanted}


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
