"""Guesses of a step's mean room, floor and humidity, so that few passes are needed until the parts agree.

A step goes on where the last one went, unless something jumped. One that is taken again with another length
has its answer in what the longer one found.
"""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND

if TYPE_CHECKING:
    from numpy.typing import NDArray

Guess = tuple[float, float, float, float]
"""Room: mean and rise over the step [K]; mean floor surface [K]; mean humidity ratio [kg/kg]."""

KELVIN_PER_RATIO = 2.5e3
"""Weight of humidity beside temperature: the latent heat of a ratio over the heat capacity of air."""
WEIGHTS = (1.0, 0.5, 1.0, KELVIN_PER_RATIO)
FIRST_PULL = 0.25
"""What a guess's error is taken to leave in the answer [-] before two passes have told."""
LEAST_PULL = 0.2
LEAST_SHARE, MOST_SHARE = 0.3, 1.5
"""Bounds of the share of the change that the next guess takes."""


@dataclass(frozen=True)
class Course:
    """What a step found.

    Attributes
    ----------
    begin, end : int [ticks]
        Both below any step's before the first one.
    room, slope, bend : float
        Room [K] as room + slope t + bend t^2, t [s] from `begin`.
    floor, floor_slope, ratio, ratio_slope : float
        Mean floor surface [K] and humidity ratio, and their slopes [1/s] from the step before.
    """

    begin: int = np.iinfo(np.int64).min // 4
    end: int = np.iinfo(np.int64).min // 4
    room: float = 0.0
    slope: float = 0.0
    bend: float = 0.0
    floor: float = 0.0
    floor_slope: float = 0.0
    ratio: float = 0.0
    ratio_slope: float = 0.0

    def guess(self, begin: int, end: int, room: float, floor: float, ratio: float, *, goes_on: bool) -> Guess:
        """Guess a step.

        Parameters
        ----------
        begin, end : int [ticks]
        room : float [K]
            At its begin.
        floor, ratio : float
            Best known where nothing tells more.
        goes_on : bool
            Whether nothing jumped since the last step.
        """
        again = begin == self.begin
        if not (again or (begin == self.end and goes_on)):
            return room, 0.0, floor, ratio
        first = (begin - self.begin) / TICKS_PER_SECOND
        length = (end - begin) / TICKS_PER_SECOND
        slope = self.slope + 2.0 * self.bend * first
        rise = (slope + self.bend * length) * length
        mean = room + (0.5 * slope + self.bend * length / 3.0) * length
        late = 0.5 * (begin + end - self.begin - self.end) / TICKS_PER_SECOND
        return mean, rise, self.floor + self.floor_slope * late, self.ratio + self.ratio_slope * late

    def followed(self, begin: int, end: int, room: float, found: Guess, *, goes_on: bool) -> Course:
        """Return the course of the step after this one, from its begin's `room` [K] and what it `found`.

        The room's parabola has the step's ends and its mean.
        """
        mean, rise, floor, ratio = found
        length = (end - begin) / TICKS_PER_SECOND
        bend = 3.0 * (2.0 * room + rise) - 6.0 * mean
        late = 0.5 * (begin + end - self.begin - self.end) / TICKS_PER_SECOND
        if begin == self.begin:
            floor_slope, ratio_slope = self.floor_slope, self.ratio_slope
        elif begin == self.end and goes_on and late > 0.0:
            floor_slope, ratio_slope = (floor - self.floor) / late, (ratio - self.ratio) / late
        else:
            floor_slope, ratio_slope = 0.0, 0.0
        return Course(
            begin, end, room, (rise - bend) / length, bend / length**2, floor, floor_slope, ratio, ratio_slope
        )

    def numbers(self) -> NDArray[np.float64]:
        """(9,) all of it, for a checkpoint."""
        return np.array(astuple(self), dtype=np.float64)

    @classmethod
    def of(cls, numbers: NDArray[np.float64]) -> Course:
        """From what `numbers` gave."""
        begin, end, *rest = (float(value) for value in numbers)
        return cls(int(begin), int(end), *rest)


class Relaxed:
    """Fixed-point passes, with the share of each change that A. C. Aitken's secant gives for vectors.

    Sources
    -------
    B. M. Irons and R. C. Tuck, Int. J. Numerical Methods in Engineering 1 (1969) 275-277.
    """

    def __init__(self, guess: Guess) -> None:
        self._guess = guess
        self._change: tuple[float, ...] | None = None
        self._before: tuple[float, ...] | None = None
        self._share = 1.0

    def doubt(self, found: Guess) -> float:
        """How far [K] the answer may be from where all passes lead: what the guess's error leaves in it."""
        change = tuple(w * (new - old) for w, new, old in zip(WEIGHTS, found, self._guess, strict=True))
        self._before, self._change = self._change, change
        largest = max(map(abs, change))
        if not math.isfinite(sum(change)):
            return math.nan
        if self._before is None:
            return FIRST_PULL * largest
        # Of the change before, this much is left; a damped guess had moved by its share of it only.
        size = math.hypot(*self._before)
        moved = math.hypot(*(old - new for old, new in zip(self._before, change, strict=True)))
        moved /= max(self._share * size, 1e-12)
        pull = max(abs(1.0 - moved), LEAST_PULL)
        return pull / max(1.0 - pull, 0.1) * largest if pull < 1.0 else largest

    def next(self, found: Guess) -> Guess:
        """Return the next guess, after `doubt` has seen what was `found`."""
        change, before = self._change, self._before
        if before is not None and change is not None:
            gap = [new - old for new, old in zip(change, before, strict=True)]
            square = sum(value * value for value in gap)
            along = sum(value * old for value, old in zip(gap, before, strict=True))
            share = -self._share * along / square if square > 0.0 else 1.0
            self._share = min(max(share, LEAST_SHARE), MOST_SHARE)
        room, rise, floor, ratio = (
            old + self._share * (new - old) for old, new in zip(self._guess, found, strict=True)
        )
        self._guess = (room, rise, floor, ratio)
        return self._guess
