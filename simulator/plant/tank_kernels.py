"""The layered tank: what flows through it, its linear solution, and mixing by buoyancy.

Layers count from the bottom. Water of the coils enters the top and leaves from the bottom; make-up enters at
the bottom and as much flows off at the top. Between layers only the net flow moves, as a plug; `layers` equal
volumes stirred through each (upwind). Where a layer is warmer than the one above, both mix.
"""

from __future__ import annotations

import numpy as np

from simulator.kernel import kernel
from simulator.plant.layout_kernels import PlantFixed


@kernel
def tank_rates(
    fixed: PlantFixed, tank: np.ndarray, water: float, returned: float, room: float, rates: np.ndarray
) -> float:
    """Fill the warming [K/s] of every layer and return the loss to the room [W].

    `tank` (L,) [K]; `water` [W/K] capacity flow of the pump, entering at `returned` [K]; `room` [K].
    """
    layers = tank.size
    net = water - fixed.make_up_capacity
    down = max(net, 0.0) + fixed.layer_conduction
    up = max(-net, 0.0) + fixed.layer_conduction
    loss = 0.0
    for i in range(layers):
        lost = fixed.layer_loss * (tank[i] - room)
        loss += lost
        gain = -lost
        if i + 1 < layers:
            gain += down * (tank[i + 1] - tank[i])
        else:
            gain += water * (returned - tank[i])
        if i > 0:
            gain += up * (tank[i - 1] - tank[i])
        else:
            gain += fixed.make_up_capacity * (fixed.make_up_temperature - tank[i])
        rates[i] = gain / fixed.layer_capacity
    return loss


@kernel
def solve_tank(
    fixed: PlantFixed,
    water: float,
    weight: float,
    right: np.ndarray,
    answer: np.ndarray,
    influence: np.ndarray,
) -> None:
    """Solve (1 - `weight` J) x = `right` for the layers, J their rates' own part; tridiagonal.

    `answer` (L,) is filled with x, `influence` (L,) with what one kelvin more of returned water adds.
    """
    layers = right.size
    factor = weight / fixed.layer_capacity
    net = water - fixed.make_up_capacity
    down = factor * (max(net, 0.0) + fixed.layer_conduction)
    up = factor * (max(-net, 0.0) + fixed.layer_conduction)
    ratios = np.empty(layers)
    for i in range(layers):
        above = down if i + 1 < layers else 0.0
        below = up if i > 0 else 0.0
        diagonal = 1.0 + factor * fixed.layer_loss
        diagonal += down if i + 1 < layers else factor * water
        diagonal += up if i > 0 else factor * fixed.make_up_capacity
        load = right[i]
        push = factor * water if i + 1 == layers else 0.0
        if i > 0:
            diagonal -= below * ratios[i - 1]
            load += below * answer[i - 1]
            push += below * influence[i - 1]
        ratios[i] = above / diagonal
        answer[i] = load / diagonal
        influence[i] = push / diagonal
    for i in range(layers - 2, -1, -1):
        answer[i] += ratios[i] * answer[i + 1]
        influence[i] += ratios[i] * influence[i + 1]


@kernel
def mix_by_buoyancy(tank: np.ndarray) -> None:
    """Mix layers until none is warmer than the one above; equal volumes, their heat is kept.

    Pools of neighbours from the bottom up, each joined with the pool below it while that is warmer.
    """
    layers = tank.size
    sums = np.empty(layers)
    sizes = np.empty(layers, dtype=np.int64)
    pools = 0
    for i in range(layers):
        sums[pools] = tank[i]
        sizes[pools] = 1
        pools += 1
        while pools > 1 and sums[pools - 2] * sizes[pools - 1] > sums[pools - 1] * sizes[pools - 2]:
            sums[pools - 2] += sums[pools - 1]
            sizes[pools - 2] += sizes[pools - 1]
            pools -= 1
    i = 0
    for pool in range(pools):
        mean = sums[pool] / sizes[pool]
        for _ in range(sizes[pool]):
            tank[i] = mean
            i += 1
