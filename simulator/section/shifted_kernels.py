"""Sparse factorisations of one pattern for many shifts at once, the shifts innermost.

All matrices stiffness + s * capacity share one pattern, so their factorisations LDL' run in step: every
scalar of the usual algorithm becomes a short vector over the shifts, which the compiler turns into vector
instructions.
"""

from __future__ import annotations

import numpy as np

from simulator.kernel import kernel


@kernel(nogil=True)
def factorise_shifted(
    lower_begin: np.ndarray,
    lower_row: np.ndarray,
    row_begin: np.ndarray,
    row_column: np.ndarray,
    row_place: np.ndarray,
    entry_begin: np.ndarray,
    entry_row: np.ndarray,
    entry_value: np.ndarray,
    capacity: np.ndarray,
    shifts: np.ndarray,
    lower: np.ndarray,
    diagonal: np.ndarray,
) -> None:
    """Left-looking LDL' of stiffness + shift * capacity, N cells, Z entries of the factor, K shifts.

    Parameters
    ----------
    lower_begin : (N + 1,) int; lower_row : (Z,) int
        Pattern of the strictly lower factor by columns, rows rising.
    row_begin : (N + 1,) int; row_column, row_place : (Z,) int
        The same by rows: columns, and where each entry stands in `lower_row`.
    entry_begin : (N + 1,) int; entry_row : (A,) int; entry_value : (A,) float
        Lower triangle of the stiffness by columns, diagonal included.
    capacity : (N,); shifts : (K,)
    lower : (Z, K); diagonal : (N, K)
        Filled with the factor and the inverse of D.
    """
    size = capacity.size
    count = shifts.size
    work = np.zeros((size, count))
    factor = np.empty(count)
    for column in range(size):
        for place in range(entry_begin[column], entry_begin[column + 1]):
            row = entry_row[place]
            value = entry_value[place]
            for k in range(count):
                work[row, k] = value
        for k in range(count):
            work[column, k] += shifts[k] * capacity[column]
        for at in range(row_begin[column], row_begin[column + 1]):
            earlier = row_column[at]
            first = row_place[at]
            # Entry (column, earlier) of L times D: what that column takes off all rows from here down.
            last = lower_begin[earlier + 1]
            for k in range(count):
                factor[k] = lower[first, k] / diagonal[earlier, k]
                work[column, k] -= factor[k] * lower[first, k]
            for place in range(first + 1, last):
                row = lower_row[place]
                for k in range(count):
                    work[row, k] -= lower[place, k] * factor[k]
        for k in range(count):
            diagonal[column, k] = 1.0 / work[column, k]
            work[column, k] = 0.0
        for place in range(lower_begin[column], lower_begin[column + 1]):
            row = lower_row[place]
            for k in range(count):
                lower[place, k] = work[row, k] * diagonal[column, k]
                work[row, k] = 0.0


@kernel(nogil=True)
def solve_shifted(
    lower_begin: np.ndarray,
    lower_row: np.ndarray,
    lower: np.ndarray,
    diagonal: np.ndarray,
    values: np.ndarray,
) -> None:
    """Solve in place: `values` (N, C, K) holds C right sides for each of K shifts, then the answers."""
    size, columns, count = values.shape
    for column in range(size):
        for place in range(lower_begin[column], lower_begin[column + 1]):
            row = lower_row[place]
            for c in range(columns):
                for k in range(count):
                    values[row, c, k] -= lower[place, k] * values[column, c, k]
    for column in range(size - 1, -1, -1):
        for c in range(columns):
            for k in range(count):
                values[column, c, k] *= diagonal[column, k]
        for place in range(lower_begin[column], lower_begin[column + 1]):
            row = lower_row[place]
            for c in range(columns):
                for k in range(count):
                    values[column, c, k] -= lower[place, k] * values[row, c, k]
