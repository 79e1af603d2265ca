"""Flow through parallel branches: equal pressure over all, and the point where the fan meets them.

Each branch loses (f L/D + K) m^2 / (2 rho A^2); its slope over the flow is known, so all branches and the fan
advance together by Newton's method. Where that does not settle (kinks of the friction in transition, a fan
curve with a hump) nested bisection does: a branch's loss rises with its flow, so both have one root in reach.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import density as dry_air_density
from simulator.physics.air_kernels import viscosity, within_fit
from simulator.physics.fan_kernels import fan_pressure, fan_slope
from simulator.physics.internal_flow_kernels import (
    LAMINAR_END,
    TURBULENT_START,
    rough_turbulent_friction,
)

MOST_NEWTON = 40
SAME = 1e-12
"""Relative change of pressure and flows at which they are settled."""
SCAN = 128
"""Flows at which a fan curve with a hump is tried, from free delivery down."""
SMALLEST = 1e-300
"""Keeps divisors above 0."""


@kernel
def loss_and_slope(
    flow: float, diameter: float, length: float, relative_roughness: float, loss: float, rho: float, mu: float
) -> tuple[float, float]:
    """Pressure loss [Pa] of one duct and its slope over the mass flow [Pa.s/kg].

    `flow` [kg/s] 0 or more, `diameter` and `length` [m], `loss` the sum of loss coefficients, density `rho`
    [kg/m3] and viscosity `mu` [Pa.s] of the air in it.
    """
    area = 0.25 * math.pi * diameter * diameter
    per_square = 1.0 / (2.0 * rho * area * area)
    stretch = length / diameter
    reynolds = 4.0 * flow / (math.pi * diameter * mu)
    if reynolds <= LAMINAR_END:
        # 64/Re times the square of the flow is proportional to the flow, also at none.
        straight = 64.0 * stretch * per_square * 0.25 * math.pi * diameter * mu
        return straight * flow + loss * per_square * flow * flow, straight + 2.0 * loss * per_square * flow
    friction = rough_turbulent_friction(max(reynolds, TURBULENT_START), relative_roughness)
    if reynolds < TURBULENT_START:
        laminar = 64.0 / LAMINAR_END
        rise = (friction - laminar) / (TURBULENT_START - LAMINAR_END)
        friction = laminar + rise * (reynolds - LAMINAR_END)
        bending = rise * reynolds / friction
    else:
        # Colebrook, differentiated: d ln f / d ln Re = -2 c / (1 + c).
        per_decade = 2.0 / math.log(10.0)
        slip = 2.51 / reynolds
        c = per_decade * slip / (relative_roughness / 3.7 + slip / math.sqrt(friction))
        bending = -2.0 * c / (1.0 + c)
    by_friction = friction * stretch * per_square * flow
    by_losses = loss * per_square * flow
    return (by_friction + by_losses) * flow, (2.0 + bending) * by_friction + 2.0 * by_losses


@kernel
def flow_at_pressure(
    pressure: float,
    diameter: float,
    length: float,
    relative_roughness: float,
    loss: float,
    rho: float,
    mu: float,
) -> float:
    """Mass flow [kg/s] of one duct that loses `pressure` [Pa]: Newton kept inside a bracket."""
    if pressure <= 0.0:
        return 0.0
    high = 0.25 * math.pi * diameter * mu * LAMINAR_END
    while loss_and_slope(high, diameter, length, relative_roughness, loss, rho, mu)[0] < pressure:
        high *= 2.0
    low = 0.0
    flow = high
    for _ in range(200):
        lost, slope = loss_and_slope(flow, diameter, length, relative_roughness, loss, rho, mu)
        if lost > pressure:
            high = flow
        else:
            low = flow
        step = (pressure - lost) / max(slope, SMALLEST)
        following = flow + step
        if not low < following < high:
            following = 0.5 * (low + high)
        if abs(following - flow) <= 1e-14 * flow or following == flow:
            return following
        flow = following
    return flow


@kernel
def flows_at_pressure(
    pressure: float,
    diameter: float,
    length: np.ndarray,
    relative_roughness: float,
    loss: np.ndarray,
    ducts: np.ndarray,
    rho: np.ndarray,
    mu: np.ndarray,
    flow: np.ndarray,
) -> float:
    """Fill the flow of one duct of every branch at a pressure over all; return the total [kg/s]."""
    total = 0.0
    for branch in range(flow.size):
        flow[branch] = flow_at_pressure(
            pressure, diameter, length[branch], relative_roughness, loss[branch], rho[branch], mu[branch]
        )
        total += ducts[branch] * flow[branch]
    return total


@kernel
def split(
    total: float,
    diameter: float,
    length: np.ndarray,
    relative_roughness: float,
    loss: np.ndarray,
    ducts: np.ndarray,
    rho: np.ndarray,
    mu: np.ndarray,
    flow: np.ndarray,
) -> float:
    """Share a total mass flow [kg/s] among branches at equal pressure, and return that pressure [Pa].

    Parameters
    ----------
    diameter, relative_roughness : float
        Of all ducts.
    length [m], loss [1], ducts [1], rho [kg/m3], mu [Pa.s] : (B,) float
        Of each branch: pipe in all, sum of loss coefficients, number of ducts, air in it.
    flow : (B,) float [kg/s]
        Filled with the flow of one duct; what stands in it is the first guess.
    """
    if total <= 0.0:
        flow[:] = 0.0
        return 0.0
    branches = flow.size
    guess = 0.0
    for branch in range(branches):
        guess += ducts[branch] * max(flow[branch], 0.0)
    for branch in range(branches):
        flow[branch] = max(flow[branch], 0.0) * total / guess if guess > 0.0 else total / ducts.sum()
        flow[branch] = max(flow[branch], 1e-9 * total)
    lost = np.empty(branches)
    slope = np.empty(branches)
    for _ in range(MOST_NEWTON):
        given = total
        yielding = 0.0
        for branch in range(branches):
            lost[branch], slope[branch] = loss_and_slope(
                flow[branch], diameter, length[branch], relative_roughness, loss[branch], rho[branch],
                mu[branch],
            )  # fmt: skip
            slope[branch] = max(slope[branch], SMALLEST)
            given -= ducts[branch] * (flow[branch] - lost[branch] / slope[branch])
            yielding += ducts[branch] / slope[branch]
        pressure = given / yielding
        change = 0.0
        for branch in range(branches):
            new = max(flow[branch] + (pressure - lost[branch]) / slope[branch], 0.1 * flow[branch])
            change = max(change, abs(new - flow[branch]) / new)
            flow[branch] = new
        if change <= SAME:
            return pressure
    low, high = 0.0, 1.0
    while flows_at_pressure(high, diameter, length, relative_roughness, loss, ducts, rho, mu, flow) < total:
        low = high
        high *= 2.0
    for _ in range(100):
        pressure = 0.5 * (low + high)
        if (
            flows_at_pressure(pressure, diameter, length, relative_roughness, loss, ducts, rho, mu, flow)
            < total
        ):
            low = pressure
        else:
            high = pressure
    return high


@kernel
def meet(
    speed: float,
    density: float,
    common: float,
    breaks: np.ndarray,
    coefficients: np.ndarray,
    end_slope: float,
    curve_density: float,
    free_delivery: float,
    hump: bool,
    diameter: float,
    length: np.ndarray,
    relative_roughness: float,
    loss: np.ndarray,
    ducts: np.ndarray,
    rho: np.ndarray,
    mu: np.ndarray,
    flow: np.ndarray,
) -> tuple[float, float]:
    """Where fan and ducts meet: total mass flow [kg/s] and pressure over the branches [Pa].

    Of several meeting points of a curve with a hump the one with the largest flow is taken.

    Parameters
    ----------
    speed : float [1]
        Share of full speed, above 0.
    density : float [kg/m3]
        Of the air in the fan and the losses in series.
    common : float [1/m4]
        Of the losses in series: sum of K / (2 A^2); times density and volume flow squared their pressure.
    breaks, coefficients, end_slope, curve_density, free_delivery, hump
        The fan curve; see `fan_kernels`. `hump`: whether it rises anywhere.
    """
    branches = flow.size
    ratio = density / curve_density
    highest = free_delivery * speed
    if not hump:
        total = 0.0
        for branch in range(branches):
            total += ducts[branch] * max(flow[branch], 0.0)
        if not total > 0.0:
            total = 0.5 * highest * density
            split(total, diameter, length, relative_roughness, loss, ducts, rho, mu, flow)
        lost = np.empty(branches)
        slope = np.empty(branches)
        for _ in range(MOST_NEWTON):
            total = 0.0
            rest = 0.0
            yielding = 0.0
            for branch in range(branches):
                lost[branch], slope[branch] = loss_and_slope(
                    flow[branch], diameter, length[branch], relative_roughness, loss[branch], rho[branch],
                    mu[branch],
                )  # fmt: skip
                slope[branch] = max(slope[branch], SMALLEST)
                total += ducts[branch] * flow[branch]
                rest -= ducts[branch] * lost[branch] / slope[branch]
                yielding += ducts[branch] / slope[branch]
            volume = total / density
            given = fan_pressure(volume, speed, ratio, breaks, coefficients, end_slope)
            given -= common * density * volume * volume
            falling = fan_slope(volume, speed, ratio, breaks, coefficients, end_slope)
            falling = (falling - 2.0 * common * density * volume) / density
            pressure = (given + falling * rest) / (1.0 - falling * yielding)
            change = 0.0
            for branch in range(branches):
                new = max(flow[branch] + (pressure - lost[branch]) / slope[branch], 0.1 * flow[branch])
                change = max(change, abs(new - flow[branch]) / new)
                flow[branch] = new
            if change <= SAME:
                total = 0.0
                for branch in range(branches):
                    total += ducts[branch] * flow[branch]
                return total, pressure
    # From free delivery down to the first flow at which the fan gives more than the ducts take.
    low = 0.0
    high = highest
    steps = SCAN if hump else 1
    for step in range(1, steps):
        volume = highest * (steps - step) / steps
        pressure = split(volume * density, diameter, length, relative_roughness, loss, ducts, rho, mu, flow)
        given = fan_pressure(volume, speed, ratio, breaks, coefficients, end_slope)
        if given - common * density * volume * volume >= pressure:
            low = volume
            break
        high = volume
    for _ in range(100):
        volume = 0.5 * (low + high)
        pressure = split(volume * density, diameter, length, relative_roughness, loss, ducts, rho, mu, flow)
        given = fan_pressure(volume, speed, ratio, breaks, coefficients, end_slope)
        if given - common * density * volume * volume >= pressure:
            low = volume
        else:
            high = volume
        if high - low <= 1e-14 * high:
            break
    total = 0.5 * (low + high) * density
    return total, split(total, diameter, length, relative_roughness, loss, ducts, rho, mu, flow)


@kernel
def air_of_branches(
    air: np.ndarray,
    pressure: float,
    density: float,
    branch_begin: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    rho: np.ndarray,
    mu: np.ndarray,
) -> None:
    """Fill density [kg/m3] and viscosity [Pa.s] of each branch from the mean of its air (S, M) [K].

    `density` [kg/m3] pins the density; NaN for that of dry air at `pressure` [Pa].
    """
    for branch in range(rho.size):
        total = 0.0
        for segment in range(branch_begin[branch], branch_begin[branch + 1]):
            total += air[segment_station[segment], segment_lane[segment]]
        mean = within_fit(total / max(branch_begin[branch + 1] - branch_begin[branch], 1))
        rho[branch] = dry_air_density(mean, pressure) if math.isnan(density) else density
        mu[branch] = viscosity(mean)
