"""Draught of a stack against hand-worked chimneys, fluids, and the limits of cold and standing gas."""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from simulator.physics import draught, draught_kernels
from simulator.physics.combustion import AIR_SHARES, Fuel, burn
from simulator.physics.draught import Stack
from simulator.physics.flue_gas import mixture

GAS = burn(Fuel(), 0.15, 2.0).gas
AIR = mixture(AIR_SHARES)
INSULATED = Stack(height=5.0, diameter=0.15, heat_loss=0.0)


def test_textbook_draught() -> None:
    # 0.0342 p H (1/T_outside - 1/T_gas), the common draught formula for gas as heavy as air (handbook value,
    # from memory): 5 m, 0 degC outside, 200 degC inside give 26.8 Pa.
    by_hand = 0.0342 * 101325.0 * 5.0 * (1.0 / 273.15 - 1.0 / 473.15)
    assert by_hand == pytest.approx(26.8, abs=0.1)
    state = draught.stack_state(Stack(height=5.0, diameter=0.15, heat_loss=0.0), AIR, 0.01, 473.15, 273.15)
    assert state.pull == pytest.approx(by_hand, rel=2e-3)


@pytest.mark.parametrize("mass_flow", [0.002, 0.015, 0.03])
def test_resistance_is_that_of_fluids(mass_flow) -> None:
    found = draught.run_resistance(GAS, mass_flow, 450.0, 6.0, 0.15, 0.001, 1.5)
    density = float(GAS.density(450.0))
    velocity = mass_flow / (density * math.pi / 4.0 * 0.15**2)
    reynolds = fluids.core.Reynolds(V=velocity, D=0.15, rho=density, mu=float(GAS.viscosity(450.0)))
    if reynolds > 4000.0:
        factor = fluids.friction.friction_factor(reynolds, 0.001 / 0.15, Method="Colebrook")
    else:
        assert reynolds < 2300.0, "the flows of this test lie outside the transition"
        factor = 64.0 / reynolds
    k = fluids.core.K_from_f(fd=factor, L=6.0, D=0.15) + 1.5
    assert found == pytest.approx(fluids.core.dP_from_K(k, rho=density, V=velocity), rel=1e-6)


def test_no_flow_costs_nothing_and_flow_back_costs_backwards() -> None:
    assert draught.run_resistance(GAS, 0.0, 450.0, 6.0, 0.15) == 0.0
    there = draught.run_resistance(GAS, 0.01, 450.0, 6.0, 0.15)
    assert draught.run_resistance(GAS, -0.01, 450.0, 6.0, 0.15) == pytest.approx(-there)


def test_cooling_along_the_stack_by_integration() -> None:
    # dT/dx = -U pi D (T - T_outside) / (m c) integrated by scipy, with the properties of the mean gas.
    stack = Stack(height=6.0, diameter=0.15, heat_loss=1.5)
    state = draught.stack_state(stack, GAS, 0.008, 450.0, 268.15)
    film = draught_kernels.gas_film(
        0.008, state.mean_temperature, 0.15, 0.0, 6.0, GAS.low, GAS.high, GAS.viscosity_fit,
        GAS.conductivity_fit,
    )  # fmt: skip
    u = 1.5
    assert film > u
    rate = u * math.pi * 0.15 / (0.008 * float(GAS.heat_capacity(state.mean_temperature)))
    course = solve_ivp(
        lambda _, t: -rate * (t - 268.15), (0.0, 6.0), [450.0], rtol=1e-9, t_eval=np.linspace(0.0, 6.0, 601)
    )
    assert state.top_temperature == pytest.approx(float(course.y[0, -1]), abs=0.01)
    assert state.mean_temperature == pytest.approx(float(np.trapezoid(course.y[0], course.t) / 6.0), abs=0.01)
    # Films and resistance in series: the wall between gas and outside.
    wall = state.top_temperature - u / film * (state.top_temperature - 268.15)
    assert state.top_wall_temperature == pytest.approx(wall, abs=0.02)


def test_insulated_stack_keeps_its_gas() -> None:
    state = draught.stack_state(INSULATED, GAS, 0.01, 450.0, 270.0)
    assert state.top_temperature == pytest.approx(450.0, abs=1e-4)
    assert state.mean_temperature == pytest.approx(450.0, abs=1e-4)


def test_standing_gas_is_cold_and_a_little_heavy() -> None:
    # At outside temperature only the molar mass is left: wood gas weighs a per cent more than air.
    state = draught.stack_state(INSULATED, GAS, 0.0, 450.0, 273.15)
    heavy = 9.80665 * 5.0 * float(AIR.density(273.15)) * (1.0 - GAS.molar_mass / AIR.molar_mass)
    assert state.pull == pytest.approx(heavy, abs=2e-3)
    assert state.pull < 0.0
    assert state.resistance == 0.0


@given(
    mass_flow=st.floats(0.0, 0.1),
    entry=st.floats(250.0, 1200.0),
    outside=st.floats(230.0, 320.0),
    height=st.floats(0.5, 20.0),
    diameter=st.floats(0.06, 0.4),
)
def test_states_are_finite_and_lie_between(mass_flow, entry, outside, height, diameter) -> None:
    state = draught.stack_state(Stack(height=height, diameter=diameter), GAS, mass_flow, entry, outside)
    assert all(math.isfinite(value) for value in vars(state).values())
    low, high = min(entry, outside) - 1e-6, max(entry, outside) + 1e-6
    assert low <= state.top_temperature <= high
    assert low <= state.mean_temperature <= high
    assert low <= state.top_wall_temperature <= high


@given(step=st.floats(1e-9, 1e-6), mass_flow=st.floats(1e-4, 0.05))
def test_resistance_has_no_jump(step, mass_flow) -> None:
    here = draught.run_resistance(GAS, mass_flow, 400.0, 8.0, 0.15, 0.001, 2.0)
    there = draught.run_resistance(GAS, mass_flow * (1.0 + step), 400.0, 8.0, 0.15, 0.001, 2.0)
    assert there == pytest.approx(here, rel=10.0 * step + 1e-9)


def test_margin_by_hand() -> None:
    # 20 Pa of pull, 3 Pa of resistance with the factor 1.5, 12 Pa for the stove: 3.5 Pa left.
    assert draught.draught_margin(20.0, 3.0, 12.0) == pytest.approx(3.5)


@pytest.mark.parametrize("keys", [{"height": 0.0}, {"diameter": 0.0}, {"length": 4.0}, {"loss": -1.0}])
def test_impossible_stacks_are_refused(keys) -> None:
    with pytest.raises(ValueError, match="stack"):
        Stack(**({"height": 5.0, "diameter": 0.15} | keys))
