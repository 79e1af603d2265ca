"""Gas pipe in its jacket against matrix exponentials, radiation by hand and limits of each stream."""

from __future__ import annotations

import math

import ht
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from simulator.air import flue_kernels as kernels
from simulator.physics.combustion import Fuel, burn
from simulator.physics.flue_film_kernels import radiated_film

GAS = burn(Fuel(), 0.15, 2.0).gas
ARRAYS = (GAS.low, GAS.high, GAS.viscosity_fit, GAS.conductivity_fit)
ways = st.floats(0.0, 20.0)


@settings(deadline=None)
@given(
    gas=st.floats(1.0, 100.0), air=st.floats(1.0, 100.0), length=st.floats(0.05, 5.0),
    to_pipe=ways, pipe_to_air=ways, pipe_to_wall=ways, air_to_wall=ways,
)  # fmt: skip
def test_two_streams_are_the_matrix_exponential(
    gas, air, length, to_pipe, pipe_to_air, pipe_to_wall, air_to_wall
) -> None:
    # Steady pipe between three temperatures; excess over the outer wall: C dx/ds = -K x, solved by scipy.
    at_pipe = to_pipe + pipe_to_air + pipe_to_wall
    if at_pipe < 1e-6:
        return
    matrix = np.array(
        [
            [to_pipe - to_pipe**2 / at_pipe, -to_pipe * pipe_to_air / at_pipe],
            [-to_pipe * pipe_to_air / at_pipe, pipe_to_air - pipe_to_air**2 / at_pipe + air_to_wall],
        ]
    )
    expected = expm(-matrix / np.array([[gas], [air]]) * length)
    found = kernels.two_streams(gas, air, to_pipe, pipe_to_air, pipe_to_wall, air_to_wall, length)
    np.testing.assert_allclose(np.reshape(found, (2, 2)), expected, atol=1e-9)


@pytest.mark.parametrize("faint", [1.0, 1e-3, 1e-6])
def test_two_streams_of_faint_exchange_are_the_matrix_exponential(faint: float) -> None:
    # Ways of milliwatts and less along many metres: the same equations, solved by scipy.
    to_pipe, pipe_to_air, pipe_to_wall, air_to_wall = (faint * way for way in (0.2, 0.3, 0.1, 0.05))
    at_pipe = to_pipe + pipe_to_air + pipe_to_wall
    across = to_pipe * pipe_to_air / at_pipe
    matrix = np.array(
        [
            [to_pipe * (pipe_to_air + pipe_to_wall) / at_pipe, -across],
            [-across, pipe_to_air * (to_pipe + pipe_to_wall) / at_pipe + air_to_wall],
        ]
    )
    length = 3.0 / faint
    found = kernels.two_streams(4.0, 2.0, to_pipe, pipe_to_air, pipe_to_wall, air_to_wall, length)
    expected = expm(-matrix / np.array([[4.0], [2.0]]) * length)
    np.testing.assert_allclose(np.reshape(found, (2, 2)), expected, rtol=1e-9)


def test_a_stream_that_stands_for_none_takes_no_heat_along() -> None:
    # Air that does not move hands on all it gets, so the gas cools as through ways in series and parallel:
    # gas to pipe, then beside each other radiation, and the gap's air with its two films.
    to_pipe, pipe_to_air, pipe_to_wall, air_to_wall = 3.0, 4.0, 1.5, 2.0
    beside = pipe_to_wall + 1.0 / (1.0 / pipe_to_air + 1.0 / air_to_wall)
    through = 1.0 / (1.0 / to_pipe + 1.0 / beside)
    gas, air, _, _ = kernels.two_streams(
        20.0, kernels.LEAST_FLOW, to_pipe, pipe_to_air, pipe_to_wall, air_to_wall, 0.5
    )
    assert gas == pytest.approx(math.exp(-through * 0.5 / 20.0), rel=1e-9)
    assert air == pytest.approx(0.0, abs=1e-9)


def test_streams_without_exchange_keep_their_temperatures() -> None:
    assert kernels.two_streams(10.0, 5.0, 0.0, 0.0, 0.0, 0.0, 2.0) == pytest.approx((1.0, 0.0, 0.0, 1.0))


def test_insulated_jacket_only_passes_heat_from_gas_to_air() -> None:
    # Nothing reaches the outer wall: what the gas loses the air gains.
    gg, ga, ag, aa = kernels.two_streams(10.0, 5.0, 3.0, 4.0, 0.0, 0.0, 2.0)
    for gas, air in ((100.0, 0.0), (20.0, 60.0)):
        gas_out, air_out = gg * gas + ga * air, ag * gas + aa * air
        assert 10.0 * (gas - gas_out) == pytest.approx(5.0 * (air_out - air), rel=1e-12)


