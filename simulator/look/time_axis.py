"""A level axis of dates and times that keeps room for names on its right."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axes._secondary_axes import SecondaryAxis
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num, num2date
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from simulator.look.scales import FloatArray

__all__ = ["as_days", "with_room_at_right", "write_dates", "write_numbers"]


def as_days(moments: NDArray[np.datetime64]) -> FloatArray:
    """Dates as the numbers that axes use."""
    return np.asarray(date2num(moments), dtype=np.float64)  # type: ignore[no-untyped-call]


def with_room_at_right(axes: Axes, first: float, last: float, room: float) -> float:
    """Set the level limits so that `room` [in] stays free right of the data; return where the data end."""
    if last <= first:
        first, last = first - 1.0 / 48.0, last + 1.0 / 48.0
    figure = axes.get_figure(root=True)
    width = axes.get_position().width * figure.get_size_inches()[0]  # type: ignore[union-attr]
    share = min(room / width, 0.6)
    axes.set_xlim(first, first + (last - first) / (1.0 - share))
    return last


def write_dates(axes: Axes, first: float, last: float) -> None:
    """Write dates and times along the data only."""
    locator = AutoDateLocator(minticks=4, maxticks=11)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_locator(locator)
    low, high = (first, last) if last > first else axes.get_xlim()
    ticks = np.asarray(locator.tick_values(num2date(low), num2date(high)))  # type: ignore[no-untyped-call]
    slack = 1e-9 * max(high - low, 1e-6)
    axes.set_xticks(ticks[(ticks >= low - slack) & (ticks <= high + slack)])
    dates = ConciseDateFormatter(locator, show_offset=False)  # type: ignore[no-untyped-call]
    axes.xaxis.set_major_formatter(dates)


def write_numbers(axes: Axes | SecondaryAxis, last: float, first: float = 0.0) -> None:
    """Write round numbers along the data only."""
    ticks = np.asarray(MaxNLocator(9, steps=[1, 2, 3, 4, 5, 6, 10]).tick_values(first, last))
    slack = 1e-9 * (last - first)
    axes.set_xticks(ticks[(ticks >= first - slack) & (ticks <= last + slack)])
