"""Pressure of a fan over its flow, as compiled scalar functions.

A curve is a row of pieces, each a polynomial in the flow past the piece's beginning: `breaks` (P + 1,) [m3/s]
and `coefficients` (P, N) in rising powers, pressure in Pa at the density and speed the curve was taken at.
Outside its pieces the curve goes on straight: level towards back flow, and past the last break with the
slope `end_slope` [Pa.s/m3], below 0, so that any resistance meets it somewhere.

Sources
-------
[1] Fan laws: flow as speed, pressure as density and speed squared, power as density and speed cubed
    (ISO 5801; ASHRAE Handbook, HVAC Systems and Equipment, chapter Fans).
"""

from __future__ import annotations

import numpy as np

from simulator.kernel import kernel


@kernel
def curve_pressure(flow: float, breaks: np.ndarray, coefficients: np.ndarray, end_slope: float) -> float:
    """Pressure [Pa] of the curve as it was taken, at a flow [m3/s]."""
    pieces = breaks.size - 1
    if flow <= breaks[0]:
        level: float = coefficients[0, 0]
        return level
    beyond = max(flow - breaks[pieces], 0.0)
    piece = 0
    while piece < pieces - 1 and flow > breaks[piece + 1]:
        piece += 1
    x = min(flow, breaks[pieces]) - breaks[piece]
    inside = 0.0
    for power in range(coefficients.shape[1] - 1, -1, -1):
        inside = inside * x + coefficients[piece, power]
    pressure: float = end_slope * beyond + inside
    return pressure


@kernel
def curve_slope(flow: float, breaks: np.ndarray, coefficients: np.ndarray, end_slope: float) -> float:
    """Slope of `curve_pressure` over flow [Pa.s/m3]."""
    pieces = breaks.size - 1
    if flow <= breaks[0]:
        return 0.0
    if flow > breaks[pieces]:
        return end_slope
    piece = 0
    while piece < pieces - 1 and flow > breaks[piece + 1]:
        piece += 1
    x = flow - breaks[piece]
    value = 0.0
    for power in range(coefficients.shape[1] - 1, 0, -1):
        value = value * x + power * coefficients[piece, power]
    return value


@kernel
def fan_pressure(
    flow: float,
    speed: float,
    density_ratio: float,
    breaks: np.ndarray,
    coefficients: np.ndarray,
    end_slope: float,
) -> float:
    """Pressure [Pa] at a flow [m3/s], by the fan laws [1].

    `speed` is a share of the speed of the curve, `density_ratio` the density of the air in the fan over that
    of the curve. A fan that stands still gives no pressure.
    """
    if speed <= 0.0:
        return 0.0
    taken = curve_pressure(flow / speed, breaks, coefficients, end_slope)
    return density_ratio * speed * speed * taken


@kernel
def fan_slope(
    flow: float,
    speed: float,
    density_ratio: float,
    breaks: np.ndarray,
    coefficients: np.ndarray,
    end_slope: float,
) -> float:
    """Slope of `fan_pressure` over flow [Pa.s/m3]."""
    if speed <= 0.0:
        return 0.0
    return density_ratio * speed * curve_slope(flow / speed, breaks, coefficients, end_slope)


@kernel
def electric_power(flow: float, pressure: float, efficiency: float) -> float:
    """Electric power [W] of a fan from flow [m3/s], its pressure rise [Pa] and its overall efficiency [-].

    Flow times pressure over efficiency; never under 0, as a fan driven by the draught gives nothing back.
    """
    return max(flow * pressure, 0.0) / efficiency