def test_radiation_between_pipes_by_hand() -> None:
    # sigma (T1^4 - T2^4) / (1/0.8 + (d/D)(1/0.8 - 1)) over the difference: 500 K in 350 K, d/D 0.6.
    exact = 5.670374419e-8 * (500.0**4 - 350.0**4) / (1.0 / 0.8 + 0.6 * (1.0 / 0.8 - 1.0)) / 150.0
    assert kernels.radiation_film(500.0, 350.0, 0.15, 0.25) == pytest.approx(exact, rel=1e-12)


def bare(flow: float, gas: float, wall: float, begin: float, end: float) -> tuple[float, float]:
    return kernels.bare_conductance(flow, gas, wall, 0.15, begin, end, 0.02, 101325.0, GAS.made, *ARRAYS)


def test_bare_pipe_is_film_and_wall_in_series() -> None:
    through, film = bare(0.03, 500.0, 350.0, 2.0, 2.5)
    assert 1.0 / through == pytest.approx(1.0 / (math.pi * 0.15 * film) + 0.02)
    # ht: Gnielinski with Konakov's friction and the properties of the mixture, far from the entrance. Gas and
    # wall alike, so that nothing moves by itself; what the gas radiates is taken off.
    mu, k = float(GAS.viscosity(500.0)), float(GAS.conductivity(500.0))
    reynolds = 4.0 * 0.03 / (math.pi * 0.15 * mu)
    prandtl = mu * float(GAS.heat_capacity(500.0)) / k
    friction = 1.0 / (1.8 * math.log10(reynolds) - 1.5) ** 2
    nusselt = ht.turbulent_Gnielinski(Re=reynolds, Pr=prandtl, fd=friction)
    _, far = bare(0.03, 500.0, 500.0, 1e5, 2e5)
    radiated = radiated_film(500.0, 500.0, 0.15, 101325.0, GAS.made, 0.8)
    # A trace of the entrance is left even at 100 km.
    assert far - radiated == pytest.approx(nusselt * k / 0.15, rel=2e-3)


def test_slow_hot_gas_gives_its_heat_many_times_faster_than_laminar_flow_would() -> None:
    # Gas of 500 K, wall of 320 K, 2 g/s in 0.15 m: laminar Nu 3.66 by ht, free convection 0.549 Ra^(1/4) by
    # hand with air at 410 K (nu 2.65e-5 m2/s, k 0.0344 W/(m.K), Pr 0.69; handbook values from memory).
    rayleigh = 9.80665 * 180.0 / 410.0 * 0.15**3 / 2.65e-5**2 * 0.69
    by_hand = (3.66**4 + 0.549**4 * rayleigh) ** 0.25 * 0.0344 / 0.15
    _, film = bare(0.002, 500.0, 320.0, 1e5, 2e5)
    convection = film - radiated_film(500.0, 320.0, 0.15, 101325.0, GAS.made, 0.8)
    assert convection == pytest.approx(by_hand, rel=0.06)
    assert convection > 5.0 * ht.laminar_T_const() * 0.0344 / 0.15


def test_annulus_at_the_flow_of_a_jacket_by_ht() -> None:
    # Air of 300 K, 0.05 kg/s between 0.152 and 0.25 m: turbulent; Petukhov and Roizen's factors on the pipe.
    inside, outside = kernels.annulus_conductances(0.05, 300.0, 0.152, 0.25, 1e5, 2e5)
    ratio, hydraulic = 0.152 / 0.25, 0.25 - 0.152
    reynolds = 4.0 * 0.05 / (math.pi * 18.54e-6 * (0.152 + 0.25))
    nusselt = ht.turbulent_Gnielinski(
        Re=reynolds, Pr=0.7076, fd=1.0 / (1.8 * math.log10(reynolds) - 1.5) ** 2
    )
    film = nusselt * 0.02638 / hydraulic
    assert inside / (math.pi * 0.152) == pytest.approx(0.86 * ratio**-0.16 * film, rel=0.01)
    assert outside / (math.pi * 0.25) == pytest.approx((1.0 - 0.14 * ratio**0.6) * film, rel=0.01)


def test_standing_streams_pass_nothing() -> None:
    assert bare(0.0, 500.0, 300.0, 0.0, 0.5) == (0.0, 0.0)
    assert kernels.annulus_conductances(0.0, 300.0, 0.15, 0.25, 0.0, 0.5) == (0.0, 0.0)
