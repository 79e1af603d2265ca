"""The way out where Newton's method does not settle, taken on purpose: the same answers, by bisection.

Kernels run as plain Python here, so that the limit of Newton's rounds can be set to none.
"""

from __future__ import annotations

import math

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from simulator.air import network_kernels as kernels
from simulator.physics import air_kernels
from simulator.physics.fan_curve import FanCurve, curve_from_pair, curve_through_points

DIAMETER, RHO, MU = 0.1, 1.19, 18.2e-6
AREA = math.pi / 4.0 * DIAMETER**2
LENGTH, LOSS, DUCTS = np.array([8.0, 20.0, 35.0]), np.array([2.0, 1.0, 6.0]), np.array([1.0, 2.0, 1.0])
AIR = (np.full(3, RHO), np.full(3, MU))


def plain(kernel):
    return getattr(kernel, "py_func", kernel)


@pytest.fixture(params=["newton", "bisection"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    for name in ("loss_and_slope", "flow_at_pressure", "flows_at_pressure", "split"):
        monkeypatch.setattr(kernels, name, plain(getattr(kernels, name)))
    if request.param == "bisection":
        monkeypatch.setattr(kernels, "MOST_NEWTON", 0)
    return str(request.param)


def library_loss(flow: float, length: float, loss: float, roughness: float = 0.01) -> float:
    """Of one duct, by fluids: 64/Re or Colebrook."""
    velocity = flow / (RHO * AREA)
    reynolds = fluids.core.Reynolds(V=velocity, D=DIAMETER, rho=RHO, mu=MU)
    friction = 64.0 / reynolds if reynolds < 2300.0 else fluids.friction.Colebrook(reynolds, roughness)
    return float(
        fluids.core.dP_from_K(fluids.core.K_from_f(friction, length, DIAMETER) + loss, RHO, velocity)
    )


@pytest.mark.parametrize("pressure", [20.0, 300.0])
def test_split_is_that_of_the_library(way: str, pressure: float) -> None:
    expected = [
        brentq(lambda flow, a=a, k=k: library_loss(flow, a, k) - pressure, 1e-3, 2.0, xtol=1e-14)
        for a, k in zip(LENGTH, LOSS, strict=True)
    ]
    flow = np.zeros(3)
    total = float(DUCTS @ expected)
    found = plain(kernels.split)(total, DIAMETER, LENGTH, 0.01, LOSS, DUCTS, *AIR, flow)
    assert found == pytest.approx(pressure, rel=1e-6)
    np.testing.assert_allclose(flow, expected, rtol=1e-6)


def test_slow_split_is_that_of_hagen_and_poiseuille(way: str) -> None:
    # Far below Re 2300, without fittings: flow goes as 1 / length, 128 mu L q / (pi D^4) each.
    total, flow = 1e-4, np.full(3, 7.0)
    found = plain(kernels.split)(total, DIAMETER, LENGTH, 0.0, 0.0 * LOSS, DUCTS, *AIR, flow)
    expected = total / LENGTH / float((DUCTS / LENGTH).sum())
    np.testing.assert_allclose(flow, expected, rtol=1e-9)
    assert found == pytest.approx(128.0 * MU * 8.0 * (expected[0] / RHO) / (math.pi * DIAMETER**4), rel=1e-9)


def test_nothing_to_share(way: str) -> None:
    flow = np.full(3, 0.5)
    assert plain(kernels.split)(0.0, DIAMETER, LENGTH, 0.0, LOSS, DUCTS, *AIR, flow) == 0.0
    np.testing.assert_array_equal(flow, 0.0)


@pytest.mark.parametrize("roughness", [0.0, 0.0342])
@pytest.mark.parametrize("reynolds", [1.0, 2200.0, 2301.0, 3200.0, 3999.0, 4001.0, 1e5])
def test_flow_at_a_pressure_undoes_the_loss(way: str, reynolds: float, roughness: float) -> None:
    flow = reynolds * math.pi * DIAMETER * MU / 4.0
    pipe = (DIAMETER, 12.0, roughness, 3.0, RHO, MU)
    lost, _ = kernels.loss_and_slope(flow, *pipe)
    assert kernels.flow_at_pressure(lost, *pipe) == pytest.approx(flow, rel=1e-10)


def test_no_pressure_moves_nothing(way: str) -> None:
    pipe = (DIAMETER, 12.0, 0.0, 3.0, RHO, MU)
    assert kernels.flow_at_pressure(0.0, *pipe) == kernels.flow_at_pressure(-5.0, *pipe) == 0.0
    assert kernels.flow_at_pressure(0.5, *pipe) > 0.0


def meet(curve: FanCurve, loss: float, speed: float = 1.0, density: float = RHO, common: float = 0.0):
    flow = np.zeros(1)
    total, pressure = plain(kernels.meet)(
        speed, density, common, curve.breaks, curve.coefficients, curve.end_slope, curve.density,
        curve.free_delivery, bool(curve.rising_stretches), DIAMETER, np.array([1e-9]), 0.0, np.array([loss]),
        np.ones(1), np.full(1, density), np.full(1, MU), flow,
    )  # fmt: skip
    return total / density, pressure, flow[0] / density


@pytest.mark.parametrize(("speed", "density", "common"), [(1.0, RHO, 0.0), (0.6, 1.0, 3e4), (1.3, 1.4, 1e5)])
def test_parabola_meets_square_law_by_hand(way: str, speed: float, density: float, common: float) -> None:
    # Fan laws (ISO 5801): p = (rho/rho_0)(n^2 p0 - p0 (q/q0)^2); losses (K / (2 A^2) + S) rho q^2.
    square = density * (10.0 / (2.0 * AREA**2) + common)
    ratio = density / RHO
    expected = math.sqrt(ratio * 200.0 * speed**2 / (square + ratio * 200.0 / 0.1**2))
    volume, pressure, branch = meet(curve_from_pair(0.1, 200.0, density=RHO), 10.0, speed, density, common)
    assert volume == pytest.approx(expected, rel=1e-7)
    assert branch == pytest.approx(expected, rel=1e-7)
    assert pressure == pytest.approx(density * 10.0 / (2.0 * AREA**2) * expected**2, rel=1e-7)


def test_a_known_flow_is_a_good_guess_only() -> None:
    # Started from any flow that moves, Newton ends at the same one.
    curve = curve_from_pair(0.1, 200.0, density=RHO)
    ends = []
    for guess in (np.zeros(3), np.full(3, 0.3), np.array([0.02, 1e-4, 0.1])):
        total, pressure = kernels.meet(
            1.0, RHO, 1e3, curve.breaks, curve.coefficients, curve.end_slope, curve.density,
            curve.free_delivery, False, DIAMETER, LENGTH, 0.01, LOSS, DUCTS, *AIR, guess,
        )  # fmt: skip
        assert float(DUCTS @ guess) == pytest.approx(total, rel=1e-6)
        ends.append((total, pressure))
    np.testing.assert_allclose(ends, [ends[0]] * 3, rtol=1e-6)


def test_hump_far_from_free_delivery_takes_the_largest_flow(way: str) -> None:
    # Rising from 0.02 to 0.05, the fan meets R q^2 once at small flow, and twice round the hump.
    curve = curve_through_points(
        [0.0, 0.01, 0.02, 0.05, 0.08, 0.12], [100.0, 40.0, 12.0, 160.0, 120.0, 0.0], density=RHO
    )
    resistance = 6.0 * RHO / (2.0 * AREA**2)

    def surplus(volume: float) -> float:
        return float(curve.pressure(volume)) - resistance * volume**2

    flows = np.linspace(0.001, 0.12, 3001)
    turns = np.flatnonzero(np.diff(np.sign([surplus(float(each)) for each in flows])) != 0.0)
    assert turns.size == 3
    expected = brentq(surplus, flows[turns[-1]], flows[turns[-1] + 1])
    volume, pressure, _ = meet(curve, 6.0)
    assert volume == pytest.approx(expected, rel=1e-9)
    assert pressure == pytest.approx(resistance * expected**2, rel=1e-6)


def test_air_of_a_branch_is_taken_at_its_mean() -> None:
    # Two branches of two and one segments; mean by hand, dry air at 90 kPa as p / (R T).
    air = np.array([[280.0, 500.0], [300.0, 310.0]])
    begin, lane, station = np.array([0, 2, 3]), np.array([0, 0, 1]), np.array([0, 1, 1])
    rho, mu = np.zeros(2), np.zeros(2)
    kernels.air_of_branches(air, 90e3, math.nan, begin, lane, station, rho, mu)
    np.testing.assert_allclose(rho, [90e3 / (287.055 * 290.0), 90e3 / (287.055 * 310.0)], rtol=1e-6)
    np.testing.assert_allclose(mu, [air_kernels.viscosity(290.0), air_kernels.viscosity(310.0)])
    kernels.air_of_branches(air, 90e3, 1.25, begin, lane, station, rho, mu)
    np.testing.assert_array_equal(rho, 1.25)


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> dict[str, int]:
    """How often the kernels call one another, in plain Python."""
    counted = {"loss_and_slope": 0, "flow_at_pressure": 0, "flows_at_pressure": 0, "split": 0}
    for name in counted:
        kernel = plain(getattr(kernels, name))

        def count(*arguments, name=name, kernel=kernel):
            counted[name] += 1
            return kernel(*arguments)

        monkeypatch.setattr(kernels, name, count)
    return counted


@pytest.mark.parametrize(("total", "wide"), [(1e-5, 1), (0.004, 1), (0.2, 1), (0.2, 10)])
def test_usual_splits_need_no_bisection(calls: dict[str, int], total: float, wide: int) -> None:
    # Newton's method doubles the digits with each round: a dozen rounds from anywhere, two at the goal.
    flow = np.zeros(3)
    pressure = kernels.split(total, wide * DIAMETER, LENGTH, 0.01, LOSS, DUCTS, *AIR, flow)
    assert calls["flows_at_pressure"] == 0
    assert calls["loss_and_slope"] <= 3 * 12
    calls["loss_and_slope"] = 0
    again = kernels.split(total, wide * DIAMETER, LENGTH, 0.01, LOSS, DUCTS, *AIR, flow)
    assert again == pytest.approx(pressure, rel=1e-9)
    assert calls["loss_and_slope"] <= 3 * 2
    # Scaled to another total the shares are a guess as good.
    calls["loss_and_slope"] = 0
    kernels.split(1.01 * total, wide * DIAMETER, LENGTH, 0.01, LOSS, DUCTS, *AIR, flow)
    assert calls["loss_and_slope"] <= 3 * 4


def test_usual_fans_need_no_bisection(calls: dict[str, int]) -> None:
    curve = curve_from_pair(0.1, 200.0, density=RHO)
    fan = (
        curve.breaks, curve.coefficients, curve.end_slope, curve.density, curve.free_delivery, False,
        DIAMETER, LENGTH, 0.01, LOSS, DUCTS, *AIR,
    )  # fmt: skip
    flow = np.zeros(3)
    total, pressure = plain(kernels.meet)(1.0, RHO, 1e3, *fan, flow)
    assert calls["flows_at_pressure"] == 0
    assert calls["split"] == 1  # the first guess
    calls.update(loss_and_slope=0, split=0)
    again = plain(kernels.meet)(1.0, RHO, 1e3, *fan, flow)
    assert again == pytest.approx((total, pressure), rel=1e-9)
    assert calls["split"] == 0
    assert calls["loss_and_slope"] <= 3 * 2
    calls["loss_and_slope"] = 0
    plain(kernels.meet)(0.97, RHO, 1e3, *fan, flow)
    assert calls["split"] == 0
    assert calls["loss_and_slope"] <= 3 * 5


@pytest.mark.parametrize("reynolds", [50.0, 2250.0, 5e3, 1e5, 1e6])
def test_flow_at_a_pressure_takes_few_rounds(calls: dict[str, int], reynolds: float) -> None:
    # Halving a bracket to the last digit takes some fifty rounds, Newton's method half of that at most, last
    # digits included. Before them come the doublings that find the bracket's end.
    flow = reynolds * math.pi * DIAMETER * MU / 4.0
    pipe = (DIAMETER, 12.0, 0.01, 3.0, RHO, MU)
    lost, _ = kernels.loss_and_slope(flow, *pipe)
    calls["loss_and_slope"] = 0
    assert kernels.flow_at_pressure(lost, *pipe) == pytest.approx(flow, rel=1e-12)
    doublings = max(math.ceil(math.log2(reynolds / 2300.0)), 0)
    assert calls["loss_and_slope"] <= doublings + 30
