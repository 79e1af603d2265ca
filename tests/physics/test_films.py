"""Films, radiation and resistances against exact solutions, general libraries and published rows."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import jn_zeros

from simulator.physics import air, films


def test_still_nusselt_is_the_decay_of_a_resting_cylinder() -> None:
    # Carslaw and Jaeger section 7.6: a cylinder with its surface held at constant temperature cools as
    # exp(-j0^2 a t / R^2); h = rho c (R/2) j0^2 a / R^2 makes Nu = h D / k = j0^2.
    assert pytest.approx(float(jn_zeros(0, 1)[0]) ** 2, rel=1e-12) == films.STILL_NUSSELT
    # A narrow duct with a small difference is in that limit; its decay rate is then 4 h / (rho c D).
    diameter, kelvin = 0.01, 300.0
    h = float(films.still_air_film(kelvin, diameter, 0.1))
    rate = 4.0 * h / (float(air.density(kelvin)) * float(air.heat_capacity(kelvin)) * diameter)
    diffusivity = float(air.conductivity(kelvin) / air.density(kelvin) / air.heat_capacity(kelvin))
    assert rate == pytest.approx(float(jn_zeros(0, 1)[0]) ** 2 * diffusivity / (diameter / 2) ** 2, rel=1e-9)


def test_still_air_film_by_hand() -> None:
    # Properties at 300 K, 1 atm (Incropera and others, table A.4, from memory): nu 15.89e-6, a 22.5e-6 m2/s,
    # k 0.0263 W/(m.K). D 0.15 m, 5 K: Ra = 9.81/300*5*0.15^3/(nu a) = 1.543e6; Nu = 0.55 Ra^0.25 = 19.39.
    rayleigh = 9.81 / 300 * 5 * 0.15**3 / (15.89e-6 * 22.5e-6)
    expected = 0.55 * rayleigh**0.25 * 0.0263 / 0.15
    np.testing.assert_allclose(films.still_air_film(300.0, 0.15, [5.0, -5.0]), expected, rtol=0.01)


def test_radiation_coefficient() -> None:
    # 4 sigma T^3 at 300 K = 6.124 W/(m2.K) (sigma 5.6704e-8); the difference quotient of sigma T^4 agrees.
    assert float(films.radiation_coefficient(300.0)) == pytest.approx(6.124, abs=1e-3)
    quotient = 0.9 * 5.670374e-8 * (301.0**4 - 299.0**4) / 2.0
    assert float(films.radiation_coefficient(300.0, 0.9)) == pytest.approx(quotient, rel=2e-5)


def test_pair_emissivity_of_usual_pairs() -> None:
    # Two parallel planes of 0.9: 1/(2/0.9 - 1) = 0.8182; a small body in a large room: its own emissivity.
    assert float(films.pair_emissivity(0.9, 0.9, 1.0)) == pytest.approx(0.8182, abs=5e-5)
    assert float(films.pair_emissivity(0.9, 0.2)) == pytest.approx(0.9)


@pytest.mark.parametrize("emissivity", [0.1, 0.5, 0.9, 1.0])
def test_still_duct_conductivity_against_a_ring_of_surfaces(emissivity) -> None:
    # Independent: the cylinder cut into flat-seen pieces with exact view factors by Hottel's crossed strings,
    # and the grey enclosure solved as a linear system.
    pieces, radius, kelvin = 180, 0.05, 290.0
    ends = np.exp(2j * np.pi * np.arange(pieces + 1) / pieces) * radius

    def view_factors() -> np.ndarray:
        first, last = ends[:-1], ends[1:]
        crossed = abs(first[:, None] - first[None]) + abs(last[:, None] - last[None])
        uncrossed = abs(first[:, None] - last[None]) + abs(last[:, None] - first[None])
        # On a convex ring the crossed strings of two pieces are the longer ones.
        exchange = 0.5 * (crossed - uncrossed) * np.where(np.eye(pieces, dtype=bool), 0.0, 1.0)
        return abs(exchange) / abs(first - last)[:, None]

    f = view_factors()
    np.testing.assert_allclose(f.sum(axis=1), 1.0, atol=1e-9)
    angle = 2 * np.pi * (np.arange(pieces) + 0.5) / pieces
    emitted = np.cos(angle)
    radiosity = np.linalg.solve(np.eye(pieces) - (1.0 - emissivity) * f, emissivity * emitted)
    net = radiosity - f @ radiosity
    amplitude = 2.0 * np.mean(net * np.cos(angle)) * 4.0 * 5.670374e-8 * kelvin**3
    expected = amplitude * radius + float(air.conductivity(kelvin))
    found = float(films.still_duct_conductivity(kelvin, 2 * radius, emissivity))
    assert found == pytest.approx(expected, rel=1e-3)


def test_pipe_wall_resistance_is_the_cylinder_shell() -> None:
    # Steady radial conduction (any textbook): R per length = ln(ro/ri)/(2 pi k); times the inside perimeter.
    expected = math.log(0.055 / 0.05) / (2 * math.pi * 0.19) * math.pi * 0.1
    assert float(films.pipe_wall_resistance(0.1, 0.005, 0.19)) == pytest.approx(expected, rel=1e-12)
    assert float(films.pipe_wall_resistance(0.1, 0.0, 0.19)) == 0.0


def test_in_series() -> None:
    # 1/(1/8 + 0.11) = 4.2553
    assert float(films.in_series(8.0, 0.1, 0.01)) == pytest.approx(4.2553, abs=1e-4)
    assert float(films.in_series(0.0, 0.1)) == 0.0
    assert float(films.in_series(8.0)) == 8.0
    with pytest.raises(ValueError, match="0 or more"):
        films.in_series(8.0, -0.1)


def test_floor_output_of_the_standard() -> None:
    # EN 1264-2, 8.92 (floor - room)^1.1, rows recomputed; the standard's own limits are 100 W/m2 at 9 K and
    # 175 W/m2 at 15 K (from memory).
    difference = [0.0, 1, 2, 3, 5, 7, 9, 15]
    expected = [0.0, 8.92, 19.12, 29.87, 52.39, 75.85, 100.01, 175.41]
    np.testing.assert_allclose(films.floor_output(difference), expected, atol=0.006)
    assert float(films.floor_output(-5.0)) == pytest.approx(-52.39, abs=0.006)
