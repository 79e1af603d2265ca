"""Everything of a run that compiled loops need, under one handle.

Handing a hundred numbers and arrays to a compiled loop costs as much as several steps; a handle costs next to
nothing. It is made by a cached function, so no run compiles a constructor of its own.
"""

from __future__ import annotations

import numpy as np
from numba import types
from numba.experimental import structref

from simulator.kernel import kernel
from simulator.run.stage_kernels import Fixed, Moving
from simulator.run.step_tables_kernels import StepTables


@structref.register
class _RunType(types.StructRef):
    """Type of `HeldRun` for the compiler."""


@structref.register
class _RowsType(types.StructRef):
    """Type of `HeldRows` for the compiler."""


class HeldRun(structref.StructRefProxy):
    """Handle on `fixed`, `moving`, `tables` and the section in modal form.

    The arrays are the caller's own: what a loop changes in them, the caller sees.
    """

    fixed: Fixed
    moving: Moving
    tables: StepTables
    rates: np.ndarray
    injection: np.ndarray
    reading: np.ndarray
    capacity: np.ndarray


class HeldRows(structref.StructRefProxy):
    """Handle on the rows that a march is to note: after which `steps` (k,), and where.

    `section` (k, S, R), empty where nobody needs whole states; `looks` (k, S, C), what the C `columns` (R, C)
    make of each state; `moving`, a `Moving` of arrays with k in front.
    """

    steps: np.ndarray
    section: np.ndarray
    columns: np.ndarray
    looks: np.ndarray
    moving: Moving


structref.define_proxy(  # type: ignore[no-untyped-call]
    HeldRun, _RunType, ["fixed", "moving", "tables", "rates", "injection", "reading", "capacity"]
)
structref.define_proxy(  # type: ignore[no-untyped-call]
    HeldRows, _RowsType, ["steps", "section", "columns", "looks", "moving"]
)


@kernel(exact=True)
def hold_run(
    fixed: Fixed,
    moving: Moving,
    tables: StepTables,
    rates: np.ndarray,
    injection: np.ndarray,
    reading: np.ndarray,
    capacity: np.ndarray,
) -> HeldRun:
    """Make a handle; `rates`, `capacity` (R,), `injection`, `reading` (R, P)."""
    return HeldRun(fixed, moving, tables, rates, injection, reading, capacity)  # type: ignore[no-untyped-call]


@kernel(exact=True)
def hold_rows(
    steps: np.ndarray, section: np.ndarray, columns: np.ndarray, looks: np.ndarray, moving: Moving
) -> HeldRows:
    """Make a handle on k rows."""
    return HeldRows(steps, section, columns, looks, moving)  # type: ignore[no-untyped-call]
