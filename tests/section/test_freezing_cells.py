"""Freezing cell by cell: the heat account of melting ice, worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from simulator.section.freezing import FreezingSection
from simulator.section.layout import Solid
from simulator.section.operators import SectionOperators, build_operators
from tests.section.sections import FOAM, section

REFERENCE = 283.15
POINT = -10.0
"""The freezing point over the reference [K]."""
WET = Solid("wet sand", 1.5, 2.0e6, 0.3)


@pytest.fixture(scope="module")
def operators() -> SectionOperators:
    layers = [(WET, 0.9), (FOAM, 0.1)]
    made = build_operators(
        section([(0.3, 0.5, 0.05)], width=(0.0, 1.0), depth=1.0, layers=layers, cell_scale=3.0, mirrored=True)
    )
    # The floor covers half of the section: what lies beyond it counts outside.
    object.__setattr__(made.layout, "building_half_width", 0.5)
    return made


@pytest.fixture(scope="module")
def solver(operators: SectionOperators) -> FreezingSection:
    return FreezingSection(operators, REFERENCE)


def heat_of_freezing(operators: SectionOperators) -> np.ndarray:
    """Of each cell's water [J/m]: 334 kJ/kg and 1000 kg/m3 (handbook values, from memory)."""
    return operators.water * 1000.0 * 334e3


def test_water_of_the_cells_is_that_of_the_ground(operators: SectionOperators) -> None:
    area = 0.9 * 1.0 - np.pi * 0.05**2
    assert operators.water.sum() == pytest.approx(0.3 * area, rel=1e-6)
    assert operators.water.min() == 0.0


def test_cells_below_the_point_begin_as_ice(operators, solver) -> None:
    levels = np.array([POINT - 0.01, POINT, POINT + 5.0])
    state = solver.project(np.tile(levels[:, None], operators.cells))
    assert state.shape == (3, solver.size) == (3, 2 * operators.cells)
    wet = operators.water > 0.0
    ice = solver.ice(state)
    np.testing.assert_array_equal(ice[:, wet], np.tile([[1.0], [0.0], [0.0]], int(wet.sum())))
    np.testing.assert_array_equal(ice[:, ~wet], 0.0)
    np.testing.assert_array_equal(solver.field(state), np.tile(levels[:, None], operators.cells))
    latent = heat_of_freezing(operators).sum()
    stored = solver.stored(state)
    capacity = operators.capacity.sum()
    np.testing.assert_allclose(stored, capacity * levels + [0.0, latent, latent], rtol=1e-12)
    assert solver.modal is None


def test_ice_takes_the_heat_that_handbooks_give(operators) -> None:
    """79.7 cal/g, the calorie as 4.1868 J (handbook value, from memory)."""
    state = np.zeros((1, 2 * operators.cells))
    state[0, operators.cells :] = heat_of_freezing(operators)
    stored = float(FreezingSection(operators, REFERENCE).stored(state)[0])
    assert stored / (operators.water.sum() * 1000.0) == pytest.approx(79.7 * 4186.8, rel=2e-3)


def test_settling_melts_what_the_heat_is_enough_for(operators, solver) -> None:
    cells = operators.cells
    latent, capacity = heat_of_freezing(operators), operators.capacity
    # All ice, each cell brought so many times its heat of freezing above the point.
    for share, ice, above in ((-0.5, 1.0, -0.5), (0.25, 0.75, 0.0), (1.0, 0.0, 0.0), (1.5, 0.0, 0.5)):
        wet = latent > 0.0
        temperature = np.where(wet, POINT + share * latent / capacity, POINT + 7.0)
        before = np.concatenate((temperature, np.zeros(cells)))[None, :]
        after = solver.settle(before)
        np.testing.assert_allclose(solver.ice(after)[0, wet], ice, atol=1e-12)
        expected = np.where(wet, POINT + above * latent / capacity, POINT + 7.0)
        np.testing.assert_allclose(solver.field(after)[0], expected, atol=1e-9)
        np.testing.assert_allclose(solver.stored(after), solver.stored(before), rtol=1e-12)


def test_freezing_gives_the_heat_back(operators, solver) -> None:
    latent, capacity = heat_of_freezing(operators), operators.capacity
    wet = latent > 0.0
    # All water, undercooled by four tenths of its heat: four tenths of it freeze, at the point.
    temperature = np.where(wet, POINT - 0.4 * latent / capacity, POINT - 1.0)
    after = solver.settle(np.concatenate((temperature, latent))[None, :])
    np.testing.assert_allclose(solver.ice(after)[0, wet], 0.4, atol=1e-9)
    np.testing.assert_allclose(solver.field(after)[0, wet], POINT, atol=1e-9)
    np.testing.assert_allclose(solver.field(after)[0, ~wet], POINT - 1.0, atol=1e-12)


def test_a_step_conducts_as_if_nothing_froze_and_keeps_the_heat(operators, solver) -> None:
    state = solver.project(np.full((2, operators.cells), POINT + 0.2))
    loads = np.zeros((2, operators.injection.shape[1]))
    loads[:, operators.port("floor")] = -25.0, -40.0
    loads[1, 0] = 30.0
    stage = solver.stage(7200.0)
    known = solver.respond(stage, state) + loads @ stage.influence.T
    after = solver.advance(stage, state, loads)
    np.testing.assert_allclose(known, solver.read(after), atol=1e-9)
    taken = loads @ operators.injection.sum(axis=0) - solver.read(after)[:, operators.lanes :].sum(axis=1)
    np.testing.assert_allclose(solver.stored(after) - solver.stored(state), 7200.0 * taken, rtol=1e-9)
    settled = solver.settle(after)
    np.testing.assert_allclose(solver.stored(settled), solver.stored(after), rtol=1e-12)
    assert solver.field(settled)[0].min() >= solver.field(after)[0].min()
    assert 0.0 < solver.ice(settled).max() <= 1.0
    np.testing.assert_array_equal(solver.floor(settled), solver.field(settled)[:, operators.floor_cells])


def test_heat_under_the_floor_counts_its_own_water(operators, solver) -> None:
    state = solver.project(np.full((1, operators.cells), POINT + 2.0))
    inside = np.abs(operators.cell_across) < 0.5
    assert 0 < inside.sum() < operators.cells
    by_hand = (operators.capacity * (POINT + 2.0) + heat_of_freezing(operators))[inside].sum()
    assert solver.stored_under_floor(state)[0] == pytest.approx(by_hand, rel=1e-12)
