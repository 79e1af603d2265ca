"""Flow split and operating point against `fluids` on random networks, exact laws and hand-worked fans."""

from __future__ import annotations

import itertools
import math

import fluids
import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from simulator.air import network_kernels as kernels
from simulator.physics import air_kernels
from simulator.physics.fan_curve import FanCurve, curve_from_pair, curve_through_points
from tests.examples import examples

DIAMETER = 0.1
RHO, MU = 1.19, 18.2e-6
TURBULENT = 4000.0


def library_loss(
    flow: float, length: float, roughness: float, loss: float, rho: float = RHO, mu: float = MU
) -> float:
    """Pressure loss of one duct by fluids: Colebrook by the Lambert function, or 64/Re."""
    if flow <= 0.0:
        return 0.0
    velocity = flow / (rho * math.pi / 4.0 * DIAMETER**2)
    reynolds = fluids.core.Reynolds(V=velocity, D=DIAMETER, rho=rho, mu=mu)
    laminar = reynolds <= 2300.0
    factor = 64.0 / reynolds if laminar else fluids.friction.Colebrook(reynolds, roughness)
    k = fluids.core.K_from_f(fd=factor, L=length, D=DIAMETER) + loss
    return float(fluids.core.dP_from_K(k, rho=rho, V=velocity))


def library_flow(pressure: float, *pipe: float) -> float:
    return float(
        brentq(lambda flow: library_loss(flow, *pipe) - pressure, 1e-9, 50.0, xtol=1e-14, rtol=1e-12)
    )


@st.composite
def networks(draw):
    count = draw(st.integers(1, 6))
    each = {"min_size": count, "max_size": count}
    return (
        np.array(draw(st.lists(st.floats(2.0, 60.0), **each))),
        np.array(draw(st.lists(st.floats(0.0, 15.0), **each))),
        np.array(draw(st.lists(st.sampled_from([1.0, 2.0]), **each))),
        draw(st.sampled_from([0.0, 0.001, 0.0342, 0.0745])),
    )


def split(total: float, length, loss, ducts, roughness) -> tuple[float, np.ndarray]:
    flow = np.zeros(length.size)
    air = (np.full(length.size, RHO), np.full(length.size, MU))
    pressure = kernels.split(total, DIAMETER, length, roughness, loss, ducts, *air, flow)
    return pressure, flow


@settings(max_examples=examples(60))
@given(network=networks(), pressure=st.floats(5.0, 2000.0))
def test_random_split_is_that_of_the_library(network, pressure) -> None:
    length, loss, ducts, roughness = network
    expected = np.array([library_flow(pressure, a, roughness, k) for a, k in zip(length, loss, strict=True)])
    reynolds = 4.0 * expected / (math.pi * DIAMETER * MU)
    # Between laminar and turbulent flow each author has his own line.
    assume(np.all(reynolds > TURBULENT))
    found, flow = split(float(ducts @ expected), length, loss, ducts, roughness)
    np.testing.assert_allclose(flow, expected, rtol=1e-6)
    assert found == pytest.approx(pressure, rel=1e-6)


def test_a_planted_error_moves_the_split() -> None:
    # Three per cent of length are 1 % of flow or so: the comparison above would tell.
    loss, ducts = np.array([2.0, 2.0]), np.ones(2)
    _, right = split(0.06, np.array([20.0, 30.0]), loss, ducts, 0.0)
    _, wrong = split(0.06, np.array([20.6, 30.0]), loss, ducts, 0.0)
    assert abs(wrong[0] / right[0] - 1.0) > 1e-3


@settings(deadline=None)
@given(network=networks(), total=st.floats(1e-9, 1e-4))
def test_laminar_split_goes_by_resistance(network, total) -> None:
    length, loss, ducts, _ = network
    # Without fittings laminar flow is Hagen-Poiseuille: flow goes as 1 / length, exactly.
    _, flow = split(total, length, 0.0 * loss, ducts, 0.0)
    expected = total / length / float((ducts / length).sum())
    assume(np.all(4.0 * expected / (math.pi * DIAMETER * MU) < 2300.0))
    np.testing.assert_allclose(flow, expected, rtol=1e-9)


