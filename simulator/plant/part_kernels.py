"""One part of a step: the trapezoidal rule and backward differentiation in one, compiled.

TR-BDF2: second order, L-stable, three evaluations with weights above 0; its embedded third-order formula
tells the error [1].

Sources
-------
[1] M. E. Hosea and L. F. Shampine, Applied Numerical Mathematics 20 (1996) 21-37.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from simulator.kernel import kernel
from simulator.plant.heat_kernels import FIRST_HEAT, heat_flows
from simulator.plant.implicit_kernels import jacobian_of, solve_parts, solve_stage
from simulator.plant.layout_kernels import LEVEL, PlantFixed
from simulator.plant.moment_kernels import Moment, surround

GAMMA = 2.0 - math.sqrt(2.0)
"""Place of the middle evaluation in the part [-]."""
DIAGONAL = 0.5 * GAMMA
WEIGHT = 0.25 * math.sqrt(2.0)
"""Weights of the three evaluations: WEIGHT, WEIGHT, DIAGONAL."""
FIRST_ERROR = (4.0 * WEIGHT - 1.0) / 3.0
MIDDLE_ERROR = -1.0 / 3.0
LAST_ERROR = 2.0 * DIAGONAL / 3.0


class Work(NamedTuple):
    """Arrays that the parts of a step share; n numbers in the state, C coils."""

    rates: np.ndarray  # (3, n) of the three evaluations [K/s]
    heat: np.ndarray  # (3, 10 + 2 C) heat flows of the three evaluations [W]
    found: np.ndarray  # (5,) air under the hood, see `hood_kernels`
    into: np.ndarray  # (C,) water entering each coil [K]
    leaving: np.ndarray  # (C,) air behind each coil [K]
    stage: np.ndarray  # (n,)
    right: np.ndarray  # (n,)
    error: np.ndarray  # (n,)
    matrix: np.ndarray  # (2 + C, 2 + C)
    column: np.ndarray  # (2 + C,)


@kernel
def work_of(coils: int, size: int) -> Work:
    """Make the arrays for a number of coils and of numbers in the state."""
    return Work(
        rates=np.zeros((3, size)),
        heat=np.zeros((3, FIRST_HEAT + 2 * coils)),
        found=np.zeros(5),
        into=np.zeros(coils),
        leaving=np.zeros(coils),
        stage=np.empty(size),
        right=np.empty(size),
        error=np.empty(size),
        matrix=np.empty((2 + coils, 2 + coils)),
        column=np.empty(2 + coils),
    )


@kernel
def try_part(
    fixed: PlantFixed,
    moment: Moment,
    work: Work,
    inputs: np.ndarray,
    y: np.ndarray,
    begin: float,
    step: float,
    first: float,
    last: float,
) -> float:
    """Evaluate one part of `step` seconds from the state `y`, `begin` [s] into the step.

    The heat of the fire to the shell runs straight from `first` to `last` [W], room and intake as `inputs`
    say. Fills `work.rates` and `work.heat`, to be added up with the weights.

    Returns
    -------
    float [K]
        Largest error of a temperature; infinite if the equations of a stage could not be solved.
    """
    size = y.size
    rates, heat, stage, right = work.rates, work.heat, work.stage, work.right
    found, into, leaving, matrix, column = work.found, work.into, work.leaving, work.matrix, work.column
    middle = first + GAMMA * (last - first)
    weight = DIAGONAL * step
    surround(moment.around, inputs, begin)
    before = heat_flows(fixed, moment, first, y, found, into, leaving, heat[0], rates[0])
    # The rows of the other evaluations are free to work in until they are filled.
    jacobian_of(
        fixed, moment, first, before, y, found, into, leaving, heat[1], rates[1], rates[0], matrix, column
    )
    for i in range(size):
        right[i] = y[i] + weight * rates[0, i]
        stage[i] = y[i]
    surround(moment.around, inputs, begin + GAMMA * step)
    if not solve_stage(
        fixed, moment, middle, right, weight, matrix, column, found, into, leaving, stage, heat[1], rates[1]
    ):
        return math.inf
    for i in range(size):
        right[i] = y[i] + WEIGHT * step * (rates[0, i] + rates[1, i])
        stage[i] = y[i] + (stage[i] - y[i]) / GAMMA
    surround(moment.around, inputs, begin + step)
    if not solve_stage(
        fixed, moment, last, right, weight, matrix, column, found, into, leaving, stage, heat[2], rates[2]
    ):
        return math.inf
    for i in range(size):
        right[i] = step * (FIRST_ERROR * rates[0, i] + MIDDLE_ERROR * rates[1, i] + LAST_ERROR * rates[2, i])
    # Through the matrix of the stage, which takes the error of what is long at rest out of the sum [1].
    solve_parts(fixed, moment, matrix, column, weight, stage, right, work.error)
    worst = 0.0
    for i in range(size):
        if i != LEVEL:
            worst = max(worst, abs(work.error[i]))
    return worst
