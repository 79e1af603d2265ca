"""Combustion gas against CoolProp, and vapour flow to a wet wall against moist air and the Stefan limit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics import flue_gas_kernels as kernels
from simulator.physics import internal_flow, moist_air
from simulator.physics.combustion import AIR_SHARES, Fuel, burn
from simulator.physics.flue_gas import SPECIES, mixture

NAMES = dict(zip(SPECIES, ("Nitrogen", "Oxygen", "CarbonDioxide", "Water", "Argon"), strict=True))
AIR = mixture(AIR_SHARES)


@pytest.mark.parametrize("species", [name for name in SPECIES if name != "water"])
@pytest.mark.parametrize("kelvin", [280.0, 350.0, 500.0, 800.0, 1000.0, 1400.0])
def test_pure_gases(species, kelvin) -> None:
    gas = mixture([1.0 if name == species else 0.0 for name in SPECIES])
    arguments = ("T", kelvin, "P", 100.0)
    capacity = PropsSI("CP0MASS", *arguments, NAMES[species])
    assert float(gas.heat_capacity(kelvin)) == pytest.approx(capacity, rel=0.006)
    assert float(gas.viscosity(kelvin)) == pytest.approx(PropsSI("V", *arguments, NAMES[species]), rel=0.01)
    conductivity = PropsSI("L", *arguments, NAMES[species])
    assert float(gas.conductivity(kelvin)) == pytest.approx(conductivity, rel=0.01)
    assert float(gas.density(kelvin, 1e5)) == pytest.approx(
        PropsSI("D", "T", kelvin, "P", 1e5, NAMES[species]), rel=0.01
    )


@pytest.mark.parametrize("kelvin", [350.0, 500.0, 900.0])
def test_vapour(kelvin) -> None:
    # A mixture of nearly nothing but vapour, as vapour alone is refused.
    gas = mixture([1e-9, 0.0, 0.0, 1.0, 0.0])
    assert float(gas.heat_capacity(kelvin)) == pytest.approx(
        PropsSI("CP0MASS", "T", kelvin, "P", 1000.0, "Water"), rel=0.01
    )
    assert float(gas.viscosity(kelvin)) == pytest.approx(
        PropsSI("V", "T", kelvin, "P", 1000.0, "Water"), rel=0.02
    )
    assert float(gas.conductivity(kelvin)) == pytest.approx(
        PropsSI("L", "T", kelvin, "P", 1000.0, "Water"), rel=0.02
    )


@pytest.mark.parametrize("kelvin", [280.0, 300.0, 400.0, 600.0, 1000.0])
def test_mixture_of_air_is_air(kelvin) -> None:
    # Wilke's rule is good for some 2 %; CoolProp's air is one fluid with equations of its own.
    assert float(AIR.heat_capacity(kelvin)) == pytest.approx(
        PropsSI("CP0MASS", "T", kelvin, "P", 1e4, "Air"), rel=0.006
    )
    assert float(AIR.viscosity(kelvin)) == pytest.approx(PropsSI("V", "T", kelvin, "P", 1e4, "Air"), rel=0.01)
    conductivity = PropsSI("L", "T", kelvin, "P", 1e4, "Air")
    assert float(AIR.conductivity(kelvin)) == pytest.approx(conductivity, rel=0.02)
    assert AIR.molar_mass == pytest.approx(28.9647e-3, rel=1e-4)


@given(reference=st.floats(250.0, 1500.0), kelvin=st.floats(250.0, 2500.0))
def test_heat_is_the_integral_of_the_specific_heat(reference, kelvin) -> None:
    gas = burn(Fuel(), 0.15, 2.0).gas
    edges = np.linspace(reference, kelvin, 4001)
    middle = 0.5 * (edges[1:] + edges[:-1])
    # numpy's polynomials, whole ranges apart.
    values = np.where(
        middle <= 1000.0,
        np.polynomial.polynomial.polyval(middle, gas.low),
        np.polynomial.polynomial.polyval(middle, gas.high),
    )
    expected = float(np.sum(values * np.diff(edges)))
    assert float(gas.heat_from(reference, kelvin)) == pytest.approx(expected, rel=1e-6, abs=1e-3)


def test_specific_heat_does_not_jump_where_it_changes_polynomial() -> None:
    gas = burn(Fuel(), 0.15, 2.0).gas
    below, above = gas.heat_capacity([1000.0, 1000.0001])
    assert above == pytest.approx(below, rel=3e-4)


def test_gas_film_of_air_is_that_of_air() -> None:
    arguments = (AIR.low, AIR.high, AIR.viscosity_fit, AIR.conductivity_fit)
    for flow in (1e-4, 0.005, 0.02):
        found = kernels.gas_film(flow, 400.0, 0.15, 0.0, 3.0, *arguments)
        assert found == pytest.approx(
            float(internal_flow.film_coefficient(flow, 400.0, 0.15, 0.0, 3.0)), rel=0.02
        )


def test_thin_vapour_follows_the_lewis_relation_of_moist_air() -> None:
    ratio = float(moist_air.humidity_ratio(0.7, 298.15))
    share = ratio / (0.621945 + ratio)
    expected = moist_air.flux_to_wet_wall(8.0, 298.15, ratio, 285.15).water
    found = kernels.vapour_flux_to_wall(8.0, 298.15, 285.15, share, 101325.0, AIR.molar_mass, 1006.0, 0.0258)
    # The two differ by the vapour in the film, 1 to 2 % of the mixture.
    assert found == pytest.approx(expected, rel=0.03)


def test_thick_vapour_flows_faster_by_the_stefan_factor() -> None:
    # ln((1 - y_w) / (1 - y_g)) over (y_g - y_w): the pressure of the gas left behind, log mean.
    at_wall = float(moist_air.saturation_pressure(300.0)) / 101325.0
    thin = kernels.vapour_flux_to_wall(8.0, 350.0, 300.0, at_wall + 1e-6, 101325.0, 0.029, 1050.0, 0.03)
    thick = kernels.vapour_flux_to_wall(8.0, 350.0, 300.0, 0.20, 101325.0, 0.029, 1050.0, 0.03)
    grown = math.log((1.0 - at_wall) / 0.8) / (0.20 - at_wall) * (1.0 - at_wall)
    assert thick / thin == pytest.approx((0.20 - at_wall) / 1e-6 * grown, rel=1e-3)
    assert grown > 1.05


@pytest.mark.parametrize("wall", [200.0, 273.0, 320.0, 372.0, 380.0, 600.0, 2000.0])
@pytest.mark.parametrize("share", [0.0, 0.1, 0.6, 1.0])
def test_flux_stays_finite(wall, share) -> None:
    flux = kernels.vapour_flux_to_wall(8.0, 500.0, wall, share, 101325.0, 0.029, 1050.0, 0.03)
    assert math.isfinite(flux)


@pytest.mark.parametrize("moles", [[1.0], [1.0, -0.1, 0.0, 0.0, 0.0], [math.nan, 1.0, 0.0, 0.0, 0.0]])
def test_impossible_mixtures_are_refused(moles) -> None:
    with pytest.raises(ValueError, match="a mixture needs 5 amounts, 0 or more"):
        mixture(moles)


def test_vapour_alone_is_refused() -> None:
    with pytest.raises(ValueError, match="some gas besides its vapour"):
        mixture([0.0, 0.0, 0.0, 1.0, 0.0])


@pytest.mark.parametrize("kelvin", [400.0, 700.0, 1000.0])
def test_conductivity_of_a_mixture_of_unlike_gases(kelvin) -> None:
    """Wassiljewa's formula with Mason and Saxena's weights, written out on pure values of CoolProp."""
    moles = {"carbon dioxide": 0.5, "water": 0.45, "nitrogen": 0.05}
    gas = mixture([moles.get(name, 0.0) for name in SPECIES])
    pure = {name: ("T", kelvin, "P", 100.0, NAMES[name]) for name in moles}
    viscosity = {name: PropsSI("V", *pure[name]) for name in moles}
    conductivity = {name: PropsSI("L", *pure[name]) for name in moles}
    mass = {name: PropsSI("M", NAMES[name]) for name in moles}
    expected = 0.0
    for one, share in moles.items():
        weight = 0.0
        for other, other_share in moles.items():
            ratio = mass[one] / mass[other]
            root = 1.0 + math.sqrt(viscosity[one] / viscosity[other]) * (1.0 / ratio) ** 0.25
            weight += other_share * root**2 / math.sqrt(8.0 * (1.0 + ratio))
        expected += share * conductivity[one] / weight
    assert float(gas.conductivity(kelvin)) == pytest.approx(expected, rel=0.02)
