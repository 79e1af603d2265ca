"""The equations of an implicit stage of the plant and their solution, compiled.

Unknowns are shell, hood wall and coils, few and coupled through the air; and the layers of the tank, whose
own matrix is tridiagonal and which the others meet only through the water drawn from the bottom and the water
sent back. So the tank is solved once for its load and once for a kelvin of returned water, and what is left
is a small full matrix.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.plant.heat_kernels import BOILING_STRENGTH, fill_water, heat_flows, water_flows
from simulator.plant.layout_kernels import FIRST_COIL, LEVEL, PlantFixed
from simulator.plant.moment_kernels import Moment
from simulator.plant.tank_kernels import solve_tank

NUDGE = 1e-2
"""Change [K] by which slopes are taken."""
MOST_ROUNDS = 30
CLOSE, CLOSE_BOILING = 1e-5, 1e-9
"""Change [K] at which a stage counts as solved, without and with a boiling coil."""


@kernel
def place_of(unknown: int) -> int:
    """Place in the state of an unknown of the small matrix: shell, hood wall, coils."""
    return unknown if unknown < 2 else FIRST_COIL + unknown - 2


@kernel
def jacobian_of(
    fixed: PlantFixed,
    moment: Moment,
    fire: float,
    before: float,
    at: np.ndarray,
    found: np.ndarray,
    into: np.ndarray,
    leaving: np.ndarray,
    flows: np.ndarray,
    rates: np.ndarray,
    base: np.ndarray,
    matrix: np.ndarray,
    column: np.ndarray,
) -> None:
    """Fill `matrix` (2 + C, 2 + C) and `column` (2 + C,), slopes of the rates [1/s].

    Over shell, hood wall and coils, and over the bottom layer. `base` holds the rates at `at` with `fire` [W]
    and air entering the coils at `before` [K];
    `flows` and `rates` are room to work in. Steam is left out: `solve_parts` adds it where a coil boils.
    """
    count = 2 + fixed.coils
    guess = found.copy()
    trial = at.copy()
    # Under boiling for the slopes, so that no difference straddles it: steam is not linear there.
    for k in range(fixed.coils):
        steam = BOILING_STRENGTH * max(at[FIRST_COIL + k] - fixed.boiling[k], 0.0)
        base[FIRST_COIL + k] += steam / fixed.coil_capacity[k]
    for number in range(count + 1):
        if number == count:
            if fixed.layers == 0:
                column[:] = 0.0
                break
            place = FIRST_COIL + fixed.coils
        else:
            place = place_of(number)
        kept = trial[place]
        trial[place] = kept + NUDGE
        if number >= 2 and moment.fresh >= 1.0:
            # Nothing of the water comes back under the hood.
            back = fill_water(fixed, moment, trial, into)
            water_flows(fixed, moment, before, back, trial, into, leaving, flows, rates)
            rates[0], rates[1] = base[0], base[1]
        else:
            guess[:] = found
            heat_flows(fixed, moment, fire, trial, guess, into, leaving, flows, rates)
        for row in range(count):
            target = place_of(row)
            rate = rates[target]
            if row >= 2:
                steam = BOILING_STRENGTH * max(trial[target] - fixed.boiling[row - 2], 0.0)
                rate += steam / fixed.coil_capacity[row - 2]
            value = (rate - base[target]) / NUDGE
            if number == count:
                column[row] = value
            else:
                matrix[row, number] = value
        trial[place] = kept
    for k in range(fixed.coils):
        steam = BOILING_STRENGTH * max(at[FIRST_COIL + k] - fixed.boiling[k], 0.0)
        base[FIRST_COIL + k] -= steam / fixed.coil_capacity[k]


@kernel
def eliminate(matrix: np.ndarray, right: np.ndarray) -> None:
    """Solve a small full system in place with row exchange; `right` becomes the answer."""
    size = right.size
    for pivot in range(size):
        best = pivot
        for row in range(pivot + 1, size):
            if abs(matrix[row, pivot]) > abs(matrix[best, pivot]):
                best = row
        if best != pivot:
            for other in range(pivot, size):
                matrix[pivot, other], matrix[best, other] = matrix[best, other], matrix[pivot, other]
            right[pivot], right[best] = right[best], right[pivot]
        for row in range(pivot + 1, size):
            factor = matrix[row, pivot] / matrix[pivot, pivot]
            if factor != 0.0:
                for other in range(pivot + 1, size):
                    matrix[row, other] -= factor * matrix[pivot, other]
                right[row] -= factor * right[pivot]
    for row in range(size - 1, -1, -1):
        for other in range(row + 1, size):
            right[row] -= matrix[row, other] * right[other]
        right[row] /= matrix[row, row]


@kernel
def solve_parts(
    fixed: PlantFixed,
    moment: Moment,
    matrix: np.ndarray,
    column: np.ndarray,
    weight: float,
    at: np.ndarray,
    right: np.ndarray,
    answer: np.ndarray,
) -> None:
    """Solve (1 - `weight` J) `answer` = `right` over the whole state; steam by the temperatures `at`."""
    coils, layers = fixed.coils, fixed.layers
    count = 2 + coils
    small = np.empty((count, count))
    load = np.empty(count)
    bottom, influence = 0.0, 0.0
    first = FIRST_COIL + coils
    push = np.empty(layers)
    if layers > 0:
        solve_tank(fixed, moment.water, weight, right[first:], answer[first:], push)
        bottom, influence = answer[first], push[0]
    for row in range(count):
        load[row] = right[place_of(row)] + weight * column[row] * bottom
        for other in range(count):
            small[row, other] = -weight * matrix[row, other]
        small[row, row] += 1.0
        # The returned water's own influence on the water drawn.
        if coils > 0:
            shared = weight * column[row] * influence
            if fixed.parallel:
                for k in range(coils):
                    small[row, 2 + k] -= shared / coils
            else:
                small[row, 2] -= shared
    for k in range(coils):
        if at[FIRST_COIL + k] > fixed.boiling[k]:
            small[2 + k, 2 + k] += weight * BOILING_STRENGTH / fixed.coil_capacity[k]
    eliminate(small, load)
    returned = 0.0
    for row in range(count):
        answer[place_of(row)] = load[row]
    for k in range(coils):
        returned += load[2 + k] / coils if fixed.parallel else (load[2] if k == 0 else 0.0)
    for i in range(layers):
        answer[first + i] += push[i] * returned
    answer[LEVEL] = 0.0


@kernel
def solve_stage(
    fixed: PlantFixed,
    moment: Moment,
    fire: float,
    constant: np.ndarray,
    weight: float,
    matrix: np.ndarray,
    column: np.ndarray,
    found: np.ndarray,
    into: np.ndarray,
    leaving: np.ndarray,
    stage: np.ndarray,
    flows: np.ndarray,
    rates: np.ndarray,
) -> bool:
    """Solve `stage` = `constant` + `weight` rates(`stage`) by Newton steps with slopes that stay.

    `stage` holds the first guess and becomes the answer; `flows` and `rates` are those at the answer. Returns
    whether the steps settled.
    """
    size = stage.size
    right = np.empty(size)
    change = np.empty(size)
    for _ in range(MOST_ROUNDS):
        heat_flows(fixed, moment, fire, stage, found, into, leaving, flows, rates)
        for i in range(size):
            right[i] = constant[i] + weight * rates[i] - stage[i]
        right[LEVEL] = 0.0
        solve_parts(fixed, moment, matrix, column, weight, stage, right, change)
        largest = 0.0
        boils = False
        for i in range(size):
            if not math.isfinite(change[i]):
                return False
            largest = max(largest, abs(change[i]))
            stage[i] += change[i]
        for k in range(fixed.coils):
            boils = boils or stage[FIRST_COIL + k] > fixed.boiling[k]
        if stage[0] < 50.0 or stage[1] < 50.0:
            return False
        if largest < (CLOSE_BOILING if boils else CLOSE):
            heat_flows(fixed, moment, fire, stage, found, into, leaving, flows, rates)
            return True
    return False
