"""Reductions taken from a keeper, under a name that changes with every number that they are made from."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from simulator.section.keeper import are_finite, digest_of, taken_or_made
from simulator.section.reduction import LANE_LOAD, SAFETY, SURFACE_LOAD, Reduction, reduce_section

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from simulator.section.keeper import Keeper
    from simulator.section.operators import SectionOperators


def numbers_of(operators: SectionOperators) -> tuple[NDArray[Any], ...]:
    """All numbers of a section that its modes and their loads and readings depend on."""
    links = operators.links
    return (
        operators.capacity, links.rows, links.columns, links.values, operators.injection,
        operators.reading, operators.floor_cells,
    )  # fmt: skip


def fingerprint(operators: SectionOperators, start: NDArray[np.float64], *settings: float) -> str:
    """Name of a reduction: changes with every number that it is made from."""
    return digest_of((SAFETY, LANE_LOAD, SURFACE_LOAD, *settings), *numbers_of(operators), start)


def kept_reduction(
    keeper: Keeper | None,
    operators: SectionOperators,
    start: NDArray[np.float64],
    *,
    shortest: float,
    longest: float,
    tolerance: float,
    everywhere: bool = False,
    threads: int = 1,
) -> Reduction:
    """Take a reduction from `keeper`, or make it and hand it over; see `reduce_section`."""
    settings = {"shortest": shortest, "longest": longest, "tolerance": tolerance, "everywhere": everywhere}
    return taken_or_made(
        keeper,
        lambda: fingerprint(operators, start, *(float(value) for value in settings.values())),
        lambda kept: reduction_of(kept, operators.cells),
        lambda: reduce_section(
            operators,
            start,
            shortest=shortest,
            longest=longest,
            tolerance=tolerance,
            everywhere=everywhere,
            threads=threads,
        ),
        lambda made: made.__dict__,
    )


def reduction_of(kept: Mapping[str, NDArray[np.float64]], cells: int) -> Reduction | None:
    """Put a reduction together out of kept arrays.

    Parameters
    ----------
    kept : mapping of str to ndarray
    cells : int
        Of the section.

    Returns
    -------
    Reduction or None
        None when the arrays are not those of a reduction of so many cells.
    """
    if kept.keys() != {"modes", "rates", "error", "shifts"}:
        return None
    modes, rates, error, shifts = (kept[name] for name in ("modes", "rates", "error", "shifts"))
    fits = rates.ndim == shifts.ndim == 1 and error.ndim == 0 and modes.shape == (cells, rates.size)
    if not fits or not are_finite(kept) or (rates < 0.0).any():
        return None
    return Reduction(modes, rates, float(error), tuple(shifts.tolist()))
