"""A table of values named by a case, turned into series on the case's own clock."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from simulator.case import units
from simulator.case.timetable import TICKS_PER_SECOND
from simulator.climate.csv_series_file import TimeReading, ValueColumn, read_series
from simulator.climate.series import Tabulated
from simulator.errors import CaseError

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from simulator.case.schema import Case
    from simulator.case.schema_site import SunColumn, TemperatureColumn, TimeColumn, WindColumn


def value_column(
    column: TemperatureColumn | SunColumn | WindColumn, dimension: str, low: float, high: float, allowed: str
) -> ValueColumn:
    """Return the reading of a column whose SI values lie from `low` to `high`, `allowed` in words."""
    scale, zero = units.scale_and_zero(column.unit, dimension)
    return ValueColumn(column.column, scale, zero, low, high, allowed)


def tabulated(case: Case, file: str, time: TimeColumn, columns: Sequence[ValueColumn]) -> list[Tabulated]:
    """Return straight lines through the rows of a table, one series for each of `columns`.

    Parameters
    ----------
    case : Case
    file : str
        As the case names it.
    time : TimeColumn
    columns : sequence of ValueColumn

    Returns
    -------
    list of Tabulated

    Raises
    ------
    CaseError
        When the table cannot be used or does not reach from the start of the case to its end.
    """
    start = case.site.start
    reading = TimeReading(time.column, time.format, time.unit)
    ticks, values = read_series(case.resolve(file), file, reading, columns, start)
    _refuse_short(ticks, start, round(case.site.duration * TICKS_PER_SECOND), file)
    return [Tabulated.through(ticks, found) for found in values]


def _refuse_short(ticks: NDArray[np.int64], start: dt.datetime, end: int, file: str) -> None:
    """Refuse a table that does not reach from the start of the case to its end."""
    if ticks[0] <= 0 and ticks[-1] >= end:
        return

    def moment(tick: int) -> str:
        return (start + dt.timedelta(milliseconds=tick)).isoformat(" ", "seconds")

    raise CaseError(
        f"holds values from {moment(int(ticks[0]))} to {moment(int(ticks[-1]))}, "
        f"but the case runs from {moment(0)} to {moment(end)}",
        file=file,
        fix="change the start or the duration of the case, or use a longer file",
    )
