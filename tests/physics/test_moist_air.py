"""Moist air against psychrolib, CoolProp and hand-worked states."""

from __future__ import annotations

import math

import numpy as np
import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics import moist_air
from simulator.physics import moist_air_kernels as kernels

PRESSURE = 101325.0
ZERO = 273.15

# Columns: degC, relative humidity; humidity ratio by psychrolib 2.5 and CoolProp 8 (real gas), dew point and
# wet bulb [degC], enthalpy [kJ/kg] by psychrolib and CoolProp, all at 101325 Pa.
STATES = [
    (20, 0.50, 0.007262, 0.007294, 9.272, 13.783, 38.55, 38.62),
    (25, 0.50, 0.009881, 0.009926, 13.864, 17.889, 50.32, 50.42),
    (15, 0.90, 0.009566, 0.009608, 13.374, 14.010, 39.28, 39.37),
    (5, 0.80, 0.004314, 0.004332, 1.841, 3.588, 15.86, 15.90),
    (30, 0.70, 0.018795, 0.018884, 23.928, 25.503, 78.24, 78.43),
    (60, 0.10, 0.012488, 0.012563, 17.453, 28.991, 92.98, 93.21),
]


@pytest.fixture(autouse=True)
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("state", STATES)
def test_state_points(state) -> None:
    celsius, share, ratio, real_ratio, dew, wet, content, real_content = state
    kelvin = celsius + ZERO
    found = float(moist_air.humidity_ratio(share, kelvin, PRESSURE))
    assert found == pytest.approx(ratio, abs=1e-6)
    # The real mixture holds 0.4 to 0.6 % more, the enhancement factor.
    assert found == pytest.approx(real_ratio, rel=0.007)
    assert float(moist_air.dew_point(found, PRESSURE)) - ZERO == pytest.approx(dew, abs=2e-3)
    assert float(moist_air.wet_bulb(kelvin, found, PRESSURE)) - ZERO == pytest.approx(wet, abs=2e-3)
    assert float(moist_air.enthalpy(kelvin, found)) / 1e3 == pytest.approx(content, abs=0.01)
    assert float(moist_air.enthalpy(kelvin, found)) / 1e3 == pytest.approx(real_content, rel=0.004)
    assert float(moist_air.relative_humidity(found, kelvin, PRESSURE)) == pytest.approx(share, rel=1e-12)


@pytest.mark.parametrize(
    ("celsius", "steam_table"),
    # IAPWS-95 over water; over ice psychrolib's 259.90 Pa at -10 degC.
    [(-10, 259.90), (10, 1228.20), (20, 2339.32), (40, 7384.94), (60, 19946.4)],
)
def test_saturation_pressure_of_the_steam_tables(celsius, steam_table) -> None:
    assert float(moist_air.saturation_pressure(celsius + ZERO)) == pytest.approx(steam_table, rel=5e-4)


@given(celsius=st.floats(-99.0, 199.0))
def test_saturation_pressure_against_library(celsius) -> None:
    expected = psychrolib.GetSatVapPres(celsius)
    assert float(moist_air.saturation_pressure(celsius + ZERO)) == pytest.approx(expected, rel=3e-6)


@given(
    celsius=st.floats(-30.0, 90.0),
    share=st.floats(0.0, 1.0),
    pressure=st.floats(6e4, 1.05e5),
)
def test_states_against_real_gas(celsius, share, pressure) -> None:
    # CoolProp's humid air, a virial equation of state with the enhancement factor: agreement within 1 %
    # until vapour is half of the mixture.
    kelvin = celsius + ZERO
    if share * float(moist_air.saturation_pressure(kelvin)) > 0.5 * pressure:
        return
    found = float(moist_air.humidity_ratio(share, kelvin, pressure))
    expected = HAPropsSI("W", "T", kelvin, "P", pressure, "R", share)
    if float(moist_air.saturation_pressure(kelvin)) < 0.2 * pressure:
        assert found == pytest.approx(expected, rel=0.01, abs=1e-9)
    density = 1.0 + expected
    density /= HAPropsSI("Vda", "T", kelvin, "P", pressure, "R", share)
    assert float(moist_air.density(kelvin, expected, pressure)) == pytest.approx(density, rel=0.01)


@pytest.mark.parametrize("celsius", [0.1, 12.0, 40.0, 60.0, 100.0])
def test_latent_heat_of_the_steam_tables(celsius) -> None:
    vapour = PropsSI("H", "T", celsius + ZERO, "Q", 1, "Water")
    water = PropsSI("H", "T", celsius + ZERO, "Q", 0, "Water")
    assert float(moist_air.latent_heat(celsius + ZERO)) == pytest.approx(vapour - water, rel=0.006)


def test_sublimation_heat() -> None:
    # 2834.6 kJ/kg at 0 degC, usual handbook value (from memory).
    assert kernels.sublimation_heat(ZERO) == pytest.approx(2.8346e6, rel=1e-3)


@given(kelvin=st.floats(240.0, 370.0), ratio=st.floats(0.0, 0.5), taken=st.floats(0.0, 1.0))
def test_latent_heat_is_the_difference_of_enthalpies(kelvin, ratio, taken) -> None:
    # Water leaves the air at its own temperature: what the air loses is latent heat plus warm water, exactly.
    gone = taken * ratio
    lost = kernels.enthalpy(kelvin, ratio) - kernels.enthalpy(kelvin, ratio - gone)
    water = gone * kernels.WATER_HEAT_CAPACITY * (kelvin - ZERO)
    assert lost == pytest.approx(gone * kernels.latent_heat(kelvin) + water, rel=1e-9, abs=1e-6)


