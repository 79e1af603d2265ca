"""Second order in time of the two-stage scheme on a section: a mode of the discrete section decays
exponentially.

The exact solution is exp(-rate t), with rate and mode from scipy.sparse.linalg.eigsh, so only time is
discretised.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import eigsh

from simulator.run.coupling import GAMMA
from simulator.section.direct import DirectSection
from simulator.section.operators import SectionOperators, build_operators
from simulator.section.reduced import ReducedSection
from simulator.section.reduction import reduce_section
from simulator.section.solver import SectionSolver
from tests.section.orders import assert_order
from tests.section.sections import section

HOUR = 3600.0


@pytest.fixture(scope="module")
def operators() -> SectionOperators:
    return build_operators(
        section([(0.0, 0.3, 0.05)], depth=0.8, film=8.0, bottom="temperature", cell_scale=2.0)
    )


@pytest.fixture(scope="module")
def mode(operators: SectionOperators) -> tuple[float, np.ndarray]:
    weights = sp.diags_array(operators.capacity)
    rates, modes = eigsh(operators.stiffness, k=3, M=weights.tocsc(), sigma=0.0)
    return float(rates[2]), modes[:, 2] / np.abs(modes[:, 2]).max()


def decay(
    solver: SectionSolver, start: np.ndarray, step: float, steps: int, gamma: float = GAMMA
) -> np.ndarray:
    """R. Alexander, SIAM J. Numer. Anal. 14 (1977) 1006: stages at gamma and 1, the second from an
    extrapolation.
    """
    state = solver.project(start[None, :])
    loads = np.zeros((1, solver.operators.injection.shape[1]))
    stage = solver.stage(gamma * step)
    for _ in range(steps):
        first = solver.advance(stage, state, loads)
        state = solver.advance(stage, state + (1.0 - gamma) / gamma * (first - state), loads)
    return solver.field(state)[0]


def _errors(solver: SectionSolver, mode: tuple[float, np.ndarray], gamma: float = GAMMA) -> list[float]:
    rate, start = mode
    until = 1.0 / rate
    return [
        float(np.abs(decay(solver, start, until / steps, steps, gamma) - math.exp(-1.0) * start).max())
        for steps in (4, 8, 16, 32)
    ]


SIZES = (1 / 4, 1 / 8, 1 / 16, 1 / 32)


@pytest.mark.parametrize("kind", ["full", "reduced"])
def test_a_mode_decays_to_second_order(
    kind: str, operators: SectionOperators, mode: tuple[float, np.ndarray]
) -> None:
    solver: SectionSolver = DirectSection(operators)
    if kind == "reduced":
        reduction = reduce_section(
            operators, mode[1][:, None], shortest=100.0, longest=100.0 * HOUR, tolerance=0.005
        )
        solver = ReducedSection(operators, reduction)
    assert_order(SIZES, _errors(solver, mode), (1.9, 2.2), 1e-4)


def test_the_first_error_is_that_of_the_scheme(
    operators: SectionOperators, mode: tuple[float, np.ndarray]
) -> None:
    """One step multiplies a mode by R(z) = (1 + (1 - 2 g) z) / (1 - g z)^2, z = -rate step (Alexander
    1977).
    """
    rate, start = mode
    z = -0.5
    growth = (1.0 + (1.0 - 2.0 * GAMMA) * z) / (1.0 - GAMMA * z) ** 2
    one = decay(DirectSection(operators), start, 0.5 / rate, 1)
    np.testing.assert_allclose(one, growth * start, atol=1e-10)


def test_a_wrong_coefficient_is_found_out(
    operators: SectionOperators, mode: tuple[float, np.ndarray]
) -> None:
    errors = _errors(DirectSection(operators), mode, gamma=0.5)
    with pytest.raises(AssertionError, match="outside"):
        assert_order(SIZES, errors, (1.9, 2.2), 1e-4)


def test_fast_modes_die_in_one_long_step(operators: SectionOperators) -> None:
    """L-stability: a field rough from cell to cell leaves next to nothing after one step of a thousand
    years.
    """
    rough = np.where(np.arange(operators.cells) % 2 == 0, 1.0, -1.0)
    assert np.abs(decay(DirectSection(operators), rough, 3.15e10, 1)).max() < 1e-5
