"""What a case says about humidity: air of the room, water film of the ducts, by hand."""

from __future__ import annotations

import math
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI

from simulator.air.moisture import NO_MOISTURE, moist_air_of
from tests.run.rigs import small_case

WET: dict[str, Any] = {"moisture": {"room_humidity": 0.6, "outside_humidity": 0.9, "clinging_film": "0.2 mm"}}
ROOM: dict[str, Any] = {
    "room": {
        "kind": "air node", "temperature": "14 degC", "volume": "60 m3", "air_changes": "0.5 1/h",
        "heat_loss": "18 W/K", "heat_capacity": "180 kJ/K",
    }
}  # fmt: skip


def test_dry_cases_have_no_moisture() -> None:
    assert moist_air_of(small_case()) is NO_MOISTURE
    entries = NO_MOISTURE.fixed()
    assert not entries["wet"]
    assert {key: value for key, value in entries.items() if key != "wet"} == {
        "room_humidity": 0.0, "outside_humidity": 0.0, "room_air": 0.0, "clinging_water": 0.0
    }  # fmt: skip
    assert math.isnan(NO_MOISTURE.vapour_gain)
    assert NO_MOISTURE.infiltration_air == 0.0


def test_film_on_the_wall_is_its_volume_of_water() -> None:
    """A film of 0.2 mm all round a duct of 10 cm: pi d s rho, water 1000 kg/m3 within half a per cent."""
    moist = moist_air_of(small_case(WET))
    water = PropsSI("D", "T", 288.15, "P", 101325.0, "Water")
    assert moist.clinging_water == pytest.approx(math.pi * 0.1 * 0.0002 * water, rel=5e-3)
    standing = moist_air_of(small_case(WET, {"ducts": {"drains": False}}))
    assert standing.clinging_water == math.inf


def test_humidities_and_gain_are_taken_over() -> None:
    moist = moist_air_of(small_case(WET))
    assert (moist.there, moist.room_humidity, moist.outside_humidity) == (True, 0.6, 0.9)
    assert math.isnan(moist.vapour_gain)
    entries = moist.fixed()
    assert (entries["wet"], entries["room_humidity"], entries["outside_humidity"]) == (True, 0.6, 0.9)
    assert entries["clinging_water"] == moist.clinging_water
    gain = moist_air_of(small_case(WET, ROOM, {"moisture": {"gain": "0.5 kg/h"}}))
    assert gain.vapour_gain == pytest.approx(0.5 / 3600.0)


def test_air_of_the_room_and_what_leaks_in() -> None:
    """Density by CoolProp's reference equation for dry air; half a change an hour."""
    moist = moist_air_of(small_case(WET, ROOM))
    air = 60.0 * PropsSI("D", "T", 287.15, "P", 101325.0, "Air")
    assert moist.room_air == pytest.approx(air, rel=1e-3)
    assert moist.fixed()["room_air"] == moist.room_air
    assert moist.infiltration_air == pytest.approx(air * 0.5 / 3600.0, rel=1e-3)
    # US Standard Atmosphere 1976 at 2000 m: 79495 Pa (published table, value from memory).
    high = moist_air_of(small_case(WET, ROOM, {"site": {"elevation": "2000 m"}}))
    assert high.room_air / moist.room_air == pytest.approx(79495.0 / 101325.0, rel=1e-3)


def test_a_room_held_from_outside_has_no_air_of_its_own() -> None:
    held = {"room": {"kind": "fixed", "temperature": "14 degC"}}
    moist = moist_air_of(small_case(WET, held))
    assert (moist.room_air, moist.infiltration_air) == (0.0, 0.0)
