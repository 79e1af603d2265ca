"""Channels of the timetable: values by time of day and of the week, and set once; and loads of fuel."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

TICKS_PER_SECOND = 1000
TICKS_PER_DAY = 86400 * TICKS_PER_SECOND
TICKS_PER_WEEK = 7 * TICKS_PER_DAY

Events = tuple[tuple[int, tuple[float, float]], ...]


@dataclass(frozen=True)
class Loads:
    """Loads by time of day and of the week, and single ones; each (tick, mass [kg])."""

    midnight: int
    monday: int
    daily: tuple[tuple[int, float], ...]
    weekly: tuple[tuple[int, float], ...]
    dated: tuple[tuple[int, float], ...]

    def between(self, first: int, last: int) -> Iterator[tuple[int, float]]:
        """Find the loads from one tick up to just before another; in no order."""
        for at, mass in self.dated:
            if first <= at < last:
                yield at, mass
        for base, period, entries in (
            (self.midnight, TICKS_PER_DAY, self.daily),
            (self.monday, TICKS_PER_WEEK, self.weekly),
        ):
            for at, mass in entries:
                number = -((base + at - first) // period)
                tick = base + at + number * period
                while tick < last:
                    yield tick, mass
                    tick += period


@dataclass(frozen=True)
class Channel:
    """One channel: values by time of day and of the week, and values set once.

    `daily` holds (tick of the day counted from midnight, value), `weekly` the same counted from the midnight
    before Monday, `dated` (tick, value); `midnight` and `monday` are ticks of such midnights at or before
    the start.
    """

    midnight: int
    monday: int
    daily: Events
    weekly: Events
    dated: Events
    first: tuple[float, float] | None
    default: tuple[float, float]

    def at(self, tick: int) -> tuple[float, float]:
        """Return the value from this tick on."""
        day_tick, daily_value = self._repeated_at(tick)
        if tick < 0:
            return daily_value
        best_tick, best = day_tick, daily_value
        if self.first is not None and best_tick < 0:
            best_tick, best = 0, self.first
        place = bisect_right(self.dated, tick, key=lambda entry: entry[0])
        if place and self.dated[place - 1][0] >= best_tick:
            best = self.dated[place - 1][1]
        return best

    def _repeated_at(self, tick: int) -> tuple[int, tuple[float, float]]:
        """Return (tick, value) of the last daily or weekly entry at or before this tick."""
        best = -(10**18), self.first if self.first is not None else self.default
        for base, period, entries in (
            (self.midnight, TICKS_PER_DAY, self.daily),
            (self.monday, TICKS_PER_WEEK, self.weekly),
        ):
            if not entries:
                continue
            number, inside = divmod(tick - base, period)
            place = bisect_right(entries, inside, key=lambda entry: entry[0])
            if not place:
                number, place = number - 1, len(entries)
            at, value = entries[place - 1]
            found = base + number * period + at
            if found >= best[0]:
                best = found, value
        return best

    def at_many(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        """(n, 2) what `at` says of each of n ticks."""
        newest = np.full(ticks.size, -(10**18), dtype=np.int64)
        values = np.tile(self.first if self.first is not None else self.default, (ticks.size, 1))
        for base, period, entries in (
            (self.midnight, TICKS_PER_DAY, self.daily),
            (self.monday, TICKS_PER_WEEK, self.weekly),
        ):
            if not entries:
                continue
            number, inside = np.divmod(ticks - base, period)
            at = np.array([tick for tick, _ in entries], dtype=np.int64)
            # Before the first entry of a period the last one of the period before holds.
            place = np.searchsorted(at, inside, side="right") - 1
            found = base + (number - (place < 0)) * period + at[place]
            later = found >= newest
            newest[later] = found[later]
            values[later] = np.array([value for _, value in entries])[place[later]]
        run = ticks >= 0
        if self.first is not None:
            begins = run & (newest < 0)
            newest[begins] = 0
            values[begins] = self.first
        if self.dated:
            at = np.array([tick for tick, _ in self.dated], dtype=np.int64)
            place = np.searchsorted(at, ticks, side="right") - 1
            later = run & (place >= 0) & (at[place] >= newest)
            values[later] = np.array([value for _, value in self.dated])[place[later]]
        return values

    def changes(self, first: int, last: int) -> list[int]:
        """Return the sorted ticks strictly between two at which the value changes."""
        candidates = {tick for tick, _ in self.dated if first < tick < last}
        if first < 0 < last:
            candidates.add(0)
        for begin, period, entries in (
            (self.midnight, TICKS_PER_DAY, self.daily),
            (self.monday, TICKS_PER_WEEK, self.weekly),
        ):
            if not entries:
                continue
            for number in range((first - begin) // period, (last - begin) // period + 1):
                base = begin + number * period
                candidates.update(base + at for at, _ in entries if first < base + at < last)
        ticks = np.array([first, *sorted(candidates)], dtype=np.int64)
        values = self.at_many(ticks)
        same = (values[1:] == values[:-1]) | (np.isnan(values[1:]) & np.isnan(values[:-1]))
        changed: list[int] = ticks[1:][~same.all(axis=1)].tolist()
        return changed
