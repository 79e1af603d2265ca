"""The spot check finds nothing where nothing is left out, what was left out otherwise, and damage."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
import scipy.linalg

from simulator.section.operators import SectionOperators, build_operators
from simulator.section.reduced import ReducedSection
from simulator.section.reduction import LANE_LOAD, SMALL_SECTION, SURFACE_LOAD, Reduction, reduce_section
from simulator.section.spot_check import periods_of, spot_check
from tests.section.sections import two_pipes

RUN = 30 * 86400.0
TOLERANCE = 0.005
PERIODS = periods_of(RUN)


@pytest.fixture(scope="module")
def operators() -> SectionOperators:
    made = build_operators(two_pipes(1.5))
    assert made.cells > SMALL_SECTION
    return made


@pytest.fixture(scope="module")
def every_mode(operators: SectionOperators) -> Reduction:
    """All modes, by a dense eigenvalue decomposition."""
    root = np.sqrt(operators.capacity)
    scaled = operators.stiffness.toarray() / root[:, None] / root[None, :]
    rates, vectors = scipy.linalg.eigh(0.5 * (scaled + scaled.T))
    return Reduction(vectors / root[:, None], np.maximum(rates, 0.0), 0.0, ())


@pytest.fixture(scope="module")
def reduction(operators: SectionOperators) -> Reduction:
    start = np.zeros((operators.cells, 1))
    return reduce_section(operators, start, shortest=90.0, longest=RUN, tolerance=TOLERANCE)


def test_all_modes_are_the_full_mesh(operators, every_mode):
    assert spot_check(ReducedSection(operators, every_mode), PERIODS).difference < 1e-8


def test_what_is_left_out_is_found(operators, every_mode):
    """Without its fast half: against the sum of the modes left out, at the same loads."""
    kept = operators.cells // 2
    fewer = Reduction(every_mode.modes[:, :kept], every_mode.rates[:kept], 0.0, ())
    found = spot_check(ReducedSection(operators, fewer), (3600.0,)).difference
    scale = np.where(np.arange(operators.injection.shape[1]) < operators.lanes, LANE_LOAD, SURFACE_LOAD)
    modes, rates = every_mode.modes[:, kept:], every_mode.rates[kept:]
    swing = modes @ ((modes.T @ (operators.injection * scale)) / (rates + 2j * np.pi / 3600.0)[:, None])
    floor = np.abs(swing[operators.floor_cells]).max()
    walls = np.abs(operators.reading[:, : operators.lanes].T @ swing).max()
    assert found == pytest.approx(max(floor, walls), rel=1e-6)


def test_a_sound_reduction_is_within_what_is_allowed(operators, reduction):
    found = spot_check(ReducedSection(operators, reduction), PERIODS)
    assert found.difference <= TOLERANCE
    assert found.periods == (3600.0, 86400.0, RUN)


@pytest.mark.parametrize("damage", ["rate", "mode", "missing", "not a number"])
def test_a_damaged_reduction_is_noticed(operators, reduction, damage):
    rates, modes = reduction.rates.copy(), reduction.modes.copy()
    if damage == "rate":
        rates[3] *= 1.1
    elif damage == "mode":
        modes[:, 3] *= 1.02
    elif damage == "missing":
        rates, modes = np.delete(rates, 3), np.delete(modes, 3, axis=1)
    else:
        modes[5, 3] = np.nan
    found = spot_check(
        ReducedSection(operators, dataclasses.replace(reduction, rates=rates, modes=modes)), PERIODS
    )
    assert found.difference > TOLERANCE


@pytest.mark.parametrize("lane", [0, 1])
def test_each_duct_is_looked_at(operators, every_mode, lane):
    """The full mesh reads one duct's wall a thousandth higher: a thousandth of its largest swing is found."""
    section = ReducedSection(operators, every_mode)
    reading = operators.reading.copy()
    reading[:, lane] *= 1.001
    section.operators = dataclasses.replace(operators, reading=reading)
    scale = np.where(np.arange(operators.injection.shape[1]) < operators.lanes, LANE_LOAD, SURFACE_LOAD)
    matrix = operators.stiffness.toarray() + 2j * np.pi / 86400.0 * np.diag(operators.capacity)
    swing = operators.reading[:, lane] @ np.linalg.solve(matrix, operators.injection * scale)
    found = spot_check(section, (86400.0,)).difference
    assert found == pytest.approx(1e-3 * np.abs(swing).max(), rel=1e-4)


def test_periods_of_a_short_run():
    assert periods_of(7200.0) == (3600.0, 7200.0)
    assert periods_of(600.0) == (600.0,)