@settings(max_examples=examples(200))
@given(network=networks(), total=st.floats(1e-6, 5.0))
def test_split_keeps_mass_and_equal_pressure_at_any_flow(network, total) -> None:
    length, loss, ducts, roughness = network
    pressure, flow = split(total, length, loss, ducts, roughness)
    assert float(ducts @ flow) == pytest.approx(total, rel=1e-9)
    for number in range(length.size):
        lost, slope = kernels.loss_and_slope(
            flow[number], DIAMETER, length[number], roughness, loss[number], RHO, MU
        )
        assert lost == pytest.approx(pressure, rel=1e-7)
        assert slope > 0.0


@settings(deadline=None)
@given(flow=st.floats(1e-6, 2.0), roughness=st.sampled_from([0.0, 0.01, 0.0745]), loss=st.floats(0.0, 10.0))
def test_slope_of_the_loss_by_differences(flow, roughness, loss) -> None:
    reynolds = 4.0 * flow / (math.pi * DIAMETER * MU)
    assume(all(abs(reynolds / kink - 1.0) > 1e-3 for kink in (2300.0, 4000.0)))
    step = 1e-5 * flow
    ends = [
        kernels.loss_and_slope(flow + sign * step, DIAMETER, 20.0, roughness, loss, RHO, MU)[0]
        for sign in (-1.0, 1.0)
    ]
    slope = kernels.loss_and_slope(flow, DIAMETER, 20.0, roughness, loss, RHO, MU)[1]
    assert slope == pytest.approx((ends[1] - ends[0]) / (2.0 * step), rel=2e-4)


def meet(curve: FanCurve, network, common: float = 0.0, speed: float = 1.0, density: float = RHO):
    length, loss, ducts, roughness = network
    flow = np.zeros(length.size)
    air = (np.full(length.size, RHO), np.full(length.size, MU))
    hump = bool(curve.rising_stretches)
    total, pressure = kernels.meet(
        speed, density, common, curve.breaks, curve.coefficients, curve.end_slope, curve.density,
        curve.free_delivery, hump, DIAMETER, length, roughness, loss, ducts, *air, flow,
    )  # fmt: skip
    return total, pressure, flow


@settings(max_examples=examples(40))
@given(
    network=networks(),
    free=st.floats(0.05, 0.6),
    shut_off=st.floats(30.0, 1500.0),
    common=st.floats(0.0, 2e4),
)
def test_random_operating_point_is_that_of_the_library(network, free, shut_off, common) -> None:
    length, loss, ducts, roughness = network
    curve = curve_from_pair(free, shut_off, density=RHO)

    def surplus(volume: float) -> float:
        pressure = shut_off * (1.0 - (volume / free) ** 2) - common * RHO * volume**2
        if pressure <= 0.0:
            return -volume
        flows = [library_flow(pressure, a, roughness, k) for a, k in zip(length, loss, strict=True)]
        return float(ducts @ flows) / RHO - volume

    expected = float(brentq(surplus, 1e-6, free, rtol=1e-12))
    total, pressure, flow = meet(curve, network, common)
    assume(float(np.min(flow)) * 4.0 / (math.pi * DIAMETER * MU) > TURBULENT)
    assert total / RHO == pytest.approx(expected, rel=1e-5)
    given_pressure = shut_off * (1.0 - (expected / free) ** 2) - common * RHO * expected**2
    assert pressure == pytest.approx(given_pressure, rel=1e-4)


def test_parabola_meets_square_law_by_hand() -> None:
    # Fittings alone cost R q^2 = K rho q^2 / (2 A^2), so p0 (1 - (q/q0)^2) = R q^2 gives
    # q = sqrt(p0 / (R + p0 / q0^2)).
    area = math.pi / 4.0 * DIAMETER**2
    loss = 10.0
    resistance = loss * RHO / (2.0 * area**2)
    expected = math.sqrt(200.0 / (resistance + 200.0 / 0.1**2))
    network = (np.array([1e-9]), np.array([loss]), np.array([1.0]), 0.0)
    total, pressure, _ = meet(curve_from_pair(0.1, 200.0, density=RHO), network)
    assert total / RHO == pytest.approx(expected, rel=1e-7)
    assert pressure == pytest.approx(resistance * expected**2, rel=1e-7)


