"""Equal cells of some minutes over a whole case, and means over steps of any length from their sums."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.case.timetable import TICKS_PER_SECOND
from simulator.climate.weather import since_midnight

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.case.schema import Case

CELL_MINUTES = (5, 10, 15, 20, 30, 60)
"""Lengths of a cell to choose from; they divide the hour."""
MOST_CELLS = 120_000
"""Number of cells (a good year of the shortest) from which they grow longer."""


def cells(case: Case) -> NDArray[np.int64]:
    """Return the (n + 1,) edges [ticks] of equal cells from the run-in to the end of a case.

    They begin a whole number of cells after midnight; the last one ends at the end of the case or after it.
    """
    first, last = -round(case.ground.run_in * TICKS_PER_SECOND), end_of(case)
    minutes = next((m for m in CELL_MINUTES if (last - first) / (m * 60_000) <= MOST_CELLS), CELL_MINUTES[-1])
    cell = minutes * 60 * TICKS_PER_SECOND
    midnight = -since_midnight(case.site.start)
    origin = midnight + (first - midnight) // cell * cell
    return np.arange(origin, last + cell, cell, dtype=np.int64)


def end_of(case: Case) -> int:
    """Return the last tick of a case, where its weather may end."""
    return round(case.site.duration * TICKS_PER_SECOND)


@dataclass(frozen=True, eq=False)
class CellMeans:
    """Running sums of k quantities that are even over each of n cells.

    Attributes
    ----------
    origin, cell : int [ticks]
    totals : (n + 1, k) float
        Of value times cells.
    """

    origin: int
    cell: int
    totals: NDArray[np.float64]

    @classmethod
    def over(cls, edges: NDArray[np.int64], values: NDArray[np.float64]) -> CellMeans:
        """Sum up (n, k) `values` over the cells between (n + 1,) `edges`."""
        totals = np.concatenate([np.zeros((1, values.shape[1])), np.cumsum(values, axis=0)])
        return cls(int(edges[0]), int(edges[1] - edges[0]), totals)

    def between(self, begin: NDArray[np.int64], end: NDArray[np.int64]) -> NDArray[np.float64]:
        """Return the (m, k) means over (m,) steps of some length from `begin` to `end` [ticks]."""
        passed = (end - begin) / self.cell
        return np.asarray((self._sum(end) - self._sum(begin)) / passed[:, None])

    def _sum(self, ticks: NDArray[np.int64]) -> NDArray[np.float64]:
        place = np.clip((ticks - self.origin) // self.cell, 0, len(self.totals) - 2)
        share = (ticks - self.origin - place * self.cell) / self.cell
        before = self.totals[place]
        return np.asarray(before + share[:, None] * (self.totals[place + 1] - before))
