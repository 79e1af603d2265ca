"""Heat that carbon dioxide and vapour radiate to the pipe they flow through, as compiled scalar functions.

Sources
-------
[1] B. Leckner, Combustion and Flame 19 (1972) 33-48, total emissivities of carbon dioxide and water vapour,
    for 400 K and more; coefficients as printed in M. F. Modest, Radiative Heat Transfer (from memory). Colder
    walls and gases follow the same polynomials.
[2] VDI Heat Atlas, 2nd ed. (2010), section K3: grey wall round an even gas, mean beam length of a long
    cylinder 0.94 D (from memory).
"""

from __future__ import annotations

import math

import numpy as np

from simulator.kernel import kernel
from simulator.physics.cover_kernels import STEFAN_BOLTZMANN

BEAM_SHARE = 0.94
"""Mean beam length of a long cylinder over its diameter [2]."""
BAR_CENTIMETRE = 1000.0
"""Unit of pressure times path in [1], in [Pa.m]."""
SHORTEST = 0.01
"""Pressure times path [bar.cm] under which the emissivity falls in proportion, as thin gas does."""
LEAST_DIFFERENCE = 2.0
"""Difference [K] between gas and wall under which the secant over this much is taken."""
COLDEST, HOTTEST = 250.0, 2500.0
"""Range of temperature [K]; the value at its end is taken outside."""

# Of the emissivity's logarithm: rows by power of lg(pressure times path), columns by power of T / 1000 K [1].
VAPOUR = np.array(
    [[-2.2118, -1.1987, 0.035596], [0.85667, 0.93048, -0.14391], [-0.10838, -0.17156, 0.045915]]
)
CARBON_DIOXIDE = np.array(
    [
        [-3.9893, 2.7669, -2.1081, 0.39163],
        [1.2710, -1.1090, 1.0195, -0.21897],
        [-0.23678, 0.19731, -0.19544, 0.044644],
    ]
)


@kernel
def _standard(path: float, t: float, coefficients: np.ndarray) -> float:
    """Emissivity [-] at 1 bar of thinned gas: `path` [bar.cm], `t` = T / 1000 K [1]."""
    logarithm = math.log10(max(path, SHORTEST))
    total = 0.0
    for row in range(coefficients.shape[0] - 1, -1, -1):
        value = 0.0
        for column in range(coefficients.shape[1] - 1, -1, -1):
            value = value * t + coefficients[row, column]
        total = total * logarithm + value
    return math.exp(total) * min(path / SHORTEST, 1.0)


@kernel
def _broadened(path: float, peak: float, a: float, b: float, c: float, effective: float) -> float:
    """Factor [-] for the width of lines at an effective pressure [bar], greatest at the path `peak` [1]."""
    away = math.log10(peak / max(path, SHORTEST))
    return 1.0 - (a - 1.0) * (1.0 - effective) / (a + b - 1.0 + effective) * math.exp(-c * away * away)


@kernel
def vapour_emissivity(path: float, temperature: float, share: float, pressure: float) -> float:
    """Emissivity [-] of water vapour [1].

    Partial pressure times length `path` [bar.cm], `temperature` [K], `share` of vapour by mole [-], total
    `pressure` [Pa].
    """
    t = min(max(temperature, COLDEST), HOTTEST) / 1000.0
    bar = pressure * 1e-5
    a = 2.144 if t < 0.75 else 1.888 - 2.053 * math.log10(t)
    effective = bar * (1.0 + 2.56 * share / math.sqrt(t))
    factor = _broadened(path, 13.2 * t * t, a, 1.1 * math.pow(t, -1.4), 0.5, effective)
    return _standard(path, t, VAPOUR) * factor


@kernel
def carbon_dioxide_emissivity(path: float, temperature: float, share: float, pressure: float) -> float:
    """Emissivity [-] of carbon dioxide [1]; arguments as `vapour_emissivity`."""
    t = min(max(temperature, COLDEST), HOTTEST) / 1000.0
    bar = pressure * 1e-5
    peak = 0.054 / (t * t) if t < 0.7 else 0.225 * t * t
    effective = bar * (1.0 + 0.28 * share)
    factor = _broadened(path, peak, 1.0 + 0.1 * math.pow(t, -1.45), 0.23, 1.47, effective)
    return _standard(path, t, CARBON_DIOXIDE) * factor


@kernel
def overlap(vapour_path: float, carbon_dioxide_path: float) -> float:
    """Emissivity [-] at wave lengths that both gases share, to be taken off once [1]; paths [bar.cm]."""
    path = vapour_path + carbon_dioxide_path
    if path <= 1.0:
        return 0.0
    of_vapour = vapour_path / path
    shape = of_vapour / (10.7 + 101.0 * of_vapour) - 0.0089 * math.pow(of_vapour, 10.4)
    return max(shape, 0.0) * math.pow(math.log10(path), 2.76)


@kernel
def emissivity(
    temperature: float, beam: float, vapour: float, carbon_dioxide: float, pressure: float
) -> float:
    """Emissivity [-] of combustion gas of a `temperature` [K] and mean `beam` length [m] [1].

    Shares of `vapour` and `carbon_dioxide` by mole [-], total `pressure` [Pa].
    """
    scale = pressure * beam / BAR_CENTIMETRE
    of_vapour = vapour_emissivity(vapour * scale, temperature, vapour, pressure)
    of_dioxide = carbon_dioxide_emissivity(carbon_dioxide * scale, temperature, carbon_dioxide, pressure)
    return of_vapour + of_dioxide - overlap(vapour * scale, carbon_dioxide * scale)


@kernel
def absorptivity(
    temperature: float, wall: float, beam: float, vapour: float, carbon_dioxide: float, pressure: float
) -> float:
    """Share [-] of what a `wall` [K] radiates that gas of a `temperature` [K] swallows [1].

    (T / T_wall)^(1/2) times the emissivity at the wall's temperature over a beam shortened by T_wall / T.
    """
    ratio = temperature / wall
    at_wall = emissivity(wall, beam / ratio, vapour, carbon_dioxide, pressure)
    return min(math.sqrt(ratio) * at_wall, 1.0)


@kernel
def gas_radiation_film(
    gas: float,
    wall: float,
    diameter: float,
    vapour: float,
    carbon_dioxide: float,
    pressure: float,
    wall_emissivity: float,
) -> float:
    """Film [W/(m2.K)] for radiation between gas and wall [K] of a long pipe of a `diameter` [m] [2].

    sigma e_w / (1 - (1 - e_w)(1 - a)) (e T^4 - a T_w^4) / (T - T_w), with emissivity e and absorptivity a of
    the gas. Soot and smoke, which would add to it, are left out.
    """
    middle = 0.5 * (gas + wall)
    half = 0.5 * max(abs(gas - wall), LEAST_DIFFERENCE)
    if gas < wall:
        half = -half
    hot, cold = middle + half, middle - half
    beam = BEAM_SHARE * diameter
    gives = emissivity(hot, beam, vapour, carbon_dioxide, pressure)
    takes = absorptivity(hot, cold, beam, vapour, carbon_dioxide, pressure)
    exchange = wall_emissivity / (1.0 - (1.0 - wall_emissivity) * (1.0 - takes))
    net = gives * hot * hot * hot * hot - takes * cold * cold * cold * cold
    return max(STEFAN_BOLTZMANN * exchange * net / (hot - cold), 0.0)
