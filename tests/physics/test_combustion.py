"""Burning wood against hand-worked stoichiometry and published values."""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from simulator.physics import combustion
from simulator.physics.combustion import Fuel, burn
from simulator.physics.flue_gas import SPECIES

WOOD = Fuel()
ZERO = 273.15

# Moisture (wet basis), excess air; dry CO2 and O2 [%], vapour pressure [Pa], dew point [degC] and wet gas
# [m3 at 0 degC per kg]: wood of 50.5 % C, 6.1 % H, 43.0 % O, 0.4 % N with 0.5 % ash, recomputed apart from
# this program from formulas in every handbook. Its air holds no carbon dioxide and no argon of its own.
TABLE = [
    (0.08, 1.0, 20.31, 0.00, 14696, 53.6, 4.97),
    (0.08, 1.5, 13.51, 7.02, 10270, 46.3, 7.11),
    (0.08, 2.0, 10.12, 10.52, 7893, 41.3, 9.25),
    (0.08, 3.0, 6.73, 14.01, 5395, 34.2, 13.53),
    (0.15, 1.0, 20.31, 0.00, 16447, 55.9, 4.68),
    (0.15, 1.5, 13.51, 7.02, 11564, 48.7, 6.66),
    (0.15, 2.0, 10.12, 10.52, 8916, 43.6, 8.64),
    (0.15, 3.0, 6.73, 14.01, 6116, 36.5, 12.59),
    (0.30, 1.0, 20.31, 0.00, 21018, 61.1, 4.08),
    (0.30, 1.5, 13.51, 7.02, 15018, 54.0, 5.71),
    (0.30, 2.0, 10.12, 10.52, 11683, 48.9, 7.33),
    (0.30, 3.0, 6.73, 14.01, 8090, 41.7, 10.59),
]


@pytest.mark.parametrize("row", TABLE)
def test_combustion_table(row) -> None:
    moisture, excess, carbon_dioxide, oxygen, vapour, dew, volume = row
    made = burn(WOOD, moisture, excess)
    assert 100.0 * made.gas.share_in_dry_gas("carbon dioxide") == pytest.approx(carbon_dioxide, abs=0.04)
    assert 100.0 * made.gas.share_in_dry_gas("oxygen") == pytest.approx(oxygen, abs=0.02)
    assert made.gas.vapour_pressure() == pytest.approx(vapour, rel=0.002)
    assert made.gas.dew_point() - ZERO == pytest.approx(dew, abs=0.1)
    assert made.wet_volume == pytest.approx(volume, rel=0.003)


def test_air_of_dry_wood() -> None:
    # 6 g of air for each gram of oven-dry wood (Kubler, Wood and Fiber Science); 6.015 recomputed.
    assert burn(WOOD, 0.0, 1.0).dry_air == pytest.approx(6.0, rel=0.01)
    assert burn(WOOD, 0.0, 1.0).dry_air == pytest.approx(6.015, rel=0.001)


@pytest.mark.parametrize(
    ("moisture", "value"),
    # LHV (1 - w) - 2.443 w with 18.8 MJ/kg dry, worked by hand.
    [(0.0, 18.80), (0.08, 17.10), (0.10, 16.68), (0.15, 15.61), (0.20, 14.55), (0.30, 12.43)],
)
def test_lower_heating_value(moisture, value) -> None:
    assert WOOD.heating_value(moisture) / 1e6 == pytest.approx(value, abs=0.006)


def test_pellets_reach_their_class() -> None:
    # ISO 17225-2 class A1: at least 16.5 MJ/kg with at most 10 % moisture.
    assert WOOD.heating_value(0.10) >= 16.5e6


def test_heating_value_of_elements_lies_near_the_usual_one() -> None:
    assert combustion.heating_value_of_elements(WOOD) == pytest.approx(18.8e6, rel=0.015)


@pytest.mark.parametrize(
    ("moisture", "excess", "celsius", "loss"),
    # Full enthalpy balance on the lower heating value, air at 20 degC, recomputed apart from this program.
    [(0.15, 1.5, 150, 7.64), (0.15, 2.0, 200, 13.61), (0.15, 2.5, 250, 21.28), (0.08, 2.0, 120, 7.33)],
)
def test_flue_loss(moisture, excess, celsius, loss) -> None:
    made = burn(WOOD, moisture, excess)
    found = 100.0 * combustion.flue_loss(made, celsius + ZERO, 20.0 + ZERO)
    assert found == pytest.approx(loss, rel=0.01)
    # Siegert's form f (gas - air) / CO2 with f 0.74 to 0.79 for wood.
    siegert = found * 100.0 * made.gas.share_in_dry_gas("carbon dioxide") / (celsius - 20.0)
    assert 0.735 < siegert < 0.80


