"""What an output row needs of the floor and of the air, in one pass."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def view_floor(
    cells: np.ndarray,
    share: np.ndarray,
    behind: float,
    reference: float,
    weight: np.ndarray,
    length: np.ndarray,
    floor: np.ndarray,
    by_station: np.ndarray,
) -> tuple[float, float, float]:
    """Fill floor surface (S, F) and its means by station (S,) [K]; return lowest, highest and mean.

    Parameters
    ----------
    cells : (S, F) [K above reference]
        Cells under the surface.
    share : (F,)
        Share of the cell in the surface temperature; the rest is `behind` [K above reference].
    weight : (F,); length : (S,) [m]
        Width of each cell over the floor's; length of each station.
    """
    stations, columns = cells.shape
    lowest, highest, total, whole = np.inf, -np.inf, 0.0, 0.0
    for station in range(stations):
        mean = 0.0
        for column in range(columns):
            value = share[column] * cells[station, column] + (1.0 - share[column]) * behind + reference
            floor[station, column] = value
            mean += weight[column] * value
            lowest = min(lowest, value)
            highest = max(highest, value)
        by_station[station] = mean
        total += mean * length[station]
        whole += length[station]
    return lowest, highest, total / whole


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def view_air(
    air_in: np.ndarray,
    air_out: np.ndarray,
    film: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    entry_edge: np.ndarray,
    exit_edge: np.ndarray,
    air_segments: int,
    reference: float,
    air: np.ndarray,
) -> float:
    """Fill air (M, S + 1) [K] at the edges of stations, NaN where there is none; return the mean film.

    Segments come in the order of the air; of several in one lane the last shows. The mean is over the first
    `air_segments`, those of room air.
    """
    air[:] = np.nan
    total = 0.0
    for segment in range(segment_lane.size):
        lane, station = segment_lane[segment], segment_station[segment]
        air[lane, entry_edge[segment]] = air_in[station, lane] + reference
        air[lane, exit_edge[segment]] = air_out[station, lane] + reference
        if segment < air_segments:
            total += film[station, lane]
    return total / air_segments


@njit(cache=True, error_model="numpy", fastmath={"nsz", "arcp", "contract", "afn"})
def book_steps(
    energies: np.ndarray, stored: np.ndarray, signs: np.ndarray, totals: np.ndarray
) -> tuple[float, float, float, float, float]:
    """Add n steps to `totals` (A,); return ground, room, residual, heat handled and the worst residual share.

    Parameters
    ----------
    energies : (n, A) [J]; stored : (n, 2) [J]; signs : (A,)
    """
    ground, room, residual, handled, worst = 0.0, 0.0, 0.0, 0.0, 0.0
    for step in range(energies.shape[0]):
        balance = -stored[step, 0] - stored[step, 1]
        moved = abs(stored[step, 0]) + abs(stored[step, 1])
        for account in range(signs.size):
            value = energies[step, account]
            totals[account] += value
            balance += signs[account] * value
            moved += abs(value)
        ground += stored[step, 0]
        room += stored[step, 1]
        residual += balance
        handled += moved
        if moved > 0.0:
            worst = max(worst, abs(balance) / moved)
    return ground, room, residual, handled, worst
