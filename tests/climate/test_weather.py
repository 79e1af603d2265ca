"""Constant weather and the daily wave on the clock of a case."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from simulator.climate.weather import from_case

HOUR = 3_600_000
DAY = 24 * HOUR
WAVE = """
kind = "daily wave"
mean = "-5 degC"
amplitude = "4 K"
warmest_at = "14:00"
sun_peak = "300 W/m2"
sunrise = "08:00"
sunset = "16:00"
"""


def test_constant(make_case) -> None:
    weather = from_case(make_case('kind = "constant"\ntemperature = "23 degF"\nsun = "90 W/m2"'))
    # 23 degF is -5 degC.
    np.testing.assert_allclose(weather.temperature_at([-DAY, 0, DAY]), 268.15)
    np.testing.assert_allclose(weather.mean_temperature([0, HOUR], [HOUR, DAY]), 268.15)
    assert float(weather.sun_at(0)) == 90.0


@pytest.mark.parametrize("start", [dt.datetime(2031, 1, 15, 18), dt.datetime(2032, 6, 30, 0, 0, 30)])
def test_daily_wave_keeps_clock_time(make_case, start) -> None:
    weather = from_case(make_case(WAVE, start=start))
    midnight = -int((start - dt.datetime.combine(start.date(), dt.time())) / dt.timedelta(milliseconds=1))
    for day in (-300 * DAY, 0, 7 * DAY):
        clock = midnight + day
        marks = clock + np.array([14, 2, 8, 20]) * HOUR
        np.testing.assert_allclose(
            weather.temperature_at(marks) - 273.15, [-1.0, -9.0, -5.0, -5.0], atol=1e-9
        )
        sun_marks = clock + np.array([8, 10, 12, 16, 22]) * HOUR
        # Half a sine: sin 45 degrees a quarter of the way.
        np.testing.assert_allclose(weather.sun_at(sun_marks), [0, 300 * 0.5**0.5, 300, 0, 0], atol=1e-9)
        assert float(weather.mean_temperature(clock, clock + DAY)) == pytest.approx(268.15)
        assert float(weather.mean_sun(clock, clock + DAY)) == pytest.approx(300 * 2 / np.pi * 8 / 24)