@given(
    moisture=st.floats(0.0, 0.6),
    excess=st.floats(1.0, 8.0),
    humidity=st.floats(0.0, 0.03),
)
def test_mass_and_elements_are_kept(moisture, excess, humidity) -> None:
    made = burn(WOOD, moisture, excess, humidity)
    fuel_gas = 1.0 - WOOD.ash * (1.0 - moisture)
    assert made.wet_gas == pytest.approx(fuel_gas + made.dry_air * (1.0 + humidity), rel=2e-5)
    # Hydrogen: nine kilograms of water, nearly, from each kilogram (18.015 / 2.016).
    water = (1.0 - moisture) * WOOD.hydrogen * 18.015 / 2.016 + moisture + humidity * made.dry_air
    assert made.vapour == pytest.approx(water, rel=1e-3)
    assert float(made.gas.shares.sum()) == pytest.approx(1.0)
    assert made.gas.shares.min() >= 0.0


@given(moisture=st.floats(0.0, 0.5), excess=st.floats(1.0, 10.0))
def test_excess_air_comes_back_from_the_analyser(moisture, excess) -> None:
    shown = burn(WOOD, moisture, excess).gas.share_in_dry_gas("carbon dioxide")
    assert combustion.excess_air_of_carbon_dioxide(WOOD, shown) == pytest.approx(excess, rel=1e-9)


@pytest.mark.parametrize("shares", [(0.08, 1.0), (0.15, 1.5), (0.15, 3.0)])
def test_hottest_possible_closes_the_balance_of_the_steam_tables(shares) -> None:
    made = burn(WOOD, *shares)
    kelvin = combustion.hottest_possible(made)
    # Enthalpies of the pure gases at low pressure by CoolProp; argon as nitrogen by mole.
    names = {"nitrogen": "Nitrogen", "oxygen": "Oxygen", "carbon dioxide": "CarbonDioxide", "water": "Water"}
    heat = 0.0
    for species, share in zip(SPECIES, made.gas.shares, strict=True):
        if species == "argon":
            heat += share * 2.5 * 8.314463 * (kelvin - 298.15)
            continue
        gas = names[species]
        heat += share * (
            PropsSI("HMOLAR", "T", kelvin, "P", 100.0, gas) - PropsSI("HMOLAR", "T", 298.15, "P", 100.0, gas)
        )
    wanted = made.heating_value / made.wet_gas * made.gas.molar_mass
    assert heat == pytest.approx(wanted, rel=0.004)


def test_wood_flames_stay_under_the_bound_of_handbooks() -> None:
    # Adiabatic flame of dry wood in just enough air: some 2000 degC (handbook value, from memory).
    assert combustion.hottest_possible(burn(WOOD, 0.0, 1.0)) - ZERO == pytest.approx(2050.0, abs=100.0)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: burn(WOOD, 0.15, 0.9), "excess air must be 1 or more"),
        (lambda: burn(WOOD, 0.15, math.nan), "excess air must be 1 or more"),
        (lambda: burn(WOOD, -0.1, 2.0), "moisture of a fuel must be 0 or more and under 1, got -0.1"),
        (lambda: burn(WOOD, 0.9, 2.0), "fuel with 90 % moisture gives no heat"),
        (lambda: burn(WOOD, 0.1, 2.0, -0.01), "humidity ratio of the combustion air must be 0 or more"),
        (lambda: Fuel(carbon=0.9), "must be 0 to 1 and add up to 1"),
        (lambda: Fuel(dry_heating_value=0.0), "heating value of a fuel must be above 0"),
        (lambda: Fuel(0.0, 0.0, 0.9, 0.0, 0.1), "a fuel must need oxygen to burn"),
        (lambda: combustion.excess_air_of_carbon_dioxide(WOOD, 0.3), "up to 20.3 % carbon dioxide"),
        (lambda: combustion.excess_air_of_carbon_dioxide(WOOD, 0.0), "carbon dioxide in dry gas, got 0 %"),
    ],
)
def test_impossible_burns_are_refused(make, message) -> None:
    with pytest.raises(ValueError, match=message):
        make()
