"""The state of a section that the same year has driven for ever, solved for directly."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from simulator.errors import SolverError
from simulator.section.direct import factorise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simulator.section.operators import SectionOperators

YEAR = 365.0 * 86400.0
"""Period [s], the year of the annual wave of undisturbed ground."""


def periodic_state(
    operators: SectionOperators,
    mean: NDArray[np.float64],
    swing: NDArray[np.complex128],
    time: float,
    period: float = YEAR,
) -> NDArray[np.float64]:
    """Cell temperatures at one moment of the periodic state.

    The section is linear, so a load mean + Re(swing e^(i w t)) makes the state x0 + Re(x1 e^(i w t)) with
    stiffness x0 = injection mean and (stiffness + i w capacity) x1 = injection swing.

    Parameters
    ----------
    operators : SectionOperators
    mean : (P,) float
        Mean load of every port: W/m of one whole duct, K or W/m2.
    swing : (P,) complex
        Amplitude and phase of every port.
    time : float [s]
        Moment, on the clock of the phases.
    period : float [s]

    Returns
    -------
    (N,) float
        On the scale of the loads.

    Raises
    ------
    SolverError
        If nothing holds the mean: no surface, bottom or side at a temperature.
    """
    if not operators.conductance.sum() > 0.0:
        problem = "a section without any film or fixed temperature has no mean temperature to settle at"
        raise SolverError(problem, fix="give the floor or the outside a film, or the bottom a temperature")
    steady = factorise(operators.stiffness).solve(operators.injection @ mean)
    rate = 2.0 * math.pi / period
    from scipy.sparse.linalg import splu  # noqa: PLC0415 - slow to load, and most runs need none

    wave = splu(operators.shifted(1j * rate)).solve(operators.injection @ swing)
    return np.asarray(steady + (wave * np.exp(1j * rate * time)).real, dtype=np.float64)
