"""What the heater does to the supply air, and what becomes of a fire without a fan."""

from __future__ import annotations

import math

import pytest

from simulator.case.timetable import Drive
from simulator.plant.heater import supply_for

NAN = math.nan
NOTHING = NAN


@pytest.mark.parametrize(
    ("drive", "series", "fixed", "to_air", "to_room"),
    [
        pytest.param(Drive(1.0, 2000.0, NAN), NOTHING, NAN, 2000.0, 0.0, id="power with fan"),
        pytest.param(Drive(0.4, 2000.0, NAN), NOTHING, NAN, 2000.0, 0.0, id="power with slow fan"),
        pytest.param(
            Drive(0.0, 2000.0, NAN), NOTHING, NAN, 0.0, 2000.0, id="fire without fan warms the room"
        ),
        pytest.param(Drive(1.0, 0.0, NAN), NOTHING, NAN, 0.0, 0.0, id="fan alone"),
        pytest.param(Drive(0.0, 0.0, NAN), NOTHING, NAN, 0.0, 0.0, id="nothing on"),
        pytest.param(Drive(1.0, NAN, 318.0), NOTHING, 318.0, 0.0, 0.0, id="temperature with fan"),
        pytest.param(Drive(0.0, NAN, 318.0), NOTHING, NAN, 0.0, 0.0, id="temperature without fan"),
        pytest.param(Drive(1.0, NAN, NAN), 309.0, 309.0, 0.0, 0.0, id="series with fan"),
        pytest.param(Drive(0.0, NAN, NAN), 309.0, NAN, 0.0, 0.0, id="series without fan"),
        pytest.param(
            Drive(1.0, 500.0, NAN), 309.0, NAN, 500.0, 0.0, id="series not followed when power is set"
        ),
    ],
)
def test_supply(drive: Drive, series: float, fixed: float, to_air: float, to_room: float) -> None:
    supply = supply_for(drive, series)
    assert supply.fixed_temperature == pytest.approx(fixed, nan_ok=True)
    assert (supply.power, supply.power_to_room) == (to_air, to_room)
