"""Coils, free convection over hot plates, and what the gas of a wood fire carries off at a given efficiency.

W. M. Kays and A. L. London, Compact Heat Exchangers: tables of effectiveness, from memory. F. P. Incropera,
D. P. DeWitt and others, Fundamentals of Heat and Mass Transfer: the glass fire screen (example 9.2, 0.71 m
high, 232 degC in a room of 23 degC: 7.0 W/(m2.K)) and the finned cross-flow exchanger (example 11.3: 1 kg/s
water from 35 to 125 degC by gas from 300 to 100 degC: 2.1 transfer units read off the chart), from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest

from simulator.physics.coils import effectiveness
from simulator.physics.combustion import Fuel, burn
from simulator.physics.free_convection import upright_film
from simulator.plant.fire_kernels import flue_loss_of
from tests.published.registry import MEMORY, RECOMPUTED, Row, check, verify

ZERO = 273.15
# Transfer units: cross flow, both unmixed, equal capacity flows.
CROSS = {1.0: 0.476, 2.0: 0.614, 4.0: 0.722, 5.0: 0.751}
# Arrangement, transfer units, ratio of capacity flows.
OTHERS = {
    ("counter flow", 2.0, 0.5): 0.775,
    ("counter flow", 3.0, 1.0): 0.750,
    ("parallel flow", 2.0, 0.5): 0.633,
    ("parallel flow", 5.0, 1.0): 0.500,
}
# Moisture, air ratio, loss on the lower heating value [%] with air at 20 degC: gas [degC].
GASES = {(0.15, 1.5, 7.64): 150, (0.15, 2.0, 13.61): 200, (0.15, 2.5, 21.28): 250, (0.08, 2.0, 7.33): 120}


def cross_rows(slip: float = 0.0) -> Iterator[Row]:
    for units, published in CROSS.items():
        ours = float(effectiveness("cross flow", units * 100.0, 100.0 * (1.0 + slip), 100.0))
        yield Row(f"cross flow, {units:g} transfer units, equal streams", ours, published, 0.0006)


@check("Kays & London, Compact Heat Exchangers", MEMORY)
def coils() -> Iterable[Row]:
    yield from cross_rows()
    for (arrangement, units, ratio), published in OTHERS.items():
        ours = float(effectiveness(arrangement, units * 100.0, 100.0, 100.0 / ratio))
        yield Row(f"{arrangement}, {units:g} transfer units, ratio {ratio:g}", ours, published, 0.0006)


@check("Incropera and others, example 11.3", MEMORY)
def gas_to_water() -> Iterable[Row]:
    # 1 kg/s of water at 4197 J/(kg.K) takes 90 K; the gas gives 200 K.
    water = 4197.0
    gas = water * 90.0 / 200.0
    ours = float(effectiveness("cross flow", 2.1 * gas, gas, water))
    yield Row("finned exchanger, gas 300 to 100 degC, 2.1 transfer units", ours, 200.0 / 265.0, 0.01)


@check("Incropera and others, example 9.2", MEMORY)
def fire_screen() -> Iterable[Row]:
    ours = float(upright_film(232.0 + ZERO, 23.0 + ZERO, 0.71))
    yield Row("glass fire screen 0.71 m high, 232 in 23 degC: film", ours, 7.0, 0.1, "W/(m2.K)", 2)


@check("enthalpy balance on the lower heating value, solved for the gas", RECOMPUTED)
def gases() -> Iterable[Row]:
    for (moisture, ratio, loss), celsius in GASES.items():
        made = burn(Fuel(), moisture, ratio)
        arguments = (made.heating_value, made.wet_gas, 1.0 - loss / 100.0, float("nan"), 20.0 + ZERO)
        _, kelvin = flue_loss_of(*arguments, made.gas.low, made.gas.high)
        at = f"wood of {100 * moisture:.0f} % moisture, air {ratio:g} times, loss {loss:g} %"
        yield Row(f"{at}: gas", kelvin - ZERO, celsius, 0.01 * celsius, "degC", 1)


@pytest.mark.parametrize("checked", [coils, gas_to_water, fire_screen, gases], ids=lambda each: each.name)
def test_stove_and_coil(checked) -> None:
    checked.verify()


def test_planted_error_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(cross_rows(slip=0.02))
