"""An independent look at a reduced section: its answers to swinging loads against the full mesh.

A section is linear, so what it does over any time is made of its answers to loads that swing at every
period. At a few periods between an hour and the whole run all ports are driven in turn at reference loads,
and the swing of floor surface and duct walls is compared with a complex sparse solution of the full mesh.
Nothing of how the modes were chosen (real shifts, gaps between them) enters: what is marched is what is
tried.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from simulator.section.direct import factorise
from simulator.section.reduction import LANE_LOAD, SURFACE_LOAD

if TYPE_CHECKING:
    import scipy.sparse as sp
    from numpy.typing import NDArray

    from simulator.section.reduced import ReducedSection

HOUR = 3600.0
DAY = 24.0 * HOUR


@dataclass(frozen=True)
class SpotCheck:
    """What a spot check found.

    Attributes
    ----------
    periods : tuple of float [s]
    difference : float [K]
        Largest difference in the swing of a floor cell or a duct wall's reading, at reference loads.
    """

    periods: tuple[float, ...]
    difference: float


def periods_of(run: float) -> tuple[float, ...]:
    """Periods worth a look in a run of some length [s]: an hour, a day, and the run itself."""
    return tuple(sorted({min(HOUR, run), min(DAY, run), run}))


def spot_check(section: ReducedSection, periods: tuple[float, ...]) -> SpotCheck:
    """Compare a reduced section with the full mesh.

    Parameters
    ----------
    section : ReducedSection
    periods : tuple of float [s]

    Raises
    ------
    ValueError
        If the section has no modes.
    """
    operators, modal = section.operators, section.modal
    if modal is None:
        message = "a section without modes has nothing to check"
        raise ValueError(message)
    scale = np.full(operators.injection.shape[1], SURFACE_LOAD)
    scale[: operators.lanes] = LANE_LOAD
    loads = operators.injection * scale
    used = np.abs(loads).max(axis=0) > 0.0
    floor = section.floor(np.eye(section.size))
    lanes = slice(0, operators.lanes)
    worst = 0.0
    for period in periods:
        rate = 2.0 * math.pi / period
        full = _solve(operators.shifted(1j * rate), loads[:, used])
        swing = (modal.injection * scale)[:, used] / (modal.rates + 1j * rate)[:, None]
        differences = (
            floor.T @ swing - full[operators.floor_cells],
            modal.reading[:, lanes].T @ swing - operators.reading[:, lanes].T @ full,
        )
        # A reduction that is not a number has to fail too.
        worst = max(
            worst,
            *(float(np.abs(np.nan_to_num(each, nan=math.inf)).max(initial=0.0)) for each in differences),
        )
    return SpotCheck(periods, worst)


def _solve(matrix: sp.csc_array, loads: NDArray[np.float64]) -> NDArray[np.complex128]:
    """Answer of a complex symmetric matrix whose diagonal holds: no exchange of rows is needed."""
    return np.asarray(factorise(matrix).solve(loads.astype(np.complex128)), dtype=np.complex128)
