"""What rows of output need: the state at their instants, the floor's extremes, the books up to each."""

from __future__ import annotations

import numpy as np

from simulator.kernel import kernel
from simulator.run.stage_kernels import Moving


@kernel
def keep_row(kept: Moving, row: int, moving: Moving) -> None:
    """Copy `moving` into row `row` of `kept`, the same arrays with rows in front.

    What only wet runs or those with a flue have is left out where `kept` has no rows for it.
    """
    kept.wall[row] = moving.wall
    kept.air_in[row] = moving.air_in
    kept.air_out[row] = moving.air_out
    kept.film[row] = moving.film
    kept.branch_exit[row] = moving.branch_exit
    kept.branch_flow[row] = moving.branch_flow
    kept.scalars[row] = moving.scalars
    if kept.water.shape[0] > 0:
        kept.heat[row] = moving.heat
        kept.humid_in[row] = moving.humid_in
        kept.humid_out[row] = moving.humid_out
        kept.settling[row] = moving.settling
        kept.surface[row] = moving.surface
        kept.branch_ratio[row] = moving.branch_ratio
        kept.water[row] = moving.water
        kept.water_totals[row] = moving.water_totals
        kept.gas_in[row] = moving.gas_in
        kept.gas_out[row] = moving.gas_out
        kept.gas_pipe[row] = moving.gas_pipe


@kernel
def floor_extremes(
    cells: np.ndarray,
    share: np.ndarray,
    behind: np.ndarray,
    lowest: np.ndarray,
    highest: np.ndarray,
) -> None:
    """Fill the lowest and highest floor surface temperature (n,) of n rows.

    Parameters
    ----------
    cells : (n, S, F)
        Cells under the surface.
    share : (F,)
        Share of the cell in the surface temperature; the rest is `behind` (n,).
    """
    rows, stations, columns = cells.shape
    low, high = np.empty(columns), np.empty(columns)
    for row in range(rows):
        low[:] = np.inf
        high[:] = -np.inf
        for station in range(stations):
            here = cells[row, station]
            for column in range(columns):
                value = share[column] * here[column] + (1.0 - share[column]) * behind[row]
                low[column] = value if value < low[column] else low[column]
                high[column] = value if value > high[column] else high[column]
        lowest[row] = low.min()
        highest[row] = high.max()


@kernel
def book_steps(
    energies: np.ndarray,
    stored: np.ndarray,
    signs: np.ndarray,
    totals: np.ndarray,
    sums: np.ndarray,
    row_steps: np.ndarray,
    row_totals: np.ndarray,
    row_sums: np.ndarray,
) -> None:
    """Book n steps, and note the books after each of the steps `row_steps` (k,).

    Parameters
    ----------
    energies : (n, A) [J]; stored : (n, 2) [J]; signs : (A,)
    totals : (A,)
        Running totals of the accounts, added to.
    sums : (5,)
        Running change of heat in ground and room, residual and heat handled [J], added to; and the largest
        residual of a step over the heat handled in it.
    row_totals : (k, A); row_sums : (k, 5)
        Filled.
    """
    row = 0
    for step in range(energies.shape[0]):
        balance = -stored[step, 0] - stored[step, 1]
        moved = abs(stored[step, 0]) + abs(stored[step, 1])
        for account in range(signs.size):
            value = energies[step, account]
            totals[account] += value
            balance += signs[account] * value
            moved += abs(value)
        sums[0] += stored[step, 0]
        sums[1] += stored[step, 1]
        sums[2] += balance
        sums[3] += moved
        if moved > 0.0:
            sums[4] = max(sums[4], abs(balance) / moved)
        if row < row_steps.size and row_steps[row] == step:
            row_totals[row] = totals
            row_sums[row] = sums
            row += 1
