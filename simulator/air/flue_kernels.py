"""Combustion gas in its pipe, bare in the ground or with room air blown round it.

Round the gas pipe heat goes by convection into the air of the gap and by radiation to the outer pipe; the
outer pipe passes it on to air and ground. Over a segment with one temperature of the outer wall both streams
follow two linear equations, whose exact solution is used.
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import conductivity, heat_capacity, viscosity, within_fit
from simulator.physics.annulus_kernels import annulus_reynolds, nusselt_over
from simulator.physics.cover_kernels import radiative_film
from simulator.physics.flue_film_kernels import convection_film, radiated_film
from simulator.physics.flue_gas_kernels import heat_capacity as gas_heat_capacity

PIPE_EMISSIVITY = 0.8
"""Of oxidised steel pipe [1]; handbook value from memory."""
LEAST_FLOW = 1e-9
"""Capacity flow [W/K] that stands for a stream that is not moving."""


@kernel
def radiation_film(inner: float, outer: float, inner_diameter: float, outer_diameter: float) -> float:
    """Film [W/(m2.K)] on the inner pipe for radiation between long concentric grey pipes at two temperatures.

    sigma (T1^2 + T2^2)(T1 + T2) / (1/e + (d/D)(1/e - 1)).
    """
    exchange = 1.0 / PIPE_EMISSIVITY + inner_diameter / outer_diameter * (1.0 / PIPE_EMISSIVITY - 1.0)
    return radiative_film(inner, outer) / exchange


@kernel
def bare_conductance(
    gas_flow: float,
    gas: float,
    wall: float,
    diameter: float,
    begin: float,
    end: float,
    pipe: float,
    pressure: float,
    made: np.ndarray,
    low: np.ndarray,
    high: np.ndarray,
    viscosity_fit: np.ndarray,
    conductivity_fit: np.ndarray,
) -> tuple[float, float]:
    """Conductance from gas to ground [W/(m.K)] through film and pipe, and the film [W/(m2.K)].

    The film is that of a lying pipe whose inside is at `wall` [K]: convection, and beside it radiation of the
    gas.
    """
    if not gas_flow > 0.0:
        return 0.0, 0.0
    film = convection_film(
        gas_flow, gas, wall, diameter, begin, end, pressure, made, low, high, viscosity_fit, conductivity_fit
    )
    film += radiated_film(gas, wall, diameter, pressure, made, PIPE_EMISSIVITY)
    perimeter = math.pi * diameter * film
    return perimeter / (1.0 + perimeter * pipe), film


@kernel
def annulus_conductances(
    air_flow: float, air: float, inner_diameter: float, outer_diameter: float, begin: float, end: float
) -> tuple[float, float]:
    """Conductances [W/(m.K)] from the gas pipe to the air in the gap and from that air to the outer pipe."""
    if not air_flow > 0.0:
        return 0.0, 0.0
    t = within_fit(air)
    hydraulic = outer_diameter - inner_diameter
    ratio = inner_diameter / outer_diameter
    k, mu = conductivity(t), viscosity(t)
    prandtl = mu * heat_capacity(t) / k
    reynolds = annulus_reynolds(air_flow, mu, inner_diameter, outer_diameter)
    inside = nusselt_over(reynolds, prandtl, ratio, hydraulic, begin, end, True) * k / hydraulic
    outside = nusselt_over(reynolds, prandtl, ratio, hydraulic, begin, end, False) * k / hydraulic
    return math.pi * inner_diameter * inside, math.pi * outer_diameter * outside


@kernel
def two_streams(
    gas_capacity: float,
    air_capacity: float,
    to_pipe: float,
    pipe_to_air: float,
    pipe_to_wall: float,
    air_to_wall: float,
    length: float,
) -> tuple[float, float, float, float]:
    """How the excess over the outer wall of gas and air at a segment's entry stands at its exit.

    Conductances [W/(m.K)]: gas to pipe, pipe to the gap's air, pipe to outer wall (radiation), air to outer
    wall; capacity flows [W/K], above 0. Returns the matrix gas<-gas, gas<-air, air<-gas, air<-air:
    exp(-A length) of d/dx (excess) = -A (excess), by its two real eigenvalues.
    """
    # A pipe that takes up nothing passes nothing on.
    at_pipe = max(to_pipe + pipe_to_air + pipe_to_wall, 1e-30)
    a = to_pipe * (1.0 - to_pipe / at_pipe) / gas_capacity
    b = -to_pipe * pipe_to_air / at_pipe / gas_capacity
    c = -to_pipe * pipe_to_air / at_pipe / air_capacity
    d = (pipe_to_air * (1.0 - pipe_to_air / at_pipe) + air_to_wall) / air_capacity
    middle = 0.5 * (a + d)
    half = 0.5 * (a - d)
    spread = math.sqrt(max(half * half + b * c, 0.0))
    slow = math.exp(-max(middle - spread, 0.0) * length)
    fast = math.exp(-(middle + spread) * length)
    cosine = 0.5 * (slow + fast)
    sine = 0.5 * (slow - fast) / spread if spread * length > 1e-8 else slow * length
    return cosine - half * sine, -b * sine, -c * sine, cosine + half * sine


@kernel
def gas_capacity_flow(gas_flow: float, gas: float, low: np.ndarray, high: np.ndarray) -> float:
    """Capacity flow of the gas [W/K] at a temperature [K]."""
    return gas_flow * gas_heat_capacity(min(max(gas, 200.0), 1500.0), low, high)
