"""Emissivity and temperature of the sky against other published fits and exact limits."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest

from simulator.physics import sky

ZERO = 273.15
SIGMA = 5.670374419e-8


@pytest.mark.parametrize(
    ("dew_point", "published"),
    # Berdahl and Martin (1984), e = 0.711 + 0.56 t + 0.73 t^2 with t in 100 degC: evaluated by hand.
    [(-10.0, 0.6623), (0.0, 0.711), (10.0, 0.7743), (20.0, 0.8522)],
)
def test_fit_of_berdahl_and_martin(dew_point, published) -> None:
    ours = float(sky.clear_sky_emissivity(dew_point + ZERO, pressure=100000.0))
    assert ours == pytest.approx(published, abs=1e-4)


@pytest.mark.parametrize("dew_point", [-10.0, -5.0, 0.0, 5.0, 10.0, 15.0, 20.0])
def test_night_sky_beside_another_set_of_measurements(dew_point) -> None:
    # Berdahl and Fromberg, Solar Energy 29 (1982) 299-314 (from memory): at night 0.741 + 0.0062 dew point.
    ours = float(sky.clear_sky_emissivity(dew_point + ZERO, hour=0.0))
    assert ours == pytest.approx(0.741 + 0.0062 * dew_point, rel=0.035)


@pytest.mark.parametrize(("celsius", "share"), [(0.0, 0.7), (10.0, 0.5), (20.0, 0.6), (25.0, 0.4)])
def test_beside_the_theory_of_brutsaert(celsius, share) -> None:
    # W. Brutsaert, Water Resources Research 11 (1975) 742-744 (from memory): 1.24 (e / T)^(1/7), e in hPa.
    # Dew point by psychrolib.
    psychrolib.SetUnitSystem(psychrolib.SI)
    dew = psychrolib.GetTDewPointFromRelHum(celsius, share) + ZERO
    vapour = share * psychrolib.GetSatVapPres(celsius) / 100.0
    theory = 1.24 * (vapour / (celsius + ZERO)) ** (1.0 / 7.0)
    assert float(sky.clear_sky_emissivity(dew)) == pytest.approx(theory, rel=0.04)


def test_daily_swing_and_pressure() -> None:
    # M. Martin and P. Berdahl (1984): +0.013 at midnight, -0.013 at noon; 0.00012 per hPa.
    at = [float(sky.clear_sky_emissivity(280.0, hour)) for hour in (0.0, 6.0, 12.0)]
    np.testing.assert_allclose(np.diff(at), -0.013, atol=1e-12)
    high = float(sky.clear_sky_emissivity(280.0, pressure=80000.0))
    assert float(sky.clear_sky_emissivity(280.0, pressure=100000.0)) - high == pytest.approx(0.024)


def test_drier_air_never_makes_a_warmer_sky() -> None:
    emissivity = sky.clear_sky_emissivity(np.linspace(175.0, 320.0, 300))
    assert np.all(np.diff(emissivity) >= 0.0)
    assert np.all((emissivity > 0.5) & (emissivity <= 1.0))


def test_sky_temperature_sends_the_stated_heat() -> None:
    # A sky of emissivity e at air temperature and the black sky of `sky_temperature` send down the same.
    temperature = float(sky.sky_temperature(283.15, 0.8))
    assert SIGMA * temperature**4 == pytest.approx(0.8 * SIGMA * 283.15**4)
    # 0.8^(1/4) = 0.94574.
    assert temperature == pytest.approx(283.15 * 0.945742, abs=1e-3)


def test_clouds_close_most_of_the_window() -> None:
    clear = 0.75
    covered = float(sky.sky_temperature(280.0, clear, 1.0))
    assert 280.0 * clear**0.25 < float(sky.sky_temperature(280.0, clear, 0.5)) < covered < 280.0
    # Overcast with low cloud: 4 to 5 K under the air (common practice, no source).
    assert 280.0 - covered == pytest.approx(4.0, abs=1.5)
    assert float(sky.sky_temperature(280.0, 1.0, 1.0)) == 280.0


def test_share_of_the_sky() -> None:
    # A flat roof sees sky alone; a wall half of it, of which sqrt(1/2) counts as cold; one facing down none.
    np.testing.assert_allclose(sky.sky_share([1.0, 0.0, -1.0]), [1.0, 0.5**1.5, 0.0])
