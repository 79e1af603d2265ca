"""How much air moves: flows by volume and by mass, off flow, fan power."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from simulator.air.flow import air_mover
from tests.run.rigs import small_case

BY_VOLUME = {"fan": {"flow": "0.2 m3/s", "off_flow": "0.01 m3/s", "power": "80 W"}}
BY_MASS = {"fan": {"flow": None, "mass_flow": "0.2 kg/s", "off_flow": "0.01 kg/s", "power": "80 W"}}


@pytest.mark.parametrize("celsius", [-20.0, 15.0, 80.0])
@pytest.mark.parametrize("share", [0.3, 1.0, 1.5])
def test_volume_flow_is_taken_at_the_density_of_the_intake(celsius: float, share: float) -> None:
    """Density from CoolProp's reference equation for dry air; an ideal gas is within 0.1 % of it."""
    kelvin = celsius + 273.15
    density = PropsSI("D", "T", kelvin, "P", 101325.0, "Air")
    ours = air_mover(small_case(BY_VOLUME)).total_mass_flow(share, kelvin)
    assert ours == pytest.approx(0.2 * share * density, rel=1e-3)


def test_air_is_thinner_high_up() -> None:
    """US Standard Atmosphere 1976 at 2000 m: 79495 Pa (published table, value from memory)."""
    low = air_mover(small_case(BY_VOLUME)).total_mass_flow(1.0, 290.0)
    high = air_mover(small_case(BY_VOLUME, {"site": {"elevation": "2000 m"}})).total_mass_flow(1.0, 290.0)
    assert high / low == pytest.approx(79495.0 / 101325.0, rel=1e-3)


def test_mass_flow_is_used_as_given() -> None:
    mover = air_mover(small_case(BY_MASS))
    assert mover.total_mass_flow(1.0, 250.0) == mover.total_mass_flow(1.0, 350.0) == pytest.approx(0.2)
    assert mover.total_mass_flow(0.5, 300.0) == pytest.approx(0.1)
    assert mover.total_mass_flow(0.0, 300.0) == pytest.approx(0.01)


def test_off_flow_moves_while_the_fan_stands() -> None:
    mover = air_mover(small_case(BY_VOLUME))
    assert mover.total_mass_flow(0.0, 290.0) == pytest.approx(
        mover.total_mass_flow(1.0, 290.0) / 20.0, rel=1e-12
    )
    still = air_mover(small_case({"fan": {"off_flow": None}}))
    assert still.total_mass_flow(0.0, 290.0) == 0.0


def test_pinned_density_and_heat_capacity_hold_at_any_temperature() -> None:
    pins = {"fan": {"flow": "0.2 m3/s", "air_density": "1.1 kg/m3", "air_heat_capacity": "1010 J/(kg.K)"}}
    mover = air_mover(small_case(pins))
    assert mover.total_mass_flow(1.0, 250.0) == mover.total_mass_flow(1.0, 350.0) == pytest.approx(0.22)
    assert mover.air_heat_capacity(250.0) == mover.air_heat_capacity(350.0) == 1010.0


@pytest.mark.parametrize("kelvin", [253.15, 293.15, 353.15])
def test_heat_capacity_of_air(kelvin: float) -> None:
    """CoolProp's reference equation for dry air."""
    ours = air_mover(small_case()).air_heat_capacity(kelvin)
    assert ours == pytest.approx(PropsSI("C", "T", kelvin, "P", 101325.0, "Air"), rel=3e-3)


def test_fan_power_follows_the_cube_of_speed() -> None:
    """Fan laws (common practice): power goes with the third power of speed."""
    mover = air_mover(small_case(BY_VOLUME))
    shares = np.array([0.0, 0.5, 1.0, 1.5])
    np.testing.assert_allclose([mover.fan_power(float(share)) for share in shares], [0.0, 10.0, 80.0, 270.0])
    assert not math.isnan(mover.fan_power(0.0))
