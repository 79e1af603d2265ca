"""Which row, which station: choices given as an index, an instant or a place, turned into an index."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simulator.errors import DuctfloorError
from simulator.look.scales import Units
from simulator.look.wording import moment_text

if TYPE_CHECKING:
    from simulator.store.reader import Results

When = int | str | dt.datetime | np.datetime64

__all__ = [
    "When", "duration", "instants", "pick_span", "pick_station", "pick_time", "row_of", "shown_units",
    "titles",
]  # fmt: skip


def instants(results: Results, coordinate: str = "time") -> NDArray[np.datetime64]:
    """Date and time of every row of a time coordinate, to the millisecond."""
    return results.field_time if coordinate == "field_time" else results.time


def _as_instant(when: str | dt.datetime | np.datetime64) -> np.datetime64:
    if isinstance(when, dt.datetime) and when.tzinfo is not None:
        raise DuctfloorError(f"{when.isoformat()}: times are local, give them without a zone")
    try:
        instant = np.array([when], dtype="datetime64[ms]")
    except ValueError:
        instant = np.array(["NaT"], dtype="datetime64[ms]")
    if np.isnat(instant[0]):
        raise DuctfloorError(f"{when!r}: not a time; write one like 2024-01-15T06:00")
    moment: np.datetime64 = instant[0]
    return moment


def pick_time(results: Results, when: When, coordinate: str = "field_time") -> int:
    """Index of the row that is meant, or lies nearest to what is meant.

    Parameters
    ----------
    results : Results
    when : int, str, datetime or datetime64
        An index, from the end when negative, or a local date and time within the rows.
    coordinate : str
        `field_time` for maps, `time` for series.

    Returns
    -------
    int

    Raises
    ------
    DuctfloorError
        When there are no rows, or none that is meant.
    """
    rows = instants(results, coordinate)
    if rows.size == 0:
        what = "maps of the ground" if coordinate == "field_time" else "rows"
        raise DuctfloorError(f"these results hold no {what}; set output.fields in the case and run it again")
    if isinstance(when, (int, np.integer)):
        if not -rows.size <= when < rows.size:
            raise DuctfloorError(f"time {when}: allowed: {-rows.size} to {rows.size - 1}")
        return int(when) % rows.size
    instant = _as_instant(when)
    # Half a gap beyond either end still has that end as its nearest row.
    slack = np.diff(rows).max() // 2 if rows.size > 1 else np.timedelta64(0, "ms")
    if not rows[0] - slack <= instant <= rows[-1] + slack:
        raise DuctfloorError(
            f"{moment_text(instant)}: allowed: {moment_text(rows[0])} to {moment_text(rows[-1])}"
        )
    return int(np.argmin(np.abs(rows - instant)))


def pick_span(
    results: Results, begin: When, end: When, what: str, *, within: bool = False
) -> tuple[int, int]:
    """Find the first and the last row of a stretch of time.

    Parameters
    ----------
    results : Results
    begin, end : int, str, datetime or datetime64
        See `pick_time`.
    what : str
        Whose end and beginning a message names.
    within : bool
        Whether one row alone will do.

    Raises
    ------
    DuctfloorError
        When there is no such time, or the end lies before the beginning (without `within`: not after it).
    """
    first, last = pick_time(results, begin, "time"), pick_time(results, end, "time")
    if last < first and within:
        raise DuctfloorError(f"the end of the {what} lies before its beginning")
    if last <= first and not within:
        raise DuctfloorError(f"the end of the {what} must lie after its beginning")
    return first, last


def pick_station(results: Results, station: float) -> int:
    """Index of a station given as an index (whole number) or as a distance from the start [m] (float).

    Raises
    ------
    DuctfloorError
        When there is no such station.
    """
    edges = np.asarray(results.read("edge"), dtype=np.float64)
    count = edges.size - 1
    if isinstance(station, (int, np.integer)):
        if not -count <= station < count:
            raise DuctfloorError(f"station {station}: allowed: {-count} to {count - 1}")
        return int(station) % count
    if not edges[0] <= station <= edges[-1]:
        raise DuctfloorError(f"station at {station:g} m: allowed: {edges[0]:g} m to {edges[-1]:g} m")
    return min(int(np.searchsorted(edges, station, side="right")) - 1, count - 1)


def row_of(results: Results, field_index: int) -> int:
    """Index of the row of the series that belongs to a map."""
    rows = np.asarray(results.read("time"), dtype=np.float64)
    return int(np.argmin(np.abs(rows - float(results.read("field_time", field_index)))))


def duration(results: Results, row: int, coordinate: str = "time") -> float:
    """Seconds from the start of the case to a row."""
    return float(results.read(coordinate, row))


def titles(results: Results) -> list[str]:
    """Return the case's title as the first line of a heading; nothing where it has none."""
    title = str(results.attrs.get("title", ""))
    return [title] if title.strip() else []


def shown_units(results: Results, units: Units | None) -> Units:
    """Pick the system that comes first: the one asked for, or else the one of the case."""
    wanted = units or str(results.attrs.get("shown_in", "SI"))
    if wanted not in ("SI", "US"):
        raise DuctfloorError(f"units {wanted!r}: allowed: SI or US")
    return "US" if wanted == "US" else "SI"
