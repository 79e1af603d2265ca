"""Answers of the full mesh at many shifts: (stiffness + s * capacity) x = loads, several s at once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.direct import factorise
from simulator.section.shifted_kernels import factorise_shifted, solve_shifted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators

AT_ONCE = 8
"""Shifts that are factorised in step: two vector registers of four."""
LARGEST_FACTOR = 4e6
"""Entries of a factor over which shifts are taken one by one, to spare memory."""


class ShiftedSolver:
    """Sparse LDL' factorisations of a section's matrices, with the pattern found once.

    The fill-reducing order and the pattern of the factor come from one factorisation by a library; without
    pivoting, which a symmetric positive definite matrix does not need, every shift has the same.

    Parameters
    ----------
    operators : SectionOperators
    typical : float [1/s]
        Any shift of the range, for the first factorisation.
    """

    def __init__(self, operators: SectionOperators, typical: float) -> None:
        import scipy.sparse as sp  # noqa: PLC0415 - slow to load, and a kept section needs none

        pattern = factorise(operators.shifted(typical))
        # perm_c gives the new place of every old column.
        self._old = np.argsort(pattern.perm_c)
        self._capacity = operators.capacity[self._old]
        permuted = sp.csc_array(operators.stiffness[self._old][:, self._old])
        entries = sp.csc_array(sp.tril(permuted))
        entries.sort_indices()
        self._entries = (
            entries.indptr.astype(np.int64),
            entries.indices.astype(np.int64),
            entries.data.astype(np.float64),
        )
        lower = sp.csc_array(sp.tril(pattern.L, k=-1))
        lower.sort_indices()
        self._begin, self._row = lower.indptr.astype(np.int64), lower.indices.astype(np.int64)
        numbered = sp.csc_array(
            (np.arange(1.0, self._row.size + 1.0), self._row, self._begin), shape=lower.shape
        )
        by_row = sp.csr_array(numbered)
        by_row.sort_indices()
        self._by_row = (
            by_row.indptr.astype(np.int64),
            by_row.indices.astype(np.int64),
            by_row.data.astype(np.int64) - 1,
        )

    @property
    def at_once(self) -> int:
        """Shifts worth solving in one call."""
        return AT_ONCE if self._row.size < LARGEST_FACTOR else 1

    def solve(self, shifts: NDArray[np.float64], loads: NDArray[np.float64]) -> NDArray[np.float64]:
        """Answers at several shifts.

        Parameters
        ----------
        shifts : (K,) float [1/s]
        loads : (N, C) float

        Returns
        -------
        (K, N, C) float
        """
        size, columns = loads.shape
        lower = np.empty((self._row.size, shifts.size))
        diagonal = np.empty((size, shifts.size))
        factorise_shifted(
            self._begin, self._row, *self._by_row, *self._entries, self._capacity,
            np.ascontiguousarray(shifts, dtype=np.float64), lower, diagonal,
        )  # fmt: skip
        values = np.empty((size, columns, shifts.size))
        values[:] = loads[self._old][:, :, None]
        solve_shifted(self._begin, self._row, lower, diagonal, values)
        answers = np.empty((shifts.size, size, columns))
        answers[:, self._old, :] = values.transpose(2, 0, 1)
        return answers
