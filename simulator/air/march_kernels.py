"""Conductance from the air to the duct wall along every segment."""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.air_kernels import prandtl, within_fit
from simulator.physics.internal_flow_kernels import film_coefficient, reynolds_number
from simulator.physics.pipe_surface_kernels import film_factor


@kernel
def air_to_wall(
    air: np.ndarray,
    mass_flow: np.ndarray,
    begin: np.ndarray,
    end: np.ndarray,
    segment_branch: np.ndarray,
    segment_lane: np.ndarray,
    segment_station: np.ndarray,
    diameter: float,
    wall_resistance: float,
    pinned: float,
    conductance: np.ndarray,
    film: np.ndarray,
    relative_roughness: float = 0.0,
    enhancement: float = 0.0,
) -> None:
    """Fill conductance [W/(m.K)] and film [W/(m2.K)], both (S, M), for every segment in path order.

    Parameters
    ----------
    air : (S, M) [K]
        Air temperature at which properties are taken.
    mass_flow : (B,) [kg/s]
        Of one duct of each branch.
    begin, end : (G,) [m]
        Distances of the segment's ends from the duct's entrance.
    segment_branch, segment_lane, segment_station : (G,) int
    diameter : float [m]
        Inside.
    wall_resistance : float [K.m/W]
        Of pipe wall and contact gap, per metre of duct.
    pinned : float [W/(m2.K)]
        Film given by the case; NaN for the correlations.
    relative_roughness, enhancement : float
        Of a rough or ribbed wall: see `pipe_surface_kernels.film_factor`.
    """
    for segment in range(begin.size):
        station = segment_station[segment]
        lane = segment_lane[segment]
        flow = mass_flow[segment_branch[segment]]
        if pinned >= 0.0:
            value = pinned
        elif flow > 0.0:
            temperature = within_fit(air[station, lane])
            value = film_coefficient(flow, temperature, diameter, begin[segment], end[segment])
            if enhancement > 0.0:
                reynolds = reynolds_number(flow, temperature, diameter)
                value *= film_factor(reynolds, prandtl(temperature), relative_roughness, enhancement)
        else:
            value = 0.0
        film[station, lane] = value
        perimeter = math.pi * diameter * value
        conductance[station, lane] = perimeter / (1.0 + perimeter * wall_resistance)
