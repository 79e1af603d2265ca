"""Steps on the integer clock: every switch and every output row falls on a step boundary.

Ticks are whole milliseconds since the start of the case; a run-in has negative ticks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

REFINEMENT = (1, 1, 2, 4, 8)
"""Shares, in sixteenths, of the first step after a switch: the sharpest change gets the shortest steps."""
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
    ends = np.unique(np.concatenate((grid, np.asarray(inner, dtype=np.int64), [end])))
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
    return np.unique(np.concatenate((ends, np.asarray(extra, dtype=np.int64))))
