"""How long a course over time stays below a mark, on straight lines between its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from simulator.run.observers import FloatArray

__all__ = ["first_crossing", "seconds_below"]


def seconds_below(moments: FloatArray, values: FloatArray, mark: float) -> float:
    """Time [s] for which a course lies below a mark.

    Parameters
    ----------
    moments : (N,) float [s]
        Rising.
    values : (N,) float
        Stretches next to a NaN count as not below.
    mark : float

    Returns
    -------
    float
    """
    before, after = values[:-1] - mark, values[1:] - mark
    spans = np.diff(moments)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = np.where(before < 0.0, before, after) / np.where(
            before < 0.0, before - after, after - before
        )
    share = np.where(
        (before < 0.0) & (after < 0.0), 1.0, np.where((before < 0.0) != (after < 0.0), crossing, 0.0)
    )
    share = np.where(np.isfinite(before) & np.isfinite(after), share, 0.0)
    return float(np.sum(share * spans))


def first_crossing(
    moments: FloatArray, values: FloatArray, mark: float, *, falling: bool, after: float
) -> float | None:
    """First moment [s], not before `after`, at which a course is below a mark (or above it).

    Parameters
    ----------
    moments, values : (N,) float
    mark : float
    falling : bool
        Whether to look for values below the mark, or above it.
    after : float [s]

    Returns
    -------
    float or None
    """
    inside = moments[moments > after]
    times = np.concatenate(([after], inside))
    course = np.interp(times, moments, values) - mark
    beyond = course < 0.0 if falling else course > 0.0
    if not beyond.any():
        return None
    row = int(np.argmax(beyond))
    if row == 0:
        return after
    low, high = float(course[row - 1]), float(course[row])
    share = 0.0 if high == low else -low / (high - low)
    return float(times[row - 1] + share * (times[row] - times[row - 1]))
