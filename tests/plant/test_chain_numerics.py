"""Order of the parts of a step, and steps of any length alike."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy.optimize import isotonic_regression

from simulator.plant import chain_kernels
from simulator.plant import layout_kernels as at
from simulator.plant.chain import start
from simulator.plant.moment_kernels import moment_of
from simulator.plant.part_kernels import DIAGONAL, WEIGHT, try_part, work_of
from simulator.plant.tank_kernels import mix_by_buoyancy, solve_tank, tank_rates
from tests.plant.plants import case_of, inputs_of, plant, run


def _by_parts(made, state, number: int, span: float) -> tuple[np.ndarray, float]:
    """Temperatures after `number` equal parts under a steady fire, and the first part's error estimate."""
    inputs = inputs_of(length=span)
    moment = moment_of(made.fixed, inputs)
    work = work_of(made.fixed.coils, state.size)
    work.found[0] = 400.0
    y = state.copy()
    step = span / number
    first = math.nan
    for count in range(number):
        told = try_part(made.fixed, moment, work, inputs, y, count * step, step, 9000.0, 9000.0)
        if count == 0:
            first = told
        rates = work.rates
        y += step * (WEIGHT * (rates[0] + rates[1]) + DIAGONAL * rates[2])
    return y, first


def test_parts_are_of_second_order_and_their_error_is_told() -> None:
    made = plant(case_of(1))
    state = start(made)
    state[:2] = 420.0, 330.0
    span = 400.0
    exact, _ = _by_parts(made, state, 512, span)
    errors, told = [], []
    for number in (16, 32, 64):
        got, estimate = _by_parts(made, state, number, span)
        errors.append(np.abs(got - exact)[[0, 1, 4]].max())
        told.append(estimate)
    orders = [math.log2(a / b) for a, b in pairwise(errors)]
    assert all(1.8 < order < 2.4 for order in orders), orders
    # The estimate is of one part: it falls as the third power once parts are short beside the coil's 20 s.
    assert told[2] < told[1] / 5.5
    # It must not be blind: a part that errs visibly says so.
    one, estimate = _by_parts(made, state, 1, 100.0)
    true, _ = _by_parts(made, state, 128, 100.0)
    assert estimate > 0.2 * np.abs(one - true).max()


@pytest.mark.parametrize("told", [{}, {"air_flow": 0.0}, {"pump": 0.0}, {"air_flow": 0.0, "pump": 0.0}])
def test_one_long_step_is_many_short_ones(told) -> None:
    made = plant(case_of(2, water={"layers": 3, "height": "1 m"}))
    long = run(made, steps=1, length=7200.0, **told)
    short = run(made, steps=240, length=30.0, **told)
    assert long.status == short.status == chain_kernels.EXACT
    assert long.state == pytest.approx(short.state, abs=0.05)
    assert long.flows[: at.STEAM] == pytest.approx(
        short.flows[: at.STEAM], rel=2e-3, abs=2e-4 * float(short.flows[at.FUEL])
    )


def test_fuel_of_a_ramp_is_exact() -> None:
    made = plant(case_of(stove={"start_up": "10 min", "burn_out": "20 min"}))
    rate = 2.8 / 3600.0
    lit = run(made, length=1000.0)
    assert lit.flows[at.BURNT] == pytest.approx(rate * (1000.0 - 300.0), rel=1e-12)
    assert lit.state[at.LEVEL] == 1.0
    out = run(made, lit.state, length=500.0, feed=0.0)
    assert out.state[at.LEVEL] == pytest.approx(1.0 - 500.0 / 1200.0, rel=1e-12)
    assert out.flows[at.BURNT] == pytest.approx(rate * 500.0 * (1.0 - 0.5 * 500.0 / 1200.0), rel=1e-12)
    over = run(made, lit.state, length=100.0, overfeed=1.5, batch_rate=1e-3)
    assert over.flows[at.BURNT] == pytest.approx(1.5 * 100.0 * (rate + 1e-3), rel=1e-12)
    assert over.flows[at.GAS] - over.flows[at.AIR_DRAWN] < over.flows[at.BURNT]


@pytest.mark.parametrize("seed", range(5))
def test_mixing_by_buoyancy_is_the_nearest_rising_profile(seed) -> None:
    tank = np.random.default_rng(seed).uniform(280.0, 350.0, 9)
    mixed = tank.copy()
    mix_by_buoyancy(mixed)
    # Pools of equal volumes at their mean are the least-squares fit that never falls (scipy).
    assert mixed == pytest.approx(isotonic_regression(tank).x, rel=1e-13)
    assert mixed.sum() == pytest.approx(tank.sum(), rel=1e-14)


@pytest.mark.parametrize("make_up", ["0 L/h", "5 L/min", "30 L/min"])
@pytest.mark.parametrize("layers", [1, 2, 7])
def test_tank_solution_against_a_full_matrix(make_up, layers) -> None:
    made = plant(case_of(1, water={"layers": layers, "height": "1.2 m", "make_up": make_up}))
    water, weight, back, room = 300.0, 500.0, 320.0, 290.0
    base, rates = np.empty(layers), np.empty(layers)
    level = np.linspace(290.0, 330.0, layers)
    tank_rates(made.fixed, level, water, back, room, base)
    jacobian = np.empty((layers, layers))
    for i in range(layers):
        tank_rates(made.fixed, level + np.eye(layers)[i], water, back, room, rates)
        jacobian[:, i] = rates - base
    tank_rates(made.fixed, level, water, back + 1.0, room, rates)
    push = rates - base
    system = np.eye(layers) - weight * jacobian
    right = np.linspace(1.0, 2.0, layers)
    answer, influence = np.empty(layers), np.empty(layers)
    solve_tank(made.fixed, water, weight, right, answer, influence)
    assert answer == pytest.approx(np.linalg.solve(system, right), rel=1e-9)
    assert influence == pytest.approx(np.linalg.solve(system, weight * push), rel=1e-8)


def test_values_that_are_no_numbers_are_told() -> None:
    assert run(plant(case_of()), intake=math.nan).status == chain_kernels.FAILED
