"""Liquid water against an independent formulation of its properties."""

from __future__ import annotations

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from scipy.integrate import quad

from simulator.physics import water

CELSIUS = np.array([0.5, 4.0, 10.0, 15.0, 25.0, 40.0, 60.0, 80.0, 95.0, 99.0])
KELVIN = CELSIUS + 273.15


def reference(output: str) -> np.ndarray:
    """CoolProp 8 at 1 atm: IAPWS-95."""
    return np.array([PropsSI(output, "T", kelvin, "P", 101325.0, "Water") for kelvin in KELVIN])


def test_density_within_a_fiftieth_of_a_thousandth() -> None:
    np.testing.assert_allclose(water.density(KELVIN), reference("D"), rtol=2e-5)


def test_specific_heat_within_a_thousandth() -> None:
    np.testing.assert_allclose(water.heat_capacity(KELVIN), reference("C"), rtol=1e-3)


def test_heat_content_between_temperatures() -> None:
    # Differences of specific enthalpy, which the library takes from another reference state.
    ours = np.diff(water.heat_content(KELVIN))
    np.testing.assert_allclose(ours, np.diff(reference("H")), rtol=1e-3)


def test_printed_values() -> None:
    # 15 degC: 999.10 kg/m3 and 4.186 kJ/(kg.K); 60 degC: 983.2 kg/m3 and 4.185 kJ/(kg.K) (handbook tables of
    # water, from memory).
    np.testing.assert_allclose(water.density([288.15, 333.15]), [999.10, 983.2], rtol=1e-5)
    np.testing.assert_allclose(water.heat_capacity([288.15, 333.15]), [4186.0, 4185.0], rtol=1.5e-3)


@pytest.mark.parametrize("celsius", [1.0, 37.0, 100.0])
def test_heat_content_is_the_integral_of_the_specific_heat(celsius) -> None:
    area, _ = quad(lambda t: float(water.heat_capacity(t)), 273.15, 273.15 + celsius, epsabs=1e-6)
    assert float(water.heat_content(273.15 + celsius)) == pytest.approx(area, rel=1e-9)
