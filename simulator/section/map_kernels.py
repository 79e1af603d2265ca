"""Temperatures of cells drawn as rectangles of a section map."""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel


@kernel(nogil=True)
def draw_map(
    temperature: np.ndarray,
    weights: np.ndarray,
    cells: np.ndarray,
    begin: np.ndarray,
    mirrored: bool,
    ground: np.ndarray,
) -> None:
    """Fill `ground`, S stations, Z rectangles down and Y across.

    Parameters
    ----------
    temperature : (S, N) float
    weights, cells, begin
        See `MapWeights`, whose rectangles run down first.
    mirrored : bool
        Whether the weights are those of the right half of a map; the left one is its mirror image.
    ground : (S, Z, Y) float
        Written: NaN where there is no ground.
    """
    stations, deep, wide = ground.shape
    left = wide // 2 if mirrored else 0
    for station in range(stations):
        for down in range(deep):
            for across in range(wide - left):
                rectangle = across * deep + down
                first, last = begin[rectangle], begin[rectangle + 1]
                drawn = math.nan
                if last > first:
                    drawn = 0.0
                    for each in range(first, last):
                        drawn += weights[each] * temperature[station, cells[each]]
                ground[station, down, left + across] = drawn
                if mirrored:
                    ground[station, down, left - 1 - across] = drawn
