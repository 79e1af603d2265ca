"""Values over time with exact interval means: a constant, a daily wave, and a table of values.

Time is in ticks, whole milliseconds since the start of the case; it may be negative, during a run-in.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from simulator.case.timetable import TICKS_PER_DAY

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


class Series(Protocol):
    """One quantity over time."""

    def at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the value at each tick; where it jumps, the value that begins there."""
        ...

    def mean(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the exact mean from `begin` to `end` (the value itself where they are equal)."""
        ...


def _mean(
    value: NDArray[np.float64], gain: NDArray[np.float64], span: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Divide an integral by its interval; an empty interval has the value itself for a mean."""
    return np.asarray(np.where(span == 0, value, gain / np.where(span == 0, 1, span)))


def _ticks(values: ArrayLike) -> NDArray[np.int64]:
    array = np.asarray(values)
    if not np.issubdtype(array.dtype, np.integer):
        message = f"ticks are whole numbers, got {array.dtype}"
        raise TypeError(message)
    return array.astype(np.int64, copy=False)


@dataclass(frozen=True)
class Constant:
    """A value that never changes.

    Attributes
    ----------
    value : float
    """

    value: float

    def at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the value, in the shape of `ticks`."""
        return np.full(_ticks(ticks).shape, self.value)

    def mean(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the value, in the shape of the intervals."""
        return np.full(np.broadcast_shapes(_ticks(begin).shape, _ticks(end).shape), self.value)


@dataclass(frozen=True)
class Shifted:
    """Another series with the same amount added everywhere."""

    series: Series
    amount: float

    def at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the value at each tick."""
        return np.asarray(self.series.at(ticks) + self.amount)

    def mean(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the mean of each interval."""
        return np.asarray(self.series.mean(begin, end) + self.amount)


@dataclass(frozen=True)
class DailyCosine:
    """A cosine with a period of one day; means are exact.

    Attributes
    ----------
    middle, amplitude : float
    peak : int [ticks]
        Any time of the highest value.
    """

    middle: float
    amplitude: float
    peak: int

    def _angle(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        # Whole days are taken off as integers, so that the angle stays exact over many years.
        return np.asarray(2.0 * np.pi / TICKS_PER_DAY * np.mod(ticks - self.peak, TICKS_PER_DAY))

    def at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the value at each tick."""
        return np.asarray(self.middle + self.amplitude * np.cos(self._angle(_ticks(ticks))))

    def mean(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the mean of each interval."""
        first, last = _ticks(begin), _ticks(end)
        swing = np.sin(self._angle(last)) - np.sin(self._angle(first))
        gain = self.amplitude * TICKS_PER_DAY / (2.0 * np.pi) * swing
        return np.asarray(self.middle + _mean(self.at(first) - self.middle, gain, last - first))


@dataclass(frozen=True)
class DailyHalfSine:
    """Half a sine between two times of every day, nothing outside them; means are exact.

    Attributes
    ----------
    peak : float
    rise : int [ticks]
        Any time at which it begins.
    length : int [ticks]
        From its begin to its end, at most one day.
    """

    peak: float
    rise: int
    length: int

    def at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the value at each tick."""
        since = np.minimum(np.mod(_ticks(ticks) - self.rise, TICKS_PER_DAY), self.length)
        return np.asarray(self.peak * np.sin(np.pi / self.length * since))

    def _integral(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        days, since = np.divmod(ticks - self.rise, TICKS_PER_DAY)
        share = 0.5 * (1.0 - np.cos(np.pi / self.length * np.minimum(since, self.length)))
        return np.asarray(2.0 / np.pi * self.peak * self.length * (days + share))

    def mean(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the mean of each interval."""
        first, last = _ticks(begin), _ticks(end)
        return _mean(self.at(first), self._integral(last) - self._integral(first), last - first)


@dataclass(frozen=True, eq=False)
class Tabulated:
    """Straight lines between knots, with a jump allowed at each knot; means are exact.

    Before the first knot its first 24 hours are repeated backwards; a table of less than a day holds its
    first value there. After the last knot there is nothing.

    Attributes
    ----------
    knots : (n,) int [ticks]
        Strictly increasing, at least two.
    left, right : (n - 1,) float
        Values at the begin and at the end of each piece between two knots.
    """

    knots: NDArray[np.int64]
    left: NDArray[np.float64]
    right: NDArray[np.float64]
    _totals: NDArray[np.float64] = field(init=False, repr=False)
    _middle: float = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if self.knots.size < 2 or np.any(np.diff(self.knots) <= 0):
            message = "knots must be at least two, strictly increasing"
            raise ValueError(message)
        if not self.left.shape == self.right.shape == (self.knots.size - 1,):
            message = f"{self.knots.size} knots need {self.knots.size - 1} values on each side"
            raise ValueError(message)
        # Integrals of the departure from the middle stay small, which keeps short means exact.
        middle = float(np.mean(0.5 * (self.left + self.right)))
        pieces = (0.5 * (self.left + self.right) - middle) * np.diff(self.knots)
        object.__setattr__(self, "_middle", middle)
        object.__setattr__(self, "_totals", np.concatenate([[0.0], np.cumsum(pieces)]))

    @classmethod
    def through(cls, knots: ArrayLike, values: ArrayLike) -> Tabulated:
        """Return straight lines through the (n,) `values` at the (n,) `knots` [ticks]."""
        points = np.asarray(values, dtype=np.float64)
        return cls(_ticks(knots), points[:-1], points[1:])

    @classmethod
    def steps(cls, knots: ArrayLike, means: ArrayLike) -> Tabulated:
        """Return the (n - 1,) interval `means` held between the (n,) `knots` [ticks]."""
        held = np.asarray(means, dtype=np.float64)
        return cls(_ticks(knots), held, held)

    def _folded(self, ticks: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return ticks moved into the table and the days (or, in a short table, ticks) they were moved by."""
        if np.any(ticks > self.knots[-1]):
            message = f"tick {int(np.max(ticks))} lies after the last value, at tick {int(self.knots[-1])}"
            raise ValueError(message)
        early = np.maximum(self.knots[0] - ticks, 0)
        if self.knots[-1] - self.knots[0] < TICKS_PER_DAY:
            return np.maximum(ticks, self.knots[0]), early
        days = -(-early // TICKS_PER_DAY)
        return ticks + days * TICKS_PER_DAY, days

    def _piece(self, ticks: NDArray[np.int64]) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
        """Return the piece each tick lies in and the share of it that has passed."""
        piece = np.minimum(np.searchsorted(self.knots, ticks, side="right"), self.knots.size - 1) - 1
        passed = (ticks - self.knots[piece]) / (self.knots[piece + 1] - self.knots[piece])
        return piece, passed

    def at(self, ticks: ArrayLike) -> NDArray[np.float64]:
        """Return the value at each tick; where it jumps, the value that begins there.

        Raises
        ------
        ValueError
            For a tick after the last knot.
        """
        piece, passed = self._piece(self._folded(_ticks(ticks))[0])
        return np.asarray(self.left[piece] + passed * (self.right[piece] - self.left[piece]))

    def _inside(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the integral of the departure from the middle, from the first knot to each tick."""
        piece, passed = self._piece(ticks)
        reached = self.left[piece] + passed * (self.right[piece] - self.left[piece])
        average = 0.5 * (self.left[piece] + reached) - self._middle
        return np.asarray(self._totals[piece] + average * (ticks - self.knots[piece]))

    def _integral(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        inside, moved = self._folded(ticks)
        if self.knots[-1] - self.knots[0] < TICKS_PER_DAY:
            return np.asarray(self._inside(inside) - moved * (self.left[0] - self._middle))
        return np.asarray(self._inside(inside) - moved * self._inside(self.knots[:1] + TICKS_PER_DAY)[0])

    def mean(self, begin: ArrayLike, end: ArrayLike) -> NDArray[np.float64]:
        """Return the mean of each interval.

        Raises
        ------
        ValueError
            For an interval that reaches beyond the last knot.
        """
        first, last = _ticks(begin), _ticks(end)
        gain = self._integral(last) - self._integral(first)
        return np.asarray(self._middle + _mean(self.at(first) - self._middle, gain, last - first))
