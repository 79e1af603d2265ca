"""The entries of a section's stiffness matrix, before any library makes a matrix of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
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

    rows: NDArray[np.int32]
    columns: NDArray[np.int32]
    values: NDArray[np.float64]

    def matrix(self, size: int) -> sp.csc_array:
        """Put the (size, size) matrix together."""
        import scipy.sparse as sp  # noqa: PLC0415 - slow to load, and a kept section needs none

        return sp.coo_array((self.values, (self.rows, self.columns)), shape=(size, size)).tocsc()