@given(kelvin=st.floats(200.0, 400.0), ratio=st.floats(0.0, 5.0))
def test_enthalpy_and_temperature_undo_each_other(kelvin, ratio) -> None:
    assert kernels.temperature_at_enthalpy(kernels.enthalpy(kelvin, ratio), ratio) == pytest.approx(kelvin)


@given(kelvin=st.floats(174.0, 473.0))
def test_saturation_temperature_undoes_saturation_pressure(kelvin) -> None:
    assert kernels.saturation_temperature(kernels.saturation_pressure(kelvin)) == pytest.approx(
        kelvin, abs=1e-9
    )


@given(kelvin=st.floats(175.0, 365.0), pressure=st.floats(8e4, 1.05e5))
def test_slopes_are_those_of_the_functions(kelvin, pressure) -> None:
    if abs(kelvin - 273.16) < 0.01:
        return
    step = 1e-3
    rise = kernels.log_saturation_pressure(kelvin + step) - kernels.log_saturation_pressure(kelvin - step)
    assert kernels.log_saturation_slope(kelvin) == pytest.approx(rise / (2.0 * step), rel=1e-6)
    rise = kernels.saturation_ratio(kelvin + step, pressure)
    rise -= kernels.saturation_ratio(kelvin - step, pressure)
    assert kernels.saturation_ratio_slope(kelvin, pressure) == pytest.approx(rise / (2.0 * step), rel=1e-3)


def test_nothing_jumps_at_the_triple_point() -> None:
    kelvin = 273.16 + np.linspace(-0.01, 0.01, 2001)
    steps = np.diff(np.log(moist_air.saturation_pressure(kelvin)))
    # Over ice pressure rises by 8.2 % a kelvin there, over water by 7.3 %.
    assert np.all((steps > 7.2e-7) & (steps < 8.3e-7))


@pytest.mark.parametrize("kelvin", [0.0, 100.0, 273.15, 373.2, 474.0, 900.0, 1e6])
@pytest.mark.parametrize("ratio", [0.0, 1e-12, 0.01, 9.0])
def test_absurd_states_stay_finite(kelvin, ratio) -> None:
    found = [
        kernels.saturation_pressure(kelvin),
        kernels.saturation_ratio(kelvin, PRESSURE),
        kernels.saturation_ratio_slope(kelvin, PRESSURE),
        kernels.relative_humidity(ratio, kelvin, PRESSURE),
        kernels.dew_point(ratio, PRESSURE),
        kernels.mass_transfer_coefficient(8.0, ratio, kelvin),
    ]
    assert all(math.isfinite(value) for value in found)
    assert 0.0 <= kernels.saturation_ratio(kelvin, PRESSURE) <= kernels.HIGHEST_RATIO


def test_lewis_number_of_room_air() -> None:
    # Thermal diffusivity 21.7e-6 and vapour diffusivity 24.9e-6 m2/s give 0.8715 (handbook values from
    # memory, recomputed); sources for the diffusivity differ by several per cent.
    assert kernels.lewis_number(296.0) == pytest.approx(0.8715, rel=0.02)
    assert kernels.vapour_diffusivity(297.0, PRESSURE) == pytest.approx(24.9e-6, rel=0.02)
    # Twice the pressure, half the diffusivity: kinetic theory.
    ratio = kernels.vapour_diffusivity(300.0, 2.0 * PRESSURE) / kernels.vapour_diffusivity(300.0, PRESSURE)
    assert ratio == pytest.approx(0.5, rel=1e-12)


def test_condensing_wall_worked_by_hand() -> None:
    # Air 25 degC at 70 %, wall 12 degC, film 8 W/(m2.K), with 1020 J/(kg.K) and Le^(2/3) 0.914 (recomputed):
    # 104.0 W/m2 sensible, 110.2 W/m2 latent, 160.4 g/(m2.h). Our own Lewis number is 0.6 % larger.
    ratio = float(moist_air.humidity_ratio(0.7, 25.0 + ZERO))
    flux = moist_air.flux_to_wet_wall(8.0, 25.0 + ZERO, ratio, 12.0 + ZERO)
    assert flux.sensible == pytest.approx(104.0, rel=1e-9)
    assert flux.latent == pytest.approx(110.2, rel=0.02)
    assert flux.water * 3.6e6 == pytest.approx(160.4, rel=0.02)
    pinned = 8.0 / (1020.0 * 0.914) * (ratio - float(moist_air.saturation_ratio(12.0 + ZERO)))
    assert pinned * 3.6e6 == pytest.approx(160.4, rel=2e-3)


def test_a_wet_wall_at_the_wet_bulb_gives_no_heat() -> None:
    # Psychrometry: with Le near 1 water at the wet-bulb temperature loses by drying what it gains by film.
    ratio = float(moist_air.humidity_ratio(0.4, 303.15))
    wet = float(moist_air.wet_bulb(303.15, ratio))
    flux = moist_air.flux_to_wet_wall(10.0, 303.15, ratio, wet)
    assert flux.water < 0.0
    # The Lewis factor 0.92 instead of 1 leaves up to a tenth.
    assert flux.sensible + flux.latent == pytest.approx(0.0, abs=0.12 * flux.sensible)


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: moist_air.humidity_ratio(1.2, 300.0), "must be 1 or less everywhere, got 1.2"),
        (lambda: moist_air.humidity_ratio(-0.1, 300.0), "must be 0 or more everywhere, got -0.1"),
        (lambda: moist_air.humidity_ratio(math.nan, 300.0), "relative_humidity must be 0 or more"),
        (lambda: moist_air.dew_point(-0.01), "ratio must be 0 or more everywhere, got -0.01"),
    ],
)  # fmt: skip
def test_arguments_out_of_range_are_refused(call, message) -> None:
    with pytest.raises(ValueError, match=message):
        call()
