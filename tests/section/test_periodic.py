"""The settled year: against marching the same years, and against the exact wave in a half space."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simulator.errors import SolverError
from simulator.run.coupling import GAMMA
from simulator.run.ground_start import start_temperatures
from simulator.run.plan import plan
from simulator.section.direct import DirectSection
from simulator.section.layout import Face, Lane, Region, SectionLayout, Solid, Surface
from simulator.section.operators import build_operators
from simulator.section.periodic import YEAR, periodic_state
from tests.run.rigs import small_case


def _building(bottom: str = "temperature", film: float = 8.0):
    layout = SectionLayout(
        y_min=0.0,
        y_max=6.0,
        depth=6.0,
        solids=(Solid("earth", 1.4, 2.2e6), Solid("slab", 1.7, 2.2e6)),
        regions=(Region(-6.0, 6.0, 0.0, 6.0, 0), Region(-2.0, 2.0, 0.0, 0.1, 1)),
        surfaces=(Surface("floor", -2.0, 2.0, film), Surface("outside", 2.2, 6.0, 25.0 if film else 0.0)),
        lanes=(Lane(0.8, 0.4, 0.05, 0.05),),
        bottom=Face(bottom),
        mirrored=True,
        building_half_width=2.0,
        cell_scale=2.0,
    )
    return build_operators(layout)


def test_the_direct_answer_is_that_of_fifteen_marched_years():
    operators = _building()
    floor, outside, bottom = (operators.port(name) for name in ("floor", "outside", "bottom"))
    mean = np.zeros(operators.injection.shape[1])
    mean[[0, floor, outside, bottom]] = 5.0, 0.0, -6.0, -2.0
    swing = np.zeros(mean.size, dtype=complex)
    swing[[0, floor, outside]] = 5.0, -2.0 * np.exp(0.3j), -11.0
    # Marched from rest for fifteen years, in steps of a day, with the same two-stage scheme as a run.
    solver = DirectSection(operators)
    step = 86400.0
    stage = solver.stage(GAMMA * step)

    def loads(time: float) -> np.ndarray:
        return (mean + (swing * np.exp(2j * math.pi * time / YEAR)).real)[None, :]

    state = np.zeros((1, operators.cells))
    for number in range(15 * 365):
        time = number * step
        first = solver.advance(stage, state, loads(time + GAMMA * step))
        middle = state + (1.0 - GAMMA) / GAMMA * (first - state)
        state = solver.advance(stage, middle, loads(time + step))
    direct = periodic_state(operators, mean, swing, 15.0 * YEAR)
    worst = float(np.abs(state[0] - direct).max())
    assert worst < 0.02
    # A wrong phase of one week must show.
    assert float(np.abs(state[0] - periodic_state(operators, mean, swing, 7 * step)).max()) > 0.1


def test_the_wave_in_a_half_space_is_the_exact_one():
    """Fixed surface swing: amplitude e^(-z/d), lag z/d (Carslaw & Jaeger 2.6; formula from memory)."""
    conductivity, capacity = 1.5, 2.0e6
    layout = SectionLayout(
        y_min=0.0,
        y_max=1.0,
        depth=25.0,
        solids=(Solid("earth", conductivity, capacity),),
        regions=(Region(-1.0, 1.0, 0.0, 25.0, 0),),
        surfaces=(Surface("floor", -1.0, 1.0, 1e9),),
        lanes=(),
        building_half_width=1.0,
        cell_scale=0.5,
    )
    operators = build_operators(layout)
    swing = np.zeros(operators.injection.shape[1], dtype=complex)
    swing[operators.port("floor")] = -10.0
    damping = math.sqrt(conductivity / capacity * YEAR / math.pi)
    for share in (0.0, 0.3):
        found = periodic_state(operators, np.zeros(swing.size), swing, share * YEAR)
        scaled = operators.cell_depth / damping
        exact = -10.0 * np.exp(-scaled) * np.cos(2.0 * math.pi * share - scaled)
        assert np.abs(found - exact).max() < 0.02


def test_nothing_to_settle_at_is_refused():
    operators = _building(bottom="adiabatic", film=0.0)
    with pytest.raises(SolverError, match="no mean temperature to settle at"):
        periodic_state(operators, np.zeros(5), np.zeros(5, dtype=complex), 0.0)


def test_a_settled_case_starts_warm_under_the_room_and_cold_outside():
    start = {
        "kind": "settled",
        "outside_mean": "8 degC",
        "outside_amplitude": "11 K",
        "room_mean": "16 degC",
        "duct_heat": "4 W/m",
        "duct_heat_amplitude": "4 W/m",
    }
    prepared = plan(small_case({"ground": {"start": start, "outside_width": "3 m", "depth": "4 m"}}))
    operators = prepared.operators
    found = start_temperatures(prepared.case, operators) - 273.15
    near_surface = operators.cell_depth < 0.3
    under = near_surface & (np.abs(operators.cell_across) < 0.4)
    beside = near_surface & (np.abs(operators.cell_across) > 2.5)
    # Outside falls to 8 - 11 degC five days later; the room is kept at 16 degC.
    assert found[under].min() > 12.0
    assert found[beside].max() < 4.0
    # Everything lies between its causes; the ducts may lift the ground near them.
    assert found.min() > 8.0 - 11.0
