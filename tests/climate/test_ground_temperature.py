"""Undisturbed ground against the published wave, an independent solution, and measurements."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.climate.ground_temperature import annual_wave, damping_depth, day_of_year

# Kusuda and Achenbach (1965), mean 10, amplitude 12, coldest day 20, diffusivity 0.75e-6 m2/s: the equation
# in its published form T = Tm - A e^(-z sqrt(pi/365a)) cos[(2 pi/365)(t - t0 - (z/2) sqrt(365/(pi a)))] (seen
# in Hillel 1982); numbers computed independently.
TABLE = {
    0.0: ([-2.0000, 3.8515, 21.9889, 4.7602], 20.00),
    1.0: ([2.2125, 3.4586, 17.6525, 9.2723], 41.17),
    2.0: ([5.6818, 4.4761, 14.1483, 11.5834], 62.34),
    3.0: ([8.1523, 5.9863, 11.6923, 12.4062], 83.51),
    5.0: ([10.4827, 8.6338, 9.4369, 11.9011], 125.86),
}
WAVE = {"mean": 10.0, "amplitude": 12.0, "coldest_day": 20.0, "diffusivity": 0.75e-6}


@pytest.mark.parametrize("depth", TABLE)
def test_table_of_kusuda_and_achenbach(depth) -> None:
    expected, coldest = TABLE[depth]
    found = annual_wave(depth, [20, 80, 200, 320], **WAVE)
    np.testing.assert_allclose(found, expected, atol=6e-5)
    days = np.arange(0.0, 365.0, 0.01)
    assert days[np.argmin(annual_wave(depth, days, **WAVE))] == pytest.approx(coldest, abs=0.01)


@pytest.mark.parametrize(
    # Carslaw and Jaeger, periodic surface, sqrt(a P / pi) for 365.25 days (recomputed independently).
    ("diffusivity", "depth"),
    [(0.5e-6, 2.24110), (0.75e-6, 2.74478), (1.0e-6, 3.16940), (1.75e-6, 4.19272)],
)
def test_damping_depth(diffusivity, depth) -> None:
    assert damping_depth(diffusivity) * (365.25 / 365.0) ** 0.5 == pytest.approx(depth, rel=2e-6)


def test_it_solves_the_heat_equation() -> None:
    # Central differences of dT/dt = a d2T/dz2, away from the surface.
    depth, day = np.meshgrid(np.linspace(0.5, 8.0, 12), np.linspace(1.0, 365.0, 17))
    dz, dd = 0.01, 0.1
    in_time = (annual_wave(depth, day + dd, **WAVE) - annual_wave(depth, day - dd, **WAVE)) / (2 * dd * 86400)
    in_depth = (
        annual_wave(depth + dz, day, **WAVE)
        - 2 * annual_wave(depth, day, **WAVE)
        + annual_wave(depth - dz, day, **WAVE)
    ) / dz**2
    np.testing.assert_allclose(in_time, 0.75e-6 * in_depth, atol=2e-10)
    assert np.max(np.abs(in_time)) > 1e-7


def test_measured_soil_of_zurich() -> None:
    # J. H. Lambert, Pyrometrie (1779) p. 358: Zurich 1762-65, monthly means at 1/4 to 6 Paris feet
    # (0.3248 m). Yearly harmonic fitted to the printed table: amplitudes, and month of the warmest day.
    # Amplitude and phase of real soil give different diffusivities, 7.7e-7 and 5.4e-7 m2/s.
    depth = np.array([0.25, 0.5, 1, 2, 3, 4, 6]) * 0.3248
    amplitude = np.array([70.61, 64.88, 60.78, 53.78, 50.57, 43.33, 36.64])
    warmest_month = np.array([6.89, 7.12, 7.17, 7.44, 7.66, 7.90, 8.42])
    days = np.arange(0.0, 365.0, 0.1)[:, None]
    swing = {"mean": 0.0, "amplitude": 1.0, "coldest_day": 0.0}
    by_amplitude = annual_wave(depth, days, **swing, diffusivity=7.7e-7).max(axis=0)
    ratio = amplitude / by_amplitude
    np.testing.assert_allclose(ratio, ratio.mean(), rtol=0.06)
    by_phase = days[np.argmax(annual_wave(depth, days, **swing, diffusivity=5.4e-7), axis=0), 0] / 365 * 12
    np.testing.assert_allclose(by_phase - by_phase[0], warmest_month - warmest_month[0], atol=0.2)


def test_above_the_surface_counts_as_the_surface() -> None:
    np.testing.assert_array_equal(annual_wave([-0.3, 0.0], 100.0, **WAVE), annual_wave(0.0, 100.0, **WAVE))


def test_day_of_year() -> None:
    assert day_of_year(dt.datetime(2031, 1, 1)) == 1.0
    assert day_of_year(dt.datetime(2032, 3, 1, 12)) == 61.5


@pytest.mark.parametrize("diffusivity", [0.0, -1e-6, float("nan")])
def test_diffusivity_must_be_above_zero(diffusivity) -> None:
    with pytest.raises(ValueError, match="above 0"):
        annual_wave(1.0, 1.0, mean=10.0, amplitude=1.0, coldest_day=20.0, diffusivity=diffusivity)