def test_fan_laws_move_a_square_law_point_along_with_speed() -> None:
    # Against a square law flow goes as speed and pressure as its square (fan laws, ISO 5801).
    network = (np.array([1e-9]), np.array([10.0]), np.array([1.0]), 0.0)
    curve = curve_from_pair(0.1, 200.0, density=RHO)
    full, full_pressure, _ = meet(curve, network)
    half, half_pressure, _ = meet(curve, network, speed=0.5)
    assert half == pytest.approx(0.5 * full, rel=1e-6)
    assert half_pressure == pytest.approx(0.25 * full_pressure, rel=1e-6)


def test_of_several_meeting_points_the_largest_flow_is_taken() -> None:
    # The fan dips under the ducts' resistance near 0.02 m3/s and comes up again: three meeting points.
    curve = curve_through_points(
        [0.0, 0.01, 0.02, 0.05, 0.08, 0.12], [100.0, 40.0, 12.0, 160.0, 120.0, 0.0], density=RHO
    )
    assert curve.rising_stretches
    network = (np.array([5.0]), np.array([4.0]), np.array([1.0]), 0.0)

    def surplus(volume: float) -> float:
        return float(curve.pressure(volume)) - library_loss(volume * RHO, 5.0, 0.0, 4.0)

    samples = np.linspace(0.001, 0.12, 4001)
    turns = np.flatnonzero(np.diff(np.sign([surplus(float(volume)) for volume in samples])) != 0.0)
    assert turns.size == 3
    expected = float(brentq(surplus, samples[turns[-1]], samples[turns[-1] + 1]))
    total, _, _ = meet(curve, network)
    assert total / RHO == pytest.approx(expected, rel=1e-4)


def test_longer_duct_moves_along_the_fan_curve() -> None:
    curve = curve_from_pair(0.1, 150.0, density=RHO)
    flows = [
        meet(curve, (np.array([length]), np.array([2.0]), np.array([1.0]), 0.0342))[0]
        for length in (5.0, 10.0, 20.0, 40.0, 80.0)
    ]
    assert all(later < earlier for earlier, later in itertools.pairwise(flows))


@settings(max_examples=examples(100))
@given(network=networks(), speed=st.floats(0.01, 1.5), density=st.floats(0.5, 1.6))
def test_every_fan_meets_every_network(network, speed, density) -> None:
    curve = curve_through_points([0.0, 0.05, 0.1, 0.15, 0.2], [250.0, 260.0, 230.0, 150.0, 0.0])
    total, pressure, flow = meet(curve, network, 1e3, speed, density)
    assert 0.0 < total / density <= 0.2 * speed * (1.0 + 1e-9)
    assert math.isfinite(pressure)
    assert pressure > 0.0
    assert float(network[2] @ flow) == pytest.approx(total, rel=1e-6)
    volume = total / density
    left = float(curve.pressure(volume, speed, density)) - 1e3 * density * volume**2
    assert pressure == pytest.approx(left, rel=1e-5, abs=1e-6 * 260.0)


def test_branches_of_equal_make_share_evenly_and_a_warm_one_gets_less() -> None:
    two = np.ones(2)
    _, flow = split(0.05, 10.0 * two, 2.0 * two, two, 0.01)
    np.testing.assert_allclose(flow, 0.025, rtol=1e-12)
    rho = np.array([air_kernels.density(290.0, 101325.0), air_kernels.density(330.0, 101325.0)])
    mu = np.array([air_kernels.viscosity(290.0), air_kernels.viscosity(330.0)])
    kernels.split(0.05, DIAMETER, 10.0 * two, 0.01, 2.0 * two, two, rho, mu, flow)
    assert flow[1] < flow[0]
    # Mass flow goes by sqrt(density) where friction hardly depends on Re.
    assert flow[1] / flow[0] == pytest.approx(math.sqrt(rho[1] / rho[0]), rel=0.01)


def test_blocked_branch_passes_next_to_nothing() -> None:
    length, loss = np.array([10.0, 10.0]), np.array([2.0, 1e12])
    pressure, flow = split(0.03, length, loss, np.ones(2), 0.0)
    assert flow[1] < 1e-6
    assert float(flow.sum()) == pytest.approx(0.03)
    assert math.isfinite(pressure)
