"""Full and reduced sections: one contract, one answer."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.linalg import expm

from simulator.errors import SolverError
from simulator.section.direct import KEPT_STAGES, DirectSection
from simulator.section.operators import SectionOperators, build_operators
from simulator.section.reduced import ReducedSection
from simulator.section.reduction import SMALL_SECTION, reduce_section
from simulator.section.solver import SectionSolver
from tests.section.sections import CONCRETE, SAND, section

RANDOM = np.random.default_rng(11)
LONGEST, SHORTEST = 40.0 * 3600.0, 10.0


def made(scale: float) -> SectionOperators:
    layers = [(CONCRETE, 0.1), (SAND, 1.4)]
    lanes = [(0.0, 0.35, 0.05), (0.45, 0.35, 0.05)]
    return build_operators(
        section(lanes, width=(0.0, 1.0), depth=1.5, layers=layers, bottom="temperature", mirrored=True,
                cell_scale=scale)
    )  # fmt: skip


@pytest.fixture(scope="module")
def small() -> SectionOperators:
    operators = made(3.0 if made(3.0).cells <= SMALL_SECTION else 4.0)
    assert operators.cells <= SMALL_SECTION
    return operators


@pytest.fixture(scope="module")
def usual() -> SectionOperators:
    operators = made(1.0)
    assert operators.cells > SMALL_SECTION
    return operators


@pytest.fixture(scope="module", params=["direct", "whole", "reduced"])
def solver(request: pytest.FixtureRequest, small: SectionOperators, usual: SectionOperators) -> SectionSolver:
    operators = usual if request.param == "reduced" else small
    if request.param == "direct":
        return DirectSection(operators)
    return reduced(operators)


def reduced(operators: SectionOperators, tolerance: float = 0.005) -> ReducedSection:
    start = np.linspace(-2.0, 2.0, operators.cells)[:, None]
    return ReducedSection(
        operators, reduce_section(operators, start, shortest=SHORTEST, longest=LONGEST, tolerance=tolerance)
    )


def loads_of(operators: SectionOperators, stations: int = 3) -> np.ndarray:
    loads = RANDOM.normal(0.0, 10.0, (stations, operators.injection.shape[1]))
    loads[:, : operators.lanes] *= 3.0
    return loads


def test_readings_are_known_before_the_loads(solver: SectionSolver) -> None:
    state = solver.project(np.tile(np.linspace(-2.0, 2.0, solver.operators.cells), (3, 1)))
    loads = loads_of(solver.operators)
    stage = solver.stage(600.0)
    after = solver.read(solver.advance(stage, state, loads))
    np.testing.assert_allclose(
        solver.respond(stage, state) + loads @ stage.influence.T, after, rtol=1e-9, atol=1e-9
    )


def test_heat_stored_is_heat_put_in(solver: SectionSolver) -> None:
    """Stored after less before = step length times (injected - what the films read), for any state and
    loads.
    """
    op = solver.operators
    state = solver.project(np.tile(np.linspace(-2.0, 2.0, op.cells), (3, 1)))
    loads = loads_of(op)
    after = solver.advance(solver.stage(600.0), state, loads)
    films = slice(op.lanes, None)
    taken = loads @ op.injection.sum(axis=0) - solver.read(after)[:, films].sum(axis=1)
    np.testing.assert_allclose(
        solver.stored(after) - solver.stored(state), 600.0 * taken, rtol=1e-9, atol=1e-5
    )


def test_a_uniform_ground_under_air_of_its_own_temperature_stays(solver: SectionSolver) -> None:
    op = solver.operators
    state = solver.project(np.full((1, op.cells), 7.0))
    loads = np.full((1, op.injection.shape[1]), 7.0)
    loads[:, : op.lanes] = 0.0
    after = solver.field(solver.advance(solver.stage(3600.0), state, loads))
    np.testing.assert_allclose(after, 7.0, rtol=1e-9)


def test_floor_and_field_agree(solver: SectionSolver) -> None:
    state = solver.project(np.tile(np.linspace(-2.0, 2.0, solver.operators.cells), (2, 1)))
    np.testing.assert_allclose(
        solver.floor(state), solver.field(state)[:, solver.operators.floor_cells], atol=1e-12
    )


def test_the_same_stage_length_gives_the_same_stage(solver: SectionSolver) -> None:
    assert solver.stage(60.0) is solver.stage(60.0)


def test_full_section_keeps_few_factorisations(small: SectionOperators) -> None:
    solver = DirectSection(small)
    first = solver.stage(1.0)
    for number in range(KEPT_STAGES):
        solver.stage(2.0 + number)
    assert solver.stage(1.0) is not first
    np.testing.assert_allclose(solver.stage(1.0).influence, first.influence, rtol=1e-12)


def test_one_stage_solves_the_implicit_equation(small: SectionOperators) -> None:
    """Against a dense solve by numpy."""
    tau = 450.0
    state, loads = RANDOM.normal(0.0, 5.0, (3, small.cells)), loads_of(small)
    matrix = np.diag(small.capacity / tau) + small.stiffness.toarray()
    exact = np.linalg.solve(matrix, (state * small.capacity / tau + loads @ small.injection.T).T).T
    solver = DirectSection(small)
    np.testing.assert_allclose(solver.advance(solver.stage(tau), state, loads), exact, atol=1e-9)
    whole = reduced(small)
    after = whole.field(whole.advance(whole.stage(tau), whole.project(state), loads))
    np.testing.assert_allclose(after, exact, atol=1e-9)


def test_small_sections_keep_every_mode(small: SectionOperators) -> None:
    """Their free decay is the matrix exponential (scipy.linalg.expm)."""
    solver = reduced(small)
    assert solver.size == small.cells
    start = RANDOM.normal(0.0, 5.0, small.cells)
    exact = expm(-small.stiffness.toarray() / small.capacity[:, None] * 900.0) @ start
    modes, rates = solver.reduction.modes, solver.reduction.rates
    ours = modes @ (np.exp(-rates * 900.0) * (modes.T @ (small.capacity * start)))
    np.testing.assert_allclose(ours, exact, atol=1e-9)


def test_modes_are_orthonormal_and_decay(usual: SectionOperators) -> None:
    reduction = reduced(usual).reduction
    product = reduction.modes.T @ (usual.capacity[:, None] * reduction.modes)
    np.testing.assert_allclose(product, np.eye(reduction.rates.size), atol=1e-9)
    assert reduction.rates.min() >= 0.0
    assert reduction.rates.size < usual.cells / 5
    assert reduction.error <= 0.005


@pytest.mark.parametrize("tolerance", [0.05, 0.005, 0.0005])
def test_reduced_follows_full_after_a_switch_within_its_tolerance(
    usual: SectionOperators, tolerance: float
) -> None:
    """Reference loads switched on and off; floor cells and walls watched, from the shortest step to the
    longest.
    """
    full, few = DirectSection(usual), reduced(usual, tolerance)
    steps = np.diff(np.concatenate(([0.0], np.geomspace(SHORTEST, LONGEST, 40))))
    states = [solver.project(np.zeros((1, usual.cells))) for solver in (full, few)]
    worst = 0.0
    for number, length in enumerate(steps):
        loads = np.zeros((1, usual.injection.shape[1]))
        loads[0, : usual.lanes] = 30.0 if number < 30 else 0.0
        loads[0, usual.port("floor")] = -10.0 if number % 12 < 6 else 0.0
        for place, solver in enumerate((full, few)):
            states[place] = solver.advance(solver.stage(float(length)), states[place], loads)
        floors = full.floor(states[0]) - few.floor(states[1])
        walls = (full.read(states[0]) - few.read(states[1]))[:, : usual.lanes]
        worst = max(worst, float(np.abs(floors).max()), float(np.abs(walls).max()))
    assert worst <= 3.0 * tolerance  # three loads of reference size act at once
    assert worst > 0.0


def test_a_start_profile_is_kept(usual: SectionOperators) -> None:
    solver = reduced(usual)
    start = np.linspace(-2.0, 2.0, usual.cells)
    np.testing.assert_allclose(solver.field(solver.project(start[None, :]))[0], start, atol=1e-8)


def test_a_tolerance_out_of_reach_is_refused_with_a_way_out(usual: SectionOperators) -> None:
    with pytest.raises(SolverError) as caught:
        reduced(usual, tolerance=1e-13)
    message = str(caught.value)
    assert "misses its tolerance" in message
    assert "instead of 1e-13 K" in message
    assert 'numerics.solver = "direct"' in message
    assert "numerics.tolerance" in message
    assert not math.isnan(float(message.split("tolerance: ")[1].split(" K", maxsplit=1)[0]))


def test_a_reduction_does_not_depend_on_the_number_of_threads():
    operators = made(1.0)
    start = np.linspace(0.0, 3.0, operators.cells)[:, None]
    one, three = (
        reduce_section(operators, start, shortest=20.0, longest=1e6, tolerance=0.005, threads=threads)
        for threads in (1, 3)
    )
    assert operators.cells > SMALL_SECTION
    assert one.shifts == three.shifts
    assert np.array_equal(one.modes, three.modes)
    assert np.array_equal(one.rates, three.rates)
