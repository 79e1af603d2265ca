"""Refuse what this machine cannot hold, before any of it is allocated.

The figures are rough and on the safe side; a case refused here would have filled the memory, or taken days.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

from simulator.errors import CaseError
from simulator.section.mesh import grid_lines

if TYPE_CHECKING:
    from simulator.case.schema import Case
    from simulator.section.layout import SectionLayout

__all__ = ["SHARE_OF_MEMORY", "check_section", "check_steps", "memory_of_this_machine"]

MOST_STEPS = 100_000_000
MOST_CELLS = 2_000_000
"""Cells of one section."""
BYTES_PER_STEP = 400
"""What drives a step, what it books, and copies of both while they are made."""
BYTES_PER_ROW = 200
BYTES_PER_CELL = 5000
"""Matrices, their factors and the vectors of a reduction, per cell of the section."""
BYTES_PER_STATE = 60
"""State and copies of it, per cell and station, where a section is solved cell by cell."""
SHARE_OF_MEMORY = 0.8


def memory_of_this_machine() -> float:
    """Bytes of memory; infinite where the system does not tell."""
    try:
        return float(os.sysconf("SC_PHYS_PAGES")) * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, OSError, ValueError):
        return float("inf")


def check_steps(case: Case) -> None:
    """See that the steps of a run can be held.

    Raises
    ------
    CaseError
        When there are too many.
    """
    steps = (case.site.duration + case.ground.run_in) / case.numerics.step
    rows = case.site.duration / case.output.interval
    needed = BYTES_PER_STEP * (steps + rows) + BYTES_PER_ROW * rows
    if steps > MOST_STEPS or needed > SHARE_OF_MEMORY * memory_of_this_machine():
        raise CaseError(
            f"makes {steps:.3g} steps, which need about {needed / 1e9:.1f} GB of memory",
            file=case.source_path,
            key="numerics.step",
            allowed=f"up to {MOST_STEPS:,} steps that fit into {memory_of_this_machine() / 1e9:.0f} GB",
            fix="make the step longer, or the run shorter",
        )


def check_section(case: Case, layout: SectionLayout) -> None:
    """See that the section's cells, at all stations, can be held.

    Raises
    ------
    CaseError
        When there are too many.
    """
    y_lines, z_lines = grid_lines(layout)
    cells = (y_lines.size - 1) * (z_lines.size - 1)
    stations = case.numerics.stations if case.numerics.solver == "direct" else 1
    needed = cells * (BYTES_PER_CELL + BYTES_PER_STATE * stations)
    if cells > MOST_CELLS or needed > SHARE_OF_MEMORY * memory_of_this_machine():
        raise CaseError(
            f"makes {cells:,} cells in every section, which need about {needed / 1e9:.1f} GB of memory",
            file=case.source_path,
            key="numerics.cell_scale",
            allowed=f"up to {MOST_CELLS:,} cells that fit into {memory_of_this_machine() / 1e9:.0f} GB",
            fix="make cell_scale larger, or thin layers thicker",
        )
