"""Small tools on courses over time: how long something held, and when it was at its worst."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.run.observers import FloatArray

__all__ = ["Rows", "held", "hours", "longest_hours", "mounted", "rows_within", "summed"]


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of a run between two moments.

    Attributes
    ----------
    cut : slice
        Along the time axis.
    seconds : (T,) float [s]
        Since the start of the case.
    spans : (T,) float [s]
        Time that each row stands for, the stretch before it: rows tell of the steps that led to them.
    """

    cut: slice
    seconds: FloatArray
    spans: FloatArray


def rows_within(seconds: FloatArray, begin: float, end: float) -> Rows:
    """Choose the rows from `begin` to `end` [s], at least one.

    Parameters
    ----------
    seconds : (T,) float [s]
        Of all rows, rising.
    begin, end : float [s]

    Returns
    -------
    Rows
    """
    first = int(np.searchsorted(seconds, begin - 1e-6))
    last = int(np.searchsorted(seconds, end + 1e-6))
    first = min(first, seconds.size - 1)
    cut = slice(first, max(last, first + 1))
    chosen = seconds[cut]
    before = max(begin, float(seconds[first - 1])) if first > 0 else float(chosen[0])
    return Rows(cut, chosen, np.diff(chosen, prepend=min(before, float(chosen[0]))))


def mounted(seconds: FloatArray, total: FloatArray, begin: float, end: float) -> float:
    """By how much a running total (T,), told at (T,) `seconds`, rose from `begin` to `end` [s]."""
    before, after = np.interp([begin, end], seconds, total)
    return float(after - before)


def summed(seconds: FloatArray, rates: FloatArray, begin: float, end: float) -> float:
    """Sum from `begin` to `end` [s] of rates (T, ...), all places together; a row holds the mean up to it."""
    along = rates.reshape(rates.shape[0], -1).sum(axis=1)
    total = np.concatenate(([0.0], np.cumsum(along[1:] * np.diff(seconds))))
    return mounted(seconds, total, begin, end)


def held(rows: Rows, condition: NDArray[np.bool_]) -> NDArray[Any]:
    """Time [s] for which a condition (T, ...) held, for every place of its other axes."""
    return np.tensordot(rows.spans, condition.astype(np.float64), axes=1)


def hours(rows: Rows, condition: NDArray[np.bool_]) -> float:
    """Time [h] for which a condition (T,) held."""
    return float(held(rows, condition)) / 3600.0


def longest_hours(rows: Rows, condition: NDArray[np.bool_]) -> float:
    """Longest unbroken time [h] for which a condition (T, ...) held at any one place."""
    flat = condition.reshape(condition.shape[0], -1)
    running = np.zeros(flat.shape[1])
    longest = 0.0
    for span, row in zip(rows.spans, flat, strict=True):
        running = np.where(row, running + span, 0.0)
        longest = max(longest, float(running.max(initial=0.0)))
    return longest / 3600.0
