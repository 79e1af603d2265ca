"""The state at the instants of many rows, kept while a march goes on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.run.held_kernels import HeldRows, hold_rows
from simulator.run.ledger import NAMES, SUMS
from simulator.run.row_kernels import keep_row
from simulator.run.stage_kernels import Moving
from simulator.run.state import RunState

if TYPE_CHECKING:
    from numpy.typing import NDArray

ONLY_WIDE = (
    "heat", "humid_in", "humid_out", "settling", "surface", "branch_ratio", "water", "water_totals", "gas_in",
    "gas_out", "gas_pipe",
)  # fmt: skip
"""Arrays of `Moving` that rows need only with moisture or a flue run."""
NEVER = ("conductance", "water_change", "gas_ways")


@dataclass(eq=False)
class KeptRows:
    """Room for k rows.

    Attributes
    ----------
    section : (k, S, R) float
        State of the section solver; no rows of it where nobody needs more than `looks`.
    columns : (R, C) float
        What is looked at in every state.
    looks : (k, S, C) float
        `section` times `columns`.
    moving : Moving
        Its arrays with k in front; those that no row needs are empty.
    totals : (k, A) float; sums : (k, 5) float [J]
        The ledger's totals and sums; see `ledger.Ledger.add`.
    due : (j,) int
        Steps of the next march after which rows are due, strictly increasing; j is k at most.
    """

    section: NDArray[np.float64]
    columns: NDArray[np.float64]
    looks: NDArray[np.float64]
    moving: Moving
    totals: NDArray[np.float64]
    sums: NDArray[np.float64]
    due: NDArray[np.int64]

    def state(self, row: int) -> RunState:
        """Return the state of one row as far as rows need it, without its books."""
        arrays = {
            name: value[row] if value.shape[0] else value for name, value in self.moving._asdict().items()
        }
        return RunState(0, self.section[row], Moving(**arrays))

    def note(self, row: int, state: RunState) -> None:
        """Keep a state as it is, with its books, as one of the rows."""
        if self.section.shape[0] > 0:
            self.section[row] = state.section
        np.dot(state.section, self.columns, out=self.looks[row])
        keep_row(self.moving, row, state.moving)
        ledger = state.ledger
        self.totals[row] = ledger.totals
        self.sums[row] = (
            ledger.stored_ground, ledger.stored_room, ledger.residual, ledger.handled, ledger.largest_residual
        )  # fmt: skip

    def handle(self) -> HeldRows:
        """Return the same for compiled loops."""
        return hold_rows(self.due, self.section, self.columns, self.looks, self.moving)


def room_for_rows(
    count: int,
    section: NDArray[np.float64],
    moving: Moving,
    columns: NDArray[np.float64] | None = None,
    *,
    wide: bool,
    whole: bool = True,
) -> KeptRows:
    """Make room for `count` rows of states like `section` (S, R) and `moving`.

    Parameters
    ----------
    columns : (R, C) float, optional
        What to look at in every state.
    wide : bool
        Whether moisture or a flue run have to be told.
    whole : bool
        Whether whole states are needed too.
    """
    if columns is None:
        columns = np.empty((section.shape[1], 0))
    left_out = (*NEVER, *(() if wide else ONLY_WIDE))
    arrays = {
        name: np.zeros((0 if name in left_out else count, *value.shape))
        for name, value in moving._asdict().items()
    }
    return KeptRows(
        section=np.empty((count if whole else 0, *section.shape)),
        columns=np.ascontiguousarray(columns),
        looks=np.empty((count, section.shape[0], columns.shape[1])),
        moving=Moving(**arrays),
        totals=np.empty((count, len(NAMES))),
        sums=np.empty((count, SUMS)),
        due=np.zeros(0, dtype=np.int64),
    )
