"""Dry air against an independent real-gas library and the standard atmosphere."""

from __future__ import annotations

import fluids
import numpy as np
import pytest
from CoolProp import CoolProp

from simulator.physics import air, air_kernels

KELVIN = np.arange(-40.0, 301.0, 10.0) + 273.15


def real_gas(output: str, temperature: float, pressure: float) -> float:
    """CoolProp 8 pseudo-pure air: Lemmon and others (2000), transport by Lemmon and Jacobsen (2004)."""
    return float(CoolProp.PropsSI(output, "T", temperature, "P", pressure, "Air"))


@pytest.mark.parametrize(
    ("function", "output"),
    [
        (air.heat_capacity, "C"),
        (air.viscosity, "V"),
        (air.conductivity, "L"),
        (air.prandtl, "PRANDTL"),
    ],
)
@pytest.mark.parametrize("pressure", [101325.0, 70000.0])
def test_property_within_one_percent_of_real_gas(function, output, pressure) -> None:
    expected = [real_gas(output, kelvin, pressure) for kelvin in KELVIN]
    np.testing.assert_allclose(function(KELVIN), expected, rtol=0.01)


@pytest.mark.parametrize("pressure", [101325.0, 70000.0])
def test_density_within_one_percent_of_real_gas(pressure) -> None:
    expected = [real_gas("D", kelvin, pressure) for kelvin in KELVIN]
    np.testing.assert_allclose(air.density(KELVIN, pressure), expected, rtol=0.01)


def test_pressure_against_standard_atmosphere() -> None:
    elevations = np.array([-400.0, 0.0, 500.0, 1500.0, 3000.0, 5000.0])
    expected = [fluids.ATMOSPHERE_1976(elevation).P for elevation in elevations]
    # The library works in geopotential height, which departs by 0.08 % of the height at 5 km.
    np.testing.assert_allclose(air.pressure_at(elevations), expected, rtol=1e-3)


def test_pressure_of_printed_table() -> None:
    # US Standard Atmosphere 1976, tables by geopotential altitude: 1000 m 898.74 hPa, 5000 m 540.20 hPa
    # (values from memory).
    np.testing.assert_allclose(air.pressure_at([0.0, 1000.0, 5000.0]), [101325, 89874, 54020], rtol=1e-4)


@pytest.mark.parametrize("name", ["heat_capacity", "viscosity", "conductivity", "prandtl"])
def test_compiled_and_array_forms_agree(name) -> None:
    compiled = [getattr(air_kernels, name)(kelvin) for kelvin in KELVIN]
    np.testing.assert_allclose(compiled, getattr(air, name)(KELVIN), rtol=1e-13)


def test_compiled_density_and_pressure_agree_with_array_forms() -> None:
    assert air_kernels.density(300.0, 9e4) == pytest.approx(float(air.density(300.0, 9e4)), rel=1e-14)
    assert air_kernels.pressure_at(800.0) == pytest.approx(float(air.pressure_at(800.0)), rel=1e-13)


def test_density_is_that_of_the_standard_atmosphere_when_no_pressure_is_given() -> None:
    from scipy.constants import atm

    assert float(air.density(288.15)) == pytest.approx(float(air.density(288.15, atm)), rel=1e-12)
