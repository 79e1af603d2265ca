"""Wood fires: air, gas, dew point, flue loss and draught.

Stoichiometry of wood with 50.5 % C, 6.1 % H, 43.0 % O and 0.4 % N of what burns and 0.5 % ash, evaluated
apart from this program. Air for oven-dry wood: H. Kubler, Wood and Fiber Science, 6 g for each gram. Draught:
the handbook formula for chimneys, 0.0342 p H (1/T_outside - 1/T_gas), from memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import pytest

from simulator.physics import combustion
from simulator.physics.combustion import AIR_SHARES, Fuel, burn
from simulator.physics.draught import Stack, stack_state
from simulator.physics.flue_gas import mixture
from tests.published.registry import MEMORY, READ, RECOMPUTED, Row, check, verify

ZERO = 273.15
# Moisture, excess air: dry CO2 and O2 [%], vapour pressure [Pa], dew point [degC], wet gas [m3/kg].
BURNS = {
    (0.08, 1.5): (13.51, 7.02, 10270, 46.3, 7.11),
    (0.08, 3.0): (6.73, 14.01, 5395, 34.2, 13.53),
    (0.15, 1.0): (20.31, 0.00, 16447, 55.9, 4.68),
    (0.15, 2.0): (10.12, 10.52, 8916, 43.6, 8.64),
    (0.30, 1.5): (13.51, 7.02, 15018, 54.0, 5.71),
    (0.30, 3.0): (6.73, 14.01, 8090, 41.7, 10.59),
}
# Moisture, excess air, gas temperature [degC]: loss on the lower heating value [%], air at 20 degC.
LOSSES = {
    (0.15, 1.5, 150): 7.64,
    (0.15, 2.0, 200): 13.61,
    (0.15, 2.5, 250): 21.28,
    (0.08, 2.0, 120): 7.33,
}


@check("Kubler, Wood and Fiber Science", READ)
def air_for_wood() -> Iterable[Row]:
    yield Row("air for a kilogram of dry wood", burn(Fuel(), 0.0, 1.0).dry_air, 6.0, 0.1, "kg", 3)


def burn_rows(extra_moisture: float = 0.0) -> Iterator[Row]:
    for (moisture, excess), (carbon_dioxide, oxygen, vapour, dew, volume) in BURNS.items():
        made = burn(Fuel(), moisture + extra_moisture, excess)
        at = f"wood of {100 * moisture:.0f} % moisture, air {excess:g} times"
        gas = made.gas
        # Our air holds its own trace of carbon dioxide.
        ours = 100.0 * gas.share_in_dry_gas("carbon dioxide")
        yield Row(f"{at}: carbon dioxide, dry", ours, carbon_dioxide, 0.04, "%", 2)
        yield Row(f"{at}: oxygen, dry", 100.0 * gas.share_in_dry_gas("oxygen"), oxygen, 0.02, "%", 2)
        yield Row(f"{at}: vapour pressure", gas.vapour_pressure(), vapour, round(0.002 * vapour), "Pa", 0)
        yield Row(f"{at}: dew point", gas.dew_point() - ZERO, dew, 0.1, "degC", 2)
        yield Row(f"{at}: wet gas", made.wet_volume, volume, 0.02, "m3/kg", 3)


@check("stoichiometry, any handbook of combustion", RECOMPUTED)
def burns() -> Iterable[Row]:
    yield from burn_rows()


@check("enthalpy balance on the lower heating value", RECOMPUTED)
def losses() -> Iterable[Row]:
    for (moisture, excess, celsius), published in LOSSES.items():
        ours = 100.0 * combustion.flue_loss(burn(Fuel(), moisture, excess), celsius + ZERO, 20.0 + ZERO)
        at = f"wood of {100 * moisture:.0f} % moisture, air {excess:g} times"
        yield Row(f"{at}, gas at {celsius} degC: flue loss", ours, published, 0.01 * published, "%", 2)


@check("chimney draught, 0.0342 p H (1/T - 1/T), any handbook", MEMORY)
def pull() -> Iterable[Row]:
    for gas, outside in ((100.0, 10.0), (200.0, 0.0), (300.0, -15.0)):
        published = 0.0342 * 101325.0 * 5.0 * (1.0 / (outside + ZERO) - 1.0 / (gas + ZERO))
        stack = Stack(height=5.0, diameter=0.15, heat_loss=0.0)
        ours = stack_state(stack, mixture(AIR_SHARES), 0.01, gas + ZERO, outside + ZERO).pull
        yield Row(f"draught of 5 m of air at {gas:g} in {outside:g} degC", ours, published, 0.06, "Pa", 2)


@pytest.mark.parametrize("checked", [air_for_wood, burns, losses, pull], ids=lambda each: each.name)
def test_wood_fire(checked) -> None:
    checked.verify()


def test_planted_error_is_found() -> None:
    with pytest.raises(AssertionError):
        verify(burn_rows(extra_moisture=0.01))
