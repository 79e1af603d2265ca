"""The entries of a section's stiffness matrix, before any library makes a matrix of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    import scipy.sparse as sp
    from numpy.typing import NDArray

__all__ = ["Links"]


@dataclass(frozen=True)
class Links:
    """Entries of a square sparse matrix; those of one place add up.

    Attributes
    ----------
    rows, columns : (Z,) int
    values : (Z,) float [W/(m.K)]
    """

    rows: NDArray[np.int64]
    columns: NDArray[np.int64]
    values: NDArray[np.float64]

    @classmethod
    def of(cls, matrix: sp.csc_array) -> Links:
        """Take a matrix apart."""
        entries = matrix.tocoo()
        rows, columns = (places.astype(np.int64) for places in entries.coords)
        return cls(rows, columns, entries.data)

    def matrix(self, size: int) -> sp.csc_array:
        """Put the (size, size) matrix together."""
        import scipy.sparse as sp  # noqa: PLC0415 - slow to load, and a kept section needs none

        return sp.coo_array((self.values, (self.rows, self.columns)), shape=(size, size)).tocsc()
