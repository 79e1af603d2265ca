"""Film of a flue run at its limits: forced alone, free alone, thin gas, black wall, equal temperatures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics import flue_film_kernels as film_kernels
from simulator.physics import flue_gas_kernels, mixed_flow_kernels
from simulator.physics import flue_gas_radiation_kernels as radiation
from simulator.physics.combustion import AIR_SHARES, Fuel, burn
from simulator.physics.flue_gas import SPECIES, mixture

PRESSURE = 101325.0
SIGMA = 5.670374419e-8
GAS = burn(Fuel(), 0.15, 2.0).gas
AIR = mixture(AIR_SHARES)
ARRAYS = (GAS.low, GAS.high, GAS.viscosity_fit, GAS.conductivity_fit)
PLACE = (0.15, 2.0, 2.5)
kelvins = st.floats(220.0, 1490.0)


def convection(flow: float, gas: float, wall: float) -> float:
    return float(film_kernels.convection_film(flow, gas, wall, *PLACE, PRESSURE, GAS.made, *ARRAYS))


def radiated(gas: float, wall: float, diameter: float = 0.15, wall_emissivity: float = 0.8) -> float:
    return float(film_kernels.radiated_film(gas, wall, diameter, PRESSURE, GAS.made, wall_emissivity))


def test_jackson_spurlock_and_purdy() -> None:
    # Nu = 2.67 (Gz^2 + 0.0087^2 (Gr Pr)^1.5)^(1/6), from memory; Gz as good as 0.
    for rayleigh in (1e4, 1e6, 1.4e7):
        published = 2.67 * (1e-12 + 0.0087**2 * rayleigh**1.5) ** (1.0 / 6.0)
        assert mixed_flow_kernels.free_nusselt(rayleigh) == pytest.approx(published, rel=1e-3)


def test_mori_lies_a_fifth_lower_as_told() -> None:
    # Nu = 0.61 x + 1.098, x^5 = Re Ra; by the heat balance of the pipe Re Ra on radius and slope = Nu Gr / 4.
    # From memory. Another measurement of the same thing: the two are told apart, not blended.
    for rayleigh in (1e6, 1e7):
        x = 1.0
        for _ in range(60):
            x = ((0.61 * x + 1.098) * rayleigh / 0.7 / 4.0) ** 0.2
        assert 0.75 < (0.61 * x + 1.098) / mixed_flow_kernels.free_nusselt(rayleigh) < 0.9


def test_rayleigh_number_by_hand() -> None:
    # g beta dT D^3 / nu^2 Pr: 9.80665 x 90 / 355 x 0.15^3 / (2.1e-5)^2 x 0.7.
    expected = 9.80665 * 90.0 / 355.0 * 0.003375 / 4.41e-10 * 0.7
    assert mixed_flow_kernels.rayleigh_number(-90.0, 0.15, 355.0, 2.1e-5, 0.7) == pytest.approx(expected)


def test_without_a_difference_the_film_is_the_forced_one() -> None:
    for flow in (1e-4, 2e-3, 0.01, 0.05):
        assert convection(flow, 400.0, 400.0) == pytest.approx(
            flue_gas_kernels.gas_film(flow, 400.0, *PLACE, *ARRAYS)
        )


def test_without_flow_the_film_is_that_of_free_convection() -> None:
    free = film_kernels.free_film(600.0, 320.0, 0.15, PRESSURE, GAS.molar_mass, *ARRAYS)
    # Sum of fourth powers: 3.66 beside 30 adds a ten-thousandth.
    assert convection(1e-9, 600.0, 320.0) == pytest.approx(free, rel=2e-4)


def test_properties_at_the_wall_would_change_little() -> None:
    # Told in the docstring: the same law with properties at the wall, by hand from the mixture.
    gas, wall = 500.0, 320.0
    mu, k = float(GAS.viscosity(wall)), float(GAS.conductivity(wall))
    nu = mu / float(GAS.density(wall))
    rayleigh = 9.80665 * (gas - wall) / wall * 0.15**3 / nu**2 * mu * float(GAS.heat_capacity(wall)) / k
    at_wall = 0.549 * rayleigh**0.25 * k / 0.15
    found = film_kernels.free_film(gas, wall, 0.15, PRESSURE, GAS.molar_mass, *ARRAYS)
    assert found == pytest.approx(at_wall, rel=0.1)


@given(flow=st.floats(1e-6, 0.1), gas=kelvins, wall=kelvins)
def test_convection_is_never_less_than_either_alone(flow, gas, wall) -> None:
    found = convection(flow, gas, wall)
    forced = flue_gas_kernels.gas_film(flow, gas, *PLACE, *ARRAYS)
    free = film_kernels.free_film(gas, wall, 0.15, PRESSURE, GAS.molar_mass, *ARRAYS)
    assert max(forced, free) * (1.0 - 1e-12) <= found <= forced + free


@given(flow=st.floats(1e-4, 0.05), gas=st.floats(280.0, 1400.0), wall=st.floats(250.0, 1400.0))
def test_film_does_not_jump(flow, gas, wall) -> None:
    whole = convection(flow, gas, wall) + radiated(gas, wall)
    for change in (
        convection(flow, gas, wall + 1e-6) + radiated(gas, wall + 1e-6),
        convection(flow, gas + 1e-6, wall) + radiated(gas + 1e-6, wall),
        convection(flow * (1.0 + 1e-9), gas, wall) + radiated(gas, wall),
    ):
        # Free convection sets in steeply: a thousandth of a kelvin moves some gas in a pipe of 15 cm.
        assert change == pytest.approx(whole, rel=1e-3)


@given(wall=st.floats(-50.0, 1e5))
def test_any_wall_gives_a_film(wall) -> None:
    assert math.isfinite(convection(1e-3, 500.0, wall))
    assert math.isfinite(radiated(500.0, wall))
    assert radiated(500.0, wall) >= 0.0


@pytest.mark.parametrize("kelvin", [300.0, 500.0, 900.0, 1400.0])
def test_kirchhoff(kelvin) -> None:
    gives = radiation.emissivity(kelvin, 0.14, 0.09, 0.1, PRESSURE)
    takes = radiation.absorptivity(kelvin, kelvin, 0.14, 0.09, 0.1, PRESSURE)
    assert takes == pytest.approx(gives, rel=1e-12)


@given(
    kelvin=st.floats(250.0, 2500.0), beam=st.floats(1e-3, 10.0),
    vapour=st.floats(0.0, 0.3), dioxide=st.floats(0.0, 0.2),
)  # fmt: skip
def test_emissivity_is_a_share_and_grows_with_the_beam(kelvin, beam, vapour, dioxide) -> None:
    thin = radiation.emissivity(kelvin, beam, vapour, dioxide, PRESSURE)
    thick = radiation.emissivity(kelvin, 1.1 * beam, vapour, dioxide, PRESSURE)
    assert 0.0 <= thin <= thick < 0.9


def test_thin_gas_radiates_in_proportion_and_dry_air_not_at_all() -> None:
    one = radiation.emissivity(500.0, 1e-4, 0.05, 0.05, PRESSURE)
    assert radiation.emissivity(500.0, 5e-5, 0.05, 0.05, PRESSURE) == pytest.approx(0.5 * one, rel=1e-3)
    dry = AIR.made
    assert dry[1] == 0.0
    nothing = radiation.gas_radiation_film(800.0, 300.0, 0.15, 0.0, 0.0, PRESSURE, 0.8)
    assert nothing == 0.0


def test_black_wall_and_grey_wall_by_hand() -> None:
    gas, wall, beam = 700.0, 350.0, 0.94 * 0.15
    made = GAS.made
    gives = radiation.emissivity(gas, beam, made[1], made[2], PRESSURE)
    takes = radiation.absorptivity(gas, wall, beam, made[1], made[2], PRESSURE)
    black = SIGMA * (gives * gas**4 - takes * wall**4) / (gas - wall)
    assert radiated(gas, wall, wall_emissivity=1.0) == pytest.approx(black, rel=1e-9)
    # Grey wall: of what it sends back the gas swallows its share each time; summed up to where it has gone.
    sent_back = sum(((1.0 - 0.8) * (1.0 - takes)) ** passes for passes in range(60))
    assert radiated(gas, wall) == pytest.approx(0.8 * sent_back * black, rel=1e-9)


def test_made_tells_what_the_gas_is() -> None:
    made = GAS.made
    assert made[0] == GAS.molar_mass
    assert made[1] == GAS.shares[SPECIES.index("water")]
    assert made[2] == GAS.shares[SPECIES.index("carbon dioxide")]
