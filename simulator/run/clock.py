"""Steps on the integer clock: every switch and every output row falls on a step boundary.

Ticks are whole milliseconds since the start of the case; a run-in has negative ticks.
"""

from __future__ import annotations

from bisect import bisect_right
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

REFINEMENT = (1, 1, 2, 4, 8)
"""Shares, in sixteenths, of the first step after a switch: the sharpest change gets the shortest steps."""
GROWTH = 0.45
"""Share of the time since a switch that a step may take, where steps grow as needed."""
LADDER = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 192)
"""Lengths of steps grown as needed, in sixteenths of the usual one: few, because each is prepared apart."""
SHORTEST_REFINED_STEP = 1600
"""Steps shorter than this [ticks] are fine enough after a switch as they are."""


def row_ticks(duration: int, interval: int, step: int) -> NDArray[np.int64]:
    """Ticks of output rows: both ends of the run, and every interval between them.

    An interval that is no multiple of the step is rounded up to one, so that rows never shorten steps.
    """
    spacing = max(1, -(-interval // step)) * step
    ticks = np.arange(0, duration, spacing, dtype=np.int64)
    return np.append(ticks, duration)


def step_ends(
    begin: int, end: int, step: int, switches: Sequence[int], stops: Sequence[int], *, refine: bool
) -> NDArray[np.int64]:
    """List the ends of all steps: whole steps counted from `begin`, cut at every switch and stop.

    Parameters
    ----------
    begin, end, step : int [ticks]
    switches : sequence of int
        Ticks of switches; with `refine`, the first step after each (and after `begin`) is divided.
    stops : sequence of int
        Other ticks that must be step ends.
    refine : bool

    Returns
    -------
    (n,) int, strictly increasing, the last one `end`
    """
    grid = np.arange(begin + step, end, step, dtype=np.int64)
    inner = [tick for tick in (*switches, *stops) if begin < tick < end]
    ends = _sorted(np.concatenate((grid, np.asarray(inner, dtype=np.int64), [end])))
    if not refine or step < SHORTEST_REFINED_STEP:
        return ends
    extra = []
    for start in [begin, *(tick for tick in switches if begin < tick < end)]:
        place = int(np.searchsorted(ends, start, side="right"))
        length = int(ends[place]) - start
        if length < SHORTEST_REFINED_STEP:
            continue
        passed = 0
        for share in REFINEMENT[:-1]:
            passed += share
            extra.append(start + round(length * passed / 16))
    return _sorted(np.concatenate((ends, np.asarray(extra, dtype=np.int64))))


def graded_step_ends(
    begin: int, end: int, step: int, switches: Sequence[int], stops: Sequence[int]
) -> NDArray[np.int64]:
    """List the ends of steps that begin short after every switch and grow while nothing switches.

    A step is no longer than a share `GROWTH` of the time since the last switch (or `begin`), a sixteenth of
    `step` at least and twelve times `step` at most. What a switch sets off decays in modes whose slowest
    still moving ones are about as old as the switch, so the error of every step stays about the same.

    Parameters
    ----------
    begin, end, step : int [ticks]
    switches, stops : sequence of int
        Ticks that must be step ends; after a switch steps begin short.

    Returns
    -------
    (n,) int, strictly increasing, the last one `end`
    """
    shortest = max(1, step // 16)
    longest = shortest * LADDER[-1]
    # Not by the array library, which would load its masked arrays first.
    jumps, marks = (np.array(sorted(set(ticks)), dtype=np.int64) for ticks in (switches, [*switches, *stops]))
    jumps = jumps[(jumps > begin) & (jumps < end)]
    marks = np.append(marks[(marks > begin) & (marks < end)], end)
    # What lies between two switches comes again day after day, and so do the ways to the next mark in it.
    ways: dict[tuple[int, int], NDArray[np.int64]] = {}
    spans: dict[bytes, NDArray[np.int64]] = {}
    parts = []
    for first, last in pairwise([begin, *jumps.tolist(), end]):
        inner = marks[np.searchsorted(marks, first, "right") : np.searchsorted(marks, last, "right")] - first
        key = inner.tobytes()
        if key not in spans:
            pieces, here = [], 0
            for mark in inner.tolist():
                way = (min(here, round(longest / GROWTH)), mark - here)
                if way not in ways:
                    ways[way] = _growing(*way, shortest)
                pieces.append(here + ways[way])
                here = mark
            spans[key] = np.concatenate(pieces)
        parts.append(first + spans[key])
    return np.concatenate(parts)


def _growing(since: int, distance: int, shortest: int) -> NDArray[np.int64]:
    """List ends of steps over `distance`, counted from its begin, which is `since` after the last switch."""
    ends, here = [], 0
    while here < distance:
        allowed = min(max(int(GROWTH * (since + here)), shortest), distance - here)
        place = bisect_right(LADDER, allowed // shortest) - 1
        here += shortest * LADDER[place] if place >= 0 else allowed
        ends.append(here)
    return np.array(ends, dtype=np.int64)


def _sorted(ticks: NDArray[np.int64]) -> NDArray[np.int64]:
    """Sort ticks and keep each once."""
    ticks = np.sort(ticks)
    return ticks[np.concatenate(([True], ticks[1:] > ticks[:-1]))]
