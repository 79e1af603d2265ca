"""Factorisations of many shifts at once, against a library's sparse LU of each."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.sparse as sp
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse.linalg import splu

from simulator.section.operators import build_operators
from simulator.section.shifted import ShiftedSolver
from tests.examples import examples
from tests.section.sections import CONCRETE, SAND, section

SHIFTS = np.geomspace(1e-7, 0.5, 11)


@pytest.fixture(scope="module")
def operators():
    lanes = [(0.0, 0.35, 0.05), (0.45, 0.35, 0.05)]
    return build_operators(section(lanes, layers=[(CONCRETE, 0.1), (SAND, 1.4)], depth=1.5, cell_scale=2.0))


def _library(operators, shift, loads):
    return splu((operators.stiffness + sp.diags_array(shift * operators.capacity)).tocsc()).solve(loads)


def test_every_shift_has_the_librarys_answer(operators):
    loads = np.random.default_rng(5).normal(size=(operators.cells, 3))
    answers = ShiftedSolver(operators, 1e-4).solve(SHIFTS, loads)
    for shift, answer in zip(SHIFTS, answers, strict=True):
        exact = _library(operators, shift, loads)
        assert np.abs(answer - exact).max() < 1e-10 * np.abs(exact).max()


def test_the_typical_shift_only_finds_the_pattern(operators):
    loads = operators.injection
    low, high = (ShiftedSolver(operators, typical).solve(SHIFTS, loads) for typical in (1e-7, 0.5))
    assert np.allclose(low, high, rtol=1e-9, atol=1e-12)


def test_a_planted_error_shows(operators):
    loads = operators.injection
    solver = ShiftedSolver(operators, 1e-4)
    solver._capacity[:] *= 1.001
    answer = solver.solve(np.array([1e-3]), loads)[0]
    exact = _library(operators, 1e-3, loads)
    assert np.abs(answer - exact).max() > 1e-6 * np.abs(exact).max()


@settings(max_examples=examples(20))
@given(st.lists(st.floats(1e-8, 10.0), min_size=1, max_size=9))
def test_any_number_of_shifts_in_any_order(operators, shifts):
    loads = operators.injection[:, :1]
    answers = ShiftedSolver(operators, 1e-3).solve(np.array(shifts), loads)
    for shift, answer in zip(shifts, answers, strict=True):
        residual = operators.stiffness @ answer + shift * operators.capacity[:, None] * answer - loads
        assert np.abs(residual).max() < 1e-9 * np.abs(loads).max()
